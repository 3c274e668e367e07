//! `equirow study STUDY PROJECT ...`: answers to "which is best" and "what if" about one routing; one file a study.

mod conditions;
mod equalise;
mod metering;
mod pressure;
mod prime;
mod tolerance;

use std::process::ExitCode;

use clap::{Args, ValueEnum};
use serde::Serialize;

use super::arguments::{AskedPoint, OneRouting};
use super::{ANSWER_IS_NO, Ended, print, print_json};
use crate::plan::{OperatingPoint, Project, Routing};
use crate::studies::NoAnswer;
use crate::studies::report::StudyReport;

/// The subcommand.
const NAME: &str = "study";

#[derive(Args)]
pub(super) struct Arguments {
    #[command(subcommand)]
    study: StudySubcommand,
}

#[derive(clap::Subcommand)]
enum StudySubcommand {
    /// Weighs every metering element of the catalogue on this routing, from the slowest to the fastest speed
    Metering(metering::Arguments),
    /// Works out metering of its own for each row, so that all get the same
    Equalise(equalise::Arguments),
    /// Shows where the pressure goes on the way to a row, beside the mean row
    Pressure(pressure::Arguments),
    /// Shows what slopes, cold, wear and single faults do to the rows
    Conditions(conditions::Arguments),
    /// Shows how even the bar will be, built of parts as they are sold and cut
    Tolerance(tolerance::Arguments),
    /// Tells how long until liquid comes to each row, and what the lines hold
    Prime(prime::Arguments),
}

/// Runs the subcommand.
///
/// Exit codes: 0 answered, and nothing is outside the limits; 1 not answered, or the answer is no (JSON is printed all the
/// same); 2 wrong usage; 3 a file can't be read, understood or written.
pub(super) fn run(arguments: &Arguments) -> Ended {
    match &arguments.study {
        StudySubcommand::Metering(arguments) => metering::run(arguments),
        StudySubcommand::Equalise(arguments) => equalise::run(arguments),
        StudySubcommand::Pressure(arguments) => pressure::run(arguments),
        StudySubcommand::Conditions(arguments) => conditions::run(arguments),
        StudySubcommand::Tolerance(arguments) => tolerance::run(arguments),
        StudySubcommand::Prime(arguments) => prime::run(arguments),
    }
}

/// What every study is asked.
#[derive(Args)]
struct AskedStudy {
    #[command(flatten)]
    of: OneRouting,
    #[command(flatten)]
    at: AskedPoint,
    /// How the answer is written
    #[arg(long, value_enum, default_value = "table")]
    format: StudyFormat,
}

impl AskedStudy {
    /// The routing and the point asked for; a refusal has been printed.
    fn choose<'a>(&self, project: &'a Project) -> Result<(&'a Routing, OperatingPoint), ExitCode> {
        let routing = self.of.choose(project, NAME)?;
        Ok((routing, self.at.of(self.of.duty(project, NAME)?)))
    }

    /// Prints an answer, or why there is none: as JSON too, so that a script reads one thing.
    fn print<A, J: Serialize>(
        &self,
        project: &Project,
        answer: Result<&A, &NoAnswer>,
        report: impl FnOnce(&A) -> StudyReport,
        json: impl FnOnce(&A) -> J,
        answer_is_no: bool,
    ) -> ExitCode {
        let code =
            if answer_is_no || answer.is_err() { ExitCode::from(ANSWER_IS_NO) } else { ExitCode::SUCCESS };
        match answer {
            Err(why) => {
                eprintln!("equirow: {why}");
                match self.format {
                    StudyFormat::Json => {
                        print_json(&serde_json::json!({ "no_answer": why.to_string() }), code)
                    }
                    StudyFormat::Table | StudyFormat::Csv => code,
                }
            }
            Ok(answer) => match self.format {
                StudyFormat::Json => print_json(&json(answer), code),
                StudyFormat::Table => print(&report(answer).text(project.units), code),
                StudyFormat::Csv => print(&report(answer).csv(project.units), code),
            },
        }
    }
}

/// How the answer of a study is written.
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum StudyFormat {
    Table,
    Json,
    Csv,
}
