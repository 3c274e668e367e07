//! The friction of one pipe at any flow, with everything that does not change with flow worked out beforehand.
//!
//! The friction loss is `μ² L G/(2 ρ D³)` with `G(Re) = f Re²`; `G` comes from [`laminar`](super::laminar),
//! [`transition`](super::transition) and [`colebrook`], or from [`churchill`]; for a coiled tube [`coil`] has the laminar
//! law and what it adds to the turbulent one. A metering tube adds its own losses, which change over the same transition. Range: every Reynolds number;
//! the loss rises strictly and its slope is continuous. Start reading at [`Friction::loss`]; [`Friction::tangent`] is
//! the same curve for the solver, which only wants a tangent near the flow it asks for.

use super::{
    Loss, churchill, coil, colebrook, fitting, laminar, metering_tube, reynolds, transition::Transition,
};
use crate::hydraulics::network::{Fluid, FrictionLaw};
use std::f64::consts::LN_2;

/// Friction of one pipe or metering tube filled with one liquid.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Friction {
    reynolds_per_flow: f64,
    /// Laminar resistance, Pa s/m³.
    resistance: f64,
    /// Pa for each unit of `G`.
    pa_per_g: f64,
    /// Relative roughness divided by 3.7.
    a: f64,
    laminar_end: f64,
    transition: Transition,
    law: Law,
    /// Losses of a metering tube, Pa s²/m⁶; zero for a plain pipe.
    quadratic_laminar: f64,
    quadratic_turbulent: f64,
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Law {
    Standard,
    Churchill {
        relative_roughness: f64,
    },
    /// With `d/D`.
    Coiled {
        curvature: f64,
    },
}

/// Where on Colebrook's curve a pipe was evaluated last; belongs to one pipe and is carried from solve to solve.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Place(Option<colebrook::Point>);

impl Friction {
    /// Friction of a straight pipe; lengths in m.
    pub fn new(fluid: &Fluid, law: FrictionLaw, length_m: f64, bore_m: f64, roughness_m: f64) -> Self {
        let a = roughness_m / bore_m / 3.7;
        Self {
            reynolds_per_flow: reynolds::per_flow(fluid, bore_m),
            resistance: laminar::resistance(fluid.viscosity_pa_s, length_m, bore_m),
            pa_per_g: fluid.viscosity_pa_s * fluid.viscosity_pa_s * length_m
                / (2.0 * fluid.density_kg_m3 * bore_m * bore_m * bore_m),
            a,
            laminar_end: reynolds::LAMINAR_END,
            transition: Transition::straight(a),
            law: match law {
                FrictionLaw::LaminarColebrook => Law::Standard,
                FrictionLaw::Churchill => Law::Churchill { relative_roughness: roughness_m / bore_m },
            },
            quadratic_laminar: 0.0,
            quadratic_turbulent: 0.0,
        }
    }

    /// A metering tube with its entry and outlet losses, straight or wound on a coil of a mean diameter in m. A coiled
    /// tube follows its own law (White, then Ito's ratio to Colebrook), whatever law the straight pipes follow.
    pub fn metering_tube(
        fluid: &Fluid,
        law: FrictionLaw,
        length_m: f64,
        bore_m: f64,
        roughness_m: f64,
        coil_diameter_m: Option<f64>,
    ) -> Self {
        let mut friction = Self::new(fluid, law, length_m, bore_m, roughness_m);
        let coefficient = |k| fitting::coefficient(k, bore_m, fluid.density_kg_m3);
        friction.quadratic_laminar = coefficient(metering_tube::K_LAMINAR);
        friction.quadratic_turbulent = coefficient(metering_tube::K_TURBULENT);
        if let Some(coil_diameter_m) = coil_diameter_m {
            let curvature = bore_m / coil_diameter_m;
            let end = coil::laminar_end(bore_m, coil_diameter_m);
            let (ratio, ratio_slope) = coil::friction_ratio(end * curvature.sqrt());
            friction.law = Law::Coiled { curvature };
            friction.laminar_end = end;
            let turbulent = colebrook::at(friction.a, 2.0 * end);
            let (coiled, coiled_slope) = coil::turbulent_ratio(2.0 * end, curvature);
            friction.transition = Transition::between(
                (end, 64.0 * end * ratio, 1.0 + ratio_slope),
                (turbulent.g() * coiled, turbulent.log_slope() + coiled_slope),
            );
        }
        friction
    }

    /// Reynolds number at a flow in m³/s.
    pub fn reynolds(&self, flow_m3s: f64) -> f64 {
        self.reynolds_per_flow * flow_m3s.abs()
    }

    /// Whether a place on the curve of one is a place on the curve of the other.
    pub(crate) fn same_curve(&self, other: &Self) -> bool {
        self.a == other.a
    }

    /// Laminar resistance, Pa s/m³, and a rough quadratic one for turbulent flow, Pa s²/m⁶: enough for a first guess.
    pub(crate) fn rough(&self) -> (f64, f64) {
        let turbulent = 0.03 * self.pa_per_g * self.reynolds_per_flow * self.reynolds_per_flow;
        (self.resistance, turbulent + self.quadratic_turbulent)
    }

