//! Equalising in sentences, tables and a plot.

use super::super::asked::{Studied, Study};
use super::super::reliance;
use super::super::report::{
    SeriesForm, StudyAction, StudyCell, StudyColumn, StudyMark, StudyPlot, StudyReport, StudyRow,
    StudySeries, StudyTable,
};
use super::super::status::rows_words;
use super::super::trial::{Judged, Requirement};
use super::found::{EqualiseStudy, EqualisedRow, Means, PRACTICAL};
use crate::plan::words::{capital, count, counted, list, ranges};
use crate::plan::{Duty, Metering, Project};
use crate::quantities::{Measure, Ratio};

/// What carries it out, with all rows that have metering; none where it is not worth it.
pub fn action(found: &EqualiseStudy) -> Option<StudyAction> {
    let rows = found.rows.iter().map(|row| (row.row, row.after.clone())).collect();
    (found.is_worth_it && found.touched() > 0).then_some(StudyAction::UseRowMetering { rows, valve: None })
}

/// Words of the study.
pub fn report(found: &EqualiseStudy, of: &Studied) -> StudyReport {
    let project = of.project;
    StudyReport::new(Study::Equalise, of, answer(found, project), warnings(found, of))
        .with_tables([rows(found, project), speeds(found, project)])
        .with_plots([plot(found, project)])
}

fn percent(project: &Project, value: Option<Ratio>) -> String {
    value.map_or_else(|| "?".to_owned(), |one| Measure::Percent.text(one.si(), project.units))
}

fn cut_words(row: &EqualisedRow) -> Option<f64> {
    row.after.length().map(|one| one.si())
}

fn answer(found: &EqualiseStudy, project: &Project) -> Vec<String> {
    let units = project.units;
    let [before, after] = found.cv();
    let rises = before.zip(after).is_some_and(|(before, after)| after > before);
    let from_to = format!(
        "CV {} from {} to {} at the worst speed",
        if rises { "rises" } else { "falls" },
        percent(project, before),
        percent(project, after)
    );
    let practical = Measure::Percent.text(PRACTICAL.si(), units);
    let touched = found.rows.iter().filter(|row| row.is_touched());
    let numbers: Vec<u32> = touched.filter_map(|row| Some(project.bar.row(row.row)?.number)).collect();
    let rows = format!("{} {}", if numbers.len() == 1 { "row" } else { "rows" }, ranges(&numbers));
    let mut out: Vec<String> = found.dry_rows.iter().cloned().collect();
    match found.means {
        Means::NoSizes => {
            out.push(format!(
                "Leave the orifices as they are: no two sizes of the catalogue make the rows more equal (CV {} at the worst \
                 speed)",
                percent(project, before)
            ));
            out.push(
                "Orifices come in steps that are wider than what unequal ways cost; metering tubes can be cut row by row"
                    .to_owned(),
            );
        }
        _ if numbers.is_empty() => {
            out.push(format!(
                "Leave the rows as they are: no cut makes them more equal (CV {})",
                percent(project, before)
            ));
        }
        Means::Lengths if found.is_worth_it => {
            let lengths: Vec<f64> = found.rows.iter().filter_map(cut_words).collect();
            let least = lengths.iter().copied().fold(f64::INFINITY, f64::min);
            let most = lengths.iter().copied().fold(0.0, f64::max);
            out.push(format!(
                "Cut the metering tubes of {rows} to lengths of their own, {} to {}: {from_to}",
                Measure::CutLength.short_number(least, units),
                Measure::CutLength.short_text(most, units)
            ));
        }
        Means::TwoSizes if found.is_worth_it => {
            let mut sizes: Vec<&Metering> = Vec::new();
            found.rows.iter().filter(|row| row.is_touched()).for_each(|row| {
                if !sizes.contains(&&row.after) {
                    sizes.push(&row.after);
                }
            });
            let words: Vec<String> = sizes.iter().map(|one| one.words(&project.catalogue, units)).collect();
            out.push(format!("Fit {rows} with the {}: {from_to}", words.join(" or ")));
        }
        Means::Lengths | Means::TwoSizes if rises => out.push(format!("Keep what is fitted: {from_to}")),
        Means::Lengths | Means::TwoSizes => {
            out.push(format!(
                "Not worth it: {from_to}, by less than the {practical} that two catch tests of one bar differ by"
            ));
            out.push(format!("It would change {}, {rows}", counted(numbers.len(), "row")));
        }
    }
    out.extend(outside(found, project));
    out.extend(not_predictable(found, project));
    out
}

