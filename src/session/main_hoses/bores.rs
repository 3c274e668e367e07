//! Bores of new main hoses by what comes of them: velocity alone leaves thick liquids with mains that take most of the
//! pressure, and rows far from the pump with too little.

use std::collections::{BTreeMap, BTreeSet};

use crate::checks::{self, FindingSubject, Remedy};
use crate::hydraulics::{self, KeptSolver, Outcome};
use crate::plan::routing_geometry::run_computed;
use crate::plan::words::tags as tag_words;
use crate::plan::{
    Anchors, CrossingBasis, Edit, End, FittingKey, LaidRouting, Line, PartId, PartItem, PartKey, Project,
    Routing, RoutingGeometry, RowId, Run, RunId, StockItem, StockKey,
};
use crate::quantities::Measure;
use crate::session::Session;
use crate::session::how_far::goes_on;
use crate::session::row_sharing::{Scope, Share, share_out};

/// How often a hose is widened at most.
const MOST_STEPS: usize = 60;
/// Wider hoses have to be worth it: the coefficient of variation falls by this share at least.
const LEAST_GAIN: f64 = 0.1;

/// New mains may take this many times the coefficient of variation that counts as good, as a share of what the metering takes:
/// flow through an orifice goes with the root of the pressure, so that rows along a main that takes a share `s` lie within
/// `s / 2`, and spread evenly over that have a coefficient of variation of `s / 2 / √12`.
const SHARE_OF_GOOD: f64 = 6.9;

/// The hose from the pump: these commands lay it once and keep it, so that what they choose must not go by it.
pub(super) fn is_from_pump(run: &Run) -> bool {
    [run.from, run.to].contains(&End::Supply)
}

/// The fittings that are usual for a stock, going by what stays: not by new mains, of which some have elbows, nor by those that
/// they replace, or the same step twice would end otherwise than once.
pub(super) fn usual_fittings(
    session: &Session,
    stock: &StockKey,
    routing: &Routing,
    fresh: &BTreeSet<RunId>,
) -> Vec<FittingKey> {
    let kept = routing.runs.iter().rev().filter(|run| !fresh.contains(&run.id) && !is_from_pump(run));
    session.usual_fittings_among(stock, kept)
}

/// The same mains with the bores that suit them; and in words what is otherwise for the sake of a hinge. First the hose
/// from the pump by itself, with its elbows, as if the mains took nothing: it stays when mains are laid anew, and must then be the
/// same.
pub(super) fn chosen(
    session: &Session,
    mut laid: Routing,
    fresh: &BTreeSet<RunId>,
) -> (Routing, Vec<String>) {
    let from_pump: Vec<&Run> =
        laid.runs.iter().filter(|run| fresh.contains(&run.id) && is_from_pump(run)).collect();
    let from_pump: BTreeSet<RunId> = from_pump.into_iter().map(|run| run.id).collect();
    let mains: BTreeSet<RunId> = fresh.difference(&from_pump).copied().collect();
    let mut bent = Vec::new();
    if !from_pump.is_empty() {
        let mut trial = laid.clone();
        if let Some((_, widest)) = hoses_by_bore(session.project()).last() {
            for main in &mains {
                widen(session, &mut trial, *main, widest, fresh);
            }
        }
        let trial = widened(session, trial, &from_pump);
        for run in trial.runs.iter().filter(|run| from_pump.contains(&run.id)) {
            widen(session, &mut laid, run.id, &run.line.stock, fresh);
        }
        let (next, words) = that_bend(session, laid, &from_pump);
        laid = with_elbows(session, next, &from_pump);
        bent.extend(words);
    }
    let (laid, words) = that_bend(session, widened(session, laid, &mains), &mains);
    bent.extend(words);
    (laid, bent)
}

