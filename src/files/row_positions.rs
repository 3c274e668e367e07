//! Row positions from a table that somebody measured: one row a line with x, how far forward, and the height of its
//! outlet, as text with delimiters (CSV).
//!
//! Delimiter, decimal mark, header and units are found in the text where they can be; each can be chosen instead. A
//! line that can't be read is a problem with its number, and the others are read all the same, for a preview.

use std::path::Path;

use super::project_file::ReadError;
use super::whole_file::read_file;
use crate::plan::lay_out::RowPlace;
use crate::quantities::{Length, Measure, UnitSystem};

/// Units a column may be in.
pub const UNITS: [&str; 5] = ["m", "cm", "mm", "in", "ft"];

/// What was chosen; what is `None` is found in the text.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Choices {
    /// Between two cells.
    pub delimiter: Option<char>,
    /// Column of x, how far forward, height; from 0. `Some(None)` for a column that is not there.
    pub columns: [Option<Option<usize>>; 3],
    /// Unit of cells and columns that name none; metres if nothing is chosen.
    pub unit: Option<&'static str>,
}

/// One line that can't be read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LineProblem {
    /// Its number, from 1.
    pub line: u64,
    /// What is wrong.
    pub what: String,
    /// What to try.
    pub advice: String,
}

/// What was found in a table.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct RowPositions {
    /// Between two cells.
    pub delimiter: char,
    /// The first line names the columns.
    pub header: bool,
    /// Names of the columns, or `column 1` and so on.
    pub columns: Vec<String>,
    /// Which column x, how far forward and the height came from.
    pub used: [Option<usize>; 3],
    /// Units of those columns.
    pub units: [&'static str; 3],
    /// The rows that could be read, with their lines.
    pub rows: Vec<(u64, RowPlace)>,
    /// The lines that could not.
    pub problems: Vec<LineProblem>,
}

/// Delimiters that are looked for, the surest first: a comma may be a decimal mark.
pub const DELIMITERS: [char; 4] = [';', '\t', '|', ','];

/// Farthest from the middle that a row is believed to be, metres.
const FARTHEST: f64 = 60.0;

/// The text of a table's file.
pub fn read_table(path: &Path) -> Result<String, ReadError> {
    read_file(path)
}

/// Reads a table of row positions.
pub fn read_row_positions(text: &str, choices: &Choices) -> RowPositions {
    let text = text.trim_start_matches('\u{feff}');
    let delimiter = choices.delimiter.unwrap_or_else(|| find_delimiter(text));
    let mut found = RowPositions { delimiter, ..RowPositions::default() };
    let mut records = records(text, u8::try_from(delimiter).unwrap_or(b','));
    records.retain(|(_, cells)| cells.iter().any(|cell| !cell.is_empty()));
    let width = records.iter().map(|(_, cells)| cells.len()).max().unwrap_or(0);
    found.columns = (1..=width).map(|number| format!("column {number}")).collect();
    found.header = records
        .first()
        .is_some_and(|(_, first)| first.iter().any(|cell| !cell.is_empty() && metres(cell, "m").is_err()));
    if found.header {
        for (column, name) in found.columns.iter_mut().zip(&records[0].1) {
            if !name.is_empty() {
                name.clone_into(column);
            }
        }
        records.remove(0);
    }
    found.used = used_columns(&found, choices);
    let fallback = choices.unit.unwrap_or("m");
    found.units = found.used.map(|column| {
        let name = column.and_then(|at| found.columns.get(at));
        name.and_then(|name| unit_in(name)).filter(|_| found.header).unwrap_or(fallback)
    });
    for (line, record) in &records {
        let line = *line;
        match place(record, &found) {
            Ok(place) => {
                let twin = found.rows.iter().find(|(_, other)| (other.x.si() - place.x.si()).abs() < 0.005);
                if let Some((other, _)) = twin {
                    let what = format!("its row stands where the one of line {other} does");
                    found.problem(line, what, "remove one of them");
                } else {
                    found.rows.push((line, place));
                }
            }
            Err((what, advice)) => found.problem(line, what, &advice),
        }
    }
    if found.rows.is_empty() && found.problems.is_empty() {
        found.problem(1, "there is no row in it".to_owned(), "give one row a line: x, forward, height");
    }
    found.rows.sort_by(|a, b| a.1.x.si().total_cmp(&b.1.x.si()));
    found
}

