//! How the canvas takes to one band or two, and works on one of them.

use eframe::egui::{self, Pos2, Rect};

use super::halves::{Band, BandChoice, BandLayout, Bands, Half, WORTH};
use super::to_screen;
use super::view::{Canvas, height_for_width, holds_half, whole_bar};
use crate::geometry::{Bounds, Point2};
use crate::plan::Project;

impl Canvas {
    /// One band, or two; fits the bar to them.
    pub fn switch_bands(&mut self) {
        self.band_choice = if self.is_split() { BandChoice::One } else { BandChoice::Two };
        self.fit();
    }

    /// It is shown in two bands.
    pub const fn is_split(&self) -> bool {
        self.layout.is_split()
    }

    /// Where a point of the bar was on the screen in the last frame: once, in both halves, or nowhere.
    pub fn places_of(&self, point: Point2) -> Vec<Pos2> {
        let place = |(_, rect, half): &(egui::Id, Rect, Half)| {
            let at = to_screen(*rect, &half.view(self.view?, rect.width()), point);
            rect.contains(at).then_some(at)
        };
        self.grounds.iter().filter_map(place).collect()
    }

    /// Decides on one band or two wherever the bar, which reaches so far, is fitted to the room.
    pub(super) fn decide_bands(&mut self, whole: Rect, legend: f32, extent: Bounds, project: &Project) {
        let two = BandLayout::Two { picture: height_for_width(extent, whole.width()) };
        let scale = |layout: BandLayout| {
            let bands = Bands::of(whole, legend, layout).bands;
            // A larger bar is not worth the flow of its rows.
            let serves =
                |band: &&Band| !layout.is_split() || (holds_half(band.picture.size()) && band.has_strip());
            let size = bands.first().filter(serves).map(|band| band.picture.size());
            size.map_or(0.0, |size| whole_bar(extent, project, size, layout.is_split()).scale)
        };
        self.layout = match self.band_choice {
            BandChoice::One => BandLayout::One,
            BandChoice::Two => two,
            BandChoice::Larger if scale(two) > WORTH * scale(BandLayout::One) => two,
            BandChoice::Larger => BandLayout::One,
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
