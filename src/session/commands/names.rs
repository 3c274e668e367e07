//! Commands by name, with the menus they stand in and the keys they have.

use crate::plan::PartKind;
use strum::EnumCount;

/// Everything a menu, a key or a button can ask for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Command {
    /// Start over with the generic bar.
    New,
    /// Open a file.
    Open,
    /// Show what one may start from.
    StartCard,
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
    /// What parts as they are sold may add to each row, in the strip.
    SwitchScatter,
    /// Metric or US customary.
    SwitchUnits,
    /// Light or dark.
    SwitchTheme,
    /// The bar in one band or in two.
    SwitchBands,
    /// The panel of tools open or folded.
    FoldTools,
    /// The panel of details open or folded.
    FoldDetails,
    /// The bar from working to transport position.
    FoldedBar,
    /// Studies below the drawing.
    Studies,
    /// Select and move.
    Select,
    /// Place a part of a kind.
    Place(PartKind),
    /// Join two ports with a hose.
    JoinHose,
    /// A main hose to each manifold, from tees.
    MainsFromTees,
    /// Main hoses from manifold to manifold.
    MainsInChain,
    /// One main hose to each side.
    MainsByWing,
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
    /// Select what lies beside the selected hoses and row feeds at hinges.
    SelectBundle,
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
    /// Have the lengths at hinges computed, between clamps where they are suggested.
    ComputeCrossings,
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
    /// Put the selected rows on one tube.
    JoinRows,
    /// Put neighbours in twos on one tube.
    PairRows,
    /// Give each row that shares a tube one of its own.
    PartRows,
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
    /// Take lengths as cut from a cut list that was filled in.
    ReadCutLengths,
    /// Liquid, what is asked, supply, limits and title block.
    Settings,
    /// Add a copy of the duty that is looked at.
    NewDuty,
    /// Look at the next duty.
    NextDuty,
    /// Remove the duty that is looked at.
    RemoveDuty,
    /// What was caught in the yard, what it says and what explains it.
    CatchTests,
    /// Add a catch test of the routing in hand.
    NewCatchTest,
    /// Add a catch test of the same bar under the same conditions.
    RepeatCatchTest,
    /// Remove the catch test in hand.
    RemoveCatchTest,
    /// Take down amounts from the clipboard.
    PasteCatches,
    /// Take down amounts from a file.
    ReadCatches,
    /// The catch tests of the routing as they will print.
    CatchSheet,
    /// Parts, hoses, row feeds and rows as tables.
    Tables,
    /// Pressures and evenness over the range of ground speeds.
    SpeedPlot,
    /// Find a command by its wording.
    CommandList,
    /// The catalogue as a table.
    Catalogue,
    /// What is added to the parts list, as a table.
    AddedLines,
    /// Take such lines of another project.
    TakeAddedLines,
    /// The papers as they will print.
    Sheets,
    /// The page for the customer as it will print.
    CustomerSheet,
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
#[derive(Debug, Clone, Copy, PartialEq, Eq, EnumCount)]
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
    pub const ALL: [Self; Self::COUNT] = [
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
pub struct CommandEntry {
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

impl CommandEntry {
    /// It changes or selects what is drawn, or takes a tool in hand: its keys are for the drawing alone.
    pub const fn acts_on_drawing(&self) -> bool {
        match self.menu {
            Menu::File | Menu::Project | Menu::Help => false,
            Menu::View => matches!(self.command, Command::Measure),
            Menu::Edit => !matches!(self.command, Command::Undo | Command::Redo | Command::Cancel),
            Menu::Routing => !matches!(self.command, Command::Compare),
            Menu::Selection | Menu::Place | Menu::Hoses | Menu::Rows => true,
        }
    }

    /// It changes the project, or what is looked at, without asking anything.
    pub const fn changes_at_once(&self) -> bool {
        self.acts_on_drawing()
            || matches!(
                self.command,
                Command::Undo
                    | Command::Redo
                    | Command::SwitchUnits
                    | Command::NewDuty
                    | Command::NextDuty
                    | Command::RemoveDuty
                    | Command::NewCatchTest
                    | Command::RepeatCatchTest
                    | Command::RemoveCatchTest
            )
    }

    /// Its keys as written beside it.
    pub fn keys_text(&self) -> String {
        self.keys.map(Keys::text).unwrap_or_default()
    }
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

/// A key by itself.
pub(super) const fn plain(key: &'static str) -> Keys {
    Keys { ctrl: false, shift: false, key }
}

/// A key with Ctrl.
pub(super) const fn ctrl(key: &'static str) -> Keys {
    Keys { ctrl: true, shift: false, key }
}

/// A key with Shift.
pub(super) const fn shift(key: &'static str) -> Keys {
    Keys { ctrl: false, shift: true, key }
}

/// A key with Ctrl and Shift.
pub(super) const fn ctrl_shift(key: &'static str) -> Keys {
    Keys { ctrl: true, shift: true, key }
}

/// A line of the table.
pub(super) const fn entry(
    command: Command,
    label: &'static str,
    menu: Menu,
    keys: Option<Keys>,
    about: &'static str,
) -> CommandEntry {
    CommandEntry { command, label, menu, keys, about }
}
