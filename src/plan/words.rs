//! Lists and ranges in words, for findings, drawings and papers alike.

use super::letters::visible;
use crate::quantities::{Angle, Measure, UnitSystem};

/// With its first letter as at the start of a sentence.
pub fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// A side slope with the side that is up: `8.0 % (left side up)`.
pub fn side_slope(slope: Angle, units: UnitSystem) -> String {
    slope_words(slope, ["right side up", "left side up"], units)
}

/// A fore-aft slope with the end that is up: `5.0 % (nose down)`.
pub fn fore_aft_slope(slope: Angle, units: UnitSystem) -> String {
    slope_words(slope, ["nose up", "nose down"], units)
}

fn slope_words(slope: Angle, [up, down]: [&str; 2], units: UnitSystem) -> String {
    let size = Measure::Slope.text(slope.abs().si(), units);
    let side = if slope > Angle::ZERO { up } else { down };
    if slope == Angle::ZERO { size } else { format!("{size} ({side})") }
}

/// `A`, `A and B`, `A, B and C`.
pub fn list(words: &[String]) -> String {
    match words {
        [] => String::new(),
        [one] => one.clone(),
        [most @ .., last] => format!("{} and {last}", most.join(", ")),
    }
}

/// A list that names at most so many and counts the rest: `A, B and 5 more`.
pub fn short_list(words: &[String], most: usize) -> String {
    if words.len() <= most.max(2) {
        return list(words);
    }
    let named = most.max(2) - 1;
    format!("{} and {} more", words[..named].join(", "), words.len() - named)
}

/// A number of things: `1 outlet`, `3 outlets`; of words that take an s.
pub fn counted(number: usize, one: &str) -> String {
    let plural = if one.ends_with("ch") || one.ends_with("sh") { "es" } else { "s" };
    format!("{} {one}{}", count(number), if number == 1 { "" } else { plural })
}

/// `A` to `Z` for 0 to 25, then `AA`, `AB` and so on.
pub fn letters(index: u32) -> String {
    let last = char::from(b'A' + (index % 26) as u8);
    match index / 26 {
        0 => last.to_string(),
        before => format!("{}{last}", letters(before - 1)),
    }
}

/// A count with its thousands parted: `199,980`.
pub fn count(number: usize) -> String {
    let digits = number.to_string();
    let mut out = String::with_capacity(digits.len() + digits.len() / 3);
    for (index, digit) in digits.chars().enumerate() {
        if index > 0 && (digits.len() - index).is_multiple_of(3) {
            out.push(',');
        }
        out.push(digit);
    }
    out
}

/// Most characters of somebody else's text that a message shows.
const LONGEST_SHOWN: usize = 80;

/// Somebody else's text as a message shows it: so long that it can be recognised and no longer, and with nothing in it
/// that can't be seen.
pub fn short(text: &str) -> String {
    match text.char_indices().nth(LONGEST_SHOWN) {
        Some((end, _)) => format!("{}…", visible(&text[..end])),
        None => visible(text).into_owned(),
    }
}

/// What a message calls a thing of a kind, by its name, or where it has none by what a file knows it by: `duty Maize`,
/// `duty with id 2`.
pub fn called(kind: &str, name: &str, id: u32) -> String {
    if name.trim().is_empty() { format!("{kind} with id {id}") } else { format!("{kind} {}", short(name)) }
}

/// Numbers in rising order, neighbours joined: `1 to 5`, `7`. Two neighbours stay two.
pub fn range_pieces(numbers: &[u32]) -> Vec<String> {
    let mut sorted = numbers.to_vec();
    sorted.sort_unstable();
    sorted.dedup();
    let mut pieces: Vec<String> = Vec::new();
    for run in sorted.chunk_by(|a, b| a.checked_add(1) == Some(*b)) {
        match run {
            [first, _, .., last] => pieces.push(format!("{first} to {last}")),
            few => pieces.extend(few.iter().map(u32::to_string)),
        }
    }
    pieces
}

/// `1`, `1 and 2`, `1 to 5 and 7`.
pub fn ranges(numbers: &[u32]) -> String {
    list(&range_pieces(numbers))
}

