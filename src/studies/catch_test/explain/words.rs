//! Causes in words: what, why, what else would be seen, what to do.

use super::answer::{CauseId, CauseSize};
use crate::hydraulics::faulty::Shown;
use crate::hydraulics::ways::Passed;
use crate::plan::cause_weights::CauseKind;
use crate::plan::words::{ranges, short, tags};
use crate::plan::{EntryKey, RowId};
use crate::quantities::Measure;
use crate::studies::Studied;

/// A change of a pressure that a person notices at a gauge: 0.03 bar, common practice, no source.
pub(super) const NOTICED_PA: f64 = 3e3;
/// A change of the other rows that is worth a word.
pub(super) const NOTICED: f64 = 0.005;

/// `row 7`, `rows 3 to 6`.
pub(super) fn rows_words(of: &Studied<'_>, rows: &[RowId]) -> String {
    let mut numbers: Vec<u32> =
        rows.iter().filter_map(|row| Some(of.project.bar.row(*row)?.number)).collect();
    numbers.sort_unstable();
    numbers.dedup();
    let word = if numbers.len() == 1 { "row" } else { "rows" };
    format!("{word} {}", ranges(&numbers))
}

fn places_words(of: &Studied<'_>, places: &[Passed]) -> String {
    let all: Vec<String> = places.iter().map(|place| of.tag(*place)).collect();
    tags(&all)
}

/// What an entry of the catalogue is called.
pub(super) fn entry_words(of: &Studied<'_>, key: &EntryKey) -> String {
    let entry = of.project.catalogue.entry(key);
    let text = entry.map_or("", |entry| entry.description.as_str());
    if text.trim().is_empty() { short(&key.0) } else { short(text) }
}

/// `metering of row 7 blocked, 60 % of its area closed`.
pub(super) fn what(of: &Studied<'_>, id: &CauseId, size: &CauseSize) -> String {
    let rows = rows_words(of, &id.rows);
    let places = places_words(of, &id.places);
    let what = match id.kind {
        CauseKind::ScatterOnly | CauseKind::NoneOfThese => id.kind.words().to_owned(),
        CauseKind::MeteringBlocked => format!("metering of {rows} blocked"),
        CauseKind::MeteringWorn => format!("metering of {rows} worn"),
        CauseKind::MeteringLost => format!("metering of {rows} lost"),
        CauseKind::MeteringOtherSize => format!("metering of {rows} of another size"),
        CauseKind::MeteringExchanged => format!("metering of {rows} in each other's place"),
        CauseKind::AllMeteringWorn => "all metering worn alike".to_owned(),
        CauseKind::AllMeteringBlocked => "all metering crusted or partly blocked alike".to_owned(),
        CauseKind::AllMeteringOtherSize => format!("metering of {rows} all of another size"),
        CauseKind::CheckValveStuck => format!("check valve of {rows} stuck shut"),
        CauseKind::CheckValveEarly => format!("check valve of {rows} opens early or does not shut"),
        CauseKind::CheckValveLate => format!("check valve of {rows} opens late"),
        CauseKind::TubeCrushed => format!("tube {places} of {rows} crushed or kinked"),
        CauseKind::TubeLeaking => format!("tube {places} of {rows} leaks"),
        CauseKind::HoseBlocked => format!("hose {places} partly blocked, kinked or crushed"),
        CauseKind::PartBlocked => format!("{places} partly blocked"),
        CauseKind::HoseWrongBore => format!("hose {places} of another bore"),
        CauseKind::FilterLoaded => format!("filter {places} loaded"),
        CauseKind::RowsExchanged => format!("tubes of {rows} on each other's outlet of {places}"),
        CauseKind::SectionShut => format!("section valve {places} not open"),
        CauseKind::GaugeWrong => format!("gauge {places} wrong"),
        CauseKind::LiquidThicker => "liquid thicker than its table says".to_owned(),
        CauseKind::LiquidThinner => "liquid thinner than its table says".to_owned(),
        CauseKind::PumpAtLimit => "pump gives less than it is asked for".to_owned(),
        CauseKind::DosedWrongly => "controller or flow meter doses another amount than it shows".to_owned(),
        CauseKind::RowMisread => format!("amount or time of {rows} written down wrongly"),
        CauseKind::AllMisread => "amounts or time of all rows written down wrongly".to_owned(),
    };
    let is_whole = *size == CauseSize::Closed(crate::quantities::Ratio::from_si(1.0));
    match (id.kind, is_whole) {
        (CauseKind::CheckValveStuck, _) => what,
        (_, true) => format!("{what}, wholly closed"),
        _ => {
            let size = size.words(of.project.units, |key| entry_words(of, key));
            if size.is_empty() { what } else { format!("{what}, {size}") }
        }
    }
}

