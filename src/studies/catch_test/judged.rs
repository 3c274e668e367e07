//! A catch test held against the plan: each row against its target, the mean and what the model expects under the same
//! conditions; how even the rows are, what was applied, which rows do not belong to the others.

use super::cv::CaughtCv;
use super::expectation::{Beside, Expectation, Of};
use super::explain::Explanation;
use super::outliers::outliers;
use super::prepare::PreparedTest;
use super::readings::{CatchesApart, PressureReading};
use super::spread_columns::spread_columns;
use crate::hydraulics::outcome::{Outcome, RowState, RowsCovered};
use crate::hydraulics::{KeptSolver, NotFed};
use crate::plan::row_target::width;
use crate::plan::{PartId, RowId};
use crate::quantities::{ApplicationRate, Flow, Length, Pressure, Ratio, Speed};
use crate::studies::asked::{NoAnswer, Studied, no_numbers};
use crate::studies::tolerance::scatter::Scatter;

/// A row that should get nothing drips up to so many standard deviations of catching (common practice, no source).
const DRIPS: f64 = 3.0;

/// From these odds on, what all readings together speak for decides against "as drawn"; below, it leaves that open.
const DECIDES: f64 = 0.9;

/// What a catch test says by itself.
#[derive(Debug, Clone, PartialEq)]
pub struct Judged {
    /// What the model expects under the conditions of the test.
    pub expected: Outcome,
    /// The rows that were caught, in the bar's order.
    pub rows: Vec<JudgedRow>,
    /// Rows in use that were not caught, in the bar's order.
    pub not_caught: Vec<RowId>,
    /// Each reading that counts.
    pub gauges: Vec<JudgedGauge>,
    /// How even the rows are; none for fewer than two rows with a target, or where nothing came.
    pub cv: Option<CaughtCv>,
    /// What the rows that were caught put on the field; none where that says nothing of the dosing: a pressure was held by hand, or
    /// less than half of the rows in use were caught.
    pub applied: Option<AppliedRate>,
    /// Whether it is as it should be.
    pub verdict: Verdict,
    /// How far a row may be from what is asked: the project's limit.
    pub limit: Ratio,
}

/// Whether a bar is as it should be. That a row is not, is known from that row; that all are, only once each was caught: what
/// is wrong at one row (a blocked orifice, a kinked tube) does not show at another, so that no sample of rows, however fair,
/// tells it. What a sample does tell is how even the rows are: the interval of the CV.
#[derive(Debug, Clone, PartialEq)]
pub struct Verdict {
    /// Each row gives, and each gauge shows, what the model expects, and nothing but scatter explains them best
    /// ([`Judged::heed`]); none where that is not known.
    pub as_drawn: Option<bool>,
    /// Each row gives what is asked of it within the limit of the project, and their CV is acceptable; none where that is not
    /// known.
    pub within_limits: Option<bool>,
    /// Why one of them is not known; there where one is not.
    pub not_judged: Option<NotJudged>,
    /// What all readings together speak for though each by itself is within its band.
    pub together: Option<Together>,
}

/// An explanation against bands.
#[derive(Debug, Clone, PartialEq)]
pub struct Together {
    /// What it is, with its size.
    pub what: String,
    /// Its odds, 0 to 1.
    pub odds: f64,
}

/// Why there is no verdict.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum NotJudged {
    /// The table that it was read from is of another bar or of other outlets; a sentence without its beginning.
    OfAnother(String),
    /// So many lines of a table are missing in the test.
    LinesMissing(u32),
    /// So many rows that liquid is led to were not caught, of so many.
    NotCaught {
        /// Not caught.
        rows: usize,
        /// Of so many that liquid is led to.
        of: usize,
    },
    /// Each reading by itself is as drawn, and all together rather speak for something else.
    Doubted,
}

/// One row that was caught.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct JudgedRow {
    /// The row.
    pub row: RowId,
    /// As painted on the bar.
    pub number: u32,
    /// How many catches count.
    pub catches: usize,
    /// What came.
    pub caught: Flow,
    /// Standard deviation of that by jug and watch.
    pub sd: Flow,
    /// What it should get at the test's speed (the usual one where a pressure was held).
    pub target: Flow,
    /// What it would give in this test if it gave its target at work: the target itself, or where water was caught or a pressure
    /// held, that times what is expected in the test over what is expected at work. None where nothing is expected at work.
    pub asked: Option<Flow>,
    /// What the model expects in this test; zero for a row that gets nothing.
    pub expected: Flow,
    /// Caught over asked, less 1.
    pub from_asked: Option<Ratio>,
    /// Caught over expected, less 1.
    pub from_expected: Option<Ratio>,
    /// Caught over target as compared with the mean of all, less 1.
    pub from_mean: Option<Ratio>,
    /// It does not belong to the others (generalised ESD, two-sided 5 %, on caught over expected).
    pub is_outlier: bool,
    /// Where its catches contradict each other.
    pub apart: Option<CatchesApart>,
    /// What it may give on a bar as drawn; none for a row that should get nothing.
    pub may_give: Option<MayBe<Flow>>,
    /// It gives what it may, or drips where it should get nothing.
    pub as_drawn: bool,
    /// As asked, within the limit.
    pub within_limit: bool,
}

