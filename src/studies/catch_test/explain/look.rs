//! What to look at next: measurements that can be made in the yard, each weighed by how much it would tell of which cause it is.
//!
//! For each leading cause the engine gives what a measurement would show ([`measured`](super::measured)); one whose size the
//! readings leave open counts with several sizes, for what a coarse gauge leaves open a finer one may tell. The information that is
//! expected is the mutual information of cause and measurement, by the
//! lower bound of Kolchinsky and Tracey (2017, "Estimating mixture entropy with pairwise distances", from memory): with odds `p`
//! and normal outcomes of one covariance, `-Σ pᵢ ln Σ pⱼ exp(-dᵢⱼ²/8)`, `d` being distances in standard deviations.

use nalgebra::DVector;

use super::answer::{CauseSize, LookOutcome, NextLook};
use super::curve::Effect;
use super::measured::{Leading, Looking, Measured};
use super::posterior::{Posterior, What, effect};
use super::size_range::sizes;
use super::solved::CauseCurves;
use super::words;
use crate::studies::{NoAnswer, Waiting};

/// Causes that are told apart.
const LEADING: usize = 12;
/// Of one group.
const OF_A_GROUP: usize = 5;
/// A cause less likely than this is left out; of those that look like scatter, one of the whole bar less likely than the second.
const LEAST: f64 = 0.01;
const LEAST_OF_ALL: f64 = 0.004;
/// Sizes that stand for all that the readings leave a cause of the whole bar.
const SIZES: usize = 3;
/// Outcomes so many spreads of the measurement apart are told apart by a person: what lies half way is two from either.
const TOLD: f64 = 4.0;
/// Causes that an outcome names, and the part of its odds that one less likely is not named with.
const NAMED: usize = 3;
const LEAST_NAMED: f64 = 0.1;
/// Looks that are offered.
const OFFERED: usize = 3;
/// A look that tells less is not worth the way, bits.
const LEAST_BITS: f64 = 0.05;

/// The measurements that tell most, the most telling first.
pub(super) fn next_looks(
    of: &CauseCurves<'_>,
    found: &Posterior<'_>,
    waiting: &dyn Waiting,
) -> Result<Vec<NextLook>, NoAnswer> {
    let mut leading: Vec<(What, f64)> = Vec::new();
    for group in found.groups.iter().filter(|group| group.odds >= LEAST) {
        let items = || group.items.iter().filter(|item| item.what != What::NoneOfThese);
        if let Some(scatter) = items().find(|item| item.what == What::Scatter) {
            // Members of that group differ from it by less than what any reading shows; another reading may show those of the whole
            // bar.
            let of_all: Vec<(What, f64)> = items()
                .filter(|item| item.odds >= LEAST_OF_ALL && is_of_the_whole(of, found, item.what))
                .take(OF_A_GROUP)
                .map(|item| (item.what, item.odds))
                .collect();
            let rest = group.odds - of_all.iter().map(|one| one.1).sum::<f64>();
            leading.push((scatter.what, rest.max(0.0)));
            leading.extend(of_all);
            continue;
        }
        // The likeliest stand for all of a group, which may be many that are unlikely each by itself.
        let sum: f64 = items().take(OF_A_GROUP).map(|item| item.odds).sum();
        let those = items().take(OF_A_GROUP).map(|item| (item.what, item.odds / sum * group.odds));
        leading.extend(those.filter(|one| one.1 >= LEAST));
    }
    leading.sort_by(|a, b| b.1.total_cmp(&a.1));
    leading.truncate(LEADING);
    let sum: f64 = leading.iter().map(|one| one.1).sum();
    for one in &mut leading {
        one.1 /= sum;
    }
    if leading.len() < 2 {
        return Ok(Vec::new());
    }
    let mut solver = of.solver.clone();
    let mut sized = Vec::new();
    for (what, odds) in leading {
        let effects = at_sizes(of, found, what, &mut solver);
        let each = odds / effects.len() as f64;
        sized.extend(effects.into_iter().map(|effect| (what, each, effect)));
    }
    let leading =
        sized.into_iter().map(|one| Leading::new(one, of, &found.space, &mut solver)).collect::<Vec<_>>();
    let looking = Looking { of, found, leading };
    let rows = looking.suspicious();
    waiting.so_far(0.3);
    let mut all: Vec<Measured> = looking.pressures();
    all.extend(looking.viscosity());
    all.extend(looking.again(&rows));
    all.extend(looking.with_another_jug(&rows));
    if waiting.has_stopped() {
        return Err(NoAnswer::Stopped);
    }
    all.extend(looking.exchanges(&rows, &mut solver));
    waiting.so_far(0.6);
    all.extend(looking.at_other_conditions(&rows));
    if waiting.has_stopped() {
        return Err(NoAnswer::Stopped);
    }
    let weighed = |one: Measured| {
        let (ease, look) = (one.ease, looking.weighed(one));
        (ease * look.gain_bits, look)
    };
    let mut looks: Vec<(f64, NextLook)> = all.into_iter().map(weighed).collect();
    // What has one outcome tells nothing, however likely that is.
    looks.retain(|(_, look)| look.gain_bits >= LEAST_BITS && look.outcomes.len() > 1);
    looks.sort_by(|a, b| b.0.total_cmp(&a.0));
    // The best of each sort first: three pressures of one line tell the same.
    let mut offered: Vec<NextLook> = Vec::new();
    for (_, look) in looks {
        if offered.len() < OFFERED && offered.iter().all(|one| one.action.key() != look.action.key()) {
            offered.push(look);
        }
    }
    Ok(offered)
}

