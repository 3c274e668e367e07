//! The friction of one pipe at any flow, with everything that does not change with flow worked out beforehand.
//!
//! The friction loss is `μ² L G/(2 ρ D³)` with `G(Re) = f Re²`. A [`FrictionLaw`] says which turbulent curve `G` follows:
//! [`colebrook`], to which a [`transition`](super::transition) leads from [`laminar`](super::laminar) flow as it would to
//! any other, or [`churchill`], which holds from rest on; for a coiled tube [`coil`] has the laminar law and what it adds to
//! the turbulent one. A metering tube adds its own losses, which change over the same transition. Range: every Reynolds
//! number; the loss rises strictly and its slope is continuous. Start reading at [`Friction::loss`]; [`Friction::tangent`]
//! is the same curve for the solver, which only wants a tangent near the flow it asks for.

use super::{
    Loss, churchill, coil, colebrook, fitting, laminar, metering_tube, reynolds, transition::Transition,
};
use crate::hydraulics::fluid::Fluid;
use std::f64::consts::LN_2;
use strum::EnumCount;

/// Which friction law straight pipes follow.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, EnumCount)]
pub enum FrictionLaw {
    /// `64/Re`, a smooth transition, Colebrook.
    #[default]
    LaminarColebrook,
    /// Churchill (1977) at every Reynolds number.
    Churchill,
}

impl FrictionLaw {
    /// All laws.
    pub const ALL: [Self; Self::COUNT] = [Self::LaminarColebrook, Self::Churchill];

    /// The code in the neutral format.
    pub const fn code(self) -> &'static str {
        match self {
            Self::LaminarColebrook => "laminar_colebrook",
            Self::Churchill => "churchill",
        }
    }

    /// The turbulent curve of a relative roughness.
    const fn curve(self, relative_roughness: f64) -> Curve {
        match self {
            Self::LaminarColebrook => Curve::Colebrook { a: relative_roughness / 3.7 },
            Self::Churchill => Curve::Churchill { relative_roughness },
        }
    }
}

/// A turbulent curve, for one roughness.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Curve {
    /// With the relative roughness divided by 3.7. Laminar flow is joined to it by a transition.
    Colebrook { a: f64 },
    /// Holds in laminar flow too.
    Churchill { relative_roughness: f64 },
}

impl Curve {
    /// `G = f Re²` and `d ln G/d ln Re`, to full precision.
    fn at(&self, re: f64) -> (f64, f64) {
        match *self {
            Self::Colebrook { a } => {
                let point = colebrook::at(a, re);
                (point.g(), point.log_slope())
            }
            Self::Churchill { relative_roughness } => {
                let (g, g_by_reynolds) = churchill::g(re, relative_roughness);
                (g, g_by_reynolds * re / g)
            }
        }
    }
}

/// Friction of one pipe or metering tube filled with one liquid.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Friction {
    reynolds_per_flow: f64,
    /// Laminar resistance, Pa s/m³.
    resistance: f64,
    /// Pa for each unit of `G`.
    pa_per_g: f64,
    curve: Curve,
    /// Turbulent from twice as much on.
    laminar_end: f64,
    transition: Transition,
    /// `d/D` of a coiled tube.
    curvature: Option<f64>,
    /// Losses of a metering tube, Pa s²/m⁶; zero for a plain pipe.
    quadratic_laminar: f64,
    quadratic_turbulent: f64,
}

/// Where on Colebrook's curve a pipe was evaluated last; belongs to one pipe and is carried from solve to solve.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct LastCurvePoint(Option<colebrook::CurvePoint>);

