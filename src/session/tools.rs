//! Tools: a press, moves and a release, in metres on the bar, become edits in one step.

use super::Session;
use super::rows::{self, RowsError};
use super::runs::Following;
use super::snapping::{Snap, SnapTo};
use crate::geometry::{Bounds, Point2, Point3, polyline_length};
use crate::plan::frame_graph::height_at;
use crate::plan::routing_geometry::run_between;
use crate::plan::{
    BarPoint, Edit, End, FeedId, PartId, PartItem, PartKey, Port, PortRef, Routing, RowId, Run, RunId,
    StockKey, Subject,
};
use crate::quantities::{Angle, Length};

/// The tool in hand.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub enum Tool {
    /// Select; drag parts, waypoints and ends of hoses.
    #[default]
    Select,
    /// Place parts of this entry.
    Place(PartKey),
    /// Place what was copied.
    Paste,
    /// Draw hoses of this stock from port to port.
    Join {
        /// The hose.
        stock: StockKey,
    },
    /// Split hoses with a tee.
    Split {
        /// The tee; one that fits the hose if none.
        tee: Option<PartKey>,
    },
    /// Give rows to a manifold.
    GiveRows {
        /// The manifold; none until one is clicked.
        manifold: Option<PartId>,
    },
    /// Measure distances.
    Measure,
}

/// What is going on between a press and a release, or between clicks.
#[derive(Debug, Clone, PartialEq, Default)]
pub enum Gesture {
    /// Nothing.
    #[default]
    None,
    /// Parts are dragged.
    MoveParts {
        /// The one under the pointer.
        grip: PartId,
        /// All that move with it, itself included.
        parts: Vec<PartId>,
        /// What lay along the frame when the drag began, and goes on doing so.
        following: Following,
        /// Where the pointer went down.
        start: Point2,
        /// They have left their place.
        moving: bool,
    },
    /// A waypoint of a hose is dragged.
    MoveWaypoint {
        /// The hose.
        run: RunId,
        /// Which waypoint; where it is inserted if it is new.
        index: usize,
        /// It is new, and inserted as soon as it moves.
        inserted: bool,
        /// Where the pointer went down.
        start: Point2,
        /// It has left its place.
        moving: bool,
    },
    /// An end of a hose is dragged.
    MoveEnd {
        /// The hose.
        run: RunId,
        /// Its start rather than its end.
        at_start: bool,
        /// Where the pointer went down.
        start: Point2,
        /// It has left its place.
        moving: bool,
    },
    /// An end of a row feed is dragged: to another outlet, or to another row.
    MoveFeedEnd {
        /// The feed.
        feed: FeedId,
        /// The end on the manifold's outlet rather than the row's.
        at_outlet: bool,
        /// Where the pointer went down.
        start: Point2,
        /// It has left its place.
        moving: bool,
    },
    /// A hose has its first end, and waypoints clicked so far.
    Joining {
        /// That end.
        from: End,
        /// The hose that goes on from its loose end, and whether that is its start; none for a new hose.
        goes_on: Option<(RunId, bool)>,
        /// The waypoints.
        waypoints: Vec<BarPoint>,
    },
    /// Rows are collected for a manifold.
    Rows {
        /// The manifold.
        manifold: PartId,
        /// The rows so far.
        rows: Vec<RowId>,
    },
    /// A box is drawn to select what lies in it.
    Box {
        /// Where it began.
        from: Point2,
        /// Where the pointer is.
        to: Point2,
        /// Adds to what is selected.
        add: bool,
    },
    /// A distance is measured; stays to be read until the next press.
    Measuring {
        /// Where it began.
        from: Point2,
        /// Where it ends.
        to: Point2,
    },
}

/// A place of the selected hose or row feed that can be dragged.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Handle {
    /// Its start; of a row feed the end on the manifold's outlet.
    Start,
    /// Its end; of a row feed the row's outlet.
    End,
    /// A waypoint, by its place in the line.
    Waypoint(usize),
}

impl Session {
    /// What is going on, for drawing it.
    pub const fn gesture(&self) -> &Gesture {
        &self.gesture
    }

    /// What the thing that is dragged snapped to, while it is dragged.
    pub const fn snapped(&self) -> Option<&Snap> {
        self.snapped.as_ref()
    }

