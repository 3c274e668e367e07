//! New main hoses that something catches when the bar folds, or that hang among openers at a hinge: clamped elsewhere there, led
//! along other members, or of another stock.

use std::collections::BTreeSet;

use super::bores::{bore, hoses_by_bore, widen, worst_with_rows};
use crate::plan::routing_geometry::{cross_run, run_computed};
use crate::plan::{
    Anchors, ClampPlaces, CrossedHinge, Crossing, CrossingBasis, HingeCrossing, Line, LineGeometry, Project,
    Routing, Run, RunId, Subject,
};
use crate::quantities::{Length, Measure};
use crate::session::Session;
use crate::session::clear_ways::{frames_beside, not_clear, on_brackets, parts_passed};
use crate::session::how_far::goes_on;
use crate::session::runs::way_on;

/// Clamps are tried so far apart along their stretches, and so far out at most, metres.
const APART: f64 = 0.15;
/// See [`APART`].
const FARTHEST: f64 = 1.0;

/// A length at a hinge that bends too tight is worse than anything that comes near, metres.
const KINKED: f64 = 100.0;

/// A part that a hose is led through is lifted or gone round more easily than room in the fold is found, metres.
const A_PART: f64 = 0.01;

/// How bad it is where a hose lies, by itself among the parts: 0 where nothing is wrong, with what is lacking in the fold.
fn fault(project: &Project, laid: &Routing, run: &Run) -> f64 {
    let alone = Routing { runs: vec![run.clone()], feeds: Vec::new(), ..laid.clone() };
    let caught: f64 = not_clear(project, &alone).into_values().sum();
    let through = f64::from(u32::try_from(parts_passed(project, &alone)).unwrap_or(u32::MAX)) * A_PART;
    let crossings = run_computed(project, &Anchors::of(project, &alone), run).map(|lies| lies.crossings);
    let kinked = crossings.into_iter().flatten().any(|one| match one.basis {
        CrossingBasis::Assumed(why) => why.is_too_tight(),
        CrossingBasis::Computed(_) | CrossingBasis::Entered(_) => false,
    });
    caught + through + if kinked { KINKED } else { 0.0 }
}

/// A hose that lies otherwise, and what is otherwise in words.
type Tried = (Run, String);

/// The same mains with whatever of them was not clear led clear, if there is a way, and else as near to that as there is. In words
/// what is otherwise, and what stays; and whether all are clear now.
pub(super) fn led_clear(
    session: &Session,
    mut laid: Routing,
    fresh: &BTreeSet<RunId>,
) -> (Routing, Vec<String>, bool) {
    let project = session.project();
    let mut alone = laid.clone();
    alone.feeds.clear();
    alone.runs.retain(|run| fresh.contains(&run.id));
    let (mut said, mut all_clear) = (Vec::new(), true);
    let faults = not_clear(project, &alone);
    let all = faults.len();
    for (done, of) in faults.into_keys().enumerate() {
        if !goes_on("main hoses led clear", done, Some(all)) {
            break;
        }
        let Subject::Run(id) = of else { continue };
        let Some(run) = laid.run(id).cloned() else { continue };
        let first = fault(project, &laid, &run);
        let mut best: Option<(f64, Tried)> = None;
        let mut is_clear = |one: Tried, laid: &Routing| {
            let found = fault(project, laid, &one.0);
            if found < best.as_ref().map_or(first, |known| known.0) - 1e-3 {
                best = Some((found, one));
            }
            found <= 0.0
        };
        let anchors = Anchors::of(project, &laid);
        let Some(lies) = run_computed(project, &anchors, &run) else { continue };
        let _ = clamped_elsewhere(project, &run, &lies).into_iter().any(|one| is_clear(one, &laid))
            || led_beside(project, &anchors, &run, &lies).any(|one| is_clear(one, &laid))
            || of_other_stock(session, &laid, &run, fresh).into_iter().any(|one| is_clear(one, &laid));
        all_clear &= best.as_ref().is_some_and(|one| one.0 <= 0.0);
        match best {
            Some((left, (other, words))) => {
                let stock = other.line.stock.clone();
                if let Some(own) = laid.runs.iter_mut().find(|one| one.id == id) {
                    *own = other;
                }
                if stock != run.line.stock {
                    widen(session, &mut laid, id, &stock, fresh);
                }
                let so = if left > 0.0 {
                    "that is nearer to clear, and what is left its finding says: lead it another way, or change the hinge"
                } else {
                    "so it is clear of what the fold or openers bring"
                };
                said.push(format!("{words}; {so}"));
            }
            None => said.push(format!(
                "{} is caught in the fold or among openers however it is clamped there: its finding says where; lead it another \
                 way, or change the hinge",
                run.tag
            )),
        }
    }
    (laid, said, all_clear)
}

