//! Where words and balloons stand on a sheet so that none covers another.
//!
//! Each label has candidate boxes, best first. What is drawn for good is kept clear ([`Places::keep_clear`]); lines
//! may be crossed where nothing better is left. Balloons of a row are spread along it in the order of what they
//! point at, so that leaders of neighbours never cross.

use std::cmp::Reverse;
use std::collections::{BinaryHeap, HashMap};

use super::paper::{sized, touches};
use crate::geometry::{Bounds, Point2};

/// What stands on a sheet so far.
#[derive(Debug, Clone, Default)]
pub(super) struct Places {
    taken: Vec<Bounds>,
    lines: Vec<PlacedLine>,
    /// What of both reaches into a square of the sheet: thousands of places are tried, and most of it is nowhere near.
    filled: HashMap<(i32, i32), Square>,
    leaders: Vec<(Point2, Point2)>,
    /// A leader is no longer than this, millimetres, where that is said.
    longest: Option<f64>,
}

/// A straight piece of a line.
#[derive(Debug, Clone, Copy)]
struct PlacedLine {
    from: Point2,
    to: Point2,
    /// Words never cover it while there is another place.
    is_whole: bool,
    /// Words never cover it at all: the way from words to what they name.
    is_leader: bool,
}

impl PlacedLine {
    fn is_covered_by(&self, bounds: &Bounds) -> bool {
        touches(self.from, self.to, bounds)
    }
}

/// What words in a box would cover.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
struct Covered {
    lines: usize,
    /// One of these is a line that words cover only where they have no other place.
    a_whole_line: bool,
}

/// The places of boxes and lines that reach into a square.
#[derive(Debug, Clone, Default)]
struct Square {
    taken: Vec<usize>,
    lines: Vec<usize>,
}

/// So close to its end a leader may meet what stands there, millimetres.
const AT_END: f64 = 1.5;

/// Side of a square, millimetres: words are some lines high.
const SIDE: f64 = 8.0;

/// The squares that a box reaches into.
fn squares(bounds: &Bounds) -> impl Iterator<Item = (i32, i32)> + use<> {
    /// Wider than any sheet; what lies beyond counts for the last.
    const MOST: f64 = 200.0;
    let at = |place: f64| (place / SIDE).floor().clamp(-1.0, MOST) as i32;
    let (left, right) = (at(bounds.min.x), at(bounds.max.x));
    let (low, high) = (at(bounds.min.y), at(bounds.max.y));
    (left..=right).flat_map(move |x| (low..=high).map(move |y| (x, y)))
}

/// What words may cover besides white paper.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Cover {
    /// Nothing.
    Nothing,
    /// One line, if that is no hose.
    OneLine,
    /// Lines, as few as may be.
    Lines,
}

/// Two boxes share more than an edge.
pub(super) fn overlap(a: &Bounds, b: &Bounds) -> bool {
    a.min.x < b.max.x && b.min.x < a.max.x && a.min.y < b.max.y && b.min.y < a.max.y
}

impl Places {
    /// From now on no leader is longer than this, millimetres.
    pub(super) fn limit_leaders(&mut self, longest: f64) {
        self.longest = Some(longest);
    }

    /// Nothing may stand there any more.
    pub(super) fn keep_clear(&mut self, bounds: Bounds) {
        for square in squares(&bounds) {
            self.filled.entry(square).or_default().taken.push(self.taken.len());
        }
        self.taken.push(bounds);
    }

    fn add_line(&mut self, line: PlacedLine) {
        for square in squares(&Bounds::around([line.from, line.to])) {
            self.filled.entry(square).or_default().lines.push(self.lines.len());
        }
        self.lines.push(line);
    }

    fn add_lines(&mut self, points: &[Point2], is_whole: bool) {
        for pair in points.windows(2) {
            self.add_line(PlacedLine { from: pair[0], to: pair[1], is_whole, is_leader: false });
        }
    }

    /// Better not to stand on this line.
    pub(super) fn avoid(&mut self, points: &[Point2]) {
        self.add_lines(points, false);
    }

