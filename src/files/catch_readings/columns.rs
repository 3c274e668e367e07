//! What the headings of a table say: which column holds the row, which amounts in which unit of which liquid, and what else.

use crate::plan::words::short;
use crate::plan::{CatchUnit, CaughtLiquid};
use crate::quantities::{Measure, UnitSystem};

/// A column with amounts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct AmountColumn {
    /// Its place.
    pub(super) at: usize,
    /// Its unit; none where the heading names none.
    pub(super) unit: Option<CatchUnit>,
    /// Which liquid was caught, as the commissioning sheet says it.
    pub(super) liquid: Option<CaughtLiquid>,
}

/// Which column of a table of catches holds what.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct CatchColumns {
    /// How many there are.
    pub(super) width: usize,
    /// The row's number.
    pub(super) row: usize,
    /// Amounts.
    pub(super) amounts: Vec<AmountColumn>,
    /// Seconds of a catch.
    pub(super) seconds: Option<usize>,
    /// Why a catch is spoiled, or that it is.
    pub(super) spoiled: Option<usize>,
    /// The outlet that the row hangs on.
    pub(super) outlet: Option<usize>,
    /// Anything else.
    pub(super) notes: Option<usize>,
    /// Of columns with amounts that name a unit that is none: their places, and what stands there in brackets.
    pub(super) no_units: Vec<(usize, String)>,
    /// Headings that may mean a volume or a weight.
    pub(super) ounces: Vec<String>,
}

/// Words of a column that says what should come, not what came.
const NOT_CAUGHT: [&str; 7] = ["target", "expected", "asked", "from", "to", "predicted", "deviation"];

/// Words of a column with anything else.
const NOTES: [&str; 6] = ["note", "notes", "remark", "remarks", "comment", "comments"];

/// Words of a column with what came.
const CAUGHT: [&str; 7] = ["caught", "catch", "amount", "volume", "weight", "mass", "measured"];

/// Words, and numbers, of a heading, lower case.
fn words(heading: &str) -> Vec<String> {
    let lower = heading.to_lowercase();
    lower.split(|c: char| !c.is_alphanumeric()).filter(|word| !word.is_empty()).map(str::to_owned).collect()
}

/// The unit that a heading names; an error for a bare ounce.
fn unit(words: &[String]) -> Result<Option<CatchUnit>, ()> {
    let has = |one: &[&str]| words.iter().any(|word| one.contains(&word.as_str()));
    if has(&["ml", "millilitre", "millilitres", "milliliter", "milliliters"]) {
        Ok(Some(CatchUnit::Millilitre))
    } else if has(&["floz"]) || (has(&["fl", "fluid"]) && has(&["oz", "ounce", "ounces"])) {
        Ok(Some(CatchUnit::FluidOunce))
    } else if has(&["g", "gram", "grams"]) {
        Ok(Some(CatchUnit::Gram))
    } else if has(&["lb", "lbs", "pound", "pounds"]) {
        Ok(Some(CatchUnit::Pound))
    } else if has(&["oz", "ounce", "ounces"]) {
        Err(())
    } else {
        Ok(None)
    }
}

