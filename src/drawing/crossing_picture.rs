//! One hinge crossing in the plane across its hinge: the free piece between its clamps at work and where it bends tightest.

use std::fmt::Write as _;

use super::dimension;
use super::label_places::Places;
use super::paper::{
    MIDDLE, MarkKind, NARROW, PageDraft, PaperLayer, Shade, Style, USUAL, View, WIDE, scale_text, sized,
};
use super::scene::Dash;
use super::sheet_frame::{SCALES, continued_area};
use super::sheet_source::SheetSource;
use crate::geometry::{Bounds, Point2, Point3};
use crate::plan::words::{list, ranges};
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
    /// Which of the clamps is towards the tip of the bar: that of the section that hangs on the hinge.
    tip: usize,
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
        let tip = usize::from(before.at.section != drawn.crossed.section);
        Some(Self { free, clamps, arms: [arm(before), arm(behind)], tip })
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

/// From words over a position to it, and between positions that stand over each other, millimetres.
const OVER: f64 = 6.0;

/// Between the words beneath two positions, millimetres.
const APART: f64 = 4.0;

/// Between two pictures, millimetres.
const BETWEEN: (f64, f64) = (4.0, 3.0);

/// A picture less wide than this has no room for its words, millimetres.
const LEAST_WIDTH: f64 = 95.0;

/// At 1:20 a crossing can be read at the bar: for larger pictures alone no sheet is added.
const ENOUGH: f64 = 20.0;

/// Draws crossings in the order given: on a sheet that has a table already, in the room below that, then on sheets of their own.
/// Each is as large as a sheet of its own would have it, or 1:20 where that is larger; its two positions stand
/// apart where both together would have to be smaller. A sheet has one scale, in which it measures right as DXF too, and it is
/// the largest that its pictures have room for. Says so where one has no room at all.
pub fn crossing_pages<'a>(
    source: &SheetSource<'a>,
    drawn: &[DrawnCrossing],
    beside: Option<(&mut PageDraft<'a>, &Bounds)>,
) -> Vec<PageDraft<'a>> {
    let blank = || PageDraft::new("Hinge crossing", source.size.0, source.size.1, source.letters);
    let (draft, alone) = (blank(), room_of(source));
    let all: Vec<Pictured> = drawn.iter().filter_map(|one| Pictured::new(source, one)).collect();
    let (mut left, mut without): (Vec<Figure>, Vec<&str>) = (Vec::new(), Vec::new());
    for one in &all {
        let figures = one.figures(&draft, &alone);
        if figures.is_empty() {
            without.push(&one.name);
        }
        left.extend(figures);
    }
    let mut pages = Vec::new();
    let take = |draft: &mut PageDraft<'a>, room: &Bounds, left: &mut Vec<Figure>| {
        let Some(scale) = left.first().map(|figure| figure.scale) else { return false };
        let (of_scale, others): (Vec<Figure>, Vec<Figure>) =
            left.drain(..).partition(|figure| figure.scale == scale);
        let fitting = pack(draft, &of_scale, scale, room).len();
        let shown = &of_scale[..fitting];
        let larger = SCALES.into_iter().take_while(|one| *one < scale);
        let own =
            larger.into_iter().find(|one| pack(draft, shown, *one, room).len() == fitting).unwrap_or(scale);
        for placed in pack(draft, shown, own, room) {
            placed.draw(draft, source, own);
        }
        *left = of_scale[fitting..].iter().chain(&others).cloned().collect();
        fitting > 0
    };
    if let Some((draft, room)) = beside {
        take(draft, room, &mut left);
    }
    while !left.is_empty() {
        let mut draft = blank();
        if !take(&mut draft, &alone, &mut left) {
            break;
        }
        pages.push(draft);
    }
    if !without.is_empty() {
        let mut draft = blank();
        let says = format!(
            "No room to draw {} on a sheet of this size: the table has the figures",
            list(&without.iter().map(|one| (*one).to_owned()).collect::<Vec<_>>())
        );
        let style = Style::plain(PaperLayer::Words, USUAL);
        let mut at = Point2::new(alone.min.x, alone.max.y - USUAL);
        for line in draft.wrapped(&says, style, alone.width()) {
            draft.words(at, &line, style);
            at.y -= USUAL * 1.5;
        }
        pages.push(draft);
    }
    pages
}

