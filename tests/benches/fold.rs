//! Hinge crossings of the 24 m example (80 tubes, 12 hoses) through the fold, and its picture in a position of the fold:
//! `cargo bench --bench fold`. Beside them one solve of the same bar's network, as a measure of the machine. A whole frame of the
//! window while the bar folds is in `--bench frame`.
//!
//! Figures to compare on one machine in one run; nothing passes or fails by them.

#![expect(clippy::unwrap_used, reason = "a benchmark stops where its input is missing")]

use std::path::Path;

use divan::{Bencher, black_box};
use equirow::drawing::{FoldRoom, FoldedWays, SceneOptions, fold_scene};
use equirow::files;
use equirow::hydraulics;
use equirow::plan::{
    CrossedHinge, Crossing, FoldPosition, FoldSweep, Item, LaidRouting, Project, RoutingGeometry, StockItem,
};

/// The program's own.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

fn main() {
    divan::main();
}

fn project() -> Project {
    let path = Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/examples/twenty-four-metre-bar.ron"));
    files::open(path).unwrap()
}

fn crossings(project: &Project) -> Vec<Crossing> {
    let routing = &project.routings[0];
    let geometry = RoutingGeometry::working(project, routing);
    let laid = LaidRouting { routing, geometry: &geometry };
    let all = laid.laid_lines().flat_map(|one| &one.laid.crossings);
    all.filter_map(CrossedHinge::computed).cloned().collect()
}

/// The shapes of every free piece, full and empty, in every position of the fold, with its least radius.
#[divan::bench]
fn sweep_of_all_crossings(bencher: Bencher) {
    let all = crossings(&project());
    bencher.bench(|| {
        for one in &all {
            black_box(one.tightest_at(one.free));
        }
    });
}

/// Clamps and lengths of all crossings looked for, with a least bend radius that nobody has asked for yet.
#[divan::bench(sample_count = 10, sample_size = 1)]
fn search_of_all_crossings(bencher: Bencher) {
    let mut project = project();
    bencher.bench_local(|| {
        for entry in &mut project.catalogue.entries {
            if let Item::Stock(StockItem::Hose(stock) | StockItem::Tube(stock)) = &mut entry.item {
                stock.bend_radius = stock.bend_radius * 1.001;
            }
        }
        black_box(crossings(&project));
    });
}

/// The display list of the bar with all its hoses and tubes from all three sides, in another position of the fold each time.
#[divan::bench]
fn picture_of_a_position(bencher: Bencher) {
    let project = project();
    let routing = &project.routings[0];
    let geometry = RoutingGeometry::working(&project, routing);
    let laid = geometry.with(routing);
    let outcome = hydraulics::solve(&project, routing, &project.duties.first().usual_point());
    let rooms = FoldRoom::all(&project, laid, FoldSweep::of(&project.bar).positions());
    let mut step = 0u32;
    bencher.bench_local(|| {
        step += 1;
        let fold = FoldPosition::share(f64::from(1 + step % 97) / 100.0);
        let options = SceneOptions { fold, ..SceneOptions::default() };
        let ways = FoldedWays::of(&project, laid, fold);
        for room in &rooms {
            black_box(fold_scene(&project, laid, Some(&outcome), &options, &ways, room));
        }
    });
}

/// One solve of the bar's network from nothing.
#[divan::bench]
fn one_solve(bencher: Bencher) {
    let project = project();
    let point = project.duties.first().usual_point();
    bencher.bench(|| black_box(hydraulics::solve(&project, &project.routings[0], &point)));
}
