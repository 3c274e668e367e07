//! The supply's node as a solver keeps it: its chains, and the piece of its law that is taken to hold.

use super::super::network::Boundary;
use super::super::supply_law::{LawPiece, Regime};
use super::topology::Topology;

/// The supply as the solver keeps it.
#[derive(Debug, Clone)]
pub(super) struct HeldSupply {
    /// Its node, and the slot of that.
    pub(super) node: usize,
    pub(super) slot: usize,
    /// Chains at it, and whether they start there.
    pub(super) chains: Vec<(u32, bool)>,
    pub(super) index: usize,
    pub(super) piece: LawPiece,
    /// Pieces that are not ruled out.
    pub(super) low: usize,
    pub(super) high: usize,
    /// What it gives, m³/s, after the last step.
    pub(super) flow: f64,
    pub(super) asked: Option<f64>,
}

impl HeldSupply {
    pub(super) fn new(topology: &Topology, boundaries: &[Boundary]) -> Option<Self> {
        let node = boundaries.iter().position(|one| matches!(one, Boundary::Supply(_)))?;
        let slot = topology.slot_node.iter().position(|&one| one as usize == node)?;
        let Boundary::Supply(law) = &boundaries[node] else { return None };
        let loops = topology.loops.start;
        let chains = (0..loops).filter_map(|index| {
            let chain = &topology.chains[index as usize];
            let starts = chain.from as usize == slot;
            (starts || chain.to as usize == slot).then_some((index, starts))
        });
        let piece = law.piece(law.asked());
        let chains = chains.collect();
        Some(Self { node, slot, chains, index: 0, piece, low: 0, high: 0, flow: 0.0, asked: None })
    }

    pub(super) fn holds_flow(&self) -> bool {
        self.piece.regime == Regime::Flow
    }

    pub(super) const fn node(&self) -> usize {
        self.node
    }

    /// What leaves it by its chains.
    pub(super) fn sum(&self, flow: impl Fn(usize) -> f64) -> f64 {
        let away = |&(index, starts): &(u32, bool)| {
            if starts { flow(index as usize) } else { -flow(index as usize) }
        };
        self.chains.iter().map(away).sum()
    }
}
