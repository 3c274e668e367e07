//! The neutral network: nodes, links and a liquid, and nothing about bars or rows.
//!
//! It answers whether a network can be asked to be solved at all ([`Network::validate`]), with the reasons of the
//! neutral file format. It never solves anything and never repairs a value. Start with [`Network`]; every number is
//! in SI units and every pressure is gauge pressure.

pub use super::fluid::Fluid;
pub use super::link::{Link, LinkKind};
use super::link::{LinkBound, LinkNumber};
pub use super::losses::friction::FrictionLaw;
use super::supply_law::{Regime, SupplyLaw, SupplyPoint};
use crate::plan::letters::visible_within;
use crate::quantities::plain;
use petgraph::graph::{DiGraph, EdgeIndex, NodeIndex};
use petgraph::visit::EdgeRef;
use std::collections::HashSet;

/// Nodes joined by links, filled with one liquid. A link's direction is that of its graph edge: flow from its start to
/// its end counts as positive.
#[derive(Debug, Clone)]
pub struct Network {
    /// Nodes and links.
    pub graph: DiGraph<Node, Link>,
    /// The liquid.
    pub fluid: Fluid,
    /// Gravity, m/s², > 0.
    pub gravity_m_s2: f64,
    /// Friction law of all straight pipes.
    pub friction_law: FrictionLaw,
}

/// A point of the network.
#[derive(Debug, Clone, PartialEq)]
pub struct Node {
    /// Name, unique among the nodes; empty where nobody asked for names.
    pub name: String,
    /// Height, m, upwards.
    pub elevation_m: f64,
    /// What is given at the node.
    pub boundary: Boundary,
}

/// What is given at a node.
#[derive(Debug, Clone, PartialEq)]
pub enum Boundary {
    /// Flow into the network from outside, m³/s; 0 for a plain junction, below 0 for a withdrawal.
    Inflow(f64),
    /// Held gauge pressure, Pa; an outlet to the air is 0.
    Pressure(f64),
    /// The supply: pressure and flow follow a law. One node at the most.
    Supply(SupplyLaw),
}

impl Boundary {
    /// Flow into the network that is given, m³/s.
    pub const fn inflow(&self) -> f64 {
        match self {
            Self::Inflow(flow) => *flow,
            Self::Pressure(_) | Self::Supply(_) => 0.0,
        }
    }

    /// The boundary that a supply stands for where it ended up, for formats without supply laws: a held pressure, or
    /// else its flow there. Any other boundary as it is.
    #[must_use]
    pub fn at_solution(&self, supply: Option<&SupplyPoint>) -> Self {
        match (self, supply) {
            (
                Self::Supply(_),
                Some(SupplyPoint { regime: Regime::Pressure, pressure_pa: Some(held), .. }),
            ) => Self::Pressure(*held),
            (Self::Supply(_), Some(point)) => Self::Inflow(point.flow_m3s),
            (Self::Supply(_), None) => Self::Inflow(0.0),
            (Self::Inflow(_) | Self::Pressure(_), _) => self.clone(),
        }
    }

    /// Whether liquid may come in here.
    pub fn gives(&self) -> bool {
        self.inflow() > 0.0 || !matches!(self, Self::Inflow(_))
    }

    /// Whether liquid may leave here.
    pub fn takes(&self) -> bool {
        self.inflow() < 0.0 || !matches!(self, Self::Inflow(_))
    }
}

/// Why a network or a file is refused. The codes are those of the neutral file format.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Reason {
    /// Not strict JSON.
    BadJson,
    /// A number is missing where required, not a number, or not finite.
    BadNumber,
    /// Out of range.
    BadParameter,
    /// A required key is absent.
    MissingField,
    /// Another format or version.
    UnknownFormat,
    /// Another kind of link.
    UnknownKind,
    /// Another friction law.
    UnknownFrictionLaw,
    /// Two nodes or two links of one name.
    DuplicateId,
    /// A link names a node that does not exist.
    UnknownNode,
    /// A link from a node to itself.
    SelfLoop,
    /// Held pressure and inflow at one node.
    OverdeterminedNode,
    /// No node holds a pressure, so that the level of pressure is open.
    NoFixedPressure,
    /// Fewer than two nodes where liquid can enter or leave.
    NoOutlet,
    /// A node that no chain of links joins to a held pressure.
    DisconnectedNode,
    /// An inflow that closed links or one-way valves keep from every held pressure.
    StrandedInflow,
}

