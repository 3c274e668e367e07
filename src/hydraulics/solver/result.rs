//! From converged heads and flows of chains to pressures of all nodes and flows of all links.
//!
//! Decides which nodes have a pressure at all: those that links which conduct (open, and for a valve carrying flow) join
//! to a held pressure. Puts right what rounding left of the balance of flows, and measures what is left of both
//! equations.

use super::super::link::Terms;
use super::super::network::{Boundary, Network};
use super::state::{ChainState, Solver};
use super::topology::{ChainWay, NONE};

impl Solver {
    /// Fills the solution.
    pub(super) fn finish(&mut self, network: &Network, steps: usize) {
        self.solution.steps = steps;
        self.drop_noise();
        self.find_determined();
        self.balance_flows();
        // A valve that the balance turned against its way was passing rounding errors only.
        for _ in 0..4 {
            let mut turned = false;
            for chain in &mut self.chains {
                if chain.open && chain.way != ChainWay::Both && chain.flow * chain.sign() <= 0.0 {
                    chain.open = false;
                    chain.flow = 0.0;
                    turned = true;
                }
            }
            if !turned {
                break;
            }
            self.find_determined();
            self.balance_flows();
        }
        self.supply_as_inflow();
        self.solution.supply = self.supply_point();
        self.spread(network);
    }

    /// Takes out flows that are rounding errors: all of them where nothing flows at all, and those of valves that stand
    /// at their cracking pressure.
    fn drop_noise(&mut self) {
        let (mut largest, mut loss): (f64, f64) = (0.0, 0.0);
        for chain in &self.chains {
            largest = largest.max(chain.flow.abs());
            loss = loss.max((chain.slope * chain.flow).abs());
        }
        let highest = self.head.iter().fold(0.0, |a: f64, b| a.max(b.abs()));
        let still = loss <= 1e-11 * highest && self.inflow.iter().all(|&flow| flow == 0.0);
        for chain in &mut self.chains {
            if still || (chain.way != ChainWay::Both && chain.flow.abs() <= 1e-13 * largest) {
                chain.flow = 0.0;
                chain.open = chain.way == ChainWay::Both;
            }
        }
    }

    fn find_determined(&mut self) {
        let unknown = self.topology.unknown();
        let slots = self.topology.slot_node.len();
        let conducts = |chain: &ChainState| match chain.way {
            ChainWay::Both => true,
            ChainWay::Forward | ChainWay::Backward => chain.open && chain.flow != 0.0,
            ChainWay::Never => false,
        };
        let loops = self.topology.loops.start as usize;
        let inner = |chain: &ChainState| (chain.to as usize) < unknown;
        if self.chains[..loops].iter().all(|chain| conducts(chain) || !inner(chain)) && unknown > 0 {
            // The common case: junctions hang together, so one way to a held pressure is enough for all of a tree.
            let step_conducts =
                self.topology.tree.iter().all(|step| conducts(&self.chains[step.parent as usize]));
            if step_conducts && self.topology.core_count == 0 {
                self.balance.determined.fill(true);
                return;
            }
        }
        for slot in 0..slots {
            self.balance.part[slot] = if slot < unknown { slot } else { slots - 1 } as u32;
        }
        for index in 0..loops {
            let chain = self.chains[index];
            if conducts(&chain) {
                self.balance.join(chain.from, chain.to);
            }
        }
        let held = slots as u32 - 1;
        if self.supply_slot_held() != NONE {
            self.balance.join(self.supply_slot_held(), held);
        }
        for slot in 0..slots {
            self.balance.determined[slot] = self.balance.root(slot as u32) == held;
        }
        for index in 0..loops {
            let chain = &mut self.chains[index];
            let both =
                self.balance.determined[chain.from as usize] && self.balance.determined[chain.to as usize];
            if !both {
                chain.flow = 0.0;
            }
        }
    }

    fn imbalance(&mut self) -> f64 {
        let unknown = self.topology.unknown();
        self.supply_as_inflow();
        self.balance.imbalance[..unknown].copy_from_slice(&self.inflow);
        self.balance.imbalance[unknown..].fill(0.0);
        let mut largest: f64 = 0.0;
        for chain in &self.chains[..self.topology.loops.start as usize] {
            self.balance.imbalance[chain.from as usize] -= chain.flow;
            self.balance.imbalance[chain.to as usize] += chain.flow;
            largest = largest.max(chain.flow.abs());
        }
        let worst = self.balance.imbalance[..unknown].iter().fold(0.0, |a: f64, b| a.max(b.abs()));
        if largest > 0.0 { worst / largest } else { worst }
    }

