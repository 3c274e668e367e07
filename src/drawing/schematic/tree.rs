//! From the pump to the manifolds: which part stands on which line, in layers from the pump down.

use std::collections::{BTreeMap, VecDeque};

use super::heads::{COLUMN, HEAD_ROOM, Head, SHORT_HEAD, SheetPlaces};

use crate::drawing::Subject;
use crate::drawing::sheet_source::SheetSource;
use crate::geometry::Bounds;
use crate::plan::{End, Manifold, ManifoldInlet, Part, PartId, PartItem, Port, PortRef, Run};

/// How the manifolds at the bottom are drawn.
#[derive(Clone, Copy)]
pub(super) enum HeadForm<'a> {
    /// With their rows.
    Whole,
    /// With a flag to the sheet of their rows; `own` is the number of this sheet.
    Short { places: &'a SheetPlaces, own: usize },
}

impl HeadForm<'_> {
    /// Parts that belong to no manifold's sheet stand here.
    const fn is_lead(&self) -> bool {
        match self {
            HeadForm::Whole => true,
            HeadForm::Short { places, own } => *own == places.lead,
        }
    }
}

/// What a line of the upper part ends on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum LineTarget {
    /// A part of a column.
    Node(usize),
    /// A manifold.
    Head(usize),
}

#[derive(Debug, Clone)]
pub(super) enum NodeKind<'a> {
    Pump,
    Part(&'a Part, PartItem),
    Loose,
    /// Goes on on another sheet: its number.
    Away(String, usize),
}

#[derive(Debug, Clone)]
pub(super) struct TreeNode<'a> {
    pub(super) kind: NodeKind<'a>,
    /// The line from the pump's side, which comes from above.
    pub(super) up: Option<LineEnd>,
    pub(super) layer: usize,
    pub(super) column: usize,
    /// How many lines leave sideways.
    pub(super) sideways: usize,
}

/// A line: a hose, a part screwed onto another, or the start of a row feed that is on no manifold's outlet.
#[derive(Debug, Clone)]
pub(super) struct Joining<'a> {
    pub(super) subject: Subject,
    pub(super) run: Option<&'a Run>,
    pub(super) ends: [(LineTarget, Port); 2],
}

/// One of the two ends of a line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct LineEnd {
    pub(super) line: usize,
    pub(super) end: usize,
}

impl LineEnd {
    pub(super) const fn far(self) -> Self {
        Self { line: self.line, end: 1 - self.end }
    }
}

/// Heights of what the upper half holds.
pub(super) struct Levels {
    /// Middle of each layer of parts.
    pub(super) layer_y: Vec<f64>,
    /// The track each line turns on.
    pub(super) track_y: BTreeMap<usize, f64>,
    /// The lines of the manifolds.
    pub(super) head_y: f64,
    /// From the top down to the manifolds.
    pub(super) height: f64,
}

pub(super) struct PartColumn {
    /// Nodes from above to below.
    pub(super) nodes: Vec<usize>,
    pub(super) wanted: f64,
    pub(super) x: f64,
    pub(super) left: f64,
    pub(super) right: f64,
    /// How far from its middle the first line that leaves it sideways passes.
    pub(super) beside: f64,
}

pub(super) struct Tree<'s, 'a> {
    pub(super) source: &'s SheetSource<'a>,
    pub(super) heads: &'s [Head<'a>],
    pub(super) form: HeadForm<'s>,
    pub(super) room: Bounds,
    pub(super) nodes: Vec<TreeNode<'a>>,
    pub(super) joinings: Vec<Joining<'a>>,
    pub(super) columns: Vec<PartColumn>,
    /// Left edge and width of each manifold.
    pub(super) places: Vec<(f64, f64)>,
    /// Where each line on a manifold stands.
    pub(super) head_ports: BTreeMap<LineEnd, f64>,
    /// Gauges and plugs on manifolds: manifold, part, x.
    pub(super) mounted: Vec<(usize, &'a Part, f64)>,
    /// Where ports of manifolds are that have nothing on them: those that come closed, and open inlets.
    pub(super) closed: Vec<(PartId, f64)>,
    pub(super) open: Vec<(PartId, f64)>,
    /// Something has no room.
    pub(super) crowded: bool,
}

