//! Pump and control: where the liquid comes from and what limits it.

use serde::{Deserialize, Serialize};

use crate::geometry::Point3;
use crate::quantities::{Flow, Length, Pressure};

/// The pump side. The supply hose itself is a run of the routing that starts at the supply.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
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
    /// Rated pressure of the weakest part that is in no catalogue entry (hose tails, clamps); above 0.
    pub weakest_rated: Pressure,
}

/// How the supply is controlled.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub enum Control {
    /// A rate controller holds the sum of the targets of the rows that are fed and open, until the pump's
    /// outlet reaches `limit`; from there on the pressure is held and the shortfall reported.
    Metered {
        /// Pressure limit at the pump's outlet; above 0.
        limit: Pressure,
    },
    /// The pressure at the pump's outlet is held.
    Held {
        /// That pressure; above 0.
        pressure: Pressure,
    },
}

impl Control {
    /// The most there is at the pump's outlet.
    pub const fn highest(&self) -> Pressure {
        match self {
            Self::Metered { limit } => *limit,
            Self::Held { pressure } => *pressure,
        }
    }
}
