//! What must hold of every solution, on random networks and on made ones. All networks are invented.
//!
//! The long run of 100,000 random networks: `EQUIROW_RANDOM_NETWORKS=100000 cargo test --release
//! --no-default-features --test engine properties::random -- --nocapture`.

use crate::random_networks::{Random, judge, link, node, pipe, random_network};
use equirow::hydraulics::losses;
use equirow::hydraulics::network::{Boundary, Fluid, FrictionLaw, LinkKind, Network};
use equirow::hydraulics::prepared::{KeptSolver, solved_network};
use equirow::hydraulics::solver::response::{EquationChange, Response};
use equirow::hydraulics::solver::{self, Failure, Solution};
use equirow::hydraulics::supply_law::{Asked, Regime, SupplyLaw};
use equirow::plan::{ElementItem, Item, PartItem, RoutingGeometry};
use equirow::plan::{Manifold, MeteringOrifice};
use equirow::quantities::Length;
use petgraph::Direction;
use petgraph::graph::{DiGraph, EdgeIndex, NodeIndex};
use petgraph::visit::EdgeRef;

#[test]
fn random_networks_are_solved_or_refused_for_a_reason() {
    let count: u64 =
        std::env::var("EQUIROW_RANDOM_NETWORKS").ok().and_then(|n| n.parse().ok()).unwrap_or(2_000);
    let first: u64 = std::env::var("EQUIROW_RANDOM_SEED").ok().and_then(|n| n.parse().ok()).unwrap_or(0);
    let (mut solved, mut refused, mut failures) = (0u64, 0u64, Vec::new());
    let (mut mass, mut energy, mut steps) = ((0.0, 0), (0.0, 0), (0, 0));
    let mut all_steps = 0;
    for seed in first..first + count {
        let network = random_network(seed);
        match solver::solve(&network) {
            Ok(solution) => {
                solved += 1;
                all_steps += solution.steps;
                if solution.steps > steps.0 {
                    steps = (solution.steps, seed);
                }
                match judge(&network, &solution) {
                    Ok(residuals) => {
                        if residuals.mass > mass.0 {
                            mass = (residuals.mass, seed);
                        }
                        if residuals.energy > energy.0 {
                            energy = (residuals.energy, seed);
                        }
                        if residuals.mass > 1e-10 || residuals.energy > 1e-8 {
                            failures.push(format!("seed {seed}: {residuals:?}"));
                        }
                    }
                    Err(why) => failures.push(format!("seed {seed}: {why}")),
                }
            }
            Err(Failure::Rejected(rejection)) => {
                refused += 1;
                assert!(
                    ["stranded_inflow", "no_outlet"].contains(&rejection.reason.code()),
                    "seed {seed}: {rejection:?}"
                );
            }
            Err(failure) => failures.push(format!("seed {seed}: {failure}")),
        }
    }
    println!(
        "{count} random networks: {solved} solved, {refused} refused; mean steps {:.2}, most {} (seed {}); \
         worst mass residual {:.1e} (seed {}), worst energy residual {:.1e} (seed {})",
        all_steps as f64 / solved.max(1) as f64,
        steps.0,
        steps.1,
        mass.0,
        mass.1,
        energy.0,
        energy.1
    );
    assert!(
        failures.is_empty(),
        "{} failures, first: {:#?}",
        failures.len(),
        &failures[..failures.len().min(15)]
    );
    assert!(solved > 9 * refused, "the generator makes too few networks that can be solved");
}

/// Turns every link round; a check valve would then point the wrong way, so networks without valves only.
fn reversed(network: &Network) -> Network {
    let mut graph = DiGraph::new();
    for weight in network.graph.node_weights() {
        graph.add_node(weight.clone());
    }
    for edge in network.graph.edge_references() {
        graph.add_edge(edge.target(), edge.source(), edge.weight().clone());
    }
    Network { graph, ..network.clone() }
}

fn close(a: f64, b: f64, scale: f64) -> bool {
    (a - b).abs() <= 1e-7 * scale
}

fn largest(values: &[f64]) -> f64 {
    values.iter().fold(0.0, |a: f64, b| a.max(b.abs()))
}

