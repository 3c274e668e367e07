//! Balloons with item numbers, the strip of rows, and dimensions.

use super::sheet_drawing::SheetDrawing;
use super::sheets::{NAMES, RIGHT_ROOM, SMALLEST_FIGURES, STRIP_GAP};
use crate::drawing::Subject;
use crate::drawing::label_places::spread;
use crate::drawing::layout_tables::{row_cells, row_heading};
use crate::drawing::paper::{
    Anchor, LINE_FEED, MarkKind, NARROW, PageDraft, PaperLayer, SMALL, Shade, Style, View,
};
use crate::drawing::scene::Dash;
use crate::drawing::sheet_source::{BALLOON, balloon};
use crate::geometry::{Bounds, Point2};
use crate::plan::{FeedElement, Row};
use crate::quantities::Measure;

impl SheetDrawing<'_, '_> {
    /// PartItem numbers over the drawing, in the order of what they point at.
    pub(super) fn balloons(&mut self, draft: &mut PageDraft, window: &Bounds) {
        let routing = self.source.routing;
        let mut targets: Vec<(Point2, usize)> = Vec::new();
        for part in &routing.parts {
            let Some(number) = self.source.items.get(&part.entry) else { continue };
            if let Some(bounds) = Self::part_bounds(draft, Subject::Part(part.id)) {
                let long = bounds.width() > 14.0;
                let x = if long { bounds.min.x + bounds.width() * 0.25 } else { bounds.centre().x };
                targets.push((Point2::new(x, bounds.max.y - bounds.depth() * 0.3), *number));
            }
        }
        let mut seen = std::collections::BTreeSet::new();
        for run in &routing.runs {
            let Some(number) = self.source.items.get(&run.line.stock) else { continue };
            // One balloon a stock is enough on a sheet.
            if !seen.insert(*number) {
                continue;
            }
            let pieces = draft.page.marks.iter().filter(|mark| mark.subject == Some(Subject::Run(run.id)));
            let longest = pieces
                .filter_map(
                    |mark| if let MarkKind::Line { points, .. } = &mark.kind { Some(points) } else { None },
                )
                .flat_map(|points| points.windows(2))
                .max_by(|a, b| a[0].distance(a[1]).total_cmp(&b[0].distance(b[1])));
            if let Some(pair) = longest {
                let at = |t: f64| {
                    Point2::new(
                        pair[0].x + (pair[1].x - pair[0].x) * t,
                        pair[0].y + (pair[1].y - pair[0].y) * t,
                    )
                };
                targets.push((at(0.3), *number));
            } else {
                seen.remove(number);
            }
        }
        for feed in &routing.feeds {
            let Some(FeedElement::Tube(tube)) =
                feed.elements().find(|one| matches!(one, FeedElement::Tube(_)))
            else {
                continue;
            };
            let Some(number) = self.source.items.get(&tube.line.stock) else { continue };
            if !seen.insert(*number) {
                continue;
            }
            let line = draft.page.marks.iter().find_map(|mark| match &mark.kind {
                MarkKind::Line { points, .. } if mark.subject == Some(Subject::Feed(feed.id)) => points
                    .windows(2)
                    .max_by(|a, b| a[0].distance(a[1]).total_cmp(&b[0].distance(b[1])))
                    .map(|pair| (pair[0], pair[1])),
                _ => None,
            });
            match line {
                Some((from, to)) => targets
                    .push((Point2::new(f64::midpoint(from.x, to.x), f64::midpoint(from.y, to.y)), *number)),
                None => {
                    seen.remove(number);
                }
            }
        }
        targets.sort_by(|a, b| a.0.x.total_cmp(&b.0.x).then(a.0.y.total_cmp(&b.0.y)));
        let wanted: Vec<f64> = targets.iter().map(|(at, _)| at.x).collect();
        let y = window.max.y + 9.0;
        let from = (window.min.x - 10.0).max(self.area.min.x + 24.0);
        let to = (window.max.x + 4.0).max(from + 10.0);
        for ((target, number), x) in targets.iter().zip(spread(&wanted, 2.0 * BALLOON + 2.0, from, to)) {
            let centre = Point2::new(x, y);
            let away = centre.distance(*target).max(1e-9);
            let edge = Point2::new(x + (target.x - x) / away * BALLOON, y + (target.y - y) / away * BALLOON);
            draft.line(PaperLayer::Notes, &[edge, *target], NARROW, Dash::Solid);
            draft.circle(PaperLayer::Notes, *target, 0.5, 0.0, Some(Shade::INK));
            self.places.avoid(&[edge, *target]);
            self.places.keep_clear(Bounds { min: centre, max: centre }.grown(BALLOON));
            balloon(draft, centre, *number);
        }
    }

