//! What rows and gauges of a routing show when something in it is at fault, over and over with one fault after the other: what
//! a study of causes asks.
//!
//! A [`FaultSolver`] is taken from a [`PreparedRouting`] at an operating point. Faults that only change numbers start each from
//! the solution of the sound bar; those that change what is joined with what are solved from a cold guess. The same fault gives
//! the same bits, whatever was solved before, so that copies on several threads agree.

use std::collections::BTreeMap;
use std::slice;

use petgraph::graph::{DiGraph, EdgeIndex, NodeIndex};
use petgraph::visit::EdgeRef;

use super::assembly::{Assembly, LinkSource, PortNode};
use super::link_maker::LinkMaker;
use super::losses::static_head;
use super::network::{Boundary, Fluid, Link, LinkKind, Network, Node};
use super::outcome::Outcome;
use super::prepared::PreparedRouting;
use super::solver::{Solution, Solver};
use super::variation::{ElementId, LiquidQuantity, Parameter, SupplyQuantity, Variation};
use crate::plan::{FeedId, LaidRouting, OperatingPoint, PartId, Project, RunId};
use crate::quantities::{Flow, Pressure};

/// One thing that is otherwise than planned.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Fault {
    /// A number has another value, SI.
    Number(Parameter, f64),
    /// A number is so many times what it would be otherwise: as planned, or as another fault has it.
    Times(Parameter, f64),
    /// Nothing passes an element of a row feed.
    ElementClosed(ElementId),
    /// Nothing passes a hose.
    RunClosed(RunId),
    /// Nothing passes a part.
    PartClosed(PartId),
    /// A hole to the open air where an element of a row feed ends: its diameter, m.
    Leak(ElementId, f64),
    /// Two row feeds begin at each other's outlet.
    FeedsExchanged(FeedId, FeedId),
}

impl Fault {
    /// It changes what is joined with what.
    const fn is_of_the_joints(&self) -> bool {
        !matches!(self, Self::Number(..) | Self::Times(..))
    }
}

/// What rows and watched parts show.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Shown {
    /// What leaves each row's outlet, in the bar's order, m³/s.
    pub rows: Vec<f64>,
    /// Gauge pressure at each watched part, in the order asked for, Pa; 0 where nothing joins it to the supply.
    pub parts: Vec<f64>,
}

/// Discharge coefficient of a hole in a tube: a sharp edge.
const HOLE: f64 = 0.6;

/// See the module.
#[derive(Clone)]
pub struct FaultSolver<'a> {
    project: &'a Project,
    pub(super) assembly: Assembly,
    solver: Solver,
    pub(super) start: Solver,
    sound: Vec<LinkKind>,
    makers: Vec<Option<LinkMaker<'a>>>,
    pub(super) links: BTreeMap<Parameter, Vec<EdgeIndex>>,
    /// First link of each feed.
    pub(super) feeds: BTreeMap<FeedId, EdgeIndex>,
    /// Feed of each link that belongs to one.
    pub(super) feed_of_link: Vec<Option<FeedId>>,
    pub(super) elements: BTreeMap<ElementId, EdgeIndex>,
    runs: BTreeMap<RunId, EdgeIndex>,
    parts: BTreeMap<PartId, Vec<EdgeIndex>>,
    pub(super) watched: Vec<Option<PortNode>>,
    /// Links that are not as planned since the last solve.
    touched: Vec<EdgeIndex>,
    supply_touched: bool,
}

