//! The window without a display, driven by the names of its controls; and what goes through it and all below.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    reason = "a test that fails here should stop here"
)]

mod added_lines;
mod canvas;
mod catalogue;
mod catch_keys;
mod catch_stories;
mod catch_tests;
mod comparison;
mod duties;
mod every_part;
mod everyday;
mod file_questions;
mod findings;
mod folding;
mod keys;
mod looking_at;
mod names;
mod panels;
mod pictures;
mod refusals;
mod sheets_view;
mod sizes;
mod start_card;
mod studies;
mod support;
mod tags;
mod typing;
mod views;
mod work_beside;
mod wrong_entries;
