//! What several subcommands ask alike: their arguments, a project file, one of its routings, and an operating point.

use std::process::ExitCode;

use super::raw_names::path_of;
use super::{ANSWER_IS_NO, FILE_TROUBLE, wrong_usage};
use crate::files;
use crate::plan::{OperatingPoint, Project, Routing};
use crate::quantities::{Angle, ApplicationRate, Measure, Speed, Temperature, UnitSystem};

/// The options that every subcommand with an operating point knows.
const OPTIONS: [&str; 6] = ["--routing", "--speed", "--rate", "--temperature", "--slope", "--fore-aft-slope"];

/// One argument, or an option with its value.
pub(super) enum Given<'a> {
    /// No option: a file, or the name of something.
    Name(&'a str),
    /// An option that stands alone.
    Flag(&'a str),
    /// An option and its value, given as `--option value` or `--option=value`.
    Value(&'a str, String),
}

/// Hands on the arguments behind a subcommand's name, one after the other; what begins with `dash` is an option. None
/// may be given twice, and an option is no value of another unless it is joined to it: `--out=--help`.
pub(super) fn walk(
    arguments: &[String],
    dash: &str,
    options: &[&str],
    flags: &[&str],
    mut take: impl FnMut(Given) -> Result<(), String>,
) -> Result<(), String> {
    let mut rest = arguments.iter();
    let mut seen: Vec<&str> = Vec::new();
    while let Some(argument) = rest.next() {
        let (option, joined) = match argument.split_once('=') {
            Some((option, value)) if option.starts_with("--") => (option, Some(value.to_owned())),
            _ => (argument.as_str(), None),
        };
        let is_known = |one: &str| options.contains(&one) || flags.contains(&one);
        if is_known(option) {
            if seen.contains(&option) {
                return Err(format!("{option} is given twice; give it once"));
            }
            seen.push(option);
        }
        if !option.starts_with(dash) {
            take(Given::Name(argument))?;
        } else if flags.contains(&option) && joined.is_none() {
            take(Given::Flag(option))?;
        } else if options.contains(&option) {
            let behind = || rest.next().filter(|next| !is_known(next)).cloned();
            let value = joined.or_else(behind).filter(|value| !value.is_empty());
            let value = value.ok_or_else(|| format!("{option} needs a value behind it"))?;
            take(Given::Value(option, value))?;
        } else if joined.is_some() && flags.contains(&option) {
            return Err(format!("{option} stands alone, but found \"{argument}\""));
        } else {
            let known = [options, flags].concat().join(", ");
            return Err(format!("the option {option} is not known; try one of {known}"));
        }
    }
    Ok(())
}

/// Keeps the one file that may be named, by the argument's name in the usage.
pub(super) fn take_file(file: &mut String, name: &str, argument: &str) -> Result<(), String> {
    if name.is_empty() {
        return Err(format!("{argument}: \"\" names no file"));
    }
    if !file.is_empty() {
        return Err(format!("{argument}: two files are given, {file} and {name}; give one"));
    }
    name.clone_into(file);
    Ok(())
}

/// What is said where the project is missing.
pub(super) const NO_PROJECT: &str = "PROJECT: no file is given; name the project to read";

/// The value of an option as a stored number; `least` and `most` as shown in metric units.
pub(super) fn number(
    option: &str,
    value: &str,
    measure: Measure,
    least: f64,
    most: f64,
) -> Result<f64, String> {
    let stored = measure.parse(value, UnitSystem::Metric).map_err(|error| format!("{option}: {error}"))?;
    if (least..=most).contains(&measure.shown(stored, UnitSystem::Metric)) {
        Ok(stored)
    } else {
        Err(format!("{option}: \"{value}\" is out of range; give a number from {least} to {most}"))
    }
}

/// The value of `--speed`.
pub(super) fn speed(option: &str, value: &str) -> Result<Speed, String> {
    number(option, value, Measure::GroundSpeed, 0.1, 100.0).map(Speed::from_si)
}

/// The value of `--slope` and `--fore-aft-slope`.
fn slope(option: &str, value: &str) -> Result<Angle, String> {
    number(option, value, Measure::Slope, -100.0, 100.0).map(Angle::from_si)
}

/// An operating point in words.
pub(super) fn conditions(point: &OperatingPoint, units: UnitSystem) -> String {
    format!(
        "{}, {}, {}, side slope {}, fore-aft slope {}",
        Measure::Rate.text(point.rate.si(), units),
        Measure::GroundSpeed.text(point.speed.si(), units),
        Measure::Temperature.text(point.temperature.si(), units),
        Measure::Slope.text(point.side_slope.si(), units),
        Measure::Slope.text(point.fore_aft_slope.si(), units),
    )
}

/// The value of `--units`.
pub(super) fn units(value: &str) -> Result<UnitSystem, String> {
    match value.to_lowercase().as_str() {
        "metric" => Ok(UnitSystem::Metric),
        "us" | "us customary" => Ok(UnitSystem::UsCustomary),
        _ => Err(format!("--units: \"{value}\" is not known; say metric or us")),
    }
}

/// The value of `--format`: JSON is asked for.
pub(super) fn is_json(value: &str) -> Result<bool, String> {
    match value {
        "json" => Ok(true),
        "table" => Ok(false),
        other => Err(format!("--format: \"{other}\" is not known; write table or json")),
    }
}

/// Opens a project; a refusal has been printed.
pub(super) fn open(file: &str) -> Result<Project, ExitCode> {
    files::open(&path_of(file)).map_err(|error| {
        eprintln!("equirow: {error}");
        ExitCode::from(FILE_TROUBLE)
    })
}

/// The routing that an argument names; a refusal has been printed.
pub(super) fn named<'a>(
    project: &'a Project,
    argument: &str,
    name: &str,
    usage: &str,
) -> Result<&'a Routing, ExitCode> {
    project.routing_named(name).ok_or_else(|| no_routing(project, argument, name, usage))
}

