//! How long the free piece at a hinge must be, and where it is best clamped, in the plane across the hinge.
//!
//! The answer depends on a handful of numbers ([`Problem`]) and on nothing else: it is worked out once for each of them and
//! kept, so that the same crossing on the other wing, in another routing or a frame later costs nothing.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Arc, Mutex, PoisonError};

use super::not_computed::NotComputed;
use super::parts::{PARTS, parts};
use super::places::Place;
use super::way::FRAMES;
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
    /// Where the hinge is looked at, from transport position on; one at least.
    pub(super) stations: Vec<Station>,
    /// The first of them that is at work.
    pub(super) working: usize,
    /// What the piece weighs over its stiffness, hundredths per cubic metre: filled, and empty.
    pub(super) loads: [i64; 2],
    /// Least bend radius of the stock.
    pub(super) radius: i64,
    /// Slack to be kept, in ten-thousandths.
    pub(super) slack: i64,
    /// How far below the axis the underside of the frame beside it is, at work; none without a frame.
    pub(super) frame: Option<i64>,
}

/// The hinge of a crossing at a position of the fold.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Station {
    /// How far it has turned to the left.
    pub(super) angle: i64,
    /// Which way is down for the start of the hose: along it, and to the left. Shorter than 1 where weight acts across the
    /// plane of the crossing too, which is left out.
    pub(super) down: (i64, i64),
}

/// Hundredths in one, for loads.
pub(super) const LOAD_PARTS: f64 = 100.0;

/// The answer for a crossing.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Answer {
    /// Where the clamps are, metres from beside the hinge.
    pub(super) clamps: (f64, f64),
    /// Length between them, metres.
    pub(super) free: f64,
    /// Longest straight distance of the clamps through the fold, metres, and the angle there.
    pub(super) longest: (f64, f64),
    /// Smallest bend radius through the fold at any length in the tolerance, metres, and the station there.
    pub(super) tightest: (f64, usize),
    /// How far below the axis it hangs at work at most, filled, metres, at each of the stations that are at work.
    pub(super) hangs: Vec<f64>,
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
pub(super) const STEP: f64 = 1.02;
/// Of the places tried, one in so many is tried with all others first.
const COARSE: usize = 3;

/// A clamp that a frame member carries is worth a free piece that is longer by this, metres: a carrier is made, bolted on and
/// stands in the way (common practice, no source).
const CARRIER: f64 = 0.3;

/// What hangs below the frame and its clamps at work, by this much, is worth a free piece that is longer by as much again: crops,
/// stones and residue catch it (common practice, no source).
const SAG: f64 = 4.0;

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

/// What the shapes of a piece follow from: its crossing, and where it is clamped and how long it is, tenths of a millimetre.
pub(super) type ShapeKey = (Arc<Problem>, [i64; 3]);

/// The key of a piece between such clamps, of one length.
pub(super) fn shape_key(problem: &Arc<Problem>, places: (f64, f64), length: f64) -> ShapeKey {
    (Arc::clone(problem), [places.0, places.1, length].map(parts))
}

static SHAPES: Mutex<BTreeMap<ShapeKey, Arc<Vec<Bent>>>> = Mutex::new(BTreeMap::new());
/// As many are kept: those of a large bar several times over.
const MOST_SHAPES: usize = 1000;

/// The shapes of a filled piece through the fold, from the folded bar: [`FRAMES`] from each station to the next, then one at
/// each that is at work; kept, since who draws a bar that folds, or looks for what it catches, asks for them with every picture.
/// Fewer where it has no shape.
pub(super) fn film(problem: &Arc<Problem>, places: (f64, f64), length: f64) -> Arc<Vec<Bent>> {
    let key = shape_key(problem, places, length);
    let kept = || SHAPES.lock().unwrap_or_else(PoisonError::into_inner);
    if let Some(known) = kept().get(&key) {
        return Arc::clone(known);
    }
    let made = Arc::new(problem.film(places, length));
    let mut kept = kept();
    if kept.len() >= MOST_SHAPES {
        kept.clear();
    }
    kept.insert(key, Arc::clone(&made));
    made
}

static HANGS: Mutex<BTreeMap<ShapeKey, Vec<f64>>> = Mutex::new(BTreeMap::new());

