//! The card under the pointer: what a thing is, and its numbers with their units.

use eframe::egui::{Align, Grid, Layout, Pos2, Response, RichText, Ui};

use super::shown::Shown;
use crate::drawing::{Subject, card};
use crate::window::theme::Theme;

/// How far the pointer goes from where it let go of something before cards are shown again, points.
const AWAY: f32 = 24.0;

/// Hangs the card of what lies under the pointer on a picture, with the port of it that is `nearest`. Not over what was just dragged there: it is looked at.
pub(in crate::window) fn under_pointer(
    response: Response,
    shown: &Shown<'_>,
    hovered: Option<Subject>,
    nearest: Option<&str>,
) -> Response {
    let id = response.id.with("let go at");
    let at = response.ctx.input(|input| input.pointer.latest_pos());
    if let Some(at) = at.filter(|_| response.dragged() || response.drag_stopped()) {
        response.ctx.data_mut(|data| data.insert_temp(id, at));
    }
    let let_go: Option<Pos2> = response.ctx.data(|data| data.get_temp(id));
    if let_go.zip(at).is_some_and(|(let_go, at)| let_go.distance(at) < AWAY) {
        return response;
    }
    response.ctx.data_mut(|data| data.remove::<Pos2>(id));
    match hovered.filter(|_| response.hovered() && !response.dragged()) {
        Some(subject) => response.on_hover_ui_at_pointer(|ui| show(ui, shown, subject, nearest)),
        None => response,
    }
}

/// Shows the card of a subject and which port of it is nearest; nothing for one that is no longer there.
fn show(ui: &mut Ui, shown: &Shown<'_>, subject: Subject, nearest: Option<&str>) {
    let theme = Theme::of(ui.visuals());
    if let (Subject::Row(row), Some(caught)) = (subject, shown.caught)
        && let Some(says) = caught.lines(row)
        && let Some(row) = shown.project.bar.row(row)
    {
        ui.label(RichText::new(format!("Row {}", row.number)).strong().size(14.0));
        ui.label(says);
        return;
    }
    let card = card(shown.project, shown.routing, shown.outcome, subject, shown.project.units);
    let Some(card) = card else { return };
    ui.set_max_width(330.0);
    ui.spacing_mut().item_spacing.y = 3.0;
    ui.horizontal(|ui| {
        ui.label(RichText::new(&card.tag).strong().size(14.0));
        if !card.kind.is_empty() {
            ui.label(RichText::new(&card.kind).color(theme.soft));
        }
    });
    if let Some(nearest) = nearest {
        ui.label(RichText::new(nearest).strong());
    }
    if let Some(notice) = &card.notice {
        ui.label(RichText::new(notice).color(theme.warning));
    }
    if card.facts.is_empty() {
        return;
    }
    ui.add_space(2.0);
    Grid::new(("card", subject)).num_columns(2).spacing([18.0, 3.0]).show(ui, |ui| {
        for (name, value) in &card.facts {
            ui.label(RichText::new(*name).color(theme.soft));
            ui.with_layout(Layout::right_to_left(Align::Center), |ui| ui.label(value));
            ui.end_row();
        }
    });
}
