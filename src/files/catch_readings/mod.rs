//! What was caught under the rows, from a table that somebody filled in: a CSV file, cells pasted from a spreadsheet, or the
//! commissioning sheet as CSV or XLSX.
//!
//! A table begins with a line in which one column is headed `row`; amounts stand in columns that name their unit (`ml`, `g`,
//! `fl_oz`, `lb`), several catches of a row in several lines. A blank amount was not caught. What can't be read is a problem
//! with its place, and the rest is read all the same. Start reading at [`read_catches`].

mod columns;
mod found;
mod grid;
mod missing;
mod tables;
mod taken;

use std::ops::RangeInclusive;
use std::path::Path;

use super::read_error::ReadError;
use super::reading::{read_bytes, text_of};
use super::row_positions::{LARGEST_TABLE, SPLIT_BY_COMMA};
use crate::plan::bounds::Bound;
use crate::plan::catch_amount::CATCH_SECONDS;
use crate::plan::catch_test::GAUGE_READS;
use crate::plan::letters::visible_within;
use crate::plan::words::{short, with_formula};
use crate::plan::{CatchUnit, CaughtAmount, CaughtLiquid};
use crate::quantities::number_marks::{Marked, marked};
use crate::quantities::{ApplicationRate, Measure, Pressure, Speed, Temperature, UnitSystem};
use crate::studies::catch_test::sheet_facts::{
    CATCH_AT, CATCH_TIME, RATE, SECONDS_CAUGHT, SHEET_OF, SPEED_SET,
};
use columns::{CatchColumns, PressureColumns, row_number};
use grid::GridLine;
use tables::{LineKind, Tables};

pub use found::{CatchChoices, ReadCatch, ReadCatches, ReadGauge, SheetFacts};
pub use missing::MissingLines;
pub use taken::TakenCatches;

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

/// Ground speeds that may be set for a catch, m/s: a tenth of a km/h to what a project takes at most.
const SPEED_SETS: RangeInclusive<f64> = 0.1 / 3.6..=30.0;

/// Temperatures that what is caught may have, °C: liquid, at the air's pressure (water; common practice, no source).
const CAUGHT_AT: RangeInclusive<f64> = -50.0..=100.0;

/// Densities that liquids which are sprayed may have, kg/m³ (common practice, no source).
const WEIGHED: RangeInclusive<f64> = 500.0..=2500.0;

/// A table that is being read.
struct Reading<'a> {
    choices: &'a CatchChoices,
    /// Which mark parts off decimals in its amounts, where they say so.
    decimal_mark: Option<char>,
    found: ReadCatches,
}

fn read(lines: &[GridLine], choices: &CatchChoices) -> ReadCatches {
    let tables = Tables::of(lines, choices);
    let decimal_mark = tables.decimal_mark(lines);
    let mut reading = Reading { choices, decimal_mark, found: ReadCatches::default() };
    for (line, kind) in lines.iter().zip(&tables.lines) {
        match *kind {
            LineKind::Headings(at) => reading.headings(line, &tables.catches[at]),
            LineKind::Catch(at) => reading.catch_line(line, &tables.catches[at]),
            LineKind::Pressures(at) => {
                let (columns, liquid) = &tables.pressures[at];
                reading.pressure_line(line, columns, *liquid);
            }
            LineKind::Bare => reading.bare_line(line),
            LineKind::Facts => reading.facts(line),
            LineKind::Nothing => {}
        }
        if reading.found.catches.len() > Bound::Catches.most() {
            let mut found = ReadCatches::default();
            let what = format!("up to here it has more than {} catches", Bound::Catches.most());
            found.problems.add(&line.place, None, 1, what, Bound::Catches.advice());
            return found;
        }
    }
    let mut found = reading.found;
    let problems = &mut found.problems;
    if tables.catches.is_empty() && !choices.pasted {
        let place = lines.first().map_or("line 1", |line| line.place.as_str());
        let advice = "give a first line with headings: row, and the unit of the amounts (ml, g, fl_oz or lb)";
        problems.add(place, None, 1, "no column is headed \"row\"".to_owned(), advice);
    } else if found.catches.is_empty() && problems.is_empty() {
        let what = "no amount is filled in".to_owned();
        problems.add("table", None, 1, what, "write what was caught beside its row");
    }
    found
}

