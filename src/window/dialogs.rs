//! Dialogs: which file, and what to do with unsaved work.
//!
//! The system's own file dialog runs on a thread of its own; where there is none it answers like a cancel, so a
//! path can always be typed instead.

use eframe::egui;
use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, channel};

use eframe::egui::{Color32, Context, Id, Modal, RichText, ScrollArea, TextEdit, Ui};

use super::number_field::select_all_when_entered;
use super::table_sample;
use super::theme::{self, Theme};
use crate::files::marks::Kind;
use crate::files::output::{Output, OutputPlace, OutputSet, Permit, look, same_file};
use crate::files::recovery::{LeftBehind, UnenteredText};
use crate::files::{self, WriteError};
use crate::plan::words::{short, short_list};

/// What a path is asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Purpose {
    /// To open.
    Open,
    /// To save to.
    Save,
    /// To read row positions from.
    Table,
    /// To read lengths as cut from.
    CutLengths,
    /// To read catches from.
    Catches,
    /// To read lines added to the parts list from.
    AddedLines,
    /// To write a table to.
    ExportTable,
    /// To write sheets or a list to, of this ending.
    ExportPapers(&'static str),
    /// To write a picture to.
    Picture,
}

/// Asks for a path: typed, chosen in the system's dialog, or one of the recent ones.
#[derive(Debug)]
pub struct PathDialog {
    /// What for.
    pub purpose: Purpose,
    text: String,
    /// Why the last try failed.
    pub error: Option<String>,
    recent: Vec<PathBuf>,
    system: Option<Receiver<Option<PathBuf>>>,
    nothing_came: bool,
    /// It was shown before.
    opened: bool,
    question: ReplaceQuestion,
    /// The path that the system's dialog gave, which has asked about that one file itself.
    asked_by_system: Option<PathBuf>,
}

/// What came of a dialog in this frame.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum DialogAnswer<T> {
    /// Still open.
    Waiting,
    /// Closed without an answer.
    Closed,
    /// This.
    Is(T),
}

impl<T> DialogAnswer<T> {
    /// What was answered; closed without an answer where nothing was and the dialog closes.
    #[must_use]
    pub fn or_closed(self, closes: bool) -> Self {
        match self {
            Self::Waiting if closes => Self::Closed,
            answer => answer,
        }
    }
}

impl PathDialog {
    /// Opens it with a path to start from.
    pub fn new(purpose: Purpose, start: Option<PathBuf>) -> Self {
        let text = start.map_or_else(String::new, |path| path.display().to_string());
        Self {
            purpose,
            text,
            error: None,
            recent: files::recent(),
            system: None,
            nothing_came: false,
            opened: false,
            question: ReplaceQuestion::default(),
            asked_by_system: None,
        }
    }

    /// The right to write for the path that was answered, to anything but the project in hand. Where something is there
    /// already, it is asked first, and the same path must be answered once more.
    pub fn permit(
        &mut self,
        standing: Result<OutputSet, WriteError>,
        in_hand: Option<&Path>,
    ) -> Option<Permit> {
        self.error = None;
        let by_system = |standing: &OutputSet| {
            let taken: Vec<&Path> = standing.taken().iter().map(|place| place.path()).collect();
            standing.left_over().next().is_none() && taken == self.asked_by_system.as_slice()
        };
        let asked = standing.as_ref().is_ok_and(by_system);
        match self.question.permit(&self.text, standing, in_hand, asked) {
            Ok(permit) => permit,
            Err(why) => {
                self.error = Some(why);
                None
            }
        }
    }

    /// Whether the project may be saved to the path that was answered: at once to its own file, which it was opened from
    /// or saved to, and to any other that is there once it was asked about.
    pub fn may_save(&mut self, path: &Path, own: Option<&Path>) -> bool {
        own.is_some_and(|own| same_file(own, path))
            || self.permit(look(vec![Output::alone(path, Kind::Project)]), None).is_some()
    }

