//! What lies in front of the drawing, and has the keys: a dialog, an open list, a window, or nothing.
//!
//! It is read from the layers that egui shows, so that no dialog or window can be forgotten here. Of several windows and
//! the drawing, the one that was opened, pressed or entered by Tab last is in front.

use eframe::egui::{Context, Id, LayerId, Order, Popup, PopupAnchor, Rect};
use strum::EnumCount;

use crate::plan::words::capital;
use crate::session::Session;
use crate::session::commands::{self, Command, CommandEntry};

/// What stands in the room of the drawing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum InPlace {
    /// The drawing itself.
    Drawing,
    /// The pages of the papers.
    Sheets,
    /// The catch tests.
    CatchTests,
    /// Two routings side by side.
    Comparison,
    /// The folding bar.
    FoldedBar,
}

impl InPlace {
    /// What a command means while this stands there.
    pub const fn meaning(self, command: Command) -> Command {
        match (self, command) {
            (Self::CatchTests, Command::Paste) => Command::PasteCatches,
            (_, command) => command,
        }
    }

    /// It turns the pages of the papers with the keys of the routings.
    const fn turns_pages(self, command: Command) -> bool {
        matches!(self, Self::Sheets) && matches!(command, Command::PreviousRouting | Command::NextRouting)
    }

    /// Why a command can't be carried out while this stands there, in words; none if it can.
    pub fn why_not(self, session: &Session, entry: &CommandEntry) -> Option<String> {
        let refused = self.refuses(session, entry).map(capital);
        let missing = || commands::obstacle(session, self.meaning(entry.command)).map(|one| one.to_string());
        if self.turns_pages(entry.command) { refused } else { refused.or_else(missing) }
    }

    /// Why a command would do nothing that anybody sees while this stands there, in words; none if it can be carried out.
    pub fn refuses(self, session: &Session, entry: &CommandEntry) -> Option<&'static str> {
        let command = entry.command;
        let of_drawing_shown = matches!(
            command,
            Command::SwitchColours
                | Command::SwitchScatter
                | Command::SwitchBands
                | Command::FoldTools
                | Command::FoldDetails
                | Command::Tables
                | Command::SpeedPlot
                | Command::Studies
        );
        let is_unseen = command == Command::RemoveCatchTest && self != Self::CatchTests;
        // Where there is none at all, that is what is said.
        if is_unseen && commands::obstacle(session, command).is_none() {
            return Some("nobody sees here which one it takes; show the catch tests first");
        }
        match self {
            Self::Drawing => None,
            Self::Sheets => {
                let refused = of_drawing_shown
                    || command == Command::FitNextSection
                    || (entry.acts_on_drawing() && !self.turns_pages(command));
                refused.then_some("not while the sheets are shown; close them first (Esc)")
            }
            Self::CatchTests => {
                // What is pasted here is what was caught.
                let pastes = command == Command::Paste;
                let refused =
                    of_drawing_shown || command == Command::Picture || (entry.acts_on_drawing() && !pastes);
                refused.then_some("not among the catch tests; close them first (Esc)")
            }
            Self::Comparison => {
                let refused =
                    of_drawing_shown && !matches!(command, Command::SwitchColours | Command::SwitchScatter);
                refused.then_some("not in a comparison; close it first (Esc)")
            }
            Self::FoldedBar => {
                let refused = matches!(
                    command,
                    Command::SwitchBands | Command::SwitchScatter | Command::FoldTools | Command::Picture
                );
                refused.then_some("not while the bar is folded; close it first (Esc)")
            }
        }
    }
}

/// What has the keys.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum InFront {
    /// The drawing and the panels around it.
    Drawing,
    /// The pages in place of the drawing.
    Sheets,
    /// The catch tests in place of the drawing.
    CatchTests,
    /// A window that lies over the drawing.
    Window,
    /// An open menu or list.
    List,
    /// A dialog that must be answered first.
    Dialog,
}

impl InFront {
    /// The keys of a command are not meant for it now.
    pub fn keeps_back(self, entry: &CommandEntry, without_ctrl: bool) -> bool {
        match self {
            Self::Drawing => false,
            Self::Sheets | Self::CatchTests => entry.acts_on_drawing(),
            Self::Window => entry.acts_on_drawing() || entry.command == Command::Compare,
            Self::List => without_ctrl || entry.changes_at_once(),
            Self::Dialog => true,
        }
    }

    /// What to do first, where keys that were kept back are not simply its own.
    pub const fn advice(self) -> Option<&'static str> {
        match self {
            Self::Window => Some("a window lies over the drawing; press on the drawing first"),
            Self::Sheets => Some("the sheets are shown; close them first"),
            Self::CatchTests => Some("the catch tests are shown; close them first (Esc)"),
            Self::List => Some("a list is open; press Esc to close it first"),
            Self::Drawing | Self::Dialog => None,
        }
    }
}

