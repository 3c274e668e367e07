//! The fields that the pages share.

use std::ops::RangeInclusive;

use eframe::egui::Ui;

use crate::quantities::{Measure, Quantity, UnitSystem};
use crate::window::form::soft;
use crate::window::number_field::NumberField;
use crate::window::text_field::TextField;

/// A labelled number of a quantity.
pub(super) fn number<Q: Quantity + Copy>(
    ui: &mut Ui,
    units: UnitSystem,
    name: &str,
    measure: Measure,
    value: &mut Q,
    from: impl Fn(f64) -> Q,
    range: RangeInclusive<f64>,
) {
    let label = ui.label(soft(ui, name)).id;
    if let Some(new) = NumberField::new(name, measure, units, Some(value.si()), range).show(ui, Some(label)) {
        *value = from(new);
    }
    ui.end_row();
}

/// A number without its unit and name, for the cell of a table.
pub(super) fn cell(
    ui: &mut Ui,
    units: UnitSystem,
    name: &str,
    measure: Measure,
    value: f64,
    range: RangeInclusive<f64>,
) -> Option<f64> {
    NumberField { unit: false, ..NumberField::new(name, measure, units, Some(value), range) }.show(ui, None)
}

/// A labelled line of text.
pub(super) fn text(ui: &mut Ui, name: &str, value: &mut String) {
    let id = ui.make_persistent_id(("text", name));
    let label = ui.label(soft(ui, name)).id;
    let field = TextField { width: 250.0, ..TextField::new(name, value) };
    if let Some(new) = field.show(ui, id, Some(label)) {
        *value = new;
    }
    ui.end_row();
}
