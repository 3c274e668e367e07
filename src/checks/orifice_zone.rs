//! Metering orifices at low Reynolds numbers.

use super::context::row_subjects;
use super::finding::{Finding, Severity};
use super::{Context, Rule};
use crate::hydraulics::losses::orifice::CONSTANT_FROM;
use crate::plan::{ElementKind, FeedElement, RowId};

pub(super) const RULE: Rule = Rule {
    name: "orifice zone",
    about: "Metering orifices at Reynolds numbers where their discharge coefficient is no longer a constant",
    by_speed: true,
    check,
};

fn check(here: &Context) -> Vec<Finding> {
    let mut rows: Vec<RowId> = Vec::new();
    let (mut low, mut high) = (f64::INFINITY, 0.0_f64);
    for path in here.row_paths() {
        for (element, outcome) in &path.elements {
            let reynolds =
                outcome.and_then(|one| one.reynolds).filter(|one| *one > 0.0 && *one < CONSTANT_FROM);
            if let (FeedElement::Piece(ElementKind::MeteringOrifice, _), Some(reynolds)) = (element, reynolds)
            {
                rows.push(path.row.row);
                (low, high) = (low.min(reynolds), high.max(reynolds));
            }
        }
    }
    if rows.is_empty() {
        return Vec::new();
    }
    rows.dedup();
    let numbers =
        if low.round() == high.round() { format!("{low:.0}") } else { format!("{low:.0} to {high:.0}") };
    vec![Finding {
        severity: Severity::Warning,
        extent: Some(1.0 / low),
        place: here.row_words(&rows),
        what: format!(
            "metering orifices at Reynolds numbers of {numbers} at {}; below {CONSTANT_FROM:.0} they pass less than their \
             coefficient says, and it changes with the temperature",
            here.speed()
        ),
        advice: "calibrate them with this liquid at the coldest, or meter with tubes that stay laminar"
            .to_owned(),
        subjects: row_subjects(&rows),
        names_speed: true,
        ..here.finding(RULE.name, "")
    }]
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;

    #[test]
    fn thick_liquid_in_small_orifices() {
        let mut sample = Sample::new();
        let set = |sample: &mut Sample, reynolds| {
            for element in sample.numbers().elements.iter_mut().filter(|one| one.index == 2) {
                element.reynolds = Some(reynolds);
            }
            sample.of(RULE)
        };
        assert!(set(&mut sample, 1000.0).is_empty());
        let found = set(&mut sample, 338.0);
        assert!(
            found[0].what.starts_with("metering orifices at Reynolds numbers of 338 at 9 km/h"),
            "{}",
            found[0].what
        );
        assert!(set(&mut sample, 0.0).is_empty(), "nothing flows, nothing to say");
    }
}