    /// Words stand on this line only where they have no other place.
    pub(super) fn keep_whole(&mut self, points: &[Point2]) {
        self.add_lines(points, true);
    }

    /// What lies in the squares that a box reaches into.
    fn about(&self, bounds: &Bounds) -> impl Iterator<Item = &Square> {
        squares(bounds).filter_map(|square| self.filled.get(&square))
    }

    /// What words in a box would cover; none where that is a label, a symbol or a leader.
    fn covers(&self, bounds: &Bounds) -> Option<Covered> {
        // A little air between words.
        let roomy = bounds.grown(0.4);
        let is_taken = |square: &Square| square.taken.iter().any(|at| overlap(&self.taken[*at], &roomy));
        if self.about(&roomy).any(is_taken) {
            return None;
        }
        let met = self.about(bounds).flat_map(|square| &square.lines).copied();
        let mut met: Vec<usize> = met.filter(|at| self.lines[*at].is_covered_by(bounds)).collect();
        // A line is met in each of its squares.
        met.sort_unstable();
        met.dedup();
        let met = met.into_iter().map(|at| self.lines[at]);
        let mut covered = Covered::default();
        for line in met {
            if line.is_leader {
                return None;
            }
            covered.lines += 1;
            covered.a_whole_line |= line.is_whole;
        }
        Some(covered)
    }

    /// A box covers nothing, as [`Self::covers`] counts.
    fn is_clear(&self, bounds: &Bounds) -> bool {
        let roomy = bounds.grown(0.4);
        self.about(&roomy).all(|square| {
            !square.taken.iter().any(|at| overlap(&self.taken[*at], &roomy))
                && !square.lines.iter().any(|at| self.lines[*at].is_covered_by(bounds))
        })
    }

    /// No label, symbol or leader is there; lines may be.
    pub(super) fn is_free(&self, bounds: &Bounds) -> bool {
        self.covers(bounds).is_some()
    }

    /// Nothing may cross it any more: the way from words or a balloon to what they name.
    pub(super) fn keep_leader(&mut self, from: Point2, to: Point2) {
        self.leaders.push((from, to));
        self.add_line(PlacedLine { from, to, is_whole: false, is_leader: true });
    }

    /// A leader there crosses no other and no words or symbols, but for what lies about its ends.
    pub(super) fn is_free_way(&self, from: Point2, to: Point2) -> bool {
        // What lies close by what it leads to is met at its end alone.
        let end = to.towards(from, (AT_END / from.distance(to).max(AT_END)).min(1.0));
        let ends = |bounds: &Bounds| {
            let is_beside = bounds.grown(AT_END).contains(to) && !touches(from, end, bounds);
            is_beside || bounds.contains(from) || bounds.contains(to)
        };
        let is_met = |square: &(i32, i32)| {
            let corner = Point2::new(f64::from(square.0) * SIDE, f64::from(square.1) * SIDE);
            // What lies beyond the sheet counts for the squares at its edge.
            let is_at_edge = square.0 <= 0 || square.1 <= 0;
            is_at_edge || touches(from, to, &sized(corner.x, corner.y, SIDE, SIDE).grown(0.1))
        };
        let met = squares(&Bounds::around([from, to])).filter(is_met);
        self.leaders.iter().all(|(a, b)| !cross((from, to), (*a, *b)))
            && met.filter_map(|square| self.filled.get(&square)).all(|square| {
                let mut taken = square.taken.iter().map(|at| &self.taken[*at]);
                taken.all(|bounds| ends(bounds) || !touches(from, to, bounds))
            })
    }

    /// The candidate within the window that covers no label or symbol and the fewest lines, the first of several; none
    /// where each would cover more than it may. The place is then taken.
    pub(super) fn place_over(
        &mut self,
        candidates: &[Bounds],
        window: &Bounds,
        cover: Cover,
    ) -> Option<usize> {
        let may = |covered: Covered| match cover {
            Cover::Nothing => covered.lines == 0,
            Cover::OneLine => covered.lines <= 1 && !covered.a_whole_line,
            Cover::Lines => true,
        };
        self.take_best(candidates, window, may).map(|(index, _)| index)
    }

