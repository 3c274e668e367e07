//! Pages: display lists in millimetres of paper, which every writer draws alike.
//!
//! A [`Page`] holds [`Mark`]s: lines, closed shapes and words at their final size, x to the right and y up from the
//! lower left corner of the trimmed sheet. What is true to scale says so in [`Page::view`], so that a writer for CAD
//! can give it back at its true size. Nothing here decides colours beyond shades of one ink: papers are printed in
//! black as a rule.

use std::collections::BTreeSet;

use super::Subject;
use super::scene::{Dash, DrawItem, Fill, Ink, Layer, Scene, Shape};
use crate::geometry::{Bounds, Point2};

/// Millimetres of paper that one of the scene's "picture units" takes.
pub const PICTURE_UNIT: f64 = 0.2;

/// How wide words are in the font the writers use.
pub trait Letters {
    /// Width of a line of words, in multiples of the height of its capitals.
    fn width(&self, words: &str, bold: bool) -> f64;
}

/// One sheet of paper.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Page {
    /// What it shows, in words: `Layout, centre`.
    pub name: String,
    /// Width, millimetres.
    pub width: f64,
    /// Height, millimetres.
    pub height: f64,
    /// The part of it that is true to scale, if one is.
    pub view: Option<View>,
    /// What is drawn, later marks on top.
    pub marks: Vec<Mark>,
}

/// A scale and where the bar's origin lies.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct View {
    /// 20 for 1:20.
    pub denominator: f64,
    /// The bar's origin on the paper, millimetres; it may lie off the sheet.
    pub origin: Point2,
}

impl View {
    /// Millimetres of paper for a metre of the bar.
    pub fn millimetres(&self) -> f64 {
        1000.0 / self.denominator
    }

    /// Where a point of the bar lies on the paper.
    pub fn at(&self, point: Point2) -> Point2 {
        let scale = self.millimetres();
        Point2::new(self.origin.x + point.x * scale, self.origin.y + point.y * scale)
    }

    /// As written in the title block.
    pub fn text(&self) -> String {
        scale_text(self.denominator)
    }
}

/// `1:20`, `2:1`.
pub fn scale_text(denominator: f64) -> String {
    if denominator < 1.0 {
        format!("{}:1", (10.0 / denominator).round() / 10.0)
    } else {
        format!("1:{}", (denominator * 10.0).round() / 10.0)
    }
}

/// What a mark belongs to; writers that know layers use these names.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum PaperLayer {
    /// Border, title block, scale bar, tables beside the drawing.
    Sheet,
    /// The frame of the bar.
    Frame,
    /// Hinges and match lines.
    Hinge,
    /// Delivery tubes.
    Tube,
    /// Hoses.
    Hose,
    /// Parts and their symbols.
    Part,
    /// Outlets at the rows.
    Row,
    /// Words of the drawing: tags, bores, lengths.
    Words,
    /// Balloons, leaders, dimension lines.
    Notes,
}

impl PaperLayer {
    /// All, in drawing order.
    pub const ALL: [Self; 9] = [
        Self::Sheet,
        Self::Frame,
        Self::Hinge,
        Self::Tube,
        Self::Hose,
        Self::Part,
        Self::Row,
        Self::Words,
        Self::Notes,
    ];

    /// Its name in a file with layers.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Sheet => "SHEET",
            Self::Frame => "FRAME",
            Self::Hinge => "HINGES",
            Self::Tube => "TUBES",
            Self::Hose => "HOSES",
            Self::Part => "PARTS",
            Self::Row => "ROWS",
            Self::Words => "WORDS",
            Self::Notes => "NOTES",
        }
    }
}

/// How dark: 0 is the ink, 255 the paper.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Shade(pub u8);

impl Shade {
    /// The ink.
    pub const INK: Self = Self(0);
    /// For what explains.
    pub const SOFT: Self = Self(85);
    /// For what lies behind.
    pub const BEHIND: Self = Self(150);
    /// For the ground under a table's heading.
    pub const GROUND: Self = Self(232);
    /// Frame members.
    pub const FRAME: Self = Self(205);
    /// The paper.
    pub const PAPER: Self = Self(255);
}

