//! The public-domain text format of the EPA network solver: a solved network, written so that an independent engine can
//! check it.
//!
//! One line a link, in the network's order. That engine has no orifices, loss coefficients apart from pipes and valves,
//! or cracking pressures, and it rounds gravity to 32.2 ft/s²; how each is put stands in the file's own comments
//! ([`inp`] writes them), with every difference that remains. Text out; nothing here touches the disk.

use crate::hydraulics::losses::{self, creeping};
use crate::hydraulics::network::{Boundary, Fluid, LinkKind, Network};
use crate::hydraulics::solver::Solution;
use crate::plan::words::short;
use petgraph::graph::{EdgeIndex, NodeIndex};
use petgraph::unionfind::UnionFind;
use std::collections::BTreeSet;
use std::f64::consts::PI;
use std::fmt::Write as _;

/// The engine's gravity, m/s²: 32.2 ft/s².
const GRAVITY: f64 = 32.2 * 0.3048;
/// The engine's unit of kinematic viscosity, m²/s: 1.1e-5 ft²/s, that of water at 20 °C.
const VISCOSITY_UNIT: f64 = 1.1e-5 * 0.3048 * 0.3048;
/// The engine takes `0.02517 K/d⁴` for a loss coefficient, in feet: `8/(π² g)` rounded. Coefficients are written larger
/// by what the rounding took away.
const K_ROUNDING: f64 = 8.0 / (PI * PI * 32.2) / 0.02517;
/// Longest name it takes, bytes.
const LONGEST_NAME: usize = 31;
/// Length of the pipe that carries a check valve, m, and how much wider it is than the valve: its own friction is then
/// less than a millionth of the valve's loss.
const VALVE_LENGTH_M: f64 = 1e-3;
const VALVE_WIDER: f64 = 10.0;

/// Least roughness it takes is above zero, mm: far below what shows.
const LEAST_ROUGHNESS_MM: f64 = 1e-6;
/// Longest comment line: older versions read 255 bytes a line.
const LONGEST_COMMENT: usize = 110;

/// A solved network as text for the EPA engine. `notes` are comment lines at its head.
pub fn inp(network: &Network, solution: &Solution, notes: &[String]) -> String {
    let raised = Raised::new(network);
    let weight = network.fluid.density_kg_m3 * GRAVITY;
    let mut names = Names::default();
    let nodes: Vec<String> = network.graph.node_weights().map(|node| names.take(&node.name)).collect();
    let mut names = Names::default();
    let links: Vec<String> = network.graph.edge_weights().map(|link| names.take(&link.name)).collect();

    let mut sections = Sections::default();
    for (node, name) in network.graph.node_indices().zip(&nodes) {
        let at = &network.graph[node];
        let own = short(&at.name);
        // The lift of a cracking pressure goes into the height, so that the pressure shown is the true one.
        let elevation = at.elevation_m * network.gravity_m_s2 / GRAVITY + raised.by[node.index()] / weight;
        match at.boundary.at_solution(solution.supply.as_ref()) {
            Boundary::Pressure(pressure) => {
                let _ = writeln!(sections.reservoirs, " {name} {:?} ;{}", elevation + pressure / weight, own);
            }
            Boundary::Inflow(flow) => {
                let demand = if flow == 0.0 { 0.0 } else { -flow * 1e3 };
                let _ = writeln!(sections.junctions, " {name} {elevation:?} {demand:?} ;{own}");
            }
            // Became one of the others above.
            Boundary::Supply(_) => {}
        }
    }
    for (link, name) in network.graph.edge_indices().zip(&links) {
        let Some((from, to)) = network.graph.edge_endpoints(link) else { continue };
        let flow = solution.link_flow_m3s.get(link.index()).copied().unwrap_or(0.0);
        let (from, to) = (nodes[from.index()].as_str(), nodes[to.index()].as_str());
        match raised.rest[link.index()] {
            0.0 => sections.link(network, link, name, (from, to), flow),
            rest => {
                let behind = sections.break_pressure(link, name, to, rest / weight);
                sections.link(network, link, name, (from, &behind), flow);
            }
        }
    }
    let mut text = String::new();
    let mut line = |words: &str| {
        let mut used = 0;
        for word in words.split_whitespace().map(short) {
            if used == 0 || used + word.len() > LONGEST_COMMENT {
                text.push_str(if used == 0 { "; " } else { "\n;   " });
                used = 4;
            } else {
                text.push(' ');
            }
            text.push_str(&word);
            used += word.len() + 1;
        }
        text.push('\n');
    };
    for note in notes {
        line(note);
    }
    for difference in DIFFERENCES {
        line(difference);
    }
    for note in &sections.notes {
        line(note);
    }
    let viscosity = network.fluid.viscosity_pa_s / network.fluid.density_kg_m3 / VISCOSITY_UNIT;
    let _ = write!(
        text,
        "\n[JUNCTIONS]\n;name, height m, demand L/s\n{}\n[RESERVOIRS]\n;name, head m\n{}\n[PIPES]\n;name, from, to, \
         length m, bore mm, roughness mm, K, state\n{}\n[VALVES]\n;name, from, to, bore mm, kind, K (TCV) or head m \
         (PBV), K\n{}\n[STATUS]\n{}\n[OPTIONS]\n Units LPS\n Headloss D-W\n Viscosity {viscosity:?}\n Accuracy 1e-6\n \
         Trials 500\n\n[TIMES]\n Duration 0\n\n[REPORT]\n Status No\n Summary No\n\n[END]\n",
        sections.junctions, sections.reservoirs, sections.pipes, sections.valves, sections.status,
    );
    text
}

