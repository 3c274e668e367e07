//! The project in hand: what is open, what is selected, what was done and can be undone, and the tools that turn
//! presses and moves (in metres) into edits.
//!
//! Every change goes through [`Session::edit`] or an open gesture, so that project, outcome and findings are always
//! of one state. Never here: widgets, colours, pixels. Start reading at [`Session`].

pub mod commands;
pub mod history;
pub mod rows;
pub mod tools;

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::checks::{self, Finding};
use crate::files;
use crate::hydraulics::speed_range::{SpeedRange, speed_range};
use crate::hydraulics::{self, Outcome};
use crate::plan::edit::{self, EditError};
use crate::plan::{Edit, OperatingPoint, PartId, Project, Routing, RoutingId, Subject};
use crate::quantities::{Angle, Speed, Temperature};

pub use history::History;
pub use tools::Tool;

/// What lies under the current solve of a session.
#[derive(Debug)]
struct Solved {
    outcome: Outcome,
    range: SpeedRange,
    findings: Vec<Finding>,
}

/// One open project.
#[derive(Debug)]
pub struct Session {
    project: Project,
    saved: Arc<Project>,
    path: Option<PathBuf>,
    routing: RoutingId,
    point: OperatingPoint,
    history: History,
    solved: Solved,
    revision: u64,
    /// What is selected; may hold what an undo took away, which is then ignored.
    pub selection: BTreeSet<Subject>,
    /// The tool in hand.
    pub tool: Tool,
    /// What the last refused action says, until the next one.
    pub message: Option<String>,
    gesture: tools::Gesture,
}

impl Session {
    /// Opens a project, on its first routing, at its usual speed.
    pub fn new(project: Project, path: Option<PathBuf>) -> Self {
        let routing = project.routings.first().map_or(RoutingId(0), |routing| routing.id);
        let point = project.application.usual_point();
        let solved = solve(&project, routing, &point);
        Self {
            saved: Arc::new(project.clone()),
            project,
            path,
            routing,
            point,
            history: History::default(),
            solved,
            revision: 0,
            selection: BTreeSet::new(),
            tool: Tool::Select,
            message: None,
            gesture: tools::Gesture::None,
        }
    }

    /// The project as it is now.
    pub const fn project(&self) -> &Project {
        &self.project
    }

    /// The file it came from or was saved to.
    pub fn path(&self) -> Option<&Path> {
        self.path.as_deref()
    }

    /// The routing in hand.
    pub fn routing(&self) -> &Routing {
        static NONE: std::sync::LazyLock<Routing> =
            std::sync::LazyLock::new(|| Routing::empty(RoutingId(0), ""));
        self.project.routing(self.routing).or_else(|| self.project.routings.first()).unwrap_or(&NONE)
    }

    /// Takes another routing in hand.
    pub fn show_routing(&mut self, id: RoutingId) {
        if self.project.routing(id).is_some() && id != self.routing {
            self.cancel_gesture();
            self.routing = id;
            self.selection.clear();
            self.refresh();
        }
    }

    /// Where it is solved.
    pub const fn point(&self) -> &OperatingPoint {
        &self.point
    }

    /// Looks at another ground speed; changes no project.
    pub fn look_at_speed(&mut self, speed: Speed) {
        if speed.is_finite() && speed.si() > 0.0 && speed != self.point.speed {
            self.point.speed = speed;
            self.refresh();
        }
    }

    /// Looks at another temperature of the liquid; changes no project.
    pub fn look_at_temperature(&mut self, temperature: Temperature) {
        if temperature.is_finite() && temperature != self.point.temperature {
            self.point.temperature = temperature;
            self.refresh();
        }
    }

    /// Looks at another side slope; changes no project.
    pub fn look_at_side_slope(&mut self, slope: Angle) {
        if slope.si().abs() < 0.8 && slope != self.point.side_slope {
            self.point.side_slope = slope;
            self.refresh();
        }
    }

    /// Counts the solves: whoever drew at the same number drew what is still so.
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

    /// What is to be said about it.
    pub fn findings(&self) -> &[Finding] {
        &self.solved.findings
    }

    /// There are changes that are in no file.
    pub fn is_changed(&self) -> bool {
        *self.saved != self.project
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
        for edit in edits {
            if let Err(error) = self.change(edit) {
                self.revert();
                self.message = Some(error.to_string());
                return Err(error);
            }
        }
        self.commit();
        self.message = None;
        Ok(())
    }

    /// Opens a named step for a gesture.
    pub fn begin(&mut self, name: &str) {
        self.history.begin(name, &self.project);
    }

    /// A step is open.
    pub const fn is_in_step(&self) -> bool {
        self.history.is_open()
    }

