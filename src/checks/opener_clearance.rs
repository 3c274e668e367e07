//! Parts, hoses and tubes in the room that openers take where they rise and trip, those that hang free at a hinge among them.

use super::finding::{Finding, FindingSubject, Severity};
use super::words::list;
use super::{Context, Rule};
use crate::geometry::{Box3, Capsule};
use crate::plan::solids::{free_pieces, opener_room, plumbing};
use crate::plan::{FoldPosition, FoldedBar, LaidRouting, Project, RowId, Subject};
use crate::quantities::Measure;

pub(super) const RULE: Rule = Rule {
    name: "opener clearance",
    about: "A part, hose or another row's tube where an opener rises over a stone or trips back; sizes and ways of openers are \
            assumed (common practice, no source)",
    by_speed: false,
    check,
};

/// What is in the way of openers, each thing once with the first row whose opener it is.
pub fn among_openers(project: &Project, routing: LaidRouting) -> Vec<(Subject, RowId)> {
    let laid = plumbing(project, routing).into_iter().map(|one| (one.of, one.shape));
    let working = FoldPosition::WORKING;
    let free = free_pieces(project, routing, &FoldedBar::default(), working);
    let free = free.iter().flat_map(|one| one.pieces().map(|piece| (one.of, piece)));
    let things: Vec<(Box3, Subject, Capsule)> =
        laid.chain(free).map(|(of, shape)| (shape.bounds(), of, shape)).collect();
    let mut hit: Vec<(Subject, RowId)> = Vec::new();
    for row in &project.bar.rows {
        let room = opener_room(&project.bar, &project.limits, row);
        for (_, thing, shape) in things.iter().filter(|(bounds, ..)| bounds.meets(&room)) {
            let known = hit.iter().any(|(of, _)| of == thing);
            if !known && !is_own(routing, *thing, row.id) && shape.lies_in(&room) {
                hit.push((*thing, row.id));
            }
        }
    }
    hit
}

fn check(here: &Context) -> Vec<Finding> {
    let project = here.project;
    let hit = among_openers(project, here.routing);
    if hit.is_empty() {
        return Vec::new();
    }
    let mut rows: Vec<RowId> = hit.iter().map(|one| one.1).collect();
    rows.sort();
    rows.dedup();
    let text = |value| here.text(Measure::CutLength, value);
    let limits = &project.limits;
    vec![Finding {
        severity: Severity::Error,
        place: list(&hit.iter().map(|one| here.tag(one.0)).collect::<Vec<_>>()),
        what: format!(
            "in the way of the openers of {}: assumed {} wide, {} above the outlet, rising by {} and tripping back by {} at work",
            here.row_words_inside(&rows),
            text(limits.opener_width),
            text(limits.opener_height),
            text(limits.opener_rise),
            text(limits.opener_trip),
        ),
        each: if hit.len() > 1 {
            hit.iter().map(|(of, row)| format!("{}: {}", here.tag(*of), here.row_words(&[*row]))).collect()
        } else {
            Vec::new()
        },
        advice:
            "lay it on the frame above them or between the ranks; enter the openers' true sizes in the limits"
                .to_owned(),
        subjects: hit.iter().map(|one| FindingSubject::from(one.0)).collect(),
        also: rows.into_iter().map(FindingSubject::Row).collect(),
        fold: Some(FoldPosition::WORKING),
        ..here.finding(RULE.name, "")
    }]
}

/// A row's own tube moves with its opener.
fn is_own(routing: LaidRouting, of: Subject, row: RowId) -> bool {
    let Subject::Feed(id) = of else { return false };
    routing.feed(id).is_some_and(|feed| feed.branches.iter().any(|branch| branch.row == row))
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;
    use crate::geometry::Point3;
    use crate::quantities::Length;

    /// Outlets at 0.1 m, openers 0.5 m above that, rising by 0.25 m: up to 0.85 m; back to 0.25 m and half a width behind the row.
    /// A hose of 26 mm at 0.7 m is in that, and at 0.87 m above it.
    #[test]
    fn a_hose_over_the_openers_is_told_and_one_above_or_behind_them_is_not() {
        let mut sample = Sample::new();
        let mut over = |y: f64, z: f64| {
            let way = [(0.7, 1.0), (0.7, y), (-0.7, y), (-0.7, 1.0)].map(|(x, y)| Point3::new(x, y, z));
            sample.routing.runs[1].line.waypoints = sample.over(&way);
            sample.resolve();
            sample.of(RULE)
        };
        let found = over(-0.2, 0.7);
        assert_eq!(found.len(), 1, "{found:?}");
        assert_eq!((found[0].place.as_str(), found[0].severity), ("H2", Severity::Error));
        assert!(found[0].what.contains("in the way of the openers of row"), "{}", found[0]);
        assert_eq!(over(-0.2, 0.87), []);
        assert_eq!(over(-0.31, 0.7), []);
        sample.project.limits.opener_trip = Length::metres(0.3);
        assert_eq!(sample.of(RULE).len(), 1);
    }
}
