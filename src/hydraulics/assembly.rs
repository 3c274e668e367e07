//! From a routing to the neutral network, and from its solution back to the plan.
//!
//! Each port of a part becomes a node; parts screwed onto each other share one. Only what liquid can reach from
//! the supply through open valves goes into the network, so that a half-drawn routing is solved as far as it is
//! connected. Start reading at [`solve`].

use std::collections::BTreeMap;

use petgraph::graph::{DiGraph, EdgeIndex, NodeIndex};
use petgraph::unionfind::UnionFind;

use super::connectivity::{ConnectionProblem, connection_problems};
use super::evenness::evenness;
use super::losses;
use super::network::{Boundary, Fluid, FrictionLaw, Link, LinkKind, Network, Node};
use super::outcome::{ElementOutcome, Outcome, PartOutcome, RowOutcome, RowState, RunOutcome, Status};
use super::solver::{self, Solution};
use crate::geometry::Point3;
use crate::plan::row::target;
use crate::plan::{
    Control, End, FeedElement, Item, LiquidState, ManifoldInlet, OperatingPoint, Part, PartId, Port, PortRef,
    Project, Routing, RowFeed, RowId, RunId,
};
use crate::quantities::{Flow, GRAVITY_M_S2, Length, Pressure, Ratio, Speed};

/// Absolute roughness of moulded plastic bodies, metres (the value of smooth plastic pipe).
const BODY_ROUGHNESS_M: f64 = 1.5e-6;

/// A routing as a network at one operating point, with what each piece of it stands for.
#[derive(Debug, Clone)]
pub struct Assembly {
    /// What the solver takes. The supply is an inflow or a pressure; row outlets are at atmosphere.
    pub network: Network,
    /// The supply's node.
    pub supply: NodeIndex,
    /// What each link stands for, by its index.
    pub meaning: Vec<Meaning>,
    /// The flow that all fed and open rows ask for.
    pub target_total: Flow,
    nodes: BTreeMap<PortRef, NodeIndex>,
    rows: BTreeMap<RowId, RowConnection>,
}

/// What a link of the network stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Meaning {
    /// A hose.
    Run(RunId),
    /// A way through a part.
    Part(PartId),
    /// An element of the feed at this place in the routing: its branch (none in the trunk) and place in it.
    Element {
        /// Place of the feed in the routing.
        feed: usize,
        /// Which branch.
        branch: Option<usize>,
        /// Place in the trunk or branch.
        index: usize,
    },
    /// A branch of a small tee.
    Split(usize),
}

#[derive(Debug, Clone, Default)]
struct RowConnection {
    last_links: Vec<EdgeIndex>,
    has_check_valve: bool,
    behind_shut_valve: bool,
}

/// A node or link before it is known what the supply reaches.
struct Draft<'a> {
    project: &'a Project,
    routing: &'a Routing,
    up: Point3,
    elevations: Vec<f64>,
    names: Vec<String>,
    outlets: BTreeMap<usize, RowId>,
    joined: Vec<(usize, usize)>,
    links: Vec<(usize, usize, Link, Meaning)>,
    ports: BTreeMap<PortRef, usize>,
}

/// The upward direction in the bar's coordinates: its x axis rises by the side slope, its y axis by the fore-aft
/// slope.
fn upward(point: &OperatingPoint) -> Point3 {
    let (x, y) = (point.side_slope.si().sin(), point.fore_aft_slope.si().sin());
    Point3::new(x, y, (1.0 - x * x - y * y).max(0.0).sqrt())
}