/// What differs in every file.
const DIFFERENCES: [&str; 8] = [
    "Gravity: the EPA engine rounds it to 32.2 ft/s2 (9.81456 m/s2). Heads here are pressures divided by density and \
     that gravity; heights are shortened by the ratio of gravities, so that static pressures stay as they were.",
    "Pressures it shows are heads of this liquid in metres; times density and 9.81456 gives Pa.",
    "Friction: above Re 4000 it takes Swamee-Jain, this network was solved with Colebrook (some 1 to 3 % apart); \
     between Re 2000 and 4000 both take a cubic, but not the same one; below, both take 64/Re. A roughness of zero is written as 1e-6 mm, since it takes none.",
    "Loss coefficients K are written 0.012 % larger than they are: it rounds 8/(pi^2 g) to 0.02517 in feet, which takes \
     that away again.",
    "Orifices and fittings are throttle valves (TCV) of their own bore; an orifice has K = 1/Cd^2.",
    "Check valves are short wide pipes with its check valve (CV), which has no cracking pressure: what lies behind one \
     is raised by its cracking pressure instead, outlets to the air as well.",
    "Its check valves shut within a tolerance of 0.15 mm of head or 2.8 mL/s: a valve that stands about at its cracking \
     pressure can be open in one engine and shut in the other, and where the spring alone holds it, a trickle is left.",
    "A supply that meters its flow is a negative demand; one that holds its pressure is a reservoir.",
];

#[derive(Default)]
struct Sections {
    junctions: String,
    reservoirs: String,
    pipes: String,
    valves: String,
    status: String,
    notes: Vec<String>,
}

impl Sections {
    fn link(&mut self, network: &Network, index: EdgeIndex, name: &str, (from, to): (&str, &str), flow: f64) {
        let link = &network.graph[index];
        let state = if link.closed { " Closed" } else { "" };
        let own = &short(&link.name);
        match pipe_at(&link.kind, network, flow) {
            LinkKind::Pipe { length_m, bore_m, roughness_m, k_minor } => {
                let k_minor = k_minor * K_ROUNDING;
                let (bore, roughness) = (bore_m * 1e3, (roughness_m * 1e3).max(LEAST_ROUGHNESS_MM));
                let _ = writeln!(
                    self.pipes,
                    " {name} {from} {to} {length_m:?} {bore:?} {roughness:?} {k_minor:?}{state} ;{own}"
                );
                if let LinkKind::MeteringTube { .. } = link.kind {
                    self.notes.push(tube_note(own, network, &link.kind, flow));
                }
            }
            LinkKind::CheckValve { k, bore_m, .. } => {
                let (bore, k) = (bore_m * VALVE_WIDER * 1e3, k * K_ROUNDING * VALVE_WIDER.powi(4));
                let state = if link.closed { state } else { " CV" };
                let _ = writeln!(
                    self.pipes,
                    " {name} {from} {to} {VALVE_LENGTH_M:?} {bore:?} {LEAST_ROUGHNESS_MM:?} {k:?}{state} ;{own}"
                );
            }
            LinkKind::Fitting { k, bore_m } => self.throttle(name, from, to, bore_m, k, link.closed, own),
            LinkKind::Orifice { diameter_m, cd, creeping_thickness_m } => {
                let mut k = 1.0 / (cd * cd);
                if let Some(thickness) = creeping_thickness_m {
                    let area = 0.25 * PI * diameter_m * diameter_m;
                    let linear = creeping::resistance(network.fluid.viscosity_pa_s, diameter_m, thickness);
                    if flow != 0.0 {
                        k += linear * 2.0 * area * area / (network.fluid.density_kg_m3 * flow.abs());
                    }
                    self.notes.push(format!(
                        "Orifice {own}: its viscous part goes with the flow, not with its square; it is in K as it holds at \
                         {:.6} L/min.",
                        flow * 6e4
                    ));
                }
                self.throttle(name, from, to, diameter_m, k, link.closed, own);
            }
            LinkKind::MeteringTube { .. } => {}
        }
    }

