//! How far several results of one thing may lie apart: the critical range of ISO 5725-6, at 95 %.

use statrs::function::erf::erf;

/// How sure the range is.
const CONFIDENCE: f64 = 0.95;
/// Beyond so many standard deviations a normal density adds nothing, and the steps to there.
const FAR: f64 = 8.0;
const STEPS: usize = 400;

/// A range of so many results, in standard deviations of repeatability, is above their critical range.
pub(super) fn is_beyond(results: usize, range: f64) -> bool {
    results > 1 && within(results, range) > CONFIDENCE
}

/// The range of so many results that is not exceeded in 95 of 100 cases, in standard deviations of repeatability: 2.8 of two, the
/// factor f(n) of ISO 5725-6. None of fewer than two.
///
/// It is the 95 % point of the range of so many independent normal results,
/// `n int phi(x) (Phi(x) - Phi(x - w))^(n - 1) dx = 0.95` (David and Nagaraja, Order Statistics, 2.3, from memory).
pub(super) fn critical_range(results: usize) -> Option<f64> {
    if results < 2 {
        return None;
    }
    let (mut low, mut high) = (0.0, 2.0 * FAR);
    while high - low > 1e-6 {
        let middle = f64::midpoint(low, high);
        if within(results, middle) < CONFIDENCE { low = middle } else { high = middle }
    }
    Some(high)
}

/// How likely the range of so many results is no more than this, by Simpson's rule.
fn within(results: usize, range: f64) -> f64 {
    let below = |x: f64| 0.5 * (1.0 + erf(x / std::f64::consts::SQRT_2));
    let density = |x: f64| (-0.5 * x * x).exp() / std::f64::consts::TAU.sqrt();
    let step = 2.0 * FAR / STEPS as f64;
    let of = |at: usize| {
        let x = step.mul_add(at as f64, -FAR);
        density(x) * (below(x) - below(x - range)).powf(results as f64 - 1.0)
    };
    let weight = |at: usize| if at == 0 || at == STEPS { 1.0 } else { 2.0 + 2.0 * (at % 2) as f64 };
    let sum: f64 = (0..=STEPS).map(|at| weight(at) * of(at)).sum();
    results as f64 * sum * step / 3.0
}

#[cfg(test)]
mod tests {
    use super::*;

    /// ISO 5725-6:1994, table 1, critical range factors f(n) (from memory), printed to one decimal; and to two places the 95 %
    /// points of the range (Pearson and Hartley, Biometrika Tables, table 22, from memory): 2.77, 3.31, 3.63, 3.86, 4.03.
    #[test]
    fn the_factors_are_the_published_ones() {
        let factor = |results: usize| critical_range(results).unwrap();
        for (results, published) in
            [(2, 2.8), (3, 3.3), (4, 3.6), (5, 3.9), (6, 4.0), (7, 4.2), (8, 4.3), (9, 4.4), (10, 4.5)]
        {
            assert!((factor(results) - published).abs() <= 0.05, "{results}: {}", factor(results));
        }
        for (results, published) in [(2, 2.77), (3, 3.31), (4, 3.63), (5, 3.86), (6, 4.03)] {
            assert!((factor(results) - published).abs() <= 0.006, "{results}: {}", factor(results));
        }
        // Of two it is 1.96 times the root of 2.
        assert!((factor(2) - 1.959_964 * std::f64::consts::SQRT_2).abs() < 1e-5);
        assert_eq!(critical_range(1), None);
        assert!(is_beyond(3, factor(3) + 1e-3) && !is_beyond(3, factor(3) - 1e-3) && !is_beyond(1, 9.0));
    }
}