impl Reason {
    /// The code in the neutral file format.
    pub fn code(self) -> &'static str {
        match self {
            Self::BadJson => "bad_json",
            Self::BadNumber => "bad_number",
            Self::BadParameter => "bad_parameter",
            Self::MissingField => "missing_field",
            Self::UnknownFormat => "unknown_format",
            Self::UnknownKind => "unknown_kind",
            Self::UnknownFrictionLaw => "unknown_friction_law",
            Self::DuplicateId => "duplicate_id",
            Self::UnknownNode => "unknown_node",
            Self::SelfLoop => "self_loop",
            Self::OverdeterminedNode => "overdetermined_node",
            Self::NoFixedPressure => "no_fixed_pressure",
            Self::NoOutlet => "no_outlet",
            Self::DisconnectedNode => "disconnected_node",
            Self::StrandedInflow => "stranded_inflow",
        }
    }
}

/// Where in the network something is wrong.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NetworkPlace {
    /// At a node.
    Node(NodeIndex),
    /// At a link.
    Link(EdgeIndex),
}

/// A refusal: why, where, and what to try.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rejection {
    /// The code.
    pub reason: Reason,
    /// Where, what, and what to try, in one or two sentences.
    pub message: String,
    /// The node or link to blame, where there is one.
    pub place: Option<NetworkPlace>,
}

/// Most letters of a message, whatever the file holds.
const LONGEST_MESSAGE: usize = 900;

fn shown(message: impl Into<String>) -> String {
    visible_within(&message.into(), LONGEST_MESSAGE).into_owned()
}

impl Rejection {
    /// A refusal of the whole, without a node or link to blame.
    pub fn new(reason: Reason, message: impl Into<String>) -> Self {
        Self { reason, message: shown(message), place: None }
    }

    /// A refusal that blames a node.
    pub fn at_node(reason: Reason, node: NodeIndex, message: impl Into<String>) -> Self {
        Self { reason, message: shown(message), place: Some(NetworkPlace::Node(node)) }
    }

    /// A refusal that blames a link.
    pub fn at_link(reason: Reason, link: EdgeIndex, message: impl Into<String>) -> Self {
        Self { reason, message: shown(message), place: Some(NetworkPlace::Link(link)) }
    }
}

impl std::fmt::Display for Rejection {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.message)
    }
}

impl std::error::Error for Rejection {}

impl Network {
    /// Checks everything that can be known without solving: numbers in range, names unique, every node joined to a held
    /// pressure, every inflow able to leave.
    pub fn validate(&self) -> Result<(), Rejection> {
        self.validate_liquid()?;
        for node in self.graph.node_indices() {
            self.validate_node(node)?;
        }
        for link in self.graph.edge_indices() {
            self.validate_link(link)?;
        }
        self.validate_names()?;
        self.validate_connections()
    }

    /// Density, viscosity and gravity.
    pub(crate) fn validate_liquid(&self) -> Result<(), Rejection> {
        positive(self.fluid.density_kg_m3, "fluid.density_kg_m3", "liquid", None)?;
        positive(self.fluid.viscosity_pa_s, "fluid.viscosity_dynamic_pa_s", "liquid", None)?;
        positive(self.gravity_m_s2, "gravity_m_s2", "network", None)
    }

    /// The numbers of one node.
    pub(crate) fn validate_node(&self, index: NodeIndex) -> Result<(), Rejection> {
        let node = &self.graph[index];
        let place = Some(NetworkPlace::Node(index));
        let what = |key| format!("node '{}': {key}", node.name);
        finite(node.elevation_m, || what("elevation_m"), place)?;
        match &node.boundary {
            Boundary::Inflow(flow) => finite(*flow, || what("inflow_m3s"), place),
            Boundary::Pressure(pressure) => finite(*pressure, || what("fixed_pressure_pa"), place),
            Boundary::Supply(law) if law.is_sound() => Ok(()),
            Boundary::Supply(_) => Err(Rejection {
                reason: Reason::BadNumber,
                message: what("the law of its supply holds what is not a finite number; give numbers"),
                place,
            }),
        }
    }

    /// The numbers of one link.
    pub(crate) fn validate_link(&self, index: EdgeIndex) -> Result<(), Rejection> {
        let Some(link) = self.graph.edge_weight(index) else { return Ok(()) };
        let name = &link.name;
        let place = Some(NetworkPlace::Link(index));
        for LinkNumber { key, value, bound } in link.kind.numbers().into_iter().flatten() {
            match bound {
                LinkBound::Above => positive(value, key, name, place)?,
                LinkBound::NotBelow => not_negative(value, key, name, place)?,
                LinkBound::BelowHalf(bore_m) => roughness(value, bore_m, name, place)?,
                LinkBound::AtLeast(bore_m) => coil(value, bore_m, name, place)?,
            }
        }
        Ok(())
    }

