//! Changes that may take long, on a thread beside the window: below a sign that says what is worked out, and can be given up.

use std::time::{Duration, Instant};

use eframe::egui::{Context, Id, Modal, RichText, Spinner};

use super::App;
use crate::session::under_way::{Progress, UnderWay};
use crate::session::{Reply, Session};
use crate::window::theme::{self, Theme};
use crate::window::{dialogs, status_line};

/// How long a pass stands still for a change before a sign is shown: what is done by then seems to be done at once.
const PATIENCE: Duration = Duration::from_millis(120);
/// The same in later passes: the sign goes on moving.
const PASS: Duration = Duration::from_millis(8);
/// Where nobody looks, a pass stands still until all is done.
const FOREVER: Duration = Duration::from_secs(3600);

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
        self.follow_within(ctx, if self.work.is_beside { PATIENCE } else { FOREVER });
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
                self.work.under_way = None;
                let next = std::mem::take(&mut self.work.after);
                let is_done = reply.is_ok();
                status_line::say(ctx, reply);
                for command in next.into_iter().filter(|_| is_done) {
                    self.ask_for(command, ctx);
                }
            }
        }
    }

    /// The sign, over everything; Esc and its button give the work up.
    pub(super) fn sign_of_work(&mut self, ctx: &Context) {
        let Some((work, since)) = &self.work.under_way else { return };
        let (name, seconds) = (work.name().to_owned(), since.elapsed().as_secs());
        let modal = Modal::new(Id::unique("work under way")).frame(theme::dialog(ctx)).show(ctx, |ui| {
            let theme = Theme::of(ui.visuals());
            ui.horizontal(|ui| {
                ui.add(Spinner::new().size(18.0));
                ui.label(RichText::new(format!("{name}: being worked out")).strong());
                if seconds > 0 {
                    ui.label(RichText::new(format!("{seconds} s")).color(theme.soft));
                }
            });
            ui.add_space(6.0);
            ui.button("Cancel").on_hover_text("Nothing is changed then (Esc)").clicked()
        });
        if dialogs::given_up(&modal) || modal.inner {
            (self.work.under_way, self.work.after) = (None, Vec::new());
            status_line::say_words(ctx, format!("{name}: given up, nothing has changed"));
        }
    }
}
