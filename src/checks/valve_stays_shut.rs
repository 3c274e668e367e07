//! Check valves that do not open.

use super::context::row_subjects;
use super::finding::{Finding, Severity};
use super::{Context, Rule};
use crate::hydraulics::outcome::RowState;
use crate::plan::CheckValve;
use crate::plan::{ElementItem, ElementKind, FeedElement};
use crate::quantities::{Measure, Pressure};

pub(super) const RULE: Rule = Rule {
    name: "valve stays shut",
    about: "A row whose check valve does not open at the pressure it gets",
    by_speed: true,
    check,
};

fn check(here: &Context) -> Vec<Finding> {
    let rows = here.rows_in(RowState::ValveStaysShut);
    if rows.is_empty() {
        return Vec::new();
    }
    let mut cracking = Pressure::ZERO;
    for path in here.row_paths().iter().filter(|path| rows.contains(&path.row.row)) {
        for (element, _) in &path.elements {
            if let FeedElement::Piece(ElementKind::CheckValve, entry) = element
                && let Some(ElementItem::CheckValve(CheckValve { cracking: one, .. })) =
                    here.project.catalogue.item(entry)
            {
                cracking = cracking.max(*one);
            }
        }
    }
    vec![Finding {
        severity: Severity::Error,
        place: here.row_words(&rows),
        what: format!(
            "check valve stays shut at {}: it opens at {}",
            here.speed(),
            here.text(Measure::Pressure, cracking)
        ),
        advice:
            "raise the pressure with smaller metering, or use check valves with a lower cracking pressure"
                .to_owned(),
        subjects: row_subjects(&rows),
        names_speed: true,
        ..here.finding(RULE.name, "")
    }]
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;

    #[test]
    fn the_cracking_pressure_is_told() {
        let mut sample = Sample::new();
        sample.numbers().rows[2].state = RowState::ValveStaysShut;
        let finding = sample.only(RULE);
        assert_eq!(finding.place, "Row 3");
        assert_eq!(finding.what, "check valve stays shut at 9 km/h: it opens at 0.20 bar");
    }
}
