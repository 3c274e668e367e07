//! Catch tests: what was caught under each row, what the gauges showed, under which conditions, and the bar as it was then.
//!
//! A test names rows and parts of the [`TestedBar`] it was made on, not of the project as it is now: it stays whole when rows
//! and parts go, and what has changed since can be said.

use std::sync::Arc;

use serde::{Deserialize, Serialize};

use super::words::short;
use super::{
    Catalogue, CatchTestId, Duties, DutyId, EntryKey, OperatingPoint, PartId, Project, RoutingId, RowId,
    TestedBarId,
};
use crate::quantities::{
    Angle, Length, Mass, Measure, Pressure, Ratio, Speed, Temperature, UnitSystem, Volume,
};

/// Most that one catch may be by volume: what nobody lifts.
pub const MOST_CAUGHT: Volume = Volume::from_si(1.0);

/// Most that one catch may weigh.
pub const MOST_CAUGHT_MASS: Mass = Mass::from_si(2000.0);

/// How long liquid is caught unless somebody says otherwise, seconds (common practice, no source).
const USUAL_SECONDS: f64 = 30.0;

/// Longest time of a catch, seconds: an hour.
pub const LONGEST_CATCH: f64 = 3600.0;

/// All catch tests of a project, with the bars they were made on.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CatchTests {
    /// Bars as they were tested; tests made on the same state share one.
    pub bars: Vec<TestedBar>,
    /// The tests, oldest first.
    pub tests: Vec<CatchTest>,
}

impl CatchTests {
    /// There is no test.
    pub const fn are_missing(&self) -> bool {
        self.tests.is_empty()
    }

    /// A test by its id.
    pub fn get(&self, id: CatchTestId) -> Option<&CatchTest> {
        self.tests.iter().find(|test| test.id == id)
    }

    /// A bar by its id.
    pub fn bar(&self, id: TestedBarId) -> Option<&TestedBar> {
        self.bars.iter().find(|bar| bar.id == id)
    }

    /// The project with the bar that a test was made on.
    pub fn project_of(&self, test: &CatchTest) -> Option<&Arc<Project>> {
        self.bar(test.bar).map(|bar| &bar.project)
    }

    /// An id that no test has.
    pub fn free_id(&self) -> CatchTestId {
        CatchTestId::next(self.tests.iter().map(|test| test.id))
    }

    /// `Test 2`, or the first number that no test has.
    pub fn free_name(&self) -> String {
        let names = (self.tests.len() + 1..).map(|number| format!("Test {number}"));
        names.into_iter().find(|name| self.tests.iter().all(|test| test.name != *name)).unwrap_or_default()
    }

    /// A new test of the liquid itself under some conditions: nothing is caught yet. The bar it is made on is given with the
    /// edit that puts it.
    pub fn empty_at(&self, point: &OperatingPoint) -> CatchTest {
        CatchTest {
            id: self.free_id(),
            name: self.free_name(),
            bar: TestedBarId::default(),
            duty: point.duty,
            liquid: CaughtLiquid::Product,
            temperature: None,
            drive: Drive::Speed(point.speed),
            side_slope: point.side_slope,
            fore_aft_slope: point.fore_aft_slope,
            span: CatchSpan::Seconds(USUAL_SECONDS),
            catches: Vec::new(),
            gauges: Vec::new(),
            scatter: CatchScatter::default(),
            date: String::new(),
            by: String::new(),
            notes: String::new(),
        }
    }

    /// The id that a bar has here: that of an equal state that is kept, or one that none has.
    pub fn id_for(&self, bar: &Arc<Project>) -> TestedBarId {
        let same = self.bars.iter().find(|one| Arc::ptr_eq(&one.project, bar) || one.project == *bar);
        same.map_or_else(|| TestedBarId::next(self.bars.iter().map(|one| one.id)), |one| one.id)
    }

    /// Puts a test in place of the one with its id, or at the end; on another bar where one is given, which is kept once
    /// however many tests were made on it. Bars that no test was made on any more go.
    pub(super) fn put(&mut self, mut test: CatchTest, bar: Option<Arc<Project>>) {
        if let Some(project) = bar {
            test.bar = self.id_for(&project);
            if self.bar(test.bar).is_none() {
                self.bars.push(TestedBar { id: test.bar, project });
            }
        }
        match self.tests.iter_mut().find(|one| one.id == test.id) {
            Some(old) => *old = test,
            None => self.tests.push(test),
        }
        self.drop_bars();
    }

    /// Removes a test; false where it is not there.
    pub(super) fn remove(&mut self, id: CatchTestId) -> bool {
        let before = self.tests.len();
        self.tests.retain(|test| test.id != id);
        self.drop_bars();
        self.tests.len() < before
    }

    fn drop_bars(&mut self) {
        let Self { bars, tests } = self;
        bars.retain(|bar| tests.iter().any(|test| test.bar == bar.id));
    }
}

/// The bar as it is, to be kept with a test of one of its routings: that routing, its duty and the catalogue entries that it
/// uses; none where the project has no such routing or duty.
pub fn tested_bar(project: &Project, routing: RoutingId, duty: DutyId) -> Option<Project> {
    let routing = project.routing(routing)?.clone();
    let duty = project.duties.get(duty)?.clone();
    let used = |key: &EntryKey| routing.entries().any(|one| one == key);
    let entries = project.catalogue.entries.iter().filter(|entry| used(&entry.key)).cloned().collect();
    Some(Project {
        duties: Duties::new(duty),
        catalogue: Catalogue { entries },
        added_lines: Vec::new(),
        routings: vec![routing],
        dismissed: Vec::new(),
        catch_tests: CatchTests::default(),
        title: project.title.clone(),
        bar: project.bar.clone(),
        supply: project.supply.clone(),
        spreads: project.spreads.clone(),
        cause_weights: project.cause_weights.clone(),
        ..*project
    })
}

