//! A plug that closes a port.

use super::description::{
    Body, Contradiction, DescribedPart, ItemDescription, KindFacts, Mirrored, PartDescription, PartFacts,
    Placing, Plumbing, Spares,
};
use super::numbers::{Number, item};
use super::ports::{PartPort, PortName, Ways};
use super::symbol::{Beside, Filling, Mark, PartSymbol, SchematicForm, TagFrom, TagPlacing};
use crate::plan::part::Port;
use crate::quantities::{Length, Measure, Pressure, UnitSystem};

item! {
    /// Closes a port.
    BlankingPlug {
        /// Rated pressure.
        rated: Pressure = Rated, AboveZero;
    }
}

/// Half its size both ways, metres.
const HALF: f64 = 0.03;

impl ItemDescription for BlankingPlug {
    fn number_table(&self) -> Vec<Number> {
        self.own_numbers()
    }

    fn contradictions(&self) -> Vec<Contradiction> {
        Vec::new()
    }

    fn size(&self, _: UnitSystem) -> String {
        String::new()
    }

    fn choice(&self, units: UnitSystem) -> String {
        format!("rated {}", Measure::Pressure.short_text(self.rated.si(), units))
    }

    fn rated(&self) -> Option<Pressure> {
        Some(self.rated)
    }

    fn smallest_bore(&self) -> Option<Length> {
        None
    }

    fn flow_factor_bore(&self) -> Option<Length> {
        None
    }
}

impl PartDescription for BlankingPlug {
    /// A stem is where the part is.
    fn port_places(&self) -> Vec<PartPort> {
        vec![PartPort::outwards(Port::In, PortName::Inlet, 0.0, 0.0)]
    }

    fn body(&self) -> Body {
        Body { half_length: HALF, half_depth: HALF }
    }

    fn bore(&self) -> Option<Length> {
        None
    }

    fn ways(&self) -> Ways {
        Ways::default()
    }

    fn read_at(&self) -> Option<Port> {
        None
    }

    fn symbol(&self) -> PartSymbol {
        let body = [(-1.0, 0.5), (1.0, 0.5), (1.0, -0.5), (-1.0, -0.5)];
        PartSymbol::unit(HALF, 3.5, vec![Mark::area(&body, Filling::Ink)])
    }

    fn mirrored(&self) -> Mirrored {
        Mirrored::Alike
    }

    fn mirrored_port(&self, port: Port) -> Port {
        port
    }
}

impl DescribedPart for BlankingPlug {
    const FACTS: PartFacts = PartFacts {
        kind: KindFacts { words: "blanking plug", list_order: 50, spares: Spares::One, told_by_catch: None },
        plumbing: Plumbing::OnPort,
        tag_letter: 'B',
        placing: Placing {
            label: "Place blanking plug",
            key: "B",
            about: "Click the port it closes; a row on that outlet takes the next one",
            icon: "blanking-plug",
        },
        reading: None,
        can_be_shut: false,
        closes_ports: true,
        schematic: SchematicForm::Stroke,
        tag: TagPlacing { sides: &[Beside::Below, Beside::Right, Beside::Left], from: TagFrom::Near },
    };
}
