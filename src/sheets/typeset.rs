//! Documents set on pages: words broken into lines, tables into pages with their heading repeated.

use super::document::{Align, Block, Caution, Cell, Column, Document, LabelStrip, Step, Steps, Table};
use crate::drawing::Dash;
use crate::drawing::paper::{
    Anchor, Draft, LARGE, LINE_FEED, Letters, MarkKind, NARROW, PaperLayer, Shade, Style, WIDE, sized,
};
use crate::drawing::sheet_frame::{BLOCK_HEIGHT, inside};
use crate::geometry::{Bounds, Point2};

/// Height of capitals of running text, millimetres.
const TEXT: f64 = 2.2;
/// Of tables.
const TABLE: f64 = 2.0;
/// Of notes below a table.
const NOTE: f64 = 1.8;
/// Between the border and words; centring marks reach 5 mm inwards.
const MARGIN: f64 = 7.0;
/// Padding of a table's cells.
const PADDING: f64 = 1.2;
/// Height of a cell to write into.
const WRITE_IN: f64 = 6.5;
/// A last page that is filled less than this is done away with or filled up, where that can be had.
const TAIL: f64 = 0.3;
/// What the box to tick takes beside a step.
const TICK: f64 = 4.8;
/// A table, or a step, up to this share of a page stands on one.
const WHOLE: f64 = 0.4;

const LAYER: PaperLayer = PaperLayer::Sheet;

/// The pages of a document without border and title block, which every sheet gets. Where the last page would hold next to
/// nothing, the lines move closer; if that does not save the page, the others leave it more.
pub(super) fn typeset<'a>(document: &Document, size: (f64, f64), letters: &'a dyn Letters) -> Vec<Draft<'a>> {
    let usual = Setter::set(document, size, letters, (1.0, 0.0));
    let many = usual.pages.len();
    if many < 2 || usual.filled() >= TAIL {
        return usual.pages;
    }
    for squeeze in [0.8, 0.6, 0.4] {
        let closer = Setter::set(document, size, letters, (squeeze, 0.0));
        if closer.pages.len() < many {
            return closer.pages;
        }
    }
    let mut best = usual;
    for lift in [10.0, 20.0, 30.0, 40.0, 50.0, 60.0, 70.0] {
        let shorter = Setter::set(document, size, letters, (1.0, lift));
        if shorter.pages.len() > many || best.filled() >= 0.5 {
            break;
        }
        best = shorter;
    }
    best.pages
}

impl<'a> Setter<'a> {
    /// A whole document; `squeeze` of the usual room between lines and blocks, and `lift` left free at the foot.
    fn set(
        document: &Document,
        size: (f64, f64),
        letters: &'a dyn Letters,
        (squeeze, lift): (f64, f64),
    ) -> Self {
        let mut setter = Setter::new(document, size, letters);
        setter.squeeze = squeeze;
        setter.room.min.y += lift;
        let title = plain(LARGE).bold();
        setter.paragraph(&document.title, title, 0.0);
        setter.space(1.0);
        setter.paragraph(&document.subject, plain(TEXT).shade(Shade::SOFT), 0.0);
        setter.space(3.0);
        for (index, block) in document.blocks.iter().enumerate() {
            match block {
                Block::Heading(words) => {
                    // A heading stays with what follows it.
                    let rest = document.blocks.get(index + 1).map_or(0.0, |next| setter.first_height(next));
                    setter.need(2.5 + 2.8 * LINE_FEED + 1.2 + rest);
                    setter.space(2.5);
                    setter.paragraph(words, plain(2.8).bold(), 0.0);
                    setter.space(1.2);
                }
                Block::Paragraph(words) => {
                    setter.paragraph(words, plain(TEXT), 0.0);
                    setter.space(1.8);
                }
                Block::Facts(facts) => setter.facts(facts),
                Block::Steps(steps) => setter.steps(steps),
                Block::Caution(caution) => setter.caution(caution, 0.0),
                Block::Table(table) => setter.table(table),
                Block::Labels(strip) => setter.labels(strip),
            }
        }
        setter
    }

