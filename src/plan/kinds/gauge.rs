//! A pressure gauge.

use super::description::{
    Body, Contradiction, DescribedPart, ItemDescription, KindFacts, Mirrored, PartDescription, PartFacts,
    Placing, Plumbing, Reading, Spares,
};
use super::numbers::{Number, item};
use super::ports::{PartPort, PortName, Ways};
use super::symbol::{Beside, Filling, Mark, PartSymbol, SchematicForm, TagFrom, TagPlacing};
use crate::plan::part::Port;
use crate::quantities::{Length, Measure, Pressure, UnitSystem};

item! {
    /// Pressure gauge.
    Gauge {
        /// Full scale.
        full_scale: Pressure = FullScale, AboveZero;
    }
}

/// Half its size both ways, metres.
const HALF: f64 = 0.06;

impl ItemDescription for Gauge {
    fn number_table(&self) -> Vec<Number> {
        self.own_numbers()
    }

    fn contradictions(&self) -> Vec<Contradiction> {
        Vec::new()
    }

    fn size(&self, units: UnitSystem) -> String {
        Measure::Pressure.short_text(self.full_scale.si(), units)
    }

    fn choice(&self, units: UnitSystem) -> String {
        format!("0 to {}", self.size(units))
    }

    fn rated(&self) -> Option<Pressure> {
        Some(self.full_scale)
    }

    fn smallest_bore(&self) -> Option<Length> {
        None
    }

    fn flow_factor_bore(&self) -> Option<Length> {
        None
    }
}

impl PartDescription for Gauge {
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
        let (tip, wing) = (0.62, 0.2);
        let head = [(tip, tip), (tip - wing * 2.2, wing * 1.4), (wing * 1.4, tip - wing * 2.2)];
        PartSymbol::unit(
            HALF,
            8.0,
            vec![
                Mark::circle((0.0, 0.0), 1.0, Filling::Paper),
                Mark::line(&[(-0.42, -0.42), (0.52, 0.52)]),
                Mark::area(&head, Filling::Ink),
            ],
        )
    }

    fn mirrored(&self) -> Mirrored {
        Mirrored::Alike
    }

    fn mirrored_port(&self, port: Port) -> Port {
        port
    }
}

impl DescribedPart for Gauge {
    const FACTS: PartFacts = PartFacts {
        kind: KindFacts { words: "gauge", list_order: 40, spares: Spares::None, told_by_catch: None },
        plumbing: Plumbing::OnPort,
        tag_letter: 'G',
        placing: Placing {
            label: "Place gauge",
            key: "G",
            about: "Click the port it is screwed onto, or a free place",
            icon: "gauge",
        },
        reading: Some(Reading::Pressure),
        can_be_shut: false,
        closes_ports: false,
        schematic: SchematicForm::Symbol { legend: "gauge", legend_shut: None },
        tag: TagPlacing { sides: &[Beside::Right, Beside::Left, Beside::Above], from: TagFrom::Afar },
    };
}