    /// One change within the open step; solved at once.
    pub fn change(&mut self, edit: Edit) -> Result<(), EditError> {
        let asked_before = self.project.application;
        edit::apply(&mut self.project, edit)?;
        self.follow(&asked_before);
        self.refresh();
        Ok(())
    }

    /// The point looked at follows what is asked: a changed rate or design condition at once, the speed if it was
    /// one of the three that changed.
    fn follow(&mut self, before: &crate::plan::Application) {
        let now = &self.project.application;
        self.point.rate = now.rate;
        if before.temperature != now.temperature {
            self.point.temperature = now.temperature;
        }
        if before.side_slope != now.side_slope {
            self.point.side_slope = now.side_slope;
        }
        self.point.fore_aft_slope = now.fore_aft_slope;
        for (old, new) in
            [(before.slowest, now.slowest), (before.usual, now.usual), (before.fastest, now.fastest)]
        {
            if old != new && self.point.speed == old {
                self.point.speed = new;
            }
        }
    }

    /// Ends the open step.
    pub fn commit(&mut self) {
        self.history.commit(&self.project);
    }

    /// Ends the open step as if it had not been.
    pub fn revert(&mut self) {
        if let Some(before) = self.history.revert() {
            self.put_back(&before);
        }
    }

    fn put_back(&mut self, project: &Arc<Project>) {
        let asked_before = self.project.application;
        self.project = Project::clone(project);
        if self.project.routing(self.routing).is_none() {
            self.routing = self.project.routings.first().map_or(RoutingId(0), |routing| routing.id);
        }
        self.follow(&asked_before);
        self.refresh();
    }

    /// Takes the last step back; during a gesture, cancels that.
    pub fn undo(&mut self) {
        if self.is_in_step() {
            self.cancel_gesture();
        } else if let Some((_, before)) = self.history.undo(&self.project) {
            self.put_back(&before);
        }
    }

    /// Does the last undone step again.
    pub fn redo(&mut self) {
        if !self.is_in_step()
            && let Some((_, after)) = self.history.redo(&self.project)
        {
            self.put_back(&after);
        }
    }

    fn refresh(&mut self) {
        self.revision += 1;
        self.solved = solve(&self.project, self.routing().id, &self.point);
        let routing = self.project.routing(self.routing);
        let bar = &self.project.bar;
        self.selection.retain(|subject| match subject {
            Subject::Part(id) => routing.is_some_and(|routing| routing.part(*id).is_some()),
            Subject::Run(id) => routing.is_some_and(|routing| routing.run(*id).is_some()),
            Subject::Feed(id) => routing.is_some_and(|routing| routing.feed(*id).is_some()),
            Subject::Row(id) => bar.row(*id).is_some(),
        });
    }

    /// Saves to a file, whole or not at all.
    pub fn save(&mut self, path: &Path) -> Result<(), String> {
        self.commit();
        files::save(path, &self.project).map_err(|error| error.to_string())?;
        self.saved = Arc::new(self.project.clone());
        self.path = Some(path.to_owned());
        files::remember(path);
        Ok(())
    }

    /// Opens a file.
    pub fn open(path: &Path) -> Result<Self, String> {
        let project = files::open(path).map_err(|error| error.to_string())?;
        files::remember(path);
        Ok(Self::new(project, Some(path.to_owned())))
    }

    /// The only selected part, if it is the only thing selected.
    pub fn selected_part(&self) -> Option<PartId> {
        match self.selection.iter().collect::<Vec<_>>()[..] {
            [Subject::Part(id)] => Some(*id),
            _ => None,
        }
    }

    /// Removes what is selected: parts, hoses and row feeds, in one step.
    pub fn delete_selection(&mut self) {
        let routing = self.routing().id;
        let mut edits = Vec::new();
        let mut names = Vec::new();
        for subject in &self.selection {
            let edit = match *subject {
                Subject::Part(id) => Edit::RemovePart(routing, id),
                Subject::Run(id) => Edit::RemoveRun(routing, id),
                Subject::Feed(id) => Edit::RemoveFeed(routing, id),
                // A row belongs to the bar, not to the routing: what goes is its feed.
                Subject::Row(id) => match self.routing().feed_of(id) {
                    Some(feed) => Edit::RemoveFeed(routing, feed.id),
                    None => continue,
                },
            };
            names.push(self.tag_of(*subject));
            if !edits.contains(&edit) {
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

fn solve(project: &Project, routing: RoutingId, point: &OperatingPoint) -> Solved {
    let empty = Routing::empty(routing, "");
    let routing = project.routing(routing).unwrap_or(&empty);
    let outcome = hydraulics::solve(project, routing, point);
    let range = speed_range(project, routing, point, Some(&outcome));
    let findings = checks::findings(project, routing, &outcome, &range.outcomes);
    Solved { outcome, range, findings }
}
