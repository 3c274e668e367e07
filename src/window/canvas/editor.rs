//! The canvas on the project in hand: what the pointer does on it becomes presses and moves in metres, which the
//! session turns into edits.

use eframe::egui;
use eframe::egui::{PointerButton, Pos2, Rect, Stroke, Ui, Vec2};

use super::hover_card;
use super::view::{Canvas, REACH, Shown};
use super::{to_bar, to_screen};
use crate::drawing::{self, Scene, Subject};
use crate::geometry::{Point2, View};
use crate::plan::{End, Item};
use crate::session::tools::{Gesture, end_place};
use crate::session::{Session, Tool};
use crate::window::theme::Theme;

/// How near the pointer must be to a port, points.
const PORT_REACH: f64 = 16.0;
/// How far a part must be dragged before it leaves its place, points.
const STEADY: f64 = 3.0;
const RULER_HEIGHT: f32 = 26.0;
const STRIP_HEIGHT: f32 = 190.0;
const LEGEND_HEIGHT: f32 = 26.0;

impl Canvas {
    /// Draws the bar, its ruler, the strip of row flows and the legend in what room there is.
    pub fn show(&mut self, ui: &mut Ui, session: &mut Session) {
        let theme = Theme::of(ui.visuals());
        let whole = ui.available_rect_before_wrap();
        let strip_height = STRIP_HEIGHT.min(whole.height() * 0.34);
        let bottom = whole.bottom() - LEGEND_HEIGHT;
        let band = |top: f32, bottom: f32| {
            Rect::from_min_max(Pos2::new(whole.left(), top), Pos2::new(whole.right(), bottom))
        };
        let strip_rect = band(bottom - strip_height, bottom);
        let ruler_rect = band(strip_rect.top() - RULER_HEIGHT, strip_rect.top());
        let rect = band(whole.top(), ruler_rect.top());
        let legend_rect = band(bottom, whole.bottom());

        let scene = self.scene(&Shown::of(session));
        self.keep_fitted(rect, &scene, &Shown::of(session));
        let scene = self.scene(&Shown::of(session));
        let response = self.ground(ui, rect, "Drawing of the bar");
        let hit = self.pointer(ui, &response, &scene, session);
        // A gesture may have changed the plan: draw what it is now.
        let shown = Shown::of(session);
        let scene = self.scene(&shown);
        let focused = self.paint(ui, rect, &shown, &scene, hit, |_| {});
        if let Some(view) = self.view {
            self.tool_marks(&ui.painter_at(rect), rect, &view, session, &theme);
        }
        let shown = Shown::of(session);
        self.ruler(ui, ruler_rect, shown.project.units);
        self.strip(ui, strip_rect, &shown, "Strip of row flows against the target");
        self.legend(ui, legend_rect, &shown);
        let hit = hit.filter(|_| session.tool == Tool::Select);
        hover_card::under_pointer(response, &shown, hit);
        if let Some(subject) = focused {
            session.selection = [subject].into();
        }
    }

