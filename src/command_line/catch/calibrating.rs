//! `--calibrate NEW.ron`: what was assumed fitted to the readings, and the project with what they tell written as another file.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::builder::{PathBufValueParser, TypedValueParser as _};
use clap::{Args, ValueHint};
use serde::Serialize;

use crate::command_line::arguments::project_file;
use crate::command_line::outputs::{self, Outputs};
use crate::command_line::{ANSWER_IS_NO, FILE_TROUBLE, percent, tell_notes, wrong_usage};
use crate::files::marks::Kind;
use crate::files::output::{Output, Permit, look};
use crate::files::write_text;
use crate::plan::edit::apply;
use crate::plan::words::capital;
use crate::plan::{CatchTest, Project, RowId};
use crate::session::calibrating::calibration_edits;
use crate::session::papers::today;
use crate::session::refusal::CalibrationError;
use crate::session::rows::parse_rows;
use crate::studies::Unwatched;
use crate::studies::catch_test::calibrate::{Calibration, CalibrationAsked, calibrate};
use crate::studies::catch_test::judged::Judged;
use crate::studies::catch_test::nothing_judged::NothingJudged;
use crate::studies::catch_test::prepare::PreparedTest;

/// The subcommand.
pub(super) const NAME: &str = "catch";

/// Where the calibrated project goes.
#[derive(Args)]
pub(super) struct Calibrating {
    /// Fits what was assumed (viscosity, discharge of each size of orifice, bore of each size of metering tube, loss of the filter)
    /// to the readings, and writes the project with what they tell taken over, the test kept in it; nothing is written where they
    /// tell nothing
    #[arg(long, value_name = "NEW.ron", value_hint = ValueHint::FilePath,
        value_parser = PathBufValueParser::new().try_map(project_file))]
    calibrate: Option<PathBuf>,
    /// Rows that are not fitted to, as in 3,7-9; those that stand out by the outlier test unless given
    #[arg(long, value_name = "ROWS")]
    leave_out: Option<String>,
    #[command(flatten)]
    outputs: Outputs,
}

/// What came of it.
#[derive(Serialize)]
pub(super) struct CalibrationReport {
    /// What the readings tell; it is in the project that was written.
    told: Vec<ToldReport>,
    /// What stays assumed.
    not_told: Vec<NotToldReport>,
    /// Why nothing at all can be said; null where something can.
    why_not: Option<String>,
    remarks: Vec<String>,
    written: bool,
}

#[derive(Serialize)]
struct ToldReport {
    number: String,
    /// Over what was assumed.
    times_assumed: f64,
    /// Half of the 95 % interval.
    within_percent: f64,
    words: String,
}

#[derive(Serialize)]
struct NotToldReport {
    number: String,
    why: String,
    would_tell: String,
}

impl Calibrating {
    /// The right to write, where a file is asked for; a refusal has been printed.
    pub(super) fn permit(&self, project: &Path, test: &Path) -> Result<Option<Permit>, ExitCode> {
        let Some(out) = &self.calibrate else {
            return match &self.leave_out {
                Some(_) => Err(wrong_usage(
                    Some(NAME),
                    "--leave-out only goes with --calibrate NEW.ron; give both or none",
                )),
                None => Ok(None),
            };
        };
        outputs::distinct(project, &[("--calibrate", out)], NAME)?;
        outputs::distinct_from(("--test", test), &[("--calibrate", out)], NAME)?;
        self.outputs.permit("--calibrate", look(vec![Output::alone(out, Kind::Project)])).map(Some)
    }

    /// The rows that are left out of the fit; a refusal has been printed.
    fn left_out(&self, bar: &Project, judged: &Judged) -> Result<Vec<RowId>, ExitCode> {
        let Some(typed) = &self.leave_out else { return Ok(judged.outliers()) };
        if typed.trim().is_empty() {
            let what = "--leave-out names no row; give row numbers like 3,7-9, or leave it away";
            return Err(wrong_usage(Some(NAME), what));
        }
        parse_rows(bar, typed).map_err(|why| wrong_usage(Some(NAME), &format!("--leave-out: {why}")))
    }

