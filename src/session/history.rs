//! Undo and redo: whole snapshots of the project in named steps.
//!
//! A step opens with [`History::begin`] and ends in [`History::commit`] (kept only if something changed) or
//! [`History::revert`]. One gesture is one step, however many edits it takes.

use std::sync::Arc;

use crate::plan::{Project, RoutingId};

/// Steps kept; older ones are forgotten.
const DEPTH: usize = 200;

/// A project as it was, the step that led away from it, and the routing that was in hand.
#[derive(Debug, Clone)]
pub struct UndoStep {
    /// Name of the step.
    pub name: String,
    /// The project on the other side of it.
    pub project: Arc<Project>,
    /// The routing it was done in.
    pub routing: RoutingId,
}

/// What was before and after each step.
#[derive(Debug, Default)]
pub struct History {
    past: Vec<UndoStep>,
    future: Vec<UndoStep>,
    open: Option<UndoStep>,
}

impl History {
    /// Opens a step; one already open goes on under its own name.
    pub fn begin(&mut self, name: &str, now: &Arc<Project>, routing: RoutingId) {
        if self.open.is_none() {
            self.open = Some(UndoStep { name: name.to_owned(), project: Arc::clone(now), routing });
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

    /// Ends the open step as if it had not been; the project to go back to.
    pub fn revert(&mut self) -> Option<Arc<Project>> {
        self.open.take().map(|step| step.project)
    }

    /// Takes the last step back; the project before it, and the routing it was done in.
    pub fn undo(&mut self, now: &Arc<Project>) -> Option<UndoStep> {
        let step = self.past.pop()?;
        self.future.push(UndoStep { project: Arc::clone(now), ..step.clone() });
        Some(step)
    }

    /// Does the last undone step again; the project after it.
    pub fn redo(&mut self, now: &Arc<Project>) -> Option<UndoStep> {
        let step = self.future.pop()?;
        self.past.push(UndoStep { project: Arc::clone(now), ..step.clone() });
        Some(step)
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
