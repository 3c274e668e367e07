//! How an empty network fills: liquid moves on from the supply as a front in each line, and each line fills at the flow it
//! gets while others still fill.
//!
//! Between two steps the wet part is solved as a network of its own: a full line as it is, a line that fills with the part
//! of its length that is wet, ending in the air at its front; so each state is steady, and fronts follow from the flows
//! (quasi-steady). Steps are halved until the flows change little within one, and end where a line is full. What holds
//! nothing passes a front on at once.
//!
//! Neglected: the inertia of the liquid, and most of its air: air leaves at the outlets without resistance but for the check
//! valves on its way, and is not compressed. A valve's cracking pressure has to be overcome less the weight of the liquid that
//! has run down to it beside the air. A front that falls does not suck: liquid in a line that fills downwards weighs nothing
//! until the line is full. Where fronts meet in a ring, the air between them goes on with the flow. Start with [`fill`].

use petgraph::Direction;
use petgraph::graph::{DiGraph, EdgeIndex, NodeIndex};
use petgraph::visit::EdgeRef;

use super::link::{Link, LinkKind};
use super::network::{Boundary, Network, Node};
use super::solver::{Failure, Solver};

/// The wet part of a line at its start, of its length: a line of no length would take nothing.
const FIRST: f64 = 1e-3;
/// Flows that change within a step by more than this part of the largest one halve it.
const COARSE: f64 = 0.02;
/// Flows that change less make the next one three times as long.
const FINE: f64 = 0.005;
/// What fills within this part of the time gone by is full at once.
const TOGETHER: f64 = 1e-4;
/// No step is made shorter than this and that part of the time gone by, s.
const SHORTEST: f64 = 1e-6;
/// Steps after which filling is given up.
const MOST_STEPS: usize = 20_000;

/// Lets liquid into an empty line and nothing back.
const NOTHING_BACK: LinkKind = LinkKind::CheckValve { crack_pressure_pa: 0.0, k: 0.0, bore_m: 1.0 };

/// How a network filled.
#[derive(Debug, Clone, PartialEq)]
pub struct Filling {
    /// When liquid came to each node, s; none where it never does.
    pub node_s: Vec<Option<f64>>,
    /// When each line was full, s; none where it never is, and for what holds nothing.
    pub link_s: Vec<Option<f64>>,
    /// When the last front had come to its end, s.
    pub end_s: f64,
    /// What the supply had given by then, m³.
    pub supplied_m3: f64,
}

/// Why a network was not filled.
#[derive(Debug, Clone, PartialEq)]
pub enum NotFilled {
    /// Whoever waits lost patience.
    Stopped,
    /// A state on the way could not be solved.
    Failed(Failure),
    /// The fronts came to no end.
    TooLong,
}

impl From<Failure> for NotFilled {
    fn from(failure: Failure) -> Self {
        Self::Failed(failure)
    }
}

