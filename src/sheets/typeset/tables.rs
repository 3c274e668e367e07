//! Tables: widths of their columns, their lines, how many stand side by side, and what is kept together where a page turns.

use std::ops::Range;

use super::setter::{LAYER, NOTE, Setter, TEXT, WHOLE, plain};
use crate::drawing::paper::{Anchor, LINE_FEED, MarkKind, NARROW, Shade, Style, WIDE, sized};
use crate::geometry::Point2;
use crate::sheets::document::{Align, PaperCell, PaperColumn, PaperTable};

/// Of tables.
const TABLE: f64 = 2.0;

/// Of tables that are filled in at the bar, in bad light and with dirty hands.
const FILLED_IN: f64 = 2.5;

/// Padding of a table's cells.
const PADDING: f64 = 1.2;

/// Height of a cell to write into.
const WRITE_IN: f64 = 6.0;

/// Side of a box to tick.
const TICK: f64 = 2.6;

/// Between two strips of a table.
const GAP: f64 = 4.0;

/// A long table stands in up to so many strips side by side.
const MOST_STRIPS: usize = 3;

/// Strips side by side must save this share of the height.
const WORTH_IT: f64 = 0.25;

/// A table in fewer lines stands in one strip.
const FEW_LINES: usize = 8;

/// Notes up to this height stay with the end of their table, millimetres.
const SHORT_NOTES: f64 = 30.0;

/// A line of a table as it stands below its heading.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum TableLine {
    /// Words above the rows of one kind, by their place in [`PaperTable::groups`].
    Group(usize),
    /// A row.
    Row(usize),
}

/// How a table is set.
struct TableLayout {
    /// Strips side by side.
    strips: usize,
    /// Of one strip, millimetres.
    width: f64,
    style: Style,
    /// Of the columns.
    widths: Vec<f64>,
    heading: f64,
    lines: Vec<TableLine>,
    /// Of the lines, millimetres.
    heights: Vec<f64>,
}

impl TableLayout {
    fn height(&self) -> f64 {
        self.heights.iter().sum::<f64>() / self.strips as f64
    }

    /// Left edge of a strip.
    fn left(&self, from: f64, strip: usize) -> f64 {
        from + strip as f64 * (self.width + GAP)
    }

    /// The group that a line stands in without naming it: it is said again where a strip begins.
    fn group_of(&self, at: usize) -> Option<usize> {
        if !matches!(self.lines.get(at)?, TableLine::Row(_)) {
            return None;
        }
        self.lines[..at].iter().rev().find_map(|line| match line {
            TableLine::Group(group) => Some(*group),
            TableLine::Row(_) => None,
        })
    }

    /// The height that a strip needs before its first line.
    fn said_again(&self, at: usize) -> f64 {
        let group = self.group_of(at);
        let line = group.and_then(|group| self.lines.iter().position(|one| *one == TableLine::Group(group)));
        line.map_or(0.0, |line| self.heights[line])
    }

    /// Lines of each strip of one page, from a line on, in so much height; no strip ends with the words of a group.
    fn fill(&self, from: usize, height: f64) -> Vec<Range<usize>> {
        let mut strips = Vec::new();
        let mut start = from;
        for _ in 0..self.strips {
            let mut end = start;
            let mut used = if start < self.lines.len() { self.said_again(start) } else { 0.0 };
            while end < self.lines.len() && used + self.heights[end] <= height + 1e-9 {
                used += self.heights[end];
                end += 1;
            }
            while end > start && end < self.lines.len() && matches!(self.lines[end - 1], TableLine::Group(_))
            {
                end -= 1;
            }
            strips.push(start..end);
            start = end;
        }
        strips
    }

    /// All that is left, in strips of about one height; none if it does not fit.
    fn rest(&self, from: usize, room: f64) -> Option<Vec<Range<usize>>> {
        let all = self.heights[from..].iter().sum::<f64>();
        let mut height = all / self.strips as f64;
        while height <= room + 1e-9 {
            let strips = self.fill(from, height);
            if strips.last().is_none_or(|last| last.end == self.lines.len()) {
                return Some(strips);
            }
            height += 1.0;
        }
        let strips = self.fill(from, room);
        strips.last().is_none_or(|last| last.end == self.lines.len()).then_some(strips)
    }
}

