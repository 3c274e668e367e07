//! The tolerance study in words, tables and plots.

use super::found::{Cause, Chance, Distribution, RowScatter, ToleranceStudy};
use crate::plan::words::counted;
use crate::plan::{Project, Spread, SpreadKind};
use crate::quantities::{Measure, Ratio, Speed};
use crate::studies::asked::{Studied, Study};
use crate::studies::reliance;
use crate::studies::report::{
    OnPaper, SeriesForm, StudyCell, StudyColumn, StudyMark, StudyPlot, StudyReport, StudyRow, StudySeries,
    StudyTable,
};

/// Beyond this the two ways are said to differ: a sum of small causes agrees better.
const WAYS_AGREE: f64 = 0.03;

/// Columns of a plotted distribution.
const CLASSES: usize = 24;

/// A spread's standard deviation in words: `0.5 %`, `3 mm`.
fn spread_words(kind: SpreadKind, spread: Spread, project: &Project) -> String {
    let measure = kind.entry().measure;
    let units = project.units;
    let number = measure.entered_number(spread.sd, units, true);
    format!("{number} {}", measure.unit(units).symbol)
}

/// Puts it into the form in which every study is shown.
pub fn report(study: &ToleranceStudy, of: &Studied<'_>) -> StudyReport {
    StudyReport {
        study: Study::Tolerance,
        answer: answer(study, of.project, of.point.speed),
        warnings: warnings(study, of),
        tables: vec![bars(study), causes(study, of.project), rows(study, of.project)],
        plots: vec![histogram(study), band(study)],
    }
}

fn percent(ratio: Ratio, project: &Project) -> String {
    Measure::Percent.text(ratio.si(), project.units)
}

/// Shares of bars without decimals, but never all or none where it is not.
fn whole_percent(share: Ratio) -> String {
    let percent = share.as_percent();
    match percent.round() {
        _ if percent > 0.0 && percent < 0.5 => "under 1 %".to_owned(),
        _ if percent < 100.0 && percent > 99.5 => "over 99 %".to_owned(),
        whole => format!("{whole:.0} %"),
    }
}

/// Too few bars, in words.
fn some_bars(chance: Chance) -> String {
    match chance.count {
        0 => format!("none of {} made of such parts", counted(chance.of as usize, "bar")),
        _ => format!("only {} of bars made of such parts", whole_percent(chance.share())),
    }
}

fn answer(study: &ToleranceStudy, project: &Project, speed: Speed) -> Vec<String> {
    let (limits, within) = (&project.limits, study.within);
    let share = whole_percent(within.share());
    let sure = format!(
        "between {} and {} with 95 % confidence",
        whole_percent(within.low),
        whole_percent(within.high)
    );
    let limit = |ratio: Ratio| Measure::Percent.short_text(ratio.si(), project.units);
    let keeps = format!(
        "keep every row within ±{} of its target and the coefficient of variation within {}",
        limit(limits.row_deviation),
        limit(limits.cv_acceptable)
    );
    let planned = &study.first_order;
    let farthest = planned.rows.iter().map(|row| row.planned.abs()).reduce(Ratio::max);
    let farthest = farthest.unwrap_or(Ratio::from_si(0.0));
    let asked = whole_percent(limits.bars_within);
    let verdict = if study.is_good(limits) {
        // Check valves scatter most where their rows get least: one speed says nothing of the others.
        let at = Measure::GroundSpeed.short_text(speed.si(), project.units);
        format!(
            "At {at}, build it: {share} of bars made of such parts {keeps} ({sure}); ask at the slowest speed too"
        )
    } else if planned.planned_cv > limits.cv_acceptable || farthest > limits.row_deviation {
        format!(
            "Mend the design first: already as planned the rows differ by {} and one is {} off its target, and no parts, \
             however good, mend that; {} {keeps}",
            percent(planned.planned_cv, project),
            percent(farthest, project),
            some_bars(within)
        )
    } else {
        format!("Parts scatter too much: {} {keeps} ({sure}; {asked} are asked for)", some_bars(within))
    };
    let mut all = vec![verdict];
    all.push(format!(
        "The rows of a built bar differ by {} (coefficient of variation), from {} to {} in nine bars of ten; {} are \
         designed in, parts add the rest",
        percent(study.cv.p50, project),
        percent(study.cv.p05, project),
        percent(study.cv.p95, project),
        percent(study.first_order.planned_cv, project)
    ));
    all.push(format!(
        "The farthest row is {} off its target in the middle bar, more than {} in one bar of twenty",
        percent(study.farthest.p50, project),
        percent(study.farthest.p95, project)
    ));
    if let Some(cause) = largest(study) {
        let name = cause.kind.entry().name;
        let share = cause.share.unwrap_or(cause.first_order_share);
        let without = cause.cv_without.map_or_else(String::new, |cv| {
            format!("; without it the rows would differ by {}", percent(cv, project))
        });
        let designed = study.first_order.planned_cv.si().powi(2) / study.first_order.built_cv().si().powi(2);
        all.push(if designed > share.si() {
            format!(
                "Most of it is designed in and not the parts' doing: equalise the rows before asking for better parts \
                 ({name} makes {})",
                whole_percent(share)
            )
        } else {
            let most = if share.si() > 0.5 { "Most of it comes from one cause" } else { "The largest cause" };
            format!("{most}: {name} makes {} of CV²{without}", whole_percent(share))
        });
    }
    all
}

