//! Hoses too short to be fitted.

use super::finding::{Finding, FindingSubject, Severity};
use super::words::{list, span};
use super::{Context, Rule};
use crate::plan::RunId;
use crate::plan::limits::BARB_IN_BORES;
use crate::quantities::{Length, Measure};

pub(super) const RULE: Rule = Rule {
    name: "short hose",
    about: "A hose too short to go over the barbs at both its ends with their clamps",
    by_speed: false,
    check,
};

fn check(here: &Context) -> Vec<Finding> {
    let catalogue = &here.project.catalogue;
    // Shortest first: id, length, and what the barbs take.
    let mut short: Vec<(RunId, Length, Length)> = Vec::new();
    for run in &here.routing.runs {
        let (Some(stock), Some(length)) =
            (catalogue.stock(&run.line.stock), here.routing.geometry.run(run.id).map(|laid| laid.length))
        else {
            continue;
        };
        let barbs = stock.bore * (2.0 * BARB_IN_BORES);
        if length < barbs {
            short.push((run.id, length, barbs));
        }
    }
    short.sort_by(|a, b| (a.1 / a.2).total_cmp(&(b.1 / b.2)));
    let Some(&(_, length, barbs)) = short.first() else { return Vec::new() };
    let tags: Vec<String> = short.iter().map(|one| here.run_tag(one.0)).collect();
    let lengths = || short.iter().map(|one| one.1);
    let length = lengths().fold(length, Length::min);
    let longest = lengths().fold(length, Length::max);
    let barbs = short.iter().map(|one| one.2).fold(barbs, Length::max);
    vec![Finding {
        severity: Severity::Warning,
        place: list(&tags),
        what: format!(
            "{} long: too short to fit, as its two barbs take about {} (twice the bore each, common practice, no \
             source)",
            span(Measure::CutLength, length, longest, here.units()),
            here.short(Measure::CutLength, barbs)
        ),
        advice: "screw the parts together without a hose, or move them apart".to_owned(),
        subjects: short.iter().map(|one| FindingSubject::Run(one.0)).collect(),
        ..here.finding(RULE.name, "")
    }]
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;

    /// A 19 mm hose on two barbs of twice its bore: 2 · 2 · 19 mm = 76 mm.
    #[test]
    fn two_barbs_take_four_bores() {
        let mut sample = Sample::new();
        let long = |sample: &mut Sample, run: usize, millimetres: f64| {
            sample.routing.runs[run].line.measured = Some(Length::millimetres(millimetres));
        };
        long(&mut sample, 1, 76.0);
        assert!(sample.of(RULE).is_empty());
        long(&mut sample, 1, 60.0);
        let finding = sample.only(RULE);
        assert_eq!((finding.severity, finding.place.as_str()), (Severity::Warning, "H2"));
        assert!(finding.what.starts_with("60 mm long: too short to fit, as its two barbs take about 76 mm"));
        long(&mut sample, 0, 40.0);
        let finding = sample.only(RULE);
        assert_eq!(finding.place, "H1 and H2");
        assert!(finding.what.starts_with("40 to 60 mm long"), "{}", finding.what);
    }
}
