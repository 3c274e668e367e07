//! Hoses, delivery tubes and metering tubes: what is cut from a length.

use super::description::{Contradiction, ItemDescription, KindFacts, Spares};
use super::hose_stock::HoseStock;
use super::numbers::{Field, Number};
use super::symbol::{ElementSymbol, Mark};
use super::{StockItem, StockKind};
use crate::quantities::{Length, Measure, Pressure, UnitSystem};

impl ItemDescription for StockItem {
    fn number_table(&self) -> Vec<Number> {
        self.dimensions().own_numbers()
    }

    fn contradictions(&self) -> Vec<Contradiction> {
        self.dimensions().contradictions()
    }

    fn size(&self, units: UnitSystem) -> String {
        let bore = self.dimensions().bore.si();
        match self {
            Self::Hose(_) | Self::Tube(_) => Measure::Bore.short_text(bore, units),
            // Bores that meter read alike below each other.
            Self::MeteringTube(_) => Measure::Bore.fine_text(bore, units),
        }
    }

    fn choice(&self, units: UnitSystem) -> String {
        self.size(units)
    }

    fn rated(&self) -> Option<Pressure> {
        Some(self.dimensions().rated)
    }

    fn smallest_bore(&self) -> Option<Length> {
        match self {
            Self::Hose(_) => None,
            Self::Tube(stock) | Self::MeteringTube(stock) => Some(stock.bore),
        }
    }

    fn flow_factor_bore(&self) -> Option<Length> {
        None
    }
}

/// What it says of itself as an entry.
impl std::ops::Deref for StockItem {
    type Target = dyn ItemDescription;

    fn deref(&self) -> &Self::Target {
        self
    }
}

impl StockItem {
    /// Its dimensions.
    pub const fn dimensions(&self) -> &HoseStock {
        match self {
            Self::Hose(stock) | Self::Tube(stock) | Self::MeteringTube(stock) => stock,
        }
    }
}

impl StockKind {
    pub(super) const fn common(self) -> &'static KindFacts {
        match self {
            Self::Hose => {
                &KindFacts { words: "hose", list_order: 60, spares: Spares::None, told_by_catch: None }
            }
            Self::Tube => {
                &KindFacts { words: "tube", list_order: 70, spares: Spares::None, told_by_catch: None }
            }
            Self::MeteringTube => &KindFacts {
                words: "metering tube",
                list_order: 110,
                spares: Spares::None,
                told_by_catch: Some(Field::Bore),
            },
        }
    }

    /// The symbol of one that stands in a row feed as a piece of its own.
    pub(super) fn feed_symbol(self) -> Option<ElementSymbol> {
        match self {
            // They are the line that the others stand in.
            Self::Hose | Self::Tube => None,
            Self::MeteringTube => Some(metering_tube()),
        }
    }
}

/// A restriction that lasts over a length.
fn metering_tube() -> ElementSymbol {
    // In millimetres of the schematic, half of whose length is a unit.
    const HALF: f64 = 3.0;
    let side = |side: f64| {
        let points = [(-2.4, 1.6), (-1.6, 0.7), (1.6, 0.7), (2.4, 1.6)];
        let points: Vec<(f64, f64)> = points.iter().map(|(x, y)| (x / HALF, y * side / HALF)).collect();
        Mark::line(&points)
    };
    ElementSymbol {
        marks: vec![Mark::line(&[(-1.0, 0.0), (1.0, 0.0)]), side(1.0), side(-1.0)],
        schematic_length: 2.0 * HALF,
        legend: "metering tube",
        to_scale: true,
    }
}
