//! The frame as a graph: the shortest way for a hose along frame members and through hinges.
//!
//! Nodes are the ends of frame members, the places where members of one section meet, and for each hinge the places beside
//! its line that the members on both sides come nearest to, at the height of these: a hose that lies straight on the frame
//! there has room for its clamps, and how long it must be is computed (`crossing`). A wing that folds up has a long hinge line
//! and may be crossed at any rail; a wing that folds forward has an upright one and is crossed at the pivot. What hangs free of the frame counts half as much
//! again as what is tied to it, so that a hose leaves the frame only where that saves something.

use std::collections::BTreeMap;

use petgraph::algo::astar;
use petgraph::graph::{EdgeReference, NodeIndex, UnGraph};
use petgraph::visit::EdgeRef;

use super::SectionId;
use super::bar::{Bar, FrameMember, Section};
use super::bar_point::BarPoint;
use super::frame_way::{FrameWay, Step};
use super::through_body::PlacedBody;
use super::through_frame::passes_through;
use crate::geometry::{Point2, Point3, polyline_length};
use crate::quantities::Length;

/// How far above the middle of a frame member a hose or part lies, metres: half a profile and half a hose
/// (common practice, no source).
pub const ABOVE_MEMBER: f64 = 0.1;

/// Height of what lies where there is no frame, metres.
pub const WITHOUT_FRAME: f64 = 1.0;

/// Members of one section that come as near as this to each other are joined there, metres.
const MEETS: f64 = 0.15;

/// Ends farther than this from any frame member are joined straight, metres.
const NEAR: f64 = 1.0;

/// What a length off the frame counts against one on it.
const OFF_FRAME: f64 = 1.5;

/// As far as this a delivery tube may hang between two members without a tie, metres: its supports stand 0.2 to 0.4 m apart
/// (common practice, no source).
pub const FREE_TUBE: f64 = 0.4;

/// What a length of delivery tube beyond [`FREE_TUBE`] counts against one on the frame: there is nothing to tie it to.
const UNTIED: f64 = 4.0;

/// A hose goes so much farther rather than through a member, metres: through it only where nothing else leads there.
const THROUGH: f64 = 20.0;

/// So much farther a line goes to keep clear of a part on which it does not end, metres (common practice, no source).
const ROUND: f64 = 1.5;

/// How far beside a part a hose goes round it, metres (common practice, no source).
const BESIDE: f64 = 0.05;

/// Waypoints that bend the way by less than this are left out, metres.
const STRAIGHT: f64 = 0.01;

/// The frame of a bar, ready for any number of ways.
#[derive(Debug, Clone)]
pub struct FrameGraph {
    graph: UnGraph<Node, f64>,
    /// Straight pieces between nodes, for stops to step onto.
    pieces: BTreeMap<SectionId, Vec<(NodeIndex, NodeIndex)>>,
    /// Of all sections: what hangs free of the frame must not lead through them.
    members: Vec<FrameMember>,
}

/// What is laid along the frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Laid {
    Hose,
    Tube,
}

/// A place on a member: its section, its place among the section's members, and the share of its length.
type OnMember = (SectionId, usize, f64);

#[derive(Debug, Clone, Copy)]
struct Node {
    place: Point3,
    /// The hinge it lies on, named by the section that hangs on it.
    hinge: Option<SectionId>,
    /// The section that carries what lies there; a hinge is carried by the inner one.
    section: SectionId,
    /// It is the corner of a part that a line goes round.
    is_corner: bool,
}

