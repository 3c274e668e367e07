//! From likelihoods to odds: one fault, two at once, and none, in groups that the readings can't part.
//!
//! Each cause has its odds before the test against nothing but scatter ([`CauseWeights`]); causes are independent, so that two at
//! once have the product of theirs. Three at once are not named: what they would explain counts as "none of these", but where the third
//! shows next to nothing. A cause belongs to a group when what it would show lies so
//! near to what the group's likeliest member would show that the readings speak no louder for one than for the other; one that
//! would show next to nothing belongs to "nothing but scatter".

use nalgebra::DVector;

use super::answer::CauseId;
use super::curve::{At, Effect};
use super::evidence::{
    Best, ByScatter, Fitted, Residual, SCATTER, UNKNOWN, White, by_scatter, ln_of_sum, mean_scatter,
    nearest_scatter, together,
};
use super::pair::{Pair, small_ones};
use super::solved::{CauseCurves, SolvedCurve};
use super::space::Space;
use super::third;
use crate::plan::cause_weights::{CauseKind, CauseWeights};
use crate::studies::catch_test::readings::{PressureReading, RowReading};
use crate::studies::{NoAnswer, Waiting};

/// So many spreads apart, readings can't part two causes: the odds between them change by less than e² (7 to 1) as a rule.
pub(super) const APART: f64 = 2.0;
/// Single causes that are looked at for groups, the likeliest.
const GROUPED: usize = 400;
/// Single causes that the engine solves again where the readings are met best.
const REFINED: usize = 60;
/// Groups that are tried together with a second cause.
const LEADS: usize = 24;
/// Second causes of one lead that are told apart.
const SECONDS: usize = 48;
/// Pairs of groups that are solved by the engine at most, and how often each is fitted again.
const SOLVED_PAIRS: usize = 32;
const PAIR_ROUNDS: usize = 3;
/// Solved pairs that are looked at with a third cause.
const THIRDS: usize = 4;
/// A pair whose logarithm lies so far below that of all is not solved.
const UNSOLVED: f64 = 5.0;
/// A pair of groups that is less likely than this counts among all that is possible, but is not looked at.
const NAMED_PAIR: f64 = 1e-5;
/// A member of a pair of groups that is less likely than this is not named.
const NAMED: f64 = 1e-6;

/// One explanation.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Item {
    pub(super) what: What,
    /// Its odds, 0 to 1.
    pub(super) odds: f64,
}

/// What it is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum What {
    Scatter,
    NoneOfThese,
    One(Fitted),
    Two(Fitted, Fitted),
}

impl What {
    /// The causes that it names.
    pub(super) fn fitted(self) -> Vec<Fitted> {
        match self {
            Self::Scatter | Self::NoneOfThese => Vec::new(),
            Self::One(one) => vec![one],
            Self::Two(one, other) => vec![one, other],
        }
    }
}

/// Explanations that can't be told apart.
#[derive(Debug, Clone)]
pub(super) struct Group {
    pub(super) odds: f64,
    /// The likeliest first.
    pub(super) items: Vec<Item>,
    /// What its likeliest member would show, whitened.
    pub(super) shows: DVector<f64>,
}

/// All that the readings say of causes.
pub(super) struct Posterior<'c> {
    pub(super) space: Space,
    pub(super) curves: Vec<std::borrow::Cow<'c, SolvedCurve>>,
    /// The likeliest first.
    pub(super) groups: Vec<Group>,
    /// How far the readings scatter against what was assumed.
    pub(super) scatter: f64,
}

/// A single cause while groups are made.
struct Single {
    fitted: Fitted,
    ln: ByScatter,
    ln_together: f64,
    /// By how much the engine differs at its best place from what lies evenly between two solved ones, whitened.
    bend: Option<DVector<f64>>,
}

struct Cluster {
    singles: Vec<usize>,
    shows: DVector<f64>,
    /// Of all its single causes, and of these with what a small second one adds.
    alone: f64,
    ln: f64,
}

impl Cluster {
    fn new(shows: DVector<f64>) -> Self {
        Self { singles: Vec::new(), shows, alone: f64::NEG_INFINITY, ln: f64::NEG_INFINITY }
    }
}

