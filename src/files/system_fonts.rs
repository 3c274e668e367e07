//! Fonts of the system, for letters that the program's own fonts lack.
//!
//! Nothing is looked at until a letter is missing. Then every installed font is opened in place (mapped, not read), and
//! only the one that has most of what is missing is copied.

use std::collections::BTreeSet;
use std::path::Path;
use std::sync::{Arc, OnceLock};

use fontdb::{Database, FaceInfo, Stretch, Style, Weight};
use skrifa::raw::TableProvider as _;
use skrifa::{FontRef, MetadataProvider as _, Tag};

/// What a font is wanted for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FontUse {
    /// To be shown on this machine.
    Screen,
    /// To be put into files that are passed on.
    Papers,
}

/// A font that was found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SystemFont {
    /// Name of its family.
    pub family: String,
    /// The font file.
    pub data: Arc<Vec<u8>>,
    /// Which font of the file.
    pub index: u32,
    /// The letters it is for.
    pub letters: BTreeSet<char>,
}

/// The fonts to look among.
pub struct SystemFonts {
    fonts: Database,
}

impl SystemFonts {
    /// Those installed on this machine, listed once for the whole run of the program.
    pub fn installed() -> &'static Self {
        static INSTALLED: OnceLock<SystemFonts> = OnceLock::new();
        INSTALLED.get_or_init(|| {
            let mut fonts = Database::new();
            fonts.load_system_fonts();
            Self { fonts }
        })
    }

    /// Those of a folder.
    pub fn of_folder(folder: &Path) -> Self {
        let mut fonts = Database::new();
        fonts.load_fonts_dir(folder);
        Self { fonts }
    }

    /// Fonts that together have as many of the letters as can be had: each time the one with most of what is still
    /// missing; between equals a plain upright one, then by name. The same fonts installed give the same answer.
    pub fn covering(&self, letters: &BTreeSet<char>, wanted: FontUse) -> Vec<SystemFont> {
        let mut missing = letters.clone();
        let mut found = Vec::new();
        let mut left: Vec<(&FaceInfo, BTreeSet<char>)> = self
            .fonts
            .faces()
            .filter_map(|face| {
                let has =
                    self.fonts.with_face_data(face.id, |data, index| has(data, index, letters, wanted))??;
                (!has.is_empty()).then_some((face, has))
            })
            .collect();
        left.sort_by_cached_key(|(face, _)| plainness(face));
        while !missing.is_empty() {
            left.retain_mut(|(_, has)| {
                has.retain(|letter| missing.contains(letter));
                !has.is_empty()
            });
            let Some(most) = left.iter().map(|(_, has)| has.len()).max() else { break };
            let Some(at) = left.iter().position(|(_, has)| has.len() == most) else { break };
            let (face, has) = left.remove(at);
            missing.retain(|letter| !has.contains(letter));
            let copy = |data: &[u8], _| data.to_vec();
            if let Some(data) = self.fonts.with_face_data(face.id, copy) {
                let family = face.families.first().map_or(&face.post_script_name, |(name, _)| name);
                found.push(SystemFont {
                    family: family.clone(),
                    data: Arc::new(data),
                    index: face.index,
                    letters: has,
                });
            }
        }
        found
    }
}

/// The letters that a font has; none if it can't be read or used.
fn has(data: &[u8], index: u32, letters: &BTreeSet<char>, wanted: FontUse) -> Option<BTreeSet<char>> {
    let font = FontRef::from_index(data, index).ok()?;
    // Pictures of letters, as for emoji, are no outlines.
    let has_outlines = [b"glyf", b"CFF "].into_iter().any(|tag| font.table_data(Tag::new(tag)).is_some());
    if !has_outlines || (wanted == FontUse::Papers && !may_be_embedded(&font)) {
        return None;
    }
    let map = font.charmap();
    Some(
        letters
            .iter()
            .copied()
            .filter(|letter| map.map(*letter).is_some_and(|glyph| glyph.to_u32() != 0))
            .collect(),
    )
}

/// Whether the font's own bits allow parts of it in a document that is passed on (OpenType, OS/2 table, fsType): not
/// where embedding is restricted, subsetting is forbidden, or bitmaps alone may be embedded. A font without the table
/// says nothing against it.
fn may_be_embedded(font: &FontRef) -> bool {
    const LICENCE: u16 = 0x000f;
    const RESTRICTED: u16 = 0x0002;
    const NO_SUBSETS: u16 = 0x0100;
    const BITMAPS_ONLY: u16 = 0x0200;
    font.os2().map_or(true, |table| {
        let bits = table.fs_type();
        bits & LICENCE != RESTRICTED && bits & (NO_SUBSETS | BITMAPS_ONLY) == 0
    })
}

/// Sorts plain, upright, proportional fonts without serifs first.
fn plainness(face: &FaceInfo) -> impl Ord + use<> {
    let family = face.families.first().map_or("", |(name, _)| name.as_str()).to_owned();
    (
        face.style != Style::Normal,
        face.weight.0.abs_diff(Weight::NORMAL.0),
        face.stretch != Stretch::Normal,
        face.monospaced,
        !family.contains("Sans"),
        family,
        face.post_script_name.clone(),
        face.index,
    )
}
