//! Catch tests: what was caught under each row, what the gauges showed, under which conditions, and the bar as it was then.
//!
//! A test names rows and parts of the [`TestedBar`] it was made on, not of the project as it is now: it stays whole when rows
//! and parts go, and what has changed since can be said.

use std::sync::Arc;

use serde::{Deserialize, Serialize};

use super::{CatchTestId, DutyId, PartId, Project, RowId, TestedBarId};
use crate::quantities::{Angle, Length, Mass, Pressure, Ratio, Speed, Temperature, Volume};

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

/// What a gauge showed.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct GaugeReading {
    /// The gauge, a placed part of the tested routing.
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
