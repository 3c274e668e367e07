//! `equirow solve PROJECT ...`: solves one routing at one operating point and prints what every row gets.

use std::fmt::Write as _;
use std::process::ExitCode;

use clap::Args;
use serde::Serialize;

use super::arguments::{AskedPoint, Format, OneRouting, conditions, duty_name};
use super::{ANSWER_IS_NO, Ended, percent, print, print_json, solved};
use crate::checks::{self, Finding, Severity};
use crate::drawing::deviation::why_not_fed;
use crate::hydraulics::outcome::{RowConnection, RowOutcome};
use crate::hydraulics::{NoNumbers, Outcome, RowState, SupplyState};
use crate::plan::part::outlet_words;
use crate::plan::words::capital;
use crate::plan::{PartId, PartItem, Project, Routing, RoutingGeometry};
use crate::quantities::{Flow, Measure, Pressure, Ratio};
use crate::studies::status::{rows_words, status_words, why_no_numbers};
use crate::studies::{Studied, rests_on};

/// The subcommand.
const NAME: &str = "solve";

#[derive(Args)]
pub(super) struct Arguments {
    #[command(flatten)]
    of: OneRouting,
    #[command(flatten)]
    at: AskedPoint,
    /// How the answer is written
    #[arg(long, value_enum, default_value = "table")]
    format: Format,
}

/// Runs the subcommand. Without options the project's first routing is solved for its first duty, at that one's usual
/// speed and designed-for conditions.
///
/// Exit codes: 0 solved without a finding of severity error; 1 not solved, or such a finding; 2 wrong usage,
/// also a routing or a duty that does not exist; 3 the file can't be read or understood.
pub(super) fn run(arguments: &Arguments) -> Ended {
    let project = arguments.of.open()?;
    let routing = arguments.of.choose(&project, NAME)?;
    let point = arguments.at.of(arguments.of.duty(&project, NAME)?);
    let geometry = RoutingGeometry::working(&project, routing);
    let laid = geometry.with(routing);
    let (outcome, range) = solved(&project, laid, &point);
    let mut findings = checks::all_findings(&project, laid, &outcome, &range.outcomes);
    let all = findings.len();
    findings.retain(|finding| !checks::is_hidden(&project, finding));
    let hidden = all - findings.len();
    let answer_is_no =
        outcome.result.is_err() || findings.iter().any(|finding| finding.severity == Severity::Error);
    if let Some(why) = why_no_numbers(&outcome, routing) {
        eprintln!("equirow: {why}");
    }
    let code = if answer_is_no { ExitCode::from(ANSWER_IS_NO) } else { ExitCode::SUCCESS };
    let rests_on = rests_on(&Studied { project: &project, routing: laid, point }, &outcome);
    Ok(match arguments.format {
        Format::Json => {
            let report = report(&project, routing, &outcome, &findings, hidden);
            print_json(&SolveReport { rests_on, ..report }, code)
        }
        Format::Table => print(&table(&project, routing, &outcome, (&findings, hidden), &rests_on), code),
    })
}

/// What the JSON holds; each key carries its unit.
#[derive(Serialize)]
struct SolveReport {
    routing: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    duty: Option<String>,
    status: &'static str,
    rate_l_ha: f64,
    speed_km_h: f64,
    temperature_c: f64,
    side_slope_percent: f64,
    fore_aft_slope_percent: f64,
    /// What nobody measured, or a catch test calibrated, with the interval that is left.
    rests_on: Vec<String>,
    target_total_l_min: f64,
    total_flow_l_min: Option<f64>,
    shortfall_l_min: Option<f64>,
    pump_pressure_kpa: Option<f64>,
    inlet_pressure_kpa: Option<f64>,
    gauges: Vec<Reading>,
    manifolds: Vec<Reading>,
    rows_of_the_bar: usize,
    rows_in_total: usize,
    fed_rows: usize,
    mean_deviation_percent: Option<f64>,
    cv_percent: Option<f64>,
    du_lq_percent: Option<f64>,
    rows: Vec<RowReport>,
    findings: Vec<SolveFinding>,
    hidden_findings: usize,
}

#[derive(Serialize)]
struct Reading {
    tag: String,
    pressure_kpa: Option<f64>,
}

#[derive(Serialize)]
struct RowReport {
    row: u32,
    x_m: f64,
    fed: bool,
    state: &'static str,
    target_l_min: f64,
    flow_l_min: Option<f64>,
    deviation_percent: Option<f64>,
    outlet: Option<String>,
}

