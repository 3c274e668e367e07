//! The cut list as a paper, in the order of cutting, and the labels that go on what is cut.

use std::fmt::Write as _;

use super::basis::Basis;
use super::cautions;
use super::cut_plan::{Cut, CutPiece, CutPlan, Cutting, LABELS_A_PIECE, micrometres, rough_excess};
use super::document::{
    Block, Document, Label, LabelStrip, PaperCell, PaperColumn, PaperTable, RowGroup, Shown,
};
use super::items::number_of;
use crate::plan::cutting::{
    AS_CUT_HEADING, FINAL_HEADING, FITTED_HEADING, FROM_HEADING, REVISION_HEADING, STOCK_HEADING,
    TAG_HEADING, TO_HEADING, push_in_depth, rounding_words,
};
use crate::plan::{Duty, Item, LaidRouting, Limits, Project, StockItem, place_words, words};
use crate::quantities::{Length, Measure, Ratio};

/// The cut list as a paper: what to cut, in which order, and from which roll.
pub fn cut_list(project: &Project, routing: LaidRouting, duty: &Duty) -> Document {
    from_basis(&Basis::new(project, routing, duty))
}

/// The same, from what other papers may have worked out already.
pub(super) fn from_basis(basis: &Basis) -> Document {
    let (project, plan) = (basis.project, basis.cut_plan());
    let mut document = Document::new("Cut list", basis);
    document.open = basis.open_findings().unwrap_or_default();
    let waiting = plan.pieces.iter().filter(|piece| matches!(piece.cutting, Cutting::Rough { .. }));
    let waiting: Vec<String> = waiting.map(|piece| piece.tag.clone()).collect();
    if !waiting.is_empty() {
        document.blocks.push(Block::Caution(cautions::warning(&format!(
            "{} {} a hinge, and nobody has tried the length there on the bar: cut them roughly, {}, then \
             cut them to length. A stretched hose tears off under pressure, a slack one is crushed.",
            words::tags(&waiting),
            if waiting.len() == 1 { "crosses" } else { "cross" },
            "measure through the full fold with the hoses in place",
        ))));
    }
    document.blocks.push(Block::Table(cut_table(basis)));
    document.blocks.extend(changes(project).map(Block::Table));
    document.blocks.push(Block::Paragraph(
        "Cut square with a sharp cutter, leave no burr, and mark how deep each end goes into its fitting before pushing \
         it in. Write down each length as it was cut: read back into the project, they take the place of the computed ones."
            .to_owned(),
    ));
    if !plan.pieces.is_empty() {
        let last = if waiting.is_empty() {
            String::new()
        } else {
            format!(
                " Of a rough cut write the length that it has after the fold trial, and yes under {FINAL_HEADING}: a rough length is \
                 not taken."
            )
        };
        document.blocks.push(Block::Paragraph(format!(
            "How this list comes back: type what was written into the same list saved as CSV (equirow cuts), under \
             \"{AS_CUT_HEADING}\"{}; then in the window Project, \"{READ_BACK}\", or equirow as-cut PROJECT --list CUTS.csv --out \
             NEW.ron.{last}",
            if waiting.is_empty() { String::new() } else { format!(" and \"{FINAL_HEADING}\"") }
        )));
    }
    if !plan.stocks.is_empty() {
        document.blocks.push(Block::Table(stock_table(basis)));
    }
    document.blocks.extend(cautions::blocks());
    document
}

/// The command of the window that reads a filled-in list back.
const READ_BACK: &str = "Read lengths as cut…";

