//! What the solver can know of a network before any number: worked out once, kept while the topology stays.
//!
//! Closed links, and valves that no liquid can reach or leave, are taken out. What they cut off carries nothing and has
//! no pressure. Dead ends are trimmed. Links in series become one [`Chain`]. The junctions that remain are put in an
//! order in which every tree part can be eliminated from its leaves; nodes on rings are left to [`Core`].
//! Bores are looked at only to rank ways to a held pressure.

use super::core::Core;
use crate::hydraulics::network::{Adjacency, Boundary, Follow, Network};

pub(super) const NONE: u32 = u32::MAX;

/// Which way a chain lets liquid pass, from its `from` to its `to`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum ChainWay {
    Both,
    Forward,
    Backward,
    Never,
}

/// One link in a chain.
#[derive(Debug, Clone, Copy)]
pub(super) struct Element {
    pub(super) link: u32,
    /// Passed from its end to its start.
    pub(super) reversed: bool,
    /// Node behind it, going from the chain's `from` to its `to`.
    pub(super) far: u32,
}

/// Links in series between two junctions.
#[derive(Debug, Clone)]
pub(super) struct Chain {
    /// Slot of the junction it starts at.
    pub(super) from: u32,
    /// Slot of the junction it ends at.
    pub(super) to: u32,
    pub(super) elements: std::ops::Range<u32>,
    pub(super) way: ChainWay,
}

/// One junction of a tree part, in order of elimination.
#[derive(Debug, Clone)]
pub(super) struct TreeStep {
    /// Chains to held pressures, all starting here.
    pub(super) ground: std::ops::Range<u32>,
    /// The chain that leads on, starting here.
    pub(super) parent: u32,
}

/// See the module.
///
/// Junctions have slots: first those of tree parts in order of elimination, then those on rings, then the held ones.
/// Chains lie in the order in which elimination meets them.
#[derive(Debug, Clone, Default)]
pub(super) struct Topology {
    pub(super) slot_node: Vec<u32>,
    pub(super) tree: Vec<TreeStep>,
    pub(super) core_count: usize,
    pub(super) core: Core,
    /// For each chain from `core_chains.start`, its entry in the core.
    pub(super) core_entries: Vec<u32>,
    /// Chains from ring nodes to held pressures.
    pub(super) core_ground: std::ops::Range<u32>,
    /// Chains between ring nodes.
    pub(super) core_chains: std::ops::Range<u32>,
    /// Chains between held nodes.
    pub(super) free_chains: std::ops::Range<u32>,
    pub(super) chains: Vec<Chain>,
    pub(super) elements: Vec<Element>,
    /// Chain that starts and ends at one junction: carries nothing.
    pub(super) loops: std::ops::Range<u32>,
    /// Dead ends in the order of trimming: node, link, node it hangs on.
    pub(super) trimmed: Vec<(u32, u32, u32)>,
}

impl Topology {
    pub(super) fn unknown(&self) -> usize {
        self.tree.len() + self.core_count
    }

    pub(super) fn new(network: &Network) -> Self {
        Builder::new(network).build()
    }
}

struct Builder<'a> {
    network: &'a Network,
    adjacency: Adjacency<'a>,
    live: Vec<bool>,
    degree: Vec<u32>,
    held: Vec<bool>,
    /// Nodes where liquid enters or leaves.
    open: Vec<bool>,
    out: Topology,
}

impl<'a> Builder<'a> {
    fn new(network: &'a Network) -> Self {
        let boundaries = || network.graph.node_weights().map(|node| &node.boundary);
        let held: Vec<bool> = boundaries().map(|one| matches!(one, Boundary::Pressure(_))).collect();
        let open = boundaries().map(|one| one.gives() || one.takes()).collect();
        Self {
            network,
            adjacency: Adjacency::new(network),
            live: Vec::new(),
            degree: vec![0; held.len()],
            held,
            open,
            out: Topology::default(),
        }
    }

    fn build(mut self) -> Topology {
        self.find_live_links();
        self.trim_dead_ends();
        let chains = self.condense();
        self.order(chains);
        self.out
    }

