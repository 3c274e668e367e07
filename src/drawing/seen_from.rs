//! Where a bar is looked at from.

use crate::geometry::{Point2, Point3};
use strum::EnumCount;

/// Where a bar is looked at from. The pictures stand to each other as views of one drawing do (ISO 5456-2, third angle):
/// what is to the right of the bar is to the right from above and from behind, what is high is high from behind and from
/// the right.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, EnumCount)]
pub enum SeenFrom {
    /// Forward is up.
    #[default]
    Above,
    /// Facing forward: right is right, up is up.
    Behind,
    /// Facing left: forward is right, up is up.
    Right,
}

impl SeenFrom {
    /// All, in the order they are shown.
    pub const ALL: [Self; Self::COUNT] = [Self::Above, Self::Behind, Self::Right];

    /// In words.
    pub const fn label(self) -> &'static str {
        match self {
            Self::Above => "From above",
            Self::Behind => "From behind",
            Self::Right => "From the right",
        }
    }

    /// Where a point is in the picture, metres.
    pub const fn flat(self, point: Point3) -> Point2 {
        match self {
            Self::Above => Point2::new(point.x, point.y),
            Self::Behind => Point2::new(point.x, point.z),
            Self::Right => Point2::new(point.y, point.z),
        }
    }
}
