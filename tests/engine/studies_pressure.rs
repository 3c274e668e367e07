//! Where the pressure goes, on whole bars: what is told adds up to what was solved.

use std::path::Path;

use equirow::files;
use equirow::hydraulics::solve;
use equirow::hydraulics::ways::Passed;
use equirow::plan::{End, Port, PortRef, Project, RoutingGeometry, Run, RunId, StockItem, StockKey};
use equirow::studies::pressure::{Cause, PressureOptions, PressureStudy, report, study};
use equirow::studies::{NoAnswer, Studied, Unwatched};

pub(crate) const EXAMPLES: [&str; 4] =
    ["six-metre-trial-bar.ron", "nine-metre-bar.ron", "twelve-metre-bar.ron", "twenty-four-metre-bar.ron"];

pub(crate) fn example(name: &str) -> Project {
    files::open(&Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/examples")).join(name)).unwrap()
}

fn studied(project: &Project, place: usize, number: Option<u32>) -> Result<PressureStudy, NoAnswer> {
    let routing = &project.routings[place];
    let geometry = RoutingGeometry::working(project, routing);
    let point = project.duties.first().usual_point();
    let row =
        number.and_then(|number| project.bar.rows.iter().find(|row| row.number == number)).map(|row| row.id);
    let of = Studied { project, routing: geometry.with(routing), point };
    study(&of, &PressureOptions { row }, &Unwatched)
}

/// Both ways take what the pump gives: each link's drop and each height is counted once, on any routing and in a ring.
#[test]
fn each_way_takes_what_the_pump_gives() {
    for name in EXAMPLES {
        let project = example(name);
        for place in 0..project.routings.len() {
            for row in &project.bar.rows {
                let Ok(study) = studied(&project, place, Some(row.number)) else { continue };
                let own: f64 = study.way.iter().map(|item| (item.drop + item.rise).si()).sum();
                let mean: f64 = study.way.iter().map(|item| (item.mean_drop + item.mean_rise).si()).sum();
                let pump = study.pump.si();
                assert!((own / pump - 1.0).abs() < 1e-6, "{name} row {}: {own} against {pump}", row.number);
                assert!((mean / pump - 1.0).abs() < 1e-6, "{name} row {}: {mean} against {pump}", row.number);
            }
        }
    }
}

/// The drops are those of the outcome, and unless named the row is the one farthest from its target.
#[test]
fn the_worst_row_is_told_with_the_drops_of_the_solve() {
    let project = example("twelve-metre-bar.ron");
    let outcome = solve(&project, &project.routings[0], &project.duties.first().usual_point());
    let worst = outcome.numbers().unwrap().farthest_row().unwrap();
    let told = studied(&project, 0, None).unwrap();
    assert_eq!(told.number, worst.number);
    let feed = project.routings[0].feed(worst.feed.unwrap()).unwrap();
    for item in told.way.iter().filter(|item| item.tag.as_deref() == Some(&feed.tag)) {
        let same = outcome.elements().iter().filter(|one| one.feed == feed.id);
        let drops: Vec<f64> = same.filter_map(|one| one.drop).map(|drop| drop.si()).collect();
        assert!(drops.iter().any(|drop| (drop - item.drop.si()).abs() < 1e-6), "{item:?} in {drops:?}");
    }
    for run in outcome.runs() {
        let tag = &project.routings[0].run(run.run).unwrap().tag;
        if let Some(item) = told.way.iter().find(|item| item.tag.as_ref() == Some(tag)) {
            assert!((run.loss.unwrap().si().abs() - item.drop.si()).abs() < 1e-6);
        }
    }
}

/// A hose squeezed by hand to a quarter of its bore is what the study names, with what a wider one gives back.
#[test]
fn the_hose_that_takes_the_pressure_is_named() {
    let mut project = example("twenty-four-metre-bar.ron");
    let hoses = project.catalogue.of::<StockKey>().filter(|(_, item)| matches!(item, StockItem::Hose(_)));
    let bore = |item: &StockItem| item.dimensions().bore.si();
    let (narrow, _) = hoses.min_by(|a, b| bore(a.1).total_cmp(&bore(b.1))).unwrap();
    // The hose that comes last before the manifold of row 1.
    let row = project.bar.rows.iter().find(|row| row.number == 1).unwrap().id;
    let manifold = project.routings[0].feed_of(row).unwrap().from.port().unwrap().part;
    let at_manifold =
        |run: &Run| [run.from, run.to].iter().filter_map(End::port).any(|port| port.part == manifold);
    let hose = project.routings[0].runs.iter().position(at_manifold).unwrap();
    project.routings[0].runs[hose].line.stock = narrow;
    project.routings[0].runs[hose].line.measured = Some(equirow::quantities::Length::metres(12.0));
    let told = studied(&project, 0, Some(1)).unwrap();
    assert!(told.from_mean.si() < -0.01, "{:?}", told.from_mean);
    let Cause::Takes { of, more, .. } = told.cause else { panic!("{:?}", told.cause) };
    assert_eq!(of, Passed::Run(project.routings[0].runs[hose].id));
    assert!(more.si() > 0.0);
    let wider = told.wider.clone().unwrap();
    assert!(wider.from_mean.si() > told.from_mean.si(), "a wider hose gives some of it back");
}

/// A second hose between two manifolds makes a ring: each row's way still leads from the pump along the flow.
#[test]
fn a_ring_is_followed_along_the_flow() {
    let mut project = example("twelve-metre-bar.ron");
    let routing = &project.routings[0];
    let manifolds: Vec<_> = routing
        .parts
        .iter()
        .filter(|part| project.catalogue.item(&part.entry).unwrap().has_port(Port::Out))
        .filter(|part| routing.on_port(PortRef { part: part.id, port: Port::Out }).is_empty())
        .filter(|part| project.catalogue.item(&part.entry).unwrap().is_for_rows())
        .map(|part| part.id)
        .collect();
    assert!(manifolds.len() >= 2, "two manifolds with a free far end");
    let template = routing.runs[0].clone();
    let port = |part| End::Port(PortRef { part, port: Port::Out });
    let ring = Run {
        id: RunId(9000),
        tag: "H90".into(),
        from: port(manifolds[0]),
        to: port(manifolds[manifolds.len() - 1]),
        ..template
    };
    project.routings[0].runs.push(ring);
    for row in &project.bar.rows.clone() {
        let Ok(told) = studied(&project, 0, Some(row.number)) else { continue };
        let own: f64 = told.way.iter().map(|item| (item.drop + item.rise).si()).sum();
        assert!((own / told.pump.si() - 1.0).abs() < 1e-6, "row {}", row.number);
    }
}

#[test]
fn a_row_without_liquid_is_no_row_to_follow() {
    let mut project = example("six-metre-trial-bar.ron");
    let left_out = project.bar.rows.iter().find(|row| row.left_out).unwrap().number;
    let refused = studied(&project, 0, Some(left_out)).unwrap_err().to_string();
    assert!(refused.contains(&format!("row {left_out} gets no liquid")), "{refused}");
    project.routings[0].runs.clear();
    let refused = studied(&project, 0, None).unwrap_err().to_string();
    assert!(refused.contains("no row is connected to the supply"), "{refused}");
}

/// A row whose metering was taken out gets more because of that, not because of any metering.
#[test]
fn a_row_without_metering_is_not_explained_by_its_metering() {
    let mut project = example("twenty-four-metre-bar.ron");
    for branch in &mut project.routings[0].feeds[3].branches {
        branch.elements.retain(|element| !element.is_metering());
    }
    let row = project.routings[0].feeds[3].branches[0].row;
    let number = project.bar.row(row).unwrap().number;
    let told = studied(&project, 0, Some(number)).unwrap();
    assert_eq!(told.cause, Cause::Unmetered);
    let routing = &project.routings[0];
    let geometry = RoutingGeometry::working(&project, routing);
    let point = project.duties.first().usual_point();
    let report = report(&told, &Studied { project: &project, routing: geometry.with(routing), point });
    assert!(report.answer[0].contains("because nothing meters it"), "{:?}", report.answer);
    assert!(report.answer.iter().all(|one| !one.contains("its metering takes")), "{:?}", report.answer);
}

/// What a wider hose brings is that of the plan with that hose and the barbs that go into it.
#[test]
fn a_wider_hose_brings_its_own_barbs() {
    let project = example("twelve-metre-bar.ron");
    let told = studied(&project, 0, Some(1)).unwrap();
    let (wider, Cause::Takes { of: Passed::Run(hose), .. }) = (told.wider.unwrap(), told.cause) else {
        unreachable!("a hose takes most of it")
    };
    let mut changed = project.clone();
    let stock = changed.catalogue.key::<StockKey>(&wider.entry).unwrap();
    let run = changed.routings[0].runs.iter_mut().find(|run| run.id == hose).unwrap();
    let before = run.fittings.clone();
    equirow::studies::metering::with_stock(&project.catalogue, run, &stock);
    assert!(run.fittings != before && !before.is_empty());
    let outcome = solve(&changed, &changed.routings[0], &changed.duties.first().usual_point());
    let mean = 1.0 + outcome.evenness().unwrap().mean_deviation.si();
    let row = project.bar.rows.iter().find(|row| row.number == 1).unwrap().id;
    let expected = (1.0 + outcome.row(row).unwrap().deviation.unwrap().si()) / mean - 1.0;
    assert!((wider.from_mean.si() - expected).abs() < 1e-9, "{wider:?}, solved anew {expected}");
}