impl RowPositions {
    fn problem(&mut self, line: u64, what: String, advice: &str) {
        self.problems.push(LineProblem { line, what, advice: advice.to_owned() });
    }

    /// The middle one of the gaps between neighbours: the nominal spacing; none for fewer than two rows.
    pub fn spacing(&self) -> Option<Length> {
        let mut gaps: Vec<f64> =
            self.rows.windows(2).map(|pair| pair[1].1.x.si() - pair[0].1.x.si()).collect();
        gaps.sort_by(f64::total_cmp);
        gaps.get(gaps.len() / 2).map(|gap| Length::metres((gap * 1000.0).round() / 1000.0))
    }

    /// The rows alone, from left to right.
    pub fn places(&self) -> Vec<RowPlace> {
        self.rows.iter().map(|(_, place)| *place).collect()
    }
}

/// The cells of each record, trimmed, with the line it starts on. What is not a record is passed over: any text can
/// be parted into cells.
fn records(text: &str, delimiter: u8) -> Vec<(u64, Vec<String>)> {
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .trim(csv::Trim::All)
        .comment(Some(b'#'))
        .delimiter(delimiter)
        .from_reader(text.as_bytes());
    let found = reader.records().filter_map(Result::ok);
    let cells = |record: &csv::StringRecord| record.iter().map(str::to_owned).collect();
    found.map(|record| (record.position().map_or(0, csv::Position::line), cells(&record))).collect()
}

/// The delimiter that parts the most lines into the same number of cells, at least two; a comma only where no other
/// does.
fn find_delimiter(text: &str) -> char {
    let lines = || text.lines().filter(|line| !line.trim().is_empty() && !line.starts_with('#')).take(50);
    let parts_all = |delimiter: &char| {
        let mut counts = lines().map(|line| line.matches(*delimiter).count());
        let first = counts.next().unwrap_or(0);
        first > 0 && counts.all(|count| count.abs_diff(first) <= 1 && count > 0)
    };
    DELIMITERS.into_iter().find(parts_all).unwrap_or_else(|| {
        // A line alone may be broken, so the delimiter that occurs most; a single column has none.
        let count = |delimiter: &char| lines().filter(|line| line.contains(*delimiter)).count();
        DELIMITERS.into_iter().rev().max_by_key(count).filter(|one| count(one) > 0).unwrap_or(';')
    })
}

/// Words that name the three columns.
const WORDS: [&[&str]; 3] = [
    &["x", "across", "right", "position"],
    &["y", "forward", "rank", "offset", "rank offset"],
    &["z", "height", "outlet"],
];

fn used_columns(found: &RowPositions, choices: &Choices) -> [Option<usize>; 3] {
    let words = |name: &str| -> Vec<String> {
        let lower = name.to_lowercase();
        lower.split(|c: char| !c.is_alphanumeric()).map(str::to_owned).collect()
    };
    let named = |which: usize| {
        found.columns.iter().position(|name| {
            found.header && words(name).iter().any(|word| WORDS[which].contains(&word.as_str()))
        })
    };
    // Without names, the first three columns in order.
    let any_named = (0..3).any(|which| named(which).is_some());
    std::array::from_fn(|which| {
        let by_text = if any_named { named(which) } else { Some(which) };
        choices.columns[which].unwrap_or(by_text).filter(|column| *column < found.columns.len())
    })
}

/// The unit that a column's name holds: `x (mm)`, `height_cm`.
fn unit_in(name: &str) -> Option<&'static str> {
    let lower = name.to_lowercase();
    let words: Vec<&str> = lower.split(|c: char| !c.is_alphanumeric()).collect();
    UNITS.into_iter().find(|unit| words.contains(unit))
}

/// A cell in metres; a unit in the cell goes before that of its column.
fn metres(cell: &str, unit: &str) -> Result<f64, String> {
    let bare = !cell.chars().any(|c| c.is_alphabetic() || matches!(c, '"' | '\''));
    let text = if bare && !cell.is_empty() { format!("{cell} {unit}") } else { cell.to_owned() };
    Measure::Distance.parse(&text, UnitSystem::Metric).map_err(|error| error.to_string())
}

