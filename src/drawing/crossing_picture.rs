//! One hinge crossing in the plane across its hinge: the free piece between its clamps at work and where it bends tightest.

use super::dimension;
use super::paper::{
    MIDDLE, NARROW, PageDraft, PaperLayer, Shade, Style, USUAL, View, WIDE, scale_text, sized,
};
use super::scene::Dash;
use super::sheet_frame::{SCALES, drawing_area};
use super::sheet_source::SheetSource;
use crate::geometry::{Bounds, Point2, Point3};
use crate::plan::{CrossedHinge, FoldPosition, FoldedBar, Hinge};
use crate::quantities::{Length, Measure};

/// The crossing that is drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct DrawnCrossing<'a> {
    /// Its line in the table.
    pub number: usize,
    /// What crosses there: `H3`.
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

/// A room less deep than this is none for it, millimetres.
pub const LEAST_DEPTH: f64 = 75.0;

/// Draws it on a sheet of its own.
pub fn crossing_page<'a>(source: &SheetSource<'a>, drawn: &DrawnCrossing) -> PageDraft<'a> {
    let (width, height) = source.size;
    let mut draft = PageDraft::new("Hinge crossing", width, height, source.letters);
    let area = drawing_area(width, height);
    let room = sized(area.min.x + 6.5, area.min.y + 3.0, area.width() - 13.0, area.depth() - 9.0);
    crossing_picture(&mut draft, source, drawn, &room);
    draft
}

/// Draws it in a room of a sheet, whose scale it gives; says why where it can't be.
pub fn crossing_picture(draft: &mut PageDraft, source: &SheetSource, drawn: &DrawnCrossing, room: &Bounds) {
    let (bar, units) = (&source.project.bar, source.units);
    let style = Style::plain(PaperLayer::Words, USUAL);
    let found =
        bar.section(drawn.crossed.section).and_then(|section| section.hinge).zip(drawn.crossed.computed());
    let Some((hinge, crossing)) = found else { return };
    let length = |one: Length| Measure::CutLength.short_text(one.si(), units);
    let (radius, tightest) = crossing.tightest;
    // Where it bends tightest at work, the folded bar is what is left to be shown.
    let other = if tightest.is_working() { FoldPosition::TRANSPORT } else { tightest };
    let [work, tight] =
        [FoldPosition::WORKING, other].map(|position| Lying::of(source, drawn, &hinge, position));
    let says = format!(
        "Crossing {}, {}: {} free between its clamps; radius at least {}, its stock allows {}",
        drawn.number,
        drawn.tags,
        length(crossing.free),
        length(radius),
        length(drawn.least)
    );
    let mut y = room.max.y - USUAL;
    for line in draft.wrapped(&says, style.bold(), room.width()) {
        draft.words(Point2::new(room.min.x, y), &line, style.bold());
        y -= USUAL * 1.5;
    }
    let (Some(work), Some(tight)) = (work, tight) else {
        draft.words(Point2::new(room.min.x, y), "No shape is found for it", style);
        return;
    };
    let lying = [(work, FoldPosition::WORKING), (tight, other)];
    let wide: f64 = lying.iter().map(|(one, _)| one.bounds().width()).sum();
    let deep = lying.iter().map(|(one, _)| one.bounds().depth()).fold(0.0, f64::max);
    let beside = 2.0 * BESIDE + 8.0;
    // Side by side, or one over the other, whatever is larger.
    let most = lying.iter().map(|(one, _)| one.bounds().width()).fold(0.0, f64::max);
    let depths: f64 = lying.iter().map(|(one, _)| one.bounds().depth()).sum();
    let (height, width) = (y - room.min.y - USUAL * 1.5, room.width());
    let fits = |scale: f64, wide: f64, deep: f64, beside: f64, under: f64| {
        wide * 1000.0 / scale + beside <= width && deep * 1000.0 / scale + under <= height
    };
    let side_by_side = SCALES.into_iter().find(|scale| fits(*scale, wide, deep, beside, UNDER + 6.0));
    let over = SCALES.into_iter().find(|scale| fits(*scale, most, depths, 2.0 * BESIDE, 2.0 * UNDER + 12.0));
    let is_over = over.unwrap_or(f64::INFINITY) < side_by_side.unwrap_or(f64::INFINITY);
    let Some(denominator) = (if is_over { over } else { side_by_side }) else {
        draft.words(Point2::new(room.min.x, y), "No room to draw it on this sheet", style);
        return;
    };
    let note = format!("{}; weight and set left out", scale_text(denominator));
    draft.words(Point2::new(room.min.x, y), &note, style);
    let (mut x, mut top) = (room.min.x + BESIDE, y - 6.0);
    for (one, position) in &lying {
        let bounds = one.bounds();
        let metre = 1000.0 / denominator;
        let bottom = top - bounds.depth() * metre;
        let view = View {
            denominator,
            origin: Point2::new(x - bounds.min.x * metre, bottom - bounds.min.y * metre),
        };
        lay(draft, &view, one);
        // Both pictures are at one scale.
        draft.page.view.get_or_insert(view);
        let mut words = if position.is_working() { "at work".to_owned() } else { position.words() };
        if *position == tightest {
            words += ", where it bends tightest";
        }
        let middle = x + bounds.width() * metre / 2.0;
        if position.is_working() {
            sizes(draft, &view, one, units, bottom);
        }
        let under = if position.is_working() { UNDER - 2.0 } else { 5.0 };
        let half = draft.width_of(&words, style) / 2.0;
        let middle = middle.clamp(room.min.x + half, (room.max.x - half).max(room.min.x + half));
        draft.words(Point2::new(middle, bottom - under), &words, style.centred());
        if is_over {
            top = bottom - UNDER - 6.0;
        } else {
            x += bounds.width() * metre + BESIDE + 8.0;
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
