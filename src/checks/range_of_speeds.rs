//! What the range of ground speeds does to pressure or rate.

use super::finding::{Finding, FindingSubject, Severity};
use super::{Context, Rule};
use crate::plan::Control;
use crate::quantities::{ApplicationRate, Measure};

pub(super) const RULE: Rule = Rule {
    name: "range of speeds",
    about: "Between the slowest and the fastest speed one set of metering needs a wide range of pressures, or \
            constant pressure changes the rate",
    by_speed: true,
    check,
};

/// Metering passes twice the flow at four times the pressure; more than that asks for a second set (common
/// practice, no source).
const LARGEST_FLOW_RATIO: f64 = 2.0;

fn check(here: &Context) -> Vec<Finding> {
    let duty = here.duty();
    if duty.slowest.si() <= 0.0 {
        return Vec::new();
    }
    let ratio = duty.fastest / duty.slowest;
    let speeds = format!(
        "from {} to {}",
        here.short(Measure::GroundSpeed, duty.slowest),
        here.short(Measure::GroundSpeed, duty.fastest)
    );
    let (what, advice) = match here.project.supply.control {
        Control::Metered { .. } if ratio > LARGEST_FLOW_RATIO => (
            format!(
                "{speeds} the flow rises {ratio:.1} times and the pressure over metering orifices {:.1} times",
                ratio * ratio
            ),
            "keep a second set of metering for slow or fast work, or narrow the range of speeds",
        ),
        Control::Held { .. } | Control::Uncontrolled
            if ratio > 1.0 + here.project.limits.row_deviation.si() =>
        {
            // The flow stays, so the rate goes with one over the speed.
            let rate = |speed| {
                let rate = Measure::Rate.rounded(rate_at(here, speed), here.units());
                here.text(Measure::Rate, ApplicationRate::from_si(rate))
            };
            (
                format!(
                    "{}, so the flow does not follow the speed: {speeds} the rate falls from {} to {}",
                    if here.project.supply.control == Control::Uncontrolled {
                        "nothing controls the pump"
                    } else {
                        "the pressure is constant"
                    },
                    rate(duty.slowest.si()),
                    rate(duty.fastest.si())
                ),
                "meter the flow by speed, or keep to one speed",
            )
        }
        _ => return Vec::new(),
    };
    vec![Finding {
        severity: Severity::Note,
        place: "Application".to_owned(),
        what,
        advice: advice.to_owned(),
        subjects: vec![FindingSubject::Project],
        names_speed: true,
        ..here.finding(RULE.name, "")
    }]
}

/// The rate at another speed with the solved flow.
fn rate_at(here: &Context, speed: f64) -> f64 {
    let point = &here.outcome.point;
    let mean = here.outcome.evenness().map_or(1.0, |one| 1.0 + one.mean_deviation.si());
    point.rate.si() * mean * point.speed.si() / speed
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;
    use crate::quantities::{Pressure, Speed};

    #[test]
    fn twice_the_flow_is_four_times_the_pressure() {
        let mut sample = Sample::new();
        sample.project.duties.first_mut().slowest = Speed::kilometres_per_hour(5.0);
        sample.project.duties.first_mut().fastest = Speed::kilometres_per_hour(12.5);
        assert_eq!(
            sample.only(RULE).what,
            "from 5 km/h to 12.5 km/h the flow rises 2.5 times and the pressure over metering orifices 6.2 times"
        );
    }

    #[test]
    fn held_pressure_does_not_follow_the_speed() {
        let mut sample = Sample::new();
        sample.project.supply.control = Control::Held { pressure: Pressure::bar(2.0) };
        // 60 L/ha at 9 km/h: 60 · 9 / 7 = 77.1 and 60 · 9 / 11 = 49.1.
        assert!(
            sample.only(RULE).what.ends_with("the rate falls from 77.1 L/ha to 49.1 L/ha"),
            "{:?}",
            sample.only(RULE)
        );
    }
}
