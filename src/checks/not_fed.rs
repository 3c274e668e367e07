//! Rows in use that no liquid reaches.

use super::context::row_subjects;
use super::finding::{Finding, Severity};
use super::remedy::Remedy;
use super::{Context, Rule};
use crate::hydraulics::outcome::NotFed;

pub(super) const RULE: Rule = Rule {
    name: "not fed",
    about: "A row in use that gets nothing: no row feed, a loose one, a manifold that is not connected to the supply, a shut \
            section",
    by_speed: true,
    check,
};

fn check(here: &Context) -> Vec<Finding> {
    [
        (
            NotFed::NoFeed,
            Severity::Error,
            "not fed: no row feed",
            "connect the row to a manifold, or leave it out",
        ),
        (
            NotFed::FeedLoose,
            Severity::Error,
            "not fed: loose row feed",
            "join the row feed to a manifold outlet",
        ),
        (
            NotFed::NoSupply,
            Severity::Error,
            "not fed: the manifold is not connected to the supply",
            "connect the manifold to the supply with a hose",
        ),
        (NotFed::SectionShut, Severity::Note, "not fed: a section valve is shut", "open the section valve"),
    ]
    .into_iter()
    .filter_map(|(why, severity, what, advice)| {
        let rows = here.rows_not_fed(why);
        (!rows.is_empty()).then(|| Finding {
            severity,
            place: here.row_words(&rows),
            what: what.to_owned(),
            advice: advice.to_owned(),
            remedy: Remedy::feed_rows(here, &rows).filter(|_| why == NotFed::NoFeed),
            subjects: row_subjects(&rows),
            ..here.finding(RULE.name, "")
        })
    })
    .collect()
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;

    #[test]
    fn rows_are_grouped_by_reason() {
        let mut sample = Sample::with_rows(12);
        for index in [0, 1, 2, 6] {
            sample.outcome.connections[index].connected = Err(NotFed::NoFeed);
        }
        sample.outcome.connections[9].connected = Err(NotFed::SectionShut);
        let findings = sample.of(RULE);
        let places: Vec<&str> = findings.iter().map(|one| one.place.as_str()).collect();
        assert_eq!(places, ["Rows 1 to 3 and 7", "Row 10"]);
        assert_eq!((findings[0].severity, findings[1].severity), (Severity::Error, Severity::Note));
        assert_eq!(findings[0].subjects.len(), 4);
    }
}
