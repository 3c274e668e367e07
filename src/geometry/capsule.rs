//! Straight pieces with a thickness, and boxes about them: how near two of them come.

use super::Point3;

/// A straight piece with round ends: everything within a radius of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Capsule {
    /// One end of its middle line.
    pub from: Point3,
    /// The other end; the same for a ball.
    pub to: Point3,
    /// Metres; 0 or more.
    pub radius: f64,
}

impl Capsule {
    /// What is between it and another one, metres; below 0 where they run into each other.
    pub fn gap(&self, other: &Self) -> f64 {
        distance_of_pieces([self.from, self.to], [other.from, other.to]) - self.radius - other.radius
    }

    /// The box about it.
    pub fn bounds(&self) -> Box3 {
        Box3::around([self.from, self.to]).grown(self.radius)
    }

    /// Some of it lies in a box; at corners, by the box about its thickness.
    pub fn lies_in(&self, room: &Box3) -> bool {
        let room = room.grown(self.radius);
        let axes: [fn(Point3) -> f64; 3] = [|at| at.x, |at| at.y, |at| at.z];
        let (mut begins, mut ends) = (0.0f64, 1.0f64);
        for of in axes {
            let (from, to, low, high) = (of(self.from), of(self.to), of(room.min), of(room.max));
            if from == to {
                if from < low || from > high {
                    return false;
                }
                continue;
            }
            let (one, other) = ((low - from) / (to - from), (high - from) / (to - from));
            (begins, ends) = (begins.max(one.min(other)), ends.min(one.max(other)));
        }
        begins <= ends
    }

    /// Where it goes when both of its ends go somewhere.
    #[must_use]
    pub fn moved(&self, place: impl Fn(Point3) -> Point3) -> Self {
        Self { from: place(self.from), to: place(self.to), radius: self.radius }
    }
}

/// The distance of two straight pieces, each given by its ends, metres. Pieces without length are points (Ericson, Real-Time
/// Collision Detection, 2005, section 5.1.9).
pub fn distance_of_pieces([a, b]: [Point3; 2], [c, d]: [Point3; 2]) -> f64 {
    let (u, v, w) = (b - a, d - c, a - c);
    let (uu, vv, uv) = (dot(u, u), dot(v, v), dot(u, v));
    let (uw, vw) = (dot(u, w), dot(v, w));
    let share = |value: f64| value.clamp(0.0, 1.0);
    let (s, t) = if uu == 0.0 && vv == 0.0 {
        (0.0, 0.0)
    } else if uu == 0.0 {
        (0.0, share(vw / vv))
    } else if vv == 0.0 {
        (share(-uw / uu), 0.0)
    } else {
        let across = uu * vv - uv * uv;
        // Of parallel pieces any place of the first serves to begin with.
        let s = if across > f64::EPSILON * uu * vv { share((uv * vw - uw * vv) / across) } else { 0.0 };
        let t = (uv * s + vw) / vv;
        if t < 0.0 {
            (share(-uw / uu), 0.0)
        } else if t > 1.0 {
            (share((uv - uw) / uu), 1.0)
        } else {
            (s, t)
        }
    };
    (a + u * s).distance(c + v * t)
}

fn dot(a: Point3, b: Point3) -> f64 {
    a.x * b.x + a.y * b.y + a.z * b.z
}

/// An upright box in space, metres. Empty until something is added.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Box3 {
    /// The corner that is farthest left, back and down.
    pub min: Point3,
    /// The corner opposite.
    pub max: Point3,
}

impl Box3 {
    /// Nothing yet.
    pub const EMPTY: Self = Self {
        min: Point3::new(f64::INFINITY, f64::INFINITY, f64::INFINITY),
        max: Point3::new(f64::NEG_INFINITY, f64::NEG_INFINITY, f64::NEG_INFINITY),
    };

    /// The smallest box around points.
    pub fn around(points: impl IntoIterator<Item = Point3>) -> Self {
        let mut all = Self::EMPTY;
        for point in points {
            all = all.with(&Self { min: point, max: point });
        }
        all
    }

    /// The smallest box around this one and another.
    #[must_use]
    pub const fn with(&self, other: &Self) -> Self {
        let (a, b) = (self, other);
        Self {
            min: Point3::new(a.min.x.min(b.min.x), a.min.y.min(b.min.y), a.min.z.min(b.min.z)),
            max: Point3::new(a.max.x.max(b.max.x), a.max.y.max(b.max.y), a.max.z.max(b.max.z)),
        }
    }

    /// Larger by so much on every side, metres.
    #[must_use]
    pub fn grown(&self, by: f64) -> Self {
        let by = Point3::new(by, by, by);
        Self { min: self.min - by, max: self.max + by }
    }

    /// Its middle.
    pub fn middle(&self) -> Point3 {
        self.min.towards(self.max, 0.5)
    }

    /// From one corner to the opposite one, metres.
    pub fn size(&self) -> f64 {
        self.min.distance(self.max)
    }

