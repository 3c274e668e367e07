//! Pressures above a rating.

use std::collections::BTreeMap;

use super::finding::{Finding, FindingSubject, Severity};
use super::words::list;
use super::{Context, Rule};
use crate::plan::ratings::{RATED_AT, Rating};
use crate::plan::words::counted;
use crate::plan::{Control, Entry, EntryKey, Item, PartItem};
use crate::quantities::{Measure, Pressure};

pub(super) const RULE: Rule = Rule {
    name: "over rated pressure",
    about: "A pressure above what a part, hose, tube or fitting bears at the warmest temperature, now or with every row blocked; \
            or parts whose rating nobody knows",
    by_speed: true,
    check,
};

/// All of one catalogue entry that a pressure stands on.
struct Loaded {
    /// In words, with its size.
    name: String,
    rating: Rating,
    highest: Pressure,
    /// Those above the rating.
    over: Vec<(String, FindingSubject)>,
    /// How many pieces of it, or lengths of a stock.
    pieces: usize,
    /// All of it.
    all: Vec<(String, FindingSubject)>,
}

fn check(here: &Context) -> Vec<Finding> {
    let loaded = loaded(here);
    let mut findings = Vec::new();
    for entry in loaded.values() {
        if entry.over.is_empty() {
            continue;
        }
        let (tags, subjects): (Vec<String>, Vec<FindingSubject>) = entry.over.iter().cloned().unzip();
        findings.push(Finding {
            severity: Severity::Error,
            extent: Some(entry.highest.si()),
            place: list(&tags),
            what: format!(
                "up to {} at {} on the {}, {}",
                here.text_apart(Measure::Pressure, entry.highest, entry.rating.pressure),
                here.speed(),
                entry.name,
                rated_for(here, &entry.rating)
            ),
            advice:
                "lower the pressure with larger metering or a lower limit, or use parts with a higher rating"
                    .to_owned(),
            subjects,
            names_speed: true,
            ..here.finding(RULE.name, "")
        });
    }
    let supply = &here.project.supply;
    let pump = here.outcome.numbers().map(|numbers| numbers.pump_pressure);
    for (rated, name) in [
        (Some(supply.pump_rated), "the pump's rated pressure"),
        (supply.weakest_rated, "the rated pressure of the weakest part"),
    ] {
        let Some(rated) = rated else { continue };
        if let Some(pressure) = pump.filter(|one| *one > rated) {
            findings.push(Finding {
                severity: Severity::Error,
                extent: Some(pressure.si()),
                place: "Pump".to_owned(),
                what: format!(
                    "{} at {}, above {name} of {}",
                    here.text_apart(Measure::Pressure, pressure, rated),
                    here.speed(),
                    here.text(Measure::Pressure, rated)
                ),
                advice: "fit larger metering or wider hoses, or lower the pressure".to_owned(),
                subjects: vec![FindingSubject::Project],
                names_speed: true,
                ..here.finding(RULE.name, "")
            });
        }
    }
    findings.extend(with_all_blocked(here, &loaded));
    findings.extend(unknown(here));
    findings
}

/// `rated for 8.00 bar`, or `rated for 9.00 bar at 20 °C, 6.66 bar at 40 °C`.
fn rated_for(here: &Context, rating: &Rating) -> String {
    if !rating.is_derated() {
        return format!("rated for {}", here.text(Measure::Pressure, rating.given));
    }
    let at = |celsius| Measure::Temperature.short_text(celsius, here.units());
    format!(
        "rated for {} at {}, {} at {}",
        here.text(Measure::Pressure, rating.given),
        at(RATED_AT),
        here.text(Measure::Pressure, rating.pressure),
        at(here.warmest().si())
    )
}

