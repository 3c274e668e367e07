//! The bar on its way from working to transport position, from above, from behind and from the right.
//!
//! What is folded is looked at and selected; what is changed is changed in the details beside it, or on the drawing.

use std::rc::Rc;

use eframe::egui;
use eframe::egui::{Align, Button, Label, Layout, Pos2, Rect, RichText, Slider, Stroke, Ui, Vec2};

use super::canvas::shown::Shown;
use super::canvas::view::Canvas;
use super::canvas::{hover_card, paint, to_bar, to_screen};
use super::number_field::NumberField;
use super::status_line;
use super::theme::Theme;
use crate::drawing::{self, Detail, FoldRooms, Scene, SceneOptions, SeenFrom, Shape};
use crate::geometry::{Point2, View};
use crate::plan::words::list;
use crate::plan::{Bar, Edit, Envelope, FoldPosition, FoldSweep, FoldedBar, RoutingId};
use crate::quantities::{Length, Measure, UnitSystem};
use crate::session::commands::Command;
use crate::session::{Session, SetAside, Tool};

/// How long a step of folding takes while it is played, seconds.
const SECONDS_A_STEP: f64 = 3.0;
/// How far a key folds or unfolds.
const KEY_STEP: f64 = 0.05;
/// How near the pointer must be to something, points.
const REACH: f64 = 9.0;
/// What widths and heights leave out.
const NOT_KNOWN: &str = "Frame, outlets, parts and hoses; openers, wheels and hitch are not known. What the road allows is set \
                         by local rules: measure the machine.";
/// What is drawn smaller than this has a ring about it where it is selected, points.
const SMALL: f32 = 26.0;
/// Largest radius of that ring, and what it leaves free about what it marks, points.
const RING: f32 = 17.0;
const RING_AIR: f32 = 6.0;
/// Between a ring and words, points.
const OFF_WORDS: f32 = 2.0;
/// Room about the pictures, points.
const MARGIN: f64 = 14.0;

/// The folding bar in the window; nothing while it is closed.
#[derive(Debug, Default)]
pub struct FoldView {
    open: Option<OpenFold>,
}

#[derive(Debug)]
struct OpenFold {
    /// What was half made on the drawing, to go on with when this is closed.
    aside: SetAside,
    position: FoldPosition,
    /// From where it is looked at; from all sides if none.
    side: Option<SeenFrom>,
    /// While it folds by itself: 1 towards transport, -1 towards working position.
    playing: Option<f64>,
    canvas: Canvas,
    /// The room that the view was fitted to; none once it was panned or zoomed.
    fitted: Option<(egui::Vec2, u64)>,
    laid: Option<Laid>,
    scene: Option<(SceneKey, Rc<Scene>)>,
    picture: Option<Rect>,
}

/// What depends on the bar and the routing alone.
#[derive(Debug)]
struct Laid {
    revision: u64,
    routing: RoutingId,
    side: Option<SeenFrom>,
    rooms: FoldRooms,
    steps: u8,
    transport: Envelope,
}

#[derive(Debug, PartialEq)]
struct SceneKey {
    revision: u64,
    routing: RoutingId,
    side: Option<SeenFrom>,
    options: SceneOptions,
}

impl FoldView {
    /// Opens it in working position, or closes it.
    pub fn toggle(&mut self, session: &mut Session) {
        if !self.close(session) {
            self.open = Some(OpenFold::new(session.set_aside()));
        }
    }

