//! `equirow catch PROJECT --test FILE.csv ...`: judges what was caught under the rows and says what explains it.

mod calibrating;
mod report;
mod rows;
mod table;

use std::fmt::Display;
use std::path::PathBuf;
use std::process::ExitCode;
use std::sync::Arc;

use clap::builder::PossibleValue;
use clap::{Args, ValueEnum, ValueHint};

use super::arguments::{self, AskedPoint, OneRouting};
use super::{ANSWER_IS_NO, Ended, FILE_TROUBLE, print, print_json, wrong_usage};
use crate::files::catch_readings::{CatchChoices, MissingLines, ReadCatches, read_catches_of};
use crate::plan::catch_amount::{CATCH_METRES, CATCH_SECONDS};
use crate::plan::catch_test::{GAUGE_READS, tested_bar};
use crate::plan::edit::{Edit, apply};
use crate::plan::{
    Catch, CatchSpan, CatchTest, CaughtLiquid, Drive, GaugeReading, OperatingPoint, Project, words,
};
use crate::quantities::{Length, Measure, Pressure, Ratio, UnitSystem};
use crate::studies::Unwatched;
use crate::studies::catch_test::explain::{ExplainOptions, explain};
use crate::studies::catch_test::judged::judge;
use crate::studies::catch_test::nothing_judged::NothingJudged;
use crate::studies::catch_test::prepare::{PreparedTest, dial};
use calibrating::{Calibrating, CalibrationReport, NAME};
use report::Answer;

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
    /// A pressure that was held at the pump by hand, in bar or with its unit, in place of a ground speed
    #[arg(long, value_name = "BAR", value_parser = arguments::pressure, conflicts_with_all = ["speed", "metres"])]
    pressure: Option<Pressure>,
    /// What a gauge showed, in bar or with its unit; once for each gauge. How well it is read may follow, one standard deviation:
    /// `G1=1.45±0.02`, `G1=21 psi+/-0.3 psi`; 1.6 % of its full scale unless given. What it may show on a bar as drawn follows
    /// from that and from the scatter of supply, parts and liquid, beside the other readings
    #[arg(long = "gauge", value_name = "TAG=BAR[±BAR]", value_parser = gauge)]
    gauges: Vec<TypedReading>,
    /// How well a jug or scale is read: one standard deviation in percent of an amount; 1 unless given
    #[arg(long, value_name = "PERCENT", value_parser = scatter_of_amount)]
    scatter_amount: Option<Ratio>,
    /// How well a watch is read: one standard deviation in seconds; 0.3 unless given
    #[arg(long, value_name = "S", value_parser = scatter_of_time)]
    scatter_time: Option<f64>,
    #[command(flatten)]
    at: AskedPoint,
    /// How the answer is written; csv holds the rows
    #[arg(long, value_enum, default_value = "table")]
    format: Format,
    #[command(flatten)]
    calibrating: Calibrating,
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
    arguments::number(value, Measure::Duration, *CATCH_SECONDS.start(), *CATCH_SECONDS.end())
}

fn metres(value: &str) -> Result<Length, String> {
    let (least, most) = (*CATCH_METRES.start(), *CATCH_METRES.end());
    arguments::number(value, Measure::Distance, least, most).map(Length::from_si)
}

fn scatter_of_amount(value: &str) -> Result<Ratio, String> {
    arguments::number(value, Measure::Percent, 0.01, 50.0).map(Ratio::from_si)
}

fn scatter_of_time(value: &str) -> Result<f64, String> {
    arguments::number(value, Measure::Duration, 0.0, 60.0)
}

fn gauge(value: &str) -> Result<TypedReading, String> {
    let Some((tag, shown)) = value.split_once('=').filter(|(tag, _)| !tag.trim().is_empty()) else {
        return Err(format!(
            "\"{}\" is no reading; write the gauge's tag, = and the pressure",
            words::short(value)
        ));
    };
    let [least, most] =
        [GAUGE_READS.start(), GAUGE_READS.end()].map(|one| Measure::Pressure.shown(*one, UnitSystem::Metric));
    let is_bare = |text: &str| Measure::Plain.parse(text, UnitSystem::Metric).is_ok();
    let (shown, sd) = match shown.split_once('±').or_else(|| shown.split_once("+/-")) {
        None => (shown, None),
        // A bare number behind psi may be psi or bar.
        Some((shown, sd)) if is_bare(sd) && !is_bare(shown) => {
            return Err(format!(
                "\"{}\" has no unit, and \"{}\" before it has one; write both, as in 21 psi±0.3 psi",
                words::short(sd.trim()),
                words::short(shown.trim())
            ));
        }
        Some((shown, sd)) => {
            let sd = arguments::number(sd, Measure::Pressure, GAUGE_SD_BAR.0, GAUGE_SD_BAR.1)?;
            (shown, Some(Pressure::from_si(sd)))
        }
    };
    let pressure = Pressure::from_si(arguments::number(shown, Measure::Pressure, least, most)?);
    Ok(TypedReading { tag: tag.trim().to_owned(), pressure, sd })
}

