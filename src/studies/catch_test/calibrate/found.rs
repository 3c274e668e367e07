//! What a calibration is asked, and what it finds.

use crate::plan::{CatchTest, CaughtLiquid, EntryKey, Field, PartId, RowId, validate};
use crate::quantities::{Measure, Ratio, Temperature, UnitSystem};
use crate::studies::Studied;

/// What is asked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CalibrationAsked {
    /// Rows that somebody doubts: outliers, and those that are left out by hand.
    pub doubted_rows: Vec<RowId>,
    /// Gauges that somebody doubts.
    pub doubted_gauges: Vec<PartId>,
    /// What ran through the bar.
    pub liquid: CaughtLiquid,
    /// Somebody measured the temperature of what was caught.
    pub temperature_is_measured: bool,
}

impl CalibrationAsked {
    /// Of a test, without rows that are doubted.
    pub fn of(test: &CatchTest, doubted_rows: Vec<RowId>) -> Self {
        Self {
            doubted_rows,
            doubted_gauges: Vec::new(),
            liquid: test.liquid,
            temperature_is_measured: test.temperature.is_some(),
        }
    }
}

/// A number that is assumed and that a catch test may tell.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Calibratable {
    /// Viscosity of the duty's liquid at the test's temperature.
    Viscosity,
    /// That number of a catalogue entry which catch tests can tell.
    Entry(EntryKey, Field),
}

impl Calibratable {
    /// `viscosity of UAN 28 at 12 °C`, `discharge coefficient of Orifice 0.8 mm`.
    pub fn name(&self, of: &Studied<'_>) -> String {
        match self {
            Self::Viscosity => {
                let at = Measure::Temperature.short_text(of.point.temperature.si(), of.project.units);
                format!("viscosity of {} at {at}", of.project.duty(of.point.duty).liquid.name)
            }
            Self::Entry(key, field) => {
                let entry = of.project.catalogue.entry(key);
                let words = entry.map(|entry| entry.description.as_str()).filter(|words| !words.is_empty());
                format!("{} of {}", field.name().to_lowercase(), words.unwrap_or(&key.0))
            }
        }
    }

    /// What it is shown as.
    pub const fn measure(&self) -> Measure {
        match self {
            Self::Viscosity => Measure::Viscosity,
            Self::Entry(_, field) => field.measure(),
        }
    }

    /// Why a value can't be one of it; nothing where it can.
    pub(super) fn refuses(&self, of: &Studied<'_>, value: f64) -> Option<String> {
        match self {
            Self::Viscosity => {
                (!(1e-5..=10.0).contains(&value)).then(|| "no liquid is as thin or thick as that".to_owned())
            }
            Self::Entry(key, field) => {
                let entry = of.project.catalogue.entry(key)?.with_number(*field, value)?;
                validate::entry(&entry).into_first().map(|problem| problem.what)
            }
        }
    }
}

/// A number with its interval.
#[derive(Debug, Clone, PartialEq)]
pub struct ToldNumber {
    /// Which.
    pub number: Calibratable,
    /// What was assumed, in the stored unit (SI).
    pub assumed: f64,
    /// Half of the 95 % interval that was assumed, as a part of it.
    pub assumed_within: Ratio,
    /// What the readings say.
    pub value: f64,
    /// Half of its 95 % interval, as a part of the value: of its logarithm, so that no interval reaches below zero.
    pub within: Ratio,
    /// Temperature of what was caught.
    pub temperature: Temperature,
}

impl ToldNumber {
    /// `1.62 mPa·s, ±4.0 % (1.55 to 1.69 mPa·s) instead of 1.45 mPa·s ±19.6 %`.
    pub fn words(&self, units: UnitSystem) -> String {
        let measure = self.number.measure();
        let text = |value: f64| measure.text(value, units).trim().to_owned();
        let percent = |ratio: Ratio| Measure::Percent.text(ratio.si(), units);
        let [low, high] = self.interval().map(text);
        format!(
            "{}, ±{} ({low} to {high}) instead of {} ±{}",
            text(self.value),
            percent(self.within),
            text(self.assumed),
            percent(self.assumed_within)
        )
    }

    /// The ends of its 95 % interval, in the stored unit.
    pub fn interval(&self) -> [f64; 2] {
        [-1.0, 1.0].map(|side| self.value * (side * self.within.si()).exp())
    }
}

/// A number that the readings can't tell.
#[derive(Debug, Clone, PartialEq)]
pub struct RefusedNumber {
    /// Which.
    pub number: Calibratable,
    /// What stays assumed, in the stored unit (SI).
    pub assumed: f64,
    /// Half of the 95 % interval that was assumed, as a part of it.
    pub assumed_within: Ratio,
    /// Why.
    pub why: WhyRefused,
    /// Which readings would tell it, as a sentence without a full stop.
    pub would_tell: String,
}

/// Why a number is refused.
#[derive(Debug, Clone, PartialEq)]
pub enum WhyRefused {
    /// No reading answers to it.
    NotSeen,
    /// Its interval would be wider than what is assumed.
    Wide {
        /// Half of the 95 % interval, as a part of the value.
        within: Ratio,
    },
    /// It can't be told from another number: the readings answer to both alike.
    Tied {
        /// The other.
        to: Calibratable,
        /// How strongly, -1 to 1.
        correlation: f64,
    },
    /// What fits best is no value that it can have.
    NoValue {
        /// What fits best.
        value: f64,
        /// What speaks against it.
        why: String,
    },
}

impl RefusedNumber {
    /// Why it is refused, as a sentence without a full stop.
    pub fn words(&self, of: &Studied<'_>) -> String {
        let percent = |ratio: Ratio| Measure::Percent.text(ratio.si(), of.project.units);
        match &self.why {
            WhyRefused::NotSeen => "no reading of this test depends on it".to_owned(),
            WhyRefused::Wide { within } if within.si() > 1.0 => {
                format!("the readings leave it open; ±{} is assumed", percent(self.assumed_within))
            }
            WhyRefused::Wide { within } => format!(
                "the readings tell it within ±{} only, no better than the ±{} that is assumed",
                percent(*within),
                percent(self.assumed_within)
            ),
            WhyRefused::Tied { to, correlation } => format!(
                "the readings can't tell it from the {} (correlation {})",
                to.name(of),
                Measure::Plain.text(*correlation, of.project.units).trim()
            ),
            WhyRefused::NoValue { value, why } => {
                let text = self.number.measure().text(*value, of.project.units);
                format!("{} would fit best, but {why}: something else is the matter", text.trim())
            }
        }
    }
}

/// How well the readings agree with the scatter that they are said to have.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Agreement {
    /// Rows and gauges that were used.
    pub rows: usize,
    /// Gauges that were used.
    pub gauges: usize,
    /// Readings less fitted numbers.
    pub freedom: usize,
    /// Sum of the squares of what is left, in standard deviations.
    pub chi_squared: f64,
    /// How often readings of that scatter would be as far off or farther, 0 to 1.
    pub chance: f64,
    /// By how much the intervals are widened, since the readings scatter more than they are said to; 1 where they don't.
    pub widened: f64,
}

/// What a calibration finds.
#[derive(Debug, Clone, PartialEq)]
pub struct Calibration {
    /// What the readings tell.
    pub told: Vec<ToldNumber>,
    /// What they can't.
    pub refused: Vec<RefusedNumber>,
    /// How well they agree; none where nothing was fitted.
    pub agreement: Option<Agreement>,
    /// What to know before taking it over: sentences without a full stop.
    pub remarks: Vec<String>,
}
