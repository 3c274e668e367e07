//! Lines and words over the drawing: dimension lines, what is being measured, the ruler along y.
//!
//! They are laid out before the drawing's own words, which then keep off them, and painted after it.

use std::sync::Arc;

use eframe::egui::accesskit::Role;
use eframe::egui::{
    Color32, FontId, Galley, Painter, Pos2, Rect, Sense, Shape, Stroke, Ui, Vec2, WidgetInfo, pos2, vec2,
};

use super::obstacles::{Obstacles, crosses};
use super::{ruler, to_screen, x_on_screen};
use crate::drawing::Subject;
use crate::geometry::{Point2, Point3, View};
use crate::plan::LineGeometry;
use crate::quantities::{Measure, UnitSystem};
use crate::window::canvas::shown::Shown;
use crate::window::theme::Theme;

/// Nearer to what is aimed at no words stand, points.
const AIMED_AT: f32 = 16.0;
/// How many steps away words about it are tried.
const FARTHEST: u8 = 6;

/// What lies over a drawing.
pub(super) struct Marks<'a> {
    painter: &'a Painter,
    rect: Rect,
    view: &'a View,
    theme: &'a Theme,
    shapes: Vec<Shape>,
    words: Vec<(Rect, Arc<Galley>, Color32)>,
    /// Where marks without words stand.
    taken: Vec<Rect>,
    /// What stands on the drawing.
    obstacles: &'a Obstacles,
}

/// What is selected and out of sight, and the mark at the edge that leads to it.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct OutOfSight {
    /// The mark.
    pub(super) mark: Rect,
    /// What it points at, on the bar.
    pub(super) place: Point2,
    /// The name of that.
    pub(super) name: String,
}

impl OutOfSight {
    /// The mark is a button: the place to be brought into sight when it was pressed.
    pub(super) fn pressed(&self, ui: &Ui, slot: usize) -> Option<Point2> {
        let response = ui.interact(self.mark, ui.scope_id().with(("out of sight", slot)), Sense::click());
        let name = format!("Bring {} into sight", self.name);
        response.widget_info(|| WidgetInfo::labeled(Role::Button, true, name.clone()));
        let response = response.on_hover_text(format!("{name} (Z: as large as it fits)"));
        response.clicked().then_some(self.place)
    }
}

/// Lines and words that have their place, to be painted over the drawing.
pub(super) struct LaidMarks {
    rect: Rect,
    shapes: Vec<Shape>,
    words: Vec<(Rect, Arc<Galley>, Color32)>,
}

impl LaidMarks {
    /// Paints it all, words on a ground of their own.
    pub(super) fn paint(self, painter: &Painter, theme: &Theme) {
        let painter = painter.with_clip_rect(self.rect.intersect(painter.clip_rect()));
        painter.extend(self.shapes);
        for (rect, galley, colour) in self.words {
            painter.rect_filled(rect.expand2(vec2(3.0, 0.0)), 3.0, theme.canvas.gamma_multiply(0.88));
            painter.galley(pos2(rect.min.x.round(), rect.min.y.round()), galley, colour);
        }
    }
}

impl<'a> Marks<'a> {
    pub(super) const fn new(
        painter: &'a Painter,
        rect: Rect,
        view: &'a View,
        theme: &'a Theme,
        obstacles: &'a Obstacles,
    ) -> Self {
        Self {
            painter,
            rect,
            view,
            theme,
            shapes: Vec::new(),
            words: Vec::new(),
            taken: Vec::new(),
            obstacles,
        }
    }

    /// Keeps off what stands there already.
    pub(super) fn keep_off(&mut self, places: impl Iterator<Item = Rect>) {
        self.taken.extend(places);
    }

    /// What is to be painted, and where it stands, for others to keep off.
    pub(super) fn laid(self) -> (LaidMarks, Vec<Rect>) {
        let words = self.words.iter().map(|(rect, ..)| rect.expand2(vec2(8.0, 1.0)));
        let taken = words.chain(self.taken.iter().copied()).collect();
        (LaidMarks { rect: self.rect, shapes: self.shapes, words: self.words }, taken)
    }

    pub(super) fn at(&self, point: Point2) -> Pos2 {
        to_screen(self.rect, self.view, point)
    }

    pub(super) fn line(&mut self, points: &[Pos2], stroke: Stroke) {
        self.shapes.extend(points.windows(2).map(|pair| Shape::line_segment([pair[0], pair[1]], stroke)));
    }

