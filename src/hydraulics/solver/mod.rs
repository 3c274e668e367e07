//! Flows and pressures of a whole network, or which part keeps it from being solved.
//!
//! The network is monotone: every loss rises with its flow. So there is one answer, and Newton's method on the linked
//! equations (each link's loss equals the difference of heads at its ends; flows balance at each node) comes to it.
//! Each step replaces every loss by a tangent, eliminates tree parts from their leaves and ring nodes by star-mesh
//! transformation, and finds heads and flows at once; flows balance after every step. A valve whose flow turns
//! negative is shut; a shut one whose difference passes its cracking pressure is opened again. When plain steps do not
//! settle, [`Solver`] turns to damped ones that can't overshoot.
//!
//! Nothing is random or timed: the same calls give the same bits. A warm solve, with the topology unchanged, does not
//! allocate. Read [`solve`] and [`Solver::solve`] first, then `topology` (what is known before any number), `core`
//! (rings), `supply` (the law of the supply) and [`Solution`].

mod core;
mod descent;
pub mod response;
mod result;
mod supply;
mod topology;

use super::link::{Law, Terms};
use super::losses::{
    Loss,
    friction::{Friction, Place},
};
use super::network::{Boundary, Fluid, FrictionLaw, LinkKind, Network, Rejection};
use petgraph::graph::{EdgeIndex, NodeIndex};
pub use result::Solution;
use supply::Supply;
use topology::{NONE, Topology, Way};

/// Steps after which a solve is given up.
const MOST_STEPS: usize = 400;
/// The same, once [`PATIENCE`] is over: the flow along a ring part without friction hardly shows in any pressure.
const LOOSE_FLOW_TOLERANCE: f64 = 1e-6;
/// Steps after which the loose tolerance is enough.
const PATIENCE: usize = 60;
/// Least slope of a chain, as a part of the largest loss over the largest flow: keeps links without resistance from
/// dividing by zero. It slows such links down, and never shifts the answer.
const FLOOR: f64 = 1e-10;
/// A tangent is kept while the flow moves by no more than this part of itself: it is then exact to the last digits.
const NEAR: f64 = 2e-8;
/// Plain steps after which damped ones take over.
const PLAIN_STEPS: usize = 30;
/// How far beyond its cracking pressure, as a part of the heads beside it, a shut valve opens.
const OPENING_TOLERANCE: f64 = 1e-12;
/// Energy residual, as a part of the largest loss, at which a solve is done.
const ENERGY_TOLERANCE: f64 = 1e-10;
/// Error of flow, as a part of the largest flow, at which a solve is done.
const FLOW_TOLERANCE: f64 = 1e-9;

/// Why there is no solution.
#[derive(Debug, Clone, PartialEq)]
pub enum Failure {
    /// The network can't be asked to be solved; says why and where.
    Rejected(Rejection),
    /// The solver did not settle; names the link that is furthest from satisfied.
    NotSettled {
        /// The link to blame.
        link: Option<EdgeIndex>,
        /// Where, what, and what to try.
        message: String,
    },
}

impl std::fmt::Display for Failure {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Rejected(rejection) => rejection.fmt(f),
            Self::NotSettled { message, .. } => f.write_str(message),
        }
    }
}

impl std::error::Error for Failure {}

impl From<Rejection> for Failure {
    fn from(rejection: Rejection) -> Self {
        Self::Rejected(rejection)
    }
}

/// Solves a network once.
///
/// ```
/// use equirow::hydraulics::{network::*, solver};
/// use petgraph::graph::DiGraph;
/// // Hagen-Poiseuille: 3 mm by 1 m, 50 mPa s, 1 kPa -> 3.97607820e-8 m3/s (exact)
/// let mut graph = DiGraph::new();
/// let node = |name: &str, pressure| Node { name: name.into(), elevation_m: 0.0, boundary: Boundary::Pressure(pressure) };
/// let (a, b) = (graph.add_node(node("a", 1000.0)), graph.add_node(node("b", 0.0)));
/// let kind = LinkKind::Pipe { length_m: 1.0, bore_m: 0.003, roughness_m: 0.0, k_minor: 0.0 };
/// graph.add_edge(a, b, Link { name: "p".into(), kind, closed: false });
/// let fluid = Fluid { density_kg_m3: 1400.0, viscosity_pa_s: 0.05 };
/// let network = Network { graph, fluid, gravity_m_s2: 9.80665, friction_law: FrictionLaw::default() };
/// let solution = solver::solve(&network)?;
/// assert!((solution.link_flow_m3s[0] / 3.976078202199582e-8 - 1.0).abs() < 1e-9);
/// # Ok::<(), solver::Failure>(())
/// ```
pub fn solve(network: &Network) -> Result<Solution, Failure> {
    let mut solver = Solver::new(network)?;
    solver.run(network)?;
    Ok(solver.solution)
}

