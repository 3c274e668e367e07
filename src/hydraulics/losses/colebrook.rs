//! Turbulent friction (Colebrook 1939): `1/√f = -2 log₁₀(e/3.7 + 2.51/(Re √f))`.
//!
//! Source: C. F. Colebrook, J. Inst. Civ. Eng. 11 (1939) 133. Range: Re >= 4000, relative roughness `e` 0 to 0.05
//! (taken up to 0.5 here, as the neutral format allows). `f` is the Darcy factor.
//!
//! The equation is implicit in `Re` but explicit in `s = Re √f`: a [`CurvePoint`] on the curve costs one logarithm. The
//! solver walks along the curve in `s`; [`at`] finds the point of a given Re to full precision.

const TWO_OVER_LN_10: f64 = 2.0 * std::f64::consts::LOG10_E;

/// A point on the curve of one roughness.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CurvePoint {
    /// `Re √f`, the parameter along the curve.
    pub s: f64,
    /// Reynolds number.
    pub reynolds: f64,
    /// `dRe/ds`, always positive.
    pub reynolds_by_s: f64,
}

impl CurvePoint {
    /// The point at `s = Re √f > 0`; `a` is the relative roughness divided by 3.7.
    #[inline]
    pub fn new(a: f64, s: f64) -> Self {
        let b = 2.51 / s;
        let sum = a + b;
        let x = -TWO_OVER_LN_10 * sum.ln();
        Self { s, reynolds: s * x, reynolds_by_s: x + TWO_OVER_LN_10 * b / sum }
    }

    /// `G = f Re²`.
    #[inline]
    pub fn g(&self) -> f64 {
        self.s * self.s
    }

    /// `dG/dRe`.
    #[inline]
    pub fn g_by_reynolds(&self) -> f64 {
        2.0 * self.s / self.reynolds_by_s
    }

    /// `d ln G/d ln Re`, between 1.7 and 2.
    pub fn log_slope(&self) -> f64 {
        2.0 * self.reynolds / (self.s * self.reynolds_by_s)
    }

    /// Moves along the curve towards a Reynolds number by one Newton step, which is nearly exact since Re is nearly
    /// proportional to `s`.
    #[inline]
    #[must_use]
    pub fn towards(&self, a: f64, reynolds: f64) -> Self {
        let s = self.s + (reynolds - self.reynolds) / self.reynolds_by_s;
        Self::new(a, s.max(0.2 * self.s))
    }

    /// A point near a Reynolds number >= 1000, within about 0.1 %.
    pub fn near(a: f64, reynolds: f64) -> Self {
        let x = -TWO_OVER_LN_10 * (a + 2.51 * 7.0 / reynolds).ln();
        Self::new(a, reynolds / x).towards(a, reynolds)
    }
}

/// The point at a Reynolds number (>= 1000) to full precision; `a` is the relative roughness divided by 3.7.
///
/// ```
/// // `fluids` 1.3.1 documentation: Colebrook(1e5, 1e-4) = 0.018513866077471
/// let point = equirow::hydraulics::losses::colebrook::at(1e-4 / 3.7, 1e5);
/// assert!((point.g() / 1e10 / 0.018513866077471 - 1.0).abs() < 1e-12);
/// ```
pub fn at(a: f64, reynolds: f64) -> CurvePoint {
    let mut point = CurvePoint::near(a, reynolds);
    for _ in 0..8 {
        let error = (reynolds - point.reynolds).abs();
        if error <= 1e-15 * reynolds {
            break;
        }
        point = point.towards(a, reynolds);
        if error <= 1e-9 * reynolds {
            break;
        }
    }
    point
}
