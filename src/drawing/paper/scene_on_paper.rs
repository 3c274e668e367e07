//! A scene of the bar on paper, true to scale.

use super::clip::{clip_area, clip_line};
use super::draft::PageDraft;
use super::page::{MarkKind, PICTURE_UNIT, PaperLayer, Shade, View};
use super::style::NARROW;
use crate::drawing::scene::{DrawItem, Fill, Ink, Layer, Scene, Shape};
use crate::geometry::{Bounds, Point2};

impl PageDraft<'_> {
    /// Draws the shapes of a scene, true to scale within a window of the paper. Words of the scene are left to the
    /// sheet, which has its own places for them.
    pub fn scene(&mut self, scene: &Scene, view: &View, window: &Bounds) {
        let scale = view.millimetres() / PICTURE_UNIT;
        for item in &scene.items {
            if item.from_scale <= scale {
                self.scene_item(item, view, scale, window);
            }
        }
    }

    fn scene_item(&mut self, item: &DrawItem, view: &View, scale: f64, window: &Bounds) {
        let Some((layer, shade)) = paper_ink(item) else { return };
        let grown = |point: Point2| item.grow.map_or(point, |grow| grow.apply(point, scale));
        let on_paper = |points: &[Point2]| -> Vec<Point2> {
            points.iter().map(|point| view.at(grown(*point))).collect()
        };
        let fill = match item.fill {
            Fill::None => None,
            Fill::Ink => Some(shade),
            // Colours of one moment have no place on a sheet to build from.
            _ => Some(Shade::PAPER),
        };
        self.subject = item.subject;
        match &item.shape {
            Shape::Line { points, width, dash } => {
                let width = (width.at(scale) * PICTURE_UNIT).max(NARROW);
                for piece in clip_line(&on_paper(points), window) {
                    self.shaded_line(layer, &piece, width, *dash, shade);
                }
            }
            Shape::Circle { centre, radius } => {
                let centre = view.at(grown(*centre));
                if window.contains(centre) {
                    let factor = item.grow.map_or(1.0, |grow| grow.along.factor(scale));
                    let radius = radius * factor * view.millimetres();
                    self.mark(layer, MarkKind::Circle { centre, radius, line: Some((NARROW, shade)), fill });
                }
            }
            Shape::Polygon { points } => {
                let points = clip_area(&on_paper(points), window);
                if points.len() > 2 {
                    self.mark(layer, MarkKind::Area { points, line: Some((NARROW, shade)), fill });
                }
            }
            Shape::Text(_) => {}
        }
        self.subject = None;
    }
}

/// Layer and shade of an item of a scene on paper; none for what paper does without.
fn paper_ink(item: &DrawItem) -> Option<(PaperLayer, Shade)> {
    let layer = match item.layer {
        Layer::Frame => PaperLayer::Frame,
        Layer::Hinge => PaperLayer::Hinge,
        Layer::Feeds => PaperLayer::Tube,
        Layer::Runs => PaperLayer::Hose,
        Layer::Parts => PaperLayer::Part,
        Layer::Outlets => PaperLayer::Row,
        _ => return None,
    };
    let shade = match item.ink {
        Ink::SectionPanel | Ink::Travel => return None,
        // The sign of a deviation belongs to one moment at one speed; a sheet to build from has no place for it.
        Ink::OnDeviation(_) | Ink::OnPressure(_) => return None,
        Ink::FrameRail => Shade::FRAME,
        Ink::Hose | Ink::HoseStill => Shade(60),
        _ => Shade::INK,
    };
    Some((layer, shade))
}
