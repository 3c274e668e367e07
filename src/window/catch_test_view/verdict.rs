//! What a test says by itself, in words, and what has changed on the bar since it was made.

use std::sync::Arc;

use eframe::egui::{Frame, Label, Margin, RichText, Ui};

use crate::plan::words::capital;
use crate::plan::{CatchTestId, Project};
use crate::session::Session;
use crate::session::catch_answers::JudgedTest;
use crate::studies::NoAnswer;
use crate::studies::catch_test::since::changed_since as changes_since;
use crate::studies::catch_test::verdict_words::{headline, notes, sentences};
use crate::window::status_line;
use crate::window::theme::Theme;

/// The verdict and what leads to it; why there is none where there is none.
pub(super) fn show(ui: &mut Ui, judged: Option<&Result<JudgedTest, NoAnswer>>, theme: &Theme) {
    let test = match judged {
        None => {
            ui.label(RichText::new("Being judged…").color(theme.soft));
            return;
        }
        Some(Err(why)) => return no_answer(ui, why, theme),
        Some(Ok(test)) => test,
    };
    let good = test.judged.verdict.is_good();
    Frame::new().fill(theme.paper).inner_margin(Margin::same(10)).corner_radius(6.0).show(ui, |ui| {
        ui.set_width(ui.available_width());
        let sign = if good { "✔" } else { "⚠" };
        let words = RichText::new(format!("{sign} {}", headline(&test.judged))).size(14.5).strong();
        let ink = if good { theme.ink } else { theme.warning };
        ui.add(Label::new(words.color(ink)).wrap());
        for sentence in sentences(&test.judged, &test.prepared) {
            ui.add_space(2.0);
            ui.add(Label::new(capital(&sentence)).wrap());
        }
    });
    for note in notes(&test.prepared) {
        ui.add_space(2.0);
        ui.add(Label::new(RichText::new(capital(&note)).small().color(theme.soft)).wrap());
    }
    for remark in test.prepared.remarks() {
        ui.add_space(2.0);
        let words = RichText::new(format!("Note: {remark}")).small().color(theme.warning);
        ui.add(Label::new(words).wrap());
    }
}

/// Why something can't be said, and what to try.
pub(super) fn no_answer(ui: &mut Ui, why: &NoAnswer, theme: &Theme) {
    let (words, advice) = match why {
        NoAnswer::Stopped => ("Stopped before its end", ""),
        NoAnswer::Impossible { why, advice } => (why.as_str(), advice.as_str()),
    };
    ui.add(Label::new(RichText::new(capital(words)).strong().color(theme.warning)).wrap());
    if !advice.is_empty() {
        ui.add(Label::new(format!("What to try: {advice}")).wrap());
    }
}

/// What has changed since a test, as long as neither the project nor the test in hand is another.
#[derive(Default)]
pub(super) struct Since {
    of: Option<(Arc<Project>, CatchTestId)>,
    changes: Vec<String>,
}

/// What is otherwise on the routing of today than on the bar that was tested.
pub(super) fn changed_since(ui: &mut Ui, session: &Session, since: &mut Since, theme: &Theme) {
    let Some(test) = session.catch_test() else { return };
    let now = session.snapshot();
    if !since.of.as_ref().is_some_and(|(of, id)| Arc::ptr_eq(of, &now) && *id == test.id) {
        let changes = changes_since(&now, test);
        *since = Since { of: Some((now, test.id)), changes };
    }
    super::explained::heading(ui, "Changed since the test", theme);
    if since.changes.is_empty() {
        ui.label(RichText::new("Nothing: the bar is as it was tested").color(theme.soft));
    }
    for change in &since.changes {
        ui.add(Label::new(capital(change)).wrap());
    }
}

/// Why nothing of a table was taken down, until somebody has read it.
pub(super) fn refused(ui: &mut Ui, lines: &mut Vec<String>, theme: &Theme) {
    if headed(ui, "Nothing was taken down", "Seen", "Takes these lines away", lines, theme) {
        lines.clear();
    }
}

/// What of tables is missing in the test or does not fit it, until somebody has settled it.
pub(super) fn doubts(ui: &mut Ui, session: &mut Session, theme: &Theme) {
    let Some(test) = session.catch_test().filter(|test| !test.doubts.is_empty()) else { return };
    let lines: Vec<&str> = test.doubts.iter().map(|one| one.says.as_str()).collect();
    let about = "Takes these lines away: each was entered by hand, or does not matter. Lines that are missing keep the test \
                 from being judged until then";
    if headed(ui, "In doubt of what was read", "Settled", about, &lines, theme)
        && let Err(refusal) = session.settle_doubts()
    {
        status_line::say(ui.ctx(), Err(refusal));
    }
}

/// Lines under a heading with a button that takes them away; true if that was pressed.
fn headed(
    ui: &mut Ui,
    words: &str,
    button: &str,
    about: &str,
    lines: &[impl AsRef<str>],
    theme: &Theme,
) -> bool {
    if lines.is_empty() {
        return false;
    }
    let mut pressed = false;
    ui.horizontal(|ui| {
        ui.label(RichText::new(words).strong().color(theme.warning));
        pressed = ui.button(button).on_hover_text(about).clicked();
    });
    for line in lines {
        ui.add(Label::new(RichText::new(line.as_ref()).color(theme.warning)).wrap());
    }
    ui.add_space(6.0);
    pressed
}
