//! Delivery tubes that hang free over open frame, with no member to tie them to.

use super::finding::{Finding, FindingSubject, Severity};
use super::no_carrier::no_carrier;
use super::words::span;
use super::{Context, Rule};
use crate::plan::open_air::{FreeSpan, nearest_member};
use crate::plan::place_words::{place_letters, position};
use crate::plan::words::{counted, ranges};
use crate::plan::{FeedId, RowId, Subject};
use crate::quantities::{Length, Measure};

pub(super) const RULE: Rule = Rule {
    name: "open frame",
    about: "A delivery tube that hangs free over more than 0.5 m, where no frame member leads",
    by_speed: false,
    check,
};

fn check(here: &Context) -> Vec<Finding> {
    let (mut rows, mut feeds) = (Vec::new(), Vec::new());
    let (mut least, mut most) = (f64::INFINITY, 0.0f64);
    // Where the nearest member is, with the rows that could be tied to it there.
    let mut ties: Vec<(String, Vec<RowId>)> = Vec::new();
    let bar = &here.project.bar;
    // Of each feed the tube that hangs farthest.
    let mut hanging: Vec<(FeedId, FreeSpan)> = Vec::new();
    for line in here.hung_lines() {
        let Subject::Feed(feed) = line.held.of else { continue };
        let Some(span) = line.hanging(bar) else { continue };
        match hanging.last_mut().filter(|one| one.0 == feed) {
            Some(one) if one.1.length >= span.length => {}
            Some(one) => one.1 = span,
            None => hanging.push((feed, span)),
        }
    }
    for (id, free) in hanging {
        let Some(feed) = here.routing.feed(id) else { continue };
        feeds.push(FindingSubject::Feed(id));
        let of_feed: Vec<RowId> = feed.branches.iter().map(|branch| branch.row).collect();
        if let Some(tie) = nearest_member(bar, free.middle) {
            let at = position(bar, tie.place, tie.section, here.project.units);
            match ties.iter_mut().find(|one| one.0 == at) {
                Some(one) => one.1.extend(&of_feed),
                None => ties.push((at, of_feed.clone())),
            }
        }
        rows.extend(of_feed);
        (least, most) = (least.min(free.length), most.max(free.length));
    }
    if rows.is_empty() {
        return Vec::new();
    }
    let (least, most) = (Length::metres(least), Length::metres(most));
    let number = |row: &RowId| here.project.bar.row(*row).map(|row| row.number);
    let each = ties.iter().map(|(at, rows)| {
        let numbers: Vec<u32> = rows.iter().filter_map(number).collect();
        format!("{} {}: {at}", if numbers.len() == 1 { "row" } else { "rows" }, ranges(&numbers))
    });
    let of_feeds = |of| matches!(of, Subject::Feed(feed) if feeds.contains(&FindingSubject::Feed(feed)));
    let (without, in_the_way) = no_carrier(here, of_feeds).unwrap_or_default();
    vec![Finding {
        severity: Severity::Note,
        extent: Some(most.si()),
        place: here.row_words(&rows),
        what: format!(
            "tubes of {} hang free over open frame: {} without a member to tie them to; the nearest to the middle of that is \
             given row by row ({}){without}",
            counted(rows.len(), "row"),
            span(Measure::Distance, least, most, here.project.units),
            place_letters(here.project.units)
        ),
        each: each.collect(),
        advice: "lay them along the frame, move the manifold, or fit a carrier across where one can stand"
            .to_owned(),
        also: in_the_way,
        subjects: feeds,
        ..here.finding(RULE.name, "")
    }]
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;
    use crate::geometry::Point3;
    use crate::plan::FrameMember;

    /// A rail over the outlets of the rows, at y = 0, and one so far behind the manifold's outlets.
    fn with_rails(behind: f64) -> Sample {
        let mut sample = Sample::new();
        let rail = |y: f64| FrameMember {
            from: Point3::new(-1.0, y, 0.6),
            to: Point3::new(1.0, y, 0.6),
            width: Length::metres(0.1),
        };
        sample.project.bar.sections[0].members = vec![rail(0.0), rail(behind)];
        sample.routing.parts[1].position = Point3::new(0.0, behind, 0.6);
        sample.resolve();
        sample
    }

    #[test]
    fn tubes_over_a_wide_gap_are_told_once_for_all_rows() {
        let finding = with_rails(1.2).only(RULE);
        assert_eq!((finding.severity, finding.place.as_str()), (Severity::Note, "Rows 1 to 4"));
        assert!(finding.what.contains("without a member"), "{}", finding.what);
        assert_eq!(finding.subjects.len(), 4);
        // The rails are the nearest members on both sides of the gap, straight before or behind each row.
        assert!(
            finding.what.contains("tubes of 4 rows") && finding.what.contains("(mm: "),
            "{}",
            finding.what
        );
        assert!(finding.each.iter().all(|one| one.starts_with("row") && one.contains(", F ")), "{finding:?}");
        let rows: usize =
            finding.each.iter().map(|one| one.split(": ").next().unwrap().split(" and ").count()).sum();
        assert_eq!(rows, 4, "{:?}", finding.each);
        assert!(with_rails(0.4).of(RULE).is_empty());
    }
}
