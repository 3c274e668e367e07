//! The commissioning sheet: what to expect of a routing and to write down.

mod catches;
mod conditions;
mod pressures;

use std::collections::BTreeSet;

use crate::checks::{self, Finding, Severity};
use crate::hydraulics::evenness::{Spread, coefficient_of_variation};
use crate::hydraulics::{NoNumbers, Outcome};
use crate::plan::words::{self, capital};
use crate::plan::{Duty, Entry, EntryKey, Field, LaidRouting, Project, Routing};
use crate::quantities::{Flow, Measure, Pressure};
use crate::sheets::basis::Basis;
use crate::sheets::cautions;
use crate::sheets::document::{Block, CsvExtent, Document, PaperCell, PaperColumn, PaperTable};
use crate::studies::catch_test::catch_time::{flowing, seconds_of};
use crate::studies::catch_test::sheet_facts::{SECONDS_CAUGHT, SPEED_SET};
use crate::studies::status::why_no_numbers;
pub(super) use catches::catch_volumes;
use catches::{catches, water_words};
use conditions::{conditions, limits};
use pressures::pressures;

/// What is said where water gives no other figures than the liquid.
const WATER_ALIKE: &str =
    "With water everything reads as with the liquid: these columns serve for the catch with water too.";

/// The commissioning sheet as a paper.
pub fn commissioning_sheet(project: &Project, routing: LaidRouting, duty: &Duty) -> Document {
    from_basis(&Basis::new(project, routing, duty))
}

/// The same, from what other papers may have worked out already.
pub(super) fn from_basis(basis: &Basis) -> Document {
    let (project, routing, duty) = (basis.project, basis.routing, basis.duty);
    let mut document = Document::new("Commissioning sheet", basis);
    document.csv = CsvExtent::AllTables;
    let speeds = basis.speeds();
    let liquid_outcomes = basis.outcomes();
    let water_outcomes = basis.water_differs().then(|| basis.water_outcomes());
    let usual = speeds.iter().position(|speed| *speed == duty.usual).unwrap_or(speeds.len() / 2);
    // With water too, whether it reads otherwise or not: a test that is begun has the same time.
    let usual_outcomes: Vec<&Outcome> =
        [liquid_outcomes, basis.water_outcomes()].iter().filter_map(|outcomes| outcomes.get(usual)).collect();
    let seconds = seconds_of(&usual_outcomes);
    document.blocks.push(Block::Table(conditions(basis, seconds)));
    if liquid_outcomes.iter().any(|outcome| outcome.result.is_err()) {
        document.blocks.extend(not_solved(project, routing.routing, liquid_outcomes).map(Block::Paragraph));
    }
    let name = &duty.liquid.name;
    let caption = format!("Pressures and total flow, {name}");
    let mut with_liquid = pressures(project, routing, liquid_outcomes, caption);
    if water_outcomes.is_none() && !basis.is_water() {
        with_liquid.notes.push(WATER_ALIKE.to_owned());
    }
    let said = with_liquid.notes.clone();
    document.blocks.push(Block::Table(with_liquid));
    if let Some(outcomes) = water_outcomes {
        let caption = "Pressures and total flow, water".to_owned();
        let mut table = pressures(project, routing, outcomes, caption);
        table.notes.retain(|note| !said.contains(note));
        table.notes.insert(0, water_words(project).to_owned());
        document.blocks.push(Block::Table(table));
    }
    document.blocks.push(Block::Table(pump_check(basis)));
    let differ = liquid_outcomes.get(usual).is_some_and(targets_differ);
    document.blocks.push(Block::Table(limits(project, differ)));
    document.blocks.extend(tried(basis).map(Block::Table));
    document.blocks.push(Block::Table(to_fill_in(project, liquid_outcomes.get(usual))));
    if let Some(outcome) = liquid_outcomes.get(usual) {
        let water = water_outcomes.and_then(|outcomes| outcomes.get(usual));
        document.blocks.extend(catches(project, routing, duty, outcome, water, seconds));
    }
    document.blocks.extend(weak_spots(project, routing.routing, basis.findings()));
    document.blocks.extend(in_operation(basis));
    document.blocks.extend(cautions::blocks());
    document
}