impl<'a> FaultSolver<'a> {
    /// Makes ready to solve many faults of a prepared routing at an operating point, watching the pressures of these parts.
    /// Where there is no solution without any fault, the outcome that says why.
    pub fn new(
        project: &'a Project,
        laid: LaidRouting<'a>,
        prepared: &mut PreparedRouting<'_>,
        point: &OperatingPoint,
        watched: &[PartId],
    ) -> Result<(Outcome, Self), Box<Outcome>> {
        prepared.reset();
        let outcome = prepared.solve(point);
        let Some(solver) = prepared.kept.solver.as_ref().filter(|_| outcome.result.is_ok()) else {
            return Err(Box::new(outcome));
        };
        let start = solver.clone();
        let assembly = &prepared.assembly;
        let graph = &assembly.network.graph;
        let makers: Vec<Option<LinkMaker<'a>>> =
            graph.edge_indices().map(|link| LinkMaker::of(project, laid, assembly, link)).collect();
        let mut links: BTreeMap<Parameter, Vec<EdgeIndex>> = BTreeMap::new();
        for (link, maker) in graph.edge_indices().zip(&makers) {
            let Some(maker) = maker else { continue };
            maker.kind(&mut |quantity, planned| {
                links.entry(maker.parameter(quantity)).or_default().push(link);
                planned
            });
        }
        let sound = graph.edge_weights().map(|link| link.kind).collect();
        let routing = laid.routing;
        let of_part = |place: usize| assembly.part_links[place].clone().map(EdgeIndex::new).collect();
        let elements: BTreeMap<ElementId, EdgeIndex> = assembly
            .elements
            .iter()
            .filter_map(|one| Some((ElementId::new(one.feed, one.branch, one.index), one.link?)))
            .collect();
        let mut feeds = BTreeMap::new();
        for one in &assembly.elements {
            if let Some(link) = one.link {
                feeds.entry(one.feed).or_insert(link);
            }
        }
        let feed_of_link = assembly
            .sources
            .iter()
            .map(|source| match *source {
                LinkSource::Element(place) => Some(assembly.elements[place].feed),
                LinkSource::SmallTee(place) => Some(routing.feeds[place].id),
                LinkSource::Run(_) | LinkSource::Part(..) => None,
            })
            .collect();
        let runs = routing.runs.iter().zip(&assembly.runs);
        let solved = prepared.solved();
        let watched = watched
            .iter()
            .map(|id| {
                let place = routing.parts.iter().position(|part| part.id == *id)?;
                solved.as_ref()?.pressure_port(place)
            })
            .collect();
        let faults = Self {
            project,
            solver: start.clone(),
            start,
            sound,
            links,
            feeds,
            feed_of_link,
            elements,
            runs: runs.filter_map(|(run, (_, link))| Some((run.id, (*link)?))).collect(),
            parts: routing.parts.iter().enumerate().map(|(place, part)| (part.id, of_part(place))).collect(),
            watched,
            makers,
            touched: Vec::new(),
            supply_touched: false,
            assembly: assembly.clone(),
        };
        Ok((outcome, faults))
    }
}

