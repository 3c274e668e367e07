//! The figures of one routing: how even it is at each speed, its pressures, and what it takes in hose and parts.

use crate::plan::Manifold;
use std::collections::BTreeMap;
use std::f64::consts::PI;

use super::contender::Contender;
use crate::hydraulics::Numbers;
use crate::hydraulics::Outcome;
use crate::plan::words::capital;
use crate::plan::{
    ElementGeometry, End, EntryKey, FeedElement, Item, LaidRouting, PartId, PartItem, PartKey, Project,
    StockItem, StockKey,
};
use crate::quantities::{Length, Measure, Pressure, UnitSystem, Volume};
use crate::studies::status::why_no_numbers;

/// Which value is better.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Direction {
    /// The lower one.
    Lower,
    /// The higher one.
    Higher,
    /// Neither by itself: it says how the routing is, not how good.
    Neither,
}

impl Direction {
    /// In a word.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Lower => "lower",
            Self::Higher => "higher",
            Self::Neither => "neither",
        }
    }
}

/// What an amount counts in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unit {
    /// A measured quantity, stored in SI.
    Measured(Measure),
    /// A number of things.
    Count,
    /// Money; the amount's note names the currency.
    Money,
}

impl Unit {
    /// The number alone.
    pub fn number(self, value: f64, units: UnitSystem) -> String {
        match self {
            Self::Measured(measure) => measure.number(value, units),
            Self::Count => Measure::Plain.short_number(value, units),
            Self::Money => format!("{value:.2}"),
        }
    }

    /// What is written behind the number; empty for counts and money.
    pub const fn symbol(self, units: UnitSystem) -> &'static str {
        match self {
            Self::Measured(measure) => measure.unit(units).symbol,
            Self::Count | Self::Money => "",
        }
    }
}

/// The value of a figure.
#[derive(Debug, Clone, PartialEq)]
pub enum Amount {
    /// Known.
    Is {
        /// In the stored unit.
        value: f64,
        /// Said beside it: which row, which part, which currency; may be empty.
        note: String,
    },
    /// Not known.
    Unknown {
        /// In place of the number.
        short: &'static str,
        /// Why.
        why: String,
    },
}

impl Amount {
    /// Known, with nothing to add.
    pub const fn is(value: f64) -> Self {
        Self::Is { value, note: String::new() }
    }

    /// Not known.
    pub fn unknown(short: &'static str, why: impl Into<String>) -> Self {
        Self::Unknown { short, why: why.into() }
    }

    /// The number, if known.
    pub const fn value(&self) -> Option<f64> {
        match self {
            Self::Is { value, .. } => Some(*value),
            Self::Unknown { .. } => None,
        }
    }

    /// Number, unit and note: `11.2 % (row 20)`, `no price`.
    pub fn text(&self, unit: Unit, units: UnitSystem) -> String {
        match self {
            Self::Unknown { short, .. } => (*short).to_owned(),
            Self::Is { value, note } => {
                let number = unit.number(*value, units);
                match (unit, unit.symbol(units), note.as_str()) {
                    (Unit::Money, _, currency) => format!("{number} {currency}"),
                    (_, "", "") => number,
                    (_, symbol, "") => format!("{number} {symbol}"),
                    (_, symbol, note) => format!("{number} {symbol} ({note})"),
                }
            }
        }
    }
}

/// Where a figure is read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Condition {
    /// At the point looked at, where that is none of the other three.
    LookedAt,
    /// At the slowest speed.
    Slowest,
    /// At the usual speed.
    Usual,
    /// At the fastest speed.
    Fastest,
}

impl Condition {
    /// The end of a figure's key.
    pub const fn key(self) -> &'static str {
        match self {
            Self::LookedAt => "looked_at",
            Self::Slowest => "slowest",
            Self::Usual => "usual",
            Self::Fastest => "fastest",
        }
    }
}

/// What belongs together under one heading.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Group {
    /// Flow and pressure at one condition, with its heading.
    At(Condition, String),
    /// Hose and tube.
    Lengths,
    /// Parts.
    Parts,
    /// Joints.
    Joints,
    /// Cost.
    Cost,
}

