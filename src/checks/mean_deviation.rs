//! The mean of all rows against the target: the rate is right or wrong, whatever the spread.

use super::finding::{Finding, Severity, Subject};
use super::{Context, Rule};
use crate::hydraulics::outcome::SupplyState;
use crate::plan::Control;
use crate::quantities::Measure;

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
            here.text(Measure::Percent, mean.abs()),
            here.speed()
        ),
        advice: match here.project.supply.control {
            Control::Held { pressure } => format!(
                "{other} the constant pressure of {}, or fit other metering",
                here.text(Measure::Pressure, pressure)
            ),
            Control::Uncontrolled => "meter the flow, hold a pressure, or fit other metering".to_owned(),
            Control::Metered { .. } => {
                "compare the shares of the rows and what each row feed meters".to_owned()
            }
        },
        subjects: vec![Subject::Project],
        names_speed: true,
        ..here.finding(RULE.name, way)
    }]
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;
    use crate::quantities::{Flow, Pressure, Ratio};

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
