//! Loss of a fitting by its loss coefficient: `Δp = K ρ v|v|/2`, with the velocity in the fitting's own bore.
//!
//! Source: any handbook (for instance Idelchik, Handbook of Hydraulic Resistance). Turbulent flow; `K` rises at small
//! Reynolds numbers, which is not modelled. A barb or push-in fitting is narrower than its hose: give the fitting's
//! bore, or carry `K` over with [`k_at_bore`]. A filter or valve of known Kv becomes a `K` with [`k_from_kv`].

use super::Loss;
use std::f64::consts::PI;

/// `Δp/(q|q|)` in Pa s²/m⁶ of a loss coefficient at a bore in m and a density in kg/m³.
pub fn coefficient(k: f64, bore_m: f64, density_kg_m3: f64) -> f64 {
    let area = 0.25 * PI * bore_m * bore_m;
    0.5 * k * density_kg_m3 / (area * area)
}

/// Loss in Pa at a flow in m³/s.
///
/// ```
/// // `fluids` documentation: dP_from_K(K=10, rho=1000, V=3) = 45000 Pa
/// let area = 0.25 * std::f64::consts::PI * 0.02 * 0.02;
/// let loss = equirow::hydraulics::losses::fitting::loss(10.0, 0.02, 1000.0, 3.0 * area);
/// assert!((loss.pressure_pa - 45_000.0).abs() < 1e-8);
/// ```
pub fn loss(k: f64, bore_m: f64, density_kg_m3: f64, flow_m3s: f64) -> Loss {
    quadratic(coefficient(k, bore_m, density_kg_m3), flow_m3s)
}

/// Loss in Pa that goes with the square of the flow in m³/s, from its coefficient in Pa s²/m⁶.
#[inline]
pub fn quadratic(coefficient: f64, flow_m3s: f64) -> Loss {
    let rise = coefficient * flow_m3s.abs();
    Loss { pressure_pa: rise * flow_m3s, slope_pa_s_m3: 2.0 * rise }
}

/// Loss coefficient at a bore in m of a part with a flow factor Kv (m³/h of water of 1000 kg/m³ at 1 bar, IEC 60534).
///
/// ```
/// // `fluids` documentation: Kv_to_K(2.312, 0.015) = 15.153374600399898, with the rounded constant of IEC 60534
/// // (1.6e9); by the definition itself it is 0.07 % less
/// let k = equirow::hydraulics::losses::fitting::k_from_kv(2.312, 0.015);
/// assert!((k / 15.153374600399898 - 1.0).abs() < 1e-3);
/// ```
pub fn k_from_kv(kv_m3_h: f64, bore_m: f64) -> f64 {
    let area = 0.25 * PI * bore_m * bore_m;
    let velocity = kv_m3_h / 3600.0 / area;
    1e5 / (0.5 * 1000.0 * velocity * velocity)
}

/// The flow factor Kv, m³/h, of a loss coefficient at a bore in m: the way back from [`k_from_kv`]; none without a loss.
///
/// ```
/// use equirow::hydraulics::losses::fitting::{k_from_kv, kv_from_k};
/// assert!((kv_from_k(k_from_kv(2.312, 0.015), 0.015).unwrap_or(0.0) - 2.312).abs() < 1e-12); // by definition
/// assert_eq!(kv_from_k(0.0, 0.015), None);
/// ```
pub fn kv_from_k(k: f64, bore_m: f64) -> Option<f64> {
    // K falls with the square of Kv.
    (k > 0.0).then(|| (k_from_kv(1.0, bore_m) / k).sqrt())
}

/// Loss coefficient on the velocity of another bore: `K₂ = K₁ (D₂/D₁)⁴`, bores in m.
///
/// ```
/// // a barb of 10 mm with K = 1 counts sixteenfold on a hose of 20 mm (exact)
/// assert_eq!(equirow::hydraulics::losses::fitting::k_at_bore(1.0, 0.010, 0.020), 16.0);
/// ```
pub fn k_at_bore(k: f64, bore_m: f64, other_bore_m: f64) -> f64 {
    k * (other_bore_m / bore_m).powi(4)
}
