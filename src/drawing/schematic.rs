//! The schematic, not to scale: what is connected with what.
//!
//! Lines that meet at a dot, or end on each other, are connected; lines that only cross are not. Symbols are after
//! ISO 1219-1 where it has one (all from memory): pump, filter, gauge, spring-loaded check valve, fixed restriction; a
//! plugged port is a short stroke across the end of its line. A shut-off valve is two triangles tip to tip (ISO 14617).
//! No standard has a manifold with many outlets: it is drawn as a line with taps in a chain-line frame. The legend shows
//! what its own sheet holds.
//!
//! Hoses run down from the pump in layers of parts, each turn on a track of its own, to the manifolds in a row below.
//! Every port has an x of its own, and parts stand in columns of their own, so that no two lines can lie on each other
//! and be taken for connected. Where the rows do not fit beside each other, the manifolds are drawn once more on sheets
//! of their own; a flag with the manifold's tag and the number of the other sheet joins them.

use crate::plan::Manifold;
use std::collections::{BTreeMap, VecDeque};

use super::Subject;
use super::label_places::{Places, along};
use super::layout_sheet::{SheetSource, balloon, capital};
use super::paper::{
    Anchor, Draft, LARGE, LINE_FEED, MIDDLE, MarkKind, NARROW, PaperLayer, SMALL, Shade, Sign, Style, WIDE,
    clip_line, sized,
};
use super::scene::Dash;
use super::sheet_frame::drawing_area;
use crate::geometry::{Bounds, Point2};
use crate::plan::cutting::cut_length;
use crate::plan::kinds::symbol::{Drawn, Filling, Form as MarkForm, Mark, SchematicForm, Weight};
use crate::plan::kinds::{ElementSymbol, Reading};
use crate::plan::words::ranges;
use crate::plan::{
    Branch, ElementGeometry, End, FeedElement, FeedId, Item, ItemKind, ManifoldInlet, Part, PartId, PartItem,
    Port, PortRef, RowFeed, RowId, Run,
};
use crate::quantities::Measure;

/// Width of the column of a row.
const COLUMN: f64 = 8.0;
/// From a manifold's line to the ends of its rows.
const ROW_DEPTH: f64 = 62.0;
/// What a manifold takes beside its columns.
const HEAD_ROOM: f64 = 16.0;
/// Width of a manifold whose rows are on another sheet.
const SHORT_HEAD: f64 = 34.0;
/// Height of the legend.
const LEGEND: f64 = 14.0;
/// Distance of two tracks.
const TRACK: f64 = 5.0;
/// From a manifold's line to what stands on its ports.
const ABOVE_HEAD: f64 = 20.0;
/// Radius of the dot of a connection.
const DOT: f64 = 0.8;
/// Width of a hose's line, and of a tube's.
const HOSE: f64 = WIDE;
const TUBE: f64 = MIDDLE;

/// One way down from a manifold, or from wherever a feed starts.
#[derive(Debug, Clone)]
enum Tap<'a> {
    Feed(&'a RowFeed),
    Mounted(&'a Part),
    /// A hose, which goes on at a flag.
    Hose(&'a Run),
    Open,
}

impl Tap<'_> {
    fn columns(&self) -> usize {
        if let Tap::Feed(feed) = self { feed.branches.len().max(1) } else { 1 }
    }
}

/// A manifold with its taps, or a feed that hangs on something else.
#[derive(Debug, Clone)]
struct Head<'a> {
    part: Option<(&'a Part, PartItem)>,
    /// The outlet, or none for a feed that is on no manifold.
    taps: Vec<(Option<u16>, Tap<'a>)>,
    /// Where it is on the bar, for the order.
    x: f64,
}

impl Head<'_> {
    fn is(&self, part: PartId) -> bool {
        self.part.is_some_and(|(one, _)| one.id == part)
    }

    fn columns(&self) -> usize {
        self.taps.iter().map(|(_, tap)| tap.columns()).sum()
    }

    fn width(&self) -> f64 {
        // What stands on its three ports needs as much room as three rows.
        self.columns().max(if self.part.is_some() { 3 } else { 1 }) as f64 * COLUMN + HEAD_ROOM
    }
}

/// The sheets of the schematic; `first` is the number of the first of them in the whole set.
pub fn schematic<'a>(source: &SheetSource<'a>, first: usize) -> Vec<Draft<'a>> {
    let area = drawing_area(source.size.0, source.size.1);
    let mut room = Bounds { min: Point2::new(area.min.x + 6.0, area.min.y + LEGEND), max: area.max };
    room.max.x -= 6.0;
    room.max.y -= 14.0;
    let heads = heads(source);
    let mut sheets = Vec::new();
    let whole: f64 = heads.iter().map(Head::width).sum();
    let tree_room = room.depth() - ROW_DEPTH - ABOVE_HEAD - 8.0;
    let fits = whole <= room.width() && {
        let tree = Tree::new(source, &heads, &room, Form::Whole);
        !tree.crowded && tree.levels(room.depth()).height <= tree_room
    };
    if fits {
        let mut draft = new_sheet(source, "whole routing");
        Tree::new(source, &heads, &room, Form::Whole).draw(&mut draft, tree_room);
        finish(source, &mut draft, &area);
        return vec![draft];
    }
    // Rows in bands below each other, as many as a sheet takes.
    let band = ROW_DEPTH + 26.0;
    let bands_a_sheet = ((room.depth() / band).floor() as usize).max(1);
    let with_rows: Vec<&Head> = heads.iter().filter(|head| !head.taps.is_empty()).collect();
    let mut bands: Vec<Vec<&Head>> = Vec::new();
    let mut wide: Vec<Head> = Vec::new();
    // A manifold wider than a sheet goes on in the next band.
    for head in &with_rows {
        wide.extend(parts_of_head(head, room.width()));
    }
    let mut used = f64::INFINITY;
    for head in &wide {
        if used + head.width() > room.width() {
            bands.push(Vec::new());
            used = 0.0;
        }
        used += head.width();
        if let Some(last) = bands.last_mut() {
            last.push(head);
        }
    }
    let band_sheets: Vec<&[Vec<&Head>]> = bands.chunks(bands_a_sheet).collect();
    let a_sheet = ((room.width() / SHORT_HEAD).floor() as usize).max(1);
    // Much alike, rather than one manifold alone on the last sheet.
    let a_sheet = heads.len().div_ceil(heads.len().div_ceil(a_sheet).max(1)).max(1);
    let mut groups = groups(source, &heads, a_sheet);
    let tree_depth = room.depth() - 44.0;
    let places = loop {
        let places = SheetPlaces::new(&groups, &band_sheets, first);
        // As many sheets as it takes: one on which something has no room is divided.
        let halves = groups.iter().enumerate().find_map(|(index, group)| {
            let form = Form::Short { places: &places, own: first + index };
            let tree = Tree::new(source, &group.heads, &room, form);
            let fits = !tree.crowded && tree.levels(tree_depth).height <= tree_depth + 0.5;
            if fits { None } else { Some((index, group.halves(source)?)) }
        });
        let Some((index, halves)) = halves else { break places };
        groups.splice(index..=index, halves);
    };
    let tree_sheets = groups.len();
    for (index, group) in groups.iter().enumerate() {
        let name = if tree_sheets == 1 {
            "supply and manifolds".to_owned()
        } else {
            format!("supply and manifolds, part {} of {tree_sheets}", index + 1)
        };
        let mut draft = new_sheet(source, &name);
        let form = Form::Short { places: &places, own: first + index };
        Tree::new(source, &group.heads, &room, form).draw(&mut draft, tree_depth);
        finish(source, &mut draft, &area);
        sheets.push(draft);
    }
    let many = band_sheets.len();
    for (index, sheet) in band_sheets.iter().enumerate() {
        let name = if many == 1 { "rows".to_owned() } else { format!("rows, part {} of {many}", index + 1) };
        let mut draft = new_sheet(source, &name);
        let spare = (room.depth() - sheet.len() as f64 * band) / sheet.len().max(1) as f64;
        let mut y = room.max.y - 18.0;
        for heads in *sheet {
            let total: f64 = heads.iter().map(|head| head.width()).sum();
            let gap = ((room.width() - total) / (heads.len() + 1) as f64).clamp(0.0, 30.0);
            let mut x = room.min.x + (room.width() - total - gap * (heads.len() - 1) as f64).max(0.0) / 2.0;
            for head in heads {
                let depth = ROW_DEPTH + (spare - 4.0).clamp(0.0, 40.0);
                let mut rows = Rows { source, draft: &mut draft, depth, places: Some(&places) };
                let (from, to) = rows.head(head, x, y);
                if let Some((part, _)) = head.part {
                    let at = inlet_at(head, from, to);
                    let sheet = places.upper.get(&part.id).copied().unwrap_or(first);
                    draft.subject = Some(Subject::Part(part.id));
                    wire(&mut draft, PaperLayer::Hose, &[Point2::new(at, y), Point2::new(at, y + 7.0)], HOSE);
                    dot(&mut draft, PaperLayer::Hose, Point2::new(at, y));
                    draft.subject = None;
                    flag(&mut draft, Point2::new(at, y + 7.0), &part.tag, sheet, true);
                }
                x += head.width() + gap;
            }
            y -= band + spare;
        }
        finish(source, &mut draft, &area);
        sheets.push(draft);
    }
    sheets
}

/// What stands on one sheet of the upper half.
struct Group<'a> {
    heads: Vec<Head<'a>>,
    /// All other parts, with what is screwed onto them.
    parts: Vec<PartId>,
}

/// The part that a part is screwed onto, directly or over others; itself where it is on none.
fn root<'a>(source: &SheetSource<'a>, part: &'a Part) -> &'a Part {
    let routing = source.routing.routing;
    let host = |part: &'a Part| part.mount.and_then(|mount| routing.part(mount.part));
    std::iter::successors(Some(part), |part| host(part)).take(routing.parts.len()).last().unwrap_or(part)
}

fn x_on_bar(source: &SheetSource, part: &Part) -> f64 {
    source.routing.geometry.anchors.part(part.id).map_or(part.position.x, |placed| placed.at.x)
}

/// The first whose manifolds come nearest to a place on the bar.
fn nearest(groups: &[Group], x: f64) -> usize {
    let away =
        |group: &Group| group.heads.iter().map(|head| (head.x - x).abs()).fold(f64::INFINITY, f64::min);
    let found = groups.iter().enumerate().min_by(|a, b| away(a.1).total_cmp(&away(b.1)));
    found.map_or(0, |(index, _)| index)
}