/// What the newest revisions changed: what was, and what is; lengths that changed alike as one.
fn changes(project: &Project) -> Option<PaperTable> {
    let units = project.units;
    let mut rows: Vec<Vec<PaperCell>> = Vec::new();
    let length = |one: Option<Length>| PaperCell::measure(Measure::CutLength, one, units);
    for one in project.title.changes.iter().take(MOST_CHANGES) {
        let mut line = |what: &str, was: PaperCell, is: PaperCell| {
            let [index, routing] = [&one.index, &one.routing].map(|words| PaperCell::text(words.as_str()));
            rows.push(vec![index, routing, PaperCell::text(what), was, is]);
        };
        if !one.note.is_empty() {
            line(&one.note, PaperCell::Empty, PaperCell::Empty);
        } else if one.lengths.is_empty() {
            line("all lengths as cut are those of the list", PaperCell::Empty, PaperCell::Empty);
        }
        let mut alike: Vec<(PaperCell, PaperCell, Vec<String>)> = Vec::new();
        for changed in &one.lengths {
            let was = changed.was.map_or_else(|| PaperCell::text("not known"), |was| length(Some(was)));
            let is = length(Some(changed.is));
            match alike.iter_mut().find(|known| (&known.0, &known.1) == (&was, &is)) {
                Some(known) => known.2.push(changed.tag.clone()),
                None => alike.push((was, is, vec![changed.tag.clone()])),
            }
        }
        for (was, is, tags) in alike {
            line(&format!("length as cut of {}", words::tags(&tags)), was, is);
        }
    }
    let older = project.title.changes.len().saturating_sub(MOST_CHANGES);
    let notes = (older > 0).then(|| format!("{} before these.", words::counted(older, "revision")));
    (!rows.is_empty()).then(|| PaperTable {
        caption: "Changes".to_owned(),
        columns: vec![
            PaperColumn::text("Revision", 1.0),
            PaperColumn::text("Routing", 1.0),
            PaperColumn::text("What changed", 5.0),
            PaperColumn::measure("Was", Measure::CutLength, units, 1.0),
            PaperColumn::measure("Is", Measure::CutLength, units, 1.0),
        ],
        rows,
        notes: notes.into_iter().collect(),
        ..PaperTable::default()
    })
}

/// So many revisions are listed.
const MOST_CHANGES: usize = 3;

/// What the cuts of one group have in common.
#[derive(PartialEq)]
struct Common<'a> {
    stage: u8,
    stock: &'a str,
    roll: Option<usize>,
    known: bool,
}

fn common<'a>(plan: &'a CutPlan, cut: &Cut) -> Common<'a> {
    let piece = &plan.pieces[cut.piece];
    Common {
        stage: piece.cutting.stage(),
        stock: &piece.stock.0,
        roll: cut.roll,
        known: piece.length.is_some(),
    }
}

/// What the pieces of a group all end at, where that is one kind of element at a row: it is then said once.
fn one_end<'a>(pieces: &[&'a CutPiece]) -> Option<&'a str> {
    let (first, _) = pieces.first()?.to_element.as_ref()?;
    let same = |piece: &&CutPiece| piece.to_element.as_ref().is_some_and(|(kind, _)| kind == first);
    pieces.iter().all(same).then_some(first)
}

/// What stands above the cuts of a group.
fn group_words(basis: &Basis, common: &Common, pieces: &[&CutPiece]) -> String {
    let (project, plan) = (basis.project, basis.cut_plan());
    let units = project.units;
    let entry = pieces.first().and_then(|piece| project.catalogue.entry(&piece.stock));
    let mut says = entry.map_or_else(|| common.stock.to_owned(), |entry| entry.description.clone());
    if let Some(number) = pieces.first().and_then(|piece| number_of(basis.items(), &piece.stock)) {
        let _ = write!(says, " (item {number})");
    }
    if !common.known {
        return format!("Do not cut yet, an end is not connected: {says}");
    }
    let stock = plan.stocks.iter().find(|stock| stock.stock.0 == common.stock);
    match (common.roll, stock.and_then(|stock| stock.packing.as_ref())) {
        (Some(roll), Some(packing)) => {
            let left = packing.left.get(roll - 1).copied().unwrap_or_default();
            let _ = write!(
                says,
                ", roll {roll} of {}, {} left over",
                Measure::Distance.short_text(micrometres(packing.roll).si(), units),
                Measure::Distance.text(micrometres(left).si(), units)
            );
        }
        (None, Some(_)) => says.push_str(", longer than a roll: order one length, or join two"),
        _ => says.push_str(", roll length not in the catalogue: ask how it is sold"),
    }
    if let Some(end) = one_end(pieces) {
        let _ = write!(says, "; each to the {end} there");
    }
    match pieces.first().map(|piece| piece.cutting) {
        Some(Cutting::Rough { .. }) => format!(
            "Rough cuts, {} longer for each hinge: {says}",
            Measure::CutLength.short_text(rough_excess(project).si(), units)
        ),
        Some(Cutting::Last) => format!("Last, {}: {says}", hitched_words(project)),
        _ => says,
    }
}

