//! Undo and redo: whole snapshots of the project in named steps.
//!
//! A step opens with [`History::begin`] and ends in [`History::commit`] (kept only if something changed) or
//! [`History::revert`]. One gesture is one step, however many edits it takes.

use std::sync::Arc;

use super::selected::Selection;
use crate::plan::Project;

/// Steps kept; older ones are forgotten.
const DEPTH: usize = 200;

/// A project as it was, the step that led away from it, and what was selected in which routing.
#[derive(Debug, Clone)]
pub struct UndoStep {
    /// Name of the step.
    pub name: String,
    /// The project on the other side of it.
    pub project: Arc<Project>,
    /// What was selected on that side, in the routing the step was done in.
    pub selection: Selection,
}

impl UndoStep {
    /// What a step leaves behind when it is gone over: what is selected now counts where it is of the step's routing.
    fn other_side(&self, now: &Arc<Project>, selected: &Selection) -> Self {
        let routing = self.selection.routing();
        let selection =
            if selected.routing() == routing { selected.clone() } else { Selection::nothing_of(routing) };
        Self { name: self.name.clone(), project: Arc::clone(now), selection }
    }
}

/// What was before and after each step.
#[derive(Debug, Clone, Default)]
pub struct History {
    past: Vec<UndoStep>,
    future: Vec<UndoStep>,
    open: Option<UndoStep>,
}

impl History {
    /// Opens a step; one already open goes on under its own name.
    pub fn begin(&mut self, name: &str, now: &Arc<Project>, selection: Selection) {
        if self.open.is_none() {
            self.open = Some(UndoStep { name: name.to_owned(), project: Arc::clone(now), selection });
        }
    }

    /// Opens the last step again, so that what follows becomes part of it.
    pub fn reopen(&mut self) {
        if self.open.is_none() {
            self.open = self.past.pop();
        }
    }

    /// A step is open.
    pub const fn is_open(&self) -> bool {
        self.open.is_some()
    }

    /// The project before the open step.
    pub fn before(&self) -> Option<&Arc<Project>> {
        self.open.as_ref().map(|step| &step.project)
    }

    /// Ends the open step; true if it left something to undo. A step that changed nothing leaves the very project
    /// that was there before it.
    pub fn commit(&mut self, now: &mut Arc<Project>) -> bool {
        let Some(step) = self.open.take() else { return false };
        if Arc::ptr_eq(&step.project, now) || *step.project == **now {
            *now = step.project;
            return false;
        }
        self.past.push(step);
        if self.past.len() > DEPTH {
            self.past.remove(0);
        }
        self.future.clear();
        true
    }

    /// Ends the open step as if it had not been; what to go back to.
    pub const fn revert(&mut self) -> Option<UndoStep> {
        self.open.take()
    }

    /// Takes the last step back; the project before it, and what was selected then.
    pub fn undo(&mut self, now: &Arc<Project>, selected: &Selection) -> Option<UndoStep> {
        let step = self.past.pop()?;
        self.future.push(step.other_side(now, selected));
        Some(step)
    }

    /// Does the last undone step again; the project after it, and what was selected then.
    pub fn redo(&mut self, now: &Arc<Project>, selected: &Selection) -> Option<UndoStep> {
        let step = self.future.pop()?;
        self.past.push(step.other_side(now, selected));
        Some(step)
    }

    /// Name of the open step.
    pub fn open_name(&self) -> Option<&str> {
        self.open.as_ref().map(|step| step.name.as_str())
    }

    /// The step that undo would take back.
    pub fn undo_name(&self) -> Option<&str> {
        self.past.last().map(|step| step.name.as_str())
    }

    /// The step that redo would do again.
    pub fn redo_name(&self) -> Option<&str> {
        self.future.last().map(|step| step.name.as_str())
    }
}
