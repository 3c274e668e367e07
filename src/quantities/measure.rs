//! The one table of units: what a quantity is called, shown in and accepted in.

use std::ops::RangeInclusive;

use serde::{Deserialize, Serialize};
use strum::EnumCount;

use super::digits::{decimals, rounded, short};
use super::parse::{self, ParseNumberError};
use super::sixteenths::{INCH, sixteenths};

/// The units a person reads. Files and calculations are SI whatever this says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, EnumCount)]
pub enum UnitSystem {
    /// Litres, bar, millimetres, km/h.
    #[default]
    Metric,
    /// US customary: US gallons, psi, inches, mph.
    UsCustomary,
}

impl UnitSystem {
    /// Both, in the order they are offered.
    pub const ALL: [Self; Self::COUNT] = [Self::Metric, Self::UsCustomary];

    /// The wording on screens and papers.
    pub const fn label(self) -> &'static str {
        match self {
            Self::Metric => "Metric",
            Self::UsCustomary => "US customary",
        }
    }
}

/// One unit of a measure: `stored = (shown + offset) * factor`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Unit {
    /// As written beside the number.
    pub symbol: &'static str,
    /// Stored units in one of this unit.
    pub factor: f64,
    /// Added to the shown number before the factor; 0 but for °F.
    pub offset: f64,
    /// Decimals when shown.
    pub decimals: usize,
    /// Other spellings a person may type, lower case.
    aliases: &'static [&'static str],
}

/// What a number measures. Two measures may share a dimension (a bore and a distance are both lengths) and
/// differ in the unit people read them in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Measure {
    /// Positions, hose lengths: m or ft.
    Distance,
    /// How far a bar is driven while something goes on: whole m or ft, since it is worked out from flows in lines that
    /// are assumed empty.
    Driven,
    /// Lengths to cut hoses and tubes to, as a tape measure shows them: mm or in.
    CutLength,
    /// Bores, diameters: mm or in.
    Bore,
    /// Mesh openings: µm.
    Opening,
    /// Roughness of a hose's wall: µm.
    Roughness,
    /// Gauge pressures: bar or psi.
    Pressure,
    /// What a hose or part takes: bar or psi with one digit more, since most of it is small beside the pressure.
    Loss,
    /// Flow of one row: L/min or US fl oz/min.
    RowFlow,
    /// Flow of a hose or of the bar: L/min or US gal/min.
    TotalFlow,
    /// Speed over the ground: km/h or mph.
    GroundSpeed,
    /// Speed of liquid in a hose: m/s or ft/s.
    Velocity,
    /// Application rate: L/ha or US gal/ac.
    Rate,
    /// °C or °F.
    Temperature,
    /// How far apart two temperatures are: °C or °F.
    TemperatureSpan,
    /// Slope as the tangent in per cent; degrees may be typed.
    Slope,
    /// An angle in degrees.
    Angle,
    /// kg/m³ or lb/US gal.
    Density,
    /// mPa·s (the same number in cP).
    Viscosity,
    /// Litres or US gal.
    Volume,
    /// What is caught at a row: mL or US fl oz.
    Catch,
    /// The same on scales: g or lb.
    CaughtMass,
    /// How long something takes: s.
    Duration,
    /// A ratio in per cent.
    Percent,
    /// Flow factor of a valve or filter after IEC 60534: Kv in m³/h at 1 bar, or Cv in US gal/min at 1 psi; stored as Kv.
    FlowFactor,
    /// How hard a hose is to bend, moment over curvature: N·m² or lbf·in².
    BendingStiffness,
    /// Mass of a metre of hose: kg/m or lb/ft.
    MassPerLength,
    /// A plain number without a unit (a loss coefficient, a share).
    Plain,
}

// A macro, not a function: the tables below are static only if nothing in them is called.
macro_rules! unit {
    ($symbol:literal, $factor:expr, $decimals:literal, $aliases:expr) => {
        Unit { symbol: $symbol, factor: $factor, offset: 0.0, decimals: $decimals, aliases: $aliases }
    };
}

