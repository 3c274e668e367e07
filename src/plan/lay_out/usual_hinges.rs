//! How wings are hinged and folded unless somebody says otherwise.

use super::layout::{Fold, HingePair};
use crate::plan::bar::Hinge;
use crate::quantities::{Angle, Length};

/// Height of a hinge line about which a wing is laid on another, over rails at the usual height.
const OVER_PARTS: Length = Length::metres(1.1);

/// Height of the hinge line of a wing that goes up with another laid on it, whose far end then comes down to the centre.
const UNDER_WINGS: Length = Length::metres(1.0);

/// The same where two more wings hang on that far end: their hoses pass over the centre.
const UNDER_FOUR: Length = Length::metres(1.1);

/// The pair from the centre whose wings are laid in front of those inside them.
const IN_FRONT: usize = 2;

/// Hinges of so many pairs as wings are usually folded: each outer wing is laid on the one inside it, the outermost first, and
/// the innermost goes up last; no two wings then stand in one place (common practice, no source). A wing that is laid on another
/// turns about a line so high over the rails that what stands on both has room between them. Of three pairs the outermost is
/// laid in front of the middle one: laid on it, it would come between that and the innermost, with its openers down on what
/// stands there. A fourth is laid on the third.
pub fn usual_hinges(pairs: usize) -> Vec<HingePair> {
    let usual = |from_centre: usize| HingePair {
        height: match (from_centre, pairs) {
            (0, 1) => HingePair::default().height,
            (0, 2 | 3) => UNDER_WINGS,
            (0, _) => UNDER_FOUR,
            (IN_FRONT, _) => HingePair::default().height,
            _ => OVER_PARTS,
        },
        fold: if from_centre == IN_FRONT { Fold::Forward } else { Fold::Up },
        angle: Angle::degrees(if from_centre == 0 { 90.0 } else { 180.0 }),
        step: u8::try_from(pairs - from_centre).unwrap_or(Hinge::MOST_STEPS).min(Hinge::MOST_STEPS),
        ..HingePair::default()
    };
    (0..pairs).map(usual).collect()
}

/// The same hinges for another number of pairs: those that are as usual stay so, and of others the inner ones are kept, with
/// what is added outside folding before them.
pub fn hinges_for(hinges: &[HingePair], pairs: usize) -> Vec<HingePair> {
    if hinges == usual_hinges(hinges.len()) {
        return usual_hinges(pairs);
    }
    let more = pairs.saturating_sub(hinges.len());
    let later = |step: u8| {
        let step = usize::from(step) + more;
        u8::try_from(step).unwrap_or(Hinge::MOST_STEPS).min(Hinge::MOST_STEPS)
    };
    let kept = hinges.iter().take(pairs).map(|pair| HingePair {
        step: later(pair.step),
        step_left: pair.step_left.map(later),
        ..*pair
    });
    let added = usual_hinges(more + 1).into_iter().skip(1);
    kept.chain(added).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn told(hinges: &[HingePair]) -> Vec<(f64, u8)> {
        hinges.iter().map(|one| (one.angle.si().to_degrees().round(), one.step)).collect()
    }

    #[test]
    fn outer_wings_are_laid_on_the_inner_ones_before_these_go_up() {
        assert_eq!(told(&usual_hinges(1)), [(90.0, 1)]);
        assert_eq!(usual_hinges(1), [HingePair::default()]);
        assert_eq!(told(&usual_hinges(3)), [(90.0, 3), (180.0, 2), (180.0, 1)]);
        let folds: Vec<Fold> = usual_hinges(4).iter().map(|one| one.fold).collect();
        assert_eq!(folds, [Fold::Up, Fold::Up, Fold::Forward, Fold::Up]);
        let innermost = |pairs: usize| usual_hinges(pairs)[0].height.si();
        assert_eq!([1, 2, 3, 4].map(innermost), [0.95, 1.0, 1.0, 1.1]);
        assert!(usual_hinges(12).iter().all(|one| (1..=Hinge::MOST_STEPS).contains(&one.step)));
        assert_eq!(hinges_for(&usual_hinges(2), 3), usual_hinges(3));
        assert_eq!(hinges_for(&usual_hinges(3), 1), usual_hinges(1));
        // What was chosen stays, and what is added folds first.
        let own = HingePair { angle: Angle::degrees(120.0), step_left: Some(2), ..HingePair::default() };
        let more = hinges_for(&[own], 2);
        assert_eq!(told(&more), [(120.0, 2), (180.0, 1)]);
        assert_eq!(more[0].step_left, Some(3));
        assert_eq!(hinges_for(&[own, HingePair::default()], 1), [own]);
    }
}
