//! The project in hand: what is open, what is selected, what was done and can be undone, and the tools that turn
//! presses and moves (in metres) into edits.
//!
//! Every change goes through [`Session::edit`] or an open gesture, so that project, outcome and findings are always
//! of one state. Never here: widgets, colours, pixels. Start reading at [`Session`].

pub mod autosave;
pub mod bulk;
pub mod commands;
pub mod copies;
mod duties;
pub mod fonts;
pub mod history;
mod in_line;
pub mod listing;
mod mirror;
pub mod paper_export;
pub mod papers;
mod placing;
mod routings;
pub mod rows;
mod runs;
mod selection;
pub mod side_by_side;
pub mod snapping;
pub mod task;
pub mod tools;

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

use crate::checks::{self, Finding};
use crate::files::recovery::{Origin, Stamp};
use crate::files::{self, Notes};
use crate::hydraulics::speed_range::SpeedRange;
use crate::hydraulics::{KeptSolver, Outcome};
use crate::plan::edit::{self, EditError};
use crate::plan::validate;
use crate::plan::{Edit, LaidRouting, OperatingPoint, Project, Routing, RoutingGeometry, RoutingId, Subject};
use crate::quantities::{Angle, Speed, Temperature};

pub use history::History;
pub use mirror::Side;
pub use placing::Ghost;
pub use rows::Scope;
pub use runs::Following;
pub use side_by_side::SideBySide;
pub use tools::{Gesture, Handle, Tool};

/// What lies under the current solve of a session.
#[derive(Debug)]
struct Solved {
    geometry: RoutingGeometry,
    outcome: Outcome,
    range: SpeedRange,
    findings: Vec<Finding>,
}

/// One open project.
#[derive(Debug)]
pub struct Session {
    project: Arc<Project>,
    saved: Arc<Project>,
    /// Whether the two differ, found once for each change.
    changed: bool,
    /// Counts the changes of the project.
    edits: u64,
    path: Option<PathBuf>,
    /// The file as it was when it was opened or saved.
    stamp: Option<Stamp>,
    routing: RoutingId,
    point: OperatingPoint,
    history: History,
    bench: KeptSolver,
    frame: runs::KeptFrame,
    solved: Solved,
    revision: u64,
    /// What is selected; may hold what an undo took away, which is then ignored.
    pub selection: BTreeSet<Subject>,
    /// The tool in hand.
    pub tool: Tool,
    /// What the last refused action says, until the next one.
    pub message: Option<String>,
    /// What placed and dragged things snap to.
    pub snapping: snapping::Settings,
    /// How a part to be placed is turned.
    pub placing_turn: Angle,
    gesture: Gesture,
    snapped: Option<snapping::Snap>,
    /// How near counts as hit in the gesture that is going on, metres.
    reach: f64,
    copied: copies::Copied,
    /// What was last moved by keys, and the change that did it: the next key goes on in the same step.
    nudged: Option<(BTreeSet<Subject>, u64)>,
}

impl Session {
    /// Opens a project, on its first routing, at its usual speed.
    pub fn new(project: Project, path: Option<PathBuf>) -> Self {
        let routing = project.routings.first().map_or(RoutingId(0), |routing| routing.id);
        let point = project.duties.first().usual_point();
        let mut bench = KeptSolver::default();
        let geometry = laid_out(&project, routing);
        let solved = solve(&mut bench, &project, routing, &point, geometry);
        let project = Arc::new(project);
        Self {
            saved: Arc::clone(&project),
            stamp: path.as_deref().and_then(Stamp::of),
            project,
            changed: false,
            edits: 0,
            path,
            routing,
            point,
            history: History::default(),
            bench,
            frame: runs::KeptFrame::default(),
            solved,
            revision: next_revision(),
            selection: BTreeSet::new(),
            tool: Tool::Select,
            message: None,
            snapping: snapping::Settings::default(),
            placing_turn: Angle::ZERO,
            gesture: Gesture::None,
            snapped: None,
            reach: 0.0,
            copied: copies::Copied::default(),
            nudged: None,
        }
    }

    /// A project that is in no file as it is here: laid out anew, or found after a crash. The file it belongs to, if
    /// any, stays as it is until it is saved.
    pub fn unsaved(project: Project, path: Option<PathBuf>) -> Self {
        let in_file = path.as_deref().and_then(|path| files::open(path).ok());
        let nothing = || Project { routings: Vec::new(), ..project.clone() };
        let saved = Arc::new(in_file.unwrap_or_else(nothing));
        let changed = *saved != project;
        Self { saved, changed, ..Self::new(project, path) }
    }

