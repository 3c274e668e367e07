//! The linear equations at a solution, eliminated once and solved for many right-hand sides.
//!
//! The same elimination as a Newton step's: tree parts from their leaves, ring nodes by star-mesh transformation. What it
//! does to the conductances is kept; a right-hand side then costs one pass up and one pass down.

use super::super::supply_law::Regime;
use super::core::Core;
use super::newton::StepRanges;
use super::state::Solver;

/// The eliminated conductances, of the chains that conduct and with the supply on a piece of its law.
#[derive(Debug, Clone)]
pub(super) struct Factors {
    pub(super) conducts: Vec<bool>,
    pub(super) piece: usize,
    /// Pa s/m³ by chain.
    slope: Vec<f64>,
    /// Conductance to held pressures by tree slot, before it is eliminated.
    ground: Vec<f64>,
    /// Share of what is put in at a tree slot that goes on to its parent.
    weight: Vec<f64>,
    /// Fall of the flow to the parent with the parent's head, by tree slot.
    fall: Vec<f64>,
    core: Core,
}

impl Factors {
    /// Of a solver at its solution, with the slope of each chain that conducts.
    pub(super) fn of(solver: &Solver, chain_slope: &[f64], conducts: &[bool], piece: usize) -> Self {
        let topology = &solver.topology;
        let slopes = chain_slope.iter().zip(conducts);
        let slope: Vec<f64> =
            slopes.map(|(slope, conducts)| if *conducts { *slope } else { solver.leak }).collect();
        let (trees, unknown) = (topology.tree.len(), topology.unknown());
        let mut ground = vec![0.0; unknown];
        if let Some(supply) = &solver.supply {
            let law = solver.supply_law(supply).map_or(supply.piece, |law| law.piece(piece));
            if matches!(law.regime, Regime::Pressure | Regime::Curve) {
                ground[supply.slot] += 1.0 / law.slope.max(solver.floor);
            }
        }
        let (mut weight, mut fall) = (vec![0.0; trees], vec![0.0; trees]);
        for slot in 0..trees {
            let StepRanges { ground: grounds, parent } = StepRanges::of(&topology.tree[slot]);
            for index in grounds {
                ground[slot] += 1.0 / slope[index];
            }
            weight[slot] = 1.0 / (1.0 + slope[parent] * ground[slot]);
            fall[slot] = ground[slot] * weight[slot];
            let to = solver.chains[parent].to as usize;
            if to < unknown {
                ground[to] += fall[slot];
            }
        }
        let mut core = topology.core.clone();
        core.clear();
        for index in topology.core_ground.start as usize..topology.core_ground.end as usize {
            ground[solver.chains[index].from as usize] += 1.0 / slope[index];
        }
        for node in 0..topology.core_count {
            core.add_node(node as u32, ground[trees + node], 0.0);
        }
        let pairs = topology.core_chains.start as usize..topology.core_chains.end as usize;
        for (entry, index) in topology.core_entries.iter().zip(pairs) {
            core.add_pair(*entry, 1.0 / slope[index]);
        }
        core.eliminate();
        Self { conducts: conducts.to_vec(), piece, slope, ground, weight, fall, core }
    }

    /// Heads by slot and flows by chain: `head` holds those of the held slots, `offset` is what each chain loses without
    /// flow, `source` what is put in at each junction.
    pub(super) fn substitute(
        &mut self,
        solver: &Solver,
        offset: &[f64],
        source: &mut [f64],
        head: &mut [f64],
        flow: &mut [f64],
    ) {
        let topology = &solver.topology;
        let (trees, unknown) = (topology.tree.len(), topology.unknown());
        for slot in 0..trees {
            let StepRanges { ground, parent } = StepRanges::of(&topology.tree[slot]);
            for index in ground {
                let to = solver.chains[index].to as usize;
                source[slot] += (head[to] + offset[index]) / self.slope[index];
            }
            let onward = (source[slot] - self.ground[slot] * offset[parent]) * self.weight[slot];
            flow[parent] = onward;
            let to = solver.chains[parent].to as usize;
            if to < unknown {
                source[to] += onward;
            }
        }
        if topology.core_count > 0 {
            for index in topology.core_ground.start as usize..topology.core_chains.end as usize {
                let chain = &solver.chains[index];
                let given = (chain.difference(head) - offset[index]) / self.slope[index];
                source[chain.from as usize] -= given;
                if (chain.to as usize) < unknown {
                    source[chain.to as usize] += given;
                }
            }
            self.core.clear_values();
            for node in 0..topology.core_count {
                self.core.add_node(node as u32, 0.0, source[trees + node]);
            }
            self.core.substitute();
            for node in 0..topology.core_count {
                head[trees + node] = self.core.solution(node as u32);
            }
        }
        // Of the chains that lead on in a tree the flow comes from the balance: the difference of heads may be tiny.
        for slot in (0..trees).rev() {
            let parent = topology.tree[slot].parent as usize;
            let above = head[solver.chains[parent].to as usize];
            flow[parent] -= self.fall[slot] * above;
            head[slot] = above + offset[parent] + self.slope[parent] * flow[parent];
        }
        let mut leads_on = vec![false; flow.len()];
        for step in &topology.tree {
            leads_on[step.parent as usize] = true;
        }
        for index in (0..topology.loops.start as usize).filter(|index| !leads_on[*index]) {
            flow[index] = (solver.chains[index].difference(head) - offset[index]) / self.slope[index];
        }
    }
}
