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

/// Straight pieces of a chain; the smallest radius is then within 1.5 per cent, mostly within half of one.
const PIECES: usize = 40;
/// Rounds of Newton's method, at most.
const ROUNDS: usize = 80;
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
    angles: Vec<f64>,
    /// The force that holds its end, over the stiffness, in its length.
    force: [f64; 2],
    /// Bending energy over the stiffness, in its length.
    energy: f64,
}

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
        let bend = move |pair: &[f64]| (pair[1] - pair[0]) / step;
        // Half a piece turns between a clamp and the first joint: its curvature is that a quarter of a piece along.
        let end = move |half: Option<f64>, next: Option<f64>| {
            half.map_or(0.0, |half| half + (half - next.unwrap_or(half)) / 3.0)
        };
        let start = end(
            first.map(|angle| (angle - self.from.angle) / (step / 2.0)),
            self.angles.windows(2).next().map(bend),
        );
        let finish = end(
            last.map(|angle| (self.to.angle - angle) / (step / 2.0)),
            self.angles.windows(2).next_back().map(bend),
        );
        let peaks = self.angles.windows(4).map(move |four| {
            let [a, b, c] = [four[1] - four[0], four[2] - four[1], four[3] - four[2]].map(|turn| turn / step);
            let (rise, bow) = ((c - a) / 2.0, a + c - 2.0 * b);
            let is_peak = bow * b < 0.0 && rise.abs() <= bow.abs();
            if is_peak { b - rise * rise / (2.0 * bow) } else { b }
        });
        peaks.chain([start, finish])
    }

    /// Bending energy over stiffness, per metre: of two shapes between the same clamps the one with less is taken.
    pub fn energy(&self) -> f64 {
        self.energy / self.length
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
    /// Its shape, of the two to which it may bulge the one with less energy.
    pub fn shape(&self) -> Result<Bent, NoShape> {
        let turn = self.to.angle - self.from.angle;
        let shapes = [1.0, -1.0].map(|side| self.bulging(if turn < 0.0 { side } else { -side }));
        match shapes {
            [Ok(one), Ok(other)] => Ok(if other.energy < one.energy - 1e-6 { other } else { one }),
            [Ok(one), Err(_)] | [Err(_), Ok(one)] => Ok(one),
            [Err(why), Err(_)] => Err(why),
        }
    }

    /// Its shape, looked for from that of nearly the same piece, so that it goes on bulging to the same side.
    pub fn shape_from(&self, near: &Bent) -> Result<Bent, NoShape> {
        self.solve(near.angles.clone(), near.force)
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
        self.solve((0..PIECES).map(guess).collect(), [0.0; 2])
    }

    /// Newton's method from a guess, all in lengths of the piece.
    fn solve(&self, mut angles: Vec<f64>, mut force: [f64; 2]) -> Result<Bent, NoShape> {
        let length = self.length;
        let gap = [(self.to.at.x - self.from.at.x) / length, (self.to.at.y - self.from.at.y) / length];
        let weight = self.weight.map(|arrow| [arrow.x * length.powi(3), arrow.y * length.powi(3)]);
        let is_number =
            [gap[0], gap[1], self.from.angle, self.to.angle, length].iter().all(|one| one.is_finite())
                && weight.is_none_or(|one| one.iter().all(|one| one.is_finite()));
        if !is_number || length <= 0.0 || angles.len() < 4 {
            return Err(NoShape::NotFound);
        }
        if gap[0].hypot(gap[1]) > 1.0 - 1e-6 {
            return Err(NoShape::Stretched);
        }
        let chain = Chain { ends: [self.from.angle, self.to.angle], gap, weight: weight.unwrap_or_default() };
        let mut lagrangian = chain.at(&angles, force);
        for _ in 0..ROUNDS {
            if lagrangian.is_solved() {
                let energy = chain.energy(&angles);
                return Ok(Bent { from: self.from, to: self.to, length, angles, force, energy });
            }
            let (turns, more) = lagrangian.step(&angles).ok_or(NoShape::NotFound)?;
            let pull = [force[0] + more[0], force[1] + more[1]];
            let longest = turns.iter().fold(0.0, |most: f64, one| most.max(one.abs()));
            let mut share = (LONGEST_STEP / longest).min(1.0);
            let price = 2.0 * pull[0].hypot(pull[1]) + 1.0;
            let before = chain.merit(&angles, price);
            let mut best = None;
            for _ in 0..12 {
                let tried: Vec<f64> =
                    angles.iter().zip(&turns).map(|(angle, turn)| angle + share * turn).collect();
                if chain.merit(&tried, price) <= before + 1e-12 {
                    best = Some(tried);
                    break;
                }
                share /= 2.0;
            }
            // Close to the end the last digits decide: the whole step is taken.
            angles = best.unwrap_or_else(|| angles.iter().zip(&turns).map(|(a, turn)| a + turn).collect());
            force = pull;
            lagrangian = chain.at(&angles, force);
        }
        Err(NoShape::NotFound)
    }
}