/// A bar that is fed in its middle: a header with a tap for each row, tube, valve and orifice a row.
fn bar(rows: usize, supply: Boundary) -> Network {
    let mut graph = DiGraph::new();
    let inlet = graph.add_node(node("in", 0.9, supply));
    let taps: Vec<_> =
        (0..rows).map(|i| graph.add_node(node(format!("p{i}"), 1.0, Boundary::Inflow(0.0)))).collect();
    for i in 1..rows {
        graph.add_edge(taps[i - 1], taps[i], link(format!("h{i}"), pipe(0.25, 0.019, 0.2)));
    }
    let middle = (rows - 1) / 2;
    graph.add_edge(inlet, taps[middle], link("supply", pipe(3.0, 0.025, 2.0)));
    if rows.is_multiple_of(2) {
        graph.add_edge(inlet, taps[middle + 1], link("supply2", pipe(3.0, 0.025, 2.0)));
    }
    for (i, tap) in taps.iter().enumerate() {
        let top = graph.add_node(node(format!("t{i}"), 0.3, Boundary::Inflow(0.0)));
        let below = graph.add_node(node(format!("v{i}"), 0.3, Boundary::Inflow(0.0)));
        let out = graph.add_node(node(format!("o{i}"), 0.2, Boundary::Pressure(0.0)));
        graph.add_edge(*tap, top, link(format!("d{i}"), pipe(1.2, 0.005, 1.0)));
        let valve = LinkKind::CheckValve { crack_pressure_pa: 15_000.0, k: 8.0, bore_m: 0.005 };
        graph.add_edge(top, below, link(format!("c{i}"), valve));
        let orifice = LinkKind::Orifice { diameter_m: 0.0012, cd: 0.62, creeping_thickness_m: None };
        graph.add_edge(below, out, link(format!("m{i}"), orifice));
    }
    let fluid = Fluid { density_kg_m3: 1280.0, viscosity_pa_s: 0.004 };
    Network { graph, fluid, gravity_m_s2: 9.80665, friction_law: FrictionLaw::default() }
}

fn row_flows(network: &Network, solution: &solver::Solution) -> Vec<f64> {
    let outlets = network.graph.edge_indices().filter(|&e| network.graph[e].name.starts_with('m'));
    outlets.map(|e| solution.link_flow_m3s[e.index()]).collect()
}

#[test]
fn turning_links_round_changes_signs_only() {
    let mut compared = 0;
    for seed in 0..800 {
        let network = random_network(seed);
        if network.graph.edge_weights().any(|link| link.kind.one_way()) {
            continue;
        }
        let (Ok(one), Ok(other)) = (solver::solve(&network), solver::solve(&reversed(&network))) else {
            continue;
        };
        let scale = largest(&one.link_flow_m3s);
        for (a, b) in one.link_flow_m3s.iter().zip(&other.link_flow_m3s) {
            assert!(close(*a, -b, scale), "seed {seed}: {a} {b}");
        }
        compared += 1;
    }
    assert!(compared > 50, "{compared}");
}

#[test]
fn a_mirrored_bar_has_mirrored_flows() {
    for rows in [1, 2, 7, 24, 61] {
        for supply in [Boundary::Pressure(2e5), Boundary::Inflow(8e-6 * rows as f64)] {
            let network = bar(rows, supply);
            let flows = row_flows(&network, &solver::solve(&network).unwrap());
            for (left, right) in flows.iter().zip(flows.iter().rev()) {
                assert!(close(*left, *right, largest(&flows)), "{rows} rows: {left} {right}");
            }
        }
    }
}

#[test]
fn more_supply_pressure_never_lowers_a_row() {
    for seed in 0..300 {
        let mut network = random_network(seed);
        let inlet = network.graph.node_indices().next().unwrap();
        if !matches!(network.graph[inlet].boundary, Boundary::Pressure(_)) {
            continue;
        }
        let mut solver = solver::Solver::new(&network).unwrap();
        let mut before: Option<Vec<f64>> = None;
        for pressure in [1e3, 2e4, 5e4, 1e5, 1.01e5, 3e5, 9e5] {
            network.graph[inlet].boundary = Boundary::Pressure(pressure);
            let solution = solver.solve(&network).unwrap();
            // Outlets alone: with rings, mains may well turn round.
            let flows: Vec<f64> = network
                .graph
                .edge_indices()
                .filter(|&e| network.graph[e].name.starts_with('x'))
                .map(|e| solution.link_flow_m3s[e.index()])
                .collect();
            if let Some(before) = &before {
                let scale = largest(&flows);
                for (was, is) in before.iter().zip(&flows) {
                    assert!(*is >= was - 1e-8 * scale, "seed {seed}, {pressure} Pa: {was} -> {is}");
                }
            }
            before = Some(flows);
        }
    }
}

