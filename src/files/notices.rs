//! The notices of others' work in the program: crates, fonts, colours, each with its licence and the licence's text.
//!
//! The text is written by `examples/make_notices.rs`; `tests/house/supply_chain.rs` proves that it is current.

const TEXT: &str = include_str!("notices.txt");

/// Something in the program that is not ours.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Component {
    /// What it is, with its version if it has one.
    pub name: &'static str,
    /// Its licence, as an SPDX expression.
    pub licence: &'static str,
    /// Licence texts and copyright lines that go with it.
    pub texts: Vec<&'static str>,
}

/// All of it as one text.
pub const fn text() -> &'static str {
    TEXT
}

/// All that is not ours, in the order of the text.
pub fn components() -> Vec<Component> {
    let mut pieces = TEXT.split("\n==== Text ");
    let index = pieces.next().unwrap_or_default();
    let texts: Vec<&str> = pieces
        .map(|piece| piece.split_once("====\n").map_or(piece, |(_, text)| text).trim_matches('\n'))
        .collect();
    let component = |line: &'static str| {
        let (front, numbers) = line.rsplit_once(" | ")?;
        let (name, licence) = front.split_once(" | ")?;
        let text = |number: &str| texts.get(number.trim().parse::<usize>().ok()?.checked_sub(1)?).copied();
        Some(Component { name, licence, texts: numbers.split(',').filter_map(text).collect() })
    };
    index.lines().filter_map(component).collect()
}