/// Something drawn on a page.
#[derive(Debug, Clone, PartialEq)]
pub struct Mark {
    /// What it belongs to.
    pub layer: PaperLayer,
    /// What it stands for on the bar.
    pub subject: Option<Subject>,
    /// Where it is.
    pub kind: MarkKind,
}

/// A shape on paper; all sizes in millimetres.
#[derive(Debug, Clone, PartialEq)]
pub enum MarkKind {
    /// Straight pieces through points.
    Line {
        /// At least two.
        points: Vec<Point2>,
        /// How wide.
        width: f64,
        /// Broken or not.
        dash: Dash,
        /// How dark.
        shade: Shade,
    },
    /// A closed shape.
    Area {
        /// Its corners.
        points: Vec<Point2>,
        /// Its outline: width and shade.
        line: Option<(f64, Shade)>,
        /// Its inside.
        fill: Option<Shade>,
    },
    /// A circle.
    Circle {
        /// Its middle.
        centre: Point2,
        /// Its radius.
        radius: f64,
        /// Its outline: width and shade.
        line: Option<(f64, Shade)>,
        /// Its inside.
        fill: Option<Shade>,
    },
    /// One line of words.
    Words(Words),
}

/// One line of words at a fixed size.
#[derive(Debug, Clone, PartialEq)]
pub struct Words {
    /// Left end of the line the letters stand on.
    pub at: Point2,
    /// What it says.
    pub text: String,
    /// Height of the capitals (ISO 3098: 1.8, 2.5, 3.5, 5 mm).
    pub height: f64,
    /// Width as the font has it.
    pub width: f64,
    /// Bold or not.
    pub bold: bool,
    /// Reads upwards instead of to the right.
    pub upright: bool,
    /// How dark.
    pub shade: Shade,
}

/// Which point of a line of words is given.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Anchor {
    /// Its left end.
    Left,
    /// Its middle.
    Middle,
    /// Its right end.
    Right,
}

/// How words are written.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Style {
    /// What they belong to.
    pub layer: PaperLayer,
    /// Height of the capitals, millimetres.
    pub height: f64,
    /// Bold or not.
    pub bold: bool,
    /// How dark.
    pub shade: Shade,
    /// Which point is given.
    pub anchor: Anchor,
}

impl Style {
    /// Plain words of a height, from their left end.
    pub const fn plain(layer: PaperLayer, height: f64) -> Self {
        Self { layer, height, bold: false, shade: Shade::INK, anchor: Anchor::Left }
    }

    /// Bold.
    #[must_use]
    pub const fn bold(mut self) -> Self {
        self.bold = true;
        self
    }

    /// In another shade.
    #[must_use]
    pub const fn shade(mut self, shade: Shade) -> Self {
        self.shade = shade;
        self
    }

    /// From another point.
    #[must_use]
    pub const fn anchor(mut self, anchor: Anchor) -> Self {
        self.anchor = anchor;
        self
    }

    /// In the middle.
    #[must_use]
    pub const fn centred(self) -> Self {
        self.anchor(Anchor::Middle)
    }
}

/// Height of the smallest words: dimensions, tags, tables (ISO 3098).
pub const SMALL: f64 = 1.8;
/// Height of usual words.
pub const USUAL: f64 = 2.5;
/// Height of headings and of item numbers, which stand out by twice the height of dimensions (ISO 6433).
pub const LARGE: f64 = 3.5;
/// Lines of words are this many capital heights apart.
pub const LINE_FEED: f64 = 1.75;

/// Wide lines: outlines, hoses (ISO 128 line group 0.5).
pub const WIDE: f64 = 0.5;
/// Middle lines: symbols.
pub const MIDDLE: f64 = 0.35;
/// Narrow lines: dimensions, leaders, hinges.
pub const NARROW: f64 = 0.18;

/// What a legend explains besides parts, noted where it is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Sign {
    /// The dot where lines are connected.
    Connection,
    /// The pump.
    Pump,
    /// The stroke that closes a line.
    Plug,
    /// A line that goes on on another sheet.
    GoesOn,
}

