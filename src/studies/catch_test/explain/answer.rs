//! What explains a catch test, as plain data with words: groups of causes that the test can't tell apart, each with its odds,
//! and what to look at next.

use crate::hydraulics::ways::Passed;
use crate::plan::cause_weights::CauseKind;
use crate::plan::{EntryKey, PartId, RowId};
use crate::quantities::{Flow, Length, Measure, Pressure, Ratio, Speed, UnitSystem};

/// A cause with odds above this needs no further look.
const CERTAIN: f64 = 0.9;
/// Groups with smaller odds than this are counted and not shown.
pub const LEAST_ODDS: f64 = 0.01;

/// What explains a catch test.
#[derive(Debug, Clone, PartialEq)]
pub struct Explanation {
    /// Groups of causes, the likeliest first; their odds add up to 1, but for what is too unlikely to be listed.
    pub groups: Vec<CauseGroup>,
    /// What to look at next, the most telling first; at most three.
    pub next: Vec<NextLook>,
    /// How far the readings scatter against what was assumed of jug, watch and parts; 1 as assumed.
    pub scatter: Ratio,
    /// What to know before relying on the odds: sentences without a full stop.
    pub cautions: Vec<String>,
}

impl Explanation {
    /// All causes in the order of their odds, each with the place of its group.
    pub fn in_order(&self) -> Vec<(usize, &Candidate)> {
        let mut all: Vec<(usize, &Candidate)> = self
            .groups
            .iter()
            .enumerate()
            .flat_map(|(place, group)| group.members.iter().map(move |one| (place, one)))
            .collect();
        all.sort_by(|a, b| b.1.odds.total_cmp(&a.1.odds));
        all
    }

    /// What to say where nothing has to be looked at next, a sentence without a full stop; none where something has, and chance
    /// does not explain best what is outside all bands. Asks whether the test was judged to be as drawn, none where it was not
    /// judged.
    pub fn no_look(&self, is_as_drawn: Option<bool>) -> Option<&'static str> {
        let first = self.groups.first()?;
        let is_beside = self.is_sound() && (is_as_drawn == Some(false) || !first.unexplained.is_empty());
        if !self.next.is_empty() && !is_beside {
            let says = "nothing need be measured: the readings are those of a sound bar; what they can't show would be seen so";
            return (self.is_sound() && is_as_drawn == Some(true)).then_some(says);
        }
        let is_one = first.members.len() == 1 && first.odds > CERTAIN;
        Some(if is_beside {
            "chance is the likeliest, but readings are outside what a bar as drawn gives: catch these rows again, twice as long, and \
             read these gauges again; what then is off still is no chance"
        } else if self.is_sound() && is_as_drawn.is_none() {
            "settle first why the test is not judged: what was read so far is that of a sound bar"
        } else if self.is_sound() {
            "nothing: the readings are those of a sound bar"
        } else if is_one {
            "nothing more to measure: do what the first cause says"
        } else {
            "no measurement on this bar parts the leading causes: do what each says, the likeliest first"
        })
    }

    /// What explains the readings best where nothing but scatter does not, with its odds.
    pub fn against_scatter(&self) -> Option<(String, f64)> {
        let first = self.groups.first().filter(|group| !group.holds_scatter())?;
        let likeliest = first.members.first()?;
        let what = match likeliest.cause.kind {
            CauseKind::NoneOfThese => "something that no cause on the list makes",
            _ => likeliest.what.as_str(),
        };
        let is_one = first.members.len() == 1 && first.unlisted.is_empty();
        let alike = if is_one { "" } else { ", or another cause that looks alike" };
        Some((format!("{what}{alike}"), first.odds))
    }

    /// Nothing but scatter explains it best.
    pub fn is_sound(&self) -> bool {
        self.groups.first().is_some_and(CauseGroup::holds_scatter)
    }
}

