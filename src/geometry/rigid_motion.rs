//! Where a rigid body goes.

use super::{Point3, rotate_about};

/// A turn and a shift: where the points of a rigid body go, all together.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RigidMotion {
    /// Where the unit vectors along x, y and z point afterwards.
    axes: [Point3; 3],
    /// Where the origin goes, metres.
    origin: Point3,
}

impl RigidMotion {
    /// Everything stays where it is.
    pub const STILL: Self = Self {
        axes: [Point3::new(1.0, 0.0, 0.0), Point3::new(0.0, 1.0, 0.0), Point3::new(0.0, 0.0, 1.0)],
        origin: Point3::new(0.0, 0.0, 0.0),
    };

    /// A turn about the line through `through` along `axis`, right-handed, radians. An axis without length turns
    /// nothing.
    pub fn about(through: Point3, axis: Point3, angle_rad: f64) -> Self {
        let turned = |point: Point3| rotate_about(point, Point3::default(), axis, angle_rad);
        Self {
            axes: Self::STILL.axes.map(turned),
            origin: rotate_about(Point3::default(), through, axis, angle_rad),
        }
    }

    /// Where a point goes.
    pub fn place(&self, point: Point3) -> Point3 {
        self.origin + self.direction(point)
    }

    /// Where a direction points afterwards; its length stays.
    pub fn direction(&self, along: Point3) -> Point3 {
        let [x, y, z] = self.axes;
        x * along.x + y * along.y + z * along.z
    }

    /// The motion back.
    #[must_use]
    pub fn inverse(&self) -> Self {
        let [a, b, c] = self.axes;
        let axes = [Point3::new(a.x, b.x, c.x), Point3::new(a.y, b.y, c.y), Point3::new(a.z, b.z, c.z)];
        let at = self.origin;
        let back = |axis: Point3| -(axis.x * at.x + axis.y * at.y + axis.z * at.z);
        Self { axes, origin: Point3::new(back(a), back(b), back(c)) }
    }

    /// First `inner`, then this one: what is carried by something that moves.
    #[must_use]
    pub fn after(&self, inner: &Self) -> Self {
        Self { axes: inner.axes.map(|axis| self.direction(axis)), origin: self.place(inner.origin) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Turning point by point (Rodrigues 1840) gives the same places.
    #[test]
    fn one_motion_moves_every_point_as_turns_one_after_the_other() {
        let (inner_at, inner_axis) = (Point3::new(6.0, 0.2, 1.1), Point3::new(0.1, 1.0, 0.0));
        let (outer_at, outer_axis) = (Point3::new(2.0, -0.3, 0.9), Point3::new(0.0, 0.3, 1.0));
        let both = RigidMotion::about(outer_at, outer_axis, 1.3)
            .after(&RigidMotion::about(inner_at, inner_axis, -2.1));
        for point in [Point3::new(9.0, 0.5, 0.4), Point3::default(), Point3::new(-3.0, 7.0, 2.0)] {
            let one_by_one =
                rotate_about(rotate_about(point, inner_at, inner_axis, -2.1), outer_at, outer_axis, 1.3);
            assert!(both.place(point).distance(one_by_one) < 1e-12);
        }
    }

    #[test]
    fn a_motion_and_its_way_back_leave_everything_where_it_was() {
        let motion = RigidMotion::about(Point3::new(6.0, 0.2, 1.1), Point3::new(0.1, 1.0, 0.4), 1.3)
            .after(&RigidMotion::about(Point3::new(2.0, -0.3, 0.9), Point3::new(0.0, 0.3, 1.0), -2.1));
        let point = Point3::new(9.0, 0.5, 0.4);
        assert!(motion.inverse().place(motion.place(point)).distance(point) < 1e-12);
        assert!(motion.place(motion.inverse().place(point)).distance(point) < 1e-12);
    }

    #[test]
    fn a_direction_keeps_its_length_and_forgets_where_it_is() {
        let motion =
            RigidMotion::about(Point3::new(5.0, 5.0, 5.0), Point3::new(0.0, 1.0, 0.0), -90f64.to_radians());
        let up = motion.direction(Point3::new(2.0, 0.0, 0.0));
        assert!(up.distance(Point3::new(0.0, 0.0, 2.0)) < 1e-12, "{up:?}");
    }
}
