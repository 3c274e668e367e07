//! The strip of row flows below the bar, on the same x-axis: each row's deviation from its target against the
//! band it should stay in.
//!
//! The scale follows the data, so that no bar is ever cut off, and always holds the band. Rows that get nothing
//! are marked by a sign and in words; without numbers the strip says why and shows none.

use std::collections::BTreeMap;
use std::f32::consts::FRAC_PI_2;
use std::sync::Arc;

use eframe::egui::{
    Align2, Color32, FontId, Galley, Id, LayerId, Order, Painter, Pos2, Rangef, Rect, Shape, Stroke,
    StrokeKind, pos2, vec2,
};
use eframe::epaint::TextShape;

use super::caught::Caught;
use super::legend::sign;
use super::row_labels::row_labels;
use super::scatter::Band;
use super::strip_scale::Scale;
use super::x_on_screen;
use crate::drawing::deviation::{signed_percent, why_not_fed};
use crate::drawing::{DeviationClass, PressureScale};
use crate::geometry::View;
use crate::hydraulics::outcome::{NoNumbers, Outcome, RowOutcome};
use crate::plan::{Project, Routing, RowId};
use crate::quantities::{Measure, Pressure, Ratio, UnitSystem};
use crate::studies::status::{rows_words, status_words, why_no_numbers};
use crate::window::theme::Theme;

const TITLE: f32 = 22.0;
const FOOT: f32 = 20.0;
/// Bars can't be told apart in a plot lower than this, points.
const LEAST_PLOT: f32 = 40.0;
/// Above the plot of a strip that has no room for a title, points.
const NO_TITLE: f32 = 4.0;
/// A lower strip has no room for a title: its bars need it, points.
const LOW: f32 = TITLE + LEAST_PLOT + FOOT;
/// The lowest strip whose bars can be told apart, with the numbers of rows below them, points.
pub(in crate::window) const LEAST_STRIP: f32 = NO_TITLE + LEAST_PLOT + FOOT;

/// Beside the words of the axis, points.
const BEFORE_WORDS: f32 = 4.0;
const BEHIND_WORDS: f32 = 5.0;

/// Where on the screen words of the axis stand, with the words.
type AxisMark = (f32, Arc<Galley>);

/// What stands out in the strip.
#[derive(Debug, Clone, Copy)]
pub struct StripHighlight<'a> {
    /// What parts as they are sold may add to each row.
    pub scatter: &'a Band,
    /// Rows that are selected, or hang on what is.
    pub selected: &'a [RowId],
    /// The row under the pointer, here or on the bar.
    pub hovered: Option<RowId>,
    /// Its numbers are written out: no card of it is shown on the bar.
    pub is_written_out: bool,
    /// What is shown beside it, whose bars must look as high where they are.
    pub beside: Option<&'a Outcome>,
    /// Where the bars are what was caught: what was expected stands behind them.
    pub caught: Option<&'a Caught>,
}

/// What the strip shows in place of deviations.
#[derive(Debug, Clone)]
pub struct Pressures {
    /// Their classes.
    pub scale: PressureScale,
    /// Of each row that has one, ahead of its metering.
    pub rows: BTreeMap<RowId, Pressure>,
}

/// The row whose bar is at a place on the screen, if the place is in the strip and on a row.
pub fn row_at(rect: Rect, view: &View, project: &Project, at: Pos2) -> Option<RowId> {
    if !rect.contains(at) {
        return None;
    }
    let away = |x: f64| (x_on_screen(rect, view, x) - at.x).abs();
    let nearest = project.bar.rows.iter().min_by(|a, b| away(a.x.si()).total_cmp(&away(b.x.si())))?;
    let reach = (project.bar.row_spacing.si() * view.scale / 2.0) as f32;
    (away(nearest.x.si()) <= reach.max(4.0)).then_some(nearest.id)
}

