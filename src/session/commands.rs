//! The one table of commands: wording, keys and menu of everything that can be asked for, what stands in the way of
//! each, and doing those that need no window.

use super::mirror::Side;
use super::placing::{LARGE_STEP, SMALL_STEP};
use super::rows::Share;
use super::{Gesture, Session, Tool};
use crate::plan::{Edit, PartKind, Subject};
use crate::quantities::UnitSystem;

/// Everything a menu, a key or a button can ask for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Command {
    /// Start over with the generic bar.
    New,
    /// Open a file.
    Open,
    /// Save to the file it came from.
    Save,
    /// Save to another file.
    SaveAs,
    /// Close the window.
    Quit,
    /// Take the last step back.
    Undo,
    /// Do it again.
    Redo,
    /// Remove what is selected.
    Delete,
    /// Leave the tool or the gesture, then the selection.
    Cancel,
    /// Show the whole bar.
    FitToWindow,
    /// Show what is selected.
    FitSelection,
    /// Show the next section to the right.
    FitNextSection,
    /// Larger.
    ZoomIn,
    /// Smaller.
    ZoomOut,
    /// Look further left.
    PanLeft,
    /// Look further right.
    PanRight,
    /// Look further forward.
    PanForward,
    /// Look further back.
    PanBack,
    /// Colours for deviation or for pressure.
    SwitchColours,
    /// Metric or US customary.
    SwitchUnits,
    /// Light or dark.
    SwitchTheme,
    /// Select and move.
    Select,
    /// Place an inlet filter.
    PlaceFilter,
    /// Place a tee.
    PlaceTee,
    /// Place a section valve.
    PlaceValve,
    /// Place a manifold.
    PlaceManifold,
    /// Place a gauge.
    PlaceGauge,
    /// Place a blanking plug.
    PlacePlug,
    /// Join two ports with a hose.
    JoinHose,
    /// Give rows to a manifold.
    GiveRows,
    /// Turn the selected parts.
    Turn,
    /// End the gesture as far as it has gone.
    Confirm,
    /// Copy what is selected and remove it.
    Cut,
    /// Keep a copy of the selected parts and of what joins them.
    Copy,
    /// Hang the copy on the pointer.
    Paste,
    /// Put a copy beside the selected parts.
    Duplicate,
    /// Turn the selected parts the other way.
    TurnBack,
    /// Put the branch of the selected tees on the other side.
    BranchOver,
    /// Move the selected parts left by a small step.
    NudgeLeft,
    /// Right by a small step.
    NudgeRight,
    /// Forward by a small step.
    NudgeForward,
    /// Back by a small step.
    NudgeBack,
    /// Left by a large step.
    NudgeLeftFar,
    /// Right by a large step.
    NudgeRightFar,
    /// Forward by a large step.
    NudgeForwardFar,
    /// Back by a large step.
    NudgeBackFar,
    /// Select everything of the routing.
    SelectAll,
    /// Select all parts.
    SelectParts,
    /// Select all hoses.
    SelectRuns,
    /// Select all row feeds.
    SelectFeeds,
    /// Select all rows.
    SelectRows,
    /// Select everything of the selected kinds.
    SelectSameKind,
    /// Select everything on the sections of what is selected.
    SelectSection,
    /// Select everything the selected parts supply.
    SelectDownstream,
    /// Snap, or place freely.
    SwitchSnapping,
    /// Place a manifold on every section without one.
    ManifoldPerSection,
    /// Plumb the right wing as the left one is.
    MirrorToRight,
    /// Plumb the left wing as the right one is.
    MirrorToLeft,
    /// Lay the selected hoses along the frame.
    FollowFrame,
    /// Take the waypoints out of the selected hoses.
    LayStraight,
    /// Split a hose with a tee.
    SplitRun,
    /// Give rows to the nearest manifolds.
    NearestManifold,
    /// Share rows out by the number of outlets.
    BalanceOutlets,
    /// Exchange the outlets of two rows.
    SwapOutlets,
    /// Put the rows of a manifold on its outlets in order.
    RenumberOutlets,
    /// Close the outlet of a row; the row takes the next one.
    LeaveBlank,
    /// Two routings side by side.
    Compare,
    /// Close every outlet that nothing sits on.
    PlugOpen,
    /// Add an empty routing.
    NewRouting,
    /// Add a copy of the routing in hand.
    CopyRouting,
    /// Delete the routing in hand.
    RemoveRouting,
    /// Move the routing in hand one place towards the first.
    RoutingEarlier,
    /// Move it one place towards the last.
    RoutingLater,
    /// Show the routing before.
    PreviousRouting,
    /// Show the routing after.
    NextRouting,
    /// Measure a distance.
    Measure,
    /// Lay the bar out anew.
    EditBar,
    /// Take row positions from a table.
    ImportRows,
    /// Liquid, what is asked, supply, limits and title block.
    Settings,
    /// Parts, hoses, row feeds and rows as tables.
    Tables,
    /// Pressures and evenness over the range of ground speeds.
    SpeedPlot,
    /// Find a command by its wording.
    CommandList,
    /// The catalogue as a table.
    Catalogue,
    /// The papers as they will print.
    Sheets,
    /// Write the papers to files.
    ExportSheets,
    /// Write a list to a file.
    ExportList,
    /// Write the drawing as it stands to a picture.
    Picture,
    /// List keys and cautions.
    Help,
    /// Licences of what the program contains of others.
    Notices,
}

