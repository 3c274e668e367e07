//! The routings of the project in a row: choose, add, copy, rename, note, reorder, delete, compare.

use eframe::egui;
use eframe::egui::containers::menu::{MenuButton, MenuConfig};
use eframe::egui::{Align, Button, Id, Layout, PopupCloseBehavior, RichText, Ui};

use super::form::{combo_of_width, like_fields};
use super::status_line;
use super::text_field::TextField;
use super::theme::Theme;
use super::typing::{self, AfterTyping};
use crate::plan::RoutingId;
use crate::session::{Refusal, Session};

/// What the bar remembers: what was asked for, until what is typed anywhere is taken.
#[derive(Debug, Default)]
pub struct RoutingBar {
    after: AfterTyping<RoutingRequest>,
}

/// What a click asks for; done after the frame's borrow of the session ends.
#[derive(Debug)]
enum RoutingRequest {
    Show(RoutingId),
    Add { copy: bool },
    Move(RoutingId, usize),
    Delete(RoutingId),
    Compare,
}

impl RoutingBar {
    /// Shows the bar, and `controls` at its right end; true if comparing is asked for.
    pub fn show(&mut self, ui: &mut Ui, session: &mut Session, controls: impl FnOnce(&mut Ui)) -> bool {
        let theme = Theme::of(ui.visuals());
        let mut asked = None;
        ui.horizontal(|ui| {
            ui.label(RichText::new("Routing").color(theme.soft));
            asked = choices(ui, session);
            // A click into a field of it must not close it: what is typed next would be commands.
            let config = MenuConfig::new().close_behavior(PopupCloseBehavior::CloseOnClickOutside);
            let (button, _) = MenuButton::new("Change…").config(config).ui(ui, |ui| {
                asked = menu(ui, session).or(asked.take());
            });
            button.on_hover_text("Add, copy, rename, note, reorder and delete routings");
            let button = ui.add(Button::new("Compare"));
            if button.on_hover_text("Show two routings side by side, with what differs").clicked() {
                asked = Some(RoutingRequest::Compare);
            }
            ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
                controls(ui);
                ui.add_space(8.0);
                let note = &session.routing().note;
                if !note.is_empty() && ui.available_width() > NOTE {
                    ui.with_layout(Layout::left_to_right(Align::Center), |ui| {
                        ui.add(egui::Label::new(RichText::new(note).color(theme.soft)).truncate());
                    });
                }
            });
        });
        if let Some(asked) = asked {
            self.after.ask(asked);
        }
        let done = match self.after.step(ui.ctx()) {
            None => return false,
            Some(RoutingRequest::Compare) => return true,
            Some(RoutingRequest::Show(id)) => {
                session.show_routing(id);
                Ok(None)
            }
            Some(RoutingRequest::Add { copy }) => session.add_routing(copy).map(|_| None),
            Some(RoutingRequest::Move(id, to)) => session.move_routing(id, to).map(|()| None),
            Some(RoutingRequest::Delete(id)) => session.remove_routing(id),
        };
        status_line::say(ui.ctx(), done);
        false
    }
}

/// Room that the buttons behind the routings and at the end of the line need, points.
const BUTTONS: f32 = 436.0;
/// Less room than this is none for a note, points.
const NOTE: f32 = 60.0;
/// Width of the list of routings, points.
const LIST: f32 = 220.0;

/// The routings side by side; as a list where they have no room.
fn choices(ui: &mut Ui, session: &Session) -> Option<RoutingRequest> {
    let now = session.routing();
    let routings = &session.project().routings;
    let font = egui::TextStyle::Button.resolve(ui.style());
    let width = |name: &str| {
        ui.painter().layout_no_wrap(name.to_owned(), font.clone(), egui::Color32::PLACEHOLDER).size().x
    };
    let beside = 2.0 * ui.spacing().button_padding.x + ui.spacing().item_spacing.x;
    let all: f32 = routings.iter().map(|routing| width(&routing.name) + beside).sum();
    if all + BUTTONS > ui.available_width() {
        let mut chosen = now.id;
        let entries = routings.iter().map(|routing| (routing.id, routing.name.clone()));
        let width = (ui.available_width() - BUTTONS).clamp(60.0, LIST);
        combo_of_width(ui, "Routing", &now.name, entries, &mut chosen, width);
        return (chosen != now.id).then_some(RoutingRequest::Show(chosen));
    }
    let mut asked = None;
    for routing in routings {
        let response = ui.selectable_label(routing.id == now.id, &routing.name);
        let response = if routing.note.is_empty() { response } else { response.on_hover_text(&routing.note) };
        if response.clicked() {
            asked = Some(RoutingRequest::Show(routing.id));
        }
    }
    asked
}

fn menu(ui: &mut Ui, session: &mut Session) -> Option<RoutingRequest> {
    let mut asked = None;
    let routing = session.routing();
    let (id, name) = (routing.id, routing.name.clone());
    let count = session.project().routings.len();
    let place = session.routing_place();
    let note = routing.note.clone();
    ui.set_min_width(260.0);
    let take = |ui: &Ui, done: Result<(), Refusal>| {
        if let Err(refused) = done {
            typing::refuse_or_say(ui.ctx(), refused);
        }
    };
    ui.scope(|ui| {
        like_fields(ui);
        let label = ui.label("Name").id;
        let field = TextField { width: 250.0, ..TextField::new("Name", &name) };
        if let Some(new) = field.show(ui, Id::unique(("name of routing", id)), Some(label)) {
            take(ui, session.rename_routing(id, &new));
        }
        let label = ui.label("Note").id;
        let field = TextField { width: 250.0, lines: 2, ..TextField::new("Note", &note) };
        if let Some(new) = field.show(ui, Id::unique(("note of routing", id)), Some(label)) {
            take(ui, session.note_routing(id, &new));
        }
    });
    ui.separator();
    let mut item = |ui: &mut Ui, enabled: bool, text: String, what: RoutingRequest| {
        if ui.add_enabled(enabled, Button::new(text)).clicked() {
            asked = Some(what);
            ui.close();
        }
    };
    item(ui, true, "Add an empty routing".to_owned(), RoutingRequest::Add { copy: false });
    item(ui, true, format!("Add a copy of {name}"), RoutingRequest::Add { copy: true });
    let earlier = RoutingRequest::Move(id, place.saturating_sub(1));
    item(ui, place > 0, format!("Move {name} to the left"), earlier);
    item(ui, place + 1 < count, format!("Move {name} to the right"), RoutingRequest::Move(id, place + 1));
    item(ui, count > 1, format!("Delete {name}"), RoutingRequest::Delete(id));
    asked
}
