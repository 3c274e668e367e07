//! The same faults as [`faulty`](super::faulty), where all are in one row feed: a feed hangs on the rest of the network by its
//! start alone, so that all the rest knows of it is what it takes. The rest is solved at a few takings, the feed by itself for
//! each fault, and where both agree on the pressure at the start is the answer: a small part of the price of the whole network.
//!
//! Between takings the rest is a cubic through what was solved, so that an answer is near the engine's own and not its last digit.

use std::collections::BTreeMap;

use petgraph::Direction;
use petgraph::graph::{DiGraph, EdgeIndex, NodeIndex};
use petgraph::visit::EdgeRef;

use super::faulty::{Fault, FaultSolver, Shown, add_leak};
use super::network::{Boundary, Network};
use super::solver::Solver;
use crate::plan::FeedId;

/// Takings at which the rest is solved, in parts of what the sound feed takes. The first stands for nothing: a flow of 0 is another
/// topology.
const TAKINGS: [f64; 14] = [1e-6, 0.5, 1.0, 1.6, 2.5, 4.0, 6.5, 10.0, 16.0, 25.0, 40.0, 65.0, 100.0, 160.0];
/// Place of the sound taking.
const SOUND: usize = 2;
/// Both sides agree within this part of the pressure at the start.
const AGREED: f64 = 1e-8;
/// Steps after which no answer is found.
const MOST_STEPS: usize = 60;

/// Solves faults of one feed.
pub struct FeedSolver<'s, 'a> {
    own: Own,
    rest: Rest<'s, 'a>,
}

/// The feed by itself, its start held at a pressure.
struct Own {
    network: Network,
    start: NodeIndex,
    /// Links that leave the start.
    first: Vec<EdgeIndex>,
    /// By the link of the whole network.
    links: BTreeMap<EdgeIndex, EdgeIndex>,
    /// Last links with the place of their row.
    last: Vec<(usize, EdgeIndex)>,
    sound: Solver,
    solver: Solver,
    /// Pressure at the start at which nothing flows to the lowest outlet, Pa.
    still: f64,
}

/// What the rest does at a taking.
#[derive(Default)]
enum Taken {
    #[default]
    NotAsked,
    /// It can't give so much.
    TooMuch,
    /// Pressure at the start, Pa, and what rows and watched parts show.
    Given(f64, Shown),
}

/// All else, with the feed as a withdrawal.
struct Rest<'s, 'a> {
    of: &'s FaultSolver<'a>,
    network: Network,
    start: NodeIndex,
    solver: Solver,
    sound: Solver,
    taken: f64,
    known: [Taken; TAKINGS.len()],
}

impl Own {
    /// With some pressure at the start: what it takes in all, and of the rows.
    fn at(
        network: &mut Network,
        solver: &mut Solver,
        (start, first): (NodeIndex, &[EdgeIndex]),
        pressure: f64,
    ) -> Option<f64> {
        network.graph[start].boundary = Boundary::Pressure(pressure);
        let solution = solver.solve_in_order(network).ok()?;
        Some(first.iter().map(|link| solution.link_flow_m3s[link.index()]).sum())
    }
}

impl Rest<'_, '_> {
    fn known(&mut self, at: usize) -> Option<(f64, &Shown)> {
        if matches!(self.known[at], Taken::NotAsked) {
            let solved = self.solved(at);
            self.known[at] = solved.map_or(Taken::TooMuch, |(pressure, shown)| Taken::Given(pressure, shown));
        }
        match &self.known[at] {
            Taken::Given(pressure, shown) => Some((*pressure, shown)),
            Taken::NotAsked | Taken::TooMuch => None,
        }
    }

    fn solved(&mut self, at: usize) -> Option<(f64, Shown)> {
        self.network.graph[self.start].boundary = Boundary::Inflow(-self.taken * TAKINGS[at]);
        self.solver.start_from(&self.sound);
        let solution = self.solver.solve_in_order(&self.network).ok()?;
        let pressure = solution.node_pressure_pa[self.start.index()]?;
        Some((pressure, self.of.shown(solution, &self.network)))
    }

