//! The answer to a catch test, and as JSON for programs.

use serde::Serialize;

use super::calibrating::CalibrationReport;
use crate::command_line::arguments::duty_name;
use crate::command_line::percent;
use crate::plan::{CatchTest, CaughtLiquid, Drive, Project, RowId};
use crate::quantities::{Flow, Pressure};
use crate::studies::NoAnswer;
use crate::studies::catch_test::explain::{
    Candidate, Cause, CauseSize, Explanation, NextLook, Reading, Unexplained,
};
use crate::studies::catch_test::judged::{Judged, JudgedRow};
use crate::studies::catch_test::prepare::PreparedTest;
use crate::studies::catch_test::verdict_words::{headline, not_judged, notes, sentences};

/// What was found.
pub(super) struct Answer<'a> {
    /// As it was taken down.
    pub(super) test: &'a CatchTest,
    pub(super) prepared: &'a PreparedTest,
    pub(super) judged: &'a Judged,
    pub(super) explained: Result<&'a Explanation, &'a NoAnswer>,
    /// What of the table and the test was left out or assumed.
    pub(super) remarks: &'a [String],
    /// Where one was asked for.
    pub(super) calibration: Option<CalibrationReport>,
}

/// What the JSON holds; each key carries its unit.
#[derive(Serialize)]
pub(super) struct CatchReport {
    routing: String,
    /// Null where the project has one alone.
    duty: Option<String>,
    liquid: &'static str,
    verdict: VerdictReport,
    rows: Vec<RowReport>,
    rows_not_caught: Vec<u32>,
    gauges: Vec<GaugeReport>,
    cv_percent: Option<f64>,
    cv_of_the_catch_percent: Option<f64>,
    cv_without_the_catch_percent: Option<f64>,
    cv_between_percent: Option<[f64; 2]>,
    applied_l_ha: Option<f64>,
    asked_l_ha: f64,
    speed_km_h: f64,
    /// What was held at the pump by hand; null where the bar's own control set the flow.
    held_kpa: Option<f64>,
    temperature_c: f64,
    /// By which density weights became volumes; absent where nothing was weighed.
    #[serde(skip_serializing_if = "Option::is_none")]
    density: Option<DensityReport>,
    candidates: Vec<CandidateReport>,
    #[serde(skip_serializing_if = "Option::is_none")]
    others: Option<OthersReport>,
    next: Vec<NextReport>,
    /// How many times as far the readings scatter as was assumed.
    scatter: Option<f64>,
    /// What "as drawn" means, and to what a small catch is taken to be read.
    notes: Vec<String>,
    cautions: Vec<String>,
    remarks: Vec<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    calibration: Option<CalibrationReport>,
}

#[derive(Serialize)]
struct DensityReport {
    kg_m3: f64,
    liquid: String,
    /// `measured`, `published`, `assumed`, or from which test.
    source: String,
    temperature_c: f64,
    /// Else it is the duty's.
    temperature_measured: bool,
}

#[derive(Serialize)]
struct VerdictReport {
    /// Null where that is not known.
    as_drawn: Option<bool>,
    within_limits: Option<bool>,
    /// Why one of them is null.
    not_judged: Option<String>,
    /// What all readings together speak for though each is within its band; with odds of 0.9 or more `as_drawn` is false by it,
    /// with less null.
    #[serde(skip_serializing_if = "Option::is_none")]
    together: Option<TogetherReport>,
    rows_caught: usize,
    rows_in_use: usize,
    says: Vec<String>,
}

#[derive(Serialize)]
struct TogetherReport {
    what: String,
    odds: f64,
}

#[derive(Serialize)]
struct RowReport {
    row: u32,
    catches: usize,
    caught_l_min: f64,
    catch_sd_l_min: f64,
    target_l_min: f64,
    asked_l_min: Option<f64>,
    expected_l_min: f64,
    /// Between which it may give as drawn, beside the other readings: by the scatter of jug, watch, supply, parts and liquid. Null for
    /// a row that should get nothing.
    may_give_l_min: Option<[f64; 2]>,
    from_asked_percent: Option<f64>,
    from_expected_percent: Option<f64>,
    from_mean_percent: Option<f64>,
    outlier: bool,
    /// How far its catches lie apart, and what that may be, where they contradict each other.
    #[serde(skip_serializing_if = "Option::is_none")]
    catches_apart_l_min: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    catches_may_differ_l_min: Option<f64>,
    as_drawn: bool,
    within_limit: bool,
}

#[derive(Serialize)]
struct GaugeReport {
    tag: String,
    read_kpa: f64,
    /// Standard deviation of the reading.
    read_sd_kpa: f64,
    expected_kpa: Option<f64>,
    /// Between which it may show as drawn, beside the other readings: by its own scatter, of supply, parts and liquid.
    may_show_kpa: Option<[f64; 2]>,
    as_drawn: bool,
}

