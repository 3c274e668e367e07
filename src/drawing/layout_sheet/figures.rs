//! Balloons with item numbers, and dimensions.

use super::labels::{anchors_on, boxed};
use super::pointed::Pointed;
use super::sheet_drawing::SheetDrawing;
use super::sheets::LayoutSheet;
use crate::drawing::Subject;
use crate::drawing::label_places::{on_circle, overlap, spread, uncrossed};
use crate::drawing::paper::{
    LINE_FEED, MarkKind, NARROW, PageDraft, PaperLayer, Shade, Style, USUAL, View, touches,
};
use crate::drawing::scene::Dash;
use crate::drawing::sheet_source::{BALLOON, balloon};
use crate::geometry::{Bounds, Point2};
use crate::plan::FeedElement;
use crate::quantities::Measure;

/// A balloon farther than this from what it points at stands beside that instead, millimetres.
const LONGEST_LEADER: f64 = 60.0;

impl SheetDrawing<'_, '_> {
    /// What has a balloon, from left to right.
    pub(super) fn pointed(&self, draft: &PageDraft) -> Vec<Pointed> {
        let routing = self.source.routing;
        let mut targets: Vec<Pointed> = Vec::new();
        for part in &routing.parts {
            let Some(number) = self.source.items.get(&part.entry) else { continue };
            if let Some(bounds) = draft.part_bounds(part.id) {
                let long = bounds.width() > 14.0;
                let x = if long { bounds.min.x + bounds.width() * 0.25 } else { bounds.centre().x };
                let at = Point2::new(x, bounds.max.y - bounds.depth() * 0.3);
                targets.push(Pointed {
                    at,
                    or_at: anchors_on(&bounds),
                    number: *number,
                    tag: part.tag.clone(),
                });
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
                targets.push(Pointed {
                    at: pair[0].towards(pair[1], 0.3),
                    or_at: [0.5, 0.7, 0.15, 0.85].map(|share| pair[0].towards(pair[1], share)).to_vec(),
                    number: *number,
                    tag: run.tag.clone(),
                });
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
                Some((from, to)) => {
                    let at = Point2::new(f64::midpoint(from.x, to.x), f64::midpoint(from.y, to.y));
                    let or_at = [0.3, 0.7, 0.15, 0.85].map(|share| from.towards(to, share)).to_vec();
                    targets.push(Pointed { at, or_at, number: *number, tag: feed.tag.clone() });
                }
                None => {
                    seen.remove(number);
                }
            }
        }
        targets.sort_by(|a, b| a.at.x.total_cmp(&b.at.x).then(a.at.y.total_cmp(&b.at.y)));
        targets
    }

    /// Item numbers in a row over the drawing, in the order of what they point at. Returns what can't be pointed at from
    /// there: far below the row, or behind another part; its balloons stand beside it, once all names have their places.
    pub(super) fn balloons(
        &mut self,
        draft: &mut PageDraft,
        targets: Vec<Pointed>,
        window: &Bounds,
    ) -> Vec<Pointed> {
        if targets.is_empty() {
            return targets;
        }
        let routing = self.source.routing;
        let y = window.max.y + 7.0 + BALLOON;
        let bodies: Vec<Bounds> =
            routing.parts.iter().filter_map(|part| draft.part_bounds(part.id)).collect();
        let is_hidden = |at: Point2| {
            let above = Point2::new(at.x, y);
            bodies.iter().any(|body| !body.grown(0.5).contains(at) && touches(above, at, &body.grown(1.0)))
        };
        let (mut far, targets): (Vec<_>, Vec<_>) =
            targets.into_iter().partition(|one| y - one.at.y > LONGEST_LEADER || is_hidden(one.at));
        let wanted: Vec<f64> = targets.iter().map(|one| one.at.x).collect();
        let from = (window.min.x - 10.0).max(self.area.min.x + 24.0);
        let to = (window.max.x + 4.0).min(self.area.max.x - BALLOON - 2.0).max(from + 10.0);
        let places = spread(&wanted, 2.0 * BALLOON + 1.5, from, to);
        let centres: Vec<Point2> = places.into_iter().map(|x| Point2::new(x, y)).collect();
        let ends: Vec<Point2> = targets.iter().map(|one| one.at).collect();
        let marks = draft.page.marks.iter().filter(|mark| matches!(mark.kind, MarkKind::Words(_)));
        let words: Vec<Bounds> = marks.map(|mark| mark.kind.bounds()).collect();
        for (centre, target) in centres.iter().zip(uncrossed(&centres, &ends)) {
            // A narrow sheet's notes may reach down into the row, and symbols or words may lie on the way.
            let edge = on_circle(*centre, BALLOON, targets[target].at);
            let is_barred = !self.places.is_free_way(edge, targets[target].at)
                || !self.places.is_free(&boxed(*centre, BALLOON));
            if is_barred || words.iter().any(|words| overlap(words, &boxed(*centre, BALLOON))) {
                far.push(targets[target].clone());
                continue;
            }
            let Pointed { at: target, number, .. } = targets[target];
            draft.line(PaperLayer::Leader, &[edge, target], NARROW, Dash::Solid);
            draft.circle(PaperLayer::Notes, target, 0.5, 0.0, Some(Shade::INK));
            self.places.keep_leader(edge, target);
            self.places.keep_clear(boxed(target, 0.6));
            self.places.keep_clear(boxed(*centre, BALLOON));
            balloon(draft, *centre, number);
        }
        far
    }

