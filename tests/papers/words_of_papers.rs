//! All papers of a project, and a paper as plain text: for tests of what they say, and to read them.

#![allow(unreachable_pub, reason = "shared by a test file and an example")]

use equirow::plan::{Project, RoutingGeometry};
use equirow::sheets::commissioning::commissioning_sheet;
use equirow::sheets::cut_list;
use equirow::sheets::document::{Block, Document, PaperCell};
use equirow::sheets::fitting_steps::fitting_steps;
use equirow::sheets::joint_list::joint_list;
use equirow::sheets::parts_list;

/// Every paper of a routing.
pub fn papers(project: &Project) -> Vec<Document> {
    let geometry = RoutingGeometry::working(project, &project.routings[0]);
    let routing = geometry.with(&project.routings[0]);
    vec![
        parts_list::parts_list(project, routing, project.duties.first()),
        cut_list::cut_list(project, routing, project.duties.first()),
        cut_list::labels(project, routing, project.duties.first()),
        joint_list(project, routing, project.duties.first()),
        fitting_steps(project, routing, project.duties.first()),
        commissioning_sheet(project, routing, project.duties.first()),
    ]
}

/// All that a paper says, a line a piece.
pub fn words(document: &Document) -> String {
    let mut lines = vec![format!("== {}: {}", document.title, document.subject)];
    for block in &document.blocks {
        match block {
            Block::Heading(text) => lines.push(format!("-- {text}")),
            Block::Paragraph(text) => lines.push(text.clone()),
            Block::Facts(facts) => {
                lines.extend(facts.iter().map(|(name, value)| format!("{name}: {value}")));
            }
            Block::Caution(one) => lines.push(format!("{}: {}", one.signal.word(), one.text)),
            Block::Steps(steps) => {
                for (number, step) in (steps.first..).zip(&steps.steps) {
                    lines.push(format!("{number}. {}", step.text));
                    lines.extend(step.details.iter().map(|detail| format!("     {detail}")));
                    let more = [step.items_words(), step.hazard_words()].into_iter().flatten();
                    lines.extend(more.map(|words| format!("     {words}")));
                }
            }
            Block::Table(table) => {
                lines.push(format!("[{}]", table.caption));
                let headings: Vec<String> =
                    table.columns.iter().map(|column| column.heading_with_unit()).collect();
                lines.push(headings.join(" | "));
                for row in table.rows.iter().chain(&table.totals) {
                    let cells: Vec<&str> = row
                        .iter()
                        .map(|cell| if *cell == PaperCell::FillIn { "____" } else { cell.printed() })
                        .collect();
                    lines.push(cells.join(" | "));
                }
                lines.extend(table.notes.iter().map(|note| format!("* {note}")));
            }
            Block::Labels(strip) => {
                lines.push(strip.caption.clone());
                lines.extend(strip.labels.iter().map(|label| {
                    format!("<{}> {} {}, other end {}", label.tag, label.number, label.here, label.there)
                }));
            }
        }
    }
    lines.join("\n")
}
