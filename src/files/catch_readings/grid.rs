//! Cells in lines, from a CSV text, from the clipboard, or from a workbook.

use std::collections::BTreeMap;
use std::io::{Cursor, Read as _};

use calamine::{DataRef, Reader as _, Xlsx};

use crate::files::read_error::ReadError;
use crate::files::row_positions::{DELIMITERS, each_record};
use crate::plan::words::short;
use crate::quantities::plain;

/// A line of cells.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct GridLine {
    /// Where it stands: `line 5`, or `sheet Catch of every row, line 5`.
    pub(super) place: String,
    /// Its number on the sheet or in the text, from 1; 0 for the name of a sheet.
    pub(super) number: u64,
    /// Its cells, trimmed.
    pub(super) cells: Vec<String>,
}

/// The cells of a text whose lines are parted by the delimiter that parts a heading of rows, or else by the surest one that
/// occurs. In what was `pasted` from a spreadsheet a comma is a decimal mark.
pub(super) fn of_text(text: &str, pasted: bool) -> Vec<GridLine> {
    let text = text.trim_start_matches('\u{feff}');
    let delimiters: &[char] = if pasted { &['\t', ';', '|'] } else { &DELIMITERS };
    let heads_rows = |delimiter: &char| {
        text.lines().any(|line| {
            line.contains(*delimiter)
                && line
                    .split(*delimiter)
                    .any(|cell| cell.trim_matches(['"', ' ', '\r']).eq_ignore_ascii_case("row"))
        })
    };
    let occurs = |delimiter: &char| text.contains(*delimiter);
    let delimiter =
        delimiters.iter().find(|one| heads_rows(one)).or_else(|| delimiters.iter().find(|one| occurs(one)));
    // A column alone has none.
    let delimiter = delimiter.copied().unwrap_or('\t');
    let mut lines = Vec::new();
    if pasted {
        // A blank cell of a column keeps its place among the others.
        let cells =
            |line: &str| line.split(delimiter).map(|cell| cell.trim_matches(['"', ' ']).to_owned()).collect();
        return (1u64..)
            .zip(text.lines())
            .map(|(number, line)| GridLine { place: format!("line {number}"), number, cells: cells(line) })
            .collect();
    }
    each_record(text, delimiter, |line, record| {
        lines.push(GridLine {
            place: format!("line {line}"),
            number: line,
            cells: record.iter().map(str::to_owned).collect(),
        });
        true
    });
    lines
}

/// Largest that all files of a workbook may be together once unpacked, bytes: a commissioning sheet takes some 200 KiB.
const LARGEST_UNPACKED: u64 = 32 << 20;

/// Columns of a sheet that are looked at; what stands to the right of them is passed over.
const MOST_COLUMNS: u32 = 200;

/// Sheets of a workbook that are looked at.
const MOST_SHEETS: usize = 50;

/// What the cells that are kept may take together, bytes: a text that a workbook holds once may stand in every cell.
const LARGEST_KEPT: usize = 16 << 20;

/// What is wrong with a workbook that can't be unpacked: the reasons of the library help nobody.
const DAMAGED: &str = "it begins like a workbook (XLSX), but is cut off or damaged";

/// The cells of all sheets of a workbook, each sheet behind a line with its name.
pub(super) fn of_workbook(bytes: &[u8]) -> Result<Vec<GridLine>, ReadError> {
    let bad = |what: String| {
        ReadError::one(
            "file",
            what,
            "open it in a spreadsheet and save it anew as XLSX, or the sheet as CSV in UTF-8",
        )
    };
    let mut archive = zip::ZipArchive::new(Cursor::new(bytes)).map_err(|_| bad(DAMAGED.to_owned()))?;
    let mut left = LARGEST_UNPACKED;
    for at in 0..archive.len() {
        let file = archive.by_index(at).map_err(|_| bad(DAMAGED.to_owned()))?;
        // What a file says of its own size may be wrong.
        let mut text = Vec::new();
        let size = file.take(left + 1).read_to_end(&mut text).map_err(|_| bad(DAMAGED.to_owned()))?;
        left = left
            .checked_sub(size as u64)
            .ok_or_else(|| bad(format!("unpacked it is larger than {} MiB", LARGEST_UNPACKED >> 20)))?;
        if let Some(place) = impossible_place(&text) {
            return Err(bad(format!(
                "a cell of it is said to be at {}, where no sheet has one",
                short(&place)
            )));
        }
    }
    // The library counts columns and lines unchecked; what it has not foreseen must not end the program.
    std::panic::catch_unwind(|| cells(bytes, &bad))
        .unwrap_or_else(|_| Err(bad("it is no sound workbook (XLSX): its cells can't be read".to_owned())))
}

