//! What the details of every kind of thing are built from: titles, facts, grids, the button that removes.

use eframe::egui;
use eframe::egui::{Grid, RichText, Ui};

use crate::plan::{Edit, Project, RowId};
use crate::session::{Refusal, Session};
use crate::window::theme::Theme;
use crate::window::{entry, status_line};

pub(super) fn title(ui: &mut Ui, tag: &str, what: &str) {
    ui.horizontal_wrapped(|ui| {
        ui.label(RichText::new(tag).size(17.0).strong());
        ui.label(RichText::new(what).size(15.0).color(Theme::of(ui.visuals()).soft));
    });
    ui.add_space(4.0);
}

pub(super) fn fact(ui: &mut Ui, name: &str, text: impl Into<String>) {
    entry::label(ui, name);
    ui.add(egui::Label::new(text.into()).wrap());
    ui.end_row();
}

/// A grid of short names, whose lists take what the names leave.
pub(super) fn wide_grid<R>(ui: &mut Ui, name: &str, contents: impl FnOnce(&mut Ui) -> R) -> R {
    Grid::new(name).num_columns(2).max_col_width(entry::WIDE).spacing([10.0, 5.0]).show(ui, contents).inner
}

pub(super) fn grid<R>(ui: &mut Ui, name: &str, contents: impl FnOnce(&mut Ui) -> R) -> R {
    Grid::new(name).num_columns(2).max_col_width(entry::COLUMN).spacing([12.0, 5.0]).show(ui, contents).inner
}

/// A refused edit says why in the line at the bottom; the panel just goes on.
pub(super) fn change(ui: &Ui, session: &mut Session, name: &str, edits: impl IntoIterator<Item = Edit>) {
    say(ui, session.edit(name, edits));
}

pub(super) fn say(ui: &Ui, done: Result<(), Refusal>) {
    status_line::say(ui.ctx(), done.map(|()| None));
}

pub(super) fn row_numbers(project: &Project, ids: &[RowId]) -> Vec<u32> {
    ids.iter().filter_map(|id| project.bar.row(*id)).map(|row| row.number).collect()
}

pub(super) fn remove_button(ui: &mut Ui, session: &mut Session, what: &str) {
    ui.add_space(10.0);
    if ui.button(format!("Delete {what}")).clicked() {
        say(ui, session.delete_selection());
    }
}
