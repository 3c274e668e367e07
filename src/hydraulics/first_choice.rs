//! Check valve and metering of the catalogue for a row, before anything is solved: what holds the tank's liquid with the
//! pump off, what keeps the valve's scatter out of the row flow, and what the supply's pressure leaves room for.
//!
//! Reckoned for every duty and full rows, the narrowest at the slowest speed and the widest at the fastest, with orifices: a
//! start, and what a finding can name. A solve decides.

use super::losses;
use super::slope::{every_way, height};
use crate::geometry::Point3;
use crate::plan::row_target::width;
use crate::plan::{CheckValve, Duty, ElementItem, ElementKey, MeteringOrifice, Project, RowWidths};
use crate::quantities::{GRAVITY_M_S2, Pressure};

/// What a supply may lose before the rows, as a part of its pressure: a check valve whose metering needs more of it at
/// the fastest speed is no start. Common practice, no source.
const FOR_HOSES: f64 = 0.2;

/// A check valve of the catalogue and what it can do for the rows.
#[derive(Debug, Clone, PartialEq)]
pub struct Choice {
    /// Entry of the check valve.
    pub valve: ElementKey,
    /// Entry of the widest metering orifice that takes enough beside it at the slowest speed.
    pub metering: Option<ElementKey>,
    /// It opens at this.
    pub cracking: Pressure,
    /// It shuts at this.
    pub closing: Pressure,
    /// First requirement: it shuts above what stands on it with the pump off.
    pub holds: bool,
    /// Second requirement: it has metering that takes enough beside it, and both stay within the supply's pressure at the fastest
    /// speed.
    pub meters: bool,
}

/// The widest orifice that takes enough pressure beside the cracking pressure of a check valve at the slowest speed of each
/// duty, by the project's limit: a start that a study of the metering may better.
pub fn metering_for(project: &Project, duties: &[Duty], valve: &ElementKey) -> Option<ElementKey> {
    let Some(ElementItem::CheckValve(CheckValve { cracking, .. })) = project.catalogue.item(valve) else {
        return None;
    };
    let narrowest = strips(project).0;
    let slow = duties.iter().map(|duty| {
        let density = duty.liquid.at(duty.temperature)?.density.si();
        Some((density, duty.rate.si() * duty.slowest.si() * narrowest))
    });
    let slow: Vec<(f64, f64)> = slow.collect::<Option<_>>()?;
    let enough = cracking.si() * project.limits.metering_over_cracking.si();
    let orifices = project.catalogue.of::<ElementKey>().filter_map(|(key, item)| {
        let ElementItem::MeteringOrifice(MeteringOrifice { bore, cd, .. }) = item else { return None };
        project.attacked(key.any()).is_empty().then_some((bore.si(), *cd, key))
    });
    let takes_enough = |bore: f64, cd: f64| {
        slow.iter()
            .all(|(density, flow)| losses::orifice::loss(cd, bore, *density, *flow).pressure_pa >= enough)
    };
    let fitting = orifices.filter(|(bore, cd, _)| takes_enough(*bore, *cd));
    fitting.max_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, _, key)| key)
}

/// What stands on the lowest outlet with the pump off at work: from the tank's surface, on the slopes asked for, whichever
/// way the bar is driven.
pub fn standing(project: &Project, duty: &Duty) -> Pressure {
    let (bar, supply) = (&project.bar, &project.supply);
    let surface = Point3::new(supply.pump.x, supply.pump.y, supply.tank_surface.si());
    let heads = every_way(duty.side_slope, duty.fore_aft_slope)
        .into_iter()
        .flat_map(|up| bar.rows.iter().map(move |row| height(surface, up) - height(bar.outlet(row), up)));
    let highest = heads.fold(0.0, f64::max);
    Pressure::from_si(losses::static_head::pressure(density(duty), GRAVITY_M_S2, highest))
}

fn density(duty: &Duty) -> f64 {
    duty.liquid.at(duty.temperature).map_or(1000.0, |liquid| liquid.density.si())
}

