//! The bar to scale, in any position of its fold and from any side, with its plumbing and what flows in it.
//!
//! `scene_maker` holds what the shapes are made from; `sections`, `lines` and `parts` make them.

mod clamps;
mod folded_ways;
mod lines;
mod parts;
mod scene_maker;
mod sections;

use std::collections::BTreeMap;

use crate::drawing::pressure::{PressureScale, rows_ahead_of_metering};
use crate::drawing::scene::Scene;
use crate::drawing::scene_options::{Colouring, SceneOptions};
use crate::geometry::Point2;
use crate::hydraulics::outcome::Outcome;
use crate::plan::{FoldedBar, LaidRouting, Project};
pub use folded_ways::FoldedWays;
use scene_maker::SceneMaker;

/// Room for words in front of and behind the bar when all is shown, metres.
pub const CAPTION_ROOM: f64 = 0.3;

/// The display list of a bar and one routing of it. Without an outcome, or with one that has no numbers, nothing
/// is coloured and no number is shown.
pub fn bar_scene(
    project: &Project,
    routing: LaidRouting,
    outcome: Option<&Outcome>,
    options: &SceneOptions,
) -> Scene {
    let ways = FoldedWays::of(project, routing, options.fold);
    bar_scene_with(project, routing, outcome, options, &ways)
}

/// The same with the ways of hoses and tubes in its position, for who draws it from several sides.
pub(super) fn bar_scene_with(
    project: &Project,
    routing: LaidRouting,
    outcome: Option<&Outcome>,
    options: &SceneOptions,
    ways: &FoldedWays,
) -> Scene {
    let mut drawing = SceneMaker {
        project,
        routing,
        outcome,
        numbers: outcome.filter(|outcome| outcome.result.is_ok()),
        scale: None,
        ahead: BTreeMap::new(),
        options,
        folded: FoldedBar::at(&project.bar, options.fold),
        ways,
        items: Vec::with_capacity(16 * project.bar.rows.len()),
    };
    if let Some(numbers) = drawing.numbers.filter(|_| options.colouring == Colouring::Pressure) {
        drawing.scale = PressureScale::of(project, routing, numbers);
        drawing.ahead = rows_ahead_of_metering(project, routing, numbers);
    }
    let ground = drawing.ground();
    drawing.sections(ground);
    drawing.travel(ground);
    drawing.runs();
    drawing.feeds();
    drawing.parts();
    drawing.outlets();
    let mut items = drawing.items;
    if !options.hidden.is_empty() {
        items.retain(|item| !options.hidden.contains(&item.layer));
    }
    // Items are large: the order is found first, and each is moved once.
    items.sort_by_cached_key(|item| item.layer);
    let extent = (!ground.is_empty()).then(|| {
        let mut extent = ground.grown(0.1);
        extent.add(Point2::new(ground.min.x, ground.max.y + CAPTION_ROOM));
        extent.add(Point2::new(ground.min.x, ground.min.y - CAPTION_ROOM));
        // The travel arrow stands at the left; as much on the right keeps the bar in the middle.
        extent.add(Point2::new(ground.min.x - 0.6, ground.min.y));
        extent.add(Point2::new(ground.max.x + 0.6, ground.min.y));
        extent
    });
    Scene { items, extent }
}
