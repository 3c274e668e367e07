//! What is no table: facts, steps with their boxes and cautions, labels to cut out.

use super::setter::{LAYER, NOTE, Setter, TEXT, WHOLE, plain};
use crate::drawing::Dash;
use crate::drawing::paper::{Anchor, LINE_FEED, MarkKind, NARROW, PageDraft, Shade, WIDE, sized};
use crate::geometry::Point2;
use crate::sheets::document::{Block, Caution, FittingStep, Label, LabelStrip, Steps};

/// What the box to tick takes beside a step.
const TICK: f64 = 4.8;

/// What the warning sign and the letters of a step take beside the box to tick.
fn sign_width(step: &FittingStep) -> f64 {
    if step.hazards.is_empty() { 0.0 } else { 5.0 + 2.0 * step.hazards.len() as f64 }
}

/// The general warning sign about a place, 7 mm high times a share.
fn warning_sign(page: &mut PageDraft, at: Point2, share: f64) {
    let sign = [(-4.0, -3.2), (4.0, -3.2), (0.0, 3.8)];
    let points = sign.map(|(x, y)| Point2::new(at.x + x * share, at.y + y * share)).to_vec();
    page.mark(LAYER, MarkKind::Area { points, line: Some((WIDE * share, Shade::INK)), fill: None });
    page.words(Point2::new(at.x, at.y - 2.4 * share), "!", plain(3.4 * share).bold().centred());
}