    /// Places of the takings that count at one, with what each counts: the cubic between two of them with the slopes of the
    /// parabolas through both and their neighbours. None beyond all of them.
    fn between(&mut self, taken: f64) -> Option<[(usize, f64); 4]> {
        let x = taken / self.taken;
        let last = TAKINGS.len() - 1;
        let at = TAKINGS.iter().rposition(|one| *one <= x).unwrap_or(0);
        if at >= last {
            return None;
        }
        let (from, to) = (TAKINGS[at], TAKINGS[at + 1]);
        let step = to - from;
        // Less than the first is nothing; below nothing a straight line is enough.
        let s = if (0.0..TAKINGS[0]).contains(&x) { 0.0 } else { (x - from) / step };
        let hermite = [
            (1.0 + 2.0 * s) * (1.0 - s) * (1.0 - s),
            s * (1.0 - s) * (1.0 - s) * step,
            s * s * (3.0 - 2.0 * s),
            s * s * (s - 1.0) * step,
        ];
        let hermite = if s < 0.0 { [1.0 - s, 0.0, s, 0.0] } else { hermite };
        let first = at.saturating_sub(1).min(last - 3);
        let mut counts = [0.0; 4];
        counts[at - first] += hermite[0];
        counts[at + 1 - first] += hermite[2];
        for (place, part) in [(at, hermite[1]), (at + 1, hermite[3])] {
            if part == 0.0 {
                continue;
            }
            let middle = place.clamp(1, last - 1);
            let (a, b, c) = (TAKINGS[middle - 1], TAKINGS[middle], TAKINGS[middle + 1]);
            let here = TAKINGS[place];
            for (one, slope) in [
                (middle - 1, (2.0 * here - b - c) / ((a - b) * (a - c))),
                (middle, (2.0 * here - a - c) / ((b - a) * (b - c))),
                (middle + 1, (2.0 * here - a - b) / ((c - a) * (c - b))),
            ] {
                counts[one - first] += part * slope;
            }
        }
        let mut all = [0, 1, 2, 3].map(|one| (first + one, counts[one]));
        // Where it can't give the next taking but one, a straight line has to do.
        let known = |rest: &mut Self, one: &(usize, f64)| one.1 == 0.0 || rest.known(one.0).is_some();
        if !all.iter().all(|one| known(self, one)) {
            all = [(at, 1.0 - s), (at + 1, s), (at, 0.0), (at, 0.0)];
            if !all.iter().all(|one| known(self, one)) {
                return None;
            }
        }
        Some(all)
    }

    /// Pressure at the start where so much is taken.
    fn pressure(&mut self, taken: f64) -> Option<f64> {
        let all = self.between(taken)?;
        let mut sum = 0.0;
        for (place, part) in all.iter().filter(|one| one.1 != 0.0) {
            sum += part * self.known(*place)?.0;
        }
        Some(sum)
    }

    fn shows(&mut self, taken: f64) -> Option<Shown> {
        let all = self.between(taken)?;
        let mut sum =
            Shown { rows: vec![0.0; self.of.assembly.rows.len()], parts: vec![0.0; self.of.watched.len()] };
        for (place, part) in all.iter().filter(|one| one.1 != 0.0) {
            let (_, shown) = self.known(*place)?;
            sum.rows.iter_mut().zip(&shown.rows).for_each(|(sum, one)| *sum += part * one);
            sum.parts.iter_mut().zip(&shown.parts).for_each(|(sum, one)| *sum += part * one);
        }
        sum.rows.iter_mut().for_each(|one| *one = one.max(0.0));
        Some(sum)
    }
}

impl<'s, 'a> FeedSolver<'s, 'a> {
    /// Makes ready for the faults of a feed. None where nothing flows in it.
    pub fn new(of: &'s FaultSolver<'a>, feed: FeedId) -> Option<Self> {
        let mut network = of.assembly.network.clone();
        let whole: Vec<EdgeIndex> =
            network.graph.edge_indices().filter(|link| of.feed_of_link[link.index()] == Some(feed)).collect();
        let (start, _) = network.graph.edge_endpoints(*of.feeds.get(&feed)?)?;
        let mut graph = DiGraph::new();
        let mut nodes: BTreeMap<NodeIndex, NodeIndex> = BTreeMap::new();
        let mut links = BTreeMap::new();
        for link in &whole {
            let (from, to) = network.graph.edge_endpoints(*link)?;
            let mut own = |node: NodeIndex| {
                *nodes.entry(node).or_insert_with(|| graph.add_node(network.graph[node].clone()))
            };
            let (from, to) = (own(from), own(to));
            links.insert(*link, graph.add_edge(from, to, network.graph[*link].clone()));
        }
        let own_start = *nodes.get(&start)?;
        let solution = of.start.solution();
        let pressure = solution.node_pressure_pa[start.index()]?;
        let first: Vec<EdgeIndex> = graph.edges(own_start).map(|one| one.id()).collect();
        // Nothing of the feed leads back to its start.
        if graph.edges_directed(own_start, Direction::Incoming).next().is_some() {
            return None;
        }
        let last = of
            .assembly
            .rows
            .iter()
            .enumerate()
            .flat_map(|(row, one)| one.last_links.iter().map(move |link| (row, link)))
            .filter_map(|(row, link)| Some((row, *links.get(link)?)))
            .collect();
        let weight = network.fluid.density_kg_m3 * network.gravity_m_s2;
        let lowest = graph
            .node_weights()
            .filter(|node| matches!(node.boundary, Boundary::Pressure(_)))
            .map(|node| node.elevation_m)
            .reduce(f64::min)?;
        let still = weight * (lowest - graph[own_start].elevation_m);
        let (fluid, gravity_m_s2, friction_law) = (network.fluid, network.gravity_m_s2, network.friction_law);
        let mut own = Network { graph, fluid, gravity_m_s2, friction_law };
        own.graph[own_start].boundary = Boundary::Pressure(pressure);
        let mut sound = Solver::new(&own).ok()?;
        let taken = Own::at(&mut own, &mut sound, (own_start, &first), pressure)?;
        if !(taken > 0.0) {
            return None;
        }
        for link in &whole {
            network.graph[*link].closed = true;
        }
        network.graph[start].boundary = Boundary::Inflow(-taken);
        let mut rest = Solver::new(&network).ok()?;
        rest.solve_in_order(&network).ok()?;
        let own =
            Own { network: own, start: own_start, first, links, last, solver: sound.clone(), sound, still };
        let rest =
            Rest { of, network, start, solver: rest.clone(), sound: rest, taken, known: Default::default() };
        Some(Self { own, rest })
    }

