//! Metering orifice: `q = Cd A √(2Δp/ρ)`, turned round to `Δp = ρ/2 (q/(Cd A))² sign q`.
//!
//! Source: Torricelli/Bernoulli with a discharge coefficient; any handbook. `Cd` is a value to calibrate: 0.60 to 0.65
//! for a sharp edge, 0.7 to 0.8 for a thick disc (common practice); it falls below Re of about 1000. The viscous part
//! at very small flow is in [`creeping`](super::creeping).

use super::{Loss, fitting::quadratic};
use std::f64::consts::PI;

/// Reynolds number of the bore from which the discharge coefficient of a small orifice is a constant; below it falls off
/// (common practice, no source; general handbooks give 1,000 to 10,000, depending on the edge).
pub const CONSTANT_FROM: f64 = 1000.0;

/// `Δp/(q|q|)` in Pa s²/m⁶.
pub fn coefficient(cd: f64, diameter_m: f64, density_kg_m3: f64) -> f64 {
    let effective = cd * 0.25 * PI * diameter_m * diameter_m;
    0.5 * density_kg_m3 / (effective * effective)
}

/// Loss in Pa at a flow in m³/s.
///
/// ```
/// // 1.0 mm, Cd 0.62, water of 1000 kg/m3 at 1 bar: 0.413 L/min (computed from the formula)
/// let loss = equirow::hydraulics::losses::orifice::loss(0.62, 0.001, 1000.0, 0.4132e-3 / 60.0);
/// assert!((loss.pressure_pa / 1e5 - 1.0).abs() < 1e-3);
/// ```
pub fn loss(cd: f64, diameter_m: f64, density_kg_m3: f64, flow_m3s: f64) -> Loss {
    quadratic(coefficient(cd, diameter_m, density_kg_m3), flow_m3s)
}
