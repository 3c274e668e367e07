//! The cut list as a paper, and the labels that go on what is cut.

use super::basis::Basis;
use super::cautions;
use super::cut_plan::{CutPlan, THROUGH_THE_FOLD, micrometres};
use super::document::{Block, Cell, Column, Document, Label, LabelStrip, Table};
use crate::plan::cutting::rounding_words;
use crate::plan::{Duty, LaidRouting, Project, words};
use crate::quantities::{Measure, Ratio};

/// The cut list as a paper: what to cut, and from which roll.
pub fn cut_list(project: &Project, routing: LaidRouting, duty: &Duty) -> Document {
    from_basis(&Basis::new(project, routing, duty))
}

/// The same, from what other papers may have worked out already.
pub(super) fn from_basis(basis: &Basis) -> Document {
    let (project, plan) = (basis.project, basis.cut_plan());
    let mut document = Document::new("Cut list", basis);
    let touched = plan.pieces.iter().filter(|piece| piece.crosses_hinge);
    let touched: Vec<String> = touched.map(|piece| piece.tag.clone()).collect();
    if !touched.is_empty() {
        document.blocks.push(Block::Caution(cautions::warning(&format!(
            "{} {} a hinge, and the extra length there was entered or left out, not computed: {THROUGH_THE_FOLD}. A \
             stretched hose tears off under pressure, a slack one is crushed.",
            words::tags(&touched),
            if touched.len() == 1 { "crosses" } else { "cross" },
        ))));
    }
    document.blocks.push(Block::Table(piece_table(project, plan)));
    if !plan.stocks.is_empty() {
        document.blocks.push(Block::Table(stock_table(project, plan)));
        document.blocks.extend(roll_table(project, plan).map(Block::Table));
    }
    document.blocks.push(Block::Paragraph(
        "Cut square with a sharp cutter, leave no burr, and mark how deep each end goes into its fitting before pushing \
         it in."
            .to_owned(),
    ));
    document.blocks.extend(cautions::blocks());
    document
}

fn piece_table(project: &Project, plan: &CutPlan) -> Table {
    let units = project.units;
    let rows = plan.pieces.iter().enumerate().map(|(index, piece)| {
        let entry = project.catalogue.entry(&piece.stock);
        let mut remarks = piece.remarks.clone();
        if piece.length.is_none() {
            remarks.push("Length not known: an end is not connected".to_owned());
        }
        let too_long = plan.stocks.iter().any(|stock| {
            let at = stock.pieces.iter().position(|one| *one == index);
            at.zip(stock.packing.as_ref()).is_some_and(|(at, packing)| packing.too_long.contains(&at))
        });
        if too_long {
            remarks.push("Longer than a roll: order one length, or join two".to_owned());
        }
        vec![
            Cell::text(piece.tag.as_str()),
            Cell::text(piece.from.as_str()),
            Cell::text(piece.to.as_str()),
            Cell::text(entry.map_or(piece.stock.0.as_str(), |entry| entry.description.as_str())),
            Cell::text(entry.map_or("", |entry| entry.part_number.as_str())),
            Cell::measure(Measure::CutLength, piece.length, units),
            plan.roll_of(index).map_or(Cell::Empty, Cell::count),
            Cell::text(remarks.join(". ")),
        ]
    });
    Table {
        caption: "Hoses and tubes to cut".to_owned(),
        columns: vec![
            Column::text("Tag", 1.0),
            Column::text("From", 2.2),
            Column::text("To", 2.6),
            Column::text("Stock", 3.4),
            Column::text("Part number", 1.6),
            Column::measure("Cut length", Measure::CutLength, units, 1.5),
            Column::count("Roll", 0.8),
            Column::text("Remarks", 5.0),
        ],
        rows: rows.collect(),
        totals: Vec::new(),
        notes: vec![rounding_words(units).to_owned()],
    }
}

