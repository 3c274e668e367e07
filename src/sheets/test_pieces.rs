//! What closes outlets and hose ends while hoses are flushed and tested: bought with the bar, put aside after it. In which
//! order hoses and manifolds are flushed comes from the routing's graph.

use std::collections::BTreeMap;

use crate::plan::connection_graph::WayFromPump;
use crate::plan::flushing::{FlushOrder, flush_order};
use crate::plan::{FeedElement, LaidRouting, PartId, PartItem, Port, PortRef, Project};
use crate::quantities::Length;

/// How far each part is from the pump along the hoses.
pub(super) fn ways_from_pump(routing: LaidRouting) -> BTreeMap<PartId, WayFromPump> {
    let metres = |run| routing.geometry.run(run).map_or(0.0, |laid| laid.length.si().max(0.0));
    routing.geometry.connections.ways_from_pump(metres)
}

/// Millimetres of hose from the pump, to sort by; last where nothing joins it.
pub(super) fn way_to(ways: &BTreeMap<PartId, WayFromPump>, part: PartId) -> u64 {
    ways.get(&part).map_or(u64::MAX, |way| (way.metres * 1000.0).round() as u64)
}

/// Hoses and manifolds in the order in which they are flushed, the nearest to the pump first.
pub(super) fn flushing(
    project: &Project,
    routing: LaidRouting,
    ways: &BTreeMap<PartId, WayFromPump>,
) -> FlushOrder {
    let is_manifold = |entry| matches!(project.catalogue.item(entry), Some(PartItem::Manifold(_)));
    let parts = routing.routing.parts.iter().filter(|part| is_manifold(&part.entry));
    let mut manifolds: Vec<PartId> = parts.map(|part| part.id).collect();
    manifolds.sort_by_key(|part| way_to(ways, *part));
    flush_order(routing.routing, &routing.geometry.connections, &manifolds)
}

/// What closes something for a while.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Closing {
    /// An outlet of a manifold that a tube of this outside diameter goes to, in micrometres; none where it takes another
    /// end, or nothing.
    Outlet(Option<u64>),
    /// The end of a hose of this bore, in micrometres.
    HoseEnd(u64),
}

/// How many of each are in use at one time, at most.
pub(super) fn closings(
    project: &Project,
    routing: LaidRouting,
    flushing: &FlushOrder,
) -> BTreeMap<Closing, usize> {
    let mut most: BTreeMap<Closing, usize> = BTreeMap::new();
    let micrometres = |length: Length| (length.si() * 1e6).round() as u64;
    for feed in &routing.routing.feeds {
        let outside = match feed.elements().next() {
            Some(FeedElement::Tube(tube)) => project.catalogue.stock(&tube.line.stock),
            _ => None,
        };
        *most.entry(Closing::Outlet(outside.map(|stock| micrometres(stock.outside)))).or_default() += 1;
    }
    for part in &routing.routing.parts {
        let Some(item @ PartItem::Manifold(_)) = project.catalogue.item(&part.entry) else { continue };
        let is_open = |port: &Port| {
            matches!(port, Port::Outlet(_))
                && routing.on_port(PortRef { part: part.id, port: *port }).is_empty()
        };
        let open = item.ports().into_iter().filter(is_open).count();
        if open > 0 {
            *most.entry(Closing::Outlet(None)).or_default() += open;
        }
    }
    let bores_of = |at: usize| {
        let ends = flushing.rounds.get(at).into_iter().flat_map(|round| &round.ends);
        let bores = ends.filter_map(|end| {
            let stock = &routing.run(end.run)?.line.stock;
            Some(micrometres(project.catalogue.stock(stock)?.bore))
        });
        let mut count: BTreeMap<u64, usize> = BTreeMap::new();
        for bore in bores {
            *count.entry(bore).or_default() += 1;
        }
        count
    };
    for at in 0..flushing.rounds.len() {
        let (now, next) = (bores_of(at), bores_of(at + 1));
        for (bore, ends) in &now {
            // One end is open while its round is flushed: of this bore, where there is no other.
            let capped = if now.len() == 1 { ends.saturating_sub(1) } else { *ends };
            let most = most.entry(Closing::HoseEnd(*bore)).or_default();
            *most = capped.max(*most);
        }
        // All ends of the next round are closed while manifolds are flushed.
        for (bore, ends) in next {
            let most = most.entry(Closing::HoseEnd(bore)).or_default();
            *most = ends.max(*most);
        }
    }
    most.retain(|_, many| *many > 0);
    most
}