// Exact by definition: 1 in = 25.4 mm, 1 US gal = 231 in³, 1 lb = 0.45359237 kg, 1 lbf = 1 lb · 9.80665 m/s²,
// 1 acre = 43 560 ft², 1 mile = 5280 ft (NIST SP 811, appendix B).
const FOOT: f64 = 0.3048;
const US_GALLON: f64 = 3.785411784e-3;
const PSI: f64 = 6894.757293168361;

/// Kv of a Cv of 1: gallons in an hour in m³, over the root of 1 psi in bar (IEC 60534-1 rounds it to 0.865).
const KV_OF_CV: f64 = 0.8649776554423018;

const METRE: Unit = unit!("m", 1.0, 2, &["metre", "metres", "meter", "meters"]);
const MILLIMETRE: Unit = unit!("mm", 1e-3, 2, &[]);
const CENTIMETRE: Unit = unit!("cm", 1e-2, 1, &[]);
const FEET: Unit = unit!("ft", FOOT, 2, &["foot", "feet", "'"]);
const INCHES: Unit = unit!("in", INCH, 3, &["inch", "inches", "\"", "''"]);
const MICROMETRE: Unit = unit!("µm", 1e-6, 0, &["um", "μm", "micron", "microns"]);
const LITRE_MINUTE: Unit = unit!("L/min", 1.0 / 60_000.0, 1, &["l/min", "lpm"]);
const GALLON_MINUTE: Unit = unit!("gal/min", US_GALLON / 60.0, 2, &["gpm", "us gal/min"]);
const OUNCE_MINUTE: Unit = unit!("fl oz/min", US_GALLON / 128.0 / 60.0, 2, &["oz/min", "ounces/min"]);

impl Measure {
    /// The unit shown in a system.
    pub const fn unit(self, system: UnitSystem) -> Unit {
        let all = self.units();
        match system {
            UnitSystem::Metric => all[0],
            UnitSystem::UsCustomary => all[1],
        }
    }