/// The room on a sheet that holds nothing else and continues the table's.
fn room_of(source: &SheetSource) -> Bounds {
    let area = continued_area(source.size.0, source.size.1);
    sized(area.min.x + 6.5, area.min.y + 3.0, area.width() - 13.0, area.depth() - 9.0)
}

/// What is drawn of a crossing.
struct Pictured {
    /// `Crossings 1 and 6`.
    name: String,
    /// Its heading.
    says: String,
    /// At work, and where it bends tightest, or folded where that is at work; none where no shape is found.
    lying: Vec<(Lying, FoldPosition)>,
    tightest: FoldPosition,
    /// An upright hinge is seen from above.
    is_upright: bool,
    /// How far the clamps are from the axis along the hose, as the table has it, where that is not what is measured across it.
    along_hose: Option<String>,
}

/// What stands under one heading, at one scale: a crossing in all its positions or in one of them.
#[derive(Clone)]
struct Figure<'p> {
    of: &'p Pictured,
    shown: &'p [(Lying, FoldPosition)],
    /// It is drawn no smaller than this: 10 for 1:10.
    scale: f64,
}

/// A figure in its room.
struct Placed<'f, 'p> {
    figure: &'f Figure<'p>,
    /// One position over the other, not side by side.
    is_over: bool,
    room: Bounds,
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
        let lying =
            of(FoldPosition::WORKING).zip(of(other)).map_or_else(Vec::new, |(work, tight)| vec![work, tight]);
        let assumed = if crossing.is_assumed { "; weight or stiffness assumed" } else { "" };
        let name = format!("{crossings} {}", ranges(&drawn.numbers));
        let mut says = format!(
            "{name}, {}: {} free between its clamps; radius at least {}, its stock allows {}{assumed}",
            drawn.tags,
            length(crossing.free),
            length(radius),
            length(drawn.least)
        );
        if !drawn.mirrored.is_empty() {
            let are = if drawn.mirrored.len() == 1 { "is a mirror image" } else { "are mirror images" };
            let _ = write!(says, "; {} {are} of what is drawn", ranges(&drawn.mirrored));
        }
        let along_hose = lying.first().and_then(|(work, _)| {
            let along = crossing.clamps.each_ref().map(|clamp| length(clamp.from_hinge));
            let across = work.clamps.map(|(place, _)| length(Length::metres(place.x.abs())));
            let [tip, centre] = [work.tip, 1 - work.tip].map(|at| &along[at]);
            (along != across).then(|| format!("along the hose {centre} (centre), {tip} (tip)"))
        });
        Some(Self { name, says, lying, tightest, is_upright: hinge.is_upright(), along_hose })
    }

    /// Both positions together, or apart where each is larger then; none where not even one has room on a sheet.
    fn figures(&self, draft: &PageDraft, alone: &Bounds) -> Vec<Figure<'_>> {
        let figure = |shown| {
            let mut figure = Figure { of: self, shown, scale: ENOUGH };
            figure.scale = SCALES
                .into_iter()
                .filter(|scale| *scale >= ENOUGH)
                .find(|scale| pack(draft, std::slice::from_ref(&figure), *scale, alone).len() == 1)?;
            Some(figure)
        };
        let together = figure(&self.lying);
        let apart: Option<Vec<Figure>> = self.lying.chunks(1).map(figure).collect();
        let largest = apart.iter().flatten().map(|one| one.scale).fold(ENOUGH, f64::max);
        match (together, apart) {
            (Some(together), _) if together.scale <= largest => vec![together],
            (_, Some(apart)) if !apart.is_empty() => apart,
            (together, _) => together.into_iter().collect(),
        }
    }

    /// What is said beneath each position.
    fn beneath(&self, position: FoldPosition) -> String {
        let mut words = if position.is_working() { "at work".to_owned() } else { position.words() };
        if position == self.tightest {
            words += ", where it bends tightest";
        }
        if let Some(along) = self.along_hose.as_ref().filter(|_| position.is_working()) {
            let _ = write!(words, "; {along}");
        }
        words
    }
}

/// Which way of standing a figure takes where it has room both ways.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Prefer {
    /// The one that takes less of the height.
    Shallow,
    /// The one that takes less of the width.
    Narrow,
}

