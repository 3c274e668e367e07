//! The parts list: everything a routing is made of, and the item numbers that balloons on the sheets show.

use std::collections::BTreeMap;

use super::basis::Basis;
use super::cut_list::{CutPlan, StockPlan};
use super::document::{Block, Cell, Column, Document, Table};
use super::joints::{self, Form, Joint};
use super::{cautions, places};
use crate::checks::{self, Finding, Severity};
use crate::plan::kinds::Spares;
use crate::plan::words;
use crate::plan::{
    Duty, End, Entry, EntryKey, FeedElement, Item, LaidRouting, Price, Project, Run, StockItem,
};
use crate::quantities::{Length, Measure, Pressure, UnitSystem};

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
        feed.split.iter().for_each(|split| add(&split.entry, &feed.tag));
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

/// Spare pieces to order with so many in use (common practice, no source).
pub fn spare_pieces(item: &Item, pieces: usize) -> usize {
    match item.item_kind().common().spares {
        Spares::OneInTwenty => pieces.div_ceil(20).max(2),
        Spares::One => 1,
        Spares::None => 0,
    }
}

const SPARES: &str = "Spares cover what plugs, wears or gets lost: one in twenty, at least two, of check valves, metering \
                      orifices, fittings, small tees, push-in reducers, seals, clamps and outlets; one blanking plug; of every hose and tube the \
                      longest piece once more. They do not cover filters, tees, section valves, manifolds, gauges, threaded \
                      reducers, ties and labels (common practice, no source).";

/// Supports of hoses and tubes, metres apart (common practice, no source: 300 to 500 mm and 200 to 400 mm).
const HOSE_SUPPORTS: f64 = 0.4;
const TUBE_SUPPORTS: f64 = 0.3;

/// What to buy of one item, and what it costs.
struct Line {
    quantity: Cell,
    unit: &'static str,
    spares: Cell,
    remark: Vec<String>,
    /// Pieces or metres that are paid for.
    paid: f64,
}

/// The parts list as a paper.
pub fn parts_list(project: &Project, routing: LaidRouting, duty: &Duty) -> Document {
    from_basis(&Basis::new(project, routing, duty))
}

/// The same, from what other papers may have worked out already.
pub(super) fn from_basis(basis: &Basis) -> Document {
    let (project, routing) = (basis.project, basis.routing);
    let mut document = Document::new("Parts list", project, routing, basis.duty);
    document.blocks.extend(open_findings(project, basis.findings()).map(Block::Paragraph));
    document.blocks.push(Block::Table(table(basis)));
    document.blocks.extend(cautions::blocks());
    document
}

/// What the checks have against ordering this: errors and warnings at any of the speeds of the commissioning sheet.
fn open_findings(project: &Project, found: &[Finding]) -> Option<String> {
    let count = |severity| found.iter().filter(|one| one.severity == severity).count();
    let said: Vec<String> = [(Severity::Error, "error"), (Severity::Warning, "warning")]
        .into_iter()
        .filter_map(|(severity, word)| match count(severity) {
            0 => None,
            1 => Some(format!("1 {word}")),
            many => Some(format!("{many} {word}s")),
        })
        .collect();
    let hidden =
        found.iter().filter(|one| one.severity != Severity::Note && checks::is_hidden(project, one)).count();
    let hidden = if hidden == 0 { String::new() } else { format!(" ({hidden} of them hidden on screen)") };
    let only_one = found.iter().filter(|one| one.severity != Severity::Note).count() == 1;
    (!said.is_empty()).then(|| {
        let verb = if only_one { "is" } else { "are" };
        format!("Before ordering: {} {verb} open{hidden}, see the commissioning sheet.", words::list(&said))
    })
}

