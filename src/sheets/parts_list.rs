//! The parts list as a paper: what to order of each item, and what it costs.

use std::collections::BTreeSet;
use std::fmt::Write as _;

use super::basis::Basis;
use super::cautions;
use super::cut_plan::{CutPlan, Cutting, StockPlan, to_micrometres};
use super::document::{Block, Document, PaperCell, PaperColumn, PaperTable, Shown};
use super::extras::{ExtraKind, row_joints_to_ask};
use super::items::ListItem;
use crate::checks::{self, Finding};
use crate::plan::kinds::Spares;
use crate::plan::ratings::{RATED_AT, thermoplastic_share};
use crate::plan::wetted_material::listed;
use crate::plan::{Duty, Entry, Item, LaidRouting, Price, Project, WettedMaterial, words};
use crate::quantities::{Length, Measure, Pressure, UnitSystem, decimals};

/// Spare pieces to order with so many in use (common practice, no source).
pub fn spare_pieces(item: &Item, pieces: usize) -> usize {
    match item.item_kind().common().spares {
        Spares::OneInTwenty => pieces.div_ceil(20).max(2),
        Spares::One => 1,
        Spares::None => 0,
    }
}

const SPARES: &str = "Spares cover what plugs, wears or gets lost: one in twenty, at least two, of check valves, flow indicators, metering \
                      orifices, fittings, small tees, push-in reducers, seals, clamps and outlets; one blanking plug; of every hose and tube the \
                      longest piece once more. They do not cover filters, flow meters, tees, section valves, manifolds, gauges, threaded \
                      reducers, ties and labels (common practice, no source).";

/// What to buy of one item, and what it costs.
struct OrderLine {
    /// Pieces or length on the bar.
    used: PaperCell,
    unit: &'static str,
    spares: PaperCell,
    /// Both, as it is sold.
    order: PaperCell,
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
    let project = basis.project;
    let mut document = Document::new("Parts list", basis);
    document.open = basis.open_findings().unwrap_or_default();
    let before_ordering = |open| Block::Paragraph(format!("Before ordering: {open}."));
    document.blocks.extend(basis.open_findings().map(before_ordering));
    if let Some(newest) = project.title.changes.first() {
        let of = if newest.index.is_empty() { String::new() } else { format!(" {}", newest.index) };
        document
            .blocks
            .push(Block::Paragraph(format!("What revision{of} changed stands behind the cut list.")));
    }
    document.blocks.push(Block::Table(table(basis)));
    document.blocks.extend(cautions::blocks());
    document
}

/// What the checks have against gauges of an item, so that nobody orders them unseen.
fn unsuited(basis: &Basis, item: &ListItem) -> Vec<String> {
    let of_item =
        |finding: &&Finding| finding.kind.rule == checks::GAUGE_RANGE && item.tags.contains(&finding.place);
    let found = basis.findings().iter().filter(of_item);
    found.map(|one| format!("Does not suit, {} {}: {}", one.place, one.what, one.advice)).collect()
}

/// Which liquids attack what an entry is made of.
fn attacked_by(project: &Project, entry: &Entry) -> Option<String> {
    let materials = project.attacked(&entry.key);
    let attacks = |duty: &&Duty| materials.iter().any(|one| duty.liquid.attacks.contains(one));
    let mut liquids: Vec<String> =
        project.duties.iter().filter(attacks).map(|duty| duty.liquid.name.clone()).collect();
    liquids.dedup();
    let names: Vec<String> = materials.iter().map(|one| one.name().to_owned()).collect();
    (!names.is_empty())
        .then(|| format!("Do not order: {} is attacked by {}", words::list(&names), words::list(&liquids)))
}

/// The liquids of all duties, that of the papers first: ` (Urea solution and Water)`.
fn liquid_names(project: &Project, duty: &Duty) -> String {
    let mut names: Vec<String> = Vec::new();
    for one in std::iter::once(duty).chain(project.duties.iter()) {
        let name = one.liquid.name.trim();
        if !name.is_empty() && !names.iter().any(|known| known == name) {
            names.push(name.to_owned());
        }
    }
    if names.is_empty() { String::new() } else { format!(" ({})", words::list(&names)) }
}

