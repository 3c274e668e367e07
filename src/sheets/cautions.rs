//! The usual cautions: in full at the head of the fitting steps, where steps point to them by a letter; in a line on every
//! other paper.

use super::document::{Block, Caution, Hazard, Signal};

/// Local codes come first, and a prediction is not a measurement.
pub const FIRST: &str = "Local codes, the makers' instructions and licensed practice come first. Every figure here is a \
                         prediction: confirm it by a catch test before seeding.";

/// All of them in a line.
const IN_SHORT: &str = "Folding wings crush, liquid under pressure and chemicals injure: the cautions at the head of the \
                        fitting steps hold for all work on the bar.";

/// What is said of a danger.
fn caution(hazard: Hazard) -> Caution {
    let (signal, text) = match hazard {
        Hazard::Folding => (
            Signal::Danger,
            "Folding wings crush, and kill where they come near a power line. Look up before every fold and keep the distance \
             that local rules ask for. Everybody out of the wings' way; never reach into a hinge while it can move; lock and \
             support the wings before working beneath.",
        ),
        Hazard::Pressure => (
            Signal::Warning,
            "Liquid under pressure can squirt into eyes and skin. Before opening anything stop the pump, shut the supply and \
             let the pressure off at the lowest joint, slowly, under a cloth, facing away: check valves hold some of it back, \
             whatever a gauge shows. Never feel for a leak by hand.",
        ),
        Hazard::Chemicals => (
            Signal::Warning,
            "Fertilisers and chemicals burn eyes and skin. Read the label and the safety data sheet, wear eye and hand \
             protection, keep rinsing water within reach, and jar-test every mix.",
        ),
        Hazard::Road => (
            Signal::Caution,
            "Isolate the electrical supply before working on it. Folded hoses must not make the bar wider or higher than road \
             rules allow; a folded bar, too, is high under power lines.",
        ),
    };
    Caution { hazard: Some(hazard), signal, text: text.to_owned() }
}

/// A warning of its own.
pub(super) fn warning(text: &str) -> Caution {
    Caution { hazard: None, signal: Signal::Warning, text: text.to_owned() }
}

/// Those that apply, with a heading and their letters, for the head of the fitting steps.
pub(super) fn at_the_front(applies: impl Fn(Hazard) -> bool) -> Vec<Block> {
    let mut blocks = vec![Block::Heading("Cautions: the letter stands where they bite".to_owned())];
    let all = Hazard::ALL.into_iter().filter(|hazard| applies(*hazard));
    blocks.extend(all.map(|hazard| Block::Caution(caution(hazard))));
    blocks.push(Block::Paragraph(FIRST.to_owned()));
    blocks
}

/// In a line, for every paper but the fitting steps.
pub fn blocks() -> Vec<Block> {
    vec![Block::Paragraph(format!("{IN_SHORT} {FIRST}"))]
}