fn table(basis: &Basis) -> Table {
    let (project, routing) = (basis.project, basis.routing);
    let (items, plan) = (basis.items(), basis.cut_plan());
    let prices = Prices::of(project, items);
    let mut columns = vec![
        Column::count("Item", 0.7),
        Column::count("Quantity", 1.2),
        Column::text("Unit", 0.7),
        Column::count("Spares", 1.0),
        Column::text("Description", 4.2),
        Column::text("Size", 2.4),
        Column::measure("Rated", Measure::Pressure, project.units, 1.2),
        Column::text("Connections", 4.6),
        Column::text("Part number", 1.8),
        Column::text("Remarks", 4.4),
    ];
    prices.columns(&mut columns);
    let mut rows = Vec::new();
    let mut total = Some(0.0);
    for item in items {
        let Some(entry) = project.catalogue.entry(&item.entry) else { continue };
        let line = line(project, plan, item, entry);
        let mut cells = vec![
            Cell::count(item.number),
            line.quantity,
            Cell::text(line.unit),
            line.spares,
            Cell::text(entry.description.as_str()),
            Cell::text(entry.item.size(project.units)),
            rated(entry.item.rated(), project.units),
            Cell::text(entry.connection.as_str()),
            Cell::text(entry.part_number.as_str()),
            Cell::text(line.remark.join(". ")),
        ];
        let sum = prices.cells(entry, line.paid, project, &mut cells);
        total = total.zip(sum).map(|(total, sum)| total + sum);
        rows.push(cells);
    }
    rows.extend(extras(project, routing, plan, items.len()).into_iter().map(|one| {
        let mut cells = vec![
            Cell::count(one.number),
            Cell::count(one.quantity),
            Cell::text("pcs"),
            if one.spares == 0 { Cell::Empty } else { Cell::count(one.spares) },
            Cell::text(one.description),
            Cell::text(one.size),
            if one.is_wetted { rated(None, project.units) } else { Cell::Empty },
            Cell::text("not in the catalogue"),
            Cell::Empty,
            Cell::text(one.remark),
        ];
        cells.resize(columns.len(), Cell::Empty);
        cells
    }));
    let mut notes = vec![
        SPARES.to_owned(),
        "Bolts and brackets are not listed. Seals are counted for parallel threads (G), one for each joint; tapered \
         threads are sealed with tape or paste, which is not listed. Plugs of manifold ports are taken to come with the \
         manifold."
            .to_owned(),
        format!(
            "Wetted materials must suit the liquid{}: ask the supplier of each part and seal. Nitrogen solutions attack \
             copper and brass (common practice, no source).",
            match basis.duty.liquid.name.trim() {
                "" => String::new(),
                name => format!(" ({name})"),
            }
        ),
        "Rated: highest pressure by the catalogue; \"ask\" where it says none. Of a gauge its full scale.".to_owned(),
    ];
    notes.extend(row_joints_to_ask(project, routing, items));
    notes.extend(unknown_connections(project, items));
    let mut totals = Vec::new();
    prices.total(items, total, columns.len(), &mut totals, &mut notes);
    Table { caption: "Parts list".to_owned(), columns, rows, totals, notes }
}