/// The same mains with the hoses widened that take the most pressure, one size after the other, until the rows are as even
/// as counts as good, the mains take no more of the pressure than suits that, and the supply gives what is asked, at the
/// three speeds of every duty; as they were where that helps little. Rows that hang nowhere yet are taken to hang on the
/// nearest manifold.
fn widened(session: &Session, laid: Routing, fresh: &BTreeSet<RunId>) -> Routing {
    let project = session.project();
    let trial = with_rows(session, &laid);
    let Some((first, mut outcome)) = worst(project, &trial, fresh) else { return laid };
    let (mut now, mut score) = (trial.clone(), first);
    let (mut best, mut best_score) = (trial, first);
    for step in 0..MOST_STEPS {
        if score <= 1.0 || !goes_on("wider hoses tried", step, None) {
            break;
        }
        let Some((run, wider)) = most_lossy(project, &now, fresh, &outcome) else { break };
        widen(session, &mut now, run, &wider, fresh);
        let Some((next_score, next)) = worst(project, &now, fresh) else { break };
        (score, outcome) = (next_score, next);
        if score < best_score {
            (best, best_score) = (now.clone(), score);
        }
    }
    if best_score > first * (1.0 - LEAST_GAIN) {
        return laid;
    }
    // Rows and plugs that were there for the trial stay out.
    let tees = best.parts.iter().filter(|part| is_tee(session, &best, part.id));
    let tees: BTreeMap<PartId, PartKey> = tees.map(|part| (part.id, part.entry.clone())).collect();
    let mut wide = Routing { runs: best.runs, ..laid };
    for part in &mut wide.parts {
        if let Some(entry) = tees.get(&part.id) {
            part.entry.clone_from(entry);
        }
    }
    wide
}

/// How bad a routing is as by [`worst`], with the rows that hang nowhere yet on the nearest manifold: mains that are laid first must
/// not be others than those that are laid once there are rows.
pub(super) fn worst_with_rows(session: &Session, routing: &Routing, fresh: &BTreeSet<RunId>) -> Option<f64> {
    worst(session.project(), &with_rows(session, routing), fresh).map(|one| one.0)
}

/// The routing with a feed for every row in use; as it is where that can't be made.
fn with_rows(session: &Session, laid: &Routing) -> Routing {
    let waiting =
        session.project().bar.rows.iter().filter(|row| {
            !row.left_out && laid.feed_of(row.id).is_none_or(|feed| feed.from.port().is_none())
        });
    let waiting: Vec<RowId> = waiting.map(|row| row.id).collect();
    if waiting.is_empty() {
        return laid.clone();
    }
    let scope = Scope::Rows(waiting);
    let edits = share_out(session.project(), session.duty(), laid, &session.frame(), &scope, Share::Nearest);
    let shared = edits.into_iter().flatten().find_map(|edit| match edit {
        Edit::PutRouting(routing) => Some(*routing),
        _ => None,
    });
    shared.unwrap_or_else(|| laid.clone())
}

/// The outcome that is worst, and how bad as a multiple of what counts as good: the coefficient of variation, what the
/// new mains take of the pressure, and what the supply lacks as a share of what is asked. None where nothing is fed.
fn worst(project: &Project, routing: &Routing, fresh: &BTreeSet<RunId>) -> Option<(f64, Outcome)> {
    let geometry = RoutingGeometry::working(project, routing);
    let mut solver = KeptSolver::default();
    let laid = geometry.with(routing);
    let mut prepared = solver.prepare(project, laid);
    let good = project.limits.cv_good.si().max(f64::MIN_POSITIVE);
    let points = project.duties.iter().flat_map(|duty| duty.speeds().map(|speed| duty.at(speed)));
    let scores = points.filter_map(|point| {
        let outcome = prepared.solve(&point);
        let lacks = outcome.at_limit().map_or(0.0, |(lack, _)| lack / outcome.target_total);
        let share = share_of_mains(project, laid, fresh, &outcome) / SHARE_OF_GOOD;
        Some(((outcome.evenness()?.cv.si().max(share) + lacks) / good, outcome))
    });
    scores.max_by(|a, b| a.0.total_cmp(&b.0))
}

/// The most that new mains take on the way to a manifold, as a share of the least that the metering of a row takes.
fn share_of_mains(
    project: &Project,
    routing: LaidRouting,
    fresh: &BTreeSet<RunId>,
    outcome: &Outcome,
) -> f64 {
    let drops = outcome.elements().iter().filter_map(|one| {
        let feed = routing.feed(one.feed)?;
        let element = match one.branch {
            None => feed.trunk.get(one.index)?,
            Some(branch) => feed.branches.get(branch)?.elements.get(one.index)?,
        };
        element.is_metering().then_some(one.drop?.si())
    });
    let metering = drops.fold(f64::INFINITY, f64::min);
    let manifolds = routing
        .parts
        .iter()
        .filter(|part| matches!(project.catalogue.item(&part.entry), Some(PartItem::Manifold(_))));
    let takes = manifolds.map(|part| {
        let ways = routing.geometry.connections.upstream(part.id, |run| outcome.flow_of(run)).runs;
        // What the hose from the pump takes is lost for all rows alike.
        let mains = routing
            .runs
            .iter()
            .filter(|run| fresh.contains(&run.id) && ways.contains(&run.id) && !is_from_pump(run));
        mains.filter_map(|run| Some(outcome.run(run.id)?.loss?.si().abs())).sum::<f64>()
    });
    takes.fold(0.0, f64::max) / metering
}

