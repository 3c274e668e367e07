//! The notices of others' work in the program: a list to search, each with the texts of its licence.

use eframe::egui::{self, Align2, CollapsingHeader, Context, RichText, ScrollArea, TextEdit, Ui};

use super::front::OverDrawing;
use super::theme::Theme;
use crate::files::notices::{Component, components};

/// The list as far as it was searched.
#[derive(Debug)]
pub struct Notices {
    all: Vec<Component>,
    sought: String,
    /// Places in `all` of what was found.
    found: Vec<usize>,
}

impl Default for Notices {
    fn default() -> Self {
        let all = components();
        let found = (0..all.len()).collect();
        Self { all, sought: String::new(), found }
    }
}

impl Notices {
    /// Shows it; false once it was closed.
    pub fn show(&mut self, ctx: &Context) -> bool {
        let mut open = true;
        let most = (ctx.content_rect().height() - 120.0).max(160.0);
        egui::Window::new("Third-party notices")
            .id(OverDrawing::Notices.id())
            .constrain_to(OverDrawing::room(ctx))
            .open(&mut open)
            .pivot(Align2::CENTER_CENTER)
            .default_pos(ctx.content_rect().center())
            .collapsible(false)
            .default_width(600.0)
            .default_height(most.min(520.0))
            .max_height(most)
            .show(ctx, |ui| self.list(ui));
        open
    }

    fn list(&mut self, ui: &mut Ui) {
        let soft = Theme::of(ui.visuals()).soft;
        let label = ui.label("Find by name, licence or words of its text").id;
        let edit = TextEdit::singleline(&mut self.sought).desired_width(f32::INFINITY);
        if ui.add(edit).labelled_by(label).changed() {
            self.seek();
        }
        let count = format!(
            "{} of {} parts of the program that are the work of others",
            self.found.len(),
            self.all.len()
        );
        ui.label(RichText::new(count).color(soft));
        ui.separator();
        ScrollArea::vertical().auto_shrink([false, false]).show(ui, |ui| {
            for at in &self.found {
                let Component { name, licence, texts } = &self.all[*at];
                CollapsingHeader::new(format!("{name}, {licence}")).id_salt(name).show(ui, |ui| {
                    for text in texts {
                        ui.label(RichText::new(*text).small());
                        ui.separator();
                    }
                });
            }
            if self.found.is_empty() {
                ui.label(RichText::new("Nothing found for that").color(soft));
            }
        });
    }

    fn seek(&mut self) {
        let sought = self.sought.trim().to_lowercase();
        let has = |text: &str| text.to_lowercase().contains(&sought);
        let matches =
            |one: &Component| has(one.name) || has(one.licence) || one.texts.iter().any(|text| has(text));
        self.found = (0..self.all.len()).filter(|at| sought.is_empty() || matches(&self.all[*at])).collect();
    }
}