fn line(project: &Project, plan: &CutPlan, item: &ListItem, entry: &Entry) -> Line {
    let units = project.units;
    let mut remark = vec![words::tags(&item.tags)];
    let Some(stock) = plan.stocks.iter().find(|stock| stock.stock == item.entry) else {
        if entry.item.is_cut() {
            // In use, but no piece of it has a length.
            remark.push("Length not known: an end is nowhere".to_owned());
            return Line { quantity: Cell::Empty, unit: "", spares: Cell::Empty, remark, paid: f64::NAN };
        }
        let spares = spare_pieces(&entry.item, item.pieces);
        return Line {
            quantity: Cell::count(item.pieces),
            unit: "pcs",
            spares: if spares == 0 { Cell::Empty } else { Cell::count(spares) },
            remark,
            paid: (item.pieces + spares) as f64,
        };
    };
    let many = stock.pieces.len();
    remark.insert(0, format!("{many} {}", if many == 1 { "piece" } else { "pieces" }));
    let mut paid = stock.total + stock.longest;
    if let Some(packing) = &stock.packing {
        let roll = Length::metres(packing.roll as f64 / 1e6);
        // The spare piece comes from what is left of a roll, or takes one more.
        let spare = to_micrometres(stock.longest);
        let covered = spare > packing.roll || packing.left.iter().any(|left| *left >= spare);
        let rolls = packing.rolls.len() + usize::from(!covered);
        paid = roll * rolls as f64;
        let by_length = by_the_metre(stock, rolls, units).unwrap_or_default();
        remark.push(format!(
            "Order {rolls} {} of {}{by_length}",
            if rolls == 1 { "roll" } else { "rolls" },
            Measure::Distance.short_text(roll.si(), units)
        ));
        if !packing.too_long.is_empty() {
            let count = packing.too_long.len();
            let long: Length =
                packing.too_long.iter().filter_map(|at| plan.pieces[stock.pieces[*at]].length).sum();
            paid += long;
            remark.push(format!("and {count} longer than a roll, see the cut list"));
        }
    }
    if plan.pieces.iter().any(|piece| piece.stock == item.entry && piece.length.is_none()) {
        remark.push("The length of a piece is not known and not counted".to_owned());
        paid = Length::from_si(f64::NAN);
    }
    Line {
        quantity: Cell::measure(Measure::Distance, Some(stock.total), units),
        unit: Measure::Distance.unit(units).symbol,
        spares: Cell::measure(Measure::Distance, Some(stock.longest), units),
        remark,
        paid: paid.si(),
    }
}

/// Words for a pressure; to be asked for where nothing is said.
fn rated(pressure: Option<Pressure>, units: UnitSystem) -> Cell {
    match Cell::measure(Measure::Pressure, pressure, units) {
        Cell::Empty => Cell::text("ask"),
        cell => cell,
    }
}

fn to_micrometres(length: Length) -> u64 {
    (length.si() * 1e6).round() as u64
}

/// Buying by the metre instead, where more than half of a roll would be left with the spare piece cut too.
fn by_the_metre(stock: &StockPlan, rolls: usize, units: UnitSystem) -> Option<String> {
    let packing = stock.packing.as_ref()?;
    let needed = to_micrometres(stock.total) + to_micrometres(stock.longest);
    let left = (packing.roll * rolls as u64).checked_sub(needed)?;
    (2 * left > packing.roll).then(|| {
        let unit = Measure::Distance.stored(1.0, units);
        let whole = ((stock.total + stock.longest).si() / unit - 1e-9).ceil() * unit;
        let words = Measure::Distance.short_text(whole, units);
        format!(", or {words} by length (the spare piece included)")
    })
}

/// What to ask before ordering: the thread of the pump, and of items that the catalogue says nothing of.
fn unknown_connections(project: &Project, items: &[ListItem]) -> Vec<String> {
    let silent = |item: &&ListItem| {
        project.catalogue.entry(&item.entry).is_some_and(|entry| entry.connection.trim().is_empty())
    };
    let numbers: Vec<u32> =
        items.iter().filter(silent).filter_map(|item| u32::try_from(item.number).ok()).collect();
    let mut notes = vec![
        "Ask before ordering: the thread of the pump's outlet, and what holds the outlets at the openers."
            .to_owned(),
    ];
    if !numbers.is_empty() {
        notes.push(format!(
            "The catalogue does not say how {} {} connected: ask for threads and tube sizes.",
            if numbers.len() == 1 { "item" } else { "items" },
            match numbers.len() {
                1 => format!("{} is", words::ranges(&numbers)),
                _ => format!("{} are", words::ranges(&numbers)),
            }
        ));
    }
    notes
}

