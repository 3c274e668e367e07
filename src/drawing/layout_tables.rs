//! The figures that go with the layout: where the parts sit, the manifolds, the hoses and the rows. Drawings show those
//! that they have room for; a sheet of tables shows all, from here too, so that both say the same.

use crate::plan::Manifold;
use std::collections::BTreeMap;

use super::sheet_source::SheetSource;
use crate::geometry::{Point2, Point3};
use crate::plan::cutting::cut_length;
use crate::plan::words::ranges;
use crate::plan::{
    ElementGeometry, End, EntryKey, FeedElement, LaidRouting, Part, PartItem, Port, PortRef, Project, Row,
    RowFeed, SectionId,
};
use crate::quantities::{Length, Measure, UnitSystem};

/// One table.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LayoutTable {
    /// What it lists.
    pub caption: &'static str,
    /// Headings with their units.
    pub heading: Vec<String>,
    /// Its lines; each has one cell a heading.
    pub lines: Vec<Vec<String>>,
    /// What must be known to read it.
    pub note: String,
}

/// All of them, in the order they are printed.
pub fn layout_tables(source: &SheetSource) -> Vec<LayoutTable> {
    vec![places(source), manifolds(source), hoses(source), rows(source)]
}

/// Nothing, where nothing is known.
const NONE: &str = "–";

fn item(source: &SheetSource, entry: &EntryKey) -> String {
    source.items.get(entry).map_or_else(String::new, |number| number.to_string())
}

/// As a tape measure shows it: millimetres or inches.
fn tape(length: f64, units: UnitSystem) -> String {
    Measure::CutLength.number(length.abs(), units)
}

/// What stands on the bar by itself: tag, item, section, place and how it is turned. Parts that are not screwed onto
/// another, and the small tees of shared row feeds.
fn standing(source: &SheetSource) -> Vec<(String, String, Option<SectionId>, [String; 5])> {
    let SheetSource { project, routing, .. } = *source;
    let mut all = Vec::new();
    for (part, placed) in routing.parts.iter().zip(routing.geometry.anchors.parts()) {
        if part.mount.is_some() {
            continue;
        }
        let section = Some(part.section);
        let cells = place_cells(source, placed.at, section, turned(project, routing, part));
        all.push((part.tag.clone(), item(source, &part.entry), section, cells));
    }
    for feed in &routing.feeds {
        let Some(split) = &feed.split else { continue };
        let section = Some(split.position.section);
        let cells = place_cells(source, split.position.place, section, "as the tubes lead".to_owned());
        all.push((format!("{} tee", feed.tag), item(source, &split.entry), section, cells));
    }
    all
}

/// Where something is and how it stands: from the centre line, from its section's hinge, from the front frame member,
/// above the ground, and which way it is turned.
fn place_cells(source: &SheetSource, at: Point3, section: Option<SectionId>, stands: String) -> [String; 5] {
    let SheetSource { project, units, .. } = *source;
    let place = project.bar.place(section, at);
    let side = match place.from_centre {
        x if x > 0.0005 => format!("{} right", tape(x, units)),
        x if x < -0.0005 => format!("{} left", tape(x, units)),
        _ => "on it".to_owned(),
    };
    let from_hinge = place.from_hinge.map_or_else(|| NONE.to_owned(), |from| tape(from, units));
    let behind = match place.behind_front {
        Some(behind) if behind < -0.0005 => format!("{} in front", tape(behind, units)),
        Some(behind) if behind < 0.0005 => "on it".to_owned(),
        Some(behind) => format!("{} behind", tape(behind, units)),
        None => NONE.to_owned(),
    };
    [side, from_hinge, behind, tape(place.height, units), stands]
}

