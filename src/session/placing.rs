//! Placing and moving parts: by click, by drag, by arrow keys, by number.

use std::f64::consts::FRAC_PI_2;

use super::Session;
use super::refusal::{Refusal, Remark, Reply, ToolRefusal};
use super::snap::{Ghost, Snap, SnapTo};
use super::tool::{Following, Gesture, Tool};
use crate::geometry::{Point2, Point3};
use crate::hydraulics::connectivity::connections;
use crate::plan::through_body::PlacedBody;
use crate::plan::{
    Anchors, Edit, InletFilter, Part, PartId, PartItem, PartKey, PlacedPart, Port, PortRef, Routing, Subject,
};
use crate::quantities::{Angle, Length};

/// A small step of the arrow keys.
pub(super) const SMALL_STEP: Length = Length::millimetres(10.0);
/// A large step of the arrow keys, with Shift.
pub(super) const LARGE_STEP: Length = Length::millimetres(100.0);

impl Session {
    /// The entry to place next of those that fit: like the one of them placed last; a first tee or valve as wide as the
    /// inlet filter's ports; or the first of the catalogue.
    pub fn usual_entry(&self, fits: impl Fn(&PartItem) -> bool) -> Option<PartKey> {
        let catalogue = &self.project().catalogue;
        let placed = self.routing().parts.iter().rev().map(|part| &part.entry);
        let last = placed.into_iter().find(|entry| catalogue.item(*entry).is_some_and(&fits)).cloned();
        let as_wide = || {
            let filter = self.filter_bore()?.si();
            let fitting = catalogue.of::<PartKey>().filter(|(_, item)| fits(item));
            let in_line = fitting.filter(|(_, item)| item.is_in_line());
            let bores = in_line.filter_map(|(key, item)| Some(((item.bore()?.si() - filter).abs(), key)));
            bores.min_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, key)| key)
        };
        last.or_else(as_wide).or_else(|| catalogue.first(&fits))
    }

    /// Bore of the ports of the first inlet filter that is placed.
    pub(super) fn filter_bore(&self) -> Option<Length> {
        let items = self.routing().parts.iter().filter_map(|part| self.project().catalogue.item(&part.entry));
        items.into_iter().find_map(|item| match item {
            PartItem::InletFilter(InletFilter { bore, .. }) => Some(*bore),
            _ => None,
        })
    }

    /// The part that a click would place, or the parts that it would paste; empty with any other tool.
    pub fn ghosts(&self, at: Point2, reach: f64) -> Vec<Ghost> {
        match &self.editor.tool {
            Tool::Place(entry) => self.ghost(entry, at, reach).into_iter().collect(),
            Tool::Paste => self.paste_ghosts(at, reach),
            _ => Vec::new(),
        }
    }

    fn ghost(&self, entry: &PartKey, at: Point2, reach: f64) -> Option<Ghost> {
        let item = self.project().catalogue.item(entry)?;
        let turn = self.editor.placing_turn;
        if let Some(port) = self.mount_for(item, at, reach) {
            let placed = self.geometry().anchors.placed_port(port)?;
            let place = placed.at.place;
            let snap = Snap { place, to: vec![SnapTo::Port(port)] };
            let host = self.geometry().anchors.part(port.part)?;
            let (place, turn) = host.mounted(placed);
            return Some(Ghost {
                entry: entry.clone(),
                place,
                turn,
                mount: Some(port),
                snap,
                over: Vec::new(),
            });
        }
        let sized = self.sized_for_hose(entry, at, reach);
        let in_hose = self.project().catalogue.item(&sized).unwrap_or(item);
        if let Some(spot) = self.spot_in_hose(in_hose, at, reach) {
            let snap = Snap { place: spot.place, to: vec![SnapTo::Hose(spot.run)] };
            let over = self.lies_over(in_hose, spot.place, spot.turn, &self.selected_parts());
            let (entry, place, turn) = (sized, spot.place, spot.turn);
            return Some(Ghost { entry, place, turn, mount: None, snap, over });
        }
        let snap = self.snap_part(entry, turn, &[], at, reach);
        // What was placed by the last click lies there of course, as long as the pointer rests.
        let over = self.lies_over(item, snap.place, turn, &self.selected_parts());
        Some(Ghost { entry: entry.clone(), place: snap.place, turn, mount: None, snap, over })
    }

    /// Tags of the parts that something at a place would lie over, apart from some. Parts may stand one above the other
    /// on a bar, so this is told and not refused; gauges and plugs stick out anyway and are not looked at.
    pub(super) fn lies_over(
        &self,
        item: &PartItem,
        place: Point3,
        turn: Angle,
        apart: &[PartId],
    ) -> Vec<String> {
        if item.is_on_port() {
            return Vec::new();
        }
        let body = item.body();
        let own = PlacedBody { at: place, turn, body, half_height: body.half_depth };
        let anchors = &self.geometry().anchors;
        let others = self.routing().parts.iter().filter(|part| !apart.contains(&part.id));
        let meets = |part: &&Part| {
            let other = anchors.part(part.id).and_then(PlacedPart::placed_body);
            other.is_some_and(|other| own.lies_in(&other))
        };
        others.filter(meets).map(|part| part.tag.clone()).collect()
    }

    /// Which parts the moved or placed ones lie over now.
    fn over(&self, parts: &[PartId]) -> Option<Remark> {
        let routing = self.routing();
        let catalogue = &self.project().catalogue;
        parts.iter().find_map(|id| {
            let part = routing.part(*id)?;
            let placed = self.geometry().anchors.part(*id)?;
            let over = self.lies_over(catalogue.item(&part.entry)?, placed.at, placed.turn, parts);
            (!over.is_empty()).then(|| Remark::LiesOver { tag: part.tag.clone(), over: over.join(", ") })
        })
    }

    /// The port a gauge or plug goes onto; a plug also takes an outlet from a row.
    fn mount_for(&self, item: &PartItem, at: Point2, reach: f64) -> Option<PortRef> {
        match (item.is_on_port(), item.facts().closes_ports) {
            // A manifold's gauge port is made for what is read: it goes before any other port.
            (true, false) => self
                .nearest_port(at, reach, |port| port.port == Port::Gauge)
                .or_else(|| self.gauge_port_under(at))
                .or_else(|| self.nearest_port(at, reach, |port| self.takes_mounts(port.part))),
            (true, true) => self
                .nearest_port(at, reach, |port| port.port != Port::Gauge && self.takes_mounts(port.part))
                .or_else(|| self.fed_outlet_near(at, reach)),
            (false, _) => None,
        }
    }

    /// The free gauge port of the manifold whose body is at a point.
    fn gauge_port_under(&self, at: Point2) -> Option<PortRef> {
        let (routing, catalogue) = (self.routing(), &self.project().catalogue);
        let is_under = |part: PartId| {
            let Some(part) = routing.part(part) else { return false };
            let Some(item) = catalogue.item(&part.entry) else { return false };
            let Some(&PlacedPart { at: middle, turn, .. }) = self.geometry().anchors.part(part.id) else {
                return false;
            };
            let (sin, cos) = turn.si().sin_cos();
            let (x, y) = (at.x - middle.x, at.y - middle.y);
            (x * cos + y * sin).abs() <= item.body().half_length
                && (y * cos - x * sin).abs() <= item.body().half_depth
        };
        self.nearest_port(at, f64::INFINITY, |port| port.port == Port::Gauge && is_under(port.part))
    }

    /// The free ports that the gauge or plug in hand may be screwed onto, to be shown; empty with any other tool.
    pub fn mounts_in_hand(&self) -> Vec<PortRef> {
        let Tool::Place(entry) = &self.editor.tool else { return Vec::new() };
        let item = self.project().catalogue.item(entry).filter(|item| item.is_on_port());
        let Some(item) = item else { return Vec::new() };
        let plug = item.facts().closes_ports;
        let taken = connections(self.routing());
        let ports = self.routing().parts.iter().filter(|part| self.takes_mounts(part.id)).flat_map(|part| {
            let item = self.project().catalogue.item(&part.entry);
            let ports = item.map(PartItem::ports).unwrap_or_default();
            ports.into_iter().map(|port| PortRef { part: part.id, port })
        });
        ports.filter(|port| !taken.contains_key(port) && (!plug || port.port != Port::Gauge)).collect()
    }

    /// A gauge is not screwed onto another gauge, nor onto a plug.
    fn takes_mounts(&self, part: PartId) -> bool {
        let item = self.routing().part(part).and_then(|part| self.project().catalogue.item(&part.entry));
        !item.is_some_and(PartItem::is_on_port)
    }

    /// The nearest outlet within reach that a row feed sits on.
    fn fed_outlet_near(&self, at: Point2, reach: f64) -> Option<PortRef> {
        let fed = |port: &PortRef| self.routing().feeds.iter().any(|feed| feed.from.port() == Some(*port));
        self.any_port_near(at, reach, fed).map(|(_, port)| port)
    }

    pub(super) fn new_part(&self, entry: &PartKey, item: &PartItem, place: Point3, turn: Angle) -> Part {
        let letter = self.project().tag_letters.part(item.item_kind());
        let section = self.project().bar.section_at(place.x);
        Part {
            id: PartId::next(self.routing().parts.iter().map(|part| part.id)),
            tag: self.routing().free_tag(letter),
            entry: entry.clone(),
            section: section.map_or(crate::plan::SectionId(0), |section| section.id),
            position: place,
            turn,
            mount: None,
            shut: false,
        }
    }

    /// Places a part: a gauge or plug onto the nearest free port within reach; a filter, tee or valve into the hose
    /// within reach; anything else on the bar, snapped. A plug on an outlet that feeds a row sends the row to the next one.
    pub fn place(&mut self, entry: &PartKey, at: Point2, reach: f64) -> Reply {
        let Some(item) = self.project().catalogue.item(entry).copied() else {
            return Err(Refusal::NotInCatalogue(entry.clone()));
        };
        let Some(ghost) = self.ghost(entry, at, reach) else { return Ok(None) };
        if ghost.mount.is_none() && item.facts().closes_ports {
            return Err(ToolRefusal::NoPortForPlug.into());
        }
        let fed = ghost.mount.filter(|_| item.facts().closes_ports).and_then(|port| {
            let feed = self.routing().feeds.iter().find(|feed| feed.from.port() == Some(port))?;
            feed.branches.first().map(|branch| branch.row)
        });
        if let Some(row) = fed {
            return self.leave_blank(row);
        }
        let sized = self.sized_for_hose(entry, at, reach);
        let in_hose = self.project().catalogue.item(&sized).copied().unwrap_or(item);
        if let Some(spot) = self.spot_in_hose(&in_hose, at, reach).filter(|_| ghost.mount.is_none()) {
            self.put_into_hose(&spot, &sized)?;
            return Ok(self.over(&self.selected_parts()));
        }
        let part = self.new_part(entry, &item, ghost.snap.place, self.editor.placing_turn);
        let part = Part { mount: ghost.mount, ..part };
        let (id, tag, routing) = (part.id, part.tag.clone(), self.routing().id);
        self.edit(&format!("Place {tag}"), [Edit::PutPart(routing, part)])?;
        self.editor.selection.set([Subject::Part(id)]);
        Ok(match ghost.mount {
            Some(port) => {
                let host = self.tag_of(Subject::Part(port.part));
                Some(Remark::Mounted { tag, port: self.geometry().anchors.port_words(&host, port) })
            }
            None => self.over(&[id]),
        })
    }

    pub(super) fn drag_parts(
        &mut self,
        grip: PartId,
        parts: &[PartId],
        following: &Following,
        start: Point2,
        at: Point2,
    ) -> Reply {
        let Some(before) = self.document.before().cloned() else { return Ok(None) };
        let Some(before) = before.routing(self.routing().id) else { return Ok(None) };
        let Some(held) = before.part(grip) else { return Ok(None) };
        let anchors = Anchors::of(self.project(), before);
        let Some(&PlacedPart { at: place, turn, .. }) = anchors.part(grip) else { return Ok(None) };
        let wanted = Point2::new(place.x + at.x - start.x, place.y + at.y - start.y);
        let snap = self.snap_part(&held.entry, turn, parts, wanted, self.editor.reach);
        let by = Point3::new(snap.place.x - place.x, snap.place.y - place.y, 0.0);
        self.editor.snapped = Some(snap);
        self.move_from(before, &anchors, parts, following, by)
    }

    /// Moves parts from where they were in a routing, and brings their hoses along.
    fn move_from(
        &mut self,
        before: &Routing,
        anchors: &Anchors,
        parts: &[PartId],
        following: &Following,
        by: Point3,
    ) -> Reply {
        let routing = self.routing().id;
        let moves: Vec<Edit> = parts
            .iter()
            .filter_map(|id| anchors.part(*id))
            .map(|part| Edit::MovePart(routing, part.id, part.at + by))
            .collect();
        self.change_with_hoses(before, anchors, parts, following, moves)?;
        Ok(self.over(parts))
    }

    /// Moves the selected parts by a step of the arrow keys. Steps that follow each other are one step of undo.
    pub fn nudge(&mut self, right: f64, forward: f64) -> Reply {
        let selected = self.selected_parts();
        let routing = self.routing();
        let mounted = |id: &PartId| routing.part(*id).is_some_and(|part| part.mount.is_some());
        let parts: Vec<PartId> = selected.iter().copied().filter(|id| !mounted(id)).collect();
        if parts.is_empty() {
            return if selected.is_empty() { Ok(None) } else { Err(ToolRefusal::Mounted.into()) };
        }
        let goes_on = self.editor.nudged.as_ref().is_some_and(|(what, edits)| {
            let is_idle = self.editor.gesture == Gesture::None;
            is_idle && *what == self.editor.selection && *edits == self.edits()
        });
        self.give_up_gesture();
        if goes_on {
            self.document.reopen();
        }
        let name = match parts[..] {
            [one] => format!("Move {}", self.tag_of(Subject::Part(one))),
            _ => format!("Move {} parts", parts.len()),
        };
        self.begin(&name);
        let before = self.routing().clone();
        let following = self.following(&parts);
        let anchors = self.geometry().anchors.clone();
        let by = Point3::new(right, forward, 0.0);
        let reply = self.move_from(&before, &anchors, &parts, &following, by);
        self.commit()?;
        self.editor.nudged = Some((self.editor.selection.clone(), self.edits()));
        reply
    }

    /// Turns what is to be placed, or else the selected parts, by quarters, counter-clockwise.
    pub fn turn_by_quarters(&mut self, quarters: i8) -> Result<(), Refusal> {
        let turned = |turn: Angle| {
            let quarters_now = turn.si() / FRAC_PI_2 + f64::from(quarters);
            // Whole quarters stay whole, however often it is turned.
            let near = quarters_now.round();
            let exact = if (quarters_now - near).abs() < 1e-9 { near } else { quarters_now };
            Angle::from_si(exact * FRAC_PI_2).within_a_turn()
        };
        if matches!(self.editor.tool, Tool::Place(_) | Tool::Paste) {
            self.editor.placing_turn = turned(self.editor.placing_turn);
            return Ok(());
        }
        self.turn_parts("Turn", &self.selected_parts(), turned, false)
    }
}
