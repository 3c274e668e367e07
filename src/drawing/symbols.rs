//! Symbols of parts and of pieces of row feeds on the drawing to scale: what the kinds say of theirs
//! (`plan::kinds::symbol`), in metres, and held at a size at which they are told apart.

use super::Subject;
use super::scene::{Dash, DrawItem, Fill, Grow, Ink, Layer, Reach, Shape, Width};
use super::scene_options::Detail;
use crate::geometry::{Point2, Point3};
use crate::plan::kinds::symbol::{Drawn, Filling, HeldSize, Mark, MarkShape, Weight};
use crate::plan::part::place_offset;
use crate::plan::{ItemKind, PartId, PartItem};
use crate::quantities::Angle;

/// A symbol being drawn: its place, its turn, the size of its unit in metres and how it keeps readable.
struct Symbol {
    at: Point3,
    turn: Angle,
    unit: f64,
    shut: bool,
    grow: Grow,
    layer: Layer,
    subject: Subject,
    items: Vec<DrawItem>,
}

impl Symbol {
    fn point(&self, (x, y): (f64, f64)) -> Point2 {
        place_offset(self.at, self.turn, Point2::new(x * self.unit, y * self.unit)).flat()
    }

    fn points(&self, offsets: &[(f64, f64)]) -> Vec<Point2> {
        offsets.iter().map(|offset| self.point(*offset)).collect()
    }

    const fn fill(&self, filling: Filling) -> Fill {
        match filling {
            Filling::Paper => Fill::Paper,
            Filling::Ink => Fill::Ink,
            Filling::InkWhereShut if self.shut => Fill::Ink,
            Filling::InkWhereShut => Fill::Paper,
        }
    }

    fn marks(&mut self, marks: &[Mark]) {
        for mark in marks {
            if mark.drawn != Drawn::WhileShut || self.shut {
                self.mark(mark);
            }
        }
    }

    fn mark(&mut self, mark: &Mark) {
        let (shape, fill) = match &mark.form {
            MarkShape::Line { points, weight, dashed } => {
                let width = match *weight {
                    Weight::Plain => Width::SYMBOL,
                    Weight::Strong => Width { metres: 0.0, least: 2.2 },
                    Weight::Pipe(metres) => Width { metres, least: 1.6 },
                };
                let dash = if *dashed { Dash::Dashed } else { Dash::Solid };
                (Shape::Line { points: self.points(points), width, dash }, Fill::None)
            }
            MarkShape::Area { points, filling } => {
                (Shape::Polygon { points: self.points(points) }, self.fill(*filling))
            }
            MarkShape::Circle { centre, radius, filling } => {
                let shape = Shape::Circle { centre: self.point(*centre), radius: radius * self.unit };
                (shape, self.fill(*filling))
            }
            MarkShape::RoundedBox { half, top, bottom, radius, filling } => {
                let points = self.points(&rounded_box(*half, *top, *bottom, *radius));
                (Shape::Polygon { points }, self.fill(*filling))
            }
        };
        let item = DrawItem::new(self.layer, shape, Ink::Part).filled(fill).of(self.subject);
        self.items.push(if mark.drawn == Drawn::TrueToScale { item } else { item.growing(self.grow) });
    }
}

/// How far a part's symbol reaches along and across itself.
pub(super) fn reach(item: &PartItem, detail: Detail) -> (Reach, Reach) {
    let symbol = item.symbol();
    // From afar symbols give way to each other; they keep a size at which they are told apart.
    let least = |size: f64| if detail == Detail::Overview { size * 0.66 } else { size };
    let held = |HeldSize { half, least: size }| Reach::at_least(half, least(size));
    (held(symbol.along), held(symbol.across))
}

/// The symbol of a part that is not placed yet: nobody can point at it.
pub fn symbol(item: &PartItem, at: Point3, turn: Angle, detail: Detail) -> Vec<DrawItem> {
    let mut items = part(item, at, turn, false, Subject::Part(PartId(u32::MAX)), detail);
    for item in &mut items {
        item.subject = None;
    }
    items
}

/// The symbol of a placed part.
pub(super) fn part(
    item: &PartItem,
    at: Point3,
    turn: Angle,
    shut: bool,
    subject: Subject,
    detail: Detail,
) -> Vec<DrawItem> {
    let (along, across) = reach(item, detail);
    let grow = Grow { about: at.flat(), turn: turn.si(), along, across };
    let own = item.symbol();
    let unit = own.unit;
    let mut symbol = Symbol { at, turn, unit, shut, grow, layer: Layer::Parts, subject, items: Vec::new() };
    symbol.marks(&own.marks);
    symbol.items
}

/// Half the size of what sits in a row feed, metres.
const IN_FEED: f64 = 0.016;

/// What sits in a row feed, drawn on its tube once there is room, with `turn` in the direction of the flow; nothing for
/// what is as wide as its tube.
pub(super) fn in_feed(kind: ItemKind, at: Point3, turn: Angle, subject: Subject) -> Vec<DrawItem> {
    let Some(own) = kind.feed_symbol().filter(|symbol| symbol.to_scale) else { return Vec::new() };
    let grow = Grow::evenly(at.flat(), Reach::true_to_scale(IN_FEED));
    let layer = Layer::Feeds;
    let mut symbol = Symbol { at, turn, unit: IN_FEED, shut: false, grow, layer, subject, items: Vec::new() };
    // It interrupts its tube.
    symbol.marks(&[Mark::area(&[(-1.0, 1.0), (1.0, 1.0), (1.0, -1.0), (-1.0, -1.0)], Filling::Paper)]);
    symbol.marks(&own.marks);
    symbol.items
}

/// A kind has a symbol in the row feed of a bar to scale.
pub(super) fn is_drawn_in_feed(kind: ItemKind) -> bool {
    kind.feed_symbol().is_some_and(|symbol| symbol.to_scale)
}

/// A box about the origin with rounded corners, from `bottom` to `top`.
fn rounded_box(half: f64, top: f64, bottom: f64, radius: f64) -> Vec<(f64, f64)> {
    let radius = radius.min(half).min((top - bottom) / 2.0);
    let corners = [(half, top, 0.0), (-half, top, 90.0), (-half, bottom, 180.0), (half, bottom, 270.0)];
    let mut points = Vec::new();
    for (x, y, from) in corners {
        let (cx, cy) = (x - radius * x.signum(), if y == top { y - radius } else { y + radius });
        for step in 0..=3 {
            let (sin, cos) = f64::to_radians(from + 30.0 * f64::from(step)).sin_cos();
            points.push((cx + radius * cos, cy + radius * sin));
        }
    }
    points
}

/// A box between two corners with rounded corners, plan view.
pub(super) fn panel(left: f64, right: f64, back: f64, front: f64, radius: f64) -> Vec<Point2> {
    let (x, y) = (f64::midpoint(left, right), f64::midpoint(back, front));
    let (half, depth) = ((right - left) / 2.0, (front - back) / 2.0);
    rounded_box(half, depth, -depth, radius).into_iter().map(|(dx, dy)| Point2::new(x + dx, y + dy)).collect()
}
