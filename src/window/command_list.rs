//! Every command by its wording: a few letters find it, and it says its keys or why it can't be carried out.

use eframe::egui::{self, Context, Id, Key, Modal, RichText, ScrollArea, TextEdit, vec2};

use super::dialogs::DialogAnswer;
use super::front::InPlace;
use super::icons;
use super::theme::{self, Theme};
use crate::session::Session;
use crate::session::commands::{Command, CommandEntry, search};

/// The list as far as it was typed into.
#[derive(Debug, Default)]
pub struct CommandList {
    typed: String,
    at: usize,
}

impl CommandList {
    /// Shows it.
    pub fn show(&mut self, ctx: &Context, session: &Session, place: InPlace) -> DialogAnswer<Command> {
        let mut answer = DialogAnswer::Waiting;
        let most = (ctx.content_rect().height() - 180.0).clamp(120.0, 380.0);
        let area =
            Modal::default_area(Id::unique("command list")).anchor(egui::Align2::CENTER_TOP, vec2(0.0, 60.0));
        let modal =
            Modal::new(Id::unique("command list")).area(area).frame(theme::dialog(ctx)).show(ctx, |ui| {
                ui.set_width(520.0);
                let theme = Theme::of(ui.visuals());
                let (up, down, enter) = ui.input_mut(|input| {
                    let mut pressed = |key| input.consume_key(egui::Modifiers::NONE, key);
                    (pressed(Key::ArrowUp), pressed(Key::ArrowDown), pressed(Key::Enter))
                });
                let label = ui.label(RichText::new("Find a command").color(theme.soft)).id;
                let edit = TextEdit::singleline(&mut self.typed).desired_width(f32::INFINITY);
                let response = ui.add(edit.hint_text("a few letters, like mani or fit")).labelled_by(label);
                response.request_focus();
                if response.changed() {
                    self.at = 0;
                }
                let found = search(&self.typed);
                let last = found.len().saturating_sub(1);
                self.at = self.at.min(last);
                if up {
                    self.at = self.at.saturating_sub(1);
                }
                if down {
                    self.at = (self.at + 1).min(last);
                }
                ui.add_space(6.0);
                ScrollArea::vertical().max_height(most).auto_shrink([false, true]).show(ui, |ui| {
                    ui.spacing_mut().item_spacing.y = 2.0;
                    for (index, entry) in found.iter().enumerate() {
                        let why_not = place.why_not(session, entry);
                        let response = line(ui, entry, why_not, index == self.at);
                        if index == self.at && (up || down) {
                            response.scroll_to_me(None);
                        }
                        if response.clicked() {
                            answer = DialogAnswer::Is(entry.command);
                        }
                    }
                    if found.is_empty() {
                        ui.label(RichText::new("No command found for that").color(theme.soft));
                    }
                });
                if enter
                    && let Some(entry) =
                        found.get(self.at).filter(|entry| place.why_not(session, entry).is_none())
                {
                    answer = DialogAnswer::Is(entry.command);
                }
            });
        answer.or_closed(modal.should_close())
    }
}

fn line(ui: &mut egui::Ui, entry: &CommandEntry, why_not: Option<String>, chosen: bool) -> egui::Response {
    let width = ui.available_width();
    let can = why_not.is_none();
    let beside = why_not.unwrap_or_else(|| entry.keys_text());
    let words = RichText::new(&beside).size(12.0);
    // The font of words has no arrows.
    let words = if can { words.monospace() } else { words };
    let response = icons::button(ui, can, icons::icon_of(entry.command), entry.label, |button| {
        button.selected(chosen).min_size(vec2(width, 24.0)).frame_when_inactive(false).right_text(words)
    });
    let name = format!("{}, {beside}", entry.label);
    response.ctx.accesskit_node_builder(response.id, |node| node.set_label(name));
    response.on_hover_text(entry.about).on_disabled_hover_text(entry.about)
}
