//! How likely the readings are under a cause of any of its sizes: the integral of their likelihood along its curve.
//!
//! In whitened readings the likelihood is normal and alike in all directions, and a curve is a chain of straight stretches. Along
//! one the integral has a closed form (a difference of error functions), so that a narrow peak between two solved sizes is never
//! missed. Whether readings scatter as assumed is not known: everything is worked out for each of [`SCATTER`].

use nalgebra::{DMatrix, DVector};
use statrs::function::erf::{erf, erfc};

use super::solved::SolvedCurve;
use super::space::Space;

/// How far readings may scatter against what is assumed of jug, watch and parts, each with how likely it is before anything is
/// caught (common practice, no source: mostly as assumed, at times twice that).
pub(super) const SCATTER: [(f64, f64); 5] = [(0.7, 0.1), (1.0, 0.5), (1.4, 0.22), (2.0, 0.13), (2.8, 0.05)];

/// How far they scatter where something is at fault that is not on the list.
pub(super) const UNKNOWN: [f64; 4] = [4.0, 8.0, 16.0, 32.0];

/// What lies so much below the best, as a logarithm, adds nothing.
const NEGLIGIBLE: f64 = 60.0;

/// One number for each scatter.
pub(super) type ByScatter = [f64; SCATTER.len()];

/// All curves in whitened readings, as differences from the sound bar.
pub(super) struct White {
    all: DMatrix<f64>,
    starts: Vec<usize>,
    squares: Vec<f64>,
    /// Product of each place with the next.
    with_next: Vec<f64>,
}

/// Where on a curve the readings are met best.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Best {
    pub(super) place: usize,
    /// How far from there to the next, 0 to 1.
    pub(super) part: f64,
}

/// A cause of the list as the readings fit it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Fitted {
    /// Its place among the curves.
    pub(super) curve: usize,
    pub(super) best: Best,
}

/// A residual with its products with all places.
pub(super) struct Residual {
    square: f64,
    /// The place that the first product is of.
    first: usize,
    products: DVector<f64>,
}

impl White {
    pub(super) fn new(space: &Space, curves: &[&SolvedCurve]) -> Self {
        let total = curves.iter().map(|one| one.shown.len()).sum();
        let mut all = DMatrix::zeros(space.count(), total);
        let mut starts = Vec::with_capacity(curves.len() + 1);
        let mut at = 0;
        for curve in curves {
            starts.push(at);
            for shown in &curve.shown {
                all.set_column(at, &space.raw(shown));
                at += 1;
            }
        }
        starts.push(at);
        space.whiten_all(&mut all);
        let squares = all.column_iter().map(|one| one.norm_squared()).collect();
        let pair = |at: usize| if at + 1 < total { all.column(at).dot(&all.column(at + 1)) } else { 0.0 };
        let with_next = (0..total).map(pair).collect();
        Self { all, starts, squares, with_next }
    }

    /// Makes a residual ready.
    pub(super) fn residual(&self, data: &DVector<f64>) -> Residual {
        Residual { square: data.norm_squared(), first: 0, products: self.all.tr_mul(data) }
    }

    /// Makes a residual ready for one curve alone.
    pub(super) fn residual_of(&self, curve: usize, data: &DVector<f64>) -> Residual {
        let (from, to) = (self.starts[curve], self.starts[curve + 1]);
        let products = self.all.columns(from, to - from).tr_mul(data);
        Residual { square: data.norm_squared(), first: from, products }
    }

    /// What a curve shows at a place.
    pub(super) fn at(&self, curve: usize, best: Best) -> DVector<f64> {
        let first = self.starts[curve] + best.place;
        let here = self.all.column(first);
        if best.part > 0.0 && first + 1 < self.starts[curve + 1] {
            let next = self.all.column(first + 1);
            return here * (1.0 - best.part) + next * best.part;
        }
        here.into_owned()
    }