    /// The nearest free box of a size from which a leader reaches one of some points without crossing another leader or
    /// passing over words and symbols, and that leader. The place is then taken.
    pub(super) fn place_far(
        &mut self,
        anchors: &[Point2],
        size: (f64, f64),
        window: &Bounds,
    ) -> Option<(Bounds, [Point2; 2])> {
        self.place_far_but(anchors, size, window, &Bounds::EMPTY)
    }

    /// The same, but for a box that is kept for other words.
    pub(super) fn place_far_but(
        &mut self,
        anchors: &[Point2],
        size: (f64, f64),
        window: &Bounds,
        kept: &Bounds,
    ) -> Option<(Bounds, [Point2; 2])> {
        self.place_led(anchors, size, (window, kept), |bounds, to| bounds.nearest(to))
    }

    /// The same for a circle: its middle, and the leader from its edge.
    pub(super) fn place_circle(
        &mut self,
        anchors: &[Point2],
        radius: f64,
        window: &Bounds,
    ) -> Option<(Point2, [Point2; 2])> {
        let size = (2.0 * radius, 2.0 * radius);
        let edge = |bounds: &Bounds, to: Point2| on_circle(bounds.centre(), radius, to);
        let (bounds, leader) = self.place_led(anchors, size, (window, &Bounds::EMPTY), edge)?;
        Some((bounds.centre(), leader))
    }

    /// The same, with leaders that start where `start` says.
    fn place_led(
        &mut self,
        anchors: &[Point2],
        (width, height): (f64, f64),
        (window, kept): (&Bounds, &Bounds),
        start: impl Fn(&Bounds, Point2) -> Point2,
    ) -> Option<(Bounds, [Point2; 2])> {
        const STEP: f64 = 3.0;
        const MOST: i32 = 26;
        let steps = || (-MOST..=MOST).flat_map(|x| (-MOST..=MOST).map(move |y| (x, y)));
        let about = |to: Point2| {
            steps().map(move |(x, y)| {
                let (x, y) = (to.x + f64::from(x) * STEP, to.y + f64::from(y) * STEP);
                (sized(x - width / 2.0, y - height / 2.0, width, height), to)
            })
        };
        let tries: Vec<(Bounds, Point2)> = anchors
            .iter()
            .flat_map(|to| about(*to))
            .filter(|(bounds, _)| window.contains(bounds.min) && window.contains(bounds.max))
            .filter(|(bounds, _)| !overlap(bounds, kept))
            .collect();
        // The nearest first; of anchors as far off the first counts. Bits of numbers that are not negative go up with them.
        let away = |(at, (bounds, to)): (usize, &(Bounds, Point2))| {
            Reverse((bounds.nearest(*to).distance(*to).to_bits(), at))
        };
        let mut nearest: BinaryHeap<Reverse<(u64, usize)>> = tries.iter().enumerate().map(away).collect();
        let mut in_turn = std::iter::from_fn(|| nearest.pop()).map(|Reverse((_, at))| tries[at]);
        let (found, to) = in_turn.find(|(bounds, to)| {
            let from = start(bounds, *to);
            !bounds.contains(*to)
                && self.longest.is_none_or(|longest| from.distance(*to) <= longest)
                && self.is_clear(bounds)
                && self.is_free_way(from, *to)
        })?;
        let leader = [start(&found, to), to];
        self.keep_clear(found);
        self.keep_leader(leader[0], leader[1]);
        Some((found, leader))
    }

    /// The first candidate within the window that covers nothing; else the one that covers no other label and the
    /// fewest lines. None where every candidate would cover a label. The place is then taken.
    pub(super) fn place(&mut self, candidates: &[Bounds], window: &Bounds) -> Option<(usize, bool)> {
        self.take_best(candidates, window, |_| true).map(|(index, lines)| (index, lines > 0))
    }

