//! Parts, hoses and tubes, those that hang free at a hinge among them, that are caught between two sections when the bar folds.

use std::collections::BTreeMap;

use super::finding::{Finding, FindingSubject, Severity};
use super::words::list;
use super::{Context, Rule};
use crate::geometry::{Point3, RigidMotion};
use crate::plan::clash::Clash;
use crate::plan::clash_search::clashes;
use crate::plan::solids::Obstacle;
use crate::plan::{SectionId, Subject};
use crate::quantities::{Length, Measure};

pub(super) const RULE: Rule = Rule {
    name: "fold clearance",
    about: "A part, hose or tube that a frame member, an opener or a part on another section comes too near to, anywhere between \
            the lowest angle at work and transport position; sizes of openers are assumed",
    by_speed: false,
    check,
};

fn check(here: &Context) -> Vec<Finding> {
    // What is caught between the same two sections is told together.
    let mut between: BTreeMap<[SectionId; 2], Vec<&Clash<Subject>>> = BTreeMap::new();
    for one in &clashes(here.project, here.routing).plumbing {
        between.entry([one.on, one.from]).or_default().push(one);
    }
    between.into_iter().filter_map(|(sections, caught)| told(here, sections, caught)).collect()
}

fn told(here: &Context, [on, from]: [SectionId; 2], caught: Vec<&Clash<Subject>>) -> Option<Finding> {
    let worst = caught.iter().min_by(|a, b| a.gap.si().total_cmp(&b.gap.si()))?;
    let name = |id: SectionId| {
        here.project.bar.section(id).map_or_else(|| "a missing section".to_owned(), |one| one.name.clone())
    };
    let by = |one: &Clash<Subject>| match one.by {
        Obstacle::Frame(_) => "the frame".to_owned(),
        Obstacle::Opener(row) => format!("the opener of {}", here.row_words_inside(&[row])),
        Obstacle::Part(part) => here.part_tag(part),
    };
    let how = |one: &Clash<Subject>| {
        let size = Length::metres(one.gap.si().abs());
        let by = by(one);
        if one.gap.si() < 0.0 {
            format!("{} into {by}, {}", here.text(Measure::CutLength, size), one.at.words())
        } else {
            format!("{} from {by}, {}", here.text(Measure::CutLength, size), one.at.words())
        }
    };
    let with_opener = caught.iter().any(|one| matches!(one.by, Obstacle::Opener(_)));
    let assumed = if with_opener { " (openers as assumed in the limits)" } else { "" };
    let tags: Vec<String> = caught.iter().map(|one| here.tag(one.caught)).collect();
    let of = if caught.len() > 1 { format!("{} ", here.tag(worst.caught)) } else { String::new() };
    Some(Finding {
        severity: Severity::Error,
        extent: Some(here.project.limits.fold_clearance.si() - worst.gap.si()),
        place: list(&tags),
        what: format!(
            "caught between {} and {} when the bar folds: {of}comes {}{assumed}",
            name(on),
            name(from),
            how(worst)
        ),
        each: if caught.len() > 1 {
            caught.iter().map(|one| format!("{}: {}", here.tag(one.caught), how(one))).collect()
        } else {
            Vec::new()
        },
        advice: format!(
            "move it away from where the sections meet, or lay it lower{}; try the fold slowly, with someone watching",
            hinge_line(here, [on, from], worst).unwrap_or_default()
        ),
        subjects: caught.iter().map(|one| FindingSubject::from(one.caught)).collect(),
        fold: Some(worst.at),
        ..here.finding(RULE.name, "")
    })
}

/// Of a wing that is laid on another section as good as flat: from here on, degrees.
const LAID: f64 = 150.0;