    /// Points on the screen in a metre.
    pub(super) const fn scale(&self) -> f64 {
        self.view.scale
    }

    /// Words about a middle, moved into the picture if need be; left away where other words stand.
    pub(super) fn word(&mut self, middle: Pos2, words: String, size: f32, colour: Color32) {
        let galley = self.painter.layout_no_wrap(words, FontId::proportional(size), colour);
        if let Some(rect) = self.room_for(middle, galley.size()) {
            self.words.push((rect, galley, colour));
        }
    }

    /// Words about the first of some places where they cover neither a part nor an outlet; left away without one.
    fn word_off_parts(&mut self, middles: &[Pos2], words: String, size: f32, colour: Color32) {
        let galley = self.painter.layout_no_wrap(words, FontId::proportional(size), colour);
        let rooms = middles.iter().filter_map(|middle| self.room_for(*middle, galley.size()));
        if let Some(rect) = rooms.into_iter().find(|rect| !self.obstacles.is_taken(*rect)) {
            self.words.push((rect, galley, colour));
        }
    }

    /// Words about what is aimed at, as near as they cover neither a part nor an outlet: below it, above it, or beside it.
    pub(super) fn word_near(&mut self, aim: Pos2, words: String, size: f32, colour: Color32) {
        let galley = self.painter.layout_no_wrap(words, FontId::proportional(size), colour);
        let half = galley.size() / 2.0;
        let aimed_at = Rect::from_center_size(aim, Vec2::splat(2.0 * AIMED_AT));
        let is_clear = |rect: &Rect| !rect.intersects(aimed_at) && !self.obstacles.is_taken(*rect);
        let places = || {
            (0..FARTHEST).flat_map(|step| {
                let off = AIMED_AT + 2.0 + 14.0 * f32::from(step);
                let (up, aside) = (vec2(0.0, off + half.y), vec2(off + half.x, 0.0));
                [up, -up, aside, -aside, aside + up, up - aside, aside - up, -aside - up]
            })
        };
        let clear = places().filter_map(|off| self.room_for(aim + off, galley.size())).find(is_clear);
        // Where everything is full it lies over something, but not over what is aimed at.
        let any = || {
            let rooms = places().filter_map(|off| self.room_for(aim + off, galley.size()));
            rooms.into_iter().find(|rect| !rect.intersects(aimed_at))
        };
        if let Some(rect) = clear.or_else(any) {
            self.words.push((rect, galley, colour));
        }
    }

    /// The place of words of a size about a middle, moved into the picture; none where other words stand.
    fn room_for(&self, middle: Pos2, size: Vec2) -> Option<Rect> {
        let room = self.rect.shrink2(size / 2.0 + Vec2::splat(2.0));
        let rect = room.is_positive().then(|| Rect::from_center_size(room.clamp(middle), size))?;
        let others = self.words.iter().map(|(other, ..)| other).chain(&self.taken);
        others.into_iter().all(|other| !other.expand(2.0).intersects(rect)).then_some(rect)
    }

    /// A dimension line from end to end, with a stroke across each end (ISO 129-1 allows arrows or oblique strokes)
    /// and its number in the middle, where it is longer than its number.
    pub(super) fn dimension(&mut self, from: Pos2, to: Pos2, words: String, colour: Color32) {
        let along = to - from;
        let size = along.length();
        if size < 6.0 {
            return;
        }
        let unit = along / size;
        let oblique = vec2(unit.x - unit.y, unit.y + unit.x) * 4.0;
        let stroke = Stroke::new(1.0, colour);
        self.line(&[from, to], stroke);
        for end in [from, to] {
            self.line(&[end - oblique, end + oblique], Stroke::new(1.4, colour));
        }
        let galley = self.painter.layout_no_wrap(words.clone(), FontId::proportional(11.0), colour);
        // The number of a line whose middle is out of sight would seem to belong to what is seen.
        if !self.rect.contains(from + along * 0.5) {
            return;
        }
        let needs = galley.size().x * unit.x.abs() + galley.size().y * unit.y.abs();
        if needs + 10.0 < size {
            self.word(from + along * 0.5, words, 11.0, colour);
        } else {
            // Beside a line that is too short for it.
            let aside = if unit.x.abs() > unit.y.abs() {
                vec2(0.0, 11.0)
            } else {
                vec2(galley.size().x / 2.0 + 7.0, 0.0)
            };
            self.word(from + along * 0.5 + aside, words, 11.0, colour);
        }
    }

