//! Where a level line passes an upright one that it is not connected with, it jumps over it.

use crate::geometry::Point2;

/// Radius of a jump, millimetres.
const JUMP: f64 = 1.1;

/// A half circle in so many straight pieces: an odd number, so that no corner lies on the line that is passed.
const PIECES: u32 = 7;

/// A line with jumps where its level pieces pass others' upright ones, and how many there are; near a corner there is no room for
/// one.
pub(super) fn with_jumps(line: &[Point2], others: &[Vec<Point2>]) -> (Vec<Point2>, usize) {
    let mut jumps = 0;
    let mut all: Vec<Point2> = line.first().copied().into_iter().collect();
    for pair in line.windows(2) {
        let (from, to) = (pair[0], pair[1]);
        let way = (to.x - from.x).signum();
        for [first, last] in passed(from, to, others) {
            jumps += 1;
            all.extend((0..=PIECES).map(|at| {
                let share = f64::from(at) / f64::from(PIECES);
                let (sin, cos) = (share * std::f64::consts::PI).sin_cos();
                let middle = if share < 0.5 { first } else { last };
                Point2::new(middle - way * JUMP * cos, from.y + JUMP * sin)
            }));
        }
        all.push(to);
    }
    (all, jumps)
}

/// Where a level piece passes upright ones, in its order: those that stand too close for a jump each, from the first to the last.
fn passed(from: Point2, to: Point2, others: &[Vec<Point2>]) -> Vec<[f64; 2]> {
    const ROOM: f64 = JUMP + 0.2;
    if (from.y - to.y).abs() > 1e-9 {
        return Vec::new();
    }
    let (left, right) = (from.x.min(to.x) + ROOM, from.x.max(to.x) - ROOM);
    let uprights = others.iter().flat_map(|line| line.windows(2)).filter(|pair| {
        let (low, high) = (pair[0].y.min(pair[1].y), pair[0].y.max(pair[1].y));
        (pair[0].x - pair[1].x).abs() < 1e-9 && from.y > low + 0.1 && from.y < high - 0.1
    });
    let mut places: Vec<f64> =
        uprights.map(|pair| pair[0].x).filter(|x| (left..=right).contains(x)).collect();
    places.sort_by(f64::total_cmp);
    let mut found: Vec<[f64; 2]> = Vec::new();
    for x in places {
        match found.last_mut() {
            Some(last) if x - last[1] < 2.0 * ROOM => last[1] = x,
            _ => found.push([x, x]),
        }
    }
    if to.x < from.x {
        found.reverse();
        for one in &mut found {
            one.reverse();
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: a line 20 mm long passes one upright line by itself and two that stand 1 mm apart, in either direction; what ends on
    /// it, or is passed at its end, is not jumped over.
    #[test]
    fn a_line_jumps_over_what_it_passes() {
        let upright = |x: f64, low: f64| vec![Point2::new(x, low), Point2::new(x, 10.0)];
        let others = [
            upright(5.0, -10.0),
            upright(12.0, -10.0),
            upright(13.0, -10.0),
            upright(9.0, 0.0),
            upright(19.5, -9.0),
        ];
        let (from, to) = (Point2::new(0.0, 0.0), Point2::new(20.0, 0.0));
        for line in [[from, to], [to, from]] {
            let (drawn, jumps) = with_jumps(&line, &others);
            assert_eq!((jumps, drawn.len()), (2, 2 + 2 * 8), "{drawn:?}");
            assert_eq!((drawn[0], drawn[drawn.len() - 1]), (line[0], line[1]));
            assert!(drawn.iter().all(|at| (-1e-9..=JUMP).contains(&at.y)), "{drawn:?}");
            // Never back: each point lies farther along than the one before.
            let way = (line[1].x - line[0].x).signum();
            assert!(drawn.windows(2).all(|pair| (pair[1].x - pair[0].x) * way > 0.0), "{drawn:?}");
        }
    }
}
