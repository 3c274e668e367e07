//! What is joined with what: the parts of a routing and the pump, with every hose and every mount between them.
//!
//! What lies before and behind what is asked of this graph alone: rows that no filter strains, hoses behind a valve, what
//! a part supplies, what is flushed through what. It knows no directions; where liquid flows is found by solving, and
//! [`ConnectionGraph::downstream`] and [`ConnectionGraph::upstream`] are given it.

use std::collections::{BTreeMap, BTreeSet, VecDeque};

use petgraph::algo::dijkstra;
use petgraph::graph::{EdgeIndex, NodeIndex, UnGraph};
use petgraph::visit::EdgeRef;

use super::anchors::{find, index};
use super::part::{Port, PortRef};
use super::routing::Routing;
use super::run::End;
use super::{PartId, RunId};

/// What hoses and mounts join.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Node {
    Pump,
    Part(PartId),
    /// The end of a hose that hangs on nothing.
    LooseEnd,
}

/// What joins two nodes, from the first to the second.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Joint {
    /// A hose, and the ports that it is on; none at the pump and at a loose end.
    Hose(RunId, [Option<PortRef>; 2]),
    /// From a port of a part to the stem of another that is screwed onto it.
    Mount([PortRef; 2]),
}

impl Joint {
    /// The port of a part that it is on, of its first or second end.
    fn port(&self, end: usize) -> Option<PortRef> {
        match self {
            Self::Hose(_, ports) => ports[end],
            Self::Mount(ports) => Some(ports[end]),
        }
    }
}

/// Parts that can be come to, and the hoses that lead to them or from them into the open.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Reached {
    /// The parts.
    pub parts: BTreeSet<PartId>,
    /// The hoses.
    pub runs: BTreeSet<RunId>,
}

/// How a part is joined to the pump by the shortest way along hoses; mounts count as nothing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WayFromPump {
    /// Length of all hoses on the way, metres.
    pub metres: f64,
    /// The hose that comes last; none for a part screwed straight onto others all the way.
    pub last: Option<RunId>,
}

