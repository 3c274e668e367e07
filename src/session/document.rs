//! The open document: the project, what of it is in a file, and the steps that can be undone.
//!
//! A project changes here and nowhere else: edits go through [`ProjectDocument::apply`] within a named step.
//! Never here: tools, selection, hydraulics, or words for people.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::history::{History, UndoStep};
use super::selected::Selection;
use crate::files::recovery::{Origin, Stamp};
use crate::files::{self, Notes, WriteError};
use crate::plan::dismissal::Dismissal;
use crate::plan::edit::{self, EditError};
use crate::plan::{Edit, Project, Routing, RoutingId, validate};

/// One project with its file and its history.
#[derive(Debug, Clone)]
pub(super) struct ProjectDocument {
    project: Arc<Project>,
    saved: Arc<Project>,
    /// Whether the two differ, found once for each change.
    changed: bool,
    /// Counts the changes of the project.
    edits: u64,
    path: Option<PathBuf>,
    /// The file as it was when it was opened or saved.
    stamp: Option<Stamp>,
    /// What could not be taken over from the file.
    notes: Vec<String>,
    history: History,
}

/// One routing of a project as it was before a change, and the findings that were hidden.
pub(super) struct KeptRouting {
    place: usize,
    routing: Routing,
    dismissed: Vec<Dismissal>,
}

impl ProjectDocument {
    /// A project as it is in its file, if it has one.
    pub(super) fn new(project: Project, path: Option<PathBuf>) -> Self {
        let project = Arc::new(project);
        Self {
            saved: Arc::clone(&project),
            stamp: path.as_deref().and_then(Stamp::of),
            project,
            changed: false,
            edits: 0,
            path,
            notes: Vec::new(),
            history: History::default(),
        }
    }

    /// A project that is in no file as it is here. The file it belongs to, if any, stays as it is until it is saved.
    pub(super) fn unsaved(project: Project, path: Option<PathBuf>) -> Self {
        let saved = Arc::new(in_file(&project, path.as_deref()));
        let changed = *saved != project;
        Self { saved, changed, ..Self::new(project, path) }
    }

    /// Work found after a crash, with the file it belongs to, known as it was when the work was kept.
    pub(super) fn recovered(project: Project, origin: Option<Origin>) -> Self {
        let document = Self::unsaved(project, origin.as_ref().map(|origin| origin.path.clone()));
        Self { stamp: origin.map(|origin| origin.stamp.unwrap_or_else(Stamp::unknown)), ..document }
    }

    pub(super) fn with_notes(self, notes: Vec<String>) -> Self {
        Self { notes, ..self }
    }

    pub(super) fn notes(&self) -> &[String] {
        &self.notes
    }

    pub(super) fn project(&self) -> &Project {
        &self.project
    }

    pub(super) const fn shared(&self) -> &Arc<Project> {
        &self.project
    }

    pub(super) const fn edits(&self) -> u64 {
        self.edits
    }

    pub(super) fn path(&self) -> Option<&Path> {
        self.path.as_deref()
    }

    pub(super) fn origin(&self) -> Option<Origin> {
        Some(Origin { path: self.path.clone()?, stamp: self.stamp.clone() })
    }

    pub(super) const fn is_changed(&self) -> bool {
        self.changed
    }

    pub(super) const fn history(&self) -> &History {
        &self.history
    }

    /// The project before the open step.
    pub(super) fn before(&self) -> Option<&Arc<Project>> {
        self.history.before()
    }

    pub(super) fn begin(&mut self, name: &str, selection: Selection) {
        self.history.begin(name, &self.project, selection);
    }

    /// Opens the last step again, so that what follows becomes part of it.
    pub(super) fn reopen(&mut self) {
        self.history.reopen();
    }

    /// Applies edits one after the other. After a refusal some of them may be in: whoever asked goes back to what it had
    /// before, or undoes the step.
    pub(super) fn apply(&mut self, edits: impl IntoIterator<Item = Edit>) -> Result<(), EditError> {
        edits.into_iter().try_for_each(|edit| edit::apply(Arc::make_mut(&mut self.project), edit))
    }

    /// What a refused change of one routing goes back to: a gesture changes no more than that, and a copy of the whole
    /// project for each of its moves would cost more than the change.
    pub(super) fn keep(&self, routing: RoutingId) -> Option<KeptRouting> {
        let place = self.project.routings.iter().position(|one| one.id == routing)?;
        let routing = self.project.routings.get(place)?.clone();
        Some(KeptRouting { place, routing, dismissed: self.project.dismissed.clone() })
    }

    /// Goes back to what was kept of the same routing.
    pub(super) fn restore(&mut self, kept: KeptRouting) {
        let project = Arc::make_mut(&mut self.project);
        project.dismissed = kept.dismissed;
        if let Some(routing) = project.routings.get_mut(kept.place) {
            *routing = kept.routing;
        }
    }

    /// Goes back to a project as it was within the open step.
    pub(super) fn go_back(&mut self, project: Arc<Project>) {
        self.project = project;
    }

