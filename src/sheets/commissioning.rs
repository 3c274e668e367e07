//! The commissioning sheet: what gauges, flow meter and catch jugs should show, with room for what they do show.
//!
//! Every expected number is a solve of its own; a solve that failed leaves no number. Water is solved as the
//! controller would run it: at the same total flow where the supply is metered, at the same pressure at the pump
//! where that is held. The root of the density ratio is not used for it, since it holds for orifices alone.

use crate::plan::{Gauge, MeteringOrifice};
use std::collections::BTreeSet;
use std::fmt::Write as _;

use super::basis::Basis;
use super::cautions;
use super::document::{Block, Cell, Column, CsvExtent, Document, Table};
use super::places;
use crate::checks::{self, Finding};
use crate::hydraulics::evenness::{Spread, coefficient_of_variation};
use crate::hydraulics::outcome::RowOutcome;
use crate::hydraulics::targets::{
    caught_in, course_of_128th_acre, course_seconds, rate_of_catch, water_equivalent,
};
use crate::hydraulics::{NoNumbers, NotFed, Outcome, RowState};
use crate::plan::kinds::Reading;
use crate::plan::{
    Control, CurvePoint, Duty, ElementItem, Item, LaidRouting, Liquid, Part, PartItem, Project, Routing,
    RowWidths, Source,
};
use crate::quantities::{Angle, Flow, Length, Measure, Pressure, Ratio, Speed, UnitSystem, Volume};
use crate::studies::status::why_no_numbers;

/// A catch is at least this large, so that reading a jug to 5 mL costs 2 %, and at least this long, so that stopping
/// half a second late costs less than 2 % (common practice, no source).
const LEAST_CATCH_ML: f64 = 250.0;
const LEAST_SECONDS: f64 = 30.0;
/// Catch times are whole multiples of this.
const STEP_SECONDS: f64 = 10.0;
/// A catch longer than this is not asked for; then the sheet says that the catch is small.
const MOST_SECONDS: f64 = 900.0;
/// Course on which the ground speed is timed.
const COURSE: Length = Length::metres(100.0);

/// The speeds of the sheet: slowest, usual and fastest with the middles between them, each once.
pub fn speeds(duty: &Duty, units: UnitSystem) -> Vec<Speed> {
    let middle = |a: Speed, b: Speed| (a + b) / 2.0;
    let all = [
        duty.slowest,
        middle(duty.slowest, duty.usual),
        duty.usual,
        middle(duty.usual, duty.fastest),
        duty.fastest,
    ];
    let mut speeds: Vec<Speed> = Vec::new();
    for speed in all {
        let shown = |speed: Speed| Measure::GroundSpeed.number(speed.si(), units);
        if speeds.last().is_none_or(|last| shown(*last) != shown(speed)) {
            speeds.push(speed);
        }
    }
    speeds
}

/// The time every row is caught for: long enough for 250 mL from the row that gets least, in both liquids; none
/// where nothing flows.
pub fn catch_seconds(flows: impl Iterator<Item = Flow>) -> Option<f64> {
    let least = flows.map(|flow| flow.si()).filter(|flow| *flow > 0.0).reduce(f64::min)?;
    let seconds = (LEAST_CATCH_ML * 1e-6 / least).max(LEAST_SECONDS);
    // A whole step that only arithmetic pushed over its mark stays.
    let steps = (seconds / STEP_SECONDS - 1e-9).ceil();
    Some((steps * STEP_SECONDS).min(MOST_SECONDS))
}

/// The largest catch of a row and all that flows while it is caught, over some outcomes that share one catch time; none
/// where nothing flows.
pub(super) fn catch_volumes(outcomes: &[&Outcome]) -> Option<(Volume, Volume)> {
    let flows = || outcomes.iter().flat_map(|outcome| flowing(outcome)).map(|row| row.flow);
    let seconds = catch_seconds(flows())?;
    let total = outcomes
        .iter()
        .filter_map(|outcome| outcome.numbers())
        .map(|one| one.total_flow)
        .reduce(Flow::max)?;
    Some((caught_in(flows().reduce(Flow::max)?, seconds), caught_in(total, seconds)))
}