/// The new hose that takes the most pressure and can be wider, and the next size.
fn most_lossy(
    project: &Project,
    routing: &Routing,
    fresh: &BTreeSet<RunId>,
    outcome: &Outcome,
) -> Option<(RunId, StockKey)> {
    let candidates = routing.runs.iter().filter(|run| fresh.contains(&run.id)).filter_map(|run| {
        let loss = outcome.run(run.id)?.loss?.si().abs();
        Some((loss, run.id, next_size(project, &run.line.stock)?))
    });
    candidates.max_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, run, stock)| (run, stock))
}

fn next_size(project: &Project, stock: &StockKey) -> Option<StockKey> {
    let own = bore(project, stock)?;
    hoses_by_bore(project).into_iter().find(|one| one.0 > own).map(|one| one.1)
}

/// Another stock for a hose, and tees at its ends as wide as the widest hose on them.
pub(super) fn widen(
    session: &Session,
    routing: &mut Routing,
    run: RunId,
    stock: &StockKey,
    fresh: &BTreeSet<RunId>,
) {
    let fittings = usual_fittings(session, stock, routing, fresh);
    let Some(hose) = routing.runs.iter_mut().find(|one| one.id == run) else { return };
    hose.line.stock = stock.clone();
    hose.fittings = fittings;
    let ends = [hose.from, hose.to];
    let parts: BTreeSet<PartId> = ends.iter().filter_map(|end| Some(end.port()?.part)).collect();
    let tees: Vec<PartId> = parts.into_iter().filter(|id| is_tee(session, routing, *id)).collect();
    for part in tees {
        let bore =
            |stock: &StockKey| session.project().catalogue.stock(stock).map_or(0.0, |one| one.bore.si());
        let on_it = routing.runs.iter().filter(|run| {
            [run.from, run.to].iter().any(|end| end.port().is_some_and(|port| port.part == part))
        });
        let widest = on_it.map(|run| &run.line.stock).max_by(|a, b| bore(a).total_cmp(&bore(b))).cloned();
        if let Some(entry) = widest.and_then(|stock| session.tee_for(&stock))
            && let Some(tee) = routing.parts.iter_mut().find(|one| one.id == part)
        {
            tee.entry = entry;
        }
    }
}

fn is_tee(session: &Session, routing: &Routing, id: PartId) -> bool {
    let item = routing.part(id).and_then(|part| session.project().catalogue.item(&part.entry));
    matches!(item, Some(PartItem::Tee(_)))
}

/// The same mains with another stock wherever a new hose bends too tight at a hinge at any length: the next wider one that bends,
/// else the next narrower one that is not the cause of too little anywhere. In words what changed and why; what bends in no stock
/// stays, and is told by a finding.
fn that_bend(session: &Session, mut laid: Routing, fresh: &BTreeSet<RunId>) -> (Routing, Vec<String>) {
    let project = session.project();
    let anchors = Anchors::of(project, &laid);
    let hinge = |run: &Run| {
        let lies = run_computed(project, &anchors, run)?;
        let kinked = lies.crossings.iter().find(|crossed| match crossed.basis {
            CrossingBasis::Assumed(why) => why.is_too_tight(),
            CrossingBasis::Computed(_) | CrossingBasis::Entered(_) => false,
        });
        kinked.map(|crossed| crossed.section)
    };
    let mut changed = Vec::new();
    let runs: Vec<Run> = laid.runs.iter().filter(|run| fresh.contains(&run.id)).cloned().collect();
    for (done, run) in runs.iter().enumerate() {
        if !goes_on("main hoses bent over hinges", done, Some(runs.len())) {
            break;
        }
        let Some(section) = hinge(run) else { continue };
        let bends = |stock: &&StockKey| {
            let line = Line { stock: (*stock).clone(), ..run.line.clone() };
            hinge(&Run { line, ..run.clone() }).is_none()
        };
        let Some(own) = bore(project, &run.line.stock) else { continue };
        let hoses = hoses_by_bore(project);
        let wider = || hoses.iter().filter(|one| one.0 > own).map(|one| &one.1).find(bends);
        let narrower = || {
            let before = worst_with_rows(session, &laid, fresh)?;
            let stock = hoses.iter().rev().filter(|one| one.0 < own).map(|one| &one.1).find(bends)?;
            let mut tried = laid.clone();
            widen(session, &mut tried, run.id, stock, fresh);
            let score = worst_with_rows(session, &tried, fresh)?;
            (score <= before.max(1.0)).then_some(stock)
        };
        let Some(stock) = wider().or_else(narrower) else { continue };
        widen(session, &mut laid, run.id, stock, fresh);
        let size = |stock: &StockKey| {
            Measure::Bore.short_text(bore(project, stock).unwrap_or_default(), project.units)
        };
        let name = project.bar.section(section).map_or("", |section| &section.name);
        changed.push(format!(
            "{} is {}, not {}, which bends too tight at the hinge of {name} at any length",
            run.tag,
            size(stock),
            size(&run.line.stock)
        ));
    }
    (laid, changed)
}

