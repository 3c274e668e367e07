//! A prepared routing with other numbers: what can be changed, and the derivatives of rows and pressures by it.
//!
//! [`PreparedRouting::set`](super::PreparedRouting::set) changes a number of a run, a part, an element of a row feed, the liquid or the supply, without
//! touching the project and without making the network anew; solved then, it gives what the edited project would.
//! [`PreparedRouting::derivatives`](super::PreparedRouting::derivatives) gives the derivatives of all row flows and pressures by such numbers from the linear
//! equations at one solution. How a link's own loss changes with a number is taken by differences of its law, which is a
//! closed formula; that is good to some 1e-9 of it, some 1e-6 beside a flow at which a law bends.

use std::collections::BTreeMap;

use petgraph::graph::EdgeIndex;

use super::outcome::ElementOutcome;
use super::resistance::VariedQuantity;
use super::solver::response::Derivative;
use crate::plan::{Control, FeedId, LiquidState, PartId, RowId, RunId, Supply};
use crate::quantities::{Density, Flow, Pressure, Viscosity};

/// An element of a row feed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct ElementId {
    pub(super) feed: FeedId,
    pub(super) branch: Option<usize>,
    pub(super) index: usize,
}

impl ElementId {
    /// The element at a place in the trunk (no branch) or in a branch of a feed.
    pub const fn new(feed: FeedId, branch: Option<usize>, index: usize) -> Self {
        Self { feed, branch, index }
    }

    /// The feed it is of.
    pub const fn feed(&self) -> FeedId {
        self.feed
    }

    /// Which branch; `None` in the trunk.
    pub const fn branch(&self) -> Option<usize> {
        self.branch
    }

    /// Its place in the trunk or branch.
    pub const fn index(&self) -> usize {
        self.index
    }
}

impl ElementOutcome {
    /// Which element it is.
    pub const fn id(&self) -> ElementId {
        ElementId { feed: self.feed, branch: self.branch, index: self.index }
    }
}

/// A number that can be varied.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Parameter {
    /// Of a hose.
    Run(RunId, VariedQuantity),
    /// Of a placed part.
    Part(PartId, VariedQuantity),
    /// Of an element of a row feed.
    Element(ElementId, VariedQuantity),
    /// Of the small tee of a shared row feed.
    SmallTee(FeedId, VariedQuantity),
    /// Of the liquid.
    Liquid(LiquidQuantity),
    /// Of the supply.
    Supply(SupplyQuantity),
}

impl Parameter {
    /// Which number of a hose, part or element it is; none of liquid and supply.
    pub const fn quantity(&self) -> Option<VariedQuantity> {
        match *self {
            Self::Run(_, quantity)
            | Self::Part(_, quantity)
            | Self::Element(_, quantity)
            | Self::SmallTee(_, quantity) => Some(quantity),
            Self::Liquid(_) | Self::Supply(_) => None,
        }
    }
}

/// A number of the liquid at the temperature looked at. SI.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum LiquidQuantity {
    /// Density, kg/m³.
    Density,
    /// Dynamic viscosity, Pa s.
    Viscosity,
}

/// A number of the supply. SI.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum SupplyQuantity {
    /// The pressure that is held, or the limit of a metered flow; Pa.
    Pressure,
    /// The flow that is metered, m³/s: by itself what the rows ask.
    MeteredFlow,
    /// The most the pump delivers, m³/s.
    Capacity,
    /// All pressures of the pump's curve, as a part of what it says; 1 as planned.
    CurvePressure,
}

/// Why a number can't be varied.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CannotVary {
    /// Nothing that the supply reaches has it.
    NotThere,
    /// Not a number that it may have.
    OutOfRange,
    /// The way would take nothing at all and be a joint: give it a small value instead.
    TakesNothing,
}

/// Numbers that differ from the plan.
#[derive(Debug, Clone, Default)]
pub(super) struct Variation {
    pub(super) values: BTreeMap<Parameter, f64>,
    /// What can be varied in the network: as planned, and the links that have it.
    pub(super) known: Option<BTreeMap<Parameter, (f64, Vec<EdgeIndex>)>>,
}

impl Variation {
    fn of_liquid(&self, quantity: LiquidQuantity, planned: f64) -> f64 {
        self.values.get(&Parameter::Liquid(quantity)).copied().unwrap_or(planned)
    }

    fn of_supply(&self, quantity: SupplyQuantity) -> Option<f64> {
        self.values.get(&Parameter::Supply(quantity)).copied()
    }

    pub(super) fn liquid(&self, planned: LiquidState) -> LiquidState {
        LiquidState {
            density: Density::from_si(self.of_liquid(LiquidQuantity::Density, planned.density.si())),
            viscosity: Viscosity::from_si(self.of_liquid(LiquidQuantity::Viscosity, planned.viscosity.si())),
            ..planned
        }
    }

    pub(super) fn supply(&self, planned: &Supply) -> Supply {
        let mut supply = planned.clone();
        if let Some(value) = self.of_supply(SupplyQuantity::Pressure).map(Pressure::from_si) {
            supply.control = match supply.control {
                Control::Metered { .. } => Control::Metered { limit: value },
                Control::Held { .. } => Control::Held { pressure: value },
                Control::Uncontrolled => Control::Uncontrolled,
            };
        }
        if let Some(value) = self.of_supply(SupplyQuantity::Capacity) {
            supply.pump_capacity = Some(Flow::from_si(value));
        }
        if let Some(part) = self.of_supply(SupplyQuantity::CurvePressure) {
            for point in &mut supply.pump_curve {
                point.pressure = point.pressure * part;
            }
        }
        supply
    }

    pub(super) fn metered_flow(&self) -> Option<Flow> {
        self.of_supply(SupplyQuantity::MeteredFlow).map(Flow::from_si)
    }
}

/// Derivatives of a routing's rows and pressures by one number.
#[derive(Debug, Clone, PartialEq)]
pub struct Derivatives {
    /// The number.
    pub parameter: Parameter,
    /// Of each row's flow, m³/s each; rows that nothing flows to have zero.
    pub(super) rows: Vec<(RowId, Derivative)>,
    /// Of the pressure that an outcome gives for each part, Pa each.
    pub(super) parts: Vec<(PartId, Derivative)>,
    /// Of the pressure at the pump's outlet, Pa each.
    pub pump: Option<Derivative>,
}

impl Derivatives {
    /// Of a row's flow.
    pub fn row(&self, row: RowId) -> Option<Derivative> {
        self.rows.iter().find(|one| one.0 == row).map(|one| one.1)
    }

    /// Of a part's pressure, if it has one.
    pub fn part(&self, part: PartId) -> Option<Derivative> {
        self.parts.iter().find(|one| one.0 == part).map(|one| one.1)
    }
}
