//! Why the length at a hinge is not computed, in words.

/// Why a crossing is not computed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NotComputed {
    /// It is being computed while something is dragged, and not known yet.
    BeingComputed,
    /// The stock is not in the catalogue.
    NoStock,
    /// It goes over several hinges without a point on the section between them.
    SeveralHinges,
    /// The hinge has no axis.
    NoAxis,
    /// It is nowhere straight enough beside the hinge.
    NoPlaceForClamps,
    /// Its straight stretch beside the hinge ends nearer to it than a hose has room to bend.
    StretchTooNear,
    /// A clamp that somebody placed is not on the straight stretch beside the hinge.
    ClampOffTheLine,
    /// Clamps that somebody placed are closer to each other at work than the hose is thick.
    ClampsTooClose,
    /// The clamps are not in one plane across the hinge.
    NotInOnePlane,
    /// Wherever it can be clamped every length bends too tight.
    NoLengthServes,
    /// Between the clamps that somebody placed every length bends too tight.
    NoLengthBetweenThese,
}

impl NotComputed {
    /// It is known that no length serves, and not only which one does.
    pub const fn is_too_tight(self) -> bool {
        matches!(self, Self::NoLengthServes | Self::NoLengthBetweenThese | Self::ClampsTooClose)
    }

    /// `the clamps are not in one plane across the hinge`.
    pub const fn words(self) -> &'static str {
        match self {
            Self::BeingComputed => "the length is being computed",
            Self::NoStock => "the stock is not in the catalogue",
            Self::SeveralHinges => {
                "several hinges are crossed at once: draw a point on the section between them"
            }
            Self::NoAxis => "the hinge has no axis: enter its direction",
            Self::NoPlaceForClamps => {
                "there is no straight stretch of 0.1 m beside the hinge to be clamped on"
            }
            Self::StretchTooNear => {
                "the straight stretch beside the hinge ends before there is room to bend: lay it straight further from the \
                 hinge"
            }
            Self::ClampOffTheLine => "a clamp is not on the straight stretch beside the hinge",
            Self::ClampsTooClose => {
                "the clamps as they are placed are closer to each other than what they hold is thick: place them farther from the hinge, or \
                 take the suggested places"
            }
            Self::NotInOnePlane => {
                "the clamps are not in one plane: lay both sides in one plane across the hinge"
            }
            Self::NoLengthBetweenThese => {
                "between the clamps as they are placed every length bends too tight: place them farther from the hinge, or \
                 take the suggested places"
            }
            Self::NoLengthServes => {
                "every length bends too tight where it can be clamped: lay it straight further from the hinge, or choose \
                 a hose that bends tighter"
            }
        }
    }
}
