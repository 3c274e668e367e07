//! A check valve of a row feed: opens at its cracking pressure, never lets anything back.

use super::description::{
    Contradiction, DescribedElement, ElementDescription, ElementFacts, ItemDescription, KindFacts,
    PlaceAlongFeed, Spares,
};
use super::numbers::{Number, item};
use super::ports::Passage;
use super::symbol::{ElementSymbol, Filling, Mark};
use crate::quantities::{Length, Measure, Pressure, UnitSystem};

item! {
    /// Opens at its cracking pressure, never lets anything back.
    CheckValve {
        /// Pressure difference at which it opens; 0 or more.
        cracking: Pressure = Cracking, NotNegative;
        /// Pressure difference at which it shuts again; at most the cracking pressure.
        closing: Pressure = Closing, NotNegative;
        /// Loss coefficient, open.
        k: f64 = Loss, Coefficient;
        /// Bore.
        bore: Length = Bore, AboveZero;
        /// Rated pressure.
        rated: Pressure = Rated, AboveZero;
    }
}

impl ItemDescription for CheckValve {
    fn number_table(&self) -> Vec<Number> {
        self.own_numbers()
    }

    fn contradictions(&self) -> Vec<Contradiction> {
        let one = Contradiction::unless(
            self.closing <= self.cracking,
            || "it closes above its cracking pressure".to_owned(),
            "a valve closes at a lower pressure than it opens at",
        );
        one.into_iter().collect()
    }

    fn size(&self, units: UnitSystem) -> String {
        Measure::Pressure.short_text(self.cracking.si(), units)
    }

    fn choice(&self, units: UnitSystem) -> String {
        let opens = Measure::Pressure.short_number(self.cracking.si(), units);
        format!("opens {opens}, shuts {}", Measure::Pressure.short_text(self.closing.si(), units))
    }

    fn rated(&self) -> Option<Pressure> {
        Some(self.rated)
    }

    fn smallest_bore(&self) -> Option<Length> {
        Some(self.bore)
    }

    fn flow_factor_bore(&self) -> Option<Length> {
        Some(self.bore)
    }
}

impl ElementDescription for CheckValve {
    fn bore(&self) -> Length {
        self.bore
    }

    fn passage(&self) -> Passage {
        Passage::CheckValve { cracking: self.cracking, k: self.k, bore: self.bore }
    }

    fn schematic_words(&self, _: UnitSystem) -> String {
        String::new()
    }
}

impl DescribedElement for CheckValve {
    const FACTS: ElementFacts = ElementFacts {
        kind: KindFacts {
            words: "check valve",
            list_order: 90,
            spares: Spares::OneInTwenty,
            told_by_catch: None,
        },
        short_name: "Check valve",
        meters: false,
        place_along_feed: PlaceAlongFeed::CheckValve,
        symbol,
    };
}

/// The ball leaves its seat against the spring.
fn symbol() -> ElementSymbol {
    // In millimetres of the schematic from where liquid comes in, half of whose length is a unit.
    const HALF: f64 = 3.0;
    let line = |points: &[(f64, f64)]| {
        let points: Vec<(f64, f64)> = points.iter().map(|(x, y)| (x / HALF - 1.0, y / HALF)).collect();
        Mark::line(&points)
    };
    ElementSymbol {
        marks: vec![
            line(&[(0.0, 0.0), (0.6, 0.0)]),
            line(&[(2.6, -1.7), (0.6, 0.0), (2.6, 1.7)]),
            Mark::circle((2.2 / HALF - 1.0, 0.0), 0.95 / HALF, Filling::Paper),
            line(&[(3.15, 0.0), (3.5, 0.8), (4.0, -0.8), (4.5, 0.8), (5.0, -0.8), (5.3, 0.0), (6.0, 0.0)]),
        ],
        schematic_length: 2.0 * HALF,
        legend: "check valve with spring, opens downwards",
        to_scale: true,
    }
}