    /// The distance between two places: direct, and along x and y where both count.
    pub(super) fn distance(&mut self, from: Point2, to: Point2, units: UnitSystem) {
        let text = |metres: f64| Measure::Distance.text(metres.abs(), units);
        let (a, b) = (self.at(from), self.at(to));
        let (dx, dy) = (to.x - from.x, to.y - from.y);
        let colour = self.theme.accent;
        self.dimension(a, b, text(dx.hypot(dy)), colour);
        if (b.x - a.x).abs() > 14.0 && (b.y - a.y).abs() > 14.0 {
            let corner = pos2(b.x, a.y);
            let stroke = Stroke::new(1.0, self.theme.soft);
            for piece in [[a, corner], [corner, b]] {
                self.shapes.extend(Shape::dashed_line(&piece, stroke, 4.0, 3.0));
            }
            let above = if a.y < b.y { -9.0 } else { 9.0 };
            let beside = if b.x > a.x { 1.0 } else { -1.0 };
            self.word(
                a.lerp(corner, 0.5) + vec2(0.0, above),
                format!("{} across", text(dx)),
                11.0,
                self.theme.soft,
            );
            self.word(
                corner.lerp(b, 0.5) + vec2(beside * 44.0, 0.0),
                format!("{} fore-aft", text(dy)),
                11.0,
                self.theme.soft,
            );
        }
    }

    /// Widths of the sections in a chain behind the bar, and the whole bar's behind that.
    pub(super) fn section_widths(&mut self, shown: &Shown<'_>, back: f64) {
        let units = shown.project.units;
        let colour = self.theme.soft;
        let foot = self.at(Point2::new(0.0, back)).y;
        let y = foot + 44.0;
        let sections = &shown.project.bar.sections;
        let mut ends: Option<(f64, f64)> = None;
        for section in sections {
            let (left, right) = (section.left.si(), section.right.si());
            ends = Some(ends.map_or((left, right), |(low, high)| (low.min(left), high.max(right))));
            let (a, b) = (x_on_screen(self.rect, self.view, left), x_on_screen(self.rect, self.view, right));
            let text = Measure::Distance.short_text(right - left, units);
            self.dimension(pos2(a, y), pos2(b, y), text, colour);
        }
        if let Some((left, right)) = ends.filter(|_| sections.len() > 1) {
            let (a, b) = (x_on_screen(self.rect, self.view, left), x_on_screen(self.rect, self.view, right));
            let text = Measure::Distance.short_text(right - left, units);
            self.dimension(pos2(a, y + 17.0), pos2(b, y + 17.0), text, colour);
            for x in [a, b] {
                self.line(&[pos2(x, foot + 4.0), pos2(x, y + 22.0)], Stroke::new(0.6, self.theme.line));
            }
        }
    }

    /// Lengths of what is selected: of the pieces of selected hoses, and the distance of two selected parts.
    pub(super) fn selection(&mut self, shown: &Shown<'_>) {
        let (geometry, units) = (shown.routing.geometry, shown.project.units);
        let colour = self.theme.accent;
        for subject in shown.selected {
            let Subject::Run(id) = subject else { continue };
            let Some(path) = geometry.run(*id).map(LineGeometry::places) else { continue };
            // A hose of one piece is as long as its own label says.
            if path.len() < 3 {
                continue;
            }
            for pair in path.windows(2) {
                let (a, b) = (self.at(pair[0].flat()), self.at(pair[1].flat()));
                if (b - a).length() < 44.0 {
                    continue;
                }
                let unit = (b - a).normalized();
                let text = Measure::Distance.text(pair[0].distance(pair[1]), units);
                let aside = vec2(-unit.y, unit.x) * if unit.x.abs() > unit.y.abs() { 11.0 } else { 24.0 };
                let middle = a.lerp(b, 0.5);
                self.word_off_parts(&[middle + aside, middle - aside], text, 10.5, colour);
            }
        }
        let parts: Vec<Point2> = shown
            .selected
            .iter()
            .filter_map(|subject| match subject {
                Subject::Part(id) => geometry.anchors.part(*id),
                _ => None,
            })
            .map(|part| part.at.flat())
            .collect();
        if let [a, b] = parts[..]
            && shown.selected.len() == 2
        {
            self.distance(a, b, units);
        }
    }

    /// A pump that is out of sight: a triangle at the edge towards it, with how far it is. Where that is.
    pub(super) fn pump(&mut self, shown: &Shown<'_>) -> Option<Rect> {
        let pump = shown.project.supply.pump.flat();
        let joined = shown
            .routing
            .runs
            .iter()
            .flat_map(|run| [run.from, run.to])
            .any(|end| end == crate::plan::End::Supply);
        let colour = if joined { self.theme.hose } else { self.theme.warning };
        self.out_of_sight(pump, "pump", shown.project.units, colour)
    }

