//! How tight a bend a line of straight pieces asks for, once its corners are rounded.

use super::Point3;

/// The tightest corner of a line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bend {
    /// The corner, or the middle of the piece between two corners that leaves too little room.
    pub at: Point3,
    /// How far the direction turns there, radians, 0 to π.
    pub turn: f64,
    /// Largest radius of the centre line that fits, metres.
    pub radius: f64,
}

/// Pieces shorter than this are none, metres.
const NO_PIECE: f64 = 1e-6;
/// A turn whose half has a smaller tangent is none (0.1°).
const NO_TURN: f64 = 1e-3;

/// The tightest corner of a line whose bends all take the same radius; none for a line without corners, or where
/// every corner has room for at least `enough` metres.
///
/// Geometry of a fillet: an arc of radius `r` that rounds a corner with a turn `θ` begins and ends `r·tan(θ/2)` from
/// the corner, and a straight piece must hold what the corners at both its ends take. A short piece between two turns
/// that undo each other may be cut across, as a hose does that is led aside by a hand's breadth: that leaves the drawn
/// way by less than the piece is long.
pub fn tightest_bend(points: &[Point3], enough: f64) -> Option<Bend> {
    let mut line: Vec<Point3> = Vec::with_capacity(points.len());
    for point in points {
        if line.last().is_none_or(|last| last.distance(*point) > NO_PIECE) {
            line.push(*point);
        }
    }
    let mut tightest = without_help(&line)?;
    // Each help takes one short piece away, so that as many are enough.
    for _ in 0..line.len() {
        if tightest.1.radius >= enough {
            return None;
        }
        let Some((helped, better)) = cut_across(&line, tightest) else { break };
        line = helped;
        tightest = better;
    }
    (tightest.1.radius < enough).then_some(tightest.1)
}

/// The piece with the least room, and the bend it asks for.
fn without_help(line: &[Point3]) -> Option<(usize, Bend)> {
    let halves: Vec<f64> = (0..line.len())
        .map(|at| {
            let half = match (at.checked_sub(1).and_then(|before| line.get(before)), line.get(at + 1)) {
                (Some(before), Some(after)) => half_tangent(*before, line[at], *after),
                _ => 0.0,
            };
            if half < NO_TURN { 0.0 } else { half }
        })
        .collect();
    let mut tightest: Option<(usize, Bend)> = None;
    for (piece, pair) in line.windows(2).enumerate() {
        let (first, last) = (halves[piece], halves[piece + 1]);
        if first + last == 0.0 {
            continue;
        }
        let radius = pair[0].distance(pair[1]) / (first + last);
        if tightest.is_none_or(|(_, known)| radius < known.radius) {
            let at = match (first > 0.0, last > 0.0) {
                (true, true) => pair[0].towards(pair[1], 0.5),
                (true, false) => pair[0],
                _ => pair[1],
            };
            tightest = Some((piece, Bend { at, turn: 2.0 * first.max(last).atan(), radius }));
        }
    }
    tightest
}

/// Tangent of half the turn at the middle one of three points; infinite where the line turns right back.
fn half_tangent(before: Point3, at: Point3, after: Point3) -> f64 {
    let (a, b) = (direction(before, at), direction(at, after));
    // tan(θ/2) = sin θ / (1 + cos θ)
    let below = 1.0 + dot(a, b);
    if below > 1e-12 { size(cross(a, b)) / below } else { f64::INFINITY }
}

/// Cuts across the tightest piece where its two corners undo each other and that leaves more room.
fn cut_across(line: &[Point3], tightest: (usize, Bend)) -> Option<(Vec<Point3>, (usize, Bend))> {
    const SHARES: [f64; 5] = [0.15, 0.3, 0.45, 0.6, 0.8];
    let (piece, bend) = tightest;
    let before = piece.checked_sub(1)?;
    let &[a, b, c, d] = line.get(before..piece + 3)? else { return None };
    let (one, two, three) = (direction(a, b), direction(b, c), direction(c, d));
    // The axes of two turns that undo each other point apart.
    if dot(cross(one, two), cross(two, three)) > 1e-9 {
        return None;
    }
    let mut best: Option<(Vec<Point3>, (usize, Bend))> = None;
    for back in SHARES {
        for on in SHARES {
            let mut helped = line.to_vec();
            helped[piece] = b.towards(a, back);
            helped[piece + 1] = c.towards(d, on);
            let straight = (piece, Bend { radius: f64::INFINITY, ..bend });
            let found = without_help(&helped).unwrap_or(straight);
            let known = best.as_ref().map_or(bend.radius * 1.001, |(_, (_, known))| known.radius);
            if found.1.radius > known {
                best = Some((helped, found));
            }
        }
    }
    best
}

