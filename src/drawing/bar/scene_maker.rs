//! The display list while it is made: project, routing and outcome, and the shapes so far.

use std::collections::BTreeMap;

use super::folded_ways::FoldedWays;
use crate::drawing::SeenFrom;
use crate::drawing::pressure::PressureScale;
use crate::drawing::scene::{
    Dash, DrawItem, Ink, Layer, Reach, SceneText, Shape, TextPlace, TextRole, Width,
};
use crate::drawing::scene_options::SceneOptions;
use crate::geometry::{Point2, Point3};
use crate::hydraulics::outcome::Outcome;
use crate::plan::{BarPoint, FoldedBar, LaidRouting, Project, RowId, SectionId};
use crate::quantities::{Angle, Pressure};

pub(super) struct SceneMaker<'a> {
    pub(super) project: &'a Project,
    pub(super) routing: LaidRouting<'a>,
    pub(super) outcome: Option<&'a Outcome>,
    pub(super) numbers: Option<&'a Outcome>,
    /// There when pressures are shown and known.
    pub(super) scale: Option<PressureScale>,
    /// Gauge pressures ahead of the rows' metering, when pressures are shown.
    pub(super) ahead: BTreeMap<RowId, Pressure>,
    pub(super) options: &'a SceneOptions,
    /// The bar in the position that is drawn.
    pub(super) folded: FoldedBar,
    /// Where hoses and tubes lie in it.
    pub(super) ways: &'a FoldedWays,
    pub(super) items: Vec<DrawItem>,
}

impl SceneMaker<'_> {
    /// The plan view of the bar at work, which is drawn with all its words.
    pub(super) fn is_plan(&self) -> bool {
        self.options.fold.is_working() && self.options.seen == SeenFrom::Above
    }

    /// Where a point that rides on a section is drawn.
    pub(super) fn on(&self, section: SectionId, point: Point3) -> Point2 {
        self.riding(BarPoint { section, place: point })
    }

    /// Where a point of a hose or tube is drawn.
    pub(super) fn riding(&self, point: BarPoint) -> Point2 {
        if self.options.fold.is_working() {
            self.options.seen.flat(point.place)
        } else {
            self.options.seen.flat(self.folded.place(point))
        }
    }

    /// How a symbol is turned in the picture that is turned so on the bar at work. Seen from its end it lies level, so that
    /// it can be told what it is.
    pub(super) fn turned(&self, section: SectionId, turn: Angle) -> Angle {
        /// Sine of the angle between a symbol and the line of sight below which it is seen from its end.
        const END_ON: f64 = 0.3;
        if self.is_plan() {
            return turn;
        }
        let (sin, cos) = turn.si().sin_cos();
        let along = self.folded.motion(section).direction(Point3::new(cos, sin, 0.0));
        let seen = self.options.seen.flat(along);
        let is_end_on = seen.x.hypot(seen.y) < END_ON;
        if is_end_on { Angle::ZERO } else { Angle::from_si(seen.y.atan2(seen.x)) }
    }

    pub(super) fn line(
        &mut self,
        layer: Layer,
        points: Vec<Point2>,
        width: Width,
        dash: Dash,
        ink: Ink,
    ) -> Option<&mut DrawItem> {
        if points.len() < 2 {
            return None;
        }
        self.items.push(DrawItem::new(layer, Shape::Line { points, width, dash }, ink));
        self.items.last_mut()
    }

    pub(super) fn caption(
        &mut self,
        layer: Layer,
        role: TextRole,
        at: Point2,
        place: TextPlace,
        wordings: Vec<String>,
        room: Option<f64>,
    ) {
        let none = Reach::true_to_scale(0.0);
        let ink = if role == TextRole::Section { Ink::Words } else { Ink::SoftWords };
        let text = SceneText { at, places: vec![place], clear_x: none, clear_y: none, wordings, room, role };
        self.items.push(DrawItem::new(layer, Shape::Text(text), ink));
    }
}
