//! Placed parts and their ports.

use std::fmt;

use serde::{Deserialize, Serialize};

use super::catalogue::PartKey;
use super::{PartId, SectionId};
use crate::geometry::{Point2, Point3};
use crate::quantities::{Angle, Length};

/// A part of a routing, riding on a section of the bar.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Part {
    /// Identity.
    pub id: PartId,
    /// Short, unique in the routing: `F1`, `M2`.
    pub tag: String,
    /// What it is.
    pub entry: PartKey,
    /// The section that carries it.
    pub section: SectionId,
    /// Its middle, working position. Where it is mounted on another part, that part decides and this is where it
    /// goes if the mount ends.
    pub position: Point3,
    /// Turned in the plan view, counter-clockwise seen from above.
    pub turn: Angle,
    /// Screwed straight onto a port of another part, without a hose between.
    pub mount: Option<PortRef>,
    /// A section valve that is shut.
    pub shut: bool,
}

/// A place on a part where something is connected.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum Port {
    /// Inlet; one end of a tee's run; the stem of a gauge or plug.
    In,
    /// Outlet side; the other end of a tee's run; a manifold's far end.
    Out,
    /// Branch of a tee.
    Branch,
    /// Gauge port of a manifold; comes plugged.
    Gauge,
    /// Row outlet of a manifold, from 1 at its left.
    Outlet(u16),
}

impl fmt::Display for Port {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::In => out.write_str("inlet"),
            Self::Out => out.write_str("far end"),
            Self::Branch => out.write_str("branch"),
            Self::Gauge => out.write_str("gauge port"),
            Self::Outlet(number) => write!(out, "outlet {number}"),
        }
    }
}

/// An outlet of a manifold: `M1/6`.
pub fn outlet_words(tag: &str, number: u16) -> String {
    format!("{tag}/{number}")
}

/// A port of a part of the same routing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PortRef {
    /// The part.
    pub part: PartId,
    /// Its port.
    pub port: Port,
}

/// The side of the bar that a direction in the plan view points to: `front`, `rear`, `left` or `right`.
pub fn side(direction: Point2) -> &'static str {
    match (direction.x.abs() >= direction.y.abs(), direction.x >= 0.0, direction.y >= 0.0) {
        (true, true, _) => "right",
        (true, false, _) => "left",
        (false, _, true) => "front",
        (false, _, false) => "rear",
    }
}

/// An offset of a part turned as the part is and moved to its place.
pub fn place_offset(position: Point3, turn: Angle, offset: Point2) -> Point3 {
    let (sin, cos) = turn.si().sin_cos();
    Point3::new(
        position.x + offset.x * cos - offset.y * sin,
        position.y + offset.x * sin + offset.y * cos,
        position.z,
    )
}

/// How far a part mounted on another stands off its port, metres.
pub const MOUNT_DISTANCE: Length = Length::metres(0.06);