impl Setter<'_> {
    /// Height of a line of a table.
    fn row_height(&self, table: &PaperTable, row: &[PaperCell], widths: &[f64], style: Style) -> f64 {
        let lines = self.row_lines(table, row, widths, style).iter().map(Vec::len).max().unwrap_or(1).max(1);
        let height = lines as f64 * style.height * LINE_FEED + 1.2 * self.squeeze;
        if row.contains(&PaperCell::FillIn) { height.max(WRITE_IN) } else { height }
    }

    /// Height of a table's notes.
    fn notes_height(&self, table: &PaperTable) -> f64 {
        let lines = table.notes.iter().map(|note| self.wrapped(note, plain(NOTE), self.room.width()).len());
        1.0 + lines.map(|lines| lines as f64 * NOTE * LINE_FEED + 0.4).sum::<f64>()
    }

    /// How a table is set: in one strip, or in several side by side where that saves a good part of its height and no
    /// word has to be made smaller or broken for it.
    fn layout(&self, table: &PaperTable) -> TableLayout {
        let mut best = self.layout_in(table, 1);
        if !table.totals.is_empty() || table.rows.len() < FEW_LINES {
            return best;
        }
        for strips in 2..=MOST_STRIPS {
            let width = (self.room.width() - GAP * (strips - 1) as f64) / strips as f64;
            if !self.columns(table, width).2 {
                break;
            }
            let layout = self.layout_in(table, strips);
            if layout.height() <= best.height() * (1.0 - WORTH_IT) {
                best = layout;
            }
        }
        best
    }

    fn layout_in(&self, table: &PaperTable, strips: usize) -> TableLayout {
        let width = (self.room.width() - GAP * (strips - 1) as f64) / strips as f64;
        let (height, widths, _) = self.columns(table, width);
        let style = plain(height);
        let headings = table.columns.iter().zip(&widths).map(|(column, width)| {
            self.wrapped(&column.heading_with_unit(), style.bold(), width - 2.0 * PADDING).len()
        });
        let heading = headings.max().unwrap_or(1) as f64 * height * LINE_FEED + 2.0;
        let mut lines = Vec::with_capacity(table.rows.len() + table.groups.len());
        for row in 0..table.rows.len() {
            let groups = table.groups.iter().enumerate().filter(|(_, group)| group.before == row);
            lines.extend(groups.map(|(at, _)| TableLine::Group(at)));
            lines.push(TableLine::Row(row));
        }
        let heights = lines.iter().map(|line| match *line {
            TableLine::Row(row) => self.row_height(table, &table.rows[row], &widths, style),
            TableLine::Group(group) => {
                let words = self.wrapped(&table.groups[group].words, style.bold(), width - 2.0 * PADDING);
                words.len() as f64 * height * LINE_FEED + 1.6 * self.squeeze
            }
        });
        let heights = heights.collect();
        TableLayout { strips, width, style, widths, heading, lines, heights }
    }

    fn totals_height(&self, table: &PaperTable, layout: &TableLayout) -> f64 {
        table.totals.iter().map(|row| self.row_height(table, row, &layout.widths, layout.style)).sum()
    }

    /// What of a table must stand on one page with its caption: all of a short one, or two lines.
    pub(super) fn table_start(&self, table: &PaperTable) -> f64 {
        let table = &table.on_pages();
        let layout = self.layout(table);
        self.start_of(table, &layout)
    }

    fn start_of(&self, table: &PaperTable, layout: &TableLayout) -> f64 {
        let caption = TEXT * LINE_FEED + 0.8 + layout.heading;
        let highest = layout.heights.iter().copied().fold(0.0, f64::max);
        let spare = if layout.strips > 1 { highest } else { 0.0 };
        let whole =
            caption + layout.height() + spare + self.totals_height(table, layout) + self.notes_height(table);
        if whole <= self.room.depth() * WHOLE {
            return whole;
        }
        // The words of a group stand with the line after them.
        caption + layout.heights.iter().take(if table.groups.is_empty() { 2 } else { 3 }).sum::<f64>()
    }

    pub(super) fn table(&mut self, table: &PaperTable) {
        if table.columns.is_empty() {
            return;
        }
        let table = &table.on_pages();
        let layout = self.layout(table);
        let style = layout.style;
        self.need(self.start_of(table, &layout));
        self.paragraph(&table.caption, plain(TEXT).bold(), 0.0);
        self.space(0.8);
        let notes = self.notes_height(table);
        // The last two lines stay with the sums and, where these are few, the notes.
        let tail = self.totals_height(table, &layout) + if notes <= SHORT_NOTES { notes } else { 0.0 };
        let mut next = 0;
        let mut is_continued = false;
        loop {
            if is_continued {
                self.turn_page();
                let caption = format!("{} (continued)", table.caption);
                self.paragraph(&caption, plain(TEXT).bold(), 0.0);
                self.space(0.8);
            }
            let room = self.y - self.room.min.y - layout.heading;
            let many = layout.lines.len();
            let (strips, is_last) = match layout.rest(next, room - tail) {
                Some(strips) => (strips, true),
                None => (Self::part_of(&layout, next, room), false),
            };
            self.strips(table, &layout, &strips, is_continued);
            let end = strips.last().map_or(many, |last| last.end);
            if is_last || end >= many {
                break;
            }
            // What is higher than a page stands alone on one.
            next = end.max(next);
            is_continued = true;
        }
        for (index, row) in table.totals.iter().enumerate() {
            if index == 0 {
                self.rule(WIDE);
            }
            let height = self.row_height(table, row, &layout.widths, style);
            self.need(height);
            let (left, top) = (self.room.min.x, self.y);
            self.table_row(table, row, &layout.widths, style.bold(), (left, top));
            self.y -= height;
            self.rule(NARROW);
        }
        self.space(1.0);
        for note in &table.notes {
            self.paragraph(note, plain(NOTE), 0.0);
            self.space(0.4);
        }
        self.space(2.4);
    }

    /// The lines of a page that others follow: as many as fit, and two are left for the last.
    fn part_of(layout: &TableLayout, next: usize, room: f64) -> Vec<Range<usize>> {
        let many = layout.lines.len();
        let mut strips = layout.fill(next, room);
        let filled = strips.last().map_or(next, |last| last.end);
        if filled == next {
            // Nothing fits, on an empty page neither: one line all the same.
            strips[0] = next..(next + 1).min(many);
            for strip in &mut strips[1..] {
                *strip = (next + 1).min(many)..(next + 1).min(many);
            }
            return strips;
        }
        let keep = 2.min(many - next - 1);
        let end = filled.min(many - keep);
        for strip in &mut strips {
            strip.start = strip.start.min(end);
            strip.end = strip.end.min(end);
        }
        strips
    }

    /// One page's strips below their headings.
    fn strips(
        &mut self,
        table: &PaperTable,
        layout: &TableLayout,
        strips: &[Range<usize>],
        is_continued: bool,
    ) {
        let (from, top, style) = (self.room.min.x, self.y, layout.style);
        let heading = if is_continued { Style { bold: false, ..style } } else { style.bold() };
        let mut lowest = top - layout.heading;
        for (number, strip) in strips.iter().enumerate() {
            if strip.is_empty() && number > 0 {
                continue;
            }
            let left = layout.left(from, number);
            self.table_heading(table, layout, heading, (left, top));
            let mut y = top - layout.heading;
            let line = |setter: &mut Self, y: f64, width: f64| {
                setter.draw(|page| {
                    let ends = [Point2::new(left, y), Point2::new(left + layout.width, y)];
                    page.line(LAYER, &ends, width, crate::drawing::Dash::Solid);
                });
            };
            line(self, y, 0.35);
            if let Some(group) = (!strip.is_empty()).then(|| layout.group_of(strip.start)).flatten() {
                let height = layout.said_again(strip.start);
                self.group(&table.groups[group].words, layout, height, (left, y));
                y -= height;
                line(self, y, NARROW);
            }
            for at in strip.clone() {
                match layout.lines[at] {
                    TableLine::Group(group) => {
                        self.group(&table.groups[group].words, layout, layout.heights[at], (left, y));
                    }
                    TableLine::Row(row) => {
                        self.table_row(table, &table.rows[row], &layout.widths, style, (left, y));
                    }
                }
                y -= layout.heights[at];
                line(self, y, NARROW);
            }
            lowest = lowest.min(y);
        }
        self.y = lowest;
    }

    /// The words above the rows of one kind.
    fn group(&mut self, words: &str, layout: &TableLayout, height: f64, (left, top): (f64, f64)) {
        let style = layout.style.bold();
        let lines = self.wrapped(words, style, layout.width - 2.0 * PADDING);
        self.draw(|page| {
            page.area(LAYER, &sized(left, top - height, layout.width, height), 0.0, Some(Shade::GROUND));
            for (index, line) in lines.iter().enumerate() {
                let y = top - 0.8 - (index as f64 * LINE_FEED + LINE_FEED * 0.75) * style.height;
                page.words(Point2::new(left + PADDING, y), line, style);
            }
        });
    }

    /// Height of the words of a table, the widths of its columns, and whether they fit without making words smaller:
    /// numbers get what they need, words share the rest by weight. Where even that is too wide, the words get smaller.
    fn columns(&self, table: &PaperTable, room: f64) -> (f64, Vec<f64>, bool) {
        let mut last = (1.4, Vec::new(), false);
        let usual = if table.is_filled_in() { FILLED_IN } else { TABLE };
        let heights = [usual, TABLE, 1.8, 1.6, 1.4].into_iter().filter(|height| *height <= usual);
        for height in heights {
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
                    let cell = |(cell, bold): (&PaperCell, bool)| match (cell, column.align) {
                        (PaperCell::FillIn, _) => 14.0,
                        (PaperCell::Tick, _) => TICK,
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
                return (height, widths, height >= usual);
            }
            let factor = room / least.iter().sum::<f64>().max(1e-9);
            last = (height, least.iter().map(|width| width * factor).collect(), false);
        }
        last
    }

    fn table_heading(
        &mut self,
        table: &PaperTable,
        layout: &TableLayout,
        style: Style,
        (left, top): (f64, f64),
    ) {
        let cells: Vec<Vec<String>> = table
            .columns
            .iter()
            .zip(&layout.widths)
            .map(|(column, width)| {
                // As wide as bold, so that it has the height that was reckoned with.
                self.wrapped(&column.heading_with_unit(), style.bold(), width - 2.0 * PADDING)
            })
            .collect();
        let (width, height) = (layout.width, layout.heading);
        self.draw(|page| {
            page.area(LAYER, &sized(left, top - height, width, height), 0.0, Some(Shade::GROUND));
        });
        self.cells(&table.columns, &cells, &layout.widths, style, (left, top));
    }

    /// The words of a line of a table, broken into lines.
    fn row_lines(
        &self,
        table: &PaperTable,
        row: &[PaperCell],
        widths: &[f64],
        style: Style,
    ) -> Vec<Vec<String>> {
        row.iter()
            .zip(&table.columns)
            .zip(widths)
            .map(|((cell, column), width)| match (cell, column.align) {
                (PaperCell::Number { text, .. }, _) => vec![text.clone()],
                (cell, Align::Number) if !cell.printed().contains(' ') => vec![cell.printed().to_owned()],
                (cell, _) => self.wrapped(cell.printed(), style, width - 2.0 * PADDING),
            })
            .collect()
    }

    /// A line of a table from its upper left corner.
    fn table_row(
        &mut self,
        table: &PaperTable,
        row: &[PaperCell],
        widths: &[f64],
        style: Style,
        (left, top): (f64, f64),
    ) {
        let cells = self.row_lines(table, row, widths, style);
        let height = self.row_height(table, row, widths, style);
        let mut x = left;
        for (cell, width) in row.iter().zip(widths) {
            let bounds = match cell {
                PaperCell::FillIn => Some(sized(x + 0.6, top - height + 0.5, width - 1.2, height - 1.0)),
                PaperCell::Tick => {
                    Some(sized(x + (width - TICK) / 2.0, top - f64::midpoint(height, TICK), TICK, TICK))
                }
                PaperCell::Text(_) | PaperCell::Number { .. } | PaperCell::Empty => None,
            };
            if let Some(bounds) = bounds {
                let shade = if *cell == PaperCell::Tick { Shade::INK } else { Shade::SOFT };
                self.draw(|page| {
                    page.mark(
                        LAYER,
                        MarkKind::Area {
                            points: crate::drawing::paper::corners(&bounds),
                            line: Some((NARROW, shade)),
                            fill: None,
                        },
                    );
                });
            }
            x += width;
        }
        self.cells(&table.columns, &cells, widths, style, (left, top));
    }

    /// The words of one line of cells, from its upper left corner.
    fn cells(
        &mut self,
        columns: &[PaperColumn],
        cells: &[Vec<String>],
        widths: &[f64],
        style: Style,
        (left, top): (f64, f64),
    ) {
        let top = top - 0.8;
        let mut x = left;
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
