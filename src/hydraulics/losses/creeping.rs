//! Viscous part of an orifice at small Reynolds number: `Δp = 24 μ q/d³ (1 + 16 t/(3π d))`.
//!
//! Source: R. A. Sampson, Phil. Trans. R. Soc. A 182 (1891) 449 for a hole in a thin plate, `Δp = 24 μ q/d³`; with the
//! thickness term after Z. Dagan, S. Weinbaum, R. Pfeffer, J. Fluid Mech. 115 (1982) 505 (Poiseuille flow in the hole
//! added to it, within 1 %). Range: creeping flow; added to the inertial part it is an interpolation above Re of
//! about 10. A thick hole (`t >> d`) gives back Hagen-Poiseuille.

use super::Loss;
use std::f64::consts::PI;

/// Resistance, Pa s/m³, from viscosity in Pa s, diameter and plate thickness in m.
pub fn resistance(viscosity_pa_s: f64, diameter_m: f64, thickness_m: f64) -> f64 {
    24.0 * viscosity_pa_s / diameter_m.powi(3) * (1.0 + 16.0 * thickness_m / (3.0 * PI * diameter_m))
}

/// Loss in Pa at a flow in m³/s.
///
/// ```
/// use equirow::hydraulics::losses::{creeping, laminar};
/// // 1 mm hole in a thin plate, 0.1 Pa s, 1e-8 m3/s: 24 * 0.1 * 1e-8 / 1e-9 = 24 Pa (exact)
/// assert!((creeping::loss(0.1, 0.001, 0.0, 1e-8).pressure_pa - 24.0).abs() < 1e-12);
/// // what the thickness adds is Hagen-Poiseuille (exact)
/// let added = creeping::resistance(0.1, 0.001, 0.5) - creeping::resistance(0.1, 0.001, 0.0);
/// assert!((added / laminar::resistance(0.1, 0.5, 0.001) - 1.0).abs() < 1e-12);
/// ```
pub fn loss(viscosity_pa_s: f64, diameter_m: f64, thickness_m: f64, flow_m3s: f64) -> Loss {
    let slope_pa_s_m3 = resistance(viscosity_pa_s, diameter_m, thickness_m);
    Loss { pressure_pa: slope_pa_s_m3 * flow_m3s, slope_pa_s_m3 }
}
