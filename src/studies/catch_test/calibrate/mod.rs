//! Calibrating by a catch test: numbers that were assumed are fitted to readings that nobody doubts.
//!
//! [`calibrate`] fits the viscosity of the liquid that was caught, the discharge coefficient of each size of orifice, the bore
//! of each size of metering tube and the loss of the filter, by weighted least squares on the routing itself ([`least_squares`]). What the supply is set to is
//! fitted along and held to what it says within the scatter of the supply, and what parts as sold and the numbers that are not fitted add to a
//! reading counts as scatter common to all that answer to it. A number whose interval would be no narrower than what is
//! assumed, or that the readings can't tell from another, is refused, with the reading that would tell it.
//!
//! Start reading at [`calibrate`].

mod bench;
mod found;
pub mod least_squares;
mod readings;
mod would_tell;

pub use found::{
    Agreement, Calibratable, Calibration, CalibrationAsked, RefusedNumber, ToldNumber, WhyRefused,
};

use statrs::distribution::{ChiSquared, ContinuousCDF as _, StudentsT};

use super::readings::TestedRouting;
use crate::hydraulics::KeptSolver;
use crate::plan::words::{capital, ranges};
use crate::plan::{CaughtLiquid, HALF_OF_95, RowId, SpreadKind};
use crate::quantities::{Measure, Ratio};
use crate::studies::asked::no_numbers;
use crate::studies::{NoAnswer, Studied, Waiting};
use bench::{Bench, Place};
use least_squares::{Fit, NotFitted, fit};
use readings::{AgainstReadings, Reading, Whitening, undoubted, would_be};

/// Readings that scatter more than they are said to with this chance or less are not believed to.
const DOUBTFUL: f64 = 0.05;

/// Two numbers that are correlated so strongly are not told from each other (common practice, no source).
const TIED: f64 = 0.95;

/// A number that moved by more standard deviations than this from what was assumed is remarked on.
const FAR: f64 = 3.0;

/// Fits what was assumed to the readings of a test.
///
/// # Errors
/// The routing has no flows, no reading is left that the model has a value for, there is nothing assumed that runs through
/// the bar, the fit comes to no end, or whoever waits has stopped it.
pub fn calibrate(
    test: &TestedRouting<'_>,
    asked: &CalibrationAsked,
    waiting: &dyn Waiting,
) -> Result<Calibration, NoAnswer> {
    let of = &test.studied;
    let mut kept = KeptSolver::default();
    let mut prepared = kept.prepare(of.project, of.routing);
    let outcome = prepared.solve(&of.point);
    if outcome.numbers().is_none() {
        return Err(no_numbers(of, &outcome));
    }
    let bench = Bench::of(of, asked, test.supply_sd, &mut prepared);
    let mut bench = bench.ok_or_else(|| no_numbers(of, &outcome))?;
    let readings = undoubted(test, asked, &bench);
    if readings.is_empty() {
        return Err(NoAnswer::impossible(
            "no reading is left that the model has a value for",
            "catch rows that are fed, or doubt fewer of them",
        ));
    }
    if bench.numbers.iter().all(|number| number.is.is_none()) {
        return Err(NoAnswer::impossible(
            "there is nothing to calibrate: no metering or filter stands in this routing, and no assumed liquid was caught",
            "catch the product, whose viscosity is assumed",
        ));
    }
    let mut work = Work { of, asked, readings, refused: Vec::new() };
    let all: Vec<usize> = (0..bench.numbers.len()).collect();
    let mut free = work.screened(&bench, all);
    let mut round = 0.0;
    loop {
        if waiting.has_stopped() {
            return Err(NoAnswer::Stopped);
        }
        waiting.so_far(0.1 + 0.6 * round / (round + 2.0));
        round += 1.0;
        if free.iter().all(|at| bench.numbers[*at].is.is_none()) {
            return Ok(work.answer(&bench, &free, None, waiting));
        }
        let fitted = work.fitted(&mut bench, &free)?;
        match work.unfit(&bench, &free, &fitted) {
            Some((at, why)) => {
                work.refused.push((at, why));
                free.retain(|one| *one != at);
            }
            None => return Ok(work.answer(&bench, &free, Some(&fitted), waiting)),
        }
    }
}

/// A fit with what its residuals say.
struct Fitted {
    fit: Fit,
    agreement: Agreement,
    /// Half of a 95 % interval, in standard deviations of the fit.
    half: f64,
}

/// The number that one is told together with alone.
fn tied(
    bench: &Bench<'_, '_>,
    free: &[usize],
    covariance: &nalgebra::DMatrix<f64>,
    column: usize,
) -> Option<WhyRefused> {
    let correlation = |other: usize| {
        covariance[(column, other)] / (covariance[(column, column)] * covariance[(other, other)]).sqrt()
    };
    let others = (0..free.len()).filter(|other| *other != column);
    let named = others.filter_map(|other| Some((bench.numbers[free[other]].is.clone()?, correlation(other))));
    let (to, correlation) = named.max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()))?;
    (correlation.abs() > TIED).then_some(WhyRefused::Tied { to, correlation })
}

