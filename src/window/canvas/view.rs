//! The canvas: where it looks and what it shows, and the picture of any routing of any project with what flows in it.
//!
//! One [`Canvas`] may draw several routings, one above another: they then share view, layers and colours. What
//! changes a project is in [`super::editor`]; nothing here does.

use std::collections::{BTreeMap, BTreeSet};
use std::rc::Rc;

use eframe::egui;
use eframe::egui::{Rect, Response, Sense, Ui, Vec2};

use super::halves::{BandChoice, BandLayout, Half, picture_size};
use super::legend::Legend;
use super::marks::{self, Marks, OutOfSight};
use super::obstacles::Obstacles;
use super::shown::Shown;
use super::{hover_card, paint, reader, ruler, scatter, strip, to_bar, to_screen};
use crate::drawing::{
    self, Colouring, Detail, Layer, PressureScale, Scene, SceneOptions, SeenFrom, Shape, Subject,
};
use crate::geometry::{Bounds, Point2, View};
use crate::plan::{FoldPosition, Project, RowId, SectionId};
use crate::quantities::UnitSystem;
use crate::window::theme::Theme;

/// How near the pointer must be to something, points.
pub(in crate::window) const REACH: f64 = 9.0;
/// Points on the screen in a metre, at least.
const SMALLEST: f64 = 6.0;
/// Points on the screen in a metre, at most.
const LARGEST: f64 = 5000.0;
/// The share of its size that a fitted bar keeps at least so that the pump is in sight too.
const PUMP_WORTH: f64 = 0.9;
/// Room in front of the bar and behind it, for words, points.
const WORDS: f64 = 46.0;
/// Where it is shown in two bands: in front for the names of the sections, behind for two lines of what they get.
const IN_FRONT: f64 = 24.0;
const BEHIND: f64 = 40.0;
/// Room beside the bar, points; at the left the strip has the words of its axis there.
const ASIDE: f64 = 18.0;
pub(in crate::window) const AXIS_WORDS: f64 = 46.0;
/// The share of a low picture that words leave to the bar.
const LEAST_BAR: f64 = 0.5;
/// A band of two that leaves less height to the bar shows nothing, points.
const LEAST_IN_BAND: f64 = 40.0;
/// How far apart row feeds are drawn that share a way and are selected or pointed at, points.
const LANE: f64 = 3.5;

/// What the pointer did on a picture that can't be edited.
#[derive(Debug)]
pub struct Pointed {
    /// egui's answer for the whole picture.
    pub response: Response,
    /// What lies under the pointer.
    pub hovered: Option<Subject>,
    /// What was clicked, or reached with the keyboard.
    pub chosen: Option<Subject>,
}

/// All that a scene depends on.
#[derive(Debug, Clone, PartialEq)]
struct SceneKey {
    revision: u64,
    routing: crate::plan::RoutingId,
    options: SceneOptions,
}

/// What is shown beside the drawing's own layers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Extras {
    /// Lines of the ruler's steps.
    pub grid: bool,
    /// The ruler along y; the one along x belongs to the strip and stays.
    pub rulers: bool,
    /// Dimension lines of the sections' widths.
    pub widths: bool,
    /// A band behind each row of the strip: what parts as they are sold and cut may add.
    pub scatter: bool,
}

impl Default for Extras {
    fn default() -> Self {
        Self { grid: false, rulers: true, widths: false, scatter: false }
    }
}

/// What the next frame is to show.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum FitRequest {
    Selection,
    NextSection,
}

