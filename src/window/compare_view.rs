//! Two routings one above the other, what differs between them, and what the numbers mean.
//!
//! Both drawings, both strips of row flows and the strip of differences share one view. Every tool works in either
//! drawing: a press takes its routing in hand, and counts there.

mod marks;
mod rows;
mod table;

use std::collections::BTreeSet;

use eframe::egui;
use eframe::egui::{
    CentralPanel, ComboBox, Frame, Margin, Panel, Rect, RichText, ScrollArea, Ui, UiBuilder, Vec2, pos2,
};

use super::canvas::paint::PlacedWords;
use super::canvas::shown::Shown;
use super::canvas::view::{AXIS_WORDS, Canvas, beside_axis};
use super::dialogs::{DialogAnswer, PathDialog, Purpose};
use super::number_field::NumberField;
use super::theme::Theme;
use super::typing::AfterTyping;
use super::{findings, status_line};
use crate::files::marks::Kind;
use crate::files::output::{Output, look};
use crate::geometry::{Bounds, Point2, View};
use crate::plan::{FoldPosition, Subject};
use crate::quantities::{Angle, Measure, Speed, Temperature};
use crate::session::commands::Command;
use crate::session::side_by_side::{CompareSide, OwnConditions};
use crate::session::{Gesture, Session, SideBySide, Tool};
use crate::studies::comparison::table as plain;

/// Names of the two places, for screen readers and for the fields that choose.
const PLACES: [&str; 2] = ["Upper", "Lower"];
const HEADER: f32 = 28.0;
/// Room around the bar when all of it is shown, points.
const MARGIN: f64 = 4.0;

/// The comparison in the window; empty while it is closed.
#[derive(Debug, Default)]
pub struct CompareView {
    open: Option<OpenComparison>,
}

#[derive(Debug)]
struct OpenComparison {
    pair: SideBySide,
    canvas: Canvas,
    /// The room and the view it was fitted to.
    fitted: Option<(Vec2, View)>,
    pictures: [Rect; 2],
    /// The drawing that is worked on, 0 or 1: that of the routing in hand.
    active: usize,
    mark: bool,
    dialog: Option<PathDialog>,
    said: Option<String>,
    after: AfterTyping<CompareRequest>,
    /// How far folded somebody asks to see the bar.
    look_folded: Option<FoldPosition>,
}

/// What a button asks for, once what is typed is taken.
#[derive(Debug)]
enum CompareRequest {
    Close,
    Export,
    Copy,
}

impl CompareView {
    /// Opens it on the routing in hand and its neighbour, or closes it.
    pub fn toggle(&mut self, session: &mut Session) {
        if self.open.take().is_none() {
            // Two routings are compared as planned.
            session.look_as_planned();
            self.open = Some(OpenComparison::new(session));
        }
    }

    /// It is shown.
    pub const fn is_open(&self) -> bool {
        self.open.is_some()
    }

    /// The pair that is compared.
    pub fn pair(&self) -> Option<&SideBySide> {
        self.open.as_ref().map(|open| &open.pair)
    }

    /// The view both drawings share.
    pub fn view(&self) -> Option<View> {
        self.open.as_ref()?.canvas.view
    }

    /// Where the upper (0) or lower (1) drawing was in the last frame.
    pub fn picture(&self, side: usize) -> Option<Rect> {
        self.open.as_ref()?.pictures.get(side).copied()
    }

    /// The words of the upper (0) or lower (1) drawing in the last frame.
    pub fn labels(&self, side: usize) -> &[PlacedWords] {
        self.open.as_ref().and_then(|open| open.canvas.labels.get(side)).map_or(&[], Vec::as_slice)
    }

    /// Where the pointer is on the bar.
    pub fn pointer(&self) -> Option<Point2> {
        self.open.as_ref()?.canvas.pointer
    }

    /// A dialog of its own is open, which owns the keys.
    pub fn is_modal(&self) -> bool {
        self.open.as_ref().is_some_and(|open| open.dialog.is_some())
    }

