//! A routing: one complete way of plumbing the bar.

use serde::{Deserialize, Serialize};

use super::bar::Bar;
use super::bar_point::BarPoint;
use super::catalogue::EntryKey;
use super::feed::{FeedElement, RowFeed};
use super::part::{Part, Port, PortRef};
use super::run::{End, Run};
use super::{FeedId, PartId, RoutingId, RowId, RunId, SectionId, Subject};

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

    /// The tag of something on a bar, as people read it; empty where there is no such thing.
    pub fn tag_of(&self, subject: Subject, bar: &Bar) -> String {
        match subject {
            Subject::Part(id) => self.part(id).map(|part| part.tag.clone()),
            Subject::Run(id) => self.run(id).map(|run| run.tag.clone()),
            Subject::Feed(id) => self.feed(id).map(|feed| feed.tag.clone()),
            Subject::Row(id) => bar.row(id).map(|row| format!("row {}", row.number)),
        }
        .unwrap_or_default()
    }

    /// The first feed of a row.
    pub fn feed_of(&self, row: RowId) -> Option<&RowFeed> {
        self.feeds.iter().find(|feed| feed.feeds(row))
    }

    /// The tube or metering tube that the cut list names so; none for a hose, and for what is not there.
    pub fn cut_element_mut(&mut self, tag: &str) -> Option<&mut FeedElement> {
        // A feed may be called as another one's piece would be.
        let feeds = || self.feeds.iter().enumerate();
        let own = feeds().find(|(_, feed)| feed.tag == tag).map(|(at, _)| (at, 1));
        let (at, number) =
            own.or_else(|| feeds().find_map(|(at, feed)| Some((at, feed.piece_number(tag)?))))?;
        self.feeds.get_mut(at)?.elements_mut().filter(|one| one.is_cut()).nth(number - 1)
    }

    /// Every tag in use.
    pub fn tags(&self) -> impl Iterator<Item = &str> {
        let parts = self.parts.iter().map(|part| part.tag.as_str());
        parts
            .chain(self.runs.iter().map(|run| run.tag.as_str()))
            .chain(self.feeds.iter().map(|feed| feed.tag.as_str()))
    }

    /// Every catalogue entry that it uses, as often as it does.
    pub fn entries(&self) -> impl Iterator<Item = &EntryKey> {
        let parts = self.parts.iter().map(|part| part.entry.any());
        let runs = self.runs.iter().flat_map(|run| {
            std::iter::once(run.line.stock.any()).chain(run.fittings.iter().map(|one| one.any()))
        });
        let feeds = self.feeds.iter().flat_map(|feed| {
            let split = feed.split.iter().map(|split| split.entry.any());
            feed.elements().map(FeedElement::entry).chain(split)
        });
        parts.chain(runs).chain(feeds)
    }

    /// The first free tag with a letter: `M3` after `M1` and `M2`.
    pub fn free_tag(&self, letter: char) -> String {
        let used: Vec<&str> = self.tags().collect();
        (1..=u32::MAX)
            .map(|number| format!("{letter}{number}"))
            .find(|tag| !used.contains(&tag.as_str()))
            .unwrap_or_default()
    }

    /// The section of the part that an end is on; none for the pump and loose ends.
    pub fn carrier(&self, end: &End) -> Option<SectionId> {
        end.port().and_then(|port| self.part(port.part)).map(|part| part.section)
    }

    /// Every point of hoses and row feeds that rides on a section by itself: loose ends, waypoints, ends of tubes and small
    /// tees.
    pub fn points_mut(&mut self) -> impl Iterator<Item = &mut BarPoint> {
        fn loose(end: &mut End) -> Option<&mut BarPoint> {
            match end {
                End::Loose(point) => Some(point),
                End::Port(_) | End::Supply => None,
            }
        }
        let runs = self.runs.iter_mut().flat_map(|Run { from, to, line, .. }| {
            loose(from).into_iter().chain(loose(to)).chain(&mut line.waypoints)
        });
        let feeds = self.feeds.iter_mut().flat_map(|RowFeed { from, trunk, split, branches, .. }| {
            let elements =
                trunk.iter_mut().chain(branches.iter_mut().flat_map(|branch| &mut branch.elements));
            let tubes = elements.filter_map(|element| match element {
                FeedElement::Tube(tube) => Some(tube.line.waypoints.iter_mut().chain(&mut tube.end)),
                _ => None,
            });
            let split = split.iter_mut().map(|split| &mut split.position);
            loose(from).into_iter().chain(split).chain(tubes.flatten())
        });
        runs.chain(feeds)
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