/// So many manifolds a sheet, each with the parts that are nearest to it on the bar; filters on the first.
fn groups<'a>(source: &SheetSource<'a>, heads: &[Head<'a>], a_sheet: usize) -> Vec<Group<'a>> {
    let mut groups: Vec<Group> =
        heads.chunks(a_sheet).map(|heads| Group { heads: heads.to_vec(), parts: Vec::new() }).collect();
    if groups.is_empty() {
        groups.push(Group { heads: Vec::new(), parts: Vec::new() });
    }
    let catalogue = &source.project.catalogue;
    for part in &source.routing.parts {
        let root = root(source, part);
        let holds = |group: &Group| group.heads.iter().any(|head| head.is(root.id));
        let index = match catalogue.item(&root.entry) {
            Some(item) if item.is_for_rows() => groups.iter().position(holds).unwrap_or(0),
            Some(PartItem::InletFilter(_)) => 0,
            _ => nearest(&groups, x_on_bar(source, root)),
        };
        if !heads.iter().any(|head| head.is(part.id)) {
            groups[index].parts.push(part.id);
        }
    }
    groups
}

impl<'a> Group<'a> {
    /// Two that hold what this one does, each less than it; none if it holds one thing alone.
    fn halves(&self, source: &SheetSource<'a>) -> Option<[Self; 2]> {
        let own = || self.parts.iter().filter_map(|part| source.routing.part(*part));
        if self.heads.len() > 1 {
            let (left, right) = self.heads.split_at(self.heads.len() / 2);
            let mut halves = [left, right].map(|heads| Group { heads: heads.to_vec(), parts: Vec::new() });
            for part in own() {
                let root = root(source, part);
                let on = halves.iter().position(|half| half.heads.iter().any(|head| head.is(root.id)));
                let index = on.unwrap_or_else(|| nearest(&halves, x_on_bar(source, root)));
                halves[index].parts.push(part.id);
            }
            return Some(halves);
        }
        // What is screwed onto another part stays with it.
        let mut roots: Vec<&Part> = own().map(|part| root(source, part)).collect();
        roots.retain(|part| !self.heads.iter().any(|head| head.is(part.id)));
        roots.sort_by(|a, b| x_on_bar(source, a).total_cmp(&x_on_bar(source, b)).then(a.id.cmp(&b.id)));
        roots.dedup_by_key(|part| part.id);
        let many = roots.len();
        if many + self.heads.len() < 2 {
            return None;
        }
        let moved: Vec<PartId> = roots[..many.div_ceil(2)].iter().map(|part| part.id).collect();
        let (first, second) = own()
            .map(|part| (part.id, moved.contains(&root(source, part).id)))
            .partition::<Vec<_>, _>(|one| one.1);
        let ids = |all: Vec<(PartId, bool)>| all.into_iter().map(|one| one.0).collect();
        let first = Group { heads: Vec::new(), parts: ids(first) };
        Some([first, Group { heads: self.heads.clone(), parts: ids(second) }])
    }
}

/// On which sheets things are drawn, where they do not all fit on one.
struct SheetPlaces {
    /// Of the upper half: each part, manifolds included.
    upper: BTreeMap<PartId, usize>,
    /// The rows of each manifold.
    rows: BTreeMap<PartId, usize>,
    /// Feeds that are on no manifold's outlet.
    feeds: BTreeMap<FeedId, usize>,
    /// The first sheet: the pump is on it.
    first: usize,
}

impl SheetPlaces {
    fn new(groups: &[Group], bands: &[&[Vec<&Head>]], first: usize) -> Self {
        let mut places =
            Self { upper: BTreeMap::new(), rows: BTreeMap::new(), feeds: BTreeMap::new(), first };
        for (index, group) in groups.iter().enumerate() {
            let heads = group.heads.iter().filter_map(|head| Some(head.part?.0.id));
            places.upper.extend(heads.chain(group.parts.iter().copied()).map(|id| (id, first + index)));
        }
        for (index, sheet) in bands.iter().enumerate() {
            let sheet_number = first + groups.len() + index;
            for head in sheet.iter().flatten() {
                for (outlet, tap) in &head.taps {
                    if let (None, Tap::Feed(feed)) = (outlet, tap) {
                        places.feeds.insert(feed.id, sheet_number);
                    }
                }
                if let Some((part, _)) = head.part {
                    places.rows.entry(part.id).or_insert(sheet_number);
                }
            }
        }
        places
    }

    /// Where an end is drawn.
    fn of_end(&self, end: &End) -> usize {
        let sheet = match end {
            End::Port(PortRef { part, port: Port::Outlet(_) }) => self.rows.get(part),
            End::Port(port) => self.upper.get(&port.part),
            End::Supply | End::Loose(_) => None,
        };
        sheet.copied().unwrap_or(self.first)
    }
}

/// Where liquid comes into a manifold drawn with its taps: between two of them in the middle, or at its left end.
fn inlet_at(head: &Head, from: f64, to: f64) -> f64 {
    if let Some((_, PartItem::Manifold(Manifold { inlet: ManifoldInlet::End, .. }))) = head.part {
        return from;
    }
    let taps = from + 2.0;
    taps + ((f64::midpoint(from, to) - taps) / COLUMN + 1e-9).floor() * COLUMN
}

fn new_sheet<'a>(source: &SheetSource<'a>, name: &str) -> Draft<'a> {
    Draft::new(format!("Schematic, {name}"), source.size.0, source.size.1, source.letters)
}

/// Heading and legend.
fn finish(source: &SheetSource, draft: &mut Draft, area: &Bounds) {
    let heading = draft.page.name.trim_start_matches("Schematic, ").to_owned();
    let at = Point2::new(area.min.x + 5.0, area.max.y - 9.0);
    let style = Style::plain(PaperLayer::Words, LARGE).bold();
    draft.words(at, &format!("{}, not to scale", capital(&heading)), style);
    let without: Vec<u32> = source
        .project
        .bar
        .rows
        .iter()
        .filter(|row| !row.left_out && source.routing.feed_of(row.id).is_none())
        .map(|row| row.number)
        .collect();
    if !without.is_empty() {
        let words = format!("Rows without a feed: {}", ranges(&without));
        draft.words(Point2::new(at.x, at.y - 5.5), &words, Style::plain(PaperLayer::Words, SMALL));
    }
    legend(source, draft, area);
}

/// The manifolds from left to right, then feeds that are on none.
fn heads<'a>(source: &SheetSource<'a>) -> Vec<Head<'a>> {
    let (project, routing) = (source.project, source.routing.routing);
    let catalogue = &project.catalogue;
    let mut heads: Vec<Head> = Vec::new();
    let mut placed: Vec<FeedId> = Vec::new();
    for part in &routing.parts {
        let Some(item @ PartItem::Manifold(Manifold { outlets, .. })) = catalogue.item(&part.entry) else {
            continue;
        };
        let mut taps = Vec::new();
        for number in 1..=*outlets {
            let port = PortRef { part: part.id, port: Port::Outlet(number) };
            let mut any = false;
            for feed in routing.feeds.iter().filter(|feed| feed.from == End::Port(port)) {
                placed.push(feed.id);
                taps.push((Some(number), Tap::Feed(feed)));
                any = true;
            }
            for mounted in routing.parts.iter().filter(|other| other.mount == Some(port)) {
                taps.push((Some(number), Tap::Mounted(mounted)));
                any = true;
            }
            for run in
                routing.runs.iter().filter(|run| run.from == End::Port(port) || run.to == End::Port(port))
            {
                taps.push((Some(number), Tap::Hose(run)));
                any = true;
            }
            if !any {
                taps.push((Some(number), Tap::Open));
            }
        }
        let x = x_on_bar(source, part);
        heads.push(Head { part: Some((part, *item)), taps, x });
    }
    heads.sort_by(|a, b| a.x.total_cmp(&b.x));
    let others: Vec<_> = routing
        .feeds
        .iter()
        .filter(|feed| !placed.contains(&feed.id))
        .map(|feed| (None, Tap::Feed(feed)))
        .collect();
    if !others.is_empty() {
        heads.push(Head { part: None, taps: others, x: f64::INFINITY });
    }
    heads
}

/// A manifold's taps in pieces no wider than a sheet.
fn parts_of_head<'a>(head: &Head<'a>, room: f64) -> Vec<Head<'a>> {
    let most = (((room - HEAD_ROOM) / COLUMN).floor() as usize).max(1);
    let mut all = Vec::new();
    let mut columns = usize::MAX;
    for tap in &head.taps {
        if columns.saturating_add(tap.1.columns()) > most {
            all.push(Head { part: head.part, taps: Vec::new(), x: head.x });
            columns = 0;
        }
        columns += tap.1.columns();
        if let Some(last) = all.last_mut() {
            last.taps.push(tap.clone());
        }
    }
    all
}

// ---------------------------------------------------------------------------------------------------------------
// Lines, dots, symbols. A wire is a line on the layer of hoses or tubes; everything else is on others.

fn wire(draft: &mut Draft, layer: PaperLayer, points: &[Point2], width: f64) {
    let mut points = points.to_vec();
    points.dedup_by(|a, b| a.distance(*b) < 1e-9);
    draft.line(layer, &points, width, Dash::Solid);
}

fn dot(draft: &mut Draft, layer: PaperLayer, at: Point2) {
    draft.signs.insert(Sign::Connection);
    draft.circle(layer, at, DOT, 0.0, Some(Shade::INK));
}

fn sign(draft: &mut Draft, points: &[(f64, f64)], at: Point2) {
    let points: Vec<Point2> = points.iter().map(|(x, y)| Point2::new(at.x + x, at.y + y)).collect();
    draft.line(PaperLayer::Part, &points, MIDDLE, Dash::Solid);
}

fn closed(draft: &mut Draft, points: &[(f64, f64)], at: Point2, fill: Shade) {
    let points = points.iter().map(|(x, y)| Point2::new(at.x + x, at.y + y)).collect();
    draft.mark(
        PaperLayer::Part,
        MarkKind::Area { points, line: Some((MIDDLE, Shade::INK)), fill: Some(fill) },
    );
}

/// Half the length of a part's symbol that stands in a line, mm, and of one at the end of a line.
const HALF_IN_LINE: f64 = 4.0;
const HALF_ON_PORT: f64 = 3.2;
/// The same in the legend.
const HALF_IN_LEGEND: f64 = 2.4;

/// A part that stands as a dot where its lines meet.
fn is_dot(item: &PartItem) -> bool {
    item.facts().schematic == SchematicForm::Dot
}

/// Half the length of a part's symbol, mm.
const fn half_of(item: &PartItem) -> f64 {
    if item.is_on_port() { HALF_ON_PORT } else { HALF_IN_LINE }
}

/// How a symbol stands on the sheet.
struct Stand {
    /// The symbol's middle.
    at: Point2,
    /// Millimetres of one of its units.
    scale: f64,
    /// Where its own x points to, a unit vector.
    along: Point2,
    /// The part is shut.
    shut: bool,
}

/// The marks of a symbol.
fn symbol_marks(draft: &mut Draft, marks: &[Mark], stand: &Stand) {
    let Stand { at, scale, along, shut } = *stand;
    let place = |(x, y): (f64, f64)| {
        let (x, y) = (x * scale, y * scale);
        Point2::new(at.x + x * along.x - y * along.y, at.y + x * along.y + y * along.x)
    };
    let shade = |filling| match filling {
        Filling::Ink => Shade::INK,
        Filling::InkWhereShut if shut => Shade::INK,
        Filling::InkWhereShut | Filling::Paper => Shade::PAPER,
    };
    for mark in marks.iter().filter(|mark| shut || mark.drawn != Drawn::WhileShut) {
        match &mark.form {
            MarkForm::Line { points, weight, dashed } => {
                let points: Vec<Point2> = points.iter().map(|point| place(*point)).collect();
                let width = match weight {
                    Weight::Plain => MIDDLE,
                    Weight::Strong | Weight::Pipe(_) => WIDE,
                };
                let dash = if *dashed { Dash::Dashed } else { Dash::Solid };
                draft.line(PaperLayer::Part, &points, width, dash);
            }
            MarkForm::Area { points, filling } => {
                let points = points.iter().map(|point| place(*point)).collect();
                let (line, fill) = (Some((MIDDLE, Shade::INK)), Some(shade(*filling)));
                draft.mark(PaperLayer::Part, MarkKind::Area { points, line, fill });
            }
            MarkForm::Circle { centre, radius, filling } => {
                draft.circle(PaperLayer::Part, place(*centre), radius * scale, MIDDLE, Some(shade(*filling)));
            }
            // The body of what stands here as a line with taps.
            MarkForm::RoundedBox { .. } => {}
        }
    }
}

