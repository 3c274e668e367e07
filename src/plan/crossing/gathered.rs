//! Hoses and tubes that cross the same hinge, seen together: a bundle is one crossing with many members.

use super::crossed::{CrossedHinge, Crossing, CrossingBasis};
use crate::plan::{SectionId, Towards};
use crate::quantities::{Length, Measure, UnitSystem};

/// What crosses one hinge, of what was asked for.
#[derive(Debug, Clone, PartialEq)]
pub struct Gathered<'a> {
    /// The section that hangs on the hinge.
    pub section: SectionId,
    /// How many cross it; one that crosses it there and back counts twice.
    pub count: usize,
    /// Those whose length there is computed, or entered beside a computed one.
    pub computed: Vec<&'a Crossing>,
    /// How many of these have an entered length.
    pub entered: usize,
    /// How many are still to be computed.
    pub awaited: usize,
}

/// Crossings by the hinge, in the order in which the hinges come first.
pub fn gathered<'a>(all: impl IntoIterator<Item = &'a CrossedHinge>) -> Vec<Gathered<'a>> {
    let mut found: Vec<Gathered> = Vec::new();
    for crossed in all {
        let at = found.iter().position(|one| one.section == crossed.section).unwrap_or_else(|| {
            let section = crossed.section;
            found.push(Gathered { section, count: 0, computed: Vec::new(), entered: 0, awaited: 0 });
            found.len() - 1
        });
        let one = &mut found[at];
        one.count += 1;
        one.computed.extend(crossed.computed());
        one.entered += usize::from(matches!(crossed.basis, CrossingBasis::Entered(_)));
        one.awaited += usize::from(crossed.awaited.is_some());
    }
    found
}

impl Gathered<'_> {
    /// From where to where the clamps of all can be on one side of the hinge: what their straight stretches have in common,
    /// or all that any of them has where they have nothing in common.
    pub fn stretch(&self, towards: Towards) -> (Length, Length) {
        let all = || self.computed.iter().map(|one| one.clamp(towards).stretch);
        let least = all().map(|one| one.0).reduce(Length::max).unwrap_or_default();
        let most = all().map(|one| one.1).reduce(Length::min).unwrap_or_default();
        if least <= most {
            return (least, most);
        }
        let least = all().map(|one| one.0).reduce(Length::min).unwrap_or_default();
        (least, all().map(|one| one.1).reduce(Length::max).unwrap_or_default())
    }

    /// In words, as a name and a value each: the shortest and the longest piece, the clamps, the least radius.
    pub fn facts(&self, units: UnitSystem) -> Vec<(&'static str, String)> {
        let mut facts = vec![("lines over the hinge", self.count.to_string())];
        if self.awaited > 0 {
            facts.push(("being computed", self.awaited.to_string()));
        }
        let unknown = self.count - self.computed.len() - self.awaited;
        if unknown > 0 {
            facts.push(("not computed", unknown.to_string()));
        }
        if self.entered > 0 {
            facts.push(("lengths entered", self.entered.to_string()));
        }
        let mut range = |name: &'static str, of: &dyn Fn(&Crossing) -> Length| {
            let all = || self.computed.iter().map(|one| of(one));
            let by_size = |a: &Length, b: &Length| a.si().total_cmp(&b.si());
            if let Some((least, most)) = all().min_by(by_size).zip(all().max_by(by_size)) {
                let text = |one: Length| Measure::CutLength.short_text(one.si(), units);
                let says = if text(least) == text(most) {
                    text(least)
                } else {
                    format!("{} to {}", text(least), text(most))
                };
                facts.push((name, says));
            }
        };
        range("free piece between the clamps", &|one| one.free);
        range("clamp towards the centre, from it", &|one| one.inner_and_outer()[0].from_hinge);
        range("clamp towards the tip, from it", &|one| one.inner_and_outer()[1].from_hinge);
        range("least bend radius", &|one| one.tightest.0);
        let carriers =
            self.computed.iter().flat_map(|one| &one.clamps).filter(|clamp| clamp.needs_carrier).count();
        if carriers > 0 {
            facts.push(("clamps that need a carrier", carriers.to_string()));
        }
        facts
    }
}
