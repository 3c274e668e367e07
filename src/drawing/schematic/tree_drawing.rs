//! From the pump to the manifolds: the lines and parts drawn, and the signs on them.

use super::heads::{BELOW_ROWS, HEAD_ROOM, ROW_DEPTH, rows_of};
use super::jumps::with_jumps;
use super::rows::{Rows, frame_of_head, hose_flag, hose_flag_above, pressure_words};
use super::signs::{
    HALF_IN_LINE, HOSE, TUBE, dot, flag, half_of, is_dot, on_line_end, part_symbol, plug, pump, sign, wire,
};
use super::tree::{HeadForm, Levels, LineEnd, LineTarget, NodeKind, Tree};
use crate::drawing::Subject;
use crate::drawing::flow_arrow::flow_arrows;
use crate::drawing::label_places::Places;
use crate::drawing::paper::{LINE_FEED, NARROW, NotedSign, PageDraft, PaperLayer, Shade, Style, USUAL};
use crate::geometry::Point2;
use crate::plan::kinds::symbol::SchematicForm;
use crate::plan::words::ranges;

impl<'a> Tree<'_, 'a> {
    /// Draws it from the top of the room down, and tells the tags that have no room there, each with its words.
    pub(super) fn draw(&self, draft: &mut PageDraft<'a>, most: f64) -> Vec<String> {
        let levels = self.levels(most);
        self.draw_heads(draft, levels.head_y);
        let start = draft.page.marks.len();
        let ways: Vec<Vec<Point2>> = (0..self.joinings.len()).map(|index| self.way(index, &levels)).collect();
        for (index, joining) in self.joinings.iter().enumerate() {
            draft.subject = Some(joining.subject);
            let (line, jumps) = with_jumps(&ways[index], &ways);
            if jumps > 0 {
                draft.signs.insert(NotedSign::Jump);
            }
            wire(draft, PaperLayer::Hose, &line, HOSE);
            for end in [0, 1].map(|end| LineEnd { line: index, end }) {
                if let Some(x) = self.head_ports.get(&end) {
                    dot(draft, PaperLayer::Hose, Point2::new(*x, levels.head_y));
                }
            }
            draft.subject = None;
        }
        let mut places = Places::default();
        for arrow in flow_arrows(draft, self.source.routing) {
            places.keep_clear(arrow);
        }
        self.draw_nodes(draft, &levels.layer_y, &mut places);
        self.names(draft, start, &mut places)
    }

    /// The least that a layer takes over and under its middle: its highest symbol and a little air.
    pub(super) fn least_half(&self, layer: usize) -> f64 {
        let halves = self.nodes.iter().filter(|node| node.layer == layer).map(|node| match &node.kind {
            NodeKind::Part(_, item) if is_dot(item) => 2.6,
            NodeKind::Loose | NodeKind::Away(..) => 3.4,
            NodeKind::Pump | NodeKind::Part(..) => 5.2,
        });
        halves.fold(2.6, f64::max)
    }

    /// Straight from a node to the next of its column.
    pub(super) fn is_direct(&self, line: usize) -> bool {
        [0, 1].map(|end| LineEnd { line, end }).into_iter().any(|end| {
            let (LineTarget::Node(parent), LineTarget::Node(child)) =
                (self.joint(end), self.joint(end.far()))
            else {
                return false;
            };
            self.nodes[parent].column == self.nodes[child].column
                && self.nodes[child].up == Some(end.far())
                && self.straight_line(parent) == Some(end)
        })
    }

    pub(super) fn x_of(&self, end: LineEnd) -> f64 {
        match self.joint(end) {
            LineTarget::Head(head) => self.head_ports.get(&end).copied().unwrap_or(self.places[head].0),
            LineTarget::Node(node) => {
                let column = &self.columns[self.nodes[node].column];
                if !self.is_sideways(node, end) {
                    return column.x;
                }
                // Counted over the whole column, so that no two lines of it share an x.
                let before: usize = column
                    .nodes
                    .iter()
                    .take_while(|one| **one != node)
                    .map(|one| self.nodes[*one].sideways)
                    .sum();
                let lines = self.sideways_lines(node);
                let own = lines.iter().position(|line| *line == end).unwrap_or(0);
                // One line leaves to the side it leads to; a second one on the other, so that it does not lie on it.
                let right = if lines.len() == 1 { self.leads_to(end) >= column.x } else { own % 2 == 0 };
                let away = column.beside + 2.5 * before as f64 + 1.25 * own as f64;
                if right { column.x + away } else { column.x - away }
            }
        }
    }

    /// The corners of a line.
    fn way(&self, line: usize, levels: &Levels) -> Vec<Point2> {
        let track = levels.track_y.get(&line).copied().unwrap_or(0.0);
        let mut halves = [0, 1].map(|end| LineEnd { line, end }).map(|end| {
            let x = self.x_of(end);
            match self.joint(end) {
                LineTarget::Head(_) => vec![Point2::new(x, levels.head_y), Point2::new(x, track)],
                LineTarget::Node(node) => {
                    let from = self.exit(node, end, levels.layer_y[self.nodes[node].layer]);
                    vec![from, Point2::new(x, from.y), Point2::new(x, track)]
                }
            }
        });
        if self.is_direct(line) {
            return vec![halves[0][0], halves[1][0]];
        }
        halves[1].reverse();
        halves.concat()
    }

    /// From the middle of a node to where a line ends on its symbol.
    fn half(&self, node: usize, above: bool) -> f64 {
        match &self.nodes[node].kind {
            NodeKind::Pump => 4.0,
            NodeKind::Part(_, item) => match item.facts().schematic {
                SchematicForm::Dot => 0.0,
                SchematicForm::Symbol { .. } => half_of(item),
                SchematicForm::Header | SchematicForm::Stroke => HALF_IN_LINE,
            },
            NodeKind::Loose | NodeKind::Away(..) => {
                if above {
                    2.2
                } else {
                    -2.2
                }
            }
        }
    }

    /// Where a line ends on a part: at a tee's dot, or above or below a symbol, by its port.
    fn exit(&self, node: usize, end: LineEnd, y: f64) -> Point2 {
        let upper = self.is_upper(node, end);
        let half = self.half(node, upper);
        Point2::new(self.columns[self.nodes[node].column].x, if upper { y + half } else { y - half })
    }

    fn draw_nodes(&self, draft: &mut PageDraft<'a>, layer_y: &[f64], places: &mut Places) {
        for (index, node) in self.nodes.iter().enumerate() {
            let at = Point2::new(self.columns[node.column].x, layer_y[node.layer]);
            let up = node.up.is_some();
            match &node.kind {
                NodeKind::Pump => pump(draft, at),
                NodeKind::Part(part, item) => {
                    draft.subject = Some(Subject::Part(part.id));
                    if is_dot(item) {
                        dot(draft, PaperLayer::Hose, at);
                    } else {
                        let middle = if up || item.facts().schematic != SchematicForm::Stroke {
                            at
                        } else {
                            Point2::new(at.x, at.y - 8.0)
                        };
                        part_symbol(draft, item, middle, part.shut);
                    }
                    draft.subject = None;
                }
                NodeKind::Loose => {
                    let y = if up { at.y + 1.3 } else { at.y + 1.3 + 1.8 };
                    draft.circle(PaperLayer::Part, Point2::new(at.x, y), 0.9, NARROW, Some(Shade::PAPER));
                }
                NodeKind::Away(tag, sheet) => {
                    let end = Point2::new(at.x, at.y + 2.2);
                    if *sheet == 0 && up {
                        hose_flag(draft, end, tag);
                    } else if *sheet == 0 {
                        hose_flag_above(draft, end, tag);
                    } else {
                        places.keep_clear(flag(draft, end, tag, *sheet, !up));
                    }
                }
            }
            // More than one line at a side of a symbol: a dot says that they are connected.
            if !matches!(&node.kind, NodeKind::Part(_, item) if is_dot(item)) {
                let exits: Vec<Point2> =
                    self.ends_at(LineTarget::Node(index)).map(|end| self.exit(index, end, at.y)).collect();
                for (place, exit) in exits.iter().enumerate() {
                    if exits[..place].contains(exit) {
                        dot(draft, PaperLayer::Hose, *exit);
                    }
                }
            }
        }
    }

    /// Where lines and signs stand over a manifold.
    fn above_head(&self, index: usize) -> Vec<f64> {
        let lines = self.ends_at(LineTarget::Head(index));
        let lines = lines.filter_map(|end| self.head_ports.get(&end).copied());
        let mounted = self.mounted.iter().filter(|one| one.0 == index).map(|one| one.2);
        let own = self.heads[index].part.map(|(part, _)| part.id);
        let ports = self.closed.iter().chain(&self.open).filter(|one| Some(one.0) == own).map(|one| one.1);
        lines.chain(mounted).chain(ports).collect()
    }

    fn draw_heads(&self, draft: &mut PageDraft<'a>, y: f64) {
        for (index, head) in self.heads.iter().enumerate() {
            let (left, width) = self.places[index];
            match self.form {
                HeadForm::Whole => {
                    let depth = (y - self.room.min.y - BELOW_ROWS).clamp(ROW_DEPTH * 0.8, ROW_DEPTH + 45.0);
                    let mut rows = Rows { source: self.source, draft, depth, places: None };
                    rows.head(head, left, y, &self.above_head(index));
                }
                HeadForm::Short { places, .. } => {
                    let Some((part, item)) = head.part else { continue };
                    let (from, to) = (left + HEAD_ROOM / 2.0 - 2.0, left + width - HEAD_ROOM / 2.0 + 2.0);
                    draft.subject = Some(Subject::Part(part.id));
                    wire(draft, PaperLayer::Hose, &[Point2::new(from, y), Point2::new(to, y)], HOSE);
                    let x = f64::midpoint(from, to);
                    wire(draft, PaperLayer::Hose, &[Point2::new(x, y), Point2::new(x, y - 8.0)], HOSE);
                    dot(draft, PaperLayer::Hose, Point2::new(x, y));
                    draft.subject = None;
                    frame_of_head(self.source, draft, part, &item, (from, to), y, &self.above_head(index));
                    let sheet = places.rows.get(&part.id).copied().unwrap_or(0);
                    flag(draft, Point2::new(x, y - 8.0), &part.tag, sheet, false);
                    let rows = rows_of(self.source, part.id);
                    let style = Style::plain(PaperLayer::Words, USUAL).centred();
                    let mut lines = Vec::new();
                    if !rows.is_empty() {
                        lines = draft.wrapped(&format!("rows {}", ranges(&rows)), style, width - 2.0);
                    }
                    lines.extend(pressure_words(self.source, part.id));
                    for (line, words) in lines.iter().enumerate() {
                        let at = Point2::new(x, y - 15.5 - line as f64 * USUAL * LINE_FEED);
                        draft.words(at, words, style);
                    }
                }
            }
        }
        for (part, x) in &self.closed {
            draft.subject = Some(Subject::Part(*part));
            // A sign and no wire: nothing flows there.
            sign(draft, &[(0.0, 0.0), (0.0, 3.2)], Point2::new(*x, y));
            plug(draft, Point2::new(*x, y + 3.2));
            draft.subject = None;
        }
        for (part, x) in &self.open {
            draft.subject = Some(Subject::Part(*part));
            sign(draft, &[(0.0, 0.0), (0.0, 3.2)], Point2::new(*x, y));
            draft.circle(PaperLayer::Part, Point2::new(*x, y + 4.1), 0.9, NARROW, Some(Shade::PAPER));
            draft.subject = None;
        }
        for (_, part, x) in &self.mounted {
            draft.subject = Some(Subject::Part(part.id));
            let top = Point2::new(*x, y + 8.5);
            wire(draft, PaperLayer::Hose, &[Point2::new(*x, y), top], TUBE);
            dot(draft, PaperLayer::Hose, Point2::new(*x, y));
            let item = self.source.project.catalogue.item(&part.entry);
            on_line_end(draft, item, top, true);
            draft.subject = None;
        }
    }
}
