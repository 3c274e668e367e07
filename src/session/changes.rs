//! What a step changes of hoses, tubes and what is fitted to them, in words: the same before it is taken and after.

use std::collections::{BTreeMap, BTreeSet};

use crate::plan::words::{counted, ranges, tags};
use crate::plan::{FeedElement, Project, Routing, RowFeed, StockKey};
use crate::quantities::Measure;

/// `H3 and H4 from 12 mm to 16 mm, metering orifice of 12 rows from 0.7 mm to 0.8 mm`; none where nothing of that changes.
pub(super) fn changes(project: &Project, before: &Routing, after: &Routing) -> Option<String> {
    let mut words = hoses(project, before, after);
    words.extend(feeds(project, before, after));
    let is_new = |id| before.part(id).is_none();
    let mut placed: BTreeMap<&str, usize> = BTreeMap::new();
    for part in after.parts.iter().filter(|part| is_new(part.id)) {
        let kind = project.catalogue.item(&part.entry).map_or("part", |item| item.kind());
        *placed.entry(kind).or_default() += 1;
    }
    words.extend(placed.into_iter().map(|(kind, count)| format!("{} placed", counted(count, kind))));
    (!words.is_empty()).then(|| words.join(", "))
}

fn size(project: &Project, stock: &StockKey) -> String {
    project.catalogue.item(stock).map_or_else(|| stock.to_string(), |item| item.size(project.units))
}

fn hoses(project: &Project, before: &Routing, after: &Routing) -> Vec<String> {
    let mut by_size: BTreeMap<(String, String), Vec<String>> = BTreeMap::new();
    let mut fitted: Vec<String> = Vec::new();
    for run in &after.runs {
        let Some(was) = before.run(run.id) else { continue };
        if was.line.stock != run.line.stock {
            let sizes = (size(project, &was.line.stock), size(project, &run.line.stock));
            by_size.entry(sizes).or_default().push(run.tag.clone());
        } else if was.fittings != run.fittings {
            fitted.push(run.tag.clone());
        }
    }
    let mut words: Vec<String> =
        by_size.iter().map(|((from, to), hoses)| format!("{} from {from} to {to}", tags(hoses))).collect();
    if !fitted.is_empty() {
        words.push(format!("other fittings on {}", tags(&fitted)));
    }
    words
}

/// What a row feed is made of: kinds with their sizes.
fn made_of(project: &Project, feed: &RowFeed) -> BTreeMap<&'static str, BTreeSet<String>> {
    let mut made: BTreeMap<&'static str, BTreeSet<String>> = BTreeMap::new();
    for element in feed.elements() {
        let (kind, size) = match element {
            FeedElement::Tube(tube) => ("tube", size(project, &tube.line.stock)),
            FeedElement::MeteringTube { stock, length, .. } => {
                let long = Measure::CutLength.short_text(length.si(), project.units);
                ("metering tube", format!("{long} of {}", size(project, stock)))
            }
            FeedElement::Piece(kind, entry) => {
                let item = project.catalogue.item(entry);
                (kind.words(), item.map_or_else(|| entry.to_string(), |item| item.size(project.units)))
            }
            FeedElement::Fitting(entry) => {
                let item = project.catalogue.item(entry);
                ("fitting", item.map_or_else(|| entry.to_string(), |item| item.size(project.units)))
            }
        };
        made.entry(kind).or_default().insert(size);
    }
    made
}

/// From what to what, and in which rows.
type FromTo = (String, String, Vec<u32>);

/// More changes of one kind than this are not told one by one.
const MOST_TOLD: usize = 4;

fn feeds(project: &Project, before: &Routing, after: &Routing) -> Vec<String> {
    let row = |feed: &RowFeed| -> Vec<u32> {
        let rows = feed.branches.iter().filter_map(|branch| project.bar.row(branch.row));
        rows.map(|row| row.number).collect()
    };
    let text = |sizes: Option<&BTreeSet<String>>| {
        sizes.map_or("none".to_owned(), |sizes| sizes.iter().cloned().collect::<Vec<_>>().join(" and "))
    };
    let mut by_size: BTreeMap<(&str, String, String), Vec<u32>> = BTreeMap::new();
    let (mut added, mut removed) = (Vec::new(), Vec::new());
    for feed in &after.feeds {
        let Some(was) = before.feed(feed.id) else {
            added.extend(row(feed));
            continue;
        };
        if was == feed {
            continue;
        }
        let (old, new) = (made_of(project, was), made_of(project, feed));
        let kinds: BTreeSet<&str> = old.keys().chain(new.keys()).copied().collect();
        for kind in kinds.into_iter().filter(|kind| old.get(kind) != new.get(kind)) {
            let sizes = (kind, text(old.get(kind)), text(new.get(kind)));
            by_size.entry(sizes).or_default().extend(row(feed));
        }
    }
    removed.extend(before.feeds.iter().filter(|feed| after.feed(feed.id).is_none()).flat_map(row));
    let rows = |mut all: Vec<u32>| {
        all.sort_unstable();
        all.dedup();
        format!("{} {}", if all.len() == 1 { "row" } else { "rows" }, ranges(&all))
    };
    let mut by_kind: BTreeMap<&str, Vec<FromTo>> = BTreeMap::new();
    for ((kind, from, to), all) in by_size {
        by_kind.entry(kind).or_default().push((from, to, all));
    }
    let mut words = Vec::new();
    for (kind, changed) in by_kind {
        if changed.len() > MOST_TOLD {
            let all = changed.into_iter().flat_map(|one| one.2).collect();
            words.push(format!("{kind} of {}, each its own", rows(all)));
        } else {
            let told = changed.into_iter();
            words.extend(told.map(|(from, to, all)| format!("{kind} of {} from {from} to {to}", rows(all))));
        }
    }
    if !added.is_empty() {
        words.push(format!("feeds for {}", rows(added)));
    }
    if !removed.is_empty() {
        words.push(format!("no feed any more for {}", rows(removed)));
    }
    words
}