    /// The pointer went down at a point of the bar, over `hit`; `reach` is how near a port counts as hit and how far
    /// things snap, metres; `add` (Shift) adds to the selection, and on an empty place begins a box.
    pub fn press(&mut self, at: Point2, hit: Option<Subject>, reach: f64, add: bool) {
        if !matches!(self.gesture, Gesture::None | Gesture::Joining { .. }) {
            // The release of the last press was missed.
            self.release();
        }
        self.message = None;
        self.reach = reach;
        match self.tool.clone() {
            Tool::Select => self.press_select(at, hit, add),
            Tool::Place(entry) => self.place(&entry, at, reach),
            Tool::Paste => self.paste_at(at, reach),
            Tool::Join { stock } => self.press_join(&stock, at, reach),
            Tool::Split { tee } => {
                // A hose beneath outlets or parts is meant all the same.
                let run = match hit {
                    Some(Subject::Run(run)) => Some(run),
                    _ => self.run_near(at, reach),
                };
                match run {
                    // A refusal is in the message.
                    Some(run) => drop(self.split_run(run, at, tee.as_ref())),
                    None => self.message = Some("A tee splits a hose; click on one".to_owned()),
                }
            }
            Tool::GiveRows { manifold } => self.press_rows(manifold, hit),
            Tool::Measure => {
                let from = self.snap_point(at, reach).place.flat();
                self.gesture = Gesture::Measuring { from, to: from };
            }
        }
    }

