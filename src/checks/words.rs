//! Lists of tags and rows as findings have them, and spans.

use crate::hydraulics::outcome::Outcome;
use crate::plan::RowId;
use crate::plan::words::{range_pieces, short_list};
use crate::quantities::{Measure, Quantity, UnitSystem};

/// More pieces than this are counted instead of named.
const LONGEST_LIST: usize = 6;

/// `A, B and C`; a long list names the first and counts the rest.
pub(super) fn list(items: &[String]) -> String {
    short_list(items, LONGEST_LIST)
}

/// `Row 5`, `Rows 15 to 26`, `Rows 1, 3 and 7 to 9`.
pub(super) fn rows(outcome: &Outcome, ids: &[RowId]) -> String {
    let numbers: Vec<u32> =
        outcome.connections.iter().filter(|row| ids.contains(&row.row)).map(|row| row.number).collect();
    let pieces = range_pieces(&numbers);
    if ids.len() == 1 {
        return format!("Row {}", list(&pieces));
    }
    // A list cut short says how many rows it stands for.
    let of = if pieces.len() > LONGEST_LIST { format!(" ({} rows)", ids.len()) } else { String::new() };
    format!("Rows {}{of}", list(&pieces))
}

/// `5.8 to 7.7 %`, or one number where both ends read the same.
pub(super) fn span<Q: Quantity>(measure: Measure, low: Q, high: Q, units: UnitSystem) -> String {
    let (from, to) = (measure.number(low.si(), units), measure.text(high.si(), units));
    if from == measure.number(high.si(), units) { to } else { format!("{from} to {to}") }
}

/// The same with as many decimals as it takes to read apart from the limit that all of them are beyond.
pub(super) fn span_beyond<Q: Quantity>(
    measure: Measure,
    [low, high]: [Q; 2],
    limit: Q,
    units: UnitSystem,
) -> String {
    let number = |value: Q| measure.number_apart(value.si(), limit.si(), units);
    let (from, to) = (number(low), measure.text_apart(high.si(), limit.si(), units));
    if from == number(high) { to } else { format!("{from} to {to}") }
}

/// `this row` for one, `these rows` for several.
pub(super) const fn these_rows(count: usize) -> &'static str {
    if count == 1 { "this row" } else { "these rows" }
}

/// `is` for one, `are` for several.
pub(super) const fn is_or_are(count: usize) -> &'static str {
    if count == 1 { "is" } else { "are" }
}
