//! The layout, to scale: an overview of the bar, and each section large enough to build from.
//!
//! A bar too wide for its sheet at the scale asked for is split over sheets with match lines; it is never shrunk
//! below what the title block states. The shapes are those of the screen ([`bar_scene`]); words have places of their
//! own, so that none covers another.

use std::collections::BTreeMap;

use super::bar::{Detail, SceneOptions, bar_scene};
use super::label_places::{Places, along, spread};
use super::paper::{
    Anchor, Draft, LARGE, LINE_FEED, Letters, MIDDLE, MarkKind, NARROW, PaperLayer, SMALL, Shade, Style,
    USUAL, View, scale_text, sized,
};
use super::scene::{Dash, Layer, Scene, Shape};
use super::sheet_frame::{SCALES, drawing_area};
use super::{Subject, symbols};
use crate::geometry::{Bounds, Point2, Point3};
use crate::hydraulics::Outcome;
use crate::plan::{
    EntryKey, FeedElement, Item, Project, Routing, Row, RowFeed, SectionId, part::half_length,
};
use crate::quantities::{Angle, Measure, UnitSystem};

/// What the drawings are made from.
#[derive(Clone, Copy)]
pub struct SheetSource<'a> {
    /// The project.
    pub project: &'a Project,
    /// One of its routings.
    pub routing: &'a Routing,
    /// What flows in it, where flows and pressures are to be noted; without numbers nothing is noted.
    pub outcome: Option<&'a Outcome>,
    /// Units of numbers.
    pub units: UnitSystem,
    /// Item numbers of the parts list.
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
        let mut larger = SCALES.into_iter().filter(|scale| *scale <= SMALLEST_OVERVIEW);
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
            let deep = |scale: &f64| (bounds.depth() + 0.9) * 1000.0 / scale <= area.depth() - 84.0;
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

