//! The smallest bores of hoses and delivery tubes that keep velocity, evenness and pressure at every speed of every duty,
//! each with what the next size up or down would bring.
//!
//! Hoses that pass the same flow and are of one stock are sized together, so that both wings of a bar stay alike. Sizing
//! begins with the narrowest hose that keeps the velocity and widens, one size at a time, whichever hose brings the most,
//! until the rows are even and the supply gives what is asked. Each size has the lengths that it needs: a wider hose bends
//! less tight, so that its free pieces at hinges are longer, and one for which no length serves is not taken.

use super::super::asked::{NoAnswer, Waiting};
use super::super::report::Lines;
use super::super::trial::{Judge, Requirement};
use super::choice::{BoreChoice, BoreTrial};
use super::ground::Ground;
use crate::hydraulics::KeptSolver;
use crate::hydraulics::outcome::ElementOutcome;
use crate::plan::feed::with_tube;
use crate::plan::joints::{EndFit, barb_for, between_entries, outlet_joint};
use crate::plan::pressure_bound::NO_MARGIN;
use crate::plan::{
    Catalogue, CrossingBasis, End, FeedElement, FeedId, HoseStock, LineGeometry, Project, Routing,
    RoutingGeometry, Run, RunId, StockItem, StockKey,
};
use crate::quantities::{Pressure, Ratio, Speed};

/// Flows count as equal within this share.
const SAME_FLOW: f64 = 0.02;
/// How often a bore is widened at most.
const MOST_STEPS: usize = 40;

/// The routing with its hoses and tubes as wide as they have to be; those that could be narrower stay.
pub(super) fn widened(catalogue: &Catalogue, routing: &Routing, bores: &[BoreChoice]) -> Routing {
    let mut next = routing.clone();
    for one in bores.iter().filter(|one| one.least.bore > one.now.bore) {
        put(catalogue, &mut next, &one.lines, &one.least.stock);
    }
    next
}

/// Makes lines of another stock.
fn put(catalogue: &Catalogue, routing: &mut Routing, lines: &Lines, stock: &StockKey) {
    match lines {
        Lines::Hoses(runs) => {
            for run in routing.runs.iter_mut().filter(|run| runs.contains(&run.id)) {
                with_stock(catalogue, run, stock);
            }
        }
        Lines::Tubes(feeds) => {
            for feed in routing.feeds.iter_mut().filter(|feed| feeds.contains(&feed.id)) {
                *feed = with_tube(feed, stock);
            }
        }
    }
}

/// A group of lines with the stocks it may be of, the narrowest first.
struct Group {
    lines: Lines,
    tags: Vec<String>,
    stocks: Vec<(StockKey, HoseStock)>,
    now: usize,
    at: usize,
}

/// What all points come to with one set of bores.
struct Whole {
    /// Of each group.
    velocity: Vec<Speed>,
    /// Of each group: no hinge is known to be crossed at no length.
    crosses: Vec<bool>,
    cv: Option<Ratio>,
    pump: Option<Pressure>,
    /// How far evenness and pressure are beyond their limits; 0 where they are kept.
    beyond: f64,
    /// By how much of what bounds it the pump's pressure lacks its margin; 0 where it has it.
    tight: f64,
}

impl Whole {
    /// How far all that can be missed is missed, the margin too.
    fn lacks(&self) -> f64 {
        self.beyond + self.tight
    }
}

