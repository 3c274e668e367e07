//! Tubes that lie on one line, drawn as one wider line with how many they are.

use super::sheet_drawing::SheetDrawing;
use crate::drawing::harness::Harness;
use crate::drawing::label_places::Cover;
use crate::drawing::paper::{NARROW, PageDraft, PaperLayer, Style, USUAL, View};
use crate::drawing::scene::Dash;
use crate::geometry::{Bounds, Point2};
use crate::plan::words::counted;
use crate::plan::{FeedGeometry, LineGeometry};

/// A bundle shorter than this on paper is not named, millimetres: its tubes part again at once.
const SHORTEST: f64 = 5.0;

/// Wider than a tube, narrower than a hose, millimetres.
pub(super) const BUNDLE: f64 = 0.6;

/// Tubes that lie together over some way, though some of them may leave on it.
struct Bundle {
    from: Point2,
    to: Point2,
    /// Where most of them lie, and how many.
    most: (u32, Point2, Point2),
}

impl SheetDrawing<'_, '_> {
    /// Draws the bundles of the sheet; returns where most of the tubes of each lie together, and how many.
    pub(super) fn bundles(&self, draft: &mut PageDraft, view: &View, window: &Bounds) -> Vec<(u32, Point2)> {
        let routing = self.source.routing;
        let mut harness = Harness::default();
        for feed in &routing.feeds {
            let host = feed.from.port().map(|port| port.part);
            let tubes = routing.geometry.feed(feed.id).into_iter().flat_map(FeedGeometry::tubes);
            let flat =
                |tube: &LineGeometry| tube.path.iter().map(|point| point.place.flat()).collect::<Vec<_>>();
            for path in tubes.map(flat) {
                harness.add(host, &path);
            }
        }
        let mut all: Vec<Bundle> = Vec::new();
        for (count, from, to) in harness.bundles() {
            let (from, to) = (view.at(from), view.at(to));
            if !window.contains(from) || !window.contains(to) {
                continue;
            }
            match all.last_mut().filter(|last| last.to.distance(from) < 1e-6) {
                Some(last) => {
                    last.to = to;
                    if count > last.most.0 {
                        last.most = (count, from, to);
                    }
                }
                None => all.push(Bundle { from, to, most: (count, from, to) }),
            }
        }
        all.retain(|one| one.from.distance(one.to) >= SHORTEST);
        let mut named = Vec::new();
        for Bundle { from, to, most: (count, first, last) } in all {
            draft.line(PaperLayer::Tube, &[from, to], BUNDLE, Dash::Solid);
            let at = Point2::new(f64::midpoint(first.x, last.x), f64::midpoint(first.y, last.y));
            named.push((count, at));
        }
        named
    }

    /// Says how many tubes lie in each bundle, beside a stroke across it; called when all names have their places. Where
    /// nothing is free a bundle keeps its stroke and width alone: the figures of its rows name every tube.
    pub(super) fn count_bundles(
        &mut self,
        draft: &mut PageDraft,
        bundles: &[(u32, Point2)],
        window: &Bounds,
    ) {
        let style = Style::plain(PaperLayer::Notes, USUAL);
        for (count, at) in bundles {
            let (one, other) = (Point2::new(at.x - 0.9, at.y - 1.4), Point2::new(at.x + 0.9, at.y + 1.4));
            draft.line(PaperLayer::Notes, &[one, other], NARROW, Dash::Solid);
            let words = counted(*count as usize, "tube");
            let (width, height) = (draft.width_of(&words, style), USUAL * 1.2);
            let own = Bounds { min: *at, max: *at }.grown(1.2);
            let near = Self::around(&own, width, height).into_iter().map(|(bounds, _)| bounds).take(24);
            let needs_leader = |bounds: &Bounds| bounds.nearest(*at).distance(*at) > 3.0;
            let may =
                |bounds: &Bounds| !needs_leader(bounds) || self.places.is_free_way(bounds.nearest(*at), *at);
            let candidates: Vec<Bounds> = near.filter(may).collect();
            if let Some(index) = self.places.place_over(&candidates, window, Cover::Nothing) {
                let bounds = candidates[index];
                draft.words(Point2::new(bounds.min.x, bounds.min.y + USUAL * 0.2), &words, style);
                if needs_leader(&bounds) {
                    draft.line(PaperLayer::Notes, &[bounds.nearest(*at), *at], NARROW, Dash::Solid);
                    self.places.keep_leader(bounds.nearest(*at), *at);
                }
            }
        }
    }
}