/// The first place in a sheet's text that no sheet has: beyond column XFD and line 1,048,576 (ECMA-376, the limits of the
/// program that the format comes from), or a range whose end lies before its beginning. Nothing in a text that is of no sheet.
fn impossible_place(text: &[u8]) -> Option<String> {
    let text = std::str::from_utf8(text).ok().filter(|text| text.contains("<sheetData"))?;
    let values = text.match_indices("r=").chain(text.match_indices("ref=")).filter_map(|(at, key)| {
        let before = text[..at].chars().next_back()?;
        let rest = &text[at + key.len()..];
        let quote = rest.chars().next().filter(|one| matches!(one, '"' | '\''))?;
        before.is_whitespace().then(|| rest[1..].split(quote).next()).flatten()
    });
    let impossible = |value: &&str| {
        let mut ends = Vec::new();
        for place in value.split_whitespace().flat_map(|range| range.split(':')) {
            let letters = place.trim_matches('$').bytes().take_while(u8::is_ascii_alphabetic).count();
            let (column, line) = place.trim_matches('$').split_at(letters);
            let of_letter =
                |sum: u32, letter: u8| sum * 26 + u32::from(letter.to_ascii_uppercase() - b'A') + 1;
            let column = if letters > 3 { u32::MAX } else { column.bytes().fold(0, of_letter) };
            let line = line.trim_matches('$');
            let line = if line.is_empty() { Some(1) } else { line.parse::<u32>().ok() };
            match line {
                Some(line) if (1..=1_048_576).contains(&line) && column <= 16_384 => {
                    ends.push((column, line));
                }
                _ => return true,
            }
        }
        let is_one_range = !value.contains(char::is_whitespace);
        is_one_range && matches!(ends[..], [from, to] if from.0 > to.0 || from.1 > to.1)
    };
    values.into_iter().find(impossible).map(str::to_owned)
}

/// The cells of all sheets of a workbook whose size and places were looked at.
fn cells(bytes: &[u8], bad: &dyn Fn(String) -> ReadError) -> Result<Vec<GridLine>, ReadError> {
    let mut book: Xlsx<_> = Xlsx::new(Cursor::new(bytes)).map_err(|_| bad(DAMAGED.to_owned()))?;
    let mut lines = Vec::new();
    let mut room = LARGEST_KEPT;
    for name in book.sheet_names().into_iter().take(MOST_SHEETS) {
        let shown = short(&name);
        lines.push(GridLine { place: format!("sheet {shown}"), number: 0, cells: vec![name.clone()] });
        // Cell by cell: one far out must not make a table of all that lie between.
        let Ok(mut cells) = book.worksheet_cells_reader(&name) else { continue };
        let mut by_line: BTreeMap<u32, Vec<String>> = BTreeMap::new();
        while let Some(cell) =
            cells.next_cell().map_err(|error| bad(format!("sheet {shown} can't be read: {error}")))?
        {
            let (line, column) = cell.get_position();
            if column >= MOST_COLUMNS {
                continue;
            }
            let words = words(cell.get_value());
            if words.is_empty() {
                continue;
            }
            let line = by_line.entry(line).or_default();
            let column = column as usize;
            let more = (column + 1).saturating_sub(line.len()) * size_of::<String>() + words.len();
            room = room
                .checked_sub(more)
                .ok_or_else(|| bad(format!("its cells take more than {} MiB", LARGEST_KEPT >> 20)))?;
            line.resize(line.len().max(column + 1), String::new());
            line[column] = words;
        }
        lines.extend(by_line.into_iter().map(|(line, cells)| GridLine {
            place: format!("sheet {shown}, line {}", u64::from(line) + 1),
            number: u64::from(line) + 1,
            cells,
        }));
    }
    Ok(lines)
}

/// A cell as it would be typed.
fn words(data: &DataRef) -> String {
    match data {
        DataRef::Empty => String::new(),
        DataRef::Int(number) => number.to_string(),
        DataRef::Float(number) => plain(*number),
        DataRef::DateTime(date) => {
            let (year, month, day, ..) = date.to_ymd_hms_milli();
            format!("{year:04}-{month:02}-{day:02}")
        }
        DataRef::String(text) | DataRef::DateTimeIso(text) | DataRef::DurationIso(text) => {
            text.trim().to_owned()
        }
        DataRef::SharedString(text) => text.trim().to_owned(),
        DataRef::Bool(yes) => if *yes { "yes" } else { "no" }.to_owned(),
        DataRef::Error(error) => error.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_that_no_sheet_has_are_named() {
        let sheet = |inside: &str| format!("<worksheet><sheetData>{inside}</sheetData></worksheet>");
        let found = |inside: &str| impossible_place(sheet(inside).as_bytes());
        assert_eq!(found("<row r=\"1\"><c r=\"A1\"/><c r='XFD1048576'/></row><x ref=\"A1:D12\"/>"), None);
        assert_eq!(found("<mergeCell ref=\"B2:C3 $D$4\"/>"), None);
        for bad in ["ZZZZZZ99999999999", "AAAA2", "A1048577", "A0", "D12:A1", "B1:B99999999", "é1"] {
            assert_eq!(found(&format!("<c\nr=\"{bad}\"/>")).as_deref(), Some(bad), "{bad}");
        }
        assert_eq!(impossible_place(b"<theme r=\"ZZZZ1\"/>"), None, "of no sheet");
    }
}
