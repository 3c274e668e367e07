//! Flow meters whose flow lies outside what they show right.

use super::finding::{Finding, FindingSubject, Severity};
use super::{Context, Rule};
use crate::plan::{FlowMeter, PartItem};
use crate::quantities::Measure;

pub(super) const RULE: Rule = Rule {
    name: "flow meter range",
    about: "A flow meter with less or more flow than it shows right",
    by_speed: true,
    check,
};

fn check(here: &Context) -> Vec<Finding> {
    let mut findings = Vec::new();
    for part in &here.routing.parts {
        let Some(PartItem::FlowMeter(FlowMeter { least, greatest, .. })) = here.item(part) else { continue };
        let Some(flow) = here.outcome.part(part.id).and_then(|one| one.flow) else { continue };
        // Nothing passes: other rules say why.
        let (case, how, limit, extent) = if flow.si() <= 0.0 {
            continue;
        } else if flow < *least {
            ("low", "below its range, which starts at", *least, *least / flow)
        } else if flow > *greatest {
            ("high", "above its range, which ends at", *greatest, flow / *greatest)
        } else {
            continue;
        };
        findings.push(Finding {
            severity: Severity::Warning,
            extent: Some(extent),
            place: part.tag.clone(),
            what: format!(
                "{} at {}: {how} {}",
                here.text(Measure::TotalFlow, flow),
                here.speed(),
                here.text(Measure::TotalFlow, limit)
            ),
            advice: "fit a flow meter whose range holds the flows of all three speeds, or look at the total flow elsewhere"
                .to_owned(),
            subjects: vec![FindingSubject::Part(part.id)],
            names_speed: true,
            ..here.finding(RULE.name, case)
        });
    }
    findings
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;
    use crate::plan::{Item, PartId};
    use crate::quantities::{Flow, Length, Pressure};

    #[test]
    fn less_and_more_than_it_shows_and_what_lies_between() {
        let mut sample = Sample::new();
        // The filter of the sample is taken for a meter.
        let filter = sample.routing.parts.iter().find(|part| part.tag == "F1").unwrap();
        let (id, key): (PartId, _) = (filter.id, filter.entry.clone());
        let entry = sample.project.catalogue.entries.iter_mut().find(|entry| key == entry.key).unwrap();
        entry.item = Item::from(FlowMeter {
            bore: Length::millimetres(19.0),
            k: 1.0,
            least: Flow::litres_per_minute(2.0),
            greatest: Flow::litres_per_minute(40.0),
            rated: Pressure::bar(10.0),
        });
        for (flow, wanted) in [
            (1.9, Some("below its range, which starts at 2.0 L/min")),
            (2.0, None),
            (40.0, None),
            (41.0, Some("above its range, which ends at 40.0 L/min")),
            (0.0, None),
        ] {
            let outcome = sample.numbers().parts.iter_mut().find(|one| one.part == id).unwrap();
            outcome.flow = Some(Flow::litres_per_minute(flow));
            let found = sample.of(RULE);
            assert_eq!(found.len(), usize::from(wanted.is_some()), "{flow}: {found:?}");
            if let Some(words) = wanted {
                assert!(found[0].what.contains(words), "{}", found[0].what);
            }
        }
    }
}
