//! Findings: what a person should know about a routing before cutting a hose.
//!
//! One file a rule. A rule reads the plan and the outcome of one solve and returns findings, each with its
//! severity, where, what, and what to try; numbers carry their unit in the project's unit system. Rows are
//! grouped, so that a bar of 80 rows never gives 80 lines. To add a rule, write its file and put it on [`RULES`].
//!
//! Never here: mending what is found, solving, or anything about how a finding is shown. Start reading at
//! [`findings`].

mod context;
pub mod finding;
pub mod release;
pub mod remedy;
mod rule;
mod words;

mod across_hinge;
mod adapters;
mod assumed_liquid;
mod assumed_stiffness;
mod at_limit;
pub mod bend_radius;
mod beyond_frame;
pub mod closed_test;
mod closing_pressure;
mod fed_twice;
mod flow_indicator;
mod flow_meter_range;
mod flows_backward;
mod fold_clearance;
mod folded_liquid;
mod frames_meet;
mod gauge_range;
mod high_point;
mod hinge_angles;
mod hinge_crossing;
mod hinge_sag;
pub mod hinge_slack;
mod hose_velocity;
mod in_frame;
mod left_out_plumbed;
mod liquid_outside_table;
mod loose_end;
mod mean_deviation;
pub mod measured_length;
mod mesh;
mod metering_drop;
mod metering_over_cracking;
mod negative_pressure;
mod no_carrier;
mod not_fed;
mod not_solved;
mod not_supplied;
mod open_frame;
mod open_port;
pub mod opener_clearance;
mod orifice_zone;
mod over_rated;
mod parts_overlap;
mod port_taken_twice;
mod port_turn;
mod pressure_margin;
mod pump_reserve;
mod range_of_speeds;
mod relief_valve;
mod reynolds_zone;
mod row_deviation;
mod row_place;
mod salt_out;
mod shared_without_metering;
mod short_hose;
mod standing_liquid;
mod straight_tube;
mod supports;
mod suspension;
mod through_frame;
pub mod through_part;
mod transport_size;
mod unequal_mains;
mod uneven;
mod uneven_spacing;
mod unmetered;
mod valve_advice;
mod valve_stays_shut;
mod wetted_material;
mod what_differs;

#[cfg(test)]
mod sample;

pub use closed_test::{ClosedTest, StopReason};
pub use context::Context;
pub use finding::{Finding, FindingSubject, Severity};
pub use release::{HoldReason, Release};
pub use remedy::Remedy;
pub use rule::Rule;

use crate::hydraulics::outcome::Outcome;
use crate::plan::dismissal::{Dismissal, FindingKind};
use crate::plan::{LaidRouting, Project};

/// The rule of rows that run on with the pump off, or have no check valve.
pub const CLOSING_PRESSURE: &str = closing_pressure::RULE.name;

/// The rule of gauges that can't be read, or that break.
pub const GAUGE_RANGE: &str = gauge_range::RULE.name;

/// The rule of what the liquid does in a folded bar at rows that no check valve shuts.
pub const FOLDED_LIQUID: &str = folded_liquid::RULE.name;

/// The rule of hoses and tubes that are drawn through a part.
pub const THROUGH_PART: &str = through_part::RULE.name;

/// All rules, in the order their findings are listed within one severity.
pub const RULES: &[Rule] = &[
    not_solved::RULE,
    not_supplied::RULE,
    loose_end::RULE,
    port_taken_twice::RULE,
    open_port::RULE,
    not_fed::RULE,
    fed_twice::RULE,
    left_out_plumbed::RULE,
    valve_stays_shut::RULE,
    flows_backward::RULE,
    over_rated::RULE,
    relief_valve::RULE,
    at_limit::RULE,
    pressure_margin::RULE,
    pump_reserve::RULE,
    row_deviation::RULE,
    mean_deviation::RULE,
    uneven::RULE,
    unequal_mains::RULE,
    shared_without_metering::RULE,
    unmetered::RULE,
    metering_over_cracking::RULE,
    closing_pressure::RULE,
    folded_liquid::RULE,
    negative_pressure::RULE,
    reynolds_zone::RULE,
    orifice_zone::RULE,
    straight_tube::RULE,
    hose_velocity::RULE,
    high_point::RULE,
    hinge_slack::RULE,
    hinge_crossing::RULE,
    hinge_sag::RULE,
    assumed_stiffness::RULE,
    bend_radius::RULE,
    port_turn::RULE,
    short_hose::RULE,
    measured_length::RULE,
    adapters::RULE,
    open_frame::RULE,
    supports::RULE,
    through_part::RULE,
    through_frame::RULE,
    parts_overlap::RULE,
    in_frame::RULE,
    wetted_material::RULE,
    mesh::RULE,
    gauge_range::RULE,
    flow_meter_range::RULE,
    flow_indicator::RULE,
    salt_out::RULE,
    fold_clearance::RULE,
    frames_meet::RULE,
    hinge_angles::RULE,
    opener_clearance::RULE,
    across_hinge::RULE,
    beyond_frame::RULE,
    transport_size::RULE,
    liquid_outside_table::RULE,
    assumed_liquid::RULE,
    suspension::RULE,
    row_place::RULE,
    uneven_spacing::RULE,
    range_of_speeds::RULE,
];