#[test]
fn similar_networks_have_similar_flows() {
    // All lengths times s, and viscosity times s at equal pressure and density: Reynolds numbers and velocities stay,
    // flows go with s squared (no height differences, no cracking pressures changed).
    let mut network = bar(9, Boundary::Pressure(1.5e5));
    for node in network.graph.node_weights_mut() {
        node.elevation_m = 0.0;
    }
    let one = row_flows(&network, &solver::solve(&network).unwrap());
    let s = 1.7;
    network.fluid.viscosity_pa_s *= s;
    for link in network.graph.edge_weights_mut() {
        match &mut link.kind {
            LinkKind::Pipe { length_m, bore_m, roughness_m, .. } => {
                (*length_m, *bore_m, *roughness_m) = (*length_m * s, *bore_m * s, *roughness_m * s);
            }
            LinkKind::Orifice { diameter_m, .. } => *diameter_m *= s,
            LinkKind::CheckValve { bore_m, .. } => *bore_m *= s,
            _ => {}
        }
    }
    let other = row_flows(&network, &solver::solve(&network).unwrap());
    for (a, b) in one.iter().zip(&other) {
        assert!((a * s * s / b - 1.0).abs() < 1e-9, "{a} {b}");
    }
}

#[test]
fn losses_are_continuous_and_rise_through_every_regime() {
    let fluid = Fluid { density_kg_m3: 1100.0, viscosity_pa_s: 0.002 };
    let bore_m = 0.003;
    let mut kinds = vec![
        LinkKind::Orifice { diameter_m: 0.001, cd: 0.62, creeping_thickness_m: Some(0.001) },
        LinkKind::Fitting { k: 2.0, bore_m },
        LinkKind::CheckValve { crack_pressure_pa: 1e4, k: 3.0, bore_m },
    ];
    for roughness_m in [0.0, 1.5e-6, 1e-4, 1.4e-3] {
        kinds.push(LinkKind::Pipe { length_m: 1.0, bore_m, roughness_m, k_minor: 0.5 });
        for coil_diameter_m in [None, Some(0.06), Some(2.0)] {
            kinds.push(LinkKind::MeteringTube { length_m: 0.05, bore_m, roughness_m, coil_diameter_m });
        }
    }
    for law in [FrictionLaw::LaminarColebrook, FrictionLaw::Churchill] {
        for kind in &kinds {
            let unit = 1.0 / losses::reynolds::per_flow(&fluid, bore_m);
            let at = |re: f64| kind.law(&fluid, law).loss(re * unit);
            let mut re = 0.5;
            while re < 2e5 {
                let (a, b) = (at(re), at(re * 1.0005));
                assert!(b.pressure_pa > a.pressure_pa, "{kind:?} {law:?} falls at Re {re}");
                // The mean of both slopes (within 0.3 %: the curvature jumps at the ends of the transition, most for very rough bores) predicts the rise, also across every seam.
                let rise = 0.5 * (a.slope_pa_s_m3 + b.slope_pa_s_m3) * re * 0.0005 * unit;
                let found = b.pressure_pa - a.pressure_pa;
                assert!(
                    (rise / found - 1.0).abs() < 3e-3,
                    "{kind:?} {law:?} jumps at Re {re}: {rise} {found}"
                );
                if !kind.one_way() {
                    assert_eq!(at(-re).pressure_pa, -a.pressure_pa);
                    assert_eq!(at(-re).slope_pa_s_m3, a.slope_pa_s_m3);
                }
                re *= 1.0005;
            }
        }
    }
}

#[test]
fn the_same_calls_give_the_same_bits() {
    for seed in 0..100 {
        let network = random_network(seed);
        assert_eq!(solver::solve(&network).ok(), solver::solve(&network).ok(), "seed {seed}");
    }
}

/// A solver that was used for something else and then forgets gives the bits of a new one, on rings as well.
#[test]
fn a_solver_that_forgets_gives_the_bits_of_a_new_one() {
    for seed in 0..300 {
        let network = random_network(seed);
        let Ok(mut solver) = solver::Solver::new(&network) else { continue };
        let mut other = network.clone();
        other.fluid.viscosity_pa_s *= 2.0;
        for link in other.graph.edge_weights_mut() {
            if let LinkKind::Pipe { length_m, .. } = &mut link.kind {
                *length_m *= 1.7;
            }
        }
        let _ = solver.solve(&other);
        let _ = solver.solve(&network);
        solver.forget();
        assert_eq!(solver.solve(&network).ok(), solver::solve(&network).ok().as_ref(), "seed {seed}");
    }
}

