//! Three causes at once: how much likelier the readings are where a third joins two.

use nalgebra::DVector;

use super::evidence::{ByScatter, SCATTER, White, ln_of_sum, together};
use super::solved::SolvedCurve;

/// Logarithm of two causes with any third that shows, with all its odds before the test: of the two by scatter, of what they
/// leave, whitened, and how many spreads a cause must show. The third counts as if its effect added up with theirs: a look at how much is left, no fit.
pub(super) fn with_a_third(
    white: &White,
    curves: &[std::borrow::Cow<'_, SolvedCurve>],
    (before, is_new): (&[f64], &dyn Fn(usize) -> bool),
    left: &DVector<f64>,
    two: &ByScatter,
    apart: f64,
) -> f64 {
    let residual = white.residual(left);
    let square = left.norm_squared();
    let by: ByScatter = std::array::from_fn(|place| {
        let (scatter, _) = SCATTER[place];
        let thirds: Vec<f64> = (0..curves.len())
            .filter(|at| before[*at].is_finite() && is_new(*at))
            .filter_map(|at| {
                let (ln, best) = white.evidence(at, &curves[at], &residual, scatter);
                // What shows next to nothing is no third cause.
                let shows = white.at(at, best).norm_squared() > (apart * scatter).powi(2);
                shows.then_some(before[at] + ln)
            })
            .collect();
        two[place] + square / (2.0 * scatter * scatter) + ln_of_sum(&thirds)
    });
    together(&by)
}
