//! Names of parts and hoses beside them, with sizes and places where they are built from; far off with a leader where
//! there is no room beside, and named in a line of their own where there is none at all.

use std::fmt::Write as _;

use super::letters::{NoRoom, Unnamed};
use super::naming::Order;
use super::sheet_drawing::SheetDrawing;
use crate::drawing::Subject;
use crate::drawing::label_places::{Cover, along};
use crate::drawing::layout_tables::position_words;
use crate::drawing::paper::{
    LARGE, MarkKind, NARROW, PageDraft, PaperLayer, Shade, Style, USUAL, View, sized,
};
use crate::drawing::scene::Dash;
use crate::drawing::sheet_source::SheetSource;
use crate::geometry::{Bounds, Point2};
use crate::plan::kinds::Reading;
use crate::plan::part::place_offset;
use crate::plan::words::list;
use crate::plan::{End, Manifold, Part, PartItem, Port, Run};
use crate::quantities::Measure;

/// Height of a tag (ISO 3098), and of a line with one in it.
const TAG: f64 = LARGE;
const TAG_LINE: f64 = TAG * 1.25;

/// Between a tag and the words behind it.
const BEHIND_TAG: f64 = 1.2;

/// From a line of a label to the next.
const NEXT_LINE: f64 = USUAL * 1.45;

/// What stands beside a part or hose: its tag, words behind it, and lines below.
pub(super) struct LabelWords {
    pub(super) tag: String,
    pub(super) behind: String,
    pub(super) below: Vec<String>,
}

impl LabelWords {
    pub(super) fn in_a_line(&self) -> String {
        let behind = std::iter::once(&self.behind).chain(&self.below).filter(|words| !words.is_empty());
        let behind: Vec<&str> = behind.map(String::as_str).collect();
        format!("{} {}", self.tag, behind.join(", ")).trim_end().to_owned()
    }

    /// Width and height, millimetres.
    pub(super) fn size(&self, source: &SheetSource) -> (f64, f64) {
        let letters = source.letters;
        let behind = if self.behind.is_empty() {
            0.0
        } else {
            BEHIND_TAG + letters.width(&self.behind, false) * USUAL
        };
        let first = letters.width(&self.tag, true) * TAG + behind;
        let below = self.below.iter().map(|line| letters.width(line, false) * USUAL);
        (below.fold(first, f64::max), TAG_LINE + self.below.len() as f64 * NEXT_LINE)
    }

    /// Writes it into its box, reading upwards if it stands along a steep hose.
    pub(super) fn write(&self, draft: &mut PageDraft, bounds: &Bounds, upright: bool) {
        let tag = Style::plain(PaperLayer::Words, TAG).bold();
        let plain = Style::plain(PaperLayer::Words, USUAL);
        let behind = draft.width_of(&self.tag, tag) + BEHIND_TAG;
        if upright {
            let x = bounds.max.x - TAG * 0.2;
            draft.words_up(Point2::new(x, bounds.min.y), &self.tag, tag);
            draft.words_up(Point2::new(x, bounds.min.y + behind), &self.behind, plain);
            return;
        }
        let y = bounds.max.y - TAG * 1.05;
        draft.words(Point2::new(bounds.min.x, y), &self.tag, tag);
        draft.words(Point2::new(bounds.min.x + behind, y), &self.behind, plain);
        for (index, line) in self.below.iter().enumerate() {
            draft.words(Point2::new(bounds.min.x, y - (index + 1) as f64 * NEXT_LINE), line, plain);
        }
    }
}

/// Something with a tag to write beside it.
pub(super) struct PlacedLabel {
    candidates: Vec<(Bounds, bool)>,
    words: LabelWords,
    from: Point2,
    /// Where a leader from far off may end, that point first.
    anchors: Vec<Point2>,
    /// What it belongs to, in boxes: a part's symbol, or the stretches of a hose.
    own: Vec<Bounds>,
    /// Where it is, in words, for whoever finds no name there.
    place: String,
    /// Names a hose; a part otherwise.
    is_hose: bool,
}

