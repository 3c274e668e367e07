//! How common each cause of an uneven catch is before anything is caught: a line each.

use eframe::egui::{self, Ui};

use super::super::form::soft;
use super::super::number_field::NumberField;
use crate::plan::cause_weights::{CauseWeights, MOST_WEIGHT, TABLE};
use crate::quantities::{Measure, UnitSystem};

/// The entries, changed in place.
pub(super) fn causes(ui: &mut Ui, weights: &mut CauseWeights) {
    ui.add(
        egui::Label::new(soft(
            ui,
            "In about how many of 100 catch tests each is the cause; only their ratios count, and one of 0 is never named",
        ))
        .wrap(),
    );
    ui.add_space(4.0);
    egui::Grid::new("cause weights").num_columns(2).spacing([12.0, 4.0]).show(ui, |ui| {
        for entry in &TABLE {
            let label = ui.label(soft(ui, entry.name)).on_hover_text(entry.source_of(weights)).id;
            let (value, range) = (Some(entry.of(weights)), 0.0..=MOST_WEIGHT);
            let field = NumberField::new(entry.name, Measure::Plain, UnitSystem::Metric, value, range);
            if let Some(new) = field.show(ui, Some(label)) {
                entry.set(weights, new);
            }
            ui.end_row();
        }
    });
    ui.add_space(6.0);
    let note = "Those of a new project: common practice, no source";
    if ui.button("Usual weights").on_hover_text(note).clicked() {
        *weights = CauseWeights::default();
    }
}
