//! What the balloons of a layout sheet point at.

use crate::geometry::Point2;

/// What a balloon points at.
#[derive(Debug, Clone)]
pub(super) struct Pointed {
    /// Where, on the sheet.
    pub(super) at: Point2,
    /// Where else on it, if the way there is barred.
    pub(super) or_at: Vec<Point2>,
    /// Item number.
    pub(super) number: usize,
    /// The part, hose or tube by its tag: what stands for the balloon where that has no room.
    pub(super) tag: String,
}

impl Pointed {
    /// `7 (G1)`.
    pub(super) fn words(&self) -> String {
        format!("{} ({})", self.number, self.tag)
    }
}
