//! Flow indicators whose rows flow less than they show.

use super::context::row_subjects;
use super::finding::{Finding, Severity};
use super::{Context, Rule};
use crate::plan::{ElementItem, FeedElement, FlowIndicator, RowId};
use crate::quantities::{Flow, Measure};

pub(super) const RULE: Rule = Rule {
    name: "flow indicator",
    about: "Rows that flow less than their flow indicators show, so that they look blocked",
    by_speed: true,
    check,
};

fn check(here: &Context) -> Vec<Finding> {
    let mut rows: Vec<RowId> = Vec::new();
    let mut worst: Option<(Flow, Flow)> = None;
    for path in here.row_paths() {
        for (element, outcome) in &path.elements {
            let FeedElement::Piece(_, key) = element else { continue };
            let Some(ElementItem::FlowIndicator(FlowIndicator { shows_from, .. })) =
                here.project.catalogue.item(key)
            else {
                continue;
            };
            let flow = outcome.and_then(|one| one.flow).filter(|flow| flow.si() > 0.0 && flow < shows_from);
            if let Some(flow) = flow {
                rows.push(path.row.row);
                if worst.is_none_or(|(least, from)| flow / *shows_from < least / from) {
                    worst = Some((flow, *shows_from));
                }
            }
        }
    }
    rows.dedup();
    let Some((flow, from)) = worst else { return Vec::new() };
    vec![Finding {
        severity: Severity::Warning,
        extent: Some(from / flow),
        place: here.row_words(&rows),
        what: format!(
            "look blocked: {} at {}, and their flow indicators show flow only from {} on",
            here.text(Measure::RowFlow, flow),
            here.speed(),
            here.text(Measure::RowFlow, from)
        ),
        advice: "fit flow indicators that show less, or go no slower".to_owned(),
        subjects: row_subjects(&rows),
        names_speed: true,
        ..here.finding(RULE.name, "")
    }]
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;
    use crate::plan::{ElementKind, Item};
    use crate::quantities::{Length, Pressure};

    #[test]
    fn rows_below_what_is_shown_are_grouped_and_those_at_it_are_not() {
        let mut sample = Sample::new();
        // The check valves of the sample are taken for indicators.
        let flow = Flow::litres_per_minute(0.5);
        for element in &mut sample.numbers().elements {
            element.flow = Some(flow);
        }
        let mut with = |shows_from: Flow| {
            for element in sample.routing.feeds.iter_mut().flat_map(crate::plan::RowFeed::elements_mut) {
                if let FeedElement::Piece(kind, key) = element
                    && !kind.is_metering()
                {
                    *kind = ElementKind::FlowIndicator;
                    let entry =
                        sample.project.catalogue.entries.iter_mut().find(|entry| *key == entry.key).unwrap();
                    entry.item = Item::from(FlowIndicator {
                        k: 1.0,
                        bore: Length::millimetres(5.0),
                        shows_from,
                        rated: Pressure::bar(8.0),
                    });
                }
            }
            sample.of(RULE)
        };
        assert!(with(flow * 0.99).is_empty());
        let found = with(flow * 1.01);
        assert_eq!(found.len(), 1, "{found:?}");
        assert_eq!(found[0].place, "Rows 1 to 4");
    }
}
