//! What runs out with the pump off, at work on slopes and folded for the road, what stays, and where air collects.

use std::collections::BTreeSet;

use petgraph::graph::EdgeIndex;

use super::super::asked::no_numbers;
use super::super::{NoAnswer, Studied};
use super::found::{Drained, Stands};
use crate::geometry::Point3;
use crate::hydraulics::PreparedRouting;
use crate::hydraulics::slope::{height, upward};
use crate::hydraulics::ways::{Held, Passed, RowWay};
use crate::plan::high_points::{RowsLetAirOut, high_points};
use crate::plan::{
    BarPoint, ElementGeometry, ElementItem, FoldPosition, FoldedBar, Item, OperatingPoint, RowId, Subject,
};
use crate::quantities::{Angle, GRAVITY_M_S2, Pressure, Volume};

/// What drains on the flat of the point, on the slopes that are tried, and folded for the road.
pub(super) fn drained(of: &Studied, prepared: &mut PreparedRouting) -> Result<Vec<Drained>, NoAnswer> {
    let tried = of.project.limits.tried_slope;
    let (side, fore_aft) = (of.point.side_slope, of.point.fore_aft_slope);
    let mut positions = vec![(side, fore_aft)];
    if tried > Angle::ZERO {
        positions.extend([tried, -tried].map(|slope| (slope, fore_aft)));
        positions.extend([tried, -tried].map(|slope| (side, slope)));
    }
    let mut all = Vec::new();
    let mut at = |side_slope, fore_aft_slope, folded: Option<&FoldedBar>| {
        let point = OperatingPoint { side_slope, fore_aft_slope, ..of.point };
        let outcome = prepared.solve(&point);
        if outcome.numbers().is_none() {
            return Err(no_numbers(of, &outcome));
        }
        let density = outcome.liquid.map_or(0.0, |liquid| liquid.density.si());
        let heights = match folded {
            Some(folded) => Heights::Folded(folded),
            None => Heights::Upward(upward(side_slope, fore_aft_slope)),
        };
        let stands = match folded {
            Some(_) => Stands::Folded,
            None => Stands::AtWork { side_slope, fore_aft_slope },
        };
        all.push(drained_at(of, prepared, stands, heights, density));
        Ok(())
    };
    for (side_slope, fore_aft_slope) in positions {
        at(side_slope, fore_aft_slope, None)?;
    }
    if of.project.bar.sections.iter().any(|section| section.hinge.is_some()) {
        let folded = FoldedBar::at(&of.project.bar, FoldPosition::TRANSPORT);
        at(side, fore_aft, Some(&folded))?;
    }
    Ok(all)
}

/// How high things are.
#[derive(Clone, Copy)]
enum Heights<'a> {
    /// At work, along a direction.
    Upward(Point3),
    /// In a position of the fold, on the level.
    Folded(&'a FoldedBar),
}

impl Heights<'_> {
    fn of(self, at: BarPoint) -> f64 {
        match self {
            Self::Upward(up) => height(at.place, up),
            Self::Folded(bar) => bar.place(at).z,
        }
    }

    /// Of the tank's surface, which does not fold.
    fn of_surface(self, of: &Studied) -> f64 {
        let supply = &of.project.supply;
        let surface = Point3::new(supply.pump.x, supply.pump.y, supply.tank_surface.si());
        match self {
            Self::Upward(up) => height(surface, up),
            Self::Folded(_) => surface.z,
        }
    }

    /// The straight pieces of what holds liquid: length and heights of both ends of each, m. A body lies straight between its
    /// lowest and its highest port.
    fn pieces(self, of: &Studied, held: &Held) -> Vec<(f64, [f64; 2])> {
        if let Some(path) = laid(of, held.of) {
            let piece = |pair: &[BarPoint]| {
                (pair[0].place.distance(pair[1].place), [self.of(pair[0]), self.of(pair[1])])
            };
            return path.windows(2).map(piece).collect();
        }
        let ends = match (self, held.of) {
            (Self::Folded(_), Passed::Part(id)) => {
                let anchors = &of.routing.geometry.anchors;
                let ports = anchors.part_place(id).map_or(&[][..], |place| anchors.ports_of(place));
                let heights = || ports.iter().map(|port| self.of(port.at));
                [heights().fold(f64::INFINITY, f64::min), heights().fold(f64::NEG_INFINITY, f64::max)]
            }
            (Self::Folded(_), Passed::Element(_)) => {
                element(of, held.of).map_or([0.0; 2], |lies| [self.of(lies.from), self.of(lies.to)])
            }
            _ => held.heights_m,
        };
        vec![(1.0, ends)]
    }

    /// The inlet and the outlet of an element of a row feed.
    fn ends(self, of: &Studied, what: Passed, held: &Held) -> [f64; 2] {
        match (self, element(of, what)) {
            (Self::Folded(_), Some(lies)) => [self.of(lies.from), self.of(lies.to)],
            _ => held.heights_m,
        }
    }
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