fn place(record: &[String], found: &RowPositions) -> Result<RowPlace, (String, String)> {
    let mut values = [None; 3];
    for (which, name) in ["x", "forward", "height"].into_iter().enumerate() {
        let Some(column) = found.used[which] else { continue };
        let cell = record.get(column).map_or("", String::as_str);
        if cell.is_empty() && which > 0 {
            continue;
        }
        let value = metres(cell, found.units[which]).map_err(|error| {
            (format!("{name}: {error}"), "correct it, or choose other columns".to_owned())
        })?;
        if value.abs() > FARTHEST {
            let what = format!("{name} is {value:.1} m from the middle");
            return Err((what, "choose the unit it was measured in".to_owned()));
        }
        values[which] = Some(value);
    }
    let [Some(x), forward, height] = values else {
        return Err(("it has no x".to_owned(), "choose the column of x".to_owned()));
    };
    Ok(RowPlace {
        x: Length::metres(x),
        forward: Length::metres(forward.unwrap_or(0.0)),
        height: height.map(Length::metres),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> RowPositions {
        read_row_positions(text, &Choices::default())
    }

    fn numbers(found: &RowPositions) -> Vec<(f64, f64, Option<f64>)> {
        found
            .rows
            .iter()
            .map(|(_, row)| (row.x.si(), row.forward.si(), row.height.map(|height| height.si())))
            .collect()
    }

    #[test]
    fn delimiters_decimal_marks_headers_and_units_are_found() {
        let expected = vec![(-0.15, 0.5, Some(0.05)), (0.15, -0.5, Some(0.06))];
        for text in [
            "-0.15,0.5,0.05\n0.15,-0.5,0.06\n",
            "-0,15;0,5;0,05\r\n0,15;-0,5;0,06\r\n",
            "x\tforward\theight\n-0,15\t0,5\t0,05\n\n0,15\t-0,5\t0,06\n",
            "row,x (mm),y (mm),height (mm)\n1,-150,500,50\n2,150,-500,60\n",
            "\u{feff}height_cm;row;x_mm;rank offset_m\n5;1;-150;0.5\n6;2;150;-0.5\n",
            "# measured by hand\n-15 cm|500 mm|0.05\n15 cm|-500 mm|0.06\n",
            "\"-0,15\",\"0,5\",\"0,05\"\n\"0,15\",\"-0,5\",\"0,06\"\n",
        ] {
            let found = read(text);
            assert_eq!(found.problems, [], "{text}");
            let ours = numbers(&found);
            assert_eq!(ours.len(), expected.len(), "{text}");
            for (a, b) in ours.iter().zip(&expected) {
                assert!((a.0 - b.0).abs() < 1e-9 && (a.1 - b.1).abs() < 1e-9, "{text}: {a:?}");
                assert!((a.2.unwrap() - b.2.unwrap()).abs() < 1e-9, "{text}: {a:?}");
            }
        }
    }

    #[test]
    fn a_bad_line_is_named_and_the_others_are_read() {
        let found = read("x,y\n0.0,0.5\nabc,0.5\n0.6,\n0.601,0\n900,0\n");
        assert_eq!(numbers(&found), [(0.0, 0.5, None), (0.6, 0.0, None)]);
        let lines: Vec<u64> = found.problems.iter().map(|one| one.line).collect();
        assert_eq!(lines, [3, 5, 6]);
        assert!(found.problems[0].what.contains("not a number"), "{:?}", found.problems);
        assert!(found.problems[2].advice.contains("unit"), "{:?}", found.problems);
    }

    #[test]
    fn what_was_chosen_goes_before_what_is_found() {
        let choices = Choices {
            columns: [Some(Some(1)), Some(Some(0)), Some(None)],
            unit: Some("mm"),
            ..Choices::default()
        };
        let found = read_row_positions("500,-150,9\n-500,150,9\n", &choices);
        assert_eq!(numbers(&found), [(-0.15, 0.5, None), (0.15, -0.5, None)]);
        assert_eq!(found.spacing(), Some(Length::metres(0.3)));
    }

    #[test]
    fn no_text_makes_it_panic() {
        for text in ["", "\n\n", ",,,\n", "\"", "a;b;c", "1;2\n\"3;4", "x", "\u{0}\u{1}", "😀,😀"] {
            let found = read(text);
            assert!(found.rows.len() <= 2);
            assert!(!found.problems.is_empty() || !found.rows.is_empty(), "{text:?}");
        }
    }
}