/// The project with water in its tank for this duty; none where it is water already.
pub(super) fn with_water(project: &Project, duty: &Duty) -> Option<Project> {
    let water = Liquid::water();
    (duty.liquid.points != water.points).then(|| {
        let mut watered = project.clone();
        watered.duties.put(Duty { liquid: water, ..duty.clone() });
        watered
    })
}

/// The commissioning sheet as a paper.
pub fn commissioning_sheet(project: &Project, routing: LaidRouting, duty: &Duty) -> Document {
    from_basis(&Basis::new(project, routing, duty))
}

/// The same, from what other papers may have worked out already.
pub(super) fn from_basis(basis: &Basis) -> Document {
    let (project, routing, duty) = (basis.project, basis.routing, basis.duty);
    let mut document = Document::new("Commissioning sheet", project, routing, duty);
    document.csv = CsvExtent::AllTables;
    let speeds = basis.speeds();
    let liquid_outcomes = basis.outcomes();
    let water_outcomes = (!basis.is_water()).then(|| basis.water_outcomes());
    let usual = speeds.iter().position(|speed| *speed == duty.usual).unwrap_or(speeds.len() / 2);
    document.blocks.push(Block::Facts(conditions(project, duty)));
    document.blocks.push(Block::Facts(limits(project)));
    if liquid_outcomes.iter().any(|outcome| outcome.result.is_err()) {
        document.blocks.extend(not_solved(project, routing.routing, liquid_outcomes).map(Block::Paragraph));
    }
    let name = &duty.liquid.name;
    let caption = format!("Pressures and total flow, {name}");
    document.blocks.push(Block::Table(pressures(project, routing, liquid_outcomes, caption)));
    if let Some(outcomes) = water_outcomes {
        let caption = "Pressures and total flow, water".to_owned();
        let mut table = pressures(project, routing, outcomes, caption);
        table.notes.insert(0, water_words(project).to_owned());
        document.blocks.push(Block::Table(table));
    }
    if let Some(outcome) = liquid_outcomes.get(usual) {
        let water = water_outcomes.and_then(|outcomes| outcomes.get(usual));
        document.blocks.extend(catches(project, routing, duty, outcome, water));
    }
    document.blocks.push(Block::Table(pump_check(project, liquid_outcomes)));
    document.blocks.extend(weak_spots(project, basis.findings()));
    document.blocks.push(Block::Table(to_fill_in(project, liquid_outcomes.get(usual))));
    document.blocks.extend(cautions::blocks());
    document
}

const fn source_word(source: Source) -> &'static str {
    match source {
        Source::Measured => "measured",
        Source::Published => "published",
        Source::Assumed => "ASSUMED, nobody measured it",
    }
}

fn conditions(project: &Project, duty: &Duty) -> Vec<(String, String)> {
    let units = project.units;
    let fact = |name: &str, value: String| (name.to_owned(), value);
    let mut facts = vec![
        fact("Application rate", Measure::Rate.text(duty.rate.si(), units)),
        fact("Liquid", duty.liquid.name.clone()),
    ];
    let temperature = Measure::Temperature.text(duty.temperature.si(), units);
    match duty.liquid.at(duty.temperature) {
        Some(state) => {
            let outside =
                if state.outside_table { "; OUTSIDE the liquid's table, nearest value used" } else { "" };
            facts.push(fact(
                "Density",
                format!(
                    "{} at {temperature}, {}{outside}",
                    Measure::Density.text(state.density.si(), units),
                    source_word(duty.liquid.density_source)
                ),
            ));
            facts.push(fact(
                "Viscosity",
                format!(
                    "{} at {temperature}, {}{outside}",
                    Measure::Viscosity.text(state.viscosity.si(), units),
                    source_word(duty.liquid.viscosity_source)
                ),
            ));
        }
        None => facts.push(fact("Density and viscosity", "not known".to_owned())),
    }
    let slope = |angle: Angle| Measure::Slope.text(angle.si(), units);
    facts.push(fact(
        "Slope",
        format!(
            "side {} (positive: right side up), fore-aft {} (positive: nose up)",
            slope(duty.side_slope),
            slope(duty.fore_aft_slope)
        ),
    ));
    let control = match project.supply.control {
        Control::Metered { limit } => {
            format!("metered flow, up to {} at the pump", Measure::Pressure.text(limit.si(), units))
        }
        Control::Held { pressure } => {
            format!("pressure at the pump held at {}", Measure::Pressure.text(pressure.si(), units))
        }
        Control::Uncontrolled => "nothing held: the pump runs on its curve".to_owned(),
    };
    facts.push(fact("Supply", control));
    if !project.supply.pump_curve.is_empty() {
        let point = |point: &CurvePoint| {
            format!(
                "{} at {}",
                Measure::Pressure.text(point.pressure.si(), units),
                Measure::TotalFlow.text(point.flow.si(), units)
            )
        };
        let points: Vec<String> = project.supply.pump_curve.iter().map(point).collect();
        facts.push(fact("Pump curve", format!("{}; straight between", points.join(", "))));
    }
    if units == UnitSystem::UsCustomary {
        let course = course_of_128th_acre(project.bar.row_spacing);
        facts.push(fact(
            "Course of 1/128 acre",
            format!(
                "{} for one row: fluid ounces caught over it are gallons an acre",
                Measure::Distance.text(course.si(), units)
            ),
        ));
    }
    facts.push(fact(
        "Ground speed check",
        format!(
            "{} in {:.1} s at the usual {}",
            Measure::Distance.short_text(COURSE.si(), units),
            course_seconds(COURSE, duty.usual),
            Measure::GroundSpeed.text(duty.usual.si(), units)
        ),
    ));
    facts
}

