//! What the tolerance study is asked, and what it finds.

use std::num::NonZeroUsize;

use super::first_order::FirstOrder;
use crate::plan::{Limits, RowId, Spread, SpreadKind};
use crate::quantities::{Ratio, Speed};

/// Bars that are built unless someone asks for another number: the chance is then known within some 2 points.
pub const USUAL_SAMPLES: u32 = 2000;

/// The most bars that are built: their coefficients of variation are all kept.
pub const MOST_SAMPLES: u32 = 1_000_000;

/// What is asked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ToleranceOptions {
    /// Bars to build, 1 to [`MOST_SAMPLES`].
    pub samples: u32,
    /// Where the random numbers start: the same seed gives the same bars.
    pub seed: u64,
    /// Threads; one for each core where none is given. It changes nothing in the answer.
    pub threads: Option<NonZeroUsize>,
}

impl Default for ToleranceOptions {
    fn default() -> Self {
        Self { samples: USUAL_SAMPLES, seed: 1, threads: None }
    }
}

/// A chance known no better than within so much is that of few bars: ten points (common practice, no source).
const FEW: f64 = 0.1;

/// How even a bar will be, from the slowest to the fastest speed.
#[derive(Debug, Clone, PartialEq)]
pub struct ToleranceStudy {
    /// What was asked.
    pub options: ToleranceOptions,
    /// The spreads that something in the routing has.
    pub spreads: Vec<SpreadInUse>,
    /// The same bars at the speed that was asked for.
    pub asked: BuiltBars,
    /// And at the duty's slowest, usual and fastest speed but for that one, rising.
    pub others: Vec<BuiltBars>,
    /// Speeds at which nothing could be built, with why.
    pub without_numbers: Vec<(Speed, String)>,
    /// What each spread makes at the worst speed, in the order of the table.
    pub causes: Vec<Cause>,
    /// Rows that should get liquid and get none somewhere, in words.
    pub dry_rows: Option<String>,
    /// What the plan's solves say that one should know.
    pub warnings: Vec<String>,
}

/// How even a bar will be at one speed.
#[derive(Debug, Clone, PartialEq)]
pub struct BuiltBars {
    /// The speed.
    pub speed: Speed,
    /// By derivatives.
    pub first_order: FirstOrder,
    /// Coefficient of variation over rows, of all bars.
    pub cv: Distribution,
    /// How far from its target the farthest row is, of all bars.
    pub farthest: Distribution,
    /// All limits of the project are kept: CV acceptable, every row near enough to its target.
    pub within: Chance,
    /// The CV is acceptable.
    pub cv_within: Chance,
    /// Every row is near enough to its target.
    pub rows_within: Chance,
    /// The rows that are fed and have a target, in the bar's order.
    pub rows: Vec<RowScatter>,
    /// Bars that could not be solved; nothing above counts them.
    pub unsolved: u32,
    /// Bars with a row that gets nothing although the plan feeds it.
    pub dry: u32,
    /// Mean CV² of the first bars, those that are built again without one spread.
    pub(super) cv_squared_of_first: f64,
}

/// A spread that something in a routing has.
#[derive(Debug, Clone, PartialEq)]
pub struct SpreadInUse {
    /// Which.
    pub kind: SpreadKind,
    /// Its value; where a catch test told what it is about, what is left of it.
    pub spread: Spread,
    /// Where it comes from.
    pub source: String,
    /// How many pieces have it; 1 for the liquid.
    pub pieces: usize,
}

/// Values of many bars.
#[derive(Debug, Clone, PartialEq)]
pub struct Distribution {
    /// Mean.
    pub mean: Ratio,
    /// Root of the mean square.
    pub rms: Ratio,
    /// 5 % of all lie below.
    pub p05: Ratio,
    /// The middle one.
    pub p50: Ratio,
    /// 95 % of all lie below.
    pub p95: Ratio,
    /// All, rising.
    pub sorted: Vec<f64>,
}

/// How many of the built bars.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Chance {
    /// So many.
    pub count: u32,
    /// Of so many.
    pub of: u32,
    /// With 95 % confidence the chance is not below.
    pub low: Ratio,
    /// Nor above.
    pub high: Ratio,
}

impl Chance {
    /// As a share.
    pub fn share(&self) -> Ratio {
        Ratio::from_si(f64::from(self.count) / f64::from(self.of.max(1)))
    }

    /// So few bars that the chance is hardly known.
    pub fn is_of_few(&self) -> bool {
        (self.high - self.low).si() > FEW
    }
}

/// One row in many bars.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RowScatter {
    /// The row.
    pub row: RowId,
    /// As painted on the bar.
    pub number: u32,
    /// Flow over target less 1, as planned.
    pub planned: Ratio,
    /// The mean of that over all bars.
    pub mean: Ratio,
    /// Its standard deviation over all bars.
    pub sd: Ratio,
    /// The same by derivatives.
    pub first_order_sd: Ratio,
    /// Share of the bars in which it is the farthest from its target.
    pub farthest_in: Ratio,
}

/// What one spread makes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cause {
    /// The spread.
    pub kind: SpreadKind,
    /// Share of the mean square of the CV by derivatives.
    pub first_order_share: Ratio,
    /// Share by which that of built bars falls without it; none where it is too small to be built without.
    pub share: Option<Ratio>,
    /// CV of bars built without it, root of the mean square.
    pub cv_without: Option<Ratio>,
}

impl ToleranceStudy {
    /// The bars at each speed, rising.
    pub fn at_speeds(&self) -> Vec<&BuiltBars> {
        let mut all: Vec<&BuiltBars> = self.others.iter().chain([&self.asked]).collect();
        all.sort_by(|a, b| a.speed.si().total_cmp(&b.speed.si()));
        all
    }

    /// The bars at the speed where the fewest keep the limits; of several such speeds where they are the least even.
    pub fn worst(&self) -> &BuiltBars {
        self.others.iter().fold(&self.asked, |worst, other| {
            let shares = other.within.share().si().total_cmp(&worst.within.share().si());
            let is_worse = shares.then(worst.cv.p50.si().total_cmp(&other.cv.p50.si())).is_lt();
            if is_worse { other } else { worst }
        })
    }

    /// Enough of the bars keep the limits at every speed: the share that the project asks for. Never where a row gets nothing.
    pub fn is_good(&self, limits: &Limits) -> bool {
        self.without_numbers.is_empty()
            && self.dry_rows.is_none()
            && self.worst().within.share() >= limits.bars_within
    }
}

impl BuiltBars {
    /// How far the two ways are apart: root mean square CV of the built bars over that by derivatives, less 1.
    pub fn ways_apart(&self) -> Ratio {
        let first = self.first_order.built_cv().si();
        Ratio::from_si(if first > 0.0 { self.cv.rms.si() / first - 1.0 } else { 0.0 })
    }
}