impl FrameGraph {
    /// From the frame members and hinges of a bar.
    pub fn new(bar: &Bar) -> Self {
        let members = bar.sections.iter().flat_map(|section| section.members.clone()).collect();
        let mut frame = Self { graph: UnGraph::default(), pieces: BTreeMap::new(), members };
        // Places on each member that need a node, as shares of its length.
        let mut cuts: BTreeMap<(SectionId, usize), Vec<f64>> = BTreeMap::new();
        let mut joints: Vec<(OnMember, OnMember)> = Vec::new();
        let mut at_hinge: Vec<(SectionId, Point3, OnMember)> = Vec::new();
        for section in &bar.sections {
            let members = &section.members;
            for (index, member) in members.iter().enumerate() {
                cuts.entry((section.id, index)).or_default().extend([0.0, 1.0]);
                for (other, next) in members.iter().enumerate().skip(index + 1) {
                    let (s, t) = nearest_shares(member, next);
                    if on_member(member, s).distance(on_member(next, t)) <= MEETS {
                        cuts.entry((section.id, index)).or_default().push(s);
                        cuts.entry((section.id, other)).or_default().push(t);
                        joints.push(((section.id, index, s), (section.id, other, t)));
                    }
                }
            }
        }
        for child in &bar.sections {
            let Some(hinge) = child.hinge else { continue };
            for side in [hinge.parent, child.id] {
                let Some(section) = bar.section(side) else { continue };
                for (index, member) in section.members.iter().enumerate() {
                    let share = nearest_to_line(member, hinge.point, hinge.axis);
                    cuts.entry((side, index)).or_default().push(share);
                    at_hinge.push((child.id, raised(on_member(member, share)), (side, index, share)));
                }
            }
        }
        let mut nodes: BTreeMap<(SectionId, usize), Vec<(f64, NodeIndex)>> = BTreeMap::new();
        for section in &bar.sections {
            for (index, member) in section.members.iter().enumerate() {
                let mut shares = cuts.remove(&(section.id, index)).unwrap_or_default();
                shares.sort_by(f64::total_cmp);
                shares.dedup_by(|a, b| (*a - *b).abs() < 1e-9);
                let along: Vec<(f64, NodeIndex)> = shares
                    .into_iter()
                    .map(|share| (share, frame.node(raised(on_member(member, share)), section.id, None)))
                    .collect();
                for pair in along.windows(2) {
                    frame.edge(pair[0].1, pair[1].1, 1.0);
                    frame.pieces.entry(section.id).or_default().push((pair[0].1, pair[1].1));
                }
                nodes.insert((section.id, index), along);
            }
        }
        let find = |(section, index, share): OnMember| {
            let along = nodes.get(&(section, index))?;
            along.iter().min_by(|a, b| (a.0 - share).abs().total_cmp(&(b.0 - share).abs())).map(|one| one.1)
        };
        for (a, b) in joints {
            if let (Some(a), Some(b)) = (find(a), find(b)) {
                frame.edge(a, b, 1.0);
            }
        }
        for child in &bar.sections {
            let Some(hinge) = child.hinge else { continue };
            let along = |place: &Point3| along_line(*place, hinge.point, hinge.axis);
            let mut beside: Vec<&(SectionId, Point3, OnMember)> =
                at_hinge.iter().filter(|one| one.0 == child.id).collect();
            beside.sort_by(|a, b| along(&a.1).total_cmp(&along(&b.1)));
            let mut line: Vec<(f64, NodeIndex)> = Vec::new();
            // Members that come to one place of the line are crossed in one place.
            for alike in beside.chunk_by(|a, b| along(&b.1) - along(&a.1) < STRAIGHT) {
                let nearest = |inner: bool| {
                    let off = |place: &Point3| place.distance(onto_line(*place, hinge.point, hinge.axis));
                    let side = alike.iter().filter(|one| (one.2.0 == hinge.parent) == inner);
                    side.map(|one| one.1).min_by(|a, b| off(a).total_cmp(&off(b)))
                };
                let Some(place) = (match (nearest(true), nearest(false)) {
                    (Some(inner), Some(outer)) => Some(inner.towards(outer, 0.5)),
                    // Beside one section alone: over the line, as high as its member.
                    (one, other) => one.or(other).map(|one| beside_line(one, hinge.point, hinge.axis)),
                }) else {
                    continue;
                };
                let node = frame.node(place, hinge.parent, Some(child.id));
                line.push((along(&place), node));
                for (_, _, member) in alike {
                    if let Some(member) = find(*member) {
                        frame.edge(node, member, OFF_FRAME);
                    }
                }
            }
            line.sort_by(|a, b| a.0.total_cmp(&b.0));
            for pair in line.windows(2) {
                frame.edge(pair[0].1, pair[1].1, OFF_FRAME);
            }
        }
        frame
    }