fn limits(project: &Project) -> Vec<(String, String)> {
    let units = project.units;
    let limits = &project.limits;
    let percent = |ratio: Ratio| Measure::Percent.short_text(ratio.si(), units);
    vec![
        (
            "Target, expected".to_owned(),
            "Target: what a row should get. Expected: what this routing is computed to give it.".to_owned(),
        ),
        (
            "Limit of a row".to_owned(),
            format!(
                "within ±{} of its target, from lowest to highest in the list of catches; outside: clean or swap its metering \
                 and catch again; beyond ±{}: look for a fault",
                percent(limits.row_deviation),
                percent(limits.row_deviation * 2.0)
            ),
        ),
        (
            "Limit of evenness".to_owned(),
            format!(
                "coefficient of variation of the catches (n − 1) up to {} good, up to {} acceptable",
                percent(limits.cv_good),
                percent(limits.cv_acceptable)
            ),
        ),
    ]
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

const fn water_words(project: &Project) -> &'static str {
    match project.supply.control {
        Control::Metered { .. } => {
            "With water at the SAME TOTAL FLOW as with the liquid, since the controller meters the flow: the gauges then stand \
             elsewhere."
        }
        Control::Held { .. } => {
            "With water at the SAME PRESSURE at the pump as with the liquid, since that is held: the flows are then others."
        }
        Control::Uncontrolled => {
            "With water on the SAME PUMP CURVE as with the liquid: flows and gauges are then others."
        }
    }
}

/// The root of the density ratio, where every row meters with orifices that have no viscous loss: it holds for nothing
/// else.
fn density_factor(project: &Project, routing: LaidRouting, duty: &Duty) -> Option<String> {
    let metering = routing.feeds.iter().flat_map(|feed| feed.elements()).filter(|one| one.is_metering());
    let items: Vec<_> = metering.map(|element| project.catalogue.any_item(element.entry())).collect();
    let alone = !items.is_empty()
        && items.iter().all(|item| {
            matches!(
                item,
                Some(Item::Element(ElementItem::MeteringOrifice(MeteringOrifice { creeping: false, .. })))
            )
        });
    let temperature = duty.temperature;
    let (liquid, water) = (duty.liquid.at(temperature)?, Liquid::water().at(temperature)?);
    alone.then(|| {
        format!(
            "A quick check, for these rows meter with orifices: at the same pressure ahead of them water flows {:.3} times as \
             much as the liquid (root of the density ratio). The table counts tubes and check valves too.",
            water_equivalent(liquid.density, water.density).si()
        )
    })
}

/// Largest error of a dial gauge, as a share of its full scale: class 1.6 of EN 837-1, from memory; usual on machines.
const DIAL_ERROR: f64 = 0.016;

