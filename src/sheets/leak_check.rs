//! How water is brought to the pressure that the liquid has at work, so that the leak check with the rows open proves what
//! the liquid will try.

use crate::hydraulics::{KeptSolver, Outcome};
use crate::plan::{Duty, LaidRouting, Project};
use crate::quantities::{Measure, Pressure, Speed, UnitSystem};

/// What water reaches through open rows, against what the liquid reaches at the fastest speed.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct LeakCheck {
    /// The highest pressure at the pump with the liquid.
    pub(super) liquid: Pressure,
    /// The ground speed of that.
    pub(super) speed: Speed,
    /// Water at the setting of the controller that comes nearest to it; at that speed the pump's pressure and the gauges are
    /// read.
    pub(super) water: Outcome,
    /// Water reaches what the liquid reaches.
    pub(super) is_reached: bool,
    /// How many operating points that took.
    pub(super) solves: usize,
}

/// Pressures closer than this share are the same on a gauge (common practice, no source).
const ALIKE: f64 = 0.005;

/// The next speed that a controller shows, in the digits of the project's unit.
fn as_set(speed: Speed, units: UnitSystem) -> Speed {
    let decimals = Measure::GroundSpeed.unit(units).decimals;
    let in_one = (0..decimals).fold(1.0, |all, _| all * 10.0);
    let steps = (Measure::GroundSpeed.shown(speed.si(), units) * in_one - 1e-6).ceil();
    Speed::from_si(Measure::GroundSpeed.stored(steps / in_one, units))
}

/// A controller is not set to more than so many times the fastest speed (common practice, no source).
const MOST: f64 = 2.0;

/// Pressure goes about with this power of the flow: 2 in orifices, less in tubes.
const POWER: f64 = 1.8;

/// From the solves at the fastest speed; none where either has no numbers, or where water reaches as much there.
pub(super) fn leak_check(
    watered: &Project,
    routing: LaidRouting,
    duty: &Duty,
    liquid: &Outcome,
    water: &Outcome,
) -> Option<LeakCheck> {
    let asked = liquid.numbers()?.pump_pressure;
    let mut found = water.clone();
    let mut reached = found.numbers()?.pump_pressure;
    if reached.si() >= asked.si() * (1.0 - ALIKE) || reached.si() <= 0.0 {
        return None;
    }
    let fastest = liquid.point.speed;
    let mut solves = 0;
    if watered.supply.follows_speed() {
        let mut kept = KeptSolver::default();
        let mut prepared = kept.prepare(watered, routing);
        let mut times = 1.0;
        // The power is nearly right, so that each step leaves a tenth of what was missing.
        for _ in 0..6 {
            let missing = asked / reached;
            if (missing - 1.0).abs() < ALIKE / 2.0 || found.at_limit().is_some() || times >= MOST {
                break;
            }
            times = (times * missing.powf(1.0 / POWER)).min(MOST);
            let next = prepared.solve(&duty.at(fastest * times));
            solves += 1;
            let Some(numbers) = next.numbers() else { break };
            reached = numbers.pump_pressure;
            found = next;
        }
        // A controller is set to what it shows: flow and pressures belong to that.
        let set = as_set(found.point.speed, watered.units);
        if set != found.point.speed {
            let next = prepared.solve(&duty.at(set));
            solves += 1;
            if let Some(numbers) = next.numbers() {
                reached = numbers.pump_pressure;
                found = next;
            }
        }
    }
    let is_reached = reached.si() >= asked.si() * (1.0 - ALIKE);
    Some(LeakCheck { liquid: asked, speed: fastest, water: found, is_reached, solves })
}
