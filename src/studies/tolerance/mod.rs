//! How even a bar will be that is built of parts as they are sold and cut, by the [`Spreads`](crate::plan::Spreads) of its
//! project.
//!
//! Two ways that check each other. [`first_order`](first_order()) takes the derivatives at the planned state: fast enough
//! for every frame, and right as long as all is near to linear. [`study`] adds many built bars (`monte_carlo`), each with
//! parts drawn at random (`draws`) and solved whole, on as many threads as there are cores (`studies/workers.rs`): the same numbers on
//! any of them, since each bar has random numbers of its own and starts from the same solution.

pub(in crate::studies) mod draws;
mod first_order;
mod found;
mod monte_carlo;
mod report;
pub(in crate::studies) mod scatter;

pub use first_order::{FirstOrder, FirstOrderCause, RowFirstOrder, first_order};
pub use found::{
    BuiltBars, Cause, Chance, Distribution, MOST_SAMPLES, RowScatter, SpreadInUse, ToleranceOptions,
    ToleranceStudy, USUAL_SAMPLES,
};
pub use report::{report, warnings};

use crate::hydraulics::{KeptSolver, Outcome};
use crate::plan::OperatingPoint;
use crate::plan::words::capital;
use crate::quantities::{Measure, Speed};
use crate::studies::asked::{NoAnswer, PartOfWait, Studied, Waiting};
use crate::studies::reliance::{self, WithoutLiquid};
use monte_carlo::Workshop;
use scatter::Scatter;

/// Builds bars of a routing and says how even they are at the speed asked for and the duty's slowest, usual and fastest one:
/// the same bars at each.
///
/// Errors: what was asked is out of range, nothing is solved, no row has a target, no bar can be solved, or whoever waits
/// has stopped it.
pub fn study(
    of: &Studied<'_>,
    options: &ToleranceOptions,
    waiting: &dyn Waiting,
) -> Result<ToleranceStudy, NoAnswer> {
    let at = |speed: Speed| Studied { point: OperatingPoint { speed, ..of.point }, ..*of };
    let others = other_speeds(of);
    // What each spread makes takes about as long as the bars at one speed.
    let parts = (others.len() + 2) as f32;
    let part = |of: usize| PartOfWait { of: waiting, from: of as f32 / parts, share: 1.0 / parts };
    let mut solved = Solved::default();
    let asked = built(of, options, &part(0), &mut solved)?;
    let (mut built_at, mut without_numbers) = (Vec::new(), Vec::new());
    for (place, speed) in others.into_iter().enumerate() {
        match built(&at(speed), options, &part(place + 1), &mut solved) {
            Ok(bars) => built_at.push(bars),
            Err(NoAnswer::Stopped) => return Err(NoAnswer::Stopped),
            Err(NoAnswer::Impossible { why, .. }) => without_numbers.push((speed, why)),
        }
    }
    let mut all = ToleranceStudy {
        options: *options,
        spreads: Vec::new(),
        asked,
        others: built_at,
        without_numbers,
        causes: Vec::new(),
        dry_rows: solved.dry.words(),
        warnings: solved.warnings,
    };
    let worst = all.worst();
    (all.spreads, all.causes) = in_workshop(&at(worst.speed), options, |workshop| {
        let spreads = workshop.scatter.groups.iter().map(|group| SpreadInUse {
            kind: group.kind,
            spread: group.spread,
            source: group.source.clone(),
            pieces: group.pieces.len().max(1),
        });
        let last = part(all.others.len() + all.without_numbers.len() + 1);
        let causes = workshop.causes(worst, options.samples, options.threads, &last)?;
        Ok((spreads.collect(), causes))
    })?;
    Ok(all)
}

/// Builds bars at the point's own speed alone.
///
/// Errors: as [`study`].
pub fn built_at_speed(
    of: &Studied<'_>,
    options: &ToleranceOptions,
    waiting: &dyn Waiting,
) -> Result<BuiltBars, NoAnswer> {
    built(of, options, waiting, &mut Solved::default())
}

/// What the plans say that bars are built of.
#[derive(Default)]
struct Solved {
    dry: WithoutLiquid,
    warnings: Vec<String>,
}

impl Solved {
    fn add(&mut self, of: &Studied<'_>, outcome: &Outcome) {
        self.dry.add(of, outcome);
        let at = Measure::GroundSpeed.short_text(of.point.speed.si(), of.project.units);
        let supply = reliance::supply(of, outcome).map(|words| format!("At {at} {words}"));
        for words in supply.into_iter().chain(reliance::liquid(of, outcome).iter().map(|one| capital(one))) {
            if !self.warnings.contains(&words) {
                self.warnings.push(words);
            }
        }
    }
}

/// The duty's slowest, usual and fastest speed but for the one that is asked for, rising.
fn other_speeds(of: &Studied<'_>) -> Vec<Speed> {
    let mut all = of.project.duty(of.point.duty).speeds().to_vec();
    all.retain(|speed| *speed != of.point.speed && *speed > Speed::ZERO);
    all.sort_by(|a, b| a.si().total_cmp(&b.si()));
    all.dedup();
    all
}

fn built(
    of: &Studied<'_>,
    options: &ToleranceOptions,
    waiting: &dyn Waiting,
    solved: &mut Solved,
) -> Result<BuiltBars, NoAnswer> {
    in_workshop(of, options, |workshop| {
        solved.add(of, workshop.outcome);
        let built = workshop.build(options.samples, options.threads, waiting)?;
        if built.within.of == 0 {
            return Err(NoAnswer::impossible(
                format!("none of {} built bars could be solved", options.samples),
                "take smaller spreads",
            ));
        }
        Ok(built)
    })
}

/// Does something with all that bars are built of at a point.
fn in_workshop<R>(
    of: &Studied<'_>,
    options: &ToleranceOptions,
    work: impl FnOnce(&Workshop<'_>) -> Result<R, NoAnswer>,
) -> Result<R, NoAnswer> {
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
    let scatter = Scatter::of(project, laid, &mut prepared, point);
    let (outcome, solver) = prepared
        .row_solver(point, &scatter.numbers)
        .map_err(|outcome| first_order::no_numbers(&outcome, laid))?;
    work(&Workshop {
        scatter: &scatter,
        first: &first,
        outcome: &outcome,
        solver,
        liquid: &project.duty(point.duty).liquid,
        limits: &project.limits,
        places: first_order::rows_that_count(&outcome),
        seed: options.seed,
    })
}