    /// Flows follow from heads only to the last digits of the heads. Where that shows, the flows of the chains that lose
    /// least are taken from the balance instead.
    fn balance_flows(&mut self) {
        self.solution.mass_residual = self.imbalance();
        if self.solution.mass_residual <= 1e-13 {
            return;
        }
        let unknown = self.topology.unknown();
        let slots = self.topology.slot_node.len();
        let loops = self.topology.loops.start;
        let mut by_slope = std::mem::take(&mut self.balance.by_slope);
        by_slope.clear();
        by_slope.extend((0..loops).filter(|&index| {
            let chain = &self.chains[index as usize];
            chain.open && (chain.way == ChainWay::Both || chain.flow != 0.0)
        }));
        by_slope.sort_unstable_by(|&a, &b| {
            let (x, y) = (self.chains[a as usize].slope, self.chains[b as usize].slope);
            x.total_cmp(&y).then(a.cmp(&b))
        });
        for slot in 0..slots {
            self.balance.part[slot] = if slot < unknown { slot } else { slots - 1 } as u32;
        }
        self.balance.in_forest.fill(false);
        for &index in &by_slope {
            let chain = self.chains[index as usize];
            if self.balance.join(chain.from, chain.to) {
                self.balance.in_forest[index as usize] = true;
            }
        }
        self.balance.by_slope = by_slope;
        // Roots the forest at the held slots by repeated sweeps over its chains; few are needed, and it is rare.
        self.balance.towards.fill(NONE);
        self.balance.sequence.clear();
        let mut grown = true;
        while grown {
            grown = false;
            for index in 0..loops {
                if !self.balance.in_forest[index as usize] {
                    continue;
                }
                let chain = &self.chains[index as usize];
                for (here, there) in [(chain.from, chain.to), (chain.to, chain.from)] {
                    let rooted = there as usize >= unknown || self.balance.towards[there as usize] != NONE;
                    if rooted && (here as usize) < unknown && self.balance.towards[here as usize] == NONE {
                        self.balance.towards[here as usize] = index;
                        self.balance.sequence.push(here);
                        grown = true;
                    }
                }
            }
        }
        for at in (0..self.balance.sequence.len()).rev() {
            let slot = self.balance.sequence[at];
            let chain = &mut self.chains[self.balance.towards[slot as usize] as usize];
            let excess = self.balance.imbalance[slot as usize];
            let sign = if chain.from == slot { 1.0 } else { -1.0 };
            chain.flow += sign * excess;
            let other = if chain.from == slot { chain.to } else { chain.from };
            self.balance.imbalance[slot as usize] = 0.0;
            self.balance.imbalance[other as usize] += excess;
        }
        self.solution.mass_residual = self.imbalance();
    }

    /// From junctions and chains to all nodes and links.
    fn spread(&mut self, network: &Network) {
        let weight = self.given.fluid.density_kg_m3 * self.given.gravity;
        let nodes = network.graph.raw_nodes();
        let pressures = &mut self.solution.node_pressure_pa;
        let flows = &mut self.solution.link_flow_m3s;
        pressures.fill(None);
        flows.fill(0.0);
        // Heads first, for the walks below; pressures at the end.
        for (slot, &node) in self.topology.slot_node.iter().enumerate() {
            if self.balance.determined[slot] || slot >= self.topology.unknown() {
                pressures[node as usize] = Some(self.head[slot]);
            }
        }
        let (mut largest_loss, mut residual): (f64, f64) = (0.0, 0.0);
        for (index, chain) in self.chains.iter().enumerate() {
            let shape = &self.topology.chains[index];
            let elements =
                &self.topology.elements[shape.elements.start as usize..shape.elements.end as usize];
            let flow = if index < self.topology.loops.start as usize { chain.flow } else { 0.0 };
            let conducts = chain.way == ChainWay::Both || (chain.open && flow != 0.0);
            let mut head = pressures[self.topology.slot_node[chain.from as usize] as usize];
            let mut pipe = chain.pipes.0 as usize;
            for (at, element) in elements.iter().enumerate() {
                let kind = &self.given.links[element.link as usize].3;
                let forward = if element.reversed { -flow } else { flow };
                if flow != 0.0 {
                    flows[element.link as usize] = forward;
                }
                if !conducts && kind.one_way() {
                    break;
                }
                let Some(above) = head else { break };
                let Terms { quadratic, linear, crack_pa: crack, .. } = self.terms[element.link as usize];
                let mut loss = quadratic * flow * flow.abs()
                    + linear * flow
                    + if element.reversed { -crack } else { crack };
                if self.pipe_of_link[element.link as usize] != NONE {
                    let tangent = self.pipes[pipe].tangent;
                    if flow != 0.0 {
                        loss += tangent.0 + tangent.1 * flow;
                    }
                    pipe += 1;
                }
                let below = above - loss;
                if at + 1 < elements.len() {
                    pressures[element.far as usize] = Some(below);
                    head = Some(below);
                } else if conducts && chain.from != chain.to {
                    if let Some(end) = pressures[element.far as usize] {
                        residual = residual.max((below - end).abs());
                    }
                    if let Some(start) = pressures[self.topology.slot_node[chain.from as usize] as usize] {
                        largest_loss = largest_loss.max((start - below).abs());
                    }
                }
            }
            if !conducts || head.is_none() {
                // From the other end, up to the first valve: nothing flows, so heads are equal.
                let head = pressures[self.topology.slot_node[chain.to as usize] as usize];
                for at in (1..elements.len()).rev() {
                    if self.given.links[elements[at].link as usize].3.one_way() || head.is_none() {
                        break;
                    }
                    pressures[elements[at - 1].far as usize] = head;
                }
            }
        }
        for &(node, link, parent) in self.topology.trimmed.iter().rev() {
            if !self.given.links[link as usize].3.one_way() {
                pressures[node as usize] = pressures[parent as usize];
            }
        }
        let supply = self.supply_pressure();
        let pressures = &mut self.solution.node_pressure_pa;
        let mut largest = largest_loss;
        for (pressure, node) in pressures.iter_mut().zip(nodes) {
            match node.weight.boundary {
                // Held pressures are given, to the last digit, also where no open link leads to them.
                Boundary::Pressure(held) => *pressure = Some(held),
                Boundary::Inflow(_) | Boundary::Supply(_) => {
                    if let Some(head) = pressure {
                        *head -= weight * node.weight.elevation_m;
                    }
                }
            }
            largest = largest.max(pressure.unwrap_or(0.0).abs());
        }
        if let Some((node, held)) = supply {
            pressures[node] = Some(held);
        }
        self.solution.energy_residual = if largest > 0.0 { residual / largest } else { 0.0 };
    }
}
