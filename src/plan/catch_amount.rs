//! Amounts, times and distances of catches: how much can be, and how they are typed and read.

use std::ops::RangeInclusive;

use serde::{Deserialize, Serialize};
use strum::EnumCount;

use super::words::short;
use crate::quantities::number_marks::{Marked, marked};
use crate::quantities::{Length, Mass, Measure, UnitSystem, Volume};

/// Most that one catch may be by volume: what nobody lifts.
pub const MOST_CAUGHT: Volume = Volume::from_si(1.0);

/// Most that one catch may weigh.
pub const MOST_CAUGHT_MASS: Mass = Mass::from_si(2000.0);

/// Least that is not nothing: a fifth of a drop.
pub const LEAST_CAUGHT: Volume = Volume::from_si(1e-8);

/// The same by weight.
pub const LEAST_CAUGHT_MASS: Mass = Mass::from_si(1e-5);

/// Up to here a whole number of thousands of a unit may be a catch, m³ or t: twice a bucket (common practice, no source). Above
/// it three digits behind a mark can only be decimals.
const PLAUSIBLE: f64 = 0.04;

/// How long a catch may take, seconds: up to an hour.
pub const CATCH_SECONDS: RangeInclusive<f64> = 1.0..=3600.0;

/// How far a catch may go, metres: up to what is driven in an hour.
pub const CATCH_METRES: RangeInclusive<f64> = 1.0..=50_000.0;

/// How long liquid was caught.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub enum CatchSpan {
    /// For a time in seconds; above 0.
    Seconds(f64),
    /// Over a distance, at the test's ground speed; above 0. Refused where a pressure was held.
    Distance(Length),
}

impl CatchSpan {
    /// Reads a time or a distance, `45 s`, `20 m`; without a unit one of the kind of `like` is meant. The refusal is a sentence
    /// without a full stop.
    pub fn parse(typed: &str, like: Self, units: UnitSystem) -> Result<Self, String> {
        let seconds = || Measure::Duration.parse(typed, units).map(Self::Seconds);
        let distance =
            || Measure::Distance.parse(typed, units).map(|metres| Self::Distance(Length::from_si(metres)));
        let (first, second) = match like {
            Self::Seconds(_) => (seconds(), distance()),
            Self::Distance(_) => (distance(), seconds()),
        };
        let span = first.or_else(|why| second.map_err(|_| why)).map_err(|why| why.to_string())?;
        let within = |measure: Measure, value: f64, range: &RangeInclusive<f64>| {
            measure.within(value, range, Some(typed), units).map(|_| span)
        };
        match span {
            Self::Seconds(seconds) => within(Measure::Duration, seconds, &CATCH_SECONDS),
            Self::Distance(distance) => within(Measure::Distance, distance.si(), &CATCH_METRES),
        }
    }
}

/// An amount, as it was read.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub enum CaughtAmount {
    /// In a measuring jug; 0 or more.
    Volume(Volume),
    /// On scales; 0 or more.
    Mass(Mass),
}

/// Units in which amounts are taken down.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, EnumCount)]
pub enum CatchUnit {
    /// mL.
    Millilitre,
    /// g.
    Gram,
    /// US fl oz.
    FluidOunce,
    /// lb.
    Pound,
}

impl CatchUnit {
    /// All, in the order they are offered.
    pub const ALL: [Self; Self::COUNT] = [Self::Millilitre, Self::Gram, Self::FluidOunce, Self::Pound];

    /// The one in which most measure.
    pub const fn usual(units: UnitSystem) -> Self {
        match units {
            UnitSystem::Metric => Self::Millilitre,
            UnitSystem::UsCustomary => Self::FluidOunce,
        }
    }

    /// Its name in the heading of a table.
    pub const fn key(self) -> &'static str {
        match self {
            Self::Millilitre => "ml",
            Self::Gram => "g",
            Self::FluidOunce => "fl_oz",
            Self::Pound => "lb",
        }
    }

    /// As written beside a number.
    pub const fn symbol(self) -> &'static str {
        let (measure, system) = self.measure();
        measure.unit(system).symbol
    }

    /// What it measures, and the unit system that shows that in it.
    pub const fn measure(self) -> (Measure, UnitSystem) {
        match self {
            Self::Millilitre => (Measure::Catch, UnitSystem::Metric),
            Self::FluidOunce => (Measure::Catch, UnitSystem::UsCustomary),
            Self::Gram => (Measure::CaughtMass, UnitSystem::Metric),
            Self::Pound => (Measure::CaughtMass, UnitSystem::UsCustomary),
        }
    }

    /// So many of it.
    pub fn amount(self, number: f64) -> CaughtAmount {
        let (measure, system) = self.measure();
        let stored = measure.stored(number, system);
        match self {
            Self::Millilitre | Self::FluidOunce => CaughtAmount::Volume(Volume::from_si(stored)),
            Self::Gram | Self::Pound => CaughtAmount::Mass(Mass::from_si(stored)),
        }
    }

    /// How many of it an amount is; none of a weight in a unit of volume, nor the other way round.
    pub fn number(self, amount: CaughtAmount) -> Option<f64> {
        let (measure, system) = self.measure();
        match (self, amount) {
            (Self::Millilitre | Self::FluidOunce, CaughtAmount::Volume(volume)) => {
                Some(measure.shown(volume.si(), system))
            }
            (Self::Gram | Self::Pound, CaughtAmount::Mass(mass)) => Some(measure.shown(mass.si(), system)),
            _ => None,
        }
    }
}