/// Sizes hoses and tubes of a routing that has its metering.
pub(super) fn bores(
    ground: &Ground,
    routing: Routing,
    waiting: &dyn Waiting,
) -> Result<Vec<BoreChoice>, NoAnswer> {
    let project = ground.project();
    let sizing = Sizing { ground };
    let mut groups = sizing.groups(&routing);
    let limit = project.limits.hose_velocity;
    let first = sizing.whole(&routing, &groups);
    for (group, velocity) in groups.iter_mut().zip(&first.velocity) {
        let now = group.stocks[group.now].1.bore;
        let too_fast = |stock: &HoseStock| *velocity * (now / stock.bore) * (now / stock.bore) > limit;
        let most = group.stocks.len() - 1;
        group.at = group.stocks.iter().position(|(_, stock)| !too_fast(stock)).unwrap_or(most);
        if let Lines::Tubes(feeds) = &group.lines {
            let fits = |stock: &StockKey| ends_fit(project, &routing, feeds, stock);
            let fitting = (group.at..=most).find(|place| fits(&group.stocks[*place].0));
            group.at = fitting.unwrap_or(group.at);
        }
    }
    if sizing.widen(&routing, &mut groups, |whole| whole.beyond, waiting)? {
        // A margin where it can be had; where it can't, nobody widens for it.
        let before: Vec<usize> = groups.iter().map(|group| group.at).collect();
        if !sizing.widen(&routing, &mut groups, Whole::lacks, waiting)? {
            groups.iter_mut().zip(before).for_each(|(group, at)| group.at = at);
        }
    }
    let sized = sizing.whole(&sizing.with(&routing, &groups), &groups);
    let serves_as_is = first.beyond <= 0.0 && first.velocity.iter().all(|velocity| *velocity <= limit);
    let is_needed = !serves_as_is || (first.tight > 0.0 && sized.lacks() <= 0.0);
    let mut found = Vec::new();
    for place in 0..groups.len() {
        if waiting.has_stopped() {
            return Err(NoAnswer::Stopped);
        }
        let (chosen, now, most) = {
            let group = &groups[place];
            (group.at, group.now, group.stocks.len() - 1)
        };
        let mut trial = |at: usize| {
            let before = std::mem::replace(&mut groups[place].at, at);
            let whole = sizing.whole(&sizing.with(&routing, &groups), &groups);
            groups[place].at = before;
            let group = &groups[place];
            let crosses = whole.crosses[place];
            let (stock, dimensions) = &group.stocks[at];
            let velocity = whole.velocity[place];
            let ends_fit = match &group.lines {
                Lines::Hoses(_) => true,
                Lines::Tubes(feeds) => ends_fit(project, &routing, feeds, stock),
            };
            BoreTrial {
                stock: stock.clone(),
                bore: dimensions.bore,
                velocity,
                cv: whole.cv,
                pump: whole.pump,
                ends_fit,
                has_margin: whole.tight <= 0.0,
                crosses,
                keeps: whole.beyond <= 0.0 && velocity <= limit && crosses,
            }
        };
        let (least, now) = (trial(chosen), trial(now));
        let up = (chosen < most).then(|| trial(chosen + 1));
        let down = chosen.checked_sub(1).map(&mut trial);
        let group = &groups[place];
        let recommended = is_needed && least.keeps && least.bore > now.bore;
        let (lines, tags) = (group.lines.clone(), group.tags.clone());
        found.push(BoreChoice { lines, tags, now, least, recommended, up, down });
    }
    Ok(found)
}

/// A hose of other stock: fittings that it has become the barbs of the catalogue for the new bore.
pub fn with_stock(catalogue: &Catalogue, run: &mut Run, stock: &StockKey) {
    if run.line.stock == *stock {
        return;
    }
    run.line.stock = stock.clone();
    if let Some(barb) = barb_for(catalogue, stock) {
        run.fittings.iter_mut().for_each(|fitting| fitting.clone_from(&barb));
    }
}

/// Tubes of a stock go together with the outlets they hang on and with what they lead to, as they are.
fn ends_fit(project: &Project, routing: &Routing, feeds: &[FeedId], stock: &StockKey) -> bool {
    routing.feeds.iter().filter(|feed| feeds.contains(&feed.id)).all(|feed| {
        let part = feed.from.port().and_then(|port| routing.part(port.part));
        let outlet = part.and_then(|part| outlet_joint(project, &part.entry, stock));
        let stretches =
            std::iter::once(&feed.trunk).chain(feed.branches.iter().map(|branch| &branch.elements));
        let mut next = stretches.flat_map(|elements| elements.windows(2)).filter_map(|pair| match pair {
            [FeedElement::Tube(_), next] => between_entries(project, stock, next.entry()),
            _ => None,
        });
        let needs_a_piece = |joint: &EndFit| matches!(joint, EndFit::With(_));
        !outlet.as_ref().is_some_and(needs_a_piece) && !next.any(|joint| needs_a_piece(&joint))
    })
}

struct Sizing<'a> {
    ground: &'a Ground<'a>,
}