    /// First the metric unit, second the US customary one, then what else may be typed.
    const fn units(self) -> &'static [Unit] {
        match self {
            Self::Distance => &[METRE, FEET, MILLIMETRE, CENTIMETRE, INCHES],
            Self::Driven => &[unit!("m", 1.0, 0, &[]), unit!("ft", FOOT, 0, &[])],
            Self::CutLength => &[
                unit!("mm", 1e-3, 0, &[]),
                unit!("in", INCH, 2, &["inch", "inches", "\"", "''"]),
                METRE,
                FEET,
                CENTIMETRE,
            ],
            Self::Bore => &[MILLIMETRE, INCHES, CENTIMETRE, METRE, MICROMETRE],
            Self::Opening => &[MICROMETRE, MICROMETRE, MILLIMETRE, INCHES],
            Self::Roughness => {
                const TENTHS: Unit = unit!("µm", 1e-6, 1, &["um", "μm", "micron", "microns"]);
                &[TENTHS, TENTHS, MILLIMETRE, INCHES]
            }
            Self::Pressure => &[
                unit!("bar", 1e5, 2, &[]),
                unit!("psi", PSI, 1, &["lbf/in2", "lb/in2"]),
                unit!("kPa", 1e3, 0, &["kpa"]),
                unit!("Pa", 1.0, 0, &["pa"]),
                unit!("MPa", 1e6, 3, &["mpa"]),
                unit!("mbar", 1e2, 0, &[]),
            ],
            Self::Loss => &[
                unit!("bar", 1e5, 3, &[]),
                unit!("psi", PSI, 2, &["lbf/in2", "lb/in2"]),
                unit!("mbar", 1e2, 0, &[]),
                unit!("kPa", 1e3, 1, &["kpa"]),
                unit!("Pa", 1.0, 0, &["pa"]),
            ],
            Self::RowFlow => &[
                unit!("L/min", 1.0 / 60_000.0, 3, &["l/min", "lpm"]),
                OUNCE_MINUTE,
                unit!("mL/min", 1.0 / 6e7, 0, &["ml/min"]),
                GALLON_MINUTE,
            ],
            Self::TotalFlow => &[LITRE_MINUTE, GALLON_MINUTE, OUNCE_MINUTE],
            Self::GroundSpeed => &[
                unit!("km/h", 1.0 / 3.6, 1, &["kmh", "kph", "km/hr"]),
                unit!("mph", 1609.344 / 3600.0, 1, &["mi/h"]),
                unit!("m/s", 1.0, 2, &[]),
            ],
            Self::Velocity => &[unit!("m/s", 1.0, 2, &[]), unit!("ft/s", FOOT, 2, &["fps"])],
            Self::Rate => &[
                unit!("L/ha", 1e-7, 1, &["l/ha"]),
                unit!("gal/ac", US_GALLON / (43_560.0 * FOOT * FOOT), 2, &["gpa", "gal/acre", "us gal/ac"]),
            ],
            Self::Temperature => &[
                unit!("°C", 1.0, 1, &["c", "deg c", "º c", "ºc"]),
                Unit {
                    symbol: "°F",
                    factor: 5.0 / 9.0,
                    offset: -32.0,
                    decimals: 1,
                    aliases: &["f", "deg f", "ºf"],
                },
            ],
            Self::TemperatureSpan => {
                &[unit!("°C", 1.0, 1, &["k", "c", "deg c"]), unit!("°F", 5.0 / 9.0, 1, &["f", "deg f"])]
            }
            Self::Angle => {
                const DEGREE: Unit =
                    unit!("°", std::f64::consts::PI / 180.0, 1, &["deg", "degrees", "degree"]);
                &[DEGREE, DEGREE]
            }
            Self::Density => &[
                unit!("kg/m³", 1.0, 0, &["kg/m3"]),
                unit!("lb/gal", 0.45359237 / US_GALLON, 2, &["lb/us gal", "ppg"]),
                unit!("kg/L", 1e3, 3, &["kg/l", "g/ml", "g/cm3"]),
            ],
            Self::Viscosity => {
                const MILLIPASCAL_SECOND: Unit = unit!("mPa·s", 1e-3, 2, &["mpas", "mpa.s", "mpa s", "cp"]);
                &[MILLIPASCAL_SECOND, MILLIPASCAL_SECOND, unit!("Pa·s", 1.0, 5, &["pas", "pa.s", "pa s"])]
            }
            Self::Volume => &[
                unit!("L", 1e-3, 2, &["l", "litre", "litres", "liter", "liters"]),
                unit!("gal", US_GALLON, 2, &["us gal"]),
                unit!("mL", 1e-6, 0, &["ml"]),
                unit!("fl oz", US_GALLON / 128.0, 1, &["oz"]),
            ],
            Self::Catch => &[
                unit!("mL", 1e-6, 0, &["ml"]),
                unit!("fl oz", US_GALLON / 128.0, 1, &["oz"]),
                unit!("L", 1e-3, 3, &["l", "litre", "litres", "liter", "liters"]),
            ],
            Self::CaughtMass => &[
                unit!("g", 1e-3, 1, &["gram", "grams"]),
                unit!("lb", 0.45359237, 3, &["lbs", "pound", "pounds"]),
                unit!("kg", 1.0, 4, &[]),
            ],
            Self::Duration => {
                const SECOND: Unit = unit!("s", 1.0, 0, &["seconds", "sec"]);
                &[SECOND, SECOND]
            }
            Self::Slope | Self::Percent => {
                &[unit!("%", 1e-2, 1, &["percent"]), unit!("%", 1e-2, 1, &["percent"])]
            }
            Self::FlowFactor => &[
                unit!("m³/h", 1.0, 3, &["m3/h", "kv"]),
                unit!("gal/min", KV_OF_CV, 3, &["gpm", "us gal/min", "cv"]),
            ],
            Self::BendingStiffness => &[
                unit!("N·m²", 1.0, 3, &["nm2", "n m2"]),
                unit!("lbf·in²", PSI * INCH * INCH * INCH * INCH, 1, &["lbf in2", "lb in2"]),
            ],
            Self::MassPerLength => &[unit!("kg/m", 1.0, 3, &[]), unit!("lb/ft", 0.45359237 / FOOT, 3, &[])],
            Self::Plain => &[unit!("", 1.0, 3, &[]), unit!("", 1.0, 3, &[])],
        }
    }

    /// The stored value as the number shown in a system (no rounding).
    pub fn shown(self, stored: f64, system: UnitSystem) -> f64 {
        let stored = if matches!(self, Self::Slope) { stored.tan() } else { stored };
        let unit = self.unit(system);
        stored / unit.factor - unit.offset
    }

    /// The stored value of a number shown in a system.
    pub fn stored(self, shown: f64, system: UnitSystem) -> f64 {
        self.stored_from(shown, self.unit(system))
    }

    fn stored_from(self, shown: f64, unit: Unit) -> f64 {
        let value = (shown + unit.offset) * unit.factor;
        if matches!(self, Self::Slope) { value.atan() } else { value }
    }

    /// The number alone, rounded to the unit's decimals, with a true minus sign. What is asked of a solve (rate, speed,
    /// temperature, slope) gets up to two decimals more where it has them: what is printed is what was computed with.
    pub fn number(self, stored: f64, system: UnitSystem) -> String {
        let (shown, least) = (self.shown(stored, system), self.unit(system).decimals);
        if !self.is_asked() {
            return decimals(shown, least);
        }
        let most = least + 2;
        let reads_back = |digits: usize| (rounded(shown, digits) - shown).abs() <= 1e-6;
        decimals(shown, (least..most).find(|digits| reads_back(*digits)).unwrap_or(most))
    }

    /// The stored value that is shown with the unit's own decimals: for a result in the measure of a condition, such as the
    /// rate that comes out.
    pub fn rounded(self, stored: f64, system: UnitSystem) -> f64 {
        self.stored(rounded(self.shown(stored, system), self.unit(system).decimals), system)
    }

    /// A condition that a solve is asked for, as a rule; see [`Measure::rounded`] for results.
    const fn is_asked(self) -> bool {
        matches!(self, Self::Rate | Self::GroundSpeed | Self::Temperature | Self::Slope)
    }

    /// The number with as many decimals as it takes to read apart from a limit it is held against, at most three more than
    /// the unit's own: 5.04 where the limit is 5.
    pub fn number_apart(self, stored: f64, limit: f64, system: UnitSystem) -> String {
        let (value, limit) = (self.shown(stored, system), self.shown(limit, system));
        let least = self.unit(system).decimals;
        let reads_apart = |digits: &usize| rounded(value, *digits) != rounded(limit, *digits);
        let digits =
            if value == limit { least } else { (least..=least + 3).find(reads_apart).unwrap_or(least) };
        decimals(value, digits)
    }

    /// Like [`Measure::number_apart`] with its unit.
    pub fn text_apart(self, stored: f64, limit: f64, system: UnitSystem) -> String {
        with_unit(self.number_apart(stored, limit, system), self.unit(system).symbol)
    }

    /// The number without needless zeros behind the decimal point, for sizes (`25`, `1.2`); a bore or diameter in inches
    /// as the trade writes it where it is a sixteenth (`3/8`, `1 1/4`).
    pub fn short_number(self, stored: f64, system: UnitSystem) -> String {
        let in_inches = matches!((self, system), (Self::Bore, UnitSystem::UsCustomary));
        let fraction = if in_inches { sixteenths(stored, 1e-4) } else { None };
        fraction.unwrap_or_else(|| short(self.number(stored, system)))
    }

    /// The number as the field shows it that it was typed into: with up to two decimals more than a result has, where it
    /// has them, so that what was typed stays as it is. A number that no such decimals give, as one from another unit, is
    /// rounded as a result is; where it has to be `fine`, to those decimals.
    pub fn entered_number(self, stored: f64, system: UnitSystem, fine: bool) -> String {
        let (shown, least) = (self.shown(stored, system), self.unit(system).decimals);
        let reads_back =
            |digits: usize| (rounded(shown, digits) - shown).abs() <= 1e-9 * shown.abs().max(1.0);
        let most = least + 2;
        let digits = (least..=most).find(|digits| reads_back(*digits));
        match digits.or_else(|| fine.then_some(most)) {
            Some(digits) if digits > least && !self.is_asked() => short(decimals(shown, digits)),
            _ if matches!((self, system), (Self::Bore, UnitSystem::UsCustomary)) => {
                // A fraction only where it is the very number: the field must not show another than it holds.
                sixteenths(stored, 1e-9).unwrap_or_else(|| short(self.number(stored, system)))
            }
            _ => self.short_number(stored, system),
        }
    }

    /// The number without needless zeros but with one decimal at least, so that `1.0` and `1.2` below each other read
    /// alike: for bores that meter.
    pub fn fine_number(self, stored: f64, system: UnitSystem) -> String {
        let short = short(self.number(stored, system));
        if short.contains('.') { short } else { format!("{short}.0") }
    }

    /// Like [`Measure::fine_number`] with its unit: `1.0 mm`.
    pub fn fine_text(self, stored: f64, system: UnitSystem) -> String {
        with_unit(self.fine_number(stored, system), self.unit(system).symbol)
    }

    /// Number and unit, as shown to people: `1.85 bar`.
    pub fn text(self, stored: f64, system: UnitSystem) -> String {
        with_unit(self.number(stored, system), self.unit(system).symbol)
    }

    /// Like [`Measure::text`] without needless zeros: `25 mm`.
    pub fn short_text(self, stored: f64, system: UnitSystem) -> String {
        with_unit(self.short_number(stored, system), self.unit(system).symbol)
    }

    /// Reads what a person typed: `66,6`, `2.5 bar`, `30 psi`, `3/4 in`. Without a unit the system's own is
    /// meant. The answer is in the stored unit.
    pub fn parse(self, typed: &str, system: UnitSystem) -> Result<f64, ParseNumberError> {
        let parse::Typed { number, unit } = parse::split(typed)?;
        if unit.is_empty() {
            return Ok(self.stored(number, system));
        }
        if matches!(self, Self::Slope) && matches!(unit, "°" | "deg" | "degrees" | "degree") {
            return if number.abs() < 90.0 {
                Ok(number.to_radians())
            } else {
                Err(ParseNumberError::too_steep(typed))
            };
        }
        // The case of a unit matters only where two differ by it alone (MPa and mPa), so exact comes first.
        let all = self.units();
        let lower = unit.to_lowercase();
        all.iter()
            .find(|known| known.symbol == unit)
            .or_else(|| all.iter().find(|known| known.aliases.contains(&lower.as_str())))
            .or_else(|| all.iter().find(|known| known.symbol.to_lowercase() == lower))
            .map(|known| self.stored_from(number, *known))
            .ok_or_else(|| ParseNumberError::unknown_unit(typed, unit, self.accepted()))
    }

    /// A value within a range, all in the stored unit; beyond it the refusal in words, with what was typed where rounding
    /// would make another number of it.
    pub fn within(
        self,
        value: f64,
        range: &RangeInclusive<f64>,
        typed: Option<&str>,
        system: UnitSystem,
    ) -> Result<f64, String> {
        if range.contains(&value) {
            return Ok(value);
        }
        let said = match (typed, self.parse(&self.short_number(value, system), system)) {
            (Some(typed), Ok(same)) if same != value => parse::shorten(typed),
            (Some(typed), Err(_)) => parse::shorten(typed),
            _ => self.short_text(value, system),
        };
        let (least, most) = (self.short_text(*range.start(), system), self.short_text(*range.end(), system));
        Err(format!("{said} is out of range; type {least} to {most}"))
    }

    /// The units that may be typed, as a list in words.
    pub fn accepted(self) -> Vec<&'static str> {
        let mut symbols: Vec<&'static str> = Vec::new();
        for known in self.units() {
            if !known.symbol.is_empty() && !symbols.contains(&known.symbol) {
                symbols.push(known.symbol);
            }
        }
        if matches!(self, Self::Slope) {
            symbols.push("°");
        }
        symbols
    }
}