    /// Turns what the pointer does into presses and moves in metres; what lies under it.
    fn pointer(
        &mut self,
        ui: &Ui,
        response: &egui::Response,
        scene: &Scene,
        session: &mut Session,
    ) -> Option<Subject> {
        let rect = response.rect;
        let view = self.view?;
        let place = response.interact_pointer_pos().or_else(|| response.hover_pos());
        self.pointer = place.map(|at| to_bar(rect, &view, at));
        let at = self.pointer?;
        let reach = REACH / view.scale;
        let port_reach = PORT_REACH / view.scale;
        let hit = drawing::pick(scene, at, reach);
        let add = ui.input(|input| input.modifiers.shift || input.modifiers.command);
        let pressed = ui.input(|input| input.pointer.primary_pressed());
        if pressed && response.contains_pointer() {
            // The press counts where the pointer went down, not where it is at the end of the frame.
            let down =
                ui.input(|input| input.pointer.press_origin()).map_or(at, |at| to_bar(rect, &view, at));
            let under = drawing::pick(scene, down, reach);
            self.panning = under.is_none() && session.tool == Tool::Select;
            session.press(down, under, port_reach, add);
            response.request_focus();
        }
        let dragged = response.dragged_by(PointerButton::Middle)
            || response.dragged_by(PointerButton::Secondary)
            || (self.panning && response.dragged_by(PointerButton::Primary));
        if dragged {
            let by: Vec2 = response.drag_delta();
            self.view = Some(view.panned(f64::from(by.x), f64::from(by.y)));
            self.fitted = None;
        } else if response.dragged_by(PointerButton::Primary) {
            session.drag(at, hit, STEADY / view.scale);
        }
        if ui.input(|input| input.pointer.primary_released()) {
            session.release();
            self.panning = false;
        }
        hit
    }

    /// The ghost of what would be placed, ports that may be joined, and rows being given.
    fn tool_marks(&self, painter: &egui::Painter, rect: Rect, view: &View, session: &Session, theme: &Theme) {
        let Some(at) = self.pointer else { return };
        let reach = PORT_REACH / view.scale;
        let screen = |point: Point2| to_screen(rect, view, point);
        let stroke = Stroke::new(1.5, theme.accent);
        match &session.tool {
            Tool::Place(entry) => {
                let Some(item) = session.project().catalogue.item(entry) else { return };
                let on_port = matches!(item, Item::Gauge { .. } | Item::BlankingPlug { .. });
                let port = session
                    .nearest_port(at, reach, |_| on_port)
                    .and_then(|port| session.routing().port_position(port, &session.project().catalogue));
                if let Some(port) = port {
                    painter.circle_stroke(screen(port.flat()), 8.0, stroke);
                }
                let half = Vec2::new(
                    (crate::plan::part::half_length(item) * view.scale) as f32,
                    (crate::plan::part::half_depth(item) * view.scale) as f32,
                );
                let ghost = Rect::from_center_size(screen(at), (half * 2.0).max(Vec2::splat(12.0)));
                painter.rect_stroke(ghost, 3.0, stroke, egui::StrokeKind::Middle);
            }
            Tool::Join { .. } => {
                for end in Self::free_ends(session) {
                    if let Some(place) = end_place(session, session.routing(), &end) {
                        painter.circle_stroke(screen(place), 4.0, Stroke::new(1.0, theme.accent));
                    }
                }
                if let Some(place) =
                    session.nearest_end(at, reach).and_then(|end| end_place(session, session.routing(), &end))
                {
                    painter.circle_stroke(screen(place), 8.0, stroke);
                }
                if let Gesture::Joining { from } = session.gesture()
                    && let Some(from) = end_place(session, session.routing(), from)
                {
                    painter.line_segment([screen(from), screen(at)], Stroke::new(2.0, theme.accent));
                }
            }
            Tool::GiveRows { .. } => {
                if let Gesture::Rows { rows, .. } = session.gesture() {
                    for row in rows.iter().filter_map(|id| session.project().bar.row(*id)) {
                        let outlet = session.project().bar.outlet(row).flat();
                        painter.circle_stroke(screen(outlet), 10.0, stroke);
                    }
                }
            }
            Tool::Select => {}
        }
    }

    fn free_ends(session: &Session) -> Vec<End> {
        let taken = crate::hydraulics::connectivity::connections(session.routing());
        let routing = session.routing();
        let ports = routing.parts.iter().flat_map(|part| {
            let item = session.project().catalogue.item(&part.entry);
            let ports = item.map(Item::ports).unwrap_or_default();
            ports.into_iter().map(|port| crate::plan::PortRef { part: part.id, port })
        });
        ports.filter(|port| !taken.contains_key(port)).map(End::Port).chain([End::Supply]).collect()
    }
}