struct Work<'t, 'a> {
    of: &'t Studied<'a>,
    asked: &'t CalibrationAsked,
    readings: Vec<Reading>,
    refused: Vec<(usize, WhyRefused)>,
}

impl Work<'_, '_> {
    /// Leaves out what the readings would not tell at the assumed values, the worst first.
    fn screened(&mut self, bench: &Bench<'_, '_>, mut free: Vec<usize>) -> Vec<usize> {
        let unseen = |at: &usize| {
            let number = &bench.numbers[*at];
            number.is.is_some() && self.readings.iter().all(|one| number.slopes[one.place] == 0.0)
        };
        let not_seen: Vec<usize> = free.iter().copied().filter(unseen).collect();
        free.retain(|at| !not_seen.contains(at));
        self.refused.extend(not_seen.into_iter().map(|at| (at, WhyRefused::NotSeen)));
        loop {
            let Some(covariance) = would_be(bench, &free, &bench.covariance(&free), &self.readings) else {
                return free;
            };
            let wide = |(column, at): (usize, &usize)| {
                let number = &bench.numbers[*at];
                number.is.as_ref()?;
                Some((*at, column, covariance[(column, column)].sqrt() / number.sd))
            };
            let worst = free.iter().enumerate().filter_map(wide).max_by(|a, b| a.2.total_cmp(&b.2));
            let Some((at, column, _)) = worst.filter(|worst| worst.2 > 1.0) else { return free };
            let sd = covariance[(column, column)].sqrt();
            let why = tied(bench, &free, &covariance, column)
                .unwrap_or(WhyRefused::Wide { within: Ratio::from_si(HALF_OF_95 * sd) });
            self.refused.push((at, why));
            free.retain(|one| *one != at);
        }
    }

    fn fitted(&self, bench: &mut Bench<'_, '_>, free: &[usize]) -> Result<Fitted, NoAnswer> {
        let no_fit = |why: NotFitted| {
            let why = match why {
                NotFitted::TooFewReadings => "there are fewer readings than numbers to fit".to_owned(),
                NotFitted::Open => "the readings leave a number open".to_owned(),
                NotFitted::NoValues => "the network can't be solved with numbers that would fit".to_owned(),
                NotFitted::NotSettled(how) => format!("the fit came to no end ({how})"),
            };
            NoAnswer::impossible(
                format!("these readings can't be fitted: {why}"),
                "look at what explains them first, and leave out rows that are doubted",
            )
        };
        let whitening =
            Whitening::of(&self.readings, &bench.covariance(free)).ok_or_else(|| no_fit(NotFitted::Open))?;
        let mut against = AgainstReadings { bench, whitening, free: free.to_vec() };
        let fit = fit(&mut against, &vec![0.0; free.len()]).map_err(no_fit)?;
        let freedom = fit.freedom as f64;
        let chance = ChiSquared::new(freedom).map_or(1.0, |spread| spread.sf(fit.squares));
        let is_off = fit.freedom > 0 && chance < DOUBTFUL;
        let widened = if is_off { (fit.squares / freedom).sqrt() } else { 1.0 };
        let student = StudentsT::new(0.0, 1.0, freedom).ok().filter(|_| is_off);
        let half = widened * student.map_or(HALF_OF_95, |spread| spread.inverse_cdf(0.975));
        let is_row = |one: &&Reading| matches!(bench.places[one.place], Place::Row(_));
        let rows = self.readings.iter().filter(is_row).count();
        let agreement = Agreement {
            rows,
            gauges: self.readings.len() - rows,
            freedom: fit.freedom,
            chi_squared: fit.squares,
            chance,
            widened,
        };
        Ok(Fitted { fit, agreement, half })
    }

    /// The number that is told worst, if it is not to be taken over.
    fn unfit(&self, bench: &Bench<'_, '_>, free: &[usize], fitted: &Fitted) -> Option<(usize, WhyRefused)> {
        let covariance = &fitted.fit.covariance;
        let told: Vec<(usize, usize)> = free
            .iter()
            .enumerate()
            .filter(|(_, at)| bench.numbers[**at].is.is_some())
            .map(|(column, at)| (column, *at))
            .collect();
        let half = |column: usize| fitted.half * covariance[(column, column)].sqrt();
        let width = |(column, at): (usize, usize)| half(column) / (HALF_OF_95 * bench.numbers[at].sd);
        let (column, at) = told.iter().copied().max_by(|a, b| width(*a).total_cmp(&width(*b)))?;
        if width((column, at)) > 1.0 {
            return Some((at, WhyRefused::Wide { within: Ratio::from_si(half(column)) }));
        }
        if let Some(why) = tied(bench, free, covariance, column) {
            return Some((at, why));
        }
        told.into_iter().find_map(|(column, at)| {
            let number = &bench.numbers[at];
            let value = number.assumed * fitted.fit.numbers[column].exp();
            let why = number.is.as_ref()?.refuses(self.of, value)?;
            Some((at, WhyRefused::NoValue { value, why }))
        })
    }

