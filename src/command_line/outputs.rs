//! Files that a subcommand writes: never one that it reads, never two in one, and nothing replaced that somebody else
//! made.

use std::path::Path;
use std::process::ExitCode;

use clap::Args;

use super::{FILE_TROUBLE, wrong_usage};
use crate::files::output::{OutputSet, Permit, same_file};

/// Refuses files to be written, each with its option, that are the project that is read, or the same; a refusal has been
/// printed.
pub(super) fn distinct(project: &Path, outputs: &[(&str, &Path)], subcommand: &str) -> Result<(), ExitCode> {
    distinct_from(("PROJECT", project), outputs, subcommand)
}

/// The same of any file that is read, with what the usage calls it.
pub(super) fn distinct_from(
    (name, input): (&str, &Path),
    outputs: &[(&str, &Path)],
    subcommand: &str,
) -> Result<(), ExitCode> {
    for (index, (option, path)) in outputs.iter().enumerate() {
        let shown = path.display();
        let refuse = |what: String| Err(wrong_usage(Some(subcommand), &what));
        if same_file(path, input) {
            return refuse(format!("{option}: {shown} is the file that is read, {name}; name another"));
        }
        if let Some((other, _)) = outputs[..index].iter().find(|(_, before)| same_file(path, before)) {
            return refuse(format!("{option}: {shown} is given to {other} too; name another"));
        }
    }
    Ok(())
}

/// What may happen to a file that is there.
#[derive(Args)]
pub(super) struct Outputs {
    /// Write over whatever is there; unasked, only an older file of the same kind is replaced
    #[arg(long)]
    replace: bool,
}

impl Outputs {
    /// The right to write, if nothing is lost by it or `--replace` is given; a refusal has been printed.
    pub(super) fn permit<E: std::fmt::Display>(
        &self,
        option: &str,
        standing: Result<OutputSet, E>,
    ) -> Result<Permit, ExitCode> {
        let refused = |what: String| {
            eprintln!("equirow: {option}: {what}");
            Err(ExitCode::from(FILE_TROUBLE))
        };
        match standing {
            Err(error) => refused(error.to_string()),
            Ok(standing) if self.replace => Ok(standing.replace()),
            Ok(standing) => standing.free_or_older().or_else(|place| {
                let what = place.words().unwrap_or_default();
                refused(format!(
                    "{}: {what}; give another name, or --replace to write over it",
                    place.path().display()
                ))
            }),
        }
    }
}
