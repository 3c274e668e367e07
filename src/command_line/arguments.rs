//! What several subcommands ask alike: a project file, one of its routings, an operating point, and how values are read.

use std::ffi::{OsStr, OsString};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::builder::PossibleValue;
use clap::{Arg, Args, Command, ValueEnum, ValueHint};

use super::{ANSWER_IS_NO, FILE_TROUBLE, wrong_usage};
use crate::files;
use crate::plan::{Duty, DutyId, OperatingPoint, Project, Routing, words};
use crate::quantities::number_marks::{Marked, marked};
use crate::quantities::{Angle, ApplicationRate, Measure, Pressure, Speed, Temperature, UnitSystem};

/// A project file, one of its routings and one of its duties.
#[derive(Args)]
pub(super) struct OneRouting {
    /// The project to read
    #[arg(value_name = "PROJECT", value_hint = ValueHint::FilePath)]
    pub(super) file: PathBuf,
    /// The routing; the project's first unless given
    #[arg(long, value_name = "NAME")]
    routing: Option<String>,
    #[command(flatten)]
    duty: OneDuty,
}

impl OneRouting {
    /// Opens the project; a refusal has been printed.
    pub(super) fn open(&self) -> Result<Project, ExitCode> {
        open(&self.file)
    }

    /// The routing asked for, or the first; a refusal has been printed.
    pub(super) fn choose<'a>(&self, project: &'a Project, subcommand: &str) -> Result<&'a Routing, ExitCode> {
        routing_or_first(project, self.routing.as_deref(), subcommand)
    }

    /// The duty asked for, or the first; a refusal has been printed.
    pub(super) fn duty<'a>(&self, project: &'a Project, subcommand: &str) -> Result<&'a Duty, ExitCode> {
        self.duty.choose(project, subcommand)
    }
}

/// The routing of a name, or the first; a refusal has been printed.
pub(super) fn routing_or_first<'a>(
    project: &'a Project,
    name: Option<&str>,
    subcommand: &str,
) -> Result<&'a Routing, ExitCode> {
    match name {
        Some(name) => named(project, "--routing", name, subcommand),
        None => project.routings.first().ok_or_else(|| {
            eprintln!("equirow: the project has no routing; add one in the window first");
            ExitCode::from(ANSWER_IS_NO)
        }),
    }
}

/// One of a project's duties.
#[derive(Args)]
pub(super) struct OneDuty {
    /// The duty: its liquid, rate, speeds and slopes; the project's first unless given
    #[arg(long, value_name = "NAME")]
    duty: Option<String>,
}

impl OneDuty {
    /// The duty asked for, or the first; a refusal has been printed.
    pub(super) fn choose<'a>(&self, project: &'a Project, subcommand: &str) -> Result<&'a Duty, ExitCode> {
        let Some(name) = &self.duty else { return Ok(project.duties.first()) };
        project.duties.named(name).ok_or_else(|| {
            let names: Vec<&str> = project.duties.iter().map(|duty| duty.name.as_str()).collect();
            let what = format!("--duty: the project has no duty \"{name}\"; it has {}", names.join(", "));
            wrong_usage(Some(subcommand), &what)
        })
    }
}

/// Opens a project; a refusal has been printed.
pub(super) fn open(file: &Path) -> Result<Project, ExitCode> {
    let (project, notes) = files::open_with_notes(file).map_err(|error| {
        eprintln!("equirow: {error}");
        ExitCode::from(FILE_TROUBLE)
    })?;
    for note in notes {
        eprintln!("equirow: {}: {note}", file.display());
    }
    Ok(project)
}

/// The routing that an argument names; a refusal has been printed.
pub(super) fn named<'a>(
    project: &'a Project,
    argument: &str,
    name: &str,
    subcommand: &str,
) -> Result<&'a Routing, ExitCode> {
    project.routing_named(name).ok_or_else(|| {
        let names: Vec<&str> = project.routings.iter().map(|routing| routing.name.as_str()).collect();
        let what = format!("{argument}: the project has no routing \"{name}\"; it has {}", names.join(", "));
        wrong_usage(Some(subcommand), &what)
    })
}

