//! What stands at a field whose text can't be taken: a mark, and the reason below it. Both lie over the rest, so that a
//! wrong entry moves nothing.

use eframe::egui::accesskit::Invalid;
use eframe::egui::{
    Align2, Area, Frame, Id, Label, LayerId, Margin, Order, Response, RichText, Stroke, StrokeKind, Ui, vec2,
};

use super::theme::Theme;
use super::typing;

/// Widest the reason may be before it goes on in another line, points.
const WIDEST: f32 = 300.0;
/// Room that the reason needs below its field, points.
const ROOM: f32 = 48.0;

/// Marks a field, and says why while it is typed in or pointed at; for the first wrong one, also while nothing else is
/// typed in.
pub(super) fn mark(ui: &Ui, field: &Response, name: &str, why: &str) {
    let (ctx, theme) = (ui.ctx(), Theme::of(ui.visuals()));
    ctx.accesskit_node_builder(field.id, |node| {
        node.set_invalid(Invalid::True);
        node.set_description(why.to_owned());
    });
    let painter = ui.painter();
    painter.rect_stroke(field.rect, 2.0, Stroke::new(1.5, theme.warning), StrokeKind::Outside);
    let corner = field.rect.right_top();
    painter.circle_filled(corner, 6.0, theme.warning);
    painter.text(corner, Align2::CENTER_CENTER, "!", eframe::egui::FontId::proportional(11.0), theme.paper);
    let nothing_else = !ctx.text_edit_focused() && typing::is_first_wrong(ctx, field.id);
    if !(field.has_focus() || field.contains_pointer() || nothing_else) || !ui.is_rect_visible(field.rect) {
        return;
    }
    // Not over a dialog or a window that covers the field.
    let on_top = ctx.layer_id_at(field.rect.center()).unwrap_or_else(LayerId::background);
    if on_top != ui.layer_id() {
        return;
    }
    let is_low = field.rect.bottom() + ROOM > ctx.content_rect().bottom();
    let (at, pivot) = if is_low {
        (field.rect.left_top() - vec2(0.0, 4.0), Align2::LEFT_BOTTOM)
    } else {
        (field.rect.left_bottom() + vec2(0.0, 4.0), Align2::LEFT_TOP)
    };
    Area::new(Id::unique(("why not", field.id)))
        .order(Order::Tooltip)
        .fixed_pos(at)
        .pivot(pivot)
        .default_width(WIDEST)
        .interactable(false)
        .show(ctx, |ui| {
            let frame = Frame::popup(ui.style()).inner_margin(Margin::symmetric(7, 4));
            frame.stroke(Stroke::new(1.0, theme.warning)).show(ui, |ui| {
                ui.set_max_width(WIDEST);
                let words = RichText::new(format!("{name}: {why}")).color(theme.warning).small();
                ui.add(Label::new(words).wrap());
            });
        });
}
