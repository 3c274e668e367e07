//! Pressure losses, one file a formula.
//!
//! Every file says where its formula comes from, in which range it holds, in which units, and carries a worked
//! value as a doc-test. Every loss is returned with its derivative, never falls as the flow rises, and changes sign
//! with the flow (a check valve excepted, which never lets flow back). Nothing here knows of a network: the
//! [`solver`](super::solver) puts the losses of a chain together.
//!
//! Read [`friction`] first: it joins [`laminar`], [`transition`], [`colebrook`] and [`churchill`] into the one law
//! of a pipe.

pub mod check_valve;
pub mod churchill;
pub mod coil;
pub mod colebrook;
pub mod creeping;
pub mod fitting;
pub mod friction;
pub mod laminar;
pub mod metering_tube;
pub mod orifice;
pub mod reynolds;
pub mod static_head;
pub mod transition;

use super::network::{Fluid, FrictionLaw, LinkKind};

/// A pressure loss and how fast it rises with flow.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Loss {
    /// Pressure loss in the direction of positive flow, Pa.
    pub pressure_pa: f64,
    /// Its derivative by the flow, Pa s/m³; never negative.
    pub slope_pa_s_m3: f64,
}

impl Loss {
    /// No loss at any flow.
    pub const NONE: Self = Self { pressure_pa: 0.0, slope_pa_s_m3: 0.0 };
}

impl std::ops::Add for Loss {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self {
            pressure_pa: self.pressure_pa + other.pressure_pa,
            slope_pa_s_m3: self.slope_pa_s_m3 + other.slope_pa_s_m3,
        }
    }
}

/// Loss of one link at a flow in m³/s, from its start to its end, each formula worked out to full precision.
///
/// A check valve at zero or backward flow gives its cracking pressure: it is shut there, and the true difference is
/// anything up to that.
///
/// ```
/// use equirow::hydraulics::{losses, network::{Fluid, FrictionLaw, LinkKind}};
/// // Hagen-Poiseuille: 3 mm by 1 m, 50 mPa s, 3.976078202e-8 m3/s -> 1 kPa (exact)
/// let pipe = LinkKind::Pipe { length_m: 1.0, bore_m: 0.003, roughness_m: 0.0, k_minor: 0.0 };
/// let fluid = Fluid { density_kg_m3: 1400.0, viscosity_pa_s: 0.05 };
/// let loss = losses::of_link(&pipe, &fluid, FrictionLaw::LaminarColebrook, 3.976078202199582e-8);
/// assert!((loss.pressure_pa / 1000.0 - 1.0).abs() < 1e-12);
/// ```
pub fn of_link(kind: &LinkKind, fluid: &Fluid, law: FrictionLaw, flow_m3s: f64) -> Loss {
    with_friction(kind, fluid, friction_of(kind, fluid, law).as_ref(), flow_m3s)
}

/// Friction of a link, if it has any.
pub fn friction_of(kind: &LinkKind, fluid: &Fluid, law: FrictionLaw) -> Option<friction::Friction> {
    match *kind {
        LinkKind::Pipe { length_m, bore_m, roughness_m, .. } => {
            Some(friction::Friction::new(fluid, law, length_m, bore_m, roughness_m))
        }
        LinkKind::MeteringTube { length_m, bore_m, roughness_m, coil_diameter_m } => Some(
            friction::Friction::metering_tube(fluid, law, length_m, bore_m, roughness_m, coil_diameter_m),
        ),
        LinkKind::Fitting { .. } | LinkKind::Orifice { .. } | LinkKind::CheckValve { .. } => None,
    }
}

/// [`of_link`] with the link's own [`friction_of`] worked out beforehand.
pub fn with_friction(
    kind: &LinkKind,
    fluid: &Fluid,
    friction: Option<&friction::Friction>,
    flow_m3s: f64,
) -> Loss {
    let density = fluid.density_kg_m3;
    let friction = friction.map_or(Loss::NONE, |friction| friction.loss(flow_m3s));
    match *kind {
        LinkKind::Pipe { bore_m, k_minor, .. } => {
            friction + fitting::loss(k_minor, bore_m, density, flow_m3s)
        }
        LinkKind::Fitting { k, bore_m } => fitting::loss(k, bore_m, density, flow_m3s),
        LinkKind::Orifice { diameter_m, cd, creeping_thickness_m } => {
            let inertial = orifice::loss(cd, diameter_m, density, flow_m3s);
            match creeping_thickness_m {
                Some(thickness_m) => {
                    inertial + creeping::loss(fluid.viscosity_pa_s, diameter_m, thickness_m, flow_m3s)
                }
                None => inertial,
            }
        }
        LinkKind::CheckValve { crack_pressure_pa, k, bore_m } => {
            check_valve::loss(crack_pressure_pa, k, bore_m, density, flow_m3s)
        }
        LinkKind::MeteringTube { .. } => friction,
    }
}
