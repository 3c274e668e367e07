//! `equirow study metering PROJECT ...`: the metering of the catalogue on a routing.

use clap::Args;
use serde::Serialize;
use serde_json::{Value, json};

use super::asked::AskedStudy;
use super::carry_out::{CarriedOut, write};
use crate::command_line::Ended;
use crate::command_line::arguments::pressure;
use crate::plan::{EntryKey, Project};
use crate::quantities::{Length, Pressure, Ratio, Speed};
use crate::studies::metering::{
    BoreTrial, ChoiceAtDuty, MeteringChoice, MeteringOptions, MeteringStudy, TwoSets, report, study,
};
use crate::studies::report::{Lines, StudyAction};
use crate::studies::trial::Judged;
use crate::studies::{Studied, Unwatched};

#[derive(Args)]
pub(super) struct Arguments {
    #[command(flatten)]
    asked: AskedStudy,
    /// What metering tubes are to take at the usual speed, in bar; unless given they are cut half-way between the shortest
    /// and the longest that do
    #[arg(long, value_name = "BAR", value_parser = pressure)]
    pressure: Option<Pressure>,
    #[command(flatten)]
    carried_out: CarriedOut,
}

/// Runs the study. The answer is no where nothing keeps all limits from the slowest to the fastest speed, with wider hoses
/// neither. What is carried out is the metering and the wider hoses that it needs, in one.
pub(super) fn run(arguments: &Arguments) -> Ended {
    let asked = &arguments.asked;
    asked.refuse_speed("the slowest, usual and fastest speed of every duty are looked at")?;
    let permit = arguments.carried_out.permit(&asked.of.file)?;
    let project = asked.of.open()?;
    asked.answer_and_write(
        &project,
        |of| study(of, &MeteringOptions { pressure: arguments.pressure }, &Unwatched),
        |of, found| {
            let found = found.filter(|found| found.serves());
            let all = found.map(|found| StudyAction::Together(report(found, of).recommended()));
            write(permit, of, all.as_ref())
        },
        report,
        json,
        |found| !found.serves(),
    )
}

#[derive(Serialize)]
struct Choice<'a> {
    entry: &'a EntryKey,
    length_mm: Option<f64>,
    pressure_kpa: [Option<f64>; 3],
    metering_kpa: [Option<f64>; 3],
    cv_percent: [Option<f64>; 3],
    fits: bool,
    recommended: bool,
    in_use: bool,
    misses: Vec<&'static str>,
    margin_percent: Option<f64>,
    check_valve: Option<&'a EntryKey>,
    check_valve_holds: Option<bool>,
    opening_mm: Option<f64>,
    length_from_mm: Option<f64>,
    length_to_mm: Option<f64>,
    cut_tolerance_mm: Option<f64>,
    temperatures: Vec<Value>,
    duties: Vec<Value>,
    rows: Option<Vec<Value>>,
}

fn kpa(value: Option<Pressure>) -> Option<f64> {
    value.map(Pressure::as_kilopascals)
}

fn mm(value: Option<Length>) -> Option<f64> {
    value.map(Length::as_millimetres)
}

fn percent(value: Option<Ratio>) -> Option<f64> {
    value.map(Ratio::as_percent)
}

fn each<T: Default>(at: Option<&ChoiceAtDuty>, of: impl Fn(&Judged) -> T) -> [T; 3] {
    at.map_or_else(Default::default, |duty| [of(&duty.at[0]), of(&duty.at[1]), of(&duty.at[2])])
}