    /// Logarithm of the mean likelihood over the sizes of a curve at a scatter, without the factor of the normal distribution,
    /// and where most of it comes from.
    pub(super) fn evidence(
        &self,
        index: usize,
        curve: &SolvedCurve,
        residual: &Residual,
        scatter: f64,
    ) -> (f64, Best) {
        let first = self.starts[index];
        let mut terms: Terms = Terms::default();
        for place in 0..curve.shown.len() {
            let at = first + place;
            let product = residual.products[at - residual.first];
            let square = (residual.square - 2.0 * product + self.squares[at]).max(0.0);
            if curve.curve.at[place] > 0.0 {
                let ln = curve.curve.at[place].ln() - square / (2.0 * scatter * scatter);
                terms.add(ln, Best { place, part: 0.0 });
            }
            if curve.curve.between[place] > 0.0 {
                // From here along the stretch.
                let length_squared =
                    (self.squares[at + 1] - 2.0 * self.with_next[at] + self.squares[at]).max(0.0);
                let next = residual.products[at + 1 - residual.first];
                let along = next - product - self.with_next[at] + self.squares[at];
                let length = length_squared.sqrt();
                let ln_part = curve.curve.between[place].ln();
                // The least distance bounds what the stretch adds.
                let foot = if length > 0.0 { along / length } else { 0.0 };
                let beside = (square - foot * foot).max(0.0);
                if terms.is_beyond(ln_part - beside / (2.0 * scatter * scatter)) {
                    continue;
                }
                let (ln, part) = stretch(square, length, along, scatter);
                terms.add(ln_part + ln, Best { place, part });
            }
        }
        terms.sum()
    }
}

/// Logarithms to be added up.
#[derive(Default)]
struct Terms {
    all: Vec<f64>,
    best: Option<(f64, Best)>,
}

impl Terms {
    fn add(&mut self, ln: f64, at: Best) {
        self.all.push(ln);
        if self.best.is_none_or(|best| ln > best.0) {
            self.best = Some((ln, at));
        }
    }

    /// What can't be more than this adds nothing.
    fn is_beyond(&self, most: f64) -> bool {
        self.best.is_some_and(|best| most < best.0 - NEGLIGIBLE)
    }

    fn sum(self) -> (f64, Best) {
        let Some((most, best)) = self.best else {
            return (f64::NEG_INFINITY, Best { place: 0, part: 0.0 });
        };
        (ln_sum(&self.all, most), best)
    }
}

fn ln_sum(all: &[f64], most: f64) -> f64 {
    if most == f64::NEG_INFINITY {
        return most;
    }
    let near = all.iter().filter(|one| **one > most - NEGLIGIBLE);
    most + near.map(|one| (one - most).exp()).sum::<f64>().ln()
}

/// Logarithm of a sum of exponentials.
pub(super) fn ln_of_sum(all: &[f64]) -> f64 {
    ln_sum(all, all.iter().copied().fold(f64::NEG_INFINITY, f64::max))
}

/// Logarithm of the mean of `exp(-|r - s v|² / 2t²)` for s from 0 to 1, and the s nearest to the peak: with `|r|²`, `|v|` and
/// `r·v`.
fn stretch(square: f64, length: f64, along: f64, scatter: f64) -> (f64, f64) {
    if length < 1e-6 * scatter {
        return (-square / (2.0 * scatter * scatter), 0.5);
    }
    let foot = along / length;
    let beside = (square - foot * foot).max(0.0);
    let unit = std::f64::consts::SQRT_2 * scatter;
    let (from, to) = (-foot / unit, (length - foot) / unit);
    let ln = (scatter / length * std::f64::consts::FRAC_PI_2.sqrt()).ln() + ln_erf_between(from, to)
        - beside / (2.0 * scatter * scatter);
    (ln, (foot / length).clamp(0.0, 1.0))
}

/// `ln(erf(b) - erf(a))` for a < b, also far from 0.
fn ln_erf_between(a: f64, b: f64) -> f64 {
    if b < 0.0 {
        return ln_erf_between(-b, -a);
    }
    if a < 0.0 {
        return (erf(b) - erf(a)).ln();
    }
    let (near, far) = (ln_erfc(a), ln_erfc(b));
    near + (-(far - near).exp_m1()).max(f64::MIN_POSITIVE).ln()
}

