//! A tube wound on a coil: more laminar friction, later transition.
//!
//! Laminar: C. M. White, Proc. R. Soc. A 123 (1929) 645: `f_coil/f_straight = 1/(1 - (1 - (11.6/De)^0.45)^(1/0.45))`
//! for `De = Re √(d/D) > 11.6` (range 11.6 < De < 2000), 1 below. Transition: H. Ito, J. Basic Eng. 81 (1959) 123:
//! `Re_crit = 20000 (d/D)^0.32` for `D/d` 15 to 860. `d` is the tube's bore, `D` the coil's mean diameter. Turbulent
//! friction is taken as that of a straight tube, which is a few per cent low for tight coils.

/// Ratio of coiled to straight laminar friction at a Dean number, and `d ln ratio/d ln De`.
///
/// ```
/// use equirow::hydraulics::losses::coil;
/// assert_eq!(coil::friction_ratio(5.0).0, 1.0);
/// // `fluids` helical_laminar_fd_White(250, 0.02, 0.1) = 0.4063281817830202 is the factor at Re 250, d/D 0.2
/// let ratio = coil::friction_ratio(250.0 * 0.2_f64.sqrt()).0;
/// assert!((64.0 / 250.0 * ratio / 0.4063281817830202 - 1.0).abs() < 1e-12);
/// ```
pub fn friction_ratio(dean: f64) -> (f64, f64) {
    if dean <= 11.6 {
        return (1.0, 0.0);
    }
    let x = (11.6 / dean).powf(0.45);
    let rest = 1.0 - x;
    let power = rest.powf(1.0 / 0.45);
    let ratio = 1.0 / (1.0 - power);
    // d power/d ln De = (1/0.45) rest^(1/0.45 - 1) * 0.45 x = x power/rest
    (ratio, ratio * x * power / rest)
}

/// Reynolds number up to which a coiled tube stays laminar; never below that of a straight one.
///
/// ```
/// // `fluids` helical_transition_Re_Ito(1, 7.) = 10729.972844697186
/// let end = equirow::hydraulics::losses::coil::laminar_end(1.0, 7.0);
/// assert!((end / 10729.972844697186 - 1.0).abs() < 1e-12);
/// ```
pub fn laminar_end(bore_m: f64, coil_diameter_m: f64) -> f64 {
    (20_000.0 * (bore_m / coil_diameter_m).powf(0.32)).max(super::reynolds::LAMINAR_END)
}