fn with_unit(number: String, symbol: &str) -> String {
    match symbol {
        "" => number,
        "°" => format!("{number}°"),
        _ => format!("{number} {symbol}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Conversion factors of NIST SP 811 (2008), appendix B.8.
    #[test]
    fn shown_units_agree_with_nist_sp_811() {
        let near = |a: f64, b: f64| assert!((a / b - 1.0).abs() < 1e-6, "{a} against {b}");
        near(Measure::Pressure.stored(1.0, UnitSystem::UsCustomary), 6.894757e3);
        near(Measure::TotalFlow.stored(1.0, UnitSystem::UsCustomary), 6.309020e-5);
        near(Measure::GroundSpeed.stored(1.0, UnitSystem::UsCustomary), 4.4704e-1);
        near(Measure::Density.stored(1.0, UnitSystem::UsCustomary), 1.198264e2);
        near(Measure::Volume.stored(1.0, UnitSystem::UsCustomary), 3.785412e-3);
        near(Measure::Catch.stored(1.0, UnitSystem::UsCustomary), 2.957353e-5);
        near(Measure::CaughtMass.stored(1.0, UnitSystem::UsCustomary), 4.535924e-1);
        near(Measure::MassPerLength.stored(1.0, UnitSystem::UsCustomary), 1.488164);
        // Pound-force 4.448222 N, inch 2.54e-2 m.
        near(Measure::BendingStiffness.stored(1.0, UnitSystem::UsCustomary), 4.448222 * 2.54e-2 * 2.54e-2);
        // IEC 60534-1: Kv = 0.865 Cv.
        assert!((Measure::FlowFactor.stored(1.0, UnitSystem::UsCustomary) - 0.865).abs() < 5e-5);
        // 1 US gal/ac = 9.353958 L/ha (from the same table's gallon and acre, 4.046873e3 m² for the survey foot).
        assert!((Measure::Rate.stored(1.0, UnitSystem::UsCustomary) / 9.353958e-7 - 1.0).abs() < 1e-5);
        assert!((Measure::Temperature.stored(68.0, UnitSystem::UsCustomary) - 20.0).abs() < 1e-12);
    }

    #[test]
    fn every_unit_survives_being_shown_and_typed_again() {
        for measure in ALL {
            for system in UnitSystem::ALL {
                for value in [-0.2, 0.0, 0.0123, 0.35] {
                    let text = format!("{} {}", measure.shown(value, system), measure.unit(system).symbol);
                    let back = measure.parse(&text, system).unwrap();
                    assert!((back - value).abs() < 1e-12, "{measure:?} {system:?}: {text} gave {back}");
                }
            }
        }
    }

    #[test]
    fn a_number_beyond_its_limit_reads_beyond_it() {
        let apart = |percent: f64| Measure::Percent.text_apart(percent / 100.0, 0.05, UnitSystem::Metric);
        let texts = [5.0, 5.04, 4.96, 5.004, 5.00001, 7.26].map(apart);
        assert_eq!(texts, ["5.0 %", "5.04 %", "4.96 %", "5.004 %", "5.0 %", "7.3 %"]);
    }

    const ALL: [Measure; 27] = [
        Measure::BendingStiffness,
        Measure::MassPerLength,
        Measure::CaughtMass,
        Measure::Driven,
        Measure::Duration,
        Measure::Roughness,
        Measure::FlowFactor,
        Measure::Distance,
        Measure::CutLength,
        Measure::Bore,
        Measure::Opening,
        Measure::Pressure,
        Measure::Loss,
        Measure::RowFlow,
        Measure::TotalFlow,
        Measure::GroundSpeed,
        Measure::Velocity,
        Measure::Rate,
        Measure::Temperature,
        Measure::Slope,
        Measure::Angle,
        Measure::Density,
        Measure::Viscosity,
        Measure::Volume,
        Measure::Catch,
        Measure::Percent,
        Measure::Plain,
    ];

    #[test]
    fn what_people_type() {
        let metric = UnitSystem::Metric;
        let close = |a: f64, b: f64| assert!((a - b).abs() < 1e-9 * b.abs().max(1e-9), "{a} against {b}");
        close(Measure::Rate.parse("66,6", metric).unwrap(), 66.6e-7);
        close(Measure::Pressure.parse("2.5 bar", metric).unwrap(), 2.5e5);
        close(Measure::Pressure.parse("30psi", metric).unwrap(), 206_842.718795);
        close(Measure::Pressure.parse("150 kPa", UnitSystem::UsCustomary).unwrap(), 150e3);
        close(Measure::Bore.parse("3/4 in", metric).unwrap(), 0.01905);
        close(Measure::Bore.parse("1 1/4\"", metric).unwrap(), 0.03175);
        close(Measure::Distance.parse("5' 6\"", metric).unwrap(), 1.6764);
        close(Measure::Slope.parse("45°", metric).unwrap(), std::f64::consts::FRAC_PI_4);
        close(Measure::Slope.parse("−8 %", metric).unwrap(), (-0.08f64).atan());
        close(Measure::Density.parse("1,28 kg/L", metric).unwrap(), 1280.0);
        close(Measure::Temperature.parse("50 f", metric).unwrap(), 10.0);
    }

    #[test]
    fn a_rounded_zero_has_no_sign() {
        assert_eq!(decimals(-0.0004, 2), "0.00");
        assert_eq!(decimals(-1.25, 1), "−1.3");
        assert_eq!(Measure::Bore.short_text(0.025, UnitSystem::Metric), "25 mm");
        assert_eq!(Measure::Bore.fine_text(0.001, UnitSystem::Metric), "1.0 mm");
        assert_eq!(Measure::Bore.fine_text(0.00085, UnitSystem::Metric), "0.85 mm");
    }

    /// What a solve was asked for reads as it was computed with: 9 km/h are 5.592 mph (9 / 1.609344), and a speed half-way
    /// between 4.5 and 7.2 km/h is 5.85.
    #[test]
    fn a_condition_has_the_digits_it_was_computed_with() {
        let speed = |km_h: f64, system| Measure::GroundSpeed.text(km_h / 3.6, system);
        assert_eq!(speed(9.0, UnitSystem::Metric), "9.0 km/h");
        assert_eq!(speed(5.85, UnitSystem::Metric), "5.85 km/h");
        assert_eq!(speed(9.0, UnitSystem::UsCustomary), "5.592 mph");
        assert_eq!(Measure::GroundSpeed.short_text(6.0 * 0.44704, UnitSystem::UsCustomary), "6 mph");
        assert_eq!(Measure::Rate.text(66.67e-7, UnitSystem::Metric), "66.67 L/ha");
        assert_eq!(Measure::Slope.text((-0.0825f64).atan(), UnitSystem::Metric), "−8.25 %");
        assert_eq!(Measure::Temperature.text(-0.04, UnitSystem::Metric), "−0.04 °C");
        assert_eq!(Measure::Percent.text(0.0825, UnitSystem::Metric), "8.3 %", "results keep their digits");
    }

    /// What somebody typed by mistake has no more digits than fit beside a field.
    #[test]
    fn a_number_beyond_measure_is_written_with_an_exponent() {
        assert_eq!(Measure::Distance.text(1e308, UnitSystem::Metric), "1.000e308 m");
        assert_eq!(Measure::GroundSpeed.short_number(-1e300, UnitSystem::Metric), "−3.600e300");
        assert_eq!(Measure::TotalFlow.number(1e8 / 60e3, UnitSystem::Metric), "100000000.0");
        let long = "9".repeat(200);
        for typed in ["1e308", &long] {
            let value = Measure::Rate.parse(typed, UnitSystem::Metric).unwrap();
            let refused =
                Measure::Rate.within(value, &(0.0..=1.0), Some(typed), UnitSystem::Metric).unwrap_err();
            assert!(refused.len() < 90, "{refused}");
        }
    }

    /// A row spacing of 10 in, 254 mm, is not 0.25 m.
    #[test]
    fn a_field_shows_the_millimetres_that_were_typed_into_it() {
        let shown = |stored, system, fine| Measure::Distance.entered_number(stored, system, fine);
        assert_eq!(shown(0.254, UnitSystem::Metric, false), "0.254");
        assert_eq!(shown(0.3048, UnitSystem::Metric, false), "0.3048");
        assert_eq!(shown(0.3, UnitSystem::Metric, true), "0.3");
        assert_eq!(shown(1.234_567_8, UnitSystem::Metric, false), "1.23");
        assert_eq!(shown(0.254, UnitSystem::UsCustomary, false), "0.83");
        assert_eq!(shown(0.254, UnitSystem::UsCustomary, true), "0.8333");
    }

    /// 4 mbar are no more nothing than 0.06 psi are.
    #[test]
    fn a_small_loss_is_not_nothing() {
        assert_eq!(Measure::Loss.text(420.0, UnitSystem::Metric), "0.004 bar");
        assert_eq!(Measure::Loss.text(420.0, UnitSystem::UsCustomary), "0.06 psi");
        assert_eq!(Measure::Pressure.text(420.0, UnitSystem::Metric), "0.00 bar");
    }
}
