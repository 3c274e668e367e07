//! How long until liquid comes to each row, what the lines hold, what a flush displaces, and what drains when the pump stops.
//!
//! Filling is that of [`filling`](crate::hydraulics::filling): a front in each line, which moves at the flow the line gets
//! while others still fill; what it neglects stands there. A flush is reckoned as plug flow along the way that brings a row
//! most of its liquid. What drains: below each check valve all of it; above, only where a valve does not hold what stands
//! on it from the tank's surface, down to the level at which it shuts; a delivery
//! tube that ends at one that holds stays full.

mod found;
mod report;

pub use found::{Drained, HeldIn, Holds, PrimeStudy, PrimedRow};
pub use report::report;

use std::collections::BTreeSet;

use petgraph::graph::EdgeIndex;

use super::asked::no_numbers;
use super::reliance::{self, WithoutLiquid};
use super::{NoAnswer, Studied, Waiting};
use crate::geometry::Point3;
use crate::hydraulics::filling::{NotFilled, fill};
use crate::hydraulics::slope::{height, upward};
use crate::hydraulics::ways::{Held, Passed, RowWay};
use crate::hydraulics::{KeptSolver, PreparedRouting};
use crate::plan::{ElementItem, FeedElement, Item, LineGeometry, OperatingPoint, RowId};
use crate::quantities::{Angle, GRAVITY_M_S2, Length, Pressure, Volume};

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
    let drained = drained(of, &mut prepared)?;
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
    let drained = drained(of, &mut prepared)?;
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

/// What drains on the flat of the point, and on the slopes that are tried.
fn drained(of: &Studied, prepared: &mut PreparedRouting) -> Result<Vec<Drained>, NoAnswer> {
    let tried = of.project.limits.tried_slope;
    let (side, fore_aft) = (of.point.side_slope, of.point.fore_aft_slope);
    let mut positions = vec![(side, fore_aft)];
    if tried > Angle::ZERO {
        positions.extend([tried, -tried].map(|slope| (slope, fore_aft)));
        positions.extend([tried, -tried].map(|slope| (side, slope)));
    }
    let mut all = Vec::new();
    for (side_slope, fore_aft_slope) in positions {
        let point = OperatingPoint { side_slope, fore_aft_slope, ..of.point };
        let outcome = prepared.solve(&point);
        if outcome.numbers().is_none() {
            return Err(no_numbers(of, &outcome));
        }
        let density = outcome.liquid.map_or(0.0, |liquid| liquid.density.si());
        all.push(drained_at(of, prepared, &point, density));
    }
    Ok(all)
}

/// The check valve on a way that shuts at the highest pressure: its place on the way, and that pressure.
fn valve(of: &Studied, way: &RowWay) -> Option<(usize, Pressure)> {
    let valves = way.steps.iter().enumerate().filter_map(|(place, step)| {
        let Passed::Element(id) = step.of else { return None };
        match of.project.catalogue.any_item(of.element(id)?.entry())? {
            Item::Element(ElementItem::CheckValve(valve)) => Some((place, valve.closing)),
            _ => None,
        }
    });
    // Of several that shut alike the one nearest to the outlet holds most.
    valves.max_by(|a, b| a.1.si().total_cmp(&b.1.si()).then(a.0.cmp(&b.0)))
}

/// The points of a hose or tube, from its start to its end; none of anything else.
fn laid(of: &Studied, what: Passed) -> Option<Vec<Point3>> {
    let geometry = of.routing.geometry;
    match what {
        Passed::Run(id) => geometry.run(id).map(LineGeometry::places),
        Passed::Element(id) => {
            let elements = geometry.feed(id.feed())?.stretch(id.branch());
            elements.get(id.index())?.tube.as_ref().map(LineGeometry::places)
        }
        Passed::Part(_) | Passed::SmallTee(_) => None,
    }
}

/// What part of a line lies above a level, by its straight pieces: length and heights of both ends of each, m.
fn share_above(pieces: impl IntoIterator<Item = (f64, [f64; 2])>, level: f64) -> f64 {
    let (mut above, mut all) = (0.0, 0.0);
    for (length, [from, to]) in pieces {
        let (low, high) = (from.min(to), from.max(to));
        let part = if high > low {
            ((high - level) / (high - low)).clamp(0.0, 1.0)
        } else {
            f64::from(high > level)
        };
        above += length * part;
        all += length;
    }
    if all > 0.0 { above / all } else { 0.0 }
}

