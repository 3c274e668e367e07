//! The layout, to scale: an overview of the bar, and each section large enough to build from.
//!
//! A bar too wide for its sheet at the scale asked for is split over sheets with match lines; it is never shrunk
//! below what the title block states. The shapes are those of the screen ([`bar_scene`]); words have places of their
//! own, so that none covers another.

use crate::plan::Manifold;
use crate::plan::kinds::Reading;
use std::collections::BTreeMap;

use super::bar::{Detail, SceneOptions, bar_scene};
use super::label_places::{Places, along, spread};
use super::layout_tables::{
    LayoutTable, hoses, manifolds, places, places_of, row_cells, row_heading, without_balloons,
};
use super::paper::{
    Anchor, Draft, LARGE, LINE_FEED, Letters, MIDDLE, MarkKind, NARROW, PaperLayer, SMALL, Shade, Style,
    USUAL, View, scale_text, sized,
};
use super::scene::{Dash, Layer, Scene, Shape};
use super::sheet_frame::{SCALES, drawing_area};
use super::{Subject, symbols};
use crate::geometry::{Bounds, Point2, Point3};
use crate::hydraulics::Outcome;
use crate::plan::part::place_offset;
use crate::plan::{
    EntryKey, FeedElement, Item, LaidRouting, PartItem, Port, Project, Row, RowFeed, SectionId,
};
use crate::quantities::{Angle, Measure, UnitSystem};

/// What the drawings are made from.
#[derive(Clone, Copy)]
pub struct SheetSource<'a> {
    /// The project.
    pub project: &'a Project,
    /// One of its routings.
    pub routing: LaidRouting<'a>,
    /// What flows in it, where flows and pressures are to be noted; without numbers nothing is noted.
    pub outcome: Option<&'a Outcome>,
    /// Units of numbers.
    pub units: UnitSystem,
    /// PartItem numbers of the parts list.
    pub items: &'a BTreeMap<EntryKey, usize>,
    /// Width and height of a sheet, millimetres.
    pub size: (f64, f64),
    /// Widths of letters.
    pub letters: &'a dyn Letters,
}

/// One sheet of the layout before it is drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct LayoutSheet {
    /// Whole bar, or one section.
    pub section: Option<SectionId>,
    /// What it shows, in words.
    pub name: String,
    /// From left to right, metres.
    pub span: (f64, f64),
    /// 20 for 1:20.
    pub denominator: f64,
    /// Cut at the left and at the right, with more of the same on another sheet.
    pub cut: (bool, bool),
}

/// An overview smaller than this is split rather than shrunk further.
const SMALLEST_OVERVIEW: f64 = 100.0;
/// Sections are drawn at this scale, or larger where they fit.
const SECTION_SCALE: f64 = 20.0;
/// Shown beyond the ends of what a sheet shows, metres.
const BEYOND: f64 = 0.12;
/// Room at the left for the names of the lines of figures, millimetres.
const NAMES: f64 = 24.0;
/// Room at the right.
const RIGHT_ROOM: f64 = 8.0;
/// Height of the legend.
const LEGEND: f64 = 14.0;
/// From the top of the area to a section: heading and balloons.
const ABOVE_DRAWING: f64 = 27.0;
/// From a section down to the figures of its rows.
const STRIP_GAP: f64 = 13.0;
/// Figures of the rows that would be smaller go to the sheet of tables.
const SMALLEST_FIGURES: f64 = 1.4;
/// Radius of a balloon: item numbers twice as high as dimensions (ISO 6433), in a circle.
const BALLOON: f64 = 4.0;

/// Which sheets show the bar: first the overview, then each section from left to right. `scale` is the denominator
/// asked for: it holds for the overview, and for sections if it is no smaller than 1:20.
pub fn layout_sheets(project: &Project, size: (f64, f64), scale: Option<f64>) -> Vec<LayoutSheet> {
    let area = drawing_area(size.0, size.1);
    let room = area.width() - NAMES - RIGHT_ROOM;
    let bounds = project.bar.bounds();
    if bounds.is_empty() {
        let name = "overview".to_owned();
        let denominator = scale.unwrap_or(SMALLEST_OVERVIEW);
        return vec![LayoutSheet {
            section: None,
            name,
            span: (-1.0, 1.0),
            denominator,
            cut: (false, false),
        }];
    }
    let span = (bounds.min.x - BEYOND, bounds.max.x + BEYOND);
    let depth = bounds.depth() + 2.0;
    let fits = |width: f64, depth: f64, denominator: &f64| {
        width * 1000.0 / denominator <= room && depth * 1000.0 / denominator <= area.depth() - 40.0
    };
    let overview = scale.unwrap_or_else(|| {
        let mut larger = SCALES.into_iter().filter(|scale| *scale < SMALLEST_OVERVIEW);
        larger.find(|scale| fits(span.1 - span.0, depth, scale)).unwrap_or(SMALLEST_OVERVIEW)
    });
    let hinges: Vec<f64> =
        project.bar.sections.iter().flat_map(|one| [one.left.si(), one.right.si()]).collect();
    let mut sheets = pieces(None, "overview", span, overview, room, &hinges);
    let mut sections: Vec<_> = project.bar.sections.iter().collect();
    sections.sort_by(|a, b| a.left.si().total_cmp(&b.left.si()));
    for section in sections {
        let span = (section.left.si() - BEYOND, section.right.si() + BEYOND);
        let asked = scale.filter(|scale| *scale <= SECTION_SCALE);
        let denominator = asked.unwrap_or_else(|| {
            // Balloons, figures of the rows and the legend take their share of the height.
            let deep = |scale: &f64| (bounds.depth() + 0.9) * 1000.0 / scale <= area.depth() - 87.0;
            let wide = |scale: &f64| (span.1 - span.0) * 1000.0 / scale <= room;
            let larger = [10.0, SECTION_SCALE].into_iter().find(|scale| wide(scale) && deep(scale));
            // Too wide is split over sheets; too deep can't be, and takes the next scale.
            let smaller = || [SECTION_SCALE, 50.0, 100.0].into_iter().find(deep);
            larger.or_else(smaller).unwrap_or(SECTION_SCALE)
        });
        sheets.extend(pieces(Some(section.id), &section.name, span, denominator, room, &[]));
    }
    sheets
}

