//! The canvas: where it looks and what it shows, and the picture of any routing of any project with what flows in it.
//!
//! One [`Canvas`] may draw several routings, one above another: they then share view, layers and colours. What
//! changes a project is in [`super::editor`]; nothing here does.

use std::collections::{BTreeMap, BTreeSet};
use std::rc::Rc;

use eframe::egui;
use eframe::egui::{Rect, Response, Sense, Ui, Vec2};

use super::{legend, paint, reader, ruler, strip, to_bar};
use crate::drawing::{self, Layer, Scene, SceneOptions, Subject};
use crate::geometry::{Bounds, Point2, View};
use crate::hydraulics::Outcome;
use crate::plan::{Project, Routing, RowId};
use crate::quantities::UnitSystem;
use crate::session::Session;
use crate::window::theme::Theme;

/// How near the pointer must be to something, points.
pub(super) const REACH: f64 = 9.0;

/// One routing of a project and what flows in it.
#[derive(Debug, Clone, Copy)]
pub struct Shown<'a> {
    /// The project.
    pub project: &'a Project,
    /// The routing, one of the project's.
    pub routing: &'a Routing,
    /// What flows; none where it was not solved, and then nothing is coloured.
    pub outcome: Option<&'a Outcome>,
    /// Must differ whenever any of these three does: a scene is kept for as long as this stays the same.
    pub revision: u64,
    /// Tells pictures apart that one canvas draws in the same frame; the first one, 0, decides about fitting.
    pub slot: usize,
    /// What stands out.
    pub selected: &'a BTreeSet<Subject>,
}

impl<'a> Shown<'a> {
    /// What a session has in hand.
    pub fn of(session: &'a Session) -> Self {
        Self {
            project: session.project(),
            routing: session.routing(),
            outcome: Some(session.outcome()),
            revision: session.revision(),
            slot: 0,
            selected: &session.selection,
        }
    }
}

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

/// What the canvas remembers between frames.
#[derive(Debug, Default)]
pub struct Canvas {
    /// Where it looks; fits the bar when none.
    pub view: Option<View>,
    /// The size it was fitted to; none once it was panned or zoomed.
    pub(super) fitted: Option<Vec2>,
    /// Layers left away.
    pub hidden: BTreeSet<Layer>,
    /// Where the pointer is on the bar.
    pub pointer: Option<Point2>,
    /// A row pointed at on any picture or strip, marked on all of them in the next frame.
    pub(super) row_pointed_at: Option<RowId>,
    pub(super) panning: bool,
    scenes: BTreeMap<usize, (SceneKey, Rc<Scene>)>,
}

impl Canvas {
    /// Shows the whole bar in the next frame.
    pub fn fit(&mut self) {
        self.view = None;
    }

    /// Zooms about the middle.
    pub fn zoom(&mut self, factor: f64) {
        if let Some(view) = &mut self.view {
            *view = view.zoomed_about(0.0, 0.0, factor);
            self.fitted = None;
        }
    }

    /// Draws a routing that is only looked at: wheel and drag move the view, a click chooses. `name` is what a
    /// screen reader calls the picture.
    pub fn picture(&mut self, ui: &mut Ui, rect: Rect, shown: &Shown<'_>, name: &str) -> Pointed {
        let scene = self.scene(shown);
        self.keep_fitted(rect, &scene, shown.slot);
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
        let focused = self.paint(ui, rect, shown, &scene, hovered);
        chosen = chosen.or(focused);
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
        strip::strip(
            &ui.painter_at(rect),
            rect,
            &view,
            shown.project,
            shown.outcome,
            &Theme::of(ui.visuals()),
            shown.project.units,
            &strip::StripHighlight { selected: &rows, hovered: under.or(self.row_pointed_at) },
        );
        if response.hovered() {
            self.row_pointed_at = under;
        }
        under
    }

