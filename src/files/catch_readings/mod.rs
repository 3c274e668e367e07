//! What was caught under the rows, from a table that somebody filled in: a CSV file, cells pasted from a spreadsheet, or the
//! commissioning sheet as CSV or XLSX.
//!
//! A table begins with a line in which one column is headed `row`; amounts stand in columns that name their unit (`ml`, `g`,
//! `fl_oz`, `lb`), several catches of a row in several lines. A blank amount was not caught. What can't be read is a problem
//! with its place, and the rest is read all the same. Start reading at [`read_catches`].

mod columns;
mod found;
mod grid;
mod taken;

use std::path::Path;

use super::read_error::ReadError;
use super::reading::{read_bytes, text_of};
use super::row_positions::{LARGEST_TABLE, SPLIT_BY_COMMA};
use crate::plan::bounds::Bound;
use crate::plan::catch_test::LONGEST_CATCH;
use crate::plan::letters::visible_within;
use crate::plan::problems::Problem;
use crate::plan::words::{short, with_formula};
use crate::plan::{CatchUnit, CaughtAmount, CaughtLiquid};
use crate::quantities::{Measure, Pressure, Speed, Temperature, UnitSystem};
use columns::{CatchColumns, PressureColumns};
use grid::GridLine;

pub use found::{ReadCatch, ReadCatches, ReadGauge};
pub use taken::TakenCatches;

/// What was chosen.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct CatchChoices {
    /// Unit of amounts that name none, neither in their cell nor in their heading; none: such amounts are a problem.
    pub unit: Option<CatchUnit>,
    /// From the clipboard: a comma is a decimal mark, and cells without a heading are a row and an amount, or an amount alone.
    pub pasted: bool,
}

/// Reads the file of a table: a workbook by its first bytes, or else text.
pub fn read_catches_of(path: &Path, choices: &CatchChoices) -> Result<ReadCatches, ReadError> {
    let bytes = read_bytes(path, LARGEST_TABLE)
        .map_err(|problem| ReadError { file: Some(path.to_owned()), problems: problem.into() })?;
    read_catches_from(&bytes, choices).map_err(|error| error.of(path))
}

/// Reads what such a file holds.
pub fn read_catches_from(bytes: &[u8], choices: &CatchChoices) -> Result<ReadCatches, ReadError> {
    // ZIP (APPNOTE 4.3.7).
    if bytes.starts_with(b"PK\x03\x04") {
        return Ok(read(&grid::of_workbook(bytes)?, choices));
    }
    text_of(bytes.to_vec()).map(|text| read_catches(&text, choices))
}

/// Reads a table as text.
pub fn read_catches(text: &str, choices: &CatchChoices) -> ReadCatches {
    read(&grid::of_text(text, choices.pasted), choices)
}

/// The table that lines belong to.
enum Table {
    /// Of none that is known.
    Other,
    /// Catches.
    Catches(CatchColumns),
    /// Pressures at ground speeds, with this liquid.
    Pressures(PressureColumns, CaughtLiquid),
}

