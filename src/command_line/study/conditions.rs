//! `equirow study conditions PROJECT ...`: what slopes, cold, wear and single faults do to the rows.

use clap::Args;
use serde::Serialize;

use super::asked::AskedStudy;
use crate::command_line::{Ended, percent};
use crate::quantities::Ratio;
use crate::studies::conditions::{Case, ConditionsStudy, read_at_words, report, study};
use crate::studies::{Studied, Unwatched};

#[derive(Args)]
pub(super) struct Arguments {
    #[command(flatten)]
    asked: AskedStudy,
}

/// Runs the study. The answer is no where a condition that every bar meets at work brings a row outside the limits;
/// single faults do not count.
pub(super) fn run(arguments: &Arguments) -> Ended {
    let project = arguments.asked.of.open()?;
    let fails = ConditionsStudy::fails_at_work;
    arguments.asked.answer(&project, |of| study(of, &Unwatched), report, json, fails)
}

#[derive(Serialize)]
struct Json {
    duty: String,
    speed_km_h: f64,
    pressure_read_at: String,
    planned: JsonPlanned,
    /// The most harm first.
    cases: Vec<JsonCase>,
    without_numbers: Vec<JsonWithout>,
    warnings: Vec<String>,
}

#[derive(Serialize)]
struct JsonPlanned {
    cv_percent: Option<f64>,
    worst_row: Option<u32>,
    worst_percent: Option<f64>,
    harm_percent: f64,
    pressure_kpa: Option<f64>,
}

#[derive(Serialize)]
struct JsonCase {
    case: String,
    change: String,
    is_fault: bool,
    cv_percent: Option<f64>,
    fed_rows: usize,
    worst_row: Option<u32>,
    worst_percent: Option<f64>,
    harm_percent: f64,
    pressure_change_kpa: Option<f64>,
    supply_at_limit: bool,
    outside_limits: bool,
}

#[derive(Serialize)]
struct JsonWithout {
    case: String,
    change: String,
    why: String,
}

fn json(study: &ConditionsStudy, of: &Studied) -> Json {
    let ratio = |ratio: Option<Ratio>| ratio.map(percent);
    let case = |case: &Case| {
        let [what, change] = case.words.clone();
        JsonCase {
            case: what,
            change,
            is_fault: case.condition.is_fault(),
            cv_percent: ratio(case.cv),
            fed_rows: case.rows.rows,
            worst_row: case.worst.map(|one| one.1),
            worst_percent: case.worst.map(|one| percent(one.2)),
            harm_percent: percent(case.harm),
            pressure_change_kpa: case.gauge_change.map(|change| change.as_kilopascals()),
            supply_at_limit: case.is_short,
            outside_limits: case.outside_limits,
        }
    };
    let without = study.without_numbers.iter().map(|(condition, why)| {
        let [what, change] = condition.words(of);
        JsonWithout { case: what, change, why: why.clone() }
    });
    Json {
        duty: of.project.duty(of.point.duty).name.clone(),
        speed_km_h: of.point.speed.as_kilometres_per_hour(),
        pressure_read_at: read_at_words(of, study.read_at),
        planned: JsonPlanned {
            cv_percent: ratio(study.planned.cv),
            worst_row: study.planned.worst.map(|one| one.1),
            worst_percent: study.planned.worst.map(|one| percent(one.2)),
            harm_percent: percent(study.planned.harm),
            pressure_kpa: study.planned.gauge.map(|gauge| gauge.as_kilopascals()),
        },
        cases: study.cases.iter().map(case).collect(),
        without_numbers: without.collect(),
        warnings: study.warnings.clone(),
    }
}