    /// Counts a change that is complete; false if nothing is other than it was in `before`.
    pub(super) fn has_changed_since(&mut self, before: &Arc<Project>) -> bool {
        let has_changed = !Arc::ptr_eq(before, &self.project);
        if has_changed {
            self.count();
        }
        has_changed
    }

    /// Counts a change that is complete.
    pub(super) fn count(&mut self) {
        self.edits += 1;
        self.compare();
    }

    /// Ends the open step. Each edit proved only what it touches; here the whole plan is proved once. One that left it
    /// unsound stays open, for its owner to take back.
    pub(super) fn commit(&mut self) -> Result<(), EditError> {
        let has_changed = self.before().is_some_and(|before| !Arc::ptr_eq(before, &self.project));
        if has_changed && let Some(problem) = validate::validate(&self.project).into_first() {
            return Err(EditError::Invalid(Box::new(problem)));
        }
        self.history.commit(&mut self.project);
        self.compare();
        Ok(())
    }

    /// Ends the open step as if it had not been; the project that was left, where that is another one, and what was
    /// selected before the step.
    pub(super) fn revert(&mut self) -> Option<(Arc<Project>, Selection)> {
        let UndoStep { project, selection, .. } = self.history.revert()?;
        (!Arc::ptr_eq(&project, &self.project)).then(|| (self.put_back(project), selection))
    }

    /// Takes the last step back; the project that was left, and what was selected before the step. `selected` is what is
    /// selected now.
    pub(super) fn undo(&mut self, selected: &Selection) -> Option<(Arc<Project>, Selection)> {
        let UndoStep { project, selection, .. } = self.history.undo(&self.project, selected)?;
        Some((self.put_back(project), selection))
    }

    /// Does the last undone step again; the project that was left, and what was selected when it was undone.
    pub(super) fn redo(&mut self, selected: &Selection) -> Option<(Arc<Project>, Selection)> {
        let UndoStep { project, selection, .. } = self.history.redo(&self.project, selected)?;
        Some((self.put_back(project), selection))
    }

    fn put_back(&mut self, project: Arc<Project>) -> Arc<Project> {
        let left = std::mem::replace(&mut self.project, project);
        self.count();
        left
    }

    /// Finds whether the project differs from what was saved. While a step is open every change counts as one, and its
    /// end finds out: to compare whole projects in each frame of a drag would take too long.
    fn compare(&mut self) {
        let may_differ = !Arc::ptr_eq(&self.saved, &self.project);
        self.changed = may_differ && (self.history.is_open() || *self.saved != *self.project);
    }

    /// Saves to a file, whole or not at all.
    pub(super) fn save(&mut self, path: &Path) -> Result<Notes, WriteError> {
        let notes = files::save(path, &self.project)?;
        self.saved = Arc::clone(&self.project);
        self.changed = false;
        self.path = Some(path.to_owned());
        self.stamp = Stamp::of(path);
        files::remember(path);
        Ok(notes)
    }

    pub(super) fn changed_on_disk(&self) -> bool {
        self.path.as_deref().is_some_and(|path| self.stamp.is_some() && Stamp::of(path) != self.stamp)
    }

    pub(super) fn file_is_gone(&self) -> bool {
        self.path.as_deref().is_some_and(|path| self.stamp.is_some() && Stamp::of(path).is_none())
    }

    /// Somebody else has changed the file: what counts as saved is what stands in it now.
    pub(super) fn look_at_disk(&mut self) {
        self.saved = Arc::new(in_file(&self.project, self.path.as_deref()));
        self.compare();
    }

    pub(super) fn accept_disk(&mut self) {
        self.stamp = self.path.as_deref().and_then(Stamp::of);
    }
}

/// What stands in a file; where that is no project, something that differs from every project that has a routing.
fn in_file(project: &Project, path: Option<&Path>) -> Project {
    let found = path.and_then(|path| files::open(path).ok());
    found.unwrap_or_else(|| Project { routings: Vec::new(), ..project.clone() })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Point3;
    use crate::plan::{BarPoint, SectionId};

    /// No edit leaves a plan unsound; if one ever did, the step is not kept and can be taken back.
    #[test]
    fn a_step_that_left_the_plan_unsound_is_refused_and_taken_back() {
        let mut document = ProjectDocument::new(files::demo(), None);
        let before = Arc::clone(document.shared());
        document.begin("Break it", Selection::nothing_of(document.project().routings[0].id));
        let nowhere = Point3::new(f64::NAN, 0.0, 0.0);
        let nowhere = BarPoint { place: nowhere, section: SectionId(1) };
        Arc::make_mut(&mut document.project).routings[0].runs[0].line.waypoints.push(nowhere);
        let refused = document.commit().unwrap_err();
        assert!(refused.to_string().contains("a waypoint"), "{refused}");
        assert!(document.revert().is_some());
        assert!(Arc::ptr_eq(&before, document.shared()));
        assert_eq!(document.history().undo_name(), None);
        assert!(!document.is_changed());
    }
}
