//! Where air stays in the lines: high points between lower places, from which no way out leads up.
//!
//! The lines are a graph of points with heights. Air rises; where it can't rise any farther and nothing lets it out it
//! stays, until liquid drives it down again by as much as the highest pass that leads on lies below. That is the prominence
//! of a summit in a landscape, and is found as there: points are taken from the highest down, and joined.

use super::feed::FeedElement;
use super::kinds::ElementKind;
use super::part::{Port, PortRef};
use super::routing_geometry::{ElementGeometry, LaidRouting};
use super::run::End;
use super::{BarPoint, RowId, Subject};
use crate::quantities::Length;

/// A place from which air can't rise any farther.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HighPoint {
    /// The hose, part or row feed that it is in.
    pub of: Subject,
    /// Where, working position.
    pub at: BarPoint,
    /// How far down air must be driven before it can leave; above 0.
    pub depth: Length,
}

/// What lets air out of the rows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RowsLetAirOut {
    /// Every row feed, from its start on: the pump opens its valve.
    All,
    /// Rows without a check valve; the others are shut.
    WithoutValve,
}

struct Node {
    of: Subject,
    at: BarPoint,
    height: f64,
    vented: bool,
}

/// Points of lines with what joins them.
#[derive(Default)]
struct Lines {
    nodes: Vec<Node>,
    joined: Vec<Vec<usize>>,
    ports: Vec<(PortRef, usize)>,
}

impl Lines {
    fn add(&mut self, of: Subject, at: BarPoint, height: f64) -> usize {
        self.nodes.push(Node { of, at, height, vented: false });
        self.joined.push(Vec::new());
        self.nodes.len() - 1
    }

    fn join(&mut self, a: usize, b: usize) {
        self.joined[a].push(b);
        self.joined[b].push(a);
    }

    fn vent(&mut self, node: usize) {
        self.nodes[node].vented = true;
    }

    fn port(&self, port: PortRef) -> Option<usize> {
        self.ports.iter().find(|one| one.0 == port).map(|one| one.1)
    }

    /// A way through points after a node; its last node.
    fn lead(
        &mut self,
        from: usize,
        of: Subject,
        path: impl IntoIterator<Item = BarPoint>,
        height: &impl Fn(BarPoint) -> f64,
    ) -> usize {
        path.into_iter().fold(from, |before, at| {
            let node = self.add(of, at, height(at));
            self.join(before, node);
            node
        })
    }
}

/// The high points of a routing, with heights as the bar stands (metres), the deepest first.
pub fn high_points(
    routing: LaidRouting,
    rows: RowsLetAirOut,
    height: impl Fn(BarPoint) -> f64,
) -> Vec<HighPoint> {
    summits(&lines(routing, rows, &height))
}

