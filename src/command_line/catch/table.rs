//! The answer to a catch test as a table for people.

use std::fmt::Write as _;

use super::report::Answer;
use crate::command_line::arguments::{conditions, duty_name};
use crate::plan::words::{capital, counted};
use crate::plan::{CaughtLiquid, CauseKind, Drive, Project};
use crate::quantities::{Flow, Measure, Pressure, Ratio};
use crate::studies::catch_test::explain::{CauseGroup, LEAST_ODDS};
use crate::studies::catch_test::judged::NotJudged;
use crate::studies::catch_test::verdict_words::{gauge_mark, gauge_range, headline, marks, notes, sentences};

const NONE: &str = "-";
/// Causes of a group that are named.
const NAMED: usize = 4;

impl Answer<'_> {
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
            "\n{:>4} {:>7} {:>11} {:>11} {:>11} {:>17} {:>8} {:>8} {:>8}",
            "row", "catches", "caught", "asked", "expected", "as drawn from, to", "asked", "expected", "mean"
        );
        let volume = Measure::RowFlow.unit(units).symbol;
        let _ = writeln!(
            out,
            "{:>4} {:>7} {volume:>11} {volume:>11} {volume:>11} {volume:>17} {:>8} {:>8} {:>8}",
            "", "", "± %", "± %", "± %"
        );
        let flow = |flow: Option<Flow>| {
            flow.map_or_else(|| NONE.to_owned(), |flow| Measure::RowFlow.number(flow.si(), units))
        };
        let ratio = |ratio: Option<Ratio>| {
            ratio.map_or_else(|| NONE.to_owned(), |one| Measure::Percent.number(one.si(), units))
        };
        let is_judged = !matches!(judged.verdict.not_judged, Some(NotJudged::OfAnother(_)));
        for row in &judged.rows {
            let line = format!(
                "{:>4} {:>7} {:>11} {:>11} {:>11} {:>17} {:>8} {:>8} {:>8}  {}",
                row.number,
                row.catches,
                flow(Some(row.caught)),
                flow(row.asked),
                flow(Some(row.expected)),
                row.may_give.map_or_else(
                    || NONE.to_owned(),
                    |one| format!("{} {}", flow(Some(one.low)), flow(Some(one.high)))
                ),
                ratio(row.from_asked),
                ratio(row.from_expected),
                ratio(row.from_mean),
                if is_judged { marks(row) } else { String::new() },
            );
            let _ = writeln!(out, "{}", line.trim_end());
        }
        for note in notes(self.prepared) {
            let _ = writeln!(out, "{}", capital(&note));
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
        if let Some(calibration) = &self.calibration {
            out.push_str(&calibration.table());
        }
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
        let _ =
            writeln!(out, "       or something less likely, {} ({odds} of 100 together)", group.likeness());
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