fn element<'a>(of: &Studied<'a>, what: Passed) -> Option<&'a ElementGeometry> {
    let Passed::Element(id) = what else { return None };
    of.routing.geometry.feed(id.feed())?.stretch(id.branch()).get(id.index())
}

/// The points of a hose or tube, from its start to its end; none of anything else.
fn laid<'a>(of: &Studied<'a>, what: Passed) -> Option<&'a [BarPoint]> {
    match what {
        Passed::Run(id) => of.routing.geometry.run(id).map(|line| &line.path[..]),
        Passed::Element(_) => element(of, what)?.tube.as_ref().map(|line| &line.path[..]),
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

fn drained_at(
    of: &Studied,
    prepared: &PreparedRouting,
    stands: Stands,
    heights: Heights,
    density: f64,
) -> Drained {
    let (ways, held) = (prepared.ways(), prepared.held());
    let surface = heights.of_surface(of);
    let (mut below, mut open_rows, mut without_valve) = (BTreeSet::new(), Vec::new(), Vec::new());
    let mut air_rows = Vec::new();
    // Delivery tubes that end at a valve that holds stay full, unless liquid runs out at another row of theirs. At work air rises
    // into hoses and manifolds. Of a wing that is folded up the hoses and manifolds whose rows all hold hang with their tubes:
    // they are filled from below, and nothing lets air in above.
    let (mut emptying, mut shut) = (BTreeSet::new(), BTreeSet::new());
    // The lowest level at which an open way shuts or ends.
    let mut level: Option<f64> = None;
    let number = |row: RowId| of.project.bar.row(row).map_or(0, |row| row.number);
    for way in &ways {
        let (place, closing) =
            valve(of, way).map_or((None, Pressure::ZERO), |(place, closing)| (Some(place), closing));
        let from = place.unwrap_or(way.steps.len().saturating_sub(1));
        let Some(step) = way.steps.get(from) else { continue };
        let Some(at) = held.get(step.link.index()) else { continue };
        // A valve at its inlet, a way without one at its outlet.
        let [inlet, outlet] = heights.ends(of, step.of, at);
        let stands_at = if place.is_some() { inlet } else { outlet };
        if let Some(place) = place {
            below.extend(way.steps.iter().skip(place + 1).map(|step| step.link));
        } else {
            without_valve.push(number(way.row));
        }
        let shuts_at = stands_at + closing.si() / (density * GRAVITY_M_S2);
        let sinks_to = match place {
            _ if surface >= shuts_at => {
                if place.is_some() {
                    open_rows.push(number(way.row));
                }
                shuts_at
            }
            // Air comes in at an open row above the tank, and the liquid before it sinks back to the tank's surface.
            None => {
                air_rows.push(number(way.row));
                surface
            }
            Some(_) => {
                let is_folded = matches!(heights, Heights::Folded(_));
                let hangs =
                    way.steps.iter().filter(|step| is_folded || matches!(step.of, Passed::Element(_)));
                shut.extend(hangs.map(|step| step.link));
                continue;
            }
        };
        emptying.extend(way.steps.iter().take(from + 1).map(|step| step.link));
        level = Some(level.map_or(sinks_to, |level| level.min(sinks_to)));
    }
    let below_volume: f64 =
        below.iter().filter_map(|link| held.get(link.index())).map(|one| one.volume_m3).sum();
    let drains =
        |link: EdgeIndex| !below.contains(&link) && (emptying.contains(&link) || !shut.contains(&link));
    let (mut lost, mut stays_above) = (0.0, 0.0);
    for one in held.iter().filter(|one| one.volume_m3 > 0.0 && !below.contains(&one.link)) {
        let above = |level: f64| one.volume_m3 * share_above(heights.pieces(of, one), level);
        let runs_out = level.filter(|_| drains(one.link)).map_or(0.0, above);
        lost += runs_out;
        stays_above += (above(surface) - runs_out).max(0.0);
    }
    Drained {
        stands,
        below_valves: Volume::from_si(below_volume),
        above_level: Volume::from_si(lost),
        held_above: Volume::from_si(stays_above),
        open_rows,
        without_valve,
        air_rows,
        air_collects: air_collects(of, heights),
    }
}

/// Hoses, parts and row feeds in which air that is left in the lines rises to the top and stays while the valves are shut.
fn air_collects(of: &Studied, heights: Heights) -> Vec<String> {
    let least = of.project.limits.high_point;
    let tag = |of_what: Subject| match of_what {
        Subject::Part(id) => of.routing.part(id).map(|part| part.tag.clone()),
        Subject::Run(id) => of.routing.run(id).map(|run| run.tag.clone()),
        Subject::Feed(id) => of.routing.feed(id).map(|feed| feed.tag.clone()),
        Subject::Row(_) => None,
    };
    let mut tags: Vec<String> = Vec::new();
    for one in high_points(of.routing, RowsLetAirOut::WithoutValve, |at| heights.of(at)) {
        if let Some(tag) = tag(one.of).filter(|tag| one.depth > least && !tags.contains(tag)) {
            tags.push(tag);
        }
    }
    tags
}

#[cfg(test)]
mod tests {
    use super::share_above;

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
