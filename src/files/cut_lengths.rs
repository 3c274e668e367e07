//! Lengths as they were cut, from a cut list in CSV that somebody has filled in.
//!
//! Delimiter and unit are found in the headings, so that a list which a spreadsheet has saved in its own way is read too.
//! Lines without a length are passed over; a line that can't be read is a problem with its number. A line with more cells
//! than the heading is never read: a decimal comma has parted one of them in two, and a shorter number would be left.

use std::path::Path;

use super::read_error::ReadError;
use super::row_positions::{DELIMITERS, SPLIT_BY_COMMA, each_record, is_bare, metres, read_table, unit_in};
use crate::plan::cutting::{
    AS_CUT_HEADING, FINAL_HEADING, FITTED_HEADING, FROM_HEADING, REVISION_HEADING, STOCK_HEADING,
    TAG_HEADING, TO_HEADING,
};
use crate::plan::problems::{Problem, Problems};
use crate::plan::words::{counted, short};
use crate::quantities::{Length, UnitSystem, decimals};

/// A length as it was cut.
#[derive(Debug, Clone, PartialEq)]
pub struct LengthAsCut {
    /// The line of the list.
    pub line: u64,
    /// Tag of the piece: `H3`, `T14`, `T14.2`.
    pub tag: String,
    /// Where the list says it starts; empty where it does not say.
    pub from: String,
    /// Where the list says it ends; empty where it does not say.
    pub to: String,
    /// Of which stock the list says it is; empty where it does not say.
    pub stock: String,
    /// Its length.
    pub length: Length,
    /// The unit of the heading that the length was read in; none where the length brought its own.
    pub heading_unit: Option<&'static str>,
    /// Whether the list says that this is its last length, of what is cut roughly first; none where it does not say.
    pub is_final: Option<bool>,
    /// How long the list says that it is fitted; none where it does not say.
    pub fitted: Option<Length>,
}

/// What a filled-in cut list holds.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LengthsAsCut {
    /// The lengths, in the order of the list.
    pub lengths: Vec<LengthAsCut>,
    /// The units that the list says fitted lengths in, and was rounded for.
    pub units: UnitSystem,
    /// The revision that the list was made of, if it says so.
    pub revision: Option<String>,
    /// What keeps the list from being taken.
    pub problems: Problems,
}

/// Longest piece that is believed, metres: beyond it a length is a slip of the unit.
const LONGEST: f64 = 200.0;

/// Reads the file of a filled-in cut list.
pub fn read_cut_lengths_of(path: &Path) -> Result<LengthsAsCut, ReadError> {
    read_table(path).map(|text| read_cut_lengths(&text))
}

