//! Between laminar and turbulent: a smooth curve that never falls.
//!
//! Source: the schema of the neutral network. A cubic Hermite of `y = ln(f Re²)` in `x = ln Re` that matches value
//! and slope of the laminar law at its upper end and of any turbulent curve at its lower end. This is a convention, not a
//! measurement: real tubes scatter by some 30 % here, and a design should stay out of it.

use std::f64::consts::LN_2;

/// The curve between two Reynolds numbers that are a factor of two apart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Transition {
    start_x: f64,
    start_y: f64,
    start_slope: f64,
    end_y: f64,
    end_slope: f64,
}

/// `G = f Re²`, and how it rises.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rise {
    /// `f Re²`.
    pub g: f64,
    /// `dG/dRe`.
    pub g_by_reynolds: f64,
    /// How far through the transition, 0 to 1, even in `ln Re`.
    pub progress: f64,
}

impl Transition {
    /// From a Reynolds number with its `f Re²` and `d ln(f Re²)/d ln Re` to the same two at twice that Reynolds number.
    pub fn between((start, start_g, start_slope): (f64, f64, f64), (end_g, end_slope): (f64, f64)) -> Self {
        Self { start_x: start.ln(), start_y: start_g.ln(), start_slope, end_y: end_g.ln(), end_slope }
    }

    /// `f Re²` at a Reynolds number inside the range.
    ///
    /// ```
    /// use equirow::hydraulics::losses::{colebrook, transition::Transition};
    /// let end = colebrook::at(0.0, 4000.0);
    /// let curve = Transition::between((2000.0, 64.0 * 2000.0, 1.0), (end.g(), end.log_slope()));
    /// assert!((curve.at(2000.0).g / 128_000.0 - 1.0).abs() < 1e-12); // 64 Re
    /// assert!((curve.at(4000.0).g / end.g() - 1.0).abs() < 1e-12);
    /// ```
    pub fn at(&self, reynolds: f64) -> Rise {
        let t = (reynolds.ln() - self.start_x) / LN_2;
        let m0 = self.start_slope * LN_2;
        let m1 = self.end_slope * LN_2;
        let rise = self.end_y - self.start_y;
        let c2 = 3.0 * rise - 2.0 * m0 - m1;
        let c3 = m0 + m1 - 2.0 * rise;
        let y = self.start_y + t * (m0 + t * (c2 + t * c3));
        let slope = (m0 + t * (2.0 * c2 + t * 3.0 * c3)) / LN_2;
        let g = y.exp();
        Rise { g, g_by_reynolds: g * slope / reynolds, progress: t }
    }
}