impl CaughtAmount {
    /// Reads an amount, `350`, `350 ml`, `0,75 lb`; a bare number is in `unit`. The refusal is a sentence without a full stop.
    /// A point is a decimal mark; of `1,250` nobody can say.
    pub fn parse(typed: &str, unit: CatchUnit) -> Result<Self, String> {
        match marked(typed) {
            Marked::Either { mark: ',', .. } => Self::parse_in_table(typed, unit, None),
            Marked::Either { decimal, .. } | Marked::Once(decimal) => Self::of_clear(typed, &decimal, unit),
        }
    }

    /// The same of a cell in a table whose other cells say which mark parts off decimals, if they do.
    pub fn parse_in_table(cell: &str, unit: CatchUnit, decimal_mark: Option<char>) -> Result<Self, String> {
        let (mark, whole, decimal) = match marked(cell) {
            Marked::Once(clear) => return Self::of_clear(cell, &clear, unit),
            Marked::Either { mark, whole, decimal } => (mark, whole, decimal),
        };
        let as_decimal = || Self::of_clear(cell, &decimal, unit);
        match decimal_mark {
            Some(one) if one == mark => as_decimal(),
            Some(_) => Self::of_clear(cell, &whole, unit),
            None => match Self::of_clear(cell, &whole, unit) {
                Ok(thousands) if thousands.tonnes() <= PLAUSIBLE => Err(format!(
                    "\"{}\" may be {whole} or {decimal}; write the one that is meant",
                    short(cell)
                )),
                _ => as_decimal(),
            },
        }
    }

    /// Of a number whose marks are clear; `typed` is what somebody wrote.
    fn of_clear(typed: &str, clear: &str, unit: CatchUnit) -> Result<Self, String> {
        let metric = UnitSystem::Metric;
        let lower = clear.trim().to_lowercase();
        if lower.strip_suffix("oz").is_some_and(|rest| !rest.trim_end().ends_with("fl")) {
            return Err(format!(
                "\"{}\" may be a volume or a weight; write fl oz, or the weight in lb or g",
                short(typed)
            ));
        }
        let bare = Measure::Plain.parse(clear, metric).ok();
        let amount = if let Some(number) = bare {
            unit.amount(number)
        } else if let Ok(volume) = Measure::Catch.parse(clear, metric) {
            Self::Volume(Volume::from_si(volume))
        } else if let Ok(mass) = Measure::CaughtMass.parse(clear, metric) {
            Self::Mass(Mass::from_si(mass))
        } else {
            return Err(format!(
                "\"{}\" is no amount; write a number, or one with mL, g, fl oz or lb",
                short(typed)
            ));
        };
        let named = || {
            let unit = if bare.is_some() { format!(" {}", unit.symbol()) } else { String::new() };
            format!("{}{unit}", short(typed))
        };
        if amount.is_negative() {
            Err(format!("\"{}\" is below 0; what was caught is 0 or more", short(typed)))
        } else if amount.is_too_much() {
            Err(format!("{} is more than anybody catches; check the unit", named()))
        } else if amount.is_less_than_a_drop() {
            Err(format!("{} is less than a drop; write 0 where nothing came, or check the unit", named()))
        } else {
            Ok(amount)
        }
    }

    /// In m³ or t.
    fn tonnes(self) -> f64 {
        match self {
            Self::Volume(volume) => volume.si(),
            Self::Mass(mass) => mass.si() / 1000.0,
        }
    }

    fn is_negative(self) -> bool {
        self.tonnes() < 0.0
    }

    /// More than a catch may be.
    fn is_too_much(self) -> bool {
        match self {
            Self::Volume(volume) => volume > MOST_CAUGHT,
            Self::Mass(mass) => mass > MOST_CAUGHT_MASS,
        }
    }

