//! Findings: what a person should know about a routing before cutting a hose.
//!
//! One file a rule. A rule reads the plan and the outcome of one solve and answers with findings, each with its
//! severity, where, what, and what to try; numbers carry their unit in the project's unit system. Rows are
//! grouped, so that a bar of 80 rows never gives 80 lines. To add a rule, write its file and put it on [`RULES`].
//!
//! Never here: mending what is found, solving, or anything about how a finding is shown. Start reading at
//! [`findings`].

mod context;
pub mod finding;
mod words;

mod assumed_liquid;
mod at_limit;
pub mod bend_radius;
mod closing_pressure;
mod fed_twice;
mod gauge_range;
pub mod hinge_slack;
mod hose_velocity;
mod left_out_plumbed;
mod liquid_outside_table;
mod loose_end;
mod mean_deviation;
mod measured_length;
mod mesh;
mod metering_over_cracking;
mod negative_pressure;
mod not_fed;
mod not_solved;
mod not_supplied;
mod open_port;
mod orifice_zone;
mod over_rated;
mod port_taken_twice;
mod pump_reserve;
mod range_of_speeds;
mod reynolds_zone;
mod row_deviation;
mod row_place;
mod salt_out;
mod shared_without_metering;
mod straight_tube;
mod uneven;
mod uneven_spacing;
mod unmetered;
mod valve_stays_shut;

#[cfg(test)]
mod sample;

pub use context::Context;
pub use finding::{Finding, Severity, Subject};

use crate::hydraulics::outcome::Outcome;
use crate::plan::{Project, Routing};

/// One rule.
pub struct Rule {
    /// Short and stable: the first piece of every key of its findings.
    pub name: &'static str,
    /// What it looks for and why, for the manual.
    pub about: &'static str,
    /// What it says can change with the ground speed; what the plan or the liquid alone decides is looked at once.
    pub by_speed: bool,
    /// The rule itself.
    pub check: fn(&Context) -> Vec<Finding>,
}

/// All rules, in the order their findings are listed within one severity.
pub const RULES: [Rule; 35] = [
    not_solved::RULE,
    not_supplied::RULE,
    loose_end::RULE,
    port_taken_twice::RULE,
    open_port::RULE,
    not_fed::RULE,
    fed_twice::RULE,
    left_out_plumbed::RULE,
    valve_stays_shut::RULE,
    over_rated::RULE,
    at_limit::RULE,
    pump_reserve::RULE,
    row_deviation::RULE,
    mean_deviation::RULE,
    uneven::RULE,
    shared_without_metering::RULE,
    unmetered::RULE,
    metering_over_cracking::RULE,
    closing_pressure::RULE,
    negative_pressure::RULE,
    reynolds_zone::RULE,
    orifice_zone::RULE,
    straight_tube::RULE,
    hose_velocity::RULE,
    hinge_slack::RULE,
    bend_radius::RULE,
    measured_length::RULE,
    mesh::RULE,
    gauge_range::RULE,
    salt_out::RULE,
    liquid_outside_table::RULE,
    assumed_liquid::RULE,
    row_place::RULE,
    uneven_spacing::RULE,
    range_of_speeds::RULE,
];

/// The findings of a routing, the most serious first, at the speed looked at and at `others` (usually the slowest,
/// usual and fastest): a bar that is right at one speed only is not right. At another speed a rule speaks only where
/// it has nothing as serious to say at the speed looked at. Those that the user dismissed are left out, but an error
/// can't be dismissed: what may hurt someone must not come back unseen with another number.
pub fn findings(project: &Project, routing: &Routing, outcome: &Outcome, others: &[Outcome]) -> Vec<Finding> {
    let mut all = all_findings(project, routing, outcome, others);
    all.retain(|finding| !is_hidden(project, finding));
    all
}

/// The user dismissed it, and it may be.
pub fn is_hidden(project: &Project, finding: &Finding) -> bool {
    finding.severity != Severity::Error && project.dismissed.contains(&finding.key)
}

/// All findings, dismissed ones too, the most serious first.
pub fn all_findings(
    project: &Project,
    routing: &Routing,
    outcome: &Outcome,
    others: &[Outcome],
) -> Vec<Finding> {
    let here = Context::new(project, routing, outcome);
    // Without numbers there is nothing to be said about other speeds either.
    let elsewhere: Vec<Context> = others
        .iter()
        .filter(|other| other.point.speed != outcome.point.speed && outcome.status.has_numbers())
        .map(|other| Context::new(project, routing, other))
        .collect();
    let mut all = Vec::new();
    for rule in &RULES {
        let mut found = (rule.check)(&here);
        for there in elsewhere.iter().filter(|_| rule.by_speed) {
            let gravest = found.iter().map(|one| one.severity).min();
            let graver = |one: &Finding| gravest.is_none_or(|known| one.severity < known);
            let more: Vec<Finding> = (rule.check)(there).into_iter().filter(graver).collect();
            found.extend(more.into_iter().map(|finding| at_speed(finding, &there.speed())));
        }
        all.extend(found);
    }
    all.sort_by_key(|finding| finding.severity);
    all
}

