//! Lists, ranges and spans in words.

use crate::hydraulics::outcome::Outcome;
use crate::plan::RowId;
use crate::quantities::{Measure, Quantity, UnitSystem};

/// More pieces than this are counted instead of named.
const LONGEST_LIST: usize = 6;

/// `A`, `A and B`, `A, B and C`; a long list names the first and counts the rest.
pub(super) fn list(items: &[String]) -> String {
    match items {
        [] => String::new(),
        [one] => one.clone(),
        [most @ .., last] if items.len() <= LONGEST_LIST => format!("{} and {last}", most.join(", ")),
        _ => format!("{} and {} more", items[..LONGEST_LIST - 1].join(", "), items.len() - LONGEST_LIST + 1),
    }
}

/// `Row 5`, `Rows 15 to 26`, `Rows 1, 3 and 7 to 9`: neighbours on the bar become one range.
pub(super) fn rows(outcome: &Outcome, ids: &[RowId]) -> String {
    let ranges = ranges(outcome, ids);
    let pieces: Vec<String> = ranges
        .iter()
        .flat_map(|range| match range.as_slice() {
            [] => Vec::new(),
            [one] => vec![one.to_string()],
            [first, second] => vec![first.to_string(), second.to_string()],
            [first, .., last] => vec![format!("{first} to {last}")],
        })
        .collect();
    if ids.len() == 1 {
        return format!("Row {}", list(&pieces));
    }
    // A list cut short says how many rows it stands for.
    let of = if pieces.len() > LONGEST_LIST { format!(" ({} rows)", ids.len()) } else { String::new() };
    format!("Rows {}{of}", list(&pieces))
}

/// Numbers of rows, in the bar's order, parted where another row lies between.
fn ranges(outcome: &Outcome, ids: &[RowId]) -> Vec<Vec<u32>> {
    let mut ranges: Vec<Vec<u32>> = Vec::new();
    let mut joined = false;
    for row in &outcome.rows {
        if ids.contains(&row.row) {
            match ranges.last_mut() {
                Some(range) if joined => range.push(row.number),
                _ => ranges.push(vec![row.number]),
            }
            joined = true;
        } else {
            joined = false;
        }
    }
    ranges
}

/// `5.8 to 7.7 %`, or one number where both ends read the same.
pub(super) fn span<Q: Quantity>(measure: Measure, low: Q, high: Q, units: UnitSystem) -> String {
    let (from, to) = (measure.number(low.si(), units), measure.text(high.si(), units));
    if from == measure.number(high.si(), units) { to } else { format!("{from} to {to}") }
}

/// `is` for one, `are` for several.
pub(super) const fn is_or_are(count: usize) -> &'static str {
    if count == 1 { "is" } else { "are" }
}
