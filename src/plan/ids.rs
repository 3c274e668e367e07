//! Identities that survive renaming: a tag is what people read, an id is what the plan refers by.

use serde::{Deserialize, Serialize};

macro_rules! id {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(
            Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize,
        )]
        #[serde(transparent)]
        pub struct $name(pub u32);

        impl $name {
            /// The first id that none of these uses.
            pub fn next(used: impl IntoIterator<Item = Self>) -> Self {
                Self(used.into_iter().map(|id| id.0).max().map_or(1, |largest| largest.saturating_add(1)))
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