/// A span in pieces that fit the room and are much alike, cut at hinges where that takes no more sheets.
fn pieces(
    section: Option<SectionId>,
    name: &str,
    span: (f64, f64),
    denominator: f64,
    room: f64,
    hinges: &[f64],
) -> Vec<LayoutSheet> {
    let fits = (room * denominator / 1000.0).max(0.05);
    let mut from = span.0;
    let mut all = Vec::new();
    while from < span.1 - 1e-9 && all.len() < 500 {
        let left = ((span.1 - from) / fits - 1e-9).ceil().max(1.0);
        let to = if left <= 1.0 {
            span.1
        } else {
            // As far as must be shown here for the rest to fit, and as far as fits.
            let (nearest, farthest) = (span.1 - (left - 1.0) * fits, from + fits);
            let alike = (from + (span.1 - from) / left).clamp(nearest.min(farthest), farthest);
            let hinge = hinges
                .iter()
                .copied()
                .filter(|x| (nearest - 1e-9..=farthest).contains(x) && *x > from + 0.05);
            hinge.min_by(|a, b| (a - alike).abs().total_cmp(&(b - alike).abs())).unwrap_or(alike)
        };
        let cut = (!all.is_empty(), to < span.1 - 1e-9);
        all.push(LayoutSheet { section, name: name.to_owned(), span: (from, to), denominator, cut });
        from = to;
    }
    let many = all.len();
    if many > 1 {
        for (index, sheet) in all.iter_mut().enumerate() {
            sheet.name = format!("{name}, part {} of {many}", index + 1);
        }
    }
    all
}

/// Draws one of the sheets; `first` is the number that the first of them has in the whole set, and the sheet behind the
/// last of them holds the tables.
pub fn layout_sheet<'a>(
    source: &SheetSource<'a>,
    sheets: &[LayoutSheet],
    index: usize,
    first: usize,
) -> Draft<'a> {
    let name = sheets.get(index).map_or_else(String::new, |sheet| format!("Layout, {}", sheet.name));
    let mut draft = Draft::new(name, source.size.0, source.size.1, source.letters);
    let Some(sheet) = sheets.get(index) else { return draft };
    let area = drawing_area(source.size.0, source.size.1);
    let mut options = SceneOptions { units: source.units, ..SceneOptions::default() };
    options.hidden.extend([Layer::Tags, Layer::Values, Layer::Dimensions]);
    let scene = bar_scene(source.project, source.routing, None, &options);
    let mut sheet_drawing =
        SheetDrawing { source, sheet, sheets, index, first, area, places: Places::default(), scene: &scene };
    if source.project.bar.bounds().is_empty() {
        let at = area.centre();
        draft.words(
            at,
            "The bar has no frame and no rows yet",
            Style::plain(PaperLayer::Words, LARGE).centred(),
        );
        draft.page.view = Some(View { denominator: sheet.denominator, origin: at });
        return draft;
    }
    if sheet.section.is_some() {
        sheet_drawing.section(&mut draft);
    } else {
        sheet_drawing.overview(&mut draft);
    }
    draft
}

struct SheetDrawing<'a, 'b> {
    source: &'b SheetSource<'a>,
    sheet: &'b LayoutSheet,
    sheets: &'b [LayoutSheet],
    index: usize,
    first: usize,
    area: Bounds,
    places: Places,
    scene: &'b Scene,
}

/// Something with a tag or a length to write beside it.
struct Label {
    candidates: Vec<(Bounds, bool)>,
    words: String,
    from: Point2,
    /// What it belongs to, in boxes: a part's symbol, or the stretches of a hose.
    own: Vec<Bounds>,
    /// Names a hose; a part otherwise.
    is_hose: bool,
}

/// From box to box, 0 where they meet.
fn gap(a: &Bounds, b: &Bounds) -> f64 {
    let across = (a.min.x - b.max.x).max(b.min.x - a.max.x).max(0.0);
    let along = (a.min.y - b.max.y).max(b.min.y - a.max.y).max(0.0);
    across.hypot(along)
}

impl Label {
    /// How far from words in a box to what they name.
    fn away(&self, words: &Bounds) -> f64 {
        self.own.iter().map(|own| gap(own, words)).fold(f64::INFINITY, f64::min)
    }
}

