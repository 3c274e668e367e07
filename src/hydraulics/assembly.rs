//! From a routing to the neutral network.
//!
//! Each port of a part becomes a node; parts screwed onto each other share one. Only what liquid can reach from
//! the supply through open valves goes into the network, so that a half-drawn routing is solved as far as it is
//! connected. Everything refers to the plan by its place in it, and names are made only when asked for: this runs
//! several times a frame while something is dragged. Start reading at [`Assembly::new`];
//! [`prepared`](super::prepared) solves it and [`readback`](super::readback) brings the solution back to the plan.

use std::fmt;
use std::ops::Range;

use petgraph::graph::{DiGraph, EdgeIndex, NodeIndex};
use petgraph::unionfind::UnionFind;

use super::network::{Boundary, Fluid, FrictionLaw, Link, LinkKind, Network, Node};
use super::resistance::{self, as_planned};
use super::slope::{height, upward};
use super::supply_law::{Asked, SupplyLaw};
use crate::geometry::Point3;
use crate::plan::catalogue_index::CatalogueIndex;
use crate::plan::kinds::{Passage, Way, WayEnd, Ways};
use crate::plan::row_target::{asked_of, width};
use crate::plan::{
    Bar, Control, CurvePoint, ElementGeometry, ElementKind, End, FeedElement, FeedId, LaidRouting,
    LiquidState, OperatingPoint, Part, PartItem, Port, PortRef, Project, Routing, RoutingGeometry, RowFeed,
    Supply,
};

use crate::quantities::{Flow, GRAVITY_M_S2, Length};

/// No node.
const NONE: u32 = u32::MAX;

/// A routing as a network, with what each piece of it stands for. What an operating point changes is set by
/// [`set_point`](Self::set_point).
#[derive(Debug, Clone)]
pub struct Assembly {
    /// What the solver takes. The supply is an inflow or a pressure; row outlets are at atmosphere. Names are empty
    /// unless the assembly was made with them.
    pub network: Network,
    /// The supply's node.
    pub supply: NodeIndex,
    /// What each link stands for, by its index.
    pub sources: Vec<LinkSource>,
    /// The flow that all fed and open rows ask for at the point that was set.
    pub target_total: Flow,
    /// Where each node is, working position.
    at: Vec<Point3>,
    /// Where each draft node is: several that are joined share a node and stand at heights of their own.
    draft_at: Vec<Point3>,
    /// The upward direction at the point that was set.
    up: Point3,
    /// Node of a draft node, or `NONE`.
    node_of: Vec<u32>,
    /// Draft node of the first port of each part; the others follow it.
    first_port: Vec<u32>,
    /// The ports of each part, in the order of its nodes.
    ports: Vec<Vec<Port>>,
    /// Links of each part.
    pub(super) part_links: Vec<Range<usize>>,
    /// Length of each run and its link.
    pub(super) runs: Vec<(Option<Length>, Option<EdgeIndex>)>,
    /// All elements of all feeds, in the routing's order.
    pub(super) elements: Vec<ElementPlace>,
    /// Elements of each feed.
    pub(super) feed_elements: Vec<Range<usize>>,
    /// How each row hangs on the network.
    pub(super) rows: Vec<RowLinks>,
}

/// What a link of the network stands for; places are those in the routing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum LinkSource {
    /// A hose.
    Run(usize),
    /// A way through a part.
    Part(usize, Passage),
    /// An element of a feed, by its place among all elements.
    Element(usize),
    /// A branch of the small tee of a feed.
    SmallTee(usize),
}

/// An element of a feed and its link.
#[derive(Debug, Clone, Copy)]
pub(super) struct ElementPlace {
    pub(super) feed: FeedId,
    pub(super) branch: Option<usize>,
    pub(super) index: usize,
    pub(super) length: Option<Length>,
    pub(super) is_check_valve: bool,
    pub(super) link: Option<EdgeIndex>,
}

/// A port as the network has it. Ports that are joined share a node, which stands at one height; the pressure at a port
/// is the node's, with the liquid between both heights on top.
#[derive(Debug, Clone, Copy)]
pub(super) struct PortNode {
    pub(super) node: NodeIndex,
    /// How far the port lies below its node, m.
    pub(super) below_node_m: f64,
}

/// How a row hangs on the network.
#[derive(Debug, Clone, Default)]
pub(super) struct RowLinks {
    pub(super) last_links: Vec<EdgeIndex>,
    pub(super) has_check_valve: bool,
    pub(super) behind_shut_valve: bool,
    /// The first feed that leads to it, by its place.
    pub(super) feed: Option<usize>,
    /// The strip it stands for.
    pub(super) width: Length,
}

