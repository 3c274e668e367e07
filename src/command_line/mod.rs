//! The front without a window: one file a subcommand, and one table of them all.
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

mod asked;
pub mod commissioning;
pub mod compare;
pub mod cuts;
pub mod export;
pub mod help;
mod list_file;
pub mod network;
pub mod notices;
mod outputs;
pub mod parts;
mod raw_names;
pub mod sheet;
pub mod solve;

use std::ffi::OsString;
use std::io::Write as _;
use std::path::PathBuf;
use std::process::ExitCode;

use crate::files::Notes;

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

struct Subcommand {
    name: &'static str,
    usage: &'static str,
    about: &'static str,
    run: fn(&[String]) -> ExitCode,
}

/// Every subcommand; usage, help and the choice come from here.
const SUBCOMMANDS: [Subcommand; 10] = [
    Subcommand {
        name: "solve",
        usage: solve::USAGE,
        about: "Solves a routing of a project: pressures, and the flow of every row",
        run: solve::run,
    },
    Subcommand {
        name: "sheet",
        usage: sheet::USAGE,
        about: "Writes the sheets of a routing: drawings and lists to build from",
        run: sheet::run,
    },
    Subcommand {
        name: "compare",
        usage: compare::USAGE,
        about: "Weighs two routings of a project: figures, what differs, and a verdict in words",
        run: compare::run,
    },
    Subcommand {
        name: "parts",
        usage: parts::USAGE,
        about: "Writes the parts list of a routing as CSV or XLSX",
        run: parts::run,
    },
    Subcommand {
        name: "cuts",
        usage: cuts::USAGE,
        about: "Writes the hose and tube cut list of a routing as CSV or XLSX",
        run: cuts::run,
    },
    Subcommand {
        name: "commissioning",
        usage: commissioning::USAGE,
        about: "Writes the commissioning sheet of a routing as CSV or XLSX: gauge pressures and catches to expect",
        run: commissioning::run,
    },
    Subcommand {
        name: "network",
        usage: network::USAGE,
        about: "Solves a network in the neutral format",
        run: network::run,
    },
    Subcommand {
        name: "help",
        usage: help::USAGE,
        about: "Lists the commands of the window with their keys",
        run: help::run,
    },
    Subcommand {
        name: "export",
        usage: export::USAGE,
        about: "Writes a solved routing as a network that other engines can check",
        run: export::run,
    },
    Subcommand {
        name: "notices",
        usage: notices::USAGE,
        about: "Prints the licences of all that the program contains of others",
        run: notices::run,
    },
];

/// Runs what the arguments (without the program's own name) ask for.
pub fn run(arguments: Vec<OsString>) -> Start {
    let arguments: Vec<String> = arguments.iter().map(|one| raw_names::text_of(one)).collect();
    let Some(first) = arguments.first() else { return Start::Window(None) };
    if let Some(subcommand) = SUBCOMMANDS.iter().find(|one| one.name == first) {
        let rest = &arguments[1..];
        if rest.iter().any(|one| one == "--help" || one == "-h") {
            let text = format!("{}\n\nusage: {}\n", subcommand.about, subcommand.usage);
            return Start::Done(print(&text, ExitCode::SUCCESS));
        }
        return Start::Done((subcommand.run)(rest));
    }
    match first.as_str() {
        "--help" | "-h" => Start::Done(print(&help(), ExitCode::SUCCESS)),
        "--version" | "-V" => {
            Start::Done(print(&format!("equirow {}\n", env!("CARGO_PKG_VERSION")), ExitCode::SUCCESS))
        }
        option if option.starts_with('-') => {
            Start::Done(wrong_usage(&format!("the option {option} is not known"), &help()))
        }
        _ if arguments.len() > 1 => Start::Done(wrong_usage(
            &format!(
                "\"{first}\" is no subcommand, and behind a PROJECT nothing may follow, but found \"{}\"",
                arguments[1]
            ),
            &help(),
        )),
        file => Start::Window(Some(raw_names::path_of(file))),
    }
}

fn help() -> String {
    use std::fmt::Write as _;
    let mut text = "Equirow plumbs a wide folding seeding bar so that every row gets its share\n\n\
                    usage:\n  equirow [PROJECT]\n      Opens the window, on a project file if one is named\n"
        .to_owned();
    for one in &SUBCOMMANDS {
        let _ = writeln!(text, "  {}\n      {}", one.usage, one.about);
    }
    text.push_str("  equirow --help | --version\n");
    text
}

fn wrong_usage(what: &str, usage: &str) -> ExitCode {
    eprintln!("equirow: {what}\n{usage}");
    ExitCode::from(WRONG_USAGE)
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

/// Tells what files that were written could not keep of those whose place they took.
fn tell_notes(notes: &Notes) {
    for (path, what) in notes.iter() {
        eprintln!("equirow: {}: {what}", path.display());
    }
}
