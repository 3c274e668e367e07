//! What hoses and row feeds may be connected to, with wording.

use super::Session;
use crate::plan::words::natural_order;
use crate::plan::{End, FeedId, Manifold, PartId, PartItem, Port, PortRef, RunId, Subject};

/// The words for an end of a hose or feed.
pub fn end_words(session: &Session, end: &End) -> String {
    match end {
        End::Supply => "pump".to_owned(),
        End::Loose(_) => "loose end".to_owned(),
        End::Port(port) => {
            let tag = session.tag_of(Subject::Part(port.part));
            session.geometry().anchors.port_words(&tag, *port)
        }
    }
}

/// Manifolds of the routing by tag, with how many outlets are free.
pub fn manifolds(session: &Session) -> Vec<(PartId, String, usize)> {
    let routing = session.routing();
    let taken = |id: PartId| {
        let ports = routing.connections().filter(|(port, _)| port.part == id);
        ports.filter(|(port, _)| matches!(port.port, crate::plan::Port::Outlet(_))).count()
    };
    let mut all: Vec<(PartId, String, usize)> = routing
        .parts
        .iter()
        .filter_map(|part| match session.project().catalogue.item(&part.entry) {
            Some(PartItem::Manifold(Manifold { outlets, .. })) => {
                let free = usize::from(*outlets).saturating_sub(taken(part.id));
                Some((part.id, part.tag.clone(), free))
            }
            _ => None,
        })
        .collect();
    all.sort_by_key(|(_, tag, _)| natural_order(tag));
    all
}

impl Session {
    /// Ends a hose may be connected to: its own, every free port that takes a hose, the supply, and a loose end where
    /// it is now.
    pub(super) fn ends_for(&self, run: RunId, at_start: bool) -> Vec<End> {
        let routing = self.routing();
        let Some(run) = routing.run(run) else { return Vec::new() };
        let now = if at_start { run.from } else { run.to };
        let mut ends = vec![now];
        ends.extend([End::Supply].into_iter().filter(|end| *end != now));
        ends.extend(
            self.free_ports(|port| !matches!(port, Port::Outlet(_) | Port::Gauge)).into_iter().map(End::Port),
        );
        if !matches!(now, End::Loose(_)) {
            ends.extend(self.geometry().anchors.end(&now).map(End::Loose));
        }
        ends
    }

    /// Outlets a row feed may start from: its own, and every free one.
    pub(super) fn outlets_for(&self, feed: FeedId) -> Vec<End> {
        let now = self.routing().feed(feed).map(|feed| feed.from);
        let free = self.free_ports(|port| matches!(port, Port::Outlet(_)));
        now.into_iter().chain(free.into_iter().map(End::Port)).collect()
    }

    fn free_ports(&self, fits: impl Fn(Port) -> bool) -> Vec<PortRef> {
        let routing = self.routing();
        let taken: std::collections::BTreeSet<PortRef> =
            routing.connections().map(|(port, _)| port).collect();
        let ports = routing.parts.iter().flat_map(|part| {
            let item = self.project().catalogue.item(&part.entry);
            let ports = item.filter(|item| is_plumbed(item)).map(PartItem::ports).unwrap_or_default();
            ports.into_iter().map(|port| PortRef { part: part.id, port })
        });
        ports.filter(|port| fits(port.port) && !taken.contains(port)).collect()
    }
}

/// Takes hoses on its ports.
const fn is_plumbed(item: &PartItem) -> bool {
    !item.is_on_port()
}
