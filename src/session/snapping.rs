//! Snapping: where something goes that is held near a port, the frame, a section's middle, a row or the grid.
//!
//! Ports beat everything. Otherwise each direction is settled by itself: in line with a port, then a section's
//! middle or a row (left to right) and a frame member (front to back), then the grid. The radius comes from the
//! window in metres, so that it is the same on the screen at any zoom.

use crate::geometry::{Point2, Point3};
use crate::hydraulics::connectivity::connections;
use crate::plan::frame_graph::height_at;
use crate::plan::part;
use crate::plan::{
    End, FrameMember, LaidRouting, PartId, PartItem, PartKey, PlacedPart, Port, PortRef, Project, RunId,
    SectionId,
};
use crate::quantities::Angle;

use super::Session;
use super::snap::{Snap, SnapSettings, SnapTo};

/// What is held.
#[derive(Debug, Clone, Copy)]
pub enum SnappedItem<'a> {
    /// A waypoint or a free place.
    Point,
    /// A part, new or moved along with others, that must not be snapped to themselves.
    Part {
        /// What it is.
        entry: &'a PartKey,
        /// How it is turned.
        turn: Angle,
        /// The parts that move.
        moving: &'a [PartId],
    },
}

/// Settles where something held at a point goes. `radius` in metres.
pub fn snap(
    project: &Project,
    routing: LaidRouting,
    settings: &SnapSettings,
    held: SnappedItem<'_>,
    at: Point2,
    radius: f64,
) -> Snap {
    let mut to = Vec::new();
    let (mut x, mut y) = (None, None);
    if settings.on {
        if let SnappedItem::Part { entry, turn, moving } = held
            && let Some(item) = project.catalogue.item(entry)
        {
            let line = in_line(project, routing, item, turn, moving, at, radius / 2.0);
            if let Some((place, port)) = line.0 {
                x = Some(place);
                to.push(SnapTo::InLine(port));
            }
            if let Some((place, port)) = line.1 {
                y = Some(place);
                to.push(SnapTo::InLine(port));
            }
        }
        if x.is_none() {
            let middles = project.bar.sections.iter().filter(|_| settings.middles).map(|section| {
                let middle = f64::midpoint(section.left.si(), section.right.si());
                (middle, SnapTo::Middle(section.id))
            });
            let rows = project.bar.rows.iter().filter(|_| settings.rows);
            let rows = rows.map(|row| (row.x.si(), SnapTo::Row(row.id)));
            let found = nearest(middles, at.x, radius).or_else(|| nearest(rows, at.x, radius / 2.0));
            if let Some((place, what)) = found {
                x = Some(place);
                to.push(what);
            }
        }
        if settings.frame
            && y.is_none()
            && let Some((place, section, upright)) =
                on_frame(project, Point2::new(x.unwrap_or(at.x), at.y), radius)
        {
            // A member across the bar settles front to back; another one both, unless x is settled already.
            if upright && x.is_none() {
                x = Some(place.x);
            }
            if !upright {
                y = Some(place.y);
                if x.is_none() && place.x != at.x {
                    x = Some(place.x);
                }
            }
            to.push(SnapTo::Frame(section));
        }
    }
    let grid = settings.grid.filter(|grid| settings.on && grid.si() > 0.0);
    if grid.is_some() && x.is_none() && y.is_none() {
        to.push(SnapTo::Grid);
    }
    let free = |value: f64| match grid {
        Some(grid) => (value / grid.si()).round() * grid.si(),
        None => round_to_centimetre(value),
    };
    let flat = Point2::new(x.unwrap_or_else(|| free(at.x)), y.unwrap_or_else(|| free(at.y)));
    let height = if flat.x.is_finite() && flat.y.is_finite() { height_at(&project.bar, flat) } else { 0.0 };
    Snap { place: Point3::new(flat.x, flat.y, height), to }
}

fn nearest(candidates: impl Iterator<Item = (f64, SnapTo)>, at: f64, radius: f64) -> Option<(f64, SnapTo)> {
    candidates
        .filter(|(place, _)| (place - at).abs() <= radius)
        .min_by(|a, b| (a.0 - at).abs().total_cmp(&(b.0 - at).abs()))
}

