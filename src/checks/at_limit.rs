//! The pump's pressure limit holds the flow below what is asked.

use super::finding::{Finding, Severity, Subject};
use super::{Context, Rule};
use crate::hydraulics::outcome::Status;
use crate::plan::Control;
use crate::quantities::Measure;

pub(super) const RULE: Rule = Rule {
    name: "at limit",
    about: "The supply reaches its pressure limit before the rows get what is asked",
    check,
};

fn check(here: &Context) -> Vec<Finding> {
    let Status::AtLimit { shortfall } = here.outcome.status else { return Vec::new() };
    let limit = match here.project.supply.control {
        Control::Metered { limit } => here.text(Measure::Pressure, limit),
        Control::Held { pressure } => here.text(Measure::Pressure, pressure),
    };
    let target = here.outcome.target_total;
    let share = if target.si() > 0.0 {
        format!(" ({})", here.text(Measure::Percent, crate::quantities::Ratio::from_si(shortfall / target)))
    } else {
        String::new()
    };
    let takes = here.outcome.runs.iter().filter_map(|run| Some((run.run, run.loss?.abs())));
    let most = takes.max_by(|a, b| a.1.si().total_cmp(&b.1.si()));
    let hose = most.map_or_else(String::new, |(run, loss)| {
        format!(
            "; the hose that takes the most is {} with {}",
            here.run_words(run),
            here.text(Measure::Pressure, loss)
        )
    });
    vec![Finding {
        key: here.key(RULE.name, "supply"),
        severity: Severity::Error,
        place: "Supply".to_owned(),
        what: format!(
            "the pressure limit of {limit} is reached at {}: {} of the {} asked are missing{share}",
            here.speed(),
            here.text(Measure::TotalFlow, shortfall),
            here.text(Measure::TotalFlow, target)
        ),
        advice: format!("fit larger metering, drive slower or ask for less{hose}"),
        subjects: std::iter::once(Subject::Project).chain(most.map(|(run, _)| Subject::Run(run))).collect(),
    }]
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;
    use crate::quantities::Flow;

    #[test]
    fn the_shortfall_is_told() {
        let mut sample = Sample::new();
        sample.outcome.status = Status::AtLimit { shortfall: Flow::litres_per_minute(0.4) };
        sample.outcome.target_total = Flow::litres_per_minute(2.0);
        assert_eq!(
            sample.only(RULE).what,
            "the pressure limit of 4.00 bar is reached at 9 km/h: 0.4 L/min of the 2.0 L/min asked are missing (20.0 %)"
        );
    }
}
