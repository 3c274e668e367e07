//! Tools: a press, moves and a release, in metres on the bar, become edits in one step.

use super::Session;
use super::refusal::{Refusal, Reply, ToolRefusal};
use super::rows::rows_of;
use super::snap::Snap;
use super::tool::{Gesture, Handle, Tool};
use crate::geometry::{Bounds, Point2, Point3, polyline_length};
use crate::plan::routing_geometry::run_between;
use crate::plan::{Edit, End, PartId, PartItem, RunId, Subject};
use crate::quantities::Length;

impl Session {
    /// What the thing that is dragged snapped to, while it is dragged.
    pub const fn snapped(&self) -> Option<&Snap> {
        self.editor.snapped.as_ref()
    }

    /// The pointer went down at a point of the bar, over `hit`; `reach` is how near a port counts as hit and how far
    /// things snap, metres; `add` (Shift) adds to the selection, and on an empty place begins a box.
    pub fn press(&mut self, at: Point2, hit: Option<Subject>, reach: f64, add: bool) -> Reply {
        if !matches!(self.editor.gesture, Gesture::None | Gesture::Joining { .. }) {
            // The release of the last press was missed.
            self.release()?;
        }
        self.editor.reach = reach;
        self.editor.dragged_to = None;
        match self.editor.tool.clone() {
            Tool::Select => self.press_select(at, hit, add),
            Tool::Place(entry) => return self.place(&entry, at, reach),
            Tool::Paste => return self.paste_at(at, reach).map(|()| None),
            Tool::Join { stock } => return self.press_join(&stock, at, reach).map(|()| None),
            Tool::Split { tee } => {
                // A hose beneath outlets or parts is meant all the same.
                let run = match hit {
                    Some(Subject::Run(run)) => Some(run),
                    _ => self.run_near(at, reach),
                };
                self.split_run(run.ok_or(ToolRefusal::NoHoseToSplit)?, at, tee.as_ref())?;
            }
            Tool::GiveRows { manifold } => self.press_rows(manifold, hit)?,
            Tool::Measure => {
                let from = self.snap_point(at, reach).place.flat();
                self.editor.gesture = Gesture::Measuring { from, to: from };
            }
        }
        Ok(None)
    }

    fn press_select(&mut self, at: Point2, hit: Option<Subject>, add: bool) {
        if !add
            && let Some((subject, handle, place)) = self.handle_near(at, self.editor.reach)
            && !self.means_part(hit, at, place)
        {
            let tag = self.tag_of(subject);
            let at_start = handle == Handle::Start;
            let (gesture, name) = match (subject, handle) {
                (Subject::Run(run), Handle::Waypoint(index)) => {
                    let inserted = false;
                    let gesture = Gesture::MoveWaypoint { run, index, inserted, start: at, moving: false };
                    (gesture, format!("Move a waypoint of {tag}"))
                }
                (Subject::Run(run), _) => {
                    (Gesture::MoveEnd { run, at_start, start: at, moving: false }, format!("Reconnect {tag}"))
                }
                (Subject::Feed(feed), _) => {
                    let gesture =
                        Gesture::MoveFeedEnd { feed, at_outlet: at_start, start: at, moving: false };
                    (gesture, format!("Reconnect {tag}"))
                }
                // Nothing else has handles.
                _ => return,
            };
            self.begin(&name);
            self.editor.gesture = gesture;
            return;
        }
        let Some(subject) = hit else {
            if add {
                self.begin_box(at, true);
            } else {
                self.editor.selection.clear();
            }
            return;
        };
        if add {
            self.editor.selection.toggle(subject);
            return;
        }
        if !self.editor.selection.things().contains(&subject) {
            self.editor.selection.set([subject]);
        }
        match subject {
            Subject::Part(grip) => {
                let parts = self.movable(grip);
                let name = match parts.len() {
                    1 => format!("Move {}", self.tag_of(subject)),
                    many => format!("Move {many} parts"),
                };
                self.begin(&name);
                let following = self.following(&parts);
                self.editor.gesture = Gesture::MoveParts { grip, parts, following, start: at, moving: false };
            }
            Subject::Run(run) => {
                let Some(index) = self.leg_at(run, at) else { return };
                self.begin(&format!("Bend {}", self.tag_of(subject)));
                self.editor.gesture =
                    Gesture::MoveWaypoint { run, index, inserted: true, start: at, moving: false };
            }
            Subject::Feed(_) | Subject::Row(_) => {}
        }
    }

    /// Begins a box that selects what lies in it.
    pub fn begin_box(&mut self, at: Point2, add: bool) {
        self.cancel_gesture();
        self.editor.gesture = Gesture::Box { from: at, to: at, add };
    }