/// How far below the axis a filled piece of an entered length hangs at each station that is at work, metres, as it was entered
/// and as it gets under pressure; kept, since it is asked for with every state of its routing.
pub(super) fn hangs_at(problem: &Arc<Problem>, places: (f64, f64), length: f64) -> Vec<f64> {
    let key = shape_key(problem, places, length);
    let kept = || HANGS.lock().unwrap_or_else(PoisonError::into_inner);
    if let Some(known) = kept().get(&key) {
        return known.clone();
    }
    let hangs = problem.hangs(places, &[length * (1.0 - SHORTER), length, length * (1.0 + LONGER)]);
    let mut kept = kept();
    if kept.len() >= MOST_SHAPES {
        kept.clear();
    }
    kept.insert(key, hangs.clone());
    hangs
}

impl Answer {
    /// The length between the clamps as a tape measure shows it, and never shorter, metres.
    pub(super) fn to_cut(&self) -> f64 {
        (self.free * 1e3 - 1e-6).ceil() / 1e3
    }

    fn mirrored(self) -> Self {
        Self { longest: (self.longest.0, -self.longest.1), ..self }
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
        if self.stations.first().is_none_or(|folded| folded.angle >= 0) {
            return (self, false);
        }
        let mirrored = |one: Station| Station { angle: -one.angle, down: (one.down.0, -one.down.1) };
        let mirrored = Self {
            start: self.start.mirrored(),
            end: self.end.mirrored(),
            turn: -self.turn,
            stations: self.stations.into_iter().map(mirrored).collect(),
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
        let angles = self.stations.iter().map(|one| one.angle);
        let (low, high) = (angles.clone().min().unwrap_or(0), angles.max().unwrap_or(0));
        (low as f64 / PARTS, high as f64 / PARTS)
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

    /// The shortest distance of clamps at work, where they are fitted, metres.
    pub(super) fn nearest_at_work(&self, places: (f64, f64)) -> f64 {
        let at_work = self.stations.iter().skip(self.working).map(|station| {
            let (from, to) = self.clamps(places, station.angle as f64 / PARTS);
            from.at.distance(to.at)
        });
        at_work.fold(f64::INFINITY, f64::min)
    }

    fn piece(&self, places: (f64, f64), length: f64, load: i64, station: &Station) -> FreePiece {
        let load = load as f64 / LOAD_PARTS / PARTS;
        let (x, y) = (station.down.0 as f64 * load, station.down.1 as f64 * load);
        self.piece_at(places, length, station.angle as f64 / PARTS, Point2::new(x, y))
    }

    /// The free piece with the hinge at an angle, and its weight over its stiffness as an arrow that points down.
    pub(super) fn piece_at(&self, places: (f64, f64), length: f64, angle: f64, weight: Point2) -> FreePiece {
        let (from, to) = self.clamps(places, angle);
        FreePiece { from, to, length, weight: Some(weight) }
    }

    /// Shows every shape that a free piece takes through the fold, with its station, until the one who looks has seen enough.
    /// It is followed from the folded bar, whose bulge it keeps, and from how it hangs by its weight where it is fitted, at work,
    /// until it lies as before. None where it has no shape.
    fn look(
        &self,
        places: (f64, f64),
        length: f64,
        load: i64,
        mut goes_on: impl FnMut(usize, &Bent) -> bool,
    ) -> Option<()> {
        let mut lying: Vec<Bent> = Vec::with_capacity(self.stations.len());
        for (at, station) in self.stations.iter().enumerate() {
            let piece = self.piece(places, length, load, station);
            let followed = lying.last().and_then(|near| piece.shape_from(near).ok());
            let bent = followed.or_else(|| piece.shape().ok())?;
            if !goes_on(at, &bent) {
                return Some(());
            }
            lying.push(bent);
        }
        let at_work = self.stations.get(self.working).filter(|one| load > 0 && one.down != (0, 0));
        let Some(at_work) = at_work else { return Some(()) };
        let hung = self.piece(places, length, load, at_work).shape().ok()?;
        if lying.get(self.working).is_some_and(|known| known.is_alike(&hung)) {
            return Some(());
        }
        let onwards = self.working + 1..self.stations.len();
        for way in [onwards.collect::<Vec<_>>(), (0..self.working).rev().collect()] {
            if !goes_on(self.working, &hung) {
                break;
            }
            let mut before = hung.clone();
            for at in way {
                let Some(station) = self.stations.get(at) else { break };
                let piece = self.piece(places, length, load, station);
                let bent = piece.shape_from(&before).or_else(|_| piece.shape()).ok()?;
                if lying.get(at).is_some_and(|known| known.is_alike(&bent)) {
                    break;
                }
                if !goes_on(at, &bent) {
                    return Some(());
                }
                before = bent;
            }
        }
        Some(())
    }

    /// See [`film`].
    fn film(&self, places: (f64, f64), length: f64) -> Vec<Bent> {
        let mut frames: Vec<(f64, Point2)> = Vec::new();
        let load = self.loads[0] as f64 / LOAD_PARTS / PARTS;
        let of = |one: &Station| {
            (one.angle as f64 / PARTS, Point2::new(one.down.0 as f64 * load, one.down.1 as f64 * load))
        };
        for pair in self.stations.get(..=self.working).unwrap_or_default().windows(2) {
            let (from, to) = (of(&pair[0]), of(&pair[1]));
            frames.extend((0..FRAMES).map(|frame| {
                let share = frame as f64 / FRAMES as f64;
                let between = |a: f64, b: f64| a + (b - a) * share;
                (between(from.0, to.0), Point2::new(between(from.1.x, to.1.x), between(from.1.y, to.1.y)))
            }));
        }
        frames.extend(self.stations.iter().skip(self.working).map(of));
        let mut film: Vec<Bent> = Vec::with_capacity(frames.len());
        for (angle, weight) in frames {
            let piece = self.piece_at(places, length, angle, weight);
            let followed = film.last().and_then(|near| piece.shape_from(near).ok());
            let Some(bent) = followed.or_else(|| piece.shape().ok()) else { break };
            film.push(bent);
        }
        film
    }

    /// The smallest radius of a length through the fold, filled and empty, and the station there; looked for no further once it
    /// is too small. None where it has no shape.
    pub(super) fn tightest(&self, places: (f64, f64), length: f64, enough: f64) -> Option<(f64, usize)> {
        let mut tightest = (f64::INFINITY, 0);
        let [filled, empty] = self.loads;
        // Most lengths that bend too tight do so at work: this is known at once.
        if let Some(at_work) = self.stations.get(self.working).filter(|_| enough > 0.0 && filled > 0) {
            let radius = self.piece(places, length, filled, at_work).shape().ok()?.least_radius();
            if radius < enough {
                return Some((radius, self.working));
            }
        }
        for load in std::iter::once(filled).chain((empty != filled).then_some(empty)) {
            self.look(places, length, load, |at, bent| {
                let radius = bent.least_radius();
                if radius < tightest.0 {
                    tightest = (radius, at);
                }
                radius >= enough
            })?;
            if tightest.0 < enough {
                break;
            }
        }
        Some(tightest)
    }

    /// How far below the axis a filled piece hangs at each station that is at work, metres, at any of some lengths; less than
    /// nothing where it stays above it.
    pub(super) fn hangs(&self, places: (f64, f64), lengths: &[f64]) -> Vec<f64> {
        let mut hangs = vec![f64::NEG_INFINITY; self.stations.len() - self.working];
        for length in lengths {
            // A length without a shape is told by whoever asks for its radius.
            self.look(places, *length, self.loads[0], |at, bent| {
                let own = at.checked_sub(self.working).and_then(|at| hangs.get_mut(at));
                if let (Some(own), Some(station)) = (own, self.stations.get(at)) {
                    let (x, y) = (station.down.0 as f64 / PARTS, station.down.1 as f64 / PARTS);
                    *own = own.max(bent.reach(Point2::new(x, y)));
                }
                true
            });
        }
        hangs
    }

    /// How far below its clamps and the frame a filled piece hangs at work at its longest, metres; 0 where it stays above either.
    fn sags(&self, places: (f64, f64), free: f64) -> f64 {
        // What weighs nothing bulges to either side alike, and hangs to none.
        if self.loads[0] == 0 {
            return 0.0;
        }
        let hangs = self.hangs(places, &lengths_of(free)[1..]);
        let at_work = self.stations.iter().skip(self.working).zip(hangs);
        let below = at_work.map(|(station, hangs)| {
            let (from, to) = self.clamps(places, station.angle as f64 / PARTS);
            let (x, y) = (station.down.0 as f64 / PARTS, station.down.1 as f64 / PARTS);
            let lower = [from, to].map(|clamp| clamp.at.x * x + clamp.at.y * y);
            let frame = self.frame.map_or(f64::NEG_INFINITY, |one| one as f64 / PARTS);
            hangs - lower[0].max(lower[1]).max(frame)
        });
        below.fold(0.0, f64::max)
    }

    /// The shortest length between two clamps that is never stretched and keeps the radius, if it is shorter than another:
    /// every length that it may have, cut and under pressure, must do.
    fn length(&self, places: (f64, f64), shorter_than: f64) -> Option<Answer> {
        let radius = self.radius as f64 / PARTS;
        let longest = self.longest(places);
        let least = longest.0 * (1.0 + self.slack as f64 / PARTS);
        let mut known: Vec<Option<(f64, usize)>> = Vec::new();
        let mut first: i32 = 0;
        loop {
            let shortest = least * STEP.powi(first);
            let free = (shortest + CUT_SHORT) / (1.0 - SHORTER);
            if free >= shorter_than || !free.is_finite() {
                return None;
            }
            let most = (free + CUT_LONG) * (1.0 + LONGER);
            let last = first + ((most / shortest).ln() / STEP.ln()).floor() as i32;
            let mut tightest = match self.tightest(places, most, radius) {
                Some(one) if one.0 >= radius => one,
                // No range that has this length in it does.
                _ => {
                    first = last + 1;
                    continue;
                }
            };
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
                None => return Some(Answer { clamps: places, free, longest, tightest, hangs: Vec::new() }),
            }
        }
    }

    fn solve(&self) -> Result<Answer, NotComputed> {
        let (starts, ends) = (&self.start.places, &self.end.places);
        if starts.is_empty() || ends.is_empty() {
            return Err(NotComputed::StretchTooNear);
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
        // With what its length, its carriers and its sag cost.
        let mut best: Option<(Answer, (usize, usize), f64)> = None;
        let mut tried: BTreeSet<(usize, usize)> = BTreeSet::new();
        let mut attempt = |at: (usize, usize), best: &mut Option<(Answer, (usize, usize), f64)>| {
            if !tried.insert(at) {
                return;
            }
            let within = 13.0 * radius + 1.5 * apart(at) + 0.1;
            let shorter_than = best.as_ref().map_or(within, |(.., cost)| (cost - carriers(at)).min(within));
            if let Some(answer) = self.length(places(at), shorter_than) {
                let sags = SAG * self.sags(places(at), answer.free);
                let cost = answer.free + carriers(at) + sags;
                if best.as_ref().is_none_or(|(.., known)| cost < *known) {
                    *best = Some((answer, at, cost));
                }
            }
        };
        // Short pieces are found with one clamp near the hinge and the other farther off, and with both alike: so all coarse
        // pairs are tried, those first whose clamps come apart least and need no carrier, since no free piece is shorter than
        // its clamps come apart.
        let mut try_all = |starts: Vec<usize>, ends: Vec<usize>, best: &mut Option<_>| {
            let mut pairs: Vec<((usize, usize), f64)> = Vec::new();
            for start in starts {
                let cost = |at| apart(at) + carriers(at);
                pairs.extend(ends.iter().map(|end| ((start, *end), cost((start, *end)))));
            }
            pairs.sort_by(|a, b| a.1.total_cmp(&b.1));
            for (at, _) in pairs {
                attempt(at, best);
            }
        };
        try_all(self.start.coarse(), self.end.coarse(), &mut best);
        if best.is_none() {
            // Before it is said that no length serves, every place is tried.
            try_all((0..starts.len()).collect(), (0..ends.len()).collect(), &mut best);
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
        let (mut answer, ..) = best.ok_or(NotComputed::NoLengthServes)?;
        answer.hangs = self.hangs(answer.clamps, &lengths_of(answer.free));
        Ok(answer)
    }
}

/// The shortest and the longest that a piece may be of a length meant, once cut and under pressure, metres.
pub(super) fn lengths_of(free: f64) -> [f64; 2] {
    [(free - CUT_SHORT) * (1.0 - SHORTER), (free + CUT_LONG) * (1.0 + LONGER)]
}
