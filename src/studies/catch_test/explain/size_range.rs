//! How likely each size of a cause is once the readings are there, and between which sizes they leave it.
//!
//! Along a chain of straight stretches each size is as likely as the likelihood of the readings there times how likely it was before
//! ([`Curve`]); how far readings scatter, at least as is assumed, is integrated out. The range holds 95 % of that, the likeliest sizes first, so
//! that of causes drawn by what is assumed 95 of 100 have their size in it, also at the ends of what a size may be: there a range
//! by the ratio of likelihoods would be too narrow, since what lies beyond the end can't be.

use nalgebra::DVector;

use super::answer::SizeRange;
use super::curve::{At, Curve};
use super::evidence::{Best, SCATTER};
use super::solved::SolvedCurve;
use super::space::Space;
use crate::hydraulics::faulty::Shown;

/// How likely it is that the size is in its range.
const SURE: f64 = 0.95;
/// Along a stretch likelihoods are looked at in steps of so many spreads, and at least in so many.
const STEP: f64 = 0.02;
const STEPS: usize = 8;
/// So many spreads from the nearest place of a stretch there is nothing left.
const FAR: f64 = 10.0;
/// A size by itself (wholly closed, a decimal place) that is less likely than this belongs to no range.
const LEAST: f64 = 0.02;

/// A piece of a stretch.
#[derive(Debug, Clone, Copy)]
struct Cell {
    place: usize,
    from: f64,
    to: f64,
    /// How likely, and how likely for its length of number.
    mass: f64,
    density: f64,
}

/// How likely each size is, by pieces of the curve.
pub(super) struct Sizes<'c> {
    curve: &'c Curve,
    cells: Vec<Cell>,
    /// Places that are a size by themselves, each with how likely it is.
    points: Vec<(usize, f64)>,
}

/// A cause with where the readings are met best on it.
pub(super) type BestOf<'c> = (&'c SolvedCurve, Best);

/// How likely each size of a cause is, beside another where there are two, whose size then is left open; with what the engine gives
/// at the best sizes.
pub(super) fn sizes<'c>(
    space: &Space,
    (one, best): BestOf<'c>,
    beside: Option<BestOf<'_>>,
    shown: &Shown,
) -> Sizes<'c> {
    let white = |one: &SolvedCurve| -> Vec<DVector<f64>> {
        one.shown.iter().map(|shown| space.whiten(&space.raw(shown))).collect()
    };
    let places = white(one);
    let at_best = at_place(&places, (best.place, best.part));
    let left = &space.data - space.whiten(&space.raw(shown));
    let mut all: Vec<DVector<f64>> = places.iter().map(|place| &left + &at_best - place).collect();
    let mut count = space.count();
    // What the other may do by being larger or smaller says nothing of this one.
    if let Some(way) = beside.and_then(|(other, best)| tangent(&white(other), &other.curve, best)) {
        for one in &mut all {
            let along = one.dot(&way);
            one.axpy(-along, &way, 1.0);
        }
        count = count.saturating_sub(1);
    }
    Sizes::of(&one.curve, &all, count)
}

fn at_place(places: &[DVector<f64>], (place, part): (usize, f64)) -> DVector<f64> {
    match places.get(place + 1).filter(|_| part > 0.0) {
        Some(next) => &places[place] * (1.0 - part) + next * part,
        None => places[place].clone(),
    }
}

/// The way that a curve takes at its best place, of length 1; none of one that takes none.
fn tangent(places: &[DVector<f64>], curve: &Curve, best: Best) -> Option<DVector<f64>> {
    let place = best.place;
    let has_stretch = |at: &usize| curve.between.get(*at).is_some_and(|part| *part > 0.0);
    let from = Some(place).filter(has_stretch).or_else(|| place.checked_sub(1).filter(has_stretch))?;
    let way = places.get(from + 1)? - &places[from];
    way.try_normalize(1e-9)
}

/// How far readings may scatter, at least as is assumed: few that happen to agree well are no finer ones.
fn scatters() -> impl Iterator<Item = (f64, f64)> {
    SCATTER.into_iter().filter(|one| one.0 >= 1.0)
}

