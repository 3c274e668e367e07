//! `equirow compare PROJECT A B ...`: weighs two routings of a project against each other.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::{Args, ValueHint};
use serde_json::{Map, Value, json};

use super::arguments::{self, Format, OneDuty, named};
use super::{ANSWER_IS_NO, Ended, percent, print, print_json, solved};
use crate::hydraulics::outcome::Outcome;
use crate::hydraulics::speed_range::SpeedRange;
use crate::plan::{LaidRouting, OperatingPoint, Project, RoutingGeometry};
use crate::quantities::{Measure, Speed};
use crate::session::side_by_side::release_of;
use crate::studies::comparison::{
    Amount, ComparedFigure, Comparison, Contender, FigureUnit, ReleaseSaid, Which, compare, table,
};

/// The subcommand.
const NAME: &str = "compare";

#[derive(Args)]
pub(super) struct Arguments {
    /// The project to read
    #[arg(value_name = "PROJECT", value_hint = ValueHint::FilePath)]
    file: PathBuf,
    /// One routing
    a: String,
    /// The routing to compare it with
    b: String,
    #[command(flatten)]
    duty: OneDuty,
    /// Ground speed in km/h; the duty's usual one unless given
    #[arg(long, value_name = "KMH", value_parser = arguments::speed)]
    speed: Option<Speed>,
    /// How the answer is written
    #[arg(long, value_enum, default_value = "table")]
    format: Format,
}

/// Runs the subcommand. Without a speed the duty's usual one is looked at.
///
/// Exit codes: 0 both have numbers; 1 one of them can't be solved, or feeds no row; 2 wrong usage, also a routing
/// or a duty that does not exist; 3 the file can't be read or understood.
pub(super) fn run(asked: &Arguments) -> Ended {
    let project = arguments::open(&asked.file)?;
    let routing_a = named(&project, "A", &asked.a, NAME)?;
    let routing_b = named(&project, "B", &asked.b, NAME)?;
    let mut point = asked.duty.choose(&project, NAME)?.usual_point();
    point.speed = asked.speed.unwrap_or(point.speed);
    let geometry_a = RoutingGeometry::working(&project, routing_a);
    let geometry_b = RoutingGeometry::working(&project, routing_b);
    let (routing_a, routing_b) = (geometry_a.with(routing_a), geometry_b.with(routing_b));
    let solved_a = solved(&project, routing_a, &point);
    let solved_b = solved(&project, routing_b, &point);
    let sides = [contender(routing_a, &solved_a), contender(routing_b, &solved_b)];
    let mut comparison = compare(&project, &sides[0], &sides[1]);
    let releases = sides.each_ref().map(|side| release_of(&project, side));
    comparison.tell_release(&releases);
    for (label, why) in comparison.labels.iter().zip(&comparison.unsolved) {
        if let Some(why) = why {
            eprintln!("equirow: routing {label}: {why}");
        }
    }
    let answer_is_no = comparison.unsolved.iter().any(Option::is_some);
    let code = if answer_is_no { ExitCode::from(ANSWER_IS_NO) } else { ExitCode::SUCCESS };
    Ok(match asked.format {
        Format::Json => print_json(&report(&project, &comparison, &releases, &point), code),
        Format::Table => print(&table::text(&comparison, project.units), code),
    })
}

const fn contender<'a>(
    routing: LaidRouting<'a>,
    (outcome, range): &'a (Outcome, SpeedRange),
) -> Contender<'a> {
    Contender { routing, outcome, range }
}

/// A figure's key with its unit, and how many of that unit one stored unit is.
fn json_unit(unit: FigureUnit) -> (&'static str, f64) {
    match unit {
        FigureUnit::Count | FigureUnit::Money => ("", 1.0),
        FigureUnit::Measured(Measure::Percent) => ("_percent", 100.0),
        FigureUnit::Measured(Measure::Pressure) => ("_kpa", 1e-3),
        FigureUnit::Measured(Measure::Distance) => ("_m", 1.0),
        FigureUnit::Measured(Measure::Volume) => ("_l", 1e3),
        FigureUnit::Measured(Measure::TotalFlow) => ("_l_min", 60_000.0),
        FigureUnit::Measured(_) => ("_si", 1.0),
    }
}

