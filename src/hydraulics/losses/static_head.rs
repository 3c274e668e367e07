//! Pressure of a standing column: `p = ρ g h`, and the total pressure `p + ρ g z` that losses are taken from.
//!
//! Source: hydrostatics. Holds for a liquid of constant density that fills the line without a break; where liquid falls
//! through a line that it does not fill, the suction of the column below is not there.

/// Standard gravity, m/s² (ISO 80000-3).
pub const STANDARD_GRAVITY_M_S2: f64 = 9.80665;

/// Pressure in Pa under a column of a height in m.
///
/// ```
/// // 3 m of liquid of 1280 kg/m3: 0.377 bar (by hand)
/// let p = equirow::hydraulics::losses::static_head::pressure(1280.0, 9.80665, 3.0);
/// assert!((p - 37_657.5).abs() < 0.1);
/// ```
pub fn pressure(density_kg_m3: f64, gravity_m_s2: f64, height_m: f64) -> f64 {
    density_kg_m3 * gravity_m_s2 * height_m
}
