//! From a manifold's line down to its rows.

use super::heads::{COLUMN, HEAD_ROOM, Head, SheetPlaces, Tap};
use super::signs::{HOSE, TUBE, Tagged, dot, element_height, element_symbol, on_line_end, wire};
use crate::drawing::Subject;
use crate::drawing::paper::{
    Anchor, LARGE, MIDDLE, MarkKind, NARROW, NotedSign, PageDraft, PaperLayer, Shade, Style, USUAL, sized,
};
use crate::drawing::scene::Dash;
use crate::drawing::sheet_source::{SheetSource, balloon};
use crate::geometry::{Bounds, Point2};
use crate::plan::cutting::cut_length;
use crate::plan::words::counted;
use crate::plan::{
    Branch, ElementGeometry, End, FeedElement, Item, Manifold, Part, PartId, PartItem, Port, RowFeed, Run,
};
use crate::quantities::Measure;

pub(super) struct Rows<'s, 'd, 'a> {
    pub(super) source: &'s SheetSource<'a>,
    pub(super) draft: &'d mut PageDraft<'a>,
    /// From the manifold's line to the ends of the rows.
    pub(super) depth: f64,
    /// Which sheets hold what, where there are several.
    pub(super) places: Option<&'s SheetPlaces>,
}

impl Rows<'_, '_, '_> {
    /// A manifold with its rows, from its left edge, with lines from above at these places.
    pub(super) fn head(&mut self, head: &Head, left: f64, y: f64, above: &[f64]) {
        let from = left + HEAD_ROOM / 2.0 - 2.0;
        let to = left + head.width() - HEAD_ROOM / 2.0 + 2.0;
        if let Some((part, item)) = head.part {
            self.draft.subject = Some(Subject::Part(part.id));
            wire(self.draft, PaperLayer::Hose, &[Point2::new(from, y), Point2::new(to, y)], HOSE);
            self.draft.subject = None;
            frame_of_head(self.source, self.draft, part, &item, (from, to), y, above);
        }
        let mut x = left + HEAD_ROOM / 2.0 + COLUMN / 2.0;
        for (number, tap) in &head.taps {
            self.tap(*number, tap, Point2::new(x, y));
            x += COLUMN * tap.columns() as f64;
        }
    }

    fn tap(&mut self, number: Option<u16>, tap: &Tap, at: Point2) {
        let small = Style::plain(PaperLayer::Words, USUAL);
        if let Some(number) = number {
            dot(self.draft, PaperLayer::Tube, at);
            self.draft.words(Point2::new(at.x + 0.7, at.y - 3.2), &number.to_string(), small);
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
                let style = Style::plain(PaperLayer::Words, USUAL).anchor(Anchor::Right);
                self.draft.words_up(Point2::new(at.x + USUAL / 2.0, end.y - 8.6), &part.tag, style);
            }
            Tap::Hose(run) => {
                let end = Point2::new(at.x, at.y - 9.0);
                self.draft.subject = Some(Subject::Run(run.id));
                wire(self.draft, PaperLayer::Tube, &[at, end], TUBE);
                self.draft.subject = None;
                let style = Style::plain(PaperLayer::Words, USUAL).anchor(Anchor::Right);
                hose_flag(self.draft, end, &run.tag);
                let mut words = format!("{}: {}", run.tag, hose_words(self.source, run));
                if let Some(places) = self.places {
                    let far = if number.is_some_and(|number| outlet_of(&run.from, number)) {
                        run.to
                    } else {
                        run.from
                    };
                    self.draft.signs.insert(NotedSign::GoesOn);
                    words = format!("{words}, sheet {}", places.of_end(&far));
                }
                self.draft.words_up(Point2::new(at.x + USUAL / 2.0, end.y - 5.0), &words, style);
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
                let style = Style::plain(PaperLayer::Words, USUAL).anchor(Anchor::Right);
                self.draft.words_up(Point2::new(at.x + USUAL / 2.0, end.y - 3.0), "open", style);
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
                End::Port(port) => {
                    routing.part(port.part).map(|part| routing.geometry.anchors.port_words(&part.tag, port))
                }
                End::Loose(_) => None,
            };
            let says = if let Some(on) = on {
                hose_flag_above(self.draft, at, &feed.tag);
                match self.places {
                    Some(places) => {
                        self.draft.signs.insert(NotedSign::GoesOn);
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
            let style = Style::plain(PaperLayer::Words, USUAL);
            self.draft.words_up(Point2::new(at.x + USUAL / 2.0, at.y + 5.0), &says, style);
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
    pub(super) fn column(
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
                let bore = self.source.diameters(&tube.line.stock);
                let length =
                    laid.get(index).and_then(|laid| laid.tube.as_ref()).map_or_else(String::new, |tube| {
                        Measure::CutLength.short_text(tube.cut(self.source.project).si(), units)
                    });
                let sizes = [bore.as_str(), &length].into_iter().filter(|one| !one.is_empty());
                let sizes = sizes.collect::<Vec<_>>().join(", ");
                // A bore behind a number reads as more of it.
                let words = if tag.is_empty() { sizes } else { format!("{tag}: {sizes}") };
                let style = Style::plain(PaperLayer::Words, USUAL).centred();
                let middle = at.y - long / 2.0;
                self.draft.words_up(Point2::new(at.x - 1.1, middle - 1.0), &words, style);
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
                let style = Style::plain(PaperLayer::Words, USUAL).centred();
                self.draft.words_up(Point2::new(at.x - 2.7, from.y - height / 2.0), &says, style);
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
        let style = Style::plain(PaperLayer::Words, USUAL).centred();
        self.draft.words(Point2::new(at.x, at.y - 6.0), &number.to_string(), style.bold());
        let flow = self.source.outcome.and_then(|outcome| outcome.row(branch.row)).map(|row| row.flow);
        if let Some(flow) = flow {
            let words = Measure::RowFlow.number(flow.si(), self.source.units);
            let below = Point2::new(at.x + USUAL / 2.0, at.y - 7.4);
            self.draft.words_up(below, &words, style.anchor(Anchor::Right));
        }
        self.draft.subject = Some(Subject::Feed(feed.id));
    }
}

/// Height of a flag that goes on on its own sheet.
const FLAG: f64 = 4.0;

/// The flag of a hose whose other end stands elsewhere on this or another sheet, below a line.
pub(super) fn hose_flag(draft: &mut PageDraft, at: Point2, tag: &str) {
    let style = Style::plain(PaperLayer::Words, USUAL).centred();
    let width = draft.width_of(tag, style) + 1.6;
    draft.area(
        PaperLayer::Part,
        &sized(at.x - width / 2.0, at.y - FLAG, width, FLAG),
        NARROW,
        Some(Shade::PAPER),
    );
    draft.words(Point2::new(at.x, at.y - FLAG + 0.8), tag, style);
}

pub(super) fn hose_flag_above(draft: &mut PageDraft, at: Point2, tag: &str) {
    hose_flag(draft, Point2::new(at.x, at.y + FLAG), tag);
}

fn outlet_of(end: &End, number: u16) -> bool {
    end.port().is_some_and(|port| port.port == Port::Outlet(number))
}

/// The tag of a manifold at the left of its frame, with how many outlets it has and its pressure behind it; what has no room there
/// stands in the widest room that the lines from above leave right of the first of them.
fn head_label(
    draft: &mut PageDraft,
    tag: &str,
    outlets: &str,
    pressure: Option<String>,
    (left, right): (f64, f64),
    y: f64,
    above: &[f64],
) {
    // Signs on lines that end there are a little wider than these.
    let clear = 1.2;
    // Behind what stands at its left end, which is its inlet as a rule.
    let starts = left + if above.iter().any(|x| (left..left + 6.4).contains(x)) { 6.4 } else { 1.2 };
    let mut walls: Vec<f64> = above.iter().copied().filter(|x| *x > starts && *x < right).collect();
    walls.sort_by(f64::total_cmp);
    walls.push(right);
    let own = walls[0] - clear - starts;
    let room = walls.windows(2).map(|pair| (pair[0] + clear, pair[1] - clear));
    let (other, other_end) = room.max_by(|a, b| (a.1 - a.0).total_cmp(&(b.1 - b.0))).unwrap_or_default();
    let named = format!("manifold, {outlets}");
    let joined =
        |first: &str| pressure.as_ref().map_or_else(|| first.to_owned(), |one| format!("{first}, {one}"));
    let behind = pressure.clone().unwrap_or_default();
    // Behind the tag, and in the other room.
    let ways = [
        (joined(&named), String::new()),
        (behind.clone(), named.clone()),
        (named.clone(), behind.clone()),
        (joined(outlets), String::new()),
        (behind, outlets.to_owned()),
        (String::new(), named.clone()),
        (named, String::new()),
        (String::new(), outlets.to_owned()),
        (outlets.to_owned(), String::new()),
        (String::new(), String::new()),
    ];
    let plain = Style::plain(PaperLayer::Words, USUAL);
    let fits = |(behind, beside): &&(String, String)| {
        Tagged { tag, behind }.width(draft) <= own
            && (beside.is_empty() || draft.width_of(beside, plain) <= other_end - other)
    };
    let (behind, beside) = ways.iter().find(fits).unwrap_or(&ways[ways.len() - 1]);
    Tagged { tag, behind }.write(draft, &sized(starts, y + 0.7, 0.0, Tagged::HEIGHT), false);
    if !beside.is_empty() {
        draft.words(Point2::new(other, y + 0.7 + LARGE * 0.2), beside, plain);
    }
}

/// The chain-line frame of a manifold with its name; lines come down on it from above at these places.
pub(super) fn frame_of_head(
    source: &SheetSource,
    draft: &mut PageDraft,
    part: &Part,
    item: &PartItem,
    (from, to): (f64, f64),
    y: f64,
    above: &[f64],
) {
    let bounds = Bounds { min: Point2::new(from - 3.0, y - 3.6), max: Point2::new(to + 3.0, y + 5.2) };
    let mut points = crate::drawing::paper::corners(&bounds);
    points.push(points[0]);
    draft.line(PaperLayer::Notes, &points, NARROW, Dash::LongDashDot);
    let outlets = if let PartItem::Manifold(Manifold { outlets, .. }) = item { *outlets } else { 0 };
    let outlets = counted(usize::from(outlets), "outlet");
    head_label(
        draft,
        &part.tag,
        &outlets,
        pressure_words(source, part.id),
        (bounds.min.x, bounds.max.x),
        y,
        above,
    );
    if let Some(number) = source.items.get(&part.entry) {
        let centre = Point2::new(bounds.max.x + 4.0, bounds.max.y + 0.5);
        // Only where there is room beside it.
        if centre.x + 4.0 < source.size.0 - 12.0 {
            balloon(draft, centre, *number);
        }
    }
}

pub(super) fn pressure_words(source: &SheetSource, part: PartId) -> Option<String> {
    let pressure = source.outcome?.part(part)?.pressure?;
    Some(Measure::Pressure.text(pressure.si(), source.units))
}

/// `Ø25 4520 mm`, with the flow where it is asked for.
pub(super) fn hose_words(source: &SheetSource, run: &Run) -> String {
    let units = source.units;
    let bore = source.diameters(&run.line.stock);
    let length = source.routing.geometry.run(run.id).map_or_else(String::new, |laid| {
        format!(" {}", Measure::CutLength.short_text(laid.cut(source.project).si(), units))
    });
    let flow = source.outcome.and_then(|outcome| outcome.run(run.id)?.flow);
    let flow = flow
        .map_or_else(String::new, |flow| format!(", {}", Measure::TotalFlow.text(flow.si().abs(), units)));
    format!("{bore}{length}{flow}")
}