/// Something to order that no catalogue entry stands for.
pub(super) struct Extra {
    /// Its item number, after those of the catalogue's items.
    pub number: usize,
    quantity: usize,
    spares: usize,
    /// What it is.
    pub description: String,
    /// For what; tells apart what has the same description.
    pub size: String,
    /// Where it goes, or how it was counted.
    remark: String,
    /// The liquid's pressure stands in it.
    is_wetted: bool,
}

/// Clamping ranges of worm-drive hose clamps, millimetres (the series of DIN 3017-1, from memory).
const CLAMPS: [(f64, f64); 11] = [
    (8.0, 12.0),
    (10.0, 16.0),
    (12.0, 20.0),
    (16.0, 27.0),
    (20.0, 32.0),
    (25.0, 40.0),
    (30.0, 45.0),
    (40.0, 60.0),
    (50.0, 70.0),
    (60.0, 80.0),
    (70.0, 90.0),
];

/// The smallest clamp that holds an outside diameter with a millimetre to spare either way, metres.
fn clamp_range(outside: Length) -> Option<(Length, Length)> {
    let outside = outside.si() * 1000.0;
    let fits = |(from, to): &(f64, f64)| *from + 1.0 <= outside + 1e-9 && outside <= *to - 1.0 + 1e-9;
    CLAMPS.into_iter().find(fits).map(|(from, to)| (Length::millimetres(from), Length::millimetres(to)))
}

/// A piece between two ends that don't fit as they are: what it is, for what, and where.
struct Between {
    description: String,
    size: String,
    at: Vec<String>,
    /// In row feeds, where a lost piece stops a row.
    in_rows: bool,
}

/// The piece between a hose's fitting and the port or pump it goes to, if there is one: what it is and for what.
pub(super) fn reducer(
    project: &Project,
    routing: LaidRouting,
    run: &Run,
    end: &End,
) -> Option<(String, String)> {
    let end = joints::hose_end(project, routing, run, end)?;
    match end.joint {
        Joint::Fits => None,
        Joint::With(words) => Some((words, String::new())),
        Joint::Ask => {
            let at = end.at.map(|at| places::end(routing, &End::Port(at))).unwrap_or_default();
            let hose = project.catalogue.stock(&run.line.stock)?.bore;
            let size = format!("{at}, {} hose", Measure::Bore.short_text(hose.si(), project.units));
            Some(("Reducer or adapter: ask before ordering, its threads are not known".to_owned(), size))
        }
    }
}

fn betweens(project: &Project, routing: LaidRouting) -> Vec<Between> {
    let mut found: Vec<Between> = Vec::new();
    let mut add = |(description, size): (String, String), at: String, in_rows: bool| match found
        .iter_mut()
        .find(|one| (&one.description, &one.size) == (&description, &size))
    {
        Some(one) => one.at.push(at),
        None => found.push(Between { description, size, at: vec![at], in_rows }),
    };
    for run in &routing.runs {
        for end in [&run.from, &run.to] {
            if let Some(piece) = reducer(project, routing, run, end) {
                add(piece, places::end(routing, end), false);
            }
        }
    }
    for feed in &routing.feeds {
        for joint in joints::of_feed(project, routing, feed).0 {
            if let Joint::With(words) = joint.joint {
                add((words, String::new()), feed.tag.clone(), true);
            }
        }
    }
    found
}

/// Neighbours in row feeds that don't join by their connections' words.
fn row_joints_to_ask(project: &Project, routing: LaidRouting, items: &[ListItem]) -> Vec<String> {
    let mut found: Vec<(String, Vec<String>)> = Vec::new();
    let named = |key: &EntryKey| {
        let kind = project.catalogue.item(key).map_or("?", Item::kind);
        number_of(items, key).map_or_else(|| kind.to_owned(), |number| format!("{kind} (item {number})"))
    };
    for feed in &routing.feeds {
        let joints = joints::of_feed(project, routing, feed).0;
        for joint in joints.into_iter().filter(|joint| joint.joint == Joint::Ask) {
            let from = joint.from.as_ref().map_or_else(|| "the port".to_owned(), named);
            let words = format!("how {} joins {from}", named(&joint.to));
            match found.iter_mut().find(|one| one.0 == words) {
                Some(one) if one.1.last() == Some(&feed.tag) => {}
                Some(one) => one.1.push(feed.tag.clone()),
                None => found.push((words, vec![feed.tag.clone()])),
            }
        }
    }
    let says = |(words, at): (String, Vec<String>)| {
        format!(
            "Ask before ordering: {words} in {}; by the connections listed they don't fit together.",
            words::tags(&at)
        )
    };
    found.into_iter().map(says).collect()
}

