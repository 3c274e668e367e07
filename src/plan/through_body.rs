//! Where a line passes over, under or through a body, seen from above, and which bodies need the same room.

use std::f64::consts::FRAC_PI_2;

use super::kinds::Body;
use super::open_air::between;
use crate::geometry::Point3;
use crate::quantities::Angle;

/// Half a hose, metres (common practice, no source): a line passes a part whose middle is farther above or below by this and half
/// of what the part is deep, since it is taken to be as high.
const HALF_HOSE: f64 = 0.015;

/// Bodies that reach into each other by no more than this only touch, metres (common practice, no source).
const TOUCH: f64 = 0.005;

/// The body of a part where it stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlacedBody {
    /// Its middle.
    pub at: Point3,
    /// How it is turned in the plan view.
    pub turn: Angle,
    /// What of it is looked at, seen from above.
    pub body: Body,
    /// Half of what it is high, metres.
    pub half_height: f64,
}

impl PlacedBody {
    /// A line goes through it, and neither above nor below it.
    pub fn is_passed_through(&self, path: &[Point3]) -> bool {
        let within = stretches_within(path, self.at, self.turn, self.body);
        let (z, passes) = (self.at.z, self.half_height + HALF_HOSE);
        within.iter().any(|(from, to)| from.z.min(to.z) < z + passes && from.z.max(to.z) > z - passes)
    }

    /// Its corners seen from above, each moved outwards by so much along both sides, metres.
    pub fn corners(&self, by: f64) -> [Point3; 4] {
        let (sin, cos) = self.turn.si().sin_cos();
        let (long, deep) = (self.body.half_length + by, self.body.half_depth + by);
        [(long, deep), (long, -deep), (-long, -deep), (-long, deep)].map(|(along, across)| {
            self.at + Point3::new(along * cos - across * sin, along * sin + across * cos, 0.0)
        })
    }

    /// The two need the same room: neither beside, above nor below each other, by more than what counts as touching. Two boxes
    /// turned about upright lines are apart where they are along a side of either of them (separating axes, a textbook rule).
    pub fn lies_in(&self, other: &Self) -> bool {
        let upwards = (self.at.z - other.at.z).abs() < self.half_height + other.half_height - TOUCH;
        let axes = [self, other].map(|one| one.turn.si()).map(|turn| [turn, turn + FRAC_PI_2]);
        let (x, y) = (other.at.x - self.at.x, other.at.y - self.at.y);
        let meet_along = |axis: f64| {
            let reach = |one: &Self| {
                let (sin, cos) = (axis - one.turn.si()).sin_cos();
                one.body.half_length * cos.abs() + one.body.half_depth * sin.abs()
            };
            (x * axis.cos() + y * axis.sin()).abs() < reach(self) + reach(other) - TOUCH
        };
        upwards && axes.into_iter().flatten().all(meet_along)
    }
}

/// Which of some bodies need the same room, in pairs of their places among them, the smaller first and in order. Swept along the
/// bar, so that only those that reach to the same place along it are held against each other.
pub fn in_each_other(bodies: &[PlacedBody]) -> Vec<(usize, usize)> {
    let reach = |one: &PlacedBody| one.body.half_length.hypot(one.body.half_depth);
    let mut along: Vec<(f64, f64, usize)> = bodies
        .iter()
        .enumerate()
        .map(|(place, one)| (one.at.x - reach(one), one.at.x + reach(one), place))
        .collect();
    along.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.2.cmp(&b.2)));
    let mut found = Vec::new();
    for (index, (_, ends, place)) in along.iter().enumerate() {
        for (_, _, other) in along[index + 1..].iter().take_while(|next| next.0 < *ends) {
            if bodies[*place].lies_in(&bodies[*other]) {
                found.push((*place.min(other), *place.max(other)));
            }
        }
    }
    found.sort_unstable();
    found
}

