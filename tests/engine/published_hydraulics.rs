//! Single losses against published values, each with its source, and whole networks against values computed with EPANET 2.2.
//! What is checked against our own arithmetic or from memory says so.
//!
//! "Read in `fluids` notebooks" means: a problem of Crane TP 410 as quoted in the documentation of the Python library
//! `fluids` (CalebBell/fluids, docs/Examples); Crane itself was not read. "Computed" values come from the formula named
//! and can be repeated with general-purpose libraries.

use crate::random_networks::{link, node};
use equirow::hydraulics::losses::{
    coil, creeping, fitting, friction::Friction, laminar, orifice, reynolds, static_head,
};
use equirow::hydraulics::network::{Boundary, Fluid, FrictionLaw, LinkKind, Network};
use equirow::hydraulics::solver;
use petgraph::graph::{DiGraph, EdgeIndex};
use std::collections::BTreeMap;
use std::f64::consts::PI;

const FOOT: f64 = 0.3048;
const GALLON: f64 = 0.003785411784;
const PSI: f64 = 6894.757293168;
const POUND_PER_CUBIC_FOOT: f64 = 16.018_463_373_960_14;
const G: f64 = 9.80665;

#[track_caller]
fn near(ours: f64, published: f64, tolerance: f64) {
    let off = (ours / published - 1.0).abs();
    assert!(off <= tolerance, "ours {ours}, published {published}, off by {off:.2e}");
}

fn area(bore: f64) -> f64 {
    0.25 * PI * bore * bore
}

/// Darcy's factor that a pipe's loss stands for.
fn factor(law: FrictionLaw, reynolds: f64, relative_roughness: f64) -> f64 {
    let fluid = Fluid { density_kg_m3: 2.0, viscosity_pa_s: 2.0 };
    let kind = LinkKind::Pipe { length_m: 1.0, bore_m: 1.0, roughness_m: relative_roughness, k_minor: 0.0 };
    kind.law(&fluid, law).loss(reynolds * area(1.0)).pressure_pa / (reynolds * reynolds)
}

/// Friction and minor loss of a pipe as a height of liquid.
fn head(fluid: &Fluid, length: f64, bore: f64, roughness: f64, k: f64, flow: f64) -> f64 {
    let kind = LinkKind::Pipe { length_m: length, bore_m: bore, roughness_m: roughness, k_minor: k };
    kind.law(fluid, FrictionLaw::LaminarColebrook).loss(flow).pressure_pa / (fluid.density_kg_m3 * G)
}

#[test]
fn friction_factors_of_the_fluids_documentation() {
    // fluids 1.3.1, docstrings.
    near(factor(FrictionLaw::LaminarColebrook, 1e5, 1e-4), 0.018513866077471, 1e-11);
    near(factor(FrictionLaw::Churchill, 1e5, 1e-4), 0.018462624566280075, 1e-11);
    near(factor(FrictionLaw::LaminarColebrook, 128.0, 0.0), 0.5, 1e-14);
    // Blasius and von Karman are other formulas: Colebrook's smooth and fully rough limits come near them.
    near(factor(FrictionLaw::LaminarColebrook, 1e4, 0.0), 0.03164, 0.025); // Blasius(1e4); its own scatter
    near(factor(FrictionLaw::LaminarColebrook, 1e9, 1e-4), 0.011979797083255311, 1e-3); // von_Karman(1e-4) is the limit Re -> infinity
}

#[test]
fn crane_7_1_smooth_plastic_pipe() {
    // Read in fluids notebooks: water 30 C, 200 L/min, bore 52.48 mm: Re 100600, f 0.0179 (rounded in print).
    // Gap: density and viscosity of water at 30 C are ours (IAPWS), 995.65 kg/m3 and 0.7972 mPa s.
    let water = Fluid { density_kg_m3: 995.65, viscosity_pa_s: 0.7972e-3 };
    let re = reynolds::number(&water, 0.05248, 0.2 / 60.0);
    near(re, 100600.0, 0.005);
    near(factor(FrictionLaw::LaminarColebrook, re, 0.0), 0.0179, 0.005);
}

