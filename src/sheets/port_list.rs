//! The fitting list: what goes on every port, and what stands at the end of every tube.

use super::cautions;
use super::document::{Block, Cell, Column, Document, Table};
use super::parts_list::{ListItem, items, number_of};
use super::places;
use crate::plan::routing::Connection;
use crate::plan::words;
use crate::plan::{EntryKey, FeedElement, Item, Part, Port, PortRef, Project, Routing, Run};

/// The fitting list as a paper: every port, then every row.
pub fn port_list(project: &Project, routing: &Routing) -> Document {
    let items = items(project, routing);
    let mut document = Document::new("Fitting list by port", project, routing);
    document.blocks.push(Block::Table(ports(project, routing, &items)));
    document.blocks.push(Block::Table(rows(project, routing, &items)));
    document.blocks.push(Block::Paragraph(cautions::FIRST.to_owned()));
    document
}

fn ports(project: &Project, routing: &Routing, items: &[ListItem]) -> Table {
    let mut rows = Vec::new();
    for part in &routing.parts {
        let Some(item) = project.catalogue.item(&part.entry) else { continue };
        // A gauge or plug is listed at the port it sits on.
        if part.mount.is_some() && matches!(item, Item::Gauge { .. } | Item::BlankingPlug { .. }) {
            continue;
        }
        for port in item.ports() {
            let at = PortRef { part: part.id, port };
            let connections = routing.on_port(at);
            let mut row = |what: String, size: String, fitting: String| {
                rows.push(vec![
                    Cell::text(part.tag.as_str()),
                    number_of(items, &part.entry).map_or(Cell::Empty, Cell::count),
                    Cell::text(places::port(project, routing, at)),
                    Cell::text(what),
                    Cell::text(size),
                    Cell::text(fitting),
                ]);
            };
            if connections.is_empty() {
                row(nothing_on(item, port).to_owned(), String::new(), String::new());
            }
            for connection in connections {
                match connection {
                    Connection::Run(id) => {
                        let Some(run) = routing.run(id) else { continue };
                        let far = if run.from.port() == Some(at) { &run.to } else { &run.from };
                        let what = format!("{}, hose to {}", run.tag, places::end(project, routing, far));
                        row(what, size(project, &run.line.stock), fitting(project, items, run, at));
                    }
                    Connection::Feed(id) => {
                        let Some(feed) = routing.feed(id) else { continue };
                        let numbers: Vec<u32> = feed
                            .branches
                            .iter()
                            .filter_map(|branch| Some(project.bar.row(branch.row)?.number))
                            .collect();
                        let word = if numbers.len() == 1 { "row" } else { "rows" };
                        let what = format!("{}, tube to {word} {}", feed.tag, words::ranges(&numbers));
                        let first = feed.elements().next().map(FeedElement::entry);
                        row(
                            what,
                            first.map_or_else(String::new, |entry| size(project, entry)),
                            String::new(),
                        );
                    }
                    Connection::Mounted(id) => {
                        let Some(other) = routing.part(id) else { continue };
                        row(mounted(project, items, other), String::new(), "screwed on".to_owned());
                    }
                }
            }
        }
    }
    Table {
        caption: "Every port".to_owned(),
        columns: vec![
            Column::text("Part", 0.8),
            Column::count("Item", 0.7),
            Column::text("Port", 1.6),
            Column::text("Goes on it", 4.0),
            Column::text("Bore", 1.2),
            Column::text("Fitting", 4.0),
        ],
        rows,
        totals: Vec::new(),
        notes: vec![
            "Where a hose has two fittings, the first is taken to be at its start and the second at its end."
                .to_owned(),
        ],
    }
}

/// What a port without anything on it is.
const fn nothing_on(item: &Item, port: Port) -> &'static str {
    match (item, port) {
        (_, Port::Gauge) | (Item::Manifold { .. }, Port::Out) => "nothing: stays plugged as delivered",
        (Item::Gauge { .. } | Item::BlankingPlug { .. }, _) => "nothing: it sits on no port yet",
        _ => "OPEN: join or plug it, it would spray",
    }
}

fn size(project: &Project, entry: &EntryKey) -> String {
    project.catalogue.item(entry).map_or_else(String::new, |item| item.size(project.units))
}

fn mounted(project: &Project, items: &[ListItem], part: &Part) -> String {
    let entry = project.catalogue.entry(&part.entry);
    let what = entry.map_or(part.entry.0.as_str(), |entry| entry.item.kind());
    match number_of(items, &part.entry) {
        Some(number) => format!("{}, {what} (item {number})", part.tag),
        None => format!("{}, {what}", part.tag),
    }
}

/// The fitting of a hose at a port.
fn fitting(project: &Project, items: &[ListItem], run: &Run, at: PortRef) -> String {
    let named = |key: &EntryKey| {
        let description = project.catalogue.entry(key).map_or(key.0.as_str(), |entry| &entry.description);
        match number_of(items, key) {
            Some(number) => format!("{description} (item {number})"),
            None => description.to_owned(),
        }
    };
    match run.fittings.as_slice() {
        [] => "none listed".to_owned(),
        [first, last] if first == last || run.from.port() != run.to.port() => {
            named(if run.from.port() == Some(at) { first } else { last })
        }
        some => {
            let names: Vec<String> = some.iter().map(named).collect();
            format!("along {}: {}", run.tag, names.join("; "))
        }
    }
}

/// What each row has between its manifold and its outlet, in the order the liquid passes.
fn rows(project: &Project, routing: &Routing, items: &[ListItem]) -> Table {
    let named = |element: &FeedElement| match number_of(items, element.entry()) {
        Some(number) => format!("{} {} (item {number})", element.kind(), size(project, element.entry())),
        None => element.kind().to_owned(),
    };
    let mut rows = Vec::new();
    for row in project.bar.rows.iter().filter(|row| !row.left_out) {
        let feed = routing.feed_of(row.id);
        let branch = feed.and_then(|feed| feed.branches.iter().find(|branch| branch.row == row.id));
        let Some((feed, branch)) = feed.zip(branch) else {
            rows.push(vec![
                Cell::count(row.number as usize),
                Cell::text(places::section(project, row.section)),
                Cell::Empty,
                Cell::Empty,
                Cell::text("no row feed"),
            ]);
            continue;
        };
        let mut way: Vec<String> = feed.trunk.iter().map(named).collect();
        way.extend(feed.split.as_ref().map(|split| match number_of(items, &split.entry) {
            Some(number) => format!("small tee (item {number})"),
            None => "small tee".to_owned(),
        }));
        way.extend(branch.elements.iter().map(named));
        rows.push(vec![
            Cell::count(row.number as usize),
            Cell::text(places::section(project, row.section)),
            Cell::text(feed.tag.as_str()),
            Cell::text(places::end(project, routing, &feed.from)),
            Cell::text(way.join(", then ")),
        ]);
    }
    Table {
        caption: "Every row".to_owned(),
        columns: vec![
            Column::count("Row", 0.6),
            Column::text("Section", 1.8),
            Column::text("Tube", 0.8),
            Column::text("From", 1.6),
            Column::text("In the order the liquid passes", 6.0),
        ],
        rows,
        ..Table::default()
    }
}
