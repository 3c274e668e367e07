//! Shared row feeds whose rows lack their own metering below the small tee.

use super::context::row_subjects;
use super::finding::{Finding, FindingSubject, Severity};
use super::words::list;
use super::{Context, Rule};
use crate::plan::{FeedElement, RowId};

pub(super) const RULE: Rule = Rule {
    name: "shared without metering",
    about: "Rows that share a delivery tube without metering of their own below the tee: the split is left to chance",
    by_speed: false,
    check,
};

fn check(here: &Context) -> Vec<Finding> {
    let mut rows: Vec<RowId> = Vec::new();
    let (mut tags, mut feeds) = (Vec::new(), Vec::new());
    for feed in here.routing.feeds.iter().filter(|feed| feed.branches.len() > 1) {
        let bare =
            feed.branches.iter().filter(|branch| !branch.elements.iter().any(FeedElement::is_metering));
        let before = rows.len();
        rows.extend(bare.map(|branch| branch.row));
        if rows.len() > before {
            tags.push(feed.tag.clone());
            feeds.push(FindingSubject::Feed(feed.id));
        }
    }
    if rows.is_empty() {
        return Vec::new();
    }
    let mut subjects = row_subjects(&rows);
    subjects.extend(feeds);
    vec![Finding {
        severity: Severity::Warning,
        place: here.row_words(&rows),
        what: format!(
            "no metering of their own below the tee of {}: the split is left to chance",
            list(&tags)
        ),
        advice: "give each of these rows a metering orifice or metering tube below the tee".to_owned(),
        subjects,
        ..here.finding(RULE.name, "")
    }]
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;

    #[test]
    fn each_row_needs_its_own() {
        let mut sample = Sample::new();
        sample.share_first_two();
        assert!(sample.of(RULE).is_empty());
        sample.routing.feeds[0].branches[1].elements.retain(|element| !element.is_metering());
        let finding = sample.only(RULE);
        assert_eq!(finding.place, "Row 2");
        assert!(finding.what.contains("T1"));
    }
}