/// Why there are no numbers, once for each reason.
fn not_solved(project: &Project, routing: &Routing, outcomes: &[Outcome]) -> impl Iterator<Item = String> {
    let mut said = BTreeSet::new();
    let words: Vec<String> = outcomes
        .iter()
        .filter_map(|outcome| {
            let why = why_no_numbers(outcome, routing)?;
            // Whether anything is fed does not depend on the speed.
            Some(match &outcome.result {
                Err(NoNumbers::Failed { .. }) => format!(
                    "No numbers at {}: {why}",
                    Measure::GroundSpeed.text(outcome.point.speed.si(), project.units)
                ),
                _ => format!("No numbers: {why}"),
            })
        })
        .filter(|words| said.insert(words.clone()))
        .collect();
    words.into_iter()
}

/// The flow that one duty needs of the pump with the reserve on top, and what the pump delivers against its pressure.
struct PumpNeed<'a> {
    duty: &'a Duty,
    wanted: Flow,
    /// What the pump delivers; none where that is not given.
    most: Option<Flow>,
    /// The highest at the pump; none where nothing is solved.
    highest: Option<Pressure>,
}

impl<'a> PumpNeed<'a> {
    fn of(basis: &Basis<'a>) -> Self {
        let (supply, outcomes) = (&basis.project.supply, basis.outcomes());
        let asked = outcomes.iter().map(|outcome| outcome.target_total).reduce(Flow::max).unwrap_or_default();
        let pressures = outcomes.iter().filter_map(|outcome| Some(outcome.numbers()?.pump_pressure));
        let highest = pressures.reduce(Pressure::max);
        let most = match highest {
            Some(pressure) if !supply.pump_curve.is_empty() => supply.flow_against(pressure),
            _ => supply.most_flow(),
        };
        let wanted = asked * (1.0 + basis.project.limits.pump_reserve.si());
        Self { duty: basis.duty, wanted, most, highest }
    }

    /// Harder on the pump than another duty.
    fn is_harder_than(&self, other: &Self) -> bool {
        match (self.most, other.most) {
            (Some(own), Some(others)) => own - self.wanted < others - other.wanted,
            _ => self.wanted > other.wanted,
        }
    }
}

/// What the pump must do in the duty that is hardest on it, what it can, and room for what it does.
fn pump_check(basis: &Basis) -> PaperTable {
    let project = basis.project;
    let units = project.units;
    let supply = &project.supply;
    let own = PumpNeed::of(basis);
    let others: Vec<PumpNeed> = basis.every_duty().skip(1).map(PumpNeed::of).collect();
    let (mut by_flow, mut by_pressure) = (&own, &own);
    for other in &others {
        if other.is_harder_than(by_flow) {
            by_flow = other;
        }
        if other.highest > by_pressure.highest {
            by_pressure = other;
        }
    }
    let (wanted, most, highest) = (by_flow.wanted, by_flow.most, by_pressure.highest);
    let of_duty = |need: &PumpNeed| {
        if others.is_empty() { String::new() } else { format!(" (duty {})", need.duty.name) }
    };
    let flow = |value: Option<Flow>| {
        value.map_or_else(|| "not given".to_owned(), |one| Measure::TotalFlow.text(one.si(), units))
    };
    let pressure = |value: Option<Pressure>| {
        value.map_or_else(|| "not solved".to_owned(), |one| Measure::Pressure.text(one.si(), units))
    };
    let verdict = match most {
        None => "give the pump's largest flow, or measure it",
        Some(capacity) if capacity >= wanted => "enough",
        Some(_) => "NOT ENOUGH",
    };
    let line = |what: String, expected: String, has: String, verdict: &str| {
        vec![
            PaperCell::text(what),
            PaperCell::text(expected),
            PaperCell::text(has),
            PaperCell::FillIn,
            PaperCell::text(verdict),
        ]
    };
    let reserve = Measure::Percent.short_text(project.limits.pump_reserve.si(), units);
    let limit = supply.highest_pressure();
    let over = highest.is_some_and(|highest| highest > supply.pump_rated || highest > limit);
    let mut notes = vec!["Agitation of the tank is not counted: add what it takes.".to_owned()];
    if !others.is_empty() {
        let unsolved = basis.every_duty().filter(|of| of.outcomes().iter().any(|one| one.result.is_err()));
        let unsolved: Vec<String> = unsolved.map(|of| of.duty.name.clone()).collect();
        notes.push("Of all duties of the bar the one that is hardest on the pump.".to_owned());
        if !unsolved.is_empty() {
            let names = crate::plan::words::list(&unsolved);
            notes.push(format!("Not solved at all speeds, and the pressures not counted: duty {names}."));
        }
    }
    PaperTable {
        caption: "Pump check".to_owned(),
        columns: vec![
            PaperColumn::text("What", 3.0),
            PaperColumn::text("Needed", 1.6),
            PaperColumn::text("Pump has", 1.6),
            PaperColumn::text("Read", 1.4),
            PaperColumn::text("Verdict", 2.4),
        ],
        rows: vec![
            line(
                format!("Flow at the fastest speed, with {reserve} to spare{}", of_duty(by_flow)),
                flow(Some(wanted)),
                flow(most),
                verdict,
            ),
            line(
                format!("Pressure at the pump's outlet, highest{}", of_duty(by_pressure)),
                pressure(highest),
                format!(
                    "{} rated, limit {}",
                    pressure(Some(supply.pump_rated)),
                    Measure::Pressure.text(limit.si(), units)
                ),
                match highest {
                    None => "",
                    Some(_) if over => "TOO HIGH",
                    Some(_) => "within",
                },
            ),
        ],
        totals: Vec::new(),
        groups: Vec::new(),
        notes,
    }
}