/// A chain of straight pieces with a length of 1 together.
struct Chain {
    ends: [f64; 2],
    gap: [f64; 2],
    weight: [f64; 2],
}

/// Forces on a chain and how far its end is from its clamp.
struct Lagrangian {
    /// What turns each piece.
    moments: Vec<f64>,
    /// What the curvature of the constraint and the weight add to the stiffness of each piece.
    added: Vec<f64>,
    misses: [f64; 2],
}

impl Chain {
    /// Twice the stiffness between a clamp and the first piece, of which half bends.
    fn energy(&self, angles: &[f64]) -> f64 {
        let count = angles.len() as f64;
        let (Some(first), Some(last)) = (angles.first(), angles.last()) else { return 0.0 };
        let ends = (first - self.ends[0]).powi(2) + (self.ends[1] - last).powi(2);
        let joints: f64 = angles.windows(2).map(|pair| (pair[1] - pair[0]).powi(2)).sum();
        count * (joints / 2.0 + ends)
    }

    /// Of weight, what hangs on the piece with this place: all that comes after it, and half of its own.
    fn below(at: usize, count: usize) -> f64 {
        1.0 - (at as f64 + 0.5) / count as f64
    }

    fn misses(&self, angles: &[f64]) -> [f64; 2] {
        let step = 1.0 / angles.len() as f64;
        let reach = angles.iter().fold([0.0, 0.0], |sum, angle| [sum[0] + angle.cos(), sum[1] + angle.sin()]);
        [reach[0] * step - self.gap[0], reach[1] * step - self.gap[1]]
    }

    fn merit(&self, angles: &[f64], price: f64) -> f64 {
        let step = 1.0 / angles.len() as f64;
        let fallen = |(at, angle): (usize, &f64)| {
            Self::below(at, angles.len()) * (self.weight[0] * angle.cos() + self.weight[1] * angle.sin())
        };
        let fallen: f64 =
            if self.weight == [0.0; 2] { 0.0 } else { angles.iter().enumerate().map(fallen).sum() };
        let [x, y] = self.misses(angles);
        self.energy(angles) - fallen * step + price * (x.abs() + y.abs())
    }

    fn at(&self, angles: &[f64], force: [f64; 2]) -> Lagrangian {
        let count = angles.len();
        let (step, stiff) = (1.0 / count as f64, count as f64);
        let mut moments = Vec::with_capacity(count);
        let mut added = Vec::with_capacity(count);
        for (at, angle) in angles.iter().enumerate() {
            let before = match at.checked_sub(1).and_then(|one| angles.get(one)) {
                Some(before) => stiff * (angle - before),
                None => 2.0 * stiff * (angle - self.ends[0]),
            };
            let after = match angles.get(at + 1) {
                Some(after) => stiff * (after - angle),
                None => 2.0 * stiff * (self.ends[1] - angle),
            };
            let hangs = Self::below(at, count);
            let pull = [force[0] - hangs * self.weight[0], force[1] - hangs * self.weight[1]];
            let (sin, cos) = angle.sin_cos();
            moments.push(before - after + step * (pull[1] * cos - pull[0] * sin));
            added.push(-step * (pull[0] * cos + pull[1] * sin));
        }
        Lagrangian { moments, added, misses: self.misses(angles) }
    }
}

impl Lagrangian {
    fn is_solved(&self) -> bool {
        let most = self.moments.iter().chain(&self.misses).fold(0.0, |most: f64, one| most.max(one.abs()));
        most < CLOSE
    }

    /// By how much each piece turns, and what comes to the force. More stiffness is added until the energy is curved upwards along
    /// every way that keeps the end on its clamp: otherwise the step might lead to a shape that no hose keeps.
    fn step(&self, angles: &[f64]) -> Option<(Vec<f64>, [f64; 2])> {
        let mut more = 0.0;
        for _ in 0..40 {
            if let Some(step) = self.step_with(angles, more) {
                return Some(step);
            }
            more = if more == 0.0 { 0.05 } else { more * 2.0 };
        }
        None
    }

