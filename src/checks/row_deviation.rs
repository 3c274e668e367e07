//! Rows too far from their target, grouped, with the hose that explains it.

use crate::plan::MeteringOrifice;
use std::collections::{BTreeMap, BTreeSet};
use std::mem::discriminant;

use super::context::row_subjects;
use super::finding::{Finding, FindingSubject, Severity};
use super::remedy::Remedy;
use super::what_differs::{Cause, cause};
use super::words::{span_beyond, these_rows};
use super::{Context, Rule};
use crate::hydraulics::outcome::{ElementOutcome, RowOutcome};
use crate::plan::{ElementItem, FeedElement, Item, PartId, RowId, RunId};
use crate::quantities::{Measure, Pressure, Ratio};

pub(super) const RULE: Rule = Rule {
    name: "row deviation",
    about: "Rows whose flow is farther from the target than the limit; on the flat, than the design limit",
    by_speed: true,
    check,
};

/// More groups than this become one line.
const MOST_GROUPS: usize = 3;

fn check(here: &Context) -> Vec<Finding> {
    let limit = here.project.limits.row_deviation.si();
    let mut findings = Vec::new();
    // Where all rows together get the wrong amount, other rules say so; here counts who is unlike the others.
    let mean = here.outcome.evenness().map_or(0.0, |one| one.mean_deviation.si());
    let mean = if here.is_mean_off { mean } else { 0.0 };
    let off =
        |row: &RowOutcome| row.deviation.map(|one| Ratio::from_si((1.0 + one.si()) / (1.0 + mean) - 1.0));
    for sign in [1.0, -1.0] {
        let mut groups: Vec<Vec<&RowOutcome>> = Vec::new();
        let mut joined = false;
        for row in here.outcome.rows() {
            let Some(deviation) = off(row) else { continue };
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
        groups = match groups.len() {
            0 | 1 => groups,
            2..=MOST_GROUPS => alike_together(here, groups, sign, &off),
            _ => vec![groups.concat()],
        };
        findings.extend(groups.iter().map(|group| off_target(here, group, sign, &off)));
    }
    // Where the mean is wrong, what a design should come to says nothing yet.
    if !here.is_mean_off {
        findings.extend(beyond_design(here));
    }
    findings
}

/// Groups of which the same is to be said, and the same to be done, as one: `rows 3, 9 and 14`.
fn alike_together<'row>(
    here: &Context,
    groups: Vec<Vec<&'row RowOutcome>>,
    sign: f64,
    off: &impl Fn(&RowOutcome) -> Option<Ratio>,
) -> Vec<Vec<&'row RowOutcome>> {
    let mut together: Vec<(Reason, Vec<&RowOutcome>)> = Vec::new();
    for group in groups {
        let reason = reason(here, &group, sign, off);
        match together.iter_mut().find(|(known, _)| known.is_like(&reason)) {
            Some((_, rows)) => rows.extend(group),
            None => together.push((reason, group)),
        }
    }
    together.into_iter().map(|(_, group)| group).collect()
}

/// Why rows are off.
enum Reason {
    /// Their metering and that of most others.
    OddMetering(String, String),
    /// Something of their own, with what to do about it.
    Own(Cause, String),
    /// A hose, with the pressure that it takes.
    Hose(RunId, Pressure),
    /// Nothing that stands out.
    Unknown,
}

impl Reason {
    /// The same is to be done, if with other numbers.
    fn is_like(&self, other: &Self) -> bool {
        match (self, other) {
            (Self::OddMetering(own, usual), Self::OddMetering(other, of_most)) => {
                own == other && usual == of_most
            }
            (Self::Own(one, _), Self::Own(other, _)) => discriminant(one) == discriminant(other),
            (Self::Hose(one, _), Self::Hose(other, _)) => one == other,
            (Self::Unknown, Self::Unknown) => true,
            _ => false,
        }
    }
}

