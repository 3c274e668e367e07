//! Hoses and tubes that are drawn through a part on which they don't end.

use std::collections::BTreeMap;

use super::finding::{Finding, FindingSubject, Severity};
use super::words::{is_or_are, list};
use super::{Context, Rule};
use crate::geometry::Point3;
use crate::plan::kinds::Body;
use crate::plan::through_body::PlacedBody;
use crate::plan::{FeedGeometry, FeedId, LaidRouting, PartId, PlacedPart, Subject};
use crate::quantities::Angle;

pub(super) const RULE: Rule = Rule {
    name: "through a part",
    about: "A hose or tube that is drawn through a part or small tee on which it does not end",
    by_speed: false,
    check,
};

/// Half of a small tee without its barbs, metres (common practice, no source).
const SMALL_TEE: Body = Body { half_length: 0.012, half_depth: 0.012 };

/// A hose or a tube as it is drawn.
struct DrawnLine {
    subject: FindingSubject,
    tag: String,
    path: Vec<Point3>,
    /// On what it ends.
    ends: Vec<PartId>,
}

fn drawn_lines(routing: LaidRouting) -> Vec<DrawnLine> {
    let runs = routing.runs.iter().filter_map(|run| {
        let ends = [run.from, run.to].iter().filter_map(|end| Some(end.port()?.part)).collect();
        let path = routing.geometry.run(run.id)?.places();
        Some(DrawnLine { subject: FindingSubject::Run(run.id), tag: run.tag.clone(), path, ends })
    });
    let feeds = routing.feeds.iter().flat_map(|feed| {
        let tubes = routing.geometry.feed(feed.id).into_iter().flat_map(FeedGeometry::tubes);
        tubes.map(|tube| DrawnLine {
            subject: FindingSubject::Feed(feed.id),
            tag: feed.tag.clone(),
            path: tube.places(),
            ends: feed.from.port().map(|port| port.part).into_iter().collect(),
        })
    });
    runs.chain(feeds).collect()
}

/// Something that lines are drawn through.
enum Passed {
    Part(PartId),
    SmallTee(FeedId),
}

/// Everything that lines are drawn through in the middle, neither above nor below it, with these lines and their tags, each once.
fn passed(routing: LaidRouting) -> Vec<(Passed, BTreeMap<FindingSubject, String>)> {
    let lines = drawn_lines(routing);
    let through = |ends_there: &dyn Fn(&DrawnLine) -> bool, body: PlacedBody| {
        let found = lines.iter().filter(|line| !ends_there(line) && body.is_passed_through(&line.path));
        found.map(|line| (line.subject, line.tag.clone())).collect::<BTreeMap<_, _>>()
    };
    let parts = routing.parts.iter().filter_map(|part| {
        let &PlacedPart { at, turn, body, .. } = routing.geometry.anchors.part(part.id)?;
        // A line through the middle half of a symbol goes through the part.
        let body = body?;
        let middle = PlacedBody { at, turn, body: body.middle(), half_height: body.half_depth };
        Some((Passed::Part(part.id), through(&|line| line.ends.contains(&part.id), middle)))
    });
    let tees = routing.feeds.iter().filter_map(|feed| {
        let at = feed.split.as_ref()?.position.place;
        let own = FindingSubject::Feed(feed.id);
        let half_height = SMALL_TEE.half_depth;
        let tee = PlacedBody { at, turn: Angle::ZERO, body: SMALL_TEE, half_height };
        Some((Passed::SmallTee(feed.id), through(&|line| line.subject == own, tee)))
    });
    parts.chain(tees).filter(|(_, found)| !found.is_empty()).collect()
}

/// How often a line of a routing is drawn through something on which it does not end.
pub fn times_through(routing: LaidRouting) -> usize {
    passed(routing).iter().map(|(_, found)| found.len()).sum()
}

fn check(here: &Context) -> Vec<Finding> {
    let told = |(through, found): (Passed, BTreeMap<FindingSubject, String>)| {
        let (place, also) = match through {
            Passed::Part(id) => (here.tag(Subject::Part(id)), FindingSubject::Part(id)),
            Passed::SmallTee(id) => {
                (format!("Small tee of {}", here.tag(Subject::Feed(id))), FindingSubject::Feed(id))
            }
        };
        let (subjects, tags): (Vec<FindingSubject>, Vec<String>) = found.into_iter().unzip();
        let it = if tags.len() == 1 { "it" } else { "them" };
        Finding {
            severity: Severity::Note,
            place,
            what: format!("{} {} drawn through it", list(&tags), is_or_are(tags.len())),
            advice: format!("lay {it} round it, or over or beneath it with another height, or move it"),
            subjects,
            also: vec![also],
            ..here.finding(RULE.name, "")
        }
    };
    passed(here.routing).into_iter().map(told).collect()
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;
    use crate::plan::{BarPoint, RoutingGeometry};

    /// A hose of the sample, led over a point.
    fn led_over(sample: &mut Sample, place: Point3) {
        let section = sample.routing.parts[1].section;
        sample.routing.runs[0].line.waypoints = vec![BarPoint { place, section }];
        sample.resolve();
    }

    #[test]
    fn a_hose_through_a_part_it_does_not_end_on_is_told_and_one_above_it_is_not() {
        let mut sample = Sample::new();
        assert!(sample.of(RULE).is_empty());
        let run = sample.routing.runs[0].clone();
        let ends = [run.from, run.to].map(|end| end.port().map(|port| port.part));
        let other = sample.routing.parts.iter().find(|part| {
            !ends.contains(&Some(part.id))
                && sample.project.catalogue.item(&part.entry).is_some_and(|item| !item.is_on_port())
        });
        let other = other.expect("a part that the hose does not end on").clone();
        led_over(&mut sample, other.position);
        let finding = sample.only(RULE);
        assert_eq!((finding.severity, finding.place.as_str()), (Severity::Note, other.tag.as_str()));
        assert_eq!(finding.what, format!("{} is drawn through it", run.tag));
        assert_eq!(finding.subjects, [FindingSubject::Run(run.id)]);
        let passed = |sample: &Sample| {
            let geometry = RoutingGeometry::working(&sample.project, &sample.routing);
            times_through(geometry.with(&sample.routing))
        };
        assert_eq!(passed(&sample), 1);
        let above = Point3 { z: other.position.z + 0.5, ..other.position };
        led_over(&mut sample, above);
        assert!(sample.of(RULE).is_empty(), "it passes over the part");
        assert_eq!(passed(&sample), 0);
    }
}