    /// What is selected and out of sight: a triangle at the edge towards the nearest of it, with its name. A press on it
    /// brings it into sight.
    pub(super) fn selected_out_of_sight(
        &mut self,
        shown: &Shown<'_>,
        elsewhere: impl Fn(Point2) -> bool,
    ) -> Option<OutOfSight> {
        let middle = self.rect.center();
        let mut nearest: Option<(f32, Point2, Subject)> = None;
        let mut count = 0usize;
        for subject in shown.selected {
            let way = way_of(shown, *subject);
            let is_seen = |at: Pos2| self.rect.contains(at);
            let places: Vec<Pos2> = way.iter().map(|point| self.at(*point)).collect();
            let is_in_sight = places.iter().any(|at| is_seen(*at))
                || places.windows(2).any(|pair| crosses(self.rect, pair[0], pair[1]))
                || way.iter().any(|point| elsewhere(*point));
            if is_in_sight {
                continue;
            }
            let away = way.iter().zip(&places).map(|(point, at)| (at.distance(middle), *point));
            let Some((away, point)) = away.min_by(|a, b| a.0.total_cmp(&b.0)) else { continue };
            count += 1;
            if nearest.is_none_or(|known| away < known.0) {
                nearest = Some((away, point, *subject));
            }
        }
        let (_, place, subject) = nearest?;
        let name = shown.routing.routing.tag_of(subject, &shown.project.bar);
        let name = if count > 1 { format!("{name} and {} more", count - 1) } else { name };
        let mark = self.out_of_sight(place, &name, shown.project.units, self.theme.accent)?;
        Some(OutOfSight { mark, place, name })
    }

    /// A triangle at the edge towards a place that is out of sight, with a name and how far from the middle of the bar it is.
    /// Where that is.
    fn out_of_sight(
        &mut self,
        place: Point2,
        name: &str,
        units: UnitSystem,
        colour: Color32,
    ) -> Option<Rect> {
        let at = self.at(place);
        if self.rect.contains(at) {
            return None;
        }
        let room = self.rect.shrink2(vec2(40.0, 12.0));
        if !room.is_positive() {
            return None;
        }
        let edge = room.clamp(at);
        // From the middle of the bar, which is the zero of the rulers.
        let from_middle = |value: f64| Measure::Distance.text(value.abs(), units);
        let words = if self.rect.height() < 220.0 {
            // Where the picture is low, names of sections need the room.
            name.to_owned()
        } else if place.y.abs() >= place.x.abs() {
            format!("{name}, {} {}", from_middle(place.y), if place.y < 0.0 { "back" } else { "forward" })
        } else {
            format!("{name}, {} {}", from_middle(place.x), if place.x < 0.0 { "left" } else { "right" })
        };
        let mark = |edge: Pos2| Rect::from_center_size(edge, Vec2::splat(22.0));
        // Two marks at one corner stand beside each other, and off what stands on the drawing where there is room.
        let is_free = |edge: &Pos2| !self.taken.iter().any(|other| other.intersects(mark(*edge).shrink(4.0)));
        let is_clear = |edge: &Pos2| is_free(edge) && !self.obstacles.is_taken(mark(*edge).shrink(4.0));
        let aside = [0.0, 26.0, -26.0, 52.0, -52.0];
        let places = || {
            let moved = aside.iter().flat_map(|by| [edge + vec2(0.0, *by), edge + vec2(*by, 0.0)]);
            moved.map(|edge| room.clamp(edge))
        };
        let edge = places().find(is_clear).or_else(|| places().find(is_free)).unwrap_or(edge);
        let towards = (at - edge).normalized();
        let across = vec2(-towards.y, towards.x);
        let corners = [towards * 8.0, across * 5.5 - towards * 4.0, across * -5.5 - towards * 4.0];
        let corners = corners.map(|corner| edge + corner).to_vec();
        self.shapes.push(Shape::convex_polygon(corners, colour, Stroke::NONE));
        let wide = self.painter.layout_no_wrap(words.clone(), FontId::proportional(11.0), colour).size().x;
        let beside = vec2(wide / 2.0 + 14.0, 0.0);
        self.taken.push(mark(edge).shrink(4.0));
        let sides =
            if edge.x + wide + 24.0 < self.rect.right() { [beside, -beside] } else { [-beside, beside] };
        let count = self.words.len();
        self.word_off_parts(&sides.map(|side| edge + side), words.clone(), 11.0, self.theme.soft);
        if self.words.len() == count {
            // A triangle without its name would say nothing.
            self.word_near(edge, words, 11.0, self.theme.soft);
        }
        Some(mark(edge))
    }