/// Where the operating point differs from the usual one.
#[derive(Args)]
pub(super) struct AskedPoint {
    /// Ground speed in km/h; the duty's usual one unless given
    #[arg(long, value_name = "KMH", value_parser = speed)]
    speed: Option<Speed>,
    /// Application rate in L/ha; the duty's unless given
    #[arg(long, value_name = "L_HA", value_parser = rate)]
    rate: Option<ApplicationRate>,
    /// Temperature of the liquid in °C; the duty's unless given
    #[arg(long, value_name = "C", value_parser = temperature)]
    temperature: Option<Temperature>,
    /// Side slope in percent, positive with the right side up
    #[arg(long, value_name = "PERCENT", value_parser = slope)]
    slope: Option<Angle>,
    /// Fore-aft slope in percent, positive with the nose up
    #[arg(long, value_name = "PERCENT", value_parser = slope)]
    fore_aft_slope: Option<Angle>,
}

impl AskedPoint {
    /// A speed is asked for.
    pub(super) const fn asks_speed(&self) -> bool {
        self.speed.is_some()
    }

    /// A temperature is asked for.
    pub(super) const fn asks_temperature(&self) -> bool {
        self.temperature.is_some()
    }

    /// Where to solve for a duty.
    pub(super) fn of(&self, duty: &Duty) -> OperatingPoint {
        let mut point = duty.usual_point();
        point.speed = self.speed.unwrap_or(point.speed);
        point.rate = self.rate.unwrap_or(point.rate);
        point.temperature = self.temperature.unwrap_or(point.temperature);
        point.side_slope = self.slope.unwrap_or(point.side_slope);
        point.fore_aft_slope = self.fore_aft_slope.unwrap_or(point.fore_aft_slope);
        point
    }
}

/// The name of a project file to write: without its ending nobody would find it again among the projects.
pub(super) fn project_file(path: PathBuf) -> Result<PathBuf, String> {
    ending_in(path, "ron", "projects")
}

/// The name of a file to write, which ends as such files do: under another ending other programs would take it for what it
/// is not.
pub(super) fn ending_in(path: PathBuf, ending: &str, such: &str) -> Result<PathBuf, String> {
    // A folder, a device or a pipe is refused for what it is, whatever it is called.
    let is_no_file = path.metadata().is_ok_and(|found| !found.is_file());
    if is_no_file || path.extension().is_some_and(|found| found.eq_ignore_ascii_case(ending)) {
        Ok(path)
    } else {
        Err(format!("\"{}\" is no .{ending} file, as {such} are; end its name in .{ending}", path.display()))
    }
}

/// The name of a duty where the project has several, as JSON holds it.
pub(super) fn duty_name(project: &Project, duty: DutyId) -> Option<String> {
    project.duties.are_several().then(|| project.duty(duty).name.clone())
}

/// An operating point in words; its duty is named where the project has several.
pub(super) fn conditions(project: &Project, point: &OperatingPoint, units: UnitSystem) -> String {
    let duty = duty_name(project, point.duty).map_or_else(String::new, |name| format!("duty {name}, "));
    let liquid = &project.duty(point.duty).liquid;
    let caution =
        liquid.caution().map_or_else(String::new, |caution| format!("; the liquid is {}", caution.short()));
    let told = liquid.viscosity_source.calibrated();
    let told = told.map_or_else(String::new, |by| format!("; viscosity {}", by.words_with_interval(units)));
    format!(
        "{duty}{}, {}, {}, side slope {}, fore-aft slope {}{caution}{told}",
        Measure::Rate.text(point.rate.si(), units),
        Measure::GroundSpeed.text(point.speed.si(), units),
        Measure::Temperature.text(point.temperature.si(), units),
        words::side_slope(point.side_slope, units),
        words::fore_aft_slope(point.fore_aft_slope, units),
    )
}

/// A number, with a unit or in the metric one, as it is stored; `least` and `most` as shown in metric units.
pub(super) fn number(value: &str, measure: Measure, least: f64, most: f64) -> Result<f64, String> {
    let read = |text: &str| measure.parse(text, UnitSystem::Metric).map_err(|error| error.to_string());
    let may_be = |stored: f64| (least..=most).contains(&measure.shown(stored, UnitSystem::Metric));
    // A point is a decimal mark; a comma may part off thousands.
    let stored = match marked(value) {
        Marked::Either { mark: ',', whole, decimal } => {
            let [as_whole, as_decimal] = [read(&whole)?, read(&decimal)?];
            if may_be(as_whole) && may_be(as_decimal) {
                let value = words::short(value);
                return Err(format!("\"{value}\" may be {whole} or {decimal}; write the one that is meant"));
            }
            if may_be(as_whole) { as_whole } else { as_decimal }
        }
        _ => read(value)?,
    };
    if may_be(stored) {
        Ok(stored)
    } else {
        let unit = measure.unit(UnitSystem::Metric).symbol;
        Err(format!("\"{}\" is out of range; give {least} {unit} to {most} {unit}", words::short(value)))
    }
}

