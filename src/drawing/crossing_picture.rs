//! One hinge crossing in the plane across its hinge: the free piece between its clamps at work and where it bends tightest.

use std::fmt::Write as _;

use super::dimension;
use super::paper::{
    MIDDLE, NARROW, PageDraft, PaperLayer, Shade, Style, USUAL, View, WIDE, scale_text, sized,
};
use super::scene::Dash;
use super::sheet_frame::{SCALES, drawing_area};
use super::sheet_source::SheetSource;
use crate::geometry::{Bounds, Point2, Point3};
use crate::plan::words::ranges;
use crate::plan::{CrossedHinge, FoldPosition, FoldedBar, Hinge};
use crate::quantities::{Length, Measure};

/// The crossing that is drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct DrawnCrossing<'a> {
    /// Its line in the table, and those of crossings that are alike, on the other side of the bar as a rule.
    pub numbers: Vec<u32>,
    /// Those of them on the other side of the bar: mirror images of what is drawn.
    pub mirrored: Vec<u32>,
    /// What crosses there: `H3 and H4`.
    pub tags: String,
    /// Where the hose or tube crosses.
    pub crossed: &'a CrossedHinge,
    /// Least bend radius of the stock.
    pub least: Length,
}

/// Shown of the hose beyond each clamp, metres.
const TAIL: f64 = 0.12;

/// A crossing in one position, in the plane across its hinge, metres from the axis; the section that the hinge is on stands
/// as it does at work.
struct Lying {
    free: Vec<Point2>,
    /// Places and directions away from the free piece.
    clamps: [(Point2, Point2); 2],
    /// Along each section away from the hinge.
    arms: [Point2; 2],
}

impl Lying {
    fn of(
        source: &SheetSource,
        drawn: &DrawnCrossing,
        hinge: &Hinge,
        position: FoldPosition,
    ) -> Option<Self> {
        let (bar, crossing) = (&source.project.bar, drawn.crossed.computed()?);
        let (right, up) = hinge.plane()?;
        let folded = FoldedBar::at(bar, position);
        let still = folded.motion(hinge.parent).inverse();
        let across = |along: Point3| Point2::new(along.dot(right), along.dot(up));
        let flat = |place: Point3| across(still.place(place) - hinge.point);
        let free = crossing.bent(bar, &folded, position)?.into_iter().map(flat).collect();
        let turned =
            |along: Point3, section| across(still.direction(folded.motion(section).direction(along)));
        let [before, behind] = &crossing.clamps;
        let clamp = |clamp: &crate::plan::Clamp, sense: f64| {
            (flat(folded.place(clamp.at)), turned(clamp.along * sense, clamp.at.section))
        };
        let clamps = [clamp(before, -1.0), clamp(behind, 1.0)];
        // To the side on which the clamp of the section is at work.
        let arm = |clamp: &crate::plan::Clamp| {
            let side = if (clamp.at.place - hinge.point).dot(right) < 0.0 { -1.0 } else { 1.0 };
            turned(right * side, clamp.at.section)
        };
        Some(Self { free, clamps, arms: [arm(before), arm(behind)] })
    }

    fn tail(&self, at: usize) -> Point2 {
        let (place, away) = self.clamps[at];
        Point2::new(place.x + away.x * TAIL, place.y + away.y * TAIL)
    }

    fn bounds(&self) -> Bounds {
        let tails = [self.tail(0), self.tail(1), Point2::default()];
        Bounds::around(self.free.iter().copied().chain(tails))
    }
}

/// Beside, over and under a crossing: its dimensions and words, millimetres.
const BESIDE: f64 = 20.0;
const UNDER: f64 = 14.0;

/// Between the words beneath two positions, millimetres.
const APART: f64 = 4.0;

/// A room less deep than this is none for it, millimetres.
const LEAST_DEPTH: f64 = 55.0;

/// A picture less wide than this has no room for its words, millimetres.
const LEAST_WIDTH: f64 = 95.0;

/// Draws as many as have room on a sheet of their own, and tells how many these are; says so where not even one has.
pub fn crossing_page<'a>(source: &SheetSource<'a>, drawn: &[DrawnCrossing]) -> (PageDraft<'a>, usize) {
    let (width, height) = source.size;
    let mut draft = PageDraft::new("Hinge crossing", width, height, source.letters);
    let shown = crossing_pictures(&mut draft, source, drawn, &room_of(source));
    if shown == 0 {
        let says = "No room to draw the crossings on a sheet of this size: the table has their figures";
        let room = room_of(source);
        let at = Point2::new(room.min.x, room.max.y - USUAL);
        draft.words(at, says, Style::plain(PaperLayer::Words, USUAL));
    }
    (draft, shown)
}

