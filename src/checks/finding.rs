//! A finding: how serious, where, what, and what to try.

use std::fmt;

use super::remedy::Remedy;
pub use crate::plan::dismissal::FindingSubject;
use crate::plan::dismissal::{Dismissal, FindingKey, FindingKind};
use crate::plan::{FoldPosition, RoutingId};
use crate::quantities::Speed;

/// How serious a finding is, the most serious first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Severity {
    /// It won't work as drawn, or it may hurt someone.
    Error,
    /// It works, but outside the limits of the project.
    Warning,
    /// Worth knowing.
    Note,
}

impl Severity {
    /// In data: `error`.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Error => "error",
            Self::Warning => "warning",
            Self::Note => "note",
        }
    }

    /// The wording on screens and papers.
    pub const fn label(self) -> &'static str {
        match self {
            Self::Error => "Error",
            Self::Warning => "Warning",
            Self::Note => "Note",
        }
    }
}

/// Something a person should know about one routing at one operating point.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// The rule, and which of the things it looks for.
    pub kind: FindingKind,
    /// In which routing.
    pub routing: RoutingId,
    /// How serious.
    pub severity: Severity,
    /// How bad, as a number above 0 that rises with the harm and is compared only within one rule, to find the speed
    /// at which it is worst; none where the rule knows no such figure.
    pub extent: Option<f64>,
    /// Where, in words: `Rows 15 to 26`, `M2`.
    pub place: String,
    /// What is the matter there, with its numbers.
    pub what: String,
    /// Of several things with numbers of their own a line each, shown where somebody asks for more; empty where `what`
    /// says all.
    pub each: Vec<String>,
    /// What to try.
    pub advice: String,
    /// What puts it right, where there is one plain way.
    pub remedy: Option<Remedy>,
    /// Other ways to put it right, one of which may suit better: each has to be tried before it is offered.
    pub others: Vec<Remedy>,
    /// What it is about: hiding it hides it there, and selecting it selects these and those beside.
    pub subjects: Vec<FindingSubject>,
    /// What is only selected along with it: a hose that explains it, or whose bore it is measured against.
    pub also: Vec<FindingSubject>,
    /// The ground speed at which it holds, where it depends on one.
    pub speed: Option<Speed>,
    /// How far the bar is folded where it holds; none where it does not depend on the fold.
    pub fold: Option<FoldPosition>,
    /// The wording says at which speed.
    pub names_speed: bool,
}

impl Finding {
    /// What it is known by at each thing it is about.
    pub fn keys(&self) -> impl Iterator<Item = FindingKey> {
        let key = |subject: &FindingSubject| FindingKey {
            kind: self.kind.clone(),
            routing: self.routing,
            subject: *subject,
        };
        self.subjects.iter().map(key)
    }

    /// What hides it, for a reason.
    pub fn dismissal(&self, reason: impl Into<String>, by: impl Into<String>) -> Dismissal {
        Dismissal {
            kind: self.kind.clone(),
            routing: self.routing,
            subjects: self.subjects.clone(),
            reason: reason.into(),
            by: by.into(),
        }
    }
}

impl fmt::Display for Finding {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "{}: {}; {}", self.place, self.what, self.advice)
    }
}