fn table(basis: &Basis) -> PaperTable {
    let (project, routing) = (basis.project, basis.routing);
    let (items, plan) = (basis.items(), basis.cut_plan());
    let prices = Prices::of(project, items);
    let mut columns = vec![
        PaperColumn::count("Item", 0.7),
        PaperColumn::count("Order", 1.2),
        PaperColumn::text("Unit", 0.7),
        PaperColumn::count("In use", 1.1),
        PaperColumn::count("Spares", 1.0),
        PaperColumn::text("Description", 6.0).only(Shown::OnPages),
        PaperColumn::text("Description", 4.2).only(Shown::InFiles),
        PaperColumn::text("Size", 2.4).only(Shown::InFiles),
        PaperColumn::text("Connections", 4.6).only(Shown::InFiles),
        PaperColumn::text("Wetted material", 2.6).only(Shown::InFiles),
        PaperColumn::measure("Rated", Measure::Pressure, project.units, 1.1),
        PaperColumn::text("Part number", 1.4),
        PaperColumn::text("Remarks", 4.0),
    ];
    prices.columns(&mut columns);
    let mut rows = Vec::new();
    let mut total = Some(0.0);
    for item in items {
        let Some(entry) = project.catalogue.entry(&item.entry) else { continue };
        let mut line = line(project, plan, item, entry);
        line.remark.extend(unsuited(basis, item));
        line.remark.extend(attacked_by(project, entry));
        let size = entry.item.size(project.units);
        let materials = if entry.materials.is_empty() { ASK.to_owned() } else { listed(&entry.materials) };
        let mut cells = vec![
            PaperCell::count(item.number),
            line.order,
            PaperCell::text(line.unit),
            line.used,
            line.spares,
            PaperCell::text(in_one(&entry.description, &size, &entry.connection, &materials)),
            PaperCell::text(entry.description.as_str()),
            PaperCell::text(size),
            PaperCell::text(entry.connection.as_str()),
            PaperCell::text(if entry.materials.is_empty() {
                "ask".to_owned()
            } else {
                listed(&entry.materials)
            }),
            rated(entry.item.rated(), project.units),
            PaperCell::text(entry.part_number.as_str()),
            PaperCell::text(line.remark.join(". ")),
        ];
        let sum = prices.cells(entry, line.paid, project, &mut cells);
        total = total.zip(sum).map(|(total, sum)| total + sum);
        rows.push(cells);
    }
    rows.extend(basis.extras().iter().map(|one| {
        let mut cells = vec![
            PaperCell::count(one.number),
            PaperCell::count(one.quantity + one.spares),
            PaperCell::text(one.unit.as_str()),
            PaperCell::count(one.quantity),
            if one.spares == 0 { PaperCell::Empty } else { PaperCell::count(one.spares) },
            PaperCell::text(in_one(&one.description, &one.size, "", if one.is_wetted { ASK } else { "" })),
            PaperCell::text(one.description.as_str()),
            PaperCell::text(one.size.as_str()),
            PaperCell::text(if one.kind == ExtraKind::Added {
                "added by hand"
            } else {
                "not in the catalogue"
            }),
            if one.is_wetted { PaperCell::text("ask") } else { PaperCell::Empty },
            if one.is_wetted { rated(None, project.units) } else { PaperCell::Empty },
            PaperCell::text(one.part_number.as_str()),
            PaperCell::text(one.remark.as_str()),
        ];
        cells.resize(columns.len(), PaperCell::Empty);
        cells
    }));
    let mut notes = vec![
        SPARES.to_owned(),
        "Carriers, brackets and hinge clamps are counted from the frame as drawn, the list of joints says where each goes; bolts, \
         and what holds a part on a member beneath it, are not listed, unless somebody added them. Seals are counted for \
         parallel threads (G), one for each joint; tapered threads are sealed with tape or paste, which is not listed. Plugs of manifold ports are taken to come with the \
         manifold."
            .to_owned(),
        format!(
            "Wetted materials must suit the liquid{}: ask the supplier of each part and seal for which none is named here{}.",
            liquid_names(project, basis.duty),
            attacked(project)
        ),
        "By rule: counted by common practice, no source.".to_owned(),
        rated_words(project),
    ];
    notes.extend(row_joints_to_ask(project, routing, items));
    notes.extend(unknown_connections(project, items));
    let mut totals = Vec::new();
    prices.total(items, total, columns.len(), &mut totals, &mut notes);
    PaperTable { caption: "Parts list".to_owned(), columns, rows, totals, groups: Vec::new(), notes }
}

/// Of a wetted thing whose material nobody named.
const ASK: &str = "material: ask";

/// What an item is, in one line of a page: its description, its size where that does not say it, and its connections.
fn in_one(description: &str, size: &str, connection: &str, materials: &str) -> String {
    let said = |words: &str| words.split([' ', ',']).all(|word| description.contains(word));
    let size = Some(size).filter(|size| !size.is_empty() && !said(size));
    [Some(description), size, Some(connection), Some(materials)]
        .into_iter()
        .flatten()
        .filter(|words| !words.trim().is_empty())
        .collect::<Vec<_>>()
        .join("; ")
}

/// What the liquids of all duties attack, in words to stand behind a sentence; nothing where nobody said.
fn attacked(project: &Project) -> String {
    let attacks: BTreeSet<WettedMaterial> =
        project.duties.iter().flat_map(|duty| duty.liquid.attacks.iter().copied()).collect();
    let names: Vec<String> = attacks.into_iter().map(|one| one.name().to_owned()).collect();
    if names.is_empty() { String::new() } else { format!("; {} won't do", words::list(&names)) }
}

