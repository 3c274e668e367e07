//! Copy, paste and duplicate: selected parts with the hoses and row feeds between them.

use std::collections::BTreeMap;

use super::Session;
use super::copied::Copied;
use super::refusal::{Refusal, ToolRefusal};
use super::snap::{Ghost, Snap};
use super::tool::Tool;
use crate::geometry::{Bounds, Point2, Point3};
use crate::plan::part::place_offset;
use crate::plan::routing_geometry::{cross_feed, cross_run};
use crate::plan::run::Line;
use crate::plan::{
    Anchors, BarPoint, Edit, End, FeedElement, FeedId, Part, PartId, PortRef, Project, Routing, RowFeed,
    RowId, Run, RunId, Subject,
};
use crate::quantities::Angle;

/// A motion of copied things in the plan view: turned about their middle, then moved.
#[derive(Clone, Copy)]
struct Motion {
    middle: Point2,
    turn: Angle,
    by: Point2,
}

impl Motion {
    fn place(&self, point: Point3) -> Point3 {
        let from_middle = Point2::new(point.x - self.middle.x, point.y - self.middle.y);
        let origin = Point3::new(self.middle.x + self.by.x, self.middle.y + self.by.y, point.z);
        place_offset(origin, self.turn, from_middle)
    }
}

/// How far a duplicate lies from what it is a copy of, metres to the right and back.
const BESIDE: Point2 = Point2::new(0.2, -0.2);

impl Session {
    /// Copies the selected parts, the hoses with both ends on them, and the row feeds that hang on them.
    pub fn copy_selection(&mut self) -> Result<(), Refusal> {
        let copied = self.copy_of(&self.selected_parts());
        if copied.is_empty() {
            return Err(ToolRefusal::NothingToCopy.into());
        }
        self.editor.copied = copied;
        Ok(())
    }

    fn copy_of(&self, ids: &[PartId]) -> Copied {
        let (project, routing) = (self.project(), self.routing());
        let on = |end: &End| end.port().is_some_and(|port| ids.contains(&port.part));
        let parts: Vec<Part> = routing
            .parts
            .iter()
            .filter(|part| ids.contains(&part.id))
            .map(|part| {
                let placed = self.geometry().anchors.part(part.id);
                let (position, turn) =
                    placed.map_or((part.position, part.turn), |placed| (placed.at, placed.turn));
                let mount = part.mount.filter(|mount| ids.contains(&mount.part));
                // A part whose host is not copied stands by itself where it stood.
                Part {
                    mount,
                    position,
                    turn: if part.mount.is_some() { turn } else { part.turn },
                    ..part.clone()
                }
            })
            .collect();
        let runs = routing.runs.iter().filter(|run| on(&run.from) && on(&run.to)).cloned().collect();
        let feeds: Vec<RowFeed> = routing.feeds.iter().filter(|feed| on(&feed.from)).cloned().collect();
        let rows = feeds
            .iter()
            .flat_map(|feed| &feed.branches)
            .filter_map(|branch| Some((branch.row, project.bar.row(branch.row)?.x.si())))
            .collect();
        let middle = Bounds::around(parts.iter().map(|part| part.position.flat())).centre();
        Copied { parts, runs, feeds, rows, middle }
    }

    /// Hangs the copy on the pointer.
    pub fn paste(&mut self) -> Result<(), Refusal> {
        if self.editor.copied.is_empty() {
            return Err(ToolRefusal::NothingCopied.into());
        }
        self.take(Tool::Paste);
        Ok(())
    }

    fn paste_motion(&self, at: Point2, reach: f64) -> (Motion, Snap) {
        let middle = self.editor.copied.middle;
        let turn = self.editor.placing_turn;
        // A single part snaps as it would when it is placed; several by their middle.
        let snap = match &self.editor.copied.parts[..] {
            [one] => self.snap_part(&one.entry, one.turn + turn, &[], at, reach),
            _ => self.snap_point(at, reach),
        };
        let by = Point2::new(snap.place.x - middle.x, snap.place.y - middle.y);
        (Motion { middle, turn, by }, snap)
    }

    pub(super) fn paste_ghosts(&self, at: Point2, reach: f64) -> Vec<Ghost> {
        let (motion, snap) = self.paste_motion(at, reach);
        let ghost = |part: &Part| Ghost {
            entry: part.entry.clone(),
            place: motion.place(part.position),
            turn: part.turn + motion.turn,
            mount: None,
            snap: snap.clone(),
            over: self.project().catalogue.item(&part.entry).map_or_else(Vec::new, |item| {
                self.lies_over(item, motion.place(part.position), part.turn + motion.turn, &[])
            }),
        };
        self.editor.copied.parts.iter().map(ghost).collect()
    }

    pub(super) fn paste_at(&mut self, at: Point2, reach: f64) -> Result<(), Refusal> {
        if self.editor.copied.is_empty() {
            return Err(ToolRefusal::NothingCopied.into());
        }
        let motion = self.paste_motion(at, reach).0;
        let copied = self.editor.copied.clone();
        self.put_copy(&copied, motion, "Paste")
    }