/// A page while it is drawn.
pub struct Draft<'a> {
    /// The page.
    pub page: Page,
    /// The font's widths.
    pub letters: &'a dyn Letters,
    /// What the marks drawn next stand for.
    pub subject: Option<Subject>,
    /// Words that had to be cut short to fit, with the name of their place.
    pub cut: Vec<(String, String)>,
    /// Signs that its legend explains.
    pub signs: BTreeSet<Sign>,
}

impl<'a> Draft<'a> {
    /// An empty page.
    pub fn new(name: impl Into<String>, width: f64, height: f64, letters: &'a dyn Letters) -> Self {
        let page = Page { name: name.into(), width, height, view: None, marks: Vec::new() };
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

    /// Words in a box, from its upper left corner, at the largest height of the series at which they fit; cut short
    /// with an ellipsis where even the smallest does not fit, and then noted in [`Draft::cut`].
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

    /// Draws the shapes of a scene, true to scale within a window of the paper. Words of the scene are left to the
    /// sheet, which has its own places for them.
    pub fn scene(&mut self, scene: &Scene, view: &View, window: &Bounds) {
        let scale = view.millimetres() / PICTURE_UNIT;
        for item in &scene.items {
            if item.from_scale <= scale {
                self.scene_item(item, view, scale, window);
            }
        }
    }

    fn scene_item(&mut self, item: &DrawItem, view: &View, scale: f64, window: &Bounds) {
        let Some((layer, shade)) = paper_ink(item) else { return };
        let grown = |point: Point2| item.grow.map_or(point, |grow| grow.apply(point, scale));
        let on_paper = |points: &[Point2]| -> Vec<Point2> {
            points.iter().map(|point| view.at(grown(*point))).collect()
        };
        let fill = match item.fill {
            Fill::None => None,
            Fill::Ink => Some(shade),
            // Colours of one moment have no place on a sheet to build from.
            _ => Some(Shade::PAPER),
        };
        self.subject = item.subject;
        match &item.shape {
            Shape::Line { points, width, dash } => {
                let width = (width.at(scale) * PICTURE_UNIT).max(NARROW);
                for piece in clip_line(&on_paper(points), window) {
                    self.shaded_line(layer, &piece, width, *dash, shade);
                }
            }
            Shape::Circle { centre, radius } => {
                let centre = view.at(grown(*centre));
                if window.contains(centre) {
                    let factor = item.grow.map_or(1.0, |grow| grow.along.factor(scale));
                    let radius = radius * factor * view.millimetres();
                    self.mark(layer, MarkKind::Circle { centre, radius, line: Some((NARROW, shade)), fill });
                }
            }
            Shape::Polygon { points } => {
                let points = clip_area(&on_paper(points), window);
                if points.len() > 2 {
                    self.mark(layer, MarkKind::Area { points, line: Some((NARROW, shade)), fill });
                }
            }
            Shape::Text(_) => {}
        }
        self.subject = None;
    }
}

/// Layer and shade of an item of a scene on paper; none for what paper does without.
fn paper_ink(item: &DrawItem) -> Option<(PaperLayer, Shade)> {
    let layer = match item.layer {
        Layer::Frame => PaperLayer::Frame,
        Layer::Hinge => PaperLayer::Hinge,
        Layer::Feeds => PaperLayer::Tube,
        Layer::Runs => PaperLayer::Hose,
        Layer::Parts => PaperLayer::Part,
        Layer::Outlets => PaperLayer::Row,
        _ => return None,
    };
    let shade = match item.ink {
        Ink::SectionPanel | Ink::Travel => return None,
        // The sign of a deviation belongs to one moment at one speed; a sheet to build from has no place for it.
        Ink::OnDeviation(_) | Ink::OnPressure(_) => return None,
        Ink::FrameRail => Shade::FRAME,
        Ink::Hose | Ink::HoseStill => Shade(60),
        _ => Shade::INK,
    };
    Some((layer, shade))
}

impl Words {
    /// What they cover.
    pub fn bounds(&self) -> Bounds {
        let below = self.height * 0.3;
        if self.upright {
            Bounds {
                min: Point2::new(self.at.x - self.height, self.at.y),
                max: Point2::new(self.at.x + below, self.at.y + self.width),
            }
        } else {
            Bounds {
                min: Point2::new(self.at.x, self.at.y - below),
                max: Point2::new(self.at.x + self.width, self.at.y + self.height),
            }
        }
    }
}

impl MarkKind {
    /// What it covers, without the width of its lines.
    pub fn bounds(&self) -> Bounds {
        match self {
            Self::Line { points, .. } | Self::Area { points, .. } => Bounds::around(points.iter().copied()),
            Self::Circle { centre, radius, .. } => Bounds { min: *centre, max: *centre }.grown(*radius),
            Self::Words(words) => words.bounds(),
        }
    }
}

/// A box from left, bottom, width and height.
pub const fn sized(left: f64, bottom: f64, width: f64, height: f64) -> Bounds {
    Bounds { min: Point2::new(left, bottom), max: Point2::new(left + width, bottom + height) }
}

/// The corners of a box, anticlockwise.
pub fn corners(bounds: &Bounds) -> Vec<Point2> {
    let (min, max) = (bounds.min, bounds.max);
    vec![min, Point2::new(max.x, min.y), max, Point2::new(min.x, max.y)]
}

/// Words broken into lines of at most a width; a word longer than a line is broken where it must be.
pub fn wrap(letters: &dyn Letters, words: &str, style: Style, width: f64) -> Vec<String> {
    let measure = |words: &str| letters.width(words, style.bold) * style.height;
    let mut lines = Vec::new();
    for paragraph in words.split('\n') {
        let mut line = String::new();
        for word in paragraph.split_whitespace() {
            let longer = if line.is_empty() { word.to_owned() } else { format!("{line} {word}") };
            if measure(&longer) <= width {
                line = longer;
                continue;
            }
            if !line.is_empty() {
                lines.push(std::mem::take(&mut line));
            }
            for letter in word.chars() {
                line.push(letter);
                if line.chars().count() > 1 && measure(&line) > width {
                    line.pop();
                    lines.push(std::mem::take(&mut line));
                    line.push(letter);
                }
            }
        }
        lines.push(line);
    }
    lines
}

/// The pieces of a line that lie within a box.
pub fn clip_line(points: &[Point2], window: &Bounds) -> Vec<Vec<Point2>> {
    let mut pieces: Vec<Vec<Point2>> = Vec::new();
    for pair in points.windows(2) {
        let Some((from, to)) = clip_piece(pair[0], pair[1], window) else { continue };
        match pieces.last_mut() {
            Some(piece) if piece.last() == Some(&from) => piece.push(to),
            _ => pieces.push(vec![from, to]),
        }
    }
    pieces
}

/// The part of a straight piece within a box (Liang and Barsky 1984).
fn clip_piece(from: Point2, to: Point2, window: &Bounds) -> Option<(Point2, Point2)> {
    let (dx, dy) = (to.x - from.x, to.y - from.y);
    let (mut first, mut last) = (0.0_f64, 1.0_f64);
    for (step, room) in [
        (-dx, from.x - window.min.x),
        (dx, window.max.x - from.x),
        (-dy, from.y - window.min.y),
        (dy, window.max.y - from.y),
    ] {
        if step == 0.0 {
            if room < 0.0 {
                return None;
            }
        } else if step < 0.0 {
            first = first.max(room / step);
        } else {
            last = last.min(room / step);
        }
    }
    if first > last {
        return None;
    }
    let at = |t: f64| match t {
        0.0 => from,
        1.0 => to,
        _ => Point2::new(from.x + dx * t, from.y + dy * t),
    };
    Some((at(first), at(last)))
}

/// The part of a closed shape within a box (Sutherland and Hodgman 1974).
pub fn clip_area(points: &[Point2], window: &Bounds) -> Vec<Point2> {
    let mut shape = points.to_vec();
    type Side = (fn(Point2) -> f64, f64, f64);
    let sides: [Side; 4] = [
        (|point| point.x, window.min.x, 1.0),
        (|point| point.x, window.max.x, -1.0),
        (|point| point.y, window.min.y, 1.0),
        (|point| point.y, window.max.y, -1.0),
    ];
    for (value, limit, sign) in sides {
        let inside = |point: Point2| (value(point) - limit) * sign >= 0.0;
        let before = std::mem::take(&mut shape);
        for (index, to) in before.iter().enumerate() {
            let from = before[(index + before.len() - 1) % before.len()];
            if inside(from) != inside(*to) {
                let t = (limit - value(from)) / (value(*to) - value(from));
                shape.push(Point2::new(from.x + (to.x - from.x) * t, from.y + (to.y - from.y) * t));
            }
            if inside(*to) {
                shape.push(*to);
            }
        }
    }
    shape
}

#[cfg(test)]
mod tests {
    use super::*;

