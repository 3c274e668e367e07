//! A cold guess of all flows.

use super::state::{ChainState, FLOOR, Solver};
use super::topology::ChainWay;

impl Solver {
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
    pub(super) fn rough_flow(&self, index: usize, difference: f64) -> f64 {
        let (linear, quadratic) = self.rough_terms(index);
        let root = (linear * linear + 4.0 * quadratic * difference).sqrt();
        if linear + root > 0.0 { 2.0 * difference / (linear + root) } else { 0.0 }
    }

    /// A cold guess of all flows: the rows' by the pressure at hand or by equal shares, the mains' by adding up.
    pub(super) fn guess(&mut self) {
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
            self.chains[..grounds].iter().filter(|c| to_held(c) && c.way != ChainWay::Never).count().max(1);
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
            self.chains[index].open = chain.way != ChainWay::Never;
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
}
