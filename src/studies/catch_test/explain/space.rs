//! Readings as a vector in which scatter is alike in all directions: that of jug and watch, of parts as
//! sold, of the supply, and of gauges.
//!
//! A row counts as the logarithm of what came over what was expected, with a little added so that a row that gives nothing has
//! one too: scatter of parts, of a jug and of a watch is a share of what flows, and so is alike at any flow. A gauge counts as
//! its pressure. The covariance of both by parts as sold is that of first order (JCGM 100:2008, 5.1.2); its Cholesky factor makes
//! the scatter alike (whitening).

use nalgebra::{Cholesky, DMatrix, DVector, Dyn};

use super::solved::{CauseCurves, Level};
use crate::hydraulics::faulty::Shown;
use crate::plan::PartId;
use crate::quantities::Flow;
use crate::studies::NoAnswer;
use crate::studies::catch_test::readings::{PressureReading, RowReading};
use crate::studies::catch_test::spread_columns::SpreadColumn;

/// What is added to a row's share of what is expected before its logarithm is taken: less than this is as good as nothing.
const NOTHING: f64 = 0.02;
/// A drip that no jug shows, as a share of what is expected.
const DRIP: f64 = 0.002;
/// A reading that changes by less than this many spreads shows nothing.
pub(super) const SHOWS: f64 = 0.5;

/// See the module.
pub(super) struct Space {
    /// Places in the bar of the rows that were caught, and places among what is watched of the gauges that were read.
    pub(super) rows: Vec<usize>,
    pub(super) gauges: Vec<usize>,
    /// What is expected of each row, m³/s, above 0.
    expected: Vec<f64>,
    /// Of the sound bar.
    base: Vec<f64>,
    factor: Cholesky<f64, Dyn>,
    /// What one standard deviation of each thing that scatters by itself does to each reading, the supply last where it is known.
    pub(super) spread: DMatrix<f64>,
    pub(super) has_supply: bool,
    /// Covariance by parts, liquid and supply alone, and by catching and reading alone (of each).
    by_parts: DMatrix<f64>,
    pub(super) by_reading: Vec<f64>,
    /// Of the supply, as a part of what it is asked for.
    pub(super) supply_sd: f64,
    /// What was read less what the sound bar shows, whitened.
    pub(super) data: DVector<f64>,
    /// The same before whitening.
    pub(super) raw_data: DVector<f64>,
}

impl Space {
    pub(super) fn new(
        curves: &CauseCurves<'_>,
        rows: &[RowReading],
        gauges: &[PressureReading],
        supply_sd: f64,
    ) -> Result<Self, NoAnswer> {
        let known: Vec<(usize, &RowReading)> =
            rows.iter().filter_map(|row| Some((curves.row_place(row.row)?, row))).collect();
        let watched = |part: PartId| curves.watched.iter().position(|one| *one == part);
        let read: Vec<(usize, &PressureReading)> =
            gauges.iter().filter_map(|gauge| Some((watched(gauge.part)?, gauge))).collect();
        if known.len() < 3 {
            return Err(NoAnswer::impossible(
                "fewer than three rows of the bar were caught",
                "catch more rows: what is wrong shows beside the others",
            ));
        }
        let fed: Vec<f64> = curves.sound.rows.iter().copied().filter(|flow| *flow > 0.0).collect();
        let mean = fed.iter().sum::<f64>() / fed.len().max(1) as f64;
        let expected: Vec<f64> = known
            .iter()
            .map(|(place, _)| curves.sound.rows[*place])
            .map(|flow| if flow > 0.0 { flow } else { mean })
            .collect();
        if known.iter().all(|(_, row)| row.flow() <= Flow::ZERO) {
            return Err(NoAnswer::impossible(
                "nothing came out of any row that was caught",
                "see that the pump runs, the main valve is open and liquid reaches the bar, then catch again",
            ));
        }
        let count = known.len() + read.len();
        // What one standard deviation of parts does to each reading, as much as flows now.
        let shares: Vec<f64> =
            known.iter().enumerate().map(|(at, (_, row))| row.flow().si().max(0.0) / expected[at]).collect();
        let levels: Vec<(&Level, Vec<SpreadColumn>)> =
            curves.levels.iter().map(|level| (level, level.columns(supply_sd))).collect();
        let mut spread = DMatrix::<f64>::zeros(count, levels.first().map_or(0, |one| one.1.len()));
        // A row stands under the pressure of those beside it, whatever is wrong with it alone.
        let beside = |at: usize| -> f64 {
            let from = curves.fed_from[known[at].0];
            let beside = known.iter().zip(&shares).filter(|one| curves.fed_from[one.0.0] == from);
            median(&mut beside.map(|one| *one.1).collect::<Vec<f64>>())
        };
        for (at, (place, _)) in known.iter().enumerate() {
            let counts = shares[at] / (shares[at] + NOTHING);
            for (level, part) in curves.between_levels(beside(at)) {
                let then = levels[level].0.shown.rows[*place];
                for (column, one) in levels[level].1.iter().enumerate().filter(|_| then > 0.0) {
                    spread[(at, column)] += part * one.rows[*place] * counts / then;
                }
            }
        }
        // All rows may be written down wrongly, and a gauge may show more behind what is blocked or of a thicker liquid: of what
        // rows and what the gauge say of the flow, the one nearer to what is expected counts.
        let by_rows = median(&mut shares.clone());
        let far = |share: &f64| share.max(f64::MIN_POSITIVE).ln().abs();
        for (at, (place, gauge)) in read.iter().enumerate() {
            let by_gauge = curves.share_at(*place, gauge.pressure.si());
            let share = if far(&by_gauge) < far(&by_rows) { by_gauge } else { by_rows };
            for (level, part) in curves.between_levels(share) {
                for (column, one) in levels[level].1.iter().enumerate() {
                    spread[(known.len() + at, column)] += part * one.parts[*place];
                }
            }
        }
        let by_parts = &spread * spread.transpose();
        let of_row = |(at, (_, row)): (usize, &(usize, &RowReading))| {
            let sd = (row.sd().si() / expected[at]).hypot(DRIP) / (shares[at] + NOTHING);
            sd * sd
        };
        let by_reading: Vec<f64> = known
            .iter()
            .enumerate()
            .map(of_row)
            .chain(read.iter().map(|(_, gauge)| gauge.sd.si().powi(2)))
            .collect();
        let mut all = by_parts.clone();
        for (at, variance) in by_reading.iter().enumerate() {
            all[(at, at)] += variance;
        }
        let Some(factor) = Cholesky::new(all) else {
            return Err(NoAnswer::impossible(
                "the scatter of the readings is not one that numbers can have",
                "give jug, watch and gauges a scatter above 0",
            ));
        };
        let mut space = Self {
            rows: known.iter().map(|one| one.0).collect(),
            gauges: read.iter().map(|one| one.0).collect(),
            expected,
            base: Vec::new(),
            factor,
            has_supply: curves.levels.first().is_some_and(|level| level.has_supply()),
            spread,
            by_parts,
            by_reading,
            supply_sd,
            data: DVector::zeros(count),
            raw_data: DVector::zeros(count),
        };
        space.base = space.of_shown(&curves.sound);
        let flows = known.iter().enumerate().map(|(at, (_, row))| space.of_flow(at, row.flow().si()));
        let raw = flows.chain(read.iter().map(|(_, gauge)| gauge.pressure.si()));
        space.raw_data = DVector::from_iterator(count, raw.zip(&space.base).map(|(read, base)| read - base));
        space.data = space.whiten(&space.raw_data);
        Ok(space)
    }

