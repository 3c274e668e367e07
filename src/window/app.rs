//! The window: panels around the canvas, keys and menus from the one table of commands.

use eframe::egui;
use std::num::NonZeroUsize;
use std::path::PathBuf;

use eframe::egui::{Context, Frame, Key, Margin, Panel, RichText, ScrollArea, Ui, ViewportCommand};

use super::bar_form::{BarForm, Wish};
use super::canvas::view::Canvas;
use super::catalogue_table::CatalogueTable;
use super::command_list::CommandList;
use super::compare_view::CompareView;
use super::dialogs::{self, Answer, Changed, PathDialog, Purpose, Unsaved};
use super::duty_choice::DutyRequest;
use super::fallback_font::{FallbackFonts, lacking_words};
use super::import_rows::ImportRows;
use super::notices::Notices;
use super::picture_dialog::PictureDialog;
use super::recovery::Recovery;
use super::routing_bar::RoutingBar;
use super::settings::SettingsRequest;
use super::sheets_view::SheetsView;
use super::speed_plot::SpeedPlot;
use super::status_line::{self, StatusLine};
use super::tables::Tables;
use super::theme::{self, Theme};
use super::typing::{self, AfterTyping};
use super::unreadable::{Instead, Unreadable};
use super::{details, icons, panels, settings, top_bar};
use crate::files;
use crate::plan::{DutyId, Edit};
use crate::session::commands::{self, Command, CommandDone, Keys, Menu, TABLE};
use crate::session::paper_export::stem;
use crate::session::{Gesture, Session};

/// How often a frame may be laid out until its sizes are settled.
pub(super) const MOST_PASSES: NonZeroUsize = NonZeroUsize::MIN.saturating_add(2);

/// How far a key moves what is shown, points.
const PAN_STEP: f64 = 80.0;

/// What waits until unsaved work is dealt with.
#[derive(Debug, Clone, PartialEq)]
enum Next {
    Quit,
    New,
    AskOpen,
    Open(PathBuf),
}

/// What is asked for once what is typed is taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Wanted {
    Command(Command),
    /// The window's own close button.
    Close,
    CloseSettings,
    Duty(DutyId),
}

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
            | Command::SwitchTheme
    )
}

/// What stands below the drawing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum Below {
    #[default]
    Findings,
    Tables,
    Speeds,
}

impl Below {
    /// Another one; asked for again, the findings.
    fn or_findings(self, wanted: Self) -> Self {
        if self == wanted { Self::Findings } else { wanted }
    }
}

/// The whole window.
pub struct App {
    /// The project in hand.
    pub session: Session,
    /// The picture of it.
    pub canvas: Canvas,
    /// Two routings side by side, when asked for.
    pub compare: CompareView,
    /// The papers, when asked for.
    pub sheets: SheetsView,
    /// A picture of the drawing, while it is asked for and written.
    pub picture: Option<PictureDialog>,
    /// What was last refused or remarked.
    pub status: StatusLine,
    routing_bar: RoutingBar,
    catalogue: CatalogueTable,
    path_dialog: Option<PathDialog>,
    waiting: Option<Next>,
    after_save: Option<Next>,
    after_typing: AfterTyping<Wanted>,
    /// Another project is in hand since the last pass: what was typed for the last one is of no use.
    forget_typed: bool,
    /// The window is to be closed above a form that is filled in.
    giving_up_form: bool,
    /// The file that was to be opened can't be.
    unreadable: Option<Unreadable>,
    /// May close: unsaved work was dealt with.
    closing: bool,
    help: bool,
    notices: Option<Notices>,
    bar_form: Option<BarForm>,
    import: Option<ImportRows>,
    settings: Option<settings::Page>,
    list: Option<CommandList>,
    tables: Tables,
    /// Below the drawing, in place of the findings.
    below: Below,
    /// The plots over ground speed.
    pub speeds: SpeedPlot,
    recovery: Option<Recovery>,
    /// Someone else has changed the file: asked about, and whether it was to be saved.
    disk: Option<bool>,
    had_focus: bool,
    /// A field for text had the focus in the last pass.
    had_field: bool,
    styled: bool,
    /// Fonts for letters that the window's own lack.
    pub fallback: FallbackFonts,
    title: String,
    /// Where the drawing is: what has the focus there leaves arrow keys and Enter to the commands.
    drawing: egui::Rect,
}

