//! The front without a window: one file a subcommand, and one set of definitions from which arguments are read and help,
//! completions and manual pages are made.
//!
//! Results go to standard output, messages to standard error. Exit codes: 0 done; 1 read, but the answer is no;
//! 2 wrong usage; 3 a file can't be read, understood or written.

/// In this folder every message passes here: nothing in it commands a terminal, whatever a file, a tag or an argument is
/// called. Line breaks of the message itself stay.
macro_rules! eprintln {
    ($($words:tt)*) => {
        std::eprintln!("{}", $crate::plan::letters::visible_lines(&format!($($words)*)))
    };
}

mod arguments;
mod as_cut;
mod catch;
mod check;
mod compare;
mod export;
mod list;
mod manual;
mod network;
mod outputs;
mod refusal;
mod sheet;
mod solve;
mod study;

use std::ffi::OsString;
use std::io::Write as _;
use std::path::PathBuf;
use std::process::ExitCode;

use clap::{CommandFactory as _, FromArgMatches as _, Parser, ValueHint};

use crate::files::{Notes, notices};
use crate::hydraulics::KeptSolver;
use crate::hydraulics::outcome::Outcome;
use crate::hydraulics::speed_range::SpeedRange;
use crate::plan::{LaidRouting, OperatingPoint, Project};
use crate::quantities::Ratio;
use crate::session::guide;
use crate::session::paper_export::PaperList;

/// What the door does next.
#[derive(Debug)]
pub enum Start {
    /// Open the window, on a file if one is named.
    Window(Option<PathBuf>),
    /// A subcommand did its work.
    Done(ExitCode),
}

/// Read, but the answer is no.
const ANSWER_IS_NO: u8 = 1;
/// Wrong usage.
const WRONG_USAGE: u8 = 2;
/// A file can't be read, understood or written.
const FILE_TROUBLE: u8 = 3;

/// How a subcommand ends; where it can't go on (`Err`), the reason has been printed.
type Ended = Result<ExitCode, ExitCode>;

/// Equirow plumbs a wide folding seeding bar so that every row gets its share
#[derive(Parser)]
#[command(
    name = "equirow",
    version,
    args_conflicts_with_subcommands = true,
    disable_help_subcommand = true,
    after_help = "Without a subcommand the window opens, on a project file if one is named.\n\nExit codes: 0 done; \
                  1 read, but the answer is no; 2 wrong usage; 3 a file can't be read, understood or written."
)]
struct Arguments {
    /// The project file that the window opens
    #[arg(value_hint = ValueHint::FilePath)]
    project: Option<PathBuf>,
    #[command(subcommand)]
    subcommand: Option<Subcommand>,
}

#[derive(clap::Subcommand)]
enum Subcommand {
    /// Solves a routing of a project: pressures, and the flow of every row
    Solve(solve::Arguments),
    /// Lists what stands against a routing: all findings, at the slowest, usual and fastest speed
    Check(check::Arguments),
    /// Writes the sheets of a routing: drawings and lists to build from
    Sheet(sheet::Arguments),
    /// Weighs two routings of a project: figures, what differs, and a verdict in words
    Compare(compare::Arguments),
    /// Studies a routing: choice of metering, pressures on the way, other conditions, tolerances, priming
    Study(study::Arguments),
    /// Judges a catch test: each row against target, mean and model, what explains it, what to look at next
    Catch(catch::Arguments),
    /// Writes the parts list of a routing as CSV or XLSX
    Parts(list::Arguments),
    /// Writes the list of joints of a routing as CSV or XLSX: the fitting of every port, the outlet of every row
    #[command(alias = "fittings")]
    Joints(list::Arguments),
    /// Writes the hose and tube cut list of a routing as CSV or XLSX
    Cuts(list::Arguments),
    /// Writes the hinge crossings of a routing as CSV or XLSX: clamps, free pieces, bend radii
    Hinges(list::Arguments),
    /// Takes the lengths of a cut list that was filled in into a project, as measured ones
    AsCut(as_cut::Arguments),
    /// Writes the labels for the ends of all hoses and tubes as CSV or XLSX, for a label printer
    Labels(list::Arguments),
    /// Writes the commissioning sheet of a routing as CSV or XLSX: gauge pressures and catches to expect
    Commissioning(list::Arguments),
    /// Writes a catch test that is kept, the newest of a routing unless one is named, as CSV or XLSX: conditions, rows, gauges, what it calibrates
    CatchSheet(list::OfCatchTest),
    /// Solves a network in the neutral format
    Network(network::Arguments),
    /// Writes a solved routing as a network that other engines can check
    Export(export::Arguments),
    /// Prints the guide: how the window, the papers and the files are used
    Guide,
    /// Prints the licences of all that the program contains of others
    Notices,
    /// Lists the subcommands, and the commands of the window with their keys
    Help(manual::OfSubcommand),
    /// Prints the manual page
    Man(manual::OfSubcommand),
    /// Prints what a shell needs to complete a command line
    Completions(manual::Completions),
}

/// The definitions of all arguments, with the names and options that every command has.
fn command() -> clap::Command {
    let mut command = Arguments::command();
    command.build();
    command
}