/// The symbol of a part about its middle; liquid passes from above to below.
fn part_symbol(draft: &mut Draft, item: &PartItem, at: Point2, shut: bool) {
    match item.facts().schematic {
        SchematicForm::Symbol { .. } => {
            // What is screwed onto a port stands upright; anything else with its inlet above.
            let inlet = item.port(Port::In).filter(|_| !item.is_on_port()).map(|port| port.facing);
            let inlet = inlet.unwrap_or_else(|| Point2::new(0.0, 1.0));
            let along = Point2::new(inlet.y, inlet.x);
            symbol_marks(draft, &item.symbol().marks, &Stand { at, scale: half_of(item), along, shut });
        }
        SchematicForm::Stroke => plug(draft, Point2::new(at.x, at.y + HALF_IN_LINE)),
        // A tee is a dot, a manifold a line with taps.
        SchematicForm::Dot | SchematicForm::Header => {}
    }
}

/// What is screwed onto the upper or lower end of a line: its symbol beyond the end, or a stroke across it.
fn on_line_end(draft: &mut Draft, item: Option<&PartItem>, end: Point2, above: bool) {
    match item {
        Some(item) if matches!(item.facts().schematic, SchematicForm::Symbol { .. }) => {
            let away = if above { HALF_ON_PORT } else { -HALF_ON_PORT };
            part_symbol(draft, item, Point2::new(end.x, end.y + away), false);
        }
        _ => plug(draft, end),
    }
}

/// Half the length of the stroke that closes a line.
const STROKE: f64 = 1.3;

/// Closes the end of an upright line.
fn plug(draft: &mut Draft, at: Point2) {
    draft.signs.insert(Sign::Plug);
    draft.line(
        PaperLayer::Part,
        &[Point2::new(at.x - STROKE, at.y), Point2::new(at.x + STROKE, at.y)],
        WIDE,
        Dash::Solid,
    );
}

fn pump(draft: &mut Draft, at: Point2) {
    draft.signs.insert(Sign::Pump);
    draft.circle(PaperLayer::Part, at, 4.0, MIDDLE, Some(Shade::PAPER));
    closed(draft, &[(0.0, -4.0), (-2.0, -0.6), (2.0, -0.6)], at, Shade::INK);
}

/// A flag that goes on on another sheet, standing on the end of a line.
fn flag(draft: &mut Draft, at: Point2, tag: &str, sheet: usize, above: bool) -> Bounds {
    draft.signs.insert(Sign::GoesOn);
    let words = format!("{tag}, sheet {sheet}");
    let style = Style::plain(PaperLayer::Words, SMALL).centred();
    let width = draft.width_of(&words, style) + 3.0;
    let bottom = if above { at.y } else { at.y - 4.4 };
    let bounds = sized(at.x - width / 2.0, bottom, width, 4.4);
    draft.area(PaperLayer::Part, &bounds, NARROW, Some(Shade::PAPER));
    draft.words(Point2::new(at.x, bottom + 1.3), &words, style);
    bounds
}

/// Height of the symbol of an element in a row's column.
fn element_height(element: &FeedElement) -> f64 {
    element.item_kind().feed_symbol().map_or(0.0, |symbol| symbol.schematic_length)
}

/// The symbol of an element from a point downwards.
fn element_symbol(draft: &mut Draft, symbol: &ElementSymbol, top: Point2) {
    let scale = symbol.schematic_length / 2.0;
    let at = Point2::new(top.x, top.y - scale);
    symbol_marks(draft, &symbol.marks, &Stand { at, scale, along: Point2::new(0.0, -1.0), shut: false });
}

// ---------------------------------------------------------------------------------------------------------------
// Manifolds and rows.

struct Rows<'s, 'd, 'a> {
    source: &'s SheetSource<'a>,
    draft: &'d mut Draft<'a>,
    /// From the manifold's line to the ends of the rows.
    depth: f64,
    /// Which sheets hold what, where there are several.
    places: Option<&'s SheetPlaces>,
}

impl Rows<'_, '_, '_> {
    /// A manifold with its rows, from its left edge; answers where its line begins and ends.
    fn head(&mut self, head: &Head, left: f64, y: f64) -> (f64, f64) {
        let from = left + HEAD_ROOM / 2.0 - 2.0;
        let to = left + head.width() - HEAD_ROOM / 2.0 + 2.0;
        if let Some((part, item)) = head.part {
            self.draft.subject = Some(Subject::Part(part.id));
            wire(self.draft, PaperLayer::Hose, &[Point2::new(from, y), Point2::new(to, y)], HOSE);
            self.draft.subject = None;
            frame_of_head(self.source, self.draft, part, &item, (from, to), y);
        }
        let mut x = left + HEAD_ROOM / 2.0 + COLUMN / 2.0;
        for (number, tap) in &head.taps {
            self.tap(*number, tap, Point2::new(x, y));
            x += COLUMN * tap.columns() as f64;
        }
        (from, to)
    }

    fn tap(&mut self, number: Option<u16>, tap: &Tap, at: Point2) {
        let small = Style::plain(PaperLayer::Words, 1.4);
        if let Some(number) = number {
            dot(self.draft, PaperLayer::Tube, at);
            self.draft.words(Point2::new(at.x + 0.7, at.y - 2.8), &number.to_string(), small);
        }
        match tap {
            Tap::Feed(feed) => self.feed(feed, at, number.is_some()),
            Tap::Mounted(part) => {
                let end = Point2::new(at.x, at.y - 9.0);
                self.draft.subject = Some(Subject::Part(part.id));
                wire(self.draft, PaperLayer::Tube, &[at, end], TUBE);
                let item = self.source.project.catalogue.item(&part.entry);
                if item.is_none_or(PartItem::is_on_port) {
                    on_line_end(self.draft, item, end, false);
                } else {
                    // Its other port goes on elsewhere: it stands among the parts of the upper half.
                    self.draft.subject = None;
                    hose_flag(self.draft, end, &part.tag);
                }
                self.draft.subject = None;
                let style = Style::plain(PaperLayer::Words, SMALL).anchor(Anchor::Right);
                self.draft.words_up(Point2::new(at.x + SMALL / 2.0, end.y - 8.6), &part.tag, style);
            }
            Tap::Hose(run) => {
                let end = Point2::new(at.x, at.y - 9.0);
                self.draft.subject = Some(Subject::Run(run.id));
                wire(self.draft, PaperLayer::Tube, &[at, end], TUBE);
                self.draft.subject = None;
                let style = Style::plain(PaperLayer::Words, SMALL).anchor(Anchor::Right);
                hose_flag(self.draft, end, &run.tag);
                let mut words = hose_words(self.source, run);
                if let Some(places) = self.places {
                    let far = if number.is_some_and(|number| outlet_of(&run.from, number)) {
                        run.to
                    } else {
                        run.from
                    };
                    self.draft.signs.insert(Sign::GoesOn);
                    words = format!("{words}, sheet {}", places.of_end(&far));
                }
                self.draft.words_up(Point2::new(at.x + SMALL / 2.0, end.y - 6.0), &words, style);
            }
            Tap::Open => {
                let end = Point2::new(at.x, at.y - 7.0);
                wire(self.draft, PaperLayer::Tube, &[at, end], TUBE);
                self.draft.circle(
                    PaperLayer::Part,
                    Point2::new(end.x, end.y - 0.9),
                    0.9,
                    NARROW,
                    Some(Shade::PAPER),
                );
                let style = Style::plain(PaperLayer::Words, SMALL).anchor(Anchor::Right);
                self.draft.words_up(Point2::new(at.x + SMALL / 2.0, end.y - 3.0), "open", style);
            }
        }
    }

    fn feed(&mut self, feed: &RowFeed, at: Point2, on_manifold: bool) {
        let subject = Subject::Feed(feed.id);
        let bottom = at.y - self.depth;
        let mut start = at;
        self.draft.subject = Some(subject);
        if !on_manifold {
            // On something else, or on nothing: said beside its end.
            let routing = self.source.routing;
            let on = match feed.from {
                End::Supply => Some("pump".to_owned()),
                End::Port(port) => routing
                    .part(port.part)
                    .map(|part| format!("{}, {}", part.tag, routing.geometry.anchors.port_name(port))),
                End::Loose(_) => None,
            };
            let says = if let Some(on) = on {
                hose_flag_above(self.draft, at, &feed.tag);
                match self.places {
                    Some(places) => {
                        self.draft.signs.insert(Sign::GoesOn);
                        format!("{on}, sheet {}", places.of_end(&feed.from))
                    }
                    None => on,
                }
            } else {
                self.draft.circle(
                    PaperLayer::Part,
                    Point2::new(at.x, at.y + 0.9),
                    0.9,
                    NARROW,
                    Some(Shade::PAPER),
                );
                "loose end".to_owned()
            };
            let style = Style::plain(PaperLayer::Words, SMALL);
            self.draft.words_up(Point2::new(at.x + SMALL / 2.0, at.y + 6.0), &says, style);
        }
        let laid = self.source.routing.geometry.feed(feed.id);
        let stretch = |index: Option<usize>| laid.map_or(&[][..], |laid| laid.stretch(index));
        let shared = feed.is_shared();
        if shared {
            let split = at.y - self.depth * 0.45;
            self.column(feed, &feed.trunk, stretch(None), start, split, &feed.tag);
            start = Point2::new(at.x, split);
            self.draft.subject = Some(subject);
            let last = at.x + COLUMN * (feed.branches.len() - 1) as f64;
            if feed.branches.len() > 1 {
                wire(self.draft, PaperLayer::Tube, &[start, Point2::new(last, split)], TUBE);
                dot(self.draft, PaperLayer::Tube, start);
            } else if feed.split.is_some() {
                // A tee with one row left: its other leg ends at a bar across, plugged.
                let end = start.x + COLUMN * 0.3;
                wire(self.draft, PaperLayer::Tube, &[start, Point2::new(end, split)], TUBE);
                let bar = [-1.0, 1.0].map(|up| Point2::new(end, split + up));
                wire(self.draft, PaperLayer::Tube, &bar, TUBE);
                dot(self.draft, PaperLayer::Tube, start);
            }
        }
        for (index, branch) in feed.branches.iter().enumerate() {
            let top = Point2::new(at.x + COLUMN * index as f64, start.y);
            self.draft.subject = Some(subject);
            // The last column's line turns down; those between leave the line at a dot.
            if index > 0 && index + 1 < feed.branches.len() {
                dot(self.draft, PaperLayer::Tube, top);
            }
            let tag = if shared { String::new() } else { feed.tag.clone() };
            self.column(feed, &branch.elements, stretch(Some(index)), top, bottom, &tag);
            self.row_end(feed, branch, Point2::new(top.x, bottom));
        }
        self.draft.subject = None;
    }

    /// Elements from above to below; the last tube takes what the others leave.
    fn column(
        &mut self,
        feed: &RowFeed,
        elements: &[FeedElement],
        laid: &[ElementGeometry],
        top: Point2,
        bottom: f64,
        tag: &str,
    ) {
        let units = self.source.units;
        let catalogue = &self.source.project.catalogue;
        let fixed: f64 = elements.iter().map(element_height).sum();
        let tubes = elements.iter().filter(|one| matches!(one, FeedElement::Tube(_))).count();
        let joints = elements.len().saturating_sub(tubes) as f64;
        // A short line between symbols, the rest in equal tubes.
        let spare = top.y - bottom - fixed;
        let short = if tubes == 0 { spare / (joints + 1.0) } else { (spare * 0.06).min(2.0) };
        let long = if tubes == 0 { 0.0 } else { (spare - short * (joints + 1.0)) / tubes as f64 };
        let mut at = top;
        let mut line_from = top;
        self.draft.subject = Some(Subject::Feed(feed.id));
        let mut tag = tag;
        for (index, element) in elements.iter().enumerate() {
            if let FeedElement::Tube(tube) = element {
                let to = Point2::new(at.x, at.y - long);
                let bore = catalogue.stock(&tube.line.stock).map_or_else(String::new, |stock| {
                    format!("Ø{}", Measure::Bore.short_number(stock.bore.si(), units))
                });
                let length =
                    laid.get(index).and_then(|laid| laid.tube.as_ref()).map_or_else(String::new, |tube| {
                        Measure::CutLength.short_text(tube.cut(units).si(), units)
                    });
                let words =
                    [tag, &bore, &length].into_iter().filter(|one| !one.is_empty()).collect::<Vec<_>>();
                let style = Style::plain(PaperLayer::Words, SMALL).centred();
                let middle = at.y - long / 2.0;
                self.draft.words_up(Point2::new(at.x - 0.7, middle - 1.0), &words.join(" "), style);
                tag = "";
                at = to;
                continue;
            }
            let from = Point2::new(at.x, at.y - short);
            self.draft.subject = Some(Subject::Feed(feed.id));
            wire(self.draft, PaperLayer::Tube, &[line_from, from], TUBE);
            if let Some(symbol) = element.item_kind().feed_symbol() {
                element_symbol(self.draft, &symbol, from);
            }
            let says = match (element, catalogue.any_item(element.entry())) {
                (_, Some(Item::Element(item))) => item.schematic_words(units),
                (FeedElement::MeteringTube { length, .. }, Some(Item::Stock(stock))) => format!(
                    "Ø{} × {}",
                    Measure::Bore.fine_number(stock.dimensions().bore.si(), units),
                    Measure::CutLength.short_number(cut_length(*length, units, true).si(), units)
                ),
                _ => String::new(),
            };
            let height = element_height(element);
            if !says.is_empty() {
                let style = Style::plain(PaperLayer::Words, 1.4).centred();
                self.draft.words_up(Point2::new(at.x - 1.9, from.y - height / 2.0), &says, style);
            }
            at = Point2::new(at.x, from.y - height);
            line_from = at;
        }
        self.draft.subject = Some(Subject::Feed(feed.id));
        wire(self.draft, PaperLayer::Tube, &[line_from, Point2::new(top.x, bottom)], TUBE);
    }

    fn row_end(&mut self, feed: &RowFeed, branch: &Branch, at: Point2) {
        let project = self.source.project;
        self.draft.subject = Some(Subject::Row(branch.row));
        let points =
            [(-1.6, 0.0), (1.6, 0.0), (0.0, -2.8)].map(|(x, y)| Point2::new(at.x + x, at.y + y)).to_vec();
        let line = Some((MIDDLE, Shade::INK));
        self.draft.mark(PaperLayer::Row, MarkKind::Area { points, line, fill: Some(Shade::PAPER) });
        let number = project.bar.row(branch.row).map_or(0, |row| row.number);
        let style = Style::plain(PaperLayer::Words, SMALL).centred();
        self.draft.words(Point2::new(at.x, at.y - 5.6), &number.to_string(), style.bold());
        let flow = self.source.outcome.and_then(|outcome| outcome.row(branch.row)).map(|row| row.flow);
        if let Some(flow) = flow {
            let words = Measure::RowFlow.number(flow.si(), self.source.units);
            self.draft.words(Point2::new(at.x, at.y - 8.4), &words, Style { height: 1.4, ..style });
        }
        self.draft.subject = Some(Subject::Feed(feed.id));
    }
}

