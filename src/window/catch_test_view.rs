//! Catch tests in place of the drawing: what was taken down under which conditions, the tested bar in the colours of what was
//! caught, and beside it what that says, what explains it, and what to look at next.
//!
//! Tests and their changes are the session's ([`catch_tests`](crate::session::catch_tests)), and so is what they say
//! ([`catch_answers`](crate::session::catch_answers)).

mod calibration;
mod conditions;
mod explained;
mod gauges;
mod picture;
mod table;
mod verdict;

use std::collections::BTreeSet;

use eframe::egui::{
    self, Button, CentralPanel, Context, Event, Frame, Label, Margin, Panel, RichText, ScrollArea, Ui,
};

use super::form::combo_of_width;
use super::in_lines::in_lines;
use super::status_line;
use super::theme::Theme;
use super::typing::{self, AfterTyping};
use crate::plan::{CatchTest, CatchTestId, CatchUnit, PartId, RowId, Subject};
use crate::session::catch_amounts::usual_unit;
use crate::session::catch_answers::{CatchAnswers, ExplainedState};
use crate::session::catch_calibration::CatchCalibration;
use crate::session::commands::Command;
use crate::session::{Remark, Session};
use picture::Picture;
use table::{TableOf, TableRequest};

/// Least height of the table, points, and its share of the room that the picture leaves it.
const TABLE: (f32, f32) = (150.0, 0.55);
/// A window lower than this, points, begins with the conditions folded away.
const LOW: f32 = 640.0;
/// So does one lower than this with a test that is filled in: there is less to enter than to read.
const MIDDLING: f32 = 900.0;

/// The catch tests in the window. What a test says is kept while they are closed.
#[derive(Default)]
pub struct CatchTestView {
    is_open: bool,
    answers: CatchAnswers,
    calibration: CatchCalibration,
    since: verdict::Since,
    picture: Picture,
    /// The conditions are folded away, or not, as somebody chose; by the room there is otherwise.
    folded: Option<bool>,
    /// What belongs to the test in hand alone.
    of: OfTest,
    /// Came from the clipboard, and is to be taken down.
    pasted: Option<String>,
    after: AfterTyping<CatchRequest>,
}

/// What the view remembers of the test in hand.
#[derive(Default)]
struct OfTest {
    test: Option<CatchTestId>,
    /// Something was caught when it was taken in hand.
    was_filled: bool,
    /// Parts without a gauge that a reading is to be given of.
    read_at: Vec<PartId>,
    /// The unit that amounts are typed in, where somebody has chosen one.
    unit: Option<CatchUnit>,
    in_hand: Option<RowId>,
    /// Rows with a line for one more catch.
    more: Vec<RowId>,
    scroll_to: Option<RowId>,
    /// Nothing was caught yet when it was taken in hand: its first cell is to be typed in.
    begins: bool,
    /// The things of the explanation that is pointed out in the picture.
    picked: Option<usize>,
    /// Why nothing was taken down of what was pasted last.
    refused: Vec<String>,
    calibrated: calibration::Choice,
}

/// What is asked for, once what is typed is taken.
#[derive(Debug)]
enum CatchRequest {
    Close,
    Paste(String),
    Turn(CatchTestId),
    Fold(bool),
}

/// What a button of the view asks the window for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct CatchAsked {
    /// A command.
    pub command: Option<Command>,
}

impl CatchTestView {
    /// Closes them.
    pub const fn close(&mut self) {
        self.is_open = false;
    }

    /// Opens them, if they are not.
    pub const fn open(&mut self) {
        self.is_open = true;
    }

    /// Another project is in hand: nothing of the last one is kept.
    pub fn begin_anew(&mut self) {
        *self = Self { is_open: self.is_open, folded: self.folded, ..Self::default() };
    }

    /// They are shown.
    pub const fn is_open(&self) -> bool {
        self.is_open
    }

    /// What the test in hand says.
    pub const fn answers(&self) -> &CatchAnswers {
        &self.answers
    }