impl Group {
    /// The heading.
    pub fn heading(&self) -> &str {
        match self {
            Self::At(_, heading) => heading,
            Self::Lengths => "Hose and tube",
            Self::Parts => "Parts",
            Self::Joints => "Joints",
            Self::Cost => "Cost",
        }
    }
}

/// What a figure is.
#[derive(Debug, Clone, PartialEq)]
pub struct Figure {
    /// Under which heading.
    pub group: Group,
    /// Stable name without unit: `cv_usual`, `hose_length.hose-8`.
    pub key: String,
    /// In words.
    pub name: String,
    /// What it counts in.
    pub unit: Unit,
    /// Which value is better.
    pub better: Direction,
}

/// All figures of one routing with their amounts. `looked_at` adds those of the point looked at.
pub(super) fn figures(
    project: &Project,
    contender: &Contender<'_>,
    looked_at: bool,
) -> Vec<(Figure, Amount)> {
    let mut list = List::default();
    let speed = |outcome: &Outcome| Measure::GroundSpeed.short_text(outcome.point.speed.si(), project.units);
    if looked_at {
        let heading = format!("Looked at, {}", speed(contender.outcome));
        list.flow(project, contender.routing, contender.outcome, Condition::LookedAt, &heading);
    }
    let [slowest, usual, fastest] = &contender.range.outcomes;
    for (condition, outcome, what) in [
        (Condition::Slowest, slowest, "Slowest"),
        (Condition::Usual, usual, "Usual"),
        (Condition::Fastest, fastest, "Fastest"),
    ] {
        let heading = format!("{what}, {}", speed(outcome));
        list.flow(project, contender.routing, outcome, condition, &heading);
    }
    list.material(project, contender.routing);
    list.0
}

#[derive(Default)]
struct List(Vec<(Figure, Amount)>);

impl List {
    fn add(
        &mut self,
        group: &Group,
        key: impl Into<String>,
        name: impl Into<String>,
        unit: Unit,
        better: Direction,
        amount: Amount,
    ) {
        let figure = Figure { group: group.clone(), key: key.into(), name: name.into(), unit, better };
        self.0.push((figure, amount));
    }

    fn flow(
        &mut self,
        project: &Project,
        routing: LaidRouting,
        outcome: &Outcome,
        condition: Condition,
        heading: &str,
    ) {
        use Direction::{Higher, Lower, Neither};
        let group = Group::At(condition, heading.to_owned());
        let key = |what: &str| format!("{what}_{}", condition.key());
        let why = why_no_numbers(outcome, routing.routing);
        let numbers = outcome.numbers();
        let known = |value: Option<f64>, note: String| match (&why, value) {
            (Some(why), _) => Amount::unknown("–", why.clone()),
            (None, Some(value)) => Amount::Is { value, note },
            (None, None) => Amount::unknown("–", "nothing to measure it on"),
        };
        let plain = |value: Option<f64>| known(value, String::new());
        let percent = Unit::Measured(Measure::Percent);
        let pressure = Unit::Measured(Measure::Pressure);
        let evenness = outcome.evenness();
        let cv = evenness.map(|one| one.cv.si());
        self.add(&group, key("cv"), "CV over rows", percent, Lower, plain(cv));
        let du = evenness.map(|one| one.du_lowest_quarter.si());
        self.add(&group, key("du_lowest_quarter"), "DU, lowest quarter", percent, Higher, plain(du));
        let farthest = numbers.and_then(Numbers::farthest_row);
        let off = farthest.and_then(|row| row.deviation);
        let note = farthest.zip(off).map_or_else(String::new, |(row, off)| {
            format!("row {}, too {}", row.number, if off.si() < 0.0 { "little" } else { "much" })
        });
        let amount = known(off.map(|one| one.abs().si()), note);
        self.add(&group, key("farthest_row"), "Farthest row, off target", percent, Lower, amount);
        let amount = plain(Some(outcome.fed_rows() as f64));
        self.add(&group, key("rows_fed"), "Rows fed", Unit::Count, Higher, amount);
        let shortfall = outcome.at_limit().map_or(0.0, |(shortfall, _)| shortfall.si());
        let amount = plain(Some(shortfall));
        let flow = Unit::Measured(Measure::TotalFlow);
        self.add(&group, key("shortfall"), "Short of the rate", flow, Lower, amount);
        let inlet = numbers.map(|numbers| numbers.inlet_pressure.si());
        self.add(&group, key("inlet"), "Inlet", pressure, Lower, plain(inlet));
        let is = |entry: &PartKey, wanted: fn(&PartItem) -> bool| {
            project.catalogue.item(entry).is_some_and(wanted)
        };
        let reading = |id: PartId| outcome.part(id).and_then(|part| part.pressure).map(Pressure::si);
        let manifolds: Vec<(f64, &str)> = routing
            .parts
            .iter()
            .filter(|part| is(&part.entry, |item| matches!(item, PartItem::Manifold(_))))
            .filter_map(|part| Some((reading(part.id)?, part.tag.as_str())))
            .collect();
        let highest = manifolds.iter().max_by(|a, b| a.0.total_cmp(&b.0));
        let lowest = manifolds.iter().min_by(|a, b| a.0.total_cmp(&b.0));
        for (what, name, found) in [
            ("highest_manifold", "Manifold, highest", highest),
            ("lowest_manifold", "Manifold, lowest", lowest),
        ] {
            let note = found.map_or_else(String::new, |(_, tag)| (*tag).to_owned());
            let amount = known(found.map(|(value, _)| *value), note);
            self.add(&group, key(what), name, pressure, Neither, amount);
        }
        for part in &routing.parts {
            if is(&part.entry, |item| matches!(item, PartItem::Gauge(_))) {
                let key = format!("gauge_{}.{}", condition.key(), part.tag);
                let amount = plain(reading(part.id));
                self.add(&group, key, format!("Gauge {}", part.tag), pressure, Neither, amount);
            }
        }
    }