/// Which gauges of a table can't be told apart: their expected readings lie closer than the dials are true.
fn dial_words(project: &Project, parts: &[&Part], outcomes: &[Outcome]) -> Option<String> {
    let units = project.units;
    let scale = |part: &Part| match project.catalogue.item(&part.entry) {
        Some(PartItem::Gauge(Gauge { full_scale })) => Some(*full_scale),
        _ => None,
    };
    let gauges: Vec<(&str, Pressure, Vec<Pressure>)> = parts
        .iter()
        .filter_map(|part| {
            let readings = outcomes.iter().filter_map(|outcome| outcome.part(part.id)?.pressure).collect();
            Some((part.tag.as_str(), scale(part)?, readings))
        })
        .collect();
    let largest = gauges.iter().map(|(_, scale, _)| *scale).reduce(Pressure::max)?;
    let error = largest * DIAL_ERROR;
    let text = |pressure: Pressure| Measure::Pressure.text(pressure.si(), units);
    let mut words = format!(
        "A dial to {} of class 1.6 (EN 837-1; the plan gives no class) may be {} out.",
        text(largest),
        text(error)
    );
    let mut alike: Vec<String> = Vec::new();
    for (index, (tag, _, readings)) in gauges.iter().enumerate() {
        let close = |other: &[Pressure]| {
            !other.is_empty() && readings.iter().zip(other).all(|(a, b)| (a.si() - b.si()).abs() < error.si())
        };
        if gauges.iter().enumerate().any(|(at, (_, _, other))| at != index && close(other)) {
            alike.push((*tag).to_owned());
        }
    }
    if alike.len() > 1 {
        let _ = write!(
            words,
            " What is expected at {} lies closer together: can't tell them apart on this gauge; each must only agree with \
             its own box.",
            crate::plan::words::tags(&alike)
        );
    }
    Some(words)
}

/// Parts whose pressure the sheet lists: the gauges, or the manifolds where there is none.
fn read_at<'a>(project: &Project, routing: LaidRouting<'a>) -> Vec<&'a Part> {
    let of = |wanted: fn(&PartItem) -> bool| -> Vec<&'a Part> {
        routing
            .routing
            .parts
            .iter()
            .filter(|part| project.catalogue.item(&part.entry).is_some_and(wanted))
            .collect()
    };
    let gauges = of(|item| matches!(item, PartItem::Gauge(_)));
    if gauges.is_empty() { of(|item| matches!(item, PartItem::Manifold(_))) } else { gauges }
}

/// Parts whose flow can be read.
fn flow_meters<'a>(project: &Project, routing: LaidRouting<'a>) -> Vec<&'a Part> {
    let reads = |part: &&Part| {
        let item = project.catalogue.item(&part.entry);
        item.is_some_and(|item| item.facts().reading == Some(Reading::Flow))
    };
    routing.routing.parts.iter().filter(reads).collect()
}