/// The parallel threads that are screwed together, each with how many joints: of hoses, and of gauges and plugs.
fn sealed_threads(project: &Project, routing: LaidRouting) -> BTreeMap<String, usize> {
    let hoses = routing.runs.iter().flat_map(|run| {
        let ends = [&run.from, &run.to].into_iter();
        ends.filter_map(|end| joints::hose_end(project, routing, run, end)).flat_map(|end| end.threads)
    });
    let mounted = routing.parts.iter().filter_map(|part| {
        let host = part.mount?;
        let own = project.catalogue.entry(&part.entry).and_then(|entry| joints::thread(&entry.connection));
        own.or_else(|| joints::thread(joints::port_words(project, routing, host)?))
    });
    let mut count = BTreeMap::new();
    for thread in hoses.chain(mounted).filter(joints::Thread::is_parallel) {
        *count.entry(thread.name).or_insert(0) += 1;
    }
    count
}

/// What takes the last piece of each row at its opener, in words, each with how many.
fn opener_outlets(project: &Project, routing: LaidRouting) -> BTreeMap<String, usize> {
    let mut count = BTreeMap::new();
    for end in routing.feeds.iter().flat_map(|feed| joints::of_feed(project, routing, feed).1) {
        let words = match end {
            Some(Form::Stem(size)) => format!("push-in for {size} mm stem"),
            Some(Form::PushIn(size)) => format!("{size} mm stem"),
            Some(Form::Thread(thread)) => format!("for {}", thread.name),
            _ => "ask before ordering".to_owned(),
        };
        *count.entry(words).or_insert(0) += 1;
    }
    count
}