/// Rows that are farther from their targets than the project accepts, at some speed, as what is advised leaves them.
fn outside(found: &EqualiseStudy, project: &Project) -> Option<String> {
    let limit = project.limits.row_deviation;
    let rows = found.rows.iter().filter(|row| is_outside(row, found, limit));
    let rows: Vec<(u32, Ratio)> = rows
        .filter_map(|row| Some((project.bar.row(row.row)?.number, row.farthest[found.advised()]?)))
        .collect();
    let (_, most) = rows.iter().copied().max_by(|a, b| a.1.si().abs().total_cmp(&b.1.si().abs()))?;
    let numbers: Vec<u32> = rows.iter().map(|one| one.0).collect();
    Some(format!(
        "Outside the limit of {} from target at some speed, {} at most: {} {}",
        Measure::Percent.short_text(limit.si(), project.units),
        Measure::Percent.text(most.si().abs(), project.units),
        if numbers.len() == 1 { "row" } else { "rows" },
        ranges(&numbers)
    ))
}

fn is_outside(row: &EqualisedRow, found: &EqualiseStudy, limit: Ratio) -> bool {
    row.farthest[found.advised()].is_some_and(|far| far.abs() > limit)
}

/// Tubes that work between laminar and turbulent flow.
fn not_predictable(found: &EqualiseStudy, project: &Project) -> Option<String> {
    let all = if found.advised() == 0 { &found.before } else { &found.after };
    let at = all.iter().filter(|one| one.broken.contains(&Requirement::Predictable));
    let mut speeds: Vec<String> =
        at.map(|one| Measure::GroundSpeed.short_text(one.point.speed.si(), project.units)).collect();
    speeds.dedup();
    if speeds.is_empty() {
        return None;
    }
    let meters = if found.means == Means::Lengths {
        format!(
            "with Reynolds numbers between {} and {}",
            count(project.limits.reynolds_from.si() as usize),
            count(project.limits.reynolds_to.si() as usize)
        )
    } else {
        "with Reynolds numbers at which the coefficient of an orifice is no constant".to_owned()
    };
    Some(format!(
        "Flow can't be predicted at {}, {meters}: take another bore, or catch it with the liquid before relying on it",
        list(&speeds)
    ))
}

fn warnings(found: &EqualiseStudy, of: &Studied) -> Vec<String> {
    let project = of.project;
    let mut out = reliance::outside_table(of, found.before.iter().map(|one| one.point));
    if let Some(rows) = rows_words(found.covered).filter(|_| found.dry_rows.is_none()) {
        out.push(format!("these figures are over {rows}: the others are left out"));
    }
    if found.means == Means::Lengths {
        let of = |duty: &Duty| reliance::viscosity(&duty.liquid, project.units);
        out.extend(
            project.duties.iter().filter_map(of).map(|words| format!("{words}: the lengths rest on it")),
        );
        out.push("each row then needs its own tube: mark them as they are cut".to_owned());
    }
    if found.before.iter().chain(&found.after).any(|one| one.missing.is_some()) {
        out.push("the supply does not give what is asked at every speed".to_owned());
    }
    out
}

