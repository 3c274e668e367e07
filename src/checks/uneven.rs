//! Evenness over the rows: the coefficient of variation against its limits.

use super::finding::{Finding, FindingSubject, Severity};
use super::what_differs::cause;
use super::{Context, Rule};
use crate::plan::RowId;
use crate::quantities::Measure;

pub(super) const RULE: Rule = Rule {
    name: "uneven",
    about: "The coefficient of variation (CV) over all fed rows is above its limits",
    by_speed: true,
    check,
};

fn check(here: &Context) -> Vec<Finding> {
    let Some(evenness) = here.outcome.evenness() else { return Vec::new() };
    let limits = &here.project.limits;
    let (severity, limit, word) = if evenness.cv > limits.cv_acceptable {
        (Severity::Warning, limits.cv_acceptable, "acceptable")
    } else if evenness.cv > limits.cv_good {
        (Severity::Note, limits.cv_good, "good")
    } else {
        return Vec::new();
    };
    vec![Finding {
        severity,
        extent: Some(evenness.cv.si()),
        place: format!("Routing {}", here.routing.name),
        what: format!(
            "CV of {} over {} rows at {}, up to {} counts as {word}",
            Measure::Percent.text_apart(evenness.cv.si(), limit.si(), here.units()),
            evenness.rows,
            here.speed(),
            here.short(Measure::Percent, limit)
        ),
        advice: advice(here).unwrap_or_else(|| {
            "start with the rows farthest off target; wider main hoses and more pressure over the metering even \
             out the rest"
                .to_owned()
        }),
        subjects: vec![FindingSubject::Routing],
        names_speed: true,
        ..here.finding(RULE.name, word)
    }]
}

/// What makes most of it, seen from the rows that get less than their share.
fn advice(here: &Context) -> Option<String> {
    let mean = here.outcome.evenness()?.mean_deviation;
    let rows = here.outcome.rows().iter();
    let less: Vec<RowId> =
        rows.filter(|row| row.deviation.is_some_and(|one| one < mean)).map(|row| row.row).collect();
    cause(here, &less, -1.0)?.advice(here, "the rows that get less", -1.0)
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;
    use crate::quantities::Ratio;

    #[test]
    fn good_acceptable_and_beyond() {
        let mut sample = Sample::new();
        for (percent, severity) in [
            (3.0, None),
            (3.1, Some(Severity::Note)),
            (5.0, Some(Severity::Note)),
            (5.2, Some(Severity::Warning)),
        ] {
            sample.numbers().evenness.as_mut().unwrap().cv = Ratio::percent(percent);
            assert_eq!(sample.of(RULE).first().map(|one| one.severity), severity, "{percent}");
        }
        assert_eq!(
            sample.only(RULE).what,
            "CV of 5.2 % over 4 rows at 9 km/h, up to 5 % counts as acceptable"
        );
    }
}
