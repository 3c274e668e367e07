//! The picture in the window: pointer, wheel and keys on it, and what a screen reader finds in it.

use eframe::egui;
use eframe::egui::{PointerButton, Pos2, Rect, Sense, Stroke, Ui, Vec2};

use super::{legend, paint, ruler, strip, to_bar, to_screen};
use crate::drawing::{self, Layer, Scene, SceneOptions, Subject};
use crate::geometry::{Bounds, Point2, View};
use crate::plan::{End, Item};
use crate::session::tools::{Gesture, end_place};
use crate::session::{Session, Tool};
use crate::window::theme::Theme;

/// How near the pointer must be to something, points.
const REACH: f64 = 9.0;
/// How near to a port, points.
const PORT_REACH: f64 = 16.0;
/// How far a part must be dragged before it leaves its place, points.
const STEADY: f64 = 3.0;
const RULER_HEIGHT: f32 = 26.0;
const STRIP_HEIGHT: f32 = 190.0;

/// What the canvas remembers between frames.
#[derive(Debug, Default)]
pub struct Canvas {
    /// Where it looks; fits the bar when none.
    pub view: Option<View>,
    /// The size it was fitted to; none once it was panned or zoomed.
    fitted: Option<Vec2>,
    /// Layers left away.
    pub hidden: std::collections::BTreeSet<Layer>,
    /// Where the pointer is on the bar.
    pub pointer: Option<Point2>,
    panning: bool,
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

    /// Draws the bar, its ruler, the strip of row flows and the legend in what room there is.
    pub fn show(&mut self, ui: &mut Ui, session: &mut Session) {
        let theme = Theme::of(ui.visuals());
        let whole = ui.available_rect_before_wrap();
        let legend_height = 26.0;
        let strip_height = STRIP_HEIGHT.min(whole.height() * 0.34);
        let bottom = whole.bottom() - legend_height;
        let strip_rect = Rect::from_min_max(
            Pos2::new(whole.left(), bottom - strip_height),
            Pos2::new(whole.right(), bottom),
        );
        let ruler_rect = Rect::from_min_max(
            Pos2::new(whole.left(), strip_rect.top() - RULER_HEIGHT),
            Pos2::new(whole.right(), strip_rect.top()),
        );
        let rect = Rect::from_min_max(whole.min, Pos2::new(whole.right(), ruler_rect.top()));
        let legend_rect = Rect::from_min_max(Pos2::new(whole.left(), bottom), whole.max);

        let mut scene = self.scene(session);
        let drawn = session.revision();
        if self.view.is_none() || self.fitted.is_some_and(|size| size != rect.size()) {
            self.fitted = Some(rect.size());
            let bounds = scene.extent.unwrap_or(Bounds::EMPTY);
            self.view = Some(View::fit(bounds, f64::from(rect.width()), f64::from(rect.height()), 52.0));
        }
        let response = ui.allocate_rect(rect, Sense::click_and_drag());
        response.widget_info(|| {
            egui::WidgetInfo::labeled(egui::accesskit::Role::Canvas, true, "Drawing of the bar")
        });
        let strip_response = ui.allocate_rect(strip_rect, Sense::hover());
        strip_response.widget_info(|| {
            egui::WidgetInfo::labeled(
                egui::accesskit::Role::Image,
                true,
                "Strip of row flows against the target",
            )
        });
        let over = response.hovered() || strip_response.hovered();
        self.wheel(ui, rect, over);
        let hit = self.pointer(ui, &response, &scene, session);
        // A gesture may have changed the plan: draw what it is now.
        if session.revision() != drawn {
            scene = self.scene(session);
        }
        let Some(view) = self.view else { return };
        let selected: Vec<Subject> = session.selection.iter().copied().collect();
        let highlight = paint::Highlight { selected: &selected, hovered: hit };
        let painter = ui.painter_at(rect);
        paint::scene(&painter, rect, &view, &scene, &highlight, &theme);
        self.tool_marks(&painter, rect, &view, session, &theme);
        ruler::ruler(&ui.painter_at(ruler_rect), ruler_rect, &view, session.project().units, &theme);
        let rows: Vec<_> = selected
            .iter()
            .filter_map(|subject| if let Subject::Row(id) = subject { Some(*id) } else { None })
            .collect();
        let on_strip = ui.input(|input| input.pointer.hover_pos());
        let hovered_row =
            on_strip.and_then(|at| strip::row_at(strip_rect, &view, session.project(), at)).or(match hit {
                Some(Subject::Row(id)) => Some(id),
                _ => None,
            });
        strip::strip(
            &ui.painter_at(strip_rect),
            strip_rect,
            &view,
            session.project(),
            Some(session.outcome()),
            &theme,
            session.project().units,
            &strip::StripHighlight { selected: &rows, hovered: hovered_row },
        );
        legend::legend(&ui.painter_at(legend_rect), legend_rect, &session.project().limits, &theme);
        accessible(ui, rect, &view, session);
        if let Some(subject) =
            hit.filter(|_| response.hovered() && !response.dragged() && session.tool == Tool::Select)
        {
            let text = describe(session, subject);
            response.on_hover_text_at_pointer(text);
        }
    }

