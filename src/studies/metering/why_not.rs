//! What keeps a metering from being recommended: of every line of the table one reason at least.

use super::super::trial::{Requirement, without_what_is_said};
use super::answer::Says;
use super::choice::{ChoiceAtDuty, MeteringChoice};
use crate::plan::Metering;

impl Says<'_> {
    /// What a choice misses under a duty, first what weighs most.
    pub(super) fn missed(choice: &MeteringChoice, at: &ChoiceAtDuty) -> Vec<Requirement> {
        let no_speed_changes =
            |requirement: &&Requirement| matches!(requirement, Requirement::Passage | Requirement::Material);
        let at_any_speed = choice.broken.iter().filter(no_speed_changes);
        let mut missed: Vec<Requirement> =
            at_any_speed.chain(at.at.iter().flat_map(|one| &one.broken)).copied().collect();
        missed.sort_unstable_by(|a, b| b.cmp(a));
        missed.dedup();
        without_what_is_said(missed)
    }

    /// What a choice misses, under this duty or another one; where it misses nothing, why another one is taken.
    pub(super) fn why_not(&self, choice: &MeteringChoice, at: &ChoiceAtDuty, is_chosen: bool) -> String {
        let words = |requirements: &[Requirement]| {
            requirements
                .iter()
                .map(|requirement| requirement.broken_words().to_owned())
                .collect::<Vec<String>>()
        };
        let here = Self::missed(choice, at);
        let mut all = words(&here);
        for other in choice.duties.iter().filter(|other| other.duty != at.duty) {
            // What is missed under both is said once.
            let theirs = other.at.iter().flat_map(|one| &one.broken).copied();
            let mut missed: Vec<Requirement> =
                theirs.filter(|requirement| !here.contains(requirement)).collect();
            missed.sort_unstable_by(|a, b| b.cmp(a));
            missed.dedup();
            let missed = without_what_is_said(missed);
            let named = words(&missed).into_iter().map(|one| format!("{one}{}", self.under(other.duty)));
            all.extend(named);
        }
        let best = self.found.best().filter(|_| !is_chosen && choice.fits());
        all.extend(best.and_then(|best| self.passed_over(choice, best)));
        all.join("; ")
    }

    /// Why another metering is taken in place of one that keeps all limits, by the order in which they are chosen.
    fn passed_over(&self, choice: &MeteringChoice, best: &MeteringChoice) -> Option<String> {
        let is_tube = |one: &MeteringChoice| matches!(one.metering, Metering::Tube { .. });
        let bore = |one: &MeteringChoice| one.metering.bore(&self.project.catalogue);
        let why = if best.holds() && !choice.holds() {
            "its check valve does not hold"
        } else if best.has_margin() && !choice.has_margin() {
            return None;
        } else if is_tube(choice) && !is_tube(best) {
            "its flow changes with the temperature"
        } else if bore(choice) < bore(best) {
            "narrower, plugs sooner"
        } else {
            "does as well"
        };
        Some(why.to_owned())
    }
}