/// The stretches of a line that lie over, under or in the box of a body at a place and turned, each from its first to its
/// last point.
pub fn stretches_within(path: &[Point3], at: Point3, turn: Angle, body: Body) -> Vec<(Point3, Point3)> {
    let (sin, cos) = turn.si().sin_cos();
    let own = |point: Point3| {
        let (x, y) = (point.x - at.x, point.y - at.y);
        (x * cos + y * sin, y * cos - x * sin)
    };
    let within = |pair: &[Point3]| {
        let (from, to) = (pair[0], pair[1]);
        let ((from_x, from_y), (to_x, to_y)) = (own(from), own(to));
        let along = between(from_x, to_x, -body.half_length, body.half_length)?;
        let across = between(from_y, to_y, -body.half_depth, body.half_depth)?;
        let (begins, ends) = (along[0].max(across[0]), along[1].min(across[1]));
        let at = |share: f64| from + (to - from) * share;
        (begins <= ends).then(|| (at(begins), at(ends)))
    };
    path.windows(2).filter_map(within).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two of 0.4 m by 0.1 m. Turned by half a right angle the second reaches (0.2 + 0.05) / √2 = 0.177 m to each side.
    #[test]
    fn bodies_lie_in_each_other_where_no_side_parts_them() {
        let body = Body { half_length: 0.2, half_depth: 0.05 };
        let placed = |x: f64, y: f64, z: f64, degrees: f64| PlacedBody {
            at: Point3::new(x, y, z),
            turn: Angle::degrees(degrees),
            body,
            half_height: 0.05,
        };
        let first = placed(0.0, 0.0, 1.0, 0.0);
        let meets = |x, y, z, degrees| {
            let second = placed(x, y, z, degrees);
            assert_eq!(first.lies_in(&second), second.lies_in(&first));
            first.lies_in(&second)
        };
        assert!(meets(0.0, 0.0, 1.0, 0.0) && meets(0.38, 0.0, 1.0, 0.0) && meets(0.0, 0.08, 1.0, 0.0));
        assert!(!meets(0.4, 0.0, 1.0, 0.0) && !meets(0.0, 0.1, 1.0, 0.0), "side by side");
        assert!(!meets(0.0, 0.0, 1.1, 0.0) && meets(0.0, 0.0, 1.08, 0.0), "one above the other");
        assert!(meets(0.24, 0.0, 1.0, 90.0) && !meets(0.25, 0.0, 1.0, 90.0));
        // The boxes round them meet, and they don't: across the second its middle is (0.35 + 0.15) / √2 = 0.354 m off, and the two
        // reach 0.05 + 0.177 m that way.
        assert!(!meets(0.35, -0.15, 1.0, 45.0) && meets(0.35, 0.15, 1.0, 45.0));
    }

    /// Against every pair of them, in places drawn from a linear congruential sequence (Numerical Recipes' constants, from memory).
    #[test]
    fn the_sweep_finds_what_holding_all_against_all_finds() {
        let mut state = 1_u32;
        let mut next = |most: f64| {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            f64::from(state >> 8) / f64::from(1_u32 << 24) * most
        };
        let bodies: Vec<PlacedBody> = (0..120)
            .map(|_| PlacedBody {
                at: Point3::new(next(12.0), next(1.0), 0.6 + next(0.2)),
                turn: Angle::degrees(next(360.0)),
                body: Body { half_length: 0.05 + next(0.4), half_depth: 0.02 + next(0.06) },
                half_height: 0.05,
            })
            .collect();
        let all = (0..bodies.len()).flat_map(|one| (one + 1..bodies.len()).map(move |other| (one, other)));
        let expected: Vec<(usize, usize)> =
            all.filter(|(one, other)| bodies[*one].lies_in(&bodies[*other])).collect();
        assert!(expected.len() > 20, "{}", expected.len());
        assert_eq!(in_each_other(&bodies), expected);
    }

    #[test]
    fn a_line_is_cut_to_what_lies_in_the_box_as_it_is_turned() {
        let body = Body { half_length: 0.2, half_depth: 0.05 };
        let path = [Point3::new(-1.0, 1.0, 0.5), Point3::new(1.0, 1.0, 1.5), Point3::new(1.0, 3.0, 1.5)];
        let within =
            |turn: f64, y: f64| stretches_within(&path, Point3::new(0.0, y, 1.0), Angle::from_si(turn), body);
        let [(from, to)] = within(0.0, 1.0)[..] else { panic!("one stretch") };
        assert!(
            from.distance(Point3::new(-0.2, 1.0, 0.9)) < 1e-9
                && to.distance(Point3::new(0.2, 1.0, 1.1)) < 1e-9
        );
        let [(from, to)] = within(std::f64::consts::FRAC_PI_2, 1.0)[..] else { panic!("one stretch") };
        assert!(
            from.distance(Point3::new(-0.05, 1.0, 0.975)) < 1e-9
                && to.distance(Point3::new(0.05, 1.0, 1.025)) < 1e-9
        );
        assert!(within(0.0, 1.06).is_empty(), "beside it");
        assert_eq!(within(std::f64::consts::FRAC_PI_2, 1.15).len(), 1, "its long side lies across the line");
    }
}
