//! What a file holds of a hinge crossing: what somebody chose there.

use serde::{Deserialize, Serialize};
use strum::EnumCount;

use super::SectionId;
use crate::quantities::Length;

/// One crossing of a hinge by a hose or tube, with what somebody chose for it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct HingeCrossing {
    /// The section that hangs on the hinge.
    pub section: SectionId,
    /// Extra length over the way as drawn that somebody entered, 0 or more; none where it is computed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub entered: Option<Length>,
    /// Where it is clamped, if somebody said so; none where the program suggests it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub clamps: Option<ClampPlaces>,
}

impl HingeCrossing {
    /// Computed, with suggested clamps.
    pub const fn computed(section: SectionId) -> Self {
        Self { section, entered: None, clamps: None }
    }
}

/// How far from beside the hinge the clamps are, along the hose as drawn.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ClampPlaces {
    /// On the side where the hose comes from; above 0.
    pub before: Length,
    /// On the side where it goes on; above 0.
    pub behind: Length,
}

/// On which side of a hinge a clamp is, seen along the hose.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum ClampSide {
    /// Where the hose comes from.
    Before,
    /// Where it goes on.
    Behind,
}

/// On which side of a hinge a clamp is, seen along the bar.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, EnumCount)]
pub enum Towards {
    /// On the section that the hinge is on.
    Centre,
    /// On the section that hangs on it.
    Tip,
}

impl Towards {
    /// Both, from the centre outwards.
    pub const ALL: [Self; Self::COUNT] = [Self::Centre, Self::Tip];

    /// `centre`, `tip`.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Centre => "centre",
            Self::Tip => "tip",
        }
    }

    /// Which side that is along a hose that comes from the tip, or from the centre.
    pub const fn side(self, from_tip: bool) -> ClampSide {
        match (self, from_tip) {
            (Self::Centre, false) | (Self::Tip, true) => ClampSide::Before,
            (Self::Centre, true) | (Self::Tip, false) => ClampSide::Behind,
        }
    }
}

impl ClampPlaces {
    /// How far one of them is from beside the hinge.
    pub const fn of(self, side: ClampSide) -> Length {
        match side {
            ClampSide::Before => self.before,
            ClampSide::Behind => self.behind,
        }
    }

    /// With one of them elsewhere.
    #[must_use]
    pub const fn with(self, side: ClampSide, from_hinge: Length) -> Self {
        match side {
            ClampSide::Before => Self { before: from_hinge, ..self },
            ClampSide::Behind => Self { behind: from_hinge, ..self },
        }
    }

    /// Of the same hose seen from its other end.
    #[must_use]
    pub const fn turned_round(self) -> Self {
        Self { before: self.behind, behind: self.before }
    }
}
