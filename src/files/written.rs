//! What is said of a file that was written, or why it was not.

use std::fmt;
use std::path::{Path, PathBuf};

use crate::plan::problems::Problem;

/// Why a file was not written; the file that was there is as before.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct WriteError(pub Problem);

impl WriteError {
    pub(super) fn new(place: impl Into<String>, what: impl Into<String>, advice: impl Into<String>) -> Self {
        Self(Problem { place: place.into(), what: what.into(), advice: advice.into() })
    }
}

impl fmt::Display for WriteError {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(out)
    }
}

impl std::error::Error for WriteError {}

/// What a file that was written could not keep of the one whose place it took.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum NotKept {
    /// Other names of the same file, so many: they keep the version before.
    HardLinks(u64),
    /// Its owner: it belongs to whoever saved it now.
    Owner,
    /// Its group: the group of whoever saved it has it now, with no more rights than everybody.
    Group,
    /// Extended attributes or access lists, by name.
    Attributes(Vec<String>),
    /// The version of its format: programs that know the one before alone can't open it any more.
    Version {
        /// Of the file that was there.
        before: u32,
        /// Of the file that is there now.
        now: u32,
    },
    /// The disk did not confirm the new name, for this reason: a power cut now could bring the version before back.
    Confirmation(String),
}

impl fmt::Display for NotKept {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::HardLinks(1) => {
                out.write_str("it had another name (a hard link), which keeps the version before this one")
            }
            Self::HardLinks(count) => {
                write!(out, "it had {count} other names (hard links), which keep the version before this one")
            }
            Self::Owner => out.write_str("it belonged to someone else, and belongs to you now"),
            Self::Group => out.write_str(
                "its group could not be kept: it has yours now, with no more rights than everybody has",
            ),
            Self::Attributes(names) => {
                write!(out, "extended attributes of it could not be kept: {}", names.join(", "))
            }
            Self::Version { before, now } => write!(
                out,
                "it was in version {before} of the file format and is in version {now} now, which an older Equirow \
                 can't open"
            ),
            Self::Confirmation(why) => write!(
                out,
                "the disk did not confirm its new name ({why}): save again before the power is switched off"
            ),
        }
    }
}

/// What people should be told of files that were written all the same.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Notes(pub(super) Vec<(PathBuf, NotKept)>);

impl Notes {
    /// There is nothing to tell.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// Each file with what it could not keep.
    pub fn iter(&self) -> impl Iterator<Item = (&Path, &NotKept)> {
        self.0.iter().map(|(path, what)| (path.as_path(), what))
    }

    /// Adds a note about a file, if there is one.
    pub(super) fn extend_with(&mut self, path: &Path, note: Option<NotKept>) {
        self.0.extend(note.map(|note| (path.to_owned(), note)));
    }

    /// The notes behind what is said anyway: "Saved. bar.ron: ...".
    pub fn behind(&self, said: &str) -> String {
        if self.is_empty() { said.to_owned() } else { format!("{said}. {self}") }
    }
}

impl fmt::Display for Notes {
    /// One note a line.
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, (path, what)) in self.0.iter().enumerate() {
            let line = if index > 0 { "\n" } else { "" };
            write!(out, "{line}{}: {what}", path.display())?;
        }
        Ok(())
    }
}
