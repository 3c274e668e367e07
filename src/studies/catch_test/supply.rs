//! What sets the flow in a test, and what its scatter makes of pressures.

use crate::hydraulics::KeptSolver;
use crate::hydraulics::variation::{Derivatives, Parameter, SupplyQuantity};
use crate::plan::{Control, PartId};
use crate::quantities::Pressure;
use crate::studies::Studied;

/// What the supply is asked for.
pub(super) const fn supply_quantity(of: &Studied<'_>) -> SupplyQuantity {
    match of.project.supply.control {
        Control::Metered { .. } => SupplyQuantity::MeteredFlow,
        Control::Held { .. } => SupplyQuantity::Pressure,
        Control::Uncontrolled => SupplyQuantity::CurvePressure,
    }
}

/// How pressures answer to what the supply gives.
pub(super) struct PressuresBySupply {
    by: Option<Derivatives>,
    /// One standard deviation of what the supply is asked for, in its stored unit.
    sd: f64,
}

impl PressuresBySupply {
    /// Of a routing whose supply scatters by such a part of what it is asked for.
    pub(super) fn new(of: &Studied<'_>, supply_sd: f64) -> Self {
        let mut kept = KeptSolver::default();
        let mut prepared = kept.prepare(of.project, of.routing);
        let parameter = Parameter::Supply(supply_quantity(of));
        let asked = prepared.value(parameter, &of.point).unwrap_or(0.0);
        let found = prepared.derivatives(&of.point, &[parameter]).ok();
        Self { by: found.and_then(|mut all| all.pop()), sd: asked * supply_sd }
    }

    /// Standard deviation of the pressure at a part, to first order (JCGM 100:2008, 5.1.2); zero where it has none.
    pub(super) fn sd(&self, part: PartId) -> Pressure {
        let by = self.by.as_ref().and_then(|by| by.part(part));
        let slope = by.map_or(0.0, |by| f64::midpoint(by.falling(), by.rising()));
        Pressure::from_si((slope * self.sd).abs())
    }
}
