//! How the canvas takes to one band or two, and works on one of them.

use eframe::egui::{self, Pos2, Rect, Vec2};

use super::halves::{BandChoice, Bands, Half, WORTH};
use super::to_screen;
use super::view::Canvas;
use crate::geometry::Point2;

impl Canvas {
    /// One band, or two; fits the bar to them.
    pub fn switch_bands(&mut self) {
        self.band_choice = if self.split { BandChoice::One } else { BandChoice::Two };
        self.fit();
    }

    /// It is shown in two bands.
    pub const fn is_split(&self) -> bool {
        self.split
    }

    /// Where a point of the bar was on the screen in the last frame: once, in both halves, or nowhere.
    pub fn places_of(&self, point: Point2) -> Vec<Pos2> {
        let place = |(_, rect, half): &(egui::Id, Rect, Half)| {
            let at = to_screen(*rect, &half.view(self.view?, rect.width()), point);
            rect.contains(at).then_some(at)
        };
        self.grounds.iter().filter_map(place).collect()
    }

    /// Decides on one band or two wherever the bar is fitted: `scale` gives the scale at which it fits bands of a
    /// size.
    pub(super) fn decide_bands(&mut self, whole: Rect, legend: f32, scale: impl Fn(Vec2, bool) -> f64) {
        let fits = |split: bool| {
            let bands = Bands::of(whole, legend, split).bands;
            bands.first().map_or(0.0, |band| scale(band.picture.size(), split))
        };
        self.split = match self.band_choice {
            BandChoice::One => false,
            BandChoice::Two => true,
            BandChoice::Larger => fits(true) > WORTH * fits(false),
        };
    }

    /// Works on a half as if it were the whole: its view is in force meanwhile, and the whole picture follows.
    pub(super) fn in_half<R>(&mut self, half: Half, width: f32, work: impl FnOnce(&mut Self) -> R) -> R {
        let whole = self.view;
        let own = whole.map(|view| half.view(view, width));
        self.view = own;
        let result = work(self);
        self.view = if self.view == own { whole } else { self.view.map(|view| half.whole(view, width)) };
        result
    }
}