/// A span in pieces that fit the room, cut at hinges where that takes no more sheets.
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
        let farthest = from + fits;
        let to = if farthest >= span.1 - 1e-9 {
            span.1
        } else {
            let hinge = hinges.iter().copied().filter(|x| *x > from + fits * 0.5 && *x <= farthest);
            hinge.max_by(f64::total_cmp).unwrap_or(farthest)
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

/// Draws one of the sheets; `first` is the number that the first of them has in the whole set.
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
        draft.words(Point2::new(self.area.min.x + 5.0, self.area.max.y - 14.0), says, style);
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
            draft.line(
                PaperLayer::Hinge,
                &[Point2::new(x, low), Point2::new(x, high)],
                MIDDLE,
                Dash::LongDashDot,
            );
            let outer = if right { window.max.x + 4.5 } else { window.min.x - 2.0 };
            let words = format!("Match line: {name}, sheet {number}");
            draft.words_up(Point2::new(outer, window.centre().y), &words, style.centred());
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
        for label in labels {
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
            // Far off, a leader says what it belongs to.
            let near = Point2::new(
                label.from.x.clamp(bounds.min.x, bounds.max.x),
                label.from.y.clamp(bounds.min.y, bounds.max.y),
            );
            if near.distance(label.from) > 6.5 {
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
                if !size.is_empty() && !matches!(item, Some(Item::Gauge { .. })) {
                    words = format!("{words} {size}");
                }
                let pressure = self.source.outcome.and_then(|outcome| outcome.part(part.id)?.pressure);
                if let Some(pressure) = pressure
                    && matches!(item, Some(Item::Gauge { .. } | Item::Manifold { .. }))
                {
                    words = format!("{words}, {}", Measure::Pressure.text(pressure.si(), self.source.units));
                }
            }
            let width = self.source.letters.width(&words, false) * SMALL;
            labels.push(Label {
                candidates: Self::around(&bounds, width, height),
                words,
                from: bounds.centre(),
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
            labels.push(Label { candidates, words, from });
        }
        // Who has the least choice chooses first.
        labels.sort_by_key(|label| label.candidates.len());
        labels
    }

    /// `H3 Ø25 mm, 4.52 m`, with the flow where it is asked for.
    fn hose_words(&self, run: &crate::plan::Run) -> String {
        let SheetSource { project, routing, units, .. } = *self.source;
        let stock = project.catalogue.stock(&run.line.stock);
        let bore = stock.map_or_else(String::new, |stock| {
            format!(" Ø{}", Measure::Bore.short_text(stock.bore.si(), units))
        });
        let length = routing
            .run_length(run, &project.catalogue, &project.supply)
            .map_or_else(String::new, |length| format!(", {}", Measure::Distance.text(length.si(), units)));
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
        let lines = if self.source.outcome.is_some() { 8 } else { 7 };
        let strip_height = f64::from(lines) * SMALL * 2.0 + 4.0;
        let legend_height = 14.0;
        // Balloons over the drawing, figures of the rows under it, all in the middle of what is left.
        let needed = (depth.1 - depth.0) * scale + 22.0 + strip_height + 10.0;
        let spare = (self.area.depth() - legend_height - 4.0 - needed).max(0.0);
        let top = self.area.max.y - 22.0 - spare / 2.0;
        let view = self.view(top, depth.1);
        let lowest = self.area.min.y + legend_height + strip_height + 10.0;
        let mut window = self.window(&view, depth);
        self.cut_off(draft, &mut window, lowest);
        let heading = self.heading();
        draft.words(
            Point2::new(self.area.min.x + 5.0, self.area.max.y - 9.0),
            &heading,
            Style::plain(PaperLayer::Words, LARGE).bold(),
        );
        self.travel(draft);
        let strip_top = window.min.y - 10.0;
        self.row_strip(draft, &view, &window, strip_top);
        self.shapes(draft, &view, &window);
        self.match_lines(draft, &view, &window);
        self.balloons(draft, &window);
        let labels = self.labels(draft, true, &window);
        self.write_labels(draft, labels, &window);
        self.legend(draft, legend_height);
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

    /// Item numbers over the drawing, in the order of what they point at.
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
        let SheetSource { project, routing, units, items, outcome, .. } = *self.source;
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
        let bore_unit = Measure::Bore.unit(units).symbol;
        let length_unit = Measure::Distance.unit(units).symbol;
        let flow_unit = Measure::RowFlow.unit(units).symbol;
        let mut names = vec![
            "Row".to_owned(),
            "From outlet".to_owned(),
            "Tube".to_owned(),
            format!("Tube Ø, {bore_unit}"),
            format!("Length, {length_unit}"),
            format!("Metering Ø, {bore_unit}"),
            "Items".to_owned(),
        ];
        if outcome.is_some() {
            names.push(format!("Flow, {flow_unit}"));
        }
        let columns: Vec<Vec<String>> = rows
            .iter()
            .map(|row| {
                let feed = routing.feed_of(row.id);
                let mut cells = vec![row.number.to_string()];
                if row.left_out {
                    cells.extend(std::iter::repeat_n("–".to_owned(), names.len() - 1));
                    return cells;
                }
                cells.extend(feed_cells(project, routing, row, feed, units, items));
                if let Some(outcome) = outcome {
                    let flow = outcome.row(row.id).and_then(|row| row.flow);
                    cells.push(
                        flow.map_or_else(|| "–".to_owned(), |flow| Measure::RowFlow.number(flow.si(), units)),
                    );
                }
                cells
            })
            .collect();
        let feed_height = SMALL * 2.0;
        let widest = columns.iter().flatten().map(|cell| self.source.letters.width(cell, false) * SMALL);
        let gap = widest.fold(6.0, f64::max) + 1.6;
        let at: Vec<f64> = rows.iter().map(|row| view.at(Point2::new(row.x.si(), 0.0)).x).collect();
        let columns_at = spread(&at, gap, window.min.x, window.max.x);
        let crowded = columns_at.windows(2).any(|pair| pair[1] - pair[0] < gap - 1e-6);
        // Crowded columns are written smaller rather than over each other.
        let narrowest = columns_at.windows(2).map(|pair| pair[1] - pair[0]).fold(gap, f64::min).max(1.0);
        let height = if crowded { (SMALL * (narrowest - 0.6) / (gap - 0.6)).max(0.9) } else { SMALL };
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
            let points =
                [outlet, Point2::new(*wanted, top + 6.0), Point2::new(*x, top + 1.5), Point2::new(*x, top)];
            draft.shaded_line(PaperLayer::Notes, &points, NARROW, Dash::Solid, Shade::BEHIND);
        }
    }

    fn overview(&mut self, draft: &mut Draft<'a>) {
        let depth = self.depth(4.0);
        let top = self.area.max.y - 26.0;
        let view = self.view(top, depth.1);
        let legend_height = 14.0;
        let mut window = self.window(&view, depth);
        self.cut_off(draft, &mut window, self.area.min.y + legend_height + 24.0);
        draft.words(
            Point2::new(self.area.min.x + 5.0, self.area.max.y - 9.0),
            &capital(&self.sheet.name),
            Style::plain(PaperLayer::Words, LARGE).bold(),
        );
        self.travel(draft);
        self.shapes(draft, &view, &window);
        self.match_lines(draft, &view, &window);
        let below = self.dimensions(draft, &view, &window);
        let labels = self.labels(draft, false, &window);
        self.write_labels(draft, labels, &window);
        self.tables(draft, below - 10.0, self.area.min.y + legend_height + 4.0);
        self.legend(draft, legend_height);
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
            let width = Measure::Distance.text(bounds.width(), self.source.units);
            dimension(draft, (from, to), y - 12.0, &format!("bar {width}"), false);
        }
        y - 16.0
    }

    /// Manifolds and hoses in figures, side by side, as far as they fit.
    fn tables(&self, draft: &mut Draft, top: f64, bottom: f64) {
        let SheetSource { project, routing, units, items, outcome, .. } = *self.source;
        if self.index > 0 {
            return;
        }
        let item = |entry: &EntryKey| items.get(entry).map_or_else(String::new, |number| number.to_string());
        let tag = |end: &crate::plan::End| match end {
            crate::plan::End::Supply => "pump".to_owned(),
            crate::plan::End::Loose(_) => "loose end".to_owned(),
            crate::plan::End::Port(port) => routing.part(port.part).map_or_else(String::new, |part| {
                format!("{}, {}", part.tag, routing.port_name(*port, &project.catalogue))
            }),
        };
        let mut manifolds =
            vec![["Manifold", "Item", "Section", "Outlets", "Rows"].map(str::to_owned).to_vec()];
        if outcome.is_some() {
            manifolds[0].push(format!("Pressure, {}", Measure::Pressure.unit(units).symbol));
        }
        for part in &routing.parts {
            let Some(Item::Manifold { outlets, .. }) = project.catalogue.item(&part.entry) else { continue };
            let mut rows: Vec<u32> = routing
                .feeds
                .iter()
                .filter(|feed| feed.from.port().is_some_and(|port| port.part == part.id))
                .flat_map(|feed| &feed.branches)
                .filter_map(|branch| Some(project.bar.row(branch.row)?.number))
                .collect();
            rows.sort_unstable();
            let section = project.bar.section(part.section).map_or_else(String::new, |one| one.name.clone());
            let mut line =
                vec![part.tag.clone(), item(&part.entry), section, outlets.to_string(), number_ranges(&rows)];
            if let Some(outcome) = outcome {
                let pressure = outcome.part(part.id).and_then(|part| part.pressure);
                line.push(
                    pressure.map_or_else(|| "–".to_owned(), |one| Measure::Pressure.number(one.si(), units)),
                );
            }
            manifolds.push(line);
        }
        let bore = format!("Ø, {}", Measure::Bore.unit(units).symbol);
        let length = format!("Length, {}", Measure::Distance.unit(units).symbol);
        let mut hoses = vec![["Hose", "Item", "From", "To", &bore, &length].map(str::to_owned).to_vec()];
        if outcome.is_some() {
            hoses[0].push(format!("Flow, {}", Measure::TotalFlow.unit(units).symbol));
        }
        for run in &routing.runs {
            let stock = project.catalogue.stock(&run.line.stock);
            let length = routing.run_length(run, &project.catalogue, &project.supply);
            let mut line = vec![
                run.tag.clone(),
                item(&run.line.stock),
                tag(&run.from),
                tag(&run.to),
                stock.map_or_else(String::new, |one| Measure::Bore.short_number(one.bore.si(), units)),
                length.map_or_else(|| "–".to_owned(), |one| Measure::Distance.number(one.si(), units)),
            ];
            if let Some(outcome) = outcome {
                let flow = outcome.run(run.id).and_then(|run| run.flow);
                line.push(
                    flow.map_or_else(
                        || "–".to_owned(),
                        |one| Measure::TotalFlow.number(one.si().abs(), units),
                    ),
                );
            }
            hoses.push(line);
        }
        let mut x = self.area.min.x + 8.0;
        for table in [manifolds, hoses] {
            if table.len() < 2 {
                continue;
            }
            let widths = small_table_widths(draft, &table);
            let width: f64 = widths.iter().sum();
            let height = table.len() as f64 * TABLE_LINE;
            // What does not fit stands in the cut list and the parts list anyway.
            if x + width > self.area.max.x - 4.0 || height > top - bottom {
                continue;
            }
            small_table(draft, Point2::new(x, top), &table, &widths);
            x += width + 12.0;
        }
    }

    /// What the signs mean, for those that stand on the sheet.
    fn legend(&self, draft: &mut Draft, height: f64) {
        let layer = PaperLayer::Sheet;
        let SheetSource { project, routing, .. } = *self.source;
        let y = self.area.min.y + height;
        draft.line(
            layer,
            &[Point2::new(self.area.min.x, y), Point2::new(self.area.max.x, y)],
            NARROW,
            Dash::Solid,
        );
        let mut kinds: BTreeMap<&'static str, Item> = BTreeMap::new();
        for part in &routing.parts {
            if let Some(item) = project.catalogue.item(&part.entry)
                && Self::part_bounds(draft, Subject::Part(part.id)).is_some()
            {
                kinds.entry(item.kind()).or_insert(*item);
            }
        }
        let has = |layer: PaperLayer| draft.page.marks.iter().any(|mark| mark.layer == layer);
        let style = Style::plain(layer, SMALL);
        let mut lines: Vec<(&str, f64)> = Vec::new();
        if has(PaperLayer::Hose) {
            lines.push(("hose", 0.9));
        }
        if has(PaperLayer::Tube) {
            lines.push(("delivery tube", 0.3));
        }
        let others = [
            ("outlet of a row", has(PaperLayer::Row)),
            ("item number in the parts list", has(PaperLayer::Notes)),
        ];
        let step_y = height / 2.0;
        let (left, right) = (self.area.min.x + 5.0, self.area.max.x - 3.0);
        let mut at = Point2::new(left, self.area.min.y + height - step_y * 0.5);
        let advance = |at: Point2, width: f64| {
            let over = at.x + width > right;
            if over { Point2::new(left, at.y - step_y) } else { at }
        };
        let heading = "Legend";
        draft.words(Point2::new(at.x, at.y - SMALL / 2.0), heading, style.bold());
        at.x += draft.width_of(heading, style.bold()) + 5.0;
        for (name, width) in lines {
            let size = 10.0 + draft.width_of(name, style) + 6.0;
            at = advance(at, size);
            draft.line(layer, &[at, Point2::new(at.x + 8.0, at.y)], width, Dash::Solid);
            draft.words(Point2::new(at.x + 10.0, at.y - SMALL / 2.0), name, style);
            at.x += size;
        }
        for (name, item) in kinds {
            let size = 10.0 + draft.width_of(name, style) + 6.0;
            at = advance(at, size);
            sample(draft, &item, Point2::new(at.x + 4.0, at.y));
            draft.words(Point2::new(at.x + 10.0, at.y - SMALL / 2.0), name, style);
            at.x += size;
        }
        for (name, there) in others {
            if !there || (name.starts_with("item") && self.sheet.section.is_none()) {
                continue;
            }
            let size = 10.0 + draft.width_of(name, style) + 6.0;
            at = advance(at, size);
            let centre = Point2::new(at.x + 5.0, at.y);
            if name.starts_with("item") {
                draft.circle(layer, centre, 2.6, NARROW, None);
                draft.words(Point2::new(centre.x, centre.y - SMALL / 2.0), "n", style.centred());
            } else {
                draft.circle(layer, centre, 1.3, NARROW, None);
            }
            draft.words(Point2::new(at.x + 10.0, at.y - SMALL / 2.0), name, style);
            at.x += size;
        }
        let says = format!(
            "Plan view, drawn at {}; bores are inside diameters; lengths with slack and the way down to openers; cut by the cut list",
            scale_text(self.sheet.denominator)
        );
        let size = draft.width_of(&says, style);
        at = advance(at, size);
        draft.words(Point2::new(at.x, at.y - SMALL / 2.0), &says, style.shade(Shade::SOFT));
    }
}