    /// Takes out closed links, valves that can't carry anything, and all that is cut off by them.
    fn find_live_links(&mut self) {
        let graph = &self.network.graph;
        let edges = graph.raw_edges();
        self.live = edges.iter().map(|edge| !edge.weight.closed).collect();
        if edges.iter().any(|edge| edge.weight.kind.one_way()) {
            let sources = graph.node_indices().filter(|&node| graph[node].boundary.gives());
            let fed = self.adjacency.reach(sources, Follow::Downstream);
            let sinks = graph.node_indices().filter(|&node| graph[node].boundary.takes());
            let drained = self.adjacency.reach(sinks, Follow::Upstream);
            for (live, edge) in self.live.iter_mut().zip(edges) {
                let (from, to) = (edge.source().index(), edge.target().index());
                if edge.weight.kind.one_way() && !(fed[from] && drained[to]) {
                    *live = false;
                }
            }
        }
        let mut joined = self.held.clone();
        let mut stack: Vec<u32> = (0..joined.len() as u32).filter(|&node| joined[node as usize]).collect();
        while let Some(node) = stack.pop() {
            for &(link, far) in self.adjacency.at(node as usize) {
                if self.live[link as usize] && !joined[far as usize] {
                    joined[far as usize] = true;
                    stack.push(far);
                }
            }
        }
        for (live, edge) in self.live.iter_mut().zip(edges) {
            *live &= joined[edge.source().index()];
            if *live {
                self.degree[edge.source().index()] += 1;
                self.degree[edge.target().index()] += 1;
            }
        }
    }

    fn trim_dead_ends(&mut self) {
        let dead_end = |degree: &[u32], open: &[bool], node: usize| degree[node] == 1 && !open[node];
        for start in 0..self.degree.len() {
            let mut node = start;
            while dead_end(&self.degree, &self.open, node) {
                let Some(&(link, far)) =
                    self.adjacency.at(node).iter().find(|(link, _)| self.live[*link as usize])
                else {
                    break;
                };
                self.live[link as usize] = false;
                self.degree[node] = 0;
                self.degree[far as usize] -= 1;
                self.out.trimmed.push((node as u32, link, far));
                node = far as usize;
            }
        }
    }

    fn junction(&self, node: usize) -> bool {
        self.degree[node] > 0 && (self.open[node] || self.degree[node] != 2)
    }

    /// Walks every chain once. Ends are node indices for now.
    fn condense(&mut self) -> Vec<Chain> {
        let edges = self.network.graph.raw_edges();
        let mut walked = vec![false; edges.len()];
        let mut chains = Vec::new();
        self.out.elements.reserve(edges.len());
        for start in 0..self.degree.len() {
            if !self.junction(start) {
                continue;
            }
            for at in 0..self.adjacency.at(start).len() {
                let (first, _) = self.adjacency.at(start)[at];
                if !self.live[first as usize] || walked[first as usize] {
                    continue;
                }
                let begin = self.out.elements.len() as u32;
                let (mut node, mut link) = (start, first);
                let (mut forward_only, mut backward_only) = (false, false);
                loop {
                    walked[link as usize] = true;
                    let edge = &edges[link as usize];
                    let reversed = edge.source().index() != node;
                    let far = if reversed { edge.source().index() } else { edge.target().index() };
                    if edge.weight.kind.one_way() {
                        if reversed { backward_only = true } else { forward_only = true }
                    }
                    self.out.elements.push(Element { link, reversed, far: far as u32 });
                    node = far;
                    if self.junction(node) {
                        break;
                    }
                    let next = self
                        .adjacency
                        .at(node)
                        .iter()
                        .find(|(l, _)| self.live[*l as usize] && !walked[*l as usize]);
                    let Some(&(next, _)) = next else { break };
                    link = next;
                }
                let way = match (forward_only, backward_only) {
                    (false, false) => ChainWay::Both,
                    (true, false) => ChainWay::Forward,
                    (false, true) => ChainWay::Backward,
                    (true, true) => ChainWay::Never,
                };
                let elements = begin..self.out.elements.len() as u32;
                chains.push(Chain { from: start as u32, to: node as u32, elements, way });
            }
        }
        chains
    }