/// A solver that is kept from solve to solve.
///
/// Give [`solve`](Self::solve) the changed network: what changed is found by comparison. Lengths, heights,
/// pressures, flows and the liquid cost only the arithmetic; a change of topology (nodes, links, closed links, bores, a flow
/// boundary turned into a pressure boundary, a flow that becomes zero) costs a new set-up, done by itself.
#[derive(Debug, Clone)]
pub struct Solver {
    topology: Topology,
    given: Given,
    chains: Vec<ChainState>,
    pipes: Vec<PipeState>,
    /// Pipe of a link, or `NONE`.
    pipe_of_link: Vec<u32>,
    /// Laws of the links, friction apart; those of links in no chain are not kept.
    terms: Vec<Terms>,
    /// Chain of a link, or `NONE`.
    chain_of_link: Vec<u32>,
    /// Head (pressure and static head) by slot, Pa.
    head: Vec<f64>,
    inflow: Vec<f64>,
    ground: Vec<f64>,
    source: Vec<f64>,
    /// Flow towards the parent and its fall with the parent's head, by tree slot.
    parent_flow: Vec<(f64, f64)>,
    /// Links whose numbers differ from the last solve.
    changed_links: Vec<u32>,
    /// Whether shut valves must be looked at again before a solve can be done.
    unsettled: bool,
    supply: Option<Supply>,
    balance: result::Workspace,
    warm: bool,
    floor: f64,
    /// Slope of a shut chain.
    leak: f64,
    /// Largest flow of the last step, m³/s.
    largest_flow: f64,
    /// Slope that the first guess had on the whole: its largest loss over its largest flow.
    typical: f64,
    solution: Solution,
}

/// The network as it was at the last solve.
#[derive(Debug, Clone)]
struct Given {
    fluid: Fluid,
    law: FrictionLaw,
    gravity: f64,
    boundaries: Vec<Boundary>,
    elevations: Vec<f64>,
    links: Vec<(u32, u32, bool, LinkKind)>,
}

#[derive(Debug, Clone)]
struct PipeState {
    friction: Friction,
    place: Place,
    /// Last tangent of this pipe alone: offset and slope.
    tangent: (f64, f64),
}

#[derive(Debug, Clone, Copy)]
struct ChainState {
    from: u32,
    to: u32,
    pipes: (u32, u32),
    way: Way,
    /// Whether it may carry liquid now; always so without a valve.
    open: bool,
    /// Sum of quadratic terms, Pa s²/m⁶, and of linear ones, Pa s/m³, pipes apart.
    quadratic: f64,
    linear: f64,
    crack: f64,
    /// Flow, m³/s, and the tangent `Δhead = offset + slope q`.
    flow: f64,
    offset: f64,
    slope: f64,
    /// Flow at which the tangent was laid; not a number if it must be laid anew.
    touched: f64,
    /// `1/slope` of chains to held nodes and on rings.
    conductance: f64,
}

impl ChainState {
    fn difference(&self, head: &[f64]) -> f64 {
        head[self.from as usize] - head[self.to as usize]
    }

    /// Sign of the flow that its valves let pass; 0 for both.
    fn sign(&self) -> f64 {
        match self.way {
            Way::Forward => 1.0,
            Way::Backward => -1.0,
            Way::Both | Way::Never => 0.0,
        }
    }
}

impl Solver {
    /// Checks a network and sets up for its topology.
    pub fn new(network: &Network) -> Result<Self, Failure> {
        network.validate()?;
        Ok(Self::set_up(network))
    }

    /// Solves the network, starting from the last solution if there is one.
    pub fn solve(&mut self, network: &Network) -> Result<&Solution, Failure> {
        self.run(network)?;
        Ok(&self.solution)
    }

