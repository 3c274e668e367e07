//! Random networks, and a judge of solutions that shares nothing with the solver but the single losses.

#![allow(
    dead_code,
    unreachable_pub,
    clippy::unwrap_used,
    reason = "shared by several test files; each uses its own part of it"
)]

use equirow::hydraulics::network::{Boundary, Fluid, FrictionLaw, Link, LinkKind, Network, Node};
use equirow::hydraulics::solver::Solution;
use equirow::hydraulics::supply_law::Regime;
use petgraph::graph::{DiGraph, NodeIndex};

/// SplitMix64 (public domain, S. Vigna): repeatable on every machine.
pub struct Random(u64);

impl Random {
    pub fn new(seed: u64) -> Self {
        Self(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) ^ 0x1234_5678_9ABC_DEF0)
    }
    pub fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }
    pub fn unit(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1u64 << 53) as f64
    }
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }
    pub fn log_between(&mut self, low: f64, high: f64) -> f64 {
        self.between(low.ln(), high.ln()).exp()
    }
    pub fn below(&mut self, count: usize) -> usize {
        (self.next() % count as u64) as usize
    }
    pub fn chance(&mut self, probability: f64) -> bool {
        self.unit() < probability
    }
}

pub fn node(name: impl Into<String>, elevation_m: f64, boundary: Boundary) -> Node {
    Node { name: name.into(), elevation_m, boundary }
}

pub fn link(name: impl Into<String>, kind: LinkKind) -> Link {
    Link { name: name.into(), kind, closed: false }
}

pub fn pipe(length_m: f64, bore_m: f64, k_minor: f64) -> LinkKind {
    LinkKind::Pipe { length_m, bore_m, roughness_m: 1.5e-6, k_minor }
}

