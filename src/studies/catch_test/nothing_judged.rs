//! When nothing of a test is judged: then nothing is explained by it, and nothing calibrated.

use std::fmt;

use crate::plan::CatchTest;
use crate::plan::words::counted;
use crate::studies::NoAnswer;

/// So many lines are named.
const NAMED: usize = 3;

/// Why nothing of a test is judged, whatever was caught.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum NothingJudged {
    /// What was read does not belong to this test, or nobody knows how long was caught; a sentence without its beginning.
    OfAnother(String),
    /// Lines of a table are missing in the test.
    LinesMissing {
        /// So many.
        lines: u32,
        /// The first of them, each with its place and what to try.
        first: Vec<String>,
    },
}

impl NothingJudged {
    /// Of a test; none where something is judged.
    pub fn of(test: &CatchTest) -> Option<Self> {
        if let Some(why) = test.no_verdict() {
            return Some(Self::OfAnother(why.to_owned()));
        }
        let lines = test.lines_missing();
        let missing = test.doubts.iter().filter(|one| one.lines > 0);
        let first = || missing.take(NAMED).map(|one| one.says.clone()).collect();
        (lines > 0).then(|| Self::LinesMissing { lines, first: first() })
    }

    /// What to do so that something is judged, a sentence without its beginning.
    pub const fn advice(&self) -> &'static str {
        match self {
            Self::OfAnother(_) => {
                "read what belongs to this test, or correct what was read; in the window say Settled once that is done"
            }
            Self::LinesMissing { .. } => {
                "correct those lines and read the table again; in the window say Settled where they do not matter"
            }
        }
    }
}

impl fmt::Display for NothingJudged {
    /// Why, a sentence without its beginning.
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::OfAnother(why) => out.write_str(why),
            Self::LinesMissing { lines, first } => {
                let more = if first.len() < *lines as usize { "; and more" } else { "" };
                write!(
                    out,
                    "{} could not be read or placed ({}{more})",
                    counted(*lines as usize, "line"),
                    first.join("; ")
                )
            }
        }
    }
}

impl From<NothingJudged> for NoAnswer {
    fn from(nothing: NothingJudged) -> Self {
        Self::impossible(format!("this test is not judged: {nothing}"), nothing.advice())
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a test stops where something is not as it should be")]
mod tests {
    use super::*;
    use crate::plan::{Bar, Catalogue, Project, TableDoubt};

    #[test]
    fn nothing_is_judged_of_another_bar_or_with_lines_missing_and_it_says_which() {
        let project = Project::new(Bar::default(), Catalogue::default());
        let test = project.catch_tests.empty_at(&project.duties.first().usual_point());
        assert_eq!(NothingJudged::of(&test), None);
        let doubt = |lines, no_verdict: Option<&str>, says: &str| TableDoubt {
            row: None,
            lines,
            no_verdict: no_verdict.map(str::to_owned),
            says: says.to_owned(),
        };
        let with = |doubts| NothingJudged::of(&CatchTest { doubts, ..test.clone() });
        assert_eq!(with(vec![doubt(0, None, "a remark")]), None);
        let lines: Vec<_> = (1..=5).map(|line| doubt(1, None, &format!("line {line}: bad"))).collect();
        let says = with(lines).unwrap().to_string();
        assert_eq!(
            says,
            "5 lines could not be read or placed (line 1: bad; line 2: bad; line 3: bad; and more)"
        );
        let other = with(vec![doubt(2, None, "x"), doubt(0, Some("the sheet is of B"), "y")]).unwrap();
        assert_eq!(other.to_string(), "the sheet is of B");
        let why = NoAnswer::from(other).to_string();
        assert!(why.starts_with("this test is not judged: the sheet is of B; read what"), "{why}");
    }
}