    struct Square;
    impl Letters for Square {
        fn width(&self, words: &str, _: bool) -> f64 {
            words.chars().count() as f64
        }
    }

    #[test]
    fn words_are_broken_at_spaces_and_where_they_must() {
        let style = Style::plain(PaperLayer::Words, 1.0);
        assert_eq!(wrap(&Square, "one two three", style, 7.0), ["one two", "three"]);
        assert_eq!(wrap(&Square, "abcdefgh", style, 3.0), ["abc", "def", "gh"]);
        assert_eq!(wrap(&Square, "a\n\nb", style, 3.0), ["a", "", "b"]);
        assert_eq!(wrap(&Square, "", style, 3.0), [""]);
        // Narrower than a letter: one a line, and an end.
        assert_eq!(wrap(&Square, "ab", style, 0.5), ["a", "b"]);
    }

    #[test]
    fn long_words_shrink_and_are_cut_at_last() {
        let mut draft = Draft::new("test", 100.0, 100.0, &Square);
        draft.words_within("title", &sized(0.0, 0.0, 10.0, 5.0), "abc", Style::plain(PaperLayer::Sheet, 2.5));
        draft.words_within(
            "owner",
            &sized(0.0, 0.0, 10.0, 5.0),
            &"long ".repeat(40),
            Style::plain(PaperLayer::Sheet, 2.5),
        );
        assert_eq!(draft.cut.len(), 1);
        assert_eq!(draft.cut[0].0, "owner");
        for mark in &draft.page.marks {
            let bounds = mark.kind.bounds();
            assert!(bounds.max.x <= 10.0 + 1e-9 && bounds.max.y <= 5.0 + 1e-9, "{mark:?}");
        }
    }

