//! Rows given to manifolds: by clicks, shared out, put in order, an outlet left blank.

use std::collections::BTreeSet;

use super::Session;
use super::clear_ways::led_clear;
use super::feed_ends::swapped;
use super::obstacle::Obstacle;
use super::outlet_plugs::{close_left_over, edits, giving_way, put};
use super::refusal::{Refusal, Remark, Reply, ToolRefusal};
use super::row_sharing::{Scope, Share, assign, blanked, free_outlets, plugged, set_rows, share_out};
use super::rows::rows_of;
use super::tool::{Gesture, Tool};
use crate::plan::words::{counted, short_list};
use crate::plan::{Edit, FeedId, PartId, PartItem, RowFeed, RowId, Subject};

/// Of more tubes than this some are counted.
const MOST_NAMED: usize = 6;

impl Session {
    /// Makes exactly these rows hang on a manifold, in one step.
    pub fn give_rows(&mut self, manifold: PartId, rows: &[RowId]) -> Result<(), Refusal> {
        let name = format!("Connect rows to {}", self.tag_of(Subject::Part(manifold)));
        let (project, routing) = (self.project(), self.routing());
        let next = giving_way(project, routing, |routing| {
            let edits = set_rows(project, self.duty(), routing, &self.frame(), manifold, rows)?;
            Ok(put(edits, routing))
        })?;
        let edits = edits(next, routing);
        self.edit(&name, edits)
    }

    pub(super) fn press_rows(
        &mut self,
        manifold: Option<PartId>,
        hit: Option<Subject>,
    ) -> Result<(), Refusal> {
        match (hit, manifold) {
            (Some(Subject::Part(id)), _) if self.is_manifold(id) => {
                self.editor.tool = Tool::GiveRows { manifold: Some(id) };
                self.editor.selection.set([Subject::Part(id)]);
            }
            (Some(Subject::Row(row)), Some(manifold)) => {
                self.editor.gesture = Gesture::Rows { manifold, rows: vec![row] };
            }
            (Some(Subject::Row(_)), None) => {
                return Err(ToolRefusal::ManifoldFirst.into());
            }
            _ => {}
        }
        Ok(())
    }

    /// The part is a manifold.
    pub fn is_manifold(&self, id: PartId) -> bool {
        let entry = self.routing().part(id).map(|part| &part.entry);
        let item = entry.and_then(|entry| self.project().catalogue.item(entry));
        matches!(item, Some(PartItem::Manifold(_)))
    }

    /// What an action on rows is for: the selected rows, otherwise the sections of what is selected, otherwise all.
    pub fn scope(&self) -> Scope {
        let rows = self.selected_rows();
        let sections = self.selected_sections();
        if !rows.is_empty() {
            Scope::Rows(rows)
        } else if sections.is_empty() {
            Scope::Bar
        } else {
            Scope::Sections(sections)
        }
    }

    /// All selected rows.
    pub fn selected_rows(&self) -> Vec<RowId> {
        let rows = self.editor.selection.things().iter();
        rows.filter_map(|subject| if let Subject::Row(id) = subject { Some(*id) } else { None }).collect()
    }

