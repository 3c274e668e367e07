//! Parts that no liquid reaches, or no supply at all.

use super::finding::{Finding, FindingSubject, Severity};
use super::words::list;
use super::{Context, Rule};
use crate::hydraulics::connectivity::ConnectionProblem;

pub(super) const RULE: Rule = Rule {
    name: "not supplied",
    about: "A part that is not connected to the supply, or a routing without a supply hose",
    by_speed: true,
    check,
};

fn check(here: &Context) -> Vec<Finding> {
    let mut findings = Vec::new();
    let problems = &here.outcome.problems;
    if problems.contains(&ConnectionProblem::NoSupplyHose) {
        findings.push(Finding {
            severity: Severity::Error,
            place: format!("Routing {}", here.routing.name),
            what: "no supply hose".to_owned(),
            advice: "join the pump to the inlet filter with a hose".to_owned(),
            subjects: vec![FindingSubject::Routing],
            ..here.finding(RULE.name, "")
        });
        // Without a supply hose nothing is supplied: one line says it all.
        return findings;
    }
    let parts: Vec<_> = problems
        .iter()
        .filter_map(|problem| match problem {
            ConnectionProblem::NotSupplied(part) => Some(*part),
            _ => None,
        })
        .collect();
    if !parts.is_empty() {
        let tags = list(&parts.iter().map(|part| here.part_tag(*part)).collect::<Vec<_>>());
        findings.push(Finding {
            severity: Severity::Error,
            place: tags,
            what: "not connected to the supply".to_owned(),
            advice: "join it with a hose to a part that is connected".to_owned(),
            subjects: parts.into_iter().map(FindingSubject::Part).collect(),
            ..here.finding(RULE.name, "")
        });
    }
    findings
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;

    #[test]
    fn parts_without_a_supply_share_one_line() {
        let mut sample = Sample::new();
        let ids: Vec<_> = sample.routing.parts.iter().map(|part| part.id).collect();
        sample.outcome.problems = ids.iter().map(|id| ConnectionProblem::NotSupplied(*id)).collect();
        let finding = sample.only(RULE);
        assert_eq!(finding.place, "F1 and M1");
        assert_eq!(finding.subjects.len(), 2);
        sample.outcome.problems.push(ConnectionProblem::NoSupplyHose);
        assert_eq!(sample.only(RULE).what, "no supply hose");
    }
}
