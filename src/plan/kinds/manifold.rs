//! A manifold: a body with an inlet, a far end and outlets for rows.
//!
//! Its body is a chain of short pipes from outlet to outlet: its inlet, with its loss, comes in at the first outlet or in
//! the middle of the chain, its far end leaves at the last outlet. The gauge port is of the body where the inlet comes in.

use serde::{Deserialize, Serialize};

use super::description::{
    Body, Contradiction, DescribedPart, ItemDescription, KindFacts, Mirrored, PartDescription, PartFacts,
    Placing, Plumbing, Spares,
};
use super::numbers::{AsNumber, Field, ItemError, Number, item};
use super::ports::{PartPort, Passage, PortName, Way, WayEnd, WayName, Ways};
use super::symbol::{
    Beside, Drawn, Filling, HeldSize, Mark, MarkShape, PartSymbol, SchematicForm, TagFrom, TagPlacing, Weight,
};
use crate::plan::part::Port;
use crate::plan::words::counted;
use crate::quantities::{Length, Measure, Pressure, UnitSystem};

item! {
    /// A body with an inlet, a far end and outlets for rows.
    Manifold {
        /// How many outlets; 1 to 64.
        outlets: u16 = Outlets, ByItself;
        /// From outlet to outlet along the body.
        spacing: Length = Spacing, AboveZero;
        /// Bore of the body.
        bore: Length = Bore, AboveZero;
        /// Loss coefficient of its inlet.
        k: f64 = Loss, Coefficient;
        /// Where the inlet is.
        inlet: ManifoldInlet = Inlet, ByItself;
        /// Rated pressure.
        rated: Pressure = Rated, AboveZero;
    }
}

/// Where a manifold's inlet is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum ManifoldInlet {
    /// At the left end, the far end at the right (before turning).
    End,
    /// In the middle of its front side.
    Middle,
}

impl AsNumber for ManifoldInlet {
    fn number(self) -> Option<f64> {
        Some(match self {
            Self::End => 0.0,
            Self::Middle => 1.0,
        })
    }

    fn from_number(field: Field, number: Option<f64>) -> Result<Self, ItemError> {
        match f64::from_number(field, number)? {
            0.0 => Ok(Self::End),
            1.0 => Ok(Self::Middle),
            _ => Err(ItemError::OutOfRange(field)),
        }
    }
}

/// Half the depth of the body in the plan view, metres.
const HALF_DEPTH: f64 = 0.05;

impl Manifold {
    fn half_length(&self) -> f64 {
        self.spacing.si() * f64::from(self.outlets) / 2.0
    }
}

impl ItemDescription for Manifold {
    fn number_table(&self) -> Vec<Number> {
        self.own_numbers()
    }

    fn contradictions(&self) -> Vec<Contradiction> {
        let outlets = self.outlets;
        let one = Contradiction::unless(
            (1..=64).contains(&outlets),
            || format!("it has {}", counted(usize::from(outlets), "outlet")),
            "give 1 to 64",
        );
        one.into_iter().collect()
    }

    fn size(&self, units: UnitSystem) -> String {
        format!(
            "{}, {} bore",
            counted(usize::from(self.outlets), "outlet"),
            Measure::Bore.short_text(self.bore.si(), units)
        )
    }

    fn choice(&self, units: UnitSystem) -> String {
        let inlet = match self.inlet {
            ManifoldInlet::End => "end inlet",
            ManifoldInlet::Middle => "middle inlet",
        };
        format!(
            "{}, {inlet}, {} bore",
            counted(usize::from(self.outlets), "outlet"),
            Measure::Bore.short_text(self.bore.si(), units)
        )
    }

    fn rated(&self) -> Option<Pressure> {
        Some(self.rated)
    }

    fn smallest_bore(&self) -> Option<Length> {
        None
    }

    /// Its coefficient is of its inlet alone.
    fn flow_factor_bore(&self) -> Option<Length> {
        None
    }
}

impl PartDescription for Manifold {
    fn port_places(&self) -> Vec<PartPort> {
        let half = self.half_length();
        let inlet = match self.inlet {
            ManifoldInlet::Middle => PartPort::outwards(Port::In, PortName::Inlet, 0.0, HALF_DEPTH),
            ManifoldInlet::End => PartPort::outwards(Port::In, PortName::Inlet, -half, 0.0),
        };
        let gauge = PartPort::outwards(Port::Gauge, PortName::Gauge, half * 0.6, HALF_DEPTH);
        let mut ports = vec![
            inlet,
            PartPort::outwards(Port::Out, PortName::FarEnd, half, 0.0).plugged(),
            gauge.facing(0.0, 1.0).plugged(),
        ];
        ports.extend((1..=self.outlets).map(|number| {
            let x = self.spacing.si() * (f64::from(number) - 0.5) - half;
            PartPort::outwards(Port::Outlet(number), PortName::Outlet, x, -HALF_DEPTH).facing(0.0, -1.0)
        }));
        ports
    }