/// A part's symbol at its least size.
fn sample(draft: &mut Draft, item: &Item, at: Point2) {
    let denominator = match item {
        // Small enough to be shorter than its place in the legend.
        Item::Manifold { .. } => (half_length(item) * 1000.0 / 3.6).max(100.0),
        _ => 400.0,
    };
    let view = View { denominator, origin: at };
    let signs = symbols::part(
        item,
        Point3::default(),
        Angle::ZERO,
        false,
        Subject::Row(crate::plan::RowId(0)),
        Detail::Normal,
    );
    let scene = Scene { items: signs, extent: None };
    let start = draft.page.marks.len();
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

fn small_table_widths(draft: &Draft, table: &[Vec<String>]) -> Vec<f64> {
    let columns = table.iter().map(Vec::len).max().unwrap_or(0);
    let bold = Style::plain(PaperLayer::Sheet, SMALL).bold();
    (0..columns)
        .map(|column| {
            let cells = table.iter().filter_map(|line| line.get(column));
            cells.map(|cell| draft.width_of(cell, bold)).fold(4.0, f64::max) + 3.0
        })
        .collect()
}

fn small_table(draft: &mut Draft, at: Point2, table: &[Vec<String>], widths: &[f64]) {
    let layer = PaperLayer::Sheet;
    let width: f64 = widths.iter().sum();
    for (index, line) in table.iter().enumerate() {
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

/// What stands in the columns of a row: outlet, tube, bore, length, metering, items.
fn feed_cells(
    project: &Project,
    routing: &Routing,
    row: &Row,
    feed: Option<&RowFeed>,
    units: UnitSystem,
    items: &BTreeMap<EntryKey, usize>,
) -> Vec<String> {
    let Some(feed) = feed else {
        return vec!["no feed".to_owned(), "–".into(), "–".into(), "–".into(), "–".into(), "–".into()];
    };
    let outlet = match feed.from.port() {
        Some(port) => {
            let tag = routing.part(port.part).map_or("?", |part| part.tag.as_str());
            match port.port {
                crate::plan::Port::Outlet(number) => format!("{tag}/{number}"),
                _ => tag.to_owned(),
            }
        }
        None => "loose".to_owned(),
    };
    let branch = feed.branches.iter().find(|branch| branch.row == row.id);
    let elements: Vec<&FeedElement> =
        feed.trunk.iter().chain(branch.iter().flat_map(|branch| &branch.elements)).collect();
    let tube = elements.iter().rev().find_map(|element| match element {
        FeedElement::Tube(tube) => project.catalogue.stock(&tube.line.stock),
        _ => None,
    });
    let bore = tube.map_or_else(|| "–".to_owned(), |tube| Measure::Bore.short_number(tube.bore.si(), units));
    let lengths = routing.tube_lengths(feed, &project.bar, &project.catalogue, &project.supply);
    let length = if feed.branches.len() == 1 {
        let total: f64 = lengths.iter().map(|one| one.si()).sum();
        Measure::Distance.number(total, units)
    } else {
        // A shared tube and the row's own.
        let own = branch_length(project, routing, feed, row);
        let trunk = lengths.first().map_or(0.0, |one| one.si());
        format!("{}+{}", Measure::Distance.number(trunk, units), Measure::Distance.number(own, units))
    };
    let metering = elements.iter().find_map(|element| match element {
        FeedElement::Orifice(entry) => match project.catalogue.item(entry) {
            Some(Item::MeteringOrifice { bore, .. }) => Some(Measure::Bore.short_number(bore.si(), units)),
            _ => None,
        },
        FeedElement::MeteringTube { stock, length, .. } => {
            let bore = project.catalogue.stock(stock).map_or(0.0, |stock| stock.bore.si());
            let length = Measure::Distance.short_number(length.si(), units);
            Some(format!("{}×{length}", Measure::Bore.short_number(bore, units)))
        }
        _ => None,
    });
    let numbers: Vec<String> = elements
        .iter()
        .filter_map(|element| items.get(element.entry()))
        .map(|number| number.to_string())
        .collect();
    vec![
        outlet,
        feed.tag.clone(),
        bore,
        length,
        metering.unwrap_or_else(|| "–".to_owned()),
        numbers.join(" "),
    ]
}

fn branch_length(project: &Project, routing: &Routing, feed: &RowFeed, row: &Row) -> f64 {
    let geometry = routing.feed_geometry(feed, &project.bar, &project.catalogue, &project.supply);
    let Some(geometry) = geometry else { return 0.0 };
    let ends = feed.branches.iter().zip(&geometry.branches).find(|(branch, _)| branch.row == row.id);
    ends.map_or(0.0, |(branch, ends)| {
        branch
            .elements
            .iter()
            .zip(ends)
            .map(|(element, (from, to))| match element {
                FeedElement::Tube(tube) => tube.line.length(*from, *to).si(),
                _ => 0.0,
            })
            .sum()
    })
}

/// `1 to 4, 7` of sorted numbers.
pub(super) fn number_ranges(numbers: &[u32]) -> String {
    let mut ranges: Vec<(u32, u32)> = Vec::new();
    for number in numbers {
        match ranges.last_mut() {
            Some((_, last)) if *number == last.saturating_add(1) || number == last => *last = *number,
            _ => ranges.push((*number, *number)),
        }
    }
    let words: Vec<String> = ranges
        .into_iter()
        .map(|(first, last)| match last - first {
            0 => first.to_string(),
            1 => format!("{first}, {last}"),
            _ => format!("{first} to {last}"),
        })
        .collect();
    words.join(", ")
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
    fn ranges_of_numbers_are_short() {
        assert_eq!(number_ranges(&[1, 2, 3, 4, 7, 9, 10]), "1 to 4, 7, 9, 10");
        assert_eq!(number_ranges(&[]), "");
        assert_eq!(capital("inner wing"), "Inner wing");
    }

    #[test]
    fn a_wide_bar_is_split_and_never_shrunk() {
        let all = pieces(None, "overview", (-30.0, 30.0), 50.0, 240.0, &[-15.0, 15.0]);
        assert!(all.len() >= 5, "{all:?}");
        assert_eq!(all[0].span.0, -30.0);
        assert_eq!(all[all.len() - 1].span.1, 30.0);
        for pair in all.windows(2) {
            assert_eq!(pair[0].span.1, pair[1].span.0);
        }
        for sheet in &all {
            assert_eq!(sheet.denominator, 50.0);
            assert!((sheet.span.1 - sheet.span.0) * 1000.0 / 50.0 <= 240.0 + 1e-9);
        }
        // A cut falls on a hinge where that is no loss.
        assert!(all.iter().any(|sheet| sheet.span.1 == 15.0 || sheet.span.1 == -15.0));
    }
}