/// Runs what the arguments (without the program's own name) ask for.
pub fn run(arguments: Vec<OsString>) -> Start {
    let mut command = command();
    let arguments = arguments::join_values(&command, arguments);
    let words = std::iter::once(OsString::from(command.get_name())).chain(arguments.iter().cloned());
    let parsed = command.try_get_matches_from_mut(words);
    match parsed.and_then(|found| Arguments::from_arg_matches(&found)) {
        Ok(Arguments { subcommand: Some(subcommand), .. }) => {
            Start::Done(run_subcommand(subcommand).unwrap_or_else(|code| code))
        }
        Ok(Arguments { project, .. }) => Start::Window(project),
        Err(error) if !error.use_stderr() => {
            Start::Done(print(&error.render().to_string(), ExitCode::SUCCESS))
        }
        Err(error) => Start::Done(refusal::tell(&error, &arguments)),
    }
}

fn run_subcommand(subcommand: Subcommand) -> Ended {
    match subcommand {
        Subcommand::Solve(arguments) => solve::run(&arguments),
        Subcommand::Check(arguments) => check::run(&arguments),
        Subcommand::Sheet(arguments) => sheet::run(&arguments),
        Subcommand::Compare(arguments) => compare::run(&arguments),
        Subcommand::Study(arguments) => study::run(&arguments),
        Subcommand::Catch(arguments) => catch::run(&arguments),
        Subcommand::Parts(arguments) => list::run(&arguments, PaperList::Parts),
        Subcommand::Joints(arguments) => list::run(&arguments, PaperList::Joints),
        Subcommand::Cuts(arguments) => list::run(&arguments, PaperList::Cuts),
        Subcommand::Hinges(arguments) => list::run(&arguments, PaperList::Hinges),
        Subcommand::AsCut(arguments) => as_cut::run(&arguments),
        Subcommand::Labels(arguments) => list::run(&arguments, PaperList::Labels),
        Subcommand::Commissioning(arguments) => list::run(&arguments, PaperList::Commissioning),
        Subcommand::CatchSheet(arguments) => list::run_catch_test(&arguments),
        Subcommand::Network(arguments) => network::run(&arguments),
        Subcommand::Export(arguments) => export::run(&arguments),
        Subcommand::Guide => Ok(print(&guide::text(), ExitCode::SUCCESS)),
        Subcommand::Notices => Ok(print(notices::text(), ExitCode::SUCCESS)),
        Subcommand::Help(of) => manual::help(&of),
        Subcommand::Man(of) => manual::man(&of),
        Subcommand::Completions(arguments) => Ok(manual::completions(&arguments)),
    }
}

/// Says what is wrong with the arguments, and how the subcommand, or with none the program, is called. A subcommand of another
/// stands behind its name: `study metering`.
fn wrong_usage(subcommand: Option<&str>, what: &str) -> ExitCode {
    let mut all = command();
    // Names of the whole way stand in the usage of what has been built.
    all.build();
    let names: Vec<&str> = subcommand.unwrap_or_default().split_whitespace().collect();
    let (usage, called) = usage_of(&mut all, &names, "equirow".to_owned());
    eprintln!("equirow: {what}\n{usage}\n`{called} --help` says more about usage");
    ExitCode::from(WRONG_USAGE)
}

/// The usage of what the names lead to, and how that is called.
fn usage_of(
    command: &mut clap::Command,
    names: &[&str],
    called: String,
) -> (clap::builder::StyledStr, String) {
    if let [first, rest @ ..] = names
        && let Some(found) = command.find_subcommand_mut(first)
    {
        return usage_of(found, rest, format!("{called} {first}"));
    }
    (command.render_usage(), called)
}

/// Writes to standard output; a reader that went away early is no fault of ours.
fn print(text: &str, code: ExitCode) -> ExitCode {
    match std::io::stdout().lock().write_all(text.as_bytes()) {
        Err(error) if error.kind() != std::io::ErrorKind::BrokenPipe => {
            eprintln!("equirow: standard output can't be written: {error}");
            ExitCode::from(FILE_TROUBLE)
        }
        _ => code,
    }
}

/// Per cent for JSON; what is left of rounding where 0 is meant is 0.
fn percent(ratio: Ratio) -> f64 {
    let percent = ratio.as_percent();
    if percent.abs() < 1e-9 { 0.0 } else { percent }
}

/// Writes an answer as JSON to standard output.
fn print_json(answer: &impl serde::Serialize, code: ExitCode) -> ExitCode {
    match serde_json::to_string_pretty(answer) {
        Ok(text) => print(&format!("{text}\n"), code),
        Err(error) => {
            eprintln!("equirow: the answer can't be put into JSON: {error}");
            ExitCode::from(ANSWER_IS_NO)
        }
    }
}

/// A routing at an operating point, and what it does at the project's three speeds.
fn solved(project: &Project, routing: LaidRouting, point: &OperatingPoint) -> (Outcome, SpeedRange) {
    let mut kept = KeptSolver::default();
    let mut prepared = kept.prepare(project, routing);
    let outcome = prepared.solve(point);
    let range = prepared.speed_range(point, Some(&outcome));
    (outcome, range)
}

/// Tells what files that were written could not keep of those whose place they took.
fn tell_notes(notes: &Notes) {
    for (path, what) in notes.iter() {
        eprintln!("equirow: {}: {what}", path.display());
    }
}
