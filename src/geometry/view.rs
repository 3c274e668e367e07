//! The view transform: from metres on the bar to a flat picture, x right, y down.

use super::{Bounds, Point2};

/// Where a picture looks and how large it draws. The unit of the picture (screen points, millimetres of
/// paper) is the caller's.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct View {
    /// The point of the bar in the middle of the picture, metres.
    pub centre: Point2,
    /// Picture units per metre, above 0.
    pub scale: f64,
}

impl View {
    /// Smallest and largest scale that zooming reaches, picture units per metre.
    pub const SCALE_RANGE: std::ops::RangeInclusive<f64> = 2.0..=4000.0;

    /// Shows all of a box in a picture of the given size with a margin (picture units). An empty box shows
    /// ten metres about the origin.
    pub fn fit(bounds: Bounds, width: f64, height: f64, margin: f64) -> Self {
        let (centre, wide, deep) = if bounds.is_empty() {
            (Point2::default(), 10.0, 2.0)
        } else {
            (bounds.centre(), bounds.width(), bounds.depth())
        };
        let room = |size: f64| (size - 2.0 * margin).max(1.0);
        let scale = (room(width) / wide.max(0.1)).min(room(height) / deep.max(0.1));
        Self { centre, scale: scale.clamp(*Self::SCALE_RANGE.start(), *Self::SCALE_RANGE.end()) }
    }

    /// From metres to the picture, relative to the picture's middle; y runs down.
    pub fn to_picture(&self, point: Point2) -> (f64, f64) {
        ((point.x - self.centre.x) * self.scale, (self.centre.y - point.y) * self.scale)
    }

    /// From the picture, relative to its middle, to metres.
    pub fn to_bar(&self, x: f64, y: f64) -> Point2 {
        Point2::new(self.centre.x + x / self.scale, self.centre.y - y / self.scale)
    }

    /// Zooms by a factor so that the point of the bar under (x, y) stays there.
    #[must_use]
    pub fn zoomed_about(&self, x: f64, y: f64, factor: f64) -> Self {
        let fixed = self.to_bar(x, y);
        let scale = (self.scale * factor).clamp(*Self::SCALE_RANGE.start(), *Self::SCALE_RANGE.end());
        Self { centre: Point2::new(fixed.x - x / scale, fixed.y + y / scale), scale }
    }

    /// Moves what is shown by a distance in the picture.
    #[must_use]
    pub fn panned(&self, dx: f64, dy: f64) -> Self {
        Self {
            centre: Point2::new(self.centre.x - dx / self.scale, self.centre.y + dy / self.scale),
            ..*self
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_point_under_the_pointer_stays() {
        let view = View { centre: Point2::new(1.0, 2.0), scale: 50.0 };
        let under = view.to_bar(120.0, -30.0);
        let after = view.zoomed_about(120.0, -30.0, 1.7);
        let (x, y) = after.to_picture(under);
        assert!((x - 120.0).abs() < 1e-9 && (y + 30.0).abs() < 1e-9);
    }

    #[test]
    fn fit_shows_all() {
        let bounds = Bounds::around([Point2::new(-12.0, -1.0), Point2::new(12.0, 2.0)]);
        let view = View::fit(bounds, 1000.0, 400.0, 20.0);
        let (x, y) = view.to_picture(bounds.max);
        assert!(x <= 480.1 && y >= -180.1);
    }
}
