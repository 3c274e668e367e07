//! What the pressure at the pump leaves of what bounds it.

use super::finding::{Finding, FindingSubject, Severity};
use super::{Context, Rule};
use crate::hydraulics::outcome::SupplyState;
use crate::plan::pressure_bound::{BoundBy, NO_MARGIN, PressureBound, is_no_margin};
use crate::quantities::{Measure, Ratio};

pub(super) const RULE: Rule = Rule {
    name: "pressure margin",
    about: "The pressure at the pump comes so near to the supply's limit or to a rating that nothing is left for a filter that \
            loads or colder liquid",
    by_speed: true,
    check,
};

fn check(here: &Context) -> Vec<Finding> {
    let Some(numbers) = here.outcome.numbers() else { return Vec::new() };
    let Some(bound) = PressureBound::of(here.project, here.routing) else { return Vec::new() };
    let margin = bound.margin(numbers.pump_pressure);
    // At a limit, or above a rating, there are errors that say more.
    let is_beyond = margin < Ratio::ZERO || matches!(numbers.supply, SupplyState::AtLimit { .. });
    if is_beyond || !is_no_margin(margin) {
        return Vec::new();
    }
    let higher = match bound.by {
        BoundBy::Supply => "raise the limit",
        BoundBy::Rating(_) => "use parts with a higher rating",
    };
    vec![Finding {
        severity: Severity::Note,
        extent: Some((NO_MARGIN - margin).si()),
        place: "Pump".to_owned(),
        what: format!(
            "no margin left at {}: {} is {} below {}; {} wanted",
            here.speed(),
            here.text_apart(Measure::Pressure, numbers.pump_pressure, bound.pressure),
            here.text(Measure::Percent, margin),
            bound.words(here.project),
            here.short(Measure::Percent, NO_MARGIN)
        ),
        advice: format!("fit larger metering or wider hoses, {higher}, or drive slower at most"),
        subjects: vec![FindingSubject::Project],
        names_speed: true,
        ..here.finding(RULE.name, "")
    }]
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;
    use crate::plan::Control;
    use crate::quantities::{Flow, Pressure};

    /// 3.81 of 4 bar are 4.75 % below it, 3.79 bar are 5.25 % below it: worked by hand.
    #[test]
    fn less_than_a_twentieth_below_the_limit_or_a_rating_is_no_margin() {
        let mut sample = Sample::new();
        sample.project.supply.relief_valve = crate::plan::ReliefValve::Absent;
        sample.project.supply.control = Control::Metered { limit: Pressure::bar(4.0) };
        sample.numbers().pump_pressure = Pressure::bar(3.79);
        assert!(sample.of(RULE).is_empty());
        sample.numbers().pump_pressure = Pressure::bar(3.81);
        let what = sample.only(RULE).what;
        assert!(
            what.starts_with(
                "no margin left at 9 km/h: 3.81 bar is 4.8 % below the 4 bar that the supply gives at most"
            ),
            "{what}"
        );
        // The weakest part bears less than the supply gives.
        sample.numbers().pump_pressure = Pressure::bar(2.9);
        assert!(sample.of(RULE).is_empty());
        sample.project.supply.weakest_rated = Some(Pressure::bar(3.0));
        let finding = sample.only(RULE);
        assert!(finding.what.contains("below the 3 bar that is borne at most"), "{}", finding.what);
        assert!(finding.advice.contains("higher rating"), "{}", finding.advice);
        // Beyond it, or where the supply gives out, others speak.
        sample.numbers().pump_pressure = Pressure::bar(3.1);
        assert!(sample.of(RULE).is_empty());
        sample.numbers().pump_pressure = Pressure::bar(2.9);
        let by = crate::hydraulics::outcome::SupplyLimit::Pressure;
        sample.numbers().supply = SupplyState::AtLimit { shortfall: Flow::litres_per_minute(0.1), by };
        assert!(sample.of(RULE).is_empty());
        // What is held stands at its pressure by its nature.
        sample.project.supply.weakest_rated = None;
        sample.project.supply.control = Control::Held { pressure: Pressure::bar(2.9) };
        sample.numbers().supply = SupplyState::AsAsked;
        assert!(sample.of(RULE).is_empty());
    }
}
