//! The bar in a position of its fold, from one side, in a display list.
//!
//! A picture keeps the room that it needs in any position of the fold, so that nothing jumps while the bar folds.

use super::bar::{FoldedWays, bar_scene_with};
use super::scene::{Dash, DrawItem, Ink, Layer, Reach, Scene, SceneText, Shape, TextPlace, TextRole, Width};
use super::scene_options::SceneOptions;
use super::seen_from::SeenFrom;
use crate::geometry::{Bounds, Point2, Point3};
use crate::hydraulics::outcome::Outcome;
use crate::plan::{Envelope, FoldPosition, FoldedBar, LaidRouting, Project, TransportLimits};
use crate::quantities::Measure;
use strum::EnumCount as _;

/// How far the ground goes on beside a picture, metres.
const GROUND_BEYOND: f64 = 0.175;
/// Above each picture, for its name, metres.
const CAPTION: f64 = 0.6;

/// A picture of the fold from one side.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FoldRoom {
    /// From where it is looked at.
    pub seen: SeenFrom,
    /// What it may show.
    own: Bounds,
    /// The same with its name; empty for a bar with nothing on it.
    pub extent: Bounds,
}

impl FoldRoom {
    /// From every side, for a bar and a routing of it, in every position that may be shown.
    pub fn all(
        project: &Project,
        routing: LaidRouting,
        positions: &[(FoldPosition, FoldedBar)],
    ) -> [Self; SeenFrom::COUNT] {
        let mut own = [Bounds::EMPTY; SeenFrom::COUNT];
        let mut add = |point: Point3| {
            for (room, seen) in own.iter_mut().zip(SeenFrom::ALL) {
                room.add(seen.flat(point));
            }
        };
        for (_, folded) in positions {
            if let Some((least, most)) = Envelope::of(project, routing, folded).corners() {
                add(least);
                add(most);
                // The ground is in sight.
                add(Point3::new(least.x, least.y, 0.0));
            }
        }
        // So is what the road allows.
        let limits = &project.transport;
        if let Some(height) = limits.height {
            add(Point3::new(0.0, 0.0, height.si()));
        }
        if let Some(half) = limits.width.map(|width| width.si() / 2.0) {
            add(Point3::new(-half, 0.0, 0.0));
            add(Point3::new(half, 0.0, 0.0));
        }
        // The supply hose does not fold, and is no part of how wide and high the bar is.
        add(project.supply.pump);
        std::array::from_fn(|at| {
            let (seen, own) = (SeenFrom::ALL[at], own[at]);
            let mut extent = own;
            if !own.is_empty() {
                extent.add(Point2::new(own.max.x, own.max.y + CAPTION));
            }
            Self { seen, own, extent }
        })
    }
}

/// The display list of a bar in the position of `options`, from the side of the room; the side of `options` is of no matter. `ways`
/// are those of its position, worked out once for all sides.
pub fn fold_scene(
    project: &Project,
    routing: LaidRouting,
    outcome: Option<&Outcome>,
    options: &SceneOptions,
    ways: &FoldedWays,
    room: &FoldRoom,
) -> Scene {
    let FoldRoom { seen, own, extent } = *room;
    if own.is_empty() {
        return Scene::default();
    }
    let mut items = Vec::new();
    if seen != SeenFrom::Above {
        let ground = [own.min.x - GROUND_BEYOND, own.max.x + GROUND_BEYOND].map(|x| Point2::new(x, 0.0));
        items.push(line(ground.to_vec(), Dash::Solid, Ink::Ground));
    }
    if seen == SeenFrom::Behind {
        limits(&mut items, &project.transport, own, options);
    }
    let own_side = SceneOptions { seen, ..options.clone() };
    let mut scene = bar_scene_with(project, routing, outcome, &own_side, ways);
    // Words of the plan view have no room here; what is pointed at says more.
    scene.items.retain(|item| match item.layer {
        Layer::Dimensions | Layer::Values => false,
        Layer::Frame => !matches!(item.shape, Shape::Text(_)),
        _ => true,
    });
    items.append(&mut scene.items);
    items.sort_by_cached_key(|item| item.layer);
    Scene { items, extent: Some(extent) }
}

/// What someone entered as the widest and the highest that the road allows.
fn limits(items: &mut Vec<DrawItem>, limits: &TransportLimits, room: Bounds, options: &SceneOptions) {
    let says = |what: &str, si: f64| format!("{what} {}", Measure::Distance.short_text(si, options.units));
    let top = room.max.y;
    if let Some(width) = limits.width {
        let half = width.si() / 2.0;
        for x in [-half, half] {
            items.push(line(
                vec![Point2::new(x, 0.0), Point2::new(x, top)],
                Dash::Dashed,
                Ink::TransportLimit,
            ));
        }
        let at = Point2::new(half, top);
        items.push(words(
            at,
            vec![TextPlace::Right, TextPlace::Above],
            says("width allowed", width.si()),
            TextRole::Caption,
            NONE,
        ));
    }
    if let Some(height) = limits.height.map(|one| one.si()) {
        let points = vec![Point2::new(room.min.x, height), Point2::new(room.max.x, height)];
        items.push(line(points, Dash::Dashed, Ink::TransportLimit));
        let at = Point2::new(room.min.x + room.width() / 4.0, height);
        // The name of the picture stands above.
        let places = vec![TextPlace::Below, TextPlace::Above];
        items.push(words(at, places, says("height allowed", height), TextRole::Caption, NONE));
    }
}

fn line(points: Vec<Point2>, dash: Dash, ink: Ink) -> DrawItem {
    DrawItem::new(Layer::Frame, Shape::Line { points, width: Width::HAIRLINE, dash }, ink)
}

/// Nothing is kept clear.
const NONE: Reach = Reach::true_to_scale(0.0);

fn words(at: Point2, places: Vec<TextPlace>, words: String, role: TextRole, clear_y: Reach) -> DrawItem {
    let text = SceneText { at, places, clear_x: NONE, clear_y, wordings: vec![words], room: None, role };
    DrawItem::new(Layer::Frame, Shape::Text(text), Ink::SoftWords)
}
