//! The fonts of a project's papers: ours, and those of the system for letters that ours lacks.

use std::collections::BTreeSet;

use crate::files::system_fonts::{FontUse, SystemFont, SystemFonts};
use crate::plan::Project;
use crate::sheets::font::{Fonts, OtherFont};

/// Words of a project that can't be printed as they are.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unprintable {
    /// Where they stand: `title, owner`.
    pub place: String,
    /// The words.
    pub words: String,
    /// Their first letter that no font has.
    pub letter: char,
}

/// The fonts for the papers of a project, from those installed. The system's fonts are looked at only if a letter of the
/// project is missing in ours.
pub fn fonts_for(project: &Project) -> Fonts {
    fonts_among(project, SystemFonts::installed)
}

/// The same from fonts that are handed in when they are needed.
pub fn fonts_among<'a>(project: &Project, among: impl FnOnce() -> &'a SystemFonts) -> Fonts {
    let own = Fonts::default();
    let mut missing = BTreeSet::new();
    for (_, words) in all_words(project) {
        missing.extend(
            words.chars().filter(|letter| own.unwritable(letter.encode_utf8(&mut [0; 4]), false).is_some()),
        );
    }
    missing.retain(|letter| !letter.is_control());
    if missing.is_empty() {
        return own;
    }
    let found = among().covering(&missing, FontUse::Papers);
    let read = |one: SystemFont| OtherFont::read(&one.family, one.data, one.index);
    Fonts::with(found.into_iter().filter_map(read).collect())
}

/// What of a project can't be printed with some fonts, with its place.
pub fn unprintable(project: &Project, fonts: &Fonts) -> Vec<Unprintable> {
    let words = all_words(project).into_iter();
    let each = words.filter_map(|(place, words)| {
        let letter = fonts.unwritable(&words, false)?;
        Some(Unprintable { place, words, letter })
    });
    each.collect()
}

/// Every text of a project, with its place in it.
fn all_words(project: &Project) -> Vec<(String, String)> {
    let mut found = Vec::new();
    if let Ok(value) = serde_json::to_value(project) {
        collect(&value, "", &mut found);
    }
    found
}

fn collect(value: &serde_json::Value, place: &str, found: &mut Vec<(String, String)>) {
    match value {
        serde_json::Value::String(words) if !words.is_ascii() => {
            found.push((place.to_owned(), words.clone()));
        }
        serde_json::Value::Array(all) => {
            for (at, one) in all.iter().enumerate() {
                collect(one, &format!("{place} {}", at + 1), found);
            }
        }
        serde_json::Value::Object(all) => {
            for (name, one) in all {
                let name = name.replace('_', " ");
                collect(one, &if place.is_empty() { name } else { format!("{place}, {name}") }, found);
            }
        }
        _ => {}
    }
}
