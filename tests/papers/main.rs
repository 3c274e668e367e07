//! The papers: drawings, lists, steps and sheets, read back.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    reason = "a test that fails here should stop here"
)]

mod after_cutting;
mod behaviour;
mod catch_test;
mod commissioning_sheet;
mod customer_sheet;
mod hinge_crossings;
mod holding;
mod layout_pages;
mod layout_places;
mod lists;
#[cfg(feature = "window")]
mod other_scripts;
mod paper_standards;
mod release;
mod schematic;
mod sheets;
mod steps;
mod steps_at_hinges;
mod words_of_papers;

#[path = "../engine/random_networks.rs"]
mod random_networks;
