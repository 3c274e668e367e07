//! Says in the window that the file it was started on can't be opened: whoever double-clicked it sees no terminal.

use std::path::PathBuf;

use eframe::egui::{Context, Id, Modal, RichText};

use super::dialogs::{DialogAnswer, problems};
use super::theme::{self, Theme};

/// What to do instead.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Instead {
    /// Open another file.
    Another,
    /// Work with the bar that comes with the program.
    Example,
    /// End the program.
    Quit,
}

/// A file that can't be opened, and why.
#[derive(Debug)]
pub struct Unreadable {
    file: PathBuf,
    why: String,
}

impl Unreadable {
    /// With where, what and what to try for each problem, one a line.
    pub const fn new(file: PathBuf, why: String) -> Self {
        Self { file, why }
    }

    /// Shows it.
    pub fn show(&self, ctx: &Context) -> DialogAnswer<Instead> {
        let mut answer = DialogAnswer::Waiting;
        let modal = Modal::new(Id::unique("unreadable")).frame(theme::dialog(ctx)).show(ctx, |ui| {
            ui.set_width(520.0);
            let theme = Theme::of(ui.visuals());
            ui.heading("The file can't be opened");
            ui.add_space(4.0);
            ui.label(RichText::new(self.file.display().to_string()).strong());
            ui.add_space(4.0);
            problems(ui, &self.why, theme.warning);
            ui.add_space(4.0);
            ui.label("The file stays as it is.");
            ui.add_space(10.0);
            ui.horizontal(|ui| {
                if ui.button("Open another…").clicked() {
                    answer = DialogAnswer::Is(Instead::Another);
                }
                if ui.button("Start from the example").clicked() {
                    answer = DialogAnswer::Is(Instead::Example);
                }
                if ui.button("Quit").clicked() {
                    answer = DialogAnswer::Is(Instead::Quit);
                }
            });
        });
        answer.or_closed(modal.should_close())
    }
}
