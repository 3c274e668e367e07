//! Builds many bars of parts that scatter and solves each of them.
//!
//! Every bar is solved whole: valves open or stay shut, and tubes change between laminar and turbulent flow, as they do in
//! the one that is built. A row that the plan feeds and a built bar does not counts with no flow.

use std::num::NonZeroUsize;

use statrs::distribution::{Beta, ContinuousCDF as _};

use super::draws::Bars;
use super::first_order::{FirstOrder, FirstOrderCause};
use super::found::{BuiltBars, Cause, Chance, Distribution, RowScatter};
use super::scatter::Scatter;
use crate::hydraulics::{Outcome, RowSolver};
use crate::plan::{Limits, Liquid, SpreadKind};
use crate::quantities::{Flow, Ratio};
use crate::studies::asked::{NoAnswer, Waiting};

/// Bars of one job: few enough that a stop is heard soon.
const BARS: usize = 32;

/// Bars built again without one spread, of the same parts otherwise.
const BARS_WITHOUT: usize = 500;

/// A spread that makes less than this share of CV² by first order is not left out by itself.
const LEAST_SHARE: f64 = 0.005;

/// Confidence of the intervals: 95 %.
const CONFIDENCE: f64 = 0.95;

/// What is built, and by which rows it is judged.
pub(super) struct Workshop<'a> {
    pub(super) scatter: &'a Scatter,
    pub(super) first: &'a FirstOrder,
    pub(super) outcome: &'a Outcome,
    pub(super) solver: RowSolver<'a>,
    pub(super) liquid: &'a Liquid,
    pub(super) limits: &'a Limits,
    /// Places of the rows that count.
    pub(super) places: Vec<usize>,
    pub(super) seed: u64,
}

/// Some bars in a row: from, to, and the spread left out.
#[derive(Clone, Copy)]
struct Job {
    from: usize,
    to: usize,
    without: Option<SpreadKind>,
}

/// What the bars of a job show.
#[derive(Default)]
struct Batch {
    cv: Vec<f64>,
    farthest: Vec<f64>,
    cv_squared: f64,
    solved: u32,
    unsolved: u32,
    dry: u32,
    within: [u32; 3],
    /// Of each row: sum and sum of squares of what it is off the plan, and how often it was the farthest.
    rows: Vec<(f64, f64, u32)>,
}

/// One thread's tools.
struct Worker<'a> {
    solver: RowSolver<'a>,
    bars: Bars<'a>,
    flows: Vec<Flow>,
    ratios: Vec<f64>,
}

impl<'a> Workshop<'a> {
    /// Builds and solves so many bars.
    pub(super) fn build(
        &self,
        samples: u32,
        threads: Option<NonZeroUsize>,
        waiting: &dyn Waiting,
    ) -> Result<BuiltBars, NoAnswer> {
        let batches = self.do_all(&jobs(samples as usize, None), threads, waiting)?;
        Ok(self.judged(&batches, again(samples)))
    }

    /// What each spread makes of built bars, in the order of the table: the first of them built again without it.
    pub(super) fn causes(
        &self,
        built: &BuiltBars,
        samples: u32,
        threads: Option<NonZeroUsize>,
        waiting: &dyn Waiting,
    ) -> Result<Vec<Cause>, NoAnswer> {
        let first_order = self.first.built_cv().si().powi(2);
        let again = again(samples);
        let is_left_out = |cause: &FirstOrderCause| cause.cv_squared > LEAST_SHARE * first_order;
        let left_out = self.first.causes.iter().filter(|cause| is_left_out(cause));
        let all: Vec<Job> = left_out.flat_map(|cause| jobs(again, Some(cause.kind))).collect();
        let batches = self.do_all(&all, threads, waiting)?;
        // The same bars with and without a spread, so that what differs is that spread's own.
        let full = built.cv_squared_of_first;
        let mut without = batches.chunks(again.div_ceil(BARS));
        let cause = |cause: &FirstOrderCause| {
            let left = is_left_out(cause).then(|| without.next()).flatten().map(mean_square);
            Cause {
                kind: cause.kind,
                first_order_share: share(cause.cv_squared, first_order),
                share: left.map(|left| share(full - left, full)),
                cv_without: left.map(|left| Ratio::from_si(left.max(0.0).sqrt())),
            }
        };
        Ok(self.first.causes.iter().map(cause).collect())
    }

