//! How parts and liquid scatter: a line each, with its shape and whether each piece has its own.

use eframe::egui::{self, Ui};

use super::super::form::{combo, soft};
use super::super::number_field::NumberField;
use crate::plan::spreads::TABLE;
use crate::plan::{Shape, Spreads};
use crate::quantities::UnitSystem;

/// The entries, changed in place.
pub(super) fn spreads(ui: &mut Ui, spreads: &mut Spreads, units: UnitSystem) {
    ui.label(soft(
        ui,
        "Standard deviations of parts as they are sold and cut, and of the liquid in the field",
    ));
    ui.add_space(4.0);
    egui::Grid::new("spreads").num_columns(4).spacing([8.0, 6.0]).show(ui, |ui| {
        for entry in &TABLE {
            let mut spread = entry.of(spreads);
            let label = ui.label(soft(ui, entry.name)).on_hover_text(entry.source_of(spreads)).id;
            let range = 0.0..=entry.most;
            let field = NumberField::new(entry.name, entry.measure, units, Some(spread.sd), range);
            if let Some(new) = field.show(ui, Some(label)) {
                spread.sd = new;
            }
            let shapes = Shape::ALL.map(|shape| (shape, shape.word().to_owned()));
            let shown = spread.shape.word();
            combo(ui, &format!("Shape of {}", entry.name), shown, shapes, &mut spread.shape);
            if entry.is_one {
                ui.label(soft(ui, "there is one"));
            } else {
                let words = |common| if common { "alike in all" } else { "of each piece" };
                let both = [false, true].map(|common| (common, words(common).to_owned()));
                let shown = words(spread.common);
                combo(ui, &format!("{} is", entry.name), shown, both, &mut spread.common);
            }
            ui.end_row();
            if spread != entry.of(spreads) {
                entry.set(spreads, spread);
            }
        }
    });
    ui.add_space(6.0);
    let note = "Those of a new project; each name says where its own comes from";
    if ui.button("Usual spreads").on_hover_text(note).clicked() {
        *spreads = Spreads::default();
    }
}
