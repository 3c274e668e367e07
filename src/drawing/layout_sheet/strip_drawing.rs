//! Draws the strip of the rows below a drawing.

use super::row_strip::{RowStrip, UPRIGHT};
use super::sheet_drawing::SheetDrawing;
use super::sheets::{STRIP_FEED, STRIP_GAP};
use crate::drawing::Subject;
use crate::drawing::paper::{Anchor, NARROW, PageDraft, PaperLayer, Shade, Style, USUAL, View};
use crate::drawing::scene::Dash;
use crate::geometry::{Bounds, Point2};

impl SheetDrawing<'_, '_> {
    /// One column a row below the drawing: what feeds it and how.
    pub(super) fn row_strip(
        &self,
        draft: &mut PageDraft,
        strip: &RowStrip,
        view: &View,
        window: &Bounds,
        top: f64,
    ) {
        let layer = PaperLayer::Words;
        let columns: Vec<f64> = strip.columns.iter().map(|at| view.origin.x + at).collect();
        let (Some(first), Some(last)) = (columns.first(), columns.last()) else { return };
        let half = if strip.upright { UPRIGHT / 2.0 } else { 5.0 };
        let (left, right) = (window.min.x.min(first - half), window.max.x.max(last + half));
        let mut y = top;
        for (line, (name, height, cells)) in strip.lines.iter().enumerate() {
            let heading = Style::plain(layer, USUAL).shade(Shade::SOFT).anchor(Anchor::Right);
            draft.words(Point2::new(left - 1.5, y - height / 2.0 - USUAL / 2.0), name, heading);
            y -= height;
            let rule = [Point2::new(left, y), Point2::new(right, y)];
            draft.shaded_line(layer, &rule, NARROW, Dash::Solid, Shade::BEHIND);
            for ((row, cell), x) in strip.rows.iter().zip(cells).zip(&columns) {
                draft.subject = Some(Subject::Row(row.id));
                let style = Style { bold: line == 0, ..Style::plain(layer, USUAL) };
                if strip.upright {
                    draft.words_up(Point2::new(x + USUAL / 2.0, y + 0.8), cell, style);
                } else {
                    draft.words(Point2::new(*x, y + USUAL * 0.45), cell, style.centred());
                }
                draft.subject = None;
            }
        }
        if !strip.alike.is_empty() {
            let at = Point2::new(f64::midpoint(left, right), y - STRIP_FEED + USUAL * 0.3);
            draft.words(at, &strip.alike, Style::plain(layer, USUAL).centred());
        }
        for (row, x) in strip.rows.iter().zip(&columns) {
            // From the outlet straight down, then across to its column.
            let outlet = view.at(self.source.project.bar.outlet(row).flat());
            let points = [
                outlet,
                Point2::new(outlet.x, top + STRIP_GAP - 4.0),
                Point2::new(*x, top + 1.5),
                Point2::new(*x, top),
            ];
            draft.subject = Some(Subject::Row(row.id));
            draft.shaded_line(PaperLayer::Notes, &points, NARROW, Dash::Solid, Shade::BEHIND);
            draft.subject = None;
        }
    }
}
