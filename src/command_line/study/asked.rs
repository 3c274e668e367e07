//! What every study is asked on the command line, and how its answer is printed.

use std::process::ExitCode;

use clap::{Args, ValueEnum};
use serde::Serialize;

use crate::command_line::arguments::{AskedPoint, OneRouting};
use crate::command_line::{ANSWER_IS_NO, Ended, print, print_json, wrong_usage};
use crate::plan::words::capital;
use crate::plan::{OperatingPoint, Project, Routing, RoutingGeometry};
use crate::studies::report::StudyReport;
use crate::studies::{NoAnswer, Studied};

/// The subcommand.
pub(super) const NAME: &str = "study";

/// What every study is asked.
#[derive(Args)]
pub(super) struct AskedStudy {
    #[command(flatten)]
    pub(super) of: OneRouting,
    #[command(flatten)]
    at: AskedPoint,
    /// How the answer is written
    #[arg(long, value_enum, default_value = "table")]
    pub(super) format: StudyFormat,
}

impl AskedStudy {
    /// The routing and the point asked for; a refusal has been printed.
    fn choose<'a>(&self, project: &'a Project) -> Result<(&'a Routing, OperatingPoint), ExitCode> {
        let routing = self.of.choose(project, NAME)?;
        Ok((routing, self.at.of(self.of.duty(project, NAME)?)))
    }

    /// Refuses a speed where a study looks at several; a refusal has been printed.
    pub(super) fn refuse_speed(&self, why: &str) -> Result<(), ExitCode> {
        if self.at.asks_speed() {
            return Err(wrong_usage(Some(NAME), &format!("--speed: {why}; leave it out")));
        }
        Ok(())
    }

    /// Why its figures are no prediction, if the liquid is such.
    fn caution(&self, project: &Project) -> Option<String> {
        let duty = self.of.duty(project, NAME).ok()?;
        duty.liquid.caution().map(|caution| capital(caution.sentence()))
    }

    /// Asks a study about the routing and the point that were asked for, and prints what comes of it.
    pub(super) fn answer<A, J: Serialize>(
        &self,
        project: &Project,
        study: impl FnOnce(&Studied) -> Result<A, NoAnswer>,
        report: impl FnOnce(&A, &Studied) -> StudyReport,
        json: impl FnOnce(&A, &Studied) -> J,
        answer_is_no: impl FnOnce(&A) -> bool,
    ) -> Ended {
        self.answer_and_write(project, study, |_, _| Ok(true), report, json, answer_is_no)
    }

    /// The same; before anything is printed, `write` makes use of the answer, or of there being none.
    pub(super) fn answer_and_write<A, J: Serialize>(
        &self,
        project: &Project,
        study: impl FnOnce(&Studied) -> Result<A, NoAnswer>,
        write: impl FnOnce(&Studied, Option<&A>) -> Result<bool, ExitCode>,
        report: impl FnOnce(&A, &Studied) -> StudyReport,
        json: impl FnOnce(&A, &Studied) -> J,
        answer_is_no: impl FnOnce(&A) -> bool,
    ) -> Ended {
        let (routing, point) = self.choose(project)?;
        let geometry = RoutingGeometry::working(project, routing);
        let of = Studied { project, routing: geometry.with(routing), point };
        let answer = study(&of);
        let is_carried_out = write(&of, answer.as_ref().ok())?;
        let is_no = !is_carried_out || answer.as_ref().is_ok_and(answer_is_no);
        Ok(self.print(project, answer.as_ref(), |found| report(found, &of), |found| json(found, &of), is_no))
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
                StudyFormat::Json => match self.caution(project) {
                    Some(caution) => {
                        let mut value = serde_json::json!(json(answer));
                        if let Some(keys) = value.as_object_mut() {
                            keys.insert("caution".to_owned(), caution.into());
                        }
                        print_json(&value, code)
                    }
                    None => print_json(&json(answer), code),
                },
                StudyFormat::Table => print(&report(answer).text(project.units), code),
                StudyFormat::Csv => print(&report(answer).csv(project.units), code),
            },
        }
    }
}

/// How the answer of a study is written.
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum StudyFormat {
    Table,
    Json,
    Csv,
}
