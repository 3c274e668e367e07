//! Delivery tubes that hang free over open frame, with no member to tie them to.

use super::finding::{Finding, FindingSubject, Severity};
use super::words::span;
use super::{Context, Rule};
use crate::plan::frame_graph::FREE_TUBE;
use crate::plan::open_air::longest_free_span;
use crate::quantities::{Length, Measure};

pub(super) const RULE: Rule = Rule {
    name: "open frame",
    about: "A delivery tube that hangs free over more than 0.5 m, where no frame member leads",
    by_speed: false,
    check,
};

/// What a span may be longer than [`FREE_TUBE`] before it is told, metres: the last tie sits on a bracket.
const BRACKET: f64 = 0.1;

fn check(here: &Context) -> Vec<Finding> {
    let (mut rows, mut feeds) = (Vec::new(), Vec::new());
    let (mut least, mut most) = (f64::INFINITY, 0.0f64);
    for feed in &here.routing.feeds {
        let Some(laid) = here.routing.geometry.feed(feed.id) else { continue };
        let free =
            laid.tubes().map(|tube| longest_free_span(&here.project.bar, &tube.path)).fold(0.0, f64::max);
        if free > FREE_TUBE + BRACKET {
            feeds.push(FindingSubject::Feed(feed.id));
            rows.extend(feed.branches.iter().map(|branch| branch.row));
            (least, most) = (least.min(free), most.max(free));
        }
    }
    if rows.is_empty() {
        return Vec::new();
    }
    let (least, most) = (Length::metres(least), Length::metres(most));
    vec![Finding {
        severity: Severity::Note,
        extent: Some(most.si()),
        place: here.row_words(&rows),
        what: format!(
            "tubes hang free over open frame: {} without a member to tie them to",
            span(Measure::Distance, least, most, here.project.units)
        ),
        advice: "lay them along the frame, move the manifold, or fit a carrier across".to_owned(),
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
        assert!(with_rails(0.4).of(RULE).is_empty());
    }
}