/// The room on a sheet that holds nothing else.
fn room_of(source: &SheetSource) -> Bounds {
    let area = drawing_area(source.size.0, source.size.1);
    sized(area.min.x + 6.5, area.min.y + 3.0, area.width() - 13.0, area.depth() - 9.0)
}

/// All crossings stand as large in a room as on a sheet of their own.
pub fn are_as_large(source: &SheetSource, drawn: &[DrawnCrossing], room: &Bounds) -> bool {
    let draft = PageDraft::new("", source.size.0, source.size.1, source.letters);
    let (_, all) = pictured(source, drawn);
    let here = Grid::of(&draft, &all, room);
    let alone = Grid::of(&draft, &all, &room_of(source));
    here.is_some_and(|here| {
        here.shown == all.len()
            && alone.is_none_or(|alone| alone.shown < all.len() || here.denominator <= alone.denominator)
    })
}

/// The crossings that can be drawn, after their places among all.
fn pictured(source: &SheetSource, drawn: &[DrawnCrossing]) -> (Vec<usize>, Vec<Pictured>) {
    drawn.iter().enumerate().filter_map(|(at, one)| Some((at, Pictured::new(source, one)?))).unzip()
}

/// How pictures stand side by side and over each other.
struct Grid {
    /// So many of them have room.
    shown: usize,
    /// Their scale: 20 for 1:20.
    denominator: f64,
    columns: usize,
    rows: usize,
    /// Of one, millimetres.
    size: (f64, f64),
}

impl Grid {
    /// The grid in which all of them that have room are largest; none where not even one has.
    fn of(draft: &PageDraft, all: &[Pictured], room: &Bounds) -> Option<Self> {
        let most =
            ((room.width() / LEAST_WIDTH).floor().max(1.0), (room.depth() / LEAST_DEPTH).floor().max(1.0));
        let shown = all.len().min((most.0 * most.1) as usize);
        let grids = (1..=most.0 as usize).filter_map(|columns| {
            let rows = shown.div_ceil(columns);
            let size = (room.width() / columns as f64 - 4.0, room.depth() / rows as f64 - 3.0);
            let scales = all[..shown].iter().filter(|one| one.lying.is_some());
            let scales: Option<Vec<f64>> =
                scales.map(|one| Some(one.fit(draft, size)?.denominator)).collect();
            let denominator = scales?.into_iter().fold(1.0, f64::max);
            (rows as f64 <= most.1).then_some(Self { shown, denominator, columns, rows, size })
        });
        grids.min_by(|a, b| a.denominator.total_cmp(&b.denominator))
    }
}

/// What is drawn of a crossing.
struct Pictured {
    says: String,
    /// At work, and where it bends tightest, or folded where that is at work; none where no shape is found.
    lying: Option<[(Lying, FoldPosition); 2]>,
    tightest: FoldPosition,
    /// An upright hinge is seen from above.
    is_upright: bool,
}

/// How a picture stands at the largest scale that fits.
#[derive(Clone, Copy)]
struct Fit {
    denominator: f64,
    /// One position over the other, not side by side.
    is_over: bool,
}

impl Pictured {
    fn new(source: &SheetSource, drawn: &DrawnCrossing) -> Option<Self> {
        let hinge = source.project.bar.section(drawn.crossed.section)?.hinge?;
        let crossing = drawn.crossed.computed()?;
        let length = |one: Length| Measure::CutLength.short_text(one.si(), source.units);
        let (radius, tightest) = crossing.tightest;
        // Where it bends tightest at work, the folded bar is what is left to be shown.
        let other = if tightest.is_working() { FoldPosition::TRANSPORT } else { tightest };
        let of = |position| Some((Lying::of(source, drawn, &hinge, position)?, position));
        let crossings = if drawn.numbers.len() == 1 { "Crossing" } else { "Crossings" };
        let lying = of(FoldPosition::WORKING).zip(of(other)).map(|(work, tight)| [work, tight]);
        let assumed = if crossing.is_assumed { "; weight or stiffness assumed" } else { "" };
        let mut says = format!(
            "{crossings} {}, {}: {} free between its clamps; radius at least {}, its stock allows {}{assumed}",
            ranges(&drawn.numbers),
            drawn.tags,
            length(crossing.free),
            length(radius),
            length(drawn.least)
        );
        if let Some([(work, _), _]) = &lying {
            // The section that hangs on the hinge is the one towards the tip.
            let [from, _] = &crossing.clamps;
            let tip = usize::from(from.at.section != drawn.crossed.section);
            let [tip, centre] = [tip, 1 - tip].map(|at| work.clamps[at].0);
            let side = if tip.x < centre.x { "left" } else { "right" };
            let _ = write!(says, "; tip on the {side} at work");
        }
        if !drawn.mirrored.is_empty() {
            let are = if drawn.mirrored.len() == 1 { "is a mirror image" } else { "are mirror images" };
            let _ = write!(says, "; {} {are} of what is drawn", ranges(&drawn.mirrored));
        }
        Some(Self { says, lying, tightest, is_upright: hinge.is_upright() })
    }

