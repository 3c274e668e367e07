//! Commands in the window: keys, menus, and what the window itself does of them.

use eframe::egui;
use eframe::egui::{Context, Key, RichText, Ui};

use super::{App, Below, Next, PendingRequest};
use crate::files::preferences;
use crate::plan::FoldPosition;
use crate::session::commands::{self, Command, CommandDone, CommandEntry, Menu, TABLE};
use crate::session::{Gesture, Tool};
use crate::sheets::SheetKind;
use crate::window::bar_form::BarForm;
use crate::window::command_list::CommandList;
use crate::window::dialogs::Purpose;
use crate::window::front::{InFront, InPlace, OverDrawing};
use crate::window::notices::Notices;
use crate::window::picture_dialog::PictureDialog;
use crate::window::side_panels::SidePanel;
use crate::window::theme::Theme;
use crate::window::{icons, settings, status_line, typing};

/// What only looks, or is the way out of what is typed: nothing typed has to be taken first.
const fn leaves_typing_alone(command: Command) -> bool {
    matches!(
        command,
        Command::Cancel
            | Command::Help
            | Command::CommandList
            | Command::FitToWindow
            | Command::FitSelection
            | Command::FitNextSection
            | Command::ZoomIn
            | Command::ZoomOut
            | Command::PanLeft
            | Command::PanRight
            | Command::PanForward
            | Command::PanBack
            | Command::SwitchColours
            | Command::SwitchScatter
            | Command::SwitchTheme
            | Command::SwitchBands
    )
}

/// What may take longer than 0.2 s on a wide bar, so that it is worked out beside the session. Measured at 240 rows in 9
/// sections, without optimisation: main hoses 5 to 32 s, outlets balanced 4 s, a manifold per section 3 s, rows to the nearest
/// manifold 0.5 s, a wing mirrored 0.3 s, frame followed and outlets plugged 0.2 s; all else 0.1 s or less.
const fn may_take_long(command: Command) -> bool {
    matches!(
        command,
        Command::MainsFromTees
            | Command::MainsInChain
            | Command::MainsByWing
            | Command::ManifoldPerSection
            | Command::NearestManifold
            | Command::BalanceOutlets
            | Command::MirrorToRight
            | Command::MirrorToLeft
            | Command::FollowFrame
            | Command::PlugOpen
            | Command::ComputeCrossings
            | Command::JoinRows
            | Command::PairRows
            | Command::PartRows
    )
}

/// What a key repeats while it is held.
const fn goes_by_steps(command: Command) -> bool {
    matches!(
        command,
        Command::NudgeLeft
            | Command::NudgeRight
            | Command::NudgeForward
            | Command::NudgeBack
            | Command::NudgeLeftFar
            | Command::NudgeRightFar
            | Command::NudgeForwardFar
            | Command::NudgeBackFar
            | Command::ZoomIn
            | Command::ZoomOut
            | Command::PanLeft
            | Command::PanRight
            | Command::PanForward
            | Command::PanBack
            | Command::Undo
            | Command::Redo
            | Command::Turn
            | Command::TurnBack
            | Command::PreviousRouting
            | Command::NextRouting
    )
}

/// An event is the keys of a command. The modifiers are those of the event, not of the frame: a quick hand has let go of
/// Ctrl by the end of a slow one.
fn is_asked_for(entry: &CommandEntry, event: &egui::Event) -> bool {
    let Some((keys, key)) = entry.keys.and_then(|keys| Some((keys, Key::from_name(keys.key)?))) else {
        return false;
    };
    // Where + needs Shift, or is on the key of =, it zooms in all the same.
    let plus = key == Key::Plus;
    match event {
        // The keys of the clipboard come as events of their own.
        egui::Event::Copy => entry.command == Command::Copy,
        egui::Event::Cut => entry.command == Command::Cut,
        egui::Event::Paste(_) => entry.command == Command::Paste,
        egui::Event::Key { key: one, pressed: true, modifiers, .. } => {
            // Many hands know this one.
            let redo_too = *one == Key::Y && modifiers.command && !modifiers.shift && !modifiers.alt;
            (entry.command == Command::Redo && redo_too)
                || ((*one == key || (plus && *one == Key::Equals))
                    && modifiers.command == keys.ctrl
                    && (plus || modifiers.shift == keys.shift)
                    && !modifiers.alt)
        }
        _ => false,
    }
}