/// What no catalogue entry stands for: reducers, seals, clamps, ties, labels and what holds a tube at its opener,
/// counted by rules of the trade and numbered after the catalogue's items.
pub(super) fn extras(project: &Project, routing: LaidRouting, plan: &CutPlan, after: usize) -> Vec<Extra> {
    const BY_RULE: &str = "Count by common practice, no source";
    let units = project.units;
    let some_spares = |quantity: usize| quantity.div_ceil(20).max(2);
    let mut lines: Vec<Extra> = betweens(project, routing)
        .into_iter()
        .map(|one| Extra {
            number: 0,
            quantity: one.at.len(),
            spares: if one.in_rows { some_spares(one.at.len()) } else { 0 },
            description: one.description,
            size: one.size,
            remark: words::tags(&one.at),
            is_wetted: true,
        })
        .collect();
    for (thread, quantity) in sealed_threads(project, routing) {
        lines.push(Extra {
            number: 0,
            quantity,
            spares: some_spares(quantity),
            description: "Seal for a parallel thread, one for each joint".to_owned(),
            size: format!("for {thread}"),
            remark: "Leave out what comes with its part".to_owned(),
            is_wetted: false,
        });
    }
    for stock in &plan.stocks {
        let Some(entry) = project.catalogue.entry(&stock.stock) else { continue };
        let with = entry.connection.split(';').find_map(|one| one.trim().strip_prefix("with "));
        if let (Item::Stock(StockItem::MeteringTube(_)), Some(with)) = (&entry.item, with) {
            let quantity = stock.pieces.len();
            lines.push(Extra {
                number: 0,
                quantity,
                spares: some_spares(quantity),
                description: format!("End fittings of {}, a pair for each piece", lower(&entry.description)),
                size: with.split_once(':').map_or(with, |(_, size)| size.trim()).to_owned(),
                remark: "The catalogue names them with the tube".to_owned(),
                is_wetted: true,
            });
        }
    }
    let mut add = |quantity, spares, description: String, size: String, is_wetted: bool| {
        let remark = BY_RULE.to_owned();
        lines.push(Extra { number: 0, quantity, spares, description, size, remark, is_wetted });
    };
    for stock in &plan.stocks {
        let Some(Item::Stock(StockItem::Hose(hose))) = project.catalogue.item(&stock.stock) else { continue };
        let ends = 2 * stock.pieces.len();
        let outside = Measure::Bore.short_text(hose.outside.si(), units);
        let size = match clamp_range(hose.outside) {
            Some((from, to)) => format!(
                "clamps {} to {}, for {outside} outside",
                Measure::Bore.short_number(from.si(), units),
                Measure::Bore.short_text(to.si(), units)
            ),
            None => format!("for {outside} outside"),
        };
        add(
            ends,
            some_spares(ends),
            "Hose clamp, worm drive, one at each end of a hose".to_owned(),
            size,
            false,
        );
    }
    for stock in &plan.stocks {
        let (what, apart, outside) = match project.catalogue.item(&stock.stock) {
            Some(Item::Stock(StockItem::Hose(hose))) => ("Hose clip or tie", HOSE_SUPPORTS, hose.outside),
            Some(Item::Stock(StockItem::Tube(tube))) => ("Tube clip or tie", TUBE_SUPPORTS, tube.outside),
            _ => continue,
        };
        let lengths = stock.pieces.iter().filter_map(|at| plan.pieces[*at].length);
        let count = lengths.map(|length| (length.si() / apart - 1e-9).ceil() as usize).sum();
        let apart = Measure::CutLength.short_text(apart, units);
        let size = format!("for {} outside", Measure::Bore.short_text(outside.si(), units));
        add(count, 0, format!("{what}, on each piece one every {apart}"), size, false);
    }
    // What the last tube of each row ends in.
    for (size, rows) in opener_outlets(project, routing) {
        let what =
            "Outlet at the opener: what holds the end of a row's tube or metering in the furrow".to_owned();
        add(rows, some_spares(rows), what, size, true);
    }
    if !plan.pieces.is_empty() {
        let labels = 2 * plan.pieces.len();
        let what = "Label, one round each end of every hose and tube".to_owned();
        add(labels, 0, what, String::new(), false);
    }
    for (index, line) in lines.iter_mut().enumerate() {
        line.number = after + index + 1;
    }
    lines
}

/// With a small letter, inside a sentence.
pub(super) fn lower(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| first.to_lowercase().chain(letters).collect())
}

/// What the prices of a list allow to say.
enum Prices {
    /// Nothing has a price.
    None,
    /// All prices are in one currency; the items without one, by number.
    One(String, Vec<usize>),
    /// Several currencies, which don't add up.
    Mixed(Vec<String>),
}

impl Prices {
    fn of(project: &Project, items: &[ListItem]) -> Self {
        let price = |item: &ListItem| project.catalogue.entry(&item.entry)?.price.as_ref();
        let mut currencies: Vec<String> =
            items.iter().filter_map(|item| Some(price(item)?.currency.clone())).collect();
        currencies.sort();
        currencies.dedup();
        match currencies.len() {
            0 => Self::None,
            1 => {
                let without = items.iter().filter(|item| price(item).is_none()).map(|item| item.number);
                Self::One(currencies.swap_remove(0), without.collect())
            }
            _ => Self::Mixed(currencies),
        }
    }