/// The findings of a routing, the most serious first, at the speed looked at and at `others` (usually the slowest,
/// usual and fastest): a bar that is right at one speed only is not right. A rule tells of the speed at which it is
/// worst, and of another one only what is wrong with other things there. Those that the user dismissed are left out, but
/// an error can't be dismissed: what may hurt someone must not come back unseen with another number.
pub fn findings(
    project: &Project,
    routing: LaidRouting,
    outcome: &Outcome,
    others: &[Outcome],
) -> Vec<Finding> {
    let mut all = all_findings(project, routing, outcome, others);
    all.retain(|finding| !is_hidden(project, finding));
    all
}

/// The user dismissed it at everything that it is about, and it may be.
pub fn is_hidden(project: &Project, finding: &Finding) -> bool {
    finding.severity != Severity::Error
        && !project.dismissed.is_empty()
        && finding.keys().all(|key| project.dismissed.iter().any(|one| one.hides(&key)))
}

/// What hides a finding, the latest first; empty while it is shown.
pub fn hidden_by<'a>(project: &'a Project, finding: &Finding) -> Vec<&'a Dismissal> {
    if !is_hidden(project, finding) {
        return Vec::new();
    }
    let hides = |one: &&Dismissal| finding.keys().any(|key| one.hides(&key));
    project.dismissed.iter().rev().filter(hides).collect()
}

/// What a hidden finding is, where, why and by whom, in words: `mesh (opening) at F1, routing A: accepted; D. Ealer`.
pub fn hidden_words(project: &Project, one: &Dismissal) -> String {
    let FindingKind { rule, case } = &one.kind;
    let routing = project.routing(one.routing);
    let mut rows = Vec::new();
    let mut places = Vec::new();
    for subject in &one.subjects {
        match *subject {
            FindingSubject::Row(id) => rows.extend(project.bar.row(id).map(|row| row.number)),
            FindingSubject::Part(id) => {
                places.extend(routing.and_then(|all| Some(all.part(id)?.tag.clone())));
            }
            FindingSubject::Run(id) => places.extend(routing.and_then(|all| Some(all.run(id)?.tag.clone()))),
            FindingSubject::Feed(id) => {
                places.extend(routing.and_then(|all| Some(all.feed(id)?.tag.clone())));
            }
            FindingSubject::Routing | FindingSubject::Project => {}
        }
    }
    rows.sort_unstable();
    if !rows.is_empty() {
        let word = if rows.len() == 1 { "row" } else { "rows" };
        places.push(format!("{word} {}", words::list(&crate::plan::words::range_pieces(&rows))));
    }
    let case = if case.is_empty() { String::new() } else { format!(" ({case})") };
    let at = if places.is_empty() { String::new() } else { format!(" at {}", words::list(&places)) };
    let of = routing.map_or_else(String::new, |routing| format!(", routing {}", routing.name));
    let by = if one.by.is_empty() { String::new() } else { format!("; {}", one.by) };
    format!("{rule}{case}{at}{of}: {}{by}", one.reason)
}

