//! One condition other than planned: what it changes, and how the routing is solved under it.

use crate::hydraulics::resistance::VariedQuantity;
use crate::hydraulics::variation::{ElementId, LiquidQuantity, Parameter};
use crate::hydraulics::{KeptSolver, Outcome, PreparedRouting};
use crate::plan::{
    ElementItem, EntryKey, FeedElement, Item, OperatingPoint, PartId, RowId, RunId, StockItem, words,
};
use crate::quantities::{Angle, Measure, Pressure, Ratio, Temperature, Viscosity};
use crate::studies::Studied;

/// What is left of the length of a metering tube that has come off, m: its ends still have a loss.
const STUB: f64 = 1e-3;

/// A condition other than planned. It changes nothing in the project.
#[derive(Debug, Clone, PartialEq)]
pub enum Condition {
    /// A side slope; positive = right side up.
    SideSlope(Angle),
    /// A fore-aft slope; positive = nose up.
    ForeAftSlope(Angle),
    /// Liquid of another temperature.
    LiquidAt(Temperature),
    /// Liquid so many times as thick as its table says.
    Thicker(Ratio),
    /// A filter that takes so much more than clean, at the flow it has.
    FilterLoaded(PartId, Pressure),
    /// All metering passes so much more at the same pressure.
    AllMeteringWorn(Ratio),
    /// A section valve is shut.
    SectionShut(PartId),
    /// A row's outlet is blocked.
    RowBlocked(RowId),
    /// A row's metering has come off.
    MeteringLost(RowId),
    /// A row's metering passes so much more at the same pressure.
    MeteringWorn(RowId, Ratio),
    /// A row's metering is another one of the catalogue.
    MeteringOfOtherSize(RowId, EntryKey),
    /// A hose has so much of its bore left.
    HoseCrushed(RunId, Ratio),
    /// A row's delivery tube has so much of its bore left.
    TubeCrushed(RowId, Ratio),
}

/// What is to be solved in place of the plan.
#[derive(Debug, Clone)]
pub(super) enum Change {
    At(OperatingPoint),
    Numbers(Vec<(Parameter, f64)>),
    Block(RowId),
    Shut(PartId),
}

impl Change {
    /// What flows then, with a prepared routing as planned, which it is again afterwards.
    pub(super) fn solved(self, of: &Studied, prepared: &mut PreparedRouting) -> Option<Outcome> {
        let outcome = match self {
            Self::At(point) => Some(prepared.solve(&point)),
            Self::Numbers(numbers) => {
                let mut all = numbers.into_iter();
                let set = all.try_for_each(|(parameter, value)| prepared.set(parameter, value));
                set.is_ok().then(|| prepared.solve(&of.point))
            }
            Self::Block(row) => prepared.block(row).is_ok().then(|| prepared.solve(&of.point)),
            Self::Shut(valve) => {
                let mut routing = of.routing.routing.clone();
                routing.parts.iter_mut().find(|part| part.id == valve && !part.shut)?.shut = true;
                // What is shut lies where it lay.
                let laid = of.routing.geometry.with(&routing);
                Some(KeptSolver::default().prepare(of.project, laid).solve(&of.point))
            }
        };
        prepared.reset();
        outcome
    }
}

impl Condition {
    /// Somebody's mistake or a part that gives up, other than what every bar meets at work.
    pub const fn is_fault(&self) -> bool {
        match self {
            Self::SideSlope(_)
            | Self::ForeAftSlope(_)
            | Self::LiquidAt(_)
            | Self::Thicker(_)
            | Self::FilterLoaded(..)
            | Self::AllMeteringWorn(_)
            | Self::SectionShut(_) => false,
            Self::RowBlocked(_)
            | Self::MeteringLost(_)
            | Self::MeteringWorn(..)
            | Self::MeteringOfOtherSize(..)
            | Self::HoseCrushed(..)
            | Self::TubeCrushed(..) => true,
        }
    }

