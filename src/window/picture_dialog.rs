//! Asks for the width of a picture of the drawing and where to write it, and writes it on a thread.

use eframe::egui;
use std::path::Path;

use eframe::egui::{Context, RichText};

use super::canvas::still::Still;
use super::canvas::view::Canvas;
use super::dialogs::{DialogAnswer, PathDialog, Purpose};
use super::theme::Theme;
use crate::files::marks::Kind;
use crate::files::output::{Output, Permit, look};
use crate::session::Session;
use crate::session::paper_export::written_words;
use crate::session::task::Task;

/// Widths on offer, pixels.
const WIDTHS: [usize; 3] = [1280, 1920, 3840];

/// What is asked, and what came of it.
pub struct PictureDialog {
    path: PathDialog,
    width: usize,
    /// On light ground although the window is dark.
    light: bool,
    writing: Option<Task<Result<String, String>>>,
    said: Option<String>,
}

impl PictureDialog {
    /// Beside the project's file, or in the home folder.
    pub fn new(session: &Session) -> Self {
        let routing = &session.routing().name;
        let beside = session.path().map(|path| {
            let stem = path.file_stem().unwrap_or_default().to_string_lossy();
            path.with_file_name(format!("{stem}-{routing}.png"))
        });
        let start = beside.or_else(|| std::env::home_dir().map(|home| home.join("bar.png")));
        Self {
            path: PathDialog::new(Purpose::Picture, start),
            width: WIDTHS[1],
            light: false,
            writing: None,
            said: None,
        }
    }

    /// Stands still until nothing is being written; for whoever has no frames to wait in.
    pub fn wait(&mut self) {
        if let Some(task) = &mut self.writing {
            task.wait();
        }
    }

    /// True if it is done with.
    pub fn show(&mut self, ctx: &Context, session: &Session, canvas: &Canvas) -> bool {
        if let Some(task) = &mut self.writing {
            match task.next(false) {
                Some(Ok(said)) => {
                    self.said = Some(said);
                    self.path.error = None;
                    self.writing = None;
                }
                Some(Err(why)) => {
                    self.path.error = Some(why);
                    self.writing = None;
                }
                None if task.has_ended() => {
                    self.path.error = Some("Painting the picture failed; report this as a fault".to_owned());
                    self.writing = None;
                }
                None => {}
            }
        }
        let is_dark = ctx.global_style().visuals.dark_mode;
        let still = Still::of(session, canvas, is_dark && !self.light);
        let (width, light) = (&mut self.width, &mut self.light);
        let (said, writing) = (&self.said, self.writing.is_some());
        let answer = self.path.show_with(ctx, |ui| {
            let theme = Theme::of(ui.visuals());
            ui.horizontal(|ui| {
                ui.label("Width");
                for one in WIDTHS {
                    ui.radio_value(width, one, format!("{one} pixels"));
                }
            });
            if is_dark {
                ui.checkbox(light, "On light ground, for paper");
            }
            let words = format!(
                "{width} × {} pixels: the drawing as shown, with strip, legend and conditions",
                still.height(*width)
            );
            ui.label(RichText::new(words).color(theme.soft));
            if writing {
                ui.label(RichText::new("Painting…").color(theme.soft));
            }
            if let Some(said) = said {
                ui.add(egui::Label::new(RichText::new(said).strong()).wrap());
            }
        });
        match answer {
            DialogAnswer::Waiting => false,
            DialogAnswer::Closed => true,
            DialogAnswer::Is(path) => {
                let path = if path.extension().is_none() { path.with_extension("png") } else { path };
                self.said = None;
                if !is_png(&path) {
                    self.path.error =
                        Some("A picture is written as .png; give the name that ending".to_owned());
                } else if self.writing.is_none()
                    && let standing = look(vec![Output::alone(path, Kind::DrawingPng)])
                    && let Some(permit) = self.path.permit(standing, session.path())
                {
                    let (width, ctx) = (self.width, ctx.clone());
                    self.writing = Some(Task::start(
                        move || ctx.request_repaint(),
                        move |teller| teller.tell(write(&still, width, permit)),
                    ));
                }
                false
            }
        }
    }
}

fn is_png(path: &Path) -> bool {
    path.extension().is_some_and(|ending| ending.eq_ignore_ascii_case("png"))
}

fn write(still: &Still, width: usize, permit: Permit) -> Result<String, String> {
    let picture = still.paint(width).ok_or("There is no routing to draw: add one first")?;
    let bytes = picture.png(None).map_err(|error| error.to_string())?;
    let written = permit.write(vec![bytes]).map_err(|error| error.to_string())?;
    Ok(written_words(&written))
}