    /// The selected parts, if the one under the pointer is among them, otherwise that one alone. Parts mounted on
    /// others that move come along by themselves.
    fn movable(&self, grip: PartId) -> Vec<PartId> {
        let selected = self.selected_parts();
        if !selected.contains(&grip) || selected.len() == 1 {
            return vec![grip];
        }
        let mounted = |id: &PartId| self.routing().part(*id).is_some_and(|part| part.mount.is_some());
        let mut parts: Vec<PartId> = selected.into_iter().filter(|id| *id == grip || !mounted(id)).collect();
        if mounted(&grip) {
            // Held by a mounted part, the others move and it comes along if its host does.
            let host = self.routing().part(grip).and_then(|part| part.mount).map(|mount| mount.part);
            if host.is_some_and(|host| parts.contains(&host)) {
                parts.retain(|id| *id != grip);
            }
        }
        parts
    }

    /// The pointer moved, button down. `steady` is how far it must go before something leaves its place, metres. After a
    /// refusal the gesture goes on from where it was.
    pub fn drag(&mut self, at: Point2, hit: Option<Subject>, steady: f64) -> Reply {
        if self.editor.dragged_to.replace((at, hit)) == Some((at, hit)) {
            return Ok(None);
        }
        let mut gesture = std::mem::take(&mut self.editor.gesture);
        let reply = self.go_on(&mut gesture, at, hit, steady);
        self.editor.gesture = gesture;
        reply
    }

    fn go_on(&mut self, gesture: &mut Gesture, at: Point2, hit: Option<Subject>, steady: f64) -> Reply {
        let leaves = |moving: bool, start: Point2| moving || at.distance(start) >= steady;
        match gesture {
            Gesture::MoveParts { grip, parts, following, start, moving } if leaves(*moving, *start) => {
                *moving = true;
                return self.drag_parts(*grip, parts, following, *start, at);
            }
            Gesture::MoveWaypoint { run, index, inserted, start, moving } if leaves(*moving, *start) => {
                *moving = true;
                let snap = self.snap_point(at, self.editor.reach);
                let place = snap.place;
                self.editor.snapped = Some(snap);
                self.drag_waypoint(*run, *index, *inserted, place)?;
            }
            Gesture::MoveEnd { run, at_start, start, moving } if leaves(*moving, *start) => {
                *moving = true;
                self.drag_end(*run, *at_start, at)?;
            }
            Gesture::MoveFeedEnd { feed, at_outlet, start, moving } if leaves(*moving, *start) => {
                *moving = true;
                self.drag_feed_end(*feed, *at_outlet, at)?;
            }
            Gesture::Rows { rows, .. } => {
                if let Some(Subject::Row(row)) = hit
                    && !rows.contains(&row)
                {
                    rows.push(row);
                }
            }
            Gesture::Box { to, .. } => *to = at,
            Gesture::Measuring { to, .. } => *to = self.snap_point(at, self.editor.reach).place.flat(),
            // What is held has not left its place yet.
            Gesture::MoveParts { .. }
            | Gesture::MoveWaypoint { .. }
            | Gesture::MoveEnd { .. }
            | Gesture::MoveFeedEnd { .. }
            | Gesture::None
            | Gesture::Joining { .. } => {}
        }
        Ok(None)
    }

    fn drag_waypoint(
        &mut self,
        run: RunId,
        index: usize,
        inserted: bool,
        place: Point3,
    ) -> Result<(), Refusal> {
        let Some(mut changed) = self.run_before(run).cloned() else { return Ok(()) };
        let anchors = &self.geometry().anchors;
        let before = run_between(self.project(), anchors, &changed).map(|laid| laid.path);
        let beside = before.as_ref().and_then(|path| path.get(index..index + 2)).unwrap_or_default();
        let waypoints = &mut changed.line.waypoints;
        if inserted {
            waypoints.insert(index.min(waypoints.len()), self.riding(place, beside));
        } else if let Some(waypoint) = waypoints.get_mut(index) {
            *waypoint = self.moved(*waypoint, place);
        }
        self.recross(&mut changed);
        let edit = Edit::PutRun(self.routing().id, changed);
        self.change_routing(|session| session.document.apply([edit]))
    }

