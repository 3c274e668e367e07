//! Parts in the line of a hose: a tee, valve or filter goes into a hose, comes out of it again, and a tee turns with
//! the hoses of its run.

use super::Session;
use super::refusal::{Gone, Refusal, ToolRefusal};
use crate::geometry::{Point2, Point3, polyline_length};
use crate::plan::Tee;
use crate::plan::frame_graph::nearest_on_piece;
use crate::plan::routing::Connection;
use crate::plan::{
    Anchors, BarPoint, ClampPlaces, Edit, End, FittingKey, HingeCrossing, LineGeometry, Part, PartId,
    PartItem, PartKey, Port, PortRef, Routing, Run, RunId, SectionId, StockKey, Subject,
};
use crate::quantities::{Angle, Measure};

/// Waypoints that bend a healed hose by less than this are left out, metres.
const STRAIGHT: f64 = 0.01;

/// From here on the way of a hose says where it comes from: nearer to a part it only finds the port, metres.
const COMES_FROM: f64 = 0.2;

/// Where a part goes into a hose.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Spot {
    /// The hose.
    pub run: RunId,
    /// The piece of its way.
    leg: usize,
    /// Middle of the part.
    pub place: Point3,
    /// How the part is turned to lie in line.
    pub turn: Angle,
    /// The hose comes in where the part's outlet is.
    reversed: bool,
}

impl Session {
    /// The place in the hose within reach where a tee, valve or filter goes; none for other parts, and where the hose
    /// has no room for it. Filters and valves are put in the way of the flow, a tee with its branch on the side that
    /// the turn in hand asks for.
    pub(super) fn spot_in_hose(&self, item: &PartItem, at: Point2, reach: f64) -> Option<Spot> {
        if !item.is_in_line() {
            return None;
        }
        let id = self.run_near(at, reach)?;
        let path = self.geometry().run(id)?.places();
        let (leg, place) = place_on(&path, at, item.body().half_length).filter(|one| {
            // The straight piece that has room may be another one, far from the pointer.
            one.1.flat().distance(at) <= reach + item.body().half_length
        })?;
        let along = path[leg + 1] - path[leg];
        let way = along.y.atan2(along.x);
        let reversed = if matches!(item, PartItem::Tee(_)) {
            let (sin, cos) = (way - self.editor.placing_turn.si()).sin_cos();
            // More than a quarter away from the turn in hand. Of two that are a quarter away, the one clockwise of it,
            // so that the side does not depend on which end of the hose was drawn first.
            cos < -1e-9 || (cos.abs() <= 1e-9 && sin > 0.0)
        } else {
            self.outcome().run(id).and_then(|run| run.flow).is_some_and(|flow| flow.si() < 0.0)
        };
        let out = item.port_offset(Port::Out);
        let straight = way - out.y.atan2(out.x);
        let turn = if reversed { straight + std::f64::consts::PI } else { straight };
        Some(Spot { run: id, leg, place, turn: Angle::from_si(turn).within_a_turn(), reversed })
    }

    /// What of a part's kind goes into the hose within reach: the entry itself where its size was chosen, or is as near to
    /// the hose's bore as any; else the entry with the nearest bore.
    pub(super) fn sized_for_hose(&self, entry: &PartKey, at: Point2, reach: f64) -> PartKey {
        let catalogue = &self.project().catalogue;
        let item = catalogue.item(entry).filter(|item| item.is_in_line());
        let chosen = self.editor.chosen_size.as_ref() == Some(entry);
        let Some(item) = item.filter(|_| !chosen) else { return entry.clone() };
        let run = self.run_near(at, reach).and_then(|id| self.routing().run(id));
        let Some(hose) = run.and_then(|run| catalogue.stock(&run.line.stock)) else { return entry.clone() };
        let off = |item: &PartItem| item.bore().map_or(f64::INFINITY, |bore| (bore - hose.bore).si().abs());
        let mut best = (off(item), entry.clone());
        for (key, other) in catalogue.of::<PartKey>().filter(|(_, one)| one.item_kind() == item.item_kind()) {
            if off(other) < best.0 - 1e-9 {
                best = (off(other), key);
            }
        }
        best.1
    }

    /// Puts a part into a hose, which becomes two.
    pub(super) fn put_into_hose(&mut self, spot: &Spot, entry: &PartKey) -> Result<(), Refusal> {
        let Some(item) = self.project().catalogue.item(entry).copied() else {
            return Err(Refusal::NotInCatalogue(entry.clone()));
        };
        let part = self.new_part(entry, &item, spot.place, spot.turn);
        let name = format!("Put {} into {}", part.tag, self.tag_of(Subject::Run(spot.run)));
        self.cut_in(spot, part, &name)
    }