#[test]
fn crane_7_9_laminar_oil() {
    // Computed in fluids notebooks: SG 0.87 (of 62.364 lb/ft3), 130 cP, 400 US gpm, 300 ft, bore 128.2 mm,
    // K = 178 fT with fT 0.015439, up 50 ft -> v 6.4142 ft/s, Re 1675.6, f 0.038195, 26.064 psi.
    let oil = Fluid { density_kg_m3: 0.87 * 62.364 * POUND_PER_CUBIC_FOOT, viscosity_pa_s: 0.130 };
    let flow = 400.0 * GALLON / 60.0;
    near(flow / area(0.1282) / FOOT, 6.4142, 2e-4);
    let re = reynolds::number(&oil, 0.1282, flow);
    near(re, 1675.6, 2e-4);
    near(factor(FrictionLaw::LaminarColebrook, re, 0.0), 0.038195, 2e-4);
    let kind = LinkKind::Pipe {
        length_m: 300.0 * FOOT,
        bore_m: 0.1282,
        roughness_m: 0.0,
        k_minor: 178.0 * 0.015439,
    };
    let loss = kind.law(&oil, FrictionLaw::LaminarColebrook).loss(flow).pressure_pa
        + static_head::pressure(oil.density_kg_m3, G, 50.0 * FOOT);
    near(loss / PSI, 26.064, 3e-4);
}

#[test]
fn crane_7_15_pumping_and_7_17_oil_pipeline() {
    // Read in fluids notebooks: water 62.298 lb/ft3, 0.95 cP, 100 gpm, 500 ft of 77.92 mm, 0.0022 in, K = 28.45, up
    // 400 ft -> 421 ft in print, 420.350 ft by fluids.
    let water = Fluid { density_kg_m3: 62.298 * POUND_PER_CUBIC_FOOT, viscosity_pa_s: 0.95e-3 };
    let k = 1.0 + 0.1377 + 4.0 * 0.5164 + 25.2445;
    let lift = head(&water, 500.0 * FOOT, 0.07792, 0.0022 * 0.0254, k, 100.0 * GALLON / 60.0) / FOOT + 400.0;
    near(lift, 421.0, 2e-3);
    near(lift, 420.350, 2e-5);
    // Read in fluids notebooks: 54.64 lb/ft3, 12.5 cP, 1900 bbl/h, 50 miles of 307.04 mm, 0.0022 in, up 2000 ft ->
    // 3406.5 ft in print (by a shortcut formula), 3413.764 ft, Re 24364 and f 0.025110 by fluids.
    let oil = Fluid { density_kg_m3: 54.64 * POUND_PER_CUBIC_FOOT, viscosity_pa_s: 12.5e-3 };
    let flow = 1900.0 * 42.0 * GALLON / 3600.0;
    near(reynolds::number(&oil, 0.30704, flow), 24364.0, 1e-4);
    near(factor(FrictionLaw::LaminarColebrook, 24364.0, 0.0022 * 0.0254 / 0.30704), 0.025110, 2e-4);
    let lift = head(&oil, 50.0 * 5280.0 * FOOT, 0.30704, 0.0022 * 0.0254, 0.0, flow) / FOOT + 2000.0;
    near(lift, 3413.764, 2e-5);
    near(lift, 3406.5, 3e-3);
}

#[test]
fn crane_7_23_orifice_meter() {
    // Read in fluids notebooks: 2 in orifice, flow coefficient 0.625, 4.4 in of mercury under water -> 106 gpm.
    let drop = (13.57 - 1.0) * 1000.0 * G * 4.4 * 0.0254; // mercury 13.57 times water at room temperature
    let loss = orifice::loss(0.625, 2.0 * 0.0254, 1000.0, 106.0 * GALLON / 60.0);
    near((drop / loss.pressure_pa).sqrt() * 106.0, 106.0, 0.01);
}