    /// The first candidate within the window that covers no box or leader and the fewest lines, and how many; of those that may
    /// be taken, by the lines they cover.
    fn take_best(
        &mut self,
        candidates: &[Bounds],
        window: &Bounds,
        may: impl Fn(Covered) -> bool,
    ) -> Option<(usize, usize)> {
        let mut best: Option<(usize, usize)> = None;
        for (index, bounds) in candidates.iter().enumerate() {
            if !(window.contains(bounds.min) && window.contains(bounds.max)) {
                continue;
            }
            let Some(covered) = self.covers(bounds).filter(|covered| may(*covered)) else { continue };
            if best.is_none_or(|(_, fewest)| covered.lines < fewest) {
                best = Some((index, covered.lines));
            }
            if covered.lines == 0 {
                break;
            }
        }
        let (index, _) = best?;
        self.keep_clear(candidates[index]);
        best
    }
}

/// Where a way from the middle of a circle to a point leaves the circle.
pub(super) fn on_circle(centre: Point2, radius: f64, to: Point2) -> Point2 {
    centre.towards(to, radius / centre.distance(to).max(1e-9))
}

/// Two straight pieces cross within both.
pub(super) fn cross((a, b): (Point2, Point2), (c, d): (Point2, Point2)) -> bool {
    let side = |p: Point2, q: Point2, r: Point2| (q.x - p.x) * (r.y - p.y) - (q.y - p.y) * (r.x - p.x);
    side(a, b, c) * side(a, b, d) < -1e-9 && side(c, d, a) * side(c, d, b) < -1e-9
}

/// Which of some points, standing in their order, goes with which of as many targets, so that no two ways cross: two
/// that do change over, which makes them shorter together.
pub(super) fn uncrossed(points: &[Point2], targets: &[Point2]) -> Vec<usize> {
    let mut order: Vec<usize> = (0..targets.len()).collect();
    // Each change shortens the sum, so that it comes to an end; bounded all the same.
    for _ in 0..=targets.len() * targets.len() {
        let mut changed = false;
        for i in 0..order.len() {
            for j in i + 1..order.len() {
                if cross((points[i], targets[order[i]]), (points[j], targets[order[j]])) {
                    order.swap(i, j);
                    changed = true;
                }
            }
        }
        if !changed {
            break;
        }
    }
    order
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
                let at = from.towards(to, t);
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

    /// The middle of three targets lies deep below: straight ways in their order would cross.
    #[test]
    fn ways_to_targets_never_cross() {
        let points = [0.0, 10.0, 20.0, 30.0].map(|x| Point2::new(x, 50.0));
        let targets = [(28.0, 0.0), (2.0, 40.0), (12.0, 10.0), (3.0, 5.0)].map(|(x, y)| Point2::new(x, y));
        let order = uncrossed(&points, &targets);
        for i in 0..4 {
            for j in i + 1..4 {
                assert!(!cross((points[i], targets[order[i]]), (points[j], targets[order[j]])), "{order:?}");
            }
        }
    }

    /// Beside it all is taken: a free place far off, on the side from which the way crosses nothing.
    #[test]
    fn a_label_without_room_moves_off_with_a_leader() {
        let mut places = Places::default();
        let window = sized(0.0, 0.0, 60.0, 60.0);
        let to = Point2::new(30.0, 30.0);
        places.keep_clear(sized(20.0, 25.0, 9.0, 10.0));
        places.keep_clear(sized(31.0, 25.0, 9.0, 10.0));
        let (bounds, [from, end]) = places.place_far(&[to], (8.0, 3.0), &window).unwrap();
        assert_eq!(end, to);
        assert!(bounds.contains(from) && !bounds.contains(to));
        let (other, leader) = places.place_far(&[to], (8.0, 3.0), &window).unwrap();
        assert!(!overlap(&bounds, &other) && !cross((from, end), (leader[0], leader[1])));
        // No room at all.
        assert_eq!(places.place_far(&[to], (8.0, 3.0), &sized(25.0, 25.0, 6.0, 2.0)), None);
        // Behind a wall of words: another point of what it names is reached.
        let mut walled = Places::default();
        walled.keep_clear(sized(20.0, 20.0, 20.0, 20.0));
        let ends = [to, Point2::new(50.0, 30.0)];
        let (_, [_, end]) = walled.place_far(&ends, (8.0, 3.0), &window).unwrap();
        assert_eq!(end, ends[1]);
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
