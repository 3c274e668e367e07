//! Damped steps for networks on which plain Newton steps go round in circles, mostly for the sake of valves that plain
//! steps keep opening and shutting.
//!
//! Works on heads alone. Each chain's flow is a rising function of the difference of heads at its ends (zero while a
//! valve is shut), so the balance of flows is the gradient of a convex function of the heads. A Newton direction with a
//! line search on that function always descends and ends at the answer; see any text on convex optimisation (for
//! instance Boyd and Vandenberghe, section 9.5). Slower than plain steps, since every chain is solved for its flow;
//! used only after they failed, and followed by them for the last digits.

use super::state::Solver;
use super::topology::{ChainWay, NONE};

/// Steps after which the descent hands over whatever it has.
const MOST_STEPS: usize = 300;

impl Solver {
    /// Brings heads and flows near the answer and sets every valve accordingly.
    pub(super) fn descend(&mut self) -> usize {
        let unknown = self.topology.unknown();
        let mut start = self.head.clone();
        let mut direction = vec![0.0; unknown];
        let mut flows = vec![0.0; self.chains.len()];
        for head in &mut start[..unknown] {
            if !head.is_finite() {
                *head = 0.0;
            }
        }
        self.head.copy_from_slice(&start);
        let highest = start.iter().fold(0.0, |a: f64, b| a.max(b.abs()));
        // Where nothing flows at all, there is no largest flow to measure by.
        let negligible_flow = 1e-13 * highest / self.typical;
        let mut steps = 0;
        while steps < MOST_STEPS {
            steps += 1;
            let largest = self.follow_heads(&mut flows);
            let worst = self.surplus(&flows).iter().fold(0.0, |a: f64, b| a.max(b.abs()));
            if worst <= (1e-12 * largest).max(1e-3 * negligible_flow) {
                break;
            }
            for (index, flow) in flows.iter().enumerate() {
                self.chains[index].flow = *flow;
                self.lay_tangent_through(index);
            }
            let surplus = self.surplus(&flows).to_vec();
            self.solve_heads();
            let mut fall = 0.0;
            let mut farthest: f64 = 0.0;
            for slot in 0..unknown {
                direction[slot] = self.head[slot] - start[slot];
                fall += surplus[slot] * direction[slot];
                farthest = farthest.max(direction[slot].abs());
            }
            let highest = start.iter().fold(0.0, |a: f64, b| a.max(b.abs()));
            if fall.is_nan() || fall >= 0.0 || farthest <= 1e-15 * highest {
                self.head.copy_from_slice(&start);
                break;
            }
            // The slope along the direction rises from `fall`; look for where it has all but vanished.
            let (mut low, mut high, mut part) = (0.0, f64::INFINITY, 1.0);
            for _ in 0..60 {
                for slot in 0..unknown {
                    self.head[slot] = start[slot] + part * direction[slot];
                }
                self.follow_heads(&mut flows);
                let slope: f64 = self.surplus(&flows).iter().zip(&direction).map(|(a, b)| a * b).sum();
                if slope.abs() <= 0.5 * fall.abs() {
                    break;
                }
                if slope > 0.0 {
                    high = part;
                } else {
                    low = part;
                }
                part = if high.is_infinite() {
                    2.0 * low
                } else if low > 0.0 {
                    (low * high).sqrt()
                } else if part > 1e-3 {
                    0.25 * high
                } else {
                    1e-2 * high
                };
                if !(1e-25..=1e6).contains(&part) {
                    break;
                }
            }
            start.copy_from_slice(&self.head);
        }
        let largest = self.follow_heads(&mut flows);
        self.largest_flow = largest;
        for (chain, flow) in self.chains.iter_mut().zip(&flows) {
            chain.flow = *flow;
            chain.open = chain.way == ChainWay::Both || flow.abs() > (1e-12 * largest).max(negligible_flow);
            if !chain.open {
                chain.flow = 0.0;
            }
        }
        self.follow_supply();
        steps
    }

    /// Gradient by slot: what leaves a junction beyond what comes in. Kept in the room for sources.
    fn surplus(&mut self, flows: &[f64]) -> &[f64] {
        let unknown = self.topology.unknown();
        for (source, inflow) in self.source.iter_mut().zip(&self.inflow) {
            *source = -inflow;
        }
        if let Some((slot, flow)) = self.supply_gives() {
            self.source[slot] -= flow;
        }
        for (chain, flow) in self.chains[..self.topology.loops.start as usize].iter().zip(flows) {
            if (chain.from as usize) < unknown {
                self.source[chain.from as usize] += flow;
            }
            if (chain.to as usize) < unknown {
                self.source[chain.to as usize] -= flow;
            }
        }
        &self.source
    }

    /// Flows of all chains at the present heads; gives the largest.
    fn follow_heads(&mut self, flows: &mut [f64]) -> f64 {
        let mut largest: f64 = 0.0;
        for (index, flow) in flows.iter_mut().enumerate() {
            *flow = self.flow_at(index);
            largest = largest.max(flow.abs());
        }
        largest
    }

    /// Flow of a chain at its present difference of heads.
    fn flow_at(&self, index: usize) -> f64 {
        let chain = &self.chains[index];
        let difference = chain.difference(&self.head);
        let beyond = match chain.way {
            ChainWay::Both => difference.abs(),
            ChainWay::Forward => difference - chain.crack,
            ChainWay::Backward => -difference - chain.crack,
            ChainWay::Never => 0.0,
        };
        if beyond <= 0.0 || beyond.is_nan() {
            return 0.0;
        }
        let loss = |flow: f64| {
            let mut pressure = (chain.quadratic * flow + chain.linear + self.floor) * flow;
            let mut slope = 2.0 * chain.quadratic * flow + chain.linear + self.floor;
            for pipe in &self.pipes[chain.pipes.0 as usize..chain.pipes.1 as usize] {
                let loss = pipe.friction.loss(flow);
                pressure += loss.pressure_pa;
                slope += loss.slope_pa_s_m3;
            }
            (pressure, slope)
        };
        let (mut low, mut high) = (0.0, f64::INFINITY);
        let mut flow = self.rough_flow(index, beyond).min(beyond / self.floor);
        for _ in 0..100 {
            let (pressure, slope) = loss(flow);
            let off = pressure - beyond;
            if off > 0.0 {
                high = flow;
            } else {
                low = flow;
            }
            let newton = flow - off / slope;
            let next = if newton > low && newton < high {
                newton
            } else if high.is_infinite() {
                2.0 * flow
            } else {
                0.5 * (low + high)
            };
            let done = (next - flow).abs() <= 1e-15 * next;
            flow = next;
            if done {
                break;
            }
        }
        if chain.way == ChainWay::Backward || (chain.way == ChainWay::Both && difference < 0.0) {
            -flow
        } else {
            flow
        }
    }

    /// A tangent through a chain's flow and its present difference of heads.
    fn lay_tangent_through(&mut self, index: usize) {
        let flow = self.chains[index].flow;
        if self.chains[index].way != ChainWay::Both && flow == 0.0 {
            self.hold_shut(index);
        } else {
            self.touch(index);
            let chain = &mut self.chains[index];
            chain.touched = f64::NAN;
            chain.offset = chain.difference(&self.head) - chain.slope * flow;
        }
        let chain = &mut self.chains[index];
        chain.conductance = 1.0 / chain.slope;
        debug_assert!(chain.from != NONE);
    }
}