#[test]
fn white_examples_from_memory() {
    // From memory (White, Fluid Mechanics): oil 900 kg/m3, nu 2e-4, 10 m of 60 mm, up 40 degrees, 350 -> 250 kPa:
    // hf 4.9 m, Q 0.0076 m3/s, Re 810.
    let oil = Fluid { density_kg_m3: 900.0, viscosity_pa_s: 900.0 * 2e-4 };
    let fall = 100_000.0 / (900.0 * G) - 10.0 * 40f64.to_radians().sin();
    near(fall, 4.9, 0.01);
    let flow = fall * 900.0 * G / laminar::resistance(oil.viscosity_pa_s, 10.0, 0.06);
    near(flow, 0.0076, 0.01);
    near(reynolds::number(&oil, 0.06, flow), 810.0, 0.01);
    // From memory: oil 900 kg/m3, nu 1e-5, 0.2 m3/s, 500 m of 200 mm cast iron 0.26 mm: f 0.0225, hf 117 m. Gap: f was
    // read off a chart.
    let oil = Fluid { density_kg_m3: 900.0, viscosity_pa_s: 900.0 * 1e-5 };
    near(factor(FrictionLaw::LaminarColebrook, reynolds::number(&oil, 0.2, 0.2), 0.0013), 0.0225, 0.015);
    near(head(&oil, 500.0, 0.2, 0.26e-3, 0.0, 0.2), 117.0, 0.01);
    // From memory: water, 6 ft/s, 200 ft of 6 in asphalted cast iron 0.0004 ft: hf 4.5 ft.
    let water = Fluid { density_kg_m3: 998.0, viscosity_pa_s: 1.0e-3 };
    near(
        head(&water, 200.0 * FOOT, 0.5 * FOOT, 0.0004 * FOOT, 0.0, 6.0 * FOOT * area(0.5 * FOOT)) / FOOT,
        4.5,
        0.02,
    );
}

#[test]
fn poiseuille_table() {
    // Own arithmetic: 3 mm x 1 m, 50 mPa s, 1 kPa.
    near(1000.0 / laminar::resistance(0.05, 1.0, 0.003), 3.97607820e-8, 1e-8);
    // Own arithmetic (Hagen-Poiseuille, water 20 C): mL/min and Re.
    let water = Fluid { density_kg_m3: 998.2, viscosity_pa_s: 1.0016e-3 };
    for (bore_mm, length, kpa, ml_min, re) in [
        (1.0, 1.0, 10.0, 14.703, 311.0),
        (1.2, 3.0, 100.0, 101.63, 1791.0),
        (0.8, 2.0, 100.0, 30.11, f64::NAN),
    ] {
        let flow = kpa * 1000.0 / laminar::resistance(water.viscosity_pa_s, length, bore_mm * 1e-3);
        near(flow * 60e6, ml_min, 5e-4);
        if !re.is_nan() {
            near(reynolds::number(&water, bore_mm * 1e-3, flow), re, 2e-3);
        }
    }
}

#[test]
fn tube_gradients() {
    // Own arithmetic (laminar, or Blasius 0.316 Re^-0.25), water 20 C, bar/m. Gap: Colebrook's smooth law and Blasius' differ by
    // up to 2 %; values between Re 2000 and 4000 are left out, nobody can predict them.
    let water = Fluid { density_kg_m3: 998.2, viscosity_pa_s: 1.0016e-3 };
    for (bore_mm, l_min, bar) in [
        (1.5, 0.1, 0.134),
        (1.5, 0.5, 2.55),
        (2.0, 0.1, 0.043),
        (2.0, 0.5, 0.651),
        (2.5, 0.1, 0.017),
        (2.5, 0.5, 0.225),
    ] {
        let pipe = Friction::new(&water, FrictionLaw::LaminarColebrook, 1.0, bore_mm * 1e-3, 0.0);
        near(pipe.loss(l_min * 1e-3 / 60.0).pressure_pa / 1e5, bar, 0.035);
    }
    let thick = Fluid { density_kg_m3: 1400.0, viscosity_pa_s: 0.020 };
    for (bore_mm, l_min, bar) in [(2.0, 0.1, 0.85), (2.0, 0.25, 2.12), (3.0, 0.5, 0.84)] {
        let pipe = Friction::new(&thick, FrictionLaw::LaminarColebrook, 1.0, bore_mm * 1e-3, 0.0);
        near(pipe.loss(l_min * 1e-3 / 60.0).pressure_pa / 1e5, bar, 0.006);
    }
}

