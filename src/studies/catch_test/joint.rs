//! Readings that scatter together: how far one may be off by itself and beside the others, how often chance makes one at least so
//! far off, and which of them are.
//!
//! Of readings with a joint normal scatter each has two distances, both standard normal: how far it is from what is expected, and
//! how far from what the other readings make of it (the conditional mean and variance of a joint normal, Anderson, An Introduction
//! to Multivariate Statistical Analysis, 2.5, from memory: with `P` the inverse of the covariance, reading `i` is `(P r)ᵢ / Pᵢᵢ`
//! off with variance `1 / Pᵢᵢ`). The first sees what all have in common (a supply that gives too much), once; the second sees one
//! row among many however well the supply is kept, since the others rule that out. How far the farthest of all these distances
//! may be in 95 of 100 cases is the two-sided equicoordinate point of their joint distribution (Genz and Bretz, Computation of
//! Multivariate Normal and t Probabilities, 2009, from memory), here of seeded draws: as many readings as there are, and what they
//! share counted once.

use nalgebra::{Cholesky, DMatrix, DVector};
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng as _;
use rand_distr::{Distribution as _, StandardNormal};

/// In so many of all cases no reading is beyond its band.
const SURE: f64 = 0.95;
/// Cases that are drawn: a chance near one of 20 is known within half of one of 100.
const DRAWN: usize = 2_000;

/// Readings of one joint scatter, each in standard deviations of reading it.
pub(super) struct Joint {
    covariance: DMatrix<f64>,
    /// Of the covariance.
    inverse: DMatrix<f64>,
    /// Of cases that are drawn, the farthest distance of each, rising: from what is expected, from what the others make of it, and
    /// of both.
    alone: Vec<f64>,
    beside: Vec<f64>,
    farthest: Vec<f64>,
    /// Of each case the smaller of the chances of both distances, rising: who takes the smaller one finds it small more often.
    rarer: Vec<f64>,
}

/// Where a reading may be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Band {
    /// What is expected of it: by itself, or by what the others show.
    pub(super) middle: f64,
    /// Its standard deviation about that.
    pub(super) sd: f64,
    /// It is by the others: by itself it is not too far from what is expected.
    pub(super) by_others: bool,
    /// It is where it may be.
    pub(super) is_within: bool,
}

/// The reading that is farthest off.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Farthest {
    /// Its place.
    pub(super) at: usize,
    /// How many standard deviations.
    pub(super) spreads: f64,
    /// From what the others make of it; else from what is expected.
    pub(super) by_others: bool,
    /// How often one reading at least is so rarely far off, in that way or in the other, 0 to 1.
    pub(super) chance: f64,
    /// It is beyond its band.
    pub(super) stands_out: bool,
}

/// How often the farthest is so many standard deviations or more, 0 to 1.
fn chance(farthest: &[f64], spreads: f64) -> f64 {
    let below = farthest.partition_point(|one| *one < spreads);
    (farthest.len() - below) as f64 / farthest.len().max(1) as f64
}

impl Joint {
    /// Readings of such a covariance; none where that is none.
    pub(super) fn of(covariance: DMatrix<f64>) -> Option<Self> {
        let count = covariance.nrows();
        let cholesky = Cholesky::new(covariance.clone())?;
        let inverse = cholesky.inverse();
        let factor = cholesky.l();
        let mut random = ChaCha8Rng::seed_from_u64(1);
        let drawn = DMatrix::from_fn(count, DRAWN, |_, _| StandardNormal.sample(&mut random));
        // With what is drawn independent and of variance 1, readings are the factor times that, and the inverse times readings is
        // that solved by the factor's transpose.
        let alone = &factor * &drawn;
        let mut beside = drawn;
        factor.tr_solve_lower_triangular_mut(&mut beside);
        let farthest_of = |of: &DMatrix<f64>, sd: &dyn Fn(usize) -> f64| -> Vec<f64> {
            let most = |case: usize| (0..count).map(|at| of[(at, case)].abs() / sd(at)).fold(0.0, f64::max);
            (0..DRAWN).map(most).collect()
        };
        let mut alone = farthest_of(&alone, &|at| covariance[(at, at)].sqrt());
        let mut beside = farthest_of(&beside, &|at| inverse[(at, at)].sqrt());
        let cases: Vec<(f64, f64)> = alone.iter().copied().zip(beside.iter().copied()).collect();
        let mut farthest: Vec<f64> = cases.iter().map(|(one, other)| one.max(*other)).collect();
        for all in [&mut alone, &mut beside, &mut farthest] {
            all.sort_by(f64::total_cmp);
        }
        let of_both = |(one, other): &(f64, f64)| chance(&alone, *one).min(chance(&beside, *other));
        let mut rarer: Vec<f64> = cases.iter().map(of_both).collect();
        rarer.sort_by(f64::total_cmp);
        Some(Self { covariance, inverse, alone, beside, farthest, rarer })
    }

