//! The figures of the rows below a wing, one column a row; what all of its rows have alike is said once.

use super::sheets::{LEGEND, LayoutSheet, NAMES, RIGHT_ROOM, STRIP_FEED, STRIP_GAP};
use crate::drawing::label_places::spread;
use crate::drawing::layout_tables::{NONE, row_cells, row_heading};
use crate::drawing::paper::USUAL;
use crate::drawing::sheet_source::SheetSource;
use crate::plan::Row;

/// The lines of figures under a wing.
pub(super) struct RowStrip<'a> {
    pub(super) rows: Vec<&'a Row>,
    /// Name, height and one cell a row of each line.
    pub(super) lines: Vec<(String, f64, Vec<String>)>,
    /// Reads upwards: the columns are too narrow for level words.
    pub(super) upright: bool,
    /// Middle of each column, as if the bar's origin lay at 0.
    pub(super) columns: Vec<f64>,
    /// What all rows here have alike; empty where nothing is.
    pub(super) alike: String,
    /// All figures have room; the numbers of the rows alone otherwise.
    pub(super) is_whole: bool,
}

/// Columns of upright figures are at least so far apart.
pub(super) const UPRIGHT: f64 = USUAL * 1.4;

impl<'a> RowStrip<'a> {
    /// The strip of a sheet: all figures of its rows, or their numbers alone where there is no room for more; none where they are
    /// too close for figures at this scale.
    pub(super) fn of(source: &SheetSource<'a>, sheet: &LayoutSheet, depth: f64) -> Option<Self> {
        let bar = &source.project.bar;
        let here = |row: &&Row| {
            sheet.sections.contains(&row.section) && (sheet.span.0..=sheet.span.1).contains(&row.x.si())
        };
        let mut rows: Vec<&Row> = bar.rows.iter().filter(here).collect();
        rows.sort_by(|a, b| a.x.si().total_cmp(&b.x.si()));
        let names = row_heading(source);
        let cells: Vec<Vec<String>> = rows.iter().map(|row| row_cells(source, row)).collect();
        let mut alike = Vec::new();
        let mut lines = Vec::new();
        for (line, name) in names.iter().enumerate() {
            let fed = || cells.iter().filter(|cells| cells.get(2).is_some_and(|tube| tube != NONE));
            let first = fed().next().and_then(|cells| cells.get(line));
            // Row, outlet and length tell rows apart even where they happen to be the same.
            let is_same = ![0, 1, 4].contains(&line)
                && fed().count() > 1
                && fed().all(|cells| cells.get(line) == first)
                && !name.starts_with("Flow");
            match first.filter(|_| is_same) {
                Some(value) => {
                    let (name, unit) = name.split_once(", ").unwrap_or((name, ""));
                    alike.push(
                        format!("{} {value} {unit}", name.to_lowercase().replace('ø', "Ø")).trim().to_owned(),
                    );
                }
                None if line == 2 && tags_follow(&rows, &cells) => {
                    let tag =
                        first.map_or("T", |tag| tag.trim_end_matches(|letter: char| letter.is_ascii_digit()));
                    alike.push(format!("tube {tag} and the row's number"));
                }
                None => {
                    let cells: Vec<String> =
                        cells.iter().filter_map(|cells| cells.get(line).cloned()).collect();
                    lines.push((name.clone(), cells));
                }
            }
        }
        let alike =
            if alike.is_empty() { String::new() } else { format!("Every row here: {}", alike.join("; ")) };
        let numbers: Vec<(String, Vec<String>)> = lines.iter().take(1).cloned().collect();
        let whole = Self::with_lines(source, sheet, rows.clone(), lines, alike, depth);
        let numbered = || Self::with_lines(source, sheet, rows, numbers, String::new(), depth);
        whole.or_else(|| numbered().map(|strip| Self { is_whole: false, ..strip }))
    }

    /// The strip with these lines, each with its name and a cell a row; none where it has no room.
    fn with_lines(
        source: &SheetSource<'a>,
        sheet: &LayoutSheet,
        rows: Vec<&'a Row>,
        lines: Vec<(String, Vec<String>)>,
        alike: String,
        depth: f64,
    ) -> Option<Self> {
        let area = sheet.area(source.size);
        let width = |cell: &String| source.letters.width(cell, true) * USUAL;
        let widest = lines.iter().flat_map(|(_, cells)| cells).map(width).fold(4.0, f64::max) + 1.6;
        let metre = 1000.0 / sheet.denominator;
        let wanted: Vec<f64> = rows.iter().map(|row| row.x.si() * metre).collect();
        let span = (sheet.span.1 - sheet.span.0) * metre;
        // As far out as the sheet goes on both sides.
        let spare = (area.width() - NAMES - RIGHT_ROOM - span).max(0.0) / 2.0;
        let (from, to) = (sheet.span.0 * metre - spare, sheet.span.1 * metre + spare);
        let spread_by = |gap: f64| {
            let columns = spread(&wanted, gap, from + gap / 2.0, to - gap / 2.0);
            let apart = columns.windows(2).map(|pair| pair[1] - pair[0]).fold(f64::INFINITY, f64::min);
            (apart >= gap - 1e-6).then_some(columns)
        };
        // Not so far from its row that the way there is a puzzle.
        let near = |columns: &Vec<f64>| columns.iter().zip(&wanted).all(|(at, row)| (at - row).abs() < 12.0);
        let level = spread_by(widest).filter(near);
        let upright = level.is_none();
        let columns = level.or_else(|| spread_by(UPRIGHT))?;
        let lines: Vec<(String, f64, Vec<String>)> = lines
            .into_iter()
            .map(|(name, cells)| {
                let longest = cells.iter().map(width).fold(0.0, f64::max) + 1.6;
                (name, if upright { longest } else { STRIP_FEED }, cells)
            })
            .collect();
        let strip = Self { rows, lines, upright, columns, alike, is_whole: true };
        let free = area.depth() - super::sheets::ABOVE_DRAWING - depth * metre - STRIP_GAP - LEGEND;
        (strip.height() <= free).then_some(strip)
    }

    /// What it takes below the gap to the drawing, millimetres.
    pub(super) fn height(&self) -> f64 {
        let alike = if self.alike.is_empty() { 0.0 } else { STRIP_FEED };
        self.lines.iter().map(|line| line.1).sum::<f64>() + alike + 1.5
    }
}

/// Every tube is tagged by the number of its row.
fn tags_follow(rows: &[&Row], cells: &[Vec<String>]) -> bool {
    let mut letters = rows.iter().zip(cells).filter_map(|(row, cells)| {
        let tag = cells.get(2).filter(|tag| *tag != NONE)?;
        Some(tag.strip_suffix(&row.number.to_string()))
    });
    let first = letters.next().flatten();
    first.is_some_and(|first| !first.is_empty() && !first.ends_with(|one: char| one.is_ascii_digit()))
        && letters.all(|one| one == first)
}