    /// What it is, and what is changed: `row blocked` and `row 12`.
    pub fn words(&self, of: &Studied) -> [String; 2] {
        let units = of.project.units;
        let part = |id: PartId| of.routing.part(id).map_or_else(String::new, |part| part.tag.clone());
        let row =
            |id: RowId| of.project.bar.row(id).map_or_else(String::new, |row| format!("row {}", row.number));
        let percent = |ratio: Ratio| Measure::Percent.short_text(ratio.si(), units);
        let metering = |id: RowId| match metering_of(of, id).first() {
            Some((_, FeedElement::MeteringTube { .. })) => "metering tube",
            _ => "orifice",
        };
        let pair = |what: &str, change: String| [what.to_owned(), change];
        match self {
            Self::SideSlope(slope) => pair("side slope", words::side_slope(*slope, units)),
            Self::ForeAftSlope(slope) => pair("fore-aft slope", words::fore_aft_slope(*slope, units)),
            Self::LiquidAt(temperature) => {
                let is_cold = *temperature < of.point.temperature;
                let text = Measure::Temperature.text(temperature.si(), units);
                pair(if is_cold { "cold liquid" } else { "warm liquid" }, text)
            }
            Self::Thicker(times) => pair(
                "thicker liquid",
                format!("viscosity times {}", Measure::Plain.short_number(times.si(), units)),
            ),
            Self::FilterLoaded(id, more) => pair(
                "filter loaded",
                format!("{}, {} more", part(*id), Measure::Pressure.text(more.si(), units)),
            ),
            Self::AllMeteringWorn(more) => pair("all metering worn", format!("{} more flow", percent(*more))),
            Self::SectionShut(id) => pair("section shut", part(*id)),
            Self::RowBlocked(id) => pair("row blocked", row(*id)),
            Self::MeteringLost(id) => [format!("{} lost", metering(*id)), row(*id)],
            Self::MeteringWorn(id, more) => {
                [format!("{} worn", metering(*id)), format!("{}, {} more flow", row(*id), percent(*more))]
            }
            Self::MeteringOfOtherSize(id, entry) => {
                let entry = of.project.catalogue.entry(entry);
                let name = entry.map_or("", |entry| entry.description.as_str());
                [format!("{} of another size", metering(*id)), format!("{}, {name}", row(*id))]
            }
            Self::HoseCrushed(id, left) => {
                let tag = of.routing.run(*id).map_or("", |run| run.tag.as_str());
                pair("hose crushed", format!("{tag}, {} of its bore left", percent(*left)))
            }
            Self::TubeCrushed(id, left) => {
                pair("delivery tube crushed", format!("{}, {} of its bore left", row(*id), percent(*left)))
            }
        }
    }

    /// The same in one: `row 12 blocked`, `hose crushed: H4, 50 % of its bore left`.
    pub fn text(&self, of: &Studied) -> String {
        let [what, change] = self.words(of);
        match self {
            Self::RowBlocked(_) => format!("{change} blocked"),
            _ => format!("{what}: {change}"),
        }
    }

    /// The row of the bar that it is about.
    pub const fn row(&self) -> Option<RowId> {
        match self {
            Self::RowBlocked(row)
            | Self::MeteringLost(row)
            | Self::MeteringWorn(row, _)
            | Self::MeteringOfOtherSize(row, _)
            | Self::TubeCrushed(row, _) => Some(*row),
            _ => None,
        }
    }

    /// What flows under it; nothing if the routing has not what it changes, or no numbers as planned.
    pub fn outcome(&self, of: &Studied) -> Option<Outcome> {
        let mut kept = KeptSolver::default();
        let mut prepared = kept.prepare(of.project, of.routing);
        let planned = prepared.solve(&of.point);
        let change = self.change(of, &mut prepared, &planned)?;
        change.solved(of, &mut prepared)
    }

    /// What is to be solved for it, from the solution as planned that the prepared routing holds.
    pub(super) fn change(
        &self,
        of: &Studied,
        prepared: &mut PreparedRouting,
        planned: &Outcome,
    ) -> Option<Change> {
        planned.numbers()?;
        let element = |id: ElementId, quantity| Parameter::Element(id, quantity);
        Some(match self {
            Self::SideSlope(slope) => Change::At(OperatingPoint { side_slope: *slope, ..of.point }),
            Self::ForeAftSlope(slope) => Change::At(OperatingPoint { fore_aft_slope: *slope, ..of.point }),
            Self::LiquidAt(temperature) => {
                Change::At(OperatingPoint { temperature: *temperature, ..of.point })
            }
            Self::SectionShut(valve) => Change::Shut(*valve),
            Self::RowBlocked(row) => Change::Block(*row),
            Self::Thicker(times) => {
                let liquid = of.project.duty(of.point.duty).liquid.at(of.point.temperature)?;
                let thick = Viscosity::from_si(liquid.viscosity.si() * times.si());
                Change::Numbers(vec![(Parameter::Liquid(LiquidQuantity::Viscosity), thick.si())])
            }
            Self::FilterLoaded(part, more) => {
                let drop = planned.part(*part)?.drop?.si();
                let parameter = Parameter::Part(*part, VariedQuantity::Coefficient);
                let clean = prepared.value(parameter, &of.point)?;
                let loaded = (drop > 0.0).then(|| clean * (drop + more.si()) / drop)?;
                Change::Numbers(vec![(parameter, loaded)])
            }
            Self::AllMeteringWorn(more) => {
                let all: Vec<RowId> = of.project.bar.rows.iter().map(|row| row.id).collect();
                let mut worn = Vec::new();
                for (id, _) in all.into_iter().flat_map(|row| metering_of(of, row)) {
                    // A row that gets nothing has nothing to wear.
                    if let Some(bore) = prepared.bore_for(id, 1.0 + more.si(), &of.point) {
                        worn.push((element(id, VariedQuantity::Bore), bore));
                    }
                }
                (!worn.is_empty()).then_some(Change::Numbers(worn))?
            }
            Self::MeteringWorn(row, more) => {
                let mut worn = Vec::new();
                for (id, _) in metering_of(of, *row) {
                    let bore = prepared.bore_for(id, 1.0 + more.si(), &of.point)?;
                    worn.push((element(id, VariedQuantity::Bore), bore));
                }
                (!worn.is_empty()).then_some(Change::Numbers(worn))?
            }
            Self::MeteringLost(row) => {
                let open = widest_tube(of, *row)?;
                let mut lost = Vec::new();
                for (id, piece) in metering_of(of, *row) {
                    lost.push((element(id, VariedQuantity::Bore), open));
                    lost.push(match piece {
                        FeedElement::MeteringTube { .. } => (element(id, VariedQuantity::Length), STUB),
                        _ => (element(id, VariedQuantity::DischargeCoefficient), 1.0),
                    });
                }
                (!lost.is_empty()).then_some(Change::Numbers(lost))?
            }
            Self::MeteringOfOtherSize(row, entry) => {
                let (id, _) = metering_of(of, *row).into_iter().next()?;
                Change::Numbers(match of.project.catalogue.any_item(entry)? {
                    Item::Element(ElementItem::MeteringOrifice(other)) => vec![
                        (element(id, VariedQuantity::Bore), other.bore.si()),
                        (element(id, VariedQuantity::DischargeCoefficient), other.cd),
                    ],
                    Item::Stock(StockItem::MeteringTube(other)) => {
                        vec![(element(id, VariedQuantity::Bore), other.bore.si())]
                    }
                    _ => return None,
                })
            }
            Self::HoseCrushed(run, left) => {
                let parameter = Parameter::Run(*run, VariedQuantity::Bore);
                let bore = prepared.value(parameter, &of.point)?;
                Change::Numbers(vec![(parameter, bore * left.si())])
            }
            Self::TubeCrushed(row, left) => {
                let (id, _) = row_elements(of, *row)
                    .into_iter()
                    .find(|(_, one)| matches!(one, FeedElement::Tube(_)))?;
                let parameter = element(id, VariedQuantity::Bore);
                let bore = prepared.value(parameter, &of.point)?;
                Change::Numbers(vec![(parameter, bore * left.si())])
            }
        })
    }
}