    fn step_with(&self, angles: &[f64], more: f64) -> Option<(Vec<f64>, [f64; 2])> {
        let count = angles.len();
        let (step, stiff) = (1.0 / count as f64, count as f64);
        let mut pivots: Vec<f64> = Vec::with_capacity(count);
        let mut negative = 0;
        // Three right-hand sides: the moments, and the two rows of the constraint.
        let mut sides: [Vec<f64>; 3] = [
            self.moments.iter().map(|one| -one).collect(),
            angles.iter().map(|angle| -step * angle.sin()).collect(),
            angles.iter().map(|angle| step * angle.cos()).collect(),
        ];
        let rows = [sides[1].clone(), sides[2].clone()];
        for at in 0..count {
            let at_end = usize::from(at == 0) + usize::from(at + 1 == count);
            let own = stiff * (2.0 + at_end as f64) + self.added[at] + more;
            let factor = if at == 0 { 0.0 } else { stiff / pivots[at - 1] };
            let pivot = own - factor * stiff * f64::from(u8::from(at > 0));
            if pivot.abs() < 1e-9 {
                return None;
            }
            negative += usize::from(pivot < 0.0);
            if at > 0 {
                for side in &mut sides {
                    side[at] += factor * side[at - 1];
                }
            }
            pivots.push(pivot);
        }
        for side in &mut sides {
            for at in (0..count).rev() {
                let after = if at + 1 < count { stiff * side[at + 1] } else { 0.0 };
                side[at] = (side[at] + after) / pivots[at];
            }
        }
        let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>();
        let [free, along_x, along_y] = &sides;
        let (a, b, c) = (dot(&rows[0], along_x), dot(&rows[0], along_y), dot(&rows[1], along_y));
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
        let rest = [dot(&rows[0], free) + self.misses[0], dot(&rows[1], free) + self.misses[1]];
        let pull = [(rest[0] * c - rest[1] * b) / whole, (rest[1] * a - rest[0] * b) / whole];
        let turns = (0..count).map(|at| free[at] - along_x[at] * pull[0] - along_y[at] * pull[1]);
        Some((turns.collect(), pull))
    }
}

#[cfg(test)]
mod tests {
    use std::f64::consts::{FRAC_PI_2, PI};

    use super::*;

    fn piece(from: (f64, f64, f64), to: (f64, f64, f64), length: f64) -> FreePiece {
        let clamp = |(x, y, angle)| PlaneClamp { at: Point2::new(x, y), angle };
        FreePiece { from: clamp(from), to: clamp(to), length, weight: None }
    }

    fn near(got: f64, want: f64, within: f64, what: &str) {
        assert!((got - want).abs() <= within * want.abs(), "{what}: {got}, not {want}");
    }

    /// Timoshenko and Gere, Theory of Elastic Stability, table 2-4: end angle, P/Pcr, x/l, y/l of a column of length l that is
    /// clamped at one end. A strip between two clamps in line is four of them: it is 4 x long and 2 y high, and bends most
    /// at the clamps and in the middle, by P y over the stiffness, where Pcr = (pi / 2 l)².
    #[test]
    fn a_strip_between_clamps_in_line_is_that_of_the_table() {
        let table = [
            (20.0, 1.015, 0.970, 0.220),
            (40.0, 1.063, 0.881, 0.422),
            (60.0, 1.152, 0.741, 0.593),
            (80.0, 1.293, 0.560, 0.719),
            (100.0, 1.518, 0.349, 0.792),
            (120.0, 1.884, 0.123, 0.803),
            (140.0, 2.541, -0.107, 0.750),
            (160.0, 4.029, -0.340, 0.625),
        ];
        for (end, load, x, y) in table {
            let bent = piece((0.0, 0.0, 0.0), (x, 0.0, 0.0), 1.0).shape().unwrap();
            let (right, left) = bent.bulge();
            // Figures of three digits: the flattest row is off by what 0.0005 makes of its height.
            near(right.max(left), y / 2.0, if end < 30.0 { 0.01 } else { 8e-3 }, "height");
            let most = bent.angles.iter().fold(0.0, |most: f64, one| most.max(one.abs()));
            near(most.to_degrees(), end, 0.012, "angle");
            near(1.0 / bent.least_radius(), load * PI * PI * y, 0.02, "curvature");
        }
    }

    /// Peirce 1930, J. Text. Inst. 21 T377, the pear loop: 0.4243 L high; width and radius computed with elliptic integrals.
    #[test]
    fn a_strip_with_its_ends_side_by_side_is_the_pear_loop() {
        for turn in [PI, -PI] {
            let bent = piece((0.3, 0.2, 0.4), (0.3, 0.2, 0.4 + turn), 1.5).shape().unwrap();
            near(bent.least_radius(), 1.5 / 10.769, 6e-3, "radius");
            let away =
                bent.points().iter().map(|one| one.distance(Point2::new(0.3, 0.2))).fold(0.0, f64::max);
            near(away, 1.5 * 0.4243, 3e-3, "height");
            let (right, left) = bent.bulge();
            near(right + left, 1.5 * 0.2042, 1e-2, "width");
        }
    }

