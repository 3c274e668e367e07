//! Hoses that lie free over more of the frame than their stock carries without a tie.

use super::finding::{Finding, FindingSubject, Severity};
use super::no_carrier::no_carrier;
use super::words::list;
use super::{Context, Rule};
use crate::plan::Subject;
use crate::plan::open_air::FreeSpan;
use crate::quantities::{Length, Measure};

pub(super) const RULE: Rule = Rule {
    name: "supports",
    about: "A hose that lies farther from one frame member to the next than its stock should without a tie, by its outside \
            diameter (common practice, no source)",
    by_speed: false,
    check,
};

fn check(here: &Context) -> Vec<Finding> {
    let hoses = here.hung_lines().iter().filter(|line| matches!(line.held.of, Subject::Run(_)));
    let hanging = hoses.filter_map(|line| {
        let span = line.hanging(&here.project.bar)?;
        Some((line.held.tag.clone(), FindingSubject::from(line.held.of), span, line.most))
    });
    let mut found: Vec<(String, FindingSubject, FreeSpan, Length)> = hanging.collect();
    found.sort_by(|a, b| (b.2.length / b.3.si()).total_cmp(&(a.2.length / a.3.si())));
    let Some((worst, _, span, allowed)) = found.first() else { return Vec::new() };
    let text = |length: f64| here.text(Measure::Distance, Length::metres(length));
    let numbers = |span: &FreeSpan, allowed: Length| {
        format!(
            "{} without a member to tie it to, at most {} for its stock",
            text(span.length),
            text(allowed.si())
        )
    };
    let each = |(tag, _, span, allowed): &(String, FindingSubject, FreeSpan, Length)| {
        format!("{tag}: {}", numbers(span, *allowed))
    };
    let of = if found.len() > 1 { format!("{worst} hangs over ") } else { String::new() };
    let of_these = |of: Subject| found.iter().any(|one| one.1 == FindingSubject::from(of));
    let (without, in_the_way) = no_carrier(here, of_these).unwrap_or_default();
    vec![Finding {
        severity: Severity::Note,
        extent: Some(span.length / allowed.si()),
        place: list(&found.iter().map(|one| one.0.clone()).collect::<Vec<_>>()),
        what: format!(
            "{of}{} ({} outside diameters: common practice, no source){without}",
            numbers(span, *allowed),
            here.short(Measure::Plain, here.project.limits.hose_supports)
        ),
        each: if found.len() > 1 { found.iter().map(each).collect() } else { Vec::new() },
        advice: "lay it along a frame member, fit a carrier across where one can stand, or take what its maker says as the limit"
            .to_owned(),
        also: in_the_way,
        subjects: found.iter().map(|one| one.1).collect(),
        ..here.finding(RULE.name, "")
    }]
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;
    use crate::geometry::Point3;
    use crate::plan::FrameMember;
    use crate::quantities::Ratio;

    /// A hose of 26 mm outside is carried over 30 · 26 mm = 0.78 m: rails 0.75 m apart do, 0.85 m apart do not.
    #[test]
    fn a_hose_from_rail_to_rail_is_told_by_its_outside_diameter() {
        let mut sample = Sample::new();
        let mut apart = |apart: f64| {
            let rail = |y: f64| FrameMember {
                from: Point3::new(-1.0, y, 0.6),
                to: Point3::new(1.0, y, 0.6),
                width: Length::metres(0.1),
            };
            sample.project.bar.sections[0].members = vec![rail(0.5), rail(0.5 + apart)];
            sample.routing.parts[0].position.y = 0.5 + apart;
            sample.routing.runs[1].line.waypoints.clear();
            sample.resolve();
            sample.of(RULE)
        };
        assert_eq!(apart(0.7), []);
        let found = apart(0.95);
        assert_eq!((found.len(), found[0].place.as_str(), found[0].severity), (1, "H2", Severity::Note));
        assert!(found[0].what.contains("at most 0.78 m"), "{}", found[0].what);
        sample.project.limits.hose_supports = Ratio::from_si(40.0);
        assert_eq!(sample.of(RULE), []);
    }
}
