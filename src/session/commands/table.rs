//! The one table of commands: wording, keys, menu and explanation of each.

use super::catching_table::CATCHING;
use super::names::{Command, CommandEntry, Menu, ctrl, ctrl_shift, entry, plain, shift};
use super::plumbing_table::PLUMBING;
use crate::plan::PartKind;

/// The command that takes a part of a kind in hand: what the kind says of it.
const fn placing(kind: PartKind) -> CommandEntry {
    let own = &kind.facts().placing;
    entry(Command::Place(kind), own.label, Menu::Place, Some(plain(own.key)), own.about)
}

/// All commands in the order of the menus.
pub const TABLE: &[CommandEntry] = &ALL;

/// The parts of the table that are written down, those that place parts between the first two.
const COUNT: usize =
    BEFORE_PLACING.len() + PartKind::ALL.len() + PLUMBING.len() + CATCHING.len() + AFTER_PLUMBING.len();

const ALL: [CommandEntry; COUNT] = {
    let mut all = [BEFORE_PLACING[0]; COUNT];
    let placing_from = BEFORE_PLACING.len();
    let plumbing_from = placing_from + PartKind::ALL.len();
    let catching_from = plumbing_from + PLUMBING.len();
    let after_from = catching_from + CATCHING.len();
    let mut at = 0;
    while at < COUNT {
        all[at] = if at < placing_from {
            BEFORE_PLACING[at]
        } else if at < plumbing_from {
            placing(PartKind::ALL[at - placing_from])
        } else if at < catching_from {
            PLUMBING[at - plumbing_from]
        } else if at < after_from {
            CATCHING[at - catching_from]
        } else {
            AFTER_PLUMBING[at - after_from]
        };
        at += 1;
    }
    all
};

