//! What the customer's page says beside its drawing.

use std::collections::BTreeMap;

use super::basis::Basis;
use super::extras::{Extra, ExtraKind};
use crate::checks::release::is_outside;
use crate::drawing::customer_sheet::CustomerFacts;
use crate::drawing::deviation::signed_percent;
use crate::drawing::layout_tables::LayoutTable;
use crate::hydraulics::outcome::RowState;
use crate::hydraulics::{NoNumbers, Outcome};
use crate::plan::kinds::Reading;
use crate::plan::words::{counted, fore_aft_slope, list, side_slope};
use crate::plan::{Control, Item, PartItem, Source};
use crate::quantities::{Angle, Length, Measure, Pressure, Ratio, Speed};
use crate::studies::status::{rows_words, why_no_numbers};

/// From what other papers have worked out already.
pub(super) fn facts(basis: &Basis) -> CustomerFacts {
    let usual = basis.usual();
    CustomerFacts {
        summary: summary(basis),
        not_released: basis.release().reasons.iter().map(|one| one.words(basis.project.units)).collect(),
        stop: basis.release().stop_words(basis.project.units),
        duty: duty(basis),
        parts: parts(basis),
        speeds: speeds(basis),
        rows: usual.map(rows).unwrap_or_default(),
        rows_caption: rows_caption(basis, usual),
        limit: basis.project.limits.row_deviation.si(),
    }
}

fn summary(basis: &Basis) -> String {
    let (project, units) = (basis.project, basis.project.units);
    let bar = &project.bar;
    let several = project.routings.len() > 1;
    let routing = if several { format!("; routing {}", basis.routing.name) } else { String::new() };
    format!(
        "{} working width, {} at {}, {}{routing}",
        Measure::Distance.text(bar.working_width().si(), units),
        counted(bar.rows.len(), "row"),
        Measure::CutLength.text(bar.row_spacing.si(), units),
        counted(bar.sections.len(), "section")
    )
}

/// Rows that are farther from their target than the limit.
fn outside(basis: &Basis, outcome: &Outcome) -> usize {
    let (limit, units) = (basis.project.limits.row_deviation, basis.project.units);
    let is_off = |deviation: Ratio| is_outside(deviation.abs(), limit, units);
    outcome.rows().iter().filter(|row| row.deviation.is_some_and(is_off)).count()
}

fn duty(basis: &Basis) -> Vec<(String, String)> {
    let (project, duty, units) = (basis.project, basis.duty, basis.project.units);
    let mut all = Vec::new();
    let mut add = |name: &str, value: String| all.push((name.to_owned(), value));
    if project.duties.are_several() {
        add("Duty", duty.name.clone());
    }
    let assumed = match (duty.liquid.caution(), &duty.liquid.density_source, &duty.liquid.viscosity_source) {
        (Some(caution), ..) => format!(" ({})", caution.short()),
        (None, density, Source::Calibrated(by)) => {
            let density = if *density == Source::Assumed { "density assumed, " } else { "" };
            format!(" ({density}viscosity {})", by.words_with_interval(units))
        }
        (None, Source::Assumed, _) | (None, _, Source::Assumed) => " (values assumed)".to_owned(),
        (None, ..) => String::new(),
    };
    let temperature = Measure::Temperature.short_text(duty.temperature.si(), units);
    add("Liquid", format!("{} at {temperature}{assumed}", duty.liquid.name));
    add("Rate", Measure::Rate.short_text(duty.rate.si(), units));
    let speed = |speed: Speed| Measure::GroundSpeed.short_text(speed.si(), units);
    add("Speed", format!("{}, from {} to {}", speed(duty.usual), speed(duty.slowest), speed(duty.fastest)));
    let slopes: Vec<String> = [
        (duty.side_slope != Angle::ZERO).then(|| side_slope(duty.side_slope, units)),
        (duty.fore_aft_slope != Angle::ZERO).then(|| fore_aft_slope(duty.fore_aft_slope, units)),
    ]
    .into_iter()
    .flatten()
    .collect();
    if !slopes.is_empty() {
        add("Slope", list(&slopes));
    }
    let pressure = |pressure: Pressure| Measure::Pressure.text(pressure.si(), units);
    add(
        "Supply",
        match project.supply.control {
            Control::Metered { limit } => format!("metered flow, up to {}", pressure(limit)),
            Control::Held { pressure: held } => format!("{} held at the pump", pressure(held)),
            Control::Uncontrolled => "the pump on its curve".to_owned(),
        },
    );
    all
}