    /// Carries out a command that is meant for these drawings; false if it is for the session.
    pub fn run(&mut self, command: Command, session: &Session) -> bool {
        let Some(open) = &mut self.open else { return false };
        if open.canvas.run(command) {
            return true;
        }
        match command {
            // A gesture, the tool and what is selected are given up first.
            Command::Cancel
                if *session.gesture() == Gesture::None
                    && *session.tool() == Tool::Select
                    && session.selection().is_empty() =>
            {
                self.open = None;
            }
            _ => return false,
        }
        true
    }

    /// Shows it in all the room there is; false, and nothing shown, while it is closed.
    pub fn show(&mut self, ui: &mut Ui, session: &mut Session, main: &Canvas) -> bool {
        let Some(open) = &mut self.open else { return false };
        if open.show(ui, session, main) {
            self.open = None;
        }
        true
    }

    /// How far folded somebody asks to see the bar, once.
    pub fn take_look_folded(&mut self) -> Option<FoldPosition> {
        self.open.as_mut()?.look_folded.take()
    }
}

impl OpenComparison {
    fn new(session: &Session) -> Self {
        Self {
            pair: SideBySide::new(session),
            canvas: Canvas::default(),
            fitted: None,
            pictures: [Rect::NOTHING; 2],
            active: 0,
            mark: true,
            dialog: None,
            said: None,
            after: AfterTyping::default(),
            look_folded: None,
        }
    }

    /// True if it is to be closed.
    fn show(&mut self, ui: &mut Ui, session: &mut Session, main: &Canvas) -> bool {
        self.canvas.hidden.clone_from(&main.hidden);
        self.canvas.colouring = main.colouring;
        self.canvas.extras = main.extras;
        // Before anything is painted, so that drawings and numbers follow within the frame.
        self.canvas.follow_drag(ui.ctx(), session, self.active);
        self.show_routing_in_hand(session);
        self.pair.follow(session);
        let before = (session.revision(), session.selection().clone());
        let theme = Theme::of(ui.visuals());
        let mut close = false;
        let side = Frame::new().fill(theme.panel).inner_margin(Margin::symmetric(12, 8));
        Panel::right("comparison").frame(side).default_size(448.0).size_range(360.0..=760.0).show(ui, |ui| {
            close = self.figures(ui, session);
        });
        let ground = Frame::new().fill(theme.canvas).inner_margin(Margin::symmetric(8, 4));
        CentralPanel::default().frame(ground).show(ui, |ui| self.drawings(ui, session));
        let is_as_before = before.0 == session.revision() && before.1 == *session.selection();
        if !is_as_before && ui.input(|input| input.pointer.any_pressed()) {
            ui.ctx().request_discard("a press has changed what the figures show");
        }
        self.export(ui, session);
        close
    }

