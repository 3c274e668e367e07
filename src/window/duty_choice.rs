//! Which of the project's duties is looked at: the list to choose from, and the lines above the entries of a duty, with
//! its name and what adds and removes one. What is chosen waits until what is typed is taken.

use eframe::egui::accesskit::Role;
use eframe::egui::{Button, Id, RichText, Ui, WidgetInfo};

use super::form::{WIDE, combo_of_width, grid};
use super::text_field::TextField;
use super::theme::Theme;
use super::typing;
use crate::plan::DutyId;
use crate::session::Session;
use crate::session::commands::Command;

/// What was asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DutyRequest {
    /// Another duty to look at.
    LookAt(DutyId),
    /// A command.
    Command(Command),
}

/// The list of all duties, so many points wide, with the one that is looked at; another one if it was chosen.
pub(super) fn list(ui: &mut Ui, session: &Session, width: f32) -> Option<DutyId> {
    let duty = session.duty();
    let mut chosen = duty.id;
    let all = session.project().duties.iter().map(|duty| (duty.id, duty.name.clone()));
    combo_of_width(ui, "Duty", &duty.name, all, &mut chosen, width);
    Some(chosen).filter(|chosen| *chosen != duty.id)
}

/// The lines above the entries of a duty: which one, another, none of it; its name.
pub(super) fn lines(ui: &mut Ui, session: &mut Session) -> Option<DutyRequest> {
    let mut request = None;
    let several = session.project().duties.are_several();
    let theme = Theme::of(ui.visuals());
    grid(ui, "duty", |ui| {
        ui.label(RichText::new("Duty").color(theme.soft));
        ui.horizontal(|ui| {
            if several {
                request = list(ui, session, 112.0).map(DutyRequest::LookAt);
            }
            if ui.button("Add a copy").on_hover_text("Add a copy of this duty").clicked() {
                request = Some(DutyRequest::Command(Command::NewDuty));
            }
            let remove = ui.add_enabled(several, Button::new("Remove"));
            let name = format!("Remove duty {}", session.duty().name);
            remove.widget_info(|| WidgetInfo::labeled(Role::Button, several, &name));
            if remove.on_hover_text(&name).clicked() {
                request = Some(DutyRequest::Command(Command::RemoveDuty));
            }
        });
        ui.end_row();
        let label = ui.label(RichText::new("Name of the duty").color(theme.soft)).id;
        let (id, name) = (session.duty().id, session.duty().name.clone());
        let field = TextField { width: WIDE, ..TextField::new("Name of the duty", &name) };
        if let Some(new) = field.show(ui, Id::unique(("name of duty", id)), Some(label))
            && let Err(refused) = session.rename_duty(&new)
        {
            typing::refuse(ui.ctx(), &refused);
        }
        ui.end_row();
    });
    ui.separator();
    request
}