/// From box to box, 0 where they meet.
fn gap(a: &Bounds, b: &Bounds) -> f64 {
    let across = (a.min.x - b.max.x).max(b.min.x - a.max.x).max(0.0);
    let along = (a.min.y - b.max.y).max(b.min.y - a.max.y).max(0.0);
    across.hypot(along)
}

impl PlacedLabel {
    /// How far from words in a box to what they name.
    fn away(&self, words: &Bounds) -> f64 {
        self.own.iter().map(|own| gap(own, words)).fold(f64::INFINITY, f64::min)
    }
}

/// Far off, or as near to another of its kind, words need a leader that says what they belong to.
fn needs_leader(labels: &[PlacedLabel], label: &PlacedLabel, bounds: &Bounds) -> bool {
    let away = label.away(bounds);
    let mistaken = || {
        labels
            .iter()
            .filter(|other| other.is_hose == label.is_hose && other.words.tag != label.words.tag)
            .any(|other| other.away(bounds) < away + 0.4)
    };
    away > 4.0 || bounds.nearest(label.from).distance(label.from) > 1.5 && mistaken()
}

/// Labels keep so far in front of and behind the drawing at most, millimetres.
const AROUND_DRAWING: f64 = 9.0;

/// From the top of a sheet to where words of a drawing may stand, millimetres.
const BELOW_HEADING: f64 = 13.0;

/// Lines kept free for what is left out.
const FEW_LINES: f64 = 8.0;

impl SheetDrawing<'_, '_> {
    /// Writes labels, the ones with the fewest places first, then all others; returns those without a place.
    /// What is left is said at `said`, as wide as that is.
    pub(super) fn write_labels(
        &mut self,
        draft: &mut PageDraft,
        labels: &[PlacedLabel],
        window: &Bounds,
        said: (Point2, f64),
    ) -> Vec<Unnamed> {
        let room = window.grown(AROUND_DRAWING);
        let room = Bounds {
            min: Point2::new(self.area.min.x + 14.0, room.min.y),
            max: Point2::new(self.area.max.x - 1.0, room.max.y),
        };
        let left_out = Self::kept_for_what_is_left_out(said);
        let white = self.white_paper(window);
        let mut without = Vec::new();
        for label in labels {
            let size = label.words.size(self.source);
            // Beside it where that is clear, or where a leader can say what it belongs to.
            let clear: Vec<usize> = (0..label.candidates.len())
                .filter(|index| {
                    let bounds = &label.candidates[*index].0;
                    !needs_leader(labels, label, bounds)
                        || self.places.is_free_way(bounds.nearest(label.from), label.from)
                })
                .collect();
            let boxes: Vec<Bounds> = clear.iter().map(|index| label.candidates[*index].0).collect();
            if let Some(index) = self.places.place_over(&boxes, &room, Cover::OneLine) {
                self.write_near(draft, labels, label, clear[index]);
            } else if let Some((bounds, leader)) = self.places.place_far(&label.anchors, size, &room) {
                label.words.write(draft, &bounds, false);
                draft.line(PaperLayer::Leader, &leader, NARROW, Dash::Solid);
            } else if let Some((bounds, leader)) =
                self.places.place_far_but(&label.anchors, size, &white, &left_out)
            {
                label.words.write(draft, &bounds, false);
                draft.line(PaperLayer::Leader, &leader, NARROW, Dash::Solid);
            } else if let Some(index) = self.places.place_over(&boxes, &room, Cover::Lines) {
                self.write_near(draft, labels, label, clear[index]);
            } else {
                // Where a part is to be fitted stands on no other paper.
                without.push(Unnamed {
                    tag: label.words.tag.clone(),
                    words: label.words.in_a_line(),
                    place: label.place.clone(),
                    anchors: label.anchors.clone(),
                });
            }
        }
        without
    }