/// Fills a network from its supply's node on. Nodes of a held pressure, other than that, are in open air. `watch` is told
/// which part of all links is full, and returns whether to go on.
pub fn fill(
    network: &Network,
    supply: NodeIndex,
    watch: &mut dyn FnMut(f64) -> bool,
) -> Result<Filling, NotFilled> {
    network.validate().map_err(Failure::from)?;
    let mut state = State::new(network, supply);
    let mut step = f64::INFINITY;
    // The wet part of the step before, as long as no front has come to an end.
    let mut kept = None;
    let all = network.graph.edge_count().max(1) as f64;
    for _ in 0..MOST_STEPS {
        let full = state.full.iter().filter(|full| **full).count() as f64;
        if !watch(full / all) {
            return Err(NotFilled::Stopped);
        }
        let Some(Moving { fronts, mut wet, flows: before }) = state.moving(kept.take())? else {
            return Ok(state.into_filling());
        };
        let moves_on = |front: &Front, flow: f64| front.volume_m3 == 0.0 && flow > 0.0;
        let at_once: Vec<NodeIndex> = fronts
            .iter()
            .zip(&before.fronts)
            .filter(|(front, flow)| moves_on(front, **flow))
            .map(|(front, _)| front.to)
            .collect();
        if !at_once.is_empty() {
            for node in at_once {
                state.reach(node);
                state.pass_on(node);
            }
            continue;
        }
        let to_end = |flows: &[f64]| {
            let moving = fronts.iter().zip(flows).filter(|(_, flow)| **flow > 0.0);
            moving.map(|(front, flow)| front.left() / flow).fold(f64::INFINITY, f64::min)
        };
        let largest = before.fronts.iter().map(|flow| flow.abs()).fold(0.0, f64::max);
        let mut time = step.min(to_end(&before.fronts));
        let (flows, change) = loop {
            let half = |(front, flow): (&Front, &f64)| (front.filled_m3 + flow * time / 2.0).max(0.0);
            let filled: Vec<f64> = fronts.iter().zip(&before.fronts).map(half).collect();
            let flows = wet.flows(&fronts, &filled)?;
            let change =
                before.fronts.iter().zip(&flows.fronts).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
            // Where a valve opens within a step its flow leaps, however short that is.
            let shortest = state.time_s * TOGETHER + SHORTEST;
            if change <= COARSE * largest || time <= shortest {
                break (flows, change);
            }
            time = (time / 2.0).max(shortest);
        };
        let time = time.min(to_end(&flows.fronts));
        if state.advance(&fronts, &flows, time) {
            step = f64::INFINITY;
            continue;
        }
        step = if change < FINE * largest { time * 3.0 } else { time };
        // Filled further, they are the same lines.
        let filled = |front: &Front| Front { filled_m3: state.filled_m3[front.link.index()], ..*front };
        kept = Some((fronts.iter().map(filled).collect(), wet));
    }
    Err(NotFilled::TooLong)
}

/// A line with a front in it, or what holds nothing with a front before it.
#[derive(Debug, Clone, Copy)]
struct Front {
    link: EdgeIndex,
    /// The node that it fills from, and the one that it comes to.
    from: NodeIndex,
    to: NodeIndex,
    volume_m3: f64,
    filled_m3: f64,
    /// What the air before it has to overcome on its way out, Pa.
    air_pa: f64,
}

impl Front {
    fn left(&self) -> f64 {
        (self.volume_m3 - self.filled_m3).max(0.0)
    }
}

/// What flows, m³/s.
struct Flows {
    /// Into the line of each front.
    fronts: Vec<f64>,
    /// From the supply.
    supply: f64,
}

struct Moving {
    fronts: Vec<Front>,
    wet: Wet,
    flows: Flows,
}

struct State<'a> {
    network: &'a Network,
    supply: NodeIndex,
    time_s: f64,
    supplied_m3: f64,
    /// When liquid came to each node.
    node_s: Vec<Option<f64>>,
    link_s: Vec<Option<f64>>,
    /// Wet from end to end.
    full: Vec<bool>,
    /// What is in a line that is not full, m³.
    filled_m3: Vec<f64>,
}

impl<'a> State<'a> {
    fn new(network: &'a Network, supply: NodeIndex) -> Self {
        let (nodes, links) = (network.graph.node_count(), network.graph.edge_count());
        let mut node_s = vec![None; nodes];
        if let Some(first) = node_s.get_mut(supply.index()) {
            *first = Some(0.0);
        }
        Self {
            network,
            supply,
            time_s: 0.0,
            supplied_m3: 0.0,
            node_s,
            link_s: vec![None; links],
            full: vec![false; links],
            filled_m3: vec![0.0; links],
        }
    }

    fn is_wet(&self, node: NodeIndex) -> bool {
        self.node_s[node.index()].is_some()
    }