/// What the readings of a test say, rows and gauges, with the scatter of the supply.
pub(super) fn posterior<'c>(
    of: &'c CauseCurves<'_>,
    (rows, gauges, supply_sd): (&[RowReading], &[PressureReading], f64),
    weights: &CauseWeights,
    waiting: &dyn Waiting,
) -> Result<Posterior<'c>, NoAnswer> {
    let space = Space::new(of, rows, gauges, supply_sd)?;
    let own = of.of_readings(&space.rows, &space.gauges).into_iter().map(std::borrow::Cow::Owned);
    let curves: Vec<std::borrow::Cow<'c, SolvedCurve>> =
        of.curves.iter().map(std::borrow::Cow::Borrowed).chain(own).collect();
    let weighing = Weighing::new(of, &space, &curves, weights)?;
    let (groups, scatter) = weighing.groups(waiting)?;
    Ok(Posterior { space, curves, groups, scatter })
}

struct Weighing<'w, 'c, 'a> {
    of: &'w CauseCurves<'a>,
    space: &'w Space,
    curves: &'w [std::borrow::Cow<'c, SolvedCurve>],
    white: White,
    /// Logarithm of the odds of each curve against nothing but scatter, before the test.
    ln_before: Vec<f64>,
    ln_unknown_before: f64,
}