/// The routing of that name, or the first where none is asked for; a refusal has been printed.
pub(super) fn routing<'a>(
    project: &'a Project,
    name: Option<&str>,
    usage: &str,
) -> Result<&'a Routing, ExitCode> {
    match name {
        Some(name) => named(project, "--routing", name, usage),
        None => project.routings.first().ok_or_else(|| {
            eprintln!("equirow: the project has no routing; add one in the window first");
            ExitCode::from(ANSWER_IS_NO)
        }),
    }
}

fn no_routing(project: &Project, argument: &str, name: &str, usage: &str) -> ExitCode {
    let names: Vec<&str> = project.routings.iter().map(|routing| routing.name.as_str()).collect();
    let what = format!("{argument}: the project has no routing \"{name}\"; it has {}", names.join(", "));
    wrong_usage(&what, &format!("usage: {usage}"))
}

/// A project file, a routing of it, and where the operating point differs from the usual one.
#[derive(Default)]
pub(super) struct Asked {
    file: String,
    routing: Option<String>,
    speed: Option<Speed>,
    rate: Option<ApplicationRate>,
    temperature: Option<Temperature>,
    slope: Option<Angle>,
    fore_aft_slope: Option<Angle>,
}

impl Asked {
    /// Takes the arguments behind the subcommand's name. `own` options, each with a value, and `flags` go to `take`.
    pub(super) fn parse(
        &mut self,
        arguments: &[String],
        own: &[&str],
        flags: &[&str],
        mut take: impl FnMut(Given) -> Result<(), String>,
    ) -> Result<(), String> {
        walk(arguments, "-", &[&OPTIONS, own].concat(), flags, |given| {
            let (option, value) = match given {
                Given::Name(name) => return take_file(&mut self.file, name, "PROJECT"),
                Given::Value(option, value) if !own.contains(&option) => (option, value),
                own => return take(own),
            };
            let number = |measure, least, most| number(option, &value, measure, least, most);
            match option {
                "--speed" => self.speed = Some(speed(option, &value)?),
                "--rate" => self.rate = Some(ApplicationRate::from_si(number(Measure::Rate, 0.0, 10_000.0)?)),
                "--temperature" => {
                    self.temperature =
                        Some(Temperature::from_si(number(Measure::Temperature, -60.0, 120.0)?));
                }
                "--slope" => self.slope = Some(slope(option, &value)?),
                "--fore-aft-slope" => self.fore_aft_slope = Some(slope(option, &value)?),
                _ => self.routing = Some(value),
            }
            Ok(())
        })?;
        if self.file.is_empty() { Err(NO_PROJECT.to_owned()) } else { Ok(()) }
    }

    /// The project's file.
    pub(super) fn file(&self) -> &str {
        &self.file
    }

    /// Opens the project; a refusal has been printed.
    pub(super) fn open(&self) -> Result<Project, ExitCode> {
        open(&self.file)
    }

    /// The routing asked for, the first one if none is, and where to solve it; a refusal has been printed.
    pub(super) fn choose<'a>(
        &self,
        project: &'a Project,
        usage: &str,
    ) -> Result<(&'a Routing, OperatingPoint), ExitCode> {
        let routing = routing(project, self.routing.as_deref(), usage)?;
        let mut point = project.application.usual_point();
        point.speed = self.speed.unwrap_or(point.speed);
        point.rate = self.rate.unwrap_or(point.rate);
        point.temperature = self.temperature.unwrap_or(point.temperature);
        point.side_slope = self.slope.unwrap_or(point.side_slope);
        point.fore_aft_slope = self.fore_aft_slope.unwrap_or(point.fore_aft_slope);
        Ok((routing, point))
    }
}