    /// How many standard deviations the farthest of all distances is at most in 95 of 100 cases.
    pub(super) fn reach(&self) -> f64 {
        let at = (SURE * self.farthest.len() as f64) as usize;
        self.farthest.get(at).or(self.farthest.last()).copied().unwrap_or(0.0)
    }

    /// The reading that is farthest off, by how seldom chance makes one so; none of none.
    pub(super) fn farthest(&self, off: &DVector<f64>) -> Option<Farthest> {
        let beside = &self.inverse * off;
        let both = (0..off.len()).flat_map(|at| {
            let alone = off[at].abs() / self.covariance[(at, at)].sqrt();
            let beside = beside[at].abs() / self.inverse[(at, at)].sqrt();
            [(alone, false), (beside, true)].map(|(spreads, by_others)| {
                let of = if by_others { &self.beside } else { &self.alone };
                let chance = chance(of, spreads);
                Farthest { at, spreads, by_others, chance, stands_out: spreads > self.reach() }
            })
        });
        let rarest =
            both.min_by(|a, b| a.chance.total_cmp(&b.chance).then(b.spreads.total_cmp(&a.spreads)))?;
        let as_rare = self.rarer.partition_point(|one| *one <= rarest.chance);
        Some(Farthest { chance: as_rare as f64 / self.rarer.len().max(1) as f64, ..rarest })
    }