/// The flag of a hose whose other end stands elsewhere on this or another sheet, below a line.
fn hose_flag(draft: &mut Draft, at: Point2, tag: &str) {
    let style = Style::plain(PaperLayer::Words, 1.4).centred();
    let width = draft.width_of(tag, style) + 1.6;
    draft.area(
        PaperLayer::Part,
        &sized(at.x - width / 2.0, at.y - 3.0, width, 3.0),
        NARROW,
        Some(Shade::PAPER),
    );
    draft.words(Point2::new(at.x, at.y - 2.2), tag, style);
}

fn hose_flag_above(draft: &mut Draft, at: Point2, tag: &str) {
    hose_flag(draft, Point2::new(at.x, at.y + 3.0), tag);
}

fn outlet_of(end: &End, number: u16) -> bool {
    end.port().is_some_and(|port| port.port == Port::Outlet(number))
}

/// The chain-line frame of a manifold with its name.
fn frame_of_head(
    source: &SheetSource,
    draft: &mut Draft,
    part: &Part,
    item: &PartItem,
    (from, to): (f64, f64),
    y: f64,
) {
    let bounds = Bounds { min: Point2::new(from - 3.0, y - 3.6), max: Point2::new(to + 3.0, y + 5.2) };
    let mut points = super::paper::corners(&bounds);
    points.push(points[0]);
    draft.line(PaperLayer::Notes, &points, NARROW, Dash::LongDashDot);
    let outlets = if let PartItem::Manifold(Manifold { outlets, .. }) = item { *outlets } else { 0 };
    let pressure = pressure_words(source, part.id).map_or_else(String::new, |one| format!(", {one}"));
    let style = Style::plain(PaperLayer::Words, SMALL);
    // As much as the left half holds: a hose may come down in the middle.
    let says =
        [format!("{} manifold, {outlets} outlets{pressure}", part.tag), format!("{}{pressure}", part.tag)];
    let fits = |words: &&String| draft.width_of(words, style.bold()) < bounds.width() / 2.0 - 8.0;
    let words = says.iter().find(fits).unwrap_or(&part.tag).clone();
    draft.words(Point2::new(from + 3.4, y + 2.2), &words, style.bold());
    if let Some(number) = source.items.get(&part.entry) {
        let centre = Point2::new(bounds.max.x + 4.0, bounds.max.y + 0.5);
        // Only where there is room beside it.
        if centre.x + 4.0 < source.size.0 - 12.0 {
            balloon(draft, centre, *number);
        }
    }
}

fn pressure_words(source: &SheetSource, part: PartId) -> Option<String> {
    let pressure = source.outcome?.part(part)?.pressure?;
    Some(Measure::Pressure.text(pressure.si(), source.units))
}

fn hose_words(source: &SheetSource, run: &Run) -> String {
    let (project, units) = (source.project, source.units);
    let bore = project.catalogue.stock(&run.line.stock).map_or_else(String::new, |stock| {
        format!(" Ø{}", Measure::Bore.short_number(stock.bore.si(), units))
    });
    let length = source.routing.geometry.run(run.id).map_or_else(String::new, |laid| {
        format!(" {}", Measure::CutLength.short_text(laid.cut(units).si(), units))
    });
    let flow = source.outcome.and_then(|outcome| outcome.run(run.id)?.flow);
    let flow = flow
        .map_or_else(String::new, |flow| format!(", {}", Measure::TotalFlow.text(flow.si().abs(), units)));
    format!("{}{bore}{length}{flow}", run.tag)
}

// ---------------------------------------------------------------------------------------------------------------
// From the pump to the manifolds.

/// How the manifolds at the bottom are drawn.
#[derive(Clone, Copy)]
enum Form<'a> {
    /// With their rows.
    Whole,
    /// With a flag to the sheet of their rows; `own` is the number of this sheet.
    Short { places: &'a SheetPlaces, own: usize },
}

impl Form<'_> {
    /// Parts that belong to no manifold's sheet stand here.
    const fn is_first(&self) -> bool {
        match self {
            Form::Whole => true,
            Form::Short { places, own } => *own == places.first,
        }
    }
}

/// What a line of the upper part ends on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Joint {
    /// A part of a column.
    Node(usize),
    /// A manifold.
    Head(usize),
}

#[derive(Debug, Clone)]
enum Kind<'a> {
    Pump,
    Part(&'a Part, PartItem),
    Loose,
    /// Goes on on another sheet: its number.
    Away(String, usize),
}

#[derive(Debug, Clone)]
struct Node<'a> {
    kind: Kind<'a>,
    /// The line from the pump's side, which comes from above.
    up: Option<LineEnd>,
    layer: usize,
    column: usize,
    /// How many lines leave sideways.
    sideways: usize,
}

/// A line: a hose, a part screwed onto another, or the start of a row feed that is on no manifold's outlet.
#[derive(Debug, Clone)]
struct Joining<'a> {
    subject: Subject,
    run: Option<&'a Run>,
    ends: [(Joint, Port); 2],
}

/// One of the two ends of a line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct LineEnd {
    line: usize,
    end: usize,
}

impl LineEnd {
    const fn far(self) -> Self {
        Self { line: self.line, end: 1 - self.end }
    }
}

/// Heights of what the upper half holds.
struct Levels {
    /// Middle of each layer of parts.
    layer_y: Vec<f64>,
    /// The track each line turns on.
    track_y: BTreeMap<usize, f64>,
    /// The lines of the manifolds.
    head_y: f64,
    /// From the top down to the manifolds.
    height: f64,
}

struct Column {
    /// Nodes from above to below.
    nodes: Vec<usize>,
    wanted: f64,
    x: f64,
    left: f64,
    right: f64,
    /// How far from its middle the first line that leaves it sideways passes.
    beside: f64,
}

struct Tree<'s, 'a> {
    source: &'s SheetSource<'a>,
    heads: &'s [Head<'a>],
    form: Form<'s>,
    room: Bounds,
    nodes: Vec<Node<'a>>,
    joinings: Vec<Joining<'a>>,
    columns: Vec<Column>,
    /// Left edge and width of each manifold.
    places: Vec<(f64, f64)>,
    /// Where each line on a manifold stands.
    head_ports: BTreeMap<LineEnd, f64>,
    /// Gauges and plugs on manifolds: manifold, part, x.
    mounted: Vec<(usize, &'a Part, f64)>,
    /// Where ports of manifolds are that have nothing on them: those that come closed, and open inlets.
    closed: Vec<(PartId, f64)>,
    open: Vec<(PartId, f64)>,
    /// Something has no room.
    crowded: bool,
}