    /// What rows and watched parts show with these faults, all of this feed. None where one is not, where a number is one that it
    /// can't have, or where this way finds no answer: [`FaultSolver::solve`] then has the last word.
    pub fn solve(&mut self, faults: &[Fault]) -> Option<Shown> {
        let of = self.rest.of;
        let mut network = self.own.network.clone();
        let mut is_of_joints = false;
        for (link, kind) in of.kinds(&of.values(faults)?)? {
            network.graph[*self.own.links.get(&link)?].kind = kind;
        }
        for fault in faults {
            match *fault {
                Fault::Number(parameter, _) | Fault::Times(parameter, _)
                    if of.links.contains_key(&parameter) => {}
                Fault::ElementClosed(id) => {
                    let link = self.own.links.get(of.elements.get(&id)?)?;
                    network.graph[*link].closed = true;
                    is_of_joints = true;
                }
                Fault::Leak(id, diameter_m) => {
                    let link = self.own.links.get(of.elements.get(&id)?)?;
                    add_leak(&mut network.graph, *link, diameter_m)?;
                    is_of_joints = true;
                }
                _ => return None,
            }
        }
        let ends = (self.own.start, self.own.first.as_slice());
        let mut anew;
        let solver = if is_of_joints {
            anew = Solver::new(&network).ok()?;
            &mut anew
        } else {
            self.own.solver.start_from(&self.own.sound);
            &mut self.own.solver
        };
        let rest = &mut self.rest;
        let most = rest.known(0)?.0;
        let sound = rest.known(SOUND)?.0;
        // What the rest has at the start for what the feed takes there, less what is there: it falls with the pressure.
        let mut left = |pressure: f64, solver: &mut Solver| -> Option<(f64, f64)> {
            let taken = Own::at(&mut network, solver, ends, pressure)?;
            Some((rest.pressure(taken).map_or(self.own.still - pressure, |there| there - pressure), taken))
        };
        let (at_sound, mut taken) = left(sound, solver)?;
        let tolerance = AGREED * (sound - self.own.still).abs();
        if at_sound.abs() > tolerance {
            let end = if at_sound > 0.0 { most } else { self.own.still };
            let at_end = left(end, solver)?;
            if at_end.0.abs() <= tolerance {
                taken = at_end.1;
            } else {
                taken =
                    agreed((sound, at_sound), (end, at_end.0), tolerance, |pressure| left(pressure, solver))?;
            }
        }
        let mut shown = self.rest.shows(taken)?;
        for (row, link) in &self.own.last {
            shown.rows[*row] += solver.solution().link_flow_m3s[link.index()];
        }
        Some(shown)
    }
}

/// What is taken where both sides agree, between two pressures at which they differ to either side: false position, the end that
/// stays counting half (the Illinois way).
fn agreed(
    (mut a, mut of_a): (f64, f64),
    (mut b, mut of_b): (f64, f64),
    tolerance: f64,
    mut left: impl FnMut(f64) -> Option<(f64, f64)>,
) -> Option<f64> {
    if of_a * of_b > 0.0 {
        return None;
    }
    for _ in 0..MOST_STEPS {
        let pressure = (a * of_b - b * of_a) / (of_b - of_a);
        let (here, taken) = left(pressure)?;
        if here.abs() <= tolerance {
            return Some(taken);
        }
        if here * of_b < 0.0 {
            (a, of_a) = (b, of_b);
        } else {
            of_a /= 2.0;
        }
        (b, of_b) = (pressure, here);
    }
    None
}
