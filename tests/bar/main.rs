//! The bar and its plumbing: how a drawn routing becomes a network, what edits and tools do to it, how two are weighed.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    reason = "a test that fails here should stop here"
)]

mod catch_tests;
mod comparison;
mod display_list;
mod edits;
mod every_rule;
mod layout;
mod nine_sections;
mod plan_to_network;
mod plumbed_by_commands;
mod published_rates;
mod session;
mod ways_to_plumb;