/// Height of the menus, points.
const MENUS: f32 = 32.0;

/// A window that may lie over the drawing while one works on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, EnumCount)]
pub enum OverDrawing {
    /// What one may start from.
    StartCard,
    /// The catalogue as a table.
    Catalogue,
    /// What is added to the parts list.
    AddedLines,
    /// Liquid, pump and limits.
    Settings,
    /// Guide, keys and cautions.
    Help,
    /// The notices of others' work.
    Notices,
}

impl OverDrawing {
    /// All of them.
    pub const ALL: [Self; Self::COUNT] =
        [Self::StartCard, Self::Catalogue, Self::AddedLines, Self::Settings, Self::Help, Self::Notices];

    /// Where it may lie: not over the menus, which stay in reach.
    pub fn room(ctx: &Context) -> Rect {
        let mut room = ctx.content_rect();
        room.min.y += MENUS;
        room
    }

    /// What egui knows it by.
    pub fn id(self) -> Id {
        Id::unique(("window over the drawing", self as u8))
    }
}

/// The windows over the drawing in the order in which they were used.
#[derive(Debug, Default)]
pub struct Front {
    /// The one used last is at the end.
    windows: Vec<LayerId>,
    /// The drawing was used after all of them.
    is_drawing_last: bool,
    had_dialog: bool,
    focused: Option<Id>,
}

impl Front {
    /// Takes in what was opened, pressed and entered since the last pass. What has come in front closes the lists and
    /// tooltips of what it covers.
    pub fn follow(&mut self, ctx: &Context, is_dialog: bool) -> InFront {
        let visible: Vec<LayerId> = ctx.memory(|memory| {
            let layers = memory.areas().visible_layer_ids().into_iter();
            layers.filter(|layer| layer.order == Order::Middle).collect()
        });
        self.windows.retain(|layer| visible.contains(layer));
        let mut is_covered = false;
        for layer in visible {
            if !self.windows.contains(&layer) {
                self.use_window(layer);
                is_covered = true;
            }
        }
        let pressed =
            ctx.input(|input| input.pointer.any_pressed().then(|| input.pointer.interact_pos()).flatten());
        if let Some(at) = pressed {
            self.use_layer(ctx.layer_id_at(at).unwrap_or_else(LayerId::background));
        }
        let focused = ctx.memory(|memory| memory.focused());
        if focused != self.focused {
            match focused.map(|id| ctx.read_response(id)) {
                None => self.focused = None,
                Some(Some(response)) => {
                    self.focused = focused;
                    self.use_layer(response.layer_id);
                }
                // It is shown for the first time in this pass.
                Some(None) => {}
            }
        }
        let is_dialog = is_dialog || ctx.memory(|memory| memory.top_modal_layer()).is_some();
        is_covered |= is_dialog && !self.had_dialog;
        self.had_dialog = is_dialog;
        if is_covered {
            self.cover(ctx);
        }
        if is_dialog {
            InFront::Dialog
        } else if Popup::is_any_open(ctx) {
            InFront::List
        } else if self.window().is_some() {
            InFront::Window
        } else {
            InFront::Drawing
        }
    }

    /// The window in front, if the drawing is not.
    pub fn window(&self) -> Option<LayerId> {
        self.windows.last().copied().filter(|_| !self.is_drawing_last)
    }

    /// The window used last, whether or not the drawing was used since.
    pub fn last_window(&self) -> Option<LayerId> {
        self.windows.last().copied()
    }

    fn use_layer(&mut self, layer: LayerId) {
        match layer.order {
            Order::Background => self.is_drawing_last = true,
            Order::Middle => self.use_window(layer),
            // A list or a dialog belongs to what it came from.
            Order::Foreground | Order::Tooltip | Order::Debug => {}
        }
    }

    fn use_window(&mut self, layer: LayerId) {
        self.windows.retain(|one| *one != layer);
        self.windows.push(layer);
        self.is_drawing_last = false;
    }

    /// Closes lists and tooltips, and takes the focus from what is covered; what is typed keeps it until it is taken.
    fn cover(&mut self, ctx: &Context) {
        Popup::close_all(ctx);
        let focused = ctx.memory(|memory| memory.focused()).filter(|_| !ctx.text_edit_focused());
        if let Some(id) = focused
            && ctx.read_response(id).is_some_and(|response| response.layer_id.order == Order::Background)
        {
            ctx.memory_mut(|memory| memory.surrender_focus(id));
        }
        // A tooltip stays while the pointer is where its owner is, even under a dialog, but not beside a list of the same
        // layer: one without a place is never seen.
        for layer in self.windows.iter().copied().chain([LayerId::background()]) {
            let list = Popup::new(Id::unique("no tooltip"), ctx.clone(), PopupAnchor::PointerFixed, layer);
            list.open(true).show(|_| ());
        }
        ctx.request_repaint();
    }
}
