//! Rows that are left out while something still feeds them.

use super::context::row_subjects;
use super::finding::{Finding, FindingSubject, Severity};
use super::remedy::Remedy;
use super::words::{list, these_rows};
use super::{Context, Rule};
use crate::plan::RowId;
use crate::quantities::{Flow, Measure};

pub(super) const RULE: Rule = Rule {
    name: "left out but plumbed",
    about: "A row that is left out but still hangs on a row feed: liquid would run out there",
    by_speed: false,
    check,
};

fn check(here: &Context) -> Vec<Finding> {
    let left_out = |row: RowId| here.project.bar.row(row).is_some_and(|row| row.left_out);
    let (mut rows, mut feeds, mut tags, mut outlets) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
    let mut all_idle = true;
    for feed in &here.routing.feeds {
        let idle: Vec<RowId> =
            feed.branches.iter().map(|branch| branch.row).filter(|row| left_out(*row)).collect();
        if idle.is_empty() {
            continue;
        }
        feeds.push(feed.id);
        tags.push(feed.tag.clone());
        if let Some(port) = feed.from.port().filter(|_| idle.len() == feed.branches.len()) {
            let anchors = &here.routing.geometry.anchors;
            outlets.push(anchors.port_words(&here.part_tag(port.part), port));
        }
        // Where sown rows hang on the same tube, what is left of it is not plain.
        all_idle &= idle.len() == feed.branches.len();
        rows.extend(idle);
    }
    if rows.is_empty() {
        return Vec::new();
    }
    let these = these_rows(rows.len());
    let end = if tags.len() == 1 { "ends" } else { "end" };
    let plug = if outlets.is_empty() {
        format!("take {these} off the small tee")
    } else {
        format!("put a plug on {}", list(&outlets))
    };
    let lost: Flow = rows.iter().filter_map(|row| here.outcome.row(*row)).map(|row| row.flow).sum();
    let what = if lost.si() > 0.0 {
        format!(
            "left out, but {} still {end} there: {} run out at {}, which the other rows lack",
            list(&tags),
            here.text(Measure::RowFlow, lost),
            here.speed()
        )
    } else {
        format!("left out, but {} still {end} there: liquid would run out", list(&tags))
    };
    let idle_feeds = feeds.clone();
    let mut subjects = row_subjects(&rows);
    subjects.extend(feeds.into_iter().map(FindingSubject::Feed));
    vec![Finding {
        severity: Severity::Error,
        place: here.row_words(&rows),
        what,
        advice: format!("remove {} and {plug}, or sow {these}", list(&tags)),
        remedy: all_idle.then_some(Remedy::RemoveFeeds(idle_feeds)),
        subjects,
        ..here.finding(RULE.name, "")
    }]
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;

    #[test]
    fn the_feed_and_its_outlet_are_named() {
        let mut sample = Sample::new();
        sample.project.bar.rows[1].left_out = true;
        let finding = sample.only(RULE);
        assert_eq!((finding.severity, finding.place.as_str()), (Severity::Error, "Row 2"));
        assert_eq!(
            finding.what,
            "left out, but T2 still ends there: 0.270 L/min run out at 9 km/h, which the other rows lack"
        );
        assert_eq!(finding.advice, "remove T2 and put a plug on M1/2, or sow this row");
        sample.routing.feeds.remove(1);
        assert!(sample.of(RULE).is_empty());
    }

    #[test]
    fn one_branch_of_a_shared_feed_counts_too() {
        let mut sample = Sample::new();
        sample.share_first_two();
        sample.project.bar.rows[1].left_out = true;
        assert!(sample.only(RULE).advice.contains("off the small tee"));
    }
}
