//! What the revisions of a project changed, for its papers.

use std::fmt;

use serde::de::{SeqAccess, Visitor};
use serde::{Deserialize, Deserializer, Serialize};

use crate::quantities::Length;

/// What one revision changed.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Revision {
    /// Its index, as it stood in the title block from then on.
    pub index: String,
    /// The name of the routing that was changed.
    pub routing: String,
    /// Lengths as cut that differ from what was known, in the order of the list that was read.
    pub lengths: Vec<ChangedLength>,
    /// In words, of projects that hold no more of it; empty otherwise.
    pub note: String,
}

/// A hose or tube that was cut to another length than was known.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ChangedLength {
    /// As the cut list names it.
    pub tag: String,
    /// What it was; none where it was not known.
    pub was: Option<Length>,
    /// What it is; above 0.
    pub is: Length,
}

/// So many revisions are kept, the newest; papers name fewer.
pub const MOST_REVISIONS: usize = 50;

/// The newest first, with one more.
pub fn with_revision(newest: Revision, before: &[Revision]) -> Vec<Revision> {
    std::iter::once(newest).chain(before.iter().cloned()).take(MOST_REVISIONS).collect()
}

/// Reads them as they are saved; where a project has a text in their place, a line a revision, each as its words.
pub(super) fn revisions<'de, D: Deserializer<'de>>(from: D) -> Result<Vec<Revision>, D::Error> {
    struct All;
    impl<'de> Visitor<'de> for All {
        type Value = Vec<Revision>;

        fn expecting(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
            out.write_str("a list of revisions")
        }

        fn visit_str<E: serde::de::Error>(self, text: &str) -> Result<Self::Value, E> {
            let lines = text.lines().filter(|line| !line.trim().is_empty());
            Ok(lines.map(|line| Revision { note: line.to_owned(), ..Revision::default() }).collect())
        }

        fn visit_seq<A: SeqAccess<'de>>(self, mut all: A) -> Result<Self::Value, A::Error> {
            let mut found = Vec::new();
            while let Some(one) = all.next_element()? {
                found.push(one);
            }
            Ok(found)
        }
    }
    from.deserialize_any(All)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::TitleBlock;

    fn read(changes: &str) -> Vec<Revision> {
        let title = format!(
            "(title:\"\",owner:\"\",number:\"\",revision:\"\",creator:\"\",approved_by:\"\",notes:\"\",changes:{changes})"
        );
        ron::from_str::<TitleBlock>(&title).unwrap().changes
    }

    #[test]
    fn revisions_come_back_as_saved_and_words_in_their_place_as_words() {
        let saved = Revision {
            index: "2".to_owned(),
            routing: "A".to_owned(),
            lengths: vec![
                ChangedLength { tag: "H1".to_owned(), was: None, is: Length::metres(4.31) },
                ChangedLength {
                    tag: "T1".to_owned(),
                    was: Some(Length::metres(1.0)),
                    is: Length::metres(1.2),
                },
            ],
            note: String::new(),
        };
        assert_eq!(read(&ron::to_string(&[&saved][..]).unwrap()), std::slice::from_ref(&saved));
        let words: Vec<String> =
            read("\"Revision 2: b\\nRevision 1: a\"").into_iter().map(|one| one.note).collect();
        assert_eq!(words, ["Revision 2: b", "Revision 1: a"]);
        let many = (0..MOST_REVISIONS + 3).fold(Vec::new(), |all, at| {
            with_revision(Revision { index: at.to_string(), ..Revision::default() }, &all)
        });
        assert_eq!((many.len(), many[0].index.as_str()), (MOST_REVISIONS, "52"));
    }
}
