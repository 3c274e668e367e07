//! A strainer on the bar's inlet.

use super::description::{
    Body, Contradiction, DescribedPart, ItemDescription, KindFacts, Mirrored, PartDescription, PartFacts,
    Placing, Plumbing, Spares,
};
use super::numbers::{Field, Number, item};
use super::ports::{PartPort, Passage, PortName, Ways};
use super::symbol::{Beside, Filling, Mark, PartSymbol, SchematicForm, TagFrom, TagPlacing};
use crate::plan::part::Port;
use crate::quantities::{Length, Measure, Pressure, UnitSystem};

item! {
    /// Strainer on the bar's inlet.
    InletFilter {
        /// Bore of its ports.
        bore: Length = Bore, AboveZero;
        /// Loss coefficient, clean.
        k: f64 = Loss, Coefficient;
        /// Mesh opening.
        opening: Length = Opening, AboveZero;
        /// Rated pressure.
        rated: Pressure = Rated, AboveZero;
    }
}

/// Half its size both ways, metres.
const HALF: f64 = 0.10;

impl ItemDescription for InletFilter {
    fn number_table(&self) -> Vec<Number> {
        self.own_numbers()
    }

    fn contradictions(&self) -> Vec<Contradiction> {
        Vec::new()
    }

    fn size(&self, units: UnitSystem) -> String {
        let bore = Measure::Bore.short_text(self.bore.si(), units);
        format!("{bore}, {}", Measure::Opening.short_text(self.opening.si(), units))
    }

    fn choice(&self, units: UnitSystem) -> String {
        self.size(units)
    }

    fn rated(&self) -> Option<Pressure> {
        Some(self.rated)
    }

    fn smallest_bore(&self) -> Option<Length> {
        None
    }

    fn flow_factor_bore(&self) -> Option<Length> {
        Some(self.bore)
    }
}

impl PartDescription for InletFilter {
    fn port_places(&self) -> Vec<PartPort> {
        vec![
            PartPort::outwards(Port::In, PortName::Inlet, 0.0, HALF),
            PartPort::outwards(Port::Out, PortName::Outlet, 0.0, -HALF),
        ]
    }

    fn body(&self) -> Body {
        Body { half_length: HALF, half_depth: HALF }
    }

    fn bore(&self) -> Option<Length> {
        Some(self.bore)
    }

    fn ways(&self) -> Ways {
        Ways::through(Passage::Loss { k: self.k, bore: self.bore })
    }

    fn read_at(&self) -> Option<Port> {
        None
    }

    fn symbol(&self) -> PartSymbol {
        let diamond = [(0.0, 1.0), (1.0, 0.0), (0.0, -1.0), (-1.0, 0.0)];
        let mesh = [(-1.0, 0.0), (1.0, 0.0)];
        PartSymbol::unit(HALF, 10.0, vec![Mark::area(&diamond, Filling::Paper), Mark::dashed(&mesh)])
    }

    fn mirrored(&self) -> Mirrored {
        Mirrored::Alike
    }

    fn mirrored_port(&self, port: Port) -> Port {
        port
    }
}

impl DescribedPart for InletFilter {
    const FACTS: PartFacts = PartFacts {
        kind: KindFacts {
            words: "inlet filter",
            list_order: 0,
            spares: Spares::None,
            told_by_catch: Some(Field::Loss),
        },
        plumbing: Plumbing::InLine,
        tag_letter: 'F',
        placing: Placing {
            label: "Place inlet filter",
            key: "I",
            about: "Click where it goes",
            icon: "inlet-filter",
        },
        reading: None,
        can_be_shut: false,
        closes_ports: false,
        schematic: SchematicForm::Symbol { legend: "filter", legend_shut: None },
        tag: TagPlacing {
            sides: &[Beside::Right, Beside::Left, Beside::Above, Beside::Below],
            from: TagFrom::Afar,
        },
    };
}
