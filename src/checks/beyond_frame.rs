//! Parts and hoses that stand out of the folded frame on the road.

use super::finding::{Finding, FindingSubject, Severity};
use super::words::list;
use super::{Context, Rule};
use crate::geometry::{Box3, Capsule};
use crate::plan::solids::{frame, openers, plumbing};
use crate::plan::{FoldPosition, FoldedBar, Subject};
use crate::quantities::{Length, Measure};

pub(super) const RULE: Rule = Rule {
    name: "beyond the folded frame",
    about: "A part, hose or tube that makes the bar wider or higher on the road than its frame and openers do: it is torn off \
            first; sizes of openers are assumed",
    by_speed: false,
    check,
};

/// What stands out by less than this is as far out as the frame, metres: half a tube and its tie (common practice, no source).
const STANDS_OUT: f64 = 0.02;

fn check(here: &Context) -> Vec<Finding> {
    let project = here.project;
    // What does not fold has the shape that it works in.
    if project.bar.sections.iter().all(|section| section.hinge.is_none()) {
        return Vec::new();
    }
    let folded = FoldedBar::at(&project.bar, FoldPosition::TRANSPORT);
    let members = frame(&project.bar);
    if members.is_empty() {
        return Vec::new();
    }
    let place = |shape: &Capsule, section| {
        let motion = folded.motion(section);
        shape.moved(|point| motion.place(point)).bounds()
    };
    let machine = members
        .iter()
        .chain(&openers(&project.bar, &project.limits))
        .fold(Box3::EMPTY, |all, one| all.with(&place(&one.shape, one.section)));
    let mut out: Vec<(Subject, f64, &'static str)> = Vec::new();
    for thing in plumbing(project, here.routing) {
        // The supply hose leads to the tractor, which does not fold.
        if let Subject::Run(id) = thing.of
            && here.routing.run(id).is_some_and(|run| [run.from, run.to].contains(&crate::plan::End::Supply))
        {
            continue;
        }
        let bounds = place(&thing.shape, thing.section);
        let sides = [
            (machine.min.x - bounds.min.x, "at the left"),
            (bounds.max.x - machine.max.x, "at the right"),
            (bounds.max.z - machine.max.z, "at the top"),
        ];
        let Some((by, side)) = sides.into_iter().max_by(|a, b| a.0.total_cmp(&b.0)) else { continue };
        if by <= STANDS_OUT {
            continue;
        }
        match out.iter_mut().find(|known| known.0 == thing.of) {
            Some(known) if known.1 < by => *known = (thing.of, by, side),
            Some(_) => {}
            None => out.push((thing.of, by, side)),
        }
    }
    out.sort_by(|a, b| b.1.total_cmp(&a.1));
    let Some((worst, by, side)) = out.first() else { return Vec::new() };
    let text = |by: f64| here.text(Measure::CutLength, Length::metres(by));
    let of = if out.len() > 1 { format!("{} ", here.tag(*worst)) } else { String::new() };
    vec![Finding {
        severity: Severity::Warning,
        extent: Some(*by),
        place: list(&out.iter().map(|one| here.tag(one.0)).collect::<Vec<_>>()),
        what: format!("folded for the road {of}stands {} out of frame and openers {side}", text(*by)),
        each: if out.len() > 1 {
            out.iter().map(|(of, by, side)| format!("{}: {} {side}", here.tag(*of), text(*by))).collect()
        } else {
            Vec::new()
        },
        advice: "move it in behind the frame, or guard it; openers are as assumed in the limits".to_owned(),
        subjects: out.iter().map(|one| FindingSubject::from(one.0)).collect(),
        fold: Some(FoldPosition::TRANSPORT),
        ..here.finding(RULE.name, "")
    }]
}

#[cfg(test)]
mod tests {
    use super::super::sample::{SECOND_MANIFOLD, Sample};
    use super::*;
    use crate::geometry::Point3;
    use crate::plan::FrameMember;

    /// A right wing from x = 0.1 to 1.1 m stands up about a line at 0.6 m: its outermost rail end comes to 1.7 m, a manifold at its
    /// end with its middle 0.2 m beyond that to 1.9 m and half its length (all by hand).
    #[test]
    fn a_part_beyond_the_end_of_a_wing_is_the_highest_on_the_road() {
        let mut sample = Sample::two_wings(8);
        let rail = |from: f64, to: f64| FrameMember {
            from: Point3::new(from, 0.5, 0.6),
            to: Point3::new(to, 0.5, 0.6),
            width: Length::metres(0.1),
        };
        sample.project.bar.sections[0].members = vec![rail(-1.1, -0.1)];
        sample.project.bar.sections[1].members = vec![rail(0.1, 1.1)];
        let at = sample.routing.parts.iter().position(|part| part.id == SECOND_MANIFOLD).unwrap();
        sample.routing.parts[at].position.x = 1.3;
        assert!(sample.of(RULE).is_empty(), "it does not fold");
        sample.fold_wing(0.6, 90.0);
        let half = sample.project.catalogue.item(&sample.routing.parts[at].entry).unwrap().body().half_length;
        let finding = sample.only(RULE);
        assert!(finding.place.contains("M2"), "{finding}");
        // Rail ends are round: 1.1 m and half a width.
        let by = 1.3 + half - (1.1 + 0.05);
        assert!((finding.extent.unwrap() - by).abs() < 0.08, "{finding} {by}");
        sample.routing.parts[at].position.x = 0.45;
        assert!(sample.of(RULE).iter().all(|one| !one.place.contains("M2")));
    }
}