/// Reads a filled-in cut list.
pub fn read_cut_lengths(text: &str) -> LengthsAsCut {
    let text = text.trim_start_matches('\u{feff}');
    let mut found = LengthsAsCut::default();
    let first = text.lines().find(|line| !line.trim().is_empty()).unwrap_or_default();
    let has_tag = |delimiter: &char| {
        first.split(*delimiter).any(|cell| cell.trim_matches(['"', ' ']).eq_ignore_ascii_case(TAG_HEADING))
    };
    let Some(delimiter) = DELIMITERS.into_iter().find(has_tag) else {
        found.problem(
            1,
            format!("no column is headed \"{TAG_HEADING}\""),
            "give a cut list that was exported as CSV",
        );
        return found;
    };
    let mut columns: Option<Columns> = None;
    let mut lines = 0;
    each_record(text, delimiter, |line, record| {
        let Some(columns) = &columns else {
            let of_head = Columns::of(record);
            found.units = of_head.fitted_units();
            for heading in &of_head.twice {
                let what = format!("two columns are headed \"{heading}\"");
                found.problem(line, what, "keep the one that is meant");
            }
            columns = Some(of_head);
            return true;
        };
        if record.len() > columns.width {
            let what = format!("{} cells, but {} headings", record.len(), columns.width);
            found.problem(line, what, SPLIT_BY_COMMA);
            return true;
        }
        let cell = |at: Option<usize>| at.and_then(|at| record.get(at)).unwrap_or_default();
        let (tag, length) = (cell(columns.tag).trim_start_matches('\''), cell(columns.as_cut));
        lines += 1;
        if length.is_empty() {
            return true;
        }
        if columns.revision.is_some() {
            let own = cell(columns.revision).trim_start_matches('\'').to_owned();
            match &found.revision {
                Some(revision) if *revision != own => {
                    let what = format!(
                        "{} is of revision \"{}\", lines above of \"{}\"",
                        short(tag),
                        short(&own),
                        short(revision)
                    );
                    found.problem(line, what, "read each list by itself");
                }
                _ => found.revision = Some(own),
            }
        }
        let is_final = match final_said(cell(columns.is_final)) {
            Ok(said) => said,
            Err(said) => {
                let what = format!("{}: {FINAL_HEADING} is \"{}\"", short(tag), short(&said));
                found.problem(line, what, "write yes once it is cut to its last length, no before");
                None
            }
        };
        match metres(length, columns.unit) {
            Err(error) => found.problem(line, format!("{AS_CUT_HEADING}: {error}"), "correct the length"),
            Ok(_) if tag.is_empty() => {
                found.problem(line, "a length without a tag".to_owned(), "give the tag of its piece");
            }
            Ok(length) if length <= 0.0 || length > LONGEST => {
                let length = decimals(length, 3);
                let what = format!("{}: {length} m is no length of a hose or tube", short(tag));
                found.problem(line, what, "give it in the unit of the heading, or with its unit");
            }
            Ok(length) => found.lengths.push(LengthAsCut {
                line,
                tag: tag.to_owned(),
                from: cell(columns.from).to_owned(),
                to: cell(columns.to).to_owned(),
                stock: cell(columns.stock).trim_start_matches('\'').to_owned(),
                // To a tenth of a millimetre, finer than anybody cuts.
                length: Length::metres((length * 1e4).round() / 1e4),
                heading_unit: is_bare(cell(columns.as_cut)).then_some(columns.unit),
                is_final,
                fitted: metres(cell(columns.fitted), columns.fitted_unit).ok().map(Length::metres),
            }),
        }
        true
    });
    let has_lengths = columns.is_some_and(|columns| columns.as_cut.is_some());
    if !has_lengths {
        let what = format!("no column is headed \"{AS_CUT_HEADING} (mm)\" or \"{AS_CUT_HEADING} (in)\"");
        found.problem(
            1,
            what,
            "give a cut list that was exported as CSV, with its last length column filled in",
        );
    } else if found.lengths.is_empty() && found.problems.is_empty() {
        found.problems.add(|| Problem {
            place: format!("column \"{AS_CUT_HEADING}\""),
            what: format!("no length is filled in in any of its {}", counted(lines, "line")),
            advice: "write the lengths there, or export the list and fill it in".to_owned(),
        });
    }
    let mut tags: Vec<(&str, u64)> = found.lengths.iter().map(|one| (one.tag.as_str(), one.line)).collect();
    tags.sort_unstable();
    let twice: Vec<(String, u64, u64)> = tags
        .windows(2)
        .filter(|pair| pair[0].0 == pair[1].0)
        .map(|pair| (pair[0].0.to_owned(), pair[0].1, pair[1].1))
        .collect();
    for (tag, first, second) in twice {
        let what = format!("{} has a length in line {first} too", short(&tag));
        found.problem(second, what, "keep one of them");
    }
    found
}

impl LengthsAsCut {
    fn problem(&mut self, line: u64, what: String, advice: &str) {
        let advice = advice.to_owned();
        self.problems.add(|| Problem { place: format!("line {line}"), what, advice });
    }
}

/// What a cell says of whether a length is final; the cell itself where it can't be told.
fn final_said(cell: &str) -> Result<Option<bool>, String> {
    match cell.trim().to_lowercase().as_str() {
        "" => Ok(None),
        "yes" | "y" | "x" | "1" | "true" => Ok(Some(true)),
        "no" | "n" | "0" | "false" => Ok(Some(false)),
        _ => Err(cell.to_owned()),
    }
}

/// Which column holds what.
struct Columns {
    /// How many there are.
    width: usize,
    tag: Option<usize>,
    from: Option<usize>,
    to: Option<usize>,
    stock: Option<usize>,
    fitted: Option<usize>,
    as_cut: Option<usize>,
    is_final: Option<usize>,
    revision: Option<usize>,
    /// Of the lengths as cut that name none.
    unit: &'static str,
    /// Of the fitted lengths.
    fitted_unit: &'static str,
    /// Headings of which there are two or more.
    twice: Vec<&'static str>,
}

impl Columns {
    fn of(record: &csv::StringRecord) -> Self {
        let bare = |cell: &str| cell.split(" (").next().unwrap_or(cell).trim().to_lowercase();
        let all = |name: &str| {
            let name = name.to_lowercase();
            record.iter().enumerate().filter(move |(_, cell)| bare(cell) == name).map(|(at, _)| at)
        };
        let headed = |name: &str| all(name).next();
        let unit_of = |at: Option<usize>| at.and_then(|at| unit_in(record.get(at)?)).unwrap_or("mm");
        let known = [
            TAG_HEADING,
            FROM_HEADING,
            TO_HEADING,
            STOCK_HEADING,
            FITTED_HEADING,
            AS_CUT_HEADING,
            FINAL_HEADING,
            REVISION_HEADING,
        ];
        let (as_cut, fitted) = (headed(AS_CUT_HEADING), headed(FITTED_HEADING));
        Self {
            width: record.len(),
            tag: headed(TAG_HEADING),
            from: headed(FROM_HEADING),
            to: headed(TO_HEADING),
            stock: headed(STOCK_HEADING),
            fitted,
            as_cut,
            is_final: headed(FINAL_HEADING),
            revision: headed(REVISION_HEADING),
            unit: unit_of(as_cut),
            fitted_unit: unit_of(fitted),
            twice: known.into_iter().filter(|name| all(name).count() > 1).collect(),
        }
    }

