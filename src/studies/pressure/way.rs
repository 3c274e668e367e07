//! The way to a row, piece by piece beside that of the mean row, and why the row gets more or less.

use std::collections::BTreeMap;

use crate::hydraulics::ways::{Passed, RowWay};
use crate::hydraulics::{KeptSolver, Outcome};
use crate::plan::{
    ElementKind, EntryKey, FeedElement, FittingKind, HoseStock, Item, ItemKind, PartKind, RowId, StockItem,
    StockKey, StockKind,
};
use crate::quantities::{Flow, Length, Pressure, Ratio};
use crate::studies::asked::{NoAnswer, Studied, Waiting, no_numbers, too_few_fed};
use crate::studies::metering::with_stock;
use crate::studies::reliance;
use crate::studies::trial::prepared;

/// Rows that differ from the mean by less than this are not told apart: 0.5 %.
pub(super) const ALIKE: f64 = 0.005;

/// What is asked.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct PressureOptions {
    /// The row; without it the one that is farthest from its target.
    pub row: Option<RowId>,
}

/// One thing on the way.
#[derive(Debug, Clone, PartialEq)]
pub struct WayItem {
    /// Its tag; of what only other rows pass none.
    pub tag: Option<String>,
    /// What it is, in plain words.
    pub kind: ItemKind,
    /// Length of a hose or tube; zero for anything else.
    pub length: Length,
    /// What it takes to friction and fittings.
    pub drop: Pressure,
    /// What its counterpart takes on the mean row's way.
    pub mean_drop: Pressure,
    /// What rising takes on it, beside that.
    pub rise: Pressure,
    /// The same of the mean row.
    pub mean_rise: Pressure,
    /// Length on the mean row's way.
    pub mean_length: Length,
    /// What can be varied to make it wider.
    pub(super) passed: Option<Passed>,
}

impl WayItem {
    /// Meters the flow.
    pub const fn is_metering(&self) -> bool {
        match self.kind {
            ItemKind::Element(kind) => kind.is_metering(),
            ItemKind::Stock(kind) => matches!(kind, StockKind::MeteringTube),
            ItemKind::Part(_) | ItemKind::Fitting(_) => false,
        }
    }

    /// What it takes more than the mean row's.
    pub fn more(&self) -> Pressure {
        self.drop - self.mean_drop
    }
}

/// What keeps a row from what the mean row gets.
#[derive(Debug, Clone, PartialEq)]
pub enum Cause {
    /// It gets what the mean row gets, within 0.5 %.
    Alike,
    /// Things of one kind take more or less than on the mean row's way.
    Takes {
        /// What they are.
        kind: ItemKind,
        /// What they take more together.
        more: Pressure,
        /// The one that makes most of it: on the row's way where that takes more, else one that other rows pass.
        of: Passed,
    },
    /// Its outlet stands higher or lower.
    Height {
        /// What that takes more.
        more: Pressure,
    },
    /// The pressure over the metering is that of the mean row: the metering itself passes more or less for the target.
    Metering,
    /// Nothing meters it, while other rows are metered.
    Unmetered,
}

/// What the next wider hose or tube in place of the cause would make of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Wider {
    /// The catalogue's entry.
    pub entry: EntryKey,
    /// Its bore.
    pub bore: Length,
    /// Flow of the row from that of the mean row then.
    pub from_mean: Ratio,
}

/// Where the pressure goes.
#[derive(Debug, Clone, PartialEq)]
pub struct PressureStudy {
    /// The row.
    pub row: RowId,
    /// As painted on the bar.
    pub number: u32,
    /// What it gets.
    pub flow: Flow,
    /// What the fed rows get on the mean.
    pub mean_flow: Flow,
    /// Its flow from target.
    pub deviation: Ratio,
    /// Flow over target beside the mean of that over the fed rows, less 1.
    pub from_mean: Ratio,
    /// How many rows the mean row is of.
    pub rows: usize,
    /// Gauge pressure at the pump: what both ways take in all.
    pub pump: Pressure,
    /// The row is farther from its target than the project accepts.
    pub outside_limits: bool,
    /// From the pump to the outlet.
    pub way: Vec<WayItem>,
    /// Why it gets more or less than the mean row.
    pub cause: Cause,
    /// What a wider hose or tube would do, where that is the cause of too little.
    pub wider: Option<Wider>,
    /// What to know before relying on it.
    pub warnings: Vec<String>,
}

