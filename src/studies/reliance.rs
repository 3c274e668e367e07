//! What to know before relying on a solved state, in the words of every study.

use std::collections::{BTreeMap, BTreeSet};

use super::Studied;
use super::status::{rows_words, status_words};
use crate::hydraulics::outcome::NotFed;
use crate::hydraulics::{Outcome, RowState, SupplyState};
use crate::plan::catalogue::Entry;
use crate::plan::{EntryKey, Liquid, OperatingPoint, Source, words};
use crate::quantities::{Measure, UnitSystem};
use strum::EnumCount;

/// Which liquids have no values at the temperatures of these points, each said once.
pub(super) fn outside_table(of: &Studied, points: impl IntoIterator<Item = OperatingPoint>) -> Vec<String> {
    let mut seen = BTreeSet::new();
    let mut all = Vec::new();
    for point in points {
        let liquid = &of.project.duty(point.duty).liquid;
        if liquid.at(point.temperature).is_some_and(|state| state.outside_table) {
            let temperature = Measure::Temperature.text(point.temperature.si(), of.project.units);
            let words = format!("{} has no values at {temperature}: the nearest are used", liquid.name);
            if seen.insert(words.clone()) {
                all.push(words);
            }
        }
    }
    all
}

/// What to know before relying on figures of a solve: a supply at its limit, rows without liquid, values of the liquid that
/// nobody measured or that its table does not reach.
pub(super) fn warnings(of: &Studied, outcome: &Outcome) -> Vec<String> {
    let mut all: Vec<String> = supply(of, outcome).into_iter().collect();
    if let Some(rows) = rows_words(outcome.rows_in_evenness()) {
        // A row that is left out is not meant to get any; what runs out there is a finding.
        let left_out = |id| of.project.bar.row(id).is_some_and(|row| row.left_out);
        let without = outcome.rows().iter().filter(|row| row.state != RowState::Fed && !left_out(row.row));
        let without: Vec<u32> = without.map(|row| row.number).collect();
        if !without.is_empty() {
            let row = if without.len() == 1 { "row" } else { "rows" };
            all.push(format!("{rows} are fed; without liquid: {row} {}", words::ranges(&without)));
        }
    }
    all.extend(liquid(of, outcome));
    all.extend(metering(of));
    all
}

/// That the supply does not give what is asked.
pub(super) fn supply(of: &Studied, outcome: &Outcome) -> Option<String> {
    let is_short = outcome.numbers().is_some_and(|one| one.supply != SupplyState::AsAsked);
    is_short.then(|| format!("the supply is {}", status_words(outcome, of.routing.routing, of.project.units)))
}

/// Values of the liquid that nobody measured or that its table does not reach.
pub(super) fn liquid(of: &Studied, outcome: &Outcome) -> Vec<String> {
    let duty = of.project.duty(outcome.point.duty);
    let mut all = outside_table(of, [outcome.point]);
    let sources = [("density", &duty.liquid.density_source), ("viscosity", &duty.liquid.viscosity_source)];
    let assumed: Vec<String> = sources
        .iter()
        .filter(|(_, source)| **source == Source::Assumed)
        .map(|(name, _)| (*name).to_owned())
        .collect();
    if !assumed.is_empty() {
        let verb = if assumed.len() == 1 { "is" } else { "are" };
        all.push(format!("the {} of {} {verb} assumed", words::list(&assumed), duty.liquid.name));
    }
    for (name, source) in sources {
        if let Source::Calibrated(by) = source {
            let words = by.words_with_interval(of.project.units);
            all.push(format!("the {name} of {} was {words}", duty.liquid.name));
        }
    }
    all
}

/// What figures of a solve rest on that nobody measured, or that a catch test calibrated, with the interval that is left:
/// sentences without a full stop.
pub fn rests_on(of: &Studied, outcome: &Outcome) -> Vec<String> {
    let mut all = liquid(of, outcome);
    all.extend(metering(of));
    all
}

