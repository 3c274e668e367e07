//! The neutral network format, version 1: strict reading, and writing of solutions.
//!
//! [`read`] turns text into a [`Network`] or says why not, with the codes of the format; [`network_json`] writes one;
//! [`solution_json`] and [`rejection_json`] write the answer. Text in, text out; only [`open`] touches the disk. Reading streams through the
//! lists of nodes and links, looks at each number's own digits (so that `1e999` is told from bad syntax), and refuses
//! keys that occur twice in an object it reads. What it doesn't know it skips.

mod read;
mod write;

pub use read::{DEEPEST_NESTING, LONGEST_ID, read};
pub use write::{failure_json, network_json, rejection_json, solution_json};

use std::path::Path;

use super::reading::read_bytes;
use super::visible_path::visible_path;
use crate::hydraulics::network::{Network, Reason, Rejection};

/// Larger files are refused unread, bytes: a bar of ten thousand rows takes some 8 MiB.
pub const LARGEST_FILE: u64 = 32 << 20;

/// Why a network file gave no network.
#[derive(Debug)]
pub enum OpenError {
    /// The file can't be read; says why and what to try.
    Unreadable(String),
    /// It was read, but is no network that can be taken.
    Rejected(Rejection),
}

/// Opens and reads a network file.
pub fn open(path: &Path) -> Result<Network, OpenError> {
    let unreadable = |why: String| OpenError::Unreadable(format!("'{}': {why}", visible_path(path)));
    let bytes = read_bytes(path, LARGEST_FILE)
        .map_err(|problem| unreadable(format!("{}; {}", problem.what, problem.advice)))?;
    match std::str::from_utf8(&bytes) {
        Ok(text) => read(text).map_err(OpenError::Rejected),
        Err(error) => Err(OpenError::Rejected(Rejection::new(
            Reason::BadJson,
            format!("not UTF-8 text at byte {}; save the file as UTF-8", error.valid_up_to()),
        ))),
    }
}
