//! Catch tests: what was caught under each row, what the gauges showed, under which conditions, and the bar as it was then.
//!
//! A test names rows and parts of the [`TestedBar`] it was made on, not of the project as it is now: it stays whole when rows
//! and parts go, and what has changed since can be said.

use std::ops::RangeInclusive;
use std::sync::Arc;

use serde::{Deserialize, Serialize};

use super::bounds::Bound;
use super::{
    Catalogue, CatchSpan, CatchTestId, CaughtAmount, Duties, DutyId, EntryKey, OperatingPoint, PartId,
    Project, RoutingId, RowId, TestedBarId,
};
use crate::quantities::{Angle, Pressure, Ratio, Speed, Temperature};

/// How long liquid is caught unless somebody says otherwise, seconds (common practice, no source).
const USUAL_SECONDS: f64 = 30.0;

/// What a gauge may show, Pa: none on a machine of this trade reads more than 1000 bar.
pub const GAUGE_READS: RangeInclusive<f64> = 0.0..=1e8;

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
            doubts: Vec::new(),
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
    /// What of tables that were read in is missing or does not fit, as long as nobody has settled it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub doubts: Vec<TableDoubt>,
}

impl CatchTest {
    /// So many lines of tables that were read in are missing from it.
    pub fn lines_missing(&self) -> u32 {
        self.doubts.iter().fold(0, |sum, one| sum.saturating_add(one.lines))
    }

    /// Why nothing of it is judged, whatever was caught: a table that was read in is of another bar.
    pub fn no_verdict(&self) -> Option<&str> {
        self.doubts.iter().find_map(|one| one.no_verdict.as_deref())
    }

    /// Takes what is in doubt of a table, each sentence once; what is more than it may hold is counted in the last.
    pub fn add_doubts(&mut self, doubts: Vec<TableDoubt>) {
        for one in doubts {
            if self.doubts.contains(&one) {
                continue;
            }
            let is_full = self.doubts.len() >= Bound::TableDoubts.most();
            match self.doubts.last_mut().filter(|_| is_full) {
                Some(last) => {
                    let lines = last.lines.saturating_add(one.lines);
                    *last = TableDoubt {
                        row: None,
                        lines,
                        no_verdict: last.no_verdict.take().or(one.no_verdict),
                        says: "and more lines than are named here".to_owned(),
                    };
                }
                None => self.doubts.push(one),
            }
        }
    }

    /// What is in doubt about a row is settled: something else was taken down there.
    pub fn settle_row(&mut self, row: RowId) {
        self.doubts.retain(|one| one.row != Some(row));
    }

    /// What is in doubt about catches of a row that were taken down is settled: one of them is spoiled.
    pub fn settle_remarks(&mut self, row: RowId) {
        self.doubts.retain(|one| one.row != Some(row) || one.lines > 0);
    }
}

/// What of a table that was read in could not be taken down, or does not fit the test.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TableDoubt {
    /// The row that it is about, where that is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub row: Option<RowId>,
    /// So many lines of the table are missing from the test; 0 where it was taken down and does not fit.
    pub lines: u32,
    /// Why nothing is judged while it stands, a sentence without its beginning: the table is of another bar. None where it does
    /// not keep a test from being judged.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub no_verdict: Option<String>,
    /// Where, what, and what to try; a sentence without a full stop.
    pub says: String,
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

/// How well a catch can be read and the supply keeps what it is asked for: standard deviations.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CatchScatter {
    /// Of an amount, as a part of it.
    pub amount: Ratio,
    /// Of a time, seconds.
    pub seconds: f64,
    /// Of what the supply gives, as a part of what it is asked for: flow where it follows the speed (flow meter and speed
    /// together), pressure where one is held.
    #[serde(default = "usual_supply")]
    pub supply: Ratio,
}

/// 3 % (common practice, no source).
const fn usual_supply() -> Ratio {
    Ratio::from_si(0.03)
}

impl Default for CatchScatter {
    /// A jug read to 1 %, a watch to 0.3 s and a supply kept within 3 % (common practice, no source).
    fn default() -> Self {
        Self { amount: Ratio::from_si(0.01), seconds: 0.3, supply: usual_supply() }
    }
}
