//! The clamps of hoses and tubes on either side of the hinges that they cross.

use super::scene_maker::SceneMaker;
use crate::drawing::Subject;
use crate::drawing::scene::{Dash, DrawItem, Grow, Ink, Layer, Reach, Shape, Width};
use crate::geometry::Point2;
use crate::plan::{CrossedHinge, LineGeometry};

/// A clamp reaches so far beyond the hose on either side, metres.
const BEYOND: f64 = 0.02;

impl SceneMaker<'_> {
    /// A bar across the hose at each clamp that is computed or placed.
    pub(super) fn clamps(&mut self, layer: Layer, laid: &LineGeometry, outside: f64, subject: Subject) {
        for crossing in laid.crossings.iter().filter_map(CrossedHinge::computed) {
            for clamp in &crossing.clamps {
                let at = self.riding(clamp.at);
                let along = self.folded.motion(clamp.at.section).direction(clamp.along);
                let seen = self.options.seen.flat(along);
                let size = seen.x.hypot(seen.y);
                // Seen along the hose it lies across all the same.
                let (x, y) = if size < 0.1 { (1.0, 0.0) } else { (seen.x / size, seen.y / size) };
                let half = outside / 2.0 + BEYOND;
                let ends = [-half, half].map(|by| Point2::new(at.x - y * by, at.y + x * by));
                let shape = Shape::Line {
                    points: ends.to_vec(),
                    width: Width { metres: 0.012, least: 2.0 },
                    dash: Dash::Solid,
                };
                let grow = Grow::evenly(at, Reach::at_least(half, 4.5));
                self.items.push(DrawItem::new(layer, shape, Ink::Part).of(subject).growing(grow));
            }
        }
    }
}
