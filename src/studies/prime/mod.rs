//! How long until liquid comes to each row, what the lines hold, what a flush displaces, and what drains when the pump stops.
//!
//! Filling is that of [`filling`](crate::hydraulics::filling): a front in each line, which moves at the flow the line gets
//! while others still fill; what it neglects stands there. A flush is reckoned as plug flow along the way that brings a row
//! most of its liquid. What drains: below each check valve all of it; above, only where a valve does not hold what stands
//! on it from the tank's surface, down to the level at which it shuts; a delivery
//! tube that ends at one that holds stays full. Folded for the road it is reckoned with the heights that the fold gives.

mod drained;
mod found;
mod report;

pub use found::{Drained, HeldIn, Holds, PrimeStudy, PrimedRow, Stands};
pub use report::report;

use petgraph::graph::EdgeIndex;

use super::asked::no_numbers;
use super::reliance::{self, WithoutLiquid};
use super::{NoAnswer, Studied, Waiting};
use crate::hydraulics::KeptSolver;
use crate::hydraulics::filling::{NotFilled, fill};
use crate::hydraulics::ways::{Held, Passed};
use crate::plan::FeedElement;
use crate::quantities::{Length, Volume};

/// Fills the empty routing at the point's speed.
///
/// # Errors
/// Where the routing has no numbers at the point, a state on the way can't be solved, or whoever waits stops it.
pub fn study(of: &Studied, waiting: &dyn Waiting) -> Result<PrimeStudy, NoAnswer> {
    let mut kept = KeptSolver::default();
    let mut prepared = kept.prepare(of.project, of.routing);
    let outcome = prepared.solve(&of.point);
    if outcome.numbers().is_none() {
        return Err(no_numbers(of, &outcome));
    }
    let (ways, held) = (prepared.ways(), prepared.held());
    let assembly = prepared.assembly();
    let filling = fill(&assembly.network, assembly.supply, &mut |part| {
        waiting.so_far(part as f32);
        !waiting.has_stopped()
    })
    .map_err(|why| match why {
        NotFilled::Stopped => NoAnswer::Stopped,
        NotFilled::Failed(failure) => NoAnswer::impossible(
            format!("a half-filled state of routing {} can't be solved: {failure}", of.routing.name),
            "try it at another speed",
        ),
        NotFilled::TooLong => NoAnswer::impossible(
            format!("the fronts in routing {} come to no end", of.routing.name),
            "try it at another speed",
        ),
    })?;
    let volume = |link: EdgeIndex| held.get(link.index()).map_or(0.0, |one| one.volume_m3);
    let outlets = prepared.outlets();
    let rows = of.project.bar.rows.iter().filter_map(|row| {
        let outlet = outlets.get(&row.id)?;
        let way = ways.iter().find(|way| way.row == row.id);
        let steps = || way.into_iter().flat_map(|way| &way.steps);
        let fill_s = filling.node_s.get(outlet.index()).copied().flatten().filter(|_| way.is_some());
        Some(PrimedRow {
            row: row.id,
            number: row.number,
            fill_s,
            driven: fill_s.map(|time| Length::metres(time * of.point.speed.si())),
            way: Volume::from_si(steps().map(|step| volume(step.link)).sum()),
            clear_s: steps().map(|step| volume(step.link) / step.flow.si()).sum(),
        })
    });
    let rows: Vec<PrimedRow> = rows.collect();
    let lines = lines(of, &held, &filling.link_s);
    let drained = drained::drained(of, &mut prepared)?;
    Ok(PrimeStudy {
        rows,
        held: lines.iter().map(|line| line.volume).sum(),
        lines,
        supplied: Volume::from_si(filling.supplied_m3),
        drained,
        warnings: reliance::supply(of, &outcome).into_iter().chain(reliance::liquid(of, &outcome)).collect(),
        not_fed: WithoutLiquid::of(of, &outcome).words(),
    })
}

/// What runs out with the pump off on a slope that is tried and holds where the bar stands at the point, in words: findings
/// know of the duty's own slopes alone. None where nothing does.
///
/// # Errors
/// Where the routing has no numbers on one of the slopes.
pub fn runs_out_on_slopes(of: &Studied) -> Result<Option<String>, NoAnswer> {
    let mut kept = KeptSolver::default();
    let mut prepared = kept.prepare(of.project, of.routing);
    let mut drained = drained::drained(of, &mut prepared)?;
    // Folded is for the findings.
    drained.retain(|one| one.stands != Stands::Folded);
    let worst = found::worst(&drained).filter(|worst| {
        drained
            .first()
            .is_none_or(|at_point| worst.open_rows.iter().any(|row| !at_point.open_rows.contains(row)))
    });
    Ok(worst.map(|worst| report::does_not_hold(worst, &drained, of)))
}

/// What each hose, body and row feed holds; links of one thing together.
fn lines(of: &Studied, held: &[Held], link_s: &[Option<f64>]) -> Vec<HeldIn> {
    let mut all: Vec<(Passed, HeldIn)> = Vec::new();
    for one in held.iter().filter(|one| one.volume_m3 > 0.0) {
        let what = match one.of {
            Passed::Run(_) => Holds::Hoses,
            Passed::Part(_) | Passed::SmallTee(_) => Holds::Manifolds,
            Passed::Element(id) => match of.element(id) {
                Some(FeedElement::MeteringTube { .. }) => Holds::MeteringTubes,
                _ => Holds::Tubes,
            },
        };
        let full_s = link_s.get(one.link.index()).copied().flatten();
        // What keeps its air holds no liquid.
        let volume = full_s.map_or(Volume::ZERO, |_| Volume::from_si(one.volume_m3));
        let tag = of.tag(one.of);
        let same =
            |(of, line): &&mut (Passed, HeldIn)| *of == one.of || (line.tag == tag && line.what == what);
        match all.iter_mut().find(same) {
            Some((_, line)) => {
                line.volume += volume;
                // Ends of a body that nothing hangs on keep their air.
                line.full_s = line.full_s.into_iter().chain(full_s).reduce(f64::max);
            }
            None => {
                all.push((one.of, HeldIn { tag, what, volume, full_s }));
            }
        }
    }
    all.into_iter().map(|(_, line)| line).collect()
}
