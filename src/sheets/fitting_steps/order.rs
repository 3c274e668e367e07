//! The order of work, worked out from a routing: how far each part is from the pump, which hose crosses a hinge, and
//! which line lies beneath which.

use std::collections::BTreeMap;

use crate::geometry::Point3;
use crate::plan::connection_graph::steps_of_end;
use crate::plan::through_body::stretches_within;
use crate::plan::{
    FeedGeometry, LaidRouting, LineGeometry, Part, PartId, PlacedPart, Project, RowFeed, Run, SectionId,
};
use crate::sheets::places;

/// How far a run's nearer end is from the pump; last where nothing joins it.
pub(super) fn steps_of_run(steps: &BTreeMap<PartId, usize>, run: &Run) -> usize {
    [&run.from, &run.to].map(|end| steps_of_end(steps, end)).into_iter().flatten().min().unwrap_or(usize::MAX)
}

/// The hinges between the sections of two ends, each named by the section that hangs on it.
pub(super) fn hinges_of_run(project: &Project, routing: LaidRouting, run: &Run) -> Vec<SectionId> {
    let mut crossed: Vec<SectionId> = run.line.crossings.iter().map(|crossing| crossing.section).collect();
    crossed.extend(routing.geometry.run(run.id).iter().flat_map(|laid| &laid.hinges));
    let ends = routing.carrier(&run.from).zip(routing.carrier(&run.to));
    if let Some((a, b)) = ends {
        crossed.extend(project.bar.hinges_between(a, b));
    }
    crossed.sort();
    crossed.dedup();
    // From the centre outwards, as the bar lists its sections.
    crossed.sort_by_key(|id| places::order(project, *id));
    crossed
}

/// A hose or all tubes of a row feed as lines in space.
pub(super) struct Laid {
    /// Its tag.
    pub(super) tag: String,
    /// One polyline each.
    paths: Vec<Vec<Point3>>,
    /// The part or parts it ends on.
    ends: Vec<PartId>,
}

/// Where a run lies.
pub(super) fn laid_run(routing: LaidRouting, run: &Run) -> Laid {
    Laid {
        tag: run.tag.clone(),
        paths: routing.geometry.run(run.id).map(LineGeometry::places).into_iter().collect(),
        ends: [run.from.port(), run.to.port()].into_iter().flatten().map(|port| port.part).collect(),
    }
}

/// Where the tubes of a row feed lie.
pub(super) fn laid_feed(routing: LaidRouting, feed: &RowFeed) -> Laid {
    let tubes = routing.geometry.feed(feed.id).into_iter().flat_map(FeedGeometry::tubes);
    let paths = tubes.map(LineGeometry::places).collect();
    Laid { tag: feed.tag.clone(), paths, ends: feed.from.port().into_iter().map(|port| port.part).collect() }
}

/// Heights closer than this count as one, metres: then neither line hides the other.
const SAME_HEIGHT: f64 = 0.005;

/// The order in which lines are laid: what lies beneath comes before what lies over it where the two cross in the
/// plan view; apart from that, and where lines lie over each other in a circle, the given order stays.
pub(super) fn beneath_first(lines: &[Laid]) -> Vec<usize> {
    let mut left: Vec<usize> = (0..lines.len()).collect();
    let mut order = Vec::with_capacity(lines.len());
    let beneath: Vec<Vec<bool>> =
        lines.iter().map(|upper| lines.iter().map(|lower| lies_beneath(lower, upper)).collect()).collect();
    while !left.is_empty() {
        let free =
            left.iter().position(|one| !left.iter().any(|other| other != one && beneath[*one][*other]));
        order.push(left.remove(free.unwrap_or(0)));
    }
    order
}

/// The first line passes beneath the second somewhere, and nowhere over it.
fn lies_beneath(lower: &Laid, upper: &Laid) -> bool {
    let mut beneath = false;
    for a in lower.paths.iter().flat_map(|path| path.windows(2)) {
        for b in upper.paths.iter().flat_map(|path| path.windows(2)) {
            if let Some((low, high)) = heights_where_crossing((a[0], a[1]), (b[0], b[1])) {
                if low > high + SAME_HEIGHT {
                    return false;
                }
                beneath |= low < high - SAME_HEIGHT;
            }
        }
    }
    beneath
}