    fn node(&mut self, place: Point3, section: SectionId, hinge: Option<SectionId>) -> NodeIndex {
        self.graph.add_node(Node { place, hinge, section, is_corner: false })
    }

    /// The corners of a part, so far off it that a hose passes, at the height of what goes round it.
    fn corners(&mut self, body: &PlacedBody, stop: BarPoint, what: Laid) -> [NodeIndex; 4] {
        // A hose from a pump far below has climbed by then.
        let z = if what == Laid::Hose { body.at.z } else { stop.place.z };
        body.corners(BESIDE).map(|corner| {
            let place = Point3 { z, ..corner };
            self.graph.add_node(Node { place, hinge: None, section: stop.section, is_corner: true })
        })
    }

    /// Joins corners of what is in the way of the free pieces at a stop with the stops on its section, with each other and with
    /// the members of it: off the frame nothing else leads round a part.
    fn lead_round(
        &mut self,
        (stop, node): (BarPoint, NodeIndex),
        others: &[NodeIndex],
        members: &[(NodeIndex, NodeIndex)],
        (round, what): (&[PlacedBody], Laid),
    ) {
        let at = |graph: &Self, node: NodeIndex| graph.graph[node].place;
        let free: Vec<[Point3; 2]> = self
            .graph
            .edges(node)
            .map(|edge| [edge.source(), edge.target()].map(|one| at(self, one)))
            .collect();
        for body in round.iter().filter(|body| free.iter().any(|piece| body.is_passed_through(piece))) {
            let corners = self.corners(body, stop, what);
            for (index, corner) in corners.into_iter().enumerate() {
                self.free(node, corner, what);
                for other in corners.iter().skip(index + 1).chain(others) {
                    self.free(corner, *other, what);
                }
                for &(a, b) in members {
                    let foot = nearest_on_piece(at(self, corner), at(self, a), at(self, b));
                    let foot = self.node(foot, stop.section, None);
                    self.free(corner, foot, what);
                    self.edge(foot, a, 1.0);
                    self.edge(foot, b, 1.0);
                }
            }
        }
    }

    fn edge(&mut self, a: NodeIndex, b: NodeIndex, counts: f64) {
        let length = self.graph[a].place.distance(self.graph[b].place);
        self.graph.add_edge(a, b, length * counts);
    }

    /// A piece that hangs free. How far it climbs or drops it must in any case; only what it covers of the ground
    /// could be on the frame instead.
    fn free(&mut self, a: NodeIndex, b: NodeIndex, what: Laid) {
        let (one, other) = (self.graph[a].place, self.graph[b].place);
        let flat = one.flat().distance(other.flat());
        let untied = match what {
            Laid::Hose => 0.0,
            Laid::Tube => (flat - FREE_TUBE).max(0.0),
        };
        // Tubes end at openers that hang beside the members, drawn as if these were in line.
        let through = if what == Laid::Hose && self.passes_member([one, other]) { THROUGH } else { 0.0 };
        let counts = (flat - untied) * OFF_FRAME + untied * UNTIED + through;
        self.graph.add_edge(a, b, (one.z - other.z).abs() + counts);
    }

    fn passes_member(&self, piece: [Point3; 2]) -> bool {
        self.members.iter().any(|member| passes_through(member, &piece))
    }

    /// The shortest way between two stops, round bodies where that is no more than [`ROUND`] longer; none where no frame is near
    /// either of them, or where the frame does not lead from one to the other. The same stops always give the same way.
    pub fn way(&self, from: BarPoint, to: BarPoint, round: &[PlacedBody]) -> Option<FrameWay> {
        self.way_of(Laid::Hose, from, to, round)
    }

    /// The same for a delivery tube, which needs a member to be tied to more often than a hose.
    pub fn tube_way(&self, from: BarPoint, to: BarPoint, round: &[PlacedBody]) -> Option<FrameWay> {
        self.way_of(Laid::Tube, from, to, round)
    }

