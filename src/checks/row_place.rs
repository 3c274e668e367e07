//! Rows that lie off their section.

use super::context::row_subjects;
use super::finding::{Finding, Severity};
use super::{Context, Rule};
use crate::plan::RowId;
use crate::quantities::Measure;

pub(super) const RULE: Rule = Rule {
    name: "row off its section",
    about: "A row that lies outside the section it belongs to by more than a row spacing",
    by_speed: false,
    check,
};

fn check(here: &Context) -> Vec<Finding> {
    let bar = &here.project.bar;
    let room = bar.row_spacing.si();
    let mut worst: Option<(f64, &crate::plan::Row)> = None;
    let mut rows: Vec<RowId> = Vec::new();
    for row in &bar.rows {
        let Some(section) = bar.section(row.section) else { continue };
        let off = (section.left.si() - row.x.si()).max(row.x.si() - section.right.si());
        if off > room {
            rows.push(row.id);
            if worst.is_none_or(|(most, _)| off > most) {
                worst = Some((off, row));
            }
        }
    }
    let Some((_, row)) = worst else { return Vec::new() };
    let section = bar.section(row.section);
    vec![Finding {
        severity: Severity::Warning,
        place: here.row_words(&rows),
        what: format!(
            "row {} lies at x {}, off its section {}",
            row.number,
            here.text(Measure::Distance, row.x),
            section.map_or("", |section| section.name.as_str())
        ),
        advice: "correct its place, or give it to the section it hangs on".to_owned(),
        subjects: row_subjects(&rows),
        ..here.finding(RULE.name, "")
    }]
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;
    use crate::quantities::Length;

    #[test]
    fn a_spacing_beyond_the_end_is_let_pass() {
        let mut sample = Sample::new();
        // The section ends at 0.6 m, the spacing is 0.3 m.
        sample.project.bar.rows[3].x = Length::metres(0.89);
        assert!(sample.of(RULE).is_empty());
        sample.project.bar.rows[3].x = Length::metres(40.0);
        assert_eq!(sample.only(RULE).place, "Row 4");
    }
}
