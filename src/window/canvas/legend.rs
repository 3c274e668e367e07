//! What the colours and signs at the outlets mean.

use eframe::egui::{Align2, FontId, Painter, Pos2, Rect, Stroke, StrokeKind, pos2, vec2};

use crate::drawing::deviation::BACKWARD_ARROW;
use crate::drawing::{DeviationClass, PressureScale};
use crate::hydraulics::Outcome;
use crate::plan::Limits;
use crate::quantities::{Measure, UnitSystem};
use crate::window::theme::Theme;

/// Height of one line of the legend, points.
pub const LINE_HEIGHT: f32 = 20.0;

/// Paints the legend from the left top of a rectangle, in as many lines as it needs, and gives the height used.
pub fn legend(
    painter: &Painter,
    rect: Rect,
    outcome: Option<&Outcome>,
    limits: &Limits,
    theme: &Theme,
) -> f32 {
    let (mut x, mut y) = (rect.left(), rect.top());
    let title = painter.layout_no_wrap("Row, %".to_owned(), FontId::proportional(11.0), theme.ink);
    let size = title.size();
    painter.galley(pos2(x, y + (LINE_HEIGHT - size.y) / 2.0), title, theme.ink);
    x += size.x + 14.0;
    for class in DeviationClass::listed(outcome) {
        let words = painter.layout_no_wrap(class.legend(limits), FontId::proportional(11.0), theme.soft);
        let wide = 18.0 + words.size().x + 16.0;
        if x + wide - 16.0 > rect.right() && x > rect.left() {
            x = rect.left();
            y += LINE_HEIGHT;
        }
        let middle = y + LINE_HEIGHT / 2.0;
        sign(painter, pos2(x + 6.5, middle), 5.5, class, theme);
        painter.galley(pos2(x + 18.0, middle - words.size().y / 2.0), words, theme.soft);
        x += wide;
    }
    y + LINE_HEIGHT - rect.top()
}

/// Paints the legend of pressures: a bar of all classes with the numbers of their edges below, then the signs of rows
/// without a pressure. Gives the height used.
pub fn pressures(
    painter: &Painter,
    rect: Rect,
    scale: Option<&PressureScale>,
    outcome: Option<&Outcome>,
    units: UnitSystem,
    theme: &Theme,
) -> f32 {
    let small = FontId::proportional(11.0);
    let middle = rect.top() + LINE_HEIGHT / 2.0;
    let title = format!("Gauge pressure, {}", Measure::Pressure.unit(units).symbol);
    let title = painter.layout_no_wrap(title, small.clone(), theme.soft);
    let mut x = rect.left() + title.size().x + 22.0;
    painter.galley(pos2(rect.left(), middle - title.size().y / 2.0), title, theme.soft);
    if let Some(scale) = scale {
        let count = scale.classes().count() as f32;
        let wide = ((rect.width() - 410.0) / count).clamp(30.0, 72.0);
        let (top, bottom) = (rect.top() + 2.0, rect.top() + 11.0);
        let start = x;
        for class in scale.classes() {
            let swatch = Rect::from_min_max(pos2(x, top), pos2(x + wide, bottom));
            painter.rect_filled(swatch, 0.0, Theme::pressure(class));
            x += wide;
        }
        let whole = Rect::from_min_max(pos2(start, top), pos2(x, bottom));
        painter.rect_stroke(whole, 0.0, Stroke::new(1.0, theme.hose), StrokeKind::Outside);
        for (at, edge) in scale.edges().into_iter().enumerate() {
            let mark = start + wide * at as f32;
            painter.vline(mark, bottom..=bottom + 3.0, Stroke::new(1.0, theme.hinge));
            let number = Measure::Pressure.number(edge.si(), units);
            painter.text(
                pos2(mark, bottom + 2.0),
                Align2::CENTER_TOP,
                number,
                FontId::proportional(10.5),
                theme.soft,
            );
        }
        x += 28.0;
    }
    for class in DeviationClass::listed(outcome).filter(|class| !class.is_fed()) {
        let words = class.legend(&Limits::default());
        let words = painter.layout_no_wrap(words, small.clone(), theme.soft);
        sign(painter, pos2(x + 6.5, middle), 5.5, class, theme);
        let wide = words.size().x;
        painter.galley(pos2(x + 18.0, middle - words.size().y / 2.0), words, theme.soft);
        x += wide + 34.0;
    }
    LINE_HEIGHT
}

/// The sign of a class as it is drawn at an outlet, on the middle of a circle.
pub fn sign(painter: &Painter, at: Pos2, radius: f32, class: DeviationClass, theme: &Theme) {
    let piece = |from: (f32, f32), to: (f32, f32), stroke: Stroke| {
        let ends = [from, to].map(|(x, y)| at + vec2(x * radius, y * radius));
        painter.line_segment(ends, stroke);
    };
    match class {
        DeviationClass::LeftOut => {
            let stroke = Stroke::new(1.3, theme.hinge);
            piece((-0.5, -0.5), (0.5, 0.5), stroke);
            piece((-0.5, 0.5), (0.5, -0.5), stroke);
        }
        DeviationClass::NotFed => {
            painter.circle(at, radius, theme.paper, Stroke::new(1.3, theme.warning));
            piece((-0.71, 0.71), (0.71, -0.71), Stroke::new(1.6, theme.warning));
        }
        DeviationClass::FlowsBackward => {
            painter.circle(at, radius, theme.paper, Stroke::new(1.3, theme.warning));
            for ((x, y), (to_x, to_y)) in BACKWARD_ARROW {
                let stroke = Stroke::new(1.6, theme.warning);
                piece((x as f32, -y as f32), (to_x as f32, -to_y as f32), stroke);
            }
        }
        DeviationClass::Unknown => {
            painter.circle(at, radius, theme.paper, Stroke::new(1.3, theme.hinge));
        }
        fed => {
            let fill = theme.class(fed);
            painter.circle(at, radius, fill, Stroke::new(1.3, theme.outline));
            let stroke = Stroke::new(if fed.is_far() { 2.4 } else { 1.3 }, theme.on(fill));
            if fed.sign() != 0 {
                piece((-0.5, 0.0), (0.5, 0.0), stroke);
            }
            if fed.sign() > 0 {
                piece((0.0, -0.5), (0.0, 0.5), stroke);
            }
        }
    }
}
