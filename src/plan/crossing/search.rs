//! How long the free piece at a hinge must be, and where it is best clamped, in the plane across the hinge.
//!
//! The answer depends on a handful of numbers ([`Problem`]) and on nothing else: it is worked out once for each of them and
//! kept, so that the same crossing on the other wing, in another routing or a frame later costs nothing.

use std::collections::BTreeMap;
use std::sync::{Mutex, PoisonError};

use super::not_computed::NotComputed;
use super::parts::PARTS;
use super::places::Place;
use crate::geometry::{Bent, FreePiece, PlaneClamp, Point2};

/// Where a piece may be clamped on one side of a hinge: along a straight stretch of the hose as drawn.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Arm {
    /// How far the stretch lies to the left of the hinge seen along the hose, tenths of a millimetre.
    pub(super) aside: i64,
    /// The places along it that are tried, from the hinge outwards.
    pub(super) places: Vec<Place>,
}

/// A crossing seen across its hinge, in whole tenths of a millimetre and of a milliradian: what is the same to that is the
/// same.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Problem {
    /// Before the hinge.
    pub(super) start: Arm,
    /// Behind it.
    pub(super) end: Arm,
    /// By how much the hose turns to the left from one to the other at work.
    pub(super) turn: i64,
    /// Smallest and largest angle of the fold, to the left.
    pub(super) fold: (i64, i64),
    /// Which of both ends is the folded one: the angle in transport position.
    pub(super) folded: i64,
    /// Least bend radius of the stock.
    pub(super) radius: i64,
    /// Slack to be kept, in ten-thousandths.
    pub(super) slack: i64,
}

/// The answer for a crossing.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Answer {
    /// Where the clamps are, metres from beside the hinge.
    pub(super) clamps: (f64, f64),
    /// Length between them, metres.
    pub(super) free: f64,
    /// Longest straight distance of the clamps through the fold, metres, and the angle there.
    pub(super) longest: (f64, f64),
    /// Smallest bend radius through the fold at any length in the tolerance, metres, and the angle there.
    pub(super) tightest: (f64, f64),
}

/// Cut shorter than meant, at most, metres (common practice, no source).
pub(super) const CUT_SHORT: f64 = 0.005;
/// Cut longer than meant, at most, metres: a tape's 5 mm, and 10 mm or 1/2 in of rounding up.
pub(super) const CUT_LONG: f64 = 0.018;
/// What a hose gets shorter and longer under pressure (common practice, no source).
pub(super) const SHORTER: f64 = 0.04;
/// See [`SHORTER`].
pub(super) const LONGER: f64 = 0.02;
/// From one length that is tried to the next.
const STEP: f64 = 1.02;
/// From one angle of the fold to the next, radians; shapes change little over it.
const TURN: f64 = 0.2;
/// Of the places tried, one in so many is tried with all others first.
const COARSE: usize = 3;

/// A clamp that a frame member carries is worth a free piece that is longer by this, metres: a carrier is made, bolted on and
/// stands in the way (common practice, no source).
const CARRIER: f64 = 0.3;

/// Angles from one to another, both among them, no farther apart than this.
fn steps(first: f64, last: f64, apart: f64) -> Vec<f64> {
    let count = ((last - first).abs() / apart).ceil().max(1.0);
    (0..=count as u32).map(|step| first + (last - first) * f64::from(step) / count).collect()
}

static KNOWN: Mutex<BTreeMap<Problem, Result<Answer, NotComputed>>> = Mutex::new(BTreeMap::new());

/// The answer that is kept, or a new one.
pub(super) fn answer(problem: &Problem) -> Result<Answer, NotComputed> {
    known(problem).unwrap_or_else(|| {
        let (problem, is_mirrored) = problem.clone().folded_left();
        let answer = problem.solve();
        KNOWN.lock().unwrap_or_else(PoisonError::into_inner).insert(problem, answer.clone());
        answer.map(|answer| if is_mirrored { answer.mirrored() } else { answer })
    })
}

/// The answer that is kept, if there is one.
pub(super) fn known(problem: &Problem) -> Option<Result<Answer, NotComputed>> {
    let (problem, is_mirrored) = problem.clone().folded_left();
    // A thread that died while it held the lock left whole entries.
    let kept = KNOWN.lock().unwrap_or_else(PoisonError::into_inner).get(&problem).cloned()?;
    Some(kept.map(|answer| if is_mirrored { answer.mirrored() } else { answer }))
}

