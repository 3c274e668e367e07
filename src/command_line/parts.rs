//! `equirow parts PROJECT --out FILE.csv|xlsx`: the parts list of one routing.

use std::process::ExitCode;

use super::list_file;
use crate::files::marks::List;
use crate::sheets::parts_list::parts_list;

/// How it is called.
pub(super) const USAGE: &str =
    "equirow parts PROJECT --out FILE.csv|FILE.xlsx [--routing NAME] [--units metric|us] [--replace]";

/// Runs the subcommand with the arguments after its name. Without an option the project's first routing is listed.
///
/// Exit codes: 0 written; 2 wrong usage, also a routing that does not exist; 3 a file can't be read, understood or
/// written.
pub fn run(arguments: &[String]) -> ExitCode {
    list_file::run(arguments, USAGE, List::Parts, parts_list)
}