#[test]
fn orifice_sizes() {
    // Own arithmetic (q = Cd A sqrt(2 dp/rho), Cd 0.62, 1000 kg/m3): L/min at 0.5, 1, 2, 3 bar.
    for (mm, flows) in [
        (0.5, [0.073, 0.103, 0.146, 0.179]),
        (0.8, [0.187, 0.264, 0.374, 0.458]),
        (1.0, [0.292, 0.413, 0.584, 0.716]),
        (1.2, [0.421, 0.595, 0.841, 1.031]),
        (1.5, [0.657, 0.930, 1.315, 1.610]),
        (2.0, [1.169, 1.653, 2.337, 2.863]),
    ] {
        for (bar, l_min) in [0.5, 1.0, 2.0, 3.0].into_iter().zip(flows) {
            let coefficient = orifice::coefficient(0.62, mm * 1e-3, 1000.0);
            near((bar * 1e5 / coefficient).sqrt() * 60e3, l_min, 0.005);
        }
    }
}

#[test]
fn fittings_of_the_fluids_documentation() {
    // fluids 1.3.1: Kv_to_K(2.312, .015). Gap 0.07 %: fluids takes the rounded constant of IEC 60534 (1.6e9 D^4/Kv^2), we the
    // definition (1 bar, 1000 kg/m3: 1.59888e9).
    near(fitting::k_from_kv(2.312, 0.015), 15.153374600399898, 8e-4);
    near(fitting::k_from_kv(2.312, 0.015) * 1.6 / (PI * PI * 900.0 * 900.0 * 2e-7), 15.153374600399898, 1e-9);
    // fluids 1.3.1: dP_from_K(10, 1000, 3).
    near(fitting::loss(10.0, 0.02, 1000.0, 3.0 * area(0.02)).pressure_pa, 45000.0, 1e-12);
}

#[test]
fn creeping_and_coil() {
    // Sampson (1891): 24 mu q/d^3 for a hole in a thin plate (exact).
    near(creeping::loss(0.1, 0.001, 0.0, 1e-8).pressure_pa, 24.0, 1e-12);
    // fluids 1.3.1 docstring: helical_laminar_fd_White(250, .02, .1) and helical_transition_Re_Ito(1, 7.).
    near(64.0 / 250.0 * coil::friction_ratio(250.0 * 0.2f64.sqrt()).0, 0.4063281817830202, 1e-12);
    near(coil::laminar_end(1.0, 7.0), 10729.972844697186, 1e-12);
}

#[test]
fn parallel_pipes() {
    // New Mexico State University, pipes in parallel: same length and friction factor, 0.30 and 0.15 m, 0.12 m3/s:
    // Q1/Q2 = 2^2.5 = 5.657 (0.10197 and 0.01803 m3/s). Equal factors as fittings: K = f L/D, f L = 1.
    let mut graph = DiGraph::new();
    let a = graph.add_node(node("a", 0.0, Boundary::Inflow(0.12)));
    let b = graph.add_node(node("b", 0.0, Boundary::Pressure(0.0)));
    for bore_m in [0.30, 0.15] {
        graph.add_edge(a, b, link(format!("{bore_m}"), LinkKind::Fitting { k: 1.0 / bore_m, bore_m }));
    }
    let fluid = Fluid { density_kg_m3: 1000.0, viscosity_pa_s: 1e-3 };
    let network = Network { graph, fluid, gravity_m_s2: G, friction_law: FrictionLaw::default() };
    let flows = solver::solve(&network).unwrap().link_flow_m3s;
    near(flows[0] / flows[1], 2f64.powf(2.5), 1e-9);
    near(flows[0], 0.10197, 1e-4);
    near(flows[1], 0.01803, 4e-4);
}