/// A reading of `--gauge`.
#[derive(Clone)]
struct TypedReading {
    tag: String,
    pressure: Pressure,
    sd: Option<Pressure>,
}

/// Least and largest standard deviation of a reading, bar.
const GAUGE_SD_BAR: (f64, f64) = (1e-5, 100.0);

/// Runs the subcommand. What can't be read of the table goes to standard error, and the rest is judged.
///
/// Exit codes: 0 every row is within the limits of the project; 1 one is not, or that is not known (a row was not caught, a line
/// could not be read), nothing can be said, or a calibration was asked for and nothing is told; 2 wrong usage; 3 a file can't be read or understood.
pub(super) fn run(asked: &Arguments) -> Ended {
    let permit = asked.calibrating.permit(&asked.of.file, &asked.test)?;
    let mut project = asked.of.open()?;
    let routing_id = asked.of.choose(&project, NAME)?.id;
    let duty = asked.of.duty(&project, NAME)?;
    let mut point = asked.at.of(duty);
    let read = read_catches_of(&asked.test, &CatchChoices::default()).map_err(|error| {
        eprintln!("equirow: {error}");
        ExitCode::from(FILE_TROUBLE)
    })?;
    if read.catches.is_empty() {
        say(asked, read.problems.problems().lines());
        return Err(ExitCode::from(FILE_TROUBLE));
    }
    // What a sheet was printed for is what it was caught at, unless somebody says otherwise.
    if !asked.at.asks_speed() {
        point.speed = read.made_of.speed.unwrap_or(point.speed);
    }
    let Some(mut bar) = tested_bar(&project, routing_id, point.duty) else {
        return Err(wrong_usage(Some(NAME), "the project has no such routing or duty"));
    };
    // The rate is the controller's, whatever the duty says.
    bar.duties.first_mut().rate = point.rate;
    let Taken { test, mut remarks } = taken(asked, &project, &bar, &point, &read)?;
    let id = test.id;
    let no = |remarks: &[String], what: String| {
        say(asked, remarks);
        eprintln!("equirow: {what}");
        ExitCode::from(ANSWER_IS_NO)
    };
    apply(&mut project, Edit::PutCatchTestOn(Box::new(test), Arc::new(bar)))
        .map_err(|error| no(&remarks, error.to_string()))?;
    let Some(test) = project.catch_tests.get(id) else { return Err(ExitCode::from(ANSWER_IS_NO)) };
    let prepared = PreparedTest::of(&project, test).map_err(|why| no(&remarks, why.to_string()))?;
    let mut judged = judge(&prepared).map_err(|why| no(&remarks, why.to_string()))?;
    remarks.extend(prepared.remarks().iter().map(ToString::to_string));
    remarks.extend(read.remarks.iter().cloned());
    let code = if judged.verdict.within_limits == Some(true) {
        ExitCode::SUCCESS
    } else {
        ExitCode::from(ANSWER_IS_NO)
    };
    if asked.format != Format::Json {
        say(asked, &remarks);
    }
    let calibration = permit
        .map(|permit| asked.calibrating.run(permit, &project, (test, &prepared, &judged)))
        .transpose()?;
    let is_told = calibration.as_ref().is_none_or(CalibrationReport::is_written);
    let code = if is_told { code } else { ExitCode::from(ANSWER_IS_NO) };
    // The rows alone need no causes.
    if asked.format == Format::Csv {
        return Ok(print(&rows::csv(&judged), code));
    }
    let explained = match NothingJudged::of(test) {
        Some(why) => Err(why.into()),
        None => explain(&prepared.tested(), &project.cause_weights, &ExplainOptions::default(), &Unwatched),
    };
    if let Ok(explained) = &explained {
        judged.heed(explained);
    }
    let answer = Answer {
        test,
        prepared: &prepared,
        judged: &judged,
        explained: explained.as_ref(),
        remarks: &remarks,
        calibration,
    };
    Ok(match asked.format {
        Format::Json => print_json(&answer.for_programs(&project), code),
        Format::Table | Format::Csv => print(&answer.table(&project), code),
    })
}