/// What else would then be seen where nobody has looked: the other rows, and pressures that were not read.
pub(super) fn then_also(
    of: &Studied<'_>,
    ids: &[&CauseId],
    sound: &Shown,
    then: &Shown,
    watched: &[(crate::plan::PartId, bool)],
) -> String {
    let units = of.project.units;
    let mut all: Vec<String> = ids.iter().filter_map(|id| own_sign(id.kind)).map(str::to_owned).collect();
    all.dedup();
    let is_own = |place: usize| {
        let row = of.project.bar.rows[place].id;
        ids.iter().any(|id| id.rows.contains(&row))
    };
    let others: Vec<f64> = (0..sound.rows.len())
        .filter(|place| sound.rows[*place] > 0.0 && !is_own(*place))
        .map(|place| then.rows[place] / sound.rows[place] - 1.0)
        .collect();
    let mean = others.iter().sum::<f64>() / others.len().max(1) as f64;
    let has_own = ids.iter().any(|id| !id.rows.is_empty());
    if has_own && mean.abs() >= NOTICED {
        let word = if mean > 0.0 { "more" } else { "less" };
        all.push(format!(
            "the other rows get about {} {word} each",
            Measure::Percent.short_text(mean.abs(), units)
        ));
    }
    let change = |at: usize| then.parts[at] - sound.parts[at];
    let most = (0..watched.len())
        .filter(|at| !watched[*at].1 && change(*at).abs() >= NOTICED_PA)
        .max_by(|a, b| change(*a).abs().total_cmp(&change(*b).abs()));
    if let Some(at) = most {
        all.push(format!(
            "a gauge at {} would show {} in place of {}",
            of.tag(Passed::Part(watched[at].0)),
            Measure::Pressure.text(then.parts[at], units),
            Measure::Pressure.text(sound.parts[at], units),
        ));
    }
    if all.is_empty() { "nothing else that can be read from outside".to_owned() } else { all.join("; ") }
}

/// What a kind shows by itself.
const fn own_sign(kind: CauseKind) -> Option<&'static str> {
    Some(match kind {
        CauseKind::MeteringBlocked => "dirt in the metering of other rows, or a torn mesh before it",
        CauseKind::MeteringWorn => "a worn edge under a lens, and wear in the rows beside it",
        CauseKind::MeteringLost => "a strong stream where the others drip or run thin",
        CauseKind::MeteringOtherSize | CauseKind::MeteringExchanged => "another mark or colour on the piece",
        CauseKind::AllMeteringWorn => "worn edges under a lens at any row that is looked at",
        CauseKind::AllMeteringBlocked => "a crust or dirt in the metering of any row that is taken out",
        CauseKind::AllMeteringOtherSize => "another mark or colour on the piece of any of these rows",
        CauseKind::CheckValveStuck => {
            "nothing when the pressure is raised, and a tight tube before the valve"
        }
        CauseKind::CheckValveEarly => "the row drips on with the pump off",
        CauseKind::CheckValveLate => {
            "the row starts last and stops first, and is less far off at more pressure"
        }
        CauseKind::TubeCrushed => "a flat or bent tube where it is clamped or crosses a hinge",
        CauseKind::TubeLeaking => "a wet tube or ground beside the opener",
        CauseKind::HoseBlocked => "a flat or bent hose, or less beside it in the next test at more flow",
        CauseKind::HoseWrongBore => "another print on the hose",
        CauseKind::FilterLoaded => "more pressure before the filter than behind it",
        CauseKind::RowsExchanged => "two tubes that cross each other at the manifold",
        CauseKind::SectionShut => "a valve handle or motor that is not at its end",
        CauseKind::GaugeWrong => "a pointer that does not come back to zero, or sticks when tapped",
        CauseKind::LiquidThicker => "colder liquid than was written down, or crystals",
        CauseKind::LiquidThinner => "warmer liquid than was written down, or water left in the lines",
        CauseKind::PumpAtLimit => "an alarm of the controller, or an engine below its speed",
        CauseKind::DosedWrongly => "a tank that loses more or less than the display says",
        CauseKind::RowMisread | CauseKind::AllMisread => "another number when it is caught again",
        CauseKind::ScatterOnly | CauseKind::NoneOfThese | CauseKind::PartBlocked => return None,
    })
}