impl<'a> SheetDrawing<'a, '_> {
    /// Front to back what stands within the span, metres; hoses that lead far off are cut.
    fn depth(&self, beyond: f64) -> (f64, f64) {
        let bar = self.source.project.bar.bounds();
        let (mut back, mut front) = (bar.min.y, bar.max.y);
        let mut reach = bar;
        for item in &self.scene.items {
            if item.subject.is_none() {
                continue;
            }
            let points: &[Point2] = match &item.shape {
                Shape::Line { points, .. } | Shape::Polygon { points } => points,
                Shape::Circle { centre, .. } => std::slice::from_ref(centre),
                Shape::Text(_) => continue,
            };
            // Parts are shown whole, hoses that lead far off are cut.
            let whole = item.layer == Layer::Parts;
            for point in
                points.iter().filter(|point| (self.sheet.span.0..=self.sheet.span.1).contains(&point.x))
            {
                if whole && (bar.min.y - 2.0..=bar.max.y + 2.0).contains(&point.y) {
                    reach.add(*point);
                }
                back = back.min(point.y);
                front = front.max(point.y);
            }
        }
        let (low, high) = (reach.min.y.min(bar.min.y - beyond), reach.max.y.max(bar.max.y + beyond));
        (back.max(low) - 0.1, front.min(high) + 0.1)
    }

    fn view(&self, top: f64, front: f64) -> View {
        let scale = 1000.0 / self.sheet.denominator;
        let width = (self.sheet.span.1 - self.sheet.span.0) * scale;
        let left = self.area.min.x + NAMES + (self.area.width() - NAMES - RIGHT_ROOM - width) / 2.0;
        let origin = Point2::new(left - self.sheet.span.0 * scale, top - front * scale);
        View { denominator: self.sheet.denominator, origin }
    }

    fn window(&self, view: &View, depth: (f64, f64)) -> Bounds {
        Bounds {
            min: view.at(Point2::new(self.sheet.span.0, depth.0)),
            max: view.at(Point2::new(self.sheet.span.1, depth.1)),
        }
    }

    /// What is too deep for the sheet at this scale ends above `lowest`, and the sheet says so.
    fn cut_off(&self, draft: &mut Draft, window: &mut Bounds, lowest: f64) {
        if window.min.y >= lowest {
            return;
        }
        window.min.y = lowest;
        let says = "The rear is cut off: too deep for this paper at this scale";
        let style = Style::plain(PaperLayer::Words, SMALL).bold();
        draft.words(Point2::new(self.area.min.x + 16.0, self.area.max.y - 15.0), says, style);
    }

    /// The heading, and beside it what must be known to read the sheet.
    fn head(&self, draft: &mut Draft, heading: &str, notes: &[String]) {
        let style = Style::plain(PaperLayer::Words, LARGE).bold();
        let at = Point2::new(self.area.min.x + 5.0, self.area.max.y - 9.0);
        let bounds = draft.words(at, heading, style);
        let style = Style::plain(PaperLayer::Words, SMALL).shade(Shade::SOFT);
        let left = bounds.max.x + 8.0;
        // Below the centring mark.
        let mut y = self.area.max.y - 7.2;
        let room = self.area.max.x - 4.0 - left;
        let said = notes.iter().filter(|note| !note.is_empty());
        let lines: Vec<String> = said.flat_map(|note| draft.wrapped(note, style, room)).collect();
        for line in lines {
            draft.words(Point2::new(left, y), &line, style);
            y -= SMALL * LINE_FEED;
        }
    }

    /// The number of the sheet with all tables.
    const fn tables_sheet(&self) -> usize {
        self.first + self.sheets.len()
    }

    fn reading(&self) -> String {
        format!(
            "Plan view at {}. Bores are inside diameters; lengths are those of the cut list, with slack and the way down \
             to openers. Where the parts sit, manifolds, hoses and rows in figures: sheet {}",
            scale_text(self.sheet.denominator),
            self.tables_sheet()
        )
    }

    /// Number of the sheet that shows the same beyond a cut, or the neighbouring section.
    fn neighbour(&self, right: bool) -> Option<(usize, String)> {
        let is_cut = if right { self.sheet.cut.1 } else { self.sheet.cut.0 };
        let numbered = |index: usize| Some((self.first + index, self.sheets.get(index)?.name.clone()));
        if is_cut {
            return numbered(if right { self.index + 1 } else { self.index.checked_sub(1)? });
        }
        self.sheet.section?;
        let edge = if right { self.sheet.span.1 - BEYOND } else { self.sheet.span.0 + BEYOND };
        let other = self.sheets.iter().position(|other| {
            let theirs = if right { other.span.0 + BEYOND } else { other.span.1 - BEYOND };
            let theirs_cut = if right { other.cut.0 } else { other.cut.1 };
            other.section.is_some()
                && other.section != self.sheet.section
                && !theirs_cut
                && (theirs - edge).abs() < 0.02
        })?;
        numbered(other)
    }

    /// The lines along which neighbouring sheets meet.
    fn match_lines(&self, draft: &mut Draft, view: &View, window: &Bounds) {
        let style = Style::plain(PaperLayer::Hinge, SMALL).bold();
        for right in [false, true] {
            let Some((number, name)) = self.neighbour(right) else { continue };
            let is_cut = if right { self.sheet.cut.1 } else { self.sheet.cut.0 };
            let edge = if right { self.sheet.span.1 } else { self.sheet.span.0 };
            let inward = if is_cut { 0.0 } else { BEYOND };
            let x = view.at(Point2::new(if right { edge - inward } else { edge + inward }, 0.0)).x;
            let (low, high) = (window.min.y - 3.0, window.max.y + 3.0);
            // Two broken lines over each other would read as one unbroken: a hinge there is the match line.
            let hinges = self.source.project.bar.sections.iter().filter_map(|section| section.hinge);
            let on_hinge = |hinge: crate::plan::Hinge| (view.at(hinge.point.flat()).x - x).abs() < 0.5;
            if !hinges.into_iter().any(on_hinge) {
                let line = [Point2::new(x, low), Point2::new(x, high)];
                draft.line(PaperLayer::Hinge, &line, MIDDLE, Dash::LongDashDot);
            }
            let outer = if right { window.max.x + 4.5 } else { window.min.x - 2.0 };
            let words = format!("Match line: {name}, sheet {number}");
            // Below the heading, however long.
            let highest = self.area.max.y - 16.0 - draft.width_of(&words, style) / 2.0;
            draft.words_up(Point2::new(outer, window.centre().y.min(highest)), &words, style.centred());
        }
    }

    /// What the scene draws, kept in mind for the words to come.
    fn shapes(&mut self, draft: &mut Draft, view: &View, window: &Bounds) {
        let start = draft.page.marks.len();
        draft.scene(self.scene, view, window);
        draft.page.view = Some(*view);
        for mark in &draft.page.marks[start..] {
            match (&mark.kind, mark.layer) {
                (MarkKind::Line { points, .. }, PaperLayer::Hose | PaperLayer::Tube) => {
                    self.places.avoid(points);
                }
                (MarkKind::Line { points, .. }, PaperLayer::Hinge) => self.places.avoid(points),
                (_, PaperLayer::Part | PaperLayer::Row) => self.places.keep_clear(mark.kind.bounds()),
                _ => {}
            }
        }
    }

    /// The box of a part's symbol on the sheet, if it stands there.
    fn part_bounds(draft: &Draft, subject: Subject) -> Option<Bounds> {
        let marks = draft.page.marks.iter().filter(|mark| mark.subject == Some(subject));
        let boxes = marks.filter(|mark| mark.layer == PaperLayer::Part).map(|mark| mark.kind.bounds());
        let all = Bounds::around(boxes.flat_map(|bounds| [bounds.min, bounds.max]));
        (!all.is_empty()).then_some(all)
    }

    /// Candidate boxes around a box for words of a size, nearest first.
    fn around(bounds: &Bounds, width: f64, height: f64) -> Vec<(Bounds, bool)> {
        let middle = bounds.centre();
        let mut all = Vec::new();
        for away in [1.0, 2.5, 4.5, 7.0, 10.0, 14.0] {
            let (left, right) = (bounds.min.x - away - width, bounds.max.x + away);
            let (above, below) = (bounds.max.y + away, bounds.min.y - away - height);
            let centred = (middle.x - width / 2.0, middle.y - height / 2.0);
            for (x, y) in [
                (right, centred.1),
                (left, centred.1),
                (centred.0, above),
                (centred.0, below),
                (bounds.max.x + away * 0.7, above),
                (bounds.min.x - away * 0.7 - width, above),
                (bounds.max.x + away * 0.7, below),
                (bounds.min.x - away * 0.7 - width, below),
            ] {
                all.push((sized(x, y, width, height), false));
            }
        }
        all
    }

    /// Writes labels, the ones with the fewest places first; those without a place are left away and counted.
    fn write_labels(&mut self, draft: &mut Draft, labels: Vec<Label>, window: &Bounds) {
        let layer = PaperLayer::Words;
        let style = Style::plain(layer, SMALL);
        for mark in &draft.page.marks {
            if matches!(mark.kind, MarkKind::Words(_)) {
                self.places.keep_clear(mark.kind.bounds());
            }
        }
        for label in &labels {
            let boxes: Vec<Bounds> = label.candidates.iter().map(|(bounds, _)| *bounds).collect();
            let Some((index, crosses)) = self.places.place(&boxes, &window.grown(6.0)) else { continue };
            let (bounds, upright) = label.candidates[index];
            if crosses {
                // Lines end at the words instead of running through them.
                draft.area(layer, &bounds.grown(0.2), 0.0, Some(Shade::PAPER));
            }
            if upright {
                draft.words_up(Point2::new(bounds.max.x - SMALL * 0.3, bounds.min.y), &label.words, style);
            } else {
                draft.words(Point2::new(bounds.min.x, bounds.min.y + SMALL * 0.3), &label.words, style);
            }
            // Far off, or as near to another of its kind, a leader says what it belongs to.
            let near = Point2::new(
                label.from.x.clamp(bounds.min.x, bounds.max.x),
                label.from.y.clamp(bounds.min.y, bounds.max.y),
            );
            let away = label.away(&bounds);
            let mistaken = labels
                .iter()
                .filter(|other| other.is_hose == label.is_hose && other.words != label.words)
                .any(|other| other.away(&bounds) < away + 0.4);
            if away > 4.0 || mistaken && near.distance(label.from) > 1.5 {
                draft.line(PaperLayer::Notes, &[near, label.from], NARROW, Dash::Solid);
            }
        }
    }

    fn labels(&self, draft: &Draft, long: bool, window: &Bounds) -> Vec<Label> {
        let routing = self.source.routing;
        let catalogue = &self.source.project.catalogue;
        let height = SMALL * 1.3;
        let mut labels = Vec::new();
        for part in &routing.parts {
            let Some(bounds) = Self::part_bounds(draft, Subject::Part(part.id)) else { continue };
            let mut words = part.tag.clone();
            let item = catalogue.item(&part.entry);
            if long {
                let size = item.map(|item| item.size(self.source.units)).unwrap_or_default();
                if !size.is_empty()
                    && !item.is_some_and(|item| item.facts().reading == Some(Reading::Pressure))
                {
                    words = format!("{words} {size}");
                }
                let pressure = self.source.outcome.and_then(|outcome| outcome.part(part.id)?.pressure);
                if let Some(pressure) = pressure
                    && item.is_some_and(|item| {
                        item.is_for_rows() || item.facts().reading == Some(Reading::Pressure)
                    })
                {
                    words = format!("{words}, {}", Measure::Pressure.text(pressure.si(), self.source.units));
                }
            }
            let width = self.source.letters.width(&words, false) * SMALL;
            labels.push(Label {
                candidates: Self::around(&bounds, width, height),
                words,
                from: bounds.centre(),
                own: vec![bounds],
                is_hose: false,
            });
        }
        for run in &routing.runs {
            let pieces: Vec<Vec<Point2>> = draft
                .page
                .marks
                .iter()
                .filter(|mark| mark.subject == Some(Subject::Run(run.id)))
                .filter_map(|mark| match &mark.kind {
                    MarkKind::Line { points, .. } => Some(points.clone()),
                    _ => None,
                })
                .collect();
            if pieces.is_empty() {
                continue;
            }
            let mut words = run.tag.clone();
            if long {
                words = self.hose_words(run);
            }
            let width = self.source.letters.width(&words, false) * SMALL;
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
            labels.push(Label { candidates, words, from, own, is_hose: true });
        }
        // Who has the least choice chooses first.
        labels.sort_by_key(|label| label.candidates.len());
        labels
    }

    /// `H3 Ø25 mm, 4520 mm`, with the flow where it is asked for.
    fn hose_words(&self, run: &crate::plan::Run) -> String {
        let SheetSource { project, routing, units, .. } = *self.source;
        let stock = project.catalogue.stock(&run.line.stock);
        let bore = stock.map_or_else(String::new, |stock| {
            format!(" Ø{}", Measure::Bore.short_text(stock.bore.si(), units))
        });
        let length = routing.geometry.run(run.id).map_or_else(String::new, |laid| {
            format!(", {}", Measure::CutLength.short_text(laid.cut(units).si(), units))
        });
        let flow = self
            .source
            .outcome
            .and_then(|outcome| outcome.run(run.id)?.flow)
            .map_or_else(String::new, |flow| {
                format!(", {}", Measure::TotalFlow.text(flow.si().abs(), units))
            });
        format!("{}{bore}{length}{flow}", run.tag)
    }

    fn section(&mut self, draft: &mut Draft<'a>) {
        let depth = self.depth(0.45);
        let scale = 1000.0 / self.sheet.denominator;
        let strip_height = row_heading(self.source).len() as f64 * SMALL * 2.0 + 4.0;
        let places = self.sheet.section.map(|id| places_of(self.source, id)).unwrap_or_default();
        let places_height =
            if places.lines.is_empty() { 0.0 } else { (places.lines.len() + 1) as f64 * TABLE_LINE + 5.0 };
        // Balloons over the drawing, figures of the rows and places of the parts under it, all in the middle of what is
        // left; the places go to the sheet of tables where they have no room here.
        let free = self.area.depth() - LEGEND - 4.0;
        let needed = (depth.1 - depth.0) * scale + ABOVE_DRAWING + STRIP_GAP + strip_height;
        let shows_places = places_height > 0.0 && needed + places_height <= free;
        let needed = needed + if shows_places { places_height } else { 0.0 };
        let spare = (free - needed).max(0.0);
        let top = self.area.max.y - ABOVE_DRAWING - spare / 2.0;
        let view = self.view(top, depth.1);
        let lowest = self.area.min.y + LEGEND + strip_height + STRIP_GAP;
        let mut window = self.window(&view, depth);
        self.cut_off(draft, &mut window, lowest);
        self.head(draft, &self.heading(), &[self.reading(), without_balloons(self.source)]);
        self.travel(draft);
        let strip_top = window.min.y - STRIP_GAP;
        self.row_strip(draft, &view, &window, strip_top);
        if shows_places {
            let widths = small_table_widths(draft, &places);
            let width: f64 = widths.iter().sum();
            let left = (window.centre().x - width / 2.0).min(self.area.max.x - 4.0 - width);
            let at = Point2::new(left.max(self.area.min.x + 4.0), strip_top - strip_height - 1.0);
            small_table(draft, at, &places, &widths);
        }
        self.shapes(draft, &view, &window);
        self.outlet_numbers(draft, &view);
        self.match_lines(draft, &view, &window);
        self.balloons(draft, &window);
        let labels = self.labels(draft, true, &window);
        self.write_labels(draft, labels, &window);
        self.legend(draft);
    }

    /// Numbers of the outlets on the manifolds; where they would be too small to read, of the first and last.
    fn outlet_numbers(&self, draft: &mut Draft, view: &View) {
        let SheetSource { project, routing, .. } = *self.source;
        for part in &routing.parts {
            let Some(item @ PartItem::Manifold(Manifold { outlets, spacing, .. })) =
                project.catalogue.item(&part.entry)
            else {
                continue;
            };
            if Self::part_bounds(draft, Subject::Part(part.id)).is_none() {
                continue;
            }
            let Some(placed) = routing.geometry.anchors.part(part.id) else { continue };
            let apart = spacing.si() * view.millimetres();
            let all = apart >= 2.2;
            let height = if all { (apart * 0.5).min(1.3) } else { 1.2 };
            let style = Style::plain(PaperLayer::Words, height).centred();
            for number in (1..=*outlets).filter(|number| all || *number == 1 || number == outlets) {
                let offset = item.port_offset(Port::Outlet(number));
                let inside = Point2::new(offset.x, offset.y * 0.45);
                let centre = view.at(place_offset(placed.at, placed.turn, inside).flat());
                draft.words(Point2::new(centre.x, centre.y - height / 2.0), &number.to_string(), style);
            }
        }
    }

    fn heading(&self) -> String {
        let units = self.source.units;
        let section = self.sheet.section.and_then(|id| self.source.project.bar.section(id));
        let Some(section) = section else { return "Overview".to_owned() };
        let rows: Vec<&Row> =
            self.source.project.bar.rows.iter().filter(|row| row.section == section.id).collect();
        let range = match (rows.iter().map(|row| row.number).min(), rows.iter().map(|row| row.number).max()) {
            (Some(first), Some(last)) if first != last => format!(", rows {first} to {last}"),
            (Some(first), _) => format!(", row {first}"),
            _ => String::new(),
        };
        format!(
            "{}, {}{range}",
            capital(&self.sheet.name),
            Measure::Distance.text(section.width().si(), units)
        )
    }

    /// An arrow forward at the upper left.
    fn travel(&self, draft: &mut Draft) {
        let layer = PaperLayer::Notes;
        let (x, y) = (self.area.min.x + 9.0, self.area.max.y - 30.0);
        draft.line(layer, &[Point2::new(x, y), Point2::new(x, y + 12.0)], MIDDLE, Dash::Solid);
        let points =
            [(-1.4, 8.0), (1.4, 8.0), (0.0, 12.0)].map(|(dx, dy)| Point2::new(x + dx, y + dy)).to_vec();
        draft.mark(layer, MarkKind::Area { points, line: None, fill: Some(Shade::INK) });
        draft.words(Point2::new(x, y - 3.4), "travel", Style::plain(layer, SMALL).centred());
    }

    /// PartItem numbers over the drawing, in the order of what they point at.
    fn balloons(&mut self, draft: &mut Draft, window: &Bounds) {
        let routing = self.source.routing;
        let mut targets: Vec<(Point2, usize)> = Vec::new();
        for part in &routing.parts {
            let Some(number) = self.source.items.get(&part.entry) else { continue };
            if let Some(bounds) = Self::part_bounds(draft, Subject::Part(part.id)) {
                let long = bounds.width() > 14.0;
                let x = if long { bounds.min.x + bounds.width() * 0.25 } else { bounds.centre().x };
                targets.push((Point2::new(x, bounds.max.y - bounds.depth() * 0.3), *number));
            }
        }
        let mut seen = std::collections::BTreeSet::new();
        for run in &routing.runs {
            let Some(number) = self.source.items.get(&run.line.stock) else { continue };
            // One balloon a stock is enough on a sheet.
            if !seen.insert(*number) {
                continue;
            }
            let pieces = draft.page.marks.iter().filter(|mark| mark.subject == Some(Subject::Run(run.id)));
            let longest = pieces
                .filter_map(
                    |mark| if let MarkKind::Line { points, .. } = &mark.kind { Some(points) } else { None },
                )
                .flat_map(|points| points.windows(2))
                .max_by(|a, b| a[0].distance(a[1]).total_cmp(&b[0].distance(b[1])));
            if let Some(pair) = longest {
                let at = |t: f64| {
                    Point2::new(
                        pair[0].x + (pair[1].x - pair[0].x) * t,
                        pair[0].y + (pair[1].y - pair[0].y) * t,
                    )
                };
                targets.push((at(0.3), *number));
            } else {
                seen.remove(number);
            }
        }
        for feed in &routing.feeds {
            let Some(FeedElement::Tube(tube)) =
                feed.elements().find(|one| matches!(one, FeedElement::Tube(_)))
            else {
                continue;
            };
            let Some(number) = self.source.items.get(&tube.line.stock) else { continue };
            if !seen.insert(*number) {
                continue;
            }
            let line = draft.page.marks.iter().find_map(|mark| match &mark.kind {
                MarkKind::Line { points, .. } if mark.subject == Some(Subject::Feed(feed.id)) => points
                    .windows(2)
                    .max_by(|a, b| a[0].distance(a[1]).total_cmp(&b[0].distance(b[1])))
                    .map(|pair| (pair[0], pair[1])),
                _ => None,
            });
            match line {
                Some((from, to)) => targets
                    .push((Point2::new(f64::midpoint(from.x, to.x), f64::midpoint(from.y, to.y)), *number)),
                None => {
                    seen.remove(number);
                }
            }
        }
        targets.sort_by(|a, b| a.0.x.total_cmp(&b.0.x).then(a.0.y.total_cmp(&b.0.y)));
        let wanted: Vec<f64> = targets.iter().map(|(at, _)| at.x).collect();
        let y = window.max.y + 9.0;
        let from = (window.min.x - 10.0).max(self.area.min.x + 24.0);
        let to = (window.max.x + 4.0).max(from + 10.0);
        for ((target, number), x) in targets.iter().zip(spread(&wanted, 2.0 * BALLOON + 2.0, from, to)) {
            let centre = Point2::new(x, y);
            let away = centre.distance(*target).max(1e-9);
            let edge = Point2::new(x + (target.x - x) / away * BALLOON, y + (target.y - y) / away * BALLOON);
            draft.line(PaperLayer::Notes, &[edge, *target], NARROW, Dash::Solid);
            draft.circle(PaperLayer::Notes, *target, 0.5, 0.0, Some(Shade::INK));
            self.places.avoid(&[edge, *target]);
            self.places.keep_clear(Bounds { min: centre, max: centre }.grown(BALLOON));
            balloon(draft, centre, *number);
        }
    }

    /// One column a row below the drawing: what feeds it and how.
    fn row_strip(&mut self, draft: &mut Draft, view: &View, window: &Bounds, top: f64) {
        let project = self.source.project;
        let layer = PaperLayer::Words;
        let span = self.sheet.span;
        let mut rows: Vec<&Row> = project
            .bar
            .rows
            .iter()
            .filter(|row| self.sheet.section.is_none_or(|id| row.section == id))
            .filter(|row| (span.0..=span.1).contains(&row.x.si()))
            .collect();
        rows.sort_by(|a, b| a.x.si().total_cmp(&b.x.si()));
        if rows.is_empty() {
            return;
        }
        let names = row_heading(self.source);
        let columns: Vec<Vec<String>> = rows.iter().map(|row| row_cells(self.source, row)).collect();
        let feed_height = SMALL * 2.0;
        let widest = columns.iter().flatten().map(|cell| self.source.letters.width(cell, false) * SMALL);
        let gap = widest.fold(6.0, f64::max) + 1.6;
        let at: Vec<f64> = rows.iter().map(|row| view.at(Point2::new(row.x.si(), 0.0)).x).collect();
        let (leftmost, rightmost) =
            (self.area.min.x + NAMES + gap / 2.0, self.area.max.x - RIGHT_ROOM / 2.0 - gap / 2.0);
        let columns_at = spread(&at, gap, leftmost, rightmost);
        // Crowded columns are written smaller rather than over each other, but not too small to read.
        let narrowest = columns_at.windows(2).map(|pair| pair[1] - pair[0]).fold(gap, f64::min).max(1.0);
        let height = SMALL.min(SMALL * (narrowest - 0.6) / (gap - 0.6));
        if height < SMALLEST_FIGURES {
            let says = format!("Rows in figures: sheet {}", self.tables_sheet());
            let style = Style::plain(layer, SMALL).bold().centred();
            draft.words(Point2::new(window.centre().x, top - 2.0 * feed_height), &says, style);
            return;
        }
        let style = Style::plain(layer, height).centred();
        let left = window.min.x.min(columns_at[0] - gap / 2.0);
        let right = window.max.x.max(columns_at[columns_at.len() - 1] + gap / 2.0);
        for (line, name) in names.iter().enumerate() {
            let y = top - (line as f64 + 1.0) * feed_height;
            let heading = Style::plain(layer, SMALL).shade(Shade::SOFT).anchor(Anchor::Right);
            draft.words(Point2::new(left - 1.5, y + SMALL * 0.45), name, heading);
            draft.shaded_line(
                layer,
                &[Point2::new(left, y), Point2::new(right, y)],
                NARROW,
                Dash::Solid,
                Shade::BEHIND,
            );
        }
        for (((row, cells), x), wanted) in rows.iter().zip(&columns).zip(&columns_at).zip(&at) {
            draft.subject = Some(Subject::Row(row.id));
            for (line, cell) in cells.iter().enumerate() {
                let y = top - (line as f64 + 1.0) * feed_height + SMALL * 0.45;
                let style = if line == 0 { style.bold() } else { style };
                draft.words(Point2::new(*x, y), cell, style);
            }
            draft.subject = None;
            // From the outlet straight down, then across to its column.
            let outlet = view.at(project.bar.outlet(row).flat());
            let points = [
                outlet,
                Point2::new(*wanted, top + STRIP_GAP - 4.0),
                Point2::new(*x, top + 1.5),
                Point2::new(*x, top),
            ];
            draft.shaded_line(PaperLayer::Notes, &points, NARROW, Dash::Solid, Shade::BEHIND);
        }
    }

    fn overview(&mut self, draft: &mut Draft<'a>) {
        let mut depth = self.depth(4.0);
        let (top, lowest) = (self.area.max.y - 26.0, self.area.min.y + LEGEND + 24.0);
        // Where there is no room for all, the hose from the pump is cut before the bar is.
        let room = (top - lowest) * self.sheet.denominator / 1000.0;
        if depth.1 - depth.0 > room {
            depth.1 = (depth.0 + room).max(self.depth(0.0).1).min(depth.1);
        }
        let view = self.view(top, depth.1);
        let mut window = self.window(&view, depth);
        self.cut_off(draft, &mut window, lowest);
        self.head(draft, &capital(&self.sheet.name), &[self.reading()]);
        self.travel(draft);
        self.shapes(draft, &view, &window);
        self.match_lines(draft, &view, &window);
        let below = self.dimensions(draft, &view, &window);
        let labels = self.labels(draft, false, &window);
        self.write_labels(draft, labels, &window);
        if self.index == 0 {
            self.tables(draft, below - 8.0, self.area.min.y + LEGEND + 3.0);
        }
        self.legend(draft);
    }

    /// Names of sections over the bar, their widths and rows under it; answers how far down that reaches.
    fn dimensions(&mut self, draft: &mut Draft, view: &View, window: &Bounds) -> f64 {
        let project = self.source.project;
        let style = Style::plain(PaperLayer::Words, SMALL).centred();
        let mut edges: Vec<f64> = Vec::new();
        let y = window.min.y - 6.0;
        for section in &project.bar.sections {
            let (left, right) =
                (section.left.si().max(self.sheet.span.0), section.right.si().min(self.sheet.span.1));
            if right - left < 0.05 {
                continue;
            }
            edges.extend([left, right]);
            let (from, to) = (view.at(Point2::new(left, 0.0)).x, view.at(Point2::new(right, 0.0)).x);
            let middle = f64::midpoint(from, to);
            let room = to - from - 1.0;
            let rows: Vec<u32> = project
                .bar
                .rows
                .iter()
                .filter(|row| row.section == section.id)
                .map(|row| row.number)
                .collect();
            let rows = match (rows.iter().min(), rows.iter().max()) {
                (Some(first), Some(last)) if first != last => format!("rows {first} to {last}"),
                (Some(first), _) => format!("row {first}"),
                _ => "no rows".to_owned(),
            };
            let sheet = self.sheets.iter().position(|sheet| sheet.section == Some(section.id));
            let sheet = sheet.map_or_else(String::new, |index| format!("sheet {}", self.first + index));
            let mut line = window.max.y + 4.0;
            for (words, style) in [(sheet, style.shade(Shade::SOFT)), (section.name.clone(), style.bold())] {
                for part in draft.wrapped(&words, style, room).iter().rev() {
                    draft.words(Point2::new(middle, line), part, style);
                    line += SMALL * LINE_FEED;
                }
            }
            let whole = (left, right) == (section.left.si(), section.right.si());
            let width = if whole {
                Measure::Distance.text(section.width().si(), self.source.units)
            } else {
                String::new()
            };
            dimension(draft, (from, to), y, &width, true);
            for (index, part) in draft.wrapped(&rows, style, room).iter().enumerate() {
                let y = y - SMALL * LINE_FEED * (index + 1) as f64 - 0.6;
                draft.words(Point2::new(middle, y), part, style);
            }
        }
        let bounds = project.bar.bounds();
        let whole = self.sheet.cut == (false, false);
        if whole && !edges.is_empty() {
            let (from, to) = (view.at(bounds.min).x, view.at(bounds.max).x);
            let distance = |metres: f64| Measure::Distance.text(metres, self.source.units);
            // The frame may end short of its sections, whose ends lie half a row beyond the outer rows.
            let over_frame = project
                .bar
                .sections
                .iter()
                .flat_map(|section| &section.members)
                .any(|member| member.from.x.min(member.to.x) <= bounds.min.x + 1e-6);
            let over = if over_frame { "over the frame" } else { "over the outer rows" };
            let sections = edges.iter().copied().fold(f64::NEG_INFINITY, f64::max)
                - edges.iter().copied().fold(f64::INFINITY, f64::min);
            let words =
                format!("{} {over}; sections together {}", distance(bounds.width()), distance(sections));
            dimension(draft, (from, to), y - 12.0, &words, false);
        }
        y - 16.0
    }

    /// Manifolds, hoses and places in figures, side by side, those that have room; the sheet of tables has all.
    fn tables(&self, draft: &mut Draft, top: f64, bottom: f64) {
        let mut x = self.area.min.x + 8.0;
        for table in [manifolds(self.source), hoses(self.source), places(self.source)] {
            let widths = small_table_widths(draft, &table);
            let width: f64 = widths.iter().sum();
            let height = (table.lines.len() + 1) as f64 * TABLE_LINE;
            if table.lines.is_empty() || x + width > self.area.max.x - 4.0 || height > top - bottom {
                continue;
            }
            small_table(draft, Point2::new(x, top), &table, &widths);
            x += width + 8.0;
        }
    }

    /// What the signs mean, for those that stand on the sheet.
    fn legend(&self, draft: &mut Draft) {
        let layer = PaperLayer::Sheet;
        let SheetSource { project, routing, .. } = *self.source;
        let y = self.area.min.y + LEGEND;
        let line = [Point2::new(self.area.min.x, y), Point2::new(self.area.max.x, y)];
        draft.line(layer, &line, NARROW, Dash::Solid);
        let has = |layer: PaperLayer| draft.page.marks.iter().any(|mark| mark.layer == layer);
        let areas = |layer: PaperLayer| {
            draft
                .page
                .marks
                .iter()
                .any(|mark| mark.layer == layer && matches!(mark.kind, MarkKind::Area { .. }))
        };
        let mut signs: Vec<(&'static str, Sign)> = Vec::new();
        let mut add = |there: bool, name: &'static str, sign: Sign| {
            if there {
                signs.push((name, sign));
            }
        };
        add(has(PaperLayer::Frame), "frame member", Sign::Frame);
        let span = self.sheet.span;
        let hinges = project.bar.sections.iter().filter_map(|section| section.hinge);
        let hinges: Vec<_> = hinges.filter(|one| one.point.x >= span.0 && one.point.x <= span.1).collect();
        let drawn = has(PaperLayer::Hinge);
        add(drawn && hinges.iter().any(|one| !one.is_upright()), "hinge, fore and aft", Sign::Hinge);
        add(drawn && hinges.iter().any(crate::plan::Hinge::is_upright), "hinge, upright", Sign::UprightHinge);
        add(areas(PaperLayer::Hose), "from the pump", Sign::Pump);
        add(has(PaperLayer::Hose), "hose", Sign::Line(0.9));
        add(has(PaperLayer::Tube), "delivery tube", Sign::Line(0.3));
        let mut kinds: BTreeMap<&'static str, PartItem> = BTreeMap::new();
        for part in &routing.parts {
            if let Some(item) = project.catalogue.item(&part.entry)
                && Self::part_bounds(draft, Subject::Part(part.id)).is_some()
            {
                kinds.entry(item.kind()).or_insert(*item);
            }
        }
        for (name, item) in kinds {
            add(true, name, Sign::Part(item));
        }
        let mut in_feeds: BTreeMap<&'static str, Item> = BTreeMap::new();
        // Those of rows that stand on this sheet.
        let here = |feed: &&RowFeed| {
            feed.branches.iter().any(|branch| {
                project.bar.row(branch.row).is_some_and(|row| row.x.si() >= span.0 && row.x.si() <= span.1)
            })
        };
        for element in routing.feeds.iter().filter(here).flat_map(RowFeed::elements) {
            if let Some(item) = project
                .catalogue
                .any_item(element.entry())
                .filter(|item| symbols::is_drawn_in_feed(item.item_kind()))
            {
                in_feeds.entry(item.kind()).or_insert(*item);
            }
        }
        for (name, item) in in_feeds {
            add(areas(PaperLayer::Tube), name, Sign::InFeed(item));
        }
        add(has(PaperLayer::Row), "outlet of a row", Sign::Outlet);
        let balloons = self.sheet.section.is_some() && has(PaperLayer::Notes);
        add(balloons, "item number in the parts list", Sign::Balloon);
        let style = Style::plain(layer, SMALL);
        let step_y = LEGEND / 2.0;
        let (left, right) = (self.area.min.x + 5.0, self.area.max.x - 3.0);
        let mut at = Point2::new(left, self.area.min.y + LEGEND - step_y * 0.5);
        draft.words(Point2::new(at.x, at.y - SMALL / 2.0), "Legend", style.bold());
        at.x += draft.width_of("Legend", style.bold()) + 5.0;
        for (name, sign) in signs {
            let size = 10.0 + draft.width_of(name, style) + 4.5;
            if at.x + size > right {
                at = Point2::new(left, at.y - step_y);
            }
            draw_sign(draft, &sign, at);
            draft.words(Point2::new(at.x + 10.0, at.y - SMALL / 2.0), name, style);
            at.x += size;
        }
    }
}