impl Draft<'_> {
    fn node(&mut self, name: impl Into<String>, at: Point3) -> usize {
        self.elevations.push(at.x * self.up.x + at.y * self.up.y + at.z * self.up.z);
        self.names.push(name.into());
        self.elevations.len() - 1
    }

    fn link(
        &mut self,
        from: usize,
        to: usize,
        name: impl Into<String>,
        kind: LinkKind,
        closed: bool,
        meaning: Meaning,
    ) {
        // A link that takes nothing is a joint, not a link: the solver needs a resistance in each.
        let free = matches!(kind, LinkKind::Fitting { k, .. } if k == 0.0)
            || matches!(kind, LinkKind::Pipe { length_m, k_minor, .. } if length_m <= 0.0 && k_minor == 0.0);
        if free && !closed {
            self.joined.push((from, to));
        } else {
            self.links.push((from, to, Link { name: name.into(), kind, closed }, meaning));
        }
    }

    fn part(&mut self, part: &Part) {
        let Some(item) = self.project.catalogue.item(&part.entry).copied() else { return };
        for port in item.ports() {
            let port = PortRef { part: part.id, port };
            let at = self.routing.port_position(port, &self.project.catalogue).unwrap_or(part.position);
            let node = self.node(format!("{} {}", part.tag, port.port), at);
            self.ports.insert(port, node);
        }
        let port = |draft: &Self, port: Port| draft.ports[&PortRef { part: part.id, port }];
        let meaning = Meaning::Part(part.id);
        match item {
            Item::InletFilter { bore, k, .. } | Item::SectionValve { bore, k, .. } => {
                let (from, to) = (port(self, Port::In), port(self, Port::Out));
                self.link(
                    from,
                    to,
                    &part.tag,
                    LinkKind::Fitting { k, bore_m: bore.si() },
                    part.shut,
                    meaning,
                );
            }
            Item::Tee { bore, k_through, k_branch, .. } => {
                let at = self.routing.placement(part, &self.project.catalogue).0;
                let centre = self.node(format!("{} centre", part.tag), at);
                let half = k_through / 2.0;
                for (end, k) in [(Port::In, half), (Port::Out, half), (Port::Branch, k_branch - half)] {
                    let from = port(self, end);
                    let kind = LinkKind::Fitting { k: k.max(0.0), bore_m: bore.si() };
                    self.link(from, centre, format!("{} {end}", part.tag), kind, false, meaning);
                }
            }
            Item::Manifold { outlets, spacing, bore, k, inlet, .. } => {
                let taps: Vec<usize> = (1..=outlets).map(|number| port(self, Port::Outlet(number))).collect();
                let (Some(first), Some(last)) = (taps.first().copied(), taps.last().copied()) else { return };
                let middle = taps.len() / 2;
                let pipe = |length: Length| LinkKind::Pipe {
                    length_m: length.si(),
                    bore_m: bore.si(),
                    roughness_m: BODY_ROUGHNESS_M,
                    k_minor: 0.0,
                };
                // The inlet meets the body at its first outlet, at its middle outlet, or between the two middle ones.
                let between = inlet == ManifoldInlet::Middle && taps.len().is_multiple_of(2);
                let meets = match inlet {
                    ManifoldInlet::End => first,
                    ManifoldInlet::Middle if between => {
                        let at = self.routing.placement(part, &self.project.catalogue).0;
                        self.node(format!("{} body", part.tag), at)
                    }
                    ManifoldInlet::Middle => taps[middle],
                };
                for (index, pair) in taps.windows(2).enumerate() {
                    let name = format!("{} body {}", part.tag, index + 1);
                    if between && index + 1 == middle {
                        self.link(
                            pair[0],
                            meets,
                            format!("{name} left"),
                            pipe(spacing / 2.0),
                            false,
                            meaning,
                        );
                        self.link(
                            meets,
                            pair[1],
                            format!("{name} right"),
                            pipe(spacing / 2.0),
                            false,
                            meaning,
                        );
                    } else {
                        self.link(pair[0], pair[1], name, pipe(spacing), false, meaning);
                    }
                }
                let kind = LinkKind::Fitting { k, bore_m: bore.si() };
                let inlet = port(self, Port::In);
                self.link(inlet, meets, format!("{} inlet", part.tag), kind, false, meaning);
                self.joined.push((port(self, Port::Gauge), meets));
                self.joined.push((port(self, Port::Out), last));
            }
            _ => {}
        }
    }

    fn end(&mut self, end: &End, supply: usize, tag: &str) -> usize {
        match end {
            End::Supply => supply,
            End::Port(port) => match self.ports.get(port) {
                Some(node) => *node,
                None => self.node(format!("{tag} end"), Point3::default()),
            },
            End::Loose(at) => self.node(format!("{tag} loose end"), *at),
        }
    }

    fn feed(&mut self, number: usize, feed: &RowFeed, supply: usize) {
        let (bar, catalogue) = (&self.project.bar, &self.project.catalogue);
        let End::Port(PortRef { port: Port::Outlet(_), .. }) = feed.from else { return };
        let Some(geometry) = self.routing.feed_geometry(feed, bar, catalogue, &self.project.supply) else {
            return;
        };
        let start = self.end(&feed.from, supply, &feed.tag);
        let trunk = self.chain(number, feed, None, &feed.trunk, &geometry.trunk, start);
        for (index, branch) in feed.branches.iter().enumerate() {
            let Some(row) = bar.row(branch.row).filter(|row| !row.left_out) else { continue };
            if feed.trunk.is_empty() && branch.elements.is_empty() {
                continue;
            }
            let mut from = trunk;
            if feed.branches.len() > 1
                && let Some(split) = &feed.split
                && let Some(Item::SmallTee { bore, k }) = catalogue.item(&split.entry)
            {
                let to = self.node(format!("{} split {}", feed.tag, index + 1), split.position);
                let kind = LinkKind::Fitting { k: *k, bore_m: bore.si() };
                self.link(
                    from,
                    to,
                    format!("{} split {}", feed.tag, index + 1),
                    kind,
                    false,
                    Meaning::Split(number),
                );
                from = to;
            }
            let end =
                self.chain(number, feed, Some(index), &branch.elements, &geometry.branches[index], from);
            self.outlets.insert(end, row.id);
            self.elevations[end] = {
                let at = bar.outlet(row);
                at.x * self.up.x + at.y * self.up.y + at.z * self.up.z
            };
        }
    }

    fn chain(
        &mut self,
        number: usize,
        feed: &RowFeed,
        branch: Option<usize>,
        elements: &[FeedElement],
        ends: &[(Point3, Point3)],
        start: usize,
    ) -> usize {
        let mut at = start;
        for (index, (element, (from, to))) in elements.iter().zip(ends).enumerate() {
            let Some(kind) = self.element_kind(element, *from, *to) else { continue };
            let name = match branch {
                Some(branch) if feed.branches.len() > 1 => {
                    format!("{} {} {}", feed.tag, branch + 1, element.kind())
                }
                _ => format!("{} {}", feed.tag, element.kind()),
            };
            let next = self.node(format!("{name} {}", index + 1), *to);
            self.link(
                at,
                next,
                format!("{name} {}", index + 1),
                kind,
                false,
                Meaning::Element { feed: number, branch, index },
            );
            at = next;
        }
        at
    }

    fn element_kind(&self, element: &FeedElement, from: Point3, to: Point3) -> Option<LinkKind> {
        let catalogue = &self.project.catalogue;
        Some(match (element, catalogue.item(element.entry())?) {
            (FeedElement::Tube(tube), Item::Tube(stock) | Item::Hose(stock)) => LinkKind::Pipe {
                length_m: tube.line.length(from, to).si(),
                bore_m: stock.bore.si(),
                roughness_m: stock.roughness.si(),
                k_minor: 0.0,
            },
            (FeedElement::CheckValve(_), Item::CheckValve { cracking, k, bore, .. }) => {
                LinkKind::CheckValve { crack_pressure_pa: cracking.si(), k: *k, bore_m: bore.si() }
            }
            (FeedElement::Orifice(_), Item::MeteringOrifice { bore, cd, .. }) => {
                LinkKind::Orifice { diameter_m: bore.si(), cd: *cd, creeping_thickness_m: None }
            }
            (FeedElement::MeteringTube { length, coil, .. }, Item::MeteringTube(stock)) => {
                LinkKind::MeteringTube {
                    length_m: length.si(),
                    bore_m: stock.bore.si(),
                    roughness_m: stock.roughness.si(),
                    coil_diameter_m: coil.map(Length::si),
                }
            }
            (FeedElement::Fitting(_), Item::Fitting { bore, k }) => {
                LinkKind::Fitting { k: *k, bore_m: bore.si() }
            }
            _ => return None,
        })
    }
}

