//! Tools and gestures as data: what is in the hand, and what is going on between a press and a release.

use crate::geometry::Point2;
use crate::plan::{BarPoint, End, FeedId, PartId, PartKey, RowId, RunId, StockKey};

/// The tool in hand.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub enum Tool {
    /// Select; drag parts, waypoints and ends of hoses.
    #[default]
    Select,
    /// Place parts of this entry.
    Place(PartKey),
    /// Place what was copied.
    Paste,
    /// Draw hoses of this stock from port to port.
    Join {
        /// The hose.
        stock: StockKey,
    },
    /// Split hoses with a tee.
    Split {
        /// The tee; one that fits the hose if none.
        tee: Option<PartKey>,
    },
    /// Give rows to a manifold.
    GiveRows {
        /// The manifold; none until one is clicked.
        manifold: Option<PartId>,
    },
    /// Measure distances.
    Measure,
}

/// What is going on between a press and a release, or between clicks.
#[derive(Debug, Clone, PartialEq, Default)]
pub enum Gesture {
    /// Nothing.
    #[default]
    None,
    /// Parts are dragged.
    MoveParts {
        /// The one under the pointer.
        grip: PartId,
        /// All that move with it, itself included.
        parts: Vec<PartId>,
        /// What lay along the frame when the drag began, and goes on doing so.
        following: Following,
        /// Where the pointer went down.
        start: Point2,
        /// They have left their place.
        moving: bool,
    },
    /// A waypoint of a hose is dragged.
    MoveWaypoint {
        /// The hose.
        run: RunId,
        /// Which waypoint; where it is inserted if it is new.
        index: usize,
        /// It is new, and inserted as soon as it moves.
        inserted: bool,
        /// Where the pointer went down.
        start: Point2,
        /// It has left its place.
        moving: bool,
    },
    /// An end of a hose is dragged.
    MoveEnd {
        /// The hose.
        run: RunId,
        /// Its start rather than its end.
        at_start: bool,
        /// Where the pointer went down.
        start: Point2,
        /// It has left its place.
        moving: bool,
    },
    /// An end of a row feed is dragged: to another outlet, or to another row.
    MoveFeedEnd {
        /// The feed.
        feed: FeedId,
        /// The end on the manifold's outlet rather than the row's.
        at_outlet: bool,
        /// Where the pointer went down.
        start: Point2,
        /// It has left its place.
        moving: bool,
    },
    /// A hose has its first end, and waypoints clicked so far.
    Joining {
        /// That end.
        from: End,
        /// The hose that goes on from its loose end, and whether that is its start; none for a new hose.
        goes_on: Option<(RunId, bool)>,
        /// The waypoints.
        waypoints: Vec<BarPoint>,
    },
    /// Rows are collected for a manifold.
    Rows {
        /// The manifold.
        manifold: PartId,
        /// The rows so far.
        rows: Vec<RowId>,
    },
    /// A box is drawn to select what lies in it.
    Box {
        /// Where it began.
        from: Point2,
        /// Where the pointer is.
        to: Point2,
        /// Adds to what is selected.
        add: bool,
    },
    /// A distance is measured; stays to be read until the next press.
    Measuring {
        /// Where it began.
        from: Point2,
        /// Where it ends.
        to: Point2,
    },
}

/// A place of the selected hose or row feed that can be dragged.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Handle {
    /// Its start; of a row feed the end on the manifold's outlet.
    Start,
    /// Its end; of a row feed the row's outlet.
    End,
    /// A waypoint, by its place in the line.
    Waypoint(usize),
}

/// What lies along the frame and goes on doing so while its parts move.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Following {
    /// Hoses.
    pub runs: Vec<RunId>,
    /// Row feeds.
    pub feeds: Vec<FeedId>,
}