    /// What the last solve found; nothing before the first one.
    pub fn solution(&self) -> &Solution {
        &self.solution
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

    /// Forgets the last solution, so that the next solve starts from a cold guess and gives the bits of a first one.
    pub fn forget(&mut self) {
        self.warm = false;
        // Ring parts are solved for changes of heads, so that even a cold guess shows where heads were before.
        self.head[..self.topology.unknown()].fill(0.0);
        for chain in &mut self.chains {
            chain.touched = f64::NAN;
        }
        for pipe in &mut self.pipes {
            pipe.place = Place::default();
        }
    }

    fn run(&mut self, network: &Network) -> Result<(), Failure> {
        if self.same_topology(network) {
            self.take_changes(network)?;
        } else {
            network.validate()?;
            *self = Self::set_up(network);
        }
        self.ask_supply();
        let mut outcome = Err(NONE);
        if self.warm {
            outcome = self.iterate(PLAIN_STEPS);
        }
        if outcome.is_err() {
            self.forget();
            self.guess();
            outcome = self.iterate(PLAIN_STEPS);
        }
        if outcome.is_err() {
            let steps = self.descend();
            self.warm = true;
            self.unsettled = true;
            outcome = self.iterate(MOST_STEPS).map(|more| PLAIN_STEPS + steps + more);
        }
        match outcome {
            Ok(steps) => {
                self.warm = true;
                self.finish(network, steps);
                Ok(())
            }
            Err(chain) => {
                self.forget();
                Err(self.blame(network, chain))
            }
        }
    }

    fn blame(&self, network: &Network, chain: u32) -> Failure {
        let link =
            self.topology.chains.get(chain as usize).map(|chain| {
                EdgeIndex::new(self.topology.elements[chain.elements.start as usize].link as usize)
            });
        let name =
            link.and_then(|link| network.graph.edge_weight(link)).map_or("", |link| link.name.as_str());
        Failure::NotSettled {
            link,
            message: format!(
                "the flows did not settle within {MOST_STEPS} steps; the line with link '{name}' is furthest off: look for a part without any resistance between two held pressures"
            ),
        }
    }

    fn set_up(network: &Network) -> Self {
        let topology = Topology::new(network);
        let edges = network.graph.raw_edges();
        let mut pipe_of_link = vec![NONE; edges.len()];
        let mut chain_of_link = vec![NONE; edges.len()];
        let mut pipes = Vec::new();
        let mut terms = vec![Terms::NONE; edges.len()];
        let mut chains = Vec::with_capacity(topology.chains.len());
        for (index, chain) in topology.chains.iter().enumerate() {
            let first = pipes.len() as u32;
            for element in &topology.elements[chain.elements.start as usize..chain.elements.end as usize] {
                chain_of_link[element.link as usize] = index as u32;
                let law = edges[element.link as usize].weight.kind.law(&network.fluid, network.friction_law);
                terms[element.link as usize] = law.terms;
                if let Some(friction) = law.friction {
                    pipe_of_link[element.link as usize] = pipes.len() as u32;
                    pipes.push(PipeState { friction, place: Place::default(), tangent: (0.0, 0.0) });
                }
            }
            chains.push(ChainState {
                from: chain.from,
                to: chain.to,
                pipes: (first, pipes.len() as u32),
                way: chain.way,
                open: chain.way != Way::Never,
                quadratic: 0.0,
                linear: 0.0,
                crack: 0.0,
                flow: 0.0,
                offset: 0.0,
                slope: 0.0,
                touched: f64::NAN,
                conductance: 0.0,
            });
        }
        let unknown = topology.unknown();
        let given = Given {
            fluid: network.fluid,
            law: network.friction_law,
            gravity: network.gravity_m_s2,
            boundaries: network.graph.node_weights().map(|node| node.boundary.clone()).collect(),
            elevations: network.graph.node_weights().map(|node| node.elevation_m).collect(),
            links: edges
                .iter()
                .map(|e| {
                    (e.source().index() as u32, e.target().index() as u32, e.weight.closed, e.weight.kind)
                })
                .collect(),
        };
        let mut solver = Self {
            head: vec![0.0; topology.slot_node.len()],
            inflow: vec![0.0; unknown],
            ground: vec![0.0; unknown],
            source: vec![0.0; unknown],
            parent_flow: vec![(0.0, 0.0); topology.tree.len()],
            supply: Supply::new(&topology, &given),
            balance: result::Workspace::new(&topology),
            solution: Solution::empty(given.boundaries.len(), given.links.len()),
            topology,
            given,
            chains,
            pipes,
            pipe_of_link,
            terms,
            changed_links: Vec::with_capacity(network.graph.edge_count()),
            unsettled: true,
            chain_of_link,
            warm: false,
            floor: 0.0,
            leak: 0.0,
            typical: 1.0,
            largest_flow: 0.0,
        };
        for chain in 0..solver.chains.len() {
            solver.sum_up(chain);
        }
        solver.take_boundaries();
        solver
    }

    /// Sums up what a chain's fittings, orifices and valves contribute.
    fn sum_up(&mut self, index: usize) {
        let range = self.topology.chains[index].elements.clone();
        let (mut quadratic, mut linear, mut crack) = (0.0, 0.0, 0.0);
        for element in &self.topology.elements[range.start as usize..range.end as usize] {
            let terms = &self.terms[element.link as usize];
            quadratic += terms.quadratic;
            linear += terms.linear;
            crack += terms.crack_pa;
        }
        let chain = &mut self.chains[index];
        (chain.quadratic, chain.linear, chain.crack) = (quadratic, linear, crack);
        chain.touched = f64::NAN;
    }

    fn take_boundaries(&mut self) {
        let weight = self.given.fluid.density_kg_m3 * self.given.gravity;
        for (slot, &node) in self.topology.slot_node.iter().enumerate() {
            match self.given.boundaries[node as usize] {
                Boundary::Inflow(_) | Boundary::Supply(_) => {
                    if let Some(inflow) = self.inflow.get_mut(slot) {
                        *inflow = self.given.boundaries[node as usize].inflow();
                    }
                }
                Boundary::Pressure(pressure) => {
                    self.head[slot] = pressure + weight * self.given.elevations[node as usize];
                }
            }
        }
    }

    /// Whether the topology is the one set up for. Notes which links differ in their numbers.
    fn same_topology(&mut self, network: &Network) -> bool {
        let sign = |boundary: &Boundary| match boundary {
            Boundary::Supply(_) => 3,
            Boundary::Pressure(_) => 2,
            Boundary::Inflow(flow) if *flow > 0.0 => 1,
            Boundary::Inflow(flow) if *flow < 0.0 => -1,
            Boundary::Inflow(_) => 0,
        };
        let (nodes, edges) = (network.graph.raw_nodes(), network.graph.raw_edges());
        if nodes.len() != self.given.boundaries.len() || edges.len() != self.given.links.len() {
            return false;
        }
        for (node, was) in nodes.iter().zip(&self.given.boundaries) {
            if node.weight.boundary != *was && sign(&node.weight.boundary) != sign(was) {
                return false;
            }
        }
        self.changed_links.clear();
        for (index, (edge, was)) in edges.iter().zip(&self.given.links).enumerate() {
            if edge.source().index() as u32 != was.0
                || edge.target().index() as u32 != was.1
                || edge.weight.closed != was.2
            {
                return false;
            }
            if edge.weight.kind != was.3 {
                // Bores rank the ways to a held pressure: with others the order of elimination, and so the last digits,
                // would depend on what was solved before.
                if std::mem::discriminant(&edge.weight.kind) != std::mem::discriminant(&was.3)
                    || edge.weight.kind.bore_m() != was.3.bore_m()
                {
                    return false;
                }
                self.changed_links.push(index as u32);
            }
        }
        true
    }

    /// Takes over whatever numbers changed; the topology is the same.
    fn take_changes(&mut self, network: &Network) -> Result<(), Failure> {
        let all = self.given.fluid != network.fluid
            || self.given.law != network.friction_law
            || self.given.gravity != network.gravity_m_s2;
        // Everything is checked before anything is taken over, so that a refusal leaves the solver as it was.
        if all {
            network.validate_liquid()?;
        }
        for &index in &self.changed_links {
            network.validate_link(EdgeIndex::new(index as usize))?;
        }
        let mut moved = all;
        for (index, node) in network.graph.raw_nodes().iter().enumerate() {
            let same = node.weight.elevation_m == self.given.elevations[index]
                && node.weight.boundary == self.given.boundaries[index];
            if !same {
                network.validate_node(NodeIndex::new(index))?;
                moved = true;
            }
        }
        self.unsettled = moved;
        if all {
            self.given.fluid = network.fluid;
            self.given.law = network.friction_law;
            self.given.gravity = network.gravity_m_s2;
            self.changed_links.clear();
            self.changed_links.extend(0..self.given.links.len() as u32);
        }
        let edges = network.graph.raw_edges();
        for at in 0..self.changed_links.len() {
            let index = self.changed_links[at] as usize;
            let kind = edges[index].weight.kind;
            self.given.links[index].3 = kind;
            if self.chain_of_link[index] == NONE {
                continue;
            }
            let law = kind.law(&network.fluid, network.friction_law);
            self.terms[index] = law.terms;
            if let Some(pipe) = self.pipes.get_mut(self.pipe_of_link[index] as usize)
                && let Some(friction) = law.friction
            {
                if !friction.same_curve(&pipe.friction) {
                    pipe.place = Place::default();
                }
                pipe.friction = friction;
            }
        }
        for at in 0..self.changed_links.len() {
            let chain = self.chain_of_link[self.changed_links[at] as usize];
            if chain != NONE {
                self.sum_up(chain as usize);
                self.unsettled |= !self.chains[chain as usize].open;
            }
        }
        if moved {
            for (index, node) in network.graph.raw_nodes().iter().enumerate() {
                self.given.elevations[index] = node.weight.elevation_m;
                self.given.boundaries[index].clone_from(&node.weight.boundary);
            }
            self.take_boundaries();
        }
        Ok(())
    }

    /// Rough linear and quadratic terms of a chain, friction included: good enough for a first guess.
    fn rough_terms(&self, index: usize) -> (f64, f64) {
        let chain = &self.chains[index];
        let (mut linear, mut quadratic) = (chain.linear, chain.quadratic);
        for pipe in &self.pipes[chain.pipes.0 as usize..chain.pipes.1 as usize] {
            let (laminar, turbulent) = pipe.friction.rough();
            linear += laminar;
            quadratic += turbulent;
        }
        (linear, quadratic)
    }

    /// A rough flow through a chain at a difference of heads beyond its cracking pressure.
    fn rough_flow(&self, index: usize, difference: f64) -> f64 {
        let (linear, quadratic) = self.rough_terms(index);
        let root = (linear * linear + 4.0 * quadratic * difference).sqrt();
        if linear + root > 0.0 { 2.0 * difference / (linear + root) } else { 0.0 }
    }

    /// A cold guess of all flows: the rows' by the pressure at hand or by equal shares, the mains' by adding up.
    fn guess(&mut self) {
        let unknown = self.topology.unknown();
        let fed: f64 = self.inflow.iter().filter(|&&flow| flow > 0.0).sum();
        let mut highest = self.head[unknown..].iter().fold(f64::NEG_INFINITY, |a, &b| a.max(b));
        let held_supply = self.supply.as_ref().filter(|supply| !supply.holds_flow());
        if let Some(supply) = held_supply {
            highest = highest.max(supply.piece.pressure_pa + self.supply_lift(supply));
        }
        let held_supply = held_supply.map(|supply| supply.slot);
        let mut given_out = 0.0;
        let grounds = self.topology.core_chains.start as usize;
        let to_held = |chain: &ChainState| (chain.to as usize) >= unknown;
        let outlets =
            self.chains[..grounds].iter().filter(|c| to_held(c) && c.way != Way::Never).count().max(1);
        let share = fed / outlets as f64;
        let mut least = f64::INFINITY;
        let mut most: f64 = 0.0;
        for index in 0..self.chains.len() {
            let chain = self.chains[index];
            let mut flow = 0.0;
            if to_held(&chain) {
                let available = if (chain.from as usize) < unknown {
                    highest - self.head[chain.to as usize]
                } else {
                    chain.difference(&self.head)
                };
                flow = if (chain.from as usize) < unknown && fed > 0.0 {
                    share
                } else {
                    let beyond = available.abs() - chain.crack;
                    if beyond > 0.0 { self.rough_flow(index, beyond).copysign(available) } else { 0.0 }
                };
            }
            if chain.sign() * flow < 0.0 {
                flow = 0.0;
            }
            if flow != 0.0 {
                least = least.min(flow.abs());
                most = most.max(flow.abs());
            }
            self.chains[index].flow = flow;
            self.chains[index].open = chain.way != Way::Never;
            given_out += if (chain.from as usize) < unknown { flow } else { 0.0 };
        }
        if !least.is_finite() {
            least = if fed > 0.0 {
                share
            } else {
                self.inflow.iter().fold(0.0, |a: f64, b| a.max(b.abs())).max(1e-9)
            };
            most = least;
        }
        // Mains carry the sum of what hangs on them.
        self.source.copy_from_slice(&self.inflow);
        if let Some(slot) = held_supply {
            self.source[slot] += given_out;
        }
        for slot in 0..self.topology.tree.len() {
            let step = &self.topology.tree[slot];
            for chain in &self.chains[step.ground.start as usize..step.ground.end as usize] {
                self.source[slot] -= chain.flow;
            }
            let onward = self.source[slot];
            let chain = &mut self.chains[step.parent as usize];
            if let Some(parent) = self.source.get_mut(chain.to as usize) {
                *parent += onward;
            }
            let sign = chain.sign();
            let mut flow = if sign == 0.0 { onward } else { sign * onward.abs() };
            if flow.abs() < least {
                flow = if sign == 0.0 { least.copysign(onward) } else { sign * least };
            }
            chain.flow = flow;
        }
        let ring = self.topology.core_ground.start as usize..self.topology.core_chains.end as usize;
        for chain in &mut self.chains[ring] {
            if chain.flow == 0.0 {
                let sign = chain.sign();
                chain.flow = if sign == 0.0 { most } else { sign * most };
            }
        }
        // A slope far below anything that matters keeps links without resistance from dividing by zero.
        let mut loss: f64 = 0.0;
        let mut largest: f64 = 0.0;
        for index in 0..self.chains.len() {
            let flow = self.chains[index].flow.abs();
            let (linear, quadratic) = self.rough_terms(index);
            loss = loss.max(self.chains[index].crack + (linear + quadratic * flow) * flow);
            largest = largest.max(flow);
        }
        let typical = if largest > 0.0 && loss > 0.0 { loss / largest } else { 1e9 };
        self.typical = typical;
        self.largest_flow = largest;
        self.floor = FLOOR * typical;
        self.leak = 1e15 * typical;
        self.follow_supply();
    }

    /// Lays a tangent to a chain's loss at its flow.
    #[inline]
    fn touch(&mut self, index: usize) {
        let chain = &mut self.chains[index];
        let flow = chain.flow;
        if (flow - chain.touched).abs() <= NEAR * flow.abs() && chain.slope > 2.0 * self.floor {
            return;
        }
        let mut exact = true;
        let rise = chain.quadratic * flow.abs();
        let mut offset = -rise * flow;
        let mut slope = chain.linear + 2.0 * rise;
        for pipe in &mut self.pipes[chain.pipes.0 as usize..chain.pipes.1 as usize] {
            pipe.tangent = pipe.friction.tangent(flow, &mut pipe.place);
            exact &= pipe.friction.touches(flow, &pipe.place);
            offset += pipe.tangent.0;
            slope += pipe.tangent.1;
        }
        match chain.way {
            Way::Forward => offset += chain.crack,
            Way::Backward => offset -= chain.crack,
            Way::Both | Way::Never => {}
        }
        if slope < self.floor {
            offset += (slope - self.floor) * flow;
            slope = self.floor;
        }
        chain.offset = offset;
        chain.slope = slope;
        chain.touched = if exact { flow } else { f64::NAN };
    }

    /// A shut chain passes nothing at the present difference of heads, and next to nothing near it: heads that only shut
    /// valves border on stay where they are.
    #[inline]
    fn hold_shut(&mut self, index: usize) {
        let chain = &mut self.chains[index];
        chain.flow = 0.0;
        chain.touched = f64::NAN;
        chain.offset = chain.difference(&self.head);
        chain.slope = self.leak;
    }

    /// Newton steps until done. The error is the chain that is furthest off.
    fn iterate(&mut self, most: usize) -> Result<usize, u32> {
        let trees = self.topology.tree.len();
        let unknown = self.topology.unknown();
        let mut first = !self.warm;
        let mut changed = first || self.unsettled;
        let mut worst = NONE;
        let mut flow_error = 0.0;
        for step in 0..most {
            let mut check = Check::new(&self.head);
            self.ground.fill(0.0);
            self.source.copy_from_slice(&self.inflow);
            self.load_supply();
            for slot in 0..trees {
                let Step { ground, parent } = Step::of(&self.topology.tree[slot]);
                for index in ground {
                    self.touch_or_hold(index, &mut check, first);
                    self.load_ground(index, slot);
                }
                self.touch_or_hold(parent, &mut check, first);
                self.load_parent(parent, slot, unknown);
            }
            for index in self.topology.core_ground.start as usize..self.topology.core_chains.end as usize {
                self.touch_or_hold(index, &mut check, first);
                self.load_ring(index, unknown);
            }
            for index in self.topology.free_chains.start as usize..self.topology.free_chains.end as usize {
                self.touch_or_hold(index, &mut check, first);
            }
            let tolerance = if step < PATIENCE { FLOW_TOLERANCE } else { LOOSE_FLOW_TOLERANCE };
            // Rings are solved for changes: after a step that was far off another one is needed to get rid of its rounding.
            let calm = self.topology.core_count == 0 || flow_error <= 1e3 * check.largest_flow;
            if !first && !changed && check.done(tolerance) && (calm || step >= PATIENCE) {
                if self.supply_is_on_its_piece() {
                    return Ok(step);
                }
                // What was summed up is of the piece before: once more, with the same tangents.
                changed = true;
                continue;
            }
            flow_error = check.largest_error;
            self.largest_flow = check.largest_flow;
            worst = check.worst;
            if check.largest_flow > 0.0 && check.largest_loss > 0.0 {
                self.floor = FLOOR * check.largest_loss / check.largest_flow;
            }
            changed = self.advance();
            self.follow_supply();
            first = false;
        }
        Err(worst)
    }

    #[inline]
    fn touch_or_hold(&mut self, index: usize, check: &mut Check, first: bool) {
        if self.chains[index].open {
            self.touch(index);
            if !first {
                let chain = &self.chains[index];
                check.take(index, chain, chain.difference(&self.head));
            }
        } else {
            self.hold_shut(index);
        }
    }

    /// Heads from tangents that were laid chain by chain: what a Newton step does in one sweep, for the descent.
    fn solve_heads(&mut self) {
        self.ground.fill(0.0);
        self.source.copy_from_slice(&self.inflow);
        self.load_supply();
        self.eliminate();
    }

    /// Heads from tangents that were laid, and from what was put in at the junctions.
    fn eliminate(&mut self) {
        let unknown = self.topology.unknown();
        for slot in 0..self.topology.tree.len() {
            let Step { ground, parent } = Step::of(&self.topology.tree[slot]);
            for index in ground {
                self.load_ground(index, slot);
            }
            self.load_parent(parent, slot, unknown);
        }
        for index in self.topology.core_ground.start as usize..self.topology.core_chains.end as usize {
            self.load_ring(index, unknown);
        }
        self.solve_ring();
        for slot in (0..self.topology.tree.len()).rev() {
            let chain = &self.chains[self.topology.tree[slot].parent as usize];
            let above = self.head[chain.to as usize];
            let flow = self.parent_flow[slot].0 - self.parent_flow[slot].1 * above;
            self.head[slot] = above + chain.offset + chain.slope * flow;
        }
    }

    /// Adds a chain to a held node to its junction.
    #[inline]
    fn load_ground(&mut self, index: usize, slot: usize) {
        let chain = &mut self.chains[index];
        chain.conductance = 1.0 / chain.slope;
        self.ground[slot] += chain.conductance;
        self.source[slot] += chain.conductance * (self.head[chain.to as usize] + chain.offset);
    }

    /// Eliminates a junction of a tree part: what is left is a conductance and a source at its parent.
    #[inline]
    fn load_parent(&mut self, index: usize, slot: usize, unknown: usize) {
        let chain = &self.chains[index];
        let (conductance, source) = (self.ground[slot], self.source[slot]);
        let weight = 1.0 / (1.0 + chain.slope * conductance);
        let flow = (source - conductance * chain.offset) * weight;
        let fall = conductance * weight;
        self.parent_flow[slot] = (flow, fall);
        let to = chain.to as usize;
        if to < self.topology.tree.len() {
            self.ground[to] += fall;
            self.source[to] += flow;
        } else if to < unknown {
            self.ground[to] += fall;
            self.source[to] += flow - fall * self.head[to];
        }
    }

    /// Adds a chain of the ring part to its junctions, as the flow it would pass at the present heads: the ring part is
    /// solved for changes of heads, lest large cracking pressures times large conductances drown the balance.
    #[inline]
    fn load_ring(&mut self, index: usize, unknown: usize) {
        let chain = &mut self.chains[index];
        chain.conductance = 1.0 / chain.slope;
        let flow = (chain.difference(&self.head) - chain.offset) * chain.conductance;
        let from = chain.from as usize;
        self.source[from] -= flow;
        if (chain.to as usize) < unknown {
            self.source[chain.to as usize] += flow;
        } else {
            self.ground[from] += chain.conductance;
        }
    }

    /// Heads of the ring part.
    fn solve_ring(&mut self) {
        if self.topology.core_count == 0 {
            return;
        }
        let trees = self.topology.tree.len();
        self.topology.core.clear();
        for node in 0..self.topology.core_count {
            self.topology.core.add_node(node as u32, self.ground[trees + node], self.source[trees + node]);
        }
        let core_chains = self.topology.core_chains.start as usize..self.topology.core_chains.end as usize;
        for (at, index) in core_chains.enumerate() {
            self.topology.core.add_pair(self.topology.core_entries[at], self.chains[index].conductance);
        }
        self.topology.core.solve();
        for node in 0..self.topology.core_count {
            self.head[trees + node] += self.topology.core.solution(node as u32);
        }
    }

    /// Heads and flows from the tangents. Says whether a valve opened or shut.
    fn advance(&mut self) -> bool {
        let trees = self.topology.tree.len();
        let mut changed = false;
        if self.topology.core_count > 0 {
            self.solve_ring();
            for index in self.topology.core_ground.start as usize..self.topology.core_chains.end as usize {
                let chain = &self.chains[index];
                let flow = (chain.difference(&self.head) - chain.offset) * chain.conductance;
                changed |= self.settle(index, flow);
            }
        }
        for slot in (0..trees).rev() {
            let Step { ground, parent } = Step::of(&self.topology.tree[slot]);
            let chain = &self.chains[parent];
            let above = self.head[chain.to as usize];
            let flow = self.parent_flow[slot].0 - self.parent_flow[slot].1 * above;
            self.head[slot] = above + chain.offset + chain.slope * flow;
            changed |= self.settle(parent, flow);
            for index in ground {
                let chain = &self.chains[index];
                let flow = (chain.difference(&self.head) - chain.offset) * chain.conductance;
                changed |= self.settle(index, flow);
            }
        }
        for index in self.topology.free_chains.start as usize..self.topology.free_chains.end as usize {
            let chain = &self.chains[index];
            if chain.open {
                let flow = (chain.difference(&self.head) - chain.offset) / chain.slope;
                changed |= self.settle(index, flow);
            } else {
                changed |= self.settle(index, 0.0);
            }
        }
        changed
    }

    /// Takes over a chain's flow, shutting or opening its valve. Says whether that changed.
    #[inline]
    fn settle(&mut self, index: usize, flow: f64) -> bool {
        let chain = &mut self.chains[index];
        if chain.way == Way::Both {
            chain.flow = flow;
            return false;
        }
        let sign = chain.sign();
        if chain.open {
            if flow * sign > 0.0 {
                chain.flow = flow;
                return false;
            }
            chain.open = false;
            chain.flow = 0.0;
            return true;
        }
        chain.flow = 0.0;
        if sign == 0.0 {
            return false;
        }
        let difference = sign * chain.difference(&self.head);
        let crack = chain.crack;
        let noise = OPENING_TOLERANCE
            * (self.head[chain.from as usize].abs() + self.head[chain.to as usize].abs() + crack);
        if difference - crack <= noise {
            return false;
        }
        // Not more than the network carries now: a line that is little but a valve would start absurdly high.
        let rough = self.rough_flow(index, difference - crack);
        let flow = sign * if self.largest_flow > 0.0 { rough.min(self.largest_flow) } else { rough };
        let chain = &mut self.chains[index];
        chain.open = true;
        chain.flow = flow;
        true
    }
}

/// Ranges of one step, taken out of the topology so that the solver can be changed while walking them.
struct Step {
    ground: std::ops::Range<usize>,
    parent: usize,
}

impl Step {
    #[inline]
    fn of(step: &topology::Step) -> Self {
        Self { ground: step.ground.start as usize..step.ground.end as usize, parent: step.parent as usize }
    }
}

/// How far the last step is from the answer.
struct Check {
    largest_loss: f64,
    largest_flow: f64,
    largest_residual: f64,
    /// Largest residual divided by slope: the flow by which a chain is off.
    largest_error: f64,
    worst: u32,
    noise: f64,
    /// Whether some tangent touches its curve beside the flow rather than at it.
    inexact: bool,
}

impl Check {
    fn new(head: &[f64]) -> Self {
        let highest = head.iter().fold(0.0, |a: f64, b| a.max(b.abs()));
        Self {
            largest_loss: 0.0,
            largest_flow: 0.0,
            largest_residual: 0.0,
            largest_error: 0.0,
            worst: NONE,
            noise: 8.0 * f64::EPSILON * highest,
            inexact: false,
        }
    }

    #[inline]
    fn take(&mut self, index: usize, chain: &ChainState, difference: f64) {
        let loss = chain.offset + chain.slope * chain.flow;
        let residual = (loss - difference).abs();
        self.largest_loss = self.largest_loss.max(loss.abs());
        self.largest_flow = self.largest_flow.max(chain.flow.abs());
        if residual > self.largest_residual || !residual.is_finite() {
            self.largest_residual = residual;
            self.worst = index as u32;
        }
        self.inexact |= chain.touched.is_nan();
        // Not counted: what rounding of the heads alone explains.
        let beyond = residual - self.noise;
        if beyond > self.largest_error * chain.slope {
            self.largest_error = beyond / chain.slope;
        }
    }

    fn done(&self, flow_tolerance: f64) -> bool {
        !self.inexact
            && self.largest_residual <= (ENERGY_TOLERANCE * self.largest_loss).max(self.noise)
            && self.largest_error <= flow_tolerance * self.largest_flow
    }
}
