//! Timings of the engine for `tests/cross_check/epa_engine.py`, which pairs them with the EPA engine in the same run.
//!
//! Usage: engine_speed NETWORK_FILE... Prints one JSON line a file with medians in microseconds: `setup` (topology from
//! nothing), `cold` (full solve from a cold guess), `warm` (solve again after one length changed).

#![allow(clippy::unwrap_used, reason = "a tool for developers stops where something is not as it should be")]

use equirow::files::network_file;
use equirow::hydraulics::network::LinkKind;
use equirow::hydraulics::solver::Solver;
use std::time::Instant;

fn median(repeats: usize, mut run: impl FnMut(usize)) -> f64 {
    let mut times: Vec<f64> = (0..repeats)
        .map(|repeat| {
            let start = Instant::now();
            run(repeat);
            start.elapsed().as_secs_f64() * 1e6
        })
        .collect();
    times.sort_by(f64::total_cmp);
    times[times.len() / 2]
}

fn main() {
    for file in std::env::args_os().skip(1) {
        let mut network = network_file::open(file.as_ref()).unwrap();
        let links = network.graph.edge_count();
        let repeats = (2_000_000 / links).clamp(30, 3000);
        let tube = network
            .graph
            .edge_indices()
            .filter(|&e| network.graph[e].name.starts_with('d'))
            .nth(links / 10)
            .unwrap();
        let setup = median(repeats.min(300), |_| drop(std::hint::black_box(Solver::new(&network).unwrap())));
        let mut solver = Solver::new(&network).unwrap();
        let mut steps = 0;
        let cold = median(repeats, |_| {
            solver.forget();
            steps = solver.solve(&network).unwrap().steps;
        });
        let warm = median(repeats, |repeat| {
            if let LinkKind::Pipe { length_m, .. } = &mut network.graph[tube].kind {
                *length_m = if repeat % 2 == 0 { 1.7 } else { 1.3 };
            }
            std::hint::black_box(solver.solve(&network).unwrap());
        });
        println!(
            "{{\"links\":{links},\"setup_us\":{setup:.2},\"cold_us\":{cold:.2},\"warm_us\":{warm:.2},\"steps\":{steps}}}"
        );
    }
}