/// Tags with neighbours joined: `T1 to T14, T16 and H3`. A tag is a letter or more and a number.
pub fn tags(tags: &[String]) -> String {
    let split = |tag: &str| {
        let at = tag.find(|c: char| c.is_ascii_digit())?;
        let number: u32 = tag[at..].parse().ok()?;
        // What would not read back the same (T01) stays as it is.
        (format!("{}{number}", &tag[..at]) == *tag).then(|| (tag[..at].to_owned(), number))
    };
    let mut pieces: Vec<String> = Vec::new();
    let neighbours = |a: &String, b: &String| match (split(a), split(b)) {
        (Some((letters, number)), Some((others, next))) => {
            letters == others && number.checked_add(1) == Some(next)
        }
        _ => false,
    };
    for run in tags.chunk_by(neighbours) {
        match run {
            [first, _, .., last] => pieces.push(format!("{first} to {last}")),
            few => pieces.extend_from_slice(few),
        }
    }
    list(&pieces)
}

/// Signs that make a spreadsheet take the words of a cell for a formula (OWASP, "CSV injection").
const FORMULA: [char; 6] = ['=', '+', '-', '@', '\t', '\r'];

/// Words for a cell of a CSV file: with an apostrophe in front, which spreadsheets take for "text", where they would be
/// run as a formula.
pub fn no_formula(words: &str) -> String {
    if words.starts_with(FORMULA) { format!("'{words}") } else { words.to_owned() }
}

/// The words of [`no_formula`] as they were.
pub fn with_formula(cell: &str) -> &str {
    cell.strip_prefix('\'').filter(|rest| rest.starts_with(FORMULA)).unwrap_or(cell)
}

/// What words with numbers in them are sorted by: pieces of letters and numbers, so that `M2` comes before `M10`.
pub fn natural_order(text: &str) -> Vec<(String, u64)> {
    let mut pieces: Vec<(String, u64)> = vec![(String::new(), 0)];
    let mut in_number = false;
    for c in text.chars() {
        if let Some(digit) = c.to_digit(10) {
            in_number = true;
            if let Some(last) = pieces.last_mut() {
                last.1 = last.1.saturating_mul(10).saturating_add(u64::from(digit));
            }
        } else {
            if in_number {
                pieces.push((String::new(), 0));
                in_number = false;
            }
            if let Some(last) = pieces.last_mut() {
                last.0.extend(c.to_lowercase());
            }
        }
    }
    pieces
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn neighbours_are_joined() {
        assert_eq!(ranges(&[7, 1, 2, 3, 4, 5]), "1 to 5 and 7");
        assert_eq!(ranges(&[1, 2]), "1 and 2");
        assert_eq!(ranges(&[4_294_967_295, 0]), "0 and 4294967295");
        assert_eq!(ranges(&[]), "");
        let words = |words: &[&str]| words.iter().map(|word| (*word).to_owned()).collect::<Vec<_>>();
        assert_eq!(tags(&words(&["T1", "T2", "T3", "T5", "H1"])), "T1 to T3, T5 and H1");
        assert_eq!(tags(&words(&["T01", "T02", "T03", "pump side"])), "T01, T02, T03 and pump side");
        assert_eq!(tags(&words(&["T4294967295", "T0"])), "T4294967295 and T0");
    }

    #[test]
    fn letters_go_on_behind_z() {
        let said: Vec<String> = [0, 1, 25, 26, 27, 51, 52].into_iter().map(letters).collect();
        assert_eq!(said, ["A", "B", "Z", "AA", "AB", "AZ", "BA"]);
    }

    /// First signs that start a formula: OWASP, "CSV injection".
    #[test]
    fn words_never_become_a_formula() {
        for (words, cell) in
            [("=1+1", "'=1+1"), ("-x", "'-x"), ("\tx", "'\tx"), ("a=b", "a=b"), ("'a", "'a"), ("", "")]
        {
            assert_eq!(no_formula(words), cell);
            assert_eq!(with_formula(cell), words);
        }
    }

    #[test]
    fn counts_and_other_peoples_texts_can_be_read() {
        let counts = [0, 12, 999, 1000, 199_980, 1_000_000].map(count);
        assert_eq!(counts, ["0", "12", "999", "1,000", "199,980", "1,000,000"]);
        assert_eq!([0, 1, 2].map(|many| counted(many, "outlet")), ["0 outlets", "1 outlet", "2 outlets"]);
        assert_eq!(short("a\nb"), "a\\nb");
        assert_eq!(short(&"ü".repeat(LONGEST_SHOWN)), "ü".repeat(LONGEST_SHOWN));
        assert_eq!(short(&"ü".repeat(500_000)), format!("{}…", "ü".repeat(LONGEST_SHOWN)));
    }

    #[test]
    fn a_long_list_counts_the_rest() {
        let words: Vec<String> = ('A'..='H').map(String::from).collect();
        assert_eq!(short_list(&words[..6], 6), "A, B, C, D, E and F");
        assert_eq!(short_list(&words, 6), "A, B, C, D, E and 3 more");
    }
}
