//! What metering misses, in numbers and in words.

use super::super::trial::{Judged, Requirement};
use super::choice::{ChoiceAtDuty, MeteringChoice, ValveChoice};
use crate::hydraulics::losses::reynolds::LAMINAR_END;
use crate::plan::pressure_bound::{NO_MARGIN, is_no_margin};
use crate::plan::words::list;
use crate::plan::{Control, EntryKey, Metering, Project};
use crate::quantities::{Flow, Length, Measure, Pressure, Quantity, Ratio, Speed, UnitSystem};

/// What check valves of one entry scatter in their cracking pressure (common practice, no source; as in the limit of metering
/// over cracking).
const CRACKING_SCATTER: f64 = 0.2;

/// Number and unit without needless zeros.
pub(super) fn short(project: &Project, measure: Measure, value: impl Quantity) -> String {
    measure.short_text(value.si(), project.units)
}

/// Number and unit.
pub(super) fn text(project: &Project, measure: Measure, value: impl Quantity) -> String {
    measure.text(value.si(), project.units)
}

/// A speed found by a search, rounded towards the inside of its window as it is shown.
pub(super) fn inward(speed: Speed, up: bool, units: UnitSystem) -> Speed {
    let measure = Measure::GroundSpeed;
    let tens = 10f64.powi(i32::try_from(measure.unit(units).decimals).unwrap_or(1));
    let shown = measure.shown(speed.si(), units) * tens;
    let shown = if up { (shown - 1e-6).ceil() } else { (shown + 1e-6).floor() };
    Speed::from_si(measure.stored(shown / tens, units))
}

/// `from 6.4 to 12.1 km/h`.
pub(super) fn window(project: &Project, (from, to): (Speed, Speed)) -> String {
    let (units, measure) = (project.units, Measure::GroundSpeed);
    let (low, high) = (inward(from, true, units), inward(to, false, units));
    if low > high {
        // So narrow that no speed of as many digits as usual is within.
        let digits = measure.unit(units).decimals + 2;
        let [low, high] = [from, to].map(|one| format!("{:.digits$}", measure.shown(one.si(), units)));
        return format!("from {low} to {high} {}", measure.unit(units).symbol);
    }
    let from = measure.short_number(low.si(), units);
    format!("from {from} to {}", short(project, measure, high))
}

/// `7 to 11 km/h`.
pub(super) fn range(project: &Project, duty: &ChoiceAtDuty) -> String {
    let [slowest, _, fastest] = &duty.at;
    let from = Measure::GroundSpeed.short_number(slowest.point.speed.si(), project.units);
    format!("{from} to {}", short(project, Measure::GroundSpeed, fastest.point.speed))
}

/// Where a requirement is missed most, and by how much, as a ratio to what is required; 0 where it is met.
pub(super) fn by_how_much(project: &Project, choice: &MeteringChoice, requirement: Requirement) -> f64 {
    let limits = &project.limits;
    match requirement {
        Requirement::Margin => choice.margin.map_or(0.0, |margin| (NO_MARGIN - margin).si()),
        Requirement::Passage => match (choice.mesh, choice.passage) {
            (Some(mesh), Some(passage)) => mesh / (passage * limits.mesh_share.si()) - 1.0,
            _ => 0.0,
        },
        Requirement::Scatter => {
            let least = worst(choice, requirement).and_then(|one| one.over_cracking).unwrap_or(f64::INFINITY);
            limits.metering_over_cracking.si() / least.max(1e-9) - 1.0
        }
        Requirement::Predictable | Requirement::Material => 0.5,
        Requirement::Rows => {
            let far = worst(choice, requirement)
                .and_then(|one| one.farthest)
                .map_or(10.0, |(_, one)| one.si().abs());
            far / limits.row_deviation.si() - 1.0
        }
        Requirement::Pressure => worst(choice, requirement).map_or(0.0, missing_share),
    }
    .max(0.0)
}

/// `no margin left: at the highest the pump gives 3.96 bar, 1.0 % below what bounds it`, or what margin there is.
pub(super) fn margin_words(project: &Project, choice: &MeteringChoice, margin: Ratio) -> String {
    let highest = choice.judged().filter_map(|one| one.pump).reduce(Pressure::max).unwrap_or_default();
    let left = if is_no_margin(margin) { "no margin left" } else { "margin" };
    let (share, side) = if margin < Ratio::ZERO { (-margin.si(), "above") } else { (margin.si(), "below") };
    format!(
        "{left}: at its highest, {}, the pump stands {} {side}",
        text(project, Measure::Pressure, highest),
        Measure::Percent.text(share, project.units)
    )
}

fn missing_share(judged: &Judged) -> f64 {
    match judged.missing {
        Some(missing) if judged.total > Flow::ZERO => missing / (missing + judged.total),
        Some(_) => 1.0,
        None => f64::from(u8::from(judged.pump.is_none())),
    }
}

