//! Bores of new main hoses by what comes of them: velocity alone leaves thick liquids with mains that take most of the
//! pressure, and rows far from the pump with too little.

use std::collections::BTreeSet;

use super::Session;
use crate::checks::{self, Remedy};
use crate::hydraulics::{self, KeptSolver, Outcome};
use crate::plan::{LaidRouting, PartId, Project, Routing, RoutingGeometry, RunId, StockItem, StockKey};

/// How often a hose is widened at most.
const MOST_STEPS: usize = 60;
/// Wider hoses have to be worth it: the coefficient of variation falls by this share at least.
const LEAST_GAIN: f64 = 0.1;

/// The same mains with the hoses widened that take the most pressure, one size after the other, until the rows are as even
/// as counts as good and the supply gives what is asked, at the three speeds of every duty; as they were where that helps
/// little.
pub(super) fn widened(session: &Session, laid: Routing, fresh: &BTreeSet<RunId>) -> Routing {
    let project = session.project();
    let good = project.limits.cv_good.si();
    let Some((first, mut outcome)) = worst(project, &laid) else { return laid };
    let (mut now, mut score) = (laid.clone(), first);
    let (mut best, mut best_score) = (laid.clone(), first);
    for _ in 0..MOST_STEPS {
        if score <= good {
            break;
        }
        let Some((run, wider)) = most_lossy(project, &now, fresh, &outcome) else { break };
        widen(session, &mut now, run, &wider);
        let Some((next_score, next)) = worst(project, &now) else { break };
        (score, outcome) = (next_score, next);
        if score < best_score {
            (best, best_score) = (now.clone(), score);
        }
    }
    if best_score <= first * (1.0 - LEAST_GAIN) { best } else { laid }
}

/// The outcome that is worst, and how bad: its coefficient of variation, and what the supply lacks as a share of what is
/// asked. None where nothing is fed.
fn worst(project: &Project, routing: &Routing) -> Option<(f64, Outcome)> {
    let geometry = RoutingGeometry::working(project, routing);
    let mut solver = KeptSolver::default();
    let mut prepared = solver.prepare(project, geometry.with(routing));
    let points = project.duties.iter().flat_map(|duty| duty.speeds().map(|speed| duty.at(speed)));
    let scores = points.filter_map(|point| {
        let outcome = prepared.solve(&point);
        let lacks = outcome.at_limit().map_or(0.0, |(lack, _)| lack / outcome.target_total);
        Some((outcome.evenness()?.cv.si() + lacks, outcome))
    });
    scores.max_by(|a, b| a.0.total_cmp(&b.0))
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
    let own = project.catalogue.stock(stock)?.bore;
    let hoses = project.catalogue.of::<StockKey>().filter_map(|(key, item)| match item {
        StockItem::Hose(hose) if hose.bore > own => Some((hose.bore.si(), key)),
        _ => None,
    });
    hoses.min_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, key)| key)
}

/// Another stock for a hose, and tees at its ends as wide as the widest hose on them.
fn widen(session: &Session, routing: &mut Routing, run: RunId, stock: &StockKey) {
    let Some(hose) = routing.runs.iter_mut().find(|one| one.id == run) else { return };
    hose.line.stock = stock.clone();
    hose.fittings = session.usual_fittings(stock);
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
    matches!(item, Some(crate::plan::PartItem::Tee(_)))
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
            run.fittings = session.with_elbow(&run.line.stock, &run.fittings, place.at_start, &place.elbow);
        }
    }
    laid
}