/// `outlets face the rear, 1 at the left`, `branch faces the front`.
pub fn turned(project: &Project, routing: LaidRouting, part: &Part) -> String {
    let anchors = &routing.geometry.anchors;
    let faces = |port| anchors.faces(PortRef { part: part.id, port });
    let says = |what: &str, port| faces(port).map(|side| format!("{what} the {side}"));
    let Some(item) = project.catalogue.item(&part.entry) else { return String::new() };
    let words = match item {
        PartItem::Manifold(Manifold { outlets, .. }) => {
            let at = |number| {
                let port = PortRef { part: part.id, port: Port::Outlet(number) };
                anchors.port(port).map(|at| at.place.flat())
            };
            let first = at(1).zip(at(*outlets)).filter(|_| *outlets > 1).map(|(first, last)| {
                let side = crate::plan::part::side(Point2::new(first.x - last.x, first.y - last.y));
                format!(", 1 at the {side}")
            });
            says("outlets face", Port::Outlet(1)).map(|words| words + &first.unwrap_or_default())
        }
        // On a port that says it.
        other if other.is_on_port() => None,
        other if other.has_port(Port::Branch) => says("branch faces", Port::Branch),
        _ => says("inlet faces", Port::In),
    };
    words.unwrap_or_default()
}

fn place_heading(units: UnitSystem) -> [String; 5] {
    let unit = Measure::CutLength.unit(units).symbol;
    [
        format!("From centre, {unit}"),
        format!("From hinge, {unit}"),
        format!("From front rail, {unit}"),
        format!("Height, {unit}"),
        "Orientation".to_owned(),
    ]
}

const PLACE_NOTE: &str = "Measured to the middle of the part, in working position: from the bar's centre line, from the hinge that its \
     section hangs on, from the middle of the section's foremost frame member, and above the ground. What is screwed onto a port is not listed.";

/// Where every part sits.
pub(super) fn places(source: &SheetSource) -> LayoutTable {
    let mut heading = ["Part", "Item", "Section"].map(str::to_owned).to_vec();
    heading.extend(place_heading(source.units));
    let lines = standing(source).into_iter().map(|(tag, item, section, cells)| {
        let section = section.and_then(|id| source.project.bar.section(id));
        let mut line = vec![tag, item, section.map_or_else(String::new, |one| one.name.clone())];
        line.extend(cells);
        line
    });
    LayoutTable {
        caption: "Where the parts sit",
        heading,
        lines: lines.collect(),
        note: PLACE_NOTE.to_owned(),
    }
}

/// The same for one section, short enough to stand on its drawing.
pub(super) fn places_of(source: &SheetSource, section: SectionId) -> LayoutTable {
    let mut heading = vec!["Part".to_owned()];
    heading.extend(place_heading(source.units));
    let own = standing(source).into_iter().filter(|(_, _, of, _)| *of == Some(section));
    let lines = own.map(|(tag, _, _, cells)| std::iter::once(tag).chain(cells).collect());
    LayoutTable { caption: "Where the parts sit", heading, lines: lines.collect(), note: String::new() }
}

/// Every manifold with its rows.
pub(super) fn manifolds(source: &SheetSource) -> LayoutTable {
    let SheetSource { project, routing, units, outcome, .. } = *source;
    let mut heading = ["Manifold", "Item", "Section", "Outlets", "Rows"].map(str::to_owned).to_vec();
    if outcome.is_some() {
        heading.push(format!("Pressure, {}", Measure::Pressure.unit(units).symbol));
    }
    let mut lines = Vec::new();
    for part in &routing.parts {
        let Some(PartItem::Manifold(Manifold { outlets, .. })) = project.catalogue.item(&part.entry) else {
            continue;
        };
        let rows: Vec<u32> = routing
            .feeds
            .iter()
            .filter(|feed| feed.from.port().is_some_and(|port| port.part == part.id))
            .flat_map(|feed| &feed.branches)
            .filter_map(|branch| Some(project.bar.row(branch.row)?.number))
            .collect();
        let section = project.bar.section(part.section).map_or_else(String::new, |one| one.name.clone());
        let mut line =
            vec![part.tag.clone(), item(source, &part.entry), section, outlets.to_string(), ranges(&rows)];
        if let Some(outcome) = outcome {
            let pressure = outcome.part(part.id).and_then(|part| part.pressure);
            line.push(
                pressure.map_or_else(|| NONE.to_owned(), |one| Measure::Pressure.number(one.si(), units)),
            );
        }
        lines.push(line);
    }
    LayoutTable { caption: "Manifolds", heading, lines, note: String::new() }
}

