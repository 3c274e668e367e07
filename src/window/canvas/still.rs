//! The drawing as it stands on the screen, painted again at any number of pixels without a screen: the same code that
//! draws the canvas, and its triangles filled here instead of by a graphics card.

use std::collections::{BTreeSet, HashMap};
use std::sync::Arc;

use eframe::egui;
use eframe::egui::{
    Align2, Color32, ColorImage, Context, FontId, ImageData, Pos2, RawInput, Rect, TextureId, Ui, Vec2, pos2,
    vec2,
};
use eframe::epaint::{Mesh, Primitive, Vertex};

use super::editor::Bands;
use super::view::{Canvas, Extras, Shown};
use crate::drawing::{Colouring, Layer, Subject};
use crate::geometry::View;
use crate::hydraulics::Outcome;
use crate::plan::{Project, Routing, RoutingId};
use crate::quantities::Measure;
use crate::session::Session;
use crate::sheets::picture::Picture;
use crate::window::fallback_font::FallbackFonts;
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
    outcome: Outcome,
    selected: BTreeSet<Subject>,
    view: Option<View>,
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
            outcome: session.outcome().clone(),
            selected: session.selection.clone(),
            view: canvas.view,
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
        format!(
            "{}, routing {}: {}, {}, {}, side slope {}",
            title.unwrap_or("Untitled bar"),
            routing.name,
            Measure::Rate.text(point.rate.si(), units),
            Measure::GroundSpeed.text(point.speed.si(), units),
            Measure::Temperature.text(point.temperature.si(), units),
            Measure::Slope.text(point.side_slope.si(), units)
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
        let mut canvas = Canvas::looking(self.view, self.colouring, self.extras);
        canvas.hidden.clone_from(&self.hidden);
        let mut textures = HashMap::new();
        let mut input = RawInput {
            screen_rect: Some(Rect::from_min_size(Pos2::ZERO, whole)),
            max_texture_side: Some(8192),
            ..RawInput::default()
        };
        if let Some(viewport) = input.viewports.get_mut(&egui::ViewportId::ROOT) {
            viewport.native_pixels_per_point = Some(scale);
        }
        // The first pass finds the fonts, the second one draws with them.
        drop(take(ctx.run_ui(input.clone(), |ui| self.draw(ui, routing, &mut canvas)), &mut textures));
        let shapes = take(ctx.run_ui(input, |ui| self.draw(ui, routing, &mut canvas)), &mut textures);
        let theme = if self.dark { Theme::DARK } else { Theme::LIGHT };
        let mut film = Film { width, height, pixels: vec![theme.canvas; width * height] };
        for piece in ctx.tessellate(shapes, scale) {
            if let Primitive::Mesh(mesh) = &piece.primitive
                && let Some(texture) = textures.get(&mesh.texture_id)
            {
                film.mesh(mesh, texture, piece.clip_rect, scale);
            }
        }
        let rgba = film.pixels.iter().flat_map(|one| [one.r(), one.g(), one.b(), 255]).collect();
        Some(Picture { width, height, rgba })
    }

    fn draw(&self, ui: &mut Ui, routing: &Routing, canvas: &mut Canvas) {
        let theme = Theme::of(ui.visuals());
        let start = pos2(MARGIN, CAPTION);
        let bands = Bands::of(Rect::from_min_size(start, self.size));
        let font = FontId::proportional(13.0);
        let at = pos2(MARGIN + 4.0, CAPTION / 2.0 + 2.0);
        ui.painter().text(at, Align2::LEFT_CENTER, self.caption(routing), font, theme.ink);
        let shown = Shown {
            project: &self.project,
            routing,
            outcome: Some(&self.outcome),
            revision: 0,
            slot: 0,
            selected: &self.selected,
        };
        canvas.picture(ui, bands.picture, &shown, "Drawing");
        canvas.ruler(ui, bands.ruler, self.project.units);
        canvas.strip(ui, bands.strip, &shown, "Strip");
        canvas.legend(ui, bands.legend, &shown);
    }
}

/// Takes what a pass has drawn, and the textures it has changed.
fn take(
    mut output: egui::FullOutput,
    textures: &mut HashMap<TextureId, ColorImage>,
) -> Vec<eframe::epaint::ClippedShape> {
    for (id, deltas) in output.textures_delta.set.drain() {
        for delta in deltas {
            let ImageData::Color(image) = delta.image;
            match (delta.pos, textures.get_mut(&id)) {
                (None, _) => drop(textures.insert(id, image.as_ref().clone())),
                (Some([x, y]), Some(texture)) => {
                    let wide = texture.size[0];
                    for (line, pixels) in image.pixels.chunks(image.size[0].max(1)).enumerate() {
                        let from = (y + line) * wide + x;
                        if let Some(place) = texture.pixels.get_mut(from..from + pixels.len()) {
                            place.copy_from_slice(pixels);
                        }
                    }
                }
                (Some(_), None) => {}
            }
        }
    }
    output.textures_delta.clear();
    std::mem::take(&mut output.shapes)
}

