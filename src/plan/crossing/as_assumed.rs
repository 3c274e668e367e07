//! What becomes of a free piece whose stock is softer or stiffer than assumed.

use std::collections::BTreeMap;
use std::sync::{Mutex, PoisonError};

use super::crossed::Crossing;
use super::parts::PARTS;
use super::search::{Problem, STEP, ShapeKey, lengths_of, shape_key};
use crate::plan::FoldPosition;
use crate::quantities::Length;

/// Grades of one rubber or plastic differ by as much, and so do the moduli that stiffness is assumed by (`stock_bending.rs`).
const FACTORS: [f64; 2] = [0.5, 2.0];

/// A free piece that bends tighter than its stock allows if this is as stiff as is just as likely.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct IfUnlikeAssumed {
    /// So many times as stiff as assumed.
    pub factor: f64,
    /// Smallest bend radius through the fold then.
    pub radius: Length,
    /// Where in the fold.
    pub at: FoldPosition,
}

impl IfUnlikeAssumed {
    /// `half as stiff as assumed`.
    pub fn factor_words(&self) -> &'static str {
        if self.factor < 1.0 { "half as stiff as assumed" } else { "twice as stiff as assumed" }
    }
}

/// The factor, the radius and the station of what bends tightest.
type Tightest = Option<(f64, f64, usize)>;

static KNOWN: Mutex<BTreeMap<(ShapeKey, bool), Tightest>> = Mutex::new(BTreeMap::new());
/// As many are kept: those of a large bar several times over.
const MOST_KEPT: usize = 1000;

impl Crossing {
    /// Whether it bends tighter than its stock allows if that is half or twice as stiff as assumed, over what its length may be; of
    /// both what bends tightest. None where it does not, where the stiffness is known, and where it bends too tight as it is.
    pub fn if_unlike_assumed(&self) -> Option<IfUnlikeAssumed> {
        if !self.stiffness.is_assumed || self.problem.loads == [0; 2] {
            return None;
        }
        let is_computed = self.lies == self.free;
        let key = (shape_key(&self.problem, self.places_of_clamps(), self.lies.si()), is_computed);
        let kept = || KNOWN.lock().unwrap_or_else(PoisonError::into_inner);
        let known = kept().get(&key).copied();
        let found = known.unwrap_or_else(|| {
            let found = self.tightest_unlike_assumed(is_computed);
            let mut kept = kept();
            if kept.len() >= MOST_KEPT {
                kept.clear();
            }
            kept.insert(key, found);
            found
        });
        found.map(|(factor, radius, station)| IfUnlikeAssumed {
            factor,
            radius: Length::metres(radius),
            at: self.turns.position(station),
        })
    }

    fn tightest_unlike_assumed(&self, is_computed: bool) -> Tightest {
        let places = self.places_of_clamps();
        let least = self.problem.radius as f64 / PARTS;
        let lies = self.lies.si();
        let lengths = if is_computed {
            let [shortest, longest] = lengths_of(lies);
            let steps = ((longest / shortest).ln() / STEP.ln()).ceil().max(1.0);
            (0..=steps as u32)
                .map(|step| shortest + (longest - shortest) * f64::from(step) / steps)
                .collect::<Vec<_>>()
        } else {
            vec![lies]
        };
        let tightest = |problem: &Problem, length: f64, enough: f64| problem.tightest(places, length, enough);
        // A length that is too tight as it is has a finding of its own.
        let is_tight = |problem: &Problem, length: f64| {
            tightest(problem, length, least).is_none_or(|(radius, _)| radius < least * ROUNDED)
        };
        if !is_computed && is_tight(&self.problem, lies) {
            return None;
        }
        let mut found: Tightest = None;
        for factor in FACTORS {
            let loads = self.problem.loads.map(|load| (load as f64 / factor).round() as i64);
            let other = Problem { loads, ..Problem::clone(&self.problem) };
            for length in lengths.iter().filter(|length| is_tight(&other, **length)) {
                let Some((radius, station)) = tightest(&other, *length, 0.0) else { continue };
                if found.is_none_or(|known| radius < known.1) {
                    found = Some((factor, radius, station));
                }
            }
        }
        found
    }
}

/// A radius is as good as its limit within this share: shapes are found no better.
const ROUNDED: f64 = 0.995;
