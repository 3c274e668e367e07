//! Mesh openings against the smallest bore behind the filter.

use crate::plan::InletFilter;
use std::collections::BTreeSet;

use super::finding::{Finding, FindingSubject, Severity};
use super::{Context, Rule};
use crate::plan::{PartId, PartItem, Port, PortRef, RowId};
use crate::quantities::{Length, Measure};

pub(super) const RULE: Rule = Rule {
    name: "mesh",
    about: "A mesh opening too wide for the smallest bore behind it, or metering with no filter before it",
    by_speed: false,
    check,
};

fn check(here: &Context) -> Vec<Finding> {
    let mut findings = Vec::new();
    let connections = &here.routing.geometry.connections;
    let (mut filters, mut strained): (Vec<PartId>, BTreeSet<PartId>) = Default::default();
    let paths = here.row_paths();
    for part in &here.routing.parts {
        let Some(PartItem::InletFilter(InletFilter { opening, .. })) = here.item(part) else { continue };
        let behind = connections.behind(PortRef { part: part.id, port: Port::Out }).parts;
        filters.push(part.id);
        strained.extend(&behind);
        let mut smallest: Option<(Length, &'static str, RowId)> = None;
        for path in
            paths.iter().filter(|path| path.feed.from.port().is_some_and(|port| behind.contains(&port.part)))
        {
            for (element, _) in &path.elements {
                let bore =
                    here.project.catalogue.any_item(element.entry()).and_then(|item| item.smallest_bore());
                if let Some(bore) = bore
                    && smallest.is_none_or(|(least, ..)| bore < least)
                {
                    smallest = Some((bore, element.kind(), path.row.row));
                }
            }
        }
        let Some((bore, kind, row)) = smallest else { continue };
        let limit = bore * here.project.limits.mesh_share.si();
        if *opening > limit {
            findings.push(Finding {
                severity: Severity::Warning,
                place: part.tag.clone(),
                what: format!(
                    "the mesh opening of {} is more than {} of the smallest bore behind it, the {kind} of {} of {}",
                    here.short(Measure::Opening, *opening),
                    here.short(Measure::Percent, here.project.limits.mesh_share),
                    here.short(Measure::Bore, bore),
                    here.row_words_inside(&[row])
                ),
                advice: format!("fit a mesh with an opening of {} or less", here.short(Measure::Opening, limit)),
                subjects: vec![FindingSubject::Part(part.id)],
                also: vec![FindingSubject::Row(row)], ..here.finding(RULE.name, "opening")
});
        }
    }
    // Strained is what lies behind a filter and has no way round all of them.
    let unstrained = connections.reached_without(&filters).parts;
    strained.retain(|part| !unstrained.contains(part));
    let bare: Vec<RowId> = paths
        .iter()
        .filter(|path| path.is_fed())
        .filter(|path| path.feed.from.port().is_none_or(|port| !strained.contains(&port.part)))
        .filter(|path| path.elements.iter().any(|(element, _)| element.is_metering()))
        .map(|path| path.row.row)
        .collect();
    if !bare.is_empty() {
        findings.push(Finding {
            severity: Severity::Warning,
            place: here.row_words(&bare),
            what: "no filter before the metering".to_owned(),
            advice: "put an inlet filter between the supply hose and the bar".to_owned(),
            subjects: super::context::row_subjects(&bare),
            ..here.finding(RULE.name, "no filter")
        });
    }
    findings
}

#[cfg(test)]
mod tests {
    use super::super::sample::{self, Sample};
    use super::*;
    use crate::plan::Item;

    #[test]
    fn half_the_smallest_bore_is_the_limit() {
        let mut sample = Sample::new();
        // The orifices have 1.0 mm: 500 µm will do, 501 µm will not.
        sample.set_item("filter", |item| {
            if let Item::Part(PartItem::InletFilter(InletFilter { opening, .. })) = item {
                *opening = Length::from_si(501e-6);
            }
        });
        let finding = sample.only(RULE);
        assert_eq!(finding.place, "F1");
        assert!(
            finding.what.contains("501 µm") && finding.what.contains("1 mm of row 1"),
            "{}",
            finding.what
        );
        assert_eq!(finding.advice, "fit a mesh with an opening of 500 µm or less");
        sample.set_item("filter", |item| {
            if let Item::Part(PartItem::InletFilter(InletFilter { opening, .. })) = item {
                *opening = Length::from_si(500e-6);
            }
        });
        assert!(sample.of(RULE).is_empty());
    }

    /// A manifold that hangs on an outlet of another, by a hose or a valve screwed on, is behind the filter all the same.
    #[test]
    fn a_filter_strains_what_outlets_and_mounts_lead_to() {
        let on = |part, port| crate::plan::End::Port(PortRef { part, port });
        let mut sample = Sample::two_wings(4);
        sample.routing.feeds.remove(0);
        sample.routing.runs[2].from = on(sample::MANIFOLD, Port::Outlet(1));
        assert!(sample.of(RULE).is_empty(), "{:?}", sample.of(RULE));
        // A ring back to the first manifold changes nothing; a way round the filter does.
        let ring = crate::plan::Run {
            id: crate::plan::RunId(90),
            from: on(sample::SECOND_MANIFOLD, Port::Out),
            to: on(sample::MANIFOLD, Port::Out),
            ..sample.routing.runs[2].clone()
        };
        sample.routing.runs.push(ring);
        assert!(sample.of(RULE).is_empty());
        sample.routing.runs[3].to = crate::plan::End::Supply;
        assert_eq!(sample.only(RULE).what, "no filter before the metering");
    }

    /// A manifold that is screwed onto another's outlet hangs on it as by a hose.
    #[test]
    fn a_filter_strains_what_is_screwed_onto_what_it_strains() {
        let mut sample = Sample::two_wings(4);
        sample.routing.feeds.remove(0);
        sample.routing.runs.remove(2);
        let onto = PortRef { part: sample::MANIFOLD, port: Port::Outlet(1) };
        sample.routing.parts[2].mount = Some(onto);
        assert!(sample.of(RULE).is_empty(), "{:?}", sample.of(RULE));
        // Another way to it, round the filter.
        let way = crate::plan::Run {
            id: crate::plan::RunId(90),
            from: crate::plan::End::Supply,
            to: crate::plan::End::Port(PortRef { part: sample::SECOND_MANIFOLD, port: Port::Out }),
            ..sample.routing.runs[0].clone()
        };
        sample.routing.runs.push(way);
        assert_eq!(sample.only(RULE).what, "no filter before the metering");
    }

    #[test]
    fn metering_without_a_filter_is_told() {
        let mut sample = Sample::new();
        sample.routing.runs.remove(0);
        sample.routing.runs[0].from = crate::plan::End::Supply;
        sample.routing.parts.retain(|part| part.id != sample::FILTER);
        assert_eq!(sample.only(RULE).what, "no filter before the metering");
    }
}
