//! The shape that a bent hose takes between two clamps, in one plane.
//!
//! A free piece is an elastica: it can't be stretched, and resists bending in proportion to its curvature. Of all curves of
//! its length that leave and reach the clamps in their directions it takes the one with the least bending energy, with its
//! weight where that is given. Solved as a chain of short straight pieces whose directions are the unknowns: the energy is
//! least where Newton's method on the Lagrangian (Nocedal and Wright, Numerical Optimization, chapter 18) ends; the distance
//! between the clamps is the constraint. Checked against Timoshenko and Gere's table, Peirce's loop, circles and scipy's
//! boundary-value solutions (`tests/data/elastica.csv`).
//!
//! Left out: shear, stretch, the set that a hose takes from its coil, stiffening under pressure, and touching itself.

use super::Point2;

/// Straight pieces of a chain; the smallest radius is then within 1 per cent, mostly within a fifth of one.
const PIECES: usize = 40;
/// Rounds of Newton's method, at most.
const ROUNDS: usize = 40;
/// The same from the shape of nearly the same piece.
const FOLLOWING: usize = 15;
/// What the last round may leave of forces and gaps, of lengths of 1.
const CLOSE: f64 = 1e-9;
/// How far a direction is turned in a round, at most, radians.
const LONGEST_STEP: f64 = 0.6;

/// Where a free piece is held, and which way it points there: along it, from its start to its end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlaneClamp {
    /// Its place, metres.
    pub at: Point2,
    /// Its direction, radians. Of the two clamps of a piece the difference says how often and which way it turns round.
    pub angle: f64,
}

/// A piece of hose between two clamps.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FreePiece {
    /// Where it starts.
    pub from: PlaneClamp,
    /// Where it ends.
    pub to: PlaneClamp,
    /// Its length, metres; above 0.
    pub length: f64,
    /// Its weight per length over its bending stiffness, per cubic metre, as an arrow that points down; none where
    /// weight does not count.
    pub weight: Option<Point2>,
}

/// Why there is no shape.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum NoShape {
    /// The clamps are as far apart as it is long, or farther: it is stretched.
    Stretched,
    /// Something is not a number, or the search came to no end.
    NotFound,
}

/// The shape of a free piece.
#[derive(Debug, Clone, PartialEq)]
pub struct Bent {
    from: PlaneClamp,
    to: PlaneClamp,
    length: f64,
    /// Directions of its straight pieces, radians.
    angles: [f64; PIECES],
    /// The force that holds its end, over the stiffness, in its length.
    force: [f64; 2],
    /// Bending energy over the stiffness, in its length.
    energy: f64,
    /// What its weight has fallen times its weight, in the same measure.
    fallen: f64,
}

/// Directions that differ by less than this are those of one shape, radians: other shapes differ by much more.
const ALIKE: f64 = 0.02;

impl Bent {
    /// Points along it from clamp to clamp, metres.
    pub fn points(&self) -> Vec<Point2> {
        let step = self.length / self.angles.len() as f64;
        let mut at = self.from.at;
        let mut points = vec![at];
        for angle in &self.angles {
            at = Point2::new(at.x + step * angle.cos(), at.y + step * angle.sin());
            points.push(at);
        }
        points
    }

    /// The smallest radius anywhere along it, metres; infinite where it is straight.
    pub fn least_radius(&self) -> f64 {
        1.0 / self.curvatures().fold(0.0, |most: f64, one| most.max(one.abs()))
    }