    /// Shows it.
    pub fn show(&mut self, ctx: &Context) -> DialogAnswer<PathBuf> {
        let is_table = self.purpose == Purpose::Table;
        self.show_with(ctx, |ui| {
            if is_table {
                table_sample::show(ui);
            }
        })
    }

    /// Shows it, with more to choose below the path.
    pub fn show_with(&mut self, ctx: &Context, more: impl FnOnce(&mut egui::Ui)) -> DialogAnswer<PathBuf> {
        let mut answer = DialogAnswer::Waiting;
        if let Some(system) = &self.system
            && let Ok(path) = system.try_recv()
        {
            self.system = None;
            match path {
                Some(path) => {
                    self.text = path.display().to_string();
                    self.asked_by_system = Some(path);
                }
                None => self.nothing_came = true,
            }
            if !self.nothing_came {
                answer = DialogAnswer::Is(PathBuf::from(self.text.trim()));
            }
        }
        let (heading, action) = match self.purpose {
            Purpose::Open => ("Open a project", "Open"),
            Purpose::Save => ("Save the project", "Save"),
            Purpose::Table => ("Read a table of row positions", "Read"),
            Purpose::CutLengths => ("Read lengths as cut", "Read"),
            Purpose::Catches => ("Read catches", "Read"),
            Purpose::AddedLines => ("Take added lines of another project", "Take"),
            Purpose::ExportTable => ("Export the table as comma-separated values", "Export"),
            Purpose::ExportPapers("csv" | "xlsx") => ("Export a list", "Export"),
            Purpose::ExportPapers(_) => ("Export the sheets", "Export"),
            Purpose::Picture => ("Picture of the drawing", "Write"),
        };
        let question = self.question.words(&self.text);
        let action = if question.is_some() { "Replace" } else { action };
        let modal = Modal::new(Id::unique("path dialog")).frame(theme::dialog(ctx)).show(ctx, |ui| {
            ui.set_width(460.0);
            let theme = Theme::of(ui.visuals());
            ui.heading(heading);
            ui.add_space(6.0);
            let label = ui.label("File").id;
            let hint = match self.purpose {
                Purpose::Open | Purpose::Save | Purpose::AddedLines => "/home/me/bar.ron".to_owned(),
                Purpose::Table | Purpose::ExportTable => "/home/me/rows.csv".to_owned(),
                Purpose::CutLengths => "/home/me/cuts.csv".to_owned(),
                Purpose::Catches => "/home/me/catches.csv".to_owned(),
                Purpose::ExportPapers(ending) => format!("/home/me/bar.{ending}"),
                Purpose::Picture => "/home/me/bar.png".to_owned(),
            };
            let edit = TextEdit::singleline(&mut self.text).desired_width(f32::INFINITY).hint_text(hint);
            let response = ui.add(edit).labelled_by(label);
            // What is offered can be typed over, or taken with Enter.
            if !std::mem::replace(&mut self.opened, true) {
                response.request_focus();
            }
            select_all_when_entered(&response, self.text.chars().count());
            let entered = response.lost_focus() && ui.input(|input| input.key_pressed(egui::Key::Enter));
            if entered {
                // Whatever comes of it, another path may be typed at once.
                response.request_focus();
            }
            // What is there is replaced by its button alone: a second Enter is soon pressed by mistake.
            let entered = entered && question.is_none();
            if let Some(error) = &self.error {
                problems(ui, error, theme.warning);
            }
            if self.nothing_came {
                ui.label(
                    RichText::new("No file was chosen. If no dialog appeared, type the path above")
                        .color(theme.soft),
                );
            }
            if let Some(question) = &question {
                ui.label(RichText::new(question).color(theme.warning));
            }
            more(ui);
            if matches!(self.purpose, Purpose::Open | Purpose::AddedLines) && !self.recent.is_empty() {
                ui.add_space(6.0);
                ui.label(RichText::new("Recent").color(theme.soft));
                for path in self.recent.iter().take(6) {
                    if ui.link(path.display().to_string()).clicked() {
                        answer = DialogAnswer::Is(path.clone());
                    }
                }
            }
            ui.add_space(10.0);
            ui.horizontal(|ui| {
                let ready = !self.text.trim().is_empty();
                if ui.add_enabled(ready, egui::Button::new(action)).clicked() || (entered && ready) {
                    answer = DialogAnswer::Is(PathBuf::from(self.text.trim()));
                }
                if ui.add_enabled(self.system.is_none(), egui::Button::new("Browse…")).clicked() {
                    self.browse(ui.ctx());
                }
                if ui.button("Cancel").clicked() {
                    answer = DialogAnswer::Closed;
                }
            });
        });
        answer.or_closed(given_up(&modal))
    }