    fn material(&mut self, project: &Project, routing: LaidRouting) {
        use Direction::{Lower, Neither};
        let material = Material::of(project, routing);
        let length = Unit::Measured(Measure::Distance);
        let group = Group::Lengths;
        for (key, name, all) in [
            ("hose_length", "Hose", &material.hoses),
            ("tube_length", "Tube", &material.tubes),
            ("metering_tube_length", "Metering tube", &material.metering_tubes),
        ] {
            if all.is_empty() && key == "metering_tube_length" {
                continue;
            }
            let total: Length = all.values().copied().sum();
            self.add(&group, key, format!("{name}, all"), length, Lower, Amount::is(total.si()));
            let mut stocks: Vec<(&StockKey, &Length)> = all.iter().collect();
            let bore = |key: &StockKey| project.catalogue.stock(key).map_or(0.0, |stock| stock.bore.si());
            stocks.sort_by(|a, b| bore(a.0).total_cmp(&bore(b.0)));
            for (stock, metres) in stocks {
                let item = project.catalogue.item(stock);
                let size = item.map_or_else(|| stock.to_string(), |item| item.size(project.units));
                let key = format!("{key}.{stock}");
                self.add(&group, key, format!("{name}, {size}"), length, Neither, Amount::is(metres.si()));
            }
        }
        for (key, name, better, found) in [
            ("longest_tube", "Longest tube", Lower, material.longest),
            ("shortest_tube", "Shortest tube", Neither, material.shortest),
        ] {
            let amount = found.map_or_else(
                || Amount::unknown("–", "it has no tube"),
                |(metres, row)| Amount::Is { value: metres.si(), note: format!("row {row}") },
            );
            self.add(&group, key, name, length, better, amount);
        }
        let count = |number: usize| Amount::is(number as f64);
        self.add(
            &group,
            "runs_across_hinges",
            "Runs across hinges",
            Unit::Count,
            Lower,
            count(material.runs_across_hinges),
        );
        let volume = Unit::Measured(Measure::Volume);
        let held = Amount::is(material.held.si());
        self.add(&group, "liquid_held", "Liquid held", volume, Lower, held);

        for (group, key, name, all) in [
            (Group::Parts, "parts", "Parts, all", &material.parts),
            (Group::Joints, "joints", "Joints, all", &material.joints),
        ] {
            self.add(&group, key, name, Unit::Count, Lower, count(all.values().sum()));
            for (kind, number) in all {
                let key = format!("{key}.{}", kind.replace(' ', "_"));
                self.add(&group, key, capital(kind), Unit::Count, Neither, count(*number));
            }
        }

        for (key, name, better, entries) in [
            ("cost_hose_and_tube", "Hose and tube", Neither, &material.priced_lengths),
            ("cost_parts", "Parts", Neither, &material.priced_pieces),
            ("cost", "Together", Lower, &material.priced_all()),
        ] {
            self.add(&Group::Cost, key, name, Unit::Money, better, cost(project, entries));
        }
    }
}