/// A single cause of the bar as a whole, or of all rows.
fn is_of_the_whole(of: &CauseCurves<'_>, found: &Posterior<'_>, what: What) -> bool {
    let fed = of.sound.rows.iter().filter(|flow| **flow > 0.0).count();
    match found.ids(what).as_slice() {
        [id] => id.rows.is_empty() || id.rows.len() >= fed,
        _ => false,
    }
}

/// What an explanation changes: of a cause of the whole bar at sizes that stand for all that the readings leave it, of others where
/// the readings are met best.
fn at_sizes(
    of: &CauseCurves<'_>,
    found: &Posterior<'_>,
    what: What,
    solver: &mut crate::hydraulics::faulty::FaultSolver<'_>,
) -> Vec<Effect> {
    let best = found.effect(what);
    let What::One(fitted) = what else { return vec![best] };
    if !is_of_the_whole(of, found, what) {
        return vec![best];
    }
    let solved = found.curve(&fitted);
    let Some(shown) = of.shown_of(solver, &best) else { return vec![best] };
    let standing = sizes(&found.space, (solved, fitted.best), None, &shown).standing_for_all(SIZES);
    if standing.is_empty() {
        vec![best]
    } else {
        standing.into_iter().map(|one| effect(solved, one)).collect()
    }
}

impl Looking<'_, '_, '_> {
    /// What it tells, and what each outcome would mean.
    fn weighed(&self, measured: Measured) -> NextLook {
        let odds: Vec<f64> = self.leading.iter().map(|one| one.odds).collect();
        let causes: Vec<What> = self.leading.iter().map(|one| one.what).collect();
        let gain_bits = information(&odds, &causes, &measured.apart) / std::f64::consts::LN_2;
        // The likeliest first, so that an outcome is told by what it most likely is.
        let mut order: Vec<usize> = (0..odds.len()).collect();
        order.sort_by(|a, b| odds[*b].total_cmp(&odds[*a]));
        let words = |causes: &[usize]| self.words(&measured.seen, causes);
        let mut told: Vec<(usize, Vec<usize>)> = Vec::new();
        for at in order {
            let near = |one: &&mut (usize, Vec<usize>)| {
                let apart = (&measured.apart[one.0] - &measured.apart[at]).norm();
                apart <= TOLD || words(&[one.0]) == words(&[at])
            };
            match told.iter_mut().find(near) {
                Some(known) => known.1.push(at),
                None => told.push((at, vec![at])),
            }
        }
        // Sizes of one cause that are told apart mean the same: what is seen then is from the one to the other.
        let mut outcomes: Vec<(Vec<usize>, String, f64)> = Vec::new();
        for (first, all) in told {
            let (means, odds) = (self.means(&all), all.iter().map(|at| odds[*at]).sum::<f64>());
            match outcomes.iter_mut().find(|one| one.1 == means) {
                Some(known) => {
                    known.0.push(first);
                    known.2 += odds;
                }
                None => outcomes.push((vec![first], means, odds)),
            }
        }
        let outcome = |(firsts, means, odds): (Vec<usize>, String, f64)| LookOutcome {
            seen: words(&firsts),
            means,
            odds,
        };
        let mut outcomes: Vec<LookOutcome> = outcomes.into_iter().map(outcome).collect();
        outcomes.sort_by(|a, b| b.odds.total_cmp(&a.odds));
        NextLook { action: measured.action, what: measured.what, gain_bits, outcomes }
    }

    /// What an outcome would mean that so many causes have.
    fn means(&self, causes: &[usize]) -> String {
        let mut names: Vec<(String, f64)> = Vec::new();
        for one in causes.iter().map(|at| &self.leading[*at]) {
            let name = self.name(one.what);
            match names.iter_mut().find(|known| known.0 == name) {
                Some(known) => known.1 += one.odds,
                None => names.push((name, one.odds)),
            }
        }
        names.sort_by(|a, b| b.1.total_cmp(&a.1));
        let sum: f64 = names.iter().map(|one| one.1).sum();
        names.retain(|one| one.1 >= LEAST_NAMED * sum);
        one_of(&names.into_iter().map(|one| one.0).collect::<Vec<String>>())
    }

    fn name(&self, what: What) -> String {
        let ids = self.found.ids(what);
        if ids.is_empty() {
            return "nothing but scatter".to_owned();
        }
        let names: Vec<String> =
            ids.iter().map(|id| words::what(&self.of.of, id, &CauseSize::None)).collect();
        names.join(" together with ")
    }
}

