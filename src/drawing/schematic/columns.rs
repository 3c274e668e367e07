//! From the pump to the manifolds: where the columns of parts and the tracks between them stand.

use std::collections::{BTreeMap, VecDeque};

use super::heads::ABOVE_HEAD;
use super::signs::is_dot;
use super::tree::{Levels, LineEnd, LineTarget, NodeKind, Tree};
use crate::drawing::paper::USUAL;
use crate::plan::Port;

/// Distance of two tracks.
const TRACK: f64 = 5.0;

impl Tree<'_, '_> {
    /// The manifolds that hang on a node, by where they stand.
    fn below(&self, node: usize) -> Vec<f64> {
        let mut found = Vec::new();
        let mut seen = vec![node];
        let mut queue = VecDeque::from([node]);
        while let Some(at) = queue.pop_front() {
            for end in self.ends_at(LineTarget::Node(at)).filter(|end| self.nodes[at].up != Some(*end)) {
                match self.joint(end.far()) {
                    LineTarget::Head(head) => found.push(self.places[head].0 + self.places[head].1 / 2.0),
                    LineTarget::Node(next) => {
                        if self.nodes[next].up == Some(end.far()) && !seen.contains(&next) {
                            seen.push(next);
                            queue.push_back(next);
                        }
                    }
                }
            }
        }
        found
    }

    pub(super) fn place_columns(&mut self) {
        // Lines that leave a column sideways go down on its right, each at its own x.
        for node in 0..self.nodes.len() {
            self.nodes[node].sideways =
                self.ends_at(LineTarget::Node(node)).filter(|end| self.is_sideways(node, *end)).count();
        }
        for index in 0..self.columns.len() {
            let nodes = self.columns[index].nodes.clone();
            let sideways: usize = nodes.iter().map(|node| self.nodes[*node].sideways).sum();
            let places: Vec<f64> = nodes.iter().flat_map(|node| self.below(*node)).collect();
            let wanted = if places.is_empty() {
                self.room.centre().x
            } else {
                places.iter().sum::<f64>() / places.len() as f64
            };
            let flags = nodes.iter().filter_map(|node| match &self.nodes[*node].kind {
                NodeKind::Away(tag, _) => {
                    Some(self.source.letters.width(&format!("{tag}, sheet 88"), false) * USUAL / 2.0 + 2.0)
                }
                _ => None,
            });
            let half = flags.fold(5.0, f64::max);
            let column = &mut self.columns[index];
            column.wanted = wanted;
            column.beside = half;
            // Lines that leave sideways pass a flag of the column outside it.
            let reach = if sideways == 0 { half.max(6.0) } else { half + 1.0 + 2.5 * sideways as f64 };
            (column.left, column.right) = (reach, reach);
        }
        let reserved: Vec<f64> =
            self.head_ports.values().copied().chain(self.mounted.iter().map(|(_, _, x)| *x)).collect();
        let mut order: Vec<usize> = (0..self.columns.len()).collect();
        // The longest first: the spine gets the place it wants.
        order.sort_by(|a, b| {
            let (a, b) = (&self.columns[*a], &self.columns[*b]);
            b.nodes.len().cmp(&a.nodes.len()).then(a.wanted.total_cmp(&b.wanted))
        });
        let mut taken: Vec<(f64, f64)> = Vec::new();
        for index in order {
            let (left, right) = (self.columns[index].left, self.columns[index].right);
            let wanted = self.columns[index].wanted;
            let free = |x: f64| {
                let (from, to) = (x - left, x + right);
                from >= self.room.min.x
                    && to <= self.room.max.x
                    && taken.iter().all(|(a, b)| to + 1.0 < *a || from > *b + 1.0)
                    && reserved.iter().all(|port| *port < from - 0.8 || *port > to + 0.8)
            };
            let steps = (self.room.width() * 2.0) as i32;
            let mut tries = (0..steps).flat_map(|step| [f64::from(step) * 0.5, -f64::from(step) * 0.5]);
            let place = tries.find(|away| free(wanted + away));
            self.crowded |= place.is_none();
            let x = place.map_or(wanted, |away| wanted + away);
            self.columns[index].x = x;
            taken.push((x - left, x + right));
        }
    }

    /// A line that does not go straight on through a part. A filter or valve passes on by the port that does not come
    /// from above, where nothing does by its outlet. The two ends of a tee's run lie in one line, the branch stands off
    /// it, whichever of them liquid comes in by.
    pub(super) fn turns_off(&self, node: usize, end: LineEnd) -> bool {
        let up = self.nodes[node].up.map(|up| self.port(up));
        let through = match (&self.nodes[node].kind, up) {
            (NodeKind::Part(_, item), Some(Port::Out)) if item.is_in_line() => Some(Port::In),
            (NodeKind::Part(_, item), Some(Port::In)) if is_dot(item) => Some(Port::Out),
            (NodeKind::Part(_, item), _) if item.passes_on() => Some(Port::Out),
            // In by the branch, both ends of the run leave to the sides.
            (NodeKind::Part(_, item), Some(_)) if is_dot(item) => None,
            (NodeKind::Part(_, item), None) if is_dot(item) => Some(Port::Branch),
            _ => return false,
        };
        through != Some(self.port(end))
    }

    /// A line ends at the upper side of its part's symbol: on the port that comes from above, where nothing does on the
    /// inlet.
    pub(super) fn is_upper(&self, node: usize, end: LineEnd) -> bool {
        let upper = match (self.nodes[node].up, &self.nodes[node].kind) {
            (Some(up), _) => Some(self.port(up)),
            (None, NodeKind::Part(_, item)) if item.passes_on() => Some(Port::In),
            (None, _) => None,
        };
        upper == Some(self.port(end))
    }

