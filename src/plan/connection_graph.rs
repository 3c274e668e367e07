//! What is joined with what: the parts of a routing and the pump, with every hose and every mount between them.
//!
//! What lies before and behind what is one question to this graph: rows that no filter strains, hoses behind a valve, what
//! is flushed through what. It knows no directions; where liquid flows is found by solving.

use std::collections::{BTreeMap, BTreeSet, VecDeque};

use petgraph::algo::dijkstra;
use petgraph::graph::{NodeIndex, UnGraph};
use petgraph::visit::EdgeRef;

use super::anchors::{find, index};
use super::part::{Port, PortRef};
use super::routing::Routing;
use super::run::End;
use super::{PartId, RunId};

/// What joins two places.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Joint {
    /// A hose, and the ports that it is on; none at the pump.
    Hose(RunId, [Option<PortRef>; 2]),
    /// A part screwed onto a port of another.
    Mount([PortRef; 2]),
}

impl Joint {
    /// It sits on this port.
    fn is_on(&self, port: PortRef) -> bool {
        match self {
            Self::Hose(_, ports) => ports.contains(&Some(port)),
            Self::Mount(ports) => ports.contains(&port),
        }
    }
}

/// The parts of a routing and the pump, and what joins them.
#[derive(Debug, Clone, Default)]
pub struct ConnectionGraph {
    /// A part, or the pump.
    graph: UnGraph<Option<PartId>, Joint>,
    /// Node of each part less one, sorted by their ids; the pump is the first node.
    parts: Vec<(PartId, usize)>,
}

impl PartialEq for ConnectionGraph {
    fn eq(&self, other: &Self) -> bool {
        let joints = |one: &Self| -> Vec<(NodeIndex, NodeIndex, Joint)> {
            one.graph.edge_references().map(|one| (one.source(), one.target(), *one.weight())).collect()
        };
        self.parts == other.parts && joints(self) == joints(other)
    }
}

fn pump() -> NodeIndex {
    NodeIndex::new(0)
}

impl ConnectionGraph {
    /// From all hoses with two connected ends, and all mounts.
    pub fn new(routing: &Routing) -> Self {
        let parts = index(routing.parts.iter().map(|part| part.id));
        let mut graph = UnGraph::with_capacity(routing.parts.len() + 1, routing.runs.len());
        graph.add_node(None);
        for part in &routing.parts {
            graph.add_node(Some(part.id));
        }
        let node = |part: PartId| find(&parts, part).map(|place| NodeIndex::new(place + 1));
        let at = |end: &End| match end {
            End::Supply => Some(pump()),
            End::Port(port) => node(port.part),
            End::Loose(_) => None,
        };
        for run in &routing.runs {
            if let Some((a, b)) = at(&run.from).zip(at(&run.to)) {
                graph.add_edge(a, b, Joint::Hose(run.id, [run.from.port(), run.to.port()]));
            }
        }
        for part in &routing.parts {
            if let Some(mount) = part.mount
                && let (Some(host), Some(own)) = (node(mount.part), node(part.id))
            {
                let stem = PortRef { part: part.id, port: Port::In };
                graph.add_edge(host, own, Joint::Mount([mount, stem]));
            }
        }
        Self { graph, parts }
    }

    fn node(&self, part: PartId) -> Option<NodeIndex> {
        find(&self.parts, part).map(|place| NodeIndex::new(place + 1))
    }

    /// Each node that can be come to from some without passing others, with how many joints away it is.
    fn reached(&self, from: Vec<NodeIndex>, closed: &BTreeSet<NodeIndex>) -> BTreeMap<NodeIndex, usize> {
        let mut steps: BTreeMap<NodeIndex, usize> = BTreeMap::new();
        let mut waiting: VecDeque<(NodeIndex, usize)> = from.into_iter().map(|node| (node, 0)).collect();
        while let Some((node, depth)) = waiting.pop_front() {
            if closed.contains(&node) || steps.contains_key(&node) {
                continue;
            }
            steps.insert(node, depth);
            waiting.extend(self.graph.neighbors(node).map(|next| (next, depth + 1)));
        }
        steps
    }

    fn parts_among(&self, nodes: impl IntoIterator<Item = NodeIndex>) -> BTreeSet<PartId> {
        nodes.into_iter().filter_map(|node| self.graph[node]).collect()
    }

    /// All parts that can be come to from a port of a part without passing that part or the pump.
    pub fn behind(&self, port: PortRef) -> BTreeSet<PartId> {
        let Some(part) = self.node(port.part) else { return BTreeSet::new() };
        let joints = self.graph.edges(part).filter(|joint| joint.weight().is_on(port));
        let next = joints.map(|joint| if joint.source() == part { joint.target() } else { joint.source() });
        self.parts_among(self.reached(next.collect(), &BTreeSet::from([part, pump()])).into_keys())
    }

    /// All parts that liquid can come to from the pump without passing any of these.
    pub fn reached_without(&self, parts: &[PartId]) -> BTreeSet<PartId> {
        let closed = parts.iter().filter_map(|part| self.node(*part)).collect();
        self.parts_among(self.reached(vec![pump()], &closed).into_keys())
    }

    /// How many hoses and mounts each part is away from the pump, less the first; parts that nothing joins to it are
    /// missing.
    pub fn steps_from_pump(&self) -> BTreeMap<PartId, usize> {
        let steps = self.reached(vec![pump()], &BTreeSet::new());
        steps
            .into_iter()
            .filter_map(|(node, steps)| Some((self.graph[node]?, steps.saturating_sub(1))))
            .collect()
    }