    /// The unit that amounts without one are in.
    pub fn unit(&self, session: &Session) -> CatchUnit {
        let units = session.project().units;
        let usual = || session.catch_test().map_or(CatchUnit::usual(units), |test| usual_unit(test, units));
        self.of.unit.unwrap_or_else(usual)
    }

    /// Stands still until nothing is under way; for whoever has no frames to wait in.
    pub fn wait(&mut self) {
        self.answers.wait();
        self.calibration.wait();
    }

    /// Takes what is pasted out of the input, before a field or the drawing does: all of it, but for a word into a field that
    /// is typed in.
    pub fn take_pasted(&mut self, ctx: &Context) {
        if !self.is_open {
            return;
        }
        let typing = ctx.text_edit_focused();
        ctx.input_mut(|input| {
            input.events.retain(|event| match event {
                Event::Paste(text) if !typing || text.trim().contains(['\n', '\t']) => {
                    self.pasted = Some(text.clone());
                    false
                }
                _ => true,
            });
        });
    }

    /// Carries out a command that is meant for this view; false if it is for someone else.
    pub fn run(&mut self, command: Command, ctx: &Context) -> bool {
        if !self.is_open {
            return false;
        }
        match command {
            Command::Cancel => self.is_open = false,
            Command::PasteCatches | Command::Paste => {
                // The text comes as an event of its own.
                ctx.send_viewport_cmd(egui::ViewportCommand::RequestPaste);
            }
            _ => return self.picture.canvas.run(command),
        }
        true
    }

    /// Shows them in all the room there is; none, and nothing shown, while they are closed.
    pub fn show(&mut self, ui: &mut Ui, session: &mut Session) -> Option<CatchAsked> {
        if !self.is_open {
            return None;
        }
        let mut asked = CatchAsked::default();
        if self.show_open(ui, session, &mut asked) {
            self.is_open = false;
        }
        Some(asked)
    }
}

impl CatchTestView {
    /// What was remembered of another test is forgotten.
    fn turn_to(&mut self, session: &Session) {
        let now = session.catch_test();
        let test = now.map(|test| test.id);
        if self.of.test != test {
            let was_filled = now.is_some_and(|test| !test.catches.is_empty());
            self.of = OfTest { test, was_filled, begins: test.is_some() && !was_filled, ..OfTest::default() };
        }
    }

    /// True if it is to be closed.
    fn show_open(&mut self, ui: &mut Ui, session: &mut Session, asked: &mut CatchAsked) -> bool {
        let ctx = ui.ctx().clone();
        if let Some(text) = self.pasted.take() {
            self.after.ask(CatchRequest::Paste(text));
        }
        match self.after.step(&ctx) {
            Some(CatchRequest::Close) => return true,
            Some(CatchRequest::Paste(text)) => self.paste(&ctx, session, &text),
            Some(CatchRequest::Turn(id)) => session.take_catch_test(id),
            Some(CatchRequest::Fold(folded)) => self.folded = Some(folded),
            None => {}
        }
        self.turn_to(session);
        let is_there = session.catch_test().is_some();
        self.answers.follow(session, wake(&ctx));
        let theme = Theme::of(ui.visuals());
        let ground = Frame::new().fill(theme.canvas).inner_margin(Margin::symmetric(8, 4));
        if is_there {
            let side = Frame::new().fill(theme.panel).inner_margin(Margin::symmetric(12, 8));
            Panel::right("what a catch test says")
                .frame(side)
                .default_size(412.0)
                .size_range(320.0..=760.0)
                .show(ui, |ui| self.says(ui, session, &theme));
            CentralPanel::default().frame(ground).show(ui, |ui| self.taken_down(ui, session, &theme, asked));
        } else {
            CentralPanel::default().frame(ground).show(ui, |ui| self.nothing_yet(ui, session, &theme, asked));
        }
        false
    }