/// All findings, dismissed ones too, the most serious first.
pub fn all_findings(
    project: &Project,
    routing: LaidRouting,
    outcome: &Outcome,
    others: &[Outcome],
) -> Vec<Finding> {
    let mut here = Context::new(project, routing, outcome);
    // Without numbers there is nothing to be said about other speeds either.
    let mut elsewhere: Vec<Context> = others
        .iter()
        .filter(|other| other.point.speed != outcome.point.speed && outcome.result.is_ok())
        .map(|other| Context::new(project, routing, other))
        .collect();
    // One basis for all speeds: the same rows are not told twice because the mean crosses its limit between two of them.
    let is_mean_off = here.is_mean_off || elsewhere.iter().any(|there| there.is_mean_off);
    here.is_mean_off = is_mean_off;
    for there in &mut elsewhere {
        there.is_mean_off = is_mean_off;
    }
    let mut all = Vec::new();
    for rule in RULES {
        let at = |context: &Context| {
            let mut found = (rule.check)(context);
            for finding in found.iter_mut().filter(|_| rule.by_speed) {
                finding.speed = Some(context.outcome.point.speed);
            }
            found
        };
        let mut found = vec![at(&here)];
        for there in elsewhere.iter().filter(|_| rule.by_speed) {
            found.push(at(there).into_iter().map(|finding| at_speed(finding, &there.speed())).collect());
        }
        all.extend(at_their_worst(found));
    }
    all.sort_by_key(|finding| finding.severity);
    all
}

/// Of what one rule finds at several speeds, the one looked at first: each sort of finding at the speed where it is
/// worst, and what is found at the others only where it is about other things.
fn at_their_worst(found: Vec<Vec<Finding>>) -> Vec<Finding> {
    if found.len() == 1 {
        return found.into_iter().flatten().collect();
    }
    // Of groups of rows each case stands by itself: rows that get too much, and rows that get too little.
    let sort = |finding: &Finding| match finding.subjects.first() {
        Some(FindingSubject::Row(_)) => finding.kind.case.clone(),
        _ => String::new(),
    };
    let mut sorts: Vec<String> = Vec::new();
    for one in found.iter().flatten().map(sort) {
        if !sorts.contains(&one) {
            sorts.push(one);
        }
    }
    let mut told: Vec<Finding> = Vec::new();
    for one in sorts {
        let mut speeds: Vec<Vec<&Finding>> = found
            .iter()
            .map(|all| all.iter().filter(|finding| sort(finding) == one).collect::<Vec<_>>())
            .collect();
        let mut worst = 0;
        for at in 1..speeds.len() {
            if is_worse(&speeds[at], &speeds[worst]) {
                worst = at;
            }
        }
        speeds.swap(0, worst);
        let mut speeds = speeds.into_iter();
        let mut of_sort: Vec<&Finding> = speeds.next().unwrap_or_default();
        for finding in speeds.flatten() {
            if of_sort.iter().all(|known| is_about_others(known, finding)) {
                of_sort.push(finding);
            }
        }
        told.extend(of_sort.into_iter().cloned());
    }
    told
}

/// Nothing is in both; of findings about rows the rows count, and not the hose to blame.
fn is_about_others(known: &Finding, finding: &Finding) -> bool {
    let is_row = |subject: &&FindingSubject| matches!(subject, FindingSubject::Row(_));
    let by_rows = finding.subjects.iter().any(|one| is_row(&one));
    let mut own = finding.subjects.iter().filter(|one| !by_rows || is_row(one));
    !own.any(|one| known.subjects.contains(one))
}

/// More serious; else farther out, by more than a solve's last digits; else about more.
fn is_worse(these: &[&Finding], known: &[&Finding]) -> bool {
    /// Extents closer than this share are the same.
    const SAME: f64 = 0.01;
    let gravest = |all: &[&Finding]| all.iter().map(|one| one.severity).min();
    let (Some(here), there) = (gravest(these), gravest(known)) else { return false };
    let Some(there) = there else { return true };
    if here != there {
        return here < there;
    }
    let extent = |all: &[&Finding]| {
        all.iter().filter(|one| one.severity == here).filter_map(|one| one.extent).reduce(f64::max)
    };
    if let (Some(one), Some(other)) = (extent(these), extent(known)) {
        if one > other * (1.0 + SAME) {
            return true;
        }
        if other > one * (1.0 + SAME) {
            return false;
        }
    }
    let count = |all: &[&Finding]| all.iter().map(|one| one.subjects.len() + one.also.len()).sum::<usize>();
    count(these) > count(known)
}

