//! A field for a line of text, or for several. What is typed is taken on Enter or when the field is left; what is
//! refused is kept, marked, and said why below it. Esc goes back.

use eframe::egui::{Align, Id, Layout, Response, TextEdit, Ui, vec2};

use super::number_field::select_all_when_entered;
use super::theme::Theme;
use super::typing::TypedText;
use super::wrong_entry;

/// What a text field edits.
#[derive(Debug, Clone, Copy)]
pub struct TextField<'a> {
    /// Its name, for screen readers and messages.
    pub name: &'a str,
    /// What it says now.
    pub value: &'a str,
    /// Width in points.
    pub width: f32,
    /// Lines; with more than one, Enter starts another.
    pub lines: usize,
    /// Shown while it is empty.
    pub hint: &'a str,
    /// It stands in a cell of a table, and is no higher than that.
    pub in_cell: bool,
}

impl<'a> TextField<'a> {
    /// A field of one line as it stands in panels.
    pub const fn new(name: &'a str, value: &'a str) -> Self {
        Self { name, value, width: 142.0, lines: 1, hint: "", in_cell: false }
    }

    /// Shows it; the new text, without room around it, when another one was entered. What it is shown for must be in
    /// the id.
    pub fn show(&self, ui: &mut Ui, id: Id, label: Option<Id>) -> Option<String> {
        self.show_with(ui, id, label, |_| {})
    }

    /// The same as a cell of a table, so wide with its edges.
    pub fn show_in_cell(&self, ui: &mut Ui, id: Id, width: f32) -> Option<String> {
        let field = Self { width: width - 8.0, in_cell: true, ..*self };
        ui.allocate_ui_with_layout(vec2(width, 20.0), Layout::left_to_right(Align::Center), |ui| {
            ui.set_min_size(vec2(width, 20.0));
            field.show(ui, id, None)
        })
        .inner
    }

    /// The same with something done to the edit.
    pub fn show_with(
        &self,
        ui: &mut Ui,
        id: Id,
        label: Option<Id>,
        done: impl FnOnce(&Response),
    ) -> Option<String> {
        let mut typed = TypedText::begin(ui.ctx(), id);
        let mut text = typed.text.clone().unwrap_or_else(|| self.value.to_owned());
        let theme = Theme::of(ui.visuals());
        let mut entered = None;
        ui.vertical(|ui| {
            let edit = if self.lines > 1 {
                TextEdit::multiline(&mut text).desired_rows(self.lines)
            } else {
                TextEdit::singleline(&mut text)
            };
            let mut edit = edit.id(id).desired_width(self.width).hint_text(self.hint);
            if self.in_cell {
                edit = edit.min_size(vec2(0.0, 18.0));
            }
            if typed.why_not.is_some() {
                edit = edit.text_color(theme.warning);
            }
            let response = ui.add(edit);
            let response = if let Some(label) = label {
                response.labelled_by(label)
            } else {
                let name = self.name.to_owned();
                response.ctx.accesskit_node_builder(response.id, |node| node.set_label(name));
                response
            };
            if self.lines == 1 {
                select_all_when_entered(&response, text.chars().count());
            }
            done(&response);
            let handed = typed.follow(&response, &text);
            if let Some(handed) = &handed {
                typed = TypedText::default();
                let handed = handed.trim();
                entered = (handed != self.value).then(|| handed.to_owned());
            }
            if let Some(why) = &typed.why_not {
                wrong_entry::mark(ui, &response, self.name, why);
            }
            typed.keep(ui.ctx(), id, self.name, handed);
        });
        entered
    }
}
