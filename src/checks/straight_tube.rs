//! Metering tubes without a coil diameter.

use super::context::row_subjects;
use super::finding::{Finding, Severity};
use super::{Context, Rule};
use crate::plan::{FeedElement, RowId};

pub(super) const RULE: Rule = Rule {
    name: "straight tube assumed",
    about: "Metering tubes without a coil diameter are computed as straight; coiled ones pass less",
    by_speed: false,
    check,
};

fn check(here: &Context) -> Vec<Finding> {
    let mut rows: Vec<RowId> = Vec::new();
    for path in here.row_paths() {
        let straight =
            |element: &FeedElement| matches!(element, FeedElement::MeteringTube { coil: None, .. });
        if path.elements.iter().any(|(element, _)| straight(element)) {
            rows.push(path.row.row);
        }
    }
    if rows.is_empty() {
        return Vec::new();
    }
    rows.dedup();
    vec![Finding {
        severity: Severity::Note,
        place: here.row_words(&rows),
        what: "straight metering tubes assumed: wound to a coil they pass less".to_owned(),
        advice: "enter the diameter of the coil where there is one".to_owned(),
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
    fn a_coil_diameter_ends_it() {
        let mut sample = Sample::new();
        assert!(sample.of(RULE).is_empty());
        sample.meter_with_tubes();
        assert_eq!(sample.only(RULE).place, "Rows 1 to 4");
        for element in sample.routing.feeds.iter_mut().flat_map(crate::plan::RowFeed::elements_mut) {
            if let FeedElement::MeteringTube { coil, .. } = element {
                *coil = Some(Length::metres(0.1));
            }
        }
        assert!(sample.of(RULE).is_empty());
    }
}
