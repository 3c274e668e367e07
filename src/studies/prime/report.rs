//! Priming in sentences, tables and a plot.

use super::found::{Drained, HeldIn, PrimeStudy, PrimedRow, Stands};
use crate::plan::words;
use crate::quantities::{Angle, Length, Measure, Volume};
use crate::studies::asked::{Studied, Study};
use crate::studies::report::{
    SeriesForm, StudyCell, StudyColumn, StudyMark, StudyPlot, StudyReport, StudyRow, StudySeries, StudyTable,
};

/// Laminar flow leaves a film at the wall: what a flush takes in practice, in times of what plug flow takes (common practice,
/// no source).
const FLUSH_TIMES: f64 = 2.0;

/// The study as it is shown.
pub fn report(study: &PrimeStudy, of: &Studied) -> StudyReport {
    let ends = study.first_and_last();
    let row = |row: &PrimedRow| {
        let time = |time: Option<f64>| {
            time.map_or_else(|| StudyCell::Unknown("never".to_owned()), StudyCell::Number)
        };
        let is_last = ends.is_some_and(|[_, last]| last.row == row.row);
        let mark = match row.fill_s {
            None => StudyMark::OutsideLimits,
            Some(_) if is_last => StudyMark::Last,
            Some(_) => StudyMark::None,
        };
        StudyRow {
            mark,
            row: Some(row.row),
            ..StudyRow::new(vec![
                StudyCell::Words(row.number.to_string()),
                time(row.fill_s),
                row.driven.map_or(StudyCell::Empty, |driven| StudyCell::Number(driven.si())),
                StudyCell::Number(row.way.si()),
                time(row.fill_s.map(|_| row.clear_s)),
            ])
        }
    };
    let kinds = study.by_kind().into_iter().map(|(kind, volume)| {
        StudyRow::new(vec![StudyCell::Words(kind.words().to_owned()), StudyCell::Number(volume.si())])
    });
    let in_all = StudyRow::new(vec![
        StudyCell::Words("in all, from the pump to the outlets".to_owned()),
        StudyCell::Number(study.held.si()),
    ]);
    let line = |line: &HeldIn| {
        StudyRow::new(vec![
            StudyCell::Words(line.tag.clone()),
            StudyCell::Words(line.what.words().to_owned()),
            StudyCell::Number(line.volume.si()),
            line.full_s
                .map_or_else(|| StudyCell::Unknown("air keeps it empty".to_owned()), StudyCell::Number),
        ])
    };
    let tables = [
        StudyTable::new(
            "Until liquid comes",
            vec![
                StudyColumn::words("Row"),
                StudyColumn::number("Liquid after", Measure::Duration),
                StudyColumn::number("Driven meanwhile", Measure::Driven),
                StudyColumn::number("Its way holds", Measure::Volume),
                StudyColumn::number("Runs clear after", Measure::Duration),
            ],
            study.rows.iter().map(row).collect(),
        )
        .with_notes([
                "from empty lines; neglected: the liquid's inertia and the air's, which leaves at the outlets once it has opened \
                 the check valves; liquid that runs down an empty tube does not suck",
                "runs clear: new liquid pushes the old before it without mixing; run it twice as long, since a film stays at the \
                 wall (common practice, no source)",
        ]),
        StudyTable::new(
            "What the lines hold",
            vec![StudyColumn::words("In"), StudyColumn::number("Liquid", Measure::Volume)],
            kinds.chain([in_all]).collect(),
        ),
        StudyTable::new(
            "Line by line",
            vec![
                StudyColumn::words("Tag"),
                StudyColumn::words("In"),
                StudyColumn::number("Holds", Measure::Volume),
                StudyColumn::number("Full after", Measure::Duration),
            ],
            study.lines.iter().map(line).collect(),
        ),
        StudyTable::new(
            "With the pump off",
            vec![
                StudyColumn::words("The bar stands"),
                StudyColumn::number("Below valves", Measure::Volume),
                StudyColumn::number("Beside that", Measure::Volume),
                StudyColumn::number("Stays above the tank", Measure::Volume),
                StudyColumn::words("Valves that do not hold, rows"),
            ],
            study.drained.iter().map(|one| drained_row(one, of)).collect(),
        )
        .with_notes([
                "what hangs below a check valve drains; a valve that does not hold what stands on it from the full tank lets the \
                 lines run empty down to where it shuts, and the tank after them unless a valve at the tank is shut",
                "what stays above the tank's surface is held by shut valves; folded, by the heights that the fold gives",
        ]),
    ];
    let points = study.rows.iter().filter_map(|row| Some([f64::from(row.number), row.fill_s?]));
    let plot = StudyPlot::new(
        "Until liquid comes",
        [StudyColumn::number("Row", Measure::Plain), StudyColumn::number("Liquid after", Measure::Duration)],
        [StudySeries::new("row", SeriesForm::Bars, points)],
    );
    StudyReport::new(Study::Prime, of, answer(study, of), study.warnings.clone())
        .with_tables(tables)
        .with_plots([plot])
}

