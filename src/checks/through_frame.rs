//! Hoses that are drawn through a frame member. Tubes go down to openers that hang beside the members, and are drawn as if these
//! were in line: where they pass a member is nobody's drawing.

use super::finding::{Finding, FindingSubject, Severity};
use super::words::{is_or_are, list};
use super::{Context, Rule};
use crate::plan::through_frame::passed_through;

pub(super) const RULE: Rule = Rule {
    name: "through the frame",
    about: "A hose that is drawn through a frame member, and neither over nor under it",
    by_speed: false,
    check,
};

fn check(here: &Context) -> Vec<Finding> {
    let routing = here.routing;
    let mut found: Vec<(FindingSubject, String, Vec<String>)> = Vec::new();
    for run in &routing.runs {
        let Some(laid) = routing.geometry.run(run.id) else { continue };
        let path = laid.places();
        let of = passed_through(&here.project.bar.sections, &path);
        let of: Vec<String> = of.map(|section| here.section_name(section).to_owned()).collect();
        if !of.is_empty() {
            found.push((FindingSubject::Run(run.id), run.tag.clone(), of));
        }
    }
    if found.is_empty() {
        return Vec::new();
    }
    let mut sections: Vec<String> = Vec::new();
    for name in found.iter().flat_map(|one| &one.2) {
        if !sections.contains(name) {
            sections.push(name.clone());
        }
    }
    let tags: Vec<String> = found.iter().map(|one| one.1.clone()).collect();
    let each = |(_, tag, of): &(FindingSubject, String, Vec<String>)| {
        format!("{tag}: through a frame member of {}", list(of))
    };
    let it = if tags.len() == 1 { "it" } else { "them" };
    vec![Finding {
        severity: Severity::Note,
        place: list(&tags),
        what: format!("{} drawn through a frame member of {}", is_or_are(tags.len()), list(&sections)),
        advice: format!(
            "lead {it} over or under the member with a point at another height, or along the frame"
        ),
        each: if found.len() > 1 { found.iter().map(each).collect() } else { Vec::new() },
        subjects: found.iter().map(|one| one.0).collect(),
        ..here.finding(RULE.name, "")
    }]
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;
    use crate::geometry::Point3;
    use crate::plan::FrameMember;
    use crate::quantities::Length;

    #[test]
    fn a_hose_through_a_member_is_told_and_one_over_it_is_not() {
        let mut sample = Sample::new();
        assert!(sample.of(RULE).is_empty());
        let run = sample.routing.runs[1].clone();
        let laid = sample.geometry().run(run.id).unwrap().places();
        let middle = laid[0].towards(laid[1], 0.5);
        let (dx, dy) = (laid[1].x - laid[0].x, laid[1].y - laid[0].y);
        let across = Point3::new(-dy, dx, 0.0);
        let mut member = |down: f64| {
            let middle = Point3 { z: middle.z - down, ..middle };
            let (from, to) = (middle + across, middle - across);
            let width = Length::metres(0.1);
            sample.project.bar.sections[0].members = vec![FrameMember { from, to, width }];
            sample.resolve();
            sample.of(RULE)
        };
        assert!(member(0.1).is_empty());
        let found = member(0.0);
        assert_eq!(found.len(), 1);
        assert_eq!((found[0].severity, found[0].place.as_str()), (Severity::Note, run.tag.as_str()));
        assert_eq!(found[0].what, "is drawn through a frame member of centre");
        assert_eq!(found[0].subjects, [FindingSubject::Run(run.id)]);
    }
}