/// Paints the strip into a rectangle that has the canvas's x extent.
#[expect(
    clippy::too_many_arguments,
    reason = "a painter takes what it paints; a struct would only rename them"
)]
pub fn strip(
    painter: &Painter,
    rect: Rect,
    view: &View,
    project: &Project,
    routing: &Routing,
    outcome: Option<&Outcome>,
    theme: &Theme,
    units: UnitSystem,
    highlight: &StripHighlight<'_>,
    pressures: Option<&Pressures>,
) {
    let painter = painter.with_clip_rect(rect.intersect(painter.clip_rect()));
    let has_head = rect.height() >= LOW;
    let top = rect.top() + if has_head { TITLE } else { NO_TITLE };
    let mut plot = Rect::from_min_max(pos2(rect.left(), top), pos2(rect.right(), rect.bottom() - FOOT));
    if plot.height() < 20.0 {
        return;
    }
    let numbers = outcome.filter(|outcome| outcome.result.is_ok());
    let scale = match pressures {
        Some(pressures) => Scale::of_pressures(&pressures.scale, plot),
        None => Scale::of([numbers, highlight.beside], project, plot)
            .holding(numbers.and_then(|outcome| highlight.scatter.reach(outcome)))
            .holding(highlight.caught.and_then(Caught::reach)),
    };
    let axis = match (numbers, pressures) {
        (Some(_), Some(pressures)) if has_head => axis_of_pressures(&pressures.scale, units),
        (Some(_), None) => axis_of_deviations(&scale, units),
        _ => Vec::new(),
    };
    let axis: Vec<AxisMark> = axis
        .into_iter()
        .map(|(at, words)| (scale.y(at), painter.layout_no_wrap(words, axis_font(), theme.soft)))
        .collect();
    // The words have room of their own: in the lower of two bands what stands there is whole in the upper one.
    let widest = axis.iter().map(|(_, words)| words.size().x).reduce(f32::max);
    plot.set_left(plot.left() + widest.map_or(0.0, |wide| BEFORE_WORDS + wide + BEHIND_WORDS));
    let inside =
        painter.with_clip_rect(painter.clip_rect().intersect(Rect::everything_right_of(plot.left())));
    let strip = Strip {
        painter: &painter,
        inside: &inside,
        axis,
        rect,
        has_head,
        plot,
        view,
        project,
        routing,
        theme,
        units,
        highlight,
        scale,
    };
    if pressures.is_some() {
        strip.pressure_title(outcome);
    } else {
        strip.title(outcome);
    }
    strip.sections();
    match (numbers, pressures) {
        (Some(outcome), Some(pressures)) => {
            strip.axis(true);
            if let Some(row) = strip.points(outcome, pressures).filter(|_| highlight.is_written_out) {
                strip.value(&row, pressures.rows.get(&row.row).copied());
            }
        }
        (Some(outcome), None) => {
            strip.bands();
            let hovered = strip.bars(outcome);
            strip.mean(outcome);
            strip.axis(false);
            if let Some(row) = hovered.filter(|_| highlight.is_written_out) {
                strip.value(&row, None);
            }
        }
        (None, _) => strip.no_numbers(outcome),
    }
    strip.row_numbers();
}

struct Strip<'a> {
    painter: &'a Painter,
    /// Paints beside the words of the axis alone.
    inside: &'a Painter,
    axis: Vec<AxisMark>,
    rect: Rect,
    /// The line above the plot is shown.
    has_head: bool,
    plot: Rect,
    view: &'a View,
    project: &'a Project,
    routing: &'a Routing,
    theme: &'a Theme,
    units: UnitSystem,
    highlight: &'a StripHighlight<'a>,
    scale: Scale,
}

