//! The table of figures and the list of what differs.

use eframe::egui;
use eframe::egui::text::{LayoutJob, TextFormat, TextWrapping};
use eframe::egui::{Align2, Color32, FontId, Painter, Pos2, Rect, RichText, Stroke, Ui, pos2, vec2};

use super::marks;
use crate::quantities::UnitSystem;
use crate::studies::comparison::table::{WHAT_IS_MARKED, difference_text};
use crate::studies::comparison::{
    Amount, ComparedFigure, Comparison, Direction, FigureGroup, FigureUnit, Which, differences,
};
use crate::window::theme::Theme;

const ROW_HEIGHT: f32 = 19.0;
/// Room for the sign of the better value behind a number, points.
const TICK: f32 = 16.0;

/// Where the columns end: names at the left, numbers at the right of theirs, the word at the end of the line.
#[derive(Clone, Copy)]
struct Columns {
    left: f32,
    name: f32,
    a: f32,
    b: f32,
    difference: f32,
    right: f32,
}

impl Columns {
    fn of(left: f32, wide: f32) -> Self {
        let word = 58.0;
        let number = ((wide - word) * 0.2).clamp(64.0, 130.0);
        let right = left + wide;
        let difference = right - word;
        let b = difference - number - 8.0;
        let a = b - number;
        Self { left, name: a - number, a, b, difference, right }
    }
}

/// All figures under their headings.
pub(super) fn figures(ui: &mut Ui, comparison: &Comparison, units: UnitSystem) {
    let theme = Theme::of(ui.visuals());
    ui.spacing_mut().item_spacing.y = 0.0;
    let mut group: Option<&FigureGroup> = None;
    for line in comparison.lines.iter().filter(|line| line.speaks()) {
        if group != Some(&line.figure.group) {
            group = Some(&line.figure.group);
            head(ui, line.figure.group.heading(), comparison.heads(&line.figure.group), &theme);
        }
        row(ui, line, comparison, units, &theme);
    }
    ui.add_space(6.0);
    let words = format!("✔ {WHAT_IS_MARKED}");
    ui.add(egui::Label::new(RichText::new(words).small().color(theme.soft)).wrap());
}

/// A heading and what stands in its columns; names that are too long for a line take up to three.
fn head(ui: &mut Ui, heading: &str, [a, b]: &[String; 2], theme: &Theme) {
    ui.add_space(8.0);
    let columns = Columns::of(ui.max_rect().left(), ui.available_width());
    let cells: Vec<(f32, std::sync::Arc<egui::Galley>, &str)> = [
        (columns.a - TICK, columns.a - TICK - columns.name, a.as_str()),
        (columns.b - TICK, columns.b - columns.a - 4.0, b.as_str()),
        (columns.difference, columns.difference - columns.b, "difference"),
        (columns.right, columns.right - columns.difference, "better is"),
    ]
    .into_iter()
    .map(|(right, room, text)| {
        let mut job = LayoutJob::single_section(
            text.to_owned(),
            TextFormat::simple(FontId::proportional(11.5), theme.soft),
        );
        job.wrap = TextWrapping { max_width: room.max(20.0), max_rows: 3, ..TextWrapping::default() };
        job.halign = egui::Align::RIGHT;
        (right, ui.painter().layout_job(job), text)
    })
    .collect();
    let high = cells.iter().map(|(_, galley, _)| galley.size().y).fold(0.0, f32::max) + 4.0;
    let (rect, response) =
        ui.allocate_exact_size(vec2(ui.available_width(), high.max(20.0)), egui::Sense::hover());
    response.widget_info(|| {
        let says = format!("{heading}, {a} and {b}");
        egui::WidgetInfo::labeled(egui::accesskit::Role::Heading, true, says)
    });
    let painter = ui.painter();
    let base = rect.bottom() - 4.0;
    words(
        painter,
        pos2(columns.left, base),
        Align2::LEFT_BOTTOM,
        heading,
        FontId::proportional(13.0),
        theme.ink,
        columns.name - columns.left,
    );
    for (right, galley, text) in cells {
        let at = pos2(right, base - galley.size().y);
        if galley.elided {
            let place = Rect::from_min_max(at - vec2(galley.size().x, 0.0), pos2(right, base));
            ui.interact(place, ui.scope_id().with((heading, "column", text)), egui::Sense::hover())
                .on_hover_text(text);
        }
        painter.galley(at, galley, theme.soft);
    }
    painter.hline(rect.x_range(), rect.bottom() - 1.0, Stroke::new(1.0, theme.line));
}

