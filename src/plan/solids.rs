//! What takes room on a bar: frame members, openers, parts, hoses and tubes as straight pieces with a thickness, each with
//! the section that carries it.
//!
//! A part is taken to be as high as it is deep. Openers are nobody's measure: their sizes are limits of the project, assumed
//! until someone changes them.

use super::bar::Bar;
use super::kinds::{Body, PartItem};
use super::limits::Limits;
use super::routing_geometry::{LaidLine, LaidRouting, LineGeometry};
use super::{
    Anchors, CrossedHinge, FoldPosition, FoldedBar, PlacedPart, Project, Routing, Row, RowId, SectionId,
    Subject,
};
use crate::geometry::{Box3, Capsule, Point3};
use crate::quantities::{Angle, Length};

/// A straight piece of something, working position.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Solid<T> {
    /// What it is of.
    pub of: T,
    /// The section that carries it.
    pub section: SectionId,
    /// Where it is and how thick.
    pub shape: Capsule,
}

/// What may come in the way of something.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Obstacle {
    /// A frame member of a section.
    Frame(SectionId),
    /// The opener of a row.
    Opener(RowId),
    /// A part.
    Part(super::PartId),
}

/// What can be caught: parts, and hoses and tubes where both ends of a piece ride on one section, down to the outlets of the
/// rows. A piece from one section to another bends as the bar folds, and is not in it (`free_clash.rs`).
pub fn plumbing(project: &Project, routing: LaidRouting) -> Vec<Solid<Subject>> {
    let mut all = Vec::new();
    for placed in routing.geometry.anchors.parts() {
        if let Some(shape) = part_shape(project, &routing, placed) {
            all.push(Solid { of: Subject::Part(placed.id), section: placed.section, shape });
        }
    }
    for LaidLine { of, line, laid, .. } in routing.laid_lines() {
        if let Some(stock) = project.catalogue.stock(&line.stock) {
            all.extend(pieces(of, laid, stock.outside));
        }
    }
    all
}

/// The pieces of a line that ride on one section, but for what hangs free between its clamps at a hinge, where that is computed.
fn pieces(of: Subject, line: &LineGeometry, outside: Length) -> Vec<Solid<Subject>> {
    let computed = line.crossings.iter().filter_map(CrossedHinge::computed);
    let free: Vec<(f64, f64)> = computed.map(|one| (one.span.0.si(), one.span.1.si())).collect();
    let mut walked = 0.0;
    let mut pieces = Vec::new();
    for pair in line.path.windows(2) {
        let (from, to) = (pair[0].place, pair[1].place);
        let length = from.distance(to);
        let (begins, ends) = (walked, walked + length);
        walked = ends;
        if pair[0].section != pair[1].section {
            continue;
        }
        let mut add = |begins: f64, ends: f64| {
            let at = |along: f64| {
                if length > 0.0 { from.towards(to, (along - walked + length) / length) } else { from }
            };
            let shape = Capsule { from: at(begins), to: at(ends), radius: outside.si() / 2.0 };
            pieces.push(Solid { of, section: pair[0].section, shape });
        };
        // Free pieces lie one behind the other.
        let mut held = begins;
        for (from, to) in free.iter().filter(|one| one.0 < ends && one.1 > begins) {
            if *from > held {
                add(held, *from);
            }
            held = held.max(*to);
        }
        if held < ends || (held == begins && length == 0.0) {
            add(held, ends);
        }
    }
    pieces
}

/// The free pieces of hoses and tubes between their clamps at the hinges, filled, in a position of the fold: each with the
/// sections of its clamps, and bent as computed. What is not computed is not among them.
pub fn free_pieces(
    project: &Project,
    routing: LaidRouting,
    folded: &FoldedBar,
    position: FoldPosition,
) -> Vec<FreeSolid> {
    let mut all = Vec::new();
    for LaidLine { of, line, laid, .. } in routing.laid_lines() {
        let Some(stock) = project.catalogue.stock(&line.stock) else { continue };
        for crossing in laid.crossings.iter().filter_map(CrossedHinge::computed) {
            let Some(points) = crossing.bent(&project.bar, folded, position) else { continue };
            let sections = [crossing.clamps[0].at.section, crossing.clamps[1].at.section];
            all.push(FreeSolid { of, sections, points, radius: stock.outside / 2.0 });
        }
    }
    all
}

