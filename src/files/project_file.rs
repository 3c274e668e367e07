//! Project files: RON text with a version first, and a catalogue in the same manner.
//!
//! All numbers in a file are SI (metres, pascals, cubic metres per second, radians; temperature in degrees
//! Celsius). The version stands before everything else and is checked before anything else, so that a file of
//! a newer program is refused by name and not by the first field that is not known here.

use std::io::Read as _;
use std::path::Path;

use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};

use super::layout::lay_out;
use super::read_error::ReadError;
use super::reading::{larger_than, open_to_read, read_file};
use super::ron_words::{CUT_OFF, what_is_wrong};
use super::version_1;
use super::whole_file::write_whole;
use super::written::{NotKept, Notes, WriteError};
use crate::plan::problems::{Problem, Problems};
use crate::plan::validate;
use crate::plan::{Catalogue, Project};

/// The version written. Version 1 is read as well, by types of its own (`version_1.rs`).
pub const VERSION: u32 = 2;

/// Largest project file, bytes, read or written: a routing takes about 1 KiB a row, so that fifteen routings of a thousand
/// rows fit. Reading takes at most ten times as much memory (measured by `tests/reliability/readers.py`).
pub const LARGEST: u64 = 16 << 20;

/// Largest catalogue file, bytes: two thousand entries with long descriptions take some 2 MiB.
pub const LARGEST_CATALOGUE: u64 = 4 << 20;

/// Deepest nesting of brackets in a file: a project needs some fifteen.
const DEEPEST: usize = 64;

const PROJECT_HEADER: &str = "\
// Equirow project. All numbers are SI: metres, pascals, cubic metres per second, square metres, radians,
// kilograms per cubic metre, pascal seconds; temperatures in degrees Celsius. x right, y forward, z up from the
// ground below the bar's centre, in working position.
";
const CATALOGUE_HEADER: &str = "\
// Equirow catalogue. All numbers are SI: bores, lengths and openings in metres, pressures in pascals.
";

#[derive(Serialize)]
struct ProjectOut<'a> {
    version: u32,
    project: &'a Project,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct ProjectIn<P> {
    #[serde(rename = "version")]
    _version: u32,
    project: P,
}

#[derive(Serialize)]
struct CatalogueOut<'a> {
    version: u32,
    catalogue: &'a Catalogue,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct CatalogueIn<C> {
    #[serde(rename = "version")]
    _version: u32,
    catalogue: C,
}

/// A project from the text of a file. Whatever is wrong is reported at once: the first place where the text
/// can't be understood, or all rules of the plan that it breaks.
pub fn read_text(text: &str) -> Result<Project, ReadError> {
    read_with_notes(text).map(|(project, _)| project)
}

/// The same, with what of an older file could not be kept, in words.
fn read_with_notes(text: &str) -> Result<(Project, Vec<String>), ReadError> {
    let (project, notes) = match version(text, "project")? {
        VERSION => (parse::<ProjectIn<Project>>(text)?.project, Vec::new()),
        1 => parse::<ProjectIn<version_1::Project>>(text)?.project.bring_up(),
        other => return Err(unknown_version(other)),
    };
    Ok((checked(project, validate::validate)?, notes))
}

/// A catalogue from the text of a file.
pub fn read_catalogue(text: &str) -> Result<Catalogue, ReadError> {
    let catalogue = match version(text, "catalogue")? {
        VERSION => parse::<CatalogueIn<Catalogue>>(text)?.catalogue,
        1 => parse::<CatalogueIn<version_1::Catalogue>>(text)?.catalogue.into(),
        other => return Err(unknown_version(other)),
    };
    checked(catalogue, validate::catalogue)
}

fn checked<T>(value: T, problems: impl Fn(&T) -> Problems) -> Result<T, ReadError> {
    let problems = problems(&value);
    if problems.is_empty() { Ok(value) } else { Err(ReadError { file: None, problems }) }
}

/// The text of a project's file: the same project always gives the same text.
pub fn write_text(project: &Project) -> Result<String, WriteError> {
    let text = write(PROJECT_HEADER, &ProjectOut { version: VERSION, project })?;
    if text.len() as u64 > LARGEST {
        return Err(WriteError::new(
            "project",
            format!("its file would be {}", larger_than(LARGEST)),
            "remove a routing, or waypoints of hoses that have many",
        ));
    }
    // What can't be read back must never take the place of a file that can.
    match read_text(&text) {
        Ok(back) if back == *project => Ok(text),
        Ok(_) => Err(WriteError::new(
            "project",
            "its text would not read back as the same project",
            "undo the last change and save again",
        )),
        Err(error) => Err(not_readable(error)),
    }
}

