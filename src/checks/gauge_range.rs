//! Gauges that can't be read, or that break.

use super::finding::{Finding, Severity, Subject};
use super::{Context, Rule};
use crate::plan::Gauge;
use crate::plan::PartItem;
use crate::quantities::Measure;

pub(super) const RULE: Rule = Rule {
    name: "gauge range",
    about: "A gauge beyond its full scale, too close to it, or so low on it that it can't be read",
    by_speed: true,
    check,
};

/// Readings should stay below this share of full scale (common practice, no source).
const HIGH: f64 = 0.75;
/// Below this share of full scale the reading error is too large to judge by (common practice, no source).
const LOW: f64 = 0.15;

fn check(here: &Context) -> Vec<Finding> {
    let mut findings = Vec::new();
    for part in &here.routing.parts {
        let Some(PartItem::Gauge(Gauge { full_scale })) = here.item(part) else { continue };
        let Some(reading) = here.outcome.part(part.id).and_then(|one| one.pressure) else { continue };
        let share = reading / *full_scale;
        let (case, severity, how) = if share > 1.0 {
            ("high", Severity::Error, "beyond its full scale of")
        } else if share > HIGH {
            ("high", Severity::Warning, "in the last quarter of its full scale of")
        } else if share < LOW {
            ("low", Severity::Note, "too low to read well on a full scale of")
        } else {
            continue;
        };
        findings.push(Finding {
            severity,
            extent: Some(if share < LOW { 1.0 / share } else { share }),
            place: part.tag.clone(),
            what: format!(
                "reads {} at {}, {how} {}",
                here.text(Measure::Pressure, reading),
                here.speed(),
                here.text(Measure::Pressure, *full_scale)
            ),
            advice: "fit a gauge whose full scale is about twice the reading".to_owned(),
            subjects: vec![Subject::Part(part.id)],
            names_speed: true,
            ..here.finding(RULE.name, case)
        });
    }
    findings
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;
    use crate::quantities::Pressure;

    #[test]
    fn beyond_high_fair_and_low() {
        let mut sample = Sample::new();
        let gauge = sample.add_gauge();
        for (bar, severity) in [
            (4.1, Some(Severity::Error)),
            (3.2, Some(Severity::Warning)),
            (2.0, None),
            (0.5, Some(Severity::Note)),
        ] {
            sample.set_part_pressure(gauge, Some(Pressure::bar(bar)));
            assert_eq!(sample.of(RULE).first().map(|one| one.severity), severity, "{bar}");
        }
        sample.set_part_pressure(gauge, None);
        assert!(sample.of(RULE).is_empty());
    }
}