    /// The ruler along x; `rect` must have the left and right of the picture it belongs to.
    pub fn ruler(&self, ui: &Ui, rect: Rect, units: UnitSystem) {
        if let Some(view) = &self.view {
            ruler::ruler(&ui.painter_at(rect), rect, view, units, &Theme::of(ui.visuals()));
        }
    }

    /// The legend of the colours in use; gives the height it took.
    pub fn legend(&self, ui: &Ui, rect: Rect, shown: &Shown<'_>) -> f32 {
        let theme = Theme::of(ui.visuals());
        legend::legend(&ui.painter_at(rect), rect, &shown.project.limits, &theme)
    }

    /// The display list, built anew only when something it depends on has changed.
    pub(super) fn scene(&mut self, shown: &Shown<'_>) -> Rc<Scene> {
        let options = SceneOptions { units: shown.project.units, hidden: self.hidden.clone(), fold: 0.0 };
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

    /// Fits the view where it must fit: at first, and when the room changes while nobody has moved it.
    pub(super) fn keep_fitted(&mut self, rect: Rect, scene: &Scene, slot: usize) {
        let resized = slot == 0 && self.fitted.is_some_and(|size| size != rect.size());
        if self.view.is_none() || resized {
            self.fitted = Some(rect.size());
            let bounds = scene.extent.unwrap_or(Bounds::EMPTY);
            self.view = Some(View::fit(bounds, f64::from(rect.width()), f64::from(rect.height()), 52.0));
        }
    }

    /// The room of a picture: its place in the window, the wheel on it.
    pub(super) fn ground(&mut self, ui: &mut Ui, rect: Rect, name: &str) -> Response {
        let response = ui.allocate_rect(rect, Sense::click_and_drag());
        response.widget_info(|| egui::WidgetInfo::labeled(egui::accesskit::Role::Canvas, true, name));
        self.wheel(ui, rect, response.hovered());
        response
    }

    /// Paints the scene and gives what the keyboard reached.
    pub(super) fn paint(
        &mut self,
        ui: &mut Ui,
        rect: Rect,
        shown: &Shown<'_>,
        scene: &Scene,
        hovered: Option<Subject>,
    ) -> Option<Subject> {
        let view = self.view?;
        let selected: Vec<Subject> = shown.selected.iter().copied().collect();
        let marked = hovered.or(self.row_pointed_at.map(Subject::Row));
        let highlight = paint::Highlight { selected: &selected, hovered: marked };
        paint::scene(&ui.painter_at(rect), rect, &view, scene, &highlight, &Theme::of(ui.visuals()));
        if ui.rect_contains_pointer(rect) {
            self.row_pointed_at = match hovered {
                Some(Subject::Row(id)) => Some(id),
                _ => None,
            };
        }
        reader::accessible(ui, rect, &view, shown)
    }

    pub(super) fn wheel(&mut self, ui: &Ui, rect: Rect, over: bool) {
        let Some(view) = self.view.as_mut().filter(|_| over) else { return };
        let (scroll, pinch, at) =
            ui.input(|input| (input.smooth_scroll_delta(), input.zoom_delta(), input.pointer.hover_pos()));
        let Some(at) = at else { return };
        let from_middle = at - rect.center();
        let factor = f64::from(pinch) * f64::from(scroll.y / 240.0).exp();
        if factor != 1.0 || scroll.x != 0.0 {
            self.fitted = None;
        }
        if factor != 1.0 {
            *view = view.zoomed_about(f64::from(from_middle.x), f64::from(from_middle.y), factor);
        }
        if scroll.x != 0.0 {
            *view = view.panned(f64::from(scroll.x), 0.0);
        }
    }
}

fn rows_of(selected: &BTreeSet<Subject>) -> Vec<RowId> {
    let rows = selected.iter().filter_map(|subject| match subject {
        Subject::Row(id) => Some(*id),
        _ => None,
    });
    rows.collect()
}
