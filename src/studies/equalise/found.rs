//! What equalising finds, as plain data.

use super::super::trial::Judged;
use crate::hydraulics::outcome::RowsCovered;
use crate::plan::{Metering, RowId, StockKey};
use crate::quantities::{Flow, Ratio};

/// A gain in CV below this is less than what two catch tests of one bar differ by: as the comparison of two routings counts
/// (common practice, no source).
pub const PRACTICAL: Ratio = Ratio::percent(0.5);

/// What the study may be told.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct EqualiseOptions {
    /// All rows metered by tubes of this stock, cut as the study of the metering cuts them; what is fitted unless given.
    pub tube: Option<StockKey>,
}

/// What the study found.
#[derive(Debug, Clone, PartialEq)]
pub struct EqualiseStudy {
    /// Every row that has metering, in the bar's order.
    pub rows: Vec<EqualisedRow>,
    /// What is fitted, at every speed of every duty.
    pub before: Vec<Judged>,
    /// The same equalised.
    pub after: Vec<Judged>,
    /// How it is done.
    pub means: Means,
    /// It lowers the largest CV by [`PRACTICAL`] or more.
    pub is_worth_it: bool,
    /// Rows in use that get no liquid as it is, in words.
    pub dry_rows: Option<String>,
    /// The rows in use that are connected to an open supply, and all rows of the bar.
    pub covered: RowsCovered,
}

/// How rows are made equal.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Means {
    /// Metering tubes of unequal lengths.
    Lengths,
    /// Orifices of two sizes.
    TwoSizes,
    /// Orifices, of which no two sizes make the rows more equal than what is there.
    NoSizes,
}

/// A row before and after.
#[derive(Debug, Clone, PartialEq)]
pub struct EqualisedRow {
    /// The row.
    pub row: RowId,
    /// What meters it; none where nothing does yet.
    pub before: Option<Metering>,
    /// What the search starts from: what meters it, or the tube that was asked for, of one length in all rows.
    pub start: Metering,
    /// What is to meter it.
    pub after: Metering,
    /// What it gets at the usual speed of the duty looked at, before and after.
    pub flow: [Flow; 2],
    /// Deviation from its target then; none of a row that is not fed or has no target.
    pub deviation: [Option<Ratio>; 2],
    /// The deviation that is largest of all speeds of all duties, before and after, with its sign.
    pub farthest: [Option<Ratio>; 2],
}

impl EqualisedRow {
    /// Something changes at it.
    pub fn is_touched(&self) -> bool {
        self.before.as_ref() != Some(&self.after)
    }
}

impl EqualiseStudy {
    /// The largest CV before and after.
    pub fn cv(&self) -> [Option<Ratio>; 2] {
        [&self.before, &self.after].map(|all| all.iter().filter_map(|one| one.cv).reduce(Ratio::max))
    }

    /// Which of before (0) and after (1) is advised.
    pub(super) const fn advised(&self) -> usize {
        if self.is_worth_it { 1 } else { 0 }
    }

    /// How many rows change.
    pub fn touched(&self) -> usize {
        self.rows.iter().filter(|row| row.is_touched()).count()
    }
}
