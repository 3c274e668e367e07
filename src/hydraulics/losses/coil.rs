//! A tube wound on a coil: more friction, later transition.
//!
//! Laminar: C. M. White, Proc. R. Soc. A 123 (1929) 645: `f_coil/f_straight = 1/(1 - (1 - (11.6/De)^0.45)^(1/0.45))`
//! for `De = Re √(d/D) > 11.6` (range 11.6 < De < 2000), 1 below. Transition: H. Ito, J. Basic Eng. 81 (1959) 123:
//! `Re_crit = 20000 (d/D)^0.32` for `D/d` 15 to 860. Turbulent: the same paper, for smooth tubes and
//! `0.034 < Re (d/D)² < 300`: `f √(D/d) = 0.029 + 0.304 (Re (d/D)²)^-0.25`, and that of a straight tube below. `d` is the
//! tube's bore, `D` the coil's mean diameter.
//!
//! Of the turbulent law its ratio to Ito's straight tube (Blasius, `0.3164 Re^-0.25`) is taken, `0.9608 + 0.0917 (Re
//! (d/D)²)^0.25`, and multiplied with the law of straight tubes in use, so that a wide coil becomes a straight tube and
//! roughness counts. Where Ito's two laws meet at an angle (`Re (d/D)²` 0.034) a parabola rounds the corner, up to 16 times
//! as far; it lies 1 % above at the most. Beyond 300 the same law is used: that of Ito for there, `(Re (d/D)²)^0.05`, lies
//! 1 % lower at 300 and 8 % at 2,000, which no coil of a row reaches.

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

/// Blasius' factor of straight tubes, and Ito's two numbers for coiled ones.
const STRAIGHT: f64 = 0.3164;
const COILED: (f64, f64) = (0.304, 0.029);

/// Ratio of coiled to straight turbulent friction at a Reynolds number and a curvature `d/D`, and `d ln ratio/d ln Re`.
///
/// ```
/// use equirow::hydraulics::losses::coil;
/// // Ito's own formula over Blasius', at Re 20000, d/D 0.04 (Re (d/D)² is 32): 0.03136325102371292 / 0.3164 Re^-0.25
/// let ratio = coil::turbulent_ratio(20_000.0, 0.04).0;
/// let blasius = 0.3164 * 20_000.0_f64.powf(-0.25);
/// assert!((ratio * blasius / 0.03136325102371292 - 1.0).abs() < 1e-12);
/// // another author, `fluids` 1.3.1 helical_turbulent_fd_Mori_Nakayama(20000, 0.04, 1) = 0.03168: 1 % apart
/// assert!((ratio * blasius / 0.03168 - 1.0).abs() < 0.015);
/// ```
pub fn turbulent_ratio(reynolds: f64, curvature: f64) -> (f64, f64) {
    let rise = COILED.1 / STRAIGHT;
    // Where Ito's straight line in x passes 1.
    let meets = (1.0 - COILED.0 / STRAIGHT) / rise;
    let x = (reynolds * curvature * curvature).powf(0.25);
    let (ratio, by_x) = if x >= 2.0 * meets {
        (1.0 + rise * (x - meets), rise)
    } else {
        (1.0 + rise * x * x / (4.0 * meets), rise * x / (2.0 * meets))
    };
    (ratio, 0.25 * by_x * x / ratio)
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
