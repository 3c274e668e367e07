//! A valve that opens or shuts what is behind it.

use super::description::{
    Body, Contradiction, DescribedPart, ItemDescription, KindFacts, Mirrored, PartDescription, PartFacts,
    Placing, Plumbing, Spares,
};
use super::numbers::{Number, item};
use super::ports::{PartPort, Passage, PortName, Ways};
use super::symbol::{Beside, Drawn, Filling, Mark, PartSymbol, SchematicForm, TagFrom, TagPlacing, Weight};
use crate::plan::part::Port;
use crate::quantities::{Length, Measure, Pressure, UnitSystem};

item! {
    /// Opens or shuts what is behind it.
    SectionValve {
        /// Bore, open.
        bore: Length = Bore, AboveZero;
        /// Loss coefficient, open.
        k: f64 = Loss, Coefficient;
        /// Rated pressure.
        rated: Pressure = Rated, AboveZero;
    }
}

/// Half its size both ways, metres.
const HALF: f64 = 0.06;

impl ItemDescription for SectionValve {
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
        Some(self.rated)
    }

    fn smallest_bore(&self) -> Option<Length> {
        None
    }

    fn flow_factor_bore(&self) -> Option<Length> {
        Some(self.bore)
    }
}

impl PartDescription for SectionValve {
    fn port_places(&self) -> Vec<PartPort> {
        vec![
            PartPort::outwards(Port::In, PortName::Inlet, -HALF, 0.0),
            PartPort::outwards(Port::Out, PortName::Outlet, HALF, 0.0),
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
        let half = |x: f64| Mark::area(&[(x, 0.62), (0.0, 0.0), (x, -0.62)], Filling::InkWhereShut);
        let bar = Mark::weighted(&[(0.0, 0.95), (0.0, -0.95)], Weight::Strong).drawn(Drawn::WhileShut);
        PartSymbol::unit(HALF, 8.5, vec![half(-1.0), half(1.0), bar])
    }

    fn mirrored(&self) -> Mirrored {
        Mirrored::TurnedRound
    }

    fn mirrored_port(&self, port: Port) -> Port {
        port
    }
}

impl DescribedPart for SectionValve {
    const FACTS: PartFacts = PartFacts {
        kind: KindFacts { words: "section valve", list_order: 20, spares: Spares::None, told_by_catch: None },
        plumbing: Plumbing::InLine,
        tag_letter: 'V',
        placing: Placing {
            label: "Place section valve",
            key: "V",
            about: "Click where it goes",
            icon: "section-valve",
        },
        reading: None,
        can_be_shut: true,
        closes_ports: false,
        schematic: SchematicForm::Symbol {
            legend: "shut-off valve, open",
            legend_shut: Some("shut-off valve, shut"),
        },
        tag: TagPlacing {
            sides: &[Beside::Above, Beside::Below, Beside::Right, Beside::Left],
            from: TagFrom::Afar,
        },
    };
}
