//! Paints the display list: shapes first, then words where they have room.
//!
//! Words are laid out at their final size in points. They never overlap each other, a part or an outlet: the more
//! important ones choose first, and one that finds no room is left away; a tag moves off and keeps a thin line to its
//! part. Values beside outlets come only where nine in ten have room, so that a picture is not dotted with a few
//! chance numbers; pointing at a row shows its own.

use std::collections::BTreeSet;
use std::sync::Arc;

use eframe::egui::text::LayoutJob;
use eframe::egui::{Align, Color32, FontId, Galley, Painter, Pos2, Rect, Shape, Stroke, pos2, vec2};
use eframe::epaint::PathStroke;

use super::to_screen;
use crate::drawing::{
    self, Dash, DrawItem, Fill, Ink, Layer, Scene, SceneText, Subject, TextPlace, TextRole,
};
use crate::geometry::{Point2, View};
use crate::window::theme::Theme;

/// What stands out.
#[derive(Debug, Clone, Copy, Default)]
pub struct Highlight<'a> {
    /// Selected.
    pub selected: &'a [Subject],
    /// Under the pointer.
    pub hovered: Option<Subject>,
}

impl Highlight<'_> {
    fn is_selected(&self, item: &DrawItem) -> bool {
        item.subject.is_some_and(|subject| self.selected.contains(&subject))
    }

    fn is_marked(&self, item: &DrawItem) -> bool {
        self.is_selected(item) || (item.subject.is_some() && item.subject == self.hovered)
    }
}

/// Words that found a place.
#[derive(Debug, Clone, PartialEq)]
pub struct PlacedWords {
    /// Where they stand.
    pub rect: Rect,
    /// As written.
    pub words: String,
    /// What kind of words.
    pub role: TextRole,
    /// What they belong to.
    pub subject: Option<Subject>,
}

/// Paints a scene into a rectangle; nothing is painted outside it. Words keep off the `reserved` places. Gives the
/// words that found a place.
pub fn scene(
    painter: &Painter,
    rect: Rect,
    view: &View,
    scene: &Scene,
    highlight: &Highlight<'_>,
    theme: &Theme,
    reserved: &[Rect],
) -> Vec<PlacedWords> {
    let painter = painter.with_clip_rect(rect.intersect(painter.clip_rect()));
    let canvas = ScenePainter { painter: &painter, rect, view, highlight, theme };
    let shown: Vec<&DrawItem> = scene.items.iter().filter(|item| view.scale >= item.from_scale).collect();
    let mut haloed: BTreeSet<(Subject, Layer)> = BTreeSet::new();
    let mut obstacles = Obstacles::new(rect);
    for place in reserved {
        obstacles.add_solid(*place, None);
    }
    for item in &shown {
        if highlight.is_marked(item)
            && let Some(subject) = item.subject
            && haloed.insert((subject, item.layer))
        {
            for own in shown.iter().filter(|own| own.subject == Some(subject) && own.layer == item.layer) {
                canvas.halo(own);
            }
        }
        canvas.shape(item, &mut obstacles);
    }
    canvas.words(&shown, obstacles)
}

struct ScenePainter<'a> {
    painter: &'a Painter,
    rect: Rect,
    view: &'a View,
    highlight: &'a Highlight<'a>,
    theme: &'a Theme,
}

/// What words keep clear of. Sorted into columns of the picture: hundreds of words look for a place in every frame of a
/// drag, and most obstacles are nowhere near.
struct Obstacles {
    /// Never covered, except by the words of the same subject.
    solid: Vec<(Rect, Option<Subject>)>,
    /// Better not covered: pieces of hoses and tubes, with how much it matters.
    lines: Vec<(Pos2, Pos2, f32)>,
    left: f32,
    /// Which solid ones and which lines reach into a column.
    columns: Vec<(Vec<u32>, Vec<u32>)>,
}

impl Obstacles {
    /// Width of a column, points: about that of a value.
    const COLUMN: f32 = 32.0;