/// Causes that this test can't tell apart.
#[derive(Debug, Clone, PartialEq)]
pub struct CauseGroup {
    /// How likely it is that one of them is the cause, 0 to 1.
    pub odds: f64,
    /// The members, the likeliest first; one at least.
    pub members: Vec<Candidate>,
    /// Members that are too unlikely to be listed: of each its one or two causes.
    pub unlisted: Vec<Vec<CauseId>>,
    /// Readings that the likeliest member leaves more than three spreads away, the farthest first; none where none of these.
    pub unexplained: Vec<Unexplained>,
}

/// A reading that an explanation leaves.
#[derive(Debug, Clone, PartialEq)]
pub struct Unexplained {
    /// Which it is.
    pub reading: Reading,
    /// With how far it is from what the explanation makes of it: `row 70 (+32 %)`.
    pub what: String,
}

/// All of them, `row 70 (+32 %), gauge G1 (−0.4 bar)`.
pub(super) fn in_a_line(all: &[Unexplained]) -> String {
    all.iter().map(|one| one.what.as_str()).collect::<Vec<_>>().join(", ")
}

/// A reading of a test.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reading {
    /// What a row gave.
    Row(RowId),
    /// What a gauge showed.
    Gauge(PartId),
}

impl CauseGroup {
    /// A cause, or two at once in either order, is among its members; nothing but scatter where there is none.
    pub fn holds(&self, causes: &[CauseId]) -> bool {
        let same =
            |found: &[CauseId]| found.len() == causes.len() && found.iter().all(|one| causes.contains(one));
        let listed = |one: &Candidate| {
            let all: Vec<CauseId> =
                std::iter::once(&one.cause).chain(&one.and).filter_map(Cause::id).collect();
            same(&all) && one.cause.kind != CauseKind::NoneOfThese
        };
        self.members.iter().any(listed) || self.unlisted.iter().any(|one| same(one))
    }

    /// What its likeliest member does not explain, `row 70 (+32 %)`; none where it explains all.
    pub fn left(&self) -> Option<String> {
        (!self.unexplained.is_empty()).then(|| in_a_line(&self.unexplained))
    }

    /// What those of its members that are not named have in common.
    pub fn likeness(&self) -> &'static str {
        if self.holds_scatter() { "too small to show" } else { "that looks alike" }
    }

    /// Nothing but scatter is among its members.
    pub fn holds_scatter(&self) -> bool {
        self.members.iter().any(|one| one.cause.kind == CauseKind::ScatterOnly)
    }
}

/// One cause, or two at once.
#[derive(Debug, Clone, PartialEq)]
pub struct Candidate {
    /// The cause.
    pub cause: Cause,
    /// The second one, where two explain it together.
    pub and: Option<Cause>,
    /// How likely it is, 0 to 1.
    pub odds: f64,
    /// What it is, with its size: `metering of row 7 blocked, 60 % of its area closed`. No full stop.
    pub what: String,
    /// What in the readings speaks for it, a sentence without a full stop.
    pub why: String,
    /// What else would then be seen, a sentence without a full stop.
    pub then_also: String,
    /// What to do about it, a sentence without a full stop.
    pub to_do: String,
    /// What each row that was caught would give then, jug and watch apart, in the order of the readings.
    pub rows_then: Vec<(RowId, Flow)>,
}

impl Candidate {
    /// What to do about it where the test was judged to be as drawn or not, none where it was not judged: nobody is told to leave
    /// a bar alone by a test that does not say that it is right.
    pub fn advice(&self, is_as_drawn: Option<bool>) -> &str {
        if self.cause.kind == CauseKind::ScatterOnly && is_as_drawn.is_none() {
            "settle first why the test is not judged; until then it does not tell whether the bar is right"
        } else {
            &self.to_do
        }
    }
}

/// Which cause, whatever its size.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct CauseId {
    /// Of which kind.
    pub kind: CauseKind,
    /// Where it is; empty where it is about a reading or the bar as a whole.
    pub places: Vec<Passed>,
    /// The rows that it is about.
    pub rows: Vec<RowId>,
    /// The entry of the catalogue that is there instead.
    pub entry: Option<EntryKey>,
}