/// What keeps anybody from telling how much the bar bears.
fn unknown(here: &Context) -> Option<Finding> {
    let missing = here.lowest_rating().err()?;
    let subjects_of = |key: &EntryKey| {
        let parts = here.routing.parts.iter().filter(|part| part.entry == *key);
        let runs = here.routing.runs.iter().filter(|run| run.fittings.iter().any(|one| *one == *key));
        let feeds = here.routing.feeds.iter().filter(|feed| {
            feed.elements().any(|element| element.entry() == key)
                || feed.split.as_ref().is_some_and(|split| split.entry == *key)
        });
        let parts = parts.map(|part| FindingSubject::Part(part.id));
        let runs = runs.map(|run| FindingSubject::Run(run.id));
        parts.chain(runs).chain(feeds.map(|feed| FindingSubject::Feed(feed.id))).collect::<Vec<_>>()
    };
    Some(Finding {
        severity: Severity::Warning,
        place: "Bar".to_owned(),
        what: format!(
            "nobody knows what it bears: there is no rating of {}",
            list(&missing.words(here.project))
        ),
        advice: "enter the ratings in the catalogue, or under Supply what the weakest of these bears"
            .to_owned(),
        subjects: vec![FindingSubject::Project],
        also: missing.entries.iter().flat_map(subjects_of).collect(),
        ..here.finding(RULE.name, "unknown")
    })
}

/// With every row blocked or shut the pump's limit stands on all of it.
fn with_all_blocked(here: &Context, loaded: &BTreeMap<EntryKey, Loaded>) -> Option<Finding> {
    let supply = &here.project.supply;
    let limit = supply.highest_pressure();
    if supply.relief_valve.opens_at() == Some(limit) {
        // A valve that opens too late is an error of its own.
        return None;
    }
    let name = match supply.control {
        Control::Metered { limit: set } if set == limit => "pressure limit",
        Control::Held { pressure } if pressure == limit => "constant pressure",
        _ => "pump's pressure at no flow",
    };
    // How many of a kind bear as much, in the order of the catalogue.
    let mut weak: Vec<(String, Pressure, usize)> = Vec::new();
    for entry in loaded.values().filter(|entry| entry.over.is_empty() && limit > entry.rating.pressure) {
        let same =
            |one: &&mut (String, Pressure, usize)| one.0 == entry.name && one.1 == entry.rating.pressure;
        match weak.iter_mut().find(same) {
            Some(one) => one.2 += entry.pieces,
            None => weak.push((entry.name.clone(), entry.rating.pressure, entry.pieces)),
        }
    }
    let beyond = |rated: Pressure| {
        limit > rated && here.outcome.numbers().is_none_or(|numbers| numbers.pump_pressure <= rated)
    };
    if beyond(supply.pump_rated) {
        weak.push(("pump".to_owned(), supply.pump_rated, 1));
    }
    if let Some(rated) = supply.weakest_rated.filter(|rated| beyond(*rated)) {
        weak.push(("weakest part".to_owned(), rated, 1));
    }
    let lowest = weak.iter().map(|one| one.1).reduce(Pressure::min)?;
    weak.sort_by(|a, b| a.1.si().total_cmp(&b.1.si()));
    let named = weak.iter().map(|(name, rated, count)| {
        let what = if *count == 1 { name.clone() } else { several(*count, name) };
        format!("{what} ({})", here.text(Measure::Pressure, *rated))
    });
    let names = list(&named.collect::<Vec<_>>());
    let subjects = loaded.values().filter(|entry| entry.over.is_empty() && limit > entry.rating.pressure);
    Some(Finding {
        severity: Severity::Warning,
        place: "Pump".to_owned(),
        what: format!(
            "with every row blocked or shut the {name} of {} stands on all of it, but it is above the rating of: {names}",
            here.text(Measure::Pressure, limit)
        ),
        advice: format!(
            "{} to {} or less, or use parts with a higher rating",
            if supply.control.pressure() == Some(limit) {
                format!("set the {name}")
            } else {
                "fit a relief valve set".to_owned()
            },
            here.text(Measure::Pressure, lowest)
        ),
        subjects: vec![FindingSubject::Project],
        also: subjects.flat_map(|entry| entry.all.iter().map(|one| one.1)).collect(),
        ..here.finding(RULE.name, "all blocked")
    })
}