/// Lines about the table, each with its file.
fn say<T: Display>(asked: &Arguments, lines: impl IntoIterator<Item = T>) {
    for line in lines {
        eprintln!("equirow: {}: {line}", asked.test.display());
    }
}

/// A test as it was read and asked for, and what is to be said of that.
struct Taken {
    test: CatchTest,
    remarks: Vec<String>,
}

/// Makes a test of what was read; a refusal has been printed.
fn taken(
    asked: &Arguments,
    project: &Project,
    bar: &Project,
    point: &OperatingPoint,
    read: &ReadCatches,
) -> Result<Taken, ExitCode> {
    let mut remarks = Vec::new();
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
    let drive = asked.pressure.map_or(Drive::Speed(point.speed), Drive::HeldPressure);
    let taken = read.taken(bar, liquid, asked.pressure.is_none().then_some(point.speed));
    let doubts = if asked.seconds.is_some() || asked.metres.is_some() {
        // What is given counts in place of a time that can't be read.
        remarks.extend(read.time_unread.problems().lines());
        taken.doubts(&ReadCatches { time_unread: MissingLines::default(), ..read.clone() }, bar)
    } else {
        taken.doubts(read, bar)
    };
    remarks.extend(doubts.iter().map(|one| one.says.clone()));
    // Where it is not known, it may stand in one of the lines that could not be read.
    let span = span(asked, read, &taken.catches).inspect_err(|_| say(asked, &remarks))?;
    if let (CatchSpan::Seconds(seconds), Some(printed)) = (span, read.seconds)
        && seconds != printed
    {
        remarks.push(format!("--seconds {seconds} counts; the sheet says {printed} s"));
    }
    let typed = readings(asked, bar)?;
    let mut gauges = taken.gauges;
    // What is typed counts in place of what a sheet says.
    gauges.retain(|one| typed.iter().all(|other| other.part != one.part));
    gauges.extend(typed);
    let empty = project.catch_tests.empty_at(point);
    let mut scatter = empty.scatter;
    scatter.amount = asked.scatter_amount.unwrap_or(scatter.amount);
    scatter.seconds = asked.scatter_time.unwrap_or(scatter.seconds);
    let mut test = CatchTest {
        liquid,
        temperature: if asked.at.asks_temperature() { Some(point.temperature) } else { read.temperature },
        drive,
        span,
        catches: taken.catches,
        gauges,
        scatter,
        date: read.date.clone(),
        by: read.by.clone(),
        ..empty
    };
    test.add_doubts(doubts);
    Ok(Taken { test, remarks })
}

/// How long every row was caught; a refusal has been printed.
fn span(asked: &Arguments, read: &ReadCatches, catches: &[Catch]) -> Result<CatchSpan, ExitCode> {
    match (asked.seconds, asked.metres, read.seconds) {
        (Some(seconds), ..) | (None, None, Some(seconds)) => Ok(CatchSpan::Seconds(seconds)),
        (None, Some(distance), _) => Ok(CatchSpan::Distance(distance)),
        (None, None, None) => {
            // Where every line brings its own, none is that of the test.
            let all_bring = catches.iter().all(|one| one.span.is_some());
            catches.first().and_then(|one| one.span).filter(|_| all_bring).ok_or_else(|| {
                let known =
                    if read.time_unread.is_empty() { "is not known from" } else { "can't be read in" };
                let what =
                    format!("how long every row was caught {known} the table; give --seconds or --metres");
                wrong_usage(Some(NAME), &what)
            })
        }
    }
}

/// The readings of `--gauge`; a refusal has been printed.
fn readings(asked: &Arguments, bar: &Project) -> Result<Vec<GaugeReading>, ExitCode> {
    let routing = bar.routings.first();
    let parts = routing.map(|routing| routing.parts.as_slice()).unwrap_or_default();
    asked
        .gauges
        .iter()
        .map(|TypedReading { tag, pressure, sd }| {
            let part = parts.iter().find(|part| part.tag == *tag).ok_or_else(|| {
                let name = routing.map_or("", |routing| routing.name.as_str());
                wrong_usage(Some(NAME), &format!("--gauge: routing {name} has no part \"{tag}\""))
            })?;
            if let (Some(sd), Some(end)) = (sd, dial(bar, part))
                && *sd > end
            {
                let text = |pressure: Pressure| Measure::Pressure.text(pressure.si(), bar.units);
                let what = format!(
                    "--gauge: {tag} is read within ±{}, which is more than its whole dial to {}; give one standard deviation",
                    text(*sd),
                    text(end)
                );
                return Err(wrong_usage(Some(NAME), &what));
            }
            Ok(GaugeReading { part: part.id, pressure: *pressure, sd: *sd })
        })
        .collect()
}