/// Every hose.
pub(super) fn hoses(source: &SheetSource) -> LayoutTable {
    let SheetSource { project, routing, units, outcome, .. } = *source;
    let tag = |end: &End| match end {
        End::Supply => "pump".to_owned(),
        End::Loose(_) => "loose end".to_owned(),
        End::Port(port) => routing
            .part(port.part)
            .map_or_else(String::new, |part| routing.geometry.anchors.port_words(&part.tag, *port)),
    };
    let bore = format!("Ø, {}", Measure::Bore.unit(units).symbol);
    let length = format!("Length, {}", Measure::CutLength.unit(units).symbol);
    let mut heading = ["Hose", "Item", "From", "To", &bore, &length].map(str::to_owned).to_vec();
    if outcome.is_some() {
        heading.push(format!("Flow, {}", Measure::TotalFlow.unit(units).symbol));
    }
    let mut lines = Vec::new();
    for run in &routing.runs {
        let stock = project.catalogue.stock(&run.line.stock);
        let length = routing.geometry.run(run.id).map(|laid| laid.length);
        let mut line = vec![
            run.tag.clone(),
            item(source, &run.line.stock),
            tag(&run.from),
            tag(&run.to),
            stock.map_or_else(String::new, |one| Measure::Bore.short_number(one.bore.si(), units)),
            length.map_or_else(|| NONE.to_owned(), |one| cut(one, units, false)),
        ];
        if let Some(outcome) = outcome {
            let flow = outcome.run(run.id).and_then(|run| run.flow);
            line.push(
                flow.map_or_else(|| NONE.to_owned(), |one| Measure::TotalFlow.number(one.si().abs(), units)),
            );
        }
        lines.push(line);
    }
    LayoutTable { caption: "Hoses", heading, lines, note: String::new() }
}

/// A length as it is cut, without its unit.
fn cut(length: Length, units: UnitSystem, is_metering: bool) -> String {
    Measure::CutLength.number(cut_length(length, units, is_metering).si(), units)
}

/// Headings of the figures of a row.
pub(super) fn row_heading(source: &SheetSource) -> Vec<String> {
    let units = source.units;
    let bore = Measure::Bore.unit(units).symbol;
    let mut heading = vec![
        "Row".to_owned(),
        "From outlet".to_owned(),
        "Tube".to_owned(),
        format!("Tube Ø, {bore}"),
        format!("Length, {}", Measure::CutLength.unit(units).symbol),
        format!("Metering Ø, {bore}"),
        "Items".to_owned(),
    ];
    if source.outcome.is_some() {
        heading.push(format!("Flow, {}", Measure::RowFlow.unit(units).symbol));
    }
    heading
}

/// The figures of a row, as [`row_heading`] names them.
pub(super) fn row_cells(source: &SheetSource, row: &Row) -> Vec<String> {
    let mut cells = vec![row.number.to_string()];
    let feed = source.routing.feed_of(row.id);
    let many = row_heading(source).len();
    match feed {
        _ if row.left_out => cells.push("left out".to_owned()),
        None => cells.push("no feed".to_owned()),
        Some(feed) => cells.extend(feed_cells(source, row, feed)),
    }
    if let (Some(outcome), Some(_), false) = (source.outcome, feed, row.left_out) {
        let flow = outcome.row(row.id).map(|row| row.flow);
        cells.push(
            flow.map_or_else(|| NONE.to_owned(), |one| Measure::RowFlow.number(one.si(), source.units)),
        );
    }
    cells.resize(many, NONE.to_owned());
    cells
}

/// Every row.
pub(super) fn rows(source: &SheetSource) -> LayoutTable {
    let bar = &source.project.bar;
    let mut heading = row_heading(source);
    heading.insert(1, "Section".to_owned());
    let [centre, _, rail, height, _] = place_heading(source.units);
    heading.splice(2..2, [centre, rail, height]);
    let lines = bar.rows.iter().map(|row| {
        let mut line = row_cells(source, row);
        line.insert(1, bar.section(row.section).map_or_else(String::new, |one| one.name.clone()));
        let [centre, _, rail, height, _] =
            place_cells(source, bar.outlet(row), Some(row.section), String::new());
        line.splice(2..2, [centre, rail, height]);
        line
    });
    let note = "Places are those of the row's outlet, measured as those of the parts. Lengths of several tubes of one row stand in the order the liquid passes, the shared one first. Metering \
                tubes: bore × length. Items in the same order."
        .to_owned();
    LayoutTable { caption: "Rows", heading, lines: lines.collect(), note }
}

