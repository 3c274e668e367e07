//! What a screen reader finds on a picture, and what the keyboard reaches.

use eframe::egui;
use eframe::egui::{Rect, Sense, Stroke, Ui, Vec2};

use super::shown::Shown;
use super::to_screen;
use crate::drawing::{self, Subject};
use crate::geometry::{Point2, View};
use crate::window::theme::Theme;

/// What a subject is, in a sentence with its numbers.
pub(super) fn describe(shown: &Shown<'_>, subject: Subject) -> String {
    if let (Subject::Row(row), Some(caught)) = (subject, shown.caught)
        && let Some(says) = caught.sentence(row)
        && let Some(row) = shown.project.bar.row(row)
    {
        return format!("Row {}, {says}", row.number);
    }
    drawing::describe(shown.project, shown.routing, shown.outcome, subject, shown.project.units)
}

/// Every part, hose and row as something a screen reader can find, read and focus, but for what is found `elsewhere`; gives
/// the one that was focused.
pub(super) fn accessible(
    ui: &mut Ui,
    rect: Rect,
    view: &View,
    shown: &Shown<'_>,
    elsewhere: impl Fn(Point2) -> bool,
) -> Option<Subject> {
    let routing = shown.routing;
    let bar = &shown.project.bar;
    let mut places: Vec<(Subject, Point2)> = Vec::new();
    for part in routing.geometry.anchors.parts() {
        places.push((Subject::Part(part.id), part.at.flat()));
    }
    for run in &routing.runs {
        if let Some(laid) = routing.geometry.run(run.id) {
            let middle = laid.path[laid.path.len() / 2].place;
            let before = laid.path[(laid.path.len() / 2).saturating_sub(1)].place;
            places.push((Subject::Run(run.id), before.towards(middle, 0.5).flat()));
        }
    }
    for row in &bar.rows {
        places.push((Subject::Row(row.id), bar.outlet(row).flat()));
    }
    let mut focused = None;
    for (subject, place) in places {
        let at = to_screen(rect, view, place);
        let area = Rect::from_center_size(at, Vec2::splat(14.0)).intersect(rect);
        if !area.is_positive() || elsewhere(place) {
            continue;
        }
        let response = ui.interact(
            area,
            ui.scope_id().with(("subject", shown.slot, subject)),
            Sense::focusable_noninteractive(),
        );
        response.widget_info(|| {
            egui::WidgetInfo::labeled(egui::accesskit::Role::Button, true, describe(shown, subject))
        });
        if response.gained_focus() {
            focused = Some(subject);
        }
        if response.has_focus() {
            let stroke = Stroke::new(2.0, Theme::of(ui.visuals()).accent);
            ui.painter_at(rect).circle_stroke(at, 11.0, stroke);
        }
    }
    focused
}