    #[test]
    fn shapes_are_clipped() {
        let window = sized(0.0, 0.0, 10.0, 10.0);
        let line =
            [Point2::new(-5.0, 5.0), Point2::new(5.0, 5.0), Point2::new(5.0, 15.0), Point2::new(8.0, 5.0)];
        let pieces = clip_line(&line, &window);
        assert_eq!(pieces.len(), 2);
        assert_eq!(pieces[0], [Point2::new(0.0, 5.0), Point2::new(5.0, 5.0), Point2::new(5.0, 10.0)]);
        assert_eq!(pieces[1].last(), Some(&Point2::new(8.0, 5.0)));
        assert_eq!(clip_line(&[Point2::new(20.0, 0.0), Point2::new(20.0, 5.0)], &window).len(), 0);
        let area = clip_area(&corners(&sized(-5.0, -5.0, 8.0, 8.0)), &window);
        assert_eq!(Bounds::around(area), sized(0.0, 0.0, 3.0, 3.0));
        assert!(clip_area(&corners(&sized(20.0, 0.0, 1.0, 1.0)), &window).is_empty());
    }

    /// ISO 5455 writes reductions 1:X and enlargements X:1 (from memory).
    #[test]
    fn scales_are_written_as_ratios() {
        assert_eq!(scale_text(20.0), "1:20");
        assert_eq!(scale_text(2.5), "1:2.5");
        assert_eq!(scale_text(0.5), "2:1");
        // 1000 mm at 1:10 are 100 mm of paper.
        let view = View { denominator: 10.0, origin: Point2::new(5.0, 0.0) };
        assert_eq!(view.at(Point2::new(1.0, 0.0)), Point2::new(105.0, 0.0));
    }
}
