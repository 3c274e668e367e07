//! The manifolds with the ways down from them, and the sheets they stand on.

use std::collections::BTreeMap;

use crate::drawing::sheet_source::SheetSource;
use crate::plan::{
    End, FeedId, Manifold, ManifoldInlet, Part, PartId, PartItem, Port, PortRef, RowFeed, RowId, Run,
};

/// Width of the column of a row.
pub(super) const COLUMN: f64 = 8.0;

/// From a manifold's line to the ends of its rows.
pub(super) const ROW_DEPTH: f64 = 66.0;

/// Below the ends of the rows: their numbers and flows.
pub(super) const BELOW_ROWS: f64 = 17.0;

/// What a manifold takes beside its columns.
pub(super) const HEAD_ROOM: f64 = 16.0;

/// Width of a manifold whose rows are on another sheet.
pub(super) const SHORT_HEAD: f64 = 34.0;

/// From a manifold's line to what stands on its ports.
pub(super) const ABOVE_HEAD: f64 = 20.0;

/// One way down from a manifold, or from wherever a feed starts.
#[derive(Debug, Clone)]
pub(super) enum Tap<'a> {
    Feed(&'a RowFeed),
    Mounted(&'a Part),
    /// A hose, which goes on at a flag.
    Hose(&'a Run),
    Open,
}

impl Tap<'_> {
    pub(super) fn columns(&self) -> usize {
        if let Tap::Feed(feed) = self { feed.branches.len().max(1) } else { 1 }
    }
}

/// A manifold with its taps, or a feed that hangs on something else.
#[derive(Debug, Clone)]
pub(super) struct Head<'a> {
    pub(super) part: Option<(&'a Part, PartItem)>,
    /// The outlet, or none for a feed that is on no manifold.
    pub(super) taps: Vec<(Option<u16>, Tap<'a>)>,
    /// Where it is on the bar, for the order.
    pub(super) x: f64,
}

impl Head<'_> {
    pub(super) fn is(&self, part: PartId) -> bool {
        self.part.is_some_and(|(one, _)| one.id == part)
    }

    pub(super) fn columns(&self) -> usize {
        self.taps.iter().map(|(_, tap)| tap.columns()).sum()
    }

    pub(super) fn width(&self) -> f64 {
        // What stands on its three ports needs as much room as three rows.
        self.columns().max(if self.part.is_some() { 3 } else { 1 }) as f64 * COLUMN + HEAD_ROOM
    }
}

/// What stands on one sheet of the upper half.
pub(super) struct Group<'a> {
    pub(super) heads: Vec<Head<'a>>,
    /// All other parts, with what is screwed onto them.
    pub(super) parts: Vec<PartId>,
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

/// So many manifolds a sheet, each with the parts that are nearest to it on the bar.
pub(super) fn groups<'a>(source: &SheetSource<'a>, heads: &[Head<'a>], a_sheet: usize) -> Vec<Group<'a>> {
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
    pub(super) fn halves(&self, source: &SheetSource<'a>) -> Option<[Self; 2]> {
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
pub(super) struct SheetPlaces {
    /// Of the upper half: each part, manifolds included.
    pub(super) upper: BTreeMap<PartId, usize>,
    /// The rows of each manifold.
    pub(super) rows: BTreeMap<PartId, usize>,
    /// Feeds that are on no manifold's outlet.
    pub(super) feeds: BTreeMap<FeedId, usize>,
    /// The sheet of what the hose from the pump leads to: the pump is on it, and what hangs on nothing.
    pub(super) lead: usize,
}

impl SheetPlaces {
    pub(super) fn new(source: &SheetSource, groups: &[Group], bands: &[&[Vec<&Head>]], first: usize) -> Self {
        let mut places =
            Self { upper: BTreeMap::new(), rows: BTreeMap::new(), feeds: BTreeMap::new(), lead: first };
        for (index, group) in groups.iter().enumerate() {
            let heads = group.heads.iter().filter_map(|head| Some(head.part?.0.id));
            places.upper.extend(heads.chain(group.parts.iter().copied()).map(|id| (id, first + index)));
        }
        let mut far_ends = source.routing.runs.iter().filter_map(|run| match (run.from, run.to) {
            (End::Supply, far) | (far, End::Supply) => far.port(),
            _ => None,
        });
        places.lead = far_ends.find_map(|far| places.upper.get(&far.part).copied()).unwrap_or(first);
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
    pub(super) fn of_end(&self, end: &End) -> usize {
        let sheet = match end {
            End::Port(PortRef { part, port: Port::Outlet(_) }) => self.rows.get(part),
            End::Port(port) => self.upper.get(&port.part),
            End::Supply | End::Loose(_) => None,
        };
        sheet.copied().unwrap_or(self.lead)
    }
}

/// Where liquid comes into a manifold drawn with its taps: between two of them in the middle, or at its left end.
pub(super) fn inlet_at(head: &Head, from: f64, to: f64) -> f64 {
    if let Some((_, PartItem::Manifold(Manifold { inlet: ManifoldInlet::End, .. }))) = head.part {
        return from;
    }
    let taps = from + 2.0;
    taps + ((f64::midpoint(from, to) - taps) / COLUMN + 1e-9).floor() * COLUMN
}

/// The manifolds from left to right, then feeds that are on none.
pub(super) fn heads<'a>(source: &SheetSource<'a>) -> Vec<Head<'a>> {
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
pub(super) fn parts_of_head<'a>(head: &Head<'a>, room: f64) -> Vec<Head<'a>> {
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

pub(super) fn rows_of(source: &SheetSource, manifold: PartId) -> Vec<u32> {
    let feeds =
        source.routing.feeds.iter().filter(|feed| feed.from.port().is_some_and(|port| port.part == manifold));
    let number = |row: RowId| source.project.bar.row(row).map(|row| row.number);
    let mut rows: Vec<u32> =
        feeds.flat_map(|feed| &feed.branches).filter_map(|branch| number(branch.row)).collect();
    rows.sort_unstable();
    rows
}