impl Setter<'_> {
    pub(super) fn facts(&mut self, facts: &[(String, String)]) {
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
    pub(super) fn first_height(&self, block: &Block) -> f64 {
        match block {
            Block::Heading(_) => 22.0,
            Block::Paragraph(words) => {
                let lines = self.wrapped(words, plain(TEXT), self.room.width()).len();
                lines.min(3) as f64 * TEXT * LINE_FEED
            }
            Block::Facts(_) => 3.0 * TEXT * LINE_FEED,
            Block::Steps(steps) => steps.steps.first().map_or(0.0, |step| {
                let (lines, details) = self.step_lines(step);
                self.step_height(&lines, &details)
            }),
            Block::Caution(caution) => self.caution_lines(caution, 0.0).1,
            Block::Table(table) => self.table_start(table),
            Block::Labels(_) => 24.0,
        }
    }

    /// The lines of a step: of its text, and of its details with the first line of each marked.
    fn step_lines(&self, step: &FittingStep) -> (Vec<String>, Vec<(bool, String)>) {
        // The box to tick keeps clear of the words.
        let width = self.room.width() - 10.0 - 8.0 - sign_width(step);
        let lines = self.wrapped(&step.text, plain(TEXT), width);
        let items = step.items_words();
        let details = step.details.iter().chain(&items).flat_map(|detail| {
            let lines = self.wrapped(detail, plain(NOTE), width - 4.0);
            lines.into_iter().enumerate().map(|(index, line)| (index == 0, line))
        });
        (lines, details.collect())
    }

    /// What of a step is kept together: all of it, unless it is long.
    fn step_height(&self, lines: &[String], details: &[(bool, String)]) -> f64 {
        let words = lines.len() as f64 * TEXT * LINE_FEED + details.len() as f64 * NOTE * LINE_FEED;
        let whole = words.max(TICK);
        if whole <= self.room.depth() * WHOLE { whole } else { words.min(60.0) }
    }

    /// The lines of a caution and the height of its frame.
    fn caution_lines(&self, caution: &Caution, indent: f64) -> (Vec<String>, f64) {
        let lines = self.wrapped(&caution.text, plain(TEXT), self.room.width() - indent - 16.0);
        let height = ((lines.len() + 1) as f64 * TEXT * LINE_FEED + 2.6).max(11.0);
        (lines, height)
    }

    pub(super) fn steps(&mut self, steps: &Steps) {
        let (left, right) = (self.room.min.x, self.room.max.x);
        for (index, step) in steps.steps.iter().enumerate() {
            let number = (steps.first + index).to_string();
            let (lines, details) = self.step_lines(step);
            self.need(self.step_height(&lines, &details));
            let (top, page) = (self.y, self.pages.len());
            self.draw(|page| {
                let at = Point2::new(left, top - TEXT * LINE_FEED + TEXT * (LINE_FEED - 1.0) * 0.5);
                page.words(at, &number, plain(TEXT).bold());
                page.area(LAYER, &sized(right - 4.0, top - 4.2, 3.4, 3.4), NARROW, None);
                if !step.hazards.is_empty() {
                    let letters: String = step.hazards.iter().map(|one| one.letter()).collect();
                    let left = right - 5.0 - sign_width(step);
                    warning_sign(page, Point2::new(left + 2.0, top - 2.7), 0.5);
                    page.words(Point2::new(left + 4.6, top - 4.0), &letters, plain(TEXT).bold());
                }
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
            self.space(1.6);
        }
    }

    /// A framed warning with the general warning sign.
    pub(super) fn caution(&mut self, caution: &Caution, indent: f64) {
        let left = self.room.min.x + indent;
        let width = self.room.width() - indent;
        let style = plain(TEXT);
        let (lines, height) = self.caution_lines(caution, indent);
        self.need(height);
        let top = self.y;
        let letter = caution.hazard.map_or_else(String::new, |hazard| format!("  {}", hazard.letter()));
        let word = format!("{}{letter}", caution.signal.word());
        self.draw(|page| {
            page.area(LAYER, &sized(left, top - height, width, height), WIDE, None);
            let middle = top - height / 2.0;
            warning_sign(page, Point2::new(left + 6.0, middle), 1.0);
            let mut y = top - 1.3 - TEXT * 1.25;
            page.words(Point2::new(left + 13.0, y), &word, style.bold());
            for line in &lines {
                y -= TEXT * LINE_FEED;
                page.words(Point2::new(left + 13.0, y), line, style);
            }
        });
        self.y -= height;
        self.space(2.0);
    }

    /// Labels in broken frames to cut along.
    pub(super) fn labels(&mut self, strip: &LabelStrip) {
        const ACROSS: usize = 6;
        /// Above the ways: the tag and its margin.
        const HEAD: f64 = 4.6;
        const TAG: f64 = 2.6;
        const WAY: f64 = 1.8;
        const FEED: f64 = WAY * 1.4;
        /// Between the last line and the cut.
        const FOOT: f64 = 1.4;
        self.need(HEAD + 2.0 * FEED + FOOT + 12.0);
        self.paragraph(&strip.caption, plain(TEXT), 0.0);
        self.space(2.0);
        let width = self.room.width() / ACROSS as f64;
        let ways = |setter: &Self, label: &Label| -> Vec<String> {
            let there = format!("→ {}", label.there);
            let lines = [&label.here, &there].map(|words| setter.wrapped(words, plain(WAY), width - 2.4));
            lines.concat()
        };
        for line in strip.labels.chunks(ACROSS) {
            // All ways in one size: a strip is as high as its longest label.
            let told: Vec<Vec<String>> = line.iter().map(|label| ways(self, label)).collect();
            let most = told.iter().map(Vec::len).max().unwrap_or(0);
            let height = HEAD + most as f64 * FEED + FOOT;
            self.need(height);
            let (left, top) = (self.room.min.x, self.y);
            for (index, (label, told)) in line.iter().zip(&told).enumerate() {
                let x = left + index as f64 * width;
                self.draw(|page| {
                    let bounds = sized(x, top - height, width, height);
                    let mut points = crate::drawing::paper::corners(&bounds);
                    points.push(points[0]);
                    page.line(LAYER, &points, NARROW, Dash::Dashed);
                    let number = label.number.to_string();
                    let at = Point2::new(x + width - 1.2, top - 1.0 - TAG);
                    page.words(at, &number, plain(WAY).anchor(Anchor::Right));
                    let room = width - 3.6 - page.width_of(&number, plain(WAY));
                    let tag = sized(x + 1.2, top - 1.6 - TAG, room, TAG + 1.0);
                    page.words_within("label", &tag, &label.tag, plain(TAG).bold());
                    for (at, words) in told.iter().enumerate() {
                        let y = top - HEAD - (at + 1) as f64 * FEED + (FEED - WAY);
                        page.words(Point2::new(x + 1.2, y), words, plain(WAY));
                    }
                });
            }
            self.y -= height;
        }
        self.space(3.0);
    }
}
