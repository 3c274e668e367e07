//! Pump and control: where the liquid comes from and what limits it.

use serde::{Deserialize, Serialize};

use crate::geometry::Point3;
use crate::quantities::{Flow, Length, Pressure};

/// The pump side. The supply hose itself is a run of the routing that starts at the supply.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Supply {
    /// What is held constant.
    pub control: Control,
    /// The pump's outlet, where the supply hose starts.
    pub pump: Point3,
    /// Height of the liquid's surface in the tank above the ground, full; what stands on the check valves with
    /// the pump off.
    pub tank_surface: Length,
    /// Rated pressure of the pump; above 0.
    pub pump_rated: Pressure,
    /// Largest flow the pump delivers, if known.
    pub pump_capacity: Option<Flow>,
    /// What the pump gives at which flow: flows rising from zero, pressures falling, straight lines between; beyond
    /// the last flow it gives nothing more. Empty if it is not known, or at least two points.
    pub pump_curve: Vec<CurvePoint>,
    /// What the weakest of all that has no rating in the catalogue bears (reducers, adapters, entries without one) at the
    /// warmest it gets, if anyone said; above 0.
    pub weakest_rated: Option<Pressure>,
    /// The relief valve that guards the bar.
    pub relief_valve: ReliefValve,
}

/// The relief valve at the pump, which opens before anything on the bar gives way.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub enum ReliefValve {
    /// Nobody said whether there is one.
    NotSaid,
    /// There is none.
    Absent,
    /// It opens at a gauge pressure; above 0.
    OpensAt(Pressure),
}

/// By this share a relief valve may open later than it is set (common practice, no source).
pub const RELIEF_TOLERANCE: f64 = 0.1;

impl ReliefValve {
    /// The gauge pressure that it opens at, where there is one.
    pub const fn opens_at(self) -> Option<Pressure> {
        match self {
            Self::OpensAt(pressure) => Some(pressure),
            Self::NotSaid | Self::Absent => None,
        }
    }

    /// The gauge pressure at which it is open at the latest, its tolerance counted.
    pub fn opens_by(self) -> Option<Pressure> {
        self.opens_at().map(|opens| opens * (1.0 + RELIEF_TOLERANCE))
    }
}

/// How the supply is controlled.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub enum Control {
    /// A rate controller holds rate times speed times the strips of the rows that are connected to an open supply, until
    /// the pump's outlet reaches `limit`; from there on the pressure is held and the shortfall reported.
    Metered {
        /// Pressure limit at the pump's outlet; above 0.
        limit: Pressure,
    },
    /// The pressure at the pump's outlet is held.
    Held {
        /// That pressure; above 0.
        pressure: Pressure,
    },
    /// Nothing is controlled: the pump runs on its curve, which has to be there.
    Uncontrolled,
}

/// A point of a pump's curve.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CurvePoint {
    /// What it delivers.
    pub flow: Flow,
    /// Gauge pressure at its outlet.
    pub pressure: Pressure,
}

impl Control {
    /// The pressure that is held, or the limit to which flow is metered.
    pub const fn pressure(&self) -> Option<Pressure> {
        match self {
            Self::Metered { limit } => Some(*limit),
            Self::Held { pressure } => Some(*pressure),
            Self::Uncontrolled => None,
        }
    }
}

/// Where a new project has the pump's outlet, until someone says where it is.
pub const PUMP_UNLESS_PLACED: Point3 = Point3::new(0.0, 2.0, 0.6);

impl Supply {
    /// Someone said where the pump's outlet is: it is elsewhere than in a new project.
    pub fn pump_is_placed(&self) -> bool {
        self.pump != PUMP_UNLESS_PLACED
    }

    /// The most that the pump gives: what the control allows, or what the pump gives against a shut valve if that is less.
    pub fn highest_given(&self) -> Pressure {
        let curve = self.pump_curve.first().map(|point| point.pressure);
        let known = [self.control.pressure(), curve].into_iter().flatten();
        known.reduce(Pressure::min).unwrap_or(Pressure::ZERO)
    }

    /// The most there is at the pump's outlet: what the pump gives, or what the relief valve opens at if that is less.
    pub fn highest_pressure(&self) -> Pressure {
        let given = self.highest_given();
        self.relief_valve.opens_at().map_or(given, |opens| given.min(opens))
    }

    /// The most the pump delivers, if that is known: its capacity, or the end of its curve if that is less.
    pub fn most_flow(&self) -> Option<Flow> {
        let end = self.pump_curve.last().map(|point| point.flow);
        [self.pump_capacity, end].into_iter().flatten().reduce(Flow::min)
    }

    /// A controller makes its flow follow the ground speed.
    pub const fn follows_speed(&self) -> bool {
        matches!(self.control, Control::Metered { .. })
    }

    /// The most the pump delivers against a gauge pressure at its outlet, if that is known.
    pub fn flow_against(&self, pressure: Pressure) -> Option<Flow> {
        let on_curve = self.pump_curve.windows(2).find(|pair| pair[1].pressure <= pressure).map(|pair| {
            let (from, to) = (pair[0], pair[1]);
            let part = (from.pressure - pressure) / (from.pressure - to.pressure);
            (from.flow + (to.flow - from.flow) * part).max(Flow::ZERO)
        });
        [self.most_flow(), on_curve].into_iter().flatten().reduce(Flow::min)
    }
}
