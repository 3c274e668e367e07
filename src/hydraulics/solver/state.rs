//! What a solver keeps from solve to solve: the network as it was, and heads, flows and tangents.

use petgraph::graph::EdgeIndex;

use super::super::link::{Law, Terms};
use super::super::losses::Loss;
use super::super::losses::friction::{Friction, LastCurvePoint};
use super::super::network::{Boundary, Fluid, FrictionLaw, LinkKind};
use super::solution::{Solution, Workspace};
use super::supply_piece::HeldSupply;
use super::topology::{ChainWay, Topology};

/// Least slope of a chain, as a part of the largest loss over the largest flow: keeps links without resistance from
/// dividing by zero. It slows such links down, and never shifts the answer.
pub(super) const FLOOR: f64 = 1e-10;

/// A solver that is kept from solve to solve.
///
/// Give [`solve`](Self::solve) the changed network: what changed is found by comparison. Lengths, heights,
/// pressures, flows and the liquid cost only the arithmetic; a change of topology (nodes, links, closed links, bores, a flow
/// boundary turned into a pressure boundary, a flow that becomes zero) costs a new set-up, done by itself.
#[derive(Debug, Clone)]
pub struct Solver {
    pub(super) topology: Topology,
    pub(super) given: Given,
    pub(super) chains: Vec<ChainState>,
    pub(super) pipes: Vec<PipeState>,
    /// Pipe of a link, or `NONE`.
    pub(super) pipe_of_link: Vec<u32>,
    /// Laws of the links, friction apart; those of links in no chain are not kept.
    pub(super) terms: Vec<Terms>,
    /// Chain of a link, or `NONE`.
    pub(super) chain_of_link: Vec<u32>,
    /// Head (pressure and static head) by slot, Pa.
    pub(super) head: Vec<f64>,
    pub(super) inflow: Vec<f64>,
    pub(super) ground: Vec<f64>,
    pub(super) source: Vec<f64>,
    /// Flow towards the parent and its fall with the parent's head, by tree slot.
    pub(super) parent_flow: Vec<(f64, f64)>,
    /// Links whose numbers differ from the last solve.
    pub(super) changed_links: Vec<u32>,
    /// Whether shut valves must be looked at again before a solve can be done.
    pub(super) unsettled: bool,
    pub(super) supply: Option<HeldSupply>,
    pub(super) balance: Workspace,
    pub(super) warm: bool,
    pub(super) floor: f64,
    /// Slope of a shut chain.
    pub(super) leak: f64,
    /// Largest flow of the last step, m³/s.
    pub(super) largest_flow: f64,
    /// Slope that the first guess had on the whole: its largest loss over its largest flow.
    pub(super) typical: f64,
    pub(super) solution: Solution,
}

/// The network as it was at the last solve.
#[derive(Debug)]
pub(super) struct Given {
    pub(super) fluid: Fluid,
    pub(super) law: FrictionLaw,
    pub(super) gravity: f64,
    pub(super) boundaries: Vec<Boundary>,
    pub(super) elevations: Vec<f64>,
    pub(super) links: Vec<(u32, u32, bool, LinkKind)>,
}

impl Clone for Given {
    fn clone(&self) -> Self {
        Self {
            boundaries: self.boundaries.clone(),
            elevations: self.elevations.clone(),
            links: self.links.clone(),
            ..*self
        }
    }

    fn clone_from(&mut self, other: &Self) {
        (self.fluid, self.law, self.gravity) = (other.fluid, other.law, other.gravity);
        self.boundaries.clone_from(&other.boundaries);
        self.elevations.clone_from(&other.elevations);
        self.links.clone_from(&other.links);
    }
}

#[derive(Debug, Clone)]
pub(super) struct PipeState {
    pub(super) friction: Friction,
    pub(super) place: LastCurvePoint,
    /// Last tangent of this pipe alone: offset and slope.
    pub(super) tangent: (f64, f64),
}

#[derive(Debug, Clone, Copy)]
pub(super) struct ChainState {
    pub(super) from: u32,
    pub(super) to: u32,
    pub(super) pipes: (u32, u32),
    pub(super) way: ChainWay,
    /// Whether it may carry liquid now; always so without a valve.
    pub(super) open: bool,
    /// Sum of quadratic terms, Pa s²/m⁶, and of linear ones, Pa s/m³, pipes apart.
    pub(super) quadratic: f64,
    pub(super) linear: f64,
    pub(super) crack: f64,
    /// Flow, m³/s, and the tangent `Δhead = offset + slope q`.
    pub(super) flow: f64,
    pub(super) offset: f64,
    pub(super) slope: f64,
    /// Flow at which the tangent was laid; not a number if it must be laid anew.
    pub(super) touched: f64,
    /// `1/slope` of chains to held nodes and on rings.
    pub(super) conductance: f64,
}

impl ChainState {
    #[inline]
    pub(super) fn difference(&self, head: &[f64]) -> f64 {
        head[self.from as usize] - head[self.to as usize]
    }

    /// Sign of the flow that its valves let pass; 0 for both.
    #[inline]
    pub(super) fn sign(&self) -> f64 {
        match self.way {
            ChainWay::Forward => 1.0,
            ChainWay::Backward => -1.0,
            ChainWay::Both | ChainWay::Never => 0.0,
        }
    }
}

impl Solver {
    /// What the last solve found; nothing before the first one.
    pub fn solution(&self) -> &Solution {
        &self.solution
    }

    /// The liquid of the network last solved.
    pub(in crate::hydraulics) const fn fluid(&self) -> Fluid {
        self.given.fluid
    }

    /// Law of a link of the network last solved, without working its friction out anew.
    pub fn law(&self, link: EdgeIndex) -> Option<Law> {
        let (_, _, _, kind) = self.given.links.get(link.index())?;
        Some(match self.pipes.get(self.pipe_of_link[link.index()] as usize) {
            Some(pipe) => Law { terms: self.terms[link.index()], friction: Some(pipe.friction) },
            None => kind.law(&self.given.fluid, self.given.law),
        })
    }

    /// Loss of a link of the network last solved at a flow in m³/s.
    pub fn loss(&self, link: EdgeIndex, flow_m3s: f64) -> Loss {
        self.law(link).map_or(Loss::NONE, |law| law.loss(flow_m3s))
    }

    /// Goes back to the solution of another solver of the same network, so that the next solve depends on nothing that this
    /// one did meanwhile. Does not allocate.
    pub fn start_from(&mut self, start: &Self) {
        self.given.clone_from(&start.given);
        self.chains.clone_from(&start.chains);
        self.pipes.clone_from(&start.pipes);
        self.terms.clone_from(&start.terms);
        self.head.clone_from(&start.head);
        self.inflow.clone_from(&start.inflow);
        self.supply.clone_from(&start.supply);
        self.warm = start.warm;
        self.unsettled = true;
        self.floor = start.floor;
        self.leak = start.leak;
        self.largest_flow = start.largest_flow;
        self.typical = start.typical;
    }

    /// Forgets the last solution, so that the next solve starts from a cold guess and gives the bits of a first one.
    pub fn forget(&mut self) {
        self.warm = false;
        // Ring parts are solved for changes of heads, so that even a cold guess shows where heads were before.
        self.head[..self.topology.unknown()].fill(0.0);
        for chain in &mut self.chains {
            chain.touched = f64::NAN;
        }
        for pipe in &mut self.pipes {
            pipe.place = LastCurvePoint::default();
        }
    }
}
