//! What clears frames that fold into each other: each entry of the hinge changed by itself, laid out and folded, until
//! one does. What is offered was tried.

use crate::plan::clash_search::frames_that_meet;
use crate::plan::frames_met::FramesMet;
use crate::plan::lay_out::{Fold, HingePair, Layout, lay_out};
use crate::plan::{Bar, Hinge};
use crate::quantities::{Angle, Length, Measure, UnitSystem};

/// How much higher, or farther forward or back, a hinge line is tried, metres: the least that does is offered.
const FARTHER: [f64; 6] = [0.05, 0.1, 0.15, 0.2, 0.3, 0.5];
/// How much less a wing is turned, degrees.
const LESS: [f64; 6] = [5.0, 10.0, 20.0, 30.0, 45.0, 90.0];

/// One change that lets a pair of wings fold clear.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum WayOut {
    /// Another height of the hinge line.
    Height(Length),
    /// Another place of an upright hinge line.
    Line(Length),
    /// A smaller angle.
    Angle(Angle),
    /// Another step of folding.
    Step(u8),
    /// Another step of folding for the left wing alone.
    StepLeft(u8),
}

impl WayOut {
    /// What is entered where, by the names that the entries of the form have.
    pub(super) fn words(self, units: UnitSystem) -> String {
        match self {
            Self::Height(height) => format!("hinge height {}", Measure::Distance.text(height.si(), units)),
            Self::Line(line) => format!("hinge line {} forward", Measure::Distance.text(line.si(), units)),
            Self::Angle(angle) => format!("angle {}", Measure::Angle.short_text(angle.si(), units)),
            Self::Step(step) => format!("fold step {step}"),
            Self::StepLeft(step) => format!("left wing in step {step}"),
        }
    }

    /// The pair with it.
    pub(super) fn of(self, pair: HingePair) -> HingePair {
        match self {
            Self::Height(height) => HingePair { height, ..pair },
            Self::Line(line) => HingePair { forward: Some(line), ..pair },
            Self::Angle(angle) => HingePair { angle, ..pair },
            Self::Step(step) => HingePair { step, step_left: None, ..pair },
            Self::StepLeft(step) => HingePair { step_left: Some(step), ..pair },
        }
    }
}

/// Of each entry of a pair the smallest change, tried, with which its wings fold clear and no others get in each other's way
/// for it.
pub(super) fn ways_out(layout: &Layout, pair: usize) -> Vec<WayOut> {
    let (Some(own), Ok(bar)) = (layout.hinges.get(pair), lay_out(layout)) else { return Vec::new() };
    let before = met(&bar);
    let others = before.iter().filter(|one| **one != pair).count();
    let clears = |way: &WayOut| {
        let mut hinges = layout.hinges.clone();
        if let Some(own) = hinges.get_mut(pair) {
            *own = way.of(*own);
        }
        let Ok(bar) = lay_out(&Layout { hinges, ..layout.clone() }) else { return false };
        let after = met(&bar);
        !after.contains(&pair) && after.len() <= others
    };
    let upright = own.fold == Fold::Forward;
    let line = layout.line_of(own);
    let heights = FARTHER.into_iter().filter(|_| !upright);
    let lines = FARTHER.into_iter().filter(|_| upright).flat_map(|by| [by, -by]);
    let angles = LESS.map(|less| own.angle - Angle::degrees(less)).into_iter();
    let most = Hinge::MOST_STEPS.min((2 * layout.hinges.len()) as u8);
    let steps = || (Hinge::FIRST_STEP..=most).filter(|step| *step != own.step);
    let centimetres = |metres: f64| Length::metres((metres * 100.0).round() / 100.0);
    [
        heights.map(|by| WayOut::Height(centimetres(own.height.si() + by))).find(clears),
        lines.map(|by| WayOut::Line(centimetres(line.si() + by))).find(clears),
        angles.filter(|angle| angle.si() > 0.5).map(WayOut::Angle).find(clears),
        steps().map(WayOut::Step).find(clears),
        steps().map(WayOut::StepLeft).find(clears),
    ]
    .into_iter()
    .flatten()
    .collect()
}

/// The pairs of hinges whose wings fold into something, once for each place.
fn met(bar: &Bar) -> Vec<usize> {
    FramesMet::of(bar, &frames_that_meet(bar)).iter().map(|one| one.pair(bar)).collect()
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a test stops where something is not as it should be")]
mod tests {
    use super::*;
    use crate::plan::lay_out::usual_hinges;

    /// Wings of 5 m on a centre of 2 m meet each other when they are folded flat over it; about a line in the middle of their
    /// rails the frames run into each other.
    #[test]
    fn what_is_offered_clears_the_fold() {
        let low =
            HingePair { height: Length::metres(0.94), angle: Angle::degrees(180.0), ..HingePair::default() };
        let forward = HingePair { fold: Fold::Forward, forward: Some(Length::ZERO), ..HingePair::default() };
        for (centre, pair) in [(8.4, low), (2.0, low), (8.4, forward), (2.0, usual_hinges(1)[0])] {
            let wing = f64::midpoint(12.0, -centre);
            let sections = [wing, centre, wing].map(Length::metres).to_vec();
            let layout = Layout { sections, hinges: vec![pair], ..Layout::even(40, Length::metres(0.3)) };
            if met(&lay_out(&layout).unwrap()).is_empty() {
                assert!(centre < 8.0, "the case is none");
                continue;
            }
            let ways = ways_out(&layout, 0);
            assert!(!ways.is_empty(), "no way out of {pair:?} on {centre} m");
            for way in ways {
                let changed = Layout { hinges: vec![way.of(pair)], ..layout.clone() };
                assert!(met(&lay_out(&changed).unwrap()).is_empty(), "{way:?} on {centre} m");
            }
        }
    }
}