impl<'s, 'a> Tree<'s, 'a> {
    pub(super) fn new(
        source: &'s SheetSource<'a>,
        heads: &'s [Head<'a>],
        room: &Bounds,
        form: HeadForm<'s>,
    ) -> Self {
        let mut tree = Self {
            source,
            heads,
            form,
            room: *room,
            nodes: Vec::new(),
            joinings: Vec::new(),
            columns: Vec::new(),
            places: Vec::new(),
            head_ports: BTreeMap::new(),
            mounted: Vec::new(),
            closed: Vec::new(),
            open: Vec::new(),
            crowded: false,
        };
        tree.place_heads();
        tree.gather();
        tree.layers();
        tree.head_lines();
        tree.place_columns();
        tree
    }

    fn place_heads(&mut self) {
        let width = |head: &Head| match self.form {
            HeadForm::Whole => head.width(),
            HeadForm::Short { .. } => SHORT_HEAD,
        };
        let total: f64 = self.heads.iter().map(width).sum();
        let gap = ((self.room.width() - total) / (self.heads.len() + 1) as f64).clamp(0.0, 25.0);
        let all = total + gap * self.heads.len().saturating_sub(1) as f64;
        let mut x = self.room.min.x + (self.room.width() - all).max(0.0) / 2.0;
        for head in self.heads {
            self.places.push((x, width(head)));
            x += width(head) + gap;
        }
    }

    fn head_of(&self, part: PartId) -> Option<usize> {
        self.heads.iter().position(|head| head.is(part))
    }

    fn on_this_sheet(&self, part: &Part) -> bool {
        match self.form {
            HeadForm::Whole => true,
            HeadForm::Short { places, own } => places.upper.get(&part.id) == Some(&own),
        }
    }

    /// The number of the sheet that an end is drawn on; 0 where all is on one.
    fn sheet_of(&self, end: &End) -> usize {
        match self.form {
            HeadForm::Whole => 0,
            HeadForm::Short { places, .. } => places.of_end(end),
        }
    }

    fn node(&mut self, kind: NodeKind<'a>) -> usize {
        self.nodes.push(TreeNode { kind, up: None, layer: 0, column: usize::MAX, sideways: 0 });
        self.nodes.len() - 1
    }

    /// Parts of the upper half and the lines between them.
    fn gather(&mut self) {
        let (routing, catalogue) = (self.source.routing.routing, &self.source.project.catalogue);
        let mut at: BTreeMap<PartId, LineTarget> = BTreeMap::new();
        let is_leaf = |part: &Part| catalogue.item(&part.entry).is_some_and(PartItem::is_on_port);
        let is_manifold = |id: PartId| {
            routing.part(id).is_some_and(|one| catalogue.item(&one.entry).is_some_and(PartItem::is_for_rows))
        };
        let lead = self.form.is_lead();
        let from_supply = routing.runs.iter().any(|run| run.from == End::Supply || run.to == End::Supply)
            || routing.feeds.iter().any(|feed| feed.from == End::Supply);
        let pump = (lead && from_supply).then(|| self.node(NodeKind::Pump));
        for part in &routing.parts {
            if let Some(head) = self.head_of(part.id) {
                at.insert(part.id, LineTarget::Head(head));
                continue;
            }
            if is_manifold(part.id) || !self.on_this_sheet(part) {
                continue;
            }
            // Gauges and plugs on manifolds are drawn with these.
            if is_leaf(part) && part.mount.is_some_and(|mount| is_manifold(mount.part)) {
                continue;
            }
            if let Some(item) = catalogue.item(&part.entry) {
                let node = self.node(NodeKind::Part(part, *item));
                at.insert(part.id, LineTarget::Node(node));
            }
        }
        let joint_of = |end: &End| match end {
            End::Supply => pump.map(|pump| (LineTarget::Node(pump), Port::Out)),
            End::Port(PortRef { port: Port::Outlet(_), .. }) | End::Loose(_) => None,
            End::Port(port) => at.get(&port.part).map(|joint| (*joint, port.port)),
        };
        for run in &routing.runs {
            let ends = [run.from, run.to];
            let joints = ends.map(|end| joint_of(&end));
            if joints.iter().all(Option::is_none) {
                // Nothing of it is among the parts; where one end hangs on nothing, that end stands on the sheet of the pump.
                let is_loose = ends.iter().any(|end| matches!(end, End::Loose(_)));
                let elsewhere = ends.iter().any(|end| {
                    matches!(end, End::Port(port) if !matches!(port.port, Port::Outlet(_)))
                        || *end == End::Supply
                });
                if !lead || !is_loose || elsewhere {
                    continue;
                }
            }
            let mut far_end = |end: &End| {
                let kind = match end {
                    End::Loose(_) => NodeKind::Loose,
                    _ => NodeKind::Away(run.tag.clone(), self.sheet_of(end)),
                };
                (LineTarget::Node(self.node(kind)), Port::In)
            };
            let [from, to] = joints;
            let from = from.unwrap_or_else(|| far_end(&run.from));
            let to = to.unwrap_or_else(|| far_end(&run.to));
            self.joinings.push(Joining { subject: Subject::Run(run.id), run: Some(run), ends: [from, to] });
        }
        for part in &routing.parts {
            let (Some(mount), Some(own)) = (part.mount, at.get(&part.id)) else { continue };
            let host = if matches!(mount.port, Port::Outlet(_)) {
                let sheet = self.sheet_of(&End::Port(mount));
                Some((LineTarget::Node(self.node(NodeKind::Away(part.tag.clone(), sheet))), Port::In))
            } else {
                at.get(&mount.part).map(|host| (*host, mount.port))
            };
            if let Some(host) = host {
                let ends = [host, (*own, Port::In)];
                self.joinings.push(Joining { subject: Subject::Part(part.id), run: None, ends });
            }
        }
        for feed in &routing.feeds {
            let Some(joint) = joint_of(&feed.from) else { continue };
            let sheet = match self.form {
                HeadForm::Whole => 0,
                HeadForm::Short { places, .. } => places.feeds.get(&feed.id).copied().unwrap_or(places.lead),
            };
            let away = (LineTarget::Node(self.node(NodeKind::Away(feed.tag.clone(), sheet))), Port::In);
            self.joinings.push(Joining { subject: Subject::Feed(feed.id), run: None, ends: [joint, away] });
        }
    }

    /// The ends of lines that are on a part or manifold.
    pub(super) fn ends_at(&self, joint: LineTarget) -> impl Iterator<Item = LineEnd> + '_ {
        let of = move |(line, joining): (usize, &Joining)| {
            [0, 1].map(|end| (joining.ends[end].0 == joint).then_some(LineEnd { line, end }))
        };
        self.joinings.iter().enumerate().flat_map(of).flatten()
    }

    pub(super) fn joint(&self, end: LineEnd) -> LineTarget {
        self.joinings[end.line].ends[end.end].0
    }

    pub(super) fn port(&self, end: LineEnd) -> Port {
        self.joinings[end.line].ends[end.end].1
    }

    /// Layers below the pump, and columns of parts that follow each other.
    pub(super) fn layers(&mut self) {
        let mut seen_nodes = vec![false; self.nodes.len()];
        let mut seen_heads = vec![false; self.heads.len()];
        let mut starts: Vec<LineTarget> = (0..self.nodes.len()).map(LineTarget::Node).collect();
        // Leaves are not where a tree starts as long as there is anything else.
        starts.sort_by_key(|joint| match joint {
            LineTarget::Node(node) => matches!(self.nodes[*node].kind, NodeKind::Loose | NodeKind::Away(..)),
            LineTarget::Head(_) => true,
        });
        starts.extend((0..self.heads.len()).map(LineTarget::Head));
        let mut straight: BTreeMap<usize, usize> = BTreeMap::new();
        for start in starts {
            match start {
                LineTarget::Node(node) if seen_nodes[node] => continue,
                LineTarget::Head(head) if seen_heads[head] => continue,
                LineTarget::Node(node) => seen_nodes[node] = true,
                LineTarget::Head(head) => seen_heads[head] = true,
            }
            let mut queue = VecDeque::from([start]);
            while let Some(at) = queue.pop_front() {
                let ends: Vec<LineEnd> = self.ends_at(at).collect();
                for end in ends {
                    let other = self.joint(end.far());
                    match other {
                        LineTarget::Head(head) => {
                            if !seen_heads[head] {
                                seen_heads[head] = true;
                                queue.push_back(other);
                            }
                        }
                        LineTarget::Node(node) => {
                            if seen_nodes[node] {
                                continue;
                            }
                            seen_nodes[node] = true;
                            if let LineTarget::Node(parent) = at {
                                self.nodes[node].up = Some(end.far());
                                self.nodes[node].layer = self.nodes[parent].layer + 1;
                                // What leaves a part aside never stands straight below it.
                                if self.turns_off(parent, end) {
                                    queue.push_back(other);
                                    continue;
                                }
                                // The first that follows goes straight on, unless it is a mere end.
                                let end = match &self.nodes[node].kind {
                                    NodeKind::Part(_, item) => item.is_on_port(),
                                    NodeKind::Loose | NodeKind::Away(..) => true,
                                    NodeKind::Pump => false,
                                };
                                if !end || !straight.contains_key(&parent) {
                                    let taken = straight.get(&parent).is_some_and(|child| {
                                        matches!(&self.nodes[*child].kind, NodeKind::Part(_, item) if item.is_in_line())
                                    });
                                    if !taken {
                                        straight.insert(parent, node);
                                    }
                                }
                            }
                            queue.push_back(other);
                        }
                    }
                }
            }
        }
        // Columns: from each node that continues no other.
        let continued: Vec<usize> = straight.values().copied().collect();
        for node in 0..self.nodes.len() {
            if continued.contains(&node) {
                continue;
            }
            let mut nodes = vec![node];
            let mut at = node;
            while let Some(next) = straight.get(&at) {
                nodes.push(*next);
                at = *next;
            }
            for one in &nodes {
                self.nodes[*one].column = self.columns.len();
            }
            self.columns.push(PartColumn { nodes, wanted: 0.0, x: 0.0, left: 5.0, right: 5.0, beside: 5.0 });
        }
    }

    /// Lines of each manifold beside each other, in the order of its ports.
    fn head_lines(&mut self) {
        let (routing, catalogue) = (self.source.routing.routing, &self.source.project.catalogue);
        for (index, head) in self.heads.iter().enumerate() {
            let Some((part, item)) = head.part else { continue };
            let (left, width) = self.places[index];
            let (from, to) = (left + HEAD_ROOM / 2.0, left + width - HEAD_ROOM / 2.0);
            let middle_inlet =
                matches!(item, PartItem::Manifold(Manifold { inlet: ManifoldInlet::Middle, .. }));
            // Where a port is along the manifold, as on the bar.
            let share = |port: Port| match port {
                Port::In if middle_inlet => 0.5,
                Port::In => 0.0,
                Port::Gauge => 0.8,
                _ => 1.0,
            };
            enum What<'a> {
                Line(LineEnd),
                Mounted(&'a Part),
                Closed,
                Open,
            }
            let mut lines: Vec<(f64, What)> = Vec::new();
            for end in self.ends_at(LineTarget::Head(index)) {
                lines.push((share(self.port(end)), What::Line(end)));
            }
            for mounted in &routing.parts {
                let leaf = catalogue.item(&mounted.entry).is_some_and(PartItem::is_on_port);
                if let Some(mount) = mounted.mount.filter(|mount| mount.part == part.id && leaf)
                    && !matches!(mount.port, Port::Outlet(_))
                {
                    lines.push((share(mount.port), What::Mounted(mounted)));
                }
            }
            // As delivered: closed where nothing is on them. Each port shows, so that their order tells them apart.
            for port in [Port::In, Port::Gauge, Port::Out] {
                if routing.on_port(PortRef { part: part.id, port }).is_empty() {
                    lines.push((share(port), if port == Port::In { What::Open } else { What::Closed }));
                }
            }
            lines.sort_by(|a, b| a.0.total_cmp(&b.0));
            let whole = matches!(self.form, HeadForm::Whole);
            let mut last = f64::NEG_INFINITY;
            for (share, what) in lines {
                let mut x = from + (to - from) * share;
                // Between taps, so that a line from above is not taken for one that goes straight through.
                if whole {
                    x = from + ((x - from) / COLUMN + 1e-9).floor() * COLUMN;
                }
                // Two on one port stand side by side.
                x = x.max(last + 3.0);
                last = x;
                match what {
                    What::Line(end) => {
                        self.head_ports.insert(end, x);
                    }
                    What::Mounted(part) => self.mounted.push((index, part, x)),
                    What::Closed => self.closed.push((part.id, x)),
                    What::Open => self.open.push((part.id, x)),
                }
            }
        }
    }
}