fn rows(found: &EqualiseStudy, project: &Project) -> StudyTable {
    let lines = found.rows.iter().map(|row| {
        let number = project.bar.row(row.row).map_or(0, |row| row.number);
        let words = |metering: &Metering| capital(&metering.words(&project.catalogue, project.units));
        let length = |metering: &Metering| {
            metering.length().map_or(StudyCell::Empty, |one| StudyCell::Number(one.si()))
        };
        let length_before = row.before.as_ref().map_or(StudyCell::Empty, length);
        let change = match (row.before.as_ref().and_then(Metering::length), row.after.length()) {
            (Some(before), Some(after)) => StudyCell::Signed((after - before).si()),
            _ => StudyCell::Empty,
        };
        let deviation = |one: Option<Ratio>| one.map_or(StudyCell::Empty, |one| StudyCell::Signed(one.si()));
        let size = |metering: &Metering| match metering {
            Metering::Orifice(_) => words(metering),
            Metering::Tube { stock, .. } => {
                let item = project.catalogue.item(stock);
                item.map_or_else(
                    || stock.to_string(),
                    |item| capital(&format!("{} metering tube", item.size(project.units))),
                )
            }
        };
        let cells = vec![
            StudyCell::Words(number.to_string()),
            StudyCell::Words(size(&row.after)),
            length_before,
            length(&row.after),
            change,
            StudyCell::Number(row.flow[0].si()),
            StudyCell::Number(row.flow[1].si()),
            deviation(row.deviation[0]),
            deviation(row.deviation[1]),
            deviation(row.farthest[1]),
        ];
        let mark = match () {
            () if is_outside(row, found, project.limits.row_deviation) => StudyMark::OutsideLimits,
            () if row.is_touched() && found.is_worth_it => StudyMark::Recommended,
            () => StudyMark::None,
        };
        StudyRow { row: Some(row.row), mark, ..StudyRow::new(cells) }
    });
    let mut lines: Vec<StudyRow> = lines.collect();
    // Carried out as a whole from its first line: rows are equal only together.
    if let (Some(first), Some(action)) = (lines.first_mut(), action(found)) {
        first.action = Some(action);
    }
    let columns = vec![
        StudyColumn::words("row"),
        StudyColumn::words("metering"),
        StudyColumn::number("length now", Measure::CutLength),
        StudyColumn::number("length equalised", Measure::CutLength),
        StudyColumn::number("change", Measure::CutLength),
        StudyColumn::number("flow now", Measure::RowFlow),
        StudyColumn::number("flow equalised", Measure::RowFlow),
        StudyColumn::number("from target now", Measure::Percent),
        StudyColumn::number("from target equalised", Measure::Percent),
        StudyColumn::number("at the worst speed", Measure::Percent),
    ];
    StudyTable::new("Rows at the usual speed", columns, lines).with_notes([match found.means {
        Means::Lengths => format!(
            "least squares over all rows at every speed of every duty, the mean length kept, rounded to {}",
            Measure::CutLength.short_text(project.limits.cut_step.si(), project.units)
        ),
        Means::TwoSizes | Means::NoSizes => "at most two sizes of the catalogue".to_owned(),
    }])
}

fn speeds(found: &EqualiseStudy, project: &Project) -> StudyTable {
    let several = project.duties.are_several();
    let lines = found.before.iter().zip(&found.after).map(|(before, after)| {
        let number = |one: Option<Ratio>| one.map_or(StudyCell::Empty, |one| StudyCell::Number(one.si()));
        let far =
            |one: &Judged| one.farthest.map_or(StudyCell::Empty, |(_, one)| StudyCell::Signed(one.si()));
        let pump = |one: &Judged| one.pump.map_or(StudyCell::Empty, |one| StudyCell::Number(one.si()));
        let duty = if several { project.duty(before.point.duty).name.clone() } else { String::new() };
        StudyRow::new(vec![
            StudyCell::Words(duty),
            StudyCell::Number(before.point.speed.si()),
            number(before.cv),
            number(after.cv),
            far(before),
            far(after),
            pump(before),
            pump(after),
        ])
    });
    let columns = vec![
        StudyColumn::words("duty"),
        StudyColumn::number("speed", Measure::GroundSpeed),
        StudyColumn::number("CV now", Measure::Percent),
        StudyColumn::number("CV equalised", Measure::Percent),
        StudyColumn::number("farthest row now", Measure::Percent),
        StudyColumn::number("farthest row equalised", Measure::Percent),
        StudyColumn::number("pump now", Measure::Pressure),
        StudyColumn::number("pump equalised", Measure::Pressure),
    ];
    StudyTable::new("Evenness at every speed", columns, lines.collect())
}

fn plot(found: &EqualiseStudy, project: &Project) -> StudyPlot {
    let series = ["now", "equalised"].into_iter().enumerate().map(|(at, name)| {
        let points = found.rows.iter().filter_map(|row| {
            let number = project.bar.row(row.row)?.number;
            Some([f64::from(number), row.deviation[at]?.si()])
        });
        StudySeries::new(name, SeriesForm::Points, points)
    });
    let axes =
        [StudyColumn::number("row", Measure::Plain), StudyColumn::number("from target", Measure::Percent)];
    StudyPlot::new("Rows from their target at the usual speed", axes, series)
}