/// A random network: trees and rings, 1 to 300 outlets, water to 200 mPa s, bores 0.4 to 50 mm, valves, closed links,
/// slopes, metered or held supply, every kind of link.
pub fn random_network(seed: u64) -> Network {
    let r = &mut Random::new(seed);
    let outlets = if r.chance(0.5) { 1 + r.below(24) } else { 1 + r.below(300) };
    let slope_x = if r.chance(0.6) { r.between(-0.3, 0.3) } else { 0.0 };
    let mut graph: DiGraph<Node, Link> = DiGraph::new();
    let widest = r.log_between(0.004, 0.05);
    let main = |r: &mut Random| {
        let bore_m = if r.chance(0.9) { widest * r.between(0.5, 1.0) } else { r.log_between(0.0004, 0.05) };
        let roughness_m = if r.chance(0.3) { 0.0 } else { r.log_between(1e-7, 0.01 * bore_m) };
        let k_minor = if r.chance(0.3) { 0.0 } else { r.between(0.0, 5.0) };
        LinkKind::Pipe { length_m: r.log_between(0.02, 15.0), bore_m, roughness_m, k_minor }
    };
    let total = r.log_between(1e-8, 2e-3);
    let metered = r.chance(0.5);
    let supply =
        if metered { Boundary::Inflow(total) } else { Boundary::Pressure(r.log_between(500.0, 8e5)) };
    let inlet = graph.add_node(node("in", r.between(-1.0, 3.0), supply));
    // Hubs: a random tree, or a line, with rings closed at random.
    let hubs = 1 + r.below(if outlets > 30 { outlets / 3 } else { outlets });
    let mut spine: Vec<NodeIndex> = Vec::new();
    for hub in 0..hubs {
        let elevation = slope_x * r.between(-15.0, 15.0) + r.between(0.0, 1.5);
        let here = graph.add_node(node(format!("h{hub}"), elevation, Boundary::Inflow(0.0)));
        let from = if hub == 0 {
            inlet
        } else if r.chance(0.5) {
            spine[hub - 1]
        } else {
            spine[r.below(hub)]
        };
        let kind = match r.below(12) {
            0 => LinkKind::Fitting {
                k: if r.chance(0.2) { 0.0 } else { r.between(0.1, 20.0) },
                bore_m: widest,
            },
            1 => LinkKind::CheckValve {
                crack_pressure_pa: r.between(0.0, 3e4),
                k: r.between(0.0, 10.0),
                bore_m: widest,
            },
            _ => main(r),
        };
        let (a, b) = if !kind.one_way() && r.chance(0.3) { (here, from) } else { (from, here) };
        graph.add_edge(a, b, link(format!("m{hub}"), kind));
        spine.push(here);
    }
    if r.chance(0.4) && hubs > 1 {
        for ring in 0..=r.below(hubs.min(8)) {
            let (a, b) = (spine[r.below(hubs)], spine[r.below(hubs)]);
            if a != b {
                let kind = if r.chance(0.1) {
                    LinkKind::Fitting { k: r.between(0.0, 20.0), bore_m: widest }
                } else {
                    main(r)
                };
                graph.add_edge(a, b, link(format!("ring{ring}"), kind));
            }
        }
    }
    if r.chance(0.1) {
        let at = spine[r.below(hubs)];
        let second =
            graph.add_node(node("in2", r.between(-1.0, 2.0), Boundary::Pressure(r.log_between(500.0, 8e5))));
        graph.add_edge(second, at, link("supply2", main(r)));
    }
    if r.chance(0.05) {
        let at = spine[r.below(hubs)];
        let tap = graph.add_node(node("tap", 0.0, Boundary::Inflow(-0.01 * total)));
        graph.add_edge(at, tap, link("tap", main(r)));
    }
    let valves = r.chance(0.7);
    let crack = r.log_between(500.0, 1e5);
    let tube = r.log_between(0.001, 0.012);
    let metering = r.below(5);
    let orifice = r.log_between(0.0004, 0.004);
    let closed_part = if r.chance(0.3) { r.between(0.0, 0.6) } else { 0.0 };
    for row in 0..outlets {
        let hub = spine[r.below(hubs)];
        let x = r.between(-15.0, 15.0);
        let level = slope_x * x + r.between(-0.2, 0.4);
        let top = graph.add_node(node(format!("t{row}"), level + 0.1, Boundary::Inflow(0.0)));
        let closed = r.chance(closed_part);
        let roughness_m = if r.chance(0.5) { 0.0 } else { 1.5e-6 };
        let length_m = r.between(0.3, 6.0);
        let delivery = LinkKind::Pipe { length_m, bore_m: tube, roughness_m, k_minor: r.between(0.0, 3.0) };
        let (a, b) = if r.chance(0.1) { (top, hub) } else { (hub, top) };
        graph.add_edge(
            a,
            b,
            Link { name: format!("d{row}"), kind: delivery, closed: closed && r.chance(0.5) },
        );
        let mut above = top;
        if valves && r.chance(0.95) {
            let below = graph.add_node(node(format!("v{row}"), level, Boundary::Inflow(0.0)));
            let kind = LinkKind::CheckValve {
                crack_pressure_pa: crack * r.between(0.8, 1.2),
                k: r.between(0.0, 12.0),
                bore_m: tube,
            };
            graph.add_edge(above, below, link(format!("c{row}"), kind));
            above = below;
        }
        let end = if r.chance(0.9) { 0.0 } else { r.between(0.0, 2e4) };
        let out = graph.add_node(node(format!("o{row}"), level - 0.05, Boundary::Pressure(end)));
        let kind = match metering {
            0 | 1 => LinkKind::Orifice { diameter_m: orifice, cd: 0.62, creeping_thickness_m: None },
            2 => LinkKind::Orifice {
                diameter_m: orifice,
                cd: 0.7,
                creeping_thickness_m: Some(r.between(0.0, 0.002)),
            },
            3 => LinkKind::MeteringTube {
                length_m: r.between(0.2, 4.0),
                bore_m: orifice,
                roughness_m: 0.0,
                coil_diameter_m: r.chance(0.5).then_some(0.08),
            },
            _ => LinkKind::Pipe {
                length_m: r.between(0.2, 4.0),
                bore_m: orifice,
                roughness_m: 0.0,
                k_minor: 1.5,
            },
        };
        graph.add_edge(above, out, Link { name: format!("x{row}"), kind, closed });
    }
    if r.chance(0.1) {
        let at = spine[r.below(hubs)];
        let gauge = graph.add_node(node("gauge", 1.0, Boundary::Inflow(0.0)));
        graph.add_edge(at, gauge, link("gauge", pipe(0.3, 0.004, 0.0)));
    }
    let fluid = Fluid { density_kg_m3: r.between(950.0, 1450.0), viscosity_pa_s: r.log_between(0.8e-3, 0.2) };
    let friction_law = if r.chance(0.2) { FrictionLaw::Churchill } else { FrictionLaw::LaminarColebrook };
    Network { graph, fluid, gravity_m_s2: 9.80665, friction_law }
}

