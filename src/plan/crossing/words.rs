//! A hinge crossing in words.

use super::as_assumed::IfUnlikeAssumed;
use super::crossed::{CrossedHinge, Crossing, CrossingBasis, Hang};
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

    /// The least radius with what it has over that of its stock: `231 mm, 1 mm more than its stock allows`.
    pub fn radius_words(&self, units: UnitSystem) -> String {
        let length = |one: f64| Measure::CutLength.short_text(one, units);
        let (radius, least) = (self.tightest.0.si(), self.least_radius().si());
        format!("{}, {} more than its stock allows", length(radius), length((radius - least).max(0.0)))
    }

    /// How stiff its stock is: `2.9 N·m², assumed`.
    pub fn stiffness_words(&self, units: UnitSystem) -> String {
        let stiffness = Measure::BendingStiffness.text(self.stiffness.value.si(), units);
        let assumed = if self.stiffness.is_assumed { ", assumed" } else { "" };
        format!("{stiffness}{assumed}")
    }

    /// What becomes of it if its stock is as stiff as is just as likely: `half as stiff as assumed it bends to 217 mm, and its stock
    /// allows 230 mm`.
    pub fn unlike_words(&self, other: &IfUnlikeAssumed, units: UnitSystem) -> String {
        let length = |one: Length| Measure::CutLength.short_text(one.si(), units);
        let (radius, least) = (length(other.radius), length(self.least_radius()));
        format!("{} it bends to {radius}, and its stock allows {least}", other.factor_words())
    }

    /// How low it hangs at work: `0.52 m above level ground, at work, its underside at the longest that it gets under pressure; 85
    /// mm below its clamps`.
    pub fn hang_words(&self, units: UnitSystem) -> String {
        match self.hangs {
            Hang::OutOfPlane => OUT_OF_PLANE.to_owned(),
            Hang::Computed { height, level, below_clamps, .. } => {
                let lowest = lowest_words(level, height, units);
                let below = Measure::CutLength.short_text(below_clamps.si().max(0.0), units);
                format!(
                    "{lowest}, at work, its underside at the longest that it gets under pressure; {below} below its \
                     clamps"
                )
            }
        }
    }
}

/// How far above the ground the underside of what hangs is, on level ground and, where that is less, with hinges at their lowest:
/// `0.70 m above level ground, 0.42 m with its wing at its lowest`.
pub fn lowest_words(level: Length, height: Length, units: UnitSystem) -> String {
    let [on_level, at_lowest] = [level, height].map(|one| Measure::Distance.text(one.si(), units));
    if on_level == at_lowest {
        return format!("{on_level} above level ground");
    }
    format!("{on_level} above level ground, {at_lowest} with its wing at its lowest")
}

/// Less than this is none, radians: half a degree.
const NO_TWIST: f64 = 0.009;

/// Why it is not known how low a free piece hangs.
pub const OUT_OF_PLANE: &str = "not computed: its weight acts across the plane of its clamps";

/// A crossing in words, as a name and a value each: how long its free piece is and why, and where it is clamped.
pub fn facts(crossed: &CrossedHinge, units: UnitSystem) -> Vec<(&'static str, String)> {
    let length = |one: Length| Measure::CutLength.short_text(one.si(), units);
    let position = |at: FoldPosition| format!("{} folded", Measure::Percent.short_text(at.as_share(), units));
    let mut facts = Vec::new();
    let computed = match &crossed.basis {
        CrossingBasis::Entered(Ok(crossing)) => {
            let (farthest, at) = crossing.longest;
            let short = if crossing.lies < farthest {
                format!("; too short: its clamps come {} apart, {}", length(farthest), position(at))
            } else {
                String::new()
            };
            let free = format!(
                "{} as entered ({} without what was entered){short}",
                length(crossing.lies),
                length(crossing.free)
            );
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
    // The wing at its lowest takes them farther apart than they are on level ground.
    let level = {
        let [before, behind] = computed.clamps.each_ref().map(|clamp| clamp.at.place);
        Length::metres(before.distance(behind))
    };
    let apart = if at.is_working() && length(farthest) != length(level) {
        format!(
            "{} at most, with its wing at its lowest; {} at work on level ground",
            length(farthest),
            length(level)
        )
    } else {
        format!("{} at most, {}", length(farthest), position(at))
    };
    facts.push(("clamps apart", apart));
    let at = computed.tightest.1;
    facts.push(("least bend radius", format!("{}, {}", computed.radius_words(units), position(at))));
    facts.push(("hangs down to", computed.hang_words(units)));
    let loads = if computed.is_assumed {
        "full and empty, weight or stiffness of the stock assumed"
    } else {
        "full and empty, as entered for the stock"
    };
    facts.push(("weight", loads.to_owned()));
    let unlike = computed.if_unlike_assumed().map(|one| format!("; {}", computed.unlike_words(&one, units)));
    facts.push(("stiffness", computed.stiffness_words(units) + &unlike.unwrap_or_default()));
    let twist = Measure::Angle.short_text(computed.twist().si(), units);
    let says = if computed.twist().si() < NO_TWIST {
        "none, its clamps are in one plane".to_owned()
    } else {
        format!("{twist} at most, left out: its clamps are nearly in one plane")
    };
    facts.push(("twist", says));
    facts
}