/// What the canvas remembers between frames.
#[derive(Debug, Default)]
pub struct Canvas {
    /// Where it looks; fits the bar when none.
    pub view: Option<View>,
    /// The size it was fitted to; none once it was panned or zoomed.
    pub(super) fitted: Option<Vec2>,
    /// Layers left away.
    pub hidden: BTreeSet<Layer>,
    /// What colours stand for.
    pub colouring: Colouring,
    /// What is shown beside the layers.
    pub extras: Extras,
    /// Words of each picture as drawn last, with their places.
    pub labels: [Vec<paint::PlacedWords>; 2],
    /// Where parts and outlets of each picture stand.
    pub(in crate::window) symbols: [Vec<Rect>; 2],
    /// Where in the window the first picture was drawn last.
    pub place: Option<Rect>,
    /// The room of drawing, ruler, strip and legend together.
    pub whole: Option<Vec2>,
    /// The mark of what is selected and out of sight, in each picture.
    pub(super) selected_marks: [Option<OutOfSight>; 2],
    /// The mark of a pump that is out of sight, in each picture.
    pub(super) pump_marks: [Option<Rect>; 2],
    wanted: Option<FitRequest>,
    /// The section that was fitted last.
    section: Option<SectionId>,
    /// Where the pointer is on the bar.
    pub pointer: Option<Point2>,
    /// A row pointed at on any picture or strip and the frame it was in: marked on all of them in the next frame.
    row_pointed_at: Option<RowPointedAt>,
    /// What was pointed at in the last frame.
    pointed_at: Option<Subject>,
    pub(super) panning: bool,
    /// The rooms of the drawing of the project in hand, as widgets.
    pub(super) grounds: Vec<(egui::Id, Rect, Half)>,
    pub(super) band_choice: BandChoice,
    /// The bar is shown in one band or two.
    pub(super) layout: BandLayout,
    /// The other half's place and view, while one half of a split picture is worked on.
    pub(super) other: Option<(Rect, View)>,
    /// What is dragged has followed the pointer in this frame already.
    pub(super) has_followed: bool,
    scenes: BTreeMap<usize, (SceneKey, Rc<Scene>)>,
    scatter: scatter::Bands,
}

/// A row that was pointed at.
#[derive(Debug, Clone, Copy)]
struct RowPointedAt {
    row: RowId,
    /// The frame it was in.
    frame: u64,
    /// The picture on which it was, which shows its card; none where that was a strip.
    picture: Option<usize>,
}

impl Canvas {
    /// Looks where another one looks.
    pub(super) fn looking(
        view: Option<View>,
        layout: BandLayout,
        colouring: Colouring,
        extras: Extras,
    ) -> Self {
        Self { view, colouring, extras, layout, ..Self::default() }
    }

    /// Shows the whole bar in the next frame.
    pub fn fit(&mut self) {
        self.view = None;
        self.section = None;
    }

    /// Shows what is selected in the next frame; the whole bar if nothing is.
    pub const fn fit_selection(&mut self) {
        self.wanted = Some(FitRequest::Selection);
    }

    /// Shows the section to the right of the one shown last in the next frame; after the last the first.
    pub const fn fit_next_section(&mut self) {
        self.wanted = Some(FitRequest::NextSection);
    }

    /// Moves what is shown, points on the screen.
    pub fn pan(&mut self, dx: f64, dy: f64) {
        if let Some(view) = &mut self.view {
            *view = view.panned(dx, dy);
            self.fitted = None;
        }
    }

    /// Zooms about the middle.
    pub fn zoom(&mut self, factor: f64) {
        if let Some(view) = &mut self.view {
            *view = view.zoomed_about(0.0, 0.0, within(view.scale, factor));
            self.fitted = None;
        }
    }

    /// Draws a routing that is only looked at: wheel and drag move the view, a click chooses. `name` is what a
    /// screen reader calls the picture.
    pub fn picture(&mut self, ui: &mut Ui, rect: Rect, shown: &Shown<'_>, name: &str) -> Pointed {
        let scene = self.scene(shown);
        self.keep_fitted(rect, &scene, shown);
        let response = self.ground(ui, rect, name);
        let Some(view) = self.view else { return Pointed { response, hovered: None, chosen: None } };
        if response.dragged() {
            let by = response.drag_delta();
            self.view = Some(view.panned(f64::from(by.x), f64::from(by.y)));
            self.fitted = None;
        }
        let place = response.hover_pos();
        let hovered = place.and_then(|at| drawing::pick(&scene, to_bar(rect, &view, at), REACH / view.scale));
        if place.is_some() {
            self.pointer = place.map(|at| to_bar(rect, &view, at));
        }
        let mut chosen = hovered.filter(|_| response.clicked());
        let focused = self.paint(ui, rect, shown, &scene, hovered, |_| {});
        chosen = chosen.or(focused);
        let response = hover_card::under_pointer(response, shown, hovered, None);
        Pointed { response, hovered, chosen }
    }

