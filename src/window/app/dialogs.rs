//! What is open in front of the drawing, and what comes of it.

use std::path::PathBuf;

use eframe::egui;
use eframe::egui::Context;

use super::{App, ChangedFile, Next, OlderFile, PendingRequest};
use crate::files::preferences::{prefer, preferences};
use crate::plan::Edit;
use crate::session::Session;
use crate::window::bar_form::{BarForm, BarFormRequest};
use crate::window::dialogs::{self, DialogAnswer, Purpose};
use crate::window::duty_choice::DutyRequest;
use crate::window::file_questions::{self, Changed, Older, Unsaved};
use crate::window::front::OverDrawing;
use crate::window::import_rows::ImportRows;
use crate::window::settings::SettingsRequest;
use crate::window::start_card::{StartCard, StartFrom};
use crate::window::unreadable::Instead;
use crate::window::{help, settings, status_line};

impl App {
    pub(super) fn dialogs(&mut self, ctx: &Context) {
        if let Some(page) = &mut self.settings
            && let Some(request) = settings::show(ctx, &mut self.session, page)
        {
            self.after_typing.ask(match request {
                SettingsRequest::Close => PendingRequest::CloseSettings,
                SettingsRequest::Duty(DutyRequest::LookAt(id)) => PendingRequest::Duty(id),
                SettingsRequest::Duty(DutyRequest::Command(command)) => PendingRequest::Command(command),
            });
            self.go_on_after_typing(ctx);
        }
        self.unreadable(ctx);
        let free = self.unreadable.is_none() && self.path_dialog.is_none();
        let recovery = self.recovery.as_mut().filter(|_| free);
        match recovery.and_then(|recovery| recovery.ask(ctx, &self.session)) {
            Some(Ok(reopened)) => {
                if let Some(session) = reopened.session {
                    self.put_in_hand(session);
                }
                if reopened.form.is_some() {
                    self.start_card = None;
                    self.bar_form = reopened.form;
                }
            }
            Some(Err(message)) => status_line::say_words(ctx, message),
            None => {}
        }
        if let Some(picture) = &mut self.picture
            && picture.show(ctx, &self.session, &self.canvas)
        {
            self.picture = None;
        }
        self.sign_of_work(ctx);
        self.start_card(ctx);
        self.list(ctx);
        self.forms(ctx);
        self.disk(ctx);
        self.older_file(ctx);
        if self.giving_up_form {
            match dialogs::give_up_form(ctx) {
                DialogAnswer::Waiting => {}
                DialogAnswer::Closed => self.giving_up_form = false,
                DialogAnswer::Is(()) => {
                    self.giving_up_form = false;
                    self.bar_form = None;
                    self.forget_typed = true;
                    self.ask(Next::Quit);
                }
            }
        }
        if let Some(next) = self.waiting.clone() {
            let is_changed = self.session.is_changed();
            match file_questions::unsaved(ctx, &self.name(), is_changed, self.half_made()) {
                DialogAnswer::Waiting => {}
                DialogAnswer::Closed => self.waiting = None,
                DialogAnswer::Is(Unsaved::Drop) => {
                    self.waiting = None;
                    self.go_on(next);
                }
                DialogAnswer::Is(Unsaved::Save) => {
                    self.waiting = None;
                    self.after_save = Some(next);
                    self.save(None);
                }
            }
        } else if let Some(dialog) = &mut self.path_dialog {
            let purpose = dialog.purpose;
            match dialog.show(ctx) {
                DialogAnswer::Waiting => {}
                DialogAnswer::Closed => {
                    self.path_dialog = None;
                    self.after_save = None;
                }
                DialogAnswer::Is(path) if purpose == Purpose::Open => self.go_on(Next::Open(path)),
                DialogAnswer::Is(path) if purpose == Purpose::Table => match ImportRows::open(path) {
                    Ok(import) => {
                        self.path_dialog = None;
                        self.import = Some(import);
                    }
                    Err(error) => dialog.error = Some(error),
                },
                DialogAnswer::Is(path) if purpose == Purpose::Catches => {
                    let unit = self.catch_tests.unit(&self.session);
                    match self.session.read_catches(&path, unit) {
                        Ok(taken) => {
                            self.path_dialog = None;
                            self.catch_tests.taken(ctx, &self.session, taken);
                        }
                        Err(why) => dialog.error = Some(why),
                    }
                }
                DialogAnswer::Is(path) if matches!(purpose, Purpose::CutLengths | Purpose::AddedLines) => {
                    let taken = if purpose == Purpose::CutLengths {
                        self.session.take_lengths_as_cut(&path)
                    } else {
                        self.session.take_added_lines(&path)
                    };
                    match taken {
                        Ok(remark) => {
                            self.path_dialog = None;
                            status_line::say(ctx, Ok(Some(remark)));
                        }
                        Err(why) => dialog.error = Some(why),
                    }
                }
                DialogAnswer::Is(path) => {
                    let path = with_extension(path);
                    // Its own file needs no question, unless somebody else has changed it.
                    let own = self.session.path().filter(|_| !self.session.changed_on_disk());
                    if dialog.may_save(&path, own) {
                        self.save(Some(path));
                    }
                }
            }
        }
        if self.help {
            let mut open = true;
            egui::Window::new("Guide and keys")
                .id(OverDrawing::Help.id())
                .constrain_to(OverDrawing::room(ctx))
                .open(&mut open)
                .collapsible(false)
                .default_width(640.0)
                .show(ctx, help::show);
            self.help = open;
        }
        if self.notices.as_mut().is_some_and(|notices| !notices.show(ctx)) {
            self.notices = None;
        }
    }

