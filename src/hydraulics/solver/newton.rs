//! Newton steps: tangents to the losses of chains, elimination of tree parts and rings, heads and flows from them, and
//! valves that open or shut.

use super::state::{ChainState, FLOOR, Solver};
use super::topology::{self, ChainWay, NONE};

/// The same, once [`PATIENCE`] is over: the flow along a ring part without friction hardly shows in any pressure.
const LOOSE_FLOW_TOLERANCE: f64 = 1e-6;
/// Steps after which the loose tolerance is enough.
const PATIENCE: usize = 60;
/// A tangent is kept while the flow moves by no more than this part of itself: it is then exact to the last digits.
const NEAR: f64 = 2e-8;
/// How far beyond its cracking pressure, as a part of the heads beside it, a shut valve opens.
const OPENING_TOLERANCE: f64 = 1e-12;
/// Energy residual, as a part of the largest loss, at which a solve is done.
const ENERGY_TOLERANCE: f64 = 1e-10;
/// Error of flow, as a part of the largest flow, at which a solve is done.
const FLOW_TOLERANCE: f64 = 1e-9;

impl Solver {
    /// Lays a tangent to a chain's loss at its flow.
    #[inline]
    pub(super) fn touch(&mut self, index: usize) {
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
            ChainWay::Forward => offset += chain.crack,
            ChainWay::Backward => offset -= chain.crack,
            ChainWay::Both | ChainWay::Never => {}
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
    pub(super) fn hold_shut(&mut self, index: usize) {
        let chain = &mut self.chains[index];
        chain.flow = 0.0;
        chain.touched = f64::NAN;
        chain.offset = chain.difference(&self.head);
        chain.slope = self.leak;
    }

    /// Newton steps until done. The error is the chain that is furthest off.
    pub(super) fn iterate(&mut self, most: usize) -> Result<usize, u32> {
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
                let StepRanges { ground, parent } = StepRanges::of(&self.topology.tree[slot]);
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
    pub(super) fn solve_heads(&mut self) {
        self.ground.fill(0.0);
        self.source.copy_from_slice(&self.inflow);
        self.load_supply();
        self.eliminate();
    }

    /// Heads from tangents that were laid, and from what was put in at the junctions.
    pub(super) fn eliminate(&mut self) {
        let unknown = self.topology.unknown();
        for slot in 0..self.topology.tree.len() {
            let StepRanges { ground, parent } = StepRanges::of(&self.topology.tree[slot]);
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
            let StepRanges { ground, parent } = StepRanges::of(&self.topology.tree[slot]);
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
        if chain.way == ChainWay::Both {
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
pub(super) struct StepRanges {
    pub(super) ground: std::ops::Range<usize>,
    pub(super) parent: usize,
}

impl StepRanges {
    #[inline]
    pub(super) fn of(step: &topology::TreeStep) -> Self {
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
