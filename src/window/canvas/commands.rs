//! Commands and turns of the wheel that change what of the bar is in sight, of the drawing and of a comparison alike.

use eframe::egui::{Rect, Ui};

use super::view::{Canvas, within};
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

    /// Zooms about the pointer, and moves aside, by the wheel or by pinching.
    pub(super) fn wheel(&mut self, ui: &Ui, rect: Rect, over: bool) {
        let Some(view) = self.view.as_mut().filter(|_| over) else { return };
        let (scroll, pinch, at) =
            ui.input(|input| (input.smooth_scroll_delta(), input.zoom_delta(), input.pointer.hover_pos()));
        let Some(at) = at else { return };
        let from_middle = at - rect.center();
        let factor = f64::from(pinch) * f64::from(scroll.y / 240.0).exp();
        if factor != 1.0 || scroll.x != 0.0 {
            self.fitted = None;
        }
        if factor != 1.0 {
            let factor = within(view.scale, factor);
            *view = view.zoomed_about(f64::from(from_middle.x), f64::from(from_middle.y), factor);
        }
        if scroll.x != 0.0 {
            *view = view.panned(f64::from(scroll.x), 0.0);
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