    /// The system's dialog, off the frame.
    fn browse(&mut self, ctx: &Context) {
        let (send, receive) = channel();
        let (purpose, start, ctx) = (self.purpose, PathBuf::from(self.text.trim()), ctx.clone());
        self.nothing_came = false;
        self.system = Some(receive);
        std::thread::spawn(move || {
            let filter = match purpose {
                Purpose::Open | Purpose::Save | Purpose::AddedLines => ("Equirow project", &["ron"][..]),
                Purpose::ExportTable | Purpose::ExportPapers("csv") => {
                    ("Comma-separated values", &["csv"][..])
                }
                Purpose::ExportPapers("pdf") => ("PDF", &["pdf"][..]),
                Purpose::ExportPapers("svg") => ("SVG", &["svg"][..]),
                Purpose::ExportPapers("dxf") => ("DXF", &["dxf"][..]),
                Purpose::ExportPapers("xlsx") => ("Spreadsheet", &["xlsx"][..]),
                Purpose::ExportPapers(_) | Purpose::Picture => ("PNG picture", &["png"][..]),
                Purpose::Table | Purpose::CutLengths => ("Table", &["csv", "tsv", "txt"][..]),
                Purpose::Catches => ("Table", &["csv", "tsv", "txt", "xlsx"][..]),
            };
            let mut dialog = rfd::FileDialog::new().add_filter(filter.0, filter.1);
            if let Some(folder) = start.parent().filter(|folder| folder.is_dir()) {
                dialog = dialog.set_directory(folder);
            }
            if let Some(name) = start.file_name() {
                dialog = dialog.set_file_name(name.to_string_lossy());
            }
            let path = match purpose {
                Purpose::Open
                | Purpose::Table
                | Purpose::CutLengths
                | Purpose::Catches
                | Purpose::AddedLines => dialog.pick_file(),
                Purpose::Save | Purpose::ExportTable | Purpose::ExportPapers(_) | Purpose::Picture => {
                    dialog.save_file()
                }
            };
            // The window may be gone by now; then nobody waits for the answer.
            let _ = send.send(path);
            ctx.request_repaint();
        });
    }
}

/// Esc closes a dialog that something was typed into; a click beside it, which is soon done by mistake, does not.
pub fn given_up<T>(modal: &egui::ModalResponse<T>) -> bool {
    let escape = || {
        let ctx = &modal.response.ctx;
        ctx.input_mut(|input| input.consume_key(egui::Modifiers::NONE, egui::Key::Escape))
    };
    modal.response.should_close() || (modal.is_top_modal && !modal.any_popup_open && escape())
}

/// The question whether what is there may be replaced: asked once for what was typed and what stood there then.
#[derive(Debug, Default)]
pub struct ReplaceQuestion {
    asked: Option<(String, OutputSet)>,
}

