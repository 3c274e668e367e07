//! The engine: formulas against published values, networks against reference solutions, random ones against a judge of its own.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    reason = "a test that fails here should stop here"
)]

mod filling;
mod invented_bars;
mod invented_tests;
mod network_samples;
mod properties;
mod published_hydraulics;
mod random_networks;
mod studies_calibrate;
mod studies_catch_all_metering;
mod studies_catch_causes;
mod studies_catch_said;
mod studies_catch_sound;
mod studies_catch_test;
mod studies_conditions;
mod studies_equalise;
mod studies_metering;
mod studies_pressure;
mod studies_prime;
mod studies_tolerance;
mod variation;
mod warm_solve;
