//! The supply: control, pump with its curve, tank.

use eframe::egui;
use eframe::egui::{Grid, Ui};

use super::entries::{cell, number};
use crate::geometry::Point3;
use crate::plan::bounds::Bound;
use crate::plan::{Control, CurvePoint, ReliefValve, Supply};
use crate::quantities::{Flow, Length, Measure, Pressure, UnitSystem};
use crate::window::form::{grid, heading, soft};
use crate::window::theme::Theme;

/// Control, pump and tank.
pub(in crate::window) fn supply(ui: &mut Ui, supply: &mut Supply, units: UnitSystem) {
    grid(ui, "supply", |ui| {
        ui.label(soft(ui, "Control"));
        let pressure = supply.control.pressure().unwrap_or_else(|| supply.highest_pressure());
        // One below the other: side by side they need two lines, for which a line of the form has no room.
        ui.vertical(|ui| {
            for (control, name, about) in [
                (
                    Control::Metered { limit: pressure },
                    "Metered",
                    "A rate controller holds the total flow up to the pressure limit",
                ),
                (
                    Control::Held { pressure },
                    "Constant pressure",
                    "The pressure at the pump's outlet stays the same",
                ),
                (
                    Control::Uncontrolled,
                    "On its curve",
                    "Nothing is controlled: the pump runs on its curve, which has to be given",
                ),
            ] {
                let can = control != Control::Uncontrolled || !supply.pump_curve.is_empty();
                let choice = egui::Button::selectable(supply.control == control, name);
                if ui.add_enabled(can, choice).on_hover_text(about).on_disabled_hover_text(about).clicked() {
                    supply.control = control;
                }
            }
        });
        ui.end_row();
        match &mut supply.control {
            Control::Metered { limit } => {
                number(ui, units, "Pressure limit", Measure::Pressure, limit, Pressure::from_si, 1e3..=1e7);
            }
            Control::Held { pressure } => {
                let name = "Constant pressure";
                number(ui, units, name, Measure::Pressure, pressure, Pressure::from_si, 1e3..=1e7);
            }
            Control::Uncontrolled => {}
        }
        number(
            ui,
            units,
            "Pump rated pressure",
            Measure::Pressure,
            &mut supply.pump_rated,
            Pressure::from_si,
            1e3..=1e8,
        );
        if let Some(set) = supply.control.pressure().filter(|set| *set > supply.pump_rated) {
            let text = |pressure: Pressure| Measure::Pressure.text(pressure.si(), units);
            let words = format!(
                "The control lets it go to {}, but the pump is rated for {}: lower the one, or correct the other",
                text(set),
                text(supply.pump_rated)
            );
            ui.label("");
            ui.vertical(|ui| {
                ui.set_max_width(220.0);
                let words = egui::RichText::new(words).color(Theme::of(ui.visuals()).warning);
                ui.add(egui::Label::new(words).wrap());
            });
            ui.end_row();
        }
        ui.label(soft(ui, "Pump capacity"));
        let mut known = supply.pump_capacity.is_some();
        if ui.checkbox(&mut known, "known").changed() {
            supply.pump_capacity = known.then_some(Flow::litres_per_minute(60.0));
        }
        ui.end_row();
        if let Some(flow) = &mut supply.pump_capacity {
            number(ui, units, "Pump capacity", Measure::TotalFlow, flow, Flow::from_si, 1e-6..=0.1);
        }
        ratings(ui, supply, units);
        number(
            ui,
            units,
            "Tank surface, full",
            Measure::Distance,
            &mut supply.tank_surface,
            Length::from_si,
            -5.0..=20.0,
        );
        let Point3 { x, y, z } = supply.pump;
        let mut place = [x, y, z].map(Length::metres);
        for (name, value) in
            ["Pump right of centre", "Pump forward", "Pump height"].into_iter().zip(&mut place)
        {
            number(ui, units, name, Measure::Distance, value, Length::from_si, -100.0..=100.0);
        }
        supply.pump = Point3::new(place[0].si(), place[1].si(), place[2].si());
    });
    pump_curve(ui, supply, units);
}