    /// The strip of row flows of a routing, on the canvas's x-axis: `rect` must have the left and right of the
    /// picture it belongs to. Gives the row under the pointer.
    pub fn strip(&mut self, ui: &mut Ui, rect: Rect, shown: &Shown<'_>, name: &str) -> Option<RowId> {
        let response = ui.interact(rect, ui.scope_id().with(("strip", shown.slot)), Sense::hover());
        response.widget_info(|| egui::WidgetInfo::labeled(egui::accesskit::Role::Image, true, name));
        self.wheel(ui, rect, response.hovered());
        let view = self.view?;
        let under = response.hover_pos().and_then(|at| strip::row_at(rect, &view, shown.project, at));
        let rows: Vec<RowId> = rows_of(shown.selected);
        let scale = self.pressure_scale(shown);
        let pressures = scale.zip(shown.outcome).map(|(scale, outcome)| {
            let rows = drawing::pressure::rows_ahead_of_metering(shown.project, shown.routing, outcome);
            strip::Pressures { scale, rows }
        });
        let is_shown = self.extras.scatter && pressures.is_none();
        let band = if is_shown { self.scatter.of(ui, shown) } else { scatter::Band::default() };
        let pointed = self.row_in_last_frame(ui);
        strip::strip(
            &ui.painter_at(rect),
            rect,
            &view,
            shown.project,
            shown.routing.routing,
            shown.outcome,
            &Theme::of(ui.visuals()),
            shown.project.units,
            &strip::StripHighlight {
                selected: &rows,
                hovered: under.or(pointed.map(|one| one.row)),
                is_written_out: under.is_some() || pointed.is_some_and(|one| one.picture != Some(shown.slot)),
                beside: shown.beside,
                caught: shown.caught,
                scatter: &band,
            },
            pressures.as_ref(),
        );
        if response.hovered() {
            self.point_at_row(ui, under, None);
        }
        under
    }

    fn point_at_row(&mut self, ui: &Ui, row: Option<RowId>, picture: Option<usize>) {
        let frame = ui.ctx().cumulative_frame_nr();
        self.row_pointed_at = row.map(|row| RowPointedAt { row, frame, picture });
    }

    /// The row that was pointed at in this frame or the one before; a pointer that has left marks nothing any more.
    fn row_in_last_frame(&self, ui: &Ui) -> Option<RowPointedAt> {
        let pointed = self.row_pointed_at?;
        let frame = pointed.frame;
        let now = ui.ctx().cumulative_frame_nr();
        if now > frame && ui.input(|input| input.pointer.is_moving() || !input.pointer.has_pointer()) {
            // Once more, so that the mark goes although nothing else happens.
            ui.ctx().request_repaint();
        }
        (now <= frame + 1).then_some(pointed)
    }

    /// The ruler along x; `rect` must have the left and right of the picture it belongs to.
    pub fn ruler(&self, ui: &Ui, rect: Rect, units: UnitSystem) {
        if let Some(view) = &self.view {
            ruler::ruler(&ui.painter_at(rect), rect, view, units, &Theme::of(ui.visuals()));
        }
    }

    /// The legend of the colours in use.
    pub fn legend(&self, ui: &Ui, rect: Rect, shown: &Shown<'_>) {
        let theme = Theme::of(ui.visuals());
        let scale = self.pressure_scale(shown);
        self.legend_of(shown, scale.as_ref()).paint(&ui.painter_at(rect), rect, shown.outcome, &theme);
    }

    /// The height that the legend needs at a width, points.
    pub fn legend_height(&self, ui: &Ui, width: f32, shown: &Shown<'_>) -> f32 {
        let theme = Theme::of(ui.visuals());
        let scale = self.pressure_scale(shown);
        self.legend_of(shown, scale.as_ref()).height(ui.painter(), width, shown.outcome, &theme)
    }

    const fn legend_of<'a>(&self, shown: &Shown<'a>, scale: Option<&'a PressureScale>) -> Legend<'a> {
        match self.colouring {
            Colouring::Deviation => Legend::Deviations(&shown.project.limits),
            Colouring::Caught => Legend::Caught(&shown.project.limits),
            Colouring::Pressure => Legend::Pressures(scale, shown.project.units),
        }
    }

    /// The classes of pressure, when pressures are shown and there are any.
    fn pressure_scale(&self, shown: &Shown<'_>) -> Option<PressureScale> {
        let outcome = shown.outcome.filter(|_| self.colouring == Colouring::Pressure)?;
        PressureScale::of(shown.project, shown.routing, outcome)
    }

