//! Check valve: nothing below its cracking pressure, never backwards, then `Δp = p_crack + K ρ v²/2`.
//!
//! Source: the schema of the neutral network; a spring-loaded valve idealised (any pneumatics or hydraulics handbook).
//! The lower pressure at which a real valve closes again matters for draining, not for a steady flow, and is not here.

use super::{Loss, fitting};

/// Loss in Pa at a flow in m³/s. At zero and backward flow the valve is shut: the cracking pressure is returned, which
/// is the most it holds back there.
///
/// ```
/// use equirow::hydraulics::losses::check_valve;
/// // 15 kPa, K 8 on 5 mm, 1280 kg/m3, 8.3e-6 m3/s: v = 0.42272 m/s, 15000 + 8 * 1280 * v^2/2 = 15914.9 Pa (by hand)
/// let loss = check_valve::loss(15_000.0, 8.0, 0.005, 1280.0, 8.3e-6);
/// assert!((loss.pressure_pa - 15_914.9).abs() < 0.1);
/// assert_eq!(check_valve::loss(15_000.0, 8.0, 0.005, 1280.0, -1.0).pressure_pa, 15_000.0);
/// ```
pub fn loss(crack_pressure_pa: f64, k: f64, bore_m: f64, density_kg_m3: f64, flow_m3s: f64) -> Loss {
    let open = fitting::loss(k, bore_m, density_kg_m3, flow_m3s.max(0.0));
    Loss { pressure_pa: crack_pressure_pa + open.pressure_pa, ..open }
}