impl<'s, 'a> Tree<'s, 'a> {
    fn new(source: &'s SheetSource<'a>, heads: &'s [Head<'a>], room: &Bounds, form: Form<'s>) -> Self {
        let mut tree = Self {
            source,
            heads,
            form,
            room: *room,
            nodes: Vec::new(),
            joinings: Vec::new(),
            columns: Vec::new(),
            places: Vec::new(),
            head_ports: BTreeMap::new(),
            mounted: Vec::new(),
            closed: Vec::new(),
            open: Vec::new(),
            crowded: false,
        };
        tree.place_heads();
        tree.gather();
        tree.layers();
        tree.head_lines();
        tree.place_columns();
        tree
    }

    fn place_heads(&mut self) {
        let width = |head: &Head| match self.form {
            Form::Whole => head.width(),
            Form::Short { .. } => SHORT_HEAD,
        };
        let total: f64 = self.heads.iter().map(width).sum();
        let gap = ((self.room.width() - total) / (self.heads.len() + 1) as f64).clamp(0.0, 25.0);
        let all = total + gap * self.heads.len().saturating_sub(1) as f64;
        let mut x = self.room.min.x + (self.room.width() - all).max(0.0) / 2.0;
        for head in self.heads {
            self.places.push((x, width(head)));
            x += width(head) + gap;
        }
    }

    fn head_of(&self, part: PartId) -> Option<usize> {
        self.heads.iter().position(|head| head.is(part))
    }

    fn on_this_sheet(&self, part: &Part) -> bool {
        match self.form {
            Form::Whole => true,
            Form::Short { places, own } => places.upper.get(&part.id) == Some(&own),
        }
    }

    /// The number of the sheet that an end is drawn on; 0 where all is on one.
    fn sheet_of(&self, end: &End) -> usize {
        match self.form {
            Form::Whole => 0,
            Form::Short { places, .. } => places.of_end(end),
        }
    }

    fn node(&mut self, kind: Kind<'a>) -> usize {
        self.nodes.push(Node { kind, up: None, layer: 0, column: usize::MAX, sideways: 0 });
        self.nodes.len() - 1
    }

    /// Parts of the upper half and the lines between them.
    fn gather(&mut self) {
        let (routing, catalogue) = (self.source.routing.routing, &self.source.project.catalogue);
        let mut at: BTreeMap<PartId, Joint> = BTreeMap::new();
        let is_leaf = |part: &Part| catalogue.item(&part.entry).is_some_and(PartItem::is_on_port);
        let is_manifold = |id: PartId| {
            routing.part(id).is_some_and(|one| catalogue.item(&one.entry).is_some_and(PartItem::is_for_rows))
        };
        let lead = self.form.is_first();
        let from_supply = routing.runs.iter().any(|run| run.from == End::Supply || run.to == End::Supply)
            || routing.feeds.iter().any(|feed| feed.from == End::Supply);
        let pump = (lead && from_supply).then(|| self.node(Kind::Pump));
        for part in &routing.parts {
            if let Some(head) = self.head_of(part.id) {
                at.insert(part.id, Joint::Head(head));
                continue;
            }
            if is_manifold(part.id) || !self.on_this_sheet(part) {
                continue;
            }
            // Gauges and plugs on manifolds are drawn with these.
            if is_leaf(part) && part.mount.is_some_and(|mount| is_manifold(mount.part)) {
                continue;
            }
            if let Some(item) = catalogue.item(&part.entry) {
                let node = self.node(Kind::Part(part, *item));
                at.insert(part.id, Joint::Node(node));
            }
        }
        let joint_of = |end: &End| match end {
            End::Supply => pump.map(|pump| (Joint::Node(pump), Port::Out)),
            End::Port(PortRef { port: Port::Outlet(_), .. }) | End::Loose(_) => None,
            End::Port(port) => at.get(&port.part).map(|joint| (*joint, port.port)),
        };
        for run in &routing.runs {
            let ends = [run.from, run.to];
            let joints = ends.map(|end| joint_of(&end));
            if joints.iter().all(Option::is_none) {
                // Nothing of it is among the parts; where one end hangs on nothing, that end stands on the first sheet.
                let is_loose = ends.iter().any(|end| matches!(end, End::Loose(_)));
                let elsewhere = ends.iter().any(|end| {
                    matches!(end, End::Port(port) if !matches!(port.port, Port::Outlet(_)))
                        || *end == End::Supply
                });
                if !lead || !is_loose || elsewhere {
                    continue;
                }
            }
            let mut far_end = |end: &End| {
                let kind = match end {
                    End::Loose(_) => Kind::Loose,
                    _ => Kind::Away(run.tag.clone(), self.sheet_of(end)),
                };
                (Joint::Node(self.node(kind)), Port::In)
            };
            let [from, to] = joints;
            let from = from.unwrap_or_else(|| far_end(&run.from));
            let to = to.unwrap_or_else(|| far_end(&run.to));
            self.joinings.push(Joining { subject: Subject::Run(run.id), run: Some(run), ends: [from, to] });
        }
        for part in &routing.parts {
            let (Some(mount), Some(own)) = (part.mount, at.get(&part.id)) else { continue };
            let host = if matches!(mount.port, Port::Outlet(_)) {
                let sheet = self.sheet_of(&End::Port(mount));
                Some((Joint::Node(self.node(Kind::Away(part.tag.clone(), sheet))), Port::In))
            } else {
                at.get(&mount.part).map(|host| (*host, mount.port))
            };
            if let Some(host) = host {
                let ends = [host, (*own, Port::In)];
                self.joinings.push(Joining { subject: Subject::Part(part.id), run: None, ends });
            }
        }
        for feed in &routing.feeds {
            let Some(joint) = joint_of(&feed.from) else { continue };
            let sheet = match self.form {
                Form::Whole => 0,
                Form::Short { places, .. } => places.feeds.get(&feed.id).copied().unwrap_or(places.first),
            };
            let away = (Joint::Node(self.node(Kind::Away(feed.tag.clone(), sheet))), Port::In);
            self.joinings.push(Joining { subject: Subject::Feed(feed.id), run: None, ends: [joint, away] });
        }
    }

    /// The ends of lines that are on a part or manifold.
    fn ends_at(&self, joint: Joint) -> impl Iterator<Item = LineEnd> + '_ {
        let of = move |(line, joining): (usize, &Joining)| {
            [0, 1].map(|end| (joining.ends[end].0 == joint).then_some(LineEnd { line, end }))
        };
        self.joinings.iter().enumerate().flat_map(of).flatten()
    }

    fn joint(&self, end: LineEnd) -> Joint {
        self.joinings[end.line].ends[end.end].0
    }

    fn port(&self, end: LineEnd) -> Port {
        self.joinings[end.line].ends[end.end].1
    }

    /// Layers below the pump, and columns of parts that follow each other.
    fn layers(&mut self) {
        let mut seen_nodes = vec![false; self.nodes.len()];
        let mut seen_heads = vec![false; self.heads.len()];
        let mut starts: Vec<Joint> = (0..self.nodes.len()).map(Joint::Node).collect();
        // Leaves are not where a tree starts as long as there is anything else.
        starts.sort_by_key(|joint| match joint {
            Joint::Node(node) => matches!(self.nodes[*node].kind, Kind::Loose | Kind::Away(..)),
            Joint::Head(_) => true,
        });
        starts.extend((0..self.heads.len()).map(Joint::Head));
        let mut straight: BTreeMap<usize, usize> = BTreeMap::new();
        for start in starts {
            match start {
                Joint::Node(node) if seen_nodes[node] => continue,
                Joint::Head(head) if seen_heads[head] => continue,
                Joint::Node(node) => seen_nodes[node] = true,
                Joint::Head(head) => seen_heads[head] = true,
            }
            let mut queue = VecDeque::from([start]);
            while let Some(at) = queue.pop_front() {
                let ends: Vec<LineEnd> = self.ends_at(at).collect();
                for end in ends {
                    let other = self.joint(end.far());
                    match other {
                        Joint::Head(head) => {
                            if !seen_heads[head] {
                                seen_heads[head] = true;
                                queue.push_back(other);
                            }
                        }
                        Joint::Node(node) => {
                            if seen_nodes[node] {
                                continue;
                            }
                            seen_nodes[node] = true;
                            if let Joint::Node(parent) = at {
                                self.nodes[node].up = Some(end.far());
                                self.nodes[node].layer = self.nodes[parent].layer + 1;
                                // What leaves a part aside never stands straight below it.
                                if self.turns_off(parent, end) {
                                    queue.push_back(other);
                                    continue;
                                }
                                // The first that follows goes straight on, unless it is a mere end.
                                let end = match &self.nodes[node].kind {
                                    Kind::Part(_, item) => item.is_on_port(),
                                    Kind::Loose | Kind::Away(..) => true,
                                    Kind::Pump => false,
                                };
                                if !end || !straight.contains_key(&parent) {
                                    let taken = straight.get(&parent).is_some_and(|child| {
                                        matches!(&self.nodes[*child].kind, Kind::Part(_, item) if item.is_in_line())
                                    });
                                    if !taken {
                                        straight.insert(parent, node);
                                    }
                                }
                            }
                            queue.push_back(other);
                        }
                    }
                }
            }
        }
        // Columns: from each node that continues no other.
        let continued: Vec<usize> = straight.values().copied().collect();
        for node in 0..self.nodes.len() {
            if continued.contains(&node) {
                continue;
            }
            let mut nodes = vec![node];
            let mut at = node;
            while let Some(next) = straight.get(&at) {
                nodes.push(*next);
                at = *next;
            }
            for one in &nodes {
                self.nodes[*one].column = self.columns.len();
            }
            self.columns.push(Column { nodes, wanted: 0.0, x: 0.0, left: 5.0, right: 5.0, beside: 5.0 });
        }
    }

    /// Lines of each manifold beside each other, in the order of its ports.
    fn head_lines(&mut self) {
        let (routing, catalogue) = (self.source.routing.routing, &self.source.project.catalogue);
        for (index, head) in self.heads.iter().enumerate() {
            let Some((part, item)) = head.part else { continue };
            let (left, width) = self.places[index];
            let (from, to) = (left + HEAD_ROOM / 2.0, left + width - HEAD_ROOM / 2.0);
            let middle_inlet =
                matches!(item, PartItem::Manifold(Manifold { inlet: ManifoldInlet::Middle, .. }));
            // Where a port is along the manifold, as on the bar.
            let share = |port: Port| match port {
                Port::In if middle_inlet => 0.5,
                Port::In => 0.0,
                Port::Gauge => 0.8,
                _ => 1.0,
            };
            enum What<'a> {
                Line(LineEnd),
                Mounted(&'a Part),
                Closed,
                Open,
            }
            let mut lines: Vec<(f64, What)> = Vec::new();
            for end in self.ends_at(Joint::Head(index)) {
                lines.push((share(self.port(end)), What::Line(end)));
            }
            for mounted in &routing.parts {
                let leaf = catalogue.item(&mounted.entry).is_some_and(PartItem::is_on_port);
                if let Some(mount) = mounted.mount.filter(|mount| mount.part == part.id && leaf)
                    && !matches!(mount.port, Port::Outlet(_))
                {
                    lines.push((share(mount.port), What::Mounted(mounted)));
                }
            }
            // As delivered: closed where nothing is on them. Each port shows, so that their order tells them apart.
            for port in [Port::In, Port::Gauge, Port::Out] {
                if routing.on_port(PortRef { part: part.id, port }).is_empty() {
                    lines.push((share(port), if port == Port::In { What::Open } else { What::Closed }));
                }
            }
            lines.sort_by(|a, b| a.0.total_cmp(&b.0));
            let whole = matches!(self.form, Form::Whole);
            let mut last = f64::NEG_INFINITY;
            for (share, what) in lines {
                let mut x = from + (to - from) * share;
                // Between taps, so that a line from above is not taken for one that goes straight through.
                if whole {
                    x = from + ((x - from) / COLUMN + 1e-9).floor() * COLUMN;
                }
                // Two on one port stand side by side.
                x = x.max(last + 3.0);
                last = x;
                match what {
                    What::Line(end) => {
                        self.head_ports.insert(end, x);
                    }
                    What::Mounted(part) => self.mounted.push((index, part, x)),
                    What::Closed => self.closed.push((part.id, x)),
                    What::Open => self.open.push((part.id, x)),
                }
            }
        }
    }

    /// The manifolds that hang on a node, by where they stand.
    fn below(&self, node: usize) -> Vec<f64> {
        let mut found = Vec::new();
        let mut seen = vec![node];
        let mut queue = VecDeque::from([node]);
        while let Some(at) = queue.pop_front() {
            for end in self.ends_at(Joint::Node(at)).filter(|end| self.nodes[at].up != Some(*end)) {
                match self.joint(end.far()) {
                    Joint::Head(head) => found.push(self.places[head].0 + self.places[head].1 / 2.0),
                    Joint::Node(next) => {
                        if self.nodes[next].up == Some(end.far()) && !seen.contains(&next) {
                            seen.push(next);
                            queue.push_back(next);
                        }
                    }
                }
            }
        }
        found
    }

    fn place_columns(&mut self) {
        // Lines that leave a column sideways go down on its right, each at its own x.
        for node in 0..self.nodes.len() {
            self.nodes[node].sideways =
                self.ends_at(Joint::Node(node)).filter(|end| self.is_sideways(node, *end)).count();
        }
        for index in 0..self.columns.len() {
            let nodes = self.columns[index].nodes.clone();
            let sideways: usize = nodes.iter().map(|node| self.nodes[*node].sideways).sum();
            let places: Vec<f64> = nodes.iter().flat_map(|node| self.below(*node)).collect();
            let wanted = if places.is_empty() {
                self.room.centre().x
            } else {
                places.iter().sum::<f64>() / places.len() as f64
            };
            let flags = nodes.iter().filter_map(|node| match &self.nodes[*node].kind {
                Kind::Away(tag, _) => {
                    Some(self.source.letters.width(&format!("{tag}, sheet 88"), false) * SMALL / 2.0 + 2.0)
                }
                _ => None,
            });
            let half = flags.fold(5.0, f64::max);
            let column = &mut self.columns[index];
            column.wanted = wanted;
            column.beside = half;
            // Lines that leave sideways pass a flag of the column outside it.
            let reach = if sideways == 0 { half.max(6.0) } else { half + 1.0 + 2.5 * sideways as f64 };
            (column.left, column.right) = (reach, reach);
        }
        let reserved: Vec<f64> =
            self.head_ports.values().copied().chain(self.mounted.iter().map(|(_, _, x)| *x)).collect();
        let mut order: Vec<usize> = (0..self.columns.len()).collect();
        // The longest first: the spine gets the place it wants.
        order.sort_by(|a, b| {
            let (a, b) = (&self.columns[*a], &self.columns[*b]);
            b.nodes.len().cmp(&a.nodes.len()).then(a.wanted.total_cmp(&b.wanted))
        });
        let mut taken: Vec<(f64, f64)> = Vec::new();
        for index in order {
            let (left, right) = (self.columns[index].left, self.columns[index].right);
            let wanted = self.columns[index].wanted;
            let free = |x: f64| {
                let (from, to) = (x - left, x + right);
                from >= self.room.min.x
                    && to <= self.room.max.x
                    && taken.iter().all(|(a, b)| to + 1.0 < *a || from > *b + 1.0)
                    && reserved.iter().all(|port| *port < from - 0.8 || *port > to + 0.8)
            };
            let steps = (self.room.width() * 2.0) as i32;
            let mut tries = (0..steps).flat_map(|step| [f64::from(step) * 0.5, -f64::from(step) * 0.5]);
            let place = tries.find(|away| free(wanted + away));
            self.crowded |= place.is_none();
            let x = place.map_or(wanted, |away| wanted + away);
            self.columns[index].x = x;
            taken.push((x - left, x + right));
        }
    }

    /// A line that does not go straight on through a part. A filter or valve passes on by the port that does not come
    /// from above, where nothing does by its outlet. The two ends of a tee's run lie in one line, the branch stands off
    /// it, whichever of them liquid comes in by.
    fn turns_off(&self, node: usize, end: LineEnd) -> bool {
        let up = self.nodes[node].up.map(|up| self.port(up));
        let through = match (&self.nodes[node].kind, up) {
            (Kind::Part(_, item), Some(Port::Out)) if item.is_in_line() => Some(Port::In),
            (Kind::Part(_, item), Some(Port::In)) if is_dot(item) => Some(Port::Out),
            (Kind::Part(_, item), _) if item.passes_on() => Some(Port::Out),
            // In by the branch, both ends of the run leave to the sides.
            (Kind::Part(_, item), Some(_)) if is_dot(item) => None,
            (Kind::Part(_, item), None) if is_dot(item) => Some(Port::Branch),
            _ => return false,
        };
        through != Some(self.port(end))
    }

    /// A line ends at the upper side of its part's symbol: on the port that comes from above, where nothing does on the
    /// inlet.
    fn is_upper(&self, node: usize, end: LineEnd) -> bool {
        let upper = match (self.nodes[node].up, &self.nodes[node].kind) {
            (Some(up), _) => Some(self.port(up)),
            (None, Kind::Part(_, item)) if item.passes_on() => Some(Port::In),
            (None, _) => None,
        };
        upper == Some(self.port(end))
    }

    /// The lines that leave a node sideways, in the order they take their places: the first on its right, the next on
    /// its left. Of the two ends of a tee's run each goes to the side that it leads to.
    fn sideways_lines(&self, node: usize) -> Vec<LineEnd> {
        let mut lines: Vec<LineEnd> =
            self.ends_at(Joint::Node(node)).filter(|end| self.is_sideways(node, *end)).collect();
        if let ([one, other], Kind::Part(_, item)) = (&lines[..], &self.nodes[node].kind)
            && is_dot(item)
            && self.leads_to(*other) > self.leads_to(*one)
        {
            lines.reverse();
        }
        lines
    }

    /// How far right the far end of a line is.
    fn leads_to(&self, end: LineEnd) -> f64 {
        match self.joint(end.far()) {
            Joint::Head(head) => self.places[head].0 + self.places[head].1 / 2.0,
            Joint::Node(far) => self.columns[self.nodes[far].column].x,
        }
    }

    /// A line of a node that neither comes from above nor goes straight on below.
    fn is_sideways(&self, node: usize, end: LineEnd) -> bool {
        self.nodes[node].up != Some(end) && self.straight_line(node) != Some(end)
    }

    /// The line that leaves a node straight below: to the next of its column, else the first there is.
    fn straight_line(&self, node: usize) -> Option<LineEnd> {
        let column = self.columns.get(self.nodes[node].column)?;
        let position = column.nodes.iter().position(|one| *one == node)?;
        if let Some(next) = column.nodes.get(position + 1) {
            return self.nodes[*next].up.map(LineEnd::far);
        }
        self.ends_at(Joint::Node(node))
            .filter(|end| self.nodes[node].up != Some(*end))
            .find(|end| !self.turns_off(node, *end))
    }

    /// How high the layers stand, and which track each line turns on.
    fn levels(&self, most: f64) -> Levels {
        let layers = self.nodes.iter().map(|node| node.layer + 1).max().unwrap_or(1);
        // Which channel each line turns in, and where along.
        let mut channels: Vec<Vec<(usize, f64, f64)>> = vec![Vec::new(); layers];
        for index in (0..self.joinings.len()).filter(|index| !self.is_direct(*index)) {
            let ends = [0, 1].map(|end| LineEnd { line: index, end });
            let leaves = ends.iter().filter_map(|end| match self.joint(*end) {
                Joint::Node(node) if self.nodes[node].up != Some(*end) => Some(self.nodes[node].layer),
                _ => None,
            });
            let channel = leaves.max().unwrap_or(layers - 1);
            let xs = ends.map(|end| self.x_of(end));
            if let Some(lines) = channels.get_mut(channel) {
                lines.push((index, xs[0].min(xs[1]), xs[0].max(xs[1])));
            }
        }
        // Lines whose spans do not meet share a track.
        let mut track_of: BTreeMap<usize, (usize, usize)> = BTreeMap::new();
        let mut tracks: Vec<usize> = Vec::new();
        for (channel, lines) in channels.iter_mut().enumerate() {
            lines.sort_by(|a, b| (a.2 - a.1).total_cmp(&(b.2 - b.1)).reverse());
            let mut ends: Vec<Vec<(f64, f64)>> = Vec::new();
            for (line, from, to) in lines.iter() {
                let free =
                    |track: &Vec<(f64, f64)>| track.iter().all(|(a, b)| *to + 3.0 < *a || *from > *b + 3.0);
                let track = ends.iter().position(free).unwrap_or_else(|| {
                    ends.push(Vec::new());
                    ends.len() - 1
                });
                ends[track].push((*from, *to));
                track_of.insert(*line, (channel, track));
            }
            tracks.push(ends.len());
        }
        let whole: usize = tracks.iter().sum();
        // What each layer needs over and under its middle, and what it gets where there is room.
        let least: Vec<f64> = (0..layers).map(|layer| self.least_half(layer)).collect();
        let fixed = 6.0 + 9.0;
        let tracks_room = whole as f64 * 2.6;
        let (tight, roomy) = (2.0 * least.iter().sum::<f64>(), 14.0 * layers as f64);
        let share = ((most - fixed - tracks_room - tight) / (roomy - tight).max(1e-9)).clamp(0.0, 1.0);
        let halves: Vec<f64> = least.iter().map(|least| least + (7.0 - least) * share).collect();
        let symbols = 2.0 * halves.iter().sum::<f64>() + fixed;
        let track = if whole == 0 { TRACK } else { ((most - symbols) / whole as f64).clamp(2.6, 7.0) };
        let mut layer_y = Vec::new();
        let mut channel_y = Vec::new();
        let mut y = self.room.max.y - 9.0;
        for (layer, half) in halves.iter().enumerate() {
            layer_y.push(y);
            y -= half;
            channel_y.push(y);
            y -= tracks.get(layer).copied().unwrap_or(0) as f64 * track;
            y -= half;
        }
        let track_y = track_of
            .into_iter()
            .map(|(line, (channel, number))| (line, channel_y[channel] - number as f64 * track))
            .collect();
        Levels { layer_y, track_y, head_y: y - ABOVE_HEAD, height: self.room.max.y - y + 6.0 }
    }

    /// Draws it from the top of the room down.
    fn draw(&self, draft: &mut Draft<'a>, most: f64) {
        let levels = self.levels(most);
        self.draw_heads(draft, levels.head_y);
        let start = draft.page.marks.len();
        for (index, joining) in self.joinings.iter().enumerate() {
            draft.subject = Some(joining.subject);
            wire(draft, PaperLayer::Hose, &self.way(index, &levels), HOSE);
            for end in [0, 1].map(|end| LineEnd { line: index, end }) {
                if let Some(x) = self.head_ports.get(&end) {
                    dot(draft, PaperLayer::Hose, Point2::new(*x, levels.head_y));
                }
            }
            draft.subject = None;
        }
        let mut places = Places::default();
        self.draw_nodes(draft, &levels.layer_y, &mut places);
        self.names(draft, start, &mut places);
    }

    /// The least that a layer takes over and under its middle: its highest symbol and a little air.
    fn least_half(&self, layer: usize) -> f64 {
        let halves = self.nodes.iter().filter(|node| node.layer == layer).map(|node| match &node.kind {
            Kind::Part(_, item) if is_dot(item) => 2.6,
            Kind::Loose | Kind::Away(..) => 3.4,
            Kind::Pump | Kind::Part(..) => 5.2,
        });
        halves.fold(2.6, f64::max)
    }

    /// Straight from a node to the next of its column.
    fn is_direct(&self, line: usize) -> bool {
        [0, 1].map(|end| LineEnd { line, end }).into_iter().any(|end| {
            let (Joint::Node(parent), Joint::Node(child)) = (self.joint(end), self.joint(end.far())) else {
                return false;
            };
            self.nodes[parent].column == self.nodes[child].column
                && self.nodes[child].up == Some(end.far())
                && self.straight_line(parent) == Some(end)
        })
    }

    fn x_of(&self, end: LineEnd) -> f64 {
        match self.joint(end) {
            Joint::Head(head) => self.head_ports.get(&end).copied().unwrap_or(self.places[head].0),
            Joint::Node(node) => {
                let column = &self.columns[self.nodes[node].column];
                if !self.is_sideways(node, end) {
                    return column.x;
                }
                // Counted over the whole column, so that no two lines of it share an x.
                let before: usize = column
                    .nodes
                    .iter()
                    .take_while(|one| **one != node)
                    .map(|one| self.nodes[*one].sideways)
                    .sum();
                let lines = self.sideways_lines(node);
                let own = lines.iter().position(|line| *line == end).unwrap_or(0);
                // One line leaves to the side it leads to; a second one on the other, so that it does not lie on it.
                let right = if lines.len() == 1 { self.leads_to(end) >= column.x } else { own % 2 == 0 };
                let away = column.beside + 2.5 * before as f64 + 1.25 * own as f64;
                if right { column.x + away } else { column.x - away }
            }
        }
    }

    /// The corners of a line.
    fn way(&self, line: usize, levels: &Levels) -> Vec<Point2> {
        let track = levels.track_y.get(&line).copied().unwrap_or(0.0);
        let mut halves = [0, 1].map(|end| LineEnd { line, end }).map(|end| {
            let x = self.x_of(end);
            match self.joint(end) {
                Joint::Head(_) => vec![Point2::new(x, levels.head_y), Point2::new(x, track)],
                Joint::Node(node) => {
                    let from = self.exit(node, end, levels.layer_y[self.nodes[node].layer]);
                    vec![from, Point2::new(x, from.y), Point2::new(x, track)]
                }
            }
        });
        if self.is_direct(line) {
            return vec![halves[0][0], halves[1][0]];
        }
        halves[1].reverse();
        halves.concat()
    }

    /// From the middle of a node to where a line ends on its symbol.
    fn half(&self, node: usize, above: bool) -> f64 {
        match &self.nodes[node].kind {
            Kind::Pump => 4.0,
            Kind::Part(_, item) => match item.facts().schematic {
                SchematicForm::Dot => 0.0,
                SchematicForm::Symbol { .. } => half_of(item),
                SchematicForm::Header | SchematicForm::Stroke => HALF_IN_LINE,
            },
            Kind::Loose | Kind::Away(..) => {
                if above {
                    2.2
                } else {
                    -2.2
                }
            }
        }
    }

    /// Where a line ends on a part: at a tee's dot, or above or below a symbol, by its port.
    fn exit(&self, node: usize, end: LineEnd, y: f64) -> Point2 {
        let upper = self.is_upper(node, end);
        let half = self.half(node, upper);
        Point2::new(self.columns[self.nodes[node].column].x, if upper { y + half } else { y - half })
    }

    fn draw_nodes(&self, draft: &mut Draft<'a>, layer_y: &[f64], places: &mut Places) {
        for (index, node) in self.nodes.iter().enumerate() {
            let at = Point2::new(self.columns[node.column].x, layer_y[node.layer]);
            let up = node.up.is_some();
            match &node.kind {
                Kind::Pump => pump(draft, at),
                Kind::Part(part, item) => {
                    draft.subject = Some(Subject::Part(part.id));
                    if is_dot(item) {
                        dot(draft, PaperLayer::Hose, at);
                    } else {
                        let middle = if up || item.facts().schematic != SchematicForm::Stroke {
                            at
                        } else {
                            Point2::new(at.x, at.y - 8.0)
                        };
                        part_symbol(draft, item, middle, part.shut);
                    }
                    draft.subject = None;
                }
                Kind::Loose => {
                    let y = if up { at.y + 1.3 } else { at.y + 1.3 + 1.8 };
                    draft.circle(PaperLayer::Part, Point2::new(at.x, y), 0.9, NARROW, Some(Shade::PAPER));
                }
                Kind::Away(tag, sheet) => {
                    let end = Point2::new(at.x, at.y + 2.2);
                    if *sheet == 0 && up {
                        hose_flag(draft, end, tag);
                    } else if *sheet == 0 {
                        hose_flag_above(draft, end, tag);
                    } else {
                        places.keep_clear(flag(draft, end, tag, *sheet, !up));
                    }
                }
            }
            // More than one line at a side of a symbol: a dot says that they are connected.
            if !matches!(&node.kind, Kind::Part(_, item) if is_dot(item)) {
                let exits: Vec<Point2> =
                    self.ends_at(Joint::Node(index)).map(|end| self.exit(index, end, at.y)).collect();
                for (place, exit) in exits.iter().enumerate() {
                    if exits[..place].contains(exit) {
                        dot(draft, PaperLayer::Hose, *exit);
                    }
                }
            }
        }
    }

    fn draw_heads(&self, draft: &mut Draft<'a>, y: f64) {
        for (index, head) in self.heads.iter().enumerate() {
            let (left, width) = self.places[index];
            match self.form {
                Form::Whole => {
                    let depth = (y - self.room.min.y - 12.0).clamp(ROW_DEPTH * 0.8, ROW_DEPTH + 45.0);
                    let mut rows = Rows { source: self.source, draft, depth, places: None };
                    rows.head(head, left, y);
                }
                Form::Short { places, .. } => {
                    let Some((part, item)) = head.part else { continue };
                    let (from, to) = (left + HEAD_ROOM / 2.0 - 2.0, left + width - HEAD_ROOM / 2.0 + 2.0);
                    draft.subject = Some(Subject::Part(part.id));
                    wire(draft, PaperLayer::Hose, &[Point2::new(from, y), Point2::new(to, y)], HOSE);
                    let x = f64::midpoint(from, to);
                    wire(draft, PaperLayer::Hose, &[Point2::new(x, y), Point2::new(x, y - 8.0)], HOSE);
                    dot(draft, PaperLayer::Hose, Point2::new(x, y));
                    draft.subject = None;
                    frame_of_head(self.source, draft, part, &item, (from, to), y);
                    let sheet = places.rows.get(&part.id).copied().unwrap_or(0);
                    flag(draft, Point2::new(x, y - 8.0), &part.tag, sheet, false);
                    let rows = rows_of(self.source, part.id);
                    let style = Style::plain(PaperLayer::Words, SMALL).centred();
                    let mut lines = Vec::new();
                    if !rows.is_empty() {
                        lines = draft.wrapped(&format!("rows {}", ranges(&rows)), style, width - 2.0);
                    }
                    lines.extend(pressure_words(self.source, part.id));
                    for (line, words) in lines.iter().enumerate() {
                        let at = Point2::new(x, y - 15.5 - line as f64 * SMALL * LINE_FEED);
                        draft.words(at, words, style);
                    }
                }
            }
        }
        for (part, x) in &self.closed {
            draft.subject = Some(Subject::Part(*part));
            // A sign and no wire: nothing flows there.
            sign(draft, &[(0.0, 0.0), (0.0, 3.2)], Point2::new(*x, y));
            plug(draft, Point2::new(*x, y + 3.2));
            draft.subject = None;
        }
        for (part, x) in &self.open {
            draft.subject = Some(Subject::Part(*part));
            sign(draft, &[(0.0, 0.0), (0.0, 3.2)], Point2::new(*x, y));
            draft.circle(PaperLayer::Part, Point2::new(*x, y + 4.1), 0.9, NARROW, Some(Shade::PAPER));
            draft.subject = None;
        }
        for (_, part, x) in &self.mounted {
            draft.subject = Some(Subject::Part(part.id));
            let top = Point2::new(*x, y + 8.5);
            wire(draft, PaperLayer::Hose, &[Point2::new(*x, y), top], TUBE);
            dot(draft, PaperLayer::Hose, Point2::new(*x, y));
            let item = self.source.project.catalogue.item(&part.entry);
            let is_gauge = item.is_some_and(|item| item.facts().reading == Some(Reading::Pressure));
            on_line_end(draft, item, top, true);
            draft.subject = None;
            let style = Style::plain(PaperLayer::Words, SMALL);
            let mut words = part.tag.clone();
            let pressure = self.source.outcome.and_then(|outcome| outcome.part(part.id)?.pressure);
            if let Some(pressure) = pressure.filter(|_| is_gauge) {
                words = format!("{words} {}", Measure::Pressure.text(pressure.si(), self.source.units));
            }
            let at = if is_gauge { Point2::new(*x + 3.8, top.y + 3.6) } else { Point2::new(*x + 2.4, top.y) };
            draft.words(at, &words, style);
        }
    }

    /// Tags of parts and hoses where nothing else stands.
    fn names(&self, draft: &mut Draft<'a>, start: usize, places: &mut Places) {
        let window = self.room.grown(4.0);
        for mark in &draft.page.marks {
            match (&mark.kind, mark.layer) {
                (MarkKind::Line { points, .. }, PaperLayer::Hose | PaperLayer::Tube) => places.avoid(points),
                (MarkKind::Words(words), _) => places.keep_clear(words.bounds()),
                (kind, PaperLayer::Part) => places.keep_clear(kind.bounds()),
                (MarkKind::Circle { .. }, _) => places.keep_clear(mark.kind.bounds()),
                _ => {}
            }
        }
        let height = SMALL * 1.3;
        let style = Style::plain(PaperLayer::Words, SMALL);
        for node in &self.nodes {
            let (words, subject, bold) = match &node.kind {
                Kind::Pump => ("pump".to_owned(), None, false),
                Kind::Part(part, item) => {
                    let size = item.size(self.source.units);
                    let shut = if part.shut { ", shut" } else { "" };
                    (
                        format!("{} {size}{shut}", part.tag).trim().to_owned(),
                        Some(Subject::Part(part.id)),
                        true,
                    )
                }
                Kind::Loose => ("loose end".to_owned(), None, false),
                Kind::Away(..) => continue,
            };
            let x = self.columns[node.column].x;
            let marks = draft.page.marks[start..].iter();
            let own = marks.filter(|mark| {
                mark.subject == subject
                    && (mark.layer == PaperLayer::Part || matches!(mark.kind, MarkKind::Circle { .. }))
            });
            let boxes =
                own.map(|mark| mark.kind.bounds()).filter(|bounds| (bounds.centre().x - x).abs() < 6.0);
            let bounds = Bounds::around(boxes.flat_map(|bounds| [bounds.min, bounds.max]));
            if bounds.is_empty() {
                continue;
            }
            let style = if bold { style.bold() } else { style };
            let width = draft.width_of(&words, style);
            let mut candidates = Vec::new();
            for away in [1.0, 2.0, 3.5, 6.0] {
                let middle = bounds.centre().y - height / 2.0;
                for y in [middle, middle + 2.5, middle - 2.5] {
                    candidates.push(sized(bounds.min.x - away - width, y, width, height));
                    candidates.push(sized(bounds.max.x + away, y, width, height));
                }
            }
            let name = places.place(&candidates, &window).map(|(index, _)| candidates[index]);
            if let Some(bounds) = name {
                draft.words(Point2::new(bounds.min.x, bounds.min.y + SMALL * 0.3), &words, style);
            }
            if let Some(number) = subject.and_then(|_| match &node.kind {
                Kind::Part(part, _) => self.source.items.get(&part.entry),
                _ => None,
            }) {
                let mut candidates = Vec::new();
                for (dx, dy) in [
                    (9.0, 0.0),
                    (-9.0, 0.0),
                    (9.0, 6.0),
                    (-9.0, 6.0),
                    (9.0, -6.0),
                    (-9.0, -6.0),
                    (14.0, 0.0),
                    (-14.0, 0.0),
                    (18.0, 5.0),
                    (-18.0, 5.0),
                ] {
                    let at = Point2::new(bounds.centre().x + dx, bounds.centre().y + dy);
                    // No leader runs through the part's own name.
                    let leader = [at, bounds.centre()];
                    if name.is_none_or(|name| clip_line(&leader, &name).is_empty()) {
                        candidates.push(Bounds { min: at, max: at }.grown(4.0));
                    }
                }
                if let Some((index, crosses)) = places.place(&candidates, &window)
                    && !crosses
                {
                    let centre = candidates[index].centre();
                    let target = bounds.centre();
                    let away = centre.distance(target).max(1e-9);
                    let edge = Point2::new(
                        centre.x + (target.x - centre.x) / away * 4.0,
                        centre.y + (target.y - centre.y) / away * 4.0,
                    );
                    let rim = 1.0_f64.max(bounds.width() / 2.0);
                    let to = Point2::new(
                        target.x + (centre.x - target.x) / away * rim,
                        target.y + (centre.y - target.y) / away * rim,
                    );
                    draft.line(PaperLayer::Notes, &[edge, to], NARROW, Dash::Solid);
                    balloon(draft, centre, *number);
                }
            }
        }
        for joining in &self.joinings {
            let Some(run) = joining.run else { continue };
            let pieces: Vec<Vec<Point2>> = draft
                .page
                .marks
                .iter()
                .filter(|mark| mark.subject == Some(Subject::Run(run.id)) && mark.layer == PaperLayer::Hose)
                .filter_map(|mark| {
                    if let MarkKind::Line { points, .. } = &mark.kind { Some(points.clone()) } else { None }
                })
                .collect();
            let words = hose_words(self.source, run);
            let width = draft.width_of(&words, style);
            let candidates = along(&pieces, width, height, 0.6);
            let boxes: Vec<Bounds> = candidates.iter().map(|(bounds, _)| *bounds).collect();
            let Some((index, crosses)) = places.place(&boxes, &window) else { continue };
            let (bounds, upright) = candidates[index];
            if crosses {
                draft.area(PaperLayer::Words, &bounds.grown(0.1), 0.0, Some(Shade::PAPER));
            }
            if upright {
                draft.words_up(Point2::new(bounds.max.x - SMALL * 0.3, bounds.min.y), &words, style);
            } else {
                draft.words(Point2::new(bounds.min.x, bounds.min.y + SMALL * 0.3), &words, style);
            }
        }
    }
}