    /// How many standard deviations of a reading this is, before whitening, whatever its sign.
    pub(super) fn spreads(&self, at: usize, off: f64) -> f64 {
        (off / (self.by_parts[(at, at)] + self.by_reading[at]).sqrt()).abs()
    }

    /// A change of all readings, before whitening, is one that shows at any of them.
    pub(super) fn is_shown(&self, change: &DVector<f64>) -> bool {
        (0..self.count()).any(|at| self.spreads(at, change[at]) >= SHOWS)
    }

    /// How many readings there are.
    pub(super) fn count(&self) -> usize {
        self.rows.len() + self.gauges.len()
    }

    /// A row's flow as it counts here.
    fn of_flow(&self, at: usize, flow: f64) -> f64 {
        (flow.max(0.0) / self.expected[at] + NOTHING).ln()
    }

    /// A share of what is expected as it counts here, less what a sound row has.
    pub(super) fn counted(share: f64) -> f64 {
        (share.max(0.0) + NOTHING).ln() - (1.0 + NOTHING).ln()
    }

    fn of_shown(&self, shown: &Shown) -> Vec<f64> {
        let rows = self.rows.iter().enumerate().map(|(at, place)| self.of_flow(at, shown.rows[*place]));
        rows.chain(self.gauges.iter().map(|place| shown.parts[*place])).collect()
    }

    /// What is shown, less what the sound bar shows, before whitening.
    pub(super) fn raw(&self, shown: &Shown) -> DVector<f64> {
        let all = self.of_shown(shown);
        DVector::from_iterator(all.len(), all.iter().zip(&self.base).map(|(one, base)| one - base))
    }

    /// The counted reading of the sound bar.
    pub(super) fn base(&self) -> &[f64] {
        &self.base
    }

    /// Makes a difference of readings one in which scatter is alike.
    pub(super) fn whiten(&self, raw: &DVector<f64>) -> DVector<f64> {
        let mut white = raw.clone();
        self.factor.l_dirty().solve_lower_triangular_mut(&mut white);
        white
    }

    /// The same of many, a column each.
    pub(super) fn whiten_all(&self, raw: &mut DMatrix<f64>) {
        self.factor.l_dirty().solve_lower_triangular_mut(raw);
    }

    /// Solves the covariance for a right-hand side.
    pub(super) fn solve(&self, raw: &DVector<f64>) -> DVector<f64> {
        self.factor.solve(raw)
    }

    /// The same for many.
    pub(super) fn solve_all(&self, raw: &DMatrix<f64>) -> DMatrix<f64> {
        self.factor.solve(raw)
    }
}

/// The middle one.
fn median(all: &mut [f64]) -> f64 {
    all.sort_by(f64::total_cmp);
    all.get(all.len() / 2).copied().unwrap_or(1.0)
}
