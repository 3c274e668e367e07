//! Identities that survive renaming: a tag is what people read, an id is what the plan refers by.

use serde::{Deserialize, Deserializer, Serialize, de::Error as _};

/// The largest identity that a file may hold, so that there are always new ones behind it.
const MOST_IN_A_FILE: u32 = 1_000_000_000;

macro_rules! id {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(
            Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize,
        )]
        #[serde(transparent)]
        pub struct $name(pub u32);

        impl<'de> Deserialize<'de> for $name {
            fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
                let number = u32::deserialize(from)?;
                if number > MOST_IN_A_FILE {
                    let why = format!("the identity {number} is too large: give the thing one of at most {MOST_IN_A_FILE}");
                    return Err(D::Error::custom(why));
                }
                Ok(Self(number))
            }
        }

        impl $name {
            /// An id that none of these uses: behind the largest, or the first free one where that is the last there is.
            pub fn next(used: impl IntoIterator<Item = Self>) -> Self {
                let used: std::collections::BTreeSet<u32> = used.into_iter().map(|id| id.0).collect();
                let behind = used.last().map_or(Some(1), |largest| largest.checked_add(1));
                let free = behind.or_else(|| (1..u32::MAX).find(|id| !used.contains(id)));
                Self(free.unwrap_or(u32::MAX))
            }
        }
    };
}

id!(
    /// A duty of the project.
    DutyId
);
id!(
    /// A catch test of the project.
    CatchTestId
);
id!(
    /// A bar as it was when it was tested.
    TestedBarId
);
id!(
    /// A section of the bar.
    SectionId
);
id!(
    /// A row of the bar.
    RowId
);
id!(
    /// A routing of the project.
    RoutingId
);
id!(
    /// A placed part of one routing.
    PartId
);
id!(
    /// A run of one routing.
    RunId
);
id!(
    /// A row feed of one routing.
    FeedId
);

/// Anything of a routing that can be pointed at.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Subject {
    /// A placed part.
    Part(PartId),
    /// A hose.
    Run(RunId),
    /// A row feed.
    Feed(FeedId),
    /// A row's outlet.
    Row(RowId),
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_id_is_free_even_where_the_last_one_is_taken() {
        let next = |used: &[u32]| RowId::next(used.iter().map(|id| RowId(*id))).0;
        assert_eq!((next(&[]), next(&[3, 1]), next(&[u32::MAX, 1])), (1, 4, 2));
    }
}
