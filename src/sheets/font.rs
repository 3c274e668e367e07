//! The fonts of all papers: DejaVu Sans Condensed, regular and bold, embedded in the program, and for letters that it
//! lacks whatever fonts are handed in ([`Fonts`]).
//!
//! DejaVu may be embedded, subset and passed on with the papers; its licence (that of Bitstream Vera; DejaVu's own
//! changes are in the public domain) lies beside it in `DejaVuSansCondensed-LICENCE.txt`. Its letters stand at their
//! widths one after the other, which is right for Latin, Greek, Cyrillic, Armenian and Georgian; lines with letters of
//! any other script are ordered (`unicode-bidi`) and shaped (`harfrust`).

use std::collections::{BTreeSet, HashMap};
use std::fmt;
use std::ops::Range;
use std::sync::{Arc, OnceLock};

use harfrust::{Direction, ShapeOptions, ShaperData, UnicodeBuffer};
use skrifa::instance::{LocationRef, Size};
use skrifa::{FontRef, MetadataProvider as _};
use unicode_bidi::{BidiInfo, Level};
use unicode_script::{Script, UnicodeScript as _};

use crate::drawing::paper::Letters;
use crate::plan::letters::is_refused;

/// A style of the embedded font.
pub struct Font {
    /// The font file.
    pub data: &'static [u8],
    /// Glyph and advance, in ems, of each letter it has.
    by_letter: HashMap<char, (u16, f64)>,
    /// Height of capitals over the em.
    capitals: f64,
    shaping: Option<ShaperData>,
}

/// The embedded font's name.
pub const FAMILY: &str = "DejaVu Sans Condensed";

/// The style for plain or bold words.
pub fn font(bold: bool) -> &'static Font {
    static REGULAR: OnceLock<Font> = OnceLock::new();
    static BOLD: OnceLock<Font> = OnceLock::new();
    if bold {
        BOLD.get_or_init(|| Font::new(include_bytes!("DejaVuSansCondensed-Bold.ttf")))
    } else {
        REGULAR.get_or_init(|| Font::new(include_bytes!("DejaVuSansCondensed.ttf")))
    }
}

impl Font {
    fn new(data: &'static [u8]) -> Self {
        let mut font = Self { data, by_letter: HashMap::new(), capitals: 0.729, shaping: None };
        let Ok(face) = FontRef::new(data) else { return font };
        let letters = face.charmap();
        let metrics = face.glyph_metrics(Size::unscaled(), LocationRef::default());
        let em = f64::from(face.metrics(Size::unscaled(), LocationRef::default()).units_per_em);
        for (code, glyph) in letters.mappings() {
            let (Some(letter), Ok(number)) = (char::from_u32(code), u16::try_from(glyph.to_u32())) else {
                continue;
            };
            let advance = metrics.advance_width(glyph).unwrap_or_default();
            font.by_letter.insert(letter, (number, f64::from(advance) / em));
        }
        if let Some(capital) = letters.map('H').and_then(|glyph| metrics.bounds(glyph)) {
            font.capitals = f64::from(capital.y_max) / em;
        }
        font.shaping = Some(ShaperData::new(&face));
        font
    }

    /// Size of the font (its em) for capitals of a height.
    pub fn size(&self, capitals: f64) -> f64 {
        capitals / self.capitals
    }

    /// Glyph and advance, in ems, of a letter; glyph 0 where the font has none.
    pub fn glyph(&self, letter: char) -> (u16, f64) {
        self.by_letter.get(&letter).copied().unwrap_or((0, 0.5))
    }

    /// Whether it has a letter.
    pub fn has(&self, letter: char) -> bool {
        self.by_letter.contains_key(&letter)
    }
}

/// A font that is handed in, for letters that the embedded one lacks.
pub struct OtherFont {
    /// Name of its family.
    pub family: String,
    /// The font file.
    pub data: Arc<Vec<u8>>,
    /// Which font of the file.
    pub index: u32,
    letters: BTreeSet<char>,
    shaping: ShaperData,
    units: f64,
}

