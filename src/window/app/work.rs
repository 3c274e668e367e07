//! Changes that may take long, on a thread beside the window: below a sign that says what is worked out, and can be given up.

use std::time::{Duration, Instant};

use eframe::egui::{Context, Event, Id, Key, Modal, ProgressBar, RichText, Spinner};

use super::App;
use crate::session::commands::Command;
use crate::session::under_way::{Progress, UnderWay};
use crate::session::{Reply, Session};
use crate::window::theme::{self, Theme};
use crate::window::{dialogs, status_line, typing};

/// How long a pass stands still for a change once the sign is shown, which goes on moving.
const PASS: Duration = Duration::from_millis(8);
/// Where nobody looks, a pass stands still until all is done.
const FOREVER: Duration = Duration::from_hours(1);

impl App {
    /// Has a change worked out that may take long.
    pub(super) fn work_on(
        &mut self,
        ctx: &Context,
        name: &str,
        change: impl FnOnce(&mut Session) -> Reply + Send + 'static,
    ) {
        let wake = {
            let ctx = ctx.clone();
            move || ctx.request_repaint()
        };
        self.work.under_way = Some((UnderWay::begin(&self.session, name, wake, change), Instant::now()));
        self.follow_within(ctx, self.work.patience.unwrap_or(FOREVER));
    }

    /// Takes what has been worked out meanwhile.
    pub(super) fn follow_work(&mut self, ctx: &Context) {
        self.follow_within(ctx, PASS);
    }

    fn follow_within(&mut self, ctx: &Context, patience: Duration) {
        let Some((work, _)) = &mut self.work.under_way else { return };
        match work.follow(&mut self.session, patience) {
            Progress::UnderWay => ctx.request_repaint(),
            Progress::Done(reply) => {
                let closes = self.work.closes_after;
                let next = self.work.end();
                let is_done = reply.is_ok();
                status_line::say(ctx, reply);
                for command in next.into_iter().filter(|_| is_done) {
                    self.ask_for(command, ctx);
                }
                if closes {
                    self.ask_for(Command::Quit, ctx);
                }
            }
        }
    }

    /// Leaves of what is pressed only what the sign answers to: letters would be commands for what is not there yet, or
    /// change what is copied and replaced. To close the window waits.
    pub(super) fn hold_keys(&mut self, ctx: &Context) {
        if !self.work.is_under_way() {
            return;
        }
        let answers = [Key::Escape, Key::Enter, Key::Space, Key::Tab];
        let mut closes = false;
        ctx.input_mut(|input| {
            input.events.retain(|event| match event {
                Event::Key { key, modifiers, pressed, .. } => {
                    closes |= *pressed && *key == Key::Q && modifiers.command;
                    answers.contains(key)
                }
                other => !typing::is_by_hand(other),
            });
        });
        self.work.closes_after |= closes;
    }

    /// The sign, over everything; Esc and its button give the work up.
    pub(super) fn sign_of_work(&mut self, ctx: &Context) {
        let Some((work, since)) = &self.work.under_way else { return };
        let (name, seconds) = (work.name().to_owned(), since.elapsed().as_secs());
        let how_far = work.how_far();
        let closes = self.work.closes_after;
        let modal = Modal::new(Id::unique("work under way")).frame(theme::dialog(ctx)).show(ctx, |ui| {
            let theme = Theme::of(ui.visuals());
            ui.horizontal(|ui| {
                ui.add(Spinner::new().size(18.0));
                ui.label(RichText::new(format!("{name}: being worked out")).strong());
                if seconds > 0 {
                    ui.label(RichText::new(format!("{seconds} s so far")).color(theme.soft));
                }
            });
            if let Some(how_far) = how_far {
                // The bar is of the step in hand; what comes after it is not known.
                if let Some(share) = how_far.share() {
                    ui.add(ProgressBar::new(share).desired_height(6.0).desired_width(ui.available_width()));
                }
                ui.label(RichText::new(how_far.to_string()).color(theme.soft));
            }
            let until_then = if closes {
                "The window closes when it is done."
            } else {
                "Keys and buttons do nothing until it is done or cancelled."
            };
            ui.label(RichText::new(until_then).color(theme.soft));
            ui.add_space(6.0);
            ui.button("Cancel").on_hover_text("Nothing is changed then (Esc)").clicked()
        });
        if dialogs::given_up(&modal) || modal.inner {
            let not_done: Vec<&str> =
                self.work.end().iter().filter_map(|command| Some(command.entry()?.label)).collect();
            let also = match not_done[..] {
                [] => String::new(),
                _ => format!("; not done either: {}", not_done.join(", ")),
            };
            status_line::say_words(ctx, format!("{name}: given up, nothing has changed{also}"));
        }
    }
}
