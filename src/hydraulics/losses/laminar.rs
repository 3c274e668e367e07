//! Laminar friction in a round pipe (Hagen-Poiseuille): `Δp = 128 μ L q/(π D⁴)`, that is `f = 64/Re`.
//!
//! Source: Hagen 1839, Poiseuille 1840; in every handbook. Exact for developed flow of a Newtonian liquid; used for
//! Re <= 2000. The extra loss while the profile develops is not here but in the entry loss of a
//! [metering tube](super::metering_tube).

use super::Loss;
use std::f64::consts::PI;

/// Laminar resistance `128 μ L/(π D⁴)`, Pa s/m³, from viscosity in Pa s, length and bore in m.
pub fn resistance(viscosity_pa_s: f64, length_m: f64, bore_m: f64) -> f64 {
    let square = bore_m * bore_m;
    128.0 * viscosity_pa_s * length_m / (PI * square * square)
}

/// Loss in Pa at a flow in m³/s.
///
/// Worked value: water at 20 °C, 1.0 mm by 1 m, 14.703 mL/min -> 10 kPa (computed from the formula).
///
/// ```
/// use equirow::hydraulics::losses::laminar;
/// let loss = laminar::loss(1.0016e-3, 1.0, 0.001, 14.703e-6 / 60.0);
/// assert!((loss.pressure_pa / 10_000.0 - 1.0).abs() < 1e-3);
/// ```
pub fn loss(viscosity_pa_s: f64, length_m: f64, bore_m: f64, flow_m3s: f64) -> Loss {
    let slope_pa_s_m3 = resistance(viscosity_pa_s, length_m, bore_m);
    Loss { pressure_pa: slope_pa_s_m3 * flow_m3s, slope_pa_s_m3 }
}