/// The point at which a requirement is missed most.
fn worst(choice: &MeteringChoice, requirement: Requirement) -> Option<&Judged> {
    let far = |one: &Judged| match requirement {
        Requirement::Scatter => one.over_cracking.map_or(0.0, |times| 1.0 / times.max(1e-9)),
        Requirement::Rows => one.farthest.map_or(f64::INFINITY, |(_, far)| far.si().abs()),
        Requirement::Pressure => missing_share(one),
        Requirement::Margin | Requirement::Passage | Requirement::Predictable | Requirement::Material => 0.0,
    };
    let all = choice.judged().filter(|one| one.broken.contains(&requirement));
    all.max_by(|a, b| far(a).total_cmp(&far(b)))
}

/// `only 3.3 times the cracking pressure over the metering at 7 km/h, 5 times wanted`.
pub(super) fn misses(project: &Project, choice: &MeteringChoice, requirement: Requirement) -> String {
    let limits = &project.limits;
    let at = |one: &Judged| short(project, Measure::GroundSpeed, one.point.speed);
    let judged = worst(choice, requirement);
    let said = match requirement {
        Requirement::Margin => {
            choice.margin.map(|margin| margin_words(project, choice, margin) + " what bounds it")
        }
        Requirement::Passage => choice.mesh.zip(choice.passage).map(|(mesh, passage)| {
            format!(
                "the mesh of {} is more than {} of its opening",
                short(project, Measure::Opening, mesh),
                short(project, Measure::Percent, limits.mesh_share),
            ) + &format!(" of {}", Measure::Bore.fine_text(passage.si(), project.units))
        }),
        Requirement::Scatter => judged.and_then(|one| {
            Some(format!(
                "it takes {:.1} times the cracking pressure at {}, {} times wanted",
                one.over_cracking?,
                at(one),
                Measure::Plain.short_number(limits.metering_over_cracking.si(), project.units)
            ))
        }),
        Requirement::Predictable => judged.and_then(|one| {
            let (low, high) = one.reynolds?;
            let (low, high) = (
                crate::plan::words::count(low.round() as usize),
                crate::plan::words::count(high.round() as usize),
            );
            let numbers = if low == high { low } else { format!("{low} to {high}") };
            Some(format!("its Reynolds number is {numbers} at {}, where flow can't be predicted", at(one)))
        }),
        Requirement::Rows => judged.map(|one| match one.farthest {
            Some((row, far)) if one.rows.rows > 0 && far.abs() > limits.row_deviation => {
                let number = project.bar.row(row).map_or(0, |row| row.number);
                format!(
                    "row {number} gets {} {} than its target at {}",
                    Measure::Percent.text(far.si().abs(), project.units),
                    if far > Ratio::ZERO { "more" } else { "less" },
                    at(one)
                )
            }
            _ => format!("{} of {} rows are fed at {}", one.rows.rows, one.rows.of, at(one)),
        }),
        Requirement::Pressure => judged.map(|one| match one.missing {
            Some(missing) => format!(
                "the supply lacks {} of {} at {}",
                Measure::TotalFlow.text_apart(missing.si(), 0.0, project.units),
                text(project, Measure::TotalFlow, missing + one.total),
                at(one)
            ),
            None => format!("nothing could be solved at {}", at(one)),
        }),
        Requirement::Material => Some(attacked(project, choice)),
    };
    said.unwrap_or_else(|| requirement.broken_words().to_owned())
}

/// What giving a requirement up means, or what grants it.
pub(super) fn give_up(project: &Project, choice: &MeteringChoice, requirement: Requirement) -> String {
    let limits = &project.limits;
    let instead = match requirement {
        Requirement::Margin => Some(
            "a filter that loads or colder liquid then leaves the rows short; raise the limit of the supply"
                .to_owned(),
        ),
        Requirement::Passage => choice.passage.map(|passage| {
            let opening = Length::from_si(passage.si() * limits.mesh_share.si());
            format!("fit a filter with a mesh of {} or less", short(project, Measure::Opening, opening))
        }),
        Requirement::Scatter => worst(choice, requirement).and_then(|one| {
            let x = exponent(choice, one);
            let costs = Ratio::from_si(x * CRACKING_SCATTER / one.over_cracking?.max(1e-9));
            Some(format!(
                "check valves that scatter by ±{:.0} % then cost some ±{} of flow there",
                CRACKING_SCATTER * 100.0,
                Measure::Percent.text(costs.si(), project.units)
            ))
        }),
        Requirement::Predictable => {
            Some("measure it with the liquid in a catch test before trusting a number".to_owned())
        }
        Requirement::Rows => Some(rows_remedy(project, choice)),
        Requirement::Pressure => Some(format!(
            "raise the pressure of {} that the supply has, or ask for less",
            short(project, Measure::Pressure, project.supply.highest_pressure())
        )),
        Requirement::Material => Some("add one of another material to the catalogue".to_owned()),
    };
    let is_missed =
        choice.duties.iter().flat_map(|duty| &duty.at).any(|one| one.broken.contains(&requirement));
    let by_speed = Some(choice).filter(|_| is_missed).and_then(|choice| does(project, choice));
    let depends = requirement != Requirement::Passage;
    let all: Vec<String> = instead.into_iter().chain(by_speed.filter(|_| depends)).collect();
    all.join("; ")
}