    /// One column a row below the drawing: what feeds it and how.
    pub(super) fn row_strip(&mut self, draft: &mut PageDraft, view: &View, window: &Bounds, top: f64) {
        let project = self.source.project;
        let layer = PaperLayer::Words;
        let span = self.sheet.span;
        let mut rows: Vec<&Row> = project
            .bar
            .rows
            .iter()
            .filter(|row| self.sheet.section.is_none_or(|id| row.section == id))
            .filter(|row| (span.0..=span.1).contains(&row.x.si()))
            .collect();
        rows.sort_by(|a, b| a.x.si().total_cmp(&b.x.si()));
        if rows.is_empty() {
            return;
        }
        let names = row_heading(self.source);
        let columns: Vec<Vec<String>> = rows.iter().map(|row| row_cells(self.source, row)).collect();
        let feed_height = SMALL * 2.0;
        let widest = columns.iter().flatten().map(|cell| self.source.letters.width(cell, false) * SMALL);
        let gap = widest.fold(6.0, f64::max) + 1.6;
        let at: Vec<f64> = rows.iter().map(|row| view.at(Point2::new(row.x.si(), 0.0)).x).collect();
        let (leftmost, rightmost) =
            (self.area.min.x + NAMES + gap / 2.0, self.area.max.x - RIGHT_ROOM / 2.0 - gap / 2.0);
        let columns_at = spread(&at, gap, leftmost, rightmost);
        // Crowded columns are written smaller rather than over each other, but not too small to read.
        let narrowest = columns_at.windows(2).map(|pair| pair[1] - pair[0]).fold(gap, f64::min).max(1.0);
        let height = SMALL.min(SMALL * (narrowest - 0.6) / (gap - 0.6));
        if height < SMALLEST_FIGURES {
            let says = format!("Rows in figures: sheet {}", self.tables_sheet());
            let style = Style::plain(layer, SMALL).bold().centred();
            draft.words(Point2::new(window.centre().x, top - 2.0 * feed_height), &says, style);
            return;
        }
        let style = Style::plain(layer, height).centred();
        let left = window.min.x.min(columns_at[0] - gap / 2.0);
        let right = window.max.x.max(columns_at[columns_at.len() - 1] + gap / 2.0);
        for (line, name) in names.iter().enumerate() {
            let y = top - (line as f64 + 1.0) * feed_height;
            let heading = Style::plain(layer, SMALL).shade(Shade::SOFT).anchor(Anchor::Right);
            draft.words(Point2::new(left - 1.5, y + SMALL * 0.45), name, heading);
            draft.shaded_line(
                layer,
                &[Point2::new(left, y), Point2::new(right, y)],
                NARROW,
                Dash::Solid,
                Shade::BEHIND,
            );
        }
        for (((row, cells), x), wanted) in rows.iter().zip(&columns).zip(&columns_at).zip(&at) {
            draft.subject = Some(Subject::Row(row.id));
            for (line, cell) in cells.iter().enumerate() {
                let y = top - (line as f64 + 1.0) * feed_height + SMALL * 0.45;
                let style = if line == 0 { style.bold() } else { style };
                draft.words(Point2::new(*x, y), cell, style);
            }
            draft.subject = None;
            // From the outlet straight down, then across to its column.
            let outlet = view.at(project.bar.outlet(row).flat());
            let points = [
                outlet,
                Point2::new(*wanted, top + STRIP_GAP - 4.0),
                Point2::new(*x, top + 1.5),
                Point2::new(*x, top),
            ];
            draft.shaded_line(PaperLayer::Notes, &points, NARROW, Dash::Solid, Shade::BEHIND);
        }
    }

