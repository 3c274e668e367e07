//! Which check valve and metering of the catalogue keep both limits: shut above what stands on them with the pump off,
//! and leave metering within the supply's pressure that drowns the valve's scatter.

use super::Context;
use crate::hydraulics::first_choice::{Pair, pair_that_holds, standing};
use crate::plan::{FeedElement, Item};
use crate::quantities::{Measure, Pressure};

/// What to try where one of the limits is missed: a pair that keeps both, or what gives way. `least` is what is known
/// to stand on a valve. None where rows meter otherwise than by orifices, as those are not chosen from the catalogue, and
/// where all rows have that pair already.
pub(super) fn both_limits(here: &Context, least: Pressure) -> Option<String> {
    let mut metering =
        here.routing.feeds.iter().flat_map(|feed| feed.elements()).filter(|one| one.is_metering());
    if !metering.all(|element| matches!(element, FeedElement::Orifice(_))) {
        return None;
    }
    let limit = here.short(Measure::Pressure, here.project.supply.control.highest());
    // At no pressure every valve holds.
    let head = least.max(standing(here.project));
    let stands = here.text(Measure::Pressure, head);
    if let Some(pair) = pair_that_holds(here.project, head) {
        if is_fitted(here, &pair) {
            return None;
        }
        let words = pair_words(here, &pair);
        return Some(format!(
            "try {words}: by the catalogue that holds {stands} with the pump off and needs no more than {limit} at work"
        ));
    }
    let gives_way = "lower the tank's surface, or shut a valve between tank and bar when the pump stops";
    Some(match pair_that_holds(here.project, Pressure::from_si(-1.0)) {
        Some(pair) => format!(
            "no check valve of the catalogue holds {stands} with the pump off and leaves its metering enough of {limit} at \
             work: take {}, and {gives_way}",
            pair_words(here, &pair)
        ),
        None => format!(
            "no check valve and orifice of the catalogue keep the limits within {limit}: add a valve that opens at less, \
             and {gives_way}"
        ),
    })
}

fn is_fitted(here: &Context, pair: &Pair) -> bool {
    here.routing.feeds.iter().flat_map(|feed| feed.elements()).all(|element| match element {
        FeedElement::CheckValve(entry) => *entry == pair.valve,
        FeedElement::Orifice(entry) => *entry == pair.metering,
        _ => true,
    })
}

/// `the check valve that opens 0.20, shuts 0.18 bar with the 1.0 mm orifice`.
fn pair_words(here: &Context, pair: &Pair) -> String {
    let choice = |key| here.project.catalogue.item(key).map(|item: &Item| item.choice(here.units()));
    let in_use =
        |element: &FeedElement| !matches!(element, FeedElement::CheckValve(entry) if *entry != pair.valve);
    if here.routing.feeds.iter().flat_map(|feed| feed.elements()).all(in_use) {
        let metering = choice(&pair.metering).unwrap_or_else(|| pair.metering.to_string());
        return format!("the {metering} orifice with the check valves there are");
    }
    format!(
        "the check valve that {} with the {} orifice",
        choice(&pair.valve).unwrap_or_else(|| pair.valve.to_string()),
        choice(&pair.metering).unwrap_or_else(|| pair.metering.to_string())
    )
}

#[cfg(test)]
mod tests {
    use super::super::sample::Sample;
    use super::*;
    use crate::plan::{Control, EntryKey};
    use crate::quantities::Length;

    /// Valves that open at 0.2 and 0.5 bar and shut at 0.15 and 0.45 bar, and orifices that take what they take.
    fn sample() -> Sample {
        let mut sample = Sample::new();
        let copy = |sample: &mut Sample, of: &str, name: &str| {
            let mut entry =
                sample.project.catalogue.entries.iter().find(|one| one.key.0 == of).cloned().unwrap();
            entry.key = EntryKey::new(name);
            sample.project.catalogue.entries.push(entry);
        };
        copy(&mut sample, "valve", "strong valve");
        sample.set_item("strong valve", |item| {
            if let Item::CheckValve { cracking, closing, .. } = item {
                (*cracking, *closing) = (Pressure::bar(0.5), Pressure::bar(0.45));
            }
        });
        copy(&mut sample, "orifice", "small orifice");
        for (name, millimetres) in [("orifice", 0.7), ("small orifice", 0.5)] {
            sample.set_item(name, |item| {
                if let Item::MeteringOrifice { bore, .. } = item {
                    *bore = Length::millimetres(millimetres);
                }
            });
        }
        // 80 L/ha at 7 and 11 km/h over 0.3 m: 0.28 and 0.44 L/min. Water, Cd 0.62, Δp = ρ/2 · (q / (Cd A))², by hand:
        // 0.7 mm: A 0.3848 mm², 1.91 bar at 7 km/h and 4.72 bar at 11 km/h; 0.5 mm: A 0.1963 mm², 7.34 and 18.13 bar.
        sample.project.application.rate = crate::quantities::ApplicationRate::from_si(80e-7);
        sample
    }

    fn advice(sample: &Sample, limit: f64, tank: f64) -> Option<String> {
        let mut project = sample.project.clone();
        project.supply.control = Control::Metered { limit: Pressure::bar(limit) };
        project.supply.tank_surface = Length::metres(tank);
        let here = Context::new(&project, &sample.routing, &sample.outcome);
        both_limits(&here, Pressure::ZERO)
    }

    /// 5 · 0.2 bar are met by 0.7 mm, 5 · 0.5 = 2.5 bar by 0.5 mm alone; with the fifth for the hoses 0.2 + 4.72 bar need
    /// 6.15 bar of the supply, 0.5 + 18.13 bar need 23.3 bar. A tank of 2.0 m puts 0.19 bar on the outlets at 0.1 m.
    #[test]
    fn a_pair_keeps_both_limits_or_something_gives_way() {
        let sample = sample();
        assert_eq!(advice(&sample, 6.2, 1.0), None, "the weak valve with 0.7 mm is what the rows have");
        let strong = advice(&sample, 23.4, 2.0).unwrap();
        assert!(
            strong.starts_with("try the check valve that opens 0.5, shuts 0.45 bar with the 0.5 mm orifice"),
            "{strong}"
        );
        assert!(strong.contains("holds 0.19 bar with the pump off"), "{strong}");
        let neither = advice(&sample, 23.2, 2.0).unwrap();
        assert!(
            neither.starts_with("no check valve of the catalogue holds 0.19 bar with the pump off"),
            "{neither}"
        );
        assert!(neither.contains("take the 0.7 mm orifice with the check valves there are"));
        assert!(neither.contains("lower the tank's surface, or shut a valve"), "{neither}");
        let none = advice(&sample, 6.1, 1.0).unwrap();
        assert!(
            none.starts_with("no check valve and orifice of the catalogue keep the limits within 6.1 bar")
        );
    }

    #[test]
    fn metering_tubes_are_not_chosen_from_the_catalogue() {
        let mut sample = sample();
        sample.meter_with_tubes();
        assert_eq!(advice(&sample, 23.4, 2.0), None);
    }
}