    /// Shares the rows of a scope out over its manifolds, and plugs what stays over once liquid comes there, in one step.
    pub fn share_rows(&mut self, scope: &Scope, share: Share) -> Reply {
        let name = match share {
            Share::Nearest => "Rows to the nearest manifold",
            Share::ByOutlets => "Balance rows by outlets",
        };
        let (project, routing) = (self.project(), self.routing());
        let mut next = giving_way(project, routing, |routing| {
            let edits = share_out(project, self.duty(), routing, &self.frame(), scope, share)?;
            Ok(put(edits, routing))
        })?;
        let is_new = |feed: &&RowFeed| !routing.feeds.contains(feed);
        let new: BTreeSet<FeedId> = next.feeds.iter().filter(is_new).map(|feed| feed.id).collect();
        let led = led_clear(project, &mut next, &new);
        let caught: Vec<String> = next
            .feeds
            .iter()
            .filter(|feed| led.caught.contains(&feed.id))
            .map(|feed| feed.tag.clone())
            .collect();
        let plugged = close_left_over(project, &mut next);
        let edits = edits(next, routing);
        let before: Vec<RowFeed> = routing.feeds.clone();
        let said = self.edit_unless_so(name, Ok::<_, Refusal>(edits))?;
        let changed = self.routing().feeds.iter().filter(|feed| !before.contains(feed));
        let rows: usize = changed.map(|feed| feed.branches.len()).sum();
        let given = (rows > 0).then(|| format!("{} given to manifolds", counted(rows, "row")));
        let closed = (plugged > 0).then(|| format!("plugged {}", counted(plugged, "outlet")));
        let led = (!led.clear.is_empty()).then(|| {
            format!(
                "{} led along other members or under them, clear of what the fold or openers bring",
                counted(led.clear.len(), "tube")
            )
        });
        let is_clear = caught.is_empty();
        let caught = (!is_clear).then(|| {
            let (is, it) = if caught.len() == 1 { ("is", "it") } else { ("are", "them") };
            format!(
                "{} {is} caught in the fold or among openers along every member: the finding says where; lead {it} another way by \
                 hand, move the manifold, or change the hinge",
                short_list(&caught, MOST_NAMED)
            )
        });
        let did: Vec<String> = given.into_iter().chain(led).chain(caught).chain(closed).collect();
        let words = did.join("; ");
        Ok(said.or_else(|| (!did.is_empty()).then_some(Remark::Laid { words, is_clear })))
    }

    /// Exchanges the outlets of two rows.
    pub fn swap_outlets(&mut self, a: RowId, b: RowId) -> Reply {
        let edits = swapped(self.project(), self.routing(), &self.frame(), a, b);
        self.edit_unless_so("Swap two rows", edits)
    }

    /// Puts the rows of manifolds on their outlets from left to right, so that tubes don't cross.
    pub fn renumber_outlets(&mut self, manifolds: &[PartId]) -> Reply {
        let (project, mut next) = (self.project(), self.routing().clone());
        let gives: Vec<(PartId, Vec<RowId>)> =
            manifolds.iter().map(|id| (*id, rows_of(project, &next, *id))).collect();
        let done = assign(project, self.duty(), &mut next, &self.frame(), &gives);
        self.edit_unless_so("Outlets in order", done.map(|()| vec![Edit::PutRouting(Box::new(next))]))
    }

    /// Closes the outlet of a row with a blanking plug; its manifold's rows move to the outlets that are left.
    pub fn leave_blank(&mut self, row: RowId) -> Reply {
        let edits = blanked(self.project(), self.duty(), self.routing(), &self.frame(), row);
        self.edit_unless_so("Leave an outlet blank", edits)
    }

    /// Why the outlet of a row can't be left blank; none if it can.
    pub(super) fn why_not_blank(&self, row: RowId) -> Option<Obstacle> {
        let (project, routing) = (self.project(), self.routing());
        let Some(port) = routing.feed_of(row).and_then(|feed| feed.from.port()) else {
            return Some(Obstacle::RowNotFed);
        };
        let is_free = !free_outlets(project, routing, port.part, &BTreeSet::new()).is_empty();
        (!is_free).then_some(Obstacle::NoOutletLeft)
    }

    /// Closes every outlet of these manifolds that nothing sits on with a blanking plug.
    pub fn plug_open(&mut self, manifolds: &[PartId]) -> Reply {
        let edits = plugged(self.project(), self.routing(), manifolds);
        self.edit_unless_so("Plug open outlets", edits)
    }

    /// The selected manifolds, or all of them if none is selected.
    pub fn manifolds_meant(&self) -> Vec<PartId> {
        let mut selected = self.selected_parts();
        selected.retain(|id| self.is_manifold(*id));
        if !selected.is_empty() {
            return selected;
        }
        let all = self.routing().parts.iter().map(|part| part.id);
        all.filter(|id| self.is_manifold(*id)).collect()
    }
}
