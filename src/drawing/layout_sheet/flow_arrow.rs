//! The arrow that says which way the liquid goes.

use crate::drawing::paper::{MarkKind, NARROW, PageDraft, PaperLayer, Shade};
use crate::geometry::{Bounds, Point2};

/// A small arrow head at a point, the way a vector goes.
pub(super) fn flow_arrow(draft: &mut PageDraft, layer: PaperLayer, at: Point2, along: Point2) -> Bounds {
    let place =
        |(x, y): (f64, f64)| Point2::new(at.x + x * along.x - y * along.y, at.y + x * along.y + y * along.x);
    let points: Vec<Point2> = [(1.8, 0.0), (-1.4, 1.3), (-1.4, -1.3)].map(place).to_vec();
    let bounds = Bounds::around(points.iter().copied());
    let line = Some((NARROW, Shade::PAPER));
    draft.mark(layer, MarkKind::Area { points, line, fill: Some(Shade::INK) });
    bounds
}
