//! The order in which hoses and manifolds are flushed: what can be flushed through what, by the graph of a routing.
//!
//! Before the flush every hose lies, and its ends at manifolds are off. A hose is flushed at the end that is off, which
//! takes a way from the pump through hoses and parts that are joined already; a manifold is joined once a hose that leads
//! to it is clean, and what hangs on its own ports is flushed through it after that.

use std::collections::BTreeSet;

use super::connection_graph::ConnectionGraph;
use super::part::PortRef;
use super::routing::Routing;
use super::{PartId, RunId};

/// An end of a hose that is off while the hose is flushed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct FlushEnd {
    /// The hose.
    pub run: RunId,
    /// The port of a manifold that it is joined to after that.
    pub port: PortRef,
}

/// What is flushed before the next manifolds are joined.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct FlushRound {
    /// Ends that are opened one after the other; each is the first that its hose has off.
    pub ends: Vec<FlushEnd>,
    /// Manifolds that are joined then, and flushed through their outlets.
    pub join: Vec<PartId>,
}

/// All that the pump's liquid can be led to, in rounds.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct FlushOrder {
    /// One after the other.
    pub rounds: Vec<FlushRound>,
    /// Manifolds that nothing joins to the pump.
    pub out_of_reach: Vec<PartId>,
}