/// A sign of the legend.
enum Sign {
    Frame,
    Hinge,
    /// A pin seen from above.
    UprightHinge,
    Pump,
    /// A hose or tube of a width.
    Line(f64),
    Part(PartItem),
    /// What sits in a row's tube.
    InFeed(Item),
    Outlet,
    Balloon,
}

/// A sign within the nine millimetres from a point on.
fn draw_sign(draft: &mut Draft, sign: &Sign, at: Point2) {
    let layer = PaperLayer::Sheet;
    let centre = Point2::new(at.x + 4.5, at.y);
    let across = [at, Point2::new(at.x + 8.0, at.y)];
    match sign {
        Sign::Frame => draft.area(layer, &sized(at.x, at.y - 1.2, 8.0, 2.4), 0.0, Some(Shade::FRAME)),
        Sign::Hinge => draft.line(layer, &across, MIDDLE, Dash::LongDashDot),
        Sign::UprightHinge => {
            draft.line(layer, &across, MIDDLE, Dash::LongDashDot);
            draft.circle(layer, centre, 1.0, NARROW, Some(Shade::PAPER));
        }
        Sign::Pump => {
            let points = [(-1.4, 1.4), (1.4, 1.4), (0.0, -1.4)];
            let points = points.map(|(x, y)| Point2::new(centre.x + x, centre.y + y)).to_vec();
            draft.mark(layer, MarkKind::Area { points, line: None, fill: Some(Shade::INK) });
        }
        Sign::Line(width) => draft.line(layer, &across, *width, Dash::Solid),
        Sign::Part(item) => sample(draft, item, centre),
        Sign::InFeed(item) => {
            let subject = Subject::Row(crate::plan::RowId(0));
            let items = symbols::in_feed(item.item_kind(), Point3::default(), Angle::ZERO, subject);
            to_legend(draft, items, View { denominator: 10.0, origin: centre });
        }
        Sign::Outlet => draft.circle(layer, centre, 1.3, NARROW, None),
        Sign::Balloon => {
            draft.circle(layer, centre, 2.6, NARROW, None);
            let style = Style::plain(layer, SMALL).centred();
            draft.words(Point2::new(centre.x, centre.y - SMALL / 2.0), "n", style);
        }
    }
}

