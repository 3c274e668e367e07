//! The way of the liquid from the pump to each row, link by link, with what each takes; and what stands where in the network.
//!
//! Read after a solve, from the solution that is there. Start with [`PreparedRouting::ways`].

use std::collections::BTreeMap;

use petgraph::Direction;
use petgraph::graph::{EdgeIndex, NodeIndex};
use petgraph::visit::EdgeRef;

use super::assembly::{Assembly, LinkSource};
use super::losses::static_head;
use super::network::LinkKind;
use super::prepared::PreparedRouting;
use super::variation::ElementId;
use crate::plan::{FeedId, PartId, RowId, RunId};
use crate::quantities::{Flow, Length, Pressure};

/// What liquid passes on its way.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Passed {
    /// A hose.
    Run(RunId),
    /// A placed part.
    Part(PartId),
    /// An element of a row feed.
    Element(ElementId),
    /// The small tee of a shared row feed.
    SmallTee(FeedId),
}

/// A link of the network on a way, along the flow.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WayStep {
    /// What it is a link of.
    pub of: Passed,
    /// Its place in the network.
    pub link: EdgeIndex,
    /// What it takes to friction and fittings, 0 or more.
    pub loss: Pressure,
    /// What the liquid's own weight takes on it: above zero where it rises.
    pub rise: Pressure,
    /// What flows through it, 0 or more.
    pub flow: Flow,
    /// Length of a hose or tube; zero for anything else.
    pub length: Length,
}

/// The way of a row's liquid. Pressure at the pump is the sum of all that its steps take.
#[derive(Debug, Clone, PartialEq)]
pub struct RowWay {
    /// The row.
    pub row: RowId,
    /// From the pump to the outlet.
    pub steps: Vec<WayStep>,
}

/// A link as it stands: what it is of, how much it holds, and the heights of its ends.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Held {
    /// What it is a link of.
    pub of: Passed,
    /// Its place in the network.
    pub link: EdgeIndex,
    /// What it holds, m³; zero for what is no hose, tube or body.
    pub volume_m3: f64,
    /// Heights of its start and its end on the slope that was set, m.
    pub heights_m: [f64; 2],
}

impl PreparedRouting<'_> {
    /// The way of each fed row's liquid at the last solve, in the bar's order: against the flow from its outlet, by the link
    /// that brings most where several join. None where nothing was solved.
    pub fn ways(&self) -> Vec<RowWay> {
        let Some(solver) = &self.kept.solver else { return Vec::new() };
        let flows = &solver.solution().link_flow_m3s;
        let graph = &self.assembly.network.graph;
        let (density, gravity) =
            (self.assembly.network.fluid.density_kg_m3, self.assembly.network.gravity_m_s2);
        let incoming = |node: NodeIndex| {
            let to =
                graph.edges_directed(node, Direction::Incoming).map(|edge| (edge.id(), edge.source(), 1.0));
            let from =
                graph.edges_directed(node, Direction::Outgoing).map(|edge| (edge.id(), edge.target(), -1.0));
            // The first of several that bring the same.
            to.chain(from)
                .map(|(edge, far, sign)| (edge, far, sign * flows[edge.index()]))
                .filter(|one| one.2 > 0.0)
                .min_by(|a, b| b.2.total_cmp(&a.2).then(a.0.cmp(&b.0)))
        };
        let rows = self.project.bar.rows.iter().enumerate();
        rows.filter_map(|(place, row)| {
            let mut node = self.assembly.outlet(place)?;
            let mut steps = Vec::new();
            while node != self.assembly.supply {
                let (link, before, flow) = incoming(node)?;
                // Heads fall along the flow, so that no way comes back to where it was.
                if steps.len() > graph.edge_count() {
                    return None;
                }
                let rise = graph[node].elevation_m - graph[before].elevation_m;
                steps.push(WayStep {
                    of: self.passed(link),
                    link,
                    loss: Pressure::from_si(solver.loss(link, flows[link.index()]).pressure_pa.abs()),
                    rise: Pressure::from_si(static_head::pressure(density, gravity, rise)),
                    flow: Flow::from_si(flow),
                    length: Length::from_si(length_m(&graph[link].kind)),
                });
                node = before;
            }
            steps.reverse();
            Some(RowWay { row: row.id, steps })
        })
        .collect()
    }

    /// Everything that holds liquid, on the slope of the point solved last.
    pub fn held(&self) -> Vec<Held> {
        let graph = &self.assembly.network.graph;
        graph
            .edge_references()
            .map(|edge| Held {
                of: self.passed(edge.id()),
                link: edge.id(),
                volume_m3: edge.weight().kind.volume_m3(),
                heights_m: [edge.source(), edge.target()].map(|node| graph[node].elevation_m),
            })
            .collect()
    }

    /// The network of the point solved last, and where the pump is in it.
    pub const fn assembly(&self) -> &Assembly {
        &self.assembly
    }

    /// The outlet of each row that is joined to the supply, in the bar's order.
    pub fn outlets(&self) -> BTreeMap<RowId, NodeIndex> {
        let rows = self.project.bar.rows.iter().enumerate();
        rows.filter_map(|(place, row)| Some((row.id, self.assembly.outlet(place)?))).collect()
    }

    fn passed(&self, link: EdgeIndex) -> Passed {
        let routing = self.routing.routing;
        match self.assembly.sources[link.index()] {
            LinkSource::Run(place) => Passed::Run(routing.runs[place].id),
            LinkSource::Part(place, _) => Passed::Part(routing.parts[place].id),
            LinkSource::SmallTee(place) => Passed::SmallTee(routing.feeds[place].id),
            LinkSource::Element(place) => {
                let one = self.assembly.elements[place];
                Passed::Element(ElementId { feed: one.feed, branch: one.branch, index: one.index })
            }
        }
    }
}

impl Assembly {
    /// The node where the row at a place of the bar has its outlet, if it is joined to the supply.
    fn outlet(&self, row: usize) -> Option<NodeIndex> {
        let link = self.rows.get(row)?.last_links.first()?;
        self.network.graph.edge_endpoints(*link).map(|(_, to)| to)
    }
}

const fn length_m(kind: &LinkKind) -> f64 {
    match *kind {
        LinkKind::Pipe { length_m, .. } | LinkKind::MeteringTube { length_m, .. } => length_m,
        LinkKind::Fitting { .. } | LinkKind::Orifice { .. } | LinkKind::CheckValve { .. } => 0.0,
    }
}

impl LinkKind {
    /// What it holds, m³: `π/4 d² L` of a hose, tube or body; anything else is short and counts as nothing.
    ///
    /// ```
    /// use equirow::hydraulics::network::LinkKind;
    /// // 6 mm by 4 m hold 0.113 L: 27 s at 0.25 L/min (worked by hand)
    /// let tube = LinkKind::Pipe { length_m: 4.0, bore_m: 0.006, roughness_m: 0.0, k_minor: 0.0 };
    /// assert!((tube.volume_m3() * 1e3 - 0.1131).abs() < 1e-4);
    /// assert!((tube.volume_m3() * 1e3 / (0.25 / 60.0) - 27.1).abs() < 0.1);
    /// ```
    pub fn volume_m3(&self) -> f64 {
        std::f64::consts::FRAC_PI_4 * self.bore_m().powi(2) * length_m(self)
    }
}
