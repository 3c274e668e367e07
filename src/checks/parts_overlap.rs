//! Parts that need the same room.

use std::collections::BTreeMap;

use super::finding::{Finding, FindingSubject, Severity};
use super::words::list;
use super::{Context, Rule};
use crate::plan::PartId;
use crate::plan::through_body::{PlacedBody, in_each_other};

pub(super) const RULE: Rule = Rule {
    name: "parts in each other",
    about: "Two parts that need the same room: neither beside, above nor below each other, a part taken to be as high as it is deep",
    by_speed: false,
    check,
};

fn check(here: &Context) -> Vec<Finding> {
    let parts = here.routing.geometry.anchors.parts();
    let (ids, bodies): (Vec<PartId>, Vec<PlacedBody>) =
        parts.iter().filter_map(|part| Some((part.id, part.placed_body()?))).unzip();
    let mut met: BTreeMap<usize, Vec<PartId>> = BTreeMap::new();
    for (before, place) in in_each_other(&bodies) {
        met.entry(place).or_default().push(ids[before]);
    }
    let told = |(place, others): (usize, Vec<PartId>)| Finding {
        severity: Severity::Error,
        place: here.part_tag(ids[place]),
        what: format!(
            "lies in {}: they need the same room, as high as each is taken to be deep",
            list(&others.iter().map(|one| here.part_tag(*one)).collect::<Vec<_>>())
        ),
        advice: "move one of them, or give it another height if one stands above the other".to_owned(),
        subjects: std::iter::once(ids[place]).chain(others).map(FindingSubject::Part).collect(),
        ..here.finding(RULE.name, "")
    };
    met.into_iter().map(told).collect()
}

#[cfg(test)]
mod tests {
    use super::super::sample::{FILTER, MANIFOLD, Sample};
    use super::*;

    #[test]
    fn parts_in_the_same_room_are_told_once_and_those_above_each_other_are_not() {
        let mut sample = Sample::new();
        assert!(sample.of(RULE).is_empty());
        let place = |id| sample.routing.parts.iter().position(|part| part.id == id).unwrap();
        let (filter, manifold) = (place(FILTER), place(MANIFOLD));
        let at = sample.routing.parts[filter].position;
        sample.routing.parts[manifold].position = at;
        sample.resolve();
        let finding = sample.only(RULE);
        assert_eq!((finding.severity, finding.place.as_str()), (Severity::Error, "M1"));
        assert!(finding.what.starts_with("lies in F1: "), "{finding}");
        assert_eq!(finding.subjects, [MANIFOLD, FILTER].map(FindingSubject::Part));
        sample.routing.parts[manifold].position.z += 0.5;
        sample.resolve();
        assert!(sample.of(RULE).is_empty(), "one stands above the other");
    }
}