/// One reading of a gauge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct JudgedGauge {
    /// The gauge.
    pub part: PartId,
    /// What it showed.
    pub read: Pressure,
    /// Standard deviation of that.
    pub sd: Pressure,
    /// What the model expects; none where no liquid reaches it.
    pub expected: Option<Pressure>,
    /// What it may show on a bar as drawn; none where no liquid reaches it.
    pub may_show: Option<MayBe<Pressure>>,
    /// It shows what it may.
    pub as_drawn: bool,
}

/// Between which values a reading may be on a bar as drawn: by the scatter of jug, watch and gauge, of the supply, of parts as sold
/// and of the liquid, all together. What all readings have in common counts once: each must be where it may be by itself, and
/// beside the other readings, which rule much of that out. In 95 of 100 tests of a bar as drawn all readings are, however many
/// there are (Genz and Bretz 2009, see `joint`).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MayBe<T> {
    /// The least.
    pub low: T,
    /// The most.
    pub high: T,
    /// As the other readings make it; else as it is expected by itself, where it is beyond that.
    pub by_others: bool,
}

/// What is put on the field.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AppliedRate {
    /// Mean over the strips of the rows that were caught.
    pub rate: ApplicationRate,
    /// What the duty asks.
    pub asked: ApplicationRate,
    /// At this ground speed.
    pub speed: Speed,
    /// How many rows it is over, of those in use.
    pub rows: RowsCovered,
}

/// Solves the bar under the conditions of the test and holds what was caught against it; no answer where it can't be solved.
pub fn judge(test: &PreparedTest) -> Result<Judged, NoAnswer> {
    let studied = test.studied();
    let (expected, beside) = expectation(test, &studied)?;
    let at_work = test.at_work().map(|work| solve(&work)).transpose()?;
    let limits = &studied.project.limits;
    let limit = limits.row_deviation;
    let bar = &studied.project.bar;
    let mut rows: Vec<JudgedRow> = test
        .rows()
        .iter()
        .filter_map(|reading| {
            let found = expected.row(reading.row)?;
            let (caught, sd) = (reading.flow(), reading.sd());
            let gives = found.flow.max(Flow::ZERO);
            let asked = match &at_work {
                None => Some(found.target),
                Some(work) => {
                    let at_work = work.row(reading.row).map_or(Flow::ZERO, |row| row.flow);
                    (at_work > Flow::ZERO).then(|| found.target * (gives / at_work))
                }
            };
            let over = |of: Flow| (of > Flow::ZERO).then(|| Ratio::from_si(caught / of - 1.0));
            let from_asked = asked.and_then(over);
            let from_expected = over(gives);
            let near = |from: Option<Ratio>| from.is_some_and(|from| from.abs() <= limit);
            Some(JudgedRow {
                row: reading.row,
                number: found.number,
                catches: reading.catches.len(),
                caught,
                sd,
                target: found.target,
                asked,
                expected: gives,
                from_asked,
                from_expected,
                from_mean: None,
                is_outlier: false,
                apart: reading.apart(),
                may_give: beside.row(reading.row).map(|(one, _)| one),
                as_drawn: beside
                    .row(reading.row)
                    .map_or_else(|| caught <= sd * DRIPS, |(_, is_within)| is_within),
                within_limit: near(from_asked),
            })
        })
        .collect();
    mark_outliers(&mut rows);
    let is_caught = |id: RowId| rows.iter().any(|row| row.row == id);
    let in_use = || expected.connections.iter().filter(|row| row.connected != Err(NotFed::LeftOut));
    let not_caught: Vec<RowId> = in_use().map(|row| row.row).filter(|id| !is_caught(*id)).collect();
    let cv = CaughtCv::of(&over_targets(&rows), !not_caught.is_empty());
    compare_with_mean(&mut rows);
    let gauges = judged_gauges(test, &expected, &beside);
    let strips: Vec<(f64, Length)> = rows
        .iter()
        .filter_map(|row| {
            // What it would give at work.
            let share = row.caught / row.asked?;
            Some((row.target.si() * share, width(bar, bar.row(row.row)?)))
        })
        .filter(|(flow, _)| flow.is_finite())
        .collect();
    let speed = expected.point.speed;
    let covered: Length = strips.iter().map(|(_, strip)| *strip).sum();
    let flow: f64 = strips.iter().map(|(flow, _)| flow).sum();
    let over = RowsCovered { rows: strips.len(), of: in_use().count() };
    let says_dosing = !test.is_pressure_held() && 2 * over.rows >= over.of;
    let applied = (says_dosing && covered > Length::ZERO).then(|| AppliedRate {
        rate: ApplicationRate::from_si(flow / (covered.si() * speed.si())),
        asked: expected.point.rate,
        speed,
        rows: over,
    });
    let even = cv.is_none_or(|cv| cv.of_bar <= limits.cv_acceptable);
    let led_to = || expected.connections.iter().filter(|row| row.connected.is_ok());
    let missing = led_to().filter(|row| not_caught.contains(&row.row)).count();
    let verdict = Verdict::of(
        rows.iter().all(|row| row.as_drawn) && gauges.iter().all(|gauge| gauge.as_drawn),
        even && rows.iter().all(|row| row.within_limit),
        match (test.no_verdict(), test.lines_missing()) {
            (Some(why), _) => Some(NotJudged::OfAnother(why.to_owned())),
            (None, 0) if missing == 0 => None,
            (None, 0) => Some(NotJudged::NotCaught { rows: missing, of: led_to().count() }),
            (None, lines) => Some(NotJudged::LinesMissing(lines)),
        },
    );
    Ok(Judged { expected, rows, not_caught, gauges, cv, applied, verdict, limit })
}