/// What is nothing to two decimals is not worth a word.
fn is_told(volume: Volume) -> bool {
    volume.si() >= 5e-6
}

/// The slope or the fold in words; nothing where the bar is level at work.
fn stands(one: &Drained, of: &Studied) -> Option<String> {
    let units = of.project.units;
    let Stands::AtWork { side_slope, fore_aft_slope } = one.stands else {
        return Some("folded for the road".to_owned());
    };
    let slopes = [
        (side_slope, format!("side slope {}", words::side_slope(side_slope, units))),
        (fore_aft_slope, format!("fore-aft slope {}", words::fore_aft_slope(fore_aft_slope, units))),
    ];
    let named: Vec<String> =
        slopes.into_iter().filter(|(slope, _)| *slope != Angle::ZERO).map(|(_, words)| words).collect();
    (!named.is_empty()).then(|| named.join(", "))
}

fn drained_row(one: &Drained, of: &Studied) -> StudyRow {
    let mut rows = one.open_rows.clone();
    rows.extend(&one.without_valve);
    StudyRow {
        mark: if rows.is_empty() { StudyMark::None } else { StudyMark::OutsideLimits },
        ..StudyRow::new(vec![
            StudyCell::Words(stands(one, of).unwrap_or_else(|| "level".to_owned())),
            StudyCell::Number(one.below_valves.si()),
            StudyCell::Number(one.above_level.si()),
            StudyCell::Number(one.held_above.si()),
            StudyCell::Words(if rows.is_empty() { "all hold".to_owned() } else { words::ranges(&rows) }),
        ])
    }
}

fn answer(study: &PrimeStudy, of: &Studied) -> Vec<String> {
    let units = of.project.units;
    let volume = |volume: Volume| Measure::Volume.text(volume.si(), units);
    let seconds = |time: f64| Measure::Duration.text(time, units);
    let mut all: Vec<String> = study.not_fed.iter().cloned().collect();
    if let Some([first, last]) = study.first_and_last() {
        let (early, late) = (first.fill_s.unwrap_or(0.0), last.fill_s.unwrap_or(0.0));
        let driven = Measure::Driven.text(last.driven.map_or(0.0, Length::si), units);
        all.push(format!(
            "start the pump {} before the bar moves: from empty lines liquid comes to row {} after {} and to row {} last, and at {} \
             that would be {driven} of rows without liquid",
            seconds(late),
            first.number,
            seconds(early),
            last.number,
            Measure::GroundSpeed.text(of.point.speed.si(), units),
        ));
    }
    let dry = study.dry_rows();
    if !dry.is_empty() {
        let row = if dry.len() == 1 { "row" } else { "rows" };
        all.push(format!("no liquid ever comes to {row} {}", words::ranges(&dry)));
    }
    let kinds: Vec<String> = study
        .by_kind()
        .into_iter()
        .filter(|(_, held)| is_told(*held))
        .map(|(kind, held)| format!("{} in {}", volume(held), kind.words()))
        .collect();
    all.push(format!("the lines hold {}: {}", volume(study.held), words::list(&kinds)));
    let clear = study.clear_s();
    all.push(format!(
        "a flush at this flow displaces all of it and runs clear at the last row after {}; let it run {}",
        seconds(clear),
        seconds(clear * FLUSH_TIMES)
    ));
    let worst = study.worst_drained();
    let hangs = study.drained.first().map_or(Volume::ZERO, |one| one.below_valves);
    all.push(match worst {
        None if is_told(hangs) => format!(
            "with the pump off the check valves hold, level and on the slopes that are tried; {} hang below them and drain",
            volume(hangs)
        ),
        None => "with the pump off the check valves hold, level and on the slopes that are tried".to_owned(),
        Some(one) => does_not_hold(one, &study.drained, of),
    });
    all.extend(study.folded().map(|one| folded(one, of)));
    if let Some(without) = study.drained.first().map(|one| &one.without_valve).filter(|rows| !rows.is_empty())
    {
        let row = if without.len() == 1 { "row" } else { "rows" };
        all.push(format!(
            "{row} {} have no check valve: the lines drain there when the pump stops",
            words::ranges(without)
        ));
    }
    all
}

