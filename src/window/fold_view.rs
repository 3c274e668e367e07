//! The bar on its way from working to transport position, from above, from behind and from the right: one side large, and
//! the others small beside it where there is room.
//!
//! What is folded is looked at and selected; what is changed is changed in the details beside it, or on the drawing.

mod pictures;

use std::rc::Rc;

use eframe::egui;
use eframe::egui::{Align, Button, Label, Layout, Rect, RichText, Slider, Ui};
use strum::EnumCount as _;

use super::canvas::view::Canvas;
use super::number_field::NumberField;
use super::status_line;
use super::theme::Theme;
use crate::drawing::{FoldRoom, FoldedWays, Scene, SceneOptions, SeenFrom};
use crate::plan::words::list;
use crate::plan::{Bar, Edit, Envelope, FoldPosition, FoldSweep, FoldedBar, RoutingId};
use crate::quantities::{Length, Measure, UnitSystem};
use crate::session::commands::Command;
use crate::session::{Session, SetAside, Tool};

/// How long a step of folding takes while it is played, seconds.
const SECONDS_A_STEP: f64 = 3.0;
/// How far a key folds or unfolds.
const KEY_STEP: f64 = 0.05;
/// What widths and heights leave out.
const NOT_KNOWN: &str = "Frame, outlets, parts and hoses; openers, wheels and hitch are not known. What the road allows is set \
                         by local rules: measure the machine.";
/// Said where the others have no room beside the large picture.
const NO_ROOM_FOR_ALL: &str = "No room for all sides: make the window larger, or the list of findings lower";

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
    /// From where it is looked at.
    side: SeenFrom,
    /// The other sides are shown too, small beside it.
    all_sides: bool,
    /// While it folds by itself: 1 towards transport, -1 towards working position.
    playing: Option<f64>,
    canvas: Canvas,
    /// The room that the view was fitted to; none once it was panned or zoomed.
    fitted: Option<(egui::Vec2, u64, SeenFrom)>,
    /// The side that the view looks from.
    seen: Option<SeenFrom>,
    laid: Option<Laid>,
    scenes: [Option<(SceneKey, Rc<Scene>)>; SeenFrom::COUNT],
    /// Where hoses and tubes lie in a position, for all sides.
    ways: Option<(WaysKey, Rc<FoldedWays>)>,
    /// The pictures of the last frame, the large one first.
    pictures: Vec<(SeenFrom, Rect)>,
    /// All of their room.
    room: Option<Rect>,
}

/// What depends on the bar and the routing alone.
#[derive(Debug)]
struct Laid {
    revision: u64,
    routing: RoutingId,
    rooms: [FoldRoom; SeenFrom::COUNT],
    steps: u8,
    transport: Envelope,
}

/// Revision, routing and position.
type WaysKey = (u64, RoutingId, FoldPosition);

#[derive(Debug, PartialEq)]
struct SceneKey {
    revision: u64,
    routing: RoutingId,
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

    /// The pictures of the last frame, and where they were; the large one first.
    pub fn pictures(&self) -> &[(SeenFrom, Rect)] {
        self.open.as_ref().map_or(&[], |open| &open.pictures)
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
            // Heights and widths are told by it.
            side: SeenFrom::Behind,
            all_sides: true,
            playing: None,
            canvas: Canvas::default(),
            fitted: None,
            seen: None,
            laid: None,
            scenes: [const { None }; SeenFrom::COUNT],
            ways: None,
            pictures: Vec::new(),
            room: None,
        }
    }

    /// True if it is to be closed.
    fn show(&mut self, ui: &mut Ui, session: &mut Session) -> bool {
        self.play(ui);
        self.lay(session);
        let close = self.controls(ui, session);
        self.transport(ui, session);
        let room = ui.available_rect_before_wrap();
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
        let is_of = |laid: &Laid| (laid.revision, laid.routing) == (revision, routing);
        if self.laid.as_ref().is_some_and(is_of) {
            return;
        }
        let project = session.project();
        let sweep = FoldSweep::of(&project.bar);
        let folded = FoldedBar::at(&project.bar, FoldPosition::TRANSPORT);
        self.laid = Some(Laid {
            revision,
            routing,
            rooms: FoldRoom::all(project, session.laid(), sweep.positions()),
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
        let Some(road) = self.laid.as_ref().map(|laid| laid.transport) else { return };
        let limits = session.project().transport;
        let mut entered = limits;
        ui.horizontal(|ui| {
            let has_room = self.has_room_for_all();
            let all = Button::selectable(self.all_sides && has_room, "All sides");
            let all = ui.add_enabled(has_room, all).on_disabled_hover_text(NO_ROOM_FOR_ALL);
            if all.on_hover_text("The other sides small beside the large one").clicked() {
                self.all_sides = !self.all_sides;
            }
            for side in SeenFrom::ALL {
                if ui.selectable_label(self.side == side, side.label()).clicked() {
                    self.side = side;
                }
            }
            ui.separator();
            let transport = format!("transport {}", size(&road, units));
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
            let beyond = limits.exceeded_by(&road);
            if !beyond.is_empty() {
                let over = |(by, word): &(Length, &str)| {
                    format!("{} too {word}", Measure::Distance.text(by.si(), units))
                };
                let over: Vec<String> = beyond.iter().map(over).collect();
                let words = RichText::new(format!("⚠ {}", over.join(", "))).color(theme.warning).strong();
                ui.add(Label::new(words).truncate()).on_hover_text(NOT_KNOWN);
            }
        });
        let order = session.project().bar.fold_order_words().map(|order| format!("Folds {order}. "));
        let words = format!("{}{NOT_KNOWN}", order.unwrap_or_default());
        ui.add(Label::new(RichText::new(words).small().color(theme.soft)).wrap());
        if entered != limits {
            let done = session.edit("Change what the road allows", [Edit::SetTransportLimits(entered)]);
            status_line::say(ui.ctx(), done.map(|()| None));
        }
    }
}

fn size(envelope: &Envelope, units: UnitSystem) -> String {
    let text = |length: Length| Measure::Distance.text(length.si(), units);
    format!("{} wide, {} high", text(envelope.width()), text(envelope.height()))
}