    /// Work found after a crash, with the file it belongs to. That file is known as it was when the work was kept:
    /// whoever has changed it since is asked about before it is saved over.
    pub fn recovered(project: Project, origin: Option<Origin>) -> Self {
        let mut session = Self::unsaved(project, origin.as_ref().map(|origin| origin.path.clone()));
        session.stamp = origin.map(|origin| origin.stamp.unwrap_or_else(Stamp::unknown));
        session
    }

    /// The file it belongs to, as it was when it was opened or saved.
    pub fn origin(&self) -> Option<Origin> {
        Some(Origin { path: self.path.clone()?, stamp: self.stamp.clone() })
    }

    /// The project as it is now.
    pub fn project(&self) -> &Project {
        &self.project
    }

    /// The same, to keep while work goes on: later changes leave it as it is.
    pub fn snapshot(&self) -> Arc<Project> {
        Arc::clone(&self.project)
    }

    /// Counts the changes of the project, those within a gesture among them; operating points looked at don't count.
    pub const fn edits(&self) -> u64 {
        self.edits
    }

    /// The file it came from or was saved to.
    pub fn path(&self) -> Option<&Path> {
        self.path.as_deref()
    }

    /// The routing in hand.
    pub fn routing(&self) -> &Routing {
        self.routing_in(&self.project)
    }