    /// The ruler along y at the left edge of the picture, zero at the middle of the bar.
    pub(super) fn ruler(&mut self, units: UnitSystem) {
        let unit = Measure::Distance.unit(units);
        let step = ruler::step(self.view.scale * unit.factor * 1.6);
        let half = f64::from(self.rect.height()) / 2.0 / self.view.scale;
        let shown = |y: f64| Measure::Distance.shown(y, units);
        let (first, last) = (
            (shown(self.view.centre.y - half) / step).ceil() as i64,
            (shown(self.view.centre.y + half) / step).floor() as i64,
        );
        // The outermost words need room above and below.
        let margin = 10.0;
        let inset = margin / self.view.scale;
        let first = first.max((shown(self.view.centre.y - half + inset) / step).ceil() as i64);
        let last = last.min((shown(self.view.centre.y + half - inset) / step).floor() as i64);
        let stroke = Stroke::new(1.0, self.theme.hinge);
        for mark in first..=last {
            let at = self.at(Point2::new(self.view.centre.x, mark as f64 * step * unit.factor));
            let left = self.rect.left();
            self.line(&[pos2(left, at.y), pos2(left + 6.0, at.y)], stroke);
            let number = ruler::number((mark as f64 * step).abs(), step);
            let words = match mark.signum() {
                0 => number,
                1 if mark == last => format!("{number} {} fwd", unit.symbol),
                -1 if mark == first => format!("{number} back"),
                _ => number,
            };
            let galley = self.painter.layout_no_wrap(words, FontId::proportional(11.0), self.theme.soft);
            let place = pos2(left + 9.0, at.y - galley.size().y / 2.0);
            let rect = Rect::from_min_size(place, galley.size());
            // The stroke stays; a part or an outlet is not hidden by its number.
            if !self.obstacles.is_taken(rect.expand2(vec2(3.0, 0.0))) {
                self.words.push((rect, galley, self.theme.soft));
            }
        }
    }
}

/// Where something is, or the way that it takes.
fn way_of(shown: &Shown<'_>, subject: Subject) -> Vec<Point2> {
    let (geometry, bar) = (shown.routing.geometry, &shown.project.bar);
    let flat = |way: Vec<Point3>| way.into_iter().map(Point3::flat).collect();
    match subject {
        Subject::Part(id) => geometry.anchors.part(id).map(|part| part.at.flat()).into_iter().collect(),
        Subject::Run(id) => geometry.run(id).map(|run| flat(run.places())).unwrap_or_default(),
        Subject::Feed(id) => geometry
            .feed(id)
            .map(|feed| feed.tubes().flat_map(|tube| flat(tube.places())).collect())
            .unwrap_or_default(),
        Subject::Row(id) => bar.row(id).map(|row| bar.outlet(row).flat()).into_iter().collect(),
    }
}

/// Lines of the ruler's steps across a picture, beneath everything.
pub(super) fn grid(painter: &Painter, rect: Rect, view: &View, units: UnitSystem, theme: &Theme) {
    let unit = Measure::Distance.unit(units);
    let step = ruler::step(view.scale * unit.factor);
    let (half_x, half_y) =
        (f64::from(rect.width()) / 2.0 / view.scale, f64::from(rect.height()) / 2.0 / view.scale);
    let shown = |metres: f64| Measure::Distance.shown(metres, units);
    let range = |middle: f64, half: f64| {
        let (first, last) = (shown(middle - half) / step, shown(middle + half) / step);
        first.ceil() as i64..=last.floor() as i64
    };
    let stroke = |mark: i64| {
        // The bar's middle stands out.
        let colour = if mark == 0 { theme.line } else { theme.line.gamma_multiply(0.55) };
        Stroke::new(1.0, colour)
    };
    for mark in range(view.centre.x, half_x) {
        let x = x_on_screen(rect, view, mark as f64 * step * unit.factor).round();
        painter.vline(x, rect.y_range(), stroke(mark));
    }
    for mark in range(view.centre.y, half_y) {
        let y = to_screen(rect, view, Point2::new(view.centre.x, mark as f64 * step * unit.factor)).y.round();
        painter.hline(rect.x_range(), y, stroke(mark));
    }
}
