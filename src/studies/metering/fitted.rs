//! Rows that get their metering, and what meters them in an outcome.

use std::collections::BTreeMap;

use crate::hydraulics::Outcome;
use crate::hydraulics::variation::ElementId;
use crate::plan::{ElementKey, ElementKind, FeedElement, FeedId, Metering, Routing, RowFeed, RowId};

/// Gives rows their metering.
pub(in crate::studies) fn fit(routing: &mut Routing, by_row: &[(RowId, Metering)]) {
    let of: BTreeMap<RowId, &Metering> = by_row.iter().map(|(row, metering)| (*row, metering)).collect();
    routing.feeds.iter_mut().for_each(|feed| feed.meter(|row| of.get(&row).map(|one| (*one).clone())));
}

/// What meters each row on its own way, in an outcome of a routing.
pub(in crate::studies) fn metering_elements(routing: &Routing, outcome: &Outcome) -> Vec<(RowId, ElementId)> {
    let feeds: BTreeMap<FeedId, &RowFeed> = routing.feeds.iter().map(|feed| (feed.id, feed)).collect();
    let found = outcome.elements().iter().filter_map(|element| {
        let branch = feeds.get(&element.feed)?.branches.get(element.branch?)?;
        branch.elements.get(element.index)?.is_metering().then_some((branch.row, element.id()))
    });
    found.collect()
}

/// The entry of all check valves, if there are any and they are of one.
pub(super) fn uniform_valve(routing: &Routing) -> Option<ElementKey> {
    let mut valves =
        routing.feeds.iter().flat_map(|feed| feed.elements()).filter_map(|element| match element {
            FeedElement::Piece(ElementKind::CheckValve, entry) => Some(entry),
            _ => None,
        });
    let first = valves.next()?;
    valves.all(|one| one == first).then(|| first.clone())
}