/// What all these entries cost together: whole, or not known.
fn cost(project: &Project, entries: &BTreeMap<EntryKey, f64>) -> Amount {
    if entries.is_empty() {
        return Amount::unknown("–", "there is nothing to buy");
    }
    let prices: Vec<_> = entries
        .iter()
        .map(|(key, amount)| (project.catalogue.entry(key).and_then(|entry| entry.price.as_ref()), *amount))
        .collect();
    let missing = prices.iter().filter(|(price, _)| price.is_none()).count();
    if missing > 0 {
        let why = format!("the catalogue has no price for {missing} of the {} entries used", entries.len());
        return Amount::unknown("no price", why);
    }
    let mut total = 0.0;
    let mut currency: Option<&str> = None;
    for (price, amount) in &prices {
        let Some(price) = price else { continue };
        if *currency.get_or_insert(&price.currency) != price.currency {
            return Amount::unknown("several currencies", "its prices are in several currencies");
        }
        total += price.amount * amount;
    }
    Amount::Is { value: total, note: currency.unwrap_or_default().to_owned() }
}

/// What a routing is made of.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Material {
    /// Metres of each hose stock.
    pub(super) hoses: BTreeMap<StockKey, Length>,
    /// Metres of each tube stock.
    pub(super) tubes: BTreeMap<StockKey, Length>,
    /// Metres of each metering tube stock.
    pub(super) metering_tubes: BTreeMap<StockKey, Length>,
    /// Pieces of each kind, hoses and tubes apart.
    pub(super) parts: BTreeMap<&'static str, usize>,
    /// Joints of each kind.
    pub(super) joints: BTreeMap<&'static str, usize>,
    /// The longest way in tube from a manifold to a row, and the row's number.
    pub(super) longest: Option<(Length, u32)>,
    /// The shortest.
    pub(super) shortest: Option<(Length, u32)>,
    /// Hoses and row feeds that lead over at least one hinge.
    pub(super) runs_across_hinges: usize,
    /// In hoses (the supply hose too), tubes and bodies of manifolds, filled.
    pub(super) held: Volume,
    priced_lengths: BTreeMap<EntryKey, f64>,
    priced_pieces: BTreeMap<EntryKey, f64>,
}

/// Two hoses, or a hose and a part or fitting, meet.
const HOSE_JOINTS: &str = "hose joints";
/// A delivery or metering tube meets something.
const TUBE_JOINTS: &str = "tube joints";
/// Two parts meet without hose or tube between them.
const PART_JOINTS: &str = "part on part";

impl Material {
    /// Counts a routing. A chain of pieces between two connected ends has a joint at each end and between every two
    /// neighbours; a fitting on a hose counts as one joint more; a tube's free end over the furrow is none.
    pub(super) fn of(project: &Project, routing: LaidRouting) -> Self {
        let mut all = Self::default();
        for part in &routing.parts {
            all.piece(project, &part.entry);
            if part.mount.is_some() {
                all.join(PART_JOINTS, 1);
            }
            if let Some(PartItem::Manifold(Manifold { outlets, spacing, bore, .. })) =
                project.catalogue.item(&part.entry)
            {
                all.hold(*bore, *spacing * f64::from(*outlets));
            }
        }
        for run in &routing.runs {
            let laid = routing.geometry.run(run.id);
            let length = laid.map(|laid| laid.length).unwrap_or_default();
            all.length_of(project, &run.line.stock, length);
            let connected = [&run.from, &run.to].iter().filter(|end| !matches!(end, End::Loose(_))).count();
            all.join(HOSE_JOINTS, connected + run.fittings.len());
            for fitting in &run.fittings {
                all.piece(project, fitting);
            }
            all.runs_across_hinges += usize::from(laid.is_some_and(|laid| !laid.hinges.is_empty()));
        }
        for feed in &routing.feeds {
            all.feed(project, routing, feed);
        }
        all
    }

