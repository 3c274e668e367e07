//! Wetted materials that the liquid attacks.

use std::collections::BTreeMap;

use super::finding::{Finding, FindingSubject, Severity};
use super::words::list;
use super::{Context, Rule};
use crate::plan::{EntryKey, WettedMaterial};

pub(super) const RULE: Rule = Rule {
    name: "material",
    about: "A part, hose, tube or fitting of a material that the liquid attacks, as entered for both",
    by_speed: false,
    check,
};

fn check(here: &Context) -> Vec<Finding> {
    let liquid = &here.duty().liquid;
    if liquid.attacks.is_empty() {
        return Vec::new();
    }
    let mut found: BTreeMap<usize, (Vec<FindingSubject>, Vec<String>)> = BTreeMap::new();
    let entries = &here.project.catalogue.entries;
    let attacked = |at: usize| -> Vec<WettedMaterial> {
        entries[at].materials.iter().copied().filter(|one| liquid.attacks.contains(one)).collect()
    };
    let mut add = |key: &EntryKey, subject: FindingSubject, tag: &str| {
        let Some(at) = entries.iter().position(|entry| entry.key == *key) else { return };
        if attacked(at).is_empty() {
            return;
        }
        let (subjects, tags) = found.entry(at).or_default();
        if subjects.last() != Some(&subject) {
            subjects.push(subject);
            tags.push(tag.to_owned());
        }
    };
    for part in &here.routing.parts {
        add(&part.entry, FindingSubject::Part(part.id), &part.tag);
    }
    for run in &here.routing.runs {
        add(&run.line.stock, FindingSubject::Run(run.id), &run.tag);
        run.fittings.iter().for_each(|fitting| add(fitting, FindingSubject::Run(run.id), &run.tag));
    }
    for feed in &here.routing.feeds {
        let entries = feed.elements().map(|element| element.entry());
        let split = feed.split.iter().map(|split| split.entry.any());
        entries.chain(split).for_each(|key| add(key, FindingSubject::Feed(feed.id), &feed.tag));
    }
    found
        .into_iter()
        .map(|(at, (subjects, tags))| {
            let names: Vec<String> = attacked(at).iter().map(|one| one.name().to_owned()).collect();
            let own = &entries[at];
            let what = if own.description.is_empty() { own.item.kind() } else { &own.description };
            Finding {
                severity: Severity::Warning,
                place: crate::plan::words::tags(&tags),
                what: format!("{what}: {} is attacked by {}", list(&names), liquid.name),
                advice: "choose one of another material; the liquid's data sheet says which it leaves alone"
                    .to_owned(),
                subjects,
                ..here.finding(RULE.name, &own.key.0)
            }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;

    /// Nitrogen solutions and copper alloys: no brass with ammoniacal products (extension services on handling ammonia;
    /// for urea ammonium nitrate from memory).
    #[test]
    fn what_the_liquid_attacks_is_told_once_for_each_entry() {
        let mut sample = Sample::new();
        let valve =
            sample.project.catalogue.entries.iter_mut().find(|one| one.item.kind() == "check valve").unwrap();
        valve.materials = vec![WettedMaterial::StainlessSteel, WettedMaterial::CopperAlloy];
        assert!(sample.of(RULE).is_empty());
        sample.project.duties.first_mut().liquid.attacks =
            vec![WettedMaterial::CopperAlloy, WettedMaterial::Zinc];
        let finding = sample.only(RULE);
        assert_eq!(finding.severity, Severity::Warning);
        assert!(finding.what.contains("brass, bronze or copper is attacked by"), "{}", finding.what);
        assert_eq!(finding.subjects.len(), sample.routing.feeds.len());
        sample.project.duties.first_mut().liquid.attacks = vec![WettedMaterial::Zinc];
        assert!(sample.of(RULE).is_empty());
    }
}