    /// What was half made when it was opened, in words.
    pub fn half_made(&self) -> Option<&'static str> {
        self.open.as_ref().and_then(|open| open.aside.half_made())
    }

    /// Closes it, and goes on with what was laid aside for it; false if it is closed already.
    fn close(&mut self, session: &mut Session) -> bool {
        let Some(open) = self.open.take() else { return false };
        session.take_up(open.aside);
        true
    }

    /// Opens it at a position.
    pub fn look_at(&mut self, position: FoldPosition, session: &mut Session) {
        if self.open.is_none() {
            self.toggle(session);
        }
        if let Some(open) = &mut self.open {
            (open.position, open.playing) = (position, None);
        }
    }

    /// It is shown.
    pub const fn is_open(&self) -> bool {
        self.open.is_some()
    }

    /// How far the bar is folded; none while it is closed.
    pub fn position(&self) -> Option<FoldPosition> {
        self.open.as_ref().map(|open| open.position)
    }

    /// Where the pictures were in the last frame.
    pub fn picture(&self) -> Option<Rect> {
        self.open.as_ref()?.picture
    }

    /// Carries out a command that is meant for this view; false if it is for someone else.
    pub fn run(&mut self, command: Command, session: &mut Session) -> bool {
        let Some(open) = &mut self.open else { return false };
        match command {
            Command::FitToWindow | Command::FitSelection | Command::FitNextSection => open.canvas.fit(),
            Command::PanLeft
            | Command::PanRight
            | Command::PanForward
            | Command::PanBack
            | Command::ZoomIn
            | Command::ZoomOut => {
                open.fitted = None;
                open.canvas.run(command);
            }
            Command::Cancel if *session.tool() == Tool::Select && session.selection().is_empty() => {
                self.close(session);
            }
            _ => return false,
        }
        true
    }

    /// Shows it in the room there is.
    pub fn show(&mut self, ui: &mut Ui, session: &mut Session) {
        let Some(open) = &mut self.open else { return };
        // A tool works on the drawing of the bar at work.
        if *session.tool() != Tool::Select || open.show(ui, session) {
            self.close(session);
        }
    }
}

/// What is said of a bar that has nothing to fold.
const NOTHING_FOLDS: &str = "This bar has no hinges: nothing folds";

/// The bar in hand has a hinge.
fn folds(session: &Session) -> bool {
    session.project().bar.sections.iter().any(|section| section.hinge.is_some())
}

/// What turns in a position of the fold, in words.
fn turning_words(bar: &Bar, position: FoldPosition) -> String {
    let names: Vec<String> = bar.turning_at(position).iter().map(|section| section.name.clone()).collect();
    if names.is_empty() { String::new() } else { format!("; turning: {}", list(&names)) }
}

impl OpenFold {
    fn new(aside: SetAside) -> Self {
        Self {
            aside,
            position: FoldPosition::default(),
            side: None,
            playing: None,
            canvas: Canvas::default(),
            fitted: None,
            laid: None,
            scene: None,
            picture: None,
        }
    }

    /// True if it is to be closed.
    fn show(&mut self, ui: &mut Ui, session: &mut Session) -> bool {
        self.play(ui);
        self.lay(session);
        let close = self.controls(ui, session);
        self.transport(ui, session);
        let room = ui.available_rect_before_wrap();
        // Another side is another picture.
        self.lay(session);
        self.pictures(ui, room, session);
        close
    }

    /// Goes on folding.
    fn play(&mut self, ui: &Ui) {
        let Some(way) = self.playing else { return };
        let steps = self.laid.as_ref().map_or(1, |laid| laid.steps);
        let by = f64::from(ui.input(|input| input.stable_dt).min(0.1)) / (SECONDS_A_STEP * f64::from(steps));
        self.position = FoldPosition::share(self.position.as_share() + way * by);
        let is_done = (way > 0.0 && self.position >= FoldPosition::TRANSPORT)
            || (way < 0.0 && self.position.is_working());
        if is_done {
            self.playing = None;
        } else {
            ui.ctx().request_repaint();
        }
    }

