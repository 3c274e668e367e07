//! A sample of the table that row positions are taken from.

use eframe::egui::{Frame, Label, RichText, Ui};

use super::theme::Theme;

/// A table as it is wanted, to be seen before one is looked for.
pub(super) const SAMPLE: &str =
    "x (m); forward (m); outlet height (m)\n-5.850; 0.300; 0.050\n-5.550; -0.300; 0.050\n-5.250; 0.300";

/// Shows that table, and what may be otherwise.
pub(super) fn show(ui: &mut Ui) {
    let theme = Theme::of(ui.visuals());
    ui.add_space(4.0);
    ui.label(RichText::new("One row a line, x to the right of the centre, like this:").color(theme.soft));
    Frame::new().fill(theme.canvas).inner_margin(8.0).corner_radius(4.0).show(ui, |ui| {
        ui.label(RichText::new(SAMPLE).monospace());
    });
    let words = "Units in the heading (m, cm, mm, in, ft) or chosen next; cells parted by ; , tab or |; \
                 forward and height may be missing";
    ui.add(Label::new(RichText::new(words).color(theme.soft)).wrap());
    if ui.button("Copy the sample").clicked() {
        ui.ctx().copy_text(SAMPLE.to_owned());
    }
}