    fn feed(&mut self, project: &Project, routing: LaidRouting, feed: &crate::plan::RowFeed) {
        let bar = &project.bar;
        let Some(geometry) = routing.geometry.feed(feed.id) else { return };
        // What the next piece is joined to: a part (false), a tube (true), or nothing yet.
        let start = (!matches!(feed.from, End::Loose(_))).then_some(false);
        let mut before = start;
        let mut shared = Length::ZERO;
        for (element, laid) in feed.trunk.iter().zip(&geometry.trunk) {
            shared += self.element(project, element, laid, &mut before);
        }
        if let Some(split) = &feed.split {
            self.piece(project, &split.entry);
            self.joint(before, false);
            before = Some(false);
        }
        for (branch, laid) in feed.branches.iter().zip(&geometry.branches) {
            let mut before = before;
            let mut own = Length::ZERO;
            for (element, laid) in branch.elements.iter().zip(laid) {
                own += self.element(project, element, laid, &mut before);
            }
            let way = shared + own;
            if let Some(row) = bar.row(branch.row).filter(|_| way > Length::ZERO) {
                if self.longest.is_none_or(|(longest, _)| way > longest) {
                    self.longest = Some((way, row.number));
                }
                if self.shortest.is_none_or(|(shortest, _)| way < shortest) {
                    self.shortest = Some((way, row.number));
                }
            }
        }
        let from = geometry.start.section;
        let crosses = feed
            .branches
            .iter()
            .filter_map(|branch| bar.row(branch.row))
            .any(|row| !bar.hinges_between(from, row.section).is_empty());
        self.runs_across_hinges += usize::from(crosses);
    }

    /// Counts one element; what it adds to the way in delivery tube.
    fn element(
        &mut self,
        project: &Project,
        element: &FeedElement,
        laid: &ElementGeometry,
        before: &mut Option<bool>,
    ) -> Length {
        let is_tube = matches!(element, FeedElement::Tube(_) | FeedElement::MeteringTube { .. });
        self.joint(*before, is_tube);
        *before = Some(is_tube);
        match element {
            FeedElement::Tube(tube) => {
                let length = laid.length.unwrap_or_default();
                self.length_of(project, &tube.line.stock, length);
                length
            }
            FeedElement::MeteringTube { stock, length, .. } => {
                self.length_of(project, stock, *length);
                Length::ZERO
            }
            FeedElement::Piece(..) | FeedElement::Fitting(_) => {
                self.piece(project, element.entry());
                Length::ZERO
            }
        }
    }

    fn joint(&mut self, before: Option<bool>, is_tube: bool) {
        match before {
            None => {}
            Some(was_tube) if was_tube || is_tube => self.join(TUBE_JOINTS, 1),
            Some(_) => self.join(PART_JOINTS, 1),
        }
    }

    fn join(&mut self, kind: &'static str, count: usize) {
        if count > 0 {
            *self.joints.entry(kind).or_default() += count;
        }
    }

    fn piece(&mut self, project: &Project, entry: &EntryKey) {
        let kind = project.catalogue.any_item(entry).map_or("unknown", Item::kind);
        *self.parts.entry(kind).or_default() += 1;
        *self.priced_pieces.entry(entry.clone()).or_default() += 1.0;
    }

    fn length_of(&mut self, project: &Project, stock: &StockKey, length: Length) {
        let kind = match project.catalogue.item(stock) {
            Some(StockItem::Tube(_)) => &mut self.tubes,
            Some(StockItem::MeteringTube(_)) => &mut self.metering_tubes,
            Some(StockItem::Hose(_)) | None => &mut self.hoses,
        };
        *kind.entry(stock.clone()).or_default() += length;
        *self.priced_lengths.entry(stock.any().clone()).or_default() += length.si();
        if let Some(stock) = project.catalogue.stock(stock) {
            self.hold(stock.bore, length);
        }
    }

    /// A round bore of a length, filled: π/4·d²·L.
    fn hold(&mut self, bore: Length, length: Length) {
        self.held += Volume::from_si(PI / 4.0 * bore.si().powi(2) * length.si());
    }

    fn priced_all(&self) -> BTreeMap<EntryKey, f64> {
        let mut all = self.priced_lengths.clone();
        for (key, count) in &self.priced_pieces {
            *all.entry(key.clone()).or_default() += count;
        }
        all
    }
}
