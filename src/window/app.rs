//! The window: panels around the canvas, keys and menus from the one table of commands.

use std::num::NonZeroUsize;
use std::path::PathBuf;
use std::time::Duration;

use eframe::egui;
use eframe::egui::{Context, Frame, Margin, Panel, Ui, ViewportCommand};

use super::added_lines::AddedLinesTable;
use super::bar_form::BarForm;
use super::canvas::view::Canvas;
use super::catalogue_table::CatalogueTable;
use super::catch_test_view::CatchTestView;
use super::command_list::CommandList;
use super::compare_view::CompareView;
use super::dialogs::PathDialog;
use super::fallback_font::{FallbackFonts, lacking_words};
use super::fold_view::FoldView;
use super::front::{Front, InFront};
use super::import_rows::ImportRows;
use super::notices::Notices;
use super::picture_dialog::PictureDialog;
use super::recovery::Recovery;
use super::routing_bar::RoutingBar;
use super::sheets_view::SheetsView;
use super::side_panels::{SidePanel, SidePanels};
use super::speed_plot::SpeedPlot;
use super::start_card::StartCard;
use super::status_line::{self, StatusLine};
use super::studies_view::StudiesView;
use super::tables::Tables;
use super::theme::{self, Theme};
use super::typing::{self, AfterTyping};
use super::unreadable::Unreadable;
use super::window_size::WindowSize;
use super::work::Work;
use super::{details, findings, looking_at, panels, settings, top_bar};
use crate::files::Example;
use crate::plan::DutyId;
use crate::session::Session;
use crate::session::commands::Command;

mod commands;
mod dialogs;
mod file;
mod work;

/// How often a frame may be laid out until its sizes are settled.
pub(super) const MOST_PASSES: NonZeroUsize = NonZeroUsize::MIN.saturating_add(2);

/// What waits until unsaved work is dealt with.
#[derive(Debug, Clone, PartialEq)]
enum Next {
    Quit,
    New,
    AskOpen,
    Open(PathBuf),
    Example(Example),
}

/// What is asked for once what is typed is taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum PendingRequest {
    Command(Command),
    /// The window's own close button.
    Close,
    CloseSettings,
    Duty(DutyId),
}

/// Someone else has changed the file of the project in hand.
#[derive(Debug, Clone, Copy)]
struct ChangedFile {
    /// It was to be saved.
    saving: bool,
    /// There were edits here that were in no file.
    unsaved: bool,
    /// Nothing is there any more.
    is_gone: bool,
}

/// A file of an older version that is to be saved over.
#[derive(Debug, Clone)]
struct OlderFile {
    path: PathBuf,
    version: u32,
}

