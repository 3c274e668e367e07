//! The page of a catch test: under which conditions it was made, the sheet as it was filled in, row by row against what was
//! asked and expected, the verdict, what explains it and what it calibrates.

use super::basis::Basis;
use super::cautions;
use super::document::{Block, CsvExtent, Document, PaperCell, PaperColumn, PaperTable};
use crate::plan::cause_weights::CauseKind;
use crate::plan::part::outlet_words;
use crate::plan::words::{capital, fore_aft_slope, side_slope};
use crate::plan::{
    Catch, CatchSpan, CatchTest, CaughtAmount, CaughtLiquid, Drive, Duty, DutyId, LaidRouting, Project,
    RoutingGeometry, RoutingId, RowId,
};
use crate::quantities::{Angle, Measure, Ratio, UnitSystem};
use crate::studies::catch_test::calibrate::{Calibration, CalibrationAsked, calibrate};
use crate::studies::catch_test::explain::{Candidate, ExplainOptions, Explanation, NextLook, explain};
use crate::studies::catch_test::judged::{Judged, judge};
use crate::studies::catch_test::prepare::{GAUGE_CLASS, PreparedTest};
use crate::studies::catch_test::since::changed_since;
use crate::studies::catch_test::verdict_words::{gauge_mark, headline, marks, notes as notes_of, sentences};
use crate::studies::{NoAnswer, Studied, Unwatched};

/// Causes that are less likely than this are not printed.
const LEAST_ODDS: f64 = 0.02;

/// Odds of all that is not printed are told from here on: less reads as nothing.
const LEAST_SHOWN: f64 = 5e-4;

/// More causes than this are not printed, "none of these" aside.
const MOST_CAUSES: usize = 8;

/// The newest catch test of a routing for a duty, as a paper; one that says so where there is none.
pub fn catch_sheet(project: &Project, routing: LaidRouting, duty: &Duty) -> Document {
    let basis = Basis::new(project, routing, duty);
    tests(&basis).next().map_or_else(|| none(&basis), |test| paper(&basis, project, test))
}

/// A test of a project as a paper, of the bar as it was then: also where its routing or duty is gone. None where that bar is not
/// kept.
pub fn sheet_of_test(project: &Project, test: &CatchTest) -> Option<Document> {
    let bar = project.catch_tests.project_of(test)?;
    let (routing, duty) = (bar.routings.first()?, bar.duties.get(test.duty)?);
    let geometry = RoutingGeometry::working(bar, routing);
    let then = Project { units: project.units, ..Project::clone(bar) };
    Some(paper(&Basis::new(&then, geometry.with(routing), duty), project, test))
}

/// A paper of a test.
pub(super) struct TestPaper {
    pub(super) document: Document,
    /// What it is of, where that is not the routing whose papers these are.
    pub(super) of: Option<String>,
}

/// A paper for each catch test that was made on the routing for the duty, the newest first, and behind them those whose routing
/// or duty is gone: they have no papers of their own to be among. One that says so where there is none.
pub(super) fn from_basis(basis: &Basis) -> Vec<TestPaper> {
    let project = basis.project;
    let own = tests(basis).map(|test| TestPaper { document: paper(basis, project, test), of: None });
    let gone =
        project.catch_tests.tests.iter().rev().filter(|test| is_gone(project, test)).filter_map(|test| {
            let bar = project.catch_tests.project_of(test)?;
            let name = &bar.routings.first()?.name;
            let of = Some(format!("Routing {name} as it was, gone since"));
            Some(TestPaper { document: sheet_of_test(project, test)?, of })
        });
    let mut papers: Vec<TestPaper> = own.chain(gone).collect();
    if papers.is_empty() {
        papers.push(TestPaper { document: none(basis), of: None });
    }
    papers
}

/// Its routing or its duty is in the project no more.
fn is_gone(project: &Project, test: &CatchTest) -> bool {
    let bar = project.catch_tests.project_of(test);
    let is_there = bar.is_some_and(|bar| bar.routings.iter().any(|one| project.routing(one.id).is_some()));
    !is_there || project.duties.get(test.duty).is_none()
}

