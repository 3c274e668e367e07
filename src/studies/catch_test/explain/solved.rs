//! All curves of a routing at a point, solved by the engine: they do not hang on what was caught, so that one set serves any
//! number of tests of the same bar under the same conditions.

use std::num::NonZeroUsize;
use std::ops::Range;

use super::causes::Causes;
use super::curve::{At, Curve, Effect, Misread};
use crate::hydraulics::faulty::{Fault, FaultSolver, Shown};
use crate::hydraulics::faulty_feed::FeedSolver;
use crate::hydraulics::variation::Parameter;
use crate::hydraulics::ways::Passed;
use crate::hydraulics::{KeptSolver, Outcome};
use crate::plan::{FeedId, PartId, PartItem, RowId};
use crate::quantities::Pressure;
use crate::studies::asked::no_numbers;
use crate::studies::catch_test::spread_columns::{SpreadColumn, spread_columns};
use crate::studies::catch_test::supply::supply_quantity;
use crate::studies::tolerance::scatter::Scatter;
use crate::studies::{NoAnswer, Studied, Waiting, workers};

/// Curves of one job that are not of one feed: few enough that a stop is heard soon.
const JOB: usize = 8;

/// What the readings would be at one place of a curve.
#[derive(Debug, Clone)]
pub(super) struct SolvedCurve {
    pub(super) curve: Curve,
    pub(super) shown: Vec<Shown>,
}

/// What parts and liquid do at one level of flow.
#[derive(Debug, Clone)]
pub(super) struct Level {
    /// Flow of the rows against that of the sound bar, on average.
    pub(super) share: f64,
    /// What flows then without any fault.
    pub(super) shown: Shown,
    columns: Vec<SpreadColumn>,
    /// What a supply that gives as much again would do, going by a little more and less.
    supply: Option<SpreadColumn>,
}

/// How much more and less the supply is tried with, as a part of what it is asked for.
const SUPPLY_STEP: f64 = 0.01;

impl Level {
    /// What the supply does is known: it stands behind all else.
    pub(super) const fn has_supply(&self) -> bool {
        self.supply.is_some()
    }

    /// Parts, liquid, and a supply that scatters by so much.
    pub(super) fn columns(&self, supply_sd: f64) -> Vec<SpreadColumn> {
        let of_supply = self.supply.as_ref().map(|one| one.times(supply_sd));
        self.columns.iter().cloned().chain(of_supply).collect()
    }
}

/// Flows that scatter is known at, as parts of what the supply is asked for: what valves and tubes add to it grows as less
/// flows, as behind a large leak or with a pump at its limit.
const LEVELS: [f64; 6] = [1.0, 0.8, 0.6, 0.4, 0.25, 1.3];

/// A routing at a point with everything that may be at fault in it, solved.
pub struct CauseCurves<'a> {
    pub(super) of: Studied<'a>,
    /// The sound bar.
    pub(super) outcome: Outcome,
    pub(super) sound: Shown,
    /// Gauges and manifolds, whose pressure is or can be read.
    pub(super) watched: Vec<PartId>,
    pub(super) curves: Vec<SolvedCurve>,
    /// What each row's feed comes from, by the row's place in the bar.
    pub(super) fed_from: Vec<Option<PartId>>,
    /// The first as asked.
    pub(super) levels: Vec<Level>,
    pub(super) solver: FaultSolver<'a>,
    /// What scatters by itself.
    pub(super) scatter: Scatter,
}

impl<'a> CauseCurves<'a> {
    /// Solves everything that may be at fault in a routing; `read` are the parts whose pressure was read.
    ///
    /// # Errors
    /// Where the sound routing has no numbers, or whoever waits stops it.
    pub fn solve(
        of: &Studied<'a>,
        read: &[PartId],
        threads: Option<NonZeroUsize>,
        waiting: &dyn Waiting,
    ) -> Result<Self, NoAnswer> {
        let of = *of;
        let watched: Vec<PartId> = of
            .routing
            .parts
            .iter()
            .filter(|part| {
                let item = of.project.catalogue.item(&part.entry);
                matches!(item, Some(PartItem::Gauge(_) | PartItem::Manifold(_))) || read.contains(&part.id)
            })
            .map(|part| part.id)
            .collect();
        let mut kept = KeptSolver::default();
        let mut prepared = kept.prepare(of.project, of.routing);
        let (outcome, mut solver) =
            FaultSolver::new(of.project, of.routing, &mut prepared, &of.point, &watched)
                .map_err(|outcome| no_numbers(&of, &outcome))?;
        let ways = prepared.ways();
        let scatter = Scatter::of(of.project, of.routing, &mut prepared, &of.point);
        let Some(sound) = solver.solve(&[]) else { return Err(no_numbers(&of, &outcome)) };
        let mut levels = Vec::new();
        for part in LEVELS {
            if waiting.has_stopped() {
                return Err(NoAnswer::Stopped);
            }
            levels.extend(level(&of, &scatter, &mut prepared, &mut solver, (&sound, &watched), part));
        }
        let filter_takes =
            outcome.parts().iter().filter_map(|part| Some((part.part, part.drop?.si()))).collect();
        let curves =
            Causes { of: &of, solver: &solver, ways: &ways, supply: supply_quantity(&of), filter_takes }
                .all();
        let jobs = jobs(&curves, &solver);
        let planned = &solver;
        let solved = workers::do_all(
            threads,
            jobs.len(),
            waiting,
            || solver.clone(),
            |solver, job| {
                let (feed, some) = &jobs[job];
                let mut of_feed = feed.and_then(|feed| FeedSolver::new(planned, feed));
                let mut shown = |faults: &[Fault]| {
                    let of_feed = of_feed.as_mut().and_then(|one| one.solve(faults));
                    of_feed.or_else(|| solver.solve(faults))
                };
                let some = curves[some.clone()].iter();
                some.filter_map(|curve| solved(curve, planned, &mut shown, &sound)).collect::<Vec<_>>()
            },
        )?;
        let curves = solved.into_iter().flatten().collect();
        let fed_from = of.project.bar.rows.iter().map(|row| fed_from(&of, row.id)).collect();
        Ok(Self { of, outcome, sound, watched, curves, fed_from, levels, solver, scatter })
    }

