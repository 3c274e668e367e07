//! Rows in use that no liquid reaches.

use super::context::row_subjects;
use super::finding::{Finding, Severity};
use super::{Context, Rule};
use crate::hydraulics::outcome::RowState;

pub(super) const RULE: Rule = Rule {
    name: "not fed",
    about: "A row in use that gets nothing: no row feed, a feed on nothing, no way to the supply, a shut section",
    by_speed: true,
    check,
};

fn check(here: &Context) -> Vec<Finding> {
    [
        (
            RowState::NoFeed,
            Severity::Error,
            "not fed: no row feed leads there",
            "give them outlets of a manifold, or leave them out",
        ),
        (
            RowState::FeedLoose,
            Severity::Error,
            "not fed: the row feed hangs on nothing",
            "join the row feed to a manifold outlet",
        ),
        (
            RowState::NoSupply,
            Severity::Error,
            "not fed: the manifold has no way to the supply",
            "join the manifold to the supply",
        ),
        (RowState::SectionShut, Severity::Note, "not fed: a section valve is shut", "open the section valve"),
    ]
    .into_iter()
    .filter_map(|(state, severity, what, advice)| {
        let rows = here.rows_in(state);
        (!rows.is_empty()).then(|| Finding {
            severity,
            place: here.row_words(&rows),
            what: what.to_owned(),
            advice: advice.to_owned(),
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
        for (index, state) in
            [(0, RowState::NoFeed), (1, RowState::NoFeed), (2, RowState::NoFeed), (6, RowState::NoFeed)]
        {
            sample.outcome.rows[index].state = state;
        }
        sample.outcome.rows[9].state = RowState::SectionShut;
        let findings = sample.of(RULE);
        let places: Vec<&str> = findings.iter().map(|one| one.place.as_str()).collect();
        assert_eq!(places, ["Rows 1 to 3 and 7", "Row 10"]);
        assert_eq!((findings[0].severity, findings[1].severity), (Severity::Error, Severity::Note));
        assert_eq!(findings[0].subjects.len(), 4);
    }
}
