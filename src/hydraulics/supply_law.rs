//! The law of a supply: how much pressure it holds at which flow, as one line that falls.
//!
//! A held pressure is level, a pump curve falls, a metered flow drops straight down: from there on no pressure lets more
//! through. What limits what is cut out of these, so that a metered flow with a pressure limit, a held pressure behind a pump
//! of so much flow and a pump on its curve are one law, which the solver takes like a link from the open air to the
//! supply's node. Start with [`SupplyLaw::new`].

/// What holds a supply at one of its pieces.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Regime {
    /// Its pressure is held.
    Pressure,
    /// The pump runs on its curve.
    Curve,
    /// Its flow is held.
    Flow,
}

/// A straight piece of the law, over a range of flows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct LawPiece {
    pub(crate) regime: Regime,
    /// Where it begins, m³/s, and the gauge pressure there, Pa; below this flow the piece before it holds.
    pub(crate) from_m3s: f64,
    pub(crate) pressure_pa: f64,
    /// How fast the pressure falls, Pa s/m³; no meaning for a held flow.
    pub(crate) slope: f64,
    /// Where it ends, m³/s; a held flow is this flow.
    pub(crate) to_m3s: f64,
}

impl LawPiece {
    /// Gauge pressure at a flow in m³/s, Pa.
    pub(crate) fn at(&self, flow_m3s: f64) -> f64 {
        self.pressure_pa - self.slope * (flow_m3s - self.from_m3s)
    }
}

/// Where a supply ended up in a solve.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SupplyPoint {
    /// What holds it.
    pub regime: Regime,
    /// What it gives, m³/s.
    pub flow_m3s: f64,
    /// What would flow if what is asked of it (a pressure or a flow) held without limits, m³/s.
    pub asked_m3s: f64,
    /// The gauge pressure that its law gives there, Pa; none for a held flow.
    pub pressure_pa: Option<f64>,
}

/// See the module.
#[derive(Debug, Clone, PartialEq)]
pub struct SupplyLaw {
    /// In order of rising flow.
    pieces: Vec<LawPiece>,
    /// The piece that is asked for: a held pressure or a metered flow, unless something else limits it from the start.
    asked: usize,
}

/// What a supply is asked to hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Asked {
    /// Its pressure, as long as the flow allows.
    Pressure,
    /// Its flow, as long as the pressure allows.
    Flow,
}

