//! What the project asks for apart from its bar: liquid, application, supply, limits, title block. The same entries
//! stand in the form of a new bar and in a window of their own, where each change is one step.

use eframe::egui;
use eframe::egui::{Context, ScrollArea, Ui};
use strum::EnumCount;

use super::duty_choice::{self, DutyRequest};
use super::form::{grid, soft};
use super::front::OverDrawing;
use super::number_field::NumberField;
use super::typing;
use crate::plan::limits::TABLE;
use crate::plan::{Duty, Edit, Limits, TitleBlock};
use crate::quantities::UnitSystem;
use crate::session::Session;

mod application;
mod causes;
mod entries;
mod liquid;
mod spreads;
mod supply;

pub(super) use application::{LEAST_RATE, application, row_widths};
use entries::text;
pub(super) use liquid::liquid_choice;
use liquid::liquid_table;
pub(super) use supply::supply;

/// One page of the settings.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, EnumCount)]
pub enum Page {
    /// Density, viscosity, salt-out.
    #[default]
    Liquid,
    /// Rate, speeds, conditions.
    Application,
    /// Control, pump, tank.
    Supply,
    /// What findings are measured against.
    Limits,
    /// How parts and liquid scatter.
    Spreads,
    /// How common each cause of an uneven catch is.
    Causes,
    /// Title block of papers.
    Title,
}

impl Page {
    const ALL: [Self; Self::COUNT] = [
        Self::Liquid,
        Self::Application,
        Self::Supply,
        Self::Limits,
        Self::Spreads,
        Self::Causes,
        Self::Title,
    ];

    const fn label(self) -> &'static str {
        match self {
            Self::Liquid => "Liquid",
            Self::Application => "Application",
            Self::Supply => "Pump",
            Self::Limits => "Limits",
            Self::Spreads => "Spreads",
            Self::Causes => "Causes",
            Self::Title => "Title block",
        }
    }
}

/// What was asked for in the window.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SettingsRequest {
    /// To close it.
    Close,
    /// Something about the duties.
    Duty(DutyRequest),
}

/// The window; what was asked for, to be done once what is typed is taken.
pub fn show(ctx: &Context, session: &mut Session, page: &mut Page) -> Option<SettingsRequest> {
    let mut open = true;
    let mut request = None;
    // Title, tabs and edges, and the menus above it that stay in reach.
    let most = (ctx.content_rect().height() - 150.0).clamp(160.0, 460.0);
    let top = (ctx.content_rect().height() - most - 120.0).clamp(30.0, 150.0);
    egui::Window::new("Liquid, pump and limits")
        .id(OverDrawing::Settings.id())
        .constrain_to(OverDrawing::room(ctx))
        .open(&mut open)
        .collapsible(false)
        .resizable(false)
        .default_pos(egui::pos2(190.0, top))
        .default_height(most + 110.0)
        .show(ctx, |ui| {
            ui.set_width(460.0);
            ui.horizontal_wrapped(|ui| {
                for one in Page::ALL {
                    ui.selectable_value(page, one, one.label());
                }
            });
            ui.separator();
            // Each page is scrolled by itself.
            ScrollArea::vertical().id_salt(page.label()).max_height(most).auto_shrink([false, true]).show(
                ui,
                |ui| {
                    let units = session.project().units;
                    match page {
                        Page::Liquid => {
                            request = duty_choice::lines(ui, session);
                            let mut new = session.duty().clone();
                            ui.push_id(new.id, |ui| {
                                liquid_choice(ui, &mut new.liquid, units);
                                liquid_table(ui, &mut new.liquid, units);
                            });
                            apply(ui, session, "Change the liquid", &new, Session::duty, put_duty);
                        }
                        Page::Application => {
                            request = duty_choice::lines(ui, session);
                            let mut new = session.duty().clone();
                            ui.push_id(new.id, |ui| application(ui, &mut new, units));
                            apply(ui, session, "Change rate and speeds", &new, Session::duty, put_duty);
                        }
                        Page::Supply => {
                            let mut new = session.project().supply.clone();
                            supply(ui, &mut new, units);
                            apply(
                                ui,
                                session,
                                "Change the pump",
                                &new,
                                |session| &session.project().supply,
                                Edit::SetSupply,
                            );
                        }
                        Page::Limits => {
                            let mut new = session.project().limits;
                            limits(ui, &mut new, units);
                            apply(
                                ui,
                                session,
                                "Change the limits",
                                &new,
                                |session| &session.project().limits,
                                Edit::SetLimits,
                            );
                        }
                        Page::Spreads => {
                            let mut new = session.project().spreads.clone();
                            spreads::spreads(ui, &mut new, units);
                            apply(
                                ui,
                                session,
                                "Change the spreads",
                                &new,
                                |session| &session.project().spreads,
                                |spreads| Edit::SetSpreads(Box::new(spreads)),
                            );
                        }
                        Page::Causes => {
                            let mut new = session.project().cause_weights.clone();
                            causes::causes(ui, &mut new);
                            apply(
                                ui,
                                session,
                                "Change the weights of causes",
                                &new,
                                |session| &session.project().cause_weights,
                                |weights| Edit::SetCauseWeights(Box::new(weights)),
                            );
                        }
                        Page::Title => {
                            let mut new = session.project().title.clone();
                            title_block(ui, &mut new);
                            apply(
                                ui,
                                session,
                                "Change the title block",
                                &new,
                                |session| &session.project().title,
                                Edit::SetTitle,
                            );
                        }
                    }
                },
            );
        });
    if open { request.map(SettingsRequest::Duty) } else { Some(SettingsRequest::Close) }
}

fn apply<T: PartialEq + Clone>(
    ui: &Ui,
    session: &mut Session,
    name: &str,
    new: &T,
    of: impl Fn(&Session) -> &T,
    edit: impl Fn(T) -> Edit,
) {
    if new != of(session)
        && let Err(refusal) = session.edit(name, [edit(new.clone())])
    {
        typing::refuse_or_say(ui.ctx(), refusal);
    }
}

fn put_duty(duty: Duty) -> Edit {
    Edit::PutDuty(Box::new(duty))
}

fn limits(ui: &mut Ui, limits: &mut Limits, units: UnitSystem) {
    grid(ui, "limits", |ui| {
        for limit in &TABLE {
            let label = ui.label(soft(ui, limit.name)).on_hover_text(limit.source).id;
            let (value, range) = (Some(limit.of(limits)), limit.least..=limit.most);
            let field = NumberField::new(limit.name, limit.measure, units, value, range);
            if let Some(new) = field.show(ui, Some(label)) {
                limit.set(limits, new);
            }
            ui.end_row();
        }
    });
    ui.add_space(6.0);
    if ui
        .button("Usual limits")
        .on_hover_text("Those of a new project; the guide (F1) says where each comes from")
        .clicked()
    {
        *limits = Limits::default();
    }
}

fn title_block(ui: &mut Ui, title: &mut TitleBlock) {
    grid(ui, "title block", |ui| {
        text(ui, "Title", &mut title.title);
        text(ui, "Owner", &mut title.owner);
        text(ui, "Drawing number", &mut title.number);
        text(ui, "Revision", &mut title.revision);
        text(ui, "Made by", &mut title.creator);
        text(ui, "Approved by", &mut title.approved_by);
        text(ui, "Notes", &mut title.notes);
    });
}