    /// Where a sheet says what has no room on it, from a place on and as wide as that: a few lines are kept free for that.
    pub(super) fn kept_for_what_is_left_out((at, room): (Point2, f64)) -> Bounds {
        Bounds {
            min: Point2::new(at.x, at.y - FEW_LINES * NEXT_LINE),
            max: Point2::new(at.x + room, at.y + USUAL),
        }
    }

    /// Where names that have no room by the drawing may stand, at the end of a leader: the paper over it, below the heading.
    pub(super) fn white_paper(&self, window: &Bounds) -> Bounds {
        let room = window.grown(AROUND_DRAWING);
        Bounds {
            min: Point2::new(self.area.min.x + 14.0, room.min.y),
            max: Point2::new(self.area.max.x - 1.0, (self.area.max.y - BELOW_HEADING).max(room.max.y)),
        }
    }

    /// Nothing is left out in silence: what boxed letters stand for, and what has no room at all. Answers how far down that reaches.
    pub(super) fn say_what_has_no_room(
        draft: &mut PageDraft,
        left: &NoRoom,
        (said_at, said_room): (Point2, f64),
    ) -> f64 {
        let mut says = Vec::new();
        if !left.far_off.is_empty() {
            says.push(format!("Too far off to be drawn here: {}", left.far_off.join("; ")));
        }
        if !left.letters.is_empty() {
            says.push(format!("Boxed letters: {}", left.letters.join("; ")));
        }
        if !left.without.is_empty() {
            says.push(format!("No room on this sheet for {}", list(&left.without)));
        }
        if !left.elsewhere.is_empty() {
            says.push(format!("Named on the sheets of the sections: {}", list(&left.elsewhere)));
        }
        if !left.items.is_empty() {
            says.push(format!("Items without a balloon here: {}", left.items));
        }
        let says = says.join(". ");
        let mut y = said_at.y;
        if !says.is_empty() {
            let style = Style::plain(PaperLayer::Words, USUAL);
            for line in &draft.wrapped(&says, style, said_room) {
                draft.words(Point2::new(said_at.x, y), line, style);
                y -= NEXT_LINE;
            }
        }
        y
    }

    fn write_near(
        &mut self,
        draft: &mut PageDraft,
        labels: &[PlacedLabel],
        label: &PlacedLabel,
        index: usize,
    ) {
        let (bounds, upright) = label.candidates[index];
        // Lines end at the words instead of running through them.
        draft.area(PaperLayer::Words, &bounds.grown(0.2), 0.0, Some(Shade::PAPER));
        label.words.write(draft, &bounds, upright);
        if needs_leader(labels, label, &bounds) {
            let near = bounds.nearest(label.from);
            draft.line(PaperLayer::Leader, &[near, label.from], NARROW, Dash::Solid);
            self.places.keep_leader(near, label.from);
        }
    }

