//! The lines of the table of commands that plumb: manifolds on sections, hoses, rows and their tubes.

use super::names::{Command, CommandEntry, Menu, entry, plain, shift};

/// All commands that plumb, in the order of the menus.
pub(super) const PLUMBING: &[CommandEntry] = &[
    entry(
        Command::ManifoldPerSection,
        "One manifold per section",
        Menu::Place,
        Some(shift("M")),
        "Place a manifold with enough outlets near the middle of every section that has none",
    ),
    entry(
        Command::MirrorToRight,
        "Mirror left wing to the right",
        Menu::Place,
        None,
        "Plumb the right wing as the left one is; what is there now is replaced",
    ),
    entry(
        Command::MirrorToLeft,
        "Mirror right wing to the left",
        Menu::Place,
        None,
        "Plumb the left wing as the right one is; what is there now is replaced",
    ),
    entry(
        Command::JoinHose,
        "Join with a hose",
        Menu::Hoses,
        Some(plain("H")),
        "Click one port, waypoints if you like, then the other port",
    ),
    entry(
        Command::FollowFrame,
        "Follow the frame",
        Menu::Hoses,
        Some(shift("F")),
        "Lay the selected hoses and row feeds the shortest way along the frame and through the hinges",
    ),
    entry(
        Command::LayStraight,
        "Lay straight",
        Menu::Hoses,
        None,
        "Take all waypoints out of the selected hoses",
    ),
    entry(
        Command::SplitRun,
        "Split with a tee",
        Menu::Hoses,
        Some(shift("T")),
        "Click a hose where a tee is to sit",
    ),
    entry(
        Command::GiveRows,
        "Connect rows to a manifold",
        Menu::Rows,
        Some(plain("W")),
        "Click a manifold, then drag across rows",
    ),
    entry(
        Command::NearestManifold,
        "Rows to the nearest manifold",
        Menu::Rows,
        Some(plain("N")),
        "Connect the selected rows, those of the selected sections, or all rows to the nearest manifold with a free outlet",
    ),
    entry(
        Command::BalanceOutlets,
        "Balance rows by outlets",
        Menu::Rows,
        Some(shift("N")),
        "Share the same rows out from left to right by the number of outlets of each manifold",
    ),
    entry(
        Command::SwapOutlets,
        "Swap two rows",
        Menu::Rows,
        Some(plain("X")),
        "Exchange the outlets of the two selected rows",
    ),
    entry(
        Command::RenumberOutlets,
        "Outlets in order",
        Menu::Rows,
        Some(shift("W")),
        "Put the rows of the selected manifolds, or of all, on the outlets from left to right so that tubes don't cross",
    ),
    entry(
        Command::LeaveBlank,
        "Leave the outlet blank",
        Menu::Rows,
        Some(shift("B")),
        "Plug the outlet of the selected row; the row takes the next free one",
    ),
    entry(
        Command::PlugOpen,
        "Plug open outlets",
        Menu::Rows,
        Some(shift("O")),
        "Put a blanking plug on every outlet of the selected manifolds, or of all, that is not in use",
    ),
];
