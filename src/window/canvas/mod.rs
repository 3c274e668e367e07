//! The bar on the screen: the display list, the ruler, the legend and the strip of row flows, all on one x-axis.
//!
//! [`view::Canvas`] draws any routing of any project with what flows in it, several in one window if asked, and the
//! strip of row flows wherever it is put. [`editor`] is the canvas on the project in hand. Everything here paints;
//! what the pointer does with it belongs to the session.

pub mod caught;
mod commands;
pub mod editor;
mod halves;
pub(in crate::window) mod hover_card;
mod layers;
pub mod legend;
mod marks;
mod obstacles;
pub mod paint;
mod pointed_outlet;
mod reader;
mod row_labels;
pub mod ruler;
mod scatter;
pub mod shown;
mod side_by_side;
pub mod still;
pub mod strip;
mod strip_scale;
mod two_bands;
pub mod view;
mod words;

use eframe::egui::{Pos2, Rect, pos2};

use crate::geometry::{Point2, View};

/// Where a point of the bar is on the screen: the view's centre is the middle of the rectangle.
pub fn to_screen(rect: Rect, view: &View, point: Point2) -> Pos2 {
    let (x, y) = view.to_picture(point);
    pos2(rect.center().x + x as f32, rect.center().y + y as f32)
}

/// Which point of the bar is at a place on the screen.
pub fn to_bar(rect: Rect, view: &View, at: Pos2) -> Point2 {
    view.to_bar(f64::from(at.x - rect.center().x), f64::from(at.y - rect.center().y))
}

/// Where a place to the right of the bar's centre is on the screen, metres to points.
fn x_on_screen(rect: Rect, view: &View, x: f64) -> f32 {
    rect.center().x + ((x - view.centre.x) * view.scale) as f32
}
