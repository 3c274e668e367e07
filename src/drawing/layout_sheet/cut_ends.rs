//! Hoses that lead off a drawing in front of the bar or behind it: an arrow where each is cut, and where it leads to.

use super::labels::LabelWords;
use super::sheet_drawing::SheetDrawing;
use crate::drawing::label_places::Cover;
use crate::drawing::paper::{MarkKind, NARROW, PageDraft, PaperLayer, Shade};
use crate::drawing::scene::Dash;
use crate::geometry::{Bounds, Point2};
use crate::plan::{End, Run, place_words};

/// Length of the arrow's head and half its width, millimetres.
const HEAD: (f64, f64) = (3.6, 1.5);

/// Where a hose leaves a drawing.
struct CutEnd {
    at: Point2,
    /// Off the drawing, a unit vector.
    away: Point2,
    words: LabelWords,
}

impl SheetDrawing<'_, '_> {
    /// An arrow at each place where a hose leaves the drawing in front or behind, with what it leads to; answers the words that
    /// have no room. At the sides match lines say where it goes on.
    pub(super) fn cut_ends(
        &mut self,
        draft: &mut PageDraft,
        window: &Bounds,
        said: (Point2, f64),
    ) -> Vec<String> {
        let kept = Self::kept_for_what_is_left_out(said);
        let routing = self.source.routing;
        let ends: Vec<CutEnd> = routing.runs.iter().flat_map(|run| self.ends_of(run, window)).collect();
        for mark in &draft.page.marks {
            if matches!(mark.kind, MarkKind::Words(_)) && !ends.is_empty() {
                self.places.keep_clear(mark.kind.bounds());
            }
        }
        let mut without = Vec::new();
        for CutEnd { at, away, words } in ends {
            let back = Point2::new(at.x - away.x * HEAD.0, at.y - away.y * HEAD.0);
            let corner =
                |side: f64| Point2::new(back.x - away.y * HEAD.1 * side, back.y + away.x * HEAD.1 * side);
            let points = vec![at, corner(1.0), corner(-1.0)];
            let head = Bounds::around(points.iter().copied());
            let line = Some((NARROW, Shade::PAPER));
            draft.mark(PaperLayer::Notes, MarkKind::Area { points, line, fill: Some(Shade::INK) });
            self.places.keep_clear(head);
            let size = words.size(self.source);
            let near: Vec<Bounds> =
                Self::around(&head, size.0, size.1).into_iter().map(|(bounds, _)| bounds).take(16).collect();
            let room = window.grown(6.0);
            if let Some(index) = self.places.place_over(&near, &room, Cover::Nothing) {
                words.write(draft, &near[index], false);
            } else if let Some((bounds, leader)) =
                self.places.place_far_but(&[back], size, &self.white_paper(window), &kept)
            {
                words.write(draft, &bounds, false);
                draft.line(PaperLayer::Leader, &leader, NARROW, Dash::Solid);
            } else {
                without.push(words.in_a_line());
            }
        }
        without
    }

    /// Where a hose leaves the drawing over its front or rear edge.
    fn ends_of(&self, run: &Run, window: &Bounds) -> Vec<CutEnd> {
        let (Some(view), Some(laid)) = (self.view, self.source.routing.geometry.run(run.id)) else {
            return Vec::new();
        };
        let path: Vec<Point2> = laid.path.iter().map(|point| view.at(point.place.flat())).collect();
        let leaving = leaves(&path, window);
        let edges = leaving.into_iter().map(|(at, away, leads_to)| {
            let words = match leads_to {
                LeadsTo::End => self.leads_to(&run.to),
                LeadsTo::Start => self.leads_to(&run.from),
                LeadsTo::Back => ("leads off this drawing and comes back".to_owned(), Vec::new()),
            };
            let (behind, below) = words;
            CutEnd { at, away, words: LabelWords { tag: run.tag.clone(), behind, below } }
        });
        edges.collect()
    }

    /// `to J2`; of the pump in lines below where it is.
    pub(super) fn leads_to(&self, end: &End) -> (String, Vec<String>) {
        let project = self.source.project;
        match end {
            End::Supply if project.supply.pump_is_placed() => {
                ("to the pump,".to_owned(), place_words::pump_pieces(project, self.source.units))
            }
            End::Supply => ("to the pump;".to_owned(), vec!["nobody said where that is".to_owned()]),
            End::Port(_) => (format!("to {}", self.end_tag(end)), Vec::new()),
            End::Loose(_) => ("to its loose end".to_owned(), Vec::new()),
        }
    }
}

/// What a line leads to beyond an edge.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum LeadsTo {
    Start,
    End,
    /// It comes back into the drawing.
    Back,
}

/// Where a line passes the upper or lower edge of a window outwards, seen from within it: the place, the way off, and whether
/// it is the line's start or its end that lies beyond.
fn leaves(path: &[Point2], window: &Bounds) -> Vec<(Point2, Point2, LeadsTo)> {
    let inner = window.grown(-1e-6);
    let is_within = |at: &Point2| window.contains(*at);
    let mut found = Vec::new();
    for (index, pair) in path.windows(2).enumerate() {
        for (from, to, is_onward) in [(pair[0], pair[1], true), (pair[1], pair[0], false)] {
            let edge = if to.y > window.max.y {
                window.max.y
            } else if to.y < window.min.y {
                window.min.y
            } else {
                continue;
            };
            if (from.y - edge) * (to.y - edge) >= 0.0 || from.y == to.y {
                continue;
            }
            let at = from.towards(to, (edge - from.y) / (to.y - from.y));
            if at.x < inner.min.x || at.x > inner.max.x {
                continue;
            }
            let beyond = if is_onward { &path[index + 1..] } else { &path[..=index] };
            let leads_to = match is_onward {
                _ if beyond.iter().any(is_within) => LeadsTo::Back,
                true => LeadsTo::End,
                false => LeadsTo::Start,
            };
            let long = from.distance(to);
            found.push((at, Point2::new((to.x - from.x) / long, (to.y - from.y) / long), leads_to));
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drawing::paper::sized;

    /// By hand: a line from above the window down into it, one that loops out below it and comes back, and one that leaves at the
    /// side alone.
    #[test]
    fn a_line_is_cut_where_it_passes_the_front_or_rear_edge() {
        let window = sized(0.0, 0.0, 100.0, 50.0);
        let line = |points: &[(f64, f64)]| -> Vec<Point2> {
            points.iter().map(|(x, y)| Point2::new(*x, *y)).collect()
        };
        let from_pump = leaves(&line(&[(30.0, 90.0), (30.0, 70.0), (30.0, 10.0)]), &window);
        assert_eq!(from_pump, [(Point2::new(30.0, 50.0), Point2::new(0.0, 1.0), LeadsTo::Start)]);
        let to_part = leaves(&line(&[(30.0, 10.0), (30.0, -10.0)]), &window);
        assert_eq!(to_part, [(Point2::new(30.0, 0.0), Point2::new(0.0, -1.0), LeadsTo::End)]);
        let loops = leaves(&line(&[(10.0, 10.0), (10.0, -10.0), (20.0, -10.0), (20.0, 10.0)]), &window);
        assert_eq!(loops.iter().map(|one| one.2).collect::<Vec<_>>(), [LeadsTo::Back; 2]);
        assert!(leaves(&line(&[(50.0, 10.0), (150.0, 10.0)]), &window).is_empty());
    }
}
