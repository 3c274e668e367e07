//! Whole routings: add, copy, rename, note, reorder, delete; each one step.

use super::Session;
use super::refusal::{Gone, Refusal, Remark, Reply};
use crate::plan::words::{counted, letters};
use crate::plan::{CatchTest, Edit, Routing, RoutingId};

impl Session {
    /// Takes another routing in hand. Selected rows stay selected; parts, hoses and row feeds belong to their routing.
    pub fn show_routing(&mut self, id: RoutingId) {
        if id == self.solved.routing_id() || self.project().routing(id).is_none() {
            return;
        }
        self.give_up_gesture();
        self.solved.turn_to(id);
        self.solve_anew();
    }

    /// Shows the routing a number of places further on; stops at the ends.
    pub fn step_routing(&mut self, by: isize) {
        let at = self.routing_place();
        let to = at.saturating_add_signed(by).min(self.project().routings.len().saturating_sub(1));
        if let Some(id) = self.project().routings.get(to).map(|routing| routing.id) {
            self.show_routing(id);
        }
    }

    /// The place of the routing in hand, 0 first.
    pub fn routing_place(&self) -> usize {
        let id = self.routing().id;
        self.project().routings.iter().position(|routing| routing.id == id).unwrap_or(0)
    }

    /// Adds a routing, empty or a copy of the one in hand, and shows it.
    pub fn add_routing(&mut self, copy: bool) -> Result<RoutingId, Refusal> {
        let routings = &self.project().routings;
        let id = RoutingId::next(routings.iter().map(|routing| routing.id));
        let name = free_name(routings);
        let (routing, step) = if copy {
            let from = self.routing();
            let note = if from.note.is_empty() {
                format!("Copy of {}", from.name)
            } else {
                format!("Copy of {}: {}", from.name, from.note)
            };
            let step = format!("Copy routing {}", from.name);
            (Routing { id, name, note, ..from.clone() }, step)
        } else {
            let step = format!("Add routing {name}");
            (Routing::empty(id, name), step)
        };
        self.edit(&step, [Edit::PutRouting(Box::new(routing))])?;
        let selected = self.selection().clone();
        self.show_routing(id);
        if copy {
            // The copy has the same things by the same ids.
            self.select(selected);
        }
        Ok(id)
    }

    /// Gives a routing another name; short, and no other's.
    pub fn rename_routing(&mut self, id: RoutingId, name: &str) -> Result<(), Refusal> {
        let Some(routing) = self.project().routing(id).cloned() else { return Err(Gone::Routing.into()) };
        let step = format!("Rename routing {}", routing.name);
        let changed = Routing { name: name.trim().to_owned(), ..routing };
        self.edit(&step, [Edit::PutRouting(Box::new(changed))])
    }

    /// Says in words what a routing is about.
    pub fn note_routing(&mut self, id: RoutingId, note: &str) -> Result<(), Refusal> {
        let Some(routing) = self.project().routing(id).cloned() else { return Err(Gone::Routing.into()) };
        let step = format!("Note on routing {}", routing.name);
        let changed = Routing { note: note.trim().to_owned(), ..routing };
        self.edit(&step, [Edit::PutRouting(Box::new(changed))])
    }

    /// Moves a routing to another place in the order, 0 first.
    pub fn move_routing(&mut self, id: RoutingId, to: usize) -> Result<(), Refusal> {
        let Some(routing) = self.project().routing(id) else { return Err(Gone::Routing.into()) };
        let step = format!("Move routing {}", routing.name);
        self.edit(&step, [Edit::MoveRouting(id, to)])
    }

    /// Deletes a routing, unless it is the last, and shows its neighbour.
    pub fn remove_routing(&mut self, id: RoutingId) -> Reply {
        let routings = &self.project().routings;
        let Some(at) = routings.iter().position(|routing| routing.id == id) else {
            return Err(Gone::Routing.into());
        };
        let name = routings[at].name.clone();
        let step = format!("Delete routing {name}");
        let neighbour = routings.get(at + 1).or_else(|| routings.get(at.checked_sub(1)?)).map(|one| one.id);
        let Some(neighbour) = neighbour else {
            return Err(Refusal::LastRouting);
        };
        let shown = self.solved.routing_id() == id;
        // The step belongs to the routing that goes, so that undo shows it again.
        self.edit(&step, [Edit::RemoveRouting(id)])?;
        if shown {
            self.show_routing(neighbour);
        }
        let tests = &self.project().catch_tests;
        let is_of_it = |test: &&CatchTest| {
            let tested = tests.project_of(test).and_then(|bar| bar.routings.first());
            tested.is_some_and(|routing| routing.id == id)
        };
        let stays = match tests.tests.iter().filter(is_of_it).count() {
            0 => String::new(),
            count => format!(
                "{} of it stay{}, with the bar as it was tested",
                counted(count, "catch test"),
                if count == 1 { "s" } else { "" }
            ),
        };
        Ok(Some(Remark::Removed { what: format!("Routing {name}"), stays }))
    }
}

/// The first of A, B, ... Z, AA, ... that no routing has.
fn free_name(routings: &[Routing]) -> String {
    let taken = |name: &String| routings.iter().any(|routing| routing.name == *name);
    (0..=u32::MAX).map(letters).find(|name| !taken(name)).unwrap_or_default()
}
