//! Mirroring a wing: the other wing is plumbed the same way, seen in a mirror (x becomes −x).
//!
//! A wing is every section that lies wholly on one side of the bar's centre. What lies on the centre section stays:
//! a hose that comes from there is connected to the part that stands opposite, to the opposite port of a part in
//! the middle, or ends loose where the mirrored port would be.

use std::collections::{BTreeMap, BTreeSet};

use super::Session;
use super::refusal::{MirrorError, Remark, Reply};
use super::rows::numbers_text;
use super::side::Side;
use crate::geometry::Point3;
use crate::plan::kinds::Mirrored;
use crate::plan::run::Line;
use crate::plan::{
    Anchors, Bar, BarPoint, Edit, End, FeedElement, FeedId, HingeCrossing, Part, PartId, PartItem,
    PlacedPart, Port, PortRef, Project, Routing, RowFeed, RowId, Run, RunId, SectionId,
};
use crate::quantities::Angle;

/// How far from its mirrored place something may stand and still be its counterpart, metres.
const OPPOSITE: f64 = 0.05;

impl Session {
    /// Plumbs the other wing as this one is, in one step: what is there is replaced, tags are given anew, rows are
    /// matched by their mirrored place. What could not be carried over is said.
    pub fn mirror(&mut self, from: Side) -> Reply {
        let (next, notes) = Mirror::new(self.project(), self.routing(), from)?.done();
        let name = format!("Mirror the {} wing", from.label());
        self.edit(&name, [Edit::PutRouting(Box::new(next))])?;
        Ok((!notes.is_empty()).then_some(Remark::NotMirrored(notes)))
    }

    /// There is something on a wing to plumb the other one by, and a wing opposite.
    pub(super) fn can_mirror(&self, from: Side) -> bool {
        let opposite = opposite_sections(&self.project().bar, from);
        self.routing().parts.iter().any(|part| opposite.contains_key(&part.section))
    }
}

/// The sections of a wing that have a section opposite, each with that one.
fn opposite_sections(bar: &Bar, from: Side) -> BTreeMap<SectionId, SectionId> {
    let of = |side: Side| bar.sections.iter().filter(move |one| side_of(bar, one.id) == Some(side));
    let middle = |one: &crate::plan::Section| f64::midpoint(one.left.si(), one.right.si());
    let mut opposite = BTreeMap::new();
    for section in of(from) {
        let x = -middle(section);
        let nearest = of(from.other()).min_by(|a, b| (middle(a) - x).abs().total_cmp(&(middle(b) - x).abs()));
        if let Some(other) = nearest.filter(|other| (middle(other) - x).abs() <= other.width().si() / 2.0) {
            opposite.insert(section.id, other.id);
        }
    }
    opposite
}

/// A wing in the making.
struct Mirror<'a> {
    project: &'a Project,
    before: &'a Routing,
    /// Where it is.
    anchors: Anchors,
    next: Routing,
    /// Where the parts of the new routing are, once they are all there.
    next_anchors: Anchors,
    /// Sections of the wing that is copied, and the section opposite each.
    opposite: BTreeMap<SectionId, SectionId>,
    parts: BTreeMap<PartId, PartId>,
    notes: Vec<String>,
}

fn side_of(bar: &Bar, section: SectionId) -> Option<Side> {
    let section = bar.section(section)?;
    // Half a centimetre, so that a section that ends at the centre belongs to its side.
    if section.right.si() <= 0.005 {
        Some(Side::Left)
    } else if section.left.si() >= -0.005 {
        Some(Side::Right)
    } else {
        None
    }
}

const fn flip(point: Point3) -> Point3 {
    Point3::new(-point.x, point.y, point.z)
}

impl<'a> Mirror<'a> {
    fn new(project: &'a Project, before: &'a Routing, from: Side) -> Result<Self, MirrorError> {
        let bar = &project.bar;
        let opposite = opposite_sections(bar, from);
        if opposite.is_empty() {
            return Err(MirrorError::NoWing(from));
        }
        let wing: BTreeSet<SectionId> = opposite.keys().copied().collect();
        if !before.parts.iter().any(|part| wing.contains(&part.section)) {
            return Err(MirrorError::Bare(from));
        }
        let cleared: BTreeSet<SectionId> = bar
            .sections
            .iter()
            .map(|section| section.id)
            .filter(|id| side_of(bar, *id) == Some(from.other()))
            .collect();
        let anchors = Anchors::of(project, before);
        let next = Self::without(project, before, &anchors, &cleared);
        let next_anchors = Anchors::of(project, &next);
        Ok(Self {
            project,
            before,
            anchors,
            next,
            next_anchors,
            opposite,
            parts: BTreeMap::new(),
            notes: Vec::new(),
        })
    }