impl App {
    /// A window on a project.
    pub fn new(session: Session) -> Self {
        Self {
            status: StatusLine::on(&session),
            session,
            canvas: Canvas::default(),
            compare: CompareView::default(),
            sheets: SheetsView::default(),
            picture: None,
            routing_bar: RoutingBar::default(),
            catalogue: CatalogueTable::default(),
            path_dialog: None,
            waiting: None,
            after_save: None,
            after_typing: AfterTyping::default(),
            forget_typed: false,
            giving_up_form: false,
            unreadable: None,
            closing: false,
            help: false,
            notices: None,
            bar_form: None,
            import: None,
            settings: None,
            list: None,
            tables: Tables::default(),
            below: Below::default(),
            speeds: SpeedPlot::default(),
            recovery: None,
            disk: None,
            had_focus: true,
            had_field: false,
            styled: false,
            fallback: FallbackFonts::installed(),
            title: String::new(),
            drawing: egui::Rect::NOTHING,
        }
    }

    /// A window that keeps unsaved work below a folder, and offers what was left there.
    pub fn with_recovery(session: Session, base: Option<PathBuf>) -> Self {
        Self { recovery: Some(Recovery::start(base)), ..Self::new(session) }
    }

    /// The same, and says at once why the file that was named can't be opened.
    #[must_use]
    pub fn with_unreadable(mut self, file: PathBuf, why: String) -> Self {
        self.unreadable = Some(Unreadable::new(file, why));
        self
    }

    /// One frame.
    pub fn show(&mut self, ui: &mut Ui) {
        let ctx = ui.ctx().clone();
        if !self.styled {
            theme::apply(&ctx);
            // Ctrl with + and − zooms the drawing, not the letters of the window.
            ctx.options_mut(|options| options.zoom_with_keyboard = false);
            self.fallback.install(&ctx);
            self.styled = true;
        }
        // Grids and panels know their sizes only after a pass or two, and nobody should see those.
        if ctx.cumulative_pass_nr() + 1 < MOST_PASSES.get() as u64 {
            ctx.request_discard("the first layout");
        }
        self.keys(&ctx);
        self.go_on_after_typing(&ctx);
        if !self.sheets.is_open() && !self.compare.is_open() {
            self.canvas.follow_drag(&ctx, &mut self.session);
        }
        let before = (self.session.revision(), self.session.selection().clone());
        let theme = Theme::of(ui.visuals());
        let bar = Frame::new().fill(theme.paper).inner_margin(Margin::symmetric(12, 6));
        let side = Frame::new().fill(theme.panel).inner_margin(Margin::symmetric(10, 8));
        Panel::top("menus").frame(bar.inner_margin(Margin::symmetric(8, 2))).show(ui, |ui| self.menus(ui));
        let chosen =
            Panel::top("operating point").frame(bar).show(ui, |ui| top_bar::show(ui, &mut self.session));
        if let Some(duty) = chosen.inner {
            self.after_typing.ask(Wanted::Duty(duty));
            self.go_on_after_typing(&ctx);
        }
        let saved = self.saved_text(&ctx);
        self.status.take_in(&ctx, &mut self.session);
        let trouble = self.recovery.as_ref().and_then(Recovery::trouble).map(str::to_owned);
        let pointer = match (self.sheets.is_open(), self.compare.is_open()) {
            (true, _) => None,
            (false, true) => self.compare.pointer(),
            (false, false) => self.canvas.pointer,
        };
        Panel::bottom("status").frame(side.inner_margin(Margin::symmetric(12, 4))).show(ui, |ui| {
            panels::status(ui, &self.session, pointer, self.status.words(), saved, trouble.as_deref());
        });
        if self.sheets.show(ui, &mut self.session) || self.compare.show(ui, &mut self.session, &self.canvas) {
            self.end_of_frame(&ctx);
            return;
        }
        // The tables have many columns: they take the whole width, below what stands beside the drawing.
        match self.below {
            Below::Findings => {}
            Below::Tables => {
                Panel::bottom("tables")
                    .frame(bar)
                    .default_size(250.0)
                    .resizable(true)
                    .size_range(140.0..=520.0)
                    .show(ui, |ui| self.tables.show(ui, &mut self.session));
            }
            Below::Speeds => {
                Panel::bottom("speeds")
                    .frame(bar)
                    .default_size(230.0)
                    .resizable(true)
                    .size_range(150.0..=520.0)
                    .show(ui, |ui| self.speeds.show(ui, &mut self.session));
            }
        }
        Panel::left("tools").frame(side).exact_size(158.0).resizable(false).show(ui, |ui| {
            ScrollArea::vertical().show(ui, |ui| {
                panels::palette(ui, &mut self.session);
            });
        });
        Panel::right("details").frame(side).exact_size(310.0).resizable(false).show(ui, |ui| {
            ScrollArea::vertical()
                .auto_shrink([false, false])
                .show(ui, |ui| details::show(ui, &mut self.session));
        });
        if self.below == Below::Findings {
            Panel::bottom("findings")
                .frame(bar)
                .default_size(104.0)
                .resizable(true)
                .size_range(40.0..=300.0)
                .show(ui, |ui| {
                    let shown = ScrollArea::vertical().auto_shrink([false, false]).show(ui, |ui| {
                        let top = ui.min_rect().top();
                        panels::findings(ui, &mut self.session);
                        top
                    });
                    // Where the list has become shorter, egui comes back to its end only in the next pass.
                    let scrolled = shown.inner_rect.top() - shown.inner;
                    let farthest = (shown.content_size.y - shown.inner_rect.height()).max(0.0);
                    if scrolled > farthest + 0.5 {
                        ui.ctx().request_discard("the list of findings is shorter");
                    }
                });
        }
        egui::CentralPanel::default()
            .frame(Frame::new().fill(theme.canvas).inner_margin(Margin::symmetric(8, 4)))
            .show(ui, |ui| {
                self.drawing = ui.max_rect();
                if self.routing_bar.show(ui, &mut self.session) {
                    self.compare.toggle(&mut self.session);
                }
                self.canvas.show(ui, &mut self.session);
            });
        // A press selects, and takes what was typed, after the panels were laid out: nobody should see both states.
        let is_as_before = before.0 == self.session.revision() && before.1 == *self.session.selection();
        if !is_as_before && ctx.input(|input| input.pointer.any_pressed()) {
            ctx.request_discard("a press has changed what the panels show");
        }
        self.end_of_frame(&ctx);
    }