    /// The same in a snapshot.
    pub fn routing_in<'project>(&self, project: &'project Project) -> &'project Routing {
        static NONE: std::sync::LazyLock<Routing> =
            std::sync::LazyLock::new(|| Routing::empty(RoutingId(0), ""));
        project.routing(self.routing).or_else(|| project.routings.first()).unwrap_or(&NONE)
    }

    /// Where it is solved.
    pub const fn point(&self) -> &OperatingPoint {
        &self.point
    }

    /// Looks at another ground speed; changes no project.
    pub fn look_at_speed(&mut self, speed: Speed) {
        if speed.is_finite() && speed.si() > 0.0 && speed != self.point.speed {
            self.point.speed = speed;
            self.refresh(Geometry::Stays);
        }
    }

    /// Looks at another temperature of the liquid; changes no project.
    pub fn look_at_temperature(&mut self, temperature: Temperature) {
        if temperature.is_finite() && temperature != self.point.temperature {
            self.point.temperature = temperature;
            self.refresh(Geometry::Stays);
        }
    }

    /// Looks at another side slope; changes no project.
    pub fn look_at_side_slope(&mut self, slope: Angle) {
        if slope.si().abs() < 0.8 && slope != self.point.side_slope {
            self.point.side_slope = slope;
            self.refresh(Geometry::Stays);
        }
    }

    /// Looks at another fore-aft slope; changes no project.
    pub fn look_at_fore_aft_slope(&mut self, slope: Angle) {
        if slope.si().abs() < 0.8 && slope != self.point.fore_aft_slope {
            self.point.fore_aft_slope = slope;
            self.refresh(Geometry::Stays);
        }
    }

    /// A new number with every solve, of this or any other session: whoever drew at the same number drew what is
    /// still so.
    pub const fn revision(&self) -> u64 {
        self.revision
    }

    /// What flows now.
    pub const fn outcome(&self) -> &Outcome {
        &self.solved.outcome
    }

    /// What flows at the slowest, usual and fastest speed.
    pub const fn range(&self) -> &SpeedRange {
        &self.solved.range
    }

    /// Where all of the routing in hand lies.
    pub const fn geometry(&self) -> &RoutingGeometry {
        &self.solved.geometry
    }

    /// The routing in hand and where it lies.
    pub fn laid(&self) -> LaidRouting<'_> {
        self.geometry().with(self.routing())
    }

    /// What is to be said about it.
    pub fn findings(&self) -> &[Finding] {
        &self.solved.findings
    }

    /// There are changes that are in no file. Found at the end of each step, so that asking costs nothing; undoing or
    /// taking back by hand what was changed counts as no change.
    pub const fn is_changed(&self) -> bool {
        self.changed
    }

    /// The step that undo would take back.
    pub fn undo_name(&self) -> Option<&str> {
        self.history.undo_name()
    }

    /// The step that redo would do again.
    pub fn redo_name(&self) -> Option<&str> {
        self.history.redo_name()
    }

    /// Changes the project in one named step, whole or not at all. A refusal is also kept as the message.
    pub fn edit(&mut self, name: &str, edits: impl IntoIterator<Item = Edit>) -> Result<(), EditError> {
        self.cancel_gesture();
        self.begin(name);
        if let Err(error) = self.change_all(edits) {
            self.revert();
            self.message = Some(error.to_string());
            return Err(error);
        }
        if let Err(error) = self.keep_step() {
            self.message = Some(error.to_string());
            return Err(error);
        }
        self.message = None;
        Ok(())
    }

    /// The same for what may be refused before it comes to edits: the refusal is kept as the message.
    fn edit_or_refuse<R: std::fmt::Display>(
        &mut self,
        name: &str,
        edits: Result<Vec<Edit>, R>,
    ) -> Result<(), String> {
        let edits = match edits {
            Ok(edits) => edits,
            Err(refusal) => return self.refuse(refusal.to_string()),
        };
        let before = self.snapshot();
        self.edit(name, edits).map_err(|error| error.to_string())?;
        if Arc::ptr_eq(&before, &self.project) {
            self.message = Some(format!("{name}: it is so already"));
        }
        Ok(())
    }

    /// Refuses something, and keeps why as the message.
    fn refuse<T>(&mut self, why: impl Into<String>) -> Result<T, String> {
        let why = why.into();
        self.message = Some(why.clone());
        Err(why)
    }

    /// Opens a named step for a gesture.
    pub fn begin(&mut self, name: &str) {
        let routing = self.routing().id;
        self.history.begin(name, &self.project, routing);
    }

    /// A step is open.
    pub const fn is_in_step(&self) -> bool {
        self.history.is_open()
    }

    /// One change within the open step; solved at once.
    pub fn change(&mut self, edit: Edit) -> Result<(), EditError> {
        self.change_all([edit])
    }

    /// Several changes within the open step, all or none; solved once after the last.
    pub fn change_all(&mut self, edits: impl IntoIterator<Item = Edit>) -> Result<(), EditError> {
        let before = Arc::clone(&self.project);
        if let Err(error) = self.apply_unsolved(edits) {
            self.project = before;
            return Err(error);
        }
        if !Arc::ptr_eq(&before, &self.project) {
            self.follow(&before);
            self.refresh_project();
        }
        Ok(())
    }

    /// Applies edits and leaves solving, and going back after a refusal, to the caller.
    fn apply_unsolved(&mut self, edits: impl IntoIterator<Item = Edit>) -> Result<(), EditError> {
        edits.into_iter().try_for_each(|edit| edit::apply(Arc::make_mut(&mut self.project), edit))
    }

    /// The point looked at follows what is asked: a changed rate or design condition at once, the speed if it was
    /// one of the three that changed.
    fn follow(&mut self, before: &Project) {
        let Some((before, now)) =
            before.duties.get(self.point.duty).zip(self.project.duties.get(self.point.duty))
        else {
            return self.leave_missing_duty(before);
        };
        self.point.rate = now.rate;
        if before.temperature != now.temperature {
            self.point.temperature = now.temperature;
        }
        if before.side_slope != now.side_slope {
            self.point.side_slope = now.side_slope;
        }
        if before.fore_aft_slope != now.fore_aft_slope {
            self.point.fore_aft_slope = now.fore_aft_slope;
        }
        for (old, new) in before.speeds().into_iter().zip(now.speeds()) {
            if old != new && self.point.speed == old {
                self.point.speed = new;
            }
        }
    }

    /// Ends the open step. One that left the plan unsound is taken back, and the message says why.
    pub fn commit(&mut self) {
        if let Err(error) = self.keep_step() {
            self.message = Some(error.to_string());
        }
    }

    /// Ends the open step. Each edit proved only what it touches; here the whole plan is proved once, and a step that
    /// left it unsound is taken back.
    fn keep_step(&mut self) -> Result<(), EditError> {
        let has_changed = self.history.before().is_some_and(|before| !Arc::ptr_eq(before, &self.project));
        if has_changed && let Some(problem) = validate::validate(&self.project).into_first() {
            self.revert();
            return Err(EditError::Invalid(Box::new(problem)));
        }
        self.history.commit(&mut self.project);
        self.compare();
        Ok(())
    }

    /// Ends the open step as if it had not been.
    pub fn revert(&mut self) {
        if let Some(before) = self.history.revert()
            && !Arc::ptr_eq(&before, &self.project)
        {
            self.put_back(before, self.routing);
        }
    }

    fn put_back(&mut self, project: Arc<Project>, routing: RoutingId) {
        let before = std::mem::replace(&mut self.project, project);
        // What was undone or done again is shown: the routing it was in, or the first if that is gone.
        let shown = [routing, self.routing].into_iter().find(|id| self.project.routing(*id).is_some());
        let first = self.project.routings.first().map_or(RoutingId(0), |routing| routing.id);
        self.routing = shown.unwrap_or(first);
        self.follow(&before);
        self.show_changed_duty(&before);
        self.refresh_project();
    }

    /// Takes the last step back; during a gesture, cancels that.
    pub fn undo(&mut self) {
        let measuring = matches!(self.gesture, Gesture::Measuring { .. });
        if self.is_in_step() || !(measuring || self.gesture == Gesture::None) {
            self.cancel_gesture();
        } else if let Some(step) = self.history.undo(&self.project) {
            self.message = None;
            self.put_back(step.project, step.routing);
        }
    }

    /// Does the last undone step again; not during a gesture.
    pub fn redo(&mut self) {
        let measuring = matches!(self.gesture, Gesture::Measuring { .. });
        if !self.is_in_step()
            && (measuring || self.gesture == Gesture::None)
            && let Some(step) = self.history.redo(&self.project)
        {
            self.message = None;
            self.put_back(step.project, step.routing);
        }
    }

    /// Finds whether the project differs from what was saved. While a step is open every change counts as one, and its
    /// end finds out: to compare whole projects in each frame of a drag would take too long.
    fn compare(&mut self) {
        let may_differ = !Arc::ptr_eq(&self.saved, &self.project);
        self.changed = may_differ && (self.is_in_step() || *self.saved != *self.project);
    }

    fn refresh_project(&mut self) {
        self.edits += 1;
        self.compare();
        self.refresh(Geometry::Changes);
    }

    fn refresh(&mut self, geometry: Geometry) {
        self.revision = next_revision();
        let routing = self.routing().id;
        let geometry = match geometry {
            Geometry::Stays => std::mem::take(&mut self.solved.geometry),
            Geometry::Changes => laid_out(&self.project, routing),
        };
        self.solved = solve(&mut self.bench, &self.project, routing, &self.point, geometry);
        let routing = self.project.routing(self.routing);
        let bar = &self.project.bar;
        self.selection.retain(|subject| match subject {
            Subject::Part(id) => routing.is_some_and(|routing| routing.part(*id).is_some()),
            Subject::Run(id) => routing.is_some_and(|routing| routing.run(*id).is_some()),
            Subject::Feed(id) => routing.is_some_and(|routing| routing.feed(*id).is_some()),
            Subject::Row(id) => bar.row(*id).is_some(),
        });
    }

    /// Saves to a file, whole or not at all. The notes say what the file could not keep of the one before.
    pub fn save(&mut self, path: &Path) -> Result<Notes, String> {
        self.release();
        self.commit();
        let notes = files::save(path, &self.project).map_err(|error| error.to_string())?;
        self.saved = Arc::clone(&self.project);
        self.changed = false;
        self.path = Some(path.to_owned());
        self.stamp = Stamp::of(path);
        files::remember(path);
        Ok(notes)
    }

    /// The file is not as it was when it was opened or saved: someone else has changed or removed it.
    pub fn changed_on_disk(&self) -> bool {
        self.path.as_deref().is_some_and(|path| self.stamp.is_some() && Stamp::of(path) != self.stamp)
    }

    /// Takes the file as it is now for known, so that it is not warned of again.
    pub fn accept_disk(&mut self) {
        self.stamp = self.path.as_deref().and_then(Stamp::of);
    }

    /// Opens a file.
    pub fn open(path: &Path) -> Result<Self, String> {
        let (project, notes) = files::open_with_notes(path).map_err(|error| error.to_string())?;
        files::remember(path);
        let mut session = Self::new(project, Some(path.to_owned()));
        if !notes.is_empty() {
            session.message = Some(notes.join("; "));
        }
        Ok(session)
    }

    /// Removes what is selected: parts, hoses and row feeds, in one step. Where a tee, valve or filter sat between two
    /// hoses of one stock, these become one again.
    pub fn delete_selection(&mut self) {
        let routing = self.routing().id;
        let mut healed = self.routing().clone();
        let kept = |run| !self.selection.contains(&Subject::Run(run));
        let mut any = false;
        for subject in &self.selection {
            if let Subject::Part(id) = *subject {
                any |= self.heal(&mut healed, id, kept);
            }
        }
        let mut edits = Vec::new();
        if any {
            edits.push(Edit::PutRouting(Box::new(healed.clone())));
        }
        let mut names = Vec::new();
        for subject in &self.selection {
            let edit = match *subject {
                Subject::Part(id) => {
                    Some(Edit::RemovePart(routing, id)).filter(|_| healed.part(id).is_some())
                }
                Subject::Run(id) => Some(Edit::RemoveRun(routing, id)),
                Subject::Feed(id) => Some(Edit::RemoveFeed(routing, id)),
                // A row belongs to the bar, not to the routing: what goes is its feed.
                Subject::Row(id) => match self.routing().feed_of(id) {
                    Some(feed) => Some(Edit::RemoveFeed(routing, feed.id)),
                    None => continue,
                },
            };
            names.push(self.tag_of(*subject));
            if let Some(edit) = edit.filter(|edit| !edits.contains(edit)) {
                edits.push(edit);
            }
        }
        if edits.is_empty() {
            return;
        }
        let name = if names.len() == 1 {
            format!("Delete {}", names[0])
        } else {
            format!("Delete {} things", names.len())
        };
        // A refusal is in the message; there is nothing else to do.
        let _ = self.edit(&name, edits);
    }

    /// The tag of something, as people read it.
    pub fn tag_of(&self, subject: Subject) -> String {
        let routing = self.routing();
        match subject {
            Subject::Part(id) => routing.part(id).map(|part| part.tag.clone()),
            Subject::Run(id) => routing.run(id).map(|run| run.tag.clone()),
            Subject::Feed(id) => routing.feed(id).map(|feed| feed.tag.clone()),
            Subject::Row(id) => self.project.bar.row(id).map(|row| format!("row {}", row.number)),
        }
        .unwrap_or_default()
    }
}