fn pressures(project: &Project, routing: LaidRouting, outcomes: &[Outcome], caption: String) -> Table {
    let units = project.units;
    let parts = read_at(project, routing);
    let pressure = |heading: String| Column::measure(heading, Measure::Pressure, units, 1.2);
    let mut columns = vec![
        Column::measure("Speed", Measure::GroundSpeed, units, 1.0),
        Column::measure("Total flow asked", Measure::TotalFlow, units, 1.3),
        Column::measure("Total flow expected", Measure::TotalFlow, units, 1.4),
        Column::measure("Total flow read", Measure::TotalFlow, units, 1.3),
        pressure("Pump expected".to_owned()),
        pressure("Pump read".to_owned()),
    ];
    for part in &parts {
        columns.push(pressure(format!("{} expected", part.tag)));
        columns.push(pressure(format!("{} read", part.tag)));
    }
    let meters: Vec<&Part> = flow_meters(project, routing);
    for part in &meters {
        columns.push(Column::measure(format!("{} expected", part.tag), Measure::TotalFlow, units, 1.2));
        columns.push(Column::measure(format!("{} read", part.tag), Measure::TotalFlow, units, 1.2));
    }
    columns.push(Column::text("Remarks", 2.0));
    let rows = outcomes
        .iter()
        .map(|outcome| {
            let numbers = outcome.numbers();
            let mut cells = vec![
                Cell::measure(Measure::GroundSpeed, Some(outcome.point.speed), units),
                Cell::measure(Measure::TotalFlow, Some(outcome.target_total), units),
                Cell::measure(Measure::TotalFlow, numbers.map(|one| one.total_flow), units),
                Cell::FillIn,
                Cell::measure(Measure::Pressure, numbers.map(|one| one.pump_pressure), units),
                Cell::FillIn,
            ];
            for part in &parts {
                let reading = outcome.part(part.id).and_then(|one| one.pressure);
                cells.push(Cell::measure(Measure::Pressure, reading, units));
                cells.push(Cell::FillIn);
            }
            for part in &meters {
                let reading = outcome.part(part.id).and_then(|one| one.flow);
                cells.push(Cell::measure(Measure::TotalFlow, reading, units));
                cells.push(Cell::FillIn);
            }
            cells.push(Cell::text(match (numbers, outcome.at_limit()) {
                (None, _) => "Not solved".to_owned(),
                (Some(_), None) => String::new(),
                (Some(_), Some((shortfall, _))) => format!(
                    "At the supply's limit; {} short of what is asked",
                    Measure::TotalFlow.text(shortfall.si(), units)
                ),
            }));
            cells
        })
        .collect();
    let shut: Vec<String> =
        routing.parts.iter().filter(|part| part.shut).map(|part| part.tag.clone()).collect();
    let state = if shut.is_empty() {
        "everything open".to_owned()
    } else {
        format!("{} shut and all else open", crate::plan::words::tags(&shut))
    };
    let mut notes = vec![format!(
        "All pressures are gauge pressures, with {state} and nothing blocked. \
         Pump: on its own gauge, if it has one; the plan holds none there."
    )];
    notes.extend(dial_words(project, &parts, outcomes));
    let gauges = |part: &&Part| matches!(project.catalogue.item(&part.entry), Some(PartItem::Gauge(_)));
    if !parts.iter().any(gauges) {
        notes.push(
            "No gauge is placed: the pressures are those at the manifolds' inlets; fit a gauge to read them."
                .to_owned(),
        );
    }
    Table { caption, columns, rows, totals: Vec::new(), notes }
}

/// A row that flows.
fn flowing(outcome: &Outcome) -> impl Iterator<Item = &RowOutcome> {
    outcome.rows().iter().filter(|row| row.state == RowState::Fed)
}