/// A node or link before it is known what the supply reaches.
struct Draft<'a> {
    project: &'a Project,
    routing: &'a Routing,
    geometry: &'a RoutingGeometry,
    catalogue: CatalogueIndex<'a>,
    items: Vec<Option<&'a PartItem>>,
    first_port: Vec<u32>,
    named: bool,
    at: Vec<Point3>,
    names: Vec<String>,
    /// Row place by outlet node, in the order of the nodes.
    outlets: Vec<(usize, usize)>,
    joined: Vec<(usize, usize)>,
    links: Vec<(usize, usize, Link, LinkSource)>,
    elements: Vec<ElementPlace>,
}

impl Draft<'_> {
    fn node(&mut self, name: fmt::Arguments<'_>, at: Point3) -> usize {
        self.at.push(at);
        if self.named {
            self.names.push(name.to_string());
        }
        self.at.len() - 1
    }

    fn link(
        &mut self,
        from: usize,
        to: usize,
        name: fmt::Arguments<'_>,
        kind: LinkKind,
        closed: bool,
        source: LinkSource,
    ) {
        // A link that takes nothing is a joint, not a link: the solver needs a resistance in each.
        if kind.takes_nothing() && !closed {
            self.joined.push((from, to));
        } else {
            let name = if self.named { name.to_string() } else { String::new() };
            self.links.push((from, to, Link { name, kind, closed }, source));
        }
    }

    fn port_node(&self, port: PortRef) -> Option<usize> {
        let place = self.geometry.anchors.part_place(port.part)?;
        let ports = self.geometry.anchors.ports_of(place);
        let at = ports.iter().position(|one| one.port == port.port)?;
        Some(self.first_port[place] as usize + at)
    }

    fn part(&mut self, place: usize, part: &Part) {
        let Some(item) = self.items[place] else { return };
        let first = self.at.len();
        self.first_port[place] = first as u32;
        let geometry = self.geometry;
        let centre = geometry.anchors.parts()[place].at;
        let ports = geometry.anchors.ports_of(place);
        for one in ports {
            self.node(format_args!("{} {}", part.tag, one.port), one.at.place);
        }
        let Ways { inside, ways, joined } = item.ways();
        let inside = inside.map_or(first, |name| self.node(format_args!("{} {name}", part.tag), centre));
        let end = |end: WayEnd| match end {
            WayEnd::Port(port) => {
                ports.iter().position(|one| one.port == port).map_or(first, |place| first + place)
            }
            WayEnd::Inside => inside,
        };
        let closed = part.shut && item.facts().can_be_shut;
        for Way { from, to, name, passage } in ways {
            let kind = resistance::passage(&passage, &mut as_planned);
            let source = LinkSource::Part(place, passage);
            self.link(end(from), end(to), format_args!("{}{name}", part.tag), kind, closed, source);
        }
        for (port, with) in joined {
            self.joined.push((end(WayEnd::Port(port)), end(with)));
        }
    }

    fn end(&mut self, end: &End, supply: usize, tag: &str) -> usize {
        match end {
            End::Supply => supply,
            End::Port(port) => match self.port_node(*port) {
                Some(node) => node,
                None => self.node(format_args!("{tag} end"), Point3::default()),
            },
            End::Loose(at) => self.node(format_args!("{tag} loose end"), at.place),
        }
    }

    fn feed(&mut self, number: usize, feed: &RowFeed, supply: usize) {
        let bar = &self.project.bar;
        let geometry = self.geometry.feeds()[number].as_ref();
        let first = self.elements.len();
        let stretches = std::iter::once((None, &feed.trunk))
            .chain(feed.branches.iter().enumerate().map(|(index, branch)| (Some(index), &branch.elements)));
        for (branch, list) in stretches {
            let laid = geometry.map_or(&[][..], |geometry| geometry.stretch(branch));
            for (index, element) in list.iter().enumerate() {
                let length = match element {
                    FeedElement::MeteringTube { length, .. } => Some(*length),
                    FeedElement::Tube(_) => laid.get(index).and_then(|laid| laid.length),
                    FeedElement::Piece(..) | FeedElement::Fitting(_) => None,
                };
                let is_check_valve = element.is(ElementKind::CheckValve);
                self.elements.push(ElementPlace {
                    feed: feed.id,
                    branch,
                    index,
                    length,
                    is_check_valve,
                    link: None,
                });
            }
        }
        let End::Port(PortRef { port: Port::Outlet(_), .. }) = feed.from else { return };
        let Some(geometry) = geometry else { return };
        let start = self.end(&feed.from, supply, &feed.tag);
        let mut places = first;
        let trunk = self.chain(places, feed, None, &feed.trunk, &geometry.trunk, start);
        places += feed.trunk.len();
        for (index, branch) in feed.branches.iter().enumerate() {
            let first = places;
            places += branch.elements.len();
            // Whether the row is in use or left out: liquid leaves wherever a feed ends.
            let Some(place) = self.geometry.anchors.row_place(branch.row) else { continue };
            if feed.trunk.is_empty() && branch.elements.is_empty() {
                continue;
            }
            let mut from = trunk;
            // A small tee with one branch left still stands there, its other leg plugged.
            if let Some(split) = &feed.split
                && let Some(item) = self.catalogue.item(&split.entry)
            {
                let kind = resistance::small_tee(item, &mut as_planned);
                let name = format_args!("{} split {}", feed.tag, index + 1);
                let to = self.node(name, split.position.place);
                self.link(from, to, name, kind, false, LinkSource::SmallTee(number));
                from = to;
            }
            let end =
                self.chain(first, feed, Some(index), &branch.elements, geometry.stretch(Some(index)), from);
            match self.outlets.iter_mut().rev().find(|(node, _)| *node == end) {
                Some(known) => known.1 = place,
                None => self.outlets.push((end, place)),
            }
            self.at[end] = bar.outlet(&bar.rows[place]);
        }
    }

    fn chain(
        &mut self,
        first: usize,
        feed: &RowFeed,
        branch: Option<usize>,
        elements: &[FeedElement],
        laid: &[ElementGeometry],
        start: usize,
    ) -> usize {
        let mut at = start;
        for (index, (element, laid)) in elements.iter().zip(laid).enumerate() {
            let length = self.elements[first + index].length;
            let kind = self
                .catalogue
                .item(element.entry())
                .and_then(|item| resistance::element(element, item, length, &mut as_planned));
            let Some(kind) = kind else { continue };
            let number = branch.filter(|_| feed.is_shared()).map(|branch| branch + 1);
            let name =
                ElementName { tag: &feed.tag, branch: number, kind: element.kind(), number: index + 1 };
            let next = self.node(format_args!("{name}"), laid.to.place);
            self.link(at, next, format_args!("{name}"), kind, false, LinkSource::Element(first + index));
            at = next;
        }
        at
    }
}

