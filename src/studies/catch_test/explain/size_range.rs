//! Between which sizes of a cause the readings leave it.

use nalgebra::DVector;

use super::answer::SizeRange;
use super::curve::{At, Curve};
use super::evidence::{Best, Fitted};
use super::posterior::Posterior;
use crate::hydraulics::faulty::Shown;
use crate::plan::HALF_OF_95;

/// The readings along the curve of a cause, whitened, about the best place.
struct Along<'c> {
    curve: &'c Curve,
    /// What is left of the readings at the best place, less what each place shows more than that.
    left: Vec<DVector<f64>>,
    /// Squares of what is left up to this are within the range.
    most: f64,
}

/// The 95 % range of the size of a cause, beside another where there are two, whose size then is left open; with what the engine
/// gives at the best sizes. By the ratio of likelihoods (Wilks 1938, from memory: the range ends where what is left of the readings,
/// in squared standard deviations, is 1.96² more than at its least), with the scatter that the readings have, at least the one
/// assumed: on a straight curve that is 1.96 standard deviations to either side. None of a cause without a size, or with a few
/// that it may have.
pub(super) fn size_range(
    found: &Posterior<'_>,
    fitted: &Fitted,
    beside: Option<&Fitted>,
    shown: &Shown,
) -> Option<SizeRange> {
    let space = &found.space;
    let white = |one: &Fitted| -> Vec<DVector<f64>> {
        found.curve(one).shown.iter().map(|shown| space.whiten(&space.raw(shown))).collect()
    };
    let curve = &found.curve(fitted).curve;
    let places = white(fitted);
    let best = at_place(&places, (fitted.best.place, fitted.best.part));
    let left = &space.data - space.whiten(&space.raw(shown));
    let mut all: Vec<DVector<f64>> = places.iter().map(|place| &left + &best - place).collect();
    // What the other may do by being larger or smaller says nothing of this one.
    if let Some(way) = beside.and_then(|other| tangent(&white(other), &found.curve(other).curve, other)) {
        for one in &mut all {
            let along = one.dot(&way);
            one.axpy(-along, &way, 1.0);
        }
    }
    let mut along = Along { curve, left: all, most: 0.0 };
    let scatter = found.scatter.max(1.0);
    along.most = along.least(&fitted.best) + (HALF_OF_95 * scatter).powi(2);
    along.range((fitted.best.place, fitted.best.part))
}

fn at_place(places: &[DVector<f64>], (place, part): (usize, f64)) -> DVector<f64> {
    match places.get(place + 1).filter(|_| part > 0.0) {
        Some(next) => &places[place] * (1.0 - part) + next * part,
        None => places[place].clone(),
    }
}

/// The way that a curve takes at its best place, of length 1; none of one that takes none.
fn tangent(places: &[DVector<f64>], curve: &Curve, fitted: &Fitted) -> Option<DVector<f64>> {
    let place = fitted.best.place;
    let has_stretch = |at: &usize| curve.between.get(*at).is_some_and(|part| *part > 0.0);
    let from = Some(place).filter(has_stretch).or_else(|| place.checked_sub(1).filter(has_stretch))?;
    let way = places.get(from + 1)? - &places[from];
    way.try_normalize(1e-9)
}