/// One kept solver for routing after routing and point after point answers as a new one does, to the last bit.
#[test]
fn a_kept_solver_gives_the_bits_of_a_new_one() {
    let mut project = equirow::files::demo();
    let mut bench = KeptSolver::default();
    for step in 0..6 {
        for routing in 0..project.routings.len() {
            if step % 2 == 1 {
                let part = step % project.routings[routing].parts.len();
                project.routings[routing].parts[part].position.x += 0.07;
            }
            if step == 4 {
                project.routings[routing].runs.pop();
            }
            let routing = &project.routings[routing];
            let mut point = project.duties.first().usual_point();
            point.speed = point.speed * (1.0 + f64::from(step as u32));
            let geometry = RoutingGeometry::working(&project, routing);
            let mut prepared = bench.prepare(&project, geometry.with(routing));
            let outcome = prepared.solve(&point);
            assert_eq!(outcome, equirow::hydraulics::solve(&project, routing, &point), "step {step}");
            let range = prepared.speed_range(&point, Some(&outcome));
            assert_eq!(
                range,
                KeptSolver::default().prepare(&project, geometry.with(routing)).speed_range(&point, None),
                "step {step}"
            );
        }
    }
}

/// The body of a manifold loses pressure from its inlet outwards along its own bore, as Darcy and Weisbach have it for the
/// flow that is left; a narrow body makes rows uneven.
#[test]
fn the_body_of_a_manifold_takes_pressure_along_its_own_bore() {
    let spread = |bore: Option<f64>| {
        let mut project = equirow::files::demo();
        if let Some(bore) = bore {
            for entry in &mut project.catalogue.entries {
                if let Item::Part(PartItem::Manifold(Manifold { bore: body, .. })) = &mut entry.item {
                    *body = Length::metres(bore);
                }
            }
        }
        let point = project.duties.first().usual_point();
        let solved = solved_network(&project, &project.routings[1], &point).unwrap();
        let (network, solution) = (&solved.assembly.network, &solved.solution);
        let mut bodies = 0;
        for edge in network.graph.edge_references().filter(|edge| edge.weight().name.contains(" body ")) {
            let LinkKind::Pipe { length_m, bore_m, .. } = edge.weight().kind else { panic!("no pipe") };
            assert!(bore.is_none_or(|bore| bore == bore_m));
            let flow = solution.link_flow_m3s[edge.id().index()];
            let head = |node: NodeIndex| {
                let lift = network.fluid.density_kg_m3 * network.gravity_m_s2;
                solution.node_pressure_pa[node.index()].unwrap() + lift * network.graph[node].elevation_m
            };
            let reynolds = losses::reynolds::number(&network.fluid, bore_m, flow);
            if flow == 0.0 || (2000.0..4000.0).contains(&reynolds) {
                continue;
            }
            // Laminar 64/Re, else Swamee and Jain (1976), within some 3 % of Colebrook.
            let factor = if reynolds <= 2000.0 {
                64.0 / reynolds
            } else {
                0.25 / (1.5e-6 / bore_m / 3.7 + 5.74 / reynolds.powf(0.9)).log10().powi(2)
            };
            let velocity = 4.0 * flow.abs() / (std::f64::consts::PI * bore_m * bore_m);
            let expected =
                factor * length_m / bore_m * network.fluid.density_kg_m3 * velocity * velocity / 2.0;
            let loss = (head(edge.source()) - head(edge.target())).abs();
            assert!(
                (loss - expected).abs() < 0.035 * expected + 1e-6,
                "{}: {loss} {expected}",
                edge.weight().name
            );
            bodies += 1;
        }
        assert!(bodies > 0);
        equirow::hydraulics::solve(&project, &project.routings[1], &point).evenness().unwrap().cv.si()
    };
    let (as_made, narrow) = (spread(None), spread(Some(0.006)));
    assert!(narrow > 3.0 * as_made, "{as_made} {narrow}");
}

/// An orifice of the catalogue with its viscous loss switched on takes the sum of both losses at its flow.
#[test]
fn the_viscous_loss_of_an_orifice_counts_where_the_catalogue_says_so() {
    let mut project = equirow::files::demo();
    let point = project.duties.first().usual_point();
    for switched in [false, true] {
        for entry in &mut project.catalogue.entries {
            if let Item::Element(ElementItem::MeteringOrifice(MeteringOrifice { creeping, .. })) =
                &mut entry.item
            {
                *creeping = switched;
            }
        }
        let liquid = project.duties.first().liquid.at(point.temperature).unwrap();
        let outcome = equirow::hydraulics::solve(&project, &project.routings[0], &point);
        let routing = &project.routings[0];
        let mut seen = 0;
        for one in outcome.elements() {
            let feed = routing.feed(one.feed).unwrap();
            let element = feed.branches[one.branch.unwrap()].elements.get(one.index).unwrap();
            let Some(Item::Element(ElementItem::MeteringOrifice(MeteringOrifice {
                bore,
                cd,
                thickness,
                ..
            }))) = project.catalogue.any_item(element.entry())
            else {
                continue;
            };
            let (d, q) = (bore.si(), one.flow.unwrap().si());
            let effective = cd * std::f64::consts::FRAC_PI_4 * d * d;
            let mut expected = liquid.density.si() / 2.0 * (q / effective).powi(2);
            if switched {
                let thick = 1.0 + 16.0 * thickness.si() / (3.0 * std::f64::consts::PI * d);
                expected += 24.0 * liquid.viscosity.si() * q / d.powi(3) * thick;
            }
            assert!((one.drop.unwrap().si() / expected - 1.0).abs() < 1e-12);
            seen += 1;
        }
        assert_eq!(seen, 40);
    }
}