/// `this; or that; or another cause that looks like these`.
fn one_of(names: &[String]) -> String {
    let mut all: Vec<String> = names.iter().take(NAMED).cloned().collect();
    if names.len() > NAMED {
        all.push("another cause that would look the same".to_owned());
    }
    all.join("; or ")
}

/// The least information about which of several causes it is that one of several outcomes brings, nats; see the module. Of what
/// an outcome tells, what it tells of sizes within a cause is taken off at its most, by the upper bound there:
/// `-Σ pᵢ ln Σ pⱼ exp(-dᵢⱼ²/2)`.
fn information(odds: &[f64], causes: &[What], apart: &[DVector<f64>]) -> f64 {
    let told = |those: &[usize], narrow: f64| -> f64 {
        let sum: f64 = those.iter().map(|at| odds[*at]).sum();
        let near = |at: usize| -> f64 {
            let of = |other: &usize| {
                odds[*other] / sum * (-(&apart[at] - &apart[*other]).norm_squared() / narrow).exp()
            };
            those.iter().map(of).sum()
        };
        let each = those.iter().filter(|at| odds[**at] > 0.0);
        -each.map(|at| odds[*at] * near(*at).ln()).sum::<f64>()
    };
    let all: Vec<usize> = (0..odds.len()).collect();
    let mut sizes = 0.0;
    for at in 0..odds.len() {
        if causes[..at].contains(&causes[at]) {
            continue;
        }
        let same: Vec<usize> = all.iter().copied().filter(|other| causes[*other] == causes[at]).collect();
        sizes += told(&same, 2.0);
    }
    (told(&all, 8.0) - sizes).max(0.0)
}

#[cfg(test)]
mod tests {
    use super::super::evidence::{Best, Fitted};
    use super::*;

    /// By hand: outcomes that are alike tell nothing, outcomes far apart tell all there is to know (the entropy of the odds);
    /// two causes of even odds two standard deviations apart give `-ln((1 + exp(-1/2))/2)` = 0.2191 nats, below the 0.336 nats
    /// that a channel of two signals of that distance carries at most (Gaussian noise, from memory). Two sizes of one cause far
    /// apart from each other tell nothing of the cause.
    #[test]
    fn information_lies_between_nothing_and_all() {
        let at = |x: f64| DVector::from_element(1, x);
        let cause = |curve: usize| What::One(Fitted { curve, best: Best { place: 0, part: 0.0 } });
        let two =
            |odds: [f64; 2], to: f64| information(&odds, &[What::Scatter, cause(1)], &[at(1.0), at(to)]);
        assert!(two([0.3, 0.7], 1.0).abs() < 1e-12);
        let entropy = -(0.3_f64 * 0.3_f64.ln() + 0.7 * 0.7_f64.ln());
        assert!((two([0.3, 0.7], 51.0) - entropy).abs() < 1e-9);
        let near = two([0.5, 0.5], 3.0);
        assert!((near - 0.2191).abs() < 1e-3, "{near}");
        let sizes = [cause(1), cause(1), What::Scatter];
        let told = information(&[0.35, 0.35, 0.3], &sizes, &[at(0.0), at(50.0), at(100.0)]);
        assert!((told - entropy).abs() < 1e-9, "{told}");
        assert!(information(&[0.5, 0.5], &sizes[..2], &[at(0.0), at(50.0)]).abs() < 1e-12);
    }
}
