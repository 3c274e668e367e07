//! A barb, elbow or adapter of a hose or a row feed, whose own bore counts.

use serde::{Deserialize, Serialize};

use super::description::{
    Contradiction, DescribedFitting, FittingDescription, ItemDescription, KindFacts, Spares,
};
use super::numbers::{AsNumber, Field, ItemError, Number, item};
use super::symbol::{ElementSymbol, Filling, Mark};
use crate::quantities::{Length, Measure, Pressure, UnitSystem};

item! {
    /// A barb, elbow or adapter whose own bore counts.
    Fitting {
        /// Bore.
        bore: Length = Bore, AboveZero;
        /// Loss coefficient.
        k: f64 = Loss, Coefficient;
        /// Whether it turns the way of the liquid.
        form: FittingForm = Elbow, ByItself;
        /// Rated pressure, if known.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        rated: Option<Pressure> = Rated, AboveZeroIfKnown;
    }
}

/// Whether a fitting turns the way of the liquid.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum FittingForm {
    /// A barb or adapter: liquid goes straight on.
    Straight,
    /// Turns it through a right angle or less, so that a hose may leave a port sideways.
    Elbow,
}

impl AsNumber for FittingForm {
    fn number(self) -> Option<f64> {
        (self == Self::Elbow).number()
    }

    fn from_number(field: Field, number: Option<f64>) -> Result<Self, ItemError> {
        Ok(if bool::from_number(field, number)? { Self::Elbow } else { Self::Straight })
    }
}

impl ItemDescription for Fitting {
    fn number_table(&self) -> Vec<Number> {
        self.own_numbers()
    }

    fn contradictions(&self) -> Vec<Contradiction> {
        Vec::new()
    }

    fn size(&self, units: UnitSystem) -> String {
        Measure::Bore.short_text(self.bore.si(), units)
    }

    fn choice(&self, units: UnitSystem) -> String {
        self.size(units)
    }

    fn rated(&self) -> Option<Pressure> {
        self.rated
    }

    fn smallest_bore(&self) -> Option<Length> {
        Some(self.bore)
    }

    fn flow_factor_bore(&self) -> Option<Length> {
        Some(self.bore)
    }
}

impl FittingDescription for Fitting {
    fn bore(&self) -> Length {
        self.bore
    }

    fn k(&self) -> f64 {
        self.k
    }
}

impl DescribedFitting for Fitting {
    const FACTS: KindFacts =
        KindFacts { words: "fitting", list_order: 120, spares: Spares::OneInTwenty, told_by_catch: None };
}

/// Its symbol in a row feed.
pub(super) fn symbol() -> ElementSymbol {
    ElementSymbol {
        marks: vec![
            Mark::line(&[(-1.0, 0.0), (1.0, 0.0)]),
            Mark::circle((0.0, 0.0), 0.9 / 1.5, Filling::Paper),
        ],
        schematic_length: 3.0,
        legend: "fitting",
        // To scale it is as wide as its tube.
        to_scale: false,
    }
}