/// The narrowest and the widest strip of the rows in use, metres.
fn strips(project: &Project) -> (f64, f64) {
    let bar = &project.bar;
    let nominal = bar.row_spacing.si();
    if bar.row_widths == RowWidths::Nominal {
        return (nominal, nominal);
    }
    let own = || bar.rows.iter().filter(|row| !row.left_out).map(|row| width(bar, row).si());
    (own().reduce(f64::min).unwrap_or(nominal), own().reduce(f64::max).unwrap_or(nominal))
}

/// What a valve and its metering need at the fastest speed of each duty leaves the supply something for the hoses.
fn is_within(project: &Project, duties: &[Duty], cracking: Pressure, metering: Option<&ElementKey>) -> bool {
    duties.iter().all(|duty| is_within_under(project, duty, cracking, metering))
}

fn is_within_under(
    project: &Project,
    duty: &Duty,
    cracking: Pressure,
    metering: Option<&ElementKey>,
) -> bool {
    let fastest = duty.rate.si() * duty.fastest.si() * strips(project).1;
    let metering = match metering.map(|key| project.catalogue.item(key)) {
        Some(Some(ElementItem::MeteringOrifice(MeteringOrifice { bore, cd, .. }))) => {
            losses::orifice::loss(*cd, bore.si(), density(duty), fastest).pressure_pa
        }
        _ => 0.0,
    };
    cracking.si() + metering <= project.supply.highest_pressure().si() * (1.0 - FOR_HOSES)
}

/// All check valves of the catalogue, the best first, for a pressure that stands on them with the pump off. One that grants
/// both requirements comes first, of several the one that opens first. Then those that meter, the one that shuts highest first:
/// what they don't hold a valve between tank and bar can, while nothing else keeps scatter out of the row flow. Then those
/// that hold and at least open within the supply's pressure, the one that opens first; then what is left, in the same order.
/// None is of a material that a liquid attacks while the catalogue has another.
pub fn choices(project: &Project, duties: &[Duty], standing: Pressure) -> Vec<Choice> {
    let valves = project.catalogue.of::<ElementKey>().filter_map(|(key, item)| {
        let ElementItem::CheckValve(CheckValve { cracking, closing, .. }) = item else { return None };
        Some((key, *cracking, *closing))
    });
    let mut valves: Vec<(ElementKey, Pressure, Pressure)> = valves.collect();
    let suits = |key: &ElementKey| project.attacked(key.any()).is_empty();
    if valves.iter().any(|(key, ..)| suits(key)) {
        valves.retain(|(key, ..)| suits(key));
    }
    let mut ranked: Vec<(u8, f64, Choice)> = valves
        .into_iter()
        .map(|(valve, cracking, closing)| {
            let metering = metering_for(project, duties, &valve);
            let meters = metering.is_some() && is_within(project, duties, cracking, metering.as_ref());
            let holds = closing > standing;
            let (rank, order) = match (meters, holds) {
                (true, true) => (0, cracking.si()),
                (true, false) => (1, -closing.si()),
                (false, true) if is_within(project, duties, cracking, None) => (2, cracking.si()),
                (false, false) if is_within(project, duties, cracking, None) => (3, -closing.si()),
                (false, _) => (4, cracking.si()),
            };
            (rank, order, Choice { valve, metering, cracking, closing, holds, meters })
        })
        .collect();
    ranked.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
    ranked.into_iter().map(|(_, _, choice)| choice).collect()
}

/// The most that [`standing`] comes to under any duty.
pub fn most_standing(project: &Project) -> Pressure {
    project.duties.iter().map(|duty| standing(project, duty)).fold(Pressure::ZERO, Pressure::max)
}

/// The check valve for a new row feed: the best of [`choices`] under every duty for what will stand on it.
pub fn valve_for(project: &Project, duties: &[Duty]) -> Option<ElementKey> {
    choices(project, duties, most_standing(project)).into_iter().next().map(|choice| choice.valve)
}