/// With the clamps at one hinge in other places, the nearest to those there are first.
fn clamped_elsewhere(project: &Project, run: &Run, lies: &LineGeometry) -> Vec<Tried> {
    let places = |(from, to): (Length, Length)| -> Vec<f64> {
        let (from, to) = (from.si(), to.si().min(from.si() + FARTHEST));
        let steps = ((to - from) / APART).floor().max(0.0) as u32;
        (0..=steps).map(|step| from + f64::from(step) * APART).filter(|at| *at > 0.0).collect()
    };
    let at_hinge = |crossed: &CrossedHinge| -> Vec<(f64, Tried)> {
        let Some(crossing) = crossed.computed() else { return Vec::new() };
        let [before, behind]: [Vec<f64>; 2] = [0, 1].map(|at| places(crossing.clamps[at].stretch));
        let now = crossing.places();
        let pairs = before.iter().flat_map(|one| behind.iter().map(|other| (*one, *other)));
        pairs
            .map(|(before, behind)| {
                let away = (before - now.before.si()).abs() + (behind - now.behind.si()).abs();
                (
                    away,
                    (
                        clamped(run, crossed, before, behind),
                        words(project, run, crossed, crossing, [before, behind]),
                    ),
                )
            })
            .collect()
    };
    let mut all: Vec<(f64, Tried)> = lies.crossings.iter().flat_map(at_hinge).collect();
    all.sort_by(|a, b| a.0.total_cmp(&b.0));
    all.into_iter().map(|one| one.1).collect()
}

fn clamped(run: &Run, crossed: &CrossedHinge, before: f64, behind: f64) -> Run {
    let places = ClampPlaces { before: Length::metres(before), behind: Length::metres(behind) };
    let own = HingeCrossing { section: crossed.section, entered: None, clamps: Some(places) };
    let mut line = run.line.clone();
    match line.crossings.iter_mut().find(|one| one.section == crossed.section) {
        Some(known) => *known = own,
        None => line.crossings.push(own),
    }
    Run { line, ..run.clone() }
}

fn words(
    project: &Project,
    run: &Run,
    crossed: &CrossedHinge,
    crossing: &Crossing,
    [before, behind]: [f64; 2],
) -> String {
    let name = project.bar.section(crossed.section).map_or("", |section| &section.name);
    let [inner, outer] = if crossing.turns_from_tip() { [behind, before] } else { [before, behind] };
    let text = |at: f64| Measure::CutLength.short_text(at, project.units);
    format!(
        "{} is clamped {} towards the centre and {} towards the tip at the hinge of {name}",
        run.tag,
        text(inner),
        text(outer)
    )
}

/// Along other members than those that it lies along, or on brackets beside or under these.
fn led_beside<'a>(
    project: &'a Project,
    anchors: &'a Anchors,
    run: &'a Run,
    lies: &LineGeometry,
) -> impl Iterator<Item = Tried> + use<'a> {
    let beside = frames_beside(&project.bar, &lies.path);
    let ways = beside.filter_map(move |frame| Some(way_on(&frame, anchors, &run.from, &run.to)?.waypoints));
    let said = "is led along other members";
    let brackets = "is led on brackets beside or under the members";
    let ways = ways
        .map(move |way| (way, said))
        .chain(on_brackets(&run.line.waypoints).map(move |way| (way, brackets)));
    ways.map(move |(waypoints, said)| {
        let line = Line { waypoints, crossings: Vec::new(), ..run.line.clone() };
        let mut other = Run { line, ..run.clone() };
        cross_run(&project.bar, anchors, &mut other);
        (other, format!("{} {said}", run.tag))
    })
}

/// The next wider stocks, then the next narrower ones that are not the cause of too little anywhere.
fn of_other_stock(session: &Session, laid: &Routing, run: &Run, fresh: &BTreeSet<RunId>) -> Vec<Tried> {
    let project = session.project();
    let Some(own) = bore(project, &run.line.stock) else { return Vec::new() };
    let hoses = hoses_by_bore(project);
    let size = |bore: f64| Measure::Bore.short_text(bore, project.units);
    let before = worst_with_rows(session, laid, fresh);
    let serves = |stock: &_| {
        let mut tried = laid.clone();
        widen(session, &mut tried, run.id, stock, fresh);
        let score = worst_with_rows(session, &tried, fresh);
        before.zip(score).is_some_and(|(before, score)| score <= before.max(1.0))
    };
    let wider = hoses.iter().filter(|one| one.0 > own);
    let narrower = hoses.iter().rev().filter(|one| one.0 < own).take_while(|one| serves(&one.1));
    wider
        .chain(narrower)
        .map(|(bore, stock)| {
            let line = Line { stock: stock.clone(), ..run.line.clone() };
            let words = format!(
                "{} is {}, not {}, which the fold or openers come too near to at a hinge",
                run.tag,
                size(*bore),
                size(own)
            );
            (Run { line, ..run.clone() }, words)
        })
        .collect()
}
