//! Why the length at a hinge is not computed, in words.

/// Why a crossing is not computed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NotComputed {
    /// The stock is not in the catalogue.
    NoStock,
    /// It goes over several hinges without a point on the section between them.
    SeveralHinges,
    /// The hinge has no axis.
    NoAxis,
    /// It is nowhere straight enough beside the hinge.
    NoPlaceForClamps,
    /// A clamp that somebody placed is not on the straight stretch beside the hinge.
    ClampOffTheLine,
    /// The clamps are not in one plane across the hinge.
    NotInOnePlane,
    /// Between clamps like these every length bends too tight.
    NoLengthServes,
}

impl NotComputed {
    /// `the clamps are not in one plane across the hinge`.
    pub const fn words(self) -> &'static str {
        match self {
            Self::NoStock => "its stock is not in the catalogue",
            Self::SeveralHinges => {
                "it goes over several hinges at once: draw a point on the section between them"
            }
            Self::NoAxis => "the hinge has no axis: enter its direction",
            Self::NoPlaceForClamps => "it has no straight stretch of 0.1 m beside the hinge to be clamped on",
            Self::ClampOffTheLine => "a clamp is not on the straight stretch beside the hinge",
            Self::NotInOnePlane => "it does not cross squarely: lay both sides in one plane across the hinge",
            Self::NoLengthServes => {
                "every length bends too tight where it can be clamped: lay it straight further from the hinge, or choose \
                 a hose that bends tighter"
            }
        }
    }
}
