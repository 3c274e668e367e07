//! How the bar behaves: what the studies say of the routing at the duty's usual speed, for whoever sets the bar up and for
//! the next person who looks after it.

use super::basis::Basis;
use super::document::{Block, Document, PaperCell, PaperColumn, PaperTable};
use crate::plan::words::capital;
use crate::quantities::{Measure, UnitSystem};
use crate::studies::report::{OnPaper, StudyCell, StudyMark, StudyReport, StudyTable};
use crate::studies::{Studied, Study, StudyOptions, Unwatched, answer};

/// The studies that the paper sums up, in its order: what only helps to design stays in the window.
const STUDIES: [Study; 4] = [Study::Metering, Study::Conditions, Study::Tolerance, Study::Prime];

/// Bars that are built for the paper: enough for its sentences, and few enough that a set is drawn within a second or two.
const BARS: u32 = 200;

/// The paper. A study that has no answer says why.
pub fn from_basis(basis: &Basis) -> Document {
    let units = basis.project.units;
    let mut document = Document::new("Behaviour", basis);
    let of = Studied { project: basis.project, routing: basis.routing, point: basis.duty.usual_point() };
    for study in STUDIES {
        document.blocks.push(Block::Heading(study.title().to_owned()));
        match answer(study, &of, &StudyOptions { bars: Some(BARS), ..StudyOptions::default() }, &Unwatched) {
            Ok(report) => document.blocks.extend(blocks(&report, units)),
            Err(why) => document.blocks.push(Block::Paragraph(sentence(&why.to_string()))),
        }
    }
    document
}

fn blocks(report: &StudyReport, units: UnitSystem) -> Vec<Block> {
    let words = report.answer.iter().chain(&report.warnings).map(|line| sentence(line)).collect::<Vec<_>>();
    let tables = report.tables.iter().filter_map(|table| printed(table, units)).map(Block::Table);
    std::iter::once(Block::Paragraph(words.join(" "))).chain(tables).collect()
}

/// What of a table goes on paper.
fn printed(table: &StudyTable, units: UnitSystem) -> Option<PaperTable> {
    let lines: Vec<_> = table
        .rows
        .iter()
        .filter(|row| match table.on_paper {
            OnPaper::Nothing => false,
            OnPaper::Whole => row.on_paper,
        })
        .collect();
    if lines.is_empty() {
        return None;
    }
    let has_marks = lines.iter().any(|row| row.mark != StudyMark::None);
    let texts: Vec<Vec<String>> = lines.iter().map(|row| row.texts(&table.columns, units)).collect();
    let shown = |at: &usize| table.columns.get(*at).is_some_and(|column| column.on_paper);
    let mut columns: Vec<PaperColumn> = table
        .columns
        .iter()
        .enumerate()
        .filter(|(at, _)| shown(at))
        .map(|(at, column)| {
            let cells = texts.iter().filter_map(|line| line.get(at)).map(|cell| cell.chars().count());
            let word = |heading: &str| heading.split(' ').map(|word| word.chars().count()).max().unwrap_or(0);
            let width = cells.max().unwrap_or(0).max(word(&column.heading(units))) as f64 + 1.0;
            match column.measure {
                Some(measure) => PaperColumn::measure(column.name.as_str(), measure, units, width),
                None => PaperColumn::text(column.name.as_str(), width),
            }
        })
        .collect();
    if has_marks {
        columns.push(PaperColumn::text("", 13.0));
    }
    let rows = lines
        .iter()
        .map(|row| {
            let cells = row
                .cells
                .iter()
                .zip(&table.columns)
                .filter(|(_, column)| column.on_paper)
                .map(|(cell, column)| printed_cell(cell, column.measure, units));
            let mark = has_marks.then(|| PaperCell::text(row.mark.word()));
            cells.chain(mark).collect()
        })
        .collect();
    Some(PaperTable {
        caption: table.title.clone(),
        columns,
        rows,
        totals: Vec::new(),
        groups: Vec::new(),
        notes: table.notes.iter().map(|note| sentence(note)).collect(),
    })
}

fn printed_cell(cell: &StudyCell, measure: Option<Measure>, units: UnitSystem) -> PaperCell {
    let text = cell.text(measure, units);
    match cell {
        // Read back from the text, so that both hold the same digits.
        StudyCell::Number(_) | StudyCell::Signed(_) => match text.replace('−', "-").parse() {
            Ok(value) => PaperCell::Number { text, value },
            Err(_) => PaperCell::text(text),
        },
        StudyCell::Words(_) | StudyCell::Unknown(_) | StudyCell::Empty => PaperCell::text(text),
    }
}

/// Words as a sentence: its first letter large, a full stop at its end.
fn sentence(words: &str) -> String {
    format!("{}.", capital(words).trim_end_matches('.'))
}