    /// How much of the last page holds something.
    fn filled(&self) -> f64 {
        (self.room.max.y - self.y) / self.room.depth()
    }
}

const fn plain(height: f64) -> Style {
    Style::plain(LAYER, height)
}

struct Setter<'a> {
    pages: Vec<Draft<'a>>,
    name: String,
    /// Words at the head of every page.
    head: String,
    size: (f64, f64),
    letters: &'a dyn Letters,
    room: Bounds,
    /// Share of the usual room between lines and blocks.
    squeeze: f64,
    /// Where the next line starts, from above.
    y: f64,
}

impl<'a> Setter<'a> {
    fn new(document: &Document, size: (f64, f64), letters: &'a dyn Letters) -> Self {
        let inner = inside(size.0, size.1);
        let room = Bounds {
            min: Point2::new(inner.min.x + MARGIN, inner.min.y + BLOCK_HEIGHT + 4.0),
            max: Point2::new(inner.max.x - MARGIN, inner.max.y - 7.0),
        };
        let mut setter = Self {
            pages: Vec::new(),
            name: document.title.clone(),
            head: document.assumed.clone(),
            size,
            letters,
            room,
            squeeze: 1.0,
            y: room.max.y,
        };
        setter.turn_page();
        setter
    }

    fn turn_page(&mut self) {
        self.pages.push(Draft::new(self.name.clone(), self.size.0, self.size.1, self.letters));
        self.y = self.room.max.y;
        if !self.head.is_empty() {
            // Above the room of the page, left of the centring mark.
            let (at, head) = (Point2::new(self.room.min.x, self.room.max.y + 2.2), self.head.clone());
            self.draw(|page| {
                page.words(at, &head, plain(NOTE));
            });
        }
    }

    /// Turns the page unless this much height is left; answers whether it did.
    fn need(&mut self, height: f64) -> bool {
        let turn = self.y - height < self.room.min.y && self.y < self.room.max.y;
        if turn {
            self.turn_page();
        }
        turn
    }

    fn space(&mut self, height: f64) {
        if self.y < self.room.max.y {
            self.y -= height * self.squeeze;
        }
    }