fn catches(
    project: &Project,
    routing: LaidRouting,
    duty: &Duty,
    liquid: &Outcome,
    water: Option<&Outcome>,
) -> Vec<Block> {
    let units = project.units;
    let flows: Vec<Flow> =
        flowing(liquid).chain(water.into_iter().flat_map(flowing)).map(|row| row.flow).collect();
    let Some(seconds) = catch_seconds(flows.iter().copied()) else {
        return vec![Block::Paragraph("No catch is expected: no row flows at the usual speed.".to_owned())];
    };
    let band = project.limits.row_deviation.si();
    let catch = |flow: Option<Flow>| flow.map(|flow| caught_in(flow, seconds));
    let cell = |volume: Option<Volume>| Cell::measure(Measure::Catch, volume, units);
    let column = |heading: &str| Column::measure(heading, Measure::Catch, units, 1.2);
    let mut columns = vec![
        Column::count("Row", 0.7),
        Column::text("Section", 3.2),
        Column::text("Outlet", 1.2),
        column("Target"),
    ];
    let names: Vec<&str> = if water.is_some() { vec!["Liquid", "Water"] } else { vec!["Liquid"] };
    for name in &names {
        columns.extend([
            column(&format!("{name} expected")),
            column(&format!("{name} lowest")),
            column(&format!("{name} highest")),
            column(&format!("{name} caught")),
        ]);
    }
    columns.push(Column::text("Remarks", 2.0));
    let mut rows = Vec::new();
    for row in liquid.rows().iter().filter(|row| row.connected != Err(NotFed::LeftOut)) {
        let outlet =
            row.outlet.and_then(|(part, number)| Some(format!("{}/{number}", routing.part(part)?.tag)));
        let mut cells = vec![
            Cell::count(row.number as usize),
            Cell::text(places::section(project, row.section)),
            outlet.map_or(Cell::Empty, Cell::Text),
        ];
        // What is allowed is about the target, not about what this routing is expected to give.
        let asked = (row.flow.si() > 0.0).then(|| row.target / row.flow);
        cells.push(cell(catch((row.state == RowState::Fed).then_some(row.target))));
        for outcome in std::iter::once(liquid).chain(water) {
            let flow = flowing(outcome).find(|one| one.row == row.row).map(|one| one.flow);
            let expected = catch(flow);
            let allowed = expected.zip(asked).map(|(expected, asked)| expected * asked);
            cells.extend([
                cell(expected),
                cell(allowed.map(|one| one * (1.0 - band))),
                cell(allowed.map(|one| one * (1.0 + band))),
                if expected.is_some() { Cell::FillIn } else { Cell::Empty },
            ]);
        }
        cells.push(Cell::text(match row.state {
            RowState::Fed => "",
            RowState::FlowsBackward => "draws air in",
            _ => "gets nothing",
        }));
        rows.push(cells);
    }
    let speed = duty.usual;
    let distance = Length::metres(speed.si() * seconds);
    let smallest = catch(flows.into_iter().reduce(Flow::min)).unwrap_or_default();
    let mut notes = vec![format!(
        "Catch every row for {seconds:.0} s standing still with the controller set to {}, which is {} of travel.",
        Measure::GroundSpeed.text(speed.si(), units),
        Measure::Distance.text(distance.si(), units)
    )];
    if smallest.si() < LEAST_CATCH_ML * 1e-6 {
        notes.push(format!(
            "The smallest catch is {}: read it in a narrow measuring cylinder, or catch longer.",
            Measure::Catch.text(smallest.si(), units)
        ));
    }
    // What one unit of the jug over that distance is worth on the field; shares and own strips would need a factor a row.
    if project.bar.row_widths == RowWidths::Nominal {
        let one = Volume::from_si(Measure::Catch.stored(1.0, units));
        let rate = rate_of_catch(one, project.bar.row_spacing, distance);
        notes.push(format!(
            "Rate from the catches: the mean over full rows in {} times {:.4} is the rate in {} ({} between rows).",
            Measure::Catch.unit(units).symbol,
            Measure::Rate.shown(rate.si(), units),
            Measure::Rate.unit(units).symbol,
            Measure::Distance.text(project.bar.row_spacing.si(), units)
        ));
    }
    let percent = Measure::Percent.short_text(band, units);
    if water.is_some() {
        notes.extend(density_factor(project, routing, duty));
        notes.push(format!(
            "Lowest and highest: ±{percent} of the target; for water ±{percent} of the target times what is expected with water \
             over what is expected with the liquid, row by row: a row that gives this with water gives its target with the \
             liquid."
        ));
        notes.push(water_words(project).to_owned());
    } else {
        notes.push(format!("Lowest and highest: ±{percent} of the target."));
    }
    notes.push(
        "A row well above its neighbours has a worn, cracked or missing metering element; one well below is plugged, \
         kinked, or its check valve is held shut."
            .to_owned(),
    );
    vec![Block::Table(Table {
        caption: "Catch of every row".to_owned(),
        columns,
        rows,
        totals: Vec::new(),
        notes,
    })]
}

