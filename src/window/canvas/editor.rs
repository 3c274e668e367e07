//! The canvas on the project in hand: what the pointer does on it becomes presses and moves in metres, which the
//! session turns into edits.

use eframe::egui;
use eframe::egui::{PointerButton, Pos2, Rect, Stroke, Ui, Vec2};

use super::halves::{Band, Bands, Half};
use super::marks::Marks;
use super::pointed_outlet::{outlet_words, pointed_outlet, ring_outlet};
use super::shown::Shown;
use super::view::{Canvas, REACH};
use super::{hover_card, paint, to_bar, to_screen};
use crate::drawing::{self, Detail, Scene, Subject};
use crate::geometry::{Bounds, Point2, View};
use crate::plan::words::counted;
use crate::plan::{End, PartItem, part};
use crate::quantities::Measure;
use crate::session::snap::{Snap, SnapTo};
use crate::session::tool::{Gesture, Handle};
use crate::session::{Ghost, Session, Tool, ends};
use crate::window::status_line;
use crate::window::theme::Theme;

/// How near the pointer must be to a port, points.
const PORT_REACH: f64 = 16.0;
/// How far a part must be dragged before it leaves its place, points.
const STEADY: f64 = 3.0;
impl Canvas {
    /// Draws the bar, its ruler, the strip of row flows and the legend in what room there is, in one band or two.
    pub fn show(&mut self, ui: &mut Ui, session: &mut Session) {
        let theme = Theme::of(ui.visuals());
        let whole = ui.available_rect_before_wrap();
        let legend = self.legend_height(ui, whole.width(), &Shown::of(session));
        let scene = self.scene(&Shown::of(session));
        if self.is_to_be_fitted(whole.size()) {
            let extent = scene.extent.unwrap_or(Bounds::EMPTY);
            self.decide_bands(whole, legend, extent, session.project());
        }
        self.whole = Some(whole.size());
        let Bands { bands, legend } = Bands::of(whole, legend, self.layout);
        let Some(first) = bands.first().copied() else { return };
        let width = first.picture.width();
        self.keep_fitted(first.picture, &scene, &Shown::of(session));
        let scene = self.scene(&Shown::of(session));
        let (mut hit, mut pointer, mut over) = (None, None, false);
        let mut responses = Vec::with_capacity(bands.len());
        self.grounds.clear();
        for band in &bands {
            let response = self.in_half(band.half, width, |canvas| {
                canvas.ground(ui, band.picture, &band.half.name("Drawing of the bar"))
            });
            self.grounds.push((response.id, band.picture, band.half));
            responses.push(response);
        }
        for (band, response) in bands.iter().zip(&responses) {
            self.other = self.other_half(&bands, band.half);
            let under =
                self.in_half(band.half, width, |canvas| canvas.pointer(ui, response, &scene, session));
            hit = hit.or(under);
            pointer = pointer.or(self.pointer);
            over |= response.contains_pointer();
        }
        self.pointer = pointer;
        self.has_followed = false;
        // Painted anew with each picture; a picture without the pump leaves none to press.
        self.pump_marks = [None; 2];
        self.selected_marks = [const { None }; 2];
        if let [_] = bands[..] {
            self.labels[1].clear();
        }
        // A gesture may have changed the plan: draw what it is now.
        let shown = Shown::of(session);
        let scene = self.scene(&shown);
        let pointer = self.pointer.filter(|_| over);
        let selects = *session.tool() == Tool::Select && *session.gesture() == Gesture::None;
        let outlet = pointer.filter(|_| selects).and_then(|at| pointed_outlet(session, hit, at));
        let mut focused = None;
        let at = ui.input(|input| input.pointer.hover_pos());
        let in_band = |band: &&Band| at.is_some_and(|at| band.picture.contains(at));
        let pointed_at = bands.iter().find(in_band).map(|band| band.half);
        for band in &bands {
            let rect = band.picture;
            let shown = Shown { slot: band.half.slot(), ..Shown::of(session) };
            self.other = self.other_half(&bands, band.half);
            focused = focused.or(self.in_half(band.half, width, |canvas| {
                // What overlaps shows in both bands: the words stand where the pointer is.
                let told_at = pointer.filter(|_| pointed_at.is_none_or(|half| half == band.half));
                let focused = canvas.paint(ui, rect, &shown, &scene, hit, |marks| {
                    tool_words(marks, session, told_at, &theme);
                });
                if let Some(view) = canvas.view {
                    tool_marks(&ui.painter_at(rect), rect, &view, session, pointer, &theme);
                    ring_outlet(&ui.painter_at(rect), rect, &view, session, outlet, &theme);
                }
                canvas.ruler(ui, band.ruler, shown.project.units);
                let name = band.half.name("Strip of row flows against the target");
                canvas.strip(ui, band.strip, &shown, &name);
                focused
            }));
        }
        self.other = None;
        let shown = Shown::of(session);
        self.legend(ui, legend, &shown);
        let hit = hit.filter(|_| *session.tool() == Tool::Select);
        let nearest = outlet.map(|port| outlet_words(session, port));
        for response in responses {
            let hit = hit.filter(|_| response.contains_pointer());
            hover_card::under_pointer(response, &shown, hit, nearest.as_deref());
        }
        if let Some(subject) = focused {
            session.select([subject]);
        }
    }

