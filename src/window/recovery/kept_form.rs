//! The bar of a form that is filled in and not started, kept apart like unsaved work, in a place of its own: the project
//! in hand keeps its own.

use std::path::Path;
use std::sync::Arc;
use std::thread::JoinHandle;
use std::time::Duration;

use eframe::egui::Context;

use crate::files::WriteError;
use crate::files::recovery::Slot;
use crate::plan::Project;
use crate::session::autosave::SETTLE;

/// What a form holds that is nowhere else.
#[derive(Debug)]
pub enum FormWork {
    /// There is no form, or nothing was entered in it.
    Nothing,
    /// What was entered last can't be built; what could be before it stays kept.
    CannotBeBuilt,
    /// The project it describes.
    Bar(Box<Project>),
}

/// What is kept of a form, from when it is filled in until it is closed.
#[derive(Debug, Default)]
pub(super) struct KeptForm {
    slot: Option<Arc<Slot>>,
    /// As it was seen last.
    seen: Option<Box<Project>>,
    /// When that is to be kept.
    due: Option<Duration>,
    writing: Option<JoinHandle<Result<(), WriteError>>>,
}

impl KeptForm {
    /// Once for each frame; why it could not be kept, once.
    pub(super) fn step(
        &mut self,
        ctx: &Context,
        now: Duration,
        base: Option<&Path>,
        form: FormWork,
    ) -> Option<String> {
        match form {
            FormWork::Nothing => {
                self.end();
                return None;
            }
            FormWork::CannotBeBuilt => {}
            FormWork::Bar(project) => {
                if self.seen.as_ref() != Some(&project) {
                    self.seen = Some(project);
                    self.due = Some(now + SETTLE);
                }
            }
        }
        let done =
            if self.writing.as_ref().is_some_and(JoinHandle::is_finished) { self.wait() } else { None };
        let (Some(due), Some(base)) = (self.due, base) else { return done };
        if now < due || self.writing.is_some() {
            ctx.request_repaint_after(due.saturating_sub(now).max(Duration::from_millis(50)));
            return done;
        }
        self.due = None;
        if self.slot.is_none() {
            match Slot::take(base) {
                Ok(slot) => self.slot = Some(Arc::new(slot)),
                Err(error) => return Some(format!("The form is not kept: {}: {error}", base.display())),
            }
        }
        if let (Some(slot), Some(form)) = (self.slot.clone(), self.seen.clone()) {
            let ctx = ctx.clone();
            self.writing = Some(std::thread::spawn(move || {
                let done = slot.keep(&form, None, &[]);
                ctx.request_repaint();
                done
            }));
        }
        done
    }

    fn wait(&mut self) -> Option<String> {
        match self.writing.take()?.join() {
            Ok(Ok(())) => None,
            Ok(Err(error)) => Some(format!("The form is not kept: {error}")),
            Err(_) => Some("The form is not kept".to_owned()),
        }
    }

    /// The form is closed: it was started, or given up.
    pub(super) fn end(&mut self) {
        // Whether or not it was kept, it is of no use any more.
        drop(self.wait());
        (self.seen, self.due) = (None, None);
        if let Some(slot) = self.slot.take().and_then(Arc::into_inner) {
            slot.end();
        }
    }
}
