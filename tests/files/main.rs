//! Files: what is read and refused, what is written whole or not at all, what the examples hold.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    reason = "a test that fails here should stop here"
)]

mod catch_readings;
mod examples;
mod file_versions;
mod hostile_input;
mod outputs;
mod project_file;
#[cfg(unix)]
mod whole_files;