/// A part's symbol at its least size.
fn sample(draft: &mut Draft, item: &PartItem, at: Point2) {
    let held = item.symbol().along.least > 0.0;
    // What is true to scale is drawn small enough to be shorter than its place in the legend.
    let denominator = if held { 400.0 } else { (item.body().half_length * 1000.0 / 3.6).max(100.0) };
    let view = View { denominator, origin: at };
    let signs = symbols::part(
        item,
        Point3::default(),
        Angle::ZERO,
        false,
        Subject::Row(crate::plan::RowId(0)),
        Detail::Normal,
    );
    to_legend(draft, signs, view);
}

/// Signs of the screen in the legend, where they stand for nothing on the bar.
fn to_legend(draft: &mut Draft, items: Vec<super::scene::DrawItem>, view: View) {
    let scene = Scene { items, extent: None };
    let start = draft.page.marks.len();
    let at = view.origin;
    draft.scene(&scene, &view, &Bounds { min: at, max: at }.grown(6.0));
    for mark in &mut draft.page.marks[start..] {
        mark.layer = PaperLayer::Sheet;
        mark.subject = None;
    }
}

/// An item number in its circle.
pub(super) fn balloon(draft: &mut Draft, centre: Point2, number: usize) {
    draft.circle(PaperLayer::Notes, centre, BALLOON, NARROW, Some(Shade::PAPER));
    let height = if number < 100 { LARGE } else { USUAL };
    let style = Style::plain(PaperLayer::Notes, height).centred();
    draft.words(Point2::new(centre.x, centre.y - height / 2.0), &number.to_string(), style);
}

