//! A link of the network: what it is, and its law, the pressure it takes at a flow and how fast that rises.
//!
//! All that the rest asks of a kind of link stands in [`LinkKind`]; the solver, the formats and the way back to the plan
//! ask it and know no kinds. A new kind is a variant here, with its formula in [`losses`](super::losses).

use super::fluid::Fluid;
use super::losses::friction::{Friction, FrictionLaw};
use super::losses::{Loss, creeping, fitting, orifice};

/// Something liquid flows through.
#[derive(Debug, Clone, PartialEq)]
pub struct Link {
    /// Name, unique among the links; empty where nobody asked for names.
    pub name: String,
    /// What it is.
    pub kind: LinkKind,
    /// Closed: carries nothing (a blocked outlet, a shut section valve).
    pub closed: bool,
}

/// What a link is. Lengths, bores, diameters and `cd` > 0; roughness, `k` and cracking pressure >= 0.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum LinkKind {
    /// A hose or tube with friction and minor losses.
    Pipe {
        /// Length, m.
        length_m: f64,
        /// Bore, m.
        bore_m: f64,
        /// Roughness, m, less than half the bore.
        roughness_m: f64,
        /// Sum of loss coefficients on the velocity in the bore.
        k_minor: f64,
    },
    /// A part known by its loss coefficient at its own bore.
    Fitting {
        /// Loss coefficient.
        k: f64,
        /// Bore that the coefficient refers to, m.
        bore_m: f64,
    },
    /// A metering orifice.
    Orifice {
        /// Diameter, m.
        diameter_m: f64,
        /// Discharge coefficient.
        cd: f64,
        /// With the viscous term, for this plate thickness in m (>= 0).
        creeping_thickness_m: Option<f64>,
    },
    /// A spring-loaded valve that passes forward flow only.
    CheckValve {
        /// Cracking pressure, Pa.
        crack_pressure_pa: f64,
        /// Loss coefficient when open.
        k: f64,
        /// Bore that the coefficient refers to, m.
        bore_m: f64,
    },
    /// A tube that meters, with its entry and outlet losses.
    MeteringTube {
        /// Length, m.
        length_m: f64,
        /// Bore, m.
        bore_m: f64,
        /// Roughness, m, less than half the bore.
        roughness_m: f64,
        /// Mean diameter of the coil it is wound on, m, at least the bore; straight if none.
        coil_diameter_m: Option<f64>,
    },
}

/// One number of a link, as the neutral format names it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LinkNumber {
    /// Its key; the unit is in it.
    pub key: &'static str,
    /// The number, SI.
    pub value: f64,
    /// Which values it may have.
    pub bound: LinkBound,
}

/// Which values a number of a link may have.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum LinkBound {
    /// Above zero.
    Above,
    /// Zero or above.
    NotBelow,
    /// Zero or above, and less than half of this bore in m.
    BelowHalf(f64),
    /// At least this bore in m.
    AtLeast(f64),
}

impl LinkKind {
    /// Whether flow can pass only from start to end.
    pub const fn one_way(&self) -> bool {
        matches!(self, Self::CheckValve { .. })
    }

    /// The bore, m; of an orifice its diameter.
    pub const fn bore_m(&self) -> f64 {
        match *self {
            Self::Pipe { bore_m, .. }
            | Self::Fitting { bore_m, .. }
            | Self::CheckValve { bore_m, .. }
            | Self::MeteringTube { bore_m, .. } => bore_m,
            Self::Orifice { diameter_m, .. } => diameter_m,
        }
    }

    /// Whether it takes nothing at any flow: a joint, which the solver can't have as a link.
    pub fn takes_nothing(&self) -> bool {
        match *self {
            Self::Fitting { k, .. } => k == 0.0,
            Self::Pipe { length_m, k_minor, .. } => length_m <= 0.0 && k_minor == 0.0,
            Self::Orifice { .. } | Self::CheckValve { .. } | Self::MeteringTube { .. } => false,
        }
    }

