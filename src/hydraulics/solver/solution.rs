//! What a solve gives, and the room that putting it together takes.

use super::super::supply_law::SupplyPoint;
use super::topology::{NONE, Topology};

/// Pressures and flows of one network, by the indices of its nodes and links.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Solution {
    /// Gauge pressure, Pa, by node; none where only closed links, shut valves and the like lead to a held pressure.
    pub node_pressure_pa: Vec<Option<f64>>,
    /// Flow, m³/s, by link; exactly 0 through closed links, shut valves, and beside nodes without a pressure.
    pub link_flow_m3s: Vec<f64>,
    /// Where the supply ended up, in a network with one.
    pub supply: Option<SupplyPoint>,
    /// Newton steps taken.
    pub steps: usize,
    /// Largest imbalance of flows at a node, as a part of the largest flow.
    pub mass_residual: f64,
    /// Largest difference between a chain's loss and its difference of heads, as a part of the largest pressure (or
    /// loss, where that is larger).
    pub energy_residual: f64,
}

impl Solution {
    pub(super) fn empty(nodes: usize, links: usize) -> Self {
        Self { node_pressure_pa: vec![None; nodes], link_flow_m3s: vec![0.0; links], ..Self::default() }
    }
}

/// Room for the last pass, kept so that it need not be allocated again.
#[derive(Debug, Clone)]
pub(super) struct Workspace {
    /// Imbalance of flows, by slot.
    pub(super) imbalance: Vec<f64>,
    /// Representative of the part a slot belongs to; held slots belong to one part.
    pub(super) part: Vec<u32>,
    /// Whether a slot has a pressure.
    pub(super) determined: Vec<bool>,
    pub(super) by_slope: Vec<u32>,
    /// Repair forest: chain towards the root, by slot, and slots in order from the root.
    pub(super) towards: Vec<u32>,
    pub(super) sequence: Vec<u32>,
    pub(super) in_forest: Vec<bool>,
}

impl Workspace {
    pub(super) fn new(topology: &Topology) -> Self {
        let (slots, chains) = (topology.slot_node.len(), topology.chains.len());
        Self {
            imbalance: vec![0.0; slots],
            part: vec![0; slots],
            determined: vec![false; slots],
            by_slope: Vec::with_capacity(chains),
            towards: vec![NONE; slots],
            sequence: Vec::with_capacity(slots),
            in_forest: vec![false; chains],
        }
    }

    pub(super) fn root(&mut self, mut slot: u32) -> u32 {
        while self.part[slot as usize] != slot {
            let above = self.part[self.part[slot as usize] as usize];
            self.part[slot as usize] = above;
            slot = above;
        }
        slot
    }

    pub(super) fn join(&mut self, a: u32, b: u32) -> bool {
        let (a, b) = (self.root(a), self.root(b));
        if a == b {
            return false;
        }
        // Held slots come last and stay representatives.
        let (low, high) = (a.min(b), a.max(b));
        self.part[low as usize] = high;
        true
    }
}
