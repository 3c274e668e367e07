//! Ends of hoses and row feeds led elsewhere: dragged, or chosen from a list.

use super::Session;
use super::feed_ends::{FeedEnd, feed_moved};
use super::refusal::{Gone, Refusal};
use super::snap::{Snap, SnapTo};
use crate::geometry::{Point2, Point3};
use crate::plan::frame_graph::height_at;
use crate::plan::{Edit, End, FeedId, Port, PortRef, Routing, Run, RunId};

impl Session {
    pub(super) fn drag_end(&mut self, run: RunId, at_start: bool, at: Point2) -> Result<(), Refusal> {
        let Some(before) = self.run_before(run).cloned() else { return Ok(()) };
        let (own, other) = if at_start { (before.from, before.to) } else { (before.to, before.from) };
        let place = |point: Point2| Point3::new(point.x, point.y, height_at(&self.project().bar, point));
        let taken = self.taken_end_near(at, run, own);
        let end = match (self.snap_end(at, self.editor.reach, Some(run)), &taken) {
            // The port under the pointer is meant, though a free one is within reach too.
            (Some(end), None) if end != other => end,
            (_, Some((port, _, _))) => End::Port(*port),
            _ if own.port().is_some_and(|port| self.port_within(port, at)) => own,
            // A loose end that is moved keeps the section it rides on, as a waypoint does.
            _ => End::Loose(match own {
                End::Loose(was) => self.moved(was, place(at)),
                End::Port(_) | End::Supply => self.riding(place(at), &[]),
            }),
        };
        let to = match end {
            End::Port(port) => vec![SnapTo::Port(port)],
            End::Supply => vec![SnapTo::Supply],
            End::Loose(_) => Vec::new(),
        };
        let there = self.end_place(&end).unwrap_or_else(|| place(at));
        self.editor.snapped = Some(Snap { place: there, to });
        let exchanged = taken.as_ref().and_then(|(_, other, start)| {
            let other = self.run_before(*other)?;
            Some(self.reconnected(other, *start, own))
        });
        let changed = self.reconnected(&before, at_start, end);
        // Whoever was changed by the last move and is not by this one goes back to what it was.
        let changed: Vec<Run> = exchanged.into_iter().chain([changed]).collect();
        let routing = self.routing();
        let edits: Vec<Edit> = routing
            .runs
            .iter()
            .filter_map(|now| {
                let changed = changed.iter().find(|one| one.id == now.id);
                let next = changed.or_else(|| self.run_before(now.id))?;
                (now != next).then(|| Edit::PutRun(routing.id, next.clone()))
            })
            .collect();
        self.change_routing(|session| session.document.apply(edits))
    }

    /// The port nearest to a point that another hose sits on, that hose, and whether with its start: the two exchange
    /// ends. Not where a hose would lead from a part to itself, nor for an end that is loose and has none to give.
    fn taken_end_near(&self, at: Point2, run: RunId, own: End) -> Option<(PortRef, RunId, bool)> {
        let before = self.routing_before();
        own.port()?;
        let dragged = before.run(run)?;
        let kept = if dragged.from == own { dragged.to } else { dragged.from };
        let (_, port) = self.any_port_near(at, self.editor.reach, |port| port.port != Port::Gauge)?;
        let others = before.runs.iter().filter(|other| other.id != run);
        let mut ends = others.flat_map(|one| [(one, true, one.from, one.to), (one, false, one.to, one.from)]);
        let (other, at_start, _, rest) = ends.find(|(_, _, end, _)| end.port() == Some(port))?;
        let alone = Self::same_part(&rest, &own) || Self::same_part(&kept, &End::Port(port));
        (!alone).then_some((port, other.id, at_start))
    }