/// The nearest frame member within reach: the place on it, its section, and whether it runs front to back.
fn on_frame(project: &Project, at: Point2, radius: f64) -> Option<(Point2, SectionId, bool)> {
    let members = project
        .bar
        .sections
        .iter()
        .flat_map(|section| section.members.iter().map(|member| (section.id, member)));
    members
        .filter_map(|(section, member)| {
            let place = on_member(member, at)?;
            let upright = (member.to.x - member.from.x).abs() < (member.to.y - member.from.y).abs() * 0.1;
            Some((place, section, upright)).filter(|_| place.distance(at) <= radius)
        })
        .min_by(|a, b| a.0.distance(at).total_cmp(&b.0.distance(at)))
}

fn on_member(member: &FrameMember, at: Point2) -> Option<Point2> {
    let (a, b) = (member.from.flat(), member.to.flat());
    let (dx, dy) = (b.x - a.x, b.y - a.y);
    let square = dx * dx + dy * dy;
    if square <= 0.0 {
        return None;
    }
    let share = (((at.x - a.x) * dx + (at.y - a.y) * dy) / square).clamp(0.0, 1.0);
    Some(Point2::new(a.x + share * dx, a.y + share * dy))
}

type Settled = Option<(f64, PortRef)>;

/// The x and y of the part's middle at which one of its hose ports stands in line with one of another part: side by
/// side where both face along the bar, one before the other where both face forward or back.
fn in_line(
    project: &Project,
    routing: LaidRouting,
    item: &PartItem,
    turn: Angle,
    moving: &[PartId],
    at: Point2,
    radius: f64,
) -> (Settled, Settled) {
    /// Parts farther away are not lined up with, metres.
    const FAR: f64 = 3.0;
    let hose_ports = |item: &PartItem| {
        item.ports().into_iter().filter(|port| matches!(port, Port::In | Port::Out | Port::Branch))
    };
    let carried = |part: &part::Part| {
        moving.contains(&part.id) || part.mount.is_some_and(|mount| moving.contains(&mount.part))
    };
    let mut best: (Settled, Settled) = (None, None);
    let (mut best_x, mut best_y) = (radius, radius);
    let held = item;
    if item.is_on_port() {
        return best;
    }
    for own in hose_ports(item) {
        let offset = part::place_offset(Point3::default(), turn, item.port_offset(own)).flat();
        let along = offset.x.abs() > offset.y.abs();
        let here = Point2::new(at.x + offset.x, at.y + offset.y);
        for other in routing.parts.iter().filter(|part| !carried(part) && part.mount.is_none()) {
            let Some(item) = project.catalogue.item(&other.entry) else { continue };
            let Some(&PlacedPart { at: middle, turn, .. }) = routing.geometry.anchors.part(other.id) else {
                continue;
            };
            // No hose runs between parts that lie over each other, as a second one does where the first was placed.
            let bodies = held.body().half_length + item.body().half_length;
            if middle.flat().distance(at) > FAR || middle.flat().distance(at) < bodies {
                continue;
            }
            for port in hose_ports(item) {
                let place = part::place_offset(middle, turn, item.port_offset(port)).flat();
                if ((place.x - middle.x).abs() > (place.y - middle.y).abs()) != along {
                    continue;
                }
                let port = PortRef { part: other.id, port };
                if !along && (place.x - here.x).abs() < best_x {
                    best_x = (place.x - here.x).abs();
                    best.0 = Some((place.x - offset.x, port));
                }
                if along && (place.y - here.y).abs() < best_y {
                    best_y = (place.y - here.y).abs();
                    best.1 = Some((place.y - offset.y, port));
                }
            }
        }
    }
    best
}

/// A free place on the bar is meant to the centimetre.
pub fn round_to_centimetre(metres: f64) -> f64 {
    (metres * 100.0).round() / 100.0
}

impl Session {
    /// Where a waypoint or a free place goes.
    pub fn snap_point(&self, at: Point2, radius: f64) -> Snap {
        snap(self.project(), self.laid(), &self.editor.snapping, SnappedItem::Point, at, radius)
    }

    /// Where the middle of a part goes; `moving` are the parts that move with it.
    pub fn snap_part(
        &self,
        entry: &PartKey,
        turn: Angle,
        moving: &[PartId],
        at: Point2,
        radius: f64,
    ) -> Snap {
        let held = SnappedItem::Part { entry, turn, moving };
        snap(self.project(), self.laid(), &self.editor.snapping, held, at, radius)
    }

