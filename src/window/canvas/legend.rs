//! What the colours and signs at the outlets mean.

use eframe::egui::{FontId, Painter, Pos2, Rect, Stroke, StrokeKind, Vec2, pos2, vec2};

use crate::drawing::deviation::{BACKWARD_ARROW, UNKNOWN_DOT};
use crate::drawing::{DeviationClass, PressureScale};
use crate::hydraulics::Outcome;
use crate::plan::Limits;
use crate::quantities::{Measure, UnitSystem};
use crate::window::theme::Theme;

/// Height of one line of the legend, points.
pub const LINE_HEIGHT: f32 = 20.0;
/// Height of the colours of pressures with their numbers below, points.
const SCALE_HEIGHT: f32 = 27.0;
/// Narrowest and widest a class of pressure is shown, points.
const SWATCH: std::ops::RangeInclusive<f32> = 30.0..=72.0;

/// What stands in the legend of a drawing.
#[derive(Debug, Clone, Copy)]
pub enum Legend<'a> {
    /// The classes of deviation within these limits.
    Deviations(&'a Limits),
    /// The same of what was caught in a catch test.
    Caught(&'a Limits),
    /// The classes of pressure, if there are any, in these units.
    Pressures(Option<&'a PressureScale>, UnitSystem),
}

impl Legend<'_> {
    /// Paints it from the left top of a rectangle, in as many lines as it needs, and gives the height used.
    pub fn paint(&self, painter: &Painter, rect: Rect, outcome: Option<&Outcome>, theme: &Theme) -> f32 {
        let start = match self {
            Self::Deviations(_) | Self::Caught(_) => {
                let words = if matches!(self, Self::Caught(_)) { "Caught, % from target" } else { "Row, %" };
                let title = painter.layout_no_wrap(words.to_owned(), small(), theme.ink);
                let size = title.size();
                painter.galley(rect.min + vec2(0.0, (LINE_HEIGHT - size.y) / 2.0), title, theme.ink);
                vec2(size.x + 14.0, 0.0)
            }
            Self::Pressures(scale, units) => pressures(painter, rect, *scale, *units, theme),
        };
        let (limits, all) = match self {
            Self::Deviations(limits) | Self::Caught(limits) => (**limits, true),
            Self::Pressures(..) => (Limits::default(), false),
        };
        let mut at = rect.min + start;
        let mut foot = match self {
            Self::Pressures(Some(_), _) => rect.top() + SCALE_HEIGHT,
            _ => rect.top() + LINE_HEIGHT,
        };
        for class in DeviationClass::listed(outcome).filter(|class| all || !class.is_fed()) {
            let words = match (self, class) {
                (Self::Caught(_), DeviationClass::Unknown) => "not caught".to_owned(),
                _ => class.legend(&limits),
            };
            let words = painter.layout_no_wrap(words, small(), theme.soft);
            let wide = 18.0 + words.size().x;
            if at.x + wide > rect.right() && at.x > rect.left() {
                at = pos2(rect.left(), foot);
                foot += LINE_HEIGHT;
            }
            let middle = at.y + LINE_HEIGHT / 2.0;
            sign(painter, pos2(at.x + 6.5, middle), 5.5, class, theme);
            painter.galley(pos2(at.x + 18.0, middle - words.size().y / 2.0), words, theme.soft);
            at.x += wide + 16.0;
        }
        foot - rect.top()
    }

    /// The height that it needs at a width.
    pub fn height(&self, painter: &Painter, width: f32, outcome: Option<&Outcome>, theme: &Theme) -> f32 {
        let mut nowhere = painter.clone();
        nowhere.set_invisible();
        self.paint(&nowhere, Rect::from_min_size(Pos2::ZERO, vec2(width, f32::INFINITY)), outcome, theme)
    }
}

const fn small() -> FontId {
    FontId::proportional(11.0)
}

/// Paints the classes of pressure as a bar with the numbers of their edges below. Gives where the next thing stands.
fn pressures(
    painter: &Painter,
    rect: Rect,
    scale: Option<&PressureScale>,
    units: UnitSystem,
    theme: &Theme,
) -> Vec2 {
    let title = format!("Gauge pressure, {}", Measure::Pressure.unit(units).symbol);
    let title = painter.layout_no_wrap(title, small(), theme.soft);
    let size = title.size();
    painter.galley(rect.min + vec2(0.0, (LINE_HEIGHT - size.y) / 2.0), title, theme.soft);
    let start = size.x + 22.0;
    let Some(scale) = scale else { return vec2(start, 0.0) };
    let count = scale.classes().count() as f32;
    let wide = ((rect.width() - start - 270.0) / count).clamp(*SWATCH.start(), *SWATCH.end());
    let left = rect.left() + start;
    let (top, bottom) = (rect.top() + 2.0, rect.top() + 11.0);
    let mut x = left;
    for class in scale.classes() {
        let swatch = Rect::from_min_max(pos2(x, top), pos2(x + wide, bottom));
        painter.rect_filled(swatch, 0.0, Theme::pressure(class));
        x += wide;
    }
    let whole = Rect::from_min_max(pos2(left, top), pos2(x, bottom));
    painter.rect_stroke(whole, 0.0, Stroke::new(1.0, theme.hose), StrokeKind::Outside);
    for (at, edge) in scale.edges().into_iter().enumerate() {
        let mark = left + wide * at as f32;
        painter.vline(mark, bottom..=bottom + 3.0, Stroke::new(1.0, theme.hinge));
        let number = Measure::Pressure.number(edge.si(), units);
        let number = painter.layout_no_wrap(number, FontId::proportional(10.5), theme.soft);
        painter.galley(pos2(mark - number.size().x / 2.0, bottom + 2.0), number, theme.soft);
    }
    vec2(x - rect.left() + 28.0, 0.0)
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
            painter.circle_filled(at, radius * UNKNOWN_DOT as f32, theme.hinge);
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