impl ReplaceQuestion {
    /// The right to write where `typed` leads to, if nothing is there or it was `agreed` elsewhere or here before; none
    /// if it has to be asked. What leads to the project in hand is refused.
    pub fn permit(
        &mut self,
        typed: &str,
        standing: Result<OutputSet, WriteError>,
        in_hand: Option<&Path>,
        agreed: bool,
    ) -> Result<Option<Permit>, String> {
        let before = self.asked.take();
        let standing = standing.map_err(|error| error.to_string())?;
        if let Some(in_hand) = in_hand.filter(|in_hand| standing.writes_to(in_hand)) {
            return Err(format!("{} is the open project: give another name", in_hand.display()));
        }
        let asked = before.is_some_and(|(of, before)| of == typed && before == standing);
        if standing.is_free() || agreed || asked {
            return Ok(Some(standing.replace()));
        }
        self.asked = Some((typed.to_owned(), standing));
        Ok(None)
    }

    /// The question in words, if there is one about what is typed.
    pub fn words(&self, typed: &str) -> Option<String> {
        let (_, standing) = self.asked.as_ref().filter(|(of, _)| of == typed)?;
        let taken = standing.taken();
        let mut words = match taken.as_slice() {
            [] => String::new(),
            [one] => format!("{}. Replace it?", there_words(one)),
            [first, ..] => {
                format!(
                    "{} of these files are there already; {}. Replace them?",
                    taken.len(),
                    there_words(first)
                )
            }
        };
        let gone: Vec<String> = standing
            .left_over()
            .map(|path| path.file_name().unwrap_or_default().display().to_string())
            .collect();
        if !gone.is_empty() {
            let names = short_list(&gone, 4);
            let join = if words.is_empty() { "" } else { " " };
            words = format!(
                "{words}{join}Pages of an earlier set of this name that are not written again are removed: {names}"
            );
        }
        Some(words)
    }
}

/// What is there, and since when.
fn there_words(place: &OutputPlace) -> String {
    let what = place.words().unwrap_or_default();
    let age = place.modified().and_then(|modified| modified.elapsed().ok());
    age.map_or_else(|| what.clone(), |age| format!("{what}, saved {}", ago(age)))
}

/// Asks before a form that is filled in goes with the window.
pub fn give_up_form(ctx: &Context) -> DialogAnswer<()> {
    let mut answer = DialogAnswer::Waiting;
    let modal = Modal::new(Id::unique("give up form")).frame(theme::dialog(ctx)).show(ctx, |ui| {
        ui.set_width(380.0);
        ui.heading("Discard the bar in the form?");
        ui.add_space(4.0);
        ui.label("What was entered in the form is not in a project yet.");
        ui.add_space(10.0);
        ui.horizontal(|ui| {
            if ui.button("Discard").clicked() {
                answer = DialogAnswer::Is(());
            }
            if ui.button("Back to the form").clicked() {
                answer = DialogAnswer::Closed;
            }
        });
    });
    answer.or_closed(modal.should_close())
}

/// What to do with work that a crash left behind.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Found {
    /// Open it, not saved yet.
    Open,
    /// Delete it for good.
    Delete,
}