/// What is left of both equations, worked out link by link.
#[derive(Debug, Clone, Copy, Default)]
pub struct Residuals {
    /// Largest imbalance at a node, over the largest flow.
    pub mass: f64,
    /// Largest energy error of a link, over the largest pressure.
    pub energy: f64,
}

/// Judges a solution; an error names what is broken beyond any tolerance.
pub fn judge(network: &Network, solution: &Solution) -> Result<Residuals, String> {
    let graph = &network.graph;
    let weight = network.fluid.density_kg_m3 * network.gravity_m_s2;
    let mut balance: Vec<f64> = graph
        .node_weights()
        .map(|node| match &node.boundary {
            Boundary::Inflow(flow) => *flow,
            Boundary::Pressure(_) => 0.0,
            Boundary::Supply(_) => solution.supply.unwrap().flow_m3s,
        })
        .collect();
    let largest_flow = solution.link_flow_m3s.iter().fold(0.0, |a: f64, b| a.max(b.abs()));
    let largest_pressure = solution.node_pressure_pa.iter().flatten().fold(0.0, |a: f64, b| a.max(b.abs()));
    let mut found = Residuals::default();
    let mut conducts = vec![false; graph.edge_count()];
    for (index, edge) in graph.raw_edges().iter().enumerate() {
        let flow = solution.link_flow_m3s[index];
        let (from, to) = (edge.source(), edge.target());
        let name = &edge.weight.name;
        if !flow.is_finite() {
            return Err(format!("{name}: flow is {flow}"));
        }
        balance[from.index()] -= flow;
        balance[to.index()] += flow;
        if edge.weight.closed {
            if flow != 0.0 {
                return Err(format!("{name}: closed but carries {flow}"));
            }
            continue;
        }
        let head = |at: NodeIndex| {
            solution.node_pressure_pa[at.index()].map(|pressure| pressure + weight * graph[at].elevation_m)
        };
        let valve = edge.weight.kind.one_way();
        conducts[index] = !valve || flow > 0.0;
        let (Some(above), Some(below)) = (head(from), head(to)) else {
            if flow != 0.0 {
                return Err(format!("{name}: beside a node without pressure but carries {flow}"));
            }
            continue;
        };
        if valve && flow < 0.0 {
            return Err(format!("{name}: valve carries {flow}"));
        }
        let loss = edge.weight.kind.law(&network.fluid, network.friction_law).loss(flow).pressure_pa;
        let off =
            if valve && flow == 0.0 { (above - below - loss).max(0.0) } else { (above - below - loss).abs() };
        if off.is_nan() {
            return Err(format!("{name}: no number"));
        }
        if largest_pressure > 0.0 && off / largest_pressure > found.energy {
            found.energy = off / largest_pressure;
        }
    }
    for node in graph.node_indices() {
        if !matches!(graph[node].boundary, Boundary::Pressure(_)) && largest_flow > 0.0 {
            found.mass = found.mass.max(balance[node.index()].abs() / largest_flow);
        }
    }
    // A node has a pressure exactly when conducting links join it to a held one.
    let mut joined: Vec<bool> =
        // A supply sets the level of pressure unless its flow is held.
        graph
            .node_weights()
            .map(|node| match node.boundary {
                Boundary::Pressure(_) => true,
                Boundary::Supply(_) => solution.supply.unwrap().regime != Regime::Flow,
                Boundary::Inflow(_) => false,
            })
            .collect();
    loop {
        let mut grown = false;
        for (index, edge) in graph.raw_edges().iter().enumerate() {
            let (a, b) = (edge.source().index(), edge.target().index());
            if conducts[index] && joined[a] != joined[b] {
                (joined[a], joined[b]) = (true, true);
                grown = true;
            }
        }
        if !grown {
            break;
        }
    }
    for node in graph.node_indices() {
        if joined[node.index()] != solution.node_pressure_pa[node.index()].is_some() {
            return Err(format!(
                "{}: pressure given {}, joined {}",
                graph[node].name,
                !joined[node.index()],
                joined[node.index()]
            ));
        }
    }
    Ok(found)
}