    fn drawings(&mut self, ui: &mut Ui, session: &mut Session) {
        let whole = ui.available_rect_before_wrap();
        let theme = Theme::of(ui.visuals());
        // Drawing, its strip, the differences, and again: the strips as low as they can be read, the rest to the bar.
        let strip = (whole.height() * 0.14).clamp(82.0, 150.0);
        let middle = (whole.height() * 0.11).clamp(64.0, 130.0);
        // Below them what colours mean, and what the marks do where there are any.
        let marked = self.mark && self.pair.comparison().is_some_and(|one| !one.items.is_empty());
        let legend = shown(&self.pair, session, 0)
            .map_or(0.0, |shown| self.canvas.legend_height(ui, whole.width() - 16.0, &shown) + 4.0);
        let legends = if marked { legend + marks::LEGEND } else { legend };
        let picture = (whole.height() - 2.0 * strip - middle - 2.0 * HEADER - legends).max(60.0) / 2.0;
        let mut top = whole.top();
        let mut band = |height: f32| {
            let rect = Rect::from_min_max(pos2(whole.left(), top), pos2(whole.right(), top + height));
            top += height;
            rect
        };
        let rooms = [(band(HEADER), band(picture), band(strip))];
        let between = band(middle);
        let rooms = [rooms[0], (band(HEADER), band(picture), band(strip))];
        let legend = band(legend);
        if let Some(comparison) = self.pair.comparison().filter(|_| marked) {
            let room = band(marks::LEGEND).translate(Vec2::new(8.0, -3.0));
            marks::legend(ui.painter(), room, comparison, &theme);
        }
        self.fit(session, rooms[0].1.size());
        // Both before either is painted: what is done in one of them may change the other.
        let pointed = rooms.map(|(_, picture, _)| picture).into_iter().enumerate();
        let pointed: Vec<_> = pointed.map(|(side, picture)| self.point(ui, picture, session, side)).collect();
        self.canvas.pointer = pointed.iter().flatten().find_map(|pointed| pointed.pointer);
        if self.pair.follow(session) {
            ui.ctx().request_repaint();
        }
        for (side, ((header, _, strip), pointed)) in rooms.into_iter().zip(pointed).enumerate() {
            self.header(ui, header, session, side);
            if let Some(pointed) = pointed {
                self.picture(ui, session, side, pointed);
            }
            self.strip(ui, strip, session, side);
        }
        if let (Some(comparison), Some(view)) = (self.pair.comparison(), self.canvas.view) {
            rows::strip(ui, between, &view, session.project(), comparison);
            let response = ui.interact(between, ui.scope_id().with("differences"), egui::Sense::hover());
            self.canvas_wheel(ui, &response);
            for edge in [between.top(), between.bottom()] {
                ui.painter().hline(whole.x_range(), edge, egui::Stroke::new(1.0, theme.line));
            }
        }
        if let Some(shown) = shown(&self.pair, session, 0) {
            self.canvas.legend(ui, legend.shrink2(Vec2::new(8.0, 2.0)), &shown);
        }
    }

    /// Fits both drawings at first, and again when the room changes while nobody has moved them.
    fn fit(&mut self, session: &Session, size: Vec2) {
        let moved = self.fitted.is_some_and(|(_, view)| self.canvas.view.is_some_and(|now| now != view));
        let resized = self.fitted.is_none_or(|(fitted, _)| fitted != size);
        if self.canvas.view.is_some() && (moved || !resized) {
            return;
        }
        let mut bounds = Bounds::EMPTY;
        let project = session.project();
        let bar = project.bar.bounds();
        if !bar.is_empty() {
            bounds = bar.grown(0.25);
        }
        for side in 0..2 {
            for part in self.pair.routing(session, side).iter().flat_map(|routing| &routing.parts) {
                bounds.add(part.position.flat());
            }
        }
        // The words in front of and behind the bar.
        if !bounds.is_empty() {
            bounds.add(Point2::new(bounds.min.x, bounds.max.y + 0.35));
            bounds.add(Point2::new(bounds.min.x, bounds.min.y - 0.35));
        }
        let wide = (f64::from(size.x) - AXIS_WORDS).max(40.0);
        let view = View::fit(bounds, wide, f64::from(size.y), MARGIN);
        let view = beside_axis(view, bounds, size);
        self.canvas.view = Some(view);
        self.fitted = Some((size, view));
    }

