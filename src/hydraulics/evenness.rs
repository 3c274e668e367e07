//! Evenness over rows: coefficient of variation and distribution uniformity.

use crate::quantities::Ratio;

/// Evenness of predictions, over flow divided by target of all fed rows. The mean against the target says
/// whether the rate is right; the spread about the mean says whether the rows are even.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Evenness {
    /// How many rows count.
    pub rows: usize,
    /// Mean of flow over target, less 1.
    pub mean_deviation: Ratio,
    /// Coefficient of variation: standard deviation over the mean. Of all rows (population, n), since a
    /// prediction covers every row.
    pub cv: Ratio,
    /// Distribution uniformity: mean of the lowest quarter over the mean.
    pub du_lowest_quarter: Ratio,
    /// Lowest flow over target, less 1.
    pub lowest: Ratio,
    /// Highest flow over target, less 1.
    pub highest: Ratio,
}

/// Evenness of a set of flows over their targets; `None` for an empty set or a mean that is not above zero.
pub fn evenness(ratios: &[f64]) -> Option<Evenness> {
    let mean = mean(ratios)?;
    if mean <= 0.0 {
        return None;
    }
    let lowest = ratios.iter().copied().fold(f64::INFINITY, f64::min);
    let highest = ratios.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    Some(Evenness {
        rows: ratios.len(),
        mean_deviation: Ratio::from_si(mean - 1.0),
        cv: coefficient_of_variation(ratios, Spread::Population)?,
        du_lowest_quarter: distribution_uniformity(ratios, 0.25)?,
        lowest: Ratio::from_si(lowest - 1.0),
        highest: Ratio::from_si(highest - 1.0),
    })
}

fn mean(values: &[f64]) -> Option<f64> {
    if values.is_empty() { None } else { Some(values.iter().sum::<f64>() / values.len() as f64) }
}

/// Which standard deviation.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Spread {
    /// Of all rows: predictions.
    Population,
    /// Of a sample (n - 1): catch tests.
    Sample,
}

/// Standard deviation over mean; `None` without values, for a sample of one, or for a mean of zero.
pub fn coefficient_of_variation(values: &[f64], spread: Spread) -> Option<Ratio> {
    let mean = mean(values)?;
    let degrees = match spread {
        Spread::Population => values.len(),
        Spread::Sample => values.len() - 1,
    };
    if degrees == 0 || mean == 0.0 {
        return None;
    }
    let squares: f64 = values.iter().map(|value| (value - mean).powi(2)).sum();
    Some(Ratio::from_si((squares / degrees as f64).sqrt() / mean))
}

/// Mean of the lowest share of values over the mean of all (0.25: lowest quarter). The count of the lowest share
/// is rounded, at least one.
pub fn distribution_uniformity(values: &[f64], share: f64) -> Option<Ratio> {
    let all = mean(values)?;
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let count = ((values.len() as f64 * share).round() as usize).clamp(1, values.len());
    if all == 0.0 { None } else { Some(Ratio::from_si(mean(&sorted[..count])? / all)) }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Catch data published by North Carolina State University (package `spreval`, glgrabow.github.io/spreval); the values
    /// are computed from them by the definitions, not published.
    #[test]
    fn measures_of_published_catch_data() {
        let x: [f64; 15] = [47., 42., 45., 24., 13., 26., 33., 34., 27., 30., 40., 44., 32., 12., 12.];
        let near = |ours: Option<Ratio>, published: f64, within: f64| {
            let ours = ours.unwrap().as_percent();
            assert!((ours - published).abs() < within, "{ours} against {published}");
        };
        near(distribution_uniformity(&x, 0.25), 49.6204, 5e-5);
        near(distribution_uniformity(&x, 0.5), 71.5835, 5e-5);
        near(coefficient_of_variation(&x, Spread::Sample), 38.626, 5e-4);
        near(coefficient_of_variation(&x, Spread::Population), 37.317, 5e-4);
    }

    #[test]
    fn nothing_is_not_even() {
        assert_eq!(evenness(&[]), None);
        assert_eq!(evenness(&[0.0, 0.0]), None);
        assert_eq!(coefficient_of_variation(&[1.0], Spread::Sample), None);
    }
}
