//! The pump's pressure limit holds the flow below what is asked.

use super::finding::{Finding, FindingSubject, Severity};
use super::remedy::Remedy;
use super::valve_advice::Wanted;
use super::{Context, Rule};
use crate::hydraulics::outcome::{SupplyLimit, SupplyState};
use crate::plan::{Control, RowId};
use crate::quantities::{Flow, Measure};

pub(super) const RULE: Rule = Rule {
    name: "at limit",
    about: "The supply reaches its pressure limit before the rows get what is asked",
    by_speed: true,
    check,
};

/// A hose that takes this share of the supply's pressure is named (common practice, no source).
const BLAMED: f64 = 0.1;

fn check(here: &Context) -> Vec<Finding> {
    let Some(numbers) = here.outcome.numbers() else { return Vec::new() };
    let SupplyState::AtLimit { shortfall, by } = numbers.supply else { return Vec::new() };
    let supply = &here.project.supply;
    let limit = supply.highest_given();
    let why = match by {
        SupplyLimit::Pressure => {
            format!("the pressure limit of {} is reached", here.text(Measure::Pressure, limit))
        }
        SupplyLimit::PumpCurve => format!(
            "by its curve the pump gives no more than {} at the pressure needed",
            here.text(Measure::TotalFlow, numbers.total_flow)
        ),
        SupplyLimit::Capacity => format!(
            "the pump delivers no more than {}",
            here.text(Measure::TotalFlow, supply.most_flow().unwrap_or_default())
        ),
    };
    let held = matches!(here.project.supply.control, Control::Held { .. });
    let target = here.outcome.target_total;
    let share = if target.si() > 0.0 {
        let share = crate::quantities::Ratio::from_si(shortfall / target);
        format!(" ({})", here.text_apart(Measure::Percent, share, crate::quantities::Ratio::ZERO))
    } else {
        String::new()
    };
    let takes = numbers.runs.iter().filter_map(|run| Some((run.run, run.loss?.abs())));
    let most = takes.max_by(|a, b| a.1.si().total_cmp(&b.1.si()));
    // A hose that takes little of the pressure is not to blame.
    let most = most.filter(|(_, loss)| loss.si() >= BLAMED * limit.si());
    let hose = most.map_or_else(String::new, |(run, loss)| {
        format!(
            "; the hose that takes the most is {} with {}",
            here.run_words(run),
            here.text(Measure::Pressure, loss)
        )
    });
    vec![Finding {
        severity: Severity::Error,
        extent: Some(shortfall.si()),
        place: "Pump".to_owned(),
        what: format!(
            "{why} at {}: {} {}",
            here.speed(),
            here.text_apart(Measure::TotalFlow, shortfall, Flow::ZERO),
            if held {
                "of the flow at that pressure are missing".to_owned()
            } else {
                format!("of the {} asked are missing{share}", here.text(Measure::TotalFlow, target))
            }
        ),
        advice: if by == SupplyLimit::Pressure {
            // Larger metering alone may only shift the trouble to the check valves.
            let pair = super::valve_advice::for_less_pressure(here);
            let pair = pair.map_or_else(String::new, |advice| format!("; {advice}"));
            format!("fit larger metering, drive slower or lower the rate{hose}{pair}")
        } else {
            "choose a larger pump, drive slower or lower the rate".to_owned()
        },
        remedy: most
            .filter(|_| by == SupplyLimit::Pressure)
            .and_then(|(run, loss)| Remedy::widen_to_take(here, run, BLAMED * limit.si() / loss.si())),
        others: if by == SupplyLimit::Pressure {
            let rows: Vec<RowId> = here.row_paths().iter().map(|path| path.row.row).collect();
            let pair = super::valve_advice::pair(here);
            let others = super::valve_advice::other_ways(here, &rows, Wanted::LessOverMetering);
            pair.into_iter().chain(others).collect()
        } else {
            Vec::new()
        },
        subjects: std::iter::once(FindingSubject::Project)
            .chain(most.map(|(run, _)| FindingSubject::Run(run)))
            .collect(),
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
    fn the_shortfall_is_told() {
        let mut sample = Sample::new();
        let shortfall = Flow::litres_per_minute(0.4);
        sample.numbers().supply = SupplyState::AtLimit { shortfall, by: SupplyLimit::Pressure };
        sample.outcome.target_total = Flow::litres_per_minute(2.0);
        sample.numbers().pump_pressure = Pressure::bar(4.0);
        assert_eq!(
            sample.only(RULE).what,
            "the pressure limit of 4.00 bar is reached at 9 km/h: 0.4 L/min of the 2.0 L/min asked are missing (20.0 %)"
        );
        // What is missing never reads as nothing: 1/1000 of 2 L/min.
        let little = Flow::litres_per_minute(0.002);
        sample.numbers().supply = SupplyState::AtLimit { shortfall: little, by: SupplyLimit::Pressure };
        let what = sample.only(RULE).what;
        assert!(what.ends_with("0.002 L/min of the 2.0 L/min asked are missing (0.1 %)"), "{what}");
        sample.numbers().supply = SupplyState::AtLimit { shortfall, by: SupplyLimit::Capacity };
        sample.project.supply.pump_capacity = Some(Flow::litres_per_minute(1.6));
        let what = sample.only(RULE).what;
        assert!(
            what.starts_with("the pump delivers no more than 1.6 L/min at 9 km/h: 0.4 L/min of"),
            "{what}"
        );
    }
}
