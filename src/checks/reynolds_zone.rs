//! Metering tubes in the transition between laminar and turbulent flow.

use super::context::row_subjects;
use super::finding::{Finding, Severity};
use super::{Context, Rule};
use crate::hydraulics::losses;
use crate::plan::{FeedElement, RowId};

pub(super) const RULE: Rule = Rule {
    name: "Reynolds zone",
    about: "Metering tubes at Reynolds numbers where their flow can't be predicted within some 30 %",
    by_speed: true,
    check,
};

fn check(here: &Context) -> Vec<Finding> {
    let limits = &here.project.limits;
    let (mut rows, mut found): (Vec<RowId>, Vec<f64>) = (Vec::new(), Vec::new());
    let (mut from, mut to) = (f64::INFINITY, 0.0_f64);
    for path in here.row_paths() {
        for (element, outcome) in &path.elements {
            let Some(reynolds) = outcome.and_then(|one| one.reynolds) else { continue };
            let FeedElement::MeteringTube { stock, coil, .. } = element else { continue };
            // A coil keeps its flow laminar for longer.
            let later = here.project.catalogue.stock(stock).zip(*coil).map_or(1.0, |(stock, coil)| {
                losses::coil::laminar_end(stock.bore.si(), coil.si()) / losses::reynolds::LAMINAR_END
            });
            let zone = (limits.reynolds_from.si() * later)..=(limits.reynolds_to.si() * later);
            if zone.contains(&reynolds) {
                rows.push(path.row.row);
                found.push(reynolds);
                (from, to) = (from.min(*zone.start()), to.max(*zone.end()));
            }
        }
    }
    if rows.is_empty() {
        return Vec::new();
    }
    rows.dedup();
    let low = found.iter().copied().fold(f64::INFINITY, f64::min).round();
    let high = found.iter().copied().fold(0.0, f64::max).round();
    let numbers = if low == high { format!("{low:.0}") } else { format!("{low:.0} to {high:.0}") };
    vec![Finding {
        severity: Severity::Warning,
        place: here.row_words(&rows),
        what: format!(
            "metering tubes at Reynolds numbers of {numbers} at {}; between {from:.0} and {to:.0} their flow can't be \
             predicted within some 30 %",
            here.speed()
        ),
        advice: "choose a bore or length that stays out of the zone, or use metering orifices".to_owned(),
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
    fn only_metering_tubes_inside_the_zone_count() {
        let mut sample = Sample::new();
        for element in &mut sample.numbers().elements {
            element.reynolds = Some(3000.0);
        }
        assert!(sample.of(RULE).is_empty(), "tubes and orifices do not count");
        sample.meter_with_tubes();
        for (reynolds, count) in [(1999.0, 0), (2000.0, 1), (4000.0, 1), (4001.0, 0)] {
            for element in &mut sample.numbers().elements {
                element.reynolds = Some(reynolds);
            }
            assert_eq!(sample.of(RULE).len(), count, "{reynolds}");
        }
        sample.numbers().elements.last_mut().unwrap().reynolds = Some(2600.4);
        let finding = sample.only(RULE);
        assert_eq!(finding.place, "Row 4");
        assert!(finding.what.starts_with("metering tubes at Reynolds numbers of 2600 at 9 km/h"));
        assert!(finding.what.contains("between 2000 and 4000"), "{}", finding.what);
        // Bore 1.5 mm on 60 mm: Ito's transition is at 20000 · (1.5/60)^0.32 = 6143.
        for element in sample.routing.feeds.iter_mut().flat_map(crate::plan::RowFeed::elements_mut) {
            if let FeedElement::MeteringTube { coil, .. } = element {
                *coil = Some(crate::quantities::Length::millimetres(60.0));
            }
        }
        for (reynolds, count) in [(3000.0, 0), (6142.0, 0), (6144.0, 1), (12_285.0, 1), (12_287.0, 0)] {
            for element in &mut sample.numbers().elements {
                element.reynolds = Some(reynolds);
            }
            assert_eq!(sample.of(RULE).len(), count, "{reynolds}");
        }
    }
}