/// A bar as it was when it was tested.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TestedBar {
    /// Identity.
    pub id: TestedBarId,
    /// The project with the one routing that was tested, its duty and the catalogue entries it uses; it holds no tests itself.
    pub project: Arc<Project>,
}

/// One catch test.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CatchTest {
    /// Identity.
    pub id: CatchTestId,
    /// As people call it; unique in the project, never empty.
    pub name: String,
    /// The bar it was made on.
    pub bar: TestedBarId,
    /// What the bar was asked to do.
    pub duty: DutyId,
    /// What ran through it.
    pub liquid: CaughtLiquid,
    /// Temperature of what was caught; none where nobody measured it: then it is taken to be the duty's, "assumed".
    pub temperature: Option<Temperature>,
    /// What set the flow.
    pub drive: Drive,
    /// Positive = right side up.
    pub side_slope: Angle,
    /// Positive = nose up.
    pub fore_aft_slope: Angle,
    /// How long liquid was caught, unless a catch says otherwise.
    pub span: CatchSpan,
    /// What came, in the order it was taken down; a row may have several.
    pub catches: Vec<Catch>,
    /// What gauges showed.
    pub gauges: Vec<GaugeReading>,
    /// How well an amount and a time can be read.
    pub scatter: CatchScatter,
    /// Day of the test as somebody wrote it, `2026-11-30` where it can be; may be empty.
    pub date: String,
    /// Who made it; may be empty.
    pub by: String,
    /// Anything else; may be empty.
    pub notes: String,
}

/// What ran through the bar.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum CaughtLiquid {
    /// The liquid of the duty.
    Product,
    /// Clean water.
    Water,
}

/// What set the flow during a test.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub enum Drive {
    /// The bar's own control at a ground speed, driven or simulated; above 0.
    Speed(Speed),
    /// A pressure held at the pump's outlet by hand; above 0.
    HeldPressure(Pressure),
}

/// How long liquid was caught.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub enum CatchSpan {
    /// For a time in seconds; above 0.
    Seconds(f64),
    /// Over a distance, at the test's ground speed; above 0. Refused where a pressure was held.
    Distance(Length),
}

/// What came at a row once.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Catch {
    /// The row of the tested bar.
    pub row: RowId,
    /// How much.
    pub amount: CaughtAmount,
    /// Where it is not the test's.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub span: Option<CatchSpan>,
    /// Why it does not count: the jug was knocked over. It stays on paper.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub spoiled: Option<String>,
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
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
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
    pub const ALL: [Self; 4] = [Self::Millilitre, Self::Gram, Self::FluidOunce, Self::Pound];

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
    pub fn parse(typed: &str, unit: CatchUnit) -> Result<Self, String> {
        let metric = UnitSystem::Metric;
        let ends_in_ounces = typed
            .trim()
            .to_lowercase()
            .strip_suffix("oz")
            .is_some_and(|rest| !rest.trim_end().ends_with("fl"));
        if ends_in_ounces {
            return Err(format!(
                "\"{}\" may be a volume or a weight; write fl oz, or the weight in lb or g",
                short(typed)
            ));
        }
        let amount = if let Ok(number) = Measure::Plain.parse(typed, metric) {
            unit.amount(number)
        } else if let Ok(volume) = Measure::Catch.parse(typed, metric) {
            Self::Volume(Volume::from_si(volume))
        } else if let Ok(mass) = Measure::CaughtMass.parse(typed, metric) {
            Self::Mass(Mass::from_si(mass))
        } else {
            return Err(format!(
                "\"{}\" is no amount; write a number, or one with mL, g, fl oz or lb",
                short(typed)
            ));
        };
        if amount.is_negative() {
            return Err(format!("\"{}\" is below 0; what was caught is 0 or more", short(typed)));
        }
        Ok(amount)
    }

    fn is_negative(self) -> bool {
        match self {
            Self::Volume(volume) => volume < Volume::ZERO,
            Self::Mass(mass) => mass < Mass::ZERO,
        }
    }

    /// More than a catch may be.
    pub fn is_too_much(self) -> bool {
        match self {
            Self::Volume(volume) => volume > MOST_CAUGHT,
            Self::Mass(mass) => mass > MOST_CAUGHT_MASS,
        }
    }

    /// Nothing came.
    pub fn is_nothing(self) -> bool {
        matches!(self, Self::Volume(Volume::ZERO) | Self::Mass(Mass::ZERO))
    }
}

/// What a gauge showed.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct GaugeReading {
    /// The gauge, or another part of the tested routing that a gauge was screwed onto.
    pub part: PartId,
    /// Gauge pressure; 0 or more.
    pub pressure: Pressure,
    /// Standard deviation of a reading; none: 1.6 % of the dial's end, as class 1.6 of EN 837-1 allows at most (from memory).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sd: Option<Pressure>,
}

/// How well a catch can be read: standard deviations.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CatchScatter {
    /// Of an amount, as a part of it.
    pub amount: Ratio,
    /// Of a time, seconds.
    pub seconds: f64,
}

impl Default for CatchScatter {
    /// A jug read to 1 % and a watch to 0.3 s (common practice, no source).
    fn default() -> Self {
        Self { amount: Ratio::from_si(0.01), seconds: 0.3 }
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
        ] {
            let said = CaughtAmount::parse(typed, CatchUnit::Millilitre).unwrap_err();
            assert!(said.contains(says), "{typed}: {said}");
        }
    }
}
