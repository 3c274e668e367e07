//! A sheet while it is drawn: its view, the shapes of the bar in it, and where it joins its neighbours.

use super::row_strip::RowStrip;
use super::sheets::{
    ABOVE_DRAWING, ABOVE_OVERVIEW, BELOW_OVERVIEW, BEYOND, FAR, LEGEND, LayoutSheet, NAMES, RIGHT_ROOM,
    STRIP_GAP, short_of, stands_in_front,
};
use crate::drawing::Subject;
use crate::drawing::flow_arrow::flow_arrows;
use crate::drawing::label_places::Places;
use crate::drawing::layout_tables::{position_note, without_balloons};
use crate::drawing::paper::{
    LARGE, MIDDLE, MarkKind, PageDraft, PaperLayer, Shade, Style, USUAL, View, WIDE, sized,
};
use crate::drawing::scene::{Dash, Layer, Scene, Shape};
use crate::drawing::sheet_source::{BALLOON, SheetSource, capital};
use crate::geometry::{Bounds, Point2};
use crate::plan::words::ranges;
use crate::plan::{PlacedPart, Row, place_words};
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
    /// Once the shapes are drawn.
    pub(super) view: Option<View>,
    /// The figures of its rows, where they have room.
    pub(super) strip: Option<RowStrip<'a>>,
    /// The height of all parts, in words, where they have one.
    pub(super) height: Option<String>,
}

/// Of headings.
const HEADING: Style = Style::plain(PaperLayer::Words, LARGE).bold();

/// Of what must be known to read a sheet.
const NOTE: Style = Style::plain(PaperLayer::Words, USUAL).shade(Shade::SOFT);

/// A leader on an overview is no longer than this, millimetres: a longer one leads past a whole section.
const LONGEST_ON_OVERVIEW: f64 = 36.0;

/// What stands beside or below a heading.
struct HeadNotes {
    /// The left end of its first line.
    at: Point2,
    lines: Vec<String>,
    /// The height that a next line would stand at.
    below: f64,
    /// Where, and how wide, more words have room.
    more: (Point2, f64),
}

