//! What the gauges read, and in which unit amounts are typed: the readings in lines above the table.

use std::collections::BTreeSet;

use eframe::egui::{Ui, WidgetInfo, accesskit::Role};

use super::conditions::{GAP, clear};
use crate::plan::catch_test::GAUGE_READS;
use crate::plan::{CatchTest, CatchUnit, GaugeReading, PartId, PartKey, PartKind, Project};
use crate::quantities::{Measure, Pressure, UnitSystem};
use crate::session::catch_answers::JudgedTest;
use crate::studies::catch_test::prepare::{dial, usual_gauge_sd};
use crate::studies::catch_test::verdict_words::gauge_mark;
use crate::window::form::{combo_of_width, soft};
use crate::window::in_lines::in_lines;
use crate::window::number_field::NumberField;

/// Shows them and changes the test where one was entered. `read_at` are parts without a gauge that somebody wants to give a
/// reading of.
pub(super) fn show(
    ui: &mut Ui,
    test: &mut CatchTest,
    bar: &Project,
    units: UnitSystem,
    unit: &mut CatchUnit,
    read_at: &mut Vec<PartId>,
    judged: Option<&JudgedTest>,
) {
    let shown = gauges(test, bar, read_at);
    ui.push_id(("readings of a catch test", test.id), |ui| {
        in_lines(ui, "readings of a catch test", GAP, shown.len() + 2, |ui, at| {
            ui.horizontal(|ui| {
                ui.spacing_mut().item_spacing.x = 5.0;
                if at == 0 {
                    ui.label(soft(ui, "Amounts in"));
                    let all = CatchUnit::ALL.map(|one| (one, one.symbol().to_owned()));
                    combo_of_width(ui, "Amounts in", unit.symbol(), all, unit, 72.0);
                } else if let Some(part) = shown.get(at - 1) {
                    gauge(ui, test, bar, *part, units, read_at);
                    may_show(ui, *part, units, judged);
                } else {
                    another(ui, bar, &shown, read_at, judged);
                }
            });
        });
    });
}

/// The parts without a gauge, to choose one that was read all the same.
fn another(
    ui: &mut Ui,
    bar: &Project,
    shown: &[PartId],
    read_at: &mut Vec<PartId>,
    judged: Option<&JudgedTest>,
) {
    // Once the bar is solved it is known which parts have a pressure; before that any part may be read.
    let known = judged.iter().flat_map(|one| one.judged.expected.parts());
    let known: BTreeSet<PartId> =
        known.filter(|part| part.pressure.is_some()).map(|part| part.part).collect();
    let parts = bar.routings.first().into_iter().flat_map(|routing| &routing.parts);
    let offered = parts.filter(|part| !shown.contains(&part.id));
    let offered = offered.filter(|part| known.is_empty() || known.contains(&part.id));
    let words = |part: &crate::plan::Part| {
        let kind = bar.catalogue.item(&part.entry).map(|item| item.item_kind().words());
        kind.map_or_else(|| part.tag.clone(), |kind| format!("{}, {kind}", part.tag))
    };
    let all: Vec<(Option<PartId>, String)> = offered.map(|part| (Some(part.id), words(part))).collect();
    if all.is_empty() {
        return;
    }
    let mut chosen = None;
    combo_of_width(ui, "Read at another part", "Read at…", all, &mut chosen, 96.0);
    read_at.extend(chosen);
}

/// Gauges of the tested routing, whatever else was read, and what is going to be.
fn gauges(test: &CatchTest, bar: &Project, read_at: &[PartId]) -> Vec<PartId> {
    let parts = bar.routings.first().into_iter().flat_map(|routing| &routing.parts);
    let is_gauge =
        |entry: &PartKey| bar.catalogue.item(entry).is_some_and(|item| item.item_kind() == PartKind::Gauge);
    let mut all: Vec<PartId> = parts.filter(|part| is_gauge(&part.entry)).map(|part| part.id).collect();
    all.extend(test.gauges.iter().map(|reading| reading.part));
    all.extend(read_at);
    let mut seen = BTreeSet::new();
    all.retain(|id| seen.insert(*id));
    all
}

