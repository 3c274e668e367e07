//! Drawing hoses: from port to port, through places clicked on the way, on from a loose end.

use super::Session;
use super::refusal::{Refusal, ToolRefusal};
use super::tool::{Gesture, Tool};
use crate::geometry::{Point2, Point3};
use crate::plan::routing_geometry::run_between;
use crate::plan::run::Line;
use crate::plan::{BarPoint, Edit, End, Run, RunId, StockKey, Subject};
use crate::quantities::Length;

impl Session {
    pub(super) fn press_join(&mut self, stock: &StockKey, at: Point2, reach: f64) -> Result<(), Refusal> {
        let end = self.nearest_end(at, reach);
        match (std::mem::take(&mut self.editor.gesture), end) {
            (Gesture::Joining { from, goes_on, waypoints }, Some(end)) if !Self::same_part(&from, &end) => {
                let half = Gesture::Joining { from, goes_on, waypoints: waypoints.clone() };
                let done = self.end_hose(stock, from, goes_on, waypoints, end);
                if done.is_err() {
                    self.editor.gesture = half;
                }
                done?;
            }
            (Gesture::Joining { from, goes_on, waypoints }, Some(_)) => {
                self.editor.gesture = Gesture::Joining { from, goes_on, waypoints };
                return Err(ToolRefusal::SamePart.into());
            }
            (Gesture::Joining { from, goes_on, mut waypoints }, None) => {
                let place = self.snap_point(at, reach).place;
                // The second press of a double click is not another waypoint.
                if waypoints.last().is_none_or(|last| last.place.distance(place) > reach / 4.0) {
                    let before = waypoints.last().copied().or_else(|| self.geometry().anchors.end(&from));
                    waypoints.push(self.riding(place, before.as_slice()));
                }
                self.editor.gesture = Gesture::Joining { from, goes_on, waypoints };
            }
            (_, end) => match (self.loose_end_near(at, reach, end), end) {
                (Some((run, at_start, place)), _) => {
                    let (from, goes_on) = (End::Loose(place), Some((run, at_start)));
                    self.editor.selection.set([Subject::Run(run)]);
                    self.editor.gesture = Gesture::Joining { from, goes_on, waypoints: Vec::new() };
                }
                (None, Some(end)) => {
                    self.editor.gesture =
                        Gesture::Joining { from: end, goes_on: None, waypoints: Vec::new() };
                }
                (None, None) => return Err(ToolRefusal::NoPortToStart.into()),
            },
        }
        Ok(())
    }

    /// Both ends are on one part, or both at the pump.
    pub(super) fn same_part(from: &End, to: &End) -> bool {
        from == to || from.port().is_some_and(|one| to.port().is_some_and(|other| one.part == other.part))
    }

    /// The loose end of a hose within reach that is nearer than `other`: the hose, whether it is its start, and where.
    fn loose_end_near(&self, at: Point2, reach: f64, other: Option<End>) -> Option<(RunId, bool, BarPoint)> {
        let other = other.and_then(|end| self.end_place(&end)).map(|place| place.flat().distance(at));
        let ends =
            self.routing().runs.iter().flat_map(|run| [(run.id, true, run.from), (run.id, false, run.to)]);
        let loose = ends.filter_map(|(run, at_start, end)| match end {
            End::Loose(place) => Some((run, at_start, place, place.place.flat().distance(at))),
            _ => None,
        });
        let near = loose.filter(|one| one.3 <= reach && other.is_none_or(|other| one.3 < other));
        let nearest = near.min_by(|a, b| a.3.total_cmp(&b.3))?;
        Some((nearest.0, nearest.1, nearest.2))
    }

    /// Ends the hose that is drawn: a new one, or one that goes on from its loose end.
    pub(super) fn end_hose(
        &mut self,
        stock: &StockKey,
        from: End,
        goes_on: Option<(RunId, bool)>,
        waypoints: Vec<BarPoint>,
        to: End,
    ) -> Result<(), Refusal> {
        let run = self.drawn_hose(stock, from, goes_on, waypoints, to);
        let name = if goes_on.is_some() {
            format!("Continue {}", run.tag)
        } else {
            format!("Join with {}", run.tag)
        };
        let (id, routing) = (run.id, self.routing().id);
        self.edit(&name, [Edit::PutRun(routing, run)])?;
        self.editor.selection.set([Subject::Run(id)]);
        Ok(())
    }

