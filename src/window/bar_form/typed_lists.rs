//! Lists of numbers as they are typed: the order of ranks, the rows of each section.

use crate::plan::lay_out::MOST_SECTIONS;

/// Ranks by their numbers, from 1.
pub(super) fn order_text(order: &[usize]) -> String {
    let numbers: Vec<String> = order.iter().map(|rank| (rank + 1).to_string()).collect();
    numbers.join(", ")
}

/// Reads `1, 3, 2`; none if it is no list of numbers from 1.
pub(super) fn read_order(text: &str) -> Option<Vec<usize>> {
    let pieces = text.split([',', ';', ' ', '-']).map(str::trim).filter(|piece| !piece.is_empty());
    pieces.map(|piece| piece.parse::<usize>().ok()?.checked_sub(1)).collect()
}

/// Reads `6, 8, 12, 8, 6 rows`.
pub(super) fn read_section_rows(text: &str) -> Result<Vec<u32>, String> {
    let text = text.trim().trim_end_matches("rows").trim_end_matches("row");
    let pieces = text.split([',', ';', ' ', '-', '–', '+', '/']).map(str::trim).filter(|one| !one.is_empty());
    let rows: Option<Vec<u32>> =
        pieces.map(|piece| piece.parse::<u32>().ok().filter(|rows| (1..=400).contains(rows))).collect();
    let Some(rows) = rows.filter(|rows| !rows.is_empty()) else {
        return Err("not a list of rows; type numbers from left to right like 6, 8, 12, 8, 6".to_owned());
    };
    if rows.len().is_multiple_of(2) || rows.len() > MOST_SECTIONS {
        return Err(format!(
            "{} sections; give an odd number, 1 to {MOST_SECTIONS}: a centre section and wings in pairs",
            rows.len()
        ));
    }
    Ok(rows)
}