impl OtherFont {
    /// Reads a font; none if it can't be read.
    pub fn read(family: &str, data: Arc<Vec<u8>>, index: u32) -> Option<Self> {
        let face = FontRef::from_index(&data, index).ok()?;
        let letters = face.charmap().mappings().filter_map(|(code, _)| char::from_u32(code)).collect();
        let units = f64::from(face.metrics(Size::unscaled(), LocationRef::default()).units_per_em);
        let shaping = ShaperData::new(&face);
        (units > 0.0).then(|| Self {
            family: family.to_owned(),
            data: Arc::clone(&data),
            index,
            letters,
            shaping,
            units,
        })
    }
}

/// Which font a piece of a line is set in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Face {
    /// The embedded one, plain or bold.
    Own {
        /// Bold or not.
        bold: bool,
    },
    /// One of those handed in, by its place among them.
    Other(usize),
}

/// A glyph in its place after the one before; lengths in ems.
#[derive(Debug, Clone, PartialEq)]
pub struct Glyph {
    /// Its number in the font.
    pub number: u32,
    /// How far the next one is.
    pub advance: f64,
    /// How far it is moved, right and up.
    pub offset: (f64, f64),
    /// The bytes of the line that it stands for.
    pub range: Range<usize>,
}

/// Glyphs of one font, from left to right.
#[derive(Debug, Clone, PartialEq)]
pub struct GlyphRun {
    /// The font.
    pub face: Face,
    /// Its glyphs.
    pub glyphs: Vec<Glyph>,
}

impl GlyphRun {
    /// How far the next piece is, in ems.
    pub fn advance(&self) -> f64 {
        self.glyphs.iter().map(|glyph| glyph.advance).sum()
    }
}

/// The fonts of a set of papers: the embedded one, and what is handed in for letters that it lacks.
#[derive(Clone, Default)]
pub struct Fonts {
    others: Arc<Vec<OtherFont>>,
}

impl fmt::Debug for Fonts {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.debug_list().entries(self.others.iter().map(|other| &other.family)).finish()
    }
}

impl PartialEq for Fonts {
    fn eq(&self, other: &Self) -> bool {
        let key = |one: &OtherFont| (one.family.clone(), one.index, one.data.len());
        self.others.iter().map(key).eq(other.others.iter().map(key))
    }
}

impl Fonts {
    /// The embedded font and others, those first asked first.
    pub fn with(others: Vec<OtherFont>) -> Self {
        Self { others: Arc::new(others) }
    }

    /// What was handed in.
    pub fn others(&self) -> &[OtherFont] {
        &self.others
    }

    /// A line of words as glyphs, in the order in which they stand from left to right.
    pub fn set(&self, words: &str, bold: bool) -> Vec<GlyphRun> {
        if words.chars().all(|letter| stands_alone(letter, bold)) {
            return vec![one_after_the_other(words, 0..words.len(), bold)];
        }
        let order = BidiInfo::new(words, None);
        let mut pieces = Vec::new();
        for paragraph in &order.paragraphs {
            let (levels, runs) = order.visual_runs(paragraph, paragraph.range.clone());
            for run in runs {
                let leftward = levels.get(run.start).is_some_and(Level::is_rtl);
                let mut found = self.pieces(words, run, bold, leftward);
                if leftward {
                    found.reverse();
                }
                pieces.append(&mut found);
            }
        }
        pieces
    }

    /// Whether a line begins at its right end.
    pub fn runs_leftward(words: &str) -> bool {
        !words.is_ascii()
            && BidiInfo::new(words, None).paragraphs.first().is_some_and(|one| one.level.is_rtl())
    }

    /// Letters of one direction, parted by font and script, in the order of reading.
    fn pieces(&self, words: &str, run: Range<usize>, bold: bool, leftward: bool) -> Vec<GlyphRun> {
        let mut parts: Vec<(Face, Script, Range<usize>)> = Vec::new();
        for (at, letter) in words.get(run.clone()).unwrap_or_default().char_indices() {
            let (start, end) = (run.start + at, run.start + at + letter.len_utf8());
            let script = letter.script();
            let is_shared = matches!(script, Script::Common | Script::Inherited | Script::Unknown);
            if let Some((face, of, range)) = parts.last_mut() {
                let stays = is_invisible(letter) || self.has(*face, letter);
                let of_any = matches!(*of, Script::Common | Script::Inherited | Script::Unknown);
                let is_same = self.face(letter, bold) == *face && (script == *of || of_any);
                if (is_shared && stays) || is_same {
                    if of_any {
                        *of = script;
                    }
                    range.end = end;
                    continue;
                }
            }
            parts.push((self.face(letter, bold), script, start..end));
        }
        parts.into_iter().map(|(face, _, range)| self.piece(words, range, face, leftward)).collect()
    }

