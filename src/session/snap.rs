//! Snapping as data: what may be snapped to, what something snapped to, and the part that a click would place.

use crate::geometry::Point3;
use crate::plan::{PartKey, PortRef, RowId, RunId, SectionId};
use crate::quantities::{Angle, Length};

/// What something snapped to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum SnapTo {
    /// Into a hose, which is cut there.
    Hose(RunId),
    /// A port of a part: what is held is connected there.
    Port(PortRef),
    /// The pump's outlet.
    Supply,
    /// In line with a port, so that the hose between runs straight.
    InLine(PortRef),
    /// A frame member of this section.
    Frame(SectionId),
    /// The middle of this section.
    Middle(SectionId),
    /// In line with a row.
    Row(RowId),
    /// The outlet of a row, which a row feed is led to.
    Outlet(RowId),
    /// The grid.
    Grid,
}

/// Where something goes, and why there.
#[derive(Debug, Clone, PartialEq)]
pub struct Snap {
    /// The place, with its height.
    pub place: Point3,
    /// What it snapped to; at most one thing for each direction, none for a free place.
    pub to: Vec<SnapTo>,
}

/// What may be snapped to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SnapSettings {
    /// Snap at all. Ports are still caught: a hose can't end beside one.
    pub on: bool,
    /// Frame members.
    pub frame: bool,
    /// Middles of sections.
    pub middles: bool,
    /// Rows.
    pub rows: bool,
    /// Width of the grid; without one, free places are whole centimetres.
    pub grid: Option<Length>,
}

impl Default for SnapSettings {
    fn default() -> Self {
        Self { on: true, frame: true, middles: true, rows: true, grid: None }
    }
}

/// A part as it would be placed, for drawing it under the pointer.
#[derive(Debug, Clone, PartialEq)]
pub struct Ghost {
    /// What it is.
    pub entry: PartKey,
    /// Where its middle would be.
    pub place: Point3,
    /// How it would be turned.
    pub turn: Angle,
    /// The port it would be screwed onto.
    pub mount: Option<PortRef>,
    /// What it snapped to.
    pub snap: Snap,
    /// Parts it would lie over, by tag.
    pub over: Vec<String>,
}
