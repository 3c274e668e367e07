//! The one table of commands: wording, keys and menu of everything that can be asked for.

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
    /// Larger.
    ZoomIn,
    /// Smaller.
    ZoomOut,
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
    /// The catalogue as a table.
    Catalogue,
    /// List keys and cautions.
    Help,
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
    /// Changes.
    Edit,
    /// What is shown.
    View,
    /// Parts and hoses.
    Routing,
    /// Help.
    Help,
}

impl Menu {
    /// All, from left to right.
    pub const ALL: [Self; 5] = [Self::File, Self::Edit, Self::View, Self::Routing, Self::Help];

    /// Its wording.
    pub const fn label(self) -> &'static str {
        match self {
            Self::File => "File",
            Self::Edit => "Edit",
            Self::View => "View",
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
    /// Its keys.
    pub keys: Keys,
    /// What it does, in a sentence.
    pub about: &'static str,
}

const fn plain(key: &'static str) -> Keys {
    Keys { ctrl: false, shift: false, key }
}

const fn ctrl(key: &'static str) -> Keys {
    Keys { ctrl: true, shift: false, key }
}

const fn entry(command: Command, label: &'static str, menu: Menu, keys: Keys, about: &'static str) -> Entry {
    Entry { command, label, menu, keys, about }
}

/// All commands in the order of the menus.
pub const TABLE: [Entry; 26] = [
    entry(Command::New, "New", Menu::File, ctrl("N"), "Start a bar with nothing placed on it"),
    entry(Command::Open, "Open…", Menu::File, ctrl("O"), "Open a project file"),
    entry(Command::Save, "Save", Menu::File, ctrl("S"), "Save the project to its file"),
    entry(
        Command::SaveAs,
        "Save as…",
        Menu::File,
        Keys { ctrl: true, shift: true, key: "S" },
        "Save the project to another file",
    ),
    entry(Command::Quit, "Quit", Menu::File, ctrl("Q"), "Close the window"),
    entry(Command::Undo, "Undo", Menu::Edit, ctrl("Z"), "Take the last step back"),
    entry(
        Command::Redo,
        "Redo",
        Menu::Edit,
        Keys { ctrl: true, shift: true, key: "Z" },
        "Do the undone step again",
    ),
    entry(
        Command::Delete,
        "Delete",
        Menu::Edit,
        plain("Delete"),
        "Remove what is selected; hoses keep loose ends",
    ),
    entry(Command::Turn, "Turn by 90°", Menu::Edit, plain("R"), "Turn the selected parts"),
    entry(
        Command::Cancel,
        "Cancel",
        Menu::Edit,
        plain("Escape"),
        "Leave the gesture, the tool, then the selection",
    ),
    entry(Command::FitToWindow, "Fit to window", Menu::View, plain("F"), "Show the whole bar"),
    entry(Command::ZoomIn, "Zoom in", Menu::View, ctrl("Plus"), "Show it larger"),
    entry(Command::ZoomOut, "Zoom out", Menu::View, ctrl("Minus"), "Show it smaller"),
    entry(Command::SwitchUnits, "Metric or US customary", Menu::View, ctrl("U"), "Switch the units shown"),
    entry(Command::SwitchTheme, "Light or dark", Menu::View, ctrl("L"), "Switch the colours"),
    entry(
        Command::Select,
        "Select and move",
        Menu::Routing,
        plain("S"),
        "Select parts and hoses, drag parts",
    ),
    entry(Command::PlaceFilter, "Place inlet filter", Menu::Routing, plain("I"), "Click where it goes"),
    entry(Command::PlaceTee, "Place tee", Menu::Routing, plain("T"), "Click where it goes"),
    entry(Command::PlaceValve, "Place section valve", Menu::Routing, plain("V"), "Click where it goes"),
    entry(Command::PlaceManifold, "Place manifold", Menu::Routing, plain("M"), "Click where it goes"),
    entry(
        Command::PlaceGauge,
        "Place gauge",
        Menu::Routing,
        plain("G"),
        "Click the port it is screwed onto, or a free place",
    ),
    entry(Command::PlacePlug, "Place blanking plug", Menu::Routing, plain("B"), "Click the port it closes"),
    entry(Command::JoinHose, "Join with a hose", Menu::Routing, plain("H"), "Click one port, then the other"),
    entry(
        Command::GiveRows,
        "Give rows to a manifold",
        Menu::Routing,
        plain("W"),
        "Click a manifold, then drag across rows",
    ),
    entry(
        Command::Catalogue,
        "Catalogue…",
        Menu::Edit,
        ctrl("G"),
        "Edit descriptions, part numbers and prices; compare with another catalogue; export",
    ),
    entry(
        Command::Help,
        "Keys and cautions",
        Menu::Help,
        plain("F1"),
        "List the keys, and what can hurt people",
    ),
];

impl Command {
    /// Its line of the table.
    pub fn entry(self) -> Option<&'static Entry> {
        TABLE.iter().find(|entry| entry.command == self)
    }
}

impl Keys {
    /// As written beside a command.
    pub fn text(self) -> String {
        let key = match self.key {
            "Plus" => "+",
            "Minus" => "−",
            "Escape" => "Esc",
            key => key,
        };
        format!("{}{}{key}", if self.ctrl { "Ctrl+" } else { "" }, if self.shift { "Shift+" } else { "" })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_two_commands_share_keys_or_wording() {
        for (index, one) in TABLE.iter().enumerate() {
            for other in &TABLE[index + 1..] {
                assert_ne!(one.keys, other.keys, "{} and {}", one.label, other.label);
                assert_ne!(one.label, other.label);
                assert_ne!(one.command, other.command);
            }
            assert_eq!(one.command.entry().unwrap().label, one.label);
        }
    }
}
