//! The drop over the metering against the cracking pressure of the check valve.

use super::context::row_subjects;
use super::finding::{Finding, Severity};
use super::metering_drop::{Shortfall, shortfall};
use super::valve_advice::Wanted;
use super::{Context, Rule};
use crate::quantities::Measure;

pub(super) const RULE: Rule = Rule {
    name: "metering over cracking",
    about: "Metering that takes too little pressure beside the cracking pressure of its check valve: the valve's \
            scatter then shows in the row flow",
    by_speed: true,
    check,
};

fn check(here: &Context) -> Vec<Finding> {
    let factor = here.project.limits.metering_over_cracking.si();
    let Some(Shortfall { rows, least: ratio, most, metering, cracking }) = shortfall(here) else {
        return Vec::new();
    };
    // So many decimals that what is below the factor does not read like it.
    let times = |ratio: f64| {
        let reads_apart = |digits: &usize| format!("{ratio:.digits$}") != format!("{factor:.digits$}");
        let digits = (1..=3).find(reads_apart).unwrap_or(1);
        format!("{ratio:.digits$}")
    };
    let times = match (times(ratio), times(most)) {
        (low, high) if low == high => low,
        (low, high) => format!("{low} to {high}"),
    };
    vec![Finding {
        severity: Severity::Warning,
        extent: Some(1.0 / ratio.max(1e-9)),
        place: here.row_words(&rows),
        what: format!(
            "metering drop only {times} × the cracking pressure ({} against {} at {}); aim for {} ×",
            here.text(Measure::Pressure, metering),
            here.text(Measure::Pressure, cracking),
            here.speed(),
            Measure::Plain.short_number(factor, here.units())
        ),
        advice: super::valve_advice::to_meter(here, &rows),
        remedy: super::valve_advice::pair_to_meter(here),
        others: super::valve_advice::other_ways(here, &rows, Wanted::MoreOverMetering),
        subjects: row_subjects(&rows),
        names_speed: true,
        ..here.finding(RULE.name, "")
    }]
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;
    use crate::quantities::Pressure;

    #[test]
    fn five_times_is_enough() {
        let mut sample = Sample::new();
        // Cracking 0.20 bar; element 2 of each branch is the orifice.
        for element in sample.numbers().elements.iter_mut().filter(|one| one.index == 2) {
            element.drop = Some(Pressure::bar(1.0));
        }
        assert!(sample.of(RULE).is_empty());
        for element in sample.numbers().elements.iter_mut().filter(|one| one.index == 2).skip(1).take(2) {
            element.drop = Some(Pressure::bar(0.5));
        }
        let finding = sample.only(RULE);
        assert_eq!(finding.place, "Rows 2 and 3");
        assert!(finding.what.starts_with(
            "metering drop only 2.5 × the cracking pressure (0.50 bar against 0.20 bar at 9 km/h); aim for 5 ×"
        ));
    }
}