impl Friction {
    /// Friction of a straight pipe; lengths in m.
    pub fn new(fluid: &Fluid, law: FrictionLaw, length_m: f64, bore_m: f64, roughness_m: f64) -> Self {
        let curve = law.curve(roughness_m / bore_m);
        let end = reynolds::LAMINAR_END;
        Self {
            reynolds_per_flow: reynolds::per_flow(fluid, bore_m),
            resistance: laminar::resistance(fluid.viscosity_pa_s, length_m, bore_m),
            pa_per_g: fluid.viscosity_pa_s * fluid.viscosity_pa_s * length_m
                / (2.0 * fluid.density_kg_m3 * bore_m * bore_m * bore_m),
            curve,
            laminar_end: end,
            transition: Transition::between((end, 64.0 * end, 1.0), curve.at(reynolds::TURBULENT_START)),
            curvature: None,
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
        let law = if coil_diameter_m.is_some() { FrictionLaw::LaminarColebrook } else { law };
        let mut friction = Self::new(fluid, law, length_m, bore_m, roughness_m);
        let coefficient = |k| fitting::coefficient(k, bore_m, fluid.density_kg_m3);
        friction.quadratic_laminar = coefficient(metering_tube::K_LAMINAR);
        friction.quadratic_turbulent = coefficient(metering_tube::K_TURBULENT);
        if let Some(coil_diameter_m) = coil_diameter_m {
            let curvature = bore_m / coil_diameter_m;
            let end = coil::laminar_end(bore_m, coil_diameter_m);
            let (ratio, ratio_slope) = coil::friction_ratio(end * curvature.sqrt());
            let (turbulent, slope) = friction.curve.at(2.0 * end);
            let (coiled, coiled_slope) = coil::turbulent_ratio(2.0 * end, curvature);
            friction.curvature = Some(curvature);
            friction.laminar_end = end;
            friction.transition = Transition::between(
                (end, 64.0 * end * ratio, 1.0 + ratio_slope),
                (turbulent * coiled, slope + coiled_slope),
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
        self.curve == other.curve
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
        let mut place = LastCurvePoint(match self.curve {
            Curve::Colebrook { a } if re >= 2.0 * self.laminar_end => Some(colebrook::at(a, re)),
            Curve::Colebrook { .. } | Curve::Churchill { .. } => None,
        });
        let (offset, slope) = self.tangent(flow_m3s, &mut place);
        Loss { pressure_pa: offset + slope * flow_m3s, slope_pa_s_m3: slope }
    }

    /// A tangent `Δp = offset + slope q` to the curve near a flow; exact at that flow except in turbulent flow, where
    /// it touches the curve beside it and comes closer each time it is asked for about the same flow.
    #[inline]
    pub fn tangent(&self, flow_m3s: f64, place: &mut LastCurvePoint) -> (f64, f64) {
        let re = self.reynolds_per_flow * flow_m3s.abs();
        match self.curve {
            Curve::Churchill { relative_roughness } => {
                let (g, g_by_re) = churchill::g(re, relative_roughness);
                let progress = (re / self.laminar_end).max(1.0).ln() / LN_2;
                self.with_k(flow_m3s, re, g, g_by_re, progress)
            }
            Curve::Colebrook { .. } if re <= self.laminar_end => self.laminar(flow_m3s, re),
            Curve::Colebrook { a } if re >= 2.0 * self.laminar_end => self.turbulent(a, flow_m3s, re, place),
            Curve::Colebrook { .. } => {
                let rise = self.transition.at(re);
                self.with_k(flow_m3s, re, rise.g, rise.g_by_reynolds, rise.progress)
            }
        }
    }

    /// Whether the last [`tangent`](Self::tangent) touched the curve so close to this flow that it is exact there to the
    /// last digits.
    #[inline]
    pub fn touches(&self, flow_m3s: f64, place: &LastCurvePoint) -> bool {
        let re = self.reynolds_per_flow * flow_m3s.abs();
        place.0.is_none_or(|point| (point.reynolds - re).abs() <= 3e-8 * re || re < 2.0 * self.laminar_end)
    }

    #[inline]
    fn laminar(&self, flow_m3s: f64, re: f64) -> (f64, f64) {
        let quadratic = self.quadratic_laminar * flow_m3s.abs();
        let Some(curvature) = self.curvature else {
            return (-quadratic * flow_m3s, self.resistance + 2.0 * quadratic);
        };
        let (ratio, slope) = coil::friction_ratio(re * curvature.sqrt());
        let linear = self.resistance * ratio;
        let rise = linear * (1.0 + slope) + 2.0 * quadratic;
        ((linear + quadratic - rise) * flow_m3s, rise)
    }

    #[inline]
    fn turbulent(&self, a: f64, flow_m3s: f64, re: f64, place: &mut LastCurvePoint) -> (f64, f64) {
        let point = match place.0 {
            Some(last) if (re - last.reynolds).abs() < 0.5 * last.reynolds => last.towards(a, re),
            _ => colebrook::CurvePoint::near(a, re),
        };
        place.0 = Some(point);
        let (mut g, mut g_by_reynolds) = (point.g(), point.g_by_reynolds());
        if let Some(curvature) = self.curvature {
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
