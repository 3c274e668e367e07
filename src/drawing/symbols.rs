//! Symbols of parts, after ISO 1219-1 where it has one: a filter is a diamond with a broken line across the
//! flow, a gauge a circle with a needle, a check valve a ball on its seat. A shut-off valve is two triangles tip
//! to tip, as in the plumbing diagrams of ISO 14617; shut, they are filled. Manifold, tee and plug are drawn as
//! what they look like from above.

use super::scene::{Dash, DrawItem, Fill, Grow, Ink, Layer, Reach, Shape, Width};
use super::{Detail, Subject};
use crate::geometry::{Point2, Point3};
use crate::plan::part::{half_depth, half_length, place_offset, port_offset};
use crate::plan::{ElementItem, FittingItem, Item, PartId, PartItem, Port, StockItem};
use crate::quantities::Angle;

/// A symbol being drawn: its place, its turn and how it keeps readable.
struct Symbol {
    at: Point3,
    turn: Angle,
    grow: Grow,
    layer: Layer,
    subject: Subject,
    items: Vec<DrawItem>,
}

impl Symbol {
    fn point(&self, x: f64, y: f64) -> Point2 {
        place_offset(self.at, self.turn, Point2::new(x, y)).flat()
    }

    fn points(&self, offsets: &[(f64, f64)]) -> Vec<Point2> {
        offsets.iter().map(|(x, y)| self.point(*x, *y)).collect()
    }

    fn add(&mut self, shape: Shape, fill: Fill) {
        let item =
            DrawItem::new(self.layer, shape, Ink::Part).filled(fill).of(self.subject).growing(self.grow);
        self.items.push(item);
    }

    fn polygon(&mut self, offsets: &[(f64, f64)], fill: Fill) {
        let points = self.points(offsets);
        self.add(Shape::Polygon { points }, fill);
    }

    fn circle(&mut self, x: f64, y: f64, radius: f64, fill: Fill) {
        let centre = self.point(x, y);
        self.add(Shape::Circle { centre, radius }, fill);
    }

    fn line(&mut self, offsets: &[(f64, f64)], width: Width, dash: Dash) {
        let points = self.points(offsets);
        self.add(Shape::Line { points, width, dash }, Fill::None);
    }
}

/// How far a part's symbol reaches along and across itself.
pub(super) fn reach(item: &PartItem, detail: Detail) -> (Reach, Reach) {
    // From afar symbols give way to each other; they keep a size at which they are told apart.
    let least = |size: f64| if detail == Detail::Overview { size * 0.66 } else { size };
    match item {
        // True along its body, so that tubes leave it at their outlets.
        PartItem::Manifold { .. } => {
            (Reach::true_to_scale(half_length(item)), Reach::at_least(half_depth(item), least(8.5)))
        }
        PartItem::InletFilter { .. } => both(Reach::at_least(half_length(item), least(10.0))),
        PartItem::Tee { .. } => both(Reach::at_least(0.035, least(3.6))),
        PartItem::BlankingPlug { .. } => both(Reach::at_least(half_length(item), least(3.5))),
        PartItem::Gauge { .. } => both(Reach::at_least(half_length(item), least(8.0))),
        PartItem::SectionValve { .. } => both(Reach::at_least(half_length(item), least(8.5))),
    }
}

