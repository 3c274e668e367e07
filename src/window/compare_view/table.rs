//! The table of figures and the list of what differs.

use eframe::egui;
use eframe::egui::{Color32, Grid, RichText, Ui};

use super::marks;
use crate::quantities::UnitSystem;
use crate::studies::comparison::table::difference_text;
use crate::studies::comparison::{Amount, Comparison, Direction, ItemDifference, Line, Which, differences};
use crate::window::theme::Theme;

/// The sign beside the better value.
const BETTER: &str = "✔";

/// All figures under their headings.
pub(super) fn figures(ui: &mut Ui, comparison: &Comparison, units: UnitSystem) {
    let theme = Theme::of(ui.visuals());
    let [a, b] = &comparison.labels;
    let wide = ui.available_width();
    let value = ((wide - 230.0) / 3.0).clamp(76.0, 130.0);
    Grid::new("figures").num_columns(5).spacing([8.0, 3.0]).striped(false).show(ui, |ui| {
        let mut heading = "";
        for line in &comparison.lines {
            if !line.speaks() {
                continue;
            }
            if line.figure.group.heading() != heading {
                heading = line.figure.group.heading();
                ui.label(RichText::new(heading).strong().color(theme.soft));
                for words in [a, b, "difference"] {
                    right(ui, value, RichText::new(words).strong().color(theme.soft));
                }
                ui.label(RichText::new("better is").small().color(theme.soft));
                ui.end_row();
            }
            row(ui, line, comparison, units, value, &theme);
            ui.end_row();
        }
    });
}

fn row(ui: &mut Ui, line: &Line, comparison: &Comparison, units: UnitSystem, wide: f32, theme: &Theme) {
    let quiet = !line.differs();
    let colour = if quiet { theme.soft } else { theme.ink };
    ui.add(egui::Label::new(RichText::new(&line.figure.name).color(colour)).truncate());
    for (which, amount) in [(Which::A, &line.a), (Which::B, &line.b)] {
        let label = &comparison.labels[usize::from(which == Which::B)];
        let better = line.better() == Some(which);
        cell(ui, line, label, amount, better, units, wide, theme);
    }
    right(ui, wide, RichText::new(difference_text(line, units)).color(colour));
    let word = if line.figure.better == Direction::Neither { "–" } else { line.figure.better.word() };
    ui.label(RichText::new(word).small().color(theme.soft));
}

#[expect(clippy::too_many_arguments, reason = "a cell is what it shows; a struct would only rename it")]
fn cell(
    ui: &mut Ui,
    line: &Line,
    label: &str,
    amount: &Amount,
    better: bool,
    units: UnitSystem,
    wide: f32,
    theme: &Theme,
) {
    let (text, note) = match amount {
        Amount::Is { note, .. } => {
            let short = Amount::Is { value: amount.value().unwrap_or_default(), note: String::new() };
            // A currency belongs to the number; which row or part is told on pointing at it.
            let money = line.figure.unit == crate::studies::comparison::Unit::Money;
            (if money { amount } else { &short }.text(line.figure.unit, units), note.clone())
        }
        Amount::Unknown { short, why } => ((*short).to_owned(), why.clone()),
    };
    let colour: Color32 = if better {
        theme.accent
    } else if line.differs() {
        theme.ink
    } else {
        theme.soft
    };
    let words = if better { format!("{text} {BETTER}") } else { text.clone() };
    let mut shown = RichText::new(words).color(colour);
    if better {
        shown = shown.strong();
    }
    let response = right(ui, wide, shown);
    let says = format!(
        "{}, {label}: {text}{}{}",
        line.figure.name,
        if note.is_empty() { String::new() } else { format!(", {note}") },
        if better { ", better" } else { "" }
    );
    response.widget_info(|| egui::WidgetInfo::labeled(egui::accesskit::Role::Label, true, &says));
    if !note.is_empty() {
        response.on_hover_text(note);
    }
}

fn right(ui: &mut Ui, wide: f32, text: RichText) -> egui::Response {
    let layout = egui::Layout::right_to_left(egui::Align::Center);
    let size = egui::vec2(wide, ui.spacing().interact_size.y.min(18.0));
    ui.allocate_ui_with_layout(size, layout, |ui| {
        ui.set_min_width(wide);
        ui.add(egui::Label::new(text).truncate())
    })
    .inner
}

/// What differs, a line each, with the sign it has in the drawings.
pub(super) fn items(ui: &mut Ui, items: &[ItemDifference]) {
    let theme = Theme::of(ui.visuals());
    if items.is_empty() {
        ui.label(RichText::new("No part, hose or row feed differs").color(theme.soft));
    }
    for (change, words) in differences::in_words(items) {
        ui.horizontal(|ui| {
            ui.spacing_mut().item_spacing.x = 6.0;
            let (rect, _) = ui.allocate_exact_size(egui::vec2(16.0, 16.0), egui::Sense::hover());
            marks::badge(ui.painter(), rect.center(), change, &theme);
            ui.add(egui::Label::new(words).wrap());
        });
    }
}
