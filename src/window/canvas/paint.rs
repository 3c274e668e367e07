//! Paints the display list: shapes first, then words where they have room (`words`).

use std::collections::{BTreeMap, BTreeSet};

use eframe::egui::{Color32, Painter, Pos2, Rect, Shape, Stroke, vec2};
use eframe::epaint::{CircleShape, PathStroke};

use super::obstacles::{HOSE, Obstacles, THIN};
use super::to_screen;
use crate::drawing::{self, Dash, DrawItem, Fill, Ink, Layer, Scene, Subject, TextRole};
use crate::geometry::{Point2, View};
use crate::window::theme::Theme;

/// Points of a line that are nearer to each other than this look like one, points on the screen.
const UNSEEN: f32 = 0.4;

/// What stands out.
#[derive(Debug, Clone, Copy)]
pub struct Highlight<'a> {
    /// Selected.
    pub selected: &'a BTreeSet<Subject>,
    /// Under the pointer.
    pub hovered: Option<Subject>,
}

impl Highlight<'_> {
    /// Nothing stands out.
    pub const NONE: Self = Self { selected: &BTreeSet::new(), hovered: None };

    pub(super) fn is_selected(&self, item: &DrawItem) -> bool {
        item.subject.is_some_and(|subject| self.selected.contains(&subject))
    }

    pub(super) fn is_marked(&self, item: &DrawItem) -> bool {
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
    /// The line back to what they belong to, if they stand off.
    pub leader: Option<[Pos2; 2]>,
}

/// Paints a scene into a rectangle; nothing is painted outside it. Words keep off the places that `reserve` gives, which
/// learns what stands where. Gives the words that found a place.
pub(in crate::window) fn scene(
    painter: &Painter,
    rect: Rect,
    view: &View,
    scene: &Scene,
    highlight: &Highlight<'_>,
    theme: &Theme,
    reserve: impl FnOnce(&Obstacles) -> Vec<Rect>,
) -> Vec<PlacedWords> {
    let painter = painter.with_clip_rect(rect.intersect(painter.clip_rect()));
    let canvas = ScenePainter { painter: &painter, rect, view, highlight, theme };
    let mut shapes: Vec<Shape> = Vec::with_capacity(scene.items.len());
    let shown: Vec<&DrawItem> = scene.items.iter().filter(|item| view.scale >= item.from_scale).collect();
    let mut halos: BTreeMap<(Option<Subject>, Layer), Vec<&DrawItem>> = BTreeMap::new();
    for item in shown.iter().filter(|item| highlight.is_marked(item)) {
        halos.entry((item.subject, item.layer)).or_default().push(item);
    }
    let mut obstacles = Obstacles::new(rect);
    for item in &shown {
        if !halos.is_empty()
            && let Some(all) = halos.remove(&(item.subject, item.layer))
        {
            shapes.extend(all.into_iter().filter_map(|own| canvas.halo(own)));
        }
        canvas.shape(item, &mut shapes, &mut obstacles);
    }
    // All at once: the painter locks its list for each call.
    painter.extend(shapes);
    for place in reserve(&obstacles) {
        obstacles.add_solid(place, None);
    }
    canvas.words(&shown, obstacles)
}

/// What a scene is painted with.
pub(super) struct ScenePainter<'a> {
    pub(super) painter: &'a Painter,
    pub(super) rect: Rect,
    pub(super) view: &'a View,
    pub(super) highlight: &'a Highlight<'a>,
    pub(super) theme: &'a Theme,
}

