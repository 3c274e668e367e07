//! Pressure losses, one file a formula.
//!
//! Every file says where its formula comes from, in which range it holds, in which units, and carries a worked
//! value as a doc-test. Every loss is returned with its derivative, never falls as the flow rises, and changes sign
//! with the flow (a check valve excepted, which never lets flow back). Nothing here knows of a network: the law of a
//! [`link`](super::link) puts its formulas together, the [`solver`](super::solver) the links of a chain.
//!
//! Read [`friction`] first: it joins [`laminar`], [`transition`] and a turbulent curve ([`colebrook`], [`churchill`]) into the one law
//! of a pipe.

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
