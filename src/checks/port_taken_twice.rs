//! More than one thing on a port.

use super::finding::{Finding, FindingSubject, Severity};
use super::words::list;
use super::{Context, Rule};
use crate::hydraulics::connectivity::ConnectionProblem;
use crate::plan::routing::Connection;

pub(super) const RULE: Rule = Rule {
    name: "port taken twice",
    about: "A port with more than one hose, tube or part on it",
    by_speed: false,
    check,
};

fn check(here: &Context) -> Vec<Finding> {
    let taken = here.outcome.problems.iter().filter_map(|problem| match problem {
        ConnectionProblem::PortTakenTwice(port) => Some(*port),
        _ => None,
    });
    taken
        .map(|port| {
            let (tags, mut subjects): (Vec<String>, Vec<FindingSubject>) = here
                .routing
                .on_port(port)
                .into_iter()
                .map(|one| match one {
                    Connection::Run(run) => (here.run_tag(run), FindingSubject::Run(run)),
                    Connection::Feed(feed) => (here.feed_tag(feed), FindingSubject::Feed(feed)),
                    Connection::Mounted(part) => (here.part_tag(part), FindingSubject::Part(part)),
                })
                .unzip();
            subjects.push(FindingSubject::Part(port.part));
            let anchors = &here.routing.geometry.anchors;
            let place = anchors.port_words(&here.part_tag(port.part), port);
            Finding {
                severity: Severity::Error,
                what: format!("used by {} at once", list(&tags)),
                place,
                advice: "leave one there and move the others to free ports, or put in a tee".to_owned(),
                subjects,
                ..here.finding(RULE.name, "")
            }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;

    #[test]
    fn what_shares_the_port_is_named() {
        let mut sample = Sample::new();
        sample.routing.feeds[1].from = sample.routing.feeds[0].from;
        sample.resolve();
        let finding = sample.only(RULE);
        assert_eq!(
            finding.to_string(),
            "M1/1: used by T1 and T2 at once; leave one there and move the \
            others to free ports, or put in a tee"
        );
        assert_eq!(finding.subjects.len(), 3);
    }
}