fn stock_table(project: &Project, plan: &CutPlan) -> Table {
    let units = project.units;
    let distance = |heading: &str, width| Column::measure(heading, Measure::Distance, units, width);
    let mut notes = Vec::new();
    let rows = plan
        .stocks
        .iter()
        .map(|stock| {
            let entry = project.catalogue.entry(&stock.stock);
            let packing = stock.packing.as_ref();
            let left = packing.map(|packing| {
                let left: u64 = packing.left.iter().sum();
                (micrometres(left), left as f64 / (packing.roll * packing.rolls.len().max(1) as u64) as f64)
            });
            vec![
                Cell::text(entry.map_or(stock.stock.0.as_str(), |entry| entry.description.as_str())),
                Cell::count(stock.pieces.len()),
                Cell::measure(Measure::Distance, Some(stock.total), units),
                Cell::measure(Measure::Distance, Some(stock.longest), units),
                Cell::measure(Measure::Distance, packing.map(|one| micrometres(one.roll)), units),
                packing.map_or(Cell::Empty, |one| Cell::count(one.rolls.len())),
                packing.map_or(Cell::Empty, |one| Cell::count(one.least_rolls)),
                Cell::measure(Measure::Distance, left.map(|one| one.0), units),
                Cell::measure(Measure::Percent, left.map(|one| Ratio::from_si(one.1)), units),
            ]
        })
        .collect();
    if plan.stocks.iter().any(|stock| stock.packing.is_none()) {
        notes.push(
            "Without a roll length in the catalogue no cutting plan is made: ask how it is sold.".to_owned(),
        );
    }
    notes.push(
        "Each roll is cut from the longest piece down, a piece from the first roll that still has enough (first-fit \
         decreasing). No way of cutting takes fewer rolls than \"at least\". Nothing is lost at a cut; what is left is \
         waste only if nobody uses it."
            .to_owned(),
    );
    Table {
        caption: "Rolls".to_owned(),
        columns: vec![
            Column::text("Stock", 3.4),
            Column::count("Pieces", 1.0),
            distance("Total", 1.2),
            distance("Longest", 1.2),
            distance("Roll", 1.2),
            Column::count("Rolls", 0.9),
            Column::count("At least", 1.0),
            distance("Left over", 1.3),
            Column::measure("Left over", Measure::Percent, units, 1.3),
        ],
        rows,
        totals: Vec::new(),
        notes,
    }
}

/// One line a roll: what is cut from it, in the order it is cut.
fn roll_table(project: &Project, plan: &CutPlan) -> Option<Table> {
    let units = project.units;
    let mut rows = Vec::new();
    for stock in &plan.stocks {
        let Some(packing) = &stock.packing else { continue };
        let description =
            project.catalogue.entry(&stock.stock).map_or(stock.stock.0.as_str(), |entry| &entry.description);
        for (number, (pieces, left)) in packing.rolls.iter().zip(&packing.left).enumerate() {
            let tags: Vec<String> =
                pieces.iter().map(|at| plan.pieces[stock.pieces[*at]].tag.clone()).collect();
            rows.push(vec![
                Cell::text(description),
                Cell::count(number + 1),
                Cell::count(tags.len()),
                Cell::text(words::list(&tags)),
                Cell::measure(Measure::Distance, Some(micrometres(*left)), units),
            ]);
        }
    }
    (!rows.is_empty()).then(|| Table {
        caption: "What is cut from each roll".to_owned(),
        columns: vec![
            Column::text("Stock", 2.4),
            Column::count("Roll", 0.7),
            Column::count("Pieces", 0.8),
            Column::text("In this order", 8.0),
            Column::measure("Left over", Measure::Distance, units, 1.3),
        ],
        rows,
        ..Table::default()
    })
}

/// Labels for both ends of every hose and tube.
pub fn labels(project: &Project, routing: LaidRouting, duty: &Duty) -> Document {
    labels_from_basis(&Basis::new(project, routing, duty))
}

/// The same, from what other papers may have worked out already.
pub(super) fn labels_from_basis(basis: &Basis) -> Document {
    let project = basis.project;
    let mut document = Document::new("Hose and tube labels", basis);
    let labels = basis.cut_plan().pieces.iter().flat_map(|piece| {
        let length = piece.length.map_or_else(
            || "length not known".to_owned(),
            |length| Measure::CutLength.text(length.si(), project.units),
        );
        let label = |this: &str, other: &str| Label {
            tag: piece.tag.clone(),
            way: format!("{length}. This end: {this}. Other end: {other}"),
        };
        [label(&piece.from, &piece.to), label(&piece.to, &piece.from)]
    });
    document.blocks.push(Block::Labels(LabelStrip {
        caption: "One label round each end, before the piece is fitted".to_owned(),
        labels: labels.collect(),
    }));
    document.blocks.push(Block::Paragraph(cautions::FIRST.to_owned()));
    document
}
