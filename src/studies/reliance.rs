//! What to know before relying on a solved state, in the words of every study.

use std::collections::BTreeSet;

use super::Studied;
use super::status::{rows_words, status_words};
use crate::hydraulics::{Outcome, RowState, SupplyState};
use crate::plan::{OperatingPoint, Source, words};
use crate::quantities::Measure;

/// Which liquids have no values at the temperatures of these points, each said once.
pub(super) fn outside_table(of: &Studied, points: impl IntoIterator<Item = OperatingPoint>) -> Vec<String> {
    let mut seen = BTreeSet::new();
    let mut all = Vec::new();
    for point in points {
        let liquid = &of.project.duty(point.duty).liquid;
        if liquid.at(point.temperature).is_some_and(|state| state.outside_table) {
            let temperature = Measure::Temperature.text(point.temperature.si(), of.project.units);
            let words = format!("{} has no values at {temperature}: the nearest are used", liquid.name);
            if seen.insert(words.clone()) {
                all.push(words);
            }
        }
    }
    all
}

/// What to know before relying on figures of a solve: a supply at its limit, rows without liquid, values of the liquid that
/// nobody measured or that its table does not reach.
pub(super) fn warnings(of: &Studied, outcome: &Outcome) -> Vec<String> {
    let units = of.project.units;
    let duty = of.project.duty(outcome.point.duty);
    let mut all = Vec::new();
    if outcome.numbers().is_some_and(|one| one.supply != SupplyState::AsAsked) {
        all.push(format!("the supply is {}", status_words(outcome, of.routing.routing, units)));
    }
    if let Some(rows) = rows_words(outcome.rows_in_evenness()) {
        // A row that is left out is not meant to get any; what runs out there is a finding.
        let left_out = |id| of.project.bar.row(id).is_some_and(|row| row.left_out);
        let without = outcome.rows().iter().filter(|row| row.state != RowState::Fed && !left_out(row.row));
        let without: Vec<u32> = without.map(|row| row.number).collect();
        if !without.is_empty() {
            let row = if without.len() == 1 { "row" } else { "rows" };
            all.push(format!("{rows} are fed; without liquid: {row} {}", words::ranges(&without)));
        }
    }
    all.extend(outside_table(of, [outcome.point]));
    let assumed = [("density", duty.liquid.density_source), ("viscosity", duty.liquid.viscosity_source)];
    let assumed: Vec<String> = assumed
        .iter()
        .filter(|(_, source)| *source == Source::Assumed)
        .map(|(name, _)| (*name).to_owned())
        .collect();
    if !assumed.is_empty() {
        let verb = if assumed.len() == 1 { "is" } else { "are" };
        all.push(format!("the {} of {} {verb} assumed", words::list(&assumed), duty.liquid.name));
    }
    all
}
