//! Suction: pressures below the atmosphere, and tubes that liquid falls through without filling them.

use super::context::row_subjects;
use super::finding::{Finding, FindingSubject, Severity};
use super::words::list;
use super::{Context, Rule};
use crate::hydraulics::slope::{height, upward};
use crate::plan::RowId;
use crate::quantities::{GRAVITY_M_S2, Measure, Pressure};

pub(super) const RULE: Rule = Rule {
    name: "negative pressure",
    about: "A solved pressure below the atmosphere, or a row that draws air in through a tube below its metering",
    by_speed: true,
    check,
};

/// Suction smaller than this is not told: 0.1 m of water (common practice, no source).
const TOLERATED: Pressure = Pressure::kilopascals(1.0);

fn check(here: &Context) -> Vec<Finding> {
    let mut low: Vec<(String, Pressure, FindingSubject)> = Vec::new();
    for part in here.outcome.parts() {
        if let Some(pressure) = part.lowest.filter(|one| one.si() < 0.0) {
            low.push((here.part_tag(part.part), pressure, FindingSubject::Part(part.part)));
        }
    }
    for run in here.outcome.runs() {
        let ends = [run.pressure_from, run.pressure_to];
        let lowest = ends.into_iter().flatten().reduce(Pressure::min);
        if let Some(pressure) = lowest.filter(|one| one.si() < 0.0) {
            low.push((here.run_tag(run.run), pressure, FindingSubject::Run(run.run)));
        }
    }
    let mut findings = Vec::new();
    if let Some(least) = low.iter().map(|one| one.1).reduce(Pressure::min) {
        let place = list(&low.iter().map(|one| one.0.clone()).collect::<Vec<_>>());
        findings.push(Finding {
            severity: Severity::Warning,
            extent: Some(-least.si()),
            place,
            what: format!(
                "{} at {}, below the pressure of the air: hoses collapse and joints draw air in",
                here.text(Measure::Pressure, least),
                here.speed()
            ),
            advice: "lower that part, widen the hoses before it, or fit smaller metering behind it"
                .to_owned(),
            subjects: low.into_iter().map(|one| one.2).collect(),
            names_speed: true,
            ..here.finding(RULE.name, "")
        });
    }
    findings.extend(air_drawn_in(here));
    findings
}

/// Rows whose tube below the metering hangs so far down that full of liquid it would suck: reckoned back from
/// the outlet, where the pressure is that of the air.
fn air_drawn_in(here: &Context) -> Option<Finding> {
    let weight = here.outcome.liquid?.density.si() * GRAVITY_M_S2;
    let up = upward(here.outcome.point.side_slope, here.outcome.point.fore_aft_slope);
    let height = |point| height(point, up);
    let mut rows: Vec<RowId> = Vec::new();
    let mut most = Pressure::ZERO;
    for path in here.row_paths() {
        let geometry = here.routing.geometry.feed(path.feed.id);
        let Some(geometry) = geometry.filter(|_| path.deviation().is_some()) else { continue };
        let branch = path.feed.branches.iter().position(|one| std::ptr::eq(one, path.branch));
        let Some(own) = branch.and_then(|index| geometry.branches.get(index)) else { continue };
        let mut pressure = Pressure::ZERO;
        let ways: Vec<_> = geometry.trunk.iter().chain(own).collect();
        for ((element, outcome), lies) in path.elements.iter().zip(ways).rev() {
            // Above the metering the liquid is under pressure.
            let Some(drop) = outcome.and_then(|one| one.drop).filter(|_| !element.is_metering()) else {
                break;
            };
            pressure = pressure + drop
                - Pressure::from_si(weight * (height(lies.from.place) - height(lies.to.place)));
            if pressure < -TOLERATED && rows.last() != Some(&path.row.row) {
                rows.push(path.row.row);
            }
            most = most.min(pressure);
        }
    }
    (!rows.is_empty()).then(|| Finding {
        severity: Severity::Warning,
        extent: Some(-most.si()),
        place: here.row_words(&rows),
        what: format!(
            "the tube below the metering falls too far to stay full: it would suck with {}, so air enters from the \
             outlet and the row flow is less than computed",
            here.text(Measure::Pressure, -most)
        ),
        advice: "put the metering at the outlet, or use a narrower tube below it".to_owned(),
        subjects: row_subjects(&rows), ..here.finding(RULE.name, "air")
})
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;

    #[test]
    fn parts_and_hoses_below_the_air_share_a_line() {
        let mut sample = Sample::new();
        sample.numbers().runs[1].pressure_to = Some(Pressure::bar(-0.05));
        sample.numbers().parts[1].lowest = Some(Pressure::bar(-0.02));
        let finding = sample.only(RULE);
        assert_eq!(finding.place, "M1 and H2");
        assert!(finding.what.starts_with("−0.05 bar at 9 km/h"));
    }

    /// The manifold stands at 0.6 m, the outlets at 0.1 m: 0.5 m of water at 15 °C are 4899 Pa.
    #[test]
    fn a_wide_tube_below_the_metering_draws_air() {
        let mut sample = Sample::new();
        assert!(sample.of(RULE).is_empty(), "metering at the outlet keeps the tube full");
        sample.meter_at_the_manifold();
        let finding = sample.only(RULE);
        assert_eq!(finding.place, "Rows 1 to 4");
        assert!(finding.what.contains("0.05 bar"), "{}", finding.what);
        // A tube that takes as much as the fall gives stays full.
        for element in &mut sample.numbers().elements {
            element.drop = Some(Pressure::kilopascals(5.0));
        }
        assert!(sample.of(RULE).is_empty());
    }
}
