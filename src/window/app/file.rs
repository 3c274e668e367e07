//! The file of the project in hand: open, save, what has to be asked before, what someone else has changed.

use std::path::PathBuf;

use eframe::egui::{Context, ViewportCommand};

use super::{App, ChangedFile, Next, OlderFile, PendingRequest};
use crate::files;
use crate::session::Session;
use crate::session::paper_export::stem;
use crate::window::bar_form::BarForm;
use crate::window::dialogs::{PathDialog, Purpose};
use crate::window::fold_view::FoldView;
use crate::window::recovery::FormWork;
use crate::window::status_line::StatusLine;
use crate::window::tables::Tables;

impl App {
    pub(super) fn ask_path(&mut self, purpose: Purpose) {
        let start = match purpose {
            Purpose::Save => self.session.path().map(Into::into).or_else(|| Some(self.path_offered())),
            _ => None,
        };
        self.path_dialog = Some(PathDialog::new(purpose, start));
    }

    /// Where to save a project that is in no file yet: beside the one used last, or in the home folder.
    fn path_offered(&self) -> PathBuf {
        let last = files::recent().into_iter().next();
        let folder = last.and_then(|path| path.parent().map(PathBuf::from)).filter(|folder| folder.is_dir());
        let folder = folder.or_else(std::env::home_dir).unwrap_or_default();
        folder.join(format!("{}.ron", stem(&self.session)))
    }

    /// What is half made and in no file: in the hand, or laid aside for the fold.
    pub(super) fn half_made(&self) -> Option<&'static str> {
        self.session.half_made().or_else(|| self.fold.half_made())
    }

    /// Goes on at once, or after the question about unsaved work.
    pub(super) fn ask(&mut self, next: Next) {
        if self.session.is_changed() || self.half_made().is_some() {
            self.waiting = Some(next);
        } else {
            self.go_on(next);
        }
    }

    pub(super) fn go_on(&mut self, next: Next) {
        match next {
            Next::Quit => self.closing = true,
            Next::AskOpen => self.ask_path(Purpose::Open),
            // What is in hand stays in hand until the form is done.
            Next::New => self.bar_form = Some(BarForm::new(self.session.project().units)),
            Next::Example(example) => self.take(Session::new(example.project(), None)),
            Next::Open(path) => match Session::open(&path) {
                Ok(session) => {
                    self.path_dialog = None;
                    self.take(session);
                }
                Err(error) => {
                    let mut dialog = PathDialog::new(Purpose::Open, Some(path));
                    dialog.error = Some(error.to_string());
                    self.path_dialog = Some(dialog);
                }
            },
        }
    }

    pub(super) fn take(&mut self, session: Session) {
        if let Some(recovery) = &mut self.recovery {
            recovery.start_over();
        }
        self.put_in_hand(session);
    }

    pub(super) fn put_in_hand(&mut self, session: Session) {
        self.session = session;
        self.status = StatusLine::on(&self.session);
        self.forget_typed = true;
        self.start_card = None;
        self.canvas.fit();
        self.tables = Tables::default();
        self.catch_tests.begin_anew();
        // What was laid aside for the folding bar was of the last project.
        self.fold = FoldView::default();
    }

    pub(super) fn save(&mut self, path: Option<PathBuf>) {
        if path.is_none() && self.session.changed_on_disk() {
            self.file_has_changed(true);
            return;
        }
        let Some(path) = path.or_else(|| self.session.path().map(Into::into)) else {
            self.ask_path(Purpose::Save);
            return;
        };
        // Before it is done: whoever has an older Equirow could not open the file any more.
        if let Some(version) = files::older_project(&path) {
            self.path_dialog = None;
            self.older_file = Some(OlderFile { path, version });
            return;
        }
        self.save_now(path);
    }

    pub(super) fn save_now(&mut self, path: PathBuf) {
        match self.session.save(&path) {
            Ok(notes) => {
                self.path_dialog = None;
                self.status.clear();
                if !notes.is_empty() {
                    self.status.put(format!("Saved. {notes}"), &self.session);
                }
                if let Some(next) = self.after_save.take() {
                    self.go_on(next);
                }
            }
            Err(error) => {
                let mut dialog = PathDialog::new(Purpose::Save, Some(path));
                dialog.error = Some(error.to_string());
                self.path_dialog = Some(dialog);
            }
        }
    }

    /// Whoever comes back to the window is told when someone else has changed the file meanwhile.
    pub(super) fn watch_file(&mut self, ctx: &Context) {
        let has_focus = ctx.input(|input| input.focused);
        if has_focus && !self.had_focus && !self.is_asking() && self.session.changed_on_disk() {
            self.file_has_changed(false);
        }
        self.had_focus = has_focus;
    }

    fn file_has_changed(&mut self, saving: bool) {
        let unsaved = self.session.is_changed();
        let is_gone = self.session.file_is_gone();
        self.disk = Some(ChangedFile { saving, unsaved, is_gone });
        self.session.look_at_disk();
    }

    pub(super) fn keep_unsaved(&mut self, ctx: &Context) {
        let now = std::time::Duration::from_secs_f64(ctx.input(|input| input.time).max(0.0));
        if let Some(recovery) = &mut self.recovery {
            let form = self.bar_form.as_ref().map_or(FormWork::Nothing, BarForm::work);
            recovery.step(ctx, now, &self.session, form);
        }
    }

    /// The window's own close button asks about unsaved work too.
    pub(super) fn close_or_ask(&mut self, ctx: &Context) {
        if ctx.input(|input| input.viewport().close_requested()) && !self.closing {
            ctx.send_viewport_cmd(ViewportCommand::CancelClose);
            if self.work.is_under_way() {
                self.work.closes_after = true;
                return;
            }
            self.after_typing.ask(PendingRequest::Close);
            self.go_on_after_typing(ctx);
        }
        if self.closing {
            ctx.send_viewport_cmd(ViewportCommand::Close);
        }
    }
}