impl App {
    /// What the keys of this frame ask for, in the order in which they were pressed: a slow frame holds several, and none
    /// is to be lost.
    pub(super) fn keys(&mut self, ctx: &Context) {
        if self.work.is_under_way() {
            return;
        }
        let front = self.in_front(ctx);
        let typing = ctx.text_edit_focused();
        let elsewhere = self.focus_elsewhere(ctx);
        let mut asked: Vec<Command> = Vec::new();
        // The field takes it in only when it is shown.
        let mut typed_now = false;
        for event in ctx.input(|input| input.events.clone()) {
            for entry in TABLE.iter().filter(|entry| is_asked_for(entry, &event)) {
                let Some(keys) = entry.keys else { continue };
                // A field that is being typed in owns its keys, undo and the steps by word among them; but where nothing was
                // typed in it since it was entered, undo is the project's.
                let plain = !keys.ctrl && !is_function_key(keys.key);
                let own = match entry.command {
                    Command::Undo | Command::Redo => typed_now || !typing::leaves_to_project(ctx),
                    Command::Cut | Command::Copy | Command::Paste | Command::SelectAll => true,
                    _ => keys.key.starts_with("Arrow"),
                };
                // The lines of a table walk with the arrows and take Enter; what is deleted there is deleted.
                let of_table = self.tables.has_keys() && plain && entry.command != Command::Delete;
                // egui has taken the focus from a field by Esc already: the key was the field's all the same, unless something
                // has come in front of it since.
                let field = self.field.filter(|_| entry.command == Command::Cancel);
                if let Some(field) =
                    field.filter(|field| self.front.window().is_some_and(|one| one != field.layer))
                {
                    self.close_window();
                    field.keeps_focus(ctx, &event);
                    continue;
                }
                let of_field = field.is_some();
                if front == InFront::Dialog && matches!(entry.command, Command::Save | Command::SaveAs) {
                    status_line::say_words(
                        ctx,
                        "Not saved: finish or cancel what is open in front of the drawing first",
                    );
                }
                // The keys of the routings turn the pages.
                let turns = front == InFront::Sheets
                    && matches!(entry.command, Command::PreviousRouting | Command::NextRouting);
                let kept_back = !turns && front.keeps_back(entry, plain);
                let of_list = kept_back && (front.advice().is_none() || (plain && front == InFront::List));
                if of_list || of_table || of_field || (typing && (plain || own)) {
                    continue;
                }
                // Sliders and buttons take these keys; and nobody asks for a command with them when there is none to do.
                let shared = !keys.ctrl && (keys.key == "Enter" || keys.key.starts_with("Arrow"));
                if shared && (elsewhere || commands::obstacle(&self.session, entry.command).is_some()) {
                    continue;
                }
                if let Some(advice) = front.advice().filter(|_| kept_back) {
                    status_line::say_words(ctx, format!("{}: not done; {advice}", entry.label));
                    continue;
                }
                // A key that is held repeats what goes on by steps, in one frame as in several.
                let is_held = matches!(event, egui::Event::Key { repeat: true, .. });
                if !(is_held && !goes_by_steps(entry.command) && asked.contains(&entry.command)) {
                    asked.push(entry.command);
                }
                if typing {
                    // Fields have uses of their own for some of these keys: Ctrl+U would empty the one in hand.
                    ctx.input_mut(|input| input.events.retain(|one| *one != event));
                }
            }
            typed_now |= typing::changes_text(&event);
        }
        for command in asked {
            self.ask_for(command, ctx);
            // What was pressed after that was meant for what is in front now.
            if self.is_asking() {
                break;
            }
        }
    }

    /// Carries out a command, once what is typed anywhere is taken.
    pub(super) fn ask_for(&mut self, command: Command, ctx: &Context) {
        if leaves_typing_alone(command) {
            self.run(command, ctx);
        } else {
            self.after_typing.ask(PendingRequest::Command(command));
            self.go_on_after_typing(ctx);
        }
    }

