//! The ruler: how far left and right of the bar's centre.

use eframe::egui::{Align2, FontId, Painter, Rect, Stroke, pos2};

use super::x_on_screen;
use crate::geometry::View;
use crate::quantities::{Measure, UnitSystem};
use crate::window::theme::Theme;

/// Height that a ruler needs, points.
pub const HEIGHT: f32 = 28.0;

/// Paints a ruler along the top of a rectangle that has the canvas's x extent: `6 m left`, `5`, … `6 m right`.
pub fn ruler(painter: &Painter, rect: Rect, view: &View, units: UnitSystem, theme: &Theme) {
    let painter = painter.with_clip_rect(rect.intersect(painter.clip_rect()));
    let unit = Measure::Distance.unit(units);
    let points_per_unit = view.scale * unit.factor;
    let step = step(points_per_unit);
    let shown = |x: f64| Measure::Distance.shown(x, units);
    let half = f64::from(rect.width()) / 2.0 / view.scale;
    // The outermost words need room to both sides.
    let margin = 34.0 / points_per_unit;
    let first = ((shown(view.centre.x - half) + margin) / step).ceil() as i64;
    let last = ((shown(view.centre.x + half) - margin) / step).floor() as i64;
    let y = rect.top() + 2.0;
    let minor = step / if step_leads_with_two(step) { 4.0 } else { 5.0 };
    if minor * points_per_unit > 6.0 {
        let from = (shown(view.centre.x - half) / minor).ceil() as i64;
        let to = (shown(view.centre.x + half) / minor).floor() as i64;
        for mark in from..=to {
            let x = x_on_screen(rect, view, mark as f64 * minor * unit.factor);
            painter.line_segment([pos2(x, y), pos2(x, y + 3.0)], Stroke::new(1.0, theme.line));
        }
    }
    for mark in first..=last {
        let value = mark as f64 * step;
        let x = x_on_screen(rect, view, value * unit.factor);
        painter.line_segment([pos2(x, y), pos2(x, y + 6.0)], Stroke::new(1.0, theme.hinge));
        let number = number(value.abs(), step);
        let words = match (mark == first || mark == last, mark.signum()) {
            (true, -1) => format!("{number} {} left", unit.symbol),
            (true, 1) => format!("{number} {} right", unit.symbol),
            _ => number,
        };
        painter.text(pos2(x, y + 8.0), Align2::CENTER_TOP, words, FontId::proportional(11.0), theme.soft);
    }
}

/// The smallest of 1, 2, 5 times a power of ten whose words keep apart.
pub(super) fn step(points_per_unit: f64) -> f64 {
    let least = 52.0 / points_per_unit.max(1e-9);
    let power = 10f64.powf(least.log10().floor());
    [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .map(|lead| lead * power)
        .find(|step| *step >= least)
        .unwrap_or(10.0 * power)
}

fn step_leads_with_two(step: f64) -> bool {
    let lead = step / 10f64.powf(step.log10().floor());
    (1.5..3.0).contains(&lead)
}

pub(super) fn number(value: f64, step: f64) -> String {
    if value == 0.0 {
        return "0".to_owned();
    }
    let decimals = (-step.log10().floor()).clamp(0.0, 3.0) as usize;
    format!("{value:.decimals$}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_are_round() {
        for (points, expected) in
            [(70.0, 1.0), (40.0, 2.0), (52.0, 1.0), (12.0, 5.0), (300.0, 0.2), (1000.0, 0.1)]
        {
            assert!((step(points) - expected).abs() < 1e-12, "{points}: {}", step(points));
        }
        assert_eq!(number(0.4, 0.2), "0.4");
        assert_eq!(number(6.0, 1.0), "6");
    }
}