/// The parts of a routing and the pump, and what joins them.
#[derive(Debug, Clone, Default)]
pub struct ConnectionGraph {
    graph: UnGraph<Node, Joint>,
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
    /// From all hoses and mounts.
    pub fn new(routing: &Routing) -> Self {
        let parts = index(routing.parts.iter().map(|part| part.id));
        let mut graph = UnGraph::with_capacity(routing.parts.len() + 1, routing.runs.len());
        graph.add_node(Node::Pump);
        for part in &routing.parts {
            graph.add_node(Node::Part(part.id));
        }
        let node = |part: PartId| find(&parts, part).map(|place| NodeIndex::new(place + 1));
        for run in &routing.runs {
            let mut at = |end: &End| match end {
                End::Supply => Some(pump()),
                End::Port(port) => node(port.part),
                End::Loose(_) => Some(graph.add_node(Node::LooseEnd)),
            };
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

    fn nodes(&self, parts: &[PartId]) -> Vec<NodeIndex> {
        parts.iter().filter_map(|part| self.node(*part)).collect()
    }

    /// The joints of a node: each with the end of it that is here, and the node at its other end.
    fn joints_of(&self, node: NodeIndex) -> impl Iterator<Item = (EdgeIndex, usize, NodeIndex)> {
        let at = move |edge: EdgeIndex| self.graph.edge_endpoints(edge).map(|(from, to)| (edge, from, to));
        self.graph
            .edges(node)
            .filter_map(move |joint| at(joint.id()))
            .map(move |(edge, from, to)| if from == node { (edge, 0, to) } else { (edge, 1, from) })
    }

    /// Each node that can be come to from some through joints that `leads` lets pass in the direction from the end given,
    /// without coming to a closed node; with how many joints away it is. Hoses that were passed are gathered.
    fn walk(
        &self,
        from: Vec<NodeIndex>,
        closed: &BTreeSet<NodeIndex>,
        leads: impl Fn(&Joint, usize) -> bool,
    ) -> (BTreeMap<NodeIndex, usize>, BTreeSet<RunId>) {
        let mut steps: BTreeMap<NodeIndex, usize> = BTreeMap::new();
        let mut runs = BTreeSet::new();
        let mut waiting: VecDeque<(NodeIndex, usize)> = from.into_iter().map(|node| (node, 0)).collect();
        while let Some((node, depth)) = waiting.pop_front() {
            if closed.contains(&node) || steps.contains_key(&node) {
                continue;
            }
            steps.insert(node, depth);
            for (edge, end, next) in self.joints_of(node) {
                let joint = &self.graph[edge];
                if leads(joint, end) {
                    if let Joint::Hose(run, _) = joint {
                        runs.insert(*run);
                    }
                    waiting.push_back((next, depth + 1));
                }
            }
        }
        (steps, runs)
    }

    fn reached(
        &self,
        from: Vec<NodeIndex>,
        closed: &BTreeSet<NodeIndex>,
        leads: impl Fn(&Joint, usize) -> bool,
    ) -> Reached {
        let (steps, runs) = self.walk(from, closed, leads);
        let part = |node: NodeIndex| match self.graph[node] {
            Node::Part(part) => Some(part),
            Node::Pump | Node::LooseEnd => None,
        };
        Reached { parts: steps.into_keys().filter_map(part).collect(), runs }
    }

    /// What can be come to from ports of some parts without passing those parts or the pump.
    fn behind_ports(&self, parts: &[PartId], is_one: impl Fn(PortRef) -> bool) -> Reached {
        let mut closed: BTreeSet<NodeIndex> = self.nodes(parts).into_iter().collect();
        let mut next = Vec::new();
        let mut runs = BTreeSet::new();
        for node in &closed {
            for (edge, end, other) in self.joints_of(*node) {
                let joint = &self.graph[edge];
                // Both ends of a hose may be here.
                let ends = if other == *node { 0..2 } else { end..end + 1 };
                if ends.filter_map(|end| joint.port(end)).any(&is_one) {
                    next.push(other);
                    runs.extend(if let Joint::Hose(run, _) = joint { Some(*run) } else { None });
                }
            }
        }
        closed.insert(pump());
        let mut found = self.reached(next, &closed, |_, _| true);
        found.runs.append(&mut runs);
        found
    }

    /// What can be come to from a port of a part without passing that part or the pump.
    pub fn behind(&self, port: PortRef) -> Reached {
        self.behind_ports(&[port.part], |one| one == port)
    }

    /// What hangs on any port but the inlet of these parts, without passing them or the pump.
    pub fn behind_outlets(&self, parts: &[PartId]) -> Reached {
        self.behind_ports(parts, |one| one.port != Port::In)
    }

    /// What liquid can come to from the pump without passing any of these parts.
    pub fn reached_without(&self, parts: &[PartId]) -> Reached {
        self.reached(vec![pump()], &self.nodes(parts).into_iter().collect(), |_, _| true)
    }

    /// What liquid from these parts comes to, themselves included, by the flow of each hose from its start to its end.
    pub fn downstream(&self, parts: &[PartId], flow: impl Fn(RunId) -> f64) -> Reached {
        self.reached(self.nodes(parts), &BTreeSet::from([pump()]), |joint, end| match joint {
            Joint::Hose(run, _) => along(flow(*run), end),
            Joint::Mount([_, stem]) => (end == 0) != self.is_fed_by_hoses(stem.part, &flow),
        })
    }

    /// What liquid passes on its way to a part, itself included, by the flow of each hose from its start to its end.
    pub fn upstream(&self, part: PartId, flow: impl Fn(RunId) -> f64) -> Reached {
        self.reached(self.nodes(&[part]), &BTreeSet::new(), |joint, end| match joint {
            Joint::Hose(run, _) => along(-flow(*run), end),
            Joint::Mount([_, stem]) => (end == 1) != self.is_fed_by_hoses(stem.part, &flow),
        })
    }

    /// More comes to a part by hoses than leaves by them: what is screwed on by its stem passes that on to the part it sits
    /// on, and gets its liquid from there otherwise.
    fn is_fed_by_hoses(&self, part: PartId, flow: impl Fn(RunId) -> f64) -> bool {
        let joints = self.node(part).into_iter().flat_map(|node| self.joints_of(node));
        let into = joints.map(|(edge, end, _)| match &self.graph[edge] {
            Joint::Hose(run, _) => {
                if end == 0 {
                    -flow(*run)
                } else {
                    flow(*run)
                }
            }
            Joint::Mount(_) => 0.0,
        });
        into.sum::<f64>() > 0.0
    }

    /// How many hoses and mounts each part is away from the pump, less the first; parts that nothing joins to it are
    /// missing.
    pub fn steps_from_pump(&self) -> BTreeMap<PartId, usize> {
        let (steps, _) = self.walk(vec![pump()], &BTreeSet::new(), |_, _| true);
        let far = |(part, place): &(PartId, usize)| {
            Some((*part, steps.get(&NodeIndex::new(place + 1))?.saturating_sub(1)))
        };
        self.parts.iter().filter_map(far).collect()
    }

    /// How each part is joined to the pump by the shortest way along hoses, whose lengths are given in metres; parts that
    /// nothing joins to it are missing.
    pub fn ways_from_pump(&self, length: impl Fn(RunId) -> f64) -> BTreeMap<PartId, WayFromPump> {
        if self.graph.node_count() == 0 {
            return BTreeMap::new();
        }
        let metres = |joint: &Joint| match joint {
            Joint::Hose(run, _) => length(*run),
            Joint::Mount(_) => 0.0,
        };
        let far = dijkstra(&self.graph, pump(), None, |joint| metres(joint.weight()));
        let last = |part: NodeIndex| {
            let (mut node, mut passed) = (part, BTreeSet::new());
            while passed.insert(node) {
                let ways = self.joints_of(node).filter_map(|(edge, _, other)| {
                    let before = *far.get(&other)?;
                    Some((before + metres(&self.graph[edge]), before, edge, other))
                });
                let (.., edge, other) = ways
                    .filter(|way| !passed.contains(&way.3))
                    .min_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)).then(a.2.cmp(&b.2)))?;
                match self.graph[edge] {
                    Joint::Hose(run, _) => return Some(run),
                    Joint::Mount(_) => node = other,
                }
            }
            None
        };
        self.parts
            .iter()
            .map(|(part, place)| (*part, NodeIndex::new(place + 1)))
            .filter_map(|(part, node)| {
                Some((part, WayFromPump { metres: *far.get(&node)?, last: last(node) }))
            })
            .collect()
    }
}