    fn draw(&mut self, draw: impl FnOnce(&mut Draft<'a>)) {
        if let Some(page) = self.pages.last_mut() {
            draw(page);
        }
    }

    fn wrapped(&self, words: &str, style: Style, width: f64) -> Vec<String> {
        crate::drawing::paper::wrap(self.letters, words, style, width)
    }

    fn line(&mut self, x: f64, words: &str, style: Style) {
        self.need(style.height * LINE_FEED);
        self.y -= style.height * LINE_FEED;
        let at = Point2::new(x, self.y + style.height * (LINE_FEED - 1.0) * 0.5);
        self.draw(|page| {
            page.words(at, words, style);
        });
    }

    fn paragraph(&mut self, words: &str, style: Style, indent: f64) {
        if words.is_empty() {
            return;
        }
        let lines = self.wrapped(words, style, self.room.width() - indent);
        // A short one is not parted, and no page begins or ends with a single line of a long one.
        let many = lines.len();
        for (index, line) in lines.into_iter().enumerate() {
            let together = match index {
                0 if many <= 6 => many,
                0 => 2,
                index if index + 2 == many => 2,
                _ => 1,
            };
            self.need(together as f64 * style.height * LINE_FEED);
            self.line(self.room.min.x + indent, &line, style);
        }
    }

    fn facts(&mut self, facts: &[(String, String)]) {
        let width = self.room.width();
        let names = facts.iter().map(|(name, _)| self.letters.width(name, false) * TEXT).fold(20.0, f64::max);
        let names = names.min(width * 0.45) + 4.0;
        for (name, value) in facts {
            let name_lines = self.wrapped(name, plain(TEXT), names - 4.0);
            let value_lines = self.wrapped(value, plain(TEXT), width - names);
            self.need(name_lines.len().max(value_lines.len()).min(8) as f64 * TEXT * LINE_FEED);
            let (left, top) = (self.room.min.x, self.y);
            let soft = plain(TEXT).shade(Shade::SOFT);
            for (index, line) in name_lines.iter().enumerate() {
                let y = top - (index + 1) as f64 * TEXT * LINE_FEED + TEXT * (LINE_FEED - 1.0) * 0.5;
                self.draw(|page| {
                    page.words(Point2::new(left, y), line, soft);
                });
            }
            for line in &value_lines {
                self.line(left + names, line, plain(TEXT));
            }
            self.y = self.y.min(top - name_lines.len() as f64 * TEXT * LINE_FEED);
        }
        self.space(2.0);
    }

    /// The least of a block that must stand on one page with what comes before it.
    fn first_height(&self, block: &Block) -> f64 {
        match block {
            Block::Heading(_) => 22.0,
            Block::Paragraph(words) => {
                let lines = self.wrapped(words, plain(TEXT), self.room.width()).len();
                lines.min(3) as f64 * TEXT * LINE_FEED
            }
            Block::Facts(_) => 3.0 * TEXT * LINE_FEED,
            Block::Steps(steps) => steps.steps.first().map_or(0.0, |step| {
                let (lines, details) = self.step_lines(step);
                self.step_height(step, &lines, &details)
            }),
            Block::Caution(caution) => self.caution_lines(caution, 0.0).1,
            Block::Table(table) => self.table_start(table),
            Block::Labels(_) => 24.0,
        }
    }

    /// The lines of a step: of its text, and of its details with the first line of each marked.
    fn step_lines(&self, step: &Step) -> (Vec<String>, Vec<(bool, String)>) {
        // The box to tick keeps clear of the words.
        let width = self.room.width() - 10.0 - 8.0;
        let lines = self.wrapped(&step.text, plain(TEXT), width);
        let details = step.details.iter().flat_map(|detail| {
            let lines = self.wrapped(detail, plain(NOTE), width - 4.0);
            lines.into_iter().enumerate().map(|(index, line)| (index == 0, line))
        });
        (lines, details.collect())
    }

    /// What of a step is kept together: all of it with its cautions, unless it is long.
    fn step_height(&self, step: &Step, lines: &[String], details: &[(bool, String)]) -> f64 {
        let words = lines.len() as f64 * TEXT * LINE_FEED + details.len() as f64 * NOTE * LINE_FEED;
        let cautions: f64 = step.cautions.iter().map(|one| self.caution_lines(one, 10.0).1 + 2.8).sum();
        let whole = words.max(TICK) + cautions;
        if whole <= self.room.depth() * WHOLE { whole } else { words.min(60.0) }
    }

    /// The lines of a caution and the height of its frame.
    fn caution_lines(&self, caution: &Caution, indent: f64) -> (Vec<String>, f64) {
        let lines = self.wrapped(&caution.text, plain(TEXT), self.room.width() - indent - 16.0);
        let height = ((lines.len() + 1) as f64 * TEXT * LINE_FEED + 2.6).max(11.0);
        (lines, height)
    }

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
    fn table_start(&self, table: &Table) -> f64 {
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

    fn steps(&mut self, steps: &Steps) {
        let (left, right) = (self.room.min.x, self.room.max.x);
        for (index, step) in steps.steps.iter().enumerate() {
            let number = (steps.first + index).to_string();
            let (lines, details) = self.step_lines(step);
            self.need(self.step_height(step, &lines, &details));
            let (top, page) = (self.y, self.pages.len());
            self.draw(|page| {
                let at = Point2::new(left, top - TEXT * LINE_FEED + TEXT * (LINE_FEED - 1.0) * 0.5);
                page.words(at, &number, plain(TEXT).bold());
                page.area(LAYER, &sized(right - 4.0, top - 4.2, 3.4, 3.4), NARROW, None);
            });
            for line in lines {
                self.line(left + 10.0, &line, plain(TEXT));
            }
            for (first, line) in details {
                if first {
                    self.need(NOTE * LINE_FEED);
                    let y = self.y - NOTE * LINE_FEED + NOTE * (LINE_FEED - 1.0) * 0.5;
                    self.draw(|page| {
                        page.words(Point2::new(left + 10.0, y), "–", plain(NOTE));
                    });
                }
                self.line(left + 14.0, &line, plain(NOTE));
            }
            if self.pages.len() == page {
                self.y = self.y.min(top - TICK);
            }
            for caution in &step.cautions {
                self.space(0.8);
                self.caution(caution, 10.0);
            }
            self.space(1.6);
        }
    }

    /// A framed warning with the general warning sign.
    fn caution(&mut self, caution: &Caution, indent: f64) {
        let left = self.room.min.x + indent;
        let width = self.room.width() - indent;
        let style = plain(TEXT);
        let (lines, height) = self.caution_lines(caution, indent);
        self.need(height);
        let top = self.y;
        let word = caution.signal.word();
        self.draw(|page| {
            page.area(LAYER, &sized(left, top - height, width, height), WIDE, None);
            let middle = top - height / 2.0;
            let sign = [(2.0, -3.2), (10.0, -3.2), (6.0, 3.8)];
            let points = sign.map(|(x, y)| Point2::new(left + x, middle + y)).to_vec();
            page.mark(LAYER, MarkKind::Area { points, line: Some((WIDE, Shade::INK)), fill: None });
            page.words(Point2::new(left + 6.0, middle - 2.4), "!", plain(3.4).bold().centred());
            let mut y = top - 1.3 - TEXT * 1.25;
            page.words(Point2::new(left + 13.0, y), word, style.bold());
            for line in &lines {
                y -= TEXT * LINE_FEED;
                page.words(Point2::new(left + 13.0, y), line, style);
            }
        });
        self.y -= height;
        self.space(2.0);
    }

    fn table(&mut self, table: &Table) {
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

    fn rule(&mut self, width: f64) {
        let (left, right, y) = (self.room.min.x, self.room.max.x, self.y);
        self.draw(|page| {
            page.line(LAYER, &[Point2::new(left, y), Point2::new(right, y)], width, Dash::Solid);
        });
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

    /// Labels in broken frames to cut along.
    fn labels(&mut self, strip: &LabelStrip) {
        const ACROSS: usize = 4;
        const HEIGHT: f64 = 12.0;
        self.need(HEIGHT + 12.0);
        self.paragraph(&strip.caption, plain(TEXT), 0.0);
        self.space(2.0);
        let width = self.room.width() / ACROSS as f64;
        for line in strip.labels.chunks(ACROSS) {
            self.need(HEIGHT);
            let (left, top) = (self.room.min.x, self.y);
            for (index, label) in line.iter().enumerate() {
                let x = left + index as f64 * width;
                self.draw(|page| {
                    let bounds = sized(x, top - HEIGHT, width, HEIGHT);
                    let mut points = crate::drawing::paper::corners(&bounds);
                    points.push(points[0]);
                    page.line(LAYER, &points, NARROW, Dash::Dashed);
                    let tag = sized(x + 1.5, top - 6.2, width - 3.0, 4.6);
                    page.words_within("label", &tag, &label.tag, plain(LARGE).bold());
                    let way = sized(x + 1.5, top - HEIGHT + 0.8, width - 3.0, 4.6);
                    page.words_within("label", &way, &label.way, plain(1.4));
                });
            }
            self.y -= HEIGHT;
        }
        self.space(3.0);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sheets::font::Fonts;
    use std::sync::LazyLock;

    const A4: (f64, f64) = (210.0, 297.0);

    fn static_fonts() -> &'static Fonts {
        static FONTS: LazyLock<Fonts> = LazyLock::new(Fonts::default);
        &FONTS
    }

    fn pages(blocks: Vec<Block>) -> Vec<Draft<'static>> {
        let assumed = "Assumed, not measured: density of the liquid".to_owned();
        let document = Document {
            title: "Paper".to_owned(),
            subject: "Bar".to_owned(),
            assumed,
            blocks,
            ..Document::default()
        };
        typeset(&document, A4, static_fonts())
    }

    fn words(page: &Draft) -> Vec<(Point2, String)> {
        let words = page.page.marks.iter().filter_map(|mark| match &mark.kind {
            MarkKind::Words(words) => Some((words.at, words.text.clone())),
            _ => None,
        });
        words.collect()
    }

    fn holds(page: &Draft, text: &str) -> bool {
        words(page).iter().any(|(_, one)| one == text)
    }

    fn table(caption: &str, rows: usize, notes: &[&str]) -> Block {
        Block::Table(Table {
            caption: caption.to_owned(),
            columns: vec![Column::text("Name", 1.0)],
            rows: (1..=rows).map(|row| vec![Cell::text(format!("line {row}"))]).collect(),
            totals: Vec::new(),
            notes: notes.iter().map(|one| (*one).to_owned()).collect(),
        })
    }

    /// However long what stands before, a short table is on one page, and no page holds a single line or a note alone.
    #[test]
    fn short_tables_stand_whole_and_long_ones_end_with_two_lines_and_their_notes() {
        for before in 1..60 {
            let blocks =
                vec![table("first", before, &[]), table("short", 4, &["note"]), table("long", 90, &["end"])];
            let pages = pages(blocks);
            let of = |text: &str| pages.iter().position(|page| holds(page, text)).unwrap();
            assert_eq!(of("short"), of("note"), "{before}");
            let last = &pages[of("end")];
            assert!(holds(last, "line 89") && holds(last, "line 90"), "{before}");
            let start = &pages[of("long")];
            assert!(holds(start, "line 1") && holds(start, "line 2"), "{before}");
        }
    }

    #[test]
    fn a_heading_never_ends_a_page_and_a_steps_caution_stands_with_it() {
        let caution = super::super::cautions::warning("Beware.");
        for before in 1..60 {
            let steps = |text: &str| {
                let step =
                    Step { text: text.to_owned(), details: Vec::new(), cautions: vec![caution.clone()] };
                Block::Steps(Steps { first: 1, steps: vec![step] })
            };
            let pages =
                pages(vec![table("first", before, &[]), Block::Heading("Then".to_owned()), steps("do it")]);
            let page = pages.iter().find(|page| holds(page, "Then")).unwrap();
            assert!(holds(page, "do it") && holds(page, "Beware."), "{before}");
            // The box to tick ends above the frame of the caution.
            let boxes: Vec<Bounds> = page
                .page
                .marks
                .iter()
                .filter(|mark| matches!(mark.kind, MarkKind::Area { .. }))
                .map(|mark| mark.kind.bounds())
                .collect();
            let tick = boxes.iter().find(|one| (one.width() - 3.4).abs() < 0.01).unwrap();
            let frame = boxes.iter().find(|one| one.width() > 150.0 && one.depth() > 10.0).unwrap();
            assert!(tick.min.y > frame.max.y + 0.3, "{before}: {tick:?} {frame:?}");
        }
    }

    /// A page is saved by moving lines closer, or the last page gets its share.
    #[test]
    fn no_last_page_is_next_to_empty() {
        for rows in 20..140 {
            let pages = pages(vec![table("first", rows, &[])]);
            let last = words(pages.last().unwrap());
            let lines = last.iter().filter(|(_, text)| text.starts_with("line ")).count();
            assert!(
                pages.len() == 1 || lines >= 8,
                "{rows} rows leave {lines} lines on page {}",
                pages.len()
            );
        }
    }

    #[test]
    fn every_page_says_what_is_assumed_and_words_keep_clear_of_the_centring_marks() {
        let inner = inside(A4.0, A4.1);
        let pages = pages(vec![table("first", 120, &[])]);
        assert!(pages.len() > 1);
        for page in &pages {
            assert!(holds(page, "Assumed, not measured: density of the liquid"));
            for (at, text) in words(page) {
                assert!(at.x >= inner.min.x + 5.5 && at.x <= inner.max.x - 5.5, "{text}");
            }
        }
    }
}
