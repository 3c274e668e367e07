//! The card one starts from: a new bar, a file, or one of the examples. It lies over the bar that is open already.

use std::path::PathBuf;

use eframe::egui::{self, Align2, Context, RichText, ScrollArea, Ui, Vec2, WidgetInfo, accesskit::Role};

use super::dialogs::DialogAnswer;
use super::front::OverDrawing;
use super::theme::Theme;
use crate::files::{self, Example};

/// Recent files that are listed.
const RECENT: usize = 4;
/// Its width, points.
const WIDTH: f32 = 500.0;

/// Width of the names, points.
const NAMES: f32 = 170.0;

/// What somebody starts from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum StartFrom {
    /// A new bar.
    New,
    /// A file that is asked for.
    AskOpen,
    /// This file.
    File(PathBuf),
    /// A bar that comes with the program.
    Example(Example),
}

/// The card while it is open.
#[derive(Debug)]
pub struct StartCard {
    recent: Vec<PathBuf>,
    /// It comes up by itself at the next start too.
    pub comes_up: bool,
    /// It was shown before.
    shown: bool,
}

impl StartCard {
    /// With what was opened last.
    pub fn new(comes_up: bool) -> Self {
        Self { recent: files::recent(), comes_up, shown: false }
    }

    /// Shows it.
    pub fn show(&mut self, ctx: &Context) -> DialogAnswer<StartFrom> {
        let mut answer = DialogAnswer::Waiting;
        let mut open = true;
        let most = (ctx.content_rect().height() - 130.0).max(160.0);
        egui::Window::new("Start card")
            .id(OverDrawing::StartCard.id())
            .constrain_to(OverDrawing::room(ctx))
            .open(&mut open)
            // In the middle whatever size the window takes while it comes up.
            .anchor(Align2::CENTER_CENTER, Vec2::ZERO)
            .collapsible(false)
            .resizable(false)
            .show(ctx, |ui| {
                ui.set_width(WIDTH);
                ScrollArea::vertical().max_height(most).show(ui, |ui| {
                    if let Some(chosen) = self.contents(ui) {
                        answer = DialogAnswer::Is(chosen);
                    }
                });
            });
        answer.or_closed(!open)
    }

    fn contents(&mut self, ui: &mut Ui) -> Option<StartFrom> {
        let soft = Theme::of(ui.visuals()).soft;
        let mut chosen = None;
        ui.horizontal(|ui| {
            let new = ui.button("New bar…");
            if !std::mem::replace(&mut self.shown, true) {
                new.request_focus();
            }
            if new.clicked() {
                chosen = Some(StartFrom::New);
            }
            if ui.button("Open a file…").clicked() {
                chosen = Some(StartFrom::AskOpen);
            }
        });
        if !self.recent.is_empty() {
            ui.add_space(6.0);
            ui.label(RichText::new("Recent files").color(soft));
            for path in self.recent.iter().take(RECENT) {
                let name = path.file_name().unwrap_or_default().display().to_string();
                let folder = path.parent().unwrap_or(path).display().to_string();
                if line(ui, &name, &folder).clicked() {
                    chosen = Some(StartFrom::File(path.clone()));
                }
            }
        }
        ui.add_space(6.0);
        ui.label(RichText::new("Examples, all invented").color(soft));
        for example in Example::ALL {
            if line(ui, example.name(), example.about()).clicked() {
                chosen = Some(StartFrom::Example(example));
            }
        }
        ui.add_space(8.0);
        ui.checkbox(&mut self.comes_up, "Show this card when the program starts");
        chosen
    }
}

/// A link, and beside it what it leads to.
fn line(ui: &mut Ui, name: &str, about: &str) -> egui::Response {
    let soft = Theme::of(ui.visuals()).soft;
    let shown = ui.horizontal(|ui| {
        // What they lead to stands in a column of its own.
        let layout = egui::Layout::left_to_right(egui::Align::Center);
        let room = egui::vec2(NAMES, ui.spacing().interact_size.y);
        let link = ui.allocate_ui_with_layout(room, layout, |ui| {
            ui.set_min_width(NAMES);
            ui.link(name)
        });
        let link = link.inner;
        ui.add(egui::Label::new(RichText::new(about).small().color(soft)).truncate());
        link
    });
    let link = shown.inner;
    link.widget_info(|| WidgetInfo::labeled(Role::Link, true, format!("{name}: {about}")));
    link
}