/// Keys of a command, in egui's names of keys.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Keys {
    /// With Ctrl (Command on a Mac).
    pub ctrl: bool,
    /// With Shift.
    pub shift: bool,
    /// Name of the key.
    pub key: &'static str,
}

/// Which menu a command stands in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Menu {
    /// Projects and their files.
    File,
    /// The bar and what is asked of it.
    Project,
    /// Changes.
    Edit,
    /// What is selected.
    Selection,
    /// What is shown.
    View,
    /// Parts on the bar.
    Place,
    /// Hoses.
    Hoses,
    /// Rows and their outlets.
    Rows,
    /// Whole routings.
    Routing,
    /// Help.
    Help,
}

impl Menu {
    /// All, from left to right.
    pub const ALL: [Self; 10] = [
        Self::File,
        Self::Project,
        Self::Edit,
        Self::Selection,
        Self::View,
        Self::Place,
        Self::Hoses,
        Self::Rows,
        Self::Routing,
        Self::Help,
    ];

    /// Its wording.
    pub const fn label(self) -> &'static str {
        match self {
            Self::File => "File",
            Self::Project => "Project",
            Self::Edit => "Edit",
            Self::Selection => "Selection",
            Self::View => "View",
            Self::Place => "Place",
            Self::Hoses => "Hoses",
            Self::Rows => "Rows",
            Self::Routing => "Routing",
            Self::Help => "Help",
        }
    }
}

/// One line of the table.
#[derive(Debug, Clone, Copy)]
pub struct Entry {
    /// The command.
    pub command: Command,
    /// Its wording; "…" when more is asked.
    pub label: &'static str,
    /// Its menu.
    pub menu: Menu,
    /// Its keys, if it has any.
    pub keys: Option<Keys>,
    /// What it does, in a sentence.
    pub about: &'static str,
}

const fn plain(key: &'static str) -> Keys {
    Keys { ctrl: false, shift: false, key }
}

const fn ctrl(key: &'static str) -> Keys {
    Keys { ctrl: true, shift: false, key }
}

const fn shift(key: &'static str) -> Keys {
    Keys { ctrl: false, shift: true, key }
}

const fn ctrl_shift(key: &'static str) -> Keys {
    Keys { ctrl: true, shift: true, key }
}

const fn entry(
    command: Command,
    label: &'static str,
    menu: Menu,
    keys: Option<Keys>,
    about: &'static str,
) -> Entry {
    Entry { command, label, menu, keys, about }
}