    fn has(&self, face: Face, letter: char) -> bool {
        match face {
            Face::Own { bold } => font(bold).has(letter),
            Face::Other(at) => self.others.get(at).is_some_and(|other| other.letters.contains(&letter)),
        }
    }

    /// The first font that has a letter; the embedded one where none has.
    fn face(&self, letter: char, bold: bool) -> Face {
        let own = Face::Own { bold };
        if self.has(own, letter) {
            return own;
        }
        (0..self.others.len()).map(Face::Other).find(|face| self.has(*face, letter)).unwrap_or(own)
    }

    fn piece(&self, words: &str, range: Range<usize>, face: Face, leftward: bool) -> GlyphRun {
        let text = words.get(range.clone()).unwrap_or_default();
        let (data, index, shaping, units) = match face {
            Face::Own { bold } => {
                let font = font(bold);
                match &font.shaping {
                    Some(shaping) if !text.chars().all(|letter| stands_alone(letter, bold)) => {
                        (font.data, 0, shaping, OWN_UNITS)
                    }
                    _ => return one_after_the_other(words, range, bold),
                }
            }
            Face::Other(at) => match self.others.get(at) {
                Some(other) => (other.data.as_slice(), other.index, &other.shaping, other.units),
                None => return GlyphRun { face, glyphs: Vec::new() },
            },
        };
        let Ok(font) = FontRef::from_index(data, index) else { return GlyphRun { face, glyphs: Vec::new() } };
        let mut buffer = UnicodeBuffer::new();
        buffer.push_str(text);
        buffer.guess_segment_properties();
        buffer.set_direction(if leftward { Direction::RightToLeft } else { Direction::LeftToRight });
        let shaped = shaping.shaper(&font).build().shape(buffer, ShapeOptions::new());
        let starts: BTreeSet<usize> = shaped.glyph_infos().iter().map(|info| info.cluster as usize).collect();
        let end = |start: usize| starts.range(start + 1..).next().copied().unwrap_or(text.len());
        let ems = |units_of_font: i32| f64::from(units_of_font) / units;
        let glyphs = shaped.glyph_infos().iter().zip(shaped.glyph_positions()).map(|(info, position)| {
            let start = info.cluster as usize;
            Glyph {
                number: info.glyph_id,
                advance: ems(position.x_advance),
                offset: (ems(position.x_offset), ems(position.y_offset)),
                range: range.start + start..range.start + end(start),
            }
        });
        GlyphRun { face, glyphs: glyphs.collect() }
    }

    /// The first letter that can't be printed: no font has it, or no name may hold it.
    pub fn unwritable(&self, words: &str, bold: bool) -> Option<char> {
        words.chars().find(|letter| {
            is_refused(*letter) || !(is_invisible(*letter) || self.has(self.face(*letter, bold), *letter))
        })
    }
}

impl Letters for Fonts {
    fn width(&self, words: &str, bold: bool) -> f64 {
        let own = font(bold);
        if words.chars().all(|letter| stands_alone(letter, bold)) {
            return words.chars().map(|letter| own.glyph(letter).1).sum::<f64>() / own.capitals;
        }
        self.set(words, bold).iter().map(GlyphRun::advance).sum::<f64>() / own.capitals
    }
}

/// Units of the em of DejaVu Sans, as its `head` table has it.
const OWN_UNITS: f64 = 2048.0;

/// Letters that are set one after the other in the embedded font.
fn stands_alone(letter: char, bold: bool) -> bool {
    let code = u32::from(letter);
    let is_joined_or_leftward = matches!(code, 0x0590..=0x08FF | 0x200B..=0x200F | 0x202A..=0x202E | 0x2066..=0x2069
        | 0xFB1D..=0xFDFF | 0xFE70..=0xFEFF | 0x10800..=0x10FFF | 0x1E800..=0x1EFFF);
    !is_joined_or_leftward && font(bold).has(letter)
}

