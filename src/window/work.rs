//! What the window has worked out beside itself, and what waits for it.

use std::time::{Duration, Instant};

use crate::session::commands::Command;
use crate::session::under_way::UnderWay;

/// What is worked out beside the session.
#[derive(Debug, Default)]
pub(in crate::window) struct Work {
    pub(in crate::window) under_way: Option<(UnderWay, Instant)>,
    /// How long a pass stands still for a change before a sign is shown; none where nobody looks and it stands still to the end.
    pub(in crate::window) patience: Option<Duration>,
    /// What was asked for in the same frame, to be done after it.
    pub(in crate::window) after: Vec<Command>,
    /// The window was to be closed meanwhile, and asks for it again when all is done.
    pub(in crate::window) closes_after: bool,
}

impl Work {
    /// Passes stand still for it no longer than this.
    pub(in crate::window) const fn beside(patience: Duration) -> Self {
        Self { under_way: None, patience: Some(patience), after: Vec::new(), closes_after: false }
    }

    pub(in crate::window) const fn is_under_way(&self) -> bool {
        self.under_way.is_some()
    }

    /// A command waits until what is under way is done; where that is refused or given up, so is what was to follow.
    pub(in crate::window) fn wait_for_it(&mut self, command: Command) {
        self.after.push(command);
    }

    /// Ends, done or given up; gives what was to follow.
    pub(in crate::window) fn end(&mut self) -> Vec<Command> {
        self.under_way = None;
        self.closes_after = false;
        std::mem::take(&mut self.after)
    }
}