/// A whole number within a range, as typed.
pub(super) fn whole<const LEAST: u64, const MOST: u64>(value: &str) -> Result<u64, String> {
    value.trim().parse::<u64>().ok().filter(|one| (LEAST..=MOST).contains(one)).ok_or_else(|| {
        format!("\"{}\" is no whole number from {LEAST} to {MOST}; give one", words::short(value))
    })
}

/// A ground speed as typed.
pub(super) fn speed(value: &str) -> Result<Speed, String> {
    number(value, Measure::GroundSpeed, 0.1, 100.0).map(Speed::from_si)
}

/// A pressure as typed.
pub(super) fn pressure(value: &str) -> Result<Pressure, String> {
    number(value, Measure::Pressure, 0.001, 100.0).map(Pressure::from_si)
}

fn rate(value: &str) -> Result<ApplicationRate, String> {
    number(value, Measure::Rate, 0.1, 10_000.0).map(ApplicationRate::from_si)
}

fn temperature(value: &str) -> Result<Temperature, String> {
    number(value, Measure::Temperature, -60.0, 120.0).map(Temperature::from_si)
}

fn slope(value: &str) -> Result<Angle, String> {
    number(value, Measure::Slope, -100.0, 100.0).map(Angle::from_si)
}

/// How an answer is written.
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum Format {
    Table,
    Json,
}

impl ValueEnum for UnitSystem {
    fn value_variants<'a>() -> &'a [Self] {
        &Self::ALL
    }

    fn to_possible_value(&self) -> Option<PossibleValue> {
        Some(match self {
            Self::Metric => PossibleValue::new("metric"),
            Self::UsCustomary => PossibleValue::new("us").alias("us customary"),
        })
    }
}

/// Joins an option to its value (`--slope -5` becomes `--slope=-5`) where the value begins with a dash and is no option
/// itself: slopes may be negative, and names of files begin with anything.
pub(super) fn join_values(command: &Command, arguments: Vec<OsString>) -> Vec<OsString> {
    let Some(subcommand) = innermost(command, &arguments) else { return arguments };
    let option = |text: &OsStr| {
        let is_it = |one: &&Arg| {
            one.get_long().is_some_and(|long| text == OsStr::new(&format!("--{long}")))
                || one.get_short().is_some_and(|short| text == OsStr::new(&format!("-{short}")))
        };
        subcommand.get_arguments().find(is_it)
    };
    let mut joined = Vec::with_capacity(arguments.len());
    let mut rest = arguments.into_iter().peekable();
    while let Some(mut one) = rest.next() {
        if one == "--" {
            joined.push(one);
            joined.extend(rest);
            break;
        }
        let is_value = |next: &OsString| {
            next.as_encoded_bytes().starts_with(b"-") && next != "--" && option(next).is_none()
        };
        if option(&one).is_some_and(|option| option.get_action().takes_values())
            && let Some(value) = rest.next_if(is_value)
        {
            one.push("=");
            one.push(value);
        }
        joined.push(one);
    }
    joined
}

/// The subcommand that the first arguments name, and of one that has subcommands of its own the one of these.
pub(super) fn innermost<'a>(command: &'a Command, arguments: &[OsString]) -> Option<&'a Command> {
    let found = subcommand_of(command, arguments)?;
    let within = arguments.get(1..).and_then(|rest| innermost(found, rest));
    Some(within.unwrap_or(found))
}

/// The names that lead to it: `study metering`; empty where the first argument names no subcommand.
pub(super) fn path_of(command: &Command, arguments: &[OsString]) -> String {
    let (mut names, mut within) = (Vec::new(), command);
    while let Some(found) = arguments.get(names.len()..).and_then(|rest| subcommand_of(within, rest)) {
        names.push(found.get_name());
        within = found;
    }
    names.join(" ")
}

/// The subcommand that the first argument names.
pub(super) fn subcommand_of<'a>(command: &'a Command, arguments: &[OsString]) -> Option<&'a Command> {
    command.find_subcommand(arguments.first()?)
}
