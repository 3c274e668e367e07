//! The tolerance study in words, tables and plots.

use super::found::{BuiltBars, Cause, Chance, RowScatter, ToleranceStudy};
use crate::plan::words::{counted, list};
use crate::plan::{Project, Spread, SpreadKind};
use crate::quantities::{Measure, Ratio};
use crate::studies::asked::{Studied, Study};
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
    let project = of.project;
    let answer = Says { study, project }.answer();
    StudyReport::new(Study::Tolerance, of, answer, warnings(study, of))
        .with_tables([bars(study, project), causes(study, project), rows(study, project)])
        .with_plots([histogram(study, project), band(study, project)])
}

fn speed_words(bars: &BuiltBars, project: &Project) -> String {
    Measure::GroundSpeed.short_text(bars.speed.si(), project.units)
}

/// The row that is farthest from its target as planned: by how much.
fn farthest_planned(bars: &BuiltBars) -> Ratio {
    bars.first_order.rows.iter().map(|row| row.planned.abs()).fold(Ratio::ZERO, Ratio::max)
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

/// The study in sentences.
struct Says<'a> {
    study: &'a ToleranceStudy,
    project: &'a Project,
}

impl Says<'_> {
    fn answer(&self) -> Vec<String> {
        let mut all: Vec<String> = self.study.dry_rows.iter().cloned().collect();
        all.extend(self.study.without_numbers.iter().map(|(speed, why)| {
            let at = Measure::GroundSpeed.short_text(speed.si(), self.project.units);
            format!("At {at} no bar can be judged: {why}")
        }));
        all.push(self.verdict());
        all.extend(self.spread());
        all.extend(self.cause());
        all
    }

    fn percent(&self, ratio: Ratio) -> String {
        percent(ratio, self.project)
    }

    /// What the bars do that keep the limits.
    fn keeps(&self) -> String {
        let limits = &self.project.limits;
        let limit = |ratio: Ratio| Measure::Percent.short_text(ratio.si(), self.project.units);
        format!(
            "keep every row within ±{} of its target and the coefficient of variation within {}",
            limit(limits.row_deviation),
            limit(limits.cv_acceptable)
        )
    }

    /// The verdict at the worst speed.
    fn verdict(&self) -> String {
        let (limits, worst) = (&self.project.limits, self.study.worst());
        let within = worst.within;
        let bars = counted(within.of as usize, "bar");
        let few = if within.is_of_few() { format!(", as {bars} tell no more") } else { String::new() };
        let sure = format!(
            "between {} and {} with 95 % confidence{few}",
            whole_percent(within.low),
            whole_percent(within.high)
        );
        let (keeps, at, asked) = (self.keeps(), speed_words(worst, self.project), limits.bars_within);
        let share = whole_percent(within.share());
        let some = match within.count {
            0 => format!("none of {bars} made of such parts {keeps}"),
            _ => format!("only {share} of bars made of such parts {keeps}"),
        };
        let asked_words = format!("{} are asked for", whole_percent(asked));
        let others = self.other_speeds();
        if worst.first_order.planned_cv > limits.cv_acceptable
            || farthest_planned(worst) > limits.row_deviation
        {
            format!(
                "Mend the design first: at {at} already as planned the rows differ by {} and one is {} off its target, and no \
                 parts, however good, mend that; {some} there ({sure}){others}",
                self.percent(worst.first_order.planned_cv),
                self.percent(farthest_planned(worst)),
            )
        } else if within.is_of_few() && (within.low..=within.high).contains(&asked) {
            format!(
                "Too few bars to tell: at {at} {} of {bars} made of such parts {keeps}, so that the chance lies {sure}; \
                 {asked_words}: build more bars",
                within.count
            )
        } else if within.share() < asked {
            format!("Parts scatter too much at {at}: {some} ({sure}; {asked_words}){others}")
        } else if self.study.others.is_empty() {
            format!("At {at}, build it: {share} of bars made of such parts {keeps} ({sure})")
        } else {
            let lead = match self.study.dry_rows {
                None if self.study.without_numbers.is_empty() => "Build it",
                _ => "Of the rows that are fed",
            };
            format!(
                "{lead}: {share} of bars made of such parts {keeps} at {at}, the worst speed ({sure}){others}"
            )
        }
    }

    /// `; 96 % at 9 km/h and 97 % at 12 km/h`: the share of bars at the speeds that are not the worst.
    fn other_speeds(&self) -> String {
        let worst = self.study.worst().speed;
        let others = self.study.at_speeds().into_iter().filter(|bars| bars.speed != worst);
        let others: Vec<String> = others
            .map(|bars| {
                format!("{} at {}", whole_percent(bars.within.share()), speed_words(bars, self.project))
            })
            .collect();
        if others.is_empty() { String::new() } else { format!("; {}", list(&others)) }
    }

    /// How much the bars differ there.
    fn spread(&self) -> [String; 2] {
        let worst = self.study.worst();
        let at = speed_words(worst, self.project);
        [
            format!(
                "At {at} the rows of a built bar differ by {} (coefficient of variation), from {} to {} in nine bars of ten; {} are \
                 designed in, parts add the rest",
                self.percent(worst.cv.p50),
                self.percent(worst.cv.p05),
                self.percent(worst.cv.p95),
                self.percent(worst.first_order.planned_cv)
            ),
            format!(
                "The farthest row is {} off its target in the middle bar, more than {} in one bar of twenty",
                self.percent(worst.farthest.p50),
                self.percent(worst.farthest.p95)
            ),
        ]
    }

    /// What makes most of it.
    fn cause(&self) -> Option<String> {
        let cause = largest(self.study)?;
        let first_order = &self.study.worst().first_order;
        let name = cause.kind.entry().name;
        let share = cause.share.unwrap_or(cause.first_order_share);
        let without = cause.cv_without.map_or_else(String::new, |cv| {
            format!("; without it the rows would differ by {}", self.percent(cv))
        });
        let designed = (first_order.planned_cv.si() / first_order.built_cv().si()).powi(2);
        Some(if designed > share.si() {
            format!(
                "Most of it is designed in and not the parts' doing: equalise the rows before asking for better parts \
                 ({name} makes {})",
                whole_percent(share)
            )
        } else {
            let most = if share.si() > 0.5 { "Most of it comes from one cause" } else { "The largest cause" };
            format!("{most}: {name} makes {} of CV²{without}", whole_percent(share))
        })
    }
}