/// That there is no test.
fn none(basis: &Basis) -> Document {
    let mut document = Document::new("Catch test", basis);
    let words = "No catch test was taken down on this routing for this duty: the commissioning sheet says what to catch.";
    document.blocks.push(Block::Paragraph(words.to_owned()));
    document.blocks.push(Block::Table(facts_table(vec![("Catch test", "none".to_owned())])));
    document
}

/// There is a paper of a test among those of a routing for a duty: one that is kept of these, or one whose routing or duty is
/// gone.
pub(super) fn has_paper(project: &Project, routing: RoutingId, duty: DutyId) -> bool {
    tests_of(project, routing, duty).next().is_some()
        || project.catch_tests.tests.iter().any(|test| is_gone(project, test))
}

fn tests<'a>(basis: &Basis<'a>) -> impl Iterator<Item = &'a CatchTest> {
    tests_of(basis.project, basis.routing.routing.id, basis.duty.id)
}

/// Catch tests of a routing for a duty, the newest first.
pub fn tests_of(project: &Project, routing: RoutingId, duty: DutyId) -> impl Iterator<Item = &CatchTest> {
    let is_of = move |test: &&CatchTest| {
        let bar = project.catch_tests.project_of(test);
        test.duty == duty && bar.is_some_and(|bar| bar.routings.iter().any(|one| one.id == routing))
    };
    project.catch_tests.tests.iter().rev().filter(is_of)
}

/// A test of the project of today, on the basis of the routing that was tested.
fn paper(basis: &Basis, today: &Project, test: &CatchTest) -> Document {
    let mut document = Document::new(&format!("Catch test {}", test.name), basis);
    document.csv = CsvExtent::AllTables;
    let prepared = match PreparedTest::of(today, test) {
        Ok(prepared) => prepared,
        Err(why) => {
            document.blocks.push(Block::Paragraph(sentence(&why.to_string())));
            document.blocks.push(Block::Table(conditions(today, test, None)));
            return document;
        }
    };
    let of = prepared.studied();
    let mut judged = judge(&prepared);
    let explained = judged
        .is_ok()
        .then(|| explain(&prepared.tested(), &today.cause_weights, &ExplainOptions::default(), &Unwatched));
    if let (Ok(judged), Some(Ok(explained))) = (&mut judged, &explained) {
        judged.heed(explained);
    }
    match &judged {
        Ok(judged) => document.blocks.push(Block::Table(verdict(judged, &prepared))),
        Err(why) => document.blocks.push(Block::Paragraph(sentence(&why.to_string()))),
    }
    let changed = changed_since(today, test);
    if !changed.is_empty() {
        let words = format!("The bar was another when it was tested; changed since: {}", changed.join("; "));
        document.blocks.push(Block::Paragraph(sentence(&words)));
    }
    let mut table = conditions(today, test, Some(&of));
    let doubts =
        test.doubts.iter().map(|one| sentence(&format!("In doubt of the table that was read: {}", one.says)));
    let remarks = prepared.remarks().iter();
    table.notes = doubts.chain(remarks.map(|remark| sentence(&remark.to_string()))).collect();
    document.blocks.push(Block::Table(table));
    if let Ok(judged) = &judged {
        document.blocks.push(Block::Table(rows(&of, test, (judged, &prepared))));
        document.blocks.extend(gauges(&of, judged).map(Block::Table));
        if let Some(explained) = explained {
            document.blocks.extend(causes(explained, judged.verdict.as_drawn, today.units));
        }
        let asked = CalibrationAsked::of(test, judged.outliers());
        document.blocks.extend(calibration(&of, calibrate(&prepared.tested(), &asked, &Unwatched)));
    }
    document.blocks.extend(cautions::blocks());
    document
}