fn assemble(project: &Project, routing: &Routing, point: &OperatingPoint, liquid: &LiquidState) -> Assembly {
    let mut draft = Draft {
        project,
        routing,
        up: upward(point),
        elevations: Vec::new(),
        names: Vec::new(),
        outlets: BTreeMap::new(),
        joined: Vec::new(),
        links: Vec::new(),
        ports: BTreeMap::new(),
    };
    let supply = draft.node("supply", project.supply.pump);
    for part in &routing.parts {
        draft.part(part);
    }
    for part in &routing.parts {
        if let Some(mount) = part.mount
            && let (Some(host), Some(own)) =
                (draft.ports.get(&mount), draft.ports.get(&PortRef { part: part.id, port: Port::In }))
        {
            draft.joined.push((*host, *own));
        }
    }
    for run in &routing.runs {
        let Some(stock) = project.catalogue.stock(&run.line.stock) else { continue };
        let Some(length) = routing.run_length(run, &project.catalogue, &project.supply) else { continue };
        let (from, to) = (draft.end(&run.from, supply, &run.tag), draft.end(&run.to, supply, &run.tag));
        let k_minor = run
            .fittings
            .iter()
            .filter_map(|key| match project.catalogue.item(key) {
                Some(Item::Fitting { bore, k }) => {
                    Some(losses::fitting::k_at_bore(*k, bore.si(), stock.bore.si()))
                }
                _ => None,
            })
            .sum();
        let kind = LinkKind::Pipe {
            length_m: length.si(),
            bore_m: stock.bore.si(),
            roughness_m: stock.roughness.si(),
            k_minor,
        };
        draft.link(from, to, &run.tag, kind, false, Meaning::Run(run.id));
    }
    for (number, feed) in routing.feeds.iter().enumerate() {
        draft.feed(number, feed, supply);
    }
    finish(draft, supply, point, liquid)
}

