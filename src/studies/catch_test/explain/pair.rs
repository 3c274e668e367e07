//! Two groups of causes together, and causes beside others that show next to nothing.

use nalgebra::DVector;

use super::evidence::{ByScatter, Fitted};

/// Two groups together.
pub(super) struct Pair {
    pub(super) lead: usize,
    /// Second causes, each with its logarithm together with the lead's whole group, the likeliest first.
    pub(super) seconds: Vec<(Fitted, f64)>,
    pub(super) ln: f64,
    /// What is in that of a third cause that shows next to nothing.
    pub(super) with_small: f64,
    pub(super) shows: DVector<f64>,
    /// Of its first two where the engine has solved them.
    pub(super) by: Option<ByScatter>,
}

impl Pair {
    pub(super) fn change(&mut self, more: f64) {
        self.ln += more;
        for second in &mut self.seconds {
            second.1 += more;
        }
    }

    /// Takes in what a small third cause adds.
    pub(super) fn gain(&mut self, with_small: f64) {
        self.with_small = with_small;
        self.change(with_small);
    }
}

/// Logarithm of how much likelier something is with up to so many causes that show next to nothing beside it: of the logarithm of
/// what one of them adds, as a part of it. Causes are independent, so that it is the beginning of the series of an exponential.
pub(super) fn small_ones(one: f64, most: i32) -> f64 {
    let one = one.exp();
    let mut term = 1.0;
    let terms = (1..=most).map(|number| {
        term *= one / f64::from(number);
        term
    });
    terms.sum::<f64>().ln_1p()
}
