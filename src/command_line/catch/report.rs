//! The answer to a catch test: as a table for people, as CSV of the rows, and as JSON.

use std::fmt::Write as _;

use serde::Serialize;

use crate::command_line::arguments::{conditions, duty_name};
use crate::command_line::percent;
use crate::plan::words::{capital, counted};
use crate::plan::{CatchTest, CaughtLiquid, CauseKind, Drive, Project, RowId};
use crate::quantities::{Flow, Measure, Pressure, Ratio};
use crate::studies::NoAnswer;
use crate::studies::catch_test::explain::{
    Candidate, Cause, CauseGroup, CauseSize, Explanation, LEAST_ODDS, NextLook, Reading, Unexplained,
};
use crate::studies::catch_test::judged::{Judged, JudgedRow};
use crate::studies::catch_test::prepare::PreparedTest;
use crate::studies::catch_test::verdict_words::{
    gauge_mark, gauge_range, headline, marks, not_judged, sentences,
};

/// What was found.
pub(super) struct Answer<'a> {
    /// As it was taken down.
    pub(super) test: &'a CatchTest,
    pub(super) prepared: &'a PreparedTest,
    pub(super) judged: &'a Judged,
    pub(super) explained: Result<&'a Explanation, &'a NoAnswer>,
    /// What of the table and the test was left out or assumed.
    pub(super) remarks: &'a [String],
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
    cautions: Vec<String>,
    remarks: Vec<String>,
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
    /// Between which it may show as drawn: three standard deviations of reading and supply together about what is expected.
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

const NONE: &str = "-";
/// Causes of a group that are named.
const NAMED: usize = 4;