    /// Names of sections over the bar, their widths and rows under it; answers how far down that reaches.
    pub(super) fn dimensions(&mut self, draft: &mut PageDraft, view: &View, window: &Bounds) -> f64 {
        let project = self.source.project;
        let style = Style::plain(PaperLayer::Words, SMALL).centred();
        let mut edges: Vec<f64> = Vec::new();
        let y = window.min.y - 6.0;
        for section in &project.bar.sections {
            let (left, right) =
                (section.left.si().max(self.sheet.span.0), section.right.si().min(self.sheet.span.1));
            if right - left < 0.05 {
                continue;
            }
            edges.extend([left, right]);
            let (from, to) = (view.at(Point2::new(left, 0.0)).x, view.at(Point2::new(right, 0.0)).x);
            let middle = f64::midpoint(from, to);
            let room = to - from - 1.0;
            let rows: Vec<u32> = project
                .bar
                .rows
                .iter()
                .filter(|row| row.section == section.id)
                .map(|row| row.number)
                .collect();
            let rows = match (rows.iter().min(), rows.iter().max()) {
                (Some(first), Some(last)) if first != last => format!("rows {first} to {last}"),
                (Some(first), _) => format!("row {first}"),
                _ => "no rows".to_owned(),
            };
            let sheet = self.sheets.iter().position(|sheet| sheet.section == Some(section.id));
            let sheet = sheet.map_or_else(String::new, |index| format!("sheet {}", self.first + index));
            let mut line = window.max.y + 4.0;
            for (words, style) in [(sheet, style.shade(Shade::SOFT)), (section.name.clone(), style.bold())] {
                for part in draft.wrapped(&words, style, room).iter().rev() {
                    draft.words(Point2::new(middle, line), part, style);
                    line += SMALL * LINE_FEED;
                }
            }
            let whole = (left, right) == (section.left.si(), section.right.si());
            let width = if whole {
                Measure::Distance.text(section.width().si(), self.source.units)
            } else {
                String::new()
            };
            dimension(draft, (from, to), y, &width, true);
            for (index, part) in draft.wrapped(&rows, style, room).iter().enumerate() {
                let y = y - SMALL * LINE_FEED * (index + 1) as f64 - 0.6;
                draft.words(Point2::new(middle, y), part, style);
            }
        }
        let bounds = project.bar.bounds();
        let whole = self.sheet.cut == (false, false);
        if whole && !edges.is_empty() {
            let (from, to) = (view.at(bounds.min).x, view.at(bounds.max).x);
            let distance = |metres: f64| Measure::Distance.text(metres, self.source.units);
            // The frame may end short of its sections, whose ends lie half a row beyond the outer rows.
            let over_frame = project
                .bar
                .sections
                .iter()
                .flat_map(|section| &section.members)
                .any(|member| member.from.x.min(member.to.x) <= bounds.min.x + 1e-6);
            let over = if over_frame { "over the frame" } else { "over the outer rows" };
            let sections = edges.iter().copied().fold(f64::NEG_INFINITY, f64::max)
                - edges.iter().copied().fold(f64::INFINITY, f64::min);
            let words =
                format!("{} {over}; sections together {}", distance(bounds.width()), distance(sections));
            dimension(draft, (from, to), y - 12.0, &words, false);
        }
        y - 16.0
    }
}

/// A dimension line with arrows and extension lines (ISO 129-1).
fn dimension(draft: &mut PageDraft, (from, to): (f64, f64), y: f64, words: &str, extend: bool) {
    let layer = PaperLayer::Notes;
    draft.line(layer, &[Point2::new(from, y), Point2::new(to, y)], NARROW, Dash::Solid);
    for (at, inward) in [(from, 1.0), (to, -1.0)] {
        let reach = if extend { 4.0 } else { 10.0 };
        draft.line(layer, &[Point2::new(at, y - 1.2), Point2::new(at, y + reach)], NARROW, Dash::Solid);
        let points = [(0.0, 0.0), (2.2, 0.4), (2.2, -0.4)];
        let points = points.map(|(dx, dy)| Point2::new(at + dx * inward, y + dy)).to_vec();
        draft.mark(layer, MarkKind::Area { points, line: None, fill: Some(Shade::INK) });
    }
    let style = Style::plain(layer, SMALL).centred();
    draft.words(Point2::new(f64::midpoint(from, to), y + 0.9), words, style);
}