impl Along<'_> {
    fn has_stretch(&self, at: usize) -> bool {
        self.curve.between.get(at).is_some_and(|part| *part > 0.0) && at + 1 < self.left.len()
    }

    /// The square of what is left on the stretch behind a place, as `a s² + b s + c` of how far along, 0 to 1.
    fn square(&self, at: usize) -> [f64; 3] {
        let more = &self.left[at + 1] - &self.left[at];
        [more.norm_squared(), 2.0 * more.dot(&self.left[at]), self.left[at].norm_squared()]
    }

    /// The least of it over the chain that the best place is on, and at that place.
    fn least(&self, best: &Best) -> f64 {
        let here = at_place(&self.left, (best.place, best.part)).norm_squared();
        let mut first = best.place;
        while first > 0 && self.has_stretch(first - 1) {
            first -= 1;
        }
        let stretches = (first..self.left.len()).take_while(|at| self.has_stretch(*at));
        let least = stretches.map(|at| {
            let [a, b, c] = self.square(at);
            let s = if a > 0.0 { (-b / (2.0 * a)).clamp(0.0, 1.0) } else { 0.0 };
            (a * s + b) * s + c
        });
        least.fold(here, f64::min)
    }

    /// Where what is left grows beyond the most on a stretch, going up from a part of it or down.
    fn crossing(&self, at: usize, from: f64, is_up: bool) -> Option<f64> {
        let [a, b, c] = self.square(at);
        if a <= 0.0 {
            return None;
        }
        let under = b * b - 4.0 * a * (c - self.most);
        let root = under.max(0.0).sqrt() / (2.0 * a);
        let (side, end) = if is_up { (root, 1.0) } else { (-root, 0.0) };
        let s = -b / (2.0 * a) + side;
        let is_before = if is_up { s < end } else { s > end };
        // Where the best place itself lies beyond, by what the engine gives there, the range ends at it.
        is_before.then(|| if is_up { s.max(from) } else { s.min(from) })
    }

    /// Where the range ends above a place and a part of the way to the next: on the stretch behind a place, so far; none where it
    /// does not before the end of the chain.
    fn up(&self, (mut place, mut part): (usize, f64)) -> Option<(usize, f64)> {
        while self.has_stretch(place) {
            if let Some(s) = self.crossing(place, part, true) {
                return Some((place, s));
            }
            (place, part) = (place + 1, 0.0);
        }
        None
    }

    /// The same below.
    fn down(&self, (mut place, mut part): (usize, f64)) -> Option<(usize, f64)> {
        loop {
            if part > 0.0
                && self.has_stretch(place)
                && let Some(s) = self.crossing(place, part, false)
            {
                return Some((place, s));
            }
            if place == 0 || !self.has_stretch(place - 1) {
                return None;
            }
            (place, part) = (place - 1, 1.0);
        }
    }

    fn range(&self, best: (usize, f64)) -> Option<SizeRange> {
        let is_closed = matches!(self.curve.places[best.0], At::Closed(_));
        // Wholly closed is a place by itself behind those that are partly so.
        let top = if is_closed { (best.0.checked_sub(1)?, 0.0) } else { best };
        let is_on_chain =
            self.has_stretch(top.0) || top.0.checked_sub(1).is_some_and(|at| self.has_stretch(at));
        if !is_on_chain || (is_closed && self.left[top.0].norm_squared() > self.most) {
            return None;
        }
        let size = |(place, part)| self.curve.size(self.curve.place_between(place, part));
        let upper = if is_closed { None } else { self.up(top) };
        let mut ends = [self.down(top), upper].map(|end| end.map(size));
        // A number that grows may make a size smaller: an open share is what is not closed.
        let number = |at: usize| self.curve.size(self.curve.places[at]).number();
        let first = if self.has_stretch(top.0) { top.0 } else { top.0 - 1 };
        if number(first)? > number(first + 1)? {
            ends.swap(0, 1);
        }
        let [low, high] = ends;
        Some(SizeRange { low, high })
    }
}

#[cfg(test)]
mod tests {
    use super::super::answer::{CauseId, CauseSize};
    use super::super::curve::Making;
    use super::*;
    use crate::plan::CauseKind;

    fn times(end: Option<CauseSize>) -> Option<f64> {
        Some(end?.number()?.ln())
    }

    /// By hand: what is left at x is (x - 1, 0.5) on a chain from -4 to 4 in four stretches; 1.96² more than at its least is reached
    /// at 1 ± 1.96. On a chain that ends at 2 the range is open above.
    #[test]
    fn a_straight_curve_ends_at_so_many_standard_deviations() {
        for (last, open) in [(4.0, false), (2.0, true)] {
            let numbers = [-4.0, -2.0, 0.0, 1.5, last];
            let id =
                CauseId { kind: CauseKind::AllMisread, places: Vec::new(), rows: Vec::new(), entry: None };
            let curve = Curve::spread(id, Making::AllMisread, &numbers, None);
            let left = numbers.iter().map(|x| DVector::from_row_slice(&[x - 1.0, 0.5])).collect();
            let all = Along { curve: &curve, left, most: 0.25 + HALF_OF_95.powi(2) };
            let best = Best { place: 2, part: 1.0 / 1.5 };
            assert!((all.least(&best) - 0.25).abs() < 1e-12);
            let range = all.range((best.place, best.part));
            let ends = range.map(|one| [times(one.low), times(one.high)]);
            let near = |end: Option<f64>, wanted: f64| end.is_some_and(|end| (end - wanted).abs() < 1e-12);
            assert!(ends.is_some_and(|[low, _]| near(low, 1.0 - HALF_OF_95)), "{ends:?}");
            assert!(
                ends.is_some_and(|[_, high]| if open {
                    high.is_none()
                } else {
                    near(high, 1.0 + HALF_OF_95)
                }),
                "{ends:?}"
            );
        }
    }
}
