//! How long every row is caught for: one rule, for the commissioning sheet and for a test that is begun.

use crate::hydraulics::KeptSolver;
use crate::hydraulics::outcome::{Outcome, RowOutcome, RowState};
use crate::plan::{Duty, LaidRouting, Liquid, OperatingPoint, Project};
use crate::quantities::{Flow, Volume};

/// A catch is at least this large, so that reading a jug to 5 mL costs 2 % (common practice, no source).
pub const LEAST_CATCH: Volume = Volume::from_si(250e-6);

/// It is at least this long, seconds, so that stopping half a second late costs less than 2 % (common practice, no source).
const LEAST_SECONDS: f64 = 30.0;

/// Catch times are whole multiples of this.
const STEP_SECONDS: f64 = 10.0;

/// A catch longer than this is not asked for; then the sheet says that the catch is small.
const MOST_SECONDS: f64 = 900.0;

/// A row that flows.
pub fn flowing(outcome: &Outcome) -> impl Iterator<Item = &RowOutcome> {
    outcome.rows().iter().filter(|row| row.state == RowState::Fed)
}

/// The time every row is caught for, seconds: long enough for the least catch from the row that gets least in any of some
/// outcomes, those with the liquid and with water as a rule; none where nothing flows.
pub fn seconds_of(outcomes: &[&Outcome]) -> Option<f64> {
    seconds_for(outcomes.iter().flat_map(|outcome| flowing(outcome)).map(|row| row.flow))
}

/// The same of a routing at a point, solved with its liquid and with water.
pub fn seconds_at(project: &Project, routing: LaidRouting, point: &OperatingPoint) -> Option<f64> {
    let solve = |project: &Project| KeptSolver::default().prepare(project, routing).solve(point);
    let liquid = solve(project);
    let water = with_water(project, project.duty(point.duty)).map(|watered| solve(&watered));
    let both: Vec<&Outcome> = std::iter::once(&liquid).chain(&water).collect();
    seconds_of(&both)
}

fn seconds_for(flows: impl Iterator<Item = Flow>) -> Option<f64> {
    let least = flows.map(|flow| flow.si()).filter(|flow| *flow > 0.0).reduce(f64::min)?;
    let seconds = (LEAST_CATCH.si() / least).max(LEAST_SECONDS);
    // A whole step that only arithmetic pushed over its mark stays.
    let steps = (seconds / STEP_SECONDS - 1e-9).ceil();
    Some((steps * STEP_SECONDS).min(MOST_SECONDS))
}

/// The project with water in the tank for a duty; none where it is water already.
pub fn with_water(project: &Project, duty: &Duty) -> Option<Project> {
    let water = Liquid::water();
    (duty.liquid.points != water.points).then(|| {
        let mut watered = project.clone();
        watered.duties.put(Duty { liquid: water, ..duty.clone() });
        watered
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_catch_is_long_enough_for_250_ml() {
        let seconds = |flows: &[f64]| seconds_for(flows.iter().map(|one| Flow::litres_per_minute(*one)));
        assert_eq!(seconds(&[0.5, 0.6]), Some(30.0), "exactly 250 mL in 30 s");
        assert_eq!(seconds(&[0.499, 0.6]), Some(40.0));
        assert_eq!(seconds(&[2.0]), Some(30.0), "never shorter than 30 s");
        assert_eq!(seconds(&[0.001]), Some(MOST_SECONDS));
        assert_eq!(seconds(&[]), None);
        assert_eq!(seconds(&[0.0]), None);
    }
}