    /// The largest curvatures: at both clamps, at the joints, and between joints where one is a peak; per metre.
    fn curvatures(&self) -> impl Iterator<Item = f64> + '_ {
        let step = self.length / self.angles.len() as f64;
        let (first, last) = (self.angles.first().copied(), self.angles.last().copied());
        // The joint at a clamp carries the moment there: half a piece turns by what that bends.
        let end = |turn: Option<f64>| turn.map_or(0.0, |turn| turn / (step / 2.0));
        let (start, finish) =
            (end(first.map(|angle| angle - self.from.angle)), end(last.map(|angle| self.to.angle - angle)));
        let peaks = self.angles.windows(4).map(move |four| {
            let [a, b, c] = [four[1] - four[0], four[2] - four[1], four[3] - four[2]].map(|turn| turn / step);
            let (rise, bow) = ((c - a) / 2.0, a + c - 2.0 * b);
            let is_peak = bow * b < 0.0 && rise.abs() <= bow.abs();
            if is_peak { b - rise * rise / (2.0 * bow) } else { b }
        });
        peaks.chain([start, finish])
    }

    /// Bending energy over stiffness, per metre.
    pub fn energy(&self) -> f64 {
        self.energy / self.length
    }

    /// What nature makes as small as it can: bending energy less what the weight has fallen.
    const fn total(&self) -> f64 {
        self.energy - self.fallen
    }

    /// The same shape, but for what little clamps have moved.
    pub fn is_alike(&self, other: &Self) -> bool {
        self.angles.iter().zip(&other.angles).all(|(one, other)| (one - other).abs() < ALIKE)
    }

    /// How far it reaches in a direction of length 1, metres from the origin.
    pub fn reach(&self, along: Point2) -> f64 {
        let reach = |point: Point2| point.x * along.x + point.y * along.y;
        self.points().into_iter().map(reach).fold(f64::NEG_INFINITY, f64::max)
    }

    /// How far it reaches beyond the straight line between its ends to the right of it and to the left, metres, seen along the
    /// line; of ends in one place along the start's direction.
    pub fn bulge(&self) -> (f64, f64) {
        let (from, to) = (self.from.at, self.to.at);
        let apart = from.distance(to);
        let (x, y) = if apart > 1e-9 {
            ((to.x - from.x) / apart, (to.y - from.y) / apart)
        } else {
            (self.from.angle.cos(), self.from.angle.sin())
        };
        let aside = |point: Point2| (point.y - from.y) * x - (point.x - from.x) * y;
        self.points()
            .into_iter()
            .map(aside)
            .fold((0.0, 0.0), |(right, left): (f64, f64), one| (right.max(-one), left.max(one)))
    }
}

impl FreePiece {
    /// Its shape, of the two to which it may bulge the one with less energy, that of its weight counted.
    pub fn shape(&self) -> Result<Bent, NoShape> {
        let turn = self.to.angle - self.from.angle;
        let shapes = [1.0, -1.0].map(|side| self.bulging(if turn < 0.0 { side } else { -side }));
        match shapes {
            [Ok(one), Ok(other)] => Ok(if other.total() < one.total() - 1e-6 { other } else { one }),
            [Ok(one), Err(_)] | [Err(_), Ok(one)] => Ok(one),
            [Err(why), Err(_)] => Err(why),
        }
    }

    /// Its shape, looked for from that of nearly the same piece, so that it goes on bulging to the same side.
    pub fn shape_from(&self, near: &Bent) -> Result<Bent, NoShape> {
        self.solve(&near.angles, near.force, FOLLOWING)
    }

    fn bulging(&self, side: f64) -> Result<Bent, NoShape> {
        let apart = self.from.at.distance(self.to.at);
        // Half a wave of a strip that is hardly longer than its way is bent by twice the root of what it is longer
        // (shallow arch between clamps).
        let longer = if apart > 0.0 { (self.length / apart - 1.0).clamp(0.01, 0.4) } else { 0.4 };
        let reach = side * 2.0 * longer.sqrt();
        let share = |at: usize| (at as f64 + 0.5) / PIECES as f64;
        let turn = self.to.angle - self.from.angle;
        let guess = |at: usize| {
            self.from.angle + turn * share(at) + reach * (std::f64::consts::TAU * share(at)).sin()
        };
        self.solve(&std::array::from_fn(guess), [0.0; 2], ROUNDS)
    }

    /// Newton's method from a guess, all in lengths of the piece.
    fn solve(&self, angles: &[f64; PIECES], mut force: [f64; 2], rounds: usize) -> Result<Bent, NoShape> {
        let length = self.length;
        let gap = [(self.to.at.x - self.from.at.x) / length, (self.to.at.y - self.from.at.y) / length];
        let weight = self.weight.map(|arrow| [arrow.x * length.powi(3), arrow.y * length.powi(3)]);
        let is_number =
            [gap[0], gap[1], self.from.angle, self.to.angle, length].iter().all(|one| one.is_finite())
                && weight.is_none_or(|one| one.iter().all(|one| one.is_finite()));
        if !is_number || length <= 0.0 {
            return Err(NoShape::NotFound);
        }
        if gap[0].hypot(gap[1]) > 1.0 - 1e-6 {
            return Err(NoShape::Stretched);
        }
        let chain = Chain { ends: [self.from.angle, self.to.angle], gap, weight: weight.unwrap_or_default() };
        let mut state = chain.state(angles);
        let mut lagrangian = chain.at(&state, force);
        for _ in 0..rounds {
            if lagrangian.is_solved() {
                return Ok(Bent {
                    from: self.from,
                    to: self.to,
                    length,
                    angles: state.angles,
                    force,
                    energy: state.energy,
                    fallen: state.fallen,
                });
            }
            let turn = lagrangian.step(&state).ok_or(NoShape::NotFound)?;
            force = [force[0] + turn.pull[0], force[1] + turn.pull[1]];
            let price = 2.0 * force[0].hypot(force[1]) + 1.0;
            let most = state.merit(price) + 1e-12;
            let mut share = (LONGEST_STEP / turn.longest).min(1.0);
            let mut best = None;
            for _ in 0..12 {
                let tried = chain.turned(&state, &turn, share);
                if tried.merit(price) <= most {
                    best = Some(tried);
                    break;
                }
                share /= 2.0;
            }
            // Close to the end the last digits decide: the whole step is taken.
            state = best.unwrap_or_else(|| chain.turned(&state, &turn, 1.0));
            lagrangian = chain.at(&state, force);
        }
        Err(NoShape::NotFound)
    }
}

