//! Rows with more than one feed.

use super::context::row_subjects;
use super::finding::{Finding, FindingSubject, Severity};
use super::words::list;
use super::{Context, Rule};
use crate::hydraulics::connectivity::ConnectionProblem;

pub(super) const RULE: Rule =
    Rule { name: "fed twice", about: "A row with more than one row feed", by_speed: false, check };

fn check(here: &Context) -> Vec<Finding> {
    let (mut rows, mut feeds) = (Vec::new(), Vec::new());
    for problem in &here.outcome.problems {
        if let ConnectionProblem::RowFedTwice(row, of_row) = problem {
            rows.push(*row);
            feeds.extend(of_row.iter().copied());
        }
    }
    if rows.is_empty() {
        return Vec::new();
    }
    feeds.sort_unstable();
    feeds.dedup();
    let tags: Vec<String> = feeds.iter().map(|feed| here.feed_tag(*feed)).collect();
    let mut subjects = row_subjects(&rows);
    subjects.extend(feeds.iter().map(|feed| FindingSubject::Feed(*feed)));
    vec![Finding {
        severity: Severity::Error,
        place: here.row_words(&rows),
        what: format!("fed more than once, by {}", list(&tags)),
        advice: "delete all but one row feed".to_owned(),
        subjects,
        ..here.finding(RULE.name, "")
    }]
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;

    #[test]
    fn both_feeds_are_named() {
        let mut sample = Sample::new();
        let row = sample.routing.feeds[0].branches[0].row;
        sample.routing.feeds[1].branches[0].row = row;
        sample.resolve();
        let finding = sample.only(RULE);
        assert_eq!(
            (finding.place.as_str(), finding.what.as_str()),
            ("Row 1", "fed more than once, by T1 and T2")
        );
        assert_eq!(finding.subjects.len(), 3);
    }
}
