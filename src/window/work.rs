//! What the window has worked out beside itself, and what waits for it.

use std::time::Instant;

use crate::session::commands::Command;
use crate::session::under_way::UnderWay;

/// What is worked out beside the session.
#[derive(Debug, Default)]
pub(in crate::window) struct Work {
    pub(in crate::window) under_way: Option<(UnderWay, Instant)>,
    pub(in crate::window) is_beside: bool,
    /// What was asked for meanwhile, to be done after it.
    pub(in crate::window) after: Vec<Command>,
}

impl Work {
    /// Passes don't stand still for it.
    pub(in crate::window) const fn beside() -> Self {
        Self { under_way: None, is_beside: true, after: Vec::new() }
    }

    pub(in crate::window) const fn is_under_way(&self) -> bool {
        self.under_way.is_some()
    }

    /// A command waits until what is under way is done; where that is refused or given up, so is what was to follow.
    pub(in crate::window) fn wait_for_it(&mut self, command: Command) {
        self.after.push(command);
    }
}
