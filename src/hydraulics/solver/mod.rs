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
//! allocate. Read [`solve`] and [`Solver::solve`] first, then `topology` (what is known before any number), `state` (what
//! is kept), `newton` (the steps), `core` (rings), `supply` (the law of the supply) and [`Solution`].

mod core;
mod descent;
mod factors;
mod failure;
mod guess;
mod newton;
pub mod response;
mod result;
mod set_up;
mod solution;
mod state;
mod supply;
mod supply_piece;
mod topology;

pub use failure::Failure;
pub use solution::Solution;
pub use state::Solver;

use petgraph::graph::EdgeIndex;

use super::network::Network;
use set_up::Order;
use topology::NONE;

/// Steps after which a solve is given up.
const MOST_STEPS: usize = 400;
/// Plain steps after which damped ones take over.
const PLAIN_STEPS: usize = 30;

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
    solver.run(network, Order::ByBores)?;
    Ok(solver.solution)
}

impl Solver {
    /// Checks a network and sets up for its topology.
    pub fn new(network: &Network) -> Result<Self, Failure> {
        network.validate()?;
        Ok(Self::set_up(network))
    }

    /// Sets up for a part of a network that was checked: what is cut off at an outlet of its own needs no second check.
    pub(super) fn of_checked(network: &Network) -> Self {
        Self::set_up(network)
    }

    /// Solves the network, starting from the last solution if there is one.
    pub fn solve(&mut self, network: &Network) -> Result<&Solution, Failure> {
        self.run(network, Order::ByBores)?;
        Ok(&self.solution)
    }

    /// The same in the order of elimination that it was set up with, although bores differ: for small changes of what it
    /// [started from](Self::start_from).
    pub fn solve_in_order(&mut self, network: &Network) -> Result<&Solution, Failure> {
        self.run(network, Order::Kept)?;
        Ok(&self.solution)
    }

    fn run(&mut self, network: &Network, order: Order) -> Result<(), Failure> {
        if self.same_topology(network, order) {
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
}
