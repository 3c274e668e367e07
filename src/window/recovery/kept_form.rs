//! The bar of a form that is filled in and not started, kept apart like unsaved work, in a place of its own: the project
//! in hand keeps its own.

use std::path::Path;
use std::sync::Arc;
use std::thread::JoinHandle;
use std::time::Duration;

use eframe::egui::Context;

use crate::files::recovery::{KeptBarForm, LeftBehind, Origin, Slot, UnenteredText};
use crate::files::{self, WriteError};
use crate::plan::Project;
use crate::session::autosave::{AGAIN, LONGEST, SETTLE};

/// What a form holds that is nowhere else.
#[derive(Debug)]
pub enum FormWork {
    /// There is no form.
    Nothing,
    /// A form, whether or not its bar can be built yet.
    Open {
        /// As it is filled in.
        form: Box<KeptBarForm>,
        /// The project that it changes, or what a new bar starts with.
        base: Box<Project>,
        /// Something was entered in it.
        is_filled_in: bool,
    },
}

/// A form with all that is kept of it.
#[derive(Debug, Clone, PartialEq)]
struct FormContents {
    form: Box<KeptBarForm>,
    base: Box<Project>,
    origin: Option<Origin>,
    typed: Vec<UnenteredText>,
}

/// What is kept of a form, from when it is filled in until it is closed.
#[derive(Debug, Default)]
pub(super) struct KeptForm {
    slot: Option<Arc<Slot>>,
    /// As it was seen last.
    seen: Option<FormContents>,
    /// Opened here, and not safely kept here yet: it stays where it was found.
    in_hand: Option<LeftBehind>,
    /// First and last entry that are not kept yet.
    waiting: Option<(Duration, Duration)>,
    /// The last keeping failed: not before this is it tried again.
    again: Option<Duration>,
    writing: Option<JoinHandle<Result<(), WriteError>>>,
    /// Why it is not kept, until it is.
    failed: Option<String>,
}

impl KeptForm {
    /// Once for each frame, with the file that the project in hand belongs to and what is typed in the form and not
    /// entered.
    pub(super) fn step(
        &mut self,
        ctx: &Context,
        now: Duration,
        base: Option<&Path>,
        work: FormWork,
        origin: Option<Origin>,
        typed: Vec<UnenteredText>,
    ) {
        let FormWork::Open { form, base: project, is_filled_in } = work else {
            self.end();
            return;
        };
        if !is_filled_in && typed.is_empty() {
            self.end();
            return;
        }
        // What a new bar starts with belongs to no file.
        let origin = origin.filter(|_| form.changes);
        let contents = FormContents { form, base: project, origin, typed };
        if self.seen.as_ref() != Some(&contents) {
            self.seen = Some(contents);
            let first = self.waiting.map_or(now, |(first, _)| first);
            self.waiting = Some((first, now));
        }
        if self.writing.as_ref().is_some_and(JoinHandle::is_finished) {
            self.wait(now);
        }
        let entered = self.waiting.map(|(first, last)| (last + SETTLE).min(first + LONGEST));
        let (Some(due), Some(base)) = (entered.max(self.again), base) else { return };
        if now < due || self.writing.is_some() {
            ctx.request_repaint_after(due.saturating_sub(now).max(Duration::from_millis(50)));
            return;
        }
        (self.waiting, self.again) = (None, None);
        if self.slot.is_none() {
            match Slot::take(base) {
                Ok(slot) => self.slot = Some(Arc::new(slot)),
                Err(error) => {
                    self.fails(now, format!("The form is not kept: {}: {error}", base.display()));
                    ctx.request_repaint_after(AGAIN);
                }
            }
        }
        if let (Some(slot), Some(form)) = (self.slot.clone(), self.seen.clone()) {
            let ctx = ctx.clone();
            self.writing = Some(std::thread::spawn(move || {
                let FormContents { form, mut base, origin, typed } = form;
                if !form.changes {
                    // What a new bar starts with has no bar yet, and no file is written without one.
                    base.bar = files::demo().bar;
                }
                let done = slot.keep_form(&form, &base, origin.as_ref(), &typed);
                ctx.request_repaint();
                done
            }));
        }
    }

    /// Why the form is not kept, as long as that holds.
    pub(super) const fn trouble(&self) -> Option<&String> {
        self.failed.as_ref()
    }

    fn fails(&mut self, now: Duration, why: String) {
        self.failed = Some(why);
        self.again = Some(now + AGAIN);
    }

    fn wait(&mut self, now: Duration) {
        let Some(writing) = self.writing.take() else { return };
        match writing.join() {
            Ok(Ok(())) => {
                self.failed = None;
                self.let_go();
            }
            Ok(Err(error)) => self.fails(now, format!("The form is not kept: {error}")),
            Err(_) => self.fails(now, "The form is not kept".to_owned()),
        }
    }

    /// A form that was found is open here: it stays where it was found until it is kept here or closed.
    pub(super) fn reopened(&mut self, found: LeftBehind) {
        self.in_hand = Some(found);
    }

    fn let_go(&mut self) {
        if let Some(found) = self.in_hand.take() {
            // What can't be deleted is offered once more than needed: no harm.
            let _ = found.discard();
        }
    }

    /// The form is closed: it was started, or given up.
    pub(super) fn end(&mut self) {
        // Whether or not it was kept, it is of no use any more.
        if let Some(writing) = self.writing.take() {
            drop(writing.join());
        }
        self.let_go();
        let slot = std::mem::take(self).slot;
        if let Some(slot) = slot.and_then(Arc::into_inner) {
            slot.end();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::files::demo;
    use crate::files::recovery::left_behind;
    use crate::plan::lay_out::layout_of;

    /// Steps on until nothing is being written; false if nothing was.
    fn step(kept: &mut KeptForm, seconds: u64, base: &Path) -> bool {
        let ctx = Context::default();
        let form = || FormWork::Open {
            form: Box::new(KeptBarForm { changes: true, layout: layout_of(&demo().bar) }),
            base: Box::new(demo()),
            is_filled_in: true,
        };
        kept.step(&ctx, Duration::from_secs(seconds), Some(base), form(), None, Vec::new());
        let has_written = kept.writing.is_some();
        while kept.writing.is_some() {
            std::thread::yield_now();
            kept.step(&ctx, Duration::from_secs(seconds), Some(base), form(), None, Vec::new());
        }
        has_written
    }

    #[test]
    fn a_form_that_could_not_be_kept_is_tried_again_and_says_so_until_it_is() {
        let folder = tempfile::tempdir().unwrap();
        let base = folder.path().join("kept");
        // A file stands where the folder is to be.
        std::fs::write(&base, "in the way").unwrap();
        let mut kept = KeptForm::default();
        assert!(!step(&mut kept, 0, &base));
        assert_eq!(kept.trouble(), None);
        assert!(!step(&mut kept, 2, &base));
        assert!(kept.trouble().is_some_and(|why| why.contains("The form is not kept")));
        std::fs::remove_file(&base).unwrap();
        // Not before its time, and then without another entry.
        assert!(!step(&mut kept, 3, &base));
        assert!(kept.trouble().is_some());
        assert!(step(&mut kept, 13, &base));
        assert_eq!(kept.trouble(), None);
        // What a running program holds is not offered; closed, nothing is left of it.
        kept.end();
        assert!(left_behind(&base).is_empty());
    }
}
