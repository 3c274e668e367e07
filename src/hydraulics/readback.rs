//! From a solution back to the plan: what every row, part, run and element gets.
//!
//! Never here: solving, or what connects to what. Start reading at [`Solved::numbers`].

use petgraph::graph::{EdgeIndex, NodeIndex};

use super::assembly::{self, Assembly, PortNode};
use super::evenness::evenness;
use super::losses::static_head;
use super::outcome::{
    ElementOutcome, NotFed, Numbers, PartOutcome, RowConnection, RowOutcome, RowState, RunOutcome,
    SupplyState,
};
use super::solver::{Solution, Solver};
use crate::plan::row_target::target_over;
use crate::plan::{End, OperatingPoint, Part, PartItem, Port, PortRef, Project, Routing};
use crate::quantities::{Flow, Pressure, Ratio, Speed};

/// What leaves the supply's node.
pub(super) fn supplied(assembly: &Assembly, solution: &Solution) -> Flow {
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

/// How the rows of a project hang on its routing, in the bar's order.
pub(super) fn connections(
    project: &Project,
    routing: &Routing,
    point: &OperatingPoint,
    assembly: &Assembly,
) -> Vec<RowConnection> {
    let rows = project.bar.rows.iter().zip(&assembly.rows);
    rows.map(|(row, place)| {
        let feed = place.feed.map(|feed| &routing.feeds[feed]);
        RowConnection {
            row: row.id,
            number: row.number,
            x: row.x,
            section: row.section,
            target: target_over(place.width, row, point),
            connected: match feed {
                _ if row.left_out => Err(NotFed::LeftOut),
                None => Err(NotFed::NoFeed),
                Some(feed) if feed.from.port().is_none() => Err(NotFed::FeedLoose),
                Some(_) if !place.last_links.is_empty() => Ok(()),
                Some(_) if place.behind_shut_valve => Err(NotFed::SectionShut),
                Some(_) => Err(NotFed::NoSupply),
            },
            feed: feed.map(|feed| feed.id),
            outlet: feed.and_then(|feed| match feed.from {
                End::Port(PortRef { part, port: Port::Outlet(number) }) => Some((part, number)),
                End::Port(_) | End::Loose(_) | End::Supply => None,
            }),
        }
    })
    .collect()
}

/// A solved network and what it stands for.
pub(super) struct Solved<'a> {
    pub(super) routing: &'a Routing,
    pub(super) assembly: &'a Assembly,
    pub(super) solver: &'a Solver,
    /// Catalogue items of the parts, by their places.
    pub(super) items: &'a [Option<&'a PartItem>],
}

#[derive(Clone, Copy)]
struct Through {
    flow: Flow,
    velocity: Speed,
    reynolds: f64,
    loss: Pressure,
}