impl Strip<'_> {
    fn x(&self, metres: f64) -> f32 {
        x_on_screen(self.rect, self.view, metres)
    }

    fn text(&self, at: Pos2, anchor: Align2, words: impl ToString, size: f32, colour: Color32) -> Rect {
        self.painter.text(at, anchor, words, FontId::proportional(size), colour)
    }

    fn title(&self, outcome: Option<&Outcome>) {
        let (what, each, all) = match self.highlight.caught {
            Some(_) => ("Caught", "what is asked of each row", "what is asked,"),
            None => ("Row flow", "each row's target", "target"),
        };
        let target = outcome.and_then(common_target).map_or_else(
            || format!("{what} against {each}"),
            |target| format!("{what} against {all} {}", Measure::RowFlow.text(target, self.units)),
        );
        let limits = &self.project.limits;
        let percent = |ratio: Ratio| Measure::Percent.short_text(ratio.si(), self.units);
        let band =
            format!("limit ±{}, design ±{}", percent(limits.row_deviation), percent(limits.design_deviation));
        let band =
            if self.highlight.caught.is_some() { format!("frames behind: expected; {band}") } else { band };
        let caution = outcome.and_then(|outcome| self.project.duty(outcome.point.duty).liquid.caution());
        let target = match caution {
            Some(caution) => format!("{target} ({})", caution.short()),
            None => target,
        };
        let left = self.head(target, outcome, Some(band));
        if let Some((outcome, mean)) = outcome.and_then(|outcome| Some((outcome, mean_of(outcome)?))) {
            self.mean_words(outcome, mean, left);
        }
    }

    /// The line above the plot: what it shows at the left, at the right what limits the supply or else `usual`. Gives
    /// what is left between them.
    fn head(&self, title: String, outcome: Option<&Outcome>, usual: Option<String>) -> Rangef {
        let top = self.rect.top() + 2.0;
        let left = self.rect.left() + 10.0;
        let (mut from, mut to) = (left, self.rect.right() - 10.0);
        if !self.has_head {
            return Rangef::NOTHING;
        }
        from = self.text(pos2(from, top), Align2::LEFT_TOP, title, 13.0, self.theme.ink).right();
        let limited = outcome.filter(|outcome| outcome.at_limit().is_some());
        let words = match limited {
            Some(outcome) => Some((status_words(outcome, self.routing, self.units), self.theme.warning)),
            None => usual.map(|usual| (usual, self.theme.soft)),
        };
        if let Some((words, colour)) = words {
            let words = self.painter.layout_no_wrap(words, FontId::proportional(11.0), colour);
            let start = to - words.size().x;
            if start > from + 16.0 {
                self.painter.galley(pos2(start, top + 1.5), words, colour);
                to = start;
            }
        }
        Rangef::new(from + 16.0, to - 16.0)
    }

    /// The mean of the fed rows in words, with a piece of its line, in the line above the plot: nothing is covered there.
    fn mean_words(&self, outcome: &Outcome, mean: Ratio, room: Rangef) {
        const LINE: f32 = 22.0;
        let rows =
            rows_words(outcome.rows_in_evenness()).map_or_else(String::new, |rows| format!(", {rows}"));
        let words = format!("mean {} %{rows}", signed_percent(mean));
        let words = self.painter.layout_no_wrap(words, FontId::proportional(11.0), self.theme.accent);
        let left = room.max - words.size().x;
        if left - LINE - 4.0 < room.min {
            return;
        }
        let at = pos2(left, self.rect.top() + 3.5);
        let y = at.y + words.size().y / 2.0;
        let line = [pos2(left - LINE - 4.0, y), pos2(left - 4.0, y)];
        self.painter.extend(self.mean_line(&line));
        self.painter.galley(at, words, self.theme.accent);
    }

    fn mean_line(&self, ends: &[Pos2]) -> Vec<Shape> {
        Shape::dashed_line(ends, Stroke::new(1.2, self.theme.accent), 6.0, 4.0)
    }

    fn sections(&self) {
        let stroke = Stroke::new(1.0, self.theme.hinge);
        for section in &self.project.bar.sections {
            if let Some(hinge) = section.hinge {
                let x = self.x(hinge.point.x);
                let ends = [pos2(x, self.plot.top()), pos2(x, self.rect.bottom() - 2.0)];
                let line = Shape::dashed_line_with_offset(&ends, stroke, &[12.0, 1.5], &[3.0, 3.0], 0.0);
                self.inside.extend(line);
            }
        }
    }

    fn bands(&self) {
        let limits = &self.project.limits;
        let bands = [
            (limits.row_deviation.si(), self.theme.band),
            (limits.design_deviation.si(), self.theme.design_band),
        ];
        for (limit, colour) in bands {
            let band = Rect::from_x_y_ranges(self.plot.x_range(), self.scale.y(limit)..=self.scale.y(-limit));
            self.inside.rect_filled(band, 0.0, colour);
        }
        // The band lies over the hinge lines' plain ground, so those are drawn again on top of it.
        self.sections();
        self.inside.hline(self.plot.x_range(), self.scale.y(0.0), Stroke::new(1.0, self.theme.soft));
    }

    fn pressure_title(&self, outcome: Option<&Outcome>) {
        self.head("Gauge pressure ahead of each row's metering".to_owned(), outcome, None);
    }

    /// Rows as points: a bar would have to start at no pressure at all, and the differences are small.
    fn points(&self, outcome: &Outcome, pressures: &Pressures) -> Option<RowOutcome> {
        let spacing = (narrowest(outcome.rows()) * self.view.scale) as f32;
        let radius = (spacing * 0.4).clamp(2.0, 5.0);
        let mut hovered = None;
        for row in outcome.rows() {
            let x = self.x(row.x.si());
            if !self.plot.x_range().expand(radius).contains(x) {
                continue;
            }
            let marked = self.highlight.selected.contains(&row.row);
            let under_pointer = self.highlight.hovered == Some(row.row);
            if marked || under_pointer {
                let ground = if marked { self.theme.accent } else { self.theme.soft };
                let column = Rect::from_x_y_ranges(x - radius * 1.3..=x + radius * 1.3, self.plot.y_range());
                self.inside.rect_filled(column, 2.0, ground.gamma_multiply(0.16));
            }
            if under_pointer {
                hovered = Some(*row);
            }
            let class = DeviationClass::of_row(row, Some(row), &self.project.limits);
            if let Some(pressure) = pressures.rows.get(&row.row) {
                let at = pos2(x, self.scale.y(pressure.si()));
                let edge = Stroke::new(1.0, if marked { self.theme.accent } else { self.theme.outline });
                self.inside.circle(at, radius, Theme::pressure(pressures.scale.class(*pressure)), edge);
            } else {
                let class = if class.is_fed() { DeviationClass::Unknown } else { class };
                sign(self.inside, pos2(x, self.plot.bottom() - radius), radius, class, self.theme);
            }
        }
        hovered
    }

    fn bars(&self, outcome: &Outcome) -> Option<RowOutcome> {
        let spacing = narrowest(outcome.rows()) * self.view.scale;
        let wide = (spacing * 0.62).clamp(1.5, 16.0) as f32;
        let band = self.highlight.scatter;
        let places = (|x| self.x(x), |y| self.scale.y(y));
        band.paint(outcome, (self.inside, self.theme), wide, self.plot.x_range(), places);
        let zero = self.scale.y(0.0);
        if let Some(caught) = self.highlight.caught {
            caught.paint_expected(self.project, (self.inside, self.theme), wide, self.plot.x_range(), places);
        }
        let mut hovered = None;
        for row in outcome.rows() {
            let x = self.x(row.x.si());
            if !self.plot.x_range().expand(wide).contains(x) {
                continue;
            }
            let marked = self.highlight.selected.contains(&row.row);
            let under_pointer = self.highlight.hovered == Some(row.row);
            if marked || under_pointer {
                let column = Rect::from_x_y_ranges(x - wide * 0.75..=x + wide * 0.75, self.plot.y_range());
                let ground = if marked {
                    self.theme.accent.gamma_multiply(0.16)
                } else {
                    self.theme.soft.gamma_multiply(0.16)
                };
                self.inside.rect_filled(column, 2.0, ground);
            }
            if under_pointer {
                hovered = Some(*row);
            }
            let class = DeviationClass::of_row(row, Some(row), &self.project.limits);
            match row.deviation.map(Ratio::si).filter(|value| value.is_finite()) {
                Some(value) if class.is_fed() || class == DeviationClass::Unknown => {
                    let y = self.scale.y(value);
                    // A row that is right on target still shows that it is there.
                    let (top, bottom) = (y.min(zero - 0.5), y.max(zero + 0.5));
                    let bar = Rect::from_x_y_ranges(x - wide / 2.0..=x + wide / 2.0, top..=bottom);
                    let edge = if marked { self.theme.accent } else { self.theme.outline };
                    let stroke = Stroke::new(if wide > 5.0 { 1.0 } else { 0.5 }, edge);
                    self.inside.rect(bar, 1.0, self.theme.class(class), stroke, StrokeKind::Middle);
                }
                _ => sign(self.inside, pos2(x, zero), (wide / 2.0).clamp(2.5, 5.5), class, self.theme),
            }
        }
        self.not_fed_words(outcome, wide);
        hovered
    }

    /// `not fed` above every group of neighbouring rows that get nothing.
    fn not_fed_words(&self, outcome: &Outcome, wide: f32) {
        let mut group: Vec<f32> = Vec::new();
        for row in outcome.rows().iter().map(Some).chain([None]) {
            let dry = row.is_some_and(|row| {
                DeviationClass::of_row(row, Some(row), &self.project.limits) == DeviationClass::NotFed
            });
            if let Some(row) = row.filter(|_| dry) {
                group.push(self.x(row.x.si()));
                continue;
            }
            let (Some(first), Some(last)) = (group.first().copied(), group.last().copied()) else { continue };
            group.clear();
            let (left, right) = (first.min(last) - wide, first.max(last) + wide);
            if right < self.plot.left() || left > self.plot.right() {
                continue;
            }
            let colour = self.theme.warning;
            let words = self.painter.layout_no_wrap("not fed".to_owned(), FontId::proportional(11.0), colour);
            let size = words.size();
            let (middle, foot) = (f32::midpoint(left, right), self.scale.y(0.0) - 9.0);
            if size.x < right - left {
                self.inside.galley(pos2(middle - size.x / 2.0, foot - size.y), words, colour);
            } else {
                // Upright in a narrow column, read from below.
                let text =
                    TextShape::new(pos2(middle - size.y / 2.0, foot), words, colour).with_angle(-FRAC_PI_2);
                self.inside.add(text);
            }
        }
    }

    /// The line of the mean of fed rows.
    fn mean(&self, outcome: &Outcome) {
        let Some(mean) = mean_of(outcome) else { return };
        let y = self.scale.y(mean.si());
        self.inside.extend(self.mean_line(&[pos2(self.plot.left(), y), pos2(self.plot.right(), y)]));
    }

    /// The words at the left of the plot, each with a stroke, or a line across the plot.
    fn axis(&self, with_lines: bool) {
        let mut last = f32::INFINITY;
        for (y, words) in &self.axis {
            let size = words.size();
            let line = if with_lines {
                self.plot.x_range()
            } else {
                Rangef::new(self.plot.left() - 3.0, self.plot.left())
            };
            let colour = if with_lines { self.theme.line } else { self.theme.hinge };
            let top = y - size.y / 2.0;
            if top < self.plot.top() - 6.0 || top + size.y > self.plot.bottom() + 6.0 {
                continue;
            }
            self.painter.hline(line, *y, Stroke::new(1.0, colour));
            // Words have no room where those before them stand.
            if (last - y).abs() >= 12.0 {
                last = *y;
                let left = self.plot.left() - BEHIND_WORDS - size.x;
                self.painter.galley(pos2(left, top), words.clone(), self.theme.soft);
            }
        }
    }

    fn no_numbers(&self, outcome: Option<&Outcome>) {
        let (words, colour) = match outcome {
            None if self.highlight.caught.is_some() => ("No catches to show yet".to_owned(), self.theme.soft),
            None => ("Not solved yet".to_owned(), self.theme.soft),
            Some(outcome) => {
                let failed = matches!(outcome.result, Err(NoNumbers::Failed { .. }));
                let Some(why) = why_no_numbers(outcome, self.routing) else { return };
                (format!("No numbers: {why}"), if failed { self.theme.error } else { self.theme.warning })
            }
        };
        let wide = (self.rect.width() - 40.0).max(60.0);
        let words = self.painter.layout(words, FontId::proportional(13.0), colour, wide);
        let place = Align2::CENTER_CENTER.anchor_size(self.plot.center(), words.size());
        self.painter.rect_filled(place.expand2(vec2(6.0, 2.0)), 3.0, self.theme.canvas);
        self.painter.galley(place.min, words, colour);
    }

    fn row_numbers(&self) {
        let rows = &self.project.bar.rows;
        let places: Vec<(u32, f32)> = rows.iter().map(|row| (row.number, self.x(row.x.si()))).collect();
        let hovered = rows.iter().position(|row| self.highlight.hovered == Some(row.id));
        let wide = |words: &str| {
            self.painter
                .layout_no_wrap(words.to_owned(), FontId::proportional(11.0), self.theme.soft)
                .size()
                .x
        };
        let top = self.plot.bottom() + 4.0;
        for label in row_labels(&places, hovered, self.plot.x_range(), wide) {
            let colour = if hovered == Some(label.row) { self.theme.ink } else { self.theme.soft };
            self.text(pos2(label.middle, top), Align2::CENTER_TOP, label.words, 11.0, colour);
        }
    }

    /// The numbers of one row, beside its bar; over what stands around the strip where that is too low for them.
    fn value(&self, row: &RowOutcome, pressure: Option<Pressure>) {
        let caught = self.highlight.caught.and_then(|caught| caught.lines(row.row));
        let lines = match row.deviation {
            _ if caught.is_some() => caught.unwrap_or_default(),
            Some(deviation) => {
                format!(
                    "{}\n{} %",
                    Measure::RowFlow.text(row.flow.si(), self.units),
                    signed_percent(deviation)
                )
            }
            None => why_not_fed(Some(row.state)).unwrap_or("no number").to_owned(),
        };
        let ahead = pressure.map(|one| format!("\n{}", Measure::Pressure.text(one.si(), self.units)));
        let scatter = self.highlight.scatter.words(row.row).filter(|_| pressure.is_none());
        let scatter = scatter.map_or_else(String::new, |words| format!("\n{words}"));
        let words = format!("Row {}\n{lines}{}{scatter}", row.number, ahead.unwrap_or_default());
        let words = self.painter.layout_no_wrap(words, FontId::proportional(11.0), self.theme.ink);
        let size = words.size() + vec2(14.0, 8.0);
        let x = self.x(row.x.si());
        let left = if x + 14.0 + size.x < self.plot.right() { x + 14.0 } else { x - 14.0 - size.x };
        let window = self.painter.ctx().content_rect();
        let top = (self.plot.top() + 2.0).min(window.bottom() - 4.0 - size.y);
        let card = Rect::from_min_size(pos2(left, top), size);
        let layer = LayerId::new(Order::Tooltip, Id::unique("numbers of a row in a strip"));
        let over = Painter::new(self.painter.ctx().clone(), layer, window);
        over.rect(card, 5.0, self.theme.paper, Stroke::new(1.0, self.theme.line), StrokeKind::Inside);
        over.galley(card.min + vec2(7.0, 4.0), words, self.theme.ink);
    }
}