    /// The pointer went up.
    pub fn release(&mut self) -> Reply {
        self.editor.snapped = None;
        match std::mem::take(&mut self.editor.gesture) {
            Gesture::MoveParts { grip, moving, .. } => {
                if !moving {
                    self.editor.selection.set([Subject::Part(grip)]);
                }
                self.commit()?;
            }
            Gesture::MoveWaypoint { run, moving, .. } | Gesture::MoveEnd { run, moving, .. } => {
                if !moving {
                    self.editor.selection.set([Subject::Run(run)]);
                }
                self.commit()?;
            }
            Gesture::MoveFeedEnd { feed, moving, .. } => {
                // What was clicked on a selected row is still the row.
                if moving {
                    self.editor.selection.set([Subject::Feed(feed)]);
                }
                self.commit()?;
            }
            Gesture::Rows { manifold, rows } => {
                let mut all = rows_of(self.project(), self.routing(), manifold);
                all.extend(rows.into_iter().filter(|row| !all.contains(row)).collect::<Vec<_>>());
                self.give_rows(manifold, &all)?;
            }
            Gesture::Box { from, to, add } => self.select_in(Bounds::around([from, to]), add),
            // A hose waits for its next click; a measure stays to be read.
            waiting @ (Gesture::Joining { .. } | Gesture::Measuring { .. }) => self.editor.gesture = waiting,
            Gesture::None => {}
        }
        Ok(None)
    }

    /// The pointer was pressed twice in one place, after both presses: ends a hose loose; takes a waypoint out of the
    /// selected hose; puts one into a hose.
    pub fn double_click(&mut self, at: Point2, hit: Option<Subject>, reach: f64) -> Reply {
        if matches!(self.editor.gesture, Gesture::Joining { .. }) {
            return self.finish();
        }
        if self.editor.tool != Tool::Select {
            return Ok(None);
        }
        self.cancel_gesture();
        if let Some((Subject::Run(run), Handle::Waypoint(index))) = self.handle_at(at, reach) {
            self.remove_waypoint(run, index)?;
        } else if let Some(Subject::Run(run)) = hit {
            let place = self.snap_point(at, reach).place;
            self.insert_waypoint(run, place)?;
        }
        Ok(None)
    }

    /// Enter: ends the gesture as far as it has gone. A hose that is drawn ends loose at its last waypoint.
    pub fn finish(&mut self) -> Reply {
        match self.editor.gesture.clone() {
            Gesture::Joining { from, goes_on, mut waypoints } => {
                let Tool::Join { stock } = self.editor.tool.clone() else { return Ok(None) };
                let last = waypoints.pop().ok_or(ToolRefusal::HoseLeadsNowhere)?;
                let half = std::mem::take(&mut self.editor.gesture);
                let done = self.end_hose(&stock, from, goes_on, waypoints, End::Loose(last));
                if done.is_err() {
                    self.editor.gesture = half;
                }
                done.map(|()| None)
            }
            Gesture::None => Ok(None),
            _ => self.release(),
        }
    }

    /// Esc: the last waypoint of a hose that is drawn, the gesture, then the tool, then the selection.
    pub fn cancel(&mut self) {
        if let Gesture::Joining { waypoints, .. } = &mut self.editor.gesture
            && waypoints.pop().is_some()
        {
            return;
        }
        if self.cancel_gesture() {
            return;
        }
        if self.editor.tool == Tool::Select {
            self.editor.selection.clear();
        } else {
            self.take(Tool::Select);
        }
    }

    /// What the tool in hand waits for, in words, for the line at the bottom.
    pub fn hint(&self) -> Option<String> {
        let text = match (&self.editor.tool, &self.editor.gesture) {
            (_, Gesture::Measuring { from, to }) if from != to => return None,
            (Tool::Select, Gesture::None) => return None,
            (Tool::Select, _) => "Release to place it, Esc to cancel",
            (Tool::Place(entry), _)
                if self.project().catalogue.item(entry).is_some_and(PartItem::is_in_line) =>
            {
                "Click where it goes, on a hose to put it into that; R turns it"
            }
            (Tool::Place(_), _) => "Click where it goes; R turns it",
            (Tool::Paste, _) => "Click where the copy goes; Esc when done",
            (Tool::Join { .. }, Gesture::Joining { waypoints, .. }) if waypoints.is_empty() => {
                "Click the other port to follow the frame, or places to pass on the way"
            }
            (Tool::Join { .. }, Gesture::Joining { .. }) => {
                "Click the next place or a port; Enter leaves a loose end, Esc goes back one place"
            }
            (Tool::Join { .. }, _) => "Click the port where the hose starts, or a loose end to go on from",
            (Tool::Split { .. }, _) => "Click a hose where the tee is to sit",
            (Tool::GiveRows { manifold: None }, _) => "Click a manifold",
            (Tool::GiveRows { .. }, _) => "Drag across the rows it is to feed",
            (Tool::Measure, _) => "Drag from one place to another",
        };
        Some(text.to_owned())
    }

    /// Length of what is measured.
    pub fn measured(&self) -> Option<Length> {
        let Gesture::Measuring { from, to } = self.editor.gesture else { return None };
        let flat = |point: Point2| Point3::new(point.x, point.y, 0.0);
        Some(Length::metres(polyline_length(&[flat(from), flat(to)])))
    }

    /// Where an end is.
    pub fn end_place(&self, end: &End) -> Option<Point3> {
        self.geometry().anchors.end(end).map(|end| end.place)
    }
}