#[test]
fn christiansen_factor() {
    // Exact (as tabulated in USDA NEH for quadratic loss): F = sum k^2/N^3: N = 10: 0.385; N = 20: 0.35875. Our pipe line
    // of N outlets of equal, given flow, with quadratic losses, loses F times what one pipe with the whole flow loses.
    for (count, factor) in [(2, 0.6250), (5, 0.4400), (10, 0.385), (20, 0.35875), (40, 0.3459)] {
        let mut graph = DiGraph::new();
        let mut before = graph.add_node(node("in", 0.0, Boundary::Pressure(1e5)));
        for outlet in 0..count {
            let here = graph.add_node(node(format!("n{outlet}"), 0.0, Boundary::Inflow(-1e-5)));
            graph.add_edge(
                before,
                here,
                link(format!("p{outlet}"), LinkKind::Fitting { k: 3.0, bore_m: 0.01 }),
            );
            before = here;
        }
        let fluid = Fluid { density_kg_m3: 1000.0, viscosity_pa_s: 1e-3 };
        let network = Network { graph, fluid, gravity_m_s2: G, friction_law: FrictionLaw::default() };
        let end = solver::solve(&network).unwrap().node_pressure_pa[before.index()].unwrap();
        let whole = f64::from(count) * fitting::loss(3.0, 0.01, 1000.0, 1e-5 * f64::from(count)).pressure_pa;
        near((1e5 - end) / whole, factor, if count == 40 { 2e-4 } else { 1e-9 });
    }
}

// Whole networks: not published, but computed with EPANET 2.2 (public domain, US EPA) and with an independent solver of our
// own, which agree within 0.02 %:
// nu 1.0219e-6 m2/s, g 9.80665, roughness 0.0015 mm; outlets of 1.2 mm, Cd 0.62, to the air.
const DENSITY: f64 = 1000.0;
const NU: f64 = 1.0219e-6;

fn smooth(length_m: f64, bore_m: f64, k_minor: f64) -> LinkKind {
    LinkKind::Pipe { length_m, bore_m, roughness_m: 1.5e-6, k_minor }
}

const OUTLET: LinkKind = LinkKind::Orifice { diameter_m: 0.0012, cd: 0.62, creeping_thickness_m: None };

/// Row flows in L/min, by the links named o0, o1 ..., and the head at each node in m, by its name.
fn row_flows(
    graph: DiGraph<equirow::hydraulics::network::Node, equirow::hydraulics::network::Link>,
    thicker: f64,
) -> (Vec<f64>, BTreeMap<String, f64>) {
    let fluid = Fluid { density_kg_m3: DENSITY, viscosity_pa_s: DENSITY * NU * thicker };
    let network = Network { graph, fluid, gravity_m_s2: G, friction_law: FrictionLaw::default() };
    let solution = solver::solve(&network).unwrap();
    let rows = network.graph.edge_indices().filter(|&e: &EdgeIndex| network.graph[e].name.starts_with('o'));
    let heads = network.graph.node_indices().map(|node| {
        let pressure = solution.node_pressure_pa[node.index()].unwrap();
        let node = &network.graph[node];
        (node.name.clone(), pressure / (DENSITY * G) + node.elevation_m)
    });
    (rows.map(|e| solution.link_flow_m3s[e.index()] * 60e3).collect(), heads.collect())
}

/// Largest difference of heads from theirs, m.
fn off_heads(heads: &BTreeMap<String, f64>, theirs: &[(&str, f64)]) -> f64 {
    theirs.iter().map(|(name, head)| (heads[*name] - head).abs()).fold(0.0, f64::max)
}

/// Coefficient of variation over the population, per cent.
fn cv(flows: &[f64]) -> f64 {
    let mean = flows.iter().sum::<f64>() / flows.len() as f64;
    (flows.iter().map(|q| (q - mean).powi(2)).sum::<f64>() / flows.len() as f64).sqrt() / mean * 100.0
}