/// All commands in the order of the menus.
pub const TABLE: &[Entry] = &[
    entry(
        Command::New,
        "New…",
        Menu::File,
        Some(ctrl("N")),
        "Start a bar from its rows, sections and heights",
    ),
    entry(Command::Open, "Open…", Menu::File, Some(ctrl("O")), "Open a project file"),
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
        "Write the drawing as it stands, with strip and legend, as PNG of a chosen width",
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
        Command::Settings,
        "Liquid, supply and limits…",
        Menu::Project,
        Some(ctrl("Comma")),
        "Change the liquid, what is asked, pump and supply, limits, and the title block",
    ),
    entry(
        Command::Undo,
        "Undo",
        Menu::Edit,
        Some(ctrl("Z")),
        "Take the last step back; during a gesture, cancel it",
    ),
    entry(Command::Redo, "Redo", Menu::Edit, Some(ctrl_shift("Z")), "Do the undone step again"),
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
        "Hang the copy on the pointer; click where it goes",
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
        "Remove what is selected; two hoses of one kind at a tee or valve become one, others keep loose ends",
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
        "End the gesture as far as it has gone; a hose ends loose",
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
        None,
        "Select every part of the routing",
    ),
    entry(Command::SelectRuns, "Select all hoses", Menu::Selection, None, "Select every hose of the routing"),
    entry(
        Command::SelectFeeds,
        "Select all row feeds",
        Menu::Selection,
        None,
        "Select every row feed of the routing",
    ),
    entry(Command::SelectRows, "Select all rows", Menu::Selection, None, "Select every row of the bar"),
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
        Command::SwitchUnits,
        "Metric or US customary",
        Menu::View,
        Some(ctrl("U")),
        "Switch the units shown",
    ),
    entry(Command::SwitchTheme, "Light or dark", Menu::View, Some(ctrl("L")), "Switch the colours"),
    entry(
        Command::Select,
        "Select and move",
        Menu::Place,
        Some(plain("S")),
        "Select parts and hoses, drag parts",
    ),
    entry(Command::PlaceFilter, "Place inlet filter", Menu::Place, Some(plain("I")), "Click where it goes"),
    entry(Command::PlaceTee, "Place tee", Menu::Place, Some(plain("T")), "Click where it goes"),
    entry(Command::PlaceValve, "Place section valve", Menu::Place, Some(plain("V")), "Click where it goes"),
    entry(Command::PlaceManifold, "Place manifold", Menu::Place, Some(plain("M")), "Click where it goes"),
    entry(
        Command::PlaceGauge,
        "Place gauge",
        Menu::Place,
        Some(plain("G")),
        "Click the port it is screwed onto, or a free place",
    ),
    entry(
        Command::PlacePlug,
        "Place blanking plug",
        Menu::Place,
        Some(plain("B")),
        "Click the port it closes; a row on that outlet takes the next one",
    ),
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
        "Give rows to a manifold",
        Menu::Rows,
        Some(plain("W")),
        "Click a manifold, then drag across rows",
    ),
    entry(
        Command::NearestManifold,
        "Rows to the nearest manifold",
        Menu::Rows,
        Some(plain("N")),
        "Give the selected rows, those of the selected sections, or all rows to the nearest manifold with an outlet free",
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
        Command::Compare,
        "Compare routings",
        Menu::Routing,
        Some(plain("C")),
        "Show two routings side by side, with what differs",
    ),
    entry(
        Command::PlugOpen,
        "Plug open outlets",
        Menu::Rows,
        Some(shift("O")),
        "Put a blanking plug on every outlet of the selected manifolds, or of all, that nothing sits on",
    ),
    entry(Command::NewRouting, "New routing", Menu::Routing, None, "Add a routing with nothing placed"),
    entry(
        Command::CopyRouting,
        "Copy the routing",
        Menu::Routing,
        None,
        "Add a copy of this routing to change and compare",
    ),
    entry(
        Command::RemoveRouting,
        "Delete the routing",
        Menu::Routing,
        None,
        "Remove this routing; undo brings it back",
    ),
    entry(
        Command::RoutingEarlier,
        "Move the routing left",
        Menu::Routing,
        None,
        "Move this routing one place towards the first",
    ),
    entry(
        Command::RoutingLater,
        "Move the routing right",
        Menu::Routing,
        None,
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
        Command::Help,
        "Keys and cautions",
        Menu::Help,
        Some(plain("F1")),
        "List the keys, and what can hurt people",
    ),
    entry(
        Command::Notices,
        "Third-party notices",
        Menu::Help,
        None,
        "Show the licences of all that the program contains of others",
    ),
];