/// Says at which speed, where the wording does not.
fn at_speed(mut finding: Finding, speed: &str) -> Finding {
    if !finding.what.contains(speed) {
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
        assert!(RULES.iter().all(|rule| !rule.name.contains('/') && !rule.about.is_empty()));
    }

    #[test]
    fn serious_findings_come_first_and_dismissed_ones_are_left_out() {
        let mut sample = Sample::new();
        sample.project.liquid.viscosity_source = crate::plan::Source::Assumed;
        sample.routing.feeds.pop();
        sample.resolve();
        sample.outcome.runs[1].velocity = Some(crate::quantities::Speed::from_si(3.0));
        let all = sample.all();
        let severities: Vec<Severity> = all.iter().map(|one| one.severity).collect();
        assert!(severities.is_sorted(), "{severities:?}");
        assert!(severities.contains(&Severity::Error) && severities.contains(&Severity::Note));
        sample.project.dismissed.push(all[0].key.clone());
        let shown = |sample: &Sample| findings(&sample.project, &sample.routing, &sample.outcome, &[]);
        assert_eq!(shown(&sample), all, "an error can't be hidden");
        let last = all.len() - 1;
        sample.project.dismissed.push(all[last].key.clone());
        assert_eq!(shown(&sample), all[..last]);
        assert_eq!(sample.all(), all);
    }

    #[test]
    fn what_goes_wrong_at_another_speed_is_told_once() {
        let mut sample = Sample::new();
        let mut fast = sample.outcome.clone();
        fast.point.speed = crate::quantities::Speed::kilometres_per_hour(11.0);
        fast.runs[1].velocity = Some(crate::quantities::Speed::from_si(3.0));
        let told = |sample: &Sample, fast: &Outcome| {
            let all =
                all_findings(&sample.project, &sample.routing, &sample.outcome, std::slice::from_ref(fast));
            all.iter().map(|one| one.what.clone()).collect::<Vec<_>>()
        };
        let all = told(&sample, &fast);
        assert_eq!(all.len(), 1, "{all:?}");
        assert!(all[0].contains("3.00 m/s") && all[0].contains("at 11 km/h"), "{}", all[0]);
        // The same at the speed looked at: only that is told.
        sample.outcome.runs[1].velocity = Some(crate::quantities::Speed::from_si(2.7));
        let all = told(&sample, &fast);
        assert_eq!(all.len(), 1, "{all:?}");
        assert!(all[0].contains("at 9 km/h"), "{}", all[0]);
        // Graver at the other speed: both are told.
        fast.status = crate::hydraulics::outcome::Status::AtLimit {
            shortfall: crate::quantities::Flow::litres_per_minute(0.1),
        };
        assert_eq!(told(&sample, &fast).len(), 2);
    }

    #[test]
    fn what_the_plan_alone_decides_is_the_same_at_every_speed() {
        let mut sample = Sample::two_wings(8);
        sample.project.liquid.viscosity_source = crate::plan::Source::Assumed;
        sample.project.bar.rows[0].left_out = true;
        sample.project.bar.rows[7].x = crate::quantities::Length::metres(40.0);
        sample.routing.runs[2].line.measured = Some(crate::quantities::Length::metres(0.01));
        sample.meter_with_tubes();
        let mut fast = sample.outcome.clone();
        fast.point.speed = crate::quantities::Speed::kilometres_per_hour(11.0);
        fast.runs[1].velocity = Some(crate::quantities::Speed::from_si(3.0));
        let contexts =
            [&sample.outcome, &fast].map(|one| Context::new(&sample.project, &sample.routing, one));
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
        for (index, row) in sample.outcome.rows.iter_mut().enumerate() {
            row.deviation =
                Some(crate::quantities::Ratio::percent(if index % 2 == 0 { 12.0 } else { -12.0 }));
        }
        for element in &mut sample.outcome.elements {
            element.drop = Some(crate::quantities::Pressure::kilopascals(3.0));
            element.reynolds = Some(3000.0);
        }
        let all = sample.all();
        assert!(all.len() <= 8, "{all:#?}");
        for row in &mut sample.outcome.rows {
            row.state = crate::hydraulics::outcome::RowState::NoSupply;
            row.deviation = None;
        }
        assert!(sample.all().len() <= 8);
    }
}