/// Which metering of the routing a catch test calibrated, with the interval that is left.
fn metering(of: &Studied) -> Vec<String> {
    let elements = of.routing.feeds.iter().flat_map(|feed| feed.elements());
    let used: BTreeSet<&EntryKey> = elements.map(|element| element.entry()).collect();
    let entries = used.into_iter().filter_map(|key| of.project.catalogue.entry(key));
    let told = |entry: &Entry| {
        let (field, by) = entry.calibration()?;
        let words = by.words_with_interval(of.project.units);
        Some(format!(
            "the {} of {} was {words}",
            field.name().to_lowercase(),
            words::short(&entry.description)
        ))
    };
    entries.filter_map(told).collect()
}

/// That the viscosity of a liquid is assumed, or from which catch test it is; nothing where somebody measured or published
/// it. Without a full stop.
pub(super) fn viscosity(liquid: &Liquid, units: UnitSystem) -> Option<String> {
    match &liquid.viscosity_source {
        Source::Measured | Source::Published => None,
        Source::Calibrated(by) => {
            Some(format!("the viscosity of {} was {}", liquid.name, by.words_with_interval(units)))
        }
        Source::Assumed => Some(format!("the viscosity of {} is assumed", liquid.name)),
    }
}

/// Rows in use that get no liquid in one solve or in one of several: to be said before anything good is said of the others.
#[derive(Debug, Clone, Default)]
pub(super) struct WithoutLiquid {
    /// By number, with why.
    rows: BTreeMap<u32, Why>,
}

/// Why a row gets nothing, the worst first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, EnumCount)]
enum Why {
    NotConnected,
    SectionShut,
    ValveStaysShut,
    DrawsAir,
    Blocked,
}

impl Why {
    const ALL: [Self; Self::COUNT] =
        [Self::NotConnected, Self::SectionShut, Self::ValveStaysShut, Self::DrawsAir, Self::Blocked];

    const fn of(state: RowState) -> Option<Self> {
        match state {
            RowState::Fed | RowState::NotFed(NotFed::LeftOut) => None,
            RowState::NotFed(NotFed::NoFeed | NotFed::FeedLoose | NotFed::NoSupply) => {
                Some(Self::NotConnected)
            }
            RowState::NotFed(NotFed::SectionShut) => Some(Self::SectionShut),
            RowState::ValveStaysShut => Some(Self::ValveStaysShut),
            RowState::FlowsBackward => Some(Self::DrawsAir),
            RowState::Blocked => Some(Self::Blocked),
        }
    }

    fn words(self, rows: &[u32]) -> String {
        let numbers = words::ranges(rows);
        let (row, is, its) = if rows.len() == 1 { ("row", "is", "draws") } else { ("rows", "are", "draw") };
        match self {
            Self::NotConnected => format!("{row} {numbers} {is} not connected to the supply"),
            Self::SectionShut => format!("{row} {numbers} {is} behind a shut section valve"),
            Self::ValveStaysShut => format!("the pressure does not open the check valves of {row} {numbers}"),
            Self::DrawsAir => format!("{row} {numbers} {its} air in"),
            Self::Blocked => format!("{row} {numbers} {is} blocked"),
        }
    }
}

impl WithoutLiquid {
    /// Of one solve.
    pub(super) fn of(of: &Studied, outcome: &Outcome) -> Self {
        let mut all = Self::default();
        all.add(of, outcome);
        all
    }

    /// Those of one more solve.
    pub(super) fn add(&mut self, of: &Studied, outcome: &Outcome) {
        let left_out = |id| of.project.bar.row(id).is_some_and(|row| row.left_out);
        for row in outcome.rows().iter().filter(|row| !left_out(row.row)) {
            if let Some(why) = Why::of(row.state) {
                let known = self.rows.entry(row.number).or_insert(why);
                *known = why.min(*known);
            }
        }
    }

    /// `Feed all rows first: ...`; nothing where all rows in use get liquid.
    pub(super) fn words(&self) -> Option<String> {
        let of = |why: Why| {
            let rows = self.rows.iter().filter(|(_, one)| **one == why);
            rows.map(|(number, _)| *number).collect::<Vec<u32>>()
        };
        let all = Why::ALL.map(|why| (why, of(why)));
        let all: Vec<String> =
            all.iter().filter(|(_, rows)| !rows.is_empty()).map(|(why, rows)| why.words(rows)).collect();
        (!all.is_empty()).then(|| {
            format!("Feed all rows first, what follows is of the others alone: {}", words::list(&all))
        })
    }
}
