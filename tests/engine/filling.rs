//! An empty network that fills, against cases with an answer in closed form.

use equirow::hydraulics::filling::{NotFilled, fill};
use equirow::hydraulics::network::{Boundary, Fluid, FrictionLaw, Link, LinkKind, Network, Node};
use petgraph::graph::{DiGraph, NodeIndex};

const DENSITY: f64 = 1000.0;
const VISCOSITY: f64 = 0.05;

struct Draft(DiGraph<Node, Link>);

impl Draft {
    fn node(&mut self, boundary: Boundary, elevation_m: f64) -> NodeIndex {
        self.0.add_node(Node { name: String::new(), elevation_m, boundary })
    }

    fn link(&mut self, from: NodeIndex, to: NodeIndex, kind: LinkKind) {
        self.0.add_edge(from, to, Link { name: String::new(), kind, closed: false });
    }

    fn network(self) -> Network {
        Network {
            graph: self.0,
            fluid: Fluid { density_kg_m3: DENSITY, viscosity_pa_s: VISCOSITY },
            gravity_m_s2: 9.80665,
            friction_law: FrictionLaw::LaminarColebrook,
        }
    }
}

const fn tube(length_m: f64, bore_m: f64) -> LinkKind {
    LinkKind::Pipe { length_m, bore_m, roughness_m: 0.0, k_minor: 0.0 }
}

fn area(bore: f64) -> f64 {
    std::f64::consts::FRAC_PI_4 * bore * bore
}

fn close(ours: f64, expected: f64, within: f64) {
    assert!((ours / expected - 1.0).abs() < within, "{ours} against {expected}");
}

/// Two laminar tubes of bores d and lengths L from one node that a pump meters Q into. While both fill, the pressure is the
/// same over both, so that (Poiseuille) the wet lengths x go as the bores and the flows as d³: the first is full at
/// t1 = V1 / q1. From then on q2 = Q K2 L1 / (K1 x + K2 L1) with K = d⁴, and
/// A2 (K1 x²/2 + K2 L1 x) grows by Q K2 L1 t: worked by hand, as no source prints it.
#[test]
fn two_branches_fill_as_poiseuille_says() {
    let (q, d, l) = (1e-5, [0.004, 0.006], [1.0, 4.0]);
    let mut draft = Draft(DiGraph::new());
    let start = draft.node(Boundary::Inflow(q), 0.0);
    let ends = [0, 1].map(|_| draft.node(Boundary::Pressure(0.0), 0.0));
    for branch in 0..2 {
        draft.link(start, ends[branch], tube(l[branch], d[branch]));
    }
    let filling = fill(&draft.network(), start, &mut |_| true).unwrap();
    let cubes = d.map(|d: f64| d.powi(3));
    let q_of = |branch: usize| q * cubes[branch] / (cubes[0] + cubes[1]);
    let t1 = area(d[0]) * l[0] / q_of(0);
    let x = q_of(1) * t1 / area(d[1]);
    assert!(x < l[1], "the first is full first");
    let k = d.map(|d: f64| d.powi(4));
    let grown = |x: f64| area(d[1]) * (k[0] * x * x / 2.0 + k[1] * l[0] * x);
    let t2 = t1 + (grown(l[1]) - grown(x)) / (q * k[1] * l[0]);
    close(filling.node_s[ends[0].index()].unwrap(), t1, 2e-3);
    close(filling.node_s[ends[1].index()].unwrap(), t2, 2e-3);
    // Both equal: each gets half from the beginning, which is not so here.
    assert!((t2 / (area(d[1]) * l[1] / (q / 2.0)) - 1.0).abs() > 0.1);
    close(filling.supplied_m3, q * filling.end_s, 1e-9);
}

/// A held pressure p moves the front in a level laminar tube as x² = p d² t / (16 µ) (Washburn 1921, without capillarity).
#[test]
fn a_held_pressure_fills_a_tube_as_washburn_says() {
    let (p, d, l) = (2e4, 0.003, 2.0);
    let mut draft = Draft(DiGraph::new());
    let start = draft.node(Boundary::Pressure(p), 0.0);
    let end = draft.node(Boundary::Pressure(0.0), 0.0);
    draft.link(start, end, tube(l, d));
    let filling = fill(&draft.network(), start, &mut |_| true).unwrap();
    close(filling.end_s, 16.0 * VISCOSITY * l * l / (p * d * d), 0.01);
}

/// Section 5 of the trade values this program is tried on, computed there: 6 mm by 4 m hold 0.113 L, 27 s at 0.25 L/min.
#[test]
fn one_tube_takes_its_volume_over_its_flow() {
    let mut draft = Draft(DiGraph::new());
    let start = draft.node(Boundary::Inflow(0.25e-3 / 60.0), 0.0);
    let end = draft.node(Boundary::Pressure(0.0), -0.8);
    draft.link(start, end, tube(4.0, 0.006));
    let network = draft.network();
    close(network.graph.edge_weights().map(|link| link.kind.volume_m3()).sum::<f64>(), 0.1131e-3, 1e-3);
    close(fill(&network, start, &mut |_| true).unwrap().end_s, 27.14, 1e-3);
}

/// A closed link and a dead end keep their air; a front stops below what lifts it; a shut valve passes nothing.
#[test]
fn what_air_can_not_leave_stays_empty() {
    let mut draft = Draft(DiGraph::new());
    let start = draft.node(Boundary::Pressure(5e3), 0.0);
    let middle = draft.node(Boundary::Inflow(0.0), 0.0);
    let outlet = draft.node(Boundary::Pressure(0.0), 0.0);
    let dead = draft.node(Boundary::Inflow(0.0), 0.0);
    let high = draft.node(Boundary::Pressure(0.0), 1.0);
    let behind = draft.node(Boundary::Pressure(0.0), 0.0);
    draft.link(start, middle, tube(0.5, 0.01));
    draft.link(middle, outlet, tube(0.5, 0.002));
    draft.link(middle, dead, tube(0.5, 0.01));
    draft.link(middle, high, tube(1.0, 0.01));
    draft.link(middle, behind, LinkKind::CheckValve { crack_pressure_pa: 2e4, k: 1.0, bore_m: 0.005 });
    let filling = fill(&draft.network(), start, &mut |_| true).unwrap();
    let at = |node: NodeIndex| filling.node_s[node.index()];
    assert!(at(middle).is_some() && at(outlet).is_some());
    assert_eq!([at(dead), at(high), at(behind)], [None; 3]);
}

#[test]
fn whoever_waits_can_stop_it() {
    let mut draft = Draft(DiGraph::new());
    let start = draft.node(Boundary::Pressure(1e4), 0.0);
    let end = draft.node(Boundary::Pressure(0.0), 0.0);
    draft.link(start, end, tube(1.0, 0.003));
    assert_eq!(fill(&draft.network(), start, &mut |_| false), Err(NotFilled::Stopped));
}
