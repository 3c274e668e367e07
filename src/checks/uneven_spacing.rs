//! Rows that stand unevenly while each is asked for the nominal spacing.

use super::context::row_subjects;
use super::finding::{Finding, Severity};
use super::{Context, Rule};
use crate::plan::RowId;
use crate::plan::RowWidths;
use crate::quantities::{Length, Measure};

pub(super) const RULE: Rule = Rule {
    name: "uneven spacing",
    about: "Rows whose own width differs from the nominal spacing that their target is computed with",
    by_speed: false,
    check,
};

fn check(here: &Context) -> Vec<Finding> {
    if here.project.bar.row_widths != RowWidths::Nominal {
        return Vec::new();
    }
    let bar = &here.project.bar;
    let (nominal, limit) = (bar.row_spacing, here.project.limits.row_deviation.si());
    let mut places: Vec<(f64, RowId)> =
        bar.rows.iter().filter(|row| !row.left_out).map(|row| (row.x.si(), row.id)).collect();
    places.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut rows = Vec::new();
    let mut widest = nominal;
    for three in places.windows(3) {
        let own = Length::metres((three[2].0 - three[0].0) / 2.0);
        // Rows beside one that is left out, or beside a wheel track, are wider on purpose.
        let apart = (own / nominal - 1.0).abs();
        if apart > limit && apart < 0.5 {
            rows.push(three[1].1);
            if (own - nominal).abs() > (widest - nominal).abs() {
                widest = own;
            }
        }
    }
    if rows.is_empty() {
        return Vec::new();
    }
    vec![Finding {
        severity: Severity::Note,
        place: here.row_words(&rows),
        what: format!(
            "up to {} wide, but each is asked for {}",
            here.text(Measure::Distance, widest),
            here.text(Measure::Distance, nominal)
        ),
        advice: "let unevenly spaced rows take their own half-widths, or give them a share of their own"
            .to_owned(),
        subjects: row_subjects(&rows),
        ..here.finding(RULE.name, "")
    }]
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;

    #[test]
    fn own_widths_end_it() {
        let mut sample = Sample::with_rows(8);
        assert!(sample.of(RULE).is_empty());
        let x = &mut sample.project.bar.rows[3].x;
        *x = Length::metres(x.si() + 0.04);
        // Its neighbours are 0.32 m and 0.28 m wide, 6.7 % off.
        assert_eq!(sample.only(RULE).place, "Rows 3 and 5");
        sample.project.bar.row_widths = RowWidths::HalfWidths;
        assert!(sample.of(RULE).is_empty());
    }
}
