//! Rows through which air comes in instead of liquid going out.

use super::context::row_subjects;
use super::finding::{Finding, Severity};
use super::{Context, Rule};
use crate::hydraulics::outcome::{RowOutcome, RowState};
use crate::quantities::{Flow, Measure};

pub(super) const RULE: Rule = Rule {
    name: "flows backwards",
    about: "A row without a check valve at whose outlet suction draws air in",
    by_speed: true,
    check,
};

fn check(here: &Context) -> Vec<Finding> {
    let rows = here.rows_in(RowState::FlowsBackward);
    if rows.is_empty() {
        return Vec::new();
    }
    let back = |row: &RowOutcome| -row.flow;
    let backward = here.outcome.rows().iter().filter(|row| row.state == RowState::FlowsBackward);
    let most = backward.map(back).reduce(Flow::max).unwrap_or_default();
    let up_to = if rows.len() == 1 { "" } else { "up to " };
    vec![Finding {
        severity: Severity::Error,
        extent: Some(most.si()),
        place: here.row_words(&rows),
        what: format!(
            "flows backwards at {}: suction draws {up_to}{} in at the outlet, so nothing leaves there and air gets into \
             the bar",
            here.speed(),
            here.text(Measure::RowFlow, most)
        ),
        advice: "put a check valve into the row feed, and raise the pressure with smaller metering or by holding more of it \
                 at the pump"
            .to_owned(),
        subjects: row_subjects(&rows),
    names_speed: true, ..here.finding(RULE.name, "")
}]
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;

    #[test]
    fn the_rows_and_what_they_draw_in_are_told() {
        let mut sample = Sample::new();
        assert!(sample.of(RULE).is_empty());
        for (row, litres) in [(1, -0.02), (2, -0.05)] {
            sample.numbers().rows[row].state = RowState::FlowsBackward;
            sample.numbers().rows[row].flow = Flow::litres_per_minute(litres);
            sample.numbers().rows[row].deviation = None;
        }
        let finding = sample.only(RULE);
        assert_eq!((finding.severity, finding.place.as_str()), (Severity::Error, "Rows 2 and 3"));
        assert!(
            finding.what.starts_with("flows backwards at 9 km/h: suction draws up to 0.050 L/min in"),
            "{}",
            finding.what
        );
    }
}