impl<'a> SheetDrawing<'a, '_> {
    /// Front to back what stands within the span, metres; hoses that lead far off are cut.
    pub(super) fn depth(&self, beyond: f64) -> (f64, f64) {
        let bar = self.source.project.bar.bounds();
        let (mut back, mut front) = (bar.min.y, bar.max.y);
        let mut reach = bar;
        let left_out: Vec<&PlacedPart> = self.left_out_in_front().collect();
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
            let is_left_out = || left_out.iter().any(|part| item.subject == Some(Subject::Part(part.id)));
            let whole = item.layer == Layer::Parts && !is_left_out();
            for point in
                points.iter().filter(|point| (self.sheet.span.0..=self.sheet.span.1).contains(&point.x))
            {
                if whole && (bar.min.y - FAR..=bar.max.y + FAR).contains(&point.y) {
                    reach.add(*point);
                }
                back = back.min(point.y);
                front = front.max(point.y);
            }
        }
        let (low, high) = (reach.min.y.min(bar.min.y - beyond), reach.max.y.max(bar.max.y + beyond));
        (back.max(low) - 0.1, front.min(high) + 0.1)
    }

    /// The parts that stand too far in front for this sheet.
    fn left_out_in_front(&self) -> impl Iterator<Item = &PlacedPart> {
        let front = self.source.project.bar.bounds().max.y;
        let parts = self.source.routing.geometry.anchors.parts().iter().filter(|_| self.sheet.cuts_front);
        parts.filter(move |part| {
            self.sheet.sections.contains(&part.section) && stands_in_front(part.at.y, front)
        })
    }

    fn view_at(&self, top: f64, front: f64) -> View {
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
        if window.min.y >= lowest - 1e-6 {
            return;
        }
        window.min.y = lowest;
        let says = "The rear is cut off: too deep for this paper at this scale";
        let style = Style::plain(PaperLayer::Words, USUAL).bold();
        draft.words(Point2::new(self.area.min.x + 16.0, self.area.max.y - 22.0), says, style);
    }

    /// Where the notes of a heading stand: beside it, or below it where too little is left there.
    fn notes(&self, draft: &PageDraft, heading: &str, notes: &[String]) -> HeadNotes {
        let at = Point2::new(self.area.min.x + 5.0, self.area.max.y - 9.0);
        let beside = at.x + draft.width_of(heading, HEADING) + 8.0;
        let is_beside = self.area.max.x - beside > self.area.width() * 0.5;
        let left = if is_beside { beside } else { at.x };
        // Below the centring mark in any case.
        let top = self.area.max.y - if is_beside { 8.0 } else { 14.0 };
        let room = self.area.max.x - 4.0 - left;
        let said = notes.iter().filter(|note| !note.is_empty());
        let lines: Vec<String> = said.flat_map(|note| draft.wrapped(note, NOTE, room)).collect();
        let below = top - lines.len() as f64 * USUAL * 1.5;
        let more = if is_beside {
            (Point2::new(at.x, at.y - 5.0), left - at.x - 3.0)
        } else {
            (Point2::new(left, below), room)
        };
        HeadNotes { at: Point2::new(left, top), lines, below, more }
    }

    /// The heading, and beside it what must be known to read the sheet; returns where, and how wide, more words have room.
    fn head(&self, draft: &mut PageDraft, heading: &str, notes: &[String]) -> (Point2, f64) {
        let HeadNotes { at, lines, more, .. } = self.notes(draft, heading, notes);
        draft.words(Point2::new(self.area.min.x + 5.0, self.area.max.y - 9.0), heading, HEADING);
        for (index, line) in lines.iter().enumerate() {
            draft.words(Point2::new(at.x, at.y - index as f64 * USUAL * 1.5), line, NOTE);
        }
        more
    }

    /// From the top of the area to a wing: more than usual where the heading takes more and the bar has room below that.
    fn above_wing(&self, draft: &PageDraft, free: f64) -> f64 {
        let notes = self.notes(draft, &self.heading(), &self.reading());
        // The names that have no room take a line below the notes.
        let own = if notes.more.0.x < notes.at.x { 0.0 } else { USUAL * 1.5 };
        let head = self.area.max.y - notes.below + own + 2.0 * BALLOON + 8.0;
        // As deep as the bar is shown at least: the hose from the pump may be cut, the bar never.
        let bar = (self.depth(0.0).1 - self.depth(0.3).0) * 1000.0 / self.sheet.denominator;
        if bar <= free + ABOVE_DRAWING - head { head.max(ABOVE_DRAWING) } else { ABOVE_DRAWING }
    }

    /// What must be known to read a wing.
    fn reading(&self) -> Vec<String> {
        let tables = self.first + self.sheets.len();
        let rows = if self.strip.as_ref().is_some_and(|strip| strip.is_whole) {
            String::new()
        } else {
            format!("; rows in figures: sheet {tables}")
        };
        // Where there is an overview, that says it; a narrow sheet has no room above the balloons.
        let is_said = self.sheets.iter().any(|sheet| !sheet.to_build_from) || self.area.width() < 300.0;
        let of_bar = if is_said { Vec::new() } else { self.pump_and_members() };
        vec![
            of_bar.join("; "),
            format!(
                "Ø is the inside diameter of a hose, 8 × 6 the outside and inside of a tube; lengths as cut, with \
                 slack and loops{rows}"
            ),
            position_note(self.source, self.height.as_deref()),
            without_balloons(self.source),
        ]
    }

    /// Number of the sheet that shows the same beyond a cut, or the neighbouring section.
    fn neighbour(&self, right: bool) -> Option<(usize, String)> {
        let is_cut = if right { self.sheet.cut.1 } else { self.sheet.cut.0 };
        let numbered = |index: usize| Some((self.first + index, self.sheets.get(index)?.name.clone()));
        if is_cut {
            return numbered(if right { self.index + 1 } else { self.index.checked_sub(1)? });
        }
        if !self.sheet.to_build_from {
            return None;
        }
        let edge = if right { self.sheet.span.1 - BEYOND } else { self.sheet.span.0 + BEYOND };
        let other = self.sheets.iter().position(|other| {
            let theirs = if right { other.span.0 + BEYOND } else { other.span.1 - BEYOND };
            let theirs_cut = if right { other.cut.0 } else { other.cut.1 };
            other.to_build_from
                && other.sections != self.sheet.sections
                && !theirs_cut
                && (theirs - edge).abs() < 0.02
        })?;
        numbered(other)
    }

    /// The lines along which neighbouring sheets meet.
    pub(super) fn match_lines(&mut self, draft: &mut PageDraft, window: &Bounds) {
        let style = Style::plain(PaperLayer::Notes, USUAL).bold();
        for right in [false, true] {
            let Some((number, name)) = self.neighbour(right) else { continue };
            // A line of its own at the edge of what is drawn, unlike the hinge that may be there.
            let x = if right { window.max.x } else { window.min.x };
            let line = [Point2::new(x, window.min.y - 3.0), Point2::new(x, window.max.y + 3.0)];
            draft.line(PaperLayer::Notes, &line, WIDE, Dash::Solid);
            self.places.keep_clear(Bounds::around(line).grown(0.4));
            let outer = if right { x + USUAL + 1.2 } else { x - 1.2 };
            let mut words = format!("Match line: {name}, sheet {number}");
            if draft.width_of(&words, style) > window.depth() {
                words = format!("Match line: sheet {number}");
            }
            // Below the heading, however long.
            let highest = self.area.max.y - 18.0 - draft.width_of(&words, style) / 2.0;
            let bounds =
                draft.words_up(Point2::new(outer, window.centre().y.min(highest)), &words, style.centred());
            self.places.keep_clear(bounds);
        }
    }

    /// What the scene draws, kept in mind for the words to come.
    pub(super) fn shapes(&mut self, draft: &mut PageDraft, view: &View, window: &Bounds) {
        let start = draft.page.marks.len();
        draft.scene(self.scene, view, window);
        draft.page.view = Some(*view);
        for mark in &draft.page.marks[start..] {
            match (&mark.kind, mark.layer) {
                (MarkKind::Line { points, .. }, PaperLayer::Hose) => self.places.keep_whole(points),
                (MarkKind::Line { points, .. }, PaperLayer::Tube | PaperLayer::Hinge) => {
                    self.places.avoid(points);
                }
                (MarkKind::Circle { .. }, PaperLayer::Hinge) => self.places.keep_clear(mark.kind.bounds()),
                // What sits in tubes and hoses is kept clear as parts are.
                (_, PaperLayer::Part | PaperLayer::Row | PaperLayer::Tube | PaperLayer::Hose) => {
                    self.places.keep_clear(mark.kind.bounds());
                }
                _ => {}
            }
        }
        self.view = Some(*view);
        for arrow in flow_arrows(draft, self.source.routing) {
            self.places.keep_clear(arrow);
        }
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

    fn heading(&self) -> String {
        let bar = &self.source.project.bar;
        let sections = bar.sections.iter().filter(|section| self.sheet.sections.contains(&section.id));
        let width: f64 = sections.map(|section| section.width().si()).sum();
        let here = |row: &&Row| self.sheet.sections.contains(&row.section);
        let rows: Vec<u32> = bar.rows.iter().filter(here).map(|row| row.number).collect();
        let rows = match rows.len() {
            0 => String::new(),
            1 => format!(", row {}", ranges(&rows)),
            _ => format!(", rows {}", ranges(&rows)),
        };
        format!("{}, {}{rows}", capital(&self.sheet.name), Measure::Distance.text(width, self.source.units))
    }

    /// An arrow forward at the upper left, below what the heading says down to there.
    pub(super) fn travel(&self, draft: &mut PageDraft, said: f64) {
        let layer = PaperLayer::Notes;
        let top = (self.area.max.y - 24.0).min(said - 1.0);
        let (x, y) = (self.area.min.x + 9.0, top - 12.0);
        draft.line(layer, &[Point2::new(x, y), Point2::new(x, y + 12.0)], MIDDLE, Dash::Solid);
        let points =
            [(-1.4, 8.0), (1.4, 8.0), (0.0, 12.0)].map(|(dx, dy)| Point2::new(x + dx, y + dy)).to_vec();
        draft.mark(layer, MarkKind::Area { points, line: None, fill: Some(Shade::INK) });
        draft.words(Point2::new(x, y - 3.4), "travel", Style::plain(layer, USUAL).centred());
    }

    /// A wing, or the whole bar where that fits, large enough to build from.
    pub(super) fn wing(&mut self, draft: &mut PageDraft<'a>) {
        let mut depth = self.depth(0.3);
        let metre = 1000.0 / self.sheet.denominator;
        let strip_height = self.strip.as_ref().map_or(0.0, RowStrip::height);
        let free = self.area.depth() - ABOVE_DRAWING - STRIP_GAP - strip_height - LEGEND;
        let above = self.above_wing(draft, free);
        let free = free + ABOVE_DRAWING - above;
        // Room that is left shows more of the hose from the pump, up to the pump itself.
        let spare = free / metre - (depth.1 - depth.0);
        if spare > 0.0 {
            let farther = self.depth(4.0);
            depth.1 = farther.1.min(depth.1 + spare);
        } else {
            // The hose from the pump is cut before the bar is.
            depth.1 = (depth.1 + spare).max(self.depth(0.0).1).min(depth.1);
        }
        for part in self.left_out_in_front() {
            depth.1 = depth.1.min(short_of(part.at.y));
        }
        let spare = (free - (depth.1 - depth.0) * metre).max(0.0);
        let view = self.view_at(self.area.max.y - above - spare / 2.0, depth.1);
        let mut window = self.window(&view, depth);
        self.cut_off(draft, &mut window, self.area.min.y + LEGEND + strip_height + STRIP_GAP);
        let below = self.head(draft, &self.heading(), &self.reading());
        if let Some(strip) = &self.strip {
            self.row_strip(draft, strip, &view, &window, window.min.y - STRIP_GAP);
        }
        self.draw_carriers(draft, &view, &window);
        self.shapes(draft, &view, &window);
        let bundles = self.bundles(draft, &view, &window);
        self.outlet_numbers(draft, &view);
        self.match_lines(draft, &window);
        let cut = self.cut_ends(draft, &window, below);
        let mut left = self.name_all(draft, &window, below);
        left.without.extend(cut);
        left.far_off = self.far_off(draft);
        self.count_bundles(draft, &bundles, &window);
        let said = Self::say_what_has_no_room(draft, &left, below);
        self.travel(draft, said);
        self.legend(draft);
    }

    pub(super) fn overview(&mut self, draft: &mut PageDraft<'a>) {
        let (view, mut window) = self.overview_view();
        let lowest = self.area.min.y + LEGEND + BELOW_OVERVIEW;
        self.cut_off(draft, &mut window, lowest);
        let said_at = self.head(draft, &capital(&self.sheet.name), &self.pump_and_members());
        self.shapes(draft, &view, &window);
        self.match_lines(draft, &window);
        let below = self.dimensions(draft, &view, &window);
        let cut = self.cut_ends(draft, &window, said_at);
        // What has no room near by is named on the sheet of its section.
        if self.is_named_elsewhere() {
            self.places.limit_leaders(LONGEST_ON_OVERVIEW);
        }
        let mut left = self.name_all(draft, &window, said_at);
        left.without.extend(cut);
        let said = Self::say_what_has_no_room(draft, &left, said_at);
        self.travel(draft, said);
        let (highest, lowest) = self.elevation_heights(below);
        self.elevation(draft, &view, highest, lowest);
        self.legend(draft);
    }

    /// How an overview stands, and what of the bar it shows.
    fn overview_view(&self) -> (View, Bounds) {
        let mut depth = self.depth(4.0);
        let (top, lowest) = (self.area.max.y - ABOVE_OVERVIEW, self.area.min.y + LEGEND + BELOW_OVERVIEW);
        // Where there is no room for all, the hose from the pump is cut before the bar is.
        let room = (top - lowest) * self.sheet.denominator / 1000.0;
        if depth.1 - depth.0 > room {
            depth.1 = (depth.0 + room).max(self.depth(0.0).1).min(depth.1);
        }
        let view = self.view_at(top, depth.1);
        (view, self.window(&view, depth))
    }

    /// An overview without room for the bar seen from behind.
    pub(super) fn lacks_elevation(&self, draft: &PageDraft) -> bool {
        let (view, window) = self.overview_view();
        let heights = self.elevation_heights(Self::below_dimensions(&window));
        !self.has_room_for_elevation(draft, &view, heights)
    }

    /// Between which heights of an overview the bar stands as it is seen from behind.
    fn elevation_heights(&self, below: f64) -> (f64, f64) {
        (below - 4.0, self.area.min.y + LEGEND + 2.0)
    }

    /// The bar seen from behind on a sheet of its own.
    pub(super) fn behind(&self, draft: &mut PageDraft) {
        let view = self.view_at(self.area.max.y - ABOVE_OVERVIEW, 0.0);
        self.head(draft, &capital(&self.sheet.name), &[]);
        draft.page.view = Some(view);
        self.elevation(draft, &view, self.area.max.y - 16.0, self.area.min.y + LEGEND + 2.0);
        self.legend(draft);
    }

    /// Where the pump is, and how wide the frame members are.
    fn pump_and_members(&self) -> Vec<String> {
        let project = self.source.project;
        let pump = if project.supply.pump_is_placed() {
            format!("Pump outlet, as entered: {}", place_words::pump(project, self.source.units))
        } else {
            "Nobody said where the pump is".to_owned()
        };
        std::iter::once(pump).chain(self.members()).collect()
    }

    /// How wide the frame members are drawn, where they are given.
    fn members(&self) -> Option<String> {
        let sections = &self.source.project.bar.sections;
        let mut widths: Vec<i64> = sections
            .iter()
            .flat_map(|section| &section.members)
            .map(|member| (member.width.si() * 10_000.0).round() as i64)
            .collect();
        widths.sort_unstable();
        widths.dedup();
        let text = |width: &i64| Measure::CutLength.text(*width as f64 / 10_000.0, self.source.units);
        let words: Vec<String> = widths.iter().map(text).collect();
        (!words.is_empty()).then(|| format!("Frame members {} wide", crate::plan::words::list(&words)))
    }
}