fn lines(routing: LaidRouting, rows: RowsLetAirOut, height: &impl Fn(BarPoint) -> f64) -> Lines {
    let mut lines = Lines::default();
    let anchors = &routing.geometry.anchors;
    for (place, placed) in anchors.parts().iter().enumerate() {
        let of = Subject::Part(placed.id);
        let shut = routing.part(placed.id).is_some_and(|part| part.shut);
        let middle = lines.add(of, placed.middle(), height(placed.middle()));
        for port in anchors.ports_of(place) {
            let node = lines.add(of, port.at, height(port.at));
            // Nothing passes a shut valve from its inlet.
            if !(shut && port.port == Port::In) {
                lines.join(middle, node);
            }
            lines.ports.push((PortRef { part: placed.id, port: port.port }, node));
        }
    }
    for part in &routing.parts {
        let stem = lines.port(PortRef { part: part.id, port: Port::In });
        if let (Some(host), Some(stem)) = (part.mount.and_then(|port| lines.port(port)), stem) {
            lines.join(host, stem);
        }
    }
    for run in &routing.runs {
        let Some(laid) = routing.geometry.run(run.id) else { continue };
        let of = Subject::Run(run.id);
        let mut before = None;
        for (index, at) in laid.path.iter().enumerate() {
            let end = match index {
                0 => Some(&run.from),
                last if last + 1 == laid.path.len() => Some(&run.to),
                _ => None,
            };
            let node = match end.and_then(End::port).and_then(|port| lines.port(port)) {
                Some(port) => port,
                None => lines.add(of, *at, height(*at)),
            };
            // The tank takes air in and lets it out, a loose end too.
            if matches!(end, Some(End::Supply | End::Loose(_))) {
                lines.vent(node);
            }
            if let Some(before) = before {
                lines.join(before, node);
            }
            before = Some(node);
        }
    }
    for feed in &routing.feeds {
        let Some(laid) = routing.geometry.feed(feed.id) else { continue };
        let of = Subject::Feed(feed.id);
        let start = match feed.from.port().and_then(|port| lines.port(port)) {
            Some(port) => port,
            None => lines.add(of, laid.start, height(laid.start)),
        };
        // What gets into a delivery tube is carried to its row.
        if rows == RowsLetAirOut::All {
            lines.vent(start);
        }
        let Some(below) = lead_elements(&mut lines, start, of, (&feed.trunk, &laid.trunk), rows, height)
        else {
            continue;
        };
        for (branch, own) in feed.branches.iter().zip(&laid.branches) {
            let end = lead_elements(&mut lines, below, of, (&branch.elements, own), rows, height);
            let Some(end) = end else { continue };
            let end = match anchors.outlet(branch.row) {
                Some(outlet) => lines.lead(end, of, [outlet], height),
                None => end,
            };
            lines.vent(end);
        }
    }
    lines
}

/// Leads along the elements of a row feed; none where a check valve shuts the way.
fn lead_elements(
    lines: &mut Lines,
    from: usize,
    of: Subject,
    (elements, laid): (&[FeedElement], &[ElementGeometry]),
    rows: RowsLetAirOut,
    height: &impl Fn(BarPoint) -> f64,
) -> Option<usize> {
    let mut at = from;
    for (element, lies) in elements.iter().zip(laid) {
        at = match &lies.tube {
            Some(tube) => lines.lead(at, of, tube.path.iter().copied(), height),
            None => lines.lead(at, of, [lies.from], height),
        };
        let is_valve = matches!(element, FeedElement::Piece(ElementKind::CheckValve, _));
        if is_valve && rows == RowsLetAirOut::WithoutValve {
            return None;
        }
        at = lines.lead(at, of, [lies.to], height);
    }
    Some(at)
}

/// Points that are joined above some height.
#[derive(Clone, Copy)]
struct Joined {
    top: usize,
    vented: bool,
}

fn summits(lines: &Lines) -> Vec<HighPoint> {
    let nodes = &lines.nodes;
    let mut order: Vec<usize> = (0..nodes.len()).collect();
    order.sort_by(|a, b| nodes[*b].height.total_cmp(&nodes[*a].height).then(a.cmp(b)));
    // Each node points to another one of its group, or is the one that stands for it.
    let mut leads_to: Vec<usize> = (0..nodes.len()).collect();
    let mut groups: Vec<Option<Joined>> = vec![None; nodes.len()];
    let mut found = Vec::new();
    let stands_for = |leads_to: &mut Vec<usize>, mut node: usize| {
        while leads_to[node] != node {
            leads_to[node] = leads_to[leads_to[node]];
            node = leads_to[node];
        }
        node
    };
    let mut tell = |group: Joined, level: f64| {
        let top = &nodes[group.top];
        let depth = top.height - level;
        if depth > 0.0 {
            found.push(HighPoint { of: top.of, at: top.at, depth: Length::metres(depth) });
        }
    };
    for node in &order {
        groups[*node] = Some(Joined { top: *node, vented: nodes[*node].vented });
        for other in &lines.joined[*node] {
            if groups[*other].is_none() && leads_to[*other] == *other {
                continue;
            }
            let (a, b) = (stands_for(&mut leads_to, *node), stands_for(&mut leads_to, *other));
            let (Some(one), Some(two)) = (groups[a], groups[b]) else { continue };
            if a == b {
                continue;
            }
            let level = nodes[*node].height;
            let higher = if nodes[two.top].height > nodes[one.top].height { two } else { one };
            let lower = if higher.top == two.top { one } else { two };
            match (one.vented, two.vented) {
                (true, true) => {}
                (true, false) => tell(two, level),
                (false, true) => tell(one, level),
                (false, false) => tell(lower, level),
            }
            leads_to[b] = a;
            groups[b] = None;
            groups[a] = Some(Joined { top: higher.top, vented: one.vented || two.vented });
        }
    }
    // What nothing lets out at all goes down to the lowest point of its lines.
    let mut lowest: Vec<f64> = vec![f64::INFINITY; nodes.len()];
    for (node, point) in nodes.iter().enumerate() {
        let group = stands_for(&mut leads_to, node);
        lowest[group] = lowest[group].min(point.height);
    }
    for (group, low) in groups.iter().zip(&lowest) {
        if let Some(group) = group.filter(|group| !group.vented) {
            tell(group, *low);
        }
    }
    found.sort_by(|a, b| b.depth.si().total_cmp(&a.depth.si()).then(a.of.cmp(&b.of)));
    found
}

