//! Where words and balloons stand on a sheet so that none covers another.
//!
//! Each label has candidate boxes, best first. What is drawn for good is kept clear ([`Places::keep_clear`]); lines
//! may be crossed where nothing better is left. Balloons of a row are spread along it in the order of what they
//! point at, so that leaders of neighbours never cross.

use super::paper::sized;
use crate::geometry::{Bounds, Point2};

/// What stands on a sheet so far.
#[derive(Debug, Clone, Default)]
pub(super) struct Places {
    taken: Vec<Bounds>,
    lines: Vec<(Point2, Point2)>,
}

/// Two boxes share more than an edge.
pub(super) fn overlap(a: &Bounds, b: &Bounds) -> bool {
    a.min.x < b.max.x && b.min.x < a.max.x && a.min.y < b.max.y && b.min.y < a.max.y
}

impl Places {
    /// Nothing may stand there any more.
    pub(super) fn keep_clear(&mut self, bounds: Bounds) {
        self.taken.push(bounds);
    }

    /// Better not to stand on this line.
    pub(super) fn avoid(&mut self, points: &[Point2]) {
        self.lines.extend(points.windows(2).map(|pair| (pair[0], pair[1])));
    }

    /// How many kept-clear boxes and lines a box would cover.
    fn covers(&self, bounds: &Bounds) -> (usize, usize) {
        // A little air between words.
        let roomy = bounds.grown(0.4);
        let boxes = self.taken.iter().filter(|taken| overlap(taken, &roomy)).count();
        let lines = self
            .lines
            .iter()
            .filter(|(from, to)| !crate::drawing::paper::clip_line(&[*from, *to], bounds).is_empty())
            .count();
        (boxes, lines)
    }

    /// The first candidate within the window that covers nothing; else the one that covers no other label and the
    /// fewest lines. None where every candidate would cover a label. The place is then taken.
    pub(super) fn place(&mut self, candidates: &[Bounds], window: &Bounds) -> Option<(usize, bool)> {
        let mut best: Option<(usize, usize)> = None;
        for (index, bounds) in candidates.iter().enumerate() {
            if !(window.contains(bounds.min) && window.contains(bounds.max)) {
                continue;
            }
            let (boxes, lines) = self.covers(bounds);
            if boxes > 0 {
                continue;
            }
            if best.is_none_or(|(_, fewest)| lines < fewest) {
                best = Some((index, lines));
            }
            if lines == 0 {
                break;
            }
        }
        let (index, lines) = best?;
        self.taken.push(candidates[index]);
        Some((index, lines > 0))
    }
}

/// Spreads places along a line so that neighbours are at least `gap` apart and all lie between `from` and `to`, each as
/// near to where it would be as that allows (pool adjacent violators). Places must be sorted; they come closer than
/// `gap` only where there is no room for all.
pub(super) fn spread(wanted: &[f64], gap: f64, from: f64, to: f64) -> Vec<f64> {
    if wanted.is_empty() {
        return Vec::new();
    }
    let gap = gap.min((to - from).max(0.0) / (wanted.len().max(2) - 1) as f64);
    // With the gaps taken out, the places only have to be in order: groups that would overlap share their mean.
    let mut groups: Vec<(f64, usize)> = Vec::new();
    for (index, at) in wanted.iter().enumerate() {
        groups.push((at - index as f64 * gap, 1));
        while let [.., (before, many), (last, more)] = groups[..] {
            if before <= last {
                break;
            }
            let mean = (before * many as f64 + last * more as f64) / (many + more) as f64;
            groups.truncate(groups.len() - 2);
            groups.push((mean, many + more));
        }
    }
    let most = to - (wanted.len() - 1) as f64 * gap;
    let places = groups.iter().flat_map(|(at, many)| std::iter::repeat_n(at.min(most).max(from), *many));
    places.enumerate().map(|(index, at)| at + index as f64 * gap).collect()
}

/// Candidate boxes along a line for words of a size: over and under level pieces, beside steep ones and reading
/// upwards there.
pub(super) fn along(pieces: &[Vec<Point2>], width: f64, height: f64, clear: f64) -> Vec<(Bounds, bool)> {
    let mut straight: Vec<(Point2, Point2)> =
        pieces.iter().flat_map(|piece| piece.windows(2)).map(|pair| (pair[0], pair[1])).collect();
    straight.sort_by(|a, b| b.0.distance(b.1).total_cmp(&a.0.distance(a.1)));
    let mut all = Vec::new();
    for (from, to) in straight.into_iter().take(6) {
        let level = (to.x - from.x).abs() >= (to.y - from.y).abs();
        // Near the line at any place before farther off: what stands far off may belong to another.
        for away in [clear, clear + 2.0, clear + 5.0] {
            for t in [0.5, 0.35, 0.65, 0.2, 0.8, 0.1, 0.9] {
                let at = Point2::new(from.x + (to.x - from.x) * t, from.y + (to.y - from.y) * t);
                if level {
                    all.push((sized(at.x - width / 2.0, at.y + away, width, height), false));
                    all.push((sized(at.x - width / 2.0, at.y - away - height, width, height), false));
                } else {
                    if from.distance(to) < width * 1.6 {
                        all.push((sized(at.x + away, at.y - height / 2.0, width, height), false));
                        all.push((sized(at.x - away - width, at.y - height / 2.0, width, height), false));
                    }
                    all.push((sized(at.x - away - height, at.y - width / 2.0, height, width), true));
                    all.push((sized(at.x + away, at.y - width / 2.0, height, width), true));
                }
            }
        }
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_are_spread_no_farther_than_needed() {
        assert_eq!(spread(&[10.0, 50.0], 8.0, 0.0, 100.0), [10.0, 50.0]);
        assert_eq!(spread(&[50.0, 50.0, 50.0], 8.0, 0.0, 100.0), [42.0, 50.0, 58.0]);
        assert_eq!(spread(&[1.0, 2.0], 8.0, 0.0, 100.0), [0.0, 8.0]);
        assert_eq!(spread(&[99.0, 99.5], 8.0, 0.0, 100.0), [92.0, 100.0]);
        // No room for all: as far apart as they can be.
        assert_eq!(spread(&[5.0, 5.0, 5.0], 8.0, 0.0, 10.0), [0.0, 5.0, 10.0]);
        assert!(spread(&[], 8.0, 0.0, 10.0).is_empty());
    }

    #[test]
    fn a_label_never_covers_another() {
        let mut places = Places::default();
        let window = sized(0.0, 0.0, 100.0, 100.0);
        places.keep_clear(sized(10.0, 10.0, 10.0, 4.0));
        places.avoid(&[Point2::new(30.0, 0.0), Point2::new(30.0, 100.0)]);
        let taken = sized(12.0, 11.0, 4.0, 2.0);
        let crossing = sized(28.0, 11.0, 4.0, 2.0);
        let free = sized(40.0, 11.0, 4.0, 2.0);
        assert_eq!(places.place(&[taken, crossing, free], &window), Some((2, false)));
        assert_eq!(places.place(&[taken, crossing], &window), Some((1, true)));
        assert_eq!(places.place(&[taken, free], &window), None);
        assert_eq!(places.place(&[sized(98.0, 0.0, 4.0, 2.0)], &window), None);
    }
}