/// Where the prediction is weak or the bar outside its limits: the errors and warnings at all speeds of the sheet.
fn weak_spots(project: &Project, routing: &Routing, findings: &[Finding]) -> Vec<Block> {
    let rows: Vec<Vec<PaperCell>> = findings
        .iter()
        .filter(|finding| finding.severity != Severity::Note)
        .map(|finding| {
            // Paper shows what is hidden on the screen, with the reason.
            let what = match checks::hidden_by(project, finding).first() {
                Some(hidden) if hidden.by.is_empty() => {
                    format!("{} (hidden: {})", finding.what, hidden.reason)
                }
                Some(hidden) => format!("{} (hidden by {}: {})", finding.what, hidden.by, hidden.reason),
                None => finding.what.clone(),
            };
            vec![
                PaperCell::text(finding.severity.label()),
                PaperCell::text(&finding.place),
                PaperCell::text(what),
            ]
        })
        .collect();
    let mut blocks = Vec::new();
    if !rows.is_empty() {
        blocks.push(Block::Table(PaperTable {
            caption: "Errors and warnings at these speeds".to_owned(),
            columns: vec![
                PaperColumn::text("Severity", 0.9),
                PaperColumn::text("Where", 1.6),
                PaperColumn::text("What", 6.0),
            ],
            rows,
            ..PaperTable::default()
        }));
    }
    blocks.push(Block::Paragraph(format!(
        "How far the prediction can be trusted: a bore 1 % off costs 2 % of flow in an orifice, 2.7 % in a turbulent and \
         4 % in a laminar metering tube; {}; a metering tube is taken as straight unless it has a coil diameter.",
        coefficients(project, routing)
    )));
    blocks
}

/// Where the discharge coefficients of the orifices in use are from.
fn coefficients(project: &Project, routing: &Routing) -> String {
    let used: BTreeSet<&EntryKey> =
        routing.feeds.iter().flat_map(|feed| feed.elements()).map(|element| element.entry()).collect();
    let entries = used.into_iter().filter_map(|key| project.catalogue.entry(key));
    let orifices: Vec<&Entry> = entries
        .filter(|entry| entry.told_by_catch().is_some_and(|(field, _)| field == Field::Discharge))
        .collect();
    let told = |entry: &&Entry| {
        Some(format!("{} {}", entry.description, entry.calibration()?.1.words_with_interval(project.units)))
    };
    let told: Vec<String> = orifices.iter().filter_map(told).collect();
    match (told.len(), orifices.len()) {
        (0, _) => {
            "discharge coefficients are the catalogue's, to be calibrated by the first catch".to_owned()
        }
        (some, all) if some < all => format!(
            "discharge coefficients are the catalogue's, to be calibrated by a catch, but for that of {}",
            words::list(&told)
        ),
        _ => format!("the discharge coefficient of {}", words::list(&told)),
    }
}

/// What bites at work on slopes, in the cold, worn or with the pump off, which no finding at these speeds tells.
fn in_operation(basis: &Basis) -> Vec<Block> {
    let words = basis.in_operation();
    if words.is_empty() {
        return Vec::new();
    }
    let said = words.iter().map(|line| Block::Paragraph(format!("{}.", capital(line))));
    std::iter::once(Block::Heading("At work, as tried".to_owned())).chain(said).collect()
}