impl Answer<'_> {
    /// The answer for programs.
    pub(super) fn for_programs(&self, project: &Project) -> CatchReport {
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
                    may_show_kpa: gauge.may_show().map(|ends| ends.map(Pressure::as_kilopascals)),
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
            cautions: self.cautions(),
            remarks: self.remarks.to_vec(),
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

    fn next_looks(&self) -> &[NextLook] {
        self.explained.map_or(&[], |one| one.next.as_slice())
    }

    /// What to know before relying on the odds, or why there are none.
    fn cautions(&self) -> Vec<String> {
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

    /// The answer for people.
    pub(super) fn table(&self, project: &Project) -> String {
        let judged = self.judged;
        let studied = self.prepared.studied();
        let units = project.units;
        let mut out = String::new();
        let liquid = match self.test.liquid {
            CaughtLiquid::Product => "the duty's liquid",
            CaughtLiquid::Water => "water",
        };
        let held = match self.test.drive {
            Drive::Speed(_) => String::new(),
            Drive::HeldPressure(held) => {
                format!(", {} held at the pump", Measure::Pressure.text(held.si(), units))
            }
        };
        let caught = format!("{liquid}{held}, {}", counted(judged.rows.len(), "row"));
        // The tested bar keeps one duty; the project may have several.
        let duty =
            duty_name(project, self.test.duty).map_or_else(String::new, |name| format!("duty {name}, "));
        let lines = [
            ("Project", project.title.title.clone()),
            ("Routing", studied.routing.name.clone()),
            ("Conditions", format!("{duty}{}", conditions(studied.project, &judged.expected.point, units))),
            ("Caught", caught),
            ("Verdict", headline(judged)),
        ];
        for (name, value) in lines {
            let _ = writeln!(out, "{name:<20}{value}");
        }
        for sentence in sentences(judged, self.prepared) {
            let _ = writeln!(out, "{:<20}{}", "", capital(&sentence));
        }
        let _ = writeln!(
            out,
            "\n{:>4} {:>7} {:>11} {:>11} {:>11} {:>8} {:>8} {:>8}",
            "row", "catches", "caught", "asked", "expected", "asked", "expected", "mean"
        );
        let volume = Measure::RowFlow.unit(units).symbol;
        let _ = writeln!(
            out,
            "{:>4} {:>7} {volume:>11} {volume:>11} {volume:>11} {:>8} {:>8} {:>8}",
            "", "", "± %", "± %", "± %"
        );
        let flow = |flow: Option<Flow>| {
            flow.map_or_else(|| NONE.to_owned(), |flow| Measure::RowFlow.number(flow.si(), units))
        };
        let ratio = |ratio: Option<Ratio>| {
            ratio.map_or_else(|| NONE.to_owned(), |one| Measure::Percent.number(one.si(), units))
        };
        for row in &judged.rows {
            let line = format!(
                "{:>4} {:>7} {:>11} {:>11} {:>11} {:>8} {:>8} {:>8}  {}",
                row.number,
                row.catches,
                flow(Some(row.caught)),
                flow(row.asked),
                flow(Some(row.expected)),
                ratio(row.from_asked),
                ratio(row.from_expected),
                ratio(row.from_mean),
                marks(row),
            );
            let _ = writeln!(out, "{}", line.trim_end());
        }
        if !judged.gauges.is_empty() {
            let pressure = |one: Pressure| Measure::Pressure.text(one.si(), units);
            out.push('\n');
            for gauge in &judged.gauges {
                let tag = studied.routing.part(gauge.part).map_or("", |part| part.tag.as_str());
                let expected = gauge.expected.map_or_else(|| NONE.to_owned(), pressure);
                let mark = match gauge_mark(gauge) {
                    "" => String::new(),
                    mark => format!("  {mark}"),
                };
                let _ = writeln!(
                    out,
                    "{:<20}{} read, {expected} expected{}{mark}",
                    format!("Gauge {tag}"),
                    pressure(gauge.read),
                    gauge_range(gauge, units)
                );
            }
        }
        self.causes(&mut out);
        out
    }

    /// What explains it, and what to look at next.
    fn causes(&self, out: &mut String) {
        if let Ok(explained) = self.explained {
            let _ = writeln!(out, "\nWhat explains it (odds of 100)");
            let is_none =
                |group: &CauseGroup| group.members.iter().any(|one| one.cause.kind == CauseKind::NoneOfThese);
            let (shown, rest): (Vec<_>, Vec<_>) = explained
                .groups
                .iter()
                .enumerate()
                .partition(|(at, group)| *at == 0 || group.odds >= LEAST_ODDS || is_none(group));
            for (_, group) in shown {
                group_of_causes(out, group, self.judged.verdict.as_drawn);
            }
            if !rest.is_empty() {
                let odds = whole_odds(rest.iter().map(|(_, group)| group.odds).sum());
                let _ = writeln!(out, "{odds:>5}  {} of causes, together", counted(rest.len(), "more group"));
            }
        }
        let no_look = self.explained.ok().and_then(|one| one.no_look(self.judged.verdict.as_drawn));
        if no_look.is_some() || !self.next_looks().is_empty() {
            let _ = writeln!(out, "\nWhat to look at next");
        }
        if let Some(says) = no_look {
            let _ = writeln!(out, "       {}", capital(says));
        }
        for (number, look) in (1..).zip(self.next_looks()) {
            let _ = writeln!(out, "{number:>5}  {}", capital(&look.what));
            for one in &look.outcomes {
                let odds = whole_odds(one.odds);
                let _ = writeln!(out, "       {odds:>3}: {}. Then it is {}", one.seen, one.means);
            }
        }
        let cautions = self.cautions();
        if !cautions.is_empty() {
            out.push('\n');
        }
        for caution in cautions {
            let _ = writeln!(out, "{}", capital(&caution));
        }
    }
}

/// A group: what its members have in common in odds stands beside the group, and beside each what it has of them.
fn group_of_causes(out: &mut String, group: &CauseGroup, is_as_drawn: Option<bool>) {
    let odds = whole_odds(group.odds);
    let is_one = group.members.len() == 1 && group.unlisted.is_empty();
    if !is_one {
        let _ = writeln!(out, "{odds:>5}  one of these, which this test can't tell apart:");
    }
    let (shown, rest) = group.members.split_at(group.members.len().min(NAMED));
    for (place, one) in shown.iter().enumerate() {
        if is_one {
            let _ = writeln!(out, "{odds:>5}  {}", one.what);
        } else {
            let _ = writeln!(out, "       {} ({} of 100)", one.what, whole_odds(one.odds));
        }
        if place == 0 {
            let left = group.left().unwrap_or_default();
            for (name, words) in [
                ("Why", one.why.as_str()),
                ("Not explained by it", left.as_str()),
                ("Then also", one.then_also.as_str()),
                ("To do", one.advice(is_as_drawn)),
            ] {
                if !words.is_empty() {
                    let _ = writeln!(out, "         {name}: {words}");
                }
            }
        }
    }
    let others = rest.len() + group.unlisted.len();
    if others > 0 {
        let listed: f64 = shown.iter().map(|one| one.odds).sum();
        let odds = whole_odds((group.odds - listed).max(0.0));
        let why = match (group.holds_scatter(), others) {
            (true, _) => "too small to show",
            (false, 1) => "that looks alike",
            (false, _) => "that look alike",
        };
        let _ = writeln!(out, "       {} {why} ({odds} of 100)", counted(others, "other cause"));
    }
}

/// Odds as so many of 100; what would round to none or to all says so.
fn whole_odds(odds: f64) -> String {
    let of_100 = odds * 100.0;
    if of_100 > 0.0 && of_100 < 0.5 {
        "<1".to_owned()
    } else if of_100 < 100.0 && of_100 >= 99.5 {
        ">99".to_owned()
    } else {
        format!("{of_100:.0}")
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
