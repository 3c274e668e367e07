//! A relief valve that nobody knows of, that opens too late, or that opens at work, close above it or in the pressure test.

use super::finding::{Finding, FindingSubject, Severity};
use super::{Context, Rule};
use crate::plan::ReliefValve;
use crate::plan::supply::RELIEF_TOLERANCE;
use crate::quantities::{Measure, Ratio};

pub(super) const RULE: Rule = Rule {
    name: "relief valve",
    about: "No relief valve, or nobody said whether there is one; one that opens above the lowest rating, may do so by its tolerance, opens at work, close above it, or in the pressure test",
    by_speed: true,
    check,
};

/// What the relief valve opens at is so much more than the highest pressure of work (common practice, no source).
pub(super) const MARGIN: f64 = 0.1;

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
    let latest = opens * (1.0 + RELIEF_TOLERANCE);
    if let Some(rating) = lowest.filter(|rating| opens <= rating.pressure && latest > rating.pressure) {
        findings.push(found(
            "late by its tolerance",
            Severity::Warning,
            format!(
                "the relief valve is set to {} and may open only at {}, {} later, above the lowest rating on the bar: {} ({})",
                here.text(Measure::Pressure, opens),
                here.text_apart(Measure::Pressure, latest, rating.pressure),
                here.short(Measure::Percent, Ratio::from_si(RELIEF_TOLERANCE)),
                here.text(Measure::Pressure, rating.pressure),
                here.project.rating_words(rating)
            ),
            format!(
                "set it to {} or less, or use parts with a higher rating; the tolerance is common practice, no source",
                here.text(Measure::Pressure, rating.pressure / (1.0 + RELIEF_TOLERANCE))
            ),
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
        return findings;
    }
    if let Some(pressure) = working.filter(|pressure| opens < *pressure * (1.0 + MARGIN)) {
        let wanted = here.text(Measure::Pressure, pressure * (1.0 + MARGIN));
        let margin = here.short(Measure::Percent, Ratio::from_si(MARGIN));
        findings.push(Finding {
            extent: Some(pressure.si()),
            names_speed: true,
            ..found(
                "close to work",
                Severity::Warning,
                format!(
                    "the relief valve opens at {}, less than {margin} above the {} that the pump gives at {}: it may drip or \
                     chatter there",
                    here.text_apart(Measure::Pressure, opens, pressure),
                    here.text(Measure::Pressure, pressure),
                    here.speed()
                ),
                format!("set it to {wanted} or more, no more than {no_more}, or fit larger metering or wider hoses"),
            )
        });
    }
    // What the control holds once nothing runs out is what the bar is tested with.
    if let Some(held) =
        supply.control.pressure().filter(|held| *held >= opens && supply.highest_given() >= opens)
    {
        findings.push(found(
            "in the test",
            Severity::Warning,
            format!(
                "the relief valve opens at {}, and the control goes up to {}: it opens in the pressure test, and whenever \
                 the rows are shut",
                here.text_apart(Measure::Pressure, opens, held),
                here.text(Measure::Pressure, held)
            ),
            format!(
                "set the control's pressure below what it opens at, or the valve higher, no more than {no_more}; until then the \
                 test is held just below it"
            ),
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
        // 10 % later than 5.45 bar are 5.995 bar, than 5.46 bar 6.006.
        assert_eq!(severity(5.45), None);
        let late = Some((Severity::Warning, "late by its tolerance".to_owned()));
        assert_eq!((severity(5.46), severity(6.0)), (late.clone(), late));
        assert_eq!(severity(6.1), Some((Severity::Error, "late".to_owned())));
        assert_eq!(severity(4.1), None);
        assert_eq!(
            severity(4.0),
            Some((Severity::Warning, "in the test".to_owned())),
            "as far as the control goes"
        );
        // 10 % above 3.0 bar are 3.3 bar.
        assert_eq!(severity(3.31), Some((Severity::Warning, "in the test".to_owned())));
        assert_eq!(severity(3.29), Some((Severity::Warning, "close to work".to_owned())));
        assert_eq!(severity(3.0), Some((Severity::Error, "at work".to_owned())));
        sample.project.supply.control = Control::Metered { limit: Pressure::bar(3.1) };
        sample.project.supply.relief_valve = ReliefValve::OpensAt(Pressure::bar(3.2));
        assert_eq!(sample.only(RULE).kind.case, "close to work");
        assert!(sample.only(RULE).advice.starts_with("set it to 3.30 bar or more, no more than 6.00 bar"));
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
