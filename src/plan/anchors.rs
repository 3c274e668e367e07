//! What hoses and tubes start and end at: ports of parts, outlets of rows, the pump.

use std::ops::Range;

use super::bar::Bar;
use super::bar_point::BarPoint;
use super::catalogue::Catalogue;
use super::catalogue_index::CatalogueIndex;
use super::kinds::{Body, PartItem, PortName};
use super::part::{self, MOUNT_DISTANCE, Part, Port, PortRef, place_offset};
use super::run::{End, Run};
use super::supply::Supply;
use super::through_body::PlacedBody;
use super::{PartId, Project, Routing, RowId, SectionId};
use crate::geometry::{Point2, Point3};
use crate::quantities::Angle;

/// Where a placed part is, mounts followed.
#[derive(Debug, Clone, PartialEq)]
pub struct PlacedPart {
    /// The part.
    pub id: PartId,
    /// Its middle.
    pub at: Point3,
    /// How it is turned in the plan view, counter-clockwise seen from above.
    pub turn: Angle,
    /// The section that carries it.
    pub section: SectionId,
    /// What lines are led round; none of what is screwed onto a port or is not in the catalogue.
    pub body: Option<Body>,
    /// Its ports among all ports.
    ports: Range<usize>,
}

impl PlacedPart {
    /// Its body where it stands, taken to be as high as it is deep.
    pub fn placed_body(&self) -> Option<PlacedBody> {
        let body = self.body?;
        Some(PlacedBody { at: self.at, turn: self.turn, body, half_height: body.half_depth })
    }

    /// Where a part stands that is screwed onto one of this part's ports, and how it is turned: off the port in the
    /// direction that it faces.
    pub fn mounted(&self, port: &PlacedPort) -> (Point3, Angle) {
        let (at, away) = (port.at.place, MOUNT_DISTANCE.si());
        (Point3::new(at.x + port.facing.x * away, at.y + port.facing.y * away, at.z), self.turn)
    }

    /// Its middle with the section that carries it.
    pub const fn middle(&self) -> BarPoint {
        BarPoint { place: self.at, section: self.section }
    }
}

/// Where a port of a placed part is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlacedPort {
    /// Which port of its part.
    pub port: Port,
    /// Where it is, and on what it rides.
    pub at: BarPoint,
    /// Which way it faces: a unit vector in the plan view.
    pub facing: Point2,
    /// What it is.
    pub name: PortName,
    /// Comes plugged: nothing has to be on it.
    pub comes_plugged: bool,
}

/// Where all parts, their ports, the outlets of all rows and the pump are, found by their ids.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Anchors {
    /// In the routing's order.
    parts: Vec<PlacedPart>,
    ports: Vec<PlacedPort>,
    /// Places of the parts, sorted by their ids.
    part_index: Vec<(PartId, usize)>,
    /// In the bar's order.
    outlets: Vec<BarPoint>,
    row_index: Vec<(RowId, usize)>,
    pump: BarPoint,
}

pub(super) fn index<I: Ord + Copy>(ids: impl Iterator<Item = I>) -> Vec<(I, usize)> {
    let mut sorted: Vec<(I, usize)> = ids.enumerate().map(|(at, id)| (id, at)).collect();
    // Of two that share an id the first counts.
    sorted.sort_unstable();
    sorted
}

pub(super) fn find<I: Ord + Copy>(index: &[(I, usize)], id: I) -> Option<usize> {
    let at = index.partition_point(|(known, _)| *known < id);
    index.get(at).filter(|(known, _)| *known == id).map(|(_, place)| *place)
}

impl Anchors {
    /// Of a routing of a project in working position.
    pub fn of(project: &Project, routing: &Routing) -> Self {
        Self::new(&project.bar, &project.catalogue, &project.supply, &routing.parts)
    }

    /// Of these parts on a bar. A mount that can't be followed (the host is gone, or mounts in a circle) leaves a part
    /// at its own position.
    pub fn new(bar: &Bar, catalogue: &Catalogue, supply: &Supply, parts: &[Part]) -> Self {
        let catalogue = CatalogueIndex::new(catalogue);
        let part_index = index(parts.iter().map(|part| part.id));
        let items: Vec<Option<&PartItem>> = parts.iter().map(|part| catalogue.item(&part.entry)).collect();
        let mut ports = Vec::new();
        let mut placed = Vec::with_capacity(parts.len());
        for (part, item) in parts.iter().zip(&items) {
            let (at, turn) = placement(part, parts, &part_index, &items, parts.len());
            let first = ports.len();
            let riding = |place| BarPoint { place, section: part.section };
            if let Some(item) = item {
                let (sin, cos) = turn.si().sin_cos();
                ports.extend(item.port_places().into_iter().map(|own| {
                    let out = own.facing;
                    PlacedPort {
                        port: own.port,
                        at: riding(place_offset(at, turn, own.offset)),
                        facing: Point2::new(out.x * cos - out.y * sin, out.x * sin + out.y * cos),
                        name: own.name,
                        comes_plugged: own.comes_plugged,
                    }
                }));
            }
            placed.push(PlacedPart {
                id: part.id,
                at,
                turn,
                section: part.section,
                body: item.filter(|item| !item.is_on_port()).map(|item| item.body()),
                ports: first..ports.len(),
            });
        }
        let outlet = |row: &super::row::Row| BarPoint { place: bar.outlet(row), section: row.section };
        // The pump and its hose come from the tractor or cart, which the centre section follows.
        let centre = bar.sections.first().map(|section| section.id).unwrap_or_default();
        Self {
            parts: placed,
            ports,
            part_index,
            outlets: bar.rows.iter().map(outlet).collect(),
            row_index: index(bar.rows.iter().map(|row| row.id)),
            pump: BarPoint { place: supply.pump, section: centre },
        }
    }