fn solve(of: &Studied) -> Result<Outcome, NoAnswer> {
    let outcome = KeptSolver::default().prepare(of.project, of.routing).solve(&of.point);
    if outcome.result.is_err() { Err(no_numbers(of, &outcome)) } else { Ok(outcome) }
}

/// What each reading may be, with whether it is there.
#[derive(Default)]
struct MayAllBe {
    rows: Vec<(RowId, MayBe<Flow>, bool)>,
    gauges: Vec<(PartId, MayBe<Pressure>, bool)>,
}

impl MayAllBe {
    fn row(&self, id: RowId) -> Option<(MayBe<Flow>, bool)> {
        self.rows.iter().find(|one| one.0 == id).map(|one| (one.1, one.2))
    }

    fn gauge(&self, id: PartId) -> Option<(MayBe<Pressure>, bool)> {
        self.gauges.iter().find(|one| one.0 == id).map(|one| (one.1, one.2))
    }
}

/// Solves the bar as it was tested, and says what each reading may be then.
fn expectation(test: &PreparedTest, of: &Studied<'_>) -> Result<(Outcome, MayAllBe), NoAnswer> {
    let mut kept = KeptSolver::default();
    let mut prepared = kept.prepare(of.project, of.routing);
    let outcome = prepared.solve(&of.point);
    if outcome.result.is_err() {
        return Err(no_numbers(of, &outcome));
    }
    let scatter = Scatter::of(of.project, of.routing, &mut prepared, &of.point);
    let given = |row: RowId| outcome.row(row).map_or(Flow::ZERO, |row| row.flow);
    let rows: Vec<_> = test.rows().iter().filter(|one| given(one.row) > Flow::ZERO).collect();
    let shown = |gauge: &PressureReading| outcome.part(gauge.part).and_then(|part| part.pressure);
    let gauges: Vec<_> = test.gauges().iter().filter_map(|one| Some((one, shown(one)?))).collect();
    let row_ids: Vec<RowId> = rows.iter().map(|one| one.row).collect();
    let part_ids: Vec<PartId> = gauges.iter().map(|one| one.0.part).collect();
    let columns = spread_columns(of, &scatter, &mut prepared, (&row_ids, &part_ids), Some(test.supply_sd()));
    let of_rows = rows.iter().enumerate().map(|(place, one)| Beside {
        of: Of::Row(place),
        read: one.flow().si(),
        expected: given(one.row).si(),
        sd: one.sd().si(),
    });
    let of_gauges = gauges.iter().enumerate().map(|(place, (one, expected))| Beside {
        of: Of::Part(place),
        read: one.pressure.si(),
        expected: expected.si(),
        sd: one.sd.si(),
    });
    let Some(all) = Expectation::of(of_rows.chain(of_gauges).collect(), &columns) else {
        return Err(NoAnswer::impossible(
            "the scatter of the readings is not one that numbers can have",
            "give jug, watch and gauges a scatter above 0, and correct spreads that are far too large",
        ));
    };
    let mut may_be = all.may_be().into_iter();
    let rows = row_ids.into_iter().zip(may_be.by_ref()).map(|(id, one)| {
        let [low, high] = [one.low, one.high].map(Flow::from_si);
        (id, MayBe { low, high, by_others: one.by_others }, one.is_within)
    });
    let rows = rows.collect();
    let gauges = part_ids.into_iter().zip(may_be).map(|(id, one)| {
        let [low, high] = [one.low, one.high].map(Pressure::from_si);
        (id, MayBe { low, high, by_others: one.by_others }, one.is_within)
    });
    let gauges = gauges.collect();
    Ok((outcome, MayAllBe { rows, gauges }))
}

