//! Rows as lists: which hang on a manifold, and how people write them.

use super::refusal::RowsError;
use crate::plan::words::{range_pieces, short_list};
use crate::plan::{PartId, Project, Routing, RowFeed, RowId};

/// The rows that hang on a manifold, from left to right.
pub fn rows_of(project: &Project, routing: &Routing, manifold: PartId) -> Vec<RowId> {
    let on = |feed: &&RowFeed| feed.from.port().is_some_and(|port| port.part == manifold);
    let mut rows: Vec<RowId> = routing
        .feeds
        .iter()
        .filter(on)
        .flat_map(|feed| feed.branches.iter().map(|branch| branch.row))
        .collect();
    let x = |id: &RowId| project.bar.row(*id).map_or(0.0, |row| row.x.si());
    rows.sort_by(|a, b| x(a).total_cmp(&x(b)));
    rows
}

/// Row numbers as people write them: `27–34, 36`.
pub fn numbers_text(numbers: &[u32]) -> String {
    let mut sorted = numbers.to_vec();
    sorted.sort_unstable();
    sorted.dedup();
    let mut parts: Vec<String> = Vec::new();
    let mut at = 0;
    while at < sorted.len() {
        let mut end = at;
        while end + 1 < sorted.len() && sorted[end + 1] == sorted[end] + 1 {
            end += 1;
        }
        parts.push(match end - at {
            0 => sorted[at].to_string(),
            1 => format!("{}, {}", sorted[at], sorted[end]),
            _ => format!("{}–{}", sorted[at], sorted[end]),
        });
        at = end + 1;
    }
    parts.join(", ")
}

/// Reads `27-34, 36` into rows of the bar.
pub fn parse_rows(project: &Project, text: &str) -> Result<Vec<RowId>, RowsError> {
    let wrong = || RowsError::NotRows(text.trim().chars().take(40).collect());
    let mut rows = Vec::new();
    if text.trim().is_empty() {
        return Ok(rows);
    }
    for piece in text.split([',', ';']).map(str::trim) {
        let (from, to) = match piece.split_once(['-', '–', '−']) {
            Some((from, to)) => (from.trim(), to.trim()),
            None => (piece, piece),
        };
        let (Ok(from), Ok(to)) = (from.parse::<u32>(), to.parse::<u32>()) else { return Err(wrong()) };
        let found: Vec<RowId> = project
            .bar
            .rows
            .iter()
            .filter(|row| (from..=to).contains(&row.number))
            .map(|row| row.id)
            .collect();
        let is_row = |number: u32| project.bar.row_numbered(number).is_some();
        if let Some(number) = [from, to].into_iter().find(|number| !is_row(*number)) {
            let all: Vec<u32> = project.bar.rows.iter().map(|row| row.number).collect();
            return Err(RowsError::NotOfTheBar(number, all.len(), short_list(&range_pieces(&all), 6)));
        }
        if found.is_empty() {
            return Err(RowsError::Backwards(from, to));
        }
        rows.extend(found.into_iter().filter(|id| !rows.contains(id)).collect::<Vec<_>>());
    }
    Ok(rows)
}