    /// Fits, takes over and writes; a refusal has been printed.
    pub(super) fn run(
        &self,
        permit: Permit,
        project: &Project,
        (test, prepared, judged): (&CatchTest, &PreparedTest, &Judged),
    ) -> Result<CalibrationReport, ExitCode> {
        if let Some(why) = NothingJudged::of(test) {
            return Ok(CalibrationReport::none(CalibrationError::NotJudged(why).to_string()));
        }
        let left_out = self.left_out(prepared.studied().project, judged)?;
        let asked = CalibrationAsked::of(test, left_out);
        let found = match calibrate(&prepared.tested(), &asked, &Unwatched) {
            Ok(found) => found,
            Err(why) => return Ok(CalibrationReport::none(why.to_string())),
        };
        let mut report = CalibrationReport::of(&found, prepared);
        if found.told.is_empty() {
            return Ok(report);
        }
        let no = |what: String| {
            eprintln!("equirow: --calibrate: {what}; nothing is written");
            ExitCode::from(ANSWER_IS_NO)
        };
        let edits =
            calibration_edits(project, test.id, &found.told, today()).map_err(|why| no(why.to_string()))?;
        let mut calibrated = project.clone();
        for edit in edits {
            apply(&mut calibrated, edit).map_err(|error| no(error.to_string()))?;
        }
        let trouble = |what: String| {
            eprintln!("equirow: --calibrate: {what}");
            ExitCode::from(FILE_TROUBLE)
        };
        let text = write_text(&calibrated).map_err(|error| trouble(error.to_string()))?;
        let written = permit.write(vec![text.into_bytes()]).map_err(|error| trouble(error.to_string()))?;
        tell_notes(&written.notes);
        report.written = true;
        Ok(report)
    }
}

impl CalibrationReport {
    fn none(why: String) -> Self {
        let (told, not_told, remarks) = (Vec::new(), Vec::new(), Vec::new());
        Self { told, not_told, why_not: Some(why), remarks, written: false }
    }

    fn of(found: &Calibration, prepared: &PreparedTest) -> Self {
        let studied = prepared.studied();
        let told = found.told.iter().map(|one| ToldReport {
            number: one.number.name(&studied),
            times_assumed: one.value / one.assumed,
            within_percent: percent(one.within),
            words: one.words(studied.project.units),
        });
        let not_told = found.refused.iter().map(|one| NotToldReport {
            number: one.number.name(&studied),
            why: one.words(&studied),
            would_tell: one.would_tell.clone(),
        });
        Self {
            told: told.collect(),
            not_told: not_told.collect(),
            why_not: None,
            remarks: found.remarks.clone(),
            written: false,
        }
    }

    /// A project was written.
    pub(super) const fn is_written(&self) -> bool {
        self.written
    }

    /// For people.
    pub(super) fn table(&self) -> String {
        let mut out = "\nCalibrated by it\n".to_owned();
        for one in &self.told {
            let _ = writeln!(out, "       {}: {}", capital(&one.number), one.words);
        }
        for one in &self.not_told {
            let _ = writeln!(out, "       {} stays assumed: {}", capital(&one.number), one.why);
            let _ = writeln!(out, "         What would tell it: {}", one.would_tell);
        }
        if let Some(why) = &self.why_not {
            let _ = writeln!(out, "       {}", capital(why));
        }
        for remark in &self.remarks {
            let _ = writeln!(out, "       {remark}");
        }
        let written = if self.written {
            "The project is written with what is told taken over, and the test kept in it"
        } else {
            "Nothing is told, and nothing is written"
        };
        let _ = writeln!(out, "       {written}");
        out
    }
}
