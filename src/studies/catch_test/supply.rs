//! What sets the flow in a test.

use crate::hydraulics::variation::SupplyQuantity;
use crate::plan::Control;
use crate::studies::Studied;

/// What the supply is asked for.
pub(super) const fn supply_quantity(of: &Studied<'_>) -> SupplyQuantity {
    match of.project.supply.control {
        Control::Metered { .. } => SupplyQuantity::MeteredFlow,
        Control::Held { .. } => SupplyQuantity::Pressure,
        Control::Uncontrolled => SupplyQuantity::CurvePressure,
    }
}