fn rows_of(source: &SheetSource, manifold: PartId) -> Vec<u32> {
    let feeds =
        source.routing.feeds.iter().filter(|feed| feed.from.port().is_some_and(|port| port.part == manifold));
    let number = |row: RowId| source.project.bar.row(row).map(|row| row.number);
    let mut rows: Vec<u32> =
        feeds.flat_map(|feed| &feed.branches).filter_map(|branch| number(branch.row)).collect();
    rows.sort_unstable();
    rows
}

/// Two lines of hoses or tubes cross on the sheet, away from their ends.
fn crossing(draft: &Draft) -> bool {
    let mut pieces: Vec<(Point2, Point2)> = Vec::new();
    for mark in &draft.page.marks {
        if let (MarkKind::Line { points, .. }, PaperLayer::Hose | PaperLayer::Tube) = (&mark.kind, mark.layer)
        {
            pieces.extend(points.windows(2).map(|pair| (pair[0], pair[1])));
        }
    }
    let level = |(a, b): &&(Point2, Point2)| (a.y - b.y).abs() < 1e-9;
    let inside = |value: f64, a: f64, b: f64| value > a.min(b) + 0.1 && value < a.max(b) - 0.1;
    pieces.iter().filter(level).any(|(a, b)| {
        let upright = pieces.iter().filter(|piece| (piece.0.x - piece.1.x).abs() < 1e-9);
        upright.into_iter().any(|(c, d)| inside(c.x, a.x, b.x) && inside(a.y, c.y, d.y))
    })
}