    /// Puts a copy of the selected parts beside them, in one step.
    pub fn duplicate(&mut self) -> Result<(), Refusal> {
        let copied = self.copy_of(&self.selected_parts());
        if copied.is_empty() {
            return Err(ToolRefusal::NothingToDuplicate.into());
        }
        let motion = Motion { middle: copied.middle, turn: Angle::ZERO, by: BESIDE };
        self.put_copy(&copied, motion, "Duplicate")
    }

    fn put_copy(&mut self, copied: &Copied, motion: Motion, name: &str) -> Result<(), Refusal> {
        let (next, parts) = with_copy(self.project(), self.routing(), copied, motion);
        let name = match &copied.parts[..] {
            [one] => format!("{name} {}", one.tag),
            parts => format!("{name} {} parts", parts.len()),
        };
        self.edit(&name, [Edit::PutRouting(Box::new(next))])?;
        self.editor.selection.set(parts.into_iter().map(Subject::Part));
        Ok(())
    }
}

/// The routing with a copy in it, under fresh ids and tags; the ids of the new parts. A feed comes along where a row
/// without one lies as its row would: at the same distance from the copied parts, to half a row spacing.
fn with_copy(
    project: &Project,
    routing: &Routing,
    copied: &Copied,
    motion: Motion,
) -> (Routing, Vec<PartId>) {
    let mut next = routing.clone();
    let mut renamed: BTreeMap<PartId, PartId> = BTreeMap::new();
    for part in &copied.parts {
        renamed.insert(
            part.id,
            PartId(PartId::next(next.parts.iter().map(|part| part.id)).0 + renamed.len() as u32),
        );
    }
    let port = |port: PortRef| Some(PortRef { part: *renamed.get(&port.part)?, ..port });
    let there = |point: &BarPoint| point.moved(&project.bar, motion.place(point.place));
    let end = |end: &End| match end {
        End::Port(at) => port(*at).map_or_else(|| End::Loose(BarPoint::default()), End::Port),
        End::Supply => End::Supply,
        End::Loose(place) => End::Loose(there(place)),
    };
    let line = |line: &Line| Line {
        waypoints: line.waypoints.iter().map(there).collect(),
        // Nobody has measured the copy.
        measured: None,
        ..line.clone()
    };
    for part in &copied.parts {
        let Some(id) = renamed.get(&part.id).copied() else { continue };
        // A part that was taken from the catalogue since can't be placed again.
        let Some(item) = project.catalogue.item(&part.entry) else { continue };
        let BarPoint { place: position, section } =
            there(&BarPoint { place: part.position, section: part.section });
        let tag = next.free_tag(project.tag_letters.part(item.item_kind()));
        let mount = part.mount.and_then(port);
        let turn = (part.turn + motion.turn).within_a_turn();
        next.parts.push(Part { id, tag, section, position, turn, mount, ..part.clone() });
    }
    let anchors = Anchors::of(project, &next);
    for run in &copied.runs {
        let id = RunId::next(next.runs.iter().map(|run| run.id));
        let tag = next.free_tag(project.tag_letters.hose());
        let mut copy =
            Run { id, tag, from: end(&run.from), to: end(&run.to), line: line(&run.line), ..run.clone() };
        cross_run(&project.bar, &anchors, &mut copy);
        next.runs.push(copy);
    }
    let half = project.bar.row_spacing.si() / 2.0;
    for feed in &copied.feeds {
        let row_for = |row: RowId| {
            let x = copied.rows.get(&row)? + motion.by.x;
            let free = project.bar.rows.iter().filter(|row| !row.left_out && next.feed_of(row.id).is_none());
            let nearest = free.min_by(|a, b| (a.x.si() - x).abs().total_cmp(&(b.x.si() - x).abs()))?;
            ((nearest.x.si() - x).abs() <= half).then_some(nearest.id)
        };
        let rows: Option<Vec<RowId>> = feed.branches.iter().map(|branch| row_for(branch.row)).collect();
        // A copy that was turned no longer lies towards its rows as the original did.
        let Some(rows) = rows.filter(|_| motion.turn == Angle::ZERO) else { continue };
        let mut copy = feed.clone();
        copy.id = FeedId::next(next.feeds.iter().map(|feed| feed.id));
        copy.tag = next.free_tag(project.tag_letters.row_feed());
        copy.from = end(&feed.from);
        for (branch, row) in copy.branches.iter_mut().zip(&rows) {
            branch.row = *row;
        }
        if rows.iter().enumerate().any(|(at, row)| rows[..at].contains(row)) {
            continue;
        }
        if let Some(split) = &mut copy.split {
            split.position = there(&split.position);
        }
        for element in copy.elements_mut() {
            if let FeedElement::Tube(tube) = element {
                tube.line = line(&tube.line);
                tube.end = tube.end.as_ref().map(there);
            }
        }
        cross_feed(&project.bar, &anchors, &mut copy);
        next.feeds.push(copy);
    }
    let placed = renamed.into_values().filter(|id| next.part(*id).is_some()).collect();
    (next, placed)
}