#[test]
fn a_kept_solver_follows_every_change() {
    for seed in 0..150 {
        let mut network = random_network(seed);
        let Ok(mut solver) = solver::Solver::new(&network) else { continue };
        let mut random = Random::new(seed + 7);
        for step in 0..6 {
            let edges: Vec<_> = network.graph.edge_indices().collect();
            let edge = edges[random.below(edges.len())];
            match step {
                0 => network.fluid.viscosity_pa_s *= 1.5,
                1 => {
                    if let LinkKind::Pipe { length_m, .. } = &mut network.graph[edge].kind {
                        *length_m *= 3.0;
                    }
                }
                2 => network.graph[edge].closed = !network.graph[edge].closed,
                3 => {
                    for node in network.graph.node_weights_mut() {
                        node.elevation_m *= -1.0;
                    }
                }
                4 => {
                    // Metered inflow to held pressure: what a pump does at its limit.
                    let inlet = network.graph.node_indices().next().unwrap();
                    network.graph[inlet].boundary = Boundary::Pressure(2.5e5);
                }
                _ => network.gravity_m_s2 = 9.81,
            }
            match (solver.solve(&network), solver::solve(&network)) {
                (Ok(kept), Ok(fresh)) => {
                    let residuals = judge(&network, kept).unwrap();
                    assert!(
                        residuals.mass < 1e-10 && residuals.energy < 1e-8,
                        "seed {seed} step {step}: {residuals:?}"
                    );
                    let scale = largest(&fresh.link_flow_m3s);
                    let outlets =
                        network.graph.edge_indices().filter(|&e| network.graph[e].name.starts_with('x'));
                    for e in outlets {
                        let (a, b) = (kept.link_flow_m3s[e.index()], fresh.link_flow_m3s[e.index()]);
                        assert!(close(a, b, scale), "seed {seed} step {step}: {a} {b}");
                    }
                }
                (Err(kept), Err(fresh)) => assert_eq!(kept, fresh),
                (kept, fresh) => panic!("seed {seed} step {step}: {kept:?} {fresh:?}"),
            }
        }
    }
}

#[test]
fn what_can_not_be_solved_names_the_part() {
    // A valve without any resistance between two held pressures would carry an endless flow.
    let mut graph = DiGraph::new();
    let a = graph.add_node(node("a", 0.0, Boundary::Pressure(1e5)));
    let b = graph.add_node(node("b", 0.0, Boundary::Pressure(0.0)));
    graph.add_edge(a, b, link("short", LinkKind::Fitting { k: 0.0, bore_m: 0.01 }));
    let fluid = Fluid { density_kg_m3: 1000.0, viscosity_pa_s: 1e-3 };
    let network = Network { graph, fluid, gravity_m_s2: 9.80665, friction_law: FrictionLaw::default() };
    match solver::solve(&network) {
        Err(Failure::NotSettled { message, link }) => {
            assert!(message.contains("short"), "{message}");
            assert_eq!(link.map(EdgeIndex::index), Some(0));
        }
        other => panic!("{other:?}"),
    }
}

/// A random law about a point of flow and pressure: a curve, a pressure, a flow, or several of them.
fn random_law(r: &mut Random, flow: f64, pressure: f64) -> SupplyLaw {
    let mut curve = Vec::new();
    if r.chance(0.7) {
        let (mut q, mut p) = (0.0, pressure.abs().max(100.0) * r.between(0.5, 4.0));
        for _ in 0..2 + r.below(6) {
            curve.push((q, p));
            q += flow * r.between(0.05, 1.0);
            p *= r.between(0.3, 0.99);
        }
    }
    let held = (curve.is_empty() || r.chance(0.5)).then(|| pressure.abs().max(100.0) * r.between(0.2, 2.0));
    let most = r.chance(0.6).then(|| flow * r.between(0.2, 2.0));
    let asked = if r.chance(0.5) { Asked::Flow } else { Asked::Pressure };
    SupplyLaw::new(held, most, &curve, asked).unwrap()
}

