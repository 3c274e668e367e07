//! New bars by their usual values, plumbed by the program's own commands alone: what is left of errors is the program's.

use equirow::checks::Severity;
use equirow::files;
use equirow::geometry::Point2;
use equirow::plan::lay_out::{Layout, even_sections, lay_out, usual_hinges};
use equirow::plan::{End, PartKey, Project};
use equirow::quantities::Length;
use equirow::session::Session;
use equirow::session::commands::{self, Command};

/// Manifolds, tubes, a filter on the middle of the frame and main hoses. What came of it, and every error.
fn plumbed(sections: usize, width: f64, spacing: f64, how: Command) -> (Session, Vec<(String, String)>) {
    plumbed_from((0.0, 0.0), sections, width, spacing, how)
}

/// The same with the filter in another place.
fn plumbed_from(
    at: (f64, f64),
    sections: usize,
    width: f64,
    spacing: f64,
    how: Command,
) -> (Session, Vec<(String, String)>) {
    plumbed_in_order(false, at, sections, width, spacing, how)
}

/// The same, with the rows after the mains or before them.
fn plumbed_in_order(
    mains_first: bool,
    (x, y): (f64, f64),
    sections: usize,
    width: f64,
    spacing: f64,
    how: Command,
) -> (Session, Vec<(String, String)>) {
    let rows = (width / spacing).round() as u32;
    let spacing = Length::metres(spacing);
    let layout = Layout {
        sections: even_sections(rows, spacing, sections),
        hinges: usual_hinges(sections / 2),
        ..Layout::even(rows, spacing)
    };
    let mut session = Session::new(Project::new(lay_out(&layout).unwrap(), files::generic_catalogue()), None);
    let run = |session: &mut Session, command| {
        session.select([]);
        commands::run(session, command).unwrap();
    };
    run(&mut session, Command::ManifoldPerSection);
    if !mains_first {
        run(&mut session, Command::NearestManifold);
    }
    session.place(&PartKey::new("filter-19-300"), Point2::new(x, y), 0.15).unwrap();
    run(&mut session, how);
    if mains_first {
        run(&mut session, Command::NearestManifold);
    }
    assert_eq!(
        session.outcome().fed_rows(),
        rows as usize,
        "{sections} sections, {width} m: all rows are fed"
    );
    let errors = session.findings().iter().filter(|one| one.severity == Severity::Error);
    let errors = errors.map(|one| (one.kind.rule.clone(), one.to_string())).collect();
    (session, errors)
}

#[test]
fn bars_plumbed_by_commands_end_without_errors() {
    let mut found: Vec<String> = Vec::new();
    for sections in [3, 5, 7, 9] {
        for width in [12.0, 18.0, 24.0] {
            for (how, spacing) in [(Command::MainsFromTees, 0.25), (Command::MainsByWing, 0.3)] {
                let (_, errors) = plumbed(sections, width, spacing, how);
                let errors = errors.into_iter().map(|one| one.1);
                found.extend(errors.map(|one| format!("{sections} sections, {width} m, {how:?}: {one}")));
            }
        }
    }
    assert!(found.is_empty(), "{found:#?}");
}

/// What is left of chains, named: a hose that leaves a manifold by its far end hangs among the openers beside it, the finding says
/// which and where, and so does what the command says. Nothing else may be found, and what is mended goes from here.
const CHAINS_LEFT: [(usize, f64, &str); 6] = [
    (7, 18.0, "opener clearance"),
    (7, 24.0, "opener clearance"),
    (7, 24.0, "fold clearance"),
    (9, 18.0, "opener clearance"),
    (9, 24.0, "opener clearance"),
    (9, 24.0, "fold clearance"),
];

/// A chain is one way through the whole bar: every hinge is crossed by it.
#[test]
fn bars_plumbed_in_a_chain_have_no_other_errors_than_those_named() {
    let mut found: Vec<String> = Vec::new();
    let mut left = CHAINS_LEFT.to_vec();
    for sections in [5, 7, 9] {
        for (width, spacing) in [(18.0, 0.3), (24.0, 0.25)] {
            let (_, errors) = plumbed(sections, width, spacing, Command::MainsInChain);
            let is = |one: &(usize, f64, &str), rule: &str| *one == (sections, width, rule);
            left.retain(|one| errors.iter().all(|error| !is(one, &error.0)));
            let new = errors.iter().filter(|error| !CHAINS_LEFT.iter().any(|one| is(one, &error.0)));
            found.extend(new.map(|one| format!("{sections} sections, {width} m: {}", one.1)));
        }
    }
    assert!(found.is_empty() && left.is_empty(), "{found:#?}, mended: {left:?}");
}