// What follows is the innermost work of the search for lengths at hinges, some ten thousand rounds of it for a crossing:
// arrays and bare loops, which cost a fifth of iterators where nothing is optimised (debug builds, tests).

/// A chain of straight pieces with a length of 1 together.
struct Chain {
    ends: [f64; 2],
    gap: [f64; 2],
    weight: [f64; 2],
}

/// Directions of the pieces of a chain, and what follows from them.
struct State {
    angles: [f64; PIECES],
    sin: [f64; PIECES],
    cos: [f64; PIECES],
    /// How far the end is from its clamp.
    misses: [f64; 2],
    /// Bending energy.
    energy: f64,
    /// What the weight has fallen, times the weight.
    fallen: f64,
}

/// Forces on a chain and how far its end is from its clamp.
struct Lagrangian {
    /// What turns each piece.
    moments: [f64; PIECES],
    /// What the curvature of the constraint and the weight add to the stiffness of each piece.
    added: [f64; PIECES],
    misses: [f64; 2],
    /// The largest of moments and misses.
    largest: f64,
}

/// A step of Newton's method.
struct Turn {
    /// By how much each piece turns.
    turns: [f64; PIECES],
    /// The largest of them.
    longest: f64,
    /// What comes to the force.
    pull: [f64; 2],
}

/// Length of a piece.
const PIECE: f64 = 1.0 / PIECES as f64;
/// Stiffness of a joint; twice as much between a clamp and the first piece, of which half bends.
const JOINT: f64 = PIECES as f64;

impl State {
    /// What is to become least: energy, and the price of missing the clamp.
    fn merit(&self, price: f64) -> f64 {
        self.energy - self.fallen + price * (self.misses[0].abs() + self.misses[1].abs())
    }
}

impl Chain {
    fn state(&self, angles: &[f64; PIECES]) -> State {
        let mut state = State {
            angles: *angles,
            sin: [0.0; PIECES],
            cos: [0.0; PIECES],
            misses: [0.0; 2],
            energy: 0.0,
            fallen: 0.0,
        };
        let (mut x, mut y, mut joints, mut fallen) = (0.0, 0.0, 0.0, 0.0);
        let mut before = angles[0];
        let mut at = 0;
        while at < PIECES {
            let angle = angles[at];
            let (sin, cos) = angle.sin_cos();
            state.sin[at] = sin;
            state.cos[at] = cos;
            x += cos;
            y += sin;
            joints += (angle - before) * (angle - before);
            fallen += Self::below(at) * (self.weight[0] * cos + self.weight[1] * sin);
            before = angle;
            at += 1;
        }
        let (first, last) = (angles[0] - self.ends[0], self.ends[1] - before);
        state.misses = [x * PIECE - self.gap[0], y * PIECE - self.gap[1]];
        state.energy = JOINT * (joints / 2.0 + first * first + last * last);
        state.fallen = fallen * PIECE;
        state
    }

    /// Each piece turned by a share of what it should turn.
    fn turned(&self, state: &State, turn: &Turn, share: f64) -> State {
        let mut angles = state.angles;
        let mut at = 0;
        while at < PIECES {
            angles[at] += share * turn.turns[at];
            at += 1;
        }
        self.state(&angles)
    }

    /// Of weight, what hangs on the piece with this place: all that comes after it, and half of its own.
    fn below(at: usize) -> f64 {
        1.0 - (at as f64 + 0.5) * PIECE
    }

