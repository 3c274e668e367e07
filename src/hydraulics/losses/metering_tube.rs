//! Entry, development and outlet losses of a metering tube as one `K`: 2.25 laminar, 1.5 turbulent.
//!
//! Laminar: 1.25 for the developing profile (R. K. Shah, A. L. London, Laminar Flow Forced Convection in Ducts, 1978)
//! and 1.0 for the velocity head left behind at the outlet. Turbulent, sharp inlet: 0.5 and 1.0 (any handbook). Over
//! the transition of the tube's friction, `K` goes from one to the other by a smooth step in `ln Re`; the loss
//! `K ρ v²/2` still rises with flow, since `K` falls by less than the square of the flow gains. The range of Re 2000 to
//! 4000 is not predictable within some 30 %. The friction itself is in [`friction`](super::friction).

/// Loss coefficient in laminar flow.
pub const K_LAMINAR: f64 = 2.25;
/// Loss coefficient in turbulent flow.
pub const K_TURBULENT: f64 = 1.5;

/// Loss coefficient, and its derivative by the progress, at a progress of 0 to 1 through the transition.
///
/// ```
/// use equirow::hydraulics::losses::metering_tube::k;
/// assert_eq!(k(0.0).0, 2.25);
/// assert_eq!(k(1.0).0, 1.5);
/// assert_eq!(k(0.5).0, 1.875); // half way, by symmetry
/// ```
pub fn k(progress: f64) -> (f64, f64) {
    let t = progress.clamp(0.0, 1.0);
    let step = t * t * (3.0 - 2.0 * t);
    let fall = K_LAMINAR - K_TURBULENT;
    (K_LAMINAR - fall * step, -fall * 6.0 * t * (1.0 - t))
}