/// The text of a catalogue's file.
pub fn write_catalogue(catalogue: &Catalogue) -> Result<String, WriteError> {
    let text = write(CATALOGUE_HEADER, &CatalogueOut { version: VERSION, catalogue })?;
    read_catalogue(&text).map_err(not_readable)?;
    Ok(text)
}

fn write(header: &str, value: &impl Serialize) -> Result<String, WriteError> {
    let compact = ron::to_string(value).map_err(|error| {
        WriteError::new(
            "project",
            format!("it can't be put into text: {error}"),
            "undo the last change and save again",
        )
    })?;
    Ok(format!("{header}{}", lay_out(&compact)))
}

fn not_readable(error: ReadError) -> WriteError {
    WriteError(error.problems.into_first().unwrap_or_else(|| Problem {
        place: "project".to_owned(),
        what: "it could not be read back".to_owned(),
        advice: "undo the last change and save again".to_owned(),
    }))
}

fn parse<T: DeserializeOwned>(text: &str) -> Result<T, ReadError> {
    // Some editors put a byte-order mark in front.
    let text = text.trim_start_matches('\u{feff}');
    let advice = "correct the text there, or open an older copy of the file";
    let options = ron::Options::default().with_recursion_limit(DEEPEST);
    options.from_str(text).map_err(|error| {
        let start = error.span.start;
        let mut place = format!("line {}, column {}", start.line, start.col);
        let (before, behind) = around(text, start.line, start.col);
        if let Some(field) = field_in(before) {
            place = format!("{place} ({field})");
        }
        if let ron::Error::ExceededRecursionLimit = error.code {
            let what = format!("more than {DEEPEST} brackets stand one in the other");
            return ReadError::one(place, what, advice);
        }
        if is_cut_off(text, error.span.end) {
            let advice = "open an older copy of the file, or copy it once more from where it came";
            return ReadError::one(place, CUT_OFF, advice);
        }
        if let Some(number) = decimal_comma(before, behind) {
            let what = format!("{number} has a decimal comma");
            return ReadError::one(place, what, format!("write {} with a point", number.replace(',', ".")));
        }
        ReadError::one(place, in_short(&what_is_wrong(&error.code)), advice)
    })
}

/// The reader had come to the end of the text when it stopped, and the last bracket is not there.
fn is_cut_off(text: &str, end: ron::error::Position) -> bool {
    let text = text.trim_end();
    let last = text.split('\n').count();
    let is_at_end =
        end.line > last || (end.line == last && around(text, end.line, end.col).1.trim().is_empty());
    is_at_end && !text.ends_with(')')
}

/// What the RON reader says may quote a word of the file, however long that is.
fn in_short(words: &str) -> String {
    const LONGEST: usize = 300;
    match words.char_indices().nth(LONGEST) {
        Some((end, _)) => format!("{}…", &words[..end]),
        None => words.to_owned(),
    }
}

/// Most bytes of a line that are looked at to say what stands before a place in it.
const NEAR: usize = 200;

/// What stands before and behind a place in a text on the same line; before it no more than tells where that is.
fn around(text: &str, line: usize, column: usize) -> (&str, &str) {
    let line = line.checked_sub(1).and_then(|line| text.split('\n').nth(line)).unwrap_or_default();
    let end = line.char_indices().nth(column.saturating_sub(1)).map_or(line.len(), |(at, _)| at);
    let start = (end.saturating_sub(NEAR)..=end).find(|at| line.is_char_boundary(*at)).unwrap_or(end);
    (&line[start..end], &line[end..])
}

/// The number with a decimal comma that a place in the text lies in or just behind: a comma in the file parts values,
/// and what the reader says of such a number helps nobody.
fn decimal_comma(before: &str, behind: &str) -> Option<String> {
    let mut near: Vec<char> = before.chars().collect();
    let column = near.len() + 1;
    near.extend(behind.chars().take(NEAR));
    let digit = |at: usize| near.get(at).is_some_and(char::is_ascii_digit);
    let mut places = column.saturating_sub(3)..(column + 3).min(near.len());
    let comma = places.find(|&at| near[at] == ',' && at > 0 && digit(at - 1) && digit(at + 1))?;
    let start = (0..comma).rev().find(|&at| !digit(at)).map_or(0, |at| at + 1);
    let end = (comma + 1..near.len()).find(|&at| !digit(at)).unwrap_or(near.len());
    // Only the value of a field is a number by itself, in `Some` where it may be left away. Numbers that have a point, or
    // stand in brackets of their own, are several.
    let lead: String = near[..start].iter().collect();
    let lead = lead.trim_end().trim_end_matches(['-', '+']).trim_end();
    let is_value = lead.ends_with(':') || lead.ends_with("Some(");
    let goes_on = near.get(end).is_some_and(|next| matches!(next, '.' | ','));
    (is_value && !(goes_on && digit(end + 1))).then(|| near[start..end].iter().collect())
}

