//! Paints what egui draws without a screen and without a graphics card: textures and triangles go in, pixels come out,
//! the same on every machine. Exported pictures of the drawing are painted so, and the pictures of whole windows that
//! tests compare.

use std::collections::HashMap;

use eframe::egui::{Color32, ColorImage, ImageData, Rect, TextureId, TexturesDelta, Vec2};
use eframe::epaint::{ClippedPrimitive, Mesh, Primitive, Vertex};

use crate::sheets::picture::Picture;

/// Keeps the textures that egui hands out, letters among them, and paints frames with them.
#[derive(Default)]
pub struct SoftwarePainter {
    textures: HashMap<TextureId, ColorImage>,
    /// Let go of by the last frame, which may still be painted with them.
    freed: Vec<TextureId>,
}

impl SoftwarePainter {
    /// Takes over the textures that a frame made or changed, and leaves none in `delta`. Textures that the frame let
    /// go of stay until the next frame's are taken.
    pub fn take_textures(&mut self, delta: &mut TexturesDelta) {
        for id in self.freed.drain(..) {
            self.textures.remove(&id);
        }
        for (id, changes) in delta.set.drain() {
            for change in changes {
                let ImageData::Color(image) = change.image;
                match (change.pos, self.textures.get_mut(&id)) {
                    (None, _) => drop(self.textures.insert(id, image.as_ref().clone())),
                    (Some(corner), Some(texture)) => copy_into(texture, &image, corner),
                    (Some(_), None) => {}
                }
            }
        }
        self.freed.extend(delta.free.drain());
    }

    /// Paints tessellated shapes on an opaque ground. `size` is width and height in pixels; `scale` is pixels to a
    /// point, the one that the shapes were tessellated with.
    pub fn paint(
        &self,
        primitives: &[ClippedPrimitive],
        [width, height]: [usize; 2],
        scale: f32,
        ground: Color32,
    ) -> Picture {
        let mut pixels = Pixels { width, height, colours: vec![ground; width * height] };
        for primitive in primitives {
            if let Primitive::Mesh(mesh) = &primitive.primitive
                && let Some(texture) = self.textures.get(&mesh.texture_id)
            {
                pixels.fill_mesh(mesh, texture, primitive.clip_rect, scale);
            }
        }
        let rgba = pixels.colours.iter().flat_map(|one| [one.r(), one.g(), one.b(), 255]).collect();
        Picture { width, height, rgba }
    }
}

/// Copies an image into a texture, its upper left corner at a pixel.
fn copy_into(texture: &mut ColorImage, image: &ColorImage, [x, y]: [usize; 2]) {
    let wide = texture.size[0];
    for (line, pixels) in image.pixels.chunks(image.size[0].max(1)).enumerate() {
        let from = (y + line) * wide + x;
        if let Some(place) = texture.pixels.get_mut(from..from + pixels.len()) {
            place.copy_from_slice(pixels);
        }
    }
}

/// Pixels that triangles are painted on; colours are blended as egui's own painters do, in gamma space.
struct Pixels {
    width: usize,
    height: usize,
    colours: Vec<Color32>,
}

/// Parts of a pixel that corners are rounded to, so that neighbours share their edges exactly.
const PARTS: f32 = 256.0;

impl Pixels {
    fn fill_mesh(&mut self, mesh: &Mesh, texture: &ColorImage, clip: Rect, scale: f32) {
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
                self.fill_triangle([a, b, c], texture, clip, scale);
            }
        }
    }

    /// Fills the pixels whose middle lies within. A middle on an edge belongs to the triangle at one side of it, so
    /// that two triangles that share an edge neither overlap nor leave a gap.
    fn fill_triangle(&mut self, mut corners: [&Vertex; 3], texture: &ColorImage, clip: [i64; 4], scale: f32) {
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
        // Most triangles are of one colour all over.
        let [a, b, c] = corners;
        let is_plain = a.color == b.color && a.color == c.color && a.uv == b.uv && a.uv == c.uv;
        let plain = is_plain.then(|| shade(corners, [1.0, 0.0, 0.0], texture));
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
                let source = plain.unwrap_or_else(|| {
                    shade(
                        corners,
                        edges.map(|(start, slope)| (start + slope * x) as f32 / area as f32),
                        texture,
                    )
                });
                let Some(pixel) = self.colours.get_mut(line as usize * self.width + column as usize) else {
                    continue;
                };
                *pixel = over(source, *pixel);
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
    use eframe::egui::pos2;

    fn black(width: usize, height: usize) -> Pixels {
        Pixels { width, height, colours: vec![Color32::BLACK; width * height] }
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
        let mut pixels = black(23, 19);
        let colour = Color32::from_rgba_premultiplied(100, 100, 100, 128);
        let points = [(-3.0, -2.0), (30.0, -2.0), (30.0, 25.0), (-3.0, 25.0), (9.37, 7.81)];
        let fan = mesh(&points, &[0, 1, 4, 4, 1, 2, 2, 3, 4, 3, 0, 4], colour);
        pixels.fill_mesh(&fan, &white(), Rect::EVERYTHING, 1.0);
        assert!(pixels.colours.iter().all(|pixel| *pixel == Color32::from_gray(100)));
    }

    /// The area of a polygon by the surveyor's formula, against the pixels counted.
    #[test]
    fn as_many_pixels_as_the_triangle_has_area() {
        let mut pixels = black(200, 200);
        let points = [(10.3, 12.7), (180.2, 40.1), (60.9, 170.6)];
        pixels.fill_mesh(&mesh(&points, &[0, 1, 2], Color32::WHITE), &white(), Rect::EVERYTHING, 1.0);
        let twice: f32 = (0..3)
            .map(|one| {
                let (a, b) = (points[one], points[(one + 1) % 3]);
                a.0 * b.1 - b.0 * a.1
            })
            .sum();
        let count = pixels.colours.iter().filter(|pixel| **pixel == Color32::WHITE).count() as f32;
        assert!((count - twice / 2.0).abs() < 0.01 * count, "{count} pixels, area {}", twice / 2.0);
    }

    #[test]
    fn nothing_is_painted_outside_the_clip_and_the_scale_counts() {
        let mut pixels = black(20, 10);
        let all =
            mesh(&[(0.0, 0.0), (10.0, 0.0), (10.0, 5.0), (0.0, 5.0)], &[0, 1, 2, 0, 2, 3], Color32::WHITE);
        pixels.fill_mesh(&all, &white(), Rect::from_min_max(pos2(2.0, 1.0), pos2(4.0, 3.0)), 2.0);
        let painted: Vec<usize> = (0..200).filter(|at| pixels.colours[*at] == Color32::WHITE).collect();
        let wanted: Vec<usize> = (2..6).flat_map(|y| (4..8).map(move |x| y * 20 + x)).collect();
        assert_eq!(painted, wanted);
    }
}