    /// Balloons as near to what they point at as there is room for them; returns what has none.
    pub(super) fn far_balloons(
        &mut self,
        draft: &mut PageDraft,
        targets: Vec<Pointed>,
        window: &Bounds,
    ) -> Vec<Pointed> {
        let white = self.white_paper(window);
        let mut without = Vec::new();
        for pointed in targets {
            let Pointed { number, .. } = pointed;
            let anchors: Vec<Point2> =
                std::iter::once(pointed.at).chain(pointed.or_at.iter().copied()).collect();
            // On the best point near by or far off, before the next best.
            let near = [window, &white].into_iter().find_map(|room| {
                let first = self.places.place_circle(&anchors[..1], BALLOON, room);
                first.or_else(|| self.places.place_circle(&anchors[1..], BALLOON, room))
            });
            let Some((centre, leader)) = near else {
                without.push(pointed);
                continue;
            };
            draft.line(PaperLayer::Leader, &leader, NARROW, Dash::Solid);
            draft.circle(PaperLayer::Notes, leader[1], 0.5, 0.0, Some(Shade::INK));
            balloon(draft, centre, number);
        }
        without
    }

    /// Names of sections over the bar, their widths and rows under it; returns how far down that reaches.
    pub(super) fn dimensions(&mut self, draft: &mut PageDraft, view: &View, window: &Bounds) -> f64 {
        let project = self.source.project;
        let style = Style::plain(PaperLayer::Words, USUAL).centred();
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
            let shows = |sheet: &LayoutSheet| sheet.to_build_from && sheet.sections.contains(&section.id);
            let sheet = self.sheets.iter().position(shows).filter(|_| !self.sheet.to_build_from);
            let sheet = sheet.map_or_else(String::new, |index| format!("sheet {}", self.first + index));
            let mut line = window.max.y + 4.0;
            for (words, style) in [(sheet, style.shade(Shade::SOFT)), (section.name.clone(), style.bold())] {
                for part in draft.wrapped(&words, style, room).iter().rev() {
                    draft.words(Point2::new(middle, line), part, style);
                    line += USUAL * LINE_FEED;
                }
            }
            let whole = (left, right) == (section.left.si(), section.right.si());
            let width = if whole {
                Measure::Distance.text(section.width().si(), self.source.units)
            } else {
                String::new()
            };
            dimension(draft, (from, to), y, &width, true);
            self.places.keep_clear(dimension_bounds((from, to), y));
            // A narrow section has room for the numbers alone.
            let short = rows.trim_start_matches("rows ");
            let rows = if draft.width_of(&rows, style) > room { short } else { &rows };
            for (index, part) in draft.wrapped(rows, style, room).iter().enumerate() {
                let y = y - USUAL * LINE_FEED * (index + 1) as f64 - 0.6;
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
            dimension(draft, (from, to), y - 15.0, &words, false);
            self.places.keep_clear(dimension_bounds((from, to), y - 15.0));
        }
        Self::below_dimensions(window)
    }

    /// How far down the dimensions under a drawing reach.
    pub(super) const fn below_dimensions(window: &Bounds) -> f64 {
        window.min.y - 25.0
    }
}

/// What a dimension line takes with its arrows and words.
fn dimension_bounds((from, to): (f64, f64), y: f64) -> Bounds {
    Bounds { min: Point2::new(from, y - 1.2), max: Point2::new(to, y + 0.9 + USUAL) }
}

/// A dimension line with arrows and extension lines (ISO 129-1).
fn dimension(draft: &mut PageDraft, (from, to): (f64, f64), y: f64, words: &str, extend: bool) {
    let layer = PaperLayer::Notes;
    draft.line(layer, &[Point2::new(from, y), Point2::new(to, y)], NARROW, Dash::Solid);
    for (at, inward) in [(from, 1.0), (to, -1.0)] {
        let reach = if extend { 4.0 } else { 13.0 };
        draft.line(layer, &[Point2::new(at, y - 1.2), Point2::new(at, y + reach)], NARROW, Dash::Solid);
        let points = [(0.0, 0.0), (3.0, 0.5), (3.0, -0.5)];
        let points = points.map(|(dx, dy)| Point2::new(at + dx * inward, y + dy)).to_vec();
        draft.mark(layer, MarkKind::Area { points, line: None, fill: Some(Shade::INK) });
    }
    let style = Style::plain(layer, USUAL).centred();
    draft.words(Point2::new(f64::midpoint(from, to), y + 0.9), words, style);
}
