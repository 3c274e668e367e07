//! What is caught when a bar folds.

use super::solids::Obstacle;
use super::{FoldPosition, SectionId, Subject};
use crate::quantities::Length;

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