/// Rows that flow have different targets: their catches can only be compared over these.
fn targets_differ(outcome: &Outcome) -> bool {
    let targets = || flowing(outcome).map(|row| row.target);
    let (least, most) = (targets().reduce(Flow::min), targets().reduce(Flow::max));
    least.zip(most).is_some_and(|(least, most)| most.si() > least.si() * (1.0 + 1e-6))
}

/// What the fitting steps try before any catch, with room for what was read and a box each; none without a hose.
fn tried(basis: &Basis) -> Option<PaperTable> {
    let (project, test) = (basis.project, basis.closed_test()?);
    let units = project.units;
    let pressure = |one: Pressure| Measure::Pressure.text(one.si(), units);
    let mut lines = Vec::new();
    if test.stops.is_empty() {
        lines.push((
            "Pressure test, outlets closed: reached, and held for five minutes without a drip",
            pressure(test.pressure),
        ));
        if let Some(opens) = project.supply.relief_valve.opens_at() {
            lines.push(("Relief valve set back: opened at", pressure(opens)));
        }
    } else {
        lines.push(("Pressure test, outlets closed", "NOT YET, see the fitting steps".to_owned()));
    }
    // What the fitting steps say to expect.
    let with_water = basis.leak_check().map(|check| &check.water).or_else(|| basis.water_outcomes().last());
    let expected = with_water.and_then(|outcome| Some(outcome.numbers()?.pump_pressure));
    lines.push((
        "Leak check with water, rows open: nothing drips at the pump's pressure of",
        expected.map_or_else(|| "not solved".to_owned(), pressure),
    ));
    if project.bar.sections.iter().any(|section| section.hinge.is_some()) {
        lines.push((
            "Fold trial with full hoses: none stretched, kinked or pinched",
            "folded and back".to_owned(),
        ));
    }
    let line = |(what, asked): (&str, String)| {
        vec![PaperCell::text(what), PaperCell::text(asked), PaperCell::FillIn, PaperCell::Tick]
    };
    Some(PaperTable {
        caption: "Tried on the bar".to_owned(),
        columns: vec![
            PaperColumn::text("What", 4.0),
            PaperColumn::text("Asked", 1.8),
            PaperColumn::text("Read", 1.4),
            PaperColumn::text("Done", 0.5),
        ],
        rows: lines.into_iter().map(line).collect(),
        ..PaperTable::default()
    })
}

fn to_fill_in(project: &Project, usual: Option<&Outcome>) -> PaperTable {
    let line = |what: &str| vec![PaperCell::text(what), PaperCell::FillIn];
    // As the catches will be reckoned: a sample, n - 1.
    let expected = usual.and_then(|outcome| {
        let ratios: Vec<f64> =
            flowing(outcome).filter_map(|row| row.deviation.map(|one| 1.0 + one.si())).collect();
        coefficient_of_variation(&ratios, Spread::Sample)
    });
    let differ = usual.is_some_and(targets_differ);
    let (mean, spread) = if differ {
        (
            "Mean of catch over target (each catch divided by its row's target)",
            "Coefficient of variation of catch over target (n − 1)",
        )
    } else {
        ("Mean of the catches", "Coefficient of variation of the catches (n − 1)")
    };
    let spread = expected.map_or_else(
        || spread.to_owned(),
        |cv| format!("{spread}, expected {}", Measure::Percent.text(cv.si(), project.units)),
    );
    let speed_set = format!("{SPEED_SET}{}", Measure::GroundSpeed.unit(project.units).symbol);
    let lines = [
        "Date, place",
        "Tested by",
        "Liquid temperature",
        SECONDS_CAUGHT,
        speed_set.as_str(),
        "Density of the liquid, weighed",
        "Seconds over the course, tank half full",
        "Gauges at zero before the first start",
        "Rows that drip after the pump stops, supply open",
        "Filter screen clean",
        mean,
        spread.as_str(),
        "Rows cleaned or changed",
    ];
    // Two beside each other: the sheet is to have few pages.
    let rows = lines.chunks(2).map(|pair| {
        let second = pair.get(1).map_or_else(|| vec![PaperCell::Empty, PaperCell::Empty], |what| line(what));
        [line(pair[0]), second].concat()
    });
    PaperTable {
        caption: "On the day".to_owned(),
        columns: ["What", "Read", "What else", "Read"]
            .map(|heading| PaperColumn::text(heading, 1.0))
            .to_vec(),
        rows: rows.collect(),
        ..PaperTable::default()
    }
}