/// Where the supply hose starts, or that nobody said.
fn hitched_words(project: &Project) -> String {
    if !project.supply.pump_is_placed() {
        return "nobody said where the pump is: measure on the tractor".to_owned();
    }
    let pump = place_words::pump(project, project.units);
    format!("when the bar is hitched (pump outlet {pump})")
}

/// One line a cut, in the order of cutting.
fn cut_table(basis: &Basis) -> PaperTable {
    let (project, plan) = (basis.project, basis.cut_plan());
    let units = project.units;
    let mut rows: Vec<Vec<PaperCell>> = Vec::new();
    let mut groups: Vec<RowGroup> = Vec::new();
    // Each with the places of the pieces that it is said of.
    let mut remarks: Vec<(&str, Vec<usize>)> = Vec::new();
    for cuts in plan.cuts.chunk_by(|a, b| common(plan, a) == common(plan, b)) {
        let pieces: Vec<&CutPiece> = cuts.iter().map(|cut| &plan.pieces[cut.piece]).collect();
        let words = group_words(basis, &common(plan, &cuts[0]), &pieces);
        let end = one_end(&pieces);
        groups.push(RowGroup { before: rows.len(), words });
        for (cut, piece) in cuts.iter().zip(pieces) {
            for remark in &piece.remarks {
                match remarks.iter_mut().find(|one| one.0 == remark) {
                    Some(one) => one.1.push(cut.piece),
                    None => remarks.push((remark, vec![cut.piece])),
                }
            }
            let entry = project.catalogue.entry(&piece.stock);
            let short = end.and(piece.to_element.as_ref()).map_or(&piece.to, |(_, of)| of);
            let mut said = piece.remarks.clone();
            if plan.is_too_long(cut.piece) {
                said.push("Longer than a roll: order one length, or join two".to_owned());
            }
            match piece.cutting {
                Cutting::Finished => {}
                Cutting::Rough { excess } => said.push(format!(
                    "Rough cut, {} over; cut to length after the fold trial: write that length, and yes under {FINAL_HEADING}",
                    Measure::CutLength.short_text(excess.si(), units)
                )),
                Cutting::Last => said.push(format!("Cut last, {}", hitched_words(project))),
            }
            rows.push(vec![
                PaperCell::count(cut.number),
                PaperCell::text(piece.tag.as_str()),
                PaperCell::text(piece.from.as_str()),
                PaperCell::text(short.as_str()),
                PaperCell::text(piece.to.as_str()),
                PaperCell::text(entry.map_or(piece.stock.0.as_str(), |entry| entry.description.as_str())),
                PaperCell::text(entry.map_or("", |entry| entry.part_number.as_str())),
                PaperCell::measure(Measure::CutLength, piece.length, units),
                PaperCell::measure(Measure::CutLength, piece.length_to_cut(), units),
                PaperCell::measure(Measure::CutLength, piece.length.filter(|_| is_rough(piece)), units),
                cut.roll.map_or(PaperCell::Empty, PaperCell::count),
                PaperCell::Tick,
                PaperCell::FillIn,
                // Whoever cuts it to length says so here; a length read back is not taken before.
                match piece.cutting {
                    Cutting::Rough { .. } => PaperCell::text("no"),
                    Cutting::Finished | Cutting::Last => PaperCell::Empty,
                },
                match piece.cutting {
                    Cutting::Rough { .. } => PaperCell::FillIn,
                    Cutting::Finished | Cutting::Last => PaperCell::Empty,
                },
                PaperCell::text(said.join(". ")),
                PaperCell::text(project.title.revision.trim()),
            ]);
        }
    }
    let mut notes = vec![
        rounding_words(units).to_owned(),
        format!(
            "Hoses are measured from port to port, tubes from the outlet's face to where the row's liquid leaves. What an end goes \
             into its fitting is not in these lengths, what check valves, holders and fittings take up of the way is not taken \
             off: hold each piece in place before cutting it.{}",
            pushed_in(basis)
        ),
    ];
    notes.extend(remarks.into_iter().map(|(remark, mut places)| {
        // In the order of the routing, so that neighbours read as a range.
        places.sort_unstable();
        let tags: Vec<String> =
            places.into_iter().filter_map(|at| Some(plan.pieces.get(at)?.tag.clone())).collect();
        format!("{}: {}.", words::tags(&tags), super::extras::lower(remark))
    }));
    let mut table = PaperTable {
        caption: "Hoses and tubes to cut".to_owned(),
        columns: vec![
            PaperColumn::count("Cut", 0.5),
            PaperColumn::text(TAG_HEADING, 0.7),
            PaperColumn::text(FROM_HEADING, 1.6),
            PaperColumn::text(TO_HEADING, 1.6).only(Shown::OnPages),
            PaperColumn::text(TO_HEADING, 2.6).only(Shown::InFiles),
            PaperColumn::text(STOCK_HEADING, 3.4).only(Shown::InFiles),
            PaperColumn::text("Part number", 1.6).only(Shown::InFiles),
            PaperColumn::measure(FITTED_HEADING, Measure::CutLength, units, 1.5).only(Shown::InFiles),
            PaperColumn::measure("Cut length", Measure::CutLength, units, 1.0),
            PaperColumn::measure(AFTER_TRIAL, Measure::CutLength, units, 1.3).only(Shown::OnPages),
            PaperColumn::count("Roll", 0.8).only(Shown::InFiles),
            PaperColumn::text("", 0.3).only(Shown::OnPages),
            PaperColumn::measure(AS_CUT_HEADING, Measure::CutLength, units, 1.1),
            PaperColumn::text(FINAL_HEADING, 0.6).only(Shown::InFiles),
            PaperColumn::text(FINAL_HEADING, 0.6).only(Shown::OnPages),
            PaperColumn::text("Remarks", 5.0).only(Shown::InFiles),
            PaperColumn::text(REVISION_HEADING, 0.8).only(Shown::InFiles),
        ],
        rows,
        groups,
        totals: Vec::new(),
        notes,
    };
    if !plan.pieces.iter().any(is_rough) {
        let for_rough = |column: &PaperColumn| {
            column.shown == Shown::OnPages && [AFTER_TRIAL, FINAL_HEADING].contains(&column.heading.as_str())
        };
        while let Some(at) = table.columns.iter().position(for_rough) {
            table.columns.remove(at);
            for row in &mut table.rows {
                row.remove(at);
            }
        }
    }
    table
}