    pub(super) fn labels(
        &self,
        draft: &PageDraft,
        long: bool,
        window: &Bounds,
        order: &Order,
    ) -> Vec<PlacedLabel> {
        let routing = self.source.routing;
        let catalogue = &self.source.project.catalogue;
        let mut labels = Vec::new();
        for part in &routing.parts {
            let Some(bounds) = draft.part_bounds(part.id) else { continue };
            let words = if long {
                self.part_words(part)
            } else {
                LabelWords { tag: part.tag.clone(), behind: String::new(), below: Vec::new() }
            };
            let (width, height) = words.size(self.source);
            let on = part.mount.and_then(|port| routing.part(port.part));
            let place = match on {
                Some(on) => format!("on {}", on.tag),
                None => words.below.last().cloned().unwrap_or_default(),
            };
            labels.push(PlacedLabel {
                place,
                candidates: Self::around(&bounds, width, height),
                words,
                from: bounds.centre(),
                anchors: anchors_on(&bounds),
                own: vec![bounds],
                is_hose: false,
            });
        }
        if long {
            labels.extend(self.small_tees(window));
        }
        for run in &routing.runs {
            let pieces: Vec<Vec<Point2>> = draft
                .page
                .marks
                .iter()
                .filter(|mark| mark.subject == Some(Subject::Run(run.id)) && mark.layer == PaperLayer::Hose)
                .filter_map(|mark| match &mark.kind {
                    MarkKind::Line { points, .. } => Some(points.clone()),
                    _ => None,
                })
                .collect();
            if pieces.is_empty() {
                continue;
            }
            let behind = if long { self.hose_words(run) } else { String::new() };
            let words = LabelWords { tag: run.tag.clone(), behind, below: Vec::new() };
            let (width, height) = words.size(self.source);
            let stock = catalogue.stock(&run.line.stock);
            let outside = stock.map_or(0.02, |stock| stock.outside.si()) * 1000.0 / self.sheet.denominator;
            let candidates = along(&pieces, width, height, (outside / 2.0).max(0.5) + 0.6);
            let from = pieces
                .iter()
                .flat_map(|piece| piece.windows(2))
                .max_by(|a, b| a[0].distance(a[1]).total_cmp(&b[0].distance(b[1])))
                .map_or(window.centre(), |pair| {
                    Point2::new(f64::midpoint(pair[0].x, pair[1].x), f64::midpoint(pair[0].y, pair[1].y))
                });
            let stretches = pieces.iter().flat_map(|piece| piece.windows(2));
            let own = stretches.map(|pair| Bounds::around(pair.iter().copied())).collect();
            let place = format!("{} to {}", self.end_tag(&run.from), self.end_tag(&run.to));
            let stretches = pieces.iter().flat_map(|piece| piece.windows(2));
            let anchors = std::iter::once(from).chain(stretches.flat_map(anchors_of)).collect();
            labels.push(PlacedLabel { candidates, words, from, anchors, own, place, is_hose: true });
        }
        // Who had no place before, then who has the least choice chooses first.
        labels.sort_by_key(|label| (order.place_of(&label.words.tag), label.candidates.len()));
        labels
    }

    /// A part with its size, what it reads and where it is.
    fn part_words(&self, part: &Part) -> LabelWords {
        let item = self.source.project.catalogue.item(&part.entry);
        let mut words = LabelWords { tag: part.tag.clone(), behind: String::new(), below: Vec::new() };
        let reads = item.is_some_and(|item| item.facts().reading == Some(Reading::Pressure));
        let mut says = Vec::new();
        says.extend(item.filter(|_| !reads).map(|item| item.size(self.source.units)));
        let pressure = self.source.outcome.and_then(|outcome| outcome.part(part.id)?.pressure);
        if let Some(pressure) = pressure
            && (reads || item.is_some_and(PartItem::is_for_rows))
        {
            says.push(Measure::Pressure.text(pressure.si(), self.source.units));
        }
        says.retain(|words| !words.is_empty());
        words.behind = says.join(", ");
        // What is screwed onto a port is where that is.
        if part.mount.is_none()
            && let Some(placed) = self.source.routing.geometry.anchors.part(part.id)
        {
            words.below.push(position_words(self.source, placed.at, part.section, self.height.as_deref()));
        }
        words
    }

