//! Where carriers may stand: not where a hose or tube moves between its clamps at a hinge, not where something comes in the
//! fold, not where openers rise and trip, not in parts, not through what lies there.

use super::bar_point::BarPoint;
use super::clash_search::caught_in_fold;
use super::fold::{FoldPosition, FoldedBar};
use super::held::{CarrierEnd, CarrierHold, HeldLine, InTheWay, rail};
use super::hung_line::HungLine;
use super::open_air::is_steep;
use super::routing_geometry::LaidRouting;
use super::solids::{Obstacle, Solid, opener_room, part_solids};
use super::{Bar, CrossedHinge, Project, RowId, SectionId};
use crate::geometry::{Box3, Capsule, Point3, distance_of_pieces};
use crate::quantities::Length;

/// What hangs free at a hinge sways and sags by so much beside where it is computed to lie, metres (common practice, no
/// source).
const SWAY: f64 = 0.1;

/// A part is taken to be as high as it is deep, which most are not: a carrier beside its edge reaches into that by so much of its
/// own width at most.
const INTO_A_PART: f64 = 0.5;

/// What lies on a carrier may press into it by so much, metres: lengths are rounded.
const INTO_A_LINE: f64 = 1e-4;

/// So many positions of the fold are looked at besides work.
const POSITIONS: u32 = 8;

/// What hangs free at a hinge.
struct FreePiece {
    line: HeldLine,
    radius: f64,
    /// At work, as drawn or as it bends; carriers stand beside that seen from above.
    at_work: Vec<Point3>,
    /// How it lies in positions of the fold, seen from a section that it joins.
    in_fold: Vec<(SectionId, Vec<Point3>)>,
}

/// The room of one routing.
pub(super) struct CarrierRoom<'a> {
    project: &'a Project,
    free: Vec<FreePiece>,
    /// Pieces of hoses and tubes of all sections that lie across or along.
    lying: Vec<(HeldLine, Capsule)>,
    openers: Vec<(RowId, SectionId, Box3)>,
    parts: Vec<Solid<Obstacle>>,
}

impl<'a> CarrierRoom<'a> {
    pub(super) fn new(project: &'a Project, routing: LaidRouting<'a>, lines: &[HungLine]) -> Self {
        let bar = &project.bar;
        let room = |row| opener_room(bar, &project.limits, row);
        let positions = (1..=POSITIONS).map(|at| FoldPosition::share(f64::from(at) / f64::from(POSITIONS)));
        let folded: Vec<(FoldPosition, FoldedBar)> =
            positions.map(|at| (at, FoldedBar::at(bar, at))).collect();
        Self {
            project,
            free: lines.iter().flat_map(|line| free_pieces(bar, line, &folded)).collect(),
            lying: lines.iter().flat_map(lying_pieces).collect(),
            openers: bar.rows.iter().map(|row| (row.id, row.section, room(row))).collect(),
            parts: part_solids(project, &routing, &routing.geometry.anchors),
        }
    }

    /// What is in the way of a carrier with these ends, if anything is.
    pub(super) fn in_the_way(&self, section: SectionId, ends: &[CarrierEnd; 2]) -> Option<InTheWay> {
        let overlap = self.project.limits.carrier_overlap;
        let shape = rail(ends, self.size(), overlap);
        let swept = |piece: &&FreePiece| piece.comes_to(section, &shape, self.clearance());
        if let Some(piece) = self.free.iter().find(swept) {
            return Some(InTheWay::FreePiece(piece.line.clone()));
        }
        if let Some((line, _)) = self.lying.iter().find(|(_, piece)| piece.gap(&shape) < -INTO_A_LINE) {
            return Some(InTheWay::Line(line.clone()));
        }
        // What it is fixed to has its own place beside the openers.
        let beyond = beyond_members(ends, self.size(), overlap);
        let opener = |(_, on, room): &&(RowId, SectionId, Box3)| {
            *on == section && beyond.is_some_and(|one| one.lies_in(room))
        };
        if let Some((row, ..)) = self.openers.iter().find(opener) {
            return Some(InTheWay::Opener(*row));
        }
        let is_met = |part: &&Solid<Obstacle>| {
            part.section == section && part.shape.gap(&shape) < -INTO_A_PART * self.size().si()
        };
        if let Some(Solid { of: Obstacle::Part(part), .. }) = self.parts.iter().find(is_met) {
            return Some(InTheWay::Part(*part));
        }
        let caught = caught_in_fold(self.project, &self.parts, &[Solid { of: (), section, shape }]);
        caught.first().map(|clash| InTheWay::Fold(clash.from))
    }

