//! Buttons of the details that put rows on one tube, and part them again.

use eframe::egui::Ui;

use crate::session::commands::{self, Command, CommandDone, obstacle};
use crate::session::{Remark, Session};
use crate::window::status_line;

/// Buttons that put the selected rows on one tube, in pairs, or on a tube each, as far as there is something to do.
pub(super) fn shared_tubes(ui: &mut Ui, session: &mut Session) {
    let rows = session.rows_meant();
    if rows.is_empty() {
        return;
    }
    ui.horizontal_wrapped(|ui| {
        for command in [Command::JoinRows, Command::PairRows, Command::PartRows] {
            let Some(entry) = command.entry() else { continue };
            let idle = match command {
                Command::JoinRows => session.are_on_one_tube(&rows),
                Command::PairRows => rows.len() < 4,
                _ => false,
            };
            if idle || obstacle(session, command).is_some() {
                continue;
            }
            let button =
                ui.button(entry.label).on_hover_text(format!("{} ({})", entry.about, entry.keys_text()));
            if button.clicked() {
                status_line::say(ui.ctx(), commands::run(session, command).map(said));
            }
        }
    });
}

/// What a command that the session does has to say.
fn said(done: CommandDone) -> Option<Remark> {
    match done {
        CommandDone::BySession(remark) => remark,
        CommandDone::LeftToWindow => None,
    }
}
