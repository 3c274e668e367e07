//! What was copied, as data.

use std::collections::BTreeMap;

use crate::geometry::Point2;
use crate::plan::{Part, RowFeed, RowId, Run};

/// What was copied, as it was then: later changes of the routing don't change it.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Copied {
    pub(super) parts: Vec<Part>,
    pub(super) runs: Vec<Run>,
    pub(super) feeds: Vec<RowFeed>,
    /// Where the rows of the feeds were.
    pub(super) rows: BTreeMap<RowId, f64>,
    /// The middle of the copied parts.
    pub(super) middle: Point2,
}

impl Copied {
    /// Nothing was copied.
    pub fn is_empty(&self) -> bool {
        self.parts.is_empty()
    }

    /// The tags, for the clipboard of the system.
    pub fn text(&self) -> String {
        let parts = self.parts.iter().map(|part| part.tag.as_str());
        let runs = self.runs.iter().map(|run| run.tag.as_str());
        parts.chain(runs).collect::<Vec<_>>().join(", ")
    }
}
