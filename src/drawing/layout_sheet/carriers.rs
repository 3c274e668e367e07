//! Carriers across open frame as they are fitted, with the marks that the list of joints has them by.

use super::sheet_drawing::SheetDrawing;
use crate::drawing::label_places::{Cover, along};
use crate::drawing::paper::{
    MarkKind, NARROW, PageDraft, PaperLayer, Shade, Style, USUAL, View, clip_area, clip_line,
};
use crate::drawing::scene::Dash;
use crate::geometry::{Bounds, Point2};
use crate::plan::held::Carrier;
use crate::plan::holding::held;
use crate::plan::place_words::position;
use crate::quantities::Length;

/// A carrier is drawn no narrower than this, millimetres.
const LEAST_WIDTH: f64 = 1.0;

/// A carrier on a sheet.
pub(super) struct MarkedCarrier {
    pub(super) mark: String,
    /// Its axis within what is drawn.
    pieces: Vec<Vec<Point2>>,
    /// From where to where, for whoever finds no mark.
    place: String,
}

/// Of their marks.
const MARK: Style = Style::plain(PaperLayer::Words, USUAL);

impl SheetDrawing<'_, '_> {
    /// The carriers on the sections of the sheet.
    pub(super) fn carriers(&self) -> impl Iterator<Item = &Carrier> {
        let all = held(self.source.project, self.source.routing).carriers.iter();
        all.filter(|one| self.is_here(one))
    }

    fn is_here(&self, carrier: &Carrier) -> bool {
        self.sheet.sections.contains(&carrier.section)
    }

    /// Draws them as they are cut, to lie beneath all else: two edges, true to scale where that is wide enough to be seen.
    pub(super) fn draw_carriers(&mut self, draft: &mut PageDraft, view: &View, window: &Bounds) {
        let limits = &self.source.project.limits;
        let half = half_width(view, limits.carrier_size);
        let all = &held(self.source.project, self.source.routing).carriers;
        for carrier in all {
            if !self.is_here(carrier) {
                continue;
            }
            let ends = carrier.cut_ends(limits.carrier_overlap, all);
            let [from, to] = ends.map(|end| view.at(end.flat()));
            let length = from.distance(to);
            let (aside_x, aside_y) = ((from.y - to.y) / length * half, (to.x - from.x) / length * half);
            let corner = |at: Point2, side: f64| Point2::new(at.x + aside_x * side, at.y + aside_y * side);
            let corners = [corner(from, 1.0), corner(to, 1.0), corner(to, -1.0), corner(from, -1.0)];
            self.places.keep_whole(&[corners[0], corners[1]]);
            self.places.keep_whole(&[corners[2], corners[3]]);
            let points = clip_area(&corners, window);
            if points.len() > 2 {
                let (line, fill) = (Some((NARROW, Shade::INK)), Some(Shade::PAPER));
                draft.mark(PaperLayer::Carrier, MarkKind::Area { points, line, fill });
            }
        }
    }

    /// The carriers that stand on the sheet, to be marked.
    pub(super) fn marked_carriers(&self, window: &Bounds) -> Vec<MarkedCarrier> {
        let Some(view) = self.view else { return Vec::new() };
        let marked = self.carriers().map(|one| {
            let pieces = clip_line(&one.ends.map(|end| view.at(end.at.flat())), window);
            let [from, to] = one
                .ends
                .map(|end| position(&self.source.project.bar, end.at, one.section, self.source.units));
            MarkedCarrier { mark: one.mark.clone(), pieces, place: format!("{from} to {to}") }
        });
        marked.filter(|one| !one.pieces.is_empty()).collect()
    }

    /// Writes their marks beside them; answers those without a place, with where they are.
    pub(super) fn carrier_marks(
        &mut self,
        draft: &mut PageDraft,
        carriers: Vec<MarkedCarrier>,
        window: &Bounds,
    ) -> Vec<(String, String)> {
        let Some(view) = self.view else { return Vec::new() };
        let half = half_width(&view, self.source.project.limits.carrier_size);
        let mut without = Vec::new();
        let white = self.white_paper(window);
        for MarkedCarrier { mark, pieces, place } in carriers {
            let width = draft.width_of(&mark, MARK);
            let candidates = along(&pieces, width, USUAL, half + 0.5);
            let boxes: Vec<Bounds> = candidates.iter().map(|one| one.0).collect();
            let anchors: Vec<Point2> = pieces
                .iter()
                .flat_map(|piece| piece.windows(2))
                .flat_map(|pair| [0.5, 0.25, 0.75].map(|share| pair[0].towards(pair[1], share)))
                .collect();
            if let Some(index) = self.places.place_over(&boxes, window, Cover::Nothing) {
                write(draft, &mark, &candidates[index]);
            } else if let Some((bounds, leader)) = self.places.place_far(&anchors, (width, USUAL), &white) {
                write(draft, &mark, &(bounds, false));
                draft.line(PaperLayer::Leader, &leader, NARROW, Dash::Solid);
            } else {
                without.push((mark, place));
            }
        }
        without
    }
}

/// Half as wide as a carrier is drawn, millimetres.
fn half_width(view: &View, size: Length) -> f64 {
    (size.si() * view.millimetres()).max(LEAST_WIDTH) / 2.0
}

fn write(draft: &mut PageDraft, mark: &str, (bounds, upright): &(Bounds, bool)) {
    if *upright {
        draft.words_up(Point2::new(bounds.max.x, bounds.min.y), mark, MARK);
    } else {
        draft.words(bounds.min, mark, MARK);
    }
}