impl PressureStudy {
    /// Pressure over its metering, and over that of the mean row.
    pub fn metering(&self) -> [Pressure; 2] {
        let all = || self.way.iter().filter(|item| item.is_metering());
        [all().map(|item| item.drop).sum(), all().map(|item| item.mean_drop).sum()]
    }

    /// What rising takes on its whole way, and on the mean row's.
    pub fn height(&self) -> [Pressure; 2] {
        [self.way.iter().map(|item| item.rise).sum(), self.way.iter().map(|item| item.mean_rise).sum()]
    }
}

/// Follows the pressure to a row.
///
/// # Errors
/// Where the routing has no numbers at the point, or the row gets no liquid.
pub fn study(
    of: &Studied,
    options: &PressureOptions,
    _waiting: &dyn Waiting,
) -> Result<PressureStudy, NoAnswer> {
    let mut kept = KeptSolver::default();
    let mut network = kept.prepare(of.project, of.routing);
    let outcome = network.solve(&of.point);
    let numbers = outcome.numbers().ok_or_else(|| no_numbers(of, &outcome))?;
    let ways = network.ways();
    let asked = match options.row {
        Some(row) => row,
        None => numbers
            .farthest_row()
            .map(|row| row.row)
            .ok_or_else(|| too_few_fed(of, "no row is fed", &outcome))?,
    };
    let found = outcome.row(asked).ok_or_else(|| {
        NoAnswer::impossible("the row that was asked for is not on the bar", "choose one that is")
    })?;
    let own = ways.iter().find(|way| way.row == asked).filter(|_| found.deviation.is_some());
    let (Some(own), Some(deviation)) = (own, found.deviation) else {
        return Err(NoAnswer::impossible(
            format!("row {} gets no liquid: there is no way to follow", found.number),
            "choose a row that is fed; the findings say what is missing",
        ));
    };
    // Rows that run out without a target are no rows to compare with.
    let fed: Vec<&RowWay> =
        ways.iter().filter(|way| outcome.row(way.row).is_some_and(|row| row.deviation.is_some())).collect();
    let way = side_by_side(of, own, &fed);
    let count = fed.len().max(1) as f64;
    let mean = outcome.evenness().map_or(1.0, |one| 1.0 + one.mean_deviation.si());
    let from_mean = Ratio::from_si((1.0 + deviation.si()) / mean - 1.0);
    let flows = fed.iter().filter_map(|way| outcome.row(way.row)).map(|row| row.flow);
    let cause = cause(of, &way, own, &fed, from_mean);
    let mut study = PressureStudy {
        row: asked,
        number: found.number,
        flow: found.flow,
        mean_flow: flows.sum::<Flow>() / count,
        deviation,
        from_mean,
        rows: fed.len(),
        pump: numbers.pump_pressure,
        outside_limits: deviation.abs() > of.project.limits.row_deviation,
        way,
        cause,
        wider: None,
        warnings: reliance::warnings(of, &outcome),
    };
    study.wider = wider(of, &study);
    Ok(study)
}

/// What is passed, put together: a part or hose has several links.
struct Piece {
    passed: Passed,
    kind: ItemKind,
    length: f64,
    drop: f64,
    rise: f64,
}

fn pieces(of: &Studied, way: &RowWay) -> Vec<Piece> {
    let mut all: Vec<Piece> = Vec::new();
    for step in &way.steps {
        let (length, drop, rise) = (step.length.si(), step.loss.si(), step.rise.si());
        // The length of a manifold's body is no hose.
        let length = if matches!(step.of, Passed::Part(_)) { 0.0 } else { length };
        match all.last_mut().filter(|last| last.passed == step.of) {
            Some(last) => {
                last.length += length;
                last.drop += drop;
                last.rise += rise;
            }
            None => all.push(Piece { passed: step.of, kind: kind_of(of, step.of), length, drop, rise }),
        }
    }
    all
}

fn kind_of(of: &Studied, passed: Passed) -> ItemKind {
    match passed {
        Passed::Run(_) => ItemKind::Stock(StockKind::Hose),
        Passed::SmallTee(_) => ItemKind::Fitting(FittingKind::SmallTee),
        Passed::Part(id) => {
            let item = of.routing.part(id).and_then(|part| of.project.catalogue.item(&part.entry));
            ItemKind::Part(item.map_or(PartKind::Manifold, |item| item.item_kind()))
        }
        Passed::Element(id) => {
            of.element(id).map_or(ItemKind::Stock(StockKind::Tube), FeedElement::item_kind)
        }
    }
}