impl Answer {
    fn mirrored(self) -> Self {
        Self {
            longest: (self.longest.0, -self.longest.1),
            tightest: (self.tightest.0, -self.tightest.1),
            ..self
        }
    }
}

impl Arm {
    fn mirrored(self) -> Self {
        Self { aside: -self.aside, ..self }
    }

    /// Which of its places are tried first: one in so many of those with a member, and of those without.
    fn coarse(&self) -> Vec<usize> {
        let alike = |carried: bool| -> Vec<usize> {
            (0..self.places.len()).filter(|at| self.places[*at].is_carried == carried).collect()
        };
        let thinned = |all: Vec<usize>| {
            let count = all.len();
            all.into_iter()
                .enumerate()
                .filter(move |(at, _)| at % COARSE == 0 || at + 1 == count)
                .map(|(_, one)| one)
        };
        [true, false].into_iter().flat_map(|carried| thinned(alike(carried))).collect()
    }
}

impl Problem {
    /// Folding to the left, and whether it was mirrored for that.
    fn folded_left(self) -> (Self, bool) {
        if self.folded >= 0 {
            return (self, false);
        }
        let mirrored = Self {
            start: self.start.mirrored(),
            end: self.end.mirrored(),
            turn: -self.turn,
            fold: (-self.fold.1, -self.fold.0),
            folded: -self.folded,
            ..self
        };
        (mirrored, true)
    }

    /// The clamps so far from beside the hinge, at an angle of the fold.
    pub(super) fn clamps(&self, places: (f64, f64), angle: f64) -> (PlaneClamp, PlaneClamp) {
        let from = Point2::new(-places.0, self.start.aside as f64 / PARTS);
        let along = self.turn as f64 / PARTS + angle;
        let (sin, cos) = along.sin_cos();
        let aside = self.end.aside as f64 / PARTS;
        let to = Point2::new(places.1 * cos - aside * sin, places.1 * sin + aside * cos);
        (PlaneClamp { at: from, angle: 0.0 }, PlaneClamp { at: to, angle: along })
    }

    fn range(&self) -> (f64, f64) {
        (self.fold.0 as f64 / PARTS, self.fold.1 as f64 / PARTS)
    }

    /// The longest distance of clamps through the fold, and the angle there.
    pub(super) fn longest(&self, places: (f64, f64)) -> (f64, f64) {
        let (low, high) = self.range();
        let apart = |step: u32| {
            let angle = low + (high - low) * f64::from(step) / 120.0;
            let (from, to) = self.clamps(places, angle);
            (from.at.distance(to.at), angle)
        };
        (0..=120).map(apart).fold((0.0, 0.0), |most, one| if one.0 > most.0 { one } else { most })
    }

    /// Every angle that is looked at, from the folded one.
    fn angles(&self) -> Vec<f64> {
        let (low, high) = self.range();
        let (first, last) = if self.folded < 0 { (low, high) } else { (high, low) };
        steps(first, last, TURN)
    }

    /// The shape of the free piece at an angle of the fold, followed from the folded bar.
    pub(super) fn shape(&self, places: (f64, f64), length: f64, angle: f64) -> Option<Bent> {
        let mut bent: Option<Bent> = None;
        for angle in steps(self.folded as f64 / PARTS, angle, 2.0 * TURN) {
            let (from, to) = self.clamps(places, angle);
            let piece = FreePiece { from, to, length, weight: None };
            let followed = bent.as_ref().and_then(|near| piece.shape_from(near).ok());
            bent = followed.or_else(|| piece.shape().ok());
        }
        bent
    }

    /// The smallest radius of a length through the fold, and the angle there; looked for no further once it is too small.
    /// None where it has no shape. It goes on bulging to the side to which the folded bar makes it bulge.
    pub(super) fn tightest(&self, places: (f64, f64), length: f64, enough: f64) -> Option<(f64, f64)> {
        let mut before: Option<Bent> = None;
        let mut tightest = (f64::INFINITY, 0.0);
        for angle in self.angles() {
            let (from, to) = self.clamps(places, angle);
            let piece = FreePiece { from, to, length, weight: None };
            let followed = before.as_ref().and_then(|near| piece.shape_from(near).ok());
            let bent = followed.or_else(|| piece.shape().ok())?;
            let radius = bent.least_radius();
            if radius < tightest.0 {
                tightest = (radius, angle);
            }
            if radius < enough {
                break;
            }
            before = Some(bent);
        }
        Some(tightest)
    }

