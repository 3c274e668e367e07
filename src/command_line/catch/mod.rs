//! `equirow catch PROJECT --test FILE.csv ...`: judges what was caught under the rows and says what explains it.

mod report;

use std::path::PathBuf;
use std::process::ExitCode;
use std::sync::Arc;

use clap::builder::PossibleValue;
use clap::{Args, ValueEnum, ValueHint};

use super::arguments::{self, AskedPoint, OneRouting};
use super::{ANSWER_IS_NO, Ended, FILE_TROUBLE, print, print_json, wrong_usage};
use crate::files::catch_readings::{CatchChoices, read_catches_of};
use crate::plan::catch_test::{LONGEST_CATCH, tested_bar};
use crate::plan::edit::{Edit, apply};
use crate::plan::{CatchSpan, CatchTest, CaughtLiquid, GaugeReading, Project, Routing, words};
use crate::quantities::{Length, Measure, Pressure};
use crate::studies::Unwatched;
use crate::studies::catch_test::explain::{ExplainOptions, explain};
use crate::studies::catch_test::judged::judge;
use crate::studies::catch_test::prepare::PreparedTest;
use report::Answer;

/// The subcommand.
const NAME: &str = "catch";

#[derive(Args)]
pub(super) struct Arguments {
    #[command(flatten)]
    of: OneRouting,
    /// What was caught: CSV with columns `row` and `ml`, `g`, `fl_oz` or `lb` (a row again is another catch, a blank amount was
    /// not caught), or the commissioning sheet filled in as CSV or XLSX
    #[arg(long, value_name = "FILE.csv", value_hint = ValueHint::FilePath)]
    test: PathBuf,
    /// How long every row was caught; what the table says unless given
    #[arg(long, value_name = "S", value_parser = seconds, conflicts_with = "metres")]
    seconds: Option<f64>,
    /// Over what distance every row was caught, at the ground speed
    #[arg(long, value_name = "M", value_parser = metres)]
    metres: Option<Length>,
    /// What ran through the bar; the duty's liquid unless the table or this says water
    #[arg(long, value_name = "LIQUID", value_enum)]
    liquid: Option<CaughtLiquid>,
    /// What a gauge showed, in bar or with its unit; once for each gauge
    #[arg(long = "gauge", value_name = "TAG=BAR", value_parser = gauge)]
    gauges: Vec<(String, Pressure)>,
    #[command(flatten)]
    at: AskedPoint,
    /// How the answer is written; csv holds the rows
    #[arg(long, value_enum, default_value = "table")]
    format: Format,
}

/// How the answer is written.
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Format {
    Table,
    Json,
    Csv,
}

impl ValueEnum for CaughtLiquid {
    fn value_variants<'a>() -> &'a [Self] {
        &[Self::Product, Self::Water]
    }

    fn to_possible_value(&self) -> Option<PossibleValue> {
        Some(match self {
            Self::Product => PossibleValue::new("product"),
            Self::Water => PossibleValue::new("water"),
        })
    }
}

fn seconds(value: &str) -> Result<f64, String> {
    arguments::number(value, Measure::Duration, 1.0, LONGEST_CATCH)
}

fn metres(value: &str) -> Result<Length, String> {
    arguments::number(value, Measure::Distance, 1.0, 50_000.0).map(Length::from_si)
}

fn gauge(value: &str) -> Result<(String, Pressure), String> {
    let Some((tag, shown)) = value.split_once('=').filter(|(tag, _)| !tag.trim().is_empty()) else {
        return Err(format!(
            "\"{}\" is no reading; write the gauge's tag, = and the pressure",
            words::short(value)
        ));
    };
    let pressure = arguments::number(shown, Measure::Pressure, 0.0, 1000.0)?;
    Ok((tag.trim().to_owned(), Pressure::from_si(pressure)))
}