    fn answer(
        &self,
        bench: &Bench<'_, '_>,
        free: &[usize],
        fitted: Option<&Fitted>,
        waiting: &dyn Waiting,
    ) -> Calibration {
        let mut told = Vec::new();
        for (column, at) in free.iter().enumerate() {
            let number = &bench.numbers[*at];
            if let (Some(is), Some(fitted)) = (&number.is, fitted) {
                let sd = fitted.fit.covariance[(column, column)].sqrt();
                told.push(ToldNumber {
                    number: is.clone(),
                    assumed: number.assumed,
                    assumed_within: Ratio::from_si(HALF_OF_95 * number.sd),
                    value: number.assumed * fitted.fit.numbers[column].exp(),
                    within: Ratio::from_si((fitted.half * sd).hypot(self.by_temperature(is))),
                    temperature: self.of.point.temperature,
                });
            }
        }
        let count = self.refused.len().max(1) as f32;
        let refused = self.refused.iter().enumerate().filter_map(|(done, (at, why))| {
            waiting.so_far(0.7 + 0.3 * done as f32 / count);
            let number = &bench.numbers[*at];
            Some(RefusedNumber {
                number: number.is.clone()?,
                assumed: number.assumed,
                assumed_within: Ratio::from_si(HALF_OF_95 * number.sd),
                why: why.clone(),
                would_tell: would_tell::words(self.of, self.asked, bench, free, *at, &self.readings),
            })
        });
        let refused = refused.collect();
        let remarks = self.remarks(bench, free, fitted, &told);
        Calibration { told, refused, agreement: fitted.map(|fitted| fitted.agreement), remarks }
    }

    /// What a temperature that nobody measured adds to half of the interval of a viscosity, as a part of it.
    fn by_temperature(&self, number: &Calibratable) -> f64 {
        if *number != Calibratable::Viscosity || self.asked.temperature_is_measured {
            return 0.0;
        }
        let sd = self.of.project.spreads.of(SpreadKind::Temperature).sd;
        let liquid = &self.of.project.duty(self.of.point.duty).liquid;
        let viscosity = liquid.at(self.of.point.temperature).map_or(1.0, |state| state.viscosity.si());
        HALF_OF_95 * (bench::viscosity_by_temperature(self.of) * sd / viscosity).abs()
    }

    fn remarks(
        &self,
        bench: &Bench<'_, '_>,
        free: &[usize],
        fitted: Option<&Fitted>,
        told: &[ToldNumber],
    ) -> Vec<String> {
        let units = self.of.project.units;
        let percent = |part: f64| Measure::Percent.text(part, units);
        let mut all = Vec::new();
        if let Some(fitted) = fitted {
            let agreement = fitted.agreement;
            if agreement.widened > 1.0 {
                all.push(format!(
                    "The readings scatter {} times as much as jug, watch, gauges and parts are said to (chance {}): the \
                     intervals are widened by that; look at what explains the test before taking numbers over",
                    Measure::Plain.short_text(agreement.widened, units).trim(),
                    Measure::Plain.text(agreement.chance, units).trim()
                ));
            }
            for (column, at) in free.iter().enumerate() {
                let off = fitted.fit.numbers[column].exp_m1();
                let sd = fitted.fit.covariance[(column, column)].sqrt();
                if bench.numbers[*at].is.is_none() && off.abs() > 2.0 * sd.max(0.005) {
                    let way = if off > 0.0 { "more" } else { "less" };
                    all.push(format!(
                        "The supply gave {} {way} than it is set to, or the jug reads so much {}: weigh a litre of water in it",
                        percent(off.abs()),
                        if off > 0.0 { "high" } else { "low" }
                    ));
                }
            }
        }
        for one in told {
            let moved = (one.value / one.assumed).ln() * HALF_OF_95 / one.assumed_within.si();
            if moved.abs() > FAR {
                all.push(format!(
                    "The {} is {} off what was assumed: make sure that nothing else explains the test",
                    one.number.name(self.of),
                    percent((one.value / one.assumed - 1.0).abs())
                ));
            }
        }
        if !self.asked.doubted_rows.is_empty() {
            let number = |row: &RowId| self.of.project.bar.row(*row).map(|row| row.number);
            let mut rows: Vec<u32> = self.asked.doubted_rows.iter().filter_map(number).collect();
            rows.sort_unstable();
            let word = if rows.len() == 1 { "row" } else { "rows" };
            all.push(format!("Left out as doubted: {word} {}", ranges(&rows)));
        }
        if self.asked.liquid == CaughtLiquid::Product && !self.asked.temperature_is_measured {
            let at = Measure::Temperature.short_text(self.of.point.temperature.si(), units);
            all.push(format!("Nobody measured the temperature of what was caught: {at} is assumed"));
        }
        all.extend(self.of.liquid_cautions().iter().map(|one| capital(one)));
        all
    }
}
