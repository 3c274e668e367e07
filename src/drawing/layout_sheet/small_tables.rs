//! Small tables of figures where a sheet has room for them.

use super::sheet_drawing::SheetDrawing;
use crate::drawing::layout_tables::{LayoutTable, hoses, manifolds, places};
use crate::drawing::paper::{NARROW, PageDraft, PaperLayer, SMALL, Shade, Style, sized};
use crate::drawing::scene::Dash;
use crate::geometry::Point2;

impl SheetDrawing<'_, '_> {
    /// Manifolds, hoses and places in figures, side by side, those that have room; the sheet of tables has all.
    pub(super) fn tables(&self, draft: &mut PageDraft, top: f64, bottom: f64) {
        let mut x = self.area.min.x + 8.0;
        for table in [manifolds(self.source), hoses(self.source), places(self.source)] {
            let widths = small_table_widths(draft, &table);
            let width: f64 = widths.iter().sum();
            let height = (table.lines.len() + 1) as f64 * TABLE_LINE;
            if table.lines.is_empty() || x + width > self.area.max.x - 4.0 || height > top - bottom {
                continue;
            }
            small_table(draft, Point2::new(x, top), &table, &widths);
            x += width + 8.0;
        }
    }
}

/// Distance of two lines of a table on a drawing.
pub(super) const TABLE_LINE: f64 = 4.2;

pub(super) fn small_table_widths(draft: &PageDraft, table: &LayoutTable) -> Vec<f64> {
    let bold = Style::plain(PaperLayer::Sheet, SMALL).bold();
    (0..table.heading.len())
        .map(|column| {
            let cells =
                std::iter::once(&table.heading).chain(&table.lines).filter_map(|line| line.get(column));
            cells.map(|cell| draft.width_of(cell, bold)).fold(4.0, f64::max) + 3.0
        })
        .collect()
}

pub(super) fn small_table(draft: &mut PageDraft, at: Point2, table: &LayoutTable, widths: &[f64]) {
    let layer = PaperLayer::Sheet;
    let width: f64 = widths.iter().sum();
    for (index, line) in std::iter::once(&table.heading).chain(&table.lines).enumerate() {
        let y = at.y - (index + 1) as f64 * TABLE_LINE;
        let mut style = Style::plain(layer, SMALL);
        if index == 0 {
            style = style.bold();
            draft.area(layer, &sized(at.x, y, width, TABLE_LINE), 0.0, Some(Shade::GROUND));
        }
        let mut x = at.x;
        for (cell, width) in line.iter().zip(widths) {
            draft.words(Point2::new(x + 1.5, y + 1.2), cell, style);
            x += width;
        }
        draft.line(layer, &[Point2::new(at.x, y), Point2::new(at.x + width, y)], NARROW, Dash::Solid);
    }
}