    fn body(&self) -> Body {
        Body { half_length: self.half_length(), half_depth: HALF_DEPTH }
    }

    fn bore(&self) -> Option<Length> {
        Some(self.bore)
    }

    fn ways(&self) -> Ways {
        let Self { outlets, spacing, bore, k, inlet, .. } = *self;
        let mut all = Ways::default();
        if outlets == 0 {
            return all;
        }
        let tap = |number: u16| WayEnd::Port(Port::Outlet(number));
        // The outlets on the left of the middle.
        let left = outlets / 2;
        // The inlet meets the body at its first outlet, at its middle outlet, or between the two middle ones.
        let between = inlet == ManifoldInlet::Middle && outlets.is_multiple_of(2);
        let meets = match inlet {
            ManifoldInlet::End => tap(1),
            ManifoldInlet::Middle if between => WayEnd::Inside,
            ManifoldInlet::Middle => tap(left + 1),
        };
        all.inside = between.then_some("body");
        let body = |over| Passage::Body { spacing, over, bore };
        for number in 1..outlets {
            let (from, to) = (tap(number), tap(number + 1));
            if between && number == left {
                let name = WayName::BodyLeft(number);
                all.ways.push(Way { from, to: meets, name, passage: body(2.0) });
                let name = WayName::BodyRight(number);
                all.ways.push(Way { from: meets, to, name, passage: body(2.0) });
            } else {
                all.ways.push(Way { from, to, name: WayName::Body(number), passage: body(1.0) });
            }
        }
        let from = WayEnd::Port(Port::In);
        let passage = Passage::Loss { k, bore };
        all.ways.push(Way { from, to: meets, name: WayName::Port(Port::In), passage });
        all.joined = vec![(Port::Gauge, meets), (Port::Out, tap(outlets))];
        all
    }

    fn read_at(&self) -> Option<Port> {
        Some(Port::Gauge)
    }

    /// True along its body, so that tubes leave it at their outlets; its taps stand out of it towards the rows.
    fn symbol(&self) -> PartSymbol {
        let half = self.half_length();
        let taps = self.port_places().into_iter().filter(|port| matches!(port.port, Port::Outlet(_)));
        let mut marks: Vec<Mark> = taps
            .map(|tap| {
                let (x, y) = (tap.offset.x, tap.offset.y);
                Mark::weighted(&[(x, y * 0.8), (x, y)], Weight::Pipe(0.012))
            })
            .collect();
        let (top, bottom) = (HALF_DEPTH, -HALF_DEPTH * 0.82);
        let form = MarkShape::RoundedBox { half, top, bottom, radius: 0.018, filling: Filling::Paper };
        marks.push(Mark { form, drawn: Drawn::Always });
        PartSymbol {
            marks,
            unit: 1.0,
            along: HeldSize { half, least: 0.0 },
            across: HeldSize { half: HALF_DEPTH, least: 8.5 },
        }
    }

    /// With its inlet at the end it does not look the same.
    fn mirrored(&self) -> Mirrored {
        match self.inlet {
            ManifoldInlet::End => Mirrored::TurnedRound,
            ManifoldInlet::Middle => Mirrored::Alike,
        }
    }

    fn mirrored_port(&self, port: Port) -> Port {
        match (self.inlet, port) {
            (ManifoldInlet::Middle, Port::Outlet(number)) => {
                Port::Outlet((self.outlets + 1).saturating_sub(number))
            }
            (ManifoldInlet::Middle | ManifoldInlet::End, port) => port,
        }
    }
}

impl DescribedPart for Manifold {
    const FACTS: PartFacts = PartFacts {
        kind: KindFacts { words: "manifold", list_order: 30, spares: Spares::None, told_by_catch: None },
        plumbing: Plumbing::ForRows,
        tag_letter: 'M',
        placing: Placing {
            label: "Place manifold",
            key: "M",
            about: "Click where it goes",
            icon: "manifold",
        },
        reading: None,
        can_be_shut: false,
        closes_ports: false,
        schematic: SchematicForm::Header,
        tag: TagPlacing {
            sides: &[Beside::Right, Beside::Left, Beside::Above, Beside::Below],
            from: TagFrom::Afar,
        },
    };
}
