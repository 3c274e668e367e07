//! How often chance alone makes a reading as far off as the farthest one.

use nalgebra::DMatrix;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng as _;
use rand_distr::{Distribution as _, StandardNormal};

/// Tests that are drawn: what comes of them is within about one of 100.
const DRAWN: usize = 2_000;

/// How often one reading at least of a sound bar is so many of its own spreads off or more, 0 to 1. Readings are no independent
/// chances: the supply, the liquid and what stands before them move many at once, so that their scatter is drawn by the Cholesky
/// factor of its covariance, the same draws each time.
pub(super) fn of_one_so_far_off(factor: &DMatrix<f64>, spreads: f64) -> f64 {
    let count = factor.nrows();
    let sds: Vec<f64> = factor.row_iter().map(|row| row.norm()).collect();
    let mut random = ChaCha8Rng::seed_from_u64(1);
    let mut drawn = vec![0.0; count];
    let is_off = |_: &usize| {
        for one in &mut drawn {
            *one = StandardNormal.sample(&mut random);
        }
        (0..count).any(|at| {
            let off: f64 = drawn[..=at].iter().enumerate().map(|(by, one)| factor[(at, by)] * one).sum();
            off.abs() >= spreads * sds[at]
        })
    };
    (0..DRAWN).filter(is_off).count() as f64 / DRAWN as f64
}

#[cfg(test)]
mod tests {
    use nalgebra::Cholesky;
    use statrs::function::erf::erf;

    use super::*;

    /// Of readings of which each pair is correlated alike, by what all share, the chance is an integral over that (from memory,
    /// Dunnett and Sobel 1955, Biometrika 42, 258): `1 - ∫ φ(u) [Φ((c - u √ρ)/√(1-ρ)) - Φ((-c - u √ρ)/√(1-ρ))]ⁿ du`, by
    /// Simpson's rule. Without anything shared it is `1 - erf(c/√2)ⁿ`, and with all shared that of one reading.
    #[test]
    fn what_readings_share_is_one_chance() {
        let normal = |x: f64| f64::midpoint(1.0, erf(x / std::f64::consts::SQRT_2));
        let wanted = |count: usize, shared: f64, c: f64| {
            const STEPS: i32 = 2_000;
            let own = (1.0 - shared).sqrt();
            let of = |u: f64| {
                let by = u * shared.sqrt();
                let within = normal((c - by) / own) - normal((-c - by) / own);
                (-0.5 * u * u).exp() / std::f64::consts::TAU.sqrt() * within.powf(count as f64)
            };
            let (from, step) = (-8.0, 16.0 / f64::from(STEPS));
            let weight = |at: i32| if at == 0 || at == STEPS { 1.0 } else { 2.0 + 2.0 * f64::from(at % 2) };
            let sum: f64 = (0..=STEPS).map(|at| weight(at) * of(from + f64::from(at) * step)).sum();
            1.0 - sum * step / 3.0
        };
        for (count, shared, spreads) in [
            (40usize, 0.0, 2.5),
            (40, 0.0, 3.5),
            (40, 0.88, 1.9),
            (40, 0.88, 2.5),
            (12, 0.5, 2.0),
            (12, 0.999_99, 2.0),
        ] {
            let covariance = DMatrix::from_fn(count, count, |at, other| {
                // Of other sizes too: spreads are of each by itself.
                (if at == other { 1.0 } else { shared }) * (1.0 + at as f64) * (1.0 + other as f64)
            });
            let factor = Cholesky::new(covariance).map(|one| one.l()).unwrap_or_default();
            let (found, wanted) = (of_one_so_far_off(&factor, spreads), wanted(count, shared, spreads));
            // Three standard deviations of the draws, at least half of one of 100.
            let bound = (3.0 * (wanted * (1.0 - wanted) / DRAWN as f64).sqrt()).max(0.005);
            assert!((found - wanted).abs() < bound, "{count} {shared} {spreads}: {found} {wanted}");
        }
        let one = erf(2.0 / std::f64::consts::SQRT_2);
        assert!((wanted(12, 0.999_99, 2.0) - (1.0 - one)).abs() < 2e-3);
        assert!((wanted(12, 0.0, 2.0) - (1.0 - one.powi(12))).abs() < 1e-6);
    }
}