impl Command {
    /// Its line of the table.
    pub fn entry(self) -> Option<&'static Entry> {
        TABLE.iter().find(|entry| entry.command == self)
    }

    /// The one that takes a part of a kind in hand.
    pub const fn that_places(kind: PartKind) -> Self {
        match kind {
            PartKind::InletFilter => Self::PlaceFilter,
            PartKind::Tee => Self::PlaceTee,
            PartKind::SectionValve => Self::PlaceValve,
            PartKind::Manifold => Self::PlaceManifold,
            PartKind::Gauge => Self::PlaceGauge,
            PartKind::BlankingPlug => Self::PlacePlug,
        }
    }
}

impl Entry {
    /// Its keys as written beside it.
    pub fn keys_text(&self) -> String {
        self.keys.map(Keys::text).unwrap_or_default()
    }
}

/// The commands whose wording, menu or explanation holds these letters in this order; the best first.
pub fn search(typed: &str) -> Vec<&'static Entry> {
    let typed: Vec<char> = typed.to_lowercase().chars().filter(|c| !c.is_whitespace()).collect();
    let mut found: Vec<(u32, &Entry)> = TABLE
        .iter()
        .filter_map(|entry| {
            let by_label = distance(&typed, entry.label);
            // A whole beginning of a word in the explanation says more than letters scattered over a wording.
            let whole: String = typed.iter().collect();
            let about = entry.about.to_lowercase();
            let begins = |word: &str| typed.len() > 2 && word.starts_with(&whole);
            let by_about = about.split(|c: char| !c.is_alphanumeric()).any(begins).then_some(12);
            let found = by_label.into_iter().chain(by_about).min();
            Some((found?, entry))
        })
        .collect();
    // Stable: equals stay in the order of the menus.
    found.sort_by_key(|(distance, _)| *distance);
    found.into_iter().map(|(_, entry)| entry).collect()
}

/// How far letters typed are from a wording that holds them in order; none if it does not. Letters side by side and
/// at the start of a word count as near.
fn distance(typed: &[char], label: &str) -> Option<u32> {
    let label: Vec<char> = label.to_lowercase().chars().collect();
    // The best over every place to start from: the first may be an unlucky one.
    (0..label.len().max(1))
        .filter_map(|start| {
            let (mut at, mut far) = (start, if start == 0 { 0 } else { 2 });
            if start > 0 && label[start - 1].is_alphanumeric() {
                far += 20;
            }
            for (index, letter) in typed.iter().enumerate() {
                let gap = label.get(at..)?.iter().position(|c| c == letter)?;
                let word_start = label[..at + gap].last().is_none_or(|before| !before.is_alphanumeric());
                if index == 0 && gap > 0 {
                    return None;
                }
                far += if gap == 0 || word_start { gap.min(1) as u32 } else { 10 + gap as u32 };
                at += gap + 1;
            }
            Some(far)
        })
        .min()
}

impl Keys {
    /// As written beside a command.
    pub fn text(self) -> String {
        let key = match self.key {
            "Plus" => "+",
            "Minus" => "−",
            "Comma" => ",",
            "Escape" => "Esc",
            "ArrowLeft" => "←",
            "ArrowRight" => "→",
            "ArrowUp" => "↑",
            "ArrowDown" => "↓",
            "PageUp" => "Page up",
            "PageDown" => "Page down",
            key => key,
        };
        format!("{}{}{key}", if self.ctrl { "Ctrl+" } else { "" }, if self.shift { "Shift+" } else { "" })
    }
}

