//! The usual cautions, on every paper.

use super::document::{Block, Caution, Signal};

/// Local codes come first, and a prediction is not a measurement.
pub const FIRST: &str = "Local codes, the makers' instructions and licensed practice come first. Every figure here is a \
                         prediction: confirm it by a catch test before seeding.";

/// Liquid under pressure.
pub(super) fn pressure() -> Caution {
    warning(
        "Liquid under pressure can squirt into eyes and skin. Before opening anything stop the pump, shut the supply and \
         let the pressure off at the lowest joint, slowly, under a cloth, facing away: check valves hold some of it back, \
         whatever a gauge shows. Never feel for a leak by hand.",
    )
}

/// Chemicals.
pub(super) fn chemicals() -> Caution {
    warning(
        "Fertilisers and chemicals burn eyes and skin. Read the label and the safety data sheet, wear eye and hand \
         protection, keep rinsing water within reach, and jar-test every mix.",
    )
}

/// Folding wings.
pub(super) fn folding() -> Caution {
    danger(
        "Folding wings crush, and kill where they come near a power line. Look up before every fold and keep the distance \
         that local rules ask for. Everybody out of the wings' way; never reach into a hinge while it can move; lock and \
         support the wings before working beneath.",
    )
}

/// Road and the electrical side.
pub(super) fn road() -> Caution {
    caution(
        "Isolate the electrical supply before working on it. Folded hoses must not make the bar wider or higher than road \
         rules allow; a folded bar, too, is high under power lines.",
    )
}

pub(super) fn danger(text: &str) -> Caution {
    Caution { signal: Signal::Danger, text: text.to_owned() }
}

pub(super) fn warning(text: &str) -> Caution {
    Caution { signal: Signal::Warning, text: text.to_owned() }
}

pub(super) fn caution(text: &str) -> Caution {
    Caution { signal: Signal::Caution, text: text.to_owned() }
}

/// All of them with a heading, for the end of a paper.
pub fn blocks() -> Vec<Block> {
    let mut blocks = vec![Block::Heading("Cautions".to_owned())];
    blocks.extend([folding(), pressure(), chemicals(), road()].map(Block::Caution));
    blocks.push(Block::Paragraph(FIRST.to_owned()));
    blocks
}