/// The name of the field whose value a place in the text belongs to, from what stands before it.
fn field_in(before: &str) -> Option<&str> {
    let name = before.rsplit_once(':')?.0;
    let is_of_name = |c: char| c.is_ascii_alphanumeric() || c == '_';
    Some(&name[name.trim_end_matches(is_of_name).len()..])
        .filter(|name| !name.is_empty() && !name.starts_with(|c: char| c.is_ascii_digit()))
}

/// The version at the start of a text.
fn version(text: &str, what: &str) -> Result<u32, ReadError> {
    let mut rest = text.trim_start_matches('\u{feff}').trim_start();
    while rest.starts_with("//") {
        rest = rest.split_once('\n').map_or("", |(_, behind)| behind).trim_start();
    }
    let line = text[..text.len() - rest.len()].matches('\n').count() + 1;
    let not_ours = || {
        if rest.starts_with('{') {
            return ReadError::one(
                format!("line {line}"),
                format!("this begins as a network in the neutral format (JSON), and is not a {what}"),
                "solve a network with `equirow network FILE`",
            );
        }
        ReadError::one(
            format!("line {line}"),
            format!("this is not an Equirow {what}: it does not start with `(version: {VERSION}, {what}: (`"),
            format!("choose a file that Equirow saved as a {what}"),
        )
    };
    let digits = rest
        .strip_prefix('(')
        .and_then(|rest| rest.trim_start().strip_prefix("version"))
        .and_then(|rest| rest.trim_start().strip_prefix(':'))
        .map(str::trim_start)
        .ok_or_else(not_ours)?;
    let end = digits.find(|c: char| !c.is_ascii_digit()).unwrap_or(digits.len());
    let found = digits[..end].parse().map_err(|_| not_ours())?;
    // What the file holds is said by the name of its next field.
    let holds = digits[end..].trim_start().strip_prefix(',').unwrap_or_default().trim_start();
    let holds = holds.split_once(':').map_or("", |(name, _)| name.trim_end());
    match (what, holds) {
        ("project", "catalogue") => Err(ReadError::one(
            format!("line {line}"),
            "this is a catalogue, not a project",
            "open a project, and compare its catalogue with this file: there entries are taken over (Catalogue)",
        )),
        ("catalogue", "project") => Err(ReadError::one(
            format!("line {line}"),
            "this is a project, not a catalogue",
            "open it, and export its catalogue to a file of its own (Catalogue)",
        )),
        _ => Ok(found),
    }
}

fn unknown_version(found: u32) -> ReadError {
    let what = format!("the file has version {found}; this program knows versions 1 to {VERSION}");
    let advice = if found > VERSION {
        "open it with a newer Equirow"
    } else {
        "open it with the Equirow that saved it"
    };
    ReadError::one("version", what, advice)
}

/// Opens a project file of at most [`LARGEST`] bytes.
pub fn open(path: &Path) -> Result<Project, ReadError> {
    open_with_notes(path).map(|(project, _)| project)
}

/// Opens a project file, with what of an older one could not be kept, in words for whoever opened it.
pub fn open_with_notes(path: &Path) -> Result<(Project, Vec<String>), ReadError> {
    read_file(path, LARGEST).and_then(|text| read_with_notes(&text)).map_err(|error| error.of(path))
}

/// Saves a project: written beside, flushed to the disk, renamed. If any of it fails, the file that was there is
/// as before and nothing is left beside it. The notes say what the file could not keep of the one before.
pub fn save(path: &Path, project: &Project) -> Result<Notes, WriteError> {
    let text = write_text(project)?;
    let older = older_version(path, "project");
    let mut notes = write_whole(path, text.as_bytes())?;
    notes.extend_with(path, older);
    Ok(notes)
}

/// The version of a project file that is older than the one written now; none of any other file, or where none is.
pub fn older_project(path: &Path) -> Option<u32> {
    older(path, "project")
}

/// That the file there is of an older version than the one that takes its place, if it is. `what` is the word for the
/// kind of file that it starts with: `project` or `catalogue`.
pub(super) fn older_version(path: &Path, what: &str) -> Option<NotKept> {
    older(path, what).map(|before| NotKept::Version { before, now: VERSION })
}

fn older(path: &Path, what: &str) -> Option<u32> {
    /// Enough for notes that people put before the version.
    const HEAD: u64 = 16 << 10;
    let file = open_to_read(path, LARGEST).ok()?;
    let mut head = Vec::new();
    file.take(HEAD).read_to_end(&mut head).ok()?;
    let found = version(&String::from_utf8_lossy(&head), what).ok()?;
    (found < VERSION).then_some(found)
}