/// Why a command can't be done now, in words; none if it can.
pub fn obstacle(session: &Session, command: Command) -> Option<&'static str> {
    let runs = || session.selection.iter().any(|one| matches!(one, Subject::Run(_)));
    let parts = || session.selection.iter().any(|one| matches!(one, Subject::Part(_)));
    let place = matches!(session.tool, Tool::Place(_) | Tool::Paste);
    let last = session.project().routings.len().saturating_sub(1);
    let unless = |holds: bool, why: &'static str| (!holds).then_some(why);
    match command {
        Command::Undo => {
            let open = !matches!(session.gesture(), Gesture::None | Gesture::Measuring { .. });
            unless(open || session.undo_name().is_some(), "Nothing was done yet")
        }
        Command::Redo => unless(session.redo_name().is_some(), "Nothing was undone"),
        Command::Delete => unless(!session.selection.is_empty(), "Select something first"),
        Command::Cut
        | Command::Copy
        | Command::Duplicate
        | Command::NudgeLeft
        | Command::NudgeRight
        | Command::NudgeForward
        | Command::NudgeBack
        | Command::NudgeLeftFar
        | Command::NudgeRightFar
        | Command::NudgeForwardFar
        | Command::NudgeBackFar
        | Command::SelectDownstream => unless(parts(), "Select a part first"),
        Command::BranchOver => {
            let tee = session.selected_parts().iter().any(|id| session.is_tee(*id));
            unless(tee, "Select a tee first")
        }
        Command::Turn | Command::TurnBack => unless(place || parts(), "Select a part first"),
        Command::Paste => unless(!session.copied().is_empty(), "Copy something first"),
        Command::SelectSameKind | Command::SelectSection => {
            unless(!session.selection.is_empty(), "Select something first")
        }
        Command::Confirm => unless(*session.gesture() != Gesture::None, "Nothing is going on"),
        Command::FollowFrame => {
            unless(runs() || !session.selected_feeds().is_empty(), "Select a hose or row first")
        }
        Command::LayStraight => unless(runs(), "Select a hose first"),
        Command::SwapOutlets => unless(session.selected_rows().len() == 2, "Select two rows first"),
        Command::LeaveBlank => unless(session.selected_rows().len() == 1, "Select one row first"),
        Command::RemoveRouting => unless(last > 0, "A project keeps one routing at least"),
        Command::RoutingEarlier | Command::PreviousRouting => {
            unless(session.routing_place() > 0, "This is the first routing")
        }
        Command::RoutingLater | Command::NextRouting => {
            unless(session.routing_place() < last, "This is the last routing")
        }
        _ => None,
    }
}