/// What has no rating in the catalogue, and the relief valve.
fn ratings(ui: &mut Ui, supply: &mut Supply, units: UnitSystem) {
    let entered = supply.highest_given().max(Pressure::bar(1.0));
    ui.label(soft(ui, "Parts without a rating")).on_hover_text(
        "What the weakest of all bears that has no rating in the catalogue: reducers, adapters, entries without one",
    );
    let mut known = supply.weakest_rated.is_some();
    if ui.checkbox(&mut known, "their weakest is known").changed() {
        supply.weakest_rated = known.then_some(entered);
    }
    ui.end_row();
    if let Some(rated) = &mut supply.weakest_rated {
        let name = "Weakest part, rated";
        number(ui, units, name, Measure::Pressure, rated, Pressure::from_si, 1e3..=1e8);
    }
    ui.label(soft(ui, "Relief valve"));
    ui.horizontal_wrapped(|ui| {
        let opens = supply.relief_valve.opens_at().unwrap_or(entered);
        for (valve, name, about) in [
            (
                ReliefValve::NotSaid,
                "Not known",
                "Nobody said yet whether there is one: papers and findings say so",
            ),
            (ReliefValve::Absent, "None", "Nothing but the control limits the pressure"),
            (
                ReliefValve::OpensAt(opens),
                "At the pump",
                "Opens before anything on the bar gives way, and lets the liquid back to the tank",
            ),
        ] {
            let choice = egui::Button::selectable(supply.relief_valve == valve, name);
            if ui.add(choice).on_hover_text(about).clicked() {
                supply.relief_valve = valve;
            }
        }
    });
    ui.end_row();
    if let ReliefValve::OpensAt(opens) = &mut supply.relief_valve {
        let name = "Relief valve opens at";
        number(ui, units, name, Measure::Pressure, opens, Pressure::from_si, 1e3..=1e8);
    }
}

/// The pump's curve, to change.
fn pump_curve(ui: &mut Ui, supply: &mut Supply, units: UnitSystem) {
    heading(ui, "Pump curve");
    // The last two go together: a curve has two points or none.
    let mut remove = None;
    let kept = supply.pump_curve.len() <= 2 && supply.control == Control::Uncontrolled;
    let table = Grid::new("pump curve").num_columns(3).min_col_width(96.0).spacing([10.0, 4.0]);
    // A grid of nothing would be laid out anew in every frame.
    if !supply.pump_curve.is_empty() {
        table.show(ui, |ui| {
            for measure in [Measure::TotalFlow, Measure::Pressure] {
                ui.label(soft(ui, measure.unit(units).symbol).small());
            }
            ui.end_row();
            for index in 0..supply.pump_curve.len() {
                // A point lies between its neighbours.
                let before = index.checked_sub(1).map(|before| supply.pump_curve[before]);
                let after = supply.pump_curve.get(index + 1).copied();
                let number = index + 1;
                let point = &mut supply.pump_curve[index];
                ui.push_id(index, |ui| match before {
                    None => {
                        ui.label(soft(ui, "0, against a shut valve"));
                    }
                    Some(before) => {
                        let most = after.map_or(0.1, |after| after.flow.si());
                        let range = before.flow.si()..=most;
                        let name = format!("Flow of point {number}");
                        if let Some(new) = cell(ui, units, &name, Measure::TotalFlow, point.flow.si(), range)
                        {
                            point.flow = Flow::from_si(new);
                        }
                    }
                });
                ui.push_id(index, |ui| {
                    let least = after.map_or(0.0, |after| after.pressure.si());
                    let range = least..=before.map_or(1e8, |before| before.pressure.si());
                    let name = format!("Pressure of point {number}");
                    if let Some(new) = cell(ui, units, &name, Measure::Pressure, point.pressure.si(), range) {
                        point.pressure = Pressure::from_si(new);
                    }
                });
                let can = index > 0 && !kept;
                let button = ui.add_enabled(can, egui::Button::new("Remove").small());
                button.widget_info(|| {
                    let name = format!("Remove point {number}");
                    egui::WidgetInfo::labeled(egui::accesskit::Role::Button, can, name)
                });
                if button.clicked() {
                    remove = Some(index);
                }
                ui.end_row();
            }
        });
    }
    if let Some(index) = remove {
        supply.pump_curve.remove(index);
        if supply.pump_curve.len() == 1 {
            supply.pump_curve.clear();
        }
    }
    // A curve that has come down to nothing ends there.
    let ends = supply.pump_curve.last().is_some_and(|last| last.pressure <= Pressure::ZERO);
    let full = ends || supply.pump_curve.len() >= Bound::CurvePoints.most();
    let words = if supply.pump_curve.is_empty() { "Enter a pump curve" } else { "Add a point" };
    if ui.add_enabled(!full, egui::Button::new(words)).clicked() {
        if let [.., before, last] = supply.pump_curve[..] {
            let flow = last.flow + (last.flow - before.flow);
            supply.pump_curve.push(CurvePoint { flow, pressure: last.pressure / 2.0 });
        } else {
            let most = supply.pump_capacity.unwrap_or_else(|| Flow::litres_per_minute(60.0));
            let pressure = supply.highest_pressure();
            supply.pump_curve = vec![
                CurvePoint { flow: Flow::ZERO, pressure: pressure * 1.5 },
                CurvePoint { flow: most, pressure },
            ];
        }
    }
}