    /// Which routing stands here, and under which conditions.
    fn header(&mut self, ui: &mut Ui, rect: Rect, session: &mut Session, side: usize) {
        let theme = Theme::of(ui.visuals());
        let place = PLACES[side];
        let mut shown = self.pair.sides()[side];
        let mut swap = false;
        let builder = UiBuilder::new().max_rect(rect.shrink2(Vec2::new(4.0, 2.0)));
        ui.scope_builder(builder, |ui| {
            ui.horizontal_centered(|ui| {
                ui.spacing_mut().item_spacing.x = 6.0;
                let name = self.pair.routing(session, side).map_or("", |routing| routing.name.as_str());
                let combo = ComboBox::from_id_salt(("routing", side))
                    .selected_text(RichText::new(name).strong())
                    .width(56.0)
                    .show_ui(ui, |ui| {
                        for routing in &session.project().routings {
                            let words = if routing.note.is_empty() {
                                routing.name.clone()
                            } else {
                                format!("{}: {}", routing.name, routing.note)
                            };
                            ui.selectable_value(&mut shown.routing, routing.id, words);
                        }
                    });
                combo.response.widget_info(|| {
                    egui::WidgetInfo::labeled(
                        egui::accesskit::Role::ComboBox,
                        true,
                        format!("{place} routing, {name}"),
                    )
                });
                if self.pair.shows_session(session, side) && !self.pair.shows_session(session, 1 - side) {
                    ui.label(RichText::new("active").small().color(theme.accent)).on_hover_text(
                        "The figures at the top of the window are of this one; click in the other drawing to make that \
                         the active one",
                    );
                }
                own_conditions(ui, session, side, &mut shown);
                if side == 0 {
                    swap = ui.button("Swap").on_hover_text("Swap upper and lower").clicked();
                }
                if let Some(routing) = self.pair.routing(session, side) {
                    let note = RichText::new(&routing.note).color(theme.soft);
                    ui.add(egui::Label::new(note).truncate());
                }
            });
        });
        if side == self.active && shown.routing != self.pair.sides()[side].routing {
            session.show_routing(shown.routing);
        }
        self.pair.set_side(side, shown);
        if swap {
            self.pair.swap();
            self.active = 1 - self.active;
        }
        if self.pair.follow(session) {
            ui.ctx().request_repaint();
        }
    }

    /// The routing in hand is in one of the drawings, or nobody would see what is done to it: where it is in neither, it
    /// takes the place of the one that was worked on.
    fn show_routing_in_hand(&mut self, session: &Session) {
        let in_hand = session.routing().id;
        let is_in_hand = |side: usize| self.pair.sides()[side].routing == in_hand;
        if is_in_hand(self.active) {
            return;
        }
        if is_in_hand(1 - self.active) {
            self.active = 1 - self.active;
        } else {
            let side = CompareSide { routing: in_hand, ..self.pair.sides()[self.active] };
            self.pair.set_side(self.active, side);
        }
    }

    /// What the pointer does in a drawing. A press takes its routing in hand, and counts there.
    fn point(&mut self, ui: &mut Ui, rect: Rect, session: &mut Session, side: usize) -> Option<PointedAt> {
        self.pictures[side] = rect;
        let routing = self.pair.routing(session, side)?;
        let id = routing.id;
        let name = format!("{} drawing, routing {}", PLACES[side], routing.name);
        let response = self.canvas.ground(ui, rect, &name);
        let pressed = ui.input(|input| input.pointer.primary_pressed());
        if pressed && response.contains_pointer() {
            if id != session.routing().id && matches!(session.gesture(), Gesture::Joining { .. }) {
                let words = format!(
                    "The hose begins in routing {}: end it in that drawing, or press Esc first",
                    session.routing().name
                );
                status_line::say_words(ui.ctx(), words);
            } else {
                session.show_routing(id);
                self.active = side;
                self.pair.follow(session);
            }
        }
        self.canvas.pointer = None;
        let scene = shown(&self.pair, session, side).map(|shown| self.canvas.scene(&shown))?;
        let hit = if self.is_active(session, side) {
            if let Some(shown) = shown(&self.pair, session, side) {
                self.canvas.keep_fitted(rect, &scene, &Shown { slot: 0, ..shown });
            }
            self.canvas.work_on(&response);
            self.canvas.pointer(ui, &response, &scene, session)
        } else {
            self.canvas.look(&response, &scene)
        };
        Some(PointedAt { response, rect, hit, pointer: self.canvas.pointer })
    }

    /// The drawing is the one that is worked on.
    fn is_active(&self, session: &Session, side: usize) -> bool {
        side == self.active && self.pair.sides()[side].routing == session.routing().id
    }