    /// The lines that leave a node sideways, in the order they take their places: the first on its right, the next on
    /// its left. Of the two ends of a tee's run each goes to the side that it leads to.
    pub(super) fn sideways_lines(&self, node: usize) -> Vec<LineEnd> {
        let mut lines: Vec<LineEnd> =
            self.ends_at(LineTarget::Node(node)).filter(|end| self.is_sideways(node, *end)).collect();
        if let ([one, other], NodeKind::Part(_, item)) = (&lines[..], &self.nodes[node].kind)
            && is_dot(item)
            && self.leads_to(*other) > self.leads_to(*one)
        {
            lines.reverse();
        }
        lines
    }

    /// How far right the far end of a line is.
    pub(super) fn leads_to(&self, end: LineEnd) -> f64 {
        match self.joint(end.far()) {
            LineTarget::Head(head) => self.places[head].0 + self.places[head].1 / 2.0,
            LineTarget::Node(far) => self.columns[self.nodes[far].column].x,
        }
    }

    /// A line of a node that neither comes from above nor goes straight on below.
    pub(super) fn is_sideways(&self, node: usize, end: LineEnd) -> bool {
        self.nodes[node].up != Some(end) && self.straight_line(node) != Some(end)
    }

    /// The line that leaves a node straight below: to the next of its column, else the first there is.
    pub(super) fn straight_line(&self, node: usize) -> Option<LineEnd> {
        let column = self.columns.get(self.nodes[node].column)?;
        let position = column.nodes.iter().position(|one| *one == node)?;
        if let Some(next) = column.nodes.get(position + 1) {
            return self.nodes[*next].up.map(LineEnd::far);
        }
        self.ends_at(LineTarget::Node(node))
            .filter(|end| self.nodes[node].up != Some(*end))
            .find(|end| !self.turns_off(node, *end))
    }

    /// How high the layers stand, and which track each line turns on.
    pub(super) fn levels(&self, most: f64) -> Levels {
        let layers = self.nodes.iter().map(|node| node.layer + 1).max().unwrap_or(1);
        // Which channel each line turns in, and where along.
        let mut channels: Vec<Vec<(usize, f64, f64)>> = vec![Vec::new(); layers];
        for index in (0..self.joinings.len()).filter(|index| !self.is_direct(*index)) {
            let ends = [0, 1].map(|end| LineEnd { line: index, end });
            let leaves = ends.iter().filter_map(|end| match self.joint(*end) {
                LineTarget::Node(node) if self.nodes[node].up != Some(*end) => Some(self.nodes[node].layer),
                _ => None,
            });
            let channel = leaves.max().unwrap_or(layers - 1);
            let xs = ends.map(|end| self.x_of(end));
            if let Some(lines) = channels.get_mut(channel) {
                lines.push((index, xs[0].min(xs[1]), xs[0].max(xs[1])));
            }
        }
        // Lines whose spans do not meet share a track.
        let mut track_of: BTreeMap<usize, (usize, usize)> = BTreeMap::new();
        let mut tracks: Vec<usize> = Vec::new();
        for (channel, lines) in channels.iter_mut().enumerate() {
            lines.sort_by(|a, b| (a.2 - a.1).total_cmp(&(b.2 - b.1)).reverse());
            let mut ends: Vec<Vec<(f64, f64)>> = Vec::new();
            for (line, from, to) in lines.iter() {
                let free =
                    |track: &Vec<(f64, f64)>| track.iter().all(|(a, b)| *to + 3.0 < *a || *from > *b + 3.0);
                let track = ends.iter().position(free).unwrap_or_else(|| {
                    ends.push(Vec::new());
                    ends.len() - 1
                });
                ends[track].push((*from, *to));
                track_of.insert(*line, (channel, track));
            }
            tracks.push(ends.len());
        }
        let whole: usize = tracks.iter().sum();
        // What each layer needs over and under its middle, and what it gets where there is room.
        let least: Vec<f64> = (0..layers).map(|layer| self.least_half(layer)).collect();
        let fixed = 6.0 + 9.0;
        let tracks_room = whole as f64 * 2.6;
        let (tight, roomy) = (2.0 * least.iter().sum::<f64>(), 14.0 * layers as f64);
        let share = ((most - fixed - tracks_room - tight) / (roomy - tight).max(1e-9)).clamp(0.0, 1.0);
        let halves: Vec<f64> = least.iter().map(|least| least + (7.0 - least) * share).collect();
        let symbols = 2.0 * halves.iter().sum::<f64>() + fixed;
        let track = if whole == 0 { TRACK } else { ((most - symbols) / whole as f64).clamp(2.6, 7.0) };
        let mut layer_y = Vec::new();
        let mut channel_y = Vec::new();
        let mut y = self.room.max.y - 9.0;
        for (layer, half) in halves.iter().enumerate() {
            layer_y.push(y);
            y -= half;
            channel_y.push(y);
            y -= tracks.get(layer).copied().unwrap_or(0) as f64 * track;
            y -= half;
        }
        let track_y = track_of
            .into_iter()
            .map(|(line, (channel, number))| (line, channel_y[channel] - number as f64 * track))
            .collect();
        Levels { layer_y, track_y, head_y: y - ABOVE_HEAD, height: self.room.max.y - y + 6.0 }
    }
}