    /// A piece whose clamps lie on a circle, along it, and that is as long as the arc, is the arc: no other is bent less.
    #[test]
    fn clamps_on_a_circle_give_its_arc() {
        for turn in [0.3, FRAC_PI_2, 2.0, PI, 4.0, -FRAC_PI_2] {
            let (radius, side): (f64, f64) = (0.37, f64::signum(turn));
            let end = (radius * turn.abs().sin(), side * radius * (1.0 - turn.abs().cos()), turn);
            let bent = piece((0.0, 0.0, 0.0), end, radius * turn.abs()).shape().unwrap();
            near(bent.least_radius(), radius, 2e-3, "radius");
            near(bent.energy(), turn * turn / (2.0 * radius * turn.abs()), 2e-3, "energy");
        }
    }

    /// A strip that hardly sags between clamps in line: w L⁴ / 384 EI in the middle, w L² / 12 EI at the clamps (beam formulas
    /// of any handbook), where it is so little longer that it pulls with next to nothing.
    #[test]
    fn a_light_hose_sags_as_a_clamped_beam() {
        let mut strip = piece((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), 1.0);
        let weight = 2.0;
        // Its own sag makes it longer than its way by the mean of half its slope squared; the slope of
        // w x (L - x) (L - 2 x) / 12 has the mean square w² / 30240.
        let longer = weight * weight / 30240.0 / 2.0;
        strip.length = 1.0 + longer;
        strip.weight = Some(Point2::new(0.0, -weight));
        let bent = strip.shape().unwrap();
        near(bent.bulge().0, weight / 384.0, 1e-2, "sag");
        near(bent.least_radius(), 12.0 / weight, 5e-2, "radius");
    }

    /// Solutions of the boundary-value problem by scipy: `tests/cross_check/elastica.py --write` made the table, and the check
    /// makes it anew.
    #[test]
    fn clamps_anywhere_bend_a_piece_as_a_boundary_value_solver_says() {
        let table = include_str!("../../tests/data/elastica.csv");
        let mut compared = 0;
        for line in table.lines().skip(1) {
            let row: Vec<f64> = line.split(',').map(|cell| cell.parse().unwrap()).collect();
            let [x, y, from, to, length, down_x, down_y, energy, radius, middle_x, middle_y] = row[..] else {
                unreachable!("{line}")
            };
            let mut free = piece((0.0, 0.0, from), (x, y, to), length);
            free.weight = Some(Point2::new(down_x, down_y));
            let bent = free.shape().unwrap();
            near(bent.least_radius(), radius, 1.5e-2, line);
            let middle = bent.points()[PIECES / 2];
            let mut away = middle.distance(Point2::new(middle_x, middle_y));
            if from == to && down_x == 0.0 && down_y == 0.0 {
                // Turned round its middle it is the same piece: both shapes have the same energy.
                away = away.min(middle.distance(Point2::new(x - middle_x, y - middle_y)));
            }
            assert!(away < 4e-3 * length, "{line}: {middle:?}");
            if down_x == 0.0 && down_y == 0.0 {
                near(bent.energy(), energy, 5e-3, line);
            }
            compared += 1;
        }
        assert!(compared >= 20, "{compared}");
    }

    #[test]
    fn what_can_not_be_is_said() {
        let straight = piece((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), 1.0);
        assert_eq!(straight.shape(), Err(NoShape::Stretched));
        assert_eq!(piece((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), 0.9).shape(), Err(NoShape::Stretched));
        assert_eq!(piece((0.0, 0.0, 0.0), (1.0, f64::NAN, 0.0), 2.0).shape(), Err(NoShape::NotFound));
        assert_eq!(piece((0.0, 0.0, 0.0), (0.0, 0.0, 0.0), 0.0).shape(), Err(NoShape::NotFound));
    }

    #[test]
    fn a_shape_that_is_followed_keeps_its_side() {
        let at = |turn: f64| piece((0.0, 0.0, 0.0), (0.1 + 0.1 * turn.cos(), 0.1 * turn.sin(), turn), 0.3);
        let mut bent = at(PI).shape().unwrap();
        for step in (0..18).rev() {
            bent = at(PI * f64::from(step) / 18.0).shape_from(&bent).unwrap();
        }
        let (right, left) = bent.bulge();
        assert!(right > 0.05 && left < 1e-3, "it bulges away from the inside of the fold: {right} {left}");
    }
}
