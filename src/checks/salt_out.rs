//! Crystals fall out of a liquid that is too cold.

use super::finding::{Finding, FindingSubject, Severity};
use super::{Context, Rule};
use crate::quantities::{Measure, Temperature};

pub(super) const RULE: Rule = Rule {
    name: "salt-out",
    about: "The liquid is at or close to the temperature where crystals fall out and plug the metering",
    by_speed: false,
    check,
};

/// Closer than this is worth a note, kelvin (common practice, no source).
const CLOSE: f64 = 3.0;

fn check(here: &Context) -> Vec<Finding> {
    let Some(salt_out) = here.duty().liquid.salt_out else { return Vec::new() };
    let temperature = here.outcome.point.temperature;
    let (case, severity, how) = if temperature <= salt_out {
        ("below", Severity::Warning, "not above")
    } else if temperature < salt_out + Temperature::from_si(CLOSE) {
        ("close", Severity::Note, "close to")
    } else {
        return Vec::new();
    };
    vec![Finding {
        severity,
        place: format!("Liquid {}", here.duty().liquid.name),
        what: format!(
            "{} is {how} its salt-out temperature of {}: crystals plug filters and metering",
            here.text(Measure::Temperature, temperature),
            here.text(Measure::Temperature, salt_out)
        ),
        advice:
            "wait for warmer weather, dilute it as its sheet allows, or empty the bar before a cold night"
                .to_owned(),
        subjects: vec![FindingSubject::Project],
        ..here.finding(RULE.name, case)
    }]
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;

    #[test]
    fn below_close_and_clear() {
        let mut sample = Sample::new();
        assert!(sample.of(RULE).is_empty());
        sample.project.duties.first_mut().liquid.salt_out = Some(Temperature::from_si(5.0));
        for (celsius, severity) in [
            (4.0, Some(Severity::Warning)),
            (5.0, Some(Severity::Warning)),
            (7.9, Some(Severity::Note)),
            (8.0, None),
        ] {
            sample.at_temperature(celsius);
            assert_eq!(sample.of(RULE).first().map(|one| one.severity), severity, "{celsius}");
        }
    }
}
