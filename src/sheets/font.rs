//! The font of all papers: DejaVu Sans Condensed, regular and bold, embedded in the program.
//!
//! It may be embedded, subset and passed on with the papers; its licence (that of Bitstream Vera; DejaVu's
//! own changes are in the public domain) lies beside it in `DejaVuSansCondensed-LICENCE.txt`. Letters stand at the widths of the font one after the other: that is right
//! for Latin, Greek, Cyrillic, Armenian and Georgian, and what is not of these is refused ([`unwritable`]) instead of
//! printed wrong.

use std::sync::OnceLock;

use ttf_parser::Face;

use crate::drawing::paper::Letters;

/// A style of the font.
pub struct Font {
    /// The font file.
    pub data: &'static [u8],
    face: Option<Face<'static>>,
    /// Height of capitals over the em.
    capitals: f64,
}

/// The font's name.
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
        let face = Face::parse(data, 0).ok();
        let em = face.as_ref().map_or(1.0, |face| f64::from(face.units_per_em()));
        let box_of = |face: &Face| face.glyph_index('H').and_then(|glyph| face.glyph_bounding_box(glyph));
        let capitals = face.as_ref().and_then(box_of).map_or(0.729, |capital| f64::from(capital.y_max) / em);
        Self { data, face, capitals }
    }

    /// Size of the font (its em) for capitals of a height.
    pub fn size(&self, capitals: f64) -> f64 {
        capitals / self.capitals
    }

    /// Glyph and advance, in ems, of a letter; glyph 0 where the font has none.
    pub fn glyph(&self, letter: char) -> (u16, f64) {
        let Some(face) = &self.face else { return (0, 0.5) };
        let glyph = face.glyph_index(letter).unwrap_or_default();
        let advance = face.glyph_hor_advance(glyph).unwrap_or_default();
        (glyph.0, f64::from(advance) / f64::from(face.units_per_em()))
    }
}

/// The widths of the embedded font.
pub struct FontWidths;

impl Letters for FontWidths {
    fn width(&self, words: &str, bold: bool) -> f64 {
        let font = font(bold);
        words.chars().map(|letter| font.glyph(letter).1).sum::<f64>() / font.capitals
    }
}

/// The first letter that can't be printed: the font does not have it, or its script runs from right to left or joins
/// its letters, which placing letter after letter gets wrong.
pub fn unwritable(words: &str, bold: bool) -> Option<char> {
    words.chars().find(|letter| {
        let code = u32::from(*letter);
        let not_in_order = matches!(code, 0x0590..=0x08FF | 0xFB1D..=0xFDFF | 0xFE70..=0xFEFC | 0x200B..=0x200F
            | 0x202A..=0x202E | 0x2066..=0x2069);
        not_in_order || letter.is_control() || font(bold).glyph(*letter).0 == 0
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_papers_say_can_be_written() {
        for bold in [false, true] {
            // Signs the program writes, and letters of names.
            assert_eq!(
                unwritable("Ø ⌀ ± − × · – — ° ² ³ µ → ≤ ≥ … Ωß Łódź Ñandú Ελλάδα Україна", bold),
                None
            );
            assert_eq!(unwritable("漢", bold), Some('漢'));
            assert_eq!(unwritable("bar שלום", bold), Some('ש'));
            assert_eq!(unwritable("a\u{202e}b", bold), Some('\u{202e}'));
        }
    }

    /// The capital height of DejaVu Sans is 1493 of 2048 units (its own outline of H), and its bold is wider.
    #[test]
    fn sizes_are_those_of_the_font() {
        assert!((font(false).size(1493.0) - 2048.0).abs() < 1e-9);
        let widths = FontWidths;
        assert!(widths.width("manifold", true) > widths.width("manifold", false));
        assert_eq!(widths.width("", false), 0.0);
        assert!((widths.width("mmmm", false) / widths.width("m", false) - 4.0).abs() < 1e-9);
    }
}
