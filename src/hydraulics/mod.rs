//! What flows, at what pressure, or why not.
//!
//! Start with [`network`] (the neutral network every solve begins from), then [`losses`] (one file a formula)
//! and [`solver`] (flows and pressures of a whole network). Nothing here reads files, looks at a clock, logs,
//! or words anything for people beyond naming the part an error belongs to.

pub mod losses;
pub mod network;
pub mod solver;
