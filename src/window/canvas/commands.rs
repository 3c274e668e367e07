//! Commands that change what of the bar is in sight, of the drawing and of a comparison alike.

use super::view::Canvas;
use crate::drawing::Colouring;
use crate::geometry::Point2;
use crate::session::commands::Command;

/// How far a key moves the picture, points.
const PAN_STEP: f64 = 80.0;

/// How much larger a key shows the bar.
const ZOOM_STEP: f64 = 1.25;

impl Canvas {
    /// The scatter of parts stands behind deviations, so that these are shown with it.
    fn switch_scatter(&mut self) {
        self.extras.scatter = !self.extras.scatter || self.colouring == Colouring::Pressure;
        if self.extras.scatter {
            self.colouring = Colouring::Deviation;
        }
    }

    /// Has a place in the middle of the picture, at the same scale.
    pub(super) fn look_at(&mut self, place: Point2) {
        if let Some(view) = &mut self.view {
            view.centre = place;
            self.fitted = None;
        }
    }

    /// Carries out a command that is meant for any picture of the bar; false if it is for something else.
    pub fn run(&mut self, command: Command) -> bool {
        match command {
            Command::FitToWindow => self.fit(),
            Command::FitSelection => self.fit_selection(),
            Command::FitNextSection => self.fit_next_section(),
            Command::ZoomIn => self.zoom(ZOOM_STEP),
            Command::ZoomOut => self.zoom(1.0 / ZOOM_STEP),
            Command::SwitchScatter => self.switch_scatter(),
            Command::PanLeft => self.pan(PAN_STEP, 0.0),
            Command::PanRight => self.pan(-PAN_STEP, 0.0),
            Command::PanForward => self.pan(0.0, PAN_STEP),
            Command::PanBack => self.pan(0.0, -PAN_STEP),
            _ => return false,
        }
        true
    }
}
