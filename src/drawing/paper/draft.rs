//! A page while it is drawn.

use std::collections::BTreeSet;

use super::page::{Mark, MarkKind, Page, PaperLayer, Shade, Words, corners};
use super::style::{Anchor, LINE_FEED, Letters, Style, wrap};
use crate::drawing::Subject;
use crate::drawing::scene::Dash;
use crate::geometry::{Bounds, Point2};
use crate::plan::PartId;

/// What a legend explains besides parts, noted where it is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum NotedSign {
    /// The dot where lines are connected.
    Connection,
    /// A line jumps over one that it is not connected with.
    Jump,
    /// The pump.
    Pump,
    /// The stroke that closes a line.
    Plug,
    /// A line that goes on on another sheet.
    GoesOn,
}

/// A page while it is drawn.
pub struct PageDraft<'a> {
    /// The page.
    pub page: Page,
    /// The font's widths.
    pub letters: &'a dyn Letters,
    /// What the marks drawn next stand for.
    pub subject: Option<Subject>,
    /// Words that had to be cut short to fit, with the name of their place.
    pub cut: Vec<(String, String)>,
    /// Signs that its legend explains.
    pub signs: BTreeSet<NotedSign>,
}

impl<'a> PageDraft<'a> {
    /// An empty page.
    pub fn new(name: impl Into<String>, width: f64, height: f64, letters: &'a dyn Letters) -> Self {
        let page =
            Page { name: name.into(), width, height, shows_part: false, view: None, marks: Vec::new() };
        Self { page, letters, subject: None, cut: Vec::new(), signs: BTreeSet::new() }
    }

    /// Adds a mark.
    pub fn mark(&mut self, layer: PaperLayer, kind: MarkKind) {
        self.page.marks.push(Mark { layer, subject: self.subject, kind });
    }

    /// A line in ink.
    pub fn line(&mut self, layer: PaperLayer, points: &[Point2], width: f64, dash: Dash) {
        self.shaded_line(layer, points, width, dash, Shade::INK);
    }

    /// A line.
    pub fn shaded_line(
        &mut self,
        layer: PaperLayer,
        points: &[Point2],
        width: f64,
        dash: Dash,
        shade: Shade,
    ) {
        if points.len() > 1 {
            self.mark(layer, MarkKind::Line { points: points.to_vec(), width, dash, shade });
        }
    }

    /// An upright box; an outline of width 0 is none.
    pub fn area(&mut self, layer: PaperLayer, bounds: &Bounds, width: f64, fill: Option<Shade>) {
        let line = (width > 0.0).then_some((width, Shade::INK));
        self.mark(layer, MarkKind::Area { points: corners(bounds), line, fill });
    }

    /// A circle with an outline in ink.
    pub fn circle(
        &mut self,
        layer: PaperLayer,
        centre: Point2,
        radius: f64,
        width: f64,
        fill: Option<Shade>,
    ) {
        let line = (width > 0.0).then_some((width, Shade::INK));
        self.mark(layer, MarkKind::Circle { centre, radius, line, fill });
    }

    /// Width of words, millimetres.
    pub fn width_of(&self, words: &str, style: Style) -> f64 {
        self.letters.width(words, style.bold) * style.height
    }

    /// One line of words; answers its box.
    pub fn words(&mut self, at: Point2, words: &str, style: Style) -> Bounds {
        self.words_turned(at, words, style, false)
    }

    /// One line of words that reads upwards; the point is on the line the letters stand on, which runs upwards.
    pub fn words_up(&mut self, at: Point2, words: &str, style: Style) -> Bounds {
        self.words_turned(at, words, style, true)
    }

    fn words_turned(&mut self, at: Point2, words: &str, style: Style, upright: bool) -> Bounds {
        let width = self.width_of(words, style);
        let back = match style.anchor {
            Anchor::Left => 0.0,
            Anchor::Middle => width / 2.0,
            Anchor::Right => width,
        };
        let at = if upright { Point2::new(at.x, at.y - back) } else { Point2::new(at.x - back, at.y) };
        let words = Words {
            at,
            text: words.to_owned(),
            height: style.height,
            width,
            bold: style.bold,
            upright,
            shade: style.shade,
        };
        let bounds = words.bounds();
        if !words.text.trim().is_empty() {
            self.mark(style.layer, MarkKind::Words(words));
        }
        bounds
    }

    /// Words broken into lines of at most a width.
    pub fn wrapped(&self, words: &str, style: Style, width: f64) -> Vec<String> {
        wrap(self.letters, words, style, width)
    }

    /// The box of a part's symbol on the page, if it stands there.
    pub fn part_bounds(&self, part: PartId) -> Option<Bounds> {
        let marks = self.page.marks.iter().filter(|mark| mark.subject == Some(Subject::Part(part)));
        let boxes = marks.filter(|mark| mark.layer == PaperLayer::Part).map(|mark| mark.kind.bounds());
        let all = Bounds::around(boxes.flat_map(|bounds| [bounds.min, bounds.max]));
        (!all.is_empty()).then_some(all)
    }

    /// Words in a box, from its upper left corner, at the largest height of the series at which they fit; cut short
    /// with an ellipsis where even the smallest does not fit, and then noted in [`PageDraft::cut`].
    pub fn words_within(&mut self, place: &str, bounds: &Bounds, words: &str, style: Style) {
        const HEIGHTS: [f64; 6] = [5.0, 3.5, 2.5, 1.8, 1.4, 1.2];
        let room = bounds.width();
        for height in HEIGHTS.into_iter().filter(|height| *height <= style.height) {
            let style = Style { height, ..style };
            let mut lines = self.wrapped(words, style, room);
            let fits = ((bounds.depth() - height) / (height * LINE_FEED)).floor().max(0.0) as usize + 1;
            let smallest = height <= HEIGHTS[5];
            if lines.len() > fits && !smallest {
                continue;
            }
            if lines.len() > fits {
                lines.truncate(fits);
                if let Some(last) = lines.last_mut() {
                    while !last.is_empty() && self.width_of(&format!("{last}…"), style) > room {
                        last.pop();
                    }
                    last.push('…');
                }
                self.cut.push((place.to_owned(), words.to_owned()));
            }
            for (index, line) in lines.iter().enumerate() {
                let y = bounds.max.y - height - index as f64 * height * LINE_FEED;
                self.words(Point2::new(bounds.min.x, y), line, style);
            }
            return;
        }
    }
}
