//! Lists of numbers as they are typed: the order of ranks, the rows of each section.

use crate::plan::lay_out::{LEAST_GAP, MOST_GAP, MOST_GAPS, MOST_ROWS, MOST_SECTIONS};
use crate::quantities::{Length, Measure, UnitSystem};

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

/// Gaps from row to row, from left to right, as they are typed.
pub(super) fn gaps_text(gaps: &[Length], units: UnitSystem) -> String {
    let number = |gap: &Length| Measure::Distance.entered_number(gap.si(), units, true);
    gaps.iter().map(number).collect::<Vec<_>>().join(", ")
}

/// Reads `0.25, 0.35`, `25 cm; 35 cm` or `0,25; 0,35`: gaps from row to row, from left to right. A comma parts them where a
/// semicolon does not, unless no space follows it and it can be a decimal mark.
pub(super) fn read_gaps(text: &str, units: UnitSystem) -> Result<Vec<Length>, String> {
    let parted: Vec<String> = if text.contains(';') {
        text.split(';').map(str::to_owned).collect()
    } else if text.contains(", ") {
        text.split(", ").map(str::to_owned).collect()
    } else if text.contains('.') {
        text.split(',').map(str::to_owned).collect()
    } else {
        vec![text.to_owned()]
    };
    let pieces = parted.iter().map(|piece| piece.trim()).filter(|piece| !piece.is_empty());
    let gaps: Result<Vec<Length>, _> =
        pieces.map(|piece| Measure::Distance.parse(piece, units).map(Length::from_si)).collect();
    match gaps {
        Ok(gaps) if gaps.iter().any(|gap| !(LEAST_GAP..=MOST_GAP).contains(&gap.si())) => {
            Err("a gap that no two rows have; give 5 cm to 2 m from each row to the next".to_owned())
        }
        Ok(gaps) if gaps.len() > MOST_GAPS => {
            Err(format!("{} gaps; give {MOST_GAPS} at most, or a table of measured rows", gaps.len()))
        }
        Ok(gaps) => Ok(gaps),
        Err(error) => Err(format!("{error}; type gaps from left to right like 0.25, 0.35")),
    }
}

/// Reads `6, 8, 12, 8, 6 rows`.
pub(super) fn read_section_rows(text: &str) -> Result<Vec<u32>, String> {
    let text = text.trim().trim_end_matches("rows").trim_end_matches("row");
    let pieces = text.split([',', ';', ' ', '-', '–', '+', '/']).map(str::trim).filter(|one| !one.is_empty());
    let rows: Option<Vec<u32>> =
        pieces.map(|piece| piece.parse::<u32>().ok().filter(|rows| (1..=MOST_ROWS).contains(rows))).collect();
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn gaps_are_read_with_any_decimal_mark_and_unit() {
        for text in ["0.25, 0.35", "0,25; 0,35", "0.25,0.35", "25 cm; 35 cm", "250 mm, 350 mm", "0,25, 0,35"]
        {
            let gaps = read_gaps(text, UnitSystem::Metric).unwrap();
            let millimetres: Vec<f64> = gaps.iter().map(|gap| (gap.si() * 1e3).round()).collect();
            assert_eq!(millimetres, [250.0, 350.0], "{text}");
            assert_eq!(gaps_text(&gaps, UnitSystem::Metric), "0.25, 0.35");
        }
        assert_eq!(gaps_text(&[Length::metres(0.2625)], UnitSystem::Metric), "0.2625");
        assert_eq!(read_gaps("0,3", UnitSystem::Metric).unwrap(), [Length::metres(0.3)]);
        assert_eq!(read_gaps("  ", UnitSystem::Metric).unwrap(), []);
        for text in ["0.25, x", "0.25, -0.3", "a", "0,25,0,35", "0.25, 3", &"0.2, ".repeat(13)] {
            assert!(read_gaps(text, UnitSystem::Metric).is_err(), "{text}");
        }
    }
}