/// The pieces of a row's way, each with its counterpart on the mean row's.
fn side_by_side(of: &Studied, own: &RowWay, fed: &[&RowWay]) -> Vec<WayItem> {
    /// Hoses and tubes of one role count on through the way; metering is metering.
    fn role(kind: ItemKind) -> ItemKind {
        match kind {
            ItemKind::Stock(StockKind::MeteringTube) => ItemKind::Element(ElementKind::MeteringOrifice),
            other => other,
        }
    }
    let numbered = |pieces: &[Piece]| -> Vec<(ItemKind, usize)> {
        let mut counts: BTreeMap<ItemKind, usize> = BTreeMap::new();
        pieces
            .iter()
            .map(|piece| {
                let count = counts.entry(role(piece.kind)).or_insert(0);
                *count += 1;
                (role(piece.kind), *count)
            })
            .collect()
    };
    // Drop, rise and length of each place, summed over the rows; with the kind found there first.
    let mut sums: BTreeMap<(ItemKind, usize), (ItemKind, [f64; 3])> = BTreeMap::new();
    for way in fed {
        let all = pieces(of, way);
        for (place, piece) in numbered(&all).into_iter().zip(&all) {
            let (_, sum) = sums.entry(place).or_insert((piece.kind, [0.0; 3]));
            *sum = [sum[0] + piece.drop, sum[1] + piece.rise, sum[2] + piece.length];
        }
    }
    let count = fed.len().max(1) as f64;
    let all = pieces(of, own);
    let mut items: Vec<WayItem> = Vec::new();
    for (place, piece) in numbered(&all).into_iter().zip(&all) {
        let mean = sums.remove(&place).map_or([0.0; 3], |(_, sum)| sum.map(|one| one / count));
        items.push(WayItem {
            tag: Some(of.tag(piece.passed)),
            kind: piece.kind,
            length: Length::from_si(piece.length),
            drop: Pressure::from_si(piece.drop),
            mean_drop: Pressure::from_si(mean[0]),
            rise: Pressure::from_si(piece.rise),
            mean_rise: Pressure::from_si(mean[1]),
            mean_length: Length::from_si(mean[2]),
            passed: Some(piece.passed),
        });
    }
    // What other rows pass beside, kind by kind: behind the last of its kind, or before the row feed.
    let mut beside: BTreeMap<ItemKind, (ItemKind, [f64; 3])> = BTreeMap::new();
    for ((of_role, _), (kind, sum)) in sums {
        let (_, all) = beside.entry(of_role).or_insert((kind, [0.0; 3]));
        *all = [all[0] + sum[0], all[1] + sum[1], all[2] + sum[2]];
    }
    for (of_role, (kind, sum)) in beside {
        let mean = sum.map(|one| one / count);
        let last = items.iter().rposition(|item| role(item.kind) == of_role).map(|at| at + 1);
        let before_feed =
            |kind: ItemKind| matches!(kind, ItemKind::Part(_) | ItemKind::Stock(StockKind::Hose));
        let feed = || items.iter().position(|item| !before_feed(item.kind));
        let at = last.or_else(feed).unwrap_or(items.len());
        let beside = WayItem {
            tag: None,
            kind,
            length: Length::ZERO,
            drop: Pressure::ZERO,
            mean_drop: Pressure::from_si(mean[0]),
            rise: Pressure::ZERO,
            mean_rise: Pressure::from_si(mean[1]),
            mean_length: Length::from_si(mean[2]),
            passed: None,
        };
        items.insert(at, beside);
    }
    items
}

/// What makes the row's flow differ from the mean row's.
fn cause(of: &Studied, way: &[WayItem], own: &RowWay, fed: &[&RowWay], from_mean: Ratio) -> Cause {
    if from_mean.si().abs() < ALIKE {
        return Cause::Alike;
    }
    let metering = || way.iter().filter(|item| item.is_metering());
    let drop: f64 = metering().map(|item| item.drop.si()).sum();
    let mean: f64 = metering().map(|item| item.mean_drop.si()).sum();
    let is_metered = metering().any(|item| item.tag.is_some());
    if !is_metered && mean > 0.0 {
        return Cause::Unmetered;
    }
    // Flow goes with the root of the pressure over the metering, or faster: less than half of that says that the metering differs.
    let by_pressure = if mean > 0.0 { 0.5 * (drop / mean - 1.0) } else { 0.0 };
    let is_by_pressure =
        by_pressure * from_mean.si() > 0.0 && by_pressure.abs() >= 0.5 * from_mean.si().abs();
    if is_metered && !is_by_pressure {
        return Cause::Metering;
    }
    let mut kinds: BTreeMap<ItemKind, f64> = BTreeMap::new();
    for item in way.iter().filter(|item| !item.is_metering()) {
        *kinds.entry(item.kind).or_insert(0.0) += item.more().si();
    }
    // Too little at the metering is too much elsewhere.
    let gets_less = if is_metered { drop < mean } else { from_mean.si() < 0.0 };
    let towards = if gets_less { 1.0 } else { -1.0 };
    let height: f64 = way.iter().map(|item| (item.rise - item.mean_rise).si()).sum();
    let most = kinds.into_iter().max_by(|a, b| (towards * a.1).total_cmp(&(towards * b.1)));
    match most {
        Some((kind, more)) if towards * more >= towards * height => {
            most_of(of, way, own, fed, kind, towards).map_or(
                Cause::Height { more: Pressure::from_si(height) },
                |of| Cause::Takes { kind, more: Pressure::from_si(more), of },
            )
        }
        _ => Cause::Height { more: Pressure::from_si(height) },
    }
}