    fn end_of_frame(&mut self, ctx: &Context) {
        if let Some(words) = lacking_words(&self.fallback.follow(ctx)) {
            status_line::say_words(ctx, words);
        }
        self.catalogue.show(ctx, &mut self.session);
        self.dialogs(ctx);
        if std::mem::take(&mut self.forget_typed) {
            typing::forget(ctx);
        }
        if let Some(message) = typing::message(ctx) {
            status_line::say_words(ctx, message);
        }
        self.watch_file(ctx);
        self.keep_unsaved(ctx);
        self.close_or_ask(ctx);
        self.window_title(ctx);
        self.had_field = ctx.text_edit_focused();
        if self.status.take_in(ctx, &mut self.session) {
            ctx.request_repaint();
        }
    }

    /// Something is asked that must be answered before anything else.
    fn is_asking(&self) -> bool {
        self.path_dialog.is_some()
            || self.waiting.is_some()
            || self.bar_form.is_some()
            || self.import.is_some()
            || self.list.is_some()
            || self.disk.is_some()
            || self.picture.is_some()
            || self.unreadable.is_some()
            || self.recovery.as_ref().is_some_and(|recovery| recovery.is_asking(&self.session))
    }

    /// Whoever comes back to the window is told when someone else has changed the file meanwhile.
    fn watch_file(&mut self, ctx: &Context) {
        let has_focus = ctx.input(|input| input.focused);
        if has_focus && !self.had_focus && !self.is_asking() && self.session.changed_on_disk() {
            self.disk = Some(false);
        }
        self.had_focus = has_focus;
    }

    fn keep_unsaved(&mut self, ctx: &Context) {
        let now = std::time::Duration::from_secs_f64(ctx.input(|input| input.time).max(0.0));
        if let Some(recovery) = &mut self.recovery {
            recovery.step(ctx, now, &self.session);
        }
    }

