//! What the subcommands that write a list share: their options, and the choice of the format by the file's name.

use std::path::PathBuf;
use std::process::ExitCode;

use super::asked::{self, Given, take_file, walk};
use super::raw_names::path_of;
use super::{FILE_TROUBLE, tell_notes, wrong_usage};
use crate::files;
use crate::plan::{Project, Routing};
use crate::quantities::UnitSystem;
use crate::sheets::document::Document;
use crate::sheets::spreadsheet::ListFormat;

struct Request {
    project: String,
    out: PathBuf,
    format: ListFormat,
    routing: Option<String>,
    units: Option<UnitSystem>,
}

/// Makes the document of a routing and writes it. A file that was there is replaced only by a whole new one.
pub(super) fn run(
    arguments: &[String],
    usage: &str,
    document: fn(&Project, &Routing) -> Document,
) -> ExitCode {
    let request = match parse(arguments) {
        Ok(request) => request,
        Err(what) => return wrong_usage(&what, &format!("usage: {usage}")),
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
        .and_then(|bytes| files::write_whole(&request.out, &bytes).map_err(|error| error.to_string()));
    match written {
        Ok(notes) => {
            tell_notes(&notes);
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
    walk(arguments, "-", &["--out", "--routing", "--units"], &[], |given| {
        match given {
            Given::Name(name) | Given::Flag(name) => take_file(&mut project, name, "projects")?,
            Given::Value("--out", value) => out = Some(value),
            Given::Value("--units", value) => units = Some(asked::units(&value)?),
            Given::Value(_, value) => routing = Some(value),
        }
        Ok(())
    })?;
    if project.is_empty() {
        return Err("no project file is named".to_owned());
    }
    let out = path_of(&out.ok_or("no file to write is named; give --out")?);
    let ending = out.extension().map(|ending| ending.to_string_lossy().into_owned()).unwrap_or_default();
    let format = ListFormat::by_ending(&ending).ok_or_else(|| {
        format!("\"{}\" is neither a .csv nor a .xlsx file; end its name in one of them", out.display())
    })?;
    Ok(Request { project, out, format, routing, units })
}