    fn new(rect: Rect) -> Self {
        let count = (rect.width().max(0.0) / Self::COLUMN).ceil().clamp(1.0, 512.0) as usize;
        Self {
            solid: Vec::new(),
            lines: Vec::new(),
            left: rect.left(),
            columns: vec![(Vec::new(), Vec::new()); count],
        }
    }

    fn column(&self, x: f32) -> usize {
        // What lies beyond the picture counts for its first or last column.
        let column = ((x - self.left) / Self::COLUMN).max(0.0) as usize;
        column.min(self.columns.len() - 1)
    }

    fn add_solid(&mut self, rect: Rect, whose: Option<Subject>) {
        let index = self.solid.len() as u32;
        for column in self.column(rect.left())..=self.column(rect.right()) {
            self.columns[column].0.push(index);
        }
        self.solid.push((rect, whose));
    }

    fn add_line(&mut self, a: Pos2, b: Pos2, weight: f32) {
        let index = self.lines.len() as u32;
        for column in self.column(a.x.min(b.x))..=self.column(a.x.max(b.x)) {
            self.columns[column].1.push(index);
        }
        self.lines.push((a, b, weight));
    }

    /// Takes back the solid ones that were added last.
    fn keep_solid(&mut self, count: usize) {
        self.solid.truncate(count);
        for (solid, _) in &mut self.columns {
            while solid.last().is_some_and(|last| *last as usize >= count) {
                solid.pop();
            }
        }
    }

    /// The solid ones in the columns of a place.
    fn solid_near(&self, rect: Rect) -> impl Iterator<Item = &(Rect, Option<Subject>)> {
        let columns = &self.columns[self.column(rect.left())..=self.column(rect.right())];
        columns.iter().flat_map(|(solid, _)| solid).map(|index| &self.solid[*index as usize])
    }

    /// The lines in the columns of a place, each once.
    fn lines_near(&self, rect: Rect) -> impl Iterator<Item = &(Pos2, Pos2, f32)> {
        let first = self.column(rect.left());
        (first..=self.column(rect.right())).flat_map(move |column| {
            let lines = self.columns[column].1.iter().map(|index| &self.lines[*index as usize]);
            // One that began in an earlier column of the place was there already.
            lines.filter(move |(a, b, _)| column == self.column(a.x.min(b.x)).max(first))
        })
    }
}

/// A place found for words.
struct Placed {
    rect: Rect,
    galley: Arc<Galley>,
    crosses: f32,
    /// Within the shape they belong to.
    inside: bool,
    /// The line back to what they belong to, if they stand off.
    leader: Option<[Pos2; 2]>,
}

