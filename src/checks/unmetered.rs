//! Rows with nothing that meters.

use super::context::row_subjects;
use super::finding::{Finding, Severity};
use super::remedy::Remedy;
use super::{Context, Rule};
use crate::plan::RowId;

pub(super) const RULE: Rule = Rule {
    name: "unmetered",
    about: "A fed row without a metering orifice or metering tube: its flow is whatever tube and height leave it",
    by_speed: false,
    check,
};

fn check(here: &Context) -> Vec<Finding> {
    let bare = here.row_paths().iter().filter(|path| {
        path.is_fed()
            // Below a tee the other rule speaks.
            && path.feed.branches.len() == 1
            && !path.elements.iter().any(|(element, _)| element.is_metering())
    });
    let rows: Vec<RowId> = bare.map(|path| path.row.row).collect();
    if rows.is_empty() {
        return Vec::new();
    }
    vec![Finding {
        severity: Severity::Warning,
        place: here.row_words(&rows),
        what: "no metering in the row feed".to_owned(),
        advice: "put a metering orifice or metering tube into the row feed".to_owned(),
        remedy: Remedy::meter(here, &rows),
        subjects: row_subjects(&rows),
        ..here.finding(RULE.name, "")
    }]
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;

    #[test]
    fn metering_anywhere_on_the_way_counts() {
        let mut sample = Sample::new();
        assert!(sample.of(RULE).is_empty());
        for feed in &mut sample.routing.feeds[1..3] {
            feed.branches[0].elements.retain(|element| !element.is_metering());
        }
        assert_eq!(sample.only(RULE).place, "Rows 2 and 3");
    }
}
