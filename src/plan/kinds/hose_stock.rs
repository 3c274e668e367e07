//! The dimensions that hoses and tubes have in common.

use super::description::Contradiction;
use super::numbers::item;
use crate::quantities::{BendingStiffness, Length, MassPerLength, Pressure};

item! {
    /// A hose or tube sold by length.
    HoseStock {
        /// Inside diameter; above 0.
        bore: Length = Bore, AboveZero;
        /// Outside diameter; above the bore.
        outside: Length = Outside, AboveZero;
        /// Absolute roughness of the wall; 0 or more, below half the bore.
        roughness: Length = Roughness, NotNegative;
        /// Smallest bend radius, to the centre line.
        bend_radius: Length = BendRadius, NotNegative;
        /// Rated pressure at 20 °C.
        rated: Pressure = Rated, AboveZero;
        /// Bending stiffness, moment over curvature, if anyone measured it; assumed otherwise
        /// (`plan/stock_bending.rs`).
        #[serde(default, skip_serializing_if = "Option::is_none")]
        stiffness: Option<BendingStiffness> = Stiffness, AboveZeroIfKnown;
        /// What a metre of it weighs empty, if anyone weighed it; assumed otherwise.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        weight: Option<MassPerLength> = Weight, AboveZeroIfKnown;
    }
}

impl HoseStock {
    /// What of its numbers can't be together.
    pub(super) fn contradictions(&self) -> Vec<Contradiction> {
        let diameters = Contradiction::unless(
            self.outside > self.bore,
            || "its outside diameter is not above its bore".to_owned(),
            "check the two diameters",
        );
        let wall = Contradiction::unless(
            self.roughness.si() < self.bore.si() / 2.0,
            || "its roughness is half its bore or more".to_owned(),
            "a smooth hose has 0.0015 mm",
        );
        diameters.into_iter().chain(wall).collect()
    }
}
