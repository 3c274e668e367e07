//! What one picture shows: a routing of a project, what flows in it, and what stands out.

use std::collections::BTreeSet;

use super::caught::Caught;
use crate::drawing::Subject;
use crate::hydraulics::Outcome;
use crate::plan::{LaidRouting, Project};
use crate::session::Session;

/// One routing of a project and what flows in it.
#[derive(Debug, Clone, Copy)]
pub struct Shown<'a> {
    /// The project.
    pub project: &'a Project,
    /// The routing, one of the project's.
    pub routing: LaidRouting<'a>,
    /// What flows; none where it was not solved, and then nothing is coloured.
    pub outcome: Option<&'a Outcome>,
    /// Must differ whenever any of these three does: a scene is kept for as long as this stays the same.
    pub revision: u64,
    /// Tells pictures apart that one canvas draws in the same frame; the first one, 0, decides about fitting.
    pub slot: usize,
    /// What flows in what is shown beside it, on the same scale.
    pub beside: Option<&'a Outcome>,
    /// Where the rows are what was caught: what was expected, and what is said of each row.
    pub caught: Option<&'a Caught>,
    /// What stands out.
    pub selected: &'a BTreeSet<Subject>,
}

impl<'a> Shown<'a> {
    /// What a session has in hand.
    pub fn of(session: &'a Session) -> Self {
        Self {
            project: session.project(),
            routing: session.laid(),
            outcome: Some(session.shown_outcome()),
            beside: None,
            caught: None,
            revision: session.revision(),
            slot: 0,
            selected: session.selection(),
        }
    }
}