/// Where each tube is marked that goes into a push-in end; nothing where no tube is cut.
fn pushed_in(basis: &Basis) -> String {
    let (project, units) = (basis.project, basis.project.units);
    let mut marks: Vec<String> = Vec::new();
    for stock in &basis.cut_plan().stocks {
        let Some(Item::Stock(StockItem::Tube(tube))) = project.catalogue.item(&stock.stock) else { continue };
        let text = |length: Length| Measure::Bore.short_text(length.si(), units);
        let mark = format!("{} for {} outside", text(push_in_depth(tube.outside)), text(tube.outside));
        if !marks.contains(&mark) {
            marks.push(mark);
        }
    }
    if marks.is_empty() {
        return String::new();
    }
    format!(
        " Into a push-in end a tube goes about {} (ASSUMED, usual depths: the maker's figure goes first); mark it there, and take it \
         from the loop at the opener, or cut a tube without one so much longer at each such end.",
        words::list(&marks)
    )
}

/// Heading of the column for what is left of a rough cut, on paper only: files have it as the fitted length.
const AFTER_TRIAL: &str = "After trial about";

const fn is_rough(piece: &CutPiece) -> bool {
    matches!(piece.cutting, Cutting::Rough { .. })
}

/// What each stock takes, in one line.
fn stock_table(basis: &Basis) -> PaperTable {
    let (project, plan) = (basis.project, basis.cut_plan());
    let units = project.units;
    let trim = project.limits.cut_trim;
    let distance = |heading: &str, width| PaperColumn::measure(heading, Measure::Distance, units, width);
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
                PaperCell::text(entry.map_or(stock.stock.0.as_str(), |entry| entry.description.as_str())),
                PaperCell::count(stock.pieces.len()),
                PaperCell::measure(Measure::Distance, Some(stock.total), units),
                PaperCell::measure(Measure::Distance, Some(stock.longest), units),
                PaperCell::measure(Measure::Distance, packing.map(|one| micrometres(one.roll)), units),
                packing.map_or(PaperCell::Empty, |one| PaperCell::count(one.rolls.len())),
                packing.map_or(PaperCell::Empty, |one| PaperCell::count(one.least_rolls)),
                PaperCell::measure(Measure::Distance, left.map(|one| one.0), units),
                PaperCell::measure(Measure::Percent, left.map(|one| Ratio::from_si(one.1)), units),
            ]
        })
        .collect();
    PaperTable {
        caption: "Rolls".to_owned(),
        columns: vec![
            PaperColumn::text("Stock", 3.4),
            PaperColumn::count("Pieces", 1.0),
            distance("Total", 1.2),
            distance("Longest", 1.2),
            distance("Roll", 1.2),
            PaperColumn::count("Rolls", 0.9),
            PaperColumn::count("At least", 1.0),
            distance("Left over", 1.3),
            PaperColumn::measure("Left over", Measure::Percent, units, 1.3),
        ],
        rows,
        notes: vec![format!(
            "Finished lengths are cut from the longest down, each from the first roll that still has enough (first-fit \
             decreasing){}. No way of cutting takes fewer rolls than \"at least\". Each cut takes {} more of its roll, for a square \
             end{}: in the totals and in what is left over.",
            if plan.pieces.iter().any(|piece| piece.cutting != Cutting::Finished) {
                "; rough cuts and the supply hose come off what they leave"
            } else {
                ""
            },
            Measure::CutLength.short_text(trim.si(), units),
            if trim == Limits::default().cut_trim { " (ASSUMED)" } else { "" }
        )],
        ..PaperTable::default()
    }
}