impl<'c> Sizes<'c> {
    /// Of what is left of so many readings at each place, whitened.
    fn of(curve: &'c Curve, left: &[DVector<f64>], count: usize) -> Self {
        // All logarithms are taken from the least that is left anywhere.
        let squares: Vec<f64> = left.iter().map(DVector::norm_squared).collect();
        let stretches: Vec<usize> = (0..left.len().saturating_sub(1))
            .filter(|at| curve.between.get(*at).is_some_and(|part| *part > 0.0))
            .collect();
        let along = |at: usize| {
            let more = &left[at + 1] - &left[at];
            [more.norm_squared(), 2.0 * more.dot(&left[at]), squares[at]]
        };
        let least_of = |[a, b, c]: [f64; 3]| {
            let s = if a > 0.0 { (-b / (2.0 * a)).clamp(0.0, 1.0) } else { 0.0 };
            (a * s + b) * s + c
        };
        let own = squares.iter().enumerate().filter(|one| curve.at[one.0] > 0.0).map(|one| *one.1);
        let least = stretches.iter().map(|at| least_of(along(*at))).chain(own).fold(f64::INFINITY, f64::min);
        let likely = |square: f64| -> f64 {
            let of = |(scatter, part): (f64, f64)| {
                let ln = -square / (2.0 * scatter * scatter) - count as f64 * scatter.ln() + least / 2.0;
                part * ln.exp()
            };
            scatters().map(of).sum()
        };
        let mut cells = Vec::new();
        for at in stretches {
            let [a, b, c] = along(at);
            let length = a.sqrt();
            let ends = match (curve.places[at], curve.places[at + 1]) {
                (At::Number(from), At::Number(to)) => (to - from).abs(),
                _ => 1.0,
            };
            // Where it matters: about the nearest place.
            let foot = if a > 0.0 { -b / (2.0 * a) } else { 0.5 };
            let reach = if length > 0.0 { FAR / length } else { 1.0 };
            let (from, to) = ((foot - reach).clamp(0.0, 1.0), (foot + reach).clamp(0.0, 1.0));
            let steps = (((to - from) * length / STEP).ceil() as usize).max(STEPS);
            for step in 0..steps {
                let end = |step: usize| from + (to - from) * step as f64 / steps as f64;
                let (low, high) = (end(step), end(step + 1));
                let s = f64::midpoint(low, high);
                let mass = curve.between[at] * (high - low) * likely((a * s + b) * s + c);
                let density = mass / ((high - low) * ends).max(f64::MIN_POSITIVE);
                if high > low {
                    cells.push(Cell { place: at, from: low, to: high, mass, density });
                }
            }
        }
        let points = (0..left.len()).filter(|at| curve.at[*at] > 0.0);
        let points = points.map(|at| (at, curve.at[at] * likely(squares[at]))).collect();
        let mut all = Self { curve, cells, points };
        let sum = all.cells.iter().map(|one| one.mass).chain(all.points.iter().map(|one| one.1)).sum::<f64>();
        if sum > 0.0 {
            all.cells.iter_mut().for_each(|one| {
                one.mass /= sum;
                one.density /= sum;
            });
            all.points.iter_mut().for_each(|one| one.1 /= sum);
        }
        all
    }

    fn number(&self, (place, part): (usize, f64)) -> Option<f64> {
        match self.curve.place_between(place, part) {
            At::Number(number) => Some(number),
            At::Closed(_) => None,
        }
    }

    /// Sizes that stand for all: so many, each for as much of what is likely, the smallest number first.
    pub(super) fn standing_for_all(&self, count: usize) -> Vec<Best> {
        let middle = |one: &Cell| Best { place: one.place, part: f64::midpoint(one.from, one.to) };
        let cells = self.cells.iter().map(|one| (middle(one), one.mass));
        let points = self.points.iter().map(|one| (Best { place: one.0, part: 0.0 }, one.1));
        let mut all: Vec<(Best, f64)> = cells.chain(points).collect();
        let number = |best: &Best| self.number((best.place, best.part)).unwrap_or(f64::INFINITY);
        all.sort_by(|a, b| number(&a.0).total_cmp(&number(&b.0)));
        let at = |share: f64| {
            let mut so_far = 0.0;
            let found = all.iter().find(|one| {
                so_far += one.1;
                so_far >= share
            });
            found.or(all.last()).map(|one| one.0)
        };
        (0..count).filter_map(|one| at((one as f64 + 0.5) / count as f64)).collect()
    }