/// How many hoses and mounts the end of a hose is away from the pump, by the steps of all parts
/// ([`ConnectionGraph::steps_from_pump`]); none where it lies loose or nothing joins its part to the pump.
pub fn steps_of_end(steps: &BTreeMap<PartId, usize>, end: &End) -> Option<usize> {
    match end {
        End::Supply => Some(0),
        End::Port(port) => steps.get(&port.part).map(|steps| steps + 1),
        End::Loose(_) => None,
    }
}

/// A flow from the first to the second end goes away from this end.
fn along(flow: f64, end: usize) -> bool {
    if end == 0 { flow > 0.0 } else { flow < 0.0 }
}

#[cfg(test)]
pub(super) mod tests {
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

    /// An end on a port of a part.
    pub(in crate::plan) fn port(part: u32, port: Port) -> End {
        End::Port(PortRef { part: PartId(part), port })
    }

    /// Parts, each with what it sits on, and hoses numbered from 1.
    pub(in crate::plan) fn routing(parts: &[(u32, Option<(u32, Port)>)], hoses: &[(End, End)]) -> Routing {
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
        let behind = |part, port| ids(&graph.behind(PortRef { part: PartId(part), port }).parts);
        assert_eq!(behind(1, Port::Out), [2, 3, 4, 5, 6]);
        assert_eq!(behind(1, Port::In), [0; 0], "nothing but the pump is before it");
        assert_eq!(behind(2, Port::Outlet(4)), [3, 4, 5, 6]);
        assert_eq!(behind(3, Port::In), [1, 2]);
        assert_eq!(ids(&graph.reached_without(&[PartId(1)]).parts), [0; 0]);
        assert_eq!(ids(&graph.reached_without(&[PartId(3)]).parts), [1, 2]);
        let steps: Vec<_> = graph.steps_from_pump().into_values().collect();
        assert_eq!(steps, [0, 1, 2, 3, 3, 4]);
        let ways = graph.ways_from_pump(|run| f64::from(run.0));
        let ways: Vec<_> = ways.into_values().map(|way| (way.metres, way.last.unwrap().0)).collect();
        assert_eq!(ways, [(1.0, 1), (3.0, 2), (6.0, 3), (6.0, 3), (6.0, 3), (10.0, 4)]);
    }

