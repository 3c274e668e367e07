//! The bar in a position of its fold, from above, from behind and from the right, in one display list.
//!
//! The three pictures stand as views of one drawing do: from above over from behind, from the right beside it, all at one
//! scale. Each keeps the room that it needs in any position of the fold, so that nothing jumps while the bar folds.

use super::bar::{FoldedWays, bar_scene_with};
use super::scene::{Dash, DrawItem, Ink, Layer, Reach, Scene, SceneText, Shape, TextPlace, TextRole, Width};
use super::scene_options::SceneOptions;
use super::seen_from::SeenFrom;
use crate::geometry::{Bounds, Point2, Point3};
use crate::hydraulics::outcome::Outcome;
use crate::plan::{Envelope, FoldPosition, FoldedBar, LaidRouting, Project, TransportLimits};
use crate::quantities::Measure;

/// Between one picture and the next, metres.
const GAP: f64 = 0.7;
/// Above each picture, for its name, metres.
const CAPTION: f64 = 0.6;

/// A name stands so far above its picture, picture units: over a symbol at its edge.
const OVER_SYMBOLS: f64 = 9.0;

/// A picture of the fold from one side.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Room {
    seen: SeenFrom,
    /// What it may show, in its own coordinates.
    own: Bounds,
    /// How far it is moved on the common picture.
    shift: Point2,
}

/// Where the pictures of the fold stand.
#[derive(Debug, Clone, PartialEq)]
pub struct FoldRooms {
    rooms: Vec<Room>,
    /// All of it; empty for a bar with nothing on it.
    pub extent: Bounds,
}

impl FoldRooms {
    /// For a bar and a routing of it, in every position that may be shown; from one side, or from all.
    pub fn new(
        project: &Project,
        routing: LaidRouting,
        positions: &[(FoldPosition, FoldedBar)],
        only: Option<SeenFrom>,
    ) -> Self {
        let mut own = [Bounds::EMPTY; 3];
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
        let [above, behind, right] = own;
        let shifts = if only.is_some() {
            [Point2::default(); 3]
        } else {
            let from_behind = Point2::new(0.0, above.min.y - GAP - CAPTION - behind.max.y);
            let from_right = Point2::new(above.max.x.max(behind.max.x) + GAP - right.min.x, from_behind.y);
            [Point2::default(), from_behind, from_right]
        };
        let all = SeenFrom::ALL.into_iter().zip(own).zip(shifts);
        let rooms: Vec<Room> = all
            .filter(|((seen, own), _)| !own.is_empty() && only.is_none_or(|only| only == *seen))
            .map(|((seen, own), shift)| Room { seen, own, shift })
            .collect();
        let mut extent = Bounds::EMPTY;
        for Room { own, shift, .. } in &rooms {
            extent.add(Point2::new(own.min.x + shift.x, own.min.y + shift.y));
            extent.add(Point2::new(own.max.x + shift.x, own.max.y + shift.y + CAPTION));
        }
        Self { rooms, extent }
    }
}

/// The display list of a bar in the position of `options`, from the sides that there are rooms for; the side of `options` is
/// of no matter.
pub fn fold_scene(
    project: &Project,
    routing: LaidRouting,
    outcome: Option<&Outcome>,
    options: &SceneOptions,
    rooms: &FoldRooms,
) -> Scene {
    let mut items = Vec::new();
    let ways = FoldedWays::of(project, routing, options.fold);
    for Room { seen, own: room, shift } in &rooms.rooms {
        let mut picture = Vec::new();
        if *seen != SeenFrom::Above {
            let ground = [room.min.x - GAP / 4.0, room.max.x + GAP / 4.0].map(|x| Point2::new(x, 0.0));
            picture.push(line(ground.to_vec(), Dash::Solid, Ink::Ground));
        }
        if *seen == SeenFrom::Behind {
            limits(&mut picture, &project.transport, *room, options);
        }
        let own = SceneOptions { seen: *seen, ..options.clone() };
        let mut scene = bar_scene_with(project, routing, outcome, &own, &ways);
        // Words of the plan view have no room three times; what is pointed at says more.
        scene.items.retain(|item| match item.layer {
            Layer::Dimensions | Layer::Values => false,
            Layer::Frame => !matches!(item.shape, Shape::Text(_)),
            Layer::Tags => *seen == SeenFrom::Above || rooms.rooms.len() == 1,
            _ => true,
        });
        picture.append(&mut scene.items);
        let top = Point2::new(f64::midpoint(room.min.x, room.max.x), room.max.y);
        let clear = Reach::at_least(0.0, OVER_SYMBOLS);
        picture.push(words(top, vec![TextPlace::Above], seen.label().to_owned(), TextRole::Title, clear));
        items.extend(picture.into_iter().map(|item| item.moved(*shift)));
    }
    items.sort_by_cached_key(|item| item.layer);
    Scene { items, extent: (!rooms.extent.is_empty()).then_some(rooms.extent) }
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
