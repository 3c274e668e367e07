//! The letters that tags start with.

use serde::{Deserialize, Serialize};

use super::kinds::PartKind;

/// Which letters the tags of a project start with. A project keeps those that it was begun with, so that what is added is
/// tagged like what is there, and papers that hang on the bar already still name the same things.
///
/// The letters of a project are all different: a tag says what it is of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum TagLetters {
    /// Tees `T`, row feeds `D` after their delivery tubes: projects begun since version 2 of the file.
    TeesTRowFeedsD,
    /// Tees `J`, row feeds `T`: projects begun before that, and the examples.
    TeesJRowFeedsT,
}

impl TagLetters {
    /// Of parts of a kind.
    pub const fn part(self, kind: PartKind) -> char {
        match (self, kind) {
            (Self::TeesJRowFeedsT, PartKind::Tee) => 'J',
            _ => kind.facts().tag_letter,
        }
    }

    /// Of hoses.
    pub const fn hose(self) -> char {
        'H'
    }

    /// Of row feeds, and so of their delivery tubes.
    pub const fn row_feed(self) -> char {
        match self {
            Self::TeesTRowFeedsD => 'D',
            Self::TeesJRowFeedsT => 'T',
        }
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;

    #[test]
    fn each_letter_stands_for_one_thing() {
        for letters in [TagLetters::TeesTRowFeedsD, TagLetters::TeesJRowFeedsT] {
            let parts = PartKind::ALL.iter().map(|kind| letters.part(*kind));
            let all: Vec<char> = parts.chain([letters.hose(), letters.row_feed()]).collect();
            assert_eq!(all.iter().collect::<BTreeSet<_>>().len(), all.len(), "{all:?}");
        }
    }
}