    pub(super) fn switch_start_card(&mut self) {
        self.start_card = match self.start_card {
            Some(_) => None,
            None => Some(StartCard::new(!preferences().without_start_card)),
        };
    }

    fn start_card(&mut self, ctx: &Context) {
        // Work that was left behind is asked about first, and not below the card.
        if self.recovery.as_ref().is_some_and(|recovery| recovery.is_asking(&self.session)) {
            return;
        }
        let Some(card) = &mut self.start_card else { return };
        let before = card.comes_up;
        let answer = card.show(ctx);
        // A window of the program itself, not one of a test.
        if card.comes_up != before && self.recovery.is_some() {
            let without = !card.comes_up;
            prefer(|kept| kept.without_start_card = without);
        }
        if answer != DialogAnswer::Waiting {
            self.start_card = None;
        }
        match answer {
            DialogAnswer::Waiting | DialogAnswer::Closed => {}
            DialogAnswer::Is(StartFrom::New) => self.ask(Next::New),
            DialogAnswer::Is(StartFrom::AskOpen) => self.ask(Next::AskOpen),
            DialogAnswer::Is(StartFrom::File(path)) => self.ask(Next::Open(path)),
            DialogAnswer::Is(StartFrom::Example(example)) => self.ask(Next::Example(example)),
        }
    }

    fn unreadable(&mut self, ctx: &Context) {
        let Some(unreadable) = &self.unreadable else { return };
        let answer = unreadable.show(ctx);
        if answer != DialogAnswer::Waiting {
            self.unreadable = None;
        }
        match answer {
            // The example is in hand already.
            DialogAnswer::Waiting | DialogAnswer::Closed | DialogAnswer::Is(Instead::Example) => {}
            DialogAnswer::Is(Instead::Another) => self.ask_path(Purpose::Open),
            DialogAnswer::Is(Instead::Quit) => self.ask(Next::Quit),
        }
    }

    fn list(&mut self, ctx: &Context) {
        let place = self.in_place();
        match self.list.as_mut().map(|list| list.show(ctx, &self.session, place)) {
            None | Some(DialogAnswer::Waiting) => {}
            Some(DialogAnswer::Closed) => self.list = None,
            Some(DialogAnswer::Is(command)) => {
                self.list = None;
                self.ask_for(command, ctx);
            }
        }
    }

    /// The form of a bar, and the table that may fill it.
    fn forms(&mut self, ctx: &Context) {
        if let Some(import) = &mut self.import {
            match import.show(ctx, self.session.project().units) {
                DialogAnswer::Waiting => {}
                DialogAnswer::Closed => self.import = None,
                DialogAnswer::Is(taken) => {
                    self.import = None;
                    let form = self.bar_form.get_or_insert_with(|| BarForm::change(self.session.project()));
                    form.take_rows(taken.places, taken.spacing);
                }
            }
        } else if self.path_dialog.is_none()
            && let Some(form) = &mut self.bar_form
        {
            match form.show(ctx) {
                DialogAnswer::Waiting => {}
                DialogAnswer::Closed => self.bar_form = None,
                DialogAnswer::Is(BarFormRequest::Table) => self.ask_path(Purpose::Table),
                DialogAnswer::Is(BarFormRequest::Start(project)) => {
                    self.bar_form = None;
                    self.take(Session::unsaved(*project, None));
                }
                DialogAnswer::Is(BarFormRequest::Reshape(bar)) => {
                    self.bar_form = None;
                    let done = self.session.edit("Change the bar", [Edit::Reshape(bar)]);
                    status_line::say(ctx, done.map(|()| None));
                    self.canvas.fit();
                }
            }
        }
    }

    fn older_file(&mut self, ctx: &Context) {
        let Some(OlderFile { path, version }) = &self.older_file else { return };
        let name = path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
        let answer = file_questions::older_version(ctx, &name, *version);
        if answer == DialogAnswer::Waiting {
            return;
        }
        let Some(OlderFile { path, .. }) = self.older_file.take() else { return };
        match answer {
            DialogAnswer::Waiting => {}
            DialogAnswer::Closed => self.after_save = None,
            DialogAnswer::Is(Older::Elsewhere) => self.ask_path(Purpose::Save),
            DialogAnswer::Is(Older::Save) => self.save_now(path),
        }
    }

    fn disk(&mut self, ctx: &Context) {
        let Some(ChangedFile { saving, unsaved, is_gone }) = self.disk else { return };
        let answer = if is_gone {
            file_questions::gone_from_disk(ctx, &self.name(), saving)
        } else {
            file_questions::changed_on_disk(ctx, &self.name(), saving, unsaved)
        };
        if answer != DialogAnswer::Waiting {
            self.disk = None;
        }
        match answer {
            DialogAnswer::Waiting => {}
            // Asked once; a save asks again.
            DialogAnswer::Closed => self.after_save = None,
            DialogAnswer::Is(Changed::Keep) => self.session.accept_disk(),
            DialogAnswer::Is(Changed::Overwrite) => {
                let path = self.session.path().map(Into::into);
                self.save(path);
            }
            DialogAnswer::Is(Changed::Elsewhere) => self.ask_path(Purpose::Save),
            DialogAnswer::Is(Changed::Reload) => {
                if let Some(path) = self.session.path().map(Into::into) {
                    self.go_on(Next::Open(path));
                }
            }
        }
    }
}

/// A name without an ending gets that of a project, unless something of that very name is there: then that is meant, and
/// a folder or a device is refused by its own name.
fn with_extension(path: PathBuf) -> PathBuf {
    if path.extension().is_none() && !path.exists() { path.with_extension("ron") } else { path }
}