    /// Loss in Pa at a flow in m³/s, to full precision.
    ///
    /// Worked value: water at 20 °C in 2 mm, 0.5 L/min: 0.65 bar/m (Blasius, computed).
    ///
    /// ```
    /// use equirow::hydraulics::{losses::friction::Friction, network::{Fluid, FrictionLaw}};
    /// let water = Fluid { density_kg_m3: 998.2, viscosity_pa_s: 1.0016e-3 };
    /// let pipe = Friction::new(&water, FrictionLaw::LaminarColebrook, 1.0, 0.002, 0.0);
    /// let loss = pipe.loss(0.5e-3 / 60.0);
    /// assert!((loss.pressure_pa / 0.651e5 - 1.0).abs() < 0.02); // Blasius and Colebrook differ by some 1 %
    /// ```
    pub fn loss(&self, flow_m3s: f64) -> Loss {
        let re = self.reynolds(flow_m3s);
        let turbulent = re >= 2.0 * self.laminar_end && !matches!(self.law, Law::Churchill { .. });
        let mut place = Place(turbulent.then(|| colebrook::at(self.a, re)));
        let (offset, slope) = self.tangent(flow_m3s, &mut place);
        Loss { pressure_pa: offset + slope * flow_m3s, slope_pa_s_m3: slope }
    }

    /// A tangent `Δp = offset + slope q` to the curve near a flow; exact at that flow except in turbulent flow, where
    /// it touches the curve beside it and comes closer each time it is asked for about the same flow.
    #[inline]
    pub fn tangent(&self, flow_m3s: f64, place: &mut Place) -> (f64, f64) {
        let re = self.reynolds_per_flow * flow_m3s.abs();
        match self.law {
            Law::Standard => {
                if re <= reynolds::LAMINAR_END {
                    let quadratic = self.quadratic_laminar * flow_m3s.abs();
                    return (-quadratic * flow_m3s, self.resistance + 2.0 * quadratic);
                }
                if re >= reynolds::TURBULENT_START {
                    return self.turbulent(flow_m3s, re, place);
                }
                self.transitional(flow_m3s, re)
            }
            Law::Churchill { relative_roughness } => {
                let (g, g_by_re) = churchill::g(re, relative_roughness);
                let progress = (re / reynolds::LAMINAR_END).max(1.0).ln() / LN_2;
                self.with_k(flow_m3s, re, g, g_by_re, progress)
            }
            Law::Coiled { curvature } => {
                if re <= self.laminar_end {
                    let (ratio, slope) = coil::friction_ratio(re * curvature.sqrt());
                    let quadratic = self.quadratic_laminar * flow_m3s.abs();
                    let linear = self.resistance * ratio;
                    let rise = linear * (1.0 + slope) + 2.0 * quadratic;
                    return ((linear + quadratic - rise) * flow_m3s, rise);
                }
                if re >= 2.0 * self.laminar_end {
                    return self.turbulent(flow_m3s, re, place);
                }
                self.transitional(flow_m3s, re)
            }
        }
    }

    /// Whether the last [`tangent`](Self::tangent) touched the curve so close to this flow that it is exact there to the
    /// last digits.
    #[inline]
    pub fn touches(&self, flow_m3s: f64, place: &Place) -> bool {
        let re = self.reynolds_per_flow * flow_m3s.abs();
        place.0.is_none_or(|point| (point.reynolds - re).abs() <= 3e-8 * re || re < 2.0 * self.laminar_end)
    }

    #[inline]
    fn turbulent(&self, flow_m3s: f64, re: f64, place: &mut Place) -> (f64, f64) {
        let point = match place.0 {
            Some(last) if (re - last.reynolds).abs() < 0.5 * last.reynolds => last.towards(self.a, re),
            _ => colebrook::Point::near(self.a, re),
        };
        place.0 = Some(point);
        let (mut g, mut g_by_reynolds) = (point.g(), point.g_by_reynolds());
        if let Law::Coiled { curvature } = self.law {
            let (ratio, ratio_slope) = coil::turbulent_ratio(point.reynolds, curvature);
            g_by_reynolds = ratio * (g_by_reynolds + ratio_slope * g / point.reynolds);
            g *= ratio;
        }
        let slope = self.pa_per_g * g_by_reynolds;
        let offset = self.pa_per_g * g - slope * point.reynolds;
        let quadratic = self.quadratic_turbulent * flow_m3s.abs();
        let offset = offset - quadratic * flow_m3s.abs();
        (if flow_m3s < 0.0 { -offset } else { offset }, slope * self.reynolds_per_flow + 2.0 * quadratic)
    }

    fn transitional(&self, flow_m3s: f64, re: f64) -> (f64, f64) {
        let rise = self.transition.at(re);
        self.with_k(flow_m3s, re, rise.g, rise.g_by_reynolds, rise.progress)
    }

    fn with_k(&self, flow_m3s: f64, re: f64, g: f64, g_by_re: f64, progress: f64) -> (f64, f64) {
        let q = flow_m3s.abs();
        let mut pressure = self.pa_per_g * g;
        let mut slope = self.pa_per_g * g_by_re * self.reynolds_per_flow;
        if self.quadratic_laminar > 0.0 {
            let per_k = self.quadratic_laminar / metering_tube::K_LAMINAR;
            let (k, k_by_progress) = metering_tube::k(progress);
            pressure += per_k * k * q * q;
            // dK/dq = dK/dt / (q ln 2); nothing changes outside the transition, and q > 0 inside it
            let change = if re > self.laminar_end { k_by_progress / LN_2 } else { 0.0 };
            slope += per_k * q * (2.0 * k + change);
        }
        let offset = pressure - slope * q;
        (if flow_m3s < 0.0 { -offset } else { offset }, slope)
    }
}