/// `hose_length_m.hose-8`: the unit stands before what is counted.
fn json_key(line: &ComparedFigure) -> String {
    let suffix = json_unit(line.figure.unit).0;
    match line.figure.key.name() {
        (figure, Some(of)) => format!("{figure}{suffix}.{of}"),
        (figure, None) => format!("{figure}{suffix}"),
    }
}

fn json_value(line: &ComparedFigure, amount: &Amount) -> Value {
    amount.value().map_or(Value::Null, |value| match line.figure.unit {
        FigureUnit::Count => json!(value as u64),
        unit => json!(value * json_unit(unit).1),
    })
}

fn report(
    project: &Project,
    comparison: &Comparison,
    releases: &[ReleaseSaid; 2],
    point: &OperatingPoint,
) -> Value {
    let side = |which: usize, read: fn(&ComparedFigure) -> &Amount| {
        let mut all = Map::new();
        all.insert("routing".to_owned(), json!(comparison.labels[which]));
        all.insert("solved".to_owned(), json!(comparison.unsolved[which].is_none()));
        all.insert("why_not_solved".to_owned(), json!(comparison.unsolved[which]));
        let held = match &releases[which] {
            ReleaseSaid::Held(words) => Some(words),
            ReleaseSaid::Released | ReleaseSaid::Awaited => None,
        };
        all.insert("released".to_owned(), json!(releases[which] == ReleaseSaid::Released));
        all.insert("why_not_released".to_owned(), json!(held));
        for line in &comparison.lines {
            all.insert(json_key(line), json_value(line, read(line)));
            match (line.figure.unit, read(line)) {
                (FigureUnit::Money, Amount::Is { note, .. }) => {
                    all.insert(format!("{}_currency", line.figure.key), json!(note));
                }
                (FigureUnit::Money, Amount::Unknown { why, .. }) => {
                    all.insert(format!("{}_unknown_because", line.figure.key), json!(why));
                }
                (_, Amount::Is { note, .. }) if !note.is_empty() => {
                    all.insert(format!("{}_note", line.figure.key), json!(note));
                }
                _ => {}
            }
        }
        Value::Object(all)
    };
    let differences: Vec<Value> = comparison
        .differing()
        .map(|line| {
            json!({
                "figure": json_key(line),
                "a": json_value(line, &line.a),
                "b": json_value(line, &line.b),
                "better": line.better().map(Which::key),
                "better_is": line.figure.better.word(),
            })
        })
        .collect();
    let rows: Vec<Value> = comparison
        .rows
        .iter()
        .map(|row| {
            json!({
                "row": row.number,
                "x_m": row.x.si(),
                "a_deviation_percent": row.a.map(percent),
                "b_deviation_percent": row.b.map(percent),
                "difference_percent": row.difference().map(percent),
                "nearer": row.nearer().map(Which::key),
            })
        })
        .collect();
    let items: Vec<Value> = comparison
        .items
        .iter()
        .map(|item| {
            json!({ "change": item.change.word(), "kind": item.kind, "tag": item.tag, "what": item.what })
        })
        .collect();
    let mut report = json!({
        "project": project.title.title,
        "speed_km_h": point.speed.as_kilometres_per_hour(),
        "verdict": comparison.verdict,
        "a": side(0, |line| &line.a),
        "b": side(1, |line| &line.b),
        "differences": differences,
        "rows": rows,
        "items": items,
    });
    if let (Some(name), Some(all)) = (&comparison.duty, report.as_object_mut()) {
        all.insert("duty".to_owned(), json!(name));
    }
    report
}
