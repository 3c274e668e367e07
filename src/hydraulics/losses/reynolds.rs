//! Reynolds number of a full round pipe: `Re = ρ v D/μ = 4 ρ q/(π μ D)`, with the mean velocity.
//!
//! Source: O. Reynolds, Phil. Trans. R. Soc. 174 (1883) 935; in every handbook. Holds for every full round bore.

use super::super::network::Fluid;
use std::f64::consts::PI;

/// Flow at and below which a straight pipe is laminar here (schema of the neutral network).
pub const LAMINAR_END: f64 = 2000.0;
/// Flow at and above which a straight pipe is turbulent here (schema of the neutral network).
pub const TURBULENT_START: f64 = 4000.0;

/// Reynolds number (dimensionless, not negative) for each m³/s through a bore in m.
pub fn per_flow(fluid: &Fluid, bore_m: f64) -> f64 {
    4.0 * fluid.density_kg_m3 / (PI * fluid.viscosity_pa_s * bore_m)
}

/// Reynolds number (dimensionless, not negative) at a flow in m³/s through a bore in m.
///
/// Worked value: 14.703 mL/min of water at 20 °C through 1.0 mm gives 311 (computed, `fluids.Reynolds`).
///
/// ```
/// use equirow::hydraulics::{losses::reynolds, network::Fluid};
/// let water = Fluid { density_kg_m3: 998.2, viscosity_pa_s: 1.0016e-3 };
/// let number = reynolds::number(&water, 0.001, 14.703e-6 / 60.0);
/// assert!((number - 311.0).abs() < 0.5);
/// ```
pub fn number(fluid: &Fluid, bore_m: f64, flow_m3s: f64) -> f64 {
    per_flow(fluid, bore_m) * flow_m3s.abs()
}
