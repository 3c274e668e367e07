//! What flows, at what pressure, or why not.
//!
//! Start with [`network`] (the neutral network every solve begins from), then [`link`] (what a link is and its law, put
//! together from [`losses`], one file a formula)
//! and [`solver`] (flows and pressures of a whole network). [`assembly`] turns a routing into such a network,
//! [`prepared`] solves it and brings the solution back as an [`outcome`]; [`connectivity`] names what is not connected before any number is computed.
//! Nothing here reads files, looks at a clock, logs, or words anything for people beyond naming the part an error
//! belongs to.

pub mod assembly;
pub mod connectivity;
pub mod evenness;
pub mod faulty;
pub mod faulty_feed;
pub mod filling;
pub mod first_choice;
pub mod fluid;
pub mod link;
mod link_maker;
pub mod losses;
pub mod network;
pub mod outcome;
pub mod prepared;
mod readback;
pub mod resistance;
pub mod row_sensitivity;
pub mod row_solver;
pub mod slope;
pub mod solver;
pub mod speed_range;
pub mod supply_law;
pub mod targets;
pub mod variation;
mod varied;
pub mod ways;

pub use outcome::{NoNumbers, NotFed, Numbers, Outcome, RowState, SupplyLimit, SupplyState};
pub use prepared::{KeptSolver, PreparedRouting, solve};
pub use row_solver::RowSolver;