    /// Where the other half of a split picture is, and how it looks.
    fn other_half(&self, bands: &[Band], half: Half) -> Option<(Rect, View)> {
        let other = bands.iter().find(|band| band.half != half)?;
        Some((other.picture, other.half.view(self.view?, other.picture.width())))
    }

    /// What is dragged follows the pointer, before anything of a frame is laid out: all panels then show the same state
    /// as the drawing. Presses and releases wait for [`Self::show`], since a field that loses its focus by them takes
    /// what was typed first.
    /// `slot` is that of the picture worked on, see [`Shown::slot`].
    pub fn follow_drag(&mut self, ctx: &egui::Context, session: &mut Session, slot: usize) {
        let pressed = ctx.input(|input| input.pointer.primary_pressed());
        if pressed || !session.is_in_step() {
            return;
        }
        let read = |(id, _, half): &(egui::Id, Rect, Half)| Some((ctx.read_response(*id)?, *half));
        let grounds: Vec<_> = self.grounds.iter().filter_map(read).collect();
        let dragged = |(response, _): &&(egui::Response, Half)| response.dragged_by(PointerButton::Primary);
        let Some(held) = grounds.iter().find(dragged) else { return };
        let (Some(view), Some(place)) = (self.view, held.0.interact_pointer_pos()) else { return };
        // What is held in one band may be taken over to the other.
        let under = grounds.iter().find(|(response, _)| response.rect.contains(place)).unwrap_or(held);
        let rect = under.0.rect;
        let at = to_bar(rect, &under.1.view(view, rect.width()), place);
        let scene = self.scene(&Shown { slot, ..Shown::of(session) });
        let hit = drawing::pick(&scene, at, REACH / view.scale);
        status_line::say_besides(ctx, session.drag(at, hit, STEADY / view.scale));
        self.has_followed = true;
    }

    /// Turns what the pointer does into presses and moves in metres; what lies under it.
    pub(in crate::window) fn pointer(
        &mut self,
        ui: &Ui,
        response: &egui::Response,
        scene: &Scene,
        session: &mut Session,
    ) -> Option<Subject> {
        let rect = response.rect;
        let view = self.view?;
        let other = self.other;
        let place = response.interact_pointer_pos().or_else(|| response.hover_pos());
        // The mark of a pump out of sight stands for its outlet, so that a hose can be joined to it.
        let joins = matches!(session.tool(), Tool::Join { .. });
        let pump_marks = self.pump_marks.map(|mark| mark.filter(|_| joins));
        let pump = session.project().supply.pump.flat();
        let on_bar = |at: Pos2| {
            if pump_marks.iter().flatten().any(|mark| mark.contains(at)) {
                return pump;
            }
            match other.filter(|(other, _)| other.contains(at)) {
                Some((rect, view)) => to_bar(rect, &view, at),
                None => to_bar(rect, &view, at),
            }
        };
        self.pointer = place.map(on_bar);
        let at = self.pointer?;
        let reach = REACH / view.scale;
        let port_reach = PORT_REACH / view.scale;
        let hit = drawing::pick(scene, at, reach);
        let add = ui.input(|input| input.modifiers.shift || input.modifiers.command);
        // A press on the mark of what is out of sight is the mark's, and leaves it selected.
        let is_on_mark = |at: Pos2| self.selected_marks.iter().flatten().any(|one| one.mark.contains(at));
        let pressed = ui.input(|input| {
            input.pointer.primary_pressed() && !input.pointer.press_origin().is_some_and(is_on_mark)
        });
        if pressed && response.contains_pointer() {
            // The press counts where the pointer went down, not where it is at the end of the frame.
            let down = ui.input(|input| input.pointer.press_origin()).map_or(at, on_bar);
            let under = drawing::pick(scene, down, reach);
            status_line::say(ui.ctx(), session.press(down, under, port_reach, add));
            // On an empty place Shift draws a box; without it the picture is moved.
            self.panning =
                under.is_none() && *session.tool() == Tool::Select && *session.gesture() == Gesture::None;
            response.request_focus();
        }
        let dragged = response.dragged_by(PointerButton::Middle)
            || response.dragged_by(PointerButton::Secondary)
            || (self.panning && response.dragged_by(PointerButton::Primary));
        if dragged {
            let by: Vec2 = response.drag_delta();
            self.view = Some(view.panned(f64::from(by.x), f64::from(by.y)));
            self.fitted = None;
        } else if response.dragged_by(PointerButton::Primary) && !self.has_followed {
            status_line::say_besides(ui.ctx(), session.drag(at, hit, STEADY / view.scale));
        }
        if ui.input(|input| input.pointer.primary_released()) {
            status_line::say_besides(ui.ctx(), session.release());
            self.panning = false;
        }
        if response.double_clicked() {
            status_line::say_besides(ui.ctx(), session.double_click(at, hit, port_reach));
        }
        hit
    }
}

