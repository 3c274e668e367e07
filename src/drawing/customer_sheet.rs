//! One page for whoever pays for it: the bar to scale, how evenly its rows are fed, what is asked of it, the pressures,
//! what it is made of, and whether the design is released.

use super::label_places::Places;
use super::layout_tables::LayoutTable;
use super::paper::{
    Anchor, LARGE, MIDDLE, MarkKind, NARROW, PageDraft, PaperLayer, Shade, Style, USUAL, View, WIDE,
    scale_text, sized,
};
use super::scene::{Dash, Layer};
use super::scene_options::SceneOptions;
use super::sheet_frame::{SCALES, drawing_area};
use super::sheet_source::SheetSource;
use super::{Subject, bar_scene};
use crate::geometry::{Bounds, Point2};
use crate::plan::{RowId, words};
use crate::quantities::Measure;

/// What the page says beside the drawing, in the words of other papers.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct CustomerFacts {
    /// Width, rows and sections in a line.
    pub summary: String,
    /// Why the design is not released; empty where it is.
    pub not_released: Vec<String>,
    /// Why a released design stops before its pressure test; none where it does not.
    pub stop: Option<String>,
    /// Names and values of what is asked.
    pub duty: Vec<(String, String)>,
    /// What it is made of, a line each.
    pub parts: Vec<String>,
    /// Pressures and evenness, a column for each speed.
    pub speeds: LayoutTable,
    /// Each row's deviation from its target at the usual speed, as a share; none where it is not fed.
    pub rows: Vec<(RowId, Option<f64>)>,
    /// What the bars of the rows show, or why there are none.
    pub rows_caption: String,
    /// The largest deviation that the project allows, as a share.
    pub limit: f64,
}

/// Room at the left for what the bars are measured against, and at the right, millimetres.
const LEFT_ROOM: f64 = 17.0;
const RIGHT_ROOM: f64 = 7.0;

/// Title and summary.
const HEAD: f64 = 21.0;

/// The bars of the rows: their height, and with caption and numbers.
const BARS: f64 = 20.0;
const STRIP: f64 = BARS + 15.0;

/// Distance of two lines of words.
const FEED: f64 = USUAL * 1.56;

/// Height of the title.
const TITLE: f64 = 5.0;

/// Over and under the bar: names of sections; its width.
const ABOVE: f64 = 9.0;
const BELOW: f64 = 7.0;

/// Shown in front of and behind the bar where the supply hose leads off, metres.
const BEYOND: f64 = 0.8;

struct Customer<'s, 'a> {
    source: &'s SheetSource<'a>,
    facts: &'s CustomerFacts,
    area: Bounds,
}

/// Draws it on one page.
pub fn customer_sheet<'a>(source: &SheetSource<'a>, facts: &CustomerFacts) -> PageDraft<'a> {
    let (width, height) = source.size;
    let mut draft = PageDraft::new("Customer sheet", width, height, source.letters);
    let page = Customer { source, facts, area: drawing_area(width, height) };
    page.head(&mut draft);
    let columns_top = page.columns(&mut draft);
    page.bar(&mut draft, page.drawn(columns_top));
    draft
}

