//! Sets a solver up for a topology, and takes over numbers that changed.

use petgraph::graph::{EdgeIndex, NodeIndex};

use super::super::link::Terms;
use super::super::losses::friction::LastCurvePoint;
use super::super::network::{Boundary, Network};
use super::failure::Failure;
use super::solution::{Solution, Workspace};
use super::state::{ChainState, Given, PipeState, Solver};
use super::supply_piece::HeldSupply;
use super::topology::{ChainWay, NONE, Topology};

/// Whether other bores ask for another order of elimination.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Order {
    /// They do.
    ByBores,
    /// The order is kept, as far as nothing but numbers changes.
    Kept,
}

impl Solver {
    pub(super) fn set_up(network: &Network) -> Self {
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
                    pipes.push(PipeState { friction, place: LastCurvePoint::default(), tangent: (0.0, 0.0) });
                }
            }
            chains.push(ChainState {
                from: chain.from,
                to: chain.to,
                pipes: (first, pipes.len() as u32),
                way: chain.way,
                open: chain.way != ChainWay::Never,
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
            supply: HeldSupply::new(&topology, &given.boundaries),
            balance: Workspace::new(&topology),
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
    pub(super) fn same_topology(&mut self, network: &Network, order: Order) -> bool {
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
                let same_bore = || edge.weight.kind.bore_m() == was.3.bore_m();
                if std::mem::discriminant(&edge.weight.kind) != std::mem::discriminant(&was.3)
                    || (order == Order::ByBores && !same_bore())
                {
                    return false;
                }
                self.changed_links.push(index as u32);
            }
        }
        true
    }

    /// Takes over whatever numbers changed; the topology is the same.
    pub(super) fn take_changes(&mut self, network: &Network) -> Result<(), Failure> {
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
                    pipe.place = LastCurvePoint::default();
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
}