/// Which valves do not hold in a position of the bar, and what runs out there.
pub(super) fn does_not_hold(one: &Drained, drained: &[Drained], of: &Studied) -> String {
    let volume = |volume: Volume| Measure::Volume.text(volume.si(), of.project.units);
    let row = if one.open_rows.len() == 1 { "row" } else { "rows" };
    let stands = match stands(one, of) {
        None => "the bar level".to_owned(),
        Some(folded) if one.stands == Stands::Folded => format!("the bar {folded}"),
        Some(slope) => format!("the bar on {slope}"),
    };
    let lines = if is_told(one.above_level) {
        format!(", and {} of what is in the lines with it", volume(one.above_level))
    } else {
        String::new()
    };
    // What is tried first is the bar as it stands at the point.
    let at_point = drained.first().filter(|first| *first != one && !first.open_rows.is_empty());
    let already = at_point.map_or_else(String::new, |first| {
        let row = if first.open_rows.len() == 1 { "row" } else { "rows" };
        let on = self::stands(first, of).map_or_else(|| "level".to_owned(), |slope| format!("on {slope}"));
        let lost = if is_told(first.above_level) {
            format!(" ({} of what is in the lines)", volume(first.above_level))
        } else {
            String::new()
        };
        format!("; {on} it is so of {row} {}{lost}", words::ranges(&first.open_rows))
    });
    format!(
        "with the pump off and {stands} the check valves of {row} {} do not hold the full tank: shut a valve at the \
         tank, or it runs out there{lines}{already}",
        words::ranges(&one.open_rows),
    )
}

/// What becomes of the liquid on the road.
fn folded(one: &Drained, of: &Studied) -> String {
    let volume = |volume: Volume| Measure::Volume.text(volume.si(), of.project.units);
    let row = |rows: &[u32]| if rows.len() == 1 { "row" } else { "rows" };
    let mut said = Vec::new();
    if !one.open_rows.is_empty() {
        said.push(format!("{} {} run out", row(&one.open_rows), words::ranges(&one.open_rows)));
    }
    if !one.air_rows.is_empty() {
        said.push(format!(
            "air comes in at {} {}, which stand above the tank's surface without a check valve, and {} sink back or run out: \
             prime again before work",
            row(&one.air_rows),
            words::ranges(&one.air_rows),
            volume(one.above_level)
        ));
    }
    if is_told(one.held_above) {
        said.push(format!(
            "{} stand above the tank's surface, held by the check valves: they run out where a joint is opened or air gets \
             in below them",
            volume(one.held_above)
        ));
    }
    if !one.air_collects.is_empty() {
        let tags = words::short_list(&one.air_collects, MOST_TAGS);
        said.push(format!("air that is left in the lines collects in {tags}"));
    }
    if said.is_empty() {
        said.push("all valves hold, and no air collects".to_owned());
    }
    format!("folded for the road with the pump off: {}", said.join("; "))
}

/// So many tags are named, the others counted.
const MOST_TAGS: usize = 6;