/// What it says by itself, the verdict first; a table, so that files for other programs hold it too.
fn verdict(judged: &Judged, test: &PreparedTest) -> PaperTable {
    let why = sentences(judged, test);
    let lines = std::iter::once(headline(judged)).chain(why.iter().map(|words| sentence(words)));
    PaperTable {
        caption: "Verdict".to_owned(),
        columns: vec![PaperColumn::text("Verdict, and what it comes of", 6.0)],
        rows: lines.map(|words| vec![PaperCell::text(words)]).collect(),
        ..PaperTable::default()
    }
}

/// Words as a sentence: its first letter large, a full stop at its end.
fn sentence(words: &str) -> String {
    format!("{}.", capital(words).trim_end_matches('.'))
}

/// Under which conditions, a table so that files for other programs hold it too.
fn conditions(project: &Project, test: &CatchTest, of: Option<&Studied<'_>>) -> PaperTable {
    let units = project.units;
    let mut facts: Vec<(&str, String)> = Vec::new();
    // Of a file alone it must be seen what it is of: the bar as it was tested, where that is kept.
    let tested = of.map_or(project, |of| of.project);
    let title = &tested.title;
    let routing = of.map_or(String::new(), |of| of.routing.routing.name.clone());
    for (name, words) in [
        ("Project", &title.title),
        ("Number", &title.number),
        ("Revision", &title.revision),
        ("Routing", &routing),
        ("Catch test", &test.name),
    ] {
        if !words.trim().is_empty() {
            facts.push((name, words.clone()));
        }
    }
    for (name, words) in [("Date", &test.date), ("Made by", &test.by)] {
        if !words.trim().is_empty() {
            facts.push((name, words.clone()));
        }
    }
    let liquid = match test.liquid {
        CaughtLiquid::Water => "clean water".to_owned(),
        CaughtLiquid::Product => of.map_or_else(
            || "the product".to_owned(),
            |of| of.project.duty(of.point.duty).liquid.name.clone(),
        ),
    };
    facts.push(("Caught", liquid));
    let temperature = match (test.temperature, of) {
        (Some(measured), _) => Measure::Temperature.text(measured.si(), units),
        (None, Some(of)) => {
            format!(
                "{} ASSUMED, nobody measured it",
                Measure::Temperature.text(of.point.temperature.si(), units)
            )
        }
        (None, None) => "nobody measured it".to_owned(),
    };
    facts.push(("Temperature", temperature));
    facts.push(match test.drive {
        Drive::Speed(speed) => ("Ground speed", Measure::GroundSpeed.text(speed.si(), units)),
        Drive::HeldPressure(pressure) => ("Held at the pump", Measure::Pressure.text(pressure.si(), units)),
    });
    facts.push(("Each row caught", span(test.span, units)));
    if test.side_slope != Angle::ZERO {
        facts.push(("Slope across", side_slope(test.side_slope, units)));
    }
    if test.fore_aft_slope != Angle::ZERO {
        facts.push(("Slope along", fore_aft_slope(test.fore_aft_slope, units)));
    }
    facts.push((
        "Scatter of jug and watch",
        format!(
            "{} of an amount and {} s of a time (standard deviations)",
            Measure::Percent.short_text(test.scatter.amount.si(), units),
            Measure::Plain.short_text(test.scatter.seconds, units).trim()
        ),
    ));
    facts.push((
        "Scatter of the supply",
        format!(
            "{} of what it is asked for (standard deviation)",
            Measure::Percent.short_text(test.scatter.supply.si(), units)
        ),
    ));
    if !test.notes.trim().is_empty() {
        facts.push(("Notes", test.notes.split_whitespace().collect::<Vec<_>>().join(" ")));
    }
    facts_table(facts)
}

fn facts_table(facts: Vec<(&str, String)>) -> PaperTable {
    PaperTable {
        caption: "Conditions of the test".to_owned(),
        columns: vec![PaperColumn::text("Of the test", 1.6), PaperColumn::text("As it was", 4.0)],
        rows: facts
            .into_iter()
            .map(|(name, value)| vec![PaperCell::text(name), PaperCell::text(value)])
            .collect(),
        ..PaperTable::default()
    }
}

