//! `--out NEW.ron`: what a study recommends, carried out on all rows and written as another project.

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::builder::{PathBufValueParser, TypedValueParser as _};
use clap::{Args, ValueHint};

use super::asked::NAME;
use crate::command_line::arguments::project_file;
use crate::command_line::outputs::{self, Outputs};
use crate::command_line::{ANSWER_IS_NO, FILE_TROUBLE, tell_notes};
use crate::files::marks::Kind;
use crate::files::output::{Output, Permit, look};
use crate::files::write_text;
use crate::plan::edit::apply;
use crate::session::study_actions::edits_of;
use crate::studies::Studied;
use crate::studies::report::StudyAction;

/// Where the changed project goes.
#[derive(Args)]
pub(super) struct CarriedOut {
    /// Carries out all that is recommended, on all rows, and writes the project that it makes; where nothing is to be changed,
    /// the project as it is
    #[arg(long, value_name = "NEW.ron", value_hint = ValueHint::FilePath,
        value_parser = PathBufValueParser::new().try_map(project_file))]
    out: Option<PathBuf>,
    #[command(flatten)]
    outputs: Outputs,
}

impl CarriedOut {
    /// The right to write, where a file is asked for; a refusal has been printed.
    pub(super) fn permit(&self, input: &Path) -> Result<Option<Permit>, ExitCode> {
        let Some(out) = &self.out else { return Ok(None) };
        outputs::distinct(input, &[("--out", out)], NAME)?;
        self.outputs.permit("--out", look(vec![Output::alone(out, Kind::Project)])).map(Some)
    }
}

/// Carries an action out and writes the project, unchanged where what is recommended is there already; returns false where a
/// file was asked for and nothing is recommended, so that nothing is written. A refusal has been printed.
pub(super) fn write(
    permit: Option<Permit>,
    of: &Studied,
    action: Option<&StudyAction>,
) -> Result<bool, ExitCode> {
    let (project, routing) = (of.project, of.routing.routing);
    let Some(permit) = permit else { return Ok(true) };
    let Some(action) = action else {
        eprintln!("equirow: --out: nothing is recommended that could be carried out; nothing is written");
        return Ok(false);
    };
    let mut changed = project.clone();
    for edit in edits_of(project, routing, action) {
        apply(&mut changed, edit).map_err(|error| {
            eprintln!("equirow: --out: {error}; nothing is written");
            ExitCode::from(ANSWER_IS_NO)
        })?;
    }
    if changed == *project {
        eprintln!(
            "equirow: --out: nothing is to be changed, what is recommended is there already: the project is written as it is"
        );
    }
    let trouble = |what: String| {
        eprintln!("equirow: --out: {what}");
        ExitCode::from(FILE_TROUBLE)
    };
    let text = write_text(&changed).map_err(|error| trouble(error.to_string()))?;
    let written = permit.write(vec![text.into_bytes()]).map_err(|error| trouble(error.to_string()))?;
    tell_notes(&written.notes);
    Ok(true)
}
