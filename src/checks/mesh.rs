//! Mesh openings against the smallest bore behind the filter.

use super::finding::{Finding, Severity, Subject};
use super::{Context, Rule};
use crate::hydraulics::outcome::RowState;
use crate::plan::{Item, RowId};
use crate::quantities::{Length, Measure};

pub(super) const RULE: Rule = Rule {
    name: "mesh",
    about: "A mesh opening too wide for the smallest bore behind it, or metering with no filter before it",
    by_speed: false,
    check,
};

fn check(here: &Context) -> Vec<Finding> {
    let mut findings = Vec::new();
    let mut strained: Vec<RowId> = Vec::new();
    let paths = here.row_paths();
    for part in &here.routing.parts {
        let Some(Item::InletFilter { opening, .. }) = here.item(part) else { continue };
        let behind = here.parts_behind(part.id);
        let mut smallest: Option<(Length, &'static str, RowId)> = None;
        for path in
            paths.iter().filter(|path| path.feed.from.port().is_some_and(|port| behind.contains(&port.part)))
        {
            strained.push(path.row.row);
            for (element, _) in &path.elements {
                let bore = here.project.catalogue.item(element.entry()).and_then(Item::smallest_bore);
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
                key: here.key(RULE.name, &part.tag),
                severity: Severity::Warning,
                extent: None,
                place: part.tag.clone(),
                what: format!(
                    "the mesh opening of {} is more than {} of the smallest bore behind it, the {kind} of {} of {}",
                    here.short(Measure::Opening, *opening),
                    here.short(Measure::Percent, here.project.limits.mesh_share),
                    here.short(Measure::Bore, bore),
                    here.row_words_inside(&[row])
                ),
                advice: format!("fit a mesh with an opening of {} or less", here.short(Measure::Opening, limit)),
                subjects: vec![Subject::Part(part.id), Subject::Row(row)],
            });
        }
    }
    let bare: Vec<RowId> = paths
        .iter()
        .filter(|path| path.row.state == RowState::Fed && !strained.contains(&path.row.row))
        .filter(|path| path.elements.iter().any(|(element, _)| element.is_metering()))
        .map(|path| path.row.row)
        .collect();
    if !bare.is_empty() {
        findings.push(Finding {
            key: here.key(RULE.name, "no filter"),
            severity: Severity::Warning,
            extent: None,
            place: here.row_words(&bare),
            what: "no filter before the metering".to_owned(),
            advice: "put an inlet filter between the supply hose and the bar".to_owned(),
            subjects: super::context::row_subjects(&bare),
        });
    }
    findings
}

#[cfg(test)]
mod tests {
    use super::super::sample::{self, Sample};
    use super::*;

    #[test]
    fn half_the_smallest_bore_is_the_limit() {
        let mut sample = Sample::new();
        // The orifices have 1.0 mm: 500 µm will do, 501 µm will not.
        sample.set_item("filter", |item| {
            if let Item::InletFilter { opening, .. } = item {
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
            if let Item::InletFilter { opening, .. } = item {
                *opening = Length::from_si(500e-6);
            }
        });
        assert!(sample.of(RULE).is_empty());
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
