//! `equirow sheet PROJECT --out FILE ...`: writes the sheets of one routing as PDF, SVG, DXF or PNG.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::builder::{PathBufValueParser, PossibleValue, TypedValueParser as _};
use clap::{Args, ValueEnum, ValueHint};

use super::arguments::OneRouting;
use super::list::{no_catch_test, nothing_counts};
use super::outputs::{self, Outputs};
use super::{ANSWER_IS_NO, Ended, FILE_TROUBLE, print, tell_notes, wrong_usage};
use crate::drawing::sheet_frame::Paper;
use crate::plan::RoutingGeometry;
use crate::quantities::UnitSystem;
use crate::session::fonts::fonts_for;
use crate::session::paper_export::look_at_sheets;
use crate::session::papers::today;
use crate::sheets::catch_test::tests_of;
use crate::sheets::{Date, SheetFormat, SheetKind, SheetOptions, sheet_set};

/// The subcommand.
const NAME: &str = "sheet";

#[derive(Args)]
pub(super) struct Arguments {
    #[command(flatten)]
    of: OneRouting,
    /// The file to write; its ending says which format
    #[arg(long, value_name = "FILE.pdf|svg|dxf|png", value_hint = ValueHint::FilePath,
        value_parser = PathBufValueParser::new().try_map(SheetFile::named))]
    out: SheetFile,
    /// Which sheets, parted by commas; all to build from unless given
    #[arg(long, value_enum, ignore_case = true, value_delimiter = ',')]
    sheets: Option<Vec<SheetKind>>,
    /// Size of the paper
    #[arg(long, value_enum, ignore_case = true)]
    paper: Option<Paper>,
    /// Scale of the layout, like 1:50; the largest that fits unless given
    #[arg(long, value_name = "1:50", value_parser = scale)]
    scale: Option<f64>,
    /// Units; the project's unless given
    #[arg(long, value_enum, ignore_case = true)]
    units: Option<UnitSystem>,
    /// Notes solved flows and pressures in the drawings
    #[arg(long)]
    flows: bool,
    /// The day in the title block; today unless given
    #[arg(long, value_name = "YYYY-MM-DD", value_parser = day)]
    date: Option<Date>,
    #[command(flatten)]
    outputs: Outputs,
}

/// A file that sheets are written to; where there is one a sheet, their names are made from it.
#[derive(Clone)]
struct SheetFile {
    path: PathBuf,
    format: SheetFormat,
}

impl SheetFile {
    fn named(path: PathBuf) -> Result<Self, String> {
        let ending = path.extension().map(|ending| ending.to_string_lossy().into_owned()).unwrap_or_default();
        match SheetFormat::by_ending(&ending) {
            Some(format) => Ok(Self { path, format }),
            None => Err(format!(
                "{}: sheets are written as .pdf, .svg, .dxf or .png; end the name so",
                path.display()
            )),
        }
    }
}

impl ValueEnum for SheetKind {
    fn value_variants<'a>() -> &'a [Self] {
        &Self::ALL
    }

    fn to_possible_value(&self) -> Option<PossibleValue> {
        // As the name, and with a blank behind the comma of a list.
        let behind_comma = match self {
            Self::Layout => " layout",
            Self::Hinges => " hinges",
            Self::Schematic => " schematic",
            Self::Parts => " parts",
            Self::Cuts => " cuts",
            Self::Steps => " steps",
            Self::Commissioning => " commissioning",
            Self::CatchTest => " catch-test",
            Self::Behaviour => " behaviour",
            Self::Customer => " customer",
        };
        Some(PossibleValue::new(behind_comma.trim_start()).alias(behind_comma))
    }
}

impl ValueEnum for Paper {
    fn value_variants<'a>() -> &'a [Self] {
        &Self::ALL
    }

    fn to_possible_value(&self) -> Option<PossibleValue> {
        Some(match self {
            Self::A4 | Self::A3 | Self::A2 => PossibleValue::new(self.label()),
            Self::Letter => PossibleValue::new("letter").aliases(["US letter", "US-letter"]),
            Self::Tabloid => PossibleValue::new("tabloid").aliases(["US tabloid", "US-tabloid"]),
        })
    }
}

