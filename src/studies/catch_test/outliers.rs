//! Which values do not belong to the others: the generalised extreme studentised deviate test (Rosner 1983, Technometrics
//! 25, 165; NIST/SEMATECH e-Handbook 1.3.5.17.3), two-sided. With one suspect it is Grubbs' test.

use statrs::distribution::{ContinuousCDF as _, StudentsT};

/// Chance that a set of sound values shows an outlier.
pub const SIGNIFICANCE: f64 = 0.05;

/// Fewest values for more than one suspect: below, the critical values are too small (the e-Handbook: very accurate from 25,
/// reasonably so from 15).
const FEWEST_FOR_SEVERAL: usize = 15;

/// Fewest values for one.
const FEWEST: usize = 3;

/// One suspect: the farthest from the mean of those that are left.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Suspect {
    /// Its place among the values.
    pub index: usize,
    /// How far it lies from the mean, in standard deviations.
    pub statistic: f64,
    /// What that may be.
    pub critical: f64,
}

/// How many suspects are looked at among so many values: one of fewer than 15, else a fifth of them, 10 at most.
pub fn usual_suspects(values: usize) -> usize {
    if values < FEWEST_FOR_SEVERAL { 1 } else { (values / 5).min(10) }
}

/// All suspects in the order in which they are taken away, at most so many; none of values that are all alike.
pub fn suspects(values: &[f64], most: usize) -> Vec<Suspect> {
    let mut left: Vec<usize> = (0..values.len()).collect();
    let mut found = Vec::new();
    while found.len() < most && left.len() >= FEWEST {
        let count = left.len() as f64;
        let mean = left.iter().map(|at| values[*at]).sum::<f64>() / count;
        let squares: f64 = left.iter().map(|at| (values[*at] - mean).powi(2)).sum();
        let sd = (squares / (count - 1.0)).sqrt();
        let size = |at: usize| (values[at] - mean).abs();
        let farthest = left.iter().copied().max_by(|a, b| size(*a).total_cmp(&size(*b)));
        // What rounding makes of equal values is no scatter.
        let (Some(index), true) = (farthest, sd > 1e-12 * mean.abs()) else { break };
        let each_side = SIGNIFICANCE / (2.0 * count);
        let Some(critical) = critical(left.len(), each_side) else { break };
        found.push(Suspect { index, statistic: size(index) / sd, critical });
        left.retain(|at| *at != index);
    }
    found
}

/// The outliers, by their places among the values, farthest first: all suspects up to the last that lies beyond what it may,
/// since an earlier one can hide behind a later.
pub fn outliers(values: &[f64]) -> Vec<usize> {
    let suspects = suspects(values, usual_suspects(values.len()));
    let last = suspects.iter().rposition(|one| one.statistic > one.critical);
    suspects.iter().take(last.map_or(0, |last| last + 1)).map(|one| one.index).collect()
}

/// How many standard deviations the farthest of so many values may lie from their mean, where the chance that one given value
/// does is `each_side` on its side; nothing for fewer than three values.
pub fn critical(values: usize, each_side: f64) -> Option<f64> {
    let count = values as f64;
    let freedom = count - 2.0;
    if freedom < 1.0 {
        return None;
    }
    let t = StudentsT::new(0.0, 1.0, freedom).ok()?.inverse_cdf(1.0 - each_side);
    Some((count - 1.0) * t / ((freedom + t * t) * count).sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// NIST/SEMATECH e-Handbook 1.3.5.17.1 (mass spectrometer data of Tietjen and Moore 1972): G = 2.4688, one-sided critical
    /// value at 5 % 2.032.
    #[test]
    fn grubbs_example_of_the_handbook() {
        let values = [199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57];
        let found = suspects(&values, 1);
        assert_eq!(found[0].index, 7);
        assert!((found[0].statistic - 2.4688).abs() < 5e-5, "{found:?}");
        let one_sided = critical(8, 0.05 / 8.0).unwrap();
        assert!((one_sided - 2.032).abs() < 5e-4, "{one_sided}");
        assert_eq!(outliers(&values), [7]);
    }

    /// The same handbook, 1.3.5.17.3, with Rosner's data: 54 values, ten suspects, three outliers.
    #[test]
    fn generalised_esd_example_of_the_handbook() {
        let values = [
            -0.25, 0.68, 0.94, 1.15, 1.20, 1.26, 1.26, 1.34, 1.38, 1.43, 1.49, 1.49, 1.55, 1.56, 1.58, 1.65,
            1.69, 1.70, 1.76, 1.77, 1.81, 1.91, 1.94, 1.96, 1.99, 2.06, 2.09, 2.10, 2.14, 2.15, 2.23, 2.24,
            2.26, 2.35, 2.37, 2.40, 2.47, 2.54, 2.62, 2.64, 2.90, 2.92, 2.92, 2.93, 3.21, 3.26, 3.30, 3.59,
            3.68, 4.30, 4.64, 5.34, 5.42, 6.01,
        ];
        let found = suspects(&values, 10);
        let published = [(3.118906, 3.158794), (2.942973, 3.151430), (3.179424, 3.143890)];
        for (one, (statistic, critical)) in found.iter().zip(published) {
            assert!((one.statistic - statistic).abs() < 5e-7, "{one:?} against {statistic}");
            assert!((one.critical - critical).abs() < 5e-7, "{one:?} against {critical}");
        }
        assert_eq!(found.len(), 10);
        // 6.01, 5.42 and 5.34, though the first two alone are none.
        assert_eq!(outliers(&values), [53, 52, 51]);
    }

    #[test]
    fn values_alike_or_too_few_have_no_outlier() {
        assert!(outliers(&[]).is_empty());
        assert!(outliers(&[1.0, 9.0]).is_empty());
        assert!(outliers(&[0.1 + 0.2; 40]).is_empty());
        assert!(suspects(&[0.0; 40], 3).is_empty());
    }
}
