//! Dialogs: which file, and what to do with unsaved work.
//!
//! The system's own file dialog runs on a thread of its own; where there is none it answers like a cancel, so a
//! path can always be typed instead.

use eframe::egui;
use std::path::PathBuf;
use std::sync::mpsc::{Receiver, channel};

use eframe::egui::{Context, Id, Modal, RichText, TextEdit};

use super::theme::Theme;
use crate::files;

/// What a path is asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Purpose {
    /// To open.
    Open,
    /// To save to.
    Save,
    /// To write a table to.
    ExportTable,
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
}

/// What came of a dialog in this frame.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Answer<T> {
    /// Still open.
    Waiting,
    /// Closed without an answer.
    Closed,
    /// This.
    Is(T),
}

impl PathDialog {
    /// Opens it with a path to start from.
    pub fn new(purpose: Purpose, start: Option<PathBuf>) -> Self {
        let text = start.map_or_else(String::new, |path| path.display().to_string());
        Self { purpose, text, error: None, recent: files::recent(), system: None, nothing_came: false }
    }

    /// Shows it.
    pub fn show(&mut self, ctx: &Context) -> Answer<PathBuf> {
        let mut answer = Answer::Waiting;
        if let Some(system) = &self.system
            && let Ok(path) = system.try_recv()
        {
            self.system = None;
            match path {
                Some(path) => self.text = path.display().to_string(),
                None => self.nothing_came = true,
            }
            if !self.nothing_came {
                answer = Answer::Is(PathBuf::from(self.text.trim()));
            }
        }
        let (heading, action) = match self.purpose {
            Purpose::Open => ("Open a project", "Open"),
            Purpose::Save => ("Save the project", "Save"),
            Purpose::ExportTable => ("Export the table as comma-separated values", "Export"),
        };
        let modal = Modal::new(Id::unique("path dialog")).show(ctx, |ui| {
            ui.set_width(460.0);
            let theme = Theme::of(ui.visuals());
            ui.heading(heading);
            ui.add_space(6.0);
            let label = ui.label("File").id;
            let edit = TextEdit::singleline(&mut self.text)
                .desired_width(f32::INFINITY)
                .hint_text("/home/me/bar.ron");
            let response = ui.add(edit).labelled_by(label);
            if self.text.is_empty()
                && self.system.is_none()
                && !self.nothing_came
                && ui.memory(|memory| memory.focused().is_none())
            {
                response.request_focus();
            }
            let entered = response.lost_focus() && ui.input(|input| input.key_pressed(egui::Key::Enter));
            if let Some(error) = &self.error {
                ui.label(RichText::new(error).color(theme.warning));
            }
            if self.nothing_came {
                ui.label(
                    RichText::new("No file was chosen. If no dialog appeared, type the path above")
                        .color(theme.soft),
                );
            }
            if self.purpose == Purpose::Open && !self.recent.is_empty() {
                ui.add_space(6.0);
                ui.label(RichText::new("Recent").color(theme.soft));
                for path in self.recent.iter().take(6) {
                    if ui.link(path.display().to_string()).clicked() {
                        answer = Answer::Is(path.clone());
                    }
                }
            }
            ui.add_space(10.0);
            ui.horizontal(|ui| {
                let ready = !self.text.trim().is_empty();
                if ui.add_enabled(ready, egui::Button::new(action)).clicked() || (entered && ready) {
                    answer = Answer::Is(PathBuf::from(self.text.trim()));
                }
                if ui.add_enabled(self.system.is_none(), egui::Button::new("Browse…")).clicked() {
                    self.browse(ui.ctx());
                }
                if ui.button("Cancel").clicked() {
                    answer = Answer::Closed;
                }
            });
        });
        if modal.should_close() && answer == Answer::Waiting {
            answer = Answer::Closed;
        }
        answer
    }

    /// The system's dialog, off the frame.
    fn browse(&mut self, ctx: &Context) {
        let (send, receive) = channel();
        let (purpose, start, ctx) = (self.purpose, PathBuf::from(self.text.trim()), ctx.clone());
        self.nothing_came = false;
        self.system = Some(receive);
        std::thread::spawn(move || {
            let filter = match purpose {
                Purpose::Open | Purpose::Save => ("Equirow project", ["ron"]),
                Purpose::ExportTable => ("Comma-separated values", ["csv"]),
            };
            let mut dialog = rfd::FileDialog::new().add_filter(filter.0, &filter.1);
            if let Some(folder) = start.parent().filter(|folder| folder.is_dir()) {
                dialog = dialog.set_directory(folder);
            }
            if let Some(name) = start.file_name() {
                dialog = dialog.set_file_name(name.to_string_lossy());
            }
            let path = match purpose {
                Purpose::Open => dialog.pick_file(),
                Purpose::Save | Purpose::ExportTable => dialog.save_file(),
            };
            // The window may be gone by now; then nobody waits for the answer.
            let _ = send.send(path);
            ctx.request_repaint();
        });
    }
}

/// What to do with unsaved work.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unsaved {
    /// Save, then go on.
    Save,
    /// Go on without.
    Drop,
}

/// Asks before unsaved work is dropped.
pub fn unsaved(ctx: &Context, name: &str) -> Answer<Unsaved> {
    let mut answer = Answer::Waiting;
    let modal = Modal::new(Id::unique("unsaved")).show(ctx, |ui| {
        ui.set_width(380.0);
        ui.heading("Save the changes?");
        ui.add_space(4.0);
        ui.label(format!("The last changes to {name} are in no file yet."));
        ui.add_space(10.0);
        ui.horizontal(|ui| {
            if ui.button("Save").clicked() {
                answer = Answer::Is(Unsaved::Save);
            }
            if ui.button("Do not save").clicked() {
                answer = Answer::Is(Unsaved::Drop);
            }
            if ui.button("Cancel").clicked() {
                answer = Answer::Closed;
            }
        });
    });
    if modal.should_close() && answer == Answer::Waiting {
        answer = Answer::Closed;
    }
    answer
}
