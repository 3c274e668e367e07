//! Catch tests invented by the model, explained and scored.

use std::fmt;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

use equirow::plan::{CauseWeights, PartId};
use equirow::studies::catch_test::explain::CauseCurves;
use equirow::studies::catch_test::explain::invented::{Assessment, Catching, Invention};

/// Drawn once, kept since.
pub(crate) const SEED: u64 = 20_180_418;

/// A minute into a jug, read to 1 % and 0.3 s; a gauge of class 1.6 to 6 bar; a supply kept within 3 %.
pub(crate) const CATCHING: Catching =
    Catching { seconds: 60.0, amount: 0.01, time: 0.3, gauge: 9_600.0, supply: 0.03, really: 1.0 };

/// So many invented tests, each with the kinds of its truth, in the order of their numbers.
pub(crate) fn assess(
    curves: &CauseCurves<'_>,
    what: Invention,
    weights: &CauseWeights,
    gauges: &[PartId],
    really: f64,
    cases: usize,
) -> Vec<(String, Assessment)> {
    let catching = Catching { really, ..CATCHING };
    let next = AtomicUsize::new(0);
    let all = Mutex::new(Vec::new());
    std::thread::scope(|scope| {
        for _ in 0..std::thread::available_parallelism().map_or(1, usize::from) {
            scope.spawn(|| {
                loop {
                    let at = next.fetch_add(1, Ordering::Relaxed);
                    if at >= cases {
                        break;
                    }
                    let number = at as u64 + 10_000 * (what as u64 + 1);
                    let test = curves.invent(what, weights, &catching, gauges, (SEED, number));
                    let Some(test) = test else { continue };
                    let names: Vec<String> =
                        test.truth.iter().map(|one| format!("{} {:?}", one.kind.key(), one.rows)).collect();
                    let found = curves.assess(&test, weights).unwrap();
                    all.lock().unwrap().push((at, names.join(" + "), found));
                }
            });
        }
    });
    let mut all = all.into_inner().unwrap();
    all.sort_by_key(|one| one.0);
    all.into_iter().map(|(_, truth, found)| (truth, found)).collect()
}

/// How many of the cases that show were found.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Score {
    pub(crate) cases: usize,
    pub(crate) first: usize,
    pub(crate) among_three: usize,
    pub(crate) rows_first: usize,
    pub(crate) rows_among_three: usize,
}

impl Score {
    /// Of cases whose least fault moves the readings by more spreads than this; of sound bars all.
    pub(crate) fn of(all: &[(String, Assessment)], spreads: f64) -> Self {
        let mut score = Self::default();
        for (_, one) in all.iter().filter(|one| one.1.least_effect > spreads) {
            score.cases += 1;
            let is_sound = one.least_effect == f64::INFINITY;
            let first = if is_sound { one.is_called_sound } else { one.place == Some(0) };
            score.first += usize::from(first);
            score.among_three += usize::from(one.place.is_some_and(|place| place < 3));
            score.rows_first += usize::from(one.place_of_rows == Some(0));
            score.rows_among_three += usize::from(one.place_of_rows.is_some_and(|place| place < 3));
        }
        score
    }

    pub(crate) fn percent(&self, count: usize) -> String {
        format!("{:.1} %", 100.0 * count as f64 / self.cases.max(1) as f64)
    }
}

/// Groups by their odds: how many, the sum of their odds, and how many held the truth.
#[derive(Debug, Clone, Default)]
pub(crate) struct Reliability([(usize, f64, usize); 10]);

impl Reliability {
    pub(crate) fn add(&mut self, all: &[(String, Assessment)]) {
        for (odds, is_true) in all.iter().flat_map(|one| &one.1.groups) {
            let class = &mut self.0[((odds * 10.0) as usize).min(9)];
            class.0 += 1;
            class.1 += odds;
            class.2 += usize::from(*is_true);
        }
    }

    /// Mean odds and how many held the truth, of classes with so many groups.
    pub(crate) fn classes(&self, least: usize) -> Vec<(f64, f64)> {
        let share = |one: &(usize, f64, usize)| (one.1 / one.0 as f64, one.2 as f64 / one.0 as f64);
        self.0.iter().filter(|one| one.0 >= least).map(share).collect()
    }
}

impl fmt::Display for Reliability {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(out, "{:>10} {:>8} {:>10} {:>10} {:>8}", "odds", "groups", "mean odds", "true", "chance")?;
        for (at, (count, odds, held)) in self.0.iter().enumerate() {
            let of = |sum: f64| format!("{:.1} %", 100.0 * sum / (*count).max(1) as f64);
            let class = format!("{}-{} %", 10 * at, 10 * at + 10);
            // How far chance alone would take right odds of so many groups: one standard deviation.
            let mean = odds / (*count).max(1) as f64;
            let chance = 100.0 * (mean * (1.0 - mean) / (*count).max(1) as f64).sqrt();
            let (mean, held) = (of(*odds), of(*held as f64));
            writeln!(out, "{class:>10} {count:>8} {mean:>10} {held:>10} {:>8}", format!("± {chance:.1}"))?;
        }
        Ok(())
    }
}