    #[expect(clippy::too_many_arguments, reason = "the columns of one line")]
    fn throttle(&mut self, name: &str, from: &str, to: &str, bore_m: f64, k: f64, closed: bool, own: &str) {
        let _ =
            writeln!(self.valves, " {name} {from} {to} {:?} TCV {:?} 0 ;{own}", bore_m * 1e3, k * K_ROUNDING);
        if closed {
            let _ = writeln!(self.status, " {name} Closed");
        }
    }

    /// What raised heads could not express of a cracking pressure: a valve behind the link that takes a fixed head (or
    /// gives one, where it is below zero). Gives the name of the node between.
    fn break_pressure(&mut self, index: EdgeIndex, name: &str, to: &str, head: f64) -> String {
        let (middle, valve) = (format!("_n{}", index.index()), format!("_b{}", index.index()));
        let (from, to) = if head > 0.0 { (middle.as_str(), to) } else { (to, middle.as_str()) };
        let _ = writeln!(self.junctions, " {middle} 0.0 0.0 ;behind {name}");
        let _ = writeln!(self.valves, " {valve} {from} {to} 10.0 PBV {:?} 0 ;cracking pressure", head.abs());
        self.notes.push(format!(
            "Check valve {name} lies on a ring whose ways have different cracking pressures: {valve} (PBV) takes what \
             raised heads can't express."
        ));
        middle
    }
}

/// A link as formats without metering tubes have it: such a tube becomes a pipe that takes the same pressure at this
/// flow. Its `K` is the one that holds there; a coil's friction is put as more length (or less).
pub(super) fn pipe_at(kind: &LinkKind, network: &Network, flow_m3s: f64) -> LinkKind {
    let LinkKind::MeteringTube { length_m, bore_m, roughness_m, .. } = *kind else { return *kind };
    let fluid = &network.fluid;
    let straight = LinkKind::Pipe { length_m, bore_m, roughness_m, k_minor: 0.0 };
    let loss = |kind: &LinkKind| kind.law(fluid, network.friction_law).loss(flow_m3s).pressure_pa.abs();
    let dynamic = losses::fitting::loss(1.0, bore_m, fluid.density_kg_m3, flow_m3s).pressure_pa.abs();
    let k_minor = tube_k(kind, fluid, flow_m3s);
    let friction = loss(&straight);
    let stretch = if friction > 0.0 { (loss(kind) - k_minor * dynamic) / friction } else { 1.0 };
    LinkKind::Pipe { length_m: length_m * stretch, bore_m, roughness_m, k_minor }
}

/// `K` of a metering tube at a flow.
fn tube_k(kind: &LinkKind, fluid: &Fluid, flow_m3s: f64) -> f64 {
    let LinkKind::MeteringTube { bore_m, coil_diameter_m, .. } = *kind else { return 0.0 };
    let end =
        coil_diameter_m.map_or(losses::reynolds::LAMINAR_END, |coil| losses::coil::laminar_end(bore_m, coil));
    let reynolds = losses::reynolds::number(fluid, bore_m, flow_m3s);
    let progress = if reynolds > end { (reynolds / end).ln() / std::f64::consts::LN_2 } else { 0.0 };
    losses::metering_tube::k(progress).0
}

/// What was done with a metering tube, in one sentence.
pub(super) fn tube_note(name: &str, network: &Network, kind: &LinkKind, flow_m3s: f64) -> String {
    let (
        LinkKind::MeteringTube { length_m, bore_m, coil_diameter_m, .. },
        LinkKind::Pipe { length_m: put, k_minor, .. },
    ) = (*kind, pipe_at(kind, network, flow_m3s))
    else {
        return String::new();
    };
    let reynolds = losses::reynolds::number(&network.fluid, bore_m, flow_m3s);
    let coil = match coil_diameter_m {
        Some(coil) => format!(
            ", and a length of {put:.6} m instead of {length_m} m, which has the friction of a coil of {coil} m"
        ),
        None => String::new(),
    };
    format!(
        "Metering tube {name}: a pipe with K {k_minor:.6}{coil}, as they hold at {:.6} L/min (Re {reynolds:.0}); at another \
         flow they differ.",
        flow_m3s * 6e4
    )
}

