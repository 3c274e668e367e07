//! Tables: widths of their columns, their lines, and what is kept together where a page turns.

use super::setter::{LAYER, NOTE, Setter, TEXT, WHOLE, plain};
use crate::drawing::paper::{Anchor, LINE_FEED, MarkKind, NARROW, Shade, Style, WIDE, sized};
use crate::geometry::Point2;
use crate::sheets::document::{Align, Cell, Column, Table};

/// Of tables.
const TABLE: f64 = 2.0;

/// Padding of a table's cells.
const PADDING: f64 = 1.2;

/// Height of a cell to write into.
const WRITE_IN: f64 = 5.4;

impl Setter<'_> {
    /// Height of a line of a table.
    fn row_height(&self, table: &Table, row: &[Cell], widths: &[f64], style: Style) -> f64 {
        let lines = self.row_lines(table, row, widths, style).iter().map(Vec::len).max().unwrap_or(1).max(1);
        let height = lines as f64 * style.height * LINE_FEED + 1.4 * self.squeeze;
        if row.contains(&Cell::FillIn) { height.max(WRITE_IN - 1.5 * (1.0 - self.squeeze)) } else { height }
    }

    /// Height of a table's notes.
    fn notes_height(&self, table: &Table) -> f64 {
        let lines = table.notes.iter().map(|note| self.wrapped(note, plain(NOTE), self.room.width()).len());
        1.0 + lines.map(|lines| lines as f64 * NOTE * LINE_FEED + 0.4).sum::<f64>()
    }

    /// What of a table must stand on one page with its caption: all of a short one, or two lines.
    pub(super) fn table_start(&self, table: &Table) -> f64 {
        let (height, widths) = self.columns(table);
        let style = plain(height);
        let headings = table.columns.iter().zip(&widths).map(|(column, width)| {
            self.wrapped(&column.heading_with_unit(), style.bold(), width - 2.0 * PADDING).len()
        });
        let caption = TEXT * LINE_FEED + 0.8 + headings.max().unwrap_or(1) as f64 * height * LINE_FEED + 2.0;
        let row = |row: &Vec<Cell>| self.row_height(table, row, &widths, style);
        let rows: f64 = table.rows.iter().map(row).sum();
        let totals: f64 = table.totals.iter().map(row).sum();
        let whole = caption + rows + totals + self.notes_height(table);
        if whole <= self.room.depth() * WHOLE {
            return whole;
        }
        caption + table.rows.iter().take(2).map(row).sum::<f64>()
    }

    pub(super) fn table(&mut self, table: &Table) {
        if table.columns.is_empty() {
            return;
        }
        let (height, widths) = self.columns(table);
        let style = plain(height);
        self.need(self.table_start(table));
        self.paragraph(&table.caption, plain(TEXT).bold(), 0.0);
        self.space(0.8);
        self.table_heading(table, &widths, style);
        // The last two lines stay with the sums and, where these are few, the notes.
        let row_height = |row: &Vec<Cell>| self.row_height(table, row, &widths, style);
        let sums: f64 = table.totals.iter().map(row_height).sum();
        let notes = self.notes_height(table);
        let end = sums + if notes <= 30.0 { notes } else { 0.0 };
        let heights: Vec<f64> = table.rows.iter().map(row_height).collect();
        for (index, row) in table.rows.iter().enumerate() {
            let left = heights.len() - index;
            let keep = if left == 2 || (left == 1 && heights.len() == 1) {
                heights[index..].iter().sum::<f64>() + end
            } else {
                heights[index]
            };
            self.table_row(table, row, &widths, style, keep);
        }
        for (index, row) in table.totals.iter().enumerate() {
            if index == 0 {
                self.rule(WIDE);
            }
            self.table_row(table, row, &widths, style.bold(), 0.0);
        }
        self.space(1.0);
        for note in &table.notes {
            self.paragraph(note, plain(NOTE), 0.0);
            self.space(0.4);
        }
        self.space(2.4);
    }

    /// Height of the words of a table and the widths of its columns: numbers get what they need, words share the
    /// rest by weight. Where even that is too wide, the words get smaller.
    fn columns(&self, table: &Table) -> (f64, Vec<f64>) {
        let room = self.room.width();
        let mut last = (1.4, Vec::new());
        for height in [TABLE, 1.8, 1.6, 1.4] {
            let measure = |words: &str, bold: bool| self.letters.width(words, bold) * height;
            let longest_word =
                |words: &str| words.split_whitespace().map(|word| measure(word, true)).fold(0.0, f64::max);
            let least: Vec<f64> = table
                .columns
                .iter()
                .enumerate()
                .map(|(index, column)| {
                    let rows = table.rows.iter().map(|row| (row, false));
                    let cells = rows.chain(table.totals.iter().map(|row| (row, true)));
                    let words = cells.filter_map(|(row, bold)| Some((row.get(index)?, bold)));
                    let cell = |(cell, bold): (&Cell, bool)| match (cell, column.align) {
                        (Cell::FillIn, _) => 14.0,
                        (cell, Align::Number) => measure(cell.printed(), bold),
                        // No word of up to a dozen letters is broken.
                        (cell, Align::Text) => longest_word(cell.printed()).min(height * 11.0),
                    };
                    let heading = longest_word(&column.heading_with_unit());
                    words.map(cell).fold(heading, f64::max) + 2.0 * PADDING + 0.1
                })
                .collect();
            let weights: f64 = table.columns.iter().map(|column| column.width.max(0.01)).sum();
            let spare = room - least.iter().sum::<f64>();
            if spare >= 0.0 {
                // By weight where that is enough, never below the least.
                let mut widths: Vec<f64> =
                    table.columns.iter().map(|column| room * column.width.max(0.01) / weights).collect();
                let short: f64 =
                    widths.iter().zip(&least).map(|(width, least)| (least - width).max(0.0)).sum();
                let over: f64 =
                    widths.iter().zip(&least).map(|(width, least)| (width - least).max(0.0)).sum();
                for (width, least) in widths.iter_mut().zip(&least) {
                    *width = if *width < *least {
                        *least
                    } else {
                        *width - (*width - least) * short / over.max(1e-9)
                    };
                }
                return (height, widths);
            }
            let factor = room / least.iter().sum::<f64>().max(1e-9);
            last = (height, least.iter().map(|width| width * factor).collect());
        }
        last
    }

    fn table_heading(&mut self, table: &Table, widths: &[f64], style: Style) {
        let bold = style.bold();
        let cells: Vec<Vec<String>> = table
            .columns
            .iter()
            .zip(widths)
            .map(|(column, width)| self.wrapped(&column.heading_with_unit(), bold, width - 2.0 * PADDING))
            .collect();
        let lines = cells.iter().map(Vec::len).max().unwrap_or(1);
        let height = lines as f64 * style.height * LINE_FEED + 2.0;
        let (left, top, width) = (self.room.min.x, self.y, self.room.width());
        self.draw(|page| {
            page.area(LAYER, &sized(left, top - height, width, height), 0.0, Some(Shade::GROUND));
        });
        self.cells(&table.columns, &cells, widths, bold);
        self.y -= height;
        self.rule(0.35);
    }

    /// The words of a line of a table, broken into lines.
    fn row_lines(&self, table: &Table, row: &[Cell], widths: &[f64], style: Style) -> Vec<Vec<String>> {
        row.iter()
            .zip(&table.columns)
            .zip(widths)
            .map(|((cell, column), width)| match (cell, column.align) {
                (Cell::Number { text, .. }, _) => vec![text.clone()],
                (cell, Align::Number) if !cell.printed().contains(' ') => vec![cell.printed().to_owned()],
                (cell, _) => self.wrapped(cell.printed(), style, width - 2.0 * PADDING),
            })
            .collect()
    }

    /// A line of a table, with so much height kept for what must stand below it.
    fn table_row(&mut self, table: &Table, row: &[Cell], widths: &[f64], style: Style, keep: f64) {
        let cells = self.row_lines(table, row, widths, style);
        let height = self.row_height(table, row, widths, style);
        if self.need(height.max(keep)) {
            let caption = format!("{} (continued)", table.caption);
            self.paragraph(&caption, plain(TEXT).bold(), 0.0);
            self.space(0.8);
            self.table_heading(table, widths, Style { bold: false, ..style });
        }
        let (left, top) = (self.room.min.x, self.y);
        let mut x = left;
        for (cell, width) in row.iter().zip(widths) {
            if *cell == Cell::FillIn {
                let bounds = sized(x + 0.6, top - height + 0.5, width - 1.2, height - 1.0);
                self.draw(|page| {
                    page.mark(
                        LAYER,
                        MarkKind::Area {
                            points: crate::drawing::paper::corners(&bounds),
                            line: Some((NARROW, Shade::SOFT)),
                            fill: None,
                        },
                    );
                });
            }
            x += width;
        }
        self.cells(&table.columns, &cells, widths, style);
        self.y -= height;
        self.rule(NARROW);
    }

    /// The words of one line of cells, from the present height down.
    fn cells(&mut self, columns: &[Column], cells: &[Vec<String>], widths: &[f64], style: Style) {
        let top = self.y - 0.9;
        let mut x = self.room.min.x;
        for ((lines, column), width) in cells.iter().zip(columns).zip(widths) {
            for (index, line) in lines.iter().enumerate() {
                let y = top - (index as f64 * LINE_FEED + LINE_FEED * 0.75) * style.height;
                let (at, anchor) = match column.align {
                    Align::Text => (x + PADDING, Anchor::Left),
                    Align::Number => (x + width - PADDING, Anchor::Right),
                };
                self.draw(|page| {
                    page.words(Point2::new(at, y), line, style.anchor(anchor));
                });
            }
            x += width;
        }
    }
}