impl ScenePainter<'_> {
    fn at(&self, item: &DrawItem, point: Point2) -> Pos2 {
        let point = item.grow.map_or(point, |grow| grow.apply(point, self.view.scale));
        to_screen(self.rect, self.view, point)
    }

    fn colour(&self, item: &DrawItem) -> Color32 {
        let takes_accent =
            matches!(item.ink, Ink::Part | Ink::Hose | Ink::Tube | Ink::HoseStill | Ink::TubeStill);
        // The edge of a pressure's colour is the hose's.
        if takes_accent && self.highlight.is_selected(item) {
            self.theme.accent
        } else {
            self.theme.ink_colour(item.ink)
        }
    }

    /// The picture of an item's radius: circles grow with their symbol.
    fn radius(&self, item: &DrawItem, radius: f64) -> f32 {
        let factor = item.grow.map_or(1.0, |grow| grow.along.factor(self.view.scale));
        (radius * factor * self.view.scale) as f32
    }

    fn line_points(&self, item: &DrawItem, points: &[Point2]) -> Vec<Pos2> {
        points.iter().map(|point| self.at(item, *point)).collect()
    }

    fn halo(&self, item: &DrawItem) {
        let selected = self.highlight.is_selected(item);
        let (colour, by) = if selected { (self.theme.accent, 3.5) } else { (self.theme.soft, 2.5) };
        let colour = colour.gamma_multiply(if selected { 0.45 } else { 0.35 });
        match &item.shape {
            drawing::Shape::Line { points, width, .. } => {
                let points = self.line_points(item, points);
                let width = width.at(self.view.scale) as f32 + 2.0 * by;
                self.painter.line(points, PathStroke::new(width, colour));
            }
            drawing::Shape::Circle { centre, radius } => {
                let radius = self.radius(item, *radius) + by;
                self.painter.circle_filled(self.at(item, *centre), radius, colour);
            }
            drawing::Shape::Polygon { points } => {
                let points = self.line_points(item, points);
                self.painter.add(Shape::convex_polygon(points, colour, PathStroke::new(2.0 * by, colour)));
            }
            drawing::Shape::Text(_) => {}
        }
    }

    fn shape(&self, item: &DrawItem, obstacles: &mut Obstacles) {
        let colour = self.colour(item);
        let fill = match item.fill {
            Fill::Ink => colour,
            other => self.theme.fill_colour(other, item.ink),
        };
        let edge = if item.ink == Ink::SectionPanel { 0.0 } else { 1.3 };
        let solid = matches!(item.layer, Layer::Parts | Layer::Outlets);
        match &item.shape {
            drawing::Shape::Line { points, width, dash } => {
                let points = self.line_points(item, points);
                let bounds = Rect::from_points(&points);
                let width = width.at(self.view.scale) as f32;
                if !bounds.expand(width + 1.0).intersects(self.rect) {
                    return;
                }
                let weight = match item.layer {
                    Layer::Runs => 2.0,
                    Layer::Feeds | Layer::Hinge => 1.0,
                    _ => 0.0,
                };
                if weight > 0.0 {
                    for pair in points.windows(2) {
                        obstacles.add_line(pair[0], pair[1], weight);
                    }
                } else if item.layer == Layer::Parts {
                    obstacles.add_solid(bounds.expand(width / 2.0), item.subject);
                }
                if matches!(item.ink, Ink::Pressure(_)) {
                    let edge =
                        if self.highlight.is_selected(item) { self.theme.accent } else { self.theme.hose };
                    self.painter.line(points.clone(), Stroke::new(width + 2.0, edge));
                }
                self.stroke(points, width, *dash, colour);
            }
            drawing::Shape::Circle { centre, radius } => {
                let (centre, radius) = (self.at(item, *centre), self.radius(item, *radius));
                let bounds = Rect::from_center_size(centre, vec2(2.0 * radius, 2.0 * radius));
                if bounds.expand(2.0).intersects(self.rect) {
                    self.painter.circle(centre, radius, fill, Stroke::new(edge, colour));
                    if solid {
                        obstacles.add_solid(bounds, item.subject);
                    }
                }
            }
            drawing::Shape::Polygon { points } => {
                let points = self.line_points(item, points);
                let bounds = Rect::from_points(&points);
                if bounds.expand(2.0).intersects(self.rect) {
                    self.painter.add(Shape::convex_polygon(points, fill, PathStroke::new(edge, colour)));
                    if solid {
                        obstacles.add_solid(bounds, item.subject);
                    }
                }
            }
            drawing::Shape::Text(_) => {}
        }
    }

    fn stroke(&self, points: Vec<Pos2>, width: f32, dash: Dash, colour: Color32) {
        let stroke = Stroke::new(width, colour);
        match dash {
            Dash::Solid => {
                self.painter.line(points, stroke);
            }
            Dash::Dashed => {
                self.painter.extend(Shape::dashed_line(&points, stroke, 3.5, 2.5));
            }
            Dash::LongDashDot => {
                let pattern = Shape::dashed_line_with_offset(&points, stroke, &[12.0, 1.5], &[3.0, 3.0], 0.0);
                self.painter.extend(pattern);
            }
        }
    }

    fn words(&self, shown: &[&DrawItem], mut obstacles: Obstacles) -> Vec<PlacedWords> {
        let mut labels = Vec::new();
        let mut words: Vec<(&DrawItem, &SceneText)> = shown
            .iter()
            .filter_map(|item| match &item.shape {
                drawing::Shape::Text(text) => Some((*item, text)),
                _ => None,
            })
            .filter(|(item, text)| {
                text.role == TextRole::Section || self.rect.expand(40.0).contains(self.at(item, text.at))
            })
            .collect();
        // What is pointed at speaks first, then by role.
        words.sort_by_key(|(item, text)| (!self.highlight.is_marked(item), text.role));
        let mut rest = words.as_slice();
        while let Some((item, text)) = rest.first() {
            if text.role == TextRole::Value && !self.highlight.is_marked(item) {
                let count = rest.iter().take_while(|(_, text)| text.role == TextRole::Value).count();
                let (values, after) = rest.split_at(count);
                self.values(values, &mut obstacles, &mut labels);
                rest = after;
                continue;
            }
            let found = match text.role {
                TextRole::Section => self.place_in_sight(item, text, &obstacles),
                _ => (0..text.wordings.len())
                    .find_map(|wording| self.place(item, text, wording, &obstacles))
                    .or_else(|| self.place_off(item, text, &obstacles)),
            };
            if let Some(placed) = found {
                if let Some([from, to]) = placed.leader {
                    obstacles.add_line(from, to, 4.0);
                }
                obstacles.add_solid(placed.rect.expand(1.0), None);
                self.write(item, text, &placed, &mut labels);
            }
            rest = &rest[1..];
        }
        labels
    }

    /// Values with the longest wording that has room for nine in ten of them, or none.
    fn values(
        &self,
        values: &[(&DrawItem, &SceneText)],
        obstacles: &mut Obstacles,
        labels: &mut Vec<PlacedWords>,
    ) {
        let longest = values.iter().map(|(_, text)| text.wordings.len()).max().unwrap_or(0);
        let before = obstacles.solid.len();
        for shorter in 0..longest {
            let mut all = Vec::with_capacity(values.len());
            let mut missed = 0;
            let inner = self.rect.shrink2(vec2(40.0, 24.0));
            for (item, text) in values {
                let wording = shorter.min(text.wordings.len().saturating_sub(1));
                let Some(placed) = self.place(item, text, wording, obstacles) else {
                    // At the edge of the picture there is no room for some, whatever the zoom.
                    missed += usize::from(inner.contains(self.at(item, text.at)));
                    // Already too many without room: the rest need not be tried.
                    if missed * 10 > values.len() {
                        break;
                    }
                    continue;
                };
                obstacles.add_solid(placed.rect.expand(1.0), None);
                all.push((*item, *text, placed));
            }
            if missed * 10 <= values.len() {
                for (item, text, placed) in &all {
                    self.write(item, text, placed, labels);
                }
                return;
            }
            obstacles.keep_solid(before);
        }
    }

    fn galley(&self, item: &DrawItem, text: &SceneText, words: &str, inside: bool) -> Arc<Galley> {
        let colour = self.words_colour(item, inside);
        let mut job = LayoutJob::simple(words.to_owned(), font(text.role), colour, f32::INFINITY);
        job.halign = Align::Center;
        self.painter.layout_job(job)
    }

    /// A place for the name of a section: over the middle of what is seen of it, and never beyond the picture's top.
    fn place_in_sight(&self, item: &DrawItem, text: &SceneText, obstacles: &Obstacles) -> Option<Placed> {
        let at = self.at(item, text.at);
        let half = text.room.map_or(f32::INFINITY, |room| (room * self.view.scale / 2.0) as f32);
        let (left, right) = ((at.x - half).max(self.rect.left()), (at.x + half).min(self.rect.right()));
        if at.y > self.rect.bottom() {
            return None;
        }
        for words in &text.wordings {
            let galley = self.galley(item, text, words, false);
            let size = galley.size();
            if size.x > right - left {
                continue;
            }
            // Always over the middle, so that it stays where it is while hoses are drawn, on a ground of its own over
            // them; it gives way upwards or downwards to parts and to the buttons in the corner.
            let x = f32::midpoint(left, right);
            for step in 0..32i8 {
                let off = if step < 12 { -4.0 * f32::from(step) } else { 4.0 * f32::from(step - 11) };
                let foot = (at.y - 1.0 + off).max(self.rect.top() + size.y + 2.0);
                let rect = Rect::from_center_size(pos2(x, foot - size.y / 2.0), size);
                let taken = |(other, _): &(Rect, Option<Subject>)| other.intersects(rect);
                if !self.rect.contains_rect(rect) || obstacles.solid_near(rect).any(taken) {
                    continue;
                }
                let hose = |(a, b, weight): &(Pos2, Pos2, f32)| *weight > 1.0 && crosses(rect, *a, *b);
                let crosses = if obstacles.lines_near(rect).any(hose) { 1.0 } else { 0.0 };
                return Some(Placed { rect, galley, crosses, inside: false, leader: None });
            }
        }
        None
    }

    /// A place off a part for its tag, with a line back to it: in front first, then behind, as near as there is room.
    fn place_off(&self, item: &DrawItem, text: &SceneText, obstacles: &Obstacles) -> Option<Placed> {
        if text.role != TextRole::Tag || text.places.is_empty() {
            return None;
        }
        let at = self.at(item, text.at);
        if !self.rect.contains(at) {
            return None;
        }
        let clear_y = text.clear_y.at(self.view.scale) as f32;
        for words in &text.wordings {
            let galley = self.galley(item, text, words, false);
            let size = galley.size();
            for step in 1..=9u8 {
                for (way, aside) in
                    [(-1.0, 0.0), (1.0, 0.0), (-1.0, 0.7), (-1.0, -0.7), (1.0, 0.7), (1.0, -0.7)]
                {
                    let away = clear_y + size.y / 2.0 + 6.0 + 8.0 * f32::from(step);
                    let centre = at + vec2(aside * size.x, way * away);
                    let rect = Rect::from_center_size(centre, size);
                    let leader = [at + vec2(0.0, way * clear_y), centre - vec2(0.0, way * size.y / 2.0)];
                    let free = |(other, whose): &(Rect, Option<Subject>)| {
                        // The line may cross outlets, but no words.
                        !other.intersects(rect) && (whose.is_some() || !crosses(*other, leader[0], leader[1]))
                    };
                    if self.rect.contains_rect(rect)
                        && obstacles
                            .solid_near(rect.union(Rect::from_two_pos(leader[0], leader[1])))
                            .all(free)
                    {
                        return Some(Placed {
                            rect,
                            galley,
                            crosses: 0.0,
                            inside: false,
                            leader: Some(leader),
                        });
                    }
                }
            }
        }
        None
    }

    /// The best free place for a wording: the one that crosses the fewest lines, the earlier one among equals.
    fn place(
        &self,
        item: &DrawItem,
        text: &SceneText,
        wording: usize,
        obstacles: &Obstacles,
    ) -> Option<Placed> {
        let words = text.wordings.get(wording)?;
        let galley = self.galley(item, text, words, false);
        let size = galley.size();
        if text.room.is_some_and(|room| f64::from(size.x) > room * self.view.scale) {
            return None;
        }
        let at = self.at(item, text.at);
        let (clear_x, clear_y) =
            (text.clear_x.at(self.view.scale) as f32, text.clear_y.at(self.view.scale) as f32);
        let gap = 3.0;
        let mut best: Option<Placed> = None;
        // A caption moves outwards, bit by bit, where a tag stands in its way.
        let outwards = if text.role == TextRole::Caption && text.room.is_some() { 10u8 } else { 1 };
        let places = (0..outwards).flat_map(|step| text.places.iter().map(move |place| (step, place)));
        for (step, place) in places {
            let push = 4.0 * f32::from(step);
            let centre = match place {
                TextPlace::Inside if size.x > 2.0 * clear_x - 4.0 || size.y > 2.0 * clear_y + 1.0 => continue,
                TextPlace::Inside => at,
                TextPlace::Right => at + vec2(clear_x + gap + size.x / 2.0, 0.0),
                TextPlace::Left => at - vec2(clear_x + gap + size.x / 2.0, 0.0),
                TextPlace::Above => at - vec2(0.0, clear_y + 1.0 + push + size.y / 2.0),
                TextPlace::Below => at + vec2(0.0, clear_y + 1.0 + push + size.y / 2.0),
            };
            let rect = Rect::from_center_size(centre, size);
            let inside = *place == TextPlace::Inside;
            let taken = |(other, whose): &(Rect, Option<Subject>)| {
                other.intersects(rect) && !(inside && whose.is_some() && *whose == item.subject)
            };
            if !self.rect.contains_rect(rect) || obstacles.solid_near(rect).any(taken) {
                continue;
            }
            let crosses: f32 = if inside {
                0.0
            } else {
                obstacles
                    .lines_near(rect)
                    .map(|(a, b, weight)| if crosses(rect, *a, *b) { *weight } else { 0.0 })
                    .sum()
            };
            if best.as_ref().is_none_or(|best| crosses < best.crosses) {
                let done = crosses == 0.0;
                let galley = if inside { self.galley(item, text, words, true) } else { galley.clone() };
                best = Some(Placed { rect, galley, crosses, inside, leader: None });
                if done {
                    break;
                }
            }
        }
        best
    }

    fn words_colour(&self, item: &DrawItem, inside: bool) -> Color32 {
        match item.ink {
            // On its own colour a word must first be readable.
            Ink::OnPressure(_) if inside => self.theme.ink_colour(item.ink),
            _ if self.highlight.is_selected(item) => self.theme.accent,
            Ink::OnPressure(_) => self.theme.ink,
            ink => self.theme.ink_colour(ink),
        }
    }

    fn write(&self, item: &DrawItem, text: &SceneText, placed: &Placed, labels: &mut Vec<PlacedWords>) {
        if let Some(leader) = placed.leader {
            self.painter.line_segment(leader, Stroke::new(1.0, self.theme.hinge));
        }
        if placed.crosses > 0.0 {
            let veil = self.theme.ground.gamma_multiply(0.85);
            self.painter.rect_filled(placed.rect.expand2(vec2(1.5, -0.5)), 3.0, veil);
        }
        let offset = placed.galley.rect.min.to_vec2();
        let at = pos2(placed.rect.min.x.round(), placed.rect.min.y.round()) - offset;
        self.painter.galley(at, placed.galley.clone(), self.words_colour(item, placed.inside));
        labels.push(PlacedWords {
            rect: placed.rect,
            words: placed.galley.text().to_owned(),
            role: text.role,
            subject: item.subject,
        });
    }
}

