//! Commands found by a few letters.

use super::names::CommandEntry;
use super::synonyms::SYNONYMS;
use super::table::TABLE;

/// How far another name of a command counts as: farther than the beginning of its wording, nearer than letters scattered
/// over it or a word of its explanation.
const BY_SYNONYM: u32 = 6;

/// The commands whose wording, menu or explanation holds these letters in this order; the best first.
pub fn search(typed: &str) -> Vec<&'static CommandEntry> {
    let typed: Vec<char> = typed.to_lowercase().chars().filter(|c| !c.is_whitespace()).collect();
    let mut found: Vec<(u32, &CommandEntry)> = TABLE
        .iter()
        .filter_map(|entry| {
            let by_label = distance(&typed, entry.label);
            // A whole beginning of a word in the explanation says more than letters scattered over a wording.
            let whole: String = typed.iter().collect();
            let about = entry.about.to_lowercase();
            let begins = |word: &str| typed.len() > 2 && word.starts_with(&whole);
            let by_about = about.split(|c: char| !c.is_alphanumeric()).any(begins).then_some(12);
            let others = SYNONYMS.iter().filter(|(command, _)| *command == entry.command);
            let called = |name: &&str| {
                let name = name.replace([' ', '-'], "");
                whole.chars().count() > 2 && name.starts_with(&whole.replace('-', ""))
            };
            let by_synonym = others.flat_map(|(_, names)| *names).any(called).then_some(BY_SYNONYM);
            let found = by_label.into_iter().chain(by_about).chain(by_synonym).min();
            Some((found?, entry))
        })
        .collect();
    // Stable: equals stay in the order of the menus.
    found.sort_by_key(|(distance, _)| *distance);
    found.into_iter().map(|(_, entry)| entry).collect()
}

/// How far letters typed are from a wording that holds them in order; none if it does not. Letters side by side and
/// at the start of a word count as near.
fn distance(typed: &[char], label: &str) -> Option<u32> {
    let label: Vec<char> = label.to_lowercase().chars().collect();
    // The best over every place to start from: the first may be an unlucky one.
    (0..label.len().max(1))
        .filter_map(|start| {
            let (mut at, mut far) = (start, if start == 0 { 0 } else { 2 });
            if start > 0 && label[start - 1].is_alphanumeric() {
                far += 20;
            }
            for (index, letter) in typed.iter().enumerate() {
                let gap = label.get(at..)?.iter().position(|c| c == letter)?;
                let word_start = label[..at + gap].last().is_none_or(|before| !before.is_alphanumeric());
                if index == 0 && gap > 0 {
                    return None;
                }
                // Of two wordings with the same beginnings of words, that which skips fewer words is meant.
                let words_passed = label[at..at + gap].iter().filter(|c| !c.is_alphanumeric()).count() as u32;
                far += match gap {
                    0 => 0,
                    _ if word_start => words_passed.max(1),
                    _ => 10 + gap as u32,
                };
                at += gap + 1;
            }
            Some(far)
        })
        .min()
}

#[cfg(test)]
mod tests {
    use super::super::Command;
    use super::*;
    use crate::plan::PartKind;

    #[test]
    fn a_few_letters_find_a_command() {
        assert_eq!(search("").len(), TABLE.len());
        for (typed, first) in [
            ("mani", Command::Place(PartKind::Manifold)),
            ("fit", Command::FitToWindow),
            ("pm", Command::Place(PartKind::Manifold)),
            ("save as", Command::SaveAs),
            ("SAVE", Command::Save),
            ("undo", Command::Undo),
            ("row positions", Command::ImportRows),
            ("csv", Command::ExportList),
            ("strainer", Command::Place(PartKind::InletFilter)),
            ("distributor", Command::Place(PartKind::Manifold)),
            ("t piece", Command::Place(PartKind::Tee)),
            ("bung", Command::Place(PartKind::BlankingPlug)),
            ("plug", Command::PlugOpen),
            ("bill of", Command::ExportList),
            ("rotate", Command::Turn),
            ("imperial", Command::SwitchUnits),
            ("pair", Command::PairRows),
            ("daisy", Command::MainsInChain),
        ] {
            let found = search(typed);
            assert_eq!(found.first().map(|entry| entry.command), Some(first), "{typed}");
        }
        assert!(search("qqqq").is_empty());
        let plugs: Vec<Command> = search("cap").iter().map(|entry| entry.command).collect();
        assert!(plugs.contains(&Command::PlugOpen) && plugs.contains(&Command::LeaveBlank), "{plugs:?}");
    }

    #[test]
    fn each_command_has_its_other_names_once_and_in_small_letters() {
        for (at, (command, names)) in SYNONYMS.iter().enumerate() {
            assert!(SYNONYMS[at + 1..].iter().all(|(other, _)| other != command), "{command:?}");
            assert!(names.iter().all(|name| **name == name.to_lowercase()), "{names:?}");
            let label = command.entry().unwrap().label.to_lowercase();
            assert!(names.iter().all(|name| !label.starts_with(name)), "{label} is found by its own wording");
        }
    }
}