fn json(found: &MeteringStudy, of: &Studied) -> Value {
    let project = of.project;
    let entry = |place: usize| found.choices.get(place).map(|choice| choice.metering.entry());
    let recommended = |place| found.recommended == Some(place);
    let choices = found.choices.iter().enumerate();
    let choices: Vec<Choice> = choices.map(|(place, one)| choice(project, recommended(place), one)).collect();
    let two_sets = found.two_sets.as_ref().map(|sets| match sets {
        TwoSets::ByDuty(all) => {
            let sets = all.iter().map(|(duty, place)| {
                json!({ "duty": project.duty(*duty).name, "entry": entry(*place), "choice": place })
            });
            json!({ "by": "duty", "sets": sets.collect::<Vec<_>>() })
        }
        TwoSets::BySpeed { slow, fast, both } => {
            let change = both.iter().map(|(duty, from, to)| {
                json!({
                    "duty": project.duty(*duty).name,
                    "from_km_h": from.as_kilometres_per_hour(),
                    "to_km_h": to.as_kilometres_per_hour(),
                })
            });
            json!({
                "by": "speed",
                "slow": entry(*slow),
                "slow_choice": slow,
                "fast": entry(*fast),
                "fast_choice": fast,
                "change_between": change.collect::<Vec<_>>(),
            })
        }
    });
    let bores = found.bores.iter().map(|one| {
        let of = match one.lines {
            Lines::Hoses(_) => "hoses",
            Lines::Tubes(_) => "tubes",
        };
        json!({
            "of": of,
            "tags": one.tags,
            "recommended": one.recommended,
            "now": bore(&one.now),
            "smallest": bore(&one.least),
            "size_up": one.up.as_ref().map(bore),
            "size_down": one.down.as_ref().map(bore),
        })
    });
    json!({
        "choices": choices,
        "recommended": found.recommended.and_then(entry),
        "two_sets": two_sets,
        "nearest": found.nearest.and_then(entry),
        "nearest_choice": found.nearest,
        "bores": bores.collect::<Vec<_>>(),
        "with_wider": found.with_wider.as_ref().map(|one| choice(project, true, one)),
        "rows": found.rows.rows,
        "rows_of": found.rows.of,
        "warnings": report(found, of).warnings,
    })
}

fn choice<'a>(project: &Project, recommended: bool, one: &'a MeteringChoice) -> Choice<'a> {
    let first = one.duties.first();
    let duties = one.duties.iter().map(|duty| {
        let at = Some(duty);
        let farthest = |one: &Judged| {
            one.farthest.map(|(row, far)| {
                json!({ "row": project.bar.row(row).map(|row| row.number), "percent": far.as_percent() })
            })
        };
        json!({
            "duty": project.duty(duty.duty).name,
            "speed_km_h": each(at, |one| one.point.speed.as_kilometres_per_hour()),
            "pressure_kpa": each(at, |one| kpa(one.pump)),
            "metering_kpa": each(at, |one| kpa(one.metering.map(|(least, _)| least))),
            "over_cracking": each(at, |one| one.over_cracking),
            "reynolds_from": each(at, |one| one.reynolds.map(|(low, _)| low)),
            "reynolds_to": each(at, |one| one.reynolds.map(|(_, high)| high)),
            "cv_percent": each(at, |one| percent(one.cv)),
            "farthest_row": each(at, farthest),
            "does_from_km_h": duty.with_reserve().map(|(from, _)| from.as_kilometres_per_hour()),
            "does_to_km_h": duty.with_reserve().map(|(_, to)| to.as_kilometres_per_hour()),
            "reserve_ends_km_h": duty.reserve_to.map(Speed::as_kilometres_per_hour),
        })
    });
    let temperatures = one.temperatures.iter().map(|at| {
        json!({
            "temperature_c": at.temperature.si(),
            "pressure_change_percent": at.pump.as_percent(),
            "flow_change_percent": at.flow.as_percent(),
            "cv_percent": percent(at.cv),
        })
    });
    let rows = one.by_row.iter().map(|(row, metering)| {
        json!({
            "row": project.bar.row(*row).map(|row| row.number),
            "entry": metering.entry(),
            "length_mm": mm(metering.length()),
        })
    });
    Choice {
        entry: one.metering.entry(),
        length_mm: mm(one.metering.length()),
        pressure_kpa: each(first, |one| kpa(one.pump)),
        metering_kpa: each(first, |one| kpa(one.metering.map(|(least, _)| least))),
        cv_percent: each(first, |one| percent(one.cv)),
        fits: one.fits(),
        recommended,
        in_use: one.in_use,
        misses: one.broken.iter().map(|wish| wish.key()).collect(),
        margin_percent: percent(one.margin),
        check_valve: one.valve.as_ref().map(|valve| valve.entry.any()),
        check_valve_holds: one.valve.as_ref().map(|valve| valve.holds),
        opening_mm: mm(one.passage),
        length_from_mm: mm(one.lengths.map(|(from, _)| from)),
        length_to_mm: mm(one.lengths.map(|(_, to)| to)),
        cut_tolerance_mm: mm(one.cut_tolerance),
        temperatures: temperatures.collect(),
        duties: duties.collect(),
        rows: (!one.is_uniform()).then(|| rows.collect()),
    }
}

fn bore(trial: &BoreTrial) -> Value {
    json!({
        "entry": trial.stock,
        "bore_mm": trial.bore.as_millimetres(),
        "velocity_m_s": trial.velocity.si(),
        "cv_percent": percent(trial.cv),
        "pump_kpa": kpa(trial.pump),
        "keeps": trial.keeps,
        "has_margin": trial.has_margin,
        "ends_fit": trial.ends_fit,
    })
}