    /// The kind in the neutral format, which knows no metering tubes.
    pub const fn code(&self) -> Option<&'static str> {
        match self {
            Self::Pipe { .. } => Some("pipe"),
            Self::Fitting { .. } => Some("fitting"),
            Self::Orifice { .. } => Some("orifice"),
            Self::CheckValve { .. } => Some("check_valve"),
            Self::MeteringTube { .. } => None,
        }
    }

    /// Its numbers, in the order of the neutral format.
    pub fn numbers(&self) -> [Option<LinkNumber>; 4] {
        let number = |key, value, bound| Some(LinkNumber { key, value, bound });
        let above = |key, value| number(key, value, LinkBound::Above);
        let not_below = |key, value| number(key, value, LinkBound::NotBelow);
        match *self {
            Self::Pipe { length_m, bore_m, roughness_m, k_minor } => [
                above("length_m", length_m),
                above("bore_m", bore_m),
                number("roughness_m", roughness_m, LinkBound::BelowHalf(bore_m)),
                not_below("k_minor", k_minor),
            ],
            Self::Fitting { k, bore_m } => [not_below("k", k), above("bore_m", bore_m), None, None],
            Self::Orifice { diameter_m, cd, creeping_thickness_m } => [
                above("diameter_m", diameter_m),
                above("cd", cd),
                creeping_thickness_m.and_then(|thickness| not_below("thickness_m", thickness)),
                None,
            ],
            Self::CheckValve { crack_pressure_pa, k, bore_m } => [
                not_below("crack_pressure_pa", crack_pressure_pa),
                not_below("k", k),
                above("bore_m", bore_m),
                None,
            ],
            Self::MeteringTube { length_m, bore_m, roughness_m, coil_diameter_m } => [
                above("length_m", length_m),
                above("bore_m", bore_m),
                number("roughness_m", roughness_m, LinkBound::BelowHalf(bore_m)),
                coil_diameter_m.and_then(|coil| number("coil_diameter_m", coil, LinkBound::AtLeast(bore_m))),
            ],
        }
    }

    /// Its law, filled with a liquid; what does not change with the flow is worked out here.
    pub fn law(&self, fluid: &Fluid, friction_law: FrictionLaw) -> Law {
        let density = fluid.density_kg_m3;
        match *self {
            Self::Pipe { length_m, bore_m, roughness_m, k_minor } => Law {
                terms: Terms { quadratic: fitting::coefficient(k_minor, bore_m, density), ..Terms::NONE },
                friction: Some(Friction::new(fluid, friction_law, length_m, bore_m, roughness_m)),
            },
            Self::Fitting { k, bore_m } => {
                Law::of(Terms { quadratic: fitting::coefficient(k, bore_m, density), ..Terms::NONE })
            }
            Self::Orifice { diameter_m, cd, creeping_thickness_m } => {
                let viscous = |thickness| creeping::resistance(fluid.viscosity_pa_s, diameter_m, thickness);
                Law::of(Terms {
                    quadratic: orifice::coefficient(cd, diameter_m, density),
                    linear: creeping_thickness_m.map_or(0.0, viscous),
                    ..Terms::NONE
                })
            }
            Self::CheckValve { crack_pressure_pa, k, bore_m } => Law::of(Terms {
                quadratic: fitting::coefficient(k, bore_m, density),
                linear: 0.0,
                crack_pa: crack_pressure_pa,
                one_way: true,
            }),
            Self::MeteringTube { length_m, bore_m, roughness_m, coil_diameter_m } => Law {
                terms: Terms::NONE,
                friction: Some(Friction::metering_tube(
                    fluid,
                    friction_law,
                    length_m,
                    bore_m,
                    roughness_m,
                    coil_diameter_m,
                )),
            },
        }
    }
}

/// The law of a link filled with one liquid: its [`loss`](Self::loss) at a flow. The solver adds up the [`terms`](Terms)
/// of links in series and takes the tangents of their frictions one by one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Law {
    /// Everything but friction.
    pub terms: Terms,
    /// Friction, with the losses of a metering tube.
    pub friction: Option<Friction>,
}

/// A loss without friction: `crack + linear q + quadratic q|q|`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Terms {
    /// Pa s²/m⁶.
    pub quadratic: f64,
    /// Pa s/m³.
    pub linear: f64,
    /// Taken before anything flows, Pa.
    pub crack_pa: f64,
    /// Nothing flows backwards.
    pub one_way: bool,
}

impl Terms {
    /// No loss at any flow.
    pub const NONE: Self = Self { quadratic: 0.0, linear: 0.0, crack_pa: 0.0, one_way: false };

    fn loss(&self, flow_m3s: f64) -> Loss {
        let flow = if self.one_way { flow_m3s.max(0.0) } else { flow_m3s };
        let rise = fitting::quadratic(self.quadratic, flow)
            + Loss { pressure_pa: self.linear * flow, slope_pa_s_m3: self.linear };
        Loss { pressure_pa: self.crack_pa + rise.pressure_pa, ..rise }
    }
}

impl Law {
    const fn of(terms: Terms) -> Self {
        Self { terms, friction: None }
    }

    /// Loss at a flow in m³/s, from start to end, to full precision.
    ///
    /// A check valve at zero or backward flow gives its cracking pressure: it is shut there, and the true difference is
    /// anything up to that.
    ///
    /// ```
    /// use equirow::hydraulics::network::{Fluid, FrictionLaw, LinkKind};
    /// // Hagen-Poiseuille: 3 mm by 1 m, 50 mPa s, 3.976078202e-8 m3/s -> 1 kPa (exact)
    /// let pipe = LinkKind::Pipe { length_m: 1.0, bore_m: 0.003, roughness_m: 0.0, k_minor: 0.0 };
    /// let fluid = Fluid { density_kg_m3: 1400.0, viscosity_pa_s: 0.05 };
    /// let loss = pipe.law(&fluid, FrictionLaw::LaminarColebrook).loss(3.976078202199582e-8);
    /// assert!((loss.pressure_pa / 1000.0 - 1.0).abs() < 1e-12);
    /// // check valve: 15 kPa, K 8 on 5 mm, 1280 kg/m3, 8.3e-6 m3/s: v = 0.42272 m/s, 15000 + 8 * 1280 * v^2/2 = 15914.9 Pa
    /// let valve = LinkKind::CheckValve { crack_pressure_pa: 15_000.0, k: 8.0, bore_m: 0.005 };
    /// let fluid = Fluid { density_kg_m3: 1280.0, viscosity_pa_s: 0.004 };
    /// let law = valve.law(&fluid, FrictionLaw::LaminarColebrook);
    /// assert!((law.loss(8.3e-6).pressure_pa - 15_914.9).abs() < 0.1);
    /// assert_eq!(law.loss(-1.0).pressure_pa, 15_000.0);
    /// ```
    pub fn loss(&self, flow_m3s: f64) -> Loss {
        let terms = self.terms.loss(flow_m3s);
        self.friction.map_or(terms, |friction| friction.loss(flow_m3s) + terms)
    }
}