    /// All parts, in the routing's order.
    pub fn parts(&self) -> &[PlacedPart] {
        &self.parts
    }

    /// What is in the way of a line between two ends: all bodies but those that it ends on.
    pub fn bodies_between(&self, from: &End, to: &End) -> Vec<PlacedBody> {
        let ends = [from, to].map(|end| end.port().map(|port| port.part));
        let others = self.parts.iter().filter(|part| !ends.contains(&Some(part.id)));
        others.filter_map(PlacedPart::placed_body).collect()
    }

    /// Where a part is.
    pub fn part(&self, id: PartId) -> Option<&PlacedPart> {
        self.parts.get(self.part_place(id)?)
    }

    /// The place of a part among the parts of its routing.
    pub fn part_place(&self, id: PartId) -> Option<usize> {
        find(&self.part_index, id)
    }

    /// The place of a row among the rows of its bar.
    pub fn row_place(&self, id: RowId) -> Option<usize> {
        find(&self.row_index, id)
    }

    /// The ports of the part at a place in the routing, in the order of
    /// [`ports`](super::kinds::PartDescription::port_places).
    pub fn ports_of(&self, place: usize) -> &[PlacedPort] {
        self.parts.get(place).map_or(&[], |part| &self.ports[part.ports.clone()])
    }

    /// A port of a part; none if there is no such part or it has no such port.
    pub fn placed_port(&self, port: PortRef) -> Option<&PlacedPort> {
        self.ports_of(self.part_place(port.part)?).iter().find(|one| one.port == port.port)
    }

    /// Where a port is.
    pub fn port(&self, port: PortRef) -> Option<BarPoint> {
        self.placed_port(port).map(|one| one.at)
    }

    /// Where an end is; none on a port that is not there.
    pub fn end(&self, end: &End) -> Option<BarPoint> {
        match end {
            End::Supply => Some(self.pump),
            End::Port(port) => self.port(*port),
            End::Loose(point) => Some(*point),
        }
    }

    /// Where both ends of a run are.
    pub fn ends(&self, run: &Run) -> Option<(BarPoint, BarPoint)> {
        Some((self.end(&run.from)?, self.end(&run.to)?))
    }

    /// Where a row's liquid leaves.
    pub fn outlet(&self, row: RowId) -> Option<BarPoint> {
        self.row_place(row).map(|place| self.outlets[place])
    }

    /// The side of the bar that a port faces: `front`, `rear`, `left` or `right`.
    pub fn faces(&self, port: PortRef) -> Option<&'static str> {
        self.placed_port(port).map(|one| part::side(one.facing))
    }

    /// A port with its part, as papers and screens call it: `M1/6` for an outlet, `M1 inlet`, `J2 left end`.
    pub fn port_words(&self, tag: &str, port: PortRef) -> String {
        match port.port {
            Port::Outlet(number) => part::outlet_words(tag, number),
            _ => format!("{tag} {}", self.port_name(port)),
        }
    }

    /// A port without its part: `inlet`, `outlet 4`, `branch`. The two ends of a tee's run are
    /// told apart by where they point on the bar: `left end`.
    pub fn port_name(&self, port: PortRef) -> String {
        match (self.placed_port(port).map(|placed| placed.name), port.port) {
            (Some(name), _) if name.by_its_side() => {
                format!("{} end", self.faces(port).unwrap_or_default())
            }
            (_, numbered @ Port::Outlet(_)) => numbered.to_string(),
            (Some(name), _) => name.in_catalogue().to_owned(),
            (None, Port::Out) => "outlet".to_owned(),
            (None, other) => other.to_string(),
        }
    }
}

fn placement(
    part: &Part,
    parts: &[Part],
    part_index: &[(PartId, usize)],
    items: &[Option<&PartItem>],
    depth: usize,
) -> (Point3, Angle) {
    let own = (part.position, part.turn);
    let Some(mount) = part.mount.filter(|_| depth > 0) else { return own };
    let Some(host) = find(part_index, mount.part) else { return own };
    let Some(item) = items[host] else { return own };
    let (at, turn) = placement(&parts[host], parts, part_index, items, depth - 1);
    // Off the host along the direction the port faces; of a port that it has not, off its middle.
    let (offset, out) = item
        .port(mount.port)
        .map_or((Point2::default(), Point2::new(1.0, 0.0)), |port| (port.offset, port.facing));
    let away = Point2::new(offset.x + out.x * MOUNT_DISTANCE.si(), offset.y + out.y * MOUNT_DISTANCE.si());
    (place_offset(at, turn, away), turn)
}