/// What stands below the drawing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum Below {
    #[default]
    Findings,
    Tables,
    Speeds,
    Studies,
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
    /// The folding bar, when asked for.
    pub fold: FoldView,
    /// The catch tests, when asked for.
    pub catch_tests: CatchTestView,
    /// The papers, when asked for.
    pub sheets: SheetsView,
    /// A picture of the drawing, while it is asked for and written.
    pub picture: Option<PictureDialog>,
    /// What was last refused or remarked.
    pub status: StatusLine,
    routing_bar: RoutingBar,
    catalogue: CatalogueTable,
    added_lines: AddedLinesTable,
    path_dialog: Option<PathDialog>,
    waiting: Option<Next>,
    after_save: Option<Next>,
    after_typing: AfterTyping<PendingRequest>,
    /// Another project is in hand since the last pass: what was typed for the last one is of no use.
    forget_typed: bool,
    /// The window is to be closed above a form that is filled in.
    giving_up_form: bool,
    /// The file that was to be opened can't be.
    unreadable: Option<Unreadable>,
    /// May close: unsaved work was dealt with.
    closing: bool,
    start_card: Option<StartCard>,
    help: bool,
    notices: Option<Notices>,
    bar_form: Option<BarForm>,
    import: Option<ImportRows>,
    settings: Option<settings::Page>,
    list: Option<CommandList>,
    tables: Tables,
    front: Front,
    /// Below the drawing, in place of the findings.
    below: Below,
    /// The plots over ground speed.
    pub speeds: SpeedPlot,
    /// The studies.
    pub studies: StudiesView,
    side_panels: SidePanels,
    recovery: Option<Recovery>,
    /// What is worked out beside the session, and how long a pass stands still for it.
    work: Work,
    /// Someone else has changed the file, and is asked about.
    disk: Option<ChangedFile>,
    older_file: Option<OlderFile>,
    had_focus: bool,
    /// The field for text that had the focus in the last pass.
    field: Option<typing::FocusedField>,
    styled: bool,
    window_size: WindowSize,
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
            fold: FoldView::default(),
            catch_tests: CatchTestView::default(),
            sheets: SheetsView::default(),
            picture: None,
            routing_bar: RoutingBar::default(),
            catalogue: CatalogueTable::default(),
            added_lines: AddedLinesTable::default(),
            path_dialog: None,
            waiting: None,
            after_save: None,
            after_typing: AfterTyping::default(),
            forget_typed: false,
            giving_up_form: false,
            unreadable: None,
            closing: false,
            start_card: None,
            help: false,
            notices: None,
            bar_form: None,
            import: None,
            settings: None,
            list: None,
            tables: Tables::default(),
            front: Front::default(),
            below: Below::default(),
            speeds: SpeedPlot::default(),
            studies: StudiesView::default(),
            side_panels: SidePanels::default(),
            recovery: None,
            work: Work::default(),
            disk: None,
            older_file: None,
            had_focus: true,
            field: None,
            styled: false,
            window_size: WindowSize::default(),
            fallback: FallbackFonts::installed(),
            title: String::new(),
            drawing: egui::Rect::NOTHING,
        }
    }

    /// A window that keeps unsaved work below a folder, and offers what was left there.
    pub fn with_recovery(session: Session, base: Option<PathBuf>) -> Self {
        Self { recovery: Some(Recovery::start(base)), ..Self::new(session) }
    }

    /// The same, and nothing holds a pass up longer than this: what takes longer goes on below a sign, and can be given up.
    #[must_use]
    pub fn with_work_beside(self, patience: Duration) -> Self {
        Self { work: Work::beside(patience), ..self }
    }

    /// The same, and says at once why the file that was named can't be opened.
    #[must_use]
    pub fn with_unreadable(mut self, file: PathBuf, why: String) -> Self {
        self.unreadable = Some(Unreadable::new(file, why));
        self
    }

    /// The same on the example that opens when no file is named: says that it is uneven on purpose, and shows the card
    /// of what else one may start from.
    #[must_use]
    pub fn with_example_in_hand(mut self, with_card: bool) -> Self {
        self.status.put(
            "Example: routing A is uneven on purpose, the findings say why; compare it with routing B"
                .to_owned(),
            &self.session,
        );
        self.start_card = with_card.then(|| StartCard::new(true));
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
            if let Some(patience) = self.work.patience {
                findings::wait_for_trials(&ctx, patience.min(findings::TRIAL));
            }
            self.styled = true;
        }
        // Grids and panels know their sizes only after a pass or two, and nobody should see those.
        if ctx.cumulative_pass_nr() + 1 < MOST_PASSES.get() as u64 {
            ctx.request_discard("the first layout");
        }
        typing::one_field_at_a_time(&ctx);
        if matches!(self.in_front(&ctx), InFront::CatchTests) {
            self.catch_tests.take_pasted(&ctx);
        }
        self.hold_keys(&ctx);
        self.follow_work(&ctx);
        self.keys(&ctx);
        self.go_on_after_typing(&ctx);
        self.in_front(&ctx);
        let is_covered = self.catch_tests.is_open() || self.fold.is_open();
        if !self.sheets.is_open() && !self.compare.is_open() && !is_covered {
            self.canvas.follow_drag(&ctx, &mut self.session, 0);
        }
        let before = (self.session.revision(), self.session.selection().clone());
        let theme = Theme::of(ui.visuals());
        let bar = Frame::new().fill(theme.paper).inner_margin(Margin::symmetric(12, 6));
        let side = Frame::new().fill(theme.panel).inner_margin(Margin::symmetric(10, 8));
        Panel::top("menus").frame(bar.inner_margin(Margin::symmetric(8, 2))).show(ui, |ui| self.menus(ui));
        let chosen =
            Panel::top("operating point").frame(bar).show(ui, |ui| top_bar::show(ui, &mut self.session));
        if self.session.looked_at().is_some() {
            let frame = bar.inner_margin(Margin::symmetric(8, 2));
            Panel::top("looked at").frame(frame).show(ui, |ui| looking_at::show(ui, &mut self.session));
        }
        if let Some(duty) = chosen.inner {
            self.after_typing.ask(PendingRequest::Duty(duty));
            self.go_on_after_typing(&ctx);
        }
        let saved = self.saved_text(&ctx);
        self.status.take_in(&ctx, &mut self.session);
        let trouble = self.recovery.as_ref().and_then(Recovery::trouble).map(str::to_owned);
        let pointer = match (self.sheets.is_open(), self.compare.is_open()) {
            (true, _) => None,
            (false, true) => self.compare.pointer(),
            // From three sides a place has no two numbers.
            (false, false) if is_covered => None,
            (false, false) => self.canvas.pointer,
        };
        Panel::bottom("status").frame(side.inner_margin(Margin::symmetric(12, 4))).show(ui, |ui| {
            panels::status(ui, &self.session, pointer, &self.status, saved, trouble.as_deref());
        });
        if let Some(asked) =
            if self.sheets.is_open() { None } else { self.catch_tests.show(ui, &mut self.session) }
        {
            if let Some(command) = asked.command {
                self.ask_for(command, &ctx);
            }
            self.end_of_frame(&ctx);
            return;
        }
        if self.sheets.show(ui, &mut self.session) || self.compare.show(ui, &mut self.session, &self.canvas) {
            // In a comparison the two drawings are what arrow keys and Enter are for.
            let pictures = [0, 1].map(|side| self.compare.picture(side).unwrap_or(egui::Rect::NOTHING));
            self.drawing = pictures[0].union(pictures[1]);
            if let Some(position) = self.compare.take_look_folded() {
                self.look_folded(position);
            }
            self.end_of_frame(&ctx);
            return;
        }
        let height = ctx.content_rect().height();
        // The tables have many columns: they take the whole width, below what stands beside the drawing.
        match self.below {
            Below::Findings => {}
            Below::Tables => {
                Panel::bottom("tables")
                    .frame(bar)
                    .default_size((height * 0.27).max(140.0))
                    .resizable(true)
                    .size_range(110.0..=(height * 0.6).max(110.0))
                    .show(ui, |ui| self.tables.show(ui, &mut self.session));
            }
            Below::Speeds => {
                Panel::bottom("speeds")
                    .frame(bar)
                    .default_size((height * 0.27).max(150.0))
                    .resizable(true)
                    .size_range(110.0..=(height * 0.6).max(110.0))
                    .show(ui, |ui| self.speeds.show(ui, &mut self.session));
            }
            Below::Studies => {
                Panel::bottom("studies")
                    .frame(bar)
                    .default_size((height * 0.36).max(200.0))
                    .resizable(true)
                    .size_range(110.0..=(height * 0.7).max(110.0))
                    .show(ui, |ui| self.studies.show(ui, &mut self.session));
            }
        }
        let session = &mut self.session;
        // Tools are for the bar at work.
        let tools = if self.fold.is_open() {
            None
        } else {
            self.side_panels.show(ui, SidePanel::Tools, (), |ui| panels::palette(ui, session))
        };
        let of = (session.routing().id, session.selection().clone());
        let details = self.side_panels.show(ui, SidePanel::Details, of, |ui| details::show(ui, session));
        if let Some(command) = tools.or(details) {
            self.ask_for(command, &ctx);
        }
        if self.below == Below::Findings {
            let shown = Panel::bottom("findings")
                .frame(bar)
                .default_size(findings::ROOM.min(height * 0.2))
                .resizable(true)
                .size_range(30.0..=(height * 0.6).max(30.0))
                .show(ui, |ui| findings::show(ui, &mut self.session));
            if let Some(position) = shown.inner {
                self.look_folded(position);
            }
        }
        egui::CentralPanel::default()
            .frame(Frame::new().fill(theme.canvas).inner_margin(Margin::symmetric(8, 4)))
            .show(ui, |ui| {
                self.drawing = ui.max_rect();
                if self.fold.is_open() {
                    self.fold.show(ui, &mut self.session);
                    return;
                }
                if self.routing_bar.show(ui, &mut self.session, |ui| self.canvas.controls(ui)) {
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
        self.added_lines.show(ctx, &mut self.session);
        self.dialogs(ctx);
        if std::mem::take(&mut self.forget_typed) {
            typing::forget(ctx);
        }
        if typing::is_settled(ctx) {
            status_line::end(ctx);
        }
        if let Some(message) = typing::message(ctx) {
            status_line::say_words(ctx, message);
        }
        self.watch_file(ctx);
        self.keep_unsaved(ctx);
        self.close_or_ask(ctx);
        self.window_title(ctx);
        typing::follow_focus(ctx);
        self.field = typing::FocusedField::of(ctx);
        let (wake, shown) = (ctx.clone(), (self.session.revision(), self.session.findings_revision()));
        self.session.keep_computing(move || wake.request_repaint());
        if (self.session.revision(), self.session.findings_revision()) != shown {
            ctx.request_repaint();
        }
        if self.status.take_in(ctx, &mut self.session) {
            ctx.request_repaint();
        }
    }

    /// Something is asked that must be answered before anything else.
    fn is_asking(&self) -> bool {
        self.path_dialog.is_some()
            || self.waiting.is_some()
            || self.giving_up_form
            || self.bar_form.is_some()
            || self.import.is_some()
            || self.list.is_some()
            || self.disk.is_some()
            || self.older_file.is_some()
            || self.picture.is_some()
            || self.unreadable.is_some()
            || self.recovery.as_ref().is_some_and(|recovery| recovery.is_asking(&self.session))
            || self.work.is_under_way()
            || self.compare.is_modal()
            || self.sheets.is_modal()
    }

    /// What has the keys.
    fn in_front(&mut self, ctx: &Context) -> InFront {
        let is_dialog = self.is_asking();
        match self.front.follow(ctx, is_dialog) {
            InFront::Drawing if self.sheets.is_open() => InFront::Sheets,
            InFront::Drawing if self.catch_tests.is_open() => InFront::CatchTests,
            front => front,
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
}

impl eframe::App for App {
    fn ui(&mut self, ui: &mut Ui, _frame: &mut eframe::Frame) {
        self.window_size.follow(ui.ctx());
        self.show(ui);
    }

    fn on_exit(&mut self, _gl: Option<&eframe::glow::Context>) {
        self.window_size.keep();
        // Only an end in order: whatever else ends the window leaves its work for the next start.
        if let Some(recovery) = self.recovery.take().filter(|_| self.closing) {
            recovery.end();
        }
    }
}
