//! Things of any width from left to right, in as many lines as the room asks for, none of them parted.

use std::ops::Range;

use eframe::egui::{Id, Ui};

/// A width to begin with, points: that of a control.
const GUESS: f32 = 140.0;
/// The share of the gap that is left where that saves a line.
const TIGHT: f32 = 0.4;

/// Shows so many things with a gap between them, a narrower one where that saves a line. How wide each is comes from the pass before; where that has changed the
/// lines, the pass is laid out once more.
pub(super) fn in_lines(
    ui: &mut Ui,
    name: &str,
    gap: f32,
    count: usize,
    mut show: impl FnMut(&mut Ui, usize),
) {
    let id = Id::unique(("in lines", name));
    let room = ui.available_width();
    let before: Vec<f32> = ui.ctx().data(|data| data.get_temp(id)).unwrap_or_default();
    let before = if before.len() == count { before } else { vec![GUESS; count] };
    // Closer together rather than in another line: the drawing needs its room.
    let tight = gap * TIGHT;
    let gap =
        if divided(&before, tight, room).len() < divided(&before, gap, room).len() { tight } else { gap };
    let lines = divided(&before, gap, room);
    let inner = ui.spacing().item_spacing;
    let mut now = Vec::with_capacity(count);
    for line in &lines {
        ui.horizontal(|ui| {
            ui.spacing_mut().item_spacing.x = gap;
            for at in line.clone() {
                let shown = ui.scope(|ui| {
                    ui.spacing_mut().item_spacing = inner;
                    show(ui, at);
                });
                now.push(shown.response.rect.width());
            }
        });
    }
    if divided(&now, gap, room) != lines {
        ui.ctx().request_discard("lines are divided otherwise");
    }
    ui.ctx().data_mut(|data| data.insert_temp(id, now));
}

/// Which things stand in which line: as many as fit, one at least.
fn divided(widths: &[f32], gap: f32, room: f32) -> Vec<Range<usize>> {
    let mut lines = Vec::new();
    let (mut first, mut right) = (0, 0.0);
    for (at, width) in widths.iter().enumerate() {
        if at > first && right + width > room {
            lines.push(first..at);
            (first, right) = (at, 0.0);
        }
        right += width + gap;
    }
    if first < widths.len() {
        lines.push(first..widths.len());
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_holds_what_fits_and_one_thing_at_least() {
        assert_eq!(divided(&[40.0, 40.0, 40.0], 10.0, 90.0), [0..2, 2..3]);
        assert_eq!(divided(&[40.0, 40.0], 10.0, 89.0), [0..1, 1..2]);
        assert_eq!(divided(&[200.0, 40.0], 10.0, 90.0), [0..1, 1..2]);
        assert_eq!(divided(&[], 10.0, 90.0), Vec::<Range<usize>>::new());
    }
}
