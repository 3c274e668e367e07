//! Parts that lie over a hinge.

use super::finding::{Finding, FindingSubject, Severity};
use super::{Context, Rule};
use crate::plan::solids::part_shape;
use crate::plan::{FoldPosition, Hinge, PlacedPart, Section};
use crate::quantities::{Length, Measure};

pub(super) const RULE: Rule = Rule {
    name: "across a hinge",
    about: "A part on one section that reaches over a hinge onto the next: it breaks when the bar folds",
    by_speed: false,
    check,
};

/// A part that reaches over a hinge line by less than this does not lie across it, metres (common practice, no source).
const TOUCHES: f64 = 0.005;

fn check(here: &Context) -> Vec<Finding> {
    let bar = &here.project.bar;
    let over = |placed: &PlacedPart| -> Option<(Length, String)> {
        let shape = part_shape(here.project, &here.routing, placed)?;
        let (least, most) =
            (shape.from.x.min(shape.to.x) - shape.radius, shape.from.x.max(shape.to.x) + shape.radius);
        // The hinge that its section hangs on, and those that others hang on it by.
        let lies_over = |section: &&Section| {
            let at = |hinge: Hinge| least < hinge.point.x - TOUCHES && most > hinge.point.x + TOUCHES;
            let is_near = |hinge: &Hinge| section.id == placed.section || hinge.parent == placed.section;
            section.hinge.filter(is_near).is_some_and(at)
        };
        let section = bar.sections.iter().find(lies_over)?;
        let hinge = section.hinge?.point.x;
        // What lies on the side that its middle is not on.
        let by = if shape.from.x + shape.to.x > 2.0 * hinge { hinge - least } else { most - hinge };
        Some((Length::metres(by), section.name.clone()))
    };
    let told = here.routing.geometry.anchors.parts().iter().filter_map(|placed| {
        let (by, hinge) = over(placed)?;
        Some(Finding {
            severity: Severity::Error,
            extent: Some(by.si()),
            place: here.part_tag(placed.id),
            what: format!("reaches {} over the hinge of {hinge}", here.text(Measure::CutLength, by)),
            advice: "move it along its section, or turn it, so that all of it lies on one side".to_owned(),
            subjects: vec![FindingSubject::Part(placed.id)],
            fold: Some(FoldPosition::TRANSPORT),
            ..here.finding(RULE.name, "")
        })
    });
    told.collect()
}

#[cfg(test)]
mod tests {
    use super::super::sample::{SECOND_MANIFOLD, Sample};
    use super::*;

    use crate::quantities::Angle;

    /// The manifold's body is centred on its place: it reaches over the line at x = 0 by half its length less its distance.
    #[test]
    fn a_manifold_over_the_hinge_line_is_told_by_how_far_it_reaches() {
        let mut sample = Sample::two_wings(8);
        sample.fold_wing(0.6, 90.0);
        assert_eq!(sample.only(RULE).place, "F1", "the filter stands in the middle");
        sample.routing.parts[0].position.x = -0.3;
        assert_eq!(sample.of(RULE), []);
        let at = sample.routing.parts.iter().position(|part| part.id == SECOND_MANIFOLD).unwrap();
        let half = sample.project.catalogue.item(&sample.routing.parts[at].entry).unwrap().body().half_length;
        sample.routing.parts[at].position.x = half - 0.03;
        let finding = sample.only(RULE);
        assert_eq!((finding.place.as_str(), finding.severity), ("M2", Severity::Error));
        assert!((finding.extent.unwrap() - 0.03).abs() < 1e-9);
        // Along the hinge line it lies beside it.
        sample.routing.parts[at].turn = Angle::degrees(90.0);
        assert_eq!(sample.of(RULE), []);
    }
}
