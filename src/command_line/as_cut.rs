//! `equirow as-cut PROJECT --list CUTS.csv --out NEW.ron`: takes lengths as they were cut into a project.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::builder::{PathBufValueParser, TypedValueParser as _};
use clap::{Args, ValueHint};

use super::outputs::{self, Outputs};
use super::{ANSWER_IS_NO, Ended, FILE_TROUBLE, arguments, print, tell_notes};
use crate::files::cut_lengths::read_cut_lengths_of;
use crate::files::marks::Kind;
use crate::files::output::{Output, look};
use crate::files::write_text;
use crate::plan::RoutingGeometry;
use crate::plan::edit::apply;
use crate::session::as_cut::take_lengths;

/// The subcommand.
const NAME: &str = "as-cut";

#[derive(Args)]
pub(super) struct Arguments {
    /// The project to read
    #[arg(value_name = "PROJECT", value_hint = ValueHint::FilePath)]
    file: PathBuf,
    /// The routing that the list is of; the project's first unless given
    #[arg(long, value_name = "NAME")]
    routing: Option<String>,
    /// The cut list with its column "As cut" filled in
    #[arg(long, value_name = "CUTS.csv", value_hint = ValueHint::FilePath)]
    list: PathBuf,
    /// The project to write, with these lengths as measured ones and its revision raised
    #[arg(long, value_name = "NEW.ron", value_hint = ValueHint::FilePath,
        value_parser = PathBufValueParser::new().try_map(arguments::project_file))]
    out: PathBuf,
    #[command(flatten)]
    outputs: Outputs,
}

/// Runs the subcommand. What was taken goes to standard output.
///
/// Exit codes: 0 written; 1 the list does not belong to the routing, nothing is written; 2 wrong usage; 3 a file can't be read,
/// understood or written.
pub(super) fn run(asked: &Arguments) -> Ended {
    outputs::distinct(&asked.file, &[("--out", &asked.out)], NAME)?;
    outputs::distinct_from(("--list", &asked.list), &[("--out", &asked.out)], NAME)?;
    let permit = asked.outputs.permit("--out", look(vec![Output::alone(&asked.out, Kind::Project)]))?;
    let mut project = arguments::open(&asked.file)?;
    let routing = arguments::routing_or_first(&project, asked.routing.as_deref(), NAME)?;
    let trouble = |what: String| {
        eprintln!("equirow: {what}");
        ExitCode::from(FILE_TROUBLE)
    };
    let list = read_cut_lengths_of(&asked.list).map_err(|error| trouble(error.to_string()))?;
    let geometry = RoutingGeometry::working(&project, routing);
    let taken = take_lengths(&project, geometry.with(routing), list).map_err(|problems| {
        for line in problems.lines() {
            eprintln!("equirow: {}: {line}", asked.list.display());
        }
        eprintln!("equirow: nothing is written");
        ExitCode::from(ANSWER_IS_NO)
    })?;
    for edit in taken.edits {
        apply(&mut project, edit).map_err(|error| {
            eprintln!("equirow: {}: {error}; nothing is written", asked.list.display());
            ExitCode::from(ANSWER_IS_NO)
        })?;
    }
    let text = write_text(&project).map_err(|error| trouble(error.to_string()))?;
    let written = permit.write(vec![text.into_bytes()]).map_err(|error| trouble(error.to_string()))?;
    tell_notes(&written.notes);
    Ok(print(&format!("{}\n", taken.words), ExitCode::SUCCESS))
}
