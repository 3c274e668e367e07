//! Files that a subcommand writes: never one that it reads, never two in one, and nothing replaced that somebody else
//! made.

use std::path::Path;
use std::process::ExitCode;

use super::{FILE_TROUBLE, wrong_usage};
use crate::files::output::{Permit, Standing, same_file};

/// The option that allows whatever is there to be replaced.
pub(super) const REPLACE: &str = "--replace";

/// Refuses files to be written, each with its option, that are the one that is read, or the same; a refusal has been
/// printed.
pub(super) fn distinct(input: &Path, outputs: &[(&str, &Path)], usage: &str) -> Result<(), ExitCode> {
    for (index, (option, path)) in outputs.iter().enumerate() {
        let shown = path.display();
        let refuse = |what: String| Err(wrong_usage(&what, &format!("usage: {usage}")));
        if same_file(path, input) {
            return refuse(format!("{option}: {shown} is the file that is read, PROJECT; name another"));
        }
        if let Some((other, _)) = outputs[..index].iter().find(|(_, before)| same_file(path, before)) {
            return refuse(format!("{option}: {shown} is given to {other} too; name another"));
        }
    }
    Ok(())
}

/// The right to write, if nothing is lost by it or `--replace` is given; a refusal has been printed.
pub(super) fn permit<E: std::fmt::Display>(
    option: &str,
    standing: Result<Standing, E>,
    replace: bool,
) -> Result<Permit, ExitCode> {
    let refused = |what: String| {
        eprintln!("equirow: {option}: {what}");
        Err(ExitCode::from(FILE_TROUBLE))
    };
    match standing {
        Err(error) => refused(error.to_string()),
        Ok(standing) if replace => Ok(standing.replace()),
        Ok(standing) => standing.free_or_older().or_else(|place| {
            let what = place.words().unwrap_or_default();
            refused(format!(
                "{}: {what}; give another name, or {REPLACE} to write over it",
                place.path().display()
            ))
        }),
    }
}
