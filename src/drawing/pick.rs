//! What lies under a point of the picture.

use super::Subject;
use super::scene::{DrawItem, Layer, Scene, Shape};
use crate::geometry::{Bounds, Point2};

/// The subject at a point, or the nearest within `radius_m` metres. Parts and outlets beat hoses, hoses beat
/// tubes; among equals the nearest, then the one whose middle is nearest, then the one on top.
pub fn pick(scene: &Scene, at: Point2, radius_m: f64) -> Option<Subject> {
    let mut best: Option<((u8, f64, f64), Subject)> = None;
    for item in &scene.items {
        let (Some(subject), Some(rank)) = (item.subject, rank(item)) else { continue };
        let Some(away) = distance(&item.shape, at).filter(|away| *away <= radius_m) else { continue };
        let found = (rank, away, middle(&item.shape, at));
        if best.is_none_or(|(other, _)| found <= other) {
            best = Some((found, subject));
        }
    }
    best.map(|(_, subject)| subject)
}

/// Who is preferred; none for what can't be pointed at.
const fn rank(item: &DrawItem) -> Option<u8> {
    match item.layer {
        Layer::Parts | Layer::Outlets => Some(0),
        Layer::Runs => Some(1),
        Layer::Feeds => Some(2),
        Layer::Frame | Layer::Hinge | Layer::Tags | Layer::Values | Layer::Dimensions => None,
    }
}

/// From a point to the edge of a shape, metres; 0 inside. None for words.
fn distance(shape: &Shape, at: Point2) -> Option<f64> {
    match shape {
        Shape::Line { points, width, .. } => {
            let pieces = points.windows(2).map(|pair| at.distance_to_piece(pair[0], pair[1]));
            pieces.min_by(f64::total_cmp).map(|away| (away - width.metres / 2.0).max(0.0))
        }
        Shape::Circle { centre, radius } => Some((at.distance(*centre) - radius).max(0.0)),
        Shape::Polygon { points } => {
            if inside(points, at) {
                return Some(0.0);
            }
            let next = points.iter().cycle().skip(1);
            points.iter().zip(next).map(|(a, b)| at.distance_to_piece(*a, *b)).min_by(f64::total_cmp)
        }
        Shape::Text(_) => None,
    }
}

/// From a point to the middle of a closed shape, metres; 0 for what has none.
fn middle(shape: &Shape, at: Point2) -> f64 {
    match shape {
        Shape::Circle { centre, .. } => at.distance(*centre),
        Shape::Polygon { points } => at.distance(Bounds::around(points.iter().copied()).centre()),
        Shape::Line { .. } | Shape::Text(_) => 0.0,
    }
}

/// Even-odd rule.
fn inside(points: &[Point2], at: Point2) -> bool {
    let next = points.iter().cycle().skip(1);
    let crossed = points.iter().zip(next).filter(|(a, b)| {
        (a.y > at.y) != (b.y > at.y) && at.x < (b.x - a.x) * (at.y - a.y) / (b.y - a.y) + a.x
    });
    crossed.count() % 2 == 1
}

#[cfg(test)]
mod tests {
    use super::super::scene::{Dash, Ink, Width};
    use super::*;
    use crate::plan::{FeedId, PartId, RunId};

    fn line(layer: Layer, y: f64, subject: Subject) -> DrawItem {
        let points = vec![Point2::new(-1.0, y), Point2::new(1.0, y)];
        let width = Width { metres: 0.02, least: 1.0 };
        DrawItem::new(layer, Shape::Line { points, width, dash: Dash::Solid }, Ink::Hose).of(subject)
    }

    /// Two parts of which one lies over half of the other.
    #[test]
    fn of_two_parts_over_each_other_the_nearer_one_is_found() {
        let disc = |x: f64, id: u32| {
            let shape = Shape::Circle { centre: Point2::new(x, 0.0), radius: 0.05 };
            DrawItem::new(Layer::Parts, shape, Ink::Part).of(Subject::Part(PartId(id)))
        };
        for items in [vec![disc(0.0, 1), disc(0.04, 2)], vec![disc(0.04, 2), disc(0.0, 1)]] {
            let scene = Scene { items, extent: None };
            assert_eq!(pick(&scene, Point2::new(0.015, 0.0), 0.02), Some(Subject::Part(PartId(1))));
            assert_eq!(pick(&scene, Point2::new(0.025, 0.0), 0.02), Some(Subject::Part(PartId(2))));
        }
    }

    #[test]
    fn parts_beat_hoses_beat_tubes() {
        let (part, run, feed) = (Subject::Part(PartId(1)), Subject::Run(RunId(2)), Subject::Feed(FeedId(3)));
        let square = [(-0.1, -0.1), (0.1, -0.1), (0.1, 0.1), (-0.1, 0.1)];
        let points = square.iter().map(|(x, y)| Point2::new(*x, *y)).collect();
        let body = DrawItem::new(Layer::Parts, Shape::Polygon { points }, Ink::Part).of(part);
        let items = vec![body, line(Layer::Runs, 0.0, run), line(Layer::Feeds, 0.02, feed)];
        let scene = Scene { items, extent: None };
        let at = |x: f64, y: f64| pick(&scene, Point2::new(x, y), 0.05);
        assert_eq!(at(0.0, 0.0), Some(part));
        assert_eq!(at(0.12, 0.0), Some(part));
        assert_eq!(at(0.5, 0.02), Some(run));
        assert_eq!(at(0.5, 0.075), Some(feed));
        assert_eq!(at(0.5, 0.5), None);
    }
}