    /// Turns a chain round so that it starts at a node.
    fn turn(&mut self, chain: &mut Chain, start: u32) {
        if chain.from == start {
            return;
        }
        let range = chain.elements.start as usize..chain.elements.end as usize;
        let elements = &mut self.out.elements[range];
        let mut far = chain.from;
        for element in elements.iter_mut() {
            element.reversed = !element.reversed;
            std::mem::swap(&mut element.far, &mut far);
        }
        elements.reverse();
        std::mem::swap(&mut chain.from, &mut chain.to);
        chain.way = match chain.way {
            ChainWay::Forward => ChainWay::Backward,
            ChainWay::Backward => ChainWay::Forward,
            other => other,
        };
    }

    /// Orders junctions and chains for elimination and numbers them by slots.
    fn order(&mut self, mut chains: Vec<Chain>) {
        let count = self.degree.len();
        let unknown: Vec<bool> = (0..count).map(|node| self.junction(node) && !self.held[node]).collect();
        // Which chains meet at each unknown junction, and how many of them lead to another unknown one.
        let mut starts = vec![0u32; count + 1];
        let mut inner_degree = vec![0u32; count];
        for chain in &chains {
            let (from, to) = (chain.from as usize, chain.to as usize);
            if from == to {
                continue;
            }
            starts[from + 1] += 1;
            starts[to + 1] += 1;
            if unknown[from] && unknown[to] {
                inner_degree[from] += 1;
                inner_degree[to] += 1;
            }
        }
        for i in 1..starts.len() {
            starts[i] += starts[i - 1];
        }
        let mut next = starts.clone();
        let mut around = vec![0u32; starts[count] as usize];
        for (index, chain) in chains.iter().enumerate() {
            if chain.from != chain.to {
                for end in [chain.from, chain.to] {
                    around[next[end as usize] as usize] = index as u32;
                    next[end as usize] += 1;
                }
            }
        }
        let at = |node: usize| &around[starts[node] as usize..starts[node + 1] as usize];

        // The last junction of each tree part is the one with the easiest way to a held pressure: what it must pass is
        // then found from the balance of flows rather than from a tiny difference of heads.
        let ease: Vec<f64> = chains.iter().map(|chain| self.ease(chain)).collect();
        let mut protected = vec![false; count];
        let mut seen = vec![false; count];
        let mut stack = Vec::new();
        for start in 0..count {
            if !unknown[start] || seen[start] {
                continue;
            }
            let mut best: Option<(f64, usize)> = None;
            seen[start] = true;
            stack.push(start);
            while let Some(node) = stack.pop() {
                for &index in at(node) {
                    let chain = &chains[index as usize];
                    let far = if chain.from as usize == node { chain.to } else { chain.from } as usize;
                    if self.held[far] {
                        if best.is_none_or(|(ease_so_far, _)| ease[index as usize] > ease_so_far) {
                            best = Some((ease[index as usize], node));
                        }
                    } else if !seen[far] {
                        seen[far] = true;
                        stack.push(far);
                    }
                }
            }
            if let Some((_, node)) = best {
                protected[node] = true;
            }
        }

        let mut eliminated = vec![false; count];
        let mut order: Vec<(u32, u32)> = Vec::new(); // node and its parent chain
        for pass in 0..2 {
            for start in 0..count {
                let mut node = start;
                while unknown[node]
                    && !eliminated[node]
                    && inner_degree[node] == 1
                    && (pass == 1 || !protected[node])
                {
                    let onward = at(node).iter().copied().find(|&index| {
                        let chain = &chains[index as usize];
                        let far = if chain.from as usize == node { chain.to } else { chain.from } as usize;
                        unknown[far] && !eliminated[far]
                    });
                    let Some(index) = onward else { break };
                    let chain = &chains[index as usize];
                    let far = if chain.from as usize == node { chain.to } else { chain.from } as usize;
                    eliminated[node] = true;
                    inner_degree[node] = 0;
                    inner_degree[far] -= 1;
                    order.push((node as u32, index));
                    node = far;
                }
            }
        }
        let mut ring = Vec::new();
        for node in 0..count {
            if !unknown[node] || eliminated[node] {
                continue;
            }
            if inner_degree[node] > 0 {
                ring.push(node as u32);
                continue;
            }
            let mut best = NONE;
            for &index in at(node) {
                let chain = &chains[index as usize];
                let far = if chain.from as usize == node { chain.to } else { chain.from } as usize;
                if self.held[far] && (best == NONE || ease[index as usize] > ease[best as usize]) {
                    best = index;
                }
            }
            order.push((node as u32, best));
        }

        let mut slot = vec![NONE; count];
        for &node in order.iter().map(|(node, _)| node).chain(&ring) {
            slot[node as usize] = self.out.slot_node.len() as u32;
            self.out.slot_node.push(node);
        }
        for (node, slot) in slot.iter_mut().enumerate() {
            if self.held[node] {
                *slot = self.out.slot_node.len() as u32;
                self.out.slot_node.push(node as u32);
            }
        }

        let mut placed = vec![false; chains.len()];
        let mut sorted: Vec<Chain> = Vec::with_capacity(chains.len());
        let mut place =
            |builder: &mut Self, chains: &mut [Chain], index: u32, start: u32, sorted: &mut Vec<Chain>| {
                placed[index as usize] = true;
                let chain = &mut chains[index as usize];
                builder.turn(chain, start);
                sorted.push(chain.clone());
            };
        let grounds_of = |chains: &[Chain], held: &[bool], node: usize| -> Vec<u32> {
            at(node)
                .iter()
                .copied()
                .filter(|&index| {
                    let chain = &chains[index as usize];
                    let far = if chain.from as usize == node { chain.to } else { chain.from } as usize;
                    held[far]
                })
                .collect()
        };
        for &(node, parent) in &order {
            let begin = sorted.len() as u32;
            for index in grounds_of(&chains, &self.held, node as usize) {
                if index != parent {
                    place(self, &mut chains, index, node, &mut sorted);
                }
            }
            let ground = begin..sorted.len() as u32;
            place(self, &mut chains, parent, node, &mut sorted);
            self.out.tree.push(TreeStep { ground, parent: sorted.len() as u32 - 1 });
        }
        let begin = sorted.len() as u32;
        for &node in &ring {
            for index in grounds_of(&chains, &self.held, node as usize) {
                place(self, &mut chains, index, node, &mut sorted);
            }
        }
        self.out.core_ground = begin..sorted.len() as u32;
        let begin = sorted.len() as u32;
        for index in 0..chains.len() {
            let (from, to) = (chains[index].from as usize, chains[index].to as usize);
            if from != to && unknown[from] && unknown[to] && !eliminated[from] && !eliminated[to] {
                let start = chains[index].from;
                place(self, &mut chains, index as u32, start, &mut sorted);
            }
        }
        self.out.core_chains = begin..sorted.len() as u32;
        let begin = sorted.len() as u32;
        for index in 0..chains.len() {
            let (from, to) = (chains[index].from as usize, chains[index].to as usize);
            if from != to && self.held[from] && self.held[to] {
                let start = chains[index].from;
                place(self, &mut chains, index as u32, start, &mut sorted);
            }
        }
        self.out.free_chains = begin..sorted.len() as u32;
        let begin = sorted.len() as u32;
        sorted.extend(chains.iter().filter(|chain| chain.from == chain.to).cloned());
        self.out.loops = begin..sorted.len() as u32;

        let trees = order.len() as u32;
        for chain in &mut sorted {
            chain.from = slot[chain.from as usize];
            chain.to = slot[chain.to as usize];
        }
        self.out.core_count = ring.len();
        let core_range = self.out.core_chains.start as usize..self.out.core_chains.end as usize;
        let pairs: Vec<(u32, u32)> =
            sorted[core_range].iter().map(|chain| (chain.from - trees, chain.to - trees)).collect();
        self.out.core = Core::new(ring.len(), &pairs);
        self.out.core_entries =
            pairs.iter().map(|&(a, b)| self.out.core.entry(a, b).unwrap_or(NONE)).collect();
        self.out.chains = sorted;
    }

    /// How easily a chain passes liquid, by its narrowest bore alone; only good for ranking.
    fn ease(&self, chain: &Chain) -> f64 {
        let range = chain.elements.start as usize..chain.elements.end as usize;
        let mut narrowest = f64::INFINITY;
        for element in &self.out.elements[range] {
            let bore = self.network.graph.raw_edges()[element.link as usize].weight.kind.bore_m();
            narrowest = narrowest.min(bore);
        }
        narrowest
    }
}