/// The spread that makes most.
fn largest(study: &ToleranceStudy) -> Option<&Cause> {
    let share = |cause: &Cause| cause.share.unwrap_or(cause.first_order_share).si();
    study.causes.iter().max_by(|a, b| share(a).total_cmp(&share(b))).filter(|cause| share(cause) > 0.0)
}

/// What to know before relying on what was found.
pub fn warnings(study: &ToleranceStudy, of: &Studied<'_>) -> Vec<String> {
    let project = of.project;
    let mut all = study.warnings.clone();
    let assumed = study.spreads.iter().filter(|one| one.source.starts_with("assumed")).count();
    if assumed > 0 {
        all.push(format!(
            "{} of {} are assumed: nobody measured how these parts scatter; weigh or measure some and enter what they show",
            counted(assumed, "spread"),
            study.spreads.len()
        ));
    }
    for bars in study.at_speeds() {
        let (at, of) = (speed_words(bars, project), bars.within.of + bars.unsolved);
        if bars.dry > 0 {
            all.push(format!(
                "At {at} a row gets nothing in {} of {of} bars: its check valve stays shut",
                bars.dry
            ));
        }
        if bars.unsolved > 0 {
            all.push(format!("At {at} {} of {of} bars could not be solved and are left out", bars.unsolved));
        }
        let apart = bars.ways_apart();
        if apart.si().abs() > WAYS_AGREE && bars.within.of >= 1000 {
            all.push(format!(
                "The band in the strip of rows is rough at {at}, by {}: a check valve, or a tube between laminar and turbulent \
                 flow, changes over within the scatter; rely on the built bars",
                percent(apart.abs(), project)
            ));
        }
    }
    all
}