    const fn size(&self) -> Length {
        self.project.limits.carrier_size
    }

    const fn clearance(&self) -> f64 {
        self.project.limits.fold_clearance.si()
    }
}

/// A carrier without what of it is above the members that it is fixed to.
fn beyond_members(ends: &[CarrierEnd; 2], size: Length, overlap: Length) -> Option<Capsule> {
    let shape = rail(ends, size, overlap);
    let over = |end: &CarrierEnd| match end.on {
        CarrierHold::Member(member) => overlap.si() + member.width.si() / 2.0 + size.si(),
        CarrierHold::Carrier(_) | CarrierHold::Free => 0.0,
    };
    let length = shape.from.distance(shape.to);
    let (from, to) = (over(&ends[0]), over(&ends[1]));
    (from + to < length).then(|| Capsule {
        from: shape.from.towards(shape.to, from / length),
        to: shape.to.towards(shape.from, to / length),
        ..shape
    })
}

impl FreePiece {
    fn comes_to(&self, section: SectionId, shape: &Capsule, clearance: f64) -> bool {
        let flat = |at: Point3| Point3::new(at.x, at.y, 0.0);
        let [from, to] = [shape.from, shape.to];
        let near = |points: &[Point3], apart: &dyn Fn(Point3, Point3) -> f64, room: f64| {
            points.windows(2).any(|pair| apart(pair[0], pair[1]) < room)
        };
        let from_above = |a, b| distance_of_pieces([flat(from), flat(to)], [flat(a), flat(b)]);
        let apart = |a, b| distance_of_pieces([from, to], [a, b]);
        let own = self.radius + shape.radius;
        near(&self.at_work, &from_above, own + SWAY)
            || self.in_fold.iter().any(|(on, points)| *on == section && near(points, &apart, own + clearance))
    }
}

/// What of a line lies across or along: what is steep passes beside a carrier.
fn lying_pieces(line: &HungLine) -> Vec<(HeldLine, Capsule)> {
    let radius = line.outside.si() / 2.0;
    let pieces = line.laid.path.windows(2).map(|pair| [pair[0].place, pair[1].place]);
    let lying = pieces.filter(|[from, to]| !is_steep(*from, *to));
    lying.map(|[from, to]| (line.held.clone(), Capsule { from, to, radius })).collect()
}

/// What of a line hangs free at hinges.
fn free_pieces(bar: &Bar, line: &HungLine, folded: &[(FoldPosition, FoldedBar)]) -> Vec<FreePiece> {
    let piece = |at_work: Vec<Point3>| FreePiece {
        line: line.held.clone(),
        radius: line.outside.si() / 2.0,
        at_work,
        in_fold: Vec::new(),
    };
    let mut found: Vec<FreePiece> =
        line.clamped.iter().map(|[from, to]| piece(between(&line.laid.path, *from, *to))).collect();
    let work = FoldedBar::at(bar, FoldPosition::WORKING);
    for crossing in line.laid.crossings.iter().filter_map(CrossedHinge::computed) {
        let mut bent = piece(crossing.bent(bar, &work, FoldPosition::WORKING).unwrap_or_default());
        for (at, folded) in folded {
            let Some(points) = crossing.bent(bar, folded, *at) else { continue };
            for clamp in &crossing.clamps {
                let back = folded.motion(clamp.at.section).inverse();
                let seen = points.iter().map(|point| back.place(*point)).collect();
                bent.in_fold.push((clamp.at.section, seen));
            }
        }
        found.push(bent);
    }
    found
}

/// The points of a line between two places of the way through its points, with these places.
fn between(path: &[BarPoint], from: f64, to: f64) -> Vec<Point3> {
    let mut points = Vec::new();
    let mut passed = 0.0;
    for pair in path.windows(2) {
        let length = pair[0].place.distance(pair[1].place);
        let (begins, ends) = (passed, passed + length);
        passed = ends;
        if ends < from || begins > to || length == 0.0 {
            continue;
        }
        let at = |way: f64| pair[0].place.towards(pair[1].place, ((way - begins) / length).clamp(0.0, 1.0));
        if points.is_empty() {
            points.push(at(from));
        }
        points.push(at(to));
    }
    points
}