const fn both(reach: Reach) -> (Reach, Reach) {
    (reach, reach)
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
    let mut symbol = Symbol { at, turn, grow, layer: Layer::Parts, subject, items: Vec::new() };
    match item {
        PartItem::InletFilter { .. } => {
            let r = half_length(item);
            symbol.polygon(&[(0.0, r), (r, 0.0), (0.0, -r), (-r, 0.0)], Fill::Paper);
            symbol.line(&[(-r, 0.0), (r, 0.0)], Width::SYMBOL, Dash::Dashed);
        }
        PartItem::Tee { .. } => {
            // Its arms reach the ports at true scale, so that hoses meet it at every zoom.
            for port in [Port::In, Port::Out, Port::Branch] {
                let arm = port_offset(item, port);
                symbol.line(&[(0.0, 0.0), (arm.x, arm.y)], Width { metres: 0.02, least: 1.6 }, Dash::Solid);
            }
            for arm in &mut symbol.items {
                arm.grow = None;
            }
            symbol.circle(0.0, 0.0, 0.035, Fill::Ink);
        }
        PartItem::SectionValve { .. } => {
            let r = half_length(item);
            let fill = if shut { Fill::Ink } else { Fill::Paper };
            let half = r * 0.62;
            symbol.polygon(&[(-r, half), (0.0, 0.0), (-r, -half)], fill);
            symbol.polygon(&[(r, half), (0.0, 0.0), (r, -half)], fill);
            if shut {
                symbol.line(
                    &[(0.0, r * 0.95), (0.0, -r * 0.95)],
                    Width { metres: 0.0, least: 2.2 },
                    Dash::Solid,
                );
            }
        }
        PartItem::Manifold { outlets, .. } => {
            let (half, depth) = (half_length(item), half_depth(item));
            // The taps stand out of the body towards the rows.
            for number in 1..=*outlets {
                let tap = port_offset(item, Port::Outlet(number));
                symbol.line(&[(tap.x, tap.y * 0.8), (tap.x, tap.y)], TAP, Dash::Solid);
            }
            symbol.polygon(&rounded_box(half, depth, -depth * 0.82, 0.018), Fill::Paper);
        }
        PartItem::Gauge { .. } => {
            let r = half_length(item);
            symbol.circle(0.0, 0.0, r, Fill::Paper);
            symbol.line(&[(-r * 0.42, -r * 0.42), (r * 0.52, r * 0.52)], Width::SYMBOL, Dash::Solid);
            let (tip, wing) = (r * 0.62, r * 0.2);
            symbol.polygon(
                &[(tip, tip), (tip - wing * 2.2, wing * 1.4), (wing * 1.4, tip - wing * 2.2)],
                Fill::Ink,
            );
        }
        PartItem::BlankingPlug { .. } => {
            let r = half_length(item);
            symbol.polygon(&[(-r, r * 0.5), (r, r * 0.5), (r, -r * 0.5), (-r, -r * 0.5)], Fill::Ink);
        } // Not placed by themselves.
    }
    symbol.items
}

const TAP: Width = Width { metres: 0.012, least: 1.6 };

/// What sits in a row feed, drawn on its tube once there is room: a check valve or a metering element, with
/// `turn` in the direction of the flow.
pub(super) fn in_feed(item: &Item, at: Point3, turn: Angle, subject: Subject) -> Vec<DrawItem> {
    let r = 0.016;
    let grow = Grow::evenly(at.flat(), Reach::true_to_scale(r));
    let mut symbol = Symbol { at, turn, grow, layer: Layer::Feeds, subject, items: Vec::new() };
    match item {
        Item::Element(ElementItem::CheckValve { .. }) => {
            symbol.polygon(&[(-r, r), (r, r), (r, -r), (-r, -r)], Fill::Paper);
            symbol.line(
                &[(r * 0.1, r * 0.75), (-r * 0.7, 0.0), (r * 0.1, -r * 0.75)],
                Width::SYMBOL,
                Dash::Solid,
            );
            symbol.circle(r * 0.02, 0.0, r * 0.42, Fill::Paper);
        }
        Item::Element(ElementItem::MeteringOrifice { .. }) | Item::Stock(StockItem::MeteringTube(_)) => {
            symbol.polygon(&[(-r, r), (r, r), (r, -r), (-r, -r)], Fill::Paper);
            // A throttle is two arcs that narrow the way; a metering tube narrows it over a length.
            let long = if matches!(item, Item::Stock(_)) { 0.6 } else { 0.12 };
            for side in [1.0, -1.0] {
                let way =
                    [(-r * 0.85, r * 0.8 * side), (-r * long, r * 0.25 * side), (r * long, r * 0.25 * side)];
                symbol.line(&way, Width::SYMBOL, Dash::Solid);
                let out = [(r * long, r * 0.25 * side), (r * 0.85, r * 0.8 * side)];
                symbol.line(&out, Width::SYMBOL, Dash::Solid);
            }
        }
        // A fitting is as wide as its tube, a small tee is a dot of its own; the others are no elements of row feeds.
        Item::Fitting(FittingItem::Fitting { .. } | FittingItem::SmallTee { .. })
        | Item::Stock(StockItem::Hose(_) | StockItem::Tube(_))
        | Item::Part(_) => {}
    }
    symbol.items
}

/// An element has a symbol in the row feed of a bar to scale.
pub(super) const fn is_drawn_in_feed(item: &Item) -> bool {
    match item {
        Item::Element(_) | Item::Stock(StockItem::MeteringTube(_)) => true,
        Item::Part(_) | Item::Fitting(_) | Item::Stock(StockItem::Hose(_) | StockItem::Tube(_)) => false,
    }
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
