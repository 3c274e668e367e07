//! What the study of the metering finds, as plain data.

use super::super::report::Lines;
use super::super::trial::{Judged, Requirement};
use crate::hydraulics::outcome::RowsCovered;
use crate::plan::pressure_bound::is_no_margin;
use crate::plan::{DutyId, ElementKey, Metering, RowId, StockKey};
use crate::quantities::{Length, Pressure, Ratio, Speed, Temperature};

/// How much colder or warmer than at work the metering is looked at, °C.
pub const TEMPERATURE_STEP: f64 = 5.0;

/// What a metering tube is to keep a row within when it is cut with a tolerance.
pub const CUT_ERROR: Ratio = Ratio::percent(1.0);

/// What the study may be told.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct MeteringOptions {
    /// What metering tubes are to take at the usual speed of the duty looked at; unless given they are cut half-way
    /// between the shortest that keeps the rows even beside the check valves and the longest that the supply can push.
    pub pressure: Option<Pressure>,
}

/// What the study found.
#[derive(Debug, Clone, PartialEq)]
pub struct MeteringStudy {
    /// Every orifice by its opening, then every metering-tube stock by its bore, then what is fitted where that is none of
    /// them.
    pub choices: Vec<MeteringChoice>,
    /// The place in `choices` of the one to take; none where nothing meets all requirements.
    pub recommended: Option<usize>,
    /// What does where no single metering does.
    pub two_sets: Option<TwoSets>,
    /// The place in `choices` of the one that comes nearest where nothing meets all requirements: what it breaks first is what
    /// to give up first.
    pub nearest: Option<usize>,
    /// Bores of hoses and tubes.
    pub bores: Vec<BoreChoice>,
    /// What to take once hoses and tubes are as wide as the bores say, where nothing serves before and rows off target are
    /// all that is missed; solved with those bores.
    pub with_wider: Option<MeteringChoice>,
    /// The rows in use that are connected to an open supply, and all rows of the bar.
    pub rows: RowsCovered,
    /// What was asked.
    pub options: MeteringOptions,
}

impl MeteringStudy {
    /// The choice to take.
    pub fn best(&self) -> Option<&MeteringChoice> {
        self.choices.get(self.recommended?)
    }

    /// Something does: with the hoses there are, or with wider ones.
    pub fn serves(&self) -> bool {
        self.best().is_some() || self.with_wider.is_some()
    }

    /// What is fitted now.
    pub fn in_use(&self) -> Option<&MeteringChoice> {
        self.choices.iter().find(|choice| choice.in_use)
    }
}

/// One metering in all rows.
#[derive(Debug, Clone, PartialEq)]
pub struct MeteringChoice {
    /// What rows of the most common target get.
    pub metering: Metering,
    /// What each row gets, in the bar's order.
    pub by_row: Vec<(RowId, Metering)>,
    /// The check valve that goes with it.
    pub valve: Option<ValveChoice>,
    /// Under every duty, the one looked at first.
    pub duties: Vec<ChoiceAtDuty>,
    /// Its smallest opening.
    pub passage: Option<Length>,
    /// The coarsest mesh of the routing's filters.
    pub mesh: Option<Length>,
    /// Of a tube: the shortest and the longest that grant what depends on the length; none where no length does.
    pub lengths: Option<(Length, Length)>,
    /// Of a tube: cut so much longer or shorter, a row stays within [`CUT_ERROR`].
    pub cut_tolerance: Option<Length>,
    /// Colder, then warmer liquid, at the usual speed of the duty looked at.
    pub temperatures: Vec<AtTemperature>,
    /// What is not granted somewhere, first what is given up first.
    pub broken: Vec<Requirement>,
    /// What the highest pressure at the pump leaves of what bounds it, as a share of that; none where nothing does.
    pub margin: Option<Ratio>,
    /// It is what is fitted now.
    pub in_use: bool,
}

impl MeteringChoice {
    /// It keeps all limits: it meets all requirements, but perhaps that for a margin.
    pub fn fits(&self) -> bool {
        self.broken.iter().all(|requirement| *requirement == Requirement::Margin)
    }

    /// Something is left below what bounds the pressure at the pump.
    pub fn has_margin(&self) -> bool {
        !self.margin.is_some_and(is_no_margin)
    }

    /// Its check valve shuts above what stands on it with the pump off, or there is none to shut.
    pub fn holds(&self) -> bool {
        self.valve.as_ref().is_none_or(|valve| valve.holds)
    }

    /// All rows get the same.
    pub fn is_uniform(&self) -> bool {
        self.by_row.windows(2).all(|pair| pair[0].1 == pair[1].1)
    }

