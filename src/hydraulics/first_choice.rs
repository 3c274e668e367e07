//! Check valve and metering of the catalogue for a row, before anything is solved: what holds the tank's liquid with the
//! pump off, what keeps the valve's scatter out of the row flow, and what the supply's pressure leaves room for.
//!
//! Reckoned for a full row of the bar's spacing with orifices: a start, and what a finding can name. A solve decides.

use super::losses;
use crate::geometry::Point3;
use crate::plan::{EntryKey, Item, Project};
use crate::quantities::{GRAVITY_M_S2, Pressure};

/// What a supply may lose before the rows, as a part of its pressure: a check valve whose metering needs more of it at
/// the fastest speed is no start. Common practice, no source.
const FOR_HOSES: f64 = 0.2;

/// A check valve with its metering.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Pair {
    /// Entry of the check valve.
    pub valve: EntryKey,
    /// Entry of the metering orifice.
    pub metering: EntryKey,
}

/// The widest orifice that takes enough pressure beside the cracking pressure of a check valve at the slowest speed, by
/// the project's limit: a start that a study of the metering may better.
pub fn metering_for(project: &Project, valve: &EntryKey) -> Option<EntryKey> {
    let Some(Item::CheckValve { cracking, .. }) = project.catalogue.item(valve) else { return None };
    let asked = &project.application;
    let density = project.liquid.at(asked.temperature)?.density.si();
    let flow = asked.rate.si() * asked.slowest.si() * project.bar.row_spacing.si();
    let enough = cracking.si() * project.limits.metering_over_cracking;
    let orifices = project.catalogue.entries.iter().filter_map(|entry| match entry.item {
        Item::MeteringOrifice { bore, cd, .. } => Some((bore.si(), cd, &entry.key)),
        _ => None,
    });
    let takes = |bore: f64, cd: f64| losses::orifice::loss(cd, bore, density, flow).pressure_pa;
    let fitting = orifices.filter(|(bore, cd, _)| takes(*bore, *cd) >= enough);
    fitting.max_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, _, key)| key.clone())
}

/// What stands on the lowest outlet with the pump off at work: from the tank's surface, on the slopes asked for.
pub fn standing(project: &Project) -> Pressure {
    let (bar, asked, supply) = (&project.bar, &project.application, &project.supply);
    let (side, fore_aft) = (asked.side_slope.si().sin().abs(), asked.fore_aft_slope.si().sin().abs());
    let below =
        |at: Point3| (at.x - supply.pump.x).abs() * side + (at.y - supply.pump.y).abs() * fore_aft - at.z;
    let lowest = bar.rows.iter().map(|row| below(bar.outlet(row))).fold(f64::NEG_INFINITY, f64::max);
    Pressure::from_si(density(project) * GRAVITY_M_S2 * (supply.tank_surface.si() + lowest).max(0.0))
}

fn density(project: &Project) -> f64 {
    project.liquid.at(project.application.temperature).map_or(1000.0, |liquid| liquid.density.si())
}

/// A check valve of the catalogue as it counts here, pascals.
struct Valve<'a> {
    key: &'a EntryKey,
    cracking: f64,
    closing: f64,
}

fn valves(project: &Project) -> Vec<Valve<'_>> {
    let valves = project.catalogue.entries.iter().filter_map(|entry| match entry.item {
        Item::CheckValve { cracking, closing, .. } => {
            Some(Valve { key: &entry.key, cracking: cracking.si(), closing: closing.si() })
        }
        _ => None,
    });
    valves.collect()
}

/// What a valve and its metering need at the fastest speed leaves the supply something for the hoses.
fn is_within(project: &Project, cracking: f64, metering: Option<&EntryKey>) -> bool {
    let (asked, bar) = (&project.application, &project.bar);
    let fastest = asked.rate.si() * asked.fastest.si() * bar.row_spacing.si();
    let metering = match metering.map(|key| project.catalogue.item(key)) {
        Some(Some(Item::MeteringOrifice { bore, cd, .. })) => {
            losses::orifice::loss(*cd, bore.si(), density(project), fastest).pressure_pa
        }
        _ => 0.0,
    };
    cracking + metering <= project.supply.control.highest().si() * (1.0 - FOR_HOSES)
}

/// The check valve that opens first among those that shut above what stands on them with the pump off ([`standing`]).
/// Where none does within the supply's pressure, the one that shuts highest within it.
pub fn valve_for(project: &Project) -> Option<EntryKey> {
    let standing = standing(project).si();
    let all = valves(project);
    let fits = |valve: &&Valve| is_within(project, valve.cracking, metering_for(project, valve.key).as_ref());
    let within: Vec<&Valve> = all.iter().filter(fits).collect();
    let opens_first = |a: &&&Valve, b: &&&Valve| a.cracking.total_cmp(&b.cracking);
    let holds = within.iter().filter(|valve| valve.closing > standing).min_by(opens_first);
    let found = holds.or_else(|| within.iter().max_by(|a, b| a.closing.total_cmp(&b.closing))).copied();
    found
        .or_else(|| all.iter().min_by(|a, b| a.cracking.total_cmp(&b.cracking)))
        .map(|valve| valve.key.clone())
}

/// The check valve that opens first, with its metering, of those that shut above a pressure that stands on them, whose
/// metering takes enough beside them at the slowest speed, and that stay within the supply's pressure at the fastest;
/// none where the catalogue has no such pair.
pub fn pair_that_holds(project: &Project, standing: Pressure) -> Option<Pair> {
    let mut all: Vec<Valve> =
        valves(project).into_iter().filter(|valve| valve.closing > standing.si()).collect();
    all.sort_by(|a, b| a.cracking.total_cmp(&b.cracking));
    all.into_iter().find_map(|valve| {
        let metering = metering_for(project, valve.key)?;
        let within = is_within(project, valve.cracking, Some(&metering));
        within.then(|| Pair { valve: valve.key.clone(), metering })
    })
}
