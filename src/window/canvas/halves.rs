//! A wide bar in two bands: its left half above its right half, each with its ruler and its strip.
//!
//! Both are one picture, twice as wide as the room, cut in the middle: [`Canvas::view`] looks at the whole of it, and what
//! works on a half looks with [`Half::view`]. The halves overlap a little, so that what stands in the middle is whole in
//! one of them.

use eframe::egui::{Pos2, Rect, Vec2, vec2};

use super::strip::LEAST_STRIP;
use crate::geometry::{Point2, View};

/// How far each half reaches over the middle, points.
const OVERLAP: f32 = 70.0;
/// Two bands are shown by themselves where they are larger by this factor.
pub(super) const WORTH: f64 = 1.2;
const RULER_HEIGHT: f32 = 26.0;
const STRIP_HEIGHT: f32 = 190.0;
/// The lowest picture beside a strip that still tells what stands where, points.
const LEAST_PICTURE: f32 = 60.0;
/// Where a band is lower, the drawing needs the room of the strip, points.
const LEAST_WITH_STRIP: f32 = LEAST_PICTURE + LEAST_STRIP;
/// Above the legend and below it, points.
const LEGEND_AIR: f32 = 3.0;

/// How many bands somebody has asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) enum BandChoice {
    /// Two where that is larger.
    #[default]
    Larger,
    One,
    Two,
}

/// How the room is divided.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) enum BandLayout {
    /// One band.
    #[default]
    One,
    /// Two bands, whose pictures need so much height to show the bar as wide as they are, points: the strips take
    /// what is left.
    Two { picture: f32 },
}

impl BandLayout {
    pub(super) const fn is_split(self) -> bool {
        matches!(self, Self::Two { .. })
    }
}

/// Which part of the picture a band shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Half {
    /// All of it: there is one band.
    Whole,
    Left,
    Right,
}

impl Half {
    /// The bands from the top.
    pub(super) const fn all(split: bool) -> &'static [Self] {
        if split { &[Self::Left, Self::Right] } else { &[Self::Whole] }
    }

    /// How far its middle is from that of the whole picture, points to the right.
    fn aside(self, width: f32) -> f64 {
        let half = f64::from(width / 2.0 - OVERLAP);
        match self {
            Self::Whole => 0.0,
            Self::Left => -half,
            Self::Right => half,
        }
    }

    /// Where it looks in a band so many points wide, when the whole picture is looked at by a view.
    pub(super) fn view(self, whole: View, width: f32) -> View {
        self.moved(whole, self.aside(width))
    }

    /// The view of the whole picture when this half looks by a view.
    pub(super) fn whole(self, own: View, width: f32) -> View {
        self.moved(own, -self.aside(width))
    }

    fn moved(self, view: View, points: f64) -> View {
        if self == Self::Whole {
            return view;
        }
        View { centre: Point2::new(view.centre.x + points / view.scale, view.centre.y), ..view }
    }

    /// The name of what is shown in it.
    pub(super) fn name(self, what: &str) -> String {
        match self {
            Self::Whole => what.to_owned(),
            Self::Left => format!("{what}, left half"),
            Self::Right => format!("{what}, right half"),
        }
    }

    /// The place of its band from the top.
    pub(super) const fn slot(self) -> usize {
        match self {
            Self::Whole | Self::Left => 0,
            Self::Right => 1,
        }
    }
}

/// What stands below each other in a band.
#[derive(Debug, Clone, Copy)]
pub(super) struct Band {
    pub(super) half: Half,
    pub(super) picture: Rect,
    pub(super) ruler: Rect,
    pub(super) strip: Rect,
}

impl Band {
    /// Its strip is high enough for its bars.
    pub(super) fn has_strip(&self) -> bool {
        self.strip.height() >= LEAST_STRIP - 0.01
    }
}

/// The room of the canvas divided.
pub(super) struct Bands {
    pub(super) bands: Vec<Band>,
    pub(super) legend: Rect,
}

impl Bands {
    /// Divides the room; the legend takes what it needs.
    pub(super) fn of(whole: Rect, legend: f32, layout: BandLayout) -> Self {
        let foot = whole.bottom() - legend - 2.0 * LEGEND_AIR;
        let halves = Half::all(layout.is_split());
        let share = (foot - whole.top()) / halves.len() as f32;
        let (strip, ruler) = match layout {
            _ if share < LEAST_WITH_STRIP => (0.0, RULER_HEIGHT),
            // The ruler goes before the strip does.
            BandLayout::One if share < LEAST_WITH_STRIP + RULER_HEIGHT => (LEAST_STRIP, 0.0),
            BandLayout::One => ((share * 0.3).clamp(LEAST_STRIP, STRIP_HEIGHT), RULER_HEIGHT),
            BandLayout::Two { picture } => {
                // Where the bar would be smaller for it, the ruler along the bar goes before the strip does.
                let has_room = share >= picture + LEAST_STRIP + RULER_HEIGHT;
                let ruler = if has_room { RULER_HEIGHT } else { 0.0 };
                (
                    (share - ruler - picture)
                        .clamp(LEAST_STRIP, STRIP_HEIGHT.min(share * 0.4).max(LEAST_STRIP)),
                    ruler,
                )
            }
        };
        let room = |top: f32, bottom: f32| {
            Rect::from_min_max(Pos2::new(whole.left(), top), Pos2::new(whole.right(), bottom))
        };
        let bands = halves.iter().enumerate().map(|(index, half)| {
            let top = whole.top() + share * index as f32;
            let strip = room(top + share - strip, top + share);
            let ruler = room(strip.top() - ruler, strip.top());
            Band { half: *half, picture: room(top, ruler.top()), ruler, strip }
        });
        Self { bands: bands.collect(), legend: room(foot + LEGEND_AIR, whole.bottom()) }
    }
}

/// The size of the whole picture, whose bands have this size each.
pub(super) fn picture_size(band: Vec2, split: bool) -> Vec2 {
    if split { vec2(2.0 * (band.x - OVERLAP), band.y) } else { band }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::window::canvas::to_screen;

    /// The right edge of the upper band is the left edge of the lower one, but for the overlap.
    #[test]
    fn the_halves_are_one_picture_cut_in_the_middle() {
        let whole = Rect::from_min_size(Pos2::ZERO, vec2(800.0, 700.0));
        let bands = Bands::of(whole, 20.0, BandLayout::Two { picture: 230.0 }).bands;
        let view = View { centre: Point2::new(0.5, 0.1), scale: 60.0 };
        let at = |band: &Band, x: f64| {
            let own = band.half.view(view, band.picture.width());
            to_screen(band.picture, &own, Point2::new(x, 0.1)).x
        };
        assert!((at(&bands[0], 0.5) - (800.0 - OVERLAP)).abs() < 1e-3);
        assert!((at(&bands[1], 0.5) - OVERLAP).abs() < 1e-3);
        assert!(bands[0].strip.bottom() <= bands[1].picture.top());
        // The pictures have what they need, the strips the rest.
        assert!((bands[0].picture.height() - 230.0).abs() < 1e-3, "{}", bands[0].picture.height());
        let low = Bands::of(whole, 20.0, BandLayout::Two { picture: 900.0 }).bands;
        assert!(low[0].strip.height() >= LEAST_STRIP - 1e-3 && low[0].ruler.height() < 1e-3);
        for half in [Half::Left, Half::Right, Half::Whole] {
            let back = half.whole(half.view(view, 800.0), 800.0);
            assert!((back.centre.x - view.centre.x).abs() < 1e-12 && back.scale == view.scale);
        }
    }
}