/// Pixels that triangles are painted on; colours are blended as egui's own painters do, in gamma space.
struct Film {
    width: usize,
    height: usize,
    pixels: Vec<Color32>,
}

/// Parts of a pixel that corners are rounded to, so that neighbours share their edges exactly.
const PARTS: f32 = 256.0;

impl Film {
    fn mesh(&mut self, mesh: &Mesh, texture: &ColorImage, clip: Rect, scale: f32) {
        let edge = |at: f32, most: usize| (at * scale).round().clamp(0.0, most as f32) as i64;
        let clip = [
            edge(clip.min.x, self.width),
            edge(clip.min.y, self.height),
            edge(clip.max.x, self.width),
            edge(clip.max.y, self.height),
        ];
        for corners in mesh.indices.chunks_exact(3) {
            let corner = |index: u32| mesh.vertices.get(index as usize);
            if let (Some(a), Some(b), Some(c)) = (corner(corners[0]), corner(corners[1]), corner(corners[2]))
            {
                self.triangle([a, b, c], texture, clip, scale);
            }
        }
    }

    /// Fills the pixels whose middle lies within. A middle on an edge belongs to the triangle at one side of it, so
    /// that two triangles that share an edge neither overlap nor leave a gap.
    fn triangle(&mut self, mut corners: [&Vertex; 3], texture: &ColorImage, clip: [i64; 4], scale: f32) {
        let fixed = |vertex: &Vertex| {
            [vertex.pos.x, vertex.pos.y].map(|one| (one * scale * PARTS).round().clamp(-1e7, 1e7) as i64)
        };
        let mut at = corners.map(fixed);
        let doubled = |at: &[[i64; 2]; 3]| {
            (at[1][0] - at[0][0]) * (at[2][1] - at[0][1]) - (at[1][1] - at[0][1]) * (at[2][0] - at[0][0])
        };
        if doubled(&at) < 0 {
            corners.swap(1, 2);
            at.swap(1, 2);
        }
        let area = doubled(&at);
        if area == 0 {
            return;
        }
        let (one, half) = (PARTS as i64, PARTS as i64 / 2);
        let ys = at.map(|[_, y]| y);
        let lowest = ys.iter().min().map_or(0, |y| (y - half).div_euclid(one)).max(clip[1]);
        let highest = ys.iter().max().map_or(0, |y| (y - half).div_euclid(one) + 1).min(clip[3]);
        for line in lowest..highest {
            let y = line * one + half;
            // Each edge bounds the line from the left or from the right.
            let (mut from, mut to) = (clip[0], clip[2]);
            // Opposite to corner 0, 1, 2: value at x = 0 and per part of a pixel.
            let mut edges = [(0i64, 0i64); 3];
            for (edge, place) in edges.iter_mut().enumerate() {
                let (p, q) = (at[(edge + 1) % 3], at[(edge + 2) % 3]);
                let (dx, dy) = (q[0] - p[0], q[1] - p[1]);
                // Positive within: dx (y - p.y) - dy (x - p.x).
                let start = dx * (y - p[1]) + dy * p[0];
                *place = (start, -dy);
                // On the edge counts as within for left and upper edges alone.
                let least = i64::from(!(dy < 0 || (dy == 0 && dx > 0)));
                if dy == 0 {
                    if start < least {
                        to = from;
                    }
                    continue;
                }
                // start - dy x >= least, at x = column * one + half.
                let room = start - least - dy * half;
                if dy > 0 {
                    to = to.min(room.div_euclid(dy * one) + 1);
                } else {
                    // room + |dy| one column >= 0
                    from = from.max((-room + (-dy * one) - 1).div_euclid(-dy * one));
                }
            }
            for column in from..to {
                let x = column * one + half;
                let weights = edges.map(|(start, slope)| (start + slope * x) as f32 / area as f32);
                let Some(pixel) = self.pixels.get_mut(line as usize * self.width + column as usize) else {
                    continue;
                };
                *pixel = over(shade(corners, weights, texture), *pixel);
            }
        }
    }
}

/// The colour at a place in a triangle, premultiplied, 0 to 255.
fn shade(corners: [&Vertex; 3], weights: [f32; 3], texture: &ColorImage) -> [f32; 4] {
    let mut colour = [0.0; 4];
    let mut uv = Vec2::ZERO;
    for (corner, weight) in corners.iter().zip(weights) {
        for (sum, channel) in colour.iter_mut().zip(corner.color.to_array()) {
            *sum += weight * f32::from(channel);
        }
        uv += corner.uv.to_vec2() * weight;
    }
    let texel = texel(texture, uv);
    [0, 1, 2, 3].map(|channel| colour[channel] * texel[channel] / 255.0)
}