    /// The routing without what is on these sections: their parts, the hoses at those or wholly there, the feeds of
    /// their rows and of their manifolds.
    fn without(
        project: &Project,
        routing: &Routing,
        anchors: &Anchors,
        sections: &BTreeSet<SectionId>,
    ) -> Routing {
        let bar = &project.bar;
        let mut next = routing.clone();
        next.parts.retain(|part| !sections.contains(&part.section));
        let alive: BTreeSet<PartId> = next.parts.iter().map(|part| part.id).collect();
        let at_gone = |end: &End| end.port().is_some_and(|port| !alive.contains(&port.part));
        let over = |end: &End| {
            let at = anchors.end(end);
            !matches!(end, End::Supply) && at.is_some_and(|at| sections.contains(&at.section))
        };
        next.runs.retain(|run| {
            let there = over(&run.from) && over(&run.to);
            !at_gone(&run.from) && !at_gone(&run.to) && !there
        });
        next.feeds.retain(|feed| {
            let there = |row: RowId| bar.row(row).is_some_and(|row| sections.contains(&row.section));
            !at_gone(&feed.from) && !feed.branches.iter().any(|branch| there(branch.row))
        });
        // What was screwed onto a part that goes stands by itself.
        for part in &mut next.parts {
            if part.mount.is_some_and(|mount| !alive.contains(&mount.part)) {
                if let Some(placed) = anchors.part(part.id) {
                    (part.position, part.turn) = (placed.at, placed.turn);
                }
                part.mount = None;
            }
        }
        next
    }

    fn done(mut self) -> (Routing, Vec<String>) {
        let before = self.before;
        let in_wing = |part: &&Part| self.opposite.contains_key(&part.section);
        let mut wing: Vec<&Part> = before.parts.iter().filter(in_wing).collect();
        // Tags count from left to right on the new side.
        let x = |part: &Part| self.anchors.part(part.id).map_or(0.0, |placed| placed.at.x);
        wing.sort_by(|a, b| x(b).total_cmp(&x(a)));
        let mut fresh = PartId::next(before.parts.iter().map(|part| part.id));
        for part in &wing {
            self.parts.insert(part.id, fresh);
            fresh.0 = fresh.0.saturating_add(1);
        }
        for part in wing {
            self.part(part);
        }
        self.next_anchors = Anchors::of(self.project, &self.next);
        // So do those of hoses and tubes.
        let along = |end: &End| self.anchors.end(end).map_or(0.0, |at| at.place.x);
        let mut runs: Vec<&Run> = before.runs.iter().collect();
        runs.sort_by(|a, b| (along(&b.from) + along(&b.to)).total_cmp(&(along(&a.from) + along(&a.to))));
        let row = |feed: &RowFeed| {
            let rows = feed.branches.iter().filter_map(|branch| self.project.bar.row(branch.row));
            rows.map(|row| row.x.si()).fold(f64::NEG_INFINITY, f64::max)
        };
        let mut feeds: Vec<&RowFeed> = before.feeds.iter().collect();
        feeds.sort_by(|a, b| row(b).total_cmp(&row(a)));
        for run in runs {
            let at = |end: &End| end.port().is_some_and(|port| self.parts.contains_key(&port.part));
            if at(&run.from) || at(&run.to) {
                self.run(run);
            }
        }
        let mut lost = Vec::new();
        for feed in feeds {
            let row_in_wing = |row: RowId| {
                let section = self.project.bar.row(row).map(|row| row.section);
                section.is_some_and(|section| self.opposite.contains_key(&section))
            };
            let from_wing = feed.from.port().is_some_and(|port| self.parts.contains_key(&port.part));
            if (from_wing || feed.branches.iter().any(|branch| row_in_wing(branch.row))) && !self.feed(feed) {
                let rows = feed.branches.iter().filter_map(|branch| self.project.bar.row(branch.row));
                lost.extend(rows.map(|row| row.number));
            }
        }
        if !lost.is_empty() {
            self.notes.push(format!(
                "Rows {} have no free row opposite; connect those rows by hand",
                numbers_text(&lost)
            ));
        }
        (self.next, self.notes)
    }

