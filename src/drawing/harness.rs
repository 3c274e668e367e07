//! Row feeds that share a way: drawn as one bundle, or beside each other.

use std::collections::BTreeMap;

use crate::geometry::Point2;
use crate::plan::PartId;

/// Tubes that lie within this of one line share a way, metres.
const TOGETHER: f64 = 0.03;

/// A line along or across the bar, of one manifold's tubes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Track {
    host: Option<PartId>,
    across: bool,
    /// Where it lies, in steps of [`TOGETHER`].
    at: i64,
}

/// Pieces of tube, collected to see where several lie together.
#[derive(Debug, Default)]
pub(super) struct Harness {
    /// Of every track, where it really lies, and where pieces start (+1) and end (-1) along it.
    tracks: BTreeMap<Track, (f64, Vec<(f64, i32)>)>,
}

impl Harness {
    /// Takes the pieces of a tube that run along or across the bar.
    pub(super) fn add(&mut self, host: Option<PartId>, path: &[Point2]) {
        for pair in path.windows(2) {
            let (dx, dy) = ((pair[1].x - pair[0].x).abs(), (pair[1].y - pair[0].y).abs());
            let across = dy > dx;
            if dx.min(dy) > 0.005 || dx.max(dy) < 0.01 {
                continue;
            }
            let (place, from, to) =
                if across { (pair[0].x, pair[0].y, pair[1].y) } else { (pair[0].y, pair[0].x, pair[1].x) };
            let track = Track { host, across, at: (place / TOGETHER).round() as i64 };
            let (_, ends) = self.tracks.entry(track).or_insert_with(|| (place, Vec::new()));
            ends.push((from.min(to), 1));
            ends.push((from.max(to), -1));
        }
    }

    /// Where two or more tubes lie together: how many, from where, to where.
    pub(super) fn bundles(self) -> Vec<(u32, Point2, Point2)> {
        let mut found = Vec::new();
        for (track, (place, mut ends)) in self.tracks {
            ends.sort_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(&a.1)));
            let (mut count, mut since) = (0, 0.0);
            for (at, change) in ends {
                if count >= 2 && at - since > 1e-6 {
                    let point = |along: f64| {
                        if track.across { Point2::new(place, along) } else { Point2::new(along, place) }
                    };
                    found.push((count as u32, point(since), point(at)));
                }
                count += change;
                since = at;
            }
        }
        found
    }
}

/// Moves the first inner piece that runs along the bar away from where the tube starts, to lie beside others.
pub(super) fn shift(path: &mut [Point2], by: f64) {
    if path.len() < 4 {
        return;
    }
    let along = (1..path.len() - 2).find(|at| {
        let (a, b) = (path[*at], path[*at + 1]);
        (a.y - b.y).abs() < 0.005 && (a.x - b.x).abs() > 0.01
    });
    if let Some(at) = along {
        let away = if path[at].y < path[0].y { -by } else { by };
        path[at].y += away;
        path[at + 1].y += away;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tubes_that_lie_together_are_counted() {
        let mut harness = Harness::default();
        for end in [1.0, 2.0, 3.0] {
            let path = [(0.0, 0.1), (0.0, 0.0), (end, 0.0), (end, -1.0)].map(|(x, y)| Point2::new(x, y));
            harness.add(Some(PartId(1)), &path);
        }
        // Another manifold's tubes on the same line are another harness.
        harness.add(Some(PartId(2)), &[Point2::new(0.0, 0.0), Point2::new(9.0, 0.0)]);
        let bundles = harness.bundles();
        assert!(bundles.contains(&(3, Point2::new(0.0, 0.0), Point2::new(1.0, 0.0))), "{bundles:?}");
        assert!(bundles.contains(&(2, Point2::new(1.0, 0.0), Point2::new(2.0, 0.0))), "{bundles:?}");
        assert_eq!(bundles.iter().filter(|(_, from, to)| from.y == 0.0 && to.y == 0.0).count(), 2);
    }

    #[test]
    fn a_tube_moves_over_and_keeps_its_ends() {
        let mut path = [(0.0, 0.1), (0.0, 0.0), (2.0, 0.0), (2.0, -1.0)].map(|(x, y)| Point2::new(x, y));
        shift(&mut path, 0.2);
        assert_eq!((path[0].y, path[1].y, path[2].y, path[3].y), (0.1, -0.2, -0.2, -1.0));
        let mut straight = [Point2::new(0.0, 0.0), Point2::new(1.0, 1.0)];
        shift(&mut straight, 0.2);
        assert_eq!(straight[1], Point2::new(1.0, 1.0));
    }
}
