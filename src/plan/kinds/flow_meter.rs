//! A flow meter in a hose: shows the flow of all that is behind it.

use super::description::{
    Body, Contradiction, DescribedPart, ItemDescription, KindFacts, Mirrored, PartDescription, PartFacts,
    Placing, Plumbing, Reading, Spares,
};
use super::numbers::{Number, item};
use super::ports::{PartPort, Passage, PortName, Ways};
use super::symbol::{Beside, Filling, Mark, PartSymbol, SchematicForm, TagFrom, TagPlacing};
use crate::plan::part::Port;
use crate::quantities::{Flow, Length, Measure, Pressure, UnitSystem};

item! {
    /// Shows the flow through it.
    FlowMeter {
        /// Bore of its ports.
        bore: Length = Bore, AboveZero;
        /// Loss coefficient.
        k: f64 = Loss, Coefficient;
        /// Least flow that it shows right.
        least: Flow = LeastFlow, AboveZero;
        /// Greatest flow that it shows right; above the least.
        greatest: Flow = GreatestFlow, AboveZero;
        /// Rated pressure.
        rated: Pressure = Rated, AboveZero;
    }
}

/// Half its size both ways, metres.
const HALF: f64 = 0.07;

impl ItemDescription for FlowMeter {
    fn number_table(&self) -> Vec<Number> {
        self.own_numbers()
    }

    fn contradictions(&self) -> Vec<Contradiction> {
        let one = Contradiction::unless(
            self.greatest > self.least,
            || "its greatest flow is not above its least flow".to_owned(),
            "check the two flows; a data sheet gives them as its range",
        );
        one.into_iter().collect()
    }

    fn size(&self, units: UnitSystem) -> String {
        Measure::Bore.short_text(self.bore.si(), units)
    }

    fn choice(&self, units: UnitSystem) -> String {
        let least = Measure::TotalFlow.short_number(self.least.si(), units);
        let greatest = Measure::TotalFlow.short_text(self.greatest.si(), units);
        format!("{}, {least} to {greatest}", self.size(units))
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

impl PartDescription for FlowMeter {
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
        // The two arcs of a restriction in a circle: what it measures by.
        let arc = |side: f64| {
            let points: Vec<(f64, f64)> = (-3..=3)
                .map(|step| {
                    let angle = f64::from(step) * 0.25;
                    (0.8 * angle.sin(), side * (0.95 - 0.7 * angle.cos()))
                })
                .collect();
            Mark::line(&points)
        };
        PartSymbol::unit(HALF, 8.0, vec![Mark::circle((0.0, 0.0), 1.0, Filling::Paper), arc(1.0), arc(-1.0)])
    }

    fn mirrored(&self) -> Mirrored {
        Mirrored::TurnedRound
    }

    fn mirrored_port(&self, port: Port) -> Port {
        port
    }
}

impl DescribedPart for FlowMeter {
    const FACTS: PartFacts = PartFacts {
        kind: KindFacts { words: "flow meter", list_order: 5, spares: Spares::None, told_by_catch: None },
        plumbing: Plumbing::InLine,
        tag_letter: 'Q',
        placing: Placing {
            label: "Place flow meter",
            key: "Q",
            about: "Click where it goes",
            icon: "flow-meter",
        },
        reading: Some(Reading::Flow),
        can_be_shut: false,
        closes_ports: false,
        schematic: SchematicForm::Symbol { legend: "flow meter", legend_shut: None },
        tag: TagPlacing {
            sides: &[Beside::Above, Beside::Below, Beside::Right, Beside::Left],
            from: TagFrom::Afar,
        },
    };
}