fn read(lines: &[GridLine], choices: &CatchChoices) -> ReadCatches {
    let mut found = ReadCatches::default();
    let mut table = Table::Other;
    let mut has_table = false;
    let mut caption = "";
    // What a word alone in its line has ended, which may have been a remark.
    let mut ended: Option<CatchColumns> = None;
    for line in lines {
        if let Some(columns) = CatchColumns::of(&line.cells) {
            for heading in &columns.ounces {
                found.problem(
                    line,
                    format!("the column \"{}\" may hold a volume or a weight", short(heading)),
                    "head it fl_oz, or g or lb for a weight",
                );
            }
            if columns.amounts.is_empty() && columns.ounces.is_empty() {
                found.problem(
                    line,
                    "no column holds what was caught".to_owned(),
                    "head a column with its unit: ml, g, fl_oz or lb",
                );
            }
            has_table = true;
            table = Table::Catches(columns);
        } else if let Some(columns) = PressureColumns::of(&line.cells) {
            // As the sheet heads it; a liquid's own name may end in the word.
            let is_water = caption == "Pressures and total flow, water";
            let liquid = if is_water { CaughtLiquid::Water } else { CaughtLiquid::Product };
            table = Table::Pressures(columns, liquid);
        } else if let [alone] = line.cells.as_slice()
            && (!choices.pasted || has_table)
        {
            // The caption of the table that follows; a number alone is a row that was not caught.
            if row_number(alone).is_err() {
                caption = alone;
                if let Table::Catches(columns) = std::mem::replace(&mut table, Table::Other) {
                    ended = Some(columns);
                }
            }
        } else {
            if matches!(table, Table::Other)
                && let Some(columns) = ended.take_if(|columns| columns.holds_catch(&line.cells))
            {
                table = Table::Catches(columns);
            }
            match &table {
                _ if line.cells.iter().all(String::is_empty) => {}
                Table::Catches(columns) => found.catch_line(line, columns, choices),
                Table::Pressures(columns, liquid) => found.pressure_line(line, columns, *liquid),
                Table::Other if choices.pasted && !has_table => found.bare_line(line, choices),
                Table::Other => found.facts(line),
            }
        }
        if found.catches.len() > Bound::Catches.most() {
            found.catches.clear();
            found.problems.push_first(Problem {
                place: line.place.clone(),
                what: format!("up to here it has more than {} catches", Bound::Catches.most()),
                advice: Bound::Catches.advice().to_owned(),
            });
            return found;
        }
    }
    if !has_table && !choices.pasted {
        found.problems.push(Problem {
            place: lines.first().map_or_else(|| "line 1".to_owned(), |line| line.place.clone()),
            what: "no column is headed \"row\"".to_owned(),
            advice: "give a first line with headings: row, and the unit of the amounts (ml, g, fl_oz or lb)"
                .to_owned(),
        });
    } else if found.catches.is_empty() && found.problems.is_empty() {
        found.problems.push(Problem {
            place: "table".to_owned(),
            what: "no amount is filled in".to_owned(),
            advice: "write what was caught beside its row".to_owned(),
        });
    }
    found
}

impl ReadCatches {
    fn problem(&mut self, line: &GridLine, what: String, advice: &str) {
        let place = line.place.clone();
        self.problems.add(|| Problem { place, what, advice: advice.to_owned() });
    }

    /// A line of a table of catches.
    fn catch_line(&mut self, line: &GridLine, columns: &CatchColumns, choices: &CatchChoices) {
        if line.cells.len() > columns.width && line.cells[columns.width..].iter().any(|cell| !cell.is_empty())
        {
            let what = format!("{} cells, but {} headings", line.cells.len(), columns.width);
            self.problem(line, what, SPLIT_BY_COMMA);
            return;
        }
        let cell = |at: usize| line.cells.get(at).map(String::as_str).unwrap_or_default();
        let filled: Vec<_> = columns.amounts.iter().filter(|column| !cell(column.at).is_empty()).collect();
        let note = columns.notes.map(cell).unwrap_or_default();
        let note = with_formula(note);
        // What the commissioning sheet says itself.
        if !note.is_empty() && note != "draws air in" && note != "gets nothing" {
            self.remarks.push(format!("{}: {}", row_words(cell(columns.row)), kept(note, Bound::Words)));
        }
        if filled.is_empty() {
            return;
        }
        let row = match row_number(cell(columns.row)) {
            Ok(row) => row,
            Err((what, advice)) => {
                self.problem(line, what, advice);
                return;
            }
        };
        let alike =
            filled.iter().any(|one| filled.iter().any(|other| one != other && one.liquid == other.liquid));
        if alike {
            self.problem(
                line,
                format!("row {row} has amounts in two columns of the same liquid"),
                "keep one amount a line, and give another catch a line of its own",
            );
            return;
        }
        let seconds = match columns.seconds.map(cell).filter(|cell| !cell.is_empty()).map(seconds).transpose()
        {
            Ok(seconds) => seconds,
            Err(what) => {
                self.problem(line, format!("row {row}: {what}"), "give the time in seconds, an hour at most");
                return;
            }
        };
        let spoiled = columns.spoiled.and_then(|at| spoiled(with_formula(cell(at))));
        for column in filled {
            match amount(cell(column.at), column.unit.or(choices.unit)) {
                Ok(amount) => self.catches.push(ReadCatch {
                    place: line.place.clone(),
                    line: line.number,
                    row: Some(row),
                    amount,
                    seconds,
                    liquid: column.liquid,
                    spoiled: spoiled.clone(),
                }),
                Err(what) => {
                    self.problem(line, format!("row {row}: {what}"), "correct the amount, or leave it empty");
                }
            }
        }
    }

