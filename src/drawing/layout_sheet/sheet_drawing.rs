//! A sheet while it is drawn: its view, the shapes of the bar in it, and where it joins its neighbours.

use super::sheets::{BEYOND, LEGEND, LayoutSheet, NAMES, RIGHT_ROOM};
use crate::drawing::Subject;
use crate::drawing::label_places::Places;
use crate::drawing::paper::{
    LARGE, LINE_FEED, MIDDLE, MarkKind, PageDraft, PaperLayer, SMALL, Shade, Style, View, scale_text, sized,
};
use crate::drawing::scene::{Dash, Layer, Scene, Shape};
use crate::drawing::sheet_source::{SheetSource, capital};
use crate::geometry::{Bounds, Point2};
use crate::plan::Row;
use crate::quantities::Measure;

pub(super) struct SheetDrawing<'a, 'b> {
    pub(super) source: &'b SheetSource<'a>,
    pub(super) sheet: &'b LayoutSheet,
    pub(super) sheets: &'b [LayoutSheet],
    pub(super) index: usize,
    pub(super) first: usize,
    pub(super) area: Bounds,
    pub(super) places: Places,
    pub(super) scene: &'b Scene,
}

impl<'a> SheetDrawing<'a, '_> {
    /// Front to back what stands within the span, metres; hoses that lead far off are cut.
    pub(super) fn depth(&self, beyond: f64) -> (f64, f64) {
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

    pub(super) fn view(&self, top: f64, front: f64) -> View {
        let scale = 1000.0 / self.sheet.denominator;
        let width = (self.sheet.span.1 - self.sheet.span.0) * scale;
        let left = self.area.min.x + NAMES + (self.area.width() - NAMES - RIGHT_ROOM - width) / 2.0;
        let origin = Point2::new(left - self.sheet.span.0 * scale, top - front * scale);
        View { denominator: self.sheet.denominator, origin }
    }

    pub(super) fn window(&self, view: &View, depth: (f64, f64)) -> Bounds {
        Bounds {
            min: view.at(Point2::new(self.sheet.span.0, depth.0)),
            max: view.at(Point2::new(self.sheet.span.1, depth.1)),
        }
    }

    /// What is too deep for the sheet at this scale ends above `lowest`, and the sheet says so.
    pub(super) fn cut_off(&self, draft: &mut PageDraft, window: &mut Bounds, lowest: f64) {
        if window.min.y >= lowest {
            return;
        }
        window.min.y = lowest;
        let says = "The rear is cut off: too deep for this paper at this scale";
        let style = Style::plain(PaperLayer::Words, SMALL).bold();
        draft.words(Point2::new(self.area.min.x + 16.0, self.area.max.y - 15.0), says, style);
    }

    /// The heading, and beside it what must be known to read the sheet.
    pub(super) fn head(&self, draft: &mut PageDraft, heading: &str, notes: &[String]) {
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
    pub(super) const fn tables_sheet(&self) -> usize {
        self.first + self.sheets.len()
    }

    pub(super) fn reading(&self) -> String {
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
    pub(super) fn match_lines(&self, draft: &mut PageDraft, view: &View, window: &Bounds) {
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
    pub(super) fn shapes(&mut self, draft: &mut PageDraft, view: &View, window: &Bounds) {
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
    pub(super) fn part_bounds(draft: &PageDraft, subject: Subject) -> Option<Bounds> {
        let marks = draft.page.marks.iter().filter(|mark| mark.subject == Some(subject));
        let boxes = marks.filter(|mark| mark.layer == PaperLayer::Part).map(|mark| mark.kind.bounds());
        let all = Bounds::around(boxes.flat_map(|bounds| [bounds.min, bounds.max]));
        (!all.is_empty()).then_some(all)
    }

    /// Candidate boxes around a box for words of a size, nearest first.
    pub(super) fn around(bounds: &Bounds, width: f64, height: f64) -> Vec<(Bounds, bool)> {
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

    pub(super) fn heading(&self) -> String {
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
    pub(super) fn travel(&self, draft: &mut PageDraft) {
        let layer = PaperLayer::Notes;
        let (x, y) = (self.area.min.x + 9.0, self.area.max.y - 30.0);
        draft.line(layer, &[Point2::new(x, y), Point2::new(x, y + 12.0)], MIDDLE, Dash::Solid);
        let points =
            [(-1.4, 8.0), (1.4, 8.0), (0.0, 12.0)].map(|(dx, dy)| Point2::new(x + dx, y + dy)).to_vec();
        draft.mark(layer, MarkKind::Area { points, line: None, fill: Some(Shade::INK) });
        draft.words(Point2::new(x, y - 3.4), "travel", Style::plain(layer, SMALL).centred());
    }

    pub(super) fn overview(&mut self, draft: &mut PageDraft<'a>) {
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
}
