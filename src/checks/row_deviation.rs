//! Rows too far from their target, grouped, with the hose that explains it.

use std::collections::BTreeSet;

use super::context::row_subjects;
use super::finding::{Finding, Severity, Subject};
use super::words::span;
use super::{Context, Rule};
use crate::hydraulics::outcome::RowOutcome;
use crate::plan::{PartId, RowId, RunId};
use crate::quantities::{Measure, Pressure, Ratio};

pub(super) const RULE: Rule = Rule {
    name: "row deviation",
    about: "Rows whose flow is farther from the target than the limit; on the flat, than the design limit",
    check,
};

/// More groups than this become one line.
const MOST_GROUPS: usize = 3;

fn check(here: &Context) -> Vec<Finding> {
    let limit = here.project.limits.row_deviation.si();
    let mut findings = Vec::new();
    for sign in [1.0, -1.0] {
        let mut groups: Vec<Vec<&RowOutcome>> = Vec::new();
        let mut joined = false;
        for row in &here.outcome.rows {
            let Some(deviation) = row.deviation else { continue };
            if deviation.si() * sign > limit {
                match groups.last_mut() {
                    Some(group) if joined => group.push(row),
                    _ => groups.push(vec![row]),
                }
                joined = true;
            } else {
                joined = false;
            }
        }
        if groups.len() > MOST_GROUPS {
            groups = vec![groups.concat()];
        }
        findings.extend(groups.iter().map(|group| off_target(here, group, sign)));
    }
    findings.extend(beyond_design(here));
    findings
}

fn off_target(here: &Context, group: &[&RowOutcome], sign: f64) -> Finding {
    let rows: Vec<RowId> = group.iter().map(|row| row.row).collect();
    let sizes = || group.iter().filter_map(|row| row.deviation).map(Ratio::abs);
    let (low, high) =
        (sizes().fold(Ratio::from_si(f64::INFINITY), Ratio::min), sizes().fold(Ratio::ZERO, Ratio::max));
    let way = if sign > 0.0 { "too much" } else { "too little" };
    let hose = hose_to_blame(here, group, sign, high);
    let advice = match &hose {
        Some((run, loss)) if sign > 0.0 => format!(
            "the other rows get less, most of all through {}, which takes {}: try a wider bore or a shorter way \
             there, or smaller metering in these rows",
            here.run_words(*run),
            here.text(Measure::Pressure, *loss)
        ),
        Some((run, loss)) => format!(
            "{} takes {}, the most on their way: try a wider bore or a shorter way there, or larger metering in \
             these rows",
            here.run_words(*run),
            here.text(Measure::Pressure, *loss)
        ),
        None => "compare their metering, tube lengths and heights with those of the other rows; more pressure over \
                 the metering evens out the rest"
            .to_owned(),
    };
    let mut subjects = row_subjects(&rows);
    subjects.extend(hose.map(|(run, _)| Subject::Run(run)));
    Finding {
        key: here.key(RULE.name, format!("{way}, {}", here.row_words_inside(&rows))),
        severity: Severity::Warning,
        place: here.row_words(&rows),
        what: format!("{} {way} at {}", span(Measure::Percent, low, high, here.units()), here.speed()),
        advice,
        subjects,
    }
}

/// The hose that takes the most pressure among those that not all fed rows share: on the way to these rows if
/// they get too little, on the way to the others if they get too much. None if its loss is too small to explain
/// the deviation: flow through metering goes with the root of the pressure, so a deviation `d` needs a pressure
/// that differs by about `2 d`; at least half of that is asked.
fn hose_to_blame(
    here: &Context,
    group: &[&RowOutcome],
    sign: f64,
    deviation: Ratio,
) -> Option<(RunId, Pressure)> {
    let manifolds = |rows: &mut dyn Iterator<Item = &RowOutcome>| -> BTreeSet<PartId> {
        rows.filter(|row| row.deviation.is_some())
            .filter_map(|row| row.outlet.map(|outlet| outlet.0))
            .collect()
    };
    let own = manifolds(&mut group.iter().copied());
    let all = manifolds(&mut here.outcome.rows.iter());
    let ways: Vec<(PartId, BTreeSet<RunId>)> =
        all.iter().map(|part| (*part, here.runs_upstream(*part))).collect();
    let suspects = || ways.iter().filter(|(part, _)| own.contains(part) == (sign < 0.0));
    let (run, loss) = suspects()
        .flat_map(|(_, runs)| runs)
        .filter(|run| !ways.iter().all(|(_, runs)| runs.contains(run)))
        .filter_map(|run| Some((*run, here.outcome.run(*run)?.loss?.abs())))
        .max_by(|a, b| a.1.si().total_cmp(&b.1.si()).then(b.0.cmp(&a.0)))?;
    let pressures = all.iter().filter_map(|part| here.outcome.part(*part)?.pressure);
    let lowest = pressures.fold(Pressure::from_si(f64::INFINITY), Pressure::min);
    (loss.si() >= deviation.si() * lowest.si()).then_some((run, loss))
}

