//! The parts list: everything a routing is made of, and the item numbers that balloons on the sheets show.

use std::collections::BTreeMap;

use super::cautions;
use super::cut_list::{CutPlan, cut_plan};
use super::document::{Block, Cell, Column, Document, Table};
use crate::plan::words;
use crate::plan::{Entry, EntryKey, FeedElement, Item, Price, Project, Routing};
use crate::quantities::{Length, Measure};

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
pub fn items(project: &Project, routing: &Routing) -> Vec<ListItem> {
    let mut used: BTreeMap<(usize, usize), ListItem> = BTreeMap::new();
    let mut add = |key: &EntryKey, tag: &str| {
        let entries = &project.catalogue.entries;
        let Some(at) = entries.iter().position(|entry| entry.key == *key) else { return };
        let item = used.entry((rank(&entries[at].item), at)).or_insert_with(|| ListItem {
            number: 0,
            entry: key.clone(),
            pieces: 0,
            tags: Vec::new(),
        });
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

/// The order of kinds, as the liquid meets them.
const fn rank(item: &Item) -> usize {
    match item {
        Item::InletFilter { .. } => 0,
        Item::Tee { .. } => 1,
        Item::SectionValve { .. } => 2,
        Item::Manifold { .. } => 3,
        Item::Gauge { .. } => 4,
        Item::BlankingPlug { .. } => 5,
        Item::Hose(_) => 6,
        Item::Tube(_) => 7,
        Item::SmallTee { .. } => 8,
        Item::CheckValve { .. } => 9,
        Item::MeteringOrifice { .. } => 10,
        Item::MeteringTube(_) => 11,
        Item::Fitting { .. } => 12,
    }
}

/// Spare pieces to order with so many in use: one in twenty, at least two, of what plugs, wears or gets lost; one
/// blanking plug, to close a row off; none of what is large (common practice, no source).
pub fn spare_pieces(item: &Item, pieces: usize) -> usize {
    match item {
        Item::CheckValve { .. }
        | Item::MeteringOrifice { .. }
        | Item::Fitting { .. }
        | Item::SmallTee { .. } => pieces.div_ceil(20).max(2),
        Item::BlankingPlug { .. } => 1,
        _ => 0,
    }
}

const SPARES: &str = "Spares: one in twenty, at least two, of check valves, metering orifices, fittings and small tees; \
                      one blanking plug; of every hose and tube the longest piece once more (common practice, no source).";

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
pub fn parts_list(project: &Project, routing: &Routing) -> Document {
    let plan = cut_plan(project, routing);
    let mut document = Document::new("Parts list", project, routing);
    document.blocks.push(Block::Table(table(project, routing, &plan)));
    document.blocks.extend(cautions::blocks());
    document
}

fn table(project: &Project, routing: &Routing, plan: &CutPlan) -> Table {
    let items = items(project, routing);
    let prices = Prices::of(project, &items);
    let mut columns = vec![
        Column::count("Item", 0.7),
        Column::count("Quantity", 1.2),
        Column::text("Unit", 0.7),
        Column::count("Spares", 1.0),
        Column::text("Description", 4.2),
        Column::text("Size", 2.4),
        Column::text("Connections", 4.6),
        Column::text("Part number", 1.8),
        Column::text("Remarks", 4.4),
    ];
    prices.columns(&mut columns);
    let mut rows = Vec::new();
    let mut total = Some(0.0);
    for item in &items {
        let Some(entry) = project.catalogue.entry(&item.entry) else { continue };
        let line = line(project, plan, item, entry);
        let mut cells = vec![
            Cell::count(item.number),
            line.quantity,
            Cell::text(line.unit),
            line.spares,
            Cell::text(entry.description.as_str()),
            Cell::text(entry.item.size(project.units)),
            Cell::text(entry.connection.as_str()),
            Cell::text(entry.part_number.as_str()),
            Cell::text(line.remark.join(". ")),
        ];
        let sum = prices.cells(entry, line.paid, project, &mut cells);
        total = total.zip(sum).map(|(total, sum)| total + sum);
        rows.push(cells);
    }
    rows.extend(also_needed(project, routing, plan).into_iter().map(|one| {
        let mut cells = vec![
            Cell::Empty,
            Cell::count(one.quantity),
            Cell::text("pcs"),
            if one.spares == 0 { Cell::Empty } else { Cell::count(one.spares) },
            Cell::text(one.description),
            Cell::text(one.size),
            Cell::Empty,
            Cell::Empty,
            Cell::text(format!("Not in the catalogue. {}", one.remark)),
        ];
        cells.resize(columns.len(), Cell::Empty);
        cells
    }));
    let mut notes = vec![
        SPARES.to_owned(),
        "Connectors of tubes are taken to come with the manifold, check valve and metering they sit on, unless listed. \
         Bolts, brackets and thread seal are not listed."
            .to_owned(),
    ];
    if !reducers(project, routing).is_empty() {
        notes.push(
            "Reducers are counted where the bores of a port and of its hose differ by more than 15 % (common practice, no \
             source)."
                .to_owned(),
        );
    }
    notes.extend(unknown_connections(project, &items));
    let mut totals = Vec::new();
    prices.total(&items, total, columns.len(), &mut totals, &mut notes);
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
    remark.insert(0, format!("{} pieces", stock.pieces.len()));
    let mut paid = stock.total + stock.longest;
    if let Some(packing) = &stock.packing {
        let roll = Length::metres(packing.roll as f64 / 1e6);
        // The spare piece comes from what is left of a roll, or takes one more.
        let spare = (stock.longest.si() * 1e6).round() as u64;
        let covered = spare > packing.roll || packing.left.iter().any(|left| *left >= spare);
        let rolls = packing.rolls.len() + usize::from(!covered);
        paid = roll * rolls as f64;
        remark.push(format!(
            "Order {rolls} {} of {}",
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

/// What to ask before ordering: the thread of the pump, and of items that the catalogue says nothing of.
fn unknown_connections(project: &Project, items: &[ListItem]) -> Vec<String> {
    let silent = |item: &&ListItem| {
        project.catalogue.entry(&item.entry).is_some_and(|entry| entry.connection.trim().is_empty())
    };
    let numbers: Vec<u32> =
        items.iter().filter(silent).filter_map(|item| u32::try_from(item.number).ok()).collect();
    let mut notes = vec![
        "Ask before ordering: the thread of the pump's outlet, and what the openers take a tube with."
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
struct AlsoNeeded {
    quantity: usize,
    spares: usize,
    description: String,
    size: String,
    /// How it was counted.
    remark: &'static str,
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

/// Bores that differ by no more than this share need no reducer (common practice, no source).
const SAME_BORE: f64 = 0.15;

/// The ends of hoses on ports of another bore: port, hose, and how many.
fn reducers(project: &Project, routing: &Routing) -> Vec<(Length, Length, usize)> {
    let mut found: Vec<(Length, Length, usize)> = Vec::new();
    for run in &routing.runs {
        let Some(hose) = project.catalogue.stock(&run.line.stock).map(|stock| stock.bore) else { continue };
        for port in [run.from, run.to].iter().filter_map(crate::plan::End::port) {
            let item = routing.part(port.part).and_then(|part| project.catalogue.item(&part.entry));
            let bore = match item {
                Some(
                    Item::InletFilter { bore, .. }
                    | Item::Tee { bore, .. }
                    | Item::SectionValve { bore, .. }
                    | Item::Manifold { bore, .. },
                ) => *bore,
                _ => continue,
            };
            let ratio = (bore / hose).max(hose / bore);
            if ratio <= 1.0 + SAME_BORE {
                continue;
            }
            match found.iter_mut().find(|one| (one.0, one.1) == (bore, hose)) {
                Some(one) => one.2 += 1,
                None => found.push((bore, hose, 1)),
            }
        }
    }
    found.sort_by(|a, b| b.0.si().total_cmp(&a.0.si()).then(b.1.si().total_cmp(&a.1.si())));
    found
}

/// What no catalogue entry stands for: reducers, clamps, supports, labels and what holds a tube at its opener, counted
/// by rules of the trade.
fn also_needed(project: &Project, routing: &Routing, plan: &CutPlan) -> Vec<AlsoNeeded> {
    const BY_RULE: &str = "Count by common practice, no source";
    let units = project.units;
    let mut lines: Vec<AlsoNeeded> = reducers(project, routing)
        .into_iter()
        .map(|(port, hose, quantity)| {
            let bore = |length: Length| Measure::Bore.short_text(length.si(), units);
            AlsoNeeded {
                quantity,
                spares: 0,
                description: "Reducer, from a port to the fitting of another bore".to_owned(),
                size: format!("{} port, {} hose", bore(port), bore(hose)),
                remark: "Not needed where the fitting's thread fits",
            }
        })
        .collect();
    let mut add = |quantity, spares, description: String, size: String| {
        lines.push(AlsoNeeded { quantity, spares, description, size, remark: BY_RULE });
    };
    for stock in &plan.stocks {
        let Some(Item::Hose(hose)) = project.catalogue.item(&stock.stock) else { continue };
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
            ends.div_ceil(20).max(2),
            "Hose clamp, worm drive, one at each end of a hose".to_owned(),
            size,
        );
    }
    let supports = |wanted: fn(&Item) -> bool, apart: f64| -> usize {
        let plans =
            plan.stocks.iter().filter(|stock| project.catalogue.item(&stock.stock).is_some_and(wanted));
        plans.map(|stock| (stock.total.si() / apart).ceil() as usize).sum()
    };
    for (count, what, apart) in [
        (supports(|item| matches!(item, Item::Hose(_)), HOSE_SUPPORTS), "Hose clip or tie", HOSE_SUPPORTS),
        (supports(|item| matches!(item, Item::Tube(_)), TUBE_SUPPORTS), "Tube clip or tie", TUBE_SUPPORTS),
    ] {
        if count > 0 {
            let apart = Measure::CutLength.short_text(apart, units);
            add(count, 0, format!("{what}, one every {apart}"), String::new());
        }
    }
    // What the last tube of each row ends in.
    let rows: usize = routing.feeds.iter().map(|feed| feed.branches.len()).sum();
    if rows > 0 {
        let what =
            "Outlet at the opener: what holds the end of a row's tube or metering in the furrow".to_owned();
        add(rows, rows.div_ceil(20).max(2), what, String::new());
    }
    if !plan.pieces.is_empty() {
        let labels = 2 * plan.pieces.len();
        add(labels, 0, "Label, one round each end of every hose and tube".to_owned(), String::new());
    }
    lines
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
                            "The sum holds the numbered items only, without clamps, clips, labels, work and tax."
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