const fn font(role: TextRole) -> FontId {
    FontId::proportional(match role {
        TextRole::Section => 13.0,
        TextRole::Caption | TextRole::Value => 11.0,
        TextRole::Tag => 12.0,
        TextRole::Dimension => 10.5,
        TextRole::OutletNumber => 9.5,
    })
}

/// A straight piece touches a box (Liang and Barsky 1984).
fn crosses(rect: Rect, a: Pos2, b: Pos2) -> bool {
    let (dx, dy) = (b.x - a.x, b.y - a.y);
    let (mut enter, mut leave) = (0.0f32, 1.0f32);
    for (p, q) in
        [(-dx, a.x - rect.min.x), (dx, rect.max.x - a.x), (-dy, a.y - rect.min.y), (dy, rect.max.y - a.y)]
    {
        if p == 0.0 {
            if q < 0.0 {
                return false;
            }
        } else if p < 0.0 {
            enter = enter.max(q / p);
        } else {
            leave = leave.min(q / p);
        }
    }
    enter <= leave
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_piece_and_a_box() {
        let rect = Rect::from_min_max(pos2(0.0, 0.0), pos2(2.0, 1.0));
        assert!(crosses(rect, pos2(-1.0, 0.5), pos2(3.0, 0.5)));
        assert!(crosses(rect, pos2(0.5, 0.5), pos2(0.6, 0.6)));
        assert!(crosses(rect, pos2(-1.0, -0.5), pos2(3.0, 1.5)));
        assert!(!crosses(rect, pos2(-1.0, 2.0), pos2(3.0, 2.0)));
        assert!(!crosses(rect, pos2(-1.0, 1.5), pos2(0.5, 3.0)));
    }
}