/// A random network behind a random supply: it is on its law, both equations hold, and the network with that flow held has
/// that pressure. Held flows that lie beside it lie on the other sides of the law, so there is no other answer.
#[test]
fn a_supply_ends_where_its_law_meets_the_network() {
    let (mut regimes, mut steps) = ([0, 0, 0], 0);
    for seed in 0..600 {
        let mut network = random_network(seed);
        let inlet = network.graph.node_indices().next().unwrap();
        let Boundary::Inflow(asked) = network.graph[inlet].boundary else { continue };
        let Ok(plain) = solver::solve(&network) else { continue };
        let Some(pressure) = plain.node_pressure_pa[inlet.index()] else { continue };
        let r = &mut Random::new(seed + 99);
        let law = random_law(r, asked, pressure);
        network.graph[inlet].boundary = Boundary::Supply(law.clone());
        let solution = solver::solve(&network).unwrap_or_else(|failure| panic!("seed {seed}: {failure}"));
        let residuals = judge(&network, &solution).unwrap_or_else(|why| panic!("seed {seed}: {why}"));
        assert!(residuals.mass < 1e-10 && residuals.energy < 1e-8, "seed {seed}: {residuals:?}");
        steps = steps.max(solution.steps);
        let at = solution.supply.unwrap();
        let found = solution.node_pressure_pa[inlet.index()].unwrap();
        let size = solution.node_pressure_pa.iter().flatten().fold(0.0, |a: f64, b| a.max(b.abs()));
        let (_, top) = law.pressure_at(at.flow_m3s * (1.0 - 1e-12)).unwrap();
        match at.regime {
            Regime::Pressure | Regime::Curve => {
                let near = (found - top).abs() <= 1e-8 * size;
                assert!(near, "seed {seed}: {found} {top} {at:?}");
            }
            Regime::Flow => assert!(found <= top + 1e-8 * size, "seed {seed}: {found} {top} {at:?}"),
        }
        regimes[at.regime as usize] += 1;
        for part in [0.97, 1.03] {
            network.graph[inlet].boundary = Boundary::Inflow(at.flow_m3s * part);
            let Ok(beside) = solver::solve(&network) else { continue };
            let Some(needs) = beside.node_pressure_pa[inlet.index()] else { continue };
            let gives = law.pressure_at(at.flow_m3s * part).map_or(f64::NEG_INFINITY, |(_, gives)| gives);
            if at.flow_m3s > 1e-9 * asked {
                assert_eq!(needs > gives, part > 1.0, "seed {seed}: {needs} {gives} {at:?}");
            }
        }
    }
    assert!(regimes.iter().all(|count| *count > 20), "{regimes:?}");
    println!("{regimes:?}, most steps {steps}");
}

/// A metered flow whose limit lies far above gives what a plain inflow gives, bit for bit. A held pressure that a flow bounds
/// far above gives what a plain held pressure gives but for rounding: its node is solved for instead of given, so that the
/// flow through the links at it comes from a difference of two rounded heads, which is worse the less these links take,
/// down to the least slope that the solver counts with (1e-10 of the largest loss over the largest flow).
#[test]
fn a_supply_within_its_limits_is_a_plain_boundary() {
    let (mut worst, mut clear, mut compared): (f64, f64, u32) = (0.0, 0.0, 0);
    for seed in 0..400 {
        let mut network = random_network(seed);
        let Ok(plain) = solver::solve(&network) else { continue };
        let inlet = network.graph.node_indices().next().unwrap();
        let law = match network.graph[inlet].boundary {
            Boundary::Inflow(flow) => SupplyLaw::new(Some(1e12), Some(flow), &[], Asked::Flow),
            Boundary::Pressure(held) => SupplyLaw::new(Some(held), Some(1e3), &[], Asked::Pressure),
            Boundary::Supply(_) => None,
        };
        let metered = matches!(network.graph[inlet].boundary, Boundary::Inflow(_));
        network.graph[inlet].boundary = Boundary::Supply(law.unwrap());
        let found = match solver::solve(&network) {
            Ok(found) => found,
            // A supply has to have a way to an outlet; a held pressure may stand before shut links alone.
            Err(Failure::Rejected(why)) if !metered && why.reason.code() == "stranded_inflow" => continue,
            Err(failure) => panic!("seed {seed}: {failure}"),
        };
        compared += 1;
        if metered {
            assert_eq!(found.link_flow_m3s, plain.link_flow_m3s, "seed {seed}");
            assert_eq!(found.node_pressure_pa, plain.node_pressure_pa, "seed {seed}");
            continue;
        }
        let pressures: Vec<f64> = plain.node_pressure_pa.iter().flatten().copied().collect();
        let scale = largest(&pressures);
        let mut off: f64 = 0.0;
        for (one, other) in found.node_pressure_pa.iter().zip(&plain.node_pressure_pa) {
            assert_eq!(one.is_some(), other.is_some(), "seed {seed}");
            off = off.max((one.unwrap_or(0.0) - other.unwrap_or(0.0)).abs() / scale);
        }
        let scale_flow = largest(&plain.link_flow_m3s);
        for link in network.graph.edge_indices().filter(|&link| network.graph[link].name.starts_with('x')) {
            let (one, other) = (found.link_flow_m3s[link.index()], plain.link_flow_m3s[link.index()]);
            off = off.max((one - other).abs() / scale_flow.max(f64::MIN_POSITIVE));
        }
        // What the links at the supply take, as a part of the largest pressure.
        let at_supply = [Direction::Outgoing, Direction::Incoming]
            .into_iter()
            .flat_map(|way| network.graph.edges_directed(inlet, way));
        let at_supply = at_supply.map(|edge| {
            let law = edge.weight().kind.law(&network.fluid, network.friction_law);
            law.loss(plain.link_flow_m3s[edge.id().index()]).pressure_pa.abs() / scale
        });
        let taken = at_supply.fold(f64::INFINITY, f64::min);
        if taken > 1e-4 {
            clear = clear.max(off);
        }
        worst = worst.max(off);
    }
    println!("{compared} networks, farthest {worst:.1e}, behind links that take something {clear:.1e}");
    assert!(compared > 300 && worst < 2e-6 && clear < 5e-8, "{compared} {worst:e} {clear:e}");
}