/// Rows inside the limit that a design should still keep closer on the flat.
fn beyond_design(here: &Context) -> Option<Finding> {
    let (limits, point) = (&here.project.limits, &here.outcome.point);
    if point.side_slope.si() != 0.0 || point.fore_aft_slope.si() != 0.0 {
        return None;
    }
    let between = |size: Ratio| size > limits.design_deviation && size <= limits.row_deviation;
    let found = here.outcome.rows.iter().filter(|row| row.deviation.is_some_and(|one| between(one.abs())));
    let rows: Vec<RowId> = found.map(|row| row.row).collect();
    (!rows.is_empty()).then(|| Finding {
        key: here.key(RULE.name, format!("design, {}", here.row_words_inside(&rows))),
        severity: Severity::Note,
        place: here.row_words(&rows),
        what: format!(
            "more than {} off the target on the flat at {}, where a design should be closer",
            here.short(Measure::Percent, limits.design_deviation),
            here.speed()
        ),
        advice: "even out hoses and tubes, or raise the pressure over the metering".to_owned(),
        subjects: row_subjects(&rows),
    })
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;
    use crate::quantities::Angle;

    fn set(sample: &mut Sample, first: usize, percents: &[f64]) {
        for (row, percent) in sample.outcome.rows[first..].iter_mut().zip(percents) {
            row.deviation = Some(Ratio::percent(*percent));
        }
    }

    #[test]
    fn neighbours_share_a_line() {
        let mut sample = Sample::with_rows(12);
        set(&mut sample, 2, &[5.8, 6.0, 7.7]);
        set(&mut sample, 8, &[-9.0, -5.1]);
        let findings = sample.of(RULE);
        let lines: Vec<String> = findings.iter().map(|one| format!("{}: {}", one.place, one.what)).collect();
        assert_eq!(
            lines,
            [
                "Rows 3 to 5: 5.8 to 7.7 % too much at 9 km/h",
                "Rows 9 and 10: 5.1 to 9.0 % too little at 9 km/h"
            ]
        );
    }

    #[test]
    fn the_hose_that_only_they_hang_on_is_blamed_if_its_loss_explains_it() {
        let mut sample = Sample::two_wings(4);
        set(&mut sample, 2, &[-6.0, -6.0]);
        set(&mut sample, 0, &[6.0, 6.0]);
        let far = sample.routing.runs[2].id;
        sample.outcome.runs[2].loss = Some(Pressure::bar(0.25));
        let findings = sample.of(RULE);
        assert_eq!(findings.len(), 2);
        for finding in &findings {
            assert!(finding.advice.contains("H3 (19 mm, 6.00 m)"), "{}", finding.advice);
            assert!(finding.advice.contains("0.25 bar"));
            assert!(finding.subjects.contains(&Subject::Run(far)));
        }
        // A tenth of that explains nothing, and the supply hose, which all share, is never blamed.
        sample.outcome.runs[2].loss = Some(Pressure::bar(0.025));
        sample.outcome.runs[0].loss = Some(Pressure::bar(2.0));
        assert!(sample.of(RULE).iter().all(|one| !one.advice.contains('H')));
    }

    #[test]
    fn the_design_limit_counts_on_the_flat_only() {
        let mut sample = Sample::new();
        set(&mut sample, 1, &[4.0]);
        assert_eq!(sample.only(RULE).severity, Severity::Note);
        sample.outcome.point.side_slope = Angle::slope_percent(5.0);
        assert!(sample.of(RULE).is_empty());
    }
}
