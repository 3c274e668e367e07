//! Rows whose strips are not the ground that the bar works, together or one by one.

use super::context::row_subjects;
use super::finding::{Finding, FindingSubject, Severity};
use super::{Context, Rule};
use crate::plan::row_target::{own_strip, strips_together};
use crate::plan::{RowId, RowWidths};
use crate::quantities::{Measure, Ratio};

pub(super) const RULE: Rule = Rule {
    name: "uneven spacing",
    about: "Rows whose strips together are not the working width, or whose own strip differs from the nominal spacing \
            that their target is computed with",
    by_speed: false,
    check,
};

/// The strips of all rows may differ from the working width by this: what section ends are off by at most where rows are
/// counted and measured (common practice, no source).
const MOST_APART: f64 = 0.02;

fn check(here: &Context) -> Vec<Finding> {
    together(here).or_else(|| one_by_one(here)).into_iter().collect()
}

/// The rate is asked for the working width, whatever the rows stand for: each would get too much or too little.
fn together(here: &Context) -> Option<Finding> {
    let bar = &here.project.bar;
    let (strips, width) = (strips_together(bar), bar.working_width());
    let apart = strips / width - 1.0;
    if bar.rows.is_empty() || apart.abs() <= MOST_APART {
        return None;
    }
    let by = here.text(Measure::Percent, Ratio::from_si(apart.abs()));
    let advice = match bar.row_widths {
        RowWidths::Nominal => {
            "in Change the bar, let each row stand for its own strip, or correct the row spacing"
        }
        RowWidths::HalfWidths => "correct the places of the rows or the ends of the outer sections",
    };
    Some(Finding {
        severity: Severity::Error,
        place: "Bar".to_owned(),
        what: format!(
            "its rows stand for {} together, {by} {} than its working width of {}: {} would be asked for",
            here.text(Measure::Distance, strips),
            if apart < 0.0 { "less" } else { "more" },
            here.text(Measure::Distance, width),
            if apart < 0.0 { "too little" } else { "too much" },
        ),
        advice: advice.to_owned(),
        subjects: vec![FindingSubject::Project],
        ..here.finding(RULE.name, "together")
    })
}

fn one_by_one(here: &Context) -> Option<Finding> {
    let bar = &here.project.bar;
    if bar.row_widths != RowWidths::Nominal {
        return None;
    }
    let (nominal, limit) = (bar.row_spacing, here.project.limits.row_deviation.si());
    let mut rows: Vec<RowId> = Vec::new();
    let mut widest = nominal;
    for row in bar.rows.iter().filter(|row| !row.left_out) {
        let own = own_strip(bar, row);
        // Rows beside a wheel track are wider on purpose.
        let apart = (own / nominal - 1.0).abs();
        if apart > limit && apart < 0.5 {
            rows.push(row.id);
            if (own - nominal).abs() > (widest - nominal).abs() {
                widest = own;
            }
        }
    }
    if rows.is_empty() {
        return None;
    }
    Some(Finding {
        severity: Severity::Note,
        place: here.row_words(&rows),
        what: format!(
            "up to {} wide, but each is asked for {}",
            here.text(Measure::Distance, widest),
            here.text(Measure::Distance, nominal)
        ),
        advice: "let each row stand for its own strip, or give these a share of their own".to_owned(),
        subjects: row_subjects(&rows),
        ..here.finding(RULE.name, "")
    })
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;
    use crate::quantities::Length;

    #[test]
    fn own_strips_end_it() {
        let mut sample = Sample::with_rows(8);
        assert!(sample.of(RULE).is_empty());
        let x = &mut sample.project.bar.rows[3].x;
        *x = Length::metres(x.si() + 0.04);
        // Its neighbours are 0.32 m and 0.28 m wide, 6.7 % off.
        assert_eq!(sample.only(RULE).place, "Rows 3 and 5");
        sample.project.bar.row_widths = RowWidths::HalfWidths;
        assert!(sample.of(RULE).is_empty());
    }

    #[test]
    fn strips_that_are_not_the_working_width_are_an_error_that_cannot_be_hidden() {
        let mut sample = Sample::with_rows(8);
        // 8 rows of 0.3 m are 2.4 m; 2 % are within what is let pass.
        sample.project.bar.row_spacing = Length::metres(0.2941);
        assert!(sample.of(RULE).is_empty(), "2 % less");
        sample.project.bar.row_spacing = Length::metres(0.25);
        let found = sample.only(RULE);
        assert_eq!(found.severity, Severity::Error);
        assert!(
            found.what.contains("2.00 m together, 16.7 % less than its working width of 2.40 m"),
            "{}",
            found.what
        );
        sample.project.dismissed.push(found.dismissal("as it is", ""));
        assert_eq!(sample.only(RULE).severity, Severity::Error, "it comes back");
        // A row that is left out keeps its strip, and nobody else covers it.
        sample.project.bar.row_widths = RowWidths::HalfWidths;
        sample.project.bar.rows[3].left_out = true;
        assert!(sample.of(RULE).is_empty());
        // A row beyond the edge stands for ground that the bar does not work.
        sample.project.bar.rows[7].x = Length::metres(1.6);
        assert!(sample.only(RULE).what.contains("more than its working width"));
    }
}
