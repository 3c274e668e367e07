//! Properties of the liquid that nobody measured.

use super::finding::{Finding, FindingSubject, Severity};
use super::{Context, Rule};
use crate::plan::Source;

pub(super) const RULE: Rule = Rule {
    name: "assumed liquid",
    about: "Density or viscosity is assumed: no one measured it and no sheet gives it",
    by_speed: false,
    check,
};

fn check(here: &Context) -> Vec<Finding> {
    let liquid = &here.duty().liquid;
    let what = match (&liquid.density_source, &liquid.viscosity_source) {
        (Source::Assumed, Source::Assumed) => "density and viscosity are assumed",
        (Source::Assumed, _) => "density is assumed",
        (_, Source::Assumed) => "viscosity is assumed",
        _ => return Vec::new(),
    };
    vec![Finding {
        severity: Severity::Note,
        place: format!("Liquid {}", liquid.name),
        what: what.to_owned(),
        advice: "weigh a litre and time a cup, or take them from the product's sheet; every paper is marked until then"
            .to_owned(),
        subjects: vec![FindingSubject::Project], ..here.finding(RULE.name, "")
}]
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;
    use crate::plan::Calibrated;
    use crate::quantities::{Ratio, Temperature};

    #[test]
    fn measured_and_published_values_pass() {
        let mut sample = Sample::new();
        let by_test = Source::Calibrated(Calibrated {
            on: "2026-11-30".to_owned(),
            test: "Yard".to_owned(),
            temperature: Temperature::from_si(12.0),
            within: Ratio::from_si(0.04),
        });
        for (density, viscosity, what) in [
            (Source::Measured, by_test.clone(), None),
            (Source::Assumed, by_test, Some("density is assumed")),
            (Source::Measured, Source::Published, None),
            (Source::Assumed, Source::Published, Some("density is assumed")),
            (Source::Measured, Source::Assumed, Some("viscosity is assumed")),
            (Source::Assumed, Source::Assumed, Some("density and viscosity are assumed")),
        ] {
            sample.project.duties.first_mut().liquid.density_source = density;
            sample.project.duties.first_mut().liquid.viscosity_source = viscosity;
            assert_eq!(sample.of(RULE).first().map(|one| one.what.as_str()), what);
        }
    }
}