impl FaultSolver<'_> {
    /// What rows and watched parts show with these faults, all at once. None where nothing of that kind is there, a number is
    /// one that it can't have, or it can't be solved.
    pub fn solve(&mut self, faults: &[Fault]) -> Option<Shown> {
        self.mend();
        if faults.iter().any(Fault::is_of_the_joints) {
            return self.solve_anew(faults);
        }
        let solved = self.set(faults).and_then(|()| {
            self.solver.start_from(&self.start);
            self.solver.solve_in_order(&self.assembly.network).ok()?;
            Some(())
        });
        let shown = solved.map(|()| self.shown(self.solver.solution(), &self.assembly.network));
        self.mend();
        shown
    }

    /// The planned value of a number at the point, SI; none where nothing has it.
    pub fn planned(&self, parameter: Parameter) -> Option<f64> {
        let fluid = self.start.fluid();
        let supply = &self.project.supply;
        match parameter {
            Parameter::Liquid(LiquidQuantity::Density) => Some(fluid.density_kg_m3),
            Parameter::Liquid(LiquidQuantity::Viscosity) => Some(fluid.viscosity_pa_s),
            Parameter::Supply(SupplyQuantity::MeteredFlow) => {
                supply.follows_speed().then_some(self.assembly.target_total.si())
            }
            Parameter::Supply(SupplyQuantity::Pressure) => supply.control.pressure().map(Pressure::si),
            Parameter::Supply(SupplyQuantity::Capacity) => supply.pump_capacity.map(Flow::si),
            Parameter::Supply(SupplyQuantity::CurvePressure) => {
                (!supply.pump_curve.is_empty()).then_some(1.0)
            }
            _ => {
                let maker = self.makers[self.links.get(&parameter)?.first()?.index()].as_ref()?;
                let mut found = None;
                maker.kind(&mut |quantity, planned| {
                    if maker.parameter(quantity) == parameter {
                        found = Some(planned);
                    }
                    planned
                });
                found
            }
        }
    }

    /// The planned liquid at the point.
    pub const fn fluid(&self) -> Fluid {
        self.start.fluid()
    }

    /// Liquid reaches an element of a row feed.
    pub fn has(&self, element: ElementId) -> bool {
        self.elements.contains_key(&element)
    }

    /// Liquid reaches a row feed.
    pub fn has_feed(&self, feed: FeedId) -> bool {
        self.feeds.contains_key(&feed)
    }

    /// Goes back to the sound bar.
    fn mend(&mut self) {
        for link in std::mem::take(&mut self.touched) {
            self.assembly.network.graph[link].kind = self.sound[link.index()];
        }
        if self.supply_touched {
            self.assembly.set_supply(&self.project.supply, self.assembly.target_total);
            self.supply_touched = false;
        }
        self.assembly.network.fluid = self.start.fluid();
    }

    /// All numbers that faults give; none where one is given twice, is not there, or is one that nothing can have.
    pub(super) fn values(&self, faults: &[Fault]) -> Option<BTreeMap<Parameter, f64>> {
        let mut values: BTreeMap<Parameter, f64> = BTreeMap::new();
        for fault in faults {
            if let Fault::Number(parameter, value) = *fault
                && values.insert(parameter, value).is_some()
            {
                return None;
            }
        }
        for fault in faults {
            if let Fault::Times(parameter, times) = *fault {
                let value = match values.get(&parameter) {
                    Some(value) => *value,
                    None => self.planned(parameter)?,
                };
                values.insert(parameter, value * times);
            }
        }
        values.values().all(|value| value.is_finite() && *value >= 0.0).then_some(values)
    }

    /// What links become with these numbers; none where one is not there or can't be so.
    pub(super) fn kinds(&self, values: &BTreeMap<Parameter, f64>) -> Option<Vec<(EdgeIndex, LinkKind)>> {
        let mut touched = Vec::new();
        for parameter in values.keys() {
            if !matches!(parameter, Parameter::Liquid(_) | Parameter::Supply(_)) {
                touched.extend(self.links.get(parameter)?.iter().copied());
            }
        }
        touched.sort_unstable();
        touched.dedup();
        let kind = |link: EdgeIndex| {
            let maker = self.makers[link.index()].as_ref()?;
            let kind = maker.kind(&mut |quantity, planned| {
                values.get(&maker.parameter(quantity)).copied().unwrap_or(planned)
            })?;
            (!kind.takes_nothing()).then_some((link, kind))
        };
        touched.into_iter().map(kind).collect()
    }

    /// Sets all numbers.
    fn set(&mut self, faults: &[Fault]) -> Option<()> {
        let values = self.values(faults)?;
        let kinds = self.kinds(&values)?;
        let mut of_supply = Variation::default();
        for (parameter, value) in values {
            match parameter {
                Parameter::Liquid(LiquidQuantity::Density) => {
                    self.assembly.network.fluid.density_kg_m3 = value;
                }
                Parameter::Liquid(LiquidQuantity::Viscosity) => {
                    self.assembly.network.fluid.viscosity_pa_s = value;
                }
                Parameter::Supply(_) => {
                    of_supply.values.insert(parameter, value);
                }
                _ => {}
            }
        }
        if !of_supply.values.is_empty() {
            let supply = of_supply.supply(&self.project.supply);
            let metered: Flow = of_supply.metered_flow().unwrap_or(self.assembly.target_total);
            self.assembly.set_supply(&supply, metered);
            self.supply_touched = true;
        }
        for (link, kind) in kinds {
            self.touched.push(link);
            self.assembly.network.graph[link].kind = kind;
        }
        Some(())
    }

    /// The feed that all of these faults are in, if there is one.
    pub fn feed_of(&self, faults: &[Fault]) -> Option<FeedId> {
        let mut found = None;
        for fault in faults {
            let links = match fault {
                Fault::Number(parameter, _) | Fault::Times(parameter, _) => {
                    self.links.get(parameter)?.as_slice()
                }
                Fault::ElementClosed(id) | Fault::Leak(id, _) => slice::from_ref(self.elements.get(id)?),
                Fault::RunClosed(_) | Fault::PartClosed(_) | Fault::FeedsExchanged(..) => return None,
            };
            for link in links {
                let feed = self.feed_of_link[link.index()]?;
                if *found.get_or_insert(feed) != feed {
                    return None;
                }
            }
        }
        found
    }

    fn solve_anew(&mut self, faults: &[Fault]) -> Option<Shown> {
        let set = self.set(faults);
        let mut network = self.assembly.network.clone();
        self.mend();
        set?;
        for fault in faults {
            match *fault {
                Fault::Number(..) | Fault::Times(..) => {}
                Fault::ElementClosed(id) => network.graph[*self.elements.get(&id)?].closed = true,
                Fault::RunClosed(id) => network.graph[*self.runs.get(&id)?].closed = true,
                Fault::PartClosed(id) => {
                    for link in self.parts.get(&id)? {
                        network.graph[*link].closed = true;
                    }
                }
                Fault::Leak(id, diameter_m) => {
                    add_leak(&mut network.graph, *self.elements.get(&id)?, diameter_m)?;
                }
                Fault::FeedsExchanged(one, other) => {
                    let (one, other) = (*self.feeds.get(&one)?, *self.feeds.get(&other)?);
                    network.graph = with_starts_exchanged(&network.graph, one, other)?;
                }
            }
        }
        // What is cut off from every outlet passes nothing; the rest is solved.
        let mut solver = Solver::new(&network).ok()?;
        let solution = solver.solve(&network).ok()?.clone();
        Some(self.shown(&solution, &network))
    }

    /// What a network shows that has the links and nodes of the planned one in their places, and perhaps others behind them.
    pub(super) fn shown(&self, solution: &Solution, network: &Network) -> Shown {
        let flow = |link: &EdgeIndex| solution.link_flow_m3s[link.index()];
        let (density, gravity) = (network.fluid.density_kg_m3, network.gravity_m_s2);
        let pressure = |port: &PortNode| {
            let node: NodeIndex = port.node;
            let at_node = solution.node_pressure_pa[node.index()]?;
            Some(at_node + static_head::pressure(density, gravity, port.below_node_m))
        };
        Shown {
            rows: self.assembly.rows.iter().map(|row| row.last_links.iter().map(flow).sum()).collect(),
            parts: self.watched.iter().map(|port| port.as_ref().and_then(pressure).unwrap_or(0.0)).collect(),
        }
    }
}