impl Sizing<'_> {
    /// Hoses that pass the same flow and are of one stock, the most flow first, then the delivery tubes.
    fn groups(&self, routing: &Routing) -> Vec<Group> {
        let project = self.ground.project();
        let geometry = RoutingGeometry::working(project, routing);
        let mut kept = KeptSolver::default();
        let mut network = kept.prepare(project, geometry.with(routing));
        let outcomes: Vec<_> = self.ground.points.iter().map(|points| network.solve(&points[2])).collect();
        let flow = |run: &Run| outcomes.iter().map(|one| one.flow_of(run.id).abs()).fold(0.0, f64::max);
        let mut flows: Vec<(f64, &Run)> =
            routing.runs.iter().map(|run| (flow(run), run)).filter(|(flow, _)| *flow > 0.0).collect();
        flows.sort_by(|a, b| b.0.total_cmp(&a.0));
        let mut together: Vec<(f64, &StockKey, Vec<&Run>)> = Vec::new();
        for (flow, run) in flows {
            let same = |one: &&mut (f64, &StockKey, Vec<&Run>)| {
                *one.1 == run.line.stock && (flow / one.0 - 1.0).abs() <= SAME_FLOW
            };
            match together.iter_mut().find(same) {
                Some(group) => group.2.push(run),
                None => together.push((flow, &run.line.stock, vec![run])),
            }
        }
        let mut groups: Vec<Group> = together
            .into_iter()
            .filter_map(|(_, stock, runs)| {
                let is_kind = |item: &StockItem| matches!(item, StockItem::Hose(_));
                let stocks = sizes(project, stock, is_kind)?;
                let now = stocks.iter().position(|one| one.0 == *stock)?;
                let ids: Vec<RunId> = runs.iter().map(|run| run.id).collect();
                let tags = runs.iter().map(|run| run.tag.clone()).collect();
                Some(Group { lines: Lines::Hoses(ids), tags, stocks, now, at: now })
            })
            .collect();
        let mut tubes: Vec<(&StockKey, Vec<FeedId>)> = Vec::new();
        for feed in routing.feeds.iter().filter(|feed| matches!(feed.from, End::Port(_))) {
            let Some(tube) = feed.first_tube() else { continue };
            match tubes.iter_mut().find(|one| *one.0 == tube.line.stock) {
                Some(group) => group.1.push(feed.id),
                None => tubes.push((&tube.line.stock, vec![feed.id])),
            }
        }
        groups.extend(tubes.into_iter().filter_map(|(stock, feeds)| {
            let stocks = sizes(project, stock, |item| matches!(item, StockItem::Tube(_)))?;
            let now = stocks.iter().position(|one| one.0 == *stock)?;
            Some(Group { lines: Lines::Tubes(feeds), tags: Vec::new(), stocks, now, at: now })
        }));
        groups
    }

    /// The routing with the bores that the groups are at.
    fn with(&self, routing: &Routing, groups: &[Group]) -> Routing {
        let mut next = routing.clone();
        let catalogue = &self.ground.project().catalogue;
        for group in groups {
            put(catalogue, &mut next, &group.lines, &group.stocks[group.at].0);
        }
        next
    }

    /// Widens hoses, one size at a time, whichever brings the most, until nothing is lacking; whether that was reached.
    fn widen(
        &self,
        routing: &Routing,
        groups: &mut [Group],
        lacks: impl Fn(&Whole) -> f64,
        waiting: &dyn Waiting,
    ) -> Result<bool, NoAnswer> {
        for _ in 0..MOST_STEPS {
            if waiting.has_stopped() {
                return Err(NoAnswer::Stopped);
            }
            let now = lacks(&self.whole(&self.with(routing, groups), groups));
            if now <= 0.0 {
                return Ok(true);
            }
            let mut best: Option<(f64, usize)> = None;
            for place in 0..groups.len() {
                if groups[place].at + 1 >= groups[place].stocks.len()
                    || matches!(groups[place].lines, Lines::Tubes(_))
                {
                    continue;
                }
                groups[place].at += 1;
                let whole = self.whole(&self.with(routing, groups), groups);
                groups[place].at -= 1;
                let then = lacks(&whole);
                if whole.crosses[place] && then < now - 1e-9 && best.is_none_or(|(known, _)| then < known) {
                    best = Some((then, place));
                }
            }
            let Some((_, place)) = best else { return Ok(false) };
            groups[place].at += 1;
        }
        Ok(false)
    }

    fn whole(&self, routing: &Routing, groups: &[Group]) -> Whole {
        let project = self.ground.project();
        let limits = &project.limits;
        let judge = Judge::new(project, routing, None);
        let geometry = RoutingGeometry::working(project, routing);
        let mut kept = KeptSolver::default();
        let mut network = kept.prepare(project, geometry.with(routing));
        let mut whole = Whole {
            velocity: vec![Speed::ZERO; groups.len()],
            crosses: groups.iter().map(|group| crosses(&geometry, &group.lines)).collect(),
            cv: None,
            pump: None,
            beyond: 0.0,
            tight: 0.0,
        };
        for point in self.ground.points.iter().flatten() {
            let outcome = network.solve(point);
            let judged = judge.of(&outcome);
            let over = |value: Option<Ratio>, limit: Ratio| {
                value.map_or(1.0, |value| (value / limit - 1.0).max(0.0))
            };
            let missing = judged.missing.map_or(0.0, |missing| missing / outcome.target_total);
            let failed = if judged.broken.contains(&Requirement::Pressure) && judged.missing.is_none() {
                1.0
            } else {
                0.0
            };
            // Where the pump's flow does not follow the speed, wider bores change what the rows get in all.
            let off = if project.supply.follows_speed() {
                0.0
            } else {
                over(judged.farthest.map(|(_, one)| one.abs()), limits.row_deviation)
            };
            let here = over(judged.cv, limits.cv_good)
                + over(judged.spread, limits.design_deviation)
                + off
                + missing
                + failed;
            whole.beyond = whole.beyond.max(here);
            whole.cv = whole.cv.into_iter().chain(judged.cv).reduce(Ratio::max);
            whole.pump = whole.pump.into_iter().chain(judged.pump).reduce(Pressure::max);
            for (group, most) in groups.iter().zip(&mut whole.velocity) {
                let velocities: Vec<Speed> = match &group.lines {
                    Lines::Hoses(runs) => {
                        let own = outcome.runs().iter().filter(|run| runs.contains(&run.run));
                        own.filter_map(|run| run.velocity).collect()
                    }
                    Lines::Tubes(feeds) => {
                        let own = outcome.elements().iter().filter(|one| feeds.contains(&one.feed));
                        own.filter(|one| is_tube(routing, one)).filter_map(|one| one.velocity).collect()
                    }
                };
                *most = velocities.into_iter().fold(*most, Speed::max);
            }
        }
        let margin = self.ground.bound.as_ref().zip(whole.pump).map(|(bound, pump)| bound.margin(pump));
        whole.tight = margin.map_or(0.0, |margin| (NO_MARGIN - margin).si().max(0.0));
        whole
    }
}