    /// An outlet or row that is taken is exchanged; beside any outlet the feed hangs loose, beside any row it stays.
    pub(super) fn drag_feed_end(&mut self, feed: FeedId, at_outlet: bool, at: Point2) -> Result<(), Refusal> {
        let before = self.routing_before();
        let bar = &self.project().bar;
        let (to, snap) = if at_outlet {
            let feeds = |port: &PortRef| {
                let taken = before.connections().any(|(one, _)| one == *port);
                let by_feed = before.feeds.iter().any(|feed| feed.from.port() == Some(*port));
                matches!(port.port, Port::Outlet(_)) && (!taken || by_feed)
            };
            if let Some((_, port)) = self.any_port_near(at, self.editor.reach, feeds) {
                (FeedEnd::Outlet(port), vec![SnapTo::Port(port)])
            } else {
                let place = Point3::new(at.x, at.y, height_at(bar, at));
                let lies = match before.feed(feed).map(|feed| feed.from) {
                    Some(End::Loose(was)) => self.moved(was, place),
                    _ => self.riding(place, &[]),
                };
                (FeedEnd::Loose(lies), Vec::new())
            }
        } else {
            let away = |row: &crate::plan::Row| bar.outlet(row).flat().distance(at);
            let near = bar.rows.iter().filter(|row| away(row) <= self.editor.reach);
            match near.min_by(|a, b| away(a).total_cmp(&away(b))) {
                Some(row) => (FeedEnd::Row(row.id), vec![SnapTo::Outlet(row.id)]),
                None => (FeedEnd::AsItWas, Vec::new()),
            }
        };
        let place = match snap[..] {
            [SnapTo::Port(port)] => self.geometry().anchors.port(port).map(|at| at.place),
            [SnapTo::Outlet(row)] => bar.row(row).map(|row| bar.outlet(row)),
            _ => None,
        };
        let place = place.unwrap_or_else(|| Point3::new(at.x, at.y, height_at(bar, at)));
        let moved = feed_moved(self.project(), &self.frame(), before, feed, to);
        let edits = moved.map(|next| differences(self.routing(), next));
        self.editor.snapped = Some(Snap { place, to: snap });
        let edits = edits?;
        self.change_routing(|session| session.document.apply(edits))
    }

    fn port_within(&self, port: PortRef, at: Point2) -> bool {
        let place = self.geometry().anchors.port(port);
        place.is_some_and(|port| port.place.flat().distance(at) <= self.editor.reach)
    }

    /// Connects an end of a hose elsewhere. A hose that lay along the frame goes on doing so.
    pub fn reconnect(&mut self, run: RunId, at_start: bool, end: End) -> Result<(), Refusal> {
        let Some(before) = self.routing().run(run).cloned() else { return Err(Gone::Hose.into()) };
        let name = format!("Reconnect {}", before.tag);
        let changed = self.reconnected(&before, at_start, end);
        let routing = self.routing().id;
        self.edit(&name, [Edit::PutRun(routing, changed)])
    }

    pub(super) fn reconnected(&self, run: &Run, at_start: bool, end: End) -> Run {
        let follows = self.follows_frame(&self.frame(), run);
        let mut changed = run.clone();
        if at_start {
            changed.from = end;
        } else {
            changed.to = end;
        }
        if follows && let Some(waypoints) = self.frame_waypoints(&changed.from, &changed.to) {
            changed.line.waypoints = waypoints;
        }
        self.recross(&mut changed);
        changed
    }
}

/// The edits that make one routing of another: only what differs where both have the same hoses and row feeds, so that a
/// drag proves no more than it changes.
pub(super) fn differences(now: &Routing, next: Routing) -> Vec<Edit> {
    let Routing { id, name, note, parts, runs, feeds } = &next;
    let is_like = now.id == *id && now.name == *name && now.note == *note && now.parts == *parts;
    let has_same = now.runs.iter().map(|run| run.id).eq(runs.iter().map(|run| run.id))
        && now.feeds.iter().map(|feed| feed.id).eq(feeds.iter().map(|feed| feed.id));
    if !is_like || !has_same {
        return vec![Edit::PutRouting(Box::new(next))];
    }
    let runs = now.runs.iter().zip(runs).filter(|(now, next)| now != next);
    let feeds = now.feeds.iter().zip(feeds).filter(|(now, next)| now != next);
    let runs = runs.map(|(_, run)| Edit::PutRun(*id, run.clone()));
    runs.chain(feeds.map(|(_, feed)| Edit::PutFeed(*id, feed.clone()))).collect()
}
