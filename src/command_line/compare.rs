//! `equirow compare PROJECT A B ...`: weighs two routings of a project against each other.

use std::process::ExitCode;

use serde_json::{Map, Value, json};

use super::asked::{self, Given, NO_PROJECT, is_json, named, walk};
use super::{ANSWER_IS_NO, print, wrong_usage};
use crate::hydraulics::outcome::Outcome;
use crate::hydraulics::solve;
use crate::hydraulics::speed_range::{SpeedRange, speed_range};
use crate::plan::{OperatingPoint, Project, Routing};
use crate::quantities::{Measure, Ratio, Speed};
use crate::studies::comparison::{Amount, Comparison, Contender, Line, Unit, Which, compare, table};

/// How it is called.
pub(super) const USAGE: &str = "equirow compare PROJECT A B [--speed KMH] [--format table|json]";

struct Request {
    file: String,
    names: [String; 2],
    speed: Option<Speed>,
    json: bool,
}

/// Runs the subcommand with the arguments after its name. Without a speed the project's usual one is looked at.
///
/// Exit codes: 0 both have numbers; 1 one of them can't be solved, or feeds no row; 2 wrong usage, also a routing
/// that does not exist; 3 the file can't be read or understood.
pub fn run(arguments: &[String]) -> ExitCode {
    let usage = format!("usage: {USAGE}");
    let request = match parse(arguments) {
        Ok(request) => request,
        Err(what) => return wrong_usage(&what, &usage),
    };
    let project = match asked::open(&request.file) {
        Ok(project) => project,
        Err(code) => return code,
    };
    let [a, b] = &request.names;
    let both = named(&project, "A", a, USAGE).and_then(|first| Ok((first, named(&project, "B", b, USAGE)?)));
    let (routing_a, routing_b) = match both {
        Ok(routings) => routings,
        Err(code) => return code,
    };
    let mut point = project.application.usual_point();
    point.speed = request.speed.unwrap_or(point.speed);
    let solved_a = solved(&project, routing_a, &point);
    let solved_b = solved(&project, routing_b, &point);
    let comparison = compare(&project, &contender(routing_a, &solved_a), &contender(routing_b, &solved_b));
    for (label, why) in comparison.labels.iter().zip(&comparison.unsolved) {
        if let Some(why) = why {
            eprintln!("equirow: routing {label}: {why}");
        }
    }
    let answer_is_no = comparison.unsolved.iter().any(Option::is_some);
    let code = if answer_is_no { ExitCode::from(ANSWER_IS_NO) } else { ExitCode::SUCCESS };
    if request.json {
        match serde_json::to_string_pretty(&report(&project, &comparison, &point)) {
            Ok(text) => print(&format!("{text}\n"), code),
            Err(error) => {
                eprintln!("equirow: the answer can't be put into JSON: {error}");
                ExitCode::from(ANSWER_IS_NO)
            }
        }
    } else {
        print(&table::text(&comparison, project.units), code)
    }
}

fn solved(project: &Project, routing: &Routing, point: &OperatingPoint) -> (Outcome, SpeedRange) {
    let outcome = solve(project, routing, point);
    let range = speed_range(project, routing, point, Some(&outcome));
    (outcome, range)
}

const fn contender<'a>(routing: &'a Routing, (outcome, range): &'a (Outcome, SpeedRange)) -> Contender<'a> {
    Contender { routing, outcome, range }
}

fn parse(arguments: &[String]) -> Result<Request, String> {
    let mut names: Vec<String> = Vec::new();
    let (mut speed, mut json) = (None, false);
    walk(arguments, "--", &["--speed", "--format"], &[], |given| {
        match given {
            Given::Name(name) | Given::Flag(name) => names.push(name.to_owned()),
            Given::Value("--speed", value) => speed = Some(asked::speed("--speed", &value)?),
            Given::Value(_, value) => json = is_json(&value)?,
        }
        Ok(())
    })?;
    match <[String; 3]>::try_from(names) {
        Ok([file, a, b]) => Ok(Request { file, names: [a, b], speed, json }),
        Err(names) => Err(match names.len() {
            0 => NO_PROJECT.to_owned(),
            1 => "A: no routing is given; name two routings behind the project".to_owned(),
            2 => format!("B: only \"{}\" is given; name the routing to compare it with", names[1]),
            _ => format!("\"{}\" is one name too many; give PROJECT, A and B", names[3]),
        }),
    }
}

/// A figure's key with its unit, and how many of that unit one stored unit is.
fn json_unit(unit: Unit) -> (&'static str, f64) {
    match unit {
        Unit::Count | Unit::Money => ("", 1.0),
        Unit::Measured(Measure::Percent) => ("_percent", 100.0),
        Unit::Measured(Measure::Pressure) => ("_kpa", 1e-3),
        Unit::Measured(Measure::Distance) => ("_m", 1.0),
        Unit::Measured(Measure::Volume) => ("_l", 1e3),
        Unit::Measured(Measure::TotalFlow) => ("_l_min", 60_000.0),
        Unit::Measured(_) => ("_si", 1.0),
    }
}

/// `hose_length.hose-8` becomes `hose_length_m.hose-8`: the unit stands before what is counted.
fn json_key(line: &Line) -> String {
    let suffix = json_unit(line.figure.unit).0;
    match line.figure.key.split_once('.') {
        Some((figure, of)) => format!("{figure}{suffix}.{of}"),
        None => format!("{}{suffix}", line.figure.key),
    }
}

fn json_value(line: &Line, amount: &Amount) -> Value {
    amount.value().map_or(Value::Null, |value| match line.figure.unit {
        Unit::Count => json!(value as u64),
        unit => json!(value * json_unit(unit).1),
    })
}

fn report(project: &Project, comparison: &Comparison, point: &OperatingPoint) -> Value {
    let side = |which: usize, read: fn(&Line) -> &Amount| {
        let mut all = Map::new();
        all.insert("routing".to_owned(), json!(comparison.labels[which]));
        all.insert("solved".to_owned(), json!(comparison.unsolved[which].is_none()));
        all.insert("why_not_solved".to_owned(), json!(comparison.unsolved[which]));
        for line in &comparison.lines {
            all.insert(json_key(line), json_value(line, read(line)));
            match (line.figure.unit, read(line)) {
                (Unit::Money, Amount::Is { note, .. }) => {
                    all.insert(format!("{}_currency", line.figure.key), json!(note));
                }
                (Unit::Money, Amount::Unknown { why, .. }) => {
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
    let percent = |ratio: Option<Ratio>| ratio.map(Ratio::as_percent);
    let rows: Vec<Value> = comparison
        .rows
        .iter()
        .map(|row| {
            json!({
                "row": row.number,
                "x_m": row.x.si(),
                "a_deviation_percent": percent(row.a),
                "b_deviation_percent": percent(row.b),
                "difference_percent": percent(row.difference()),
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
    json!({
        "project": project.title.title,
        "speed_km_h": point.speed.as_kilometres_per_hour(),
        "verdict": comparison.verdict,
        "a": side(0, |line| &line.a),
        "b": side(1, |line| &line.b),
        "differences": differences,
        "rows": rows,
        "items": items,
    })
}
