//! Gauges that can't be read, or that break.

use super::finding::{Finding, FindingSubject, Severity};
use super::{Context, Rule};
use crate::plan::{Gauge, PartItem, PartKey};
use crate::quantities::{Measure, Pressure};

pub(super) const RULE: Rule = Rule {
    name: "gauge range",
    about: "A gauge beyond its full scale or too close to it, at work or in the pressure test, or whose usual reading is not in the \
            middle third of it",
    by_speed: true,
    check,
};

/// Readings should stay below this share of full scale (common practice, no source).
const HIGH: f64 = 0.75;

/// The reading at the usual speed lies between these shares of full scale, where a dial is read best (common practice, no
/// source).
const USUAL: [f64; 2] = [1.0 / 3.0, 2.0 / 3.0];

fn check(here: &Context) -> Vec<Finding> {
    let mut findings = Vec::new();
    let is_usual = here.outcome.point.speed == here.duty().usual;
    let reach = here.project.supply.highest_pressure();
    for part in &here.routing.parts {
        let Some(PartItem::Gauge(Gauge { full_scale })) = here.item(part) else { continue };
        let Some(reading) = here.outcome.part(part.id).and_then(|one| one.pressure) else { continue };
        let share = reading / *full_scale;
        let (case, severity, how) = if share > 1.0 {
            ("high", Severity::Error, "beyond its full scale of")
        } else if share > HIGH {
            ("high", Severity::Warning, "in the last quarter of its full scale of")
        } else if reach > *full_scale {
            ("reach", Severity::Warning, "and with every row blocked the pump goes beyond its full scale of")
        } else if reach == *full_scale {
            ("test", Severity::Warning, "and in the pressure test it stands at the end of its full scale of")
        } else if is_usual && share > USUAL[1] {
            ("usual", Severity::Note, "in the last third of its full scale of")
        } else if is_usual && share < USUAL[0] {
            ("usual", Severity::Note, "in the first third of its full scale of")
        } else {
            continue;
        };
        findings.push(Finding {
            severity,
            extent: Some(if share < USUAL[0] { 1.0 / share } else { share }),
            place: part.tag.clone(),
            what: format!(
                "reads {} at {}, {how} {}",
                here.text_apart(Measure::Pressure, reading, *full_scale),
                here.speed(),
                here.text(Measure::Pressure, *full_scale)
            ),
            advice: advice(here, reading, reach),
            subjects: vec![FindingSubject::Part(part.id)],
            names_speed: true,
            ..here.finding(RULE.name, case)
        });
    }
    findings
}

/// The gauge of the catalogue on which a reading lies in the middle third and that the pump can't drive beyond its scale; what
/// to do where there is none.
fn advice(here: &Context, reading: Pressure, reach: Pressure) -> String {
    let suits = |scale: &Pressure| (USUAL[0]..=USUAL[1]).contains(&(reading / *scale));
    let scales = || {
        here.project.catalogue.of::<PartKey>().filter_map(|(_, item)| match item {
            PartItem::Gauge(Gauge { full_scale }) => Some(*full_scale),
            _ => None,
        })
    };
    if let Some(scale) = scales().filter(suits).filter(|scale| *scale > reach).reduce(Pressure::min) {
        return format!("fit the gauge with a full scale of {}", here.text(Measure::Pressure, scale));
    }
    let widest = here.text(Measure::Pressure, reading * 3.0);
    if reach >= reading * 3.0 {
        return format!(
            "no dial suits both this reading and the {} that the pump reaches with every row blocked: set the pump's limit \
             below {widest}, and fit a gauge of about twice the reading",
            here.text(Measure::Pressure, reach)
        );
    }
    let narrowest = here.text(Measure::Pressure, reach.max(reading * 1.5));
    format!("the catalogue has no gauge that suits: add one with a full scale of {narrowest} to {widest}")
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;
    use crate::plan::{Control, Item};
    use crate::quantities::Speed;

    /// The sample's gauge goes to 4 bar; its usual speed is the one that is looked at.
    #[test]
    fn the_usual_reading_lies_in_the_middle_third() {
        let mut sample = Sample::new();
        let gauge = sample.add_gauge();
        sample.project.supply.control = Control::Metered { limit: Pressure::bar(3.5) };
        for (bar, severity) in [
            (4.1, Some(Severity::Error)),
            (3.2, Some(Severity::Warning)),
            (2.7, Some(Severity::Note)),
            (2.6, None),
            (1.4, None),
            (1.3, Some(Severity::Note)),
            (0.5, Some(Severity::Note)),
        ] {
            sample.set_part_pressure(gauge, Some(Pressure::bar(bar)));
            assert_eq!(sample.of(RULE).first().map(|one| one.severity), severity, "{bar}");
        }
        // At other speeds a low reading is nothing to be told.
        sample.project.duties.first_mut().usual = Speed::kilometres_per_hour(8.0);
        assert!(sample.of(RULE).is_empty());
        sample.set_part_pressure(gauge, None);
        assert!(sample.of(RULE).is_empty());
    }

    #[test]
    fn a_gauge_that_suits_is_named_or_that_there_is_none() {
        let mut sample = Sample::new();
        let gauge = sample.add_gauge();
        let mut advice = |limit: f64, reading: f64, catalogue: f64| {
            sample.project.supply.control = Control::Metered { limit: Pressure::bar(limit) };
            sample.set_item("gauge", |item| {
                if let Item::Part(PartItem::Gauge(Gauge { full_scale })) = item {
                    *full_scale = Pressure::bar(catalogue);
                }
            });
            sample.set_part_pressure(gauge, Some(Pressure::bar(reading)));
            let finding = sample.only(RULE);
            (finding.severity, finding.what, finding.advice)
        };
        let (_, _, none) = advice(2.0, 1.0, 6.0);
        assert_eq!(
            none,
            "the catalogue has no gauge that suits: add one with a full scale of 2.00 bar to 3.00 bar"
        );
        let (_, _, both) = advice(4.0, 1.0, 6.0);
        assert!(both.starts_with("no dial suits both this reading and the 4.00 bar"), "{both}");
        assert!(both.contains("set the pump's limit below 3.00 bar"), "{both}");
        let (severity, what, _) = advice(4.0, 1.5, 3.0);
        assert_eq!(severity, Severity::Warning);
        assert!(
            what.ends_with("with every row blocked the pump goes beyond its full scale of 3.00 bar"),
            "{what}"
        );
        // The needle of a gauge whose scale ends where the test goes.
        let (severity, what, _) = advice(3.0, 1.5, 3.0);
        assert_eq!(severity, Severity::Warning);
        assert!(
            what.ends_with("in the pressure test it stands at the end of its full scale of 3.00 bar"),
            "{what}"
        );
    }
}
