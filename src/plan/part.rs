//! Placed parts and their ports.

use std::fmt;

use serde::{Deserialize, Serialize};

use super::catalogue::{ManifoldInlet, PartItem, PartKey};
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

/// A port of a part of the same routing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PortRef {
    /// The part.
    pub part: PartId,
    /// Its port.
    pub port: Port,
}

/// Half depth of a manifold's body in the plan view, metres.
pub const MANIFOLD_HALF_DEPTH: f64 = 0.05;

/// Where a port is, relative to the part's middle before it is turned; metres, plan view. These are sizes for
/// drawing and for where hoses end, not dimensions of a particular make.
pub fn port_offset(item: &PartItem, port: Port) -> Point2 {
    match (item, port) {
        (PartItem::InletFilter { .. }, Port::In) => Point2::new(0.0, 0.10),
        (PartItem::InletFilter { .. }, _) => Point2::new(0.0, -0.10),
        (PartItem::Tee { .. }, Port::Branch) => Point2::new(0.0, 0.06),
        (PartItem::Tee { .. } | PartItem::SectionValve { .. }, Port::In) => Point2::new(-0.06, 0.0),
        (PartItem::Tee { .. } | PartItem::SectionValve { .. }, _) => Point2::new(0.06, 0.0),
        (PartItem::Manifold { inlet, .. }, port) => {
            let half = half_length(item);
            match (port, inlet) {
                (Port::Outlet(number), _) => {
                    Point2::new(outlet_spacing(item) * (f64::from(number) - 0.5) - half, -MANIFOLD_HALF_DEPTH)
                }
                (Port::In, ManifoldInlet::Middle) => Point2::new(0.0, MANIFOLD_HALF_DEPTH),
                (Port::In, ManifoldInlet::End) => Point2::new(-half, 0.0),
                (Port::Gauge, _) => Point2::new(half * 0.6, MANIFOLD_HALF_DEPTH),
                _ => Point2::new(half, 0.0),
            }
        }
        // A stem is where the part is; what is not placed has no ports.
        (PartItem::Gauge { .. } | PartItem::BlankingPlug { .. }, _) => Point2::default(),
    }
}

/// Which way a port faces before its part is turned: a unit vector in the plan view.
pub fn port_direction(item: &PartItem, port: Port) -> Point2 {
    let offset = port_offset(item, port);
    let size = offset.x.hypot(offset.y);
    match port {
        Port::Outlet(_) => Point2::new(0.0, -1.0),
        Port::Gauge => Point2::new(0.0, 1.0),
        _ if size > 0.0 => Point2::new(offset.x / size, offset.y / size),
        _ => Point2::new(1.0, 0.0),
    }
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

fn outlet_spacing(item: &PartItem) -> f64 {
    match item {
        PartItem::Manifold { spacing, .. } => spacing.si(),
        _ => 0.0,
    }
}

/// Half the length of a part along its own x, metres, for drawing and picking.
pub fn half_length(item: &PartItem) -> f64 {
    match item {
        PartItem::Manifold { outlets, spacing, .. } => spacing.si() * f64::from(*outlets) / 2.0,
        PartItem::InletFilter { .. } => 0.10,
        PartItem::BlankingPlug { .. } => 0.03,
        PartItem::Tee { .. } | PartItem::SectionValve { .. } | PartItem::Gauge { .. } => 0.06,
    }
}

/// Half the depth of a part along its own y, metres, for drawing and picking.
pub fn half_depth(item: &PartItem) -> f64 {
    match item {
        PartItem::Manifold { .. } => MANIFOLD_HALF_DEPTH,
        PartItem::InletFilter { .. } => 0.10,
        PartItem::BlankingPlug { .. } => 0.03,
        PartItem::Tee { .. } | PartItem::SectionValve { .. } | PartItem::Gauge { .. } => 0.06,
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
