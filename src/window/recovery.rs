//! Keeps unsaved work apart while the window runs, and offers what an earlier run left behind.
//!
//! When to keep is the session's ([`autosave`](crate::session::autosave)), how is the files'
//! ([`recovery`](crate::files::recovery)); here the two meet the clock, on a thread of its own, so that no frame waits
//! for the disk.

mod kept_form;

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::thread::JoinHandle;
use std::time::Duration;

use eframe::egui::Context;

pub use kept_form::FormWork;
use kept_form::KeptForm;

use super::bar_form::BarForm;
use super::dialogs::{self, DialogAnswer, Found};
use super::typing;
use crate::files::WriteError;
use crate::files::recovery::{KeptBarForm, LeftBehind, Slot, left_behind};
use crate::plan::Project;
use crate::session::Session;
use crate::session::autosave::{Autosave, Due};

/// Wait before a place that could not be had is tried again.
const AGAIN: Duration = Duration::from_secs(10);

/// When what was left behind is looked for again, after the start: a program that was killed holds its place until the
/// system has taken it down, which may take seconds.
const LOOK_AGAIN: [Duration; 5] = [
    Duration::from_millis(300),
    Duration::from_secs(1),
    Duration::from_secs(2),
    Duration::from_secs(6),
    Duration::from_secs(20),
];

/// What was left behind and is open here now.
pub struct Reopened {
    /// The project; none where it is in hand already, or where a form for a new bar was left.
    pub session: Option<Session>,
    /// The form that was open over it.
    pub form: Option<BarForm>,
}

/// What is kept, and what was found.
pub struct Recovery {
    base: Option<PathBuf>,
    slot: Result<Arc<Slot>, String>,
    /// When the place was last tried for.
    tried: Duration,
    left: Vec<LeftBehind>,
    /// How often it was looked for again.
    looked: usize,
    /// Opened here, and not safely kept here yet: it stays where it was found.
    in_hand: Option<LeftBehind>,
    autosave: Autosave,
    /// The bar of a form that is filled in and not started.
    form: KeptForm,
    /// Deleting what was left behind was asked for, and is to be confirmed.
    is_deleting: bool,
    writing: Option<JoinHandle<Result<(), WriteError>>>,
    /// Why the last keeping failed, until one succeeds.
    failed: Option<String>,
}

fn take(base: Option<&Path>) -> Result<Arc<Slot>, String> {
    let Some(base) = base else {
        return Err(
            "Unsaved work is not kept: no folder for it is known, HOME is not set; save often".to_owned()
        );
    };
    let taken = Slot::take(base).map(Arc::new);
    taken.map_err(|error| format!("Unsaved work is not kept: {}: {error}; save often", base.display()))
}

impl Recovery {
    /// Looks for work left behind below a folder, and takes a place of its own there.
    pub fn start(base: Option<PathBuf>) -> Self {
        let left = base.as_deref().map(left_behind).unwrap_or_default();
        let slot = take(base.as_deref());
        Self {
            base,
            slot,
            tried: Duration::ZERO,
            left,
            looked: 0,
            in_hand: None,
            autosave: Autosave::default(),
            form: KeptForm::default(),
            is_deleting: false,
            writing: None,
            failed: None,
        }
    }

    /// Something is asked about. While there is unsaved work in hand, the next waits: it would take its place.
    pub fn is_asking(&self, session: &Session) -> bool {
        !self.left.is_empty() && !session.is_changed()
    }

    /// Why unsaved work is not kept, as long as that holds.
    pub fn trouble(&self) -> Option<&str> {
        let troubles = self.slot.as_ref().err().or(self.failed.as_ref()).or_else(|| self.form.trouble());
        troubles.map(String::as_str)
    }

    /// Once for each frame, with the time since any moment that stays the same, and the bar that a form describes which is
    /// filled in and not started.
    pub fn step(&mut self, ctx: &Context, now: Duration, session: &Session, form: FormWork) {
        // What is typed while a form is open is typed in the form.
        let (in_form, typed) = match &form {
            FormWork::Nothing => (Vec::new(), typing::unentered(ctx)),
            FormWork::Open { .. } => (typing::unentered(ctx), Vec::new()),
        };
        self.form.step(ctx, now, self.base.as_deref(), form, session.origin(), in_form);
        if !session.is_changed() {
            self.let_go();
            if typed.is_empty() {
                self.failed = None;
            }
        }
        self.look_again(ctx, now);
        if self.slot.is_err() && self.base.is_some() {
            let wait = (self.tried + AGAIN).saturating_sub(now);
            if !wait.is_zero() {
                if session.is_changed() {
                    ctx.request_repaint_after(wait);
                }
                return;
            }
            self.tried = now;
            self.slot = take(self.base.as_deref());
        }
        let Ok(slot) = self.slot.clone() else { return };
        match self.autosave.step(now, session, &typed) {
            Due::Nothing => {}
            Due::In(wait) => ctx.request_repaint_after(wait),
            Due::Keep => {
                self.wait(now);
                let (project, origin) = (session.snapshot(), session.origin());
                let ctx = ctx.clone();
                self.writing = Some(std::thread::spawn(move || {
                    let done = slot.keep(&project, origin.as_ref(), &typed);
                    ctx.request_repaint();
                    done
                }));
            }
            Due::Clear => {
                self.wait(now);
                self.failed = None;
                slot.clear();
            }
        }
        if self.writing.as_ref().is_some_and(JoinHandle::is_finished) {
            self.wait(now);
        }
    }

