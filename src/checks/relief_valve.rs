//! A relief valve that nobody knows of, that opens too late, or that opens at work.

use super::finding::{Finding, FindingSubject, Severity};
use super::{Context, Rule};
use crate::plan::ReliefValve;
use crate::quantities::Measure;

pub(super) const RULE: Rule = Rule {
    name: "relief valve",
    about: "No relief valve, or nobody said whether there is one; one that opens above the lowest rating, or at work",
    by_speed: true,
    check,
};

fn check(here: &Context) -> Vec<Finding> {
    let supply = &here.project.supply;
    let lowest = here.lowest_rating().ok();
    let no_more = lowest.map_or_else(
        || "the lowest rating on the bar".to_owned(),
        |rating| here.text(Measure::Pressure, rating.pressure),
    );
    let found = |case: &str, severity, what: String, advice: String| Finding {
        severity,
        place: "Pump".to_owned(),
        what,
        advice,
        subjects: vec![FindingSubject::Project],
        ..here.finding(RULE.name, case)
    };
    let opens = match supply.relief_valve {
        ReliefValve::NotSaid => {
            return vec![found(
                "not said",
                Severity::Warning,
                "nobody said whether a relief valve guards the bar".to_owned(),
                format!("enter under Supply what it opens at, no more than {no_more}, or that there is none"),
            )];
        }
        ReliefValve::Absent => {
            // Of a pump that can't reach the rating against a shut valve none is needed.
            let against_shut_valve = supply.pump_curve.first().map(|point| point.pressure);
            let is_harmless = |rated| against_shut_valve.is_some_and(|most| most <= rated);
            if lowest.is_some_and(|rating| is_harmless(rating.pressure)) {
                return Vec::new();
            }
            return vec![found(
                "absent",
                Severity::Warning,
                "there is no relief valve: should the control fail, nothing keeps the pump from bursting a hose".to_owned(),
                format!("fit one that opens at {no_more} or less"),
            )];
        }
        ReliefValve::OpensAt(opens) => opens,
    };
    let mut findings = Vec::new();
    if let Some(rating) = lowest.filter(|rating| opens > rating.pressure) {
        findings.push(found(
            "late",
            Severity::Error,
            format!(
                "the relief valve opens at {}, above the lowest rating on the bar: {} ({})",
                here.text_apart(Measure::Pressure, opens, rating.pressure),
                here.text(Measure::Pressure, rating.pressure),
                here.project.rating_words(rating)
            ),
            format!("set it to {no_more} or less, or use parts with a higher rating"),
        ));
    }
    let working = here.outcome.numbers().map(|numbers| numbers.pump_pressure);
    if let Some(pressure) = working.filter(|pressure| *pressure >= opens) {
        findings.push(Finding {
            extent: Some(pressure.si()),
            names_speed: true,
            ..found(
                "at work",
                Severity::Error,
                format!(
                    "the relief valve opens at {}, but the pump gives {} at {}: liquid goes back to the tank instead of to the rows",
                    here.text(Measure::Pressure, opens),
                    here.text_apart(Measure::Pressure, pressure, opens),
                    here.speed()
                ),
                "set it higher if the ratings allow, or fit larger metering or wider hoses".to_owned(),
            )
        });
    } else if supply.control.pressure().is_some_and(|held| held > opens) {
        findings.push(found(
            "below the limit",
            Severity::Warning,
            format!(
                "the relief valve opens at {}, below the pressure that the control goes up to",
                here.text(Measure::Pressure, opens)
            ),
            "set the control's pressure below what it opens at".to_owned(),
        ));
    }
    findings
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;
    use crate::plan::{Control, CurvePoint};
    use crate::quantities::{Flow, Pressure};

    /// The sample: a pump of 6 bar bears least.
    #[test]
    fn it_opens_above_the_pressure_of_work_and_not_above_the_lowest_rating() {
        let mut sample = Sample::new();
        sample.numbers().pump_pressure = Pressure::bar(3.0);
        let mut severity = |bar: f64| {
            sample.project.supply.relief_valve = ReliefValve::OpensAt(Pressure::bar(bar));
            sample.of(RULE).first().map(|one| (one.severity, one.kind.case.clone()))
        };
        assert_eq!(severity(6.0), None);
        assert_eq!(severity(6.1), Some((Severity::Error, "late".to_owned())));
        assert_eq!(severity(4.0), None, "as far as the control goes");
        assert_eq!(severity(3.9), Some((Severity::Warning, "below the limit".to_owned())));
        assert_eq!(severity(3.0), Some((Severity::Error, "at work".to_owned())));
    }

    #[test]
    fn a_bar_without_one_is_told_unless_its_pump_can_t_reach_the_lowest_rating() {
        let mut sample = Sample::new();
        sample.project.supply.relief_valve = ReliefValve::NotSaid;
        assert_eq!(sample.only(RULE).what, "nobody said whether a relief valve guards the bar");
        assert!(sample.only(RULE).advice.contains("no more than 6.00 bar"));
        sample.project.supply.relief_valve = ReliefValve::Absent;
        assert!(sample.only(RULE).advice.contains("opens at 6.00 bar or less"));
        let mut curve = |bar| {
            sample.project.supply.pump_curve = vec![
                CurvePoint { flow: Flow::ZERO, pressure: Pressure::bar(bar) },
                CurvePoint { flow: Flow::litres_per_minute(100.0), pressure: Pressure::bar(1.0) },
            ];
            sample.of(RULE).len()
        };
        assert_eq!(curve(5.9), 0);
        assert_eq!(curve(6.1), 1);
        sample.project.supply.control = Control::Uncontrolled;
        sample.project.supply.weakest_rated = None;
        assert_eq!(sample.of(RULE).len(), 1);
    }
}