/// The first of some figures in a room at a scale, as many as have room: from left to right, in rows.
fn pack<'f, 'p>(
    draft: &PageDraft,
    figures: &'f [Figure<'p>],
    scale: f64,
    room: &Bounds,
) -> Vec<Placed<'f, 'p>> {
    let shallow = pack_by(draft, figures, scale, room, Prefer::Shallow);
    if shallow.len() == figures.len() {
        return shallow;
    }
    let narrow = pack_by(draft, figures, scale, room, Prefer::Narrow);
    if narrow.len() > shallow.len() { narrow } else { shallow }
}

fn pack_by<'f, 'p>(
    draft: &PageDraft,
    figures: &'f [Figure<'p>],
    scale: f64,
    room: &Bounds,
    prefer: Prefer,
) -> Vec<Placed<'f, 'p>> {
    let mut placed: Vec<Placed> = Vec::new();
    let (mut left, mut top, mut lowest) = (room.min.x, room.max.y, room.max.y);
    let mut row = 0;
    for figure in figures {
        let fits = |left: f64, top: f64| {
            let ways = if figure.shown.len() > 1 { &[false, true][..] } else { &[false] };
            let ways = ways.iter().map(|is_over| (*is_over, figure.size(draft, scale, *is_over)));
            let fitting = ways.filter(|(_, (wide, deep))| {
                left + wide <= room.max.x + 1e-9 && top - deep >= room.min.y - 1e-9
            });
            let takes = |(wide, deep): (f64, f64)| match prefer {
                Prefer::Shallow => deep,
                Prefer::Narrow => wide,
            };
            fitting.min_by(|a, b| takes(a.1).total_cmp(&takes(b.1)))
        };
        let mut found = fits(left, top);
        if found.is_none() && left > room.min.x {
            widen(&mut placed[row..], room.max.x);
            (left, top, row) = (room.min.x, lowest - BETWEEN.1, placed.len());
            found = fits(left, top);
        }
        let Some((is_over, (wide, deep))) = found else { break };
        placed.push(Placed { figure, is_over, room: sized(left, top - deep, wide, deep) });
        left += wide + BETWEEN.0;
        lowest = lowest.min(top - deep);
    }
    widen(&mut placed[row..], room.max.x);
    placed
}

/// Gives the figures of a row what is left at its right end, alike.
fn widen(row: &mut [Placed], right: f64) {
    let Some(last) = row.last() else { return };
    let more = (right - last.room.max.x) / row.len() as f64;
    for (at, placed) in row.iter_mut().enumerate() {
        placed.room.min.x += more * at as f64;
        placed.room.max.x += more * (at + 1) as f64;
    }
}

impl Figure<'_> {
    /// The lines over it.
    fn head(&self, draft: &PageDraft, width: f64) -> Vec<String> {
        let is_first = self.shown.first().is_none_or(|shown| shown.1.is_working());
        let says = if is_first { self.of.says.clone() } else { format!("{}, continued", self.of.name) };
        draft.wrapped(&says, Style::plain(PaperLayer::Words, USUAL).bold(), width)
    }

    /// How it is seen and at what scale, below its head.
    fn note(&self, draft: &PageDraft, scale: f64, width: f64) -> Vec<String> {
        let seen = if self.of.is_upright { "seen from above, forward is up" } else { "seen along the hinge" };
        let note = format!("{}, {seen}; filled; set, twist left out", scale_text(scale));
        draft.wrapped(&note, Style::plain(PaperLayer::Words, USUAL), width)
    }

    /// How wide each position is with its sizes and words, millimetres.
    fn slots(&self, draft: &PageDraft, scale: f64) -> Vec<f64> {
        let style = Style::plain(PaperLayer::Words, USUAL);
        let of = |(lies, position): &(Lying, FoldPosition)| {
            // Sizes stand on both sides of what is at work, the names of its ends beside what is not.
            let words = draft.width_of(&self.of.beneath(*position), style) + APART;
            (lies.bounds().width() * 1000.0 / scale + 2.0 * BESIDE).max(words)
        };
        self.shown.iter().map(of).collect()
    }

    /// How wide and deep it is with all its words, millimetres.
    fn size(&self, draft: &PageDraft, scale: f64, is_over: bool) -> (f64, f64) {
        let (slots, deep) = (
            self.slots(draft, scale).into_iter(),
            self.shown.iter().map(|(lies, _)| lies.bounds().depth() * 1000.0 / scale),
        );
        let (wide, deep) = if is_over {
            (slots.fold(0.0, f64::max), deep.map(|deep| deep + UNDER + OVER).sum())
        } else {
            (slots.sum(), deep.fold(0.0, f64::max) + UNDER + OVER)
        };
        let wide: f64 = LEAST_WIDTH.max(wide);
        let lines = self.head(draft, wide).len() + self.note(draft, scale, wide).len();
        (wide, USUAL + lines as f64 * USUAL * 1.5 + deep)
    }
}