    #[test]
    fn a_way_round_the_filter_leaves_it_out() {
        let mut bypassed = chain();
        let hose =
            Run { id: RunId(9), from: End::Supply, to: port(6, Port::Out), ..bypassed.runs[0].clone() };
        bypassed.runs.push(hose);
        let graph = ConnectionGraph::new(&bypassed);
        assert_eq!(ids(&graph.reached_without(&[PartId(1)]).parts), [2, 3, 4, 5, 6], "all of it, backwards");
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
        assert_eq!(ids(&graph.behind(PortRef { part: PartId(1), port: Port::Out }).parts), [2, 3]);
        assert_eq!(ids(&graph.reached_without(&[PartId(2)]).parts), [1, 3], "round the other way");
        assert!(!graph.steps_from_pump().contains_key(&PartId(4)));
    }

    fn numbers(runs: &BTreeSet<RunId>) -> Vec<u32> {
        runs.iter().map(|run| run.0).collect()
    }

    #[test]
    fn hoses_come_with_the_parts_and_loose_ones_too() {
        let mut routing = chain();
        let loose = Run { id: RunId(7), from: port(3, Port::Branch), ..routing.runs[0].clone() };
        routing.runs.push(Run { to: End::Loose(BarPoint::default()), ..loose });
        let graph = ConnectionGraph::new(&routing);
        assert_eq!(numbers(&graph.reached_without(&[]).runs), [1, 2, 3, 4, 7]);
        assert_eq!(
            numbers(&graph.reached_without(&[PartId(3)]).runs),
            [1, 2, 3],
            "up to the part that is shut"
        );
        let behind = graph.behind_outlets(&[PartId(3)]);
        assert_eq!((ids(&behind.parts), numbers(&behind.runs)), (vec![4, 5, 6], vec![4, 7]));
    }

    #[test]
    fn flow_decides_what_is_downstream_and_upstream() {
        let graph = ConnectionGraph::new(&chain());
        let forward = |_: RunId| 1.0;
        let below = graph.downstream(&[PartId(3)], forward);
        assert_eq!((ids(&below.parts), numbers(&below.runs)), (vec![3, 4, 5, 6], vec![4]));
        assert_eq!(numbers(&graph.upstream(PartId(6), forward).runs), [1, 2, 3, 4]);
        // Liquid that comes from the far end.
        let backward = |run: RunId| if run.0 == 1 { 0.0 } else { -1.0 };
        assert_eq!(
            ids(&graph.downstream(&[PartId(3)], backward).parts),
            [1, 2, 3, 4],
            "not the valve it comes through"
        );
        assert_eq!(ids(&graph.downstream(&[PartId(5)], backward).parts), [1, 2, 3, 4, 5]);
        let above = graph.upstream(PartId(2), backward);
        assert_eq!((ids(&above.parts), numbers(&above.runs)), (vec![2, 3, 5, 6], vec![3, 4]), "not the plug");
    }

    /// The filter's stem sits on the manifold, and the hose comes to its other side.
    #[test]
    fn liquid_may_come_through_what_is_screwed_on() {
        let graph = ConnectionGraph::new(&routing(
            &[(1, None), (2, Some((1, Port::In))), (3, None)],
            &[(End::Supply, port(2, Port::Out)), (port(1, Port::Out), port(3, Port::In))],
        ));
        assert_eq!(ids(&graph.reached_without(&[]).parts), [1, 2, 3]);
        let ways = graph.ways_from_pump(|_| 1.0);
        let last: Vec<_> = ways.into_values().map(|way| way.last.unwrap().0).collect();
        assert_eq!(last, [1, 1, 2], "not the hose that leaves the manifold");
    }

    #[test]
    fn the_shortest_way_round_a_ring_counts() {
        let graph = ConnectionGraph::new(&routing(
            &[(1, None), (2, None)],
            &[
                (End::Supply, port(1, Port::In)),
                (port(1, Port::Out), port(2, Port::In)),
                (port(1, Port::Branch), port(2, Port::Out)),
            ],
        ));
        let last = |lengths: [f64; 3]| {
            let ways = graph.ways_from_pump(|run| lengths[run.0 as usize - 1]);
            ways[&PartId(2)].last
        };
        assert_eq!(last([1.0, 3.0, 2.0]), Some(RunId(3)));
        assert_eq!(last([1.0, 2.0, 3.0]), Some(RunId(2)));
    }
}