/// How far derivatives are from the linear equations they solve, as parts of the largest derivative of a head and a flow.
fn judge_response(
    network: &Network,
    solution: &Solution,
    change: &EquationChange,
    found: &Response,
) -> (f64, f64) {
    let graph = &network.graph;
    let head = |node: NodeIndex| {
        let pressure = found.node_pressure[node.index()].map(|one| one.rising())?;
        Some(pressure + change.weight * graph[node].elevation_m)
    };
    let flow = |link: usize| found.link_flow[link].rising();
    let heads: Vec<f64> = graph.node_indices().filter_map(head).collect();
    let flows: Vec<f64> = (0..graph.edge_count()).map(flow).collect();
    // A head makes no less of a flow than the whole network's; a derivative may be nothing but rounding of that.
    let pressures: Vec<f64> = solution.node_pressure_pa.iter().flatten().copied().collect();
    let head_scale = largest(&heads).max(f64::MIN_POSITIVE);
    let by_all = largest(&solution.link_flow_m3s) / largest(&pressures).max(f64::MIN_POSITIVE) * head_scale;
    let flow_scale = largest(&flows).max(by_all).max(f64::MIN_POSITIVE);
    let (mut energy, mut mass, mut balance) = (0.0_f64, 0.0_f64, vec![0.0; graph.node_count()]);
    for (index, edge) in graph.raw_edges().iter().enumerate() {
        let by = flow(index);
        balance[edge.source().index()] -= by;
        balance[edge.target().index()] += by;
        let at = solution.link_flow_m3s[index];
        let (Some(above), Some(below)) = (head(edge.source()), head(edge.target())) else {
            assert!(by.abs() <= 1e-9 * flow_scale, "{}: no pressure beside it, {by}", edge.weight.name);
            continue;
        };
        let shut = edge.weight.closed || (edge.weight.kind.one_way() && at == 0.0);
        if shut {
            // One that opens just here flows forward.
            assert!(by == 0.0 || (!edge.weight.closed && by > 0.0), "{}: {by}", edge.weight.name);
            continue;
        }
        let slope = edge.weight.kind.law(&network.fluid, network.friction_law).loss(at).slope_pa_s_m3;
        let own: f64 = change.losses.iter().filter(|one| one.0.index() == index).map(|one| one.1).sum();
        energy = energy.max((above - below - slope * by - own).abs());
    }
    for node in graph.node_indices() {
        match graph[node].boundary {
            Boundary::Pressure(_) => {
                let held = change.held.filter(|one| one.0 == node).map_or(0.0, |one| one.1);
                assert_eq!(found.node_pressure[node.index()].unwrap().rising(), held);
            }
            _ => mass = mass.max(balance[node.index()].abs()),
        }
    }
    (energy / head_scale, mass / flow_scale)
}