/// All commands before those that place a part, in the order of the menus.
const BEFORE_PLACING: &[CommandEntry] = &[
    entry(
        Command::New,
        "New…",
        Menu::File,
        Some(ctrl("N")),
        "Start a bar from its rows, sections and heights",
    ),
    entry(Command::Open, "Open…", Menu::File, Some(ctrl("O")), "Open a project file"),
    entry(
        Command::StartCard,
        "Start card",
        Menu::File,
        Some(shift("F1")),
        "Choose what to start from: a new bar, a recent file or one of the examples",
    ),
    entry(Command::Save, "Save", Menu::File, Some(ctrl("S")), "Save the project to its file"),
    entry(Command::SaveAs, "Save as…", Menu::File, Some(ctrl_shift("S")), "Save the project to another file"),
    entry(
        Command::Sheets,
        "Sheets",
        Menu::File,
        Some(ctrl("P")),
        "Show the papers to build from as they will print: layout, schematic, lists, steps, commissioning",
    ),
    entry(
        Command::CustomerSheet,
        "Customer sheet",
        Menu::File,
        Some(ctrl_shift("K")),
        "Show the one page for the customer: the bar, its parts, pressures, evenness, and whether it is released",
    ),
    entry(
        Command::ExportSheets,
        "Export sheets…",
        Menu::File,
        Some(ctrl("E")),
        "Write all pages or one as PDF, SVG, DXF or PNG",
    ),
    entry(
        Command::ExportList,
        "Export a list…",
        Menu::File,
        Some(ctrl_shift("E")),
        "Write parts, fittings, cuts or the commissioning sheet for a spreadsheet (CSV, XLSX)",
    ),
    entry(
        Command::Picture,
        "Picture of the drawing…",
        Menu::File,
        Some(ctrl_shift("P")),
        "Write the drawing as shown, with strip and legend, as PNG of a chosen width",
    ),
    entry(Command::Quit, "Quit", Menu::File, Some(ctrl("Q")), "Close the window"),
    entry(
        Command::EditBar,
        "Change the bar…",
        Menu::Project,
        Some(ctrl("B")),
        "Change rows, sections, ranks and heights; plumbing that still fits stays",
    ),
    entry(
        Command::ImportRows,
        "Import row positions…",
        Menu::Project,
        Some(ctrl("I")),
        "Take measured row positions from a table (CSV)",
    ),
    entry(
        Command::ReadCutLengths,
        "Read lengths as cut…",
        Menu::Project,
        Some(ctrl_shift("O")),
        "Take the lengths of a cut list that was filled in (CSV) as measured ones; the revision rises",
    ),
    entry(
        Command::Settings,
        "Liquid, pump and limits…",
        Menu::Project,
        Some(ctrl("Comma")),
        "Change the liquid, rate and speeds, the pump, limits, and the title block",
    ),
    entry(
        Command::NewDuty,
        "New duty",
        Menu::Project,
        Some(ctrl_shift("D")),
        "Add a copy of this duty, to give it another liquid, rate or speeds",
    ),
    entry(
        Command::NextDuty,
        "Next duty",
        Menu::Project,
        Some(shift("PageDown")),
        "Show the bar at the duty after this one, after the last at the first",
    ),
    entry(
        Command::RemoveDuty,
        "Remove the duty",
        Menu::Project,
        Some(shift("Backspace")),
        "Remove this duty; undo brings it back",
    ),
    entry(
        Command::Undo,
        "Undo",
        Menu::Edit,
        Some(ctrl("Z")),
        "Take the last step back; during a gesture, cancel it",
    ),
    entry(
        Command::Redo,
        "Redo",
        Menu::Edit,
        Some(ctrl_shift("Z")),
        "Do the undone step again; Ctrl+Y does too",
    ),
    entry(
        Command::Cut,
        "Cut",
        Menu::Edit,
        Some(ctrl("X")),
        "Copy the selected parts and what joins them, and remove what is selected",
    ),
    entry(
        Command::Copy,
        "Copy",
        Menu::Edit,
        Some(ctrl("C")),
        "Copy the selected parts with the hoses and row feeds between them",
    ),
    entry(
        Command::Paste,
        "Paste",
        Menu::Edit,
        Some(ctrl("V")),
        "Attach the copy to the pointer; click where it goes",
    ),
    entry(
        Command::Duplicate,
        "Duplicate",
        Menu::Edit,
        Some(ctrl("D")),
        "Put a copy beside the selected parts",
    ),
    entry(
        Command::Delete,
        "Delete",
        Menu::Edit,
        Some(plain("Delete")),
        "Remove what is selected; two hoses of one kind at a tee or valve become one, others are left with loose ends",
    ),
    entry(
        Command::Turn,
        "Turn by 90°",
        Menu::Edit,
        Some(plain("R")),
        "Turn the selected parts, or the part to be placed, counter-clockwise",
    ),
    entry(
        Command::TurnBack,
        "Turn back by 90°",
        Menu::Edit,
        Some(shift("R")),
        "Turn the selected parts, or the part to be placed, clockwise",
    ),
    entry(
        Command::BranchOver,
        "Branch to the other side",
        Menu::Edit,
        Some(plain("J")),
        "Turn the selected tees by half; the hoses of their runs stay where they are",
    ),
    entry(
        Command::NudgeLeft,
        "Move left",
        Menu::Edit,
        Some(plain("ArrowLeft")),
        "Move the selected parts 1 cm to the left",
    ),
    entry(
        Command::NudgeRight,
        "Move right",
        Menu::Edit,
        Some(plain("ArrowRight")),
        "Move the selected parts 1 cm to the right",
    ),
    entry(
        Command::NudgeForward,
        "Move forward",
        Menu::Edit,
        Some(plain("ArrowUp")),
        "Move the selected parts 1 cm forward",
    ),
    entry(
        Command::NudgeBack,
        "Move back",
        Menu::Edit,
        Some(plain("ArrowDown")),
        "Move the selected parts 1 cm back",
    ),
    entry(
        Command::NudgeLeftFar,
        "Move far left",
        Menu::Edit,
        Some(shift("ArrowLeft")),
        "Move the selected parts 10 cm to the left",
    ),
    entry(
        Command::NudgeRightFar,
        "Move far right",
        Menu::Edit,
        Some(shift("ArrowRight")),
        "Move the selected parts 10 cm to the right",
    ),
    entry(
        Command::NudgeForwardFar,
        "Move far forward",
        Menu::Edit,
        Some(shift("ArrowUp")),
        "Move the selected parts 10 cm forward",
    ),
    entry(
        Command::NudgeBackFar,
        "Move far back",
        Menu::Edit,
        Some(shift("ArrowDown")),
        "Move the selected parts 10 cm back",
    ),
    entry(
        Command::Confirm,
        "Finish",
        Menu::Edit,
        Some(plain("Enter")),
        "End the gesture as far as it has gone; a hose keeps a loose end",
    ),
    entry(
        Command::Cancel,
        "Cancel",
        Menu::Edit,
        Some(plain("Escape")),
        "Step back in the gesture, leave the tool, then the selection",
    ),
    entry(
        Command::SelectAll,
        "Select all",
        Menu::Selection,
        Some(ctrl("A")),
        "Select all parts, hoses and row feeds",
    ),
    entry(
        Command::SelectParts,
        "Select all parts",
        Menu::Selection,
        Some(plain("A")),
        "Select every part of the routing",
    ),
    entry(
        Command::SelectRuns,
        "Select all hoses",
        Menu::Selection,
        Some(shift("A")),
        "Select every hose of the routing",
    ),
    entry(
        Command::SelectFeeds,
        "Select all row feeds",
        Menu::Selection,
        Some(plain("U")),
        "Select every row feed of the routing",
    ),
    entry(
        Command::SelectRows,
        "Select all rows",
        Menu::Selection,
        Some(shift("U")),
        "Select every row of the bar",
    ),
    entry(
        Command::SelectSameKind,
        "Select the same kind",
        Menu::Selection,
        Some(ctrl_shift("A")),
        "Select everything of the kinds that are selected: all tees, all hoses, all rows",
    ),
    entry(
        Command::SelectSection,
        "Select the section",
        Menu::Selection,
        Some(plain("E")),
        "Select everything on the sections of what is selected",
    ),
    entry(
        Command::SelectDownstream,
        "Select downstream",
        Menu::Selection,
        Some(plain("D")),
        "Select everything that the selected parts supply",
    ),
    entry(
        Command::SelectBundle,
        "Select the bundle at a hinge",
        Menu::Selection,
        Some(ctrl_shift("B")),
        "Select all hoses or row feeds of the same stock over the hinges that the selected ones cross",
    ),
    entry(Command::FitToWindow, "Fit to window", Menu::View, Some(plain("F")), "Show the whole bar"),
    entry(
        Command::FitSelection,
        "Fit the selection",
        Menu::View,
        Some(plain("Z")),
        "Show what is selected as large as it fits",
    ),
    entry(
        Command::FitNextSection,
        "Fit the next section",
        Menu::View,
        Some(shift("Z")),
        "Show one section after the other, from left to right",
    ),
    entry(Command::ZoomIn, "Zoom in", Menu::View, Some(ctrl("Plus")), "Show it larger"),
    entry(Command::ZoomOut, "Zoom out", Menu::View, Some(ctrl("Minus")), "Show it smaller"),
    entry(Command::PanLeft, "Look left", Menu::View, Some(ctrl("ArrowLeft")), "Look further left"),
    entry(Command::PanRight, "Look right", Menu::View, Some(ctrl("ArrowRight")), "Look further right"),
    entry(Command::PanForward, "Look forward", Menu::View, Some(ctrl("ArrowUp")), "Look further forward"),
    entry(Command::PanBack, "Look back", Menu::View, Some(ctrl("ArrowDown")), "Look further back"),
    entry(
        Command::SwitchColours,
        "Deviation or pressure",
        Menu::View,
        Some(plain("P")),
        "Colour by deviation from target or by gauge pressure",
    ),
    entry(
        Command::SwitchScatter,
        "Scatter of parts",
        Menu::View,
        Some(shift("C")),
        "Show behind each row of the strip what parts as they are sold and cut may add to it",
    ),
    entry(
        Command::Measure,
        "Measure a distance",
        Menu::View,
        Some(plain("L")),
        "Drag from one place to another",
    ),
    entry(
        Command::SwitchSnapping,
        "Snap or place freely",
        Menu::View,
        Some(shift("S")),
        "Switch snapping to ports, frame, rows and grid",
    ),
    entry(
        Command::Tables,
        "Tables",
        Menu::View,
        Some(ctrl("T")),
        "Show parts, hoses, row feeds and rows as tables below the drawing",
    ),
    entry(
        Command::SpeedPlot,
        "Speed range",
        Menu::View,
        Some(shift("P")),
        "Plot pressures and evenness over the whole range of ground speeds below the drawing",
    ),
    entry(
        Command::Studies,
        "Studies",
        Menu::View,
        Some(plain("F9")),
        "Choose metering, equalise rows, see where the pressure goes and what other conditions do, below the drawing",
    ),
    entry(
        Command::FoldedBar,
        "Folded bar",
        Menu::View,
        Some(plain("F10")),
        "Fold the bar from working to transport position, and see what its hoses do",
    ),
    entry(
        Command::SwitchUnits,
        "Metric or US customary",
        Menu::View,
        Some(ctrl("U")),
        "Switch the units shown",
    ),
    entry(Command::SwitchTheme, "Light or dark", Menu::View, Some(ctrl("L")), "Switch the colours"),
    entry(
        Command::SwitchBands,
        "One band or two",
        Menu::View,
        Some(plain("F8")),
        "Show a wide bar in two bands, its left half above its right half, or in one",
    ),
    entry(
        Command::FoldTools,
        "Fold or show the tools",
        Menu::View,
        Some(plain("F6")),
        "Make room for the drawing: the panel of tools at the left",
    ),
    entry(
        Command::FoldDetails,
        "Fold or show the details",
        Menu::View,
        Some(plain("F7")),
        "Make room for the drawing: the panel of details at the right",
    ),
    entry(
        Command::Select,
        "Select and move",
        Menu::Place,
        Some(plain("S")),
        "Select parts and hoses, drag parts",
    ),
];

