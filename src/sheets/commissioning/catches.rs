//! What every row should give into a jug: how long to catch, how much of liquid and of water, what is allowed.

use crate::hydraulics::targets::{caught_in, rate_of_catch, water_equivalent};
use crate::hydraulics::{NotFed, Outcome, RowState};
use crate::plan::part::outlet_words;
use crate::plan::{
    Control, Duty, ElementItem, Item, LaidRouting, Liquid, MeteringOrifice, Project, RowWidths,
};
use crate::quantities::{Flow, Length, Measure, Volume};
use crate::sheets::document::{Block, PaperCell, PaperColumn, PaperTable, Shown};
use crate::studies::catch_test::catch_time::{LEAST_CATCH, flowing, seconds_of};

/// The largest catch of a row and all that flows while it is caught, over some outcomes that share one catch time; none
/// where nothing flows.
pub(crate) fn catch_volumes(outcomes: &[&Outcome]) -> Option<(Volume, Volume)> {
    let flows = || outcomes.iter().flat_map(|outcome| flowing(outcome)).map(|row| row.flow);
    let seconds = seconds_of(outcomes)?;
    let total = outcomes
        .iter()
        .filter_map(|outcome| outcome.numbers())
        .map(|one| one.total_flow)
        .reduce(Flow::max)?;
    Some((caught_in(flows().reduce(Flow::max)?, seconds), caught_in(total, seconds)))
}

pub(super) const fn water_words(project: &Project) -> &'static str {
    match project.supply.control {
        Control::Metered { .. } => {
            "With water at the SAME TOTAL FLOW as with the liquid, since the controller meters the flow: the gauges then read \
             differently."
        }
        Control::Held { .. } => {
            "With water at the SAME PRESSURE at the pump as with the liquid, since that is constant: the flows then differ."
        }
        Control::Uncontrolled => {
            "With water on the SAME PUMP CURVE as with the liquid: flows and gauge readings then differ."
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

/// What every row should give; `seconds` is how long it is caught for, none where nothing flows.
pub(super) fn catches(
    project: &Project,
    routing: LaidRouting,
    duty: &Duty,
    liquid: &Outcome,
    water: Option<&Outcome>,
    seconds: Option<f64>,
) -> Vec<Block> {
    let units = project.units;
    let flows: Vec<Flow> =
        flowing(liquid).chain(water.into_iter().flat_map(flowing)).map(|row| row.flow).collect();
    let Some(seconds) = seconds else {
        return vec![Block::Paragraph("No catch is expected: no row flows at the usual speed.".to_owned())];
    };
    let band = project.limits.row_deviation.si();
    let catch = |flow: Option<Flow>| flow.map(|flow| caught_in(flow, seconds));
    let cell = |volume: Option<Volume>| PaperCell::measure(Measure::Catch, volume, units);
    let both = |ends: Option<[Volume; 2]>| {
        let words = |ends: [Volume; 2]| {
            let [from, to] = ends.map(|end| Measure::Catch.number(end.si(), units));
            // Nothing to break a line at: a row of the table is one line.
            PaperCell::text(format!("{from}–{to}"))
        };
        ends.map_or(PaperCell::Empty, words)
    };
    let column = |heading: &str| PaperColumn::measure(heading, Measure::Catch, units, 1.2);
    let mut columns =
        vec![PaperColumn::count("Row", 0.6), PaperColumn::text("Outlet", 1.1), column("Target")];
    let names: Vec<&str> = if water.is_some() { vec!["Liquid", "Water"] } else { vec!["Liquid"] };
    for name in &names {
        // On pages a band stands in one cell: they are read at the bar.
        let band = |what: &str| {
            let unit = Measure::Catch.unit(units).symbol.to_owned();
            PaperColumn { unit, ..PaperColumn::text(format!("{name} {what}"), 1.7) }.only(Shown::OnPages)
        };
        columns.extend([
            column(&format!("{name} expected")),
            column(&format!("{name} drawn from")).only(Shown::InFiles),
            column(&format!("{name} drawn to")).only(Shown::InFiles),
            band("drawn"),
            column(&format!("{name} target from")).only(Shown::InFiles),
            column(&format!("{name} target to")).only(Shown::InFiles),
            band("target"),
            column(&format!("{name} caught")),
        ]);
    }
    // Most bars feed all rows.
    let remarks =
        liquid.rows().iter().any(|row| row.connected != Err(NotFed::LeftOut) && row.state != RowState::Fed);
    if remarks {
        columns.push(PaperColumn::text("Remarks", 1.6));
    }
    let mut rows = Vec::new();
    for row in liquid.rows().iter().filter(|row| row.connected != Err(NotFed::LeftOut)) {
        let outlet =
            row.outlet.and_then(|(part, number)| Some(outlet_words(&routing.part(part)?.tag, number)));
        let mut cells =
            vec![PaperCell::count(row.number as usize), outlet.map_or(PaperCell::Empty, PaperCell::Text)];
        // One band is about what is drawn, the other about what is asked: of a fair design they nearly agree.
        let asked = (row.flow.si() > 0.0).then(|| row.target / row.flow);
        cells.push(cell(catch((row.state == RowState::Fed).then_some(row.target))));
        for outcome in std::iter::once(liquid).chain(water) {
            let flow = flowing(outcome).find(|one| one.row == row.row).map(|one| one.flow);
            let expected = catch(flow);
            let allowed = expected.zip(asked).map(|(expected, asked)| expected * asked);
            cells.push(cell(expected));
            for middle in [expected, allowed] {
                let ends = middle.map(|one| [one * (1.0 - band), one * (1.0 + band)]);
                cells.extend([cell(ends.map(|ends| ends[0])), cell(ends.map(|ends| ends[1])), both(ends)]);
            }
            cells.push(if expected.is_some() { PaperCell::FillIn } else { PaperCell::Empty });
        }
        if remarks {
            cells.push(PaperCell::text(match row.state {
                RowState::Fed => "",
                RowState::FlowsBackward => "draws air in",
                _ => "gets nothing",
            }));
        }
        rows.push(cells);
    }
    let speed = duty.usual;
    let distance = Length::metres(speed.si() * seconds);
    let smallest = catch(flows.into_iter().reduce(Flow::min)).unwrap_or_default();
    let mut notes = vec![format!(
        "Catch every row for {seconds:.0} s standing still with the controller set to {}, which is {} of travel.",
        Measure::GroundSpeed.text(speed.si(), units),
        super::conditions::travel(distance, units)
    )];
    if smallest < LEAST_CATCH {
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
            "Drawn: ±{percent} of what is expected. Target: ±{percent} of the target; for water ±{percent} of the target times \
             what is expected with water over what is expected with the liquid, row by row: a row that gives this with water \
             gives its target with the liquid."
        ));
        notes.push(water_words(project).to_owned());
    } else {
        notes.push(format!("Drawn: ±{percent} of what is expected. Target: ±{percent} of the target."));
    }
    vec![Block::Table(PaperTable {
        caption: "Catch of every row".to_owned(),
        columns,
        rows,
        totals: Vec::new(),
        groups: Vec::new(),
        notes,
    })]
}