    /// A pasted line without headings: a row and an amount, or an amount alone.
    fn bare_line(&mut self, line: &GridLine, choices: &CatchChoices) {
        let filled: Vec<&str> = line.cells.iter().map(String::as_str).collect();
        let (row, said) = match filled.as_slice() {
            [said] => (None, *said),
            [row, said] => match row_number(row) {
                Ok(row) => (Some(row), *said),
                Err((what, advice)) => return self.problem(line, what, advice),
            },
            _ => {
                let what = format!("{} cells, but no headings", filled.len());
                return self.problem(
                    line,
                    what,
                    "copy the column of the rows and that of the amounts, or the headings too",
                );
            }
        };
        if said.is_empty() {
            return;
        }
        match amount(said, choices.unit) {
            Ok(amount) => self.catches.push(ReadCatch {
                place: line.place.clone(),
                line: line.number,
                row,
                amount,
                seconds: None,
                liquid: None,
                spoiled: None,
            }),
            Err(what) => self.problem(line, what, "correct the amount, or leave it empty"),
        }
    }

    /// A line of a table of pressures.
    fn pressure_line(&mut self, line: &GridLine, columns: &PressureColumns, liquid: CaughtLiquid) {
        let cell = |at: usize| line.cells.get(at).map(String::as_str).unwrap_or_default();
        let (at, unit) = &columns.speed;
        let parse = |measure: Measure, text: &str, unit: &str| {
            let bare = Measure::Plain.parse(text, UnitSystem::Metric).is_ok();
            let text = if bare { format!("{text} {unit}") } else { text.to_owned() };
            measure.parse(&text, UnitSystem::Metric).map_err(|error| error.to_string())
        };
        let Ok(speed) = parse(Measure::GroundSpeed, cell(*at), unit) else { return };
        for (tag, at, unit) in &columns.read {
            let said = cell(*at);
            if said.is_empty() {
                continue;
            }
            match parse(Measure::Pressure, said, unit) {
                Ok(pressure) if pressure >= 0.0 => self.gauges.push(ReadGauge {
                    place: line.place.clone(),
                    tag: tag.clone(),
                    pressure: Pressure::from_si(pressure),
                    speed: Speed::from_si(speed),
                    liquid,
                }),
                Ok(_) => self.problem(
                    line,
                    format!("{tag} read {} is below 0", short(said)),
                    "correct the reading",
                ),
                Err(what) => self.problem(line, format!("{tag}: {what}"), "correct the reading"),
            }
        }
    }

