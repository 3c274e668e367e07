//! `equirow study prime PROJECT ...`: how long until liquid comes, what the lines hold, what drains.

use clap::Args;
use serde::Serialize;

use super::asked::AskedStudy;
use crate::command_line::Ended;
use crate::plan::FoldPosition;
use crate::quantities::{Angle, Volume};
use crate::studies::Unwatched;
use crate::studies::prime::{Drained, PrimeStudy, Stands, report, study};

#[derive(Args)]
pub(super) struct Arguments {
    #[command(flatten)]
    asked: AskedStudy,
}

/// Runs the study. The answer is no where a row that is joined to the supply never has liquid.
pub(super) fn run(arguments: &Arguments) -> Ended {
    let project = arguments.asked.of.open()?;
    let is_no = |found: &PrimeStudy| !found.dry_rows().is_empty();
    arguments.asked.answer(&project, |of| study(of, &Unwatched), report, |found, _| json(found), is_no)
}

#[derive(Serialize)]
struct Json {
    first_row: Option<u32>,
    last_row: Option<u32>,
    held_l: f64,
    supplied_l: f64,
    clear_s: f64,
    rows: Vec<JsonRow>,
    lines: Vec<JsonLine>,
    pump_off: Vec<JsonDrained>,
    warnings: Vec<String>,
}

#[derive(Serialize)]
struct JsonRow {
    row: u32,
    fill_s: Option<f64>,
    fill_m: Option<f64>,
    way_l: f64,
    clear_s: f64,
}

#[derive(Serialize)]
struct JsonLine {
    tag: String,
    what: &'static str,
    volume_l: f64,
    full_s: Option<f64>,
}

#[derive(Serialize)]
struct JsonDrained {
    fold_percent: f64,
    side_slope_percent: f64,
    fore_aft_slope_percent: f64,
    below_valves_l: f64,
    above_level_l: f64,
    rows_not_held: Vec<u32>,
    rows_without_valve: Vec<u32>,
    held_above_l: f64,
    rows_air_comes_in: Vec<u32>,
    air_collects: Vec<String>,
}

fn litres(volume: Volume) -> f64 {
    volume.si() * 1e3
}

fn json(study: &PrimeStudy) -> Json {
    let ends = study.first_and_last();
    Json {
        first_row: ends.map(|[first, _]| first.number),
        last_row: ends.map(|[_, last]| last.number),
        held_l: litres(study.held),
        supplied_l: litres(study.supplied),
        clear_s: study.clear_s(),
        rows: study
            .rows
            .iter()
            .map(|row| JsonRow {
                row: row.number,
                fill_s: row.fill_s,
                fill_m: row.driven.map(|driven| driven.si()),
                way_l: litres(row.way),
                clear_s: row.clear_s,
            })
            .collect(),
        lines: study
            .lines
            .iter()
            .map(|line| JsonLine {
                tag: line.tag.clone(),
                what: line.what.words(),
                volume_l: litres(line.volume),
                full_s: line.full_s,
            })
            .collect(),
        pump_off: study.drained.iter().map(json_drained).collect(),
        warnings: study.warnings.clone(),
    }
}

fn json_drained(one: &Drained) -> JsonDrained {
    let (fold, side, fore_aft) = match one.stands {
        Stands::AtWork { side_slope, fore_aft_slope } => (FoldPosition::WORKING, side_slope, fore_aft_slope),
        Stands::Folded => (FoldPosition::TRANSPORT, Angle::ZERO, Angle::ZERO),
    };
    JsonDrained {
        fold_percent: fold.percent(),
        side_slope_percent: side.as_slope_percent(),
        fore_aft_slope_percent: fore_aft.as_slope_percent(),
        below_valves_l: litres(one.below_valves),
        above_level_l: litres(one.above_level),
        rows_not_held: one.open_rows.clone(),
        rows_without_valve: one.without_valve.clone(),
        held_above_l: litres(one.held_above),
        rows_air_comes_in: one.air_rows.clone(),
        air_collects: one.air_collects.clone(),
    }
}
