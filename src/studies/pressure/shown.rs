//! The way to a row as it is shown.

use super::way::{ALIKE, Cause, PressureStudy, WayItem};
use crate::hydraulics::ways::Passed;
use crate::plan::{ItemKind, StockKind};
use crate::quantities::{Flow, Length, Measure, Pressure, Ratio};
use crate::studies::asked::{Studied, Study};
use crate::studies::report::{
    SeriesForm, StudyCell, StudyColumn, StudyMark, StudyPlot, StudyReport, StudyRow, StudySeries, StudyTable,
};

/// The study as it is shown.
pub fn report(study: &PressureStudy, of: &Studied) -> StudyReport {
    let number = |measure: Measure| move |name: &str| StudyColumn::number(name, measure);
    let loss = number(Measure::Loss);
    let mut left = [study.pump.si(); 2];
    let row = |item: &WayItem, left: &mut [f64; 2]| {
        left[0] -= (item.drop + item.rise).si();
        left[1] -= (item.mean_drop + item.mean_rise).si();
        let is_cause = matches!(study.cause, Cause::Takes { of, .. } if item.passed == Some(of));
        StudyRow {
            mark: if is_cause { StudyMark::Cause } else { StudyMark::None },
            ..StudyRow::new(vec![
                StudyCell::Words(item.tag.clone().unwrap_or_default()),
                StudyCell::Words(match item.tag {
                    Some(_) => item.kind.words().to_owned(),
                    None => format!("{} of other rows", item.kind.words()),
                }),
                if item.length.si() > 0.0 { StudyCell::Number(item.length.si()) } else { StudyCell::Empty },
                StudyCell::Number(item.drop.si()),
                StudyCell::Number(item.mean_drop.si()),
                StudyCell::Signed(item.more().si()),
                if item.tag.is_some() { StudyCell::Number(left[0]) } else { StudyCell::Empty },
            ])
        }
    };
    let mut rows: Vec<StudyRow> = study.way.iter().map(|item| row(item, &mut left)).collect();
    let [rise, mean_rise] = study.height();
    rows.push(StudyRow {
        mark: if matches!(study.cause, Cause::Height { .. }) { StudyMark::Cause } else { StudyMark::None },
        ..StudyRow::new(vec![
            StudyCell::Empty,
            StudyCell::Words("height, pump to outlet".to_owned()),
            StudyCell::Empty,
            StudyCell::Number(rise.si()),
            StudyCell::Number(mean_rise.si()),
            StudyCell::Signed((rise - mean_rise).si()),
            StudyCell::Empty,
        ])
    });
    rows.push(StudyRow {
        row: Some(study.row),
        ..StudyRow::new(vec![
            StudyCell::Empty,
            StudyCell::Words("in all, as at the pump".to_owned()),
            StudyCell::Number(study.way.iter().map(|item| item.length.si()).sum()),
            StudyCell::Number(study.pump.si()),
            StudyCell::Number(study.pump.si()),
            StudyCell::Empty,
            StudyCell::Empty,
        ])
    });
    let columns = vec![
        StudyColumn::words("Tag"),
        StudyColumn::words("What"),
        StudyColumn::number("Length", Measure::Distance),
        loss("Takes"),
        loss("Mean row's"),
        loss("More"),
        StudyColumn::number("Left behind it", Measure::Pressure),
    ];
    let title = format!("Way to row {}", study.number);
    let table = StudyTable::new(title, columns, rows).with_notes([format!(
            "the mean row is the mean of the {} fed rows: its first hose is the mean of all first hoses on their ways, and so on",
            study.rows
        )]);
    StudyReport::new(Study::Pressure, of, answer(study, of), study.warnings.clone())
        .with_tables([table])
        .with_plots([plot(study)])
}

/// Pressure along the way, of the row and of the mean row.
fn plot(study: &PressureStudy) -> StudyPlot {
    let line = |of: &dyn Fn(&WayItem) -> Option<(Length, Pressure)>| {
        let (mut at, mut left) = (0.0, study.pump.si());
        let mut points = vec![[at, left]];
        for (length, takes) in study.way.iter().filter_map(of) {
            at += length.si();
            left -= takes.si();
            points.push([at, left]);
        }
        points
    };
    let series = |name: String, points: Vec<[f64; 2]>| StudySeries::new(name, SeriesForm::Line, points);
    let axes = [
        StudyColumn::number("Hose and tube from the pump", Measure::Distance),
        StudyColumn::number("Pressure", Measure::Pressure),
    ];
    StudyPlot::new(
        "Pressure along the way",
        axes,
        [
            series(
                format!("row {}", study.number),
                line(&|item| item.tag.is_some().then_some((item.length, item.drop + item.rise))),
            ),
            series(
                "mean row".to_owned(),
                line(&|item| Some((item.mean_length, item.mean_drop + item.mean_rise))),
            ),
        ],
    )
}

