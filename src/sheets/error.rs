//! Why no sheet was made.

use std::fmt;

/// Why no sheet was made.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum SheetError {
    /// A letter that the papers' font does not have, or whose script it can't set.
    Unwritable {
        /// The sheet's name.
        sheet: String,
        /// The words it stands in.
        words: String,
        /// The letter.
        letter: char,
    },
    /// A writer failed.
    Writer {
        /// What went wrong.
        what: String,
    },
}

impl fmt::Display for SheetError {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Unwritable { sheet, words, letter } => write!(
                out,
                "sheet \"{sheet}\": \"{words}\" holds {} (U+{:04X}), which no font here can set on paper; \
                 install a font that has it and may be embedded (as those of Noto), or write it in other letters",
                if letter.is_control() { "a control character".to_owned() } else { format!("'{letter}'") },
                u32::from(*letter)
            ),
            Self::Writer { what } => {
                write!(out, "the sheets can't be written: {what}; report this as a fault")
            }
        }
    }
}

impl std::error::Error for SheetError {}