    /// A line of names and values of the commissioning sheet.
    fn facts(&mut self, line: &GridLine) {
        for pair in line.cells.chunks(2) {
            let [name, value] = pair else { continue };
            let value = with_formula(value);
            if value.is_empty() {
                continue;
            }
            match name.as_str() {
                "Catch time, s" => match seconds(value) {
                    Ok(seconds) => self.seconds = Some(seconds),
                    Err(what) => self.problem(line, format!("catch time: {what}"), "give it in seconds"),
                },
                "Date, place" => self.date = kept(value, Bound::Name),
                "Tested by" => self.by = kept(value, Bound::Name),
                "Liquid temperature" => match Measure::Temperature.parse(value, UnitSystem::Metric) {
                    Ok(celsius)
                        if Measure::Plain.parse(value, UnitSystem::Metric).is_err() || celsius < 45.0 =>
                    {
                        self.temperature = Some(Temperature::from_si(celsius));
                    }
                    Ok(_) => self.problem(
                        line,
                        format!("liquid temperature: {} may be °C or °F", short(value)),
                        "write its unit behind it",
                    ),
                    Err(error) => {
                        self.problem(line, format!("liquid temperature: {error}"), "give it in °C or °F");
                    }
                },
                "Density of the liquid, weighed"
                | "Seconds over the course, tank half full"
                | "Gauges at zero before the first start"
                | "Rows that drip after the pump stops, supply open"
                | "Filter screen clean"
                | "Rows cleaned or changed" => {
                    self.remarks.push(format!("{name}: {}", kept(value, Bound::Words)));
                }
                _ => {}
            }
        }
    }
}

/// Somebody's words as a project keeps them: what can't be seen is written by its code, what is too long shortened.
fn kept(words: &str, bound: Bound) -> String {
    visible_within(words, bound.most()).into_owned()
}

/// What a note is of.
fn row_words(cell: &str) -> String {
    if cell.is_empty() { "note".to_owned() } else { format!("row {}", short(cell)) }
}

/// The number of a row as it is painted: `12`, `12.0` as some spreadsheets write it.
fn row_number(cell: &str) -> Result<u32, (String, &'static str)> {
    const ADVICE: &str = "give the number that is painted at the row";
    if cell.is_empty() {
        return Err(("an amount without a row".to_owned(), ADVICE));
    }
    let number = Measure::Plain.parse(cell, UnitSystem::Metric).ok();
    number
        .filter(|number| number.fract() == 0.0 && (0.0..=f64::from(u32::MAX)).contains(number))
        .map(|number| number as u32)
        .ok_or_else(|| (format!("\"{}\" is no row", short(cell)), ADVICE))
}

/// A time above 0.
fn seconds(cell: &str) -> Result<f64, String> {
    let seconds = Measure::Duration.parse(cell, UnitSystem::Metric).map_err(|error| error.to_string())?;
    if seconds > 0.0 && seconds <= LONGEST_CATCH {
        Ok(seconds)
    } else {
        Err(format!("\"{}\" is no time to catch for", short(cell)))
    }
}

/// An amount in its own unit, or in that of its column.
fn amount(cell: &str, unit: Option<CatchUnit>) -> Result<CaughtAmount, String> {
    let is_bare = Measure::Plain.parse(cell, UnitSystem::Metric).is_ok();
    let Some(unit) = unit.or((!is_bare).then_some(CatchUnit::Millilitre)) else {
        let what = "has no unit, and neither has its column: head it ml, g, fl_oz or lb";
        return Err(format!("\"{}\" {what}", short(cell)));
    };
    let amount = CaughtAmount::parse(cell, unit)?;
    if amount.is_too_much() {
        let unit = if is_bare { format!(" {}", unit.symbol()) } else { String::new() };
        return Err(format!("{}{unit} is more than anybody catches; check the unit", short(cell)));
    }
    Ok(amount)
}

/// Why a catch is spoiled, where a cell says that it is.
fn spoiled(cell: &str) -> Option<String> {
    match cell.to_lowercase().as_str() {
        "" | "no" | "n" | "0" | "false" => None,
        "yes" | "y" | "x" | "1" | "true" => Some("marked in the table".to_owned()),
        _ => Some(kept(cell, Bound::Words)),
    }
}
