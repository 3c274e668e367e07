//! `equirow study equalise PROJECT ...`: metering of its own for each row.

use clap::Args;
use serde_json::{Value, json};

use super::asked::{AskedStudy, NAME};
use super::carry_out::{CarriedOut, write};
use crate::command_line::{Ended, wrong_usage};
use crate::plan::{EntryKey, Metering, Project, StockKey};
use crate::quantities::{Length, Ratio};
use crate::studies::equalise::{EqualiseOptions, EqualiseStudy, Means, action, report, study};
use crate::studies::trial::Judged;
use crate::studies::{Studied, Unwatched};

#[derive(Args)]
pub(super) struct Arguments {
    #[command(flatten)]
    asked: AskedStudy,
    /// Meters all rows with tubes of this stock of the catalogue, by its key; what is fitted unless given
    #[arg(long, value_name = "ENTRY")]
    tube: Option<String>,
    #[command(flatten)]
    carried_out: CarriedOut,
}

/// Runs the study. The answer is no where it is not worth it.
pub(super) fn run(arguments: &Arguments) -> Ended {
    let asked = &arguments.asked;
    asked.refuse_speed("rows are made equal at the slowest, usual and fastest speed of every duty")?;
    let permit = arguments.carried_out.permit(&asked.of.file)?;
    let project = asked.of.open()?;
    let tube = arguments.tube.as_deref().map(|key| stock(&project, key)).transpose()?;
    asked.answer_and_write(
        &project,
        |of| study(of, &EqualiseOptions { tube }, &Unwatched),
        |of, found| write(permit, of, found.and_then(action).as_ref()),
        report,
        json,
        |found| action(found).is_none(),
    )
}

fn stock(project: &Project, key: &str) -> Result<StockKey, std::process::ExitCode> {
    project.catalogue.key::<StockKey>(&EntryKey::new(key)).ok_or_else(|| {
        wrong_usage(
            Some(NAME),
            &format!("--tube: the catalogue has no hose or tube \"{key}\"; give the key of an entry"),
        )
    })
}

fn percent(value: Option<Ratio>) -> Option<f64> {
    value.map(Ratio::as_percent)
}

fn json(found: &EqualiseStudy, of: &Studied) -> Value {
    let project = of.project;
    let rows = found.rows.iter().map(|row| {
        let mm = |length: Option<Length>| length.map(Length::as_millimetres);
        json!({
            "row": project.bar.row(row.row).map(|row| row.number),
            "entry": row.after.entry(),
            "length_mm": mm(row.after.length()),
            "flow_l_min": row.flow[1].as_litres_per_minute(),
            "deviation_percent": percent(row.deviation[1]),
            "entry_before": row.before.as_ref().map(Metering::entry),
            "length_before_mm": mm(row.before.as_ref().and_then(Metering::length)),
            "start_length_mm": mm(row.start.length()),
            "flow_before_l_min": row.flow[0].as_litres_per_minute(),
            "deviation_before_percent": percent(row.deviation[0]),
            "farthest_percent": percent(row.farthest[1]),
            "farthest_before_percent": percent(row.farthest[0]),
        })
    });
    let at = |all: &[Judged]| {
        let each = all.iter().map(|one| {
            json!({
                "duty": project.duty(one.point.duty).name,
                "speed_km_h": one.point.speed.as_kilometres_per_hour(),
                "cv_percent": percent(one.cv),
                "farthest_percent": one.farthest.map(|(_, far)| far.as_percent()),
                "pressure_kpa": one.pump.map(|pump| pump.as_kilopascals()),
            })
        });
        each.collect::<Vec<_>>()
    };
    let [before, after] = found.cv();
    let means = match found.means {
        Means::Lengths => "lengths",
        Means::TwoSizes => "two sizes",
        Means::NoSizes => "none",
    };
    json!({
        "rows": rows.collect::<Vec<_>>(),
        "by": means,
        "worth_it": found.is_worth_it,
        "rows_changed": found.touched(),
        "cv_before_percent": percent(before),
        "cv_percent": percent(after),
        "before": at(&found.before),
        "after": at(&found.after),
        "warnings": report(found, of).warnings,
    })
}