/// A cause with its place and size.
#[derive(Debug, Clone, PartialEq)]
pub struct Cause {
    /// Of which kind.
    pub kind: CauseKind,
    /// The rows that it is about, in the bar's order: one or two of a fault at rows; all behind it where a hose, part or valve
    /// is at fault; none where it is about the bar as a whole.
    pub rows: Vec<RowId>,
    /// Where it is.
    pub places: Vec<Passed>,
    /// How large it is.
    pub size: CauseSize,
    /// Between which sizes the readings leave it; none where it has no size, or a few that it may have.
    pub range: Option<SizeRange>,
}

impl Cause {
    /// Which it is, whatever its size; none of what is no fault by itself.
    pub fn id(&self) -> Option<CauseId> {
        let entry = match &self.size {
            CauseSize::Entry(entry) => Some(entry.clone()),
            _ => None,
        };
        let Self { kind, rows, places, .. } = self.clone();
        (!matches!(kind, CauseKind::ScatterOnly | CauseKind::NoneOfThese)).then_some(CauseId {
            kind,
            places,
            rows,
            entry,
        })
    }
}

/// How large a cause is.
#[derive(Debug, Clone, PartialEq)]
pub enum CauseSize {
    /// It has none.
    None,
    /// So much of its open area is closed, 0 to 1.
    Closed(Ratio),
    /// So much more area than it should have.
    Wider(Ratio),
    /// It has this bore.
    Bore(Length),
    /// It is this entry of the catalogue.
    Entry(EntryKey),
    /// It opens at this pressure.
    OpensAt(Pressure),
    /// A hole of this diameter.
    Hole(Length),
    /// It takes so much more than clean.
    Takes(Pressure),
    /// It shows so much more than there is; below zero less.
    Shows(Pressure),
    /// So many times what it should be.
    Times(Ratio),
}

impl CauseSize {
    /// In words, `60 % of its area closed`; empty where it has none. Entries by their description, which `entry` gives.
    pub fn words(&self, units: UnitSystem, entry: impl Fn(&EntryKey) -> String) -> String {
        let percent = |ratio: &Ratio| Measure::Percent.short_text(ratio.si(), units);
        match self {
            Self::None => String::new(),
            Self::Closed(part) => format!("{} of its area closed", percent(part)),
            Self::Wider(part) => format!("{} more area", percent(part)),
            Self::Bore(bore) => format!("{} bore", Measure::Bore.short_text(bore.si(), units)),
            Self::Entry(key) => entry(key),
            Self::OpensAt(pressure) => format!("opens at {}", Measure::Pressure.text(pressure.si(), units)),
            Self::Hole(bore) => format!("a hole of about {}", Measure::Bore.short_text(bore.si(), units)),
            Self::Takes(more) => format!("takes {} more", Measure::Pressure.text(more.si(), units)),
            Self::Shows(off) => {
                let word = if *off < Pressure::ZERO { "too little" } else { "too much" };
                format!("shows {} {word}", Measure::Pressure.text(off.si().abs(), units))
            }
            Self::Times(times) => format!("times {}", Measure::Plain.short_number(times.si(), units)),
        }
    }

    /// Its number alone in words, with its unit: `60 %`, `+0.12 bar`.
    fn number_words(&self, units: UnitSystem) -> String {
        let percent = |ratio: &Ratio| Measure::Percent.short_text(ratio.si(), units);
        match self {
            Self::None | Self::Entry(_) => String::new(),
            Self::Closed(part) | Self::Wider(part) => percent(part),
            Self::Bore(bore) | Self::Hole(bore) => Measure::Bore.short_text(bore.si(), units),
            Self::OpensAt(pressure) | Self::Takes(pressure) => Measure::Pressure.text(pressure.si(), units),
            Self::Shows(off) => {
                let sign = if *off > Pressure::ZERO { "+" } else { "" };
                format!("{sign}{}", Measure::Pressure.text(off.si(), units))
            }
            Self::Times(times) => Measure::Plain.short_number(times.si(), units),
        }
    }