/// What to do about it.
pub(super) const fn to_do(kind: CauseKind) -> &'static str {
    match kind {
        CauseKind::ScatterOnly => {
            "change nothing at the bar: where rows or gauges are not as drawn catch these again, twice as long, and read these again; \
             what then is off still is no scatter"
        }
        CauseKind::MeteringBlocked => {
            "take the metering out, hold it to the light, rinse it and look at the mesh before it"
        }
        CauseKind::MeteringWorn => {
            "measure it with a plug gauge and replace it, with those of the rows beside it"
        }
        CauseKind::MeteringLost => "put a metering in, and look for the old one in the tube",
        CauseKind::MeteringOtherSize => "read the size on the metering and put in the one on the parts list",
        CauseKind::MeteringExchanged => "read the sizes on both and put each where the parts list has it",
        CauseKind::AllMeteringWorn => "measure some with a plug gauge, and replace the whole set",
        CauseKind::AllMeteringBlocked => {
            "take some out and hold them to the light; soak and rinse the whole set, and flush the lines behind them"
        }
        CauseKind::AllMeteringOtherSize => {
            "read the size on some of them against the parts list and the order; put in those of the list, or enter what is fitted"
        }
        CauseKind::CheckValveStuck => {
            "relieve the pressure, take the valve out and blow through it, or replace it"
        }
        CauseKind::CheckValveEarly => "take the valve out, clean its seat or replace its spring",
        CauseKind::CheckValveLate => "try the valve's opening pressure at a test pump, and replace it",
        CauseKind::TubeCrushed => "follow the tube from the manifold to the opener, free it or replace it",
        CauseKind::TubeLeaking => {
            "look along the tube under pressure from a safe distance, relieve it, then replace it"
        }
        CauseKind::HoseBlocked => {
            "relieve the pressure, look along the hose and through it, free it or replace it"
        }
        CauseKind::PartBlocked => "relieve the pressure, take it off and look through it",
        CauseKind::HoseWrongBore => "read the print on the hose or measure its bore, and replace it",
        CauseKind::FilterLoaded => "relieve the pressure and clean the filter",
        CauseKind::RowsExchanged => "follow both tubes and put each on its own outlet",
        CauseKind::SectionShut => "open the valve, look at its motor and plug",
        CauseKind::GaugeWrong => {
            "hold another gauge against it, or see whether it shows zero without pressure"
        }
        CauseKind::LiquidThicker | CauseKind::LiquidThinner => {
            "measure the liquid's temperature, and its viscosity if you can; then calibrate"
        }
        CauseKind::PumpAtLimit => {
            "look at the pump's speed, its suction strainer and the controller's limits"
        }
        CauseKind::DosedWrongly => {
            "compare what the tank lost with what the display says, then set the flow meter's calibration number"
        }
        CauseKind::RowMisread => "catch this row again and write amount and time down at once",
        CauseKind::AllMisread => {
            "catch some rows again with another watch and jug, and compare the unit that was written down"
        }
        CauseKind::NoneOfThese => "see that the test is of this bar, then catch all rows again for longer",
    }
}
