//! Main hoses of one bore of which much more is asked than of others.

use std::collections::BTreeSet;

use super::finding::{Finding, FindingSubject, Severity};
use super::words::list;
use super::{Context, Rule};
use crate::plan::{End, PartId, PartItem, Run};
use crate::quantities::{Flow, Length, Measure};

pub(super) const RULE: Rule = Rule {
    name: "unequal mains",
    about: "Main hoses of one bore to sections that ask for very different flows: the section that asks for most loses most \
            pressure on its way",
    by_speed: false,
    check,
};

/// A hose behind which liquid comes to manifolds without parting to another main.
struct Main {
    tag: String,
    subject: FindingSubject,
    bore: Length,
    /// What the rows behind it ask for.
    asked: Flow,
}

fn check(here: &Context) -> Vec<Finding> {
    let mut mains = mains(here);
    mains.sort_by(|a, b| a.bore.si().total_cmp(&b.bore.si()).then(b.asked.si().total_cmp(&a.asked.si())));
    let limit = here.project.limits.unequal_mains.si();
    let of_a_bore = mains.chunk_by(|a, b| a.bore == b.bore);
    let told = of_a_bore.filter_map(|mains| {
        let (most, least) = (mains.first()?, mains.last()?);
        // The last digit of a sum is no reason for a finding.
        if most.asked.si() <= least.asked.si() * limit * (1.0 + 1e-9) {
            return None;
        }
        let much: Vec<&Main> = mains.iter().filter(|one| one.asked.si() > least.asked.si() * limit).collect();
        let flow = |main: &Main| here.text(Measure::TotalFlow, main.asked);
        Some(Finding {
            severity: Severity::Note,
            extent: Some(most.asked.si() / least.asked.si()),
            place: list(&much.iter().map(|one| one.tag.clone()).collect::<Vec<_>>()),
            what: format!(
                "{} asked of {} and {} of {}, both of {} bore: more than {} times as much",
                flow(most),
                most.tag,
                flow(least),
                least.tag,
                here.short(Measure::Bore, most.bore),
                here.short(Measure::Plain, here.project.limits.unequal_mains),
            ),
            each: mains.iter().map(|one| format!("{}: {} asked", one.tag, flow(one))).collect(),
            advice: "take a wider hose for the larger sections, or share the rows out more evenly".to_owned(),
            subjects: much.iter().map(|one| one.subject).collect(),
            also: vec![least.subject],
            ..here.finding(RULE.name, "")
        })
    });
    told.collect()
}

/// The mains, by the solved flow: hoses that leave the pump or a part where liquid parts, and behind which it does not part to
/// another main again; in a chain of manifolds that is the hose to the first.
fn mains(here: &Context) -> Vec<Main> {
    let flow = |run: &Run| here.outcome.flow_of(run.id);
    let ends = |run: &Run| if flow(run) < 0.0 { (run.to, run.from) } else { (run.from, run.to) };
    let part = |end: End| end.port().map(|port| port.part);
    let leaving = |id: PartId| {
        here.routing.runs.iter().filter(move |run| flow(run) != 0.0 && part(ends(run).0) == Some(id))
    };
    let is_manifold = |id: &PartId| {
        let part = here.routing.part(*id);
        part.and_then(|part| here.item(part)).is_some_and(|item| matches!(item, PartItem::Manifold(_)))
    };
    let flows = here.routing.runs.iter().filter(|run| flow(run) != 0.0);
    let is_main = flows.filter(|run| match ends(run).0 {
        End::Supply => true,
        End::Port(port) => leaving(port.part).count() > 1,
        End::Loose(_) => false,
    });
    is_main
        .filter_map(|run| {
            let behind = here
                .routing
                .geometry
                .connections
                .downstream(&[part(ends(run).1)?], |id| here.outcome.flow_of(id));
            let parts_again = behind.parts.iter().any(|id| leaving(*id).count() > 1);
            let manifolds: BTreeSet<PartId> = behind.parts.iter().copied().filter(is_manifold).collect();
            if parts_again || manifolds.is_empty() {
                return None;
            }
            let rows = here.outcome.connections.iter().filter(|row| {
                row.connected.is_ok() && row.outlet.is_some_and(|(part, _)| manifolds.contains(&part))
            });
            let asked: Flow = rows.map(|row| row.target).sum();
            let bore = here.project.catalogue.stock(&run.line.stock)?.bore;
            (asked.si() > 0.0).then(|| Main {
                tag: run.tag.clone(),
                subject: FindingSubject::Run(run.id),
                bore,
                asked,
            })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;
    use crate::plan::{Port, PortRef};
    use crate::quantities::Ratio;

    /// Both manifolds on the filter: rows 1 to 4 on one, 5 to 8 on the other, of which the last are left out one by one. Four rows
    /// against three is 1.33 times as much, against two twice.
    #[test]
    fn two_mains_of_one_bore_are_told_by_what_the_rows_behind_them_ask() {
        let mut sample = Sample::two_wings(8);
        sample.routing.runs[2].from =
            End::Port(PortRef { part: super::super::sample::FILTER, port: Port::Out });
        sample.resolve();
        assert_eq!(sample.of(RULE), []);
        sample.routing.feeds.pop();
        sample.resolve();
        assert_eq!(sample.of(RULE), []);
        sample.routing.feeds.pop();
        sample.resolve();
        let found = sample.only(RULE);
        assert_eq!((found.place.as_str(), found.extent), ("H2", Some(2.0)));
        assert_eq!(found.also, [FindingSubject::Run(sample.routing.runs[2].id)]);
        sample.project.limits.unequal_mains = Ratio::from_si(2.0);
        assert_eq!(sample.of(RULE), []);
    }

    #[test]
    fn hoses_of_a_chain_are_no_equal_mains() {
        let mut sample = Sample::two_wings(8);
        sample.routing.feeds.pop();
        sample.routing.feeds.pop();
        sample.resolve();
        assert_eq!(sample.of(RULE), []);
    }
}