/// Keeps what the supply reaches through open links, and numbers it.
fn finish(draft: Draft, supply: usize, point: &OperatingPoint, liquid: &LiquidState) -> Assembly {
    let count = draft.elevations.len();
    let mut joints = UnionFind::<usize>::new(count);
    for (a, b) in &draft.joined {
        joints.union(*a, *b);
    }
    let (mut open, mut any) = (joints.clone(), joints.clone());
    for (from, to, link, _) in &draft.links {
        any.union(*from, *to);
        if !link.closed {
            open.union(*from, *to);
        }
    }
    let reached = |node: usize| open.equiv(node, supply);

    let mut graph = DiGraph::with_capacity(count, draft.links.len());
    let mut index_of: BTreeMap<usize, NodeIndex> = BTreeMap::new();
    let mut outlet_of_group: BTreeMap<usize, RowId> = BTreeMap::new();
    for (node, row) in &draft.outlets {
        outlet_of_group.insert(joints.find(*node), *row);
    }
    for node in 0..count {
        let group = joints.find(node);
        if !reached(node) {
            continue;
        }
        index_of.entry(group).or_insert_with(|| {
            let boundary = if outlet_of_group.contains_key(&group) {
                Boundary::Pressure(0.0)
            } else {
                Boundary::Inflow(0.0)
            };
            graph.add_node(Node {
                name: draft.names[node].clone(),
                elevation_m: draft.elevations[node],
                boundary,
            })
        });
    }
    let project = draft.project;
    let mut rows: BTreeMap<RowId, RowConnection> = BTreeMap::new();
    for (node, row) in &draft.outlets {
        // A joined outlet takes the elevation of the group's first node; set its own.
        if let Some(index) = index_of.get(&joints.find(*node)) {
            graph[*index].elevation_m = draft.elevations[*node];
        }
        let connection = rows.entry(*row).or_default();
        if !reached(*node) && any.equiv(*node, supply) {
            connection.behind_shut_valve = true;
        }
    }
    let mut meaning = Vec::with_capacity(draft.links.len());
    for (from, to, link, means) in draft.links {
        let (a, b) = (joints.find(from), joints.find(to));
        let (Some(a), Some(b)) = (index_of.get(&a), index_of.get(&b)) else { continue };
        if a == b {
            continue;
        }
        let is_check_valve = matches!(link.kind, LinkKind::CheckValve { .. });
        let edge = graph.add_edge(*a, *b, link);
        meaning.push(means);
        if let Some(row) = outlet_of_group.get(&joints.find(to)) {
            rows.entry(*row).or_default().last_links.push(edge);
        }
        if is_check_valve && let Meaning::Element { feed, branch, .. } = means {
            for (number, one) in draft.routing.feeds[feed].branches.iter().enumerate() {
                if branch.is_none_or(|branch| branch == number) {
                    rows.entry(one.row).or_default().has_check_valve = true;
                }
            }
        }
    }
    let nodes = draft
        .ports
        .iter()
        .filter_map(|(port, node)| Some((*port, *index_of.get(&joints.find(*node))?)))
        .collect::<BTreeMap<_, _>>();
    let target_total = project
        .bar
        .rows
        .iter()
        .filter(|row| rows.get(&row.id).is_some_and(|connection| !connection.last_links.is_empty()))
        .map(|row| target(&project.bar, row, project.application.row_widths, point))
        .sum();
    let supply = index_of.get(&joints.find(supply)).copied().unwrap_or_default();
    Assembly {
        network: Network {
            graph,
            fluid: Fluid { density_kg_m3: liquid.density.si(), viscosity_pa_s: liquid.viscosity.si() },
            gravity_m_s2: GRAVITY_M_S2,
            friction_law: FrictionLaw::LaminarColebrook,
        },
        supply,
        meaning,
        target_total,
        nodes,
        rows,
    }
}