impl ScenePainter<'_> {
    /// Where a point of an item is on the screen.
    pub(super) fn at(&self, item: &DrawItem, point: Point2) -> Pos2 {
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

    fn corners(&self, item: &DrawItem, points: &[Point2]) -> Vec<Pos2> {
        points.iter().map(|point| self.at(item, *point)).collect()
    }

    /// A line on the screen, without the points of bends that are too small to be seen: each point costs triangles.
    fn line_points(&self, item: &DrawItem, points: &[Point2]) -> Vec<Pos2> {
        let mut way: Vec<Pos2> = Vec::with_capacity(points.len());
        for (at, left) in points.iter().map(|point| self.at(item, *point)).zip((0..points.len()).rev()) {
            // Both ends stay.
            if left == 0 || way.last().is_none_or(|last| last.distance_sq(at) >= UNSEEN * UNSEEN) {
                way.push(at);
            }
        }
        way
    }

    fn halo(&self, item: &DrawItem) -> Option<Shape> {
        let selected = self.highlight.is_selected(item);
        let (colour, by) = if selected { (self.theme.accent, 3.5) } else { (self.theme.soft, 2.5) };
        let colour = colour.gamma_multiply(if selected { 0.45 } else { 0.35 });
        match &item.shape {
            drawing::Shape::Line { points, width, .. } => {
                let points = self.line_points(item, points);
                let width = width.at(self.view.scale) as f32 + 2.0 * by;
                Some(Shape::line(points, PathStroke::new(width, colour)))
            }
            drawing::Shape::Circle { centre, radius } => {
                let radius = self.radius(item, *radius) + by;
                Some(Shape::circle_filled(self.at(item, *centre), radius, colour))
            }
            drawing::Shape::Polygon { points } => {
                let points = self.corners(item, points);
                Some(Shape::convex_polygon(points, colour, PathStroke::new(2.0 * by, colour)))
            }
            drawing::Shape::Text(_) => None,
        }
    }

    fn shape(&self, item: &DrawItem, shapes: &mut Vec<Shape>, obstacles: &mut Obstacles) {
        let colour = self.colour(item);
        let fill = match item.fill {
            Fill::Ink => colour,
            other => self.theme.fill_colour(other, item.ink),
        };
        let edge = if item.ink == Ink::SectionPanel { 0.0 } else { 1.3 };
        // Parts and outlets, the pieces of row feeds, the pump and loose ends.
        let solid = matches!(item.layer, Layer::Parts | Layer::Outlets | Layer::Feeds | Layer::Runs);
        match &item.shape {
            drawing::Shape::Line { points, width, dash } => {
                let points = self.line_points(item, points);
                let bounds = Rect::from_points(&points);
                let width = width.at(self.view.scale) as f32;
                if !bounds.expand(width + 1.0).intersects(self.rect) {
                    return;
                }
                let weight = match item.layer {
                    Layer::Runs => HOSE,
                    Layer::Feeds | Layer::Hinge => THIN,
                    _ => 0.0,
                };
                if weight > 0.0 {
                    for pair in points.windows(2) {
                        obstacles.add_line(pair[0], pair[1], weight);
                    }
                } else if item.layer == Layer::Parts || item.ink == Ink::Travel {
                    obstacles.add_solid(bounds.expand(width / 2.0), item.subject);
                }
                if matches!(item.ink, Ink::Pressure(_)) {
                    let edge =
                        if self.highlight.is_selected(item) { self.theme.accent } else { self.theme.hose };
                    shapes.push(Shape::line(points.clone(), Stroke::new(width + 2.0, edge)));
                }
                stroke(points, width, *dash, colour, shapes);
            }
            drawing::Shape::Circle { centre, radius } => {
                let (centre, radius) = (self.at(item, *centre), self.radius(item, *radius));
                let bounds = Rect::from_center_size(centre, vec2(2.0 * radius, 2.0 * radius));
                if bounds.expand(2.0).intersects(self.rect) {
                    shapes.push(
                        CircleShape { center: centre, radius, fill, stroke: Stroke::new(edge, colour) }
                            .into(),
                    );
                    if solid {
                        obstacles.add_solid(bounds, item.subject);
                    }
                }
            }
            drawing::Shape::Polygon { points } => {
                let points = self.corners(item, points);
                let bounds = Rect::from_points(&points);
                if bounds.expand(2.0).intersects(self.rect) {
                    shapes.push(Shape::convex_polygon(points, fill, PathStroke::new(edge, colour)));
                    if solid {
                        obstacles.add_solid(bounds, item.subject);
                    }
                }
            }
            drawing::Shape::Text(_) => {}
        }
    }
}

fn stroke(points: Vec<Pos2>, width: f32, dash: Dash, colour: Color32, shapes: &mut Vec<Shape>) {
    let stroke = Stroke::new(width, colour);
    match dash {
        Dash::Solid => shapes.push(Shape::line(points, stroke)),
        Dash::Dashed => shapes.extend(Shape::dashed_line(&points, stroke, 3.5, 2.5)),
        Dash::LongDashDot => {
            shapes.extend(Shape::dashed_line_with_offset(&points, stroke, &[12.0, 1.5], &[3.0, 3.0], 0.0));
        }
    }
}