#[test]
fn header_with_ten_outlets() {
    for (bore_mm, centre, total, first, last, their_cv) in [
        (8.0, false, 5.7079, 0.58348, 0.56524, 1.052),
        (8.0, true, 5.8086, 0.58008, 0.58008, 0.150),
        (10.0, false, 5.8265, 0.58716, 0.58068, 0.366),
        (10.0, true, 5.8629, 0.58603, 0.58603, 0.051),
        (12.7, false, 5.8708, 0.58854, 0.58645, 0.118),
        (12.7, true, 5.8828, 0.58820, 0.58820, 0.015),
    ] {
        let bore = bore_mm * 1e-3;
        let mut graph = DiGraph::new();
        let supply = graph.add_node(node("in", 0.0, Boundary::Pressure(10.0 * DENSITY * G)));
        let taps: Vec<_> =
            (0..10).map(|i| graph.add_node(node(format!("n{i}"), 0.0, Boundary::Inflow(0.0)))).collect();
        if centre {
            let tee = graph.add_node(node("tee", 0.0, Boundary::Inflow(0.0)));
            graph.add_edge(supply, tee, link("stub", smooth(0.30, bore, 0.0)));
            graph.add_edge(tee, taps[4], link("left", smooth(0.15, bore, 0.0)));
            graph.add_edge(tee, taps[5], link("right", smooth(0.15, bore, 0.0)));
        } else {
            graph.add_edge(supply, taps[0], link("inlet", smooth(0.30, bore, 0.0)));
        }
        for i in 0..9 {
            if !(centre && i == 4) {
                graph.add_edge(taps[i], taps[i + 1], link(format!("h{i}"), smooth(0.30, bore, 0.0)));
            }
        }
        for (i, tap) in taps.iter().enumerate() {
            let out = graph.add_node(node(format!("a{i}"), 0.0, Boundary::Pressure(0.0)));
            graph.add_edge(*tap, out, link(format!("o{i}"), OUTLET));
        }
        let (flows, heads) = row_flows(graph, 1.0);
        let sum: f64 = flows.iter().sum();
        println!(
            "header {bore_mm} mm, centre {centre}: total {:+.4} %, CV {:+.4} points",
            (sum / total - 1.0) * 100.0,
            cv(&flows) - their_cv
        );
        // Printed to five figures; the two solvers behind them agree within 0.02 %.
        near(sum, total, 2.1e-4);
        near(flows[0], first, 2.1e-4);
        near(flows[9], last, 2.1e-4);
        // Printed to 0.001; 0.02 % of a flow of ten are up to 0.006 of the CV, of which we see 0.0033 at 8 mm, where one
        // stretch runs at Re 2900 and the EPA engine has another curve.
        assert!((cv(&flows) - their_cv).abs() < 0.0045, "{} {their_cv}", cv(&flows));
        if bore_mm == 8.0 && !centre {
            // All ten, and what each stretch of the header takes.
            let rows =
                [0.58348, 0.57870, 0.57478, 0.57167, 0.56928, 0.56753, 0.56633, 0.56560, 0.56533, 0.56524];
            for (ours, theirs) in flows.iter().zip(rows) {
                near(*ours, theirs, 2.1e-4);
            }
            let taps = [9.8065, 9.6463, 9.5162, 9.4134, 9.3348, 9.2775, 9.2385, 9.2145, 9.2058, 9.2029];
            let (mut before, mut ours_before) = (10.0, 10.0);
            for (index, head) in taps.into_iter().enumerate() {
                let ours = heads[&format!("n{index}")];
                let (loss, theirs) = (ours_before - ours, before - head);
                println!("tap {index}: loss {loss:.5} m, theirs {theirs:.4} m");
                // Both ends are rounded to 0.1 mm. The EPA engine has an explicit formula in place of Colebrook's, 0.3 % off
                // above Re 10,000 and up to 1.8 % towards 4,000, and another curve below that; laminar they are one.
                let reynolds = 4.0 * flows[index..].iter().sum::<f64>() / 6e4 / (PI * bore * NU);
                let part = match reynolds {
                    10_000.0.. => 0.003,
                    4_000.0.. => 0.018,
                    2_000.0.. => 0.08,
                    _ => 0.0,
                };
                assert!((loss - theirs).abs() < 1.1e-4 + part * theirs, "tap {index}");
                (before, ours_before) = (head, ours);
            }
        }
    }
}

