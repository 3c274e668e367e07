//! The items of a routing: all there is of one catalogue entry, numbered as balloons and lists show it.

use std::collections::BTreeMap;

use crate::plan::{EntryKey, FeedElement, LaidRouting, Project};

/// One item: all there is of one catalogue entry.
#[derive(Debug, Clone, PartialEq)]
pub struct ListItem {
    /// From 1; the number in balloons.
    pub number: usize,
    /// What it is.
    pub entry: EntryKey,
    /// How many pieces: parts, valves, metering, or pieces cut from a stock.
    pub pieces: usize,
    /// Tags of the parts, runs and row feeds that use it, in the routing's order, each once.
    pub tags: Vec<String>,
}

/// All items of a routing, numbered. The order is that of the kinds as the liquid meets them, then the catalogue's;
/// it depends on nothing else, so that every paper of a routing shows the same numbers.
pub fn items(project: &Project, routing: LaidRouting) -> Vec<ListItem> {
    let mut used: BTreeMap<(u8, usize), ListItem> = BTreeMap::new();
    let mut add = |key: &EntryKey, tag: &str| {
        let entries = &project.catalogue.entries;
        let Some(at) = entries.iter().position(|entry| entry.key == *key) else { return };
        let item = used
            .entry((entries[at].item.item_kind().common().list_order, at))
            .or_insert_with(|| ListItem { number: 0, entry: key.clone(), pieces: 0, tags: Vec::new() });
        item.pieces += 1;
        if item.tags.last().is_none_or(|last| last != tag) {
            item.tags.push(tag.to_owned());
        }
    };
    for part in &routing.parts {
        add(&part.entry, &part.tag);
    }
    for run in &routing.runs {
        add(&run.line.stock, &run.tag);
        run.fittings.iter().for_each(|fitting| add(fitting, &run.tag));
    }
    for feed in &routing.feeds {
        feed.elements().map(FeedElement::entry).for_each(|entry| add(entry, &feed.tag));
        // One more row takes one more small tee: each has one outlet more than inlets.
        if let Some(split) = &feed.split {
            (1..feed.branches.len().max(2)).for_each(|_| add(&split.entry, &feed.tag));
        }
    }
    let mut items: Vec<ListItem> = used.into_values().collect();
    for (index, item) in items.iter_mut().enumerate() {
        item.number = index + 1;
    }
    items
}

/// The number of an entry's item.
pub fn number_of(items: &[ListItem], entry: &EntryKey) -> Option<usize> {
    items.iter().find(|item| item.entry == *entry).map(|item| item.number)
}