/// Between which pressures a gauge may show on a bar as drawn.
fn may_show(ui: &mut Ui, part: PartId, units: UnitSystem, judged: Option<&JudgedTest>) {
    let gauge = judged.and_then(|one| one.judged.gauges.iter().find(|gauge| gauge.part == part));
    let Some(gauge) = gauge else { return };
    let words = match gauge.may_show {
        Some(may_be) => {
            let number = |end: Pressure| Measure::Pressure.number(end.si(), units);
            format!("as drawn {} to {}", number(may_be.low), number(may_be.high))
        }
        None => gauge_mark(gauge).to_owned(),
    };
    let mark = if gauge.as_drawn { "✔" } else { "⚠" };
    let about = "What it may show on a bar as drawn: by its own ±, that of the supply, parts as sold and the liquid, beside what the \
                 other readings show";
    ui.label(soft(ui, &format!("{mark} {words}"))).on_hover_text(about);
}

fn gauge(
    ui: &mut Ui,
    test: &mut CatchTest,
    bar: &Project,
    part: PartId,
    units: UnitSystem,
    read_at: &mut Vec<PartId>,
) {
    let own = bar.routings.first().and_then(|routing| routing.part(part));
    let name = own.map_or_else(|| format!("part {}", part.0), |part| part.tag.clone());
    let label = ui.label(soft(ui, &format!("{name} reads"))).id;
    let at = test.gauges.iter().position(|reading| reading.part == part);
    let value = at.and_then(|at| test.gauges.get(at)).map(|reading| reading.pressure.si());
    let field_name = format!("Reading of {name}");
    let end = own.and_then(|part| dial(bar, part));
    let text = |pressure: f64| Measure::Pressure.text(pressure, units);
    let above = value.zip(end).filter(|(value, end)| *value > end.si()).map(|(value, end)| {
        format!(
            "{} is above its dial, which ends at {}: not counted; type what it reads, or clear it",
            text(value),
            text(end.si())
        )
    });
    let field = NumberField {
        empty: "not read",
        width: 66.0,
        unit: false,
        refused: above.as_deref(),
        ..NumberField::new(&field_name, Measure::Pressure, units, value, GAUGE_READS)
    };
    if let Some(new) = field.show(ui, Some(label)) {
        let pressure = Pressure::from_si(new);
        match at.and_then(|at| test.gauges.get_mut(at)) {
            Some(reading) => reading.pressure = pressure,
            None => test.gauges.push(GaugeReading { part, pressure, sd: None }),
        }
    }
    if at.is_none() {
        ui.label(soft(ui, Measure::Pressure.unit(units).symbol));
    }
    if let Some(reading) = test.gauges.iter_mut().find(|reading| reading.part == part) {
        ui.label(soft(ui, "±")).on_hover_text(
            "How well it can be read: one standard deviation. Unless somebody knows, 1.6 % of full scale, assumed",
        );
        let scatter = format!("Scatter of {name}");
        let usual = usual_gauge_sd(bar, end);
        // Read within more than the whole dial, it would say nothing.
        let most = end.map_or(1e7, Pressure::si);
        let empty = Measure::Pressure.number(usual.si(), units);
        let field = NumberField {
            empty: &empty,
            width: 50.0,
            ..NumberField::new(&scatter, Measure::Pressure, units, reading.sd.map(Pressure::si), 1.0..=most)
        };
        if let Some(new) = field.show(ui, None) {
            reading.sd = Some(Pressure::from_si(new));
        }
        if reading.sd.is_some() {
            let words =
                format!("Scatter of {name} as usual: {empty} {}", Measure::Pressure.unit(units).symbol);
            let button = ui.small_button("usual").on_hover_text(&words);
            button.widget_info(|| WidgetInfo::labeled(Role::Button, true, &words));
            if button.clicked() {
                reading.sd = None;
            }
        }
    }
    if clear(ui, at.is_some() || read_at.contains(&part), &format!("{name} was not read")) {
        test.gauges.retain(|reading| reading.part != part);
        read_at.retain(|one| *one != part);
    }
}
