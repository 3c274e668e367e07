//! A hinge crossing in words.

use super::crossed::{CrossedHinge, Crossing, CrossingBasis};
use crate::plan::FoldPosition;
use crate::quantities::{Length, Measure, UnitSystem};

impl Crossing {
    /// Where its clamps are, along the hose from beside the hinge: `0.2 m from it towards the centre and 0.15 m towards the
    /// tip`.
    pub fn clamp_words(&self, units: UnitSystem) -> String {
        let [inner, outer] = self.inner_and_outer().map(|clamp| clamp.from_hinge);
        let length = |one: Length| Measure::CutLength.short_text(one.si(), units);
        format!("{} from it towards the centre and {} towards the tip", length(inner), length(outer))
    }
}

/// A crossing in words, as a name and a value each: how long its free piece is and why, and where it is clamped.
pub fn facts(crossed: &CrossedHinge, units: UnitSystem) -> Vec<(&'static str, String)> {
    let length = |one: Length| Measure::CutLength.short_text(one.si(), units);
    let position = |at: FoldPosition| format!("{} folded", Measure::Percent.short_text(at.as_share(), units));
    let mut facts = Vec::new();
    let computed = match &crossed.basis {
        CrossingBasis::Entered(Ok(crossing)) => {
            let free = format!("{} ({} without what was entered)", "entered", length(crossing.free));
            facts.push(("free piece", free));
            crossing
        }
        CrossingBasis::Computed(crossing) => {
            facts.push(("free piece", format!("{} between the clamps, computed", length(crossing.free))));
            crossing
        }
        CrossingBasis::Entered(Err(why)) => {
            facts.push(("free piece", format!("entered, not computed: {}", why.words())));
            return facts;
        }
        CrossingBasis::Assumed(why) => {
            let assumed =
                format!("{} more than drawn assumed, not computed: {}", length(crossed.extra), why.words());
            facts.push(("free piece", assumed));
            return facts;
        }
    };
    let whose = if computed.is_placed { "placed" } else { "suggested" };
    facts.push(("clamps", format!("{}, {whose}", computed.clamp_words(units))));
    let [inner, outer] = computed.inner_and_outer().map(|clamp| clamp.stretch);
    let range = |(from, to): (Length, Length)| format!("{} to {}", length(from), length(to));
    facts.push((
        "clamps can be",
        format!("{} from it towards the centre, {} towards the tip", range(inner), range(outer)),
    ));
    let carriers = computed.inner_and_outer().map(|clamp| clamp.needs_carrier);
    let needs = match carriers {
        [false, false] => None,
        [true, false] => Some("the clamp towards the centre"),
        [false, true] => Some("the clamp towards the tip"),
        [true, true] => Some("each clamp"),
    };
    facts.extend(
        needs.map(|which| ("carriers", format!("{which} needs one: no frame member is near enough"))),
    );
    let (farthest, at) = computed.longest;
    facts.push(("clamps apart", format!("{} at most, {}", length(farthest), position(at))));
    let (radius, at) = computed.tightest;
    facts.push(("least bend radius", format!("{}, {}", length(radius), position(at))));
    facts
}