/// The elements of a row feed that are the row's own, or shared with others, with their ids.
fn row_elements<'a>(of: &Studied<'a>, row: RowId) -> Vec<(ElementId, &'a FeedElement)> {
    let Some(feed) = of.routing.routing.feed_of(row) else { return Vec::new() };
    let trunk = feed.trunk.iter().enumerate().map(|(index, one)| (ElementId::new(feed.id, None, index), one));
    let own =
        feed.branches.iter().enumerate().filter(|(_, branch)| branch.row == row).flat_map(|(at, branch)| {
            let elements = branch.elements.iter().enumerate();
            elements.map(move |(index, one)| (ElementId::new(feed.id, Some(at), index), one))
        });
    own.chain(trunk).collect()
}

/// What meters a row.
pub(super) fn metering_of<'a>(of: &Studied<'a>, row: RowId) -> Vec<(ElementId, &'a FeedElement)> {
    row_elements(of, row).into_iter().filter(|(_, one)| one.is_metering()).collect()
}

/// The widest tube of a row feed, m: what is open where the metering has come off.
fn widest_tube(of: &Studied, row: RowId) -> Option<f64> {
    let tubes = row_elements(of, row).into_iter().filter_map(|(_, one)| match one {
        FeedElement::Tube(tube) => Some(of.project.catalogue.stock(&tube.line.stock)?.bore.si()),
        _ => None,
    });
    tubes.reduce(f64::max)
}

/// The next smaller and the next wider metering of the catalogue than that of a row, alike but for their bore.
pub(super) fn other_sizes(of: &Studied, row: RowId) -> Vec<EntryKey> {
    let Some((_, piece)) = metering_of(of, row).into_iter().next() else { return Vec::new() };
    let catalogue = &of.project.catalogue;
    let Some(now) = catalogue.any_item(piece.entry()) else { return Vec::new() };
    let bore = |item: &Item| match item {
        Item::Element(ElementItem::MeteringOrifice(one)) => Some(one.bore.si()),
        Item::Stock(StockItem::MeteringTube(one)) => Some(one.bore.si()),
        _ => None,
    };
    // What its bore and coefficient do not tell has to be the same.
    let alike = |item: &Item| match (item, now) {
        (
            Item::Element(ElementItem::MeteringOrifice(one)),
            Item::Element(ElementItem::MeteringOrifice(other)),
        ) => one.creeping == other.creeping && (!one.creeping || one.thickness == other.thickness),
        (Item::Stock(StockItem::MeteringTube(one)), Item::Stock(StockItem::MeteringTube(other))) => {
            one.roughness == other.roughness
        }
        _ => false,
    };
    let Some(own) = bore(now) else { return Vec::new() };
    let others = || {
        catalogue
            .entries
            .iter()
            .filter(|entry| alike(&entry.item))
            .filter_map(|entry| Some((bore(&entry.item)?, &entry.key)))
    };
    let smaller = others().filter(|(bore, _)| *bore < own).max_by(|a, b| a.0.total_cmp(&b.0));
    let wider = others().filter(|(bore, _)| *bore > own).min_by(|a, b| a.0.total_cmp(&b.0));
    [smaller, wider].into_iter().flatten().map(|(_, key)| key.clone()).collect()
}
