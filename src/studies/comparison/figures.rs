//! The figures of one routing: how even it is at each speed, its pressures, and what it takes in hose and parts.

use std::collections::BTreeMap;

use super::contender::Contender;
use super::figure::{
    Amount, Condition, Direction, Figure, FigureGroup, FigureKey, FigureUnit, FlowFigure, LineRole,
};
use super::material::Material;
use crate::hydraulics::Numbers;
use crate::hydraulics::Outcome;
use crate::plan::words::capital;
use crate::plan::{EntryKey, LaidRouting, PartId, PartItem, PartKey, Project, StockKey};
use crate::quantities::{Length, Measure, Pressure};
use crate::studies::status::{rows_words, why_no_numbers};

/// All figures of one routing with their amounts. `looked_at` adds those of the point looked at.
pub(super) fn figures(
    project: &Project,
    contender: &Contender<'_>,
    looked_at: bool,
) -> Vec<(Figure, Amount)> {
    let mut list = List::default();
    let speed = |outcome: &Outcome| Measure::GroundSpeed.short_text(outcome.point.speed.si(), project.units);
    if looked_at {
        let heading = format!("Looked at, {}", speed(contender.outcome));
        list.flow(project, contender.routing, contender.outcome, Condition::LookedAt, &heading);
    }
    let [slowest, usual, fastest] = &contender.range.outcomes;
    for (condition, outcome, what) in [
        (Condition::Slowest, slowest, "Slowest"),
        (Condition::Usual, usual, "Usual"),
        (Condition::Fastest, fastest, "Fastest"),
    ] {
        let heading = format!("{what}, {}", speed(outcome));
        list.flow(project, contender.routing, outcome, condition, &heading);
    }
    list.material(project, contender.routing);
    list.0
}

#[derive(Default)]
struct List(Vec<(Figure, Amount)>);

impl List {
    fn add(
        &mut self,
        group: &FigureGroup,
        key: FigureKey,
        name: impl Into<String>,
        unit: FigureUnit,
        better: Direction,
        amount: Amount,
    ) {
        let figure = Figure { group: group.clone(), key, name: name.into(), unit, better };
        self.0.push((figure, amount));
    }

    fn flow(
        &mut self,
        project: &Project,
        routing: LaidRouting,
        outcome: &Outcome,
        condition: Condition,
        heading: &str,
    ) {
        use Direction::{Higher, Lower, Neither};
        let group = FigureGroup::At(condition, heading.to_owned());
        let key = |what: FlowFigure| FigureKey::Flow(what, condition);
        let why = why_no_numbers(outcome, routing.routing);
        let numbers = outcome.numbers();
        let known = |value: Option<f64>, note: String| match (&why, value) {
            (Some(why), _) => Amount::unknown("–", why.clone()),
            (None, Some(value)) => Amount::Is { value, note },
            (None, None) => Amount::unknown("–", "nothing to measure it on"),
        };
        let plain = |value: Option<f64>| known(value, String::new());
        let percent = FigureUnit::Measured(Measure::Percent);
        let pressure = FigureUnit::Measured(Measure::Pressure);
        let evenness = outcome.evenness();
        let rows = rows_words(outcome.rows_in_evenness()).unwrap_or_default();
        let cv = known(evenness.map(|one| one.cv.si()), rows.clone());
        self.add(&group, key(FlowFigure::Cv), "CV over rows", percent, Lower, cv);
        let du = known(evenness.map(|one| one.du_lowest_quarter.si()), rows);
        self.add(&group, key(FlowFigure::DuLowestQuarter), "DU, lowest quarter", percent, Higher, du);
        let farthest = numbers.and_then(Numbers::farthest_row);
        let off = farthest.and_then(|row| row.deviation);
        let note = farthest.zip(off).map_or_else(String::new, |(row, off)| {
            format!("row {}, too {}", row.number, if off.si() < 0.0 { "little" } else { "much" })
        });
        let amount = known(off.map(|one| one.abs().si()), note);
        self.add(&group, key(FlowFigure::FarthestRow), "Largest deviation", percent, Lower, amount);
        let amount = plain(Some(outcome.fed_rows() as f64));
        self.add(&group, key(FlowFigure::RowsFed), "Rows fed", FigureUnit::Count, Higher, amount);
        let shortfall = outcome.at_limit().map_or(0.0, |(shortfall, _)| shortfall.si());
        let amount = plain(Some(shortfall));
        let flow = FigureUnit::Measured(Measure::TotalFlow);
        self.add(&group, key(FlowFigure::Shortfall), "Short of the rate", flow, Lower, amount);
        let inlet = numbers.map(|numbers| numbers.inlet_pressure.si());
        self.add(&group, key(FlowFigure::Inlet), "Inlet", pressure, Lower, plain(inlet));
        let is = |entry: &PartKey, wanted: fn(&PartItem) -> bool| {
            project.catalogue.item(entry).is_some_and(wanted)
        };
        let reading = |id: PartId| outcome.part(id).and_then(|part| part.pressure).map(Pressure::si);
        let manifolds: Vec<(f64, &str)> = routing
            .parts
            .iter()
            .filter(|part| is(&part.entry, |item| matches!(item, PartItem::Manifold(_))))
            .filter_map(|part| Some((reading(part.id)?, part.tag.as_str())))
            .collect();
        let highest = manifolds.iter().max_by(|a, b| a.0.total_cmp(&b.0));
        let lowest = manifolds.iter().min_by(|a, b| a.0.total_cmp(&b.0));
        for (what, name, found) in [
            (FlowFigure::HighestManifold, "Manifold, highest", highest),
            (FlowFigure::LowestManifold, "Manifold, lowest", lowest),
        ] {
            let note = found.map_or_else(String::new, |(_, tag)| (*tag).to_owned());
            let amount = known(found.map(|(value, _)| *value), note);
            self.add(&group, key(what), name, pressure, Neither, amount);
        }
        for part in &routing.parts {
            if is(&part.entry, |item| matches!(item, PartItem::Gauge(_))) {
                let key = key(FlowFigure::Gauge(part.tag.clone()));
                let amount = plain(reading(part.id));
                self.add(&group, key, format!("Gauge {}", part.tag), pressure, Neither, amount);
            }
        }
    }

