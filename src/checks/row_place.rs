//! Rows that lie off their section.

use super::context::row_subjects;
use super::finding::{Finding, Severity};
use super::{Context, Rule};
use crate::plan::{Row, RowId};
use crate::quantities::{Length, Measure};

pub(super) const RULE: Rule = Rule {
    name: "row off its section",
    about: "A row that lies outside the section it belongs to by more than a row spacing, or outside the working width",
    by_speed: false,
    check,
};

fn check(here: &Context) -> Vec<Finding> {
    off_section(here).or_else(|| outside(here)).into_iter().collect()
}

/// A place measured to the centimetre may lie this far beyond the end of its section.
const NEAR: f64 = 0.01;

/// Nobody means to sow beyond the ground that the rate is asked for.
fn outside(here: &Context) -> Option<Finding> {
    let bar = &here.project.bar;
    let (left, right) = bar.edges()?;
    let beyond = |row: &Row| (left - row.x.si()).max(row.x.si() - right);
    let found = || bar.rows.iter().filter(|row| !row.left_out && beyond(row) > NEAR);
    let rows: Vec<RowId> = found().map(|row| row.id).collect();
    let farthest = found().map(beyond).fold(0.0, f64::max);
    (!rows.is_empty()).then(|| Finding {
        severity: Severity::Warning,
        place: here.row_words(&rows),
        what: format!(
            "{}{} outside the working width of {}",
            if rows.len() == 1 { "" } else { "up to " },
            here.text(Measure::Distance, Length::metres(farthest)),
            here.text(Measure::Distance, bar.working_width())
        ),
        advice: format!(
            "correct {} place, or the ends of the outer sections",
            if rows.len() == 1 { "its" } else { "their" }
        ),
        subjects: row_subjects(&rows),
        ..here.finding(RULE.name, "outside")
    })
}

fn off_section(here: &Context) -> Option<Finding> {
    let bar = &here.project.bar;
    let room = bar.row_spacing.si();
    let mut worst: Option<(f64, &Row)> = None;
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
    let (_, row) = worst?;
    let section = bar.section(row.section);
    Some(Finding {
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
    })
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;

    #[test]
    fn a_row_outside_the_working_width_or_far_off_its_section_is_told() {
        let mut sample = Sample::new();
        // The section ends at 0.6 m, the spacing is 0.3 m.
        sample.project.bar.rows[3].x = Length::metres(0.6);
        assert!(sample.of(RULE).is_empty());
        sample.project.bar.rows[3].x = Length::metres(0.89);
        let finding = sample.only(RULE);
        assert_eq!(finding.place, "Row 4");
        assert_eq!(finding.what, "0.29 m outside the working width of 1.20 m");
        sample.project.bar.rows[3].left_out = true;
        assert!(sample.of(RULE).is_empty(), "nobody sows there");
        sample.project.bar.rows[3].left_out = false;
        sample.project.bar.rows[3].x = Length::metres(40.0);
        assert_eq!(sample.only(RULE).place, "Row 4");
    }
}