    /// Parts of the sections of a sheet that are not drawn on it, and the hoses between them or from there to the pump.
    pub(super) fn far_off(&self, draft: &PageDraft) -> Vec<String> {
        let SheetSource { routing, items, .. } = *self.source;
        let numbered = |tag: &str, number: Option<&usize>, words: &str| {
            let item = number.map_or_else(String::new, |number| format!(" (item {number})"));
            format!("{tag}{item} {words}").trim_end().to_owned()
        };
        let is_here = |part: &&Part| {
            // On what is cut off at a side, a match line says where it goes on.
            let placed = routing.geometry.anchors.part(part.id);
            let is_beside = placed.is_some_and(|placed| {
                self.sheet.sections.contains(&placed.section)
                    && (self.sheet.span.0..=self.sheet.span.1).contains(&placed.at.x)
            });
            is_beside && draft.part_bounds(part.id).is_none()
        };
        let parts: Vec<&Part> = routing.parts.iter().filter(is_here).collect();
        let is_off = |end: &End| match end {
            End::Port(port) => parts.iter().any(|part| part.id == port.part),
            End::Supply | End::Loose(_) => true,
        };
        let is_drawn =
            |run: &&Run| draft.page.marks.iter().any(|mark| mark.subject == Some(Subject::Run(run.id)));
        let hoses = routing.runs.iter().filter(|run| {
            let joins = [run.from, run.to].iter().any(|end| end.port().is_some());
            joins && is_off(&run.from) && is_off(&run.to) && !is_drawn(run)
        });
        let hoses = hoses.map(|run| {
            let mut words =
                format!("{}, {} to {}", self.hose_words(run), self.end_tag(&run.from), self.end_tag(&run.to));
            if [run.from, run.to].contains(&End::Supply) {
                let (_, place) = self.leads_to(&End::Supply);
                let _ = write!(words, ", the pump: {}", place.join(", "));
            }
            numbered(&run.tag, items.get(&run.line.stock), &words)
        });
        let parts = parts.iter().map(|part| {
            let LabelWords { tag, behind, below } = self.part_words(part);
            let words: Vec<String> =
                std::iter::once(behind).chain(below).filter(|one| !one.is_empty()).collect();
            numbered(&tag, items.get(&part.entry), &words.join(", "))
        });
        parts.chain(hoses).collect()
    }

    /// What a hose ends on, by its tag.
    pub(super) fn end_tag(&self, end: &End) -> &str {
        match end {
            End::Supply => "pump",
            End::Port(port) => self.source.routing.part(port.part).map_or("", |part| part.tag.as_str()),
            End::Loose(_) => "loose end",
        }
    }

    /// The small tees of shared row feeds, which sit where their tubes meet.
    fn small_tees(&self, window: &Bounds) -> Vec<PlacedLabel> {
        let (source, routing) = (self.source, self.source.routing);
        let mut labels = Vec::new();
        let Some(view) = self.view else { return labels };
        for feed in &routing.feeds {
            let Some(split) = &feed.split else { continue };
            let at = view.at(split.position.place.flat());
            if !window.contains(at) || !self.sheet.sections.contains(&split.position.section) {
                continue;
            }
            let words = LabelWords {
                tag: format!("{} tee", feed.tag),
                behind: String::new(),
                below: vec![position_words(
                    source,
                    split.position.place,
                    split.position.section,
                    self.height.as_deref(),
                )],
            };
            let own = Bounds { min: at, max: at }.grown(1.0);
            let (width, height) = words.size(source);
            let candidates = Self::around(&own, width, height);
            let place = words.below.last().cloned().unwrap_or_default();
            let (own, anchors) = (vec![own], vec![at]);
            labels.push(PlacedLabel { candidates, words, from: at, anchors, own, place, is_hose: false });
        }
        labels
    }

    /// `Ø25 mm, 4520 mm`, with the flow where it is asked for.
    fn hose_words(&self, run: &crate::plan::Run) -> String {
        let SheetSource { routing, units, .. } = *self.source;
        let bore = self.source.diameters_text(&run.line.stock);
        let length = routing.geometry.run(run.id).map_or_else(String::new, |laid| {
            format!(", {}", Measure::CutLength.short_text(laid.cut(self.source.project).si(), units))
        });
        let flow = self
            .source
            .outcome
            .and_then(|outcome| outcome.run(run.id)?.flow)
            .map_or_else(String::new, |flow| {
                format!(", {}", Measure::TotalFlow.text(flow.si().abs(), units))
            });
        format!("{bore}{length}{flow}")
    }