    fn saved_text(&self, ctx: &Context) -> &'static str {
        let is_changed = self.session.is_changed() || typing::is_held(ctx);
        match (self.session.path().is_some(), is_changed) {
            (_, true) => "Not saved",
            (true, false) => "Saved",
            (false, false) => "No file yet",
        }
    }

    fn window_title(&mut self, ctx: &Context) {
        let changed = if self.session.is_changed() { " *" } else { "" };
        let title = format!("{}{changed} - Equirow", self.name());
        if title != self.title {
            ctx.send_viewport_cmd(ViewportCommand::Title(title.clone()));
            self.title = title;
        }
    }

    fn name(&self) -> String {
        let file = self
            .session
            .path()
            .and_then(|path| path.file_name())
            .map(|name| name.to_string_lossy().into_owned());
        let title = &self.session.project().title.title;
        file.unwrap_or_else(|| if title.is_empty() { "Untitled bar".to_owned() } else { title.clone() })
    }

    fn keys(&mut self, ctx: &Context) {
        let modal = self.is_asking() || self.compare.is_modal() || self.sheets.is_modal();
        let typing = ctx.text_edit_focused();
        let elsewhere = self.focus_elsewhere(ctx);
        // A menu or a list that is open takes the plain keys, with or without a field in it.
        let popup = egui::Popup::is_any_open(ctx);
        let mut asked = None;
        for entry in TABLE {
            let Some(keys) = entry.keys else { continue };
            let Some(key) = Key::from_name(keys.key) else { continue };
            // A field that is being typed in owns its keys, undo and the steps by word among them.
            let plain = !keys.ctrl && keys.key != "F1";
            let own = matches!(
                entry.command,
                Command::Undo
                    | Command::Redo
                    | Command::Cut
                    | Command::Copy
                    | Command::Paste
                    | Command::SelectAll
            ) || keys.key.starts_with("Arrow");
            // The lines of a table walk with the arrows and take Enter; what is deleted there is deleted.
            let of_table = self.tables.has_keys() && plain && entry.command != Command::Delete;
            // egui has taken the focus from a field by Esc already: the key was the field's all the same.
            let of_field = self.had_field && entry.command == Command::Cancel;
            // The modifiers of the event, not of the frame: a quick hand has let go of Ctrl by the end of a slow one.
            let is_asked_for = |event: &egui::Event| {
                // Where + needs Shift, or is on the key of =, it zooms in all the same.
                let plus = key == Key::Plus;
                match event {
                    // The keys of the clipboard come as events of their own.
                    egui::Event::Copy => entry.command == Command::Copy,
                    egui::Event::Cut => entry.command == Command::Cut,
                    egui::Event::Paste(_) => entry.command == Command::Paste,
                    egui::Event::Key { key: one, pressed: true, modifiers, .. } => {
                        (*one == key || (plus && *one == Key::Equals))
                            && modifiers.command == keys.ctrl
                            && (plus || modifiers.shift == keys.shift)
                            && !modifiers.alt
                    }
                    _ => false,
                }
            };
            if modal
                && matches!(entry.command, Command::Save | Command::SaveAs)
                && ctx.input(|input| input.events.iter().any(is_asked_for))
            {
                status_line::say_words(
                    ctx,
                    "Not saved: finish or cancel what is open in front of the drawing first",
                );
            }
            if modal || of_table || of_field || (typing && (plain || own)) || (popup && plain) {
                continue;
            }
            // Sliders and buttons take these keys; and nobody asks for a command with them when there is none to do.
            let shared = !keys.ctrl && (key == Key::Enter || keys.key.starts_with("Arrow"));
            if shared && (elsewhere || commands::obstacle(&self.session, entry.command).is_some()) {
                continue;
            }
            if ctx.input(|input| input.events.iter().any(is_asked_for)) {
                asked = Some(entry.command);
                if typing {
                    // Fields have uses of their own for some of these keys: Ctrl+U would empty the one in hand.
                    ctx.input_mut(|input| input.events.retain(|event| !is_asked_for(event)));
                }
            }
        }
        if let Some(command) = asked {
            self.ask_for(command, ctx);
        }
    }

    /// Carries out a command, once what is typed anywhere is taken.
    fn ask_for(&mut self, command: Command, ctx: &Context) {
        if leaves_typing_alone(command) {
            self.run(command, ctx);
        } else {
            self.after_typing.ask(Wanted::Command(command));
            self.go_on_after_typing(ctx);
        }
    }

    fn go_on_after_typing(&mut self, ctx: &Context) {
        while let Some(wanted) = self.after_typing.step(ctx) {
            match wanted {
                Wanted::Command(command) => self.run(command, ctx),
                Wanted::CloseSettings => self.settings = None,
                Wanted::Duty(id) => self.session.look_at_duty(id),
                Wanted::Close if self.bar_form.as_ref().is_some_and(BarForm::is_filled_in) => {
                    self.giving_up_form = true;
                }
                Wanted::Close => self.ask(Next::Quit),
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

    fn menus(&mut self, ui: &mut Ui) {
        let mut asked = None;
        egui::MenuBar::new().ui(ui, |ui| {
            for menu in Menu::ALL {
                ui.menu_button(menu.label(), |ui| {
                    for entry in TABLE.iter().filter(|entry| entry.menu == menu) {
                        let label = match entry.command {
                            Command::Undo => with_name("Undo", self.session.undo_name()),
                            Command::Redo => with_name("Redo", self.session.redo_name()),
                            _ => entry.label.to_owned(),
                        };
                        let obstacle = commands::obstacle(&self.session, entry.command);
                        let icon = icons::icon_of(entry.command);
                        let response = icons::button(ui, obstacle.is_none(), icon, &label, |button| {
                            button.shortcut_text(RichText::new(entry.keys_text()).monospace())
                        });
                        let response = response.on_hover_text(entry.about);
                        let response = match obstacle {
                            Some(why) => response.on_disabled_hover_text(why.words()),
                            None => response,
                        };
                        if response.clicked() {
                            asked = Some(entry.command);
                            ui.close();
                        }
                    }
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
                    ui.label(RichText::new(self.name()).color(Theme::of(ui.visuals()).soft));
                });
            });
        });
        if let Some(command) = asked {
            self.ask_for(command, ui.ctx());
        }
    }

    fn run(&mut self, command: Command, ctx: &Context) {
        let is_idle = !self.session.is_in_step() && *self.session.gesture() == Gesture::None;
        if command == Command::Cancel && is_idle && typing::is_held(ctx) {
            // What could not be taken is given up before anything is closed.
            typing::forget(ctx);
            ctx.request_repaint();
            return;
        }
        if command == Command::Cancel && (self.help || self.settings.is_some() || self.notices.is_some()) {
            self.settings = None;
            self.help = false;
            self.notices = None;
            return;
        }
        if self.sheets.run(command) || (!self.sheets.is_open() && self.compare.run(command, &self.session)) {
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
            Ok(CommandDone::LeftToWindow) => {}
            Err(refusal) => {
                status_line::say(ctx, Err(refusal));
                return;
            }
        }
        match command {
            Command::New => self.ask(Next::New),
            Command::Open => self.ask(Next::AskOpen),
            Command::Quit => self.ask(Next::Quit),
            Command::Save => self.save(None),
            Command::SaveAs => self.ask_path(Purpose::Save),
            Command::Compare => self.compare(),
            Command::Sheets => self.sheets.toggle(),
            Command::ExportSheets => self.sheets.ask_sheets(&self.session),
            Command::ExportList => self.sheets.ask_list(&self.session),
            Command::Picture => self.picture = Some(PictureDialog::new(&self.session)),
            Command::FitToWindow => self.canvas.fit(),
            Command::FitSelection => self.canvas.fit_selection(),
            Command::FitNextSection => self.canvas.fit_next_section(),
            Command::PanLeft => self.canvas.pan(PAN_STEP, 0.0),
            Command::PanRight => self.canvas.pan(-PAN_STEP, 0.0),
            Command::PanForward => self.canvas.pan(0.0, PAN_STEP),
            Command::PanBack => self.canvas.pan(0.0, -PAN_STEP),
            Command::SwitchColours => self.canvas.switch_colours(),
            Command::ZoomIn => self.canvas.zoom(1.25),
            Command::ZoomOut => self.canvas.zoom(0.8),
            Command::SwitchTheme => {
                let theme =
                    if ctx.global_style().visuals.dark_mode { egui::Theme::Light } else { egui::Theme::Dark };
                ctx.set_theme(theme);
            }
            Command::EditBar => self.bar_form = Some(BarForm::change(self.session.project())),
            Command::ImportRows => self.ask_path(Purpose::Table),
            Command::Settings => {
                self.settings = if self.settings.is_some() { None } else { Some(settings::Page::default()) };
            }
            Command::Tables => self.below = self.below.or_findings(Below::Tables),
            Command::SpeedPlot => self.below = self.below.or_findings(Below::Speeds),
            Command::CommandList => self.list = Some(CommandList::default()),
            Command::Catalogue => self.catalogue.is_open = !self.catalogue.is_open,
            Command::Help => self.help = !self.help,
            Command::Notices => {
                self.notices = if self.notices.is_some() { None } else { Some(Notices::default()) };
            }
            // The session does the rest.
            _ => {}
        }
    }

    /// Two routings in place of one, or of the sheets.
    fn compare(&mut self) {
        if self.sheets.is_open() {
            self.sheets.toggle();
            if self.compare.is_open() {
                return;
            }
        }
        self.compare.toggle(&mut self.session);
    }

    fn ask_path(&mut self, purpose: Purpose) {
        let start = match purpose {
            Purpose::Save => self.session.path().map(Into::into).or_else(|| Some(self.path_offered())),
            _ => None,
        };
        self.path_dialog = Some(PathDialog::new(purpose, start));
    }

    /// Where to save a project that is in no file yet: beside the one used last, or in the home folder.
    fn path_offered(&self) -> PathBuf {
        let last = files::recent().into_iter().next();
        let folder = last.and_then(|path| path.parent().map(PathBuf::from)).filter(|folder| folder.is_dir());
        let folder = folder.or_else(std::env::home_dir).unwrap_or_default();
        folder.join(format!("{}.ron", stem(&self.session)))
    }

    /// Goes on at once, or after the question about unsaved work.
    fn ask(&mut self, next: Next) {
        if self.session.is_changed() {
            self.waiting = Some(next);
        } else {
            self.go_on(next);
        }
    }

    fn go_on(&mut self, next: Next) {
        match next {
            Next::Quit => self.closing = true,
            Next::AskOpen => self.ask_path(Purpose::Open),
            // What is in hand stays in hand until the form is done.
            Next::New => self.bar_form = Some(BarForm::new(self.session.project().units)),
            Next::Open(path) => match Session::open(&path) {
                Ok(session) => {
                    self.path_dialog = None;
                    self.take(session);
                }
                Err(error) => {
                    let mut dialog = PathDialog::new(Purpose::Open, Some(path));
                    dialog.error = Some(error.to_string());
                    self.path_dialog = Some(dialog);
                }
            },
        }
    }

    fn take(&mut self, session: Session) {
        if let Some(recovery) = &mut self.recovery {
            recovery.start_over();
        }
        self.put_in_hand(session);
    }

    fn put_in_hand(&mut self, session: Session) {
        self.session = session;
        self.status = StatusLine::on(&self.session);
        self.forget_typed = true;
        self.canvas.fit();
        self.tables = Tables::default();
    }

    fn save(&mut self, path: Option<PathBuf>) {
        if path.is_none() && self.session.changed_on_disk() {
            self.disk = Some(true);
            return;
        }
        let Some(path) = path.or_else(|| self.session.path().map(Into::into)) else {
            self.ask_path(Purpose::Save);
            return;
        };
        match self.session.save(&path) {
            Ok(notes) => {
                self.path_dialog = None;
                if !notes.is_empty() {
                    self.status.put(format!("Saved. {notes}"), &self.session);
                }
                if let Some(next) = self.after_save.take() {
                    self.go_on(next);
                }
            }
            Err(error) => {
                let mut dialog = PathDialog::new(Purpose::Save, Some(path));
                dialog.error = Some(error.to_string());
                self.path_dialog = Some(dialog);
            }
        }
    }

    fn dialogs(&mut self, ctx: &Context) {
        if let Some(page) = &mut self.settings
            && let Some(request) = settings::show(ctx, &mut self.session, page)
        {
            self.after_typing.ask(match request {
                SettingsRequest::Close => Wanted::CloseSettings,
                SettingsRequest::Duty(DutyRequest::LookAt(id)) => Wanted::Duty(id),
                SettingsRequest::Duty(DutyRequest::Command(command)) => Wanted::Command(command),
            });
            self.go_on_after_typing(ctx);
        }
        self.unreadable(ctx);
        let free = self.unreadable.is_none() && self.path_dialog.is_none();
        let recovery = self.recovery.as_mut().filter(|_| free);
        match recovery.and_then(|recovery| recovery.ask(ctx, &self.session)) {
            Some(Ok(session)) => self.put_in_hand(session),
            Some(Err(message)) => status_line::say_words(ctx, message),
            None => {}
        }
        if let Some(picture) = &mut self.picture
            && picture.show(ctx, &self.session, &self.canvas)
        {
            self.picture = None;
        }
        self.list(ctx);
        self.forms(ctx);
        self.disk(ctx);
        if self.giving_up_form {
            match dialogs::give_up_form(ctx) {
                Answer::Waiting => {}
                Answer::Closed => self.giving_up_form = false,
                Answer::Is(()) => {
                    self.giving_up_form = false;
                    self.bar_form = None;
                    self.forget_typed = true;
                    self.ask(Next::Quit);
                }
            }
        }
        if let Some(next) = self.waiting.clone() {
            match dialogs::unsaved(ctx, &self.name()) {
                Answer::Waiting => {}
                Answer::Closed => self.waiting = None,
                Answer::Is(Unsaved::Drop) => {
                    self.waiting = None;
                    self.go_on(next);
                }
                Answer::Is(Unsaved::Save) => {
                    self.waiting = None;
                    self.after_save = Some(next);
                    self.save(None);
                }
            }
        } else if let Some(dialog) = &mut self.path_dialog {
            let purpose = dialog.purpose;
            match dialog.show(ctx) {
                Answer::Waiting => {}
                Answer::Closed => {
                    self.path_dialog = None;
                    self.after_save = None;
                }
                Answer::Is(path) if purpose == Purpose::Open => self.go_on(Next::Open(path)),
                Answer::Is(path) if purpose == Purpose::Table => match ImportRows::open(path) {
                    Ok(import) => {
                        self.path_dialog = None;
                        self.import = Some(import);
                    }
                    Err(error) => dialog.error = Some(error),
                },
                Answer::Is(path) => {
                    let path = with_extension(path);
                    // Its own file needs no question, unless somebody else has changed it.
                    let own = self.session.path().filter(|_| !self.session.changed_on_disk());
                    if dialog.may_save(&path, own) {
                        self.save(Some(path));
                    }
                }
            }
        }
        if self.help {
            let mut open = true;
            egui::Window::new("Keys and cautions")
                .open(&mut open)
                .collapsible(false)
                .default_width(560.0)
                .show(ctx, help);
            self.help = open;
        }
        if self.notices.as_mut().is_some_and(|notices| !notices.show(ctx)) {
            self.notices = None;
        }
    }

    fn unreadable(&mut self, ctx: &Context) {
        let Some(unreadable) = &self.unreadable else { return };
        let answer = unreadable.show(ctx);
        if answer != Answer::Waiting {
            self.unreadable = None;
        }
        match answer {
            // The example is in hand already.
            Answer::Waiting | Answer::Closed | Answer::Is(Instead::Example) => {}
            Answer::Is(Instead::Another) => self.ask_path(Purpose::Open),
            Answer::Is(Instead::Quit) => self.ask(Next::Quit),
        }
    }

    fn list(&mut self, ctx: &Context) {
        match self.list.as_mut().map(|list| list.show(ctx, &self.session)) {
            None | Some(Answer::Waiting) => {}
            Some(Answer::Closed) => self.list = None,
            Some(Answer::Is(command)) => {
                self.list = None;
                self.ask_for(command, ctx);
            }
        }
    }

    /// The form of a bar, and the table that may fill it.
    fn forms(&mut self, ctx: &Context) {
        if let Some(import) = &mut self.import {
            match import.show(ctx, self.session.project().units) {
                Answer::Waiting => {}
                Answer::Closed => self.import = None,
                Answer::Is(taken) => {
                    self.import = None;
                    let form = self.bar_form.get_or_insert_with(|| BarForm::change(self.session.project()));
                    form.take_rows(taken.places, taken.spacing);
                }
            }
        } else if self.path_dialog.is_none()
            && let Some(form) = &mut self.bar_form
        {
            match form.show(ctx) {
                Answer::Waiting => {}
                Answer::Closed => self.bar_form = None,
                Answer::Is(Wish::Table) => self.ask_path(Purpose::Table),
                Answer::Is(Wish::Start(project)) => {
                    self.bar_form = None;
                    self.take(Session::unsaved(*project, None));
                }
                Answer::Is(Wish::Reshape(bar)) => {
                    self.bar_form = None;
                    let done = self.session.edit("Change the bar", [Edit::Reshape(bar)]);
                    status_line::say(ctx, done.map(|()| None));
                    self.canvas.fit();
                }
            }
        }
    }

    fn disk(&mut self, ctx: &Context) {
        let Some(saving) = self.disk else { return };
        let answer = dialogs::changed_on_disk(ctx, &self.name(), saving, self.session.is_changed());
        if answer != Answer::Waiting {
            self.disk = None;
        }
        match answer {
            Answer::Waiting => {}
            // Asked once; a save asks again.
            Answer::Closed => self.after_save = None,
            Answer::Is(Changed::Keep) => self.session.accept_disk(),
            Answer::Is(Changed::Overwrite) => {
                let path = self.session.path().map(Into::into);
                self.save(path);
            }
            Answer::Is(Changed::Elsewhere) => self.ask_path(Purpose::Save),
            Answer::Is(Changed::Reload) => {
                if let Some(path) = self.session.path().map(Into::into) {
                    self.go_on(Next::Open(path));
                }
            }
        }
    }

    /// The window's own close button asks about unsaved work too.
    fn close_or_ask(&mut self, ctx: &Context) {
        if ctx.input(|input| input.viewport().close_requested()) && !self.closing {
            ctx.send_viewport_cmd(ViewportCommand::CancelClose);
            self.after_typing.ask(Wanted::Close);
            self.go_on_after_typing(ctx);
        }
        if self.closing {
            ctx.send_viewport_cmd(ViewportCommand::Close);
        }
    }
}

fn with_name(label: &str, step: Option<&str>) -> String {
    step.map_or_else(|| label.to_owned(), |step| format!("{label}: {step}"))
}

/// A name without an ending gets that of a project, unless something of that very name is there: then that is meant, and
/// a folder or a device is refused by its own name.
fn with_extension(path: PathBuf) -> PathBuf {
    if path.extension().is_none() && !path.exists() { path.with_extension("ron") } else { path }
}

/// Cautions that go with the work.
pub const CAUTIONS: [&str; 5] = [
    "Liquid under pressure: stop the pump and relieve the pressure before opening anything",
    "Chemicals: read the label and the safety data sheet, wear eye and hand protection, jar-test mixes",
    "Folding wings: lock and support them before working beneath, keep clear of pinch points",
    "Local codes, the makers' instructions and licensed practice come first; mind power lines and road rules",
    "Numbers are predictions: confirm them with a catch test before seeding",
];

fn help(ui: &mut Ui) {
    for caution in CAUTIONS {
        ui.label(caution);
    }
    ui.separator();
    ui.label("Wheel zooms about the pointer; drag an empty place or the middle button to pan; Shift+click adds to the selection");
    ui.separator();
    ScrollArea::vertical().max_height(300.0).show(ui, |ui| {
        // Two commands a line, so that the list is as short as it can be.
        egui::Grid::new("keys").num_columns(4).spacing([20.0, 2.0]).show(ui, |ui| {
            let with_keys: Vec<(&str, Keys)> =
                TABLE.iter().filter_map(|entry| Some((entry.label, entry.keys?))).collect();
            for pair in with_keys.chunks(2) {
                for (label, keys) in pair {
                    ui.label(*label);
                    ui.label(RichText::new(keys.text()).monospace());
                }
                ui.end_row();
            }
        });
    });
}

impl eframe::App for App {
    fn ui(&mut self, ui: &mut Ui, _frame: &mut eframe::Frame) {
        self.show(ui);
    }

    fn on_exit(&mut self, _gl: Option<&eframe::glow::Context>) {
        // Only an end in order: whatever else ends the window leaves its work for the next start.
        if let Some(recovery) = self.recovery.take().filter(|_| self.closing) {
            recovery.end();
        }
    }
}
