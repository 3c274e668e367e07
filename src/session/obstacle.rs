//! What stands in the way of a command, in words.

use std::fmt;

use super::side::Side;

/// What has to be there before a command can be done.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Obstacle {
    /// No step to undo.
    NothingDone,
    /// No step to do again.
    NothingUndone,
    /// Nothing is selected.
    NothingSelected,
    /// No part is selected.
    NoPart,
    /// No tee is selected.
    NoTee,
    /// No manifold is placed.
    NoManifold,
    /// Every section with rows has a manifold.
    EverySectionHasManifold,
    /// A wing has nothing to mirror, or no wing opposite.
    NothingToMirror(Side),
    /// More rows are selected than one tube may feed.
    TooManyRows,
    /// The selected row is on no outlet.
    RowNotFed,
    /// The manifold of the selected row has no other outlet for it.
    NoOutletLeft,
    /// No hose is selected.
    NoHose,
    /// Neither a hose nor a row is selected.
    NoHoseOrRow,
    /// Not just two rows are selected.
    NotTwoRows,
    /// Fewer than two rows are selected.
    NoRows,
    /// No row is selected that shares a tube.
    NoSharedTube,
    /// Not just one row is selected.
    NotOneRow,
    /// Nothing was copied.
    NothingCopied,
    /// No gesture is going on.
    NothingGoingOn,
    /// Something is dragged: what would be saved is not settled.
    Held,
    /// There is no catch test.
    NoCatchTest,
    /// There is no duty but this one to look at.
    NoOtherDuty,
    /// A project keeps one duty.
    OnlyDuty,
    /// A project keeps one routing.
    OnlyRouting,
    /// There is no routing before.
    FirstRouting,
    /// There is no routing after.
    LastRouting,
    /// The routing has not what a condition would change, or no numbers to change.
    ConditionNotThere,
}

impl Obstacle {
    /// As people read it.
    pub const fn words(self) -> &'static str {
        match self {
            Self::NothingDone => "There is nothing to undo",
            Self::NothingUndone => "There is nothing to redo",
            Self::NothingSelected => "Select something first",
            Self::NoPart => "Select a part first",
            Self::NoTee => "Select a tee first",
            Self::NoManifold => "Place a manifold first",
            Self::EverySectionHasManifold => "Every section with rows has a manifold; delete one first",
            Self::NothingToMirror(Side::Left) => "Plumb the left wing first",
            Self::NothingToMirror(Side::Right) => "Plumb the right wing first",
            Self::TooManyRows => "Select fewer rows: one tube can't feed so many",
            Self::RowNotFed => "Connect the row to a manifold first",
            Self::NoOutletLeft => "The manifold has no other free outlet for the row",
            Self::NoHose => "Select a hose first",
            Self::NoHoseOrRow => "Select a hose or row first",
            Self::NotTwoRows => "Select two rows first",
            Self::NoRows => "Select two rows or more first",
            Self::NoSharedTube => "Select rows that share a tube first",
            Self::NotOneRow => "Select one row first",
            Self::NothingCopied => "Copy something first",
            Self::NothingGoingOn => "There is nothing to finish",
            Self::Held => "Release what is being dragged first, or press Esc to put it back",
            Self::NoCatchTest => "Begin a catch test first",
            Self::NoOtherDuty => "The project has one duty",
            Self::OnlyDuty => "A project keeps one duty at least",
            Self::OnlyRouting => "A project keeps one routing at least",
            Self::FirstRouting => "This is the first routing",
            Self::LastRouting => "This is the last routing",
            Self::ConditionNotThere => "This can't be tried on the routing as it is now",
        }
    }
}

impl fmt::Display for Obstacle {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str(self.words())
    }
}
