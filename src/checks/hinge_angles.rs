//! Hinges that turn as no wing does: up where it should follow the ground downwards, farther than wings follow it, into the
//! ground, or the other way than the wing on the other side.
//!
//! Older projects hold the lowest angle of right wings with the sign that lifts them.

use super::finding::{Finding, FindingSubject, Severity};
use super::{Context, Rule};
use crate::geometry::{Point3, RigidMotion};
use crate::plan::{FoldPosition, FoldSweep, FoldedBar, Hinge, Section};
use crate::quantities::{Angle, Length, Measure};

pub(super) const RULE: Rule = Rule {
    name: "hinge angles",
    about: "A wing whose lowest angle at work lifts it, that follows the ground farther than 30° (common practice, no source), that \
            folds into the ground, or that folds the other way than the wing on the other side",
    by_speed: false,
    check,
};

/// Farther no wing follows the ground at work, degrees (common practice, no source).
const FOLLOWS: f64 = 30.0;
/// A tip that goes up or down by less than this stays where it is, metres.
const STAYS: f64 = 0.01;
/// Hinges whose places differ by less than this from each other's mirror image are a pair, metres.
const ALIKE: f64 = 0.05;

fn check(here: &Context) -> Vec<Finding> {
    let bar = &here.project.bar;
    let hinged = || bar.sections.iter().filter_map(|section| Some((section, section.hinge?)));
    let mut found = Vec::new();
    for (section, hinge) in hinged() {
        found.extend(at_work(here, section, &hinge));
    }
    for (index, (section, hinge)) in hinged().enumerate() {
        let other = hinged().skip(index + 1).find(|(_, other)| is_mirrored(&hinge, other));
        found.extend(other.and_then(|(other, its)| unlike(here, (section, &hinge), (other, &its))));
    }
    found.extend(into_the_ground(here));
    found
}

/// The end of a section that is farther from its hinge, in the plane in which it turns.
fn tip(section: &Section, hinge: &Hinge) -> Point3 {
    let away = |x: &Length| (x.si() - hinge.point.x).abs();
    let x = if away(&section.left) > away(&section.right) { section.left } else { section.right };
    Point3::new(x.si(), hinge.point.y, hinge.point.z)
}

/// Where its tip goes when a hinge alone turns by an angle.
fn way(section: &Section, hinge: &Hinge, angle: Angle) -> Point3 {
    let tip = tip(section, hinge);
    RigidMotion::about(hinge.point, hinge.axis, angle.si()).place(tip) - tip
}

fn at_work(here: &Context, section: &Section, hinge: &Hinge) -> Option<Finding> {
    let angle = here.short(Measure::Angle, Angle::from_si(hinge.lowest.si().abs()));
    let rises = way(section, hinge, hinge.lowest).z;
    let is_far = hinge.lowest.si().abs().to_degrees() > FOLLOWS + 1e-9;
    let lifts = rises > STAYS;
    if !is_far && !lifts {
        return None;
    }
    let by = here.text(Measure::Distance, Length::metres(rises.abs()));
    let what = if lifts {
        format!(
            "the lowest angle of {} at work, {angle}, lifts its tip by {by} instead of letting it sink",
            section.name
        )
    } else {
        format!("the lowest angle of {} at work is {angle}: no wing follows the ground so far", section.name)
    };
    let advice = if is_far {
        "measure how far it sinks below level at work, and enter that as its lowest angle".to_owned()
    } else {
        "give its lowest angle the other sign: older projects hold it so for right wings; lengths at its hinge are computed \
         with it"
            .to_owned()
    };
    let case = if is_far { "too far" } else { "lifts" };
    Some(Finding {
        severity: if is_far { Severity::Error } else { Severity::Warning },
        place: "Bar".to_owned(),
        what,
        advice,
        subjects: vec![FindingSubject::Project],
        fold: Some(FoldPosition::WORKING),
        ..here.finding(RULE.name, &format!("{case} {}", section.id.0))
    })
}

fn is_mirrored(one: &Hinge, other: &Hinge) -> bool {
    let mirror = Point3::new(-other.point.x, other.point.y, other.point.z);
    one.point.x.abs() > ALIKE && one.point.distance(mirror) < ALIKE
}

fn unlike(here: &Context, one: (&Section, &Hinge), other: (&Section, &Hinge)) -> Option<Finding> {
    let turn = |(section, hinge): (&Section, &Hinge)| way(section, hinge, hinge.folded);
    let (a, b) = (turn(one), turn(other));
    let apart = |a: f64, b: f64| a * b < 0.0 && a.abs().min(b.abs()) > STAYS;
    let (ways, up) = if apart(a.z, b.z) {
        (["down", "up"], a.z > 0.0)
    } else if apart(a.y, b.y) {
        (["back", "forward"], a.y > 0.0)
    } else {
        return None;
    };
    let words = |up: bool| ways[usize::from(up)];
    Some(Finding {
        severity: Severity::Warning,
        place: "Bar".to_owned(),
        what: format!(
            "left and right hinge differ in sign: on the road {} is {}, {} {}",
            one.0.name,
            words(up),
            other.0.name,
            words(!up)
        ),
        advice: "give one of their angles the other sign, unless the machine folds so".to_owned(),
        subjects: vec![FindingSubject::Project],
        fold: Some(FoldPosition::TRANSPORT),
        ..here.finding(RULE.name, &format!("unlike {} {}", one.0.id.0, other.0.id.0))
    })
}

