//! A path in words that people read.

use std::path::Path;

use crate::plan::letters::visible;

/// A path as a message shows it: letters that can't be seen are written by their code, and bytes that are no UTF-8 as
/// `\xFF`. Only for people; a path that is opened again stays a path.
pub fn visible_path(path: &Path) -> String {
    use std::fmt::Write as _;
    let mut out = String::new();
    for chunk in path.as_os_str().as_encoded_bytes().utf8_chunks() {
        out.push_str(&visible(chunk.valid()));
        for byte in chunk.invalid() {
            // Writing to a string does not fail.
            let _ = write!(out, "\\x{byte:02X}");
        }
    }
    out
}