/// Every entry with a rating and the pressures on it. Gauges have a rule of their own.
fn loaded(here: &Context) -> BTreeMap<EntryKey, Loaded> {
    let mut all: BTreeMap<EntryKey, Loaded> = BTreeMap::new();
    let mut add = |key: &EntryKey, tag: &str, subject: FindingSubject, pressure: Pressure| {
        let is_strength = |entry: &&Entry| !matches!(entry.item, Item::Part(PartItem::Gauge(_)));
        let Some(found) = here.project.catalogue.entry(key).filter(is_strength) else { return };
        let Some(rating) = found.rating(here.warmest()) else { return };
        let rated = rating.pressure;
        let entry = all.entry(key.clone()).or_insert_with(|| Loaded {
            name: name(&found.item, here),
            rating,
            highest: pressure,
            over: Vec::new(),
            pieces: 0,
            all: Vec::new(),
        });
        entry.pieces += 1;
        entry.highest = entry.highest.max(pressure);
        let one = (tag.to_owned(), subject);
        if entry.all.last() != Some(&one) {
            entry.all.push(one.clone());
        }
        if pressure > rated && entry.over.last() != Some(&one) {
            entry.over.push(one);
        }
    };
    for part in &here.routing.parts {
        if let Some(pressure) = here.outcome.part(part.id).and_then(|one| one.highest) {
            add(&part.entry, &part.tag, FindingSubject::Part(part.id), pressure);
        }
    }
    for run in &here.routing.runs {
        let Some(outcome) = here.outcome.run(run.id) else { continue };
        let highest =
            [outcome.pressure_from, outcome.pressure_to].into_iter().flatten().reduce(Pressure::max);
        if let Some(pressure) = highest {
            add(&run.line.stock, &run.tag, FindingSubject::Run(run.id), pressure);
            for fitting in &run.fittings {
                add(fitting, &run.tag, FindingSubject::Run(run.id), pressure);
            }
        }
    }
    for feed in &here.routing.feeds {
        // A plugged outlet puts the manifold's pressure on all of the feed before the plug.
        let manifold = feed.from.port().and_then(|port| here.outcome.part(port.part));
        let Some(pressure) = manifold.and_then(|one| one.highest) else { continue };
        for element in feed.elements() {
            add(element.entry(), &feed.tag, FindingSubject::Feed(feed.id), pressure);
        }
        if let Some(split) = &feed.split {
            add(&split.entry, &feed.tag, FindingSubject::Feed(feed.id), pressure);
        }
    }
    all
}

/// `4 fittings`, `3 tubes of 6 mm`, `2 check valves`.
fn several(count: usize, name: &str) -> String {
    match name.split_once(" of ") {
        Some((kind, size)) => format!("{} of {size}", counted(count, kind)),
        None => counted(count, name),
    }
}