/// `T3 tube 1`, or `T3 2 check valve 2` in the second branch of several.
struct ElementName<'a> {
    tag: &'a str,
    branch: Option<usize>,
    kind: &'static str,
    number: usize,
}

impl fmt::Display for ElementName<'_> {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str(self.tag)?;
        if let Some(branch) = self.branch {
            write!(out, " {branch}")?;
        }
        write!(out, " {} {}", self.kind, self.number)
    }
}

impl Assembly {
    /// The network of a routing without names.
    pub fn new(project: &Project, routing: LaidRouting) -> Self {
        assemble(project, routing, false)
    }

    /// The same network, every node and link named after the tag of what it stands for.
    pub fn with_names(project: &Project, routing: LaidRouting) -> Self {
        assemble(project, routing, true)
    }

    /// Sets everything that an operating point decides: liquid, heights, the flow asked for, and the law of the supply.
    /// What is metered is what the strips of the connected rows ask for, or `supply_flow` if it is given. A controller knows
    /// neither shares nor which rows pass anything.
    pub(super) fn set_point(
        &mut self,
        project: &Project,
        point: &OperatingPoint,
        liquid: &LiquidState,
        supply: &Supply,
        supply_flow: Option<Flow>,
    ) {
        self.up = upward(point.side_slope, point.fore_aft_slope);
        for (node, at) in self.network.graph.node_weights_mut().zip(&self.at) {
            node.elevation_m = height(*at, self.up);
        }
        self.network.fluid =
            Fluid { density_kg_m3: liquid.density.si(), viscosity_pa_s: liquid.viscosity.si() };
        self.target_total = project
            .bar
            .rows
            .iter()
            .zip(&self.rows)
            .filter(|(row, connection)| !row.left_out && !connection.last_links.is_empty())
            .map(|(_, connection)| asked_of(connection.width, point))
            .sum();
        self.set_supply(supply, supply_flow.unwrap_or(self.target_total));
    }