#[derive(Serialize)]
struct CandidateReport {
    kind: &'static str,
    rows: Vec<u32>,
    parts: Vec<String>,
    odds: f64,
    size: Option<SizeReport>,
    /// Causes of one group look alike to this test.
    group: usize,
    group_odds: f64,
    /// What the group's likeliest member leaves more than three spreads away; empty where it explains all.
    unexplained: Vec<UnexplainedReport>,
    #[serde(skip_serializing_if = "Option::is_none")]
    and: Option<SecondReport>,
    what: String,
    why: String,
    then_also: String,
    to_do: String,
}

#[derive(Serialize)]
struct UnexplainedReport {
    /// One of the two.
    row: Option<u32>,
    gauge: Option<String>,
    what: String,
}

/// All causes that are no candidates by themselves: with their odds those of the candidates make 1.
#[derive(Serialize)]
struct OthersReport {
    /// How many of them belong to a group with candidates; of the rest each has odds below 0.0005.
    alike: usize,
    odds: f64,
}

#[derive(Serialize)]
struct SecondReport {
    kind: &'static str,
    rows: Vec<u32>,
    parts: Vec<String>,
    size: Option<SizeReport>,
}

#[derive(Serialize)]
struct SizeReport {
    #[serde(skip_serializing_if = "Option::is_none")]
    number: Option<f64>,
    /// The 95 % range that the readings leave it, where it has one.
    #[serde(flatten)]
    range: Option<RangeReport>,
    #[serde(skip_serializing_if = "Option::is_none")]
    entry: Option<String>,
    words: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    range_words: Option<String>,
}

/// Null where the readings speak against none of the sizes on that side.
#[derive(Serialize)]
struct RangeReport {
    low: Option<f64>,
    high: Option<f64>,
}

#[derive(Serialize)]
struct NextReport {
    action: &'static str,
    rows: Vec<u32>,
    what: String,
    gain_bits: f64,
    outcomes: Vec<OutcomeReport>,
}

#[derive(Serialize)]
struct OutcomeReport {
    seen: String,
    means: String,
    odds: f64,
}

