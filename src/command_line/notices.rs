//! `equirow notices`: the licences of all that the program contains of others.

use std::process::ExitCode;

use super::{print, wrong_usage};
use crate::files::notices;

/// How it is called.
pub(super) const USAGE: &str = "equirow notices";

/// Runs the subcommand with the arguments after its name. Exit codes: 0 printed; 2 wrong usage; 3 standard output
/// can't be written.
pub fn run(arguments: &[String]) -> ExitCode {
    match arguments.first() {
        Some(argument) => wrong_usage(&format!("\"{argument}\" is too much: notices takes nothing"), USAGE),
        None => print(notices::text(), ExitCode::SUCCESS),
    }
}