    /// The display list, built anew only when something it depends on has changed.
    pub(in crate::window) fn scene(&mut self, shown: &Shown<'_>) -> Rc<Scene> {
        let scale = self.view.map_or(60.0, |view| view.scale);
        let marked = shown.selected.iter().copied().chain(self.pointed_at);
        let options = SceneOptions {
            units: shown.project.units,
            hidden: self.hidden.clone(),
            fold: FoldPosition::WORKING,
            seen: SeenFrom::Above,
            colouring: self.colouring,
            detail: Detail::at(scale),
            marked: marked.collect(),
            // In steps, so that zooming does not build the scene anew in every frame.
            lane: LANE / 2f64.powf((scale.log2() * 4.0).round() / 4.0),
        };
        let key = SceneKey { revision: shown.revision, routing: shown.routing.id, options };
        if let Some((kept, scene)) = self.scenes.get(&shown.slot)
            && *kept == key
        {
            return scene.clone();
        }
        let scene = Rc::new(drawing::bar_scene(shown.project, shown.routing, shown.outcome, &key.options));
        self.scenes.insert(shown.slot, (key, scene.clone()));
        scene
    }

    /// Fits the view where it must fit: at first, when asked for, and when the room changes while nobody has moved it.
    pub(in crate::window) fn keep_fitted(&mut self, rect: Rect, scene: &Scene, shown: &Shown<'_>) {
        if shown.slot != 0 && self.view.is_some() {
            return;
        }
        let wanted = self.wanted.take().and_then(|wanted| match wanted {
            FitRequest::Selection => bounds_of(scene, shown.selected),
            FitRequest::NextSection => self.next_section(shown.project),
        });
        let extent = scene.extent.unwrap_or(Bounds::EMPTY);
        if let Some(bounds) = wanted {
            let mut view = fit_with_words(bounds, rect.size(), 60.0, WORDS);
            // No empty half beside the end of the bar, as far as the bar fills the picture.
            let half = f64::from(rect.width()) / 2.0 / view.scale;
            let (low, high) = (extent.min.x + half - AXIS_WORDS / view.scale, extent.max.x - half);
            if low < high {
                view.centre.x = view.centre.x.clamp(low, high);
            }
            // In the upper band; what is to the right of it stands in the lower one.
            let band = if self.is_split() { Half::Left } else { Half::Whole };
            self.view = Some(band.whole(view, rect.width()));
            self.fitted = None;
        } else if self.view.is_none() || self.fitted.is_some_and(|size| size != rect.size()) {
            self.fitted = Some(rect.size());
            self.view = Some(whole_bar(extent, shown.project, rect.size(), self.is_split()));
        }
    }

    /// The bar is about to be fitted to the room of its bands.
    pub(super) fn is_to_be_fitted(&self, whole: Vec2) -> bool {
        self.view.is_none() || (self.fitted.is_some() && self.whole != Some(whole))
    }

    /// The section to the right of the one shown last; after the last the first.
    fn next_section(&mut self, project: &Project) -> Option<Bounds> {
        let mut sections: Vec<_> = project.bar.sections.iter().collect();
        sections.sort_by(|a, b| a.left.si().total_cmp(&b.left.si()));
        let last = self.section.and_then(|last| sections.iter().position(|one| one.id == last));
        let section = last.and_then(|last| sections.get(last + 1)).or(sections.first())?;
        self.section = Some(section.id);
        let bar = project.bar.bounds();
        let corners = [Point2::new(section.left.si(), bar.min.y), Point2::new(section.right.si(), bar.max.y)];
        Some(Bounds::around(corners).grown(0.15))
    }

    /// The room of a picture: its place in the window, the wheel on it.
    pub(in crate::window) fn ground(&mut self, ui: &mut Ui, rect: Rect, name: &str) -> Response {
        let response = ui.allocate_rect(rect, Sense::click_and_drag());
        response.widget_info(|| egui::WidgetInfo::labeled(egui::accesskit::Role::Canvas, true, name));
        self.wheel(ui, rect, response.hovered());
        response
    }

