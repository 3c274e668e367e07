//! What a duty asks for: rate, speeds, conditions, and what a row stands for.

use eframe::egui::Ui;

use super::entries::number;
use crate::plan::{Duty, RowWidths};
use crate::quantities::{Angle, ApplicationRate, Measure, Speed, Temperature, UnitSystem};
use crate::window::form::{combo, grid, soft};
use crate::window::typing;

/// Least application rate that can be entered: 0.1 L/ha.
pub(in crate::window) const LEAST_RATE: f64 = 1e-8;

/// Rate, speeds and conditions.
pub(in crate::window) fn application(ui: &mut Ui, asked: &mut Duty, units: UnitSystem) {
    let steepest = 0.78;
    grid(ui, "application", |ui| {
        number(
            ui,
            units,
            "Application rate",
            Measure::Rate,
            &mut asked.rate,
            ApplicationRate::from_si,
            LEAST_RATE..=1e-3,
        );
        let before = [asked.slowest, asked.usual, asked.fastest];
        let mut speeds = before;
        for (name, speed) in ["Slowest speed", "Usual speed", "Fastest speed"].into_iter().zip(&mut speeds) {
            number(ui, units, name, Measure::GroundSpeed, speed, Speed::from_si, 0.1..=15.0);
        }
        if speeds != before {
            if is_ordered(speeds) {
                (asked.slowest, asked.usual, asked.fastest) = (speeds[0], speeds[1], speeds[2]);
            } else {
                typing::refuse(ui.ctx(), OUT_OF_ORDER);
            }
        }
        number(
            ui,
            units,
            "Liquid temperature",
            Measure::Temperature,
            &mut asked.temperature,
            Temperature::from_si,
            -30.0..=60.0,
        );
        number(
            ui,
            units,
            "Side slope, right up",
            Measure::Slope,
            &mut asked.side_slope,
            Angle::from_si,
            -steepest..=steepest,
        );
        number(
            ui,
            units,
            "Fore-aft slope, nose up",
            Measure::Slope,
            &mut asked.fore_aft_slope,
            Angle::from_si,
            -steepest..=steepest,
        );
    });
}

const OUT_OF_ORDER: &str = "the speeds are not in order; slowest at most usual, usual at most fastest";

fn is_ordered(speeds: [Speed; 3]) -> bool {
    speeds[0] <= speeds[1] && speeds[1] <= speeds[2]
}

/// Which width a row's target is of.
pub(in crate::window) fn row_widths(ui: &mut Ui, widths: &mut RowWidths) {
    let label = |widths| match widths {
        RowWidths::Nominal => "the row spacing",
        RowWidths::HalfWidths => "its own strip, half-way to its neighbours",
    };
    ui.label(soft(ui, "A row stands for"));
    let all = [RowWidths::Nominal, RowWidths::HalfWidths].map(|one| (one, label(one).to_owned()));
    combo(ui, "A row stands for", label(*widths), all, widths);
    ui.end_row();
}