/// Runs the subcommand. What can't be read of the table goes to standard error, and the rest is judged.
///
/// Exit codes: 0 every row that was caught is within the limits of the project; 1 one is not, something in the file could not be
/// taken, or nothing can be said; 2 wrong usage; 3 a file can't be read or understood.
pub(super) fn run(asked: &Arguments) -> Ended {
    let mut project = asked.of.open()?;
    let routing = asked.of.choose(&project, NAME)?;
    let routing_id = routing.id;
    let duty = asked.of.duty(&project, NAME)?;
    let point = asked.at.of(duty);
    let read = read_catches_of(&asked.test, &CatchChoices::default()).map_err(|error| {
        eprintln!("equirow: {error}");
        ExitCode::from(FILE_TROUBLE)
    })?;
    let mut remarks: Vec<String> = read.problems.lines().collect();
    if read.catches.is_empty() {
        for line in &remarks {
            eprintln!("equirow: {}: {line}", asked.test.display());
        }
        return Err(ExitCode::from(FILE_TROUBLE));
    }
    let liquid = asked.liquid.unwrap_or_else(|| match read.liquids().as_slice() {
        [CaughtLiquid::Water] => CaughtLiquid::Water,
        _ => CaughtLiquid::Product,
    });
    if read.liquids().len() > 1 && asked.liquid.is_none() {
        remarks.push(
            "the table holds catches of the liquid and of water: those of the liquid are judged; --liquid water judges the \
             others"
                .to_owned(),
        );
    }
    let Some(mut bar) = tested_bar(&project, routing_id, point.duty) else {
        return Err(wrong_usage(Some(NAME), "the project has no such routing or duty"));
    };
    // The rate is the controller's, whatever the duty says.
    bar.duties.first_mut().rate = point.rate;
    let taken = read.taken(&bar, liquid, Some(point.speed));
    remarks.extend(taken.problems.lines());
    let all_taken = read.problems.is_empty() && taken.problems.is_empty();
    let mut gauges = taken.gauges;
    gauges.extend(readings(asked, routing_of(&bar))?);
    let span = match (asked.seconds, asked.metres, read.seconds) {
        (Some(seconds), ..) | (None, None, Some(seconds)) => CatchSpan::Seconds(seconds),
        (None, Some(distance), _) => CatchSpan::Distance(distance),
        (None, None, None) => {
            // Where every line brings its own, none is that of the test.
            let all_bring = taken.catches.iter().all(|one| one.span.is_some());
            taken.catches.first().and_then(|one| one.span).filter(|_| all_bring).ok_or_else(|| {
                let what = "the table does not say how long every row was caught; give --seconds or --metres";
                wrong_usage(Some(NAME), what)
            })?
        }
    };
    let test = CatchTest {
        liquid,
        temperature: if asked.at.asks_temperature() { Some(point.temperature) } else { read.temperature },
        span,
        catches: taken.catches,
        gauges,
        date: read.date.clone(),
        by: read.by.clone(),
        ..project.catch_tests.empty_at(&point)
    };
    let id = test.id;
    let no = |what: String| {
        for line in &remarks {
            eprintln!("equirow: {}: {line}", asked.test.display());
        }
        eprintln!("equirow: {what}");
        ExitCode::from(ANSWER_IS_NO)
    };
    apply(&mut project, Edit::PutCatchTestOn(Box::new(test), Arc::new(bar)))
        .map_err(|error| no(error.to_string()))?;
    let Some(test) = project.catch_tests.get(id) else { return Err(ExitCode::from(ANSWER_IS_NO)) };
    let prepared = PreparedTest::of(&project, test).map_err(|why| no(why.to_string()))?;
    let judged = judge(&prepared).map_err(|why| no(why.to_string()))?;
    remarks.extend(prepared.remarks().iter().map(ToString::to_string));
    remarks.extend(read.remarks.iter().cloned());
    let code = if judged.verdict.within_limits && all_taken {
        ExitCode::SUCCESS
    } else {
        ExitCode::from(ANSWER_IS_NO)
    };
    if asked.format != Format::Json {
        for line in &remarks {
            eprintln!("equirow: {}: {line}", asked.test.display());
        }
    }
    // The rows alone need no causes.
    if asked.format == Format::Csv {
        return Ok(print(&report::csv(&judged), code));
    }
    let explained =
        explain(&prepared.tested(), &project.cause_weights, &ExplainOptions::default(), &Unwatched);
    let answer =
        Answer { test: &prepared, judged: &judged, explained: explained.as_ref(), remarks: &remarks };
    Ok(match asked.format {
        Format::Json => print_json(&answer.for_programs(), code),
        Format::Table | Format::Csv => print(&answer.table(test, &project), code),
    })
}

/// The one routing of a tested bar.
fn routing_of(bar: &Project) -> Option<&Routing> {
    bar.routings.first()
}

/// The readings of `--gauge`; a refusal has been printed.
fn readings(asked: &Arguments, routing: Option<&Routing>) -> Result<Vec<GaugeReading>, ExitCode> {
    let parts = routing.map(|routing| routing.parts.as_slice()).unwrap_or_default();
    asked
        .gauges
        .iter()
        .map(|(tag, pressure)| {
            let part = parts.iter().find(|part| part.tag == *tag).ok_or_else(|| {
                let name = routing.map_or("", |routing| routing.name.as_str());
                wrong_usage(Some(NAME), &format!("--gauge: routing {name} has no part \"{tag}\""))
            })?;
            Ok(GaugeReading { part: part.id, pressure: *pressure, sd: None })
        })
        .collect()
}