    /// Everything it comes to, duty by duty and speed by speed.
    pub fn judged(&self) -> impl Iterator<Item = &Judged> {
        self.duties.iter().flat_map(|duty| &duty.at)
    }

    /// The largest coefficient of variation.
    pub fn worst_cv(&self) -> Option<Ratio> {
        self.judged().filter_map(|one| one.cv).reduce(Ratio::max)
    }

    /// The largest deviation of a row from its target, without its sign.
    pub fn farthest(&self) -> Option<Ratio> {
        self.judged().filter_map(|one| Some(one.farthest?.1.abs())).reduce(Ratio::max)
    }
}

/// The check valve that goes with a metering.
#[derive(Debug, Clone, PartialEq)]
pub struct ValveChoice {
    /// Entry of the catalogue.
    pub entry: ElementKey,
    /// Opens at this.
    pub cracking: Pressure,
    /// Shuts at this.
    pub closing: Pressure,
    /// Shuts above what stands on it with the pump off.
    pub holds: bool,
    /// All check valves are of it already.
    pub is_fitted: bool,
}

/// A metering under one duty.
#[derive(Debug, Clone, PartialEq)]
pub struct ChoiceAtDuty {
    /// The duty.
    pub duty: DutyId,
    /// Slowest, usual, fastest.
    pub at: [Judged; 3],
    /// The speeds between which all that depends on the speed is granted, the margin too; none where it is at no speed.
    pub window: Option<(Speed, Speed)>,
    /// Where the pump's reserve ends within that: above this speed it is less than the project's limit.
    pub reserve_to: Option<Speed>,
}

impl ChoiceAtDuty {
    /// The speeds at which the pump has its reserve besides; none where there are none.
    pub fn with_reserve(&self) -> Option<(Speed, Speed)> {
        let (from, to) = self.window?;
        let to = self.reserve_to.map_or(to, |ends| ends.min(to));
        (from <= to).then_some((from, to))
    }
}

/// A metering at another temperature.
#[derive(Debug, Clone, PartialEq)]
pub struct AtTemperature {
    /// The temperature, no farther from that at work than the liquid's table reaches.
    pub temperature: Temperature,
    /// Pressure at the pump against that at work.
    pub pump: Ratio,
    /// Total flow against that at work.
    pub flow: Ratio,
    /// Coefficient of variation there.
    pub cv: Option<Ratio>,
}

/// Two sets of metering.
#[derive(Debug, Clone, PartialEq)]
pub enum TwoSets {
    /// One for each duty, by its place in the choices.
    ByDuty(Vec<(DutyId, usize)>),
    /// One for slow work and one for fast work.
    BySpeed {
        /// Place of the one for slow work.
        slow: usize,
        /// Place of the one for fast work.
        fast: usize,
        /// The speeds at which both do, under every duty.
        both: Vec<(DutyId, Speed, Speed)>,
    },
}

/// Hoses or tubes that are sized together.
#[derive(Debug, Clone, PartialEq)]
pub struct BoreChoice {
    /// Which.
    pub lines: Lines,
    /// Their tags; none of delivery tubes, which are all of the routing's.
    pub tags: Vec<String>,
    /// As they are.
    pub now: BoreTrial,
    /// The smallest that does; where none does the one that comes nearest.
    pub least: BoreTrial,
    /// To be taken in place of what is there: as they are the lines do not keep their limits, or leave the pump no margin,
    /// and these have to be wider for it.
    pub recommended: bool,
    /// The next size up, if the catalogue has one.
    pub up: Option<BoreTrial>,
    /// The next size down, if the catalogue has one.
    pub down: Option<BoreTrial>,
}

/// Hoses or tubes of one size, the others of the smallest that does.
#[derive(Debug, Clone, PartialEq)]
pub struct BoreTrial {
    /// The stock.
    pub stock: StockKey,
    /// Its bore.
    pub bore: Length,
    /// The fastest that liquid runs in them.
    pub velocity: Speed,
    /// Largest coefficient of variation over the rows.
    pub cv: Option<Ratio>,
    /// Highest pressure at the pump.
    pub pump: Option<Pressure>,
    /// The ends go together with what they are joined to, as they are (tubes; hoses have fittings).
    pub ends_fit: bool,
    /// At every hinge that they cross a length serves, as far as that is known.
    pub crosses: bool,
    /// Velocity, evenness and pressure are kept, and they cross their hinges.
    pub keeps: bool,
    /// The pump has a margin to what bounds its pressure.
    pub has_margin: bool,
}