    /// The shortest length between two clamps that is never stretched and keeps the radius, if it is shorter than another:
    /// every length that it may have, cut and under pressure, must do.
    fn length(&self, places: (f64, f64), shorter_than: f64) -> Option<Answer> {
        let radius = self.radius as f64 / PARTS;
        let longest = self.longest(places);
        let least = longest.0 * (1.0 + self.slack as f64 / PARTS);
        let mut known: Vec<Option<(f64, f64)>> = Vec::new();
        let mut first: i32 = 0;
        loop {
            let shortest = least * STEP.powi(first);
            let free = (shortest + CUT_SHORT) / (1.0 - SHORTER);
            if free >= shorter_than || !free.is_finite() {
                return None;
            }
            let most = (free + CUT_LONG) * (1.0 + LONGER);
            let last = first + ((most / shortest).ln() / STEP.ln()).ceil() as i32;
            let mut tightest = (f64::INFINITY, 0.0);
            let mut spoils = None;
            for at in (first..=last).rev() {
                let place = at as usize;
                if known.len() <= place {
                    known.resize(place + 1, None);
                }
                let found = known[place].or_else(|| self.tightest(places, least * STEP.powi(at), radius));
                known[place] = found;
                match found {
                    Some(one) if one.0 >= radius => {
                        if one.0 < tightest.0 {
                            tightest = one;
                        }
                    }
                    _ => {
                        spoils = Some(at);
                        break;
                    }
                }
            }
            match spoils {
                Some(at) => first = at + 1,
                None => return Some(Answer { clamps: places, free, longest, tightest }),
            }
        }
    }

    fn solve(&self) -> Result<Answer, NotComputed> {
        let (starts, ends) = (&self.start.places, &self.end.places);
        if starts.is_empty() || ends.is_empty() {
            return Err(NotComputed::NoPlaceForClamps);
        }
        // Longer than this nobody lays it: the loop between clamps side by side is 10.8 radii long (Peirce 1930), with
        // what it may be longer and shorter.
        let radius = self.radius as f64 / PARTS;
        let places = |at: (usize, usize)| (starts[at.0].at as f64 / PARTS, ends[at.1].at as f64 / PARTS);
        let carriers = |at: (usize, usize)| {
            let count = u8::from(!starts[at.0].is_carried) + u8::from(!ends[at.1].is_carried);
            f64::from(count) * CARRIER
        };
        let apart = |at: (usize, usize)| self.longest(places(at)).0;
        // With what its length and its carriers cost.
        let mut best: Option<(Answer, (usize, usize), f64)> = None;
        let mut tried: Vec<(usize, usize)> = Vec::new();
        let mut attempt = |at: (usize, usize), best: &mut Option<(Answer, (usize, usize), f64)>| {
            if tried.contains(&at) {
                return;
            }
            tried.push(at);
            let within = 13.0 * radius + 1.5 * apart(at) + 0.1;
            let shorter_than = best.as_ref().map_or(within, |(.., cost)| (cost - carriers(at)).min(within));
            if let Some(answer) = self.length(places(at), shorter_than) {
                let cost = answer.free + carriers(at);
                *best = Some((answer, at, cost));
            }
        };
        // Short pieces are found with one clamp near the hinge and the other farther off, and with both alike: so all coarse
        // pairs are tried, those first whose clamps come apart least and need no carrier, since no free piece is shorter than
        // its clamps come apart.
        let ends_first = self.end.coarse();
        let mut pairs: Vec<((usize, usize), f64)> = Vec::new();
        for start in self.start.coarse() {
            pairs.extend(
                ends_first.iter().map(|end| ((start, *end), apart((start, *end)) + carriers((start, *end)))),
            );
        }
        pairs.sort_by(|a, b| a.1.total_cmp(&b.1));
        for (at, _) in pairs {
            attempt(at, &mut best);
        }
        // Then each clamp a place nearer or farther, as long as that is better.
        while let Some((_, (start, end), _)) = best {
            for by in [2, 1] {
                let is_there = |at: &(usize, usize)| at.0 < starts.len() && at.1 < ends.len();
                let beside = [
                    (start.wrapping_sub(by), end),
                    (start + by, end),
                    (start, end.wrapping_sub(by)),
                    (start, end + by),
                    (start.wrapping_sub(by), end + by),
                    (start + by, end.wrapping_sub(by)),
                ];
                for at in beside.into_iter().filter(is_there) {
                    attempt(at, &mut best);
                }
            }
            if best.as_ref().is_none_or(|(_, at, _)| *at == (start, end)) {
                break;
            }
        }
        best.map(|(answer, ..)| answer).ok_or(NotComputed::NoLengthServes)
    }
}