    fn columns(&self, columns: &mut Vec<Column>) {
        let priced =
            |heading: &str, unit: &str| Column { unit: unit.to_owned(), ..Column::count(heading, 1.3) };
        match self {
            Self::None => {}
            Self::One(currency, _) => columns.extend([priced("Price", currency), priced("Sum", currency)]),
            Self::Mixed(_) => {
                columns.extend([priced("Price", ""), priced("Sum", ""), Column::text("Currency", 0.9)]);
            }
        }
    }

    /// The cells of one line; answers with its sum.
    fn cells(&self, entry: &Entry, paid: f64, project: &Project, cells: &mut Vec<Cell>) -> Option<f64> {
        if matches!(self, Self::None) {
            return None;
        }
        let each = entry.price.as_ref().map(|price| shown_price(entry, price, project));
        // The printed price times the printed quantity would differ by what the unit rounds; the stored one counts.
        let sum = entry.price.as_ref().map(|price| price.amount * paid).filter(|sum| sum.is_finite());
        cells.extend([money(each), money(sum)]);
        if matches!(self, Self::Mixed(_)) {
            cells.push(Cell::text(entry.price.as_ref().map_or("", |price| price.currency.as_str())));
        }
        sum.map(|sum| (sum * 100.0).round() / 100.0)
    }

    /// The total, or why there is none: a sum of some lines must not look like the whole.
    fn total(
        &self,
        items: &[ListItem],
        total: Option<f64>,
        columns: usize,
        totals: &mut Vec<Vec<Cell>>,
        notes: &mut Vec<String>,
    ) {
        let count = items.len();
        match self {
            Self::None => {}
            Self::One(currency, without) => {
                notes.push(
                    "Prices are those of the catalogue: each piece, or each unit of length; whole rolls where rolls are \
                     ordered; spares included."
                        .to_owned(),
                );
                match total {
                    Some(total) if without.is_empty() => {
                        let mut cells = vec![Cell::Empty; columns];
                        cells[4] = Cell::text(format!("Items 1 to {count}"));
                        cells[columns - 1] = money(Some(total));
                        totals.push(cells);
                        notes.push(
                            "The sum holds the items of the catalogue only, without reducers, seals, clamps, ties, outlets, \
                             labels, work and tax."
                                .to_owned(),
                        );
                    }
                    _ if without.is_empty() => {
                        notes.push("No total: a length is not known.".to_owned());
                    }
                    _ => {
                        let numbers: Vec<u32> =
                            without.iter().filter_map(|one| u32::try_from(*one).ok()).collect();
                        notes.push(format!(
                            "No total in {currency}: {} of {count} items have no price ({} {}).",
                            without.len(),
                            if without.len() == 1 { "item" } else { "items" },
                            words::ranges(&numbers)
                        ));
                    }
                }
            }
            Self::Mixed(currencies) => notes.push(format!(
                "No total: prices are in {}, and the program converts no currency.",
                words::list(currencies)
            )),
        }
    }
}

/// A price for one piece, or for one unit of length as the list shows it.
fn shown_price(entry: &Entry, price: &Price, project: &Project) -> f64 {
    if entry.item.is_cut() {
        price.amount * Measure::Distance.stored(1.0, project.units)
    } else {
        price.amount
    }
}

fn money(amount: Option<f64>) -> Cell {
    amount.map_or(Cell::Empty, |amount| {
        let text = format!("{amount:.2}");
        let value = text.parse().unwrap_or(f64::NAN);
        Cell::Number { text, value }
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn clamps_reach_beyond_the_hose_on_both_sides() {
        for outside in [9, 13, 16, 19, 23, 27, 34, 42, 60] {
            let outside = f64::from(outside);
            let (from, to) = clamp_range(Length::millimetres(outside)).unwrap();
            assert!(
                from.si() * 1e3 <= outside - 1.0 && outside + 1.0 <= to.si() * 1e3,
                "{outside}: {from:?} to {to:?}"
            );
        }
        assert_eq!(clamp_range(Length::millimetres(200.0)), None);
    }
}