    fn picture(&mut self, ui: &mut Ui, session: &mut Session, side: usize, pointed: PointedAt) {
        let Some(shown) = shown(&self.pair, session, side) else { return };
        let PointedAt { response, rect, hit, pointer } = pointed;
        let pointer = pointer.filter(|_| response.contains_pointer());
        let hint = (!self.is_active(session, side))
            .then(|| format!("A click works in routing {}", shown.routing.routing.name));
        let focused = self.canvas.paint_beside(ui, response, rect, &shown, session, hit, pointer, hint);
        if let (Some(view), Some(comparison)) = (self.canvas.view, self.pair.comparison())
            && self.mark
        {
            let theme = Theme::of(ui.visuals());
            let (words, symbols) = (&self.canvas.labels[side], &self.canvas.symbols[side]);
            let painter = ui.painter_at(rect);
            marks::paint(&painter, rect, &view, &shown, comparison, side, words, symbols, &theme);
        }
        // Reached with the keyboard.
        if let Some(chosen) = focused {
            session.show_routing(shown.routing.routing.id);
            self.active = side;
            session.select([chosen]);
        }
    }

    fn strip(&mut self, ui: &mut Ui, rect: Rect, session: &Session, side: usize) {
        let Some(shown) = shown(&self.pair, session, side) else { return };
        let name = format!("{} strip of row flows, routing {}", PLACES[side], shown.routing.routing.name);
        self.canvas.strip(ui, rect, &shown, &name);
    }

    /// The wheel zooms on the strip of differences as it does on the others.
    fn canvas_wheel(&mut self, ui: &Ui, response: &egui::Response) {
        let Some(view) = self.canvas.view.as_mut().filter(|_| response.hovered()) else { return };
        let (scroll, at) = ui.input(|input| (input.smooth_scroll_delta(), input.pointer.hover_pos()));
        if let Some(at) = at.filter(|_| scroll.y != 0.0) {
            let x = f64::from(at.x - response.rect.center().x);
            *view = view.zoomed_about(x, 0.0, f64::from(scroll.y / 240.0).exp());
        }
    }

    /// Verdict, figures and what differs; true if it is to be closed.
    fn figures(&mut self, ui: &mut Ui, session: &mut Session) -> bool {
        let theme = Theme::of(ui.visuals());
        let units = session.project().units;
        ui.horizontal(|ui| {
            ui.heading("Comparison");
            ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
                if ui.button("Close").on_hover_text("Back to one routing (Esc)").clicked() {
                    self.after.ask(CompareRequest::Close);
                }
                if ui.button("Export CSV…").clicked() {
                    self.after.ask(CompareRequest::Export);
                }
                if ui.button("Copy as text").clicked() {
                    self.after.ask(CompareRequest::Copy);
                }
            });
        });
        match self.after.step(ui.ctx()) {
            Some(CompareRequest::Close) => return true,
            Some(CompareRequest::Export) => {
                let name = session.path().map(|path| path.with_extension("comparison.csv"));
                self.dialog = Some(PathDialog::new(Purpose::ExportTable, name));
                self.said = None;
            }
            Some(CompareRequest::Copy) => {
                if let Some(comparison) = self.pair.comparison() {
                    ui.ctx().copy_text(plain::text(comparison, units));
                    self.said = Some("Copied".to_owned());
                }
            }
            None => {}
        }
        if let Some(said) = &self.said {
            ui.label(RichText::new(said).color(theme.soft));
        }
        let Some(comparison) = self.pair.comparison() else { return false };
        ScrollArea::vertical().auto_shrink([false, false]).show(ui, |ui| {
            let card = Frame::new().fill(theme.paper).inner_margin(Margin::same(10)).corner_radius(6.0);
            card.show(ui, |ui| {
                ui.set_width(ui.available_width());
                ui.add(egui::Label::new(RichText::new(&comparison.verdict).size(14.0)).wrap());
            });
            for (label, why) in comparison.labels.iter().zip(&comparison.unsolved) {
                if let Some(why) = why {
                    let words = format!("No flows or pressures for {label}: {why}");
                    ui.label(RichText::new(words).color(theme.warning));
                }
            }
            ui.add_space(4.0);
            self.look_folded = findings::folded(ui, session);
            ui.add_space(4.0);
            table::figures(ui, comparison, units);
            ui.add_space(8.0);
            ui.horizontal(|ui| {
                let [a, b] = &comparison.labels;
                ui.label(RichText::new(format!("From {a} to {b}")).strong().color(theme.soft));
                ui.checkbox(&mut self.mark, "Mark in the drawings");
            });
            table::items(ui, comparison);
        });
        false
    }

    fn export(&mut self, ui: &Ui, session: &Session) {
        let Some(dialog) = &mut self.dialog else { return };
        match dialog.show(ui.ctx()) {
            DialogAnswer::Waiting => {}
            DialogAnswer::Closed => self.dialog = None,
            DialogAnswer::Is(path) => {
                let path = if path.extension().is_none() { path.with_extension("csv") } else { path };
                let Some(comparison) = self.pair.comparison() else { return };
                let standing = look(vec![Output::alone(&path, Kind::ComparisonCsv)]);
                let Some(permit) = dialog.permit(standing, session.path()) else { return };
                let text = plain::csv(comparison, session.project().units);
                match permit.write(vec![text.into_bytes()]) {
                    Ok(written) => {
                        self.dialog = None;
                        self.said = Some(written.notes.behind(&format!("Written to {}", path.display())));
                    }
                    Err(error) => dialog.error = Some(error.to_string()),
                }
            }
        }
    }
}

