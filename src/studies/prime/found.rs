//! What priming finds.

use std::collections::BTreeMap;

use crate::plan::RowId;
use crate::quantities::{Angle, Length, Volume};

/// When a row has liquid.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PrimedRow {
    /// The row.
    pub row: RowId,
    /// As painted on the bar.
    pub number: u32,
    /// From empty lines to liquid at its outlet, s; none where none comes.
    pub fill_s: Option<f64>,
    /// How far the bar is driven meanwhile.
    pub driven: Option<Length>,
    /// What its way from the pump holds.
    pub way: Volume,
    /// How long a flush takes to come to its outlet, s: plug flow.
    pub clear_s: f64,
}

/// What holds liquid: a hose, a part's body, the tubes of a row feed.
#[derive(Debug, Clone, PartialEq)]
pub struct HeldIn {
    /// Its tag.
    pub tag: String,
    /// What it is.
    pub what: Holds,
    /// What it holds when liquid has come as far as it comes; ends that keep their air hold nothing.
    pub volume: Volume,
    /// When it is full, s from the start, but for ends that keep their air; none where nothing of it fills.
    pub full_s: Option<f64>,
}

/// Kinds of what holds liquid.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Holds {
    /// Hoses from the pump to the manifolds.
    Hoses,
    /// Bodies of manifolds.
    Manifolds,
    /// Delivery tubes of rows.
    Tubes,
    /// Metering tubes.
    MeteringTubes,
}

impl Holds {
    /// In plain words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Hoses => "hoses",
            Self::Manifolds => "manifolds",
            Self::Tubes => "delivery tubes",
            Self::MeteringTubes => "metering tubes",
        }
    }
}

/// How the bar stands with the pump off.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Stands {
    /// Unfolded.
    AtWork {
        /// Side slope; positive = right side up.
        side_slope: Angle,
        /// Fore-aft slope; positive = nose up.
        fore_aft_slope: Angle,
    },
    /// Folded for the road, on the level.
    Folded,
}

/// What drains with the pump off, in one position of the bar.
#[derive(Debug, Clone, PartialEq)]
pub struct Drained {
    /// How the bar stands.
    pub stands: Stands,
    /// What hangs below check valves and drains in any case.
    pub below_valves: Volume,
    /// What the bar loses beside that, down to the level at which the last valve shuts; the tank runs out after it.
    pub above_level: Volume,
    /// What stays in the lines above the tank's surface, held by shut valves.
    pub held_above: Volume,
    /// Rows whose check valve does not hold what stands on it, by number.
    pub open_rows: Vec<u32>,
    /// Rows without a check valve, by number.
    pub without_valve: Vec<u32>,
    /// Of these, rows that stand above the tank's surface, by number: air comes in there.
    pub air_rows: Vec<u32>,
    /// Where air that is left in the lines collects while the valves are shut, by tag, the deepest pocket first.
    pub air_collects: Vec<String>,
}

/// How the bar fills and clears.
#[derive(Debug, Clone, PartialEq)]
pub struct PrimeStudy {
    /// The rows that are joined to the supply, in the bar's order.
    pub rows: Vec<PrimedRow>,
    /// What the lines hold from the pump to the outlets.
    pub held: Volume,
    /// What each line holds, in the routing's order.
    pub lines: Vec<HeldIn>,
    /// What has come from the pump by the time the last row has liquid.
    pub supplied: Volume,
    /// Flat, on the slopes that are tried, each way, and folded for the road.
    pub drained: Vec<Drained>,
    /// What to know before relying on it.
    pub warnings: Vec<String>,
    /// Rows in use that get no liquid once all is full, in words.
    pub not_fed: Option<String>,
}

/// The position in which most runs out through valves that do not hold; of several the one with most such rows; none where
/// all hold.
pub(super) fn worst(drained: &[Drained]) -> Option<&Drained> {
    let fails = drained.iter().filter(|one| !one.open_rows.is_empty());
    fails.reduce(|a, b| {
        let lost = b.above_level.si().total_cmp(&a.above_level.si());
        if lost.then(b.open_rows.len().cmp(&a.open_rows.len())).is_gt() { b } else { a }
    })
}

impl PrimeStudy {
    /// The row that has liquid first, and the one that has it last, of those that get any.
    pub fn first_and_last(&self) -> Option<[PrimedRow; 2]> {
        let times = || self.rows.iter().filter_map(|row| Some((row.fill_s?, *row)));
        // Of several at the same time the first of the bar.
        let (_, first) = times().reduce(|a, b| if b.0 < a.0 { b } else { a })?;
        let (_, last) = times().reduce(|a, b| if b.0 > a.0 { b } else { a })?;
        Some([first, last])
    }

    /// Of the positions that are tried the one in which most runs out through valves that do not hold; of several the one with
    /// most such rows; none where all hold.
    pub fn worst_drained(&self) -> Option<&Drained> {
        worst(&self.drained)
    }

    /// Folded for the road; none for a bar that does not fold.
    pub fn folded(&self) -> Option<&Drained> {
        self.drained.iter().find(|one| one.stands == Stands::Folded)
    }

    /// Rows that are joined to the supply and never have liquid, by number.
    pub fn dry_rows(&self) -> Vec<u32> {
        self.rows.iter().filter(|row| row.fill_s.is_none()).map(|row| row.number).collect()
    }

    /// What each kind of line holds.
    pub fn by_kind(&self) -> BTreeMap<Holds, Volume> {
        let mut all = BTreeMap::new();
        for line in &self.lines {
            *all.entry(line.what).or_insert(Volume::ZERO) += line.volume;
        }
        all
    }

    /// How long a flush takes until the last row runs clear, s: plug flow.
    pub fn clear_s(&self) -> f64 {
        self.rows.iter().filter(|row| row.fill_s.is_some()).map(|row| row.clear_s).fold(0.0, f64::max)
    }
}
