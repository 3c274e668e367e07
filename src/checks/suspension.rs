//! A liquid that holds solids which settle.

use super::finding::{Finding, FindingSubject, Severity};
use super::{Context, Rule};

pub(super) const RULE: Rule = Rule {
    name: "suspension",
    about: "The liquid is a suspension: no viscosity holds for it, and what rests on one is no prediction",
    by_speed: false,
    check,
};

fn check(here: &Context) -> Vec<Finding> {
    let liquid = &here.duty().liquid;
    if !liquid.suspension {
        return Vec::new();
    }
    vec![Finding {
        severity: Severity::Warning,
        place: format!("Liquid {}", liquid.name),
        what: "a suspension: its viscosity changes with shear and stirring, so that pressures, flows and evenness are \
               no prediction"
            .to_owned(),
        advice: "go by catch tests with the stirred liquid at the slowest and the fastest speed; keep to orifices, \
                 which feel viscosity least"
            .to_owned(),
        subjects: vec![FindingSubject::Project],
        ..here.finding(RULE.name, "")
    }]
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;

    #[test]
    fn a_suspension_is_warned_of_and_a_solution_passes() {
        let mut sample = Sample::new();
        assert_eq!(sample.of(RULE), Vec::new());
        sample.project.duties.first_mut().liquid.suspension = true;
        let found = sample.of(RULE);
        assert!(
            found.iter().any(|one| one.severity == Severity::Warning && one.what.contains("no prediction"))
        );
    }
}