/// A sign of the legend.
enum LegendSign {
    Connection,
    Crossing,
    Pump,
    /// A part, perhaps shut.
    Part(PartItem, bool),
    Plug,
    Element(ElementSymbol),
    RowOutlet,
}

impl LegendSign {
    fn name(&self) -> &'static str {
        match self {
            Self::Connection => "connected",
            Self::Crossing => "crossing, not connected",
            Self::Pump => "pump",
            Self::Part(item, shut) => match item.facts().schematic {
                SchematicForm::Symbol { legend, legend_shut } => {
                    legend_shut.filter(|_| *shut).unwrap_or(legend)
                }
                // They have no symbol of their own.
                SchematicForm::Dot | SchematicForm::Header | SchematicForm::Stroke => "",
            },
            Self::Plug => "plugged",
            Self::Element(symbol) => symbol.legend,
            Self::RowOutlet => "row outlet",
        }
    }

    /// About a point.
    fn draw(&self, draft: &mut Draft, at: Point2) {
        match self {
            Self::Connection => {
                sign(draft, &[(-3.0, 0.0), (3.0, 0.0)], at);
                sign(draft, &[(0.0, 0.0), (0.0, -2.4)], at);
                dot(draft, PaperLayer::Sheet, at);
            }
            Self::Crossing => {
                sign(draft, &[(-3.0, 0.0), (3.0, 0.0)], at);
                sign(draft, &[(0.0, 2.4), (0.0, -2.4)], at);
            }
            Self::Pump => {
                draft.circle(PaperLayer::Part, at, 2.6, MIDDLE, Some(Shade::PAPER));
                closed(draft, &[(0.0, -2.6), (-1.3, -0.4), (1.3, -0.4)], at, Shade::INK);
            }
            Self::Part(item, shut) => {
                let along = Point2::new(1.0, 0.0);
                let stand = Stand { at, scale: HALF_IN_LEGEND, along, shut: *shut };
                symbol_marks(draft, &item.symbol().marks, &stand);
            }
            Self::Plug => {
                sign(draft, &[(0.0, -2.0), (0.0, 1.0)], at);
                plug(draft, Point2::new(at.x, at.y + 1.0));
            }
            Self::Element(symbol) => {
                let half = symbol.schematic_length / 2.0;
                element_symbol(draft, symbol, Point2::new(at.x, at.y + half));
            }
            Self::RowOutlet => closed(draft, &[(-1.6, 1.2), (1.6, 1.2), (0.0, -1.6)], at, Shade::PAPER),
        }
    }
}

