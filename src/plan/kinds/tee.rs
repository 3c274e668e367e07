//! A tee: three hose ends, a straight run and a branch.
//!
//! Its loss is split over its three legs: half of `k_through` on each end of the run and the rest of `k_branch` on the
//! branch, meeting in its middle. The whole way between two ports then has the catalogue's coefficient, whichever way
//! liquid flows.

use super::description::{
    Body, Contradiction, DescribedPart, ItemDescription, KindFacts, Mirrored, PartDescription, PartFacts,
    Placing, Plumbing, Spares,
};
use super::numbers::{Number, item};
use super::ports::{PartPort, Passage, PortName, Way, WayEnd, WayName, Ways};
use super::symbol::{
    Beside, Drawn, Filling, HeldSize, Mark, PartSymbol, SchematicForm, TagFrom, TagPlacing, Weight,
};
use crate::plan::part::Port;
use crate::quantities::{Length, Measure, Pressure, UnitSystem, plain};

item! {
    /// Three hose ends: a straight run and a branch.
    Tee {
        /// Bore of its ports.
        bore: Length = Bore, AboveZero;
        /// Loss coefficient straight through.
        k_through: f64 = Loss, Coefficient;
        /// Loss coefficient between the branch and either end of the run; at least half of `k_through`.
        k_branch: f64 = BranchLoss, Coefficient;
        /// Rated pressure.
        rated: Pressure = Rated, AboveZero;
    }
}

/// From its middle to each port, metres.
const ARM: f64 = 0.06;

/// Radius of its dot, metres.
const DOT: f64 = 0.035;

impl ItemDescription for Tee {
    fn number_table(&self) -> Vec<Number> {
        self.own_numbers()
    }

    fn contradictions(&self) -> Vec<Contradiction> {
        let least = self.k_through / 2.0;
        let one = Contradiction::unless(
            self.k_branch.is_nan() || self.k_branch >= least,
            || {
                format!(
                    "branch loss coefficient is {}, less than half of the loss coefficient",
                    plain(self.k_branch)
                )
            },
            format!("give a number from {} to 1000000", plain(least)),
        );
        one.into_iter().collect()
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

    /// It has two coefficients.
    fn flow_factor_bore(&self) -> Option<Length> {
        None
    }
}

impl PartDescription for Tee {
    fn port_places(&self) -> Vec<PartPort> {
        vec![
            PartPort::outwards(Port::In, PortName::RunStart, -ARM, 0.0),
            PartPort::outwards(Port::Out, PortName::RunEnd, ARM, 0.0),
            PartPort::outwards(Port::Branch, PortName::Branch, 0.0, ARM),
        ]
    }

    fn body(&self) -> Body {
        Body { half_length: ARM, half_depth: ARM }
    }

    fn bore(&self) -> Option<Length> {
        Some(self.bore)
    }

    fn ways(&self) -> Ways {
        let Self { bore, k_through, k_branch, .. } = *self;
        let leg = |port: Port, passage| Way {
            from: WayEnd::Port(port),
            to: WayEnd::Inside,
            name: WayName::Port(port),
            passage,
        };
        Ways {
            inside: Some("centre"),
            ways: vec![
                leg(Port::In, Passage::HalfRun { k_through, bore }),
                leg(Port::Out, Passage::HalfRun { k_through, bore }),
                leg(Port::Branch, Passage::Branch { k_through, k_branch, bore }),
            ],
            joined: Vec::new(),
        }
    }

    fn read_at(&self) -> Option<Port> {
        None
    }

    /// Its arms reach the ports at true scale, so that hoses meet it at every zoom.
    fn symbol(&self) -> PartSymbol {
        let arm = |port: PartPort| {
            Mark::weighted(&[(0.0, 0.0), (port.offset.x, port.offset.y)], Weight::Pipe(0.02))
                .drawn(Drawn::TrueToScale)
        };
        let mut marks: Vec<Mark> = self.port_places().into_iter().map(arm).collect();
        marks.push(Mark::circle((0.0, 0.0), DOT, Filling::Ink));
        let held = HeldSize { half: DOT, least: 3.6 };
        PartSymbol { marks, unit: 1.0, along: held, across: held }
    }

    fn mirrored(&self) -> Mirrored {
        Mirrored::Alike
    }

    fn mirrored_port(&self, port: Port) -> Port {
        match port {
            Port::In => Port::Out,
            Port::Out => Port::In,
            Port::Branch | Port::Gauge | Port::Outlet(_) => port,
        }
    }
}

impl DescribedPart for Tee {
    const FACTS: PartFacts = PartFacts {
        kind: KindFacts { words: "tee", list_order: 10, spares: Spares::None, told_by_catch: None },
        plumbing: Plumbing::InLine,
        tag_letter: 'T',
        placing: Placing { label: "Place tee", key: "T", about: "Click where it goes", icon: "tee" },
        reading: None,
        can_be_shut: false,
        closes_ports: false,
        schematic: SchematicForm::Dot,
        tag: TagPlacing {
            sides: &[Beside::Above, Beside::Right, Beside::Left, Beside::Below],
            from: TagFrom::Nearer,
        },
    };
}