/// Rows whose way to the open no check valve shuts.
pub fn rows_without_valve(routing: LaidRouting) -> Vec<RowId> {
    let is_valve = |one: &FeedElement| matches!(one, FeedElement::Piece(ElementKind::CheckValve, _));
    let of_feeds = routing.feeds.iter().filter(|feed| !feed.trunk.iter().any(is_valve));
    let branches = of_feeds.flat_map(|feed| &feed.branches).filter(|one| !one.elements.iter().any(is_valve));
    branches.map(|branch| branch.row).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Point3;
    use crate::plan::{RunId, SectionId};

    /// A line of points with these heights; the last lets air out.
    fn found(heights: &[f64], vents: &[usize], joints: &[(usize, usize)]) -> Vec<(usize, f64)> {
        let mut lines = Lines::default();
        for (index, height) in heights.iter().enumerate() {
            let at = BarPoint { place: Point3::new(index as f64, 0.0, *height), section: SectionId(1) };
            lines.add(Subject::Run(RunId(index as u32)), at, *height);
        }
        for vent in vents {
            lines.vent(*vent);
        }
        for (a, b) in joints {
            lines.join(*a, *b);
        }
        summits(&lines).iter().map(|one| (one.at.place.x as usize, one.depth.si())).collect()
    }

    /// Topographic prominence: a summit stands as high over its surroundings as over the highest pass that leads to a higher one
    /// (here also: to where air leaves). Worked by hand along one line and over a fork.
    #[test]
    fn a_high_point_is_as_deep_as_its_pass_to_a_way_out_lies_below() {
        let chain: Vec<(usize, usize)> = (0..6).map(|index| (index, index + 1)).collect();
        let heights = [1.0, 3.0, 2.0, 4.0, 0.5, 2.5, 1.0];
        // Open at the right end: the summit of 2.5 goes down to 1.0, that of 4.0 must pass 0.5, that of 3.0 reaches it over 2.0.
        assert_eq!(found(&heights, &[6], &chain), [(3, 3.5), (5, 1.5), (1, 1.0)]);
        // Open at the highest place, air leaves there.
        assert_eq!(found(&heights, &[3], &chain), [(5, 2.0), (1, 1.0)]);
        // Open nowhere: down to the lowest point.
        assert_eq!(found(&heights, &[], &chain), [(3, 3.5), (5, 2.0), (1, 1.0)]);
        // A way up from 0.5 to a vent at 9 does not help the others, since air does not sink.
        let mut forked = chain.clone();
        forked.push((4, 7));
        let heights = [1.0, 3.0, 2.0, 4.0, 0.5, 2.5, 1.0, 9.0];
        assert_eq!(found(&heights, &[7], &forked), [(3, 3.5), (5, 2.0), (1, 1.0)]);
    }

    #[test]
    fn a_level_line_has_no_high_point_and_a_ring_has_one() {
        assert_eq!(found(&[1.0, 1.0, 1.0], &[], &[(0, 1), (1, 2)]), []);
        assert_eq!(found(&[1.0, 2.0, 1.5, 1.0], &[0], &[(0, 1), (1, 2), (2, 3), (3, 0)]), [(1, 1.0)]);
    }
}