impl Answer<'_> {
    /// The answer for programs.
    pub(super) fn for_programs(self, project: &Project) -> CatchReport {
        let (judged, studied) = (self.judged, self.prepared.studied());
        let cv = judged.cv.as_ref();
        let point = &judged.expected.point;
        CatchReport {
            routing: studied.routing.name.clone(),
            duty: duty_name(project, self.test.duty),
            liquid: match self.test.liquid {
                CaughtLiquid::Product => "product",
                CaughtLiquid::Water => "water",
            },
            verdict: VerdictReport {
                as_drawn: judged.verdict.as_drawn,
                within_limits: judged.verdict.within_limits,
                not_judged: not_judged(judged),
                together: judged
                    .verdict
                    .together
                    .as_ref()
                    .map(|one| TogetherReport { what: one.what.clone(), odds: one.odds }),
                rows_caught: judged.rows.len(),
                rows_in_use: judged.expected.rows_in_use(),
                says: self.says(),
            },
            rows: judged.rows.iter().map(row_report).collect(),
            rows_not_caught: judged.not_caught.iter().filter_map(|id| self.number(*id)).collect(),
            gauges: judged
                .gauges
                .iter()
                .map(|gauge| GaugeReport {
                    tag: studied.routing.part(gauge.part).map(|part| part.tag.clone()).unwrap_or_default(),
                    read_kpa: gauge.read.as_kilopascals(),
                    read_sd_kpa: gauge.sd.as_kilopascals(),
                    expected_kpa: gauge.expected.map(Pressure::as_kilopascals),
                    may_show_kpa: gauge.may_show.map(|one| [one.low, one.high].map(Pressure::as_kilopascals)),
                    as_drawn: gauge.as_drawn,
                })
                .collect(),
            cv_percent: cv.map(|cv| percent(cv.as_caught)),
            cv_of_the_catch_percent: cv.map(|cv| percent(cv.of_catch)),
            cv_without_the_catch_percent: cv.map(|cv| percent(cv.of_bar)),
            cv_between_percent: cv
                .and_then(|cv| cv.interval)
                .map(|(low, high)| [percent(low), percent(high)]),
            applied_l_ha: judged.applied.as_ref().map(|one| one.rate.as_litres_per_hectare()),
            asked_l_ha: point.rate.as_litres_per_hectare(),
            speed_km_h: point.speed.as_kilometres_per_hour(),
            held_kpa: match self.test.drive {
                Drive::Speed(_) => None,
                Drive::HeldPressure(pressure) => Some(pressure.as_kilopascals()),
            },
            temperature_c: point.temperature.si(),
            density: self.prepared.weighed().map(|one| DensityReport {
                kg_m3: one.density.si(),
                liquid: one.liquid.clone(),
                source: one.source.words(),
                temperature_c: one.at.si(),
                temperature_measured: one.at_is_measured,
            }),
            candidates: self.candidates(),
            others: self.others(),
            next: self.next_looks().iter().map(|look| self.next(look)).collect(),
            scatter: self.explained.ok().map(|one| one.scatter.si()),
            notes: notes(self.prepared),
            cautions: self.cautions(),
            remarks: self.remarks.to_vec(),
            calibration: self.calibration,
        }
    }

    /// Headline and sentences.
    fn says(&self) -> Vec<String> {
        std::iter::once(headline(self.judged)).chain(sentences(self.judged, self.prepared)).collect()
    }

    fn number(&self, id: RowId) -> Option<u32> {
        self.prepared.studied().project.bar.row(id).map(|row| row.number)
    }

    fn numbers(&self, rows: &[RowId]) -> Vec<u32> {
        rows.iter().filter_map(|id| self.number(*id)).collect()
    }

    pub(super) fn next_looks(&self) -> &[NextLook] {
        self.explained.map_or(&[], |one| one.next.as_slice())
    }

    /// What to know before relying on the odds, or why there are none.
    pub(super) fn cautions(&self) -> Vec<String> {
        match self.explained {
            Ok(explained) => explained.cautions.clone(),
            Err(why) => vec![format!("nothing can be said of the causes: {why}")],
        }
    }

    fn candidates(&self) -> Vec<CandidateReport> {
        let Ok(explained) = self.explained else { return Vec::new() };
        let report = |(group, one): (usize, &Candidate)| {
            let SecondReport { kind, rows, parts, size } = self.cause(&one.cause);
            CandidateReport {
                kind,
                rows,
                parts,
                odds: one.odds,
                size,
                group,
                group_odds: explained.groups[group].odds,
                unexplained: explained.groups[group].unexplained.iter().map(|one| self.left(one)).collect(),
                and: one.and.as_ref().map(|cause| self.cause(cause)),
                what: one.what.clone(),
                why: one.why.clone(),
                then_also: one.then_also.clone(),
                to_do: one.advice(self.judged.verdict.as_drawn).to_owned(),
            }
        };
        explained.in_order().into_iter().map(report).collect()
    }

    fn left(&self, one: &Unexplained) -> UnexplainedReport {
        let routing = self.prepared.studied().routing;
        let (row, gauge) = match one.reading {
            Reading::Row(id) => (self.number(id), None),
            Reading::Gauge(id) => (None, routing.part(id).map(|part| part.tag.clone())),
        };
        UnexplainedReport { row, gauge, what: one.what.clone() }
    }

    fn others(&self) -> Option<OthersReport> {
        let explained = self.explained.ok()?;
        let listed = explained.groups.iter().flat_map(|group| &group.members);
        Some(OthersReport {
            alike: explained.groups.iter().map(|group| group.unlisted.len()).sum(),
            odds: (1.0 - listed.map(|one| one.odds).sum::<f64>()).max(0.0),
        })
    }

    fn cause(&self, cause: &Cause) -> SecondReport {
        let studied = self.prepared.studied();
        let entry = match &cause.size {
            CauseSize::Entry(key) => Some(key.0.clone()),
            _ => None,
        };
        let described = |key: &crate::plan::EntryKey| {
            let entry = studied.project.catalogue.entry(key);
            entry.map_or_else(|| key.0.clone(), |entry| entry.description.clone())
        };
        let end = |size: Option<&CauseSize>| size.and_then(CauseSize::number);
        let range = cause.range.as_ref();
        let size = (cause.size != CauseSize::None).then(|| SizeReport {
            number: cause.size.number(),
            range: range
                .map(|range| RangeReport { low: end(range.low.as_ref()), high: end(range.high.as_ref()) }),
            entry,
            words: cause.size.words(studied.project.units, described),
            range_words: range.map(|range| range.words(studied.project.units)),
        });
        SecondReport {
            kind: cause.kind.key(),
            rows: self.numbers(&cause.rows),
            parts: cause.places.iter().map(|place| studied.tag(*place)).collect(),
            size,
        }
    }

    fn next(&self, look: &NextLook) -> NextReport {
        NextReport {
            action: look.action.key(),
            rows: self.numbers(look.action.rows()),
            what: look.what.clone(),
            gain_bits: look.gain_bits,
            outcomes: look
                .outcomes
                .iter()
                .map(|one| OutcomeReport { seen: one.seen.clone(), means: one.means.clone(), odds: one.odds })
                .collect(),
        }
    }
}

fn row_report(row: &JudgedRow) -> RowReport {
    RowReport {
        row: row.number,
        catches: row.catches,
        caught_l_min: row.caught.as_litres_per_minute(),
        catch_sd_l_min: row.sd.as_litres_per_minute(),
        target_l_min: row.target.as_litres_per_minute(),
        asked_l_min: row.asked.map(Flow::as_litres_per_minute),
        expected_l_min: row.expected.as_litres_per_minute(),
        may_give_l_min: row.may_give.map(|one| [one.low, one.high].map(Flow::as_litres_per_minute)),
        from_asked_percent: row.from_asked.map(percent),
        from_expected_percent: row.from_expected.map(percent),
        from_mean_percent: row.from_mean.map(percent),
        outlier: row.is_outlier,
        catches_apart_l_min: row.apart.map(|one| one.range.as_litres_per_minute()),
        catches_may_differ_l_min: row.apart.map(|one| one.critical.as_litres_per_minute()),
        as_drawn: row.as_drawn,
        within_limit: row.within_limit,
    }
}
