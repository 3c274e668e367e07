//! The strip between the two: what each row gets more or less with the lower routing than with the upper one.

use eframe::egui;
use eframe::egui::{Align2, FontId, Rect, Sense, Stroke, StrokeKind, Ui, pos2};

use crate::drawing::deviation::signed_percent;
use crate::geometry::{Point2, View};
use crate::hydraulics::{NotFed, RowState};
use crate::plan::Project;
use crate::quantities::{Measure, Ratio};
use crate::studies::comparison::{Comparison, RowDifference, Which};
use crate::window::canvas::{strip, to_screen};
use crate::window::theme::Theme;

const TITLE: f32 = 20.0;
const FOOT: f32 = 4.0;

/// Paints the strip into a rectangle that has the drawings' x extent.
pub(super) fn strip(ui: &mut Ui, rect: Rect, view: &View, project: &Project, comparison: &Comparison) {
    let theme = Theme::of(ui.visuals());
    let [a, b] = &comparison.labels;
    let response = ui.interact(rect, ui.scope_id().with("row differences"), Sense::hover());
    response.widget_info(|| {
        egui::WidgetInfo::labeled(
            egui::accesskit::Role::Image,
            true,
            format!("Strip of differences row by row: {b} less {a}"),
        )
    });
    let painter = ui.painter_at(rect);
    let small = || FontId::proportional(11.0);
    let title = format!("{b} less {a}, row by row");
    let at = pos2(rect.left() + 10.0, rect.top() + 3.0);
    let title = painter.text(at, Align2::LEFT_TOP, title, FontId::proportional(13.0), theme.ink);
    key(&painter, rect, title.right(), [a, b], &theme);
    let plot =
        Rect::from_min_max(pos2(rect.left(), rect.top() + TITLE), pos2(rect.right(), rect.bottom() - FOOT));
    if let Some((label, why)) = comparison
        .labels
        .iter()
        .zip(&comparison.unsolved)
        .find_map(|(label, why)| Some((label, why.as_ref()?)))
    {
        let words = format!("No differences: {label} has no numbers, {why}");
        let words = painter.layout(words, small(), theme.warning, (rect.width() - 40.0).max(60.0));
        let place = Align2::CENTER_CENTER.anchor_size(plot.center(), words.size());
        painter.galley(place.min, words, theme.warning);
        return;
    }
    let size = |row: &RowDifference| row.difference().map_or(0.0, |one| one.si().abs());
    let most = comparison.rows.iter().map(size).fold(0.01, f64::max) * 1.15;
    let zero = plot.center().y;
    let y = |value: f64| zero - (value / most) as f32 * (plot.height() / 2.0);
    for section in &project.bar.sections {
        if let Some(hinge) = section.hinge {
            let x = to_screen(rect, view, Point2::new(hinge.point.x, 0.0)).x;
            let ends = [pos2(x, plot.top()), pos2(x, plot.bottom())];
            let stroke = Stroke::new(1.0, theme.hinge);
            painter.extend(egui::Shape::dashed_line_with_offset(
                &ends,
                stroke,
                &[12.0, 1.5],
                &[3.0, 3.0],
                0.0,
            ));
        }
    }
    painter.hline(plot.x_range(), zero, Stroke::new(1.0, theme.soft));
    let wide = ((project.bar.row_spacing.si() * view.scale * 0.62) as f32).clamp(1.5, 16.0);
    for row in &comparison.rows {
        let x = to_screen(rect, view, Point2::new(row.x.si(), 0.0)).x;
        let Some(value) = row.difference() else {
            one_sided(&painter, pos2(x, zero), row, &theme);
            continue;
        };
        let end = y(value.si());
        let bar =
            Rect::from_x_y_ranges(x - wide / 2.0..=x + wide / 2.0, end.min(zero - 0.5)..=end.max(zero + 0.5));
        let fill = match row.nearer() {
            Some(Which::B) => theme.outline,
            Some(Which::A) => theme.canvas,
            None => theme.line,
        };
        let edge = if row.nearer().is_some() { theme.outline } else { theme.soft };
        painter.rect(bar, 1.0, fill, Stroke::new(1.0, edge), StrokeKind::Inside);
    }
    let mark = round_mark(most);
    for value in [mark, 0.0, -mark] {
        let sign = if value > 0.0 { "+" } else { "" };
        let words = format!("{sign}{}", Measure::Percent.short_text(value, project.units));
        let words = painter.layout_no_wrap(words, small(), theme.soft);
        let place =
            Rect::from_min_size(pos2(rect.left() + 10.0, y(value) - words.size().y / 2.0), words.size());
        painter.rect_filled(place.expand2(egui::vec2(2.0, -1.0)), 3.0, theme.canvas.gamma_multiply(0.85));
        painter.hline(rect.left()..=rect.left() + 6.0, y(value), Stroke::new(1.0, theme.hinge));
        painter.galley(place.min, words, theme.soft);
    }
    let under = response.hover_pos().and_then(|at| strip::row_at(rect, view, project, at));
    if let Some(row) = under.and_then(|id| comparison.rows.iter().find(|row| row.row == id)) {
        response.on_hover_text_at_pointer(words(row, [a, b]));
    }
}