/// Of random networks with valves, rings and shut links: each derivative is one of the linear equations at the solution,
/// judged link by link and node by node; flows along links without friction in rings come from differences of heads, which
/// leaves them some 1e-6. That these are those of full solves is what `tests/engine/variation.rs` shows.
#[test]
fn derivatives_of_random_networks_hold_link_by_link() {
    let (mut compared, mut energy, mut mass) = (0, 0.0_f64, 0.0_f64);
    for seed in 0..400 {
        let network = random_network(seed);
        let Ok(mut solver) = solver::Solver::new(&network) else { continue };
        let Ok(solution) = solver.solve(&network).cloned() else { continue };
        // Where nothing flows all that is left is what shut valves leak in the equations.
        if largest(&solution.link_flow_m3s) == 0.0 {
            continue;
        }
        let mut linearised = solver.linearised();
        let inlet = network.graph.node_indices().next().unwrap();
        let loaded = network.graph.edge_indices().max_by(|a, b| {
            let size = |link: &EdgeIndex| solution.link_flow_m3s[link.index()].abs();
            size(a).total_cmp(&size(b))
        });
        let some = network.graph.edge_indices().nth(network.graph.edge_count() / 2);
        let mut changes = vec![EquationChange { weight: 1.0, ..EquationChange::default() }];
        if matches!(network.graph[inlet].boundary, Boundary::Pressure(_)) {
            changes.push(EquationChange { held: Some((inlet, 1.0)), ..EquationChange::default() });
        }
        // What a number of a link changes is its loss at its flow: nothing where nothing flows.
        let flows = |link: &EdgeIndex| solution.link_flow_m3s[link.index()] != 0.0;
        for link in [loaded, some].into_iter().flatten().filter(flows) {
            changes.push(EquationChange { losses: vec![(link, 1.0)], ..EquationChange::default() });
        }
        for change in &changes {
            let found = linearised.response(change);
            let off = judge_response(&network, &solution, change, &found);
            (energy, mass) = (energy.max(off.0), mass.max(off.1));
            compared += 1;
        }
    }
    println!("{compared} derivatives, energy {energy:.1e}, mass {mass:.1e}");
    assert!(compared > 900 && energy < 1e-7 && mass < 1e-5, "{compared} {energy:e} {mass:e}");
}

/// From memory (White, Fluid Mechanics, a 32-in pump that lifts water 120 ft through 1,500 ft of 16-in pipe with f 0.030):
/// pump 490 - 0.26 Q², system 120 + 1.335 Q² in ft with Q in 1,000 gal/min: 15,200 gal/min at 430 ft.
#[test]
fn a_published_pump_meets_its_published_system() {
    const FOOT: f64 = 0.3048;
    let unit = 1000.0 * 0.003785411784 / 60.0;
    let weight = 998.0 * 9.80665;
    // Points of the parabola, near enough that straight lines between lie within 0.004 ft of it.
    let curve: Vec<(f64, f64)> = (0..=100)
        .map(|n| 0.25 * f64::from(n))
        .map(|q| (q * unit, (490.0 - 0.26 * q * q) * FOOT * weight))
        .collect();
    let law = SupplyLaw::new(None, None, &curve, Asked::Pressure).unwrap();
    let mut graph = DiGraph::new();
    let pump = graph.add_node(node("pump", 0.0, Boundary::Supply(law)));
    let top = graph.add_node(node("top", 120.0 * FOOT, Boundary::Pressure(0.0)));
    let bore_m = 16.0 / 12.0 * FOOT;
    let k = 0.030 * 1500.0 * FOOT / bore_m;
    graph.add_edge(pump, top, link("line", LinkKind::Fitting { k, bore_m }));
    let fluid = Fluid { density_kg_m3: 998.0, viscosity_pa_s: 1e-3 };
    let network = Network { graph, fluid, gravity_m_s2: 9.80665, friction_law: FrictionLaw::default() };
    let solution = solver::solve(&network).unwrap();
    let (flow, head) =
        (solution.link_flow_m3s[0] / unit, solution.node_pressure_pa[0].unwrap() / weight / FOOT);
    assert!((flow - 15.2).abs() < 0.05 && (head - 430.0).abs() < 0.5, "{flow} {head}");
    // By hand from the same K: Q² = (490 - 120)/(0.26 + c), c = K/(2 g A²) for one unit of flow.
    let area = std::f64::consts::FRAC_PI_4 * bore_m * bore_m;
    let c = k * unit * unit / (2.0 * 9.80665 * area * area) / FOOT;
    let by_hand = (370.0 / (0.26 + c)).sqrt();
    assert!((flow / by_hand - 1.0).abs() < 2e-5, "{flow} {by_hand}");
}