fn ln_erfc(x: f64) -> f64 {
    if x < 5.0 {
        return erfc(x).ln();
    }
    // Asymptotic series (Abramowitz and Stegun 7.1.23).
    let square = x * x;
    let terms = -0.5 / square + 0.75 / square.powi(2) - 1.875 / square.powi(3);
    -square - (x * std::f64::consts::PI.sqrt()).ln() + terms.ln_1p()
}

/// One number for each scatter, of its place and itself, with the factor of the normal distribution that hangs on it.
pub(super) fn by_scatter(count: usize, of: impl Fn(usize, f64) -> f64) -> ByScatter {
    std::array::from_fn(|at| {
        let scatter = SCATTER[at].0;
        of(at, scatter) - count as f64 * scatter.ln()
    })
}

/// Logarithm of the sum over scatters, each with its probability.
pub(super) fn together(by: &ByScatter) -> f64 {
    let terms: Vec<f64> = by.iter().zip(&SCATTER).map(|(ln, (_, part))| ln + part.ln()).collect();
    ln_of_sum(&terms)
}

/// The mean scatter, by what explanations say of each.
pub(super) fn mean_scatter(all: &[ByScatter]) -> f64 {
    let of = |at: usize| {
        let terms: Vec<f64> = all.iter().map(|one| one[at]).collect();
        ln_of_sum(&terms) + SCATTER[at].1.ln()
    };
    let by: Vec<f64> = (0..SCATTER.len()).map(of).collect();
    let total = ln_of_sum(&by);
    by.iter().zip(&SCATTER).map(|(ln, (scatter, _))| (ln - total).exp() * scatter).sum()
}

/// The nearest of the scatters that are looked at.
pub(super) fn nearest_scatter(scatter: f64) -> f64 {
    let far = |one: f64| (one / scatter).ln().abs();
    SCATTER.map(|one| one.0).into_iter().min_by(|a, b| far(*a).total_cmp(&far(*b))).unwrap_or(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Against the mean by Simpson's rule, with the peak inside the stretch, beyond either end, and far away.
    #[test]
    fn the_integral_along_a_stretch_is_that_of_simpson() {
        let simpson = |square: f64, length: f64, along: f64, scatter: f64| {
            const STEPS: usize = 20_000;
            let of = |s: f64| {
                (-(square - 2.0 * s * along + s * s * length * length) / (2.0 * scatter * scatter)).exp()
            };
            let weight = |at: usize| if at == 0 || at == STEPS { 1.0 } else { 2.0 + 2.0 * (at % 2) as f64 };
            let sum: f64 = (0..=STEPS).map(|at| weight(at) * of(at as f64 / STEPS as f64)).sum();
            (sum / (3.0 * STEPS as f64)).ln()
        };
        for (square, length, along, scatter) in [
            (9.0, 10.0, 25.0, 1.0),
            (4.0, 3.0, -5.0, 1.0),
            (144.0, 3.0, 30.0, 1.4),
            (1.0, 0.2, 0.1, 0.7),
            (400.0, 25.0, 480.0, 1.0),
        ] {
            let (found, wanted) =
                (stretch(square, length, along, scatter).0, simpson(square, length, along, scatter));
            assert!((found - wanted).abs() < 1e-6, "{square} {length} {along}: {found} against {wanted}");
        }
    }

    /// erfc(5) = 1.5374597944280349e-12, erfc(10) = 2.0884875837625449e-45 (Abramowitz and Stegun, table 7.3, from memory).
    #[test]
    fn the_tail_of_the_error_function_is_known_far_out() {
        assert!((ln_erfc(5.0) - 1.537_459_794_428e-12_f64.ln()).abs() < 2e-4);
        assert!((ln_erfc(10.0) - 2.088_487_583_762_5e-45_f64.ln()).abs() < 1e-6);
        assert!((ln_erf_between(-0.5, 0.5) - (2.0 * 0.520_499_877_8_f64).ln()).abs() < 1e-9);
    }
}