/// The filter on the drawbar in front of the frame: the manifold of the centre stands between it and the tees.
#[test]
fn a_filter_beside_the_frame_is_joined_round_the_manifold() {
    for how in [Command::MainsFromTees, Command::MainsByWing, Command::MainsInChain] {
        for at in [(0.0, 2.12), (0.0, 3.2), (0.6, 3.2)] {
            let (session, errors) = plumbed_from(at, 5, 18.0, 0.3, how);
            assert!(errors.is_empty(), "{how:?} {at:?}: {errors:?}");
            let through = session.findings().iter().filter(|one| one.kind.rule == "through a part");
            let through: Vec<String> =
                through.map(ToString::to_string).filter(|one| one.contains('H')).collect();
            assert!(through.is_empty(), "{how:?} {at:?}: {through:?}");
        }
    }
}

/// The hose from the pump comes from the front, where the manifold of the centre stands before the filter: it goes round it.
#[test]
fn no_hose_leads_through_a_manifold_or_tee() {
    for (sections, width, how) in [(5, 18.0, Command::MainsFromTees), (5, 12.0, Command::MainsByWing)] {
        let (session, _) = plumbed(sections, width, 0.3, how);
        for one in session.findings().iter().filter(|one| one.kind.rule == "through a part") {
            assert!(!one.what.contains('H'), "{one}");
        }
    }
}

/// The parts, hoses and rows of the routing without their ids.
fn without_ids(session: &Session) -> Vec<String> {
    let routing = session.routing();
    let tag = |id| routing.part(id).map_or("none", |part| part.tag.as_str());
    let end = |end: End| match end {
        End::Port(port) => format!("{} {:?}", tag(port.part), port.port),
        End::Supply | End::Loose(_) => format!("{end:?}"),
    };
    let parts = routing.parts.iter().map(|part| {
        let on = part.mount.map(|port| end(End::Port(port)));
        format!("{} {:?} {:?} {:?} {:?} {on:?}", part.tag, part.entry, part.section, part.position, part.turn)
    });
    let runs = routing.runs.iter().map(|run| {
        format!("{} {} to {}: {:?} {:?}", run.tag, end(run.from), end(run.to), run.fittings, run.line)
    });
    let feeds = routing.feeds.iter().map(|feed| format!("{} {}", feed.tag, end(feed.from)));
    let mut all: Vec<String> = parts.chain(runs).chain(feeds).collect();
    all.sort();
    all
}

/// Mains that are laid before the rows hang on anything are sized as if these hung on the nearest manifold, where the next step
/// hangs them.
#[test]
fn mains_laid_before_the_rows_are_sized_as_after_them() {
    for how in [Command::MainsFromTees, Command::MainsInChain, Command::MainsByWing] {
        for (sections, width, spacing) in
            [(3, 12.0, 0.25), (5, 18.0, 0.3), (7, 18.0, 0.25), (5, 24.0, 0.25), (9, 24.0, 0.25)]
        {
            let [first, after] = [true, false].map(|mains_first| {
                let (session, _) = plumbed_in_order(mains_first, (0.0, 0.0), sections, width, spacing, how);
                let runs = session.routing().runs.iter();
                let mut sizes: Vec<String> =
                    runs.map(|run| format!("{} {:?}", run.tag, run.line.stock)).collect();
                sizes.sort();
                sizes
            });
            assert!(first.len() > 1, "{how:?}, {sections} sections: {first:?}");
            assert_eq!(first, after, "{how:?}, {sections} sections, {width} m");
        }
    }
}

/// What a step replaces must not enter what it chooses.
#[test]
fn main_hoses_laid_twice_are_as_laid_once() {
    let mut elbows = 0;
    for how in [Command::MainsFromTees, Command::MainsInChain, Command::MainsByWing] {
        for (sections, width, spacing) in [(3, 12.0, 0.25), (5, 18.0, 0.3), (7, 18.0, 0.25)] {
            let (mut session, _) = plumbed(sections, width, spacing, how);
            let once = without_ids(&session);
            let bent = session.routing().runs.iter().flat_map(|run| &run.fittings);
            elbows += bent.filter(|fitting| format!("{fitting:?}").contains("elbow")).count();
            for _ in 0..2 {
                session.select([]);
                commands::run(&mut session, how).unwrap();
                let again = without_ids(&session);
                let differs: Vec<_> = once.iter().zip(&again).filter(|(a, b)| a != b).collect();
                assert!(once == again, "{how:?}, {sections} sections, {width} m: {differs:#?}");
            }
        }
    }
    assert!(elbows > 0, "the fittings that were usual are others after the step");
}