/// What it is made of by kind: parts by their sizes, hoses and tubes by their bores and lengths, small pieces counted.
fn parts(basis: &Basis) -> Vec<String> {
    let (project, units) = (basis.project, basis.project.units);
    let mut lines = Vec::new();
    let (mut lengths, mut small): (BTreeMap<(u8, u64, String), Length>, usize) = (BTreeMap::new(), 0);
    for plan in &basis.cut_plan().stocks {
        let Some(Item::Stock(stock)) = project.catalogue.any_item(&plan.stock) else { continue };
        let kind = Item::Stock(*stock).item_kind().common();
        let bore = Measure::Bore.short_text(stock.dimensions().bore.si(), units);
        let order = (kind.list_order, (stock.dimensions().bore.si() * 1e6).round() as u64);
        let line = lengths.entry((order.0, order.1, format!("{} Ø{bore}", kind.words))).or_default();
        *line += plan.fitted;
    }
    let is_adapter = |one: &Extra| matches!(one.kind, ExtraKind::HoseAdapter | ExtraKind::RowAdapter);
    small += basis.extras().iter().filter(|one| is_adapter(one)).map(|one| one.quantity).sum::<usize>();
    for item in basis.items() {
        let Some(entry) = project.catalogue.entry(&item.entry) else { continue };
        match &entry.item {
            Item::Stock(_) => {}
            Item::Part(PartItem::BlankingPlug(_)) | Item::Fitting(_) => small += item.pieces,
            other => {
                let many = item.pieces;
                let size = other.size(units);
                let size = if size.is_empty() { String::new() } else { format!(", {size}") };
                lines.push(format!("{}{size}", counted(many, other.kind())));
            }
        }
    }
    // Hoses and tubes first: where room is short, kinds of small parts are left to be counted.
    let hoses = lengths
        .into_iter()
        .map(|((_, _, name), length)| format!("{} of {name}", Measure::Distance.text(length.si(), units)));
    lines.splice(0..0, hoses);
    if small > 0 {
        lines.push(format!("{}, adapters and plugs", counted(small, "fitting")));
    }
    if lines.is_empty() {
        lines.push("Nothing is placed yet".to_owned());
    }
    lines
}