    fn look_again(&mut self, ctx: &Context, now: Duration) {
        let Some(due) = LOOK_AGAIN.get(self.looked) else { return };
        let wait = due.saturating_sub(now);
        if wait.is_zero() {
            self.looked += 1;
            // What is held here already is locked, and so passed over.
            self.left.extend(self.base.as_deref().map(left_behind).unwrap_or_default());
        }
        ctx.request_repaint_after(wait);
    }

    /// Waits until the last writing is done.
    fn wait(&mut self, now: Duration) {
        let Some(writing) = self.writing.take() else { return };
        let failed = match writing.join() {
            Ok(Ok(())) => None,
            Ok(Err(error)) => Some(format!("Unsaved work is not kept: {error}")),
            Err(_) => Some("Unsaved work is not kept; save often".to_owned()),
        };
        match failed {
            Some(_) => self.autosave.failed(now),
            None => self.let_go(),
        }
        self.failed = failed;
    }

    /// What was opened here is in its file, is kept here, or was given up: the place it was found in may go.
    fn let_go(&mut self) {
        if let Some(found) = self.in_hand.take() {
            // What can't be deleted is offered once more than needed: no harm.
            let _ = found.discard();
        }
    }

    /// Another project is in hand, and the last one is in a file or was given up by name.
    pub fn start_over(&mut self) {
        self.let_go();
        self.autosave.start_over();
    }

    /// Everything is in a file or given up: nothing is left for the next start.
    pub fn end(mut self) {
        self.wait(Duration::ZERO);
        self.let_go();
        self.form.end();
        if let Ok(Ok(slot)) = self.slot.map(Arc::try_unwrap) {
            slot.end();
        }
    }

    /// Asks about the first of what was left behind; the session to open, if it shall be.
    pub fn ask(&mut self, ctx: &Context, session: &Session) -> Option<Result<Reopened, String>> {
        let work = self.left.first().filter(|_| self.is_asking(session))?;
        let answer = if self.is_deleting {
            dialogs::delete_left_behind(ctx, work)
        } else {
            dialogs::left_behind(ctx, work, self.left.len() - 1)
        };
        match answer {
            DialogAnswer::Waiting => None,
            DialogAnswer::Closed if self.is_deleting => {
                self.is_deleting = false;
                None
            }
            DialogAnswer::Closed => {
                // Stays where it is, for the next start.
                self.left.remove(0);
                None
            }
            DialogAnswer::Is(Found::Delete) if !self.is_deleting => {
                self.is_deleting = true;
                None
            }
            DialogAnswer::Is(Found::Delete) => {
                self.is_deleting = false;
                self.left.remove(0).discard().err().map(|error| Err(error.to_string()))
            }
            DialogAnswer::Is(Found::Open) => {
                let work = self.left.remove(0);
                let Ok(project) = work.project.clone() else { return None };
                Some(Ok(match work.form.clone() {
                    None => Reopened { session: Some(self.open(*project, work)), form: None },
                    Some(form) => self.open_form(&form, *project, work, session),
                }))
            }
        }
    }

    fn open(&mut self, project: Project, work: LeftBehind) -> Session {
        let session = self.in_hand_from(project, &work, notes(&work));
        self.in_hand = Some(work);
        if self.failed.is_none() {
            self.let_go();
        }
        session
    }

    /// Work that is in hand from here on, and kept here; or why not is in `failed`.
    fn in_hand_from(&mut self, project: Project, work: &LeftBehind, notes: Vec<String>) -> Session {
        self.start_over();
        let session = Session::recovered(project, work.origin.clone()).with_notes(notes);
        // Kept here before it is deleted there.
        let kept = match &self.slot {
            Ok(slot) => slot
                .keep(session.project(), session.origin().as_ref(), &[])
                .map_err(|error| format!("Unsaved work is not kept here, only where it was found: {error}")),
            Err(why) => Err(why.clone()),
        };
        self.failed = kept.err();
        if self.failed.is_none() {
            self.autosave.is_kept(session.snapshot());
        }
        session
    }

    fn open_form(
        &mut self,
        form: &KeptBarForm,
        project: Project,
        work: LeftBehind,
        in_hand: &Session,
    ) -> Reopened {
        let form = BarForm::reopen(form, &project, notes(&work));
        let is_same_file = |one: &LeftBehind, session: &Session| {
            one.origin.as_ref().map(|origin| origin.path.as_path()) == session.path()
        };
        let has_it = !form.changes_a_bar() || (*in_hand.project() == project && is_same_file(&work, in_hand));
        let session = if has_it {
            None
        } else {
            let session = self.in_hand_from(project, &work, Vec::new());
            if self.failed.is_none() {
                // The project was kept besides, as it was when the form was opened: it is in hand and kept here.
                let is_same = |one: &LeftBehind| {
                    let same = one.project.as_ref().is_ok_and(|other| **other == *session.project());
                    same && is_same_file(one, &session) && one.form.is_none() && one.typed.is_empty()
                };
                for again in self.left.extract_if(.., |one| is_same(one)) {
                    // What can't be deleted is offered once more than needed: no harm.
                    let _ = again.discard();
                }
            }
            Some(session)
        };
        self.form.reopened(work);
        Reopened { session, form: Some(form) }
    }
}

fn notes(work: &LeftBehind) -> Vec<String> {
    work.typed.iter().map(dialogs::not_entered).collect()
}
