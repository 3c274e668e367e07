//! Handles: the places of what is selected that can be dragged.

use super::Session;
use super::tool::Handle;
use crate::geometry::{Point2, Point3};
use crate::plan::{RunId, Subject};

impl Session {
    /// What can be dragged of the only selected hose, or of the row feed or row that is selected alone, for drawing it.
    pub fn handles(&self) -> Vec<(Subject, Handle, Point3)> {
        let routing = self.routing();
        let feed = match self.editor.selection.things().iter().collect::<Vec<_>>()[..] {
            [Subject::Run(id)] => return self.hose_handles(*id),
            [Subject::Feed(id)] => routing.feed(*id),
            [Subject::Row(id)] => routing.feed_of(*id),
            _ => None,
        };
        let Some(feed) = feed else { return Vec::new() };
        let bar = &self.project().bar;
        // A row of several on one tube is changed in the table: its own end does not say which of them is meant.
        let row = match &feed.branches[..] {
            [one] => bar.row(one.row).map(|row| bar.outlet(row)),
            _ => None,
        };
        let ends = [(Handle::Start, self.end_place(&feed.from)), (Handle::End, row)];
        ends.into_iter()
            .filter_map(|(handle, place)| Some((Subject::Feed(feed.id), handle, place?)))
            .collect()
    }

    fn hose_handles(&self, id: RunId) -> Vec<(Subject, Handle, Point3)> {
        let Some(run) = self.routing().run(id) else { return Vec::new() };
        let subject = Subject::Run(id);
        let ends = [(Handle::Start, self.end_place(&run.from)), (Handle::End, self.end_place(&run.to))];
        let waypoints = run.line.waypoints.iter().enumerate();
        let waypoints = waypoints.map(|(index, place)| (subject, Handle::Waypoint(index), place.place));
        let ends = ends.into_iter().filter_map(|(handle, place)| Some((subject, handle, place?)));
        waypoints.chain(ends).collect()
    }

    /// The handle within reach of a point.
    pub fn handle_at(&self, at: Point2, reach: f64) -> Option<(Subject, Handle)> {
        self.handle_near(at, reach).map(|(subject, handle, _)| (subject, handle))
    }

    pub(super) fn handle_near(&self, at: Point2, reach: f64) -> Option<(Subject, Handle, Point3)> {
        let away = |place: &Point3| place.flat().distance(at);
        let near = self.handles().into_iter().filter(|(_, _, place)| away(place) <= reach);
        near.min_by(|a, b| away(&a.2).total_cmp(&away(&b.2)))
    }

    /// The pointer is over a part, and nearer to its middle than to the handle at one of its ports.
    pub(super) fn means_part(&self, hit: Option<Subject>, at: Point2, handle: Point3) -> bool {
        let Some(Subject::Part(id)) = hit else { return false };
        let Some(part) = self.geometry().anchors.part(id) else { return false };
        part.at.flat().distance(at) < handle.flat().distance(at)
    }
}
