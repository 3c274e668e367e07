//! Keeps unsaved work apart while the window runs, and offers what an earlier run left behind.
//!
//! When to keep is the session's ([`autosave`](crate::session::autosave)), how is the files'
//! ([`recovery`](crate::files::recovery)); here the two meet the clock, on a thread of its own, so that no frame waits
//! for the disk.

use std::path::Path;
use std::sync::Arc;
use std::thread::JoinHandle;
use std::time::Duration;

use eframe::egui::Context;

use super::dialogs::{self, Answer, Found};
use crate::files::WriteError;
use crate::files::recovery::{LeftBehind, Slot, left_behind};
use crate::session::Session;
use crate::session::autosave::{Autosave, Due};

/// What is kept, and what was found.
pub struct Recovery {
    slot: Arc<Slot>,
    left: Vec<LeftBehind>,
    autosave: Autosave,
    writing: Option<JoinHandle<Result<(), WriteError>>>,
}

impl Recovery {
    /// Looks for work left behind below a folder, and takes a place of its own there.
    pub fn start(base: &Path) -> Result<Self, String> {
        let left = left_behind(base);
        let slot = Slot::take(base).map_err(|error| {
            format!("Unsaved work can't be kept in {}: {error}; save often", base.display())
        })?;
        Ok(Self { slot: Arc::new(slot), left, autosave: Autosave::default(), writing: None })
    }

    /// Something is asked about.
    pub fn is_asking(&self) -> bool {
        !self.left.is_empty()
    }

    /// Once for each frame, with the time since any moment that stays the same; a message where keeping failed.
    pub fn step(&mut self, ctx: &Context, now: Duration, session: &Session) -> Option<String> {
        match self.autosave.step(now, session) {
            Due::Nothing => {}
            Due::In(wait) => ctx.request_repaint_after(wait),
            Due::Keep => {
                let failed = self.wait();
                let (slot, project) = (self.slot.clone(), session.project().clone());
                let origin = session.path().map(Path::to_owned);
                let ctx = ctx.clone();
                self.writing = Some(std::thread::spawn(move || {
                    let done = slot.keep(&project, origin.as_deref());
                    if done.is_err() {
                        ctx.request_repaint();
                    }
                    done
                }));
                return failed;
            }
            Due::Clear => {
                let failed = self.wait();
                self.slot.clear();
                return failed;
            }
        }
        if self.writing.as_ref().is_some_and(JoinHandle::is_finished) { self.wait() } else { None }
    }

    /// Waits until the last writing is done; the message if it failed.
    fn wait(&mut self) -> Option<String> {
        match self.writing.take()?.join() {
            Ok(Ok(())) => None,
            Ok(Err(error)) => {
                self.autosave.failed();
                Some(format!("Unsaved work can't be kept: {error}"))
            }
            Err(_) => Some("Unsaved work can't be kept; save often".to_owned()),
        }
    }

    /// Another project is in hand.
    pub fn start_over(&mut self) {
        self.autosave.start_over();
    }

    /// Everything is in a file or given up: nothing is left for the next start.
    pub fn end(mut self) {
        self.wait();
        if let Ok(slot) = Arc::try_unwrap(self.slot) {
            slot.end();
        }
    }

    /// Asks about the first of what was left behind; the session to open, if it shall be.
    pub fn ask(&mut self, ctx: &Context) -> Option<Result<Session, String>> {
        let work = self.left.first()?;
        match dialogs::left_behind(ctx, work, self.left.len() - 1) {
            Answer::Waiting => None,
            Answer::Closed => {
                // Stays where it is, for the next start.
                self.left.remove(0);
                None
            }
            Answer::Is(Found::Delete) => {
                self.left.remove(0).discard().err().map(|error| Err(error.to_string()))
            }
            Answer::Is(Found::Open) => {
                let work = self.left.remove(0);
                let Ok(project) = work.project.clone() else { return None };
                let session = Session::unsaved(*project, work.origin.clone());
                // Kept here before it is deleted there.
                if self.slot.keep(session.project(), session.path()).is_ok() {
                    // What can't be deleted is offered once more than needed: no harm.
                    let _ = work.discard();
                }
                Some(Ok(session))
            }
        }
    }
}
