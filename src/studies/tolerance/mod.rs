//! How even a bar will be that is built of parts as they are sold and cut, by the [`Spreads`](crate::plan::Spreads) of its
//! project.
//!
//! Two ways that check each other. [`first_order`](first_order()) takes the derivatives at the planned state: fast enough
//! for every frame, and right as long as all is near to linear. [`study`] adds many built bars (`monte_carlo`), each with
//! parts drawn at random (`draws`) and solved whole, on as many threads as there are cores (`workers`): the same numbers on
//! any of them, since each bar has random numbers of its own and starts from the same solution.

mod draws;
mod first_order;
mod found;
mod monte_carlo;
mod report;
mod scatter;
mod workers;

pub use first_order::{FirstOrder, FirstOrderCause, RowFirstOrder, first_order};
pub use found::{
    Cause, Chance, Distribution, MOST_SAMPLES, RowScatter, SpreadInUse, ToleranceOptions, ToleranceStudy,
    USUAL_SAMPLES,
};
pub use report::{report, warnings};

use crate::hydraulics::KeptSolver;
use crate::studies::asked::{NoAnswer, Studied, Waiting};
use monte_carlo::Workshop;
use scatter::Scatter;

/// Builds bars of a routing and says how even they are.
///
/// Errors: what was asked is out of range, nothing is solved, no row has a target, no bar can be solved, or whoever waits
/// has stopped it.
pub fn study(
    of: &Studied<'_>,
    options: &ToleranceOptions,
    waiting: &dyn Waiting,
) -> Result<ToleranceStudy, NoAnswer> {
    if !(1..=MOST_SAMPLES).contains(&options.samples) {
        return Err(NoAnswer::impossible(
            format!("{} bars can't be built", options.samples),
            format!("ask for 1 to {MOST_SAMPLES}"),
        ));
    }
    let (project, laid, point) = (of.project, of.routing, &of.point);
    let first = first_order(project, laid, point)?;
    let mut kept = KeptSolver::default();
    let mut prepared = kept.prepare(project, laid);
    let scatter = Scatter::of(project, &mut prepared, point);
    let (outcome, solver) = prepared
        .row_solver(point, &scatter.numbers)
        .map_err(|outcome| first_order::no_numbers(&outcome, laid))?;
    let workshop = Workshop {
        scatter: &scatter,
        first: &first,
        outcome: &outcome,
        solver,
        liquid: &project.duty(point.duty).liquid,
        limits: &project.limits,
        places: first_order::rows_that_count(&outcome),
        seed: options.seed,
    };
    let built = workshop.build(options.samples, options.threads, waiting)?;
    if built.within.of == 0 {
        return Err(NoAnswer::impossible(
            format!("none of {} built bars could be solved", options.samples),
            "take smaller spreads",
        ));
    }
    let spreads = scatter.groups.iter().map(|group| SpreadInUse {
        kind: group.kind,
        spread: group.spread,
        pieces: group.pieces.len().max(1),
    });
    Ok(ToleranceStudy {
        options: *options,
        spreads: spreads.collect(),
        cv: built.cv,
        farthest: built.farthest,
        within: built.within,
        cv_within: built.cv_within,
        rows_within: built.rows_within,
        rows: built.rows,
        causes: built.causes,
        unsolved: built.unsolved,
        dry: built.dry,
        first_order: first,
    })
}