/// What the pump must do, what it can, and room for what it does.
fn pump_check(project: &Project, outcomes: &[Outcome]) -> Table {
    let units = project.units;
    let supply = &project.supply;
    let asked = outcomes.iter().map(|outcome| outcome.target_total).reduce(Flow::max).unwrap_or_default();
    let wanted = asked * (1.0 + project.limits.pump_reserve.si());
    let highest =
        outcomes.iter().filter_map(|outcome| Some(outcome.numbers()?.pump_pressure)).reduce(|a, b| a.max(b));
    let flow = |value: Option<Flow>| {
        value.map_or_else(|| "not given".to_owned(), |one| Measure::TotalFlow.text(one.si(), units))
    };
    let pressure = |value: Option<Pressure>| {
        value.map_or_else(|| "not solved".to_owned(), |one| Measure::Pressure.text(one.si(), units))
    };
    let most = match highest {
        Some(pressure) if !supply.pump_curve.is_empty() => supply.flow_against(pressure),
        _ => supply.most_flow(),
    };
    let verdict = match most {
        None => "give the pump's largest flow, or measure it",
        Some(capacity) if capacity >= wanted => "enough",
        Some(_) => "NOT ENOUGH",
    };
    let line = |what: String, expected: String, has: String, verdict: &str| {
        vec![Cell::text(what), Cell::text(expected), Cell::text(has), Cell::FillIn, Cell::text(verdict)]
    };
    let reserve = Measure::Percent.short_text(project.limits.pump_reserve.si(), units);
    let limit = supply.highest_pressure();
    let over = highest.is_some_and(|highest| highest > supply.pump_rated || highest > limit);
    Table {
        caption: "Pump check".to_owned(),
        columns: vec![
            Column::text("What", 3.0),
            Column::text("Needed", 1.6),
            Column::text("Pump has", 1.6),
            Column::text("Read", 1.4),
            Column::text("Verdict", 2.4),
        ],
        rows: vec![
            line(
                format!("Flow at the fastest speed, with {reserve} to spare"),
                flow(Some(wanted)),
                flow(most),
                verdict,
            ),
            line(
                "Pressure at the pump's outlet, highest".to_owned(),
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
        notes: vec!["Agitation of the tank is not counted: add what it takes.".to_owned()],
    }
}

/// Where the prediction is weak or the bar outside its limits: the findings at all speeds of the sheet.
fn weak_spots(project: &Project, findings: &[Finding]) -> Vec<Block> {
    let rows: Vec<Vec<Cell>> = findings
        .iter()
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
                Cell::text(finding.severity.label()),
                Cell::text(&finding.place),
                Cell::text(what),
                Cell::text(&finding.advice),
            ]
        })
        .collect();
    let mut blocks = Vec::new();
    if !rows.is_empty() {
        blocks.push(Block::Table(Table {
            caption: "Findings at these speeds".to_owned(),
            columns: vec![
                Column::text("", 0.9),
                Column::text("Where", 1.6),
                Column::text("What", 4.0),
                Column::text("Try", 3.6),
            ],
            rows,
            ..Table::default()
        }));
    }
    blocks.push(Block::Paragraph(
        "How far the prediction can be trusted: a bore 1 % off costs 2 % of flow in an orifice, 2.7 % in a turbulent and \
         4 % in a laminar metering tube; discharge coefficients are the catalogue's, to be calibrated by the first catch; a \
         metering tube is taken as straight unless it has a coil diameter."
            .to_owned(),
    ));
    blocks
}

fn to_fill_in(project: &Project, usual: Option<&Outcome>) -> Table {
    let line = |what: &str| vec![Cell::text(what), Cell::FillIn];
    // As the catches will be reckoned: a sample, n - 1.
    let expected = usual.and_then(|outcome| {
        let ratios: Vec<f64> =
            flowing(outcome).filter_map(|row| row.deviation.map(|one| 1.0 + one.si())).collect();
        coefficient_of_variation(&ratios, Spread::Sample)
    });
    let spread = match expected {
        Some(cv) => format!(
            "Coefficient of variation of the catches (n − 1), expected {}",
            Measure::Percent.text(cv.si(), project.units)
        ),
        None => "Coefficient of variation of the catches (n − 1)".to_owned(),
    };
    Table {
        caption: "On the day".to_owned(),
        columns: vec![Column::text("What", 3.0), Column::text("Read", 4.0)],
        rows: [
            "Date, place",
            "Tested by",
            "Liquid temperature",
            "Density of the liquid, weighed",
            "Seconds over the course, tank half full",
            "Gauges at zero before the first start",
            "Rows that run on with the pump off, supply open",
            "Filter screen clean",
            "Mean of the catches",
            spread.as_str(),
            "Rows cleaned or changed",
        ]
        .into_iter()
        .map(line)
        .collect(),
        ..Table::default()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_catch_is_long_enough_for_250_ml() {
        let seconds = |flows: &[f64]| catch_seconds(flows.iter().map(|one| Flow::litres_per_minute(*one)));
        assert_eq!(seconds(&[0.5, 0.6]), Some(30.0), "exactly 250 mL in 30 s");
        assert_eq!(seconds(&[0.499, 0.6]), Some(40.0));
        assert_eq!(seconds(&[2.0]), Some(30.0), "never shorter than 30 s");
        assert_eq!(seconds(&[0.001]), Some(MOST_SECONDS));
        assert_eq!(seconds(&[]), None);
        assert_eq!(seconds(&[0.0]), None);
    }
}