    /// Where a front can be: from a wet node to a dry one that air can leave.
    fn fronts(&self) -> Vec<Front> {
        let air_pa = self.ways_of_air();
        let edges = self.network.graph.edge_references();
        let open = edges.filter(|edge| !edge.weight().closed && !self.full[edge.id().index()]);
        let front = |edge: petgraph::graph::EdgeReference<'_, Link>| {
            let kind = &edge.weight().kind;
            let (from, to) = match (self.is_wet(edge.source()), self.is_wet(edge.target())) {
                (true, false) => (edge.source(), edge.target()),
                (false, true) if !kind.one_way() => (edge.target(), edge.source()),
                _ => return None,
            };
            let filled_m3 = self.filled_m3[edge.id().index()];
            let graph = &self.network.graph;
            let air_pa = self.behind(air_pa[to.index()]?, graph[from].elevation_m - graph[to].elevation_m);
            Some(Front { link: edge.id(), from, to, volume_m3: kind.volume_m3(), filled_m3, air_pa })
        };
        open.filter_map(front).collect()
    }

    /// What is left of a pressure where liquid runs down so many metres to it.
    fn behind(&self, pressure_pa: f64, fall_m: f64) -> f64 {
        let weight = self.network.fluid.density_kg_m3 * self.network.gravity_m_s2;
        (pressure_pa - weight * fall_m.max(0.0)).max(0.0)
    }

    /// What air has to overcome on its easiest way from each dry node into the open, Pa: the valves, less the liquid that runs
    /// down to them; none where liquid shuts it in.
    fn ways_of_air(&self) -> Vec<Option<f64>> {
        let graph = &self.network.graph;
        let open = |node: NodeIndex| match graph[node].boundary {
            Boundary::Pressure(held) if !self.is_wet(node) => Some(held),
            _ => None,
        };
        let mut air: Vec<Option<f64>> = graph.node_indices().map(open).collect();
        let lower = |at: usize, by: Option<f64>, air: &mut Vec<Option<f64>>| {
            let is_lower = by.is_some_and(|by| air[at].is_none_or(|known| by < known));
            if is_lower {
                air[at] = by;
            }
            is_lower
        };
        let dry = |edge: &petgraph::graph::EdgeReference<'_, Link>| {
            !edge.weight().closed && !self.is_wet(edge.source()) && !self.is_wet(edge.target())
        };
        // Outlets come last in most networks.
        let edges: Vec<_> = graph.edge_references().filter(dry).collect();
        let mut changed = true;
        while changed {
            changed = false;
            for edge in edges.iter().rev() {
                let (from, to) = (edge.source().index(), edge.target().index());
                let crack = match edge.weight().kind {
                    LinkKind::CheckValve { crack_pressure_pa, .. } => crack_pressure_pa,
                    _ => 0.0,
                };
                let fall = graph[edge.source()].elevation_m - graph[edge.target()].elevation_m;
                let through = air[to].map(|pressure| self.behind(pressure + crack, fall));
                changed |= lower(from, through, &mut air);
                let back = air[from].filter(|_| !edge.weight().kind.one_way());
                changed |= lower(to, back.map(|pressure| self.behind(pressure, -fall)), &mut air);
            }
        }
        air
    }

    /// The fronts with what flows now; none where no front moves on. A front that would be sucked back out of its line
    /// waits.
    fn moving(&self, kept: Option<(Vec<Front>, Wet)>) -> Result<Option<Moving>, NotFilled> {
        let (fronts, kept) = match kept {
            Some((fronts, wet)) => (fronts, Some(wet)),
            None => (self.fronts(), None),
        };
        if fronts.is_empty() {
            return Ok(None);
        }
        let filled: Vec<f64> = fronts.iter().map(|front| front.filled_m3).collect();
        let mut wet = kept.unwrap_or_else(|| Wet::new(self, &fronts));
        let mut flows = wet.flows(&fronts, &filled)?;
        if wet.holds_back(&fronts, &flows) {
            wet = Wet::new(self, &fronts);
            flows = wet.flows(&fronts, &filled)?;
        }
        let moves = flows.fronts.iter().any(|flow| *flow > 0.0);
        Ok(moves.then_some(Moving { fronts, wet, flows }))
    }

    /// Liquid comes to a node; what lies between two wet nodes is full.
    fn reach(&mut self, node: NodeIndex) {
        if self.is_wet(node) {
            return;
        }
        self.node_s[node.index()] = Some(self.time_s);
        let graph = &self.network.graph;
        let all = graph.edges_directed(node, Direction::Incoming);
        for edge in all.chain(graph.edges_directed(node, Direction::Outgoing)) {
            let place = edge.id().index();
            let wet = self.is_wet(edge.source()) && self.is_wet(edge.target());
            if wet && !self.full[place] && !edge.weight().closed {
                self.full[place] = true;
                self.link_s[place] = (edge.weight().kind.volume_m3() > 0.0).then_some(self.time_s);
            }
        }
    }

    /// Liquid that has come to a node comes at once as far as lines of no volume lead that change nothing about whether it flows:
    /// each the only way on, not upwards, and no valve that could stay shut. Downwards the same air is before the liquid
    /// at the same height, since what falls does not suck.
    fn pass_on(&mut self, node: NodeIndex) {
        let graph = &self.network.graph;
        let mut at = node;
        loop {
            let dry = |edge: &petgraph::graph::EdgeReference<'_, Link>| {
                let is_between_wet = self.is_wet(edge.source()) && self.is_wet(edge.target());
                !edge.weight().closed && !self.full[edge.id().index()] && !is_between_wet
            };
            let mut onwards = graph.edges_directed(at, Direction::Outgoing).filter(dry);
            let is_joined = graph.edges_directed(at, Direction::Incoming).any(|edge| dry(&edge));
            let (Some(next), None, false) = (onwards.next(), onwards.next(), is_joined) else { return };
            let kind = &next.weight().kind;
            let is_open = kind.volume_m3() == 0.0 && !matches!(kind, LinkKind::CheckValve { .. });
            let to = next.target();
            if !is_open || graph[at].elevation_m < graph[to].elevation_m {
                return;
            }
            self.reach(to);
            at = to;
        }
    }

    /// Lets so much time go by; whether a front came to its end.
    fn advance(&mut self, fronts: &[Front], flows: &Flows, time: f64) -> bool {
        let mut has_come_to_an_end = false;
        self.time_s += time;
        self.supplied_m3 += flows.supply * time;
        for (front, flow) in fronts.iter().zip(&flows.fronts) {
            self.filled_m3[front.link.index()] = (front.filled_m3 + flow * time).max(0.0);
        }
        for (front, flow) in fronts.iter().zip(&flows.fronts) {
            let left = front.volume_m3 - self.filled_m3[front.link.index()];
            if *flow > 0.0 && left <= flow * TOGETHER * self.time_s {
                self.reach(front.to);
                has_come_to_an_end = true;
            }
        }
        has_come_to_an_end
    }

    fn into_filling(self) -> Filling {
        Filling {
            node_s: self.node_s,
            link_s: self.link_s,
            end_s: self.time_s,
            supplied_m3: self.supplied_m3,
        }
    }
}