    /// Splits a hose with a tee at the place nearest to a point: the hose becomes two, the tee sits between them with
    /// its branch free. Without an entry the tee that fits the hose best is taken.
    pub fn split_run(&mut self, run: RunId, at: Point2, tee: Option<&PartKey>) -> Result<(), Refusal> {
        let Some(run) = self.routing().run(run).cloned() else {
            return Err(Gone::Hose.into());
        };
        let tee = match tee {
            Some(tee) => Some(tee.clone()),
            None => self.tee_for(&run.line.stock),
        };
        let Some(tee) = tee else {
            return Err(Refusal::NoTeeFor(run.tag));
        };
        let Some(&item @ PartItem::Tee(_)) = self.project().catalogue.item(&tee) else {
            return Err(Refusal::NotATee { entry: tee, run: run.tag });
        };
        let Some(path) = self.geometry().run(run.id).map(LineGeometry::places) else {
            return Err(Refusal::EndNowhere(run.tag));
        };
        let half = item.body().half_length;
        let Some((leg, place)) = place_on(&path, at, half) else {
            let length = Measure::CutLength.text(2.0 * half, self.project().units);
            return Err(Refusal::NoRoomForTee { run: run.tag, length });
        };
        let along = path[leg + 1] - path[leg];
        let turn = Angle::from_si(along.y.atan2(along.x));
        let part = self.new_part(&tee, &item, place, turn);
        let name = format!("Split {} with {}", run.tag, part.tag);
        self.cut_in(&Spot { run: run.id, leg, place, turn, reversed: false }, part, &name)
    }

    /// Cuts a hose and joins both pieces to a part in line. Both pieces and the part's body together are as long as the
    /// hose was; a measured length is shared out in proportion.
    fn cut_in(&mut self, spot: &Spot, part: Part, name: &str) -> Result<(), Refusal> {
        let routing = self.routing();
        let laid = self.geometry().run(spot.run);
        let Some((run, laid)) = routing.run(spot.run).cloned().zip(laid) else {
            return Err(Gone::Hose.into());
        };
        let path = laid.places();
        let (leg, middle) = (spot.leg, spot.place);
        let beside = laid.path.get(leg..leg + 2).unwrap_or_default();
        let part = Part { section: BarPoint::beside(&self.project().bar, beside, middle).section, ..part };
        let port = |port| End::Port(PortRef { part: part.id, port });
        let (mut first, mut second) = (run.clone(), run.clone());
        second.id = RunId::next(routing.runs.iter().map(|run| run.id));
        second.tag = routing.free_tag(self.project().tag_letters.hose());
        // Both new ends get a fitting as the old ends have; what was at either end stays there.
        let usual = self.usual_fittings(&run.line.stock);
        if let Some((last, before)) = run.fittings.split_last() {
            let mut start = if before.is_empty() { vec![last.clone()] } else { before.to_vec() };
            start.extend(usual.last().cloned());
            first.fittings = start;
            second.fittings = usual.first().cloned().into_iter().chain([last.clone()]).collect();
        }
        (first.to, second.from) =
            if spot.reversed { (port(Port::Out), port(Port::In)) } else { (port(Port::In), port(Port::Out)) };
        first.line.waypoints.truncate(leg);
        second.line.waypoints = run.line.waypoints[leg..].to_vec();
        if let Some(measured) = run.line.measured {
            let before = polyline_length(&path[..=leg]) + path[leg].distance(middle);
            let share = before / polyline_length(&path).max(f64::MIN_POSITIVE);
            first.line.measured = Some(measured * share);
            second.line.measured = Some(measured * (1.0 - share));
        }
        // Each piece keeps the allowances of the hinges it crosses, as they were entered.
        let bar = &self.project().bar;
        let joint = [BarPoint { place: middle, section: part.section }];
        let head = [&laid.path[..=leg], &joint].concat();
        let tail = [&joint, &laid.path[leg + 1..]].concat();
        let mut allowances = run.line.crossings.clone();
        first.line.crossings = taken_from(&mut allowances, &bar.hinges_along(&head));
        second.line.crossings = taken_from(&mut allowances, &bar.hinges_along(&tail));
        let id = part.id;
        let edits = [
            Edit::PutPart(routing.id, part),
            Edit::PutRun(routing.id, first),
            Edit::PutRun(routing.id, second),
        ];
        self.edit(name, edits)?;
        self.editor.selection.set([Subject::Part(id)]);
        Ok(())
    }