fn span(span: CatchSpan, units: UnitSystem) -> String {
    match span {
        CatchSpan::Seconds(seconds) => format!("for {}", Measure::Duration.text(seconds, units)),
        CatchSpan::Distance(distance) => format!("over {}", Measure::Distance.text(distance.si(), units)),
    }
}

/// What was read at a row, as it was taken down: `412, 408 mL`; a spoiled catch with why.
fn read(test: &CatchTest, row: RowId, units: UnitSystem) -> String {
    let one = |catch: &Catch| {
        let amount = match catch.amount {
            CaughtAmount::Volume(volume) => Measure::Catch.text(volume.si(), units),
            CaughtAmount::Mass(mass) => Measure::CaughtMass.text(mass.si(), units),
        };
        let own = catch.span.map_or_else(String::new, |own| format!(" {}", span(own, units)));
        match catch.spoiled.as_deref().map(str::trim) {
            None => format!("{amount}{own}"),
            Some("") => format!("({amount}{own}, spoiled)"),
            Some(why) => format!("({amount}{own}, spoiled: {why})"),
        }
    };
    let all: Vec<String> = test.catches.iter().filter(|catch| catch.row == row).map(one).collect();
    all.join("; ")
}

/// The sheet as it was filled in.
fn rows(of: &Studied<'_>, test: &CatchTest, (judged, prepared): (&Judged, &PreparedTest)) -> PaperTable {
    let units = of.project.units;
    let flow = |heading: &str| PaperColumn::measure(heading, Measure::RowFlow, units, 1.0);
    let percent = |heading: &str| PaperColumn::measure(heading, Measure::Percent, units, 1.0);
    let columns = vec![
        PaperColumn::count("Row", 0.6),
        PaperColumn::text("Outlet", 1.0),
        PaperColumn::text("Read", 1.8),
        flow("Caught"),
        flow("Asked"),
        flow("Expected"),
        flow("As drawn from"),
        flow("to"),
        percent("Off asked"),
        percent("Off expected"),
        percent("Off mean"),
        PaperColumn::text("Mark", 1.5),
    ];
    let line = |found: &crate::hydraulics::outcome::RowOutcome| {
        let outlet = found
            .outlet
            .and_then(|(part, number)| Some(outlet_words(&of.routing.routing.part(part)?.tag, number)));
        let row = judged.row(found.row);
        let read = read(test, found.row, units);
        let mark = match row {
            Some(row) => marks(row),
            None if read.is_empty() => "not caught".to_owned(),
            None => "not counted".to_owned(),
        };
        let off = |ratio: Option<Ratio>| PaperCell::measure(Measure::Percent, ratio, units);
        vec![
            PaperCell::count(found.number as usize),
            outlet.map_or(PaperCell::Empty, PaperCell::Text),
            PaperCell::text(read),
            PaperCell::measure(Measure::RowFlow, row.map(|row| row.caught), units),
            PaperCell::measure(Measure::RowFlow, row.and_then(|row| row.asked), units),
            PaperCell::measure(Measure::RowFlow, row.map(|row| row.expected), units),
            PaperCell::measure(Measure::RowFlow, row.and_then(|row| row.may_give).map(|one| one.low), units),
            PaperCell::measure(Measure::RowFlow, row.and_then(|row| row.may_give).map(|one| one.high), units),
            off(row.and_then(|row| row.from_asked)),
            off(row.and_then(|row| row.from_expected)),
            off(row.and_then(|row| row.from_mean)),
            PaperCell::text(mark),
        ]
    };
    let in_use = |row: &&crate::hydraulics::outcome::RowOutcome| {
        row.connected != Err(crate::hydraulics::NotFed::LeftOut) || judged.row(row.row).is_some()
    };
    let limit = Measure::Percent.short_text(judged.limit.si(), units);
    let mut notes = vec![format!(
        "Marks: not as asked, more than {limit} from what is asked; not as drawn, outside what it may give on a bar as drawn; \
         outlier, not like the others (generalised ESD, 5 %); catches apart, those of the row further apart than \
         jug and watch allow (critical range of ISO 5725-6, 95 %)."
    )];
    notes.extend(notes_of(prepared).iter().map(|one| sentence(one)));
    if test.liquid == CaughtLiquid::Water || matches!(test.drive, Drive::HeldPressure(_)) {
        notes.push(
            "Asked: what a row would give in this test if it gave its target at work, which is its target times what is expected \
             in the test over what is expected at work."
                .to_owned(),
        );
    }
    PaperTable {
        caption: "Catch of every row".to_owned(),
        columns,
        rows: judged.expected.rows().iter().filter(in_use).map(line).collect(),
        notes,
        ..PaperTable::default()
    }
}