/// The wet part as a network of its own.
struct Wet {
    network: Network,
    solver: Solver,
    supply: NodeIndex,
    fronts: Vec<WetFront>,
}

/// A front in the network of the wet part.
struct WetFront {
    link: EdgeIndex,
    /// The link as it is when full.
    kind: LinkKind,
    /// The node at the front.
    end: NodeIndex,
    /// Where the link begins and ends, m.
    heights: [f64; 2],
    /// The line was empty: nothing can be sucked out of it, which a valve stands for.
    is_held: bool,
}

impl Wet {
    fn new(state: &State<'_>, fronts: &[Front]) -> Self {
        let whole = &state.network.graph;
        let mut graph = DiGraph::with_capacity(whole.node_count(), whole.edge_count());
        let mut own = vec![None; whole.node_count()];
        for node in whole.node_indices().filter(|node| state.is_wet(*node)) {
            own[node.index()] = Some(graph.add_node(whole[node].clone()));
        }
        for edge in whole.edge_references().filter(|edge| state.full[edge.id().index()]) {
            if let (Some(from), Some(to)) = (own[edge.source().index()], own[edge.target().index()]) {
                graph.add_edge(from, to, edge.weight().clone());
            }
        }
        let mut at = Vec::with_capacity(fronts.len());
        for front in fronts {
            let Some(from) = own[front.from.index()] else { continue };
            let heights = [front.from, front.to].map(|node| whole[node].elevation_m);
            let boundary = Boundary::Pressure(front.air_pa);
            let end = graph.add_node(Node { name: String::new(), elevation_m: heights[0], boundary });
            // What can be passed both ways may as well begin where it fills from.
            let kind = whole[front.link].kind;
            let plain = |kind| Link { name: String::new(), kind, closed: false };
            let is_held = front.filled_m3 <= 0.0 && !kind.one_way();
            let begin = if is_held {
                let boundary = Boundary::Inflow(0.0);
                let begin = graph.add_node(Node { name: String::new(), elevation_m: heights[0], boundary });
                graph.add_edge(from, begin, plain(NOTHING_BACK));
                begin
            } else {
                from
            };
            let link = graph.add_edge(begin, end, plain(kind));
            at.push(WetFront { link, kind, end, heights, is_held });
        }
        let supply = own[state.supply.index()].unwrap_or_default();
        let network = Network {
            graph,
            fluid: state.network.fluid,
            gravity_m_s2: state.network.gravity_m_s2,
            friction_law: state.network.friction_law,
        };
        Self { solver: Solver::of_checked(&network), network, supply, fronts: at }
    }