const fn axis_font() -> FontId {
    FontId::proportional(11.0)
}

/// Where words of an axis stand, with their numbers.
fn axis_of_deviations(scale: &Scale, units: UnitSystem) -> Vec<(f64, String)> {
    let words = |mark: f64| {
        let sign = if mark > 1e-9 { "+" } else { "" };
        format!("{sign}{}", Measure::Percent.short_text(mark, units))
    };
    scale.marks().into_iter().map(|mark| (mark, words(mark))).collect()
}

/// The same for the edges of classes of pressures.
fn axis_of_pressures(scale: &PressureScale, units: UnitSystem) -> Vec<(f64, String)> {
    scale.edges().iter().map(|edge| (edge.si(), Measure::Pressure.text(edge.si(), units))).collect()
}

/// The mean deviation of the fed rows, where it is known.
fn mean_of(outcome: &Outcome) -> Option<Ratio> {
    outcome.evenness().map(|evenness| evenness.mean_deviation).filter(|mean| mean.is_finite())
}

/// The target that all rows share, if they do.
fn common_target(outcome: &Outcome) -> Option<f64> {
    let mut targets = outcome.connections.iter().map(|row| row.target.si()).filter(|target| *target > 0.0);
    let first = targets.next()?;
    targets.all(|target| (target / first - 1.0).abs() < 1e-6).then_some(first)
}

fn narrowest(rows: &[RowOutcome]) -> f64 {
    narrowest_x(rows.iter().map(|row| row.x.si()))
}

/// The smallest step between neighbours, metres; 1 m for fewer than two.
fn narrowest_x(places: impl Iterator<Item = f64>) -> f64 {
    let mut places: Vec<f64> = places.collect();
    places.sort_by(f64::total_cmp);
    let steps = places.windows(2).map(|pair| pair[1] - pair[0]).filter(|step| *step > 1e-6);
    steps.min_by(f64::total_cmp).unwrap_or(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn neighbours() {
        assert_eq!(narrowest_x([0.0, 0.5, 0.75, 2.0].into_iter()), 0.25);
        assert_eq!(narrowest_x([0.0].into_iter()), 1.0);
    }
}
