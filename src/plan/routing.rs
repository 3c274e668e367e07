//! A routing: one complete way of plumbing the bar.

use serde::{Deserialize, Serialize};

use super::bar::Bar;
use super::catalogue::{Catalogue, Item};
use super::feed::{FeedElement, FeedGeometry, RowFeed};
use super::frame_graph::{FrameGraph, Stop, hinges_along};
use super::part::{self, MOUNT_DISTANCE, Part, Port, PortRef};
use super::row::Row;
use super::run::{End, Run};
use super::supply::Supply;
use super::{FeedId, PartId, RoutingId, RowId, RunId, SectionId};
use crate::geometry::{Point2, Point3};
use crate::quantities::{Angle, Length};

/// One complete way of plumbing the bar.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Routing {
    /// Identity.
    pub id: RoutingId,
    /// Short, unique in the project: `A`.
    pub name: String,
    /// What it is about, in words.
    pub note: String,
    /// Placed parts.
    pub parts: Vec<Part>,
    /// Hoses.
    pub runs: Vec<Run>,
    /// Row feeds.
    pub feeds: Vec<RowFeed>,
}

impl Routing {
    /// Without anything.
    pub fn empty(id: RoutingId, name: impl Into<String>) -> Self {
        Self {
            id,
            name: name.into(),
            note: String::new(),
            parts: Vec::new(),
            runs: Vec::new(),
            feeds: Vec::new(),
        }
    }

    /// A part by its id.
    pub fn part(&self, id: PartId) -> Option<&Part> {
        self.parts.iter().find(|part| part.id == id)
    }

    /// A run by its id.
    pub fn run(&self, id: RunId) -> Option<&Run> {
        self.runs.iter().find(|run| run.id == id)
    }

    /// A feed by its id.
    pub fn feed(&self, id: FeedId) -> Option<&RowFeed> {
        self.feeds.iter().find(|feed| feed.id == id)
    }

    /// The first feed of a row.
    pub fn feed_of(&self, row: RowId) -> Option<&RowFeed> {
        self.feeds.iter().find(|feed| feed.feeds(row))
    }

    /// Every tag in use.
    pub fn tags(&self) -> impl Iterator<Item = &str> {
        let parts = self.parts.iter().map(|part| part.tag.as_str());
        parts
            .chain(self.runs.iter().map(|run| run.tag.as_str()))
            .chain(self.feeds.iter().map(|feed| feed.tag.as_str()))
    }

    /// The first free tag with a letter: `M3` after `M1` and `M2`.
    pub fn free_tag(&self, letter: char) -> String {
        let used: Vec<&str> = self.tags().collect();
        (1..=u32::MAX)
            .map(|number| format!("{letter}{number}"))
            .find(|tag| !used.contains(&tag.as_str()))
            .unwrap_or_default()
    }

    /// Where a part's middle is and how it is turned, following mounts. A mount that can't be followed (the host
    /// is gone, or mounts in a circle) leaves the part's own position.
    pub fn placement(&self, part: &Part, catalogue: &Catalogue) -> (Point3, Angle) {
        self.placement_within(part, catalogue, self.parts.len())
    }

    fn placement_within(&self, part: &Part, catalogue: &Catalogue, depth: usize) -> (Point3, Angle) {
        let Some(mount) = part.mount.filter(|_| depth > 0) else { return (part.position, part.turn) };
        let Some(host) = self.part(mount.part) else { return (part.position, part.turn) };
        let Some(item) = catalogue.item(&host.entry) else { return (part.position, part.turn) };
        let (at, turn) = self.placement_within(host, catalogue, depth - 1);
        let offset = part::port_offset(item, mount.port);
        // Off the host along the direction the port faces.
        let out = part::port_direction(item, mount.port);
        let away =
            Point2::new(offset.x + out.x * MOUNT_DISTANCE.si(), offset.y + out.y * MOUNT_DISTANCE.si());
        (part::place_offset(at, turn, away), turn)
    }

    /// Where a port is, working position.
    pub fn port_position(&self, port: PortRef, catalogue: &Catalogue) -> Option<Point3> {
        let part = self.part(port.part)?;
        let item = catalogue.item(&part.entry)?;
        let (at, turn) = self.placement(part, catalogue);
        Some(part::place_offset(at, turn, part::port_offset(item, port.port)))
    }

