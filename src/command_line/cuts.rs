//! `equirow cuts PROJECT --out FILE.csv|xlsx`: the cut list of one routing.

use std::process::ExitCode;

use super::list_file;
use crate::files::marks::List;
use crate::sheets::cut_list::cut_list;

/// How it is called.
pub(super) const USAGE: &str =
    "equirow cuts PROJECT --out FILE.csv|FILE.xlsx [--routing NAME] [--units metric|us] [--replace]";

/// Runs the subcommand with the arguments after its name. Without an option the project's first routing is listed.
///
/// Exit codes: 0 written; 2 wrong usage, also a routing that does not exist; 3 a file can't be read, understood or
/// written.
pub fn run(arguments: &[String]) -> ExitCode {
    list_file::run(arguments, USAGE, List::Cuts, cut_list)
}