    fn lay(&mut self, session: &Session) {
        let (revision, routing) = (session.revision(), session.routing().id);
        let is_of = |laid: &Laid| (laid.revision, laid.routing, laid.side) == (revision, routing, self.side);
        if self.laid.as_ref().is_some_and(is_of) {
            return;
        }
        let project = session.project();
        let sweep = FoldSweep::of(&project.bar);
        let folded = FoldedBar::at(&project.bar, FoldPosition::TRANSPORT);
        self.laid = Some(Laid {
            revision,
            routing,
            side: self.side,
            rooms: FoldRooms::new(project, session.laid(), sweep.positions(), self.side),
            steps: project.bar.fold_steps(),
            transport: Envelope::of(project, session.laid(), &folded),
        });
    }

    /// How far it is folded, and the ways to fold it; true if it is to be closed.
    fn controls(&mut self, ui: &mut Ui, session: &Session) -> bool {
        let theme = Theme::of(ui.visuals());
        let mut close = false;
        let folds = folds(session);
        ui.horizontal(|ui| {
            ui.label(RichText::new("Fold").strong());
            // Whole per cents, so that what is between them while it folds by itself is not taken for a change.
            let shown = (self.position.as_share() * 100.0).round();
            let mut percent = shown;
            let slider = Slider::new(&mut percent, 0.0..=100.0).step_by(1.0).fixed_decimals(0).suffix(" %");
            ui.spacing_mut().slider_width = (ui.available_width() - 480.0).clamp(110.0, 420.0);
            let response = ui.add_enabled(folds, slider);
            response.widget_info(|| {
                egui::WidgetInfo::slider(folds, percent, "How far the bar is folded, per cent")
            });
            if percent != shown {
                (self.position, self.playing) = (FoldPosition::share(percent / 100.0), None);
            }
            let is_playing = self.playing.is_some();
            let words = if is_playing {
                "Stop"
            } else if self.position >= FoldPosition::TRANSPORT {
                "Unfold"
            } else {
                "Fold"
            };
            let switch = ui.add_enabled(folds, Button::new(words));
            if switch.on_hover_text("Space").on_disabled_hover_text(NOTHING_FOLDS).clicked() {
                self.switch_playing();
            }
            for (words, position) in [("Work", FoldPosition::WORKING), ("Transport", FoldPosition::TRANSPORT)]
            {
                if ui.add_enabled(folds && self.position != position, Button::new(words)).clicked() {
                    (self.position, self.playing) = (position, None);
                }
            }
            let steps = self.laid.as_ref().map_or(1, |laid| laid.steps);
            if steps > 1 {
                let step = (self.position.as_share() * f64::from(steps)).floor() as u8 + 1;
                let words = format!("step {} of {steps}", step.min(steps));
                ui.label(RichText::new(words).color(theme.soft));
            }
            ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
                close = ui.button("Close").on_hover_text("Esc").clicked();
            });
        });
        if folds {
            self.keys(ui);
        } else {
            // Of a bar that lost its last hinge while it was folded.
            (self.position, self.playing) = (FoldPosition::WORKING, None);
            ui.label(RichText::new(NOTHING_FOLDS).color(theme.warning));
        }
        close
    }

    fn switch_playing(&mut self) {
        self.playing = match self.playing {
            Some(_) => None,
            None if self.position >= FoldPosition::TRANSPORT => Some(-1.0),
            None => Some(1.0),
        };
    }

    /// Space folds or stops; comma and full stop fold by a little, as they go a picture back and on elsewhere.
    fn keys(&mut self, ui: &Ui) {
        if ui.ctx().text_edit_focused() || ui.ctx().memory(|memory| memory.focused().is_some()) {
            return;
        }
        let pressed = |key| ui.input_mut(|input| input.consume_key(egui::Modifiers::NONE, key));
        if pressed(egui::Key::Space) {
            self.switch_playing();
        }
        let times =
            |key| ui.input_mut(|input| input.count_and_consume_key(egui::Modifiers::NONE, key)) as f64;
        let by = times(egui::Key::Period) - times(egui::Key::Comma);
        if by != 0.0 {
            // On whole steps, whatever the pointer left.
            let share = ((self.position.as_share() / KEY_STEP).round() + by) * KEY_STEP;
            (self.position, self.playing) = (FoldPosition::share(share), None);
        }
    }

    /// How wide and high it is now and on the road, beside what someone says the road allows.
    fn transport(&mut self, ui: &mut Ui, session: &mut Session) {
        let theme = Theme::of(ui.visuals());
        let units = session.project().units;
        let now = Envelope::of(
            session.project(),
            session.laid(),
            &FoldedBar::at(&session.project().bar, self.position),
        );
        let Some(laid) = &self.laid else { return };
        let limits = session.project().transport;
        let mut entered = limits;
        ui.horizontal(|ui| {
            let all = SeenFrom::ALL.into_iter().map(|side| (Some(side), side.label()));
            for (side, label) in std::iter::once((None, "All sides")).chain(all) {
                if ui.selectable_label(self.side == side, label).clicked() && self.side != side {
                    self.side = side;
                    self.canvas.fit();
                }
            }
            ui.separator();
            let transport = format!("transport {}", size(&laid.transport, units));
            let turning = turning_words(&session.project().bar, self.position);
            let words = format!("Now {}; {transport}{turning}", size(&now, units));
            ui.add(Label::new(words).truncate()).on_hover_text(NOT_KNOWN);
        });
        ui.horizontal(|ui| {
            ui.spacing_mut().item_spacing.x = 6.0;
            for (name, value) in
                [("Width allowed", &mut entered.width), ("Height allowed", &mut entered.height)]
            {
                let label = ui.label(RichText::new(name).color(theme.soft)).id;
                let field = NumberField {
                    empty: "none",
                    width: 70.0,
                    ..NumberField::new(name, Measure::Distance, units, value.map(|one| one.si()), 0.5..=60.0)
                };
                if let Some(new) = field.show(ui, Some(label)) {
                    *value = Some(Length::from_si(new));
                }
                let clear = ui.add_enabled(value.is_some(), Button::new("×").small());
                let clear = clear.on_hover_text(format!("{name}: no limit"));
                clear.widget_info(|| {
                    egui::WidgetInfo::labeled(
                        egui::accesskit::Role::Button,
                        true,
                        format!("Clear {}", name.to_lowercase()),
                    )
                });
                if clear.clicked() {
                    *value = None;
                }
                ui.add_space(6.0);
            }
            let beyond = limits.exceeded_by(&laid.transport);
            if !beyond.is_empty() {
                let over = |(by, word): &(Length, &str)| {
                    format!("{} too {word}", Measure::Distance.text(by.si(), units))
                };
                let over: Vec<String> = beyond.iter().map(over).collect();
                let words = RichText::new(format!("⚠ {}", over.join(", "))).color(theme.warning).strong();
                ui.add(Label::new(words).truncate()).on_hover_text(NOT_KNOWN);
            }
        });
        if let Some(order) = session.project().bar.fold_order_words() {
            ui.add(Label::new(format!("Folds {order}")).wrap());
        }
        ui.add(Label::new(RichText::new(NOT_KNOWN).small().color(theme.soft)).wrap());
        if entered != limits {
            let done = session.edit("Change what the road allows", [Edit::SetTransportLimits(entered)]);
            status_line::say(ui.ctx(), done.map(|()| None));
        }
    }

    fn pictures(&mut self, ui: &mut Ui, rect: Rect, session: &mut Session) {
        self.picture = Some(rect);
        let Some(laid) = &self.laid else { return };
        let is_fitted =
            self.fitted.is_some_and(|(size, revision)| size == rect.size() && revision == laid.revision);
        if self.canvas.view.is_none() || (self.fitted.is_some() && !is_fitted) {
            let (wide, deep) = (f64::from(rect.width()), f64::from(rect.height()));
            self.canvas.view = Some(View::fit(laid.rooms.extent, wide, deep, MARGIN));
            self.fitted = Some((rect.size(), laid.revision));
        }
        let before = self.canvas.view;
        let response =
            self.canvas.ground(ui, rect, "The folding bar, from above, from behind and from the right");
        if response.dragged() {
            let by = response.drag_delta();
            self.canvas.pan(f64::from(by.x), f64::from(by.y));
        }
        if self.canvas.view != before {
            self.fitted = None;
        }
        let Some(view) = self.canvas.view else { return };
        let scene = self.scene(session, &view);
        let at = response.hover_pos();
        let hovered = at.and_then(|at| drawing::pick(&scene, to_bar(rect, &view, at), REACH / view.scale));
        if response.clicked() {
            session.select(hovered);
            ui.ctx().request_discard("a press has changed what the panels show");
        }
        let theme = Theme::of(ui.visuals());
        let selected: Vec<_> = session.selection().iter().copied().collect();
        let highlight = paint::Highlight { selected: &selected, hovered };
        let painter = ui.painter_at(rect);
        let rings = rings(rect, &view, &scene, session);
        let taken =
            |ring: &Ring| Rect::from_center_size(ring.centre, Vec2::splat(2.0 * (ring.radius + OFF_WORDS)));
        // Words keep off them.
        paint::scene(&painter, rect, &view, &scene, &highlight, &theme, |_| {
            rings.iter().map(taken).collect()
        });
        for ring in rings {
            painter.circle_stroke(ring.centre, ring.radius, Stroke::new(2.0, theme.accent));
        }
        hover_card::under_pointer(response, &Shown::of(session), hovered, None);
    }

    fn scene(&mut self, session: &Session, view: &View) -> Rc<Scene> {
        let options = SceneOptions {
            units: session.project().units,
            fold: self.position,
            seen: SeenFrom::Above,
            detail: Detail::at(view.scale),
            marked: session.selection().clone(),
            ..SceneOptions::default()
        };
        let key = SceneKey {
            revision: session.revision(),
            routing: session.routing().id,
            side: self.side,
            options,
        };
        if let Some((kept, scene)) = &self.scene
            && *kept == key
        {
            return scene.clone();
        }
        let scene = self.laid.as_ref().map_or_else(Scene::default, |laid| {
            let outcome = Some(session.shown_outcome());
            drawing::fold_scene(session.project(), session.laid(), outcome, &key.options, &laid.rooms)
        });
        let scene = Rc::new(scene);
        self.scene = Some((key, scene.clone()));
        scene
    }
}

