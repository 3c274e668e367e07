//! Which lines belong to which table, and what each is there.

use super::columns::{CatchColumns, PressureColumns, row_number};
use super::found::CatchChoices;
use super::grid::GridLine;
use crate::plan::CaughtLiquid;
use crate::quantities::number_marks::decimal_mark;

/// What a line is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum LineKind {
    /// The headings of a table of catches, by its place in [`Tables::catches`].
    Headings(usize),
    /// A line of one.
    Catch(usize),
    /// A line of pressures, by its place in [`Tables::pressures`].
    Pressures(usize),
    /// Cells that were pasted without headings.
    Bare,
    /// Names and values.
    Facts,
    /// Nothing to read.
    Nothing,
}

/// The tables of a text or workbook.
#[derive(Default)]
pub(super) struct Tables {
    pub(super) catches: Vec<CatchColumns>,
    /// Pressures at ground speeds, with this liquid.
    pub(super) pressures: Vec<(PressureColumns, CaughtLiquid)>,
    /// What each line is.
    pub(super) lines: Vec<LineKind>,
}

impl Tables {
    /// Parts lines into tables.
    pub(super) fn of(lines: &[GridLine], choices: &CatchChoices) -> Self {
        let mut found = Self::default();
        let mut now = LineKind::Facts;
        let mut caption = "";
        // What a word alone in its line has ended, which may have been a remark.
        let mut ended: Option<usize> = None;
        for line in lines {
            let kind = if let Some(columns) = CatchColumns::of(&line.cells) {
                found.catches.push(columns);
                now = LineKind::Catch(found.catches.len() - 1);
                LineKind::Headings(found.catches.len() - 1)
            } else if let Some(columns) = PressureColumns::of(&line.cells) {
                // As the sheet heads it; a liquid's own name may end in the word.
                let is_water = caption == "Pressures and total flow, water";
                let liquid = if is_water { CaughtLiquid::Water } else { CaughtLiquid::Product };
                found.pressures.push((columns, liquid));
                now = LineKind::Pressures(found.pressures.len() - 1);
                LineKind::Nothing
            } else if let [alone] = line.cells.as_slice()
                && (!choices.pasted || !found.catches.is_empty())
            {
                // The caption of the table that follows; a number alone is a row that was not caught.
                if row_number(alone).is_err() {
                    caption = alone;
                    if let LineKind::Catch(at) = std::mem::replace(&mut now, LineKind::Facts) {
                        ended = Some(at);
                    }
                }
                LineKind::Nothing
            } else {
                if now == LineKind::Facts
                    && let Some(at) = ended.take_if(|at| found.catches[*at].holds_catch(&line.cells))
                {
                    now = LineKind::Catch(at);
                }
                let is_blank = line.cells.iter().all(String::is_empty);
                match now {
                    _ if is_blank => LineKind::Nothing,
                    LineKind::Facts if choices.pasted && found.catches.is_empty() => LineKind::Bare,
                    now => now,
                }
            };
            found.lines.push(kind);
        }
        found
    }

    /// Which mark parts off decimals in the amounts, by those that leave no doubt.
    pub(super) fn decimal_mark(&self, lines: &[GridLine]) -> Option<char> {
        let cells = lines.iter().zip(&self.lines).flat_map(|(line, kind)| {
            let columns = match *kind {
                LineKind::Catch(at) => self.catches[at].amounts.iter().map(|column| column.at).collect(),
                LineKind::Bare => vec![line.cells.len().saturating_sub(1)],
                _ => Vec::new(),
            };
            columns.into_iter().filter_map(|at| line.cells.get(at)).map(String::as_str)
        });
        decimal_mark(cells)
    }
}