    fn item(&self, id: PartId) -> Option<&'a PartItem> {
        self.project.catalogue.item(&self.before.part(id)?.entry)
    }

    fn part(&mut self, part: &Part) {
        let Some(&id) = self.parts.get(&part.id) else { return };
        let Some(item) = self.project.catalogue.item(&part.entry) else { return };
        let Some(&PlacedPart { at: position, turn, .. }) = self.anchors.part(part.id) else { return };
        let mount = part.mount.and_then(|mount| self.port(mount));
        let section = self.opposite.get(&part.section).copied().unwrap_or(part.section);
        let tag = self.next.free_tag(self.project.tag_letters.part(item.item_kind()));
        let turn = mirrored_turn(item, turn);
        self.next.parts.push(Part {
            id,
            tag,
            section,
            position: flip(position),
            turn,
            mount,
            ..part.clone()
        });
    }

    /// The port opposite one of the wing's.
    fn port(&self, port: PortRef) -> Option<PortRef> {
        let part = self.parts.get(&port.part)?;
        Some(PortRef { part: *part, port: self.item(port.part)?.mirrored_port(port.port) })
    }

    /// The port opposite one of a part that stays: of the part that stands opposite, or the opposite one of a part in
    /// the middle; none if it is taken.
    fn opposite_port(&self, port: PortRef) -> Option<PortRef> {
        let part = self.before.part(port.part)?;
        let catalogue = &self.project.catalogue;
        let place = flip(self.anchors.part(port.part)?.at);
        let wanted = flip(self.anchors.port(port)?.place);
        let taken: BTreeSet<PortRef> = self.next.connections().map(|(port, _)| port).collect();
        let other = self.next.parts.iter().find(|other| {
            let at = self.next_anchors.part(other.id).map(|placed| placed.at);
            other.entry == part.entry && at.is_some_and(|at| at.distance(place) <= OPPOSITE)
        })?;
        let ports = catalogue.item(&other.entry)?.ports();
        let free = |port: &Port| !taken.contains(&PortRef { part: other.id, port: *port });
        let at = |port: Port| self.next_anchors.port(PortRef { part: other.id, port }).map(|at| at.place);
        let opposite = ports
            .iter()
            .copied()
            .filter(free)
            .find(|one| at(*one).is_some_and(|place| place.distance(wanted) <= OPPOSITE / 2.0));
        // A part that is turned another way is entered by the same port.
        let same = (other.id != part.id && free(&port.port)).then_some(port.port);
        opposite.or(same).map(|port| PortRef { part: other.id, port })
    }

    /// The section opposite one: of the wing that is copied or of the one that is made; the centre is opposite itself.
    fn opposite_section(&self, section: SectionId) -> SectionId {
        let back = self.opposite.iter().find(|(_, to)| **to == section).map(|(from, _)| *from);
        self.opposite.get(&section).copied().or(back).unwrap_or(section)
    }

    fn flipped(&self, point: BarPoint) -> BarPoint {
        BarPoint { place: flip(point.place), section: self.opposite_section(point.section) }
    }

    fn end(&self, end: &End) -> End {
        match end {
            End::Supply => End::Supply,
            End::Loose(place) => End::Loose(self.flipped(*place)),
            End::Port(port) => {
                let place = || self.anchors.port(*port).unwrap_or_default();
                let opposite = self.port(*port).or_else(|| self.opposite_port(*port));
                opposite.map_or_else(|| End::Loose(self.flipped(place())), End::Port)
            }
        }
    }

    fn line(&self, line: &Line) -> Line {
        let crossing =
            |one: &HingeCrossing| HingeCrossing { section: self.opposite_section(one.section), ..*one };
        Line {
            waypoints: line.waypoints.iter().map(|point| self.flipped(*point)).collect(),
            crossings: line.crossings.iter().map(crossing).collect(),
            // Nobody has measured the other wing.
            measured: None,
            ..line.clone()
        }
    }

    fn run(&mut self, run: &Run) {
        let id = RunId::next(self.next.runs.iter().map(|run| run.id));
        let copy = Run {
            id,
            tag: self.next.free_tag(self.project.tag_letters.hose()),
            from: self.end(&run.from),
            to: self.end(&run.to),
            line: self.line(&run.line),
            fittings: run.fittings.clone(),
        };
        let loosened = |new: &End, old: &End| matches!(new, End::Loose(_)) && !matches!(old, End::Loose(_));
        if loosened(&copy.from, &run.from) || loosened(&copy.to, &run.to) {
            self.notes.push(format!(
                "{} has a loose end: the port opposite {} is in use or missing; drag the end to another port",
                copy.tag, run.tag
            ));
        }
        self.next.runs.push(copy);
    }

    /// Adds the mirrored feed; false where a row opposite is missing, not in use or fed already.
    fn feed(&mut self, feed: &RowFeed) -> bool {
        let rows: Option<Vec<RowId>> =
            feed.branches.iter().map(|branch| self.opposite_row(branch.row)).collect();
        let Some(rows) = rows else { return false };
        let mut copy = feed.clone();
        copy.id = FeedId::next(self.next.feeds.iter().map(|feed| feed.id));
        copy.tag = self.next.free_tag(self.project.tag_letters.row_feed());
        copy.from = self.end(&feed.from);
        for (branch, row) in copy.branches.iter_mut().zip(rows) {
            branch.row = row;
        }
        if let Some(split) = &mut copy.split {
            split.position = self.flipped(split.position);
        }
        let mirror = &*self;
        for element in copy.elements_mut() {
            if let FeedElement::Tube(tube) = element {
                tube.line = mirror.line(&tube.line);
                tube.end = tube.end.map(|end| mirror.flipped(end));
            }
        }
        self.next.feeds.push(copy);
        true
    }

    /// The free row in use nearest to the mirrored place of another, to half a row spacing.
    fn opposite_row(&self, row: RowId) -> Option<RowId> {
        let bar = &self.project.bar;
        let x = -bar.row(row)?.x.si();
        let free = bar.rows.iter().filter(|row| !row.left_out && self.next.feed_of(row.id).is_none());
        let nearest = free.min_by(|a, b| (a.x.si() - x).abs().total_cmp(&(b.x.si() - x).abs()))?;
        ((nearest.x.si() - x).abs() <= bar.row_spacing.si() / 2.0 + 1e-9).then_some(nearest.id)
    }
}