/// Of each section that goes below the ground while the bar folds how deep, and where it first does; one that only hangs on
/// such a section says nothing new.
fn into_the_ground(here: &Context) -> Vec<Finding> {
    let bar = &here.project.bar;
    let low = |folded: &FoldedBar, section: &Section| {
        let motion = folded.motion(section.id);
        let ends = section.members.iter().flat_map(|member| {
            [member.from, member.to].map(|end| motion.place(end).z - member.width.si() / 2.0)
        });
        let hinge = section.hinge.map(|hinge| motion.place(tip(section, &hinge)).z);
        ends.chain(hinge).fold(f64::INFINITY, f64::min)
    };
    let sweep = FoldSweep::of(bar);
    let mut found: Vec<(&Section, FoldPosition, f64)> = Vec::new();
    for section in bar.sections.iter().filter(|section| section.hinge.is_some()) {
        let parent = section.hinge.map(|hinge| hinge.parent);
        if found.iter().any(|(known, ..)| Some(known.id) == parent) {
            continue;
        }
        let lows: Vec<(FoldPosition, f64)> =
            sweep.positions().iter().map(|(at, folded)| (*at, low(folded, section))).collect();
        // What stands in the ground at work stands so by its heights.
        let under = lows.first().map_or(0.0, |one| one.1).min(0.0) - STAYS;
        if let Some((at, _)) = lows.iter().find(|one| one.1 < under) {
            let lowest = lows.iter().fold(f64::INFINITY, |least, one| least.min(one.1));
            found.push((section, *at, lowest));
        }
    }
    let told = found.into_iter().map(|(section, at, lowest)| Finding {
        severity: Severity::Error,
        extent: Some(-lowest),
        place: "Bar".to_owned(),
        what: format!(
            "{} folds into the ground: its frame comes to {} below it, and meets it {}",
            section.name,
            here.text(Measure::Distance, Length::metres(-lowest)),
            at.words()
        ),
        advice: "give its hinge the other sign, a smaller angle or a step in which what carries it is up"
            .to_owned(),
        subjects: vec![FindingSubject::Project],
        fold: Some(at),
        ..here.finding(RULE.name, &format!("into the ground {}", section.id.0))
    });
    told.collect()
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;
    use crate::plan::FrameMember;
    use crate::plan::SectionId;

    /// A wing of 1.2 m at x = 0 on a hinge 0.6 m high, with a rail at its height.
    fn wing(lowest: f64, folded: f64) -> Vec<Finding> {
        let mut sample = Sample::two_wings(8);
        sample.fold_wing(0.6, folded);
        sample.project.bar.sections[1].hinge.as_mut().unwrap().lowest = Angle::degrees(lowest);
        let rail = |x: f64| Point3::new(x, 0.0, 0.6);
        sample.project.bar.sections[1].members =
            vec![FrameMember { from: rail(0.05), to: rail(1.1), width: Length::metres(0.1) }];
        sample.of(RULE)
    }

    /// Positive angles lift the right wing here: 1.2 m · sin 5° = 0.105 m (by hand).
    #[test]
    fn a_lowest_angle_that_lifts_or_that_no_wing_has_is_told() {
        assert_eq!(wing(-5.0, 90.0), []);
        assert_eq!(wing(-30.0, 90.0), []);
        let found = wing(5.0, 90.0);
        assert_eq!((found.len(), found[0].severity), (1, Severity::Warning), "{found:?}");
        assert!(found[0].what.contains("5°") && found[0].what.contains("0.10 m"), "{}", found[0].what);
        for degrees in [57.0, -31.0] {
            let found = wing(degrees, 90.0);
            assert_eq!((found.len(), found[0].severity), (1, Severity::Error), "{found:?}");
        }
    }

    /// Straight down the rail's end comes to 0.6 - 1.1 - 0.05 = -0.55 m, the tip to 0.6 - 1.2 = -0.6 m; it meets the ground where
    /// 1.1 sin a + 0.05 or 1.2 sin a is 0.6 m: at 30 degrees (by hand).
    #[test]
    fn a_wing_that_folds_straight_down_goes_into_the_ground() {
        let found = wing(0.0, -90.0);
        assert_eq!((found.len(), found[0].severity), (1, Severity::Error), "{found:?}");
        assert!((found[0].extent.unwrap() - 0.6).abs() < 1e-3, "{found:?}");
        let at = found[0].fold.unwrap().as_share();
        assert!((at - 30.0 / 90.0).abs() < 0.02, "{at}");
        assert_eq!(wing(0.0, -25.0), []);
    }

    #[test]
    fn wings_that_fold_opposite_ways_are_told_and_mirror_images_are_not() {
        let mut sample = Sample::two_wings(8);
        let mut wings = |left: f64, right: f64| {
            let centre = crate::plan::Section {
                id: SectionId(9),
                name: "centre".into(),
                left: Length::metres(-0.2),
                right: Length::metres(0.2),
                hinge: None,
                members: Vec::new(),
            };
            let hinge = |x: f64, degrees: f64| Hinge {
                parent: SectionId(9),
                point: Point3::new(x, 0.0, 2.6),
                axis: Point3::new(0.0, 1.0, 0.0),
                lowest: Angle::ZERO,
                folded: Angle::degrees(degrees),
                step: Hinge::FIRST_STEP,
            };
            let sections = &mut sample.project.bar.sections;
            sections.retain(|section| section.id != SectionId(9));
            sections.insert(0, centre);
            sections[1].hinge = Some(hinge(-0.2, left));
            sections[2].hinge = Some(hinge(0.2, right));
            sample.of(RULE)
        };
        assert_eq!(wings(90.0, -90.0), []);
        assert_eq!(wings(-20.0, 20.0), []);
        let found = wings(90.0, 90.0);
        assert_eq!(found.len(), 1, "{found:?}");
        assert!(found[0].what.contains("on the road left is up, right down"), "{}", found[0].what);
    }
}