fn reason(
    here: &Context,
    group: &[&RowOutcome],
    sign: f64,
    off: &impl Fn(&RowOutcome) -> Option<Ratio>,
) -> Reason {
    let rows: Vec<RowId> = group.iter().map(|row| row.row).collect();
    // A hose is named only where nothing else makes most of it.
    if let Some((own, usual)) = odd_metering(here, &rows, sign) {
        return Reason::OddMetering(own, usual);
    }
    if let Some(cause) = cause(here, &rows, sign)
        && let Some(advice) = cause.advice(here, these_rows(rows.len()), sign)
    {
        return Reason::Own(cause, advice);
    }
    let high = group.iter().filter_map(|row| off(row)).map(Ratio::abs).fold(Ratio::ZERO, Ratio::max);
    hose_to_blame(here, group, sign, high).map_or(Reason::Unknown, |(run, loss)| Reason::Hose(run, loss))
}

fn off_target(
    here: &Context,
    group: &[&RowOutcome],
    sign: f64,
    off: &impl Fn(&RowOutcome) -> Option<Ratio>,
) -> Finding {
    let rows: Vec<RowId> = group.iter().map(|row| row.row).collect();
    let sizes = || group.iter().filter_map(|row| off(row)).map(Ratio::abs);
    let (low, high) =
        (sizes().fold(Ratio::from_si(f64::INFINITY), Ratio::min), sizes().fold(Ratio::ZERO, Ratio::max));
    let way = match (here.is_mean_off, sign > 0.0) {
        (false, true) => "too much",
        (false, false) => "too little",
        (true, true) => "more than the mean of the rows",
        (true, false) => "less than the mean of the rows",
    };
    let these = these_rows(rows.len());
    let reason = reason(here, group, sign, off);
    let hose = if let Reason::Hose(run, loss) = &reason { Some((*run, *loss)) } else { None };
    let advice = match &reason {
        Reason::OddMetering(own, usual) => format!(
            "{these} {} {own}, most rows with {usual}: fit the same, or give {} a share of {} own",
            if rows.len() == 1 { "meters with" } else { "meter with" },
            if rows.len() == 1 { "it" } else { "them" },
            if rows.len() == 1 { "its" } else { "their" }
        ),
        Reason::Hose(run, loss) if sign > 0.0 => format!(
            "the other rows get less, most of all through {}, which takes {}: fit a wider bore or a shorter way \
             there, or smaller metering in {these}",
            here.run_words(*run),
            here.text(Measure::Pressure, *loss)
        ),
        Reason::Hose(run, loss) => format!(
            "{} takes {}, the most on the way there: fit a wider bore or a shorter way, or larger metering in {these}",
            here.run_words(*run),
            here.text(Measure::Pressure, *loss)
        ),
        Reason::Own(_, advice) => advice.clone(),
        Reason::Unknown => format!(
            "compare metering, tube length and height of {these} with the other rows; more pressure over the metering \
             evens out the rest"
        ),
    };
    Finding {
        severity: Severity::Warning,
        extent: Some(high.si()),
        place: here.row_words(&rows),
        what: format!(
            "{} {way} at {}",
            span_beyond(Measure::Percent, [low, high], here.project.limits.row_deviation, here.units()),
            here.speed()
        ),
        advice,
        // So wide that what is left of its loss makes half of what a row may be off.
        remedy: hose.and_then(|(run, _)| {
            Remedy::widen_to_take(here, run, here.project.limits.row_deviation.si() / 2.0 / high.si())
        }),
        subjects: row_subjects(&rows),
        also: hose.map(|(run, _)| FindingSubject::Run(run)).into_iter().collect(),
        names_speed: true,
        ..here.finding(RULE.name, way)
    }
}

/// The metering of these rows and that of most others, where all of these have the same, the others another, and the
/// others' would bring these rows nearer to their target: a row that gets too much needs metering that passes less.
fn odd_metering(here: &Context, rows: &[RowId], sign: f64) -> Option<(String, String)> {
    let (mut own, mut others) =
        (BTreeMap::<String, (usize, f64)>::new(), BTreeMap::<String, (usize, f64)>::new());
    for path in here.row_paths() {
        let metering = || path.elements.iter().filter(|(element, _)| element.is_metering());
        let words = metering().map(|(element, _)| metering_words(here, element)).collect::<Vec<_>>();
        // Of several in series the least rules.
        let passes = metering()
            .filter_map(|(element, outcome)| flow_per_root_pressure(here, element, *outcome))
            .fold(f64::INFINITY, f64::min);
        let side = if rows.contains(&path.row.row) { &mut own } else { &mut others };
        side.entry(words.join(" and ")).or_insert((0, passes)).0 += 1;
    }
    let all_others: usize = others.values().map(|(count, _)| count).sum();
    let most = |counts: &BTreeMap<String, (usize, f64)>| {
        counts.iter().max_by_key(|(_, (count, _))| *count).map(|(words, one)| (words.clone(), *one))
    };
    let ((own_words, (_, own_passes)), (usual, (count, usual_passes))) = (most(&own)?, most(&others)?);
    let alike = own.len() == 1 && own_words != usual && count > rows.len() && 2 * count > all_others;
    let helps = (own_passes - usual_passes) * sign > 0.0;
    (alike && helps && !own_words.is_empty() && !usual.is_empty()).then_some((own_words, usual))
}