/// The spread that makes most.
fn largest(study: &ToleranceStudy) -> Option<&Cause> {
    let share = |cause: &Cause| cause.share.unwrap_or(cause.first_order_share).si();
    study.causes.iter().max_by(|a, b| share(a).total_cmp(&share(b))).filter(|cause| share(cause) > 0.0)
}

/// What to know before relying on what was found.
pub fn warnings(study: &ToleranceStudy, of: &Studied<'_>) -> Vec<String> {
    let project = of.project;
    let mut all = reliance::outside_table(of, [of.point]);
    let assumed = study
        .spreads
        .iter()
        .filter(|one| one.kind.entry().source_of(&project.spreads).starts_with("assumed"));
    let assumed = assumed.count();
    if assumed > 0 {
        all.push(format!(
            "{} of {} are assumed: nobody measured how these parts scatter; weigh or measure some and enter what they show",
            counted(assumed, "spread"),
            study.spreads.len()
        ));
    }
    if study.dry > 0 {
        all.push(format!(
            "In {} of {} bars a row gets nothing: its check valve stays shut",
            study.dry, study.within.of
        ));
    }
    if study.unsolved > 0 {
        all.push(format!("{} could not be solved and are left out", counted(study.unsolved as usize, "bar")));
    }
    let apart = study.ways_apart();
    if apart.si().abs() > WAYS_AGREE && study.within.of >= 1000 {
        all.push(format!(
            "The band in the strip of rows is rough here, by {}: a check valve, or a tube between laminar and turbulent \
             flow, changes over within the scatter; rely on the built bars",
            percent(apart.abs(), project)
        ));
    }
    let (used, counted_rows) = (project.bar.rows.len(), study.rows.len());
    if counted_rows < used {
        all.push(format!("All figures are over {counted_rows} of {used} rows"));
    }
    all
}

fn bars(study: &ToleranceStudy) -> StudyTable {
    let number = |ratio: Ratio| StudyCell::Number(ratio.si());
    let line = |name: &str, planned: Option<Ratio>, of: &Distribution| {
        StudyRow::new(vec![
            StudyCell::Words(name.to_owned()),
            planned.map_or(StudyCell::Empty, number),
            number(of.p05),
            number(of.p50),
            number(of.p95),
        ])
    };
    let farthest = study.first_order.rows.iter().map(|row| row.planned.abs()).reduce(Ratio::max);
    let chance = |what: &str, chance: &Chance| {
        format!(
            "{what}: {} of {} bars, {} (95 % confidence {} to {})",
            chance.count,
            chance.of,
            whole_percent(chance.share()),
            whole_percent(chance.low),
            whole_percent(chance.high)
        )
    };
    StudyTable {
        on_paper: OnPaper::Whole,
        title: format!("{} built", counted(study.within.of as usize, "bar")),
        columns: vec![
            StudyColumn::words("Figure"),
            StudyColumn::number("As planned", Measure::Percent),
            StudyColumn::number("5 of 100 below", Measure::Percent),
            StudyColumn::number("Middle", Measure::Percent),
            StudyColumn::number("95 of 100 below", Measure::Percent),
        ],
        rows: vec![
            line("Coefficient of variation", Some(study.first_order.planned_cv), &study.cv),
            line("Farthest row from target", farthest, &study.farthest),
        ],
        notes: vec![
            chance("All limits kept", &study.within),
            chance("CV acceptable", &study.cv_within),
            chance("Every row near enough", &study.rows_within),
            format!("Each bar is solved whole; seed {}, the same bars every time", study.options.seed),
        ],
    }
}

