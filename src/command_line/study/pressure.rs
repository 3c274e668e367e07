//! `equirow study pressure PROJECT ...`: where the pressure goes on the way to a row.

use clap::Args;
use serde::Serialize;

use super::asked::{AskedStudy, NAME};
use crate::command_line::arguments::whole;
use crate::command_line::{Ended, percent, wrong_usage};
use crate::plan::{Project, RowId};
use crate::studies::Unwatched;
use crate::studies::pressure::{PressureOptions, PressureStudy, report, study};

#[derive(Args)]
pub(super) struct Arguments {
    #[command(flatten)]
    asked: AskedStudy,
    /// The row, by the number painted on the bar; the one farthest from its target unless given
    #[arg(long, value_name = "N", allow_negative_numbers = true,
        value_parser = whole::<1, { u32::MAX as u64 }>)]
    row: Option<u64>,
}

/// Runs the study. The answer is no where the row is farther from its target than the project accepts.
pub(super) fn run(arguments: &Arguments) -> Ended {
    let project = arguments.asked.of.open()?;
    let row = arguments
        .row
        .map(|number| row_of(&project, u32::try_from(number).unwrap_or(u32::MAX)))
        .transpose()
        .map_err(|what| wrong_usage(Some(NAME), &what))?;
    arguments.asked.answer(
        &project,
        |of| study(of, &PressureOptions { row }, &Unwatched),
        report,
        |found, _| json(found),
        |found| found.outside_limits,
    )
}

fn row_of(project: &Project, number: u32) -> Result<RowId, String> {
    let found = project.bar.row_numbered(number).map(|row| row.id);
    found.ok_or_else(|| {
        let numbers = || project.bar.rows.iter().map(|row| row.number);
        let (least, most) = (numbers().min().unwrap_or(0), numbers().max().unwrap_or(0));
        format!("--row: the bar has no row {number}; it has rows {least} to {most}")
    })
}

#[derive(Serialize)]
struct Json {
    row: u32,
    flow_l_min: f64,
    mean_flow_l_min: f64,
    deviation_percent: f64,
    from_mean_percent: f64,
    pump_pressure_kpa: f64,
    height_kpa: f64,
    mean_height_kpa: f64,
    outside_limits: bool,
    /// Friction, in the order of the way; with the heights they add up to the pressure at the pump.
    way: Vec<JsonItem>,
    warnings: Vec<String>,
}

#[derive(Serialize)]
struct JsonItem {
    /// Null for what only other rows pass.
    tag: Option<String>,
    what: &'static str,
    length_m: f64,
    drop_kpa: f64,
    mean_drop_kpa: f64,
}

fn json(study: &PressureStudy) -> Json {
    let [height, mean_height] = study.height();
    Json {
        row: study.number,
        flow_l_min: study.flow.as_litres_per_minute(),
        mean_flow_l_min: study.mean_flow.as_litres_per_minute(),
        deviation_percent: percent(study.deviation),
        from_mean_percent: percent(study.from_mean),
        pump_pressure_kpa: study.pump.as_kilopascals(),
        height_kpa: height.as_kilopascals(),
        mean_height_kpa: mean_height.as_kilopascals(),
        outside_limits: study.outside_limits,
        way: study
            .way
            .iter()
            .map(|item| JsonItem {
                tag: item.tag.clone(),
                what: item.kind.words(),
                length_m: item.length.si(),
                drop_kpa: item.drop.as_kilopascals(),
                mean_drop_kpa: item.mean_drop.as_kilopascals(),
            })
            .collect(),
        warnings: study.warnings.clone(),
    }
}
