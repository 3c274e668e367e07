//! What stands at a field whose text can't be taken: a mark, and the reason below it. Both lie over the rest, so that a
//! wrong entry moves nothing.

use eframe::egui::accesskit::Invalid;
use eframe::egui::{
    Align2, Area, Context, Frame, Id, Label, LayerId, Margin, Order, Pos2, Rect, Response, RichText, Stroke,
    StrokeKind, TextStyle, Ui, Vec2, pos2, vec2,
};

use super::theme::Theme;
use super::typing;

/// Widest the reason may be before it goes on in another line, points.
const WIDEST: f32 = 300.0;
/// Between the field and the reason, points.
const AIR: f32 = 4.0;
/// What the frame of the reason adds to its words, points.
const FRAME: Vec2 = vec2(18.0, 12.0);

/// Marks a field, and says why while it is typed in or pointed at; for the first wrong one as long as no other wrong one is
/// typed in or pointed at.
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
    let is_in_use = field.has_focus() || field.contains_pointer();
    let (in_use, pass) = (Id::unique("wrong entry in use"), ctx.cumulative_pass_nr());
    if is_in_use {
        ctx.data_mut(|data| data.insert_temp(in_use, pass));
    }
    let another_in_use = || {
        let last: Option<u64> = ctx.data(|data| data.get_temp(in_use));
        last.is_some_and(|last| pass <= last + 1)
    };
    let says = is_in_use || (typing::is_first_wrong(ctx, field.id) && !another_in_use());
    if !says || !ui.is_rect_visible(field.rect) {
        return;
    }
    // Not over a dialog or a window that covers the field.
    let on_top = ctx.layer_id_at(field.rect.center()).unwrap_or_else(LayerId::background);
    if on_top != ui.layer_id() {
        return;
    }
    let words = format!("{name}: {why}");
    let small = TextStyle::Small.resolve(ui.style());
    let size = painter.layout(words.clone(), small, theme.warning, WIDEST).size() + FRAME;
    let at = place(field.rect, size, ctx.content_rect(), typed_in(ctx, field.id));
    Area::new(Id::unique(("why not", field.id)))
        .order(Order::Tooltip)
        .fixed_pos(at)
        .default_width(WIDEST)
        .interactable(false)
        .show(ctx, |ui| {
            let frame = Frame::popup(ui.style()).inner_margin(Margin::symmetric(7, 4));
            frame.stroke(Stroke::new(1.0, theme.warning)).show(ui, |ui| {
                ui.set_max_width(WIDEST);
                let words = RichText::new(words).color(theme.warning).small();
                ui.add(Label::new(words).wrap());
            });
        });
}

/// Where another field stands that is typed in.
fn typed_in(ctx: &Context, field: Id) -> Option<Rect> {
    let focused = ctx.memory(|memory| memory.focused()).filter(|focused| *focused != field)?;
    Some(ctx.read_response(focused)?.rect)
}

/// Where the reason has its upper left corner: below the field, else above it or beside it; never over the field that is
/// typed in.
fn place(field: Rect, size: Vec2, window: Rect, typed_in: Option<Rect>) -> Pos2 {
    let [below, above, beside] = [
        field.left_bottom() + vec2(0.0, AIR),
        field.left_top() - vec2(0.0, AIR + size.y),
        pos2(field.right() + 3.0 * AIR, field.top().min(window.bottom() - size.y)),
    ];
    let is_free = |at: &&Pos2| {
        let rect = Rect::from_min_size(**at, size);
        rect.bottom() <= window.bottom()
            && rect.top() >= window.top()
            && !typed_in.is_some_and(|other| other.expand(2.0).intersects(rect))
    };
    [below, above, beside].iter().find(is_free).copied().unwrap_or(below)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_reason_covers_neither_its_field_nor_the_one_that_is_typed_in() {
        let window = Rect::from_min_size(Pos2::ZERO, vec2(800.0, 600.0));
        let size = vec2(200.0, 40.0);
        let field = |y: f32| Rect::from_min_size(pos2(100.0, y), vec2(80.0, 20.0));
        for (own, other) in [
            (field(100.0), None),
            (field(100.0), Some(field(124.0))),
            (field(100.0), Some(field(76.0))),
            (field(575.0), None),
            (field(575.0), Some(field(550.0))),
            (field(10.0), Some(field(34.0))),
        ] {
            let found = Rect::from_min_size(place(own, size, window, other), size);
            assert!(!found.intersects(own), "{found} covers its field {own}");
            assert!(!other.is_some_and(|other| other.intersects(found)), "{found} covers {other:?}");
            assert!(window.contains_rect(found), "{found}");
        }
    }
}