/// Which thing of a kind makes most of a difference.
fn most_of(
    of: &Studied,
    way: &[WayItem],
    own: &RowWay,
    fed: &[&RowWay],
    kind: ItemKind,
    towards: f64,
) -> Option<Passed> {
    if towards > 0.0 {
        let of_kind = way.iter().filter(|item| item.kind == kind && item.passed.is_some());
        return of_kind.max_by(|a, b| a.more().si().total_cmp(&b.more().si()))?.passed;
    }
    let mut others: BTreeMap<Passed, f64> = BTreeMap::new();
    for piece in fed.iter().flat_map(|way| pieces(of, way)).filter(|piece| piece.kind == kind) {
        if own.steps.iter().all(|step| step.of != piece.passed) {
            *others.entry(piece.passed).or_insert(0.0) += piece.drop;
        }
    }
    let most = others.into_iter().max_by(|a, b| a.1.total_cmp(&b.1).then(b.0.cmp(&a.0)));
    most.map(|(passed, _)| passed)
}

/// The next wider stock in place of the hose or tube that takes too much, with the barbs that go into it.
fn wider(of: &Studied, study: &PressureStudy) -> Option<Wider> {
    let Cause::Takes { of: passed, .. } = study.cause else { return None };
    let stock = match passed {
        Passed::Run(id) => &of.routing.run(id)?.line.stock,
        Passed::Element(id) => match of.element(id)? {
            FeedElement::Tube(tube) => &tube.line.stock,
            _ => return None,
        },
        Passed::Part(_) | Passed::SmallTee(_) => return None,
    };
    let catalogue = &of.project.catalogue;
    let now = catalogue.stock(stock)?;
    let kind = catalogue.any_item(stock)?.item_kind();
    let wider = catalogue.entries.iter().filter(|entry| entry.item.item_kind() == kind);
    let dimensions = |item: &Item| -> Option<HoseStock> {
        match item {
            Item::Stock(StockItem::Hose(one) | StockItem::Tube(one)) => Some(*one),
            _ => None,
        }
    };
    let (entry, bore) = wider
        .filter_map(|entry| Some((entry, dimensions(&entry.item)?.bore)))
        .filter(|(_, bore)| *bore > now.bore)
        .min_by(|a, b| a.1.si().total_cmp(&b.1.si()))?;
    let mut routing = of.routing.routing.clone();
    let key = catalogue.key::<StockKey>(&entry.key)?;
    match passed {
        Passed::Run(id) => {
            let run = routing.runs.iter_mut().find(|run| run.id == id)?;
            with_stock(catalogue, run, &key);
        }
        Passed::Element(id) => {
            let feed = routing.feeds.iter_mut().find(|feed| feed.id == id.feed())?;
            let elements = match id.branch() {
                None => &mut feed.trunk,
                Some(branch) => &mut feed.branches.get_mut(branch)?.elements,
            };
            if let Some(FeedElement::Tube(tube)) = elements.get_mut(id.index()) {
                tube.line.stock = key;
            }
        }
        Passed::Part(_) | Passed::SmallTee(_) => {}
    }
    let outcome = prepared(of.project, &routing, |network| network.solve(&of.point));
    let from_mean = from_mean(&outcome, study.row)?;
    Some(Wider { entry: entry.key.clone(), bore, from_mean })
}

fn from_mean(outcome: &Outcome, row: RowId) -> Option<Ratio> {
    let deviation = outcome.row(row)?.deviation?;
    let mean = 1.0 + outcome.evenness()?.mean_deviation.si();
    Some(Ratio::from_si((1.0 + deviation.si()) / mean - 1.0))
}
