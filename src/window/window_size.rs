//! The size of the window: as large as the desktop allows at the first start, later as it was left.

use eframe::egui::{Context, Pos2, Vec2, ViewportCommand, pos2, vec2};

use crate::files::preferences::{self, Preferences};

/// No smaller than this, points: below it controls have no room.
pub const SMALLEST: [f32; 2] = [720.0, 480.0];
/// Before anything is known of the desktop, points.
const USUAL: [f32; 2] = [1280.0, 800.0];
/// On a larger desktop it leaves room for others, points.
const LARGEST: [f32; 2] = [2200.0, 1300.0];
/// The share of a desktop that it takes: bars of the desktop and its own frame need the rest.
const SHARE: [f32; 2] = [0.94, 0.88];

/// What is known of the window's size.
#[derive(Debug, Default)]
pub struct WindowSize {
    /// It was fitted to the desktop, or has a size from before.
    is_settled: bool,
    /// Its size when it was seen last, points.
    last: Option<Vec2>,
    maximized: bool,
}

/// The size to open with, points.
pub fn first_size(kept: Preferences) -> [f32; 2] {
    kept.window.map_or(USUAL, |[width, height]| {
        // What is in a file may be anything.
        [(width as f32).clamp(SMALLEST[0], 8000.0), (height as f32).clamp(SMALLEST[1], 8000.0)]
    })
}

/// Size and place on a desktop of a size, points.
fn fitted(desktop: Vec2) -> (Vec2, Pos2) {
    let side = |desktop: f32, at: usize| (desktop * SHARE[at]).min(LARGEST[at]).max(SMALLEST[at]);
    let size = vec2(side(desktop.x, 0), side(desktop.y, 1)).floor();
    let free = (desktop - size).max(Vec2::ZERO);
    (size, pos2((free.x / 2.0).floor(), (free.y / 3.0).floor()))
}

impl WindowSize {
    /// Once for each frame of the program's own window: fits it to the desktop where it has no size from before.
    pub fn follow(&mut self, ctx: &Context) {
        let (desktop, inner, maximized) = ctx.input(|input| {
            let viewport = input.viewport();
            (viewport.monitor_size, viewport.inner_rect, viewport.maximized)
        });
        self.maximized = maximized.unwrap_or(self.maximized);
        if !self.maximized {
            self.last = inner.map(|rect| rect.size()).or(self.last);
        }
        if std::mem::replace(&mut self.is_settled, true) || preferences::preferences().window.is_some() {
            return;
        }
        if let Some(desktop) = desktop.filter(|desktop| desktop.min_elem() > 0.0) {
            let (size, place) = fitted(desktop);
            ctx.send_viewport_cmd(ViewportCommand::InnerSize(size));
            ctx.send_viewport_cmd(ViewportCommand::OuterPosition(place));
        }
    }

    /// Keeps it for the next start.
    pub fn keep(&self) {
        let Some(size) = self.last else { return };
        let maximized = self.maximized;
        preferences::prefer(|kept| {
            kept.window = Some([size.x.round() as u32, size.y.round() as u32]);
            kept.maximized = maximized;
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_window_takes_what_the_desktop_gives_within_bounds() {
        for (desktop, size) in [
            (vec2(1920.0, 1080.0), vec2(1804.0, 950.0)),
            (vec2(1280.0, 800.0), vec2(1203.0, 704.0)),
            (vec2(3840.0, 2160.0), vec2(2200.0, 1300.0)),
            (vec2(640.0, 400.0), vec2(720.0, 480.0)),
        ] {
            let (found, place) = fitted(desktop);
            assert_eq!(found, size, "on {desktop}");
            assert!(place.x >= 0.0 && place.y >= 0.0, "{place} on {desktop}");
        }
    }

    #[test]
    fn it_opens_as_it_was_left_and_never_too_small() {
        let left = |window| first_size(Preferences { window, ..Preferences::default() });
        assert_eq!(left(None), USUAL);
        assert_eq!(left(Some([1500, 900])), [1500.0, 900.0]);
        assert_eq!(left(Some([3, u32::MAX])), [720.0, 8000.0]);
    }
}
