//! Undo and redo: whole snapshots of the project in named steps.
//!
//! A step opens with [`History::begin`] and ends in [`History::commit`] (kept only if something changed) or
//! [`History::revert`]. One gesture is one step, however many edits it takes.

use std::sync::Arc;

use crate::plan::Project;

/// Steps kept; older ones are forgotten.
const DEPTH: usize = 200;

/// What was before and after each step.
#[derive(Debug, Default)]
pub struct History {
    past: Vec<(String, Arc<Project>)>,
    future: Vec<(String, Arc<Project>)>,
    open: Option<(String, Arc<Project>)>,
}

impl History {
    /// Opens a step; one already open goes on under its own name.
    pub fn begin(&mut self, name: &str, now: &Project) {
        if self.open.is_none() {
            self.open = Some((name.to_owned(), Arc::new(now.clone())));
        }
    }

    /// A step is open.
    pub const fn is_open(&self) -> bool {
        self.open.is_some()
    }

    /// Ends the open step; true if it left something to undo.
    pub fn commit(&mut self, now: &Project) -> bool {
        let Some((name, before)) = self.open.take() else { return false };
        if *before == *now {
            return false;
        }
        self.past.push((name, before));
        if self.past.len() > DEPTH {
            self.past.remove(0);
        }
        self.future.clear();
        true
    }

    /// Ends the open step as if it had not been; the project to go back to.
    pub fn revert(&mut self) -> Option<Arc<Project>> {
        self.open.take().map(|(_, before)| before)
    }

    /// Takes the last step back; the project before it.
    pub fn undo(&mut self, now: &Project) -> Option<(String, Arc<Project>)> {
        let (name, before) = self.past.pop()?;
        self.future.push((name.clone(), Arc::new(now.clone())));
        Some((name, before))
    }

    /// Does the last undone step again; the project after it.
    pub fn redo(&mut self, now: &Project) -> Option<(String, Arc<Project>)> {
        let (name, after) = self.future.pop()?;
        self.past.push((name.clone(), Arc::new(now.clone())));
        Some((name, after))
    }

    /// The step that undo would take back.
    pub fn undo_name(&self) -> Option<&str> {
        self.past.last().map(|(name, _)| name.as_str())
    }

    /// The step that redo would do again.
    pub fn redo_name(&self) -> Option<&str> {
        self.future.last().map(|(name, _)| name.as_str())
    }
}