fn row(ui: &mut Ui, line: &ComparedFigure, comparison: &Comparison, units: UnitSystem, theme: &Theme) {
    let (rect, _) = ui.allocate_exact_size(vec2(ui.available_width(), ROW_HEIGHT), egui::Sense::hover());
    let columns = Columns::of(rect.left(), rect.width());
    let y = rect.center().y;
    let ink = if line.differs() { theme.ink } else { theme.soft };
    let body = || FontId::proportional(12.5);
    let painter = ui.painter();
    let name = pos2(columns.left, y);
    words(painter, name, Align2::LEFT_CENTER, &line.figure.name, body(), ink, columns.name - columns.left);
    let text = difference_text(line, units);
    let wide = columns.difference - columns.b;
    words(painter, pos2(columns.difference, y), Align2::RIGHT_CENTER, &text, body(), ink, wide);
    let word = if line.figure.better == Direction::Neither { "–" } else { line.figure.better.word() };
    let small = FontId::proportional(11.5);
    words(painter, pos2(columns.right, y), Align2::RIGHT_CENTER, word, small, theme.soft, 58.0);
    for (which, right, left) in [(Which::A, columns.a, columns.name), (Which::B, columns.b, columns.a)] {
        let place = Rect::from_x_y_ranges(left..=right, rect.y_range());
        let head = &comparison.heads(&line.figure.group)[usize::from(which == Which::B)];
        cell(ui, place, line, which, head, units, theme);
    }
}

/// One value: its number, a tick if it is the better one, and its note on pointing at it.
fn cell(
    ui: &Ui,
    place: Rect,
    line: &ComparedFigure,
    which: Which,
    label: &str,
    units: UnitSystem,
    theme: &Theme,
) {
    let amount = if which == Which::A { &line.a } else { &line.b };
    let better = line.better() == Some(which);
    let unit = line.figure.unit;
    let (text, note) = match amount {
        // A currency belongs to the number; which row or part it is comes on pointing at it.
        Amount::Is { .. } if unit == FigureUnit::Money => (amount.text(unit, units), ""),
        Amount::Is { value, note } => (Amount::is(*value).text(unit, units), note.as_str()),
        Amount::Unknown { short, why } => ((*short).to_owned(), why.as_str()),
    };
    let ink = if line.differs() { theme.ink } else { theme.soft };
    let painter = ui.painter();
    let at = pos2(place.right() - TICK, place.center().y);
    words(painter, at, Align2::RIGHT_CENTER, &text, FontId::proportional(12.5), ink, place.width() - TICK);
    if better {
        let corner = |x: f32, y: f32| pos2(place.right() - TICK + 4.0 + x, place.center().y + y);
        let stroke = Stroke::new(1.8, theme.ink);
        painter.line_segment([corner(0.0, 0.5), corner(3.0, 3.5)], stroke);
        painter.line_segment([corner(3.0, 3.5), corner(9.0, -3.5)], stroke);
    }
    let id = ui.scope_id().with(("figure", line.figure.key.to_string(), which.key()));
    let response = ui.interact(place, id, egui::Sense::hover());
    response.widget_info(|| {
        let note = if note.is_empty() { String::new() } else { format!(", {note}") };
        let better = if better { ", better" } else { "" };
        let says = format!("{}, {label}: {text}{note}{better}", line.figure.name);
        egui::WidgetInfo::labeled(egui::accesskit::Role::Label, true, says)
    });
    if !note.is_empty() {
        response.on_hover_text(note);
    }
}

/// Words in a line, cut short where there is no room.
fn words(painter: &Painter, at: Pos2, anchor: Align2, text: &str, font: FontId, ink: Color32, room: f32) {
    // What has scrolled away is left to screen readers.
    if !painter.clip_rect().expand(20.0).contains(at) {
        return;
    }
    let mut job = LayoutJob::simple_singleline(text.to_owned(), font, ink);
    job.wrap = TextWrapping::truncate_at_width(room.max(20.0));
    let galley = painter.layout_job(job);
    let place = anchor.anchor_size(at, galley.size());
    painter.galley(place.min, galley, ink);
}

/// What differs, a line each, with the sign it has in the drawings.
pub(super) fn items(ui: &mut Ui, comparison: &Comparison) {
    let theme = Theme::of(ui.visuals());
    let items = &comparison.items;
    if items.is_empty() {
        ui.label(RichText::new("No part, hose or row feed differs").color(theme.soft));
    }
    for (change, words) in differences::in_words(items) {
        ui.horizontal(|ui| {
            ui.spacing_mut().item_spacing.x = 6.0;
            let (rect, _) = ui.allocate_exact_size(vec2(16.0, 16.0), egui::Sense::hover());
            marks::badge(ui.painter(), rect.center(), 1.0, change, &comparison.letters, &theme);
            ui.add(egui::Label::new(words).wrap());
        });
    }
}
