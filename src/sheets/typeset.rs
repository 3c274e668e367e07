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
/// Between the border and words.
const MARGIN: f64 = 5.0;
/// Padding of a table's cells.
const PADDING: f64 = 1.2;
/// Height of a cell to write into.
const WRITE_IN: f64 = 6.5;

const LAYER: PaperLayer = PaperLayer::Sheet;

/// The pages of a document without border and title block, which every sheet gets.
pub(super) fn typeset<'a>(document: &Document, size: (f64, f64), letters: &'a dyn Letters) -> Vec<Draft<'a>> {
    let mut setter = Setter::new(&document.title, size, letters);
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
                setter.need(7.5 + rest);
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
    setter.pages
}

const fn plain(height: f64) -> Style {
    Style::plain(LAYER, height)
}

struct Setter<'a> {
    pages: Vec<Draft<'a>>,
    name: String,
    size: (f64, f64),
    letters: &'a dyn Letters,
    room: Bounds,
    /// Where the next line starts, from above.
    y: f64,
}

impl<'a> Setter<'a> {
    fn new(name: &str, size: (f64, f64), letters: &'a dyn Letters) -> Self {
        let inner = inside(size.0, size.1);
        let room = Bounds {
            min: Point2::new(inner.min.x + MARGIN, inner.min.y + BLOCK_HEIGHT + 4.0),
            max: Point2::new(inner.max.x - MARGIN, inner.max.y - 7.0),
        };
        let mut setter =
            Self { pages: Vec::new(), name: name.to_owned(), size, letters, room, y: room.max.y };
        setter.turn_page();
        setter
    }

    fn turn_page(&mut self) {
        self.pages.push(Draft::new(self.name.clone(), self.size.0, self.size.1, self.letters));
        self.y = self.room.max.y;
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
            self.y -= height;
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
        for line in self.wrapped(words, style, self.room.width() - indent) {
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
                Self::step_height(&lines, &details)
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

    /// What of a step is kept together: all of it, unless it is long.
    fn step_height(lines: &[String], details: &[(bool, String)]) -> f64 {
        let height = lines.len() as f64 * TEXT * LINE_FEED + details.len() as f64 * NOTE * LINE_FEED;
        height.min(60.0)
    }

    /// The lines of a caution and the height of its frame.
    fn caution_lines(&self, caution: &Caution, indent: f64) -> (Vec<String>, f64) {
        let lines = self.wrapped(&caution.text, plain(TEXT), self.room.width() - indent - 16.0);
        let height = ((lines.len() + 1) as f64 * TEXT * LINE_FEED + 2.6).max(11.0);
        (lines, height)
    }

    /// Height of a table's caption, heading and first line.
    fn table_start(&self, table: &Table) -> f64 {
        let (height, widths) = self.columns(table);
        let style = plain(height);
        let lines = |cells: &mut dyn Iterator<Item = String>| {
            let counts = cells
                .zip(&widths)
                .map(|(cell, width)| self.wrapped(&cell, style.bold(), width - 2.0 * PADDING).len());
            counts.max().unwrap_or(1) as f64 * height * LINE_FEED + 2.0
        };
        let heading = lines(&mut table.columns.iter().map(Column::heading_with_unit));
        let first = table.rows.first().map_or(0.0, |row| {
            let written = if row.contains(&Cell::FillIn) { WRITE_IN } else { 0.0 };
            lines(&mut row.iter().map(|cell| cell.printed().to_owned())).max(written)
        });
        TEXT * LINE_FEED + 0.8 + heading + first
    }

    fn steps(&mut self, steps: &Steps) {
        let (left, right) = (self.room.min.x, self.room.max.x);
        for (index, step) in steps.steps.iter().enumerate() {
            let number = (steps.first + index).to_string();
            let (lines, details) = self.step_lines(step);
            self.need(Self::step_height(&lines, &details));
            let top = self.y;
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
        for row in &table.rows {
            self.table_row(table, row, &widths, style);
        }
        for (index, row) in table.totals.iter().enumerate() {
            if index == 0 {
                self.rule(WIDE);
            }
            self.table_row(table, row, &widths, style.bold());
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

    fn table_row(&mut self, table: &Table, row: &[Cell], widths: &[f64], style: Style) {
        let cells: Vec<Vec<String>> = row
            .iter()
            .zip(&table.columns)
            .zip(widths)
            .map(|((cell, column), width)| match (cell, column.align) {
                (Cell::Number { text, .. }, _) => vec![text.clone()],
                (cell, Align::Number) if !cell.printed().contains(' ') => vec![cell.printed().to_owned()],
                (cell, _) => self.wrapped(cell.printed(), style, width - 2.0 * PADDING),
            })
            .collect();
        let lines = cells.iter().map(Vec::len).max().unwrap_or(1).max(1);
        let mut height = lines as f64 * style.height * LINE_FEED + 1.4;
        if row.contains(&Cell::FillIn) {
            height = height.max(WRITE_IN);
        }
        if self.need(height) {
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