    /// Distance of a point from it, metres; 0 inside.
    pub fn distance(&self, point: Point3) -> f64 {
        self.apart(&Self { min: point, max: point })
    }

    /// How far another is from it, metres; 0 where they meet.
    pub fn apart(&self, other: &Self) -> f64 {
        let (a, b) = (self, other);
        let along = |from: f64, to: f64, other_from: f64, other_to: f64| {
            (from - other_to).max(other_from - to).max(0.0)
        };
        let apart = Point3::new(
            along(a.min.x, a.max.x, b.min.x, b.max.x),
            along(a.min.y, a.max.y, b.min.y, b.max.y),
            along(a.min.z, a.max.z, b.min.z, b.max.z),
        );
        apart.dot(apart).sqrt()
    }

    /// Both have a point in common.
    pub fn meets(&self, other: &Self) -> bool {
        self.min.x <= other.max.x
            && other.min.x <= self.max.x
            && self.min.y <= other.max.y
            && other.min.y <= self.max.y
            && self.min.z <= other.max.z
            && other.min.z <= self.max.z
    }

    /// Its eight corners.
    pub fn corners(&self) -> [Point3; 8] {
        let (a, b) = (self.min, self.max);
        let corner = |x, y, z| Point3::new(x, y, z);
        [
            corner(a.x, a.y, a.z),
            corner(b.x, a.y, a.z),
            corner(a.x, b.y, a.z),
            corner(b.x, b.y, a.z),
            corner(a.x, a.y, b.z),
            corner(b.x, a.y, b.z),
            corner(a.x, b.y, b.z),
            corner(b.x, b.y, b.z),
        ]
    }

    /// Nothing was added.
    pub fn is_empty(&self) -> bool {
        self.min.x > self.max.x
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(x: f64, y: f64, z: f64) -> Point3 {
        Point3::new(x, y, z)
    }

    /// Two lines that pass each other: the distance along their common normal, |w · (u × v)| / |u × v| (analytic geometry).
    #[test]
    fn crossing_pieces_are_as_far_apart_as_their_common_normal_says() {
        let (one, other) = ([at(-2.0, 0.0, 0.0), at(3.0, 1.0, 0.5)], [at(0.0, -2.0, 1.0), at(0.5, 2.5, 1.6)]);
        let (u, v, w) = (one[1] - one[0], other[1] - other[0], other[0] - one[0]);
        let n = at(u.y * v.z - u.z * v.y, u.z * v.x - u.x * v.z, u.x * v.y - u.y * v.x);
        let normal = dot(w, n).abs() / dot(n, n).sqrt();
        assert!((distance_of_pieces(one, other) - normal).abs() < 1e-12);
    }

    /// 500 x 500 places on each of two pieces find nothing nearer, and something nearly as near.
    #[test]
    fn no_two_places_of_the_pieces_are_nearer_than_their_distance() {
        let p = |seed: u32, shift: u32| {
            f64::from(seed.wrapping_mul(2_654_435_761).rotate_left(shift) % 1000) / 250.0
        };
        for seed in 1..40 {
            let point = |first: u32| at(p(seed, first), p(seed, first + 5), p(seed, first + 9));
            let (one, other) = ([point(0), point(3)], [point(13), point(17)]);
            let found = distance_of_pieces(one, other);
            let mut least = f64::INFINITY;
            for i in 0..=200 {
                for j in 0..=200 {
                    let (s, t) = (f64::from(i) / 200.0, f64::from(j) / 200.0);
                    least = least.min(one[0].towards(one[1], s).distance(other[0].towards(other[1], t)));
                }
            }
            assert!(found <= least + 1e-12 && least < found + 0.03, "{seed}: {found} {least}");
        }
    }

    #[test]
    fn parallel_pieces_and_points_have_a_distance_too() {
        let rail = [at(0.0, 0.0, 0.0), at(4.0, 0.0, 0.0)];
        assert_eq!(distance_of_pieces(rail, [at(1.0, 0.3, 0.4), at(9.0, 0.3, 0.4)]), 0.5);
        assert_eq!(distance_of_pieces(rail, [at(7.0, 4.0, 0.0), at(9.0, 4.0, 0.0)]), 5.0);
        assert_eq!(distance_of_pieces(rail, [at(2.0, 2.0, 0.0); 2]), 2.0);
        assert_eq!(distance_of_pieces([at(2.0, 2.0, 0.0); 2], rail), 2.0);
        assert_eq!(distance_of_pieces([at(0.0, 0.0, 3.0); 2], [at(4.0, 0.0, 0.0); 2]), 5.0);
        let capsule = |radius| Capsule { from: rail[0], to: rail[1], radius };
        let ball = Capsule { from: at(2.0, 0.0, 1.0), to: at(2.0, 0.0, 1.0), radius: 0.2 };
        assert!((capsule(0.3).gap(&ball) - 0.5).abs() < 1e-12);
        assert!(capsule(0.3).bounds().grown(0.5).meets(&ball.bounds()));
        assert!(!capsule(0.3).bounds().grown(0.49).meets(&ball.bounds()));
    }
}