/// A round number within the scale.
fn round_mark(most: f64) -> f64 {
    let power = 10f64.powf(most.log10().floor());
    [5.0, 2.0, 1.0].into_iter().map(|lead| lead * power).find(|mark| *mark <= most * 0.95).unwrap_or(power)
}

/// What filled and open bars mean, at the right of the title if there is room.
fn key(painter: &egui::Painter, rect: Rect, left: f32, [a, b]: [&str; 2], theme: &Theme) {
    let pieces =
        [(theme.outline, format!("nearer its target with {b}")), (theme.canvas, format!("with {a}"))];
    let galleys = pieces
        .map(|(fill, words)| (fill, painter.layout_no_wrap(words, FontId::proportional(11.0), theme.soft)));
    let wide: f32 = galleys.iter().map(|(_, words)| words.size().x + 26.0).sum();
    let mut x = rect.right() - 10.0 - wide;
    if x < left + 12.0 {
        return;
    }
    for (fill, words) in galleys {
        let swatch = Rect::from_min_size(pos2(x, rect.top() + 6.0), egui::vec2(9.0, 9.0));
        painter.rect(swatch, 1.0, fill, Stroke::new(1.0, theme.outline), StrokeKind::Inside);
        let size = words.size();
        painter.galley(pos2(x + 14.0, rect.top() + 4.0), words, theme.soft);
        x += size.x + 26.0;
    }
}

/// A row that only one of them feeds, or neither.
fn one_sided(painter: &egui::Painter, at: egui::Pos2, row: &RowDifference, theme: &Theme) {
    let sign = match (row.a_state, row.b_state) {
        (Some(RowState::NotFed(NotFed::LeftOut)), Some(RowState::NotFed(NotFed::LeftOut))) => return,
        (Some(RowState::Fed), Some(RowState::Fed)) => "?",
        (_, Some(RowState::Fed)) => "+",
        (Some(RowState::Fed), _) => "−",
        _ => "×",
    };
    painter.circle(at, 6.0, theme.canvas, Stroke::new(1.2, theme.warning));
    painter.text(at, Align2::CENTER_CENTER, sign, FontId::proportional(11.0), theme.warning);
}

fn words(row: &RowDifference, labels: [&str; 2]) -> String {
    let own = |label: &str, deviation: Option<Ratio>, state: Option<RowState>| match deviation {
        Some(deviation) => format!("{label}: {} % off target", signed_percent(deviation)),
        None => format!("{label}: {}", crate::drawing::deviation::why_not_fed(state).unwrap_or("no number")),
    };
    let difference = row
        .shown_difference()
        .map_or_else(String::new, |difference| format!("\ndifference {} points", signed_percent(difference)));
    format!(
        "Row {}\n{}\n{}{difference}",
        row.number,
        own(labels[0], row.a, row.a_state),
        own(labels[1], row.b, row.b_state)
    )
}