    fn validate_names(&self) -> Result<(), Rejection> {
        let mut seen = HashSet::with_capacity(self.graph.node_count().max(self.graph.edge_count()));
        for index in self.graph.node_indices() {
            let name = self.graph[index].name.as_str();
            if !name.is_empty() && !seen.insert(name) {
                let message = format!("two nodes are named '{name}'; give each its own name");
                return Err(Rejection::at_node(Reason::DuplicateId, index, message));
            }
        }
        seen.clear();
        for index in self.graph.edge_indices() {
            let name = self.graph[index].name.as_str();
            if !name.is_empty() && !seen.insert(name) {
                let message = format!("two links are named '{name}'; give each its own name");
                return Err(Rejection::at_link(Reason::DuplicateId, index, message));
            }
        }
        Ok(())
    }

    /// Boundaries and connections: what the numbers of single parts can't tell.
    pub(crate) fn validate_connections(&self) -> Result<(), Rejection> {
        let graph = &self.graph;
        for edge in graph.edge_references() {
            if edge.source() == edge.target() {
                let message = format!(
                    "link '{}' leads from a node to itself; join it to another node",
                    edge.weight().name
                );
                return Err(Rejection::at_link(Reason::SelfLoop, edge.id(), message));
            }
        }
        let held = |node: &Node| matches!(node.boundary, Boundary::Pressure(_));
        let mut supplies =
            graph.node_indices().filter(|&node| matches!(graph[node].boundary, Boundary::Supply(_)));
        let supply = supplies.next();
        if let Some(second) = supplies.next() {
            let message = format!("node '{}' is a second supply; keep one", graph[second].name);
            return Err(Rejection::at_node(Reason::OverdeterminedNode, second, message));
        }
        if !graph.node_weights().any(held) {
            return Err(Rejection::new(
                Reason::NoFixedPressure,
                "no node holds a pressure, so that the level of pressure is open; give an outlet a fixed pressure (0 for open air)",
            ));
        }
        if graph.node_weights().filter(|node| node.boundary.gives() || node.boundary.takes()).count() < 2 {
            return Err(Rejection::new(
                Reason::NoOutlet,
                "liquid can enter or leave at one node only; add an outlet or an inflow",
            ));
        }
        let adjacency = Adjacency::new(self);
        let from_held = |follow: Follow| {
            let starts = graph.node_indices().filter(|&node| held(&graph[node]));
            adjacency.reach(starts, follow)
        };
        let joined = from_held(Follow::Any);
        for node in graph.node_indices() {
            if !joined[node.index()] {
                let message = format!(
                    "node '{}' is not joined to any node of held pressure; link it or leave it out",
                    graph[node].name
                );
                return Err(Rejection::at_node(Reason::DisconnectedNode, node, message));
            }
        }
        let stranded = |node: NodeIndex, what: &str| {
            let message = format!(
                "node '{}': its {what} has no way {} a node of held pressure past closed links and one-way valves; open a link or drop the flow",
                graph[node].name,
                if what == "inflow" { "to" } else { "from" },
            );
            Err(Rejection::at_node(Reason::StrandedInflow, node, message))
        };
        let can_leave = from_held(Follow::Upstream);
        let feeds = |&node: &NodeIndex| held(&graph[node]) || supply == Some(node);
        let can_be_fed = adjacency.reach(graph.node_indices().filter(feeds), Follow::Downstream);
        for node in graph.node_indices() {
            let flow = graph[node].boundary.inflow();
            if (flow > 0.0 || supply == Some(node)) && !can_leave[node.index()] {
                return stranded(node, "inflow");
            }
            if flow < 0.0 && !can_be_fed[node.index()] {
                return stranded(node, "withdrawal");
            }
        }
        Ok(())
    }
}

/// Which links a walk may follow.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Follow {
    /// Every link, closed ones too, in either direction.
    Any,
    /// Open links as liquid can flow.
    Downstream,
    /// Open links against the way liquid can flow.
    Upstream,
}

