//! The figures of the rows below a wing, one column a row; what all of its rows have alike is said once.

use super::sheet_drawing::SheetDrawing;
use super::sheets::{LEGEND, LayoutSheet, NAMES, RIGHT_ROOM, STRIP_FEED, STRIP_GAP};
use crate::drawing::Subject;
use crate::drawing::label_places::spread;
use crate::drawing::layout_tables::{NONE, row_cells, row_heading};
use crate::drawing::paper::{Anchor, NARROW, PageDraft, PaperLayer, Shade, Style, USUAL, View};
use crate::drawing::scene::Dash;
use crate::drawing::sheet_frame::drawing_area;
use crate::drawing::sheet_source::SheetSource;
use crate::geometry::{Bounds, Point2};
use crate::plan::Row;

/// The lines of figures under a wing.
pub(super) struct RowStrip<'a> {
    rows: Vec<&'a Row>,
    /// Name, height and one cell a row of each line.
    lines: Vec<(String, f64, Vec<String>)>,
    /// Reads upwards: the columns are too narrow for level words.
    upright: bool,
    /// Middle of each column, as if the bar's origin lay at 0.
    columns: Vec<f64>,
    /// What all rows here have alike; empty where nothing is.
    alike: String,
}

/// Columns of upright figures are at least so far apart.
const UPRIGHT: f64 = USUAL * 1.4;

impl<'a> RowStrip<'a> {
    /// The strip of a sheet; none where its rows are too close for figures at this scale, or there is no room below.
    pub(super) fn of(source: &SheetSource<'a>, sheet: &LayoutSheet, depth: f64) -> Option<Self> {
        let area = drawing_area(source.size.0, source.size.1);
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
        let alike =
            if alike.is_empty() { String::new() } else { format!("Every row here: {}", alike.join("; ")) };
        let strip = Self { rows, lines, upright, columns, alike };
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

impl SheetDrawing<'_, '_> {
    /// One column a row below the drawing: what feeds it and how.
    pub(super) fn row_strip(
        &self,
        draft: &mut PageDraft,
        strip: &RowStrip,
        view: &View,
        window: &Bounds,
        top: f64,
    ) {
        let layer = PaperLayer::Words;
        let columns: Vec<f64> = strip.columns.iter().map(|at| view.origin.x + at).collect();
        let (Some(first), Some(last)) = (columns.first(), columns.last()) else { return };
        let half = if strip.upright { UPRIGHT / 2.0 } else { 5.0 };
        let (left, right) = (window.min.x.min(first - half), window.max.x.max(last + half));
        let mut y = top;
        for (line, (name, height, cells)) in strip.lines.iter().enumerate() {
            let heading = Style::plain(layer, USUAL).shade(Shade::SOFT).anchor(Anchor::Right);
            draft.words(Point2::new(left - 1.5, y - height / 2.0 - USUAL / 2.0), name, heading);
            y -= height;
            let rule = [Point2::new(left, y), Point2::new(right, y)];
            draft.shaded_line(layer, &rule, NARROW, Dash::Solid, Shade::BEHIND);
            for ((row, cell), x) in strip.rows.iter().zip(cells).zip(&columns) {
                draft.subject = Some(Subject::Row(row.id));
                let style = Style { bold: line == 0, ..Style::plain(layer, USUAL) };
                if strip.upright {
                    draft.words_up(Point2::new(x + USUAL / 2.0, y + 0.8), cell, style);
                } else {
                    draft.words(Point2::new(*x, y + USUAL * 0.45), cell, style.centred());
                }
                draft.subject = None;
            }
        }
        if !strip.alike.is_empty() {
            let at = Point2::new(f64::midpoint(left, right), y - STRIP_FEED + USUAL * 0.3);
            draft.words(at, &strip.alike, Style::plain(layer, USUAL).centred());
        }
        for (row, x) in strip.rows.iter().zip(&columns) {
            // From the outlet straight down, then across to its column.
            let outlet = view.at(self.source.project.bar.outlet(row).flat());
            let points = [
                outlet,
                Point2::new(outlet.x, top + STRIP_GAP - 4.0),
                Point2::new(*x, top + 1.5),
                Point2::new(*x, top),
            ];
            draft.subject = Some(Subject::Row(row.id));
            draft.shaded_line(PaperLayer::Notes, &points, NARROW, Dash::Solid, Shade::BEHIND);
            draft.subject = None;
        }
    }
}
