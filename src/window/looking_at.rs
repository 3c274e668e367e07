//! What is looked at in place of the plan, below the live controls, with the way back.

use eframe::egui::{Align, Button, Frame, Label, Layout, Margin, RichText, Ui};

use super::theme::Theme;
use crate::session::Session;

/// What follows what is looked at, and what does not.
const ABOUT: &str = "The drawing, the strip, the figures above and the details show what flows then. Findings, lists and papers \
                     stay as planned, and nothing in the project is changed.";

/// A line that says what is looked at; none where it is the plan.
pub(super) fn show(ui: &mut Ui, session: &mut Session) {
    let Some(words) = session.looked_at().map(str::to_owned) else { return };
    let theme = Theme::of(ui.visuals());
    let frame =
        Frame::new().fill(theme.accent_ground).inner_margin(Margin::symmetric(8, 1)).corner_radius(3.0);
    let mut back = false;
    frame.show(ui, |ui| {
        ui.horizontal(|ui| {
            ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
                back = ui.add(Button::new("Back to the plan")).clicked();
                ui.with_layout(Layout::left_to_right(Align::Center), |ui| {
                    let text = RichText::new(format!("Looking at: {words}")).strong().color(theme.ink);
                    ui.add(Label::new(text).truncate()).on_hover_text(ABOUT);
                });
            });
        });
    });
    if back {
        session.look_as_planned();
    }
}
