//! A problem of a plan or a file, and a list of problems that shows the first ones and counts the rest, however many a file has.

use std::fmt;

use super::letters::visible_within;
use super::words::count;

/// A rule of the plan that is broken, or what keeps a file from being read or written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Problem {
    /// Where: `routing A, hose H3`.
    pub place: String,
    /// What is wrong.
    pub what: String,
    /// What to try.
    pub advice: String,
}

impl fmt::Display for Problem {
    /// On one line; what can't be seen is written by its code, and what a file made too long to be read is shortened.
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        let shown = |text| visible_within(text, LONGEST_IN_MESSAGE);
        write!(out, "{}: {}; {}", shown(&self.place), shown(&self.what), shown(&self.advice))
    }
}

/// Most letters of each of the three that a message shows.
const LONGEST_IN_MESSAGE: usize = 600;

/// How many problems are kept in words; nobody mends more than that before reading the file again.
pub const SHOWN: usize = 20;

/// The first [`SHOWN`] problems in the order they were found, and how many more there are.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Problems {
    shown: Vec<Problem>,
    more: usize,
}

impl Problems {
    /// Takes a problem, which is put into words only if it will be shown.
    pub fn add(&mut self, problem: impl FnOnce() -> Problem) {
        if self.shown.len() < SHOWN {
            self.shown.push(problem());
        } else {
            self.more = self.more.saturating_add(1);
        }
    }

    /// Takes a problem.
    pub fn push(&mut self, problem: Problem) {
        self.add(|| problem);
    }

    /// Takes a problem that is shown before all others, whatever was found before it.
    pub fn push_first(&mut self, problem: Problem) {
        self.shown.insert(0, problem);
        if self.shown.len() > SHOWN {
            self.shown.truncate(SHOWN);
            self.more = self.more.saturating_add(1);
        }
    }

    /// Takes all problems of another list behind its own.
    pub fn append(&mut self, other: Self) {
        let room = SHOWN - self.shown.len();
        self.more =
            self.more.saturating_add(other.more).saturating_add(other.shown.len().saturating_sub(room));
        self.shown.extend(other.shown.into_iter().take(room));
    }

    /// The same within a larger place: `tested bar 1, routing A`.
    #[must_use]
    pub fn within(mut self, place: &str) -> Self {
        for problem in &mut self.shown {
            problem.place = format!("{place}, {}", problem.place);
        }
        self
    }

    /// There is none.
    pub fn is_empty(&self) -> bool {
        self.shown.is_empty()
    }

    /// How many there are, shown or not.
    pub fn total(&self) -> usize {
        self.shown.len().saturating_add(self.more)
    }

    /// Those that are shown.
    pub fn shown(&self) -> &[Problem] {
        &self.shown
    }

    /// The first one.
    pub fn into_first(self) -> Option<Problem> {
        self.shown.into_iter().next()
    }

    /// What stands behind those that are shown: `and 199,980 more`; nothing if all are shown.
    pub fn and_more(&self) -> Option<String> {
        (self.more > 0).then(|| format!("and {} more", count(self.more)))
    }

    /// All of it in lines, the count of those not shown last.
    pub fn lines(&self) -> impl Iterator<Item = String> {
        self.shown.iter().map(Problem::to_string).chain(self.and_more())
    }
}

impl From<Problem> for Problems {
    fn from(problem: Problem) -> Self {
        Self { shown: vec![problem], more: 0 }
    }
}

impl FromIterator<Problem> for Problems {
    fn from_iter<I: IntoIterator<Item = Problem>>(all: I) -> Self {
        let mut problems = Self::default();
        for one in all {
            problems.push(one);
        }
        problems
    }
}

impl fmt::Display for Problems {
    /// One problem a line.
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, line) in self.lines().enumerate() {
            write!(out, "{}{line}", if index > 0 { "\n" } else { "" })?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn problem(number: usize) -> Problem {
        Problem { place: format!("line {number}"), what: "x".to_owned(), advice: "y".to_owned() }
    }

    #[test]
    fn the_first_are_shown_and_the_rest_is_counted() {
        let all: Problems = (1..=200_000).map(problem).collect();
        assert_eq!((all.total(), all.shown().len()), (200_000, SHOWN));
        let text = all.to_string();
        assert!(text.starts_with("line 1: x; y\nline 2: x; y\n"), "{text}");
        assert!(text.ends_with("line 20: x; y\nand 199,980 more"), "{text}");
        let mut few: Problems = (1..=SHOWN).map(problem).collect();
        assert_eq!(few.and_more(), None);
        few.push_first(problem(0));
        assert_eq!((few.total(), few.shown()[0].clone()), (SHOWN + 1, problem(0)));
        few.append(all);
        assert_eq!((few.total(), few.shown().len()), (200_000 + SHOWN + 1, SHOWN));
        let mut one = Problems::from(problem(1));
        one.append((2..=25).map(problem).collect());
        assert_eq!((one.total(), one.and_more()), (25, Some("and 5 more".to_owned())));
    }

    #[test]
    fn what_is_not_shown_is_never_put_into_words() {
        let mut all = Problems::default();
        let mut worded = 0;
        for number in 0..1000 {
            all.add(|| {
                worded += 1;
                problem(number)
            });
        }
        assert_eq!((all.total(), worded), (1000, SHOWN));
    }
}