/// Runs the subcommand. The names of the files written go to standard output.
///
/// Exit codes: 0 written; 1 read, but a sheet can't be made of it; 2 wrong usage; 3 a file can't be read, understood or
/// written.
pub(super) fn run(arguments: &Arguments) -> Ended {
    let SheetFile { path: out, format } = &arguments.out;
    let input = &arguments.of.file;
    outputs::distinct(input, &[("--out", out)], NAME)?;
    // As far as can be told before the number of pages is known.
    if *format == SheetFormat::Pdf {
        arguments.outputs.permit("--out", look_at_sheets(out, *format, 1))?;
    }
    let mut project = arguments.of.open()?;
    project.units = arguments.units.unwrap_or(project.units);
    let routing = arguments.of.choose(&project, NAME)?;
    let duty = arguments.of.duty(&project, NAME)?.id;
    let mut options = SheetOptions::all(&project, arguments.date.unwrap_or_else(today));
    options.kinds = arguments.sheets.clone().unwrap_or(options.kinds);
    options.paper = arguments.paper.unwrap_or(options.paper);
    options.scale = arguments.scale;
    options.duty = duty;
    options.flows = arguments.flows;
    options.fonts = fonts_for(&project);
    let not_made = |error: &dyn std::fmt::Display| {
        eprintln!("equirow: {error}");
        ExitCode::from(ANSWER_IS_NO)
    };
    // What is asked for by its name is made, or nothing is.
    let asked = arguments.sheets.as_deref().unwrap_or_default();
    if let Some(missing) = asked.iter().find(|kind| !kind.is_there(&project, routing.id, duty)) {
        let or_else = format!(", or leave {missing} out of --sheets");
        if *missing == SheetKind::CatchTest {
            return Err(no_catch_test(
                routing,
                project.duty(duty),
                if asked.len() > 1 { &or_else } else { "" },
            ));
        }
        return Err(not_made(&format!(
            "no section of the bar hangs on a hinge, so that there is no sheet of {missing} and nothing was written; enter its hinges{or_else}"
        )));
    }
    if asked.contains(&SheetKind::CatchTest) {
        let without: Vec<_> =
            tests_of(&project, routing.id, duty).filter_map(|test| nothing_counts(&project, test)).collect();
        if asked.len() == 1 && !without.is_empty() && without.len() == project.catch_tests.tests.len() {
            return Err(not_made(&format!("{}; nothing was written", without[0])));
        }
        for why in without {
            eprintln!("equirow: {why}; its sheet says so");
        }
    }
    let geometry = RoutingGeometry::working(&project, routing);
    let set = sheet_set(&project, geometry.with(routing), &options).map_err(|error| not_made(&error))?;
    for warning in &set.warnings {
        eprintln!("equirow: {warning}");
    }
    let standing = look_at_sheets(out, *format, set.pages.len());
    if standing.as_ref().is_ok_and(|standing| standing.writes_to(input)) {
        let what =
            format!("--out: a page of {} is the file that is read, PROJECT; name another", out.display());
        return Err(wrong_usage(Some(NAME), &what));
    }
    let permit = arguments.outputs.permit("--out", standing)?;
    let files = format.files(&set).map_err(|error| not_made(&error))?;
    let written = permit.write(files.into_iter().map(|(_, bytes)| bytes).collect()).map_err(|error| {
        eprintln!("equirow: {error}");
        ExitCode::from(FILE_TROUBLE)
    })?;
    tell_notes(&written.notes);
    let names: Vec<String> = written.files.iter().map(|path| path.display().to_string()).collect();
    Ok(print(&(names.join("\n") + "\n"), ExitCode::SUCCESS))
}

fn day(value: &str) -> Result<Date, String> {
    Date::parse(value).ok_or_else(|| format!("\"{value}\" is no day; write it as 2026-03-31"))
}

/// `1:50`, or `50` for the same.
fn scale(value: &str) -> Result<f64, String> {
    let refused = || format!("\"{value}\" is no scale; write it as 1:50, from 1:1 to 1:1000");
    let (one, many) = value.split_once(':').unwrap_or(("1", value));
    let number = |text: &str| text.trim().parse::<f64>().map_err(|_| refused());
    let denominator = number(many)? / number(one)?;
    if (1.0..=1000.0).contains(&denominator) { Ok(denominator) } else { Err(refused()) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn scales_are_read() {
        assert_eq!(scale("1:50"), Ok(50.0));
        assert_eq!(scale("20"), Ok(20.0));
        for wrong in ["0", "1:0", "a", "2:1", "1:5000", "1:nan", ""] {
            assert!(scale(wrong).is_err(), "{wrong}");
        }
    }
}
