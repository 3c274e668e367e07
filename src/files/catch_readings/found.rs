//! What a table of catches holds, as it stands there.

use super::missing::MissingLines;
use crate::plan::{CatchUnit, CaughtAmount, CaughtLiquid};
use crate::quantities::{ApplicationRate, Pressure, Speed, Temperature};

/// What was chosen.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct CatchChoices {
    /// Unit of amounts that name none, neither in their cell nor in their heading; none: such amounts are a problem.
    pub unit: Option<CatchUnit>,
    /// From the clipboard: a comma is a decimal mark, and cells without a heading are a row and an amount, or an amount alone.
    pub pasted: bool,
}

/// One amount of a table.
#[derive(Debug, Clone, PartialEq)]
pub struct ReadCatch {
    /// Where it stands: `line 5`.
    pub place: String,
    /// The number of that line, from 1, blank ones counted.
    pub line: u64,
    /// Number of the row, as painted on the bar; none for amounts that were pasted alone.
    pub row: Option<u32>,
    /// How much.
    pub amount: CaughtAmount,
    /// How long, where the line says so; above 0.
    pub seconds: Option<f64>,
    /// Which liquid, where the table says so.
    pub liquid: Option<CaughtLiquid>,
    /// Why it does not count.
    pub spoiled: Option<String>,
    /// What else somebody wrote beside it though it counts; empty where nothing.
    pub remark: String,
}

/// One reading of a table of pressures.
#[derive(Debug, Clone, PartialEq)]
pub struct ReadGauge {
    /// Where it stands.
    pub place: String,
    /// Tag of the part.
    pub tag: String,
    /// What it showed.
    pub pressure: Pressure,
    /// At which ground speed.
    pub speed: Speed,
    /// Which liquid.
    pub liquid: CaughtLiquid,
}

/// What a commissioning sheet says that it was made of.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct SheetFacts {
    /// Bar, drawing, routing and duty, as [`sheet_of`](crate::studies::catch_test::sheet_facts::sheet_of) says it.
    pub of: Option<String>,
    /// At which ground speed rows are caught.
    pub speed: Option<Speed>,
    /// What is asked of the bar.
    pub rate: Option<ApplicationRate>,
    /// Rows with the outlets they hang on.
    pub outlets: Vec<(u32, String)>,
    /// Some line of it is one that only our sheets have.
    pub is_sheet: bool,
}

/// What a table holds.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct ReadCatches {
    /// The amounts, in the order of the table.
    pub catches: Vec<ReadCatch>,
    /// Pressures, of a commissioning sheet.
    pub gauges: Vec<ReadGauge>,
    /// For how long every row was caught, where the table says so.
    pub seconds: Option<f64>,
    /// The time that counts is written and can't be read; then `seconds` is none. Not among `problems`: another time may be given.
    pub time_unread: MissingLines,
    /// Temperature of the liquid, where it says so.
    pub temperature: Option<Temperature>,
    /// Date and place, where it says so.
    pub date: String,
    /// Who made the test, where it says so.
    pub by: String,
    /// What else somebody wrote, with where; remarks beside catches that count stand with these.
    pub remarks: Vec<String>,
    /// What the sheet was made of, where it says so.
    pub made_of: SheetFacts,
    /// What can't be read; the rest is above.
    pub problems: MissingLines,
}

impl ReadCatches {
    /// All that somebody wrote beside numbers, each with where: for the notes of a test.
    pub fn notes(&self) -> Vec<String> {
        let beside = self.catches.iter().filter(|one| !one.remark.is_empty());
        let beside = beside.map(|one| match one.row {
            Some(row) => format!("row {row}: {}", one.remark),
            None => one.remark.clone(),
        });
        let mut all: Vec<String> = beside.chain(self.remarks.iter().cloned()).collect();
        all.dedup();
        all
    }

    /// Which liquids there are amounts of, those of no named one apart.
    pub fn liquids(&self) -> Vec<CaughtLiquid> {
        let both = [CaughtLiquid::Product, CaughtLiquid::Water];
        both.into_iter().filter(|liquid| self.catches.iter().any(|one| one.liquid == Some(*liquid))).collect()
    }
}
