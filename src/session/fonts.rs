//! The fonts of a project's papers: ours, and those of the system for letters that ours lacks.

use std::collections::BTreeSet;

use crate::files::system_fonts::{FontUse, SystemFont, SystemFonts};
use crate::plan::Project;
use crate::sheets::font::{Fonts, OtherFont};

/// The fonts for the papers of a project, from those installed. The system's fonts are looked at only if a letter of the
/// project is missing in ours.
pub fn fonts_for(project: &Project) -> Fonts {
    fonts_among(project, SystemFonts::installed)
}

/// The same from fonts that are handed in when they are needed.
pub fn fonts_among<'a>(project: &Project, among: impl FnOnce() -> &'a SystemFonts) -> Fonts {
    let own = Fonts::default();
    let mut missing = BTreeSet::new();
    for words in all_words(project) {
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

/// Every text of a project that has other letters than ASCII.
fn all_words(project: &Project) -> Vec<String> {
    let mut found = Vec::new();
    if let Ok(value) = serde_json::to_value(project) {
        collect(value, &mut found);
    }
    found
}

fn collect(value: serde_json::Value, found: &mut Vec<String>) {
    match value {
        serde_json::Value::String(words) if !words.is_ascii() => found.push(words),
        serde_json::Value::Array(all) => all.into_iter().for_each(|one| collect(one, found)),
        serde_json::Value::Object(all) => all.into_iter().for_each(|(_, one)| collect(one, found)),
        _ => {}
    }
}