    /// Where each reading may be, and whether it is there. A reading that is wrong must not speak for the others: the one farthest
    /// from what the others make of it is left out, then the next, until all that are left agree, at most half of them.
    pub(super) fn bands(&self, off: &DVector<f64>) -> Vec<Band> {
        let reach = self.reach();
        let mut kept: Vec<usize> = (0..off.len()).collect();
        let mut inverse = self.inverse.clone();
        let distance = |inverse: &DMatrix<f64>, kept: &[usize], at: usize| {
            let sum: f64 = kept.iter().map(|other| inverse[(at, *other)] * off[*other]).sum();
            sum.abs() / inverse[(at, at)].sqrt()
        };
        while kept.len() > off.len() / 2 + 1 {
            let far = kept.iter().map(|at| (*at, distance(&inverse, &kept, *at)));
            let Some((worst, _)) = far.filter(|one| one.1 > reach).max_by(|a, b| a.1.total_cmp(&b.1)) else {
                break;
            };
            kept.retain(|at| *at != worst);
            // The inverse of the covariance of those that are left (the complement of Schur).
            let own = inverse.column(worst).into_owned();
            inverse.ger(-1.0 / own[worst], &own, &own, 1.0);
        }
        let band = |at: usize| {
            let own = self.covariance[(at, at)].sqrt();
            let (middle, variance) = if kept.contains(&at) {
                let sum: f64 = kept.iter().map(|other| inverse[(at, *other)] * off[*other]).sum();
                (off[at] - sum / inverse[(at, at)], 1.0 / inverse[(at, at)])
            } else {
                let with = |one: usize| -> f64 {
                    kept.iter().map(|other| self.covariance[(at, *other)] * inverse[(*other, one)]).sum()
                };
                let by: Vec<f64> = kept.iter().map(|one| with(*one)).collect();
                let middle = by.iter().zip(&kept).map(|(by, one)| by * off[*one]).sum();
                let known: f64 = by.iter().zip(&kept).map(|(by, one)| by * self.covariance[(*one, at)]).sum();
                (middle, (self.covariance[(at, at)] - known).max(0.0))
            };
            let sd = variance.sqrt();
            let is_within = (off[at] - middle).abs() <= reach * sd;
            // What the others say is the narrower; where it is there and beyond what is expected, that tells.
            if is_within && off[at].abs() > reach * own {
                return Band { middle: 0.0, sd: own, by_others: false, is_within: false };
            }
            Band { middle, sd, by_others: true, is_within }
        };
        (0..off.len()).map(band).collect()
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a test stops where something is not as it should be")]
mod tests {
    use statrs::function::erf::erf;

    use super::*;

    /// Readings of variance 1 each of which has so much variance in common.
    fn shared(count: usize, common: f64) -> DMatrix<f64> {
        DMatrix::from_fn(count, count, |at, other| if at == other { 1.0 } else { common })
    }

    /// Without anything shared both distances are one, and the point is that of Šidák (1967, J. Am. Stat. Assoc. 62, 626): the c with
    /// `(2 Φ(c) - 1)ⁿ = 0.95`; so is a chance. Where each pair shares alike, the chance of one far from what is expected is an
    /// integral over that (from memory, Dunnett and Sobel 1955, Biometrika 42, 258):
    /// `1 - ∫ φ(u) [Φ((c - u √ρ)/√(1-ρ)) - Φ((-c - u √ρ)/√(1-ρ))]ⁿ du`, by Simpson's rule.
    #[test]
    fn of_independent_readings_the_reach_is_that_of_sidak() {
        for count in [1_usize, 6, 24, 80] {
            let joint = Joint::of(shared(count, 0.0)).unwrap();
            let within = |c: f64| erf(c / std::f64::consts::SQRT_2).powf(count as f64);
            let bound = 3.0 * (0.05 * 0.95 / DRAWN as f64).sqrt();
            assert!((within(joint.reach()) - SURE).abs() < bound, "{count}: {}", joint.reach());
            for spreads in [2.5, 3.0] {
                let wanted = 1.0 - within(spreads);
                let bound = (3.0 * (wanted * (1.0 - wanted) / DRAWN as f64).sqrt()).max(0.005);
                assert!((chance(&joint.alone, spreads) - wanted).abs() < bound, "{count} {spreads}");
            }
        }
        let normal = |x: f64| f64::midpoint(1.0, erf(x / std::f64::consts::SQRT_2));
        let wanted = |count: usize, shared: f64, c: f64| {
            const STEPS: i32 = 2_000;
            let own = (1.0 - shared).sqrt();
            let of = |u: f64| {
                let by = u * shared.sqrt();
                let within = normal((c - by) / own) - normal((-c - by) / own);
                (-0.5 * u * u).exp() / std::f64::consts::TAU.sqrt() * within.powf(count as f64)
            };
            let (from, step) = (-8.0, 16.0 / f64::from(STEPS));
            let weight = |at: i32| if at == 0 || at == STEPS { 1.0 } else { 2.0 + 2.0 * f64::from(at % 2) };
            let sum: f64 = (0..=STEPS).map(|at| weight(at) * of(from + f64::from(at) * step)).sum();
            1.0 - sum * step / 3.0
        };
        for (count, common, spreads) in [(40, 0.88, 1.9), (40, 0.88, 2.5), (12, 0.5, 2.0)] {
            let joint = Joint::of(shared(count, common)).unwrap();
            let wanted = wanted(count, common, spreads);
            let bound = (3.0 * (wanted * (1.0 - wanted) / DRAWN as f64).sqrt()).max(0.005);
            let found = chance(&joint.alone, spreads);
            assert!((found - wanted).abs() < bound, "{count} {common} {spreads}: {found} {wanted}");
        }
    }

    /// What is shared is one chance: between one reading and as many as there are, and for each distance the closed form of two
    /// readings: of correlation `c` each is `c` times the other with variance `1 - c²`.
    #[test]
    fn what_readings_share_is_counted_once() {
        let alone = |count: usize| Joint::of(shared(count, 0.0)).unwrap().reach();
        let joint = Joint::of(shared(24, 0.8)).unwrap();
        assert!(joint.reach() > alone(24) - 0.1 && joint.reach() < alone(25) + 0.1, "{}", joint.reach());
        let two = Joint::of(shared(2, 0.6)).unwrap();
        let off = DVector::from_row_slice(&[1.0, 0.5]);
        for (at, band) in two.bands(&off).into_iter().enumerate() {
            assert!((band.middle - 0.6 * off[1 - at]).abs() < 1e-12 && (band.sd - 0.8).abs() < 1e-12);
            assert!(band.by_others && band.is_within);
        }
        let far = two.farthest(&DVector::from_row_slice(&[1.0, -1.0])).unwrap();
        assert!((far.spreads - 1.6 / 0.8).abs() < 1e-12 && far.by_others);
        let far = two.farthest(&DVector::from_row_slice(&[2.0, 2.0])).unwrap();
        assert!((far.spreads - 2.0).abs() < 1e-12 && !far.by_others);
    }

    /// A chance is what it says: of other cases drawn from the same scatter, as many have one of at most so much.
    #[test]
    fn the_chance_of_the_rarer_distance_comes_so_often() {
        const CASES: usize = 2_000;
        for (count, common) in [(19, 0.9), (36, 0.5), (6, 0.0)] {
            let covariance = shared(count, common);
            let factor = Cholesky::new(covariance.clone()).unwrap().l();
            let joint = Joint::of(covariance).unwrap();
            let mut random = ChaCha8Rng::seed_from_u64(7);
            let chances: Vec<f64> = (0..CASES)
                .map(|_| {
                    let drawn = DVector::from_fn(count, |_, _| StandardNormal.sample(&mut random));
                    joint.farthest(&(&factor * drawn)).unwrap().chance
                })
                .collect();
            for wanted in [0.05, 0.2, 0.5] {
                let found = chances.iter().filter(|one| **one <= wanted).count() as f64 / CASES as f64;
                // Both the cases here and those of the table are drawn.
                let bound = 3.0 * (2.0 * wanted * (1.0 - wanted) / CASES as f64).sqrt();
                assert!((found - wanted).abs() < bound, "{count} {common}: {found} of {wanted}");
            }
        }
    }

    /// Rows that give far too little do not make the sound ones look as if they gave too much, one or a third of them; and what is
    /// off alike everywhere is off at each.
    #[test]
    fn wrong_readings_do_not_speak_for_the_others() {
        let count = 12;
        // A supply of 3, a jug of 1.
        let covariance = DMatrix::from_fn(count, count, |at, other| if at == other { 10.0 } else { 9.0 });
        let joint = Joint::of(covariance).unwrap();
        let beyond = |off: &[f64]| -> Vec<usize> {
            let bands = joint.bands(&DVector::from_row_slice(off));
            (0..count).filter(|at| !bands[*at].is_within).collect()
        };
        let mut off = vec![0.5; count];
        assert_eq!(beyond(&off), Vec::<usize>::new());
        off[4] = -100.0;
        assert_eq!(beyond(&off), [4]);
        // Within what the supply alone could be, and not beside the others.
        off[4] = -6.0;
        assert_eq!(beyond(&off), [4]);
        for at in [0, 1, 2, 3] {
            off[at] = -30.0;
        }
        assert_eq!(beyond(&off), [0, 1, 2, 3, 4]);
        assert_eq!(beyond(&vec![14.0; count]).len(), count);
        assert_eq!(beyond(&vec![6.0; count]).len(), 0);
    }
}
