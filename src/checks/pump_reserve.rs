//! What the pump has to spare.

use super::finding::{Finding, FindingSubject, Severity};
use super::{Context, Rule};
use crate::quantities::{Flow, Measure, Ratio, Speed};

pub(super) const RULE: Rule = Rule {
    name: "pump reserve",
    about: "The pump delivers less than the rows ask at the fastest speed with the reserve on top",
    by_speed: true,
    check,
};

fn check(here: &Context) -> Vec<Finding> {
    let (speed, asked) = most_asked(here);
    let Some(capacity) = here.outcome.pump_capacity(&here.project.supply) else {
        return vec![Finding {
            severity: Severity::Note,
            place: "Pump".to_owned(),
            what: format!(
                "pump capacity missing; the rows need {} at {}",
                here.text(Measure::TotalFlow, asked),
                here.short(Measure::GroundSpeed, speed)
            ),
            advice: "enter it from the pump's data sheet, at the working pressure".to_owned(),
            subjects: vec![FindingSubject::Project],
            names_speed: true,
            ..here.finding(RULE.name, "capacity")
        }];
    };
    let reserve = here.project.limits.pump_reserve;
    let wanted = asked * (1.0 + reserve.si());
    if wanted <= capacity {
        return Vec::new();
    }
    let spare = Ratio::from_si(capacity / asked - 1.0);
    let (severity, how) = if spare.si() < -1e-9 {
        (Severity::Error, "less than that".to_owned())
    } else {
        (
            Severity::Warning,
            format!(
                "{} to spare instead of {}",
                here.text_apart(Measure::Percent, spare, reserve),
                here.short(Measure::Percent, reserve)
            ),
        )
    };
    vec![Finding {
        severity,
        place: "Pump".to_owned(),
        what: format!(
            "the rows need {} at {}, and the pump delivers {}: {how}",
            here.text(Measure::TotalFlow, asked),
            here.short(Measure::GroundSpeed, speed),
            here.text(Measure::TotalFlow, capacity)
        ),
        advice: format!(
            "choose a pump for {} or more, drive slower or lower the rate",
            here.text(Measure::TotalFlow, wanted)
        ),
        subjects: vec![FindingSubject::Project],
        names_speed: true,
        ..here.finding(RULE.name, "reserve")
    }]
}

/// What is asked at the solved speed or at the fastest speed of the project, whichever is more: a target goes
/// with the speed.
fn most_asked(here: &Context) -> (Speed, Flow) {
    let (speed, asked) = (here.outcome.point.speed, here.outcome.asked_of_pump());
    let fastest = here.duty().fastest;
    if fastest > speed && speed.si() > 0.0 { (fastest, asked * (fastest / speed)) } else { (speed, asked) }
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;

    #[test]
    fn the_fastest_speed_counts() {
        let mut sample = Sample::new();
        // 9 L/min at 9 km/h are 11 L/min at 11 km/h, with 20 % on top 13.2 L/min.
        sample.outcome.target_total = Flow::litres_per_minute(9.0);
        for (capacity, severity) in [
            (None, Some(Severity::Note)),
            (Some(13.3), None),
            (Some(13.1), Some(Severity::Warning)),
            (Some(10.9), Some(Severity::Error)),
        ] {
            sample.project.supply.pump_capacity = capacity.map(Flow::litres_per_minute);
            assert_eq!(sample.of(RULE).first().map(|one| one.severity), severity, "{capacity:?}");
        }
        assert!(sample.only(RULE).what.starts_with("the rows need 11.0 L/min at 11 km/h"));
        assert!(sample.only(RULE).advice.contains("13.2 L/min"));
    }

    /// Nothing connected: the four rows still ask what they are to get. 4 · rate · 9 km/h · 0.3 m, times 11/9.
    #[test]
    fn rows_that_are_not_connected_yet_ask_too() {
        let mut sample = Sample::new();
        let asked = sample.project.duties.first().rate.si() * (11.0 / 3.6) * 0.3 * 4.0;
        sample.routing.feeds.clear();
        sample.project.supply.pump_capacity = None;
        sample.resolve();
        sample.outcome.target_total = Flow::ZERO;
        let words = Measure::TotalFlow.text(asked, crate::quantities::UnitSystem::Metric);
        let what = sample.only(RULE).what;
        assert!(what.ends_with(&format!("the rows need {words} at 11 km/h")), "{what}, not {words}");
    }
}