/// What metering passes for each root of pressure, m³/(s·√Pa): of an orifice by its law, of a metering tube as solved.
fn flow_per_root_pressure(
    here: &Context,
    element: &FeedElement,
    outcome: Option<&ElementOutcome>,
) -> Option<f64> {
    if let FeedElement::Piece(_, key) = element
        && let Some(ElementItem::MeteringOrifice(MeteringOrifice { bore, cd, .. })) =
            here.project.catalogue.item(key)
    {
        let density = here.outcome.liquid?.density.si();
        return Some(cd * std::f64::consts::FRAC_PI_4 * bore.si().powi(2) * (2.0 / density).sqrt());
    }
    let (flow, drop) = (outcome?.flow?.si().abs(), outcome?.drop?.si());
    (drop > 0.0).then(|| flow / drop.sqrt())
}

fn metering_words(here: &Context, element: &FeedElement) -> String {
    match (element, here.project.catalogue.item(element.entry())) {
        (FeedElement::MeteringTube { length, .. }, Some(Item::Stock(stock))) => format!(
            "{} of metering tube, {} bore",
            here.text(Measure::Distance, *length),
            here.short(Measure::Bore, stock.dimensions().bore)
        ),
        (_, Some(Item::Element(ElementItem::MeteringOrifice(MeteringOrifice { bore, .. })))) => {
            format!("a {} orifice", here.short(Measure::Bore, *bore))
        }
        _ => element.entry().to_string(),
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
    let all = manifolds(&mut here.outcome.rows().iter());
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
    let found = here.outcome.rows().iter().filter(|row| row.deviation.is_some_and(|one| between(one.abs())));
    let rows: Vec<RowId> = found.map(|row| row.row).collect();
    (!rows.is_empty()).then(|| Finding {
        severity: Severity::Note,
        place: here.row_words(&rows),
        what: format!(
            "more than {} off the target on the flat at {}, where a design should be closer",
            here.short(Measure::Percent, limits.design_deviation),
            here.speed()
        ),
        advice: "even out hoses and tubes, or raise the pressure over the metering".to_owned(),
        subjects: row_subjects(&rows),
        names_speed: true,
        ..here.finding(RULE.name, "design")
    })
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;
    use crate::plan::ElementKind;
    use crate::quantities::Angle;

    fn set(sample: &mut Sample, first: usize, percents: &[f64]) {
        for (row, percent) in sample.numbers().rows[first..].iter_mut().zip(percents) {
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
    fn where_all_are_off_only_the_odd_ones_are_named() {
        let mut sample = Sample::with_rows(12);
        set(&mut sample, 0, &[200.0; 12]);
        sample.numbers().evenness.as_mut().unwrap().mean_deviation = Ratio::percent(200.0);
        assert!(sample.of(RULE).is_empty());
        // 270 % of the target against a mean of 300 %: 10 % less than the mean.
        set(&mut sample, 4, &[170.0]);
        let finding = sample.only(RULE);
        assert_eq!(finding.place, "Row 5");
        assert_eq!(finding.what, "10.0 % less than the mean of the rows at 9 km/h");
        assert!(finding.advice.contains("of this row with"), "{}", finding.advice);
    }

    /// Each alone between rows that are right, and nothing else to be said of one than of the other.
    #[test]
    fn rows_of_which_the_same_is_said_share_a_line() {
        let mut sample = Sample::with_rows(12);
        for row in [2, 5, 8] {
            set(&mut sample, row, &[-9.0]);
        }
        let finding = sample.only(RULE);
        assert_eq!(
            format!("{}: {}", finding.place, finding.what),
            "Rows 3, 6 and 9: 9.0 % too little at 9 km/h"
        );
    }

    /// 5.04 % is beyond 5 % and reads so.
    #[test]
    fn what_is_beyond_the_limit_never_reads_like_it() {
        let mut sample = Sample::with_rows(12);
        set(&mut sample, 2, &[5.04, 7.7]);
        assert_eq!(sample.only(RULE).what, "5.04 to 7.7 % too much at 9 km/h");
    }

    /// The mean is 4.9 % off at one speed and 5.1 % at the other, and rows 5 and 6 are as far from it at both: told once,
    /// on one basis.
    #[test]
    fn rows_are_held_against_one_basis_at_all_speeds() {
        let mut sample = Sample::with_rows(12);
        let mut slow = sample.outcome.clone();
        slow.point.speed = crate::quantities::Speed::kilometres_per_hour(7.0);
        for (outcome, mean) in [(&mut sample.outcome, 4.9), (&mut slow, 5.1)] {
            let numbers = outcome.result.as_mut().unwrap();
            numbers.evenness.as_mut().unwrap().mean_deviation = Ratio::percent(mean);
            for row in &mut numbers.rows {
                row.deviation = Some(Ratio::percent(mean));
            }
            for row in &mut numbers.rows[4..6] {
                row.deviation = Some(Ratio::percent(mean + 10.0));
            }
        }
        let geometry = sample.geometry();
        let all = crate::checks::all_findings(
            &sample.project,
            geometry.with(&sample.routing),
            &sample.outcome,
            std::slice::from_ref(&slow),
        );
        let of_rows: Vec<&str> =
            all.iter().filter(|one| one.kind.rule == RULE.name).map(|one| one.what.as_str()).collect();
        assert_eq!(of_rows, ["9.5 % more than the mean of the rows at 9 km/h"]);
    }

    #[test]
    fn odd_metering_is_named() {
        let mut sample = Sample::with_rows(12);
        let mut odd =
            sample.project.catalogue.entries.iter().find(|one| one.key.0 == "orifice").unwrap().clone();
        odd.key = crate::plan::EntryKey::new("odd");
        if let Item::Element(ElementItem::MeteringOrifice(MeteringOrifice { bore, .. })) = &mut odd.item {
            *bore = crate::quantities::Length::millimetres(1.2);
        }
        sample.project.catalogue.entries.push(odd);
        let elements = &mut sample.routing.feeds[4].branches[0].elements;
        elements[2] = FeedElement::Piece(ElementKind::MeteringOrifice, crate::plan::ElementKey::new("odd"));
        set(&mut sample, 4, &[40.0]);
        let advice = sample.only(RULE).advice;
        assert!(
            advice.starts_with("this row meters with a 1.20 mm orifice, most rows with a 1.00 mm orifice")
                || advice.starts_with("this row meters with a 1.2 mm orifice, most rows with a 1 mm orifice"),
            "{advice}"
        );
    }

    #[test]
    fn the_hose_that_only_they_hang_on_is_blamed_if_its_loss_explains_it() {
        let mut sample = Sample::two_wings(4);
        set(&mut sample, 2, &[-6.0, -6.0]);
        set(&mut sample, 0, &[6.0, 6.0]);
        let far = sample.routing.runs[2].id;
        sample.numbers().runs[2].loss = Some(Pressure::bar(0.25));
        let findings = sample.of(RULE);
        assert_eq!(findings.len(), 2);
        for finding in &findings {
            assert!(finding.advice.contains("H3 (19 mm, 1.35 m)"), "{}", finding.advice);
            assert!(finding.advice.contains("0.25 bar"));
            assert!(finding.also.contains(&FindingSubject::Run(far)));
        }
        // A tenth of that explains nothing, and the supply hose, which all share, is never blamed.
        sample.numbers().runs[2].loss = Some(Pressure::bar(0.025));
        sample.numbers().runs[0].loss = Some(Pressure::bar(2.0));
        assert!(sample.of(RULE).iter().all(|one| !one.advice.contains('H')));
    }

    #[test]
    fn the_design_limit_counts_on_the_flat_only() {
        let mut sample = Sample::new();
        set(&mut sample, 1, &[4.0]);
        assert_eq!(sample.only(RULE).severity, Severity::Note);
        sample.outcome.point.side_slope = Angle::from_si(0.05_f64.atan());
        assert!(sample.of(RULE).is_empty());
    }
}