impl CatchColumns {
    /// Reads a line as headings; none where no column is headed by the row.
    pub(super) fn of(cells: &[String]) -> Option<Self> {
        let all: Vec<Vec<String>> = cells.iter().map(|cell| words(cell)).collect();
        let has = |at: usize, any: &[&str]| all[at].iter().any(|word| any.contains(&word.as_str()));
        // `Row 7` is a row, no heading.
        let is_row = |at: usize| match all[at].as_slice() {
            [row] => row == "row",
            [row, number] => row == "row" && ["no", "nr", "number"].contains(&number.as_str()),
            _ => false,
        };
        let row = (0..all.len()).find(|at| is_row(*at))?;
        let mut found = Self { width: cells.len(), row, ..Self::default() };
        // Where one column says that it holds what was caught, the others don't.
        let said = (0..all.len()).any(|at| has(at, &["caught"]));
        for at in (0..all.len()).filter(|at| *at != row) {
            if has(at, &["spoiled", "spoilt", "void", "invalid"]) {
                found.spoiled.get_or_insert(at);
                continue;
            }
            if has(at, &NOTES) {
                found.notes.get_or_insert(at);
                continue;
            }
            if all[at] == ["outlet"] {
                found.outlet.get_or_insert(at);
                continue;
            }
            let unit = unit(&all[at]);
            let names_amount = has(at, &CAUGHT) || matches!(unit, Ok(Some(_)) | Err(()));
            let is_amount = if said { has(at, &["caught"]) } else { names_amount && !has(at, &NOT_CAUGHT) };
            if is_amount {
                if let (Ok(None), Some((_, said))) = (unit, cells[at].split_once(['(', '['])) {
                    let said = said.trim_end_matches([')', ']']).trim();
                    found.no_units.push((at, said.to_owned()));
                }
                match unit {
                    Ok(unit) => found.amounts.push(AmountColumn { at, unit, liquid: liquid(&all[at]) }),
                    Err(()) => found.ounces.push(cells[at].clone()),
                }
            } else if has(at, &["s", "sec", "second", "seconds", "time"]) {
                found.seconds.get_or_insert(at);
            }
        }
        Some(found)
    }
}

impl CatchColumns {
    /// A line reads as one of this table: a number where the row stands, and an amount.
    pub(super) fn holds_catch(&self, cells: &[String]) -> bool {
        let begins_as_number = |at: usize| {
            cells.get(at).is_some_and(|cell| cell.starts_with(|first: char| first.is_ascii_digit()))
        };
        begins_as_number(self.row) && self.amounts.iter().any(|column| begins_as_number(column.at))
    }
}

/// The number of a row as it is painted: `12`, `12.0` as some spreadsheets write it.
pub(super) fn row_number(cell: &str) -> Result<u32, (String, &'static str)> {
    const ADVICE: &str = "give the number that is painted at the row";
    if cell.is_empty() {
        return Err(("an amount without a row".to_owned(), ADVICE));
    }
    // A program may write a round number as a power of ten.
    let number = Measure::Plain.parse(cell, UnitSystem::Metric).ok().or_else(|| cell.parse::<f64>().ok());
    number
        .filter(|number| number.fract() == 0.0 && (0.0..=f64::from(u32::MAX)).contains(number))
        .map(|number| number as u32)
        .ok_or_else(|| (format!("\"{}\" is no row", short(cell)), ADVICE))
}

fn liquid(words: &[String]) -> Option<CaughtLiquid> {
    match words.first().map(String::as_str) {
        Some("liquid" | "product") => Some(CaughtLiquid::Product),
        Some("water") => Some(CaughtLiquid::Water),
        _ => None,
    }
}

/// The columns of a table of pressures of the commissioning sheet: the ground speed, what was read at which part, and remarks.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct PressureColumns {
    /// How many there are.
    pub(super) width: usize,
    /// The ground speed with its unit, which is empty where none is named; none where no column is headed by it.
    pub(super) speed: Option<(usize, String)>,
    /// Each column with readings.
    pub(super) read: Vec<ReadColumn>,
    /// Anything else.
    pub(super) notes: Option<usize>,
}

/// A column with what was read at one part.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct ReadColumn {
    /// Its place.
    pub(super) at: usize,
    /// Tag of the part.
    pub(super) tag: String,
    /// Its unit as the heading names it; may be empty.
    pub(super) unit: String,
    /// What it measures; none where the unit is none that is known.
    pub(super) measure: Option<Measure>,
}