    /// Paints the scene with its rulers and dimension lines, and what `more` adds; gives what the keyboard reached.
    pub(super) fn paint(
        &mut self,
        ui: &mut Ui,
        rect: Rect,
        shown: &Shown<'_>,
        scene: &Scene,
        hovered: Option<Subject>,
        more: impl FnOnce(&mut Marks<'_>),
    ) -> Option<Subject> {
        let view = self.view?;
        let theme = Theme::of(ui.visuals());
        let painter = ui.painter_at(rect);
        let units = shown.project.units;
        if self.extras.grid {
            marks::grid(&painter, rect, &view, units, &theme);
        }
        let pump = shown.project.supply.pump.flat();
        let other = self.other;
        let elsewhere =
            |at: Point2| other.is_some_and(|(rect, view)| rect.contains(to_screen(rect, &view, at)));
        let (mut laid, mut pump_mark, mut selected_mark, mut shapes) = (None, None, None, None);
        let mut symbols = Vec::new();
        let marks_over = |obstacles: &Obstacles| {
            let mut marks = Marks::new(&painter, rect, &view, &theme, obstacles);
            more(&mut marks);
            if self.extras.rulers {
                marks.ruler(units);
            }
            if let Some(extent) = scene.extent.filter(|_| self.extras.widths) {
                marks.section_widths(shown, extent.min.y + drawing::CAPTION_ROOM);
            }
            if !elsewhere(pump) {
                pump_mark = marks.pump(shown);
            }
            selected_mark = marks.selected_out_of_sight(shown, elsewhere);
            let (marks, taken) = marks.laid();
            laid = Some((marks, taken.clone()));
            symbols = obstacles.solid.iter().map(|(rect, _)| *rect).collect();
            shapes = (!shown.selected.is_empty()).then(|| obstacles.clone());
            taken
        };
        let marked = hovered.or(self.row_in_last_frame(ui).map(|one| Subject::Row(one.row)));
        let highlight = paint::Highlight { selected: shown.selected, hovered: marked };
        let labels = paint::scene(&painter, rect, &view, scene, &highlight, &theme, marks_over);
        if let Some((marks, taken)) = laid {
            marks.paint(&painter, &theme);
            // What a selection adds comes last, and moves no word that was there before.
            if let Some(shapes) = shapes {
                let mut marks = Marks::new(&painter, rect, &view, &theme, &shapes);
                marks.keep_off(taken.into_iter().chain(labels.iter().map(|one| one.rect)));
                marks.selection(shown);
                marks.laid().0.paint(&painter, &theme);
            }
        }
        if let Some(kept) = self.labels.get_mut(shown.slot).zip(self.symbols.get_mut(shown.slot)) {
            (*kept.0, *kept.1) = (labels, symbols);
        }
        if shown.slot == 0 {
            self.place = Some(rect);
        }
        if let Some(mark) = self.pump_marks.get_mut(shown.slot) {
            *mark = pump_mark;
        }
        if let Some(wanted) = selected_mark.as_ref().and_then(|mark| mark.pressed(ui, shown.slot)) {
            self.look_at(wanted);
            ui.ctx().request_repaint();
        }
        if let Some(mark) = self.selected_marks.get_mut(shown.slot) {
            *mark = selected_mark;
        }
        if ui.rect_contains_pointer(rect) {
            let row = match hovered {
                Some(Subject::Row(id)) => Some(id),
                _ => None,
            };
            self.point_at_row(ui, row, Some(shown.slot));
        }
        if shown.slot == 0 && self.pointed_at != hovered {
            self.pointed_at = hovered;
            // What is pointed at is drawn apart: once more, so that it shows although the pointer rests.
            ui.ctx().request_repaint();
        }
        // What the upper half shows is read and reached there.
        let read = self.other.filter(|_| shown.slot > 0);
        reader::accessible(ui, rect, &view, shown, |place| {
            read.is_some_and(|(rect, view)| rect.contains(to_screen(rect, &view, place)))
        })
    }
}

/// The view that shows a box in a picture of a size, with some room beside it and for words in front and behind, points.
fn fit_with_words(bounds: Bounds, size: Vec2, aside: f64, words: f64) -> View {
    let (wide, deep) = (f64::from(size.x), f64::from(size.y));
    let high = (deep - 2.0 * words).max(LEAST_BAR * deep).max(40.0);
    View::fit(bounds, (wide - 2.0 * aside).max(40.0), high, 0.0)
}

/// The same view with room at the left for the words of the strip's axis, for a box that is as wide as the picture but for
/// that.
pub(in crate::window) fn beside_axis(view: View, bounds: Bounds, size: Vec2) -> View {
    let free = f64::from(size.x) / 2.0 - (view.centre.x - bounds.min.x) * view.scale;
    let lacks = (AXIS_WORDS - free).max(0.0);
    View { centre: Point2::new(view.centre.x - lacks / view.scale, view.centre.y), ..view }
}

/// The view that shows a whole bar, which reaches so far, in one band or two of a size.
pub(super) fn whole_bar(extent: Bounds, project: &Project, band: Vec2, split: bool) -> View {
    let size = picture_size(band, split);
    if split {
        return fit_in_bands(extent, size);
    }
    let aside = f64::midpoint(ASIDE, AXIS_WORDS);
    let fit = |bounds: Bounds| beside_axis(fit_with_words(bounds, size, aside, WORDS), bounds, size);
    let bar = fit(extent);
    if extent.is_empty() {
        return bar;
    }
    let mut with_pump = extent;
    // The pump stands off the bar; its triangle points at its outlet.
    let pump = project.supply.pump;
    with_pump.add(Point2::new(pump.x, pump.y + 0.1));
    let whole = fit(with_pump);
    // A bar that would shrink for it is worth more than the pump, which then has its mark at the edge.
    if whole.scale >= PUMP_WORTH * bar.scale { whole } else { bar }
}

/// The bar itself, of an extent that has room for words in metres too.
fn without_words(extent: Bounds) -> Bounds {
    let (mut min, mut max) = (extent.min, extent.max);
    min.y += drawing::CAPTION_ROOM;
    max.y -= drawing::CAPTION_ROOM;
    Bounds { min, max }
}

/// Both halves of a bar in a picture of a size, with words in front of it and behind it.
fn fit_in_bands(extent: Bounds, size: Vec2) -> View {
    let deep = f64::from(size.y) - IN_FRONT - BEHIND;
    let wide = (f64::from(size.x) - ASIDE - AXIS_WORDS).max(40.0);
    let bar = without_words(extent);
    let view = beside_axis(View::fit(bar, wide, deep.max(LEAST_IN_BAND), 0.0), bar, size);
    // More room behind than in front.
    View {
        centre: Point2::new(view.centre.x, view.centre.y - (BEHIND - IN_FRONT) / 2.0 / view.scale),
        ..view
    }
}

/// A band of two has room for its half of the bar beside its words.
pub(super) fn holds_half(band: Vec2) -> bool {
    f64::from(band.y) >= IN_FRONT + BEHIND + LEAST_IN_BAND
}

/// The height at which each of two bands so many points wide shows its half as wide as it is, points.
pub(super) fn height_for_width(extent: Bounds, width: f32) -> f32 {
    if extent.is_empty() {
        return 0.0;
    }
    let size = picture_size(Vec2::new(width, 1e6), true);
    let bar = without_words(extent);
    (bar.depth() * fit_in_bands(extent, size).scale + IN_FRONT + BEHIND) as f32
}

/// A factor that keeps a scale within what is of use: from a bar that is a small thing in a yard to a few millimetres.
pub(super) fn within(scale: f64, factor: f64) -> f64 {
    (scale * factor).clamp(SMALLEST, LARGEST) / scale
}

/// The box of what some subjects are drawn with; none if none of them is drawn.
fn bounds_of(scene: &Scene, subjects: &BTreeSet<Subject>) -> Option<Bounds> {
    let mut all = Bounds::EMPTY;
    let own = scene.items.iter().filter(|item| item.subject.is_some_and(|one| subjects.contains(&one)));
    for item in own {
        match &item.shape {
            Shape::Line { points, .. } | Shape::Polygon { points } => {
                for point in points {
                    all.add(*point);
                }
            }
            Shape::Circle { centre, .. } => all.add(*centre),
            Shape::Text(_) => {}
        }
    }
    (!all.is_empty()).then(|| all.grown(0.3))
}

fn rows_of(selected: &BTreeSet<Subject>) -> Vec<RowId> {
    let rows = selected.iter().filter_map(|subject| match subject {
        Subject::Row(id) => Some(*id),
        _ => None,
    });
    rows.collect()
}
