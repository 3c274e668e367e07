//! What the program carries: the bar it opens with, and the generic catalogue.

use super::project_file::{read_catalogue, read_text};
use crate::plan::{Catalogue, Project};

const DEMO: &str = include_str!("../../examples/twelve-metre-bar.ron");
const CATALOGUE: &str = include_str!("../../examples/generic-catalogue.ron");

/// The bar that opens when no file is named: an invented twelve-metre bar with two routings.
#[expect(
    clippy::expect_used,
    reason = "the text is part of the program, and `tests/files/examples.rs` reads it"
)]
pub fn demo() -> Project {
    read_text(DEMO).expect("the embedded bar is valid")
}

/// Stocks and parts to start from: sizes that anyone can measure, no make, no prices.
#[expect(
    clippy::expect_used,
    reason = "the text is part of the program, and `tests/files/examples.rs` reads it"
)]
pub fn generic_catalogue() -> Catalogue {
    read_catalogue(CATALOGUE).expect("the embedded catalogue is valid")
}
