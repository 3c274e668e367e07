//! What the colours and signs at the outlets mean.

use eframe::egui::{FontId, Painter, Pos2, Rect, Stroke, pos2, vec2};

use crate::drawing::DeviationClass;
use crate::plan::Limits;
use crate::window::theme::Theme;

/// Height of one line of the legend, points.
pub const LINE_HEIGHT: f32 = 20.0;

/// Paints the legend from the left top of a rectangle, in as many lines as it needs, and gives the height used.
pub fn legend(painter: &Painter, rect: Rect, limits: &Limits, theme: &Theme) -> f32 {
    let (mut x, mut y) = (rect.left(), rect.top());
    for class in DeviationClass::ALL {
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