fn causes(study: &ToleranceStudy, project: &Project) -> StudyTable {
    let lines = study.spreads.iter().map(|one| {
        let entry = one.kind.entry();
        let cause = study.causes.iter().find(|cause| cause.kind == one.kind);
        let number =
            |ratio: Option<Ratio>| ratio.map_or(StudyCell::Empty, |ratio| StudyCell::Number(ratio.si()));
        let pieces = match (entry.is_one, one.spread.common) {
            (true, _) => "there is one".to_owned(),
            (false, true) => format!("alike in all {}", one.pieces),
            (false, false) => format!("each of {}", one.pieces),
        };
        StudyRow::new(vec![
            StudyCell::Words(entry.name.to_owned()),
            StudyCell::Words(spread_words(one.kind, one.spread, project)),
            StudyCell::Words(one.spread.shape.word().to_owned()),
            StudyCell::Words(pieces),
            number(cause.map(|cause| cause.first_order_share)),
            number(cause.and_then(|cause| cause.share)),
            number(cause.and_then(|cause| cause.cv_without)),
            StudyCell::Words(entry.source_of(&project.spreads).to_owned()),
        ])
    });
    let mut lines: Vec<StudyRow> = lines.collect();
    let planned = study.first_order.planned_cv.si().powi(2);
    let built = study.first_order.built_cv().si().powi(2);
    let share = if built > 0.0 { planned / built } else { 0.0 };
    let mut designed = vec![StudyCell::Empty; 8];
    designed[0] = StudyCell::Words("Designed in: ways of rows differ".to_owned());
    designed[4] = StudyCell::Number(share);
    lines.push(StudyRow::new(designed));
    StudyTable {
        on_paper: OnPaper::Nothing,
        title: "What makes it".to_owned(),
        columns: vec![
            StudyColumn::words("Spread"),
            StudyColumn::words("Standard deviation"),
            StudyColumn::words("Shape"),
            StudyColumn::words("Pieces"),
            StudyColumn::number("Share of CV²", Measure::Percent),
            StudyColumn::number("Built without: less by", Measure::Percent),
            StudyColumn::number("CV without", Measure::Percent),
            StudyColumn::words("Source"),
        ],
        rows: lines,
        notes: vec![
            "Share of CV² from the derivatives; squares of coefficients of variation add up".to_owned(),
            "Built without: the same bars again, that spread alone taken out".to_owned(),
        ],
    }
}

fn rows(study: &ToleranceStudy, project: &Project) -> StudyTable {
    let limit = project.limits.row_deviation.si();
    let lines = study.rows.iter().map(|row| StudyRow {
        row: Some(row.row),
        mark: if row.planned.si().abs() + 2.0 * row.sd.si() > limit {
            StudyMark::OutsideLimits
        } else {
            StudyMark::None
        },
        ..StudyRow::new(vec![
            StudyCell::Words(row.number.to_string()),
            StudyCell::Signed(row.planned.si()),
            StudyCell::Signed(row.mean.si()),
            StudyCell::Number(row.sd.si()),
            StudyCell::Number(row.first_order_sd.si()),
            StudyCell::Number(row.farthest_in.si()),
        ])
    });
    StudyTable {
        on_paper: OnPaper::Nothing,
        title: "Rows".to_owned(),
        columns: vec![
            StudyColumn::words("Row"),
            StudyColumn::number("As planned", Measure::Percent),
            StudyColumn::number("Mean of bars", Measure::Percent),
            StudyColumn::number("Standard deviation", Measure::Percent),
            StudyColumn::number("By derivatives", Measure::Percent),
            StudyColumn::number("Farthest row in", Measure::Percent),
        ],
        rows: lines.collect(),
        notes: vec![
            "Deviations from the row's target; outside limits: planned and twice the standard deviation"
                .to_owned(),
        ],
    }
}

/// How many bars have which coefficient of variation.
fn histogram(study: &ToleranceStudy) -> StudyPlot {
    let all = &study.cv.sorted;
    let (low, high) = (all.first().copied().unwrap_or(0.0), all.last().copied().unwrap_or(0.0));
    let step = ((high - low) / CLASSES as f64).max(1e-9);
    let mut counts = [0_u32; CLASSES];
    for cv in all {
        let class = (((cv - low) / step) as usize).min(CLASSES - 1);
        counts[class] += 1;
    }
    let total = all.len().max(1) as f64;
    let points = counts
        .iter()
        .enumerate()
        .map(|(class, count)| [low + (class as f64 + 0.5) * step, f64::from(*count) / total]);
    StudyPlot {
        title: "Coefficient of variation of built bars".to_owned(),
        x: StudyColumn::number("Coefficient of variation", Measure::Percent),
        y: StudyColumn::number("Bars", Measure::Percent),
        series: vec![StudySeries {
            name: "built bars".to_owned(),
            form: SeriesForm::Bars,
            points: points.collect(),
        }],
    }
}

/// Each row with twice its standard deviation to either side.
fn band(study: &ToleranceStudy) -> StudyPlot {
    let line = |name: &str, form, of: fn(&RowScatter) -> f64| StudySeries {
        name: name.to_owned(),
        form,
        points: study.rows.iter().map(|row| [f64::from(row.number), of(row)]).collect(),
    };
    StudyPlot {
        title: "Rows, with 95 of 100 built bars between the lines".to_owned(),
        x: StudyColumn::number("Row", Measure::Plain),
        y: StudyColumn::number("From target", Measure::Percent),
        series: vec![
            line("as planned", SeriesForm::Points, |row| row.planned.si()),
            line("above", SeriesForm::Line, |row| row.mean.si() + 2.0 * row.sd.si()),
            line("below", SeriesForm::Line, |row| row.mean.si() - 2.0 * row.sd.si()),
        ],
    }
}
