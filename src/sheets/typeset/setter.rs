//! The page being filled: where the next line goes, when a page turns, and how words stand on it.

use crate::drawing::Dash;
use crate::drawing::paper::{LARGE, LINE_FEED, Letters, PageDraft, PaperLayer, Shade, Style};
use crate::drawing::sheet_frame::{BLOCK_HEIGHT, FOOTER_HEIGHT, inside};
use crate::geometry::{Bounds, Point2};
use crate::sheets::document::{Block, Document};
use crate::sheets::extras::lower;

/// Height of capitals of running text, millimetres.
pub(super) const TEXT: f64 = 2.2;

/// Of notes below a table.
pub(super) const NOTE: f64 = 1.8;

/// Between the border and words; centring marks reach 5 mm inwards.
const MARGIN: f64 = 7.0;

/// A last page that is filled less than this is done away with or filled up, where that can be had.
pub(super) const TAIL: f64 = 0.3;

/// A table, or a step, up to this share of a page stands on one.
pub(super) const WHOLE: f64 = 0.4;

pub(super) const LAYER: PaperLayer = PaperLayer::Sheet;

impl<'a> Setter<'a> {
    /// Documents one behind the other, a later one on the same page where its beginning has room there; `squeeze` of the
    /// usual room between lines and blocks, and `lift` left free at the foot.
    pub(super) fn set(
        documents: &[Document],
        size: (f64, f64),
        letters: &'a dyn Letters,
        (squeeze, lift): (f64, f64),
    ) -> Self {
        let mut setter = Setter::new(documents, size, letters, lift);
        setter.squeeze = squeeze;
        for (index, document) in documents.iter().enumerate() {
            let first = document.blocks.first().map_or(0.0, |block| setter.first_height(block));
            setter.space(if index == 0 { 0.0 } else { 3.0 });
            setter.name.clone_from(&document.title);
            if index > 0 && !setter.need((LARGE + TEXT) * LINE_FEED + 4.0 + first) {
                setter.join_page(&document.title);
            }
            let title = plain(LARGE).bold();
            setter.paragraph(&document.title, title, 0.0);
            setter.space(1.0);
            if index == 0 {
                setter.paragraph(&document.subject, plain(TEXT).shade(Shade::SOFT), 0.0);
                setter.space(3.0);
            }
            setter.blocks(document);
        }
        setter
    }

    fn blocks(&mut self, document: &Document) {
        for (index, block) in document.blocks.iter().enumerate() {
            match block {
                Block::Heading(words) => {
                    // A heading stays with what follows it.
                    let rest = document.blocks.get(index + 1).map_or(0.0, |next| self.first_height(next));
                    self.need(2.5 + 2.8 * LINE_FEED + 1.2 + rest);
                    self.space(2.5);
                    self.paragraph(words, plain(2.8).bold(), 0.0);
                    self.space(1.2);
                }
                Block::Paragraph(words) => {
                    self.paragraph(words, plain(TEXT), 0.0);
                    self.space(1.8);
                }
                Block::Facts(facts) => self.facts(facts),
                Block::Steps(steps) => self.steps(steps),
                Block::Caution(caution) => self.caution(caution, 0.0),
                Block::Table(table) => self.table(table),
                Block::Labels(strip) => self.labels(strip),
            }
        }
    }

    /// How much of the last page holds something.
    pub(super) fn filled(&self) -> f64 {
        (self.room.max.y - self.y) / self.room.depth()
    }
}

pub(super) const fn plain(height: f64) -> Style {
    Style::plain(LAYER, height)
}

pub(super) struct Setter<'a> {
    pub(super) pages: Vec<PageDraft<'a>>,
    pub(super) name: String,
    /// Words at the head of every page.
    head: String,
    /// Why what the paper is about is not released, or no prediction, in lines at the head of every page.
    held: Vec<String>,
    pub(super) size: (f64, f64),
    pub(super) letters: &'a dyn Letters,
    pub(super) room: Bounds,
    /// The border at the foot of each page.
    foot: f64,
    /// Left free above what stands at the foot.
    lift: f64,
    /// Share of the usual room between lines and blocks.
    pub(super) squeeze: f64,
    /// Where the next line starts, from above.
    pub(super) y: f64,
}