/// Says at which speed, where the wording does not.
fn at_speed(mut finding: Finding, speed: &str) -> Finding {
    if !finding.names_speed {
        finding.what = format!("at {speed}: {}", finding.what);
    }
    finding
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::sample::Sample;
    use super::*;

    #[test]
    fn a_sound_bar_has_no_findings() {
        let sample = Sample::new();
        assert_eq!(sample.all(), Vec::new());
    }

    #[test]
    fn rules_are_named_apart_and_explained() {
        let names: BTreeSet<&str> = RULES.iter().map(|rule| rule.name).collect();
        assert_eq!(names.len(), RULES.len());
        assert!(RULES.iter().all(|rule| !rule.name.is_empty() && !rule.about.is_empty()));
    }

    #[test]
    fn serious_findings_come_first_and_dismissed_ones_are_left_out() {
        let mut sample = Sample::new();
        sample.project.duties.first_mut().liquid.viscosity_source = crate::plan::Source::Assumed;
        sample.routing.feeds.pop();
        sample.resolve();
        sample.numbers().runs[1].velocity = Some(crate::quantities::Speed::from_si(3.0));
        let all = sample.all();
        let severities: Vec<Severity> = all.iter().map(|one| one.severity).collect();
        assert!(severities.is_sorted(), "{severities:?}");
        assert!(severities.contains(&Severity::Error) && severities.contains(&Severity::Note));
        sample.project.dismissed.push(all[0].dismissal("known", ""));
        let shown = |sample: &Sample| {
            findings(&sample.project, sample.geometry().with(&sample.routing), &sample.outcome, &[])
        };
        assert_eq!(shown(&sample), all, "an error can't be hidden");
        let last = all.len() - 1;
        sample.project.dismissed.push(all[last].dismissal("known", ""));
        assert_eq!(shown(&sample), all[..last]);
        assert_eq!(sample.all(), all);
    }

    #[test]
    fn what_is_hidden_stays_hidden_under_other_names_and_beside_others() {
        let mut sample = Sample::new();
        let too_fast = |sample: &mut Sample, runs: [bool; 2]| {
            for (run, fast) in sample.numbers().runs.iter_mut().zip(runs) {
                run.velocity = fast.then(|| crate::quantities::Speed::from_si(3.0));
            }
            sample.only(hose_velocity::RULE)
        };
        let hidden = too_fast(&mut sample, [false, true]);
        sample.project.dismissed.push(hidden.dismissal("known", "D. Ealer"));
        sample.routing.name = "Another".to_owned();
        for run in &mut sample.routing.runs {
            run.tag.push('9');
        }
        let found = too_fast(&mut sample, [false, true]);
        assert_ne!(found.place, hidden.place);
        assert!(is_hidden(&sample.project, &found));
        // A hose more is something that nobody has hidden.
        let both = too_fast(&mut sample, [true, true]);
        assert!(!is_hidden(&sample.project, &both) && hidden_by(&sample.project, &both).is_empty());
        sample.project.dismissed.push(both.dismissal("known too", ""));
        for runs in [[true, true], [true, false], [false, true]] {
            let found = too_fast(&mut sample, runs);
            assert!(is_hidden(&sample.project, &found), "{found}");
        }
        let by: Vec<&str> =
            hidden_by(&sample.project, &found).iter().map(|one| one.reason.as_str()).collect();
        assert_eq!(by, ["known too", "known"]);
        // Another routing of the same bar has its own.
        sample.routing.id = crate::plan::RoutingId(77);
        let there = too_fast(&mut sample, [false, true]);
        assert!(!is_hidden(&sample.project, &there));
    }

    #[test]
    fn what_goes_wrong_at_another_speed_is_told_once() {
        let mut sample = Sample::new();
        let mut fast = sample.outcome.clone();
        fast.point.speed = crate::quantities::Speed::kilometres_per_hour(11.0);
        fast.result.as_mut().unwrap().runs[1].velocity = Some(crate::quantities::Speed::from_si(3.0));
        let told = |sample: &Sample, fast: &Outcome| {
            let all = all_findings(
                &sample.project,
                sample.geometry().with(&sample.routing),
                &sample.outcome,
                std::slice::from_ref(fast),
            );
            all.iter().map(|one| one.what.clone()).collect::<Vec<_>>()
        };
        let all = told(&sample, &fast);
        assert_eq!(all.len(), 1, "{all:?}");
        assert!(all[0].contains("3.00 m/s") && all[0].contains("at 11 km/h"), "{}", all[0]);
        // Slower at the speed looked at, it is the worse speed that is told; as fast there, the one looked at.
        for (metres_a_second, speed) in [(2.7, "at 11 km/h"), (3.0, "at 9 km/h"), (3.2, "at 9 km/h")] {
            sample.numbers().runs[1].velocity = Some(crate::quantities::Speed::from_si(metres_a_second));
            let all = told(&sample, &fast);
            assert_eq!(all.len(), 1, "{all:?}");
            assert!(all[0].contains(speed), "{}", all[0]);
        }
        // Too fast in another hose at the speed looked at: that is another thing, and told too.
        sample.numbers().runs[1].velocity = None;
        sample.numbers().runs[0].velocity = Some(crate::quantities::Speed::from_si(2.6));
        assert_eq!(told(&sample, &fast).len(), 2);
        // Graver at the other speed: both are told.
        fast.result.as_mut().unwrap().supply = crate::hydraulics::SupplyState::AtLimit {
            shortfall: crate::quantities::Flow::litres_per_minute(0.1),
            by: crate::hydraulics::SupplyLimit::Pressure,
        };
        sample.numbers().runs[0].velocity = None;
        assert_eq!(told(&sample, &fast).len(), 2);
    }

    /// A first user's bar: three rows at 4.9 times the cracking pressure at 9 km/h, all of them at 3.0 times at 7 km/h.
    /// Cracking is 0.20 bar, so these are 0.98 and 0.60 bar over the orifice.
    #[test]
    fn a_rule_tells_of_the_speed_at_which_it_is_worst() {
        let mut sample = Sample::with_rows(40);
        // Straight tubes to forty rows cut through the room of openers, which this is not about.
        sample.project.limits.opener_height = crate::quantities::Length::ZERO;
        sample.project.limits.opener_rise = crate::quantities::Length::ZERO;
        let drop = |outcome: &mut Outcome, row: usize, bar: f64| {
            let all = outcome.result.as_mut().unwrap().elements.iter_mut().filter(|one| one.index == 2);
            for element in all.skip(row).take(1) {
                element.drop = Some(crate::quantities::Pressure::bar(bar));
            }
        };
        let mut slow = sample.outcome.clone();
        slow.point.speed = crate::quantities::Speed::kilometres_per_hour(7.0);
        for row in 0..40 {
            drop(&mut slow, row, 0.6);
        }
        for row in 13..16 {
            drop(&mut sample.outcome, row, 0.98);
        }
        let told = |here: &Outcome, other: &Outcome| {
            all_findings(
                &sample.project,
                sample.geometry().with(&sample.routing),
                here,
                std::slice::from_ref(other),
            )
        };
        for all in [told(&sample.outcome, &slow), told(&slow, &sample.outcome)] {
            assert_eq!(all.len(), 1, "{all:#?}");
            assert_eq!(all[0].place, "Rows 1 to 40");
            assert!(
                all[0].what.starts_with("metering drop only 3.0 × the cracking pressure (0.60 bar"),
                "{}",
                all[0]
            );
        }
    }

    #[test]
    fn what_the_plan_alone_decides_is_the_same_at_every_speed() {
        let mut sample = Sample::two_wings(8);
        sample.project.duties.first_mut().liquid.viscosity_source = crate::plan::Source::Assumed;
        sample.project.bar.rows[0].left_out = true;
        sample.project.bar.rows[7].x = crate::quantities::Length::metres(40.0);
        sample.routing.runs[2].line.measured = Some(crate::quantities::Length::metres(0.01));
        sample.meter_with_tubes();
        let mut fast = sample.outcome.clone();
        fast.point.speed = crate::quantities::Speed::kilometres_per_hour(11.0);
        fast.result.as_mut().unwrap().runs[1].velocity = Some(crate::quantities::Speed::from_si(3.0));
        let geometry = sample.geometry();
        let contexts = [&sample.outcome, &fast]
            .map(|one| Context::new(&sample.project, geometry.with(&sample.routing), one));
        let mut spoke = 0;
        for rule in RULES.iter().filter(|rule| !rule.by_speed) {
            let [here, there] = contexts.each_ref().map(rule.check);
            spoke += usize::from(!here.is_empty());
            assert_eq!(here, there, "{}", rule.name);
        }
        assert!(spoke >= 5, "{spoke}");
    }

    #[test]
    fn eighty_rows_never_give_eighty_lines() {
        let mut sample = Sample::with_rows(80);
        for (index, row) in sample.numbers().rows.iter_mut().enumerate() {
            row.deviation =
                Some(crate::quantities::Ratio::percent(if index % 2 == 0 { 12.0 } else { -12.0 }));
        }
        for element in &mut sample.numbers().elements {
            element.drop = Some(crate::quantities::Pressure::kilopascals(3.0));
            element.reynolds = Some(3000.0);
        }
        let all = sample.all();
        assert!(all.len() <= 8, "{all:#?}");
        for row in &mut sample.numbers().rows {
            row.state = crate::hydraulics::RowState::ValveStaysShut;
            row.deviation = None;
        }
        assert!(sample.all().len() <= 8);
    }
}