    /// So little that nobody reads it, and not nothing.
    pub(super) fn is_less_than_a_drop(self) -> bool {
        match self {
            Self::Volume(volume) => volume > Volume::ZERO && volume < LEAST_CAUGHT,
            Self::Mass(mass) => mass > Mass::ZERO && mass < LEAST_CAUGHT_MASS,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn amounts_are_read_in_the_units_of_jug_and_scales() {
        let unit = CatchUnit::Millilitre;
        let near = |amount: Result<CaughtAmount, String>, si: f64| match amount.unwrap() {
            CaughtAmount::Volume(volume) => (volume.si() / si - 1.0).abs() < 1e-6,
            CaughtAmount::Mass(mass) => (mass.si() / si - 1.0).abs() < 1e-6,
        };
        assert!(near(CaughtAmount::parse("350", unit), 350e-6));
        assert!(near(CaughtAmount::parse("0,35 L", unit), 350e-6));
        // NIST SP 811 (2008), appendix B.8: 1 fl oz = 2.957353e-5 m³, 1 lb = 0.4535924 kg.
        assert!(near(CaughtAmount::parse("12 fl oz", unit), 12.0 * 2.957353e-5));
        assert!(near(CaughtAmount::parse("0.75 lb", unit), 0.75 * 0.4535924));
        assert!(near(CaughtAmount::parse("412", CatchUnit::Gram), 0.412));
        for unit in CatchUnit::ALL {
            let amount = unit.amount(12.5);
            assert!((unit.number(amount).unwrap() - 12.5).abs() < 1e-12, "{unit:?}");
            assert_eq!(CaughtAmount::parse(&format!("12.5 {}", unit.symbol()), CatchUnit::Gram), Ok(amount));
        }
        assert_eq!(CatchUnit::Gram.number(CatchUnit::Pound.amount(1.0)).map(f64::round), Some(454.0));
        assert_eq!(CatchUnit::Gram.number(CatchUnit::Millilitre.amount(1.0)), None);
    }

    #[test]
    fn what_is_no_amount_is_named() {
        for (typed, says) in [
            ("12 oz", "volume or a weight"),
            ("-3", "below 0"),
            ("−3 g", "below 0"),
            ("full", "no amount"),
            ("", "no amount"),
            ("3 m", "no amount"),
            ("1e9", "1e9 mL is more than anybody catches"),
            ("1e-300", "1e-300 mL is less than a drop"),
            ("1e-9 g", "1e-9 g is less than a drop"),
            ("1,250", "\"1,250\" may be 1250 or 1.250"),
            ("1,250 g", "may be 1250 g or 1.250 g"),
        ] {
            let said = CaughtAmount::parse(typed, CatchUnit::Millilitre).unwrap_err();
            assert!(said.contains(says), "{typed}: {said}");
        }
    }

    /// A scale shows 1,250 kg; nobody catches a tonne. What the other cells of a table say holds for all.
    #[test]
    fn thousands_are_read_where_the_table_or_the_size_says_so() {
        let read = |cell: &str, mark| {
            let amount = CaughtAmount::parse_in_table(cell, CatchUnit::Millilitre, mark);
            amount.map(|amount| (amount.tonnes() * 1e9).round())
        };
        assert_eq!(read("1,250", Some('.')), Ok(1.25e6));
        assert_eq!(read("1,250", Some(',')), Ok(1.25e3));
        assert_eq!(read("1.250", Some(',')), Ok(1.25e6));
        assert_eq!(read("1,250.5", None), Ok(1.2505e6));
        assert_eq!(read("1,250 kg", None), Ok(1.25e6));
        assert_eq!(read("414.029", None), Ok(4.14029e5));
        assert!(read("1.250", None).is_err() && read("1,250", None).is_err());
        assert!(CaughtAmount::parse("1.125", CatchUnit::Millilitre).is_ok(), "a point is a decimal mark");
    }

    #[test]
    fn spans_are_read_as_times_or_distances() {
        let like = CatchSpan::Seconds(30.0);
        let metric = UnitSystem::Metric;
        assert_eq!(CatchSpan::parse("45", like, metric), Ok(CatchSpan::Seconds(45.0)));
        assert_eq!(CatchSpan::parse("20 m", like, metric), Ok(CatchSpan::Distance(Length::metres(20.0))));
        let far = CatchSpan::Distance(Length::metres(20.0));
        assert_eq!(CatchSpan::parse("25", far, metric), Ok(CatchSpan::Distance(Length::metres(25.0))));
        assert_eq!(CatchSpan::parse("30 s", far, metric), Ok(CatchSpan::Seconds(30.0)));
        for (bad, says) in [
            ("0", "0 s is out of range; type 1 s to 3600 s"),
            ("-1 s", "out of range"),
            ("1e-300", "1e-300 is out of range; type 1 s to 3600 s"),
            ("7200 s", "7200 s is out of range; type 1 s to 3600 s"),
            ("60 km", "not known"),
            ("60000 m", "out of range; type 1 m to 50000 m"),
            ("soon", "not a number"),
        ] {
            let said = CatchSpan::parse(bad, like, metric).unwrap_err();
            assert!(said.contains(says), "{bad}: {said}");
        }
    }
}