impl<'a> Setter<'a> {
    pub(super) fn new(documents: &[Document], size: (f64, f64), letters: &'a dyn Letters, lift: f64) -> Self {
        let inner = inside(size.0, size.1);
        let room = Bounds {
            min: Point2::new(inner.min.x + MARGIN, inner.min.y),
            max: Point2::new(inner.max.x - MARGIN, inner.max.y - MARGIN),
        };
        let first = documents.first();
        let mut setter = Self {
            pages: Vec::new(),
            name: first.map_or_else(String::new, |one| one.title.clone()),
            head: first.map_or_else(String::new, |one| one.assumed.clone()),
            held: Vec::new(),
            size,
            letters,
            room,
            foot: inner.min.y,
            lift,
            squeeze: 1.0,
            y: room.max.y,
        };
        let said = first.into_iter().flat_map(|document| [&document.held, &document.caution]);
        for words in said.filter(|words| !words.is_empty()) {
            let lines = setter.wrapped(words, plain(TEXT).bold(), setter.room.width());
            setter.held.extend(lines);
        }
        if !setter.held.is_empty() {
            setter.room.max.y -= setter.held.len() as f64 * TEXT * LINE_FEED + 1.5;
        }
        setter.turn_page();
        setter
    }

    /// The page holds the beginning of another document too.
    fn join_page(&mut self, title: &str) {
        if let Some(page) = self.pages.last_mut() {
            let name = &mut page.page.name;
            name.push_str(" and ");
            name.push_str(&lower(title));
        }
    }

    pub(super) fn turn_page(&mut self) {
        // The title block stands on the first page, a line on the others.
        let taken = if self.pages.is_empty() { BLOCK_HEIGHT + 4.0 } else { FOOTER_HEIGHT + 3.0 };
        self.room.min.y = self.foot + taken + self.lift;
        self.pages.push(PageDraft::new(self.name.clone(), self.size.0, self.size.1, self.letters));
        self.y = self.room.max.y;
        if !self.head.is_empty() {
            // Above the room of the page, left of the centring mark.
            let top = inside(self.size.0, self.size.1).max.y - MARGIN;
            let (at, head) = (Point2::new(self.room.min.x, top + 2.2), self.head.clone());
            self.draw(|page| {
                page.words(at, &head, plain(NOTE));
            });
        }
        for (index, line) in self.held.clone().into_iter().rev().enumerate() {
            let y = self.room.max.y + 1.5 + (index as f64 + 0.25) * TEXT * LINE_FEED;
            let at = Point2::new(self.room.min.x, y);
            self.draw(|page| {
                page.words(at, &line, plain(TEXT).bold());
            });
        }
    }

    /// Turns the page unless this much height is left; answers whether it did.
    pub(super) fn need(&mut self, height: f64) -> bool {
        let turn = self.y - height < self.room.min.y && self.y < self.room.max.y;
        if turn {
            self.turn_page();
        }
        turn
    }

    pub(super) fn space(&mut self, height: f64) {
        if self.y < self.room.max.y {
            self.y -= height * self.squeeze;
        }
    }

    pub(super) fn draw(&mut self, draw: impl FnOnce(&mut PageDraft<'a>)) {
        if let Some(page) = self.pages.last_mut() {
            draw(page);
        }
    }

    pub(super) fn wrapped(&self, words: &str, style: Style, width: f64) -> Vec<String> {
        crate::drawing::paper::wrap(self.letters, words, style, width)
    }

    pub(super) fn line(&mut self, x: f64, words: &str, style: Style) {
        self.need(style.height * LINE_FEED);
        self.y -= style.height * LINE_FEED;
        let at = Point2::new(x, self.y + style.height * (LINE_FEED - 1.0) * 0.5);
        self.draw(|page| {
            page.words(at, words, style);
        });
    }

    pub(super) fn paragraph(&mut self, words: &str, style: Style, indent: f64) {
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

    pub(super) fn rule(&mut self, width: f64) {
        let (left, right, y) = (self.room.min.x, self.room.max.x, self.y);
        self.draw(|page| {
            page.line(LAYER, &[Point2::new(left, y), Point2::new(right, y)], width, Dash::Solid);
        });
    }
}
