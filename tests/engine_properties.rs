//! What must hold of every solution, on random networks and on made ones. All networks are invented.
//!
//! The long run of 100,000 random networks: `EQUIROW_RANDOM_NETWORKS=100000 cargo test --release
//! --no-default-features --test engine_properties random -- --nocapture`.

mod engine_support;

use engine_support::{judge, random_network};
use equirow::hydraulics::solver::{self, Failure};

#[test]
fn random_networks_are_solved_or_refused_for_a_reason() {
    let count: u64 =
        std::env::var("EQUIROW_RANDOM_NETWORKS").ok().and_then(|n| n.parse().ok()).unwrap_or(2_000);
    let first: u64 = std::env::var("EQUIROW_RANDOM_SEED").ok().and_then(|n| n.parse().ok()).unwrap_or(0);
    let (mut solved, mut refused, mut failures) = (0u64, 0u64, Vec::new());
    let (mut mass, mut energy, mut steps) = ((0.0, 0), (0.0, 0), (0, 0));
    let mut all_steps = 0;
    for seed in first..first + count {
        let network = random_network(seed);
        match solver::solve(&network) {
            Ok(solution) => {
                solved += 1;
                all_steps += solution.steps;
                if solution.steps > steps.0 {
                    steps = (solution.steps, seed);
                }
                match judge(&network, &solution) {
                    Ok(residuals) => {
                        if residuals.mass > mass.0 {
                            mass = (residuals.mass, seed);
                        }
                        if residuals.energy > energy.0 {
                            energy = (residuals.energy, seed);
                        }
                        if residuals.mass > 1e-10 || residuals.energy > 1e-8 {
                            failures.push(format!("seed {seed}: {residuals:?}"));
                        }
                    }
                    Err(why) => failures.push(format!("seed {seed}: {why}")),
                }
            }
            Err(Failure::Rejected(rejection)) => {
                refused += 1;
                assert!(
                    ["stranded_inflow", "no_outlet"].contains(&rejection.reason.code()),
                    "seed {seed}: {rejection:?}"
                );
            }
            Err(failure) => failures.push(format!("seed {seed}: {failure}")),
        }
    }
    println!(
        "{count} random networks: {solved} solved, {refused} refused; mean steps {:.2}, most {} (seed {}); \
         worst mass residual {:.1e} (seed {}), worst energy residual {:.1e} (seed {})",
        all_steps as f64 / solved.max(1) as f64,
        steps.0,
        steps.1,
        mass.0,
        mass.1,
        energy.0,
        energy.1
    );
    assert!(
        failures.is_empty(),
        "{} failures, first: {:#?}",
        failures.len(),
        &failures[..failures.len().min(15)]
    );
    assert!(solved > 9 * refused, "the generator makes too few networks that can be solved");
}