/// The heights of two stretches where they cross in the plan view.
fn heights_where_crossing(a: (Point3, Point3), b: (Point3, Point3)) -> Option<(f64, f64)> {
    let (ax, ay) = (a.1.x - a.0.x, a.1.y - a.0.y);
    let (bx, by) = (b.1.x - b.0.x, b.1.y - b.0.y);
    let cross = ax * by - ay * bx;
    if cross == 0.0 {
        return None; // beside each other, or one upright
    }
    let (dx, dy) = (b.0.x - a.0.x, b.0.y - a.0.y);
    let (along_a, along_b) = ((dx * by - dy * bx) / cross, (dx * ay - dy * ax) / cross);
    let within = |share: f64| (0.0..=1.0).contains(&share);
    (within(along_a) && within(along_b))
        .then_some((a.0.z + along_a * (a.1.z - a.0.z), b.0.z + along_b * (b.1.z - b.0.z)))
}

/// Tags of the lines that pass beneath a part's body and don't end on it.
pub(super) fn beneath_part(
    project: &Project,
    routing: LaidRouting,
    part: &Part,
    lines: &[Laid],
) -> Vec<String> {
    let Some(item) = project.catalogue.item(&part.entry) else { return Vec::new() };
    let Some(&PlacedPart { at, turn, .. }) = routing.geometry.anchors.part(part.id) else {
        return Vec::new();
    };
    let body = item.body();
    let beneath = |path: &Vec<Point3>| {
        let within = stretches_within(path, at, turn, body);
        within.iter().any(|(from, to)| from.z.min(to.z) < at.z - SAME_HEIGHT)
    };
    lines
        .iter()
        .filter(|line| !line.ends.contains(&part.id))
        .filter(|line| line.paths.iter().any(beneath))
        .map(|line| line.tag.clone())
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(tag: &str, points: &[(f64, f64, f64)]) -> Laid {
        let path = points.iter().map(|&(x, y, z)| Point3::new(x, y, z)).collect();
        Laid { tag: tag.to_owned(), paths: vec![path], ends: Vec::new() }
    }

    #[test]
    fn what_lies_beneath_is_laid_first() {
        let across = |z| line("across", &[(-1.0, 0.0, z), (1.0, 0.0, z)]);
        let along = |z| line("along", &[(0.0, -1.0, z), (0.0, 1.0, z)]);
        assert_eq!(beneath_first(&[across(1.0), along(0.9)]), [1, 0]);
        assert_eq!(beneath_first(&[across(1.0), along(1.1)]), [0, 1]);
        assert_eq!(beneath_first(&[across(1.0), along(1.0)]), [0, 1], "at one height the given order stays");
        let beside = line("beside", &[(2.0, -1.0, 0.1), (2.0, 1.0, 0.1)]);
        assert_eq!(beneath_first(&[across(1.0), beside]), [0, 1], "they do not cross");
        let woven = line("woven", &[(-0.5, -1.0, 0.8), (-0.5, 1.0, 0.8), (0.5, 1.0, 1.2), (0.5, -1.0, 1.2)]);
        assert_eq!(beneath_first(&[across(1.0), woven]), [0, 1], "over and under: neither hides the other");
    }

    #[test]
    fn a_circle_of_lines_still_gets_an_order() {
        // Three sticks, each over the next: no order is right, all three must be there.
        let a = line("a", &[(0.0, 0.0, 1.0), (4.0, 0.0, 1.2)]);
        let b = line("b", &[(3.0, -1.0, 1.0), (0.0, 3.0, 1.2)]);
        let c = line("c", &[(1.0, 3.0, 1.0), (0.5, -1.0, 1.2)]);
        let mut order = beneath_first(&[a, b, c]);
        order.sort_unstable();
        assert_eq!(order, [0, 1, 2]);
    }
}