    fn way_of(&self, what: Laid, from: BarPoint, to: BarPoint, round: &[PlacedBody]) -> Option<FrameWay> {
        let finite = from.place.is_finite() && to.place.is_finite();
        if !finite || self.off_frame(from).min(self.off_frame(to)) > NEAR {
            return None;
        }
        // A copy with the two stops: pieces they step onto are few, and the frame itself stays as it is.
        let members = self.members.clone();
        let mut graph = Self { graph: self.graph.clone(), pieces: BTreeMap::new(), members };
        let (start, goal) =
            (graph.node(from.place, from.section, None), graph.node(to.place, to.section, None));
        for (stop, node) in [(from, start), (to, goal)] {
            for &(a, b) in self.pieces.get(&stop.section).into_iter().flatten() {
                let (at, next) = (graph.graph[a].place, graph.graph[b].place);
                let foot = graph.node(nearest_on_piece(stop.place, at, next), stop.section, None);
                graph.free(node, foot, what);
                graph.edge(foot, a, 1.0);
                graph.edge(foot, b, 1.0);
                // The other stop may step onto the same piece, and need not go round by its ends.
                let other = if node == goal { from } else { to };
                if other.section == stop.section {
                    let beside = graph.node(nearest_on_piece(other.place, at, next), stop.section, None);
                    graph.edge(foot, beside, 1.0);
                    graph.free(beside, if node == goal { start } else { goal }, what);
                }
            }
        }
        // Straight through the air only over a short gap, or where an end is off the frame anyway.
        let gap = from.place.flat().distance(to.place.flat());
        let free = self.off_frame(from).max(self.off_frame(to)) > NEAR;
        if from.section == to.section && (gap <= NEAR || free) {
            graph.free(start, goal, what);
        }
        if !round.is_empty() {
            for (stop, node, other) in [(from, start, goal), (to, goal, start)] {
                let others: &[NodeIndex] = if from.section == to.section { &[other] } else { &[] };
                let members = self.pieces.get(&stop.section).map_or(&[][..], Vec::as_slice);
                graph.lead_round((stop, node), others, members, (round, what));
            }
        }
        // No piece counts less than it is long, so that the straight distance never overrates what is left.
        let left = |node: NodeIndex| graph.graph[node].place.distance(to.place);
        let counts = |edge: EdgeReference<f64>| {
            let piece = [edge.source(), edge.target()].map(|node| graph.graph[node].place);
            let through = round.iter().filter(|body| body.is_passed_through(&piece)).count();
            edge.weight() + ROUND * through as f64
        };
        let (_, path) = astar(&graph.graph, start, |node| node == goal, counts, left)?;
        let nodes: Vec<Node> = path.iter().map(|node| graph.graph[*node]).collect();
        let mut hinges: Vec<SectionId> = nodes.iter().filter_map(|node| node.hinge).collect();
        hinges.dedup();
        let kept = without_straight(&nodes);
        let points: Vec<Point3> = kept.iter().map(|node| node.place).collect();
        let length = Length::metres(polyline_length(&points));
        let between = &kept[1..kept.len().saturating_sub(1).max(1)];
        let waypoints =
            between.iter().map(|node| BarPoint { place: node.place, section: node.section }).collect();
        let step = |node: &Node| match (node.hinge, node.is_corner) {
            (Some(_), _) => Step::Hinge,
            (None, true) => Step::Corner,
            (None, false) => Step::Member,
        };
        let steps = between.iter().map(step).collect();
        Some(FrameWay { waypoints, hinges, length, steps })
    }

    /// How far a stop is from the frame of its section, metres; infinite where that has none.
    fn off_frame(&self, stop: BarPoint) -> f64 {
        let pieces = self.pieces.get(&stop.section).into_iter().flatten();
        let places = pieces.map(|&(a, b)| (self.graph[a].place, self.graph[b].place));
        places
            .map(|(a, b)| nearest_on_piece(stop.place, a, b).flat().distance(stop.place.flat()))
            .fold(f64::INFINITY, f64::min)
    }
}

/// The height at which a hose or part lies at a place, metres: on the nearest frame member of the section there.
pub fn height_at(bar: &Bar, at: Point2) -> f64 {
    height_on(bar.section_at(at.x), at)
}