    /// The hose as it is drawn so far. Without waypoints of its own what is drawn finds its way along the frame.
    fn drawn_hose(
        &self,
        stock: &StockKey,
        from: End,
        goes_on: Option<(RunId, bool)>,
        waypoints: Vec<BarPoint>,
        to: End,
    ) -> Run {
        let waypoints = if waypoints.is_empty() && !matches!(to, End::Loose(_)) {
            self.frame_waypoints(&from, &to).unwrap_or_default()
        } else {
            waypoints
        };
        let old = goes_on.and_then(|(id, at_start)| Some((self.routing().run(id)?.clone(), at_start)));
        let (Some((mut run, at_start)), End::Loose(joint)) = (old, from) else {
            return self.new_run(stock, from, waypoints, to);
        };
        let mut more = vec![joint];
        more.extend(waypoints);
        more.dedup_by(|a, b| a.place.distance(b.place) < 1e-6);
        if at_start {
            more.reverse();
            more.append(&mut run.line.waypoints);
            run.line.waypoints = more;
            run.from = to;
        } else {
            run.line.waypoints.extend(more);
            run.to = to;
        }
        // Nobody has measured the longer one.
        run.line.measured = None;
        self.recross(&mut run);
        run
    }

    /// The hose that is drawn as it would lie with its end at the pointer, and its length with slack and what its
    /// hinges need; without a length where that is not computed yet.
    pub fn joining_way(&self, at: Point2, reach: f64) -> Option<(Vec<Point3>, Option<Length>)> {
        let Gesture::Joining { from, goes_on, waypoints } = &self.editor.gesture else { return None };
        let Tool::Join { stock } = &self.editor.tool else { return None };
        let end = self.nearest_end(at, reach).filter(|end| !Self::same_part(from, end));
        let before = waypoints.last().copied().or_else(|| self.geometry().anchors.end(from));
        let loose = || End::Loose(self.riding(self.snap_point(at, reach).place, before.as_slice()));
        let to = end.unwrap_or_else(loose);
        let run = self.drawn_hose(stock, *from, *goes_on, waypoints.clone(), to);
        let laid = run_between(self.project(), &self.geometry().anchors, &run)?;
        Some((laid.places(), laid.known_length()))
    }

    /// Joins two ends with a hose along the frame, or straight where no frame is near.
    pub fn join(&mut self, stock: &StockKey, from: End, to: End) -> Result<(), Refusal> {
        let waypoints = self.frame_waypoints(&from, &to).unwrap_or_default();
        self.join_through(stock, from, waypoints, to)
    }

    /// Joins two ends with a hose through waypoints, with an allowance for each hinge it crosses.
    pub fn join_through(
        &mut self,
        stock: &StockKey,
        from: End,
        waypoints: Vec<BarPoint>,
        to: End,
    ) -> Result<(), Refusal> {
        let run = self.new_run(stock, from, waypoints, to);
        let (id, name, routing) = (run.id, format!("Join with {}", run.tag), self.routing().id);
        self.edit(&name, [Edit::PutRun(routing, run)])?;
        self.editor.selection.set([Subject::Run(id)]);
        Ok(())
    }

    /// A run with a fresh id and tag, and an allowance for each hinge it crosses.
    pub(super) fn new_run(&self, stock: &StockKey, from: End, waypoints: Vec<BarPoint>, to: End) -> Run {
        let routing = self.routing();
        let mut run = Run {
            id: RunId::next(routing.runs.iter().map(|run| run.id)),
            tag: routing.free_tag(self.project().tag_letters.hose()),
            from,
            to,
            line: Line { waypoints, ..Line::straight(stock.clone()) },
            fittings: self.usual_fittings(stock),
        };
        self.recross(&mut run);
        run
    }
}