impl Reading<'_> {
    fn headings(&mut self, line: &GridLine, columns: &CatchColumns) {
        for heading in &columns.ounces {
            let what = format!("the column \"{}\" may hold a volume or a weight", short(heading));
            self.problem(line, None, what, "head it fl_oz, or g or lb for a weight");
        }
        if columns.amounts.is_empty() && columns.ounces.is_empty() {
            let what = "no column holds what was caught".to_owned();
            self.problem(line, None, what, "head a column with its unit: ml, g, fl_oz or lb");
        }
    }

    fn problem(&mut self, line: &GridLine, row: Option<u32>, what: String, advice: &str) {
        self.found.problems.add(&line.place, row, 1, what, advice);
    }

    /// A line of a table of catches.
    fn catch_line(&mut self, line: &GridLine, columns: &CatchColumns) {
        if line.cells.len() > columns.width && line.cells[columns.width..].iter().any(|cell| !cell.is_empty())
        {
            let what = format!("{} cells, but {} headings", line.cells.len(), columns.width);
            self.problem(line, None, what, SPLIT_BY_COMMA);
            return;
        }
        let cell = |at: usize| line.cells.get(at).map(String::as_str).unwrap_or_default();
        let note = columns.notes.map(cell).unwrap_or_default();
        let note = with_formula(note);
        // What the commissioning sheet says itself.
        let is_own = note == "draws air in" || note == "gets nothing";
        let note = if is_own { String::new() } else { kept(note, Bound::Words) };
        let before = self.found.catches.len();
        self.catches_of(line, columns, &note);
        // Beside a catch that counts it stands with that.
        if !note.is_empty() && self.found.catches[before..].iter().all(|one| one.remark.is_empty()) {
            self.found.remarks.push(format!("{}: {note}", row_words(cell(columns.row))));
        }
    }

    /// The catches of such a line, with what was noted beside them.
    fn catches_of(&mut self, line: &GridLine, columns: &CatchColumns, note: &str) {
        let cell = |at: usize| line.cells.get(at).map(String::as_str).unwrap_or_default();
        let filled: Vec<_> = columns.amounts.iter().filter(|column| !cell(column.at).is_empty()).collect();
        let row = row_number(cell(columns.row));
        if let (Ok(row), Some(outlet)) = (&row, columns.outlet.map(cell).filter(|cell| !cell.is_empty()))
            && self.found.made_of.outlets.len() < Bound::Rows.most()
        {
            self.found.made_of.outlets.push((*row, outlet.to_owned()));
        }
        if filled.is_empty() {
            return;
        }
        let row = match row {
            Ok(row) => row,
            Err((what, advice)) => return self.problem(line, None, what, advice),
        };
        let alike =
            filled.iter().any(|one| filled.iter().any(|other| one != other && one.liquid == other.liquid));
        if alike {
            let what = format!("row {row} has amounts in two columns of the same liquid");
            let advice = "keep one amount a line, and give another catch a line of its own";
            return self.problem(line, Some(row), what, advice);
        }
        let said = columns.seconds.map(cell).filter(|cell| !cell.is_empty());
        let seconds = said.map(|said| self.clear(line, said, seconds)).transpose();
        let seconds = match seconds {
            Ok(seconds) => seconds,
            Err(what) => {
                let what = format!("row {row}: {what}");
                return self.problem(line, Some(row), what, "correct the time of that catch");
            }
        };
        let spoiled = columns.spoiled.and_then(|at| spoiled(with_formula(cell(at))));
        for column in filled {
            let no_unit = columns.no_units.iter().find(|one| one.0 == column.at).map(|one| one.1.as_str());
            match self.catch(line, Some(row), cell(column.at), column.unit, no_unit) {
                Ok(bare) => {
                    let (liquid, spoiled) = (column.liquid, spoiled.clone());
                    let remark = if spoiled.is_none() { note.to_owned() } else { String::new() };
                    self.found.catches.push(ReadCatch { seconds, liquid, spoiled, remark, ..bare });
                }
                Err(what) => {
                    let what = format!("row {row}: {what}");
                    self.problem(line, Some(row), what, "correct the amount, or leave it empty");
                }
            }
        }
    }

    /// A pasted line without headings: a row and an amount, or an amount alone.
    fn bare_line(&mut self, line: &GridLine) {
        let filled: Vec<&str> = line.cells.iter().map(String::as_str).collect();
        let (row, said) = match filled.as_slice() {
            [said] => (None, *said),
            [row, said] => match row_number(row) {
                Ok(row) => (Some(row), *said),
                Err((what, advice)) => return self.problem(line, None, what, advice),
            },
            _ => {
                let what = format!("{} cells, but no headings", filled.len());
                let advice = "copy the column of the rows and that of the amounts, or the headings too";
                return self.problem(line, None, what, advice);
            }
        };
        if said.is_empty() {
            return;
        }
        match self.catch(line, row, said, None, None) {
            Ok(bare) => self.found.catches.push(bare),
            Err(what) => self.problem(line, row, what, "correct the amount, or leave it empty"),
        }
    }

    /// A catch of which the amount alone is known.
    fn catch(
        &mut self,
        line: &GridLine,
        row: Option<u32>,
        cell: &str,
        of_column: Option<CatchUnit>,
        no_unit: Option<&str>,
    ) -> Result<ReadCatch, String> {
        let amount = self.amount(cell, of_column, no_unit)?;
        self.read_by_others(line, row, cell);
        Ok(ReadCatch {
            place: line.place.clone(),
            line: line.number,
            row,
            amount,
            seconds: None,
            liquid: None,
            spoiled: None,
            remark: String::new(),
        })
    }

    /// An amount in its own unit, in that of its column, or in that of amounts that name none. What its column is headed with in
    /// place of a unit is told in the refusal.
    fn amount(
        &self,
        cell: &str,
        of_column: Option<CatchUnit>,
        no_unit: Option<&str>,
    ) -> Result<CaughtAmount, String> {
        let is_bare = cell
            .trim_start_matches(['-', '−', '+'])
            .chars()
            .all(|one| one.is_ascii_digit() || matches!(one, '.' | ','))
            || Measure::Plain.parse(cell, UnitSystem::Metric).is_ok();
        let unit = of_column.or(self.choices.unit).or((!is_bare).then_some(CatchUnit::Millilitre));
        let Some(unit) = unit else {
            let has = no_unit.map_or_else(
                || "and neither has its column".to_owned(),
                |said| format!("and that of its column, \"{}\", is not known", short(said)),
            );
            return Err(format!("\"{}\" has no unit, {has}: head it ml, g, fl_oz or lb", short(cell)));
        };
        let amount = CaughtAmount::parse_in_table(cell, unit, self.decimal_mark)?;
        if let Some(heading) = of_column.filter(|unit| unit.number(amount).is_none()) {
            let own = if matches!(amount, CaughtAmount::Mass(_)) { "weight" } else { "volume" };
            return Err(format!(
                "\"{}\" is a {own}, but its column is headed in {}; give weights and volumes a column each",
                short(cell),
                heading.symbol()
            ));
        }
        Ok(amount)
    }

    /// Says how an amount was read that by itself may be two: as decimals, by the marks of other cells.
    fn read_by_others(&mut self, line: &GridLine, row: Option<u32>, cell: &str) {
        let Marked::Either { mark, whole, decimal } = marked(cell) else { return };
        let may_be_thousands = CaughtAmount::parse_in_table(cell, CatchUnit::Millilitre, None).is_err();
        if self.decimal_mark == Some(mark) && may_be_thousands {
            let at = row.map_or_else(String::new, |row| format!("row {row}: "));
            let what = format!("{at}\"{}\" was read as {decimal}, as other amounts are written", short(cell));
            self.found.problems.add(&line.place, row, 0, what, &format!("write {whole} if that is meant"));
        }
    }

    /// A line of a table of pressures. A reading that can't be taken is told, whatever the reason: what it speaks against may be
    /// the verdict.
    fn pressure_line(&mut self, line: &GridLine, columns: &PressureColumns, liquid: CaughtLiquid) {
        let cell = |at: usize| line.cells.get(at).map(String::as_str).unwrap_or_default();
        let said_speed = columns.speed.as_ref().map(|(at, _)| cell(*at)).unwrap_or_default();
        let at_speed = match &columns.speed {
            Some((_, unit)) if !said_speed.is_empty() => format!("at {} {unit}", short(said_speed)),
            _ => "at no ground speed".to_owned(),
        };
        let note = columns.notes.map(cell).unwrap_or_default();
        if !note.is_empty() {
            self.found.remarks.push(format!("pressures {}: {}", at_speed.trim(), kept(note, Bound::Words)));
        }
        if line.cells.iter().skip(columns.width).any(|cell| !cell.is_empty()) {
            let what = format!("{} cells, but {} headings", line.cells.len(), columns.width);
            return self.problem(line, None, what, SPLIT_BY_COMMA);
        }
        let filled: Vec<_> = columns.read.iter().filter(|column| !cell(column.at).is_empty()).collect();
        if filled.is_empty() {
            return;
        }
        let speed = match &columns.speed {
            Some((_, unit))
                if unit.is_empty() && Measure::Plain.parse(said_speed, UnitSystem::Metric).is_ok() =>
            {
                Err(format!("\"{}\" has no unit, and neither has its column", short(said_speed)))
            }
            Some((_, unit)) => self.clear(line, said_speed, |text| speed_set(text, unit)),
            None => Err("no column is headed Speed (km/h) or Speed (mph)".to_owned()),
        };
        for column in filled {
            let (tag, said) = (short(&column.tag), cell(column.at));
            if column.measure == Some(Measure::TotalFlow) {
                self.found.remarks.push(format!(
                    "{tag} {} {} {at_speed}: not taken, since a catch test is judged by rows and gauges",
                    short(said),
                    column.unit
                ));
                continue;
            }
            let speed = match &speed {
                Ok(speed) => *speed,
                Err(what) => {
                    let what = format!("{tag}: nobody knows at which ground speed it was read: {what}");
                    self.problem(line, None, what, "head the first column Speed (km/h) or Speed (mph)");
                    continue;
                }
            };
            // A unit of its own counts before that of the heading.
            if column.measure.is_none() && Measure::Plain.parse(said, UnitSystem::Metric).is_ok() {
                let what = if column.unit.is_empty() {
                    format!("{tag}: \"{}\" has no unit, and neither has its column", short(said))
                } else {
                    format!("{tag}: the unit of its column, \"{}\", is not known", short(&column.unit))
                };
                let advice = format!("head the column {tag} read (bar) or {tag} read (psi)");
                self.problem(line, None, what, &advice);
                continue;
            }
            let pressure = self.clear(line, said, |text| {
                let pressure = in_unit(Measure::Pressure, text, &column.unit)?;
                Measure::Pressure.within(pressure, &GAUGE_READS, Some(text), UnitSystem::Metric)
            });
            match pressure {
                Ok(pressure) => self.found.gauges.push(ReadGauge {
                    place: line.place.clone(),
                    tag: column.tag.clone(),
                    pressure: Pressure::from_si(pressure),
                    speed: printed_speed(speed),
                    liquid,
                }),
                Err(what) => self.problem(line, None, format!("{tag}: {what}"), "correct the reading"),
            }
        }
    }

    /// Reads a number that by itself may be two, like `1,000`, as the other cells of the table are written, and says so; where
    /// they tell nothing, as the one that can be. Where both can, nobody knows.
    fn clear(
        &mut self,
        line: &GridLine,
        cell: &str,
        read: impl Fn(&str) -> Result<f64, String>,
    ) -> Result<f64, String> {
        let (mark, whole, decimal) = match marked(cell) {
            Marked::Once(clear) => return read(&clear),
            Marked::Either { mark, whole, decimal } => (mark, whole, decimal),
        };
        let (as_whole, as_decimal) = (read(&whole), read(&decimal));
        match (as_whole, as_decimal, self.decimal_mark) {
            (Ok(_), Ok(_), None) => {
                Err(format!("\"{}\" may be {whole} or {decimal}; write the one that is meant", short(cell)))
            }
            (Ok(as_whole), Ok(as_decimal), Some(one)) => {
                let (value, is, not) =
                    if one == mark { (as_decimal, decimal, whole) } else { (as_whole, whole, decimal) };
                let what = format!("\"{}\" was read as {is}, as the amounts are written", short(cell));
                self.found.problems.add(&line.place, None, 0, what, &format!("write {not} if that is meant"));
                Ok(value)
            }
            (Ok(value), Err(_), _) => Ok(value),
            (Err(_), as_decimal, _) => as_decimal,
        }
    }

    /// A line of names and values of the commissioning sheet.
    fn facts(&mut self, line: &GridLine) {
        let metric = UnitSystem::Metric;
        for pair in line.cells.chunks(2) {
            let [name, value] = pair else { continue };
            let value = with_formula(value);
            if value.is_empty() {
                continue;
            }
            // A time people write in tables of their own.
            let is_of_sheet = matches!(name.as_str(), SECONDS_CAUGHT | SHEET_OF | CATCH_AT | RATE);
            self.found.made_of.is_sheet |= is_of_sheet || name.starts_with(SPEED_SET);
            match name.as_str() {
                // What was really done stands further down, and counts.
                CATCH_TIME | SECONDS_CAUGHT => match self.clear(line, value, seconds) {
                    Ok(seconds) => {
                        self.found.seconds = Some(seconds);
                        self.found.time_unread = MissingLines::default();
                    }
                    // What was asked is not what was done then.
                    Err(what) => {
                        let what = format!("catch time: can't be read: {what}");
                        let advice = "write it in seconds, like 40 or 40 s";
                        self.found.seconds = None;
                        self.found.time_unread = MissingLines::default();
                        self.found.time_unread.add(&line.place, None, 1, what, advice);
                    }
                },
                _ if name.starts_with(SPEED_SET) => {
                    let unit = &name[SPEED_SET.len()..];
                    match self.clear(line, value, |text| speed_set(text, unit)) {
                        Ok(speed) => self.found.made_of.speed = Some(Speed::from_si(speed)),
                        Err(what) => {
                            let what = format!("speed set: can't be read: {what}");
                            self.problem(line, None, what, "write it in km/h or mph");
                        }
                    }
                }
                SHEET_OF => self.found.made_of.of = Some(kept(value, Bound::Note)),
                // What the sheet prints itself; what is written over can't be compared.
                CATCH_AT => {
                    self.found.made_of.speed =
                        Measure::GroundSpeed.parse(value, metric).ok().map(printed_speed);
                }
                RATE => {
                    self.found.made_of.rate =
                        Measure::Rate.parse(value, metric).ok().map(ApplicationRate::from_si);
                }
                "Date, place" => self.found.date = kept(value, Bound::Name),
                "Tested by" => self.found.by = kept(value, Bound::Name),
                "Liquid temperature" => match self.clear(line, value, temperature) {
                    Ok(celsius) if Measure::Plain.parse(value, metric).is_err() || celsius < 45.0 => {
                        self.found.temperature = Some(Temperature::from_si(celsius));
                    }
                    Ok(_) => self.problem(
                        line,
                        None,
                        format!("liquid temperature: {} may be °C or °F", short(value)),
                        "write its unit behind it",
                    ),
                    Err(what) => {
                        let what = format!("liquid temperature: {what}");
                        self.problem(line, None, what, "give it in °C or °F");
                    }
                },
                // What it is said to weigh is kept, not computed with: nothing is missing without it.
                "Density of the liquid, weighed" => match self.clear(line, value, density) {
                    Ok(_) => self.found.remarks.push(format!("{name}: {}", kept(value, Bound::Words))),
                    Err(what) => {
                        let what = format!("density of the liquid, weighed: {what}");
                        let advice = "write what a litre weighs, like 1.05 kg/L or 1050 kg/m3";
                        self.found.problems.add(&line.place, None, 0, what, advice);
                    }
                },
                "Seconds over the course, tank half full"
                | "Gauges at zero before the first start"
                | "Rows that drip after the pump stops, supply open"
                | "Filter screen clean"
                | "Rows cleaned or changed" => {
                    self.found.remarks.push(format!("{name}: {}", kept(value, Bound::Words)));
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

/// A time that a catch may take.
fn seconds(cell: &str) -> Result<f64, String> {
    let (measure, metric) = (Measure::Duration, UnitSystem::Metric);
    let seconds = measure.parse(cell, metric).map_err(|error| error.to_string())?;
    measure.within(seconds, &CATCH_SECONDS, Some(cell), metric)
}

/// A density that a liquid may have, kg/m³; a bare number up to 10 is one of kg/L.
fn density(cell: &str) -> Result<f64, String> {
    let (measure, metric) = (Measure::Density, UnitSystem::Metric);
    let is_per_litre = Measure::Plain.parse(cell, metric).is_ok_and(|bare| bare.abs() <= 10.0);
    let text = if is_per_litre { format!("{cell} kg/L") } else { cell.to_owned() };
    let density = measure.parse(&text, metric).map_err(|error| error.to_string())?;
    measure.within(density, &WEIGHED, Some(cell), metric)
}

/// A temperature that a liquid may have, °C.
fn temperature(cell: &str) -> Result<f64, String> {
    let (measure, metric) = (Measure::Temperature, UnitSystem::Metric);
    let celsius = measure.parse(cell, metric).map_err(|error| error.to_string())?;
    measure.within(celsius, &CAUGHT_AT, Some(cell), metric)
}

/// What a cell says, stored; without a unit of its own it is in that of its heading or box.
fn in_unit(measure: Measure, cell: &str, unit: &str) -> Result<f64, String> {
    let is_bare = Measure::Plain.parse(cell, UnitSystem::Metric).is_ok();
    let text = if is_bare { format!("{cell} {unit}") } else { cell.to_owned() };
    measure.parse(&text, UnitSystem::Metric).map_err(|error| error.to_string())
}

/// Half the last digit that a sheet prints of a ground speed, of the larger unit: 0.0005 mph, in m/s.
const HALF_A_DIGIT: f64 = 0.0005 * 0.447_04;

/// A ground speed as a sheet prints it, from m/s: printed in the other units, 10 km/h is 6.214 mph, which is not quite that.
fn printed_speed(speed: f64) -> Speed {
    let systems = [UnitSystem::Metric, UnitSystem::UsCustomary];
    let plain = systems.map(|system| Measure::GroundSpeed.rounded(speed, system));
    Speed::from_si(plain.into_iter().find(|one| (one - speed).abs() <= HALF_A_DIGIT).unwrap_or(speed))
}

/// A ground speed that may be set, m/s.
fn speed_set(cell: &str, unit: &str) -> Result<f64, String> {
    let measure = Measure::GroundSpeed;
    let speed = in_unit(measure, cell, unit)?;
    measure.within(speed, &SPEED_SETS, Some(cell), UnitSystem::Metric)
}

/// Why a catch is spoiled, where a cell says that it is.
fn spoiled(cell: &str) -> Option<String> {
    match cell.to_lowercase().as_str() {
        "" | "no" | "n" | "0" | "false" => None,
        "yes" | "y" | "x" | "1" | "true" => Some("marked in the table".to_owned()),
        _ => Some(kept(cell, Bound::Words)),
    }
}
