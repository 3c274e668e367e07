//! The solve failed, so no number is shown.

use super::finding::{Finding, Severity, Subject};
use super::{Context, Rule};
use crate::hydraulics::outcome::Status;

pub(super) const RULE: Rule = Rule {
    name: "not solved",
    about: "The flows could not be computed; the part to blame is named and no number is shown",
    by_speed: true,
    check,
};

fn check(here: &Context) -> Vec<Finding> {
    let Status::Failed { blame, why } = &here.outcome.status else { return Vec::new() };
    let routing = here.routing;
    let part = routing.parts.iter().find(|part| part.tag == *blame).map(|part| Subject::Part(part.id));
    let run = routing.runs.iter().find(|run| run.tag == *blame).map(|run| Subject::Run(run.id));
    let feed = routing.feeds.iter().find(|feed| feed.tag == *blame).map(|feed| Subject::Feed(feed.id));
    vec![Finding {
        severity: Severity::Error,
        place: if blame.is_empty() { format!("Routing {}", routing.name) } else { blame.clone() },
        what: format!("not solved: {why}"),
        advice: if blame.is_empty() {
            "ask for a rate and a speed above zero, or undo the last change"
        } else {
            "check bore, length and metering there, or undo the last change"
        }
        .to_owned(),
        subjects: vec![part.or(run).or(feed).unwrap_or(Subject::Routing)],
        ..here.finding(RULE.name, "")
    }]
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;

    #[test]
    fn the_blamed_run_is_named_and_selected() {
        let mut sample = Sample::new();
        sample.outcome.status = Status::Failed { blame: "H2".into(), why: "no balance was found".into() };
        let finding = sample.only(RULE);
        assert_eq!((finding.severity, finding.place.as_str()), (Severity::Error, "H2"));
        assert_eq!(finding.subjects, [Subject::Run(sample.routing.runs[1].id)]);
        sample.outcome.status = Status::Failed { blame: String::new(), why: "no balance was found".into() };
        assert_eq!(sample.only(RULE).place, "Routing A");
    }
}