    fn press_select(&mut self, at: Point2, hit: Option<Subject>, add: bool) {
        if !add
            && let Some((subject, handle, place)) = self.handle_near(at, self.reach)
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
            self.gesture = gesture;
            return;
        }
        let Some(subject) = hit else {
            if add {
                self.begin_box(at, true);
            } else {
                self.selection.clear();
            }
            return;
        };
        if add {
            if !self.selection.remove(&subject) {
                self.selection.insert(subject);
            }
            return;
        }
        if !self.selection.contains(&subject) {
            self.selection = [subject].into();
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
                self.gesture = Gesture::MoveParts { grip, parts, following, start: at, moving: false };
            }
            Subject::Run(run) => {
                let Some(index) = self.leg_at(run, at) else { return };
                self.begin(&format!("Bend {}", self.tag_of(subject)));
                self.gesture = Gesture::MoveWaypoint { run, index, inserted: true, start: at, moving: false };
            }
            Subject::Feed(_) | Subject::Row(_) => {}
        }
    }

    /// Begins a box that selects what lies in it.
    pub fn begin_box(&mut self, at: Point2, add: bool) {
        self.cancel_gesture();
        self.gesture = Gesture::Box { from: at, to: at, add };
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

    /// The pointer moved, button down. `steady` is how far it must go before something leaves its place, metres.
    pub fn drag(&mut self, at: Point2, hit: Option<Subject>, steady: f64) {
        let mut gesture = std::mem::take(&mut self.gesture);
        self.go_on(&mut gesture, at, hit, steady);
        self.gesture = gesture;
    }

    fn go_on(&mut self, gesture: &mut Gesture, at: Point2, hit: Option<Subject>, steady: f64) {
        let leaves = |moving: bool, start: Point2| moving || at.distance(start) >= steady;
        match gesture {
            Gesture::MoveParts { grip, parts, following, start, moving } if leaves(*moving, *start) => {
                *moving = true;
                self.drag_parts(*grip, parts, following, *start, at);
            }
            Gesture::MoveWaypoint { run, index, inserted, start, moving } if leaves(*moving, *start) => {
                *moving = true;
                let snap = self.snap_point(at, self.reach);
                self.drag_waypoint(*run, *index, *inserted, snap.place);
                self.snapped = Some(snap);
            }
            Gesture::MoveEnd { run, at_start, start, moving } if leaves(*moving, *start) => {
                *moving = true;
                self.drag_end(*run, *at_start, at);
            }
            Gesture::MoveFeedEnd { feed, at_outlet, start, moving } if leaves(*moving, *start) => {
                *moving = true;
                self.drag_feed_end(*feed, *at_outlet, at);
            }
            Gesture::Rows { rows, .. } => {
                if let Some(Subject::Row(row)) = hit
                    && !rows.contains(&row)
                {
                    rows.push(row);
                }
            }
            Gesture::Box { to, .. } => *to = at,
            Gesture::Measuring { to, .. } => *to = self.snap_point(at, self.reach).place.flat(),
            // What is held has not left its place yet.
            Gesture::MoveParts { .. }
            | Gesture::MoveWaypoint { .. }
            | Gesture::MoveEnd { .. }
            | Gesture::MoveFeedEnd { .. }
            | Gesture::None
            | Gesture::Joining { .. } => {}
        }
    }

    fn drag_waypoint(&mut self, run: RunId, index: usize, inserted: bool, place: Point3) {
        let Some(mut changed) = self.run_before(run) else { return };
        let anchors = &self.geometry().anchors;
        let before = run_between(&self.project().bar, anchors, &changed).map(|laid| laid.path);
        let beside = before.as_ref().and_then(|path| path.get(index..index + 2)).unwrap_or_default();
        let waypoints = &mut changed.line.waypoints;
        if inserted {
            waypoints.insert(index.min(waypoints.len()), self.riding(place, beside));
        } else if let Some(waypoint) = waypoints.get_mut(index) {
            *waypoint = self.moved(*waypoint, place);
        }
        self.recross(&mut changed);
        let edit = Edit::PutRun(self.routing().id, changed);
        self.try_change([edit]);
    }

    fn drag_end(&mut self, run: RunId, at_start: bool, at: Point2) {
        let Some(before) = self.run_before(run) else { return };
        let (own, other) = if at_start { (before.from, before.to) } else { (before.to, before.from) };
        let place = |point: Point2| Point3::new(point.x, point.y, height_at(&self.project().bar, point));
        let taken = self.taken_end_near(at, run, own);
        let end = match (self.snap_end(at, self.reach, Some(run)), &taken) {
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
        self.snapped = Some(Snap { place: there, to });
        let Some(mut next) = self.history.before().and_then(|one| one.routing(self.routing().id)).cloned()
        else {
            return;
        };
        let exchanged = taken.as_ref().and_then(|(_, other, start)| {
            let other = next.run(*other)?;
            Some(self.reconnected(other, *start, own))
        });
        let changed = self.reconnected(&before, at_start, end);
        for one in exchanged.into_iter().chain([changed]) {
            if let Some(slot) = next.runs.iter_mut().find(|run| run.id == one.id) {
                *slot = one;
            }
        }
        self.try_change(differences(self.routing(), next));
    }

    /// The port nearest to a point that another hose sits on, that hose, and whether with its start: the two exchange
    /// ends. Not where a hose would lead from a part to itself, nor for an end that is loose and has none to give.
    fn taken_end_near(&self, at: Point2, run: RunId, own: End) -> Option<(PortRef, RunId, bool)> {
        let before = self.history.before()?.routing(self.routing().id)?;
        own.port()?;
        let dragged = before.run(run)?;
        let kept = if dragged.from == own { dragged.to } else { dragged.from };
        let (_, port) = self.any_port_near(at, self.reach, |port| port.port != Port::Gauge)?;
        let others = before.runs.iter().filter(|other| other.id != run);
        let mut ends = others.flat_map(|one| [(one, true, one.from, one.to), (one, false, one.to, one.from)]);
        let (other, at_start, _, rest) = ends.find(|(_, _, end, _)| end.port() == Some(port))?;
        let alone = Self::same_part(&rest, &own) || Self::same_part(&kept, &End::Port(port));
        (!alone).then_some((port, other.id, at_start))
    }

    /// An outlet or row that is taken is exchanged; beside any outlet the feed hangs loose, beside any row it stays.
    fn drag_feed_end(&mut self, feed: FeedId, at_outlet: bool, at: Point2) {
        let Some(before) = self.history.before().and_then(|project| project.routing(self.routing().id))
        else {
            return;
        };
        let bar = &self.project().bar;
        let (to, snap) = if at_outlet {
            let feeds = |port: &PortRef| {
                let taken = before.connections().any(|(one, _)| one == *port);
                let by_feed = before.feeds.iter().any(|feed| feed.from.port() == Some(*port));
                matches!(port.port, Port::Outlet(_)) && (!taken || by_feed)
            };
            if let Some((_, port)) = self.any_port_near(at, self.reach, feeds) {
                (rows::FeedEnd::Outlet(port), vec![SnapTo::Port(port)])
            } else {
                let place = Point3::new(at.x, at.y, height_at(bar, at));
                let lies = match before.feed(feed).map(|feed| feed.from) {
                    Some(End::Loose(was)) => self.moved(was, place),
                    _ => self.riding(place, &[]),
                };
                (rows::FeedEnd::Loose(lies), Vec::new())
            }
        } else {
            let away = |row: &crate::plan::Row| bar.outlet(row).flat().distance(at);
            let near = bar.rows.iter().filter(|row| away(row) <= self.reach);
            match near.min_by(|a, b| away(a).total_cmp(&away(b))) {
                Some(row) => (rows::FeedEnd::Row(row.id), vec![SnapTo::Outlet(row.id)]),
                None => (rows::FeedEnd::AsItWas, Vec::new()),
            }
        };
        let place = match snap[..] {
            [SnapTo::Port(port)] => self.geometry().anchors.port(port).map(|at| at.place),
            [SnapTo::Outlet(row)] => bar.row(row).map(|row| bar.outlet(row)),
            _ => None,
        };
        let place = place.unwrap_or_else(|| Point3::new(at.x, at.y, height_at(bar, at)));
        let moved = rows::feed_moved(self.project(), &self.frame(), before, feed, to);
        let edits = moved.map(|next| differences(self.routing(), next));
        self.snapped = Some(Snap { place, to: snap });
        match edits {
            Ok(edits) => self.try_change(edits),
            Err(error) => self.message = Some(error.to_string()),
        }
    }

    fn port_within(&self, port: PortRef, at: Point2) -> bool {
        let place = self.geometry().anchors.port(port);
        place.is_some_and(|port| port.place.flat().distance(at) <= self.reach)
    }

    /// One change within a gesture: a refusal is said, and the gesture goes on from where it was.
    pub(super) fn try_change(&mut self, edits: impl IntoIterator<Item = Edit>) {
        match self.change_all(edits) {
            Ok(()) => self.message = None,
            Err(error) => self.message = Some(error.to_string()),
        }
    }

    /// The pointer went up.
    pub fn release(&mut self) {
        self.snapped = None;
        match std::mem::take(&mut self.gesture) {
            Gesture::MoveParts { grip, moving, .. } => {
                if !moving {
                    self.selection = [Subject::Part(grip)].into();
                }
                self.commit();
            }
            Gesture::MoveWaypoint { run, moving, .. } | Gesture::MoveEnd { run, moving, .. } => {
                if !moving {
                    self.selection = [Subject::Run(run)].into();
                }
                self.commit();
            }
            Gesture::MoveFeedEnd { feed, moving, .. } => {
                // What was clicked on a selected row is still the row.
                if moving {
                    self.selection = [Subject::Feed(feed)].into();
                }
                self.commit();
            }
            Gesture::Rows { manifold, rows } => {
                let mut all = rows::rows_of(self.project(), self.routing(), manifold);
                all.extend(rows.into_iter().filter(|row| !all.contains(row)).collect::<Vec<_>>());
                // A refusal is in the message.
                let _ = self.give_rows(manifold, &all);
            }
            Gesture::Box { from, to, add } => self.select_in(Bounds::around([from, to]), add),
            // A hose waits for its next click; a measure stays to be read.
            waiting @ (Gesture::Joining { .. } | Gesture::Measuring { .. }) => self.gesture = waiting,
            Gesture::None => {}
        }
    }

    /// The pointer was pressed twice in one place, after both presses: ends a hose loose; takes a waypoint out of the
    /// selected hose; puts one into a hose.
    pub fn double_click(&mut self, at: Point2, hit: Option<Subject>, reach: f64) {
        if matches!(self.gesture, Gesture::Joining { .. }) {
            self.finish();
            return;
        }
        if self.tool != Tool::Select {
            return;
        }
        self.cancel_gesture();
        // Refusals are in the message.
        if let Some((Subject::Run(run), Handle::Waypoint(index))) = self.handle_at(at, reach) {
            let _ = self.remove_waypoint(run, index);
        } else if let Some(Subject::Run(run)) = hit {
            let place = self.snap_point(at, reach).place;
            let _ = self.insert_waypoint(run, place);
        }
    }

    /// Enter: ends the gesture as far as it has gone. A hose that is drawn ends loose at its last waypoint.
    pub fn finish(&mut self) {
        match self.gesture.clone() {
            Gesture::Joining { from, goes_on, mut waypoints } => {
                let Tool::Join { stock } = self.tool.clone() else { return };
                let Some(last) = waypoints.pop() else {
                    self.message = Some(
                        "Click where the hose goes before ending it, or press Esc to leave it".to_owned(),
                    );
                    return;
                };
                // A refusal is in the message.
                let _ = self.end_hose(&stock, from, goes_on, waypoints, End::Loose(last));
            }
            Gesture::None => {}
            _ => self.release(),
        }
    }

    /// Ends the gesture as if it had not been; true if there was one.
    pub fn cancel_gesture(&mut self) -> bool {
        self.snapped = None;
        let was = !matches!(std::mem::take(&mut self.gesture), Gesture::None) || self.is_in_step();
        self.revert();
        was
    }

    /// Esc: the last waypoint of a hose that is drawn, the gesture, then the tool, then the selection.
    pub fn cancel(&mut self) {
        self.message = None;
        if let Gesture::Joining { waypoints, .. } = &mut self.gesture
            && waypoints.pop().is_some()
        {
            return;
        }
        if self.cancel_gesture() {
            return;
        }
        if self.tool == Tool::Select {
            self.selection.clear();
        } else {
            self.take(Tool::Select);
        }
    }

    /// Takes a tool in hand.
    pub fn take(&mut self, tool: Tool) {
        self.cancel_gesture();
        self.message = None;
        self.placing_turn = Angle::ZERO;
        self.tool = tool;
    }

    /// Makes exactly these rows hang on a manifold, in one step.
    pub fn give_rows(&mut self, manifold: PartId, rows: &[RowId]) -> Result<(), String> {
        let tag = self.tag_of(Subject::Part(manifold));
        let edits: Result<Vec<Edit>, RowsError> =
            rows::set_rows(self.project(), self.duty(), self.routing(), manifold, rows);
        match edits {
            Ok(edits) => self.edit(&format!("Give rows to {tag}"), edits).map_err(|error| error.to_string()),
            Err(error) => self.refuse(error.to_string()),
        }
    }

    fn press_rows(&mut self, manifold: Option<PartId>, hit: Option<Subject>) {
        match (hit, manifold) {
            (Some(Subject::Part(id)), _) if self.is_manifold(id) => {
                self.tool = Tool::GiveRows { manifold: Some(id) };
                self.selection = [Subject::Part(id)].into();
            }
            (Some(Subject::Row(row)), Some(manifold)) => {
                self.gesture = Gesture::Rows { manifold, rows: vec![row] };
            }
            (Some(Subject::Row(_)), None) => {
                self.message = Some("Click the manifold first, then its rows".to_owned());
            }
            _ => {}
        }
    }

    /// The part is a manifold.
    pub fn is_manifold(&self, id: PartId) -> bool {
        let entry = self.routing().part(id).map(|part| &part.entry);
        let item = entry.and_then(|entry| self.project().catalogue.item(entry));
        matches!(item, Some(PartItem::Manifold { .. }))
    }

    fn press_join(&mut self, stock: &StockKey, at: Point2, reach: f64) {
        let end = self.nearest_end(at, reach);
        match (std::mem::take(&mut self.gesture), end) {
            (Gesture::Joining { from, goes_on, waypoints }, Some(end)) if !Self::same_part(&from, &end) => {
                // A refusal is in the message.
                let _ = self.end_hose(stock, from, goes_on, waypoints, end);
            }
            (Gesture::Joining { from, goes_on, waypoints }, Some(_)) => {
                self.message = Some("A hose leads to another part; click another port".to_owned());
                self.gesture = Gesture::Joining { from, goes_on, waypoints };
            }
            (Gesture::Joining { from, goes_on, mut waypoints }, None) => {
                let place = self.snap_point(at, reach).place;
                // The second press of a double click is not another waypoint.
                if waypoints.last().is_none_or(|last| last.place.distance(place) > reach / 4.0) {
                    let before = waypoints.last().copied().or_else(|| self.geometry().anchors.end(&from));
                    waypoints.push(self.riding(place, before.as_slice()));
                }
                self.gesture = Gesture::Joining { from, goes_on, waypoints };
            }
            (_, end) => match (self.loose_end_near(at, reach, end), end) {
                (Some((run, at_start, place)), _) => {
                    let (from, goes_on) = (End::Loose(place), Some((run, at_start)));
                    self.selection = [Subject::Run(run)].into();
                    self.gesture = Gesture::Joining { from, goes_on, waypoints: Vec::new() };
                }
                (None, Some(end)) => {
                    self.gesture = Gesture::Joining { from: end, goes_on: None, waypoints: Vec::new() };
                }
                (None, None) => {
                    self.message = Some(
                        "A hose starts at a port or goes on from a loose end; click nearer to one".to_owned(),
                    );
                }
            },
        }
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
    fn end_hose(
        &mut self,
        stock: &StockKey,
        from: End,
        goes_on: Option<(RunId, bool)>,
        waypoints: Vec<BarPoint>,
        to: End,
    ) -> Result<(), String> {
        let run = self.drawn_hose(stock, from, goes_on, waypoints, to);
        let name = if goes_on.is_some() {
            format!("Go on with {}", run.tag)
        } else {
            format!("Join with {}", run.tag)
        };
        let (id, routing) = (run.id, self.routing().id);
        self.edit(&name, [Edit::PutRun(routing, run)]).map_err(|error| error.to_string())?;
        self.selection = [Subject::Run(id)].into();
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

    /// The hose that is drawn as it would lie with its end at the pointer, and its length with slack and allowances.
    pub fn joining_way(&self, at: Point2, reach: f64) -> Option<(Vec<Point3>, Length)> {
        let Gesture::Joining { from, goes_on, waypoints } = &self.gesture else { return None };
        let Tool::Join { stock } = &self.tool else { return None };
        let end = self.nearest_end(at, reach).filter(|end| !Self::same_part(from, end));
        let before = waypoints.last().copied().or_else(|| self.geometry().anchors.end(from));
        let loose = || End::Loose(self.riding(self.snap_point(at, reach).place, before.as_slice()));
        let to = end.unwrap_or_else(loose);
        let run = self.drawn_hose(stock, *from, *goes_on, waypoints.clone(), to);
        let laid = run_between(&self.project().bar, &self.geometry().anchors, &run)?;
        Some((laid.places(), laid.computed))
    }

    /// What can be dragged of the only selected hose, or of the row feed or row that is selected alone, for drawing it.
    pub fn handles(&self) -> Vec<(Subject, Handle, Point3)> {
        let routing = self.routing();
        let feed = match self.selection.iter().collect::<Vec<_>>()[..] {
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

    fn handle_near(&self, at: Point2, reach: f64) -> Option<(Subject, Handle, Point3)> {
        let away = |place: &Point3| place.flat().distance(at);
        let near = self.handles().into_iter().filter(|(_, _, place)| away(place) <= reach);
        near.min_by(|a, b| away(&a.2).total_cmp(&away(&b.2)))
    }

    /// The pointer is over a part, and nearer to its middle than to the handle at one of its ports.
    fn means_part(&self, hit: Option<Subject>, at: Point2, handle: Point3) -> bool {
        let Some(Subject::Part(id)) = hit else { return false };
        let Some(part) = self.geometry().anchors.part(id) else { return false };
        part.at.flat().distance(at) < handle.flat().distance(at)
    }

    /// What the tool in hand waits for, in words, for the line at the bottom.
    pub fn hint(&self) -> Option<String> {
        let text = match (&self.tool, &self.gesture) {
            (_, Gesture::Measuring { from, to }) if from != to => return None,
            (Tool::Select, Gesture::None) => return None,
            (Tool::Select, _) => "Release to keep it, Esc to leave it as it was",
            (Tool::Place(_), _) => "Click where it goes; R turns it",
            (Tool::Paste, _) => "Click where the copy goes; Esc when done",
            (Tool::Join { .. }, Gesture::Joining { waypoints, .. }) if waypoints.is_empty() => {
                "Click the other port to follow the frame, or places to pass on the way"
            }
            (Tool::Join { .. }, Gesture::Joining { .. }) => {
                "Click the next place or a port; Enter ends it loose, Esc steps back"
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
        let Gesture::Measuring { from, to } = self.gesture else { return None };
        let flat = |point: Point2| Point3::new(point.x, point.y, 0.0);
        Some(Length::metres(polyline_length(&[flat(from), flat(to)])))
    }

    /// Where an end is.
    pub fn end_place(&self, end: &End) -> Option<Point3> {
        self.geometry().anchors.end(end).map(|end| end.place)
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