/// Words of the tool in hand: what is held snapped to, the length of the hose being drawn, what is measured.
pub(super) fn tool_words(marks: &mut Marks<'_>, session: &Session, pointer: Option<Point2>, theme: &Theme) {
    let units = session.project().units;
    if let Gesture::Measuring { from, to } = session.gesture() {
        marks.distance(*from, *to, units);
    }
    let Some(pointer) = pointer else { return };
    let reach = PORT_REACH / marks.scale();
    let at = marks.at(pointer);
    if let Some((way, length)) = session.joining_way(pointer, reach) {
        let end = way.last().map_or(at, |end| marks.at(end.flat()));
        let words = length.map_or_else(
            || "its length is computed once it is laid".to_owned(),
            |length| Measure::Distance.text(length.si(), units),
        );
        marks.word_near(end, words, 12.0, theme.accent);
    }
    if let Some(end) = joined_to(session, pointer, reach) {
        let words = ends::end_words(session, &end);
        marks.word_near(at, words, 11.0, theme.soft);
    }
    let ghosts = session.ghosts(pointer, reach);
    let snap = ghosts.first().map(|ghost| &ghost.snap).or(session.snapped());
    if let Some(text) = snap.and_then(|snap| session.snap_text(snap)) {
        marks.word_near(at, text, 11.0, theme.soft);
    }
    if let Some(over) = over_words(&ghosts) {
        marks.word_near(at, over, 11.0, theme.warning);
    }
    if let Gesture::Rows { rows, .. } = session.gesture() {
        let words = counted(rows.len(), "row");
        marks.word_near(at, words, 12.0, theme.accent);
    }
}

/// The end that the hose in hand would take at the pointer.
fn joined_to(session: &Session, pointer: Point2, reach: f64) -> Option<End> {
    matches!(session.tool(), Tool::Join { .. }).then(|| session.nearest_end(pointer, reach)).flatten()
}

/// What the ghosts would lie over, in words; nothing where all of them have room.
fn over_words(ghosts: &[Ghost]) -> Option<String> {
    let over: std::collections::BTreeSet<&str> =
        ghosts.iter().flat_map(|ghost| ghost.over.iter().map(String::as_str)).collect();
    (!over.is_empty()).then(|| format!("lies over {}", over.into_iter().collect::<Vec<_>>().join(", ")))
}

