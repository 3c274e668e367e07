//! What to draw of the bar, and how: colouring, detail, what is left away.

use std::collections::BTreeSet;

use crate::drawing::scene::Layer;
use crate::drawing::seen_from::SeenFrom;
use crate::plan::{FoldPosition, Subject};
use crate::quantities::UnitSystem;

/// What to draw and how.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct SceneOptions {
    /// Units of numbers.
    pub units: UnitSystem,
    /// Layers left away.
    pub hidden: BTreeSet<Layer>,
    /// How far the bar is folded.
    pub fold: FoldPosition,
    /// Where it is looked at from.
    pub seen: SeenFrom,
    /// What colours stand for.
    pub colouring: Colouring,
    /// How much is shown.
    pub detail: Detail,
    /// What is selected or pointed at: its row feeds are drawn apart, its outlets are numbered.
    pub marked: BTreeSet<Subject>,
    /// How far apart row feeds that share a way are then drawn, metres.
    pub lane: f64,
}

/// What colours stand for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Colouring {
    /// How far each row is from its target.
    #[default]
    Deviation,
    /// Gauge pressure of hoses, manifolds and rows.
    Pressure,
    /// How far what was caught under each row in a catch test is from its target.
    Caught,
}

/// How much is shown, by how large it is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum Detail {
    /// From afar: smaller symbols.
    Overview,
    /// At reading size, and on papers.
    #[default]
    Normal,
    /// So near that a manifold's outlets have room for their numbers.
    Close,
}

impl Detail {
    /// At a scale, screen points per metre.
    pub const fn at(scale: f64) -> Self {
        if scale < OVERVIEW_BELOW {
            Self::Overview
        } else if scale < 260.0 {
            Self::Normal
        } else {
            Self::Close
        }
    }
}

/// The scale below which the whole bar is seen from afar, screen points per metre.
pub(super) const OVERVIEW_BELOW: f64 = 44.0;