    /// The sound bar under the conditions of the test.
    pub const fn outcome(&self) -> &Outcome {
        &self.outcome
    }

    /// What rows and watched parts show with an effect.
    pub(super) fn shown_of(&self, solver: &mut FaultSolver<'_>, effect: &Effect) -> Option<Shown> {
        let mut shown =
            if effect.faults.is_empty() { self.sound.clone() } else { solver.solve(&effect.faults)? };
        misread(&mut shown, &effect.misread);
        Some(shown)
    }

    /// Causes of what was read, of rows by their places in the bar and gauges by theirs among what is watched: no engine is needed.
    pub(super) fn of_readings(&self, rows: &[usize], gauges: &[usize]) -> Vec<SolvedCurve> {
        let rows: Vec<(usize, RowId)> =
            rows.iter().map(|place| (*place, self.of.project.bar.rows[*place].id)).collect();
        let shows = |place: usize| Pressure::from_si(self.sound.parts[place]);
        let gauges: Vec<(usize, Passed, Pressure)> =
            gauges.iter().map(|place| (*place, Passed::Part(self.watched[*place]), shows(*place))).collect();
        let solved = |curve: Curve| {
            let shown = |at: &At| {
                let mut shown = self.sound.clone();
                misread(&mut shown, &curve.effect(*at).misread);
                shown
            };
            SolvedCurve { shown: curve.places.iter().map(shown).collect(), curve }
        };
        super::causes::of_readings(&rows, &gauges).into_iter().map(solved).collect()
    }

    /// The place of a row in the bar.
    pub(super) fn row_place(&self, row: RowId) -> Option<usize> {
        self.of.project.bar.rows.iter().position(|one| one.id == row)
    }
}

/// Curves to be solved together: those of one feed, or else a few.
fn jobs(curves: &[Curve], solver: &FaultSolver<'_>) -> Vec<(Option<FeedId>, Range<usize>)> {
    let mut all: Vec<(Option<FeedId>, Range<usize>)> = Vec::new();
    for (at, curve) in curves.iter().enumerate() {
        let feed = curve.places.iter().find_map(|place| solver.feed_of(&curve.effect(*place).faults));
        match all.last_mut() {
            Some((last, range)) if *last == feed && (feed.is_some() || range.len() < JOB) => {
                range.end = at + 1;
            }
            _ => all.push((feed, at..at + 1)),
        }
    }
    all
}

/// What a row's feed comes from.
fn fed_from(of: &Studied<'_>, row: RowId) -> Option<PartId> {
    of.routing.routing.feed_of(row)?.from.port().map(|port| port.part)
}

/// What was read in place of what was there.
pub(super) fn misread(shown: &mut Shown, all: &[Misread]) {
    for one in all {
        match *one {
            Misread::Row(row, times) => {
                if let Some(flow) = shown.rows.get_mut(row) {
                    *flow *= times;
                }
            }
            Misread::All(times) => shown.rows.iter_mut().for_each(|flow| *flow *= times),
            Misread::Part(part, more) => {
                if let Some(pressure) = shown.parts.get_mut(part) {
                    *pressure = (*pressure + more).max(0.0);
                }
            }
        }
    }
}

