//! The display list while it is made: project, routing and outcome, and the shapes so far.

use std::collections::BTreeMap;

use crate::drawing::pressure::PressureScale;
use crate::drawing::scene::{
    Dash, DrawItem, Ink, Layer, Reach, SceneText, Shape, TextPlace, TextRole, Width,
};
use crate::drawing::scene_options::SceneOptions;
use crate::geometry::{Point2, Point3};
use crate::hydraulics::outcome::Outcome;
use crate::plan::{BarPoint, LaidRouting, Project, RowId, SectionId};
use crate::quantities::Pressure;

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
    pub(super) items: Vec<DrawItem>,
}

impl SceneMaker<'_> {
    /// Where a point that rides on a section is drawn.
    pub(super) fn on(&self, section: SectionId, point: Point3) -> Point2 {
        self.project.bar.folded(section, point, self.options.fold).flat()
    }

    /// Where a point of a hose or tube is drawn.
    pub(super) fn riding(&self, point: BarPoint) -> Point2 {
        if self.options.fold == 0.0 { point.place.flat() } else { self.on(point.section, point.place) }
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