    /// A port of a part, as papers and screens call it: `inlet`, `outlet 4`, `branch`. The two ends of a tee's run are
    /// told apart by where they point on the bar: `left end`.
    pub fn port_name(&self, port: PortRef, catalogue: &Catalogue) -> String {
        let item = self.part(port.part).and_then(|part| catalogue.item(&part.entry));
        match (item, port.port) {
            (Some(Item::Tee { .. }), Port::In | Port::Out) => {
                format!("{} end", self.faces(port, catalogue).unwrap_or_default())
            }
            (Some(Item::Manifold { .. }), other) => other.to_string(),
            (_, Port::Out) => "outlet".to_owned(),
            (_, other) => other.to_string(),
        }
    }

    /// The side of the bar that a port of a part faces: `front`, `rear`, `left` or `right`.
    pub fn faces(&self, port: PortRef, catalogue: &Catalogue) -> Option<&'static str> {
        self.port_facing(port, catalogue).map(part::side)
    }

    /// Which way a port of a part faces as it is turned: a unit vector in the plan view.
    pub fn port_facing(&self, port: PortRef, catalogue: &Catalogue) -> Option<Point2> {
        let part = self.part(port.part)?;
        let (_, turn) = self.placement(part, catalogue);
        let (sin, cos) = turn.si().sin_cos();
        let out = part::port_direction(catalogue.item(&part.entry)?, port.port);
        Some(Point2::new(out.x * cos - out.y * sin, out.x * sin + out.y * cos))
    }

    /// Where an end is, working position.
    pub fn end_position(&self, end: &End, catalogue: &Catalogue, supply: &Supply) -> Option<Point3> {
        match end {
            End::Supply => Some(supply.pump),
            End::Port(port) => self.port_position(*port, catalogue),
            End::Loose(point) => Some(*point),
        }
    }

    /// Length of a run.
    pub fn run_length(&self, run: &Run, catalogue: &Catalogue, supply: &Supply) -> Option<Length> {
        let from = self.end_position(&run.from, catalogue, supply)?;
        let to = self.end_position(&run.to, catalogue, supply)?;
        Some(run.line.length(from, to))
    }

    /// Where the elements of a feed start and end: the trunk's, then each branch's.
    pub fn feed_geometry(
        &self,
        feed: &RowFeed,
        bar: &Bar,
        catalogue: &Catalogue,
        supply: &Supply,
    ) -> Option<FeedGeometry> {
        let from = self.end_position(&feed.from, catalogue, supply)?;
        feed.geometry(from, |row| Some(bar.outlet(bar.row(row)?)))
    }

    /// Brings the hinge allowances of a run in line with the hinges it crosses: those that are crossed stay as they
    /// were entered. The run need not be part of the routing yet.
    pub fn cross_run(&self, run: &mut Run, bar: &Bar, catalogue: &Catalogue, supply: &Supply) {
        let place = |end: &End| self.end_position(end, catalogue, supply);
        let (Some(from), Some(to)) = (place(&run.from), place(&run.to)) else { return };
        let path = run.line.path(from, to);
        let crossed = hinges_along(bar, self.carrier(&run.from), &path, self.carrier(&run.to));
        run.line.cross(&crossed);
    }

    /// The same for every tube of a row feed.
    pub fn cross_feed(&self, feed: &mut RowFeed, bar: &Bar, catalogue: &Catalogue, supply: &Supply) {
        let Some(geometry) = self.feed_geometry(feed, bar, catalogue, supply) else { return };
        let start = self.end_position(&feed.from, catalogue, supply);
        let carrier = self.carrier(&feed.from);
        let cross = |element: &mut FeedElement, from: Point3, to: Point3, row: Option<&Row>| {
            if let FeedElement::Tube(tube) = element {
                // Ends of a tube ride on the manifold's and the row's section, and between those on what is below.
                let first = carrier.filter(|_| Some(from) == start);
                let last = row.filter(|row| bar.outlet(row) == to).map(|row| row.section);
                let crossed = hinges_along(bar, first, &tube.line.path(from, to), last);
                tube.line.cross(&crossed);
            }
        };
        for (element, (from, to)) in feed.trunk.iter_mut().zip(geometry.trunk) {
            cross(element, from, to, None);
        }
        for (branch, places) in feed.branches.iter_mut().zip(geometry.branches) {
            let row = bar.row(branch.row);
            for (element, (from, to)) in branch.elements.iter_mut().zip(places) {
                cross(element, from, to, row);
            }
        }
    }

    /// The way along the frame of a feed that is one tube from its outlet to one row, perhaps with valve and metering
    /// at its end: along rails, then down to the opener. None for other feeds, and where no frame is near.
    pub fn feed_way(
        &self,
        frame: &FrameGraph,
        feed: &RowFeed,
        bar: &Bar,
        catalogue: &Catalogue,
        supply: &Supply,
    ) -> Option<Vec<Point3>> {
        let [branch] = &feed.branches[..] else { return None };
        let tubes = feed.elements().filter(|element| matches!(element, FeedElement::Tube(_))).count();
        if !feed.trunk.is_empty() || feed.split.is_some() || tubes != 1 {
            return None;
        }
        let row = bar.row(branch.row)?;
        let place = self.end_position(&feed.from, catalogue, supply)?;
        let from = Stop { place, section: self.carrier(&feed.from)? };
        let to = Stop { place: bar.outlet(row), section: row.section };
        frame.way(from, to).map(|way| way.waypoints)
    }

    /// The section of the part that an end is on; none for the pump and loose ends.
    pub fn carrier(&self, end: &End) -> Option<SectionId> {
        end.port().and_then(|port| self.part(port.part)).map(|part| part.section)
    }

    /// A part and everything mounted on it, directly or not.
    pub fn with_mounted(&self, id: PartId) -> Vec<PartId> {
        let mut all = vec![id];
        let mut at = 0;
        while let Some(host) = all.get(at).copied() {
            at += 1;
            let on_it = self.parts.iter().filter(|part| part.mount.is_some_and(|mount| mount.part == host));
            let fresh: Vec<PartId> = on_it.map(|part| part.id).filter(|id| !all.contains(id)).collect();
            all.extend(fresh);
        }
        all
    }

    /// After a part came onto another section: what is mounted on it rides along, and what is connected to any of
    /// them crosses other hinges.
    pub fn settle(&mut self, id: PartId, bar: &Bar, catalogue: &Catalogue, supply: &Supply) {
        let Some(section) = self.part(id).map(|part| part.section) else { return };
        let all = self.with_mounted(id);
        for part in self.parts.iter_mut().filter(|part| all.contains(&part.id)) {
            part.section = section;
        }
        let on = |end: &End| end.port().is_some_and(|port| all.contains(&port.part));
        let mut runs = std::mem::take(&mut self.runs);
        for run in runs.iter_mut().filter(|run| on(&run.from) || on(&run.to)) {
            self.cross_run(run, bar, catalogue, supply);
        }
        self.runs = runs;
        let mut feeds = std::mem::take(&mut self.feeds);
        for feed in feeds.iter_mut().filter(|feed| on(&feed.from)) {
            self.cross_feed(feed, bar, catalogue, supply);
        }
        self.feeds = feeds;
    }

    /// Every port something sits on, with what sits there: runs, feeds and mounted parts. A mounted part's own
    /// stem is taken by its host.
    pub fn connections(&self) -> impl Iterator<Item = (PortRef, Connection)> {
        let runs = self.runs.iter().flat_map(|run| {
            let ports = [run.from.port(), run.to.port()].into_iter().flatten();
            ports.map(|port| (port, Connection::Run(run.id)))
        });
        let feeds = self.feeds.iter().filter_map(|feed| Some((feed.from.port()?, Connection::Feed(feed.id))));
        let mounts =
            self.parts.iter().filter_map(|part| Some((part.id, part.mount?))).flat_map(|(id, mount)| {
                let stem = PortRef { part: id, port: Port::In };
                [(mount, Connection::Mounted(id)), (stem, Connection::Mounted(mount.part))]
            });
        runs.chain(feeds).chain(mounts)
    }

    /// What is connected to one port.
    pub fn on_port(&self, port: PortRef) -> Vec<Connection> {
        self.connections().filter(|(at, _)| *at == port).map(|(_, what)| what).collect()
    }

    /// The tube lengths of a feed in order, metres each.
    pub fn tube_lengths(
        &self,
        feed: &RowFeed,
        bar: &Bar,
        catalogue: &Catalogue,
        supply: &Supply,
    ) -> Vec<Length> {
        let Some(geometry) = self.feed_geometry(feed, bar, catalogue, supply) else { return Vec::new() };
        let ends = geometry.trunk.iter().chain(geometry.branches.iter().flatten());
        feed.elements()
            .zip(ends)
            .filter_map(|(element, (from, to))| match element {
                FeedElement::Tube(tube) => Some(tube.line.length(*from, *to)),
                _ => None,
            })
            .collect()
    }
}

/// Something that sits on a port.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Connection {
    /// An end of a run.
    Run(RunId),
    /// A row feed.
    Feed(FeedId),
    /// Another part, screwed on.
    Mounted(PartId),
}