struct Ring {
    centre: Pos2,
    radius: f32,
}

/// A ring about each selected thing that is drawn so small that its colour alone would hardly be seen.
fn rings(rect: Rect, view: &View, scene: &Scene, session: &Session) -> Vec<Ring> {
    let mut around: Vec<Ring> = Vec::new();
    for item in &scene.items {
        if !item.subject.is_some_and(|subject| session.selection().contains(&subject)) {
            continue;
        }
        let (points, reach): (&[Point2], f64) = match &item.shape {
            Shape::Line { points, .. } | Shape::Polygon { points } => (points, 0.0),
            Shape::Circle { centre, radius } => (std::slice::from_ref(centre), *radius),
            Shape::Text(_) => continue,
        };
        let drawn =
            Rect::from_points(&points.iter().map(|point| to_screen(rect, view, *point)).collect::<Vec<_>>())
                .expand((reach * view.scale) as f32);
        let is_small = drawn.width().max(drawn.height()) < SMALL;
        if is_small && around.iter().all(|known| known.centre.distance(drawn.center()) > RING) {
            let radius = (drawn.size().max_elem() / 2.0 + RING_AIR).min(RING);
            around.push(Ring { centre: drawn.center(), radius });
        }
    }
    around
}

fn size(envelope: &Envelope, units: UnitSystem) -> String {
    let text = |length: Length| Measure::Distance.text(length.si(), units);
    format!("{} wide, {} high", text(envelope.width()), text(envelope.height()))
}
