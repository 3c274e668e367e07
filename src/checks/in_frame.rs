//! Parts that stand in a frame member of their section.

use super::finding::{Finding, FindingSubject, Severity};
use super::words::list;
use super::{Context, Rule};
use crate::plan::PlacedPart;
use crate::plan::solids::part_shape;
use crate::plan::through_frame::stands_in;

pub(super) const RULE: Rule = Rule {
    name: "part in the frame",
    about: "A part that stands in a frame member of its section, the middle of one in the other, a part taken to be as high as it \
            is deep (common practice, no source); members of other sections are told by fold clearance",
    by_speed: false,
    check,
};

/// A part that stands in a frame member.
struct Inside {
    subject: FindingSubject,
    tag: String,
    section: String,
}

fn check(here: &Context) -> Vec<Finding> {
    let inside = |placed: &PlacedPart| {
        let shape = part_shape(here.project, &here.routing, placed)?;
        let section = here.project.bar.section(placed.section)?;
        section.members.iter().any(|member| stands_in(member, &shape)).then(|| Inside {
            subject: FindingSubject::Part(placed.id),
            tag: here.part_tag(placed.id),
            section: section.name.clone(),
        })
    };
    let found: Vec<Inside> = here.routing.geometry.anchors.parts().iter().filter_map(inside).collect();
    if found.is_empty() {
        return Vec::new();
    }
    let mut sections: Vec<String> = found.iter().map(|one| one.section.clone()).collect();
    sections.sort();
    sections.dedup();
    let (stand, it) = if found.len() == 1 { ("stands", "it") } else { ("stand", "them") };
    vec![Finding {
        severity: Severity::Warning,
        place: list(&found.iter().map(|one| one.tag.clone()).collect::<Vec<_>>()),
        what: format!("{stand} in a frame member of {}", list(&sections)),
        advice: format!("move {it} beside the member, or give {it} a height over or under it"),
        each: if found.len() > 1 {
            found.iter().map(|one| format!("{}: in a frame member of {}", one.tag, one.section)).collect()
        } else {
            Vec::new()
        },
        subjects: found.iter().map(|one| one.subject).collect(),
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
    fn a_part_in_a_member_is_told_and_one_on_it_is_not() {
        let mut sample = Sample::new();
        assert!(sample.of(RULE).is_empty());
        let part = sample.routing.parts.iter().find(|part| part.mount.is_none()).unwrap().clone();
        let at = sample.geometry().anchors.part(part.id).unwrap().at;
        let mut with_member = |lower: f64| {
            let end = |y: f64| at + Point3::new(0.0, y, -lower);
            let member = FrameMember { from: end(-0.15), to: end(0.15), width: Length::metres(0.1) };
            let own = sample.project.bar.sections.iter_mut().find(|one| one.id == part.section).unwrap();
            own.members = vec![member];
            sample.resolve();
            sample.of(RULE)
        };
        assert!(with_member(0.11).is_empty(), "it lies on it");
        let found = with_member(0.0);
        assert_eq!(found.len(), 1);
        assert_eq!((found[0].severity, found[0].place.as_str()), (Severity::Warning, part.tag.as_str()));
        assert_eq!(found[0].what, "stands in a frame member of centre");
        assert_eq!(found[0].subjects, [FindingSubject::Part(part.id)]);
    }
}
