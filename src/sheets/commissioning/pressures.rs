//! What gauges and flow meters should read at each speed.

use std::fmt::Write as _;

use crate::hydraulics::Outcome;
use crate::plan::kinds::Reading;
use crate::plan::{Gauge, LaidRouting, Part, PartItem, Project};
use crate::quantities::{Measure, Pressure};
use crate::sheets::document::{PaperCell, PaperColumn, PaperTable};
use crate::studies::catch_test::prepare::GAUGE_CLASS;
use crate::studies::status::rows_words;

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
    let error = largest * GAUGE_CLASS;
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

pub(super) fn pressures(
    project: &Project,
    routing: LaidRouting,
    outcomes: &[Outcome],
    caption: String,
) -> PaperTable {
    let units = project.units;
    let parts = read_at(project, routing);
    let pressure = |heading: String| PaperColumn::measure(heading, Measure::Pressure, units, 1.2);
    let mut columns = vec![
        PaperColumn::measure("Speed", Measure::GroundSpeed, units, 1.0),
        PaperColumn::measure("Total flow asked", Measure::TotalFlow, units, 1.3),
        PaperColumn::measure("Total flow expected", Measure::TotalFlow, units, 1.4),
        PaperColumn::measure("Total flow read", Measure::TotalFlow, units, 1.3),
        pressure("Pump expected".to_owned()),
        pressure("Pump read".to_owned()),
    ];
    for part in &parts {
        columns.push(pressure(format!("{} expected", part.tag)));
        columns.push(pressure(format!("{} read", part.tag)));
    }
    let meters: Vec<&Part> = flow_meters(project, routing);
    for part in &meters {
        columns.push(PaperColumn::measure(format!("{} expected", part.tag), Measure::TotalFlow, units, 1.2));
        columns.push(PaperColumn::measure(format!("{} read", part.tag), Measure::TotalFlow, units, 1.2));
    }
    columns.push(PaperColumn::text("Remarks", 2.0));
    let rows = outcomes
        .iter()
        .map(|outcome| {
            let numbers = outcome.numbers();
            let mut cells = vec![
                PaperCell::measure(Measure::GroundSpeed, Some(outcome.point.speed), units),
                PaperCell::measure(Measure::TotalFlow, Some(outcome.target_total), units),
                PaperCell::measure(Measure::TotalFlow, numbers.map(|one| one.total_flow), units),
                PaperCell::FillIn,
                PaperCell::measure(Measure::Pressure, numbers.map(|one| one.pump_pressure), units),
                PaperCell::FillIn,
            ];
            for part in &parts {
                let reading = outcome.part(part.id).and_then(|one| one.pressure);
                cells.push(PaperCell::measure(Measure::Pressure, reading, units));
                cells.push(PaperCell::FillIn);
            }
            for part in &meters {
                let reading = outcome.part(part.id).and_then(|one| one.flow);
                cells.push(PaperCell::measure(Measure::TotalFlow, reading, units));
                cells.push(PaperCell::FillIn);
            }
            cells.push(PaperCell::text(match (numbers, outcome.at_limit()) {
                (None, _) => "Not solved".to_owned(),
                (Some(_), None) => String::new(),
                (Some(_), Some((shortfall, _))) => format!(
                    "At the pump's limit; {} short of the rate",
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
    if let Some(rows) = outcomes.first().and_then(|outcome| rows_words(outcome.rows_in_total())) {
        notes.push(format!(
            "Total flows are those of {rows}: a row that is left out, behind a shut section valve or not plumbed is not in \
             them, so open on the controller the width of the others alone."
        ));
    }
    notes.extend(dial_words(project, &parts, outcomes));
    let gauges = |part: &&Part| matches!(project.catalogue.item(&part.entry), Some(PartItem::Gauge(_)));
    if !parts.iter().any(gauges) {
        notes.push(
            "No gauge is placed: the pressures are those at the manifolds' inlets; fit a gauge to read them."
                .to_owned(),
        );
    }
    PaperTable { caption, columns, rows, totals: Vec::new(), groups: Vec::new(), notes }
}