    /// The tee whose bore is nearest to that of a hose.
    pub(super) fn tee_for(&self, stock: &StockKey) -> Option<PartKey> {
        let catalogue = &self.project().catalogue;
        let wanted = catalogue.stock(stock).map_or(0.0, |stock| stock.bore.si());
        let tees = catalogue.of::<PartKey>().filter_map(|(key, item)| match item {
            PartItem::Tee(Tee { bore, .. }) => Some(((bore.si() - wanted).abs(), key)),
            _ => None,
        });
        tees.min_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, key)| key)
    }

    /// Takes a part that sits between two hoses of one stock out of a routing, and makes those one hose; false, and
    /// nothing done, where it sits otherwise. A tee counts as long as its branch is free or plugged: a plug goes with it.
    pub(super) fn heal(&self, next: &mut Routing, id: PartId, keep: impl Fn(RunId) -> bool) -> bool {
        let catalogue = &self.project().catalogue;
        let Some(part) = next.part(id).cloned() else { return false };
        let Some(item) = catalogue.item(&part.entry) else { return false };
        if !item.is_in_line() {
            return false;
        }
        let on = |port| next.on_port(PortRef { part: id, port });
        let plugs: Vec<PartId> = on(Port::Branch)
            .into_iter()
            .filter_map(|one| match one {
                Connection::Mounted(plug) => Some(plug),
                _ => None,
            })
            .filter(|plug| {
                let item = next.part(*plug).and_then(|plug| catalogue.item(&plug.entry));
                matches!(item, Some(PartItem::BlankingPlug(_)))
            })
            .collect();
        if on(Port::Branch).len() != plugs.len() {
            return false;
        }
        let ([Connection::Run(a)], [Connection::Run(b)]) = (&on(Port::In)[..], &on(Port::Out)[..]) else {
            return false;
        };
        let (Some(a), Some(b)) = (next.run(*a).cloned(), next.run(*b).cloned()) else { return false };
        if a.id == b.id || a.line.stock != b.line.stock || !keep(a.id) || !keep(b.id) {
            return false;
        }
        // The one that was there first keeps its tag, and the way it runs.
        let (first, second) = if a.id < b.id { (a, b) } else { (b, a) };
        let at = |end: &End| end.port().is_some_and(|port| port.part == id);
        let second = if at(&first.to) == at(&second.to) { turned_round(second) } else { second };
        let (head, tail) = if at(&first.to) { (&first, &second) } else { (&second, &first) };
        if Self::same_part(&head.from, &tail.to) {
            return false;
        }
        let anchors = Anchors::of(self.project(), next);
        let (Some(start), Some(end)) = (anchors.end(&head.from), anchors.end(&tail.to)) else { return false };
        let mut way = vec![start];
        way.extend_from_slice(&head.line.waypoints);
        let joint = way.len();
        way.push(BarPoint { place: part.position, section: part.section });
        way.extend_from_slice(&tail.line.waypoints);
        way.push(end);
        let (before, after) = (way[joint - 1], way[joint + 1]);
        if nearest_on_piece(part.position, before.place, after.place).distance(part.position) < STRAIGHT {
            way.remove(joint);
        }
        let mut fittings: Vec<FittingKey> = head.fittings.clone();
        fittings.pop();
        fittings.extend(tail.fittings.iter().skip(1).cloned());
        let mut one = Run { from: head.from, to: tail.to, fittings, ..first.clone() };
        one.line.waypoints = way[1..way.len() - 1].to_vec();
        // The sum only where both were measured; the part's own body is nobody's hose.
        one.line.measured = head.line.measured.zip(tail.line.measured).map(|(head, tail)| head + tail);
        one.line.crossings = head.line.crossings.iter().chain(&tail.line.crossings).copied().collect();
        next.parts.retain(|part| part.id != id && !plugs.contains(&part.id));
        next.runs.retain(|run| run.id != second.id);
        if let Some(slot) = next.runs.iter_mut().find(|run| run.id == first.id) {
            *slot = one;
        }
        true
    }

    /// Turns parts in one step, with their hoses. A tee's run is the same from both ends, so where a tee would be turned
    /// under crossed hoses, these change ends and each still leaves on its own side. With `round` they change in any
    /// case: turned by half, everything but the branch stays where it is.
    pub(super) fn turn_parts(
        &mut self,
        what: &str,
        parts: &[PartId],
        to: impl Fn(Angle) -> Angle,
        round: bool,
    ) -> Result<(), Refusal> {
        let mut next = self.routing().clone();
        let turning: Vec<PartId> = parts.iter().copied().filter(|id| next.part(*id).is_some()).collect();
        if turning.is_empty() {
            return Ok(());
        }
        let name = match turning[..] {
            [one] => format!("{what} {}", self.tag_of(Subject::Part(one))),
            _ => format!("{what} {} parts", turning.len()),
        };
        for part in next.parts.iter_mut().filter(|part| turning.contains(&part.id)) {
            part.turn = to(part.turn);
        }
        for id in &turning {
            if self.is_tee(*id) && (round || self.crossed(&next, *id)) {
                change_ends(&mut next, *id);
            }
        }
        self.change_parts(&name, &turning, vec![Edit::PutRouting(Box::new(next))])
    }

    /// Puts the branch of tees on the other side; the hoses of their runs stay where they are.
    pub fn branch_to_other_side(&mut self, parts: &[PartId]) -> Result<(), Refusal> {
        let tees: Vec<PartId> = parts.iter().copied().filter(|id| self.is_tee(*id)).collect();
        if tees.is_empty() {
            return Err(ToolRefusal::NoBranch.into());
        }
        let half = |turn: Angle| (turn + Angle::degrees(180.0)).within_a_turn();
        self.turn_parts("Branch to the other side of", &tees, half, true)
    }

    /// The part is a tee.
    pub fn is_tee(&self, id: PartId) -> bool {
        let entry = self.routing().part(id).map(|part| &part.entry);
        let item = entry.and_then(|entry| self.project().catalogue.item(entry));
        matches!(item, Some(PartItem::Tee(_)))
    }

    /// The hoses of a tee's run would be nearer to where they come from if they changed ends.
    fn crossed(&self, routing: &Routing, tee: PartId) -> bool {
        let anchors = Anchors::of(self.project(), routing);
        let place = |port| anchors.port(PortRef { part: tee, port }).map(|at| at.place);
        let (Some(a), Some(b)) = (place(Port::In), place(Port::Out)) else { return false };
        let middle = a.towards(b, 0.5);
        let far = |run: &Run, at_start: bool| {
            let other = if at_start { &run.to } else { &run.from };
            let other = anchors.end(other)?;
            let mut way = run.line.waypoints.clone();
            if !at_start {
                way.reverse();
            }
            Some(
                way.into_iter()
                    .find(|point| point.place.distance(middle) > COMES_FROM)
                    .unwrap_or(other)
                    .place,
            )
        };
        let ends = routing.runs.iter().flat_map(|run| [(run, true, run.from), (run, false, run.to)]);
        let gains = ends.filter_map(|(run, at_start, end)| {
            let port = end.port().filter(|port| port.part == tee)?.port;
            let from = far(run, at_start)?;
            match port {
                Port::In => Some(from.distance(a) - from.distance(b)),
                Port::Out => Some(from.distance(b) - from.distance(a)),
                _ => None,
            }
        });
        // Neither is crossed where it makes no odds.
        gains.sum::<f64>() > STRAIGHT
    }
}