fn bars(study: &ToleranceStudy, project: &Project) -> StudyTable {
    let number = |ratio: Ratio| StudyCell::Number(ratio.si());
    let line = |bars: &BuiltBars| StudyRow {
        mark: if bars.within.share() < project.limits.bars_within {
            StudyMark::OutsideLimits
        } else {
            StudyMark::None
        },
        ..StudyRow::new(vec![
            StudyCell::Number(bars.speed.si()),
            number(bars.first_order.planned_cv),
            number(bars.cv.p05),
            number(bars.cv.p50),
            number(bars.cv.p95),
            number(farthest_planned(bars)),
            number(bars.farthest.p50),
            number(bars.farthest.p95),
            number(bars.within.share()),
        ])
    };
    let share = |chance: &Chance| format!("{} of {}", chance.count, chance.of);
    let chances = study.at_speeds().into_iter().map(|bars| {
        format!(
            "At {}: all limits kept by {} bars (95 % confidence {} to {}), CV acceptable in {}, every row near enough in {}",
            speed_words(bars, project),
            share(&bars.within),
            whole_percent(bars.within.low),
            whole_percent(bars.within.high),
            share(&bars.cv_within),
            share(&bars.rows_within)
        )
    });
    let percent = |name: &str| StudyColumn::number(name, Measure::Percent);
    let columns = vec![
        StudyColumn::number("Speed", Measure::GroundSpeed),
        percent("CV planned"),
        percent("CV: 5 of 100 below"),
        percent("CV: middle"),
        percent("CV: 95 of 100 below"),
        percent("Farthest row planned"),
        percent("Farthest: middle"),
        percent("Farthest: 95 of 100 below"),
        percent("Bars within limits"),
    ];
    let how = format!(
        "The same {} at each speed, each solved whole; seed {}, the same bars every time",
        counted(study.options.samples as usize, "bar"),
        study.options.seed
    );
    StudyTable::new("Built bars", columns, study.at_speeds().into_iter().map(line).collect())
        .with_notes(chances.chain([how]))
        .printed(OnPaper::Whole)
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
            StudyCell::Words(one.source.clone()),
        ])
    });
    let mut lines: Vec<StudyRow> = lines.collect();
    let worst = study.worst();
    let built = worst.first_order.built_cv();
    let share =
        if built > Ratio::ZERO { (worst.first_order.planned_cv.si() / built.si()).powi(2) } else { 0.0 };
    let mut designed = vec![StudyCell::Empty; 8];
    designed[0] = StudyCell::Words("Designed in: ways of rows differ".to_owned());
    designed[4] = StudyCell::Number(share);
    lines.push(StudyRow::new(designed));
    let columns = vec![
        StudyColumn::words("Spread"),
        StudyColumn::words("Standard deviation"),
        StudyColumn::words("Shape"),
        StudyColumn::words("Pieces"),
        StudyColumn::number("Share of CV²", Measure::Percent),
        StudyColumn::number("Built without: less by", Measure::Percent),
        StudyColumn::number("CV without", Measure::Percent),
        StudyColumn::words("Source"),
    ];
    StudyTable::new(format!("What makes it at {}", speed_words(worst, project)), columns, lines).with_notes([
        "Share of CV² from the derivatives; squares of coefficients of variation add up",
        "Built without: the same bars again, that spread alone taken out",
    ])
}