    /// The law of the supply, which meters this flow if it meters one.
    pub(super) fn set_supply(&mut self, supply: &Supply, metered: Flow) {
        let at = |point: &CurvePoint| (point.flow.si(), point.pressure.si());
        let curve: Vec<(f64, f64)> = supply.pump_curve.iter().map(at).collect();
        let capacity = supply.pump_capacity.map(Flow::si);
        let (pressure, flow, asked) = match supply.control {
            Control::Metered { limit } => (Some(limit.si()), Some(metered.si()), Asked::Flow),
            Control::Held { pressure } => (Some(pressure.si()), None, Asked::Pressure),
            Control::Uncontrolled => (None, None, Asked::Pressure),
        };
        let flow = match (flow, capacity) {
            (Some(flow), Some(capacity)) => Some(flow.min(capacity)),
            (one, other) => one.or(other),
        };
        // A pressure that nothing limits is a plain boundary.
        let law = match (pressure, flow, curve.is_empty()) {
            (Some(pressure), None, true) => Some(Boundary::Pressure(pressure)),
            _ => SupplyLaw::new(pressure, flow, &curve, asked).map(Boundary::Supply),
        };
        self.network.graph[self.supply].boundary = law.unwrap_or(Boundary::Inflow(0.0));
    }

    /// Some row in use is connected to the supply.
    pub fn feeds_any_row(&self, bar: &Bar) -> bool {
        bar.rows.iter().zip(&self.rows).any(|(row, one)| !row.left_out && !one.last_links.is_empty())
    }

    /// A port of the part at a place in the routing, if the supply reaches it.
    pub(super) fn port(&self, part: usize, port: Port) -> Option<PortNode> {
        let place = self.ports[part].iter().position(|one| *one == port)?;
        let node = self.nth_port(part, place)?;
        let at = self.draft_at[self.first_port[part] as usize + place];
        Some(PortNode { node, below_node_m: height(self.at[node.index()], self.up) - height(at, self.up) })
    }

    /// The ports of the part at a place in the routing.
    pub(super) fn ports(&self, part: usize) -> &[Port] {
        &self.ports[part]
    }

    /// The supply reaches some port of the part.
    pub(super) fn reaches(&self, part: usize) -> bool {
        (0..self.ports[part].len()).any(|place| self.nth_port(part, place).is_some())
    }

    fn nth_port(&self, part: usize, place: usize) -> Option<NodeIndex> {
        let node = self.node_of[self.first_port[part] as usize + place];
        (node != NONE).then(|| NodeIndex::new(node as usize))
    }
}

fn assemble(project: &Project, laid: LaidRouting, named: bool) -> Assembly {
    let LaidRouting { routing, geometry } = laid;
    let catalogue = CatalogueIndex::new(&project.catalogue);
    let items: Vec<_> = routing.parts.iter().map(|part| catalogue.item(&part.entry)).collect();
    let mut draft = Draft {
        project,
        routing,
        geometry,
        catalogue,
        items,
        first_port: vec![0; routing.parts.len()],
        named,
        at: Vec::new(),
        names: Vec::new(),
        outlets: Vec::new(),
        joined: Vec::new(),
        links: Vec::new(),
        elements: Vec::new(),
    };
    let supply = draft.node(format_args!("supply"), project.supply.pump);
    for (place, part) in routing.parts.iter().enumerate() {
        draft.part(place, part);
    }
    for part in &routing.parts {
        let stem = PortRef { part: part.id, port: Port::In };
        if let Some(mount) = part.mount
            && let (Some(host), Some(own)) = (draft.port_node(mount), draft.port_node(stem))
        {
            draft.joined.push((host, own));
        }
    }
    let mut runs = Vec::with_capacity(routing.runs.len());
    for (place, run) in routing.runs.iter().enumerate() {
        let length = geometry.runs()[place].as_ref().map(|laid| laid.length);
        runs.push((length, None));
        let Some(stock) = draft.catalogue.item(&run.line.stock) else { continue };
        let stock = stock.dimensions();
        let Some(length) = length else { continue };
        let (from, to) = (draft.end(&run.from, supply, &run.tag), draft.end(&run.to, supply, &run.tag));
        let fittings = run.fittings.iter().filter_map(|key| draft.catalogue.item(key));
        let kind = resistance::run(length, stock, fittings, &mut as_planned);
        draft.link(from, to, format_args!("{}", run.tag), kind, false, LinkSource::Run(place));
    }
    let mut feed_elements = Vec::with_capacity(routing.feeds.len());
    for (number, feed) in routing.feeds.iter().enumerate() {
        let first = draft.elements.len();
        draft.feed(number, feed, supply);
        feed_elements.push(first..draft.elements.len());
    }
    finish(draft, supply, runs, feed_elements)
}