/// What the tool in hand shows over the drawing: the ghost of what would be placed with its ports, what it snapped
/// to, ports that may be joined and the hose on its way there, handles, the box of a selection, rows being given.
pub(super) fn tool_marks(
    painter: &egui::Painter,
    rect: Rect,
    view: &View,
    session: &Session,
    pointer: Option<Point2>,
    theme: &Theme,
) {
    let screen = |point: Point2| to_screen(rect, view, point);
    let reach = PORT_REACH / view.scale;
    let stroke = Stroke::new(1.5, theme.accent);
    let thin = Stroke::new(1.0, theme.accent);
    for (_, handle, place) in session.handles() {
        let at = screen(place.flat());
        match handle {
            Handle::Waypoint(_) => {
                let square = Rect::from_center_size(at, Vec2::splat(7.0));
                painter.rect(square, 1.0, theme.paper, stroke, egui::StrokeKind::Middle);
            }
            Handle::Start | Handle::End => {
                painter.circle(at, 4.5, theme.paper, stroke);
            }
        }
    }
    match session.gesture() {
        Gesture::Box { from, to, .. } => {
            let area = Rect::from_two_pos(screen(*from), screen(*to));
            painter.rect(area, 0.0, theme.accent.gamma_multiply(0.10), thin, egui::StrokeKind::Middle);
        }
        Gesture::Rows { rows, .. } => {
            for row in rows.iter().filter_map(|id| session.project().bar.row(*id)) {
                painter.circle_stroke(screen(session.project().bar.outlet(row).flat()), 10.0, stroke);
            }
        }
        _ => {}
    }
    if let Some(snap) = session.snapped() {
        snap_marks(painter, rect, view, session, snap, theme);
    }
    let Some(pointer) = pointer else { return };
    for ghost in session.ghosts(pointer, reach) {
        let Some(item) = session.project().catalogue.item(&ghost.entry) else { continue };
        snap_marks(painter, rect, view, session, &ghost.snap, theme);
        // A ghost is the part itself in the colour of what is active.
        let edge = if ghost.over.is_empty() { theme.accent } else { theme.warning };
        let ghostly = Theme { outline: edge, paper: theme.accent_ground, ..*theme };
        let items = drawing::symbol(item, ghost.place, ghost.turn, Detail::at(view.scale));
        let scene = Scene { items, extent: None };
        paint::scene(painter, rect, view, &scene, &paint::Highlight::NONE, &ghostly, |_| Vec::new());
        for port in item.ports() {
            let place = part::place_offset(ghost.place, ghost.turn, item.port_offset(port));
            painter.circle(screen(place.flat()), 2.5, theme.paper, thin);
        }
    }
    for port in session.mounts_in_hand() {
        if let Some(place) = session.end_place(&End::Port(port)) {
            painter.circle_stroke(screen(place.flat()), 4.0, thin);
        }
    }
    if matches!(session.tool(), Tool::Join { .. }) || matches!(session.gesture(), Gesture::MoveEnd { .. }) {
        for end in free_ends(session) {
            if let Some(place) = session.end_place(&end) {
                painter.circle_stroke(screen(place.flat()), 4.0, thin);
            }
        }
        if let Some(place) = session.nearest_end(pointer, reach).and_then(|end| session.end_place(&end)) {
            painter.circle_stroke(screen(place.flat()), 8.0, stroke);
        }
    }
    if let Gesture::MoveFeedEnd { at_outlet: true, moving: true, .. } = session.gesture() {
        for end in free_ends(session) {
            let outlet = end.port().is_some_and(|port| matches!(port.port, crate::plan::Port::Outlet(_)));
            if let Some(place) = session.end_place(&end).filter(|_| outlet) {
                painter.circle_stroke(screen(place.flat()), 4.0, thin);
            }
        }
    }
    if let Some((way, _)) = session.joining_way(pointer, reach) {
        let points = way.iter().map(|point| screen(point.flat())).collect::<Vec<_>>();
        for point in points.iter().skip(1).rev().skip(1) {
            painter.circle_filled(*point, 3.0, theme.accent);
        }
        painter.line(points, Stroke::new(2.0, theme.accent));
    }
}

/// Shows what something that is held snapped to: a ring about a port, a line along what it is in line with.
fn snap_marks(
    painter: &egui::Painter,
    rect: Rect,
    view: &View,
    session: &Session,
    snap: &Snap,
    theme: &Theme,
) {
    let screen = |point: Point2| to_screen(rect, view, point);
    let at = screen(snap.place.flat());
    let line = Stroke::new(1.0, theme.accent.gamma_multiply(0.7));
    let port = |port| session.geometry().anchors.port(port).map(|at| at.place);
    for to in &snap.to {
        match to {
            SnapTo::Port(one) => {
                if let Some(place) = port(*one) {
                    painter.circle_stroke(screen(place.flat()), 8.0, Stroke::new(1.5, theme.accent));
                }
            }
            SnapTo::Supply | SnapTo::Outlet(_) => {
                painter.circle_stroke(at, 8.0, Stroke::new(1.5, theme.accent));
            }
            SnapTo::InLine(one) => {
                if let Some(place) = port(*one) {
                    painter.extend(egui::Shape::dashed_line(&[at, screen(place.flat())], line, 4.0, 3.0));
                }
            }
            SnapTo::Middle(_) | SnapTo::Row(_) => {
                let ends = [Pos2::new(at.x, rect.top()), Pos2::new(at.x, rect.bottom())];
                painter.extend(egui::Shape::dashed_line(&ends, line, 4.0, 4.0));
            }
            SnapTo::Frame(_) => {
                let reach = Vec2::new(36.0, 0.0);
                painter.line_segment([at - reach, at + reach], Stroke::new(2.0, line.color));
            }
            SnapTo::Grid | SnapTo::Hose(_) => {}
        }
    }
}

/// Ports for hoses that nothing sits on, and the pump's outlet.
fn free_ends(session: &Session) -> Vec<End> {
    let taken = crate::hydraulics::connectivity::connections(session.routing());
    let routing = session.routing();
    let ports = routing.parts.iter().flat_map(|part| {
        let item = session.project().catalogue.item(&part.entry);
        let ports = item.map(PartItem::ports).unwrap_or_default();
        ports.into_iter().map(|port| crate::plan::PortRef { part: part.id, port })
    });
    let takes_hose = |port: &crate::plan::PortRef| port.port != crate::plan::Port::Gauge;
    ports
        .filter(|port| !taken.contains_key(port) && takes_hose(port))
        .map(End::Port)
        .chain([End::Supply])
        .collect()
}
