//! The lines of the table of commands about catch tests.

use super::names::{Command, CommandEntry, Menu, ctrl, ctrl_shift, entry, plain};

/// All commands about catch tests, in the order of their menu.
pub(super) const CATCHING: &[CommandEntry] = &[
    entry(
        Command::CatchTests,
        "Catch tests",
        Menu::Project,
        Some(plain("F4")),
        "Take down what was caught under the rows; see what it says, what explains it, and what to look at next",
    ),
    entry(
        Command::NewCatchTest,
        "New catch test",
        Menu::Project,
        Some(ctrl_shift("N")),
        "Begin a catch test of this routing as it is now, at the speed that is looked at",
    ),
    entry(
        Command::RepeatCatchTest,
        "Catch again",
        Menu::Project,
        Some(ctrl_shift("R")),
        "Begin another catch test of the same bar under the conditions of the one in hand",
    ),
    entry(
        Command::PasteCatches,
        "Paste catches",
        Menu::Project,
        Some(ctrl("J")),
        "Take down amounts copied in a spreadsheet: rows and amounts, or amounts alone from the row in hand on",
    ),
    entry(
        Command::ReadCatches,
        "Read catches…",
        Menu::Project,
        Some(ctrl_shift("I")),
        "Take down amounts from a table (CSV), or from a commissioning sheet that was filled in (CSV, XLSX)",
    ),
    entry(
        Command::CatchSheet,
        "Sheet of the catch test",
        Menu::Project,
        Some(ctrl_shift("J")),
        "Show the paper of the catch test as it will print: what was read at each row, the verdict and what explains it",
    ),
    entry(
        Command::RemoveCatchTest,
        "Remove the catch test",
        Menu::Project,
        Some(ctrl_shift("Delete")),
        "Remove the catch test in hand; undo brings it back",
    ),
];