fn rows(study: &ToleranceStudy, project: &Project) -> StudyTable {
    let limit = project.limits.row_deviation;
    let line = |bars: &BuiltBars, row: &RowScatter| StudyRow {
        row: Some(row.row),
        mark: if row.planned.abs() + row.sd * 2.0 > limit {
            StudyMark::OutsideLimits
        } else {
            StudyMark::None
        },
        ..StudyRow::new(vec![
            StudyCell::Words(row.number.to_string()),
            StudyCell::Number(bars.speed.si()),
            StudyCell::Signed(row.planned.si()),
            StudyCell::Signed(row.mean.si()),
            StudyCell::Number(row.sd.si()),
            StudyCell::Number(row.first_order_sd.si()),
            StudyCell::Number(row.farthest_in.si()),
        ])
    };
    let at_speeds = study.at_speeds();
    // Row by row, since one looks for a row: at each speed one line.
    let lines = project.bar.rows.iter().flat_map(|of| {
        at_speeds.iter().filter_map(move |bars| Some((*bars, bars.rows.iter().find(|row| row.row == of.id)?)))
    });
    let lines = lines.map(|(bars, row)| line(bars, row)).collect();
    let columns = vec![
        StudyColumn::words("Row"),
        StudyColumn::number("Speed", Measure::GroundSpeed),
        StudyColumn::number("As planned", Measure::Percent),
        StudyColumn::number("Mean of bars", Measure::Percent),
        StudyColumn::number("Standard deviation", Measure::Percent),
        StudyColumn::number("By derivatives", Measure::Percent),
        StudyColumn::number("Farthest row in", Measure::Percent),
    ];
    StudyTable::new("Rows", columns, lines).with_notes([
        "Deviations from the row's target; outside limits: planned and twice the standard deviation",
    ])
}

/// How many bars have which coefficient of variation: at the worst speed as bars, at the others as lines.
fn histogram(study: &ToleranceStudy, project: &Project) -> StudyPlot {
    let at_speeds = study.at_speeds();
    let all = || at_speeds.iter().flat_map(|bars| bars.cv.sorted.iter().copied());
    let (low, high) = (all().fold(f64::INFINITY, f64::min), all().fold(0.0, f64::max));
    let step = ((high - low) / CLASSES as f64).max(1e-9);
    let worst = study.worst().speed;
    let series = at_speeds.iter().map(|bars| {
        let mut counts = [0_u32; CLASSES];
        for cv in &bars.cv.sorted {
            counts[(((cv - low) / step) as usize).min(CLASSES - 1)] += 1;
        }
        let total = bars.cv.sorted.len().max(1) as f64;
        let point =
            |(class, count): (usize, &u32)| [low + (class as f64 + 0.5) * step, f64::from(*count) / total];
        let form = if bars.speed == worst { SeriesForm::Bars } else { SeriesForm::Line };
        StudySeries::new(speed_words(bars, project), form, counts.iter().enumerate().map(point))
    });
    StudyPlot::new(
        "Coefficient of variation of built bars",
        [
            StudyColumn::number("Coefficient of variation", Measure::Percent),
            StudyColumn::number("Bars", Measure::Percent),
        ],
        series,
    )
}

/// Each row at the worst speed with twice its standard deviation to either side.
fn band(study: &ToleranceStudy, project: &Project) -> StudyPlot {
    let worst = study.worst();
    let line = |name: &str, form, of: fn(&RowScatter) -> f64| {
        StudySeries::new(name, form, worst.rows.iter().map(|row| [f64::from(row.number), of(row)]))
    };
    StudyPlot::new(
        format!("Rows at {}, with 95 of 100 built bars between the lines", speed_words(worst, project)),
        [StudyColumn::number("Row", Measure::Plain), StudyColumn::number("From target", Measure::Percent)],
        [
            line("as planned", SeriesForm::Points, |row| row.planned.si()),
            line("above", SeriesForm::Line, |row| row.mean.si() + 2.0 * row.sd.si()),
            line("below", SeriesForm::Line, |row| row.mean.si() - 2.0 * row.sd.si()),
        ],
    )
}