/// All commands behind those that plumb, in the order of the menus.
const AFTER_PLUMBING: &[CommandEntry] = &[
    entry(
        Command::Compare,
        "Compare routings",
        Menu::Routing,
        Some(plain("C")),
        "Show two routings side by side, with what differs",
    ),
    entry(
        Command::NewRouting,
        "New routing",
        Menu::Routing,
        Some(shift("K")),
        "Add a routing with nothing placed",
    ),
    entry(
        Command::CopyRouting,
        "Copy the routing",
        Menu::Routing,
        Some(shift("D")),
        "Add a copy of this routing to change and compare",
    ),
    entry(
        Command::RemoveRouting,
        "Delete the routing",
        Menu::Routing,
        Some(shift("Delete")),
        "Remove this routing; undo brings it back",
    ),
    entry(
        Command::RoutingEarlier,
        "Move the routing left",
        Menu::Routing,
        Some(ctrl("PageUp")),
        "Move this routing one place towards the first",
    ),
    entry(
        Command::RoutingLater,
        "Move the routing right",
        Menu::Routing,
        Some(ctrl("PageDown")),
        "Move this routing one place towards the last",
    ),
    entry(
        Command::PreviousRouting,
        "Previous routing",
        Menu::Routing,
        Some(plain("PageUp")),
        "Show the routing before this one; among the sheets, the page before",
    ),
    entry(
        Command::NextRouting,
        "Next routing",
        Menu::Routing,
        Some(plain("PageDown")),
        "Show the routing after this one; among the sheets, the next page",
    ),
    entry(
        Command::CommandList,
        "Find a command…",
        Menu::Help,
        Some(ctrl("K")),
        "Type a few letters of what you want to do",
    ),
    entry(
        Command::Catalogue,
        "Catalogue…",
        Menu::Project,
        Some(ctrl("G")),
        "Edit descriptions, part numbers and prices; compare with another catalogue; export",
    ),
    entry(
        Command::AddedLines,
        "Lines added to the parts list…",
        Menu::Project,
        Some(ctrl_shift("G")),
        "Add what no part of the plan stands for to every parts list: brackets, a tank valve, ties",
    ),
    entry(
        Command::TakeAddedLines,
        "Take added lines of another project…",
        Menu::Project,
        Some(ctrl_shift("T")),
        "Copy the lines that another project adds to its parts lists; those that are here stay as they are",
    ),
    entry(
        Command::Help,
        "Guide and keys",
        Menu::Help,
        Some(plain("F1")),
        "Read how everything is used, the keys of all commands, and what can hurt people",
    ),
    entry(
        Command::Notices,
        "Third-party notices",
        Menu::Help,
        Some(ctrl_shift("F1")),
        "Show the licences of all that the program contains of others",
    ),
];

impl Command {
    /// Its line of the table.
    pub fn entry(self) -> Option<&'static CommandEntry> {
        TABLE.iter().find(|entry| entry.command == self)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_two_commands_share_keys_or_wording() {
        for (index, one) in TABLE.iter().enumerate() {
            for other in &TABLE[index + 1..] {
                let clash = one.keys.is_some() && one.keys == other.keys;
                assert!(!clash, "{} and {}", one.label, other.label);
                assert_ne!(one.label, other.label);
                assert_ne!(one.command, other.command);
            }
            assert_eq!(one.command.entry().unwrap().label, one.label);
        }
    }
}
