//! Row positions from a table that somebody measured: one row a line with x, how far forward, and the height of its
//! outlet, as text with delimiters (CSV).
//!
//! Delimiter, decimal mark, header and units are found in the text where they can be; each can be chosen instead. A
//! line that can't be read is a problem with its number, and the others are read all the same, for a preview.

use std::collections::BTreeMap;
use std::path::Path;

use super::read_error::ReadError;
use super::reading::read_file;
use crate::plan::bounds::Bound;
use crate::plan::lay_out::RowPlace;
use crate::plan::problems::{Problem, Problems};
use crate::plan::words::short;
use crate::quantities::{Length, Measure, UnitSystem, decimals};

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
    /// The lines that could not; with more rows than a bar may have, that stands first and no row is taken.
    pub problems: Problems,
}

/// Delimiters that are looked for, the surest first: a comma may be a decimal mark.
pub const DELIMITERS: [char; 4] = [';', '\t', '|', ','];

/// Farthest from the middle that a row is believed to be, metres.
const FARTHEST: f64 = 60.0;

/// Largest table, bytes: a thousand rows with all that a spreadsheet says beside them take some 200 KiB.
pub const LARGEST_TABLE: u64 = 4 << 20;

/// Most columns that can be chosen from; what stands to the right of them is passed over.
const MOST_COLUMNS: usize = 50;

/// Rows nearer to each other than this are one row measured twice, metres.
const TWIN: f64 = 0.005;

/// What to try where a line has more cells than the heading.
pub(super) const SPLIT_BY_COMMA: &str = "a decimal comma parts a number in two where commas part the cells: write a decimal point, put the number in quotes, or \
     save the table with semicolons";

/// The text of a table's file.
pub fn read_table(path: &Path) -> Result<String, ReadError> {
    read_file(path, LARGEST_TABLE).map_err(|error| error.of(path))
}

/// Reads a table of row positions, record by record: however long it is, no more of it is kept than a bar may have rows.
pub fn read_row_positions(text: &str, choices: &Choices) -> RowPositions {
    let text = text.trim_start_matches('\u{feff}');
    let delimiter = choices.delimiter.unwrap_or_else(|| find_delimiter(text));
    let mut found = RowPositions { delimiter, ..RowPositions::default() };
    let mut width = 0;
    let mut head_width = 0;
    let mut first = Vec::new();
    each_record(text, delimiter, |_, cells| {
        if width == 0 {
            head_width = cells.len();
            first = cells.iter().take(MOST_COLUMNS).map(short).collect();
        }
        width = width.max(cells.len().min(MOST_COLUMNS));
        width < MOST_COLUMNS
    });
    found.columns = (1..=width).map(|number| format!("column {number}")).collect();
    found.header = first.iter().any(|cell| !cell.is_empty() && metres(cell, "m").is_err());
    if found.header {
        for (column, name) in found.columns.iter_mut().zip(first) {
            if !name.is_empty() {
                *column = name;
            }
        }
    }
    found.used = used_columns(&found, choices);
    let fallback = choices.unit.unwrap_or("m");
    found.units = found.used.map(|column| {
        let name = column.and_then(|at| found.columns.get(at));
        name.and_then(|name| unit_in(name)).filter(|_| found.header).unwrap_or(fallback)
    });
    // Rows by how many times the least distance they stand from the middle: a twin stands in the same cell or in one of
    // the two beside it.
    let mut taken: BTreeMap<i64, Vec<(u64, f64)>> = BTreeMap::new();
    let mut is_header = found.header;
    // How far forward rows stand that say so, and the lines of those that don't.
    let (mut given, mut without): (Vec<Length>, Vec<u64>) = Default::default();
    each_record(text, delimiter, |line, record| {
        if std::mem::take(&mut is_header) {
            return true;
        }
        if found.header && record.len() > head_width {
            let what = format!("{} cells, but {head_width} headings", record.len());
            found.problem(line, what, SPLIT_BY_COMMA);
            return true;
        }
        match place(record, &found) {
            Ok((place, has_forward)) => {
                let x = place.x.si();
                let cell = (x / TWIN).floor() as i64;
                let mut near = taken.range(cell - 1..=cell + 1).flat_map(|(_, rows)| rows);
                if let Some((other, _)) = near.find(|(_, other)| (other - x).abs() < TWIN) {
                    let what = format!("its row stands where the one of line {other} does");
                    found.problem(line, what, "remove one of them");
                } else if let Some(too_many) =
                    Bound::Rows.broken_by(&format!("line {line}"), "the table", found.rows.len() + 1)
                {
                    // Half a bar is worse than none, and the rest could only be more of the same.
                    found
                        .problems
                        .push_first(Problem { what: format!("up to here {}", too_many.what), ..too_many });
                    found.rows.clear();
                    return false;
                } else {
                    taken.entry(cell).or_default().push((line, x));
                    if has_forward {
                        given.push(place.forward);
                    } else {
                        without.push(line);
                    }
                    found.rows.push((line, place));
                }
            }
            Err((what, advice)) => found.problem(line, what, &advice),
        }
        true
    });
    found.stand_as_the_others(&given, &without);
    if found.rows.is_empty() && found.problems.is_empty() {
        found.problem(1, "there is no row in it".to_owned(), "give one row a line: x, forward, height");
    }
    found.rows.sort_by(|a, b| a.1.x.si().total_cmp(&b.1.x.si()));
    found
}

