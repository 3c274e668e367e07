//! Friction at every Reynolds number in one expression (Churchill 1977).
//!
//! `f = 8 [(8/Re)¹² + (A+B)^-1.5]^(1/12)`, `A = [2.457 ln(1/((7/Re)^0.9 + 0.27 e))]¹⁶`, `B = (37530/Re)¹⁶`.
//! Source: S. W. Churchill, Chem. Eng. 84 (24) 1977, 91. Range: all Re; between Re 2000 and 4000 it is an
//! interpolation. `f` is the Darcy factor, `e` the relative roughness.

/// `G = f Re²` and `dG/dRe` at a Reynolds number > 0.
///
/// ```
/// // `fluids` 1.3.1 documentation: Churchill_1977(1e5, 1e-4) = 0.018462624566280075
/// let (g, _) = equirow::hydraulics::losses::churchill::g(1e5, 1e-4);
/// assert!((g / 1e10 / 0.018462624566280075 - 1.0).abs() < 1e-12);
/// ```
pub fn g(reynolds: f64, relative_roughness: f64) -> (f64, f64) {
    // Below this, f = 64/Re to the last digit, and the twelfth powers would overflow further down.
    if reynolds < 100.0 {
        return (64.0 * reynolds, 64.0);
    }
    let u = (7.0 / reynolds).powf(0.9);
    let sum = u + 0.27 * relative_roughness;
    let theta = -2.457 * sum.ln();
    let theta_by_re = 2.457 * 0.9 * u / (sum * reynolds);
    let a = theta.powi(16);
    let a_by_re = 16.0 * theta.powi(15) * theta_by_re;
    let b = (37530.0 / reynolds).powi(16);
    let b_by_re = -16.0 * b / reynolds;
    let laminar = (8.0 / reynolds).powi(12);
    let turbulent = (a + b).powf(-1.5);
    let bracket = laminar + turbulent;
    let bracket_by_re = -12.0 * laminar / reynolds - 1.5 * turbulent * (a_by_re + b_by_re) / (a + b);
    let f = 8.0 * bracket.powf(1.0 / 12.0);
    let f_by_re = f / 12.0 * bracket_by_re / bracket;
    (f * reynolds * reynolds, 2.0 * f * reynolds + f_by_re * reynolds * reynolds)
}
