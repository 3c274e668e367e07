//! A flow indicator of a row feed: shows at a glance whether the row flows.

use super::description::{
    Contradiction, DescribedElement, ElementDescription, ElementFacts, ItemDescription, KindFacts,
    PlaceAlongFeed, Spares,
};
use super::numbers::{Number, item};
use super::ports::Passage;
use super::symbol::{ElementSymbol, Filling, Mark};
use crate::quantities::{Flow, Length, Measure, Pressure, UnitSystem};

item! {
    /// Shows whether its row flows.
    FlowIndicator {
        /// Loss coefficient at its bore.
        k: f64 = Loss, Coefficient;
        /// Bore.
        bore: Length = Bore, AboveZero;
        /// Least flow that it shows.
        shows_from: Flow = ShownFlow, AboveZero;
        /// Rated pressure.
        rated: Pressure = Rated, AboveZero;
    }
}

impl ItemDescription for FlowIndicator {
    fn number_table(&self) -> Vec<Number> {
        self.own_numbers()
    }

    fn contradictions(&self) -> Vec<Contradiction> {
        Vec::new()
    }

    fn size(&self, units: UnitSystem) -> String {
        format!("from {}", Measure::RowFlow.short_text(self.shows_from.si(), units))
    }

    fn choice(&self, units: UnitSystem) -> String {
        format!("{}, {} bore", self.size(units), Measure::Bore.short_text(self.bore.si(), units))
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

impl ElementDescription for FlowIndicator {
    fn bore(&self) -> Length {
        self.bore
    }

    fn passage(&self) -> Passage {
        Passage::Loss { k: self.k, bore: self.bore }
    }

    fn schematic_words(&self, units: UnitSystem) -> String {
        format!("≥ {}", Measure::RowFlow.short_number(self.shows_from.si(), units))
    }
}

impl DescribedElement for FlowIndicator {
    const FACTS: ElementFacts = ElementFacts {
        kind: KindFacts {
            words: "flow indicator",
            list_order: 85,
            spares: Spares::OneInTwenty,
            told_by_catch: None,
        },
        short_name: "Flow indicator",
        meters: false,
        place_along_feed: PlaceAlongFeed::BeforeCheckValve,
        symbol,
    };
}

fn symbol() -> ElementSymbol {
    ElementSymbol {
        marks: vec![
            Mark::line(&[(-1.0, 0.0), (-0.8, 0.0)]),
            Mark::circle((0.0, 0.0), 0.8, Filling::Paper),
            Mark::line(&[(0.8, 0.0), (1.0, 0.0)]),
        ],
        schematic_length: 4.0,
        legend: "flow indicator, with the least flow it shows",
        to_scale: true,
    }
}
