//! What the subcommands that write a list share: their options, and the choice of the format by the file's name.

use std::path::PathBuf;
use std::process::ExitCode;

use super::asked::{self, Given, NO_PROJECT, take_file, walk};
use super::outputs::{self, REPLACE};
use super::raw_names::path_of;
use super::{FILE_TROUBLE, tell_notes, wrong_usage};
use crate::files::marks::List;
use crate::files::output::{Output, look};
use crate::plan::{Project, Routing};
use crate::quantities::UnitSystem;
use crate::session::paper_export::list_kind;
use crate::sheets::document::Document;
use crate::sheets::spreadsheet::ListFormat;

struct Request {
    project: String,
    out: PathBuf,
    format: ListFormat,
    routing: Option<String>,
    units: Option<UnitSystem>,
    replace: bool,
}

/// Makes the document of a routing and writes it. A list of the same kind that was there is replaced, whole or not at
/// all; anything else only if that is asked for.
pub(super) fn run(
    arguments: &[String],
    usage: &str,
    list: List,
    document: fn(&Project, &Routing) -> Document,
) -> ExitCode {
    let request = match parse(arguments) {
        Ok(request) => request,
        Err(what) => return wrong_usage(&what, &format!("usage: {usage}")),
    };
    let output = Output::alone(&request.out, list_kind(list, request.format));
    let permit = outputs::distinct(&path_of(&request.project), &[("--out", request.out.as_path())], usage)
        .and_then(|()| outputs::permit("--out", look(vec![output]), request.replace));
    let permit = match permit {
        Ok(permit) => permit,
        Err(code) => return code,
    };
    let mut project = match asked::open(&request.project) {
        Ok(project) => project,
        Err(code) => return code,
    };
    project.units = request.units.unwrap_or(project.units);
    let routing = match asked::routing(&project, request.routing.as_deref(), usage) {
        Ok(routing) => routing,
        Err(code) => return code,
    };
    let document = document(&project, routing);
    let bytes = request.format.bytes(&document, &project.title.creator);
    let written = bytes
        .map_err(|error| format!("{}: {error}", request.out.display()))
        .and_then(|bytes| permit.write(vec![bytes]).map_err(|error| error.to_string()));
    match written {
        Ok(written) => {
            tell_notes(&written.notes);
            ExitCode::SUCCESS
        }
        Err(what) => {
            eprintln!("equirow: {what}");
            ExitCode::from(FILE_TROUBLE)
        }
    }
}

fn parse(arguments: &[String]) -> Result<Request, String> {
    let (mut project, mut out, mut routing, mut units) = (String::new(), None, None, None);
    let mut replace = false;
    walk(arguments, "-", &["--out", "--routing", "--units"], &[REPLACE], |given| {
        match given {
            Given::Name(name) => take_file(&mut project, name, "PROJECT")?,
            Given::Flag(_) => replace = true,
            Given::Value("--out", value) => out = Some(value),
            Given::Value("--units", value) => units = Some(asked::units(&value)?),
            Given::Value(_, value) => routing = Some(value),
        }
        Ok(())
    })?;
    if project.is_empty() {
        return Err(NO_PROJECT.to_owned());
    }
    let out = path_of(&out.ok_or("--out is missing; name the file to write")?);
    let ending = out.extension().map(|ending| ending.to_string_lossy().into_owned()).unwrap_or_default();
    let format = ListFormat::by_ending(&ending).ok_or_else(|| {
        format!(
            "--out: \"{}\" is neither a .csv nor a .xlsx file; end its name in one of them",
            out.display()
        )
    })?;
    Ok(Request { project, out, format, routing, units, replace })
}