fn answer(study: &PressureStudy, of: &Studied) -> Vec<String> {
    let units = of.project.units;
    let percent = |ratio: Ratio| Measure::Percent.text(ratio.abs().si(), units);
    let loss = |pressure: Pressure| Measure::Loss.text(pressure.abs().si(), units);
    let flow = |flow: Flow| Measure::RowFlow.text(flow.si(), units);
    let row = format!("row {}", study.number);
    let [own, mean] = study.metering();
    let less = if study.from_mean.si() < 0.0 { "less" } else { "more" };
    let gets = format!("{row} gets {} {less} than the mean row", percent(study.from_mean));
    let has = format!("{} instead of {}", loss(own), loss(mean));
    let than = |more: Pressure| if more.si() < 0.0 { "less" } else { "more" };
    let mut all = vec![match &study.cause {
        Cause::Alike => format!(
            "{row} gets what the mean row gets within {}: {}, with {} over its metering",
            percent(Ratio::from_si(ALIKE)),
            flow(study.flow),
            loss(own)
        ),
        Cause::Metering => {
            let metering = study.way.iter().filter(|item| item.is_metering()).find_map(|item| item.passed);
            let named = metering.and_then(|passed| match passed {
                Passed::Element(id) => of.element(id).map(|element| of.metering_words(element)),
                _ => None,
            });
            format!(
                "{gets}, and not for want of pressure: over its metering{} there is {}, over the mean row's {}; the metering \
                 passes {less} for what the row should get",
                named.map_or_else(String::new, |name| format!(" ({name})")),
                loss(own),
                loss(mean)
            )
        }
        Cause::Unmetered => format!(
            "{gets}, because nothing meters it: over the mean row's metering there is {}; give it metering",
            loss(mean)
        ),
        Cause::Height { more } => {
            let stands = if more.si() > 0.0 { "higher" } else { "lower" };
            format!(
                "{gets}: its outlet stands {stands}, which takes {} {}, so that its metering has {has}",
                loss(*more),
                than(*more)
            )
        }
        Cause::Takes { kind, more, of: passed } => {
            let of_kind = study.way.iter().filter(|one| one.kind == *kind && one.tag.is_some()).count();
            let named = of.tag(*passed);
            let is_own = study.way.iter().any(|item| item.passed == Some(*passed));
            let what = match (of_kind, kind) {
                (0 | 1, _) => format!("its {}", kind.words()),
                (_, ItemKind::Stock(StockKind::Hose)) => "the hoses on its way".to_owned(),
                _ => format!("what is {} on its way", kind.words()),
            };
            let takes = if of_kind > 1 && matches!(kind, ItemKind::Stock(StockKind::Hose)) {
                "take"
            } else {
                "takes"
            };
            let which = match (is_own, of_kind) {
                (true, 0 | 1) => format!(" ({named})"),
                (true, _) => format!(" ({named} most of all)"),
                (false, _) => format!(" (it does not pass {named}, where others lose most)"),
            };
            format!(
                "{gets}: {what}{which} {takes} {} {} than the mean row's, so that its metering has {has}",
                loss(*more),
                than(*more)
            )
        }
    }];
    if let Some(wider) = &study.wider {
        let name = of.project.catalogue.entry(&wider.entry).map_or("", |entry| entry.description.as_str());
        let less = if wider.from_mean.si() < 0.0 { "less" } else { "more" };
        let in_place_of = match study.cause {
            Cause::Takes { of: passed, .. } => of.tag(passed),
            Cause::Alike | Cause::Height { .. } | Cause::Metering | Cause::Unmetered => String::new(),
        };
        all.push(format!(
            "with the next wider one of the catalogue, {name}, in place of {in_place_of} it would get {} {less} than the mean row",
            percent(wider.from_mean)
        ));
    }
    let side = if study.deviation.si() < 0.0 { "below" } else { "above" };
    let judged = if study.outside_limits { "outside" } else { "within" };
    all.push(format!(
        "it gets {}, {} {side} its target, {judged} the limit of {}",
        flow(study.flow),
        percent(study.deviation),
        percent(of.project.limits.row_deviation)
    ));
    if study.way.iter().any(|item| item.is_metering() && item.tag.is_some()) {
        let metering = if study.pump.si() > 0.0 { own.si() / study.pump.si() } else { 0.0 };
        all.push(format!(
            "of {} at the pump its metering takes {}, or {}",
            Measure::Pressure.text(study.pump.si(), units),
            Measure::Pressure.text(own.si(), units),
            Measure::Percent.text(metering, units)
        ));
    }
    all
}
