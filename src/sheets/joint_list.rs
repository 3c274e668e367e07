//! The list of joints: what goes on every port, where the tube of every row starts and ends, and what holds it.

use std::fmt::Write as _;

use super::basis::Basis;
use super::document::{Block, CsvExtent, Document, PaperCell, PaperColumn, PaperTable, Shown};
use super::extras::{Extra, ExtraKind, lower, reducer};
use super::items::{ListItem, number_of};
use super::places;
use crate::plan::Manifold;
use crate::plan::cutting::cut_length;
use crate::plan::joints;
use crate::plan::kinds::{PartPort, PortName};
use crate::plan::routing::Connection;
use crate::plan::words;
use crate::plan::{
    Branch, Duty, End, EntryKey, FeedElement, FittingKey, Item, LaidRouting, ManifoldInlet, Part, PartItem,
    Port, PortRef, Project, Row, RowFeed, Run,
};
use crate::quantities::Measure;

/// The list of joints as a paper: every port but the outlets that feed rows, then every row, then what holds hoses,
/// tubes and parts where the frame alone does not. Lengths stand in the cut list.
pub fn joint_list(project: &Project, routing: LaidRouting, duty: &Duty) -> Document {
    from_basis(&Basis::new(project, routing, duty))
}

/// The same, from what other papers may have worked out already.
pub(super) fn from_basis(basis: &Basis) -> Document {
    let (project, routing, items) = (basis.project, basis.routing, basis.items());
    let mut document = Document::new("List of joints", basis);
    // Stands on the parts list before it.
    document.blocks.clear();
    document.blocks.push(Block::Table(ports(project, routing, items, basis.extras())));
    let (ways, rows) = rows(project, routing, items);
    document.blocks.extend(ways_in_words(ways).into_iter().map(Block::Paragraph));
    document.blocks.push(Block::Table(rows));
    let item = |holder| {
        let line = basis.extras().iter().find(|extra| extra.kind == ExtraKind::Held(holder));
        line.map(|extra| extra.number)
    };
    let held = basis.holding().tables(project, item);
    document.blocks.extend(held.into_iter().map(Block::Table));
    document.csv = CsvExtent::AllTables;
    document
}