fn drained_at(of: &Studied, prepared: &PreparedRouting, point: &OperatingPoint, density: f64) -> Drained {
    let (ways, held) = (prepared.ways(), prepared.held());
    let supply = &of.project.supply;
    let up = upward(point.side_slope, point.fore_aft_slope);
    let surface = height(Point3::new(supply.pump.x, supply.pump.y, supply.tank_surface.si()), up);
    let (mut below, mut open_rows, mut without_valve) = (BTreeSet::new(), Vec::new(), Vec::new());
    // Delivery tubes that end at a valve that holds stay full, unless liquid runs out at another row of theirs. Air rises into
    // hoses and manifolds.
    let (mut emptying, mut shut) = (BTreeSet::new(), BTreeSet::new());
    // The lowest level at which an open way shuts or ends.
    let mut level: Option<f64> = None;
    let number = |row: RowId| of.project.bar.row(row).map_or(0, |row| row.number);
    for way in &ways {
        let (place, closing) =
            valve(of, way).map_or((None, Pressure::ZERO), |(place, closing)| (Some(place), closing));
        let from = place.unwrap_or(way.steps.len().saturating_sub(1));
        let Some(at) = way.steps.get(from).and_then(|step| held.get(step.link.index())) else { continue };
        // A valve at its inlet, a way without one at its outlet.
        let stands_at = match place {
            Some(_) => at.heights_m[0],
            None => at.heights_m[1],
        };
        if let Some(place) = place {
            below.extend(way.steps.iter().skip(place + 1).map(|step| step.link));
        } else {
            without_valve.push(number(way.row));
        }
        let shuts_at = stands_at + closing.si() / (density * GRAVITY_M_S2);
        if surface >= shuts_at {
            if place.is_some() {
                open_rows.push(number(way.row));
            }
            emptying.extend(way.steps.iter().take(from + 1).map(|step| step.link));
            level = Some(level.map_or(shuts_at, |level| level.min(shuts_at)));
        } else {
            let tubes = way.steps.iter().filter(|step| matches!(step.of, Passed::Element(_)));
            shut.extend(tubes.map(|step| step.link));
        }
    }
    let below_volume: f64 =
        below.iter().filter_map(|link| held.get(link.index())).map(|one| one.volume_m3).sum();
    let above = |one: &Held| {
        let level = level?;
        // A hose or tube as it lies; a body straight between its ends.
        let part = match laid(of, one.of) {
            Some(path) => share_above(
                path.windows(2)
                    .map(|pair| (pair[0].distance(pair[1]), [height(pair[0], up), height(pair[1], up)])),
                level,
            ),
            None => share_above([(1.0, one.heights_m)], level),
        };
        Some(one.volume_m3 * part)
    };
    let drains =
        |link: EdgeIndex| !below.contains(&link) && (emptying.contains(&link) || !shut.contains(&link));
    let lost: f64 = held.iter().filter(|one| drains(one.link)).filter_map(above).sum();
    Drained {
        side_slope: point.side_slope,
        fore_aft_slope: point.fore_aft_slope,
        below_valves: Volume::from_si(below_volume),
        above_level: Volume::from_si(lost),
        open_rows,
        without_valve,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Up a metre and a metre along: of the two metres one and a half lie above 0.5 m, although the ends say a half of it.
    #[test]
    fn a_line_is_parted_at_a_level_piece_by_piece() {
        let up_and_along = [(1.0, [0.0, 1.0]), (1.0, [1.0, 1.0])];
        assert_eq!(share_above(up_and_along, 0.5), 0.75);
        assert_eq!(share_above([(1.0, [0.0, 1.0])], 0.5), 0.5);
        // Over a hump between two low ends, and at the level itself.
        assert_eq!(share_above([(2.0, [0.0, 1.0]), (2.0, [1.0, 0.0])], 0.25), 0.75);
        assert_eq!(share_above(up_and_along, 1.0), 0.0);
        assert_eq!(share_above([], 1.0), 0.0);
    }
}