    const fn fitted_units(&self) -> UnitSystem {
        match self.fitted_unit.as_bytes() {
            b"in" | b"ft" => UnitSystem::UsCustomary,
            _ => UnitSystem::Metric,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lengths(text: &str) -> Vec<(String, i64)> {
        let found = read_cut_lengths(text);
        assert!(found.problems.is_empty(), "{:?}", found.problems);
        found.lengths.into_iter().map(|one| (one.tag, (one.length.si() * 1e4).round() as i64)).collect()
    }

    #[test]
    fn a_list_is_read_as_spreadsheets_save_it() {
        let expected = [("H1".to_owned(), 41_235), ("T2.1".to_owned(), 20_000)];
        assert_eq!(
            lengths(
                "\u{feff}Cut,Tag,From,To,As cut (mm)\r\n1,H1,pump,F1 inlet,4123.5\r\n2,H2,a,b,\r\n3,T2.1,a,b,2 m\r\n"
            ),
            expected
        );
        assert_eq!(
            lengths("Cut;Tag;As cut (mm);Remarks\n1;H1;4123,5;\"one; two\"\n\n3;T2.1;2000;\n"),
            expected
        );
        // As a spreadsheet writes 4120 in few digits.
        assert_eq!(lengths("Tag;As cut (mm)\nH1;4.12E+03\n"), [("H1".to_owned(), 41_200)]);
        assert_eq!(lengths("\"Tag\"\t\"As cut (in)\"\nH1\t10\n"), [("H1".to_owned(), 2540)]);
    }

    #[test]
    fn a_list_says_which_lengths_are_final_and_which_unit_is_the_headings() {
        let found = read_cut_lengths("Tag,As cut (in),Final\nH1,30,yes\nH2,31,No\nH3,2 m,\n");
        let said: Vec<_> = found.lengths.iter().map(|one| (one.is_final, one.heading_unit)).collect();
        assert_eq!(said, [(Some(true), Some("in")), (Some(false), Some("in")), (None, None)]);
    }

    #[test]
    fn what_keeps_a_list_from_being_taken_is_said_with_its_line() {
        for (text, says) in [
            ("", "line 1: no column is headed \"Tag\"; give a cut list"),
            ("Tag,From\nH1,pump\n", "no column is headed \"As cut (mm)\""),
            (
                "Tag,As cut (mm)\nH1,\nH2,\n",
                "column \"As cut\": no length is filled in in any of its 2 lines; write",
            ),
            ("Tag,As cut (mm)\nH1,12 bar\n", "line 2: As cut: "),
            ("Tag,As cut (mm)\nH1,-3\n", "line 2: H1: −0.003 m is no length"),
            ("Tag,As cut (mm)\nH1,3e9\n", "line 2: H1: 3000000.000 m is no length of a hose or tube"),
            ("Tag,As cut (mm)\nH1,1e300\n", "line 2: H1: 1.000e297 m is no length"),
            // A decimal comma without quotes: 4123 would be left of it.
            (
                "Tag,As cut (mm),Remarks\nH1,4123,5,\n",
                "line 2: 4 cells, but 3 headings; a decimal comma parts",
            ),
            ("Tag,As cut (mm)\nH1,30\nH2,,,\n", "line 3: 4 cells, but 2 headings"),
            (
                "Tag,As cut (mm),As cut (in)\nH1,30,\n",
                "line 1: two columns are headed \"As cut\"; keep the one",
            ),
            ("Tag,Tag,As cut (mm)\nH1,H2,30\n", "line 1: two columns are headed \"Tag\""),
            ("Tag,As cut (mm)\n,30\n", "line 2: a length without a tag"),
            (
                "Tag,As cut (mm),Final\nH1,30,later\n",
                "line 2: H1: Final is \"later\"; write yes once it is cut to its last length",
            ),
            (
                "Tag,As cut (mm),Revision\nH1,30,1\nH2,31,2\n",
                "line 3: H2 is of revision \"2\", lines above of \"1\"; read each list by itself",
            ),
            ("Tag,As cut (mm)\nH1,30\nH2,\nH1,31\n", "line 4: H1 has a length in line 2 too; keep one"),
        ] {
            let problems = read_cut_lengths(text).problems;
            assert_eq!(problems.total(), 1, "{text:?}: {problems:?}");
            assert!(problems.shown()[0].to_string().contains(says), "{text:?}: {problems:?}");
        }
    }
}
