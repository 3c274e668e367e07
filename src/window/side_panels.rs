//! The panels beside the drawing: open or folded to a handle, by a key, by the handle, and by themselves where the window
//! is narrow.

use std::hash::Hash;

use eframe::egui::{
    self, CornerRadius, Frame, Id, Margin, Panel, Rect, Response, ScrollArea, Sense, Stroke, Ui, UiBuilder,
    Vec2, WidgetInfo, accesskit::Role, pos2, vec2,
};

use super::theme::{SCROLL_BAR, Theme};
use crate::session::commands::Command;

/// Width of a folded panel, points.
const HANDLE: f32 = 22.0;
/// A narrower window shows the drawing rather than the details, points.
const NARROW: f32 = 1000.0;

/// A panel beside the drawing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum SidePanel {
    /// What can be placed and joined, at the left.
    Tools,
    /// What is selected, at the right.
    Details,
}

impl SidePanel {
    const fn name(self) -> &'static str {
        match self {
            Self::Tools => "tools",
            Self::Details => "details",
        }
    }

    /// The command that folds and unfolds it.
    const fn command(self) -> Command {
        match self {
            Self::Tools => Command::FoldTools,
            Self::Details => Command::FoldDetails,
        }
    }

    /// Its width, points.
    const fn width(self) -> f32 {
        match self {
            Self::Tools => 152.0,
            Self::Details => 306.0,
        }
    }
}

/// Which of them are open, where somebody has chosen.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct SidePanels {
    tools: Option<bool>,
    details: Option<bool>,
}

impl SidePanels {
    /// Folds an open one, opens a folded one, in a window so many points wide.
    pub(super) fn switch(&mut self, which: SidePanel, width: f32) {
        let is_open = self.is_open(which, width);
        match which {
            SidePanel::Tools => self.tools = Some(!is_open),
            SidePanel::Details => self.details = Some(!is_open),
        }
    }

    fn is_open(self, which: SidePanel, width: f32) -> bool {
        match which {
            SidePanel::Tools => self.tools.unwrap_or(true),
            SidePanel::Details => self.details.unwrap_or(width >= NARROW),
        }
    }

    /// Shows one with what it holds, which is `of` something, or its handle; the command if it is to be folded or opened.
    pub(super) fn show(
        self,
        ui: &mut Ui,
        which: SidePanel,
        of: impl Hash,
        contents: impl FnOnce(&mut Ui),
    ) -> Option<Command> {
        let theme = Theme::of(ui.visuals());
        let is_open = self.is_open(which, ui.ctx().content_rect().width());
        let panel = match which {
            SidePanel::Tools => Panel::left("tools"),
            SidePanel::Details => Panel::right("details"),
        };
        let fill = Frame::new().fill(theme.panel);
        if !is_open {
            let shown = panel.frame(fill).exact_size(HANDLE).resizable(false).show(ui, |ui| {
                let room = ui.max_rect();
                handle(ui, room, which, false)
            });
            return shown.inner;
        }
        // The scroll bar stands in the margin.
        let frame = fill.inner_margin(Margin { left: 10, right: 1, top: 8, bottom: 8 });
        let shown = panel.frame(frame).exact_size(which.width()).resizable(false).show(ui, |ui| {
            let corner = ui.max_rect();
            // Nothing in it may widen it, since a column that moves takes the drawing along: what is wider is scrolled to.
            let room = ui.available_rect_before_wrap();
            let mut inner = ui.new_child(UiBuilder::new().max_rect(room).id_salt("within"));
            inner.shrink_clip_rect(room.expand2(vec2(4.0, 0.0)));
            let mut area = ScrollArea::both().auto_shrink([false, false]);
            if is_new(ui, which, of) {
                // What is shown anew is read from its top.
                area = area.scroll_offset(Vec2::ZERO);
            }
            area.show(&mut inner, |ui| {
                ui.set_max_width(room.width() - SCROLL_BAR);
                contents(ui);
            });
            ui.advance_cursor_after_rect(room);
            // Last, so that nothing lies over it.
            handle(ui, corner, which, true)
        });
        shown.inner
    }
}

/// A panel is of something else than in the pass before.
fn is_new(ui: &Ui, which: SidePanel, of: impl Hash) -> bool {
    let (id, of) = (Id::unique(("what a panel is of", which.name())), egui::util::hash(of));
    ui.data_mut(|data| {
        let before: Option<u64> = data.get_temp(id);
        data.insert_temp(id, of);
        before.is_some_and(|before| before != of)
    })
}

/// The button that folds a panel, in its upper outer corner; or opens it, in all of what is left of it.
fn handle(ui: &Ui, room: Rect, which: SidePanel, is_open: bool) -> Option<Command> {
    let rect = if is_open {
        let inner = match which {
            SidePanel::Tools => room.right() - SCROLL_BAR - 10.0,
            SidePanel::Details => room.right() - SCROLL_BAR - 6.0,
        };
        Rect::from_center_size(pos2(inner, room.top() + 8.0), vec2(18.0, 18.0))
    } else {
        room
    };
    let response = ui.interact(rect, ui.scope_id().with("fold"), Sense::click());
    let name = format!("{} the {}", if is_open { "Fold" } else { "Show" }, which.name());
    response.widget_info(|| WidgetInfo::labeled(Role::Button, true, &name));
    arrow(ui, &response, rect, (which == SidePanel::Tools) == is_open);
    let command = which.command();
    let keys = command.entry().map_or_else(String::new, |entry| entry.keys_text());
    response.on_hover_text(format!("{name} ({keys})")).clicked().then_some(command)
}

fn arrow(ui: &Ui, response: &Response, rect: Rect, to_left: bool) {
    let theme = Theme::of(ui.visuals());
    let active = response.hovered() || response.has_focus();
    let colour = if active { theme.accent } else { theme.soft };
    if active {
        ui.painter().rect_filled(rect.shrink(1.0), CornerRadius::same(4), theme.accent_ground);
    }
    let middle = pos2(rect.center().x, rect.center().y.min(rect.top() + 60.0));
    let tip = if to_left { -3.0 } else { 3.0 };
    let ends = [middle + vec2(-tip, -5.0), middle + vec2(tip, 0.0), middle + vec2(-tip, 5.0)];
    ui.painter().line(ends.to_vec(), Stroke::new(1.8, colour));
}