impl<'w, 'c, 'a> Weighing<'w, 'c, 'a> {
    fn new(
        of: &'w CauseCurves<'a>,
        space: &'w Space,
        curves: &'w [std::borrow::Cow<'c, SolvedCurve>],
        weights: &CauseWeights,
    ) -> Result<Self, NoAnswer> {
        let scatter = weights.of(CauseKind::ScatterOnly);
        if !(scatter > 0.0) {
            return Err(NoAnswer::impossible(
                "nothing but scatter has a weight of 0",
                "give in about how many of 100 catch tests nothing is at fault",
            ));
        }
        let refs: Vec<&SolvedCurve> = curves.iter().map(|one| &**one).collect();
        let before = |one: &&SolvedCurve| (weights.of(one.curve.id.kind) / scatter * one.curve.share).ln();
        Ok(Self {
            of,
            space,
            white: White::new(space, &refs),
            ln_before: refs.iter().map(before).collect(),
            ln_unknown_before: (weights.of(CauseKind::NoneOfThese) / scatter).ln(),
            curves,
        })
    }

    fn groups(&self, waiting: &dyn Waiting) -> Result<(Vec<Group>, f64), NoAnswer> {
        let count = self.space.count();
        let residual = self.white.residual(&self.space.data);
        let square = self.space.data.norm_squared();
        let nothing = by_scatter(count, |_, scatter| -square / (2.0 * scatter * scatter));
        let mut singles: Vec<Single> = (0..self.curves.len())
            .filter(|curve| self.ln_before[*curve].is_finite())
            .map(|curve| self.single(curve, &residual))
            .collect();
        if waiting.has_stopped() {
            return Err(NoAnswer::Stopped);
        }
        let unknown: Vec<f64> = UNKNOWN
            .iter()
            .map(|scatter| -square / (2.0 * scatter * scatter) - count as f64 * scatter.ln())
            .collect();
        let ln_unknown = self.ln_unknown_before + ln_of_sum(&unknown) - (UNKNOWN.len() as f64).ln();
        let mut solver = self.of.solver.clone();
        singles.sort_by(|a, b| b.ln_together.total_cmp(&a.ln_together));
        for single in singles.iter_mut().take(REFINED) {
            *single = self.refined(single, &mut solver);
        }
        singles.sort_by(|a, b| b.ln_together.total_cmp(&a.ln_together));
        waiting.so_far(0.3);
        let scatter = scatter_of(&nothing, &singles);
        let scale = nearest_scatter(scatter);
        let apart = APART * scatter;
        let (mut clusters, cluster_of) = self.clusters(&singles, apart);
        // Nothing but scatter with all that would show next to nothing, up to three of these at once.
        let nothing_alone = together(&nothing);
        clusters[0].ln = nothing_alone + small_ones(clusters[0].alone - nothing_alone, 3);
        let mut pairs: Vec<Pair> = Vec::new();
        for lead in (1..clusters.len()).take(LEADS) {
            if waiting.has_stopped() {
                return Err(NoAnswer::Stopped);
            }
            let first_pair = pairs.len();
            let with_small = self.seconds(lead, &clusters, &singles, &cluster_of, (scale, apart), &mut pairs);
            let small = with_small - clusters[lead].alone;
            clusters[lead].ln = clusters[lead].alone + small_ones(small, 2);
            for pair in &mut pairs[first_pair..] {
                pair.gain(small_ones(small, 1));
            }
        }
        waiting.so_far(0.5);
        let of_others: Vec<f64> = clusters.iter().map(|one| one.ln).chain([ln_unknown]).collect();
        let mut is_solved = vec![false; pairs.len()];
        for done in 0..SOLVED_PAIRS {
            waiting.so_far(0.5 + 0.5 * done as f32 / SOLVED_PAIRS as f32);
            if waiting.has_stopped() {
                return Err(NoAnswer::Stopped);
            }
            // The likeliest that is not solved yet: a sum of two effects may be far too good.
            let unsolved = (0..pairs.len()).filter(|at| !is_solved[*at]);
            let Some(at) = unsolved.max_by(|a, b| pairs[*a].ln.total_cmp(&pairs[*b].ln)) else { break };
            let solved = pairs.iter().zip(&is_solved).filter(|one| *one.1).map(|one| one.0.ln);
            let known = ln_of_sum(&of_others.iter().copied().chain(solved).collect::<Vec<f64>>());
            if pairs[at].ln < known - UNSOLVED {
                break;
            }
            self.solve(&mut pairs[at], &clusters, &singles, &mut solver);
            is_solved[at] = true;
        }
        pairs.sort_by(|a, b| b.ln.total_cmp(&a.ln));
        let ln_unknown = ln_of_sum(&[ln_unknown, self.three(&pairs, &clusters, &singles)]);
        Ok((self.together(&clusters, &singles, &pairs, (nothing_alone, ln_unknown), apart), scatter))
    }

    fn single(&self, curve: usize, residual: &Residual) -> Single {
        let (fitted, by) = self.fitted(curve, residual);
        let ln = by_scatter(self.space.count(), |at, _| by[at] + self.ln_before[curve]);
        Single { fitted, ln_together: together(&ln), ln, bend: None }
    }

    /// A curve where it meets the readings best, and its evidence at each scatter, without its odds before the test.
    fn fitted(&self, curve: usize, residual: &Residual) -> (Fitted, ByScatter) {
        let mut most = (f64::NEG_INFINITY, Best { place: 0, part: 0.0 });
        let by = SCATTER.map(|(scatter, _)| {
            let (ln, best) = self.white.evidence(curve, &self.curves[curve], residual, scatter);
            let here = ln - self.space.count() as f64 * scatter.ln();
            if here > most.0 {
                most = (here, best);
            }
            ln
        });
        (Fitted { curve, best: most.1 }, by)
    }

    /// Fits a cause again with what the engine gives at its best place.
    fn refined(&self, single: &Single, solver: &mut crate::hydraulics::faulty::FaultSolver<'_>) -> Single {
        let mut found =
            Single { fitted: single.fitted, ln: single.ln, ln_together: single.ln_together, bend: None };
        for _ in 0..2 {
            let Some(shown) = self.of.shown_of(solver, &self.effect(&found.fitted)) else { break };
            let bend = self.space.whiten(&self.space.raw(&shown))
                - self.white.at(found.fitted.curve, found.fitted.best);
            let residual = self.white.residual_of(found.fitted.curve, &(&self.space.data - &bend));
            found = Single { bend: Some(bend), ..self.single(found.fitted.curve, &residual) };
        }
        found
    }

    /// What a single cause shows where the readings are met best.
    fn shows(&self, single: &Single) -> DVector<f64> {
        let shows = self.white.at(single.fitted.curve, single.fitted.best);
        match &single.bend {
            Some(bend) => shows + bend,
            None => shows,
        }
    }

    /// Groups of single causes, the likeliest first behind nothing but scatter; and which group each is in.
    fn clusters(&self, singles: &[Single], apart: f64) -> (Vec<Cluster>, Vec<Option<usize>>) {
        let nothing = DVector::zeros(self.space.count());
        let mut clusters = vec![Cluster::new(nothing)];
        let mut cluster_of = vec![None; self.curves.len()];
        let near = apart * apart;
        for (at, single) in singles.iter().enumerate() {
            let shows = self.shows(single);
            let mut found = clusters.iter().position(|one| far(&one.shows, &shows) <= near);
            // What is too unlikely to lead a group of its own still belongs to the one it is nearest to.
            if found.is_none() && at >= GROUPED {
                found = nearest_cluster(&clusters, &shows);
            }
            let place = found.unwrap_or_else(|| {
                clusters.push(Cluster::new(shows));
                clusters.len() - 1
            });
            clusters[place].singles.push(at);
            clusters[place].alone = ln_of_sum(&[clusters[place].alone, single.ln_together]);
            clusters[place].ln = clusters[place].alone;
            cluster_of[single.fitted.curve] = Some(place);
        }
        (clusters, cluster_of)
    }

    /// Second causes beside a lead: adds those that show, and gives the logarithm of the lead with any other. Lead and second are
    /// weighed at one scatter, as assumed or what the single causes say, where they come out likelier: a lead that only a large
    /// scatter allows must not gain by its second as if scatter were small.
    fn seconds(
        &self,
        lead: usize,
        clusters: &[Cluster],
        singles: &[Single],
        cluster_of: &[Option<usize>],
        (scale, apart): (f64, f64),
        pairs: &mut Vec<Pair>,
    ) -> f64 {
        let first = &singles[clusters[lead].singles[0]].fitted;
        let left = &self.space.data - &clusters[lead].shows;
        let residual = self.white.residual(&left);
        let square = left.norm_squared();
        // With what the lead has by itself at each, and with that without what it leaves.
        let scales: Vec<(f64, f64, f64)> = SCATTER
            .iter()
            .enumerate()
            .filter(|(_, one)| one.0 == scale || one.0 == 1.0)
            .map(|(at, (scatter, part))| {
                let of: Vec<f64> = clusters[lead].singles.iter().map(|one| singles[*one].ln[at]).collect();
                let left = square / (2.0 * scatter * scatter);
                (*scatter, ln_of_sum(&of) + part.ln() + left, left)
            })
            .collect();
        let own = &self.curves[first.curve].curve;
        let mut small = Vec::new();
        let mut showing: Vec<(Fitted, f64, DVector<f64>)> = Vec::new();
        for curve in 0..self.curves.len() {
            if !self.ln_before[curve].is_finite() || own.is_of_the_same_thing(&self.curves[curve].curve) {
                continue;
            }
            let mut found = (f64::NEG_INFINITY, Best { place: 0, part: 0.0 }, f64::NEG_INFINITY);
            for (scatter, of_lead, left) in &scales {
                let (ln, best) = self.white.evidence(curve, &self.curves[curve], &residual, *scatter);
                if of_lead + ln > found.0 {
                    found = (of_lead + ln, best, left + ln);
                }
            }
            let (ln, best) = (found.0 + self.ln_before[curve], found.1);
            let shows = self.white.at(curve, best);
            if shows.norm_squared() <= apart * apart {
                // It is as good at any scatter, so that it goes with the lead at all of them.
                small.push(clusters[lead].alone + found.2 + self.ln_before[curve]);
            } else if cluster_of[curve].is_none_or(|other| other == 0 || other >= lead) {
                // With a lead before this one it was looked at the other way round.
                showing.push((Fitted { curve, best }, ln, shows));
            }
        }
        showing.sort_by(|a, b| b.1.total_cmp(&a.1));
        showing.truncate(SECONDS);
        let first_pair = pairs.len();
        for (second, ln, shows) in showing {
            let together = &clusters[lead].shows + &shows;
            let known =
                pairs[first_pair..].iter_mut().find(|pair| far(&pair.shows, &together) <= apart * apart);
            match known {
                Some(pair) => {
                    pair.seconds.push((second, ln));
                    pair.ln = ln_of_sum(&[pair.ln, ln]);
                }
                None => pairs.push(Pair {
                    lead,
                    seconds: vec![(second, ln)],
                    ln,
                    with_small: 0.0,
                    shows: together,
                    by: None,
                }),
            }
        }
        ln_of_sum(&small)
    }

    /// Fits both of a pair again, each beside the other, and takes what both do together from the engine. Two large effects do
    /// not add up, so that only what the engine gives at a fit says how well it meets the readings.
    fn solve(
        &self,
        pair: &mut Pair,
        clusters: &[Cluster],
        singles: &[Single],
        solver: &mut crate::hydraulics::faulty::FaultSolver<'_>,
    ) {
        let single = &singles[clusters[pair.lead].singles[0]];
        let (mut first, mut second) = (single.fitted, pair.seconds[0].0);
        let before = self.ln_before[first.curve] + self.ln_before[second.curve];
        let count = self.space.count();
        let mut best: Option<(f64, Fitted, DVector<f64>, ByScatter)> = None;
        for _ in 0..PAIR_ROUNDS {
            let effect = self.effect(&first).and(self.effect(&second));
            let Some(shown) = self.of.shown_of(solver, &effect) else { break };
            let together_show = self.space.whiten(&self.space.raw(&shown));
            let of = |fitted: &Fitted| self.white.at(fitted.curve, fitted.best);
            let bend = &together_show - of(&first) - of(&second);
            let data = &self.space.data - &bend;
            let square = (&self.space.data - &together_show).norm_squared();
            // How wide each is about its best place beside the other.
            let refit = |fitted: &Fitted, other: &Fitted| {
                let left = &data - of(other);
                let residual = self.white.residual_of(fitted.curve, &left);
                let (again, by) = self.fitted(fitted.curve, &residual);
                let square = (&left - of(&again)).norm_squared();
                let width: ByScatter = std::array::from_fn(|at| {
                    let (scatter, _) = SCATTER[at];
                    by[at] + square / (2.0 * scatter * scatter)
                });
                (again, width)
            };
            let (first_again, first_width) = refit(&first, &second);
            let (second_again, second_width) = refit(&second, &first_again);
            let by = by_scatter(count, |at, scatter| {
                before + (first_width[at] + second_width[at]) - square / (2.0 * scatter * scatter)
            });
            let ln = together(&by);
            if best.as_ref().is_none_or(|best| ln > best.0) {
                best = Some((ln, second, together_show, by));
            }
            if (first, second) == (first_again, second_again) {
                break;
            }
            (first, second) = (first_again, second_again);
        }
        // The others of both groups keep what they have beside these two.
        let was = pair.seconds[0].1 + single.ln_together - clusters[pair.lead].alone;
        let Some((ln, second, shows, by)) = best.filter(|best| was.is_finite() && best.0.is_finite()) else {
            return;
        };
        pair.change(ln + pair.with_small - was);
        pair.seconds[0].0 = second;
        pair.shows = shows;
        pair.by = Some(by);
    }

    /// Three at once: the likeliest pairs with a third cause. What one pair gains another finds too, so that the best counts.
    fn three(&self, pairs: &[Pair], clusters: &[Cluster], singles: &[Single]) -> f64 {
        let of = |(pair, by): (&Pair, &ByScatter)| {
            let first = singles[clusters[pair.lead].singles[0]].fitted.curve;
            let two = [first, pair.seconds[0].0.curve].map(|at| &self.curves[at].curve);
            let left = &self.space.data - &pair.shows;
            let is_new = |at: usize| !two.iter().any(|one| one.is_of_the_same_thing(&self.curves[at].curve));
            third::with_a_third(&self.white, self.curves, (&self.ln_before, &is_new), &left, by, APART)
                + pair.ln
                - pair.with_small
                - together(by)
        };
        let solved = pairs.iter().filter_map(|pair| Some((pair, pair.by.as_ref()?)));
        solved.take(THIRDS).map(of).fold(f64::NEG_INFINITY, f64::max)
    }

    fn effect(&self, fitted: &Fitted) -> Effect {
        effect(&self.curves[fitted.curve], fitted.best)
    }

    /// All groups with their odds.
    fn together(
        &self,
        clusters: &[Cluster],
        singles: &[Single],
        pairs: &[Pair],
        (nothing, unknown): (f64, f64),
        apart: f64,
    ) -> Vec<Group> {
        let lns = clusters.iter().map(|one| one.ln).chain(pairs.iter().map(|one| one.ln));
        let all: Vec<f64> = lns.chain([unknown]).collect();
        let total = ln_of_sum(&all);
        let odds = |ln: f64| (ln - total).exp();
        let mut groups: Vec<Group> = clusters
            .iter()
            .enumerate()
            .map(|(place, cluster)| {
                // What small second causes add goes to all members alike.
                let of_members =
                    if place == 0 { ln_of_sum(&[nothing, cluster.alone]) } else { cluster.alone };
                let more = cluster.ln - of_members;
                let one = |at: &usize| Item {
                    what: What::One(singles[*at].fitted),
                    odds: odds(singles[*at].ln_together + more),
                };
                let mut items: Vec<Item> = cluster.singles.iter().map(one).collect();
                if place == 0 {
                    items.insert(0, Item { what: What::Scatter, odds: odds(nothing + more) });
                }
                Group { odds: odds(cluster.ln), items, shows: cluster.shows.clone() }
            })
            .collect();
        groups.push(Group {
            odds: odds(unknown),
            items: vec![Item { what: What::NoneOfThese, odds: odds(unknown) }],
            shows: self.space.data.clone(),
        });
        let of_clusters = clusters.len();
        for (place, pair) in pairs.iter().enumerate() {
            // The likeliest is always named: it is what comes nearest.
            if place > 0 && odds(pair.ln) < NAMED_PAIR {
                break;
            }
            let lead = &clusters[pair.lead];
            let mut items = Vec::new();
            let least = if place == 0 { NAMED * odds(pair.ln) } else { NAMED };
            // All that count: what is cut here would be missing in the odds of the group.
            for at in &lead.singles {
                let share = singles[*at].ln_together - lead.alone;
                let each = pair.seconds.iter().map(|(second, ln)| (second, odds(ln + share)));
                let before = items.len();
                items.extend(
                    each.take_while(|(_, odds)| *odds >= least)
                        .map(|(second, odds)| Item { what: What::Two(singles[*at].fitted, *second), odds }),
                );
                if items.len() == before {
                    break;
                }
            }
            let near = |group: &Group| far(&group.shows, &pair.shows) <= apart * apart;
            let known = groups[..of_clusters]
                .iter()
                .position(near)
                .or_else(|| groups[of_clusters + 1..].iter().position(near).map(|at| at + of_clusters + 1));
            match known {
                Some(at) => {
                    groups[at].odds += odds(pair.ln);
                    groups[at].items.extend(items);
                }
                None => groups.push(Group { odds: odds(pair.ln), items, shows: pair.shows.clone() }),
            }
        }
        for group in &mut groups {
            group.items.sort_by(|a, b| b.odds.total_cmp(&a.odds));
        }
        groups.sort_by(|a, b| b.odds.total_cmp(&a.odds));
        groups
    }
}

