//! Ends that lie loose, and what sits where it can't.

use super::finding::{Finding, FindingSubject, Severity};
use super::words::list;
use super::{Context, Rule};
use crate::hydraulics::connectivity::ConnectionProblem;

pub(super) const RULE: Rule = Rule {
    name: "loose end",
    about: "A loose hose end, a row feed that is not on a manifold outlet, a hose with both ends on one part, a \
            gauge or plug that is not mounted on a port",
    by_speed: false,
    check,
};

fn check(here: &Context) -> Vec<Finding> {
    let (mut runs, mut circles, mut feeds, mut misplaced, mut unmounted) =
        (vec![], vec![], vec![], vec![], vec![]);
    for problem in &here.outcome.problems {
        match problem {
            ConnectionProblem::LooseRun(run) => runs.push((here.run_tag(*run), FindingSubject::Run(*run))),
            ConnectionProblem::RunInCircle(run) => {
                circles.push((here.run_tag(*run), FindingSubject::Run(*run)));
            }
            ConnectionProblem::LooseFeed(feed) => {
                feeds.push((here.feed_tag(*feed), FindingSubject::Feed(*feed)));
            }
            ConnectionProblem::FeedNotOnOutlet(feed) => {
                misplaced.push((here.feed_tag(*feed), FindingSubject::Feed(*feed)));
            }
            ConnectionProblem::Unmounted(part) => {
                unmounted.push((here.part_tag(*part), FindingSubject::Part(*part)));
            }
            _ => {}
        }
    }
    [
        (runs, Severity::Error, "loose hose end", "join it to a port, or delete the hose"),
        (circles, Severity::Error, "both ends are on one part", "join one end to another part"),
        (feeds, Severity::Error, "loose row feed", "join it to a free manifold outlet"),
        (
            misplaced,
            Severity::Error,
            "the row feed is not on a manifold outlet",
            "move it to a free manifold outlet",
        ),
        (unmounted, Severity::Warning, "not mounted on any port", "mount it on a port, or delete it"),
    ]
    .into_iter()
    .filter(|(found, ..)| !found.is_empty())
    .map(|(found, severity, what, advice)| {
        let (tags, subjects): (Vec<String>, Vec<FindingSubject>) = found.into_iter().unzip();
        let place = list(&tags);
        Finding {
            severity,
            place,
            what: what.to_owned(),
            advice: advice.to_owned(),
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
    fn each_kind_has_its_own_line() {
        let mut sample = Sample::new();
        let (run, feed, part) =
            (sample.routing.runs[0].id, sample.routing.feeds[0].id, sample.routing.parts[0].id);
        sample.outcome.problems = vec![
            ConnectionProblem::LooseRun(run),
            ConnectionProblem::RunInCircle(run),
            ConnectionProblem::LooseFeed(feed),
            ConnectionProblem::LooseFeed(sample.routing.feeds[1].id),
            ConnectionProblem::FeedNotOnOutlet(feed),
            ConnectionProblem::Unmounted(part),
        ];
        let places: Vec<String> = sample.of(RULE).into_iter().map(|one| one.place).collect();
        assert_eq!(places, ["H1", "H1", "T1 and T2", "T1", "F1"]);
    }
}