fn gauges(of: &Studied<'_>, judged: &Judged) -> Option<PaperTable> {
    let units = of.project.units;
    let column = |heading: &str| PaperColumn::measure(heading, Measure::Pressure, units, 1.0);
    let rows: Vec<Vec<PaperCell>> = judged
        .gauges
        .iter()
        .map(|gauge| {
            let tag = of.routing.part(gauge.part).map_or("", |part| part.tag.as_str());
            let cell = |pressure| PaperCell::measure(Measure::Pressure, pressure, units);
            vec![
                PaperCell::text(tag),
                cell(Some(gauge.read)),
                cell(Some(gauge.sd)),
                cell(gauge.expected),
                cell(gauge.may_show.map(|one| one.low)),
                cell(gauge.may_show.map(|one| one.high)),
                PaperCell::text(gauge_mark(gauge)),
            ]
        })
        .collect();
    (!rows.is_empty()).then(|| PaperTable {
        caption: "Gauges".to_owned(),
        columns: vec![
            PaperColumn::text("Gauge", 1.0),
            column("Read"),
            column("Standard deviation"),
            column("Expected"),
            column("May show from"),
            column("to"),
            PaperColumn::text("Mark", 1.5),
        ],
        rows,
        notes: vec![format!(
            "Not as drawn: outside what it may show on a bar as drawn, by the same rule as the rows. Unless somebody entered another, \
             its own standard deviation is {} of full scale, assumed.",
            Measure::Percent.short_text(GAUGE_CLASS, units)
        )],
        ..PaperTable::default()
    })
}

