//! What the program carries: the example bars, of which it opens with one, and the generic catalogue.

use super::project_file::{read_catalogue, read_text};
use crate::plan::{Catalogue, Project};
use strum::EnumCount;

const CATALOGUE: &str = include_str!("../../examples/generic-catalogue.ron");

/// An invented bar that comes with the program.
#[derive(Debug, Clone, Copy, PartialEq, Eq, EnumCount)]
pub enum Example {
    /// Six metres, of pieces that the others lack.
    SixMetre,
    /// Nine metres on three ranks.
    NineMetre,
    /// Twelve metres with two routings; the one that is shown is uneven on purpose.
    TwelveMetre,
    /// Twenty-four metres.
    TwentyFourMetre,
}

impl Example {
    /// All of them, the smallest first.
    pub const ALL: [Self; Self::COUNT] =
        [Self::SixMetre, Self::NineMetre, Self::TwelveMetre, Self::TwentyFourMetre];

    /// What it is called.
    pub const fn name(self) -> &'static str {
        match self {
            Self::SixMetre => "Six-metre trial bar",
            Self::NineMetre => "Nine-metre bar",
            Self::TwelveMetre => "Twelve-metre bar",
            Self::TwentyFourMetre => "Twenty-four-metre bar",
        }
    }

    /// What there is to see in it, in one line.
    pub const fn about(self) -> &'static str {
        match self {
            Self::SixMetre => "19 rows: uneven spacing, pairs on one tube, metering tubes",
            Self::NineMetre => "36 rows 25 cm apart on 3 ranks, 3 sections",
            Self::TwelveMetre => "40 rows, 2 routings: A is uneven on purpose, B mends it",
            Self::TwentyFourMetre => "80 rows, 7 sections, each fed from a tee in a wide main",
        }
    }

    /// The project.
    #[expect(
        clippy::expect_used,
        reason = "the text is part of the program, and `tests/files/examples.rs` reads it"
    )]
    pub fn project(self) -> Project {
        let text = match self {
            Self::SixMetre => include_str!("../../examples/six-metre-trial-bar.ron"),
            Self::NineMetre => include_str!("../../examples/nine-metre-bar.ron"),
            Self::TwelveMetre => include_str!("../../examples/twelve-metre-bar.ron"),
            Self::TwentyFourMetre => include_str!("../../examples/twenty-four-metre-bar.ron"),
        };
        read_text(text).expect("the embedded bar is valid")
    }
}

/// The bar that opens when no file is named.
pub fn demo() -> Project {
    Example::TwelveMetre.project()
}

/// Stocks and parts to start from: sizes that anyone can measure, no make, no prices.
#[expect(
    clippy::expect_used,
    reason = "the text is part of the program, and `tests/files/examples.rs` reads it"
)]
pub fn generic_catalogue() -> Catalogue {
    read_catalogue(CATALOGUE).expect("the embedded catalogue is valid")
}
