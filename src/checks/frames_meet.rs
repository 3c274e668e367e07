//! A section that folds into another one.

use super::finding::{Finding, FindingSubject, Severity};
use super::{Context, Rule};
use crate::plan::clash_search::clashes;
use crate::plan::frames_met::FramesMet;

pub(super) const RULE: Rule = Rule {
    name: "frames meet",
    about: "A section whose frame runs into that of another one when the bar folds: a hinge, an angle or the order of folding is \
            not what the machine has; an error above 10 mm (common practice, no source), below that profiles may be drawn too wide",
    by_speed: false,
    check,
};

fn check(here: &Context) -> Vec<Finding> {
    let bar = &here.project.bar;
    let met = FramesMet::of(bar, &clashes(here.project, here.routing).frames);
    let told = met.into_iter().map(|one| {
        let key = [one.moving, one.into].map(|id| id.0.to_string()).join(" ");
        Finding {
            severity: if one.is_no_fold() { Severity::Error } else { Severity::Warning },
            extent: Some(one.by.si()),
            place: "Bar".to_owned(),
            what: one.words(bar, here.project.units),
            advice: one.advice(bar, here.project.units),
            subjects: vec![FindingSubject::Project],
            fold: Some(one.since),
            ..here.finding(RULE.name, &key)
        }
    });
    told.collect()
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;
    use crate::geometry::Point3;
    use crate::plan::FrameMember;
    use crate::quantities::Length;

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
            sample.fold_wing(height, 180.0);
            sample.of(RULE)
        };
        assert_eq!(about(0.66), []);
        let found = about(0.63);
        assert_eq!(found.len(), 1, "{found:?}");
        assert_eq!(found[0].severity, Severity::Error);
        assert!((found[0].extent.unwrap() - 0.04).abs() < 2e-3, "{found:?}");
        // By hand: the ends of the rails' middle lines, 0.1 m from the hinge line and 0.03 m below it, are 0.095 m apart (5 mm in each
        // other) when 2 * 0.1044 * sin(half the angle between them) is; folded by 180 degrees that angle is 33.4 degrees.
        let radius = 0.1_f64.hypot(0.03);
        let angle = 2.0 * (0.095 / 2.0 / radius).asin().to_degrees();
        let left = angle - 2.0 * (0.03_f64 / 0.1).atan().to_degrees();
        let since = 1.0 - left / 180.0;
        assert!((found[0].fold.unwrap().as_share() - since).abs() < 1e-3, "{since} {found:?}");
        assert!(found[0].what.contains("from folded 88 % on"), "{found:?}");
    }
}