#[derive(Serialize)]
struct SolveFinding {
    severity: &'static str,
    rule: String,
    place: String,
    what: String,
    advice: String,
}

fn report(
    project: &Project,
    routing: &Routing,
    outcome: &Outcome,
    findings: &[Finding],
    hidden_findings: usize,
) -> SolveReport {
    let point = &outcome.point;
    let (numbers, evenness) = (outcome.numbers(), outcome.evenness());
    SolveReport {
        routing: routing.name.clone(),
        duty: duty_name(project, point.duty),
        status: match &outcome.result {
            Ok(numbers) if numbers.supply == SupplyState::AsAsked => "solved",
            Ok(_) => "at_limit",
            Err(NoNumbers::NothingFed) => "nothing_fed",
            Err(NoNumbers::Failed { .. }) => "failed",
        },
        rate_l_ha: point.rate.as_litres_per_hectare(),
        speed_km_h: point.speed.as_kilometres_per_hour(),
        temperature_c: point.temperature.si(),
        side_slope_percent: point.side_slope.as_slope_percent(),
        fore_aft_slope_percent: point.fore_aft_slope.as_slope_percent(),
        rests_on: Vec::new(),
        target_total_l_min: outcome.target_total.as_litres_per_minute(),
        total_flow_l_min: numbers.map(|one| one.total_flow.as_litres_per_minute()),
        shortfall_l_min: outcome.at_limit().map(|(shortfall, _)| shortfall.as_litres_per_minute()),
        pump_pressure_kpa: numbers.map(|one| one.pump_pressure.as_kilopascals()),
        inlet_pressure_kpa: numbers.map(|one| one.inlet_pressure.as_kilopascals()),
        gauges: readings(project, routing, outcome, |item| matches!(item, PartItem::Gauge(_))),
        manifolds: readings(project, routing, outcome, |item| matches!(item, PartItem::Manifold(_))),
        rows_of_the_bar: outcome.connections.len(),
        rows_in_total: outcome.rows_in_total().rows,
        fed_rows: outcome.fed_rows(),
        mean_deviation_percent: evenness.map(|one| percent(one.mean_deviation)),
        cv_percent: evenness.map(|one| percent(one.cv)),
        du_lq_percent: evenness.map(|one| percent(one.du_lowest_quarter)),
        rows: outcome
            .each_row()
            .map(|(row, found)| RowReport {
                row: row.number,
                x_m: row.x.si(),
                fed: found.is_some_and(|found| found.state == RowState::Fed),
                state: state_words(row.state(found)),
                target_l_min: row.target.as_litres_per_minute(),
                flow_l_min: flow(row, found).map(Flow::as_litres_per_minute),
                deviation_percent: found.and_then(|found| found.deviation).map(percent),
                outlet: outlet(routing, row.outlet),
            })
            .collect(),
        findings: findings
            .iter()
            .map(|one| SolveFinding {
                severity: one.severity.name(),
                rule: one.kind.rule.clone(),
                place: one.place.clone(),
                what: one.what.clone(),
                advice: one.advice.clone(),
            })
            .collect(),
        hidden_findings,
    }
}

fn readings(
    project: &Project,
    routing: &Routing,
    outcome: &Outcome,
    wanted: fn(&PartItem) -> bool,
) -> Vec<Reading> {
    let parts = routing.parts.iter().filter(|part| project.catalogue.item(&part.entry).is_some_and(wanted));
    parts
        .map(|part| Reading {
            tag: part.tag.clone(),
            pressure_kpa: outcome.part(part.id).and_then(|one| one.pressure).map(Pressure::as_kilopascals),
        })
        .collect()
}

fn outlet(routing: &Routing, outlet: Option<(PartId, u16)>) -> Option<String> {
    let (part, number) = outlet?;
    Some(outlet_words(&routing.part(part)?.tag, number))
}

/// What a row gets: nothing if it is not connected, solved or not.
fn flow(row: &RowConnection, found: Option<&RowOutcome>) -> Option<Flow> {
    found.map(|found| found.flow).or_else(|| row.connected.err().map(|_| Flow::ZERO))
}

/// In the words of the window.
fn state_words(state: Option<RowState>) -> &'static str {
    why_not_fed(state).unwrap_or("fed")
}

const NONE: &str = "-";

