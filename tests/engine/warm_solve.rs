//! A warm solve does not allocate: counted, by a global allocator that counts (`allocation-counter`).

use crate::random_networks::random_network;
use equirow::hydraulics::network::LinkKind;
use equirow::hydraulics::solver::Solver;

/// Solves after a changed length, and after a changed liquid, allocate nothing; nor does a cold solve by a kept solver.
/// Networks on which plain steps do not settle turn to damped ones, which take room; they are counted apart, and few.
#[test]
fn a_warm_solve_does_not_allocate() {
    let one = allocation_counter::measure(|| drop(std::hint::black_box(vec![0_u8; 100])));
    assert_eq!(one.count_total, 1, "the counter counts");
    let (mut solves, mut damped) = (0, 0);
    for seed in 0..200 {
        let mut network = random_network(seed);
        let Ok(mut solver) = Solver::new(&network) else { continue };
        if solver.solve(&network).is_err() {
            continue;
        }
        for change in 0..3 {
            match change {
                0 => {
                    for link in network.graph.edge_weights_mut() {
                        if let LinkKind::Pipe { length_m, .. } = &mut link.kind {
                            *length_m *= 1.1;
                        }
                    }
                }
                1 => network.fluid.viscosity_pa_s *= 1.3,
                _ => solver.forget(),
            }
            let mut steps = None;
            let counted = allocation_counter::measure(|| {
                steps = solver.solve(&network).ok().map(|solution| solution.steps);
            });
            // More steps than plain ones: damped.
            if steps.is_none_or(|steps| steps > 30) {
                damped += 1;
                continue;
            }
            solves += 1;
            assert_eq!(counted.count_total, 0, "seed {seed}, change {change}: {steps:?} steps");
        }
    }
    println!("{solves} solves without an allocation, {damped} damped");
    assert!(solves > 300 && damped * 20 < solves, "{solves} {damped}");
}
