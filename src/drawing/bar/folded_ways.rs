//! Where hoses and tubes lie on a bar that is folded: bent at its hinges, which takes longer than all else of a picture.

use std::collections::BTreeMap;

use crate::drawing::Subject;
use crate::geometry::Point3;
use crate::plan::{FoldPosition, FoldedBar, LaidRouting, Project};

/// A hose, or a tube of a row feed by its place among them, the shared ones first.
pub(super) type DrawnLine = (Subject, usize);

/// The ways of all hoses and tubes in a position of the fold, worked out once for all sides from which they are seen.
#[derive(Debug, Default)]
pub struct FoldedWays {
    /// Empty at work, where a line lies as drawn.
    ways: BTreeMap<DrawnLine, Vec<Point3>>,
}

impl FoldedWays {
    /// Of a routing in a position.
    pub fn of(project: &Project, routing: LaidRouting, position: FoldPosition) -> Self {
        let mut ways = Self::default();
        if position.is_working() {
            return ways;
        }
        let folded = FoldedBar::at(&project.bar, position);
        let mut before: Option<DrawnLine> = None;
        for line in routing.laid_lines() {
            let nth = before.filter(|last| last.0 == line.of).map_or(0, |last| last.1 + 1);
            before = Some((line.of, nth));
            ways.ways.insert((line.of, nth), line.laid.folded(&project.bar, &folded, position));
        }
        ways
    }

    /// The points of one of them; none at work.
    pub(super) fn way(&self, line: DrawnLine) -> Option<&[Point3]> {
        self.ways.get(&line).map(Vec::as_slice)
    }
}
