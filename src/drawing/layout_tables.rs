//! The figures that go with the layout: places of parts as they stand beside them, and the rows. Drawings show the rows
//! where they have room for them; else a sheet of its own does, from here too, so that both say the same.

use crate::plan::Manifold;
use std::collections::BTreeMap;

use super::sheet_source::SheetSource;
use crate::geometry::{Point2, Point3};
use crate::plan::cutting::cut_length;
use crate::plan::place_words::{self, place_letters, tape};
use crate::plan::words::ranges;
use crate::plan::{
    ElementGeometry, EntryKey, FeedElement, LaidRouting, Part, PartItem, Port, PortRef, Project, Row,
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

/// Nothing, where nothing is known.
pub(super) const NONE: &str = "–";

/// Where a row's outlet is: from the centre line, from the front frame member, above the ground.
fn place_cells(source: &SheetSource, at: Point3, section: Option<SectionId>) -> [String; 3] {
    let SheetSource { project, units, .. } = *source;
    let place = project.bar.place(section, at);
    let side = match place.from_centre {
        x if x > 0.0005 => format!("{} right", tape(x, units)),
        x if x < -0.0005 => format!("{} left", tape(x, units)),
        _ => "on it".to_owned(),
    };
    let behind = match place.behind_front {
        Some(behind) if behind < -0.0005 => format!("{} in front", tape(behind, units)),
        Some(behind) if behind < 0.0005 => "on it".to_owned(),
        Some(behind) => format!("{} behind", tape(behind, units)),
        None => NONE.to_owned(),
    };
    [side, behind, tape(place.height, units)]
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

/// Where something is, as it stands beside it on the drawing: `H 900, F 900`. H is measured from the hinge that its
/// section hangs on, C from the bar's centre line, F from the middle of the section's foremost frame member, Z above the
/// ground where not all parts are as high.
pub(super) fn position_words(
    source: &SheetSource,
    at: Point3,
    section: SectionId,
    height_of_all: Option<&str>,
) -> String {
    let SheetSource { project, units, .. } = *source;
    let words = place_words::position(&project.bar, at, section, units);
    if height_of_all.is_some() { words } else { format!("{words}, Z {}", tape(at.z, units)) }
}

/// The height of all parts that stand on the bar by themselves, as a tape measure shows it; none where they differ.
pub(super) fn common_height(source: &SheetSource) -> Option<String> {
    let SheetSource { routing, units, .. } = *source;
    let parts = routing.parts.iter().zip(routing.geometry.anchors.parts());
    let parts = parts.filter(|(part, _)| part.mount.is_none()).map(|(_, placed)| placed.at.z);
    let tees = routing.feeds.iter().filter_map(|feed| Some(feed.split.as_ref()?.position.place.z));
    let mut heights = parts.chain(tees).map(|height| tape(height, units));
    let first = heights.next()?;
    heights.all(|height| height == first).then_some(first)
}

/// What the letters of places mean, and the height that all parts have.
pub(super) fn position_note(source: &SheetSource, height_of_all: Option<&str>) -> String {
    let unit = Measure::CutLength.unit(source.units).symbol;
    let height = match height_of_all {
        Some(height) => format!("all parts {height} {unit} above the ground"),
        None => "Z above the ground".to_owned(),
    };
    format!("Places to the middle of a part in {}; {height}", place_letters(source.units))
}

/// A length without its unit.
fn cut_number(length: Length, units: UnitSystem) -> String {
    Measure::CutLength.number(length.si(), units)
}

/// Headings of the figures of a row.
pub(super) fn row_heading(source: &SheetSource) -> Vec<String> {
    let units = source.units;
    let bore = Measure::Bore.unit(units).symbol;
    let mut heading = vec![
        "Row".to_owned(),
        "From outlet".to_owned(),
        "Tube".to_owned(),
        format!("Tube size, {bore}"),
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

/// Every row, for sheets on which the figures of rows have no room.
pub fn row_table(source: &SheetSource) -> LayoutTable {
    let bar = &source.project.bar;
    let mut heading = row_heading(source);
    heading.insert(1, "Section".to_owned());
    let unit = Measure::CutLength.unit(source.units).symbol;
    heading.splice(2..2, ["From centre", "From front rail", "Height"].map(|one| format!("{one}, {unit}")));
    let lines = bar.rows.iter().map(|row| {
        let mut line = row_cells(source, row);
        line.insert(1, bar.section(row.section).map_or_else(String::new, |one| one.name.clone()));
        line.splice(2..2, place_cells(source, bar.outlet(row), Some(row.section)));
        line
    });
    let note = "Places are those of the row's outlet. Lengths of several tubes of one row stand in the order the liquid passes, the shared one first. Metering \
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
                let laid = laid.get(at).and_then(|laid| laid.tube.as_ref());
                lengths.extend(laid.map(|laid| cut_number(laid.cut(project), units)));
                bores.push(source.diameters(&tube.line.stock));
            }
            FeedElement::Piece(kind, entry) => {
                if let Some(item) = project.catalogue.item(entry).filter(|_| kind.is_metering()) {
                    metering = Measure::Bore.fine_number(item.bore().si(), units);
                }
            }
            FeedElement::MeteringTube { stock, length, .. } => {
                let bore = project.catalogue.stock(stock).map_or(0.0, |stock| stock.bore.si());
                metering = format!(
                    "{} × {}",
                    Measure::Bore.fine_number(bore, units),
                    cut_number(cut_length(*length, units, true), units)
                );
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

/// Where the fittings of hoses are.
pub const AT_HOSE_ENDS: &str = "at the ends of hoses, see the list of joints";

/// Where what meters and joins in the feeds of rows is.
pub const IN_ROW_TUBES: &str = "in the tubes of the rows";

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
    reasons.insert(AT_HOSE_ENDS, fittings);
    reasons.insert(IN_ROW_TUBES, in_feeds);
    for (reason, numbers) in source.beside {
        reasons.entry(reason).or_default().extend(numbers);
    }
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