/// `tube of 6 mm`, `inlet filter`.
fn name(item: &Item, here: &Context) -> String {
    match item {
        Item::Stock(_) => format!("{} of {}", item.kind(), item.size(here.units())),
        Item::Part(_) | Item::Element(_) | Item::Fitting(_) => item.kind().to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::super::sample::{self, Sample};
    use super::*;
    use crate::plan::{ElementItem, Manifold, ReliefValve, StockItem, WettedMaterial};
    use crate::quantities::Temperature;

    #[test]
    fn parts_hoses_and_row_feeds_are_told_by_entry() {
        let mut sample = Sample::new();
        sample.set_item("manifold", |item| {
            if let Item::Part(PartItem::Manifold(Manifold { rated, .. })) = item {
                *rated = Pressure::bar(1.9);
            }
        });
        sample.set_item("tube", |item| {
            if let Item::Stock(StockItem::Tube(stock)) = item {
                stock.rated = Pressure::bar(1.9);
            }
        });
        sample.set_part_pressure(sample::MANIFOLD, Some(Pressure::bar(2.0)));
        let findings = sample.of(RULE);
        let lines: Vec<String> = findings.iter().map(|one| format!("{}: {}", one.place, one.what)).collect();
        assert_eq!(
            lines,
            [
                "M1: up to 2.00 bar at 9 km/h on the manifold, rated for 1.90 bar",
                "T1, T2, T3 and T4: up to 2.00 bar at 9 km/h on the tube of 6 mm, rated for 1.90 bar",
            ]
        );
        assert!(findings.iter().all(|one| one.severity == Severity::Error));
    }

    #[test]
    fn pump_and_weakest_part() {
        let mut sample = Sample::new();
        sample.project.supply.pump_rated = Pressure::bar(2.0);
        sample.project.supply.weakest_rated = Some(Pressure::bar(2.0));
        sample.numbers().pump_pressure = Pressure::bar(2.1);
        let findings = sample.of(RULE);
        assert_eq!(findings.len(), 2);
        assert!(findings[0].what.contains("the pump's rated pressure of 2.00 bar"));
    }

    #[test]
    fn the_limit_itself_must_stand_on_everything() {
        let mut sample = Sample::new();
        sample.project.supply.control = Control::Metered { limit: Pressure::bar(8.5) };
        sample.project.supply.relief_valve = ReliefValve::Absent;
        let finding = sample.only(RULE);
        assert_eq!(finding.severity, Severity::Warning);
        // Pump 6 bar; tubes and manifold 8 bar; hoses 10 bar stand it.
        assert!(
            finding.what.ends_with(
                "above the rating of: pump (6.00 bar), manifold (8.00 bar) and 4 tubes of 6 mm (8.00 bar)"
            ),
            "{}",
            finding.what
        );
        assert!(finding.advice.contains("6.00 bar"));
    }

    /// A tube rated for 2.2 bar at 20 °C keeps 0.87 of it at 30 °C (ISO 13761), 1.91 bar; of steel it would keep all.
    #[test]
    fn a_warm_plastic_tube_bears_less() {
        let mut sample = Sample::new();
        sample.set_item("tube", |item| {
            if let Item::Stock(StockItem::Tube(stock)) = item {
                stock.rated = Pressure::bar(2.2);
            }
        });
        sample.set_part_pressure(sample::MANIFOLD, Some(Pressure::bar(2.0)));
        let over = |sample: &Sample| {
            let errors = sample.of(RULE).into_iter().filter(|one| one.severity == Severity::Error);
            errors.map(|one| one.what).collect::<Vec<_>>()
        };
        assert_eq!(over(&sample), Vec::<String>::new());
        sample.project.duties.first_mut().temperature = Temperature::from_si(30.0);
        let said = over(&sample);
        let expected = "the tube of 6 mm, rated for 2.20 bar at 20 °C, 1.91 bar at 30 °C";
        assert!(said.len() == 1 && said[0].ends_with(expected), "{said:?}");
        for entry in &mut sample.project.catalogue.entries {
            entry.materials = vec![WettedMaterial::StainlessSteel];
        }
        assert_eq!(over(&sample), Vec::<String>::new());
    }

    #[test]
    fn what_has_no_rating_is_named_until_one_is_entered() {
        let mut sample = Sample::new();
        sample.set_item("orifice", |item| {
            if let Item::Element(ElementItem::MeteringOrifice(orifice)) = item {
                orifice.rated = None;
            }
        });
        assert!(sample.of(RULE).is_empty(), "the weakest part's stands for it");
        sample.project.supply.weakest_rated = None;
        let finding = sample.only(RULE);
        assert_eq!(finding.severity, Severity::Warning);
        assert_eq!(finding.what, "nobody knows what it bears: there is no rating of orifice");
        assert_eq!(finding.also.len(), 4, "the feeds of all rows");
    }
}