impl Solved<'_> {
    /// All pressures and flows that a solve found; `None` if the supply itself has no pressure.
    pub(super) fn numbers(&self, connections: &[RowConnection], supply: SupplyState) -> Option<Numbers> {
        let (routing, assembly) = (self.routing, self.assembly);
        let graph = &assembly.network.graph;
        let runs: Vec<RunOutcome> = routing
            .runs
            .iter()
            .zip(&assembly.runs)
            .map(|(run, (length, link))| {
                let through = link.map(|link| self.through(link));
                let ends = link.and_then(|link| graph.edge_endpoints(link));
                let end = |end: &End, node: NodeIndex| match end.port() {
                    Some(port) => self.at_port(port),
                    None => self.pressure(node),
                };
                RunOutcome {
                    run: run.id,
                    length: *length,
                    flow: through.map(|one| one.flow),
                    velocity: through.map(|one| one.velocity),
                    reynolds: through.map(|one| one.reynolds),
                    pressure_from: ends.and_then(|(from, _)| end(&run.from, from)),
                    pressure_to: ends.and_then(|(_, to)| end(&run.to, to)),
                    loss: through.map(|one| one.loss),
                }
            })
            .collect();
        let elements: Vec<ElementOutcome> = assembly
            .elements
            .iter()
            .map(|one| {
                let through = one.link.map(|link| self.through(link));
                let is_shut = one.is_check_valve && through.is_some_and(|one| one.flow.si() == 0.0);
                ElementOutcome {
                    feed: one.feed,
                    branch: one.branch,
                    index: one.index,
                    length: one.length,
                    flow: through.map(|one| one.flow),
                    velocity: through.map(|one| one.velocity),
                    reynolds: through.map(|one| one.reynolds),
                    drop: through.filter(|_| !is_shut).map(|one| one.loss),
                }
            })
            .collect();
        let solution = self.solver.solution();
        let rows: Vec<RowOutcome> =
            connections.iter().zip(&assembly.rows).map(|(of, place)| self.row(of, place)).collect();
        let parts = routing
            .parts
            .iter()
            .enumerate()
            .map(|(place, part)| self.part(place, part, &runs, &elements))
            .collect();
        let ratios: Vec<f64> =
            rows.iter().filter_map(|row| row.deviation.map(|one| 1.0 + one.si())).collect();
        let pump_pressure = self.pressure(assembly.supply)?;
        Some(Numbers {
            supply,
            total_flow: supplied(assembly, solution),
            pump_pressure,
            inlet_pressure: self.inlet_pressure().unwrap_or(pump_pressure),
            evenness: evenness(&ratios),
            rows,
            parts,
            runs,
            elements,
        })
    }

    fn row(&self, connection: &RowConnection, place: &assembly::RowLinks) -> RowOutcome {
        let links = place.last_links.iter();
        let flow: Flow =
            links.map(|edge| Flow::from_si(self.solver.solution().link_flow_m3s[edge.index()])).sum();
        let state = match connection.connected {
            Err(why) => RowState::NotFed(why),
            Ok(()) if self.is_blocked(place) => RowState::Blocked,
            Ok(()) if flow.si() == 0.0 && place.has_check_valve => RowState::ValveStaysShut,
            Ok(()) if flow.si() < 0.0 => RowState::FlowsBackward,
            Ok(()) => RowState::Fed,
        };
        let target = connection.target.si();
        let deviation =
            (state == RowState::Fed && target > 0.0).then(|| Ratio::from_si(flow.si() / target - 1.0));
        RowOutcome { connection: *connection, state, flow, deviation }
    }

    fn is_blocked(&self, place: &assembly::RowLinks) -> bool {
        let graph = &self.assembly.network.graph;
        let mut links = place.last_links.iter().peekable();
        links.peek().is_some() && links.all(|link| graph[*link].closed)
    }

    fn pressure(&self, node: NodeIndex) -> Option<Pressure> {
        self.solver.solution().node_pressure_pa[node.index()].map(Pressure::from_si)
    }

    /// Gauge pressure at a port's own height, of the part at a place in the routing.
    fn port_pressure(&self, part: usize, port: Port) -> Option<Pressure> {
        let place = self.assembly.port(part, port)?;
        let network = &self.assembly.network;
        let below =
            static_head::pressure(network.fluid.density_kg_m3, network.gravity_m_s2, place.below_node_m);
        Some(self.pressure(place.node)? + Pressure::from_si(below))
    }

    fn at_port(&self, port: PortRef) -> Option<Pressure> {
        let place = self.routing.parts.iter().position(|part| part.id == port.part)?;
        self.port_pressure(place, port.port)
    }

    /// The port of an inlet, an outlet and perhaps a branch through which most flows into a part; where nothing flows,
    /// the one with the highest pressure.
    fn upstream_port(&self, place: usize) -> Option<Port> {
        let ports = [Port::In, Port::Out, Port::Branch];
        let flow = |link: EdgeIndex| self.solver.solution().link_flow_m3s[link.index()];
        let mut into = [0.0; 3];
        let part = self.routing.parts[place].id;
        for (run, (_, link)) in self.routing.runs.iter().zip(&self.assembly.runs) {
            let Some(flow) = link.map(flow) else { continue };
            for (into, port) in into.iter_mut().zip(ports) {
                let here = End::Port(PortRef { part, port });
                *into += if run.to == here { flow } else { 0.0 } - if run.from == here { flow } else { 0.0 };
            }
        }
        // A part screwed straight onto others has no hoses: its own ways tell.
        let node = |port| Some(self.assembly.port(place, port)?.node);
        if into.iter().all(|flow| *flow <= 0.0) {
            for link in self.assembly.part_links[place].clone().map(EdgeIndex::new) {
                let Some((from, to)) = self.assembly.network.graph.edge_endpoints(link) else { continue };
                for (into, port) in into.iter_mut().zip(ports) {
                    *into += if node(port) == Some(from) { flow(link) } else { 0.0 };
                    *into -= if node(port) == Some(to) { flow(link) } else { 0.0 };
                }
            }
        }
        let most = into.iter().zip(ports).max_by(|a, b| a.0.total_cmp(b.0)).filter(|most| *most.0 > 0.0);
        most.map(|(_, port)| port).or_else(|| {
            let reached = ports.into_iter().filter_map(|port| Some((self.port_pressure(place, port)?, port)));
            reached.max_by(|a, b| a.0.si().total_cmp(&b.0.si())).map(|(_, port)| port)
        })
    }

    fn through(&self, link: EdgeIndex) -> Through {
        let network = &self.assembly.network;
        let flow = self.solver.solution().link_flow_m3s[link.index()];
        let bore = network.graph[link].kind.bore_m();
        let velocity = flow.abs() / (std::f64::consts::FRAC_PI_4 * bore * bore);
        let fluid = &network.fluid;
        Through {
            flow: Flow::from_si(flow),
            velocity: Speed::from_si(velocity),
            reynolds: fluid.density_kg_m3 * velocity * bore / fluid.viscosity_pa_s,
            loss: Pressure::from_si(self.solver.loss(link, flow).pressure_pa),
        }
    }

    /// The port that a part's pressure is read at.
    fn read_at(&self, place: usize) -> Option<Port> {
        self.items[place].and_then(|item| item.read_at()).or_else(|| self.upstream_port(place))
    }

    /// The same, as the network has it.
    pub(super) fn pressure_port(&self, place: usize) -> Option<PortNode> {
        self.assembly.port(place, self.read_at(place)?)
    }

    fn part(
        &self,
        place: usize,
        part: &Part,
        runs: &[RunOutcome],
        elements: &[ElementOutcome],
    ) -> PartOutcome {
        let at = |port| self.port_pressure(place, port);
        let for_rows = self.items[place].is_some_and(PartItem::is_for_rows);
        let pressure = self.read_at(place).and_then(at);
        let ports = || self.assembly.ports(place).iter().copied().filter_map(at);
        let mut into = Flow::ZERO;
        let mut hoses = 0;
        for (run, outcome) in self.routing.runs.iter().zip(runs) {
            let Some(flow) = outcome.flow else { continue };
            for (end, sign) in [(&run.to, 1.0), (&run.from, -1.0)] {
                if end.port().is_some_and(|port| port.part == part.id) {
                    hoses += 1;
                    into += (flow * sign).max(Flow::ZERO);
                }
            }
        }
        let to_rows = self
            .routing
            .feeds
            .iter()
            .zip(&self.assembly.feed_elements)
            .filter(|(feed, _)| feed.from.port().is_some_and(|port| port.part == part.id))
            .map(|(feed, own)| {
                let trunk = !feed.trunk.is_empty();
                let first = |one: &&ElementOutcome| one.index == 0 && one.branch.is_none() == trunk;
                elements[own.clone()].iter().filter(first).filter_map(|one| one.flow).sum::<Flow>()
            })
            .sum::<Flow>();
        let largest = self.assembly.part_links[place]
            .clone()
            .map(|link| self.through(EdgeIndex::new(link)))
            .reduce(|a, b| if b.loss.abs() > a.loss.abs() { b } else { a });
        let reached = pressure.is_some();
        let inner = largest.map_or(Flow::ZERO, |one| one.flow.abs());
        PartOutcome {
            part: part.id,
            pressure,
            lowest: ports().reduce(Pressure::min),
            highest: ports().reduce(Pressure::max),
            flow: reached.then(|| if hoses > 0 && into > Flow::ZERO { into } else { inner.max(to_rows) }),
            flow_to_rows: (reached && for_rows).then_some(to_rows),
            drop: largest.map(|one| one.loss.abs()).filter(|_| !for_rows),
        }
    }

    fn inlet_pressure(&self) -> Option<Pressure> {
        let filter = self.items.iter().position(|item| matches!(item, Some(PartItem::InletFilter(_))));
        let at_filter = filter.and_then(|place| self.port_pressure(place, self.upstream_port(place)?));
        at_filter.or_else(|| {
            let at_supply = |end: &End| matches!(end, End::Supply);
            let hoses = self.routing.runs.iter().filter(|run| at_supply(&run.from) || at_supply(&run.to));
            let mut ports = hoses.flat_map(|run| [run.from, run.to]).filter_map(|end| end.port());
            ports.find_map(|port| self.at_port(port))
        })
    }
}