/// By how much heads behind check valves are raised so that cracking pressures vanish, Pa.
struct Raised {
    by: Vec<f64>,
    /// What is left of a link's cracking pressure.
    rest: Vec<f64>,
}

impl Raised {
    /// Nodes joined without a check valve are raised alike; valves between two such groups set them apart, the weakest
    /// first. A valve within a group, or one that closes a ring of groups, keeps a rest.
    fn new(network: &Network) -> Self {
        let graph = &network.graph;
        let count = graph.node_count();
        let crack = |link: EdgeIndex| match graph[link].kind {
            LinkKind::CheckValve { crack_pressure_pa, .. } => Some(crack_pressure_pa),
            _ => None,
        };
        let mut groups = UnionFind::<usize>::new(count);
        let mut valves = Vec::new();
        for link in graph.edge_indices() {
            let Some((from, to)) = graph.edge_endpoints(link) else { continue };
            match crack(link) {
                Some(crack) => valves.push((crack, link.index(), from.index(), to.index())),
                None => _ = groups.union(from.index(), to.index()),
            }
        }
        valves.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        let group: Vec<usize> = (0..count).map(|node| groups.find(node)).collect();
        let mut trees = UnionFind::<usize>::new(count);
        let mut steps: Vec<Vec<(usize, f64)>> = vec![Vec::new(); count];
        for &(crack, _, from, to) in &valves {
            let (from, to) = (group[from], group[to]);
            if trees.union(from, to) {
                steps[from].push((to, crack));
                steps[to].push((from, -crack));
            }
        }
        let mut of_group: Vec<Option<f64>> = vec![None; count];
        for node in graph.node_indices().map(NodeIndex::index) {
            if of_group[group[node]].is_some() {
                continue;
            }
            of_group[group[node]] = Some(0.0);
            let mut stack = vec![(group[node], 0.0)];
            while let Some((at, height)) = stack.pop() {
                for &(next, step) in &steps[at] {
                    if of_group[next].is_none() {
                        of_group[next] = Some(height + step);
                        stack.push((next, height + step));
                    }
                }
            }
        }
        let by: Vec<f64> = (0..count).map(|node| of_group[group[node]].unwrap_or(0.0)).collect();
        let mut rest = vec![0.0; graph.edge_count()];
        for &(crack, link, from, to) in &valves {
            let left = crack - (by[to] - by[from]);
            // What a sum of raised heads rounds off is no pressure.
            if left.abs() > 1e-9 * crack.max(1.0) {
                rest[link] = left;
            }
        }
        Self { by, rest }
    }
}

/// Names that the EPA engine takes: no blanks, at most 31 bytes, each once.
#[derive(Default)]
struct Names(BTreeSet<String>);

impl Names {
    fn take(&mut self, name: &str) -> String {
        let plain = |c: char| if c.is_ascii_alphanumeric() || "-.()/+".contains(c) { c } else { '_' };
        let mut wanted: String = name.chars().map(plain).take(LONGEST_NAME).collect();
        if wanted.is_empty() {
            wanted.push('_');
        }
        let mut number = 1;
        let mut chosen = wanted.clone();
        while !self.0.insert(chosen.to_lowercase()) {
            number += 1;
            let end = format!("~{number}");
            wanted.truncate(LONGEST_NAME - end.len());
            chosen = format!("{wanted}{end}");
        }
        chosen
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used, clippy::panic, reason = "a test stops where something is not as it should be")]
mod tests {
    use super::*;
    use crate::hydraulics::network::{FrictionLaw, Link, Node};
    use petgraph::graph::DiGraph;

    fn network(links: &[(usize, usize, LinkKind)], held: &[(usize, f64)]) -> Network {
        let mut graph = DiGraph::new();
        let count = links.iter().map(|(a, b, _)| a.max(b) + 1).max().unwrap_or(0);
        for node in 0..count {
            let boundary = held
                .iter()
                .find(|(at, _)| *at == node)
                .map_or(Boundary::Inflow(0.0), |(_, pressure)| Boundary::Pressure(*pressure));
            graph.add_node(Node { name: format!("n {node}"), elevation_m: 0.0, boundary });
        }
        for (number, (a, b, kind)) in links.iter().enumerate() {
            let link = Link { name: format!("l {number}"), kind: *kind, closed: false };
            graph.add_edge(NodeIndex::new(*a), NodeIndex::new(*b), link);
        }
        let fluid = Fluid { density_kg_m3: 1000.0, viscosity_pa_s: 1e-3 };
        Network { graph, fluid, gravity_m_s2: 9.80665, friction_law: FrictionLaw::default() }
    }