    pub(super) fn go_on_after_typing(&mut self, ctx: &Context) {
        if self.work.is_under_way() {
            return;
        }
        while let Some(wanted) = self.after_typing.step(ctx) {
            match wanted {
                PendingRequest::Command(command) => self.run(command, ctx),
                PendingRequest::CloseSettings => self.settings = None,
                PendingRequest::Duty(id) => self.session.look_at_duty(id),
                PendingRequest::Close if self.bar_form.as_ref().is_some_and(BarForm::is_filled_in) => {
                    self.giving_up_form = true;
                }
                PendingRequest::Close => self.ask(Next::Quit),
            }
        }
    }

    /// Something outside the drawing has the focus. What has it inside keeps it when arrow keys move a part.
    fn focus_elsewhere(&self, ctx: &Context) -> bool {
        let Some(id) = ctx.memory(|memory| memory.focused()) else { return false };
        let inside = ctx.read_response(id).is_some_and(|response| self.drawing.contains_rect(response.rect));
        if inside && commands::obstacle(&self.session, Command::NudgeLeft).is_none() {
            let filter = egui::EventFilter {
                horizontal_arrows: true,
                vertical_arrows: true,
                ..egui::EventFilter::default()
            };
            ctx.memory_mut(|memory| memory.set_focus_lock_filter(id, filter));
        }
        !inside
    }

