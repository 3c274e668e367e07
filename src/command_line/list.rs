//! What the subcommands that write a list share: their arguments, and the choice of the format by the file's name.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::builder::{PathBufValueParser, TypedValueParser as _};
use clap::{Args, ValueHint};

use super::arguments::OneRouting;
use super::outputs::{self, Outputs};
use super::{ANSWER_IS_NO, Ended, FILE_TROUBLE, tell_notes, wrong_usage};
use crate::files::output::{Output, look};
use crate::plan::words::short;
use crate::plan::{CatchTest, Duty, Project, Routing, RoutingGeometry};
use crate::quantities::UnitSystem;
use crate::session::paper_export::{PaperList, list_kind};
use crate::sheets::catch_test::{sheet_of_test, tests_of};
use crate::sheets::document::Document;
use crate::sheets::spreadsheet::ListFormat;
use crate::studies::catch_test::prepare::PreparedTest;

#[derive(Args)]
pub(super) struct Arguments {
    #[command(flatten)]
    of: OneRouting,
    /// The file to write
    #[arg(long, value_name = "FILE.csv|FILE.xlsx", value_hint = ValueHint::FilePath,
        value_parser = PathBufValueParser::new().try_map(ListFile::named))]
    out: ListFile,
    /// Units; the project's unless given
    #[arg(long, value_enum, ignore_case = true)]
    units: Option<UnitSystem>,
    #[command(flatten)]
    outputs: Outputs,
}

/// A file that a list is written to.
#[derive(Clone)]
struct ListFile {
    path: PathBuf,
    format: ListFormat,
}

impl ListFile {
    fn named(path: PathBuf) -> Result<Self, String> {
        let ending = path.extension().map(|ending| ending.to_string_lossy().into_owned()).unwrap_or_default();
        match ListFormat::by_ending(&ending) {
            Some(format) => Ok(Self { path, format }),
            None => Err(format!(
                "\"{}\" is neither a .csv nor a .xlsx file; end its name in one of them",
                path.display()
            )),
        }
    }
}

/// Makes the document of a routing and writes it. A list of the same kind that was there is replaced, whole or not at
/// all; anything else only if that is asked for.
///
/// Exit codes: 0 written; 1 there is no catch test to write, or nothing was caught in it; 2 wrong usage, also a routing or a duty that does not exist; 3 a file can't be read, understood or
/// written.
pub(super) fn run(arguments: &Arguments, list: PaperList) -> Ended {
    write(arguments, list, None)
}

/// The arguments of the list of a catch test.
#[derive(Args)]
pub(super) struct OfCatchTest {
    #[command(flatten)]
    list: Arguments,
    /// The catch test, also one whose routing is gone; the newest of the routing unless given
    #[arg(long, value_name = "NAME", conflicts_with_all = ["routing", "duty"])]
    test: Option<String>,
}

/// Writes the list of a catch test, as [`run`] does the others.
pub(super) fn run_catch_test(arguments: &OfCatchTest) -> Ended {
    write(&arguments.list, PaperList::CatchTest, arguments.test.as_deref())
}

fn write(arguments: &Arguments, list: PaperList, test: Option<&str>) -> Ended {
    let subcommand = list.name();
    let ListFile { path, format } = &arguments.out;
    outputs::distinct(&arguments.of.file, &[("--out", path)], subcommand)?;
    let standing = look(vec![Output::alone(path, list_kind(list.list(), *format))]);
    let permit = arguments.outputs.permit("--out", standing)?;
    let mut project = arguments.of.open()?;
    project.units = arguments.units.unwrap_or(project.units);
    let document = if let Some(name) = test {
        of_test(&project, name)?
    } else if list == PaperList::CatchTest {
        let routing = arguments.of.choose(&project, subcommand)?;
        let duty = arguments.of.duty(&project, subcommand)?;
        let newest = tests_of(&project, routing.id, duty.id).next();
        let none = || no_catch_test(routing, duty, ", or name a test of another routing with --test");
        let newest = newest.ok_or_else(none)?;
        with_catches(&project, newest)?;
        let geometry = RoutingGeometry::working(&project, routing);
        list.document(&project, geometry.with(routing), duty)
    } else {
        let routing = arguments.of.choose(&project, subcommand)?;
        let duty = arguments.of.duty(&project, subcommand)?;
        let geometry = RoutingGeometry::working(&project, routing);
        list.document(&project, geometry.with(routing), duty)
    };
    let bytes = format.bytes(&document, &project.title.creator);
    let written = bytes
        .map_err(|error| format!("{}: {error}", path.display()))
        .and_then(|bytes| permit.write(vec![bytes]).map_err(|error| error.to_string()));
    match written {
        Ok(written) => {
            tell_notes(&written.notes);
            Ok(ExitCode::SUCCESS)
        }
        Err(what) => {
            eprintln!("equirow: {what}");
            Err(ExitCode::from(FILE_TROUBLE))
        }
    }
}

/// Says that no catch test is kept that a paper could be made of.
pub(super) fn no_catch_test(routing: &Routing, duty: &Duty, or_else: &str) -> ExitCode {
    eprintln!(
        "equirow: no catch test is kept of routing {}, duty {}, so that nothing was written; take one down in the window \
         (F4){or_else}",
        short(&routing.name),
        short(&duty.name)
    );
    ExitCode::from(ANSWER_IS_NO)
}

/// Why there is nothing to judge in a test: nobody has caught anything yet that counts.
pub(super) fn nothing_counts(project: &Project, test: &CatchTest) -> Option<String> {
    PreparedTest::of(project, test).err().map(|why| why.to_string())
}

/// That a test has something to be judged; a refusal has been printed.
fn with_catches(project: &Project, test: &CatchTest) -> Result<(), ExitCode> {
    let Some(why) = nothing_counts(project, test) else { return Ok(()) };
    eprintln!("equirow: {why}; nothing was written: the sheet to fill in is that of `equirow commissioning`");
    Err(ExitCode::from(ANSWER_IS_NO))
}

/// The paper of a catch test by its name; a refusal has been printed.
fn of_test(project: &Project, name: &str) -> Result<Document, ExitCode> {
    let tests = &project.catch_tests.tests;
    let test = tests.iter().find(|test| test.name == name);
    if let Some(test) = test {
        with_catches(project, test)?;
    }
    test.and_then(|test| sheet_of_test(project, test)).ok_or_else(|| {
        let names: Vec<&str> = tests.iter().map(|test| test.name.as_str()).collect();
        let there = if names.is_empty() { "none".to_owned() } else { names.join(", ") };
        let what = format!("--test: the project has no catch test \"{}\"; it has {there}", short(name));
        wrong_usage(Some(PaperList::CatchTest.name()), &what)
    })
}