/// What the pointer does in one of the drawings.
struct PointedAt {
    response: egui::Response,
    rect: Rect,
    hit: Option<Subject>,
    pointer: Option<Point2>,
}

/// What a drawing shows; what is selected where it is of the routing in hand, and the rows.
fn shown<'a>(pair: &'a SideBySide, session: &'a Session, side: usize) -> Option<Shown<'a>> {
    static NOTHING: BTreeSet<Subject> = BTreeSet::new();
    let routing = pair.laid(session, side)?;
    Some(Shown {
        project: session.project(),
        routing,
        outcome: Some(pair.outcome(session, side)),
        beside: Some(pair.outcome(session, 1 - side)),
        caught: None,
        revision: pair.revision(session, side),
        slot: side,
        selected: if routing.id == session.routing().id { session.selection() } else { &NOTHING },
    })
}

/// Conditions that do not follow those at the top of the window.
fn own_conditions(ui: &mut Ui, session: &Session, side: usize, shown: &mut CompareSide) {
    let place = PLACES[side];
    let point = session.point();
    let mut own = shown.own.is_some();
    let check = ui
        .checkbox(&mut own, "Own conditions")
        .on_hover_text("Look at this one at another speed, temperature or side slope than above");
    check.widget_info(|| {
        egui::WidgetInfo::selected(
            egui::accesskit::Role::CheckBox,
            true,
            own,
            format!("{place}: own conditions"),
        )
    });
    if check.changed() {
        shown.own = own.then_some(OwnConditions {
            speed: point.speed,
            temperature: point.temperature,
            side_slope: point.side_slope,
        });
    }
    let Some(own) = &mut shown.own else { return };
    let units = session.project().units;
    let field = |ui: &mut Ui, what: &str, measure: Measure, value: f64, range| {
        let name = format!("{place} {what}");
        NumberField { width: 38.0, ..NumberField::new(&name, measure, units, Some(value), range) }
            .show(ui, None)
    };
    let speed = field(ui, "ground speed", Measure::GroundSpeed, own.speed.si(), 0.05..=28.0);
    own.speed = speed.map_or(own.speed, Speed::from_si);
    let temperature = field(ui, "temperature", Measure::Temperature, own.temperature.si(), -30.0..=60.0);
    own.temperature = temperature.map_or(own.temperature, Temperature::from_si);
    let slope = field(ui, "side slope", Measure::Slope, own.side_slope.si(), -0.6..=0.6);
    own.side_slope = slope.map_or(own.side_slope, Angle::from_si);
}