    fn material(&mut self, project: &Project, routing: LaidRouting) {
        use Direction::{Lower, Neither};
        let material = Material::of(project, routing);
        let length = FigureUnit::Measured(Measure::Distance);
        let group = FigureGroup::Lengths;
        for role in [LineRole::Hose, LineRole::Tube, LineRole::MeteringTube] {
            let all = material.lines(role);
            if all.is_empty() && role == LineRole::MeteringTube {
                continue;
            }
            let name = capital(role.word());
            let total: Length = all.values().copied().sum();
            let (key, all_of_it) = (FigureKey::Length(role), format!("{name}, all"));
            self.add(&group, key, all_of_it, length, Lower, Amount::is(total.si()));
            let mut stocks: Vec<(&StockKey, &Length)> = all.iter().collect();
            let bore = |key: &StockKey| project.catalogue.stock(key).map_or(0.0, |stock| stock.bore.si());
            stocks.sort_by(|a, b| bore(a.0).total_cmp(&bore(b.0)));
            for (stock, metres) in stocks {
                let item = project.catalogue.item(stock);
                let size = item.map_or_else(|| stock.to_string(), |item| item.size(project.units));
                let key = FigureKey::LengthOf(role, stock.clone());
                self.add(&group, key, format!("{name}, {size}"), length, Neither, Amount::is(metres.si()));
            }
        }
        for (key, name, better, found) in [
            (FigureKey::LongestTube, "Longest tube", Lower, material.longest),
            (FigureKey::ShortestTube, "Shortest tube", Neither, material.shortest),
        ] {
            let amount = found.map_or_else(
                || Amount::unknown("–", "it has no tube"),
                |(metres, row)| Amount::Is { value: metres.si(), note: format!("row {row}") },
            );
            self.add(&group, key, name, length, better, amount);
        }
        let count = |number: usize| Amount::is(number as f64);
        self.add(
            &group,
            FigureKey::RunsAcrossHinges,
            "Runs across hinges",
            FigureUnit::Count,
            Lower,
            count(material.runs_across_hinges),
        );
        let volume = FigureUnit::Measured(Measure::Volume);
        let held = Amount::is(material.held.si());
        self.add(&group, FigureKey::LiquidHeld, "Liquid held", volume, Lower, held);

        self.pieces(&FigureGroup::Parts, FigureKey::Parts, FigureKey::PartsOf, &material.parts);
        let (name, adapters) = ("Reducers and adapters", count(material.adapters));
        self.add(&FigureGroup::Parts, FigureKey::Adapters, name, FigureUnit::Count, Lower, adapters);
        self.pieces(&FigureGroup::Joints, FigureKey::Joints, FigureKey::JointsOf, &material.joints);

        for (key, name, better, entries) in [
            (FigureKey::CostOfLines, "Hose and tube", Neither, &material.priced_lengths),
            (FigureKey::CostOfParts, "Parts", Neither, &material.priced_pieces),
            (FigureKey::Cost, "Together", Lower, &material.priced_all()),
        ] {
            self.add(&FigureGroup::Cost, key, name, FigureUnit::Money, better, cost(project, entries));
        }
    }

    /// All of something that is counted, then each of its kinds.
    fn pieces(
        &mut self,
        group: &FigureGroup,
        all: FigureKey,
        of_kind: fn(&'static str) -> FigureKey,
        counted: &BTreeMap<&'static str, usize>,
    ) {
        let count = |number: usize| Amount::is(number as f64);
        let name = format!("{}, all", group.heading());
        self.add(group, all, name, FigureUnit::Count, Direction::Lower, count(counted.values().sum()));
        for (kind, number) in counted {
            self.add(
                group,
                of_kind(kind),
                capital(kind),
                FigureUnit::Count,
                Direction::Neither,
                count(*number),
            );
        }
    }
}

/// What all these entries cost together: whole, or not known.
fn cost(project: &Project, entries: &BTreeMap<EntryKey, f64>) -> Amount {
    if entries.is_empty() {
        return Amount::unknown("–", "there is nothing to buy");
    }
    let prices: Vec<_> = entries
        .iter()
        .map(|(key, amount)| (project.catalogue.entry(key).and_then(|entry| entry.price.as_ref()), *amount))
        .collect();
    let missing = prices.iter().filter(|(price, _)| price.is_none()).count();
    if missing > 0 {
        let why = format!("the catalogue has no price for {missing} of the {} entries used", entries.len());
        return Amount::unknown("no price", why);
    }
    let mut total = 0.0;
    let mut currency: Option<&str> = None;
    for (price, amount) in &prices {
        let Some(price) = price else { continue };
        if *currency.get_or_insert(&price.currency) != price.currency {
            return Amount::unknown("several currencies", "its prices are in several currencies");
        }
        total += price.amount * amount;
    }
    Amount::Is { value: total, note: currency.unwrap_or_default().to_owned() }
}