impl RowPositions {
    fn problem(&mut self, line: u64, what: String, advice: &str) {
        self.problems.add(|| Problem { place: format!("line {line}"), what, advice: advice.to_owned() });
    }

    /// Rows that don't say how far forward they stand stand where all others do; where those differ, nobody knows.
    fn stand_as_the_others(&mut self, given: &[Length], without: &[u64]) {
        let Some(first) = given.first().copied() else { return };
        if given.iter().all(|one| (*one - first).abs().si() < TWIN) {
            for (_, place) in self.rows.iter_mut().filter(|(line, _)| without.contains(line)) {
                place.forward = first;
            }
            return;
        }
        self.rows.retain(|(line, _)| !without.contains(line));
        for line in without {
            let what = "it does not say how far forward its row stands, and the others stand differently far"
                .to_owned();
            self.problem(*line, what, "fill in that cell, or choose no column for it");
        }
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

/// Hands on the cells of each record that has any, trimmed, with the line it starts on, until it is told to stop. What is
/// not a record is passed over: any text can be parted into cells.
pub(super) fn each_record(
    text: &str,
    delimiter: char,
    mut take: impl FnMut(u64, &csv::StringRecord) -> bool,
) {
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .trim(csv::Trim::All)
        .comment(Some(b'#'))
        .delimiter(u8::try_from(delimiter).unwrap_or(b','))
        .from_reader(text.as_bytes());
    let mut record = csv::StringRecord::new();
    loop {
        match reader.read_record(&mut record) {
            Ok(false) => return,
            Ok(true) if record.iter().all(str::is_empty) => {}
            Ok(true) => {
                if !take(line_of(text, record.position(), true), &record) {
                    return;
                }
            }
            Err(_) if reader.is_done() => return,
            Err(_) => {}
        }
    }
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

/// The line that a record starts on, from 1. The reader's own place is the one before the empty lines and comments that
/// it skips.
pub(super) fn line_of(text: &str, position: Option<&csv::Position>, comments: bool) -> u64 {
    let Some(position) = position else { return 0 };
    let start = usize::try_from(position.byte()).unwrap_or(usize::MAX);
    let mut rest = text.as_bytes().get(start..).unwrap_or_default();
    let mut line = position.line();
    loop {
        let skipped = match rest.first() {
            Some(b'\r') => 1,
            Some(b'\n') => {
                line += 1;
                1
            }
            Some(b'#') if comments => rest.iter().position(|byte| *byte == b'\n').unwrap_or(rest.len()),
            _ => return line,
        };
        rest = &rest[skipped..];
    }
}

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
pub(super) fn unit_in(name: &str) -> Option<&'static str> {
    let lower = name.to_lowercase();
    let words: Vec<&str> = lower.split(|c: char| !c.is_alphanumeric()).collect();
    UNITS.into_iter().find(|unit| words.contains(unit))
}

/// A number alone, in which a spreadsheet may have put an exponent: its unit stands in the heading.
pub(super) fn is_bare(cell: &str) -> bool {
    Measure::Plain.parse(cell, UnitSystem::Metric).is_ok()
}

/// A cell in metres; a unit in the cell goes before that of its column.
pub(super) fn metres(cell: &str, unit: &str) -> Result<f64, String> {
    let text = if is_bare(cell) { format!("{cell} {unit}") } else { cell.to_owned() };
    Measure::Distance.parse(&text, UnitSystem::Metric).map_err(|error| error.to_string())
}

/// A row's place, and whether its line says how far forward it stands.
fn place(record: &csv::StringRecord, found: &RowPositions) -> Result<(RowPlace, bool), (String, String)> {
    let mut values = [None; 3];
    for (which, name) in ["x", "forward", "height"].into_iter().enumerate() {
        let Some(column) = found.used[which] else { continue };
        let cell = record.get(column).unwrap_or_default();
        if cell.is_empty() && which > 0 {
            continue;
        }
        let value = metres(cell, found.units[which]).map_err(|error| {
            (format!("{name}: {error}"), "correct it, or choose other columns".to_owned())
        })?;
        if value.abs() > FARTHEST {
            let what = format!("{name} is {} m from the middle", decimals(value, 1));
            return Err((what, "choose the unit it was measured in".to_owned()));
        }
        values[which] = Some(value);
    }
    let [Some(x), forward, height] = values else {
        return Err(("it has no x".to_owned(), "choose the column of x".to_owned()));
    };
    let place = RowPlace {
        x: Length::metres(x),
        forward: Length::metres(forward.unwrap_or(0.0)),
        height: height.map(Length::metres),
    };
    Ok((place, forward.is_some()))
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

    /// Hundreds of digits would hide what is the matter.
    #[test]
    fn a_number_beyond_measure_is_named_shortly() {
        let nines = "9".repeat(300);
        for cell in ["1e308", "-1e308 mm", &nines, "1e400"] {
            let found = read(&format!("row,x\n1,0.15\n2,{cell}\n"));
            let said: Vec<String> = found.problems.lines().collect();
            assert!(!said.is_empty() && said.iter().all(|one| one.len() < 160), "{cell}: {said:?}");
        }
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
            assert_eq!(found.problems, Problems::default(), "{text}");
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
        // Without a word of its own a row stands as far forward as the others.
        assert_eq!(numbers(&found), [(0.0, 0.5, None), (0.6, 0.5, None)]);
        let problems = found.problems.shown();
        let lines: Vec<&str> = problems.iter().map(|one| one.place.as_str()).collect();
        assert_eq!(lines, ["line 3", "line 5", "line 6"]);
        assert!(problems[0].what.contains("not a number"), "{problems:?}");
        assert!(problems[2].advice.contains("unit"), "{problems:?}");
    }

    #[test]
    fn a_decimal_comma_that_parts_a_number_is_never_half_read() {
        let found = read("x,forward,height\n0,15,0,5,0,05\n0.3,0.5,0.05\n");
        let problem = &found.problems.shown()[0];
        assert_eq!((problem.place.as_str(), found.problems.total(), found.rows.len()), ("line 2", 1, 1));
        assert!(problem.what.contains("6 cells, but 3 headings"), "{problem}");
    }

    #[test]
    fn an_empty_cell_is_not_nought() {
        let found = read("x,forward,height\n0,0.4,\n0.3,,\n0.6,-0.4,\n0.9,0.4,\n");
        assert_eq!(numbers(&found), [(0.0, 0.4, None), (0.6, -0.4, None), (0.9, 0.4, None)]);
        let problem = &found.problems.shown()[0];
        assert_eq!((problem.place.as_str(), found.problems.total()), ("line 3", 1));
        assert!(problem.what.contains("how far forward"), "{problem}");
        // A table that says it of no row has one rank.
        assert_eq!(numbers(&read("x,forward\n0,\n0.3,\n")), [(0.0, 0.0, None), (0.3, 0.0, None)]);
    }

    #[test]
    fn lines_are_those_that_an_editor_shows() {
        for end in ["\n", "\r\n"] {
            let text =
                ["x;forward", "-1,5;0,3", "", "abc;0,3", "# a remark", "", "-1,2;0,3", "", "", "foo;1", ""];
            let found = read(&text.join(end));
            let problems = found.problems.shown();
            let places: Vec<&str> = problems.iter().map(|one| one.place.as_str()).collect();
            assert_eq!(places, ["line 4", "line 10"], "{end:?}");
            let lines: Vec<u64> = found.rows.iter().map(|(line, _)| *line).collect();
            assert_eq!(lines, [2, 7], "{end:?}");
        }
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
    fn however_many_lines_are_bad_the_first_are_shown_and_the_rest_is_counted() {
        let bad = "a;b;c\n".repeat(200_000);
        let found = read(&format!("x;y;z\n0;0;0\n{bad}1;0;0\n"));
        assert_eq!((found.rows.len(), found.problems.total()), (2, 200_000));
        assert_eq!(found.problems.and_more().as_deref(), Some("and 199,980 more"));
    }

    #[test]
    fn a_table_may_have_as_many_rows_as_a_bar_and_no_more() {
        let most = Bound::Rows.most();
        // Millimetres apart by more than what makes a twin.
        let table =
            |rows: usize| (0..rows).fold("x\n".to_owned(), |text, row| text + &format!("{}\n", row * 6));
        let choices = Choices { unit: Some("mm"), ..Choices::default() };
        let found = read_row_positions(&table(most), &choices);
        assert_eq!((found.rows.len(), found.problems.total()), (most, 0));
        let found = read_row_positions(&table(most + 1), &choices);
        assert_eq!((found.rows.len(), found.problems.total()), (0, 1));
        let problem = &found.problems.shown()[0];
        assert_eq!(problem.place, "line 1002");
        assert!(problem.what.contains("1,001 rows, and can have 1,000 at most"), "{problem}");
        // It stands first, whatever was found before it.
        let found = read_row_positions(&format!("x\n{}{}", "?\n".repeat(30), table(most + 9)), &choices);
        assert!(found.problems.shown()[0].what.contains("1,001 rows"), "{}", found.problems);
    }

    #[test]
    fn cells_beyond_the_columns_to_choose_from_are_passed_over() {
        let found = read(&format!("1,2,3{}\n", ",4".repeat(100_000)));
        assert_eq!((found.rows.len(), found.columns.len()), (1, MOST_COLUMNS));
    }

    #[test]
    fn twins_are_found_on_both_sides_of_a_cell() {
        for (a, b, twins) in
            [(0.0, 0.0049, true), (0.0, 0.0051, false), (-0.001, 0.001, true), (0.0049, 0.0001, true)]
        {
            assert_eq!(read(&format!("{a};0\n{b};0\n")).problems.total(), usize::from(twins), "{a} {b}");
        }
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
