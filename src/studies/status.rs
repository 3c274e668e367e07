//! The state of a solve in words: the same ones wherever it is told.

use crate::hydraulics::Outcome;
use crate::hydraulics::outcome::{RowState, Status};
use crate::quantities::{Measure, UnitSystem};

/// The state of a solve in a few words, lower case: `solved`, what is missing at the supply's limit, or why there are
/// no numbers.
pub fn status_words(outcome: &Outcome, units: UnitSystem) -> String {
    match &outcome.status {
        Status::Solved => "solved".to_owned(),
        Status::AtLimit { shortfall, .. } => {
            format!("at the supply's limit, {} short", Measure::TotalFlow.text(shortfall.si(), units))
        }
        Status::NothingFed | Status::Failed { .. } => why_no_numbers(outcome).unwrap_or_default(),
    }
}

/// Why an outcome has no numbers, lower case; none if it has.
pub fn why_no_numbers(outcome: &Outcome) -> Option<String> {
    match &outcome.status {
        Status::Solved | Status::AtLimit { .. } => None,
        Status::NothingFed => Some(nothing_fed(outcome).to_owned()),
        Status::Failed { blame, why } if blame.is_empty() => Some(format!("the solve failed: {why}")),
        Status::Failed { blame, why } => Some(format!("the solve failed at {blame}: {why}")),
    }
}

/// Why nothing flows, as far as the rows agree.
fn nothing_fed(outcome: &Outcome) -> &'static str {
    let states = || outcome.rows.iter().map(|row| row.state).filter(|state| *state != RowState::LeftOut);
    let all = |wanted: RowState| states().all(|state| state == wanted);
    if outcome.rows.is_empty() {
        "the bar has no rows"
    } else if states().next().is_none() {
        "every row is left out"
    } else if all(RowState::SectionShut) {
        "every row is behind a shut section valve"
    } else if all(RowState::ValveStaysShut) {
        "every row's check valve stays shut"
    } else if states().any(|state| state == RowState::SectionShut) {
        "every row is behind a shut section valve or not connected to the supply"
    } else {
        "no row is connected to the supply"
    }
}
