//! The fitting list: what goes on every port, and what stands at the end of every tube.

use super::basis::Basis;
use super::cautions;
use super::document::{Block, Cell, Column, Document, Table};
use super::extras::{Extra, extras, lower, reducer};
use super::items::{ListItem, number_of};
use super::places;
use crate::plan::Manifold;
use crate::plan::joints;
use crate::plan::kinds::{PartPort, PortName};
use crate::plan::routing::Connection;
use crate::plan::words;
use crate::plan::{
    Branch, Duty, End, EntryKey, FeedElement, FittingKey, Item, LaidRouting, LineGeometry, ManifoldInlet,
    Part, PartItem, Port, PortRef, Project, Row, RowFeed, Run,
};
use crate::quantities::Measure;

/// The fitting list as a paper: every port, then every row.
pub fn port_list(project: &Project, routing: LaidRouting, duty: &Duty) -> Document {
    from_basis(&Basis::new(project, routing, duty))
}

/// The same, from what other papers may have worked out already.
pub(super) fn from_basis(basis: &Basis) -> Document {
    let (project, routing, items) = (basis.project, basis.routing, basis.items());
    let extras = extras(project, routing, basis.cut_plan(), items.len());
    let mut document = Document::new("Fitting list by port", basis);
    document.blocks.push(Block::Table(ports(project, routing, items, &extras)));
    let (ways, rows) = rows(project, routing, items);
    document.blocks.extend(ways_in_words(ways).into_iter().map(Block::Paragraph));
    document.blocks.push(Block::Table(rows));
    document.blocks.push(Block::Paragraph(cautions::FIRST.to_owned()));
    document
}