/// The new hoses that bend too tight as they are laid, which no step mends: `H1: bend too tight: radius 43 mm in a turn of 90°,
/// minimum 60 mm`.
pub(super) fn too_tight_words(project: &Project, laid: &Routing, fresh: &BTreeSet<RunId>) -> Vec<String> {
    let geometry = RoutingGeometry::working(project, laid);
    let routing = LaidRouting { routing: laid, geometry: &geometry };
    let tight = checks::bend_radius::tight_bends(project, routing).into_iter();
    let new = tight.filter(|one| matches!(one.subject, FindingSubject::Run(id) if fresh.contains(&id)));
    new.map(|one| format!("{}: {}", one.tag, one.words(project.units))).collect()
}

/// The bores of new mains, the widest first: `19 mm H1 and H2, 12 mm H3`.
pub(super) fn words(project: &Project, laid: &Routing, fresh: &BTreeSet<RunId>) -> String {
    let mut tags: Vec<(f64, Vec<String>)> = Vec::new();
    for run in laid.runs.iter().filter(|run| fresh.contains(&run.id)) {
        let Some(own) = bore(project, &run.line.stock) else { continue };
        match tags.iter_mut().find(|one| one.0 == own) {
            Some((_, known)) => known.push(run.tag.clone()),
            None => tags.push((own, vec![run.tag.clone()])),
        }
    }
    tags.sort_by(|a, b| b.0.total_cmp(&a.0));
    let size = |bore: f64| Measure::Bore.short_text(bore, project.units);
    let words = tags.iter().map(|(bore, tags)| format!("{} {}", size(*bore), tag_words(tags)));
    words.collect::<Vec<_>>().join(", ")
}

pub(super) fn bore(project: &Project, stock: &StockKey) -> Option<f64> {
    Some(project.catalogue.stock(stock)?.bore.si())
}

/// The hoses of the catalogue with their bores, metres, the narrowest first.
pub(super) fn hoses_by_bore(project: &Project) -> Vec<(f64, StockKey)> {
    let hoses = project.catalogue.of::<StockKey>().filter_map(|(key, item)| match item {
        StockItem::Hose(hose) => Some((hose.bore.si(), key)),
        StockItem::Tube(_) | StockItem::MeteringTube(_) => None,
    });
    let mut hoses: Vec<(f64, StockKey)> = hoses.collect();
    hoses.sort_by(|a, b| a.0.total_cmp(&b.0));
    hoses
}

/// The same mains with an elbow of the catalogue wherever a new hose turns at once at its port.
pub(super) fn with_elbows(session: &Session, mut laid: Routing, fresh: &BTreeSet<RunId>) -> Routing {
    let project = session.project();
    let outcome = hydraulics::solve(project, &laid, &project.duties.first().usual_point());
    let geometry = RoutingGeometry::working(project, &laid);
    let routing = LaidRouting { routing: &laid, geometry: &geometry };
    let findings = checks::all_findings(project, routing, &outcome, &[]);
    let places = findings.into_iter().filter_map(|finding| match finding.remedy {
        Some(Remedy::FitElbows(places)) => Some(places),
        _ => None,
    });
    for place in places.flatten().filter(|place| fresh.contains(&place.run)) {
        if let Some(run) = laid.runs.iter_mut().find(|run| run.id == place.run) {
            // Where nobody knows the usual ones, two of the same.
            let known =
                if run.fittings.is_empty() { vec![place.fitting.clone(); 2] } else { run.fittings.clone() };
            run.fittings = session.with_fitting(&run.line.stock, &known, place.at_start, &place.fitting);
        }
    }
    laid
}
