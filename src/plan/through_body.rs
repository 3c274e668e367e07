//! Where a line passes over, under or through a body, seen from above.

use super::kinds::Body;
use super::open_air::between;
use crate::geometry::Point3;
use crate::quantities::Angle;

/// Half a hose, metres (common practice, no source): a line passes a part whose middle is farther above or below by this and half
/// of what the part is deep, since it is taken to be as high.
const HALF_HOSE: f64 = 0.015;

/// The body of a part where it stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlacedBody {
    /// Its middle.
    pub at: Point3,
    /// How it is turned in the plan view.
    pub turn: Angle,
    /// What of it is looked at, seen from above.
    pub body: Body,
    /// Half of what it is high, metres.
    pub half_height: f64,
}

impl PlacedBody {
    /// A line goes through it, and neither above nor below it.
    pub fn is_passed_through(&self, path: &[Point3]) -> bool {
        let within = stretches_within(path, self.at, self.turn, self.body);
        let (z, passes) = (self.at.z, self.half_height + HALF_HOSE);
        within.iter().any(|(from, to)| from.z.min(to.z) < z + passes && from.z.max(to.z) > z - passes)
    }
}

/// The stretches of a line that lie over, under or in the box of a body at a place and turned, each from its first to its
/// last point.
pub fn stretches_within(path: &[Point3], at: Point3, turn: Angle, body: Body) -> Vec<(Point3, Point3)> {
    let (sin, cos) = turn.si().sin_cos();
    let own = |point: Point3| {
        let (x, y) = (point.x - at.x, point.y - at.y);
        (x * cos + y * sin, y * cos - x * sin)
    };
    let within = |pair: &[Point3]| {
        let (from, to) = (pair[0], pair[1]);
        let ((from_x, from_y), (to_x, to_y)) = (own(from), own(to));
        let along = between(from_x, to_x, -body.half_length, body.half_length)?;
        let across = between(from_y, to_y, -body.half_depth, body.half_depth)?;
        let (begins, ends) = (along[0].max(across[0]), along[1].min(across[1]));
        let at = |share: f64| from + (to - from) * share;
        (begins <= ends).then(|| (at(begins), at(ends)))
    };
    path.windows(2).filter_map(within).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_is_cut_to_what_lies_in_the_box_as_it_is_turned() {
        let body = Body { half_length: 0.2, half_depth: 0.05 };
        let path = [Point3::new(-1.0, 1.0, 0.5), Point3::new(1.0, 1.0, 1.5), Point3::new(1.0, 3.0, 1.5)];
        let within =
            |turn: f64, y: f64| stretches_within(&path, Point3::new(0.0, y, 1.0), Angle::from_si(turn), body);
        let [(from, to)] = within(0.0, 1.0)[..] else { panic!("one stretch") };
        assert!(
            from.distance(Point3::new(-0.2, 1.0, 0.9)) < 1e-9
                && to.distance(Point3::new(0.2, 1.0, 1.1)) < 1e-9
        );
        let [(from, to)] = within(std::f64::consts::FRAC_PI_2, 1.0)[..] else { panic!("one stretch") };
        assert!(
            from.distance(Point3::new(-0.05, 1.0, 0.975)) < 1e-9
                && to.distance(Point3::new(0.05, 1.0, 1.025)) < 1e-9
        );
        assert!(within(0.0, 1.06).is_empty(), "beside it");
        assert_eq!(within(std::f64::consts::FRAC_PI_2, 1.15).len(), 1, "its long side lies across the line");
    }
}
