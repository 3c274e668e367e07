//! The straight stretch of a hose beside a hinge, where it can be clamped.

use crate::geometry::Point3;
use crate::plan::bar_point::BarPoint;

/// A piece between points of one section is straight enough to be clamped on if it is as long as this, metres.
const STRAIGHT: f64 = 0.1;
/// Directions that differ by less than this are one, radians.
pub(super) const SAME_WAY: f64 = 0.05;

/// The point of a piece that is nearest to the axis of a hinge.
pub(super) fn nearest_to_axis(from: Point3, to: Point3, origin: Point3, axis: Point3) -> Point3 {
    let off = |point: Point3| (point - origin) - axis * (point - origin).dot(axis);
    let (a, b) = (off(from), off(to));
    let along = b - a;
    let square = along.dot(along);
    // Along the axis every point is as near as the others.
    let share = if square > 0.0 { (-a.dot(along) / square).clamp(0.0, 1.0) } else { 0.5 };
    from.towards(to, share)
}

/// A straight stretch on one side of a hinge.
pub(super) struct Stretch {
    pub(super) begins: Point3,
    /// Away from the hinge.
    pub(super) along: Point3,
    pub(super) length: f64,
    /// The way from the hinge to where it begins.
    pub(super) before: f64,
}

/// The first straight stretch that is long enough, from the hinge outwards, of the points that ride on one section. What
/// begins with a corner is no shorter for the corner: the free piece takes the way across it.
pub(super) fn stretch<'a>(middle: Point3, points: impl Iterator<Item = &'a BarPoint>) -> Option<Stretch> {
    let mut points = points.peekable();
    let section = points.peek()?.section;
    let mut at = middle;
    let mut before = 0.0;
    let mut found: Option<Stretch> = None;
    for point in points.take_while(|point| point.section == section) {
        let length = at.distance(point.place);
        let Some(along) = (point.place - at).unit() else { continue };
        match &mut found {
            Some(one) if one.along.dot(along) >= SAME_WAY.cos() => one.length += length,
            Some(one) if one.length >= STRAIGHT => break,
            other => *other = Some(Stretch { begins: at, along, length, before }),
        }
        before += length;
        at = point.place;
    }
    found.filter(|one| one.length >= STRAIGHT)
}