/// Works the order out; `manifolds` in the order in which they are done where the graph leaves the choice.
pub fn flush_order(routing: &Routing, graph: &ConnectionGraph, manifolds: &[PartId]) -> FlushOrder {
    let mut off: Vec<PartId> = manifolds.to_vec();
    let mut flushed: BTreeSet<RunId> = BTreeSet::new();
    let mut rounds = Vec::new();
    let place = |part: PartId| manifolds.iter().position(|one| *one == part).unwrap_or(usize::MAX);
    loop {
        let reached = graph.reached_without(&off);
        let mut ends: Vec<FlushEnd> = Vec::new();
        for run in routing.runs.iter().filter(|run| reached.runs.contains(&run.id)) {
            if flushed.contains(&run.id) {
                continue;
            }
            let ports = [run.from.port(), run.to.port()].into_iter().flatten();
            let at_manifolds = || ports.clone().filter(|port| manifolds.contains(&port.part));
            // Between two that are joined already, it is off at the one that comes later.
            let end = at_manifolds().find(|port| off.contains(&port.part)).or_else(|| {
                at_manifolds().max_by_key(|port| place(port.part)).filter(|_| at_manifolds().count() > 1)
            });
            ends.extend(end.map(|port| FlushEnd { run: run.id, port }));
        }
        ends.sort_by_key(|end| (place(end.port.part), end.run));
        flushed.extend(ends.iter().map(|end| end.run));
        // What sits on a part, or bears one, that is joined already has no hose of its own to flush.
        let mounted = routing.parts.iter().filter_map(|part| Some((part.id, part.mount?.part))).filter_map(
            |(own, host)| {
                let joins = |one: PartId, other: PartId| reached.parts.contains(&one) && off.contains(&other);
                if joins(own, host) { Some(host) } else { joins(host, own).then_some(own) }
            },
        );
        let mut join: Vec<PartId> = ends.iter().map(|end| end.port.part).chain(mounted).collect();
        join.retain(|part| off.contains(part));
        join.sort_by_key(|part| place(*part));
        join.dedup();
        if ends.is_empty() && join.is_empty() {
            return FlushOrder { rounds, out_of_reach: off };
        }
        off.retain(|part| !join.contains(part));
        rounds.push(FlushRound { ends, join });
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;

    use super::*;
    use crate::plan::connection_graph::{self, tests::port};
    use crate::plan::part::Port;
    use crate::plan::run::End;

    /// Parts numbered from 1 that sit on nothing, and hoses.
    fn routing(parts: u32, hoses: &[(End, End)]) -> Routing {
        let parts: Vec<_> = (1..=parts).map(|id| (id, None)).collect();
        connection_graph::tests::routing(&parts, hoses)
    }

    /// Ends by hose and manifold, and the manifolds that are joined then, a round each.
    type Rounds = Vec<(Vec<(u32, u32)>, Vec<u32>)>;

    fn order(routing: &Routing, manifolds: &[u32]) -> Rounds {
        let manifolds: Vec<PartId> = manifolds.iter().copied().map(PartId).collect();
        let order = flush_order(routing, &ConnectionGraph::new(routing), &manifolds);
        proved(routing, &manifolds, &order);
        let round = |round: &FlushRound| {
            let ends = round.ends.iter().map(|end| (end.run.0, end.port.part.0)).collect();
            (ends, round.join.iter().map(|part| part.0).collect())
        };
        order.rounds.iter().map(round).collect()
    }

    /// By hoses and parts alone, without the graph: water comes to each end that is opened, through nothing that is off; each
    /// hose that can be flushed is, once.
    fn proved(routing: &Routing, manifolds: &[PartId], order: &FlushOrder) {
        let mut on: BTreeSet<PartId> =
            routing.parts.iter().map(|part| part.id).filter(|part| !manifolds.contains(part)).collect();
        let wet = |on: &BTreeSet<PartId>| {
            let mut wet: BTreeSet<PartId> = BTreeSet::new();
            let mut runs: BTreeSet<RunId> = BTreeSet::new();
            for _ in 0..=routing.runs.len() {
                for run in &routing.runs {
                    let is_wet = |end: &End| match end {
                        End::Supply => true,
                        End::Port(port) => wet.contains(&port.part) && on.contains(&port.part),
                        End::Loose(_) => false,
                    };
                    if is_wet(&run.from) || is_wet(&run.to) {
                        runs.insert(run.id);
                        wet.extend(
                            [run.from.port(), run.to.port()].into_iter().flatten().map(|port| port.part),
                        );
                    }
                }
            }
            runs
        };
        let mut times: BTreeMap<RunId, usize> = BTreeMap::new();
        for round in &order.rounds {
            let runs = wet(&on);
            for end in &round.ends {
                assert!(runs.contains(&end.run), "{end:?} gets no water: {order:?}");
                *times.entry(end.run).or_default() += 1;
            }
            assert!(round.join.iter().all(|part| on.insert(*part)), "joined twice: {order:?}");
        }
        for run in &routing.runs {
            let at_manifold = [run.from.port(), run.to.port()]
                .into_iter()
                .flatten()
                .filter(|port| manifolds.contains(&port.part))
                .count();
            let from_manifold_into_parts = at_manifold == 1
                && !order.rounds.iter().flat_map(|round| &round.ends).any(|end| end.run == run.id);
            let known = times.get(&run.id).copied().unwrap_or(0);
            assert!(known <= 1, "{:?} is flushed {known} times", run.id);
            let reached = wet(&on).contains(&run.id);
            assert!(
                known == 1 || at_manifold == 0 || !reached || from_manifold_into_parts,
                "{:?} is not flushed: {order:?}",
                run.id
            );
        }
        let joined: BTreeSet<PartId> = order.rounds.iter().flat_map(|round| round.join.clone()).collect();
        assert_eq!(joined.len() + order.out_of_reach.len(), manifolds.len());
    }

    /// Pump, filter 1, manifold 2, whose far end feeds tee 3, which feeds manifolds 4 and 5; 5 passes on to 6.
    #[test]
    fn what_is_fed_through_a_manifold_is_flushed_once_that_is_joined() {
        let routing = routing(
            6,
            &[
                (End::Supply, port(1, Port::In)),
                (port(1, Port::Out), port(2, Port::In)),
                (port(2, Port::Out), port(3, Port::In)),
                (port(3, Port::Out), port(4, Port::In)),
                (port(3, Port::Branch), port(5, Port::In)),
                (port(5, Port::Out), port(6, Port::In)),
            ],
        );
        assert_eq!(
            order(&routing, &[2, 4, 5, 6]),
            [(vec![(2, 2)], vec![2]), (vec![(4, 4), (5, 5)], vec![4, 5]), (vec![(6, 6)], vec![6]),]
        );
    }

    /// A ring from tee 1 over manifolds 2 and 3: the hose between them is flushed when both are joined.
    #[test]
    fn a_ring_is_flushed_from_both_sides_and_then_through_itself() {
        let routing = routing(
            3,
            &[
                (End::Supply, port(1, Port::In)),
                (port(1, Port::Out), port(2, Port::In)),
                (port(1, Port::Branch), port(3, Port::In)),
                (port(2, Port::Out), port(3, Port::Out)),
            ],
        );
        assert_eq!(order(&routing, &[3, 2]), [(vec![(3, 3), (2, 2)], vec![3, 2]), (vec![(4, 2)], vec![])]);
    }

    #[test]
    fn what_nothing_joins_to_the_pump_is_told_and_not_flushed() {
        let routing =
            routing(3, &[(End::Supply, port(1, Port::In)), (port(2, Port::Out), port(3, Port::In))]);
        let manifolds = [PartId(1), PartId(2), PartId(3)];
        let order = flush_order(&routing, &ConnectionGraph::new(&routing), &manifolds);
        assert_eq!(order.rounds.len(), 1);
        assert_eq!(order.out_of_reach, [PartId(2), PartId(3)]);
    }

    proptest::proptest! {
        #[test]
        fn random_routings_are_flushed_through_what_is_joined(
            hoses in proptest::collection::vec((0_u32..9, 0_u32..9), 1..14),
            first in 1_u32..9,
        ) {
            let at = |part: u32, place: usize| match part {
                0 => End::Loose(crate::plan::BarPoint::default()),
                part => port(part, Port::Outlet(place as u16 + 1)),
            };
            let mut lines = vec![(End::Supply, port(1, Port::In))];
            lines.extend(hoses.iter().enumerate().map(|(place, (a, b))| (at(*a, 2 * place), at(*b, 2 * place + 1))));
            let routing = routing(8, &lines);
            let manifolds: Vec<PartId> = (first..=8).map(PartId).collect();
            let order = flush_order(&routing, &ConnectionGraph::new(&routing), &manifolds);
            proved(&routing, &manifolds, &order);
        }
    }
}