/// A routing as a network, with the supply's boundary as asked (a metered supply that its limit would hold is not
/// known before the solve); `None` for a liquid without properties.
pub fn network_of(project: &Project, routing: &Routing, point: &OperatingPoint) -> Option<Assembly> {
    let liquid = project.liquid.at(point.temperature)?;
    let mut assembly = assemble(project, routing, point, &liquid);
    assembly.network.graph[assembly.supply].boundary = match project.supply.control {
        Control::Metered { .. } => Boundary::Inflow(assembly.target_total.si()),
        Control::Held { pressure } => Boundary::Pressure(pressure.si()),
    };
    Some(assembly)
}

/// Solves a routing at an operating point. Always an answer: what is not connected is named, what can't be solved
/// has no number.
pub fn solve(project: &Project, routing: &Routing, point: &OperatingPoint) -> Outcome {
    let mut problems = connection_problems(project, routing);
    let Some(mut assembly) = network_of(project, routing, point) else {
        let status = Status::Failed { blame: String::new(), why: "the liquid has no properties".to_owned() };
        return without_numbers(project, routing, point, None, status, None, problems);
    };
    let liquid = project.liquid.at(point.temperature);
    let has_body = |part: &&Part| {
        !matches!(
            project.catalogue.item(&part.entry),
            Some(Item::Gauge { .. } | Item::BlankingPlug { .. }) | None
        )
    };
    let reached = |part: &Part| assembly.nodes.keys().any(|port| port.part == part.id);
    let shut = routing.parts.iter().any(|part| part.shut);
    for part in routing.parts.iter().filter(has_body).filter(|part| !reached(part)) {
        if !shut || !connected_at_all(routing, part.id) {
            problems.push(ConnectionProblem::NotSupplied(part.id));
        }
    }
    let fed = assembly.rows.values().any(|row| !row.last_links.is_empty());
    if !fed {
        return without_numbers(
            project,
            routing,
            point,
            liquid,
            Status::NothingFed,
            Some(&assembly),
            problems,
        );
    }
    if matches!(project.supply.control, Control::Metered { .. }) && assembly.target_total.si() <= 0.0 {
        let why = "nothing is asked of any row: rate or speed is zero".to_owned();
        let status = Status::Failed { blame: String::new(), why };
        return without_numbers(project, routing, point, liquid, status, Some(&assembly), problems);
    }
    let failed = |failure: &solver::Failure, assembly: &Assembly| Status::Failed {
        blame: blame(failure, assembly),
        why: failure.to_string(),
    };
    let mut solution = match solver::solve(&assembly.network) {
        Ok(solution) => solution,
        Err(failure) => {
            let status = failed(&failure, &assembly);
            return without_numbers(project, routing, point, liquid, status, Some(&assembly), problems);
        }
    };
    let mut status = Status::Solved;
    if let Control::Metered { limit } = project.supply.control {
        let pump = solution.node_pressure_pa[assembly.supply.index()];
        if pump.is_none_or(|pressure| pressure > limit.si()) {
            assembly.network.graph[assembly.supply].boundary = Boundary::Pressure(limit.si());
            solution = match solver::solve(&assembly.network) {
                Ok(solution) => solution,
                Err(failure) => {
                    let status = failed(&failure, &assembly);
                    return without_numbers(
                        project,
                        routing,
                        point,
                        liquid,
                        status,
                        Some(&assembly),
                        problems,
                    );
                }
            };
            let total = supplied(&assembly, &solution);
            status = Status::AtLimit { shortfall: (assembly.target_total - total).max(Flow::ZERO) };
        }
    }
    with_numbers(project, routing, point, liquid, status, &assembly, &solution, problems)
}

fn connected_at_all(routing: &Routing, part: PartId) -> bool {
    let on = |end: &End| end.port().is_some_and(|port| port.part == part);
    routing.runs.iter().any(|run| on(&run.from) || on(&run.to))
        || routing.parts.iter().any(|one| {
            (one.id == part && one.mount.is_some()) || one.mount.is_some_and(|mount| mount.part == part)
        })
}

/// The name of the piece a failure belongs to.
fn blame(failure: &solver::Failure, assembly: &Assembly) -> String {
    match failure {
        solver::Failure::NotSettled { link: Some(link), .. } => assembly.network.graph[*link].name.clone(),
        solver::Failure::NotSettled { link: None, .. } | solver::Failure::Rejected(_) => String::new(),
    }
}