/// A point at the height of the frame of the section that it rides on.
#[must_use]
pub fn on_frame(bar: &Bar, point: BarPoint) -> BarPoint {
    let z = height_on(bar.section(point.section), point.place.flat());
    BarPoint { place: Point3 { z, ..point.place }, ..point }
}

/// The height at which a hose or part lies on a section, metres: on its nearest frame member.
pub fn height_on(section: Option<&Section>, at: Point2) -> f64 {
    let members = section.map_or(&[][..], |section| &section.members);
    let away = |member: &&FrameMember| at.distance_to_piece(member.from.flat(), member.to.flat());
    let nearest = members.iter().min_by(|a, b| away(a).total_cmp(&away(b)));
    nearest.map_or(WITHOUT_FRAME, |member| {
        let share = share_on_piece(at, member.from.flat(), member.to.flat());
        raised(on_member(member, share)).z
    })
}

/// Leaves out nodes that do not bend the way; hinges stay, because a fold turns there.
fn without_straight(nodes: &[Node]) -> Vec<Node> {
    let mut kept: Vec<Node> = Vec::with_capacity(nodes.len());
    for (index, node) in nodes.iter().enumerate() {
        let ends = index == 0 || index + 1 == nodes.len();
        if !ends && node.hinge.is_none() {
            let (Some(before), Some(after)) = (kept.last(), nodes.get(index + 1)) else { continue };
            let nearest = nearest_on_piece(node.place, before.place, after.place);
            if nearest.distance(node.place) < STRAIGHT {
                continue;
            }
        }
        kept.push(*node);
    }
    kept
}

fn raised(point: Point3) -> Point3 {
    Point3::new(point.x, point.y, point.z + ABOVE_MEMBER)
}

fn on_member(member: &FrameMember, share: f64) -> Point3 {
    member.from.towards(member.to, share)
}

fn dot(a: Point3, b: Point3) -> f64 {
    a.x * b.x + a.y * b.y + a.z * b.z
}

fn share_on_piece(at: Point2, a: Point2, b: Point2) -> f64 {
    let (dx, dy) = (b.x - a.x, b.y - a.y);
    let square = dx * dx + dy * dy;
    if square > 0.0 { (((at.x - a.x) * dx + (at.y - a.y) * dy) / square).clamp(0.0, 1.0) } else { 0.0 }
}

/// The point of the piece from `a` to `b` nearest to a point.
pub fn nearest_on_piece(point: Point3, a: Point3, b: Point3) -> Point3 {
    let along = b - a;
    let square = dot(along, along);
    let share = if square > 0.0 { (dot(point - a, along) / square).clamp(0.0, 1.0) } else { 0.0 };
    a.towards(b, share)
}

/// Where two members come nearest to each other, as shares of each.
fn nearest_shares(one: &FrameMember, other: &FrameMember) -> (f64, f64) {
    let (d1, d2, r) = (one.to - one.from, other.to - other.from, one.from - other.from);
    let (a, e, b) = (dot(d1, d1), dot(d2, d2), dot(d1, d2));
    let share = |point: Point3, from: Point3, along: Point3, square: f64| {
        if square > 0.0 { (dot(point - from, along) / square).clamp(0.0, 1.0) } else { 0.0 }
    };
    let across = a * e - b * b;
    let s = if across > 1e-12 {
        ((b * dot(d2, r) - e * dot(d1, r)) / across).clamp(0.0, 1.0)
    } else {
        // Parallel: the end that lies nearest to the other member.
        let off = |s: f64| {
            let point = on_member(one, s);
            point.distance(on_member(other, share(point, other.from, d2, e)))
        };
        if off(0.0) <= off(1.0) { 0.0 } else { 1.0 }
    };
    let t = share(on_member(one, s), other.from, d2, e);
    let s = share(on_member(other, t), one.from, d1, a);
    (s, t)
}