/// Labels for both ends of every hose and tube, to print and cut out.
pub fn labels(project: &Project, routing: LaidRouting, duty: &Duty) -> Document {
    labels_from_basis(&Basis::new(project, routing, duty))
}

/// The same, from what other papers may have worked out already.
pub(super) fn labels_from_basis(basis: &Basis) -> Document {
    let mut document = Document::new("Hose and tube labels", basis);
    // What the bar is made for stands on the list before them.
    document.blocks.clear();
    let labels = each_label(basis).map(|(cut, piece, this, other)| Label {
        tag: piece.tag.clone(),
        number: cut,
        here: this.to_owned(),
        there: other.to_owned(),
    });
    document.blocks.push(Block::Labels(LabelStrip {
        caption: "One label round each end once the piece has its last length: tag and number of the cut, this end, and the \
                  other end; a rough cut bears its tag in pen until then"
            .to_owned(),
        labels: labels.collect(),
    }));
    document
}

/// The same as a table, one label a line, for a label printer.
pub fn label_table(project: &Project, routing: LaidRouting, duty: &Duty) -> Document {
    let basis = Basis::new(project, routing, duty);
    let mut document = Document::new("Hose and tube labels", &basis);
    document.blocks.clear();
    let rows = each_label(&basis).map(|(cut, piece, this, other)| {
        vec![
            PaperCell::text(piece.tag.as_str()),
            PaperCell::text(this),
            PaperCell::text(other),
            PaperCell::count(cut),
            PaperCell::measure(Measure::CutLength, piece.length, project.units),
        ]
    });
    document.blocks.push(Block::Table(PaperTable {
        caption: "Labels".to_owned(),
        columns: vec![
            PaperColumn::text(TAG_HEADING, 1.0),
            PaperColumn::text("This end", 2.6),
            PaperColumn::text("Other end", 2.6),
            PaperColumn::count("Cut", 0.8),
            PaperColumn::measure(FITTED_HEADING, Measure::CutLength, project.units, 1.5),
        ],
        rows: rows.collect(),
        ..PaperTable::default()
    }));
    document
}

/// The labels of all pieces in the order of cutting, on the page and in files alike: number of the cut, piece, its end there, and its other end.
fn each_label<'a>(basis: &'a Basis) -> impl Iterator<Item = (usize, &'a CutPiece, &'a str, &'a str)> {
    let plan = basis.cut_plan();
    plan.cuts.iter().flat_map(|cut| {
        let piece = &plan.pieces[cut.piece];
        let (from, to) = (piece.from.as_str(), piece.to.as_str());
        let both: [_; LABELS_A_PIECE] = [(cut.number, piece, from, to), (cut.number, piece, to, from)];
        both
    })
}