    fn nothing_yet(&mut self, ui: &mut Ui, session: &Session, theme: &Theme, asked: &mut CatchAsked) {
        ui.horizontal(|ui| {
            ui.heading("Catch tests");
            self.close_button(ui);
        });
        let say = |ui: &mut Ui, words: &str| {
            ui.add_space(6.0);
            ui.add(Label::new(RichText::new(words).color(theme.ink)).wrap());
        };
        say(
            ui,
            "No catch test is taken down yet. It shows whether each row gives what it should, and what to look at if not.",
        );
        say(ui, "1. Print the commissioning sheet, which has a line for each row: it is among the papers.");
        command_button(ui, session, Command::Sheets, "Papers", asked);
        say(
            ui,
            "2. In the yard hold a jug under each row for the time on the sheet, write down what came, and read the gauges.",
        );
        let words = format!(
            "3. Begin a test of routing {} as it is now; the test keeps that bar, whatever is changed later. Then type the \
             amounts, paste them from a spreadsheet, or read the sheet that was filled in (CSV or XLSX).",
            session.routing().name
        );
        say(ui, &words);
        command_button(ui, session, Command::NewCatchTest, "New catch test", asked);
    }

    fn close_button(&mut self, ui: &mut Ui) {
        ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
            if ui.button("Close").on_hover_text("Back to the drawing (Esc)").clicked() {
                self.after.ask(CatchRequest::Close);
            }
        });
    }

    /// The test, its conditions, the tested bar and the table by row.
    fn taken_down(&mut self, ui: &mut Ui, session: &mut Session, theme: &Theme, asked: &mut CatchAsked) {
        self.head(ui, session, theme, asked);
        let Some(test) = session.catch_test().cloned() else { return };
        let Some(bar) = session.tested_bar(&test).cloned() else { return };
        let units = session.project().units;
        let judged = self.answers.judged().and_then(|judged| judged.as_ref().ok());
        let pump = judged.and_then(|one| one.judged.expected.numbers()).map(|numbers| numbers.pump_pressure);
        let mut unit = self.of.unit.unwrap_or_else(|| usual_unit(&test, units));
        let mut changed = test.clone();
        if self.are_conditions_folded(ui) {
            let words = RichText::new(conditions::summary(&test, &bar, units)).color(theme.soft);
            ui.add(Label::new(words).truncate());
        } else {
            conditions::show(ui, &mut changed, &bar, units, &session.duties_of_catch_test(), pump);
        }
        gauges::show(ui, &mut changed, &bar, units, &mut unit, &mut self.of.read_at, judged);
        if unit != usual_unit(&test, units) || self.of.unit.is_some() {
            self.of.unit = Some(unit);
        }
        let duty = std::mem::replace(&mut changed.duty, test.duty);
        if changed != test {
            let step = format!("Change catch test {}", test.name);
            if let Err(refusal) = session.change_catch_test(&step, |test| *test = changed) {
                typing::refuse_or_say(ui.ctx(), refusal);
            }
        }
        if duty != test.duty
            && let Err(refusal) = session.set_duty_of_catch_test(duty)
        {
            status_line::say(ui.ctx(), Err(refusal));
        }
        ui.add_space(3.0);
        let room = ui.available_height();
        let room = room - (room * TABLE.1).max(TABLE.0);
        let picked = self.picked();
        if let Some(row) = self.picture.show(ui, room, &bar, &self.answers, &picked, units) {
            self.of.in_hand = Some(row);
            self.of.scroll_to = Some(row);
        }
        let judged = self.answers.judged().and_then(|judged| judged.as_ref().ok());
        let table = TableOf {
            test: &test,
            bar: &bar,
            judged: judged.map(|one| &one.judged),
            unit,
            units,
            in_hand: self.of.in_hand,
            more: &self.of.more,
            scroll_to: self.of.scroll_to.take(),
        };
        let mut requests = table.show(ui);
        // Whoever typed elsewhere meanwhile goes on there.
        if std::mem::take(&mut self.of.begins) && !ui.ctx().text_edit_focused() {
            requests.extend(table.first_cell().map(|(cell, row)| TableRequest::GoOn(cell, row)));
        }
        for request in requests {
            self.carry_out(ui.ctx(), session, request);
        }
    }

    /// In a low window the table needs the room.
    fn are_conditions_folded(&self, ui: &Ui) -> bool {
        let height = ui.ctx().content_rect().height();
        self.folded.unwrap_or(height < if self.of.was_filled { MIDDLING } else { LOW })
    }

    /// What stands out in the picture: the row in hand, and what the explanation is about that is pointed out.
    fn picked(&self) -> BTreeSet<Subject> {
        let mut all: BTreeSet<Subject> = self.of.in_hand.into_iter().map(Subject::Row).collect();
        let explained = self.answers.explained().and_then(|one| one.as_ref().ok());
        if let Some(group) = self.of.picked.and_then(|at| explained?.groups.get(at)) {
            all.extend(explained::subjects(group));
        }
        all
    }

    /// The tests to choose from, and what can be done with them.
    fn head(&mut self, ui: &mut Ui, session: &Session, theme: &Theme, asked: &mut CatchAsked) {
        const COMMANDS: [(Command, &str); 6] = [
            (Command::NewCatchTest, "New"),
            (Command::RepeatCatchTest, "Catch again"),
            (Command::PasteCatches, "Paste"),
            (Command::ReadCatches, "Read…"),
            (Command::CatchSheet, "Sheet"),
            (Command::RemoveCatchTest, "Remove"),
        ];
        let Some(test) = session.catch_test() else { return };
        let words = |one: &CatchTest| match one.date.as_str() {
            "" => one.name.clone(),
            date => format!("{}, {date}", one.name),
        };
        let mut chosen = test.id;
        let mut is_folded = self.are_conditions_folded(ui);
        let before = is_folded;
        in_lines(ui, "heads of catch tests", 6.0, COMMANDS.len() + 3, |ui, at| {
            if at == 0 {
                let all = session.project().catch_tests.tests.iter().map(|one| (one.id, words(one)));
                combo_of_width(ui, "Catch test", &words(test), all, &mut chosen, 170.0);
            } else if let Some((command, words)) = COMMANDS.get(at - 1) {
                command_button(ui, session, *command, words, asked);
            } else if at == COMMANDS.len() + 1 {
                let button = ui.add(Button::selectable(!is_folded, "Conditions"));
                if button.on_hover_text("Shows or folds away the fields of the conditions").clicked() {
                    is_folded = !is_folded;
                }
            } else if let Some(routing) = session.tested_bar(test).and_then(|bar| bar.routings.first()) {
                let words = format!("of routing {} as it was", routing.name);
                ui.label(RichText::new(words).color(theme.soft));
            }
        });
        if is_folded != before {
            self.after.ask(CatchRequest::Fold(is_folded));
        }
        if chosen != test.id {
            self.after.ask(CatchRequest::Turn(chosen));
        }
    }

    fn carry_out(&mut self, ctx: &Context, session: &mut Session, request: TableRequest) {
        let done = match request {
            TableRequest::InHand(row) => {
                self.of.in_hand = Some(row);
                return;
            }
            TableRequest::GoOn(cell, row) => {
                typing::go_on_to(ctx, cell);
                // A field that is given the focus does not scroll itself into sight.
                (self.of.in_hand, self.of.scroll_to) = (Some(row), Some(row));
                return;
            }
            TableRequest::OneMore(row) => {
                if !self.of.more.contains(&row) {
                    self.of.more.push(row);
                }
                self.of.in_hand = Some(row);
                return;
            }
            TableRequest::Amount(place, amount) => {
                self.of.in_hand = Some(place.row);
                let done = session.put_catch(place, amount);
                if done.is_ok() && place.nth > 0 {
                    self.of.more.retain(|row| *row != place.row);
                }
                done
            }
            TableRequest::Span(place, span) => session.change_catch(place, |catch| catch.span = span),
            TableRequest::Spoiled(place, why) => session.change_catch(place, |catch| catch.spoiled = why),
        };
        if let Err(refusal) = done {
            typing::refuse_or_say(ctx, refusal);
        }
    }

    /// Says what came of a table that was read.
    pub fn taken(&mut self, ctx: &Context, session: &Session, remark: Remark) {
        self.turn_to(session);
        self.of.refused.clear();
        status_line::say(ctx, Ok(Some(remark)));
    }

    fn paste(&mut self, ctx: &Context, session: &mut Session, text: &str) {
        let unit = self.unit(session);
        match session.paste_catches(text, self.of.in_hand, unit) {
            Ok(taken) => self.taken(ctx, session, taken),
            Err(why) => {
                status_line::say_words(ctx, "Nothing was taken down, see what it says");
                self.of.refused = why.lines().map(str::to_owned).collect();
            }
        }
    }

    /// What the test says, what explains it, and what to look at next.
    fn says(&mut self, ui: &mut Ui, session: &mut Session, theme: &Theme) {
        let ctx = ui.ctx().clone();
        ui.horizontal(|ui| {
            ui.heading("What it says");
            self.close_button(ui);
        });
        let of = session.catch_test().map(|test| test.id);
        ScrollArea::vertical().id_salt(("what a catch test says", of)).auto_shrink([false, false]).show(
            ui,
            |ui| {
                verdict::refused(ui, &mut self.of.refused, theme);
                verdict::doubts(ui, session, theme);
                verdict::show(ui, self.answers.judged(), theme);
                let state = self.answers.state();
                let is_idle = matches!(state, ExplainedState::UpToDate | ExplainedState::Waiting);
                // Of a test without catches nothing is explained, and nothing is announced.
                if !is_idle || self.answers.explained().is_some() {
                    explained::head(ui, state, theme, |asked| match asked {
                        explained::Asked::Stop => self.answers.stop(),
                        explained::Asked::Again => self.answers.begin_again(wake(&ctx)),
                    });
                }
                match self.answers.explained() {
                    Some(Ok(explanation)) if state == ExplainedState::UpToDate => {
                        let judged = self.answers.judged().and_then(|one| one.as_ref().ok());
                        let is_as_drawn = judged.and_then(|one| one.judged.verdict.as_drawn);
                        explained::groups(ui, explanation, is_as_drawn, &mut self.of.picked, theme);
                        explained::next(ui, explanation, is_as_drawn, theme);
                    }
                    Some(Err(why)) if state == ExplainedState::UpToDate => verdict::no_answer(ui, why, theme),
                    _ => {}
                }
                verdict::changed_since(ui, session, &mut self.since, theme);
                if let Some(Ok(judged)) = self.answers.judged() {
                    let (calibration, choice) = (&mut self.calibration, &mut self.of.calibrated);
                    calibration::show(ui, session, judged, calibration, choice, theme);
                }
            },
        );
    }
}

/// A button that asks for a command, with its keys and why it can't be done.
fn command_button(ui: &mut Ui, session: &Session, command: Command, words: &str, asked: &mut CatchAsked) {
    let obstacle = crate::session::commands::obstacle(session, command);
    let response = ui.add_enabled(obstacle.is_none(), Button::new(words));
    let response = match command.entry() {
        Some(entry) if entry.keys.is_some() => {
            response.on_hover_text(format!("{} ({})", entry.about, entry.keys_text()))
        }
        Some(entry) => response.on_hover_text(entry.about),
        None => response,
    };
    let response = match obstacle {
        Some(why) => response.on_disabled_hover_text(why.words()),
        None => response,
    };
    if let Some(entry) = command.entry() {
        let enabled = obstacle.is_none();
        response
            .widget_info(|| egui::WidgetInfo::labeled(egui::accesskit::Role::Button, enabled, entry.label));
    }
    if response.clicked() {
        asked.command = Some(command);
    }
}

fn wake(ctx: &Context) -> impl Fn() + Send + Sync + 'static {
    let ctx = ctx.clone();
    move || ctx.request_repaint()
}