/// Neighbours of every node in one flat list: petgraph's own adjacency is a linked list, slow to walk many times.
pub(crate) struct Adjacency<'a> {
    network: &'a Network,
    starts: Vec<u32>,
    /// Link and far node, by node, in the order of the links.
    neighbours: Vec<(u32, u32)>,
}

impl<'a> Adjacency<'a> {
    pub(crate) fn new(network: &'a Network) -> Self {
        let edges = network.graph.raw_edges();
        let mut starts = vec![0u32; network.graph.node_count() + 1];
        for edge in edges {
            starts[edge.source().index() + 1] += 1;
            starts[edge.target().index() + 1] += 1;
        }
        for i in 1..starts.len() {
            starts[i] += starts[i - 1];
        }
        let mut next = starts.clone();
        let mut neighbours = vec![(0, 0); 2 * edges.len()];
        for (link, edge) in edges.iter().enumerate() {
            for (here, there) in [(edge.source(), edge.target()), (edge.target(), edge.source())] {
                let at = &mut next[here.index()];
                neighbours[*at as usize] = (link as u32, there.index() as u32);
                *at += 1;
            }
        }
        Self { network, starts, neighbours }
    }

    /// Link and far node of every link at a node.
    pub(crate) fn at(&self, node: usize) -> &[(u32, u32)] {
        &self.neighbours[self.starts[node] as usize..self.starts[node + 1] as usize]
    }

    /// Which nodes a walk from the starts comes to, the starts included.
    pub(crate) fn reach(&self, starts: impl Iterator<Item = NodeIndex>, follow: Follow) -> Vec<bool> {
        let edges = self.network.graph.raw_edges();
        let mut seen = vec![false; self.network.graph.node_count()];
        let mut stack: Vec<u32> = starts.map(|node| node.index() as u32).collect();
        for &node in &stack {
            seen[node as usize] = true;
        }
        while let Some(node) = stack.pop() {
            for &(link, far) in self.at(node as usize) {
                let edge = &edges[link as usize];
                let forward = edge.source().index() == node as usize;
                let passes = match follow {
                    Follow::Any => true,
                    Follow::Downstream => !edge.weight.closed && (forward || !edge.weight.kind.one_way()),
                    Follow::Upstream => !edge.weight.closed && (!forward || !edge.weight.kind.one_way()),
                };
                if passes && !seen[far as usize] {
                    seen[far as usize] = true;
                    stack.push(far);
                }
            }
        }
        seen
    }
}

fn finite(value: f64, what: impl FnOnce() -> String, place: Option<NetworkPlace>) -> Result<(), Rejection> {
    if value.is_finite() {
        return Ok(());
    }
    Err(Rejection {
        reason: Reason::BadNumber,
        message: format!("{} is not a finite number; give one", what()),
        place,
    })
}

fn positive(value: f64, key: &str, name: &str, place: Option<NetworkPlace>) -> Result<(), Rejection> {
    finite(value, || format!("'{name}': {key}"), place)?;
    if value > 0.0 {
        return Ok(());
    }
    Err(Rejection {
        reason: Reason::BadParameter,
        message: format!("'{name}': {key} is {} and must be above 0", plain(value)),
        place,
    })
}

fn not_negative(value: f64, key: &str, name: &str, place: Option<NetworkPlace>) -> Result<(), Rejection> {
    finite(value, || format!("'{name}': {key}"), place)?;
    if value >= 0.0 {
        return Ok(());
    }
    Err(Rejection {
        reason: Reason::BadParameter,
        message: format!("'{name}': {key} is {} and can't be below 0", plain(value)),
        place,
    })
}

fn roughness(
    roughness_m: f64,
    bore_m: f64,
    name: &str,
    place: Option<NetworkPlace>,
) -> Result<(), Rejection> {
    not_negative(roughness_m, "roughness_m", name, place)?;
    if roughness_m < 0.5 * bore_m {
        return Ok(());
    }
    Err(Rejection {
        reason: Reason::BadParameter,
        message: format!("'{name}': roughness_m {roughness_m} must be less than half the bore {bore_m}"),
        place,
    })
}

fn coil(diameter_m: f64, bore_m: f64, name: &str, place: Option<NetworkPlace>) -> Result<(), Rejection> {
    positive(diameter_m, "coil_diameter_m", name, place)?;
    if diameter_m >= bore_m {
        return Ok(());
    }
    Err(Rejection {
        reason: Reason::BadParameter,
        message: format!(
            "link '{name}': coil_diameter_m {diameter_m} is below the bore {bore_m}; give the mean diameter of the coil"
        ),
        place,
    })
}
