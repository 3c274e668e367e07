//! Liquid too fast in a hose.

use super::finding::{Finding, FindingSubject, Severity};
use super::remedy::Remedy;
use super::words::{list, span_beyond};
use super::{Context, Rule};
use crate::plan::RunId;
use crate::quantities::{Measure, Speed};

pub(super) const RULE: Rule = Rule {
    name: "hose velocity",
    about: "Liquid faster in a supply or main hose than the limit: it costs pressure and hammers when a valve shuts",
    by_speed: true,
    check,
};

fn check(here: &Context) -> Vec<Finding> {
    let limit = here.project.limits.hose_velocity;
    let mut fast: Vec<(RunId, Speed)> = here
        .outcome
        .runs()
        .iter()
        .filter_map(|run| Some((run.run, run.velocity.filter(|one| *one > limit)?)))
        .collect();
    fast.sort_by(|a, b| b.1.si().total_cmp(&a.1.si()));
    let Some((fastest, velocity)) = fast.first().copied() else { return Vec::new() };
    let place = list(&fast.iter().map(|(run, _)| here.run_tag(*run)).collect::<Vec<_>>());
    let wider = wide_enough(here, fastest, velocity, limit);
    vec![Finding {
        severity: Severity::Warning,
        extent: Some(velocity.si()),
        what: format!(
            "{} at {}, more than {}",
            match &fast[..] {
                // One hose is named with its size; of several the range holds for all.
                [_] => format!(
                    "{} in {}",
                    here.text_apart(Measure::Velocity, velocity, limit),
                    here.run_words(fastest)
                ),
                [.., (_, slowest)] =>
                    span_beyond(Measure::Velocity, [*slowest, velocity], limit, here.units()),
                [] => String::new(),
            },
            here.speed(),
            here.text(Measure::Velocity, limit)
        ),
        place,
        advice: wider.map_or_else(
            || "fit a wider bore, or split the flow over two hoses".to_owned(),
            |bore| format!("fit a bore of {bore} or more, or split the flow over two hoses"),
        ),
        remedy: fast
            .iter()
            .map(|(run, velocity)| {
                Some((*run, Remedy::wider(here, *run, (*velocity * all_asked(here) / limit).sqrt())?))
            })
            .collect::<Option<Vec<_>>>()
            .map(Remedy::WidenHoses),
        subjects: fast.iter().map(|(run, _)| FindingSubject::Run(*run)).collect(),
        names_speed: true,
        ..here.finding(RULE.name, "")
    }]
}

/// How many times as much flows where the supply gives what is asked, at the duty's fastest speed: wider hoses may let it do so.
/// A supply at its limit gives the same at a faster speed, so that the finding may be of a slower one.
fn all_asked(here: &Context) -> f64 {
    let Some(numbers) = here.outcome.numbers() else { return 1.0 };
    let at_least_one = |share: f64| if share.is_finite() { share.max(1.0) } else { 1.0 };
    let fastest = here.duty().fastest / here.outcome.point.speed;
    let faster = if here.project.supply.follows_speed() { at_least_one(fastest) } else { 1.0 };
    at_least_one(here.outcome.target_total / numbers.total_flow) * faster
}

/// The bore that brings the velocity down to the limit, rounded up to the next millimetre.
fn wide_enough(here: &Context, run: RunId, velocity: Speed, limit: Speed) -> Option<String> {
    let stock = here.project.catalogue.stock(&here.routing.run(run)?.line.stock)?;
    let bore = stock.bore * (velocity / limit).sqrt();
    let bore = crate::quantities::Length::millimetres((bore.as_millimetres() - 1e-6).ceil());
    bore.is_finite().then(|| here.short(Measure::Bore, bore))
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;
    use crate::quantities::UnitSystem;

    #[test]
    fn the_fastest_leads_and_a_bore_is_proposed() {
        let mut sample = Sample::new();
        sample.numbers().runs[0].velocity = Some(Speed::from_si(2.5));
        assert!(sample.of(RULE).is_empty());
        sample.numbers().runs[0].velocity = Some(Speed::from_si(2.6));
        assert_eq!(sample.only(RULE).what.split(" in H1").next(), Some("2.60 m/s"));
        sample.numbers().runs[1].velocity = Some(Speed::from_si(3.6));
        let finding = sample.only(RULE);
        assert_eq!(finding.place, "H2 and H1");
        assert_eq!(finding.what, "2.60 to 3.60 m/s at 9 km/h, more than 2.50 m/s");
        // 19 mm · √(3.6 / 2.5) = 22.8 mm
        assert!(finding.advice.contains("23 mm"), "{}", finding.advice);
        sample.project.units = UnitSystem::UsCustomary;
        assert!(sample.only(RULE).what.starts_with("8.53 to 11.81 ft/s"));
    }
}
