//! What is selected, and the routing it belongs to.

use std::collections::BTreeSet;

use crate::plan::{Project, Routing, RoutingId, Subject};

/// What is selected in one routing. Parts, hoses and row feeds are known by ids that mean something else in another
/// routing, so that a selection never follows into one; rows belong to the bar, and do.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Selection {
    routing: RoutingId,
    things: BTreeSet<Subject>,
}

impl Selection {
    /// Nothing of a routing.
    pub const fn nothing_of(routing: RoutingId) -> Self {
        Self { routing, things: BTreeSet::new() }
    }

    /// The routing whose parts, hoses and row feeds these are.
    pub const fn routing(&self) -> RoutingId {
        self.routing
    }

    /// What is selected.
    pub const fn things(&self) -> &BTreeSet<Subject> {
        &self.things
    }

    /// Selects these things and nothing else.
    pub fn set(&mut self, things: impl IntoIterator<Item = Subject>) {
        self.things = things.into_iter().collect();
    }

    /// Selects these things too.
    pub fn extend(&mut self, things: impl IntoIterator<Item = Subject>) {
        self.things.extend(things);
    }

    /// Adds a thing to what is selected, or takes it out.
    pub fn toggle(&mut self, thing: Subject) {
        if !self.things.remove(&thing) {
            self.things.insert(thing);
        }
    }

    /// Selects nothing.
    pub fn clear(&mut self) {
        self.things.clear();
    }

    /// Goes over to a routing, with the rows alone where that is another one, and drops what is not there.
    pub(super) fn keep_to(&mut self, project: &Project, routing: &Routing) {
        let is_same = self.routing == routing.id;
        self.routing = routing.id;
        self.things.retain(|subject| match subject {
            Subject::Part(id) => is_same && routing.part(*id).is_some(),
            Subject::Run(id) => is_same && routing.run(*id).is_some(),
            Subject::Feed(id) => is_same && routing.feed(*id).is_some(),
            Subject::Row(id) => project.bar.row(*id).is_some(),
        });
    }
}
