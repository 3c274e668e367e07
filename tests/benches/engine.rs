//! The engine on bars of 24 to 10,000 rows: `cargo bench --no-default-features --bench engine`.
//!
//! Cold: a full solve from a cold guess. Warm: again after one length changed. Set-up: the topology from nothing. Ratios to
//! another engine come from `tests/cross_check/epa_engine.py`.

#![allow(
    clippy::unwrap_used,
    clippy::excessive_precision,
    reason = "tests fail by panicking; published values keep their digits"
)]

use divan::Bencher;
use equirow::hydraulics::network::{Boundary, Fluid, FrictionLaw, Link, LinkKind, Network, Node};
use equirow::hydraulics::solver::Solver;
use petgraph::graph::DiGraph;

fn main() {
    divan::main();
}

const ROWS: [usize; 4] = [24, 120, 1_000, 10_000];

/// An invented bar: manifolds of eight rows along a header each, a tube, a check valve and an orifice a row.
fn bar(rows: usize) -> Network {
    let mut graph = DiGraph::new();
    let node = |graph: &mut DiGraph<Node, Link>, elevation_m, boundary| {
        let name = format!("n{}", graph.node_count());
        graph.add_node(Node { name, elevation_m, boundary })
    };
    let pipe = |length_m, bore_m, k_minor| LinkKind::Pipe { length_m, bore_m, roughness_m: 1.5e-6, k_minor };
    let add = |graph: &mut DiGraph<Node, Link>, a, b, kind| {
        let name = format!("l{}", graph.edge_count());
        graph.add_edge(a, b, Link { name, kind, closed: false });
    };
    let inlet = node(&mut graph, 0.9, Boundary::Pressure(2e5));
    let hub = node(&mut graph, 1.2, Boundary::Inflow(0.0));
    // Wide enough that rows of any bar get about the same pressure.
    add(&mut graph, inlet, hub, pipe(4.0, 0.05 * (rows as f64 / 120.0).max(1.0).powf(0.4), 1.5));
    let mut tap = hub;
    for row in 0..rows {
        let next = node(&mut graph, 1.15, Boundary::Inflow(0.0));
        let (from, length) = if row % 8 == 0 { (hub, 1.0 + (row / 8 % 10) as f64) } else { (tap, 0.05) };
        add(&mut graph, from, next, pipe(length, 0.019, if row % 8 == 0 { 1.8 } else { 0.3 }));
        tap = next;
        let top = node(&mut graph, 0.2, Boundary::Inflow(0.0));
        let below = node(&mut graph, 0.2, Boundary::Inflow(0.0));
        let out = node(&mut graph, 0.1, Boundary::Pressure(0.0));
        add(&mut graph, tap, top, pipe(1.2 + 0.05 * (row % 8) as f64, 0.005, 1.0));
        add(&mut graph, top, below, LinkKind::CheckValve { crack_pressure_pa: 15e3, k: 6.0, bore_m: 0.005 });
        add(
            &mut graph,
            below,
            out,
            LinkKind::Orifice { diameter_m: 0.0012, cd: 0.62, creeping_thickness_m: None },
        );
    }
    let fluid = Fluid { density_kg_m3: 1000.0, viscosity_pa_s: 1.0219e-3 };
    Network { graph, fluid, gravity_m_s2: 9.80665, friction_law: FrictionLaw::default() }
}

#[divan::bench(args = ROWS)]
fn set_up(bencher: Bencher, rows: usize) {
    let network = bar(rows);
    bencher.bench(|| Solver::new(&network));
}

#[divan::bench(args = ROWS)]
fn cold(bencher: Bencher, rows: usize) {
    let network = bar(rows);
    let mut solver = Solver::new(&network).unwrap();
    bencher.bench_local(|| {
        solver.forget();
        solver.solve(&network).map(|solution| solution.steps)
    });
}

#[divan::bench(args = ROWS)]
fn warm(bencher: Bencher, rows: usize) {
    let mut network = bar(rows);
    let mut solver = Solver::new(&network).unwrap();
    let tube = network.graph.edge_indices().nth(2).unwrap();
    let mut long = false;
    bencher.bench_local(|| {
        long = !long;
        if let LinkKind::Pipe { length_m, .. } = &mut network.graph[tube].kind {
            *length_m = if long { 1.7 } else { 1.3 };
        }
        solver.solve(&network).map(|solution| solution.steps)
    });
}