fn next_revision() -> u64 {
    static LAST: AtomicU64 = AtomicU64::new(0);
    LAST.fetch_add(1, Ordering::Relaxed) + 1
}

/// Whether what is solved again lies where it lay.
enum Geometry {
    /// Another operating point of the same routing.
    Stays,
    /// The project or the routing in hand is another.
    Changes,
}

fn laid_out(project: &Project, routing: RoutingId) -> RoutingGeometry {
    let empty = Routing::empty(routing, "");
    RoutingGeometry::working(project, project.routing(routing).unwrap_or(&empty))
}

fn solve(
    bench: &mut KeptSolver,
    project: &Project,
    routing: RoutingId,
    point: &OperatingPoint,
    geometry: RoutingGeometry,
) -> Solved {
    let empty = Routing::empty(routing, "");
    let routing = geometry.with(project.routing(routing).unwrap_or(&empty));
    let mut prepared = bench.prepare(project, routing);
    let outcome = prepared.solve(point);
    let range = prepared.speed_range(point, Some(&outcome));
    let findings = checks::findings(project, routing, &outcome, &range.outcomes);
    Solved { geometry, outcome, range, findings }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Point3;
    use crate::plan::{BarPoint, SectionId};

    /// No edit leaves a plan unsound; if one ever did, the step goes and the message says what was wrong.
    #[test]
    fn a_step_that_left_the_plan_unsound_is_taken_back() {
        let mut session = Session::new(files::demo(), None);
        let before = session.snapshot();
        session.begin("Break it");
        let nowhere = Point3::new(f64::NAN, 0.0, 0.0);
        Arc::make_mut(&mut session.project).routings[0].runs[0]
            .line
            .waypoints
            .push(BarPoint { place: nowhere, section: SectionId(1) });
        session.commit();
        assert!(Arc::ptr_eq(&before, &session.project));
        assert!(session.message.as_deref().is_some_and(|message| message.contains("a waypoint")));
        assert_eq!(session.undo_name(), None);
        assert!(!session.is_changed());
    }
}