/// The signs that a sheet holds.
fn signs_of(source: &SheetSource, draft: &Draft) -> Vec<LegendSign> {
    let (project, routing) = (source.project, source.routing);
    let drawn: Vec<Subject> = draft
        .page
        .marks
        .iter()
        .filter(|mark| mark.layer == PaperLayer::Part)
        .filter_map(|mark| mark.subject)
        .collect();
    let mut signs = Vec::new();
    let noted = |sign| draft.signs.contains(&sign);
    if noted(Sign::Connection) {
        signs.push(LegendSign::Connection);
    }
    if crossing(draft) {
        signs.push(LegendSign::Crossing);
    }
    if noted(Sign::Pump) {
        signs.push(LegendSign::Pump);
    }
    // Of each kind the first, open and shut apart.
    let mut parts: BTreeMap<(u8, bool), PartItem> = BTreeMap::new();
    for part in routing.parts.iter().filter(|part| drawn.contains(&Subject::Part(part.id))) {
        let Some(item) = project.catalogue.item(&part.entry) else { continue };
        if let SchematicForm::Symbol { legend_shut, .. } = item.facts().schematic {
            let shut = part.shut && legend_shut.is_some();
            parts.entry((item.facts().kind.list_order, shut)).or_insert(*item);
        }
    }
    signs.extend(parts.into_iter().map(|((_, shut), item)| LegendSign::Part(item, shut)));
    if noted(Sign::Plug) {
        signs.push(LegendSign::Plug);
    }
    let rows = || routing.feeds.iter().filter(|feed| drawn.contains(&Subject::Feed(feed.id)));
    let kinds: BTreeMap<u8, ItemKind> = rows()
        .flat_map(RowFeed::elements)
        .map(|element| (element.item_kind().common().list_order, element.item_kind()))
        .collect();
    signs.extend(kinds.into_values().filter_map(ItemKind::feed_symbol).map(LegendSign::Element));
    if rows().next().is_some() {
        signs.push(LegendSign::RowOutlet);
    }
    signs
}

/// The signs and what they mean.
fn legend(source: &SheetSource, draft: &mut Draft, area: &Bounds) {
    let signs = signs_of(source, draft);
    let top = area.min.y + LEGEND;
    let layer = PaperLayer::Sheet;
    draft.line(layer, &[Point2::new(area.min.x, top), Point2::new(area.max.x, top)], NARROW, Dash::Solid);
    let style = Style::plain(layer, SMALL);
    let (left, right) = (area.min.x + 5.0, area.max.x - 3.0);
    let mut at = Point2::new(left, area.min.y + LEGEND * 0.75);
    draft.words(Point2::new(at.x, at.y - SMALL / 2.0), "Legend", style.bold());
    at.x += draft.width_of("Legend", style.bold()) + 4.0;
    let start = draft.page.marks.len();
    let step = LEGEND / 2.0;
    for own in signs {
        let name = own.name();
        let size = 8.0 + draft.width_of(name, style) + 5.0;
        if at.x + size > right {
            at = Point2::new(left, at.y - step);
        }
        own.draw(draft, Point2::new(at.x + 3.5, at.y));
        draft.words(Point2::new(at.x + 8.0, at.y - SMALL / 2.0), name, style);
        at.x += size;
    }
    let says = if draft.signs.contains(&Sign::GoesOn) {
        "Ø bores are inside diameters; lengths with slack; a flag goes on at the same flag on the sheet it names"
    } else {
        "Ø bores are inside diameters; lengths with slack"
    };
    let size = draft.width_of(says, style);
    if at.x + size > right {
        at = Point2::new(left, at.y - step);
    }
    draft.words(Point2::new(at.x, at.y - SMALL / 2.0), says, style.shade(Shade::SOFT));
    for mark in &mut draft.page.marks[start..] {
        mark.layer = PaperLayer::Sheet;
    }
}