/// Does a command that needs no window; false if the window has to. What is refused is in the session's message.
pub fn run(session: &mut Session, command: Command) -> bool {
    if let Some(why) = obstacle(session, command) {
        session.message = Some(why.to_owned());
        return true;
    }
    let routing = session.routing().id;
    let place = session.routing_place();
    let (small, large) = (SMALL_STEP.si(), LARGE_STEP.si());
    // Refusals are in the message already.
    match command {
        Command::Undo => session.undo(),
        Command::Redo => session.redo(),
        Command::Delete => session.delete_selection(),
        Command::Cancel => session.cancel(),
        Command::Confirm => session.finish(),
        Command::Cut => {
            if session.copy_selection().is_ok() {
                session.delete_selection();
            }
        }
        Command::Copy => drop(session.copy_selection()),
        Command::Paste => drop(session.paste()),
        Command::Duplicate => drop(session.duplicate()),
        Command::Turn => session.turn_by_quarters(1),
        Command::TurnBack => session.turn_by_quarters(-1),
        Command::BranchOver => drop(session.branch_to_other_side(&session.selected_parts())),
        Command::NudgeLeft => session.nudge(-small, 0.0),
        Command::NudgeRight => session.nudge(small, 0.0),
        Command::NudgeForward => session.nudge(0.0, small),
        Command::NudgeBack => session.nudge(0.0, -small),
        Command::NudgeLeftFar => session.nudge(-large, 0.0),
        Command::NudgeRightFar => session.nudge(large, 0.0),
        Command::NudgeForwardFar => session.nudge(0.0, large),
        Command::NudgeBackFar => session.nudge(0.0, -large),
        Command::SelectAll => session.select_all(),
        Command::SelectParts => session.select_parts(|_| true),
        Command::SelectRuns => session.select_runs(),
        Command::SelectFeeds => session.select_feeds(),
        Command::SelectRows => session.select_rows(),
        Command::SelectSameKind => session.select_same_kind(),
        Command::SelectSection => session.select_sections(),
        Command::SelectDownstream => session.select_downstream(),
        Command::SwitchSnapping => session.snapping.on = !session.snapping.on,
        Command::SwitchUnits => {
            let units = match session.project().units {
                UnitSystem::Metric => UnitSystem::UsCustomary,
                UnitSystem::UsCustomary => UnitSystem::Metric,
            };
            drop(session.edit("Switch units", [Edit::SetUnits(units)]));
        }
        Command::Measure => session.take(Tool::Measure),
        Command::Select => session.take(Tool::Select),
        Command::PlaceFilter => take_part(session, PartKind::InletFilter),
        Command::PlaceTee => take_part(session, PartKind::Tee),
        Command::PlaceValve => take_part(session, PartKind::SectionValve),
        Command::PlaceManifold => take_part(session, PartKind::Manifold),
        Command::PlaceGauge => take_part(session, PartKind::Gauge),
        Command::PlacePlug => take_part(session, PartKind::BlankingPlug),
        Command::ManifoldPerSection => drop(session.manifold_per_section()),
        Command::MirrorToRight => drop(session.mirror(Side::Left)),
        Command::MirrorToLeft => drop(session.mirror(Side::Right)),
        Command::JoinHose => match session.usual_hose() {
            Some(stock) => session.take(Tool::Join { stock }),
            None => session.message = Some(nothing_of("hose")),
        },
        Command::FollowFrame => {
            drop(session.follow_frame(&session.selected_runs(), &session.selected_feeds()));
        }
        Command::LayStraight => drop(session.lay_straight(&session.selected_runs())),
        Command::SplitRun => session.take(Tool::Split { tee: None }),
        Command::GiveRows => {
            let manifold = session.selected_part().filter(|id| session.is_manifold(*id));
            session.take(Tool::GiveRows { manifold });
        }
        Command::NearestManifold => drop(session.share_rows(&session.scope(), Share::Nearest)),
        Command::BalanceOutlets => drop(session.share_rows(&session.scope(), Share::ByOutlets)),
        Command::SwapOutlets => {
            if let [a, b] = session.selected_rows()[..] {
                drop(session.swap_outlets(a, b));
            }
        }
        Command::RenumberOutlets => drop(session.renumber_outlets(&session.manifolds_meant())),
        Command::PlugOpen => drop(session.plug_open(&session.manifolds_meant())),
        Command::LeaveBlank => {
            if let [row] = session.selected_rows()[..] {
                drop(session.leave_blank(row));
            }
        }
        Command::NewRouting => drop(session.add_routing(false)),
        Command::CopyRouting => drop(session.add_routing(true)),
        Command::RemoveRouting => drop(session.remove_routing(routing)),
        Command::RoutingEarlier => drop(session.move_routing(routing, place.saturating_sub(1))),
        Command::RoutingLater => drop(session.move_routing(routing, place + 1)),
        Command::PreviousRouting => session.step_routing(-1),
        Command::NextRouting => session.step_routing(1),
        Command::New
        | Command::Open
        | Command::Save
        | Command::SaveAs
        | Command::Quit
        | Command::Compare
        | Command::Catalogue
        | Command::FitToWindow
        | Command::ZoomIn
        | Command::ZoomOut
        | Command::FitSelection
        | Command::FitNextSection
        | Command::PanLeft
        | Command::PanRight
        | Command::PanForward
        | Command::PanBack
        | Command::SwitchColours
        | Command::SwitchTheme
        | Command::EditBar
        | Command::ImportRows
        | Command::Settings
        | Command::Tables
        | Command::SpeedPlot
        | Command::CommandList
        | Command::Sheets
        | Command::ExportSheets
        | Command::ExportList
        | Command::Picture
        | Command::Help
        | Command::Notices => return false,
    }
    true
}

fn nothing_of(kind: &str) -> String {
    format!("The catalogue has no {kind}; add one first")
}

fn take_part(session: &mut Session, kind: PartKind) {
    match session.usual_entry(|item| item.item_kind() == kind) {
        Some(entry) => session.take(Tool::Place(entry)),
        None => session.message = Some(nothing_of(kind.words())),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_few_letters_find_a_command() {
        assert_eq!(search("").len(), TABLE.len());
        for (typed, first) in [
            ("mani", Command::PlaceManifold),
            ("fit", Command::FitToWindow),
            ("pm", Command::PlaceManifold),
            ("save as", Command::SaveAs),
            ("SAVE", Command::Save),
            ("undo", Command::Undo),
            ("row positions", Command::ImportRows),
            ("csv", Command::ExportList),
        ] {
            let found = search(typed);
            assert_eq!(found.first().map(|entry| entry.command), Some(first), "{typed}");
        }
        assert!(search("qqqq").is_empty());
    }

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
