//! The routings of the project in a row: choose, add, copy, rename, note, reorder, delete, compare.

use eframe::egui;
use eframe::egui::{Button, RichText, TextEdit, Ui};

use super::theme::Theme;
use crate::plan::RoutingId;
use crate::session::Session;

/// What the bar remembers: the text of a name or note that is being typed.
#[derive(Debug, Default)]
pub struct RoutingBar {
    typed: Option<Typed>,
}

#[derive(Debug)]
struct Typed {
    routing: RoutingId,
    name: String,
    note: String,
}

/// What a click asks for; done after the frame's borrow of the session ends.
enum Asked {
    Show(RoutingId),
    Add { copy: bool },
    Move(RoutingId, usize),
    Delete(RoutingId),
}

impl RoutingBar {
    /// Shows the bar; true if comparing is asked for.
    pub fn show(&mut self, ui: &mut Ui, session: &mut Session) -> bool {
        let theme = Theme::of(ui.visuals());
        let now = session.routing().id;
        let (mut asked, mut compare) = (None, false);
        ui.horizontal(|ui| {
            ui.label(RichText::new("Routing").color(theme.soft));
            for routing in &session.project().routings {
                let response = ui.selectable_label(routing.id == now, &routing.name);
                let response =
                    if routing.note.is_empty() { response } else { response.on_hover_text(&routing.note) };
                if response.clicked() {
                    asked = Some(Asked::Show(routing.id));
                }
            }
            let menu = ui.menu_button("Change…", |ui| {
                asked = self.menu(ui, session).or(asked.take());
            });
            menu.response.on_hover_text("Add, copy, rename, note, reorder and delete routings");
            let button = ui.add(Button::new("Compare"));
            compare = button.on_hover_text("Show two routings side by side, with what differs").clicked();
            let note = &session.routing().note;
            if !note.is_empty() {
                ui.add(egui::Label::new(RichText::new(note).color(theme.soft)).truncate());
            }
        });
        // A refusal is in the session's message.
        match asked {
            Some(Asked::Show(id)) => session.show_routing(id),
            Some(Asked::Add { copy }) => drop(session.add_routing(copy)),
            Some(Asked::Move(id, to)) => drop(session.move_routing(id, to)),
            Some(Asked::Delete(id)) => drop(session.remove_routing(id)),
            None => {}
        }
        compare
    }

    fn menu(&mut self, ui: &mut Ui, session: &mut Session) -> Option<Asked> {
        let mut asked = None;
        let routing = session.routing();
        let (id, name) = (routing.id, routing.name.clone());
        let count = session.project().routings.len();
        let place = session.routing_place();
        let typed = match &mut self.typed {
            Some(typed) if typed.routing == id => typed,
            typed => typed.insert(Typed { routing: id, name: name.clone(), note: routing.note.clone() }),
        };
        ui.set_min_width(260.0);
        let label = ui.label("Name").id;
        let field = ui.add(TextEdit::singleline(&mut typed.name).desired_width(250.0)).labelled_by(label);
        let renamed = (field.lost_focus() && typed.name.trim() != name).then(|| typed.name.clone());
        let label = ui.label("Note").id;
        let field = TextEdit::multiline(&mut typed.note).desired_rows(2).desired_width(250.0);
        let field = ui.add(field).labelled_by(label);
        let noted =
            (field.lost_focus() && typed.note.trim() != session.routing().note).then(|| typed.note.clone());
        // A refusal is in the session's message, and what was typed stays.
        if let Some(name) = renamed
            && session.rename_routing(id, &name).is_ok()
        {
            self.typed = None;
        } else if let Some(note) = noted
            && session.note_routing(id, &note).is_ok()
        {
            self.typed = None;
        }
        ui.separator();
        let mut item = |ui: &mut Ui, enabled: bool, text: String, what: Asked| {
            if ui.add_enabled(enabled, Button::new(text)).clicked() {
                asked = Some(what);
                ui.close();
            }
        };
        item(ui, true, "Add an empty routing".to_owned(), Asked::Add { copy: false });
        item(ui, true, format!("Add a copy of {name}"), Asked::Add { copy: true });
        let earlier = Asked::Move(id, place.saturating_sub(1));
        item(ui, place > 0, format!("Move {name} to the left"), earlier);
        item(ui, place + 1 < count, format!("Move {name} to the right"), Asked::Move(id, place + 1));
        item(ui, count > 1, format!("Delete {name}"), Asked::Delete(id));
        asked
    }
}