/// What stands in the columns of a row: outlet, tube, bore, lengths, metering, items.
fn feed_cells(source: &SheetSource, row: &Row, feed: &RowFeed) -> Vec<String> {
    let SheetSource { project, routing, units, items, .. } = *source;
    let outlet = match feed.from.port() {
        Some(port) => {
            let tag = routing.part(port.part).map_or("?", |part| part.tag.as_str());
            match port.port {
                Port::Outlet(number) => format!("{tag}/{number}"),
                _ => tag.to_owned(),
            }
        }
        None => "loose".to_owned(),
    };
    let index = feed.branches.iter().position(|branch| branch.row == row.id);
    let own = index.and_then(|index| feed.branches.get(index)).map_or(&[][..], |branch| &branch.elements);
    let laid: Vec<&ElementGeometry> = routing.geometry.feed(feed.id).map_or_else(Vec::new, |geometry| {
        let own = index.map_or(&[][..], |index| geometry.stretch(Some(index)));
        geometry.trunk.iter().chain(own).collect()
    });
    let elements: Vec<&FeedElement> = feed.trunk.iter().chain(own).collect();
    let mut lengths = Vec::new();
    let mut bores: Vec<String> = Vec::new();
    let mut metering = NONE.to_owned();
    for (at, element) in elements.iter().enumerate() {
        match element {
            FeedElement::Tube(tube) => {
                lengths.extend(laid.get(at).and_then(|laid| laid.length).map(|one| cut(one, units, false)));
                let bore = project.catalogue.stock(&tube.line.stock);
                bores.extend(bore.map(|stock| Measure::Bore.short_number(stock.bore.si(), units)));
            }
            FeedElement::Piece(kind, entry) => {
                if let Some(item) = project.catalogue.item(entry).filter(|_| kind.is_metering()) {
                    metering = Measure::Bore.fine_number(item.bore().si(), units);
                }
            }
            FeedElement::MeteringTube { stock, length, .. } => {
                let bore = project.catalogue.stock(stock).map_or(0.0, |stock| stock.bore.si());
                metering =
                    format!("{} × {}", Measure::Bore.fine_number(bore, units), cut(*length, units, true));
            }
            FeedElement::Fitting(_) => {}
        }
    }
    bores.dedup();
    let or_none = |words: Vec<String>| if words.is_empty() { NONE.to_owned() } else { words.join(" + ") };
    let split = feed.split.as_ref().map(|split| &*split.entry);
    let passed =
        feed.trunk.iter().map(FeedElement::entry).chain(split).chain(own.iter().map(FeedElement::entry));
    let numbers: Vec<String> = passed.filter_map(|entry| items.get(entry)).map(usize::to_string).collect();
    vec![outlet, feed.tag.clone(), or_none(bores), or_none(lengths), metering, numbers.join(" ")]
}

/// Item numbers of what a routing uses without a place of its own on the layout, by reason.
pub(super) fn without_balloons(source: &SheetSource) -> String {
    let SheetSource { routing, items, .. } = *source;
    let numbers = |entries: &mut dyn Iterator<Item = &EntryKey>| -> Vec<u32> {
        entries.filter_map(|entry| items.get(entry)).filter_map(|one| u32::try_from(*one).ok()).collect()
    };
    let fittings = numbers(&mut routing.runs.iter().flat_map(|run| run.fittings.iter().map(|one| &**one)));
    let in_feeds = numbers(&mut routing.feeds.iter().flat_map(|feed| {
        let elements =
            feed.elements().filter(|one| !matches!(one, FeedElement::Tube(_))).map(FeedElement::entry);
        elements.chain(feed.split.iter().map(|split| &*split.entry))
    }));
    let mut reasons: BTreeMap<&str, Vec<u32>> = BTreeMap::new();
    reasons.insert("at the ends of hoses, see the list of joints", fittings);
    reasons.insert("in the tubes of the rows, see the row table", in_feeds);
    let words: Vec<String> = reasons
        .into_iter()
        .filter(|(_, numbers)| !numbers.is_empty())
        .map(|(reason, numbers)| {
            let mut single = numbers.clone();
            single.sort_unstable();
            single.dedup();
            format!("{} {} {reason}", if single.len() == 1 { "item" } else { "items" }, ranges(&numbers))
        })
        .collect();
    if words.is_empty() { String::new() } else { format!("Without balloons: {}", words.join("; ")) }
}