impl SupplyLaw {
    /// The law that no more than this gauge pressure in Pa, no more than this flow in m³/s, and no more than a pump's
    /// curve allow, each where there is one. The curve is points of flow and gauge pressure, flows rising from zero,
    /// pressures falling, straight between; its last flow is the most the pump delivers. Nothing if nothing limits it.
    ///
    /// ```
    /// use equirow::hydraulics::supply_law::{Asked, Regime, SupplyLaw};
    /// // 3 bar held as far as a pump of 4 bar at rest and 2 bar at 2 L/s gives them: up to 1 L/s
    /// let curve = [(0.0, 4e5), (2e-3, 2e5)];
    /// let law = SupplyLaw::new(Some(3e5), Some(1.5e-3), &curve, Asked::Pressure).ok_or("no law")?;
    /// assert_eq!(law.pressure_at(0.5e-3), Some((Regime::Pressure, 3e5)));
    /// let (regime, pressure) = law.pressure_at(1.25e-3).ok_or("none")?;
    /// assert_eq!(regime, Regime::Curve);
    /// assert!((pressure - 2.75e5).abs() < 1e-6);
    /// assert_eq!(law.pressure_at(1.6e-3), None); // more than it lets through
    /// # Ok::<(), &str>(())
    /// ```
    pub fn new(
        most_pressure_pa: Option<f64>,
        most_flow_m3s: Option<f64>,
        curve: &[(f64, f64)],
        asked: Asked,
    ) -> Option<Self> {
        let cap = most_pressure_pa.unwrap_or(f64::INFINITY);
        let last = curve.last().map_or(f64::INFINITY, |(flow, _)| *flow);
        let most = most_flow_m3s.unwrap_or(f64::INFINITY).min(last);
        let mut pieces = Vec::with_capacity(curve.len() + 1);
        // Where the curve comes down to the pressure that is held.
        let mut from = 0.0;
        if cap < curve.first().map_or(f64::INFINITY, |(_, pressure)| *pressure) {
            let meets = curve.windows(2).find(|pair| pair[1].1 <= cap).map_or(last, |pair| {
                let ((q0, p0), (q1, p1)) = (pair[0], pair[1]);
                q0 + (q1 - q0) * (p0 - cap) / (p0 - p1)
            });
            from = meets.min(most);
            pieces.push(LawPiece {
                regime: Regime::Pressure,
                from_m3s: 0.0,
                pressure_pa: cap,
                slope: 0.0,
                to_m3s: from,
            });
        }
        if let Some((_, at_rest)) = curve.first().filter(|_| pieces.is_empty()) {
            // Against flow backwards.
            let regime = Regime::Curve;
            pieces.push(LawPiece { regime, from_m3s: 0.0, pressure_pa: *at_rest, slope: 0.0, to_m3s: 0.0 });
        }
        for pair in curve.windows(2) {
            let ((q0, p0), (q1, p1)) = (pair[0], pair[1]);
            let (start, end) = (q0.max(from), q1.min(most));
            if start < end {
                let slope = (p0 - p1) / (q1 - q0);
                let pressure_pa = p0 - slope * (start - q0);
                let regime = Regime::Curve;
                pieces.push(LawPiece { regime, from_m3s: start, pressure_pa, slope, to_m3s: end });
            }
        }
        if most.is_finite() {
            let pressure_pa = pieces.last().map_or(f64::INFINITY, |piece| piece.at(most));
            let regime = Regime::Flow;
            pieces.push(LawPiece { regime, from_m3s: most, pressure_pa, slope: 0.0, to_m3s: most });
        }
        let asked = match asked {
            Asked::Pressure => 0,
            Asked::Flow => pieces.len().checked_sub(1)?,
        };
        (!pieces.is_empty()).then_some(Self { pieces, asked })
    }

    /// The gauge pressure in Pa that it holds at a flow in m³/s, and what holds it there; none at a flow that it does
    /// not let through. Against flow backwards it holds what it holds at rest.
    pub fn pressure_at(&self, flow_m3s: f64) -> Option<(Regime, f64)> {
        let piece = self.pieces.iter().find(|piece| flow_m3s <= piece.to_m3s)?;
        Some((piece.regime, piece.at(flow_m3s.max(piece.from_m3s))))
    }

    pub(crate) fn piece(&self, index: usize) -> LawPiece {
        self.pieces[index.min(self.pieces.len() - 1)]
    }

    pub(crate) fn last(&self) -> usize {
        self.pieces.len() - 1
    }

    pub(crate) const fn asked(&self) -> usize {
        self.asked
    }

    /// The piece that a flow lies on.
    pub(crate) fn piece_of(&self, flow_m3s: f64) -> usize {
        self.pieces.iter().position(|piece| flow_m3s <= piece.to_m3s).unwrap_or_else(|| self.last())
    }

    /// What is not a number or out of order, for the network's own check.
    pub(crate) fn is_sound(&self) -> bool {
        let finite = |piece: &LawPiece| {
            piece.from_m3s.is_finite() && piece.slope.is_finite() && piece.slope >= 0.0 && piece.to_m3s >= 0.0
        };
        self.pieces.iter().all(finite)
            && self.pieces.iter().all(|piece| piece.regime == Regime::Flow || piece.pressure_pa.is_finite())
            && self.pieces.windows(2).all(|pair| pair[0].to_m3s == pair[1].from_m3s)
    }
}