/// A free piece between its clamps at a hinge.
#[derive(Debug, Clone, PartialEq)]
pub struct FreeSolid {
    /// What it is of.
    pub of: Subject,
    /// The sections of its clamps.
    pub sections: [SectionId; 2],
    /// Its middle line, metres.
    pub points: Vec<Point3>,
    /// Half its outside diameter.
    pub radius: Length,
}

impl FreeSolid {
    /// In straight pieces.
    pub fn pieces(&self) -> impl Iterator<Item = Capsule> + '_ {
        let radius = self.radius.si();
        self.points.windows(2).map(move |pair| Capsule { from: pair[0], to: pair[1], radius })
    }
}

/// A part as it lies: along its length, as thick as it is deep.
pub fn part_shape(project: &Project, routing: &Routing, placed: &PlacedPart) -> Option<Capsule> {
    let item: &PartItem = project.catalogue.item(&routing.part(placed.id)?.entry)?;
    Some(body_shape(item.body(), placed.at, placed.turn))
}

/// A body at a place and turned.
pub fn body_shape(body: Body, at: Point3, turn: Angle) -> Capsule {
    let reach = (body.half_length - body.half_depth).max(0.0);
    let (sin, cos) = turn.si().sin_cos();
    let along = Point3::new(cos * reach, sin * reach, 0.0);
    let radius = body.half_depth.min(body.half_length);
    Capsule { from: at - along, to: at + along, radius }
}

/// The parts of a routing as obstacles.
pub fn part_solids(project: &Project, routing: &Routing, anchors: &Anchors) -> Vec<Solid<Obstacle>> {
    let solid = |placed: &PlacedPart| {
        let shape = part_shape(project, routing, placed)?;
        Some(Solid { of: Obstacle::Part(placed.id), section: placed.section, shape })
    };
    anchors.parts().iter().filter_map(solid).collect()
}

/// The frame members of a bar.
pub fn frame(bar: &Bar) -> Vec<Solid<Obstacle>> {
    let of = |section: &super::Section| {
        let id = section.id;
        let members = section.members.iter().map(move |member| {
            // Round ends within its length: it does not reach beyond where it was drawn to.
            let (length, radius) = (member.from.distance(member.to), member.width.si() / 2.0);
            let end = if length > 2.0 * radius { radius / length } else { 0.5 };
            let (from, to) = (member.from.towards(member.to, end), member.to.towards(member.from, end));
            Solid { of: Obstacle::Frame(id), section: id, shape: Capsule { from, to, radius } }
        });
        members.collect::<Vec<_>>()
    };
    bar.sections.iter().flat_map(of).collect()
}

/// The openers of a bar: upright from the row's outlet, as wide and as high as assumed.
pub fn openers(bar: &Bar, limits: &Limits) -> Vec<Solid<Obstacle>> {
    let of = |row: &Row| {
        let outlet = bar.outlet(row);
        let top = Point3::new(outlet.x, outlet.y, outlet.z + limits.opener_height.si());
        let shape = Capsule { from: outlet, to: top, radius: limits.opener_width.si() / 2.0 };
        Solid { of: Obstacle::Opener(row.id), section: row.section, shape }
    };
    bar.rows.iter().map(of).collect()
}

/// The room that a row's opener takes where it rises over a stone and trips back, as assumed.
pub fn opener_room(bar: &Bar, limits: &Limits, row: &Row) -> Box3 {
    let outlet = bar.outlet(row);
    let half = limits.opener_width.si() / 2.0;
    Box3 {
        min: Point3::new(outlet.x - half, outlet.y - limits.opener_trip.si() - half, outlet.z),
        max: Point3::new(
            outlet.x + half,
            outlet.y + half,
            outlet.z + limits.opener_height.si() + limits.opener_rise.si(),
        ),
    }
}