impl ReadColumn {
    /// Reads `G1 read (bar)`, with or without a unit; none of a heading that says nothing of what was read at a part.
    fn of(at: usize, heading: &str) -> Option<Self> {
        const READ: &str = " read";
        let lower = heading.to_ascii_lowercase();
        let begins = lower.find(READ)?;
        let (tag, behind) = (heading[..begins].trim(), &heading[begins + READ.len()..]);
        if tag.is_empty() || behind.starts_with(char::is_alphanumeric) {
            return None;
        }
        let unit = behind.trim_matches(|one: char| !one.is_alphanumeric()).to_owned();
        let is_of = |measure: &Measure| {
            !unit.is_empty() && measure.parse(&format!("1 {unit}"), UnitSystem::Metric).is_ok()
        };
        let measure = [Measure::Pressure, Measure::TotalFlow].into_iter().find(is_of);
        // The sheet names no part so.
        let measure = if lower.starts_with("total flow") { Some(Measure::TotalFlow) } else { measure };
        Some(Self { at, tag: tag.to_owned(), unit, measure })
    }
}

impl PressureColumns {
    /// Reads a line as headings; none where it is none of such a table.
    pub(super) fn of(cells: &[String]) -> Option<Self> {
        let read: Vec<ReadColumn> =
            cells.iter().enumerate().filter_map(|(at, cell)| ReadColumn::of(at, cell)).collect();
        let speed = cells.iter().enumerate().find_map(|(at, cell)| {
            let (name, unit) = cell.split_once('(').unwrap_or((cell, ""));
            let unit = unit.trim_end_matches(')').trim();
            name.trim().eq_ignore_ascii_case("speed").then(|| (at, unit.to_owned()))
        });
        // What stands in a line of names and values is a sentence, and no heading.
        let is_table = match &speed {
            Some((_, unit)) => !unit.is_empty() || !read.is_empty(),
            None => read.iter().any(|one| !one.tag.contains(' ') && !one.unit.contains(' ')),
        };
        let notes =
            cells.iter().position(|cell| words(cell).iter().any(|word| NOTES.contains(&word.as_str())));
        is_table.then_some(Self { width: cells.len(), speed, read, notes })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn columns(headings: &str) -> CatchColumns {
        let cells: Vec<String> = headings.split('|').map(str::to_owned).collect();
        CatchColumns::of(&cells).unwrap()
    }

    #[test]
    fn headings_of_people_and_of_the_commissioning_sheet_are_understood() {
        let amounts = |headings: &str| -> Vec<(usize, Option<CatchUnit>)> {
            columns(headings).amounts.iter().map(|one| (one.at, one.unit)).collect()
        };
        assert_eq!(amounts("row|ml"), [(1, Some(CatchUnit::Millilitre))]);
        assert_eq!(amounts("Row|fl_oz|seconds"), [(1, Some(CatchUnit::FluidOunce))]);
        assert_eq!(amounts("row no|Target (ml)|Amount, g"), [(2, Some(CatchUnit::Gram))]);
        assert_eq!(amounts("row|lb|ml"), [(1, Some(CatchUnit::Pound)), (2, Some(CatchUnit::Millilitre))]);
        assert_eq!(amounts("row|amount"), [(1, None)]);
        let sheet = columns(
            "Row|Outlet|Target (mL)|Liquid expected (mL)|Liquid drawn from (mL)|Liquid caught (mL)|Water caught (mL)|Remarks",
        );
        let found: Vec<_> = sheet.amounts.iter().map(|one| (one.at, one.liquid)).collect();
        assert_eq!(found, [(5, Some(CaughtLiquid::Product)), (6, Some(CaughtLiquid::Water))]);
        assert_eq!((sheet.notes, sheet.seconds, sheet.spoiled), (Some(7), None, None));
        let own = columns("time (s)|row|caught ml|spoiled");
        assert_eq!((own.seconds, own.row, own.spoiled), (Some(0), 1, Some(3)));
        assert_eq!(columns("row|oz").ounces, ["oz"]);
        for none in [["outlet", "ml"], ["row 7", "350 ml"]] {
            assert_eq!(CatchColumns::of(&none.map(str::to_owned)), None, "{none:?}");
        }
    }
}
