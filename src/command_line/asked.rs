//! What several subcommands ask alike: a project file, one of its routings, and an operating point.

use std::path::Path;
use std::process::ExitCode;

use super::{FILE_TROUBLE, wrong_usage};
use crate::files;
use crate::plan::{OperatingPoint, Project, Routing};
use crate::quantities::{Angle, ApplicationRate, Measure, Speed, Temperature, UnitSystem};

/// The options that every such subcommand knows.
const OPTIONS: [&str; 5] = ["--routing", "--speed", "--rate", "--temperature", "--slope"];

/// A project file, a routing of it, and where the operating point differs from the usual one.
#[derive(Default)]
pub(super) struct Asked {
    file: String,
    routing: Option<String>,
    speed: Option<Speed>,
    rate: Option<ApplicationRate>,
    temperature: Option<Temperature>,
    slope: Option<Angle>,
}

impl Asked {
    /// Takes the arguments behind the subcommand's name. `own` options, each with a value, go to `take`.
    pub(super) fn parse(
        &mut self,
        arguments: &[String],
        own: &[&str],
        mut take: impl FnMut(&str, String) -> Result<(), String>,
    ) -> Result<(), String> {
        let mut rest = arguments.iter();
        while let Some(argument) = rest.next() {
            let (option, joined) = match argument.split_once('=') {
                Some((option, value)) if option.starts_with("--") => (option, Some(value.to_owned())),
                _ => (argument.as_str(), None),
            };
            if !option.starts_with('-') {
                if !self.file.is_empty() {
                    return Err(format!("two files are named, {} and {option}; name one", self.file));
                }
                option.clone_into(&mut self.file);
                continue;
            }
            if !OPTIONS.contains(&option) && !own.contains(&option) {
                let known = [&OPTIONS, own].concat().join(", ");
                return Err(format!("the option {option} is not known; try one of {known}"));
            }
            let value = joined
                .or_else(|| rest.next().cloned())
                .ok_or_else(|| format!("{option} needs a value behind it"))?;
            if own.contains(&option) {
                take(option, value)?;
                continue;
            }
            let number = |measure: Measure, least: f64, most: f64| {
                let stored = measure
                    .parse(&value, UnitSystem::Metric)
                    .map_err(|error| format!("{option}: {error}"))?;
                let shown = measure.shown(stored, UnitSystem::Metric);
                if (least..=most).contains(&shown) {
                    Ok(stored)
                } else {
                    Err(format!(
                        "{option}: \"{value}\" is out of range; give a number from {least} to {most}"
                    ))
                }
            };
            match option {
                "--speed" => self.speed = Some(Speed::from_si(number(Measure::GroundSpeed, 0.1, 100.0)?)),
                "--rate" => self.rate = Some(ApplicationRate::from_si(number(Measure::Rate, 0.0, 10_000.0)?)),
                "--temperature" => {
                    self.temperature =
                        Some(Temperature::from_si(number(Measure::Temperature, -60.0, 120.0)?));
                }
                "--slope" => self.slope = Some(Angle::from_si(number(Measure::Slope, -100.0, 100.0)?)),
                _ => self.routing = Some(value),
            }
        }
        if self.file.is_empty() { Err("no project file is named".to_owned()) } else { Ok(()) }
    }

    /// Opens the project; a refusal has been printed.
    pub(super) fn open(&self) -> Result<Project, ExitCode> {
        files::open(Path::new(&self.file)).map_err(|error| {
            eprintln!("equirow: {error}");
            ExitCode::from(FILE_TROUBLE)
        })
    }

    /// The routing asked for, the first one if none is, and where to solve it; a refusal has been printed.
    pub(super) fn choose<'a>(
        &self,
        project: &'a Project,
        usage: &str,
    ) -> Result<(&'a Routing, OperatingPoint), ExitCode> {
        let chosen = match &self.routing {
            Some(name) => project.routing_named(name),
            None => project.routings.first(),
        };
        let Some(routing) = chosen else {
            let names: Vec<&str> = project.routings.iter().map(|routing| routing.name.as_str()).collect();
            let asked = self.routing.as_deref().unwrap_or_default();
            let what = format!("the project has no routing \"{asked}\"; it has {}", names.join(", "));
            return Err(wrong_usage(&what, &format!("usage: {usage}")));
        };
        let mut point = project.application.usual_point();
        point.speed = self.speed.unwrap_or(point.speed);
        point.rate = self.rate.unwrap_or(point.rate);
        point.temperature = self.temperature.unwrap_or(point.temperature);
        point.side_slope = self.slope.unwrap_or(point.side_slope);
        Ok((routing, point))
    }
}
