//! Points, boxes and lengths of lines.

use std::ops::{Add, Mul, Sub};

use serde::{Deserialize, Deserializer, Serialize, de::Error as _};

/// Reads a coordinate of a file, which is a finite number.
pub(crate) fn finite<'de, D: Deserializer<'de>>(from: D) -> Result<f64, D::Error> {
    let value = f64::deserialize(from)?;
    if value.is_finite() {
        Ok(value)
    } else {
        Err(D::Error::custom("not a finite number; write a plain number of metres"))
    }
}

/// A point or a direction in space, metres.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Point3 {
    /// To the right, seen facing forward.
    #[serde(deserialize_with = "finite")]
    pub x: f64,
    /// Forward.
    #[serde(deserialize_with = "finite")]
    pub y: f64,
    /// Up from the ground.
    #[serde(deserialize_with = "finite")]
    pub z: f64,
}

impl Point3 {
    /// From right, forward and up, metres.
    pub const fn new(x: f64, y: f64, z: f64) -> Self {
        Self { x, y, z }
    }

    /// The plan view of it (height dropped).
    pub const fn flat(self) -> Point2 {
        Point2 { x: self.x, y: self.y }
    }

    /// Straight distance to another point, metres.
    pub fn distance(self, other: Self) -> f64 {
        let d = self - other;
        (d.x * d.x + d.y * d.y + d.z * d.z).sqrt()
    }

    /// The point a share `t` (0 to 1) of the way to another.
    #[must_use]
    pub fn towards(self, other: Self, t: f64) -> Self {
        self + (other - self) * t
    }

    /// Inner product with another direction.
    pub fn dot(self, other: Self) -> f64 {
        self.x * other.x + self.y * other.y + self.z * other.z
    }

    /// Cross product with another direction, right-handed.
    #[must_use]
    pub fn cross(self, other: Self) -> Self {
        Self::new(
            self.y * other.z - self.z * other.y,
            self.z * other.x - self.x * other.z,
            self.x * other.y - self.y * other.x,
        )
    }

    /// The direction with a length of 1; none of one without length.
    pub fn unit(self) -> Option<Self> {
        let length = self.dot(self).sqrt();
        (length > 0.0 && length.is_finite()).then(|| self * (1.0 / length))
    }

    /// All three coordinates are finite.
    pub const fn is_finite(self) -> bool {
        self.x.is_finite() && self.y.is_finite() && self.z.is_finite()
    }
}

impl Add for Point3 {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self::new(self.x + other.x, self.y + other.y, self.z + other.z)
    }
}

impl Sub for Point3 {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self::new(self.x - other.x, self.y - other.y, self.z - other.z)
    }
}

impl Mul<f64> for Point3 {
    type Output = Self;
    fn mul(self, by: f64) -> Self {
        Self::new(self.x * by, self.y * by, self.z * by)
    }
}

/// A point in the plan view, metres: x to the right, y forward.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Point2 {
    /// To the right.
    pub x: f64,
    /// Forward.
    pub y: f64,
}

impl Point2 {
    /// From right and forward, metres.
    pub const fn new(x: f64, y: f64) -> Self {
        Self { x, y }
    }

    /// Distance to another point, metres.
    pub fn distance(self, other: Self) -> f64 {
        (self.x - other.x).hypot(self.y - other.y)
    }

    /// The point a share `t` (0 to 1) of the way to another.
    #[must_use]
    pub fn towards(self, other: Self, t: f64) -> Self {
        Self::new(self.x + (other.x - self.x) * t, self.y + (other.y - self.y) * t)
    }

    /// Distance to the straight piece from `a` to `b`, metres.
    pub fn distance_to_piece(self, a: Self, b: Self) -> f64 {
        let (dx, dy) = (b.x - a.x, b.y - a.y);
        let square = dx * dx + dy * dy;
        let t = if square > 0.0 {
            (((self.x - a.x) * dx + (self.y - a.y) * dy) / square).clamp(0.0, 1.0)
        } else {
            0.0
        };
        self.distance(Self::new(a.x + t * dx, a.y + t * dy))
    }
}

/// Length of a line through points, metres; 0 for fewer than two.
pub fn polyline_length(points: &[Point3]) -> f64 {
    points.windows(2).map(|pair| pair[0].distance(pair[1])).sum()
}

/// An upright box in the plan view, metres. Empty until something is added.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bounds {
    /// Left back corner.
    pub min: Point2,
    /// Right front corner.
    pub max: Point2,
}

impl Bounds {
    /// Nothing yet.
    pub const EMPTY: Self = Self {
        min: Point2::new(f64::INFINITY, f64::INFINITY),
        max: Point2::new(f64::NEG_INFINITY, f64::NEG_INFINITY),
    };

    /// The smallest box around points.
    pub fn around(points: impl IntoIterator<Item = Point2>) -> Self {
        let mut all = Self::EMPTY;
        for point in points {
            all.add(point);
        }
        all
    }

    /// Grows to hold a point.
    pub fn add(&mut self, point: Point2) {
        self.min = Point2::new(self.min.x.min(point.x), self.min.y.min(point.y));
        self.max = Point2::new(self.max.x.max(point.x), self.max.y.max(point.y));
    }

    /// Holds nothing.
    pub fn is_empty(&self) -> bool {
        self.min.x > self.max.x
    }

    /// Width, metres; 0 when empty.
    pub fn width(&self) -> f64 {
        (self.max.x - self.min.x).max(0.0)
    }

    /// Depth (front to back), metres; 0 when empty.
    pub fn depth(&self) -> f64 {
        (self.max.y - self.min.y).max(0.0)
    }

    /// The middle; the origin when empty.
    pub fn centre(&self) -> Point2 {
        if self.is_empty() {
            return Point2::default();
        }
        Point2::new(f64::midpoint(self.min.x, self.max.x), f64::midpoint(self.min.y, self.max.y))
    }

    /// Larger by a margin on every side, metres.
    #[must_use]
    pub fn grown(&self, by: f64) -> Self {
        Self {
            min: Point2::new(self.min.x - by, self.min.y - by),
            max: Point2::new(self.max.x + by, self.max.y + by),
        }
    }

    /// Both have a point in common.
    pub fn meets(&self, other: &Self) -> bool {
        self.min.x <= other.max.x
            && other.min.x <= self.max.x
            && self.min.y <= other.max.y
            && other.min.y <= self.max.y
    }

    /// The point of a box with room in it that is nearest to another; that itself where it lies within.
    #[must_use]
    pub fn nearest(&self, to: Point2) -> Point2 {
        Point2::new(to.x.clamp(self.min.x, self.max.x), to.y.clamp(self.min.y, self.max.y))
    }

    /// Holds the point (edges included).
    pub fn contains(&self, point: Point2) -> bool {
        (self.min.x..=self.max.x).contains(&point.x) && (self.min.y..=self.max.y).contains(&point.y)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The diagonal of a unit cube (geometry).
    #[test]
    fn lengths() {
        assert_eq!(Point3::default().distance(Point3::new(1.0, 1.0, 1.0)), 3.0f64.sqrt());
        let line = [Point3::default(), Point3::new(3.0, 4.0, 0.0), Point3::new(3.0, 4.0, -2.0)];
        assert_eq!(polyline_length(&line), 7.0);
        assert_eq!(polyline_length(&line[..1]), 0.0);
        let away = Point2::new(2.0, 1.0).distance_to_piece(Point2::new(0.0, 0.0), Point2::new(1.0, 0.0));
        assert_eq!(away, 2.0f64.sqrt());
    }
}