fn ports(project: &Project, routing: LaidRouting, items: &[ListItem], extras: &[Extra]) -> Table {
    let hose_to = |run: &Run, far: &End| format!("{}, hose to {}", run.tag, places::end(routing, far));
    let mut rows: Vec<Vec<Cell>> = Vec::new();
    for run in &routing.runs {
        for (end, far) in [(&run.from, &run.to), (&run.to, &run.from)] {
            if *end == End::Supply {
                rows.push(vec![
                    Cell::text("pump"),
                    Cell::Empty,
                    Cell::text("outlet"),
                    Cell::text("ask before ordering"),
                    Cell::text(hose_to(run, far)),
                    Cell::text(size(project, &run.line.stock)),
                    Cell::text(fitting(project, routing, (items, extras), run, end)),
                ]);
            }
        }
    }
    for part in &routing.parts {
        let Some(item) = project.catalogue.item(&part.entry) else { continue };
        // A gauge or plug is listed at the port it sits on.
        if part.mount.is_some() && item.is_on_port() {
            continue;
        }
        for own in item.port_places() {
            let at = PortRef { part: part.id, port: own.port };
            let connections = routing.on_port(at);
            let mut row = |what: String, size: String, fitting: String| {
                rows.push(vec![
                    Cell::text(part.tag.as_str()),
                    number_of(items, &part.entry).map_or(Cell::Empty, Cell::count),
                    Cell::text(port_name(routing, at)),
                    Cell::text(joints::port_words(project, routing, at).unwrap_or("not known: ask")),
                    Cell::text(what),
                    Cell::text(size),
                    Cell::text(fitting),
                ]);
            };
            if connections.is_empty() {
                row(nothing_on(item, &own).to_owned(), String::new(), String::new());
            }
            for connection in connections {
                match connection {
                    Connection::Run(id) => {
                        let Some(run) = routing.run(id) else { continue };
                        let (end, far) = if run.from.port() == Some(at) {
                            (&run.from, &run.to)
                        } else {
                            (&run.to, &run.from)
                        };
                        let fitting = fitting(project, routing, (items, extras), run, end);
                        row(hose_to(run, far), size(project, &run.line.stock), fitting);
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
                        let connection = project.catalogue.entry(&other.entry).map(|one| &*one.connection);
                        let connection = connection.filter(|words| !words.trim().is_empty());
                        let how = connection.unwrap_or("how it is connected is not known: ask").to_owned();
                        row(mounted(project, items, other), String::new(), how);
                    }
                }
            }
        }
        rows.extend(other_end(project, routing, items, part));
    }
    Table {
        caption: "Every port".to_owned(),
        columns: vec![
            Column::text("Part", 0.8),
            Column::count("Item", 0.7),
            Column::text("Port", 1.5),
            Column::text("Made as", 2.4),
            Column::text("Goes on it", 3.0),
            Column::text("Bore", 1.0),
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

/// The name of a port; of a manifold's far end with the side it is on.
fn port_name(routing: LaidRouting, at: PortRef) -> String {
    let name = places::port(routing, at);
    let anchors = &routing.geometry.anchors;
    if anchors.placed_port(at).is_some_and(|port| port.name == PortName::FarEnd) {
        format!("{name}, {}", anchors.faces(at).unwrap_or_default())
    } else {
        name
    }
}

/// The end of a manifold that has no port, where its inlet is in its middle: the one across from its far end.
fn other_end(project: &Project, routing: LaidRouting, items: &[ListItem], part: &Part) -> Option<Vec<Cell>> {
    let entry = project.catalogue.entry(&part.entry)?;
    let Item::Part(PartItem::Manifold(Manifold { inlet: ManifoldInlet::Middle, .. })) = entry.item else {
        return None;
    };
    let far = routing.geometry.anchors.faces(PortRef { part: part.id, port: Port::Out })?;
    let across = match far {
        "left" => "right",
        "right" => "left",
        "front" => "rear",
        _ => "front",
    };
    let words = joints::words_for(&entry.connection, "other end");
    Some(vec![
        Cell::text(part.tag.as_str()),
        number_of(items, &part.entry).map_or(Cell::Empty, Cell::count),
        Cell::text(format!("{across} end")),
        Cell::text(words.unwrap_or("not known: ask")),
        Cell::text(if words.is_some() { "nothing" } else { "ask what closes it" }),
        Cell::Empty,
        Cell::Empty,
    ])
}

/// What a port without anything on it is.
const fn nothing_on(item: &PartItem, port: &PartPort) -> &'static str {
    if port.comes_plugged {
        "nothing: stays plugged as delivered"
    } else if item.is_on_port() {
        "nothing: it is not mounted on a port yet"
    } else {
        "OPEN: join or plug it, it would spray"
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

/// The fitting of a hose at a port or the pump, after the reducer that it needs.
fn fitting(
    project: &Project,
    routing: LaidRouting,
    (items, extras): (&[ListItem], &[Extra]),
    run: &Run,
    end: &End,
) -> String {
    let named = |key: &FittingKey| {
        let description = project.catalogue.entry(key).map_or(key.0.as_str(), |entry| &entry.description);
        match number_of(items, key) {
            Some(number) => format!("{description} (item {number})"),
            None => description.to_owned(),
        }
    };
    let own = match (run.fittings.as_slice(), joints::fitting_at(run, end.port())) {
        ([], _) => "none listed".to_owned(),
        (_, Some(fitting)) => named(fitting),
        (some, None) => {
            let names: Vec<String> = some.iter().map(named).collect();
            format!("along {}: {}", run.tag, names.join("; "))
        }
    };
    let Some((description, size)) = reducer(project, routing, run, end) else { return own };
    let item = extras.iter().find(|one| one.description == description && one.size == size);
    let item = item.map_or_else(String::new, |one| format!(" (item {})", one.number));
    format!("{description}{item}, then {}", lower(&own))
}

/// What each row has between its manifold and its outlet, in the order the liquid passes.
fn way(project: &Project, items: &[ListItem], feed: &RowFeed, branch: &Branch) -> String {
    let named = |element: &FeedElement| match number_of(items, element.entry()) {
        Some(number) => format!("{} {} (item {number})", element.kind(), size(project, element.entry())),
        None => element.kind().to_owned(),
    };
    let mut way: Vec<String> = feed.trunk.iter().map(named).collect();
    way.extend(feed.split.as_ref().map(|split| match number_of(items, &split.entry) {
        Some(number) => format!("small tee (item {number})"),
        None => "small tee".to_owned(),
    }));
    way.extend(branch.elements.iter().map(named));
    way.join(", then ")
}

/// Lengths of a row's delivery tubes as they are cut, the shared one first, without their unit.
fn tube_lengths(project: &Project, routing: LaidRouting, feed: &RowFeed, branch: &Branch) -> String {
    let geometry = routing.geometry.feed(feed.id);
    let at = feed.branches.iter().position(|one| one.row == branch.row);
    let Some((geometry, at)) = geometry.zip(at) else { return "not known".to_owned() };
    let laid = geometry.trunk.iter().chain(geometry.stretch(Some(at)));
    let cut = |tube: &LineGeometry| Measure::CutLength.number(tube.cut(project.units).si(), project.units);
    let lengths: Vec<String> = laid.filter_map(|laid| laid.tube.as_ref()).map(cut).collect();
    lengths.join(" + ")
}

/// What meters a row, as it is ordered.
fn metering(project: &Project, items: &[ListItem], feed: &RowFeed, branch: &Branch) -> String {
    let elements = feed.trunk.iter().chain(&branch.elements).filter(|one| one.is_metering());
    let named = elements.map(|element| {
        let length = match element {
            FeedElement::MeteringTube { length, .. } => {
                format!(" × {}", Measure::CutLength.short_text(length.si(), project.units))
            }
            _ => String::new(),
        };
        let item = number_of(items, element.entry()).map_or_else(String::new, |one| format!(" (item {one})"));
        format!("{}{length}{item}", size(project, element.entry()))
    });
    named.collect::<Vec<_>>().join(", then ")
}

/// Where each row's outlet is: from the centre, from the front rail and above the ground, with the rank.
fn row_place(project: &Project, row: &Row) -> [Cell; 4] {
    let units = project.units;
    let tape = |length: f64| Measure::CutLength.number(length.abs(), units);
    let place = project.bar.place(Some(row.section), project.bar.outlet(row));
    let behind = match place.behind_front {
        Some(behind) if behind < -0.0005 => format!("{} in front", tape(behind)),
        Some(behind) if behind < 0.0005 => "on it".to_owned(),
        Some(behind) => format!("{} behind", tape(behind)),
        None => "–".to_owned(),
    };
    let side = match place.from_centre {
        x if x > 0.0005 => format!("{} R", tape(x)),
        x if x < -0.0005 => format!("{} L", tape(x)),
        _ => "on it".to_owned(),
    };
    [
        Cell::text(side),
        Cell::count(row.rank + 1),
        Cell::text(behind),
        Cell::measure(Measure::CutLength, Some(row.outlet_height), units),
    ]
}

/// What the liquid passes, in words, and the rows that are fed so.
type Ways = Vec<(String, Vec<u32>)>;

/// One line a row: where it is and what feeds it. What the liquid passes is said once for all rows that are alike.
fn rows(project: &Project, routing: LaidRouting, items: &[ListItem]) -> (Ways, Table) {
    let mut rows = Vec::new();
    let mut ways = Ways::new();
    for row in project.bar.rows.iter().filter(|row| !row.left_out) {
        let mut cells = vec![Cell::count(row.number as usize)];
        cells.extend(row_place(project, row));
        cells.push(Cell::text(places::section(project, row.section)));
        let feed = routing.feed_of(row.id);
        let branch = feed.and_then(|feed| feed.branches.iter().find(|branch| branch.row == row.id));
        if let Some((feed, branch)) = feed.zip(branch) {
            let way = way(project, items, feed, branch);
            match ways.iter_mut().find(|one| one.0 == way) {
                Some(one) => one.1.push(row.number),
                None => ways.push((way, vec![row.number])),
            }
            cells.extend([
                Cell::text(places::end(routing, &feed.from)),
                Cell::text(feed.tag.as_str()),
                Cell::text(tube_lengths(project, routing, feed, branch)),
                Cell::text(metering(project, items, feed, branch)),
            ]);
        } else {
            cells.extend([Cell::text("no row feed"), Cell::Empty, Cell::Empty, Cell::Empty]);
        }
        rows.push(cells);
    }
    let unit = Measure::CutLength.unit(project.units).symbol;
    let note = "Measured to the row's outlet, in working position: from the bar's centre line, left (L) or right (R) looking \
                ahead, from the middle of the section's foremost frame member, and above the ground. Rank 1 is the foremost. \
                Lengths of several tubes of one row: the shared one first.";
    let table = Table {
        caption: "Every row".to_owned(),
        columns: vec![
            Column::count("Row", 0.6),
            Column::text(format!("From centre, {unit}"), 1.1),
            Column::count("Rank", 0.7),
            Column::text(format!("From front rail, {unit}"), 1.4),
            Column::measure("Height", Measure::CutLength, project.units, 1.0),
            Column::text("Section", 1.9),
            Column::text("From", 1.6),
            Column::text("Tube", 0.8),
            Column::text(format!("Length, {unit}"), 1.2),
            Column::text("Metering", 1.8),
        ],
        rows,
        totals: Vec::new(),
        notes: vec![note.to_owned()],
    };
    (ways, table)
}

/// What the liquid passes on its way to most rows, and to those that differ.
fn ways_in_words(mut ways: Ways) -> Vec<String> {
    // Stable: the first of equals stays first.
    ways.sort_by_key(|one| std::cmp::Reverse(one.1.len()));
    let many = ways.len();
    let says = |(at, (way, rows)): (usize, (String, Vec<u32>))| {
        let which = match (at, many, rows.len()) {
            (0, 1, _) => "Every row that is fed".to_owned(),
            (0, _, _) => "Rows that are not named below".to_owned(),
            (_, _, 1) => format!("Row {}", words::ranges(&rows)),
            _ => format!("Rows {}", words::ranges(&rows)),
        };
        format!("{which}, in the order the liquid passes: {way}.")
    };
    ways.into_iter().enumerate().map(says).collect()
}