    /// The likeliest sizes that make 95 %, from end to end. None of a cause without a size, or with a few that it may have.
    pub(super) fn range(&self) -> Option<SizeRange> {
        let own = self.points.iter().filter(|one| one.1 >= LEAST);
        let mut sum: f64 = own.clone().map(|one| one.1).sum();
        let mut order: Vec<&Cell> = self.cells.iter().collect();
        order.sort_by(|a, b| b.density.total_cmp(&a.density));
        let mut held: Vec<&Cell> = Vec::new();
        for cell in order {
            if sum >= SURE {
                break;
            }
            sum += cell.mass;
            held.push(cell);
        }
        // Of sizes by themselves alone there is no range.
        let first_cell = held.first()?;
        let ends = held.iter().flat_map(|one| [(one.place, one.from), (one.place, one.to)]);
        let points = own.clone().map(|one| (one.0, 0.0));
        let is_closed = own.clone().any(|one| matches!(self.curve.places[one.0], At::Closed(_)));
        let all = ends.chain(points).filter_map(|at| Some((self.number(at)?, at)));
        let low = all.clone().min_by(|a, b| a.0.total_cmp(&b.0))?;
        let high = all.max_by(|a, b| a.0.total_cmp(&b.0))?;
        // What a size may be at all.
        let numbers = (0..self.curve.places.len()).filter_map(|at| self.number((at, 0.0)));
        let (least, most) = (numbers.clone().reduce(f64::min)?, numbers.reduce(f64::max)?);
        let size = |(place, part)| self.curve.size(self.curve.place_between(place, part));
        let near = 1e-9 * (most - least);
        // A number that grows may make a size smaller: an open share is what is not closed, and wholly closed lies below the
        // smallest.
        let (here, next) = (first_cell.place, first_cell.place + 1);
        let size_of = |place: usize| self.curve.size(self.curve.places[place]).number();
        let grows = self.number((next, 0.0))? - self.number((here, 0.0))?;
        if grows * (size_of(next)? - size_of(here)?) >= 0.0 {
            let high = (high.0 < most - near && !is_closed).then(|| size(high.1));
            return Some(SizeRange { low: (low.0 > least + near).then(|| size(low.1)), high });
        }
        let high_size = (low.0 > least + near && !is_closed).then(|| size(low.1));
        Some(SizeRange { low: (high.0 < most - near).then(|| size(high.1)), high: high_size })
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a test stops where something is not as it should be")]
mod tests {
    use statrs::function::erf::erf;

    use super::super::answer::{CauseId, CauseSize};
    use super::super::curve::Making;
    use super::*;
    use crate::plan::CauseKind;

    fn curve(numbers: &[f64]) -> Curve {
        let id = CauseId { kind: CauseKind::AllMisread, places: Vec::new(), rows: Vec::new(), entry: None };
        Curve::spread(id, Making::AllMisread, numbers, None)
    }

    fn number(end: Option<CauseSize>) -> Option<f64> {
        Some(end?.number()?.ln())
    }

    /// By hand: what is left at x is (x - 1, 0.5), so that at a scatter s a size is normal about 1 with that standard deviation, cut
    /// off at the ends of the chain, and a scatter counts as `w s^-2 exp(-0.25 / 2 s²) s sqrt(2 pi)` times what lies between these.
    /// Within the chain the range is even about 1; where its end is nearer than that, all up to the end is in it.
    #[test]
    fn a_range_holds_what_it_says() {
        let normal = |x: f64| f64::midpoint(1.0, erf(x / std::f64::consts::SQRT_2));
        for last in [30.0, 2.0] {
            let numbers = [-30.0, -2.0, 0.0, 1.5, last];
            let curve = curve(&numbers);
            let left: Vec<DVector<f64>> =
                numbers.iter().map(|x| DVector::from_row_slice(&[x - 1.0, 0.5])).collect();
            let mass = |from: f64, to: f64| -> f64 {
                let of = |(s, part): (f64, f64)| {
                    part / s * (-0.125 / (s * s)).exp() * (normal((to - 1.0) / s) - normal((from - 1.0) / s))
                };
                scatters().map(of).sum()
            };
            let range = Sizes::of(&curve, &left, 2).range().unwrap();
            let (low, high) = (number(range.low).unwrap(), number(range.high));
            let held = mass(low, high.unwrap_or(last)) / mass(-30.0, last);
            assert!((held - SURE).abs() < 0.005, "{held} from {low} to {high:?}");
            assert_eq!(high.is_none(), last == 2.0);
            if let Some(high) = high {
                assert!((low + high - 2.0).abs() < 0.05, "even about its middle: {low} {high}");
            }
        }
    }

    /// Readings that say nothing leave all open; a size by itself that they speak for has no range.
    #[test]
    fn what_readings_leave_open_is_open() {
        let numbers = [-1.0, 0.0, 1.0];
        let curve = curve(&numbers);
        let nothing = vec![DVector::from_row_slice(&[0.3, 0.5]); 3];
        assert_eq!(Sizes::of(&curve, &nothing, 2).range(), Some(SizeRange { low: None, high: None }));
        let with_point = curve.or_at(&[(9.0, 0.1)]);
        let left: Vec<DVector<f64>> =
            [12.0, 12.0, 12.0, 0.1].iter().map(|x| DVector::from_row_slice(&[*x, 0.0])).collect();
        assert_eq!(Sizes::of(&with_point, &left, 2).range(), None);
        let standing = Sizes::of(&with_point, &left, 2).standing_for_all(3);
        assert!(standing.iter().all(|one| one.place == 3), "{standing:?}");
    }
}
