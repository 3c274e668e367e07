//! A temperature outside the liquid's table, or a liquid without one.

use super::finding::{Finding, FindingSubject, Severity};
use super::{Context, Rule};
use crate::quantities::Measure;

pub(super) const RULE: Rule = Rule {
    name: "liquid outside table",
    about: "Density and viscosity are taken from the nearest temperature of the liquid's table, or are missing",
    by_speed: false,
    check,
};

fn check(here: &Context) -> Vec<Finding> {
    let liquid = &here.duty().liquid;
    let finding = |case, severity, what: String, advice: &str| Finding {
        severity,
        place: format!("Liquid {}", liquid.name),
        what,
        advice: advice.to_owned(),
        subjects: vec![FindingSubject::Project],
        ..here.finding(RULE.name, case)
    };
    let (Some(state), Some(first), Some(last)) =
        (here.outcome.liquid, liquid.points.first(), liquid.points.last())
    else {
        return vec![finding(
            "no values",
            Severity::Error,
            "no density and viscosity are known".to_owned(),
            "enter both for one temperature at least",
        )];
    };
    if !state.outside_table {
        return Vec::new();
    }
    let nearest = if here.outcome.point.temperature < first.temperature { first } else { last };
    vec![finding(
        if std::ptr::eq(nearest, first) { "below" } else { "above" },
        Severity::Warning,
        format!(
            "no values for {}; those for {} are used",
            here.text(Measure::Temperature, here.outcome.point.temperature),
            here.text(Measure::Temperature, nearest.temperature)
        ),
        "add density and viscosity for that temperature, measured or published",
    )]
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;

    #[test]
    fn the_nearest_temperature_is_told() {
        let mut sample = Sample::new();
        sample.at_temperature(-5.0);
        assert_eq!(sample.only(RULE).what, "no values for −5.0 °C; those for 0.0 °C are used");
        sample.at_temperature(41.0);
        assert_eq!(sample.only(RULE).what, "no values for 41.0 °C; those for 40.0 °C are used");
        sample.outcome.liquid = None;
        assert_eq!(sample.only(RULE).severity, Severity::Error);
    }
}
