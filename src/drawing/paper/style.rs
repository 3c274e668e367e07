//! How words and lines look: heights of letters, widths of lines, where words stand to their point; breaking words into lines.

use super::page::{PaperLayer, Shade};

/// How wide words are in the font the writers use.
pub trait Letters {
    /// Width of a line of words, in multiples of the height of its capitals.
    fn width(&self, words: &str, bold: bool) -> f64;
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

/// Height of the words of drawings, and the least of all that is written on one (ISO 3098).
pub const USUAL: f64 = 2.5;

/// Height of tags, headings and item numbers, which stand out by the next height of the series.
pub const LARGE: f64 = 3.5;

/// Lines of words are this many capital heights apart.
pub const LINE_FEED: f64 = 1.75;

/// Wide lines: outlines (ISO 128 line group 0.5).
pub const WIDE: f64 = 0.5;

/// Middle lines: symbols.
pub const MIDDLE: f64 = 0.35;

/// Narrow lines: dimensions, leaders, hinges.
pub const NARROW: f64 = 0.18;

/// A number that closes a bracket, as in `(item 7)`: a line does not begin with it.
fn closes_with_number(word: &str) -> bool {
    let number = word.trim_end_matches(['.', ',', ';', ':']).strip_suffix(')');
    number.is_some_and(|number| !number.is_empty() && number.chars().all(|letter| letter.is_ascii_digit()))
}

/// Words broken into lines of at most a width; a word longer than a line is broken where it must be, and a number that closes a
/// bracket stays with the word before it where both fit on a line.
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
            if closes_with_number(word)
                && let Some((before, last)) = line.rsplit_once(' ')
                && let with_last = format!("{last} {word}")
                && measure(&with_last) <= width
            {
                lines.push(before.to_owned());
                line = with_last;
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