/// Marks that steer how letters join or order and have no shape of their own.
fn is_invisible(letter: char) -> bool {
    matches!(u32::from(letter), 0x200B..=0x200F | 0x2060 | 0xFE00..=0xFE0F | 0xFEFF)
}

fn one_after_the_other(words: &str, range: Range<usize>, bold: bool) -> GlyphRun {
    let own = font(bold);
    let text = words.get(range.clone()).unwrap_or_default();
    let glyphs = text.char_indices().map(|(at, letter)| {
        let (number, advance) = own.glyph(letter);
        let start = range.start + at;
        Glyph {
            number: u32::from(number),
            advance,
            offset: (0.0, 0.0),
            range: start..start + letter.len_utf8(),
        }
    });
    GlyphRun { face: Face::Own { bold }, glyphs: glyphs.collect() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_papers_say_can_be_written() {
        let fonts = Fonts::default();
        for bold in [false, true] {
            // Signs the program writes, and letters of names.
            let words = "Ø ⌀ ± − × · – — ° ² ³ µ → ≤ ≥ … Ωß Łódź Ñandú Ελλάδα Україна";
            assert_eq!(fonts.unwritable(words, bold), None);
            assert_eq!(fonts.unwritable("漢", bold), Some('漢'));
            assert_eq!(fonts.unwritable("a\u{202e}b", bold), Some('\u{202e}'));
        }
    }

    /// The capital height of DejaVu Sans is 1493 of 2048 units (its own outline of H), and its bold is wider.
    #[test]
    fn sizes_are_those_of_the_font() {
        assert!((font(false).size(1493.0) - 2048.0).abs() < 1e-9);
        let widths = Fonts::default();
        assert!(widths.width("manifold", true) > widths.width("manifold", false));
        assert_eq!(widths.width("", false), 0.0);
        assert!((widths.width("mmmm", false) / widths.width("m", false) - 4.0).abs() < 1e-9);
    }

    /// Arabic letters join: the four forms of one letter differ, and a line begins at its right end.
    #[test]
    fn arabic_is_joined_and_runs_leftward() {
        let fonts = Fonts::default();
        assert_eq!(fonts.unwritable("مزرعة", false), None);
        let numbers = |words: &str| -> Vec<u32> {
            fonts.set(words, false).iter().flat_map(|piece| &piece.glyphs).map(|glyph| glyph.number).collect()
        };
        let alone = numbers("ه")[0];
        let joined = numbers("ههه");
        assert_eq!(joined.len(), 3);
        assert!(!joined.contains(&alone) && joined[0] != joined[1] && joined[1] != joined[2], "{joined:?}");
        // The number stands to the left of the word before it, and the word's first letter at the right end.
        let words = "مزرعة 12";
        let pieces = fonts.set(words, false);
        let (first, last) = (&pieces[0].glyphs[0], pieces[pieces.len() - 1].glyphs.last().unwrap());
        assert_eq!((&words[first.range.clone()], last.range.start), ("1", 0), "{pieces:?}");
        assert!(
            Fonts::runs_leftward("مزرعة 12") && !Fonts::runs_leftward("12 m") && !Fonts::runs_leftward("Бар")
        );
    }

    /// Every byte of a line belongs to some glyph, whatever the scripts.
    #[test]
    fn every_letter_is_set_once() {
        let fonts = Fonts::default();
        for words in ["plain", "Ферма مزرعة 12 m", "שלום (abc) עולם", "e\u{301}", "", "漢 and مز"]
        {
            let mut covered: Vec<Range<usize>> = fonts
                .set(words, false)
                .iter()
                .flat_map(|piece| &piece.glyphs)
                .map(|glyph| glyph.range.clone())
                .collect();
            covered.sort_by_key(|range| range.start);
            covered.dedup();
            assert!(covered.windows(2).all(|pair| pair[0].end == pair[1].start), "{words}: {covered:?}");
            assert_eq!(covered.last().map_or(0, |range| range.end), words.len(), "{words}");
        }
    }
}
