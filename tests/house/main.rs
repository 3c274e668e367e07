//! Rules of the house: layers, files, and the work of others that we build on.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    reason = "a test that fails here should stop here"
)]

mod rules;
mod supply_chain;