/// What explains it, by odds, and what to look at next.
fn causes(found: Result<Explanation, NoAnswer>, is_as_drawn: Option<bool>, units: UnitSystem) -> Vec<Block> {
    let found = match found {
        Ok(found) => found,
        Err(why) => return vec![Block::Paragraph(sentence(&format!("Nothing explains this test: {why}")))],
    };
    let percent = |odds: f64| PaperCell::measure(Measure::Percent, Some(Ratio::from_si(odds)), units);
    let line = |(group, one): (usize, &Candidate)| {
        let of = &found.groups[group];
        let left = of.left().filter(|_| of.members.first() == Some(one));
        let why = match left {
            Some(left) => format!("{} Not explained by it: {left}", sentence(&one.why)),
            None => capital(&one.why),
        };
        vec![
            PaperCell::count(group + 1),
            percent(found.groups[group].odds),
            percent(one.odds),
            PaperCell::text(capital(&one.what)),
            PaperCell::text(why),
            PaperCell::text(capital(&one.then_also)),
            PaperCell::text(capital(one.advice(is_as_drawn))),
        ]
    };
    let (none, mut told): (Vec<_>, Vec<_>) =
        found.in_order().into_iter().partition(|(_, one)| one.cause.kind == CauseKind::NoneOfThese);
    let likely = told.iter().filter(|(_, one)| one.odds >= LEAST_ODDS).count().clamp(1, MOST_CAUSES);
    told.truncate(likely);
    // Groups stand by their odds; within one, causes stay by theirs.
    told.extend(none);
    told.sort_by_key(|(group, _)| *group);
    let others = 1.0 - told.iter().map(|(_, one)| one.odds).sum::<f64>();
    let mut rows: Vec<Vec<PaperCell>> = told.into_iter().map(line).collect();
    if others >= LEAST_SHOWN {
        let mut cells = vec![PaperCell::Empty; 7];
        cells[2] = percent(others);
        cells[3] = PaperCell::text("Others, not printed");
        rows.push(cells);
    }
    let mut notes = vec![
        "Causes of one group can't be told apart by this test. Odds are over all causes of the program's table, whose weights \
         before the test are common practice without a source; \"none of these\" is one of them."
            .to_owned(),
    ];
    notes.extend(found.cautions.iter().map(|one| sentence(one)));
    let mut blocks = vec![Block::Table(PaperTable {
        caption: "What explains it".to_owned(),
        columns: vec![
            PaperColumn::count("Group", 0.6),
            PaperColumn::measure("Odds that it is one of the group", Measure::Percent, units, 0.9),
            PaperColumn::measure("Odds that it is this", Measure::Percent, units, 0.8),
            PaperColumn::text("Cause", 2.2),
            PaperColumn::text("Why", 2.2),
            PaperColumn::text("Seen then too", 2.2),
            PaperColumn::text("What to do", 2.2),
        ],
        rows,
        notes,
        ..PaperTable::default()
    })];
    let outcomes = |look: &NextLook| {
        let each = look.outcomes.iter().map(|one| sentence(&format!("{}: {}", one.seen, one.means)));
        each.collect::<Vec<_>>().join(" ")
    };
    let looks = found.next.iter().map(|look| {
        vec![PaperCell::text(capital(&look.what)), PaperCell::text(outcomes(look)), PaperCell::FillIn]
    });
    if !found.next.is_empty() {
        blocks.push(Block::Table(PaperTable {
            caption: "What to look at next, the most telling first".to_owned(),
            columns: vec![
                PaperColumn::text("Look", 2.2),
                PaperColumn::text("What it would mean", 4.2),
                PaperColumn::text("Seen", 1.6),
            ],
            rows: looks.collect(),
            ..PaperTable::default()
        }));
    }
    if let Some(says) = found.no_look(is_as_drawn) {
        blocks.push(Block::Paragraph(sentence(&format!("what to look at next: {says}"))));
    }
    blocks
}

/// What the test tells of the numbers that were assumed.
fn calibration(of: &Studied<'_>, found: Result<Calibration, NoAnswer>) -> Vec<Block> {
    let found = match found {
        Ok(found) => found,
        Err(why) => {
            let words = format!("Nothing is calibrated by this test: {why}");
            return vec![Block::Paragraph(sentence(&words))];
        }
    };
    let units = of.project.units;
    let told = found.told.iter().map(|one| {
        vec![
            PaperCell::text(capital(&one.number.name(of))),
            PaperCell::text("told"),
            PaperCell::text(one.words(units)),
        ]
    });
    let refused = found.refused.iter().map(|one| {
        vec![
            PaperCell::text(capital(&one.number.name(of))),
            PaperCell::text("not told"),
            PaperCell::text(format!("{}; {}", one.words(of), one.would_tell)),
        ]
    });
    let mut notes: Vec<String> = found.remarks.iter().map(|one| sentence(one)).collect();
    if !found.told.is_empty() {
        notes.push(
            "Intervals are those of 95 % confidence. Nothing is taken over by this paper: that is a step of its own in the \
             program."
                .to_owned(),
        );
    }
    vec![Block::Table(PaperTable {
        caption: "What the readings tell of what was assumed".to_owned(),
        columns: vec![
            PaperColumn::text("Number", 2.2),
            PaperColumn::text("Verdict", 0.8),
            PaperColumn::text("In figures", 4.0),
        ],
        rows: told.chain(refused).collect(),
        notes,
        ..PaperTable::default()
    })]
}