/// What is on the one end of a tee's run goes to the other, and the other way round.
fn change_ends(routing: &mut Routing, tee: PartId) {
    let change = |port: &mut PortRef| {
        if port.part == tee {
            port.port = match port.port {
                Port::In => Port::Out,
                Port::Out => Port::In,
                other => other,
            };
        }
    };
    for end in routing.runs.iter_mut().flat_map(|run| [&mut run.from, &mut run.to]) {
        if let End::Port(port) = end {
            change(port);
        }
    }
    for mount in routing.parts.iter_mut().filter_map(|part| part.mount.as_mut()) {
        change(mount);
    }
}

/// The same hose seen from its other end.
fn turned_round(mut run: Run) -> Run {
    std::mem::swap(&mut run.from, &mut run.to);
    run.line.waypoints.reverse();
    run.line.crossings.reverse();
    for one in &mut run.line.crossings {
        one.clamps = one.clamps.map(ClampPlaces::turned_round);
    }
    run.fittings.reverse();
    run
}

/// The allowances of these hinges, taken out of a list.
fn taken_from(all: &mut Vec<HingeCrossing>, hinges: &[SectionId]) -> Vec<HingeCrossing> {
    let mut taken = Vec::new();
    for hinge in hinges {
        if let Some(at) = all.iter().position(|one| one.section == *hinge) {
            taken.push(all.remove(at));
        }
    }
    taken
}

/// The leg and the place on it nearest to a point at which a body of the given half length fits into the leg.
fn place_on(path: &[Point3], at: Point2, half: f64) -> Option<(usize, Point3)> {
    let mut best: Option<(f64, usize, Point3)> = None;
    for (leg, pair) in path.windows(2).enumerate() {
        let (a, b) = (pair[0], pair[1]);
        // The body lies flat, so it is the flat length that must hold it.
        let flat = a.flat().distance(b.flat());
        if flat <= 2.0 * half {
            continue;
        }
        let margin = half / flat;
        let lift = |point: Point3| Point3::new(point.x, point.y, 0.0);
        let foot = nearest_on_piece(Point3::new(at.x, at.y, 0.0), lift(a), lift(b));
        let share = (foot.flat().distance(a.flat()) / flat).clamp(margin, 1.0 - margin);
        let place = a.towards(b, share);
        let away = place.flat().distance(at);
        if best.is_none_or(|(least, _, _)| away < least) {
            best = Some((away, leg, place));
        }
    }
    best.map(|(_, leg, place)| (leg, place))
}
