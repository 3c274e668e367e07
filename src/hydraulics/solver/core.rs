//! The linear system of the nodes that lie on rings, eliminated by star-mesh transformation.
//!
//! Every entry is a conductance and every step adds positive numbers, so that no digit is lost however widely the
//! conductances differ. Nodes are eliminated in order of least degree, found once for a topology; the numbers are then
//! worked through without allocation. Rings on a bar are few and small: this is not meant for grids of many thousand
//! meshes.

use std::collections::BTreeSet;

/// Symbolic order and numeric store for one set of ring nodes.
#[derive(Debug, Clone, Default)]
pub(super) struct Core {
    /// Position in the elimination order by node.
    position: Vec<u32>,
    /// Node by position.
    order: Vec<u32>,
    /// Start of each position's row in `columns`.
    starts: Vec<u32>,
    /// Later positions joined to a position when it is eliminated, ascending.
    columns: Vec<u32>,
    /// Conductance to each of them.
    conductance: Vec<f64>,
    /// Conductance to held pressures, by position.
    ground: Vec<f64>,
    /// Right-hand side, then the solution, by position.
    value: Vec<f64>,
    pivot: Vec<f64>,
}

impl Core {
    /// Finds the elimination order for `count` nodes joined by `pairs`.
    pub(super) fn new(count: usize, pairs: &[(u32, u32)]) -> Self {
        let mut neighbours: Vec<BTreeSet<u32>> = vec![BTreeSet::new(); count];
        for &(a, b) in pairs {
            if a != b {
                neighbours[a as usize].insert(b);
                neighbours[b as usize].insert(a);
            }
        }
        let mut queue: BTreeSet<(usize, u32)> =
            neighbours.iter().enumerate().map(|(node, set)| (set.len(), node as u32)).collect();
        let mut position = vec![0; count];
        let mut order = Vec::with_capacity(count);
        let mut rows: Vec<Vec<u32>> = Vec::with_capacity(count);
        while let Some((_, node)) = queue.pop_first() {
            position[node as usize] = order.len() as u32;
            order.push(node);
            let around: Vec<u32> = std::mem::take(&mut neighbours[node as usize]).into_iter().collect();
            for &a in &around {
                let set = &mut neighbours[a as usize];
                queue.remove(&(set.len(), a));
                set.remove(&node);
                set.extend(around.iter().filter(|&&b| b != a));
                queue.insert((set.len(), a));
            }
            rows.push(around);
        }
        let mut starts = Vec::with_capacity(count + 1);
        let mut columns = Vec::new();
        for mut row in rows {
            starts.push(columns.len() as u32);
            for node in &mut row {
                *node = position[*node as usize];
            }
            row.sort_unstable();
            columns.extend(row);
        }
        starts.push(columns.len() as u32);
        let stored = columns.len();
        Self {
            position,
            order,
            starts,
            columns,
            conductance: vec![0.0; stored],
            ground: vec![0.0; count],
            value: vec![0.0; count],
            pivot: vec![0.0; count],
        }
    }

    /// Where a pair's conductance is stored.
    pub(super) fn entry(&self, a: u32, b: u32) -> Option<u32> {
        let (a, b) = (self.position[a as usize], self.position[b as usize]);
        let (first, later) = (a.min(b) as usize, a.max(b));
        let (start, end) = (self.starts[first] as usize, self.starts[first + 1] as usize);
        self.columns[start..end].binary_search(&later).ok().map(|at| (start + at) as u32)
    }

    /// Starts a new system.
    pub(super) fn clear(&mut self) {
        self.conductance.fill(0.0);
        self.ground.fill(0.0);
        self.value.fill(0.0);
    }

    /// Adds conductance to held pressure and right-hand side at a node.
    pub(super) fn add_node(&mut self, node: u32, conductance: f64, value: f64) {
        let at = self.position[node as usize] as usize;
        self.ground[at] += conductance;
        self.value[at] += value;
    }

    /// Adds conductance between two nodes, at their [`entry`](Self::entry).
    pub(super) fn add_pair(&mut self, entry: u32, conductance: f64) {
        self.conductance[entry as usize] += conductance;
    }

    /// Solves; then [`solution`](Self::solution) holds the heads.
    pub(super) fn solve(&mut self) {
        self.eliminate();
        self.substitute();
    }

    /// Eliminates the conductances; then any right-hand side can be solved for.
    pub(super) fn eliminate(&mut self) {
        let count = self.order.len();
        for k in 0..count {
            let (start, end) = (self.starts[k] as usize, self.starts[k + 1] as usize);
            let mut pivot = self.ground[k];
            for &c in &self.conductance[start..end] {
                pivot += c;
            }
            self.pivot[k] = pivot;
            if pivot <= 0.0 {
                continue;
            }
            let ground = self.ground[k];
            for i in start..end {
                let j = self.columns[i] as usize;
                let share = self.conductance[i] / pivot;
                self.ground[j] += share * ground;
                // Both rows are sorted, and the row of j holds every later column of the row of k.
                let (mut at, row_end) = (self.starts[j] as usize, self.starts[j + 1] as usize);
                for m in i + 1..end {
                    let column = self.columns[m];
                    while at < row_end && self.columns[at] != column {
                        at += 1;
                    }
                    if at < row_end {
                        self.conductance[at] += share * self.conductance[m];
                    }
                }
            }
        }
    }

    /// Starts a new right-hand side of the system that was eliminated.
    pub(super) fn clear_values(&mut self) {
        self.value.fill(0.0);
    }

    /// Solves for the right-hand side.
    pub(super) fn substitute(&mut self) {
        let count = self.order.len();
        for k in 0..count {
            let pivot = self.pivot[k];
            if pivot <= 0.0 {
                continue;
            }
            let value = self.value[k];
            for i in self.starts[k] as usize..self.starts[k + 1] as usize {
                let share = self.conductance[i] / pivot;
                self.value[self.columns[i] as usize] += share * value;
            }
        }
        for k in (0..count).rev() {
            let (start, end) = (self.starts[k] as usize, self.starts[k + 1] as usize);
            let mut sum = self.value[k];
            for i in start..end {
                sum += self.conductance[i] * self.value[self.columns[i] as usize];
            }
            self.value[k] = if self.pivot[k] > 0.0 { sum / self.pivot[k] } else { 0.0 };
        }
    }

    /// Head of a node after [`solve`](Self::solve).
    pub(super) fn solution(&self, node: u32) -> f64 {
        self.value[self.position[node as usize] as usize]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_wheatstone_bridge_with_a_spoke_to_ground() {
        // Nodes 0..4 in a ring with one diagonal, unit conductances, node 0 to ground, 1 A into node 2.
        let pairs = [(0, 1), (1, 2), (2, 3), (3, 0), (1, 3)];
        let mut core = Core::new(4, &pairs);
        core.clear();
        for (a, b) in pairs {
            let entry = core.entry(a, b).unwrap();
            core.add_pair(entry, 1.0);
        }
        core.add_node(0, 1.0, 0.0);
        core.add_node(2, 0.0, 1.0);
        core.solve();
        // By hand: v0 = 1, by symmetry v1 = v3 = 1.5, v2 = 2.
        for (node, expected) in [(0, 1.0), (1, 1.5), (2, 2.0), (3, 1.5)] {
            assert!((core.solution(node) - expected).abs() < 1e-14, "{node}");
        }
    }
}
