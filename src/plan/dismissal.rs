//! Findings that the user no longer wants to see, each with the reason.

use serde::{Deserialize, Serialize};

use super::{FeedId, PartId, RoutingId, RowId, RunId, Subject};

/// What a finding is about, by identities that survive renaming.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum FindingSubject {
    /// A row.
    Row(RowId),
    /// A placed part of the routing.
    Part(PartId),
    /// A run of the routing.
    Run(RunId),
    /// A row feed of the routing.
    Feed(FeedId),
    /// The routing as a whole.
    Routing,
    /// The project: liquid, supply, application.
    Project,
}

impl From<Subject> for FindingSubject {
    fn from(subject: Subject) -> Self {
        match subject {
            Subject::Row(id) => Self::Row(id),
            Subject::Part(id) => Self::Part(id),
            Subject::Run(id) => Self::Run(id),
            Subject::Feed(id) => Self::Feed(id),
        }
    }
}

/// What a rule found, apart from the things it found it at.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FindingKind {
    /// The rule, by its short and stable name.
    pub rule: String,
    /// Which of the several things that the rule looks for, by a stable name; empty where it looks for one.
    pub case: String,
}

/// What one finding about one thing is known by. It holds no tag, no name, no measured value and no neighbour.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct FindingKey {
    /// What was found.
    pub kind: FindingKind,
    /// In which routing.
    pub routing: RoutingId,
    /// At what.
    pub subject: FindingSubject,
}

/// A finding that is hidden, at all things that it was about when it was hidden.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Dismissal {
    /// What was found.
    pub kind: FindingKind,
    /// In which routing.
    pub routing: RoutingId,
    /// At what; at least one.
    pub subjects: Vec<FindingSubject>,
    /// Why it is of no concern; not empty.
    pub reason: String,
    /// Who hid it: whoever the title block named as the maker then; may be empty.
    pub by: String,
}

impl Dismissal {
    /// It hides the finding of this key.
    pub fn hides(&self, key: &FindingKey) -> bool {
        self.routing == key.routing && self.kind == key.kind && self.subjects.contains(&key.subject)
    }

    /// All that this hides is hidden by the other as well.
    fn is_within(&self, other: &Self) -> bool {
        self.routing == other.routing
            && self.kind == other.kind
            && self.subjects.iter().all(|subject| other.subjects.contains(subject))
    }
}

/// Adds one, and drops those that it covers.
pub(super) fn add(all: &mut Vec<Dismissal>, new: Dismissal) {
    all.retain(|one| !one.is_within(&new));
    all.push(new);
}
