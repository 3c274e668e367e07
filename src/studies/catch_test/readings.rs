//! What a catch test gives a study to work with, in stored units: flows of rows with their scatter, and pressures of gauges.

use super::repeatability::{critical_range, is_beyond};
use crate::plan::{PartId, RowId};
use crate::quantities::{Flow, Pressure};
use crate::studies::Studied;

/// A catch test, ready to be judged and explained.
pub struct TestedRouting<'a> {
    /// The bar as it was tested, at the point it was tested at: its duty holds the liquid that was caught, its supply holds
    /// the pressure where one was held by hand.
    pub studied: Studied<'a>,
    /// Rows that were caught, in the bar's order; each has one catch at least that counts.
    pub rows: Vec<RowReading>,
    /// What gauges showed.
    pub gauges: Vec<PressureReading>,
    /// Standard deviation of what the supply gives, as a part of what it is asked for; above 0.
    pub supply_sd: f64,
}

impl TestedRouting<'_> {
    /// What came at a row; 0 where it was not caught.
    pub fn caught(&self, row: RowId) -> Flow {
        self.rows.iter().find(|one| one.row == row).map_or(Flow::ZERO, RowReading::flow)
    }
}

/// What came at a row.
#[derive(Debug, Clone, PartialEq)]
pub struct RowReading {
    /// The row.
    pub row: RowId,
    /// Each catch that counts, in the order it was taken down; at least one.
    pub catches: Vec<CaughtFlow>,
}

/// One catch as a flow.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CaughtFlow {
    /// Amount over time; 0 or more.
    pub flow: Flow,
    /// How long, seconds; above 0.
    pub seconds: f64,
    /// Standard deviation of the flow by jug and watch, of the mean of its row; above 0 also where nothing came.
    pub sd: Flow,
}

impl RowReading {
    /// Mean of its catches, each weighted by the inverse square of its scatter: equally where they took equally long.
    pub fn flow(&self) -> Flow {
        let (sum, weight) = self.catches.iter().fold((0.0, 0.0), |(sum, weight), one| {
            let of_one = one.sd.si().powi(-2);
            (sum + of_one * one.flow.si(), weight + of_one)
        });
        Flow::from_si(sum / weight)
    }

    /// Standard deviation of that mean by jug and watch; of catches that contradict each other as much larger as they differ more
    /// than they should (the ratio of Birge, Phys. Rev. 40 (1932) 207, from memory: the root of chi-squared over its freedom), since
    /// nobody knows which of them is right.
    pub fn sd(&self) -> Flow {
        let weight: f64 = self.catches.iter().map(|one| one.sd.si().powi(-2)).sum();
        let sd = Flow::from_si(weight.sqrt().recip());
        if self.apart().is_none() {
            return sd;
        }
        let mean = self.flow();
        let squares: f64 = self.catches.iter().map(|one| ((one.flow - mean) / one.sd).powi(2)).sum();
        sd * (squares / (self.catches.len() as f64 - 1.0)).sqrt().max(1.0)
    }
}

/// Catches of one row that lie further apart than jug and watch allow.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CatchesApart {
    /// The largest less the smallest.
    pub range: Flow,
    /// What that may be in 95 of 100 rows: the critical range.
    pub critical: Flow,
}

impl RowReading {
    /// Its catches contradict each other: their range is above the critical range of ISO 5725-6, with the root mean square of
    /// their scatter by jug and watch as the standard deviation of repeatability. None of one catch, or where they agree.
    pub fn apart(&self) -> Option<CatchesApart> {
        let count = self.catches.len();
        let flows = || self.catches.iter().map(|one| one.flow.si());
        let range = flows().reduce(f64::max)? - flows().reduce(f64::min)?;
        let squares: f64 = self.catches.iter().map(|one| one.sd.si().powi(2)).sum();
        let sd = (squares / count as f64).sqrt();
        if !is_beyond(count, range / sd) {
            return None;
        }
        let critical = Flow::from_si(critical_range(count)? * sd);
        Some(CatchesApart { range: Flow::from_si(range), critical })
    }
}

/// What a gauge showed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PressureReading {
    /// The gauge.
    pub part: PartId,
    /// Gauge pressure.
    pub pressure: Pressure,
    /// Standard deviation of the reading; above 0.
    pub sd: Pressure,
}