    fn do_all(
        &self,
        jobs: &[Job],
        threads: Option<NonZeroUsize>,
        waiting: &dyn Waiting,
    ) -> Result<Vec<Batch>, NoAnswer> {
        let worker = || Worker {
            solver: self.solver.clone(),
            bars: Bars::new(
                self.scatter,
                self.liquid,
                self.outcome.point.temperature,
                self.solver.planned_liquid(),
                self.seed,
            ),
            flows: Vec::new(),
            ratios: Vec::new(),
        };
        crate::studies::workers::do_all(threads, jobs.len(), waiting, worker, |worker, at| {
            self.batch(worker, jobs[at])
        })
    }

    fn batch(&self, worker: &mut Worker<'a>, job: Job) -> Batch {
        let mut batch = Batch { rows: vec![(0.0, 0.0, 0); self.places.len()], ..Batch::default() };
        let planned = self.outcome.rows();
        for bar in job.from..job.to {
            worker.bars.draw(bar as u64, job.without);
            let Worker { solver, bars, flows, ratios } = &mut *worker;
            if solver.solve(bars.fluid, &bars.values, flows).is_err() {
                batch.unsolved += 1;
                continue;
            }
            batch.solved += 1;
            ratios.clear();
            ratios.extend(self.places.iter().map(|at| flows[*at].si().max(0.0) / planned[*at].target.si()));
            let count = ratios.len() as f64;
            let mean = ratios.iter().sum::<f64>() / count;
            let squares = ratios.iter().map(|ratio| (ratio - mean).powi(2)).sum::<f64>() / count;
            let cv_squared = if mean > 0.0 { squares / (mean * mean) } else { 0.0 };
            batch.cv_squared += cv_squared;
            if job.without.is_some() {
                continue;
            }
            batch.dry += u32::from(ratios.iter().any(|ratio| *ratio <= 0.0));
            let (mut farthest, mut farthest_row) = (0.0, 0);
            let rows = batch.rows.iter_mut().zip(&*ratios).zip(&self.first.rows);
            for (place, ((row, ratio), first)) in rows.enumerate() {
                let off = ratio - 1.0 - first.planned.si();
                row.0 += off;
                row.1 += off * off;
                if (ratio - 1.0).abs() > farthest {
                    (farthest, farthest_row) = ((ratio - 1.0).abs(), place);
                }
            }
            if let Some(row) = batch.rows.get_mut(farthest_row) {
                row.2 += 1;
            }
            let cv = cv_squared.sqrt();
            let is_even = cv <= self.limits.cv_acceptable.si();
            let is_near = farthest <= self.limits.row_deviation.si();
            for (count, is) in batch.within.iter_mut().zip([is_even && is_near, is_even, is_near]) {
                *count += u32::from(is);
            }
            batch.cv.push(cv);
            batch.farthest.push(farthest);
        }
        batch
    }

    fn judged(&self, all: &[Batch], again: usize) -> BuiltBars {
        let sum = |of: fn(&Batch) -> u32| all.iter().map(of).sum::<u32>();
        let solved = sum(|batch| batch.solved);
        let chance = |which: usize| {
            let count = all.iter().map(|batch| batch.within[which]).sum();
            Chance::of(count, solved)
        };
        let values =
            |of: fn(&Batch) -> &Vec<f64>| all.iter().flat_map(move |batch| of(batch).iter().copied());
        let bars = f64::from(solved.max(1));
        let rows = self.first.rows.iter().enumerate().map(|(place, first)| {
            let mut row = (0.0, 0.0, 0);
            for batch in all {
                let (sum, squares, farthest) = batch.rows[place];
                row = (row.0 + sum, row.1 + squares, row.2 + farthest);
            }
            let mean = row.0 / bars;
            RowScatter {
                row: first.row,
                number: first.number,
                planned: first.planned,
                mean: Ratio::from_si(first.planned.si() + mean),
                sd: Ratio::from_si((row.1 / bars - mean * mean).max(0.0).sqrt()),
                first_order_sd: first.sd,
                farthest_in: Ratio::from_si(f64::from(row.2) / bars),
            }
        });
        BuiltBars {
            speed: self.outcome.point.speed,
            first_order: self.first.clone(),
            cv: Distribution::of(values(|batch| &batch.cv)),
            farthest: Distribution::of(values(|batch| &batch.farthest)),
            within: chance(0),
            cv_within: chance(1),
            rows_within: chance(2),
            rows: rows.collect(),
            unsolved: sum(|batch| batch.unsolved),
            dry: sum(|batch| batch.dry),
            cv_squared_of_first: mean_square_of_first(all, again).unwrap_or_else(|| mean_square(all)),
        }
    }
}