fn ports(project: &Project, routing: LaidRouting, items: &[ListItem], extras: &[Extra]) -> PaperTable {
    let mut rows: Vec<Vec<PaperCell>> = Vec::new();
    for run in &routing.runs {
        for end in [&run.from, &run.to] {
            if *end == End::Supply {
                rows.push(vec![
                    PaperCell::text("pump outlet"),
                    PaperCell::text("ask before ordering"),
                    PaperCell::text(run.tag.as_str()),
                    PaperCell::text(fitting(project, routing, (items, extras), run, end)),
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
            let mut row = |what: String, fitting: String| {
                rows.push(vec![
                    PaperCell::text(format!("{} {}", part.tag, port_name(routing, at))),
                    PaperCell::text(joints::port_words(project, routing, at).unwrap_or("not known: ask")),
                    PaperCell::text(what),
                    PaperCell::text(fitting),
                ]);
            };
            if connections.is_empty() {
                row(nothing_on(item, &own).to_owned(), String::new());
            }
            for connection in connections {
                match connection {
                    Connection::Run(id) => {
                        let Some(run) = routing.run(id) else { continue };
                        let end = if run.from.port() == Some(at) { &run.from } else { &run.to };
                        row(run.tag.clone(), fitting(project, routing, (items, extras), run, end));
                    }
                    // In the table of the rows.
                    Connection::Feed(_) => {}
                    Connection::Mounted(id) => {
                        let Some(other) = routing.part(id) else { continue };
                        let connection = project.catalogue.entry(&other.entry).map(|one| &*one.connection);
                        let connection = connection.filter(|words| !words.trim().is_empty());
                        let how = connection.unwrap_or("how it is connected is not known: ask").to_owned();
                        row(mounted(project, items, other), how);
                    }
                }
            }
        }
        rows.extend(other_end(project, routing, part));
    }
    PaperTable {
        caption: "Ports".to_owned(),
        columns: vec![
            PaperColumn::text("Port", 1.7),
            PaperColumn::text("Made as", 2.0),
            PaperColumn::text("Goes on it", 2.0),
            PaperColumn::text("Fitting", 4.0),
        ],
        rows,
        notes: vec![
            "Outlets that feed rows stand in the table of the rows, hoses with both their ends in the cut list. Where a hose \
             has two fittings, the first is taken to be at its start and the second at its end."
                .to_owned(),
        ],
        ..PaperTable::default()
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
fn other_end(project: &Project, routing: LaidRouting, part: &Part) -> Option<Vec<PaperCell>> {
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
        PaperCell::text(format!("{} {across} end", part.tag)),
        PaperCell::text(words.unwrap_or("not known: ask")),
        PaperCell::text(if words.is_some() { "nothing" } else { "ask what closes it" }),
        PaperCell::Empty,
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

/// What meters a row, as it is ordered.
fn metering(project: &Project, items: &[ListItem], feed: &RowFeed, branch: &Branch) -> String {
    let elements = feed.trunk.iter().chain(&branch.elements).filter(|one| one.is_metering());
    let named = elements.map(|element| {
        let length = match element {
            FeedElement::MeteringTube { length, .. } => {
                format!(
                    " × {}",
                    Measure::CutLength
                        .short_text(cut_length(*length, project.units, true).si(), project.units)
                )
            }
            _ => String::new(),
        };
        let item = number_of(items, element.entry()).map_or_else(String::new, |one| format!(" (item {one})"));
        format!("{}{length}{item}", size(project, element.entry()))
    });
    named.collect::<Vec<_>>().join(", then ")
}

/// Where a row's outlet is: from the centre, and from the front rail.
fn row_place(project: &Project, row: &Row) -> [PaperCell; 2] {
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
    [PaperCell::text(side), PaperCell::text(behind)]
}

/// What the liquid passes, in words, and the rows that are fed so.
type Ways = Vec<(String, Vec<u32>)>;

/// One line a row: where it is and what feeds it. What all rows have alike, and what the liquid passes, is said once.
fn rows(project: &Project, routing: LaidRouting, items: &[ListItem]) -> (Ways, PaperTable) {
    let units = project.units;
    let planned: Vec<&Row> = project.bar.rows.iter().filter(|row| !row.left_out).collect();
    let mut rows = Vec::new();
    let mut ways = Ways::new();
    let mut heights: Vec<PaperCell> = Vec::new();
    let mut meterings: Vec<String> = Vec::new();
    for row in &planned {
        let section = places::section(project, row.section);
        let height = PaperCell::measure(Measure::CutLength, Some(row.outlet_height), units);
        let mut cells = vec![PaperCell::count(row.number as usize), PaperCell::text(section)];
        cells.extend(row_place(project, row));
        cells.push(height.clone());
        heights.push(height);
        let feed = routing.feed_of(row.id);
        let branch = feed.and_then(|feed| feed.branches.iter().find(|branch| branch.row == row.id));
        if let Some((feed, branch)) = feed.zip(branch) {
            let way = way(project, items, feed, branch);
            match ways.iter_mut().find(|one| one.0 == way) {
                Some(one) => one.1.push(row.number),
                None => ways.push((way, vec![row.number])),
            }
            let metering = metering(project, items, feed, branch);
            cells.extend([
                PaperCell::text(places::end(routing, &feed.from)),
                PaperCell::text(feed.tag.as_str()),
                PaperCell::text(metering.as_str()),
            ]);
            meterings.push(metering);
        } else {
            cells.extend([PaperCell::text("no row feed"), PaperCell::Empty, PaperCell::Empty]);
            meterings.push(String::new());
        }
        rows.push(cells);
    }
    let unit = Measure::CutLength.unit(units).symbol;
    let mut note = "Measured to the row's outlet, in working position: from the bar's centre line, left (L) or right (R) looking \
                    ahead, and from the middle of the section's foremost frame member."
        .to_owned();
    let one_height = heights.windows(2).all(|pair| pair[0] == pair[1]);
    let one_metering = meterings.windows(2).all(|pair| pair[0] == pair[1]);
    if let Some(height) = heights.first().filter(|_| one_height) {
        let _ = write!(note, " Outlets {} {unit} above the ground.", height.printed());
    } else {
        note.push_str(" Heights are above the ground.");
    }
    if let Some(metering) = meterings.first().filter(|one| one_metering && !one.is_empty()) {
        let _ = write!(note, " Metering: {metering} at every row.");
    }
    let where_it_differs = |same: bool| if same { Shown::InFiles } else { Shown::Everywhere };
    let table = PaperTable {
        caption: "Rows".to_owned(),
        columns: vec![
            PaperColumn::count("Row", 0.6),
            PaperColumn::text("Section", 1.9).only(Shown::InFiles),
            PaperColumn::text(format!("From centre, {unit}"), 1.1),
            PaperColumn::text(format!("From front rail, {unit}"), 1.4),
            PaperColumn::measure("Height", Measure::CutLength, units, 1.0).only(where_it_differs(one_height)),
            PaperColumn::text("Outlet", 1.2),
            PaperColumn::text("Tube", 0.8),
            PaperColumn::text("Metering", 1.8).only(where_it_differs(one_metering)),
        ],
        rows,
        groups: places::headings(planned.iter().map(|row| row.section), |one| {
            places::section(project, one).to_owned()
        }),
        totals: Vec::new(),
        notes: vec![note],
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
