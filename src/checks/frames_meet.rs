//! A section that folds into another one.

use super::finding::{Finding, FindingSubject, Severity};
use super::{Context, Rule};
use crate::plan::SectionId;
use crate::plan::clash::Clash;
use crate::plan::clash_search::clashes;
use crate::quantities::{Length, Measure};

pub(super) const RULE: Rule = Rule {
    name: "frames meet",
    about: "A section whose frame runs into that of another one when the bar folds: a hinge, an angle or the order of folding is \
            not what the machine has",
    by_speed: false,
    check,
};

fn check(here: &Context) -> Vec<Finding> {
    let frames = &clashes(here.project, here.routing).frames;
    let name = |id: SectionId| {
        here.project.bar.section(id).map_or_else(|| "a missing section".to_owned(), |one| one.name.clone())
    };
    // Each pair once: the one that was met first in the order of sections.
    let is_first = |one: &&Clash<SectionId>| {
        let other = frames.iter().find(|other| other.on == one.from);
        !other.is_some_and(|other| other.from == one.on && other.on < one.on)
    };
    let told = frames.iter().filter(is_first).map(|one| {
        let by = Length::metres(-one.gap.si());
        Finding {
            severity: Severity::Warning,
            extent: Some(by.si()),
            place: "Bar".to_owned(),
            what: format!(
                "{} folds into {}: the frames run {} into each other, {}",
                name(one.on),
                name(one.from),
                here.text(Measure::CutLength, by),
                one.at.words()
            ),
            advice:
                "check the height and the angle of the hinges between them, and the step in which each folds"
                    .to_owned(),
            subjects: vec![FindingSubject::Project],
            fold: Some(one.at),
            ..here.finding(RULE.name, &name(one.on))
        }
    });
    told.collect()
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;
    use crate::geometry::Point3;
    use crate::plan::{FrameMember, Hinge};
    use crate::quantities::Angle;

    /// Rails of 0.1 m at 0.6 m, folded by 180 degrees about a line at the height of the hinge: twice that height over them apart
    /// (by hand). Half a width above the rails they lie on each other, lower they run into each other.
    #[test]
    fn a_wing_that_folds_down_into_its_parent_is_told_with_where() {
        let mut sample = Sample::two_wings(8);
        let rail = |from: f64, to: f64| FrameMember {
            from: Point3::new(from, -0.2, 0.6),
            to: Point3::new(to, -0.2, 0.6),
            width: Length::metres(0.1),
        };
        sample.project.bar.sections[0].members = vec![rail(-1.1, -0.05)];
        sample.project.bar.sections[1].members = vec![rail(0.05, 1.1)];
        let mut about = |height: f64| {
            sample.project.bar.sections[1].hinge = Some(Hinge {
                parent: SectionId(1),
                point: Point3::new(0.0, 0.0, height),
                axis: Point3::new(0.0, -1.0, 0.0),
                lowest: Angle::ZERO,
                folded: Angle::degrees(180.0),
                step: Hinge::FIRST_STEP,
            });
            sample.of(RULE)
        };
        assert_eq!(about(0.66), []);
        let found = about(0.63);
        assert_eq!(found.len(), 1, "{found:?}");
        assert!((found[0].extent.unwrap() - 0.04).abs() < 2e-3, "{found:?}");
        assert!(found[0].fold.unwrap().as_share() > 0.95);
    }
}
