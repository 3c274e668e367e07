//! Letters that have no place in a name or note, and how a text with such letters is shown.
//!
//! Control characters, line breaks and marks that turn the direction of the text would let a name put lines into a file,
//! commands into a terminal, or read as another name than it is.

use std::borrow::Cow;

/// A letter that no name may hold: controls (C0 and C1), separators of lines and paragraphs, embeddings, overrides and
/// isolates of the text's direction (Unicode Standard Annex 9; the letters that "Trojan Source", Boucher and Anderson 2021,
/// warns of), annotation marks, and what is no character (Unicode Standard, 23.7; XML 1.0 forbids the last two).
pub fn is_refused(letter: char) -> bool {
    letter.is_control()
        || matches!(letter,
            '\u{2028}' | '\u{2029}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' | '\u{feff}'
                | '\u{fdd0}'..='\u{fdef}' | '\u{fff9}'..='\u{fffb}')
        || (letter as u32) & 0xfffe == 0xfffe
}

/// What a text is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Lines {
    /// One line: a name, a tag, a field.
    One,
    /// A note, which may have line breaks (`\n`) and nothing else.
    Several,
}

/// The first letter of a text that it must not hold.
pub fn first_refused(text: &str, lines: Lines) -> Option<char> {
    text.chars().find(|letter| is_refused(*letter) && !(*letter == '\n' && lines == Lines::Several))
}

/// A letter that is not shown, in words.
pub fn named(letter: char) -> String {
    match letter {
        '\n' | '\r' | '\u{85}' | '\u{2028}' | '\u{2029}' => format!("a line break (U+{:04X})", letter as u32),
        '\t' => "a tab".to_owned(),
        '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' => {
            format!("a mark that turns the direction of the text (U+{:04X})", letter as u32)
        }
        _ => format!("a character that can't be seen (U+{:04X})", letter as u32),
    }
}

/// A text for a message, a window or a terminal: every letter that a name must not hold is written by its code,
/// `\u{1b}`, line breaks too.
pub fn visible(text: &str) -> Cow<'_, str> {
    visible_but(text, |_| false)
}

/// The same for a message that holds text of a file: no longer than `most` letters. Of a longer one the beginning and the
/// end stay, where a reader says what it met and where.
pub fn visible_within(text: &str, most: usize) -> Cow<'_, str> {
    // What is left away in any case need not be made visible first.
    if text.len() <= most && !text.contains(is_refused) {
        return Cow::Borrowed(text);
    }
    let shown = visible(text);
    let count = shown.chars().count();
    if count <= most {
        return shown;
    }
    let tail = most / 3;
    let head: String = shown.chars().take(most.saturating_sub(tail + 1)).collect();
    Cow::Owned(head + "…" + &shown.chars().skip(count - tail).collect::<String>())
}

/// The same for a message of several lines, whose own line breaks stay.
pub fn visible_lines(text: &str) -> Cow<'_, str> {
    visible_but(text, |letter| letter == '\n')
}

fn visible_but(text: &str, stays: impl Fn(char) -> bool) -> Cow<'_, str> {
    if !text.contains(|letter| is_refused(letter) && !stays(letter)) {
        return Cow::Borrowed(text);
    }
    let mut out = String::with_capacity(text.len() + 16);
    for letter in text.chars() {
        match letter {
            _ if !is_refused(letter) || stays(letter) => out.push(letter),
            '\n' => out.push_str("\\n"),
            '\r' => out.push_str("\\r"),
            '\t' => out.push_str("\\t"),
            _ => out.extend(letter.escape_unicode()),
        }
    }
    Cow::Owned(out)
}

/// A text for a format that must stay on one line and has no way to write a letter by its code: a space in place of each
/// letter that a name must not hold.
pub fn on_one_line(text: &str) -> Cow<'_, str> {
    if text.contains(is_refused) { Cow::Owned(text.replace(is_refused, " ")) } else { Cow::Borrowed(text) }
}

/// The same for a format that may break the line of a text: `\n` stays.
pub fn on_lines(text: &str) -> Cow<'_, str> {
    let goes = |letter: char| is_refused(letter) && letter != '\n';
    if text.contains(goes) { Cow::Owned(text.replace(goes, " ")) } else { Cow::Borrowed(text) }
}

/// Letters for tests of every door: one of each kind that is refused.
pub const SAMPLES: [char; 14] = [
    '\0', '\u{7}', '\t', '\n', '\r', '\u{1b}', '\u{7f}', '\u{85}', '\u{9b}', '\u{2028}', '\u{2029}',
    '\u{202e}', '\u{2066}', '\u{ffff}',
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_message_keeps_its_beginning_and_its_end() {
        assert_eq!(visible_within("short", 10), "short");
        assert_eq!(visible_within("abcdefghijkl", 9), "abcde…jkl");
        assert_eq!(visible_within("\u{1b}\u{1b}\u{1b}", 10), "\\u{1b}…1b}");
        let long = visible_within(&"é\n".repeat(100_000), 900).into_owned();
        assert_eq!(long.chars().count(), 900);
    }

    #[test]
    fn letters_that_cannot_be_seen_are_written_by_their_code() {
        assert_eq!(visible("Düse 1 → 2"), "Düse 1 → 2");
        assert_eq!(visible("a\u{1b}[31m\nb\r\t"), "a\\u{1b}[31m\\nb\\r\\t");
        assert_eq!(visible_lines("a\n\u{202e}b"), "a\n\\u{202e}b");
        assert_eq!(on_one_line("a\n;b"), "a ;b");
        for letter in SAMPLES {
            let text = format!("a{letter}b");
            assert_eq!(first_refused(&text, Lines::One), Some(letter));
            assert_eq!(first_refused(&text, Lines::Several).is_none(), letter == '\n');
            assert!(!visible(&text).contains(is_refused), "{letter:?}");
            assert!(!on_one_line(&text).contains(is_refused), "{letter:?}");
            assert_eq!(on_lines(&text), if letter == '\n' { "a\nb" } else { "a b" });
        }
    }

    /// Scripts that join their letters or run from right to left need these: Persian, Hindi, Arabic, Hebrew, emoji.
    #[test]
    fn letters_of_living_scripts_are_taken() {
        for text in ["می‌خواهم", "क्‍ष", "عربي\u{200f}", "עברית\u{200e}", "👩‍🌾", "汉字", "é"]
        {
            assert_eq!(first_refused(text, Lines::One), None, "{text}");
        }
    }
}
