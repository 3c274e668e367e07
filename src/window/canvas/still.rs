//! The drawing as it stands on the screen, painted again at any number of pixels without a screen: the same code that
//! draws the canvas, and its triangles filled by [`SoftwarePainter`] instead of by a graphics card.

use std::collections::BTreeSet;
use std::sync::Arc;

use eframe::egui;
use eframe::egui::{Align2, Context, FontId, Pos2, RawInput, Rect, Ui, Vec2, pos2, vec2};

use super::halves::{BandLayout, Bands};
use super::shown::Shown;
use super::view::{Canvas, Extras};
use crate::drawing::{Colouring, Layer, Subject};
use crate::geometry::View;
use crate::hydraulics::Outcome;
use crate::plan::{Project, Routing, RoutingGeometry, RoutingId, words};
use crate::quantities::Measure;
use crate::session::Session;
use crate::sheets::picture::Picture;
use crate::window::fallback_font::FallbackFonts;
use crate::window::software_painter::SoftwarePainter;
use crate::window::theme::{self, Theme};

/// Height of the line that says what is shown, points.
const CAPTION: f32 = 26.0;
/// Room of a canvas that was never shown, points.
const USUAL: Vec2 = vec2(1100.0, 640.0);
/// Air at the edges, points.
const MARGIN: f32 = 8.0;

/// All that the picture depends on, apart from the window.
pub struct Still {
    project: Arc<Project>,
    routing: RoutingId,
    geometry: RoutingGeometry,
    outcome: Outcome,
    selected: BTreeSet<Subject>,
    view: Option<View>,
    layout: BandLayout,
    hidden: BTreeSet<Layer>,
    colouring: Colouring,
    extras: Extras,
    size: Vec2,
    dark: bool,
}

impl Still {
    /// What a canvas shows of a session now.
    pub fn of(session: &Session, canvas: &Canvas, dark: bool) -> Self {
        Self {
            project: session.snapshot(),
            routing: session.routing().id,
            geometry: session.geometry().clone(),
            outcome: session.outcome().clone(),
            selected: session.selection().clone(),
            view: canvas.view,
            layout: canvas.layout,
            hidden: canvas.hidden.clone(),
            colouring: canvas.colouring,
            extras: canvas.extras,
            size: canvas.whole.unwrap_or(USUAL),
            dark,
        }
    }

    /// How high the picture gets at a width, pixels.
    pub fn height(&self, width: usize) -> usize {
        let whole = self.whole();
        (width as f32 * whole.y / whole.x).round() as usize
    }

    fn whole(&self) -> Vec2 {
        self.size + vec2(2.0 * MARGIN, CAPTION + MARGIN)
    }

    /// The conditions that it holds for.
    fn caption(&self, routing: &Routing) -> String {
        let (point, units) = (&self.outcome.point, self.project.units);
        let title = Some(self.project.title.title.trim()).filter(|title| !title.is_empty());
        let duty = if self.project.duties.are_several() {
            format!(", duty {}", self.project.duty(point.duty).name)
        } else {
            String::new()
        };
        format!(
            "{}, routing {}{duty}: {}, {}, {}, side slope {}",
            title.unwrap_or("Untitled bar"),
            routing.name,
            Measure::Rate.text(point.rate.si(), units),
            Measure::GroundSpeed.text(point.speed.si(), units),
            Measure::Temperature.text(point.temperature.si(), units),
            words::side_slope(point.side_slope, units)
        )
    }

    /// The picture, so many pixels wide; none if the routing is gone.
    pub fn paint(&self, width: usize) -> Option<Picture> {
        let routing = self.project.routing(self.routing)?;
        let whole = self.whole();
        let (scale, height) = (width as f32 / whole.x, self.height(width));
        let ctx = Context::default();
        theme::apply(&ctx);
        // What the window has found by now: the picture shows what stands on the screen.
        FallbackFonts::installed().install(&ctx);
        ctx.set_theme(if self.dark { egui::Theme::Dark } else { egui::Theme::Light });
        let mut canvas = Canvas::looking(self.view, self.layout, self.colouring, self.extras);
        canvas.hidden.clone_from(&self.hidden);
        let mut painter = SoftwarePainter::default();
        let mut input = RawInput {
            screen_rect: Some(Rect::from_min_size(Pos2::ZERO, whole)),
            max_texture_side: Some(8192),
            ..RawInput::default()
        };
        if let Some(viewport) = input.viewports.get_mut(&egui::ViewportId::ROOT) {
            viewport.native_pixels_per_point = Some(scale);
        }
        // The first pass finds the fonts, the second one draws with them.
        painter.take_textures(
            &mut ctx.run_ui(input.clone(), |ui| self.draw(ui, routing, &mut canvas)).textures_delta,
        );
        let mut output = ctx.run_ui(input, |ui| self.draw(ui, routing, &mut canvas));
        painter.take_textures(&mut output.textures_delta);
        let theme = if self.dark { Theme::DARK } else { Theme::LIGHT };
        Some(painter.paint(&ctx.tessellate(output.shapes, scale), [width, height], scale, theme.canvas))
    }

    fn draw(&self, ui: &mut Ui, routing: &Routing, canvas: &mut Canvas) {
        let theme = Theme::of(ui.visuals());
        let start = pos2(MARGIN, CAPTION);
        let font = FontId::proportional(13.0);
        let at = pos2(MARGIN + 4.0, CAPTION / 2.0 + 2.0);
        ui.painter().text(at, Align2::LEFT_CENTER, self.caption(routing), font, theme.ink);
        let shown = Shown {
            project: &self.project,
            routing: self.geometry.with(routing),
            outcome: Some(&self.outcome),
            beside: None,
            caught: None,
            revision: 0,
            slot: 0,
            selected: &self.selected,
        };
        let legend = canvas.legend_height(ui, self.size.x, &shown);
        let bands = Bands::of(Rect::from_min_size(start, self.size), legend, self.layout);
        for band in bands.bands {
            let shown = Shown { slot: band.half.slot(), ..shown };
            canvas.in_half(band.half, band.picture.width(), |canvas| {
                canvas.picture(ui, band.picture, &shown, "Drawing");
                canvas.ruler(ui, band.ruler, self.project.units);
                canvas.strip(ui, band.strip, &shown, "Strip");
            });
        }
        canvas.legend(ui, bands.legend, &shown);
    }
}