    fn scene(&self, session: &Session) -> Scene {
        let options = SceneOptions { units: session.project().units, hidden: self.hidden.clone(), fold: 0.0 };
        drawing::bar_scene(session.project(), session.routing(), Some(session.outcome()), &options)
    }

    fn wheel(&mut self, ui: &Ui, rect: Rect, over: bool) {
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
            session.press(down, under, port_reach, add);
            // On an empty place Shift draws a box; without it the picture is moved.
            self.panning =
                under.is_none() && session.tool == Tool::Select && *session.gesture() == Gesture::None;
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
                if let Gesture::Joining { from, .. } = session.gesture()
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
            Tool::Select | Tool::Paste | Tool::Split { .. } | Tool::Measure => {}
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

fn describe(session: &Session, subject: Subject) -> String {
    let units = session.project().units;
    drawing::describe(session.project(), session.routing(), Some(session.outcome()), subject, units)
}

/// Every part, hose and row as something a screen reader can find, read and focus; focusing one selects it.
fn accessible(ui: &mut Ui, rect: Rect, view: &View, session: &mut Session) {
    let routing = session.routing();
    let (catalogue, supply, bar) =
        (&session.project().catalogue, &session.project().supply, &session.project().bar);
    let mut places: Vec<(Subject, Point2)> = Vec::new();
    for part in &routing.parts {
        places.push((Subject::Part(part.id), routing.placement(part, catalogue).0.flat()));
    }
    for run in &routing.runs {
        let from = routing.end_position(&run.from, catalogue, supply);
        let to = routing.end_position(&run.to, catalogue, supply);
        if let (Some(from), Some(to)) = (from, to) {
            let path = run.line.path(from, to);
            let middle = path[path.len() / 2];
            let before = path[(path.len() / 2).saturating_sub(1)];
            places.push((Subject::Run(run.id), before.towards(middle, 0.5).flat()));
        }
    }
    for row in &bar.rows {
        places.push((Subject::Row(row.id), bar.outlet(row).flat()));
    }
    let mut focused = None;
    for (subject, place) in places {
        let at = to_screen(rect, view, place);
        let area = Rect::from_center_size(at, Vec2::splat(14.0)).intersect(rect);
        if !area.is_positive() {
            continue;
        }
        let response =
            ui.interact(area, ui.scope_id().with(("subject", subject)), Sense::focusable_noninteractive());
        response.widget_info(|| {
            egui::WidgetInfo::labeled(egui::accesskit::Role::Button, true, describe(session, subject))
        });
        if response.gained_focus() {
            focused = Some(subject);
        }
        if response.has_focus() {
            let stroke = Stroke::new(2.0, Theme::of(ui.visuals()).accent);
            ui.painter_at(rect).circle_stroke(at, 11.0, stroke);
        }
    }
    if let Some(subject) = focused {
        session.selection = [subject].into();
    }
}