    pub(super) fn menus(&mut self, ui: &mut Ui) {
        let mut asked = None;
        egui::MenuBar::new().ui(ui, |ui| {
            for menu in Menu::ALL {
                ui.menu_button(menu.label(), |ui| {
                    // In a low window a long menu is scrolled.
                    let most = ui.ctx().content_rect().height() - 70.0;
                    ui.set_max_height(most);
                    egui::ScrollArea::vertical().max_height(most).show(ui, |ui| {
                        asked = self.menu(ui, menu).or(asked);
                    });
                });
            }
            ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
                let units = self.session.project().units;
                let button =
                    ui.button(units.label()).on_hover_text("Switch between metric and US customary units");
                if button.clicked() {
                    asked = Some(Command::SwitchUnits);
                }
                ui.with_layout(egui::Layout::centered_and_justified(egui::Direction::LeftToRight), |ui| {
                    let name = RichText::new(self.name()).color(Theme::of(ui.visuals()).soft);
                    ui.add(egui::Label::new(name).truncate());
                });
            });
        });
        if let Some(command) = asked {
            self.ask_for(command, ui.ctx());
        }
    }

    /// The entries of a menu; the command that was chosen.
    fn menu(&self, ui: &mut Ui, menu: Menu) -> Option<Command> {
        let mut asked = None;
        for entry in TABLE.iter().filter(|entry| entry.menu == menu) {
            let label = match entry.command {
                Command::Undo => with_name("Undo", self.session.undo_name()),
                Command::Redo => with_name("Redo", self.session.redo_name()),
                _ => entry.label.to_owned(),
            };
            let why_not = self.in_place().why_not(&self.session, entry);
            let icon = icons::icon_of(entry.command);
            let response = icons::button(ui, why_not.is_none(), icon, &label, |button| {
                button.shortcut_text(RichText::new(entry.keys_text()).monospace())
            });
            let response = response.on_hover_text(entry.about);
            let response = match why_not {
                Some(why) => response.on_disabled_hover_text(why),
                None => response,
            };
            if response.clicked() {
                asked = Some(entry.command);
                ui.close();
            }
        }
        asked
    }

    pub(super) fn run(&mut self, command: Command, ctx: &Context) {
        if self.work.is_under_way() {
            self.work.wait_for_it(command);
            return;
        }
        let is_idle = !self.session.is_in_step() && *self.session.gesture() == Gesture::None;
        if command == Command::Cancel && is_idle && typing::is_held(ctx) {
            // What could not be taken is given up before anything is closed.
            typing::forget(ctx);
            ctx.request_repaint();
            return;
        }
        if command == Command::Cancel && is_idle && self.close_window() {
            return;
        }
        // What comes in front closes the lists that it covers.
        egui::Popup::close_all(ctx);
        // A test that is begun is shown.
        if matches!(command, Command::NewCatchTest | Command::RepeatCatchTest)
            && commands::obstacle(&self.session, command).is_none()
        {
            self.show_catch_tests();
        }
        if let Some(entry) = command.entry()
            && let Some(why) = self.in_place().refuses(&self.session, entry)
        {
            status_line::say_words(ctx, format!("{}: {why}", entry.label));
            return;
        }
        let is_done = match self.in_place() {
            InPlace::Sheets => self.sheets.run(command),
            InPlace::CatchTests => self.catch_tests.run(command, ctx),
            InPlace::Comparison => self.compare.run(command, &self.session),
            InPlace::FoldedBar => self.fold.run(command, &mut self.session),
            InPlace::Drawing => false,
        };
        if is_done {
            return;
        }
        if let Some(entry) = command.entry().filter(|entry| may_take_long(entry.command)) {
            self.work_on(ctx, entry.label, move |session| {
                commands::run(session, command).map(|done| match done {
                    CommandDone::BySession(remark) => remark,
                    CommandDone::LeftToWindow => None,
                })
            });
            return;
        }
        match commands::run(&mut self.session, command) {
            Ok(CommandDone::BySession(remark)) => {
                if matches!(command, Command::Copy | Command::Cut) && !self.session.copied().is_empty() {
                    // Without text on the system's clipboard there would be nothing to paste.
                    ctx.copy_text(self.session.copied().text());
                }
                status_line::say(ctx, Ok(remark));
                return;
            }
            Ok(CommandDone::LeftToWindow) => {
                // What was said of the last action is over with the next.
                if !leaves_typing_alone(command) {
                    self.status.clear();
                }
            }
            Err(refusal) => {
                status_line::say(ctx, Err(refusal));
                return;
            }
        }
        if self.canvas.run(command) {
            return;
        }
        match command {
            Command::New => self.ask(Next::New),
            Command::Open => self.ask(Next::AskOpen),
            Command::StartCard => self.switch_start_card(),
            Command::Quit => self.ask(Next::Quit),
            Command::Save => self.save(None),
            Command::SaveAs => self.ask_path(Purpose::Save),
            Command::Compare => self.compare(),
            Command::Sheets => self.sheets.toggle(),
            Command::CustomerSheet => self.sheets.show_alone(SheetKind::Customer),
            Command::CatchSheet => self.sheets.show_alone(SheetKind::CatchTest),
            Command::ExportSheets => self.sheets.ask_sheets(&self.session),
            Command::ExportList => self.sheets.ask_list(&self.session),
            Command::Picture => self.picture = Some(PictureDialog::new(&self.session)),
            Command::SwitchColours => self.canvas.switch_colours(),
            Command::SwitchTheme => {
                let theme =
                    if ctx.global_style().visuals.dark_mode { egui::Theme::Light } else { egui::Theme::Dark };
                ctx.set_theme(theme);
                // A window of the program itself, not one of a test.
                if self.recovery.is_some() {
                    preferences::prefer(|kept| kept.dark = Some(theme == egui::Theme::Dark));
                }
            }
            Command::SwitchBands => self.canvas.switch_bands(),
            Command::FoldTools => self.side_panels.switch(SidePanel::Tools, ctx.content_rect().width()),
            Command::FoldDetails => self.side_panels.switch(SidePanel::Details, ctx.content_rect().width()),
            Command::EditBar => self.bar_form = Some(BarForm::change(self.session.project())),
            Command::ImportRows => self.ask_path(Purpose::Table),
            Command::ReadCutLengths => self.ask_path(Purpose::CutLengths),
            Command::Settings => {
                self.settings = if self.settings.is_some() { None } else { Some(settings::Page::default()) };
            }
            Command::Tables => self.below = self.below.or_findings(Below::Tables),
            Command::SpeedPlot => self.below = self.below.or_findings(Below::Speeds),
            Command::CatchTests => self.switch_catch_tests(),
            Command::PasteCatches => {
                self.show_catch_tests();
                self.catch_tests.run(command, ctx);
            }
            Command::ReadCatches => {
                self.show_catch_tests();
                self.ask_path(Purpose::Catches);
            }
            Command::FoldedBar => self.switch_fold(),
            Command::Studies => self.below = self.below.or_findings(Below::Studies),
            Command::CommandList => self.list = Some(CommandList::default()),
            Command::Catalogue => self.catalogue.is_open = !self.catalogue.is_open,
            Command::AddedLines => self.added_lines.is_open = !self.added_lines.is_open,
            Command::TakeAddedLines => self.ask_path(Purpose::AddedLines),
            Command::Help => self.help = !self.help,
            Command::Notices => {
                self.notices = if self.notices.is_some() { None } else { Some(Notices::default()) };
            }
            // The session does the rest.
            _ => {}
        }
    }

    /// What stands in the room of the drawing.
    pub(super) const fn in_place(&self) -> InPlace {
        if self.sheets.is_open() {
            InPlace::Sheets
        } else if self.catch_tests.is_open() {
            InPlace::CatchTests
        } else if self.compare.is_open() {
            InPlace::Comparison
        } else if self.fold.is_open() {
            InPlace::FoldedBar
        } else {
            InPlace::Drawing
        }
    }

    /// Closes the window that was used last, unless the drawing was used since and has something to give up.
    fn close_window(&mut self) -> bool {
        let is_of_drawing = self.front.window().is_none()
            && (*self.session.tool() != Tool::Select || !self.session.selection().is_empty());
        let Some(last) = self.front.last_window().filter(|_| !is_of_drawing) else { return false };
        match OverDrawing::ALL.into_iter().find(|one| one.id() == last.id) {
            Some(OverDrawing::StartCard) => self.start_card = None,
            Some(OverDrawing::Catalogue) => self.catalogue.is_open = false,
            Some(OverDrawing::AddedLines) => self.added_lines.is_open = false,
            Some(OverDrawing::Settings) => self.settings = None,
            Some(OverDrawing::Help) => self.help = false,
            Some(OverDrawing::Notices) => self.notices = None,
            None => return false,
        }
        true
    }

    /// The folding bar in place of the drawing, of a comparison or of the sheets.
    fn switch_fold(&mut self) {
        if self.sheets.is_open() {
            self.sheets.toggle();
            if self.fold.is_open() {
                return;
            }
        }
        if self.compare.is_open() {
            self.compare.toggle(&mut self.session);
        }
        self.catch_tests.close();
        self.fold.toggle(&mut self.session);
    }

    /// The catch tests in place of the drawing, of a comparison, of the folding bar or of the sheets.
    fn show_catch_tests(&mut self) {
        if self.sheets.is_open() {
            self.sheets.toggle();
        }
        if self.compare.is_open() {
            self.compare.toggle(&mut self.session);
        }
        if self.fold.is_open() {
            self.fold.toggle(&mut self.session);
        }
        self.session.take(Tool::Select);
        self.catch_tests.open();
    }

    /// The same, or the drawing where they are shown already.
    fn switch_catch_tests(&mut self) {
        if self.catch_tests.is_open() && !self.sheets.is_open() {
            self.catch_tests.close();
        } else {
            self.show_catch_tests();
        }
    }

    /// The folding bar at a position, in place of the drawing or of a comparison.
    pub(super) fn look_folded(&mut self, position: FoldPosition) {
        if self.compare.is_open() {
            self.compare.toggle(&mut self.session);
        }
        self.catch_tests.close();
        self.fold.look_at(position, &mut self.session);
    }

    /// Two routings in place of one, of the folding bar, or of the sheets.
    pub(super) fn compare(&mut self) {
        if self.fold.is_open() {
            self.fold.toggle(&mut self.session);
        }
        if self.sheets.is_open() {
            self.sheets.toggle();
            if self.compare.is_open() {
                return;
            }
        }
        self.catch_tests.close();
        self.compare.toggle(&mut self.session);
    }
}

/// F1 and its neighbours, which no field takes.
fn is_function_key(key: &str) -> bool {
    key.strip_prefix('F').is_some_and(|number| !number.is_empty())
}

fn with_name(label: &str, step: Option<&str>) -> String {
    step.map_or_else(|| label.to_owned(), |step| format!("{label}: {step}"))
}
