//! What of a table is missing in the test, in words and by rows.

use std::fmt;

use crate::plan::bounds::Bound;
use crate::plan::letters::visible_within;
use crate::plan::problems::{Problem, Problems};
use crate::plan::{Bar, RowId, TableDoubt};

/// The first lines of a table that could not be read or placed, in words, and how many there are.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct MissingLines {
    problems: Problems,
    /// Of each problem that is shown: the number of its row, where that is known, and so many lines.
    about: Vec<(Option<u32>, u32)>,
    lines: u32,
    /// Where the last one stands.
    last: String,
}

impl MissingLines {
    /// So many lines are missing, at a place, of a row where that is known.
    pub(super) fn add(&mut self, place: &str, row: Option<u32>, lines: u32, what: String, advice: &str) {
        // Two amounts of one line are one line; where it was read, none is missing.
        let lines = if self.last == place { 0 } else { lines };
        if lines > 0 {
            place.clone_into(&mut self.last);
        }
        self.lines = self.lines.saturating_add(lines);
        let (place, advice) = (place.to_owned(), advice.to_owned());
        self.problems.add(|| Problem { place, what, advice });
        if self.about.len() < self.problems.shown().len() {
            self.about.push((row, lines));
        }
    }

    /// There is none.
    pub fn is_empty(&self) -> bool {
        self.problems.is_empty()
    }

    /// How many lines are missing.
    pub const fn count(&self) -> u32 {
        self.lines
    }

    /// What of them is put into words.
    pub const fn problems(&self) -> &Problems {
        &self.problems
    }

    /// As a test keeps them, until each is settled.
    pub(super) fn doubts(&self, bar: &Bar) -> Vec<TableDoubt> {
        let shown = self.problems.shown().iter().zip(&self.about);
        let mut doubts: Vec<TableDoubt> = shown
            .map(|(problem, (row, lines))| {
                let row = row.and_then(|number| bar.row_numbered(number));
                doubt(row.map(|row| row.id), *lines, &problem.to_string())
            })
            .collect();
        let shown: u32 = self.about.iter().map(|(_, lines)| lines).sum();
        doubts.extend(self.problems.and_more().map(|more| doubt(None, self.lines - shown, &more)));
        doubts
    }
}

impl fmt::Display for MissingLines {
    /// One a line.
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.problems.fmt(out)
    }
}

/// What is in doubt, in words as a project keeps them.
pub(super) fn doubt(row: Option<RowId>, lines: u32, says: &str) -> TableDoubt {
    TableDoubt { row, lines, no_verdict: None, says: visible_within(says, Bound::Words.most()).into_owned() }
}