/// How many of the bars are built again without a spread.
fn again(samples: u32) -> usize {
    (samples as usize).min(BARS_WITHOUT)
}

/// So many bars as jobs.
fn jobs(bars: usize, without: Option<SpreadKind>) -> Vec<Job> {
    (0..bars).step_by(BARS).map(|from| Job { from, to: (from + BARS).min(bars), without }).collect()
}

fn mean_square(batches: &[Batch]) -> f64 {
    let solved: u32 = batches.iter().map(|batch| batch.solved).sum();
    batches.iter().map(|batch| batch.cv_squared).sum::<f64>() / f64::from(solved.max(1))
}

/// Mean CV² of the first bars, which the bars without a spread are built after; none where one of them was not solved.
fn mean_square_of_first(all: &[Batch], count: usize) -> Option<f64> {
    let first: Vec<f64> = all.iter().flat_map(|batch| batch.cv.iter().copied()).take(count).collect();
    let none_missing = all.iter().all(|batch| batch.unsolved == 0);
    (none_missing && first.len() == count && count > 0)
        .then(|| first.iter().map(|cv| cv * cv).sum::<f64>() / count as f64)
}

fn share(part: f64, whole: f64) -> Ratio {
    Ratio::from_si(if whole > 0.0 { part / whole } else { 0.0 })
}

impl Distribution {
    /// Of values in any order; quantiles between two by their distance (type 7 of Hyndman and Fan 1996).
    pub(super) fn of(values: impl Iterator<Item = f64>) -> Self {
        let mut all: Vec<f64> = values.collect();
        let count = all.len().max(1) as f64;
        let mean = all.iter().sum::<f64>() / count;
        let squares = all.iter().map(|value| value * value).sum::<f64>() / count;
        all.sort_by(f64::total_cmp);
        let quantile = |part: f64| {
            let at = part * (all.len().max(1) - 1) as f64;
            let low = all.get(at.floor() as usize).copied().unwrap_or(0.0);
            let high = all.get(at.ceil() as usize).copied().unwrap_or(low);
            Ratio::from_si(low + (high - low) * at.fract())
        };
        Self {
            mean: Ratio::from_si(mean),
            rms: Ratio::from_si(squares.sqrt()),
            p05: quantile(0.05),
            p50: quantile(0.5),
            p95: quantile(0.95),
            sorted: all,
        }
    }
}

impl Chance {
    /// Of a count of successes among trials, with its 95 % interval after Clopper and Pearson (1934), by quantiles of the
    /// beta distribution.
    pub(super) fn of(count: u32, trials: u32) -> Self {
        let (found, rest) = (f64::from(count), f64::from(trials.saturating_sub(count)));
        let end = |part: f64, a: f64, b: f64| Beta::new(a, b).ok().map(|beta| beta.inverse_cdf(part));
        let tail = (1.0 - CONFIDENCE) / 2.0;
        let low = if count == 0 { None } else { end(tail, found, rest + 1.0) };
        let high = if count >= trials { None } else { end(1.0 - tail, found + 1.0, rest) };
        Self {
            count,
            of: trials,
            low: Ratio::from_si(low.unwrap_or(0.0)),
            high: Ratio::from_si(high.unwrap_or(1.0)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Exact intervals of 95 %: of none and all of 10 by hand (0.025^(1/10)), the others as R's `binom.test` prints them
    /// for 5 of 10 (0.1870860, 0.8129140) and 7 of 20 (0.1539092, 0.5921885).
    #[test]
    fn intervals_are_those_of_clopper_and_pearson() {
        let near = |count, of, low: f64, high: f64| {
            let found = Chance::of(count, of);
            assert!((found.low.si() - low).abs() < 1e-6, "{count} of {of}: {found:?}");
            assert!((found.high.si() - high).abs() < 1e-6, "{count} of {of}: {found:?}");
        };
        near(0, 10, 0.0, 1.0 - 0.025_f64.powf(0.1));
        near(10, 10, 0.025_f64.powf(0.1), 1.0);
        near(5, 10, 0.1870860, 0.8129140);
        near(7, 20, 0.1539092, 0.5921885);
    }

    #[test]
    fn quantiles_lie_between_values() {
        let found = Distribution::of([3.0, 1.0, 2.0, 4.0, 5.0].into_iter());
        assert_eq!([found.p05.si(), found.p50.si(), found.p95.si()], [1.2, 3.0, 4.8]);
        assert!((found.rms.si() - 11_f64.sqrt()).abs() < 1e-12);
    }
}