fn judged_gauges(test: &PreparedTest, expected: &Outcome, beside: &MayAllBe) -> Vec<JudgedGauge> {
    let gauge = |reading: &PressureReading| {
        let may_be = beside.gauge(reading.part);
        JudgedGauge {
            part: reading.part,
            read: reading.pressure,
            sd: reading.sd,
            expected: expected.part(reading.part).and_then(|part| part.pressure),
            may_show: may_be.map(|one| one.0),
            as_drawn: may_be.is_some_and(|one| one.1),
        }
    };
    test.gauges().iter().map(gauge).collect()
}

fn mark_outliers(rows: &mut [JudgedRow]) {
    let compared: Vec<(usize, f64)> =
        rows.iter().enumerate().filter_map(|(place, row)| Some((place, row.from_expected?.si()))).collect();
    let values: Vec<f64> = compared.iter().map(|(_, value)| 1.0 + value).collect();
    for outlier in outliers(&values) {
        rows[compared[outlier].0].is_outlier = true;
    }
}

/// Of each row with a target, caught over target and the standard deviation of that.
fn over_targets(rows: &[JudgedRow]) -> Vec<(f64, f64)> {
    let with_target = rows.iter().filter(|row| row.target > Flow::ZERO);
    with_target.map(|row| (row.caught / row.target, row.sd / row.target)).collect()
}

fn compare_with_mean(rows: &mut [JudgedRow]) {
    let ratios = over_targets(rows);
    let mean = ratios.iter().map(|(ratio, _)| ratio).sum::<f64>() / ratios.len() as f64;
    for row in rows.iter_mut().filter(|row| row.target > Flow::ZERO && mean > 0.0) {
        row.from_mean = Some(Ratio::from_si(row.caught / row.target / mean - 1.0));
    }
}

impl Verdict {
    /// Of what was caught, and what is missing of it. A line that is missing may be of any row, caught or not.
    fn of(as_drawn: bool, within_limits: bool, missing: Option<NotJudged>) -> Self {
        let known = |holds: bool| match missing {
            Some(NotJudged::OfAnother(_) | NotJudged::LinesMissing(_)) => None,
            Some(NotJudged::NotCaught { .. }) if holds => None,
            _ => Some(holds),
        };
        let (as_drawn, within_limits) = (known(as_drawn), known(within_limits));
        let not_judged = missing.filter(|_| as_drawn.is_none() || within_limits.is_none());
        Self { as_drawn, within_limits, not_judged, together: None }
    }

    /// The bar is as it was drawn and as it should be.
    pub fn is_good(&self) -> bool {
        (self.as_drawn, self.within_limits) == (Some(true), Some(true))
    }
}

impl Judged {
    /// Takes in what explains the test: bands hold each reading by itself, an explanation weighs all together. Where each is
    /// within its band and something other than scatter has the greatest odds, the bar is not as drawn from odds of 9 in 10 on;
    /// below, that is not known.
    pub fn heed(&mut self, explanation: &Explanation) {
        let verdict = &mut self.verdict;
        let in_bands = self.rows.iter().all(|row| row.as_drawn) && self.gauges.iter().all(|one| one.as_drawn);
        let no_verdict =
            matches!(verdict.not_judged, Some(NotJudged::OfAnother(_) | NotJudged::LinesMissing(_)));
        let Some((what, odds)) = explanation.against_scatter().filter(|_| in_bands && !no_verdict) else {
            return;
        };
        verdict.together = Some(Together { what, odds });
        if odds >= DECIDES {
            verdict.as_drawn = Some(false);
            if verdict.within_limits.is_some() {
                verdict.not_judged = None;
            }
        } else {
            verdict.as_drawn = None;
            verdict.not_judged.get_or_insert(NotJudged::Doubted);
        }
    }

    /// Rows whose catches contradict each other, in the bar's order.
    pub fn apart(&self) -> impl Iterator<Item = (&JudgedRow, CatchesApart)> {
        self.rows.iter().filter_map(|row| Some((row, row.apart?)))
    }

    /// Rows that do not belong to the others, in the bar's order.
    pub fn outliers(&self) -> Vec<RowId> {
        self.rows.iter().filter(|row| row.is_outlier).map(|row| row.row).collect()
    }

    /// What the model says becomes of a row; none for one that is not of the bar.
    pub fn state(&self, row: RowId) -> Option<RowState> {
        self.expected.row(row).map(|row| row.state)
    }

    /// A row that was caught, by its id.
    pub fn row(&self, id: RowId) -> Option<&JudgedRow> {
        self.rows.iter().find(|row| row.row == id)
    }
}
