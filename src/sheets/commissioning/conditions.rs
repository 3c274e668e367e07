//! Under which conditions the figures hold, and the limits they are held to.

use crate::hydraulics::targets::{course_of_128th_acre, course_seconds};
use crate::plan::{Control, CurvePoint, Duty, Project, Source, words};
use crate::quantities::{Length, Measure, Ratio, UnitSystem};

/// Course on which the ground speed is timed.
const COURSE: Length = Length::metres(100.0);

const fn source_word(source: Source) -> &'static str {
    match source {
        Source::Measured => "measured",
        Source::Published => "published",
        Source::Assumed => "ASSUMED, nobody measured it",
    }
}

pub(super) fn conditions(project: &Project, duty: &Duty) -> Vec<(String, String)> {
    let units = project.units;
    let fact = |name: &str, value: String| (name.to_owned(), value);
    let mut facts = vec![
        fact("Application rate", Measure::Rate.text(duty.rate.si(), units)),
        fact("Liquid", duty.liquid.name.clone()),
    ];
    let temperature = Measure::Temperature.text(duty.temperature.si(), units);
    match duty.liquid.at(duty.temperature) {
        Some(state) => {
            let outside =
                if state.outside_table { "; OUTSIDE the liquid's table, nearest value used" } else { "" };
            facts.push(fact(
                "Density",
                format!(
                    "{} at {temperature}, {}{outside}",
                    Measure::Density.text(state.density.si(), units),
                    source_word(duty.liquid.density_source)
                ),
            ));
            facts.push(fact(
                "Viscosity",
                format!(
                    "{} at {temperature}, {}{outside}",
                    Measure::Viscosity.text(state.viscosity.si(), units),
                    source_word(duty.liquid.viscosity_source)
                ),
            ));
        }
        None => facts.push(fact("Density and viscosity", "not known".to_owned())),
    }
    facts.push(fact(
        "Slope",
        format!(
            "side {}, fore-aft {}",
            words::side_slope(duty.side_slope, units),
            words::fore_aft_slope(duty.fore_aft_slope, units)
        ),
    ));
    let control = match project.supply.control {
        Control::Metered { limit } => {
            format!("metered flow, up to {} at the pump", Measure::Pressure.text(limit.si(), units))
        }
        Control::Held { pressure } => {
            format!("constant pressure at the pump of {}", Measure::Pressure.text(pressure.si(), units))
        }
        Control::Uncontrolled => "nothing controlled: the pump runs on its curve".to_owned(),
    };
    facts.push(fact("Pump control", control));
    if !project.supply.pump_curve.is_empty() {
        let point = |point: &CurvePoint| {
            format!(
                "{} at {}",
                Measure::Pressure.text(point.pressure.si(), units),
                Measure::TotalFlow.text(point.flow.si(), units)
            )
        };
        let points: Vec<String> = project.supply.pump_curve.iter().map(point).collect();
        facts.push(fact("Pump curve", format!("{}; straight between", points.join(", "))));
    }
    if units == UnitSystem::UsCustomary {
        let course = course_of_128th_acre(project.bar.row_spacing);
        facts.push(fact(
            "Course of 1/128 acre",
            format!(
                "{} for one row: fluid ounces caught over it are gallons an acre",
                Measure::Distance.text(course.si(), units)
            ),
        ));
    }
    facts.push(fact(
        "Ground speed check",
        format!(
            "{} in {:.1} s at the usual {}",
            Measure::Distance.short_text(COURSE.si(), units),
            course_seconds(COURSE, duty.usual),
            Measure::GroundSpeed.text(duty.usual.si(), units)
        ),
    ));
    facts
}

pub(super) fn limits(project: &Project) -> Vec<(String, String)> {
    let units = project.units;
    let limits = &project.limits;
    let percent = |ratio: Ratio| Measure::Percent.short_text(ratio.si(), units);
    vec![
        (
            "Target, expected".to_owned(),
            "Target: what a row should get. Expected: what this routing is computed to give it.".to_owned(),
        ),
        (
            "Limit of a row".to_owned(),
            format!(
                "within ±{} of its target, from lowest to highest in the list of catches; outside: clean or swap its metering \
                 and catch again; beyond ±{}: look for a fault",
                percent(limits.row_deviation),
                percent(limits.row_deviation * 2.0)
            ),
        ),
        (
            "Limit of evenness".to_owned(),
            format!(
                "coefficient of variation of the catches (n − 1) up to {} good, up to {} acceptable",
                percent(limits.cv_good),
                percent(limits.cv_acceptable)
            ),
        ),
    ]
}
