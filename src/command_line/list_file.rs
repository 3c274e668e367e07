//! What the subcommands that write a list share: their options, and the choice of the format by the file's name.

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use super::{FILE_TROUBLE, wrong_usage};
use crate::files;
use crate::plan::{Project, Routing};
use crate::sheets::document::Document;
use crate::sheets::spreadsheet::{csv, xlsx};

struct Request {
    project: PathBuf,
    out: PathBuf,
    format: Format,
    routing: Option<String>,
}

#[derive(Clone, Copy)]
enum Format {
    Csv,
    Xlsx,
}

/// Makes the document of a routing and writes it. A file that was there is replaced only by a whole new one.
pub(super) fn run(
    arguments: &[String],
    usage: &str,
    document: fn(&Project, &Routing) -> Document,
) -> ExitCode {
    let usage = format!("usage: {usage}");
    let request = match parse(arguments) {
        Ok(request) => request,
        Err(what) => return wrong_usage(&what, &usage),
    };
    let project = match files::open(&request.project) {
        Ok(project) => project,
        Err(error) => {
            eprintln!("equirow: {error}");
            return ExitCode::from(FILE_TROUBLE);
        }
    };
    let chosen = match &request.routing {
        Some(name) => project.routing_named(name),
        None => project.routings.first(),
    };
    let Some(routing) = chosen else {
        let names: Vec<&str> = project.routings.iter().map(|routing| routing.name.as_str()).collect();
        let asked = request.routing.unwrap_or_default();
        let what = format!("the project has no routing \"{asked}\"; it has {}", names.join(", "));
        return wrong_usage(&what, &usage);
    };
    let document = document(&project, routing);
    let bytes = match request.format {
        Format::Csv => csv(&document),
        Format::Xlsx => xlsx(&document, &project.title.creator),
    };
    let written = bytes
        .map_err(|error| format!("{}: {error}", request.out.display()))
        .and_then(|bytes| files::write_whole(&request.out, &bytes).map_err(|error| error.to_string()));
    match written {
        Ok(()) => ExitCode::SUCCESS,
        Err(what) => {
            eprintln!("equirow: {what}");
            ExitCode::from(FILE_TROUBLE)
        }
    }
}

fn parse(arguments: &[String]) -> Result<Request, String> {
    let (mut project, mut out, mut routing) = (None, None, None);
    let mut rest = arguments.iter();
    while let Some(argument) = rest.next() {
        let (option, joined) = match argument.split_once('=') {
            Some((option, value)) if option.starts_with("--") => (option, Some(value.to_owned())),
            _ => (argument.as_str(), None),
        };
        let slot = match option {
            "--out" => &mut out,
            "--routing" => &mut routing,
            _ if option.starts_with('-') => {
                return Err(format!("the option {option} is not known; try --out or --routing"));
            }
            _ => {
                if let Some(first) = project.replace(argument.clone()) {
                    return Err(format!("two projects are named, {first} and {argument}; name one"));
                }
                continue;
            }
        };
        let value = joined.or_else(|| rest.next().cloned());
        *slot = Some(value.ok_or_else(|| format!("{option} needs a value behind it"))?);
    }
    let project = project.ok_or("no project file is named")?;
    let out = PathBuf::from(out.ok_or("no file to write is named; give --out")?);
    let format = format_of(&out).ok_or_else(|| {
        format!("\"{}\" is neither a .csv nor a .xlsx file; end its name in one of them", out.display())
    })?;
    Ok(Request { project: PathBuf::from(project), out, format, routing })
}

fn format_of(out: &Path) -> Option<Format> {
    let ending = out.extension()?.to_str()?.to_ascii_lowercase();
    match ending.as_str() {
        "csv" => Some(Format::Csv),
        "xlsx" => Some(Format::Xlsx),
        _ => None,
    }
}
