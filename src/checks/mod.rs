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
mod closing_pressure;
mod fed_twice;
mod gauge_range;
mod hinge_slack;
mod hose_velocity;
mod liquid_outside_table;
mod loose_end;
mod mean_deviation;
mod mesh;
mod metering_over_cracking;
mod negative_pressure;
mod not_fed;
mod not_solved;
mod not_supplied;
mod open_port;
mod over_rated;
mod port_taken_twice;
mod pump_reserve;
mod range_of_speeds;
mod reynolds_zone;
mod row_deviation;
mod salt_out;
mod shared_without_metering;
mod uneven;
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
    /// The rule itself.
    pub check: fn(&Context) -> Vec<Finding>,
}

/// All rules, in the order their findings are listed within one severity.
pub const RULES: [Rule; 28] = [
    not_solved::RULE,
    not_supplied::RULE,
    loose_end::RULE,
    port_taken_twice::RULE,
    open_port::RULE,
    not_fed::RULE,
    fed_twice::RULE,
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
    hose_velocity::RULE,
    hinge_slack::RULE,
    mesh::RULE,
    gauge_range::RULE,
    salt_out::RULE,
    liquid_outside_table::RULE,
    assumed_liquid::RULE,
    range_of_speeds::RULE,
];

/// All findings but those the user dismissed, the most serious first.
pub fn findings(project: &Project, routing: &Routing, outcome: &Outcome) -> Vec<Finding> {
    let mut all = all_findings(project, routing, outcome);
    all.retain(|finding| !project.dismissed.contains(&finding.key));
    all
}

/// All findings, dismissed ones too, the most serious first.
pub fn all_findings(project: &Project, routing: &Routing, outcome: &Outcome) -> Vec<Finding> {
    let context = Context::new(project, routing, outcome);
    let mut all: Vec<Finding> = RULES.iter().flat_map(|rule| (rule.check)(&context)).collect();
    all.sort_by_key(|finding| finding.severity);
    all
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
        let left = findings(&sample.project, &sample.routing, &sample.outcome);
        assert_eq!(left, all[1..]);
        assert_eq!(sample.all(), all);
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