fn direction(from: Point3, to: Point3) -> Point3 {
    (to - from) * (1.0 / from.distance(to).max(NO_PIECE))
}

fn dot(a: Point3, b: Point3) -> f64 {
    a.x * b.x + a.y * b.y + a.z * b.z
}

fn cross(a: Point3, b: Point3) -> Point3 {
    Point3::new(a.y * b.z - a.z * b.y, a.z * b.x - a.x * b.z, a.x * b.y - a.y * b.x)
}

fn size(a: Point3) -> f64 {
    a.distance(Point3::default())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(points: &[(f64, f64)]) -> Vec<Point3> {
        points.iter().map(|(x, y)| Point3::new(*x, *y, 1.0)).collect()
    }

    const ANY: f64 = f64::INFINITY;

    /// An arc in a right angle begins its radius away from the corner (geometry: tan 45° = 1).
    #[test]
    fn a_right_angle_takes_its_radius_on_both_sides() {
        let bend = tightest_bend(&line(&[(0.0, 0.0), (1.0, 0.0), (1.0, 0.2)]), ANY).unwrap();
        assert!((bend.radius - 0.2).abs() < 1e-12, "{bend:?}");
        assert!((bend.turn.to_degrees() - 90.0).abs() < 1e-9);
        assert_eq!(bend.at, Point3::new(1.0, 0.0, 1.0));
        assert_eq!(tightest_bend(&line(&[(0.0, 0.0), (1.0, 0.0), (1.0, 0.2)]), 0.2), None);
    }

    /// There and back over a width of 0.3 m is half a circle of 0.15 m (geometry).
    #[test]
    fn a_turn_round_is_half_a_circle() {
        let way = line(&[(0.0, 0.0), (1.0, 0.0), (1.0, 0.3), (0.0, 0.3)]);
        let bend = tightest_bend(&way, ANY).unwrap();
        assert!((bend.radius - 0.15).abs() < 1e-12, "{bend:?}");
        // Right back on itself: no room for any radius.
        assert_eq!(tightest_bend(&line(&[(0.0, 0.0), (1.0, 0.0), (0.5, 0.0)]), ANY).unwrap().radius, 0.0);
    }

    /// A regular octagon is twice its apothem wide: 2.414 times its side (geometry), and its inscribed circle fits.
    #[test]
    fn a_way_round_an_octagon_holds_its_inscribed_circle() {
        let corners = (0..=8).map(|at| (f64::from(at) + 0.5) * std::f64::consts::FRAC_PI_4);
        let way: Vec<Point3> = corners.map(|at| Point3::new(at.cos(), at.sin(), 0.0)).collect();
        // The ends lie in the middle of no side: only the sides between count.
        let radius = tightest_bend(&way[..], ANY).unwrap().radius;
        let inscribed = std::f64::consts::FRAC_PI_8.cos();
        assert!((radius - inscribed).abs() < 1e-9, "{radius} against {inscribed}");
    }

    /// Led aside by `d` over a length `s`, two equal arcs have the radius (s² + d²) / 4d (geometry of a reverse curve
    /// between parallel tangents): what is cut across comes near to that and never passes it.
    #[test]
    fn a_step_aside_is_cut_across() {
        let way = line(&[(0.0, 0.0), (0.2, 0.0), (0.2, 0.03), (0.4, 0.03)]);
        let exact = (0.4_f64.powi(2) + 0.03_f64.powi(2)) / (4.0 * 0.03);
        let radius = tightest_bend(&way, ANY).unwrap().radius;
        assert!((0.5 * exact..=exact).contains(&radius), "{radius} against {exact}");
        assert!(tightest_bend(&way, 0.1).is_none());
        // Without room to both sides it stays tight.
        let short = line(&[(0.0, 0.0), (0.02, 0.0), (0.02, 0.03), (0.04, 0.03)]);
        let exact = (0.04_f64.powi(2) + 0.03_f64.powi(2)) / (4.0 * 0.03);
        assert!(tightest_bend(&short, 0.1).is_some_and(|bend| bend.radius <= exact));
    }

    #[test]
    fn straight_and_empty_lines_have_no_bend() {
        assert_eq!(tightest_bend(&[], ANY), None);
        assert_eq!(tightest_bend(&line(&[(0.0, 0.0), (0.0, 0.0), (1.0, 0.0), (2.0, 0.0)]), ANY), None);
    }
}