    /// Numbers of the outlets on the manifolds; where they would have no room, of the first and last.
    pub(super) fn outlet_numbers(&mut self, draft: &mut PageDraft, view: &View) {
        let SheetSource { project, routing, .. } = *self.source;
        for part in &routing.parts {
            let Some(item @ PartItem::Manifold(Manifold { outlets, .. })) =
                project.catalogue.item(&part.entry)
            else {
                continue;
            };
            let Some(own) = draft.part_bounds(part.id) else { continue };
            let Some(placed) = routing.geometry.anchors.part(part.id) else { continue };
            let style = Style::plain(PaperLayer::Words, USUAL).centred();
            let middle = view.at(placed.at.flat());
            let place = |number: u16, share: f64| {
                let offset = item.port_offset(Port::Outlet(number));
                view.at(place_offset(placed.at, placed.turn, Point2::new(offset.x, offset.y * share)).flat())
            };
            let (first, last) = (place(1, 1.0), place(*outlets, 1.0));
            let level = (first.x - last.x).abs() >= (first.y - last.y).abs();
            let apart = first.distance(last) / f64::from((*outlets).max(2) - 1);
            let widest = draft.width_of(&outlets.to_string(), style);
            // Upright figures across a row of outlets need their height only.
            let turned = level && apart < widest + 0.6;
            let needs = if level && !turned { widest + 0.6 } else { USUAL + 0.3 };
            let all = apart >= needs;
            let size = if turned { (USUAL, widest) } else { (widest, USUAL) };
            for number in (1..=*outlets).filter(|number| all || *number == 1 || number == outlets) {
                let tap = place(number, 1.0);
                // Across from its tap, clear of the body and of the tubes that leave there.
                let away = if level {
                    let side = if tap.y > middle.y { -1.0 } else { 1.0 };
                    let edge = if side > 0.0 { own.max.y } else { own.min.y };
                    Point2::new(tap.x, edge + side * (size.1 / 2.0 + 0.6))
                } else {
                    let side = if tap.x > middle.x { -1.0 } else { 1.0 };
                    let edge = if side > 0.0 { own.max.x } else { own.min.x };
                    Point2::new(edge + side * (size.0 / 2.0 + 0.6), tap.y)
                };
                let words = number.to_string();
                let bounds = if turned {
                    draft.words_up(
                        Point2::new(away.x + USUAL / 2.0, away.y - widest / 2.0),
                        &words,
                        Style::plain(PaperLayer::Words, USUAL),
                    )
                } else {
                    draft.words(Point2::new(away.x, away.y - USUAL / 2.0), &words, style)
                };
                self.places.keep_clear(bounds);
            }
        }
    }
}

/// Points of a straight stretch of a hose that a leader may end at; none of one that is too short to be told.
fn anchors_of(pair: &[Point2]) -> Vec<Point2> {
    let at = |t: f64| pair[0].towards(pair[1], t);
    if pair[0].distance(pair[1]) < 2.0 { Vec::new() } else { [0.5, 0.25, 0.75].map(at).to_vec() }
}

/// Points of a symbol that a leader may end at: its middle, else just within an edge or corner, where the way to the middle is barred.
pub(super) fn anchors_on(bounds: &Bounds) -> Vec<Point2> {
    let (middle, inner) = (bounds.centre(), bounds.grown(-0.2));
    let mut anchors = vec![middle];
    for (x, y) in
        [(0.0, 1.0), (0.0, -1.0), (1.0, 0.0), (-1.0, 0.0), (1.0, 1.0), (-1.0, 1.0), (1.0, -1.0), (-1.0, -1.0)]
    {
        let (half_width, half_depth) = (inner.width().max(0.0) / 2.0, inner.depth().max(0.0) / 2.0);
        anchors.push(Point2::new(middle.x + x * half_width, middle.y + y * half_depth));
    }
    anchors
}

/// A box about a point.
pub(super) fn boxed(at: Point2, half: f64) -> Bounds {
    sized(at.x - half, at.y - half, 2.0 * half, 2.0 * half)
}
