//! Lays out RON text so that people can read it and compare two versions line by line: whatever fits on a line
//! stays on it, so a row, a part or a stock takes one line each.

/// Longest line that is not broken further, characters.
const WIDTH: usize = 116;

/// One piece of a value.
enum Piece<'a> {
    /// A name, number or string.
    Text(&'a str),
    /// What stands between two brackets, parted by commas.
    Group(char, Vec<Vec<Piece<'a>>>),
}

/// Breaks the lines of RON text that was written without any white space.
pub(super) fn lay_out(compact: &str) -> String {
    let mut out = String::with_capacity(compact.len() * 3 / 2);
    let mut at = 0;
    for item in items(compact, &mut at) {
        print(&item, 0, &mut out);
    }
    out.push('\n');
    out
}

/// The items from `at` up to a closing bracket, which is left behind.
fn items<'a>(text: &'a str, at: &mut usize) -> Vec<Vec<Piece<'a>>> {
    let bytes = text.as_bytes();
    let (mut all, mut item, mut start) = (Vec::new(), Vec::new(), *at);
    loop {
        let byte = bytes.get(*at).copied();
        if !matches!(byte, None | Some(b'(' | b'[' | b'{' | b')' | b']' | b'}' | b',')) {
            *at = if byte == Some(b'"') { behind_string(bytes, *at) } else { *at + 1 };
            continue;
        }
        if start < *at {
            item.push(Piece::Text(&text[start..*at]));
        }
        match byte {
            Some(open @ (b'(' | b'[' | b'{')) => {
                *at += 1;
                item.push(Piece::Group(char::from(open), items(text, at)));
                *at += 1;
            }
            Some(b',') => {
                all.push(std::mem::take(&mut item));
                *at += 1;
            }
            _ => {
                if !item.is_empty() {
                    all.push(item);
                }
                return all;
            }
        }
        start = *at;
    }
}

/// The place behind the string that starts at `at`.
fn behind_string(bytes: &[u8], at: usize) -> usize {
    let mut at = at + 1;
    while let Some(byte) = bytes.get(at) {
        match byte {
            b'\\' => at += 2,
            b'"' => return at + 1,
            _ => at += 1,
        }
    }
    bytes.len()
}

fn closing(open: char) -> char {
    match open {
        '[' => ']',
        '{' => '}',
        _ => ')',
    }
}

/// Everything on one line; `None` once it is longer than the width.
fn flat(item: &[Piece<'_>]) -> Option<String> {
    let mut out = String::new();
    for piece in item {
        match piece {
            Piece::Text(text) => push_text(text, &mut out),
            Piece::Group(open, all) => {
                out.push(*open);
                for (index, one) in all.iter().enumerate() {
                    if index > 0 {
                        out.push_str(", ");
                    }
                    out.push_str(&flat(one)?);
                }
                out.push(closing(*open));
            }
        }
        if out.len() > WIDTH {
            return None;
        }
    }
    Some(out)
}

/// A space behind the colon of a field, but not within a string.
fn push_text(text: &str, out: &mut String) {
    match text.split_once(':') {
        Some((name, value)) if !name.contains('"') => {
            out.push_str(name);
            out.push_str(": ");
            out.push_str(value);
        }
        _ => out.push_str(text),
    }
}

/// Prints an item at the end of what is printed so far, in a line indented by `depth`.
fn print(item: &[Piece<'_>], depth: usize, out: &mut String) {
    let column = out.len() - out.rfind('\n').map_or(0, |end| end + 1);
    if let Some(line) = flat(item).filter(|line| column + line.len() < WIDTH) {
        out.push_str(&line);
        return;
    }
    for piece in item {
        match piece {
            Piece::Text(text) => push_text(text, out),
            // A wrapper (`Some((...))`) keeps its one value close.
            Piece::Group(open, all)
                if all.len() == 1 && matches!(all[0].as_slice(), [Piece::Group(..)]) && *open == '(' =>
            {
                out.push(*open);
                print(&all[0], depth, out);
                out.push(closing(*open));
            }
            Piece::Group(open, all) => {
                out.push(*open);
                for one in all {
                    out.push('\n');
                    out.push_str(&"  ".repeat(depth + 1));
                    print(one, depth + 1, out);
                    out.push(',');
                }
                out.push('\n');
                out.push_str(&"  ".repeat(depth));
                out.push(closing(*open));
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn short_values_stay_on_one_line_and_strings_are_left_alone() {
        assert_eq!(lay_out(r#"(a:1,b:[(x:"p:(q,\"r"),()])"#), "(a: 1, b: [(x: \"p:(q,\\\"r\"), ()])\n");
    }

    #[test]
    fn long_lists_take_a_line_for_each_item() {
        let item = format!("(name:\"{}\")", "n".repeat(70));
        let laid = lay_out(&format!("(version:1,all:[{item},{item}],one:Some({item}))"));
        let expected = format!(
            "(\n  version: 1,\n  all: [\n    {0},\n    {0},\n  ],\n  one: Some({0}),\n)\n",
            item.replace(':', ": ")
        );
        assert_eq!(laid, expected);
    }

    #[test]
    fn text_that_ends_early_is_no_reason_to_panic() {
        for text in ["", "(", "(a:\"", "(a:\"\\", "[[,", "a,b"] {
            lay_out(text);
        }
    }
}