    /// The lines over it.
    fn head(&self, draft: &PageDraft, width: f64) -> Vec<String> {
        draft.wrapped(&self.says, Style::plain(PaperLayer::Words, USUAL).bold(), width)
    }

    /// How it is seen and at what scale, below its head.
    fn note(&self, draft: &PageDraft, denominator: f64, width: f64) -> Vec<String> {
        let seen = if self.is_upright { "seen from above, forward is up" } else { "seen along the hinge" };
        let note = format!("{}, {seen}; filled; set, twist left out", scale_text(denominator));
        draft.wrapped(&note, Style::plain(PaperLayer::Words, USUAL), width)
    }

    /// What is said beneath each position.
    fn beneath(&self, position: FoldPosition) -> String {
        let mut words = if position.is_working() { "at work".to_owned() } else { position.words() };
        if position == self.tightest {
            words += ", where it bends tightest";
        }
        words
    }

    /// How wide both positions are side by side with their sizes and words, millimetres, of which a metre of theirs is so many.
    fn slots(&self, draft: &PageDraft, metre: f64) -> [f64; 2] {
        let style = Style::plain(PaperLayer::Words, USUAL);
        let of = |(lies, position): &(Lying, FoldPosition)| {
            // Sizes stand on both sides of what is at work.
            let beside = if position.is_working() { 2.0 * BESIDE } else { 8.0 };
            let words = draft.width_of(&self.beneath(*position), style) + APART;
            (lies.bounds().width() * metre + beside).max(words)
        };
        self.lying.as_ref().map_or([0.0; 2], |lying| lying.each_ref().map(of))
    }

    /// The largest scale at which it fits a room: side by side, or one over the other, whatever is larger.
    fn fit(&self, draft: &PageDraft, (width, depth): (f64, f64)) -> Option<Fit> {
        let bounds = self.lying.as_ref()?.each_ref().map(|(one, _)| one.bounds());
        let [a, b] = &bounds;
        // A scale of more digits makes no line more.
        let lines = self.head(draft, width).len() + self.note(draft, 100.0, width).len();
        let height = depth - USUAL - lines as f64 * USUAL * 1.5;
        let fits = |scale: f64, wide: f64, deep: f64, beside: f64, under: f64| {
            wide * 1000.0 / scale + beside <= width && deep * 1000.0 / scale + under <= height
        };
        let side_by_side = SCALES.into_iter().find(|scale| {
            let slots: f64 = self.slots(draft, 1000.0 / scale).iter().sum();
            fits(*scale, 0.0, a.depth().max(b.depth()), slots, UNDER + 6.0)
        });
        let over = SCALES.into_iter().find(|scale| {
            let (wide, deep) = (a.width().max(b.width()), a.depth() + b.depth());
            fits(*scale, wide, deep, 2.0 * BESIDE, 2.0 * UNDER + 12.0)
        });
        let is_over = over.unwrap_or(f64::INFINITY) < side_by_side.unwrap_or(f64::INFINITY);
        Some(Fit { denominator: if is_over { over? } else { side_by_side? }, is_over })
    }
}

/// Draws crossings in a room of a sheet, in the order given, all at the one scale that the sheet gives, and tells how many of
/// them are done with: the rest have no room there. Says why one can't be drawn.
pub fn crossing_pictures(
    draft: &mut PageDraft,
    source: &SheetSource,
    drawn: &[DrawnCrossing],
    room: &Bounds,
) -> usize {
    let (places, all) = pictured(source, drawn);
    if all.is_empty() {
        return drawn.len();
    }
    let Some(Grid { shown, denominator, columns, rows, size }) = Grid::of(draft, &all, room) else {
        return 0;
    };
    for (at, one) in all[..shown].iter().enumerate() {
        let (column, row) = (at % columns, at / columns);
        let left = room.min.x + column as f64 * room.width() / columns as f64;
        let top = room.max.y - row as f64 * room.depth() / rows as f64;
        let own = sized(left, top - size.1, size.0, size.1);
        picture(draft, source, one, &own, denominator);
    }
    places.get(shown).copied().unwrap_or(drawn.len())
}