fn table(
    project: &Project,
    routing: &Routing,
    outcome: &Outcome,
    (findings, hidden): (&[Finding], usize),
    rests_on: &[String],
) -> String {
    let units = project.units;
    let text = |measure: Measure, value: Option<f64>| {
        value.map_or(NONE.to_owned(), |value| measure.text(value, units))
    };
    let mut out = String::new();
    let status = status_words(outcome, routing, units);
    let (fed, used) = (outcome.fed_rows(), outcome.rows_in_use());
    let (numbers, evenness) = (outcome.numbers(), outcome.evenness());
    // Beside each figure that is over fewer than all rows of the bar.
    let beside = |covered, value: String| match rows_words(covered) {
        Some(rows) if value != NONE => format!("{value} ({rows})"),
        _ => value,
    };
    let over_total = |value| beside(outcome.rows_in_total(), value);
    let over_fed = |ratio: Option<Ratio>| {
        beside(outcome.rows_in_evenness(), text(Measure::Percent, ratio.map(Ratio::si)))
    };
    let lines = [
        ("Project", project.title.title.clone()),
        ("Routing", routing.name.clone()),
        ("Conditions", conditions(project, &outcome.point, units)),
        ("Status", status),
        ("Total flow", over_total(text(Measure::TotalFlow, numbers.map(|one| one.total_flow.si())))),
        ("Pump", text(Measure::Pressure, numbers.map(|one| one.pump_pressure.si()))),
        ("Inlet", text(Measure::Pressure, numbers.map(|one| one.inlet_pressure.si()))),
        ("Rows fed", format!("{fed} of {used}")),
        ("Mean deviation", over_fed(evenness.map(|one| one.mean_deviation))),
        ("CV over rows", over_fed(evenness.map(|one| one.cv))),
        ("DU, lowest quarter", over_fed(evenness.map(|one| one.du_lowest_quarter))),
    ];
    for (name, value) in lines {
        let _ = writeln!(out, "{name:<20}{value}");
    }
    for (at, one) in rests_on.iter().enumerate() {
        let name = if at == 0 { "Rests on" } else { "" };
        let _ = writeln!(out, "{name:<20}{}", capital(one));
    }
    out.push('\n');
    for (name, wanted) in [
        ("Gauge", (|item| matches!(item, PartItem::Gauge(_))) as fn(&PartItem) -> bool),
        ("Manifold", |item| matches!(item, PartItem::Manifold(_))),
    ] {
        for reading in readings(project, routing, outcome, wanted) {
            let pressure = text(Measure::Pressure, reading.pressure_kpa.map(|one| one * 1e3));
            let _ = writeln!(out, "{:<20}{pressure:>12}", format!("{name} {}", reading.tag));
        }
    }
    let (distance, volume) = (Measure::Distance.unit(units).symbol, Measure::RowFlow.unit(units).symbol);
    let _ = writeln!(
        out,
        "\n{:>4} {:>8} {:>8} {:>11} {:>11} {:>9}",
        "row", "x", "outlet", "target", "flow", "deviation"
    );
    let _ = writeln!(out, "{:>4} {distance:>8} {:>8} {volume:>11} {volume:>11} {:>9}", "", "", "%");
    for (row, found) in outcome.each_row() {
        let number = |measure: Measure, value: Option<f64>| {
            value.map_or(NONE.to_owned(), |value| measure.number(value, units))
        };
        let _ = write!(
            out,
            "{:>4} {:>8} {:>8} {:>11} {:>11} {:>9}",
            row.number,
            number(Measure::Distance, Some(row.x.si())),
            outlet(routing, row.outlet).unwrap_or_else(|| NONE.to_owned()),
            number(Measure::RowFlow, Some(row.target.si())),
            number(Measure::RowFlow, flow(row, found).map(Flow::si)),
            number(Measure::Percent, found.and_then(|found| found.deviation).map(Ratio::si)),
        );
        let state = row.state(found);
        if state != Some(RowState::Fed) {
            let _ = write!(out, "  {}", state_words(state));
        }
        out.push('\n');
    }
    if !findings.is_empty() || hidden > 0 {
        out.push('\n');
    }
    for one in findings {
        let _ = writeln!(out, "{:<8} {}: {}; {}", one.severity.name(), one.place, one.what, one.advice);
    }
    if hidden > 0 {
        let _ = writeln!(
            out,
            "{hidden} hidden {} not listed",
            if hidden == 1 { "finding is" } else { "findings are" }
        );
    }
    out
}