/// What leaves the supply's node.
fn supplied(assembly: &Assembly, solution: &Solution) -> Flow {
    let graph = &assembly.network.graph;
    let total: f64 = graph
        .edge_indices()
        .filter_map(|edge| {
            let (from, to) = graph.edge_endpoints(edge)?;
            let flow = solution.link_flow_m3s[edge.index()];
            Some(
                f64::from(u8::from(from == assembly.supply)) * flow
                    - f64::from(u8::from(to == assembly.supply)) * flow,
            )
        })
        .sum();
    Flow::from_si(total)
}

fn without_numbers(
    project: &Project,
    routing: &Routing,
    point: &OperatingPoint,
    liquid: Option<LiquidState>,
    status: Status,
    assembly: Option<&Assembly>,
    problems: Vec<ConnectionProblem>,
) -> Outcome {
    Outcome {
        point: *point,
        liquid,
        target_total: assembly.map_or(Flow::ZERO, |assembly| assembly.target_total),
        total_flow: None,
        pump_pressure: None,
        inlet_pressure: None,
        rows: rows(project, routing, point, assembly, None, &status),
        parts: routing
            .parts
            .iter()
            .map(|part| PartOutcome {
                part: part.id,
                pressure: None,
                flow: None,
                flow_to_rows: None,
                drop: None,
            })
            .collect(),
        runs: routing
            .runs
            .iter()
            .map(|run| RunOutcome {
                run: run.id,
                length: routing.run_length(run, &project.catalogue, &project.supply),
                flow: None,
                velocity: None,
                reynolds: None,
                pressure_from: None,
                pressure_to: None,
                loss: None,
            })
            .collect(),
        elements: elements(project, routing, &BTreeMap::new(), None),
        evenness: None,
        status,
        problems,
    }
}

#[expect(clippy::too_many_arguments, reason = "the pieces of one solve, passed on once")]
fn with_numbers(
    project: &Project,
    routing: &Routing,
    point: &OperatingPoint,
    liquid: Option<LiquidState>,
    status: Status,
    assembly: &Assembly,
    solution: &Solution,
    problems: Vec<ConnectionProblem>,
) -> Outcome {
    let graph = &assembly.network.graph;
    let pressure = |node: NodeIndex| solution.node_pressure_pa[node.index()].map(Pressure::from_si);
    let mut run_links: BTreeMap<RunId, EdgeIndex> = BTreeMap::new();
    let mut part_links: BTreeMap<PartId, Vec<EdgeIndex>> = BTreeMap::new();
    let mut element_links = BTreeMap::new();
    for (edge, meaning) in graph.edge_indices().zip(&assembly.meaning) {
        match *meaning {
            Meaning::Run(run) => _ = run_links.insert(run, edge),
            Meaning::Part(part) => part_links.entry(part).or_default().push(edge),
            Meaning::Element { feed, branch, index } => _ = element_links.insert((feed, branch, index), edge),
            Meaning::Split(_) => {}
        }
    }
    let runs: Vec<RunOutcome> = routing
        .runs
        .iter()
        .map(|run| {
            let edge = run_links.get(&run.id).copied();
            let through = edge.map(|edge| through(assembly, solution, edge));
            let ends = edge.and_then(|edge| graph.edge_endpoints(edge));
            RunOutcome {
                run: run.id,
                length: routing.run_length(run, &project.catalogue, &project.supply),
                flow: through.map(|one| one.flow),
                velocity: through.and_then(|one| one.velocity),
                reynolds: through.and_then(|one| one.reynolds),
                pressure_from: ends.and_then(|(from, _)| pressure(from)),
                pressure_to: ends.and_then(|(_, to)| pressure(to)),
                loss: through.map(|one| one.loss),
            }
        })
        .collect();
    let elements = elements(project, routing, &element_links, Some((assembly, solution)));
    let rows = rows(project, routing, point, Some(assembly), Some(solution), &status);
    let parts = routing
        .parts
        .iter()
        .map(|part| {
            part_outcome(
                project,
                routing,
                part,
                assembly,
                solution,
                &runs,
                &elements,
                part_links.get(&part.id),
            )
        })
        .collect();
    let ratios: Vec<f64> = rows.iter().filter_map(|row| row.deviation.map(|one| 1.0 + one.si())).collect();
    Outcome {
        point: *point,
        liquid,
        target_total: assembly.target_total,
        total_flow: Some(supplied(assembly, solution)),
        pump_pressure: pressure(assembly.supply),
        inlet_pressure: inlet_pressure(project, routing, assembly, solution),
        evenness: evenness(&ratios),
        rows,
        parts,
        runs,
        elements,
        status,
        problems,
    }
}

