//! Heights on sloping ground: one place for the solve, the findings and the first choices.

use crate::geometry::Point3;
use crate::quantities::Angle;

/// The upward direction in the bar's coordinates: its x axis rises by the side slope (positive = right side up), its y
/// axis by the fore-aft slope (positive = nose up).
///
/// ```
/// use equirow::hydraulics::slope::{height, upward};
/// use equirow::{geometry::Point3, quantities::Angle};
/// // A slope of 3 in 4 on its hypotenuse: 1 m to the right stands 0.6 m higher, 1 m above the bar 0.8 m.
/// let up = upward(Angle::from_si(0.75_f64.atan()), Angle::ZERO);
/// assert!((height(Point3::new(1.0, 0.0, 0.0), up) - 0.6).abs() < 1e-12);
/// assert!((height(Point3::new(0.0, 0.0, 1.0), up) - 0.8).abs() < 1e-12);
/// ```
pub fn upward(side: Angle, fore_aft: Angle) -> Point3 {
    let (x, y) = (side.si().sin(), fore_aft.si().sin());
    Point3::new(x, y, (1.0 - x * x - y * y).max(0.0).sqrt())
}

/// Height of a place in an upward direction, m above the origin.
pub fn height(at: Point3, up: Point3) -> f64 {
    at.x * up.x + at.y * up.y + at.z * up.z
}

/// The upward directions of a bar that turns round at the headland: both slopes count both ways.
pub fn every_way(side: Angle, fore_aft: Angle) -> [Point3; 4] {
    [(side, fore_aft), (side, -fore_aft), (-side, fore_aft), (-side, -fore_aft)]
        .map(|(side, fore_aft)| upward(side, fore_aft))
}