    /// How far each part is from the pump along hoses, metres, by the shortest way; parts that nothing joins to it are
    /// missing. Mounts count as nothing.
    pub fn hose_from_pump(&self, length: impl Fn(RunId) -> f64) -> BTreeMap<PartId, f64> {
        if self.graph.node_count() == 0 {
            return BTreeMap::new();
        }
        let far = dijkstra(&self.graph, pump(), None, |joint| match joint.weight() {
            Joint::Hose(run, _) => length(*run),
            Joint::Mount(_) => 0.0,
        });
        self.parts
            .iter()
            .filter_map(|(part, place)| Some((*part, *far.get(&NodeIndex::new(place + 1))?)))
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Point3;
    use crate::plan::BarPoint;
    use crate::plan::catalogue::{PartKey, StockKey};
    use crate::plan::run::{Line, Run};
    use crate::plan::{Part, RoutingId, SectionId};
    use crate::quantities::Angle;

    fn part(id: u32, mount: Option<(u32, Port)>) -> Part {
        Part {
            id: PartId(id),
            tag: format!("P{id}"),
            entry: PartKey::new("any"),
            section: SectionId(1),
            position: Point3::default(),
            turn: Angle::ZERO,
            mount: mount.map(|(part, port)| PortRef { part: PartId(part), port }),
            shut: false,
        }
    }

    fn port(part: u32, port: Port) -> End {
        End::Port(PortRef { part: PartId(part), port })
    }

    fn routing(parts: &[(u32, Option<(u32, Port)>)], hoses: &[(End, End)]) -> Routing {
        let mut routing = Routing::empty(RoutingId(1), "A");
        routing.parts = parts.iter().map(|(id, mount)| part(*id, *mount)).collect();
        routing.runs = hoses
            .iter()
            .zip(1..)
            .map(|((from, to), id)| Run {
                id: RunId(id),
                tag: format!("H{id}"),
                from: *from,
                to: *to,
                line: Line::straight(StockKey::new("hose")),
                fittings: Vec::new(),
            })
            .collect();
        routing
    }

    fn ids(parts: &BTreeSet<PartId>) -> Vec<u32> {
        parts.iter().map(|part| part.0).collect()
    }

    /// Pump, filter 1, manifold 2 whose outlet 4 feeds manifold 3, with a plug 4 and a valve 5 screwed on, behind which
    /// manifold 6 stands.
    fn chain() -> Routing {
        routing(
            &[
                (1, None),
                (2, None),
                (3, None),
                (4, Some((3, Port::Outlet(2)))),
                (5, Some((3, Port::Out))),
                (6, None),
            ],
            &[
                (End::Supply, port(1, Port::In)),
                (port(1, Port::Out), port(2, Port::In)),
                (port(2, Port::Outlet(4)), port(3, Port::In)),
                (port(5, Port::Out), port(6, Port::In)),
            ],
        )
    }

    #[test]
    fn what_hangs_on_outlets_and_mounts_is_behind_too() {
        let graph = ConnectionGraph::new(&chain());
        let behind = |part, port| ids(&graph.behind(PortRef { part: PartId(part), port }));
        assert_eq!(behind(1, Port::Out), [2, 3, 4, 5, 6]);
        assert_eq!(behind(1, Port::In), [0; 0], "nothing but the pump is before it");
        assert_eq!(behind(2, Port::Outlet(4)), [3, 4, 5, 6]);
        assert_eq!(behind(3, Port::In), [1, 2]);
        assert_eq!(ids(&graph.reached_without(&[PartId(1)])), [0; 0]);
        assert_eq!(ids(&graph.reached_without(&[PartId(3)])), [1, 2]);
        let steps: Vec<_> = graph.steps_from_pump().into_values().collect();
        assert_eq!(steps, [0, 1, 2, 3, 3, 4]);
        let metres: Vec<_> = graph.hose_from_pump(|run| f64::from(run.0)).into_values().collect();
        assert_eq!(metres, [1.0, 3.0, 6.0, 6.0, 6.0, 10.0]);
    }

    #[test]
    fn a_way_round_the_filter_leaves_it_out() {
        let mut bypassed = chain();
        let hose =
            Run { id: RunId(9), from: End::Supply, to: port(6, Port::Out), ..bypassed.runs[0].clone() };
        bypassed.runs.push(hose);
        let graph = ConnectionGraph::new(&bypassed);
        assert_eq!(ids(&graph.reached_without(&[PartId(1)])), [2, 3, 4, 5, 6], "all of it, backwards");
    }

    #[test]
    fn a_ring_is_walked_once_and_loose_ends_lead_nowhere() {
        let loose = End::Loose(BarPoint::default());
        let ring = routing(
            &[(1, None), (2, None), (3, None), (4, None)],
            &[
                (End::Supply, port(1, Port::In)),
                (port(1, Port::Out), port(2, Port::In)),
                (port(2, Port::Out), port(3, Port::In)),
                (port(3, Port::Out), port(1, Port::Branch)),
                (port(3, Port::Branch), loose),
                (loose, port(4, Port::In)),
            ],
        );
        let graph = ConnectionGraph::new(&ring);
        assert_eq!(ids(&graph.behind(PortRef { part: PartId(1), port: Port::Out })), [2, 3]);
        assert_eq!(ids(&graph.reached_without(&[PartId(2)])), [1, 3], "round the other way");
        assert!(!graph.steps_from_pump().contains_key(&PartId(4)));
    }
}
