//! The liquid: which of the generic ones, its table over temperature, where its values are from.

use eframe::egui;
use eframe::egui::{Grid, Ui};

use super::entries::{cell, number, text};
use crate::plan::liquids::generic_liquids;
use crate::plan::{Liquid, LiquidPoint, Source};
use crate::quantities::{Density, Measure, Temperature, UnitSystem, Viscosity};
use crate::window::form::{WIDE, combo, combo_of_width, grid, heading, material_choice, soft};

/// Which of the generic liquids; one of its own stays in the list.
pub(in crate::window) fn liquid_choice(ui: &mut Ui, liquid: &mut Liquid, units: UnitSystem) {
    let mut all = generic_liquids();
    let known = all.iter().any(|one| one == liquid);
    if !known {
        all.insert(0, liquid.clone());
    }
    grid(ui, "liquid choice", |ui| {
        ui.label(soft(ui, "Liquid"));
        let mut at = all.iter().position(|one| one == liquid).unwrap_or(0);
        let before = at;
        let names = all.iter().enumerate().map(|(index, one)| {
            let own = if !known && index == 0 { " (own values)" } else { "" };
            (index, format!("{}{own}", one.name))
        });
        combo_of_width(ui, "Liquid", &liquid.name.clone(), names, &mut at, WIDE);
        if at != before {
            *liquid = all[at].clone();
        }
        ui.end_row();
        if let Some(state) = liquid.at(Temperature::from_si(20.0)) {
            let at_20 = Measure::Temperature.short_text(20.0, units);
            ui.label(soft(ui, &format!("At {at_20}")));
            ui.add(
                egui::Label::new(format!(
                    "{} ({}), {} ({})",
                    Measure::Density.text(state.density.si(), units),
                    liquid.density_source.words(),
                    Measure::Viscosity.text(state.viscosity.si(), units),
                    liquid.viscosity_source.words()
                ))
                .wrap(),
            );
            ui.end_row();
        }
    });
}

/// The table of properties over temperature, to change.
pub(super) fn liquid_table(ui: &mut Ui, liquid: &mut Liquid, units: UnitSystem) {
    grid(ui, "liquid name", |ui| text(ui, "Name", &mut liquid.name));
    heading(ui, "Density and viscosity");
    let mut remove = None;
    Grid::new("liquid table").num_columns(4).min_col_width(96.0).spacing([10.0, 4.0]).show(ui, |ui| {
        for measure in [Measure::Temperature, Measure::Density, Measure::Viscosity] {
            ui.label(soft(ui, measure.unit(units).symbol).small());
        }
        ui.end_row();
        let last = liquid.points.len() == 1;
        for (index, point) in liquid.points.iter_mut().enumerate() {
            let at = Measure::Temperature.short_text(point.temperature.si(), units);
            ui.push_id(index, |ui| {
                if let Some(new) = cell(
                    ui,
                    units,
                    &format!("Temperature {}", index + 1),
                    Measure::Temperature,
                    point.temperature.si(),
                    -60.0..=120.0,
                ) {
                    point.temperature = Temperature::from_si(new);
                }
            });
            ui.push_id(index, |ui| {
                if let Some(new) = cell(
                    ui,
                    units,
                    &format!("Density at {at}"),
                    Measure::Density,
                    point.density.si(),
                    300.0..=3000.0,
                ) {
                    point.density = Density::from_si(new);
                }
            });
            ui.push_id(index, |ui| {
                if let Some(new) = cell(
                    ui,
                    units,
                    &format!("Viscosity at {at}"),
                    Measure::Viscosity,
                    point.viscosity.si(),
                    1e-5..=10.0,
                ) {
                    point.viscosity = Viscosity::from_si(new);
                }
            });
            let button = ui.add_enabled(!last, egui::Button::new("Remove").small());
            button.widget_info(|| {
                egui::WidgetInfo::labeled(egui::accesskit::Role::Button, !last, format!("Remove {at}"))
            });
            if button.clicked() {
                remove = Some(index);
            }
            ui.end_row();
        }
    });
    if let Some(index) = remove {
        liquid.points.remove(index);
    }
    // A line stands where its temperature says, however it came there.
    liquid.points.sort_by(|a, b| a.temperature.si().total_cmp(&b.temperature.si()));
    if ui.button("Add a temperature").clicked()
        && let Some(last) = liquid.points.last().copied()
    {
        let temperature = Temperature::from_si(last.temperature.si() + 10.0);
        liquid.points.push(LiquidPoint { temperature, ..last });
    }
    ui.add_space(4.0);
    grid(ui, "liquid sources", |ui| {
        for (name, source) in
            [("Density is", &mut liquid.density_source), ("Viscosity is", &mut liquid.viscosity_source)]
        {
            ui.label(soft(ui, name));
            let mut all = vec![Source::Measured, Source::Published, Source::Assumed];
            if source.calibrated().is_some() {
                all.insert(0, source.clone());
            }
            let shown = source.words();
            combo(ui, name, &shown, all.into_iter().map(|one| (one.clone(), one.words())), source);
            ui.end_row();
            if let Source::Calibrated(by) = source {
                ui.label("");
                ui.add(egui::Label::new(soft(ui, &by.words_with_interval(units))).wrap());
                ui.end_row();
            }
        }
        ui.label(soft(ui, "Solids"));
        ui.checkbox(&mut liquid.suspension, "a suspension, which settles").on_hover_text(
            "No viscosity holds for it: every figure that rests on one is marked as no prediction",
        );
        ui.end_row();
        ui.label(soft(ui, "Salt-out"));
        let mut known = liquid.salt_out.is_some();
        if ui.checkbox(&mut known, "temperature known").changed() {
            liquid.salt_out = known.then_some(Temperature::from_si(0.0));
        }
        ui.end_row();
        ui.label(soft(ui, "Attacks"));
        material_choice(ui, "Attacks", &mut liquid.attacks);
        ui.end_row();
        if let Some(salt_out) = &mut liquid.salt_out {
            number(
                ui,
                units,
                "Salt-out below",
                Measure::Temperature,
                salt_out,
                Temperature::from_si,
                -60.0..=60.0,
            );
        }
    });
}