impl Placed<'_, '_> {
    fn draw(&self, draft: &mut PageDraft, source: &SheetSource, scale: f64) {
        let Self { figure, is_over, room } = self;
        let start = draft.page.marks.len();
        let style = Style::plain(PaperLayer::Words, USUAL);
        let mut y = room.max.y - USUAL;
        for line in figure.head(draft, room.width()) {
            draft.words(Point2::new(room.min.x, y), &line, style.bold());
            y -= USUAL * 1.5;
        }
        if figure.shown.is_empty() {
            draft.words(Point2::new(room.min.x, y), "No shape is found for it", style);
            return;
        }
        for line in figure.note(draft, scale, room.width()) {
            draft.words(Point2::new(room.min.x, y), &line, style);
            y -= USUAL * 1.5;
        }
        y += USUAL * 1.5;
        let (mut left, mut top) = (room.min.x, y - OVER);
        let metre = 1000.0 / scale;
        for ((lies, position), slot) in figure.shown.iter().zip(figure.slots(draft, scale)) {
            let bounds = lies.bounds();
            let bottom = top - bounds.depth() * metre;
            let middle = left + slot / 2.0;
            let x = middle - bounds.width() * metre / 2.0;
            let origin = Point2::new(x - bounds.min.x * metre, bottom - bounds.min.y * metre);
            let view = View { denominator: scale, origin };
            lay(draft, &view, lies);
            // All pictures of a sheet are at one scale.
            draft.page.view.get_or_insert(view);
            if position.is_working() {
                sizes(draft, &view, lies, source.units, bottom);
            }
            let under = if position.is_working() { UNDER - 2.0 } else { 5.0 };
            let says = figure.of.beneath(*position);
            draft.words(Point2::new(middle, bottom - under), &says, style.centred());
            lies.name_ends(draft, &view, start, room);
            if *is_over {
                top = bottom - UNDER - OVER;
            } else {
                left += slot;
            }
        }
    }
}

impl Lying {
    /// Says beside each clamp which way along the bar it is, where nothing else drawn since `start` stands.
    fn name_ends(&self, draft: &mut PageDraft, view: &View, start: usize, room: &Bounds) {
        let mut places = Places::default();
        for mark in &draft.page.marks[start..] {
            match &mark.kind {
                MarkKind::Line { points, .. } => places.avoid(points),
                kind => places.keep_clear(kind.bounds()),
            }
        }
        let style = Style::plain(PaperLayer::Words, USUAL);
        for (at, (clamp, _)) in self.clamps.iter().enumerate() {
            let says = if at == self.tip { "tip" } else { "centre" };
            let (width, height) = (draft.width_of(says, style), USUAL * 1.2);
            let [clamp, tail] = [*clamp, self.tail(at)].map(|place| view.at(place));
            let about = |place: Point2| {
                [1.0, 2.5, 4.5, 7.0].into_iter().flat_map(move |away| {
                    let (left, right) = (place.x - away - width, place.x + away);
                    let (above, below) = (place.y + away, place.y - away - height);
                    let middle = (place.x - width / 2.0, place.y - height / 2.0);
                    [
                        (middle.0, above),
                        (middle.0, below),
                        (left, middle.1),
                        (right, middle.1),
                        (left, above),
                        (right, above),
                        (left, below),
                        (right, below),
                    ]
                })
            };
            let near = about(tail).chain(about(clamp.towards(tail, 0.5))).chain(about(clamp));
            let boxes: Vec<Bounds> = near.map(|(x, y)| sized(x, y, width, height)).collect();
            if let Some((index, _)) = places.place(&boxes, room) {
                let bounds = boxes[index];
                draft.words(Point2::new(bounds.min.x, bounds.min.y + USUAL * 0.2), says, style);
            }
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
