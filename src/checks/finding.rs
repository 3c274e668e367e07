//! A finding: how serious, where, what, and what to try.

use std::fmt;

use crate::plan::{FeedId, PartId, RowId, RunId};

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
    /// The wording on screens and papers.
    pub const fn label(self) -> &'static str {
        match self {
            Self::Error => "Error",
            Self::Warning => "Warning",
            Self::Note => "Note",
        }
    }
}

/// What a finding is about, to be selected on screen.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Subject {
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

/// Something a person should know about one routing at one operating point.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// Rule, routing and subject, parted by `/`: what a dismissal is remembered by. It holds no measured value,
    /// so that a dismissed finding stays dismissed while a number moves.
    pub key: String,
    /// How serious.
    pub severity: Severity,
    /// How bad, as a number above 0 that rises with the harm and is compared only within one rule, to find the speed
    /// at which it is worst; none where the rule knows no such figure.
    pub extent: Option<f64>,
    /// Where, in words: `Rows 15 to 26`, `M2`.
    pub place: String,
    /// What is the matter there, with its numbers.
    pub what: String,
    /// What to try.
    pub advice: String,
    /// What it is about, to select on screen.
    pub subjects: Vec<Subject>,
}

impl fmt::Display for Finding {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "{}: {}; {}", self.place, self.what, self.advice)
    }
}