/// What a cause changes where the readings are met best.
pub(super) fn effect(solved: &SolvedCurve, best: Best) -> Effect {
    solved.curve.effect(solved.curve.place_between(best.place, best.part))
}

/// Square of the distance between what two would show.
fn far(one: &DVector<f64>, other: &DVector<f64>) -> f64 {
    one.iter().zip(other.iter()).map(|(one, other)| (one - other) * (one - other)).sum()
}

fn nearest_cluster(clusters: &[Cluster], shows: &DVector<f64>) -> Option<usize> {
    let far = |at: &usize| far(&clusters[*at].shows, shows);
    (0..clusters.len()).min_by(|a, b| far(a).total_cmp(&far(b)))
}

/// The mean scatter, by what nothing and the likeliest single causes say.
fn scatter_of(nothing: &ByScatter, singles: &[Single]) -> f64 {
    let mut all = vec![*nothing];
    all.extend(singles.iter().take(GROUPED).map(|one| one.ln));
    mean_scatter(&all)
}

impl Posterior<'_> {
    /// The curve of a fitted cause.
    pub(super) fn curve(&self, fitted: &Fitted) -> &SolvedCurve {
        &self.curves[fitted.curve]
    }

    /// Where the readings are met best on the curve of a fitted cause.
    pub(super) fn place(&self, fitted: &Fitted) -> At {
        self.curve(fitted).curve.place_between(fitted.best.place, fitted.best.part)
    }

    /// What an explanation changes.
    pub(super) fn effect(&self, what: What) -> Effect {
        let of = |fitted: &Fitted| effect(self.curve(fitted), fitted.best);
        what.fitted().iter().map(of).fold(Effect::default(), Effect::and)
    }

    /// The causes that an explanation names.
    pub(super) fn ids(&self, what: What) -> Vec<&CauseId> {
        what.fitted().iter().map(|fitted| &self.curve(fitted).curve.id).collect()
    }
}
