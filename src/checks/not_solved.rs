//! The solve failed, so no number is shown.

use super::finding::{Finding, FindingSubject, Severity};
use super::{Context, Rule};
use crate::hydraulics::outcome::{Blame, NoNumbers};

pub(super) const RULE: Rule = Rule {
    name: "not solved",
    about: "The flows could not be computed; the part to blame is named and no number is shown",
    by_speed: true,
    check,
};

fn check(here: &Context) -> Vec<Finding> {
    let Err(NoNumbers::Failed { blame, why }) = &here.outcome.result else { return Vec::new() };
    let (place, subject) = match *blame {
        Some(Blame::Part(id)) => (here.part_tag(id), FindingSubject::Part(id)),
        Some(Blame::Run(id)) => (here.run_tag(id), FindingSubject::Run(id)),
        Some(Blame::Feed(id)) => (here.feed_tag(id), FindingSubject::Feed(id)),
        Some(Blame::Supply) => ("Pump".to_owned(), FindingSubject::Project),
        None => (format!("Routing {}", here.routing.name), FindingSubject::Routing),
    };
    vec![Finding {
        severity: Severity::Error,
        place,
        what: format!("not solved: {why}"),
        advice: if blame.is_none() {
            "ask for a rate and a speed above zero, or undo the last change"
        } else {
            "check bore, length and metering there, or undo the last change"
        }
        .to_owned(),
        subjects: vec![subject],
        ..here.finding(RULE.name, "")
    }]
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;

    #[test]
    fn what_is_blamed_is_named_and_selected() {
        let mut sample = Sample::new();
        let (part, run, feed) =
            (sample.routing.parts[0].id, sample.routing.runs[1].id, sample.routing.feeds[0].id);
        for (blame, place, subject) in [
            (Some(Blame::Part(part)), "F1", FindingSubject::Part(part)),
            (Some(Blame::Run(run)), "H2", FindingSubject::Run(run)),
            (Some(Blame::Feed(feed)), "T1", FindingSubject::Feed(feed)),
            (Some(Blame::Supply), "Pump", FindingSubject::Project),
            (None, "Routing A", FindingSubject::Routing),
        ] {
            sample.outcome.result = Err(NoNumbers::Failed { blame, why: "no balance was found".to_owned() });
            let finding = sample.only(RULE);
            assert_eq!((finding.severity, finding.place.as_str()), (Severity::Error, place));
            assert_eq!(finding.subjects, [subject]);
        }
    }
}