/// A hole to the open air where a link ends.
pub(super) fn add_leak(graph: &mut DiGraph<Node, Link>, link: EdgeIndex, diameter_m: f64) -> Option<()> {
    let (_, end) = graph.edge_endpoints(link)?;
    let (elevation_m, boundary) = (graph[end].elevation_m, Boundary::Pressure(0.0));
    let air = graph.add_node(Node { name: String::new(), elevation_m, boundary });
    let kind = LinkKind::Orifice { diameter_m, cd: HOLE, creeping_thickness_m: None };
    graph.add_edge(end, air, Link { name: String::new(), kind, closed: false });
    Some(())
}

/// The same graph, two links starting where the other did.
fn with_starts_exchanged(
    graph: &DiGraph<Node, Link>,
    one: EdgeIndex,
    other: EdgeIndex,
) -> Option<DiGraph<Node, Link>> {
    let ((from, _), (to, _)) = (graph.edge_endpoints(one)?, graph.edge_endpoints(other)?);
    let mut new = DiGraph::with_capacity(graph.node_count(), graph.edge_count());
    for node in graph.node_weights() {
        new.add_node(node.clone());
    }
    for edge in graph.edge_references() {
        let start = if edge.id() == one {
            to
        } else if edge.id() == other {
            from
        } else {
            edge.source()
        };
        new.add_edge(start, edge.target(), edge.weight().clone());
    }
    Some(new)
}
