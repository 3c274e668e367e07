//! The guide, the keys of all commands, and cautions that go with the work.

use eframe::egui;
use eframe::egui::{CollapsingHeader, RichText, ScrollArea, Ui};

use crate::session::commands::{Keys, TABLE};
use crate::session::guide;

/// Cautions that go with the work.
pub const CAUTIONS: [&str; 5] = [
    "Liquid under pressure: stop the pump and relieve the pressure before opening anything",
    "Chemicals: read the label and the safety data sheet, wear eye and hand protection, jar-test mixes",
    "Folding wings: lock and support them before working beneath, keep clear of pinch points",
    "Local codes, the makers' instructions and licensed practice come first; mind power lines and road rules",
    "Numbers are predictions: confirm them with a catch test before seeding",
];

/// Room that the window's frame and the bars around it take, points.
const AROUND: f32 = 110.0;

/// Shows all of it: cautions, then each topic of the guide and the keys to be opened.
pub(super) fn show(ui: &mut Ui) {
    let most = (ui.ctx().content_rect().height() - AROUND).max(160.0);
    ScrollArea::vertical().max_height(most).auto_shrink([false, true]).show(ui, |ui| {
        for caution in CAUTIONS {
            ui.label(caution);
        }
        ui.separator();
        CollapsingHeader::new("Keys").show(ui, keys);
        for topic in guide::topics() {
            CollapsingHeader::new(&topic.heading).show(ui, |ui| {
                for paragraph in &topic.paragraphs {
                    ui.add(egui::Label::new(paragraph).wrap());
                    ui.add_space(4.0);
                }
            });
        }
    });
}

/// Two commands a line, so that the list is as short as it can be.
fn keys(ui: &mut Ui) {
    egui::Grid::new("keys").num_columns(4).spacing([20.0, 2.0]).show(ui, |ui| {
        let with_keys: Vec<(&str, Keys)> =
            TABLE.iter().filter_map(|entry| Some((entry.label, entry.keys?))).collect();
        for pair in with_keys.chunks(2) {
            for (label, keys) in pair {
                ui.label(*label);
                ui.label(RichText::new(keys.text()).monospace());
            }
            ui.end_row();
        }
    });
}