fn line(project: &Project, plan: &CutPlan, item: &ListItem, entry: &Entry) -> OrderLine {
    let units = project.units;
    let mut remark = vec![words::tags(&item.tags)];
    let Some(stock) = plan.stocks.iter().find(|stock| stock.stock == item.entry) else {
        if entry.item.is_cut() {
            // In use, but no piece of it has a length.
            remark.push("Length not known: an end is not connected".to_owned());
            return OrderLine {
                used: PaperCell::Empty,
                unit: "",
                spares: PaperCell::Empty,
                order: PaperCell::Empty,
                remark,
                paid: f64::NAN,
            };
        }
        let spares = spare_pieces(&entry.item, item.pieces);
        return OrderLine {
            used: PaperCell::count(item.pieces),
            order: PaperCell::count(item.pieces + spares),
            unit: "pcs",
            spares: if spares == 0 { PaperCell::Empty } else { PaperCell::count(spares) },
            remark,
            paid: (item.pieces + spares) as f64,
        };
    };
    let many = stock.pieces.len();
    remark.insert(0, format!("{many} {}", if many == 1 { "piece" } else { "pieces" }));
    let rough = stock.pieces.iter().filter(|at| matches!(plan.pieces[**at].cutting, Cutting::Rough { .. }));
    match rough.count() {
        0 => {}
        1 => remark.push("1 of them cut roughly, see the cut list".to_owned()),
        rough => remark.push(format!("{rough} of them cut roughly, see the cut list")),
    }
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
            "{rolls} {} of {}{by_length}",
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
    OrderLine {
        used: PaperCell::measure(Measure::Distance, Some(stock.fitted), units),
        order: PaperCell::measure(Measure::Distance, Some(paid).filter(|paid| paid.is_finite()), units),
        unit: Measure::Distance.unit(units).symbol,
        spares: PaperCell::measure(Measure::Distance, Some(stock.longest), units),
        remark,
        paid: paid.si(),
    }
}

/// Words for a pressure; to be asked for where nothing is said.
fn rated(pressure: Option<Pressure>, units: UnitSystem) -> PaperCell {
    match PaperCell::measure(Measure::Pressure, pressure, units) {
        PaperCell::Empty => PaperCell::text("ask"),
        cell => cell,
    }
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

    fn columns(&self, columns: &mut Vec<PaperColumn>) {
        let priced = |heading: &str, unit: &str| PaperColumn {
            unit: unit.to_owned(),
            ..PaperColumn::count(heading, 1.3)
        };
        match self {
            Self::None => {}
            Self::One(currency, _) => columns.extend([priced("Price", currency), priced("Sum", currency)]),
            Self::Mixed(_) => {
                columns.extend([priced("Price", ""), priced("Sum", ""), PaperColumn::text("Currency", 0.9)]);
            }
        }
    }

    /// The cells of one line; returns its sum.
    fn cells(&self, entry: &Entry, paid: f64, project: &Project, cells: &mut Vec<PaperCell>) -> Option<f64> {
        if matches!(self, Self::None) {
            return None;
        }
        let each = entry.price.as_ref().map(|price| shown_price(entry, price, project));
        // The printed price times the printed quantity would differ by what the unit rounds; the stored one counts.
        let sum = entry.price.as_ref().map(|price| price.amount * paid).filter(|sum| sum.is_finite());
        cells.extend([money(each), money(sum)]);
        if matches!(self, Self::Mixed(_)) {
            cells.push(PaperCell::text(entry.price.as_ref().map_or("", |price| price.currency.as_str())));
        }
        sum.map(|sum| (sum * 100.0).round() / 100.0)
    }

    /// The total, or why there is none: a sum of some lines must not look like the whole.
    fn total(
        &self,
        items: &[ListItem],
        total: Option<f64>,
        columns: usize,
        totals: &mut Vec<Vec<PaperCell>>,
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
                        let mut cells = vec![PaperCell::Empty; columns];
                        cells[5] = PaperCell::text(format!("Items 1 to {count}"));
                        cells[6] = cells[5].clone();
                        cells[columns - 1] = money(Some(total));
                        totals.push(cells);
                        notes.push(
                            "The sum holds the items of the catalogue only, without reducers, seals, clamps, ties, outlets, \
                             labels, added lines, work and tax."
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

fn money(amount: Option<f64>) -> PaperCell {
    amount.map_or(PaperCell::Empty, |amount| {
        let text = decimals(amount, 2);
        let value = text.parse().unwrap_or(f64::NAN);
        PaperCell::Number { text, value }
    })
}

/// What the column of ratings says, and what plastic bears of it at the warmest temperature entered.
fn rated_words(project: &Project) -> String {
    let mut words =
        "Rated: highest pressure by the catalogue; \"ask\" where it says none. Of a gauge its full scale."
            .to_owned();
    let warmest = project.warmest();
    let share = thermoplastic_share(warmest);
    if share < 1.0 {
        let at = |celsius| Measure::Temperature.short_text(celsius, project.units);
        let _ = write!(
            words,
            " Ratings hold at {}: plastic bears {} of them at {}, the warmest entered.",
            at(RATED_AT),
            Measure::Percent.short_text(share, project.units),
            at(warmest.si())
        );
    }
    words
}