/// At every hinge that these lines cross a length serves, as far as that is known.
fn crosses(geometry: &RoutingGeometry, lines: &Lines) -> bool {
    let serves = |line: &LineGeometry| {
        line.crossings.iter().all(|one| match &one.basis {
            CrossingBasis::Entered(Err(why)) | CrossingBasis::Assumed(why) => !why.is_too_tight(),
            CrossingBasis::Entered(Ok(_)) | CrossingBasis::Computed(_) => true,
        })
    };
    match lines {
        Lines::Hoses(runs) => runs.iter().filter_map(|run| geometry.run(*run)).all(serves),
        Lines::Tubes(feeds) => {
            feeds.iter().filter_map(|feed| geometry.feed(*feed)).all(|feed| feed.tubes().all(serves))
        }
    }
}

fn is_tube(routing: &Routing, one: &ElementOutcome) -> bool {
    let feed = routing.feed(one.feed);
    let element = feed.and_then(|feed| match one.branch {
        None => feed.trunk.get(one.index),
        Some(branch) => feed.branches.get(branch)?.elements.get(one.index),
    });
    matches!(element, Some(FeedElement::Tube(_)))
}

/// The stocks that one may be replaced with, one of each bore, the narrowest first: those that stand what it stands or the
/// supply can give, and that no liquid attacks; of one bore the one in use, or else the first.
fn sizes(
    project: &Project,
    now: &StockKey,
    is_kind: impl Fn(&StockItem) -> bool,
) -> Option<Vec<(StockKey, HoseStock)>> {
    let own = project.catalogue.stock(now)?;
    let rated = own.rated.min(project.supply.highest_pressure());
    let mut all: Vec<(StockKey, HoseStock)> = project
        .catalogue
        .of::<StockKey>()
        .filter(|(key, item)| {
            let suits = || item.dimensions().rated >= rated && project.attacked(key.any()).is_empty();
            key == now || (is_kind(item) && suits())
        })
        .map(|(key, item)| (key, *item.dimensions()))
        .collect();
    all.sort_by(|a, b| a.1.bore.si().total_cmp(&b.1.bore.si()).then((b.0 == *now).cmp(&(a.0 == *now))));
    all.dedup_by(|later, kept| later.1.bore == kept.1.bore);
    Some(all)
}
