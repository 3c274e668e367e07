//! The motion of a hinge.

use super::Point3;

/// Turns `point` by `angle_rad` about the line through `origin` along `axis`, right-handed (Rodrigues 1840).
/// An axis without length turns nothing.
pub fn rotate_about(point: Point3, origin: Point3, axis: Point3, angle_rad: f64) -> Point3 {
    let Some(k) = axis.unit() else { return point };
    let v = point - origin;
    origin + v * angle_rad.cos() + k.cross(v) * angle_rad.sin() + k * (k.dot(v) * (1.0 - angle_rad.cos()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_wing_tip_folds_up() {
        // Right wing about a fore-aft hinge at x = 2, z = 1: pointing forward (+y), a turn by −90° lifts +x to +z.
        let hinge = Point3::new(2.0, 0.0, 1.0);
        let tip =
            rotate_about(Point3::new(5.0, 0.5, 1.0), hinge, Point3::new(0.0, 1.0, 0.0), -90f64.to_radians());
        assert!(tip.distance(Point3::new(2.0, 0.5, 4.0)) < 1e-12, "{tip:?}");
    }
}
