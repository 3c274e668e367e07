//! The mean of all rows against the target: the rate is right or wrong, whatever the spread.

use super::finding::{Finding, FindingSubject, Severity};
use super::words::is_or_are;
use super::{Context, Rule};
use crate::hydraulics::outcome::{NotFed, RowOutcome, RowState, SupplyState};
use crate::plan::{Control, RowId};
use crate::quantities::{Flow, Measure, Ratio};

pub(super) const RULE: Rule = Rule {
    name: "mean deviation",
    about: "All rows together get more or less than asked, as can be at constant pressure; apart from how even they are",
    by_speed: true,
    check,
};

fn check(here: &Context) -> Vec<Finding> {
    // At its limit the shortfall is already told.
    let solved = here.outcome.numbers().filter(|numbers| numbers.supply == SupplyState::AsAsked);
    let Some(evenness) = solved.and_then(|numbers| numbers.evenness) else { return Vec::new() };
    let mean = evenness.mean_deviation;
    if mean.abs() <= here.project.limits.row_deviation {
        return Vec::new();
    }
    let way = if mean.si() > 0.0 { "more" } else { "less" };
    let other = if mean.si() > 0.0 { "lower" } else { "raise" };
    vec![Finding {
        severity: Severity::Warning,
        extent: Some(mean.abs().si()),
        place: "Pump".to_owned(),
        what: format!(
            "the fed rows get {} {way} than asked on average at {}",
            here.text_apart(Measure::Percent, mean.abs(), here.project.limits.row_deviation),
            here.speed()
        ),
        advice: match here.project.supply.control {
            Control::Held { pressure } => format!(
                "{other} the constant pressure of {}, or fit other metering",
                here.text(Measure::Pressure, pressure)
            ),
            Control::Uncontrolled => "meter the flow, hold a pressure, or fit other metering".to_owned(),
            Control::Metered { .. } => elsewhere(here, mean)
                .unwrap_or_else(|| "compare the shares of the rows and what each row feed meters".to_owned()),
        },
        subjects: vec![FindingSubject::Project],
        names_speed: true,
        ..here.finding(RULE.name, way)
    }]
}

/// Why a metered flow is not what the fed rows ask for: rows that are left out and run out take from it, and rows that pass
/// nothing stay in it. What makes at least half of the mean is named.
fn elsewhere(here: &Context, mean: Ratio) -> Option<String> {
    let rows = || here.outcome.rows().iter();
    let fed: Flow = rows().filter(|row| row.state == RowState::Fed).map(|row| row.connection.target).sum();
    let makes_most = |flow: Flow| (flow / fed).abs() >= mean.si().abs() / 2.0;
    if mean < Ratio::ZERO {
        let idle =
            |row: &&RowOutcome| row.state == RowState::NotFed(NotFed::LeftOut) && row.flow > Flow::ZERO;
        let all: Vec<RowId> = rows().filter(idle).map(|row| row.row).collect();
        let lost: Flow = rows().filter(idle).map(|row| row.flow).sum();
        return makes_most(lost).then(|| {
            format!(
                "{} {} left out and still plumbed: {} run out there; take {} off first",
                here.row_words_inside(&all),
                is_or_are(all.len()),
                here.text(Measure::RowFlow, lost),
                if all.len() == 1 { "it" } else { "them" }
            )
        });
    }
    let shut = |row: &&RowOutcome| matches!(row.state, RowState::ValveStaysShut | RowState::FlowsBackward);
    let all: Vec<RowId> = rows().filter(shut).map(|row| row.row).collect();
    let kept: Flow = rows().filter(shut).map(|row| row.connection.target).sum();
    makes_most(kept).then(|| {
        format!(
            "{} {} nothing and {} in the controller's total, so that the others get {} more: see to {} first",
            here.row_words_inside(&all),
            if all.len() == 1 { "passes" } else { "pass" },
            if all.len() == 1 { "stays" } else { "stay" },
            here.text(Measure::RowFlow, kept),
            if all.len() == 1 { "it" } else { "them" }
        )
    })
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;
    use crate::quantities::Pressure;

    /// A controller shares its flow among all rows it knows: what one lacks or takes beside is the reason, and not shares or
    /// metering. 12 rows of 0.270 L/min; one is a twelfth.
    #[test]
    fn a_metered_flow_that_goes_elsewhere_names_where() {
        let mut sample = Sample::with_rows(12);
        sample.numbers().evenness.as_mut().unwrap().mean_deviation = Ratio::percent(9.1);
        assert!(sample.only(RULE).advice.starts_with("compare the shares"));
        let row = &mut sample.numbers().rows[4];
        (row.state, row.flow) = (RowState::ValveStaysShut, Flow::ZERO);
        assert_eq!(
            sample.only(RULE).advice,
            "row 5 passes nothing and stays in the controller's total, so that the others get 0.270 L/min more: see to \
             it first"
        );
        let row = &mut sample.numbers().rows[4];
        (row.state, row.flow) = (RowState::NotFed(NotFed::LeftOut), Flow::litres_per_minute(0.25));
        sample.numbers().evenness.as_mut().unwrap().mean_deviation = Ratio::percent(-8.4);
        assert_eq!(
            sample.only(RULE).advice,
            "row 5 is left out and still plumbed: 0.250 L/min run out there; take it off first"
        );
    }

    #[test]
    fn held_pressure_that_gives_too_much() {
        let mut sample = Sample::new();
        sample.project.supply.control = Control::Held { pressure: Pressure::bar(2.0) };
        sample.numbers().evenness.as_mut().unwrap().mean_deviation = Ratio::percent(8.0);
        let finding = sample.only(RULE);
        assert_eq!(finding.what, "the fed rows get 8.0 % more than asked on average at 9 km/h");
        assert!(finding.advice.starts_with("lower the constant pressure of 2.00 bar"));
        sample.numbers().supply = SupplyState::AtLimit {
            shortfall: Flow::litres_per_minute(1.0),
            by: crate::hydraulics::SupplyLimit::Pressure,
        };
        assert!(sample.of(RULE).is_empty());
    }
}
