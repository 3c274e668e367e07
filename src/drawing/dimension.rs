//! Dimension lines: what is measured between two points of a drawing, with arrowheads and its size.

use super::paper::{Anchor, MarkKind, NARROW, PageDraft, PaperLayer, Shade, Style, USUAL};
use super::scene::Dash;
use crate::geometry::Point2;

/// Length of an arrowhead, millimetres.
const ARROW: f64 = 2.5;

/// A dimension line ends so far beyond where its arrows point.
const BEYOND: f64 = 1.2;

/// From one end to another at a height, its size under it; words that are wider than the line lean away from the end that
/// `from` names.
pub(super) fn level(draft: &mut PageDraft, from: Point2, to: Point2, y: f64, says: &str) {
    let layer = PaperLayer::Notes;
    for end in [from, to] {
        let way = [end, Point2::new(end.x, y - BEYOND)];
        draft.line(layer, &way, NARROW, Dash::Solid);
    }
    line(draft, Point2::new(from.x, y), Point2::new(to.x, y));
    let style = Style::plain(layer, USUAL);
    let (width, long) = (draft.width_of(says, style), (to.x - from.x).abs());
    let below = y - USUAL - 1.0;
    if width + 1.0 <= long {
        draft.words(Point2::new(f64::midpoint(from.x, to.x), below), says, style.centred());
    } else if to.x >= from.x {
        draft.words(Point2::new(from.x + 0.8, below), says, style);
    } else {
        draft.words(Point2::new(from.x - 0.8, below), says, style.anchor(Anchor::Right));
    }
}

/// From one height to another at a place, its size along it reading upwards, or on its far side where it is too short.
pub(super) fn upright(draft: &mut PageDraft, from: Point2, to: Point2, x: f64, says: &str) {
    let layer = PaperLayer::Notes;
    for end in [from, to] {
        let side = BEYOND * (x - end.x).signum();
        draft.line(layer, &[end, Point2::new(x + side, end.y)], NARROW, Dash::Solid);
    }
    line(draft, Point2::new(x, from.y), Point2::new(x, to.y));
    let style = Style::plain(layer, USUAL);
    let (width, long) = (draft.width_of(says, style), (to.y - from.y).abs());
    if width + 1.0 <= long {
        draft.words_up(Point2::new(x - 1.0, f64::midpoint(from.y, to.y)), says, style.centred());
    } else {
        let away = if x > from.x { 2.0 } else { -2.0 };
        let at = Point2::new(x + away, f64::midpoint(from.y, to.y) - USUAL / 2.0);
        draft.words(at, says, style.anchor(if away > 0.0 { Anchor::Left } else { Anchor::Right }));
    }
}

/// With an arrowhead at each end: inside where there is room, else outside.
fn line(draft: &mut PageDraft, from: Point2, to: Point2) {
    let layer = PaperLayer::Notes;
    let long = from.distance(to);
    if long <= 0.0 {
        return;
    }
    let (dx, dy) = ((to.x - from.x) / long, (to.y - from.y) / long);
    let inside = long > 2.0 * ARROW + 0.5;
    let out = if inside { 0.0 } else { 2.0 * ARROW };
    let ends =
        [Point2::new(from.x - dx * out, from.y - dy * out), Point2::new(to.x + dx * out, to.y + dy * out)];
    draft.line(layer, &ends, NARROW, Dash::Solid);
    for (end, sense) in [(from, 1.0), (to, -1.0)] {
        let sense = if inside { sense } else { -sense };
        let foot = Point2::new(end.x + dx * ARROW * sense, end.y + dy * ARROW * sense);
        let half = ARROW / 6.0;
        let points = vec![
            end,
            Point2::new(foot.x - dy * half, foot.y + dx * half),
            Point2::new(foot.x + dy * half, foot.y - dx * half),
        ];
        draft.mark(layer, MarkKind::Area { points, line: None, fill: Some(Shade::INK) });
    }
}