/// Where a member comes nearest to a line, as a share of the member.
fn nearest_to_line(member: &FrameMember, origin: Point3, axis: Point3) -> f64 {
    let (d, r) = (member.to - member.from, member.from - origin);
    let (a, e, b) = (dot(d, d), dot(axis, axis), dot(d, axis));
    let across = a * e - b * b;
    if across > 1e-12 {
        ((b * dot(axis, r) - e * dot(d, r)) / across).clamp(0.0, 1.0)
    } else if a > 0.0 {
        // Parallel to it: beside the hinge point.
        (dot(origin - member.from, d) / a).clamp(0.0, 1.0)
    } else {
        0.0
    }
}

fn along_line(point: Point3, origin: Point3, axis: Point3) -> f64 {
    let square = dot(axis, axis);
    if square > 0.0 { dot(point - origin, axis) / square.sqrt() } else { 0.0 }
}

fn onto_line(point: Point3, origin: Point3, axis: Point3) -> Point3 {
    let square = dot(axis, axis);
    if square > 0.0 { origin + axis * (dot(point - origin, axis) / square) } else { origin }
}

/// The place over a line, seen from above, that is nearest to a point, at the height of the point; of an upright line where it
/// stands.
fn beside_line(point: Point3, origin: Point3, axis: Point3) -> Point3 {
    let flat = Point3 { z: 0.0, ..axis };
    let on = if dot(flat, flat) > 1e-12 {
        onto_line(Point3 { z: origin.z, ..point }, origin, flat)
    } else {
        origin
    };
    Point3 { z: point.z, ..on }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::{Hinge, Section};
    use crate::quantities::Angle;

    /// A rail from `left` to `right` at `y`, and cross members at its ends, as a section of a bar.
    fn section(id: u32, left: f64, right: f64, hinge: Option<Hinge>) -> Section {
        let member = |x1: f64, y1: f64, x2: f64, y2: f64| FrameMember {
            from: Point3::new(x1, y1, 0.9),
            to: Point3::new(x2, y2, 0.9),
            width: Length::millimetres(100.0),
        };
        Section {
            id: SectionId(id),
            name: format!("section {id}"),
            hinge,
            left: Length::metres(left),
            right: Length::metres(right),
            members: vec![
                member(left, 0.5, right, 0.5),
                member(left, -0.5, right, -0.5),
                member(left, 0.5, left, -0.5),
                member(right, 0.5, right, -0.5),
            ],
        }
    }

    fn bar(axis: Point3) -> Bar {
        let hinge = Hinge {
            parent: SectionId(1),
            point: Point3::new(2.0, 0.0, 1.0),
            axis,
            lowest: Angle::ZERO,
            folded: Angle::degrees(90.0),
            step: Hinge::FIRST_STEP,
        };
        Bar {
            row_spacing: Length::metres(0.25),
            sections: vec![section(1, -2.0, 2.0, None), section(2, 2.0, 6.0, Some(hinge))],
            ..Bar::default()
        }
    }

    fn stop(x: f64, y: f64, section: u32) -> BarPoint {
        BarPoint { place: Point3::new(x, y, 1.0), section: SectionId(section) }
    }

    const UP: Point3 = Point3::new(0.0, 1.0, 0.0);
    const FORWARD: Point3 = Point3::new(0.0, 0.0, 1.0);

    /// Along one rail the way is as long as the straight line (geometry), and needs no waypoint but the hinge.
    #[test]
    fn a_wing_that_folds_up_is_crossed_on_the_rail() {
        let way = FrameGraph::new(&bar(UP)).way(stop(-1.0, 0.5, 1), stop(5.0, 0.5, 2), &[]).unwrap();
        assert_eq!(way.hinges, vec![SectionId(2)]);
        assert_eq!(way.waypoints, vec![stop(2.0, 0.5, 1)], "the inner section carries what lies on a hinge");
        assert!((way.length.si() - 6.0).abs() < 1e-12, "{:?}", way.length);
    }

    /// An upright hinge is crossed at its pivot: there and back along the cross members beside it, a metre more.
    #[test]
    fn a_wing_that_folds_forward_is_crossed_at_the_pivot() {
        let way = FrameGraph::new(&bar(FORWARD)).way(stop(-1.0, 0.5, 1), stop(5.0, 0.5, 2), &[]).unwrap();
        assert_eq!(way.hinges, vec![SectionId(2)]);
        assert!(way.waypoints.iter().any(|point| point.place.flat() == Point2::new(2.0, 0.0)), "{way:?}");
        assert!((way.length.si() - 7.0).abs() < 1e-12, "{:?}", way.length);
    }

    /// From rail to rail beside a cross member the hose stays on the frame (distance along a grid); where the frame
    /// leads far round, and from part to part, it goes straight.
    #[test]
    fn the_frame_is_followed_unless_the_air_is_much_shorter() {
        let frame = FrameGraph::new(&bar(UP));
        let along = frame.way(stop(1.6, 0.5, 1), stop(1.9, -0.5, 1), &[]).unwrap();
        assert!((along.length.si() - 1.5).abs() < 1e-12, "{along:?}");
        // Round by the end of the rail it would be 2 m against 1 m, and 2.3 m against 1.3 m: over the gap squarely, then
        // along the other rail.
        let across = frame.way(stop(-1.5, 0.5, 1), stop(-1.5, -0.5, 1), &[]).unwrap();
        assert!((across.length.si() - 1.0).abs() < 1e-12, "{across:?}");
        let round = frame.way(stop(-1.5, 0.5, 1), stop(-1.2, -0.5, 1), &[]).unwrap();
        assert!((round.length.si() - 1.3).abs() < 1e-12, "{round:?}");
        let near = frame.way(stop(0.0, 0.7, 1), stop(0.3, 0.7, 1), &[]).unwrap();
        assert!(near.waypoints.is_empty(), "{near:?}");
    }

    /// Off the frame a hose goes round what stands between it and the frame, and through it only where round is far: by hand,
    /// round one end of 0.6 m by 0.1 m, 50 mm off it, from 1.5 m in front of it.
    #[test]
    fn a_hose_from_beside_the_frame_goes_round_a_part() {
        let frame = FrameGraph::new(&bar(UP));
        let body = |half_length: f64| PlacedBody {
            at: Point3::new(0.0, 0.7, 1.0),
            turn: Angle::ZERO,
            body: crate::plan::kinds::Body { half_length, half_depth: 0.05 },
            half_height: 0.05,
        };
        let (from, to) = (stop(0.0, 2.2, 1), stop(0.0, 0.5, 1));
        let straight = frame.way(from, to, &[]).unwrap();
        assert!(straight.waypoints.is_empty(), "{straight:?}");
        let way = frame.way(from, to, &[body(0.3)]).unwrap();
        let path: Vec<Point3> = std::iter::once(from.place)
            .chain(way.waypoints.iter().map(|point| point.place))
            .chain([to.place])
            .collect();
        assert!(!body(0.3).is_passed_through(&path), "{way:?}");
        let round = 1.4f64.hypot(0.35) + 0.2 + 0.35f64.hypot(0.1);
        assert!(way.length.si() < round + 0.3, "{} against {round}", way.length.si());
        let far = frame.way(from, to, &[body(2.5)]).unwrap();
        assert!(body(2.5).is_passed_through(&[from.place, to.place]) && far.length.si() < 2.0, "{far:?}");
    }

    #[test]
    fn without_a_frame_or_far_from_it_there_is_no_way() {
        let mut bare = bar(UP);
        for section in &mut bare.sections {
            section.members.clear();
        }
        assert_eq!(FrameGraph::new(&bare).way(stop(0.0, 0.0, 1), stop(3.0, 0.0, 2), &[]), None);
        let frame = FrameGraph::new(&bar(UP));
        assert_eq!(frame.way(stop(0.0, 5.0, 1), stop(3.0, 5.0, 2), &[]), None);
        assert_eq!(frame.way(stop(f64::NAN, 0.0, 1), stop(3.0, 0.0, 2), &[]), None);
        assert_eq!(frame.way(stop(0.0, 0.5, 1), stop(3.0, 0.5, 9), &[]), None);
    }

    #[test]
    fn heights_are_those_of_the_nearest_member() {
        assert_eq!(height_at(&bar(UP), Point2::new(0.0, 0.4)), 1.0);
        assert_eq!(height_at(&Bar::default(), Point2::default()), WITHOUT_FRAME);
    }
}
