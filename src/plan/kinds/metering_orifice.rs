//! A plate with a hole that meters a row.

use super::description::{
    Contradiction, DescribedElement, ElementDescription, ElementFacts, ItemDescription, KindFacts,
    PlaceAlongFeed, Spares,
};
use super::numbers::{Field, Number, item};
use super::ports::Passage;
use super::symbol::{ElementSymbol, Mark};
use crate::quantities::{Length, Measure, Pressure, UnitSystem, plain};

item! {
    /// A plate with a hole that meters.
    MeteringOrifice {
        /// Diameter of the hole.
        bore: Length = Bore, AboveZero;
        /// Discharge coefficient, to be calibrated; above 0, at most 1.
        cd: f64 = Discharge, ByItself;
        /// Thickness of the plate; 0 or more.
        thickness: Length = Thickness, NotNegative;
        /// Adds the viscous loss of small Reynolds numbers, with the plate's thickness, to that of `cd` (after Sampson 1891
        /// and Dagan, Weinbaum and Pfeffer 1982; an interpolation above Re of about 10). For a `cd` measured in turbulent
        /// flow; one measured with the liquid and flow in use holds that loss already.
        #[serde(default, skip_serializing_if = "std::ops::Not::not")]
        creeping: bool = Creeping, ByItself;
        /// Rated pressure, if known.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        rated: Option<Pressure> = Rated, AboveZeroIfKnown;
    }
}

impl ItemDescription for MeteringOrifice {
    fn number_table(&self) -> Vec<Number> {
        self.own_numbers()
    }

    fn contradictions(&self) -> Vec<Contradiction> {
        let cd = self.cd;
        let one = Contradiction::unless(
            cd.is_finite() && cd > 0.0 && cd <= 1.0,
            || format!("discharge coefficient is {}", plain(cd)),
            "give a number above 0, at most 1; 0.60 to 0.65 for a sharp edge",
        );
        one.into_iter().collect()
    }

    fn size(&self, units: UnitSystem) -> String {
        Measure::Bore.fine_text(self.bore.si(), units)
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
        None
    }
}

impl ElementDescription for MeteringOrifice {
    fn bore(&self) -> Length {
        self.bore
    }

    fn passage(&self) -> Passage {
        let creeping_thickness = self.creeping.then_some(self.thickness);
        Passage::Orifice { bore: self.bore, cd: self.cd, creeping_thickness }
    }

    fn schematic_words(&self, units: UnitSystem) -> String {
        format!("Ø{}", Measure::Bore.fine_number(self.bore.si(), units))
    }
}

impl DescribedElement for MeteringOrifice {
    const FACTS: ElementFacts = ElementFacts {
        kind: KindFacts {
            words: "metering orifice",
            list_order: 100,
            spares: Spares::OneInTwenty,
            told_by_catch: Some(Field::Discharge),
        },
        short_name: "Orifice",
        meters: true,
        place_along_feed: PlaceAlongFeed::Metering,
        symbol,
    };
}

fn symbol() -> ElementSymbol {
    // In millimetres of the schematic, half of whose length is a unit.
    const HALF: f64 = 2.5;
    let arc = |side: f64| {
        let points: Vec<(f64, f64)> = (-4..=4)
            .map(|step| {
                let angle = f64::from(step) * 0.26;
                (-1.8 * angle.sin() / HALF, side * (2.4 - 1.8 * angle.cos()) / HALF)
            })
            .collect();
        Mark::line(&points)
    };
    ElementSymbol {
        marks: vec![Mark::line(&[(-1.0, 0.0), (1.0, 0.0)]), arc(1.0), arc(-1.0)],
        schematic_length: 2.0 * HALF,
        legend: "metering orifice",
        to_scale: true,
    }
}