/// Flow, pressures and evenness at the slowest, usual and fastest speed.
fn speeds(basis: &Basis) -> LayoutTable {
    let (project, duty, units) = (basis.project, basis.duty, basis.project.units);
    let mut shown: Vec<&Outcome> = Vec::new();
    for speed in duty.speeds() {
        let outcome = basis.outcomes().iter().find(|outcome| outcome.point.speed == speed);
        let outcome = outcome.or_else(|| (speed == duty.usual).then(|| basis.usual()).flatten());
        if let Some(outcome) =
            outcome.filter(|one| shown.iter().all(|other| other.point.speed != one.point.speed))
        {
            shown.push(outcome);
        }
    }
    let mut heading = vec![String::new()];
    heading.extend(shown.iter().map(|one| Measure::GroundSpeed.short_text(one.point.speed.si(), units)));
    let line = |name: String, value: &dyn Fn(&Outcome) -> Option<String>| -> Vec<String> {
        let cells = shown.iter().map(|outcome| value(outcome).unwrap_or_else(|| "–".to_owned()));
        std::iter::once(name).chain(cells).collect()
    };
    let pressure = |pressure: Pressure| Measure::Pressure.number(pressure.si(), units);
    let in_bar = |name: &str| format!("{name}, {}", Measure::Pressure.unit(units).symbol);
    let range = |of: &dyn Fn(&PartItem) -> bool, outcome: &Outcome| -> Option<String> {
        let parts = basis.routing.routing.parts.iter();
        let parts = parts.filter(|part| project.catalogue.item(&part.entry).is_some_and(of));
        let read: Vec<Pressure> = parts.filter_map(|part| outcome.part(part.id)?.pressure).collect();
        let (low, high) =
            (read.iter().copied().reduce(Pressure::min)?, read.iter().copied().reduce(Pressure::max)?);
        let (low, high) = (pressure(low), pressure(high));
        Some(if low == high { high } else { format!("{low} to {high}") })
    };
    let gauges = |item: &PartItem| item.facts().reading == Some(Reading::Pressure);
    let manifolds = |item: &PartItem| item.is_for_rows();
    let mut lines = vec![
        line(format!("Flow of the bar, {}", Measure::TotalFlow.unit(units).symbol), &|one| {
            Some(Measure::TotalFlow.number(one.numbers()?.total_flow.si(), units))
        }),
        line(in_bar("Pressure at the pump"), &|one| Some(pressure(one.numbers()?.pump_pressure))),
    ];
    let on_gauges = line(in_bar("On the gauges"), &|one| range(&gauges, one));
    if on_gauges.iter().skip(1).any(|cell| cell != "–") {
        lines.push(on_gauges);
    }
    lines.push(line(in_bar("In the manifolds"), &|one| range(&manifolds, one)));
    if basis.usual().is_some_and(|usual| !usual.rows_in_evenness().is_all()) {
        lines.push(line("Fed, and counted below".to_owned(), &|one| rows_words(one.rows_in_evenness())));
    }
    lines.extend([
        line("Mean from target, %".to_owned(), &|one| Some(signed_percent(one.evenness()?.mean_deviation))),
        line("CV over rows, %".to_owned(), &|one| {
            Some(Measure::Percent.number(one.evenness()?.cv.si(), units))
        }),
        line("Lowest and highest row, %".to_owned(), &|one| {
            let evenness = one.evenness()?;
            Some(format!("{} to {}", signed_percent(evenness.lowest), signed_percent(evenness.highest)))
        }),
        line(
            format!("Rows within ±{}", Measure::Percent.short_text(project.limits.row_deviation.si(), units)),
            &|one| {
                let rows = one.evenness()?.rows;
                Some(format!("{} of {rows}", rows.saturating_sub(outside(basis, one))))
            },
        ),
    ]);
    LayoutTable { caption: "What to expect", heading, lines, note: String::new() }
}

fn rows(outcome: &Outcome) -> Vec<(crate::plan::RowId, Option<f64>)> {
    let deviation = |row: &crate::hydraulics::outcome::RowOutcome| {
        row.deviation.filter(|_| row.state == RowState::Fed).map(|one| one.si())
    };
    outcome.each_row().map(|(connection, found)| (connection.row, found.and_then(deviation))).collect()
}

fn rows_caption(basis: &Basis, usual: Option<&Outcome>) -> String {
    let units = basis.project.units;
    match usual {
        Some(outcome) if outcome.result.is_ok() => {
            let unfed = outcome.connections.len() - outcome.fed_rows();
            let crosses = if unfed > 0 { "; a cross is a row that is not fed" } else { "" };
            format!(
                "Each row against its target at {}{crosses}",
                Measure::GroundSpeed.short_text(outcome.point.speed.si(), units)
            )
        }
        Some(outcome) => {
            let why = why_no_numbers(outcome, basis.routing.routing).unwrap_or_default();
            match outcome.result {
                Err(NoNumbers::Failed { .. }) => format!("No flows of rows: {why}"),
                _ => format!("No flows of rows yet: {why}"),
            }
        }
        None => String::new(),
    }
}
