//! What is caught when a bar folds.

use super::solids::Obstacle;
use super::{FoldPosition, SectionId, Subject};
use crate::geometry::Point3;
use crate::quantities::Length;

/// A gap that closes by less than this is as it was at work, metres.
pub(super) const AS_BEFORE: f64 = 1e-3;
/// Positions are looked at no closer than what moves something by this, metres.
pub(super) const FINE: f64 = 2e-3;
/// What a point's way on an arc is longer than its ends are apart, and how far it goes beyond the straight line between them,
/// as a share of that: for steps of up to 4.5° it is under 2 %.
pub(super) const ARC: f64 = 0.02;

/// How far the farthest of some points has moved, straight, metres.
pub(super) fn farthest_moved(before: &[Point3], after: &[Point3]) -> f64 {
    before.iter().zip(after).map(|(a, b)| a.distance(*b)).fold(0.0, f64::max)
}

/// Something that something on another section comes too near to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Clash<T> {
    /// What is caught.
    pub caught: T,
    /// The section that carries it.
    pub on: SectionId,
    /// What comes to it.
    pub by: Obstacle,
    /// The section that carries that.
    pub from: SectionId,
    /// Where in the fold it is nearest.
    pub at: FoldPosition,
    /// What is then left between the two; below 0 where one would be in the other.
    pub gap: Length,
}

/// All that is caught in one routing of a bar.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Clashes {
    /// Of each part, hose and row feed the worst, in the order of the routing.
    pub plumbing: Vec<Clash<Subject>>,
    /// Sections whose frame runs into that of another one, of each section the worst.
    pub frames: Vec<FrameClash>,
}

/// A section whose frame runs into that of another one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FrameClash {
    /// Where they are deepest in each other.
    pub deepest: Clash<SectionId>,
    /// From where in the fold on they are in each other.
    pub since: FoldPosition,
    /// Members are through each other, so that how deep is no measure of how far they go on.
    pub is_through: bool,
}
