//! What a reading of a bar as drawn may be: jug, watch and gauge, the supply, parts as sold and the liquid all together. The one
//! rule for the verdict, tables, papers, the window and what is said of chance.

use nalgebra::{DMatrix, DVector};

use super::joint::{Band, Farthest, Joint};
use super::spread_columns::SpreadColumn;

/// What a reading is of: a place among the rows or the parts of the columns.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Of {
    Row(usize),
    Part(usize),
}

/// A reading beside what is expected, in its stored unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Beside {
    pub(super) of: Of,
    pub(super) read: f64,
    pub(super) expected: f64,
    /// Standard deviation of reading it; above 0.
    pub(super) sd: f64,
}

/// Readings with their joint scatter on a bar as drawn.
pub(super) struct Expectation {
    readings: Vec<Beside>,
    off: DVector<f64>,
    joint: Joint,
}

/// Between which values a reading may be, in its stored unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct MayBe {
    pub(super) low: f64,
    pub(super) high: f64,
    /// As the other readings make it; else as it is expected by itself, where it is beyond that.
    pub(super) by_others: bool,
    pub(super) is_within: bool,
}

impl Expectation {
    /// Of readings, with what one standard deviation of each thing that scatters makes of rows and parts. None where their scatter
    /// is none that numbers can have.
    pub(super) fn of(readings: Vec<Beside>, columns: &[SpreadColumn]) -> Option<Self> {
        let spread = DMatrix::from_fn(readings.len(), columns.len(), |at, column| {
            let (one, column) = (&readings[at], &columns[column]);
            let by = match one.of {
                Of::Row(place) => column.rows.get(place),
                Of::Part(place) => column.parts.get(place),
            };
            by.copied().unwrap_or(0.0) / one.sd
        });
        let covariance = &spread * spread.transpose() + DMatrix::identity(readings.len(), readings.len());
        let off = readings.iter().map(|one| (one.read - one.expected) / one.sd);
        let off = DVector::from_iterator(readings.len(), off);
        Some(Self { joint: Joint::of(covariance)?, readings, off })
    }

    /// Between which values each may be: all are, in 95 of 100 tests of a bar as drawn.
    pub(super) fn may_be(&self) -> Vec<MayBe> {
        let reach = self.joint.reach();
        let of = |(one, band): (&Beside, Band)| {
            let end = |side: f64| one.expected + one.sd * (band.middle + side * reach * band.sd);
            let (low, high) = (end(-1.0).max(0.0), end(1.0).max(0.0));
            MayBe { low, high, by_others: band.by_others, is_within: band.is_within }
        };
        self.readings.iter().zip(self.joint.bands(&self.off)).map(of).collect()
    }

    /// The reading that is farthest off, and how far.
    pub(super) fn farthest(&self) -> Option<(Beside, Farthest)> {
        let farthest = self.joint.farthest(&self.off)?;
        Some((self.readings[farthest.at], farthest))
    }
}
