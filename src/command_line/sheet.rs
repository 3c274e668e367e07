//! `equirow sheet PROJECT --out FILE ...`: writes the sheets of one routing as PDF, SVG, DXF or PNG.

use std::path::PathBuf;
use std::process::ExitCode;

use super::asked::{self, Given, NO_PROJECT, take_file, walk};
use super::outputs::{self, REPLACE};
use super::raw_names::path_of;
use super::{ANSWER_IS_NO, FILE_TROUBLE, print, tell_notes, wrong_usage};
use crate::drawing::sheet_frame::Paper;
use crate::quantities::UnitSystem;
use crate::session::fonts::fonts_for;
use crate::session::paper_export::look_at_sheets;
use crate::session::papers::today;
use crate::sheets::{Date, SheetFormat, SheetKind, SheetOptions, sheet_set};

/// How it is called.
pub(super) const USAGE: &str = "equirow sheet PROJECT --out FILE.pdf|svg|dxf|png [--sheets layout,schematic,parts,cuts,\
                                steps,commissioning] [--paper A4|A3|A2|letter|tabloid] [--scale 1:50] [--routing NAME] \
                                [--units metric|us] [--flows] [--date YYYY-MM-DD] [--replace]";

#[derive(Default)]
struct Request {
    file: String,
    out: Option<PathBuf>,
    kinds: Option<Vec<SheetKind>>,
    paper: Option<Paper>,
    scale: Option<f64>,
    routing: Option<String>,
    units: Option<UnitSystem>,
    flows: bool,
    date: Option<Date>,
    replace: bool,
}

/// Runs the subcommand with the arguments after its name. The names of the files written go to standard output.
///
/// Exit codes: 0 written; 1 read, but a sheet can't be made of it; 2 wrong usage; 3 a file can't be read, understood or
/// written.
pub fn run(arguments: &[String]) -> ExitCode {
    let usage = format!("usage: {USAGE}");
    let request = match parse(arguments) {
        Ok(request) => request,
        Err(what) => return wrong_usage(&what, &usage),
    };
    let Some(out) = &request.out else {
        return wrong_usage("--out is missing: say which file to write", &usage);
    };
    let ending = out.extension().map(|ending| ending.to_string_lossy().into_owned()).unwrap_or_default();
    let Some(format) = SheetFormat::by_ending(&ending) else {
        let what = format!(
            "--out: {}: sheets are written as .pdf, .svg, .dxf or .png; end the name so",
            out.display()
        );
        return wrong_usage(&what, &usage);
    };
    // As far as can be told before the number of pages is known.
    let before =
        outputs::distinct(&path_of(&request.file), &[("--out", out.as_path())], USAGE).and_then(|()| {
            match format {
                SheetFormat::Pdf => {
                    outputs::permit("--out", look_at_sheets(out, format, 1), request.replace).map(drop)
                }
                SheetFormat::Svg | SheetFormat::Dxf | SheetFormat::Png => Ok(()),
            }
        });
    if let Err(code) = before {
        return code;
    }
    let mut project = match asked::open(&request.file) {
        Ok(project) => project,
        Err(code) => return code,
    };
    project.units = request.units.unwrap_or(project.units);
    let routing = match asked::routing(&project, request.routing.as_deref(), USAGE) {
        Ok(routing) => routing,
        Err(code) => return code,
    };
    let mut options = SheetOptions::all(&project, request.date.unwrap_or_else(today));
    options.kinds = request.kinds.unwrap_or(options.kinds);
    options.paper = request.paper.unwrap_or(options.paper);
    options.scale = request.scale;
    options.flows = request.flows;
    options.fonts = fonts_for(&project);
    let set = match sheet_set(&project, routing, &options) {
        Ok(set) => set,
        Err(error) => {
            eprintln!("equirow: {error}");
            return ExitCode::from(ANSWER_IS_NO);
        }
    };
    for warning in &set.warnings {
        eprintln!("equirow: {warning}");
    }
    let standing = look_at_sheets(out, format, set.pages.len());
    if standing.as_ref().is_ok_and(|standing| standing.writes_to(&path_of(&request.file))) {
        let what =
            format!("--out: a page of {} is the file that is read, PROJECT; name another", out.display());
        return wrong_usage(&what, &usage);
    }
    let permit = match outputs::permit("--out", standing, request.replace) {
        Ok(permit) => permit,
        Err(code) => return code,
    };
    let files = match format.files(&set) {
        Ok(files) => files.into_iter().map(|(_, bytes)| bytes).collect(),
        Err(error) => {
            eprintln!("equirow: {error}");
            return ExitCode::from(ANSWER_IS_NO);
        }
    };
    match permit.write(files) {
        Ok(written) => {
            tell_notes(&written.notes);
            let names: Vec<String> = written.files.iter().map(|path| path.display().to_string()).collect();
            print(&(names.join("\n") + "\n"), ExitCode::SUCCESS)
        }
        Err(error) => {
            eprintln!("equirow: {error}");
            ExitCode::from(FILE_TROUBLE)
        }
    }
}

