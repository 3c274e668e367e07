//! Coefficient of variation of what was caught: with the scatter of the catch itself taken off, and how well some rows tell
//! that of all.

use statrs::distribution::{ChiSquared, ContinuousCDF as _};

use crate::hydraulics::evenness::{Spread, coefficient_of_variation};
use crate::quantities::Ratio;

/// How sure an interval is.
pub const CONFIDENCE: f64 = 0.95;

/// How even the rows are that were caught.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CaughtCv {
    /// How many rows.
    pub rows: usize,
    /// Of what was caught over its target, of a sample (n - 1).
    pub as_caught: Ratio,
    /// What jug and watch make of it by themselves: root of the mean square over the rows.
    pub of_catch: Ratio,
    /// With that taken off in squares: of the bar itself, 0 where the catch scatters as much by itself.
    pub of_bar: Ratio,
    /// Where rows were skipped: between these lies the CV as caught of all rows, at 95 %.
    pub interval: Option<(Ratio, Ratio)>,
}

impl CaughtCv {
    /// Of each row's catch over its target, with the standard deviation by jug and watch; nothing for fewer than two rows or
    /// where nothing came.
    pub fn of(caught: &[(f64, f64)], rows_skipped: bool) -> Option<Self> {
        let values: Vec<f64> = caught.iter().map(|(value, _)| *value).collect();
        if values.len() < 2 {
            return None;
        }
        let as_caught = coefficient_of_variation(&values, Spread::Sample)?.si();
        let count = values.len() as f64;
        let mean = values.iter().sum::<f64>() / count;
        let of_catch = (caught.iter().map(|(_, sd)| sd * sd).sum::<f64>() / count).sqrt() / mean;
        let left = (as_caught * as_caught - of_catch * of_catch).max(0.0);
        let interval = if rows_skipped { interval(as_caught, values.len(), CONFIDENCE) } else { None };
        Some(Self {
            rows: values.len(),
            as_caught: Ratio::from_si(as_caught),
            of_catch: Ratio::from_si(of_catch),
            of_bar: Ratio::from_si(left.sqrt()),
            interval: interval.map(|(low, high)| (Ratio::from_si(low), Ratio::from_si(high))),
        })
    }
}

/// Interval of a coefficient of variation from a sample of normal values: the modified McKay interval (Vangel 1996, The
/// American Statistician 50, 21), `K / sqrt(((u + 2)/n - 1) K² + u/(n - 1))` with `u` of chi-squared at both ends. Nothing
/// for a sample of one, or where the values scatter so much that there is no upper end.
pub fn interval(cv: f64, values: usize, confidence: f64) -> Option<(f64, f64)> {
    if values < 2 {
        return None;
    }
    let count = values as f64;
    let chi = ChiSquared::new(count - 1.0).ok()?;
    let end = |share: f64| {
        let u = chi.inverse_cdf(share);
        let below = ((u + 2.0) / count - 1.0) * cv * cv + u / (count - 1.0);
        (below > 0.0).then(|| cv / below.sqrt())
    };
    let outside = (1.0 - confidence) / 2.0;
    Some((end(1.0 - outside)?, end(outside)?))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Values and McKay's own interval as the R package cvcqv prints them: CV 57.774 %, from 41.441 to 108.483 %. Vangel's has
    /// 2 K²/n more in the square of K over an end (his equation 16; the package's own line of it takes 1 for the 2). The package rounds the
    /// CV before, which moves the upper end by 0.0015.
    #[test]
    fn the_interval_is_the_published_one() {
        let values = [
            0.2, 0.5, 1.1, 1.4, 1.8, 2.3, 2.5, 2.7, 3.5, 4.4, 4.6, 5.4, 5.4, 5.7, 5.8, 5.9, 6.0, 6.6, 7.1,
            7.9,
        ];
        let found = CaughtCv::of(&values.map(|value| (value, 0.0)), true).unwrap();
        assert!((found.as_caught.as_percent() - 57.774).abs() < 5e-4, "{found:?}");
        let k = found.as_caught.si();
        let by_mckay = |end: Ratio| {
            let modified = (k / end.si()).powi(2);
            100.0 * k / (modified - 2.0 * k * k / 20.0).sqrt()
        };
        let (low, high) = found.interval.unwrap();
        assert!((by_mckay(low) - 41.441).abs() < 2e-3, "{found:?}");
        assert!((by_mckay(high) - 108.483).abs() < 2e-3, "{found:?}");
        assert_eq!(CaughtCv::of(&values.map(|value| (value, 0.0)), false).unwrap().interval, None);
    }

    /// Scatter of independent causes adds in squares (JCGM 100:2008, 5.1.2): 5 % of which the catch makes 3 % leaves 4 %.
    #[test]
    fn the_catch_is_taken_off_in_squares() {
        let half = 0.05 / 2f64.sqrt();
        let values = [(1.0 - half, 0.03), (1.0 + half, 0.03)];
        let found = CaughtCv::of(&values, false).unwrap();
        assert!((found.as_caught.si() - 0.05).abs() < 1e-12, "{found:?}");
        assert!((found.of_bar.si() - 0.04).abs() < 1e-12, "{found:?}");
        let noisy = CaughtCv::of(&[(0.99, 0.03), (1.01, 0.03)], false).unwrap();
        assert_eq!(noisy.of_bar, Ratio::ZERO);
    }

    #[test]
    fn one_row_or_nothing_caught_has_no_cv() {
        assert_eq!(CaughtCv::of(&[], true), None);
        assert_eq!(CaughtCv::of(&[(1.0, 0.0)], true), None);
        assert_eq!(CaughtCv::of(&[(0.0, 0.1), (0.0, 0.1)], true), None);
        assert_eq!(interval(0.1, 1, CONFIDENCE), None);
    }
}