impl<'a> Customer<'_, 'a> {
    fn head(&self, draft: &mut PageDraft<'a>) {
        let layer = PaperLayer::Words;
        let (left, top) = (self.area.min.x + 5.0, self.area.max.y);
        let half = self.area.width() * 0.56;
        let title = match self.source.project.title.title.trim() {
            "" => "Untitled bar",
            title => title,
        };
        let room = sized(left, top - 12.0, half, 9.0);
        draft.words_within("Title", &room, title, Style::plain(layer, TITLE).bold());
        let style = Style::plain(layer, USUAL);
        let lines = draft.wrapped(&self.facts.summary, style, half);
        for (index, line) in lines.iter().take(2).enumerate() {
            draft.words(Point2::new(left, top - 15.0 - index as f64 * FEED), line, style);
        }
        let bounds = sized(left + half + 6.0, top - 19.0, self.area.width() - half - 17.0, 16.0);
        let released = self.facts.not_released.is_empty();
        draft.area(PaperLayer::Sheet, &bounds, if released { NARROW } else { 0.7 }, None);
        let says = if released { "Released for fitting" } else { "NOT RELEASED" };
        draft.words(
            Point2::new(bounds.min.x + 2.5, bounds.max.y - 5.2),
            says,
            Style::plain(layer, LARGE).bold(),
        );
        let why = if released {
            self.facts.stop.as_deref().map_or_else(
                || "No error is open, and every row that is fed keeps within its limit".to_owned(),
                words::capital,
            )
        } else {
            self.facts.not_released.join("; ")
        };
        let room = sized(bounds.min.x + 2.5, bounds.min.y + 0.8, bounds.width() - 5.0, 8.2);
        draft.words_within("Why the design is not released", &room, &why, style);
    }

    /// Duty, pressures and parts beside each other at the bottom; how far up they reach.
    fn columns(&self, draft: &mut PageDraft<'a>) -> f64 {
        let width = self.area.width() - 10.0;
        let left = self.area.min.x + 5.0;
        let style = Style::plain(PaperLayer::Words, USUAL);
        let table = &self.facts.speeds;
        let widest = |cells: &mut dyn Iterator<Item = &String>, style: Style| {
            cells.map(|cell| draft.width_of(cell, style)).fold(0.0, f64::max)
        };
        let first = widest(&mut table.lines.iter().filter_map(|line| line.first()), style) + 2.0;
        let mut cells = table.lines.iter().chain([&table.heading]).flat_map(|line| line.iter().skip(1));
        let step = widest(&mut cells, style.bold()) + 2.5;
        let columns = table.heading.len().saturating_sub(1) as f64;
        // The table takes what it needs, and more where there is much; the words beside it wrap.
        let needed = first + columns * step + 6.0;
        let speeds = needed.max(width * 0.42).min(width * 0.6);
        let (duty, parts) = ((width - speeds) * 0.49, (width - speeds) * 0.51);
        let step = step * (speeds / needed).clamp(1.0, 1.4);
        let first = speeds - 6.0 - columns * step;
        let names = self.facts.duty.iter().map(|(name, _)| draft.width_of(name, style)).fold(0.0, f64::max);
        let duty_lines: Vec<(String, String)> = self
            .facts
            .duty
            .iter()
            .flat_map(|(name, value)| {
                let lines = draft.wrapped(value, style, duty - names - 9.0);
                lines
                    .into_iter()
                    .enumerate()
                    .map(|(index, line)| (if index == 0 { name.clone() } else { String::new() }, line))
            })
            .collect();
        let of_parts = self.facts.parts.iter().map(|part| draft.wrapped(part, style, parts - 4.0));
        let of_parts: Vec<Vec<String>> = of_parts.collect();
        let part_lines: Vec<&String> = of_parts.iter().flatten().collect();
        // The drawing keeps a third of the page whatever there is to say, and what it leaves of that at its scale is for words.
        let most = (((self.area.depth() - HEAD - STRIP) * 0.62 / FEED).floor() as usize).max(4) - 1;
        let needed = duty_lines.len().max(part_lines.len()).max(self.facts.speeds.lines.len() + 1);
        let top_of = |lines: usize| self.area.min.y + 2.0 + (lines as f64 + 1.0) * FEED + 2.0;
        let scale_over = |lines: usize| self.scale(self.drawn(top_of(lines) + 4.0));
        let scale = scale_over(needed.min(most));
        let lines = (needed.min(most)..=needed)
            .rev()
            .find(|lines| scale.is_some() && scale_over(*lines) == scale)
            .unwrap_or_else(|| needed.min(most));
        let top = top_of(lines);
        let line = [Point2::new(self.area.min.x, top + 2.5), Point2::new(self.area.max.x, top + 2.5)];
        draft.line(PaperLayer::Sheet, &line, NARROW, Dash::Solid);
        let y = |index: usize| top - (index as f64 + 1.0) * FEED;
        draft.words(Point2::new(left, y(0) + FEED - USUAL), "What is asked", style.bold());
        for (index, (name, value)) in duty_lines.iter().take(lines).enumerate() {
            draft.words(Point2::new(left, y(index + 1) + 1.0), name, style.shade(Shade::SOFT));
            draft.words(Point2::new(left + names + 3.0, y(index + 1) + 1.0), value, style);
        }
        let asked = duty_lines.iter().map(|(name, value)| format!("{name} {value}"));
        note_cut(draft, "What is asked", asked.skip(lines));
        let x = left + duty;
        draft.words(Point2::new(x, y(0) + FEED - USUAL), table.caption, style.bold());
        for (index, line) in std::iter::once(&table.heading).chain(&table.lines).take(lines).enumerate() {
            for (column, cell) in line.iter().enumerate() {
                let style = if index == 0 { style.bold() } else { style };
                if column == 0 {
                    let room = sized(x, y(index + 1) + 0.2, first - 1.0, USUAL + 0.8);
                    draft.words_within(table.caption, &room, cell, style.shade(Shade::SOFT));
                    continue;
                }
                let at = Point2::new(x + first + step * column as f64, y(index + 1) + 1.0);
                draft.words(at, cell, style.anchor(Anchor::Right));
            }
        }
        note_cut(draft, table.caption, table.lines.iter().skip(lines - 1).map(|line| line.join(" ")));
        let x = x + speeds;
        draft.words(Point2::new(x, y(0) + FEED - USUAL), "What it is made of", style.bold());
        // What has no room is counted, none of it begun.
        let mut whole = of_parts.len();
        let mut shown = part_lines.len();
        while shown > lines.saturating_sub(usize::from(whole < of_parts.len())) && whole > 0 {
            whole -= 1;
            shown -= of_parts[whole].len();
        }
        for (index, line) in part_lines.iter().take(shown).enumerate() {
            draft.words(Point2::new(x, y(index + 1) + 1.0), line, style);
        }
        if whole < of_parts.len() {
            let says = format!("and {}", words::counted(of_parts.len() - whole, "more kind of part"));
            let says = says.replace("kind of parts", "kinds of parts");
            draft.words(Point2::new(x, y(shown + 1) + 1.0), &says, style.shade(Shade::SOFT));
        }
        top + 4.0
    }

    /// From where to where the bar is drawn over words that reach so far up.
    fn drawn(&self, columns_top: f64) -> (f64, f64) {
        (columns_top + STRIP, self.area.max.y - HEAD)
    }

    /// The largest scale at which the bar has room between two heights; none where it has none.
    fn scale(&self, (bottom, top): (f64, f64)) -> Option<f64> {
        let bounds = self.source.project.bar.bounds();
        if bounds.is_empty() {
            return None;
        }
        let (from, to) = self.width_of_bar(&bounds);
        let (room, depth) = (self.area.width() - LEFT_ROOM - RIGHT_ROOM, top - bottom - ABOVE - BELOW);
        let fits = |scale: &f64| {
            (to - from) * 1000.0 / scale <= room && (bounds.depth() + 0.2) * 1000.0 / scale <= depth
        };
        SCALES.into_iter().filter(|scale| *scale >= 10.0).find(fits)
    }

    /// From where to where it reaches, with its edges.
    fn width_of_bar(&self, bounds: &Bounds) -> (f64, f64) {
        let edges = self.source.project.bar.edges().unwrap_or((bounds.min.x, bounds.max.x));
        (bounds.min.x.min(edges.0), bounds.max.x.max(edges.1))
    }

    /// The bar between two heights, to scale, and the bars of its rows below.
    fn bar(&self, draft: &mut PageDraft<'a>, (bottom, top): (f64, f64)) {
        let project = self.source.project;
        let bounds = project.bar.bounds();
        if bounds.is_empty() {
            let style = Style::plain(PaperLayer::Words, LARGE).centred();
            let at = Point2::new(self.area.centre().x, f64::midpoint(bottom, top));
            draft.words(at, "The bar has no frame and no rows yet", style);
            return;
        }
        let (from, to) = self.width_of_bar(&bounds);
        let room = self.area.width() - LEFT_ROOM - RIGHT_ROOM;
        let depth = top - bottom - ABOVE - BELOW;
        let denominator = self.scale((bottom, top)).unwrap_or(SCALES[SCALES.len() - 1]);
        let metre = 1000.0 / denominator;
        // Room that is left shows more of the supply hose.
        let beyond = ((depth / metre - bounds.depth()) / 2.0).clamp(0.1, BEYOND);
        let (back, front) = (bounds.min.y - beyond, bounds.max.y + beyond);
        let left = self.area.min.x + LEFT_ROOM + (room - (to - from) * metre) / 2.0;
        let middle = f64::midpoint(bottom + BELOW, top - ABOVE);
        let view = View {
            denominator,
            origin: Point2::new(left - from * metre, middle - f64::midpoint(back, front) * metre),
        };
        let window = Bounds {
            min: view.at(Point2::new(from - 0.15, back)),
            max: view.at(Point2::new(to + 0.15, front)),
        };
        let mut options = SceneOptions { units: self.source.units, ..SceneOptions::default() };
        options.hidden.extend([Layer::Tags, Layer::Values, Layer::Dimensions]);
        let start = draft.page.marks.len();
        draft.scene(&bar_scene(project, self.source.routing, self.source.outcome, &options), &view, &window);
        draft.page.view = Some(view);
        let mut unnamed = self.sections(draft, &view, &window);
        unnamed.extend(self.tags(draft, start, &window));
        self.width(draft, &view, (from, to), (window.min.y - 3.5, &unnamed));
        self.rows(draft, &view, bottom - STRIP);
    }

    /// Names the sections over the bar; answers the names that have no room.
    fn sections(&self, draft: &mut PageDraft<'a>, view: &View, window: &Bounds) -> Vec<String> {
        let mut unnamed = Vec::new();
        let style = Style::plain(PaperLayer::Words, USUAL).centred();
        for section in &self.source.project.bar.sections {
            let at = |x: f64| view.at(Point2::new(x, 0.0)).x;
            let (from, to) = (at(section.left.si()), at(section.right.si()));
            let lines = draft.wrapped(&section.name, style, to - from - 1.0);
            // A name that has no room in two lines belongs to the layout.
            if lines.len() > 2 || lines.iter().any(|line| draft.width_of(line, style) > to - from - 0.5) {
                unnamed.push(section.name.clone());
                continue;
            }
            for (index, line) in lines.iter().rev().enumerate() {
                let y = window.max.y + 1.8 + index as f64 * USUAL * 1.4;
                draft.words(Point2::new(f64::midpoint(from, to), y), line, style);
            }
        }
        unnamed
    }

    /// The working width under the bar, the scale, and what is drawn without a name.
    fn width(
        &self,
        draft: &mut PageDraft<'a>,
        view: &View,
        (from, to): (f64, f64),
        (y, unnamed): (f64, &[String]),
    ) {
        let (left, right) = (view.at(Point2::new(from, 0.0)).x, view.at(Point2::new(to, 0.0)).x);
        let layer = PaperLayer::Notes;
        draft.line(layer, &[Point2::new(left, y), Point2::new(right, y)], NARROW, Dash::Solid);
        for (x, inward) in [(left, 1.0), (right, -1.0)] {
            draft.line(layer, &[Point2::new(x, y - 1.5), Point2::new(x, y + 3.0)], NARROW, Dash::Solid);
            let points = [(0.0, 0.0), (3.0, 0.5), (3.0, -0.5)];
            let points = points.map(|(dx, dy)| Point2::new(x + dx * inward, y + dy)).to_vec();
            draft.mark(layer, MarkKind::Area { points, line: None, fill: Some(Shade::INK) });
        }
        let mut says = format!(
            "{}, drawn {} with the front upwards",
            Measure::Distance.text(to - from, self.source.units),
            scale_text(view.denominator)
        );
        let style = Style::plain(layer, USUAL);
        if !unnamed.is_empty() {
            let with_names = format!("{says}; drawn without a name: {}", words::list(unnamed));
            let fits = draft.width_of(&with_names, style) <= self.area.width() - 10.0;
            says = if fits {
                with_names
            } else {
                format!("{says}; what has no room for its name here is drawn without one")
            };
        }
        // In the middle of the bar, and within the page where it is long.
        let half = draft.width_of(&says, style) / 2.0;
        let (least, most) = (self.area.min.x + 5.0 + half, self.area.max.x - 5.0 - half);
        let middle = f64::midpoint(left, right).min(most).max(least);
        draft.words(Point2::new(middle, y - 4.0), &says, style.centred());
    }

    /// Tags of filters, valves and manifolds where there is room beside them; answers those that have none.
    fn tags(&self, draft: &mut PageDraft<'a>, start: usize, window: &Bounds) -> Vec<String> {
        let mut unnamed: Vec<(&str, Vec<String>)> = Vec::new();
        let mut places = Places::default();
        for mark in &draft.page.marks[start..] {
            match (&mark.kind, mark.layer) {
                (MarkKind::Line { points, .. }, PaperLayer::Hose | PaperLayer::Tube | PaperLayer::Hinge) => {
                    places.avoid(points);
                }
                (kind, PaperLayer::Part | PaperLayer::Row) => places.keep_clear(kind.bounds()),
                (MarkKind::Words(words), _) => places.keep_clear(words.bounds()),
                _ => {}
            }
        }
        let style = Style::plain(PaperLayer::Words, USUAL).bold();
        for part in &self.source.routing.parts {
            let item = self.source.project.catalogue.item(&part.entry);
            if !item.is_some_and(|item| item.is_for_rows() || item.passes_on()) {
                continue;
            }
            let Some(own) = draft.part_bounds(part.id) else { continue };
            let (width, height) = (draft.width_of(&part.tag, style), USUAL * 1.3);
            let middle = own.centre();
            let mut boxes = Vec::new();
            for away in [0.8, 1.6, 2.6, 4.0] {
                for along in [0.0, 0.5, -0.5, 1.0, -1.0] {
                    let x = middle.x - width / 2.0 + along * (own.width() + width) / 2.0;
                    boxes.push(sized(x, own.max.y + away, width, height));
                    boxes.push(sized(x, own.min.y - away - height, width, height));
                }
                boxes.push(sized(own.max.x + away, middle.y - height / 2.0, width, height));
                boxes.push(sized(own.min.x - away - width, middle.y - height / 2.0, width, height));
            }
            // A tube may pass behind a tag, nothing else.
            if let Some((index, crosses)) = places.place(&boxes, window) {
                if crosses {
                    draft.area(PaperLayer::Words, &boxes[index], 0.0, Some(Shade::PAPER));
                }
                let at = boxes[index];
                draft.words(Point2::new(at.min.x, at.min.y + USUAL * 0.3), &part.tag, style);
            } else {
                let kind = item.map_or("part", |item| item.kind());
                match unnamed.iter_mut().find(|one| one.0 == kind) {
                    Some((_, tags)) => tags.push(part.tag.clone()),
                    None => unnamed.push((kind, vec![part.tag.clone()])),
                }
            }
        }
        let said = unnamed.into_iter().map(|(kind, mut tags)| {
            tags.sort_by_key(|tag| words::natural_order(tag));
            format!("{} ({})", words::counted(tags.len(), kind), words::tags(&tags))
        });
        said.collect()
    }

    /// A bar for each row, over or under its target, below the row it stands for.
    fn rows(&self, draft: &mut PageDraft<'a>, view: &View, bottom: f64) {
        let layer = PaperLayer::Words;
        let style = Style::plain(layer, USUAL);
        let left = self.area.min.x + 5.0;
        draft.words(Point2::new(left, bottom + STRIP - 5.0), &self.facts.rows_caption, style.bold());
        let bar = &self.source.project.bar;
        if self.facts.rows.iter().all(|(_, deviation)| deviation.is_none()) {
            return;
        }
        let deviations = self.facts.rows.iter().filter_map(|(_, deviation)| *deviation);
        let most = deviations.fold(self.facts.limit * 1.4, |most, one| most.max(one.abs()));
        let zero = bottom + 6.0 + BARS / 2.0;
        let y = |deviation: f64| zero + deviation / most * BARS / 2.0;
        let x = |row: &crate::plan::Row| view.at(Point2::new(row.x.si(), 0.0)).x;
        let rows: Vec<_> =
            self.facts.rows.iter().filter_map(|(id, deviation)| Some((bar.row(*id)?, *deviation))).collect();
        let mut all: Vec<f64> = rows.iter().map(|(row, _)| x(row)).collect();
        all.sort_by(f64::total_cmp);
        let spacing = all.windows(2).map(|pair| pair[1] - pair[0]).filter(|gap| *gap > 0.05);
        let spacing = spacing.fold(12.0, f64::min);
        let (from, to) =
            (all.first().copied().unwrap_or(left) - spacing, all.last().copied().unwrap_or(left) + spacing);
        for (deviation, dash) in
            [(self.facts.limit, Dash::Dashed), (0.0, Dash::Solid), (-self.facts.limit, Dash::Dashed)]
        {
            let line = [Point2::new(from, y(deviation)), Point2::new(to, y(deviation))];
            draft.line(PaperLayer::Notes, &line, NARROW, dash);
            let sign = if deviation > 0.0 {
                "+"
            } else if deviation < 0.0 {
                "−"
            } else {
                ""
            };
            let size = Measure::Percent.short_text(deviation.abs(), self.source.units);
            let at = Point2::new(from - 1.0, y(deviation) - USUAL / 2.0);
            draft.words(at, &format!("{sign}{size}"), style.anchor(Anchor::Right));
        }
        let half = (spacing * 0.31).clamp(0.15, 3.0);
        for (row, deviation) in &rows {
            let x = x(row);
            draft.subject = Some(Subject::Row(row.id));
            if let Some(deviation) = deviation {
                let outside = deviation.abs() > self.facts.limit;
                let end = y(*deviation);
                let bounds = sized(x - half, zero.min(end), 2.0 * half, (end - zero).abs());
                // Outside its limit a row's bar is black, and passes the broken line.
                let fill = if outside { Shade::INK } else { Shade::BEHIND };
                draft.area(PaperLayer::Row, &bounds, 0.0, Some(fill));
            } else {
                for sign in [1.0, -1.0] {
                    let ends = [(-half, -sign * half), (half, sign * half)];
                    let ends = ends.map(|(dx, dy)| Point2::new(x + dx, zero + dy));
                    draft.line(PaperLayer::Row, &ends, MIDDLE, Dash::Solid);
                }
            }
            draft.subject = None;
        }
        let widest = rows.iter().map(|(row, _)| draft.width_of(&row.number.to_string(), style));
        let widest = widest.fold(2.0, f64::max) + 1.2;
        let mut last = f64::NEG_INFINITY;
        for (index, (row, _)) in rows.iter().enumerate() {
            let at = x(row);
            let is_last = index + 1 == rows.len();
            let room_for_last = is_last || x(rows[rows.len() - 1].0) - at >= widest;
            if at - last >= widest && room_for_last {
                draft.words(Point2::new(at, bottom + 1.5), &row.number.to_string(), style.centred());
                last = at;
            }
        }
        let line = [Point2::new(from, y(most)), Point2::new(from, y(-most))];
        draft.line(PaperLayer::Notes, &line, WIDE / 2.0, Dash::Solid);
    }
}

/// Lines that had no room are warnings of the set.
fn note_cut(draft: &mut PageDraft, place: &str, lines: impl Iterator<Item = String>) {
    draft.cut.extend(lines.map(|line| (format!("Customer sheet, {place}"), line)));
}