#[test]
fn bar_with_three_manifolds() {
    // Heads of filter, tee and the left, centre and right manifold, m.
    for (slope, thicker, total, ends, their_cv, their_heads) in [
        (
            0.0,
            1.0,
            19.622,
            [(0, 0.8242), (7, 0.8109), (8, 0.8245), (15, 0.8113)],
            0.531,
            [19.9387, 19.8182, 19.7922, 19.8108, 19.7922],
        ),
        (
            0.0,
            4.0,
            19.361,
            [(0, 0.8200), (7, 0.7933), (8, 0.8205), (15, 0.7937)],
            1.085,
            [19.9288, 19.8080, 19.7753, 19.7987, 19.7753],
        ),
        (
            0.1,
            1.0,
            19.622,
            [(0, 0.8330), (0, 0.8330), (23, 0.8022), (23, 0.8022)],
            0.964,
            [19.9387, 19.8182, 19.7919, 19.8108, 19.7926],
        ),
        (
            0.1,
            4.0,
            19.361,
            [(0, 0.8290), (0, 0.8290), (23, 0.7842), (23, 0.7842)],
            1.454,
            [19.9288, 19.8080, 19.7751, 19.7987, 19.7756],
        ),
    ] {
        let mut graph = DiGraph::new();
        let supply = graph.add_node(node("in", 0.0, Boundary::Pressure(20.0 * DENSITY * G)));
        let filter = graph.add_node(node("F", 0.0, Boundary::Inflow(0.0)));
        let tee = graph.add_node(node("T", 0.0, Boundary::Inflow(0.0)));
        graph.add_edge(supply, filter, link("supply", smooth(8.0, 0.032, 0.0)));
        graph.add_edge(filter, tee, link("filter", smooth(0.3, 0.025, 5.0)));
        for (m, (x, length)) in [(-3.0, 7.0), (0.0, 2.0), (3.0, 7.0)].into_iter().enumerate() {
            let manifold = graph.add_node(node(format!("M{m}"), x * slope, Boundary::Inflow(0.0)));
            graph.add_edge(tee, manifold, link(format!("main{m}"), smooth(length, 0.025, 0.0)));
            for tube in 0..8 {
                let row = 8 * m + tube;
                let z = (row as f64 + 1.0 - 12.5) * 0.375 * slope;
                let end = graph.add_node(node(format!("e{row}"), z, Boundary::Inflow(0.0)));
                let air = graph.add_node(node(format!("a{row}"), z, Boundary::Pressure(0.0)));
                let length = 1.0 + 0.5 * tube as f64;
                graph.add_edge(manifold, end, link(format!("t{row}"), smooth(length, 0.005, 1.5)));
                graph.add_edge(end, air, link(format!("o{row}"), OUTLET));
            }
        }
        let (flows, heads) = row_flows(graph, thicker);
        let sum: f64 = flows.iter().sum();
        println!(
            "bar, slope {slope}, viscosity times {thicker}: total {:+.4} %, CV {:+.4} points",
            (sum / total - 1.0) * 100.0,
            cv(&flows) - their_cv
        );
        // Printed to five figures; the two solvers behind them agree within 0.02 %. At the plain viscosity the tubes run at
        // Re 3400, where the EPA engine has another curve between laminar and turbulent than ours.
        let (flow_off, cv_off) = if thicker > 1.0 { (2.7e-4, 0.0045) } else { (8e-4, 0.018) };
        near(sum, total, flow_off);
        let names = ["F", "T", "M0", "M1", "M2"];
        let theirs: Vec<(&str, f64)> = names.into_iter().zip(their_heads).collect();
        println!("heads within {:.5} m", off_heads(&heads, &theirs));
        // Printed to 0.1 mm. The supply hose with the thicker liquid runs at Re 3100, where the EPA engine has another curve:
        // what it takes is left out there, and the heads are compared from the filter on.
        let shift = if thicker > 1.0 { heads["F"] - their_heads[0] } else { 0.0 };
        let from_filter = heads.iter().map(|(name, head)| (name.clone(), head - shift)).collect();
        let within = if thicker > 1.0 { 2e-4 } else { 4e-4 };
        assert!(off_heads(&from_filter, &theirs) < within, "{from_filter:?}");
        // With equal lists of lengths on each manifold, rows of the sloped cases are compared at the ends only.
        for (row, theirs) in ends {
            near(flows[row], theirs, flow_off);
        }
        assert!((cv(&flows) - their_cv).abs() < cv_off, "{} {their_cv}", cv(&flows));
    }
}