fn parse(arguments: &[String]) -> Result<Request, String> {
    let mut request = Request::default();
    let options = ["--out", "--sheets", "--paper", "--scale", "--routing", "--units", "--date"];
    walk(arguments, "-", &options, &["--flows", REPLACE], |given| {
        let (option, value) = match given {
            Given::Name(name) => return take_file(&mut request.file, name, "PROJECT"),
            Given::Flag(REPLACE) => {
                request.replace = true;
                return Ok(());
            }
            Given::Flag(_) => {
                request.flows = true;
                return Ok(());
            }
            Given::Value(option, value) => (option, value),
        };
        match option {
            "--out" => request.out = Some(path_of(&value)),
            "--sheets" => request.kinds = Some(kinds(&value)?),
            "--paper" => {
                request.paper = Some(Paper::named(&value).ok_or_else(|| {
                    let all: Vec<&str> = Paper::ALL.iter().map(|paper| paper.label()).collect();
                    format!("--paper: \"{value}\" is no paper known here; try one of {}", all.join(", "))
                })?);
            }
            "--scale" => request.scale = Some(scale(&value)?),
            "--routing" => request.routing = Some(value),
            "--units" => request.units = Some(asked::units(&value)?),
            _ => {
                request.date = Some(
                    Date::parse(&value)
                        .ok_or_else(|| format!("--date: \"{value}\" is no day; write it as 2026-03-31"))?,
                );
            }
        }
        Ok(())
    })?;
    if request.file.is_empty() {
        return Err(NO_PROJECT.to_owned());
    }
    Ok(request)
}

fn kinds(value: &str) -> Result<Vec<SheetKind>, String> {
    value
        .split(',')
        .map(|name| {
            SheetKind::named(name).ok_or_else(|| {
                let all: Vec<&str> = SheetKind::ALL.iter().map(|kind| kind.name()).collect();
                format!("--sheets: \"{name}\" is no kind of sheet; try {}", all.join(","))
            })
        })
        .collect()
}

/// `1:50`, or `50` for the same.
fn scale(value: &str) -> Result<f64, String> {
    let refused = || format!("--scale: \"{value}\" is no scale; write it as 1:50, from 1:1 to 1:1000");
    let (one, many) = value.split_once(':').unwrap_or(("1", value));
    let number = |text: &str| text.trim().parse::<f64>().map_err(|_| refused());
    let denominator = number(many)? / number(one)?;
    if (1.0..=1000.0).contains(&denominator) { Ok(denominator) } else { Err(refused()) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn scales_and_kinds_are_read() {
        assert_eq!(scale("1:50"), Ok(50.0));
        assert_eq!(scale("20"), Ok(20.0));
        for wrong in ["0", "1:0", "a", "2:1", "1:5000", "1:nan", ""] {
            assert!(scale(wrong).is_err(), "{wrong}");
        }
        assert_eq!(kinds("parts,layout"), Ok(vec![SheetKind::Parts, SheetKind::Layout]));
        assert!(kinds("parts,plan").is_err_and(|what| what.contains("plan")));
    }
}
