//! What forms are built from: headings, names of entries, grids of two columns, lists to choose from.

use eframe::egui;
use eframe::egui::{Grid, Response, RichText, Ui};

use super::theme::Theme;
use crate::plan::{WettedMaterial, wetted_material};

/// The heading of a group of entries.
pub(super) fn heading(ui: &mut Ui, text: &str) {
    ui.add_space(8.0);
    ui.label(RichText::new(text).strong().color(Theme::of(ui.visuals()).accent));
}

/// The name of an entry.
pub(super) fn soft(ui: &Ui, text: &str) -> RichText {
    RichText::new(text).color(Theme::of(ui.visuals()).soft)
}

/// A grid of entries, each with its name before it.
pub(super) fn grid(ui: &mut Ui, name: &str, contents: impl FnOnce(&mut Ui)) {
    Grid::new(name).num_columns(2).min_col_width(150.0).spacing([12.0, 4.0]).show(ui, contents);
}

/// Width of a field for a name and of the list of such names, points.
pub(super) const WIDE: f32 = 250.0;

/// A list to choose from, with its name for screen readers.
pub(super) fn combo<T: PartialEq>(
    ui: &mut Ui,
    name: &str,
    shown: &str,
    all: impl IntoIterator<Item = (T, String)>,
    value: &mut T,
) {
    combo_at_least(ui, name, shown, all, value, 190.0);
}

/// What follows in a menu looks as in a panel: fields have their frame there, which a menu takes from its entries.
pub(super) fn like_fields(ui: &mut egui::Ui) {
    ui.reset_style();
}

/// The same, just so many points wide: what is chosen is cut where it is longer, and shown whole while it is pointed at.
pub(super) fn combo_of_width<T: PartialEq>(
    ui: &mut Ui,
    name: &str,
    shown: &str,
    all: impl IntoIterator<Item = (T, String)>,
    value: &mut T,
    width: f32,
) {
    let list = |ui: &mut Ui| {
        ui.set_max_width(width);
        combo_at_least(ui, name, shown, all, value, width)
    };
    ui.scope(list).inner.on_hover_text(shown);
}

fn combo_at_least<T: PartialEq>(
    ui: &mut Ui,
    name: &str,
    shown: &str,
    all: impl IntoIterator<Item = (T, String)>,
    value: &mut T,
    width: f32,
) -> Response {
    let response = egui::ComboBox::from_id_salt(name)
        .selected_text(shown)
        .width(width)
        .height(360.0)
        .truncate()
        .show_ui(ui, |ui| {
            for (one, label) in all {
                ui.selectable_value(value, one, label);
            }
        })
        .response;
    let label = format!("{name}: {shown}");
    response.widget_info(|| egui::WidgetInfo::labeled(egui::accesskit::Role::ComboBox, true, &label));
    response
}

/// Materials to tick; true if some was ticked or taken out.
pub(super) fn material_choice(ui: &mut Ui, name: &str, materials: &mut Vec<WettedMaterial>) -> bool {
    let shown = if materials.is_empty() { "not said".to_owned() } else { wetted_material::listed(materials) };
    let mut changed = false;
    let list = |ui: &mut Ui| {
        ui.set_max_width(WIDE);
        egui::ComboBox::from_id_salt(name)
            .selected_text(&shown)
            .width(WIDE)
            .height(360.0)
            .truncate()
            // Several may be ticked in turn.
            .close_behavior(egui::PopupCloseBehavior::CloseOnClickOutside)
            .show_ui(ui, |ui| {
                for one in WettedMaterial::ALL {
                    let mut ticked = materials.contains(&one);
                    if ui.checkbox(&mut ticked, one.name()).changed() {
                        wetted_material::switch(materials, one);
                        changed = true;
                    }
                }
            })
            .response
    };
    let response = ui.scope(list).inner.on_hover_text(&shown);
    let label = format!("{name}: {shown}");
    response.widget_info(|| egui::WidgetInfo::labeled(egui::accesskit::Role::ComboBox, true, &label));
    changed
}