    fn valve(crack_pressure_pa: f64) -> LinkKind {
        LinkKind::CheckValve { crack_pressure_pa, k: 5.0, bore_m: 0.005 }
    }

    const PIPE: LinkKind = LinkKind::Pipe { length_m: 1.0, bore_m: 0.01, roughness_m: 0.0, k_minor: 0.0 };

    #[test]
    fn cracking_pressures_become_raised_heads_behind_the_valves() {
        let links = [(0, 1, PIPE), (1, 2, valve(15e3)), (2, 3, PIPE), (1, 4, valve(10e3))];
        let raised = Raised::new(&network(&links, &[(0, 2e5), (3, 0.0), (4, 0.0)]));
        let base = raised.by[0];
        let by: Vec<f64> = raised.by.iter().map(|by| by - base).collect();
        assert_eq!(by, [0.0, 0.0, 15e3, 15e3, 10e3]);
        assert!(raised.rest.iter().all(|rest| *rest == 0.0));
    }

    #[test]
    fn what_raised_heads_cannot_express_is_left_as_a_rest() {
        // Two ways to one node over valves that differ, and a valve between nodes that a pipe joins as well.
        let links = [(0, 1, valve(10e3)), (0, 1, valve(15e3)), (1, 2, PIPE), (1, 2, valve(2e3))];
        let network = network(&links, &[(0, 2e5), (2, 0.0)]);
        let raised = Raised::new(&network);
        assert_eq!(raised.by[1] - raised.by[0], 10e3);
        assert_eq!(raised.rest, [0.0, 5e3, 0.0, 2e3]);
        let solution = crate::hydraulics::solver::solve(&network).unwrap();
        let text = inp(&network, &solution, &[]);
        assert!(text.contains(" _b1 _n1 n_1 10.0 PBV "), "{text}");
        let line = format!(" l_1 n_0 _n1 0.001 50.0 1e-6 {:?} CV ;l 1", 5.0 * K_ROUNDING * 1e4);
        assert!(text.contains(&line), "{text}");
    }

    #[test]
    fn names_fit_and_stay_apart() {
        let mut names = Names::default();
        assert_eq!(names.take("T1 metering orifice 3"), "T1_metering_orifice_3");
        assert_eq!(names.take("T1_metering orifice 3"), "T1_metering_orifice_3~2");
        let long = "a very long name that no engine of this kind takes";
        let (first, second) = (names.take(long), names.take(long));
        assert!(first.len() <= LONGEST_NAME && second.len() <= LONGEST_NAME && first != second);
        assert_eq!(names.take("Düse;\"1\""), "D_se__1_");
    }

    /// A metering tube, straight and coiled, laminar to turbulent, takes the same pressure as the pipe it is written as.
    #[test]
    fn a_metering_tube_holds_its_pressure_as_a_pipe() {
        let network = network(&[(0, 1, PIPE)], &[(0, 1.0), (1, 0.0)]);
        for coil_diameter_m in [None, Some(0.05)] {
            let tube =
                LinkKind::MeteringTube { length_m: 2.0, bore_m: 0.002, roughness_m: 1.5e-6, coil_diameter_m };
            for reynolds in [10.0, 1500.0, 3000.0, 6000.0, 9000.0, 30_000.0] {
                let flow = reynolds / losses::reynolds::per_flow(&network.fluid, 0.002);
                let loss =
                    |kind: &LinkKind| kind.law(&network.fluid, network.friction_law).loss(flow).pressure_pa;
                let pipe = pipe_at(&tube, &network, flow);
                let off = loss(&pipe) / loss(&tube) - 1.0;
                assert!(off.abs() < 1e-13, "Re {reynolds}, coil {coil_diameter_m:?}: {off:e}");
                let LinkKind::Pipe { k_minor, length_m, .. } = pipe else { panic!("no pipe") };
                assert!((1.5..=2.25).contains(&k_minor));
                assert!(coil_diameter_m.is_some() || (length_m / 2.0 - 1.0).abs() < 1e-12);
            }
        }
    }
}