/// Offers work that a crash left behind; closing the dialog keeps it for the next start.
pub fn left_behind(ctx: &Context, work: &LeftBehind, more: usize) -> DialogAnswer<Found> {
    let mut answer = DialogAnswer::Waiting;
    let modal = Modal::new(Id::unique("left behind")).frame(theme::dialog(ctx)).show(ctx, |ui| {
        ui.set_width(440.0);
        let theme = Theme::of(ui.visuals());
        ui.heading("Open the work that was not saved?");
        ui.add_space(4.0);
        let title = match &work.project {
            Ok(project) if !project.title.title.is_empty() => project.title.title.clone(),
            // The file is named before.
            Ok(_) if work.origin.is_some() && work.form.is_some() => "this file".to_owned(),
            Ok(_) if work.origin.is_some() => "changes to this file".to_owned(),
            Ok(_) => "an untitled bar".to_owned(),
            Err(_) => "a project that can't be read".to_owned(),
        };
        let left = match &work.form {
            None => title,
            Some(form) if form.changes => format!("a form that changes the bar of {title}"),
            Some(_) => "a form for a new bar".to_owned(),
        };
        let age = work.kept.and_then(|kept| kept.elapsed().ok());
        let when = age.map_or_else(String::new, |age| format!(", kept {}", ago(age)));
        let said = format!("Equirow did not close properly and left {left}{when}.");
        if let Some(origin) = &work.origin {
            ui.label(format!("{}: {said}", origin.path.display()));
            ui.label("The file stays as it is until you save.");
        } else {
            ui.label(said);
            ui.label("It was never saved to a file.");
        }
        for typed in &work.typed {
            ui.label(not_entered(typed));
        }
        if let Err(error) = &work.project {
            ui.add_space(4.0);
            problems(ui, &error.to_string(), theme.warning);
        }
        if more > 0 {
            ui.label(
                RichText::new(format!(
                    "{more} more, each asked about when the one before is saved or discarded"
                ))
                .color(theme.soft),
            );
        }
        ui.label(RichText::new(format!("Kept in {}", work.file().display())).small().color(theme.soft));
        ui.add_space(10.0);
        ui.horizontal(|ui| {
            if ui.add_enabled(work.project.is_ok(), egui::Button::new("Open it")).clicked() {
                answer = DialogAnswer::Is(Found::Open);
            }
            if ui.button("Decide later").clicked() {
                answer = DialogAnswer::Closed;
            }
            if ui.button("Delete it…").clicked() {
                answer = DialogAnswer::Is(Found::Delete);
            }
        });
    });
    answer.or_closed(modal.should_close())
}

/// What was typed and not entered when the program ended, in words.
pub fn not_entered(typed: &UnenteredText) -> String {
    format!("Typed and not entered: {}, \"{}\"", typed.field, short(&typed.text))
}

/// Asks whether work left behind is to be deleted for good.
pub fn delete_left_behind(ctx: &Context, work: &LeftBehind) -> DialogAnswer<Found> {
    let mut answer = DialogAnswer::Waiting;
    let modal = Modal::new(Id::unique("delete what was left")).frame(theme::dialog(ctx)).show(ctx, |ui| {
        ui.set_width(440.0);
        ui.heading("Delete the work that was not saved?");
        ui.add_space(4.0);
        ui.label("It is nowhere else, and can't be brought back.");
        ui.label(
            RichText::new(format!("Kept in {}", work.file().display()))
                .small()
                .color(Theme::of(ui.visuals()).soft),
        );
        ui.add_space(10.0);
        ui.horizontal(|ui| {
            if ui.button("Keep it").clicked() {
                answer = DialogAnswer::Closed;
            }
            if ui.button("Delete for good").clicked() {
                answer = DialogAnswer::Is(Found::Delete);
            }
        });
    });
    answer.or_closed(modal.should_close())
}

/// A span of time in words that fit it.
fn ago(age: std::time::Duration) -> String {
    let minutes = age.as_secs() / 60;
    match minutes {
        0 => "less than a minute ago".to_owned(),
        1..=90 => format!("{minutes} min ago"),
        91..=2880 => format!("{} h ago", minutes.div_ceil(60)),
        _ => format!("{} days ago", minutes / 1440),
    }
}

/// A list of problems, one a line, which never grows beyond the screen: what does not fit is scrolled to, and the
/// buttons below stay in sight.
pub fn problems(ui: &mut Ui, text: &str, colour: Color32) {
    let most = (ui.ctx().content_rect().height() * 0.45).max(80.0);
    ScrollArea::vertical().id_salt("problems").max_height(most).auto_shrink([false, true]).show(ui, |ui| {
        ui.add(egui::Label::new(RichText::new(text).color(colour)).wrap());
    });
}