    /// The end a hose takes at a place: a free port or the supply within reach; ports of `run` itself count as
    /// free. A gauge port takes no hose.
    pub fn snap_end(&self, at: Point2, radius: f64, run: Option<RunId>) -> Option<End> {
        let own: Vec<PortRef> = run
            .and_then(|run| self.routing().run(run))
            .map(|run| [run.from.port(), run.to.port()].into_iter().flatten().collect())
            .unwrap_or_default();
        let pump = self.project().supply.pump.flat().distance(at);
        let port = self.port_near(at, radius, &own, |port| port.port != Port::Gauge);
        match port {
            Some((distance, port)) if distance <= pump => Some(End::Port(port)),
            _ if pump <= radius => Some(End::Supply),
            _ => port.map(|(_, port)| End::Port(port)),
        }
    }

    /// The nearest end a hose may take: a free port, or the supply.
    pub fn nearest_end(&self, at: Point2, reach: f64) -> Option<End> {
        self.snap_end(at, reach, None)
    }

    /// The nearest port that nothing sits on.
    pub fn nearest_port(&self, at: Point2, reach: f64, fits: impl Fn(&PortRef) -> bool) -> Option<PortRef> {
        self.port_near(at, reach, &[], fits).map(|(_, port)| port)
    }

    /// The nearest port within reach that is free or among `own`, with its distance.
    pub(super) fn port_near(
        &self,
        at: Point2,
        reach: f64,
        own: &[PortRef],
        fits: impl Fn(&PortRef) -> bool,
    ) -> Option<(f64, PortRef)> {
        let taken = connections(self.routing());
        self.any_port_near(at, reach, |port| fits(port) && (own.contains(port) || !taken.contains_key(port)))
    }

    /// The nearest port within reach, taken or not, with its distance.
    pub(super) fn any_port_near(
        &self,
        at: Point2,
        reach: f64,
        fits: impl Fn(&PortRef) -> bool,
    ) -> Option<(f64, PortRef)> {
        let anchors = &self.geometry().anchors;
        let mut nearest: Option<(f64, PortRef)> = None;
        for (index, part) in anchors.parts().iter().enumerate() {
            for one in anchors.ports_of(index) {
                let port_ref = PortRef { part: part.id, port: one.port };
                let distance = one.at.place.flat().distance(at);
                let nearer = nearest.is_none_or(|(best, _)| distance < best);
                if distance <= reach && nearer && fits(&port_ref) {
                    nearest = Some((distance, port_ref));
                }
            }
        }
        nearest
    }

    /// What something snapped to, for a hint: `On the frame of wing left, in line with row 12`.
    pub fn snap_text(&self, snap: &Snap) -> Option<String> {
        let name = |port: &PortRef| {
            self.geometry().anchors.port_words(&self.tag_of(crate::plan::Subject::Part(port.part)), *port)
        };
        let section = |id: &SectionId| self.project().bar.section(*id).map_or("", |one| one.name.as_str());
        let one = |to: &SnapTo| match to {
            SnapTo::Port(port) => format!("on {}", name(port)),
            SnapTo::Hose(id) => format!("into {}", self.tag_of(crate::plan::Subject::Run(*id))),
            SnapTo::Supply => "at the pump's outlet".to_owned(),
            SnapTo::InLine(port) => format!("in line with {}", name(port)),
            SnapTo::Frame(id) => format!("on the frame of {}", section(id)),
            SnapTo::Middle(id) => format!("in the middle of {}", section(id)),
            SnapTo::Row(id) => {
                let number = self.project().bar.row(*id).map_or(0, |row| row.number);
                format!("in line with row {number}")
            }
            SnapTo::Outlet(id) => {
                let number = self.project().bar.row(*id).map_or(0, |row| row.number);
                format!("to row {number}")
            }
            SnapTo::Grid => "on the grid".to_owned(),
        };
        let mut parts: Vec<String> = snap.to.iter().map(one).collect();
        parts.dedup();
        let text = parts.join(", ");
        let mut letters = text.chars();
        letters.next().map(|first| first.to_uppercase().collect::<String>() + letters.as_str())
    }
}