    /// Its number in SI units, for programs: shares and factors as they are, lengths in m, pressures in Pa. None without a
    /// size or where it is an entry of the catalogue.
    pub fn number(&self) -> Option<f64> {
        match self {
            Self::None | Self::Entry(_) => None,
            Self::Closed(one) | Self::Wider(one) | Self::Times(one) => Some(one.si()),
            Self::Bore(one) | Self::Hole(one) => Some(one.si()),
            Self::OpensAt(one) | Self::Takes(one) | Self::Shows(one) => Some(one.si()),
        }
    }
}

/// Between which sizes the readings leave a cause, at 95 %. Open where the readings speak against none of the sizes on that side:
/// `low` then is as small as it can be, `high` as large.
#[derive(Debug, Clone, PartialEq)]
pub struct SizeRange {
    /// The smallest size.
    pub low: Option<CauseSize>,
    /// The largest.
    pub high: Option<CauseSize>,
}

impl SizeRange {
    /// `52 % to 67 %`, `at least 52 %`.
    pub fn words(&self, units: UnitSystem) -> String {
        let words = |size: &CauseSize| size.number_words(units);
        match (&self.low, &self.high) {
            (Some(low), Some(high)) => format!("{} to {}", words(low), words(high)),
            (Some(low), None) => format!("at least {}", words(low)),
            (None, Some(high)) => format!("at most {}", words(high)),
            (None, None) => "the readings leave its size open".to_owned(),
        }
    }
}

/// A measurement that would tell the leading causes apart.
#[derive(Debug, Clone, PartialEq)]
pub struct NextLook {
    /// What is done.
    pub action: LookAction,
    /// The same in words, a sentence without a full stop.
    pub what: String,
    /// Expected information about which cause it is, bits.
    pub gain_bits: f64,
    /// What may come of it, the likeliest first.
    pub outcomes: Vec<LookOutcome>,
}

/// What is done to look.
#[derive(Debug, Clone, PartialEq)]
pub enum LookAction {
    /// Exchange the metering of two rows, and catch both again.
    ExchangeMetering([RowId; 2]),
    /// Read the pressure at a gauge, or at the gauge port of a manifold.
    ReadPressure(PartId),
    /// Read the pressure again at a gauge or port that was read, with a finer gauge.
    FinerGauge(PartId),
    /// Measure the liquid's viscosity by itself.
    MeasureViscosity,
    /// Catch these rows again with another jug and watch.
    OtherJug(Vec<RowId>),
    /// Catch these rows again, so many times as long.
    CatchAgain {
        /// The rows.
        rows: Vec<RowId>,
        /// How many times as long.
        times: f64,
    },
    /// Catch these rows at another ground speed.
    OtherSpeed {
        /// The rows.
        rows: Vec<RowId>,
        /// The speed.
        speed: Speed,
    },
    /// Catch these rows with another pressure held.
    OtherPressure {
        /// The rows.
        rows: Vec<RowId>,
        /// The pressure.
        pressure: Pressure,
    },
}

impl LookAction {
    /// Its name for programs.
    pub const fn key(&self) -> &'static str {
        match self {
            Self::ExchangeMetering(_) => "exchange_metering",
            Self::ReadPressure(_) => "read_pressure",
            Self::FinerGauge(_) => "finer_gauge",
            Self::MeasureViscosity => "measure_viscosity",
            Self::OtherJug(_) => "other_jug",
            Self::CatchAgain { .. } => "catch_again",
            Self::OtherSpeed { .. } => "other_speed",
            Self::OtherPressure { .. } => "other_pressure",
        }
    }

    /// The rows that it is about.
    pub fn rows(&self) -> &[RowId] {
        match self {
            Self::ExchangeMetering(rows) => rows,
            Self::ReadPressure(_) | Self::FinerGauge(_) | Self::MeasureViscosity => &[],
            Self::OtherJug(rows)
            | Self::CatchAgain { rows, .. }
            | Self::OtherSpeed { rows, .. }
            | Self::OtherPressure { rows, .. } => rows,
        }
    }
}

/// What may come of a look, and what it would mean.
#[derive(Debug, Clone, PartialEq)]
pub struct LookOutcome {
    /// What is seen, without a full stop.
    pub seen: String,
    /// What it would mean, without a full stop.
    pub means: String,
    /// How likely it is, 0 to 1.
    pub odds: f64,
}