#[derive(Clone, Copy)]
struct Through {
    flow: Flow,
    velocity: Option<Speed>,
    reynolds: Option<f64>,
    loss: Pressure,
}

fn through(assembly: &Assembly, solution: &Solution, edge: EdgeIndex) -> Through {
    let network = &assembly.network;
    let kind = &network.graph[edge].kind;
    let flow = solution.link_flow_m3s[edge.index()];
    let bore = match kind {
        LinkKind::Pipe { bore_m, .. }
        | LinkKind::Fitting { bore_m, .. }
        | LinkKind::CheckValve { bore_m, .. }
        | LinkKind::MeteringTube { bore_m, .. } => *bore_m,
        LinkKind::Orifice { diameter_m, .. } => *diameter_m,
    };
    let velocity = flow.abs() / (std::f64::consts::FRAC_PI_4 * bore * bore);
    let fluid = &network.fluid;
    Through {
        flow: Flow::from_si(flow),
        velocity: Some(Speed::from_si(velocity)),
        reynolds: Some(fluid.density_kg_m3 * velocity * bore / fluid.viscosity_pa_s),
        loss: Pressure::from_si(losses::of_link(kind, fluid, network.friction_law, flow).pressure_pa),
    }
}

type ElementKey = (usize, Option<usize>, usize);

fn elements(
    project: &Project,
    routing: &Routing,
    links: &BTreeMap<ElementKey, EdgeIndex>,
    solved: Option<(&Assembly, &Solution)>,
) -> Vec<ElementOutcome> {
    let mut all = Vec::new();
    for (number, feed) in routing.feeds.iter().enumerate() {
        let geometry = routing.feed_geometry(feed, &project.bar, &project.catalogue, &project.supply);
        let stretches = std::iter::once((None, &feed.trunk))
            .chain(feed.branches.iter().enumerate().map(|(index, branch)| (Some(index), &branch.elements)));
        for (branch, list) in stretches {
            for (index, element) in list.iter().enumerate() {
                let ends = geometry.as_ref().and_then(|geometry| match branch {
                    None => geometry.trunk.get(index),
                    Some(branch) => geometry.branches.get(branch).and_then(|ends| ends.get(index)),
                });
                let length = match element {
                    FeedElement::Tube(tube) => ends.map(|(from, to)| tube.line.length(*from, *to)),
                    FeedElement::MeteringTube { length, .. } => Some(*length),
                    _ => None,
                };
                let edge = links.get(&(number, branch, index));
                let through =
                    edge.zip(solved).map(|(edge, (assembly, solution))| through(assembly, solution, *edge));
                let is_shut = matches!(element, FeedElement::CheckValve(_))
                    && through.is_some_and(|one| one.flow.si() == 0.0);
                all.push(ElementOutcome {
                    feed: feed.id,
                    branch,
                    index,
                    length,
                    flow: through.map(|one| one.flow),
                    velocity: through.and_then(|one| one.velocity),
                    reynolds: through.and_then(|one| one.reynolds),
                    drop: through.filter(|_| !is_shut).map(|one| one.loss),
                });
            }
        }
    }
    all
}

fn rows(
    project: &Project,
    routing: &Routing,
    point: &OperatingPoint,
    assembly: Option<&Assembly>,
    solution: Option<&Solution>,
    status: &Status,
) -> Vec<RowOutcome> {
    let mut feed_of: BTreeMap<RowId, &RowFeed> = BTreeMap::new();
    for feed in &routing.feeds {
        for branch in &feed.branches {
            feed_of.entry(branch.row).or_insert(feed);
        }
    }
    let solved = solution.filter(|_| status.has_numbers());
    project
        .bar
        .rows
        .iter()
        .map(|row| {
            let feed = feed_of.get(&row.id).copied();
            let asked = target(&project.bar, row, project.application.row_widths, point);
            let connection = assembly.and_then(|assembly| assembly.rows.get(&row.id));
            let links = connection.map_or(&[][..], |connection| &connection.last_links);
            let flow = solved.map(|solution| {
                Flow::from_si(links.iter().map(|edge| solution.link_flow_m3s[edge.index()]).sum())
            });
            let state = match feed {
                _ if row.left_out => RowState::LeftOut,
                None => RowState::NoFeed,
                Some(feed) if feed.from.port().is_none() => RowState::FeedLoose,
                Some(_) if connection.is_some_and(|one| one.behind_shut_valve) && links.is_empty() => {
                    RowState::SectionShut
                }
                Some(_) if links.is_empty() => RowState::NoSupply,
                Some(_) => match flow {
                    None => RowState::Unknown,
                    Some(flow) if flow.si() == 0.0 && connection.is_some_and(|one| one.has_check_valve) => {
                        RowState::ValveStaysShut
                    }
                    Some(_) => RowState::Fed,
                },
            };
            let deviation = flow
                .filter(|_| state == RowState::Fed && asked.si() > 0.0)
                .map(|flow| Ratio::from_si(flow.si() / asked.si() - 1.0));
            let outlet = feed.and_then(|feed| match feed.from {
                End::Port(PortRef { part, port: Port::Outlet(number) }) => Some((part, number)),
                _ => None,
            });
            RowOutcome {
                row: row.id,
                number: row.number,
                x: row.x,
                section: row.section,
                target: asked,
                state,
                flow: if state == RowState::Unknown { None } else { Some(flow.unwrap_or(Flow::ZERO)) },
                deviation,
                feed: feed.map(|feed| feed.id),
                outlet,
            }
        })
        .collect()
}

