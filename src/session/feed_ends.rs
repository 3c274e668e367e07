//! Ends of row feeds: hung on an outlet, led to a row, exchanged with whoever is there.

use super::refusal::RowsError;
use crate::plan::routing_geometry::{cross_feed, feed_way, lies_on_frame};
use crate::plan::{Anchors, BarPoint, Edit, End, FeedId, FrameGraph, PortRef, Project, Routing, RowId};

/// Where an end of a row feed goes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum FeedEnd {
    /// Onto an outlet of a manifold.
    Outlet(PortRef),
    /// Off its outlet, lying at a point.
    Loose(BarPoint),
    /// To another row.
    Row(RowId),
    /// Where it was.
    AsItWas,
}

/// The routing with one end of a feed moved, from the routing as it was. Whoever sits on that outlet or row already takes
/// the place that becomes free.
pub(super) fn feed_moved(
    project: &Project,
    frame: &FrameGraph,
    before: &Routing,
    id: FeedId,
    to: FeedEnd,
) -> Result<Routing, RowsError> {
    let mut next = before.clone();
    let Some(feed) = before.feed(id) else { return Ok(next) };
    match to {
        FeedEnd::AsItWas => {}
        FeedEnd::Loose(place) => {
            if let Some(feed) = next.feeds.iter_mut().find(|feed| feed.id == id) {
                feed.from = End::Loose(place);
            }
        }
        FeedEnd::Outlet(port) => {
            let other = before.feeds.iter().find(|one| one.id != id && one.from.port() == Some(port));
            if let Some(other) = other {
                let Some(free) = feed.from.port() else { return Err(RowsError::Taken(other.tag.clone())) };
                hang(project, &mut next, frame, other.id, free);
            }
            hang(project, &mut next, frame, id, port);
        }
        FeedEnd::Row(row) => {
            let [branch] = &feed.branches[..] else { return Ok(next) };
            let free = branch.row;
            let other = before.feeds.iter().find(|one| one.id != id && one.feeds(row)).map(|one| one.id);
            if let Some(other) = other.filter(|_| free != row) {
                lead(project, &mut next, frame, other, row, free);
            }
            lead(project, &mut next, frame, id, free, row);
        }
    }
    Ok(next)
}

/// Hangs a feed on an outlet. On another manifold it takes the way along the frame, and a length that was measured
/// before no longer holds; on the same one it keeps a way that was drawn by hand.
pub(super) fn hang(project: &Project, routing: &mut Routing, frame: &FrameGraph, id: FeedId, port: PortRef) {
    let Some(at) = routing.feeds.iter().position(|feed| feed.id == id) else { return };
    let anchors = Anchors::of(project, routing);
    let mut feed = routing.feeds[at].clone();
    let before = feed.from.port();
    if before == Some(port) {
        return;
    }
    let followed = lies_on_frame(project, frame, &anchors, &feed);
    feed.from = End::Port(port);
    let way = feed_way(project, frame, &anchors, &feed);
    let another = before.is_none_or(|before| before.part != port.part);
    if let Some(tube) = feed.first_tube_mut() {
        if another || followed {
            tube.line.waypoints = way.unwrap_or_default();
        }
        if another {
            tube.line.measured = None;
        }
    }
    if another {
        cross_feed(&project.bar, &anchors, &mut feed);
    }
    routing.feeds[at] = feed;
}

/// Leads the branch of a feed for one row to another. A way along the frame is found anew; one drawn by hand stays.
fn lead(project: &Project, routing: &mut Routing, frame: &FrameGraph, id: FeedId, from: RowId, to: RowId) {
    let Some(at) = routing.feeds.iter().position(|feed| feed.id == id).filter(|_| from != to) else { return };
    let anchors = Anchors::of(project, routing);
    let mut feed = routing.feeds[at].clone();
    let followed = lies_on_frame(project, frame, &anchors, &feed);
    for branch in feed.branches.iter_mut().filter(|branch| branch.row == from) {
        branch.row = to;
    }
    let way = feed_way(project, frame, &anchors, &feed);
    if let Some(tube) = feed.first_tube_mut() {
        if followed {
            tube.line.waypoints = way.unwrap_or_default();
        }
        // Nobody has measured it on its way to the other row.
        tube.line.measured = None;
    }
    cross_feed(&project.bar, &anchors, &mut feed);
    routing.feeds[at] = feed;
}

pub(super) fn swapped(
    project: &Project,
    routing: &Routing,
    frame: &FrameGraph,
    a: RowId,
    b: RowId,
) -> Result<Vec<Edit>, RowsError> {
    let number = |row: RowId| project.bar.row(row).map_or(0, |row| row.number);
    let feed = |row: RowId| {
        let feed = routing.feed_of(row).ok_or(RowsError::NotFed(number(row)))?;
        Ok((feed.id, feed.from.port().ok_or(RowsError::NotFed(number(row)))?))
    };
    let ((feed_a, port_a), (feed_b, port_b)) = (feed(a)?, feed(b)?);
    if feed_a == feed_b {
        return Err(RowsError::OneFeed(number(a), number(b)));
    }
    let mut next = routing.clone();
    hang(project, &mut next, frame, feed_a, port_b);
    hang(project, &mut next, frame, feed_b, port_a);
    Ok(vec![Edit::PutRouting(Box::new(next))])
}