/// The speeds at which all that depends on the speed is granted, duty by duty; none where there are none under any.
fn does(project: &Project, choice: &MeteringChoice) -> Option<String> {
    if choice.duties.iter().all(|duty| duty.window.is_none()) {
        return None;
    }
    let each = choice.duties.iter().map(|duty| {
        let speeds = duty.window.map_or_else(|| "at no speed".to_owned(), |found| window(project, found));
        if project.duties.are_several() {
            format!("{speeds} under {}", project.duty(duty.duty).name)
        } else {
            speeds
        }
    });
    Some(format!("it does {}", list(&each.collect::<Vec<_>>())))
}

/// What brings rows to their targets: the supply where all of them together are off, else what lies between it and the rows.
fn rows_remedy(project: &Project, choice: &MeteringChoice) -> String {
    let supply_is_cause = worst(choice, Requirement::Rows).filter(|one| {
        let far = one.farthest.map_or(0.0, |(_, far)| far.si());
        one.mean.is_some_and(|mean| mean.si() * far > 0.0 && mean.si().abs() >= 0.5 * far.abs())
    });
    let Some(one) = supply_is_cause else { return "fit wider hoses, or equalise the rows".to_owned() };
    let mean = one.mean.unwrap_or_default();
    let share = Measure::Percent.text(mean.si().abs(), project.units);
    let less = if mean > Ratio::ZERO { "more" } else { "less" };
    let at = short(project, Measure::GroundSpeed, one.point.speed);
    let held = match project.supply.control {
        Control::Held { pressure } => {
            format!("the {} that is held", short(project, Measure::Pressure, pressure))
        }
        Control::Uncontrolled => "the pump as its curve goes".to_owned(),
        Control::Metered { .. } => {
            return format!(
                "the supply is the cause: at {at} it gives {share} {less} than the rows ask on the mean; raise its limit or \
                 ask for less"
            );
        }
    };
    // The same flow is the target where the speed is less or more by as much.
    let right = (one.point.speed * (1.0 + mean.si())).si();
    let right = Speed::from_si(Measure::GroundSpeed.rounded(right, project.units));
    format!(
        "the supply is the cause, not the hoses: {held} gives all rows together {share} {less} than their targets at {at} and \
         what they ask at {}; meter the flow by the speed, or keep to that speed",
        short(project, Measure::GroundSpeed, right)
    )
}

/// `check valve: brass, bronze or copper is attacked by UAN`.
fn attacked(project: &Project, choice: &MeteringChoice) -> String {
    let mut keys: Vec<&EntryKey> = choice.by_row.iter().map(|(_, one)| one.entry()).collect();
    keys.extend(choice.valve.as_ref().map(|valve| valve.entry.any()));
    keys.sort_unstable();
    keys.dedup();
    let all = keys.into_iter().filter_map(|key| {
        let names: Vec<String> = project.attacked(key).iter().map(|one| one.name().to_owned()).collect();
        let entry = project.catalogue.entry(key).filter(|_| !names.is_empty())?;
        Some(format!("{} is of {}, which the liquid attacks", entry.item.kind(), list(&names)))
    });
    list(&all.collect::<Vec<_>>())
}

/// How the flow of the metering goes with the pressure over it: the power 1/2 of an orifice, 4/7 of a smooth tube in
/// turbulent flow (Blasius 1913), 1 in laminar flow.
fn exponent(choice: &MeteringChoice, at: &Judged) -> f64 {
    match choice.metering {
        Metering::Orifice(_) => 0.5,
        Metering::Tube { .. } if at.reynolds.is_some_and(|(low, _)| low > LAMINAR_END) => 4.0 / 7.0,
        Metering::Tube { .. } => 1.0,
    }
}

/// `with the check valves there are`, `with the check valve that opens 0.2, shuts 0.18 bar`.
pub(super) fn valve(project: &Project, valve: Option<&ValveChoice>) -> String {
    match valve {
        None => "without check valves".to_owned(),
        Some(valve) if valve.is_fitted => "with the check valves there are".to_owned(),
        Some(valve) => {
            let item = project.catalogue.item(&valve.entry);
            let words = item.map_or_else(|| valve.entry.to_string(), |item| item.choice(project.units));
            format!("with the check valve that {words}")
        }
    }
}

/// `1.10 to 2.70 bar`.
pub(super) fn pressures(project: &Project, from: Pressure, to: Pressure) -> String {
    format!(
        "{} to {}",
        Measure::Pressure.number(from.si(), project.units),
        text(project, Measure::Pressure, to)
    )
}