    fn at(&self, state: &State, force: [f64; 2]) -> Lagrangian {
        let angles = &state.angles;
        let mut moments = [0.0; PIECES];
        let mut added = [0.0; PIECES];
        let mut largest = state.misses[0].abs().max(state.misses[1].abs());
        let mut before = 2.0 * JOINT * (angles[0] - self.ends[0]);
        let mut at = 0;
        while at < PIECES {
            let after = if at + 1 < PIECES {
                JOINT * (angles[at + 1] - angles[at])
            } else {
                2.0 * JOINT * (self.ends[1] - angles[at])
            };
            let hangs = Self::below(at);
            let (pull_x, pull_y) = (force[0] - hangs * self.weight[0], force[1] - hangs * self.weight[1]);
            let (sin, cos) = (state.sin[at], state.cos[at]);
            let moment = before - after + PIECE * (pull_y * cos - pull_x * sin);
            largest = largest.max(moment.abs());
            moments[at] = moment;
            added[at] = -PIECE * (pull_x * cos + pull_y * sin);
            before = after;
            at += 1;
        }
        Lagrangian { moments, added, misses: state.misses, largest }
    }
}

impl Lagrangian {
    fn is_solved(&self) -> bool {
        self.largest < CLOSE
    }

    /// More stiffness is added until the energy is curved upwards along every way that keeps the end on its clamp: otherwise
    /// the step might lead to a shape that no hose keeps.
    fn step(&self, state: &State) -> Option<Turn> {
        let mut more = 0.0;
        for _ in 0..20 {
            if let Some(turn) = self.step_with(state, more) {
                return Some(turn);
            }
            more = if more == 0.0 { 0.1 } else { more * 4.0 };
        }
        None
    }

    fn step_with(&self, state: &State, more: f64) -> Option<Turn> {
        let mut pivots = [0.0; PIECES];
        let mut negative = 0;
        // Three right-hand sides: the moments, and the two rows of the constraint.
        let mut free = [0.0; PIECES];
        let mut along_x = [0.0; PIECES];
        let mut along_y = [0.0; PIECES];
        let (mut one, mut x, mut y, mut factor) = (0.0, 0.0, 0.0, 0.0);
        let mut at = 0;
        while at < PIECES {
            let at_end = at == 0 || at + 1 == PIECES;
            let own = JOINT * if at_end { 3.0 } else { 2.0 };
            let pivot = own + self.added[at] + more - factor * JOINT;
            if pivot.abs() < 1e-9 {
                return None;
            }
            if pivot < 0.0 {
                negative += 1;
            }
            one = factor * one - self.moments[at];
            x = factor * x - PIECE * state.sin[at];
            y = factor * y + PIECE * state.cos[at];
            pivots[at] = pivot;
            free[at] = one;
            along_x[at] = x;
            along_y[at] = y;
            factor = JOINT / pivot;
            at += 1;
        }
        (one, x, y) = (0.0, 0.0, 0.0);
        let (mut a, mut b, mut c) = (0.0, 0.0, 0.0);
        let mut rest = self.misses;
        while at > 0 {
            at -= 1;
            let pivot = pivots[at];
            one = (free[at] + JOINT * one) / pivot;
            x = (along_x[at] + JOINT * x) / pivot;
            y = (along_y[at] + JOINT * y) / pivot;
            free[at] = one;
            along_x[at] = x;
            along_y[at] = y;
            let (row_x, row_y) = (-PIECE * state.sin[at], PIECE * state.cos[at]);
            a += row_x * x;
            b += row_x * y;
            c += row_y * y;
            rest[0] += row_x * one;
            rest[1] += row_y * one;
        }
        let whole = a * c - b * b;
        // As many of the two directions of the constraint must be negative as there are negative pivots.
        let held = match (whole < 0.0, a + c < 0.0) {
            (true, _) => 1,
            (false, true) => 2,
            (false, false) => 0,
        };
        if held != negative || whole.abs() < 1e-18 {
            return None;
        }
        let pull = [(rest[0] * c - rest[1] * b) / whole, (rest[1] * a - rest[0] * b) / whole];
        let mut longest = 0.0_f64;
        while at < PIECES {
            let turn = free[at] - along_x[at] * pull[0] - along_y[at] * pull[1];
            longest = longest.max(turn.abs());
            free[at] = turn;
            at += 1;
        }
        Some(Turn { turns: free, longest, pull })
    }
}

#[cfg(test)]
mod tests;