/// A dimension line with arrows and extension lines (ISO 129-1).
fn dimension(draft: &mut Draft, (from, to): (f64, f64), y: f64, words: &str, extend: bool) {
    let layer = PaperLayer::Notes;
    draft.line(layer, &[Point2::new(from, y), Point2::new(to, y)], NARROW, Dash::Solid);
    for (at, inward) in [(from, 1.0), (to, -1.0)] {
        let reach = if extend { 4.0 } else { 10.0 };
        draft.line(layer, &[Point2::new(at, y - 1.2), Point2::new(at, y + reach)], NARROW, Dash::Solid);
        let points = [(0.0, 0.0), (2.2, 0.4), (2.2, -0.4)];
        let points = points.map(|(dx, dy)| Point2::new(at + dx * inward, y + dy)).to_vec();
        draft.mark(layer, MarkKind::Area { points, line: None, fill: Some(Shade::INK) });
    }
    let style = Style::plain(layer, SMALL).centred();
    draft.words(Point2::new(f64::midpoint(from, to), y + 0.9), words, style);
}

/// Distance of two lines of a table on a drawing.
const TABLE_LINE: f64 = 4.2;

fn small_table_widths(draft: &Draft, table: &LayoutTable) -> Vec<f64> {
    let bold = Style::plain(PaperLayer::Sheet, SMALL).bold();
    (0..table.heading.len())
        .map(|column| {
            let cells =
                std::iter::once(&table.heading).chain(&table.lines).filter_map(|line| line.get(column));
            cells.map(|cell| draft.width_of(cell, bold)).fold(4.0, f64::max) + 3.0
        })
        .collect()
}