/// One of them in its room.
fn picture(draft: &mut PageDraft, source: &SheetSource, one: &Pictured, room: &Bounds, denominator: f64) {
    let style = Style::plain(PaperLayer::Words, USUAL);
    let mut y = room.max.y - USUAL;
    for line in one.head(draft, room.width()) {
        draft.words(Point2::new(room.min.x, y), &line, style.bold());
        y -= USUAL * 1.5;
    }
    let Some(lying) = &one.lying else {
        draft.words(Point2::new(room.min.x, y), "No shape is found for it", style);
        return;
    };
    for line in one.note(draft, denominator, room.width()) {
        draft.words(Point2::new(room.min.x, y), &line, style);
        y -= USUAL * 1.5;
    }
    y += USUAL * 1.5;
    let is_over = one.fit(draft, (room.width(), room.depth())).is_some_and(|fit| fit.is_over);
    let (mut left, mut top) = (room.min.x, y - 6.0);
    let metre = 1000.0 / denominator;
    for ((lies, position), slot) in lying.iter().zip(one.slots(draft, metre)) {
        let bounds = lies.bounds();
        let bottom = top - bounds.depth() * metre;
        let middle = left + slot / 2.0;
        let x = middle - bounds.width() * metre / 2.0;
        let view = View {
            denominator,
            origin: Point2::new(x - bounds.min.x * metre, bottom - bounds.min.y * metre),
        };
        lay(draft, &view, lies);
        // All pictures are at one scale.
        draft.page.view.get_or_insert(view);
        if position.is_working() {
            sizes(draft, &view, lies, source.units, bottom);
        }
        let under = if position.is_working() { UNDER - 2.0 } else { 5.0 };
        draft.words(Point2::new(middle, bottom - under), &one.beneath(*position), style.centred());
        if is_over {
            top = bottom - UNDER - 6.0;
        } else {
            left += slot;
        }
    }
}

/// Hinge, sections, clamps and the piece between them.
fn lay(draft: &mut PageDraft, view: &View, lying: &Lying) {
    let at = |point: Point2| view.at(point);
    for (arm, (clamp, _)) in lying.arms.iter().zip(&lying.clamps) {
        let long = clamp.x.hypot(clamp.y) + TAIL / 2.0;
        let end = Point2::new(arm.x * long, arm.y * long);
        draft.line(PaperLayer::Hinge, &[at(Point2::default()), at(end)], NARROW, Dash::Dashed);
    }
    let pin = at(Point2::default());
    let free: Vec<Point2> = lying.free.iter().map(|point| at(*point)).collect();
    draft.line(PaperLayer::Hose, &free, WIDE, Dash::Solid);
    for (index, (place, away)) in lying.clamps.iter().enumerate() {
        let centre = at(*place);
        draft.shaded_line(
            PaperLayer::Hose,
            &[centre, at(lying.tail(index))],
            MIDDLE,
            Dash::Solid,
            Shade::SOFT,
        );
        let half = 2.0;
        let ends = [
            Point2::new(centre.x - away.y * half, centre.y + away.x * half),
            Point2::new(centre.x + away.y * half, centre.y - away.x * half),
        ];
        draft.line(PaperLayer::Part, &ends, 0.9, Dash::Solid);
    }
    draft.circle(PaperLayer::Hinge, pin, 1.4, MIDDLE, Some(Shade::PAPER));
    draft.circle(PaperLayer::Hinge, pin, 0.4, 0.0, Some(Shade::INK));
}

/// How far each clamp is from the axis, to the side and over or under it, at work.
fn sizes(
    draft: &mut PageDraft,
    view: &View,
    lying: &Lying,
    units: crate::quantities::UnitSystem,
    bottom: f64,
) {
    let pin = view.at(Point2::default());
    let edges = lying.bounds();
    let (left, right) = (view.at(edges.min).x, view.at(edges.max).x);
    let text = |size: f64| Measure::CutLength.short_text(size.abs(), units);
    for (place, _) in &lying.clamps {
        let clamp = view.at(*place);
        dimension::level(draft, pin, clamp, bottom - 4.5, &text(place.x));
        if (place.y * view.millimetres()).abs() >= 1.0 {
            let x = if place.x < 0.0 { left - 4.0 } else { right + 4.0 };
            let axis = Point2::new(clamp.x, pin.y);
            dimension::upright(draft, axis, clamp, x, &text(place.y));
        }
    }
}
