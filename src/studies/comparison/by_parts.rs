//! Whether one of two routings is more even by more than what parts as they are sold scatter, in words.

use super::contender::Contender;
use crate::plan::Project;
use crate::quantities::{Measure, Ratio};
use crate::studies::tolerance::{FirstOrder, first_order};

/// Standard deviations of the difference of two built bars beyond which it is not chance: 95 of 100.
const NOT_CHANCE: f64 = 2.0;

/// The scatter of both, where both have flows to vary; none for one plumbing beside itself.
pub(super) fn scatter(project: &Project, sides: [&Contender<'_>; 2]) -> Option<[FirstOrder; 2]> {
    let [a, b] = sides;
    if a.routing.id == b.routing.id {
        return None;
    }
    let of = |side: &Contender<'_>| first_order(project, side.routing, &side.outcome.point).ok();
    Some([of(a)?, of(b)?])
}

/// The sentence on the one that is more even as planned and the other one; `named` says what they are called.
pub(super) fn sentence(
    project: &Project,
    better: &FirstOrder,
    worse: &FirstOrder,
    named: [&str; 2],
) -> String {
    let percent = |ratio: Ratio| Measure::Percent.text(ratio.si(), project.units);
    let (one, other) = (better.built_cv(), worse.built_cv());
    let both = format!("{} with {} and {} with {}", percent(one), named[0], percent(other), named[1]);
    let apart = other.si() - one.si();
    let scatter = better.cv_sd().si().hypot(worse.cv_sd().si()) * NOT_CHANCE;
    let points = |value: f64| format!("{} points", Measure::Percent.number(value, project.units));
    if apart >= scatter && apart > 0.0 {
        format!(
            "built of parts as they are sold the rows differ by {both}: more than what parts scatter ({})",
            points(scatter)
        )
    } else if apart <= -scatter && apart < 0.0 {
        format!("built of parts as they are sold it is the other way round: the rows differ by {both}")
    } else {
        format!(
            "built of parts as they are sold the rows differ by {both}: no more than what parts scatter ({}), so that \
             either may turn out more even",
            points(scatter)
        )
    }
}
