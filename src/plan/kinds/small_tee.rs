//! A small tee that splits a shared row feed near the openers: bore, coefficient and rating, no more.

use super::description::{
    Contradiction, DescribedFitting, FittingDescription, ItemDescription, KindFacts, Spares,
};
use super::numbers::{Number, item};
use crate::quantities::{Length, Measure, Pressure, UnitSystem};

item! {
    /// Splits a shared row feed near the openers.
    SmallTee {
        /// Bore of its ports.
        bore: Length = Bore, AboveZero;
        /// Loss coefficient from the inlet to either outlet.
        k: f64 = Loss, Coefficient;
        /// Rated pressure, if known.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        rated: Option<Pressure> = Rated, AboveZeroIfKnown;
    }
}

impl ItemDescription for SmallTee {
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
        None
    }

    fn flow_factor_bore(&self) -> Option<Length> {
        Some(self.bore)
    }
}

impl FittingDescription for SmallTee {
    fn bore(&self) -> Length {
        self.bore
    }

    fn k(&self) -> f64 {
        self.k
    }
}

impl DescribedFitting for SmallTee {
    const FACTS: KindFacts =
        KindFacts { words: "small tee", list_order: 80, spares: Spares::OneInTwenty, told_by_catch: None };
}