/// The texture at a place, between its four nearest pixels.
fn texel(texture: &ColorImage, uv: Vec2) -> [f32; 4] {
    let [wide, high] = texture.size;
    let at = |share: f32, many: usize| (share * many as f32 - 0.5).clamp(0.0, many.saturating_sub(1) as f32);
    let (x, y) = (at(uv.x, wide), at(uv.y, high));
    let (left, top) = (x.floor() as usize, y.floor() as usize);
    let pixel = |column: usize, line: usize| {
        let index = line.min(high.saturating_sub(1)) * wide + column.min(wide.saturating_sub(1));
        texture.pixels.get(index).copied().unwrap_or_default().to_array().map(f32::from)
    };
    let (right, below) = (x - left as f32, y - top as f32);
    if right == 0.0 && below == 0.0 {
        return pixel(left, top);
    }
    let [a, b, c, d] =
        [pixel(left, top), pixel(left + 1, top), pixel(left, top + 1), pixel(left + 1, top + 1)];
    [0, 1, 2, 3].map(|one| {
        let upper = a[one] + (b[one] - a[one]) * right;
        let lower = c[one] + (d[one] - c[one]) * right;
        upper + (lower - upper) * below
    })
}

fn over(source: [f32; 4], ground: Color32) -> Color32 {
    let rest = 1.0 - source[3] / 255.0;
    let mixed = |source: f32, ground: u8| (source + f32::from(ground) * rest).round() as u8;
    Color32::from_rgb(
        mixed(source[0], ground.r()),
        mixed(source[1], ground.g()),
        mixed(source[2], ground.b()),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn film(width: usize, height: usize) -> Film {
        Film { width, height, pixels: vec![Color32::BLACK; width * height] }
    }

    fn mesh(points: &[(f32, f32)], indices: &[u32], colour: Color32) -> Mesh {
        let mut mesh = Mesh::default();
        for (x, y) in points {
            mesh.colored_vertex(pos2(*x, *y), colour);
        }
        mesh.indices.extend(indices);
        mesh
    }

    fn white() -> ColorImage {
        ColorImage::filled([1, 1], Color32::WHITE)
    }

    /// Half-clear triangles round one corner, as uneven as they come: a pixel painted twice would be brighter, one
    /// left out black.
    #[test]
    fn triangles_that_share_edges_neither_overlap_nor_leave_a_gap() {
        let mut film = film(23, 19);
        let colour = Color32::from_rgba_premultiplied(100, 100, 100, 128);
        let points = [(-3.0, -2.0), (30.0, -2.0), (30.0, 25.0), (-3.0, 25.0), (9.37, 7.81)];
        let fan = mesh(&points, &[0, 1, 4, 4, 1, 2, 2, 3, 4, 3, 0, 4], colour);
        film.mesh(&fan, &white(), Rect::EVERYTHING, 1.0);
        assert!(film.pixels.iter().all(|pixel| *pixel == Color32::from_gray(100)));
    }

    /// The area of a polygon by the surveyor's formula, against the pixels counted.
    #[test]
    fn as_many_pixels_as_the_triangle_has_area() {
        let mut film = film(200, 200);
        let points = [(10.3, 12.7), (180.2, 40.1), (60.9, 170.6)];
        film.mesh(&mesh(&points, &[0, 1, 2], Color32::WHITE), &white(), Rect::EVERYTHING, 1.0);
        let twice: f32 = (0..3)
            .map(|one| {
                let (a, b) = (points[one], points[(one + 1) % 3]);
                a.0 * b.1 - b.0 * a.1
            })
            .sum();
        let count = film.pixels.iter().filter(|pixel| **pixel == Color32::WHITE).count() as f32;
        assert!((count - twice / 2.0).abs() < 0.01 * count, "{count} pixels, area {}", twice / 2.0);
    }

    #[test]
    fn nothing_is_painted_outside_the_clip_and_the_scale_counts() {
        let mut film = film(20, 10);
        let all =
            mesh(&[(0.0, 0.0), (10.0, 0.0), (10.0, 5.0), (0.0, 5.0)], &[0, 1, 2, 0, 2, 3], Color32::WHITE);
        film.mesh(&all, &white(), Rect::from_min_max(pos2(2.0, 1.0), pos2(4.0, 3.0)), 2.0);
        let painted: Vec<usize> = (0..200).filter(|at| film.pixels[*at] == Color32::WHITE).collect();
        let wanted: Vec<usize> = (2..6).flat_map(|y| (4..8).map(move |x| y * 20 + x)).collect();
        assert_eq!(painted, wanted);
    }
}