/// A curve solved at its places; those that can't be solved go, and their weight with them.
fn solved(
    curve: &Curve,
    solver: &FaultSolver<'_>,
    solve: &mut dyn FnMut(&[Fault]) -> Option<Shown>,
    sound: &Shown,
) -> Option<SolvedCurve> {
    let mut kept = Curve { places: Vec::new(), at: Vec::new(), between: Vec::new(), ..curve.clone() };
    let mut all = Vec::new();
    for (place, at) in curve.places.iter().enumerate() {
        let effect = curve.effect(*at);
        let is_planned = |fault: &Fault| match fault {
            Fault::Number(parameter, value) => solver.planned(*parameter) == Some(*value),
            Fault::Times(_, times) => *times == 1.0,
            _ => false,
        };
        let is_sound = effect.faults.iter().all(is_planned);
        let shown = if is_sound { Some(sound.clone()) } else { solve(&effect.faults) };
        let Some(mut shown) = shown else {
            // No stretch leads to what is not there.
            if let Some(before) = kept.between.last_mut() {
                *before = 0.0;
            }
            continue;
        };
        misread(&mut shown, &effect.misread);
        kept.places.push(*at);
        kept.at.push(curve.at[place]);
        kept.between.push(curve.between[place]);
        all.push(shown);
    }
    if let Some(last) = kept.between.last_mut() {
        *last = 0.0;
    }
    let sum: f64 = kept.at.iter().chain(&kept.between).sum();
    if sum <= 0.0 {
        return None;
    }
    kept.at.iter_mut().chain(&mut kept.between).for_each(|part| *part /= sum);
    Some(SolvedCurve { curve: kept, shown: all })
}

/// What parts and liquid do where the supply is asked for a part of what it is in the test.
fn level(
    of: &Studied<'_>,
    scatter: &Scatter,
    prepared: &mut crate::hydraulics::PreparedRouting<'_>,
    solver: &mut FaultSolver<'_>,
    (sound, watched): (&Shown, &[PartId]),
    part: f64,
) -> Option<Level> {
    let parameter = Parameter::Supply(supply_quantity(of));
    let asked = solver.planned(parameter)? * part;
    let shown = solver.solve(&[Fault::Number(parameter, asked)])?;
    let mut supplied = |times: f64| solver.solve(&[Fault::Number(parameter, asked * times)]);
    let supply = supplied(1.0 + SUPPLY_STEP).zip(supplied(1.0 - SUPPLY_STEP)).map(|(more, less)| {
        let slope = |more: &[f64], less: &[f64]| -> Vec<f64> {
            more.iter().zip(less).map(|(more, less)| (more - less) / (2.0 * SUPPLY_STEP)).collect()
        };
        SpreadColumn { rows: slope(&more.rows, &less.rows), parts: slope(&more.parts, &less.parts) }
    });
    prepared.set(parameter, asked).ok()?;
    let rows: Vec<RowId> = of.project.bar.rows.iter().map(|row| row.id).collect();
    let columns = spread_columns(of, scatter, prepared, (&rows, watched), None);
    prepared.reset();
    let fed = || shown.rows.iter().zip(&sound.rows).filter(|one| *one.1 > 0.0);
    let share = fed().map(|(now, sound)| now / sound).sum::<f64>() / fed().count().max(1) as f64;
    Some(Level { share, shown, columns, supply })
}

impl CauseCurves<'_> {
    /// How much flows, as a part of what is expected, where a watched part shows a pressure and nothing is at fault.
    pub(super) fn share_at(&self, place: usize, pressure: f64) -> f64 {
        let mut all: Vec<(f64, f64)> =
            self.levels.iter().map(|level| (level.shown.parts[place], level.share)).collect();
        all.sort_by(|a, b| a.0.total_cmp(&b.0));
        let above = all.iter().position(|one| one.0 > pressure).unwrap_or(all.len());
        let Some(below) = above.checked_sub(1) else { return all.first().map_or(1.0, |one| one.1) };
        let (from, to) = (all[below], all.get(above).copied().unwrap_or(all[below]));
        if to.0 > from.0 { from.1 + (to.1 - from.1) * (pressure - from.0) / (to.0 - from.0) } else { from.1 }
    }

    /// The two levels that what flowed lies between, as a part of what is expected, each with its weight; the outermost one
    /// beyond all.
    pub(super) fn between_levels(&self, share: f64) -> Vec<(usize, f64)> {
        let mut order: Vec<(usize, f64)> =
            self.levels.iter().enumerate().map(|(at, level)| (at, level.share)).collect();
        order.retain(|one| one.1 > 0.0);
        order.sort_by(|a, b| a.1.total_cmp(&b.1));
        let above = order.iter().position(|one| one.1 > share);
        let last = order.len().saturating_sub(1);
        let (below, above) = match above {
            Some(0) => (0, 0),
            Some(above) => (above - 1, above),
            None => (last, last),
        };
        let Some((from, to)) = order.get(below).zip(order.get(above)) else { return Vec::new() };
        if to.1 <= from.1 {
            return vec![(from.0, 1.0)];
        }
        let part = (share - from.1) / (to.1 - from.1);
        vec![(from.0, 1.0 - part), (to.0, part)]
    }
}
