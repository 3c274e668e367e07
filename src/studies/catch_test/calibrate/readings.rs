//! The readings that count, and how far the bench is off them in standard deviations.

use nalgebra::{Cholesky, DMatrix, DVector, Dyn};

use super::bench::{Bench, Place};
use super::found::CalibrationAsked;
use super::least_squares::{Curve, inverse_of_normal};
use crate::studies::catch_test::readings::TestedRouting;

/// One reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Reading {
    /// The place on the bench.
    pub(super) place: usize,
    /// What it showed, SI; nothing for one that nobody took.
    pub(super) shown: f64,
    /// Its standard deviation, SI; above 0.
    pub(super) sd: f64,
}

/// The readings of a test that nobody doubts, where the model has a value to hold them against.
pub(super) fn undoubted(
    test: &TestedRouting<'_>,
    asked: &CalibrationAsked,
    bench: &Bench<'_, '_>,
) -> Vec<Reading> {
    let rows = test.rows.iter().filter(|row| !asked.doubted_rows.contains(&row.row));
    let rows = rows.map(|row| (Place::Row(row.row), row.flow().si(), row.sd().si()));
    let gauges = test.gauges.iter().filter(|gauge| !asked.doubted_gauges.contains(&gauge.part));
    let gauges = gauges.map(|gauge| (Place::Part(gauge.part), gauge.pressure.si(), gauge.sd.si()));
    rows.chain(gauges)
        .filter(|(_, shown, sd)| shown.is_finite() && *shown > 0.0 && *sd > 0.0)
        .filter_map(|(place, shown, sd)| {
            let place = bench.places.iter().position(|one| *one == place)?;
            Some(Reading { place, shown, sd })
        })
        .collect()
}

/// What takes readings to independent ones of standard deviation 1.
pub(super) struct Whitening {
    readings: Vec<Reading>,
    factor: Cholesky<f64, Dyn>,
}

impl Whitening {
    /// By the readings' own scatter and that of the bench. None where that can't be.
    pub(super) fn of(readings: &[Reading], of_bench: &DMatrix<f64>) -> Option<Self> {
        let covariance = DMatrix::from_fn(readings.len(), readings.len(), |line, column| {
            let (one, other) = (readings[line], readings[column]);
            let common = of_bench[(one.place, other.place)] / (one.sd * other.sd);
            if line == column { common + 1.0 } else { common }
        });
        Some(Self { readings: readings.to_vec(), factor: Cholesky::new(covariance)? })
    }

    /// Of a value at each place, those of the readings.
    pub(super) fn of_readings(&self, places: &DVector<f64>, less_shown: bool) -> DVector<f64> {
        let values = self.readings.iter().map(|reading| {
            (places[reading.place] - if less_shown { reading.shown } else { 0.0 }) / reading.sd
        });
        let values = DVector::from_iterator(self.readings.len(), values);
        self.factor.l_dirty().solve_lower_triangular(&values).unwrap_or(values)
    }
}

/// Covariance of the logarithms of some numbers as these readings would tell them, at the assumed values. What they leave
/// open is a thousand times as wide as assumed. `of_bench` is [`Bench::covariance`] without these numbers.
pub(super) fn would_be(
    bench: &Bench<'_, '_>,
    free: &[usize],
    of_bench: &DMatrix<f64>,
    readings: &[Reading],
) -> Option<DMatrix<f64>> {
    const HARDLY: f64 = 1e-3;
    let whitening = Whitening::of(readings, of_bench)?;
    let mut slopes = DMatrix::zeros(readings.len() + free.len(), free.len());
    for (column, at) in free.iter().enumerate() {
        let number = &bench.numbers[*at];
        let own = whitening.of_readings(&number.slopes, false);
        slopes.view_mut((0, column), (readings.len(), 1)).copy_from(&own);
        let known = if number.is.is_some() { HARDLY / number.sd.max(1e-6) } else { 1.0 / number.sd };
        slopes[(readings.len() + column, column)] = known;
    }
    inverse_of_normal(&slopes)
}

/// The bench against the readings, by the logarithms of some numbers over what is assumed; what the supply is set to is a
/// reading of its own.
pub(super) struct AgainstReadings<'c, 'b, 'a> {
    pub(super) bench: &'c mut Bench<'b, 'a>,
    pub(super) whitening: Whitening,
    pub(super) free: Vec<usize>,
}

impl Curve for AgainstReadings<'_, '_, '_> {
    fn at(&mut self, logarithms: &[f64]) -> Option<(DVector<f64>, DMatrix<f64>)> {
        let (shown, slopes) = self.bench.at(&self.free, logarithms)?;
        let count = self.whitening.readings.len();
        let supply: Vec<usize> =
            (0..self.free.len()).filter(|at| self.bench.numbers[self.free[*at]].is.is_none()).collect();
        let mut off = DVector::zeros(count + supply.len());
        off.rows_mut(0, count).copy_from(&self.whitening.of_readings(&shown, true));
        let mut by = DMatrix::zeros(count + supply.len(), self.free.len());
        for (column, slope) in slopes.iter().enumerate() {
            by.view_mut((0, column), (count, 1)).copy_from(&self.whitening.of_readings(slope, false));
        }
        for (line, at) in supply.into_iter().enumerate() {
            let sd = self.bench.numbers[self.free[at]].sd;
            off[count + line] = logarithms[at] / sd;
            by[(count + line, at)] = 1.0 / sd;
        }
        Some((off, by))
    }
}
