//! The arrows that say which way the liquid goes.

use super::Subject;
use super::paper::{MarkKind, NARROW, PageDraft, PaperLayer, Shade, touches};
use crate::geometry::{Bounds, Point2};
use crate::plan::LaidRouting;
use crate::plan::connection_graph::steps_of_end;

/// A small arrow head at a point, the way a vector goes.
pub(super) fn flow_arrow(draft: &mut PageDraft, layer: PaperLayer, at: Point2, along: Point2) -> Bounds {
    let points = head(at, along);
    let bounds = Bounds::around(points.iter().copied());
    let line = Some((NARROW, Shade::PAPER));
    draft.mark(layer, MarkKind::Area { points, line, fill: Some(Shade::INK) });
    bounds
}

fn head(at: Point2, along: Point2) -> Vec<Point2> {
    let place =
        |(x, y): (f64, f64)| Point2::new(at.x + x * along.x - y * along.y, at.y + x * along.y + y * along.x);
    [(1.8, 0.0), (-1.4, 1.3), (-1.4, -1.3)].map(place).to_vec()
}

/// Shares of a piece at which an arrow may stand, the best first: off the middle, where the name of the hose stands.
const ALONG: [f64; 5] = [0.72, 0.28, 0.5, 0.85, 0.15];

/// A piece shorter than this takes no arrow, millimetres.
const SHORTEST: f64 = 6.0;

/// An arrow on the longest piece of each hose of a page that leads away from the pump, clear of other lines where there is
/// such a place; returns where they stand.
pub(super) fn flow_arrows(draft: &mut PageDraft, routing: LaidRouting) -> Vec<Bounds> {
    let steps = routing.geometry.connections.steps_from_pump();
    let far = |end| steps_of_end(&steps, end);
    let mut stand = Vec::new();
    for run in &routing.runs {
        let forward = match (far(&run.from), far(&run.to)) {
            (Some(from), Some(to)) if from != to => from < to,
            (Some(_), None) => true,
            (None, Some(_)) => false,
            _ => continue,
        };
        let own = Some(Subject::Run(run.id));
        let lines = draft.page.marks.iter().filter_map(|mark| match &mark.kind {
            MarkKind::Line { points, .. } if matches!(mark.layer, PaperLayer::Hose | PaperLayer::Tube) => {
                Some((mark.subject == own && mark.layer == PaperLayer::Hose, points))
            }
            _ => None,
        });
        let pairs =
            lines.flat_map(|(is_own, points)| points.windows(2).map(move |pair| (is_own, pair[0], pair[1])));
        let (of_hose, others): (Vec<_>, Vec<_>) = pairs.partition(|(is_own, ..)| *is_own);
        let longest = of_hose.into_iter().max_by(|a, b| a.1.distance(a.2).total_cmp(&b.1.distance(b.2)));
        let Some((_, from, to)) = longest.filter(|(_, from, to)| from.distance(*to) > SHORTEST) else {
            continue;
        };
        let long = from.distance(to);
        let way = Point2::new((to.x - from.x) / long, (to.y - from.y) / long);
        let way = if forward { way } else { Point2::new(-way.x, -way.y) };
        let places = ALONG.map(|share| from.towards(to, share));
        let is_clear = |at: &&Point2| {
            let bounds = Bounds::around(head(**at, way)).grown(0.5);
            !others.iter().any(|(_, from, to)| touches(*from, *to, &bounds))
        };
        let at = *places.iter().find(is_clear).unwrap_or(&places[0]);
        draft.subject = own;
        stand.push(flow_arrow(draft, PaperLayer::Notes, at, way));
        draft.subject = None;
    }
    stand
}
