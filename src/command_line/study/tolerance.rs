//! `equirow study tolerance PROJECT ...`.

use clap::Args;
use serde::Serialize;

use super::asked::AskedStudy;
use crate::command_line::Ended;
use crate::command_line::arguments::whole;
use crate::quantities::{Measure, Ratio, UnitSystem};
use crate::studies::tolerance::{
    BuiltBars, Distribution, MOST_SAMPLES, ToleranceOptions, ToleranceStudy, USUAL_SAMPLES, report, study,
    warnings,
};
use crate::studies::{Studied, Unwatched};

#[derive(Args)]
pub(super) struct Arguments {
    #[command(flatten)]
    asked: AskedStudy,
    /// How many bars are built of parts drawn at random
    #[arg(long, value_name = "N", default_value_t = USUAL_SAMPLES,
        value_parser = clap::value_parser!(u32).range(1..=i64::from(MOST_SAMPLES)))]
    samples: u32,
    /// Where the random numbers start: the same seed gives the same bars
    #[arg(long, value_name = "N", default_value_t = 1, allow_negative_numbers = true,
        value_parser = whole::<0, { u64::MAX }>)]
    seed: u64,
}

/// Runs the study; the answer is no where fewer bars keep the limits than the project asks for at one of the speeds, and
/// where a row gets nothing.
pub(super) fn run(arguments: &Arguments) -> Ended {
    let project = arguments.asked.of.open()?;
    let options = ToleranceOptions { samples: arguments.samples, seed: arguments.seed, threads: None };
    let is_no = |found: &ToleranceStudy| !found.is_good(&project.limits);
    arguments.asked.answer(&project, |of| study(of, &options, &Unwatched), report, Json::of, is_no)
}

#[derive(Serialize)]
struct Json {
    samples: u32,
    seed: u64,
    spreads: Vec<SpreadJson>,
    /// At the speed asked for, the usual one unless given.
    #[serde(flatten)]
    asked: BarsJson,
    asked_chance: f64,
    /// The same at each speed, rising.
    speeds: Vec<BarsJson>,
    worst_speed_km_h: f64,
    /// At the worst speed.
    causes: Vec<CauseJson>,
    rows_without_liquid: Option<String>,
    warnings: Vec<String>,
}

#[derive(Serialize)]
struct BarsJson {
    speed_km_h: f64,
    cv_percent: CvJson,
    farthest_row_percent: DistributionJson,
    chance: f64,
    chance_low: f64,
    chance_high: f64,
    cv_chance: f64,
    rows_chance: f64,
    rows: Vec<RowJson>,
    unsolved: u32,
    with_a_dry_row: u32,
}

#[derive(Serialize)]
struct SpreadJson {
    what: &'static str,
    sd: f64,
    unit: &'static str,
    shape: &'static str,
    common: bool,
    pieces: usize,
    source: String,
}

#[derive(Serialize)]
struct DistributionJson {
    mean: f64,
    p05: f64,
    p50: f64,
    p95: f64,
}

#[derive(Serialize)]
struct CvJson {
    #[serde(flatten)]
    built: DistributionJson,
    root_mean_square: f64,
    as_planned: f64,
    first_order: f64,
}

#[derive(Serialize)]
struct CauseJson {
    what: &'static str,
    first_order_share_percent: f64,
    share_percent: Option<f64>,
    cv_without_percent: Option<f64>,
}

#[derive(Serialize)]
struct RowJson {
    row: u32,
    planned_percent: f64,
    mean_percent: f64,
    sd_percent: f64,
    first_order_sd_percent: f64,
    farthest_in_percent: f64,
}

impl DistributionJson {
    fn of(all: &Distribution) -> Self {
        let [mean, p05, p50, p95] = [all.mean, all.p05, all.p50, all.p95].map(Ratio::as_percent);
        Self { mean, p05, p50, p95 }
    }
}

impl Json {
    fn of(found: &ToleranceStudy, of: &Studied<'_>) -> Self {
        let spreads = found.spreads.iter().map(|one| {
            let entry = one.kind.entry();
            let unit = match entry.measure {
                Measure::Percent => "percent",
                Measure::TemperatureSpan => "K",
                other => other.unit(UnitSystem::Metric).symbol,
            };
            SpreadJson {
                what: entry.key,
                sd: entry.measure.shown(one.spread.sd, UnitSystem::Metric),
                unit,
                shape: one.spread.shape.word(),
                common: one.spread.common,
                pieces: one.pieces,
                source: one.source.clone(),
            }
        });
        let causes = found.causes.iter().map(|cause| CauseJson {
            what: cause.kind.entry().key,
            first_order_share_percent: cause.first_order_share.as_percent(),
            share_percent: cause.share.map(Ratio::as_percent),
            cv_without_percent: cause.cv_without.map(Ratio::as_percent),
        });
        Self {
            samples: found.options.samples,
            seed: found.options.seed,
            spreads: spreads.collect(),
            asked: BarsJson::of(&found.asked),
            asked_chance: of.project.limits.bars_within.si(),
            speeds: found.at_speeds().into_iter().map(BarsJson::of).collect(),
            worst_speed_km_h: found.worst().speed.as_kilometres_per_hour(),
            causes: causes.collect(),
            rows_without_liquid: found.dry_rows.clone(),
            warnings: warnings(found, of),
        }
    }
}

impl BarsJson {
    fn of(found: &BuiltBars) -> Self {
        let rows = found.rows.iter().map(|row| RowJson {
            row: row.number,
            planned_percent: row.planned.as_percent(),
            mean_percent: row.mean.as_percent(),
            sd_percent: row.sd.as_percent(),
            first_order_sd_percent: row.first_order_sd.as_percent(),
            farthest_in_percent: row.farthest_in.as_percent(),
        });
        Self {
            speed_km_h: found.speed.as_kilometres_per_hour(),
            cv_percent: CvJson {
                built: DistributionJson::of(&found.cv),
                root_mean_square: found.cv.rms.as_percent(),
                as_planned: found.first_order.planned_cv.as_percent(),
                first_order: found.first_order.built_cv().as_percent(),
            },
            farthest_row_percent: DistributionJson::of(&found.farthest),
            chance: found.within.share().si(),
            chance_low: found.within.low.si(),
            chance_high: found.within.high.si(),
            cv_chance: found.cv_within.share().si(),
            rows_chance: found.rows_within.share().si(),
            rows: rows.collect(),
            unsolved: found.unsolved,
            with_a_dry_row: found.dry,
        }
    }
}
