//! Which rows have their number below the strip: all of them where there is room, else the ends and round numbers.

use eframe::egui::Rangef;

/// Between two numbers, points.
const AIR: f32 = 5.0;

/// A number below a row.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct RowLabel {
    /// Its place among the rows.
    pub(super) row: usize,
    pub(super) words: String,
    /// Of its words along x, points.
    pub(super) middle: f32,
}

/// Numbers below rows, each with its number and its x, points; the one that is pointed at has its own whatever else goes.
/// `wide` tells how wide words are.
pub(super) fn row_labels(
    rows: &[(u32, f32)],
    hovered: Option<usize>,
    room: Rangef,
    wide: impl Fn(&str) -> f32,
) -> Vec<RowLabel> {
    let mut labels = Vec::new();
    for every in [1, 2, 5, 10, 20, 50, 100] {
        let (found, missed) = with_every(rows, hovered, room, &wide, every);
        labels = found;
        // Of rows that stand apart but for a few, those few miss theirs, and not every other row.
        if missed * 5 <= rows.iter().filter(|(number, x)| number % every == 0 && room.contains(*x)).count() {
            break;
        }
    }
    labels
}

/// With all round numbers that have room beside the ends; and how many have none.
fn with_every(
    rows: &[(u32, f32)],
    hovered: Option<usize>,
    room: Rangef,
    wide: &impl Fn(&str) -> f32,
    every: u32,
) -> (Vec<RowLabel>, usize) {
    let last = rows.len().saturating_sub(1);
    let ends = [0, last].into_iter().filter(|at| *at < rows.len());
    let round = rows.iter().enumerate().filter(|(_, row)| row.0 % every == 0).map(|(at, _)| at);
    let (mut labels, mut taken): (Vec<RowLabel>, Vec<Rangef>) = (Vec::new(), Vec::new());
    let mut missed = 0;
    // The first says what the numbers are, where that takes no other number its place.
    let next = rows.get(1).filter(|next| next.0 % every == 0);
    let first_fits = rows.first().zip(next).is_none_or(|(first, next)| {
        let halves = wide(&format!("row {}", first.0)) / 2.0 + wide(&next.0.to_string()) / 2.0;
        (next.1 - first.1).abs() > halves + AIR
    });
    for (at, is_asked) in hovered
        .map(|at| (at, false))
        .into_iter()
        .chain(ends.map(|at| (at, false)))
        .chain(round.map(|at| (at, true)))
    {
        let Some((number, x)) = rows.get(at) else { continue };
        if labels.iter().any(|label| label.row == at) {
            continue;
        }
        let is_named = Some(at) == hovered || (at == 0 && first_fits);
        let words = if is_named { format!("row {number}") } else { number.to_string() };
        let half = wide(&words) / 2.0;
        // At the edge words stand a little aside rather than nowhere.
        let aside = x.clamp(room.min + half + 1.0, (room.max - half - 1.0).max(room.min + half + 1.0));
        let own = Rangef::new(aside - half, aside + half);
        let is_near = room.contains(*x) && (aside - x).abs() <= half;
        let is_free = taken.iter().all(|other| own.max + AIR < other.min || own.min - AIR > other.max);
        if is_near && is_free {
            taken.push(own);
            labels.push(RowLabel { row: at, words, middle: aside });
        } else if is_asked && room.contains(*x) {
            missed += 1;
        }
    }
    (labels, missed)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn wide(words: &str) -> f32 {
        6.0 * words.len() as f32
    }

    fn numbers(places: &[f32]) -> Vec<String> {
        let rows: Vec<(u32, f32)> = (1..).zip(places.iter().copied()).collect();
        let mut labels = row_labels(&rows, None, Rangef::new(0.0, 1000.0), wide);
        labels.sort_by_key(|label| label.row);
        labels.into_iter().map(|label| label.words).collect()
    }

    #[test]
    fn seven_rows_have_seven_numbers_however_far_apart_and_at_the_edges() {
        let even: Vec<f32> = (0..7).map(|row| 2.0 + 150.0 * row as f32).collect();
        assert_eq!(numbers(&even), ["row 1", "2", "3", "4", "5", "6", "7"]);
        let close: Vec<f32> = (0..7).map(|row| 20.0 + 20.0 * row as f32).collect();
        assert_eq!(numbers(&close), ["1", "2", "3", "4", "5", "6", "7"]);
    }

    #[test]
    fn one_close_pair_costs_one_number_and_not_half_of_them() {
        assert_eq!(numbers(&[50.0, 150.0, 250.0, 255.0, 350.0, 450.0, 550.0]).len(), 6);
    }

    #[test]
    fn many_close_rows_have_round_numbers_between_their_ends() {
        let places: Vec<f32> = (0..40).map(|row| 20.0 + 8.0 * row as f32).collect();
        let found = numbers(&places);
        assert_eq!(
            (found.first().map(String::as_str), found.last().map(String::as_str)),
            (Some("row 1"), Some("40"))
        );
        assert!(found.contains(&"20".to_owned()) && !found.contains(&"21".to_owned()), "{found:?}");
    }
}