fn small_table(draft: &mut Draft, at: Point2, table: &LayoutTable, widths: &[f64]) {
    let layer = PaperLayer::Sheet;
    let width: f64 = widths.iter().sum();
    for (index, line) in std::iter::once(&table.heading).chain(&table.lines).enumerate() {
        let y = at.y - (index + 1) as f64 * TABLE_LINE;
        let mut style = Style::plain(layer, SMALL);
        if index == 0 {
            style = style.bold();
            draft.area(layer, &sized(at.x, y, width, TABLE_LINE), 0.0, Some(Shade::GROUND));
        }
        let mut x = at.x;
        for (cell, width) in line.iter().zip(widths) {
            draft.words(Point2::new(x + 1.5, y + 1.2), cell, style);
            x += width;
        }
        draft.line(layer, &[Point2::new(at.x, y), Point2::new(at.x + width, y)], NARROW, Dash::Solid);
    }
}

pub(super) fn capital(words: &str) -> String {
    let mut letters = words.chars();
    letters
        .next()
        .map_or_else(String::new, |first| first.to_uppercase().collect::<String>() + letters.as_str())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn headings_begin_with_a_capital() {
        assert_eq!(capital("inner wing"), "Inner wing");
    }

    #[test]
    fn a_wide_bar_is_split_and_never_shrunk() {
        let all = pieces(None, "overview", (-30.0, 30.0), 50.0, 260.0, &[-19.0, 15.0]);
        assert_eq!(all.len(), 5, "{all:?}");
        assert_eq!(all[0].span.0, -30.0);
        assert_eq!(all[all.len() - 1].span.1, 30.0);
        for pair in all.windows(2) {
            assert_eq!(pair[0].span.1, pair[1].span.0);
        }
        for sheet in &all {
            assert_eq!(sheet.denominator, 50.0);
            assert!((sheet.span.1 - sheet.span.0) * 1000.0 / 50.0 <= 260.0 + 1e-9);
        }
        // A cut falls on a hinge where that is no loss.
        assert!(all.iter().any(|sheet| sheet.span.1 == -19.0));
        // Two sheets show half each, not all but a rest.
        let halves = pieces(None, "overview", (-12.0, 12.0), 100.0, 220.0, &[-9.0, -2.0, 2.0, 9.0]);
        assert_eq!(halves.len(), 2);
        assert_eq!(halves[0].span.1.abs(), 2.0);
    }
}