/// Keeps what the supply reaches through open links, and numbers it.
fn finish(
    mut draft: Draft,
    supply: usize,
    mut runs: Vec<(Option<Length>, Option<EdgeIndex>)>,
    feed_elements: Vec<Range<usize>>,
) -> Assembly {
    let count = draft.at.len();
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
    let group: Vec<usize> = (0..count).map(|node| joints.find_mut(node)).collect();
    let root = open.find_mut(supply);
    let reached: Vec<bool> = (0..count).map(|node| open.find_mut(node) == root).collect();

    draft.outlets.sort_unstable();
    let mut outlet_of_group = vec![NONE; count];
    for (node, row) in &draft.outlets {
        outlet_of_group[group[*node]] = *row as u32;
    }
    let mut graph = DiGraph::with_capacity(count, draft.links.len());
    let mut at = Vec::with_capacity(count);
    let mut of_group = vec![NONE; count];
    for node in 0..count {
        let group = group[node];
        if !reached[node] || of_group[group] != NONE {
            continue;
        }
        let is_outlet = outlet_of_group[group] != NONE;
        let boundary = if is_outlet { Boundary::Pressure(0.0) } else { Boundary::Inflow(0.0) };
        let name = draft.names.get_mut(node).map(std::mem::take).unwrap_or_default();
        of_group[group] = graph.add_node(Node { name, elevation_m: 0.0, boundary }).index() as u32;
        at.push(draft.at[node]);
    }
    let node_of: Vec<u32> = group.iter().map(|group| of_group[*group]).collect();
    let (project, routing) = (draft.project, draft.routing);
    let mut rows: Vec<RowLinks> = project
        .bar
        .rows
        .iter()
        .map(|row| RowLinks { width: width(&project.bar, row), ..RowLinks::default() })
        .collect();
    for (place, feed) in routing.feeds.iter().enumerate() {
        for branch in &feed.branches {
            if let Some(row) = draft.geometry.anchors.row_place(branch.row) {
                rows[row].feed.get_or_insert(place);
            }
        }
    }
    for (node, row) in &draft.outlets {
        // A joined outlet takes the place of the group's first node; set its own.
        if node_of[*node] != NONE {
            at[node_of[*node] as usize] = draft.at[*node];
        }
        if !reached[*node] && any.equiv(*node, supply) {
            rows[*row].behind_shut_valve = true;
        }
    }
    let mut feed_of_element = vec![0; draft.elements.len()];
    for (feed, range) in feed_elements.iter().enumerate() {
        feed_of_element[range.clone()].fill(feed);
    }
    let mut part_links = vec![0..0; routing.parts.len()];
    let mut sources = Vec::with_capacity(draft.links.len());
    for (from, to, link, source) in draft.links {
        let (a, b) = (node_of[from], node_of[to]);
        if a == NONE || b == NONE || a == b {
            continue;
        }
        let edge = graph.add_edge(NodeIndex::new(a as usize), NodeIndex::new(b as usize), link);
        sources.push(source);
        let row = outlet_of_group[group[to]];
        if row != NONE {
            rows[row as usize].last_links.push(edge);
        }
        match source {
            LinkSource::Run(place) => runs[place].1 = Some(edge),
            LinkSource::Part(place, _) => {
                let links: &mut Range<usize> = &mut part_links[place];
                let begin = if links.start == links.end { edge.index() } else { links.start };
                *links = begin..edge.index() + 1;
            }
            LinkSource::Element(place) => {
                let element = &mut draft.elements[place];
                element.link = Some(edge);
                if element.is_check_valve {
                    let branches = &routing.feeds[feed_of_element[place]].branches;
                    for (number, one) in branches.iter().enumerate() {
                        if element.branch.is_none_or(|branch| branch == number)
                            && let Some(row) = draft.geometry.anchors.row_place(one.row)
                        {
                            rows[row].has_check_valve = true;
                        }
                    }
                }
            }
            LinkSource::SmallTee(_) => {}
        }
    }
    Assembly {
        network: Network {
            graph,
            // Until a point is set: water at 20 °C.
            fluid: Fluid { density_kg_m3: 998.2, viscosity_pa_s: 1.0016e-3 },
            gravity_m_s2: GRAVITY_M_S2,
            friction_law: FrictionLaw::LaminarColebrook,
        },
        supply: NodeIndex::new(node_of[supply] as usize),
        sources,
        target_total: Flow::ZERO,
        at,
        draft_at: draft.at,
        up: Point3::new(0.0, 0.0, 1.0),
        node_of,
        first_port: draft.first_port,
        ports: (0..routing.parts.len())
            .map(|place| draft.geometry.anchors.ports_of(place).iter().map(|one| one.port).collect())
            .collect(),
        part_links,
        runs,
        elements: draft.elements,
        feed_elements,
        rows,
    }
}