/// How a part is turned in the mirror. Most are as good in the mirror as they are, with ports changed over; what is not is
/// turned round instead.
fn mirrored_turn(item: &PartItem, turn: Angle) -> Angle {
    let turned = match item.mirrored() {
        Mirrored::TurnedRound => std::f64::consts::PI - turn.si(),
        Mirrored::Alike => -turn.si(),
    };
    Angle::from_si(turned).within_a_turn()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::part::place_offset;
    use crate::plan::{InletFilter, SectionValve, Tee};
    use crate::plan::{Manifold, ManifoldInlet};
    use crate::quantities::{Length, Pressure};

    /// How far the port of a mirrored part is from where the mirror shows it.
    fn apart(item: &PartItem, port: Port, turn: Angle) -> f64 {
        let wanted = flip(place_offset(Point3::default(), turn, item.port_offset(port)));
        let there = item.port_offset(item.mirrored_port(port));
        place_offset(Point3::default(), mirrored_turn(item, turn), there).distance(wanted)
    }

    #[test]
    fn ports_lie_where_the_mirror_shows_them() {
        let (bore, rated) = (Length::millimetres(19.0), Pressure::bar(10.0));
        let spacing = Length::millimetres(60.0);
        let manifold =
            |inlet| PartItem::Manifold(Manifold { outlets: 6, spacing, bore, k: 1.0, inlet, rated });
        let items = [
            PartItem::Tee(Tee { bore, k_through: 0.3, k_branch: 1.2, rated }),
            PartItem::SectionValve(SectionValve { bore, k: 1.0, rated }),
            PartItem::InletFilter(InletFilter { bore, k: 1.0, opening: Length::millimetres(0.3), rated }),
            manifold(ManifoldInlet::Middle),
            manifold(ManifoldInlet::End),
        ];
        for item in &items {
            for port in item.ports() {
                for degrees in [0.0, 90.0, 180.0, 37.0] {
                    let away = apart(item, port, Angle::degrees(degrees));
                    // The gauge port is a detail of the drawing; the far end of a manifold fed in its middle is at
                    // its right however it stands; a manifold turned round has its outlets on its other side.
                    let allowed = match (item, port) {
                        (PartItem::Manifold(_), Port::Gauge) => 1.0,
                        (PartItem::Manifold(Manifold { inlet: ManifoldInlet::Middle, .. }), Port::Out) => 1.0,
                        (PartItem::Manifold(Manifold { inlet: ManifoldInlet::End, .. }), Port::Outlet(_)) => {
                            0.1 + 1e-9
                        }
                        _ => 1e-9,
                    };
                    assert!(away <= allowed, "{} {port} at {degrees}°: {away}", item.kind());
                }
            }
        }
    }
}