#[expect(clippy::too_many_arguments, reason = "the pieces of one solve, passed on once")]
fn part_outcome(
    project: &Project,
    routing: &Routing,
    part: &Part,
    assembly: &Assembly,
    solution: &Solution,
    runs: &[RunOutcome],
    elements: &[ElementOutcome],
    links: Option<&Vec<EdgeIndex>>,
) -> PartOutcome {
    let at = |port: Port| {
        let node = assembly.nodes.get(&PortRef { part: part.id, port })?;
        solution.node_pressure_pa[node.index()].map(Pressure::from_si)
    };
    let item = project.catalogue.item(&part.entry);
    let is_manifold = matches!(item, Some(Item::Manifold { .. }));
    let pressure = if is_manifold {
        at(Port::Gauge)
    } else {
        [at(Port::In), at(Port::Out), at(Port::Branch)].into_iter().flatten().reduce(Pressure::max)
    };
    let mut into = Flow::ZERO;
    let mut hoses = 0;
    for (run, outcome) in routing.runs.iter().zip(runs) {
        let Some(flow) = outcome.flow else { continue };
        for (end, sign) in [(&run.to, 1.0), (&run.from, -1.0)] {
            if end.port().is_some_and(|port| port.part == part.id) {
                hoses += 1;
                into += (flow * sign).max(Flow::ZERO);
            }
        }
    }
    let on_part = |feed: &&RowFeed| feed.from.port().is_some_and(|port| port.part == part.id);
    let first_flow = |feed: &RowFeed| {
        let own = |one: &&ElementOutcome| one.feed == feed.id && one.index == 0;
        let trunk = !feed.trunk.is_empty();
        elements
            .iter()
            .filter(own)
            .filter(|one| one.branch.is_none() == trunk)
            .filter_map(|one| one.flow)
            .sum::<Flow>()
    };
    let to_rows = routing.feeds.iter().filter(on_part).map(first_flow).sum::<Flow>();
    let largest = links.and_then(|links| {
        links
            .iter()
            .map(|edge| through(assembly, solution, *edge))
            .reduce(|a, b| if b.loss.abs() > a.loss.abs() { b } else { a })
    });
    let reached = pressure.is_some();
    let inner = largest.map_or(Flow::ZERO, |one| one.flow.abs());
    PartOutcome {
        part: part.id,
        pressure,
        flow: reached.then(|| if hoses > 0 && into > Flow::ZERO { into } else { inner.max(to_rows) }),
        flow_to_rows: (reached && is_manifold).then_some(to_rows),
        drop: largest.map(|one| one.loss.abs()).filter(|_| !is_manifold),
    }
}

fn inlet_pressure(
    project: &Project,
    routing: &Routing,
    assembly: &Assembly,
    solution: &Solution,
) -> Option<Pressure> {
    let at = |port: PortRef| {
        let node = assembly.nodes.get(&port)?;
        solution.node_pressure_pa[node.index()].map(Pressure::from_si)
    };
    let is_filter =
        |part: &&Part| matches!(project.catalogue.item(&part.entry), Some(Item::InletFilter { .. }));
    let filter = routing.parts.iter().find(is_filter).and_then(|part| {
        let side = |port| at(PortRef { part: part.id, port });
        [side(Port::In), side(Port::Out)].into_iter().flatten().reduce(Pressure::max)
    });
    filter.or_else(|| {
        let supply = routing
            .runs
            .iter()
            .find(|run| matches!(run.from, End::Supply) || matches!(run.to, End::Supply))?;
        [supply.from, supply.to].iter().filter_map(End::port).find_map(at)
    })
}