    /// Liquid that is in a line by now would run back out of it, but for the valve that its emptiness stood for.
    fn holds_back(&self, fronts: &[Front], flows: &Flows) -> bool {
        let all = self.fronts.iter().zip(fronts).zip(&flows.fronts);
        all.into_iter().any(|((wet, front), flow)| wet.is_held && front.filled_m3 > 0.0 && *flow <= 0.0)
    }

    /// What flows with so much in the lines of the fronts, m³.
    fn flows(&mut self, fronts: &[Front], filled_m3: &[f64]) -> Result<Flows, Failure> {
        for ((WetFront { link, kind, end, heights, .. }, front), filled) in
            self.fronts.iter().zip(fronts).zip(filled_m3)
        {
            let part = if front.volume_m3 > 0.0 { (filled / front.volume_m3).clamp(FIRST, 1.0) } else { 1.0 };
            let climbs = (heights[1] - heights[0]).max(0.0);
            self.network.graph[*end].elevation_m = heights[0] + climbs * part;
            self.network.graph[*link].kind = part_of(kind, part);
        }
        let solution = self.solver.solve(&self.network)?;
        let flow = |link: EdgeIndex| solution.link_flow_m3s[link.index()];
        let leaves = self.network.graph.edges_directed(self.supply, Direction::Outgoing);
        let comes = self.network.graph.edges_directed(self.supply, Direction::Incoming);
        Ok(Flows {
            fronts: self.fronts.iter().map(|front| flow(front.link)).collect(),
            supply: leaves.map(|edge| flow(edge.id())).sum::<f64>()
                - comes.map(|edge| flow(edge.id())).sum::<f64>(),
        })
    }
}

/// A line of which a part is wet.
const fn part_of(kind: &LinkKind, part: f64) -> LinkKind {
    match *kind {
        LinkKind::Pipe { length_m, bore_m, roughness_m, k_minor } => {
            LinkKind::Pipe { length_m: length_m * part, bore_m, roughness_m, k_minor: k_minor * part }
        }
        LinkKind::MeteringTube { length_m, bore_m, roughness_m, coil_diameter_m } => {
            LinkKind::MeteringTube { length_m: length_m * part, bore_m, roughness_m, coil_diameter_m }
        }
        other => other,
    }
}
