//! Why a file was not opened.

use std::fmt;
use std::path::{Path, PathBuf};

use super::visible_path::visible_path;
use crate::plan::problems::{Problem, Problems};

/// Why a file was not opened: the problems found, each with where, what and what to try.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReadError {
    /// The file, where there is one.
    pub file: Option<PathBuf>,
    /// At least one.
    pub problems: Problems,
}

impl ReadError {
    pub(super) fn one(place: impl Into<String>, what: impl Into<String>, advice: impl Into<String>) -> Self {
        let problem = Problem { place: place.into(), what: what.into(), advice: advice.into() };
        Self { file: None, problems: problem.into() }
    }

    pub(super) fn of(mut self, file: &Path) -> Self {
        self.file = Some(file.to_owned());
        self
    }
}

impl fmt::Display for ReadError {
    /// One problem a line.
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, line) in self.problems.lines().enumerate() {
            if index > 0 {
                out.write_str("\n")?;
            }
            if let Some(file) = &self.file {
                write!(out, "{}: ", visible_path(file))?;
            }
            out.write_str(&line)?;
        }
        Ok(())
    }
}

impl std::error::Error for ReadError {}
