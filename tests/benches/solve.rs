//! How long one solve of a whole bar takes, from the plan to its numbers: `cargo bench --bench solve`.
//!
//! Figures to compare on one machine in one run; nothing passes or fails by them. `whole_bar` is one full solve:
//! connections looked at, network assembled, solved from a cold guess, read back row by row. `three_speeds` is what
//! the table of the metering in use asks for. `every_change` is what the session does after each change, and so what
//! a slider must get through in a frame: a solve, the three speeds and the findings.

#![expect(clippy::unwrap_used, reason = "a benchmark stops where its input is missing")]

use std::path::Path;

use divan::{Bencher, black_box};
use equirow::hydraulics::{self, KeptSolver, SupplyState};
use equirow::plan::{Project, RoutingGeometry};
use equirow::studies::tolerance::{ToleranceOptions, built_at_speed, first_order};
use equirow::studies::{Studied, Unwatched};
use equirow::{checks, files};

/// File in `examples/` and routing; 40 rows fed by a chain, 40 rows fed by a star, 80 rows.
const CASES: [(&str, &str); 3] =
    [("twelve-metre-bar.ron", "A"), ("twelve-metre-bar.ron", "B"), ("twenty-four-metre-bar.ron", "A")];

fn main() {
    divan::main();
}

/// Opens an example and makes sure that what is timed is a solve and not a failure.
fn open((name, routing): (&str, &str)) -> Project {
    let folder = Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/examples"));
    let project = files::open(&folder.join(name)).unwrap();
    let point = project.duties.first().usual_point();
    let outcome = hydraulics::solve(&project, project.routing_named(routing).unwrap(), &point);
    assert_eq!(
        outcome.numbers().map(|one| one.supply),
        Some(SupplyState::AsAsked),
        "{name}, routing {routing}"
    );
    project
}

#[divan::bench(args = CASES)]
fn whole_bar(bencher: Bencher, case: (&str, &str)) {
    let project = open(case);
    let routing = project.routing_named(case.1).unwrap();
    let point = project.duties.first().usual_point();
    bencher.bench_local(|| hydraulics::solve(black_box(&project), black_box(routing), black_box(&point)));
}

#[divan::bench(args = CASES)]
fn three_speeds(bencher: Bencher, case: (&str, &str)) {
    let project = open(case);
    let routing = project.routing_named(case.1).unwrap();
    let point = project.duties.first().usual_point();
    bencher.bench_local(|| {
        let geometry = RoutingGeometry::working(black_box(&project), black_box(routing));
        KeptSolver::default().prepare(&project, geometry.with(routing)).speed_range(black_box(&point), None)
    });
}

/// What the band behind each row asks for in a frame.
#[divan::bench(args = CASES)]
fn tolerance_by_derivatives(bencher: Bencher, case: (&str, &str)) {
    let project = open(case);
    let routing = project.routing_named(case.1).unwrap();
    let geometry = RoutingGeometry::working(&project, routing);
    let point = project.duties.first().usual_point();
    bencher.bench_local(|| first_order(black_box(&project), geometry.with(routing), black_box(&point)));
}

/// Bars built of parts that scatter, on as many threads as there are cores.
#[divan::bench(args = CASES, sample_count = 3, sample_size = 1)]
fn ten_thousand_bars(bencher: Bencher, case: (&str, &str)) {
    let project = open(case);
    let routing = project.routing_named(case.1).unwrap();
    let geometry = RoutingGeometry::working(&project, routing);
    let point = project.duties.first().usual_point();
    let of = Studied { project: &project, routing: geometry.with(routing), point };
    let options = ToleranceOptions { samples: 10_000, ..ToleranceOptions::default() };
    bencher.bench_local(|| built_at_speed(black_box(&of), &options, &Unwatched));
}

#[divan::bench(args = CASES)]
fn every_change(bencher: Bencher, case: (&str, &str)) {
    let project = open(case);
    let routing = project.routing_named(case.1).unwrap();
    let point = project.duties.first().usual_point();
    bencher.bench_local(|| {
        let geometry = RoutingGeometry::working(black_box(&project), black_box(routing));
        let laid = geometry.with(routing);
        let mut bench = KeptSolver::default();
        let mut prepared = bench.prepare(&project, laid);
        let outcome = prepared.solve(black_box(&point));
        let range = prepared.speed_range(&point, Some(&outcome));
        let findings = checks::findings(&project, laid, &outcome, &[]);
        (outcome, range, findings)
    });
}