/// Where the hinge line of a wing that is laid on another section would have to be for what is caught between them to clear.
fn hinge_line(here: &Context, [on, from]: [SectionId; 2], worst: &Clash<Subject>) -> Option<String> {
    let bar = &here.project.bar;
    let [id] = bar.hinges_between(on, from)[..] else { return None };
    let section = bar.section(id)?;
    let hinge = section.hinge.filter(|hinge| !hinge.is_upright())?;
    let turned = hinge.angle(bar, worst.at).si();
    if turned.abs().to_degrees() < LAID {
        return None;
    }
    // A line that is higher lifts what has turned by an angle by 1 - cos of it.
    let lacks = here.project.limits.fold_clearance.si() - worst.gap.si();
    let by = lacks / (1.0 - turned.cos());
    let tip = Point3::new(f64::midpoint(section.left.si(), section.right.si()), hinge.point.y, hinge.point.z);
    let up = RigidMotion::about(hinge.point, hinge.axis, turned / 4.0).place(tip).z > hinge.point.z;
    let height = Length::metres(if up { hinge.point.z + by } else { hinge.point.z - by });
    Some(format!(
        ", or put the hinge line of {} about {} above the ground, not {}",
        section.name,
        here.text(Measure::Distance, height),
        here.text(Measure::Distance, Length::metres(hinge.point.z))
    ))
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;
    use crate::plan::FrameMember;

    /// Two sections 1.2 m long, hinged at x = 0 and 0.9 m high about a fore-aft line; the right one folds over by so much. The left
    /// one has a rail at 0.6 m in the rank of the right one's.
    fn folding(degrees: f64) -> Sample {
        let mut sample = Sample::two_wings(8);
        sample.fold_wing(0.9, degrees);
        sample.resolve();
        sample
    }

    fn rail(from: f64, to: f64, y: f64, z: f64) -> FrameMember {
        FrameMember { from: Point3::new(from, y, z), to: Point3::new(to, y, z), width: Length::metres(0.1) }
    }

    /// Folded by 180 degrees about a line at 0.9 m, a rail 0.3 m below it comes to 0.3 m above it: 0.6 m over the manifold on the
    /// left at 0.6 m. The manifold, 8 outlets of 40 mm, is as thick as its body says (all by hand).
    #[test]
    fn what_a_wing_folds_down_on_is_told_by_the_room_that_is_left() {
        let mut sample = folding(180.0);
        sample.project.bar.sections[1].members = vec![rail(0.1, 1.1, 0.5, 0.6)];
        assert_eq!(sample.of(RULE), [], "0.6 m of room");
        // A rail above the hinge line by 0.2 m comes down to 0.7 m: on the manifold at 0.6 m.
        sample.project.bar.sections[1].members = vec![rail(0.1, 1.1, 0.5, 1.1)];
        let found = sample.of(RULE);
        let finding = found.iter().find(|one| one.place.contains("M1")).unwrap();
        assert_eq!(finding.severity, Severity::Error);
        assert!(finding.fold.unwrap().as_share() > 0.9, "{finding}");
        let thick = sample.project.catalogue.item(&sample.routing.parts[1].entry).unwrap().body().half_depth;
        let gap = 0.1 - 0.05 - thick;
        let told = -finding.extent.unwrap() + sample.project.limits.fold_clearance.si();
        assert!((told - gap).abs() < 2e-3, "{told} {gap}");
        // With the hinge line where the advice puts it, up to its last digit, it clears.
        let lacks = sample.project.limits.fold_clearance.si() - gap;
        let height = 0.9 + lacks / 2.0;
        assert!(
            finding.advice.contains(&format!("about {height:.2} m above the ground, not 0.90 m")),
            "{finding}"
        );
        sample.fold_wing(height + 0.005, 180.0);
        assert!(sample.of(RULE).iter().all(|one| !one.place.contains("M1")));
    }

    /// The same gap by brute force, position by position: what is in the way only in the middle of the fold is found too.
    #[test]
    fn what_a_wing_passes_on_its_way_is_found_with_its_position() {
        let mut sample = folding(180.0);
        // A rail that stands out 0.25 m to the right of the hinge line sweeps a quarter circle over the hinge.
        sample.project.bar.sections[1].members = vec![rail(0.25, 0.30, 0.5, 0.9)];
        let run = &mut sample.routing.runs[1];
        run.line.waypoints.clear();
        // A hose on the left section that stands 0.25 m above the hinge line.
        let over = [Point3::new(-0.02, 0.5, 1.15), Point3::new(-0.03, 0.75, 1.15)];
        let over = over.map(|place| crate::plan::BarPoint { place, section: SectionId(1) });
        sample.routing.runs[1].line.waypoints = over.to_vec();
        sample.resolve();
        let found = sample.of(RULE);
        let finding = found.iter().find(|one| one.place.contains("H2")).unwrap();
        let at = finding.fold.unwrap().as_share();
        assert!((at - 0.5).abs() < 0.05, "straight up: {at}");
        // Far enough to the side it passes.
        for waypoint in &mut sample.routing.runs[1].line.waypoints {
            waypoint.place.y += 0.2;
        }
        sample.resolve();
        assert!(sample.of(RULE).iter().all(|one| !one.place.contains("H2")));
    }

    #[test]
    fn an_opener_that_comes_down_on_a_hose_is_told_as_assumed() {
        let mut sample = folding(180.0);
        let way = [(-0.2, 0.0), (-0.9, 0.0), (-0.9, 0.75)].map(|(x, y)| Point3::new(x, y, 0.6));
        sample.routing.runs[1].line.waypoints = sample.over(&way);
        sample.resolve();
        // Outlets at 0.1 m come to 1.7 m and openers from there down to 1.2 m.
        assert_eq!(sample.of(RULE), []);
        sample.project.limits.opener_height = Length::metres(1.15);
        let found = sample.of(RULE);
        assert!(!found.is_empty());
        assert!(found.iter().all(|one| one.what.contains("openers as assumed")), "{found:?}");
    }

    /// A rail at 0.85 m on the right wing folds about a line at 0.6 m down to 0.35 m, between 0.1 and 0.2 m left of it: through the
    /// tube that goes down along the opener of the row there, 0.15 m from the middle (by hand).
    #[test]
    fn the_end_of_a_tube_along_its_opener_is_caught_too() {
        let mut sample = folding(180.0);
        sample.fold_wing(0.6, 180.0);
        sample.project.bar.sections[1].members = vec![rail(0.1, 0.2, 0.0, 0.85)];
        let down = sample.over(&[Point3::new(-0.15, 0.0, 0.6)]);
        let crate::plan::FeedElement::Tube(tube) = &mut sample.routing.feeds[3].branches[0].elements[0]
        else {
            unreachable!()
        };
        tube.line.waypoints = down;
        sample.resolve();
        let into_frame = |sample: &Sample| {
            let found = sample.of(RULE);
            let mut each = found.into_iter().flat_map(|one| one.each);
            each.any(|one| one.starts_with("T4") && one.contains("into the frame"))
        };
        assert!(into_frame(&sample));
        // Beside it by more than both are thick.
        sample.project.bar.sections[1].members[0].from.y -= 0.3;
        sample.project.bar.sections[1].members[0].to.y -= 0.3;
        sample.resolve();
        assert!(!into_frame(&sample));
    }
}
